//! What the way outdoors takes off: screens and ground.

use wythe_bands::{Hertz, Metre};
use wythe_building::Ground;

/// What one screen takes off, dB, round an edge that makes the way longer by `detour`:
///
/// ```text
/// D_z = 10 lg(3 + 20 C₃ z/λ),  at most 20 dB; of a thick screen 25 dB
/// C₃ = 1, of a thick screen (1 + (5λ/e)²)/(1/3 + (5λ/e)²)
/// ```
///
/// with e the distance between its two edges, with no help or harm from the weather. Source:
/// ISO 9613-2, 7.4, from memory; so the outdoors part of ISO 12354-4 takes it.
///
/// ```
/// use wythe_bands::{Hertz, Metre};
/// // Just grazing: 4.8 dB.
/// let d = wythe_transmission::screening(Metre(0.0), None, Hertz(500.0), 343.0);
/// assert!((d - 4.77).abs() < 0.01);
/// ```
pub fn screening(detour: Metre, thickness: Option<Metre>, f: Hertz, sound_speed: f64) -> f64 {
    let z = if detour.0.is_finite() { detour.0.max(0.0) } else { 0.0 };
    let wavelength = sound_speed / f.0;
    let (double, most) = match thickness.filter(|e| e.0 > 0.0 && e.0.is_finite()) {
        Some(e) => {
            let wide = (5.0 * wavelength / e.0).powi(2);
            ((1.0 + wide) / (1.0 / 3.0 + wide), 25.0)
        }
        None => (1.0, 20.0),
    };
    (10.0 * (3.0 + 20.0 * double * z / wavelength).log10()).min(most)
}

/// What the ground takes off, dB; negative where it throws back what meets it. The sum of the
/// regions by the source, by the receiver and between them, which is there only beyond 30 times
/// both heights together.
///
/// Source: ISO 9613-2, 7.3.1 with Table 3, from memory; octave values from 63 Hz to 8 kHz,
/// interpolated over the logarithm of frequency and held outside. Meant for distances of a
/// hundred metres and more; in a yard it is an estimate.
///
/// ```
/// use wythe_bands::{Hertz, Metre};
/// use wythe_building::Ground;
/// // Hard ground throws everything back: 3 dB more.
/// let hard = Ground { soft: 0.0, heights: [Metre(1.5), Metre(1.5)] };
/// assert!((wythe_transmission::ground(&hard, Metre(20.0), Hertz(500.0)) + 3.0).abs() < 1e-12);
/// ```
pub fn ground(ground: &Ground, distance: Metre, f: Hertz) -> f64 {
    // Base-ten octaves, so that the mid-band frequencies are met exactly.
    let octave = ((f.0 / 1000.0).log10() / 0.3).clamp(-4.0, 3.0);
    let (low, share) = (octave.floor(), octave - octave.floor());
    let at = |n: f64| in_octave(ground, distance.0.max(0.0), n);
    at(low) * (1.0 - share) + at((low + 1.0).min(3.0)) * share
}

/// The same n octaves from 1 kHz.
fn in_octave(ground: &Ground, d: f64, n: f64) -> f64 {
    let within = |v: f64, most: f64| if v.is_finite() { v.clamp(0.0, most) } else { 0.0 };
    let g = within(ground.soft, 1.0);
    let [hs, hr] = ground.heights.map(|h| within(h.0, 100.0));
    let near = 1.0 - (-d / 50.0).exp();
    let region = |h: f64| -> f64 {
        let shape = match n as i32 {
            ..=-4 => return -1.5,
            -3 => {
                1.5 + 3.0 * (-0.12 * (h - 5.0).powi(2)).exp() * near
                    + 5.7 * (-0.09 * h * h).exp() * (1.0 - (-2.8e-6 * d * d).exp())
            }
            -2 => 1.5 + 8.6 * (-0.09 * h * h).exp() * near,
            -1 => 1.5 + 14.0 * (-0.46 * h * h).exp() * near,
            0 => 1.5 + 5.0 * (-0.9 * h * h).exp() * near,
            _ => return -1.5 * (1.0 - g),
        };
        -1.5 + g * shape
    };
    let reach = 30.0 * (hs + hr);
    let q = if d > reach { 1.0 - reach / d } else { 0.0 };
    let middle = if n <= -4.0 { -3.0 * q } else { -3.0 * q * (1.0 - g) };
    region(hs) + region(hr) + middle
}
