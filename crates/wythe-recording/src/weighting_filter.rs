//! A and C weighting in discrete time.
//!
//! The three high-passes (f₁ twice, f₂, f₃) are first-order sections by bilinear transform, each
//! corner pre-warped. The double pole at f₄ = 12.2 kHz cannot be had that way near half the rate
//! (a plain bilinear design is 3 dB low at 12.5 kHz and 48 kHz), so one section is fitted to it.
//! C is f₁ and the fitted section; A is C times the two first-order high-passes at f₂ and f₃.

use wythe_bands::weighting::{POLES, Weighting};
use wythe_bands::{Hertz, LevelDifference};

use crate::half_band::solve;
use crate::section::{Section, response};

/// The sections of both weightings at one rate.
#[derive(Clone, Debug, PartialEq)]
pub struct WeightingFilter {
    /// f₁ twice and the fitted double pole at f₄, scaled to 0 dB at 1 kHz.
    pub c: [Section; 2],
    /// The two high-passes at f₂ and f₃ that turn C into A, scaled to 0 dB at 1 kHz.
    pub c_to_a: Section,
    /// Largest deviation from the analytical curve from 10 Hz to `valid_to`.
    pub largest_error: LevelDifference,
    /// Frequency up to which the fit was made: 20 kHz or 0.45 of the rate.
    pub valid_to: Hertz,
}

impl WeightingFilter {
    /// The filter for a rate.
    ///
    /// The fitted section: its squared gain as a ratio of two polynomials in cos ω against
    /// T = (1 + (f/f₄)²)⁻², searched towards equal ripple in decibels, then factored. Derived here. Checked against the fits of an independent minimax search at six rates in
    /// `tests/published/iec_61672_1_2013.rs`.
    pub fn new(rate: f64) -> WeightingFilter {
        let valid_to = (0.45 * rate).min(20_000.0);
        let [f1, f2, f3, f4] = POLES;
        let twice = high_pass_pair(f1, f1, rate);
        // Below 40 kHz the bilinear high-passes end above their curve (0.3 dB at 8 kHz), and are
        // fitted as well.
        let pair = if rate < 40_000.0 {
            fit_high_pass_pair(f2, f3, rate, valid_to).unwrap_or(high_pass_pair(f2, f3, rate))
        } else {
            high_pass_pair(f2, f3, rate)
        };
        let c_to_a = scaled(pair, rate);
        let low = match STORED.iter().find(|(r, _, _)| *r == rate) {
            Some(&(_, b, a)) => Section { b, a },
            None => fit_double_pole(f4, rate, valid_to),
        };
        let mut c = [twice, low];
        let at_1k = response(&c, Hertz(1000.0_f64.min(valid_to)), rate).norm();
        let wanted = 10f64.powf(Weighting::C.at(Hertz(1000.0_f64.min(valid_to))).0 / 20.0);
        for b in &mut c[1].b {
            *b *= wanted / at_1k;
        }
        let mut filter = WeightingFilter {
            c,
            c_to_a,
            largest_error: LevelDifference(0.0),
            valid_to: Hertz(valid_to),
        };
        let mut largest = 0.0f64;
        for i in 0..=400 {
            let f = Hertz(10.0 * (valid_to / 10.0).powf(f64::from(i) / 400.0));
            for w in [Weighting::A, Weighting::C] {
                largest = largest.max((filter.gain(w, f, rate).0 - w.at(f).0).abs());
            }
        }
        filter.largest_error = LevelDifference(largest);
        filter
    }

    /// All sections of a weighting in their order.
    pub fn sections(&self, weighting: Weighting) -> Vec<Section> {
        match weighting {
            Weighting::A => vec![self.c[0], self.c[1], self.c_to_a],
            Weighting::C => self.c.to_vec(),
            Weighting::Z => Vec::new(),
        }
    }

    /// Gain of the discrete filter at a frequency.
    pub fn gain(&self, weighting: Weighting, frequency: Hertz, rate: f64) -> LevelDifference {
        LevelDifference(20.0 * response(&self.sections(weighting), frequency, rate).norm().log10())
    }
}

