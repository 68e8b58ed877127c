//! What ties leaves at points, what is set into them, what hangs on what: laws and directions.

use std::sync::Arc;

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_partition::{
    BoxKind, BoxPlacing, Conditions, ElectricalBoxes, FrameKind, Layer, Material, PartitionError,
    PathKind, Prediction, catalogue, predict,
};

use crate::walls::{at, board, cavity, frame, predicted, wall, weighing};

fn path(p: &Prediction, kind: PathKind) -> Spectrum<LevelDifference> {
    p.paths.iter().find(|x| x.kind == kind).map(|x| x.reduction).unwrap()
}

/// R by a path at 500 Hz.
fn at_500(p: &Prediction, kind: PathKind) -> f64 {
    path(p, kind).get(Band::HZ_500).unwrap().0
}

#[test]
fn heavy_wall_ties_carry_more_than_light_ones_and_more_ties_more_still() {
    let with = |kind, spacing| {
        predicted(vec![
            weighing("brick", 102.0, 190.0),
            cavity(56.0, 0.0, Some(frame(kind, spacing))),
            weighing("brick", 102.0, 190.0),
        ])
    };
    let (light, heavy) =
        (with(FrameKind::LightWallTies, 900.0), with(FrameKind::HeavyWallTies, 900.0));
    let close = with(FrameKind::LightWallTies, 450.0);
    assert!(at_500(&light, PathKind::Studs) > at_500(&heavy, PathKind::Studs) + 6.0);
    // Twice the ties, three decibels, as long as each works alone.
    let more = at_500(&light, PathKind::Studs) - at_500(&close, PathKind::Studs);
    assert!((more - 3.0).abs() < 0.1, "{more}");
}

#[test]
fn soft_hangers_beat_rigid_ones_and_a_stiff_ceiling_frame_beats_neither() {
    let with = |kind| {
        predicted(vec![
            board("concrete", 150.0, 1),
            cavity(200.0, 100.0, Some(frame(kind, 1200.0))),
            board("gypsum board", 12.5, 2),
        ])
    };
    let (rigid, soft) = (with(FrameKind::RigidHangers), with(FrameKind::ResilientHangers));
    let joists = with(FrameKind::TimberStuds);
    for band in ["125", "250", "500"] {
        let band = Band::from_nominal(band).unwrap();
        let r = |p| path(p, PathKind::Studs).get(band).unwrap().0;
        assert!(r(&soft) > r(&rigid) + 10.0, "{band}");
        assert!(r(&rigid) > r(&joists), "{band}");
    }
}

fn with_boxes(fill: f64, kind: BoxKind, placed: BoxPlacing, sealed: bool) -> Prediction {
    let mut w = wall(vec![
        board("gypsum board", 12.5, 2),
        cavity(90.0, fill, Some(frame(FrameKind::LightSteelStuds, 600.0))),
        board("gypsum board", 12.5, 2),
    ]);
    w.boxes = vec![ElectricalBoxes { kind, per_m2: 0.2, placed, sealed }];
    predict(&w, &Conditions::default()).unwrap()
}

/// What the abstracts of Nightingale & Quirt and of NRC Construction Technology Update 27 say;
/// their figures were not seen.
#[test]
fn boxes_do_what_the_published_studies_say_in_direction() {
    use BoxKind::{Airtight, Moulded, Perforated};
    use BoxPlacing::{BackToBack, OneFace, OtherBay, SameBay};
    let r = |fill, kind, placed, sealed| {
        at_500(&with_boxes(fill, kind, placed, sealed), PathKind::Boxes)
    };
    // A fill lessens the harm greatly.
    assert!(r(90.0, Perforated, SameBay, false) > r(0.0, Perforated, SameBay, false) + 6.0);
    // Position matters for perforated boxes, and hardly for airtight ones, which do no harm.
    let matters = r(0.0, Perforated, OtherBay, false) - r(0.0, Perforated, BackToBack, false);
    assert!(matters > 4.0, "{matters}");
    let hardly = at(&with_boxes(0.0, Airtight, OtherBay, false), "500")
        - at(&with_boxes(0.0, Airtight, BackToBack, false), "500");
    assert!(hardly.abs() < 0.1, "{hardly}");
    // Putty and hoods are effective; apart is better than opposite; one face is least harm.
    assert!(r(0.0, Perforated, BackToBack, true) > r(0.0, Perforated, BackToBack, false) + 10.0);
    assert!(r(0.0, Moulded, SameBay, false) > r(0.0, Moulded, BackToBack, false));
    assert!(r(0.0, Moulded, OneFace, false) > r(0.0, Moulded, OtherBay, false));
    // Untreated perforated boxes back to back are felt in a wall of 50 dB.
    let bare = predicted(vec![
        board("gypsum board", 12.5, 2),
        cavity(90.0, 90.0, Some(frame(FrameKind::LightSteelStuds, 600.0))),
        board("gypsum board", 12.5, 2),
    ]);
    let lost = at(&bare, "1000") - at(&with_boxes(90.0, Perforated, BackToBack, false), "1000");
    assert!((0.5..10.0).contains(&lost), "{lost}");
}

#[test]
fn a_box_count_that_is_none_is_refused() {
    for per_m2 in [-1.0, f64::NAN, 1e6] {
        let mut w = wall(vec![board("gypsum board", 12.5, 1)]);
        w.boxes = vec![ElectricalBoxes {
            kind: BoxKind::Moulded,
            per_m2,
            placed: BoxPlacing::OneFace,
            sealed: false,
        }];
        let said = predict(&w, &Conditions::default()).unwrap_err().to_string();
        assert!(said.contains("electrical boxes"), "{said}");
    }
}

#[test]
fn an_own_material_is_its_figures_and_not_its_name() {
    let gypsum = catalogue().material("gypsum board").unwrap();
    let with = |material: Material| {
        let Layer::Board(mut b) = board("gypsum board", 12.5, 1) else { unreachable!() };
        b.material = material.name.clone();
        b.own = Some(Arc::new(material));
        predict(&wall(vec![Layer::Board(b)]), &Conditions::default())
    };
    let own = |change: &dyn Fn(&mut Material)| {
        let mut m = Material { name: "my board".to_owned(), ..gypsum.clone() };
        change(&mut m);
        with(m)
    };
    let plain = predicted(vec![board("gypsum board", 12.5, 1)]);
    assert_eq!(own(&|_| ()).unwrap().reduction, plain.reduction);
    let heavier = own(&|m| m.density.0 *= 2.0).unwrap();
    assert!((at(&heavier, "250") - at(&plain, "250") - 6.0).abs() < 0.5);
    let stiffer = own(&|m| m.fc_times_h /= 2.0).unwrap();
    assert!((stiffer.critical[0].0 / plain.critical[0].0 - 0.5).abs() < 1e-6);
    for bad in [f64::NAN, -1.0, 0.0, 1e9] {
        let refused = own(&|m| m.fc_times_h = bad).unwrap_err();
        assert!(matches!(refused, PartitionError::Unusable { .. }), "{refused}");
    }
}
