//! Records become a building: names resolved, areas found, everything judged.

mod boundaries;
mod build_ups;
mod plan;
mod requests;
mod rooms;

use std::collections::BTreeMap;

use wythe_bands::Metre;
use wythe_building::outline::WallSearch;
use wythe_building::{Building, RoomIndex};

use crate::files::{Files, Unreadable, read_text};
use crate::problem::{Notes, Place};
use crate::read::{self, Root};
use crate::record::{BandTable, Record, short};
use crate::suggest::hint;

/// Most rooms and boundaries a project may have; every pair of rooms is compared.
const MOST_ROOMS: usize = 1000;
const MOST_BOUNDARIES: usize = 5_000;

pub(crate) struct Assembly<'a> {
    files: &'a dyn Files,
    notes: &'a mut Notes,
    building: Building,
    /// Data sheets already read, by path.
    sheets: BTreeMap<String, Option<usize>>,
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
        if let Some(extra) = root.rooms.get(MOST_ROOMS) {
            let text = format!("{} rooms are more than {MOST_ROOMS}", root.rooms.len());
            self.notes.problem("project::count", &extra.place, text, "split the building");
            return std::mem::take(&mut self.building);
        }
        if let Some(extra) = root.boundaries.get(MOST_BOUNDARIES) {
            let text =
                format!("{} boundaries are more than {MOST_BOUNDARIES}", root.boundaries.len());
            self.notes.problem("project::count", &extra.place, text, "split the building");
            return std::mem::take(&mut self.building);
        }
        for record in &root.build_ups {
            self.build_up(record);
        }
        for record in &root.rooms {
            self.room(record);
        }
        self.overlaps();
        self.boundaries(root);
        self.unreached();
        for record in &root.states {
            self.state(record);
        }
        for record in &root.sources {
            self.source(record);
        }
        for record in &root.targets {
            self.target(record);
        }
        for record in &root.changes {
            self.change(record);
        }
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
        column: &str,
        range: (f64, f64),
    ) -> Option<BandTable> {
        let file = match self.sheets.get(path) {
            Some(known) => (*known)?,
            None => {
                let text = read_text(self.files, path);
                let (file, why) = match text {
                    Ok(text) => (Some(self.notes.add_text(path, text)), String::new()),
                    Err(Unreadable::NotFound) => {
                        (None, format!("there is no file `{}`", short(path)))
                    }
                    Err(Unreadable::TooLarge(why) | Unreadable::Refused(why)) => (None, why),
                };
                if file.is_none() {
                    let help = "paths are relative to the project folder, for example `sheets/door-44.csv`";
                    self.notes.problem("project::file", place, format!("{label}: {why}"), help);
                }
                self.sheets.insert(path.to_owned(), file);
                file?
            }
        };
        crate::sheet::read(self.notes, file, column, range.0, range.1)
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
