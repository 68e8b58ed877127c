//! Resilient mountings: natural frequency, trapped air, what is gained and what is lost.

use std::f64::consts::PI;

use wythe_bands::{Band, Hertz, LevelDifference, Metre, SurfaceMass};

use crate::Mounting;

/// Most a single-stage mounting is credited with unless it was measured, dB.
///
/// Source: BBC Research Department report 1989/2 (abstract): single-stage studio isolation was
/// limited to about 25 dB at all frequencies.
pub const SINGLE_STAGE_CAP: LevelDifference = LevelDifference(25.0);

/// Damping ratio taken where none is stated: rubber and wool (common practice, no source).
pub const USUAL_DAMPING: f64 = 0.05;

/// Natural frequency of a linear spring from its static deflection, f₀ = √(g/δ)/2π; 15.76/√δ with
/// δ in millimetres. Rubber is stiffer when it moves than when it stands: take its dynamic
/// stiffness instead. `None` for a deflection that is not above zero.
///
/// ```
/// use wythe_bands::Metre;
/// let f = wythe_building::mounting::by_deflection(Metre(0.025)).unwrap();
/// assert!((f.0 - 3.15).abs() < 0.01);
/// ```
pub fn by_deflection(deflection: Metre) -> Option<Hertz> {
    const GRAVITY: f64 = 9.806_65;
    (deflection.0 > 0.0 && deflection.0.is_finite())
        .then(|| Hertz((GRAVITY / deflection.0).sqrt() / (2.0 * PI)))
}

/// Stiffness per area of the air trapped in a gap, N/m³.
///
/// 0.142/d MN/m³ with free air (adiabatic, 1.4 p/d, derived), 0.111/d with a porous fill (nearly
/// isothermal; from memory of ISO 9052-1). Zero for a gap of no depth, which traps none.
pub fn trapped_air_stiffness(depth: Metre, filled: bool) -> f64 {
    if !(depth.0 > 0.0 && depth.0.is_finite()) {
        return 0.0;
    }
    (if filled { 0.111e6 } else { 0.142e6 }) / depth.0
}

/// Natural frequency of a mass per area on stiffnesses per area that add, N/m³. `None` where the
/// mass or the stiffness is not above zero.
///
///   f₀ = √(s′/m′)/2π, which is 159.2 √(s′/m′) with s′ in MN/m³ (the trade rounds to 160).
///
/// ```
/// use wythe_bands::{Metre, SurfaceMass};
/// use wythe_building::mounting::{by_stiffness, trapped_air_stiffness};
/// // 5 Hz springs do not make a 5 Hz floor: 50 mm of trapped air under 100 kg/m² alone is 26.8 Hz.
/// let f = by_stiffness(SurfaceMass(100.0), trapped_air_stiffness(Metre(0.05), false)).unwrap();
/// assert!((f.0 - 26.8).abs() < 0.1);
/// ```
pub fn by_stiffness(mass: SurfaceMass, stiffness: f64) -> Option<Hertz> {
    (mass.0 > 0.0 && mass.0.is_finite() && stiffness > 0.0 && stiffness.is_finite())
        .then(|| Hertz((stiffness / mass.0).sqrt() / (2.0 * PI)))
}

impl Mounting {
    /// Force passed on over force put in at one frequency (pure ratio); above 1 near resonance.
    ///
    ///   T = √((1 + (2ζr)²)/((1 − r²)² + (2ζr)²)),  r = f/f₀
    ///
    /// Source: single-degree-of-freedom transmissibility, any vibration textbook; the worked case
    /// f₀ 3.15 Hz at 25 Hz with ζ 0.05 gives 0.0206.
    pub fn transmissibility(&self, f: Hertz) -> f64 {
        let r = f.0 / self.natural_frequency.0;
        let z = 2.0 * self.damping.max(1e-4) * r;
        ((1.0 + z * z) / ((1.0 - r * r).powi(2) + z * z)).sqrt()
    }

    /// What the mounting takes off in one band, dB: the mean of the energy passed over the band;
    /// negative where it makes things worse. Held to [`SINGLE_STAGE_CAP`] unless measured.
    pub fn improvement(&self, band: Band) -> LevelDifference {
        // Nine frequencies a band: the peak of a lightly damped mounting is narrower than a third.
        let (low, high) = (band.lower_edge().0, band.upper_edge().0);
        let mean = (0..9)
            .map(|i| {
                let f = low * (high / low).powf((f64::from(i) + 0.5) / 9.0);
                self.transmissibility(Hertz(f)).powi(2)
            })
            .sum::<f64>()
            / 9.0;
        let gain = -10.0 * mean.log10();
        LevelDifference(if self.measured { gain } else { gain.min(SINGLE_STAGE_CAP.0) })
    }

    /// Bands made better and bands made worse, in the order of the axis.
    pub fn bands(&self) -> (Vec<Band>, Vec<Band>) {
        let change = |b: &Band| self.improvement(*b).0;
        (
            Band::all().filter(|b| change(b) > 0.5).collect(),
            Band::all().filter(|b| change(b) < -0.5).collect(),
        )
    }
}
