//! What happened when, read off the histories: source on, background, a changed gain, sound that
//! belongs to the receiving room alone.
//!
//! Thresholds are this program's own (common practice, no source); what is found is offered to the
//! user, who may change it, and never cut silently.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, LevelDifference, Remark, Seconds};

use crate::bank::Signal;
use crate::history::History;
use crate::timeline::{Author, Kind, Mask, Timeline};
use crate::trouble::{Trouble, What};

/// Shortest stretch of source or background that is offered, s.
const SHORTEST: f64 = 3.0;
/// Source and background must lie this far apart to be told from each other, dB.
const APART: f64 = 10.0;
/// Time the room takes to fall silent behind the source, left out between the two, s.
const BETWEEN: f64 = 2.0;

fn level(energy: f32) -> f64 {
    10.0 * f64::from(energy).max(1e-30).log10()
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    values.sort_by(f64::total_cmp);
    Some(values[values.len() / 2])
}

/// Marks where the source was on and where it was off, from the history of a microphone beside the
/// source, and says what it could not tell. Calibration and excluded time is left alone.
///
/// The A-weighted level, smoothed over a second, falls into two heaps; the threshold is where they
/// separate best (least variance inside the heaps). Heaps closer than 10 dB are not told apart.
pub fn source_and_background(history: &History, timeline: &mut Timeline) -> Vec<Remark> {
    let energy = history.energy(Signal::Weighted(Weighting::A));
    let step = history.row_length().0;
    let busy = timeline.mask(&Kind::Calibration);
    let free: Vec<bool> = (0..history.rows())
        .map(|row| {
            let (from, to) = history.row_time(row);
            let here = Mask::spans(vec![(from, to)]);
            here.and(&busy).is_empty() && here.and(&timeline.excluded()).is_empty()
        })
        .collect();
    // Mean over a second, so that the gaps between two drum beats are not the end of the music.
    let half = ((0.5 / step).round() as usize).max(1);
    let smooth: Vec<f64> = (0..energy.len())
        .map(|k| {
            let part = &energy[k.saturating_sub(half)..(k + half + 1).min(energy.len())];
            let sum: f64 = part.iter().map(|e| f64::from(*e)).sum();
            10.0 * (sum / part.len() as f64).max(1e-30).log10()
        })
        .collect();
    let mut sorted: Vec<f64> =
        smooth.iter().zip(&free).filter(|(_, f)| **f).map(|(l, _)| *l).collect();
    sorted.sort_by(f64::total_cmp);
    let Some((threshold, apart)) = two_heaps(&sorted) else {
        return vec![Remark::new(
            "recording::too-short",
            "the recording is too short to tell source from background by itself; say when the \
             source was on",
        )];
    };
    if apart < APART {
        return vec![Remark::new(
            "recording::one-level",
            format!(
                "loud and quiet parts differ by only {apart:.0} dB: source and background cannot be \
                 told apart; say when the source was on"
            ),
        )];
    }
    let mut remarks = Vec::new();
    let mut found = [false; 2];
    let mut from = 0;
    for row in 1..=smooth.len() {
        let same = row < smooth.len()
            && free[row] == free[from]
            && (smooth[row] > threshold) == (smooth[from] > threshold);
        if same {
            continue;
        }
        let loud = smooth[from] > threshold;
        let (begin, end) = (history.row_time(from).0, history.row_time(row - 1).1);
        // The smoothing reaches half a second beyond; the room rings on behind the source.
        let (begin, end) =
            if loud { (begin + 0.6, end - 0.6) } else { (begin + BETWEEN, end - 0.6) };
        if free[from] && end - begin >= SHORTEST {
            let kind = if loud { Kind::Source } else { Kind::Background };
            found[usize::from(loud)] |=
                timeline.add(Seconds(begin), Seconds(end), kind, Author::Found);
        }
        from = row;
    }
    for (there, word) in found.into_iter().zip(["background", "source"]) {
        if !there {
            remarks.push(Remark::new(
                "recording::not-found",
                format!("no stretch of {word} of at least {SHORTEST} s was found; say when it was"),
            ));
        }
    }
    remarks
}

