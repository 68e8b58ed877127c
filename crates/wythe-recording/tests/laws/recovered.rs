//! What came through, recovered from made signals whose truth is known.

use std::io::Cursor;

use wythe_bands::{Band, Seconds};
use wythe_recording::alignment::Alignment;
use wythe_recording::follow::follow;
use wythe_recording::joined::{Joined, align_recordings};
use wythe_recording::recover::{Wish, recover};
use wythe_recording::test_signal::{SplitMix64, white};
use wythe_recording::wav::{Depth, to_bytes};
use wythe_recording::{Analysis, Mask, RecordingError, Samples, analyse, open};

const RATE: u32 = 16_000;

fn interleave(channels: &[Vec<f64>]) -> Vec<f64> {
    (0..channels[0].len()).flat_map(|n| channels.iter().map(move |c| c[n])).collect()
}

/// A room: noise dying away by 60 dB in `t`, unit energy, convolved by direct sum over few taps.
fn room(x: &[f64], t: f64, seed: u64, delay: usize) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    let taps = (t * f64::from(RATE)) as usize;
    // Every sixteenth tap is enough for a dense answer and keeps the sum short.
    let places: Vec<(usize, f64)> = (0..taps)
        .step_by(16)
        .map(|n| {
            let jitter = (r.uniform() * 16.0) as usize;
            (n + jitter + delay, r.gauss() * (-6.907 * n as f64 / taps as f64).exp())
        })
        .collect();
    let energy: f64 = places.iter().map(|p| p.1 * p.1).sum();
    let mut out = vec![0.0; x.len()];
    for (n, a) in places {
        let a = a / energy.sqrt();
        for k in n..x.len() {
            out[k] += a * x[k - n];
        }
    }
    out
}

/// Strokes: noise under an envelope that falls and is struck again.
fn strokes(seed: u64, samples: usize) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    let mut envelope = 0.0f64;
    let mut next = 0;
    (0..samples)
        .map(|n| {
            if n == next {
                envelope += 0.3 + 0.7 * r.uniform();
                next = n + (f64::from(RATE) * (0.1 + 0.5 * r.uniform())) as usize;
            }
            envelope *= (-1.0 / (0.12 * f64::from(RATE))).exp();
            0.2 * envelope * r.gauss()
        })
        .collect()
}

fn recovered(
    bytes: &[u8],
    references: &[usize],
    receivers: &[usize],
    segment: f64,
) -> Vec<wythe_recording::recover::ChannelRecovery> {
    let wish = Wish {
        references: references.to_vec(),
        receivers: receivers.to_vec(),
        mask: Mask::everything(),
        segment: Seconds(segment),
        largest_delay: Seconds(0.1),
    };
    recover(&mut || open(Cursor::new(bytes)), &wish, |_| {}).unwrap()
}

fn level(x: &[f64]) -> f64 {
    10.0 * (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).log10()
}

/// Level of a signal per band, by the program's own bands (their agreement with the standard is
/// tested elsewhere).
fn bands(x: &[f64]) -> wythe_bands::Spectrum<f64> {
    let bytes = to_bytes(RATE, 1, Depth::Float32, x).unwrap();
    let heard = analyse(&mut *open(Cursor::new(&bytes)).unwrap(), &Analysis::default(), |_| {});
    heard.unwrap().channels[0].history.statistics(&Mask::everything()).leq.map(|_, l| l.0)
}

#[test]
fn drums_come_back_out_of_noise_25_decibels_above_them_nine_times_in_ten() {
    let n = RATE as usize * 180;
    let (mut inside, mut all) = (0, 0);
    let (mut below, mut above) = (0, 0);
    let mut deepest: f64 = 0.0;
    for (case, depth) in [-10.0, -15.0, -20.0, -25.0].into_iter().enumerate() {
        let seed = 40 + 10 * case as u64;
        let x = strokes(seed, n);
        let through = room(&x, 0.4, seed + 1, 300);
        let noise = white(seed + 2, 10f64.powf((level(&through) - depth) / 20.0), n);
        let y: Vec<f64> = through.iter().zip(&noise).map(|(a, b)| a + b).collect();
        let bytes = to_bytes(RATE, 2, Depth::Float32, &interleave(&[x, y.clone()])).unwrap();
        let got = recovered(&bytes, &[1], &[2], 1.0);
        let delay = got[0].delay;
        assert!(delay.clarity > 6.0 && delay.samples > 250.0, "{depth} {delay:?}");
        let (truth, whole) = (bands(&through), bands(&y));
        for (band, r) in got[0].bands.within(Band::HZ_100, Band::HZ_5000).iter() {
            let share = truth.get(band).unwrap() - whole.get(band).unwrap();
            if let Some(found) = r.share {
                all += 1;
                let half = 1.645 * r.deviation.unwrap().0;
                inside += usize::from((found.0 - share).abs() <= half);
                // The limits as they are printed.
                below += usize::from(r.at_most.0 < share);
                above += usize::from(r.at_least.is_none_or(|l| l.0 > share));
                deepest = deepest.min(share);
                assert!(
                    (found.0 - share).abs() < 4.0 * half.max(0.3),
                    "{depth} {band:?} {found:?}"
                );
            }
            // Whatever was or was not seen, the upper limit must not lie below the truth by much.
            assert!(r.at_most.0 > share - 1.5, "{depth} {band:?}: {:?} {share}", r.at_most);
        }
    }
    println!(
        "{inside} of {all} intervals hold the truth; {below} times the upper limit lies under it, {above} \
         times the lower one over it; deepest {deepest:.1} dB"
    );
    assert!(all >= 40, "{all}");
    assert!(inside * 100 >= all * 87, "{inside} of {all}");
    assert!((below + above) * 10 <= all, "{below} and {above} of {all}");
    assert!(deepest < -24.0, "{deepest}");
}

