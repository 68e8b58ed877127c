//! Changes the program thinks of by itself, for every element of a building.
//!
//! They have no price; [`priced`] gives them one from the user's own table. What is impossible in
//! the building only the user knows.

use std::collections::BTreeMap;

use wythe_bands::{
    Band, Hertz, LevelDifference, Metre, Spectrum, SquareMetre, Standpoint, SurfaceMass,
};
use wythe_building::{
    Action, Boundary, BoundaryIndex, BoundaryKind, BuildUpIndex, Building, Change, Duct, Hours,
    JunctionKind, LeakShape, Mounting, RoomIndex, Section, Skill, mounting,
};
use wythe_findings::caution::load::planning_mass;
use wythe_partition::{
    Board, BuildUp, Cavity, Construction, Fill, Frame, FrameKind, Joint, Layer, MaterialClass,
    Mount, MountKind, Opening, OpeningKind, Seal, SealKind, Side, catalogue, predict,
};
use wythe_transmission::duct::{lined_rectangular, lined_round};

use crate::buying::{Counting, buying};
use crate::prices::PriceList;

/// Seals a door can be given (common practice, no source).
const GOOD_GAP: Metre = Metre(0.002);
/// Changes of playing worth asking for, dB: other sticks, damped heads, pads.
const QUIETER: [f64; 3] = [3.0, 6.0, 10.0];
/// Clear depth between a door and a second one behind it: what a reveal gives (practice).
const REVEAL: Metre = Metre(0.25);
/// Lining of a silencer, and its lengths.
const LINING: Metre = Metre(0.05);
const SILENCERS: [f64; 2] = [1.0, 2.0];
/// A riser for one instrument, and natural frequency of the pads under it at their load (practice).
const RISER: SquareMetre = SquareMetre(4.0);
const RISER_MASS: SurfaceMass = SurfaceMass(60.0);
const PADS: Hertz = Hertz(10.0);
/// A floating floor of three boards, on pads in 50 mm of filled air (practice).
const FLOATING_MASS: SurfaceMass = SurfaceMass(60.0);
const FLOATING_AIR: Metre = Metre(0.05);
/// Most changes thought of; a house of a hundred walls is read element by element.
const MOST: usize = 400;

/// The building with sensible changes for every element in place of those on offer.
///
/// Changes that would break a stated limit or were struck out are among them; the search leaves
/// them out and says so. Their names stay the same as long as the elements keep theirs, so that
/// they can be struck out one by one.
pub fn suggest(building: &Building) -> Building {
    let mut out = building.clone();
    out.changes.clear();
    let mut made = Made { building: &mut out, names: BTreeMap::new() };
    for index in 0..building.boundaries.len() {
        boundary(building, index, &mut made);
    }
    fabric(building, &mut made);
    rooms(building, &mut made);
    playing(building, &mut made);
    out.changes.truncate(MOST);
    out
}

/// The building with the changes on offer and those the program thinks of beside them, these only
/// where a price is known for every line of theirs.
///
/// A change of the user's for the same element stands in for what the program would think of.
pub fn with_suggestions(building: &Building, counting: &Counting, prices: &PriceList) -> Building {
    let mut out = priced(suggest(building), counting, prices);
    let own = &building.changes;
    let free = |c: &Change| {
        c.actions.iter().all(|a| matches!(a, Action::Quieter { .. } | Action::Earlier { .. }))
    };
    out.changes
        .retain(|c| (c.cost.is_some() || free(c)) && !own.iter().any(|o| o.element == c.element));
    // What touches the same wall or door as an own change is another way to do it, not a second.
    let touched = |c: &Change| -> Vec<(usize, String)> {
        c.actions
            .iter()
            .map(|a| match a {
                Action::Rebuild { boundary, .. } => (boundary.0, "wall".to_owned()),
                Action::Seal { opening, .. } => (usize::MAX, format!("seals {opening}")),
                Action::Leaf { opening, .. } => (usize::MAX, format!("leaf {opening}")),
                Action::Quieter { room, .. } => (room.0, "playing".to_owned()),
                other => (usize::MAX, format!("{other:?}")),
            })
            .collect()
    };
    let taken: Vec<(Vec<(usize, String)>, &str)> =
        own.iter().map(|o| (touched(o), o.element.as_str())).collect();
    for change in &mut out.changes {
        let mine = touched(change);
        let same = taken.iter().find(|(theirs, _)| mine.iter().any(|m| theirs.contains(m)));
        if let Some((_, element)) = same {
            change.element = (*element).to_owned();
        }
    }
    out.changes = own.iter().cloned().chain(out.changes).collect();
    out
}

