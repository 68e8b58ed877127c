//! IEC 61260-1:2014, octave-band and fractional-octave-band filters. Values as transcribed in the
//! check tables.

use wythe_bands::{Band, Hertz};
use wythe_recording::bank::Plan;
use wythe_recording::section::{band_pass, response};
use wythe_recording::{Bandwidth, class};

use crate::table::{number, read};

#[test]
fn clause_5_2_to_5_4_frequencies() {
    for row in read("meas_05_bands_third_octave.csv") {
        // The axis of this program begins at 20 Hz.
        let Some(band) = Band::from_nominal(&row["nominal_Hz"]) else { continue };
        for (ours, column) in
            [(band.centre(), "fm_Hz"), (band.lower_edge(), "f1_Hz"), (band.upper_edge(), "f2_Hz")]
        {
            // The table is printed to twelve digits.
            assert!((ours.0 / number(&row, column) - 1.0).abs() < 6e-12, "{band:?} {column}");
        }
    }
}

#[test]
fn table_1_breakpoints_mapped_to_third_octaves() {
    for row in read("meas_07_mask_breakpoints.csv").iter().filter(|r| r["b"] == "3") {
        let omega = number(row, "omega");
        let outer = row["breakpoint_G_exponent"].ends_with("+eps");
        // Just inside and outside of the band edge the limits differ.
        let nudge = if (omega > 1.0) == outer { 1.0 + 1e-9 } else { 1.0 - 1e-9 };
        let edge = row["breakpoint_G_exponent"].contains("eps");
        let (least, most) = class::limits(if edge { omega * nudge } else { omega });
        assert!((least.0 - number(row, "cl1_min")).abs() < 1e-5, "{row:?} {least:?}");
        if number(row, "cl1_max").is_finite() {
            assert!((most.0 - number(row, "cl1_max")).abs() < 1e-5, "{row:?} {most:?}");
        } else {
            assert!(most.0.is_infinite());
        }
    }
}

#[test]
fn the_plain_sixth_order_design_is_the_reference_one() {
    for row in read("meas_09_butter6_response_48k.csv") {
        let band = Band::from_nominal(&row["nominal_Hz"]).unwrap();
        let rate = number(&row, "fs");
        let sections = band_pass(band, rate, 6, Bandwidth::AtEdges).unwrap();
        let wanted = number(&row, "gain_dB");
        let got = 20.0 * response(&sections, Hertz(number(&row, "f_Hz")), rate).norm().log10();
        let tolerance = if wanted > -80.0 { 1e-5 } else { 0.01 };
        assert!((got - wanted).abs() < tolerance, "{row:?}: {got}");
    }
}

#[test]
fn every_band_offered_is_class_1_with_all_folded_images() {
    for rate in [44_100.0, 48_000.0, 96_000.0] {
        for bandwidth in [Bandwidth::AtEdges, Bandwidth::Effective] {
            let plan = Plan::new(rate, bandwidth).unwrap();
            let mut worst = (f64::INFINITY, Band::FIRST);
            for band in plan.bands() {
                let margin = class::margin(&plan, band).unwrap().0;
                let surplus = class::bandwidth_surplus(&plan, band).unwrap().0;
                if margin < worst.0 {
                    worst = (margin, band);
                }
                assert!(margin > 0.0, "{rate} {band:?}: {margin} dB outside of class 1");
                // 5.12: effective bandwidth within 0.4 dB.
                assert!(surplus.abs() < 0.4, "{rate} {band:?}: {surplus}");
                if bandwidth == Bandwidth::Effective {
                    assert!(surplus.abs() < 0.02, "{rate} {band:?}: {surplus}");
                }
            }
            println!("{rate} Hz {bandwidth:?}: worst margin {:.3} dB at {:?}", worst.0, worst.1);
        }
    }
}

#[test]
fn bands_offered_at_every_other_rate_are_class_1_too() {
    for rate in [
        8_000.0, 11_025.0, 12_000.0, 16_000.0, 22_050.0, 24_000.0, 32_000.0, 37_800.0, 64_000.0,
        88_200.0, 176_400.0, 192_000.0, 352_800.0, 384_000.0,
    ] {
        let plan = Plan::new(rate, Bandwidth::AtEdges).unwrap();
        for band in plan.bands() {
            let margin = class::margin(&plan, band).unwrap().0;
            assert!(margin > 0.0, "{rate} {band:?} {:?}: {margin}", plan.place(band));
        }
    }
}

#[test]
fn the_20_khz_band_does_not_fit_into_44_1_khz() {
    // Its upper edge, 22 387 Hz, lies above half the rate.
    let plan = Plan::new(44_100.0, Bandwidth::AtEdges).unwrap();
    assert_eq!(plan.bands().last(), Band::from_nominal("16000"));
    let plan = Plan::new(48_000.0, Bandwidth::AtEdges).unwrap();
    assert_eq!(plan.bands().last(), Some(Band::LAST));
}

#[test]
fn class_verdicts_of_the_usual_orders_at_the_full_rate() {
    // The reason for the eighth order at the top: verdicts of the plain cascade at the full rate.
    for row in read("meas_11_butter_class_verdicts.csv") {
        let order = number(&row, "bandpass_order") as usize;
        let (rate, band) = (number(&row, "fs"), Band::from_nominal(&row["nominal_Hz"]).unwrap());
        let sections = band_pass(band, rate, order, Bandwidth::AtEdges).unwrap();
        let centre = band.centre().0;
        let gain = |f: f64| -20.0 * response(&sections, Hertz(f), rate).norm().max(1e-30).log10();
        let mut worst = f64::INFINITY;
        for i in 0..=4000 {
            let omega = 64f64.powf(f64::from(i) / 4000.0 - 0.5);
            if omega * centre < rate / 2.0 {
                let (least, most) = class::limits(omega);
                let a = gain(omega * centre) - gain(centre);
                worst = worst.min(a - least.0).min(most.0 - a);
            }
        }
        let wanted = number(&row, "cl1_margin_dB");
        assert!((worst - wanted).abs() < 0.005, "{row:?}: {worst}");
    }
}

#[test]
fn clause_5_16_sum_of_neighbours_at_shared_edges() {
    // All bands together against the input, between 25 Hz and 10 kHz: +0.8/−1.8 dB.
    let plan = Plan::new(48_000.0, Bandwidth::AtEdges).unwrap();
    for i in 0..400 {
        let f = Hertz(25.0 * 400f64.powf(f64::from(i) / 399.0));
        let sum: f64 = plan
            .bands()
            .filter_map(|b| class::attenuation(&plan, b, f))
            .map(|a| 10f64.powf(-a.0 / 10.0))
            .sum();
        let db = 10.0 * sum.log10();
        assert!(db < 0.8 && db > -1.8, "{f:?}: {db}");
    }
}
