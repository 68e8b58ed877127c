//! Slits, seals and holes: sound through openings smaller than its wavelength.

use std::f64::consts::PI;

use nalgebra::Complex;
use wythe_bands::{Air, Hertz, Metre, Transmittance};

type C = Complex<f64>;

/// A straight slit through a wall or round a leaf.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slit {
    /// Width w of the gap.
    pub width: Metre,
    /// Depth d in the direction of sound.
    pub depth: Metre,
    /// Length along the edge; infinite for the textbook slit.
    pub length: Metre,
    /// Whether it lies along an edge (door to floor, wall to ceiling) rather than amid a plane.
    pub along_edge: bool,
}

/// Euler's constant as printed with the formula.
const EULER: f64 = 0.577_22;

/// Transmittance of a slit, referred to its own area, in a diffuse field and without friction.
///
///   τ = m K cos²(Ke) / (2n² { sin²(KX + 2Ke)/cos²(Ke) + (K²/2n²)[1 + cos(KX + 2Ke) cos(KX)] })
///
/// K = 2πf w/c, X = d/w, e = (1/π)(ln(8/K) − 0.57722), m = 8; n = 1 amid a plane, ½ along an
/// edge. Holds for K < 1 and a slit longer than half a wavelength. τ above 1 is no error: a slit
/// gathers more sound than falls on its area.
///
/// Source: Gomperts 1964, Gomperts & Kihlman 1967 (from memory; a two-port line with radiation
/// loads agrees within 0.1 dB, see [`Slit::transmittance`] and the tests).
pub fn gomperts_kihlman_1967(slit: Slit, frequency: Hertz, air: Air) -> Transmittance {
    let (w, n) = (slit.width.0, if slit.along_edge { 0.5 } else { 1.0 });
    let k = 2.0 * PI * frequency.0 * w / air.sound_speed();
    let x = slit.depth.0 / w;
    let e = ((8.0 / k).ln() - EULER) / PI;
    let cos_e = (k * e).cos();
    let inside = ((k * x + 2.0 * k * e).sin() / cos_e).powi(2)
        + k * k / (2.0 * n * n) * (1.0 + (k * x + 2.0 * k * e).cos() * (k * x).cos());
    Transmittance(8.0 * k * cos_e * cos_e / (2.0 * n * n * inside))
}

impl Slit {
    /// Transmittance referred to the slit's own area, with friction and heat at its walls, and
    /// with a length that may be short against the wavelength.
    ///
    /// A line with complex density and stiffness between two radiation loads z = r + jx:
    ///
    ///   τ = (2/n) · 4r / |2z cos γ + j(Z + z²/Z) sin γ|²
    ///
    /// r is K/(2n) for a slit longer than half a wavelength, k²S/(2πn) for a shorter one; x is the
    /// end correction tan(Ke). For wide long slits this is [`gomperts_kihlman_1967`]. Where the
    /// width nears the wavelength (K from 0.7 to 1.4) it goes over into τ = 1.
    ///
    /// Source: two-port derived here; losses of the low-reduced-frequency solution for parallel
    /// plates (Zwikker & Kosten 1949, from memory).
    pub fn transmittance(&self, frequency: Hertz, air: Air) -> Transmittance {
        let (w, d, l) = (self.width.0, self.depth.0, self.length.0);
        if !(w > 0.0 && d >= 0.0 && l > 0.0 && frequency.0 > 0.0) {
            return Transmittance(0.0);
        }
        let n = if self.along_edge { 0.5 } else { 1.0 };
        let k = 2.0 * PI * frequency.0 / air.sound_speed();
        let kw = k * w;
        let wide = ((kw.ln() - 0.7f64.ln()) / 2f64.ln()).clamp(0.0, 1.0);
        if wide >= 1.0 {
            return Transmittance(1.0);
        }
        // Shorter than half a wavelength it radiates like a spot, not like a line.
        let r = (kw / 2.0).min(k * k * w * l / (2.0 * PI)) / n;
        let reference = kw.max((PI * w / l).min(1.0));
        let e = ((8.0 / reference).ln() - EULER) / PI;
        let x = (kw * e).tan();
        let line = Line::between_plates(w, frequency.0, air);
        let tau = 2.0 / n * line.transmittance(C::new(r, x), d);
        Transmittance(tau * (1.0 - wide) + wide)
    }
}

/// A narrow channel as an acoustic line, relative to open air.
struct Line {
    /// Characteristic impedance / ρc.
    impedance: C,
    /// Wavenumber, 1/m.
    wavenumber: C,
}

