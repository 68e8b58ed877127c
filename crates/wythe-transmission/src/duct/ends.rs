//! What is thrown back at an open end, and what goes another way at a split.

use std::f64::consts::PI;

use wythe_bands::{Air, Hertz, SquareMetre};

/// End reflection of an opening, dB:
///
///   ER = 10 lg(1 + (a₁ c/(π f D))^a₂),  D = √(4S/π),  a₂ = 2,
///   a₁ = 0.7 flush with a wall, 1 free in the room
///
/// Source: ASHRAE as transcribed; the flush form equals the power transmission of a baffled piston
/// within 0.2 dB from 125 to 500 mm (derived). Older tables read up to 3 dB lower for small ducts.
/// Not for diffusers with restrictors nor right behind a bend.
pub fn end_reflection(opening: SquareMetre, flush: bool, f: Hertz, air: Air) -> f64 {
    let d = (4.0 * opening.0.max(1e-9) / PI).sqrt();
    let a1 = if flush { 0.7 } else { 1.0 };
    10.0 * (1.0 + (a1 * air.sound_speed() / (PI * f.0.max(1e-3) * d)).powi(2)).log10()
}

/// What a split takes off, dB, from the share of the leaving cross-sections that goes on this way:
/// −10 lg share. Nothing for a share that is no share.
pub fn branch(share: f64) -> f64 {
    if share > 0.0 && share <= 1.0 { -10.0 * share.log10() } else { 0.0 }
}
