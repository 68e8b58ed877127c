//! Standard uncertainties of ISO 12999-1:2020 (transcription) and what to do with them.

use wythe_bands::{Band, LevelDifference};

use crate::{Curve, Midband, Resolution};

/// Situation a test result is used in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Situation {
    /// A: an element characterised by a laboratory (reproducibility).
    Laboratory,
    /// B: the same building, other teams and equipment (in situ).
    InSitu,
    /// C: the same operator and equipment, repeated.
    Repeated,
}

/// Table 2, airborne, thirds 50 Hz to 5 kHz; last row the 95 % upper limits of Table D.1.
const AIRBORNE: [[f64; 21]; 3] = [
    [
        6.8, 4.6, 3.8, 3.0, 2.7, 2.4, 2.1, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.9,
        2.0, 2.4, 2.8,
    ],
    [
        4.0, 3.6, 3.2, 2.8, 2.4, 2.0, 1.8, 1.6, 1.4, 1.2, 1.1, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.3,
        1.6, 1.9, 2.2,
    ],
    [
        2.0, 1.8, 1.6, 1.4, 1.2, 1.0, 0.9, 0.8, 0.7, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6,
        0.6, 0.6, 0.6,
    ],
];
/// Table D.1, situation A.
const AIRBORNE_UPPER: [f64; 21] = [
    11.7, 6.7, 5.9, 5.0, 5.0, 3.8, 3.3, 3.3, 3.3, 3.3, 3.3, 3.3, 3.3, 3.3, 3.4, 3.4, 3.4, 3.5, 3.6,
    4.0, 4.7,
];
/// Table 4, impact, situations B and C. The 2020 edition has no row for 500 Hz; the common value
/// of its neighbours stands there (common practice, no source).
const IMPACT: [[f64; 21]; 2] = [
    [
        3.2, 2.8, 2.4, 2.0, 1.6, 1.4, 1.3, 1.2, 1.2, 1.2, 1.2, 1.2, 1.2, 1.2, 1.3, 1.4, 1.5, 1.7,
        1.9, 2.1, 2.3,
    ],
    [
        1.5, 1.4, 1.3, 1.2, 1.1, 1.0, 0.9, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 1.0,
        1.2, 1.4, 1.6,
    ],
];
/// Table 6, improvement of floor coverings, situation A.
const COVERING: [f64; 21] = [
    1.4, 1.3, 1.2, 1.1, 1.0, 1.0, 1.0, 1.0, 1.0, 1.1, 1.2, 1.3, 1.6, 1.9, 2.2, 2.5, 2.8, 3.2, 3.6,
    4.0, 4.4,
];

fn airborne_row(situation: Situation) -> &'static [f64; 21] {
    match situation {
        Situation::Laboratory => &AIRBORNE[0],
        Situation::InSitu => &AIRBORNE[1],
        Situation::Repeated => &AIRBORNE[2],
    }
}

fn impact_row(situation: Situation) -> Option<&'static [f64; 21]> {
    match situation {
        Situation::Laboratory => None,
        Situation::InSitu => Some(&IMPACT[0]),
        Situation::Repeated => Some(&IMPACT[1]),
    }
}

fn of_band(row: &[f64; 21], band: Band) -> Option<LevelDifference> {
    let k = band.index().checked_sub(Band::HZ_50.index())?;
    row.get(k).map(|u| LevelDifference(*u))
}

/// Standard deviation of airborne insulation in one third (Table 2); `None` outside of 50 Hz to 5 kHz.
///
/// ```
/// use wythe_bands::Band;
/// use wythe_rating::uncertainty::iso12999::{Situation, airborne_deviation};
/// assert_eq!(airborne_deviation(Band::HZ_100, Situation::InSitu).unwrap().0, 2.8);
/// assert!(airborne_deviation(Band::FIRST, Situation::InSitu).is_none());
/// ```
pub fn airborne_deviation(band: Band, situation: Situation) -> Option<LevelDifference> {
    of_band(airborne_row(situation), band)
}

/// Standard deviation of impact levels in one third (Table 4); `None` outside of 50 Hz to 5 kHz and
/// for the laboratory.
pub fn impact_deviation(band: Band, situation: Situation) -> Option<LevelDifference> {
    of_band(impact_row(situation)?, band)
}

fn curve(row: &[f64; 21]) -> Curve {
    Curve::from_pairs(
        Resolution::Thirds,
        Midband::run("50", 21).into_iter().zip(row.iter().copied()),
    )
}

/// Standard uncertainty of airborne band values, dB, thirds 50 Hz to 5 kHz (Table 2).
pub fn airborne_bands(situation: Situation) -> Curve {
    curve(airborne_row(situation))
}

/// Upper limit (95 %) of the standard uncertainty in situation A (Table D.1).
pub fn airborne_bands_upper() -> Curve {
    curve(&AIRBORNE_UPPER)
}

/// Standard uncertainty of impact band levels (Table 4). There are no values for situation A.
pub fn impact_bands(situation: Situation) -> Option<Curve> {
    impact_row(situation).map(curve)
}

/// Standard uncertainty of the improvement by a floor covering (Table 6), situation A only.
pub fn covering_bands(situation: Situation) -> Option<Curve> {
    (situation == Situation::Laboratory).then(|| curve(&COVERING))
}

