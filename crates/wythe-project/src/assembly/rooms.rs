//! Rooms: size, absorption, background.

use wythe_bands::{CubicMetre, Level, Metre, Seconds, Spectrum, SquareMetre};
use wythe_building::outline::{Outline, OutlineError};
use wythe_building::{Absorption, Room, RoomIndex, Surface, finish};

use super::Assembly;
use crate::keys::LONGEST_ROOM;
use crate::problem::Place;
use crate::record::{Record, Value, short};
use crate::suggest::hint;
use crate::{criterion, spectra, survey};

/// Overlaps up to this, m², are slips of the tape and only remarked.
pub(super) const SLIVER: f64 = 0.05;
/// Narrower than this nobody stands in it, m.
const NARROWEST: f64 = 0.3;

/// After so many the plan as a whole is wrong, and more pairs tell nothing.
const MOST_OVERLAPS: usize = 30;

struct Size {
    outline: Option<Outline>,
    height: Option<f64>,
    volume: f64,
    floor_area: f64,
}

impl Assembly<'_> {
    pub(super) fn room(&mut self, record: &Record) {
        let id = record.text("id").unwrap_or_default().to_owned();
        self.take("room", record, "id", &id);
        let outdoors = record.flag("outdoors").unwrap_or(false);
        let size = if outdoors { self.outdoors(record) } else { self.size(record) };
        let absorption = if outdoors {
            Absorption::Area(Spectrum::empty())
        } else {
            self.absorption(record, &size)
        };
        let background = self.background(record);
        self.room_care(record, outdoors);
        self.room_places.push(record.at("id").clone());
        self.building.rooms.push(Room {
            id,
            title: record.text("title").map(str::to_owned),
            storey: record.whole("storey").unwrap_or(0) as i32,
            outline: size.outline,
            height: size.height.map(Metre),
            volume: CubicMetre(size.volume),
            floor_area: SquareMetre(size.floor_area),
            outdoors,
            distance: record.number("distance").map(Metre),
            absorption,
            background,
            standpoint: record.standpoint(),
        });
    }

    fn outdoors(&mut self, record: &Record) -> Size {
        for key in
            ["outline", "height", "volume", "floor_area", "finishes", "absorption", "decay_time"]
        {
            if record.has(key) {
                let text = format!("{}: the outdoors has no `{key}`", record.label);
                self.problem(
                    "project::misplaced",
                    record.at(key),
                    text,
                    "take it out, or take `outdoors` out",
                );
            }
        }
        if !record.has("distance") {
            let what = format!("{}, distance", record.label);
            self.notes.assume(what, "not stated; taken as 1 m from the wall", &record.place);
        }
        Size { outline: None, height: None, volume: 0.0, floor_area: 0.0 }
    }

    fn size(&mut self, record: &Record) -> Size {
        if record.has("distance") {
            let text = format!("{}: `distance` belongs to the outdoors", record.label);
            self.problem(
                "project::misplaced",
                record.at("distance"),
                text,
                "add `outdoors = true`, or take it out",
            );
        }
        let outline = self.outline(record);
        let height = record.number("height");
        let volume = record.number("volume");
        let floor = record.number("floor_area");
        let drawn = outline.as_ref().map(|o| o.area().0);
        let floor_area = drawn.or(floor);
        if let (Some(drawn), Some(stated)) = (drawn, floor)
            && (drawn / stated - 1.0).abs() > 0.1
        {
            let text = format!(
                "{}: floor area {stated} m2 is stated, the outline has {drawn:.2} m2; the outline counts",
                record.label
            );
            self.notes.remark("project::two-sizes", record.at("floor_area"), text);
        }
        // A broken value has its own message; the rest is judged as if nothing were missing.
        let broken = ["outline", "height", "volume", "floor_area"].iter().any(|k| record.is_bad(k));
        let (volume, floor_area, height) = match (volume, floor_area, height) {
            (Some(v), Some(s), h) => {
                if let Some(h) = h
                    && (v / (s * h) - 1.0).abs() > 0.1
                {
                    let text = format!(
                        "{}: volume {v} m3 is stated, floor area times height gives {:.1} m3; the volume counts",
                        record.label,
                        s * h
                    );
                    self.notes.remark("project::two-sizes", record.at("volume"), text);
                }
                (v, s, h.or(Some(v / s)))
            }
            (None, Some(s), Some(h)) => (s * h, s, Some(h)),
            (Some(v), None, Some(h)) => (v, v / h, Some(h)),
            (Some(v), None, None) => {
                let text = "height not stated; taken as 2.5 m (common practice, no source)";
                self.notes.assume(
                    format!("{}, floor_area", record.label),
                    text,
                    record.at("volume"),
                );
                (v, v / 2.5, None)
            }
            (None, s, h) => {
                if !broken {
                    let text = if s.is_some() {
                        format!("{}: `height` is missing", record.label)
                    } else {
                        format!("{}: the size is missing", record.label)
                    };
                    let help = "a room has `outline` and `height`, or `volume`; for example `volume = \"60 m3\"`, `height = \"2.5 m\"`";
                    self.problem("project::missing", &record.place, text, help);
                }
                (s.unwrap_or(1.0) * h.unwrap_or(2.5), s.unwrap_or(1.0), h)
            }
        };
        if let Some(h) = height.filter(|h| !(*h >= 0.2 && *h <= 100.0))
            && !broken
        {
            let text =
                format!("{}: volume over floor area gives a height of {h:.3} m", record.label);
            self.problem(
                "project::range",
                record.at("volume"),
                text,
                "check volume and floor area; heights lie between 0.2 m and 100 m",
            );
        }
        Size { outline, height, volume, floor_area }
    }

    fn outline(&mut self, record: &Record) -> Option<Outline> {
        let Value::Points(points) = &record.given("outline")?.value else { return None };
        let corners = points.iter().map(|(p, _)| *p).collect();
        let corner = |i: usize| points.get(i - 1).map(|(_, place)| place);
        match Outline::checked(corners) {
            Ok(outline) => {
                let (low, high) = outline.bounds()?;
                let (x, y) = (high.x.0 - low.x.0, high.y.0 - low.y.0);
                if x > LONGEST_ROOM || y > LONGEST_ROOM {
                    let text = format!("{}: the outline is {x:.0} m by {y:.0} m", record.label);
                    self.problem(
                        "project::range",
                        record.at("outline"),
                        text,
                        "a room is at most 500 m long; check the units",
                    );
                    return None;
                }
                Some(outline)
            }
            Err(error) => {
                let place = match &error {
                    OutlineError::NotANumber(i)
                    | OutlineError::Repeated(i, _)
                    | OutlineError::Crossing(i, _) => corner(*i),
                    _ => None,
                };
                let place = place.unwrap_or(record.at("outline")).clone();
                let help = match error {
                    OutlineError::Crossing(..) => {
                        "list the corners in the order one walks along the walls"
                    }
                    OutlineError::Repeated(..) => "take one of them out",
                    _ => {
                        "for example `outline = [[\"0 m\", \"0 m\"], [\"4 m\", \"0 m\"], [\"4 m\", \"3 m\"], [\"0 m\", \"3 m\"]]`"
                    }
                };
                self.problem(
                    "project::outline",
                    &place,
                    format!("{}: {error}", record.label),
                    help,
                );
                None
            }
        }
    }

    fn absorption(&mut self, record: &Record, size: &Size) -> Absorption {
        let given: Vec<&str> = ["decay_time", "absorption", "finishes"]
            .into_iter()
            .filter(|k| record.given(k).is_some())
            .collect();
        if let [first, second, ..] = given[..] {
            let text = format!(
                "{}: both `{first}` and `{second}` are stated; `{first}` counts",
                record.label
            );
            self.notes.remark("project::two-absorptions", record.at(second), text);
        }
        let surfaces = record.record("finishes").map(|f| self.finishes(f, size));
        if let Some(times) = survey::decay_times(record, "decay_time") {
            return Absorption::DecayTime(times);
        }
        if let Some(areas) = record.bands("absorption") {
            return Absorption::Area(areas.to_thirds(|a| a).map(|_, a| SquareMetre(a)));
        }
        if let Some(surfaces) = surfaces {
            return Absorption::Finishes(surfaces);
        }
        if !["decay_time", "absorption", "finishes"].iter().any(|k| record.is_bad(k)) {
            let text = "nothing stated; decay time taken as 0.5 s in all bands, a furnished dwelling (common practice, no source)";
            self.notes.assume(format!("{}, absorption", record.label), text, &record.place);
        }
        Absorption::DecayTime(Spectrum::from_fn(|_| Seconds(0.5)))
    }

    fn finishes(&mut self, record: &Record, size: &Size) -> Vec<Surface> {
        let mut surfaces = Vec::new();
        let height = size.height.unwrap_or(2.5);
        let perimeter = match &size.outline {
            Some(outline) => outline.perimeter().0,
            None => {
                let text = "no outline; wall area taken as of a square plan";
                self.notes.assume(format!("{}, walls", record.label), text, &record.place);
                4.0 * size.floor_area.sqrt()
            }
        };
        for (key, area) in [
            ("floor", size.floor_area),
            ("walls", perimeter * height),
            ("ceiling", size.floor_area),
        ] {
            let name = match record.text(key) {
                Some(word) => self.finish_name(&record.label, word, record.at(key)),
                None => {
                    if !record.is_bad(key) {
                        let text = "no finish stated; taken as hard: painted concrete";
                        self.notes.assume(format!("{}, {key}", record.label), text, &record.place);
                    }
                    Some("painted concrete")
                }
            };
            if let Some(name) = name {
                surfaces.push(Surface { finish: name.to_owned(), area: SquareMetre(area) });
            }
        }
        for extra in record.records("extra") {
            let Some(word) = extra.text("finish") else { continue };
            let Some(name) = self.finish_name(&extra.label, word, extra.at("finish")) else {
                continue;
            };
            let each = finish::finish(name).is_some_and(|f| f.each);
            let (key, wrong) = if each { ("count", "area") } else { ("area", "count") };
            if extra.has(wrong) {
                let text =
                    format!("{}: `{name}` is told by `{key}`, not by `{wrong}`", extra.label);
                let help =
                    if each { "for example `count = 4`" } else { "for example `area = \"6 m2\"`" };
                self.problem("project::misplaced", extra.at(wrong), text, help);
            }
            match extra.number(key) {
                Some(amount) => {
                    surfaces.push(Surface { finish: name.to_owned(), area: SquareMetre(amount) });
                }
                None if !extra.has(key) => {
                    let text = format!("{}: `{key}` is missing", extra.label);
                    let help = if each {
                        "for example `count = 4`"
                    } else {
                        "for example `area = \"6 m2\"`"
                    };
                    self.problem("project::missing", &extra.place, text, help);
                }
                None => {}
            }
        }
        surfaces
    }

    /// Name of the table for a finish by name or synonym.
    pub(super) fn finish_name(
        &mut self,
        label: &str,
        word: &str,
        place: &Place,
    ) -> Option<&'static str> {
        let found = finish::finish(word);
        if found.is_none() {
            let all: Vec<&str> = finish::FINISHES
                .iter()
                .flat_map(|f| std::iter::once(f.name).chain(f.synonyms.iter().copied()))
                .collect();
            let help = match crate::suggest::nearest(word, all) {
                Some(near) => format!("did you mean `{near}`?"),
                None => {
                    let names: Vec<&str> = finish::FINISHES.iter().map(|f| f.name).collect();
                    hint(word, &names)
                }
            };
            let text = format!("{label}: there is no finish `{}`", short(word));
            self.problem("project::unknown-finish", place, text, help);
        }
        found.map(|f| f.name)
    }

    fn background(&mut self, record: &Record) -> Option<Spectrum<Level>> {
        let given = record.given("background")?.clone();
        let table = match given.value {
            Value::Bands(table) => *table,
            Value::Text(text) if text.ends_with(".csv") => {
                self.sheet(&record.label, &text, &given.place, "level_db", (-20.0, 140.0))?
            }
            Value::Text(text) => match criterion::curve(&text) {
                Some(octaves) => return Some(spectra::thirds_of_octaves(&octaves)),
                None => {
                    let message = format!(
                        "{}: background `{}` is no curve and no CSV file",
                        record.label,
                        short(&text)
                    );
                    let help = "for example `background = \"NR 15\"`, `\"NC 20\"` (NC 15 to 40), a CSV file, or `{ unit = \"dB\", 63 = 38, 125 = 30 }`";
                    self.problem("project::background", &given.place, message, help);
                    return None;
                }
            },
            _ => return None,
        };
        Some(levels(&table))
    }

    /// A room too narrow to stand in is a leftover of the drawing, or a hollow of a wall.
    fn narrow(&mut self, i: usize) {
        let room = &self.building.rooms[i];
        let Some(outline) = &room.outline else { return };
        // Of a long strip this is its width, of other shapes somewhat less than their narrow side.
        let width = 2.0 * outline.area().0 / outline.perimeter().0;
        if width < NARROWEST {
            let text = format!(
                "room `{}` is about {width:.2} m wide, a sliver; if it is a leftover of the drawing take it out, if it is a hollow of a wall make it a cavity in the build-up",
                room.id
            );
            let place = self.room_places[i].clone();
            self.notes.remark("project::sliver", &place, text);
        }
    }

    /// Rooms that lie over each other on one storey.
    pub(super) fn overlaps(&mut self) {
        let count = self.building.rooms.len();
        self.inside = vec![None; count];
        for i in 0..count {
            self.narrow(i);
            for j in i + 1..count {
                if self.overlapping.len() >= MOST_OVERLAPS {
                    return;
                }
                let (a, b) = (&self.building.rooms[i], &self.building.rooms[j]);
                if a.storey != b.storey {
                    continue;
                }
                let (Some(oa), Some(ob)) = (&a.outline, &b.outline) else { continue };
                let common = oa.overlap_area(ob).0;
                if common < 1e-4 {
                    continue;
                }
                let (names, place) = ((a.id.clone(), b.id.clone()), self.room_places[j].clone());
                let (a_name, b_name) = names;
                let slack = SquareMetre(SLIVER);
                let inner = if oa.encloses(ob, slack) {
                    Some((i, j, ob.area().0))
                } else if ob.encloses(oa, slack) {
                    Some((j, i, oa.area().0))
                } else {
                    None
                };
                if let Some((outer, inner, area)) = inner {
                    self.inside[inner] = Some(RoomIndex(outer));
                    let room = &mut self.building.rooms[outer];
                    let before = room.floor_area.0;
                    let rest = (before - area).max(0.01);
                    let volume = room.volume.0 * rest / before;
                    room.floor_area = SquareMetre(rest);
                    room.volume = CubicMetre(volume);
                    let (outer_name, inner_name) = (
                        self.building.rooms[outer].id.clone(),
                        self.building.rooms[inner].id.clone(),
                    );
                    let text = format!(
                        "room `{inner_name}` stands inside room `{outer_name}`; its floor of {area:.2} m2 is taken off, the thickness of its walls is not"
                    );
                    self.notes.remark("project::room-inside", &place, text);
                } else if common < SLIVER {
                    let text = format!(
                        "rooms `{a_name}` and `{b_name}` overlap by a sliver of {common:.3} m2; taken as drawn too tight"
                    );
                    self.notes.remark("project::sliver", &place, text);
                } else {
                    let text = format!("rooms `{a_name}` and `{b_name}` overlap by {common:.2} m2");
                    let help = "outlines are the inner faces of walls, so neighbours lie a wall's thickness apart; check the corners and the storey";
                    self.overlapping.push((i, j));
                    self.problem("project::overlap", &place, text, help);
                }
            }
        }
    }
}

/// Levels per third; octave levels as thirds of equal energy.
pub(super) fn levels(table: &crate::record::BandTable) -> Spectrum<Level> {
    if table.by_octaves {
        spectra::thirds_of_octaves(&table.octaves)
    } else {
        table.thirds.map(|_, l| Level(l))
    }
}
