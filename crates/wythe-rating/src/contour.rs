//! Shifting a reference contour against a curve, the core of five ratings.

use crate::{Midband, Tenths};

/// Which side of the reference contour is unfavourable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Unfavourable {
    /// Airborne: a value below the contour.
    Below,
    /// Impact: a value above the contour.
    Above,
}

/// A reference contour with its rules.
#[derive(Clone, Debug)]
pub(crate) struct Contour {
    /// Bands judged, rising.
    pub bands: Vec<Midband>,
    /// Reference values, whole decibels, one per band.
    pub reference: &'static [i64],
    /// Place of the 500 Hz band, whose shifted reference is the rating.
    pub at_500: usize,
    /// Which side counts.
    pub unfavourable: Unfavourable,
    /// Largest sum of unfavourable deviations still allowed.
    pub sum_limit: Tenths,
    /// Largest single deviation still allowed, where there is such a rule.
    pub single_limit: Option<Tenths>,
}

/// A contour where it came to rest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Rest {
    /// Shifted reference at 500 Hz.
    pub at_500: Tenths,
    /// Shifted reference per band.
    pub reference: Vec<Tenths>,
    /// Unfavourable deviation per band, never negative.
    pub deviations: Vec<Tenths>,
    /// Their sum.
    pub sum: Tenths,
    /// The next step would break the sum rule.
    pub next_breaks_sum: bool,
    /// Bands in which the next step would break the rule for single bands.
    pub next_breaks_single: Vec<usize>,
}

impl Contour {
    /// Finds the best contour: the highest (airborne) or lowest (impact) that keeps every rule.
    ///
    /// `data` holds one value per band; `step` is 10 tenths for the rating and 1 for the variant
    /// with one decimal. The sum of deviations grows with every step, so the answer is unique,
    /// and an impact curve is the airborne case with all signs turned.
    pub fn rest(&self, data: &[Tenths], step: i64) -> Rest {
        let shift = self.shift(data, step);
        let sign = self.sign();
        let reference: Vec<Tenths> =
            self.reference.iter().map(|r| Tenths(r * 10 + sign * shift)).collect();
        let deviations: Vec<Tenths> = self.deviations(data, shift);
        let next = self.deviations(data, shift + step);
        let next_breaks_single = match self.single_limit {
            Some(limit) => (0..next.len()).filter(|i| next[*i] > limit).collect(),
            None => Vec::new(),
        };
        Rest {
            at_500: reference[self.at_500],
            sum: Tenths(deviations.iter().map(|d| d.0).sum()),
            next_breaks_sum: next.iter().map(|d| d.0).sum::<i64>() > self.sum_limit.0,
            next_breaks_single,
            reference,
            deviations,
        }
    }

    /// Shifted reference at 500 Hz alone, for repeated evaluation.
    pub fn value(&self, data: &[Tenths], step: i64) -> Tenths {
        Tenths(self.reference[self.at_500] * 10 + self.sign() * self.shift(data, step))
    }

    fn sign(&self) -> i64 {
        match self.unfavourable {
            Unfavourable::Below => 1,
            Unfavourable::Above => -1,
        }
    }

    /// Shift in the unfavourable direction, tenths, a multiple of `step`.
    fn shift(&self, data: &[Tenths], step: i64) -> i64 {
        let sign = self.sign();
        // With the contour touching the curve from its favourable side nothing deviates; one full
        // sum limit further the touching band alone breaks the rule. The answer lies between.
        let touching =
            data.iter().zip(self.reference).map(|(x, r)| sign * (x.0 - r * 10)).min().unwrap_or(0);
        let mut low = touching.div_euclid(step);
        let mut high = (touching + self.sum_limit.0).div_euclid(step) + 1;
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if self.allowed(data, middle * step) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low * step
    }

    fn allowed(&self, data: &[Tenths], shift: i64) -> bool {
        let sign = self.sign();
        let mut sum = 0;
        for (x, r) in data.iter().zip(self.reference) {
            let deviation = (shift + sign * (r * 10 - x.0)).max(0);
            if self.single_limit.is_some_and(|limit| deviation > limit.0) {
                return false;
            }
            sum += deviation;
        }
        sum <= self.sum_limit.0
    }

    fn deviations(&self, data: &[Tenths], shift: i64) -> Vec<Tenths> {
        let sign = self.sign();
        data.iter()
            .zip(self.reference)
            .map(|(x, r)| Tenths((shift + sign * (r * 10 - x.0)).max(0)))
            .collect()
    }
}
