//! Levels under the background: what is coherent with the source, and what follows it.

use wythe_bands::{Band, Level, LevelDifference, Remark, Seconds, Spectrum};
use wythe_fieldtest::CoherentLevel;
use wythe_findings::{RecoveredBy, RecoveredLevel};
use wythe_project::survey::{Excitation, Recording};
use wythe_recording::follow::{Followed, follow};
use wythe_recording::joined::Joined;
use wythe_recording::recover::{MOST_REFERENCES, Recovered, Wish, recover as pull_out};
use wythe_recording::{Analysis, History, Kind, Mask, RecordingError, Samples, analyse};

use super::aligning::Partner;
use super::comparing::Anchor;
use super::reading::{self, Taken};
use super::{Listened, Session, file_name};
use crate::failure::Failure;
use crate::progress::Progress;

/// Below this above the background a band is only a bound (ISO 16283-1:2014, 9.2), dB.
const BOUND: f64 = 6.0;
/// Longest way looked for, s: 80 m.
const LONGEST_DELAY: f64 = 0.25;
/// Shortest stretch of source that coherence is asked about, s.
const SHORTEST: f64 = 8.0;

/// What was recovered of one channel.
#[derive(Clone, Default)]
pub struct Channel {
    coherent: Spectrum<Recovered>,
    followed: Spectrum<Followed>,
    /// Time of the source that was asked, in this recording; nothing where it was not.
    pub time: Option<Mask>,
    /// The same with the background.
    usable: Option<Mask>,
    /// Delay behind the source microphone.
    pub delay: Option<Seconds>,
}

impl Channel {
    /// As levels, given those that were heard.
    pub fn levels(&self, heard: &Spectrum<Level>) -> Spectrum<RecoveredLevel> {
        heard.filter_map(|band, level| {
            let (c, f) = (self.coherent.get(band), self.followed.get(band));
            if c.is_none() && f.is_none() {
                return None;
            }
            let of = |share: LevelDifference| level + share;
            let value = |share: Option<LevelDifference>, deviation: Option<LevelDifference>| {
                Some(CoherentLevel { level: of(share?), deviation: deviation? })
            };
            let coherent = c.and_then(|c| value(c.share, c.deviation));
            let followed = f.and_then(|f| value(f.share, f.deviation));
            // What is coherent is there for certain; that there is no more only where the segment was
            // long enough.
            let least = c.and_then(|c| c.at_least);
            let most = c.filter(|c| c.settled).map(|c| c.at_most);
            Some(match (coherent, followed) {
                (Some(found), _) => RecoveredLevel {
                    by: RecoveredBy::Coherence,
                    level: Some(found),
                    at_most: most.map(of),
                    at_least: least.map(of),
                },
                (None, found) => RecoveredLevel {
                    by: if f.is_some() { RecoveredBy::Following } else { RecoveredBy::Coherence },
                    level: found,
                    at_most: f.map(|f| of(f.at_most)).or(most.map(of)),
                    at_least: f.and_then(|f| f.at_least).or(least).map(of),
                },
            })
        })
    }
}

