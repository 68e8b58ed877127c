//! WAV, RF64 and BW64: reading what recorders really write, and writing it.
//!
//! Sources: Microsoft/IBM RIFF WAVE (`WAVE_FORMAT_EXTENSIBLE`), ITU-R BS.2088 (BW64, `ds64`),
//! EBU Tech 3306 (RF64), EBU Tech 3285 (`bext`); as summarised in public glossaries, the documents
//! themselves were not to hand.

use std::io::{Cursor, Read, Seek, SeekFrom, Write};

use wythe_bands::Remark;

use crate::RecordingError;
use crate::sound_file::{BadSpan, Container, Encoding, Format, LARGEST_SAMPLE, Samples, note_bad};

/// Most channels read from one file. A thousand microphones is the largest survey anyone asked
/// for; a header that claims more is taken for damage.
pub const MAX_CHANNELS: usize = 1024;

/// Chunks looked at before a file is given up: no recorder writes more than a few dozen, and a
/// hostile file must not keep the reader busy.
const MAX_CHUNKS: usize = 10_000;

pub(crate) fn check_rate(rate: u32) -> Result<(), RecordingError> {
    if (2_000..=768_000).contains(&rate) {
        Ok(())
    } else {
        Err(RecordingError::Rate(f64::from(rate)))
    }
}

#[derive(Clone, Copy, Debug)]
enum Store {
    U8,
    I16,
    I24,
    I32,
    F32,
    F64,
}

impl Store {
    fn bytes(self) -> usize {
        match self {
            Store::U8 => 1,
            Store::I16 => 2,
            Store::I24 => 3,
            Store::I32 | Store::F32 => 4,
            Store::F64 => 8,
        }
    }
}

/// A WAV, RF64 or BW64 recording, streamed.
pub struct WavReader<R> {
    reader: R,
    format: Format,
    store: Store,
    frame_bytes: usize,
    done: u64,
    at_byte: u64,
    bytes: Vec<u8>,
    remarks: Vec<Remark>,
    bad: Vec<BadSpan>,
    bad_samples: u64,
}

struct Fmt {
    store: Store,
    encoding: Encoding,
    channels: usize,
    rate: u32,
    frame_bytes: usize,
}

impl<R: Read + Seek> WavReader<R> {
    /// Where the samples begin, byte of the file, and how many bytes one sample of all channels
    /// takes; before anything was read.
    pub fn layout(&self) -> (u64, usize) {
        (self.at_byte, self.frame_bytes)
    }

