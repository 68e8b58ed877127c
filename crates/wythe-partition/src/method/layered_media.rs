//! Leaves and cavities as a stack of infinite layers, seen through a finite window.

// Loops over the lanes read several arrays at one index, which the compiler turns into vector
// instructions; iterators over zipped arrays say less here.
#![allow(clippy::needless_range_loop)]

use std::f64::consts::PI;
use std::sync::OnceLock;

use nalgebra::Complex;
use wythe_bands::{Band, FlowResistivity, Hertz};

use crate::FrameKind;
use crate::element::Element;
use crate::lanes::{LANES, Lanes, Reals, cos_and_sinc_of_root};
use crate::layup::{Gap, Layup};
use crate::leaf::Leaf;
use crate::method::stud_path::mass_air_mass;
use crate::porous::{Fluid, empty, fill, resilient};
use crate::quadrature::{Rule, gauss};
use crate::radiation::ForcedRadiation;

/// Airborne transmittance of the whole stack at one frequency.
///
///   τ = ∫ τ(θ) σ(θ) cos θ sin 2θ dθ, 0 to 90°
///
/// with τ(θ) = 4/|T₁₁ + T₁₂/Z_a + Z_a T₂₁ + T₂₂|², Z_a = ρc/cos θ; for one limp leaf it is
/// exactly the forced part of [`super::davy_2009`].
pub(crate) fn transmittance(layup: &Layup, element: &Element, frequency: f64) -> f64 {
    if layup.leaves.iter().all(|l| l.stiff_ratio <= 1.0) {
        return Stack::new(layup, element, frequency, 0.0).integrate().min(1.0);
    }
    // A leaf that is stiffer one way: mean over the direction φ the sound comes from as well,
    // with B(φ) = (√B_stiff cos²φ + √B_soft sin²φ)² (Vigran 2008, Eqs. 6.108 and 6.111).
    let rule = piece_rule();
    rule.nodes
        .iter()
        .zip(&rule.weights)
        .map(|(u, weight)| {
            let cos = (0.5 * PI * u).cos();
            weight * Stack::new(layup, element, frequency, cos * cos).integrate()
        })
        .sum::<f64>()
        .min(1.0)
}

/// The stack at one frequency: everything that does not depend on the angle.
pub(crate) struct Stack {
    /// Layers from side b to side a: the wave is followed backwards.
    layers: Vec<LayerAt>,
    radiation: ForcedRadiation,
    /// ρc of the air outside.
    impedance: f64,
    /// Values of cos θ at which a leaf coincides or leaves resonate on an empty gap.
    peaks: Vec<f64>,
    /// Largest k·d of a gap that hardly damps, which makes for many narrow resonances.
    lively: f64,
}

enum LayerAt {
    Leaf {
        /// ωm, Pa·s/m.
        mass: f64,
        /// B k⁴/ω, Pa·s/m, and its loss factor.
        stiffness: f64,
        loss: f64,
        /// Shear correction for grazing waves.
        shear: f64,
    },
    Fluid {
        /// (k_fluid d)², complex.
        x: Complex<f64>,
        /// (k d)² times the share of the trace wavenumber that the gap carries.
        trace: f64,
        /// The same times the loss of waves along the gap.
        along: f64,
        /// jωρd and j/(ωρd).
        series: Complex<f64>,
        shunt: Complex<f64>,
        halvings: u32,
    },
}

