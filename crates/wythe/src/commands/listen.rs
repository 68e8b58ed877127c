//! `wythe listen`: what a recording made in one room sounds like in another, now and after
//! changes, with the background of that room, and never louder than a stated peak.

use std::path::PathBuf;

use serde_json::{Value, json};
use wythe_bands::{Level, Remark, Spectrum, weighting::Weighting};
use wythe_building::{Building, RoomIndex};
use wythe_folder::listen::{Chain, HIGHEST_PEAK, Input, Made, P0, RELATIVE_PEAK, State, states};
use wythe_remedy::{cheapest, in_order};
use wythe_transmission::Cache;

use crate::args::{self, Common};
use crate::commands::predict::no_room;
use crate::commands::remedy::changes_named;
use crate::failure::Failure;
use crate::found::Found;
use crate::load;
use crate::output::{Done, Table, levels, one, print, print_json, remarks, remarks_text, rounded};
use crate::write;

/// Runs the command.
pub fn run(args: &args::Listen, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let base = Found::new(&args.folder, &project, args.as_described);
    let building = &base.building;
    let room = building.room(&args.room).ok_or_else(|| no_room(building, &args.room))?;
    let from = source_room(building, args)?;
    if from == room {
        return Err(Failure::new(
            "the source plays in that very room",
            "choose another room with --room",
        ));
    }
    if !(args.peak > 0.0 && args.peak <= HIGHEST_PEAK) {
        return Err(Failure::new(
            format!("a peak of {} dB is not allowed", args.peak),
            "give more than 0 and at most 100 dB; 85 dB is taken if you leave it out",
        ));
    }
    if args.playback.is_some_and(|p| !(40.0..=140.0).contains(&p)) {
        return Err(Failure::new(
            "a playback level for full scale is usually 80 to 120 dB",
            "play a sine at digital full scale far below that volume, measure, and add the \
             difference; give 40 to 140",
        ));
    }
    if !(args.switch_every >= 0.5 && args.switch_every <= 600.0) {
        return Err(Failure::new("the time to switch must be 0.5 to 600 s", "4 s is usual"));
    }
    if !(args.seconds >= 1.0 && args.seconds <= 3600.0) {
        return Err(Failure::new("the length must be 1 to 3600 s", "60 s is usual"));
    }
    let mut said = base.said.clone();
    if base.by_recordings {
        said.push(Remark::new("listen::as-found", base.sentence()));
    }
    let sets = sets(building, args, &mut said)?;
    let states = states(building, from, room, sets)?;
    let source = building.sources.iter().find(|s| s.room == from);
    let input = input(args, source.map(|s| s.levels))?;
    let full_scale = full_scale(args)?;
    let pascal = input.pascal(full_scale, args.seconds, source.map(|s| s.levels), &mut said)?;
    let background = match (&building.rooms[room.0].background, args.no_background) {
        (Some(b), false) => Some(*b),
        (None, false) => {
            said.push(Remark::new(
                "listen::no-background",
                format!(
                    "no background is on file for {}; in truth something hides the rest",
                    args.room
                ),
            ));
            None
        }
        (_, true) => None,
    };
    let mut chain = Chain::new(&input, pascal, &states, background, args.seconds);
    let scale = match args.playback {
        Some(p) => 1.0 / (std::f64::consts::SQRT_2 * P0 * 10f64.powf(p / 20.0)),
        None => {
            said.push(Remark::new(
                "listen::relative-only",
                "no playback level is stated, so only the differences between the states are true; \
                 start with the volume down, and give --playback to hear it at its level",
            ));
            let peak = chain.peak()?;
            if peak > 0.0 { RELATIVE_PEAK / peak } else { 0.0 }
        }
    };
    let ceiling = match args.playback {
        Some(_) => (P0 * 10f64.powf(args.peak / 20.0) * scale).min(0.99),
        // A hair above the peak it was scaled to, or the limiter would turn that peak down.
        None => 1.01 * RELATIVE_PEAK,
    };
    let every = (!args.channels).then_some(args.switch_every);
    let mut result = Err(Failure::new("nothing was written", ""));
    let written = write::atomically(&args.output, |file| {
        result = chain.write(file, scale, ceiling, every);
        if result.is_ok() { Ok(()) } else { Err(std::io::Error::other("stopped")) }
    });
    let made = result?;
    written?;
    if made.limited > 0.0 {
        said.push(Remark::new(
            "listen::limited",
            format!(
                "peaks above {} were turned down for {:.1} s; all states alike",
                match args.playback {
                    Some(_) => format!("{:.0} dB or full scale", args.peak),
                    None => "the limit".into(),
                },
                made.limited
            ),
        ));
    }
    said.push(Remark::new(
        "listen::what-it-is",
        "a prediction made audible: band levels as calculated, without the reverberation of the \
         room, without impacts through the structure, as uncertain as the prediction; a volume is \
         never known from a file, so begin quietly",
    ));
    if common.json {
        print_json(&record(args, &input, source.map(|s| s.levels), &states, &made, &said))?;
    } else {
        print(&text(building, args, room, source.map(|s| s.levels), &states, &made, &said))?;
    }
    Ok(Done { attention: false })
}

/// What is heard: noise for the project's source, or a channel of a file.
fn input(args: &args::Listen, levels: Option<Spectrum<Level>>) -> Result<Input, Failure> {
    if args.from == "source" {
        return Input::noise(levels);
    }
    let direct = PathBuf::from(&args.from);
    let path = if direct.exists() { direct } else { args.folder.join(&args.from) };
    Input::file(path, args.channel)
}

