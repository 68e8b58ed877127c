//! The inner loops: several bands of several channels side by side, so that the compiler can use
//! the wide registers.
//!
//! A recursive filter cannot be sped up along time, each output needs the one before; it can along
//! bands and channels. Eight lanes hold 8 bands of 1 channel, 4 of 2, 2 of 4 or 1 of 8. Every lane
//! goes through the same operations in the same order, so on one machine results are the same to the
//! last bit whatever the number of lanes, channels or cores. Processors with a fused multiply-add
//! use it, so two kinds of machine may differ in the fifteenth digit.

use crate::half_band::{KEEP, PAIRS};
use crate::section::Section;

/// Runs a loop in the widest form this processor has.
macro_rules! dispatch {
    ($body:ident :: <$($n:tt),+> ($($arg:expr),*)) => {{
        #[cfg(target_arch = "x86_64")]
        {
            if std::is_x86_feature_detected!("avx512f")
                && std::is_x86_feature_detected!("avx512dq")
                && std::is_x86_feature_detected!("avx512vl")
                && std::is_x86_feature_detected!("fma") {
                // SAFETY: the processor was just asked and has these instructions; the function
                // itself is safe code that the compiler may translate with them.
                #[allow(unsafe_code)]
                unsafe { avx512::$body::<$($n),+>($($arg),*) };
            } else if std::is_x86_feature_detected!("avx2")
                && std::is_x86_feature_detected!("fma") {
                // SAFETY: as above.
                #[allow(unsafe_code)]
                unsafe { avx2::$body::<$($n),+>($($arg),*) };
            } else {
                plain::$body::<$($n),+>($($arg),*);
            }
        }
        #[cfg(not(target_arch = "x86_64"))]
        plain::$body::<$($n),+>($($arg),*);
    }};
}

/// Values handled side by side, where there are enough; 4 where there are not.
pub(crate) const LANES: usize = 8;

/// What a short run of outputs came to: sum and largest of the squares, per lane.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Run<T> {
    pub(crate) sum: T,
    pub(crate) largest: T,
}

/// Up to four band-pass sections in eight lanes. The numerators are 1 − z⁻² throughout; the gain
/// is applied to the energies afterwards.
#[derive(Clone, Debug)]
pub(crate) struct BandLanes<const N: usize> {
    minus_a1: [[f64; N]; 4],
    minus_a2: [[f64; N]; 4],
    s1: [[f64; N]; 4],
    s2: [[f64; N]; 4],
    sections: usize,
    /// Square of the gain left out.
    pub(crate) gain2: [f64; N],
}

impl<const N: usize> BandLanes<N> {
    /// One cascade per slot, repeated over `channels` lanes; slots without one stay silent.
    pub(crate) fn new(slots: &[Option<Vec<Section>>], channels: usize) -> Self {
        // 1 − z⁻² over 1 − z⁻² changes nothing and stays exactly at rest: a section to fill up with.
        let mut lanes = BandLanes {
            minus_a1: [[0.0; N]; 4],
            minus_a2: [[1.0; N]; 4],
            s1: [[0.0; N]; 4],
            s2: [[0.0; N]; 4],
            sections: slots.iter().flatten().map(Vec::len).max().unwrap_or(3).clamp(3, 4),
            gain2: [0.0; N],
        };
        for (slot, cascade) in slots.iter().enumerate() {
            let Some(cascade) = cascade else { continue };
            for channel in 0..channels {
                let lane = slot * channels + channel;
                let mut gain = 1.0;
                for (k, s) in cascade.iter().enumerate() {
                    lanes.minus_a1[k][lane] = -s.a[0];
                    lanes.minus_a2[k][lane] = -s.a[1];
                    gain *= s.b[0];
                }
                lanes.gain2[lane] = gain * gain;
            }
        }
        lanes
    }

    /// Filters a block, summing squares from each entry of `ends` to the next.
    pub(crate) fn run<const C: usize>(
        &mut self,
        input: &[[f64; C]],
        ends: &[usize],
        out: &mut Vec<Run<[f64; N]>>,
    ) {
        out.clear();
        if self.sections == 3 {
            dispatch!(band_body::<C, N, 3>(self, input, ends, out));
        } else {
            dispatch!(band_body::<C, N, 4>(self, input, ends, out));
        }
        // A decaying filter ends in numbers so small that the processor slows down a hundredfold.
        for state in self.s1.iter_mut().chain(&mut self.s2).flatten() {
            if state.abs() < 1e-150 {
                *state = 0.0;
            }
        }
    }
}

/// a·b + c, in one instruction where the processor has it.
#[inline(always)]
fn fused<const FUSED: bool>(a: f64, b: f64, c: f64) -> f64 {
    if FUSED { a.mul_add(b, c) } else { a * b + c }
}

