//! What every sound file offers, and which reader a file needs.

use std::io::{Read, Seek, SeekFrom};

use wythe_bands::{Remark, Seconds};

use crate::{RecordingError, flac, wav};

/// How one sample is stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// Whole numbers with this many valid bits.
    Integer {
        /// Bits that carry sound, 1 to 32.
        valid_bits: u16,
    },
    /// Floating point of 32 or 64 bits; may exceed 1.0 without being clipped.
    Float {
        /// 32 or 64.
        bits: u16,
    },
}

impl Encoding {
    /// Smallest step between two sample values near full scale.
    pub fn step(self) -> f64 {
        match self {
            Encoding::Integer { valid_bits } => 2f64.powi(1 - i32::from(valid_bits)),
            Encoding::Float { bits: 64 } => 2f64.powi(-52),
            Encoding::Float { .. } => 2f64.powi(-23),
        }
    }

    /// Whether the largest number is a wall the sound can run into.
    pub fn has_ceiling(self) -> bool {
        matches!(self, Encoding::Integer { .. })
    }
}

/// Which wrapping the samples came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Container {
    /// RIFF/WAVE.
    Wave,
    /// RF64 or BW64, beyond 4 GiB.
    Wave64Bit,
    /// FLAC.
    Flac,
}

/// What is known of a recording before its samples are read.
#[derive(Clone, Debug, PartialEq)]
pub struct Format {
    /// Samples per second and channel.
    pub rate: u32,
    /// Number of channels, 1 to [`wav::MAX_CHANNELS`].
    pub channels: usize,
    /// Samples per channel; `None` where the file does not say.
    pub frames: Option<u64>,
    /// How a sample is stored.
    pub encoding: Encoding,
    /// The wrapping.
    pub container: Container,
    /// Samples since midnight at the first sample, from the broadcast chunk (EBU Tech 3285).
    pub time_reference: Option<u64>,
}

impl Format {
    /// Length, where the file says it.
    pub fn duration(&self) -> Option<Seconds> {
        self.frames.map(|n| Seconds(n as f64 / f64::from(self.rate)))
    }
}

/// A run of samples that were no numbers (NaN, infinite, or beyond any converter) and were
/// replaced by silence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BadSpan {
    /// Channel, from 0.
    pub channel: usize,
    /// First bad frame.
    pub from: u64,
    /// One past the last bad frame.
    pub to: u64,
}

/// A source of samples, read in blocks.
pub trait Samples {
    /// Rate, channels, length, coding.
    fn format(&self) -> &Format;

    /// Fills `into` with interleaved samples (frame after frame, 1.0 = full scale) and returns how
    /// many **frames** were read; 0 at the end. `into` must hold a whole number of frames.
    ///
    /// # Errors
    /// When the bytes cannot be read or decoded.
    fn read(&mut self, into: &mut [f64]) -> Result<usize, RecordingError>;

    /// What had to be said about the file so far.
    fn remarks(&self) -> &[Remark];

    /// Where samples were no numbers, so far; merged runs, at most 10 000 of them.
    fn bad_spans(&self) -> &[BadSpan] {
        &[]
    }
}

/// Opens a recording: WAV, RF64, BW64 or FLAC, told by its bytes and not by its name.
///
/// # Errors
/// Refuses what is no sound, what holds no samples, lossy codings and damaged headers.
pub fn open<'a, R: Read + Seek + 'a>(
    mut reader: R,
) -> Result<Box<dyn Samples + 'a>, RecordingError> {
    let io = |at| move |cause| RecordingError::Io { at, cause };
    reader.seek(SeekFrom::Start(0)).map_err(io(0))?;
    let mut head = [0u8; 16];
    let mut have = 0;
    while have < head.len() {
        match reader.read(&mut head[have..]) {
            Ok(0) => break,
            Ok(n) => have += n,
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(cause) => return Err(RecordingError::Io { at: have as u64, cause }),
        }
    }
    reader.seek(SeekFrom::Start(0)).map_err(io(0))?;
    let head = &head[..have];
    if head.is_empty() {
        return Err(RecordingError::Empty);
    }
    match head {
        [b'f', b'L', b'a', b'C', ..] => Ok(Box::new(flac::FlacSamples::open(reader)?)),
        [b'R', b'I', b'F', b'F', ..]
        | [b'R', b'F', b'6', b'4', ..]
        | [b'B', b'W', b'6', b'4', ..] => Ok(Box::new(wav::WavReader::open(reader)?)),
        [b'R', b'I', b'F', b'X', ..]
        | [b'F', b'O', b'R', b'M', ..]
        | [b'r', b'i', b'f', b'f', ..] => Err(RecordingError::Unsupported {
            what: "this older or big-endian form of sound file".into(),
            remedy: "export it as WAV, 24 bit",
        }),
        [b'I', b'D', b'3', ..] => Err(RecordingError::Lossy { codec: "MPEG audio" }),
        [b'O', b'g', b'g', b'S', ..] => Err(RecordingError::Lossy { codec: "Ogg audio" }),
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => {
            Err(RecordingError::Lossy { codec: "MPEG-4 audio" })
        }
        [0xFF, second, ..] if second & 0xE0 == 0xE0 => {
            Err(RecordingError::Lossy { codec: "MPEG audio" })
        }
        _ => {
            let printable: String = head
                .iter()
                .take(8)
                .map(|b| if (32..127).contains(b) { *b as char } else { '·' })
                .collect();
            Err(RecordingError::NotSound {
                found: format!("it begins with \u{201c}{printable}\u{201d}"),
            })
        }
    }
}

