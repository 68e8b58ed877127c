//! Decay times out of the stretches that hold decays.

use wythe_bands::{Band, Remark, Seconds, Spectrum};
use wythe_building::RoomIndex;
use wythe_fieldtest::Decay;
use wythe_project::Project;
use wythe_project::survey::{Recording, StretchKind, Survey};
use wythe_recording::decay::{DecayTimes, bent, decays, events, mean_over};
use wythe_recording::{LONGEST_STRETCH, Mask, read_stretches};

use super::reading::{self, Taken};
use super::{Listened, Session, file_name};
use crate::failure::Failure;

/// Measures the decays of one recording.
pub fn measure(
    session: &mut Session<'_>,
    recording: &Recording,
    taken: &Taken,
    listened: &Listened,
) -> Result<(), Failure> {
    let rate = f64::from(taken.heard.format.rate);
    for stretch in recording.stretches.iter().filter(|s| s.kind == StretchKind::Decay) {
        let mut to = stretch.to;
        if to.0 - stretch.from.0 > LONGEST_STRETCH {
            to = Seconds(stretch.from.0 + LONGEST_STRETCH);
            session.remarks.push(
                Remark::new(
                    "measure::long-decay",
                    format!(
                        "a decay stretch is read up to {LONGEST_STRETCH:.0} s; split it into several"
                    ),
                )
                .at(recording.file.clone()),
            );
        }
        let chosen: Vec<usize> = (0..recording.channels.len())
            .filter(|k| {
                let c = &recording.channels[*k];
                let named = stretch.channels.contains(&c.number);
                let here = stretch.room.is_none_or(|r| r == c.room);
                if stretch.channels.is_empty() { here } else { named }
            })
            // Time that was excluded holds something else.
            .filter(|k| {
                let there = Mask::spans(vec![(stretch.from.0, to.0)]);
                there.and(&listened.timelines[*k].excluded()).is_empty() && !listened.worthless[*k]
            })
            .collect();
        if chosen.is_empty() {
            session.remarks.push(
                Remark::new(
                    "measure::no-decay",
                    "no channel can be used for a decay stretch: none stands in its room, or the time is \
                     excluded in all",
                )
                .at(recording.file.clone()),
            );
            continue;
        }
        let numbers: Vec<usize> =
            chosen.iter().map(|k| usize::from(recording.channels[*k].number)).collect();
        let lines = reading::samples(&taken.path)
            .and_then(|mut s| read_stretches(&mut *s, &numbers, stretch.from, to))
            .map_err(|e| reading::refused(session, &recording.file, &e.to_string(), ""))?;
        for (line, k) in lines.iter().zip(chosen) {
            let channel = &recording.channels[k];
            let label = format!("{}:{}", file_name(&recording.file), channel.number);
            let found = events(line, rate);
            if found.is_empty() {
                session.remarks.push(
                    Remark::new(
                        "measure::no-decay",
                        format!(
                            "no decay was found from {:.1} to {:.1} s: clap, burst a balloon, or stop \
                             steady noise, with two seconds of silence behind",
                            stretch.from.0, to.0
                        ),
                    )
                    .at(label.clone()),
                );
            }
            for (from, to, excitation) in found {
                let bands = Band::range(Band::HZ_50, Band::HZ_5000);
                match decays(&line[from..to], rate, bands, excitation) {
                    Ok(d) => {
                        session.remarks.extend(d.remarks.into_iter().map(|r| {
                            let at = match &r.place {
                                Some(p) => format!("{label}, {p}"),
                                None => label.clone(),
                            };
                            Remark::new(r.code, r.text).at(at)
                        }));
                        session.decays.push((channel.room, d.bands));
                    }
                    Err(e) => session
                        .remarks
                        .push(Remark::new("measure::no-decay", e.to_string()).at(label.clone())),
                }
            }
        }
    }
    Ok(())
}

/// The decay times of every room: as the survey states them, else the mean of what was measured.
pub fn per_room(
    project: &Project,
    survey: &Survey,
    measured: Vec<(RoomIndex, Spectrum<DecayTimes>)>,
    remarks: &mut Vec<Remark>,
) -> Vec<(RoomIndex, Decay)> {
    let mut out: Vec<(RoomIndex, Decay)> = survey
        .decay_times
        .iter()
        .map(|d| (d.room, Decay { times: d.times.map(|_, t| (t, None)), octave_63: None }))
        .collect();
    let mut rooms: Vec<RoomIndex> = measured.iter().map(|m| m.0).collect();
    rooms.sort_by_key(|r| r.0);
    rooms.dedup();
    for room in rooms {
        let name = project.building.rooms[room.0].name();
        if out.iter().any(|(r, _)| *r == room) {
            remarks.push(
                Remark::new(
                    "measure::decay-stated",
                    "decays were recorded and a decay time is stated as well: the stated one is used; \
                     take [[decay_time]] out to use the recorded one",
                )
                .at(name),
            );
            continue;
        }
        let all: Vec<Spectrum<DecayTimes>> =
            measured.iter().filter(|(r, _)| *r == room).map(|(_, d)| *d).collect();
        let times = mean_over(all.iter());
        if times.is_empty() {
            remarks.push(
                Remark::new(
                    "measure::no-decay",
                    format!(
                        "{} decays were recorded, and none falls by 35 dB above the noise: T20 cannot \
                         be had; make a louder sound",
                        all.len()
                    ),
                )
                .at(name),
            );
            continue;
        }
        let bends: Vec<String> = bent(all.iter())
            .iter()
            .map(|(band, c)| format!("{} Hz ({c:.0} %)", band.nominal()))
            .collect();
        if !bends.is_empty() {
            remarks.push(
                Remark::new(
                    "recording::curved-decay",
                    format!(
                        "the decays bend at {}, mean curvature of {}: coupled rooms or a leak, or too \
                         few decays; one decay time does not describe a bend",
                        bends.join(", "),
                        all.len()
                    ),
                )
                .at(name),
            );
        }
        if all.len() < 6 {
            remarks.push(
                Remark::new(
                    "measure::few-decays",
                    "fewer than six decays: ISO 3382-2 asks for that many (two source positions) in its \
                     engineering grade (from memory)",
                )
                .at(name),
            );
        }
        out.push((room, Decay { times, octave_63: None }));
    }
    out
}
