//! Samples of a recording as FLAC (RFC 9639), and back to the same bytes.
//!
//! Only whole blocks are coded; whatever else the file holds, its chunks before and behind and the
//! last samples, is kept beside them as it is.

use std::fs::File;
use std::io::{self, BufReader, Read, Write};
use std::path::Path;

use claxon::FlacReader;
use flacenc::bitsink::ByteSink;
use flacenc::component::{BitRepr, StreamInfo};
use flacenc::error::Verify;
use flacenc::source::{Fill, FrameBuf};
use wythe_recording::wav::WavReader;
use wythe_recording::{Encoding, Samples};

/// Samples a channel in one block; the usual size.
const BLOCK: usize = 4096;
/// Most channels a stream holds (RFC 9639, section 9.1.3).
const MOST_CHANNELS: usize = 8;

/// Where in a file the samples lie that are coded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    /// First byte.
    pub at: u64,
    /// Bytes, whole blocks of all channels.
    pub bytes: u64,
    channels: usize,
    bits: usize,
    rate: usize,
}

impl Span {
    /// The samples of a file that FLAC can hold: whole numbers of 16 or 24 bits in at most eight
    /// channels. `None` for everything else, which is stored as it is.
    pub fn of(path: &Path) -> Option<Span> {
        let reader = WavReader::open(BufReader::new(File::open(path).ok()?)).ok()?;
        let (at, frame) = reader.layout();
        let format = reader.format();
        let channels = format.channels;
        let bits = 8 * frame / channels;
        let whole = matches!(format.encoding, Encoding::Integer { .. });
        if !whole || channels > MOST_CHANNELS || !(bits == 16 || bits == 24) {
            return None;
        }
        let there = std::fs::metadata(path).ok()?.len().checked_sub(at)? / frame as u64;
        let blocks = format.frames?.min(there) / BLOCK as u64;
        let bytes = blocks * (BLOCK * frame) as u64;
        (blocks > 0).then_some(Span { at, bytes, channels, bits, rate: format.rate as usize })
    }

    /// Codes the samples that `from` stands before.
    pub fn encode(&self, from: impl Read, mut to: impl Write) -> io::Result<()> {
        let refused = |e: &dyn std::fmt::Debug| io::Error::other(format!("coding failed: {e:?}"));
        let width = self.bits / 8;
        let config =
            flacenc::config::Encoder::default().into_verified().map_err(|(_, e)| refused(&e))?;
        let info = StreamInfo::new(self.rate, self.channels, self.bits).map_err(|e| refused(&e))?;
        let mut buffer = FrameBuf::with_size(self.channels, BLOCK).map_err(|e| refused(&e))?;
        to.write_all(&self.head())?;
        let mut from = BufReader::new(from);
        let mut bytes = vec![0; BLOCK * self.channels * width];
        for number in 0..self.bytes / bytes.len() as u64 {
            from.read_exact(&mut bytes)?;
            let samples: Vec<i32> = bytes.chunks_exact(width).map(whole_number).collect();
            buffer.fill_interleaved(&samples).map_err(|e| refused(&e))?;
            let frame = flacenc::encode_fixed_size_frame(&config, &buffer, number as usize, &info)
                .map_err(|e| refused(&e))?;
            let mut sink = ByteSink::new();
            frame.write(&mut sink).map_err(|e| refused(&e))?;
            to.write_all(sink.as_slice())?;
        }
        Ok(())
    }

    /// Beginning of the stream: its mark and the one block of facts it needs (RFC 9639, section
    /// 8.2). The checksum of the samples is left out, the archive has one of the whole file.
    fn head(&self) -> Vec<u8> {
        let frames = self.bytes / (self.channels * self.bits / 8) as u64;
        let packed = (self.rate as u64) << 44
            | (self.channels as u64 - 1) << 41
            | (self.bits as u64 - 1) << 36
            // Too long to be said is said as unknown.
            | if frames < 1 << 36 { frames } else { 0 };
        let mut head = b"fLaC\x80\0\0\x22".to_vec();
        head.extend([(BLOCK as u16).to_be_bytes(), (BLOCK as u16).to_be_bytes()].concat());
        head.extend([0; 6]);
        head.extend(packed.to_be_bytes());
        head.extend([0; 16]);
        head
    }
}

/// Turns a coded stream into the bytes it was made of, never more than `most`.
pub(super) fn decode(from: impl Read, most: u64, mut to: impl Write) -> io::Result<()> {
    let broken = |e: claxon::Error| io::Error::new(io::ErrorKind::InvalidData, e.to_string());
    let mut reader = FlacReader::new(BufReader::new(from)).map_err(broken)?;
    let width = reader.streaminfo().bits_per_sample.div_ceil(8) as usize;
    let (mut blocks, mut samples, mut bytes) = (reader.blocks(), Vec::new(), Vec::new());
    let mut done = 0u64;
    while let Some(block) = blocks.read_next_or_eof(samples).map_err(broken)? {
        bytes.clear();
        for i in 0..block.duration() {
            for channel in 0..block.channels() {
                bytes.extend_from_slice(&block.sample(channel, i).to_le_bytes()[..width]);
            }
        }
        done += bytes.len() as u64;
        if done > most {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "more samples than it should"));
        }
        to.write_all(&bytes)?;
        samples = block.into_buffer();
    }
    Ok(())
}

/// Little-endian number of two or three bytes.
fn whole_number(bytes: &[u8]) -> i32 {
    let mut wide = [0; 4];
    wide[4 - bytes.len()..].copy_from_slice(bytes);
    i32::from_le_bytes(wide) >> (8 * (4 - bytes.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_coded_comes_back_byte_for_byte() {
        // Every value of the first byte, extremes, silence, and a repeatable noise.
        for (bits, channels) in [(16, 1), (16, 8), (24, 2), (24, 5)] {
            let length = 3 * BLOCK * channels * bits / 8;
            let mut state = 1u64;
            let noise = (0..length).map(|_| {
                state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
                (state >> 56) as u8
            });
            for bytes in [noise.collect(), vec![0; length], vec![0xff; length], vec![0x80; length]]
            {
                let span = Span { at: 0, bytes: length as u64, channels, bits, rate: 48000 };
                let mut coded = Vec::new();
                span.encode(&bytes[..], &mut coded).unwrap();
                let mut back = Vec::new();
                decode(&coded[..], length as u64, &mut back).unwrap();
                assert!(back == bytes, "{bits} bit, {channels} channels");
                assert!(decode(&coded[..], length as u64 - 1, io::sink()).is_err());
            }
        }
    }
}