/// Recovers what came from the source in every channel that needs it.
pub fn recover(
    session: &mut Session<'_>,
    recording: &Recording,
    taken: &Taken,
    listened: &Listened,
    anchor: Option<&Anchor<'_>>,
    partner: Option<&Partner>,
) -> Result<Vec<Channel>, Failure> {
    let mut out = vec![Channel::default(); recording.channels.len()];
    let airborne = matches!(
        recording.excitation,
        Excitation::Airborne | Excitation::LoudspeakerOutside | Excitation::Traffic
    );
    let Some(source) = listened.source.filter(|_| airborne) else { return Ok(out) };
    let needy: Vec<usize> = (0..recording.channels.len())
        .filter(|k| recording.channels[*k].room != source && !listened.worthless[*k])
        .filter(|k| hidden(&taken.heard.channels[*k].history, listened, *k))
        .collect();
    if needy.is_empty() {
        return Ok(out);
    }
    let segment = segment(session, recording, source, &needy);
    let number = |k: usize| usize::from(recording.channels[k].number);
    // What a channel and the source microphones, and the one that gives the source's level, can use.
    let near = match partner.filter(|_| listened.references.is_empty()) {
        Some(p) => {
            let first = &p.first.listened;
            let all = first.references.iter().map(|k| first.timelines[*k].usable());
            p.off_first(&all.fold(Mask::everything(), |a, b| a.and(&b)))
        }
        None => {
            let all = listened.references.iter().map(|k| listened.timelines[*k].usable());
            all.fold(Mask::everything(), |a, b| a.and(&b))
        }
    };
    let whole = anchor.map_or_else(Mask::everything, Anchor::time);
    for &k in &needy {
        let (on, off) = masks(listened, k);
        let (on, off) = (on.and(&near).and(&whole), off.and(&near));
        let both = on.as_spans().iter().chain(off.as_spans()).copied().collect();
        out[k].usable = Some(Mask::spans(both));
        out[k].time = Some(on);
    }
    let on = |out: &[Channel], k: usize| out[k].time.clone().unwrap_or_else(Mask::everything);
    let mut said: Option<RecordingError> = None;
    if !listened.references.is_empty() {
        let references: Vec<usize> =
            listened.references.iter().take(MOST_REFERENCES).map(|k| number(*k)).collect();
        let histories: Vec<&History> =
            listened.references.iter().map(|k| &taken.heard.channels[*k].history).collect();
        for k in &needy {
            let on = on(&out, *k);
            let usable = out[*k].usable.clone().unwrap_or_else(Mask::everything);
            out[*k].followed = follow(&histories, &taken.heard.channels[*k].history, &on, &usable);
        }
        // Channels with the same time are read together.
        let mut groups: Vec<(Mask, Vec<usize>)> = Vec::new();
        for k in &needy {
            let mask = on(&out, *k);
            match groups.iter_mut().find(|(m, _)| *m == mask) {
                Some((_, list)) => list.push(*k),
                None => groups.push((mask, vec![*k])),
            }
        }
        for (mask, list) in groups {
            let wish = Wish {
                references: references.clone(),
                receivers: list.iter().map(|k| number(*k)).collect(),
                mask,
                segment,
                largest_delay: Seconds(LONGEST_DELAY),
            };
            let mut open = || reading::samples(&taken.path);
            said = said.or(fill(&mut open, &wish, &list, &recording.file, &mut out));
        }
    } else if let Some(partner) = partner {
        let needy: Vec<(usize, Mask)> = needy.iter().map(|k| (*k, on(&out, *k))).collect();
        said = together(recording, partner, taken, &needy, segment, &mut out);
    }
    if let Some(e) = said {
        session.remarks.push(
            Remark::new(
                "measure::not-recovered",
                format!("nothing was recovered by coherence from under the background: {e}"),
            )
            .at(recording.file.clone()),
        );
    }
    Ok(out)
}

/// Usable source and background time of a channel.
fn masks(listened: &Listened, k: usize) -> (Mask, Mask) {
    let timeline = &listened.timelines[k];
    (timeline.mask(&Kind::Source), timeline.mask(&Kind::Background))
}

/// Whether a channel has bands that the background hides, or no background at all.
fn hidden(history: &History, listened: &Listened, k: usize) -> bool {
    let timeline = &listened.timelines[k];
    let usable = timeline.usable();
    let on = timeline.mask(&Kind::Source).and(&usable);
    let long: f64 = on.as_spans().iter().map(|s| s.1 - s.0).sum();
    if !(long >= SHORTEST) {
        return false;
    }
    let together = history.leq(&on);
    let alone = history.leq(&timeline.mask(&Kind::Background).and(&usable));
    together
        .within(Band::HZ_50, Band::HZ_5000)
        .iter()
        .any(|(b, l)| alone.get(b).is_none_or(|a| l.0 - a.0 <= BOUND))
}

