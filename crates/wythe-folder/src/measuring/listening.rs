//! What happened when: what the user said, what was found, and what it does to the result.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, LevelDifference, Remark, Seconds};
use wythe_findings::{Excluded, Heard};
use wythe_project::survey::{PositionKind, Recording, StretchKind, Told};
use wythe_recording::listen_for::{
    automatic_gain, foreign_sound, gain_steps, recovering_gain, source_and_background,
};
use wythe_recording::trouble::{Trouble, What};
use wythe_recording::{Author, History, Kind, Mask, Signal, Timeline, hum, read_stretches};

use super::aligning::Partner;
use super::reading::{self, Taken};
use super::{Known, Listened, Session, file_name};

/// A gain step this close to a calibration is somebody putting the calibrator on, s.
const NEAR_TONE: f64 = 6.0;
/// Longest background looked at for hum, s.
const HUM: f64 = 30.0;
/// Coarser than this many steps at its loudest, a channel holds the converter and not the room.
const FEWEST_STEPS: f64 = 32.0;

/// Listens to one recording.
pub fn listen(
    session: &mut Session<'_>,
    recording: &Recording,
    taken: &Taken,
    known: &[Known],
    partner: Option<&Partner>,
) -> Listened {
    let channels = &taken.heard.channels;
    let name = file_name(&recording.file).to_owned();
    let label = |index: usize| format!("{name}:{}", recording.channels[index].number);
    let mut remarks: Vec<Remark> = Vec::new();
    let room_said = recording.stretches.iter().any(|s| s.room.is_some());
    let source = partner
        .and_then(|p| p.first.listened.source)
        .filter(|_| !room_said)
        .or_else(|| session.source_room(recording));
    if source.is_none() {
        remarks.push(
            Remark::new(
                "measure::no-source",
                "nothing says in which room the source played: mark it with [[recording.stretch]] \
                 kind = \"source\" and room, or nothing can be compared",
            )
            .at(recording.file.clone()),
        );
    }
    let in_source = |kinds: &[PositionKind]| -> Vec<usize> {
        (0..channels.len())
            .filter(|k| Some(recording.channels[*k].room) == source)
            .filter(|k| kinds.contains(&recording.channels[*k].kind))
            .collect()
    };
    // What stands near the source hears it best; a façade has its own microphones.
    let references = [
        &[PositionKind::NearSource][..],
        &[PositionKind::OnFacade, PositionKind::BeforeFacade],
        &[PositionKind::Position],
        &[PositionKind::Corner],
    ]
    .into_iter()
    .map(in_source)
    .find(|found| !found.is_empty())
    .unwrap_or_default();

    let mut timelines: Vec<Timeline> = (0..channels.len())
        .map(|k| {
            let mut timeline = stated(recording, recording.channels[k].number);
            channels[k].mark(&mut timeline);
            timeline
        })
        .collect();
    let length = channels.first().map_or(Seconds(0.0), |c| c.history.length());
    let rate = f64::from(taken.heard.format.rate);
    let reference = taken.heard.format.time_reference.map(|n| Seconds(n as f64 / rate));
    for (from, to, text) in notes(session, recording, length, reference) {
        for timeline in &mut timelines {
            timeline.add(from, to, Kind::Excluded(text.clone()), Author::User);
        }
    }
    let has = |kind| recording.stretches.iter().any(|s| s.kind == kind);
    let (says_source, says_background) = (has(StretchKind::Source), has(StretchKind::Background));
    // A recording of decays alone holds no source and is no position.
    let all_said = (says_source && says_background) || only_decays(recording);
    if let Some(partner) = partner.filter(|_| !all_said) {
        let first = &*partner.first;
        let at = first.listened.references.first().copied().unwrap_or(0);
        let mut any = false;
        for (kind, said) in [(Kind::Source, says_source), (Kind::Background, says_background)] {
            let there: Vec<(f64, f64)> = first.listened.timelines[at]
                .stretches()
                .iter()
                .filter(|s| s.kind == kind)
                .map(|s| (s.from.0, s.to.0))
                .collect();
            let here = partner.off_first(&Mask::spans(there));
            let here = here.and(&Mask::spans(vec![(0.0, length.0)]));
            for &(a, b) in here.as_spans().iter().filter(|_| !said) {
                any = true;
                for timeline in &mut timelines {
                    timeline.add(Seconds(a), Seconds(b), kind.clone(), Author::Found);
                }
            }
        }
        if any {
            remarks.push(
                Remark::new(
                    "measure::found-stretches",
                    format!(
                        "source and background that are not marked here were taken over from {}, \
                         which ran at the same time",
                        first.recording.file
                    ),
                )
                .at(recording.file.clone()),
            );
        }
    } else if !all_said && !channels.is_empty() {
        let reference = references.first().copied().unwrap_or_else(|| loudest(channels));
        let mut scratch = Timeline::new();
        for s in timelines[reference].stretches() {
            if !matches!(s.kind, Kind::Source | Kind::Background) {
                scratch.add(s.from, s.to, s.kind.clone(), s.author);
            }
        }
        let said = source_and_background(&channels[reference].history, &mut scratch);
        let mut any = false;
        for s in scratch.stretches() {
            let wanted = match s.kind {
                Kind::Source => !says_source,
                Kind::Background => !says_background,
                _ => false,
            };
            if wanted {
                any = true;
                for timeline in &mut timelines {
                    timeline.add(s.from, s.to, s.kind.clone(), Author::Found);
                }
            }
        }
        let missing = match (says_source, says_background) {
            (false, false) => "source and background were",
            (false, true) => "the source was",
            _ => "the background was",
        };
        if any {
            remarks.push(
                Remark::new(
                    "measure::found-stretches",
                    format!(
                        "{missing} not marked and found from the level of {}; look at the stretches and \
                         write down what is wrong",
                        label(reference)
                    ),
                )
                .at(recording.file.clone()),
            );
        } else {
            remarks.extend(said.into_iter().map(|r| r.at(label(reference))));
        }
    }

    let mut worthless = vec![false; channels.len()];
    for k in 0..channels.len() {
        let results = &channels[k];
        let step = taken.heard.format.encoding.step();
        if results.largest > 0.0 && results.largest < FEWEST_STEPS * step {
            remarks.push(
                Remark::new(
                    "measure::too-soft",
                    format!(
                        "its loudest sample is {:.0} steps of the converter: the levels are those of \
                         rounding; record with more gain or 24 bit",
                        results.largest / step
                    ),
                )
                .at(label(k)),
            );
        }
        let others: Vec<&History> =
            (0..channels.len()).filter(|o| *o != k).map(|o| &channels[o].history).collect();
        let tones: Vec<(f64, f64)> = channels
            .iter()
            .flat_map(|c| c.tones.iter().map(|t| (t.from.0 - NEAR_TONE, t.to.0 + NEAR_TONE)))
            .collect();
        let steps: Vec<Trouble> = gain_steps(&results.history, &others)
            .into_iter()
            .filter(|s| !tones.iter().any(|(a, b)| (*a..=*b).contains(&s.from.0)))
            .filter(|s| !at_an_edge(&timelines[k], s.from.0))
            .collect();
        if !steps.is_empty() {
            let text =
                keep_one_gain(&mut timelines[k], results, known[k].sensitivity.is_some(), &steps);
            remarks.push(Remark::new("measure::gain-step", text).at(label(k)));
        }
    }
    if let Some(&reference) = references.first() {
        for k in (0..channels.len()).filter(|k| !references.contains(k)) {
            // What the source microphone lost says nothing about the other.
            let near = timelines[reference].usable();
            let on = timelines[k].mask(&Kind::Source).and(&near);
            let quiet = timelines[k].mask(&Kind::Background).and(&near);
            let (own, near) = (&channels[k].history, &channels[reference].history);
            let stops: Vec<f64> =
                on.as_spans().iter().map(|s| s.1).filter(|t| t.is_finite()).collect();
            let found =
                automatic_gain(own, near, &on, &quiet).or_else(|| recovering_gain(own, &stops));
            if let Some(trouble) = found {
                let stated_fixed = recording.gain == wythe_project::survey::Gain::Fixed;
                worthless[k] = !stated_fixed;
                let effect = if stated_fixed {
                    "you state that the gain stood still, so the channel is kept; its levels and \
                     differences may be wrong by many decibels"
                } else {
                    "the channel is left out; if its gain stood still all the same, state \
                     `gain = \"fixed\"`"
                };
                remarks.push(
                    Remark::new("measure::automatic-gain", format!("{}; {effect}", trouble.what))
                        .at(label(k)),
                );
            }
            // Talk and footsteps do not follow the source.
            if Some(recording.channels[k].room) != source {
                foreign_sound(near, own, &on, &mut timelines[k]);
            }
        }
        too_quiet(&channels[reference].history, &timelines[reference])
            .into_iter()
            .for_each(|r| remarks.push(r.at(label(reference))));
    }
    // What the user wants used in spite of what was found.
    for stretch in recording.stretches.iter().filter(|s| s.kind == StretchKind::Keep) {
        for (timeline, channel) in timelines.iter_mut().zip(&recording.channels) {
            if stretch.channels.is_empty() || stretch.channels.contains(&channel.number) {
                timeline.lift(stretch.from, stretch.to);
            }
        }
    }
    remarks.extend(hum_in(recording, taken, &timelines, &name));
    session.remarks.append(&mut remarks);
    Listened { source, references, timelines, worthless }
}