/// Largest sample taken for sound: 120 dB above full scale. Beyond it a float file holds garbage,
/// and one such value would poison every level of the channel.
pub(crate) const LARGEST_SAMPLE: f64 = 1e6;

/// Notes a bad sample, joining runs.
pub(crate) fn note_bad(spans: &mut Vec<BadSpan>, channel: usize, frame: u64) {
    let recent = spans.iter_mut().rev().take(64).find(|s| s.channel == channel && s.to == frame);
    if let Some(span) = recent {
        span.to += 1;
    } else if spans.len() < 10_000 {
        spans.push(BadSpan { channel, from: frame, to: frame + 1 });
    } else if let Some(last) = spans.iter_mut().rev().find(|s| s.channel == channel) {
        // Too many to list: the last run of the channel grows over what lies between.
        last.to = frame + 1;
    }
}

/// Longest stretch [`read_stretch`] holds in memory, s.
pub const LONGEST_STRETCH: f64 = 120.0;

/// Samples of one channel (from 1) from one time to another, for a decay or a sweep. Reads on from
/// the beginning: `samples` must be freshly opened. Ends where the recording ends.
///
/// # Errors
/// A channel that does not exist, a stretch that is empty, before the beginning, longer than
/// [`LONGEST_STRETCH`] or beyond the end, bytes that cannot be read.
pub fn read_stretch(
    samples: &mut (dyn Samples + '_),
    channel: usize,
    from: Seconds,
    to: Seconds,
) -> Result<Vec<f64>, RecordingError> {
    read_stretches(samples, &[channel], from, to).map(|mut all| all.remove(0))
}

/// As [`read_stretch`], for several channels in one pass.
///
/// # Errors
/// As [`read_stretch`].
pub fn read_stretches(
    samples: &mut (dyn Samples + '_),
    channels: &[usize],
    from: Seconds,
    to: Seconds,
) -> Result<Vec<Vec<f64>>, RecordingError> {
    let format = samples.format().clone();
    if let Some(&wanted) = channels.iter().find(|c| **c == 0 || **c > format.channels) {
        return Err(RecordingError::NoSuchChannel { wanted, present: format.channels });
    }
    let length = to.0 - from.0;
    if !(from.0 >= 0.0 && length > 0.0 && length <= LONGEST_STRETCH) {
        return Err(RecordingError::Setting {
            what: "a stretch length in seconds",
            value: length,
            remedy: "it must begin inside the recording and last at most 120 s",
        });
    }
    let rate = f64::from(format.rate);
    let (first, last) = ((from.0 * rate).round() as u64, (to.0 * rate).round() as u64);
    let mut out = vec![Vec::new(); channels.len()];
    let mut buffer = vec![0.0; 4096 * format.channels];
    let mut at = 0u64;
    while at < last {
        let frames = samples.read(&mut buffer)?;
        if frames == 0 {
            break;
        }
        let skip = first.saturating_sub(at).min(frames as u64) as usize;
        let end = (last - at).min(frames as u64) as usize;
        let used = &buffer[skip * format.channels..end.max(skip) * format.channels];
        for (line, channel) in out.iter_mut().zip(channels) {
            line.extend(used.chunks_exact(format.channels).map(|f| f[channel - 1]));
        }
        at += frames as u64;
    }
    if out.first().is_none_or(Vec::is_empty) {
        return Err(RecordingError::TooShort {
            what: "the stretch asked for",
            needed: to.0,
            present: at as f64 / rate,
        });
    }
    Ok(out)
}
