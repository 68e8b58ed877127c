//! Where walls and the openings in them lie on plan.
//!
//! A place in a wall is told from its left end, as somebody sees it who stands in the first room
//! of the boundary that is indoors and looks at the wall.

use wythe_building::outline::{Point, WallSearch};
use wythe_building::{BoundaryIndex, BoundaryKind, Building, RoomIndex, plan};
use wythe_partition::OpeningKind;
use wythe_project::Document;
use wythe_project::quantity::{Quantity, parse};

/// A point on plan, m.
pub type Spot = [f64; 2];

/// An outer wall's thickness on the drawing, m: no outline says it.
const OUTER_M: f64 = 0.15;

/// One straight piece of a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Its left end.
    pub left: Spot,
    /// Its right end.
    pub right: Spot,
    /// From that face through the wall.
    pub through: Spot,
}

/// A wall on plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Wall {
    /// Its storey.
    pub storey: i32,
    /// The boundary that describes it, if one does.
    pub boundary: Option<BoundaryIndex>,
    /// The rooms it parts; the second is the outdoors where `None`.
    pub rooms: (RoomIndex, Option<RoomIndex>),
    /// Its pieces.
    pub pieces: Vec<Piece>,
}

/// An opening on plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Position in the boundary's openings.
    pub index: usize,
    /// Distance of its middle from the left end, over all pieces, m.
    pub along: f64,
    /// Its left and right end.
    pub ends: [Spot; 2],
    /// Through the wall.
    pub through: Spot,
}

impl Piece {
    /// Its length, m.
    pub fn length(&self) -> f64 {
        (self.right[0] - self.left[0]).hypot(self.right[1] - self.left[1])
    }

    /// The point so far from its left end.
    fn at(&self, along: f64) -> Spot {
        let share = along / self.length().max(1e-9);
        [0, 1].map(|i| self.left[i] + (self.right[i] - self.left[i]) * share)
    }
}

impl Wall {
    /// What names it in an address: the boundary, else its rooms.
    pub fn name(&self, b: &Building) -> String {
        if let Some(boundary) = self.boundary.and_then(|i| b.boundaries.get(i.0)) {
            return boundary.id.clone();
        }
        let id = |r: RoomIndex| b.rooms.get(r.0).map_or("", |r| r.id.as_str());
        format!("{}~{}", id(self.rooms.0), self.rooms.1.map_or("", id))
    }

    /// Length of all its pieces, m.
    pub fn length(&self) -> f64 {
        self.pieces.iter().map(Piece::length).sum()
    }

    /// An opening of that width so far from the left end, moved onto its piece where it would
    /// stand over an end.
    pub fn place(&self, index: usize, along: f64, width: f64) -> Option<Placed> {
        let mut before = 0.0;
        let last = self.pieces.len().checked_sub(1)?;
        for (i, piece) in self.pieces.iter().enumerate() {
            let long = piece.length();
            if along <= before + long || i == last {
                let half = (width / 2.0).min(long / 2.0);
                let middle = (along - before).clamp(half, (long - half).max(half));
                return Some(Placed {
                    index,
                    along: before + middle,
                    ends: [piece.at(middle - half), piece.at(middle + half)],
                    through: piece.through,
                });
            }
            before += long;
        }
        None
    }

    /// The openings of its boundary. Those nobody has placed share the wall evenly.
    pub fn openings(&self, b: &Building, document: Option<&Document>) -> Vec<Placed> {
        let Some(index) = self.boundary else { return Vec::new() };
        let Some(boundary) = b.boundaries.get(index.0) else { return Vec::new() };
        let path = document.and_then(|d| path_of(d, b, index));
        let stated: Vec<Option<f64>> = (0..boundary.openings.len())
            .map(|i| {
                let text = document?.text_at(&format!("{}.opening[{i}].along", path.as_ref()?))?;
                parse(Quantity::Length, text).ok().filter(|a| a.is_finite() && *a >= 0.0)
            })
            .collect();
        let free = stated.iter().filter(|s| s.is_none()).count() as f64;
        let mut nth = 0.0;
        let mut out = Vec::new();
        for (i, (opening, along)) in boundary.openings.iter().zip(&stated).enumerate() {
            let along = along.unwrap_or_else(|| {
                nth += 1.0;
                self.length() * nth / (free + 1.0)
            });
            out.extend(self.place(i, along, opening.width.0));
        }
        out
    }
}

