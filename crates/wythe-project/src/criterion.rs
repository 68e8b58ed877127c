//! Criteria and hours as people write them.

use wythe_bands::{Level, LevelDifference, Octave, OctaveSpectrum};
use wythe_building::{Criterion, DifferenceKind, Hours};

use crate::quantity::number;

/// What a criterion may look like, for messages.
pub(crate) const CRITERIA: &str = "`NR 20`, `NC 25`, `30 dBA`, `45 dBC`, `45 dB LAFmax`, `not audible`, `DnT,w + C50-3150 >= 55`, `Dw >= 50`, `D >= 60 dBA`, or highest levels per band";

/// Reads a criterion; `None` when it is none.
pub(crate) fn criterion(text: &str) -> Option<Criterion> {
    let text = text.trim();
    let lower = text.to_lowercase();
    if lower == "not audible" || lower == "inaudible" {
        return Some(Criterion::NotAudible);
    }
    if let Some(rest) = lower.strip_prefix("nr") {
        return in_range(number(joined(rest))?, 0.0, 130.0).map(Criterion::Nr);
    }
    if let Some(rest) = lower.strip_prefix("nc") {
        return in_range(number(joined(rest))?, 0.0, 100.0).map(Criterion::Nc);
    }
    if let Some(rest) = lower.strip_prefix("dnt,w").or_else(|| lower.strip_prefix("dntw")) {
        return weighted(rest.trim(), DifferenceKind::Standardized);
    }
    if let Some(rest) = lower.strip_prefix("dw").or_else(|| lower.strip_prefix("d,w")) {
        return weighted(rest.trim(), DifferenceKind::Plain);
    }
    if let Some(rest) = lower.strip_prefix('d') {
        return of_levels(rest.trim());
    }
    // `LAFmax 45 dB`, `45 dB LAFmax`, `45 dBA max`.
    let without = ["lafmax", "max"].iter().find_map(|word| {
        lower.strip_prefix(word).or_else(|| lower.strip_suffix(word)).map(str::trim)
    });
    if let Some(rest) = without {
        let (level, weighting) =
            crate::quantity::parse_level(rest.trim_start_matches(['<', '=', '≤', ' '])).ok()?;
        let wrong = weighting == wythe_bands::weighting::Weighting::C;
        return (!wrong)
            .then(|| in_range(level, -10.0, 140.0))?
            .map(|l| Criterion::MaximumA(Level(l)));
    }
    let (level, weighting) =
        crate::quantity::parse_level(text.trim_start_matches(['<', '=', '≤', ' '])).ok()?;
    let level = Level(in_range(level, -10.0, 140.0)?);
    match weighting {
        wythe_bands::weighting::Weighting::A => Some(Criterion::LevelA(level)),
        wythe_bands::weighting::Weighting::C => Some(Criterion::LevelC(level)),
        wythe_bands::weighting::Weighting::Z => None,
    }
}

/// What follows the letters of a curve: `NC-25` has a hyphen that joins, `NR -5` a sign.
fn joined(rest: &str) -> &str {
    rest.strip_prefix('-').unwrap_or(rest)
}

/// What follows `DnT,w`: an optional `+ term`, then `>=` or `≥` and the value.
fn weighted(rest: &str, of: DifferenceKind) -> Option<Criterion> {
    let (term, value) = rest.split_once(">=").or_else(|| rest.split_once('≥'))?;
    let value = value.trim();
    let value = value.strip_suffix("db").unwrap_or(value);
    let least = LevelDifference(in_range(number(value)?, 0.0, 120.0)?);
    let term = term.trim();
    let term = if term.is_empty() {
        None
    } else {
        let word = term.strip_prefix('+')?.trim();
        let known = ["C", "Ctr", "C50-3150", "Ctr50-3150"];
        Some(known.iter().find(|k| k.eq_ignore_ascii_case(word))?.to_string())
    };
    Some(Criterion::WeightedDifference { of, least, term, from: None })
}

