//! Levels that contradict the plan or themselves: channels that were swapped or named wrongly, a
//! calibrator whose level is not the stated one.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, Remark, Spectrum};
use wythe_building::RoomIndex;
use wythe_findings::{Excitation, MeasuredPosition, UseAs};
use wythe_project::Project;
use wythe_project::survey::{Calibration, Recording};
use wythe_transmission::Cache;

use super::file_name;

/// A receiving room this much louder than the source room is no receiving room, dB.
const LOUDER: f64 = 3.0;
/// Two receiving rooms whose order differs from the prediction by this much, and by little once they
/// change places, dB.
const APART: f64 = 18.0;
const BACK: f64 = 8.0;
/// A-weighted levels without the source outside of which a calibration is doubted, dB: measuring
/// microphones make 12 to 20 dB themselves, and no room worth a measurement holds 60 (common practice,
/// no source).
const NO_QUIETER: f64 = 10.0;
const NO_LOUDER: f64 = 60.0;
/// A background this low only supports other doubts, dB.
const VERY_QUIET: f64 = 18.0;
/// Levels this far apart are more than places in a room, and less than the 20 dB between the two usual
/// levels of calibrators by what places take off, dB.
const MISTAKEN: f64 = 14.0;

fn comparable(a: &MeasuredPosition, b: &MeasuredPosition) -> bool {
    (a.calibrated && b.calibrated) || (a.scale.is_some() && a.scale == b.scale)
}

/// Says which receiving channels of a recording are louder than its source room.
pub fn swapped(project: &Project, positions: &[MeasuredPosition], remarks: &mut Vec<Remark>) {
    for receiver in positions {
        let Some(source) = receiver.source.filter(|s| *s != receiver.room) else { continue };
        let sources: Vec<&MeasuredPosition> =
            positions.iter().filter(|p| p.room == source && comparable(p, receiver)).collect();
        let mean = Level::energy_mean(sources.iter().filter_map(|p| p.levels.a));
        let (Some(source_level), Some(level)) = (mean, receiver.levels.a) else { continue };
        let above = level - source_level;
        if above.0 > LOUDER {
            let rooms = &project.building.rooms;
            remarks.push(
                Remark::new(
                    "measure::swapped-channels",
                    format!(
                        "{} reads {:.0} dB more than the source room {}: are channels swapped, or is \
                         the calibration another one? Its level difference is negative and means \
                         nothing until this is settled",
                        rooms[receiver.room.0].name(),
                        above.0,
                        rooms[source.0].name()
                    ),
                )
                .at(receiver.channel.clone()),
            );
        }
    }
}

fn a_weighted(levels: &Spectrum<Level>) -> Option<Level> {
    Level::energy_sum(levels.iter().map(|(band, l)| l + Weighting::A.at(band.centre())))
}

/// Doubts a calibrator's stated level where the levels that follow from it cannot be: one tone alone does
/// not tell 94 from 114 dB. Nothing is changed.
pub fn calibrators(
    project: &Project,
    recording: &Recording,
    positions: &[MeasuredPosition],
    remarks: &mut Vec<Remark>,
) {
    let toned: Vec<(&MeasuredPosition, Level)> = positions
        .iter()
        .filter(|p| p.calibrated && p.excitation == Excitation::Airborne)
        .filter_map(|p| {
            let channel = recording
                .channels
                .iter()
                .find(|c| p.channel == format!("{}:{}", file_name(&recording.file), c.number))?;
            match channel.calibration.as_ref().or(recording.calibration.as_ref())? {
                Calibration::Tone { level, .. } => Some((p, *level)),
                Calibration::Beside { .. } | Calibration::FullScale(_) => None,
            }
        })
        .collect();
    let building = &project.building;
    let in_the_field = |p: &MeasuredPosition| matches!(p.use_as, UseAs::Room | UseAs::Corner);
    for (p, stated) in &toned {
        let (mut too_low, mut too_high) = (Vec::new(), Vec::new());
        let silence = a_weighted(&p.background).filter(|_| !building.rooms[p.room.0].outdoors);
        if let Some(l) = silence {
            if l.0 < NO_QUIETER {
                too_low.push(format!(
                    "without the source it reads {:.0} dB(A), less than microphones themselves make",
                    l.0
                ));
            } else if l.0 > NO_LOUDER {
                too_high.push(format!("without the source it reads {:.0} dB(A)", l.0));
            }
        }
        let described = Level::energy_sum(
            building
                .sources
                .iter()
                .filter(|s| Some(s.room) == p.source && s.room == p.room && in_the_field(p))
                .filter_map(|s| a_weighted(&s.levels)),
        );
        if let (Some(described), Some(level)) = (described, p.levels.a) {
            let above = (level - described).0;
            let text = || {
                format!(
                    "the source reads {:.0} dB(A) in its own room, {:.0} dB {} than the project \
                     describes it",
                    level.0,
                    above.abs(),
                    if above > 0.0 { "more" } else { "less" }
                )
            };
            if above >= MISTAKEN {
                too_high.push(text());
            // Somebody may well play softly; in a room as quiet as that, it is odd.
            } else if above <= -MISTAKEN && silence.is_some_and(|l| l.0 < VERY_QUIET) {
                too_low.push(text());
            }
        }
        for (other, _) in &toned {
            let (Some(own), Some(its)) = (p.levels.a, other.levels.a) else { continue };
            let above = (own - its).0;
            if other.room == p.room && in_the_field(p) && in_the_field(other) {
                let text = || {
                    format!(
                        "it reads {:.0} dB {} than {} in the same room",
                        above.abs(),
                        if above > 0.0 { "more" } else { "less" },
                        other.channel
                    )
                };
                if above >= MISTAKEN {
                    too_high.push(text());
                } else if above <= -MISTAKEN {
                    too_low.push(text());
                }
            }
        }
        let (clues, low) = match (too_low.is_empty(), too_high.is_empty()) {
            (false, true) => (too_low, true),
            (true, false) => (too_high, false),
            // Nothing, or clues that contradict each other.
            _ => continue,
        };
        let other = stated.0 + if low { 20.0 } else { -20.0 };
        remarks.push(
            Remark::new(
                "measure::calibrator-level",
                format!(
                    "its calibration takes the tone for {:.0} dB, and what follows is hard to believe: \
                     {}. Read the level off the calibrator (94 and 114 dB are usual): a tone of {other:.0} \
                     dB would put all levels of this channel 20 dB {}. Nothing is changed",
                    stated.0,
                    clues.join("; "),
                    if low { "higher" } else { "lower" }
                ),
            )
            .at(p.channel.clone()),
        );
    }
}

