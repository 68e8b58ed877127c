//! Records become a building: names resolved, areas found, everything judged.

mod boundaries;
mod build_ups;
mod care;
mod fabric;
mod own;
mod plan;
mod requests;
mod rooms;

use std::collections::{BTreeMap, BTreeSet};

use wythe_bands::Metre;
use wythe_building::outline::WallSearch;
use wythe_building::{Building, RoomIndex};

use crate::files::{Files, Unreadable, read_text};
use crate::problem::{Notes, Place};
use crate::read::{self, Root};
use crate::record::{BandTable, Record, short};
use crate::suggest::hint;

pub(crate) struct Assembly<'a> {
    files: &'a dyn Files,
    notes: &'a mut Notes,
    building: Building,
    /// Data sheets already read, by path and column.
    sheets: BTreeMap<(String, &'static str), Option<BandTable>>,
    /// Ids in use, by kind of thing.
    taken: BTreeSet<(&'static str, String)>,
    /// How many ids were made of a stem so far.
    made: BTreeMap<String, usize>,
    /// Places of rooms, for messages about two of them.
    room_places: Vec<Place>,
    /// Which rooms stand wholly inside another.
    inside: Vec<Option<RoomIndex>>,
    /// Pairs of rooms that lie over each other; their walls are not searched for.
    overlapping: Vec<(usize, usize)>,
    search: WallSearch,
}

impl<'a> Assembly<'a> {
    pub fn new(files: &'a dyn Files, notes: &'a mut Notes) -> Assembly<'a> {
        Assembly {
            files,
            notes,
            building: Building::default(),
            sheets: BTreeMap::new(),
            taken: BTreeSet::new(),
            made: BTreeMap::new(),
            room_places: Vec::new(),
            inside: Vec::new(),
            overlapping: Vec::new(),
            search: WallSearch::default(),
        }
    }

    pub fn building(&mut self, root: &Root) -> Building {
        self.building.title = root.title.as_ref().map(|(t, _)| t.clone()).unwrap_or_default();
        self.building.air = read::air(root.air.as_ref());
        self.building.limits = read::limits(root.limits.as_ref());
        if let Some(thickest) = root.defaults.as_ref().and_then(|d| d.number("thickest_wall")) {
            self.search.thickest = Metre(thickest);
        }
        for (what, records, most) in [
            ("rooms", &root.rooms, 1000),
            ("materials", &root.materials, 500),
            ("fills", &root.fills, 500),
            ("build-ups", &root.build_ups, 2000),
            ("boundaries", &root.boundaries, 5000),
            ("junctions", &root.junctions, 5000),
            ("ducts", &root.ducts, 1000),
            ("vents", &root.vents, 1000),
            ("contacts", &root.contacts, 1000),
            ("states", &root.states, 500),
            ("sources", &root.sources, 1000),
            ("targets", &root.targets, 5000),
            ("changes", &root.changes, 2000),
            ("strikes", &root.strikes, 2000),
            ("prices", &root.prices, 5000),
        ] {
            // Every pair of some of these is compared, and no building has more.
            if let Some(extra) = records.get(most) {
                let text = format!("{} {what} are more than {most}", records.len());
                self.notes.problem("project::count", &extra.place, text, "split the project");
                return std::mem::take(&mut self.building);
            }
        }
        if root.rooms.is_empty() && !root.only_build_ups {
            let text = "no room is described yet";
            self.notes.remark("project::no-rooms", &Place::default(), text);
        }
        for record in &root.materials {
            self.own_material(record);
        }
        for record in &root.fills {
            self.own_fill(record);
        }
        for record in &root.build_ups {
            self.build_up(record);
        }
        for record in &root.rooms {
            self.room(record);
        }
        self.overlaps();
        self.boundaries(root);
        self.openings_off_walls();
        for record in &root.sources {
            self.source(record);
        }
        for record in &root.targets {
            self.target(record);
        }
        // Contacts name sources; states and changes name ducts, junctions and contacts.
        self.fabric(root);
        for record in &root.states {
            self.state(record);
        }
        for record in &root.changes {
            self.change(record);
        }
        self.changes_named(root);
        for record in &root.strikes {
            self.strike(record);
        }
        for record in &root.prices {
            self.price(record);
        }
        self.care(root.caution.as_ref());
        self.unreached();
        self.without_path();
        std::mem::take(&mut self.building)
    }

    fn problem(
        &mut self,
        code: &'static str,
        place: &Place,
        text: String,
        help: impl Into<String>,
    ) {
        self.notes.problem(code, place, text, help);
    }

    /// A room by the id a key holds; a message with the nearest name when there is none.
    fn room_ref(&mut self, label: &str, id: &str, place: &Place) -> Option<RoomIndex> {
        let found = self.building.room(id);
        if found.is_none() {
            let known: Vec<&str> = self.building.rooms.iter().map(|r| r.id.as_str()).collect();
            let help = hint(id, &known);
            let text = format!("{label}: there is no room `{}`", short(id));
            self.notes.problem("project::unknown-room", place, text, help);
        }
        found
    }

    fn build_up_ref(
        &mut self,
        label: &str,
        id: &str,
        place: &Place,
    ) -> Option<wythe_building::BuildUpIndex> {
        let found = self.building.build_up(id);
        if found.is_none() {
            let known: Vec<&str> = self.building.build_ups.iter().map(|b| b.id.as_str()).collect();
            let help = hint(id, &known);
            let text = format!("{label}: there is no build-up `{}`", short(id));
            self.notes.problem("project::unknown-build-up", place, text, help);
        }
        found
    }

    /// A curve from a CSV file beside the project.
    fn sheet(
        &mut self,
        label: &str,
        path: &str,
        place: &Place,
        column: &'static str,
        range: (f64, f64),
    ) -> Option<BandTable> {
        let key = (path.to_owned(), column);
        if let Some(known) = self.sheets.get(&key) {
            return known.clone();
        }
        let known_text = self.notes.texts.iter().position(|t| t.name == path);
        let file = match known_text {
            Some(file) => Some(file),
            None => {
                let read = match read_text(self.files, path, self.notes.weight()) {
                    Ok(text) => Ok(self.notes.add_text(path, text)),
                    Err(Unreadable::NotFound) => Err((
                        format!("there is no file `{}`", short(path)),
                        "paths are relative to the project folder, for example `sheets/door-44.csv`",
                    )),
                    Err(Unreadable::TooLarge(why) | Unreadable::Refused(why)) => Err((why, "")),
                };
                match read {
                    Ok(file) => Some(file),
                    Err((why, help)) => {
                        let text = format!("{label}: {why}");
                        self.notes.problem("project::file", place, text, help);
                        None
                    }
                }
            }
        };
        let table = file.and_then(|f| crate::sheet::read(self.notes, f, column, range.0, range.1));
        self.sheets.insert(key, table.clone());
        table
    }

    /// Takes an id; a message when it is taken already.
    fn take(&mut self, kind: &'static str, record: &Record, key: &str, id: &str) {
        // A missing id has its own message.
        if !id.is_empty() && !self.taken.insert((kind, id.to_owned())) {
            self.twice(record, key, id);
        }
    }

    /// An id made of a stem that nobody uses: the stem itself, then `stem-2`, `stem-3`, …
    fn make_id(&mut self, kind: &'static str, stem: &str) -> String {
        loop {
            let count = self.made.entry(format!("{kind} {stem}")).or_insert(0);
            *count += 1;
            let id = if *count == 1 { stem.to_owned() } else { format!("{stem}-{count}") };
            if self.taken.insert((kind, id.clone())) {
                return id;
            }
        }
    }

    /// Says that an id is taken.
    fn twice(&mut self, record: &Record, key: &str, id: &str) {
        let text = format!("{}: the name `{}` is taken", record.label, short(id));
        self.notes.problem(
            "project::twice",
            record.at(key),
            text,
            "names are unique in a project; choose another",
        );
    }
}
