//! Junctions, ducts, vents and contacts; openings taken off the walls they stand in.

use wythe_bands::{Hertz, Level, LevelDifference, Metre, Spectrum, SquareMetre, SurfaceMass};
use wythe_building::{
    Absorption, AirStream, BoundaryIndex, BoundaryKind, Contact, ContactTransfer, Duct, DuctEnd,
    Elbow, ElbowKind, Facing, Ground, Junction, JunctionKind, Mounting, RoomIndex, Section,
    SmallElement, Surface, edges, mounting,
};
use wythe_partition::OpeningKind;

use super::Assembly;
use super::rooms::levels;
use crate::quantity::{self, Quantity};
use crate::read::Root;
use crate::record::{Record, Value, short};
use crate::suggest::hint;

/// Normalised area of level differences, m².
const A0: f64 = 10.0;

impl Assembly<'_> {
    /// Everything that needs rooms, boundaries and sources to be there.
    pub(super) fn fabric(&mut self, root: &Root) {
        for record in &root.ducts {
            self.duct(record);
        }
        for record in &root.vents {
            self.vent(record);
        }
        for record in &root.contacts {
            self.contact(record);
        }
        let found = root.defaults.as_ref().and_then(|d| d.text("flanking")) != Some("left out");
        let mut junctions =
            if found { edges::find(&self.building, &self.search) } else { Vec::new() };
        let mut stated = Vec::new();
        for record in &root.junctions {
            if let Some(junction) = self.junction(record, &mut junctions) {
                stated.push(junction);
            }
        }
        let plated = |j: &Junction| {
            let known = |p: &BoundaryIndex| {
                self.building
                    .boundaries
                    .get(p.0)
                    .is_some_and(|b| b.build_up.0 < self.building.build_ups.len())
            };
            j.plates.iter().flatten().filter(|p| known(p)).count() > 1
        };
        let count = junctions.iter().filter(|j| plated(j)).count();
        if count > 0 {
            let text = format!(
                "{count} edges found from the outlines; where walls and floors of masonry or concrete meet they are taken as joined rigidly, light ones on heavy ones as light double leaves, ± 4.5 dB for each (ISO 12354-1 Annex E, from memory); where all is light nothing passes. An edge that is cut or stands on layers is better than that: state it in `[[junction]]`"
            );
            let place = root.rooms.first().map(|r| r.place.clone()).unwrap_or_default();
            self.notes.assume("edges between walls and floors", text, &place);
        }
        stated.append(&mut junctions);
        self.building.fabric.junctions = stated;
    }

    fn boundary_ref(
        &mut self,
        record: &Record,
        id: &str,
        place: &crate::problem::Place,
    ) -> Option<BoundaryIndex> {
        let found = self.building.boundary(id);
        if found.is_none() {
            let known: Vec<&str> = self.building.boundaries.iter().map(|b| b.id.as_str()).collect();
            let help = hint(id, &known);
            let text = format!("{}: there is no boundary `{}`", record.label, short(id));
            self.problem("project::unknown-boundary", place, text, help);
        }
        found
    }

    fn two_rooms(&mut self, record: &Record) -> Option<[RoomIndex; 2]> {
        let [(a, at_a), (b, at_b)] = record.texts("between") else { return None };
        let first = self.room_ref(&record.label, a, at_a);
        let second = self.room_ref(&record.label, b, at_b);
        let (a, b) = (first?, second?);
        let outdoors = [a, b].iter().all(|r| self.building.rooms[r.0].outdoors);
        if a == b || outdoors {
            let text = format!("{}: both ends are in the same place", record.label);
            self.problem("project::same-room", at_b, text, "name the room at the other end");
            return None;
        }
        Some([a, b])
    }

    fn named(&mut self, kind: &'static str, record: &Record, stem: &str) -> String {
        match record.text("id") {
            Some(id) => {
                self.take(kind, record, "id", id);
                id.to_owned()
            }
            None => self.make_id(kind, stem),
        }
    }

    /// A table per band or a CSV file, each third.
    pub(super) fn curve(
        &mut self,
        record: &Record,
        key: &str,
        column: &'static str,
        range: (f64, f64),
    ) -> Option<Spectrum<f64>> {
        let given = record.given(key)?.clone();
        let table = match given.value {
            Value::Bands(table) => *table,
            Value::Text(path) => self.sheet(&record.label, &path, &given.place, column, range)?,
            _ => return None,
        };
        Some(table.to_thirds(|v| v))
    }

    /// Levels per third; octaves as thirds of equal energy.
    fn level_curve(&mut self, record: &Record, key: &str) -> Option<Spectrum<Level>> {
        let given = record.given(key)?.clone();
        let table = match given.value {
            Value::Bands(table) => *table,
            Value::Text(path) => {
                self.sheet(&record.label, &path, &given.place, "level_db", (-40.0, 194.0))?
            }
            _ => return None,
        };
        Some(levels(&table))
    }

    fn junction(&mut self, record: &Record, found: &mut Vec<Junction>) -> Option<Junction> {
        let mut lists = [Vec::new(), Vec::new()];
        for (list, key) in lists.iter_mut().zip(["through", "across"]) {
            for (id, place) in record.texts(key) {
                list.push(self.boundary_ref(record, id, place)?);
            }
        }
        let [through, across] = lists;
        let mut all: Vec<BoundaryIndex> = through.iter().chain(&across).copied().collect();
        all.sort_unstable();
        let count = all.len();
        all.dedup();
        if all.len() < count {
            let text = format!("{}: a boundary stands in it twice", record.label);
            let help = "at an edge every wall and floor counts once";
            self.problem("project::junction", record.at("across"), text, help);
            return None;
        }
        let word = record.text("kind").unwrap_or("by plates");
        let table = self.curve(record, "level_difference", "difference_db", (0.0, 150.0));
        if record.has("level_difference") && word != "framed" {
            let text = format!("{}: `level_difference` belongs to `framed`", record.label);
            self.problem(
                "project::misplaced",
                record.at("level_difference"),
                text,
                "write `kind = \"framed\"`, or take it out",
            );
        }
        let impact = self.level_curve(record, "impact_level");
        if record.has("impact_level") && word != "framed" {
            let text = format!("{}: `impact_level` belongs to `framed`", record.label);
            self.problem(
                "project::misplaced",
                record.at("impact_level"),
                text,
                "write `kind = \"framed\"`, or take it out",
            );
        }
        let kind = match word {
            "rigid" => JunctionKind::Rigid,
            "flexible layer" => JunctionKind::FlexibleLayer {
                from: Hertz(record.number("helps_from").unwrap_or(125.0)),
            },
            "light facade" => JunctionKind::LightFacade,
            "light double leaf" => JunctionKind::LightDoubleLeaf,
            "coupled light double leaf" => JunctionKind::CoupledLightDoubleLeaf,
            "continuous" => JunctionKind::Continuous,
            "separated" => JunctionKind::Separated,
            "framed" => {
                if table.is_none() {
                    let text = "Dn,f not stated; an untreated framed junction taken, 52 dB at 500 Hz, ± 8 dB (an assumption without source)";
                    self.notes.assume(
                        format!("{}, level_difference", record.label),
                        text,
                        &record.place,
                    );
                }
                JunctionKind::Framed(table.map(|t| t.map(|_, d| LevelDifference(d))))
            }
            _ => JunctionKind::ByPlates,
        };
        let alone = matches!(kind, JunctionKind::Framed(_) | JunctionKind::Separated);
        if !alone && count < 2 {
            let text = format!("{}: one boundary makes no junction", record.label);
            self.problem(
                "project::junction",
                record.at("across"),
                text,
                "name what runs `through` and what stands `across`",
            );
            return None;
        }
        let mut replaced = 0.0;
        found.retain(|j| {
            let holds = all.iter().all(|p| j.plates.contains(&Some(*p)));
            if holds {
                replaced += j.length.0;
            }
            !holds
        });
        let length = match record.number("length") {
            Some(length) => length,
            None if alone => 1.0,
            None if replaced > 0.0 => replaced,
            None => {
                if !record.is_bad("length") {
                    let text = format!(
                        "{}: `length` is missing, and the outlines show no such edge",
                        record.label
                    );
                    self.problem(
                        "project::missing",
                        &record.place,
                        text,
                        "for example `length = \"5.4 m\"`",
                    );
                }
                return None;
            }
        };
        let slot = |list: &[BoundaryIndex], k: usize| list.get(k).copied();
        let (first, second) = if matches!(kind, JunctionKind::Framed(_)) {
            (&across, &through)
        } else {
            (&through, &across)
        };
        let plates = [slot(first, 0), slot(second, 0), slot(first, 1), slot(second, 1)];
        let stem = all
            .iter()
            .map(|b| self.building.boundaries[b.0].id.as_str())
            .collect::<Vec<_>>()
            .join(" + ");
        let id = self.named("junction", record, &stem);
        Some(Junction {
            id,
            title: record.text("title").map(str::to_owned),
            plates,
            length: Metre(length),
            kind,
            impact,
            found: false,
            standpoint: record.standpoint(),
        })
    }

    fn duct(&mut self, record: &Record) {
        let rooms = self.two_rooms(record);
        let stem = record.texts("between").iter().map(|(t, _)| t.as_str()).collect::<Vec<_>>();
        let id = self.named("duct", record, &format!("{} duct", stem.join("/")));
        let section = match (
            record.number("width"),
            record.number("height"),
            record.number("diameter"),
        ) {
            (Some(w), Some(h), None) => {
                Some(Section::Rectangular { width: Metre(w), height: Metre(h) })
            }
            (None, None, Some(d)) => Some(Section::Round { diameter: Metre(d) }),
            _ => {
                let bad = ["width", "height", "diameter"].iter().any(|k| record.is_bad(k));
                if !bad {
                    let text = format!("{}: its cross-section is not clear", record.label);
                    let help =
                        "a rectangular duct has `width` and `height`, a round one has `diameter`";
                    self.problem("project::duct", &record.place, text, help);
                }
                None
            }
        };
        let mut elbows = Vec::new();
        for (word, place) in record.texts("elbows") {
            let (lined, shape) = match word.trim().strip_prefix("lined ") {
                Some(rest) => (true, rest.trim()),
                None => (false, word.trim()),
            };
            let kind = match shape {
                "square" => ElbowKind::Square,
                "vaned" => ElbowKind::Vaned,
                "round" => ElbowKind::Round,
                _ => {
                    let text = format!("{}: `{}` is no elbow", record.label, short(word));
                    let help =
                        "`square`, `vaned` or `round`, with `lined` before it where it is lined";
                    self.problem("project::word", place, text, help);
                    continue;
                }
            };
            elbows.push(Elbow { kind, lined });
        }
        let mut splits = Vec::new();
        for (word, place) in record.texts("splits") {
            match quantity::parse(Quantity::Percent, word) {
                Ok(percent) if percent > 0.0 && percent <= 100.0 => splits.push(percent / 100.0),
                _ => {
                    let text = format!("{}: `{}` is no share", record.label, short(word));
                    self.problem("project::unit", place, text, "for example `splits = [\"50 %\"]`");
                }
            }
        }
        let silencer = self.curve(record, "silencer", "loss_db", (0.0, 100.0));
        let noise = [self.level_curve(record, "noise"), self.level_curve(record, "noise_there")];
        let mut through = Vec::new();
        for part in record.records("through") {
            let (Some(room), Some(length)) = (part.text("room"), part.number("length")) else {
                continue;
            };
            if let Some(room) = self.room_ref(&part.label, room, part.at("room")) {
                through.push((room, Metre(length)));
            }
        }
        if !through.is_empty() && !record.has("wall_mass") {
            let text = "mass of the duct's wall not stated; taken as 5.5 kg/m2, thin sheet steel (common practice, no source)";
            self.notes.assume(format!("{}, wall_mass", record.label), text, &record.place);
        }
        let (Some(rooms), Some(section), Some(length)) = (rooms, section, record.number("length"))
        else {
            return;
        };
        let opening = SquareMetre(record.number("grille").unwrap_or(section.area().0));
        let flush = record.text("ends") != Some("free");
        let lining = record.number("lining").unwrap_or(0.0);
        let stream = match record.number("flow") {
            Some(flow) => {
                if !record.has("grille_loss") && !record.is_bad("grille_loss") {
                    let text = "not stated; taken as 3 velocity pressures over its face (practice)";
                    self.notes.assume(
                        format!("{}, grille_loss", record.label),
                        text,
                        &record.place,
                    );
                }
                Some(AirStream {
                    // The file's unit is L/s.
                    flow: flow / 1000.0,
                    grille_loss: record.number("grille_loss").unwrap_or(3.0),
                    damper: record.number("damper"),
                })
            }
            None => {
                for key in ["grille_loss", "damper"] {
                    if record.has(key) {
                        let text =
                            format!("{}: `{key}` makes noise only by a `flow`", record.label);
                        let help = "give `flow = \"60 L/s\"`, or take it out";
                        self.problem("project::misplaced", record.at(key), text, help);
                    }
                }
                None
            }
        };
        self.building.fabric.ducts.push(Duct {
            id,
            title: record.text("title").map(str::to_owned),
            ends: rooms.map(|room| DuctEnd { room, opening, flush }),
            section,
            length: Metre(length),
            lined_length: Metre(record.number("lined_length").unwrap_or(length)),
            lining: Metre(lining),
            elbows,
            splits,
            silencer: silencer.map(|s| s.map(|_, d| LevelDifference(d))),
            noise,
            stream,
            wall: (!through.is_empty())
                .then(|| SurfaceMass(record.number("wall_mass").unwrap_or(5.5))),
            through,
            standpoint: record.standpoint(),
        });
    }

    fn vent(&mut self, record: &Record) {
        let rooms = self.two_rooms(record);
        let stem = record.texts("between").iter().map(|(t, _)| t.as_str()).collect::<Vec<_>>();
        let id = self.named("vent", record, &format!("{} vent", stem.join("/")));
        let table = self.curve(record, "level_difference", "difference_db", (-10.0, 150.0));
        let (Some(rooms), Some(table)) = (rooms, table) else { return };
        self.building.fabric.small_elements.push(SmallElement {
            id,
            title: record.text("title").map(str::to_owned),
            rooms,
            level_difference: table.map(|_, d| LevelDifference(d)),
            count: record.whole("count").unwrap_or(1).clamp(1, 1000) as u32,
            standpoint: record.standpoint(),
        });
    }

    fn contact(&mut self, record: &Record) {
        let (Some(of), Some(into)) = (record.text("of"), record.text("into")) else { return };
        let source = self.building.sources.iter().find(|s| s.id == of).cloned();
        if source.is_none() {
            let known: Vec<&str> = self.building.sources.iter().map(|s| s.id.as_str()).collect();
            let help = hint(of, &known);
            let text = format!("{}: there is no source `{}`", record.label, short(of));
            self.problem("project::unknown-source", record.at("of"), text, help);
        }
        let into = self.room_ref(&record.label, into, record.at("into"));
        let id = self.named("contact", record, &format!("{of} on the floor"));
        let (Some(source), Some(into)) = (source, into) else { return };
        let receiver = &self.building.rooms[into.0];
        if into == source.room || receiver.outdoors || self.building.rooms[source.room.0].outdoors {
            let text = format!("{}: the structure joins two different rooms", record.label);
            let help = "name the room where it is heard, not the one it plays in nor the outdoors";
            self.problem("project::same-room", record.at("into"), text, help);
            return;
        }
        let transfer = if record.has("heard") {
            if record.has("floor") {
                let text = format!(
                    "{}: both `heard` and `floor` are stated; `heard` counts",
                    record.label
                );
                self.notes.remark("project::two-contacts", record.at("floor"), text);
            }
            let (areas, _) = receiver.absorption_area(self.building.air);
            let Some(heard) = self.level_curve(record, "heard") else { return };
            ContactTransfer::Measured(source.levels.zip_with(&heard, |l, h| (l, h)).filter_map(
                |band, (l, h)| {
                    let area = areas.get(band)?.0;
                    Some(LevelDifference(l.0 - h.0 - 10.0 * (area / A0).log10()))
                },
            ))
        } else {
            let Some(name) = record.text("floor").map(str::to_owned) else {
                let text = format!("{}: nothing says how it is heard", record.label);
                let help = "give `heard`, the level measured there through the structure, or `floor`, the floor it stands on";
                self.problem("project::missing", &record.place, text, help);
                return;
            };
            let Some(floor) = self.boundary_ref(record, &name, record.at("floor")) else { return };
            let stood_on = &self.building.boundaries[floor.0];
            if stood_on.kind != BoundaryKind::Floor || stood_on.rooms[1] != source.room {
                let text = format!(
                    "{}: `{}` is not the floor of the source's room `{}`",
                    record.label,
                    short(&name),
                    self.building.rooms[source.room.0].id
                );
                let help = "name the boundary it stands on, a floor written from below; for other ways give `heard`";
                self.problem("project::contact", record.at("floor"), text, help);
                return;
            }
            let force = match record.bands("force") {
                Some(table) => table.to_thirds(|v| v),
                None => {
                    let text = "force not stated; guessed from the standard tapping machine, ± 10 dB (no source)";
                    self.notes.assume(format!("{}, force", record.label), text, &record.place);
                    let soft = record.text("blow") != Some("hard");
                    Spectrum::from_fn(|band| {
                        let octaves = (band.centre().0 / 125.0).log2().max(0.0);
                        if soft { -12.0 * octaves } else { 0.0 }
                    })
                }
            };
            ContactTransfer::Estimated {
                floor,
                force: force.zip_with(&source.levels, |f, l| LevelDifference(f - l.0)),
            }
        };
        let mount = match record.record("mount") {
            Some(mount) => Some(match self.mount(mount) {
                Some(mount) => mount,
                None => return,
            }),
            None => None,
        };
        self.building.fabric.contacts.push(Contact {
            id,
            title: record.text("title").map(str::to_owned),
            from: source.room,
            into,
            transfer,
            mount,
            standpoint: record.standpoint(),
        });
    }

    pub(super) fn mount(&mut self, record: &Record) -> Option<Mounting> {
        let spring = record
            .number("natural_frequency")
            .or_else(|| Some(mounting::by_deflection(Metre(record.number("deflection")?))?.0));
        let air = match (record.number("air_gap"), record.number("load")) {
            (Some(gap), Some(load)) => {
                let filled = record.flag("filled").unwrap_or(false);
                let stiffness = mounting::trapped_air_stiffness(Metre(gap), filled);
                mounting::by_stiffness(SurfaceMass(load), stiffness).map(|f| f.0)
            }
            (Some(_), None) => {
                let text = format!("{}: the trapped air needs `load` too", record.label);
                self.problem(
                    "project::missing",
                    &record.place,
                    text,
                    "for example `load = \"60 kg/m2\"`",
                );
                return None;
            }
            _ => None,
        };
        if spring.is_none() && air.is_none() {
            let text = format!("{}: its natural frequency cannot be found", record.label);
            let help = "give `natural_frequency` or `deflection`, or `air_gap` with `load`";
            self.problem("project::missing", &record.place, text, help);
            return None;
        }
        Some(Mounting {
            // Springs side by side: stiffnesses add, so squares of frequencies do.
            natural_frequency: Hertz(spring.unwrap_or(0.0).hypot(air.unwrap_or(0.0))),
            damping: record.number("damping").unwrap_or(mounting::USUAL_DAMPING),
            measured: record.flag("measured").unwrap_or(false),
        })
    }

    /// How a boundary lies to the point of interest outdoors.
    pub(super) fn facing(&mut self, record: &Record, boundary: usize) {
        const KEYS: [&str; 8] = [
            "angle_degrees",
            "facade_shape",
            "screen_detour",
            "screen_beside",
            "screen_thickness",
            "hard_ground",
            "soft_ground",
            "ground_heights",
        ];
        let Some(first) = KEYS.into_iter().find(|k| record.has(k)) else { return };
        let outdoors = self.building.boundaries[boundary]
            .rooms
            .iter()
            .any(|r| self.building.rooms[r.0].outdoors);
        if !outdoors {
            let text = format!("{}: `{first}` belongs to boundaries to the outdoors", record.label);
            self.problem("project::misplaced", record.at(first), text, "take it out");
            return;
        }
        for key in ["screen_beside", "screen_thickness"] {
            if record.has(key) && !record.has("screen_detour") {
                let text = format!("{}: `{key}` needs `screen_detour` too", record.label);
                let help = "for example `screen_detour = \"0.4 m\"`, how much longer the way over the screen is";
                self.problem("project::missing", record.at(key), text, help);
            }
        }
        let beside = self.lengths(record, "screen_beside");
        let heights = self.lengths(record, "ground_heights");
        if record.has("ground_heights") && !record.has("soft_ground") {
            let text = format!("{}: `ground_heights` needs `soft_ground` too", record.label);
            let help = "for example `soft_ground = \"80 %\"`";
            self.problem("project::missing", record.at("ground_heights"), text, help);
        }
        let ground = record.number("soft_ground").map(|soft| {
            if heights.len() < 2 {
                let text = "not stated; taken as 1.5 m at the boundary and 1.5 m there (practice)";
                let what = format!("{}, ground_heights", record.label);
                self.notes.assume(what, text, &record.place);
            }
            let height = |k: usize| heights.get(k).copied().unwrap_or(Metre(1.5));
            Ground { soft: soft / 100.0, heights: [height(0), height(1)] }
        });
        self.building.fabric.facings.push(Facing {
            boundary: BoundaryIndex(boundary),
            angle_degrees: record.number("angle_degrees").unwrap_or(0.0),
            facade_shape: LevelDifference(record.number("facade_shape").unwrap_or(0.0)),
            screen_detour: record.number("screen_detour").map(Metre),
            screen_beside: [beside.first().copied(), beside.get(1).copied()],
            screen_thickness: record.number("screen_thickness").map(Metre),
            hard_ground: record.flag("hard_ground").unwrap_or(false),
            ground,
        });
    }

    /// A list of lengths from 0 to 1 km.
    fn lengths(&mut self, record: &Record, key: &str) -> Vec<Metre> {
        let mut out = Vec::new();
        for (word, place) in record.texts(key) {
            match quantity::parse(Quantity::Length, word) {
                Ok(length) if (0.0..=1000.0).contains(&length) => out.push(Metre(length)),
                _ => {
                    let text = format!("{}: `{}` is no length here", record.label, short(word));
                    let help = format!("for example `{key} = [\"0.5 m\", \"2 m\"]`");
                    self.problem("project::unit", place, text, help);
                }
            }
        }
        out
    }

    /// Doors and windows are no part of the walls they stand in: their areas change finish, so
    /// that nothing is counted twice. Holes take wall away and put nothing there.
    pub(super) fn openings_off_walls(&mut self) {
        /// Position of the walls among the surfaces that `finishes` makes: floor, walls, ceiling.
        const WALLS: usize = 1;
        for boundary in &self.building.boundaries {
            if boundary.kind != wythe_building::BoundaryKind::Wall {
                continue;
            }
            for room in boundary.rooms {
                let Some(room) = self.building.rooms.get_mut(room.0) else { continue };
                let Absorption::Finishes(surfaces) = &mut room.absorption else { continue };
                for opening in &boundary.openings {
                    let area = opening.width.0 * opening.height.0;
                    let Some(walls) = surfaces.get_mut(WALLS) else { continue };
                    if !(area > 0.0 && area < walls.area.0) {
                        continue;
                    }
                    walls.area.0 -= area;
                    let finish = match opening.kind {
                        OpeningKind::Hole => continue,
                        OpeningKind::Window => "glass",
                        OpeningKind::Door | OpeningKind::Hatch => "timber door",
                    };
                    match surfaces.iter_mut().skip(3).find(|s| s.finish == finish) {
                        Some(same) => same.area.0 += area,
                        None => surfaces
                            .push(Surface { finish: finish.to_owned(), area: SquareMetre(area) }),
                    }
                }
            }
        }
    }
}
