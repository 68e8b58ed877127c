//! Laws of outlines.

use proptest::prelude::*;
use wythe_bands::Metre;
use wythe_building::outline::{Outline, OutlineError, Point, WallSearch};

/// Any star-shaped polygon, which never crosses itself but is mostly concave.
pub fn star() -> impl Strategy<Value = Outline> {
    (prop::collection::vec(0.8f64..6.0, 3..12), -20.0f64..20.0, -20.0f64..20.0).prop_map(
        |(radii, x, y)| {
            let n = radii.len();
            let corners = radii
                .iter()
                .enumerate()
                .map(|(i, r)| {
                    let angle = std::f64::consts::TAU * i as f64 / n as f64;
                    Point::at(x + r * angle.cos(), y + r * angle.sin())
                })
                .collect();
            Outline::checked(corners).expect("a star never crosses itself")
        },
    )
}

fn moved(outline: &Outline, angle: f64, dx: f64, dy: f64) -> Outline {
    let (s, c) = angle.sin_cos();
    let corners = outline
        .corners()
        .iter()
        .map(|p| Point::at(p.x.0 * c - p.y.0 * s + dx, p.x.0 * s + p.y.0 * c + dy))
        .collect();
    Outline::new(corners)
}

fn reversed(outline: &Outline) -> Outline {
    let mut corners = outline.corners().to_vec();
    corners.reverse();
    Outline::new(corners)
}

fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Outline {
    let corners =
        vec![Point::at(x, y), Point::at(x + w, y), Point::at(x + w, y + h), Point::at(x, y + h)];
    Outline::checked(corners).unwrap()
}

proptest! {
    #[test]
    fn area_and_perimeter_do_not_change_when_turned(o in star(), angle in 0.0f64..6.3, dx in -50.0f64..50.0) {
        let turned = moved(&o, angle, dx, -dx);
        prop_assert!((turned.area().0 - o.area().0).abs() < 1e-9);
        prop_assert!((turned.perimeter().0 - o.perimeter().0).abs() < 1e-9);
        prop_assert!((reversed(&o).area().0 - o.area().0).abs() < 1e-12);
    }

    #[test]
    fn overlap_is_symmetric_and_no_larger_than_either(a in star(), b in star()) {
        let b = moved(&b, 0.3, a.corners()[0].x.0 - b.corners()[0].x.0, a.corners()[0].y.0 - b.corners()[0].y.0);
        let (ab, ba) = (a.overlap_area(&b).0, b.overlap_area(&a).0);
        prop_assert!((ab - ba).abs() < 1e-9, "{} {}", ab, ba);
        prop_assert!(ab >= 0.0 && ab <= a.area().0.min(b.area().0) + 1e-9);
        prop_assert!((reversed(&a).overlap_area(&b).0 - ab).abs() < 1e-9);
    }

    #[test]
    fn overlap_does_not_change_when_both_are_turned(a in star(), b in star(), angle in 0.0f64..6.3) {
        let b = moved(&b, 0.0, a.corners()[0].x.0 - b.corners()[0].x.0, a.corners()[0].y.0 - b.corners()[0].y.0);
        let before = a.overlap_area(&b).0;
        let after = moved(&a, angle, 3.0, 4.0).overlap_area(&moved(&b, angle, 3.0, 4.0)).0;
        prop_assert!((before - after).abs() < 1e-8, "{} {}", before, after);
    }

    #[test]
    fn a_room_overlaps_itself_wholly(a in star()) {
        prop_assert!((a.overlap_area(&a).0 - a.area().0).abs() < 1e-9);
    }

    #[test]
    fn shared_walls_are_symmetric_and_turn_with_the_building(
        w in 1.0f64..10.0, h in 1.0f64..10.0, gap in 0.0f64..0.55, shift in -8.0f64..8.0,
        h2 in 1.0f64..10.0, angle in 0.0f64..6.3,
    ) {
        let (a, b) = (rectangle(0.0, 0.0, w, h), rectangle(w + gap, shift, 3.0, h2));
        let search = WallSearch::default();
        let expected = (h.min(shift + h2) - shift.max(0.0)).max(0.0);
        for turn in [0.0, angle] {
            let (a, b) = (moved(&a, turn, 5.0, 6.0), moved(&b, turn, 5.0, 6.0));
            let ab = a.shared_wall(&b, &[], &search);
            let ba = b.shared_wall(&a, &[], &search);
            let length = |s: Option<wythe_building::outline::SharedWall>| s.map_or(0.0, |s| s.length.0);
            prop_assert!((length(ab) - expected).abs() < 1e-6, "{:?} {}", ab, expected);
            prop_assert!((length(ab) - length(ba)).abs() < 1e-9);
            if let Some(wall) = ab {
                prop_assert!((wall.thickness.0 - gap).abs() < 1e-6);
            }
            // What faces the other room does not face the outdoors.
            let free = a.exposed_length(&[&b], &search).0;
            prop_assert!((free + length(ab) - a.perimeter().0).abs() < 1e-6);
        }
    }

    #[test]
    fn any_corners_give_an_outline_or_an_error(
        corners in prop::collection::vec((any::<f64>(), any::<f64>()), 0..12)
    ) {
        let corners: Vec<Point> = corners.into_iter().map(|(x, y)| Point::at(x, y)).collect();
        if let Ok(outline) = Outline::checked(corners.clone()) {
            prop_assert!(outline.area().0 > 0.0);
        }
        // Unchecked outlines give numbers too, whatever they mean.
        let raw = Outline::new(corners);
        let _ = raw.overlap_area(&rectangle(0.0, 0.0, 1.0, 1.0));
        let _ = raw.shared_wall(&rectangle(0.0, 0.0, 1.0, 1.0), &[], &WallSearch::default());
        let _ = raw.exposed_length(&[], &WallSearch::default());
    }
}

