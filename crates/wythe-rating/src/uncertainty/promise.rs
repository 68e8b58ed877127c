//! The probability that a promised single number is met.

use super::evaluate::{Evaluate, Rule};
use super::normal::normal_cdf;
use super::propagate::{monte_carlo, sensitivities};
use super::{Number, check_correlation, deviations};
use crate::contour::{Contour, Unfavourable};
use crate::rating::{bound_over, check_decibels};
use crate::room_noise::{NcTable, nc_curve, nr_curve};
use crate::{Bound, Curve, Method, Midband, Options, RatingError, Tenths};
use wythe_bands::Remark;

/// Whether a promise is kept by a number at least or at most as high.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Direction {
    /// Airborne insulation and all classes: more is better.
    AtLeast,
    /// Impact levels and noise criteria: less is better.
    AtMost,
}

/// How a probability was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Route {
    /// Exact for normal band errors, up to the last digits of a numerical integral.
    Exact,
    /// Counted in a Monte Carlo run.
    Drawn {
        /// Number of draws.
        draws: usize,
        /// Standard error of the probability.
        standard_error: f64,
    },
}

/// A promise and how likely it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Promise {
    /// The value promised.
    pub promised: f64,
    /// Which way.
    pub direction: Direction,
    /// Probability that the stated (rounded) number keeps it.
    pub probability: f64,
    /// How it was found.
    pub route: Route,
    /// Band in which certainty would help most: the largest share of the variance.
    pub weakest_band: Option<Midband>,
    /// What has to be said with it.
    pub remarks: Vec<Remark>,
}

/// Draws for numbers without an exact form; their standard error is then below 0.4 %.
const DRAWS: usize = 20_000;
const SEED: u64 = 0x7779_7468_6572_6174;

/// Probability that the stated number will be at least (or at most) `promised`, for normal errors
/// of the bands with standard deviations `sd`, any two correlated with `correlation`.
///
/// A contour rating is at least p exactly when the contour p keeps its rules, so the distribution
/// of the sum of deviations in tenths is convolved band by band, conditional on the common part
/// of the errors, which is integrated over. Noise criteria are kept when every band is; their
/// probability is a product. Sums (Xw + C, E1332) are drawn. Derived here.
///
/// `promised` is taken to a whole decibel for ratings, as they are stated.
///
/// # Errors
/// [`RatingError`] as for [`super::propagate`]; RC has no such number.
pub fn promise(
    curve: &Curve,
    sd: &Curve,
    correlation: f64,
    method: Method,
    number: Number,
    options: &Options,
    promised: f64,
) -> Result<Promise, RatingError> {
    let rho = check_correlation(correlation)?;
    if !promised.is_finite() || promised.abs() > crate::error::LARGEST_VALUE {
        return Err(RatingError::Statistic {
            what: "the promised value".to_string(),
            value: promised,
            expected: "give a number of decibels",
        });
    }
    if options.floor_improvement.is_some() {
        return Err(RatingError::NoSuchNumber { method, number: "a promise of an improvement" });
    }
    let direction = match method {
        Method::Iso717Part2 | Method::Nc | Method::Nr | Method::Rc => Direction::AtMost,
        _ => Direction::AtLeast,
    };
    let mut remarks = vec![Remark::new(
        "promise::assumption",
        format!(
            "band errors taken as normal with the standard deviations given, any two bands \
             correlated with {rho}"
        ),
    )];
    if matches!(method, Method::Nc | Method::Nr) && number == Number::Rating {
        let (levels, limits) = criterion(curve, method, options.nc_table, promised);
        let probability = probability_within(&levels, sd, rho, &limits)?;
        let weakest_band = nearest_limit(&levels, sd, &limits);
        return Ok(Promise {
            promised,
            direction,
            probability,
            route: Route::Exact,
            weakest_band,
            remarks,
        });
    }
    let evaluate = Evaluate::of(curve, method, number, options.whole_decibels)?;
    let u = deviations(sd, &evaluate.bands)?;
    let values = evaluate.values(curve);
    let weakest_band = largest_part(&evaluate, &values, &u);
    let bound = bound_over(curve, &evaluate.bands)?;
    if bound != Bound::Exact {
        remarks.push(Remark::new(
            "promise::bound",
            "some band values are only limits; the probability holds for the limits themselves",
        ));
    }
    let (probability, route) = match &evaluate.rule {
        Rule::Contour { contour, unit, sign, offset } => {
            // Rating p means the contour through (p − offset)/sign at 500 Hz.
            let whole = match direction {
                Direction::AtLeast => Tenths::whole(promised.ceil() as i64),
                Direction::AtMost => Tenths::whole(promised.floor() as i64),
            };
            let at_500 = Tenths(sign * (whole - *offset).0);
            let cells = Cells { contour, unit: *unit, at_500, values: &values, u: &u };
            (integrate(rho, |z, own| cells.kept(z, rho.sqrt(), own)), Route::Exact)
        }
        Rule::Sum { .. } => {
            let drawn = monte_carlo(curve, sd, rho, method, number, options, false, DRAWS, SEED)?;
            let kept = drawn
                .iter()
                .filter(|d| match direction {
                    Direction::AtLeast => **d >= promised - 1e-9,
                    Direction::AtMost => **d <= promised + 1e-9,
                })
                .count();
            let p = kept as f64 / drawn.len() as f64;
            let standard_error = (p * (1.0 - p) / drawn.len() as f64).sqrt();
            (p, Route::Drawn { draws: drawn.len(), standard_error })
        }
    };
    Ok(Promise { promised, direction, probability, route, weakest_band, remarks })
}