/// Best split of sorted values into two heaps: threshold and distance of their means.
fn two_heaps(sorted: &[f64]) -> Option<(f64, f64)> {
    if sorted.len() < 20 {
        return None;
    }
    let total: f64 = sorted.iter().sum();
    let n = sorted.len() as f64;
    let (mut below, mut best) = (0.0, (0.0, 0.0, 0.0));
    // A heap of less than 2 % is chance.
    let least = (sorted.len() / 50).max(2);
    for (k, l) in sorted.iter().enumerate().take(sorted.len() - least) {
        below += l;
        let count = (k + 1) as f64;
        if k + 1 < least {
            continue;
        }
        let (low, high) = (below / count, (total - below) / (n - count));
        let between = count * (n - count) * (high - low).powi(2);
        if between > best.0 {
            best = (between, (low + high) / 2.0, high - low);
        }
    }
    (best.0 > 0.0).then_some((best.1, best.2))
}

/// Soft and loud moments, and near and far ones, must step alike to this, dB.
const STEP_AGREES: f64 = 1.5;

/// A change of the gain of one channel: every band steps by the same amount at the same moment and
/// stays there, in its background as in its sound, while the other channels do not.
///
/// Levels of 5 s before and behind each second are compared in all bands; a step is believed when
/// it is at least 1.5 dB, the bands agree within 1 dB (median deviation), soft and loud moments step
/// alike, it is the same 5 s further away, and the others of `same_time` did not move with it. Where the
/// channel keeps to another one, the ratio of the two is looked at as well, over 10 s.
pub fn gain_steps(history: &History, same_time: &[&History]) -> Vec<Trouble> {
    let step = history.row_length().0;
    let window = (5.0 / step).round() as usize;
    let stride = (1.0 / step).round().max(1.0) as usize;
    if window < 5 {
        return Vec::new();
    }
    let bands: Vec<Band> = history
        .held()
        .iter()
        .copied()
        .filter(|b| (Band::HZ_100..=Band::HZ_10000).contains(b))
        .collect();
    if bands.len() < 8 {
        return Vec::new();
    }
    // Quantiles of two windows: a gain moves the pauses between two strokes as much as the strokes.
    let change = |h: &History, band: Band, at: usize, from: usize| -> Option<[f64; 3]> {
        let e = h.energy(Signal::Band(band));
        if at < from + window || at + from + window > e.len() {
            return None;
        }
        let of = |part: &[f32]| -> [f64; 3] {
            let mut levels: Vec<f64> = part.iter().map(|e| level(*e)).collect();
            levels.sort_by(f64::total_cmp);
            [levels.len() / 10, levels.len() / 2, levels.len() * 9 / 10].map(|k| levels[k])
        };
        let (after, before) =
            (of(&e[at + from..at + from + window]), of(&e[at - from - window..at - from]));
        Some([0, 1, 2].map(|k| after[k] - before[k]))
    };
    let judge = |h: &History, at: usize| -> Option<(f64, f64)> {
        let all: Vec<[f64; 3]> = bands.iter().filter_map(|b| change(h, *b, at, 0)).collect();
        let of = |k: usize| median(all.iter().map(|c| c[k]).collect());
        let [low, middle, high] = [of(0)?, of(1)?, of(2)?];
        let spread = median(all.iter().map(|c| (c[1] - middle).abs()).collect())?;
        // It has to stay: five seconds further away on both sides the step is the same.
        let later: Vec<f64> =
            bands.iter().filter_map(|b| change(h, *b, at, window)).map(|c| c[1]).collect();
        let stays = median(later).is_none_or(|l| (l - middle).abs() < STEP_AGREES);
        let even = (low - middle).abs().max((high - middle).abs()) < STEP_AGREES;
        Some((middle, if stays && even { spread } else { f64::INFINITY }))
    };
    // Where the channel hears the same as another one, the ratio of the two tells more than either.
    let against = |other: &History, at: usize| -> Option<(f64, f64)> {
        let wide = 2 * window;
        let mut steps = Vec::new();
        let mut moved = Vec::new();
        for band in &bands {
            let (e, o) = (history.energy(Signal::Band(*band)), other.energy(Signal::Band(*band)));
            if at < wide || at + wide > e.len().min(o.len()) {
                return None;
            }
            let side = |range: std::ops::Range<usize>| -> Option<(f64, f64, f64)> {
                let ratio: Vec<f64> = range.clone().map(|k| level(e[k]) - level(o[k])).collect();
                let middle = median(ratio.clone())?;
                let off = median(ratio.iter().map(|r| (r - middle).abs()).collect())?;
                Some((middle, off, median(range.map(|k| level(o[k])).collect())?))
            };
            let (before, after) = (side(at - wide..at)?, side(at..at + wide)?);
            // It has to keep to the other on both sides, or it hears something else.
            if before.1.max(after.1) < STEP_AGREES {
                steps.push(after.0 - before.0);
                moved.push(after.2 - before.2);
            }
        }
        if steps.len() * 2 < bands.len() {
            return None;
        }
        let middle = median(steps.clone())?;
        let spread = median(steps.iter().map(|s| (s - middle).abs()).collect())?;
        // A source that stops parts the two as well, and then it is the other one that moved.
        let source = median(moved)?;
        (source.abs() < 0.7 * middle.abs()).then_some((middle, spread))
    };
    let mut out: Vec<Trouble> = Vec::new();
    let mut best: Option<(usize, f64)> = None;
    let mut finish = |best: &mut Option<(usize, f64)>| {
        if let Some((at, by)) = best.take() {
            let t = Seconds(at as f64 * step);
            out.push(Trouble { from: t, to: t, what: What::GainStep(LevelDifference(by)) });
        }
    };
    let enough = |(by, spread): &(f64, f64)| by.abs() >= 1.5 && *spread <= 1.0;
    for at in (window..history.rows().saturating_sub(window)).step_by(stride) {
        let stepped = judge(history, at).filter(enough);
        // A source that is turned up does so in every channel.
        let alone = stepped
            .filter(|(by, _)| {
                !same_time
                    .iter()
                    .any(|h| judge(h, at).is_some_and(|(b, _)| b * by.signum() > 0.5 * by.abs()))
            })
            .or_else(|| {
                // Seen against every channel that it keeps to, and there is one.
                let all: Vec<_> = same_time.iter().filter_map(|h| against(h, at)).collect();
                let agreed = all.iter().filter(|s| enough(s)).count();
                (agreed > 0 && 2 * agreed > all.len()).then(|| all[0]).filter(enough)
            });
        match alone {
            Some((by, _)) if best.is_none_or(|(_, old)| by.abs() > old.abs()) => {
                best = Some((at, by))
            }
            Some(_) => {}
            None => finish(&mut best),
        }
    }
    finish(&mut best);
    out
}

