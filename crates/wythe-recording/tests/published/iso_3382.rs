//! ISO 3382-1:2009 and ISO 3382-2:2008, decay times. Definitions as in public manuals; the decays
//! are closed forms or simulations of this project.

use wythe_bands::{Band, Hertz, Seconds};
use wythe_recording::decay::{Excitation, Line, curvature, decays, of_noiseless, of_squares};
use wythe_recording::sweep::Sweep;
use wythe_recording::test_signal::SplitMix64;

use crate::table::{number, read};

#[test]
fn meas_21_ideal_decays() {
    let fs = 48_000.0;
    for row in read("meas_21_rt_ideal.csv") {
        let n = |c| number(&row, c);
        let fall = |t: f64, t60: f64| (-6.0 * std::f64::consts::LN_10 * t / t60).exp();
        let squares: Vec<f64> = (0..(n("dur_s") * fs).round() as usize)
            .map(|k| {
                let t = k as f64 / fs;
                let second = if row["kind"] == "double" {
                    10f64.powf(n("a_dB") / 10.0) * fall(t, n("T2_s"))
                } else {
                    0.0
                };
                fall(t, n("T1_s")) + second
            })
            .collect();
        let got = of_noiseless(&squares, fs);
        let (t20, t30) = (got.t20.unwrap().time, got.t30.unwrap().time);
        for (ours, column) in [(got.edt.unwrap().time, "EDT_s"), (t20, "T20_s"), (t30, "T30_s")] {
            assert!((ours.0 / n(column) - 1.0).abs() < 1e-4, "{row:?} {column} {ours:?}");
        }
        assert!((curvature(t20, t30) - n("curvature_pct")).abs() < 0.02, "{row:?}");
    }
}

#[test]
fn annex_b_curvature_and_non_linearity() {
    // ratings_field.csv, decay-a (analytic): T20 0.5, T30 0.53, r 0.998: 6 % and 3.996 ‰.
    assert!((curvature(Seconds(0.5), Seconds(0.53)) - 6.0).abs() < 1e-6);
    let line = Line { time: Seconds(0.5), correlation: 0.998 };
    assert!((line.non_linearity() - 3.996).abs() < 1e-6);
}

/// White noise under an exponential, plus steady noise `snr` decibels below its start.
fn noisy(seed: u64, fs: f64, t60: f64, snr: f64, length: f64) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    let floor = 10f64.powf(-snr / 20.0);
    (0..(length * fs) as usize)
        .map(|k| {
            let t = k as f64 / fs;
            let decay = (-3.0 * std::f64::consts::LN_10 * t / t60).exp();
            r.gauss() * decay + floor * r.gauss()
        })
        .collect()
}

#[test]
fn noise_is_taken_off_and_the_tail_put_back() {
    // The reference estimator reached 2 % (T20) and 4.1 % (T30) for T 0.15 to 1.5 s at 45 to 60 dB.
    for (i, (t60, snr)) in
        [(0.15, 60.0), (0.3, 50.0), (0.8, 47.0), (0.8, 60.0), (1.5, 50.0)].into_iter().enumerate()
    {
        let x = noisy(40 + i as u64, 48_000.0, t60, snr, 2.5 * t60 + 0.5);
        let squares: Vec<f64> = x.iter().map(|v| v * v).collect();
        let got = of_squares(&squares, 48_000.0).unwrap();
        let (t20, t30) = (got.t20.unwrap().time.0 / t60, got.t30.unwrap().time.0 / t60);
        println!("T {t60} s, {snr} dB: T20 {t20:.4} T30 {t30:.4} knee {:?}", got.knee);
        assert!((t20 - 1.0).abs() < 0.02 && (t30 - 1.0).abs() < 0.041, "{t60} {snr}: {t20} {t30}");
        // Theory: the line meets the noise at T · SNR/60.
        let knee = got.knee.unwrap().0 / (t60 * snr / 60.0);
        assert!((knee - 1.0).abs() < 0.08, "{knee}");
    }
}

