//! What an analysis must keep to, whatever was recorded.

use std::io::Cursor;

use proptest::prelude::*;
use wythe_bands::{Band, Level, Seconds};
use wythe_recording::calibration::{CalibrationChoice, calibrate};
use wythe_recording::listen_for::{foreign_sound, gain_steps, source_and_background};
use wythe_recording::test_signal::{sine, white};
use wythe_recording::trouble::What;
use wythe_recording::wav::{Depth, to_bytes};
use wythe_recording::{
    Analysis, Author, Bandwidth, ChannelResults, Heard, Kind, Mask, Signal, Timeline, analyse, open,
};

fn heard(rate: u32, channels: usize, depth: Depth, x: &[f64], wish: &Analysis) -> Heard {
    let bytes = to_bytes(rate, channels, depth, x).unwrap();
    analyse(&mut *open(Cursor::new(bytes)).unwrap(), wish, |_| {}).unwrap()
}

fn mono(x: &[f64]) -> ChannelResults {
    heard(48_000, 1, Depth::Int24, x, &Analysis::default()).channels.remove(0)
}

#[test]
fn channels_do_not_know_of_each_other() {
    // The same sound alone, among two, three, five and nine: the same history to the last bit.
    let x = white(3, 0.1, 30_000);
    let alone = mono(&x);
    for channels in [2usize, 3, 5, 9] {
        let mut all = vec![0.0; x.len() * channels];
        for c in 0..channels {
            let other = white(100 + c as u64, 0.2, x.len());
            for n in 0..x.len() {
                all[n * channels + c] = if c + 1 == channels { x[n] } else { other[n] };
            }
        }
        let got = heard(48_000, channels, Depth::Int24, &all, &Analysis::default());
        let last = &got.channels[channels - 1];
        for signal in Signal::all() {
            assert_eq!(
                last.history.energy(signal),
                alone.history.energy(signal),
                "{channels} {signal:?}"
            );
            assert_eq!(last.history.fast(signal), alone.history.fast(signal));
        }
    }
}

#[test]
fn a_tone_reads_its_level_in_its_band_at_every_rate() {
    for rate in [8_000u32, 22_050, 44_100, 48_000, 96_000, 192_000] {
        for band in [Band::HZ_63, Band::HZ_500, Band::HZ_1000] {
            let f = band.centre().0;
            let x = sine(f64::from(rate), f, 0.5, rate as usize * 3);
            let got = heard(rate, 1, Depth::Float32, &x, &Analysis::default());
            let s = got.channels[0].history.statistics(&Mask::spans(vec![(1.0, 3.0)]));
            let wanted = 20.0 * (0.5 / 2f64.sqrt()).log10();
            // Two seconds of 63 Hz are no whole number of frames' periods: a hundredth is fair.
            assert!(
                (s.leq.get(band).unwrap().0 - wanted).abs() < 0.02,
                "{rate} {band:?} {:?}",
                s.leq.get(band)
            );
            assert!((s.lzeq.unwrap().0 - wanted).abs() < 0.005);
        }
    }
}

#[test]
fn narrowed_bands_read_noise_right() {
    // White noise of 0.1: each band holds its share of the power, 2B/rate.
    let x = white(11, 0.1, 48_000 * 60);
    let wish = Analysis { bandwidth: Bandwidth::Effective, ..Analysis::default() };
    let plain = mono(&x).history.statistics(&Mask::spans(vec![(2.0, 59.0)]));
    let narrow = heard(48_000, 1, Depth::Int24, &x, &wish).channels[0]
        .history
        .statistics(&Mask::spans(vec![(2.0, 59.0)]));
    for band in Band::range(Band::HZ_500, Band::HZ_10000) {
        let width = band.upper_edge().0 - band.lower_edge().0;
        let truth = 10.0 * (0.01 * width / 24_000.0).log10();
        // Statistical: 4.34/√(B T) three times over.
        let chance = 3.0 * 4.34 / (width * 57.0).sqrt();
        let off = narrow.leq.get(band).unwrap().0 - truth;
        assert!(off.abs() < chance + 0.02, "{band:?} {off}");
        let surplus = plain.leq.get(band).unwrap().0 - narrow.leq.get(band).unwrap().0;
        assert!((surplus - 0.19).abs() < 0.03, "{band:?} {surplus}");
    }
}