/// Excludes what is heard in the receiving room only: talking, footsteps, a door, because its level
/// does not follow the source.
///
/// Per band R = h·S + N is fitted robustly over the frames of `mask` (median of R/S over the loudest
/// tenth of S for h, lowest tenth of R − h·S for N); a frame whose level stands above that by more
/// than 3.5 robust deviations and 3 dB in more than a third of the bands from 200 Hz to 4 kHz is
/// another sound. Joined, widened by half a second, and returned as how much time was excluded.
pub fn foreign_sound(
    source: &History,
    receiver: &History,
    mask: &Mask,
    timeline: &mut Timeline,
) -> Seconds {
    let rows: Vec<usize> = (0..source.rows().min(receiver.rows()))
        .filter(|row| {
            let (from, to) = source.row_time(*row);
            mask.holds(from, to)
        })
        .collect();
    let step = source.row_length().0;
    if rows.len() < 50 || (receiver.row_length().0 - step).abs() > 1e-9 {
        return Seconds(0.0);
    }
    let bands: Vec<Band> = receiver
        .held()
        .iter()
        .copied()
        .filter(|b| b.centre().0 > 190.0 && b.centre().0 < 4100.0)
        .collect();
    let mut strange = vec![0usize; rows.len()];
    for band in &bands {
        let (s, r) = (source.energy(Signal::Band(*band)), receiver.energy(Signal::Band(*band)));
        // What the room still holds of the frames before belongs to the source as well.
        let mut held = 0.0;
        let s: Vec<f64> = s
            .iter()
            .map(|e| {
                held = f64::from(*e).max(held * 10f64.powf(-6.0 * step / 0.8));
                held
            })
            .collect();
        let mut loud: Vec<usize> = rows.clone();
        loud.sort_by(|a, b| s[*b].total_cmp(&s[*a]));
        loud.truncate((rows.len() / 10).max(5));
        let Some(h) =
            median(loud.iter().map(|row| f64::from(r[*row]) / s[*row].max(1e-30)).collect())
        else {
            continue;
        };
        let mut rest: Vec<f64> =
            rows.iter().map(|row| (f64::from(r[*row]) - h * s[*row]).max(0.0)).collect();
        rest.sort_by(f64::total_cmp);
        let noise = rest[rest.len() / 2];
        let off: Vec<f64> = rows
            .iter()
            .map(|row| level(r[*row]) - 10.0 * (h * s[*row] + noise).max(1e-30).log10())
            .collect();
        let middle = median(off.clone()).unwrap_or(0.0);
        let spread =
            median(off.iter().map(|o| (o - middle).abs()).collect()).unwrap_or(0.0) / 0.6745;
        for (count, o) in strange.iter_mut().zip(&off) {
            if *o - middle > (3.5 * spread).max(3.0) {
                *count += 1;
            }
        }
    }
    let mut spans = Vec::new();
    for (row, count) in rows.iter().zip(&strange) {
        if 3 * count > bands.len() {
            let (from, to) = receiver.row_time(*row);
            spans.push((from - 0.5, to + 0.5));
        }
    }
    let all = Mask::spans(spans).and(mask);
    let mut total = 0.0;
    for &(from, to) in all.as_spans() {
        if timeline.add(
            Seconds(from),
            Seconds(to),
            Kind::Excluded("sound in the receiving room only".into()),
            Author::Found,
        ) {
            total += to - from;
        }
    }
    Seconds(total)
}

