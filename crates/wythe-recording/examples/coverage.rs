//! Do the limits printed for what comes through hold the truth as often as they say? Made music of
//! several kinds through made rooms, under a made ambient, with one microphone near the source and with
//! two.
//!
//! `cargo run --release -p wythe-recording --example coverage -- [SEEDS] [FIRST SEED] [SAMPLES.wav ...]`;
//! with sound files (16 kHz, first channel: single strokes) sessions of these are tried in their place.

use std::io::Cursor;

use realfft::RealFftPlanner;
use wythe_bands::{Band, Seconds, Spectrum};
use wythe_recording::recover::{Wish, recover};
use wythe_recording::test_signal::{SplitMix64, white};
use wythe_recording::wav::{Depth, to_bytes};
use wythe_recording::{Analysis, Mask, analyse, open};

const RATE: u32 = 16_000;
const SECONDS: usize = 120;
const N: usize = RATE as usize * SECONDS;
/// Levels of what comes through over the ambient, all bands together, dB.
const DEPTHS: [f64; 4] = [-5.0, -12.0, -18.0, -25.0];
/// Classes of the single bands, by the level of what comes through over the ambient, dB.
const CLASSES: [(f64, f64); 5] =
    [(0.0, 40.0), (-10.0, 0.0), (-20.0, -10.0), (-25.0, -20.0), (-32.0, -25.0)];

/// Kinds of music.
#[derive(Clone, Copy, Debug)]
enum Music {
    /// Noise strokes, loud and soft, with rests of seconds.
    Strokes,
    /// Struck skins: a few partials that die away at their own pace, each with a click.
    Skins,
    /// A line of notes with harmonics, held and let go.
    Notes,
    /// Long silence with a few outbursts.
    Bursts,
    /// Single strokes of published or own recordings, played by a made drummer.
    Samples,
}

/// Whether somebody plays: passages of 4 to 15 s, rests of 1 to 6 s, each passage as loud as it likes.
fn passages(r: &mut SplitMix64, play: (f64, f64), rest: (f64, f64)) -> Vec<f64> {
    let mut out = Vec::with_capacity(N);
    while out.len() < N {
        let loud = 10f64.powf(-r.uniform());
        let on = (play.0 + (play.1 - play.0) * r.uniform()) * f64::from(RATE);
        let off = (rest.0 + (rest.1 - rest.0) * r.uniform()) * f64::from(RATE);
        out.resize((out.len() + on as usize).min(N), loud);
        out.resize((out.len() + off as usize).min(N), 0.0);
    }
    out
}

/// Times of strokes, with how hard each is: a beat that is kept roughly, some left out.
fn beats(r: &mut SplitMix64, loud: &[f64], beat: f64) -> Vec<(usize, f64)> {
    let mut out = Vec::new();
    let mut t = 0.0;
    while t < SECONDS as f64 {
        let at = ((t + 0.01 * r.gauss()).max(0.0) * f64::from(RATE)) as usize;
        let subdivided = if r.uniform() < 0.3 { 0.5 } else { 1.0 };
        t += beat * subdivided;
        if at < N && loud[at] > 0.0 && r.uniform() < 0.8 {
            out.push((at, loud[at] * (0.25 + 0.75 * r.uniform())));
        }
    }
    out
}

fn made(music: Music, seed: u64, samples: &[Vec<f64>]) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    let rate = f64::from(RATE);
    let mut x = vec![0.0; N];
    let loud = match music {
        Music::Bursts => passages(&mut r, (0.5, 2.0), (8.0, 20.0)),
        _ => passages(&mut r, (4.0, 15.0), (1.0, 6.0)),
    };
    match music {
        Music::Strokes | Music::Bursts => {
            for (at, hard) in beats(&mut r, &loud, 0.37) {
                let tau = (0.03 + 0.12 * r.uniform()) * rate;
                let mut colour = 0.0;
                let dull = 0.9 * r.uniform();
                for (k, v) in x[at..].iter_mut().take((8.0 * tau) as usize).enumerate() {
                    colour = dull * colour + (1.0 - dull) * r.gauss();
                    *v += hard * colour * (-(k as f64) / tau).exp();
                }
            }
        }
        Music::Skins => {
            for (at, hard) in beats(&mut r, &loud, 0.31) {
                let root = [95.0, 140.0, 210.0, 330.0][(r.next_u64() % 4) as usize];
                for ratio in [1.0, 1.59, 2.14, 2.30, 2.65, 2.92, 3.5, 5.4, 9.1, 14.3] {
                    let f = root * ratio * (1.0 + 0.004 * r.gauss());
                    if f > 7_000.0 {
                        continue;
                    }
                    let tau = rate * 0.25 / ratio.sqrt();
                    let phase = std::f64::consts::TAU * r.uniform();
                    let a = hard * (0.3 + r.uniform()) / ratio.sqrt();
                    for (k, v) in x[at..].iter_mut().take((7.0 * tau) as usize).enumerate() {
                        let t = k as f64;
                        let w = std::f64::consts::TAU * f / rate;
                        *v += a * (w * t + phase).sin() * (-t / tau).exp();
                    }
                }
                for (k, v) in x[at..].iter_mut().take(400).enumerate() {
                    *v += hard * r.gauss() * (-(k as f64) / 60.0).exp();
                }
            }
        }
        Music::Notes => {
            let scale = [0, 2, 3, 5, 7, 8, 10, 12, 14, 15];
            for (at, hard) in beats(&mut r, &loud, 0.55) {
                let step = scale[(r.next_u64() % 10) as usize];
                let root = 82.4 * 2f64.powf(f64::from(step) / 12.0);
                let held = (rate * (0.2 + 1.0 * r.uniform())) as usize;
                for h in 1..=24 {
                    let f = root * f64::from(h) * (1.0 + 2e-4 * f64::from(h * h)).sqrt();
                    if f > 6_500.0 {
                        break;
                    }
                    let tau = rate * 1.5 / f64::from(h).sqrt();
                    let phase = std::f64::consts::TAU * r.uniform();
                    let a = hard * 0.5 / f64::from(h);
                    for (k, v) in x[at..].iter_mut().take(held + 2_000).enumerate() {
                        let t = k as f64;
                        let up = (t / 80.0).min(1.0);
                        let off = if k > held { 1.0 - (k - held) as f64 / 2_000.0 } else { 1.0 };
                        let w = std::f64::consts::TAU * f / rate;
                        *v += a * up * off * (w * t + phase).sin() * (-t / tau).exp();
                    }
                }
            }
        }
        Music::Samples => {
            for (at, hard) in beats(&mut r, &loud, 0.29) {
                let one = &samples[(r.next_u64() as usize) % samples.len()];
                for (v, s) in x[at..].iter_mut().zip(one) {
                    *v += hard * s;
                }
            }
        }
    }
    x
}