    /// Reads the header and stands before the first sample.
    ///
    /// # Errors
    /// Refuses damaged headers, lossy or unknown codings, and files without samples.
    pub fn open(mut reader: R) -> Result<WavReader<R>, RecordingError> {
        let end =
            reader.seek(SeekFrom::End(0)).map_err(|cause| RecordingError::Io { at: 0, cause })?;
        reader.seek(SeekFrom::Start(0)).map_err(|cause| RecordingError::Io { at: 0, cause })?;
        let mut riff = [0u8; 12];
        read_exactly(&mut reader, &mut riff, 0)?;
        let container = match &riff[..4] {
            b"RIFF" => Container::Wave,
            b"RF64" | b"BW64" => Container::Wave64Bit,
            _ => return Err(RecordingError::NotSound { found: "no RIFF header".into() }),
        };
        if &riff[8..] != b"WAVE" {
            return Err(RecordingError::NotSound {
                found: "it is a RIFF file without sound in it".into(),
            });
        }
        let mut remarks = Vec::new();
        let mut fmt: Option<Fmt> = None;
        let mut data_size_64 = None;
        let mut time_reference = None;
        let mut at = 12u64;
        for _ in 0..MAX_CHUNKS {
            if at.checked_add(8).is_none_or(|e| e > end) {
                break;
            }
            let mut head = [0u8; 8];
            seek(&mut reader, at)?;
            read_exactly(&mut reader, &mut head, at)?;
            let body = at + 8;
            let size = u64::from(u32_at(&head, 4));
            match &head[..4] {
                b"ds64" if size >= 24 => {
                    let mut ds = [0u8; 24];
                    if body + 24 <= end {
                        read_exactly(&mut reader, &mut ds, body)?;
                        data_size_64 = Some(u64_at(&ds, 8));
                    }
                }
                b"fmt " => {
                    let mut raw = vec![0u8; size.min(64) as usize];
                    if body + raw.len() as u64 > end || raw.len() < 16 {
                        return Err(RecordingError::Damaged(
                            "the format chunk is cut short".into(),
                        ));
                    }
                    read_exactly(&mut reader, &mut raw, body)?;
                    fmt = Some(read_fmt(&raw, &mut remarks)?);
                }
                b"bext" if size >= 346 && body + 346 <= end => {
                    let mut raw = [0u8; 346];
                    read_exactly(&mut reader, &mut raw, body)?;
                    // 256 description, 32 originator, 32 reference, 10 date, 8 time.
                    time_reference = Some(u64_at(&raw, 338));
                }
                b"data" => {
                    let Some(fmt) = fmt else {
                        return Err(RecordingError::Damaged(
                            "the samples come before their format".into(),
                        ));
                    };
                    let stated = match (size, data_size_64) {
                        (0xFFFF_FFFF, Some(long)) => long,
                        // Some recorders leave the 32-bit size at zero in the long form.
                        (0, Some(long)) if container == Container::Wave64Bit => long,
                        _ => size,
                    };
                    let present = end - body;
                    let bytes = match stated {
                        0 if present == 0 => return Err(RecordingError::Empty),
                        0 if looks_like_chunk(&mut reader, body, end)? => {
                            return Err(RecordingError::Empty);
                        }
                        0 | 0xFFFF_FFFF if stated == 0 || stated > present => {
                            remarks.push(Remark::new(
                                "recording::length-unstated",
                                "the header does not say how long the recording is; \
                                 everything up to the end of the file is used",
                            ));
                            present
                        }
                        s if s > present => {
                            remarks.push(Remark::new(
                                "recording::truncated",
                                format!(
                                    "the header promises {s} bytes of samples, the file holds \
                                     {present}; what is there is used"
                                ),
                            ));
                            present
                        }
                        s => s,
                    };
                    let frames = bytes / fmt.frame_bytes as u64;
                    if frames == 0 {
                        return Err(RecordingError::Empty);
                    }
                    if bytes % fmt.frame_bytes as u64 != 0 {
                        remarks.push(Remark::new(
                            "recording::half-frame",
                            "the last sample is incomplete and is left out",
                        ));
                    }
                    if time_reference.is_none() {
                        time_reference = bext_behind(&mut reader, body, stated, end)?;
                    }
                    seek(&mut reader, body)?;
                    return Ok(WavReader {
                        reader,
                        format: Format {
                            rate: fmt.rate,
                            channels: fmt.channels,
                            frames: Some(frames),
                            encoding: fmt.encoding,
                            container,
                            time_reference,
                        },
                        store: fmt.store,
                        frame_bytes: fmt.frame_bytes,
                        done: 0,
                        at_byte: body,
                        bytes: Vec::new(),
                        remarks,
                        bad: Vec::new(),
                        bad_samples: 0,
                    });
                }
                _ => {}
            }
            // Chunks are padded to even length.
            at = body + size + (size & 1);
        }
        Err(RecordingError::Damaged("there is no chunk of samples".into()))
    }
}