#[inline(always)]
fn band_body<const C: usize, const N: usize, const S: usize, const FUSED: bool>(
    lanes: &mut BandLanes<N>,
    input: &[[f64; C]],
    ends: &[usize],
    out: &mut Vec<Run<[f64; N]>>,
) {
    let minus_a1: [[f64; N]; S] = std::array::from_fn(|k| lanes.minus_a1[k]);
    let minus_a2: [[f64; N]; S] = std::array::from_fn(|k| lanes.minus_a2[k]);
    let mut s1: [[f64; N]; S] = std::array::from_fn(|k| lanes.s1[k]);
    let mut s2: [[f64; N]; S] = std::array::from_fn(|k| lanes.s2[k]);
    let mut start = 0;
    for &end in ends {
        let mut sum = [0.0; N];
        let mut largest = [0.0; N];
        for frame in &input[start..end] {
            let mut x: [f64; N] = std::array::from_fn(|l| frame[l % C]);
            for k in 0..S {
                for l in 0..N {
                    let y = x[l] + s1[k][l];
                    s1[k][l] = fused::<FUSED>(minus_a1[k][l], y, s2[k][l]);
                    s2[k][l] = fused::<FUSED>(minus_a2[k][l], y, -x[l]);
                    x[l] = y;
                }
            }
            for l in 0..N {
                let square = x[l] * x[l];
                sum[l] += square;
                largest[l] = if square > largest[l] { square } else { largest[l] };
            }
        }
        out.push(Run { sum, largest });
        start = end;
    }
    lanes.s1[..S].copy_from_slice(&s1);
    lanes.s2[..S].copy_from_slice(&s2);
}

/// The weightings of `C` channels: A, C and the unweighted signal.
#[derive(Clone, Debug)]
pub(crate) struct WeightingLanes<const C: usize> {
    sections: [Section; 3],
    s1: [[f64; C]; 3],
    s2: [[f64; C]; 3],
}

impl<const C: usize> WeightingLanes<C> {
    /// C is the first two sections, A all three.
    pub(crate) fn new(sections: [Section; 3]) -> Self {
        WeightingLanes { sections, s1: [[0.0; C]; 3], s2: [[0.0; C]; 3] }
    }

    /// Filters a block; one list each of A, C, Z.
    pub(crate) fn run(
        &mut self,
        input: &[[f64; C]],
        ends: &[usize],
        out: &mut [Vec<Run<[f64; C]>>; 3],
    ) {
        out.iter_mut().for_each(Vec::clear);
        dispatch!(weighting_body::<C>(self, input, ends, out));
        for state in self.s1.iter_mut().chain(&mut self.s2).flatten() {
            if state.abs() < 1e-150 {
                *state = 0.0;
            }
        }
    }
}

#[inline(always)]
fn weighting_body<const C: usize, const FUSED: bool>(
    lanes: &mut WeightingLanes<C>,
    input: &[[f64; C]],
    ends: &[usize],
    out: &mut [Vec<Run<[f64; C]>>; 3],
) {
    let sections = lanes.sections;
    let mut s1 = lanes.s1;
    let mut s2 = lanes.s2;
    let mut start = 0;
    for &end in ends {
        let mut sum = [[0.0; C]; 3];
        let mut largest = [[0.0; C]; 3];
        for frame in &input[start..end] {
            let z = *frame;
            let mut x = z;
            let mut c = z;
            for k in 0..3 {
                let Section { b, a } = sections[k];
                for l in 0..C {
                    let y = fused::<FUSED>(b[0], x[l], s1[k][l]);
                    // The old state first: it shortens the chain from one output to the next.
                    s1[k][l] = fused::<FUSED>(-a[0], y, fused::<FUSED>(b[1], x[l], s2[k][l]));
                    s2[k][l] = fused::<FUSED>(-a[1], y, b[2] * x[l]);
                    x[l] = y;
                }
                if k == 1 {
                    c = x;
                }
            }
            for (i, signal) in [x, c, z].iter().enumerate() {
                for l in 0..C {
                    let square = signal[l] * signal[l];
                    sum[i][l] += square;
                    largest[i][l] = if square > largest[i][l] { square } else { largest[i][l] };
                }
            }
        }
        for (i, list) in out.iter_mut().enumerate() {
            list.push(Run { sum: sum[i], largest: largest[i] });
        }
        start = end;
    }
    lanes.s1 = s1;
    lanes.s2 = s2;
}

/// One output for every two inputs: out[j] = ½ odd[j−5] + Σ h_i (even[j−5−i] + even[j−4+i]), with
/// [`KEEP`] older samples in front of both lists.
pub(crate) fn halve<const C: usize>(
    h: &[f64; PAIRS],
    even: &[[f64; C]],
    odd: &[[f64; C]],
    out: &mut [[f64; C]],
) {
    dispatch!(halve_body::<C>(h, even, odd, out));
}

