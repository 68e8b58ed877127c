//! Small buildings to try facts on.
#![allow(dead_code)]

use wythe_bands::{Air, CubicMetre, Level, Metre, Seconds, Spectrum, SquareMetre, Standpoint};
use wythe_building::*;
use wythe_partition::*;

pub fn gypsum(count: u32) -> Layer {
    board("gypsum board", 15.9, count, Joint::Screwed)
}

pub fn board(material: &str, mm: f64, count: u32, joined: Joint) -> Layer {
    Layer::Board(Board {
        material: material.into(),
        thickness: Metre(mm / 1000.0),
        count,
        joined,
        surface_mass: None,
        standpoint: Standpoint::default(),
        own: None,
    })
}

pub fn cavity(mm: f64, wool: f64, kind: Option<FrameKind>) -> Layer {
    Layer::Cavity(Cavity {
        depth: Metre(mm / 1000.0),
        fill: (wool > 0.0).then(|| Fill {
            material: "mineral wool".into(),
            depth: Metre(wool / 1000.0),
            flow_resistivity: None,
            own: None,
        }),
        frame: kind.map(|kind| Frame {
            kind,
            gauge: None,
            spacing: Metre(0.6),
            screw_spacing: None,
            mount: None,
        }),
        standpoint: Standpoint::default(),
    })
}

pub fn build_up(id: &str, layers: Vec<Layer>) -> BuildUp {
    BuildUp {
        id: id.into(),
        title: None,
        construction: Construction::Layers(layers),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: Standpoint::default(),
        boxes: Vec::new(),
    }
}

pub fn stud_wall(id: &str, a: u32, b: u32) -> BuildUp {
    build_up(id, vec![gypsum(a), cavity(90.0, 90.0, Some(FrameKind::TimberStuds)), gypsum(b)])
}

pub fn split_wall(id: &str, a: u32, b: u32) -> BuildUp {
    let frame = Some(FrameKind::SeparateTimberStuds);
    build_up(id, vec![gypsum(a), cavity(240.0, 180.0, frame), gypsum(b)])
}

pub fn room(id: &str, storey: i32) -> Room {
    Room {
        id: id.into(),
        title: None,
        storey,
        outline: None,
        height: Some(Metre(2.7)),
        volume: CubicMetre(50.0),
        floor_area: SquareMetre(18.5),
        outdoors: false,
        distance: None,
        absorption: Absorption::DecayTime(Spectrum::from_fn(|_| Seconds(0.5))),
        background: None,
        standpoint: Standpoint::default(),
    }
}

pub fn door(id: &str, sill_gap_mm: f64) -> Opening {
    let seal = |mm: f64, kind| Seal { kind, gap: Metre(mm / 1000.0) };
    Opening {
        id: id.into(),
        title: None,
        kind: OpeningKind::Door,
        leaf: Some(build_up("leaf", vec![board("solid timber", 44.0, 1, Joint::Screwed)])),
        width: Metre(0.9),
        height: Metre(2.05),
        head: seal(2.0, SealKind::Compression),
        jambs: seal(2.0, SealKind::Compression),
        sill: seal(
            sill_gap_mm,
            if sill_gap_mm > 2.5 { SealKind::None } else { SealKind::DropSeal },
        ),
        keyhole: false,
        state: OpeningState::Closed,
        standpoint: Standpoint::default(),
        letter_plate: None,
        second: None,
    }
}

pub fn boundary(
    id: &str,
    rooms: [usize; 2],
    kind: BoundaryKind,
    build_up: usize,
    openings: Vec<Opening>,
) -> Boundary {
    Boundary {
        id: id.into(),
        title: None,
        rooms: rooms.map(RoomIndex),
        kind,
        build_up: BuildUpIndex(build_up),
        area: SquareMetre(12.0),
        area_found: false,
        openings,
        leaks: Vec::new(),
        distance: None,
        standpoint: Standpoint::default(),
    }
}

pub fn change(id: &str, element: &str, cost: Option<f64>, actions: Vec<Action>) -> Change {
    Change {
        id: id.into(),
        title: id.into(),
        element: element.into(),
        actions,
        cost,
        cost_invented: true,
        hours: None,
        reversible: false,
        skill: wythe_building::Skill::Handy,
        not_with: Vec::new(),
        standpoint: Standpoint::default(),
    }
}

pub fn source(room: usize) -> SoundSource {
    SoundSource {
        id: "noise".into(),
        title: None,
        room: RoomIndex(room),
        levels: Spectrum::from_fn(|_| Level(90.0)),
        invented: true,
        maximum_above: None,
        hours: None,
        standpoint: Standpoint::default(),
    }
}

pub fn target(room: usize, dba: f64) -> Target {
    Target {
        room: RoomIndex(room),
        criterion: Criterion::LevelA(Level(dba)),
        text: format!("{dba:.0} dBA"),
        hours: None,
        standpoint: Standpoint::default(),
    }
}

/// A loud and a quiet room, a stud wall with a door that stands 8 mm off the floor.
pub fn pair() -> Building {
    let mut b = Building { air: Air::default(), ..Building::default() };
    b.rooms = vec![room("loud", 0), room("quiet", 0)];
    b.build_ups = vec![stud_wall("stud wall", 1, 1)];
    b.boundaries = vec![boundary("wall", [0, 1], BoundaryKind::Wall, 0, vec![door("door", 8.0)])];
    b.sources = vec![source(0)];
    b.targets = vec![target(1, 45.0)];
    b
}

/// [`split_wall`] with a board on laths close before one side: a leaf in the middle.
pub fn lined() -> BuildUp {
    build_up(
        "lined",
        vec![
            gypsum(1),
            cavity(25.0, 0.0, None),
            gypsum(2),
            cavity(240.0, 180.0, Some(FrameKind::SeparateTimberStuds)),
            gypsum(2),
        ],
    )
}
