//! The same physics by the obvious slow way, to check the fast one against.
//!
//! Chain matrices from side a to side b with complex roots, sines and cosines, integrated by
//! adaptive quadrature over the angle, and that again over the logarithm of frequency.

use std::f64::consts::PI;

use nalgebra::Complex;
use wythe_bands::{Band, LevelDifference, Spectrum, Transmittance};

use crate::element::Element;
use crate::layup::Layup;
use crate::method::layered_media::{bay_share, fill_at_b, fluids};
use crate::prediction::{by_path, free_waves, layers_of, shares, tied_pairs};
use crate::{BuildUp, Conditions, FITTED, PartitionError};

type C = Complex<f64>;

/// Reduction index of a build-up of layers by adaptive quadrature. Slow; for tests.
#[doc(hidden)]
pub fn slow_reduction(
    build_up: &BuildUp,
    conditions: &Conditions,
) -> Result<Spectrum<LevelDifference>, PartitionError> {
    let element = Element::new(conditions, &FITTED);
    let layup = Layup::new(&build_up.id, layers_of(build_up))?;
    let bridges = build_up.rigid_bridges_per_m2;
    let pairs = tied_pairs(&layup, bridges);
    let tau = |band: Band, f: f64| -> f64 {
        let shares = shares(&layup, &pairs, &element, band);
        let [airborne, others @ ..] =
            by_path(&layup, &element, (bridges, &build_up.boxes), &shares, f);
        let airborne = if layup.gaps.is_empty() {
            airborne
        } else {
            (free_waves(&layup, &element, f) * airborne_at(&layup, &element, f)).min(1.0)
        };
        airborne + others.iter().sum::<f64>()
    };
    Ok(Band::range(Band::FIRST, Band::HZ_10000)
        .map(|band| {
            let (a, b) = (band.lower_edge().0.ln(), band.upper_edge().0.ln());
            let mean = adaptive(&|x: f64| tau(band, x.exp()), a, b, 8, 1e-4) / (b - a);
            (band, Transmittance(mean.min(1.0)).reduction())
        })
        .collect())
}

fn airborne_at(layup: &Layup, element: &Element, frequency: f64) -> f64 {
    let k = element.wavenumber(frequency);
    let w = 2.0 * PI * frequency;
    let glass = layup.leaves.iter().all(|l| l.glass);
    let radiation = element.forced_radiation(k, glass);
    let one = C::new(1.0, 0.0);
    let zero = C::new(0.0, 0.0);
    let j = C::new(0.0, 1.0);
    let tau = |g: f64| -> f64 {
        let s2 = 1.0 - g * g;
        let za = element.rho * element.c / g.max(1e-9);
        let mut t = [[one, zero], [zero, one]];
        let mut then = |m: [[C; 2]; 2]| {
            t = [
                [t[0][0] * m[0][0] + t[0][1] * m[1][0], t[0][0] * m[0][1] + t[0][1] * m[1][1]],
                [t[1][0] * m[0][0] + t[1][1] * m[1][0], t[1][0] * m[0][1] + t[1][1] * m[1][1]],
            ];
        };
        for (n, leaf) in layup.leaves.iter().enumerate() {
            let bending = leaf.bending(frequency);
            let loss = element.loss(leaf, &bending, frequency);
            let kt2 = k * k * s2;
            let stiffness = bending.stiffness / (1.0 + leaf.shear * kt2);
            // Z = jωm − (j − η)·B′k_t⁴/ω
            let z = j * w * leaf.mass + C::new(loss, -1.0) * (stiffness * kt2 * kt2 / w);
            then([[one, z], [zero, one]]);
            let Some(gap) = layup.gaps.get(n) else { continue };
            let trace = 1.0 - element.fitted.bay * bay_share(gap, element, frequency);
            // The fluids come from side b to side a.
            let mut layers: Vec<_> =
                fluids(gap, fill_at_b(leaf, &layup.leaves[n + 1]), glass, element, frequency)
                    .collect();
            layers.reverse();
            for (fluid, depth) in layers {
                let kz = (fluid.k2 - C::new(1.0, fluid.along) * (kt2 * trace)).sqrt();
                let zz = fluid.density * w / kz;
                let (cos, sin) = ((kz * depth).cos(), (kz * depth).sin());
                then([[cos, j * zz * sin], [j * sin / zz, cos]]);
            }
        }
        let whole = t[0][0] + t[0][1] / za + t[1][0] * za + t[1][1];
        let value = 4.0 / whole.norm_sqr() * radiation.at(g) * 2.0 * g * g;
        if value.is_finite() { value } else { 0.0 }
    };
    adaptive(&tau, 0.0, 1.0, 64, 1e-5)
}

/// Adaptive Simpson's rule, started with `panels` panels so that no peak is stepped over.
fn adaptive(f: &dyn Fn(f64) -> f64, a: f64, b: f64, panels: usize, relative: f64) -> f64 {
    let h = (b - a) / panels as f64;
    let ends: Vec<f64> = (0..=2 * panels).map(|i| f(a + 0.5 * h * i as f64)).collect();
    let rough: f64 = (0..panels)
        .map(|i| h / 6.0 * (ends[2 * i] + 4.0 * ends[2 * i + 1] + ends[2 * i + 2]))
        .sum();
    let tolerance = relative * rough.abs() / panels as f64;
    (0..panels)
        .map(|i| {
            let x = a + h * i as f64;
            halve(f, (x, h), (ends[2 * i], ends[2 * i + 1], ends[2 * i + 2]), tolerance, 24)
        })
        .sum()
}

fn halve(
    f: &dyn Fn(f64) -> f64,
    (x, h): (f64, f64),
    (left, middle, right): (f64, f64, f64),
    tolerance: f64,
    depth: u32,
) -> f64 {
    let whole = h / 6.0 * (left + 4.0 * middle + right);
    let (first, last) = (f(x + 0.25 * h), f(x + 0.75 * h));
    let halves = h / 12.0 * (left + 4.0 * first + 2.0 * middle + 4.0 * last + right);
    if depth == 0 || (halves - whole).abs() < 15.0 * tolerance {
        return halves + (halves - whole) / 15.0;
    }
    halve(f, (x, 0.5 * h), (left, first, middle), 0.5 * tolerance, depth - 1)
        + halve(f, (x + 0.5 * h, 0.5 * h), (middle, last, right), 0.5 * tolerance, depth - 1)
}
