//! Stretches of recordings, and rooms before and after, as sound: quiet, faded in, limited.

use std::io::Cursor;
use std::path::Path;

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, Seconds};
use wythe_building::{Building, RoomIndex};
use wythe_folder::listen::limiter::Limiter;
use wythe_folder::listen::{Chain, Input, RELATIVE_PEAK, State, states};
use wythe_folder::load::DiskFiles;
use wythe_recording::wav::{Depth, WavWriter};
use wythe_recording::{open, read_stretch};

/// Longest piece that is played, s.
pub const LONGEST: f64 = 60.0;
/// A silent piece is not made louder than this: what is heard then is the recorder.
const MOST_GAIN: f64 = 3000.0;
/// Length of the beginning that comes up from silence, s.
const RISE: f64 = 1.5;
/// Length of a room heard before and after, s, and of each turn.
pub const COMPARED: f64 = 16.0;
/// See [`COMPARED`].
pub const TURN: f64 = 4.0;

/// One channel of a recording from a time to a time, as a WAV file whose peaks lie 20 dB below
/// full scale whatever the recording's level was.
///
/// # Errors
/// Why not, as a sentence without full stop.
pub fn piece(
    folder: &Path,
    file: &str,
    channel: usize,
    from: f64,
    to: f64,
) -> Result<Vec<u8>, String> {
    if !(from >= 0.0 && to > from && to < 1e9) {
        return Err("a stretch begins at 0:00 or later and ends after it begins".into());
    }
    let to = to.min(from + LONGEST);
    let path =
        DiskFiles::new(folder).path(file).map_err(|e| format!("{file} cannot be read: {e}"))?;
    let reader = std::fs::File::open(path).map_err(|e| e.to_string())?;
    let mut samples =
        open(std::io::BufReader::with_capacity(1 << 20, reader)).map_err(|e| e.to_string())?;
    let rate = samples.format().rate;
    let mut line = read_stretch(&mut *samples, channel, Seconds(from), Seconds(to))
        .map_err(|e| e.to_string())?;
    quieted(&mut line, f64::from(rate));
    let out = written(&line, rate).map_err(|e| e.to_string())?;
    Ok(out)
}

/// Brings samples to a moderate peak with soft ends, and turns what is no number into silence.
fn quieted(line: &mut Vec<f64>, rate: f64) {
    line.iter_mut().filter(|x| !x.is_finite()).for_each(|x| *x = 0.0);
    let mean = line.iter().sum::<f64>() / line.len().max(1) as f64;
    line.iter_mut().for_each(|x| *x -= mean);
    let peak = line.iter().fold(0.0f64, |m, x| m.max(x.abs()));
    let gain = if peak > 0.0 { (RELATIVE_PEAK / peak).min(MOST_GAIN) } else { 0.0 };
    let count = line.len() as f64;
    let (rise, fall) = ((RISE * rate).min(count / 2.0), (0.1 * rate).min(count / 2.0));
    let soft = |x: f64| 0.5 - 0.5 * (std::f64::consts::PI * x.clamp(0.0, 1.0)).cos();
    for (n, x) in line.iter_mut().enumerate() {
        let t = n as f64;
        *x *= gain * soft(t / rise.max(1.0)) * soft((count - 1.0 - t) / fall.max(1.0));
    }
    // Rounding aside nothing is above it any more; the ceiling holds whatever happens before.
    let mut limiter = Limiter::new(1, (0.01 * rate) as usize, 1.01 * RELATIVE_PEAK);
    let mut out = limiter.run(line);
    out.extend(limiter.rest());
    *line = out;
}

fn written(line: &[f64], rate: u32) -> Result<Vec<u8>, wythe_recording::RecordingError> {
    let mut bytes = Cursor::new(Vec::with_capacity(2 * line.len() + 128));
    let mut writer = WavWriter::new(&mut bytes, rate, 1, Depth::Int16)?;
    writer.write(line)?;
    writer.finish()?;
    Ok(bytes.into_inner())
}

/// A room before and after changes: how loud the source is in it, A-weighted, and what is heard.
pub struct Compared {
    states: Vec<State>,
    from: RoomIndex,
}

impl Compared {
    /// A room while a source plays, as it is and with changes made.
    ///
    /// # Errors
    /// Why not, as a sentence without full stop.
    pub fn new(
        b: &Building,
        source: usize,
        room: RoomIndex,
        changes: Vec<usize>,
    ) -> Result<Compared, String> {
        let from = b.sources.get(source).ok_or("there is no such source")?.room;
        if from == room {
            return Err("the source plays in that very room".into());
        }
        let sets = vec![("now".to_owned(), Vec::new()), ("after".to_owned(), changes)];
        let states = states(b, from, room, sets).map_err(|f| crate::words_of(&f))?;
        Ok(Compared { states, from })
    }

