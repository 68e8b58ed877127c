//! The plan of each storey as a drawing, with areas, overlaps, slivers and what is assumed; and
//! the standing waves of box-shaped rooms.

use serde_json::{Value, json};
use wythe_bands::{Hertz, Standing};
use wythe_building::outline::WallSearch;
use wythe_building::plan::{StoreyPlan, storeys};
use wythe_building::{Building, RoomIndex};
use wythe_report::chart::{Format, Plan, PlanRoom, PlanWall, Words};

use crate::args::Units;
use crate::output;
use crate::pictures::Named;

/// Standing waves are listed up to here, Hz: above it they lie too close to be heard one by one.
const HIGHEST_MODE: Hertz = Hertz(120.0);
/// So many per room are printed.
const MOST_MODES: usize = 8;

/// One drawing per storey.
pub fn drawings(building: &Building, units: Units) -> Vec<Named> {
    storeys(building, &WallSearch::default())
        .iter()
        .map(|plan| {
            let drawing = drawing(building, plan, units).draw(Format::Screen);
            (format!("storey-{}", plan.storey), drawing)
        })
        .collect()
}

fn drawing(building: &Building, plan: &StoreyPlan, units: Units) -> Plan {
    let name = |r: wythe_building::RoomIndex| building.rooms[r.0].name().to_owned();
    let mut lines = faults(building, plan);
    for room in &plan.rooms {
        if !room.assumed.is_empty() {
            lines.push(format!("{}: {}", name(room.room), room.assumed.join(", ")));
        }
    }
    for room in &plan.without_outline {
        lines.push(format!("{} is on this storey and has no outline", name(*room)));
    }
    Plan {
        in_feet: units == Units::Imperial,
        words: Words::new(
            format!("storey-{}", plan.storey),
            format!("Storey {}", plan.storey),
            "Inner faces. Full lines are known, dashed ones assumed; where dotted, no boundary is \
             described and nothing passes in the calculation.",
        ),
        rooms: plan
            .rooms
            .iter()
            .map(|r| PlanRoom {
                name: name(r.room),
                outline: r.corners.iter().map(|p| (p.x.0, p.y.0)).collect(),
                level: output::area(building.rooms[r.room.0].floor_area, units),
                value: None,
            })
            .collect(),
        walls: plan
            .walls
            .iter()
            .map(|w| {
                // A room in a room faces the one round it.
                let standing = w.standing.or_else(|| round(building, plan, w.rooms));
                PlanWall {
                    ends: ((w.from.x.0, w.from.y.0), (w.to.x.0, w.to.y.0)),
                    described: standing.is_some(),
                    known: standing == Some(Standing::Known),
                }
            })
            .collect(),
        lines,
        ..Plan::default()
    }
}

/// How well the wall between a room and the one it stands in is known; `None` where it stands in
/// none, or nothing describes that wall.
fn round(
    building: &Building,
    plan: &StoreyPlan,
    (room, beyond): (RoomIndex, Option<RoomIndex>),
) -> Option<Standing> {
    if beyond.is_some() {
        return None;
    }
    let area = |r: RoomIndex| building.rooms[r.0].outline.as_ref().map_or(0.0, |o| o.area().0);
    let pair = plan.overlaps.iter().filter(|o| o.enclosed).find(|o| o.rooms.contains(&room))?;
    let other = if pair.rooms[0] == room { pair.rooms[1] } else { pair.rooms[0] };
    // The outer one's own outer walls are not meant.
    if area(room) > area(other) {
        return None;
    }
    let between = |b: &&wythe_building::Boundary| b.beyond(room) == Some(other);
    building.boundaries.iter().find(between).map(|b| b.standpoint.standing)
}

