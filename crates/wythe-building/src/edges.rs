//! Edges where walls and floors meet, found from the outlines.
//!
//! Every stretch of wall is looked at from its four edges. Round an edge lie four quarters, each
//! in a room, outdoors or in the ground; between two quarters in different rooms runs a plate,
//! which is the boundary described for these two rooms. Edges are found from boundaries that
//! exist; what nobody described is no plate, and no sound is taken to run along it.
//!
//! Limits: walls under walls are looked for at the middle line; a boundary that stands for several
//! walls of the same two rooms counts as one plate. Of a room inside another one the edges of its
//! shell against the storeys above and below are found, which is where a common slab runs through
//! under it; a shell that stands clear of the ceiling is to be stated as separated there.

use std::collections::BTreeMap;

use wythe_bands::{Metre, SquareMetre, Standing, Standpoint};

use crate::outline::{Outline, Point, Stretch, WallSearch};
use crate::{BoundaryIndex, BoundaryKind, Building, Junction, JunctionKind};

/// Points along a wall at which the storeys above and below are looked up: a length is good to a
/// sixteenth, a quarter of a decibel.
const SAMPLES: usize = 16;
/// Shorter edges than this, m, are corners that touch.
const SHORTEST: f64 = 0.2;
/// How far inside a room's face a point is taken to lie in it, m.
const INSIDE: f64 = 0.06;
/// Thickness of an outer wall, m, as far as looking round its end goes.
const OUTER_WALL: f64 = 0.2;
/// What a room inside another one may stick out of it, m²: a slip of the tape.
const SLIVER: SquareMetre = SquareMetre(0.05);
/// No building has more edges that matter, and each is compared with each.
const MOST: usize = 5000;

/// All edges with at least two different plates, in a fixed order, lengths added up.
pub fn find(building: &Building, search: &WallSearch) -> Vec<Junction> {
    let finder = Finder::new(building, search);
    let mut lying: BTreeMap<[Option<usize>; 4], f64> = BTreeMap::new();
    let mut upright: Vec<Upright> = Vec::new();
    for wall in finder.walls() {
        finder.over(&wall, &mut lying);
        for end in [false, true] {
            if upright.len() < MOST {
                finder.at_end(&wall, end, &mut upright);
            }
        }
    }
    // Bottom edges last: where a wall stands below, its top edge has been counted already.
    let counted: Vec<[Option<usize>; 4]> = lying.keys().copied().map(sorted).collect();
    for wall in finder.walls() {
        finder.under(&wall, &counted, &mut lying);
    }
    let name = |plates: [Option<usize>; 4]| -> String {
        let mut names: Vec<&str> = plates
            .iter()
            .flatten()
            .filter_map(|i| building.boundaries.get(*i))
            .map(|b| b.id.as_str())
            .collect();
        names.sort_unstable();
        names.dedup();
        names.join(" + ")
    };
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    lying
        .into_iter()
        .chain(upright.into_iter().map(|u| (u.plates, u.length)))
        .filter(|(_, length)| *length >= SHORTEST)
        .map(|(plates, length)| {
            let stem = name(plates);
            let count = taken.entry(stem.clone()).or_insert(0);
            *count += 1;
            let id = if *count == 1 { stem } else { format!("{stem}, {count}") };
            Junction {
                id,
                title: None,
                plates: plates.map(|p| p.map(BoundaryIndex)),
                length: Metre(length),
                kind: JunctionKind::ByPlates,
                impact: None,
                found: true,
                standpoint: Standpoint { standing: Standing::Assumed, source: None },
            }
        })
        .collect()
}

/// One wall between two rooms, or a room and the outdoors (`None`).
struct Wall {
    boundary: usize,
    storey: i32,
    rooms: [Option<usize>; 2],
    stretch: Stretch,
    height: f64,
}

struct Upright {
    plates: [Option<usize>; 4],
    length: f64,
    at: [f64; 2],
    storey: i32,
}

struct Finder<'a> {
    building: &'a Building,
    search: &'a WallSearch,
    /// Boundaries by rooms (the outdoors as one) and whether they stand upright; the largest of
    /// several.
    known: BTreeMap<(Option<usize>, Option<usize>, bool), usize>,
}