#[test]
fn a_long_recording_keeps_its_memory_and_its_levels() {
    let x = white(5, 0.1, 8_000 * 120);
    let small = Analysis { memory: 64 * 320, ..Analysis::default() };
    let long = heard(8_000, 1, Depth::Int24, &x, &small);
    let short = heard(8_000, 1, Depth::Int24, &x, &Analysis::default());
    let (long, short) = (&long.channels[0].history, &short.channels[0].history);
    assert!(long.rows() <= 66 && short.rows() == 1200, "{} {}", long.rows(), short.rows());
    assert!((long.length().0 - 120.0).abs() < 1e-6);
    let (a, b) = (long.statistics(&Mask::everything()), short.statistics(&Mask::everything()));
    assert!((a.lzeq.unwrap().0 - b.lzeq.unwrap().0).abs() < 1e-4);
    assert!((a.lafmax.unwrap().0 - b.lafmax.unwrap().0).abs() < 1e-4);
    assert!((a.used.0 - 120.0).abs() < 1e-6);
}

#[test]
fn clipping_flat_tops_and_dropouts_are_found_and_clean_sound_is_not() {
    // A sine twice as large as full scale, between 1 and 2 s.
    let mut x = sine(48_000.0, 200.0, 0.3, 48_000 * 4);
    for v in &mut x[48_000..96_000] {
        *v = (*v * 6.0).clamp(-1.0, 1.0);
    }
    let got = mono(&x);
    let clipped: Vec<_> =
        got.troubles.iter().filter(|t| matches!(t.what, What::Clipped { .. })).collect();
    assert_eq!(clipped.len(), 1, "{:?}", got.troubles);
    assert!((clipped[0].from.0 - 1.0).abs() < 0.01 && (clipped[0].to.0 - 2.0).abs() < 0.01);
    // Overloaded before the converter.
    let flat: Vec<f64> =
        sine(48_000.0, 200.0, 0.9, 96_000).iter().map(|v| v.clamp(-0.5, 0.5)).collect();
    let got = mono(&flat);
    assert!(
        got.troubles
            .iter()
            .any(|t| matches!(&t.what, What::FlatTops { at, .. } if (at.0 + 6.02).abs() < 0.1)),
        "{:?}",
        got.troubles
    );
    // Lost samples.
    let mut gap = white(1, 0.1, 96_000);
    gap[40_000..40_480].fill(0.0);
    let got = mono(&gap);
    assert_eq!(got.troubles.len(), 1, "{:?}", got.troubles);
    assert!(got.troubles[0].what == What::Dropout);
    assert!((got.troubles[0].from.0 - 40_000.0 / 48_000.0).abs() < 1e-3);
    // Clean sound of many kinds: slow and soft sines have long equal tops in 16 bit.
    for (f, a) in [(20.0, 0.9), (50.0, 0.01), (31.5, 0.1), (1000.0, 0.001)] {
        let x = sine(48_000.0, f, a, 96_000);
        let got = heard(48_000, 1, Depth::Int16, &x, &Analysis::default());
        assert!(got.channels[0].troubles.is_empty(), "{f} {a} {:?}", got.channels[0].troubles);
    }
    let mut faded = white(9, 0.1, 96_000);
    faded.extend(vec![0.0; 48_000]);
    assert!(mono(&faded).troubles.is_empty());
}

#[test]
fn calibration_rules() {
    let tone = |a: f64, seconds: usize| sine(48_000.0, 1000.0, a, 48_000 * seconds);
    let quiet = white(2, 0.001, 48_000 * 2);
    let join = |parts: &[Vec<f64>]| parts.concat();
    let choice = CalibrationChoice::Tone { stated: Level(94.0) };
    // Before and after, 0.2 dB apart: the mean.
    let after = 0.1 * 10f64.powf(0.2 / 20.0);
    let got = mono(&join(&[tone(0.1, 5), quiet.clone(), tone(after, 5)]));
    let c = got.calibrate(choice).unwrap();
    assert_eq!(c.tones, 2);
    assert!((c.drift.unwrap().0 - 0.2).abs() < 0.01);
    assert!((c.drift_uncertainty.0 - 0.2 / 12f64.sqrt()).abs() < 0.005);
    assert!(c.sensitivity.is_some() && c.remarks.is_empty());
    // 1 dB apart: refused, not averaged.
    let got = mono(&join(&[tone(0.1, 5), quiet.clone(), tone(0.1122, 5)]));
    let c = got.calibrate(choice).unwrap();
    assert!(c.sensitivity.is_none() && c.remarks.iter().any(|r| r.code == "recording::drift"));
    // None at all, too short, off frequency: relative only.
    for sound in
        [quiet.clone(), join(&[tone(0.1, 2), quiet.clone()]), sine(48_000.0, 1030.0, 0.1, 240_000)]
    {
        let c = mono(&sound).calibrate(choice).unwrap();
        assert!(c.sensitivity.is_none());
        assert!(c.remarks.iter().any(|r| r.code == "recording::relative-only"));
    }
    // 250 Hz is one too.
    let got = mono(&sine(48_000.0, 250.0, 0.1, 240_000));
    assert!(got.calibrate(choice).unwrap().sensitivity.is_some());
    assert!(calibrate(&[], CalibrationChoice::Tone { stated: Level(f64::NAN) }, 1).is_err());
}

