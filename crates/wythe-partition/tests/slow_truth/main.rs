//! The fast integration against adaptive quadrature over angle and frequency.

use wythe_partition::{Conditions, predict, slow_reduction};

#[path = "../support/mod.rs"]
mod support;
#[path = "../support/walls.rs"]
mod walls;

/// 0.05 dB in every band of every construction of the record.
#[test]
fn the_whole_record_within_a_twentieth_of_a_decibel() {
    let mut worst = (0.0f64, String::new());
    for row in support::record() {
        let conditions = Conditions::default();
        let fast = predict(&row.build_up, &conditions).unwrap().reduction;
        let slow = slow_reduction(&row.build_up, &conditions).unwrap();
        for (band, s) in slow.iter() {
            let difference = (fast.get(band).unwrap().0 - s.0).abs();
            if difference > 0.05 {
                println!("{} {band} Hz: {difference:.3} dB", row.id);
            }
            if difference > worst.0 {
                worst = (difference, format!("{} at {band} Hz", row.id));
            }
        }
    }
    println!("worst {:.3} dB, {}", worst.0, worst.1);
    assert!(worst.0 < 0.05, "{:.3} dB, {}", worst.0, worst.1);
}

/// Three leaves with framed and partly filled cavities, a damped stack, a lining on masonry.
#[test]
fn walls_the_record_does_not_have() {
    use walls::{board, cavity, frame, joined, wall};
    use wythe_partition::{FrameKind, Joint};
    let steel = || Some(frame(FrameKind::LightSteelStuds, 600.0));
    for layers in [
        vec![
            board("gypsum board", 15.0, 1),
            board("gypsum board", 12.5, 1),
            cavity(90.0, 90.0, steel()),
            board("gypsum board", 12.5, 1),
            cavity(70.0, 40.0, Some(frame(FrameKind::SeparateSteelStuds, 600.0))),
            board("gypsum board", 12.5, 2),
        ],
        vec![
            joined("gypsum board", 12.5, 2, Joint::DampingLayer),
            cavity(100.0, 60.0, steel()),
            joined("plywood", 18.0, 2, Joint::Bonded),
        ],
        vec![
            board("dense block", 140.0, 1),
            cavity(50.0, 50.0, None),
            board("gypsum board", 12.5, 1),
        ],
    ] {
        let wall = wall(layers);
        let fast = predict(&wall, &Conditions::default()).unwrap().reduction;
        for (band, s) in slow_reduction(&wall, &Conditions::default()).unwrap().iter() {
            let f = fast.get(band).unwrap().0;
            assert!((f - s.0).abs() < 0.05, "{band} Hz: {f} for {}", s.0);
        }
    }
}
