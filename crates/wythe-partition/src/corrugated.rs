//! A sheet with waves in it: the same metal, stiff one way and soft the other.

use std::f64::consts::PI;

use wythe_bands::{Hertz, Metre, Pascal, SurfaceMass};

/// A sheet with sinusoidal waves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrugation {
    /// Thickness of the sheet.
    pub thickness: Metre,
    /// Height of the waves from trough to crest.
    pub height: Metre,
    /// Length of one wave.
    pub wavelength: Metre,
    /// Young's modulus.
    pub young: Pascal,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Mass per area of the flat sheet.
    pub flat_mass: SurfaceMass,
}

impl Corrugation {
    /// Length along the wave over length straight, 1 + π²H²/(4l²) with amplitude H and half
    /// wavelength l.
    pub fn developed(&self) -> f64 {
        let h = 0.5 * self.height.0;
        let l = 0.5 * self.wavelength.0;
        1.0 + (PI * h / (2.0 * l)).powi(2)
    }

    /// Mass per area covered: the developed length weighs. Without it the worked example of
    /// Vigran 2008, p. 96, comes out 5 % off.
    pub fn mass(&self) -> SurfaceMass {
        self.flat_mass * self.developed()
    }

    /// Bending stiffness per width of the flat sheet, N·m.
    pub fn flat_stiffness(&self) -> f64 {
        self.young.0 * self.thickness.0.powi(3) / (12.0 * (1.0 - self.poisson.powi(2)))
    }

    /// Bending stiffness per width across and along the waves, N·m.
    ///
    /// Soft way B = B_flat/developed; stiff way E·I with
    /// I = H²h/2 [1 − 0.81/(1 + 2.5 (H/2l)²)].
    ///
    /// Source: Timoshenko & Woinowsky-Krieger 1959 (from memory), which reproduces the printed
    /// frequencies of Vigran 2008, p. 96.
    pub fn stiffness(&self) -> (f64, f64) {
        let h = 0.5 * self.height.0;
        let l = 0.5 * self.wavelength.0;
        let inertia =
            0.5 * h * h * self.thickness.0 * (1.0 - 0.81 / (1.0 + 2.5 * (h / (2.0 * l)).powi(2)));
        let soft = self.flat_stiffness() / self.developed();
        // A wave too low to stiffen anything leaves the flat sheet.
        (soft, (self.young.0 * inertia).max(soft))
    }

    /// Natural frequency of mode (m, n) of a simply supported rectangle, m half waves along the
    /// stiff side `a`, n along `b`:
    /// f = (π/2) √{[B_s (m/a)⁴ + 2B (mn/ab)² + B_w (n/b)⁴]/m″}.
    pub fn mode(&self, m: f64, n: f64, a: Metre, b: Metre) -> Hertz {
        let (soft, stiff) = self.stiffness();
        let (x, y) = (m / a.0, n / b.0);
        let sum =
            stiff * x.powi(4) + 2.0 * self.flat_stiffness() * (x * y).powi(2) + soft * y.powi(4);
        Hertz(PI / 2.0 * (sum / self.mass().0).sqrt())
    }

    /// Critical frequencies, the lower one for waves the stiff way.
    pub fn critical(&self, sound_speed: f64) -> (Hertz, Hertz) {
        let (soft, stiff) = self.stiffness();
        let of = |b: f64| Hertz(sound_speed.powi(2) / (2.0 * PI) * (self.mass().0 / b).sqrt());
        (of(stiff), of(soft))
    }
}
