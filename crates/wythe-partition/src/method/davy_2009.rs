//! One thin leaf of finite size in a diffuse field, after Davy 2009.

use crate::element::Element;
use crate::leaf::Leaf;
use crate::radiation::free_radiation_factor;

/// Transmittance of a thin leaf at one frequency.
///
/// Forced part below f_c: τ_f = 2⟨σ⟩/a², a = ωm/(2ρc).
/// Coincidence part: with r = f/f_c, e = σ_c + aη,
///   τ_c = σ_c²/(2 r a e) { atan[2a/e] − atan[2a(1 − r)/e] },
/// σ_c = σ(g = 0) for r < 1 and σ(g = √(1 − 1/r)) above. The forced part fades out between f_c
/// and 1.2 f_c, over which the coincidence part takes the field that forced it.
///
/// Source: Davy 2009, J. Acoust. Soc. Am. 126 (equations from memory; the coincidence part
/// derived anew from the infinite plate by linear expansion at coincidence).
pub(crate) fn transmittance(leaf: &Leaf, element: &Element, frequency: f64) -> f64 {
    let a = element.normalised_impedance(leaf.mass, frequency);
    let radiation = element.forced_radiation(element.wavenumber(frequency), leaf.glass);
    let forced = 2.0 * radiation.mean() / (a * a);
    let bending = leaf.bending(frequency);
    let fc = element.critical(leaf, &bending, frequency);
    if !fc.is_finite() {
        return forced.min(1.0);
    }
    let r = frequency / fc;
    let sigma = if r < 1.0 { radiation.at(0.0) } else { radiation.at((1.0 - 1.0 / r).sqrt()) };
    let e = sigma + a * element.loss(leaf, &bending, frequency);
    let coincident = sigma * sigma / (2.0 * r * a * e)
        * ((2.0 * a / e).atan() - (2.0 * a * (1.0 - r) / e).atan());
    let fade = ((1.2 - r) / 0.2).clamp(0.0, 1.0);
    let resonant = resonant(leaf, element, frequency, r) / (a * a);
    (fade * forced + coincident + resonant).min(1.0)
}

/// By how much the free bending waves of a finite leaf raise its transmittance: 1 for none.
///
/// In a stack of leaves they radiate through the others as forced waves do, so the stack's
/// transmittance is raised alike; without this a light lining would seem to take away at once what a
/// heavy wall radiates by itself below f_c. Derived here, for want of a published form.
pub(crate) fn free_wave_gain(leaf: &Leaf, element: &Element, frequency: f64) -> f64 {
    // Boards lose so much at their fixings that it is under 0.1 dB, and time is dear here.
    if !(leaf.is_heavy() || leaf.glass) {
        return 1.0;
    }
    let bending = leaf.bending(frequency);
    let fc = element.critical(leaf, &bending, frequency);
    if !fc.is_finite() || frequency >= fc {
        return 1.0;
    }
    let a = element.normalised_impedance(leaf.mass, frequency);
    let free = resonant(leaf, element, frequency, frequency / fc) / (a * a);
    let rest = transmittance(leaf, element, frequency) - free;
    if rest > 0.0 { 1.0 + free / rest } else { 1.0 }
}

/// What free bending waves of the finite leaf carry below f_c, times a².
///
///   (l₁ + l₂)²/(l₁² + l₂²) · √(f_c/f) · σ²/η
///
/// with σ of free waves, from edges and corners. Davy's coincidence part is an infinite leaf's and
/// has none of it; it matters for masonry and thick glass from an octave below f_c. It fades out
/// between f_c/2 and f_c, where the coincidence part takes over.
///
/// Source: the resonant term of ISO 12354-1:2017, Annex B (from memory).
fn resonant(leaf: &Leaf, element: &Element, frequency: f64, r: f64) -> f64 {
    let fade = ((1.0 - r) / 0.5).clamp(0.0, 1.0);
    if fade <= 0.0 {
        return 0.0;
    }
    let (l1, l2) = element.sides(leaf.glass);
    let sigma = free_radiation_factor(frequency, frequency / r, l1, l2, element.c);
    let shape = (l1 + l2).powi(2) / (l1 * l1 + l2 * l2);
    let loss = element.loss(leaf, &leaf.bending(frequency), frequency).max(1e-4);
    fade * shape / r.sqrt() * sigma * sigma / loss
}