/// Whether an opening has a leaf, panes or nothing in it.
pub fn drawn(kind: OpeningKind) -> wythe_report::chart::OpeningDrawn {
    use wythe_report::chart::OpeningDrawn as D;
    match kind {
        OpeningKind::Door | OpeningKind::Hatch => D::Leaf,
        OpeningKind::Window => D::Panes,
        _ => D::Gap,
    }
}

/// Where a boundary stands in the project file; `None` where it stands in another file or was
/// found by the program.
pub fn path_of(document: &Document, b: &Building, index: BoundaryIndex) -> Option<String> {
    let boundary = b.boundaries.get(index.0)?;
    let named = format!("boundary[{}]", boundary.id);
    if document.get(&format!("{named}.between")).is_some() {
        return Some(named);
    }
    let ids = boundary.rooms.map(|r| b.rooms.get(r.0).map_or("", |r| r.id.as_str()));
    let mut same = (0..document.tables("boundary")).filter(|i| {
        let own = document.text_at(&format!("boundary[{i}].id"));
        let between = document.get(&format!("boundary[{i}].between")).unwrap_or_default();
        let between: Vec<String> = between
            .parse::<toml_edit::Value>()
            .ok()
            .and_then(|v| {
                v.as_array().map(|a| {
                    a.iter().filter_map(|v| v.as_str().map(str::to_owned)).collect::<Vec<_>>()
                })
            })
            .unwrap_or_default();
        own.is_none() && between == ids
    });
    // Two that cannot be told apart are changed in the file.
    match (same.next(), same.next()) {
        (Some(i), None) => Some(format!("boundary[{i}]")),
        _ => None,
    }
}

/// How far apart two faces may lie and still be one wall.
pub fn search(document: Option<&Document>) -> WallSearch {
    let thickest = document
        .and_then(|d| d.text_at("defaults.thickest_wall"))
        .and_then(|t| parse(Quantity::Length, t).ok());
    let mut search = WallSearch::default();
    if let Some(thickest) = thickest {
        search.thickest = wythe_bands::Metre(thickest);
    }
    search
}

/// All walls of all storeys.
pub fn walls(b: &Building, search: &WallSearch) -> Vec<Wall> {
    let mut out: Vec<Wall> = Vec::new();
    for storey in plan::storeys(b, search) {
        for w in &storey.walls {
            let first = w.boundary.and_then(|i| b.boundaries.get(i.0)).map(|e| e.rooms);
            // The first room that is indoors looks at the wall.
            let looks = first
                .and_then(|rooms| {
                    rooms.into_iter().find(|r| b.rooms.get(r.0).is_some_and(|r| !r.outdoors))
                })
                .unwrap_or(w.rooms.0);
            let (from, to) = ([w.from.x.0, w.from.y.0], [w.to.x.0, w.to.y.0]);
            let long = (to[0] - from[0]).hypot(to[1] - from[1]);
            if !(long > 1e-6) {
                continue;
            }
            let mut out_of = [(to[1] - from[1]) / long, -(to[0] - from[0]) / long];
            let near = Point::at(
                (from[0] + to[0]) / 2.0 + 0.05 * out_of[0],
                (from[1] + to[1]) / 2.0 + 0.05 * out_of[1],
            );
            let face = b.rooms.get(w.rooms.0.0).and_then(|r| r.outline.as_ref());
            if face.is_some_and(|o| o.contains(near)) {
                out_of = out_of.map(|c| -c);
            }
            let thick = if w.thickness.0 > 0.0 { w.thickness.0 } else { OUTER_M };
            // Who looks out of the first room has the right hand at (y, −x) of the way out.
            let mut right = [out_of[1], -out_of[0]];
            if looks != w.rooms.0 {
                right = right.map(|c| -c);
            }
            let along = (to[0] - from[0]) * right[0] + (to[1] - from[1]) * right[1];
            let (left, right) = if along >= 0.0 { (from, to) } else { (to, from) };
            let piece = Piece { left, right, through: out_of.map(|c| c * thick) };
            let known = out.iter_mut().find(|o| {
                o.storey == storey.storey
                    && match w.boundary {
                        Some(_) => o.boundary == w.boundary,
                        None => o.boundary.is_none() && o.rooms == w.rooms,
                    }
            });
            match known {
                Some(wall) => wall.pieces.push(piece),
                None => out.push(Wall {
                    storey: storey.storey,
                    boundary: w.boundary,
                    rooms: w.rooms,
                    pieces: vec![piece],
                }),
            }
        }
    }
    out
}