/// Changes with the sum of their buying list as cost, where every line has a price; the others
/// stay without. Hours are paid where the table has a price of `labour` in `h` and the hours of
/// every line; cutting something free is reckoned as a day where nobody states its hours.
pub fn priced(mut building: Building, counting: &Counting, prices: &PriceList) -> Building {
    for index in 0..building.changes.len() {
        let change = &mut building.changes[index];
        if change.cost.is_none() && by_hand(change) {
            // Nothing to buy, but hours (practice).
            change.hours.get_or_insert(8.0);
        }
        price(&mut building, index, counting, prices);
    }
    building
}

/// The user's own changes priced in the same way; nothing is guessed for them.
pub fn priced_own(mut building: Building, counting: &Counting, prices: &PriceList) -> Building {
    if !prices.0.is_empty() {
        (0..building.changes.len()).for_each(|i| price(&mut building, i, counting, prices));
    }
    building
}

fn price(building: &mut Building, index: usize, counting: &Counting, prices: &PriceList) {
    if building.changes[index].cost.is_some() {
        return;
    }
    let list = buying(building, &[index], counting, prices);
    if list.remarks.iter().any(|r| r.code == "remedy::not-counted") {
        return;
    }
    let hour = prices.of_an_hour();
    let change = &mut building.changes[index];
    if list.items.is_empty() {
        if by_hand(change) {
            change.cost = hour.zip(change.hours).map(|(h, hours)| hours * h.price);
            change.cost_invented = change.cost.is_some() && hour.is_some_and(|h| h.invented);
        }
        return;
    }
    let total: Option<f64> = list.items.iter().map(|i| i.cost).sum();
    let invented = list.items.iter().any(|i| i.cost_invented);
    let work = match (hour, list.without_hours.is_empty()) {
        (Some(hour), true) => Some(list.hours * hour.price),
        // Who does not price hours does them alone.
        (None, _) => Some(0.0),
        (Some(_), false) => None,
    };
    change.cost = total.zip(work).map(|(t, w)| t + w);
    change.cost_invented = change.cost.is_some() && (invented || hour.is_some_and(|h| h.invented));
    if list.without_hours.is_empty() {
        change.hours = change.hours.or(Some(list.hours));
    }
}

fn by_hand(change: &Change) -> bool {
    let cut = |a: &Action| matches!(a, Action::CutBridges { .. } | Action::CutJunction { .. });
    !change.actions.is_empty() && change.actions.iter().all(cut)
}

/// The building whose changes are thought of, and how often each name was given.
struct Made<'a> {
    building: &'a mut Building,
    names: BTreeMap<String, usize>,
}

/// One idea.
struct Idea {
    element: String,
    /// Part of its name after that of the element.
    name: String,
    title: String,
    actions: Vec<Action>,
    reversible: bool,
    skill: Skill,
}

impl Made<'_> {
    fn offer(&mut self, idea: Idea) {
        let stem = format!("{}-{}", slug(&idea.element), slug(&idea.name));
        let count = self.names.entry(stem.clone()).or_insert(0);
        *count += 1;
        let id = if *count == 1 { stem } else { format!("{stem}-{count}") };
        self.building.changes.push(Change {
            id,
            title: idea.title,
            element: idea.element,
            actions: idea.actions,
            cost: None,
            cost_invented: false,
            hours: None,
            reversible: idea.reversible,
            skill: idea.skill,
            not_with: Vec::new(),
            standpoint: Standpoint {
                source: Some("thought of by the program from its catalogue".into()),
                ..Standpoint::default()
            },
        });
    }
}

