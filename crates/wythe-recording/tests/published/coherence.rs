//! Coherence and alignment against calculations made independently for this project (`meas_23`,
//! `meas_25`, `meas_27`); statistics after Carter, Knapp and Nuttall 1973 (from memory).

use std::io::Cursor;

use wythe_bands::{Band, Seconds};
use wythe_recording::alignment::{align, onto_first_clock};
use wythe_recording::coherence::{
    CrossSpectrum, coherent_difference, deviation_of_estimate, find_delay, mean_of_estimate,
    zero_threshold,
};
use wythe_recording::test_signal::{SplitMix64, white};
use wythe_recording::{Mask, open, wav};

use crate::table::{number, read};

#[test]
fn meas_23_statistics_of_the_estimate() {
    for row in read("meas_23_coherence_statistics.csv") {
        let n = |c| number(&row, c);
        let (nd, g2) = (n("nd"), n("g2_true"));
        assert!((mean_of_estimate(g2, nd) - n("theory_mean")).abs() < 1e-9, "{row:?}");
        assert!((deviation_of_estimate(g2, nd) - n("theory_std")).abs() < 1e-9, "{row:?}");
        assert!((zero_threshold(0.05, nd) - n("thr_5pct")).abs() < 1e-9, "{row:?}");
        // The Monte Carlo beside it, about 1 % wide.
        assert!((mean_of_estimate(g2, nd) / n("mc_mean") - 1.0).abs() < 0.015, "{row:?}");
    }
}

fn transmitted(seed: u64, n: usize, delay: usize, gain: f64, noise: f64) -> (Vec<f64>, Vec<f64>) {
    let x = white(seed, 1.0, n);
    let mut r = SplitMix64::new(seed + 1);
    let (gain, noise) = (10f64.powf(gain / 20.0), 10f64.powf(noise / 20.0));
    let y = (0..n)
        .map(|k| {
            let through = if k >= delay { gain * x[k - delay] } else { 0.0 };
            through + noise * r.gauss()
        })
        .collect();
    (x, y)
}

#[test]
fn meas_25_coherent_output() {
    let n = 48_000 * 40;
    let (x, y) = transmitted(301, n, 317, -50.0, -40.0);
    let mut spectrum = CrossSpectrum::new(48_000.0, 4096).unwrap();
    spectrum.push(&x[..n - 317], &y[317..]);
    let shifted = spectrum.coherent();
    let mut spectrum = CrossSpectrum::new(48_000.0, 4096).unwrap();
    spectrum.push(&x, &y);
    let unshifted = spectrum.coherent();
    for row in read("meas_25_coherent_output.csv") {
        let band = Band::from_nominal(&row["nominal_Hz"]).unwrap();
        let (got, plain) = (shifted.get(band).unwrap(), unshifted.get(band).unwrap());
        assert!((got.averages - number(&row, "nd_eff")).abs() < 0.01);
        let close = |ours: f64, column: &str| {
            let wanted = number(&row, column);
            assert!((ours - wanted).abs() < 1e-6, "{band:?} {column}: {ours} {wanted}");
        };
        close(got.source, "Lx");
        close(got.receiver, "Ly");
        close(got.level_difference.0, "D_naive");
        close(got.raw_difference.0, "D_COP");
        close(got.difference.unwrap().0, "D_COP_bc");
        close(plain.raw_difference.0, "D_COP_noshift");
        // Against the truth: inside three of its own standard deviations.
        let off = got.difference.unwrap().0 - number(&row, "D_true");
        assert!(off.abs() < 3.0 * got.deviation.unwrap().0, "{band:?} {off} {:?}", got.deviation);
    }
}