/// Whether all that was marked in a recording is decays.
pub fn only_decays(recording: &Recording) -> bool {
    let has = |kind| recording.stretches.iter().any(|s| s.kind == kind);
    has(StretchKind::Decay) && !has(StretchKind::Source) && !has(StretchKind::Background)
}

/// What the survey says about one channel.
fn stated(recording: &Recording, channel: u16) -> Timeline {
    let mut timeline = Timeline::new();
    let about = |list: &[u16]| list.is_empty() || list.contains(&channel);
    for s in recording.stretches.iter().filter(|s| about(&s.channels)) {
        let kind = match s.kind {
            StretchKind::Source => Kind::Source,
            StretchKind::Background => Kind::Background,
            StretchKind::Calibration => Kind::Calibration,
            StretchKind::Decay => Kind::Decay,
            StretchKind::Excluded => {
                Kind::Excluded(s.why.clone().unwrap_or_else(|| "excluded by you".into()))
            }
            StretchKind::Keep => continue,
        };
        timeline.add(s.from, s.to, kind, Author::User);
    }
    timeline
}

/// Notes of the log that fall into a recording, in its own time. What a note about the clock needs
/// and does not find is said.
fn notes(
    session: &mut Session<'_>,
    recording: &Recording,
    length: Seconds,
    reference: Option<Seconds>,
) -> Vec<(Seconds, Seconds, String)> {
    let mut out = Vec::new();
    let mut remarks = Vec::new();
    let begins = begin(recording, reference, &mut remarks);
    let mut by_clock = false;
    for (index, entry) in session.survey.log.iter().enumerate() {
        if entry.file.as_ref().is_some_and(|f| *f != recording.file) {
            continue;
        }
        // A note about a moment says nothing about how long it lasted: five seconds.
        let to = entry.to.unwrap_or(Seconds(entry.from.0 + MOMENT));
        let (from, to) = if entry.told == Told::OfDay {
            by_clock = true;
            let Some(begins) = begins else {
                // It is said once, below; the note is not lost besides.
                session.heard_notes[index] = true;
                continue;
            };
            by_the_clock(begins, entry.from, to, length)
        } else {
            (entry.from.0, to.0)
        };
        if from < length.0 && to > 0.0 {
            session.heard_notes[index] = true;
            out.push((Seconds(from), Seconds(to), entry.text.clone()));
        }
    }
    if by_clock {
        if begins.is_none() {
            remarks.push(Remark::new(
                "measure::no-begin",
                "notes by the clock cannot be used: neither the file nor the survey says when it \
                 begins; add for example begun = \"2031-04-02 18:30:15\"",
            ));
        }
        session.remarks.extend(remarks.into_iter().map(|r| r.at(recording.file.clone())));
    }
    out
}