fn slug(words: &str) -> String {
    let letters: String =
        words.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    letters.split('-').filter(|w| !w.is_empty()).collect::<Vec<_>>().join("-")
}

/// Silencers, mountings, cuts.
fn fabric(building: &Building, out: &mut Made<'_>) {
    for duct in &building.fabric.ducts {
        let name = duct.title.as_deref().unwrap_or(&duct.id);
        for length in SILENCERS {
            out.offer(Idea {
                element: format!("{name} silencer"),
                name: format!("{length:.0} m"),
                title: format!("{length:.0} m of silencer lined with 50 mm in {name}"),
                actions: vec![Action::Silence { duct: duct.id.clone(), loss: loss(duct, length) }],
                reversible: true,
                skill: Skill::Licensed,
            });
        }
    }
    for contact in building.fabric.contacts.iter().filter(|c| c.mount.is_none()) {
        let name = contact.title.as_deref().unwrap_or(&contact.id);
        let air = mounting::trapped_air_stiffness(FLOATING_AIR, true);
        let pads = FLOATING_MASS.0 * (2.0 * std::f64::consts::PI * PADS.0).powi(2);
        let floating = mounting::by_stiffness(FLOATING_MASS, air + pads);
        let floor = building.rooms.get(contact.from.0).map_or(RISER, |r| r.floor_area);
        let all = [
            ("riser", "an open riser on pads", Some(PADS), RISER, RISER_MASS, true),
            ("floating floor", "a floating floor", floating, floor, FLOATING_MASS, false),
        ];
        for (kind, what, frequency, area, mass, reversible) in all {
            let Some(f) = frequency else { continue };
            let mounting = Mounting {
                natural_frequency: f,
                damping: mounting::USUAL_DAMPING,
                measured: false,
            };
            let contact = contact.id.clone();
            out.offer(Idea {
                element: format!("{name} mounting"),
                name: kind.into(),
                title: format!("{what} of {:.0} kg/m² under {name}, {:.0} Hz", mass.0, f.0),
                actions: vec![Action::Mount { contact, mounting, area, mass }],
                reversible,
                skill: Skill::Trade,
            });
        }
    }
    for j in &building.fabric.junctions {
        if j.kind != JunctionKind::Continuous {
            continue;
        }
        let name = j.title.as_deref().unwrap_or(&j.id);
        out.offer(Idea {
            element: format!("{name} cut"),
            name: "cut".into(),
            title: format!("cut what runs through at {name}"),
            actions: vec![Action::CutJunction { junction: j.id.clone() }],
            reversible: false,
            skill: Skill::Licensed,
        });
    }
}

/// Insertion loss of a lined length put into a duct, by the relations its own lining is
/// calculated with.
fn loss(duct: &Duct, length: f64) -> Spectrum<LevelDifference> {
    Spectrum::from_fn(|b: Band| {
        let f = b.centre();
        let per_metre = match duct.section {
            Section::Rectangular { width, height } => lined_rectangular(width, height, LINING, f),
            Section::Round { diameter } => lined_round(diameter, LINING, f),
        };
        // No straight run is credited with more than 40 dB in a band.
        LevelDifference((per_metre * length).clamp(0.0, 40.0))
    })
}