/// What follows the letter of `D >= 60 dBA`.
fn of_levels(rest: &str) -> Option<Criterion> {
    let value = rest.strip_prefix(">=").or_else(|| rest.strip_prefix('≥'))?;
    let (value, weighting) = crate::quantity::parse_level(value).ok()?;
    let of = match weighting {
        wythe_bands::weighting::Weighting::A => DifferenceKind::LevelA,
        wythe_bands::weighting::Weighting::C => DifferenceKind::LevelC,
        wythe_bands::weighting::Weighting::Z => return None,
    };
    let least = LevelDifference(in_range(value, 0.0, 150.0)?);
    Some(Criterion::WeightedDifference { of, least, term: None, from: None })
}

fn in_range(value: f64, least: f64, most: f64) -> Option<f64> {
    (value >= least && value <= most).then_some(value)
}

/// Reads `22:00-07:00`.
pub(crate) fn hours(text: &str) -> Option<Hours> {
    let (from, to) = text.split_once(['-', '–'])?;
    let minutes = |t: &str| -> Option<u16> {
        let (h, m) = t.trim().split_once(':')?;
        if !(1..=2).contains(&h.len()) || m.len() != 2 {
            return None;
        }
        let (h, m): (u16, u16) = (h.parse().ok()?, m.parse().ok()?);
        (m < 60 && (h < 24 || (h == 24 && m == 0))).then_some((h * 60 + m) % 1440)
    };
    let (from, to) = (minutes(from)?, minutes(to)?);
    Some(Hours { from, to })
}

/// A curve as background: `NR 15` or `NC 20`, in octaves.
pub(crate) fn curve(text: &str) -> Option<OctaveSpectrum<f64>> {
    match criterion(text)? {
        Criterion::Nr(n) => Some(nr_curve(n)),
        Criterion::Nc(n) => nc_curve(n),
        _ => None,
    }
}

/// NR curve, octaves 31.5 Hz to 8 kHz: L = a + b N.
/// Source: AS 1469:1983 (coefficients from a secondary transcription).
fn nr_curve(n: f64) -> OctaveSpectrum<f64> {
    const A: [f64; 9] = [55.4, 35.5, 22.0, 12.0, 4.8, 0.0, -3.5, -6.1, -8.0];
    const B: [f64; 9] = [0.681, 0.790, 0.870, 0.930, 0.974, 1.000, 1.015, 1.025, 1.030];
    Octave::all().zip(A.into_iter().zip(B)).map(|(o, (a, b))| (o, a + b * n)).collect()
}

/// NC curve, octaves 63 Hz to 8 kHz, for NC 15 to 40, between tabulated curves by proportion.
/// Source: public copies of the classic table (secondary; they differ in single cells).
fn nc_curve(n: f64) -> Option<OctaveSpectrum<f64>> {
    const CURVES: [[f64; 8]; 6] = [
        [47.0, 36.0, 29.0, 22.0, 17.0, 14.0, 12.0, 11.0],
        [51.0, 40.0, 33.0, 26.0, 22.0, 19.0, 17.0, 16.0],
        [54.0, 44.0, 37.0, 31.0, 27.0, 24.0, 22.0, 21.0],
        [57.0, 48.0, 41.0, 35.0, 31.0, 29.0, 28.0, 27.0],
        [60.0, 52.0, 45.0, 40.0, 36.0, 34.0, 33.0, 32.0],
        [64.0, 56.0, 50.0, 45.0, 41.0, 39.0, 38.0, 37.0],
    ];
    let position = (n - 15.0) / 5.0;
    if !(0.0..=5.0).contains(&position) {
        return None;
    }
    let below = (position.floor() as usize).min(4);
    let share = position - below as f64;
    let values = (0..8).map(|i| CURVES[below][i] * (1.0 - share) + CURVES[below + 1][i] * share);
    Some(Octave::all().skip(1).zip(values).collect())
}
