//! FLAC, lossless, decoded block by block.

use std::io::Read;

use claxon::{Block, FlacReader};
use wythe_bands::Remark;

use crate::RecordingError;
use crate::sound_file::{Container, Encoding, Format, Samples};

/// A FLAC recording.
pub(crate) struct FlacSamples<R: Read> {
    reader: FlacReader<R>,
    format: Format,
    scale: f64,
    block: Option<Block>,
    at: u32,
    done: u64,
    remarks: Vec<Remark>,
    ended: bool,
}

impl<R: Read> FlacSamples<R> {
    pub(crate) fn open(reader: R) -> Result<Self, RecordingError> {
        let reader = FlacReader::new(reader)
            .map_err(|e| RecordingError::Damaged(format!("the FLAC stream says: {e}")))?;
        let info = reader.streaminfo();
        let bits = info.bits_per_sample;
        if !(4..=32).contains(&bits) || info.channels == 0 {
            return Err(RecordingError::Damaged(format!(
                "{} channels of {bits} bits in a FLAC stream",
                info.channels
            )));
        }
        crate::wav::check_rate(info.sample_rate)?;
        if info.samples == Some(0) {
            return Err(RecordingError::Empty);
        }
        let format = Format {
            rate: info.sample_rate,
            channels: info.channels as usize,
            frames: info.samples,
            encoding: Encoding::Integer { valid_bits: bits as u16 },
            container: Container::Flac,
            time_reference: None,
        };
        let scale = 2f64.powi(1 - bits as i32);
        Ok(Self {
            reader,
            format,
            scale,
            block: None,
            at: 0,
            done: 0,
            remarks: Vec::new(),
            ended: false,
        })
    }

    fn next_block(&mut self) -> Result<bool, RecordingError> {
        let buffer = self.block.take().map(Block::into_buffer).unwrap_or_default();
        self.at = 0;
        match self.reader.blocks().read_next_or_eof(buffer) {
            Ok(Some(block)) if block.channels() as usize == self.format.channels => {
                self.block = Some(block);
                Ok(true)
            }
            Ok(Some(_)) => {
                Err(RecordingError::Damaged("the number of channels changes inside".into()))
            }
            Ok(None) => Ok(false),
            // A stream cut off: what came before is good.
            Err(e) if self.done > 0 => {
                self.remarks.push(Remark::new(
                    "recording::truncated",
                    format!(
                        "the FLAC stream breaks off after {:.1} s ({e}); what is there is used",
                        self.done as f64 / f64::from(self.format.rate)
                    ),
                ));
                Ok(false)
            }
            Err(e) => Err(RecordingError::Damaged(format!("the FLAC stream says: {e}"))),
        }
    }
}

impl<R: Read> Samples for FlacSamples<R> {
    fn format(&self) -> &Format {
        &self.format
    }

    fn read(&mut self, into: &mut [f64]) -> Result<usize, RecordingError> {
        let channels = self.format.channels;
        let wanted = into.len() / channels;
        let mut frames = 0;
        while frames < wanted && !self.ended {
            let left = self.block.as_ref().map_or(0, |b| b.duration().saturating_sub(self.at));
            if left == 0 {
                if !self.next_block()? {
                    self.ended = true;
                    if self.done == 0 {
                        return Err(RecordingError::Empty);
                    }
                }
                continue;
            }
            let Some(block) = &self.block else { continue };
            let take = (left as usize).min(wanted - frames);
            for channel in 0..channels {
                let from = self.at as usize;
                let samples = &block.channel(channel as u32)[from..from + take];
                for (n, sample) in samples.iter().enumerate() {
                    into[(frames + n) * channels + channel] = f64::from(*sample) * self.scale;
                }
            }
            self.at += take as u32;
            self.done += take as u64;
            frames += take;
        }
        Ok(frames)
    }

    fn remarks(&self) -> &[Remark] {
        &self.remarks
    }
}