/// Absorption in the rooms that work as locks.
fn rooms(building: &Building, out: &mut Made<'_>) {
    for (index, room) in building.rooms.iter().enumerate() {
        let sounds = building.sources.iter().any(|s| s.room.0 == index);
        let wanted = building.targets.iter().any(|t| t.room.0 == index);
        let doors = building
            .boundaries
            .iter()
            .filter(|b| b.rooms.contains(&RoomIndex(index)))
            .flat_map(|b| &b.openings)
            .filter(|o| o.kind == OpeningKind::Door)
            .count();
        if !room.outdoors && !sounds && !wanted && doors >= 2 && room.floor_area.0 > 0.0 {
            let action = Action::Absorb {
                room: RoomIndex(index),
                finish: "mineral wool 50 mm".into(),
                area: room.floor_area,
            };
            out.offer(Idea {
                element: format!("{} absorption", room.name()),
                name: "wool".into(),
                title: format!("absorb {}: {:.0} m² of 50 mm wool", room.name(), room.floor_area.0),
                actions: vec![action],
                reversible: true,
                skill: Skill::Anyone,
            });
        }
    }
}

/// Quieter, or at other hours.
fn playing(building: &Building, out: &mut Made<'_>) {
    let mut rooms: Vec<RoomIndex> = building.sources.iter().map(|s| s.room).collect();
    rooms.sort_unstable();
    rooms.dedup();
    for room in rooms {
        let Some(r) = building.rooms.get(room.0) else { continue };
        for by in QUIETER {
            out.offer(Idea {
                element: format!("playing in {}", r.name()),
                name: format!("{by:.0} dB quieter"),
                title: format!("play {by:.0} dB quieter in {}", r.name()),
                actions: vec![Action::Quieter { room, by: LevelDifference(by) }],
                reversible: true,
                skill: Skill::Anyone,
            });
        }
        if let Some(hours) = free_hours(building, room) {
            let clock = |m: u16| format!("{:02}:{:02}", m / 60, m % 60);
            let (from, to) = (clock(hours.from), clock(hours.to));
            out.offer(Idea {
                element: format!("hours in {}", r.name()),
                name: "other hours".into(),
                title: format!("play in {} from {from} to {to}", r.name()),
                actions: vec![Action::Earlier { room, hours }],
                reversible: true,
                skill: Skill::Anyone,
            });
        }
    }
}

/// The latest hours as long as now that end before every target with hours begins; `None` where
/// nothing has hours, or the day is too short.
fn free_hours(building: &Building, room: RoomIndex) -> Option<Hours> {
    const DAY: u16 = 24 * 60;
    let now = building.sources.iter().find(|s| s.room == room)?.hours?;
    let length = (now.to + DAY - now.from % DAY) % DAY;
    let bound: Vec<Hours> = building.targets.iter().filter_map(|t| t.hours).collect();
    if length == 0 || !bound.iter().any(|h| h.overlaps(now)) {
        return None;
    }
    // Nobody is asked to play before eight in the morning.
    (8 * 60..=now.from).rev().step_by(30).find_map(|from| {
        let hours = Hours { from, to: (from + length) % DAY };
        (from + length <= DAY && !bound.iter().any(|h| h.overlaps(hours))).then_some(hours)
    })
}

