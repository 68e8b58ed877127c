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

/// Nodes per band over the logarithm of frequency.
pub(crate) const PER_BAND: usize = 5;

/// The rule over a band.
pub(crate) fn band_rule() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(|| gauss(PER_BAND))
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
