//! The noise the air stream itself makes in a duct, at its bends and dampers, and at its grilles.

use wythe_bands::{Air, Level, Spectrum};
use wythe_building::{Duct, ElbowKind};

use super::{end_reflection, path_loss};
use crate::assemble::per_band;
use crate::{BANDS, PerBand};

/// A third's share of the energy of its octave, dB.
const THIRD: f64 = -4.771_212_547;

/// Sound power level of the stream through a fitting as a whole, dB re 1 pW:
///
///   L_W = 10 + 10 lg S + 60 lg U + 30 lg ξ
///
/// with S the area in m², U the velocity before it in m/s and ξ its loss coefficient Δp/(½ ρ U²).
/// So W ∝ S Δp³ at the same velocity pressure: the power of unsteady forces on a small body.
/// Source: the handbook form for grilles, 10 lg S + 30 lg ξ + 60 lg U − 31.3 in ft² and ft/s
/// (Beranek's, in ASHRAE's tables; from memory), here in metres. That dampers and bends follow it
/// too is practice. A maker's figures go before it. `None` where nothing streams.
///
/// ```
/// // 0.1 m2 of grille at 2 m/s with a loss of three velocity pressures.
/// let l = wythe_transmission::duct::fitting_power(3.0, 0.1, 2.0).unwrap();
/// assert!((l.0 - 32.4).abs() < 0.05);
/// ```
pub fn fitting_power(loss: f64, area: f64, velocity: f64) -> Option<Level> {
    let usable = |v: f64| v > 0.0 && v.is_finite();
    ([loss, area, velocity].into_iter().all(usable))
        .then(|| Level(10.0 + 10.0 * area.log10() + 60.0 * velocity.log10() + 30.0 * loss.log10()))
}

/// The same per third. Octave shape −5.82 − 0.15 A − 1.13 A² dB with A octaves of f below
/// f_p = 160 U (from memory of the same source; the octaves add up to the whole within half a
/// decibel).
pub fn fitting_noise(loss: f64, area: f64, velocity: f64) -> Option<Spectrum<Level>> {
    let whole = fitting_power(loss, area, velocity)?;
    Some(Spectrum::from_fn(|band| {
        let a = (160.0 * velocity / band.centre().0).log2();
        Level(whole.0 - 5.82 - 0.15 * a - 1.13 * a * a + THIRD)
    }))
}

/// Sound power of the stream in a straight duct of this cross-section (m²) and velocity (m/s) per
/// third, dB re 1 pW:
///
///   L_W = 7 + 50 lg v + 10 lg S,  octaves −2 − 26 lg(1.14 + 0.02 f/v)
///
/// Source: VDI 2081, from memory. `None` where nothing streams.
pub fn straight_noise(area: f64, velocity: f64) -> Option<Spectrum<Level>> {
    if !(area > 0.0 && velocity > 0.0 && area.is_finite() && velocity.is_finite()) {
        return None;
    }
    let whole = 7.0 + 50.0 * velocity.log10() + 10.0 * area.log10();
    Some(Spectrum::from_fn(|band| {
        let shape = -2.0 - 26.0 * (1.14 + 0.02 * band.centre().0 / velocity).log10();
        Level(whole + shape + THIRD)
    }))
}

/// Loss coefficients of bends, Δp/(½ ρ v²): from memory of tables of duct fittings, ± 30 %.
pub fn elbow_loss(kind: ElbowKind) -> f64 {
    match kind {
        ElbowKind::Square => 1.2,
        ElbowKind::Vaned => 0.3,
        ElbowKind::Round => 0.25,
    }
}

/// Sound power that the stream brings out of one end, energy per band in units of 1 pW. Bends and
/// dampers are taken to lie in the middle, half of the losses before the end.
pub(super) fn energy_out(duct: &Duct, end: usize, air: Air) -> Option<PerBand> {
    let stream = duct.stream.as_ref()?;
    let opening = duct.ends.get(end)?;
    let section = duct.section.area().0;
    let (inside, at_grille) = (stream.flow / section, stream.flow / opening.opening.0);
    let loss = path_loss(duct);
    let in_middle: Vec<Spectrum<Level>> = duct
        .elbows
        .iter()
        .map(|e| elbow_loss(e.kind))
        .chain(stream.damper)
        .filter_map(|xi| fitting_noise(xi, section, inside))
        .collect();
    let straight = straight_noise(section, inside);
    let grille = fitting_noise(stream.grille_loss, opening.opening.0, at_grille);
    let at = |s: &Spectrum<Level>, b| s.get(b).map_or(0.0, Level::energy);
    Some(per_band(|band| {
        let b = band.index().min(BANDS - 1);
        let middle: f64 = in_middle.iter().map(|s| at(s, band)).sum();
        let within =
            middle * 10f64.powf(-loss[b] / 20.0) + straight.as_ref().map_or(0.0, |s| at(s, band));
        let reflected = end_reflection(opening.opening, opening.flush, band.centre(), air);
        within * 10f64.powf(-reflected / 10.0) + grille.as_ref().map_or(0.0, |s| at(s, band))
    }))
}
