//! Standard deviation of a single number from those of its bands.

use super::evaluate::{Evaluate, Rule, powers};
use super::{Number, SplitMix64, check_correlation, deviations};
use crate::contour::Unfavourable;
use crate::{Curve, Method, Options, RatingError, Tenths};

/// A single number with its standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Propagated {
    /// The number in its 0.1 dB variant (contours) or unrounded (sums), dB.
    pub value: f64,
    /// Its standard deviation, dB.
    pub standard_deviation: f64,
}

/// Propagates standard deviations per band to a single number, to first order, any two bands
/// correlated with `correlation` (0 independent, 1 all together):
/// u² = (1 − ρ) Σ (c_i u_i)² + ρ (Σ c_i u_i)².
///
/// For sums c_i = 10^((L_i − X_i)/10)/Σ, the weights of ISO 12999-1:2020, Annex B. For a contour
/// at rest with the sum of deviations at its limit, moving one of the n bands that deviate moves
/// the contour by 1/n, so c_i = 1/n there and 0 elsewhere; where the rule for single bands holds
/// the contour, c_i = 1 for that band (derived here). First order means small deviations: against
/// Monte Carlo runs with the deviations of ISO 12999-1 situation B and with 1.5 dB throughout it
/// was within 10 %. A band far from the contour may reach it with larger ones; then use
/// [`monte_carlo`].
///
/// # Errors
/// [`RatingError`] for bands or deviations missing or out of range and for the noise criteria,
/// whose highest band changes too abruptly for a first order.
pub fn propagate(
    curve: &Curve,
    sd: &Curve,
    correlation: f64,
    method: Method,
    number: Number,
    options: &Options,
) -> Result<Propagated, RatingError> {
    let rho = check_correlation(correlation)?;
    let evaluate = Evaluate::of(curve, method, number, options.whole_decibels)?;
    let u = deviations(sd, &evaluate.bands)?;
    let values = evaluate.values(curve);
    let c = sensitivities(&evaluate, &values);
    let squares: f64 = c.iter().zip(&u).map(|(c, u)| (c * u).powi(2)).sum();
    let straight: f64 = c.iter().zip(&u).map(|(c, u)| c * u).sum();
    let variance = (1.0 - rho) * squares + rho * straight * straight;
    Ok(Propagated {
        value: evaluate.at(&values, true),
        standard_deviation: variance.max(0.0).sqrt(),
    })
}

/// Change of the number per decibel in each band.
pub(super) fn sensitivities(evaluate: &Evaluate, values: &[f64]) -> Vec<f64> {
    match &evaluate.rule {
        Rule::Sum { weights, sign, .. } => {
            let powers = powers(values, weights, *sign);
            let whole: f64 = powers.iter().sum();
            powers.iter().map(|p| p / whole).collect()
        }
        Rule::Contour { contour, sign, .. } => {
            let data: Vec<Tenths> = values.iter().map(|v| Tenths::nearest(*v)).collect();
            let rest = contour.rest(&data, 1);
            // The rating rises with the data (airborne and impact levels), or falls (E989).
            let sign = *sign as f64;
            if let Some(held) = rest.next_breaks_single.first().filter(|_| !rest.next_breaks_sum) {
                let mut c = vec![0.0; data.len()];
                c[*held] = sign;
                return c;
            }
            debug_assert!(matches!(
                contour.unfavourable,
                Unfavourable::Below | Unfavourable::Above
            ));
            let n = rest.deviations.iter().filter(|d| d.0 > 0).count().max(1);
            rest.deviations.iter().map(|d| if d.0 > 0 { sign / n as f64 } else { 0.0 }).collect()
        }
    }
}

/// Half the difference of the number with all bands raised and all lowered by their deviation:
/// fully correlated bands as ISO 12999-1:2020, Annex B, treats them.
///
/// # Errors
/// As [`propagate`].
pub fn shifted_together(
    curve: &Curve,
    sd: &Curve,
    method: Method,
    number: Number,
    options: &Options,
) -> Result<f64, RatingError> {
    let evaluate = Evaluate::of(curve, method, number, options.whole_decibels)?;
    let u = deviations(sd, &evaluate.bands)?;
    let values = evaluate.values(curve);
    let at = |sign: f64| {
        let moved: Vec<f64> = values.iter().zip(&u).map(|(v, u)| v + sign * u).collect();
        evaluate.at(&moved, true)
    };
    Ok((at(1.0) - at(-1.0)).abs() / 2.0)
}

/// Draws of the number by Monte Carlo, unsorted: `fine` in 0.1 dB or unrounded, otherwise as it
/// would be stated. At most a million draws are made.
///
/// # Errors
/// As [`propagate`].
#[allow(clippy::too_many_arguments)] // Each is one independent choice of the same experiment.
pub fn monte_carlo(
    curve: &Curve,
    sd: &Curve,
    correlation: f64,
    method: Method,
    number: Number,
    options: &Options,
    fine: bool,
    draws: usize,
    seed: u64,
) -> Result<Vec<f64>, RatingError> {
    let rho = check_correlation(correlation)?;
    let evaluate = Evaluate::of(curve, method, number, options.whole_decibels)?;
    let u = deviations(sd, &evaluate.bands)?;
    let values = evaluate.values(curve);
    let mut random = SplitMix64::new(seed);
    let (common, own) = (rho.sqrt(), (1.0 - rho).sqrt());
    let mut moved = values.clone();
    Ok((0..draws.min(1_000_000))
        .map(|_| {
            let z = random.normal();
            for ((m, v), u) in moved.iter_mut().zip(&values).zip(&u) {
                *m = v + u * (common * z + own * random.normal());
            }
            evaluate.at(&moved, fine)
        })
        .collect())
}
