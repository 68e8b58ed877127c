//! Nodes and weights of Gauss's rule, worked out once.

use std::f64::consts::PI;
use std::sync::OnceLock;

/// One rule on the interval 0 to 1.
#[derive(Clone, Debug)]
pub(crate) struct Rule {
    pub nodes: Vec<f64>,
    pub weights: Vec<f64>,
}

/// Gauss-Legendre rule with `n` nodes on 0 to 1, by Newton's method on the Legendre polynomial.
pub(crate) fn gauss(n: usize) -> Rule {
    let mut nodes = vec![0.0; n];
    let mut weights = vec![0.0; n];
    for i in 0..n {
        let mut x = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
        let mut derivative = 1.0;
        // Converges quadratically from this start; ten passes are to rounding.
        for _ in 0..10 {
            let (mut before, mut value) = (1.0, x);
            for k in 2..=n {
                let k = k as f64;
                let next = ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k;
                before = value;
                value = next;
            }
            derivative = n as f64 * (x * value - before) / (x * x - 1.0);
            x -= value / derivative;
        }
        nodes[n - 1 - i] = 0.5 * (1.0 + x);
        weights[n - 1 - i] = 1.0 / ((1.0 - x * x) * derivative * derivative);
    }
    Rule { nodes, weights }
}

/// Sizes of the rules over a band. Five do where nothing happens within a band; nine where a
/// coincidence begins in it; more where a deep empty cavity resonates several times in it.
const SIZES: [usize; 6] = [5, 9, 15, 25, 41, 61];

/// The rule over a band with at least `wanted` nodes, or the largest there is.
pub(crate) fn band_rule(wanted: usize) -> &'static Rule {
    static RULES: OnceLock<Vec<Rule>> = OnceLock::new();
    let rules = RULES.get_or_init(|| SIZES.iter().map(|n| gauss(*n)).collect());
    let i = SIZES.iter().position(|n| *n >= wanted).unwrap_or(SIZES.len() - 1);
    &rules[i]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_for_polynomials_up_to_twice_the_nodes() {
        for n in [2usize, 5, 8, 16] {
            let rule = gauss(n);
            for power in 0..2 * n {
                let sum: f64 = rule
                    .nodes
                    .iter()
                    .zip(&rule.weights)
                    .map(|(x, w)| w * x.powi(power as i32))
                    .sum();
                assert!((sum * (power as f64 + 1.0) - 1.0).abs() < 1e-12, "{n} nodes, x^{power}");
            }
        }
    }
}
