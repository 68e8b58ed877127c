//! The exact code against an obvious slow twin.

use wythe_bands::{Hertz, Metre};
use wythe_building::modes::list;
use wythe_building::outline::{Outline, Point};

fn outline(corners: &[(f64, f64)]) -> Outline {
    Outline::checked(corners.iter().map(|(x, y)| Point::at(*x, *y)).collect()).unwrap()
}

/// Counts small squares whose middle lies in both.
fn by_squares(a: &Outline, b: &Outline, step: f64) -> f64 {
    let (low, high) = a.bounds().unwrap();
    let (nx, ny) =
        (((high.x.0 - low.x.0) / step).ceil() as u32, ((high.y.0 - low.y.0) / step).ceil() as u32);
    let mut count = 0u32;
    for i in 0..nx {
        for j in 0..ny {
            let p = Point::at(
                low.x.0 + (f64::from(i) + 0.5) * step,
                low.y.0 + (f64::from(j) + 0.5) * step,
            );
            count += u32::from(a.contains(p) && b.contains(p));
        }
    }
    f64::from(count) * step * step
}

#[test]
fn overlap_of_concave_rooms_against_counted_squares() {
    let u = outline(&[
        (0.0, 0.0),
        (9.0, 0.0),
        (9.0, 6.0),
        (6.0, 6.0),
        (6.0, 3.0),
        (3.0, 3.0),
        (3.0, 6.0),
        (0.0, 6.0),
    ]);
    let star = outline(&[
        (4.5, -1.0),
        (5.5, 2.0),
        (8.7, 1.9),
        (6.2, 4.1),
        (7.3, 7.0),
        (4.5, 5.2),
        (1.4, 7.1),
        (2.6, 4.0),
        (0.2, 2.1),
        (3.4, 2.2),
    ]);
    let l = outline(&[(1.0, 1.0), (7.5, 1.3), (7.4, 2.2), (2.2, 2.4), (2.0, 5.5), (0.9, 5.4)]);
    for (a, b) in [(&u, &star), (&u, &l), (&star, &l), (&u, &u)] {
        let (exact, counted) = (a.overlap_area(b).0, by_squares(a, b, 0.01));
        // Squares of 1 cm err by about half a square along each edge, mostly averaging out.
        assert!((exact - counted).abs() < 0.05, "{exact} {counted}");
    }
}

#[test]
fn modes_against_every_combination() {
    let sides = [5.5, 4.2, 2.7];
    let mut all = Vec::new();
    for x in 0..30u32 {
        for y in 0..30u32 {
            for z in 0..30u32 {
                let sum: f64 =
                    [x, y, z].iter().zip(sides).map(|(n, l)| (f64::from(*n) / l).powi(2)).sum();
                let f = 343.0 / 2.0 * sum.sqrt();
                if f > 0.0 && f <= 400.0 {
                    all.push(f);
                }
            }
        }
    }
    all.sort_by(f64::total_cmp);
    let listed = list(sides.map(Metre), Hertz(400.0), 343.0).unwrap();
    assert_eq!(listed.len(), all.len());
    assert!(listed.iter().zip(&all).all(|(m, f)| (m.frequency.0 - f).abs() < 1e-9));
}
