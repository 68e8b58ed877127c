//! Trouble made on purpose, and clean sound in which nothing must be found.

use std::io::Cursor;

use wythe_bands::{Band, Seconds};
use wythe_recording::decay::{Excitation, events};
use wythe_recording::hum::mains_hum;
use wythe_recording::listen_for::{automatic_gain, gain_steps, recovering_gain};
use wythe_recording::microphone::{CorrectionCurve, beside};
use wythe_recording::test_signal::{SplitMix64, white};
use wythe_recording::trouble::What;
use wythe_recording::wav::{Depth, to_bytes};
use wythe_recording::{Analysis, History, Mask, Sensitivity, analyse, open};

const RATE: u32 = 16_000;

fn history(x: &[f64]) -> History {
    let bytes = to_bytes(RATE, 1, Depth::Float32, x).unwrap();
    analyse(&mut *open(Cursor::new(bytes)).unwrap(), &Analysis::default(), |_| {})
        .unwrap()
        .channels
        .remove(0)
        .history
}

/// Passages of noise that differ by up to twenty decibels, three seconds each.
fn passages(seed: u64, seconds: usize) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    let mut level = 0.1;
    (0..RATE as usize * seconds)
        .map(|n| {
            if n % (3 * RATE as usize) == 0 {
                level = 0.1 * 10f64.powf(-r.uniform());
            }
            level * r.gauss()
        })
        .collect()
}

#[test]
fn a_gain_that_follows_the_sound_is_found() {
    // Ten seconds of silence in front.
    let mut x = vec![0.0; RATE as usize * 10];
    x.extend(passages(1, 120));
    let source = history(&x);
    let (quiet, loud) = (Mask::spans(vec![(1.0, 9.0)]), Mask::spans(vec![(11.0, 130.0)]));
    for (ratio, found) in [(1.0, false), (0.5, true), (0.3, true)] {
        // A compressor: the gain goes with the level over half a second.
        let mut power = 0.0;
        let mut noise = SplitMix64::new(2);
        let y: Vec<f64> = x
            .iter()
            .map(|v| {
                power += (v * v - power) / (0.5 * f64::from(RATE));
                // No gain grows without end: thirty decibels at most.
                let gain = (power + 1e-7).powf((ratio - 1.0) / 2.0) * 0.05f64.powf(1.0 - ratio);
                gain * (0.03 * v + 1e-6 * noise.gauss())
            })
            .collect();
        let got = automatic_gain(&history(&y), &source, &loud, &quiet);
        assert_eq!(got.is_some(), found, "{ratio} {got:?}");
        if let Some(What::AutomaticGain(of)) = got.map(|t| t.what) {
            // Where passages meet the gain is late, which makes the slope look steeper.
            assert!(of.0 > 10.0 * ratio - 1.0 && of.0 < 10.0 * ratio + 2.5, "{ratio} {of:?}");
        }
    }
}

#[test]
fn a_gain_that_creeps_up_after_the_sound_is_found() {
    let rate = f64::from(RATE);
    let make = |creeps: bool| -> Vec<f64> {
        let mut r = SplitMix64::new(5);
        (0..RATE as usize * 60)
            .map(|n| {
                let t = n as f64 / rate;
                let sound = if t < 30.0 { 0.1 } else { 0.0005 };
                let gain =
                    if creeps && t > 30.0 { 10f64.powf((t - 30.0).min(12.0) / 20.0) } else { 1.0 };
                gain * sound * r.gauss()
            })
            .collect()
    };
    assert!(recovering_gain(&history(&make(false)), &[30.0]).is_none());
    let got = recovering_gain(&history(&make(true)), &[30.0]).unwrap();
    let What::RecoveringGain(by) = got.what else { panic!("{got:?}") };
    assert!((by.0 - 8.0).abs() < 1.0, "{by:?}");
}

#[test]
fn hum_is_found_with_what_it_does_to_the_bands() {
    let rate = 48_000.0;
    let quiet = white(9, 0.001, 48_000 * 20);
    assert_eq!(mains_hum(&quiet, rate), None);
    for mains in [50.0, 60.0] {
        let hum: Vec<f64> = quiet
            .iter()
            .enumerate()
            .map(|(n, v)| {
                let t = n as f64 / rate;
                let line = |k: f64, a: f64| a * (std::f64::consts::TAU * k * mains * t).sin();
                v + line(1.0, 4e-4) + line(2.0, 3e-4) + line(3.0, 3e-4) + line(5.0, 1e-4)
            })
            .collect();
        let got = mains_hum(&hum, rate).unwrap();
        assert_eq!(got.mains.0, mains);
        assert!(got.multiples.starts_with(&[1, 2, 3]), "{got:?}");
        // The first line lies in the 50 or 63 Hz band: its power against that of the noise there.
        let band = if mains == 50.0 { Band::HZ_50 } else { Band::HZ_63 };
        let width = band.upper_edge().0 - band.lower_edge().0;
        let noise = 1e-6 * width / 24_000.0;
        let wanted = 10.0 * (1.0 + 8e-8 / noise).log10();
        let raise = got.raises.get(band).unwrap().0;
        assert!((raise - wanted).abs() < 1.5, "{raise} {wanted}");
    }
    // One machine at one frequency is no hum.
    let machine: Vec<f64> = quiet
        .iter()
        .enumerate()
        .map(|(n, v)| v + 1e-3 * (std::f64::consts::TAU * 100.0 * n as f64 / rate).sin())
        .collect();
    assert_eq!(mains_hum(&machine, rate), None);
}

