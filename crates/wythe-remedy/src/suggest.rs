//! Changes the program thinks of by itself, for every element of a building.
//!
//! They have no price; [`priced`] gives them one from the user's own table. What is impossible in
//! the building only the user knows.

use wythe_bands::{LevelDifference, Metre, Standpoint};
use wythe_building::{
    Action, Boundary, BoundaryIndex, BoundaryKind, BuildUpIndex, Building, Change, RoomIndex,
};
use wythe_findings::caution::load::planning_mass;
use wythe_partition::{
    Board, BuildUp, Cavity, Construction, Fill, Frame, FrameKind, Joint, Layer, MaterialClass,
    Mount, MountKind, Opening, OpeningKind, Seal, SealKind, Side, catalogue, predict,
};

use crate::buying::{Counting, buying};
use crate::prices::PriceList;

/// Seals a door can be given (common practice, no source).
const GOOD_GAP: Metre = Metre(0.002);
/// Change of playing worth asking for, dB.
const QUIETER: f64 = 6.0;
/// Most changes thought of; a house of a hundred walls is read element by element.
const MOST: usize = 400;

/// The building with sensible changes for every element in place of those on offer.
///
/// Changes that would break a stated limit are among them; the search leaves them out and says so.
pub fn suggest(building: &Building) -> Building {
    let mut out = building.clone();
    out.changes.clear();
    for index in 0..building.boundaries.len() {
        boundary(building, index, &mut out);
    }
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
            let title =
                format!("absorb {}: {:.0} m² of 50 mm wool", room.name(), room.floor_area.0);
            offer(&mut out, format!("{} absorption", room.name()), title, vec![action], true);
        }
    }
    let mut rooms: Vec<RoomIndex> = building.sources.iter().map(|s| s.room).collect();
    rooms.sort_unstable();
    rooms.dedup();
    for room in rooms {
        let Some(r) = building.rooms.get(room.0) else { continue };
        let title = format!("play {QUIETER:.0} dB quieter in {}", r.name());
        let action = Action::Quieter { room, by: LevelDifference(QUIETER) };
        offer(&mut out, format!("playing in {}", r.name()), title, vec![action], true);
    }
    out.changes.truncate(MOST);
    out
}

/// Changes with the sum of their buying list as cost, where every line has a price; the others
/// stay without. Labour is in it only as far as the table holds it.
pub fn priced(mut building: Building, counting: &Counting, prices: &PriceList) -> Building {
    for index in 0..building.changes.len() {
        if building.changes[index].cost.is_some() {
            continue;
        }
        let list = buying(&building, &[index], counting, prices);
        let total: Option<f64> = list.items.iter().map(|i| i.cost).sum();
        let invented = list.items.iter().any(|i| i.cost_invented);
        let change = &mut building.changes[index];
        if !list.items.is_empty() && !list.remarks.iter().any(|r| r.code == "remedy::not-counted") {
            change.cost = total;
            change.cost_invented = total.is_some() && invented;
        }
    }
    building
}

fn offer(
    out: &mut Building,
    element: String,
    title: String,
    actions: Vec<Action>,
    reversible: bool,
) {
    let number = out.changes.len() + 1;
    out.changes.push(Change {
        id: format!("suggested-{number}"),
        title,
        element,
        actions,
        cost: None,
        cost_invented: false,
        hours: None,
        reversible,
        standpoint: Standpoint {
            source: Some("thought of by the program from its catalogue".into()),
            ..Standpoint::default()
        },
    });
}