#[inline(always)]
fn halve_body<const C: usize, const FUSED: bool>(
    h: &[f64; PAIRS],
    even: &[[f64; C]],
    odd: &[[f64; C]],
    out: &mut [[f64; C]],
) {
    // Every output is the same sum whatever its channel, so all are one long row of numbers, and a
    // plain loop over it is what the compiler turns into wide registers by itself.
    let length = out.len() * C;
    let (even, odd) = (even.as_flattened(), odd.as_flattened());
    let [e0, e1, e2, e3, e4, e5, e6, e7, e8, e9]: [&[f64]; 2 * PAIRS] =
        std::array::from_fn(|k| &even[k * C..][..length]);
    let o = &odd[(KEEP - 5) * C..][..length];
    for (n, y) in out.as_flattened_mut()[..length].iter_mut().enumerate() {
        let mut sum = fused::<FUSED>(h[0], e4[n] + e5[n], 0.5 * o[n]);
        sum = fused::<FUSED>(h[1], e3[n] + e6[n], sum);
        sum = fused::<FUSED>(h[2], e2[n] + e7[n], sum);
        sum = fused::<FUSED>(h[3], e1[n] + e8[n], sum);
        *y = fused::<FUSED>(h[4], e0[n] + e9[n], sum);
    }
}

/// Running values of some lanes: F, S, and what a frame has gathered so far.
#[derive(Clone, Debug)]
pub(crate) struct Detector<const N: usize> {
    pub(crate) fast: [f64; N],
    pub(crate) slow: [f64; N],
    pub(crate) sum: [f64; N],
    pub(crate) fast_max: [f64; N],
    pub(crate) largest: [f64; N],
}

impl<const N: usize> Detector<N> {
    pub(crate) fn new() -> Self {
        Detector {
            fast: [0.0; N],
            slow: [0.0; N],
            sum: [0.0; N],
            fast_max: [0.0; N],
            largest: [0.0; N],
        }
    }

    /// Forgets the frame; F and S go on.
    pub(crate) fn next_frame(&mut self) {
        self.sum = [0.0; N];
        self.fast_max = [0.0; N];
        self.largest = [0.0; N];
    }

    /// Takes runs of equal length.
    pub(crate) fn take(
        &mut self,
        runs: &[Run<[f64; N]>],
        gain2: &[f64; N],
        m: usize,
        rise: [f64; 2],
    ) {
        dispatch!(detect_body::<N>(self, runs, gain2, m, rise));
    }
}

#[inline(always)]
fn detect_body<const N: usize>(
    detector: &mut Detector<N>,
    runs: &[Run<[f64; N]>],
    gain2: &[f64; N],
    m: usize,
    [rise_f, rise_s]: [f64; 2],
) {
    let mut d = detector.clone();
    let per_sample = 1.0 / m as f64;
    let gain2 = *gain2;
    for run in runs {
        for l in 0..N {
            let sum = run.sum[l] * gain2[l];
            let largest = run.largest[l] * gain2[l];
            let mean = sum * per_sample;
            d.fast[l] += rise_f * (mean - d.fast[l]);
            d.slow[l] += rise_s * (mean - d.slow[l]);
            d.sum[l] += sum;
            d.fast_max[l] = if d.fast[l] > d.fast_max[l] { d.fast[l] } else { d.fast_max[l] };
            d.largest[l] = if largest > d.largest[l] { largest } else { d.largest[l] };
        }
    }
    *detector = d;
}

// The same loops, translated for a kind of processor.
macro_rules! translated {
        ($name:ident, $fused:literal $(, #[$how:meta])?) => {
            pub(crate) mod $name {
                use super::{BandLanes, Detector, PAIRS, Run, WeightingLanes};

                $(#[$how])?
                pub(crate) fn band_body<const C: usize, const N: usize, const S: usize>(
                    lanes: &mut BandLanes<N>,
                    input: &[[f64; C]],
                    ends: &[usize],
                    out: &mut Vec<Run<[f64; N]>>,
                ) {
                    super::band_body::<C, N, S, $fused>(lanes, input, ends, out);
                }

                $(#[$how])?
                pub(crate) fn weighting_body<const C: usize>(
                    lanes: &mut WeightingLanes<C>,
                    input: &[[f64; C]],
                    ends: &[usize],
                    out: &mut [Vec<Run<[f64; C]>>; 3],
                ) {
                    super::weighting_body::<C, $fused>(lanes, input, ends, out);
                }

                $(#[$how])?
                pub(crate) fn halve_body<const C: usize>(
                    h: &[f64; PAIRS],
                    even: &[[f64; C]],
                    odd: &[[f64; C]],
                    out: &mut [[f64; C]],
                ) {
                    super::halve_body::<C, $fused>(h, even, odd, out);
                }

                $(#[$how])?
                pub(crate) fn detect_body<const N: usize>(
                    detector: &mut Detector<N>,
                    runs: &[Run<[f64; N]>],
                    gain2: &[f64; N],
                    m: usize,
                    rise: [f64; 2],
                ) {
                    super::detect_body::<N>(detector, runs, gain2, m, rise);
                }
            }
        };
    }

translated!(plain, false);
#[cfg(target_arch = "x86_64")]
translated!(avx2, true, #[target_feature(enable = "avx2,fma")]);
#[cfg(target_arch = "x86_64")]
translated!(avx512, true, #[target_feature(enable = "avx512f,avx512dq,avx512vl,fma")]);