/// Means over a second of a band's energy inside a mask, with the row each begins at.
fn seconds_of(history: &History, signal: Signal, mask: &Mask) -> Vec<(usize, f64)> {
    let per = (1.0 / history.row_length().0).round().max(1.0) as usize;
    let energy = history.energy(signal);
    (0..energy.len() / per)
        .map(|k| k * per)
        .filter(|row| mask.holds(history.row_time(*row).0, history.row_time(row + per - 1).1))
        .map(|row| {
            let part = &energy[row..row + per];
            (row, part.iter().map(|e| f64::from(*e)).sum::<f64>() / per as f64)
        })
        .collect()
}

/// Slope below which a gain is taken for automatic: rooms give 1, a gain that halves the range 0.5.
const COMPRESSED: f64 = 0.75;

/// A gain that follows the sound, seen against a microphone near the source: where the channel stands
/// 10 dB above its own floor (its level in `quiet`, or its lowest twentieth where that is empty) its level
/// must rise as the source does. Means over a second, bands from
/// 125 Hz to 4 kHz, slope by the ratio of the deviations where the two hang together (correlation above
/// 0.7) and the source goes up and down by 10 dB; the median over bands counts.
pub fn automatic_gain(
    channel: &History,
    source: &History,
    usable: &Mask,
    quiet: &Mask,
) -> Option<Trouble> {
    if (channel.row_length().0 - source.row_length().0).abs() > 1e-9 {
        return None;
    }
    let mut slopes = Vec::new();
    for band in Band::range(Band::HZ_125, Band::HZ_4000).filter(|b| channel.held().contains(b)) {
        let signal = Signal::Band(band);
        let (r, s) = (seconds_of(channel, signal, usable), seconds_of(source, signal, usable));
        let mut sorted: Vec<f64> = r.iter().map(|p| p.1).collect();
        sorted.sort_by(f64::total_cmp);
        let silence = median(seconds_of(channel, signal, quiet).iter().map(|p| p.1).collect());
        let lowest = sorted.get(sorted.len() / 20).copied();
        let Some(floor) = silence.or(lowest) else { continue };
        let pairs: Vec<(f64, f64)> = r
            .iter()
            .zip(&s)
            .filter(|(r, s)| r.0 == s.0 && r.1 > 10.0 * floor && s.1 > 0.0)
            .map(|(r, s)| (10.0 * s.1.log10(), 10.0 * r.1.log10()))
            .collect();
        let n = pairs.len() as f64;
        if n < 15.0 {
            continue;
        }
        let (ms, mr) = (
            pairs.iter().map(|p| p.0).sum::<f64>() / n,
            pairs.iter().map(|p| p.1).sum::<f64>() / n,
        );
        let (mut vs, mut vr, mut c) = (0.0, 0.0, 0.0);
        for (s, r) in &pairs {
            vs += (s - ms).powi(2);
            vr += (r - mr).powi(2);
            c += (s - ms) * (r - mr);
        }
        let mut range: Vec<f64> = pairs.iter().map(|p| p.0).collect();
        range.sort_by(f64::total_cmp);
        let wide = range[range.len() * 19 / 20] - range[range.len() / 20];
        if wide >= 10.0 && c > 0.7 * (vs * vr).sqrt() {
            slopes.push((vr / vs).sqrt());
        }
    }
    if slopes.len() < 6 {
        return None;
    }
    let slope = median(slopes)?;
    (slope < COMPRESSED).then(|| Trouble {
        from: Seconds(0.0),
        to: channel.length(),
        what: What::AutomaticGain(LevelDifference(10.0 * slope)),
    })
}