#[test]
fn without_any_way_through_nothing_is_found() {
    let n = RATE as usize * 60;
    let x = strokes(3, n);
    let y = white(99, 0.1, n);
    let bytes = to_bytes(RATE, 2, Depth::Float32, &interleave(&[x, y])).unwrap();
    let got = recovered(&bytes, &[1], &[2], 0.5);
    let found = got[0].bands.iter().filter(|(_, r)| r.share.is_some()).count();
    // Three standard deviations: one false alarm in some hundred bands.
    assert!(found <= 1, "{found} of {}", got[0].bands.len());
    for (band, r) in got[0].bands.iter() {
        assert!(r.at_most.0 < -9.0, "{band:?} {r:?}");
    }
}

#[test]
fn a_microphone_in_the_reverberant_field_gives_a_limit_and_not_a_value() {
    // Both hear the drums through long answers of their own: a short segment cannot tell.
    let n = RATE as usize * 120;
    let x = strokes(7, n);
    let (a, b) = (room(&x, 1.5, 71, 20), room(&x, 1.5, 72, 300));
    let noise = white(73, 10f64.powf((level(&b) + 3.0) / 20.0), n);
    let y: Vec<f64> = b.iter().zip(&noise).map(|(a, b)| a + b).collect();
    let bytes = to_bytes(RATE, 2, Depth::Float32, &interleave(&[a, y.clone()])).unwrap();
    let got = recovered(&bytes, &[1], &[2], 0.25);
    let (truth, whole) = (bands(&b), bands(&y));
    for (band, r) in got[0].bands.within(Band::HZ_125, Band::HZ_5000).iter() {
        let share = truth.get(band).unwrap() - whole.get(band).unwrap();
        // The coherent part is too small by decibels, and says so.
        if let Some(found) = r.share {
            assert!((found.0 - share).abs() < 2.0, "{band:?} {found:?} against {share}: {r:?}");
        }
        if let Some(least) = r.at_least {
            assert!(least.0 < share + 0.5, "{band:?} {r:?} {share}");
        }
    }
    assert!(got[0].bands.iter().any(|(_, r)| !r.settled));
}

#[test]
fn two_players_need_two_microphones() {
    let n = RATE as usize * 90;
    let (drum, bass) = (strokes(11, n), white(12, 0.05, n));
    let (d, b) = (room(&drum, 0.2, 13, 100), room(&bass, 0.2, 14, 140));
    let through: Vec<f64> = d.iter().zip(&b).map(|(a, b)| a + b).collect();
    let noise = white(15, 10f64.powf((level(&through) + 10.0) / 20.0), n);
    let y: Vec<f64> = through.iter().zip(&noise).map(|(a, b)| a + b).collect();
    // Each microphone hears a little of the other player.
    let m1: Vec<f64> = drum.iter().zip(&bass).map(|(a, b)| a + 0.1 * b).collect();
    let m2: Vec<f64> = drum.iter().zip(&bass).map(|(a, b)| 0.1 * a + b).collect();
    let bytes = to_bytes(RATE, 3, Depth::Float32, &interleave(&[m1, m2, y.clone()])).unwrap();
    let one = recovered(&bytes, &[1], &[3], 0.5);
    let both = recovered(&bytes, &[1, 2], &[3], 0.5);
    let (truth, whole, first) = (bands(&through), bands(&y), bands(&d));
    let (mut missed, mut off) = (0.0, 0.0);
    let mut count = 0.0;
    for (band, r) in both[0].bands.within(Band::HZ_500, Band::HZ_4000).iter() {
        let share = truth.get(band).unwrap() - whole.get(band).unwrap();
        let (Some(two), Some(alone)) = (r.share, one[0].bands.get(band).and_then(|r| r.share))
        else {
            continue;
        };
        count += 1.0;
        off += (two.0 - share).abs();
        missed += share - alone.0;
        // What only the first microphone explains is about what the first player sent.
        let only = both[0].by_reference[0].get(band).unwrap().only.0;
        let sent = first.get(band).unwrap() - whole.get(band).unwrap();
        assert!((only - sent).abs() < 2.5, "{band:?} {only} {sent}");
    }
    assert!(count >= 10.0 && off / count < 0.6, "{count} {off}");
    // One microphone alone misses the other player: about 3 dB where both are as loud.
    assert!(missed / count > 0.8, "{}", missed / count);
}