#[test]
fn reversed_filters_hold_at_a_bandwidth_time_product_of_4() {
    // Simulated: T20 within 1.3 % in the mean from B·T = 4 when filtered backwards.
    let band = Band::HZ_100;
    let width = band.upper_edge().0 - band.lower_edge().0;
    for product in [4.5, 8.0, 16.0] {
        let t60 = product / width;
        let (mut sum, mut count) = (0.0, 0.0);
        // Energies of many decays at once: the ensemble mean is what the limit is about.
        let fs = 8_000.0;
        let n = ((3.0 * t60 + 0.6) * fs) as usize;
        let mut squares = vec![0.0; n];
        for seed in 0..200 {
            let x = noisy(1000 + seed, fs, t60, 200.0, n as f64 / fs + 1e-9);
            let sections = wythe_recording::section::band_pass(
                band,
                fs,
                6,
                wythe_recording::Bandwidth::AtEdges,
            )
            .unwrap();
            let pad = (0.3 * fs) as usize;
            let mut cascade = wythe_recording::section::Cascade::new(&sections);
            for k in (0..n).rev() {
                let x = if k >= pad { x[k - pad] } else { 0.0 };
                squares[k] += cascade.step(x).powi(2);
            }
        }
        let got = of_noiseless(&squares[(0.3 * fs) as usize..], fs);
        sum += got.t20.unwrap().time.0 / t60;
        count += 1.0;
        let ratio: f64 = sum / count;
        println!("B·T {product}: T20 {ratio:.4} of the truth");
        assert!((ratio - 1.0).abs() < 0.05, "{product}: {ratio}");
    }
}

#[test]
fn a_sweep_gives_back_the_room() {
    let fs = 16_000.0;
    let sweep = Sweep::new(Hertz(40.0), Hertz(7_000.0), Seconds(4.0), fs).unwrap();
    let t60 = 0.6;
    let mut h = noisy(7, fs, t60, 200.0, 1.2);
    h[0] = 3.0;
    let x = sweep.signal();
    // The room's answer by fast convolution would hide an error of the transform: sum it plainly,
    // one response sample in eight so that the test stays quick.
    for (k, v) in h.iter_mut().enumerate() {
        if k % 8 != 0 {
            *v = 0.0;
        }
    }
    let mut y = vec![0.0; x.len() + h.len()];
    for (k, v) in h.iter().enumerate().filter(|(_, v)| **v != 0.0) {
        for (n, s) in x.iter().enumerate() {
            y[n + k] += v * s;
        }
    }
    let got = sweep.response(&y, Seconds(1.2)).unwrap();
    let times = decays(&got, fs, [Band::HZ_500, Band::HZ_1000], Excitation::Impulse).unwrap();
    for (band, d) in times.bands.iter() {
        let t20 = d.t20.unwrap().0;
        println!("{band:?}: {t20:.3} s");
        // One decay of one band of width 115 Hz: the decay's own randomness.
        assert!((t20 / t60 - 1.0).abs() < 0.12, "{band:?}: {t20}");
    }
    assert!(sweep.response(&x[..100], Seconds(1.0)).is_err());
}

#[test]
fn a_sweep_and_its_inverse_make_an_impulse() {
    // ISO 18233:2006, Annex B (linear deconvolution), after Farina 2000: the convolution of the two is a
    // single peak of height one at the end of the sweep.
    let sweep = Sweep::new(Hertz(100.0), Hertz(3000.0), Seconds(2.0), 8000.0).unwrap();
    let (x, inverse) = (sweep.signal(), sweep.inverse());
    let at = |lag: i64| -> f64 {
        (0..x.len() as i64)
            .filter_map(|k| Some(x[k as usize] * inverse.get((lag - k) as usize)?))
            .sum()
    };
    let end = x.len() as i64 - 1;
    assert!((at(end) - 1.0).abs() < 1e-9);
    for away in [40, 100, 1000] {
        assert!(at(end + away).abs() < 0.05 && at(end - away).abs() < 0.05, "{away}");
    }
}
