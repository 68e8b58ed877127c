//! IEC 61672-1:2013, sound level meters. Values as transcribed in the check tables, whose comment
//! lines say how far each was confirmed.

use std::io::Cursor;

use wythe_bands::Hertz;
use wythe_bands::weighting::Weighting;
use wythe_recording::section::{Section, response};
use wythe_recording::weighting_filter::WeightingFilter;
use wythe_recording::{Analysis, Mask, analyse, open, wav};

use crate::table::{number, read};

#[test]
fn annex_e_and_table_3_design_goals() {
    for row in read("meas_01_weighting_design.csv") {
        let f = Hertz(number(&row, "exact_Hz"));
        for (w, exact, printed) in
            [(Weighting::A, "A_dB", "A_table"), (Weighting::C, "C_dB", "C_table")]
        {
            let curve = w.at(f).0;
            assert!((curve - number(&row, exact)).abs() < 1e-9, "{f:?} {curve}");
            assert!((curve - number(&row, printed)).abs() <= 0.0501, "{f:?}");
        }
    }
}

#[test]
fn weighting_filters_follow_the_curves_at_the_usual_rates() {
    for rate in [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0] {
        let filter = WeightingFilter::new(rate);
        assert!(filter.largest_error.0 < 0.05, "{rate}: {:?}", filter.largest_error);
        // Table 3, class 1 limits: the digital share stays below a tenth of a decibel.
        for row in read("meas_01_weighting_design.csv") {
            let f = Hertz(number(&row, "exact_Hz"));
            for w in [Weighting::A, Weighting::C] {
                let error = filter.gain(w, f, rate).0 - w.at(f).0;
                assert!(error < number(&row, "cl1_plus") && -error < number(&row, "cl1_minus"));
                assert!(error.abs() < 0.05, "{rate} {f:?} {error}");
            }
        }
    }
}

#[test]
fn weighting_filters_are_those_of_the_reference_calculation() {
    let rows = read("meas_03_weighting_sos.csv");
    for rate in [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0] {
        for (letter, w) in [("A", Weighting::A), ("C", Weighting::C)] {
            let theirs: Vec<Section> = rows
                .iter()
                .filter(|r| r["weighting"] == letter && number(r, "fs") == rate)
                .map(|r| Section {
                    b: [number(r, "b0"), number(r, "b1"), number(r, "b2")],
                    a: [number(r, "a1"), number(r, "a2")],
                })
                .collect();
            assert_eq!(theirs.len(), if letter == "A" { 3 } else { 2 });
            let ours = WeightingFilter::new(rate);
            for i in 0..200 {
                let f = Hertz(10.0 * 2000f64.powf(f64::from(i) / 199.0));
                let wanted = 20.0 * response(&theirs, f, rate).norm().log10();
                let got = ours.gain(w, f, rate).0;
                assert!((got - wanted).abs() < 1e-6, "{rate} {letter} {f:?}: {got} {wanted}");
            }
        }
    }
}

#[test]
fn weighting_filters_at_other_rates() {
    // Below 44.1 kHz the curve is followed up to 0.45 of the rate.
    for rate in [
        8_000.0, 11_025.0, 16_000.0, 22_050.0, 24_000.0, 32_000.0, 47_250.0, 46_000.0, 41_000.0,
        50_000.0, 64_000.0, 128_000.0, 352_800.0, 384_000.0, 768_000.0,
    ] {
        let filter = WeightingFilter::new(rate);
        println!("{rate} Hz: {:.4} dB up to {:.0} Hz", filter.largest_error.0, filter.valid_to.0);
        assert!(filter.largest_error.0 < 0.05, "{rate}: {:?}", filter.largest_error);
    }
}

/// A burst of `ms` milliseconds of 4 kHz after a second of silence, through the whole program.
fn burst(rate: u32, ms: f64) -> wythe_recording::Statistics<wythe_recording::RelativeLevel> {
    let fs = f64::from(rate);
    let (start, length) = ((1.2 * fs) as usize, (ms * fs / 1000.0).round() as usize);
    let x: Vec<f64> = (0..(6.0 * fs) as usize)
        .map(|n| {
            let on = n >= start && n < start + length;
            let phase = std::f64::consts::TAU * 4000.0 * (n as f64 - start as f64) / fs;
            if on { 0.5 * phase.sin() } else { 0.0 }
        })
        .collect();
    let bytes = wav::to_bytes(rate, 1, wav::Depth::Float32, &x).unwrap();
    let heard = analyse(&mut *open(Cursor::new(bytes)).unwrap(), &Analysis::default(), |_| {});
    heard.unwrap().channels[0].history.statistics(&Mask::everything())
}

#[test]
fn table_4_toneburst_responses() {
    for rate in [44_100, 48_000, 96_000] {
        // Steady level of the same tone, A-weighted.
        let filter = WeightingFilter::new(f64::from(rate));
        let steady = 20.0 * (0.5 / 2f64.sqrt()).log10()
            + filter.gain(Weighting::A, Hertz(4000.0), f64::from(rate)).0;
        for row in read("meas_13_toneburst_reference.csv") {
            let ms = number(&row, "Tb_ms");
            let got = burst(rate, ms);
            let fast = got.lafmax.unwrap().0 - steady - number(&row, "dF_dB");
            let exposure = got.lae.unwrap().0 - steady - number(&row, "dLAE_dB");
            let (plus, minus) = (number(&row, "cl1_plus"), number(&row, "cl1_minus"));
            assert!(fast < plus && -fast < minus, "{rate} {ms} ms: F off by {fast}");
            assert!(exposure < plus && -exposure < minus, "{rate} {ms} ms: LAE off by {exposure}");
            // Far inside the limits while the burst is longer than a few periods.
            if ms >= 10.0 {
                assert!(
                    fast.abs() < 0.03 && exposure.abs() < 0.03,
                    "{rate} {ms}: {fast} {exposure}"
                );
            }
        }
    }
}

#[test]
fn free_decay_of_f_and_s_after_5_8() {
    // 10/(τ ln 10): 34.7 dB/s for F, limits +3.8/−3.7; 4.3 dB/s for S, +0.8/−0.7.
    let rate = 48_000u32;
    let x: Vec<f64> = (0..480_000)
        .map(|n| {
            let x = 0.5 * (std::f64::consts::TAU * 1000.0 * f64::from(n) / 48_000.0).sin();
            if n < 240_000 { x } else { 0.0 }
        })
        .collect();
    let bytes = wav::to_bytes(rate, 1, wav::Depth::Float32, &x).unwrap();
    let heard = analyse(&mut *open(Cursor::new(bytes)).unwrap(), &Analysis::default(), |_| {});
    let history = &heard.unwrap().channels[0].history;
    let db = |v: f32| 10.0 * f64::from(v).log10();
    let fast = history.fast(wythe_recording::Signal::Weighted(Weighting::A));
    let slow = history.slow(Weighting::A);
    let (f, s) = ((db(fast[54]) - db(fast[64])) / 1.0, (db(slow[54]) - db(slow[94])) / 4.0);
    assert!((f - 34.74).abs() < 0.02, "{f}");
    assert!((s - 4.343).abs() < 0.01, "{s}");
}