/// Rooms over each other between which no floor is described, lower first.
pub fn bare_floors(b: &Building) -> Vec<(RoomIndex, RoomIndex)> {
    /// Less than this common area, m², is the edge of a wall.
    const LEAST_M2: f64 = 0.3;
    let mut out = Vec::new();
    for (i, low) in b.rooms.iter().enumerate() {
        for (j, high) in b.rooms.iter().enumerate() {
            let (Some(a), Some(c)) = (&low.outline, &high.outline) else { continue };
            if high.storey != low.storey + 1 || a.overlap_area(c).0 < LEAST_M2 {
                continue;
            }
            let (i, j) = (RoomIndex(i), RoomIndex(j));
            let described = b.boundaries.iter().any(|e| {
                e.kind == BoundaryKind::Floor && e.rooms.contains(&i) && e.rooms.contains(&j)
            });
            if !described {
                out.push((i, j));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Scene;
    use crate::store::Texts;
    use wythe_transmission::Cache;

    fn scene(between: &str, along: &str) -> Scene {
        let project = format!(
            r#"wythe = 1
[[room]]
id = "west"
outline = [["0 m","0 m"],["4 m","0 m"],["4 m","3 m"],["0 m","3 m"]]
height = "2.5 m"
[[room]]
id = "east"
outline = [["4.2 m","0 m"],["8 m","0 m"],["8 m","3 m"],["4.2 m","3 m"]]
height = "2.5 m"
[[build_up]]
id = "w"
layers = [{{ board = "brick", thickness = "215 mm" }}]
[[boundary]]
between = {between}
build_up = "w"
[[boundary.opening]]
kind = "hole"
width = "1 m"
height = "2 m"
{along}
"#
        );
        let texts = Texts { project, survey: None };
        Scene::new(&std::env::temp_dir(), texts, None, &mut Cache::default())
    }

    fn placed(scene: &Scene) -> (Wall, Placed) {
        let b = &scene.project.as_ref().expect("readable").building;
        let document = scene.document.as_ref();
        let wall = walls(b, &search(document))
            .into_iter()
            .find(|w| w.boundary.is_some())
            .expect("a described wall");
        let opening = wall.openings(b, document)[0];
        (wall, opening)
    }

    #[test]
    fn left_is_left_for_who_looks_out_of_the_first_room() {
        // From the west one looks east; the left hand is up the sheet.
        let (wall, door) = placed(&scene(r#"["west", "east"]"#, r#"along = "0.5 m""#));
        assert_eq!(wall.pieces[0].left, [4.0, 3.0]);
        assert!((door.ends[0][1] - 3.0).abs() < 1e-9 && (door.ends[1][1] - 2.0).abs() < 1e-9);
        assert!((door.through[0] - 0.2).abs() < 1e-9);
        // From the east it is down the sheet.
        let (_, door) = placed(&scene(r#"["east", "west"]"#, r#"along = "0.5 m""#));
        assert!(door.ends[0][1].abs() < 1e-9 && (door.ends[1][1] - 1.0).abs() < 1e-9);
    }

    #[test]
    fn an_opening_stays_on_its_wall() {
        let (_, far) = placed(&scene(r#"["west", "east"]"#, r#"along = "99 m""#));
        assert!((far.along - 2.5).abs() < 1e-9, "{far:?}");
        let (_, free) = placed(&scene(r#"["west", "east"]"#, ""));
        assert!((free.along - 1.5).abs() < 1e-9, "{free:?}");
    }

    #[test]
    fn a_boundary_without_an_id_is_found_by_its_rooms() {
        let scene = scene(r#"["west", "east"]"#, "");
        let b = &scene.project.as_ref().unwrap().building;
        let document = scene.document.as_ref().unwrap();
        assert_eq!(path_of(document, b, BoundaryIndex(0)).as_deref(), Some("boundary[0]"));
    }
}
