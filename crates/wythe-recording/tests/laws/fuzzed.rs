//! The fuzz targets on a corpus of their own with fixed seeds: what a minute of fuzzing would do first.

use wythe_recording::test_signal::{SplitMix64, white};
use wythe_recording::wav::{Depth, to_bytes};

use crate::targets::{correction_curve, decay, sound_file};

/// Bytes with some changed, cut, doubled or replaced by telling values.
fn mutated(seed: &[u8], r: &mut SplitMix64) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..1 + r.next_u64() % 6 {
        if bytes.is_empty() {
            break;
        }
        // Headers are where readers go wrong: most changes hit the first two hundred bytes.
        let reach = if r.next_u64().is_multiple_of(4) { bytes.len() } else { bytes.len().min(200) };
        let at = (r.next_u64() as usize) % reach;
        match r.next_u64() % 6 {
            0 => bytes[at] = r.next_u64() as u8,
            1 => bytes[at] ^= 1 << (r.next_u64() % 8),
            2 => {
                let telling = [0u32, 1, 0xFFFF_FFFF, 0x7FFF_FFFF, 0x8000_0000, 44];
                let value = telling[(r.next_u64() % 6) as usize].to_le_bytes();
                for (b, v) in bytes[at..].iter_mut().zip(value) {
                    *b = v;
                }
            }
            3 => bytes.truncate(at),
            4 => {
                let end = (at + (r.next_u64() as usize) % 64).min(bytes.len());
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece);
            }
            _ => {
                let end = (at + (r.next_u64() as usize) % 16).min(bytes.len());
                bytes.drain(at..end);
            }
        }
    }
    bytes
}

#[test]
fn sound_files() {
    let x = white(1, 0.2, 2 * 600);
    let mut corpus: Vec<Vec<u8>> = [Depth::Int16, Depth::Int24, Depth::Float32]
        .into_iter()
        .map(|d| to_bytes(48_000, 2, d, &x).unwrap())
        .collect();
    // The long form, its sizes in a chunk of their own.
    let mut long = corpus[1].clone();
    long[..4].copy_from_slice(b"RF64");
    let ds64: Vec<u8> = [b"ds64".as_slice(), &28u32.to_le_bytes(), &[0; 28]].concat();
    long.splice(12..12, ds64);
    corpus.push(long);
    corpus.push(b"fLaC\0\0\0\x22".to_vec());
    corpus.push(vec![0; 64]);
    let mut r = SplitMix64::new(77);
    for seed in &corpus {
        sound_file(seed);
        for _ in 0..150 {
            sound_file(&mutated(seed, &mut r));
        }
    }
}

#[test]
fn correction_curves() {
    let seed = b"frequency_hz,response_db\n20,-1.5\n1000,0\n20000,3\n";
    let mut r = SplitMix64::new(78);
    correction_curve(seed);
    for _ in 0..2_000 {
        correction_curve(&mutated(seed, &mut r));
    }
}

#[test]
fn decaying_samples() {
    let mut r = SplitMix64::new(79);
    for seconds in [0, 1, 2] {
        for slope in [0.0, 1.0, 4.0] {
            let bytes: Vec<u8> = (0..seconds * 8_000)
                .flat_map(|n| {
                    let fall = 10f64.powf(-slope * n as f64 / 8_000.0);
                    ((8_000.0 * fall * r.gauss()).clamp(-32_768.0, 32_767.0) as i16).to_le_bytes()
                })
                .collect();
            decay(&bytes);
            for _ in 0..5 {
                decay(&mutated(&bytes, &mut r));
            }
        }
    }
}