#[test]
fn levels_that_follow_the_source_are_found_without_phase() {
    // The source microphone in the reverberant field, six decibels under the ambient.
    let n = RATE as usize * 180;
    let (mut inside, mut all) = (0, 0);
    for (seed, depth) in [(21, -3.0), (22, -6.0), (23, -10.0), (24, -6.0), (25, -10.0)] {
        let mut x = strokes(seed, n);
        // Loud and soft passages of some seconds, as music has.
        for (k, v) in x.iter_mut().enumerate() {
            let t = k as f64 / f64::from(RATE);
            *v *= 10f64.powf(0.5 * (t * 0.9).sin() - 0.2);
        }
        let (a, b) = (room(&x, 0.9, seed + 71, 20), room(&x, 0.6, seed + 72, 300));
        let noise = white(seed + 73, 10f64.powf((level(&b) - depth) / 20.0), n);
        let y: Vec<f64> = b.iter().zip(&noise).map(|(a, b)| a + b).collect();
        let bytes = to_bytes(RATE, 2, Depth::Float32, &interleave(&[a, y.clone()])).unwrap();
        let heard = analyse(&mut *open(Cursor::new(&bytes)).unwrap(), &Analysis::default(), |_| {})
            .unwrap();
        let all_time = Mask::everything();
        let got =
            follow(&[&heard.channels[0].history], &heard.channels[1].history, &all_time, &all_time);
        let (truth, whole) = (bands(&b), bands(&y));
        for (band, f) in got.within(Band::HZ_125, Band::HZ_5000).iter() {
            let share = truth.get(band).unwrap() - whole.get(band).unwrap();
            let Some(found) = f.share else { continue };
            all += 1;
            inside += usize::from((found.0 - share).abs() <= 1.645 * f.deviation.unwrap().0);
            assert!((found.0 - share).abs() < 4.0, "{depth} {band:?} {found:?} {share} {f:?}");
        }
    }
    println!("{inside} of {all} followed levels hold the truth");
    assert!(all >= 40, "{all}");
    assert!(inside * 100 >= all * 85, "{inside} of {all}");
}

#[test]
fn a_source_that_does_not_come_through_has_a_limit_and_no_value() {
    let n = RATE as usize * 90;
    let x = strokes(31, n);
    let y = white(32, 0.1, n);
    let bytes = to_bytes(RATE, 2, Depth::Float32, &interleave(&[x, y])).unwrap();
    let heard =
        analyse(&mut *open(Cursor::new(&bytes)).unwrap(), &Analysis::default(), |_| {}).unwrap();
    let all = Mask::everything();
    let [a, b] = [0, 1].map(|k| &heard.channels[k].history);
    let got = follow(&[a], b, &all, &all);
    assert!(got.len() >= 10);
    let found = got.iter().filter(|(_, f)| f.share.is_some() || f.at_least.is_some()).count();
    assert!(found <= 2, "{found} of {}", got.len());
    for (band, f) in got.iter() {
        // Nothing comes through, yet nobody can know that it is less than what the noise hides.
        assert!((-40.0..-3.0).contains(&f.at_most.0), "{band:?} {f:?}");
    }
}

/// The same sound on a second recorder: late by `offset`, its clock off by `ppm`; every sample by the
/// closed form, so nothing is owed to any resampler.
fn on_another_clock(partials: &[[f64; 3]], offset: f64, ppm: f64, samples: usize) -> Vec<f64> {
    (0..samples)
        .map(|n| {
            let t = (n as f64 / f64::from(RATE) - offset) * (1.0 + ppm * 1e-6);
            // No period of its own within the recording.
            let envelope = 0.5 + 0.24 * ((t * 1.7).sin() + (t * (0.4 + 0.02 * t)).sin());
            envelope * partials.iter().map(|[f, a, p]| a * (f * t + p).sin()).sum::<f64>()
        })
        .collect()
}

