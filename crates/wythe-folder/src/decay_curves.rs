//! The decays of recordings as curves, with the lines that were fitted to them.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use wythe_bands::{Band, Octave, Seconds};
use wythe_building::{Building, RoomIndex};
use wythe_project::Survey;
use wythe_project::survey::{Recording, StretchKind};
use wythe_recording::decay::{DecayCurve, Excitation, curve, events};
use wythe_recording::{LONGEST_STRETCH, open, read_stretch};
use wythe_report::report::{DecayDrawn, DecayFit};

use crate::load::DiskFiles;

/// One decay in one band.
pub struct Found {
    /// Channel, from 1.
    pub channel: u16,
    /// Room of the channel.
    pub room: RoomIndex,
    /// Where in the recording it begins.
    pub at: Seconds,
    /// Band.
    pub band: Band,
    /// The curve with its lines.
    pub curve: DecayCurve,
    /// What made the sound.
    pub excitation: Excitation,
}

/// The decays of one recording in these bands.
///
/// # Errors
/// What is wrong with the file, in words.
pub fn of(folder: &Path, recording: &Recording, bands: &[Band]) -> Result<Vec<Found>, String> {
    let path = DiskFiles::new(folder)
        .path(&recording.file)
        .map_err(|e| format!("{} cannot be read: {e}", recording.file))?;
    let mut out = Vec::new();
    for s in recording.stretches.iter().filter(|s| s.kind == StretchKind::Decay) {
        let to = Seconds(s.to.0.min(s.from.0 + LONGEST_STRETCH));
        for c in recording.channels.iter().filter(|c| {
            let named = s.channels.contains(&c.number);
            if s.channels.is_empty() { s.room.is_none_or(|room| room == c.room) } else { named }
        }) {
            let file = File::open(&path).map_err(|e| e.to_string())?;
            let mut samples =
                open(BufReader::with_capacity(1 << 20, file)).map_err(|e| e.to_string())?;
            let rate = f64::from(samples.format().rate);
            let line = read_stretch(&mut *samples, usize::from(c.number), s.from, to)
                .map_err(|e| e.to_string())?;
            for (from, to, excitation) in events(&line, rate) {
                for band in bands {
                    let Ok(Some(curve)) = curve(&line[from..to], rate, *band, excitation) else {
                        continue;
                    };
                    let at = Seconds(s.from.0 + from as f64 / rate);
                    let (channel, room, band) = (c.number, c.room, *band);
                    out.push(Found { channel, room, at, band, curve, excitation });
                }
            }
        }
    }
    Ok(out)
}

/// Points of a curve that are kept: finer than a drawing shows.
const MOST_POINTS: usize = 800;

/// A decay as the documents and the desk draw it.
pub fn drawn(found: &Found, label: String) -> DecayDrawn {
    let c = &found.curve;
    // The interesting part: down to the noise, and a little further.
    let last = c.decay.knee.map_or(f64::INFINITY, |k| 1.3 * k.0 + 0.1);
    let shown = ((last / c.step.0) as usize).min(c.levels.len());
    let stride = shown.div_ceil(MOST_POINTS).max(1);
    let fit = match (c.decay.t20, c.evaluated, c.centre) {
        (Some(t20), Some((from, to)), Some((middle, level))) => {
            Some(DecayFit { t20: t20.time, from, to, middle, level })
        }
        _ => None,
    };
    DecayDrawn {
        room: found.room,
        label,
        band: found.band,
        excitation: match found.excitation {
            Excitation::Impulse => "an impulse",
            Excitation::InterruptedNoise => "steady noise that stops",
        },
        step: Seconds(c.step.0 * stride as f64),
        levels: c.levels[..shown].iter().copied().step_by(stride).collect(),
        fit,
        edt: c.decay.edt.map(|l| l.time),
        t30: c.decay.t30.map(|l| l.time),
        range: c.decay.range,
        non_linearity: c.decay.t20.map(|l| l.non_linearity()),
    }
}

/// Bands whose decays the document for the file draws: the middle of each octave, 125 Hz to 4 kHz.
fn drawn_bands() -> Vec<Band> {
    Octave::all().filter(|o| (2..=7).contains(&o.index())).map(|o| o.thirds()[1]).collect()
}

/// All decays of a survey for the document for the file. A recording that cannot be read is left
/// out here: measuring it has said so.
pub fn of_survey(folder: &Path, building: &Building, survey: &Survey) -> Vec<DecayDrawn> {
    let bands = drawn_bands();
    let mut out = Vec::new();
    for r in survey.recordings.iter().filter(|r| !r.planned) {
        let file = r.file.rsplit('/').next().unwrap_or(&r.file);
        for f in of(folder, r, &bands).unwrap_or_default() {
            // A room the survey names stands in the building, or the survey was refused.
            if building.rooms.get(f.room.0).is_some() {
                let label = format!("{file}:{}, at {:.1} s", f.channel, f.at.0);
                out.push(drawn(&f, label));
            }
        }
    }
    out
}