fn read_fmt(raw: &[u8], remarks: &mut Vec<Remark>) -> Result<Fmt, RecordingError> {
    let mut tag = u16_at(raw, 0);
    let channels = usize::from(u16_at(raw, 2));
    let rate = u32_at(raw, 4);
    let block = usize::from(u16_at(raw, 12));
    let bits = u16_at(raw, 14);
    let mut valid = bits;
    if tag == 0xFFFE {
        if raw.len() < 40 {
            return Err(RecordingError::Damaged("the extensible format chunk is cut short".into()));
        }
        valid = u16_at(raw, 18);
        tag = u16_at(raw, 24);
        // The rest of the sub-format is the same fixed sequence for every plain coding.
        const TAIL: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];
        if raw[26..40] != TAIL {
            return Err(RecordingError::Unsupported {
                what: "a sub-format that belongs to one maker".into(),
                remedy: "export it as plain WAV, 24 bit",
            });
        }
    }
    match tag {
        1 | 3 => {}
        0x02 | 0x11 => return Err(RecordingError::Lossy { codec: "ADPCM" }),
        0x06 | 0x07 => return Err(RecordingError::Lossy { codec: "companded speech coding" }),
        0x50 | 0x55 => return Err(RecordingError::Lossy { codec: "MPEG audio" }),
        other => {
            return Err(RecordingError::Unsupported {
                what: format!("sound coded with tag 0x{other:04x}"),
                remedy: "export it as plain WAV, 24 bit",
            });
        }
    }
    if channels == 0 {
        return Err(RecordingError::Damaged("it has no channels".into()));
    }
    if channels > MAX_CHANNELS {
        return Err(RecordingError::Unsupported {
            what: format!("a file of {channels} channels"),
            remedy: "split it into files of at most 1024 channels",
        });
    }
    check_rate(rate)?;
    let container_bits = bits.div_ceil(8).saturating_mul(8);
    let store = match (tag, container_bits) {
        (1, 8) => Store::U8,
        (1, 16) => Store::I16,
        (1, 24) => Store::I24,
        (1, 32) => Store::I32,
        (3, 32) => Store::F32,
        (3, 64) => Store::F64,
        _ => {
            return Err(RecordingError::Unsupported {
                what: format!("a sample of {bits} bits"),
                remedy: "export it as 16, 24 or 32 bit integer or 32 or 64 bit float",
            });
        }
    };
    let frame_bytes = channels * store.bytes();
    if block != frame_bytes {
        // A recorder that stores 24 bits in four bytes says so here and nowhere else.
        if tag == 1 && bits == 24 && block == channels * 4 {
            remarks.push(Remark::new(
                "recording::wide-container",
                "24-bit samples are stored in four bytes each",
            ));
            return Ok(Fmt {
                store: Store::I32,
                encoding: Encoding::Integer { valid_bits: 24 },
                channels,
                rate,
                frame_bytes: block,
            });
        }
        return Err(RecordingError::Damaged(format!(
            "{channels} channels of {bits} bits cannot take {block} bytes"
        )));
    }
    let encoding = if tag == 3 {
        Encoding::Float { bits: container_bits }
    } else {
        if valid == 0 || valid > container_bits {
            remarks.push(Remark::new(
                "recording::valid-bits",
                format!("the header claims {valid} valid bits of {container_bits}; all are used"),
            ));
            valid = container_bits;
        }
        Encoding::Integer { valid_bits: valid }
    };
    Ok(Fmt { store, encoding, channels, rate, frame_bytes })
}

/// Whether what follows an empty data chunk is another chunk rather than samples of a recording
/// that was never closed.
fn looks_like_chunk<R: Read + Seek>(
    reader: &mut R,
    at: u64,
    end: u64,
) -> Result<bool, RecordingError> {
    if at + 8 > end {
        return Ok(true);
    }
    let mut head = [0u8; 8];
    seek(reader, at)?;
    read_exactly(reader, &mut head, at)?;
    let named = head[..4].iter().all(|b| b.is_ascii_alphanumeric() || *b == b' ');
    Ok(named && at + 8 + u64::from(u32_at(&head, 4)) <= end)
}