/// How long a note about a moment is taken to hold, s.
const MOMENT: f64 = 5.0;
/// A day, s.
const DAY: f64 = 86_400.0;
/// What the survey and the file say of the begin may differ by this beside the minute, s.
const CLOCKS: f64 = 5.0;

/// Time of day at which a recording begins, earliest and latest. The survey wins; a file that agrees
/// with it is more exact.
fn begin(
    recording: &Recording,
    reference: Option<Seconds>,
    remarks: &mut Vec<Remark>,
) -> Option<(f64, f64)> {
    let exact = reference.map(|t| (t.0 % DAY, t.0 % DAY));
    let Some(said) = recording.begins else { return exact };
    let said = (said.since_midnight.0, said.since_midnight.0 + said.within.0);
    let Some(exact) = exact else { return Some(said) };
    if exact.0 >= said.0 - CLOCKS && exact.0 <= said.1 + CLOCKS {
        return Some(exact);
    }
    let clock = |t: f64| {
        let t = t as u64;
        format!("{}:{:02}:{:02}", t / 3600, t / 60 % 60, t % 60)
    };
    remarks.push(Remark::new(
        "measure::two-begins",
        format!(
            "the survey says it begins at {}, the file itself says {}: notes by the clock are counted \
             from what the survey says; take the time out of the survey to use that of the file",
            clock(said.0),
            clock(exact.0)
        ),
    ));
    Some(said)
}