/// Sections fitted minimax in decibels from 200 Hz to 20 kHz by a longer search, for the rates in
/// daily use; the search of [`fit_double_pole`] comes within a hundredth of a decibel of them.
/// Source: project reference calculation (`meas_03_weighting_sos.csv` in this crate's test data).
const STORED: [(f64, [f64; 3], [f64; 2]); 6] = [
    (
        44100.0,
        [0.5168662210359494, 0.6987195246355576, 0.18220384978695425],
        [0.6310219489345906, -0.24368499111229128],
    ),
    (
        48000.0,
        [0.5031526654530472, -0.14373154734732965, -0.12543850304430845],
        [-0.9789153040565073, 0.211386170624992],
    ),
    (
        88200.0,
        [0.2671853379282578, 0.0743556740562689, 0.0001622457044297606],
        [-0.833611928020067, 0.17288215904189325],
    ),
    (
        96000.0,
        [0.24064648504481842, 0.06525246314439109, 0.0007994855416967228],
        [-0.8949406456147019, 0.19945602853843444],
    ),
    (
        176400.0,
        [0.10083965771309275, 0.023579976749724674, 0.0008254830622461305],
        [-1.2944475848595556, 0.418802775802377],
    ),
    (
        192000.0,
        [0.08859616179677868, 0.01974885106258542, 0.0008695982702139545],
        [-1.341187315801459, 0.44962598582479074],
    ),
];

/// First-order high-passes at two corners in one section, each corner pre-warped:
/// (1 − z⁻¹)/(1 + k) over 1 + ((k − 1)/(k + 1)) z⁻¹ with k = tan(π f / rate).
fn high_pass_pair(f: f64, g: f64, rate: f64) -> Section {
    let [k, l] = [f, g].map(|f| (std::f64::consts::PI * f / rate).tan());
    let gain = 1.0 / ((1.0 + k) * (1.0 + l));
    let [p, q] = [k, l].map(|k| (k - 1.0) / (k + 1.0));
    Section { b: [gain, -2.0 * gain, gain], a: [p + q, p * q] }
}

fn scaled(section: Section, rate: f64) -> Section {
    // At a rate of 2 kHz half the rate is 1 kHz itself; the scale is then taken a little lower.
    let f = Hertz(1000.0_f64.min(0.45 * rate));
    let curve = Weighting::A.at(f).0 - Weighting::C.at(f).0;
    let factor = 10f64.powf(curve / 20.0) / section.response(f, rate).norm();
    Section { b: section.b.map(|b| b * factor), a: section.a }
}

/// The two high-passes at `f` and `g` as one section with its double zero at 0 Hz, fitted from 10 Hz
/// to `top`: with u = 1 − cos ω the squared gain is G u²/(u² + e₁u + e₀), linear in G, e₁, e₀ once
/// multiplied out; least squares reweighted towards equal ripple.
fn fit_high_pass_pair(f: f64, g: f64, rate: f64, top: f64) -> Option<Section> {
    let nodes: Vec<(f64, f64)> = (0..POINTS)
        .map(|i| {
            let at = 10.0 * (top / 10.0).powf(i as f64 / (POINTS - 1) as f64);
            let u = 2.0 * (std::f64::consts::PI * at / rate).sin().powi(2);
            let one = |corner: f64| at * at / (at * at + corner * corner);
            (u, one(f) * one(g))
        })
        .collect();
    let mut stress = vec![1.0; POINTS];
    let mut denominator: Vec<f64> = nodes.iter().map(|(u, _)| u * u + 1e-4).collect();
    let mut best: Option<(f64, [f64; 3])> = None;
    for _ in 0..200 {
        let mut rows = [[0.0; 4]; 3];
        for (i, &(u, t)) in nodes.iter().enumerate() {
            let weight = stress[i] / (t * denominator[i]).powi(2);
            let basis = [u * u, -t * u, -t];
            for (j, bj) in basis.iter().enumerate() {
                for (k, bk) in basis.iter().enumerate() {
                    rows[j][k] += weight * bj * bk;
                }
                rows[j][3] += weight * bj * t * u * u;
            }
        }
        let x = solve(rows)?;
        let errors: Vec<f64> = nodes
            .iter()
            .enumerate()
            .map(|(i, &(u, t))| {
                let d = u * u + x[1] * u + x[2];
                denominator[i] = d.abs().max(1e-12);
                (10.0 * (x[0] * u * u / d / t).abs().max(1e-12).log10()).abs()
            })
            .collect();
        let worst = errors.iter().copied().fold(0.0, f64::max);
        let sound = x[0] > 0.0 && x[1] > 0.0 && x[2] > 0.0;
        if sound && best.is_none_or(|(w, _)| worst < w) {
            best = Some((worst, x));
        }
        relax(&mut stress, &errors);
    }
    let (_, [gain, e1, e0]) = best?;
    let [b0, b1, b2] = spectral_factor(1.0 + e1 + e0, -2.0 - e1, 1.0)?;
    // |1 − z⁻¹|⁴ = 4u².
    let g = (gain / 4.0).sqrt() / b0;
    Some(Section { b: [g, -2.0 * g, g], a: [b1 / b0, b2 / b0] })
}