fn boundary(building: &Building, index: usize, out: &mut Made<'_>) {
    let b = &building.boundaries[index];
    for leak in &b.leaks {
        let name = leak.title.as_deref().unwrap_or(&leak.id);
        let (how, title) = match leak.shape {
            LeakShape::Slit { .. } => ("close", format!("close {name}")),
            LeakShape::Hole { .. } => ("plug", format!("putty or plug for {name}")),
        };
        out.offer(Idea {
            element: name.to_owned(),
            name: how.into(),
            title,
            actions: vec![Action::Close { leak: leak.id.clone() }],
            reversible: true,
            skill: Skill::Anyone,
        });
    }
    for o in &b.openings {
        opening(o, out);
    }
    if building.build_ups.get(b.build_up.0).is_some_and(|u| u.rigid_bridges_per_m2 > 0.0) {
        out.offer(Idea {
            element: format!("{} bridges", b.name()),
            name: "cut".into(),
            title: format!("find and cut the rigid contacts in {}", b.name()),
            actions: vec![Action::CutBridges { boundary: BoundaryIndex(index) }],
            reversible: false,
            skill: Skill::Handy,
        });
    }
    let Some(old) = building.build_ups.get(b.build_up.0) else { return };
    let Construction::Layers(layers) = &old.construction else { return };
    if layers.is_empty() || b.net_area().0 <= 0.0 {
        return;
    }
    let sides = sides(building, b);
    let mut rebuild = |how: &str, title: String, layers: Vec<Layer>, bridged: bool| {
        let new = BuildUp {
            id: format!("{} suggested {}", b.id, out.building.build_ups.len()),
            title: Some(title.clone()),
            construction: Construction::Layers(layers),
            // A board more does not take a bridge away.
            rigid_bridges_per_m2: if bridged { old.rigid_bridges_per_m2 } else { 0.0 },
            cost_per_m2: None,
            standpoint: Standpoint::default(),
            boxes: Vec::new(),
        };
        // What cannot be predicted cannot be offered.
        if predict(&new, &wythe_partition::Conditions::default()).is_err() {
            return;
        }
        let build_up = BuildUpIndex(out.building.build_ups.len());
        out.building.build_ups.push(new);
        out.offer(Idea {
            element: b.name().to_owned(),
            name: how.to_owned(),
            title,
            actions: vec![Action::Rebuild { boundary: BoundaryIndex(index), build_up }],
            reversible: false,
            skill: if how.starts_with("ceiling") { Skill::Trade } else { Skill::Handy },
        });
    };
    let name = b.name();
    for side in sides {
        let room = building.rooms.get(b.rooms[usize::from(side == Side::B)].0);
        let facing = room.map_or("", |r| r.name());
        for (count, damped) in [(1, false), (1, true), (2, true)] {
            if let Some(new) = more_boards(layers, side, count, damped) {
                let boards = if count == 1 { "one more board" } else { "two more boards" };
                let how = if damped { " with a damping layer" } else { "" };
                let short = format!("{boards}{how} {facing}");
                rebuild(&short, format!("{boards}{how} on {name}, towards {facing}"), new, true);
            }
        }
        let what = if b.kind == BoundaryKind::Wall { "lining" } else { "ceiling" };
        // Boards of an inner floor are another matter: load and impact decide there.
        if b.kind == BoundaryKind::Wall || side == Side::A {
            rebuild(
                &format!("{what} {facing}"),
                format!("independent {what} of two boards before {name}, towards {facing}"),
                lining(layers, side),
                true,
            );
        }
    }
    if let Some(new) = filled(layers) {
        rebuild("fill", format!("fill the cavity of {name}"), new, true);
    }
    if b.kind != BoundaryKind::Wall
        && let Some(new) = resilient_ceiling(layers)
    {
        let title = format!("new ceiling of two boards on isolation clips under {name}");
        rebuild("ceiling on clips", title, new, false);
    }
}

/// Sides of a boundary that can be worked on: those facing a room, both for a wall, the ceiling
/// side for a floor.
fn sides(building: &Building, b: &Boundary) -> Vec<Side> {
    let indoors = |r: RoomIndex| building.rooms.get(r.0).is_some_and(|r| !r.outdoors);
    let mut out = Vec::new();
    if indoors(b.rooms[0]) {
        out.push(Side::A);
    }
    if indoors(b.rooms[1]) && b.kind == BoundaryKind::Wall {
        out.push(Side::B);
    }
    out
}

fn gypsum(count: u32, joined: Joint) -> Layer {
    Layer::Board(Board {
        material: "gypsum board".into(),
        thickness: Metre(0.0159),
        count,
        joined,
        surface_mass: None,
        standpoint: Standpoint::default(),
        own: None,
    })
}