/// Times by the clock in the time of a recording, as wide as its begin is uncertain.
fn by_the_clock(begins: (f64, f64), from: Seconds, to: Seconds, length: Seconds) -> (f64, f64) {
    let long = (to.0 - from.0).rem_euclid(DAY);
    let (early, late) = (from.0 - begins.1, from.0 - begins.0 + long);
    // After midnight, unless it began just before the file did.
    if late <= 0.0 && early + DAY < length.0 { (early + DAY, late + DAY) } else { (early, late) }
}

/// Says which notes fell into no recording.
pub fn unheard_notes(session: &mut Session<'_>) {
    for (entry, heard) in session.survey.log.iter().zip(&session.heard_notes) {
        // A moment of the day is offered to every recording of that day; most hold none of it.
        if *heard || entry.told == Told::Moment {
            continue;
        }
        let hint = if entry.told == Told::OfDay {
            "is the clock of the recorder right, and the day"
        } else {
            "times count from the start of the file; if they are by the clock, add log_times = \
             \"of day\""
        };
        let remark = Remark::new(
            "measure::note-outside",
            format!(
                "the note \"{}\" falls into no recording and has no effect: {hint}",
                entry.text
            ),
        );
        let place = entry.file.clone().unwrap_or_else(|| "log".into());
        session.remarks.push(remark.at(place));
    }
}

fn loudest(channels: &[wythe_recording::ChannelResults]) -> usize {
    let energy = |k: &usize| -> f64 {
        let history = &channels[*k].history;
        history.energy(Signal::Weighted(Weighting::A)).iter().map(|e| f64::from(*e)).sum()
    };
    (0..channels.len()).max_by(|a, b| energy(a).total_cmp(&energy(b))).unwrap_or(0)
}

/// Whether the source or a calibration begins or ends there: a level may step then.
fn at_an_edge(timeline: &Timeline, at: f64) -> bool {
    timeline.stretches().iter().any(|s| {
        !matches!(s.kind, Kind::Excluded(_))
            && ((s.from.0 - at).abs() < 4.0 || (s.to.0 - at).abs() < 4.0)
    })
}

/// Leaves out what has another gain than the calibration, or than the longest part.
fn keep_one_gain(
    timeline: &mut Timeline,
    results: &wythe_recording::ChannelResults,
    calibrated: bool,
    steps: &[Trouble],
) -> String {
    let length = results.history.length().0;
    let mut edges = vec![0.0];
    edges.extend(steps.iter().map(|s| s.from.0));
    edges.push(length);
    let parts: Vec<(f64, f64)> = edges.windows(2).map(|w| (w[0], w[1])).collect();
    let tone = results.tones.first().filter(|_| calibrated).map(|t| (t.from.0 + t.to.0) / 2.0);
    let kept = parts
        .iter()
        .position(|p| tone.is_some_and(|t| (p.0..p.1).contains(&t)))
        .or_else(|| {
            (0..parts.len())
                .max_by(|a, b| (parts[*a].1 - parts[*a].0).total_cmp(&(parts[*b].1 - parts[*b].0)))
        })
        .unwrap_or(0);
    let mut list = Vec::new();
    for step in steps {
        if let What::GainStep(by) = step.what {
            list.push(format!("{:+.1} dB at {:.0} s", by.0, step.from.0));
        }
    }
    let list = list.join(", ");
    for (k, (from, to)) in parts.iter().enumerate() {
        if k != kept {
            let why = format!("another gain (step of {list})");
            timeline.add(Seconds(*from), Seconds(*to), Kind::Excluded(why), Author::Found);
        }
    }
    let why = if tone.is_some() { "the part of the calibration" } else { "the longest part" };
    format!(
        "the gain of this channel alone steps by {list}; only {why}, {:.0} to {:.0} s, is used. Use \
         [[recording.stretch]] kind = \"keep\" if that is wrong",
        parts[kept].0, parts[kept].1
    )
}