/// Standard uncertainty per third that belongs to a method: airborne for ISO 717-1 and the ASTM
/// airborne classes, impact for ISO 717-2 and E989. The standard is written for the ISO quantities;
/// that ASTM band values are as uncertain is assumed. `None` where there are no values.
pub fn bands_for(method: crate::Method, situation: Situation) -> Option<Curve> {
    use crate::Method::{E413, E989, E1332, Iso717Part1, Iso717Part2, Nc, Nr, Rc};
    match method {
        Iso717Part1 | E413 | E1332 => Some(airborne_bands(situation)),
        Iso717Part2 | E989 => impact_bands(situation),
        Nc | Nr | Rc => None,
    }
}

/// Single numbers of Tables 3, 5 and 7: name and values for A, B, C.
const SINGLE: [(&str, [Option<f64>; 3]); 12] = [
    ("Xw", [Some(1.2), Some(0.9), Some(0.4)]),
    ("Xw+C", [Some(1.3), Some(0.9), Some(0.5)]),
    ("Xw+C100-5000", [Some(1.3), Some(1.1), Some(0.5)]),
    ("Xw+C50-3150", [Some(1.3), Some(1.0), Some(0.7)]),
    ("Xw+C50-5000", [Some(1.3), Some(1.1), Some(0.7)]),
    ("Xw+Ctr", [Some(1.5), Some(1.1), Some(0.7)]),
    ("Xw+Ctr100-5000", [Some(1.5), Some(1.1), Some(0.7)]),
    ("Xw+Ctr50-3150", [Some(1.5), Some(1.3), Some(1.0)]),
    // The 1.0 in situation B looks odd beside 1.3 above but is reported as printed.
    ("Xw+Ctr50-5000", [Some(1.5), Some(1.0), Some(1.0)]),
    // Situation A is called an estimate by the standard.
    ("Lw", [Some(1.5), Some(1.0), Some(0.5)]),
    ("Lw+CI", [Some(1.5), Some(1.0), Some(0.6)]),
    ("dLw", [Some(1.1), None, None]),
];

/// Standard uncertainty of a single number, dB: `Xw` for Rw, R′w, Dn,w and DnT,w, `Xw+C…` with any
/// key of [`crate::iso717::TERMS`], `Lw`, `Lw+CI`, `dLw`. `None` where the tables have none.
pub fn single_number(name: &str, situation: Situation) -> Option<f64> {
    let row = SINGLE.iter().find(|(n, _)| *n == name)?;
    row.1[match situation {
        Situation::Laboratory => 0,
        Situation::InSitu => 1,
        Situation::Repeated => 2,
    }]
}

/// Coverage factors of Table 8: confidence in per cent and factor.
pub const TWO_SIDED: [(f64, f64); 6] =
    [(68.0, 1.00), (80.0, 1.28), (90.0, 1.65), (95.0, 1.96), (99.0, 2.58), (99.9, 3.29)];
/// The same for one-sided statements.
pub const ONE_SIDED: [(f64, f64); 5] =
    [(84.0, 1.00), (90.0, 1.28), (95.0, 1.65), (97.5, 1.96), (99.5, 2.58)];

/// Printed coverage factor of a confidence; `None` for one the table does not have.
pub fn coverage_factor(confidence_percent: f64, one_sided: bool) -> Option<f64> {
    let table: &[(f64, f64)] = if one_sided { &ONE_SIDED } else { &TWO_SIDED };
    table.iter().find(|(c, _)| (c - confidence_percent).abs() < 1e-9).map(|(_, k)| *k)
}

/// Expanded uncertainty U = k u; `None` for k below 1, which the standard excludes, or a negative
/// uncertainty.
pub fn expand(u: f64, k: f64) -> Option<f64> {
    (k >= 1.0 && k.is_finite() && u >= 0.0 && u.is_finite()).then_some(k * u)
}

/// Standard uncertainty of the mean of m independent results, u/√m; `None` for m = 0.
pub fn of_mean(u: f64, m: u32) -> Option<f64> {
    (m > 0 && u >= 0.0).then(|| u / f64::from(m).sqrt())
}

/// Independent contributions in quadrature.
pub fn combined(contributions: &[f64]) -> f64 {
    contributions.iter().map(|u| u * u).sum::<f64>().sqrt()
}

/// Verdict of a declaration of conformity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Conformity {
    /// The requirement is met even at the unfavourable end of the uncertainty.
    Met,
    /// The value meets it but the uncertainty reaches across.
    MetWithinUncertainty,
    /// The value misses it but the uncertainty reaches across.
    MissedWithinUncertainty,
    /// The requirement is missed even at the favourable end.
    Missed,
}

/// One-sided conformity: y − U ≥ requirement for insulation (`at_least`), y + U ≤ requirement for
/// impact levels. `None` when a number is not finite.
pub fn conformity(y: f64, expanded: f64, requirement: f64, at_least: bool) -> Option<Conformity> {
    if !(y.is_finite() && expanded.is_finite() && expanded >= 0.0 && requirement.is_finite()) {
        return None;
    }
    // Sums of tenths may miss equality by a billionth.
    let margin = if at_least { y - requirement } else { requirement - y };
    Some(match margin {
        m if m - expanded >= -1e-9 => Conformity::Met,
        m if m >= -1e-9 => Conformity::MetWithinUncertainty,
        m if m + expanded >= -1e-9 => Conformity::MissedWithinUncertainty,
        _ => Conformity::Missed,
    })
}

/// Probability that the true value keeps a requirement, for a normal error: Φ((y − r)/u), or
/// Φ((r − y)/u) for impact. `None` when u is not above zero or a number is not finite.
pub fn probability(y: f64, u: f64, requirement: f64, at_least: bool) -> Option<f64> {
    let margin = if at_least { y - requirement } else { requirement - y };
    (u > 0.0 && u.is_finite() && margin.is_finite()).then(|| super::normal_cdf(margin / u))
}
