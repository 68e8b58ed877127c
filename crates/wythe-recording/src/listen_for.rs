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

/// A change of the gain of one channel: every band steps by the same amount at the same moment and
/// stays there, in its background as in its sound, while the other channels do not.
///
/// Medians over 5 s before and behind each second are compared in all bands; a step is believed when
/// it is at least 1.5 dB, the bands agree within 1 dB (median deviation), and the others of
/// `same_time` did not move with it.
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
    let change = |h: &History, band: Band, at: usize| -> Option<f64> {
        let e = h.energy(Signal::Band(band));
        if at < window || at + window > e.len() {
            return None;
        }
        let of = |part: &[f32]| median(part.iter().map(|e| level(*e)).collect());
        Some(of(&e[at..at + window])? - of(&e[at - window..at])?)
    };
    let judge = |h: &History, at: usize| -> Option<(f64, f64)> {
        let changes: Vec<f64> = bands.iter().filter_map(|b| change(h, *b, at)).collect();
        let middle = median(changes.clone())?;
        let spread = median(changes.iter().map(|c| (c - middle).abs()).collect())?;
        Some((middle, spread))
    };
    let mut out: Vec<Trouble> = Vec::new();
    let mut best: Option<(usize, f64)> = None;
    let mut finish = |best: &mut Option<(usize, f64)>| {
        if let Some((at, by)) = best.take() {
            let t = Seconds(at as f64 * step);
            out.push(Trouble { from: t, to: t, what: What::GainStep(LevelDifference(by)) });
        }
    };
    for at in (window..history.rows().saturating_sub(window)).step_by(stride) {
        let stepped = judge(history, at).filter(|(by, spread)| by.abs() >= 1.5 && *spread <= 1.0);
        // A source that is turned up does so in every channel.
        let alone = stepped.filter(|(by, _)| {
            !same_time
                .iter()
                .any(|h| judge(h, at).is_some_and(|(b, _)| b * by.signum() > 0.5 * by.abs()))
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
