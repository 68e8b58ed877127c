//! Readers against files as they come, broken ones included.

use std::io::Cursor;

use proptest::prelude::*;
use wythe_recording::wav::{Depth, WavWriter, to_bytes};
use wythe_recording::{Analysis, Encoding, RecordingError, analyse, open};

fn read_all(bytes: &[u8]) -> Result<(Vec<f64>, Vec<&'static str>), RecordingError> {
    let mut file = open(Cursor::new(bytes))?;
    let mut out = Vec::new();
    let mut buffer = vec![0.0; 100 * file.format().channels];
    loop {
        let frames = file.read(&mut buffer)?;
        if frames == 0 {
            break;
        }
        out.extend_from_slice(&buffer[..frames * file.format().channels]);
    }
    Ok((out, file.remarks().iter().map(|r| r.code).collect()))
}

fn ramp(n: usize) -> Vec<f64> {
    (0..n).map(|k| (k as f64 / n as f64) * 1.6 - 0.8).collect()
}

/// A header by hand, for forms the writer does not make.
fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut out = Vec::from(*id);
    out.extend_from_slice(&(body.len() as u32).to_le_bytes());
    out.extend_from_slice(body);
    if body.len() % 2 == 1 {
        out.push(0);
    }
    out
}

fn fmt(tag: u16, channels: u16, rate: u32, bits: u16) -> Vec<u8> {
    let block = channels * bits.div_ceil(8);
    let mut out = Vec::new();
    out.extend_from_slice(&tag.to_le_bytes());
    out.extend_from_slice(&channels.to_le_bytes());
    out.extend_from_slice(&rate.to_le_bytes());
    out.extend_from_slice(&(rate * u32::from(block)).to_le_bytes());
    out.extend_from_slice(&block.to_le_bytes());
    out.extend_from_slice(&bits.to_le_bytes());
    out
}

fn riff(chunks: &[Vec<u8>]) -> Vec<u8> {
    let body: Vec<u8> = chunks.concat();
    let mut out = Vec::from(*b"RIFF");
    out.extend_from_slice(&(body.len() as u32 + 4).to_le_bytes());
    out.extend_from_slice(b"WAVE");
    out.extend_from_slice(&body);
    out
}

#[test]
fn what_is_written_is_read() {
    let x = ramp(999);
    for (depth, step) in
        [(Depth::Int16, 1.0 / 32768.0), (Depth::Int24, 1.0 / 8388608.0), (Depth::Float32, 1e-7)]
    {
        let (back, remarks) = read_all(&to_bytes(48_000, 3, depth, &x).unwrap()).unwrap();
        assert_eq!(back.len(), x.len());
        assert!(remarks.is_empty());
        assert!(x.iter().zip(&back).all(|(a, b)| (a - b).abs() <= step), "{depth:?}");
    }
    // Limited samples are counted.
    let mut writer = WavWriter::new(Cursor::new(Vec::new()), 48_000, 1, Depth::Int16).unwrap();
    writer.write(&[0.5, 1.5, f64::NAN, -3.0]).unwrap();
    assert_eq!(writer.finish().unwrap().1, 3);
}

