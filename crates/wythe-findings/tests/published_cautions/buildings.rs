//! An invented house to ask about: a practice room with a hall beside it, a flat above and a yard.

use wythe_bands::{
    Air, Band, CubicMetre, Level, Metre, Seconds, Spectrum, SquareMetre, Standpoint, SurfaceMass,
};
use wythe_building::*;
use wythe_partition::*;
use wythe_transmission::{BANDS, Link, LinkKind, Model};

pub fn board(material: &str, mm: f64, count: u32) -> Layer {
    Layer::Board(Board {
        material: material.into(),
        thickness: Metre(mm / 1000.0),
        count,
        joined: Joint::Screwed,
        surface_mass: None,
        standpoint: Standpoint::default(),
        own: None,
    })
}

pub fn cavity(mm: f64, wool: bool, kind: FrameKind) -> Layer {
    Layer::Cavity(Cavity {
        depth: Metre(mm / 1000.0),
        fill: wool.then(|| Fill {
            material: "mineral wool".into(),
            depth: Metre(mm / 2000.0),
            flow_resistivity: None,
            own: None,
        }),
        frame: Some(Frame {
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

pub fn room(id: &str, storey: i32, floor: f64, height: f64) -> Room {
    Room {
        id: id.into(),
        title: None,
        storey,
        outline: None,
        height: Some(Metre(height)),
        volume: CubicMetre(floor * height),
        floor_area: SquareMetre(floor),
        outdoors: false,
        distance: None,
        absorption: Absorption::DecayTime(Spectrum::from_fn(|_| Seconds(0.5))),
        background: None,
        standpoint: Standpoint::default(),
    }
}

pub fn boundary(id: &str, rooms: [usize; 2], kind: BoundaryKind, of: usize, area: f64) -> Boundary {
    Boundary {
        id: id.into(),
        title: None,
        rooms: rooms.map(RoomIndex),
        kind,
        build_up: BuildUpIndex(of),
        area: SquareMetre(area),
        area_found: false,
        openings: Vec::new(),
        leaks: Vec::new(),
        distance: None,
        standpoint: Standpoint::default(),
    }
}

pub fn opening(id: &str, kind: OpeningKind, leaf: BuildUp, size: [f64; 2]) -> Opening {
    let seal = Seal { kind: SealKind::Compression, gap: Metre(0.003) };
    Opening {
        id: id.into(),
        title: None,
        kind,
        leaf: Some(leaf),
        width: Metre(size[0]),
        height: Metre(size[1]),
        head: seal,
        jambs: seal,
        sill: seal,
        keyhole: false,
        state: OpeningState::Closed,
        standpoint: Standpoint::default(),
        letter_plate: None,
        second: None,
    }
}

pub fn source(room: usize, level: Spectrum<Level>) -> SoundSource {
    SoundSource {
        id: "drums".into(),
        title: None,
        room: RoomIndex(room),
        levels: level,
        invented: true,
        maximum_above: None,
        hours: None,
        standpoint: Standpoint::default(),
    }
}

/// Couplings that no method of prediction can move: one link for each boundary, so that what is
/// tested is what is said.
pub fn fixed_model(building: &Building) -> Model {
    let links = building.boundaries.iter().enumerate().map(|(i, b)| {
        let ajar = b.openings.iter().any(|o| o.state == OpeningState::Open);
        let outdoors = b.rooms.iter().any(|r| building.rooms[r.0].outdoors);
        Link {
            id: b.id.clone(),
            title: b.id.clone(),
            kind: LinkKind::Direct,
            rooms: b.rooms,
            boundary: BoundaryIndex(i),
            coupling: [if ajar { 1.8 } else { 0.002 }; BANDS],
            deviation: [2.0; BANDS],
            group: i,
            spread: outdoors.then(|| wythe_transmission::Outdoors::over(100.0)),
        }
    });
    Model {
        rooms: building.rooms.len(),
        outdoors: building.rooms.iter().map(|r| r.outdoors).collect(),
        absorption: vec![[10.0; BANDS]; building.rooms.len()],
        absorption_spread: vec![0.1; building.rooms.len()],
        absorption_deviation: vec![[0.43; BANDS]; building.rooms.len()],
        modal: vec![[0.0; BANDS]; building.rooms.len()],
        links: links.collect(),
        groups: building.boundaries.iter().map(|b| b.id.clone()).collect(),
        remarks: Vec::new(),
    }
}

/// A tone band of 1 kHz, where the A-weighting is nothing.
pub fn at_1_khz(level: f64) -> Spectrum<Level> {
    [(Band::HZ_1000, Level(level))].into_iter().collect()
}

pub fn change(id: &str, actions: Vec<Action>) -> Change {
    Change {
        id: id.into(),
        title: id.into(),
        element: id.into(),
        actions,
        cost: None,
        cost_invented: false,
        hours: None,
        reversible: false,
        skill: wythe_building::Skill::Handy,
        not_with: Vec::new(),
        standpoint: Standpoint::default(),
    }
}

pub fn rebuild(boundary: usize, of: usize) -> Action {
    Action::Rebuild { boundary: BoundaryIndex(boundary), build_up: BuildUpIndex(of) }
}

pub const PRACTICE: usize = 0;
pub const HALL: usize = 1;
pub const FLAT: usize = 2;
pub const YARD: usize = 3;
/// Boundaries.
pub const DOOR_WALL: usize = 0;
pub const CEILING: usize = 1;
pub const OUTER_WALL: usize = 2;
/// Build-ups: a split frame, a joist floor, brick, and the floor with two boards more.
pub const FLOOR: usize = 1;
pub const FLOOR_AND_TWO: usize = 3;

/// Practice room 6 m by 5 m by 2.6 m at 25 °C, the room of the worked carbon-dioxide case.
pub fn house() -> Building {
    use FrameKind::*;
    let mut yard = room("yard", 0, 1.0, 1.0);
    yard.outdoors = true;
    let joists = |boards| {
        vec![
            board("gypsum board", 15.9, boards),
            cavity(220.0, true, TimberStuds),
            board("particleboard", 22.0, 1),
        ]
    };
    let split = vec![
        board("gypsum board", 12.5, 2),
        cavity(200.0, true, SeparateTimberStuds),
        board("gypsum board", 12.5, 2),
    ];
    let door = build_up("door-leaf", vec![board("particleboard", 44.0, 1)]);
    let pane = build_up("pane", vec![board("laminated glass", 8.8, 1)]);
    let mut door_wall = boundary("door wall", [PRACTICE, HALL], BoundaryKind::Wall, 0, 15.0);
    door_wall.openings.push(opening("practice door", OpeningKind::Door, door.clone(), [0.9, 2.0]));
    let ceiling = boundary("ceiling", [PRACTICE, FLAT], BoundaryKind::Floor, FLOOR, 30.0);
    let mut outer = boundary("outer wall", [PRACTICE, YARD], BoundaryKind::Wall, 2, 15.0);
    outer.openings.push(opening("practice window", OpeningKind::Window, pane, [0.9, 1.1]));
    let mut front = boundary("front wall", [HALL, YARD], BoundaryKind::Wall, 2, 8.0);
    front.openings.push(opening("front door", OpeningKind::Door, door, [0.9, 2.0]));
    Building {
        title: "invented house".into(),
        air: Air { celsius: 25.0, ..Air::default() },
        build_ups: vec![
            build_up("split frame", split),
            build_up("joist floor", joists(1)),
            build_up("brick", vec![board("brick", 215.0, 1)]),
            build_up("joist floor, three boards", joists(3)),
        ],
        rooms: vec![
            room("practice", 0, 30.0, 2.6),
            room("hall", 0, 6.0, 2.6),
            room("flat", 1, 30.0, 2.4),
            yard,
        ],
        boundaries: vec![door_wall, ceiling, outer, front],
        states: Vec::new(),
        sources: vec![source(PRACTICE, at_1_khz(100.0))],
        targets: Vec::new(),
        changes: vec![change("two more boards", vec![rebuild(CEILING, FLOOR_AND_TWO)])],
        limits: Limits { added_mass: Some(SurfaceMass(30.0)), ..Limits::default() },
        ..Building::default()
    }
}