/// Looks for a broadcast chunk behind the samples, where some recorders put it.
fn bext_behind<R: Read + Seek>(
    reader: &mut R,
    body: u64,
    size: u64,
    end: u64,
) -> Result<Option<u64>, RecordingError> {
    let Some(mut at) = body.checked_add(size).and_then(|a| a.checked_add(size & 1)) else {
        return Ok(None);
    };
    for _ in 0..64 {
        if at.checked_add(8).is_none_or(|e| e > end) {
            break;
        }
        let mut head = [0u8; 8];
        seek(reader, at)?;
        read_exactly(reader, &mut head, at)?;
        let long = u64::from(u32_at(&head, 4));
        if &head[..4] == b"bext" && long >= 346 && at + 8 + 346 <= end {
            let mut raw = [0u8; 346];
            read_exactly(reader, &mut raw, at + 8)?;
            return Ok(Some(u64_at(&raw, 338)));
        }
        at = at + 8 + long + (long & 1);
    }
    Ok(None)
}

impl<R: Read + Seek> Samples for WavReader<R> {
    fn format(&self) -> &Format {
        &self.format
    }

    fn read(&mut self, into: &mut [f64]) -> Result<usize, RecordingError> {
        let channels = self.format.channels;
        let total = self.format.frames.unwrap_or(0);
        let wanted = ((into.len() / channels) as u64).min(total.saturating_sub(self.done)) as usize;
        if wanted == 0 {
            return Ok(0);
        }
        self.bytes.resize(wanted * self.frame_bytes, 0);
        let mut have = 0;
        while have < self.bytes.len() {
            match self.reader.read(&mut self.bytes[have..]) {
                Ok(0) => break,
                Ok(n) => have += n,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(cause) => {
                    return Err(RecordingError::Io { at: self.at_byte + have as u64, cause });
                }
            }
        }
        let frames = have / self.frame_bytes;
        if frames < wanted {
            // The file shrank while it was read.
            self.remarks.push(Remark::new(
                "recording::truncated",
                format!(
                    "the file ends after {:.2} s, sooner than it said; what is there is used",
                    (self.done + frames as u64) as f64 / f64::from(self.format.rate)
                ),
            ));
            self.format.frames = Some(self.done + frames as u64);
        }
        let bytes = &self.bytes[..frames * self.frame_bytes];
        let out = &mut into[..frames * channels];
        match self.store {
            Store::U8 => {
                for (x, b) in out.iter_mut().zip(bytes) {
                    *x = (f64::from(*b) - 128.0) / 128.0;
                }
            }
            Store::I16 => {
                crate::lanes::from_16_bits(bytes, out);
            }
            Store::I24 => {
                crate::lanes::from_24_bits(bytes, out);
            }
            Store::I32 => {
                for (x, b) in out.iter_mut().zip(bytes.chunks_exact(4)) {
                    let v = i32::from_le_bytes([b[0], b[1], b[2], b[3]]);
                    *x = f64::from(v) / 2_147_483_648.0;
                }
            }
            Store::F32 => {
                for (x, b) in out.iter_mut().zip(bytes.chunks_exact(4)) {
                    *x = f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
                }
            }
            Store::F64 => {
                for (x, b) in out.iter_mut().zip(bytes.chunks_exact(8)) {
                    *x = f64::from_le_bytes([b[0], b[1], b[2], b[3], b[4], b[5], b[6], b[7]]);
                }
            }
        }
        if !self.format.encoding.has_ceiling() {
            self.replace_what_is_no_number(frames, into);
        }
        self.done += frames as u64;
        self.at_byte += have as u64;
        Ok(frames)
    }

    fn remarks(&self) -> &[Remark] {
        &self.remarks
    }

    fn bad_spans(&self) -> &[BadSpan] {
        &self.bad
    }
}

impl<R> WavReader<R> {
    fn replace_what_is_no_number(&mut self, frames: usize, into: &mut [f64]) {
        let channels = self.format.channels;
        for (n, x) in into[..frames * channels].iter_mut().enumerate() {
            // NaN fails the comparison too.
            if !(x.abs() <= LARGEST_SAMPLE) {
                *x = 0.0;
                if self.bad_samples == 0 {
                    self.remarks.push(Remark::new(
                        "recording::not-a-number",
                        "some samples are no numbers; they count as silence and their \
                         surroundings are excluded",
                    ));
                }
                self.bad_samples += 1;
                note_bad(&mut self.bad, n % channels, self.done + (n / channels) as u64);
            }
        }
    }
}