/// More sheets like the outermost one; `None` where that is no board.
fn more_boards(layers: &[Layer], side: Side, count: u32, damped: bool) -> Option<Vec<Layer>> {
    let outer = match side {
        Side::A => layers.first(),
        Side::B => layers.last(),
    }?;
    let Layer::Board(outer) = outer else { return None };
    let class = outer.known()?.class;
    if class != MaterialClass::Board || !layers.iter().any(|l| matches!(l, Layer::Cavity(_))) {
        return None;
    }
    let joined = if damped { Joint::DampingLayer } else { Joint::Screwed };
    let mut out = layers.to_vec();
    let board = |count| Layer::Board(Board { count, joined, ..outer.clone() });
    match side {
        Side::A => {
            // A joint belongs to the layer after it, so the sheet that was outermost stands apart
            // from those behind it.
            out.remove(0);
            if outer.count > 1 {
                out.insert(0, Layer::Board(Board { count: outer.count - 1, ..outer.clone() }));
            }
            out.insert(0, board(1));
            out.insert(0, board(count));
        }
        Side::B => out.push(board(count)),
    }
    Some(out)
}

/// A lining on a frame of its own, 100 mm in front, two boards.
fn lining(layers: &[Layer], side: Side) -> Vec<Layer> {
    let cavity = Layer::Cavity(Cavity {
        depth: Metre(0.1),
        fill: Some(Fill {
            material: "mineral wool".into(),
            depth: Metre(0.075),
            flow_resistivity: None,
            own: None,
        }),
        frame: Some(Frame {
            kind: FrameKind::SeparateTimberStuds,
            gauge: None,
            spacing: Metre(0.6),
            screw_spacing: None,
            mount: None,
        }),
        standpoint: Standpoint::default(),
    });
    let boards = gypsum(2, Joint::Screwed);
    match side {
        Side::A => [vec![boards, cavity], layers.to_vec()].concat(),
        Side::B => [layers.to_vec(), vec![cavity, boards]].concat(),
    }
}

/// All cavities filled to nine tenths; `None` where none is less than half full.
fn filled(layers: &[Layer]) -> Option<Vec<Layer>> {
    let poor = |c: &Cavity| {
        c.depth.0 > 0.02 && c.fill.as_ref().map_or(0.0, |f| f.depth.0) < 0.5 * c.depth.0
    };
    if !layers.iter().any(|l| matches!(l, Layer::Cavity(c) if poor(c))) {
        return None;
    }
    Some(
        layers
            .iter()
            .map(|l| match l {
                Layer::Cavity(c) if poor(c) => Layer::Cavity(Cavity {
                    fill: Some(Fill {
                        material: c
                            .fill
                            .as_ref()
                            .map_or_else(|| "mineral wool".into(), |f| f.material.clone()),
                        depth: Metre(0.9 * c.depth.0),
                        flow_resistivity: c.fill.as_ref().and_then(|f| f.flow_resistivity),
                        own: None,
                    }),
                    ..c.clone()
                }),
                other => other.clone(),
            })
            .collect(),
    )
}

/// Two boards on isolation clips in place of what is screwed under joists.
fn resilient_ceiling(layers: &[Layer]) -> Option<Vec<Layer>> {
    let gap = layers.iter().position(|l| matches!(l, Layer::Cavity(_)))?;
    let Layer::Cavity(cavity) = &layers[gap] else { return None };
    let frame = cavity.frame.as_ref()?;
    if frame.mount.is_some() || frame.kind != FrameKind::TimberStuds {
        return None;
    }
    let mount = Some(Mount { kind: MountKind::IsolationClips, side: Side::A });
    let hung = Cavity { frame: Some(Frame { mount, ..frame.clone() }), ..cavity.clone() };
    let mut out = vec![gypsum(2, Joint::Screwed), Layer::Cavity(hung)];
    out.extend(layers[gap + 1..].iter().cloned());
    Some(out)
}