fn faults(building: &Building, plan: &StoreyPlan) -> Vec<String> {
    let name = |r: wythe_building::RoomIndex| building.rooms[r.0].name().to_owned();
    let mut out = Vec::new();
    for o in plan.overlaps.iter().filter(|o| !o.enclosed) {
        out.push(format!(
            "{} and {} lie over each other by {:.2} m²",
            name(o.rooms[0]),
            name(o.rooms[1]),
            o.area.0
        ));
    }
    for o in plan.overlaps.iter().filter(|o| o.enclosed) {
        out.push(format!("{} and {}: a room in a room", name(o.rooms[0]), name(o.rooms[1])));
    }
    for s in &plan.slivers {
        out.push(format!(
            "{} and {} stand {:.0} mm apart over {:.2} m, too near for a wall",
            name(s.rooms[0]),
            name(s.rooms[1]),
            1000.0 * s.gap.0,
            s.length.0
        ));
    }
    out
}

/// Overlaps and slivers of all storeys as text.
pub fn faults_text(building: &Building) -> String {
    let mut out = String::new();
    for plan in storeys(building, &WallSearch::default()) {
        for line in faults(building, &plan) {
            out.push_str(&format!("  · storey {}: {line}\n", plan.storey));
        }
    }
    if out.is_empty() { out } else { format!("\nOn the plan\n{out}") }
}

/// The storeys as records.
pub fn records(building: &Building) -> Value {
    let id = |r: wythe_building::RoomIndex| building.rooms[r.0].id.as_str();
    storeys(building, &WallSearch::default())
        .iter()
        .map(|plan| {
            json!({
                "storey": plan.storey,
                "rooms": plan.rooms.iter().map(|r| json!({
                    "room": id(r.room), "area_m2": output::rounded(r.area.0, 3), "assumed": r.assumed,
                })).collect::<Vec<_>>(),
                "overlaps": plan.overlaps.iter().map(|o| json!({
                    "rooms": o.rooms.map(id), "area_m2": output::rounded(o.area.0, 3),
                    "room_in_room": o.enclosed,
                })).collect::<Vec<_>>(),
                "slivers": plan.slivers.iter().map(|s| json!({
                    "rooms": s.rooms.map(id), "gap_mm": output::rounded(1000.0 * s.gap.0, 1),
                    "length_m": output::rounded(s.length.0, 3),
                })).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// Standing waves of box-shaped rooms with the pitch each is near.
pub fn modes_text(building: &Building) -> String {
    let mut out = String::new();
    for room in building.rooms.iter().filter(|r| !r.outdoors) {
        let Some(said) = room.low_frequency_statement(building.air) else { continue };
        for (i, line) in output::wrap(&said, 92).iter().enumerate() {
            out.push_str(&format!("  {} {line}\n", if i == 0 { "·" } else { " " }));
        }
        let modes = room.modes_with_pitch(HIGHEST_MODE, building.air);
        let listed: Vec<String> = modes
            .iter()
            .take(MOST_MODES)
            .map(|(m, pitch)| match pitch {
                Some((name, cents)) => format!(
                    "{} {name} {}{}",
                    output::one(m.frequency.0),
                    if *cents < 0 { "−" } else { "+" },
                    cents.abs()
                ),
                None => output::one(m.frequency.0),
            })
            .collect();
        if listed.is_empty() {
            continue;
        }
        let more = modes.len().saturating_sub(MOST_MODES);
        let more = if more > 0 { format!(" and {more} more to 120 Hz") } else { String::new() };
        for line in output::wrap(&format!("rings at {}{more}", listed.join(", ")), 92) {
            out.push_str(&format!("    {line}\n"));
        }
    }
    if out.is_empty() {
        return out;
    }
    format!("\nLow notes (Hz, nearest pitch at A4 = 440 Hz, hundredths of a semitone off)\n{out}")
}

/// The same as records.
pub fn modes_records(building: &Building) -> Value {
    building
        .rooms
        .iter()
        .filter(|r| !r.outdoors)
        .map(|room| {
            let modes: Vec<Value> = room
                .modes_with_pitch(HIGHEST_MODE, building.air)
                .iter()
                .map(|(m, pitch)| {
                    json!({
                        "hz": output::rounded(m.frequency.0, 2), "order": m.order,
                        "pitch": pitch.as_ref().map(|p| p.0.clone()),
                        "cents": pitch.as_ref().map(|p| p.1),
                    })
                })
                .collect();
            json!({
                "room": room.id,
                "schroeder_hz": output::rounded(room.schroeder_frequency(building.air), 1),
                "modes": modes,
            })
        })
        .collect()
}