#[test]
fn a_gain_step_is_told_from_a_louder_player() {
    let mut x = passages(11, 60);
    let other = history(&x);
    let at = 30 * RATE as usize;
    x[at..].iter_mut().for_each(|v| *v *= 2.0);
    let stepped = history(&x);
    let found = gain_steps(&stepped, &[&other]);
    assert!(
        found.iter().any(|t| (t.from.0 - 30.0).abs() < 2.0
            && matches!(t.what, What::GainStep(by) if (by.0 - 6.0).abs() < 1.0)),
        "{found:?}"
    );
    assert!(gain_steps(&other, &[&other]).is_empty());
    // The player got louder: the microphone beside shows it as well.
    assert!(gain_steps(&stepped, &[&stepped]).is_empty());
}

#[test]
fn claps_and_interrupted_noise_are_cut_apart() {
    let rate = 48_000.0;
    let mut r = SplitMix64::new(3);
    let decay = |t: f64, t60: f64| if t < 0.0 { 0.0 } else { 10f64.powf(-3.0 * t / t60) };
    let claps: Vec<f64> = (0..48_000 * 12)
        .map(|n| {
            let t = n as f64 / rate;
            let sum: f64 = [1.0, 4.5, 8.0].iter().map(|at| decay(t - at, 0.6)).sum();
            (sum + 1e-4) * r.gauss() * 0.3
        })
        .collect();
    let found = events(&claps, rate);
    assert_eq!(found.len(), 3, "{found:?}");
    for ((from, _, how), at) in found.iter().zip([1.0, 4.5, 8.0]) {
        assert_eq!(*how, Excitation::Impulse);
        assert!((*from as f64 / rate - at).abs() < 0.06, "{from}");
    }
    let bursts: Vec<f64> = (0..48_000 * 16)
        .map(|n| {
            let t = n as f64 / rate % 5.0;
            let level = if t < 2.0 { 1.0 } else { decay(t - 2.0, 0.8) };
            (level + 1e-4) * r.gauss() * 0.1
        })
        .collect();
    let found = events(&bursts, rate);
    assert_eq!(found.len(), 3, "{found:?}");
    for (k, (from, to, how)) in found.iter().enumerate() {
        assert_eq!(*how, Excitation::InterruptedNoise);
        let stop = (5.0 * k as f64 + 2.0) * rate;
        assert!((*from as f64) < stop && (*to as f64) > stop + 1.5 * rate, "{found:?}");
        assert!((*to as f64) < 5.0 * (k as f64 + 1.0) * rate, "{found:?}");
    }
    assert!(events(&[0.0; 4800], rate).is_empty() && events(&[], rate).is_empty());
}

#[test]
fn a_correction_curve_is_read_and_added() {
    let text = "frequency_hz,response_db\n# made up\n20,-3\n1000,0\n4000;1.0\n20000\t5\n";
    let curve = CorrectionCurve::read(text).unwrap();
    assert_eq!(curve.at(1000.0).0, 0.0);
    assert_eq!(curve.at(10.0).0, 3.0);
    assert!((curve.at(2000.0).0 + 0.5).abs() < 1e-9);
    let x = white(4, 0.1, RATE as usize * 5);
    let plain =
        history(&x).statistics(&Mask::everything()).calibrated(Sensitivity::new(1.0).unwrap());
    let corrected = curve.apply(&plain);
    let off = |b| corrected.leq.get(b).unwrap().0 - plain.leq.get(b).unwrap().0;
    assert!((off(Band::HZ_1000)).abs() < 0.05 && (off(Band::HZ_4000) + 1.0).abs() < 0.1);
    assert!(corrected.laeq.unwrap().0 < plain.laeq.unwrap().0);
    for bad in [
        "",
        "hz,db\n1,2",
        "frequency_hz,response_db\n",
        "frequency_hz,response_db\nx,1",
        "frequency_hz,response_db\n1000,nan",
        "frequency_hz,response_db\n-5,1",
    ] {
        assert!(CorrectionCurve::read(bad).is_err(), "{bad}");
    }
}

#[test]
fn a_neighbour_lends_its_sensitivity() {
    let x = white(6, 0.1, RATE as usize * 30);
    let mut r = SplitMix64::new(8);
    let y: Vec<f64> = x.iter().map(|v| 0.5 * v + 0.0005 * r.gauss()).collect();
    let when = (Seconds(2.0), Seconds(28.0));
    let got = beside(&history(&x), &history(&y), when).unwrap();
    assert!((got.above.0 - 6.02).abs() < 0.02 && got.spread.0 < 0.05, "{got:?}");
    assert!(beside(&history(&x), &history(&y), (Seconds(2.0), Seconds(3.0))).is_none());
}