/// A gain that creeps up after the sound has stopped: from the third to the fifth second behind each
/// end of the source to the tenth to fourteenth, three quarters of the bands from 100 Hz up rise by
/// 3 dB and more, all by the same (median deviation 1.5 dB). One such stop in `stops` (s) is enough.
pub fn recovering_gain(channel: &History, stops: &[f64]) -> Option<Trouble> {
    let step = channel.row_length().0;
    let bands: Vec<Band> = channel.held().iter().copied().filter(|b| *b >= Band::HZ_100).collect();
    let mut found: Option<Trouble> = None;
    for stop in stops {
        let level_of = |band: Band, from: f64, to: f64| -> Option<f64> {
            let energy = channel.energy(Signal::Band(band));
            let (a, b) = (((stop + from) / step) as usize, ((stop + to) / step) as usize);
            (b <= energy.len() && b >= a + 5)
                .then(|| median(energy[a..b].iter().map(|e| level(*e)).collect()))
                .flatten()
        };
        let rises: Vec<f64> = bands
            .iter()
            .filter_map(|b| Some(level_of(*b, 10.0, 14.0)? - level_of(*b, 3.0, 5.0)?))
            .collect();
        if rises.len() < 8 {
            continue;
        }
        let Some(middle) = median(rises.clone()) else { continue };
        let spread = median(rises.iter().map(|r| (r - middle).abs()).collect()).unwrap_or(9.0);
        let risen = rises.iter().filter(|r| **r >= 3.0).count();
        if 4 * risen >= 3 * rises.len() && spread <= 1.5 {
            let larger = match &found {
                Some(Trouble { what: What::RecoveringGain(by), .. }) => middle > by.0,
                _ => true,
            };
            if larger {
                found = Some(Trouble {
                    from: Seconds(*stop),
                    to: Seconds(stop + 14.0),
                    what: What::RecoveringGain(LevelDifference(middle)),
                });
            }
        }
    }
    found
}