/// A segment as long as the longest decay of the rooms, as described.
fn segment(
    session: &Session<'_>,
    recording: &Recording,
    source: wythe_building::RoomIndex,
    needy: &[usize],
) -> Seconds {
    let building = &session.project.building;
    let longest = needy
        .iter()
        .map(|k| recording.channels[*k].room)
        .chain([source])
        .filter(|r| !building.rooms[r.0].outdoors)
        .flat_map(|r| {
            let times = building.rooms[r.0].decay_time(building.air);
            times.within(Band::HZ_100, Band::HZ_4000).iter().map(|(_, t)| t.0).collect::<Vec<_>>()
        })
        .filter(|t| t.is_finite())
        .fold(0.0, f64::max);
    Seconds(longest.clamp(0.7, 3.0))
}

fn fill(
    open: &mut dyn FnMut() -> Result<Box<dyn Samples>, RecordingError>,
    wish: &Wish,
    list: &[usize],
    file: &str,
    out: &mut [Channel],
) -> Option<RecordingError> {
    let rate = open().map(|s| f64::from(s.format().rate)).unwrap_or(48_000.0);
    let mut progress = Progress::new("looking under the background of", file_name(file));
    let found = pull_out(open, wish, |share| progress.tell(share));
    progress.done();
    match found {
        Ok(found) => {
            for (k, channel) in list.iter().zip(found) {
                out[*k].coherent = channel.bands;
                out[*k].delay =
                    (channel.delay.clarity > 6.0).then(|| Seconds(channel.delay.samples / rate));
            }
            None
        }
        Err(e) => Some(e),
    }
}

/// The same with the source microphone on another recorder.
fn together(
    recording: &Recording,
    partner: &Partner,
    taken: &Taken,
    needy: &[(usize, Mask)],
    segment: Seconds,
    out: &mut [Channel],
) -> Option<RecordingError> {
    let first = &*partner.first;
    let references: Vec<usize> = first
        .listened
        .references
        .iter()
        .take(MOST_REFERENCES)
        .map(|k| usize::from(first.recording.channels[*k].number))
        .collect();
    let path = &first.taken.path;
    let mut attempt = || -> Result<Option<RecordingError>, RecordingError> {
        let channels = first.taken.heard.format.channels;
        let there = |k: usize| channels + usize::from(recording.channels[k].number);
        let mut open = || -> Result<Box<dyn Samples>, RecordingError> {
            let joined = Joined::new(
                reading::samples(path)?,
                reading::samples(&taken.path)?,
                partner.alignment(),
            )?;
            Ok(Box::new(joined))
        };
        // Levels of both on one clock, for what follows the source.
        let all: Vec<usize> =
            references.iter().copied().chain(needy.iter().map(|(k, _)| there(*k))).collect();
        let wish = Analysis { channels: all, ..Analysis::default() };
        let mut progress = Progress::new("comparing", file_name(&recording.file));
        let both = analyse(&mut *open()?, &wish, |share| progress.tell(share))?;
        progress.done();
        let histories: Vec<&History> =
            both.channels[..references.len()].iter().map(|c| &c.history).collect();
        for (place, (k, on)) in needy.iter().enumerate() {
            let on = partner.onto_first(on);
            let usable = partner.onto_first(out[*k].usable.as_ref().unwrap_or(&on));
            let receiver = &both.channels[references.len() + place].history;
            out[*k].followed = follow(&histories, receiver, &on, &usable);
        }
        for (k, on) in needy {
            let wish = Wish {
                references: references.clone(),
                receivers: vec![there(*k)],
                mask: partner.onto_first(on),
                segment,
                largest_delay: Seconds(LONGEST_DELAY),
            };
            if let Some(e) = fill(&mut open, &wish, &[*k], &recording.file, out) {
                return Ok(Some(e));
            }
        }
        Ok(None)
    };
    attempt().unwrap_or_else(Some)
}