fn seek<R: Seek>(reader: &mut R, to: u64) -> Result<(), RecordingError> {
    reader
        .seek(SeekFrom::Start(to))
        .map(|_| ())
        .map_err(|cause| RecordingError::Io { at: to, cause })
}

fn read_exactly<R: Read>(reader: &mut R, into: &mut [u8], at: u64) -> Result<(), RecordingError> {
    reader.read_exact(into).map_err(|cause| {
        if cause.kind() == std::io::ErrorKind::UnexpectedEof {
            RecordingError::Damaged(format!("it ends inside the header, at byte {at}"))
        } else {
            RecordingError::Io { at, cause }
        }
    })
}

fn u16_at(b: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([b[at], b[at + 1]])
}

fn u32_at(b: &[u8], at: usize) -> u32 {
    u32::from_le_bytes([b[at], b[at + 1], b[at + 2], b[at + 3]])
}

fn u64_at(b: &[u8], at: usize) -> u64 {
    u64::from(u32_at(b, at)) | u64::from(u32_at(b, at + 4)) << 32
}

/// How samples are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// 16-bit integer, rounded, not dithered.
    Int16,
    /// 24-bit integer, rounded.
    Int24,
    /// 32-bit float.
    Float32,
}

impl Depth {
    fn bytes(self) -> u64 {
        match self {
            Depth::Int16 => 2,
            Depth::Int24 => 3,
            Depth::Float32 => 4,
        }
    }
}

/// Writes a WAV as the samples come; turns it into RF64 by itself beyond 4 GiB.
pub struct WavWriter<W: Write + Seek> {
    writer: W,
    depth: Depth,
    channels: u64,
    data_bytes: u64,
    clipped: u64,
    buffer: Vec<u8>,
}

/// Bytes before the first sample: RIFF head, room for `ds64`, format, data head.
const HEADER: u64 = 12 + 36 + 26 + 8;

impl<W: Write + Seek> WavWriter<W> {
    /// Starts a file.
    ///
    /// # Errors
    /// Refuses impossible rates and channel counts; reports what the writer reports.
    pub fn new(
        mut writer: W,
        rate: u32,
        channels: usize,
        depth: Depth,
    ) -> Result<Self, RecordingError> {
        check_rate(rate)?;
        if channels == 0 || channels > MAX_CHANNELS {
            return Err(RecordingError::Setting {
                what: "a number of channels",
                value: channels as f64,
                remedy: "1 to 1024 are possible",
            });
        }
        let frame = depth.bytes() * channels as u64;
        let mut head = Vec::with_capacity(HEADER as usize);
        head.extend_from_slice(b"RIFF\xff\xff\xff\xffWAVEJUNK\x1c\0\0\0");
        head.extend_from_slice(&[0; 28]);
        head.extend_from_slice(b"fmt \x12\0\0\0");
        let tag: u16 = if depth == Depth::Float32 { 3 } else { 1 };
        head.extend_from_slice(&tag.to_le_bytes());
        head.extend_from_slice(&(channels as u16).to_le_bytes());
        head.extend_from_slice(&rate.to_le_bytes());
        let byte_rate = u64::from(rate).saturating_mul(frame).min(u64::from(u32::MAX)) as u32;
        head.extend_from_slice(&byte_rate.to_le_bytes());
        head.extend_from_slice(&(frame as u16).to_le_bytes());
        head.extend_from_slice(&((depth.bytes() * 8) as u16).to_le_bytes());
        head.extend_from_slice(&[0, 0]);
        head.extend_from_slice(b"data\xff\xff\xff\xff");
        writer.write_all(&head).map_err(|cause| RecordingError::Io { at: 0, cause })?;
        Ok(WavWriter {
            writer,
            depth,
            channels: channels as u64,
            data_bytes: 0,
            clipped: 0,
            buffer: Vec::new(),
        })
    }