#[test]
fn the_other_forms_of_wav() {
    // 8 bit, unsigned.
    let (x, _) =
        read_all(&riff(&[chunk(b"fmt ", &fmt(1, 1, 44_100, 8)), chunk(b"data", &[0, 128, 255])]))
            .unwrap();
    assert_eq!(x, [-1.0, 0.0, 127.0 / 128.0]);
    // 32-bit integer and 64-bit float, behind a chunk of odd length nobody knows.
    let odd = chunk(b"note", &[1, 2, 3]);
    let data: Vec<u8> = [i32::MIN, 1 << 30].iter().flat_map(|v| v.to_le_bytes()).collect();
    let (x, _) = read_all(&riff(&[
        odd.clone(),
        chunk(b"fmt ", &fmt(1, 2, 48_000, 32)),
        chunk(b"data", &data),
    ]))
    .unwrap();
    assert_eq!(x, [-1.0, 0.5]);
    let data: Vec<u8> = [1.25f64, -0.1].iter().flat_map(|v| v.to_le_bytes()).collect();
    let (x, _) =
        read_all(&riff(&[chunk(b"fmt ", &fmt(3, 1, 48_000, 64)), odd, chunk(b"data", &data)]))
            .unwrap();
    assert_eq!(x, [1.25, -0.1]);
    // Extensible: 24 valid bits in 32.
    let mut ext = fmt(0xFFFE, 1, 96_000, 32);
    ext.extend_from_slice(&22u16.to_le_bytes());
    ext.extend_from_slice(&24u16.to_le_bytes());
    ext.extend_from_slice(&[0; 4]);
    ext.extend_from_slice(&[1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
    let data: Vec<u8> = [0x4000_0000i32, -256].iter().flat_map(|v| v.to_le_bytes()).collect();
    let bytes = riff(&[chunk(b"fmt ", &ext), chunk(b"data", &data)]);
    let file = open(Cursor::new(&bytes[..])).unwrap();
    assert_eq!(file.format().encoding, Encoding::Integer { valid_bits: 24 });
    let (x, _) = read_all(&bytes).unwrap();
    assert_eq!(x, [0.5, -256.0 / 2_147_483_648.0]);
    // A broadcast chunk says when.
    let mut bext = vec![0u8; 602];
    bext[338..346].copy_from_slice(&123_456_789_012u64.to_le_bytes());
    let bytes = riff(&[
        chunk(b"bext", &bext),
        chunk(b"fmt ", &fmt(1, 1, 48_000, 16)),
        chunk(b"data", &[0; 8]),
    ]);
    let file = open(Cursor::new(&bytes[..])).unwrap();
    assert_eq!(file.format().time_reference, Some(123_456_789_012));
}

#[test]
fn long_form_and_lying_sizes() {
    let head = chunk(b"fmt ", &fmt(1, 1, 48_000, 16));
    let samples = [1u8, 0, 2, 0, 3, 0];
    // RF64: the size stands in ds64.
    let mut ds = Vec::new();
    ds.extend_from_slice(&[0; 8]);
    ds.extend_from_slice(&6u64.to_le_bytes());
    ds.extend_from_slice(&[0; 12]);
    for magic in [b"RF64", b"BW64"] {
        let mut bytes = riff(&[chunk(b"ds64", &ds), head.clone(), chunk(b"data", &samples)]);
        bytes[..4].copy_from_slice(magic);
        let at = bytes.len() - samples.len() - 4;
        bytes[at..at + 4].copy_from_slice(&[0xFF; 4]);
        assert_eq!(read_all(&bytes).unwrap().0.len(), 3);
    }
    for (size, code) in [
        (0u32, "recording::length-unstated"),
        (0xFFFF_FFFF, "recording::length-unstated"),
        (4_000, "recording::truncated"),
    ] {
        let mut bytes = riff(&[head.clone(), chunk(b"data", &samples)]);
        let at = bytes.len() - samples.len() - 4;
        bytes[at..at + 4].copy_from_slice(&size.to_le_bytes());
        // Without a chunk after it, a size of zero means it was never closed.
        bytes.extend_from_slice(&[9, 0, 9, 0, 9]);
        let (x, remarks) = read_all(&bytes).unwrap();
        assert_eq!(x.len(), 5, "{size}");
        assert!(remarks.contains(&code), "{size}: {remarks:?}");
        assert!(remarks.contains(&"recording::half-frame"));
    }
}

#[test]
fn what_is_refused_and_why() {
    let says = |bytes: &[u8]| read_all(bytes).unwrap_err().to_string();
    let head = |tag, channels, bits| chunk(b"fmt ", &fmt(tag, channels, 48_000, bits));
    let data = chunk(b"data", &[0; 64]);
    assert!(says(b"").contains("no samples"));
    assert!(says(b"Dear diary, today we played").contains("not a sound file"));
    assert!(says(b"ID3\x04 and so on and so on").contains("level"));
    assert!(says(b"OggS and so on and so on....").contains("level"));
    assert!(says(b"\0\0\0\x20ftypM4A and so on").contains("level"));
    assert!(says(&riff(&[head(0x11, 1, 4), data.clone()])).contains("ADPCM"));
    assert!(says(&riff(&[head(0x55, 2, 16), data.clone()])).contains("MPEG"));
    assert!(says(&riff(&[head(1, 0, 16), data.clone()])).contains("no channels"));
    assert!(says(&riff(&[head(1, 2000, 16), data.clone()])).contains("2000 channels"));
    assert!(says(&riff(&[head(1, 1, 12), chunk(b"data", &[])])).contains("no samples"));
    assert!(says(&riff(std::slice::from_ref(&data))).contains("before their format"));
    assert!(says(&riff(&[head(1, 1, 16)])).contains("no chunk of samples"));
    assert!(says(&riff(&[chunk(b"fmt ", &fmt(1, 1, 7, 16)), data])).contains("7 Hz"));
    let full = to_bytes(48_000, 1, Depth::Int16, &ramp(10)).unwrap();
    for cut in 1..full.len() - 20 {
        assert!(read_all(&full[..cut]).is_err(), "{cut}");
    }
    // A channel that is not there.
    let wish = Analysis { channels: vec![1, 3], ..Analysis::default() };
    let e = analyse(&mut *open(Cursor::new(&full[..])).unwrap(), &wish, |_| {}).unwrap_err();
    assert!(e.to_string().contains("channel 3 does not exist"), "{e}");
}

#[test]
fn samples_that_are_no_numbers_are_silent_and_said() {
    let mut x = ramp(4_800);
    x[100] = f64::NAN;
    x[101] = f64::INFINITY;
    x[3_000] = 1e30;
    let bytes = to_bytes(48_000, 1, Depth::Float32, &x).unwrap();
    let heard =
        analyse(&mut *open(Cursor::new(bytes)).unwrap(), &Analysis::default(), |_| {}).unwrap();
    assert_eq!(heard.channels[0].troubles.len(), 2, "{:?}", heard.channels[0].troubles);
    assert!(heard.remarks.iter().any(|r| r.code == "recording::not-a-number"));
    let mut timeline = wythe_recording::Timeline::new();
    heard.channels[0].mark(&mut timeline);
    assert!(timeline.excluded().holds(0.0022, 0.5));
    assert!(
        heard.channels[0].history.statistics(&wythe_recording::Mask::everything()).lzeq.unwrap().0
            < 0.0
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_are_refused_or_read(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let _ = read_all(&bytes);
    }

    #[test]
    fn random_bytes_behind_a_true_beginning(
        which in 0..5usize, bytes in proptest::collection::vec(any::<u8>(), 0..600),
    ) {
        let mut all = Vec::from([&b"RIFF\0\0\0\0WAVEfmt "[..], b"RF64\xff\xff\xff\xffWAVEds64", b"fLaC\0\0\0\x22",
            b"BW64\0\0\0\0WAVE", b"RIFF\0\0\0\0WAVEdata"][which]);
        all.extend_from_slice(&bytes);
        let _ = read_all(&all);
    }

    /// A good file with some bytes changed: an answer or a refusal, and the analysis survives it.
    #[test]
    fn mutated_files(
        depth in 0..3usize, channels in 1..4usize,
        changes in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 1..8),
        cut in any::<proptest::sample::Index>(), cuts in any::<bool>(),
    ) {
        let depth = [Depth::Int16, Depth::Int24, Depth::Float32][depth];
        let mut bytes = to_bytes(48_000, channels, depth, &ramp(300 * channels)).unwrap();
        for (at, value) in changes {
            // Mostly in the header, where it hurts.
            let at = at.index(120);
            bytes[at] = value;
        }
        if cuts {
            let to = cut.index(bytes.len());
            bytes.truncate(to);
        }
        if let Ok(mut file) = open(Cursor::new(bytes))
            && let Ok(heard) = analyse(&mut *file, &Analysis::default(), |_| {})
        {
            for channel in heard.channels {
                let s = channel.history.statistics(&wythe_recording::Mask::everything());
                prop_assert!(s.lzeq.is_none_or(|l| l.0.is_finite()));
            }
        }
    }
}

#[test]
fn a_stretch_is_cut_out_to_the_sample() {
    use wythe_bands::Seconds;
    use wythe_recording::read_stretch;
    let x: Vec<f64> = (0..2 * 20_000).map(|k| f64::from(k) / 65_536.0).collect();
    let bytes = to_bytes(10_000, 2, Depth::Int24, &x).unwrap();
    let cut = |channel, from, to| {
        let mut file = open(Cursor::new(&bytes[..])).unwrap();
        read_stretch(&mut *file, channel, Seconds(from), Seconds(to))
    };
    let got = cut(2, 0.5, 1.5).unwrap();
    assert_eq!(got.len(), 10_000);
    assert!((got[0] - x[2 * 5_000 + 1]).abs() < 1e-6);
    assert_eq!(cut(1, 1.9, 3.0).unwrap().len(), 1_000);
    for (channel, from, to) in [
        (3, 0.0, 1.0),
        (0, 0.0, 1.0),
        (1, 5.0, 6.0),
        (1, 1.0, 0.5),
        (1, -1.0, 1.0),
        (1, 0.0, 1e9),
        (1, f64::NAN, 1.0),
    ] {
        assert!(cut(channel, from, to).is_err(), "{channel} {from} {to}");
    }
}
