//! Random curves.

use proptest::prelude::*;
use wythe_rating::{Curve, Midband, Resolution};

/// Thirds 50 Hz to 5 kHz in tenths of a decibel, from a walk, so that they look like curves but
/// may also dip.
pub fn thirds() -> impl Strategy<Value = Vec<i64>> {
    (50i64..700, prop::collection::vec(-60i64..80, 21), 0usize..21, 0i64..250).prop_map(
        |(start, steps, dip, depth)| {
            let mut level = start;
            let mut out: Vec<i64> = steps
                .into_iter()
                .map(|s| {
                    level += s;
                    level
                })
                .collect();
            out[dip] -= depth;
            out
        },
    )
}

pub fn curve(tenths: &[i64]) -> Curve {
    let first = Midband::from_nominal("50").unwrap().index();
    Curve::from_pairs(
        Resolution::Thirds,
        tenths.iter().enumerate().map(|(i, t)| (Midband::at(first + i).unwrap(), *t as f64 / 10.0)),
    )
}

/// Every third octave mid-band of the same walk as an octave curve.
pub fn octaves(tenths: &[i64]) -> Curve {
    let first = Midband::from_nominal("63").unwrap().index();
    Curve::from_pairs(
        Resolution::Octaves,
        tenths
            .iter()
            .take(7)
            .enumerate()
            .map(|(i, t)| (Midband::at(first + 3 * i).unwrap(), *t as f64 / 10.0)),
    )
}
