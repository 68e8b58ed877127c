//! Random buildings with random faults, for asking whether the inference is honest.

use wythe_bands::{Air, Band, CubicMetre, LevelDifference, Metre, Seconds, Spectrum, SquareMetre};
use wythe_bands::{Standing, Standpoint};
use wythe_building::*;
use wythe_findings::{Cause, Observed, Trial};
use wythe_partition::*;
use wythe_transmission::{BANDS, Cache, Model, assemble};

/// SplitMix64 with normal draws.
pub struct Random(pub u64);

impl Random {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-53)
    }
    pub fn normal(&mut self) -> f64 {
        let u = self.uniform().max(1e-300);
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }
}

fn standpoint(standing: Standing) -> Standpoint {
    Standpoint { standing, source: None }
}

fn board(material: &str, mm: f64, count: u32) -> Layer {
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

fn cavity(mm: f64, fill_mm: f64, frame: Option<FrameKind>) -> Layer {
    Layer::Cavity(Cavity {
        depth: Metre(mm / 1000.0),
        fill: (fill_mm > 0.0).then(|| Fill {
            material: "mineral wool".into(),
            depth: Metre(fill_mm / 1000.0),
            flow_resistivity: None,
            own: None,
        }),
        frame: frame.map(|kind| Frame {
            kind,
            gauge: None,
            spacing: Metre(0.6),
            screw_spacing: None,
            mount: None,
        }),
        standpoint: Standpoint::default(),
    })
}

fn build_up(id: &str, layers: Vec<Layer>) -> BuildUp {
    BuildUp {
        id: id.into(),
        title: None,
        construction: Construction::Layers(layers),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: standpoint(Standing::Known),
        boxes: Vec::new(),
    }
}

fn room(id: &str, volume: f64, decay: f64) -> Room {
    Room {
        id: id.into(),
        title: None,
        storey: 0,
        outline: None,
        height: None,
        volume: CubicMetre(volume),
        floor_area: SquareMetre(volume / 2.6),
        outdoors: false,
        distance: None,
        absorption: Absorption::DecayTime(Spectrum::from_fn(|_| Seconds(decay))),
        background: None,
        standpoint: Standpoint::default(),
    }
}

fn door(id: &str, thickness: f64, sill: SealKind, standing: Standing) -> Opening {
    let seal = |kind| Seal { kind, gap: Metre(0.003) };
    Opening {
        id: id.into(),
        title: None,
        kind: OpeningKind::Door,
        leaf: Some(build_up("leaf", vec![board("solid timber", thickness, 1)])),
        width: Metre(0.9),
        height: Metre(2.05),
        head: seal(SealKind::Compression),
        jambs: seal(SealKind::Compression),
        sill: seal(sill),
        keyhole: false,
        state: OpeningState::Closed,
        standpoint: standpoint(standing),
        letter_plate: None,
        second: None,
    }
}

/// A loud room, a lobby, a listening room behind it and a bedroom above: sizes, standings and
/// build-ups at random.
pub fn building(random: &mut Random) -> Building {
    let standing = |r: &mut Random| match (3.0 * r.uniform()) as u32 {
        0 => Standing::Known,
        1 => Standing::Assumed,
        _ => Standing::Unknown,
    };
    let build_ups = vec![
        build_up(
            "split",
            vec![
                board("gypsum board", 15.9, 2),
                cavity(random.between(150.0, 300.0), 100.0, Some(FrameKind::SeparateTimberStuds)),
                board("gypsum board", 15.9, 2),
            ],
        ),
        build_up(
            "stud",
            vec![
                board("gypsum board", 12.5, 1),
                cavity(90.0, 90.0, Some(FrameKind::TimberStuds)),
                board("gypsum board", 12.5, 1),
            ],
        ),
        build_up(
            "ceiling",
            vec![
                board("gypsum board", 15.9, 2),
                cavity(random.between(150.0, 300.0), 100.0, Some(FrameKind::SeparateTimberStuds)),
                board("particleboard", 22.0, 1),
            ],
        ),
    ];
    let mut rooms = Vec::new();
    for (id, volume) in [("loud", 90.0), ("lobby", 9.0), ("quiet", 40.0), ("bed", 45.0)] {
        let volume = volume * random.between(0.7, 1.4);
        let decay = random.between(0.3, 0.7);
        rooms.push(room(id, volume, decay));
    }
    let mut boundary = |id: &str, a, b, wall, area: f64, openings| Boundary {
        id: id.into(),
        title: None,
        rooms: [RoomIndex(a), RoomIndex(b)],
        kind: BoundaryKind::Wall,
        build_up: BuildUpIndex(wall),
        area: SquareMetre(area),
        area_found: false,
        openings,
        leaks: Vec::new(),
        distance: None,
        standpoint: standpoint(standing(random)),
    };
    let mut doors = Random(random_seed(&rooms));
    let s1 = standing_of(&mut doors);
    let s2 = standing_of(&mut doors);
    let boundaries = vec![
        boundary("wall", 0, 2, 0, 9.0, vec![]),
        boundary("lobby wall", 0, 1, 0, 5.5, vec![door("hall door", 60.0, SealKind::DropSeal, s1)]),
        boundary("quiet wall", 1, 2, 1, 5.0, vec![door("quiet door", 44.0, SealKind::Brush, s2)]),
        boundary("ceiling", 0, 3, 2, 16.0, vec![]),
    ];
    Building {
        air: Air::default(),
        build_ups,
        rooms,
        boundaries,
        states: vec![State {
            name: "quiet door taped".into(),
            openings: vec![("quiet door".into(), OpeningState::Taped)],
            ..State::default()
        }],
        ..Building::default()
    }
}

fn standing_of(random: &mut Random) -> Standing {
    match (3.0 * random.uniform()) as u32 {
        0 => Standing::Known,
        1 => Standing::Assumed,
        _ => Standing::Unknown,
    }
}

fn random_seed(rooms: &[Room]) -> u64 {
    rooms.iter().map(|r| r.volume.0.to_bits()).fold(7, |a, b| a.rotate_left(9) ^ b)
}

/// What is really wrong with one building.
pub struct Truth {
    /// Position in the list of causes, and size.
    pub faults: Vec<(usize, f64)>,
    /// Largest change any one of them makes to a measured difference, dB.
    pub largest_effect: f64,
    /// How much more each room absorbs than described, dB.
    pub absorption: Vec<f64>,
}

/// Draws faults and recorded-like measurements in two states of the building.
pub fn draw(
    building: &Building,
    causes: &[Cause],
    random: &mut Random,
    cache: &mut Cache,
) -> (Truth, Vec<Trial>) {
    let mut built = building.clone();
    let mut faults = Vec::new();
    for (index, cause) in causes.iter().enumerate() {
        if random.uniform() < cause.prior {
            let size = cause.size(random.normal());
            put(&mut built, cause, size);
            faults.push((index, size));
        }
    }
    // What a fault opens has an error of its own as well: a joint, a way along the structure.
    let mut errors = errors(&assemble(building, cache).unwrap(), random);
    errors.add(&assemble(&built, cache).unwrap(), random);
    let mut trials = Vec::new();
    for state in [None, Some("quiet door taped")] {
        let real = match state {
            None => built.clone(),
            Some(name) => built.in_state(name).unwrap(),
        };
        let mut model = assemble(&real, cache).unwrap();
        errors.put_in(&mut model);
        let source = RoomIndex(0);
        let receivers: &[usize] = if state.is_none() { &[1, 2, 3] } else { &[1, 2] };
        for &r in receivers {
            let t = &model.transfers(source, &[RoomIndex(r)])[0];
            let bands = Band::results()
                .map(|b| {
                    let i = b.index();
                    let modal = (model.modal[0][i].powi(2) + model.modal[r][i].powi(2)).sqrt();
                    let own = 1.0;
                    let d = -10.0 * t.energy[i].log10()
                        + modal * random.normal()
                        + own * random.normal();
                    // Background ends what can be seen, as in a quiet house with a loud source.
                    let limit = 75.0 - 0.4 * (i as f64 - 14.0).abs();
                    let observed = Observed {
                        difference: LevelDifference(d.min(limit)),
                        deviation: LevelDifference(own),
                        at_least: d > limit,
                    };
                    (b, observed)
                })
                .collect();
            trials.push(Trial {
                state: state.map(str::to_owned),
                source,
                receiver: RoomIndex(r),
                near: None,
                bands,
            });
        }
    }
    // Each fault taken out by itself: how much better would a receiver be?
    let with = assemble(&built, cache).unwrap();
    let mut largest_effect = 0.0f64;
    for leave in 0..faults.len() {
        let mut bare = building.clone();
        for (i, &(index, size)) in faults.iter().enumerate() {
            if i != leave {
                put(&mut bare, &causes[index], size);
            }
        }
        let without = assemble(&bare, cache).unwrap();
        for r in 1..4 {
            let energy = |m: &Model| m.transfers(RoomIndex(0), &[RoomIndex(r)])[0].energy;
            let (a, b) = (energy(&with), energy(&without));
            for band in Band::results() {
                let i = band.index();
                largest_effect = largest_effect.max((10.0 * (a[i] / b[i]).log10()).abs());
            }
        }
    }
    (Truth { faults, largest_effect, absorption: errors.absorption }, trials)
}

fn put(built: &mut Building, cause: &Cause, size: f64) {
    cause.apply(built, size);
}

/// A rebuilt wall keeps the error of the build-up it was described with.
fn original(group: &str) -> &str {
    group.split(" of ").next().unwrap_or(group)
}

/// The model's own errors: smooth over bands, one curve per group of links by name.
struct Errors {
    groups: Vec<(String, [f64; BANDS])>,
    absorption: Vec<f64>,
}

fn errors(model: &Model, random: &mut Random) -> Errors {
    let mut out = Errors { groups: Vec::new(), absorption: Vec::new() };
    out.add(model, random);
    out.absorption = model.absorption_spread.iter().map(|s| 4.343 * s * random.normal()).collect();
    out
}

impl Errors {
    /// Draws an error for every group and link that has none yet.
    fn add(&mut self, model: &Model, random: &mut Random) {
        let rho = (-1.0f64 / 3.0).exp();
        // A quarter of the variance is the element's own, the rest that of its kind.
        for link in &model.links {
            let kind = original(&model.groups[link.group]).to_owned();
            for (name, weight) in [(kind, 0.75f64.sqrt()), (format!("link {}", link.id), 0.5)] {
                if self.groups.iter().any(|(g, _)| *g == name) {
                    continue;
                }
                let mut state = random.normal();
                let mut out = [0.0; BANDS];
                for (b, slot) in out.iter_mut().enumerate() {
                    *slot = weight * link.deviation[b] * state;
                    state = rho * state + (1.0 - rho * rho).sqrt() * random.normal();
                }
                self.groups.push((name, out));
            }
        }
    }

    fn put_in(&self, model: &mut Model) {
        for link in &mut model.links {
            // The same error for every link of a group: one build-up, one error.
            let name = &model.groups[link.group];
            let own = format!("link {}", link.id);
            for (_, e) in
                self.groups.iter().filter(|(group, _)| original(name) == group || own == *group)
            {
                for (g, db) in link.coupling.iter_mut().zip(e) {
                    *g *= 10f64.powf(db / 10.0);
                }
            }
        }
        for (areas, db) in model.absorption.iter_mut().zip(&self.absorption) {
            areas.iter_mut().for_each(|a| *a *= 10f64.powf(db / 10.0));
        }
    }
}
