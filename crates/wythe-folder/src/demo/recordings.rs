//! Recordings of an invented session, made from a seeded generator.
//!
//! A percussion-like signal fills the hall; each microphone elsewhere hears it through the
//! building as it really is, with the decay of its room, over the room's own background. In front
//! of everything stands a calibration tone. The levels are true in pascals; each channel has a
//! sensitivity of its own that only the tone reveals.

use std::io::{Seek, Write};

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use wythe_bands::{Band, Level, Spectrum};
use wythe_building::{Building, RoomIndex};
use wythe_recording::test_signal::SplitMix64;
use wythe_recording::{RecordingError, wav};
use wythe_transmission::{Cache, TransmissionError, assemble};

use super::as_built;

/// Sample rate, Hz.
const RATE: u32 = 48_000;
/// Length of a recording, s.
const SECONDS: f64 = 50.0;
const TONE: (f64, f64) = (0.5, 5.5);
const SOURCE: (f64, f64) = (14.5, 48.5);
const TALK: (f64, f64) = (24.0, 28.0);
/// Seed of everything random; another seed gives another session of the same building.
const SEED: u64 = 0x0052_6F70_6577_616C;

/// One recording to be made.
pub struct Recording<'a> {
    /// State of the building, if not as described.
    pub state: Option<&'a str>,
    /// Room of each channel.
    pub rooms: Vec<RoomIndex>,
    /// Room whose microphones hear people talk for a while, if any.
    pub talk: Option<RoomIndex>,
    /// Which recording of the session it is.
    pub number: u64,
}

