//! Heavy homogeneous elements after ISO 12354-1:2017, Annex B.

use std::f64::consts::PI;

use crate::element::Element;
use crate::leaf::Leaf;
use crate::radiation::{forced_radiation_factor, free_radiation_factor};

/// What Annex B of ISO 12354-1 needs of an element, in the standard's symbols.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeavyElement {
    /// Mass per area m′, kg/m².
    pub m: f64,
    /// Critical frequency, Hz.
    pub fc: f64,
    /// Density of the material, kg/m³.
    pub rho: f64,
    /// Longitudinal wave speed c_L, m/s.
    pub c_l: f64,
    /// Sides, m.
    pub l1: f64,
    /// Sides, m.
    pub l2: f64,
    /// Density of air ρ₀, kg/m³. The standard's examples come out with 1.29 (inferred).
    pub rho0: f64,
    /// Speed of sound c₀, m/s. The standard's examples come out with 340.
    pub c0: f64,
}

impl HeavyElement {
    /// Transmittance at frequency `f`, Hz, for the total loss factor `eta`.
    ///
    /// With b = (2ρ₀c₀/(2πf m′))²:
    ///   above f_c          τ = b · π f_c σ²/(2 f η)
    ///   in the band of f_c τ = b · π σ²/(2 η)
    ///   below              τ = b · [2σ_f + (l₁ + l₂)²/(l₁² + l₂²) √(f_c/f) σ²/η]
    /// and never less than the plateau of thick elements,
    ///   τ = (4ρ₀c₀/(1.1 c_L ρ))² · 0.02/η.
    ///
    /// Source: ISO 12354-1:2017, Annex B (from memory). The columns of Annex L are reproduced to
    /// 0.1 dB in every band from that of f_c upwards; further below f_c this form is up to
    /// 1.2 dB above the printed values, and the difference is not explained.
    pub fn transmittance(&self, f: f64, eta: f64) -> f64 {
        let k = 2.0 * PI * f / self.c0;
        let sigma = free_radiation_factor(f, self.fc, self.l1, self.l2, self.c0);
        let sigma_f = forced_radiation_factor(k, self.l1, self.l2);
        self.with_radiation(f, eta, sigma, sigma_f)
    }

    /// The same with both radiation factors given.
    pub fn with_radiation(&self, f: f64, eta: f64, sigma: f64, sigma_f: f64) -> f64 {
        let b = (2.0 * self.rho0 * self.c0 / (2.0 * PI * f * self.m)).powi(2);
        // Half a third-octave to each side of f_c counts as its band.
        let half_band = 10f64.powf(0.05);
        let tau = if f > self.fc * half_band {
            b * PI * self.fc * sigma * sigma / (2.0 * f * eta)
        } else if f >= self.fc / half_band {
            b * PI * sigma * sigma / (2.0 * eta)
        } else {
            let shape = (self.l1 + self.l2).powi(2) / (self.l1.powi(2) + self.l2.powi(2));
            b * (2.0 * sigma_f + shape * (self.fc / f).sqrt() * sigma * sigma / eta)
        };
        let plateau =
            (4.0 * self.rho0 * self.c0 / (1.1 * self.c_l * self.rho)).powi(2) * 0.02 / eta;
        tau.max(plateau).min(1.0)
    }
}

/// Transmittance of a heavy leaf at one frequency.
pub(crate) fn transmittance(leaf: &Leaf, element: &Element, frequency: f64) -> f64 {
    let bending = leaf.bending(frequency);
    let fc = element.critical(leaf, &bending, 0.0);
    // c_L of the plate from f_c h = √12 c²/(2π c_L): the thin-plate relation read backwards.
    let c_l = 12f64.sqrt() * element.c * element.c / (2.0 * PI * fc * leaf.thickness);
    HeavyElement {
        m: leaf.mass,
        fc,
        rho: leaf.mass / leaf.thickness,
        c_l,
        l1: element.l1,
        l2: element.l2,
        rho0: element.rho,
        c0: element.c,
    }
    .transmittance(frequency, element.loss(leaf, &bending, frequency))
}
