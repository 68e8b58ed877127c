//! Levels that contradict the plan: channels that were swapped, or named wrongly.

use wythe_bands::{Level, Remark};
use wythe_building::RoomIndex;
use wythe_findings::{MeasuredPosition, UseAs};
use wythe_project::Project;
use wythe_transmission::Cache;

/// A receiving room this much louder than the source room is no receiving room, dB.
const LOUDER: f64 = 3.0;
/// Two receiving rooms whose order differs from the prediction by this much, and by little once they
/// change places, dB.
const APART: f64 = 18.0;
const BACK: f64 = 8.0;

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
                    let weight = wythe_bands::weighting::Weighting::A.at(band.centre());
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