/// Bands in which the source hardly stands above the room it plays in.
fn too_quiet(history: &History, timeline: &Timeline) -> Option<Remark> {
    let usable = timeline.usable();
    let on = history.leq(&timeline.mask(&Kind::Source).and(&usable));
    let off = history.leq(&timeline.mask(&Kind::Background).and(&usable));
    let weak: Vec<&str> = on
        .within(Band::HZ_100, Band::HZ_5000)
        .iter()
        .filter(|(b, l)| off.get(*b).is_some_and(|o| l.0 - o.0 < 10.0))
        .map(|(b, _)| b.nominal())
        .collect();
    (!weak.is_empty()).then(|| {
        Remark::new(
            "measure::quiet-source",
            format!(
                "at {} Hz the source stands less than 10 dB above what the source room hears without \
                 it: play louder there, with hearing protection",
                weak.join(", ")
            ),
        )
    })
}

/// Mains hum in the first background of every channel.
fn hum_in(recording: &Recording, taken: &Taken, timelines: &[Timeline], name: &str) -> Vec<Remark> {
    let mut out = Vec::new();
    let Some(span) = timelines
        .iter()
        .flat_map(|t| t.mask(&Kind::Background).and(&t.usable()).as_spans().to_vec())
        .filter(|(a, b)| a.is_finite() && b - a >= 6.0)
        .min_by(|a, b| a.0.total_cmp(&b.0))
    else {
        return out;
    };
    let numbers: Vec<usize> = recording.channels.iter().map(|c| usize::from(c.number)).collect();
    let to = Seconds(span.1.min(span.0 + HUM));
    // Levels were read from the same file before; if it went away meanwhile, hum is not looked for.
    let Ok(lines) = reading::samples(&taken.path)
        .and_then(|mut s| read_stretches(&mut *s, &numbers, Seconds(span.0), to))
    else {
        return out;
    };
    let rate = f64::from(taken.heard.format.rate);
    for (line, channel) in lines.iter().zip(&recording.channels) {
        let Some(hum) = hum::mains_hum(line, rate) else { continue };
        let bands: Vec<String> = hum
            .raises
            .iter()
            .map(|(b, d)| format!("{} Hz by {:.0} dB", b.nominal(), d.0))
            .collect();
        let effect = if bands.is_empty() {
            "no band is raised by half a decibel".to_owned()
        } else {
            format!("it raises the background at {}", bands.join(", "))
        };
        out.push(
            Remark::new(
                "measure::hum",
                format!(
                    "mains hum of {:.0} Hz with {} of its multiples; {effect}. If it comes from the \
                     cable and not from the room, it hides what comes through",
                    hum.mains.0,
                    hum.multiples.len()
                ),
            )
            .at(format!("{name}:{}", channel.number)),
        );
    }
    out
}

