//! How long a minute of sound takes: the wait between choosing a recording and seeing its levels.
//!
//! Beside it the plain cascade at the full rate (one core, one channel), which is the slow twin the
//! fast bank is tested against, and the ratio of the two.

use std::io::Cursor;
use std::time::Instant;

use wythe_bands::weighting::Weighting;
use wythe_recording::bank::Plan;
use wythe_recording::coherence::CrossSpectrum;
use wythe_recording::section::{Cascade, band_pass};
use wythe_recording::weighting_filter::WeightingFilter;
use wythe_recording::{Analysis, Bandwidth, analyse, open, test_signal, wav};

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

fn best(mut f: impl FnMut()) -> f64 {
    (0..5)
        .map(|_| {
            let begin = Instant::now();
            f();
            begin.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    let x = test_signal::white(1, 0.1, RATE as usize * 10);
    let plain = best(|| {
        divan::black_box(plainly(&x));
    }) / 10.0;
    for channels in [1, 2, 4, 8] {
        let bytes = minute(channels);
        let fast = best(|| read(&bytes, 1)) / (SECONDS * channels) as f64;
        println!(
            "{channels} channels, one core: {:.0} times real time per channel, {:.1} times the plain \
             cascade",
            1.0 / fast,
            plain / fast
        );
    }
    divan::main();
}
