//! `wythe protocol`: what to record in this building.

use serde_json::{Value, json};
use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Level};
use wythe_building::{Building, RoomIndex};
use wythe_fieldtest::needs_corners;
use wythe_rating::dose::allowances;

use crate::args::{self, Common, Recorder};
use crate::failure::Failure;
use crate::load;
use crate::output::{Done, one, print, print_json, wrap};

/// Minutes of playing and of quiet that are asked for.
const MINUTES: f64 = 10.0;
const QUIET: f64 = 3.0;
/// Microphone positions of a room (ISO 16283-1:2014, secondary source), corners of a small one.
const POSITIONS: usize = 5;
const CORNERS: usize = 4;

/// One thing to do.
struct Step {
    title: String,
    lines: Vec<String>,
}

/// Runs the command.
pub fn run(args: &args::Protocol, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let b = &project.building;
    let loud = source_rooms(b);
    if loud.is_empty() {
        return Err(Failure::new(
            "no sound source is described, so nobody can say what to record",
            "add a [[source]] with its room and level to wythe.toml",
        ));
    }
    let mut parts: Vec<(&str, Vec<Step>)> = vec![("Before", before(b, &loud))];
    if args.with != Some(Recorder::Eight) {
        parts.push(("With one recorder", with_one(b, &loud)));
    }
    if args.with != Some(Recorder::One) {
        parts.push(("With eight channels", with_eight(b, &loud)));
    }
    parts.push(("Decay times", decays(b, &loud)));
    parts.push(("What to say into the log", log()));
    if common.json {
        let parts: Vec<Value> = parts
            .iter()
            .map(|(title, steps)| {
                json!({ "title": title, "steps": steps.iter().map(|s| json!({
                    "title": s.title, "lines": s.lines,
                })).collect::<Vec<_>>() })
            })
            .collect();
        print_json(&json!({ "parts": parts, "remarks": [] }))?;
    } else {
        let mut out = String::new();
        for (title, steps) in parts {
            out.push_str(&format!("{title}\n\n"));
            for step in steps {
                out.push_str(&format!("  {}\n", step.title));
                for text in step.lines {
                    for (i, line) in wrap(&text, 88).iter().enumerate() {
                        out.push_str(if i == 0 { "    · " } else { "      " });
                        out.push_str(line);
                        out.push('\n');
                    }
                }
            }
            out.push('\n');
        }
        print(out.trim_end())?;
    }
    Ok(Done::default())
}

fn source_rooms(b: &Building) -> Vec<RoomIndex> {
    let mut rooms: Vec<RoomIndex> = b.sources.iter().map(|s| s.room).collect();
    rooms.sort_by_key(|r| r.0);
    rooms.dedup();
    rooms
}

fn receivers(b: &Building, source: RoomIndex) -> Vec<RoomIndex> {
    let mut rooms: Vec<RoomIndex> = (0..b.rooms.len())
        .map(RoomIndex)
        .filter(|r| *r != source && !b.rooms[r.0].outdoors)
        .collect();
    // Judged rooms first: if time runs short they are done.
    let judged = |r: &RoomIndex| b.targets.iter().any(|t| t.room == *r);
    rooms.sort_by_key(|r| (!judged(r), r.0));
    rooms
}

fn level(b: &Building, room: RoomIndex) -> Option<Level> {
    let all = b.sources.iter().filter(|s| s.room == room);
    Level::energy_sum(all.filter_map(|s| s.levels.weighted_total(Weighting::A)))
}

fn minutes(m: f64) -> String {
    if m >= 1440.0 {
        "all day".into()
    } else if m >= 90.0 {
        format!("{:.1} h", m / 60.0)
    } else if m >= 2.0 {
        format!("{m:.0} min")
    } else {
        format!("{:.0} s", 60.0 * m)
    }
}

