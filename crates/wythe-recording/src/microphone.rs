//! What one microphone does differently from another: correction curves, and sensitivity taken over
//! from a calibrated neighbour.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Level, LevelDifference, Seconds};

use crate::bank::Signal;
use crate::history::History;
use crate::level::RelativeLevel;
use crate::statistics::Statistics;
use crate::timeline::Mask;

/// Why a correction curve cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// The first line is not one of the two headers.
    #[error(
        "the first line is \u{201c}{0}\u{201d}; write `frequency_hz,correction_db` for values that are \
         added to the levels, or `frequency_hz,response_db` for what the microphone reads too much"
    )]
    Header(String),
    /// A line that is no pair of numbers.
    #[error(
        "line {line}: \u{201c}{text}\u{201d} is no frequency with decibels, such as `1000,-0.3`"
    )]
    Line {
        /// Its number, from 1.
        line: usize,
        /// What stands there.
        text: String,
    },
    /// A value no microphone has.
    #[error("line {line}: {value} is outside of what a microphone does (1 Hz to 200 kHz, ±60 dB)")]
    Value {
        /// Its number, from 1.
        line: usize,
        /// The value.
        value: f64,
    },
    /// Nothing in it.
    #[error("there are no values below the header")]
    Empty,
    /// Far too many.
    #[error("there are more than 100 000 lines")]
    TooLong,
}

/// A microphone's correction over frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct CorrectionCurve {
    /// Frequency in Hz and decibels to be added, rising.
    points: Vec<(f64, f64)>,
}