#[test]
fn what_is_no_outline() {
    let points = |list: &[(f64, f64)]| list.iter().map(|(x, y)| Point::at(*x, *y)).collect();
    let of = |list: &[(f64, f64)]| Outline::checked(points(list)).unwrap_err();
    assert_eq!(of(&[]), OutlineError::TooFewCorners(0));
    assert_eq!(of(&[(0.0, 0.0), (1.0, 0.0)]), OutlineError::TooFewCorners(2));
    assert_eq!(of(&[(0.0, 0.0), (f64::NAN, 0.0), (1.0, 1.0)]), OutlineError::NotANumber(2));
    assert_eq!(of(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 1.0)]), OutlineError::Repeated(2, 3));
    assert_eq!(of(&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0)]), OutlineError::NoArea);
    // A bow tie.
    assert_eq!(of(&[(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 4.0)]), OutlineError::Crossing(1, 3));
    // A wall that runs back over itself.
    let spike = of(&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (4.0, 1.0), (0.0, 3.0)]);
    assert_eq!(spike, OutlineError::Crossing(2, 3));
    // Closing the ring by hand is fine.
    assert!(Outline::checked(points(&[(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.0, 0.0)])).is_ok());
}

#[test]
fn rooms_between_part_two_rooms() {
    // A closet 0.4 m deep stands between along half the length.
    let (a, b) = (rectangle(0.0, 0.0, 4.0, 4.0), rectangle(4.5, 0.0, 4.0, 4.0));
    let closet = rectangle(4.05, 0.0, 0.4, 2.0);
    let search = WallSearch::default();
    let whole = a.shared_wall(&b, &[], &search).unwrap();
    assert!((whole.length.0 - 4.0).abs() < 1e-9);
    let half = a.shared_wall(&b, &[&closet], &search).unwrap();
    assert!((half.length.0 - 2.0).abs() < 1e-9);
}

#[test]
fn skewed_and_far_walls() {
    let a = rectangle(0.0, 0.0, 4.0, 4.0);
    let search = WallSearch::default();
    let skewed = |degrees: f64| {
        let run = 4.0 * degrees.to_radians().tan();
        Outline::checked(vec![
            Point::at(4.1, 0.0),
            Point::at(8.0, 0.0),
            Point::at(8.0, 4.0),
            Point::at(4.1 + run, 4.0),
        ])
        .unwrap()
    };
    // 3° out of parallel is the same wall, 8° is a triangular space.
    let wall = a.shared_wall(&skewed(3.0), &[], &search).unwrap();
    assert!((wall.length.0 - 4.0).abs() < 0.02, "{wall:?}");
    assert_eq!(a.shared_wall(&skewed(8.0), &[], &search), None);
    assert_eq!(a.shared_wall(&rectangle(4.7, 0.0, 2.0, 4.0), &[], &search), None);
    let wide = WallSearch { thickest: Metre(0.8), ..search };
    assert!(a.shared_wall(&rectangle(4.7, 0.0, 2.0, 4.0), &[], &wide).is_some());
    // Corners that only touch share nothing.
    assert_eq!(a.shared_wall(&rectangle(4.0, 4.0, 2.0, 4.0), &[], &search), None);
}

#[test]
fn a_u_shaped_room_is_not_its_own_neighbour_and_keeps_its_court() {
    // A court 3 m wide inside a U; the room in the court shares three walls.
    let u = Outline::checked(
        [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 6.0),
            (6.0, 6.0),
            (6.0, 3.0),
            (3.0, 3.0),
            (3.0, 6.0),
            (0.0, 6.0),
        ]
        .map(|(x, y)| Point::at(x, y))
        .to_vec(),
    )
    .unwrap();
    let court = rectangle(3.2, 3.2, 2.6, 2.8);
    let wall = u.shared_wall(&court, &[], &WallSearch::default()).unwrap();
    assert!((wall.length.0 - (2.8 + 2.6 + 2.8)).abs() < 1e-9, "{wall:?}");
    assert_eq!(u.overlap_area(&court).0, 0.0);
    assert!(u.contains(Point::at(1.0, 5.0)) && !u.contains(Point::at(4.5, 5.0)));
    assert_eq!(u.rectangle(), None);
    let [long, short] = court.rectangle().unwrap();
    assert!((long.0 - 2.8).abs() < 1e-9 && (short.0 - 2.6).abs() < 1e-9);
}

#[test]
fn a_rectangle_is_known_even_with_extra_corners() {
    let o = Outline::checked(
        [(0.0, 0.0), (2.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)]
            .map(|(x, y)| Point::at(x, y))
            .to_vec(),
    )
    .unwrap();
    let [long, short] = o.rectangle().unwrap();
    assert!((long.0 - 5.0).abs() < 1e-12 && (short.0 - 4.0).abs() < 1e-12);
}
