//! How long a minute of sound takes: the wait between choosing a recording and seeing its levels.
//!
//! Beside it the plain cascade at the full rate (one core, one channel), which is the slow twin the
//! fast bank is tested against, and the ratio of the two.

use std::io::Cursor;
use std::time::Instant;

use wythe_bands::Seconds;
use wythe_bands::weighting::Weighting;
use wythe_recording::bank::Plan;
use wythe_recording::coherence::CrossSpectrum;
use wythe_recording::recover::{Wish, recover};
use wythe_recording::section::{Cascade, band_pass};
use wythe_recording::weighting_filter::WeightingFilter;
use wythe_recording::{Analysis, Bandwidth, Mask, analyse, open, test_signal, wav};

const RATE: u32 = 48_000;
const SECONDS: usize = 60;

fn minute(channels: usize) -> Vec<u8> {
    let x = test_signal::white(1, 0.1, RATE as usize * SECONDS * channels);
    wav::to_bytes(RATE, channels, wav::Depth::Int24, &x).expect("a plain file")
}

fn read(bytes: &[u8], threads: usize) {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
    pool.install(|| {
        let mut file = open(Cursor::new(bytes)).expect("a plain file");
        analyse(&mut *file, &Analysis::default(), |_| {}).expect("an analysis");
    });
}

/// Ten seconds of one channel the plain way: every band at the full rate, F on every sample.
fn plainly(x: &[f64]) -> f64 {
    let rate = f64::from(RATE);
    let plan = Plan::new(rate, Bandwidth::AtEdges).expect("a usual rate");
    let weighting = WeightingFilter::new(rate);
    let mut cascades: Vec<Cascade> = plan
        .bands()
        .filter_map(|b| band_pass(b, rate, plan.place(b)?.order, Bandwidth::AtEdges))
        .chain([weighting.sections(Weighting::A), weighting.sections(Weighting::C), Vec::new()])
        .map(|s| Cascade::new(&s))
        .collect();
    let rise = 1.0 - (-1.0 / (rate * 0.125)).exp();
    let mut all = 0.0;
    for cascade in &mut cascades {
        let (mut fast, mut sum) = (0.0, 0.0);
        for v in x {
            let y = cascade.step(*v);
            sum += y * y;
            fast += rise * (y * y - fast);
        }
        all += sum + fast;
    }
    all
}

#[divan::bench(args = [1, 2, 4, 8], sample_count = 5)]
fn one_core(bencher: divan::Bencher<'_, '_>, channels: usize) {
    let bytes = minute(channels);
    bencher.bench_local(|| read(&bytes, 1));
}

#[divan::bench(args = [4, 8], sample_count = 5)]
fn all_cores(bencher: divan::Bencher<'_, '_>, channels: usize) {
    let bytes = minute(channels);
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    bencher.bench_local(|| read(&bytes, cores));
}

#[divan::bench(sample_count = 3)]
fn ten_seconds_plainly(bencher: divan::Bencher<'_, '_>) {
    let x = test_signal::white(1, 0.1, RATE as usize * 10);
    bencher.bench_local(|| plainly(divan::black_box(&x)));
}

#[divan::bench(sample_count = 3)]
fn coherence_of_one_pair(bencher: divan::Bencher<'_, '_>) {
    let x = test_signal::white(1, 0.1, RATE as usize * SECONDS);
    let y = test_signal::white(2, 0.1, RATE as usize * SECONDS);
    bencher.bench_local(|| {
        let mut s = CrossSpectrum::new(f64::from(RATE), 65_536).expect("a plain size");
        s.push(&x, &y);
        s.coherent()
    });
}

/// What came through, recovered for two receiving channels: as a survey does it, delays and the half
/// segment included.
#[divan::bench(sample_count = 3)]
fn recovered_from_two_channels(bencher: divan::Bencher<'_, '_>) {
    let bytes = minute(3);
    let wish = Wish {
        references: vec![1],
        receivers: vec![2, 3],
        mask: Mask::everything(),
        segment: Seconds(1.3),
        largest_delay: Seconds(0.25),
    };
    bencher.bench_local(|| {
        recover(&mut || open(Cursor::new(&bytes)), &wish, |_| {}).expect("a plain file")
    });
}

fn best(mut f: impl FnMut()) -> f64 {
    (0..5)
        .map(|_| {
            let begin = Instant::now();
            f();
            begin.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Fused multiply-adds a second on one core, eight in a row on each of 256 numbers: what the arithmetic
/// of this processor comes to with 256-bit registers, the floor of every filter.
fn fused_a_second() -> f64 {
    #[inline(always)]
    fn body(rounds: u32) -> f64 {
        let mut x = vec![0.5f64; 256];
        for _ in 0..rounds {
            for v in &mut x {
                for _ in 0..8 {
                    *v = v.mul_add(0.999, 1e-3);
                }
            }
        }
        x.iter().sum()
    }
    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn wide(rounds: u32) -> f64 {
        body(rounds)
    }
    const ROUNDS: u32 = 50_000;
    let seconds = best(|| {
        #[cfg(target_arch = "x86_64")]
        if std::is_x86_feature_detected!("avx2") && std::is_x86_feature_detected!("fma") {
            // SAFETY: the processor was just asked and has these instructions.
            #[allow(unsafe_code)]
            divan::black_box(unsafe { wide(divan::black_box(ROUNDS)) });
            return;
        }
        divan::black_box(body(divan::black_box(ROUNDS)));
    });
    256.0 * 8.0 * f64::from(ROUNDS) / seconds
}

/// Multiply-adds that a sample of one channel needs at least: sections of 3 (band-pass) or 5 each, the
/// bands of every octave at its own rate, A and C, halving, squares; bookkeeping not counted.
fn least_work() -> f64 {
    let plan = Plan::new(f64::from(RATE), Bandwidth::AtEdges).expect("a usual rate");
    let bands: f64 = plan
        .bands()
        .filter_map(|b| plan.place(b))
        .map(|p| (3.0 * p.order as f64 / 2.0 + 1.0) / 2f64.powi(p.stage as i32))
        .sum();
    // Each halving makes one output of eleven operations for every two samples; A, C: three sections
    // of five; Z, A, C squared.
    bands + 11.0 + 15.0 + 3.0
}

fn main() {
    let speed = fused_a_second();
    let floor = speed / least_work() / f64::from(RATE);
    println!(
        "arithmetic floor: {:.0} multiply-adds a sample at {:.1} thousand million a second, {floor:.0} \
         times real time per channel",
        least_work(),
        speed / 1e9
    );
    let x = test_signal::white(1, 0.1, RATE as usize * 10);
    let plain = best(|| {
        divan::black_box(plainly(&x));
    }) / 10.0;
    for channels in [1, 2, 4, 8] {
        let bytes = minute(channels);
        let fast = best(|| read(&bytes, 1)) / (SECONDS * channels) as f64;
        println!(
            "{channels} channels, one core: {:.0} times real time per channel, {:.1} times the plain \
             cascade, {:.0} % of the arithmetic floor",
            1.0 / fast,
            plain / fast,
            100.0 / fast / floor
        );
    }
    divan::main();
}