/// What was left out of a channel: what you and the program say about the same time is said once.
pub fn excluded(timeline: &Timeline, history: &History) -> Vec<Excluded> {
    let usable = timeline.mask(&Kind::Source);
    let before = a_level(history, &usable);
    let mut yours: Vec<(f64, f64, Vec<String>)> = Vec::new();
    let mut found: Vec<(f64, f64, String)> = Vec::new();
    for s in timeline.stretches() {
        let Kind::Excluded(why) = &s.kind else { continue };
        if s.author == Author::Found {
            found.push((s.from.0, s.to.0, why.clone()));
            continue;
        }
        match yours.iter_mut().find(|y| s.from.0 <= y.1 && y.0 <= s.to.0) {
            Some(y) => {
                (y.0, y.1) = (y.0.min(s.from.0), y.1.max(s.to.0));
                // "talking" says nothing that "talking in the mixing room" does not.
                if !y.2.iter().any(|w| w.contains(why.as_str())) {
                    y.2.retain(|w| !why.contains(w.as_str()));
                    y.2.push(why.clone());
                }
            }
            None => yours.push((s.from.0, s.to.0, vec![why.clone()])),
        }
    }
    let said = Mask::spans(yours.iter().map(|y| (y.0, y.1)).collect());
    let mut all: Vec<(f64, f64, String, bool)> =
        yours.into_iter().map(|(a, b, why)| (a, b, why.join("; "), false)).collect();
    for (a, b, why) in found {
        for &(from, to) in Mask::spans(vec![(a, b)]).without(&said).as_spans() {
            // What only widens your own stretch by the settling of filters is yours.
            if to - from < 0.6 && to - from < 0.5 * (b - a) {
                continue;
            }
            match all.iter_mut().find(|e| e.3 && e.2 == why && (e.1 - from).abs() < 1e-6) {
                Some(e) => e.1 = to,
                None => all.push((from, to, why.clone(), true)),
            }
        }
    }
    all.sort_by(|x, y| x.0.total_cmp(&y.0));
    let source = raw_source(timeline);
    all.into_iter()
        .map(|(from, to, why, found)| {
            let with = Mask::spans(
                Mask::spans(vec![(from, to)])
                    .and(&source)
                    .as_spans()
                    .iter()
                    .chain(usable.as_spans())
                    .copied()
                    .collect(),
            );
            let effect = match (before, a_level(history, &with)) {
                (Some(before), Some(after)) => Some(LevelDifference(after - before)),
                _ => None,
            };
            Excluded { from: Seconds(from), to: Seconds(to), why, found, effect }
        })
        .collect()
}

/// All time the source was on, excluded or not.
fn raw_source(timeline: &Timeline) -> Mask {
    Mask::spans(
        timeline
            .stretches()
            .iter()
            .filter(|s| s.kind == Kind::Source)
            .map(|s| (s.from.0, s.to.0))
            .collect(),
    )
}

fn a_level(history: &History, mask: &Mask) -> Option<f64> {
    let energy = history.energy(Signal::Weighted(Weighting::A));
    let (mut sum, mut time) = (0.0, 0.0);
    for (row, e) in energy.iter().enumerate() {
        let (from, to) = history.row_time(row);
        if mask.holds(from, to) {
            sum += f64::from(*e) * (to - from);
            time += to - from;
        }
    }
    (sum > 0.0 && time > 0.0).then(|| 10.0 * (sum / time).log10())
}

impl Listened {
    /// What was taken for what, over all channels.
    pub fn stretches(&self) -> Vec<Heard> {
        let mut out: Vec<Heard> = Vec::new();
        for timeline in &self.timelines {
            for s in timeline.stretches() {
                let kind = match s.kind {
                    Kind::Source => "source",
                    Kind::Background => "background",
                    Kind::Calibration => "calibration",
                    Kind::Decay => "decay",
                    Kind::Excluded(_) => continue,
                };
                let heard =
                    Heard { from: s.from, to: s.to, kind, found: s.author == Author::Found };
                if !out.contains(&heard) {
                    out.push(heard);
                }
            }
        }
        out.sort_by(|a, b| a.from.0.total_cmp(&b.from.0));
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_by_the_clock_fall_where_they_belong() {
        let hours = |h: f64| Seconds(3600.0 * h);
        // Begun at 20:10:00 exactly, an hour long: 20:31 to the end of 20:33.
        let at =
            by_the_clock((72_600.0, 72_600.0), Seconds(73_860.0), Seconds(74_040.0), hours(1.0));
        assert_eq!(at, (1260.0, 1440.0));
        // Begun at some second of 20:10: as wide as that.
        let at =
            by_the_clock((72_600.0, 72_660.0), Seconds(73_860.0), Seconds(74_040.0), hours(1.0));
        assert_eq!(at, (1200.0, 1440.0));
        // 23:50 to 0:30, a note from 23:58 to 0:04 and one at 0:10.
        let begins = (85_800.0, 85_800.0);
        let at = |from, to| by_the_clock(begins, Seconds(from), Seconds(to), hours(40.0 / 60.0));
        assert_eq!(at(86_280.0, 240.0), (480.0, 840.0));
        assert_eq!(at(600.0, 660.0), (1200.0, 1260.0));
        // Before it began.
        assert_eq!(at(85_200.0, 85_260.0), (-600.0, -540.0));
    }
}