fn before(b: &Building, loud: &[RoomIndex]) -> Vec<Step> {
    let mut steps = Vec::new();
    for room in loud {
        let name = b.rooms[room.0].name();
        let Some(level) = level(b, *room) else {
            steps.push(Step {
                title: format!("Hearing, {name}"),
                lines: vec![
                    "Its level is not known. Take it for loud: protection for everybody in the room, \
                     and nobody in it who has no business there."
                        .into(),
                ],
            });
            continue;
        };
        let mut lines = vec![format!(
            "{} dBA are described here. Without protection, a day allows:",
            one(level.0)
        )];
        match allowances(level) {
            Ok(all) => {
                for a in all {
                    lines.push(format!("{} ({})", minutes(a.minutes), a.rule));
                }
            }
            Err(e) => lines.push(e.to_string()),
        }
        lines.push(
            "Whoever stays in the room wears protection that was fitted and checked, whoever measures \
             too; set the recorder going and leave. Peaks of single strokes are higher. These are \
             limits of work rules, no promise that nothing happens; local rules decide."
                .into(),
        );
        steps.push(Step { title: format!("Hearing, {name}"), lines });
    }
    steps.push(Step {
        title: "The hour".into(),
        lines: vec![
            "Choose the quietest hour in which playing is allowed: what comes through is hidden by \
             whatever is louder. Ventilation, refrigerators, washing machines and heating off, unless \
             they belong to the room; windows and doors as the survey's state says."
                .into(),
            "Ask the people in the receiving rooms to be silent or away, and tell the neighbours."
                .into(),
        ],
    });
    steps.push(Step {
        title: "The recorder".into(),
        lines: vec![
            "24 bit or float, 48 kHz or more, WAV or FLAC. Automatic gain, limiter, low cut and noise \
             reduction off. Set the gain with the loudest stroke 12 dB below full scale; from then on \
             nobody touches it. If it has to be touched, make a new recording."
                .into(),
            "A calibrator tone (94 or 114 dB, from its certificate) of ten seconds on every microphone \
             before and after. Without a calibrator: the same gain and the same kind of microphone \
             everywhere (`equal_gains = true`), or one recorder carried from room to room \
             (`recorder`, `gain = \"fixed\"`): level differences are right then, levels are not."
                .into(),
        ],
    });
    steps
}

fn where_to(b: &Building, room: RoomIndex, source: bool) -> Vec<String> {
    let r = &b.rooms[room.0];
    let mut lines = vec![format!(
        "{POSITIONS} positions, 0.7 m and more apart, 0.5 m from walls and furniture{}, 1.0 to 1.6 m up, \
         no two at the same height or distance from a wall; 15 s and more at each",
        if source { ", 1 m and more from the source" } else { "" }
    )];
    if r.volume.0 > 0.0 && needs_corners(r.volume) {
        lines.push(format!(
            "with {:.0} m³ it is small: beside them {CORNERS} corners, two at the floor and two under \
             the ceiling, 0.3 to 0.4 m from each of the three surfaces, 15 s each (`kind = \"corner\"`)",
            r.volume.0
        ));
    }
    if r.volume.0 >= 150.0 {
        lines.push(
            "from 150 m³ ASTM E336 measures near the partition; for ISO 16283-1 stay with the positions \
             above"
                .into(),
        );
    }
    lines
}

fn with_one(b: &Building, loud: &[RoomIndex]) -> Vec<Step> {
    let mut steps = Vec::new();
    for source in loud {
        let name = b.rooms[source.0].name();
        let mut lines = where_to(b, *source, true);
        lines.push(format!(
            "Something that always sounds the same: pink noise or the sweep of `wythe sweep` over a \
             loudspeaker, at two places of the loudspeaker. A live player does not play the same twice, \
             so music needs a second recorder that stays here (`same_time_as`). Record {name} first and \
             last: if its level moved by more than 0.5 dB, begin again."
        ));
        steps.push(Step { title: format!("In {name}, the source on"), lines });
        for room in receivers(b, *source) {
            let mut lines = where_to(b, room, false);
            lines.push(format!(
                "then {QUIET:.0} minutes with the source off, at the same gain, and leave the room while \
                 it records"
            ));
            steps.push(Step { title: format!("In {}", b.rooms[room.0].name()), lines });
        }
    }
    steps
}