fn boundary(building: &Building, index: usize, out: &mut Building) {
    let b = &building.boundaries[index];
    for leak in &b.leaks {
        let name = leak.title.as_deref().unwrap_or(&leak.id);
        let action = Action::Close { leak: leak.id.clone() };
        offer(out, name.to_owned(), format!("close {name}"), vec![action], true);
    }
    for o in &b.openings {
        opening(o, out);
    }
    let Some(old) = building.build_ups.get(b.build_up.0) else { return };
    let Construction::Layers(layers) = &old.construction else { return };
    if layers.is_empty() || b.net_area().0 <= 0.0 {
        return;
    }
    let sides = sides(building, b);
    let mut rebuild = |title: String, layers: Vec<Layer>| {
        let new = BuildUp {
            id: format!("{} suggested {}", b.id, out.build_ups.len()),
            title: Some(title.clone()),
            construction: Construction::Layers(layers),
            rigid_bridges_per_m2: 0.0,
            cost_per_m2: None,
            standpoint: Standpoint::default(),
            boxes: Vec::new(),
        };
        // What cannot be predicted cannot be offered.
        if predict(&new, &wythe_partition::Conditions::default()).is_err() {
            return;
        }
        let build_up = BuildUpIndex(out.build_ups.len());
        out.build_ups.push(new);
        let action = Action::Rebuild { boundary: BoundaryIndex(index), build_up };
        offer(out, b.name().to_owned(), title, vec![action], false);
    };
    let name = b.name();
    for side in sides {
        let room = building.rooms.get(b.rooms[usize::from(side == Side::B)].0);
        let facing = room.map_or("", |r| r.name());
        for (count, damped) in [(1, false), (1, true), (2, true)] {
            if let Some(new) = more_boards(layers, side, count, damped) {
                let boards = if count == 1 { "one more board" } else { "two more boards" };
                let how = if damped { " with a damping layer" } else { "" };
                rebuild(format!("{boards}{how} on {name}, towards {facing}"), new);
            }
        }
        let what = if b.kind == BoundaryKind::Wall { "lining" } else { "ceiling" };
        // Boards of an inner floor are another matter: load and impact decide there.
        if b.kind == BoundaryKind::Wall || side == Side::A {
            rebuild(
                format!("independent {what} of two boards before {name}, towards {facing}"),
                lining(layers, side),
            );
        }
    }
    if let Some(new) = filled(layers) {
        rebuild(format!("fill the cavity of {name}"), new);
    }
    if b.kind != BoundaryKind::Wall
        && let Some(new) = resilient_ceiling(layers)
    {
        rebuild(format!("new ceiling of two boards on isolation clips under {name}"), new);
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

fn opening(o: &Opening, out: &mut Building) {
    let name = o.title.clone().unwrap_or_else(|| o.id.clone());
    if o.kind == OpeningKind::Hole {
        return;
    }
    let poor =
        |s: Seal| matches!(s.kind, SealKind::None | SealKind::Brush) || s.gap.0 > GOOD_GAP.0 + 1e-6;
    let compression = Seal { kind: SealKind::Compression, gap: GOOD_GAP };
    let sill = match o.kind {
        OpeningKind::Door => Seal { kind: SealKind::DropSeal, gap: GOOD_GAP },
        _ => compression,
    };
    if [o.head, o.jambs].into_iter().any(poor) || poor(o.sill) {
        let action = Action::Seal {
            opening: o.id.clone(),
            head: Some(compression),
            jambs: Some(compression),
            sill: Some(sill),
        };
        let drop = if o.kind == OpeningKind::Door { " and a drop seal" } else { "" };
        let title = format!("new seals all round{drop} on {name}");
        offer(out, format!("{name} seals"), title, vec![action], true);
    }
    let now = o.leaf.as_ref().and_then(planning_mass).map(|m| m.0);
    let kind = match o.kind {
        OpeningKind::Door | OpeningKind::Hatch => "door",
        _ => "glazing",
    };
    // Only what is clearly heavier is a better leaf; a quarter more is 2 dB by the mass law.
    for ready in catalogue().ready().iter().filter(|r| r.kind == kind) {
        let leaf = ready.build_up(&format!("{} suggested", o.id));
        let heavier = now
            .zip(planning_mass(&leaf).map(|m| m.0))
            .is_some_and(|(before, after)| after > 1.25 * before);
        if heavier {
            let title = format!("{} in place of {name}", ready.name);
            let action = Action::Leaf { opening: o.id.clone(), leaf };
            offer(out, format!("{name} leaf"), title, vec![action], true);
        }
    }
}