/// A room: the direct sound and noise that dies away by 60 dB in `t`.
fn answer(r: &mut SplitMix64, t: f64, delay: f64, direct: f64, field: f64) -> Vec<f64> {
    let rate = f64::from(RATE);
    let begin = (delay * rate) as usize;
    let mut out = vec![0.0; begin + (1.3 * t * rate) as usize + 2];
    out[begin] = direct;
    let tau = t * rate / 13.815;
    for (k, v) in out[begin + 1..].iter_mut().enumerate() {
        *v += field * r.gauss() * (-(k as f64) / (2.0 * tau)).exp() / tau.sqrt();
    }
    out
}

fn convolved(x: &[f64], h: &[f64]) -> Vec<f64> {
    let size = (x.len() + h.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, back) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let spectrum = |s: &[f64]| {
        let mut line = vec![0.0; size];
        line[..s.len()].copy_from_slice(s);
        let mut out = forward.make_output_vec();
        forward.process(&mut line, &mut out).expect("sizes belong together");
        out
    };
    let (mut a, b) = (spectrum(x), spectrum(h));
    a.iter_mut().zip(&b).for_each(|(a, b)| *a *= b / size as f64);
    let mut out = vec![0.0; size];
    back.process(&mut a, &mut out).expect("sizes belong together");
    out.truncate(x.len());
    out
}

fn plus(a: &[f64], b: &[f64], gain: f64) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a + gain * b).collect()
}

fn level(x: &[f64]) -> f64 {
    10.0 * (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).log10()
}

fn bands(x: &[f64]) -> Spectrum<f64> {
    let bytes = to_bytes(RATE, 1, Depth::Float32, x).expect("a rate that is offered");
    let mut samples = open(Cursor::new(&bytes)).expect("a file just made");
    let heard = analyse(&mut *samples, &Analysis::default(), |_| {}).expect("sound");
    heard.channels[0].history.statistics(&Mask::everything()).leq.map(|_, l| l.0)
}

/// How often what was said held.
#[derive(Clone, Copy, Default)]
struct Count {
    bands: usize,
    values: usize,
    inside: usize,
    limited: usize,
    under: usize,
    over: usize,
    error: f64,
}

impl Count {
    fn add(&mut self, o: Count) {
        self.bands += o.bands;
        self.values += o.values;
        self.inside += o.inside;
        self.limited += o.limited;
        self.under += o.under;
        self.over += o.over;
        self.error += o.error;
    }

    fn line(&self, name: &str) {
        let percent = |a: usize, b: usize| 100.0 * a as f64 / b.max(1) as f64;
        println!(
            "{name:<26} {:>5} bands; {:>5} values, {:>5.1} % in ±1.645 s, mean error {:+.2} dB; \
             {:>5} with limits, {:>5.1} % hold, {} too low above, {} too high below",
            self.bands,
            self.values,
            percent(self.inside, self.values),
            self.error / self.values.max(1) as f64,
            self.limited,
            percent(self.limited - (self.under + self.over).min(self.limited), self.limited),
            self.under,
            self.over
        );
    }
}