/// The stated pressure of full scale, Pa.
fn full_scale(args: &args::Listen) -> Result<Option<f64>, Failure> {
    let Some(word) = &args.full_scale else { return Ok(None) };
    let pascal = word
        .trim()
        .strip_suffix("Pa")
        .and_then(|n| n.trim().parse::<f64>().ok())
        .filter(|p| *p > 0.0 && *p < 1e6);
    match pascal {
        Some(p) => Ok(Some(p)),
        None => Err(Failure::new(
            format!("`{word}` is no pressure of full scale"),
            "write it like \"20 Pa\"",
        )),
    }
}

fn source_room(building: &Building, args: &args::Listen) -> Result<RoomIndex, Failure> {
    if let Some(word) = &args.in_room {
        return building.room(word).ok_or_else(|| no_room(building, word));
    }
    let mut rooms: Vec<RoomIndex> = building.sources.iter().map(|s| s.room).collect();
    rooms.sort_unstable();
    rooms.dedup();
    match rooms.as_slice() {
        [only] => Ok(*only),
        [] => Err(Failure::new(
            "no source says which room the recording was made in",
            "name it with --in-room",
        )),
        _ => Err(Failure::new("there are sources in several rooms", "name one with --in-room")),
    }
}

/// The changes of each state to be heard: what is there now, and each word of `--after`.
fn sets(
    building: &Building,
    args: &args::Listen,
    said: &mut Vec<Remark>,
) -> Result<Vec<(String, Vec<usize>)>, Failure> {
    let mut cache = Cache::default();
    let mut sets: Vec<(String, Vec<usize>)> = vec![("now".into(), Vec::new())];
    for word in &args.after {
        let set = if word == "plan" || word == "steps" {
            let plan = cheapest(building, &mut cache, building.limits.budget)
                .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
            if !plan.outcome.met() {
                said.push(Remark::new(
                    "listen::plan-misses",
                    "the plan does not meet every target; it is the nearest that was found",
                ));
            }
            if word == "steps" {
                let row = in_order(building, &plan.changes, &mut cache)
                    .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
                let mut made = Vec::new();
                for (i, step) in row.iter().enumerate() {
                    made.push(step.change);
                    let title = &building.changes[step.change].title;
                    sets.push((format!("step {}: {title}", i + 1), made.clone()));
                }
                continue;
            }
            plan.changes
        } else {
            changes_named(building, word)?
        };
        sets.push((word.clone(), set));
    }
    Ok(sets)
}

fn arriving(source: Option<Spectrum<Level>>, state: &State) -> Option<Spectrum<Level>> {
    source.map(|s| s.zip_with(&state.difference, |l, d| l - d))
}

fn record(
    args: &args::Listen,
    input: &Input,
    source: Option<Spectrum<Level>>,
    states: &[State],
    made: &Made,
    said: &[Remark],
) -> Value {
    let all: Vec<Value> = states
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let there = arriving(source, s);
            json!({
                "state": s.name,
                "channel": args.channels.then_some(i + 1),
                "difference_db": crate::output::differences(&s.difference),
                "level_db": there.map(|l| levels(&l)),
                "level_dba": there
                    .and_then(|l| l.weighted_total(Weighting::A))
                    .map(|l| rounded(l.0, 1)),
            })
        })
        .collect();
    json!({
        "file": args.output.display().to_string(), "sample_rate_hz": input.rate(),
        "seconds": rounded(made.seconds, 3), "states": all,
        "switch_every_s": (!args.channels).then_some(args.switch_every),
        "playback_full_scale_db": args.playback,
        "peak_limit_db": args.playback.map(|_| args.peak),
        "peak_of_file_dbfs": rounded(20.0 * made.peak.max(1e-12).log10(), 2),
        "limited_s": rounded(made.limited, 3), "remarks": remarks(said),
    })
}

fn text(
    building: &Building,
    args: &args::Listen,
    room: RoomIndex,
    source: Option<Spectrum<Level>>,
    states: &[State],
    made: &Made,
    said: &[Remark],
) -> String {
    let mut out = format!(
        "{}: {:.0} s as heard in {}.\n\n",
        args.output.display(),
        made.seconds,
        building.rooms[room.0].name()
    );
    let mut table = Table::new(1, &["State", "where in the file", "level of the project's source"]);
    for (i, s) in states.iter().enumerate() {
        let place = if args.channels {
            format!("channel {}", i + 1)
        } else if states.len() == 1 {
            "all of it".into()
        } else {
            format!(
                "{:.1} s each time, from {:.1} s",
                args.switch_every,
                i as f64 * args.switch_every
            )
        };
        let level = arriving(source, s)
            .and_then(|l| l.weighted_total(Weighting::A))
            .map(|l| format!("{} dBA", one(l.0)))
            .unwrap_or_default();
        table.row(vec![s.name.clone(), place, level]);
    }
    out.push_str(&table.text());
    out.push_str(&match args.playback {
        Some(p) => format!(
            "  true to level where a sine at full scale plays at {p:.0} dB; peaks held below {:.0} dB\n",
            args.peak
        ),
        None => "  relative only: peaks 20 dB below full scale\n".to_owned(),
    });
    out.push_str(&remarks_text(said));
    out
}
