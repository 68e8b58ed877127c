//! Boundaries, written and found, with their openings and leaks.

use std::collections::{BTreeMap, BTreeSet};

use wythe_bands::{Metre, SquareMetre, Standing, Standpoint, SurfaceMass};
use wythe_building::{Boundary, BoundaryKind, BuildUpIndex, Leak, LeakShape, RoomIndex};
use wythe_partition::{
    Construction, Layer, Opening, OpeningKind, OpeningState, Seal, SealKind, SecondLeaf,
};

use super::Assembly;
use super::plan::{Shared, height};
use crate::problem::Place;
use crate::read::Root;
use crate::record::{Record, short};
use crate::words;

/// Slits of leaves whose edges nobody measured. Common practice, no source.
const USUAL_GAP: f64 = 0.003;
const USUAL_DOOR_SILL_GAP: f64 = 0.008;

/// Most openings, and most leaks, of one boundary.
const MOST_IN_ONE: usize = 200;

/// A written boundary on its way.
struct Written<'r> {
    record: &'r Record,
    rooms: [RoomIndex; 2],
    kind: BoundaryKind,
    /// Area by the outlines, if they say any, m².
    found: Option<f64>,
}

/// Boundaries of the same two rooms and kind share what the outlines give; all outdoors count as
/// one. The kind is 0 for walls, 1 for floors, 2 for roofs.
type Group = (usize, usize, u8);

/// The boundaries of one group together.
#[derive(Default)]
struct Siblings {
    /// Sum of the stated areas, m².
    stated: f64,
    /// Those without an area, in the order of the file.
    unstated: Vec<usize>,
}

fn rank(kind: BoundaryKind) -> u8 {
    match kind {
        BoundaryKind::Wall => 0,
        BoundaryKind::Floor => 1,
        BoundaryKind::Roof => 2,
    }
}