/// One session: the classes of its bands.
fn session(
    music: [Music; 2],
    mics: usize,
    seed: u64,
    depth: f64,
    strokes: &[Vec<f64>],
) -> [Count; 5] {
    let mut r = SplitMix64::new(seed.wrapping_mul(7919) + 13);
    let mut near = vec![vec![0.0; N]; mics];
    let mut through = vec![0.0; N];
    // One player, or two of whom each has a microphone that hears the other a little.
    for player in 0..mics {
        let x = made(music[player], seed * 31 + player as u64, strokes);
        let gain = 10f64.powf(-(level(&x) + 30.0) / 20.0);
        for (mic, line) in near.iter_mut().enumerate() {
            let (direct, field) = if mic == player { (1.0, 0.12) } else { (0.2, 0.12) };
            let h =
                answer(&mut r, 0.7, 0.002 + 0.004 * (mic != player) as u8 as f64, direct, field);
            *line = plus(line, &convolved(&x, &h), gain);
        }
        let h = answer(&mut r, 0.5, 0.012, 0.3, 1.0);
        through = plus(&through, &convolved(&x, &h), gain);
    }
    let ambient = white(seed + 900, 1.0, N);
    // A little red, as ambients are, so that depths differ from band to band.
    let mut held = 0.0;
    let ambient: Vec<f64> = ambient
        .iter()
        .map(|v| {
            held = 0.8 * held + 0.2 * v;
            held + 0.1 * v
        })
        .collect();
    let gain = 10f64.powf((level(&through) - depth - level(&ambient)) / 20.0);
    let heard = plus(&through, &ambient, gain);
    let mut all = near.clone();
    all.push(heard.clone());
    let lines: Vec<f64> = (0..N).flat_map(|n| all.iter().map(move |c| c[n])).collect();
    let bytes = to_bytes(RATE, mics + 1, Depth::Float32, &lines).expect("a rate that is offered");
    let wish = Wish {
        references: (1..=mics).collect(),
        receivers: vec![mics + 1],
        mask: Mask::everything(),
        segment: Seconds(0.7),
        largest_delay: Seconds(0.25),
    };
    let got = recover(&mut || open(Cursor::new(&bytes)), &wish, |_| {}).expect("sound enough");
    let (truth, whole) = (bands(&through), bands(&heard));
    let noise = bands(&ambient.iter().map(|v| gain * v).collect::<Vec<_>>());
    let mut out = [Count::default(); 5];
    for (band, found) in got[0].bands.within(Band::HZ_100, Band::HZ_5000).iter() {
        let (Some(t), Some(w), Some(a)) = (truth.get(band), whole.get(band), noise.get(band))
        else {
            continue;
        };
        let (share, under) = (t - w, t - a);
        let Some(class) = CLASSES.iter().position(|c| under >= c.0 && under < c.1) else {
            continue;
        };
        let count = &mut out[class];
        count.bands += 1;
        if let Some((value, deviation)) = found.share.zip(found.deviation) {
            count.values += 1;
            count.inside += usize::from((value.0 - share).abs() <= 1.645 * deviation.0);
            count.error += value.0 - share;
        }
        // The upper one is printed where the segment was long enough.
        if found.share.is_some() {
            count.limited += 1;
            count.under += usize::from(found.at_most.0 < share);
            count.over += usize::from(found.at_least.is_some_and(|l| l.0 > share));
        }
    }
    out
}

fn main() {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let number = |k: usize, or| given.get(k).and_then(|a| a.parse().ok()).unwrap_or(or);
    let (seeds, first): (u64, u64) = (number(0, 4), number(1, 1));
    let strokes: Vec<Vec<f64>> = given
        .iter()
        .skip(2)
        .map(|path| {
            let bytes = std::fs::read(path).expect("a sound file");
            let mut samples = open(Cursor::new(bytes)).expect("a sound file");
            assert_eq!(samples.format().rate, RATE, "{path}: 16 kHz are needed");
            let channels = samples.format().channels;
            let mut line = Vec::new();
            let mut buffer = vec![0.0; 4096 * channels];
            while let Ok(frames @ 1..) = samples.read(&mut buffer) {
                line.extend(buffer[..frames * channels].chunks(channels).map(|f| f[0]));
            }
            line
        })
        .collect();
    use Music::{Bursts, Notes, Samples, Skins, Strokes};
    let mut kinds = vec![[Strokes, Notes], [Skins, Strokes], [Notes, Skins], [Bursts, Notes]];
    if !strokes.is_empty() {
        kinds = vec![[Samples, Samples]];
    }
    for mics in [1, 2] {
        let mut total = [Count::default(); 5];
        for music in &kinds {
            let mut of_kind = Count::default();
            for seed in first..first + seeds {
                for depth in DEPTHS {
                    let found = session(*music, mics, seed, depth, &strokes);
                    for (t, f) in total.iter_mut().zip(found) {
                        t.add(f);
                        of_kind.add(f);
                    }
                }
            }
            of_kind.line(&format!("{mics}: {:?}", &music[..mics]));
        }
        for (class, count) in CLASSES.iter().zip(&total) {
            count.line(&format!("{mics}: {} to {} dB", class.0, class.1));
        }
        let mut all = Count::default();
        total.iter().for_each(|c| all.add(*c));
        all.line(&format!("{mics}: all"));
    }
}
