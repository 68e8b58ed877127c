//! One single number as a plain function of its bands, for repeated evaluation.

use crate::contour::Contour;
use crate::iso717::TERMS;
use crate::rating::examine;
use crate::{Curve, Method, Midband, RatingError, Resolution, Tenths, astm, iso717};

/// Which number of a rating.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Number {
    /// The rating itself.
    Rating,
    /// Rating plus this term, by its key (`C`, `Ctr50-5000`, `CI`).
    WithTerm(&'static str),
}

/// How one number follows from its bands.
pub(super) enum Rule {
    /// A shifted contour. The rating is `offset + sign · contour at 500 Hz`; data are taken in
    /// cells of `unit` tenths.
    Contour { contour: Contour, unit: i64, sign: i64, offset: Tenths },
    /// sign · 10 lg Σ 10^((w_i + sign · x_i)/10) + offset.
    Sum { weights: Vec<f64>, sign: f64, offset: f64 },
}

pub(super) struct Evaluate {
    pub bands: Vec<Midband>,
    pub rule: Rule,
}

impl Evaluate {
    /// The function for a number of a method.
    pub fn of(
        curve: &Curve,
        method: Method,
        number: Number,
        whole: astm::DataRounding,
    ) -> Result<Evaluate, RatingError> {
        let resolution = curve.resolution();
        let evaluate = match (method, number) {
            (Method::Iso717Part1, Number::Rating) => {
                Self::contour(iso717::airborne_contour(resolution), 1, 1, Tenths(0))
            }
            (Method::Iso717Part2, Number::Rating) => {
                let off = match resolution {
                    Resolution::Thirds => Tenths(0),
                    Resolution::Octaves => -iso717::OCTAVE_REDUCTION,
                };
                Self::contour(iso717::impact_contour(resolution), 1, 1, off)
            }
            (Method::E413, Number::Rating) => {
                thirds_only(resolution, method)?;
                Self::contour(astm::e413_contour(), unit(whole), 1, Tenths(0))
            }
            (Method::E989, Number::Rating) => {
                thirds_only(resolution, method)?;
                Self::contour(astm::e989_contour(), unit(whole), -1, astm::E989_FROM)
            }
            (Method::E1332, Number::Rating) => {
                thirds_only(resolution, method)?;
                let (bands, weights, offset) = astm::e1332_sum();
                Evaluate { bands, rule: Rule::Sum { weights, sign: -1.0, offset } }
            }
            (Method::Iso717Part1, Number::WithTerm(key)) => {
                let term = TERMS
                    .iter()
                    .find(|t| t.key == key)
                    .ok_or(RatingError::NoSuchNumber { method, number: key })?;
                let (bands, weights) = term.levels(resolution).into_iter().unzip();
                Evaluate { bands, rule: Rule::Sum { weights, sign: -1.0, offset: 0.0 } }
            }
            (Method::Iso717Part2, Number::WithTerm(key)) => {
                let which = iso717::CI_RANGES
                    .iter()
                    .position(|range| range.key == key)
                    .ok_or(RatingError::NoSuchNumber { method, number: key })?;
                let bands = iso717::ci_bands(which, resolution);
                let weights = vec![0.0; bands.len()];
                Evaluate { bands, rule: Rule::Sum { weights, sign: 1.0, offset: -15.0 } }
            }
            (_, Number::WithTerm(key)) => {
                return Err(RatingError::NoSuchNumber { method, number: key });
            }
            (_, Number::Rating) => {
                return Err(RatingError::NoSuchNumber { method, number: "a propagated deviation" });
            }
        };
        examine(curve, method, &evaluate.bands)?;
        Ok(evaluate)
    }

    fn contour(contour: Contour, unit: i64, sign: i64, offset: Tenths) -> Evaluate {
        let bands = contour.bands.clone();
        Evaluate { bands, rule: Rule::Contour { contour, unit, sign, offset } }
    }

    /// Band values of the curve.
    pub fn values(&self, curve: &Curve) -> Vec<f64> {
        self.bands.iter().filter_map(|b| curve.get(*b)).map(|e| e.value).collect()
    }

    /// The number as it would be stated (`fine` false) or in its 0.1 dB variant or unrounded.
    pub fn at(&self, values: &[f64], fine: bool) -> f64 {
        match &self.rule {
            Rule::Contour { contour, unit, sign, offset } => {
                let data: Vec<Tenths> = values
                    .iter()
                    .map(|v| match unit {
                        10 if !fine => Tenths::nearest_whole(*v),
                        _ => Tenths::nearest(*v),
                    })
                    .collect();
                let at_500 = contour.value(&data, if fine { 1 } else { 10 });
                offset.decibels() + *sign as f64 * at_500.decibels()
            }
            Rule::Sum { weights, sign, offset } => {
                let sum: f64 = powers(values, weights, *sign).iter().sum();
                let exact = sign * 10.0 * sum.log10() + offset;
                if fine { exact } else { Tenths::nearest_whole(exact).decibels() }
            }
        }
    }
}

/// Terms of the energy sum.
pub(super) fn powers(values: &[f64], weights: &[f64], sign: f64) -> Vec<f64> {
    values.iter().zip(weights).map(|(x, w)| 10f64.powf((w + sign * x) / 10.0)).collect()
}

fn unit(rounding: astm::DataRounding) -> i64 {
    match rounding {
        astm::DataRounding::Whole => 10,
        astm::DataRounding::OneDecimal => 1,
    }
}

fn thirds_only(resolution: Resolution, method: Method) -> Result<(), RatingError> {
    match resolution {
        Resolution::Thirds => Ok(()),
        Resolution::Octaves => Err(RatingError::OctavesGiven { method }),
    }
}