/// Lawson's reweighting: more stress where the error is larger, gently, so that it settles.
fn relax(stress: &mut [f64], errors: &[f64]) {
    let total: f64 = stress.iter().sum();
    let mean = stress.iter().zip(errors).map(|(s, e)| s * e).sum::<f64>() / total;
    if !(mean > 1e-12) {
        return;
    }
    for (s, e) in stress.iter_mut().zip(errors) {
        *s = (*s * (0.5 + 0.5 * e / mean)).max(1e-12 * total);
    }
}

/// One section for the double pole at `f4`, best in decibels from 0 to `top`: the best of several
/// searches, because the error has more than one valley near 48 kHz.
fn fit_double_pole(f4: f64, rate: f64, top: f64) -> Section {
    let node =
        |f: f64| ((std::f64::consts::TAU * f / rate).cos(), (1.0 + (f / f4).powi(2)).powi(-2));
    let nodes: Vec<(f64, f64)> = (0..POINTS)
        .map(|i| {
            // Denser towards both ends, as the error's extremes are.
            let t = 0.5 - 0.5 * (std::f64::consts::PI * i as f64 / (POINTS - 1) as f64).cos();
            let f = top * t;
            node(f)
        })
        .chain([node(1000f64.min(top))])
        .collect();
    // The stored sections as squared gains, and the impulse-invariant double pole.
    let p = (-std::f64::consts::TAU * f4 / rate).exp();
    let matched = ([(1.0 - p).powi(2), 0.0, 0.0], [-2.0 * p, p * p]);
    let starts = STORED.iter().map(|(_, b, a)| (*b, *a)).chain([matched]);
    let mut best: Option<(f64, [f64; 5])> = None;
    for ([b0, b1, b2], [a1, a2]) in starts {
        let squared = |x: f64, y: f64, z: f64| {
            [x * x + y * y + z * z - 2.0 * x * z, 2.0 * y * (x + z), 4.0 * x * z]
        };
        let (n, d) = (squared(b0, b1, b2), squared(1.0, a1, a2));
        let x = [n[0] / d[0], n[1] / d[0], n[2] / d[0], d[1] / d[0], d[2] / d[0]];
        search(&nodes, x, &mut best);
    }
    best.and_then(|(_, x)| factor(x)).unwrap_or(Section { b: matched.0, a: matched.1 })
}

const POINTS: usize = 240;

