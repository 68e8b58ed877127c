//! Recordings: samples, calibration, weightings, band levels, decays.
//!
//! This is the only crate that sees samples. Everything is a pure function over readers that are
//! handed in; the whole file is never in memory. One streaming pass ([`analyse`]) turns every
//! channel into a [`History`]: energies of 31 third-octave bands and of A, C and Z in frames of
//! 100 ms, with F and S values, peaks, calibration tones found on the way and whatever looks wrong.
//! Levels over chosen stretches come out of the history, as [`RelativeLevel`] (re full scale) as
//! long as nobody knows the [`Sensitivity`], and as `Level` (re 20 µPa) afterwards; the one cannot
//! be mistaken for the other.
//!
//! Not here: rooms, averages over positions, level differences with background, ratings (see
//! `wythe-fieldtest`), playing or capturing sound, and any file access of its own.
//!
//! ```
//! use std::io::Cursor;
//! use wythe_recording::{Analysis, Mask, Sensitivity, analyse, open, wav};
//! use wythe_bands::{Band, Level};
//!
//! // One second of a 1 kHz tone, rms 0.1 of full scale, written and read back.
//! let tone: Vec<f64> = (0..48000)
//!     .map(|n| 0.1 * 2f64.sqrt() * (std::f64::consts::TAU * 1000.0 * n as f64 / 48000.0).sin())
//!     .collect();
//! let bytes = wav::to_bytes(48000, 1, wav::Depth::Int24, &tone).unwrap();
//! let mut file = open(Cursor::new(bytes)).unwrap();
//! let heard = analyse(&mut *file, &Analysis::default(), |_| {}).unwrap();
//! let levels = heard.channels[0].history.statistics(&Mask::everything());
//! // A tenth of full scale is −20 dB re full scale …
//! assert!((levels.lzeq.unwrap().0 + 20.0).abs() < 0.001);
//! // … and 74 dB re 20 µPa once 1.0 is known to be 1 Pa (94 dB).
//! let absolute = levels.calibrated(Sensitivity::from_tone(
//!     wythe_recording::RelativeLevel(0.0), Level(93.979_400_09)).unwrap());
//! assert!((absolute.lzeq.unwrap().0 - 73.979).abs() < 0.001);
//! assert!(absolute.leq.get(Band::HZ_1000).is_some());
//! ```

// Comparisons are written so that NaN fails them, and lanes are walked by number because several
// arrays go side by side.
#![allow(clippy::neg_cmp_op_on_partial_ord, clippy::needless_range_loop)]

pub mod alignment;
mod analysis;
pub mod bank;
pub mod calibration;
pub mod class;
pub mod coherence;
pub mod columns;
pub mod decay;
mod error;
pub mod fingerprint;
mod flac;
pub mod follow;
pub mod half_band;
mod history;
pub mod hum;
pub mod joined;
mod lanes;
mod level;
pub mod listen_for;
pub mod microphone;
pub mod recover;
pub mod section;
mod sound_file;
mod statistics;
pub mod sweep;
pub mod test_signal;
mod timeline;
pub mod tone;
pub mod trouble;
pub mod wav;
pub mod weighting_filter;

pub use analysis::{
    Analysis, ChannelResults, Heard, analyse, analyse_with_sink, bandwidth_surplus,
};
pub use bank::{Bandwidth, Signal};
pub use error::RecordingError;
pub use fingerprint::Fingerprint;
pub use history::{Frame, FrameSink, History, NoSink};
pub use level::{RelativeLevel, Sensitivity};
pub use sound_file::{
    BadSpan, Container, Encoding, Format, LONGEST_STRETCH, Samples, open, read_stretch,
    read_stretches,
};
pub use statistics::{PercentileLevels, Statistics, percentile};
pub use timeline::{Author, Kind, Mask, Stretch, Timeline};