/// The curve of a noise criterion over the octaves given.
fn criterion(curve: &Curve, method: Method, table: NcTable, number: f64) -> (Curve, Curve) {
    let levels = curve.levels_in_octaves();
    let limits = Curve::from_pairs(
        levels.resolution(),
        levels.iter().filter_map(|(b, _)| {
            let limit = match method {
                Method::Nr => nr_curve::level(number, b),
                _ => nc_curve::level(table, number, b),
            };
            limit.map(|l| (b, l))
        }),
    );
    (levels, limits)
}

/// Probability that levels stay within limits in every band that has both, for normal errors any
/// two of which are correlated. The deviations belong to the same kind of bands as the levels.
///
/// # Errors
/// [`RatingError`] for deviations missing or out of range, or when no band can be compared.
pub fn probability_within(
    levels: &Curve,
    sd: &Curve,
    correlation: f64,
    limits: &Curve,
) -> Result<f64, RatingError> {
    let rho = check_correlation(correlation)?;
    let bands: Vec<Midband> =
        levels.iter().map(|(b, _)| b).filter(|b| limits.get(*b).is_some()).collect();
    if bands.is_empty() {
        return Err(RatingError::Statistic {
            what: "the number of bands with both level and limit".to_string(),
            value: 0.0,
            expected: "give a limit in at least one band that has a level",
        });
    }
    let u = deviations(sd, &bands)?;
    let mut margins = Vec::new();
    for band in &bands {
        if let (Some(level), Some(limit)) = (levels.get(*band), limits.get(*band)) {
            check_decibels(*band, level.value)?;
            check_decibels(*band, limit.value)?;
            margins.push(limit.value - level.value);
        }
    }
    let common = rho.sqrt();
    Ok(integrate(rho, |z, own| {
        margins
            .iter()
            .zip(&u)
            .map(|(m, u)| {
                let (m, s) = (m - u * common * z, u * own);
                // Without spread the band is within or not.
                if s > 0.0 { normal_cdf(m / s) } else { f64::from(u8::from(m >= -1e-9)) }
            })
            .product()
    }))
}

fn nearest_limit(levels: &Curve, sd: &Curve, limits: &Curve) -> Option<Midband> {
    let mut worst: Option<(Midband, f64)> = None;
    for (band, limit) in limits.iter() {
        let (Some(level), Some(u)) = (levels.get(band), sd.get(band)) else { continue };
        let margin = (limit.value - level.value) / u.value.max(1e-6);
        if worst.is_none_or(|(_, w)| margin < w) {
            worst = Some((band, margin));
        }
    }
    worst.map(|(b, _)| b)
}

fn largest_part(evaluate: &Evaluate, values: &[f64], u: &[f64]) -> Option<Midband> {
    let c = sensitivities(evaluate, values);
    let mut best: Option<(Midband, f64)> = None;
    for ((band, c), u) in evaluate.bands.iter().zip(c).zip(u) {
        let part = (c * u).abs();
        if part > 0.0 && best.is_none_or(|(_, p)| part > p) {
            best = Some((*band, part));
        }
    }
    best.map(|(b, _)| b)
}