impl<'a> Finder<'a> {
    fn new(building: &'a Building, search: &'a WallSearch) -> Finder<'a> {
        let mut known: BTreeMap<(Option<usize>, Option<usize>, bool), usize> = BTreeMap::new();
        for (index, boundary) in building.boundaries.iter().enumerate() {
            let [a, b] = boundary
                .rooms
                .map(|r| (!building.rooms.get(r.0).is_none_or(|r| r.outdoors)).then_some(r.0));
            let key = (a.min(b), a.max(b), boundary.kind == BoundaryKind::Wall);
            let larger = known
                .get(&key)
                .is_none_or(|&other| building.boundaries[other].area < boundary.area);
            if larger {
                known.insert(key, index);
            }
        }
        Finder { building, search, known }
    }

    fn plate(&self, a: Option<usize>, b: Option<usize>, upright: bool) -> Option<usize> {
        if a == b {
            return None;
        }
        self.known.get(&(a.min(b), a.max(b), upright)).copied()
    }

    fn storey(&self, storey: i32) -> impl Iterator<Item = (usize, &'a Outline)> {
        self.building
            .rooms
            .iter()
            .enumerate()
            .filter(move |(_, r)| r.storey == storey && !r.outdoors)
            .filter_map(|(i, r)| r.outline.as_ref().map(|o| (i, o)))
    }

    /// The room of a storey at a point, the innermost where one stands inside another.
    fn room_at(&self, storey: i32, point: Point) -> Option<usize> {
        self.storey(storey)
            .filter(|(_, o)| o.contains(point))
            .min_by(|(_, a), (_, b)| a.area().0.total_cmp(&b.area().0))
            .map(|(i, _)| i)
    }

    fn height(&self, room: usize) -> f64 {
        let room = &self.building.rooms[room];
        room.height.map_or_else(|| room.volume.0 / room.floor_area.0.max(0.01), |h| h.0)
    }

    /// Every described wall with its stretches on plan.
    fn walls(&self) -> Vec<Wall> {
        let mut walls = Vec::new();
        for (&(a, b, upright), &boundary) in &self.known {
            if !upright {
                continue;
            }
            let (first, second) = match (a, b) {
                (Some(a), b) => (a, b),
                (None, Some(b)) => (b, None),
                (None, None) => continue,
            };
            let room = &self.building.rooms[first];
            let Some(own) = room.outline.as_ref() else { continue };
            let storey = room.storey;
            let others: Vec<&Outline> = self
                .storey(storey)
                .filter(|(i, o)| {
                    *i != first && Some(*i) != second && near(own, o, self.search.thickest.0)
                })
                .map(|(_, o)| o)
                .collect();
            let mut rooms = [Some(first), second];
            let stretches = match second {
                Some(other) => {
                    let there = &self.building.rooms[other];
                    match there.outline.as_ref().filter(|_| there.storey == storey) {
                        Some(outline) if own.encloses(outline, SLIVER) => {
                            rooms = [second, Some(first)];
                            own.stretches_of_inner(outline, self.search)
                        }
                        Some(outline) if outline.encloses(own, SLIVER) => {
                            outline.stretches_of_inner(own, self.search)
                        }
                        Some(outline) => own.facing_stretches(outline, &others, self.search),
                        None => continue,
                    }
                }
                None => own.exposed_stretches(&others, self.search),
            };
            let height = second
                .map_or(self.height(first), |other| self.height(first).min(self.height(other)));
            walls.extend(stretches.into_iter().map(|stretch| Wall {
                boundary,
                storey,
                rooms,
                stretch,
                height,
            }));
        }
        walls
    }

    /// Rooms of another storey on both sides of a wall at a share of its length.
    fn beside(&self, wall: &Wall, share: f64, storey: i32) -> [Option<usize>; 2] {
        let s = &wall.stretch;
        let at = |out: f64| {
            Point::at(
                s.from.x.0 + share * (s.to.x.0 - s.from.x.0) + out * s.outward[0],
                s.from.y.0 + share * (s.to.y.0 - s.from.y.0) + out * s.outward[1],
            )
        };
        let beyond = if wall.rooms[1].is_some() { s.gap } else { 0.0 };
        [self.room_at(storey, at(-INSIDE)), self.room_at(storey, at(beyond + INSIDE))]
    }

    /// Samples the edge of a wall against a storey and adds up the lengths of equal neighbours.
    fn along(
        &self,
        wall: &Wall,
        storey: Option<i32>,
        lying: &mut BTreeMap<[Option<usize>; 4], f64>,
        keep: impl Fn([Option<usize>; 4]) -> bool,
    ) {
        let Some(storey) = storey else { return };
        let [a, b] = wall.rooms;
        let piece = length(&wall.stretch) / SAMPLES as f64;
        for i in 0..SAMPLES {
            let [over_a, over_b] = self.beside(wall, (i as f64 + 0.5) / SAMPLES as f64, storey);
            let plates = [
                Some(wall.boundary),
                self.plate(b, over_b, false),
                self.plate(over_b, over_a, true),
                self.plate(over_a, a, false),
            ];
            if different(plates) >= 2 && keep(plates) {
                *lying.entry(plates).or_insert(0.0) += piece;
            }
        }
    }

    fn over(&self, wall: &Wall, lying: &mut BTreeMap<[Option<usize>; 4], f64>) {
        self.along(wall, wall.storey.checked_add(1), lying, |_| true);
    }

    fn under(
        &self,
        wall: &Wall,
        counted: &[[Option<usize>; 4]],
        lying: &mut BTreeMap<[Option<usize>; 4], f64>,
    ) {
        self.along(wall, wall.storey.checked_sub(1), lying, |plates| {
            let plates = sorted(plates);
            !counted.contains(&plates)
        });
    }

    /// The upright edge at one end of a wall.
    fn at_end(&self, wall: &Wall, end: bool, upright: &mut Vec<Upright>) {
        let s = &wall.stretch;
        let (here, other) = if end { (s.to, s.from) } else { (s.from, s.to) };
        let (dx, dy) = (here.x.0 - other.x.0, here.y.0 - other.y.0);
        let size = dx.hypot(dy);
        if !(size > 1e-6) {
            return;
        }
        let on = [dx / size, dy / size];
        let thickness = if wall.rooms[1].is_some() { s.gap } else { OUTER_WALL };
        // The first room met going on past the end, just inside either face.
        let beyond = |out: f64| -> Option<usize> {
            let mut step = 0.04;
            while step <= self.search.thickest.0 + 0.08 {
                let point = Point::at(
                    here.x.0 + step * on[0] + out * s.outward[0],
                    here.y.0 + step * on[1] + out * s.outward[1],
                );
                if let Some(room) = self.room_at(wall.storey, point) {
                    return Some(room);
                }
                step += 0.04;
            }
            None
        };
        let [a, b] = wall.rooms;
        let (c, d) = (beyond(-INSIDE), beyond(thickness + INSIDE));
        let plates = [
            Some(wall.boundary),
            self.plate(b, d, true),
            self.plate(d, c, true),
            self.plate(c, a, true),
        ];
        if different(plates) < 2 {
            return;
        }
        let at =
            [here.x.0 + thickness / 2.0 * s.outward[0], here.y.0 + thickness / 2.0 * s.outward[1]];
        let reach = 2.0 * self.search.thickest.0;
        let key = sorted(plates);
        let seen = upright.iter_mut().find(|u| {
            u.storey == wall.storey
                && sorted(u.plates) == key
                && (u.at[0] - at[0]).hypot(u.at[1] - at[1]) < reach
        });
        match seen {
            Some(seen) => seen.length = seen.length.min(wall.height),
            None => {
                upright.push(Upright { plates, length: wall.height, at, storey: wall.storey });
            }
        }
    }
}

fn near(a: &Outline, b: &Outline, reach: f64) -> bool {
    let (Some((al, ah)), Some((bl, bh))) = (a.bounds(), b.bounds()) else { return false };
    al.x.0 <= bh.x.0 + reach
        && bl.x.0 <= ah.x.0 + reach
        && al.y.0 <= bh.y.0 + reach
        && bl.y.0 <= ah.y.0 + reach
}

fn length(s: &Stretch) -> f64 {
    (s.to.x.0 - s.from.x.0).hypot(s.to.y.0 - s.from.y.0)
}

fn sorted(mut plates: [Option<usize>; 4]) -> [Option<usize>; 4] {
    plates.sort_unstable();
    plates
}

fn different(plates: [Option<usize>; 4]) -> usize {
    let mut known: Vec<usize> = plates.into_iter().flatten().collect();
    known.sort_unstable();
    known.dedup();
    known.len()
}
