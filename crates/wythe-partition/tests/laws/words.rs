//! Messages: what, where, why, what to do.

use wythe_bands::{Metre, SurfaceMass};
use wythe_partition::{Conditions, FrameKind, Layer, PartitionError, predict};

use crate::walls::{board, cavity, frame, wall};

fn refused(layers: Vec<Layer>) -> PartitionError {
    predict(&wall(layers), &Conditions::default()).unwrap_err()
}

#[test]
fn each_slip_has_its_message() {
    let gypsum = || board("gypsum board", 12.5, 1);
    let cases: Vec<(Vec<Layer>, &str, &str)> = vec![
        (vec![], "partition::no-layers", "no layers"),
        (vec![gypsum(), cavity(0.0, 0.0, None), gypsum()], "partition::unusable-number", "layer 2"),
        (vec![gypsum(), cavity(50.0, 80.0, None), gypsum()], "partition::fill-depth", "80 mm deep"),
        (vec![cavity(50.0, 0.0, None), gypsum()], "partition::cavity-at-edge", "side a"),
        (vec![gypsum(), cavity(50.0, 0.0, None)], "partition::cavity-at-edge", "side b"),
        (
            vec![gypsum(), cavity(50.0, 0.0, None), cavity(50.0, 0.0, None), gypsum()],
            "partition::cavities-side-by-side",
            "layers 2 and 3",
        ),
        (vec![board("gypsum bord", 12.5, 1)], "partition::unknown-material", "`gypsum board`"),
        (vec![board("glass", -4.0, 1)], "partition::unusable-number", "thickness of -4 mm"),
        (vec![board("glass", f64::NAN, 1)], "partition::unusable-number", "is no number"),
        (vec![board("glass", 4.0, 0)], "partition::unusable-number", "count"),
        (vec![board("glass", 4.0, 5000)], "partition::too-many", "5000"),
        (vec![gypsum(); 100], "partition::too-many", "100 layers"),
        (
            vec![gypsum(), cavity(90.0, 0.0, Some(frame(FrameKind::TimberStuds, 0.0))), gypsum()],
            "partition::unusable-number",
            "spacing",
        ),
    ];
    for (layers, code, word) in cases {
        let e = refused(layers);
        assert_eq!(e.code(), code, "{e}");
        let text = e.to_string();
        assert!(text.contains(word), "{text}");
        assert!(text.contains("wall") && !text.ends_with('.'), "{text}");
    }
}

#[test]
fn a_negative_mass_and_a_negative_number_of_bridges() {
    let mut b = board("glass", 4.0, 1);
    if let Layer::Board(b) = &mut b {
        b.surface_mass = Some(SurfaceMass(-1.0));
    }
    assert!(refused(vec![b]).to_string().contains("surface mass"));
    let mut w = wall(vec![board("glass", 4.0, 1)]);
    w.rigid_bridges_per_m2 = -1.0;
    assert!(predict(&w, &Conditions::default()).is_err());
    let nowhere = Conditions { area: wythe_bands::SquareMetre(f64::NAN), ..Conditions::default() };
    w.rigid_bridges_per_m2 = 0.0;
    assert!(matches!(predict(&w, &nowhere), Err(PartitionError::Conditions { .. })));
}

/// Four leaves with no cavity between are one leaf of four sheets, and say so by their number.
#[test]
fn boards_without_a_cavity_between_are_one_leaf() {
    let p = predict(&wall(vec![board("glass", 4.0, 1); 4]), &Conditions::default()).unwrap();
    assert_eq!((p.critical.len(), p.resonances.len()), (1, 0));
    assert!((p.thickness.unwrap().0 - Metre(0.016).0).abs() < 1e-12);
}