/// Mean of `given(z, √(1−ρ))` over the standard normal common part z.
fn integrate(rho: f64, given: impl Fn(f64, f64) -> f64) -> f64 {
    if rho == 0.0 {
        return given(0.0, 1.0);
    }
    let own = (1.0 - rho).sqrt();
    if own < 1e-6 {
        // All bands move together: kept on one side of a single z, found by halving.
        let kept = |z: f64| given(z, 0.0) > 0.5;
        let (mut low, mut high) = (-40.0, 40.0);
        let rising = kept(high) && !kept(low);
        if kept(low) == kept(high) {
            return f64::from(u8::from(kept(0.0)));
        }
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if kept(middle) == rising { high = middle } else { low = middle }
        }
        return if rising { 1.0 - normal_cdf(high) } else { normal_cdf(low) };
    }
    // The trapezoid is exact to many digits for a smooth integrand; the more the bands move
    // together the steeper it is, hence the finer step. Seven deviations hold all but 3e-12.
    let step = (0.35 * own / rho.sqrt()).clamp(0.03, 0.25);
    let n = (7.0 / step).ceil() as i32;
    let (mut sum, mut weights) = (0.0, 0.0);
    for i in -n..=n {
        let z = f64::from(i) * step;
        let weight = (-0.5 * z * z).exp();
        // Far tails cannot change the fifth digit and cost as much as the middle.
        if weight > 1e-8 {
            sum += weight * given(z, own);
            weights += weight;
        }
    }
    sum / weights
}

/// A contour held against bands with normal errors, in cells of the rounded data.
struct Cells<'a> {
    contour: &'a Contour,
    /// Tenths per cell: 1, or 10 where data are taken to whole decibels.
    unit: i64,
    at_500: Tenths,
    values: &'a [f64],
    u: &'a [f64],
}

impl Cells<'_> {
    /// Probability that every rule is kept, given the common part of the errors.
    fn kept(&self, z: f64, common: f64, own: f64) -> f64 {
        let contour = self.contour;
        let most = usize::try_from(contour.sum_limit.0 / self.unit).unwrap_or(0);
        let single = contour
            .single_limit
            .map_or(most, |l| usize::try_from(l.0 / self.unit).unwrap_or(0).min(most));
        let reference_500 = contour.reference[contour.at_500] * 10;
        // Probability of each sum of deviations so far, 0 to `most` cells.
        let mut sums = vec![0.0; most + 1];
        sums[0] = 1.0;
        let mut reached = 0usize;
        for ((r, value), u) in contour.reference.iter().zip(self.values).zip(self.u) {
            let limit = self.at_500.0 - reference_500 + r * 10;
            let mean = value + u * common * z;
            // Turned so that a deviation is a value below the limit.
            let (mean, limit) = match contour.unfavourable {
                Unfavourable::Below => (mean, limit),
                Unfavourable::Above => (-mean, -limit),
            };
            let falling = contour.unfavourable == Unfavourable::Above;
            // Probability that the value rounds to at least `limit − k cells`.
            let at_least = |k: usize| {
                // A value rounds up to v from half a cell below it; turned values round down.
                let edge = (limit - k as i64 * self.unit) as f64 / 10.0 - self.unit as f64 / 20.0;
                let s = u * own;
                if s > 0.0 {
                    normal_cdf((mean - edge) / s)
                } else {
                    let over = if falling { mean - edge > 1e-9 } else { mean - edge >= -1e-9 };
                    f64::from(u8::from(over))
                }
            };
            let mut cells = Vec::with_capacity(single + 1);
            let mut before = 0.0;
            for k in 0..=single {
                let now = at_least(k);
                cells.push(now - before);
                before = now;
                // Nothing is left below: the rest of the cells are empty.
                if 1.0 - now < 1e-15 {
                    break;
                }
            }
            let mut next = vec![0.0; most + 1];
            for (sum, p) in sums.iter().enumerate().take(reached + 1).filter(|(_, p)| **p > 0.0) {
                for (k, q) in cells.iter().enumerate().take(most + 1 - sum) {
                    next[sum + k] += p * q;
                }
            }
            reached = (reached + cells.len() - 1).min(most);
            sums = next;
        }
        sums.iter().sum::<f64>().clamp(0.0, 1.0)
    }
}
