//! Levels over stretches of a history.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Level, Seconds, Spectrum};

use crate::bank::Signal;
use crate::history::History;
use crate::level::{RelativeLevel, Sensitivity};
use crate::timeline::Mask;

/// F values before this time are the filters filling up and enter no percentile.
pub const SETTLED_FAST: f64 = 1.0;
/// The same for S.
pub const SETTLED_SLOW: f64 = 5.0;

/// Levels exceeded for a share of the time, from F values taken ten times a second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PercentileLevels<L> {
    /// Exceeded 1 % of the time.
    pub l1: L,
    /// Exceeded 5 % of the time.
    pub l5: L,
    /// Exceeded 10 % of the time.
    pub l10: L,
    /// Exceeded half of the time.
    pub l50: L,
    /// Exceeded 90 % of the time.
    pub l90: L,
    /// Exceeded 95 % of the time.
    pub l95: L,
    /// Exceeded 99 % of the time.
    pub l99: L,
}

impl<L: Copy> PercentileLevels<L> {
    /// The same with changed levels.
    pub fn map<M>(&self, f: impl Fn(L) -> M) -> PercentileLevels<M> {
        PercentileLevels {
            l1: f(self.l1),
            l5: f(self.l5),
            l10: f(self.l10),
            l50: f(self.l50),
            l90: f(self.l90),
            l95: f(self.l95),
            l99: f(self.l99),
        }
    }
}

/// What a channel came to over some stretches. `L` is [`RelativeLevel`] until a [`Sensitivity`] is
/// known and [`Level`] afterwards. What does not exist is absent.
#[derive(Clone, Debug, PartialEq)]
pub struct Statistics<L: Copy> {
    /// Equivalent level per band.
    pub leq: Spectrum<L>,
    /// A-weighted equivalent level.
    pub laeq: Option<L>,
    /// C-weighted equivalent level.
    pub lceq: Option<L>,
    /// Unweighted equivalent level.
    pub lzeq: Option<L>,
    /// A-weighted exposure level, re 1 s.
    pub lae: Option<L>,
    /// Largest A-weighted F level, of every 0.3 ms.
    pub lafmax: Option<L>,
    /// Largest C-weighted F level.
    pub lcfmax: Option<L>,
    /// Largest A-weighted S level, of every row.
    pub lasmax: Option<L>,
    /// Largest A-weighted I level.
    pub laimax: Option<L>,
    /// C-weighted peak.
    pub lcpeak: Option<L>,
    /// Unweighted peak of the samples.
    pub lzpeak: Option<L>,
    /// Largest F level per band, of every row.
    pub fast_max: Spectrum<L>,
    /// Percentiles of the A-weighted level.
    pub a: Option<PercentileLevels<L>>,
    /// Percentiles of the C-weighted level.
    pub c: Option<PercentileLevels<L>>,
    /// Percentiles of the unweighted level.
    pub z: Option<PercentileLevels<L>>,
    /// Percentiles per band.
    pub bands: Spectrum<PercentileLevels<L>>,
    /// Time that entered.
    pub used: Seconds,
}

impl<L: Copy> Statistics<L> {
    /// The same with changed levels.
    pub fn map<M: Copy>(&self, f: impl Fn(L) -> M) -> Statistics<M> {
        Statistics {
            leq: self.leq.map(|_, l| f(l)),
            laeq: self.laeq.map(&f),
            lceq: self.lceq.map(&f),
            lzeq: self.lzeq.map(&f),
            lae: self.lae.map(&f),
            lafmax: self.lafmax.map(&f),
            lcfmax: self.lcfmax.map(&f),
            lasmax: self.lasmax.map(&f),
            laimax: self.laimax.map(&f),
            lcpeak: self.lcpeak.map(&f),
            lzpeak: self.lzpeak.map(&f),
            fast_max: self.fast_max.map(|_, l| f(l)),
            a: self.a.as_ref().map(|p| p.map(&f)),
            c: self.c.as_ref().map(|p| p.map(&f)),
            z: self.z.as_ref().map(|p| p.map(&f)),
            bands: self.bands.map(|_, p| p.map(&f)),
            used: self.used,
        }
    }
}

impl Statistics<RelativeLevel> {
    /// Sound pressure levels, once the sensitivity is known.
    pub fn calibrated(&self, sensitivity: Sensitivity) -> Statistics<Level> {
        self.map(|l| sensitivity.level(l))
    }
}

impl History {
    /// Rows that lie wholly inside a mask, with their lengths in seconds.
    fn rows_inside(&self, mask: &Mask) -> Vec<(usize, f64)> {
        (0..self.rows())
            .filter_map(|row| {
                let (from, to) = self.row_time(row);
                mask.holds(from, to).then_some((row, to - from))
            })
            .collect()
    }

    fn leq_over(&self, rows: &[(usize, f64)]) -> Spectrum<RelativeLevel> {
        let used: f64 = rows.iter().map(|(_, s)| s).sum();
        let mean = |column: &[f32]| {
            let sum: f64 = rows.iter().map(|(row, s)| f64::from(column[*row]) * s).sum();
            if used > 0.0 { RelativeLevel::from_energy(sum / used) } else { None }
        };
        let energy = |b: &Band| Some((*b, mean(self.energy(Signal::Band(*b)))?));
        self.held().iter().filter_map(energy).collect()
    }