impl Line {
    /// Air between parallel plates `w` apart.
    fn between_plates(w: f64, frequency: f64, air: Air) -> Line {
        let omega = 2.0 * PI * frequency;
        let rho = air.density();
        // Sutherland's law for the viscosity of air, Pa·s; Prandtl number 0.71, γ = 1.4.
        let t = air.celsius + 273.15;
        let mu = 1.458e-6 * t.powf(1.5) / (t + 110.4);
        let arg = |nu: f64| {
            let s = C::new(0.0, omega / nu).sqrt() * (w / 2.0);
            // tanh(s)/s; for wide channels tanh is 1.
            if s.re > 18.0 { s.inv() } else { s.tanh() / s }
        };
        let fv = arg(mu / rho);
        let fh = arg(mu / rho / 0.71);
        let one = C::new(1.0, 0.0);
        let density = one / (one - fv);
        let stiffness = one / (one + fh * 0.4);
        let k0 = omega / air.sound_speed();
        let mut wavenumber = (density / stiffness).sqrt() * k0;
        if wavenumber.im > 0.0 {
            wavenumber = -wavenumber;
        }
        Line { impedance: (density * stiffness).sqrt(), wavenumber }
    }

    /// Transmittance for plane incidence between two equal loads, relative to the channel's area.
    fn transmittance(&self, z: C, depth: f64) -> f64 {
        let gamma = self.wavenumber * depth;
        // A channel that swallows 150 dB is closed; beyond, the sine overflows.
        if gamma.im < -17.0 {
            return 0.0;
        }
        let j = C::new(0.0, 1.0);
        let whole =
            z * 2.0 * gamma.cos() + j * (self.impedance + z * z / self.impedance) * gamma.sin();
        4.0 * z.re / whole.norm_sqr()
    }
}

/// Transmittance of a circular hole, plane wave at normal incidence, referred to its area.
///
///   τ = 4R₀ / (4R₀²(cos kL − X₀ sin kL)² + [(R₀² − X₀² + 1) sin kL + 2X₀ cos kL]²)
///   R₀ = 1 − J₁(2ka)/(ka),  X₀ = H₁(2ka)/(ka)
///
/// In a diffuse field τ is double that while ka ≪ 1 and tends to 1 for large holes; see
/// [`hole_diffuse`].
///
/// Source: Wilson & Soroka 1965 (from memory; checked against a two-port line).
pub fn wilson_soroka_1965(
    radius: Metre,
    depth: Metre,
    frequency: Hertz,
    air: Air,
) -> Transmittance {
    let k = 2.0 * PI * frequency.0 / air.sound_speed();
    let ka = k * radius.0;
    let (r0, x0) = piston(ka);
    let (s, c) = (k * depth.0).sin_cos();
    let first = 4.0 * r0 * r0 * (c - x0 * s).powi(2);
    let second = ((r0 * r0 - x0 * x0 + 1.0) * s + 2.0 * x0 * c).powi(2);
    Transmittance(4.0 * r0 / (first + second))
}

/// Transmittance of a round hole in a diffuse field: double the normal-incidence value for a
/// small hole, going over into 1 as ka passes from 1 to 4 (the bridge between is ours).
pub fn hole_diffuse(radius: Metre, depth: Metre, frequency: Hertz, air: Air) -> Transmittance {
    if !(radius.0 > 0.0 && depth.0 >= 0.0 && frequency.0 > 0.0) {
        return Transmittance(0.0);
    }
    let ka = 2.0 * PI * frequency.0 / air.sound_speed() * radius.0;
    let large = (ka.ln() / 4f64.ln()).clamp(0.0, 1.0);
    if large >= 1.0 {
        return Transmittance(1.0);
    }
    let small = 2.0 * wilson_soroka_1965(radius, depth, frequency, air).0;
    Transmittance(small * (1.0 - large) + large)
}

/// Radiation resistance and reactance of a piston in a baffle, relative to ρc.
///
/// Both Bessel's J₁ and Struve's H₁ come from their integral
/// (2z/π) ∫₀^{π/2} {cos, sin}(z cos θ) sin²θ dθ, z = 2ka, by Simpson's rule.
fn piston(ka: f64) -> (f64, f64) {
    // Beyond, the piston radiates as a plane wave within 1 %.
    if ka > 60.0 {
        return (1.0, 2.0 / (PI * ka));
    }
    let z = 2.0 * ka;
    // 400 steps carry 120 oscillations of the argument at most.
    const STEPS: usize = 400;
    let h = PI / 2.0 / STEPS as f64;
    let (mut j1, mut h1) = (0.0, 0.0);
    for i in 0..=STEPS {
        let weight = match i {
            0 | STEPS => 1.0,
            i if i % 2 == 1 => 4.0,
            _ => 2.0,
        };
        let (sin, cos) = (i as f64 * h).sin_cos();
        j1 += weight * (z * cos).cos() * sin * sin;
        h1 += weight * (z * cos).sin() * sin * sin;
    }
    let scale = 2.0 * z / PI * h / 3.0;
    (1.0 - j1 * scale / ka, h1 * scale / ka)
}
