//! What is fuzzed. The ordinary tests run the same functions on a small corpus with fixed seeds.

use std::io::Cursor;

use wythe_recording::decay::{Excitation, decays, events, of_squares};
use wythe_recording::hum::mains_hum;
use wythe_recording::microphone::CorrectionCurve;
use wythe_recording::{Analysis, Band, Mask, analyse, open};

/// A sound file of any bytes is read to its end or refused; what was read has levels that are numbers.
pub fn sound_file(bytes: &[u8]) {
    let Ok(mut samples) = open(Cursor::new(bytes)) else { return };
    let format = samples.format().clone();
    assert!(format.channels > 0 && format.rate > 0);
    // A header may claim a thousand channels of a few samples: a small memory, no time wasted.
    let wish = Analysis { memory: 1_000_000, ..Analysis::default() };
    if format.channels > 32 {
        let mut buffer = vec![0.0; format.channels * 64];
        while let Ok(frames) = samples.read(&mut buffer) {
            assert!(buffer[..frames * format.channels].iter().all(|x| x.is_finite()));
            if frames == 0 {
                break;
            }
        }
        return;
    }
    if let Ok(heard) = analyse(&mut *samples, &wish, |share| assert!((0.0..=1.0).contains(&share)))
    {
        for channel in &heard.channels {
            let levels = channel.history.statistics(&Mask::everything());
            assert!(levels.leq.iter().all(|(_, l)| l.0.is_finite()));
            assert!(levels.lzeq.is_none_or(|l| l.0.is_finite()));
        }
    }
}

/// A correction curve of any text is read or refused with a line; its values are numbers.
pub fn correction_curve(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match CorrectionCurve::read(text) {
        Ok(curve) => {
            for f in [0.0, 1.0, 20.0, 1000.0, 1e6, f64::NAN] {
                assert!(curve.at(f).0.abs() <= 60.0, "{f}: {:?}", curve.at(f));
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Any samples are a decay or none.
pub fn decay(bytes: &[u8]) {
    let signal: Vec<f64> = bytes
        .chunks_exact(2)
        .take(20_000)
        .map(|b| f64::from(i16::from_le_bytes([b[0], b[1]])) / 32_768.0)
        .collect();
    let rate = 8_000.0;
    let squares: Vec<f64> = signal.iter().map(|x| x * x).collect();
    if let Ok(d) = of_squares(&squares, rate) {
        for line in [d.edt, d.t20, d.t30].into_iter().flatten() {
            assert!(line.time.0 > 0.0 && line.time.0.is_finite());
        }
    }
    for (from, to, how) in events(&signal, rate) {
        assert!(from < to && to <= signal.len());
        let _ = decays(&signal[from..to], rate, [Band::HZ_500], how);
    }
    let _ = decays(&signal, rate, [Band::HZ_500], Excitation::Impulse);
    let _ = mains_hum(&signal, rate);
}