impl Assembly<'_> {
    pub(super) fn boundaries(&mut self, root: &Root) {
        let written: Vec<Written> = root.boundaries.iter().filter_map(|r| self.ends(r)).collect();
        let groups: Vec<Group> = written.iter().map(|w| self.group(w)).collect();
        let mut siblings: BTreeMap<Group, Siblings> = BTreeMap::new();
        for (i, (boundary, group)) in written.iter().zip(&groups).enumerate() {
            let family = siblings.entry(*group).or_default();
            match boundary.record.number("area") {
                Some(area) => family.stated += area,
                None if boundary.record.is_bad("area") => {}
                None => family.unstated.push(i),
            }
        }
        for (i, boundary) in written.iter().enumerate() {
            let area = self.area(i, boundary, &siblings[&groups[i]]);
            self.boundary(boundary, area, root);
        }
        let described: BTreeSet<Group> = groups.into_iter().collect();
        self.found_boundaries(root, &described);
    }

    /// The rooms, the kind and what the outlines say.
    fn ends<'r>(&mut self, record: &'r Record) -> Option<Written<'r>> {
        let between = record.texts("between");
        let [(a, at_a), (b, at_b)] = between else { return None };
        let a = self.room_ref(&record.label, a, at_a);
        let b = self.room_ref(&record.label, b, at_b);
        let (a, b) = (a?, b?);
        if a == b {
            let text = format!("{}: both sides are the same room", record.label);
            self.problem("project::same-room", at_b, text, "name the room on the other side");
            return None;
        }
        let outdoors = [a, b].map(|r| self.building.rooms[r.0].outdoors);
        if outdoors == [true, true] {
            let text = format!("{}: both sides are outdoors", record.label);
            self.problem(
                "project::same-room",
                at_b,
                text,
                "a boundary parts a room from another or from the outdoors",
            );
            return None;
        }
        let stated = match record.text("kind") {
            Some("wall") => Some(BoundaryKind::Wall),
            Some("floor") => Some(BoundaryKind::Floor),
            Some("roof") => Some(BoundaryKind::Roof),
            _ => None,
        };
        if outdoors == [false, false] && stated == Some(BoundaryKind::Roof) {
            let text = format!("{}: a roof has the outdoors on one side", record.label);
            self.problem(
                "project::kind",
                record.at("kind"),
                text,
                "between two storeys `kind = \"floor\"`",
            );
        }
        let shared = self.shared(a, b);
        let storeys = [a, b].map(|r| self.building.rooms[r.0].storey);
        let kind = stated.unwrap_or(match shared {
            Some(Shared::Floor { .. }) => BoundaryKind::Floor,
            Some(Shared::Wall { .. }) => BoundaryKind::Wall,
            None if !outdoors[0] && !outdoors[1] && storeys[0] != storeys[1] => BoundaryKind::Floor,
            None => BoundaryKind::Wall,
        });
        let own_height = record.number("height");
        let found = if outdoors[0] || outdoors[1] {
            let room = if outdoors[0] { b } else { a };
            match kind {
                BoundaryKind::Wall => self
                    .outer_length(room)
                    .map(|l| l * own_height.unwrap_or(height(&self.building.rooms[room.0]))),
                BoundaryKind::Roof => self.roof_area(room),
                BoundaryKind::Floor => {
                    self.building.rooms[room.0].outline.as_ref().map(|o| o.area().0)
                }
            }
        } else {
            match (shared, kind) {
                (Some(Shared::Wall { length, height }), BoundaryKind::Wall) => {
                    Some(length * own_height.unwrap_or(height))
                }
                (Some(Shared::Floor { area, .. }), BoundaryKind::Floor) => Some(area),
                _ => None,
            }
        };
        if kind == BoundaryKind::Floor && storeys[0] > storeys[1] && !outdoors[0] && !outdoors[1] {
            let text = format!(
                "{}: the upper room is named first, so side a of the build-up lies on top; a floor is usually written from below",
                record.label
            );
            self.notes.remark("project::floor-order", record.at("between"), text);
        }
        Some(Written { record, rooms: [a, b], kind, found })
    }

    fn group(&self, w: &Written) -> Group {
        let [a, b] =
            w.rooms.map(|r| if self.building.rooms[r.0].outdoors { usize::MAX } else { r.0 });
        (a.min(b), a.max(b), rank(w.kind))
    }

    /// Area of a boundary and whether it was found.
    fn area(&mut self, index: usize, w: &Written, siblings: &Siblings) -> Option<(f64, bool)> {
        let record = w.record;
        let by_others = siblings.stated;
        if let Some(area) = record.number("area") {
            if let Some(found) = w.found
                && siblings.stated > 1.15 * found + 0.1
            {
                let text = format!(
                    "{}: {:.2} m2 are stated, the outlines give {found:.2} m2; the stated area counts",
                    record.label, siblings.stated
                );
                self.notes.remark("project::two-sizes", record.at("area"), text);
            }
            return Some((area, false));
        }
        if record.is_bad("area") {
            return None;
        }
        let Some(found) = w.found.filter(|f| *f > 0.0) else {
            self.no_area(w);
            return None;
        };
        let place = record.at("between");
        if siblings.unstated.len() > 1 {
            if siblings.unstated[0] != index {
                let text = format!(
                    "{}: another boundary of the same rooms has no area either, so neither can be found",
                    record.label
                );
                self.problem(
                    "project::area",
                    place,
                    text,
                    "state the area of one of them, for example `area = \"4.5 m2\"`",
                );
            }
            return Some((found, true));
        }
        let rest = found - by_others;
        if rest < 0.01 {
            let text = format!(
                "{}: the other boundaries of these rooms take all of the {found:.2} m2 the outlines give",
                record.label
            );
            self.problem("project::area", place, text, "state its area, or correct theirs");
            return None;
        }
        Some((rest, true))
    }

    fn no_area(&mut self, w: &Written) {
        let [a, b] = w.rooms.map(|r| r.0);
        if self.overlapping.contains(&(a.min(b), a.max(b))) {
            return;
        }
        let names = w.rooms.map(|r| self.building.rooms[r.0].id.clone());
        let drawn = w.rooms.map(|r| {
            let room = &self.building.rooms[r.0];
            room.outline.is_some() || room.outdoors
        });
        let label = &w.record.label;
        let help = "state it, for example `area = \"12.4 m2\"`";
        let (text, help) = if drawn == [true, true] {
            let apart = match self.distance(w.rooms[0], w.rooms[1]) {
                Some(d) if d > self.search.thickest.0 => format!("; they lie {d:.2} m apart"),
                _ => String::new(),
            };
            let what = match w.kind {
                BoundaryKind::Wall => "wall",
                BoundaryKind::Floor => "floor",
                BoundaryKind::Roof => "roof",
            };
            (
                format!(
                    "{label}: rooms `{}` and `{}` share no {what} on the plan, and no area is stated{apart}",
                    names[0], names[1]
                ),
                "correct the outlines or storeys, raise `thickest_wall` in `[defaults]`, or state `area`",
            )
        } else {
            let which = names.iter().zip(drawn).find(|(_, d)| !d).map(|(n, _)| n.as_str());
            (
                format!(
                    "{label}: the area cannot be found, because room `{}` has no outline",
                    which.unwrap_or("?")
                ),
                help,
            )
        };
        self.problem("project::area", w.record.at("between"), text, help);
    }

    fn boundary(&mut self, w: &Written, area: Option<(f64, bool)>, root: &Root) {
        let record = w.record;
        let id = match record.text("id") {
            Some(id) => {
                self.take("boundary", record, "id", id);
                id.to_owned()
            }
            None => self.boundary_id(w.rooms),
        };
        let build_up = match record.text("build_up") {
            Some(name) => self.build_up_ref(&record.label, name, record.at("build_up")),
            None if record.is_bad("build_up") => None,
            None => {
                let outdoors = w.rooms.iter().any(|r| self.building.rooms[r.0].outdoors);
                let found = self.default_build_up(root, w.kind, outdoors);
                match found {
                    Some((index, name)) => {
                        let text = format!("not stated; `{name}` of `[defaults]` taken");
                        self.notes.assume(
                            format!("{}, build_up", record.label),
                            text,
                            &record.place,
                        );
                        Some(index)
                    }
                    None => {
                        let text = format!("{}: `build_up` is missing", record.label);
                        let help = "name a `[[build_up]]`, for example `build_up = \"split-frame\"`, or set one in `[defaults]`";
                        self.problem("project::missing", &record.place, text, help);
                        None
                    }
                }
            }
        };
        let (area, area_found) = area.unwrap_or((1.0, false));
        for key in ["opening", "leak"] {
            if record.records(key).len() > MOST_IN_ONE {
                let text = format!("{}: more than {MOST_IN_ONE} of `{key}`", record.label);
                self.problem("project::count", record.at(key), text, "split the boundary");
                return;
            }
        }
        if let Some(mass) = record.number("load_allowance") {
            self.building.care.allowances.push((id.clone(), SurfaceMass(mass)));
        }
        let mut openings = Vec::new();
        for opening in record.records("opening") {
            if let Some(opening) = self.opening(opening, &id) {
                openings.push(opening);
            }
        }
        let holes: f64 = openings.iter().map(|o: &Opening| o.width.0 * o.height.0).sum();
        if holes > area * 1.001 && (area_found || record.given("area").is_some()) {
            let text = format!("{}: its openings take {holes:.2} m2 of {area:.2} m2", record.label);
            let help = "check the sizes of the openings and the area of the boundary";
            self.problem("project::openings", record.at("opening"), text, help);
        }
        let mut leaks = Vec::new();
        for leak in record.records("leak") {
            if let Some(leak) = self.leak(leak, &id, build_up) {
                leaks.push(leak);
            }
        }
        if record.has("distance") && !w.rooms.iter().any(|r| self.building.rooms[r.0].outdoors) {
            let text =
                format!("{}: `distance` belongs to boundaries to the outdoors", record.label);
            self.problem("project::misplaced", record.at("distance"), text, "take it out");
        }
        // Without a build-up there is an error already and no project; the boundary is kept so
        // that messages about its openings and about unreached rooms stay true.
        self.building.boundaries.push(Boundary {
            id,
            title: record.text("title").map(str::to_owned),
            rooms: w.rooms,
            kind: w.kind,
            build_up: build_up.unwrap_or(BuildUpIndex(0)),
            area: SquareMetre(area),
            area_found,
            openings,
            leaks,
            distance: record.number("distance").map(Metre),
            standpoint: record.standpoint(),
        });
        self.facing(record, self.building.boundaries.len() - 1);
    }

    fn boundary_id(&mut self, rooms: [RoomIndex; 2]) -> String {
        let [a, b] = rooms.map(|r| self.building.rooms[r.0].id.as_str());
        let stem = format!("{a}/{b}");
        self.make_id("boundary", &stem)
    }

    fn default_build_up(
        &mut self,
        root: &Root,
        kind: BoundaryKind,
        outdoors: bool,
    ) -> Option<(BuildUpIndex, String)> {
        let defaults = root.defaults.as_ref()?;
        let key = match (kind, outdoors) {
            (BoundaryKind::Wall, false) => "wall",
            (BoundaryKind::Wall, true) => "outer_wall",
            (BoundaryKind::Roof, _) | (BoundaryKind::Floor, true) => "roof",
            (BoundaryKind::Floor, false) => "floor",
        };
        let name = defaults.text(key)?;
        Some((self.building.build_up(name)?, name.to_owned()))
    }

    fn opening(&mut self, record: &Record, boundary: &str) -> Option<Opening> {
        let kind_word = record.text("kind")?;
        let kind = match kind_word {
            "window" => OpeningKind::Window,
            "hatch" => OpeningKind::Hatch,
            "hole" => OpeningKind::Hole,
            _ => OpeningKind::Door,
        };
        let id = match record.text("id") {
            Some(id) => {
                self.take("opening", record, "id", id);
                id.to_owned()
            }
            None => self.make_id("opening", &format!("{boundary}:{kind_word}")),
        };
        let leaf = match (record.text("leaf"), kind) {
            (Some(_), OpeningKind::Hole) => {
                let text = format!("{}: a hole has no leaf", record.label);
                self.problem(
                    "project::misplaced",
                    record.at("leaf"),
                    text,
                    "take `leaf` out, or write another `kind`",
                );
                None
            }
            (Some(text), _) => self.leaf(&record.label, text, record.at("leaf")),
            (None, OpeningKind::Hole) => None,
            (None, _) => {
                if !record.is_bad("leaf") {
                    let text = format!("{}: `leaf` is missing", record.label);
                    let help = "for example `leaf = \"solid timber door 44 mm\"`, or `kind = \"hole\"` where there is none";
                    self.problem("project::missing", &record.place, text, help);
                }
                None
            }
        };
        if kind == OpeningKind::Hole {
            for key in ["seals", "keyhole", "letter_plate", "second_leaf", "state"] {
                if record.has(key) {
                    let text = format!("{}: a hole has no `{key}`", record.label);
                    self.problem("project::misplaced", record.at(key), text, "take it out");
                }
            }
        }
        if let Some(height) = record.number("sill_height") {
            self.building.care.sills.push((id.clone(), Metre(height)));
        }
        let (head, jambs, sill) = self.seals(record, kind);
        let second = match record.record("second_leaf").filter(|_| kind != OpeningKind::Hole) {
            Some(second) => Some(Box::new(self.second_leaf(second, kind)?)),
            None => None,
        };
        let state = match record.text("state") {
            None if kind == OpeningKind::Hole => OpeningState::Open,
            None => OpeningState::Closed,
            Some(text) => self.state_word(&record.label, text, record.at("state"))?,
        };
        Some(Opening {
            id,
            title: record.text("title").map(str::to_owned),
            kind,
            leaf,
            width: Metre(record.number("width")?),
            height: Metre(record.number("height")?),
            head,
            jambs,
            sill,
            keyhole: record.flag("keyhole").unwrap_or(false),
            state,
            standpoint: record.standpoint(),
            letter_plate: record.text("letter_plate").map(words::seal_kind),
            second,
        })
    }

    fn second_leaf(&mut self, record: &Record, kind: OpeningKind) -> Option<SecondLeaf> {
        let leaf = self.leaf(&record.label, record.text("leaf")?, record.at("leaf"));
        let (head, jambs, sill) = self.seals(record, kind);
        Some(SecondLeaf {
            leaf: leaf?,
            gap: Metre(record.number("gap")?),
            head,
            jambs,
            sill,
            separate_frames: record.text("frames") == Some("separate"),
            lined: record.text("reveal") == Some("lined"),
        })
    }

    pub(super) fn state_word(
        &mut self,
        label: &str,
        text: &str,
        place: &Place,
    ) -> Option<OpeningState> {
        let state = words::opening_state(text);
        if state.is_none() {
            let message = format!("{label}: `{}` is no position of a leaf", short(text));
            self.problem("project::word", place, message, "`closed`, `open`, `taped`, or `ajar` with the distance off the frame as `ajar 50 mm`");
        }
        state
    }

    /// Seals of the three kinds of edge.
    fn seals(&mut self, record: &Record, kind: OpeningKind) -> (Seal, Seal, Seal) {
        let door = kind == OpeningKind::Door;
        let usual_sill = if door { USUAL_DOOR_SILL_GAP } else { USUAL_GAP };
        let Some(seals) = record.record("seals") else {
            if kind != OpeningKind::Hole && !record.is_bad("seals") {
                let (text, seal) = if kind == OpeningKind::Window {
                    ("not stated; taken as a compression seal all round", SealKind::Compression)
                } else if door {
                    (
                        "not stated; taken as none, 3 mm round and 8 mm at the sill (common practice, no source)",
                        SealKind::None,
                    )
                } else {
                    (
                        "not stated; taken as none, 3 mm round (common practice, no source)",
                        SealKind::None,
                    )
                };
                self.notes.assume(format!("{}, seals", record.label), text, &record.place);
                let edge = |gap| Seal { kind: seal, gap: Metre(gap) };
                return (edge(USUAL_GAP), edge(USUAL_GAP), edge(usual_sill));
            }
            let none = Seal { kind: SealKind::None, gap: Metre(0.0) };
            return (none, none, none);
        };
        let edges = ["head", "jambs", "sill"];
        let kinds = edges.map(|e| seals.text(e).map_or(SealKind::None, words::seal_kind));
        let all_sealed = kinds.iter().all(|k| *k != SealKind::None);
        let common = seals.number("gap");
        let mut taken = Vec::new();
        let mut gaps = [0.0; 3];
        for (i, key) in ["head_gap", "jambs_gap", "sill_gap"].into_iter().enumerate() {
            let open = kinds[i] == SealKind::None;
            gaps[i] =
                seals.number(key).or(common.filter(|_| open || all_sealed)).unwrap_or_else(|| {
                    let usual = if i == 2 { usual_sill } else { USUAL_GAP };
                    if open {
                        taken.push(format!("{} {} mm", edges[i], usual * 1000.0));
                    }
                    if open { usual } else { USUAL_GAP }
                });
        }
        if !taken.is_empty() {
            let text = format!(
                "open slits not stated; taken as {} (common practice, no source)",
                taken.join(", ")
            );
            self.notes.assume(seals.label.clone(), text, &seals.place);
        }
        let seal = |i: usize| Seal { kind: kinds[i], gap: Metre(gaps[i]) };
        (seal(0), seal(1), seal(2))
    }

    fn leak(
        &mut self,
        record: &Record,
        boundary: &str,
        build_up: Option<BuildUpIndex>,
    ) -> Option<Leak> {
        let id = match record.text("id") {
            Some(id) => {
                self.take("leak", record, "id", id);
                id.to_owned()
            }
            None => self.make_id("leak", &format!("{boundary}:leak")),
        };
        let (slit, hole) = (record.has("width") || record.has("length"), record.has("diameter"));
        let shape = match (slit, hole) {
            (true, false) => {
                for key in ["width", "length"] {
                    if !record.has(key) {
                        let text = format!("{}: a slit needs `{key}` too", record.label);
                        self.problem(
                            "project::missing",
                            &record.place,
                            text,
                            "for example `width = \"2 mm\"`, `length = \"3 m\"`",
                        );
                    }
                }
                LeakShape::Slit {
                    width: Metre(record.number("width")?),
                    length: Metre(record.number("length")?),
                    along_edge: record.flag("along_edge").unwrap_or(false),
                }
            }
            (false, true) => LeakShape::Hole { diameter: Metre(record.number("diameter")?) },
            _ => {
                let text = format!("{}: a leak is a slit or a round hole", record.label);
                let help = "a slit has `width` and `length`, a hole has `diameter`";
                self.problem("project::leak", &record.place, text, help);
                return None;
            }
        };
        let depth = match record.number("depth") {
            Some(depth) => depth,
            None => match build_up.and_then(|b| self.thickness(b)) {
                Some(depth) => {
                    if !record.is_bad("depth") {
                        let text = format!(
                            "not stated; the thickness of the build-up, {:.0} mm, taken",
                            depth * 1000.0
                        );
                        self.notes.assume(format!("{}, depth", record.label), text, &record.place);
                    }
                    depth
                }
                None => {
                    if build_up.is_some() && !record.is_bad("depth") {
                        let text = format!("{}: `depth` is missing", record.label);
                        let help = "the thickness of the build-up is not known either; for example `depth = \"150 mm\"`";
                        self.problem("project::missing", &record.place, text, help);
                    }
                    return None;
                }
            },
        };
        Some(Leak {
            id,
            title: record.text("title").map(str::to_owned),
            shape,
            depth: Metre(depth),
            standpoint: record.standpoint(),
        })
    }

    /// Thickness of a build-up, if its layers or its sheet say it.
    fn thickness(&self, build_up: BuildUpIndex) -> Option<f64> {
        let of_layers = |layers: &[Layer]| -> f64 {
            layers
                .iter()
                .map(|layer| match layer {
                    Layer::Board(b) => b.thickness.0 * f64::from(b.count),
                    Layer::Cavity(c) => c.depth.0,
                })
                .sum()
        };
        match &self.building.build_ups.get(build_up.0)?.construction {
            Construction::Layers(layers) => Some(of_layers(layers)).filter(|t| *t > 0.0),
            Construction::Measured(sheet) => sheet
                .thickness
                .map(|t| t.0)
                .or_else(|| Some(of_layers(&sheet.layers)).filter(|t| *t > 0.0)),
        }
    }

    /// Walls, floors, outer walls and roofs nobody wrote.
    fn found_boundaries(&mut self, root: &Root, described: &BTreeSet<Group>) {
        let defaults_place = root.defaults.as_ref().map(|d| d.place.clone()).unwrap_or_default();
        if let Some(defaults) = &root.defaults {
            for key in ["wall", "floor", "outer_wall", "roof"] {
                if let Some(name) = defaults.text(key) {
                    self.build_up_ref(&format!("[defaults], {key}"), name, defaults.at(key));
                }
            }
        }
        if !self.overlapping.is_empty() {
            return;
        }
        let count = self.building.rooms.len();
        for i in 0..count {
            for j in i + 1..count {
                let (a, b) = (RoomIndex(i), RoomIndex(j));
                let Some(shared) = self.shared(a, b) else { continue };
                let (kind, area, rooms) = match shared {
                    Shared::Wall { length, height } => {
                        (BoundaryKind::Wall, length * height, [a, b])
                    }
                    Shared::Floor { area, first_below: true } => {
                        (BoundaryKind::Floor, area, [a, b])
                    }
                    Shared::Floor { area, .. } => (BoundaryKind::Floor, area, [b, a]),
                };
                if described.contains(&(i, j, rank(kind))) {
                    continue;
                }
                if area < super::rooms::SLIVER * 2.0 {
                    let text = format!(
                        "rooms `{}` and `{}` share only {area:.3} m2; left out",
                        self.building.rooms[i].id, self.building.rooms[j].id
                    );
                    let place = self.room_places[j].clone();
                    self.notes.remark("project::sliver", &place, text);
                    continue;
                }
                self.add_found(root, kind, area, rooms, &defaults_place);
            }
        }
        let outdoors: Vec<usize> =
            (0..count).filter(|i| self.building.rooms[*i].outdoors).collect();
        let wanted = ["outer_wall", "roof"]
            .into_iter()
            .find(|k| root.defaults.as_ref().is_some_and(|d| d.text(k).is_some()));
        let Some(wanted) = wanted else { return };
        let [yard] = outdoors[..] else {
            let text = format!(
                "`{wanted}` of `[defaults]` needs exactly one room with `outdoors = true`, here are {}; outer walls are left out",
                outdoors.len()
            );
            self.notes.remark("project::no-outdoors", &defaults_place, text);
            return;
        };
        for i in 0..count {
            let room = RoomIndex(i);
            let wall = self.outer_length(room).map(|l| l * height(&self.building.rooms[i]));
            let roof = self.roof_area(room);
            for (kind, area) in [(BoundaryKind::Wall, wall), (BoundaryKind::Roof, roof)] {
                let Some(area) = area.filter(|a| *a >= 0.1) else { continue };
                if described.contains(&(i, usize::MAX, rank(kind))) {
                    continue;
                }
                if self.default_build_up(root, kind, true).is_some() {
                    self.add_found(root, kind, area, [room, RoomIndex(yard)], &defaults_place);
                }
            }
        }
    }

    fn add_found(
        &mut self,
        root: &Root,
        kind: BoundaryKind,
        area: f64,
        rooms: [RoomIndex; 2],
        defaults_place: &Place,
    ) {
        let outdoors = rooms.iter().any(|r| self.building.rooms[r.0].outdoors);
        let names = rooms.map(|r| self.building.rooms[r.0].id.clone());
        let what = match kind {
            BoundaryKind::Wall => "wall",
            BoundaryKind::Floor => "floor",
            BoundaryKind::Roof => "roof",
        };
        match self.default_build_up(root, kind, outdoors) {
            Some((build_up, name)) => {
                let id = self.boundary_id(rooms);
                let text = format!(
                    "found on the plan: {area:.2} m2 of {what} between `{}` and `{}`; `{name}` of `[defaults]` taken",
                    names[0], names[1]
                );
                self.notes.assume(format!("boundary `{id}`"), text, defaults_place);
                self.building.boundaries.push(Boundary {
                    id,
                    title: None,
                    rooms,
                    kind,
                    build_up,
                    area: SquareMetre(area),
                    area_found: true,
                    openings: Vec::new(),
                    leaks: Vec::new(),
                    distance: None,
                    standpoint: Standpoint {
                        standing: Standing::Assumed,
                        source: Some("found on the plan, build-up of [defaults]".to_owned()),
                    },
                });
            }
            None => {
                let text = format!(
                    "rooms `{}` and `{}` share {area:.2} m2 of {what} on the plan, and no boundary describes it; no sound is taken to pass there",
                    names[0], names[1]
                );
                let place = self.room_places[rooms[1].0].clone();
                self.notes.remark("project::no-boundary", &place, text);
            }
        }
    }

    /// Pairs of rooms that anything joins.
    fn pairs(&self) -> Vec<[RoomIndex; 2]> {
        let fabric = &self.building.fabric;
        self.building
            .boundaries
            .iter()
            .map(|b| b.rooms)
            .chain(fabric.ducts.iter().map(|d| d.ends.map(|e| e.room)))
            .chain(fabric.small_elements.iter().map(|e| e.rooms))
            .chain(fabric.contacts.iter().map(|c| [c.from, c.into]))
            .collect()
    }

    /// Rooms no boundary reaches.
    pub(super) fn unreached(&mut self) {
        let mut reached = vec![false; self.building.rooms.len()];
        for room in self.pairs().into_iter().flatten() {
            reached[room.0] = true;
        }
        for i in (0..reached.len()).filter(|i| !reached[*i] && reached.len() > 1) {
            let text = format!(
                "no boundary reaches room `{}`; no level can be predicted there",
                self.building.rooms[i].id
            );
            let place = self.room_places[i].clone();
            self.notes.remark("project::unreached", &place, text);
        }
    }

    /// Target rooms that no chain of boundaries joins to any source.
    pub(super) fn without_path(&mut self) {
        if self.building.sources.is_empty() {
            return;
        }
        let count = self.building.rooms.len();
        let mut neighbours = vec![Vec::new(); count];
        for pair in self.pairs() {
            let [a, b] = pair.map(|r| r.0);
            neighbours[a].push(b);
            neighbours[b].push(a);
        }
        let mut joined = vec![false; count];
        let mut open: Vec<usize> = self.building.sources.iter().map(|s| s.room.0).collect();
        while let Some(room) = open.pop() {
            if !std::mem::replace(&mut joined[room], true) {
                open.extend(&neighbours[room]);
            }
        }
        let mut said = vec![false; count];
        let rooms: Vec<usize> = self.building.targets.iter().map(|t| t.room.0).collect();
        for room in rooms {
            if joined[room]
                || neighbours[room].is_empty()
                || std::mem::replace(&mut said[room], true)
            {
                continue;
            }
            let text = format!(
                "no path leads from any source to room `{}`, which has a target",
                self.building.rooms[room].id
            );
            let place = self.room_places[room].clone();
            self.notes.remark("project::no-path", &place, text);
        }
    }
}