#[test]
fn two_recorders_become_one() {
    let mut r = SplitMix64::new(5);
    let partials: Vec<[f64; 3]> = (0..150)
        .map(|_| {
            [
                std::f64::consts::TAU * (80.0 + 3000.0 * r.uniform()),
                0.02,
                std::f64::consts::TAU * r.uniform(),
            ]
        })
        .collect();
    let n = RATE as usize * 90;
    let (offset, ppm) = (7.321, 45.0);
    let x = on_another_clock(&partials, 0.0, 0.0, n);
    let y = on_another_clock(&partials, offset, ppm, n);
    let files: Vec<Vec<u8>> =
        [&x, &y].iter().map(|s| to_bytes(RATE, 1, Depth::Float32, s).unwrap()).collect();
    let heard: Vec<_> = files
        .iter()
        .map(|b| {
            analyse(&mut *open(Cursor::new(b)).unwrap(), &Analysis::default(), |_| {}).unwrap()
        })
        .collect();
    let mut told = Vec::new();
    let found = align_recordings(
        [&heard[0].channels[0].history, &heard[1].channels[0].history],
        &mut *open(Cursor::new(&files[0])).unwrap(),
        &mut *open(Cursor::new(&files[1])).unwrap(),
        [1, 1],
        |share| told.push(share),
    )
    .unwrap();
    assert!(told.len() > 3 && told[0] == 0.0 && told.last() == Some(&1.0), "{told:?}");
    assert!(told.windows(2).all(|w| w[0] <= w[1]), "{told:?}");
    assert!((found.ppm - ppm).abs() < 0.5, "{found:?}");
    assert!((found.offset.0 - offset).abs() * f64::from(RATE) < 0.5, "{found:?}");
    // Read as one, in blocks of odd sizes.
    let mut joined = Joined::new(
        open(Cursor::new(&files[0])).unwrap(),
        open(Cursor::new(&files[1])).unwrap(),
        Alignment { offset: Seconds(offset), ppm, ..found },
    )
    .unwrap();
    let (from, to) = joined.common();
    assert!(from == 0.0 && (to - (90.0 - offset) * (1.0 + ppm * 1e-6)).abs() < 1e-6, "{from} {to}");
    let mut at = 0usize;
    let mut worst: f64 = 0.0;
    let mut sizes = [333usize, 4096, 1, 10_000].into_iter().cycle();
    loop {
        let mut block = vec![0.0; 2 * sizes.next().unwrap()];
        let frames = joined.read(&mut block).unwrap();
        if frames == 0 {
            break;
        }
        for k in 0..frames {
            let t = (at + k) as f64 / f64::from(RATE);
            assert_eq!(block[2 * k], f64::from(x[at + k] as f32));
            if t > 0.1 && t < to - 0.1 {
                worst = worst.max((block[2 * k + 1] - x[at + k]).abs());
            }
        }
        at += frames;
    }
    assert_eq!(at, n);
    assert!(worst < 1e-3, "{worst}");
}

#[test]
fn a_clock_that_jumps_is_named() {
    let mut r = SplitMix64::new(6);
    let x: Vec<f64> = {
        let mut level = 1.0;
        (0..RATE as usize * 100)
            .map(|n| {
                if n % 4000 == 0 {
                    level = 0.05 + 0.4 * r.uniform();
                }
                level * r.gauss() * 0.3
            })
            .collect()
    };
    // Twenty milliseconds are missing from the second at 60 s.
    let mut y = x.clone();
    y.drain(60 * RATE as usize..60 * RATE as usize + 320);
    let files: Vec<Vec<u8>> =
        [&x, &y].iter().map(|s| to_bytes(RATE, 1, Depth::Int24, s).unwrap()).collect();
    let heard: Vec<_> = files
        .iter()
        .map(|b| {
            analyse(&mut *open(Cursor::new(b)).unwrap(), &Analysis::default(), |_| {}).unwrap()
        })
        .collect();
    let error = align_recordings(
        [&heard[0].channels[0].history, &heard[1].channels[0].history],
        &mut *open(Cursor::new(&files[0])).unwrap(),
        &mut *open(Cursor::new(&files[1])).unwrap(),
        [1, 1],
        |_| {},
    )
    .unwrap_err();
    assert!(matches!(error, RecordingError::NotAligned(_)), "{error}");
    let text = error.to_string();
    assert!(text.contains("jumps by -20.0 ms"), "{text}");
}
