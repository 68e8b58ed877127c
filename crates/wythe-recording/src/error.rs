//! What can go wrong with a recording.

use std::io;

/// Why a recording, or a wish about it, cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum RecordingError {
    /// The bytes cannot be read.
    #[error("the recording cannot be read at byte {at}: {cause}")]
    Io {
        /// Where reading stopped.
        at: u64,
        /// What the system said.
        cause: io::Error,
    },
    /// The bytes are no sound file of a known kind.
    #[error("this is not a sound file: {found}; use WAV, RF64, BW64 or FLAC")]
    NotSound {
        /// What the first bytes look like.
        found: String,
    },
    /// The file was made by a codec that throws sound away.
    #[error(
        "{codec} throws part of the sound away, so no level can be claimed from it; \
         record as WAV or FLAC"
    )]
    Lossy {
        /// Name of the coding.
        codec: &'static str,
    },
    /// A sound file of a form that is not read.
    #[error("{what} is not read here; {remedy}")]
    Unsupported {
        /// The form.
        what: String,
        /// What to do.
        remedy: &'static str,
    },
    /// The file contradicts itself.
    #[error("the header is damaged: {0}; copy the file again from the recorder")]
    Damaged(String),
    /// There are no samples.
    #[error("the recording holds no samples; was it stopped before it began")]
    Empty,
    /// A channel that is not there.
    #[error("channel {wanted} does not exist: the recording has {present}, counted from 1")]
    NoSuchChannel {
        /// Number asked for, from 1.
        wanted: usize,
        /// How many there are.
        present: usize,
    },
    /// A sensitivity that is none.
    #[error("a sensitivity of {0} Pa at full scale is impossible; it must be above zero")]
    Sensitivity(f64),
    /// A sample rate outside of what the filters hold.
    #[error(
        "a sample rate of {0} Hz is outside of 2 000 to 768 000 Hz, for which the filters are made"
    )]
    Rate(f64),
    /// Two recordings that need the same rate have not.
    #[error("the recordings run at {first} and {second} Hz; convert one of them first")]
    RatesDiffer {
        /// Rate of the first.
        first: u32,
        /// Rate of the second.
        second: u32,
    },
    /// Too little sound for what was asked.
    #[error("{what} needs at least {needed} s of sound, there are {present} s")]
    TooShort {
        /// What was asked.
        what: &'static str,
        /// Seconds needed.
        needed: f64,
        /// Seconds there.
        present: f64,
    },
    /// A setting that has no meaning.
    #[error("{what} of {value} is impossible; {remedy}")]
    Setting {
        /// Which one.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What would do.
        remedy: &'static str,
    },
    /// Two recordings cannot be brought onto one clock.
    #[error(
        "the two recordings cannot be aligned: {0}; use a common recorder or record a clap in both"
    )]
    NotAligned(String),
}
