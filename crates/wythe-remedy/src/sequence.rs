//! In which order the work is done, where to hold, and what to photograph before it is closed.
//!
//! Common practice, no source. Wiring, gas, structure and air are for those licensed for them.

use wythe_building::{Action, BoundaryKind, Building};

use crate::limits::floor_loads;
use crate::work::{Piece, work};

/// One stage of the work.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// Name.
    pub title: &'static str,
    /// What is done, with the places.
    pub tasks: Vec<String>,
    /// What must be true before the next stage begins.
    pub hold: &'static str,
    /// What to photograph, with a rule and the date in the picture.
    pub photograph: Vec<String>,
}

/// The stages a set of changes needs, in order; empty when nothing is built.
pub fn sequence(building: &Building, changes: &[usize]) -> Vec<Stage> {
    let mut strip = Vec::new();
    let mut frames = Vec::new();
    let mut fills = Vec::new();
    let mut boards = Vec::new();
    let mut leaks = Vec::new();
    let mut doors = Vec::new();
    let mut absorbers = Vec::new();
    let mut quieter = Vec::new();
    let mut air = Vec::new();
    let mut mounted = Vec::new();
    let mut layers = 0usize;
    let mut hangs = false;
    let chosen = || changes.iter().filter_map(|&c| building.changes.get(c));
    for action in chosen().flat_map(|c| &c.actions) {
        match action {
            Action::Rebuild { boundary, build_up } => {
                let Some(b) = building.boundaries.get(boundary.0) else { continue };
                hangs |= b.kind != BoundaryKind::Wall;
                let old = building.build_ups.get(b.build_up.0);
                let pieces =
                    old.zip(building.build_ups.get(build_up.0)).and_then(|(o, n)| work(o, n));
                let name = b.name().to_owned();
                let Some(pieces) = pieces else {
                    boards.push(format!("{name}: as its data sheet says"));
                    continue;
                };
                let any = |f: &dyn Fn(&Piece) -> bool| pieces.iter().any(f);
                if any(&|p| matches!(p, Piece::Out(_))) {
                    strip.push(name.clone());
                }
                if any(&|p| matches!(p, Piece::Frame { .. } | Piece::Mount(..))) {
                    frames.push(name.clone());
                }
                if any(&|p| matches!(p, Piece::Fill(..))) {
                    fills.push(name.clone());
                }
                let sheets = pieces.iter().filter(|p| matches!(p, Piece::Sheet { .. })).count();
                if sheets > 0 {
                    layers = layers.max(sheets);
                    boards.push(format!("{name}: {sheets} new layer{}", plural(sheets)));
                }
            }
            Action::Seal { opening, .. } => {
                doors.push(format!("seals of {}", named(building, opening)))
            }
            Action::Leaf { opening, .. } => {
                doors.push(format!("new leaf of {}", named(building, opening)));
            }
            Action::Close { leak } => leaks.push(leak.clone()),
            Action::Absorb { room, finish, .. } => {
                let room = building.rooms.get(room.0).map_or("", |r| r.name());
                absorbers.push(format!("{finish} in {room}"));
            }
            Action::SecondDoor { opening, .. } => {
                doors.push(format!(
                    "frame, leaf and seals of a second door at {}",
                    named(building, opening)
                ));
            }
            Action::Silence { duct, .. } => {
                air.push(format!("silencer in {duct}, its casing sealed to the wall"));
            }
            Action::Plug { way } => {
                leaks.push(format!("{way}, once the room has its air another way"));
            }
            Action::Mount { contact, .. } => mounted.push(format!("pads and deck under {contact}")),
            Action::CutBridges { boundary } => {
                let name = building.boundaries.get(boundary.0).map_or("", |b| b.name());
                strip.push(format!("{name}: open where the contact is and cut it"));
            }
            Action::CutJunction { junction } => {
                strip.push(format!("{junction}: cut, once an engineer has agreed"));
            }
            Action::Earlier { room, .. } => {
                let room = building.rooms.get(room.0).map_or("", |r| r.name());
                quieter.push(format!("other hours in {room}, written down and signed"));
            }
            Action::Quieter { room, by } => {
                let room = building.rooms.get(room.0).map_or("", |r| r.name());
                quieter.push(format!("{:.0} dB less in {room}", by.0));
            }
        }
    }
    let mut out = Vec::new();
    let built = [&strip, &frames, &fills, &boards, &leaks, &doors, &absorbers, &air, &mounted];
    if built.iter().all(|v| v.is_empty()) {
        if !quieter.is_empty() {
            out.push(stage(
                "way of playing",
                quieter,
                "measure at the receiver at the agreed hour",
                &[],
            ));
        }
        return out;
    }
    let mut first = vec!["measure once more as it is, at marked positions".to_owned()];
    if hangs || !floor_loads(building, changes).is_empty() {
        first.push("show the added weight to a licensed structural engineer".into());
    }
    first.push("ask the building department and the fire officer; book who is licensed".into());
    out.push(stage(
        "before anything is bought",
        first,
        "engineer and building department have answered in writing",
        &["every face that will be covered, with sockets, pipes and cracks"],
    ));
    let mut add = |title, tasks: Vec<String>, hold, photos: &[&str]| {
        if !tasks.is_empty() {
            out.push(stage(title, tasks, hold, photos));
        }
    };
    add(
        "take down",
        strip,
        "old materials tested where the house is old; what is behind was looked at",
        &["the open cavity: fill, bridges, cables, blocking"],
    );
    add(
        "frames and mountings",
        frames,
        "no new part touches the old leaf; services first-fixed and signed for by who is licensed",
        &[
            "the gap between the frames along its whole length, with a rule",
            "every clip or hanger, and each end of the channel clear of the corner",
            "fire blocking as the inspector asked for, not bridging the leaves",
        ],
    );
    add(
        "close leaks",
        leaks,
        "no light and no draught comes through",
        &["each joint before and after sealing"],
    );
    add(
        "fill",
        fills,
        "filled to the edges, not pressed, nothing fallen into the gap",
        &["the whole face of fill before it is covered, and the label on a bag"],
    );
    if !boards.is_empty() {
        let mut tasks = boards;
        tasks.push("each layer: joints off those below, every edge sealed, then the next".into());
        add(
            "boards, one layer at a time",
            tasks,
            "each layer weighed by its label, sealed and looked at before the next covers it",
            &[
                "the label of a sheet and of the sealant",
                "every edge of every layer with its bead",
                "a screw beside a rule: none reaches what it must not",
                "boxes, pipes and cables where they pass, sealed",
            ],
        );
    }
    add(
        "doors and windows",
        doors,
        "light-tight all round from a dark room; closes easily; opens from inside without a key",
        &[
            "head, both jambs and sill closed, with a lamp behind",
            "the threshold under the drop seal",
        ],
    );
    add(
        "ventilation",
        air,
        "air flow measured at the grilles by who is licensed; no rigid fixing between both sides",
        &["the silencer and its flexible ends before they are covered"],
    );
    add(
        "riser and floating floor",
        mounted,
        "a card passes all round; no screw, skirting or pipe touches both; pads sit at their load",
        &["the pads before the deck covers them, and the gap along every wall"],
    );
    add("absorbers", absorbers, "fire class on the label kept on file", &["the label"]);
    add("way of playing", quieter, "agreed with who plays", &[]);
    out.push(stage(
        "before finishes and the last payment",
        vec!["measure again at the same positions, door shut and taped".into()],
        "compared with the prediction band by band; `wythe explain` on the new recordings",
        &["microphones at their positions"],
    ));
    out
}

fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}

fn named(building: &Building, id: &str) -> String {
    building
        .boundaries
        .iter()
        .flat_map(|b| &b.openings)
        .find(|o| o.id == id)
        .and_then(|o| o.title.clone())
        .unwrap_or_else(|| id.to_owned())
}

fn stage(title: &'static str, tasks: Vec<String>, hold: &'static str, photos: &[&str]) -> Stage {
    Stage { title, tasks, hold, photograph: photos.iter().map(|p| (*p).to_owned()).collect() }
}
