//! The fast bank against the plain cascade at the full rate.

use std::io::Cursor;

use wythe_bands::weighting::Weighting;
use wythe_recording::bank::Plan;
use wythe_recording::section::{Cascade, band_pass};
use wythe_recording::test_signal::white;
use wythe_recording::weighting_filter::WeightingFilter;
use wythe_recording::{Analysis, Bandwidth, Signal, analyse, open, wav};

/// Levels of every band agree with filters that run at the full rate on every sample.
///
/// What is left is the filters' own difference: at a quarter of its rate a sixth-order band is
/// 0.007 dB narrower than far below it.
#[test]
fn bands_and_weightings() {
    for rate in [44_100u32, 48_000, 96_000] {
        let fs = f64::from(rate);
        let x: Vec<f64> = white(21, 0.1, rate as usize * 20);
        let bytes = wav::to_bytes(rate, 1, wav::Depth::Float32, &x).unwrap();
        let x: Vec<f64> = x.iter().map(|v| f64::from(*v as f32)).collect();
        let heard =
            analyse(&mut *open(Cursor::new(bytes)).unwrap(), &Analysis::default(), |_| {}).unwrap();
        let history = &heard.channels[0].history;
        let plan = Plan::new(fs, Bandwidth::AtEdges).unwrap();
        let weighting = WeightingFilter::new(fs);
        let mut all: Vec<(Signal, Vec<_>)> = plan
            .bands()
            .map(|b| {
                let order = plan.place(b).unwrap().order;
                (Signal::Band(b), band_pass(b, fs, order, Bandwidth::AtEdges).unwrap())
            })
            .collect();
        for w in [Weighting::A, Weighting::C, Weighting::Z] {
            all.push((Signal::Weighted(w), weighting.sections(w)));
        }
        for (signal, sections) in all {
            let y = Cascade::run(&sections, &x);
            let rise = 1.0 - (-1.0 / (fs * 0.125)).exp();
            let mut fast = 0.0;
            let mut at_ends = Vec::new();
            for (n, v) in y.iter().enumerate() {
                fast += rise * (v * v - fast);
                if (n + 1) % (rate as usize / 10) == 0 {
                    at_ends.push(fast);
                }
            }
            let truth = 10.0 * (y.iter().map(|v| v * v).sum::<f64>() / y.len() as f64).log10();
            let mean = history.energy(signal).iter().map(|e| f64::from(*e)).sum::<f64>() / 200.0;
            let off = 10.0 * mean.log10() - truth;
            let full_rate = match signal {
                Signal::Band(b) => plan.place(b).unwrap().stage == 0,
                Signal::Weighted(_) => true,
            };
            // Band noise of a few hertz: a slightly narrower filter hears a little less of it.
            let limit = if full_rate { 1e-4 } else { 0.05 };
            assert!(off.abs() < limit, "{rate} {signal:?} {off}");
            // F ten times a second, as a mean of the differences after the first second.
            let (mut sum, mut worst) = (0.0, 0.0f64);
            for (ours, truth) in history.fast(signal).iter().zip(&at_ends).skip(10) {
                let d = 10.0 * (f64::from(*ours) / truth).log10();
                sum += d / 190.0;
                worst = worst.max(d.abs());
            }
            let (mean_limit, limit) = if full_rate { (1e-4, 1e-3) } else { (0.05, 1.0) };
            assert!(sum.abs() < mean_limit && worst < limit, "{rate} {signal:?}: F {sum} {worst}");
        }
    }
}
