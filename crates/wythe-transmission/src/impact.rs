//! Impact sound of floors: what the standard tapping machine makes below, ISO 12354-2.

use std::f64::consts::PI;

use wythe_bands::{Air, Hertz, Level, SurfaceMass};
use wythe_building::mounting;
use wythe_partition::free_radiation_factor;

use crate::PerBand;
use crate::flanking::A0;
use crate::plate::{Float, Plate, centre};

/// Weighted normalised impact level of a bare heavy floor, L_n,w,eq = 164 − 35 lg m′, for 100 to
/// 600 kg/m²; `None` outside. Source: ISO 12354-2 (formula transcribed, range from memory).
/// 160 mm of concrete with 368 kg/m² give 74.2 dB.
///
/// ```
/// use wythe_bands::SurfaceMass;
/// let l = wythe_transmission::impact::weighted_bare(SurfaceMass(368.0)).unwrap();
/// assert!((l.0 - 74.2).abs() < 0.05);
/// ```
pub fn weighted_bare(mass: SurfaceMass) -> Option<Level> {
    (100.0..=600.0).contains(&mass.0).then(|| Level(164.0 - 35.0 * mass.0.log10()))
}

/// Mean-square force of the standard tapping machine per hertz, N²/Hz: five hammers of 0.5 kg
/// from 40 mm, ten blows a second that do not bounce: 2 f_s (m v)² with v = √(2 g h). Derived;
/// with it the general formula below gives 154.9 dB for concrete where ISO 12354-2 has 155.
const TAPPING_FORCE: f64 = 2.0 * 10.0 * 0.25 * 2.0 * 9.81 * 0.04;

/// Normalised impact level of a bare homogeneous plate in one third-octave band, dB re 20 µPa at
/// 10 m²: F² Re Y into the plate, η out of it, σ into the air.
///
///   W_in = F²/(8 √(B m′)),  W = ρc σ W_in/(ω η m′),  L_n = 10 lg(4 ρc W/(A₀ p₀²))
///
/// For concrete this is L_n = 155 − 30 lg m′ + 10 lg T_s + 10 lg σ + 10 lg(f/1000) of ISO 12354-2
/// Annex B (from memory). Valid while the hammers are light beside the plate.
pub fn bare_plate(mass: f64, critical: f64, loss: f64, area: f64, f: Hertz, air: Air) -> Level {
    let c = air.sound_speed();
    let stiffness = mass * (c * c / (2.0 * PI * critical)).powi(2);
    let width = f.0 * (10f64.powf(0.05) - 10f64.powf(-0.05));
    let taken = TAPPING_FORCE * width / (8.0 * (stiffness * mass).sqrt());
    let side = area.max(0.1).sqrt();
    let sigma = free_radiation_factor(f.0, critical, side, side, c);
    let radiated = air.impedance() * sigma * taken / (2.0 * PI * f.0 * loss * mass);
    let pressure = 4.0 * air.impedance() * radiated / A0;
    Level(10.0 * (pressure / (Level::REFERENCE_PASCAL * Level::REFERENCE_PASCAL)).log10())
}

/// What a floating layer takes off the impact level, dB, by its frequency over f₀: nothing below
/// f₀/√2, 4 dB worse about f₀ (practice), above f₀√2 30 lg(f/f₀) for a wet screed and 40 lg(f/f₀)
/// for a dry or asphalt layer; held to 25 dB unless measured.
///
/// Source: ISO 12354-2 Annex C, from memory. The layer makes things worse about f₀.
pub fn floating_layer(f: Hertz, f0: Hertz, dry: bool, measured: bool) -> f64 {
    let r = f.0 / f0.0;
    let root = std::f64::consts::SQRT_2;
    let gain = if !(r > 1.0 / root) {
        0.0
    } else if r < root {
        -4.0
    } else {
        (if dry { 40.0 } else { 30.0 }) * r.log10()
    };
    if measured { gain } else { gain.min(mounting::SINGLE_STAGE_CAP.0) }
}

/// A floating layer heavier than this, kg/m², is taken as a wet screed (common practice).
const SCREED: f64 = 60.0;

/// Natural frequency of what floats on the trapped air (and the wool in it) alone; pads and
/// springs come on top and only raise it.
pub(crate) fn on_trapped_air(float: Float) -> Option<Hertz> {
    let stiffness = mounting::trapped_air_stiffness(wythe_bands::Metre(float.gap), float.filled);
    mounting::by_stiffness(SurfaceMass(float.mass), stiffness)
}

/// Normalised impact level of untreated timber-joist floors, dB, as a mean of a range: level with
/// frequency to 315 Hz, then falling as light boards soften the blow. Shape of the lightweight
/// reference floor of ISO 717-2, from memory; single floors scatter by 8 dB about it.
fn framed(f: Hertz) -> f64 {
    78.0 - (9.0 * (f.0 / 315.0).log2()).clamp(0.0, 40.0)
}

/// Deviation of the impact level of a heavy floor, dB (practice).
const HEAVY_DEVIATION: f64 = 4.0;
/// Deviation of the impact level of a framed floor, dB: it is a range, not a value (practice).
const FRAMED_DEVIATION: f64 = 8.0;

/// Normalised impact level of a floor.
#[derive(Clone, Debug, PartialEq)]
pub struct ImpactLevel {
    /// Level below it per band, L_n, dB.
    pub below: PerBand,
    /// The same without what hangs below: what goes along the structure starts from it. `None` of
    /// a framed floor.
    pub struck: Option<PerBand>,
    /// Standard deviation, dB.
    pub deviation: f64,
    /// Natural frequency of what floats on it, on the trapped air and wool alone: the first 1.4
    /// times of it on are better than without, about it worse.
    pub floating: Option<Hertz>,
}

impl ImpactLevel {
    /// Bands that the floating layer makes better, and bands it makes worse.
    pub fn bands(&self) -> (Vec<wythe_bands::Band>, Vec<wythe_bands::Band>) {
        let gain = |b: &wythe_bands::Band| {
            self.floating.map_or(0.0, |f0| floating_layer(b.centre(), f0, true, true))
        };
        let all = || wythe_bands::Band::all().take(crate::BANDS);
        (all().filter(|b| gain(b) > 0.0).collect(), all().filter(|b| gain(b) < 0.0).collect())
    }
}

/// Normalised impact level of a floor per band. The upper side is side b of the build-up; what
/// hangs below counts by its airborne improvement (practice).
pub(crate) fn of_floor(plate: &Plate, loss: impl Fn(f64) -> f64, air: Air) -> ImpactLevel {
    let Some(critical) = plate.critical.filter(|_| plate.heavy) else {
        return ImpactLevel {
            below: std::array::from_fn(|b| framed(centre(b))),
            struck: None,
            deviation: FRAMED_DEVIATION,
            floating: None,
        };
    };
    let floating = plate.floats[1].and_then(|f| on_trapped_air(f).map(|f0| (f0, f.mass < SCREED)));
    let struck: PerBand = std::array::from_fn(|b| {
        let f = centre(b);
        let bare = bare_plate(plate.mass, critical, loss(f.0), plate.area, f, air).0;
        bare - floating.map_or(0.0, |(f0, dry)| floating_layer(f, f0, dry, false))
    });
    ImpactLevel {
        below: std::array::from_fn(|b| {
            struck[b] - plate.linings[0][b].min(mounting::SINGLE_STAGE_CAP.0)
        }),
        struck: Some(struck),
        deviation: HEAVY_DEVIATION,
        floating: floating.map(|(f0, _)| f0),
    }
}