impl Stack {
    pub fn new(layup: &Layup, element: &Element, frequency: f64, cos2: f64) -> Stack {
        let k = element.wavenumber(frequency);
        let w = 2.0 * PI * frequency;
        let glass = layup.leaves.iter().all(|l| l.glass);
        let mut layers = Vec::with_capacity(4 * layup.leaves.len());
        let mut peaks = Vec::new();
        let mut lively: f64 = 0.0;
        for (n, leaf) in layup.leaves.iter().enumerate().rev() {
            let bending = leaf.bending(frequency);
            let direction = (1.0 + (leaf.stiff_ratio.sqrt() - 1.0) * cos2).powi(2);
            let (mass, stiffness) = (w * leaf.mass, direction * bending.stiffness * k.powi(4) / w);
            let shear = leaf.shear * k * k;
            layers.push(LayerAt::Leaf {
                mass,
                stiffness,
                loss: element.loss(leaf, &bending, frequency),
                shear,
            });
            if stiffness > 0.0 {
                // ωm = B′k⁴s⁴/ω with B′ = B/(1 + shear s²): s² = sin²θ of coincidence.
                let b = mass * shear;
                let s2 = (b + (b * b + 4.0 * stiffness * mass).sqrt()) / (2.0 * stiffness);
                if s2 < 1.0 {
                    peaks.push((1.0 - s2).sqrt());
                } else if s2 < 2.0 {
                    peaks.push(0.0);
                }
            }
            if n > 0 {
                let gap = &layup.gaps[n - 1];
                let trace = 1.0 - element.fitted.bay * bay_share(gap, element, frequency);
                if gap.is_lively() {
                    lively = lively.max(k * gap.depth);
                    // Leaves on the air between them resonate in oblique sound where
                    // k_z² = k₀², k₀ that of the mass-air-mass resonance.
                    let f0 = mass_air_mass(layup.leaves[n - 1].mass, leaf.mass, gap.depth);
                    let g2 = ((f0 / frequency).powi(2) - (1.0 - trace)) / trace.max(1e-9);
                    if (0.0..1.0).contains(&g2) {
                        peaks.push(g2.sqrt());
                    }
                    // Standing waves across the gap, k_z d = nπ, are as sharp.
                    for n in 1..=MOST_STANDING_WAVES {
                        let share = (n as f64 * PI / (k * gap.depth)).powi(2);
                        let g2 = 1.0 - (1.0 - share) / trace.max(1e-9);
                        if share >= 1.0 {
                            break;
                        }
                        if (0.0..1.0).contains(&g2) {
                            peaks.push(g2.sqrt());
                        }
                    }
                }
                for (fluid, depth) in
                    fluids(gap, fill_at_b(&layup.leaves[n - 1], leaf), glass, element, frequency)
                {
                    let x = fluid.k2 * (depth * depth);
                    let trace = trace * (k * depth).powi(2);
                    let series = Complex::new(0.0, w * depth) * fluid.density;
                    let along = fluid.along * trace;
                    let reach = x.re.abs() + x.im.abs() + trace + along;
                    layers.push(LayerAt::Fluid {
                        x,
                        trace,
                        along,
                        series,
                        shunt: -series.inv(),
                        halvings: halvings(reach),
                    });
                }
            }
        }
        peaks.sort_by(f64::total_cmp);
        peaks.dedup_by(|a, b| (*a - *b).abs() < 0.002);
        Stack {
            layers,
            radiation: element.forced_radiation(k, glass),
            impedance: element.rho * element.c,
            peaks,
            lively,
        }
    }

    /// τ(θ) of the infinite stack at eight values of g = cos θ.
    pub fn at(&self, g: &Reals) -> Reals {
        let mut s2 = [0.0; LANES];
        let mut p = Lanes::splat(1.0, 0.0);
        let mut v = Lanes::splat(0.0, 0.0);
        for i in 0..LANES {
            s2[i] = 1.0 - g[i] * g[i];
            v.re[i] = g[i] / self.impedance;
        }
        for layer in &self.layers {
            match layer {
                LayerAt::Leaf { mass, stiffness, loss, shear } => {
                    let mut z = Lanes::splat(0.0, 0.0);
                    for i in 0..LANES {
                        let bending = stiffness * s2[i] * s2[i] / (1.0 + shear * s2[i]);
                        z.re[i] = bending * loss;
                        z.im[i] = mass - bending;
                    }
                    p = p.add_mul(&z, &v);
                }
                LayerAt::Fluid { x, trace, along, series, shunt, halvings } => {
                    let mut kd = Lanes::splat(x.re, x.im);
                    for i in 0..LANES {
                        kd.re[i] -= trace * s2[i];
                        kd.im[i] -= along * s2[i];
                    }
                    let (cos, sinc) = cos_and_sinc_of_root(&kd, *halvings);
                    // p' = cos p + j Z sin v and v' = j sin/Z p + cos v, with Z = ωρ/k_z.
                    let by_v = sinc.scale(series.re, series.im);
                    let by_p = sinc.mul(&kd).scale(shunt.re, shunt.im);
                    let new_p = p.mul(&cos).add_mul(&v, &by_v);
                    v = v.mul(&cos).add_mul(&p, &by_p);
                    p = new_p;
                }
            }
        }
        let mut tau = [0.0; LANES];
        for i in 0..LANES {
            let za = self.impedance / g[i];
            let (re, im) = (p.re[i] + za * v.re[i], p.im[i] + za * v.im[i]);
            tau[i] = 4.0 / (re * re + im * im);
        }
        tau
    }

    /// Integrand over g: τ(g) σ(g) 2g².
    pub fn weighted(&self, g: &Reals) -> Reals {
        let tau = self.at(g);
        let mut out = [0.0; LANES];
        for i in 0..LANES {
            let value = tau[i] * self.radiation.at(g[i]) * 2.0 * g[i] * g[i];
            // A layer that swallows hundreds of decibels overflows to nothing transmitted.
            out[i] = if value.is_finite() { value } else { 0.0 };
        }
        out
    }

    /// The integral from eight angles.
    fn rough(&self) -> f64 {
        let mut g = [0.0; LANES];
        for (i, g) in g.iter_mut().enumerate() {
            *g = (i as f64 + 0.5) / LANES as f64;
        }
        self.weighted(&g).iter().sum::<f64>() / LANES as f64
    }