/// Damped Gauss-Newton on the error in decibels, its exponent raised step by step from 2 towards the
/// largest error alone. Keeps the best in `best`.
fn search(nodes: &[(f64, f64)], mut x: [f64; 5], best: &mut Option<(f64, [f64; 5])>) {
    // Error of every node and its slopes; `None` where the section would not exist.
    let errors = |x: &[f64; 5]| -> Option<Vec<(f64, [f64; 5])>> {
        factor(*x)?;
        let all: Option<Vec<(f64, [f64; 5])>> = nodes
            .iter()
            .map(|&(c, t)| {
                let n = x[0] + c * (x[1] + c * x[2]);
                let d = 1.0 + c * (x[3] + c * x[4]);
                let k = 10.0 / std::f64::consts::LN_10;
                (n > 0.0 && d > 0.0).then(|| {
                    let slopes = [k / n, k * c / n, k * c * c / n, -k * c / d, -k * c * c / d];
                    (k * (n / d / t).ln(), slopes)
                })
            })
            .collect();
        let mut all = all?;
        // The cascade is set to 0 dB at 1 kHz, the last node: errors count from there, and its own
        // only keeps the gain from wandering.
        let (fixed, slope) = *all.last()?;
        let rest = all.len() - 1;
        for (error, slopes) in &mut all[..rest] {
            *error -= fixed;
            for (s, f) in slopes.iter_mut().zip(slope) {
                *s -= f;
            }
        }
        Some(all)
    };
    let Some(mut now) = errors(&x) else { return };
    let norm = |e: &[(f64, [f64; 5])], p: i32| {
        let top = e.iter().map(|e| e.0.abs()).fold(1e-300, f64::max);
        top * e.iter().map(|e| (e.0.abs() / top).powi(p)).sum::<f64>().powf(1.0 / f64::from(p))
    };
    for p in [2, 4, 8, 16, 40] {
        let mut damping = 1e-3;
        for _ in 0..60 {
            let top = now.iter().map(|e| e.0.abs()).fold(1e-300, f64::max);
            let mut rows = [[0.0; 6]; 5];
            for (e, slopes) in &now {
                let weight = (e.abs() / top).max(1e-6).powi(p - 2);
                for j in 0..5 {
                    for k in 0..5 {
                        rows[j][k] += weight * slopes[j] * slopes[k];
                    }
                    rows[j][5] -= weight * slopes[j] * e / f64::from(p - 1);
                }
            }
            for j in 0..5 {
                rows[j][j] *= 1.0 + damping;
            }
            let Some(step) = solve(rows) else { break };
            let next: [f64; 5] = std::array::from_fn(|j| x[j] + step[j]);
            match errors(&next) {
                Some(new) if norm(&new, p) < norm(&now, p) => {
                    (x, now) = (next, new);
                    damping = (damping / 4.0).max(1e-12);
                }
                _ if damping > 1e6 => break,
                _ => damping *= 8.0,
            }
        }
        let worst = now.iter().map(|e| e.0.abs()).fold(0.0, f64::max);
        if best.is_none_or(|(w, _)| worst < w) {
            *best = Some((worst, x));
        }
    }
}

/// The minimum-phase section whose squared gain is (n0 + n1 c + n2 c²)/(1 + d1 c + d2 c²), c = cos ω.
fn factor([n0, n1, n2, d1, d2]: [f64; 5]) -> Option<Section> {
    let top = spectral_factor(n0, n1, n2)?;
    let bottom = spectral_factor(1.0, d1, d2)?;
    let a0 = bottom[0];
    Some(Section { b: top.map(|v| v / a0), a: [bottom[1] / a0, bottom[2] / a0] })
}

/// b₀ + b₁z⁻¹ + b₂z⁻² with |.|² = p0 + p1 cos ω + p2 cos² ω and no zero outside the unit circle.
///
/// With |B|² = (b₀² + b₁² + b₂²) + 2b₁(b₀ + b₂) cos ω + 2b₀b₂ cos 2ω: at ω = 0 and π the sums
/// u = b₀ + b₁ + b₂ and v = b₀ − b₁ + b₂ are known, and b₀b₂ = p2/4.
fn spectral_factor(p0: f64, p1: f64, p2: f64) -> Option<[f64; 3]> {
    let at_0 = p0 + p1 + p2;
    let at_pi = p0 - p1 + p2;
    if !(at_0 > 0.0 && at_pi >= 0.0) {
        return None;
    }
    let (u, v) = (at_0.sqrt(), at_pi.sqrt());
    let b1 = (u - v) / 2.0;
    let outer = (u + v) / 2.0;
    let root = outer * outer - p2;
    if !(root >= 0.0) {
        return None;
    }
    let b0 = (outer + root.sqrt()) / 2.0;
    let b2 = outer - b0;
    // Stable when |b2/b0| < 1 and |b1/b0| < 1 + b2/b0.
    (b0 > 0.0 && (b2 / b0).abs() < 1.0 && (b1 / b0).abs() <= 1.0 + b2 / b0).then_some([b0, b1, b2])
}