#[test]
fn source_background_talk_and_gain_are_told_apart() {
    // Loud noise 5 to 25 s and 40 to 60 s; the receiver hears 40 dB less over a steady noise, and a
    // talker at 45 to 48 s that the source does not know of. Gain of a third channel: −6 dB at 30 s.
    let rate = 16_000;
    let n = rate * 70;
    let (a, b, c) = (white(1, 1.0, n), white(2, 1.0, n), white(3, 1.0, n));
    let mut x = Vec::with_capacity(3 * n);
    for k in 0..n {
        let t = k as f64 / rate as f64;
        let on = (5.0..25.0).contains(&t) || (40.0..60.0).contains(&t);
        let s = if on { 0.1 * a[k] } else { 0.0005 * a[k] };
        let talk = if (45.0..48.0).contains(&t) { 0.01 * b[k] } else { 0.0 };
        let gain = if t < 30.0 { 1.0 } else { 0.5 };
        x.extend([s, 0.01 * s + 0.0003 * c[k] + talk, gain * 0.01 * c[(k + 77) % n]]);
    }
    let got = heard(rate as u32, 3, Depth::Int24, &x, &Analysis::default());
    let h: Vec<_> = got.channels.iter().map(|c| &c.history).collect();
    let mut timeline = Timeline::new();
    let remarks = source_and_background(h[0], &mut timeline);
    assert!(remarks.is_empty(), "{remarks:?}");
    let (source, background) = (timeline.mask(&Kind::Source), timeline.mask(&Kind::Background));
    assert!(source.holds(7.0, 23.0) && source.holds(42.0, 58.0), "{timeline:?}");
    assert!(background.holds(28.0, 38.0) && source.and(&background).is_empty());
    let excluded = foreign_sound(h[0], h[1], &source, &mut timeline);
    assert!((2.5..6.0).contains(&excluded.0), "{excluded:?}");
    assert!(timeline.excluded().holds(45.2, 47.8));
    let steps = gain_steps(h[2], &h[..2]);
    assert_eq!(steps.len(), 1, "{steps:?}");
    assert!((steps[0].from.0 - 30.0).abs() < 1.5, "{steps:?}");
    assert!(matches!(steps[0].what, What::GainStep(by) if (by.0 + 6.02).abs() < 0.5));
    // What the user says wins, and what is excluded stays excluded until lifted.
    timeline.add(Seconds(26.0), Seconds(39.0), Kind::Source, Author::User);
    assert!(timeline.mask(&Kind::Source).holds(27.0, 38.0));
    timeline.lift(Seconds(0.0), Seconds(70.0));
    assert!(timeline.excluded().is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// Every length, also shorter than a frame: all of it is counted, and no level is above its peak.
    #[test]
    fn all_time_is_counted(n in 1usize..20_000, seed in any::<u64>(), rate in 0..9usize) {
        let rate = [2_000u32, 3_001, 5_000, 8_000, 11_025, 22_050, 44_100, 48_000, 96_000][rate];
        let x = white(seed, 0.1, n);
        let got = heard(rate, 1, Depth::Float32, &x, &Analysis::default());
        let h = &got.channels[0].history;
        let seconds = n as f64 / f64::from(rate);
        prop_assert!((h.length().0 - seconds).abs() < 1e-9);
        prop_assert_eq!(h.rows(), ((n as u64 - 1) * 10 / u64::from(rate) + 1) as usize);
        let s = h.statistics(&Mask::everything());
        // At rates that ten does not divide, frames begin at the next whole sample.
        prop_assert!((s.used.0 - seconds).abs() <= 1.0 / f64::from(rate));
        let mean = x.iter().map(|v| f64::from(*v as f32).powi(2)).sum::<f64>() / n as f64;
        // Rows count as a tenth of a second each, a sample more or less.
        let limit = if rate.is_multiple_of(10) { 1e-4 } else { 0.05 };
        prop_assert!((s.lzeq.unwrap().0 - 10.0 * mean.log10()).abs() < limit);
        prop_assert!(s.lzpeak.unwrap() >= s.lzeq.unwrap());
    }

    #[test]
    fn masks_are_sets(a in proptest::collection::vec((0.0..100.0f64, 0.0..100.0f64), 0..8),
                      b in proptest::collection::vec((0.0..100.0f64, 0.0..100.0f64), 0..8)) {
        let (a, b) = (Mask::spans(a), Mask::spans(b));
        let length = |m: &Mask| m.as_spans().iter().map(|(f, t)| t - f).sum::<f64>();
        let (both, rest) = (a.and(&b), a.without(&b));
        prop_assert!((length(&both) + length(&rest) - length(&a)).abs() < 1e-9);
        prop_assert!(both.and(&rest).is_empty());
    }
}