    /// Appends interleaved samples, 1.0 = full scale. Integers are limited to full scale, and how
    /// many samples had to be is counted.
    ///
    /// # Errors
    /// Reports what the writer reports; refuses a part of a frame.
    pub fn write(&mut self, samples: &[f64]) -> Result<(), RecordingError> {
        if !(samples.len() as u64).is_multiple_of(self.channels) {
            return Err(RecordingError::Setting {
                what: "a block of samples",
                value: samples.len() as f64,
                remedy: "its length must be a whole number of frames",
            });
        }
        self.buffer.clear();
        for &x in samples {
            match self.depth {
                Depth::Int16 => {
                    let v = self.rounded(x, 32_768.0);
                    self.buffer.extend_from_slice(&(v as i16).to_le_bytes());
                }
                Depth::Int24 => {
                    let v = self.rounded(x, 8_388_608.0);
                    self.buffer.extend_from_slice(&v.to_le_bytes()[..3]);
                }
                Depth::Float32 => self.buffer.extend_from_slice(&(x as f32).to_le_bytes()),
            }
        }
        self.writer
            .write_all(&self.buffer)
            .map_err(|cause| RecordingError::Io { at: HEADER + self.data_bytes, cause })?;
        self.data_bytes += self.buffer.len() as u64;
        Ok(())
    }

    fn rounded(&mut self, x: f64, scale: f64) -> i32 {
        let v = (x * scale).round();
        // NaN turns into zero in the conversion and counts as limited.
        if !(v >= -scale && v <= scale - 1.0) {
            self.clipped += 1;
        }
        v.clamp(-scale, scale - 1.0) as i32
    }

    /// Writes the sizes into the header; returns the writer and how many samples were limited.
    ///
    /// # Errors
    /// Reports what the writer reports.
    pub fn finish(mut self) -> Result<(W, u64), RecordingError> {
        let at = |at| move |cause| RecordingError::Io { at, cause };
        let end = HEADER + self.data_bytes;
        if self.data_bytes % 2 == 1 {
            self.writer.write_all(&[0]).map_err(at(end))?;
        }
        let riff = end + self.data_bytes % 2 - 8;
        let put = |writer: &mut W, to: u64, bytes: &[u8]| {
            writer.seek(SeekFrom::Start(to)).and_then(|_| writer.write_all(bytes)).map_err(at(to))
        };
        if riff < u64::from(u32::MAX) {
            put(&mut self.writer, 4, &(riff as u32).to_le_bytes())?;
            put(&mut self.writer, HEADER - 4, &(self.data_bytes as u32).to_le_bytes())?;
        } else {
            put(&mut self.writer, 0, b"RF64")?;
            let mut ds = Vec::from(*b"ds64\x1c\0\0\0");
            ds.extend_from_slice(&riff.to_le_bytes());
            ds.extend_from_slice(&self.data_bytes.to_le_bytes());
            let frames = self.data_bytes / (self.channels * self.depth.bytes());
            ds.extend_from_slice(&frames.to_le_bytes());
            ds.extend_from_slice(&[0; 4]);
            put(&mut self.writer, 12, &ds)?;
        }
        self.writer.seek(SeekFrom::End(0)).map_err(at(end))?;
        self.writer.flush().map_err(at(end))?;
        Ok((self.writer, self.clipped))
    }
}

/// A whole WAV in memory, for tests and short signals.
///
/// # Errors
/// As [`WavWriter::new`] and [`WavWriter::write`].
pub fn to_bytes(
    rate: u32,
    channels: usize,
    depth: Depth,
    samples: &[f64],
) -> Result<Vec<u8>, RecordingError> {
    let mut writer = WavWriter::new(Cursor::new(Vec::new()), rate, channels, depth)?;
    writer.write(samples)?;
    Ok(writer.finish()?.0.into_inner())
}
