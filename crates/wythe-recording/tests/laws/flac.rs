//! FLAC, against streams made here by the plainest form the format has (verbatim subframes).
//! Source of the layout: RFC 9639 (from memory; the decoder accepts it, with its checksums).

use std::io::Cursor;

use proptest::prelude::*;
use wythe_recording::test_signal::white;
use wythe_recording::{Analysis, Container, Encoding, Mask, analyse, open, wav};

fn crc(bytes: &[u8], polynomial: u32, width: u32) -> u32 {
    let mut crc = 0u32;
    for b in bytes {
        crc ^= u32::from(*b) << (width - 8);
        for _ in 0..8 {
            let top = crc >> (width - 1) & 1;
            crc = (crc << 1) & ((1u64 << width) - 1) as u32;
            if top == 1 {
                crc ^= polynomial;
            }
        }
    }
    crc
}

/// Frames of 1024 samples, 16 bit, 48 kHz, every sample as it is.
fn flac(channels: usize, samples: &[i16]) -> Vec<u8> {
    let frames = samples.len() / channels;
    let mut out = Vec::from(*b"fLaC");
    out.extend_from_slice(&[0x80, 0, 0, 34]);
    out.extend_from_slice(&1024u16.to_be_bytes());
    out.extend_from_slice(&1024u16.to_be_bytes());
    out.extend_from_slice(&[0; 6]);
    let packed: u64 = 48_000 << 44 | (channels as u64 - 1) << 41 | 15 << 36 | frames as u64;
    out.extend_from_slice(&packed.to_be_bytes());
    out.extend_from_slice(&[0; 16]);
    for (number, block) in samples.chunks(1024 * channels).enumerate() {
        let n = block.len() / channels;
        // Sync, fixed block size; 16-bit block size follows, 48 kHz; channels, 16 bit; number < 128.
        let mut frame = vec![0xFF, 0xF8, 0x7A, ((channels as u8 - 1) << 4) | 0x08, number as u8];
        frame.extend_from_slice(&(n as u16 - 1).to_be_bytes());
        frame.push(crc(&frame, 0x07, 8) as u8);
        for channel in 0..channels {
            frame.push(0x02);
            for sample in block.iter().skip(channel).step_by(channels) {
                frame.extend_from_slice(&sample.to_be_bytes());
            }
        }
        let check = crc(&frame, 0x8005, 16) as u16;
        frame.extend_from_slice(&check.to_be_bytes());
        out.extend_from_slice(&frame);
    }
    out
}

fn sound(n: usize) -> Vec<i16> {
    white(4, 0.1, n).iter().map(|x| (x * 32_768.0) as i16).collect()
}

#[test]
fn flac_and_wav_of_the_same_samples_are_the_same() {
    let samples = sound(2 * 24_000);
    let x: Vec<f64> = samples.iter().map(|v| f64::from(*v) / 32_768.0).collect();
    let bytes = flac(2, &samples);
    let file = open(Cursor::new(&bytes[..])).unwrap();
    assert_eq!(file.format().container, Container::Flac);
    assert_eq!(file.format().encoding, Encoding::Integer { valid_bits: 16 });
    assert_eq!(file.format().frames, Some(24_000));
    let one = |bytes: &[u8]| {
        let mut file = open(Cursor::new(bytes)).unwrap();
        let heard = analyse(&mut *file, &Analysis::default(), |_| {}).unwrap();
        heard.channels[1].history.statistics(&Mask::everything())
    };
    let wave = wav::to_bytes(48_000, 2, wav::Depth::Int16, &x).unwrap();
    assert_eq!(one(&bytes), one(&wave));
}

#[test]
fn a_stream_cut_off_is_used_up_to_there() {
    let bytes = flac(1, &sound(24_000));
    let mut file = open(Cursor::new(&bytes[..bytes.len() / 2])).unwrap();
    let heard = analyse(&mut *file, &Analysis::default(), |_| {}).unwrap();
    let seconds = heard.channels[0].history.length().0;
    assert!((0.2..0.26).contains(&seconds), "{seconds}");
    assert!(heard.remarks.iter().any(|r| r.code == "recording::truncated"));
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mutated_streams_never_panic(
        changes in proptest::collection::vec(
            (any::<proptest::sample::Index>(), any::<u8>()), 1..12),
        early in any::<bool>(),
    ) {
        let mut bytes = flac(2, &sound(3_000));
        let reach = if early { 80 } else { bytes.len() };
        for (at, value) in changes {
            bytes[at.index(reach)] = value;
        }
        if let Ok(mut file) = open(Cursor::new(bytes)) {
            let _ = analyse(&mut *file, &Analysis::default(), |_| {});
        }
    }
}