    /// Equivalent levels per band alone, as [`History::statistics`] has them: without its sorting of
    /// every band, which takes a second for a long recording.
    pub fn leq(&self, mask: &Mask) -> Spectrum<RelativeLevel> {
        self.leq_over(&self.rows_inside(mask))
    }

    /// Levels over the rows that lie wholly inside `mask`.
    ///
    /// L_eq = 10 lg(mean p²); L_E = L_eq + 10 lg(T/1 s); L_N = level exceeded N % of the time =
    /// percentile 100 − N of the stored F levels, linear between order statistics (rank (n − 1)q),
    /// the first second of the recording left out.
    ///
    /// Sources: IEC 61672-1:2013, 3.9 and 3.12; the percentile convention is this program's own.
    pub fn statistics(&self, mask: &Mask) -> Statistics<RelativeLevel> {
        let rows = self.rows_inside(mask);
        // A sum of nothing is a negative zero.
        let used = rows.iter().map(|(_, s)| s).sum::<f64>() + 0.0;
        let settled = |after: f64| {
            let rows = &rows;
            move |column: &[f32]| -> Vec<f64> {
                rows.iter()
                    .filter(|(row, _)| self.row_time(*row).1 > after + 1e-6)
                    .map(|(row, _)| f64::from(column[*row]))
                    .collect()
            }
        };
        let (fast, slow) = (settled(SETTLED_FAST), settled(SETTLED_SLOW));
        let mean = |column: &[f32]| {
            let sum: f64 = rows.iter().map(|(row, s)| f64::from(column[*row]) * s).sum();
            if used > 0.0 { RelativeLevel::from_energy(sum / used) } else { None }
        };
        let largest =
            |values: &[f64]| RelativeLevel::from_energy(values.iter().copied().fold(0.0, f64::max));
        let over_rows = |column: &[f32]| {
            RelativeLevel::from_energy(
                rows.iter().map(|(row, _)| f64::from(column[*row])).fold(0.0, f64::max),
            )
        };
        let a = Weighting::A;
        let c = Weighting::C;
        let band = |b| Signal::Band(b);
        let laeq = mean(self.energy(Signal::Weighted(a)));
        Statistics {
            leq: self.leq_over(&rows),
            laeq,
            lceq: mean(self.energy(Signal::Weighted(c))),
            lzeq: mean(self.energy(Signal::Weighted(Weighting::Z))),
            lae: laeq.map(|l| RelativeLevel(l.0 + 10.0 * used.log10())),
            lafmax: over_rows(self.fast_max(a)),
            lcfmax: over_rows(self.fast_max(c)),
            lasmax: largest(&slow(self.slow(a))),
            laimax: over_rows(self.impulse_max(a)),
            lcpeak: over_rows(self.peak2(c)),
            lzpeak: over_rows(self.peak2(Weighting::Z)),
            fast_max: self
                .held()
                .iter()
                .filter_map(|b| Some((*b, largest(&fast(self.fast(band(*b))))?)))
                .collect(),
            a: percentiles(fast(self.fast(Signal::Weighted(a)))),
            c: percentiles(fast(self.fast(Signal::Weighted(c)))),
            z: percentiles(fast(self.fast(Signal::Weighted(Weighting::Z)))),
            bands: self
                .held()
                .iter()
                .filter_map(|b| Some((*b, percentiles(fast(self.fast(band(*b))))?)))
                .collect(),
            used: Seconds(used),
        }
    }
}

/// Percentile levels of mean squares; `None` without any or where one of them has no level.
pub(crate) fn percentiles(energies: Vec<f64>) -> Option<PercentileLevels<RelativeLevel>> {
    let mut levels: Vec<f64> =
        energies.iter().map(|e| RelativeLevel::from_energy(*e).map_or(-400.0, |l| l.0)).collect();
    if levels.is_empty() {
        return None;
    }
    levels.sort_by(f64::total_cmp);
    // Digital silence has no level; a percentile that falls into it is not given.
    let at = |exceeded: f64| {
        let l = percentile(&levels, (100.0 - exceeded) / 100.0)?;
        (l > -390.0).then_some(RelativeLevel(l))
    };
    Some(PercentileLevels {
        l1: at(1.0)?,
        l5: at(5.0)?,
        l10: at(10.0)?,
        l50: at(50.0)?,
        l90: at(90.0)?,
        l95: at(95.0)?,
        l99: at(99.0)?,
    })
}

/// Value below which the share `q` (0 to 1) of sorted values lies: linear between order statistics,
/// rank (n − 1)q. `None` when there are no values or `q` is no share.
pub fn percentile(sorted: &[f64], q: f64) -> Option<f64> {
    if sorted.is_empty() || !(0.0..=1.0).contains(&q) {
        return None;
    }
    let rank = (sorted.len() - 1) as f64 * q;
    let below = rank.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    Some(sorted[below] + (rank - below as f64) * (sorted[above] - sorted[below]))
}
