//! The plan of each storey as data for a drawing: outlines with areas, what lies over each other,
//! gaps too thin to be walls, and what was assumed.

use wythe_bands::{Metre, SquareMetre, Standing};

use crate::outline::{Outline, Point, WallSearch};
use crate::{BoundaryIndex, BoundaryKind, Building, RoomIndex};

/// One storey.
#[derive(Clone, Debug, PartialEq)]
pub struct StoreyPlan {
    /// Storey, 0 at the ground.
    pub storey: i32,
    /// Rooms with an outline.
    pub rooms: Vec<PlanRoom>,
    /// Rooms of the storey that cannot be drawn.
    pub without_outline: Vec<RoomIndex>,
    /// Walls between rooms of the storey, described or only seen.
    pub walls: Vec<PlanWall>,
    /// Rooms that lie over each other.
    pub overlaps: Vec<Overlap>,
    /// Rooms that stand so near that no wall fits between them, without touching.
    pub slivers: Vec<Sliver>,
}

/// One room on plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanRoom {
    /// The room.
    pub room: RoomIndex,
    /// Its corners.
    pub corners: Vec<Point>,
    /// Its floor area.
    pub area: SquareMetre,
    /// Where to write its name: a point inside.
    pub label_at: Point,
    /// What was assumed or is unknown about it, in words.
    pub assumed: Vec<String>,
}

/// One wall on plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanWall {
    /// The rooms it parts; the second is `None` where it faces the outdoors.
    pub rooms: (RoomIndex, Option<RoomIndex>),
    /// Ends on the first room's face.
    pub from: Point,
    /// Ends on the first room's face.
    pub to: Point,
    /// Distance between the faces; 0 outdoors.
    pub thickness: Metre,
    /// The boundary that describes it, if one does.
    pub boundary: Option<BoundaryIndex>,
    /// How well that boundary is known.
    pub standing: Option<Standing>,
}

/// Two rooms over each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overlap {
    /// The rooms.
    pub rooms: [RoomIndex; 2],
    /// Area common to both.
    pub area: SquareMetre,
    /// Whether one lies wholly inside the other, as a room in a room does.
    pub enclosed: bool,
}

/// Two rooms almost touching.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sliver {
    /// The rooms.
    pub rooms: [RoomIndex; 2],
    /// Mean distance of the faces.
    pub gap: Metre,
    /// Length over which they stand so.
    pub length: Metre,
}

/// Thinner than any wall that parts rooms, m.
const THINNEST_WALL: f64 = 0.03;
/// Common area below which outlines only touch, m².
const TOUCH: f64 = 1e-3;

/// Plans of all storeys that have rooms, from the lowest up.
pub fn storeys(building: &Building, search: &WallSearch) -> Vec<StoreyPlan> {
    let mut levels: Vec<i32> =
        building.rooms.iter().filter(|r| !r.outdoors).map(|r| r.storey).collect();
    levels.sort_unstable();
    levels.dedup();
    levels.into_iter().map(|storey| plan(building, search, storey)).collect()
}