/// Compares the order of the receiving rooms of each recording with the predicted one.
pub fn plan(project: &Project, positions: &[MeasuredPosition], remarks: &mut Vec<Remark>) {
    let mut cache = Cache::default();
    let mut said: Vec<(usize, RoomIndex, RoomIndex)> = Vec::new();
    for (i, a) in positions.iter().enumerate() {
        let Some(source) = a.source.filter(|s| *s != a.room) else { continue };
        let building = match &a.state {
            Some(state) => match project.building.in_state(state) {
                Some(b) => b,
                None => continue,
            },
            None => project.building.clone(),
        };
        let others: Vec<&MeasuredPosition> = positions[i + 1..]
            .iter()
            .filter(|b| b.recording == a.recording && b.room != a.room && b.room != source)
            .filter(|b| comparable(a, b) && b.use_as == UseAs::Room && a.use_as == UseAs::Room)
            .filter(|b| !said.contains(&(a.recording, a.room, b.room)))
            .collect();
        if others.is_empty() {
            continue;
        }
        let Ok(model) = wythe_transmission::assemble(&building, &mut cache) else { continue };
        let field = model.from_source(source);
        let levels: Vec<_> =
            positions.iter().filter(|p| p.recording == a.recording && p.room == source).collect();
        let Some(spectrum) = levels.first().map(|p| p.levels.leq) else { continue };
        let predicted = |room: RoomIndex| -> Option<f64> {
            let received = field.receivers.iter().find(|r| r.room == room)?;
            let sum: f64 = spectrum
                .iter()
                .filter_map(|(band, l)| {
                    let weight = Weighting::A.at(band.centre());
                    let d = received.difference.get(band)?;
                    Some((l - d + weight).energy())
                })
                .sum();
            Level::from_energy(sum).map(|l| l.0)
        };
        for b in others {
            let (Some(la), Some(lb)) = (a.levels.a, b.levels.a) else { continue };
            let (Some(pa), Some(pb)) = (predicted(a.room), predicted(b.room)) else { continue };
            let measured = (la - lb).0;
            let wanted = pa - pb;
            if (measured - wanted).abs() > APART && (-measured - wanted).abs() < BACK {
                said.push((a.recording, a.room, b.room));
                let rooms = &project.building.rooms;
                remarks.push(
                    Remark::new(
                        "measure::contradicts-plan",
                        format!(
                            "{} was measured {:.0} dB {} than {}, and the plan lets expect {:.0} dB the \
                             other way round: are the two channels swapped? Both differences are kept \
                             as they are",
                            rooms[a.room.0].name(),
                            measured.abs(),
                            if measured > 0.0 { "louder" } else { "quieter" },
                            rooms[b.room.0].name(),
                            wanted.abs()
                        ),
                    )
                    .at(format!("{} and {}", a.channel, b.channel)),
                );
            }
        }
    }
}
