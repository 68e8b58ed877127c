//! Sheets with a viscoelastic layer between them: a plate whose stiffness and loss depend on
//! frequency.

use std::f64::consts::PI;

use nalgebra::Complex;

/// Shear modulus of the damping layer at 1 kHz, room temperature, Pa.
///
/// Unverified: the middle of the transition range of damping polymers in Ver & Beranek 2006,
/// Table 14.1 (Young's modulus 7 MPa to 700 MPa in transition, a third of it in shear, soft
/// compounds for gypsum board at the low end).
const CORE_SHEAR_AT_1K: f64 = 1.0e6;
/// The shear modulus rises with frequency as f^0.5, which is what a loss factor near 1 asks for
/// (fractional-derivative solid of order α: loss tan(πα/2)). Derived.
const CORE_ORDER: f64 = 0.5;
/// Loss factor of the core, 0.5 to 1.9 in Ver & Beranek 2006, Table 14.1: tan(π/4) = 1.
const CORE_LOSS: f64 = 1.0;
/// Thickness of the layer, m, by common practice (no source).
const CORE_THICKNESS: f64 = 0.000_5;

/// One face of the stack.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Face {
    /// Bending stiffness per width, N·m.
    pub bending: f64,
    /// Extensional stiffness E·h, N/m.
    pub extension: f64,
    /// Thickness, m.
    pub thickness: f64,
}

/// Faces from side a, a damping layer between each and the next.
#[derive(Clone, Debug)]
pub(crate) struct DampedStack {
    pub faces: Vec<Face>,
}

impl DampedStack {
    /// Bending stiffness per width, N·m, and loss factor at a frequency, for total mass `mass`.
    ///
    ///   B* = B₁ + B₃ + B₀ · g*/(1 + g*),  g* = G₂(1 + jβ)/(k_b² h₂) · (1/E₁h₁ + 1/E₃h₃)
    ///
    /// with B₀ = d² E₁h₁E₃h₃/(E₁h₁ + E₃h₃), d the distance of the faces' middles. k_b belongs to
    /// the stiffness sought, so it is iterated. More than two faces are joined one by one, the
    /// joined ones being one face for the next.
    ///
    /// Source: Ross, Ungar & Kerwin 1959 (from memory; both limits are checked in the tests:
    /// soft core, B₁ + B₃; stiff core, one glued plate).
    pub fn stiffness_at(&self, frequency: f64, mass: f64) -> (f64, f64) {
        let g2 = CORE_SHEAR_AT_1K * (frequency.max(1.0) / 1000.0).powf(CORE_ORDER);
        self.with_core(frequency, mass, g2, CORE_LOSS, CORE_THICKNESS)
    }

    pub(crate) fn with_core(
        &self,
        frequency: f64,
        mass: f64,
        shear: f64,
        core_loss: f64,
        core: f64,
    ) -> (f64, f64) {
        let w = 2.0 * PI * frequency.max(1.0);
        let Some(first) = self.faces.first() else { return (0.0, 0.0) };
        let mut joined = *first;
        let mut b = Complex::new(first.bending, 0.0);
        for face in &self.faces[1..] {
            let sum = joined.extension + face.extension;
            let product = joined.extension * face.extension;
            let d = core + 0.5 * (joined.thickness + face.thickness);
            let b0 = d * d * product / sum;
            let apart = b + face.bending;
            let mut whole = apart;
            // Four passes leave less than 0.1 % in the stiffness; the law converges fast since
            // k_b² goes as the square root of the stiffness.
            for _ in 0..4 {
                let kb2 = w * (mass / whole.re).sqrt();
                let g = Complex::new(1.0, core_loss) * (shear * sum / (kb2 * core * product));
                whole = apart + g / (g + 1.0) * b0;
            }
            b = whole;
            joined.thickness += core + face.thickness;
            joined.extension = sum;
        }
        (b.re, b.im / b.re)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair() -> DampedStack {
        let (e, h) = (2.5e9, 0.0125);
        let face = Face { bending: e * h * h * h / 12.0, extension: e * h, thickness: h };
        DampedStack { faces: vec![face, face] }
    }

    #[test]
    fn a_soft_core_leaves_the_sheets_apart_and_a_stiff_one_glues_them() {
        let stack = pair();
        let single = stack.faces[0].bending;
        let (soft, _) = stack.with_core(1000.0, 20.0, 1.0, 1.0, 1e-6);
        assert!((soft / (2.0 * single) - 1.0).abs() < 1e-3);
        let (stiff, loss) = stack.with_core(1000.0, 20.0, 1e15, 1.0, 1e-6);
        assert!((stiff / (8.0 * single) - 1.0).abs() < 1e-3, "{}", stiff / single);
        assert!(loss < 1e-3);
    }

    #[test]
    fn a_usual_core_damps_by_a_tenth_or_more_over_the_speech_range() {
        for f in [250.0, 500.0, 1000.0, 2000.0] {
            let (_, loss) = pair().stiffness_at(f, 20.0);
            assert!((0.1..0.6).contains(&loss), "{f} Hz: {loss}");
        }
    }
}
