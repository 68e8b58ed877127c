//! The fast integration against adaptive quadrature over angle and frequency.

use wythe_partition::{Conditions, predict, slow_reduction};

#[path = "../support/mod.rs"]
mod support;

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