#[test]
fn meas_27_two_recorders() {
    for row in read("meas_27_alignment.csv") {
        let n = |c| number(&row, c);
        let (fs, tau, e, seed) = (n("fs"), n("tau_s"), n("ppm") * 1e-6, n("seed") as u64);
        let mut u = SplitMix64::new(seed);
        let partials: Vec<[f64; 3]> = (0..150)
            .map(|_| {
                let f = 150.0 * 20f64.powf(u.uniform());
                let phase = std::f64::consts::TAU * u.uniform();
                [f, phase, 0.5 + u.uniform()]
            })
            .collect();
        let x_at = |t: f64| {
            let swell = 0.6 + 0.4 * (std::f64::consts::TAU * 0.7 * t).sin();
            swell
                * partials
                    .iter()
                    .map(|[f, p, a]| a * (std::f64::consts::TAU * f * t + p).sin())
                    .sum::<f64>()
        };
        let count = (fs * n("seconds")) as usize;
        let mut x: Vec<f64> = (0..count).map(|k| x_at(k as f64 / fs)).collect();
        let mut y: Vec<f64> = (0..count).map(|k| x_at((k as f64 / fs - tau) * (1.0 + e))).collect();
        let rms = (y.iter().map(|v| v * v).sum::<f64>() / count as f64).sqrt();
        let noise = rms * 10f64.powf(-n("snr_dB") / 20.0);
        for (signal, seed) in [(&mut x, seed + 1), (&mut y, seed + 2)] {
            let mut r = SplitMix64::new(seed);
            signal.iter_mut().for_each(|v| *v += noise * r.gauss());
        }
        let got = align(&x, &y, fs, Seconds(0.5)).unwrap();
        let (dt, de) = ((got.offset.0 - tau) * fs, got.ppm - n("ppm"));
        println!("offset off by {dt:+.4} samples, clock by {de:+.4} ppm, {got:?}");
        assert!(dt.abs() < 0.1 && de.abs() < 0.1, "{row:?}: {dt} {de}");
        // On one clock the two are the same sound again, up to their noise.
        let back = onto_first_clock(&y, fs, got, count);
        let part = (count / 4)..(3 * count / 4);
        let (mut rest, mut all) = (0.0, 0.0);
        for k in part {
            rest += (back[k] - x[k]).powi(2);
            all += x[k] * x[k];
        }
        let left = 10.0 * (rest / all).log10();
        assert!(left < -n("snr_dB") + 4.0, "{left}");
    }
}

#[test]
fn recovered_differences_lie_in_their_interval_down_to_25_db_under_the_ambient() {
    // Synthetic truth, this project's own: white source, transmitted part 10 to 25 dB under the
    // ambient in the receiving room. The 90 % interval must hold the truth about nine times in ten.
    let (mut inside, mut all, mut seen) = (0u32, 0u32, 0u32);
    for (i, under) in [10.0, 15.0, 20.0, 25.0].into_iter().enumerate() {
        for run in 0..3 {
            let n = 16_000 * 60;
            let (x, y) = transmitted(900 + 10 * i as u64 + run, n, 0, -30.0 - under, -30.0);
            let mut spectrum = CrossSpectrum::new(16_000.0, 2048).unwrap();
            spectrum.push(&x, &y);
            for band in Band::range(Band::HZ_100, Band::HZ_5000) {
                let Some(got) = spectrum.coherent().get(band) else { continue };
                let truth = 30.0 + under;
                all += 1;
                seen += u32::from(got.difference.is_some());
                let below = got.at_least.0 <= truth;
                let above = got.at_most.is_none_or(|m| m.0 >= truth);
                inside += u32::from(below && above);
            }
        }
    }
    let share = f64::from(inside) / f64::from(all);
    println!("{inside} of {all} intervals hold the truth ({share:.3}); {seen} values");
    assert!((0.86..=0.97).contains(&share), "{share}");
}

#[test]
fn nothing_is_found_where_nothing_is() {
    let (x, y) = (white(1, 1.0, 16_000 * 60), white(2, 1.0, 16_000 * 60));
    let mut spectrum = CrossSpectrum::new(16_000.0, 2048).unwrap();
    spectrum.push(&x, &y);
    let found: Vec<_> = spectrum
        .coherent()
        .iter()
        .filter(|(_, c)| c.difference.is_some())
        .map(|(b, _)| b)
        .collect();
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn a_file_is_aligned_and_analysed_by_itself() {
    let n = 16_000 * 40;
    let (x, y) = transmitted(77, n, 480, -20.0, -15.0);
    let both: Vec<f64> = x.iter().zip(&y).flat_map(|(a, b)| [a / 8.0, b / 8.0]).collect();
    let bytes = wav::to_bytes(16_000, 2, wav::Depth::Int24, &both).unwrap();
    let file = || open(Cursor::new(&bytes[..])).unwrap();
    let mask = Mask::spans(vec![(1.0, 18.0), (20.0, 39.0)]);
    let delay = find_delay(&mut *file(), 1, 2, &mask, Seconds(0.2)).unwrap();
    assert!((delay.samples - 480.0).abs() < 0.5 && delay.clarity > 6.0, "{delay:?}");
    let got = coherent_difference(&mut *file(), 1, 2, delay, &mask, Seconds(0.25)).unwrap();
    for band in Band::range(Band::HZ_500, Band::HZ_5000) {
        let c = got.get(band).unwrap();
        let off = c.difference.unwrap().0 - 20.0;
        assert!(off.abs() < 3.5 * c.deviation.unwrap().0, "{band:?} {off} {c:?}");
    }
    assert!(find_delay(&mut *file(), 1, 3, &mask, Seconds(0.2)).is_err());
}