    /// A-weighted levels now and after.
    pub fn levels(&self, b: &Building) -> [Option<Level>; 2] {
        let source = b.sources.iter().find(|s| s.room == self.from).map(|s| s.levels);
        [0, 1].map(|i| {
            let there = source?.zip_with(&self.states.get(i)?.difference, |l, d| l - d);
            there.weighted_total(Weighting::A)
        })
    }

    /// The two in turns, with the background of the room, as a WAV file whose loudest peak lies
    /// 20 dB below full scale: only their difference is true.
    ///
    /// # Errors
    /// Why not, as a sentence without full stop.
    pub fn sound(&self, b: &Building, room: RoomIndex) -> Result<Vec<u8>, String> {
        let said = |f| crate::words_of(&f);
        let source = b.sources.iter().find(|s| s.room == self.from).map(|s| s.levels);
        let input = Input::noise(source).map_err(said)?;
        let background = b.rooms[room.0].background;
        let mut chain = Chain::new(&input, 1.0, &self.states, background, COMPARED);
        let peak = chain.peak().map_err(said)?;
        let scale = if peak > 0.0 { RELATIVE_PEAK / peak } else { 0.0 };
        let mut bytes = Cursor::new(Vec::new());
        chain.write(&mut bytes, scale, 1.01 * RELATIVE_PEAK, Some(TURN)).map_err(said)?;
        Ok(bytes.into_inner())
    }
}

/// Minutes and seconds, or seconds, as typed into a field.
pub fn time(text: &str) -> Option<f64> {
    let mut seconds = 0.0;
    let parts: Vec<&str> = text.trim().split(':').collect();
    if parts.len() > 3 {
        return None;
    }
    for part in parts {
        let value: f64 = part.trim().parse().ok().filter(|v: &f64| v.is_finite() && *v >= 0.0)?;
        seconds = seconds * 60.0 + value;
    }
    Some(seconds)
}

/// The bytes a `Range` header asks for, as first and last; `None` for all of them.
pub fn range(asked: Option<&str>, length: usize) -> Option<(usize, usize)> {
    let (first, last) = asked?.trim().strip_prefix("bytes=")?.split_once('-')?;
    let end = length.checked_sub(1)?;
    let (first, last) = match (first, last) {
        ("", n) => (length.saturating_sub(n.parse().ok()?), end),
        (f, "") => (f.parse().ok()?, end),
        (f, l) => (f.parse().ok()?, l.parse::<usize>().ok()?.min(end)),
    };
    (first <= last).then_some((first, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whatever_is_recorded_comes_out_quiet_and_soft() {
        for loud in [1.0, 1e-4, 0.0] {
            let mut line: Vec<f64> = (0..48_000)
                .map(|n| {
                    loud * (n as f64 * 0.05).sin() + if n == 30_000 { 9.0 * loud } else { 0.0 }
                })
                .collect();
            line[5] = f64::NAN;
            line[6] = f64::INFINITY;
            quieted(&mut line, 48_000.0);
            let peak = line.iter().fold(0.0f64, |m, x| m.max(x.abs()));
            assert!(peak <= 1.01 * RELATIVE_PEAK, "{peak}");
            assert!(line.iter().all(|x| x.is_finite()));
            assert!(line[..2400].iter().all(|x| x.abs() < 0.03 * RELATIVE_PEAK));
            assert!(line[47_990..].iter().all(|x| x.abs() < 0.05 * RELATIVE_PEAK));
            if loud > 0.0 {
                assert!(peak > 0.5 * RELATIVE_PEAK, "{peak}");
            }
        }
    }

    #[test]
    fn times_and_ranges_are_read_or_refused() {
        assert_eq!(time("1:02:03.5"), Some(3723.5));
        assert_eq!(time("0:10"), Some(10.0));
        for bad in ["", "x", "1:2:3:4", "-1", "NaN", "1:-2", "inf"] {
            assert_eq!(time(bad), None, "{bad}");
        }
        assert_eq!(range(Some("bytes=0-"), 10), Some((0, 9)));
        assert_eq!(range(Some("bytes=2-4"), 10), Some((2, 4)));
        assert_eq!(range(Some("bytes=-3"), 10), Some((7, 9)));
        assert_eq!(range(Some("bytes=8-99"), 10), Some((8, 9)));
        for bad in ["bytes=9-2", "bytes=x-y", "lines=1-2", "bytes=99999999999999999999-"] {
            assert_eq!(range(Some(bad), 10), None, "{bad}");
        }
        assert_eq!(range(Some("bytes=0-"), 0), None);
        assert_eq!(range(None, 10), None);
    }
}