impl CorrectionCurve {
    /// Reads CSV text with one of the two headers; separators are comma, semicolon or tab, lines that
    /// begin with `#` are left out.
    ///
    /// # Errors
    /// Says which line cannot be used.
    pub fn read(text: &str) -> Result<CorrectionCurve, CurveError> {
        let mut lines = text
            .trim_start_matches('\u{feff}')
            .lines()
            .enumerate()
            .map(|(n, l)| (n + 1, l.trim()))
            .filter(|(_, l)| !l.is_empty() && !l.starts_with('#'));
        let short = |s: &str| s.chars().take(60).collect::<String>();
        let cells = |l: &str| -> Vec<String> {
            l.split([',', ';', '\t']).map(|c| c.trim().to_ascii_lowercase()).collect()
        };
        let Some((_, header)) = lines.next() else { return Err(CurveError::Empty) };
        let sign = match cells(header).iter().map(String::as_str).collect::<Vec<_>>()[..] {
            ["frequency_hz", "correction_db"] => 1.0,
            ["frequency_hz", "response_db"] => -1.0,
            _ => return Err(CurveError::Header(short(header))),
        };
        let mut points = Vec::new();
        for (line, text) in lines {
            let numbers: Vec<f64> = cells(text).iter().filter_map(|c| c.parse().ok()).collect();
            let [f, db] = numbers[..] else {
                return Err(CurveError::Line { line, text: short(text) });
            };
            if !(1.0..=200_000.0).contains(&f) {
                return Err(CurveError::Value { line, value: f });
            }
            if !(-60.0..=60.0).contains(&db) {
                return Err(CurveError::Value { line, value: db });
            }
            if points.len() >= 100_000 {
                return Err(CurveError::TooLong);
            }
            points.push((f, sign * db));
        }
        if points.is_empty() {
            return Err(CurveError::Empty);
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        Ok(CorrectionCurve { points })
    }

    /// Decibels to be added at a frequency: straight over the logarithm of frequency between points,
    /// the nearest point's value outside of them.
    pub fn at(&self, frequency: f64) -> LevelDifference {
        let k = self.points.partition_point(|p| p.0 < frequency);
        let (Some(first), Some(last)) = (self.points.first(), self.points.last()) else {
            return LevelDifference(0.0);
        };
        if k == 0 {
            return LevelDifference(first.1);
        }
        if k == self.points.len() {
            return LevelDifference(last.1);
        }
        let (a, b) = (self.points[k - 1], self.points[k]);
        let t = (frequency / a.0).ln() / (b.0 / a.0).ln();
        LevelDifference(if t.is_finite() { a.1 + t * (b.1 - a.1) } else { b.1 })
    }

    /// Mean over a band in energy, for a level that is even inside it.
    pub fn of_band(&self, band: Band) -> LevelDifference {
        let (low, high) = (band.lower_edge().0, band.upper_edge().0);
        const STEPS: usize = 8;
        let mean = (0..STEPS)
            .map(|k| low * (high / low).powf((k as f64 + 0.5) / STEPS as f64))
            .map(|f| 10f64.powf(self.at(f).0 / 10.0))
            .sum::<f64>()
            / STEPS as f64;
        LevelDifference(10.0 * mean.log10())
    }

    /// Lowest and highest frequency given, Hz.
    pub fn range(&self) -> (f64, f64) {
        (self.points.first().map_or(0.0, |p| p.0), self.points.last().map_or(0.0, |p| p.0))
    }

    /// Levels with the correction added. A, C and Z change by what their bands change; their maxima and
    /// percentiles by as much as the equivalent level, which is right for sound of one colour.
    pub fn apply(&self, s: &Statistics<Level>) -> Statistics<Level> {
        let mut out = s.clone();
        out.leq = s.leq.map(|b, l| l + self.of_band(b));
        let change = |w: Weighting| -> LevelDifference {
            match (s.leq.weighted_total(w), out.leq.weighted_total(w)) {
                (Some(before), Some(after)) => after - before,
                _ => LevelDifference(0.0),
            }
        };
        let (a, c, z) = (change(Weighting::A), change(Weighting::C), change(Weighting::Z));
        let plus = |l: Option<Level>, d: LevelDifference| l.map(|l| l + d);
        out.laeq = plus(s.laeq, a);
        out.lceq = plus(s.lceq, c);
        out.lzeq = plus(s.lzeq, z);
        out.lafmax = plus(s.lafmax, a);
        if let Some(p) = &mut out.a {
            for l in
                [&mut p.l1, &mut p.l5, &mut p.l10, &mut p.l50, &mut p.l90, &mut p.l95, &mut p.l99]
            {
                *l = *l + a;
            }
        }
        out
    }
}

/// A sensitivity taken over from a calibrated neighbour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transfer {
    /// How much the neighbour reads above this channel, re full scale each.
    pub above: LevelDifference,
    /// Standard deviation over the bands.
    pub spread: LevelDifference,
    /// Standard uncertainty of the transfer: spread over bands, and 0.3 dB for two capsules that are not
    /// at the same point (common practice, no source).
    pub deviation: LevelDifference,
    /// Bands compared.
    pub bands: usize,
}

/// Compares two channels whose microphones stood side by side, 100 Hz to 4 kHz; `None` where they have
/// fewer than six bands or two seconds in common.
pub fn beside(calibrated: &History, other: &History, when: (Seconds, Seconds)) -> Option<Transfer> {
    let mask = Mask::spans(vec![(when.0.0, when.1.0)]);
    let level = |h: &History, band: Band| -> Option<RelativeLevel> {
        let energy = h.energy(Signal::Band(band));
        let (mut sum, mut time) = (0.0, 0.0);
        for row in 0..h.rows() {
            let (from, to) = h.row_time(row);
            if mask.holds(from, to) {
                sum += f64::from(energy[row]) * (to - from);
                time += to - from;
            }
        }
        if time < 2.0 {
            return None;
        }
        RelativeLevel::from_energy(sum / time)
    };
    let differences: Vec<f64> = Band::range(Band::HZ_100, Band::HZ_4000)
        .filter_map(|b| Some(level(calibrated, b)?.0 - level(other, b)?.0))
        .collect();
    let n = differences.len() as f64;
    if n < 6.0 {
        return None;
    }
    let mean = differences.iter().sum::<f64>() / n;
    let spread = (differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    Some(Transfer {
        above: LevelDifference(mean),
        spread: LevelDifference(spread),
        deviation: LevelDifference((spread / n.sqrt()).hypot(0.3)),
        bands: differences.len(),
    })
}
