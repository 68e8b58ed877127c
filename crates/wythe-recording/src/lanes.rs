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
    ($body:ident $(:: <$($n:tt),+>)? ($($arg:expr),*)) => {{
        #[cfg(target_arch = "x86_64")]
        {
            if std::is_x86_feature_detected!("avx512f")
                && std::is_x86_feature_detected!("avx512dq")
                && std::is_x86_feature_detected!("avx512vl")
                && std::is_x86_feature_detected!("fma") {
                // SAFETY: the processor was just asked and has these instructions; the function
                // itself is safe code that the compiler may translate with them.
                #[allow(unsafe_code)]
                unsafe { avx512::$body $(::<$($n),+>)? ($($arg),*) };
            } else if std::is_x86_feature_detected!("avx2")
                && std::is_x86_feature_detected!("fma") {
                // SAFETY: as above.
                #[allow(unsafe_code)]
                unsafe { avx2::$body $(::<$($n),+>)? ($($arg),*) };
            } else {
                plain::$body $(::<$($n),+>)? ($($arg),*);
            }
        }
        #[cfg(not(target_arch = "x86_64"))]
        plain::$body $(::<$($n),+>)? ($($arg),*);
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

/// Sorts pairs of samples into those of even and of odd index, behind what is there.
pub(crate) fn part<const C: usize>(
    pairs: &[[[f64; C]; 2]],
    even: &mut Vec<[f64; C]>,
    odd: &mut Vec<[f64; C]>,
) {
    let at = [even.len(), odd.len()];
    even.resize(at[0] + pairs.len(), [0.0; C]);
    odd.resize(at[1] + pairs.len(), [0.0; C]);
    dispatch!(part_body::<C>(pairs, &mut even[at[0]..], &mut odd[at[1]..]));
}

#[inline(always)]
fn part_body<const C: usize>(pairs: &[[[f64; C]; 2]], even: &mut [[f64; C]], odd: &mut [[f64; C]]) {
    for ((pair, e), o) in pairs.iter().zip(even).zip(odd) {
        *e = pair[0];
        *o = pair[1];
    }
}

/// One channel (from 0) out of `stride` interleaved ones.
pub(crate) fn pick(interleaved: &[f64], stride: usize, channel: usize, out: &mut Vec<f64>) {
    out.resize(interleaved.len() / stride, 0.0);
    match stride {
        1 => out.copy_from_slice(interleaved),
        2 => dispatch!(pick_body::<2>(interleaved, channel, out)),
        4 => dispatch!(pick_body::<4>(interleaved, channel, out)),
        8 => dispatch!(pick_body::<8>(interleaved, channel, out)),
        _ => {
            for (to, frame) in out.iter_mut().zip(interleaved.chunks_exact(stride)) {
                *to = frame[channel];
            }
        }
    }
}

#[inline(always)]
fn pick_body<const S: usize>(interleaved: &[f64], channel: usize, out: &mut [f64]) {
    let (frames, _) = interleaved.as_chunks::<S>();
    let channel = channel % S;
    for (to, frame) in out.iter_mut().zip(frames) {
        *to = frame[channel];
    }
}

/// What a stretch of one channel comes to.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Scan {
    pub(crate) sum: f64,
    pub(crate) energy: f64,
    /// Largest size of a sample.
    pub(crate) largest: f64,
    /// Whether three equal samples follow one another.
    pub(crate) flat: bool,
}

/// Looks a stretch through.
pub(crate) fn scan(x: &[f64]) -> Scan {
    let mut out = Scan::default();
    dispatch!(scan_body(x, &mut out));
    out
}

#[inline(always)]
fn scan_body(x: &[f64], out: &mut Scan) {
    let (mut sum, mut energy, mut largest) = ([0.0; 8], [0.0; 8], [0.0f64; 8]);
    let (eights, rest) = x.as_chunks::<8>();
    for eight in eights {
        for l in 0..8 {
            let size = eight[l].abs();
            sum[l] += eight[l];
            energy[l] += eight[l] * eight[l];
            largest[l] = if size > largest[l] { size } else { largest[l] };
        }
    }
    for (l, v) in rest.iter().enumerate() {
        sum[l] += v;
        energy[l] += v * v;
        largest[l] = largest[l].max(v.abs());
    }
    let triples = x.len().saturating_sub(2);
    let (a, b, c) = (&x[..triples], &x[x.len().min(1)..], &x[x.len() - triples..]);
    let mut flat = 0u64;
    for ((a, b), c) in a.iter().zip(b).zip(c) {
        flat |= u64::from(a == b) & u64::from(b == c);
    }
    *out = Scan {
        sum: sum.iter().sum(),
        energy: energy.iter().sum(),
        largest: largest.into_iter().fold(0.0, f64::max),
        flat: flat != 0,
    };
}

/// Sum, sum of squares, and the sums of every `skip` samples in a row.
pub(crate) fn coarse(x: &[f32], skip: usize, out: &mut Vec<f64>) -> [f64; 2] {
    let mut sums = [0.0; 2];
    out.clear();
    out.resize(x.len() / skip, 0.0);
    // The usual rates are 5, 6, 11, 12, 22 and 24 times 8 kHz; loops of a known length are far faster.
    match skip {
        5 => dispatch!(coarse_body::<5>(x, out, &mut sums)),
        6 => dispatch!(coarse_body::<6>(x, out, &mut sums)),
        11 => dispatch!(coarse_body::<11>(x, out, &mut sums)),
        12 => dispatch!(coarse_body::<12>(x, out, &mut sums)),
        _ => {
            dispatch!(coarse_body::<1>(x, &mut [], &mut sums));
            for (to, some) in out.iter_mut().zip(x.chunks_exact(skip)) {
                *to = some.iter().map(|v| f64::from(*v)).sum();
            }
        }
    }
    sums
}

#[inline(always)]
fn coarse_body<const S: usize>(x: &[f32], out: &mut [f64], sums: &mut [f64; 2]) {
    let (mut sum, mut energy) = ([0.0; 8], [0.0; 8]);
    let (eights, rest) = x.as_chunks::<8>();
    for eight in eights {
        for l in 0..8 {
            let v = f64::from(eight[l]);
            sum[l] += v;
            energy[l] += v * v;
        }
    }
    for (l, v) in rest.iter().enumerate() {
        let v = f64::from(*v);
        sum[l] += v;
        energy[l] += v * v;
    }
    *sums = [sum.iter().sum(), energy.iter().sum()];
    let (some, _) = x.as_chunks::<S>();
    for (to, some) in out.iter_mut().zip(some) {
        let mut sum = 0.0;
        for v in some {
            sum += f64::from(*v);
        }
        *to = sum;
    }
}

/// Every piece of `x`, as long as the probe, against its cosine and its sine.
pub(crate) fn against(x: &[f64], probe: &[Vec<f64>; 2], out: &mut Vec<[f64; 2]>) {
    out.clear();
    dispatch!(against_body(x, probe, out));
}

#[inline(always)]
fn against_body(x: &[f64], [cos, sin]: &[Vec<f64>; 2], out: &mut Vec<[f64; 2]>) {
    let ((c, c_rest), (s, s_rest)) = (cos.as_chunks::<8>(), sin.as_chunks::<8>());
    for piece in x.chunks_exact(cos.len().max(1)) {
        let (p, rest) = piece.as_chunks::<8>();
        let (mut re, mut im) = ([0.0; 8], [0.0; 8]);
        for ((p, c), s) in p.iter().zip(c).zip(s) {
            for l in 0..8 {
                re[l] += p[l] * c[l];
                im[l] += p[l] * s[l];
            }
        }
        for (l, v) in rest.iter().enumerate() {
            re[l] += v * c_rest[l];
            im[l] += v * s_rest[l];
        }
        out.push([re.iter().sum(), im.iter().sum()]);
    }
}

/// Whole numbers of 16 bits, little end first, to samples.
pub(crate) fn from_16_bits(bytes: &[u8], out: &mut [f64]) {
    dispatch!(bits_16_body(bytes, out));
}

#[inline(always)]
fn bits_16_body(bytes: &[u8], out: &mut [f64]) {
    let (pairs, _) = bytes.as_chunks::<2>();
    for (x, b) in out.iter_mut().zip(pairs) {
        *x = f64::from(i16::from_le_bytes(*b)) / 32_768.0;
    }
}

/// Whole numbers of 24 bits, little end first, to samples: four at a time out of three words.
pub(crate) fn from_24_bits(bytes: &[u8], out: &mut [f64]) {
    dispatch!(bits_24_body(bytes, out));
}

#[inline(always)]
fn bits_24_body(bytes: &[u8], out: &mut [f64]) {
    // The number sits in the upper three bytes of a word.
    const FULL: f64 = 1.0 / 2_147_483_648.0;
    const UPPER: u32 = 0xFFFF_FF00;
    let (twelves, bytes_left) = bytes.as_chunks::<12>();
    let (fours, left) = out.split_at_mut((4 * twelves.len()).min(out.len()));
    for (to, b) in fours.as_chunks_mut::<4>().0.iter_mut().zip(twelves) {
        let word = |k: usize| u32::from_le_bytes([b[k], b[k + 1], b[k + 2], b[k + 3]]);
        let (u, v, w) = (word(0), word(4), word(8));
        let four = [
            u << 8,
            ((u >> 16) & 0xFF00) | (v << 16),
            ((v >> 8) & 0xFF_FF00) | (w << 24),
            w & UPPER,
        ];
        for l in 0..4 {
            to[l] = f64::from(four[l] as i32) * FULL;
        }
    }
    for (x, b) in left.iter_mut().zip(bytes_left.chunks_exact(3)) {
        *x = f64::from(i32::from_le_bytes([0, b[0], b[1], b[2]])) * FULL;
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
                use super::{BandLanes, Detector, PAIRS, Run, Scan, WeightingLanes};

                $(#[$how])?
                pub(crate) fn part_body<const C: usize>(
                    pairs: &[[[f64; C]; 2]],
                    even: &mut [[f64; C]],
                    odd: &mut [[f64; C]],
                ) {
                    super::part_body::<C>(pairs, even, odd);
                }

                $(#[$how])?
                pub(crate) fn pick_body<const S: usize>(
                    interleaved: &[f64],
                    channel: usize,
                    out: &mut [f64],
                ) {
                    super::pick_body::<S>(interleaved, channel, out);
                }

                $(#[$how])?
                pub(crate) fn scan_body(x: &[f64], out: &mut Scan) {
                    super::scan_body(x, out);
                }

                $(#[$how])?
                pub(crate) fn coarse_body<const S: usize>(
                    x: &[f32],
                    out: &mut [f64],
                    sums: &mut [f64; 2],
                ) {
                    super::coarse_body::<S>(x, out, sums);
                }

                $(#[$how])?
                pub(crate) fn against_body(
                    x: &[f64],
                    probe: &[Vec<f64>; 2],
                    out: &mut Vec<[f64; 2]>,
                ) {
                    super::against_body(x, probe, out);
                }

                $(#[$how])?
                pub(crate) fn bits_16_body(bytes: &[u8], out: &mut [f64]) {
                    super::bits_16_body(bytes, out);
                }

                $(#[$how])?
                pub(crate) fn bits_24_body(bytes: &[u8], out: &mut [f64]) {
                    super::bits_24_body(bytes, out);
                }

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