fn opening(o: &Opening, out: &mut Made<'_>) {
    let name = o.title.clone().unwrap_or_else(|| o.id.clone());
    if o.kind == OpeningKind::Hole {
        return;
    }
    let poor =
        |s: Seal| matches!(s.kind, SealKind::None | SealKind::Brush) || s.gap.0 > GOOD_GAP.0 + 1e-6;
    let compression = Seal { kind: SealKind::Compression, gap: GOOD_GAP };
    let door = o.kind == OpeningKind::Door;
    let sill = match o.kind {
        OpeningKind::Door => Seal { kind: SealKind::DropSeal, gap: GOOD_GAP },
        _ => compression,
    };
    let round = [o.head, o.jambs].into_iter().any(poor);
    let mut seals = |how: &str, title: String, round: bool, with_sill: bool| {
        out.offer(Idea {
            element: format!("{name} seals"),
            name: how.into(),
            title,
            actions: vec![Action::Seal {
                opening: o.id.clone(),
                head: round.then_some(compression),
                jambs: round.then_some(compression),
                sill: with_sill.then_some(sill),
            }],
            reversible: true,
            skill: Skill::Handy,
        });
    };
    if round || poor(o.sill) {
        let drop = if door { " and a drop seal" } else { "" };
        seals("all round", format!("new seals all round{drop} on {name}"), true, true);
    }
    if door && poor(o.sill) {
        seals("drop seal", format!("a drop seal on {name}"), false, true);
    }
    if door && round {
        seals("perimeter", format!("new perimeter seals on {name}"), true, false);
    }
    let mut leaf = |how: &str, title: String, action: Action, element: String| {
        out.offer(Idea {
            element,
            name: how.into(),
            title,
            actions: vec![action],
            reversible: false,
            skill: Skill::Trade,
        });
    };
    let now = o.leaf.as_ref().and_then(planning_mass).map(|m| m.0);
    let kind = match o.kind {
        OpeningKind::Door | OpeningKind::Hatch => "door",
        _ => "glazing",
    };
    // Only what is clearly heavier is a better leaf; a quarter more is 2 dB by the mass law.
    for ready in catalogue().ready().iter().filter(|r| r.kind == kind) {
        let new = ready.build_up(&format!("{} suggested", o.id));
        let heavier = now
            .zip(planning_mass(&new).map(|m| m.0))
            .is_some_and(|(before, after)| after > 1.25 * before);
        if heavier {
            let title = format!("{} in place of {name}", ready.name);
            let action = Action::Leaf { opening: o.id.clone(), leaf: new };
            leaf(&ready.name, title, action, format!("{name} leaf"));
        }
    }
    let Some(present) = &o.leaf else { return };
    match (o.kind, &present.construction) {
        (OpeningKind::Door, _) => {
            let action = Action::SecondDoor {
                opening: o.id.clone(),
                leaf: present.clone(),
                depth: REVEAL,
                lined: true,
            };
            let title = format!("a second door behind {name}, the reveal lined");
            leaf("second door", title, action, format!("{name} second door"));
        }
        (OpeningKind::Window, Construction::Layers(layers)) if !layers.is_empty() => {
            let pane = Layer::Board(Board {
                material: "laminated glass".into(),
                thickness: Metre(0.0088),
                count: 1,
                joined: Joint::Screwed,
                surface_mass: None,
                standpoint: Standpoint::default(),
                own: None,
            });
            let gap = Layer::Cavity(Cavity {
                depth: Metre(0.1),
                fill: None,
                frame: Some(Frame {
                    kind: FrameKind::SeparateWindowFrames,
                    gauge: None,
                    spacing: Metre(1.0),
                    screw_spacing: None,
                    mount: None,
                }),
                standpoint: Standpoint::default(),
            });
            let new = BuildUp {
                id: format!("{} with a second pane", o.id),
                title: Some(format!("{name} with a second pane, 8.8 mm laminated, 100 mm away")),
                construction: Construction::Layers([layers.clone(), vec![gap, pane]].concat()),
                ..present.clone()
            };
            if predict(&new, &wythe_partition::Conditions::default()).is_ok() {
                let action = Action::Leaf { opening: o.id.clone(), leaf: new };
                let title = format!("a second pane, 100 mm behind {name}");
                leaf("second pane", title, action, format!("{name} leaf"));
            }
        }
        _ => {}
    }
}