    /// The integral by Gauss's rule on pieces that end at peaks, with the nodes drawn
    /// towards those ends, where the integrand has its peaks.
    pub fn integrate(&self) -> f64 {
        // Without peaks the integrand is smooth and eight nodes are to 0.01 dB.
        let smooth = self.peaks.is_empty() && self.lively == 0.0;
        let rule = if smooth { smooth_rule() } else { piece_rule() };
        let mut from = 0.0;
        let mut drawn_from = self.peaks.first() == Some(&0.0);
        let mut sum = 0.0;
        let ends = self.peaks.iter().copied().filter(|g| *g > 0.0).map(|g| (g, true));
        for (to, drawn_to) in ends.chain(std::iter::once((1.0, self.lively > 2.5))) {
            let length = to - from;
            if length > 1e-6 {
                // One more piece for each resonance across a lively gap, and one for the peaks that
                // little damping leaves sharp.
                let sharp = usize::from(self.lively > 0.0 && !self.peaks.is_empty());
                let parts = 1 + 2 * sharp + (self.lively * length / PI) as usize;
                for part in 0..parts {
                    let a = part as f64 / parts as f64;
                    let h = 1.0 / parts as f64;
                    for (u, weight) in
                        rule.nodes.chunks_exact(LANES).zip(rule.weights.chunks_exact(LANES))
                    {
                        let mut g = [0.0; LANES];
                        let mut dg = [0.0; LANES];
                        for i in 0..LANES {
                            let (y, dy) = drawn(a + h * u[i], drawn_from, drawn_to);
                            g[i] = from + length * y;
                            dg[i] = length * dy * h * weight[i];
                        }
                        let values = self.weighted(&g);
                        for i in 0..LANES {
                            sum += values[i] * dg[i];
                        }
                    }
                }
            }
            from = to;
            drawn_from = true;
        }
        sum
    }
}

/// Airborne transmittance about one band from eight angles at its centre: rough, for quotients of
/// two of them at the same angles, in which the errors cancel.
pub(crate) fn rough_transmittance(layup: &Layup, element: &Element, band: Band) -> f64 {
    Stack::new(layup, element, band.centre().0, 0.5).rough()
}

/// Standing waves across an empty gap that get nodes of their own; further ones lie so close that
/// the parts of the pieces take them.
const MOST_STANDING_WAVES: usize = 4;

/// Maps 0…1 to 0…1 with the points drawn to one end, both or none; value and derivative.
#[inline(always)]
fn drawn(u: f64, low: bool, high: bool) -> (f64, f64) {
    match (low, high) {
        (false, false) => (u, 1.0),
        (true, false) => (u * u * u, 3.0 * u * u),
        (false, true) => {
            let r = 1.0 - u;
            (1.0 - r * r * r, 3.0 * r * r)
        }
        // Smoothest step of fifth order: cubic at both ends.
        (true, true) => {
            let u2 = u * u;
            (u2 * u * (10.0 - 15.0 * u + 6.0 * u2), 30.0 * u2 * (1.0 - u) * (1.0 - u))
        }
    }
}

/// Sixteen nodes per piece: with eight the filled walls of the record differ by 0.3 dB from the
/// slow twin near coincidence, with sixteen by less than 0.05 dB.
fn piece_rule() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(|| gauss(16))
}

/// Eight nodes for a smooth integrand.
fn smooth_rule() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(|| gauss(8))
}

/// How often x has to be divided by 4 until it is at most 1.
fn halvings(reach: f64) -> u32 {
    // 4^20 is a cavity of a million wavelengths; beyond there is only overflow.
    (reach.max(1.0).log2() / 2.0).ceil().min(20.0) as u32
}

/// A fill that leaves room lies against the heavier leaf, so that a wall turned round is the same
/// wall; where it really lies is not in the description and changes little.
pub(crate) fn fill_at_b(a: &Leaf, b: &Leaf) -> bool {
    b.mass > a.mass
}

/// The fluids of a gap from its side b to its side a.
pub(crate) fn fluids(
    gap: &Gap,
    fill_at_b: bool,
    glass: bool,
    element: &Element,
    frequency: f64,
) -> impl Iterator<Item = (Fluid, f64)> {
    let f = Hertz(frequency);
    let fitted = &element.fitted;
    let wool = gap.fill.map(|(depth, sigma)| match gap.resilient {
        Some((modulus, density)) => (resilient(f, modulus, density), depth),
        None => (fill(f, FlowResistivity(sigma), fitted.fill_loss, element.air), depth),
    });
    let rest = gap.depth - gap.fill.map_or(0.0, |(d, _)| d);
    let air = (rest > 1e-4).then(|| {
        let at_500 = if glass { fitted.pane_loss } else { fitted.empty_loss };
        let loss = (at_500 * (500.0 / frequency).powf(fitted.empty_loss_fall)).min(1.0);
        (empty(f, loss, element.air), rest)
    });
    let (first, last) = if fill_at_b { (wool, air) } else { (air, wool) };
    first.into_iter().chain(last)
}

/// How closed a bay is at a frequency: 1 far below its first cross mode, 0 far above.
pub(crate) fn bay_share(gap: &Gap, element: &Element, frequency: f64) -> f64 {
    let width = match &gap.frame {
        Some(frame)
            if matches!(
                frame.kind,
                FrameKind::TimberStuds
                    | FrameKind::LightSteelStuds
                    | FrameKind::LoadBearingSteelStuds
            ) =>
        {
            frame.spacing.0
        }
        _ => element.l2,
    };
    let first = element.c / (2.0 * width);
    1.0 / (1.0 + (frequency / first).powi(2))
}