fn plan(building: &Building, search: &WallSearch, storey: i32) -> StoreyPlan {
    let all = || {
        building.rooms.iter().enumerate().filter(move |(_, r)| r.storey == storey && !r.outdoors)
    };
    let drawn: Vec<(usize, &Outline)> =
        all().filter_map(|(i, r)| r.outline.as_ref().map(|o| (i, o))).collect();
    let rooms = drawn
        .iter()
        .map(|&(i, o)| PlanRoom {
            room: RoomIndex(i),
            corners: o.corners().to_vec(),
            area: o.area(),
            label_at: inner_point(o),
            assumed: assumed(building, i),
        })
        .collect();
    let mut out = StoreyPlan {
        storey,
        rooms,
        without_outline: all()
            .filter(|(_, r)| r.outline.is_none())
            .map(|(i, _)| RoomIndex(i))
            .collect(),
        walls: Vec::new(),
        overlaps: Vec::new(),
        slivers: Vec::new(),
    };
    for (k, &(i, a)) in drawn.iter().enumerate() {
        let beside: Vec<&Outline> =
            drawn.iter().filter(|(j, _)| *j != i).map(|(_, o)| *o).collect();
        for &(j, b) in &drawn[k + 1..] {
            let area = a.overlap_area(b);
            if area.0 > TOUCH {
                let slack = SquareMetre(0.05);
                let enclosed = a.encloses(b, slack) || b.encloses(a, slack);
                out.overlaps.push(Overlap { rooms: [RoomIndex(i), RoomIndex(j)], area, enclosed });
                continue;
            }
            let others: Vec<&Outline> =
                drawn.iter().filter(|(n, _)| *n != i && *n != j).map(|(_, o)| *o).collect();
            for s in a.facing_stretches(b, &others, search) {
                let length = (s.to.x.0 - s.from.x.0).hypot(s.to.y.0 - s.from.y.0);
                if s.gap > 1e-6 && s.gap < THINNEST_WALL && length > 0.1 {
                    out.slivers.push(Sliver {
                        rooms: [RoomIndex(i), RoomIndex(j)],
                        gap: Metre(s.gap),
                        length: Metre(length),
                    });
                }
                let boundary = wall_between(building, i, Some(j));
                out.walls.push(PlanWall {
                    rooms: (RoomIndex(i), Some(RoomIndex(j))),
                    from: s.from,
                    to: s.to,
                    thickness: Metre(s.gap),
                    boundary,
                    standing: boundary.map(|b| building.boundaries[b.0].standpoint.standing),
                });
            }
        }
        for s in a.exposed_stretches(&beside, search) {
            let boundary = wall_between(building, i, None);
            out.walls.push(PlanWall {
                rooms: (RoomIndex(i), None),
                from: s.from,
                to: s.to,
                thickness: Metre(0.0),
                boundary,
                standing: boundary.map(|b| building.boundaries[b.0].standpoint.standing),
            });
        }
    }
    out
}

fn wall_between(building: &Building, a: usize, b: Option<usize>) -> Option<BoundaryIndex> {
    let fits = |r: RoomIndex| match b {
        Some(b) => r.0 == b,
        None => building.rooms.get(r.0).is_some_and(|r| r.outdoors),
    };
    building
        .boundaries
        .iter()
        .position(|boundary| {
            boundary.kind == BoundaryKind::Wall && boundary.beyond(RoomIndex(a)).is_some_and(fits)
        })
        .map(BoundaryIndex)
}

fn assumed(building: &Building, room: usize) -> Vec<String> {
    let mut said = Vec::new();
    let word = |s: Standing| s.word();
    let own = &building.rooms[room];
    if own.standpoint.standing != Standing::Known {
        said.push(format!("the room is {}", word(own.standpoint.standing)));
    }
    if own.height.is_none() {
        said.push("its height is not stated".to_owned());
    }
    for boundary in building.boundaries.iter().filter(|b| b.rooms.contains(&RoomIndex(room))) {
        if boundary.standpoint.standing != Standing::Known {
            said.push(format!("`{}` is {}", boundary.name(), word(boundary.standpoint.standing)));
        }
    }
    said
}

/// A point inside an outline, near its middle: the middle of the longest level stretch through
/// one of nine heights.
fn inner_point(outline: &Outline) -> Point {
    let Some((low, high)) = outline.bounds() else { return Point::at(0.0, 0.0) };
    let corners = outline.corners();
    let mut best = (f64::NEG_INFINITY, low);
    for k in [5, 4, 6, 3, 7, 2, 8, 1, 9] {
        let y = low.y.0 + (high.y.0 - low.y.0) * f64::from(k) / 10.0;
        let mut xs: Vec<f64> = (0..corners.len())
            .filter_map(|i| {
                let (p, q) = (corners[i], corners[(i + 1) % corners.len()]);
                ((p.y.0 > y) != (q.y.0 > y))
                    .then(|| p.x.0 + (y - p.y.0) / (q.y.0 - p.y.0) * (q.x.0 - p.x.0))
            })
            .collect();
        xs.sort_by(f64::total_cmp);
        for pair in xs.chunks_exact(2) {
            // A little longer must not beat the middle.
            if pair[1] - pair[0] > 1.05 * best.0 {
                best = (pair[1] - pair[0], Point::at((pair[0] + pair[1]) / 2.0, y));
            }
        }
    }
    best.1
}
