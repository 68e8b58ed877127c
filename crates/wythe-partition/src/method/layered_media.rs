//! Leaves and cavities as a stack of infinite layers, seen through a finite window.

use std::f64::consts::PI;

use nalgebra::Complex;
use wythe_bands::{FlowResistivity, Hertz};

use crate::FrameKind;
use crate::element::Element;
use crate::layup::{Gap, Layup};
use crate::porous::{Fluid, empty, fill};

type C = Complex<f64>;

/// Number of angles of incidence, evenly spaced in cos θ.
const ANGLES: usize = 90;

/// Airborne transmittance of the whole stack at one frequency.
///
///   τ = ∫ τ(θ) σ(θ) cos θ sin 2θ dθ, 0 to 90°
///
/// with τ(θ) = 4/|T₁₁ + T₁₂/Z_a + Z_a T₂₁ + T₂₂|², Z_a = ρc/cos θ; for one limp leaf it is
/// exactly the forced part of [`super::davy_2009`].
pub(crate) fn transmittance(layup: &Layup, element: &Element, frequency: f64) -> f64 {
    let k = element.wavenumber(frequency);
    let w = 2.0 * PI * frequency;
    let glass = layup.leaves.iter().all(|l| l.glass);
    let radiation = element.forced_radiation(k, glass);
    let leaves: Vec<LeafAt> = layup
        .leaves
        .iter()
        .map(|leaf| {
            let bending = leaf.bending(frequency);
            LeafAt {
                mass: w * leaf.mass,
                stiffness: bending.stiffness * k.powi(4) / w,
                loss: element.loss(leaf, &bending, frequency),
                shear: leaf.shear * k * k,
            }
        })
        .collect();
    let fluids: Vec<GapAt> =
        layup.gaps.iter().map(|gap| GapAt::new(gap, glass, element, frequency)).collect();
    let mut sum = 0.0;
    for i in 0..ANGLES {
        let g = (i as f64 + 0.5) / ANGLES as f64;
        let s2 = 1.0 - g * g;
        let za = element.rho * element.c / g;
        let mut t = [[C::new(1.0, 0.0), C::new(0.0, 0.0)], [C::new(0.0, 0.0), C::new(1.0, 0.0)]];
        for (n, leaf) in leaves.iter().enumerate() {
            let z = leaf.impedance(s2);
            t[0][1] += t[0][0] * z;
            t[1][1] += t[1][0] * z;
            if let Some(gap) = fluids.get(n) {
                for (fluid, depth) in gap.layers() {
                    let kz2 = fluid.k2 - k * k * s2 * gap.trace;
                    let mut kz = kz2.sqrt();
                    if kz.im > 0.0 {
                        kz = -kz;
                    }
                    let zz = fluid.density * w / kz;
                    let (c, s) = ((kz * depth).cos(), (kz * depth).sin());
                    let j = C::new(0.0, 1.0);
                    let (a, b, d) = (c, j * zz * s, j * s / zz);
                    t = [
                        [t[0][0] * a + t[0][1] * d, t[0][0] * b + t[0][1] * a],
                        [t[1][0] * a + t[1][1] * d, t[1][0] * b + t[1][1] * a],
                    ];
                }
            }
        }
        let whole = t[0][0] + t[0][1] / za + t[1][0] * za + t[1][1];
        let tau = 4.0 / whole.norm_sqr();
        sum += tau * radiation.at(g) * 2.0 * g * g;
    }
    (sum / ANGLES as f64).min(1.0)
}

struct LeafAt {
    mass: f64,
    stiffness: f64,
    loss: f64,
    shear: f64,
}

impl LeafAt {
    /// Z = jωm [1 − (1 + jη) B′ k_t⁴/(ω² m)].
    fn impedance(&self, s2: f64) -> C {
        let bending = self.stiffness * s2 * s2 / (1.0 + self.shear * s2);
        C::new(bending * self.loss, self.mass - bending)
    }
}

struct GapAt {
    layers: [(Fluid, f64); 2],
    count: usize,
    /// Share of k_t² that the gap carries.
    trace: f64,
}

impl GapAt {
    fn new(gap: &Gap, glass: bool, element: &Element, frequency: f64) -> GapAt {
        let f = Hertz(frequency);
        let fitted = &element.fitted;
        let at_500 = if glass { fitted.pane_loss } else { fitted.empty_loss };
        let loss = (at_500 * (500.0 / frequency).powf(fitted.empty_loss_fall)).min(1.0);
        let air = empty(f, loss, element.air);
        let trace = 1.0 - fitted.bay * bay_share(gap, element, frequency);
        match gap.fill {
            None => GapAt { layers: [(air, gap.depth); 2], count: 1, trace },
            Some((depth, sigma)) => {
                let wool = fill(f, FlowResistivity(sigma), fitted.fill_loss, element.air);
                let rest = gap.depth - depth;
                let count = if rest > 1e-4 { 2 } else { 1 };
                GapAt { layers: [(wool, depth), (air, rest)], count, trace }
            }
        }
    }

    fn layers(&self) -> &[(Fluid, f64)] {
        &self.layers[..self.count]
    }
}

/// How closed a bay is at a frequency: 1 far below its first cross mode, 0 far above.
fn bay_share(gap: &Gap, element: &Element, frequency: f64) -> f64 {
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