/// Why a recording could not be made.
#[derive(Debug, thiserror::Error)]
pub enum MakeError {
    /// The building.
    #[error(transparent)]
    Building(#[from] TransmissionError),
    /// The file.
    #[error(transparent)]
    File(#[from] RecordingError),
    /// It is no longer wanted.
    #[error("stopped as asked")]
    Stopped,
}

/// Writes one recording. `progress` is told how much is done, 0 to 1; between channels it is asked
/// whether the recording is still wanted.
pub fn make<W: Write + Seek>(
    out: W,
    described: &Building,
    recording: &Recording<'_>,
    progress: &mut dyn FnMut(f64),
) -> Result<W, MakeError> {
    let mut built = as_built::with_faults(described);
    if let Some(state) = recording.state {
        built = built.in_state(state).unwrap_or(built);
    }
    let real = as_built::with_model_error(&assemble(&built, &mut Cache::default())?, SEED);
    let Some(source) = described.sources.first() else {
        return Ok(out);
    };
    let samples = (SECONDS * f64::from(RATE)) as usize;
    let length = samples.next_power_of_two();
    let mut fft = Transform::new(length);
    let played = played(&mut fft, &source.levels, samples, length, recording.number);
    let transfers = real.transfers(source.room, &recording.rooms);
    let mut channels: Vec<Vec<f64>> = Vec::with_capacity(recording.rooms.len());
    for (index, (&room, transfer)) in recording.rooms.iter().zip(&transfers).enumerate() {
        if crate::progress::stopped() {
            return Err(MakeError::Stopped);
        }
        let seed = SEED ^ ((index as u64 + 1) << 20) ^ (recording.number << 40);
        let decay = described.rooms[room.0].decay_time(described.air);
        let t = decay.get(Band::HZ_500).map_or(0.5, |t| t.0);
        let gains: Vec<f64> = (0..wythe_transmission::BANDS)
            .map(|b| if room == source.room { 1.0 } else { transfer.energy[b].sqrt() })
            .collect();
        let mut signal = heard(&mut fft, &played, &gains, t, seed, length);
        signal.truncate(samples);
        let background = background(described, room);
        add(&mut signal, &noise(&mut fft, &background, samples, length, seed ^ 0xB6));
        if recording.talk == Some(room) {
            add(&mut signal, &talk(&mut fft, samples, length, seed ^ 0x7A));
        }
        tone(&mut signal);
        // Loud channels run with less gain; no two are alike.
        let full_scale = if room == source.room { 63.0 } else { 9.0 };
        let sensitivity = full_scale * (1.0 + 0.07 * index as f64);
        signal.iter_mut().for_each(|x| *x /= sensitivity);
        channels.push(signal);
        progress((index + 1) as f64 / (recording.rooms.len() + 1) as f64);
    }
    let mut writer = wav::WavWriter::new(out, RATE, channels.len(), wav::Depth::Int24)?;
    let mut block = Vec::new();
    for start in (0..samples).step_by(65_536) {
        block.clear();
        for n in start..samples.min(start + 65_536) {
            block.extend(channels.iter().map(|c| c[n]));
        }
        writer.write(&block)?;
    }
    let (out, _) = writer.finish()?;
    progress(1.0);
    Ok(out)
}

/// Forward and inverse transform of one length.
struct Transform {
    planner: RealFftPlanner<f64>,
    length: usize,
}

impl Transform {
    fn new(length: usize) -> Transform {
        Transform { planner: RealFftPlanner::new(), length }
    }

    fn forward(&mut self, signal: &[f64]) -> Vec<Complex<f64>> {
        let plan = self.planner.plan_fft_forward(self.length);
        let mut input = signal.to_vec();
        input.resize(self.length, 0.0);
        let mut spectrum = plan.make_output_vec();
        // The buffers come from the plan itself, so the lengths agree.
        let _ = plan.process(&mut input, &mut spectrum);
        spectrum
    }

    fn inverse(&mut self, mut spectrum: Vec<Complex<f64>>) -> Vec<f64> {
        let plan = self.planner.plan_fft_inverse(self.length);
        let mut signal = plan.make_output_vec();
        if let Some(first) = spectrum.first_mut() {
            first.im = 0.0;
        }
        if let Some(last) = spectrum.last_mut() {
            last.im = 0.0;
        }
        let _ = plan.process(&mut spectrum, &mut signal);
        let scale = 1.0 / self.length as f64;
        signal.iter_mut().for_each(|x| *x *= scale);
        signal
    }

    fn frequency(&self, bin: usize) -> f64 {
        bin as f64 * f64::from(RATE) / self.length as f64
    }
}

/// Strokes of drums: noise with the envelope of a steady pattern, shaped to the source's levels.
fn played(
    fft: &mut Transform,
    levels: &Spectrum<Level>,
    samples: usize,
    length: usize,
    number: u64,
) -> Vec<Complex<f64>> {
    let mut random = SplitMix64::new(SEED ^ number);
    let mut envelope = vec![0.0f64; samples];
    let mut at = SOURCE.0;
    while at < SOURCE.1 {
        let strength = 0.4 + 0.6 * random.uniform();
        let decay = 0.05 + 0.20 * random.uniform();
        let start = (at * f64::from(RATE)) as usize;
        let end = samples.min(start + (6.0 * decay * f64::from(RATE)) as usize);
        for (n, e) in envelope.iter_mut().enumerate().take(end).skip(start) {
            *e += strength * (-((n - start) as f64) / f64::from(RATE) / decay).exp();
        }
        // Semiquavers of a fast march, some left out.
        at += 0.11 * (1.0 + (random.uniform() * 2.2).floor());
    }
    let mut signal: Vec<f64> = envelope.iter().map(|e| e * random.gauss()).collect();
    for (n, x) in signal.iter_mut().enumerate() {
        let t = n as f64 / f64::from(RATE);
        if !(SOURCE.0..SOURCE.1).contains(&t) {
            *x = 0.0;
        }
    }
    let during = (SOURCE.1 - SOURCE.0) / SECONDS;
    let spectrum = fft.forward(&signal);
    shaped(fft, spectrum, levels, during, length)
}

/// Scales each band of a spectrum so that it has the given level over the part of the recording
/// in which it sounds.
fn shaped(
    fft: &Transform,
    mut spectrum: Vec<Complex<f64>>,
    levels: &Spectrum<Level>,
    during: f64,
    length: usize,
) -> Vec<Complex<f64>> {
    let samples = SECONDS * f64::from(RATE);
    let mut gain = vec![0.0f64; spectrum.len()];
    for band in Band::all() {
        let (low, high) = (band.lower_edge().0, band.upper_edge().0);
        let bins: Vec<usize> = (0..spectrum.len())
            .skip_while(|&k| fft.frequency(k) < low)
            .take_while(|&k| fft.frequency(k) < high)
            .collect();
        // Mean square over the whole file by Parseval; positive frequencies count twice.
        let energy: f64 = bins.iter().map(|&k| 2.0 * spectrum[k].norm_sqr()).sum::<f64>()
            / length as f64
            / samples;
        let Some(level) = levels.get(band) else { continue };
        let wanted = level.energy() * Level::REFERENCE_PASCAL.powi(2) * during;
        if energy > 0.0 {
            let g = (wanted / energy).sqrt();
            bins.iter().for_each(|&k| gain[k] = g);
        }
    }
    spectrum.iter_mut().zip(&gain).for_each(|(x, g)| *x *= *g);
    spectrum
}

/// The signal as a microphone hears it: through the building, with the decay of the room.
fn heard(
    fft: &mut Transform,
    played: &[Complex<f64>],
    gains: &[f64],
    decay_time: f64,
    seed: u64,
    length: usize,
) -> Vec<f64> {
    // A room answer: noise dying away by 60 dB in the decay time, of unit energy.
    let mut random = SplitMix64::new(seed);
    let taps = (decay_time * f64::from(RATE)) as usize;
    let mut answer: Vec<f64> =
        (0..taps).map(|n| random.gauss() * (-6.907_755 * n as f64 / taps as f64).exp()).collect();
    let energy: f64 = answer.iter().map(|x| x * x).sum();
    answer.iter_mut().for_each(|x| *x /= energy.sqrt());
    let room = fft.forward(&answer);
    let mut spectrum: Vec<Complex<f64>> = played.iter().zip(&room).map(|(p, r)| p * r).collect();
    for (k, x) in spectrum.iter_mut().enumerate() {
        *x *= between(gains, fft.frequency(k));
    }
    let mut out = fft.inverse(spectrum);
    out.truncate(length);
    out
}

/// Gain at a frequency: straight between band centres in decibels over lg f.
fn between(gains: &[f64], frequency: f64) -> f64 {
    if frequency <= 0.0 {
        return 0.0;
    }
    // Band n of the axis is centred on 10^((13 + n)/10).
    let place = (10.0 * frequency.log10() - 13.0).clamp(0.0, gains.len() as f64 - 1.0);
    let (low, t) = (place.floor() as usize, place.fract());
    let high = (low + 1).min(gains.len() - 1);
    (gains[low].max(1e-12).ln() * (1.0 - t) + gains[high].max(1e-12).ln() * t).exp()
}

/// The room's own background, or a quiet house where none is described.
fn background(building: &Building, room: RoomIndex) -> Spectrum<Level> {
    building.rooms[room.0]
        .background
        .unwrap_or_else(|| Spectrum::from_fn(|b| Level(34.0 - 0.9 * b.index() as f64)))
        // The described background is a limit; the night was a little quieter.
        .map(|_, l| Level(l.0 - 3.0))
}

fn noise(
    fft: &mut Transform,
    levels: &Spectrum<Level>,
    samples: usize,
    length: usize,
    seed: u64,
) -> Vec<f64> {
    let mut random = SplitMix64::new(seed);
    let white: Vec<f64> = (0..samples).map(|_| random.gauss()).collect();
    let spectrum = fft.forward(&white);
    let shaped = shaped(fft, spectrum, levels, 1.0, length);
    let mut out = fft.inverse(shaped);
    out.truncate(samples);
    out
}

/// People talking: syllables of band-limited noise at the level of raised voices.
fn talk(fft: &mut Transform, samples: usize, length: usize, seed: u64) -> Vec<f64> {
    let voice: Spectrum<Level> = Band::range(
        Band::from_nominal("160").unwrap_or(Band::HZ_125),
        Band::from_nominal("8000").unwrap_or(Band::HZ_5000),
    )
    .map(|b| {
        let octaves_off = (b.centre().0 / 500.0).log2();
        (b, Level(52.0 - 2.5 * octaves_off * octaves_off))
    })
    .collect();
    let mut out = noise(fft, &voice, samples, length, seed);
    for (n, x) in out.iter_mut().enumerate() {
        let t = n as f64 / f64::from(RATE);
        let inside = (TALK.0..TALK.1).contains(&t);
        let syllable = (std::f64::consts::TAU * 4.0 * t).sin().max(0.0);
        *x *= if inside { 1.6 * syllable } else { 0.0 };
    }
    out
}

/// A calibrator on every capsule: 94 dB at 1 kHz, everything else shut out.
fn tone(signal: &mut [f64]) {
    let amplitude = 2f64.sqrt() * Level::REFERENCE_PASCAL * 10f64.powf(94.0 / 20.0);
    for (n, x) in signal.iter_mut().enumerate() {
        let t = n as f64 / f64::from(RATE);
        if (TONE.0..TONE.1).contains(&t) {
            *x = 0.001 * *x + amplitude * (std::f64::consts::TAU * 1000.0 * t).sin();
        }
    }
}

fn add(to: &mut [f64], more: &[f64]) {
    to.iter_mut().zip(more).for_each(|(a, b)| *a += b);
}