/// How far below the ambient a coherent part is seen, dB: 10 lg(1.9 T √(B/T_s)) − 4.8 dB for three standard
/// deviations (derived in the project's notes on measurement).
fn depth(band: Band, seconds: f64, segment: f64) -> f64 {
    let width = band.upper_edge().0 - band.lower_edge().0;
    10.0 * (1.9 * seconds * (width / segment).sqrt()).log10() - 4.8
}

fn with_eight(b: &Building, loud: &[RoomIndex]) -> Vec<Step> {
    let mut steps = Vec::new();
    for source in loud {
        let name = b.rooms[source.0].name();
        let rooms = receivers(b, *source);
        // One close, one in the room; six for the others, the judged ones first.
        let mut left = 6usize;
        let mut lines = vec![
            format!(
                "channel 1: in {name}, close to the loudest instrument, 0.3 to 1 m (`kind = \"near \
                 source\"`); with a loudspeaker take its electrical signal instead"
            ),
            format!("channel 2: in {name}, a room position"),
        ];
        let mut channel = 3;
        let mut later = Vec::new();
        for (i, room) in rooms.iter().enumerate() {
            if left == 0 {
                later.push(b.rooms[room.0].name().to_owned());
                continue;
            }
            let here = left.div_ceil(rooms.len() - i).min(3);
            let word = if here == 1 { "position" } else { "positions" };
            let last = channel + here - 1;
            let numbers = if here == 1 {
                format!("channel {channel}")
            } else {
                format!("channels {channel} to {last}")
            };
            lines.push(format!("{numbers}: in {}, {here} {word}", b.rooms[room.0].name()));
            channel += here;
            left -= here;
        }
        if !later.is_empty() {
            lines.push(format!("in a second session: {}", later.join(", ")));
        }
        lines.push(format!(
            "{MINUTES:.0} minutes of playing, loud and soft, with low and high instruments, then \
             {QUIET:.0} minutes in which nobody plays and nobody moves. With {MINUTES:.0} minutes and \
             one clock the program sees down to about {:.0} dB under the ambient at 63 Hz and {:.0} dB at \
             1 kHz; half the time costs 3 dB",
            depth(Band::HZ_63, 60.0 * MINUTES, 1.0),
            depth(Band::HZ_1000, 60.0 * MINUTES, 1.0)
        ));
        lines.push(format!(
            "move the microphones of the rooms and repeat until every room has its {POSITIONS} positions; \
             write the same `source_position` into recordings that belong together"
        ));
        steps.push(Step { title: format!("Source in {name}, everything at once"), lines });
    }
    steps
}

fn decays(b: &Building, loud: &[RoomIndex]) -> Vec<Step> {
    let mut rooms: Vec<String> = Vec::new();
    for source in loud {
        for room in receivers(b, *source) {
            let name = b.rooms[room.0].name().to_owned();
            if !rooms.contains(&name) {
                rooms.push(name);
            }
        }
    }
    vec![Step {
        title: format!("In every receiving room: {}", rooms.join(", ")),
        lines: vec![
            "six decays: two places of the source, three of the microphone. Noise of a loudspeaker that \
             is switched off, a sweep that is folded (`wythe sweep --fold`), or a balloon; three seconds \
             of silence behind each. 45 dB above the background give T30, 35 dB T20"
                .into(),
            "mark them with [[recording.stretch]] kind = \"decay\" and the room. A burst balloon is loud \
             at the ear: hold it away, with protection"
                .into(),
        ],
    }]
}

fn log() -> Vec<Step> {
    vec![Step {
        title: "Into a microphone or onto paper, with the time".into(),
        lines: vec![
            "date, hour, who; which channel is where; which doors and windows are open; what runs"
                .into(),
            "\u{201c}source on\u{201d}, \u{201c}source off\u{201d}, \u{201c}quiet begins\u{201d}, \
             \u{201c}quiet ends\u{201d}"
                .into(),
            "everything that did not belong: steps, talking, a car, a door. In survey.toml: log = \
             [\"12:04-12:06 talking\"]"
                .into(),
            "every touch of a gain, a microphone or a door".into(),
        ],
    }]
}
