//! The building as the cautions see it: who plays where, what separates what, what arrives.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, LevelDifference, Spectrum};
use wythe_building::{Boundary, BoundaryIndex, Building, Room, RoomIndex};
use wythe_partition::{BuildUp, Construction, Layer, Opening, OpeningKind, Seal};
use wythe_transmission::{Field, Model};

use super::settings::{Occupancy, RoomUse, Settings};

/// A building with its settings and what was predicted for it.
pub(super) struct Site<'a> {
    pub building: &'a Building,
    pub settings: &'a Settings,
    pub model: Option<&'a Model>,
    /// Fields from each loud room, in the order of [`Site::loud_rooms`].
    pub fields: Vec<Field>,
}

impl<'a> Site<'a> {
    pub fn new(
        building: &'a Building,
        settings: &'a Settings,
        model: Option<&'a Model>,
    ) -> Site<'a> {
        // A model of another building would point past the rooms of this one.
        let model = model.filter(|m| m.rooms == building.rooms.len());
        let mut site = Site { building, settings, model, fields: Vec::new() };
        if let Some(model) = model {
            site.fields = site.loud_rooms().into_iter().map(|r| model.from_source(r)).collect();
        }
        site
    }

    pub fn room(&self, room: RoomIndex) -> Option<&'a Room> {
        self.building.rooms.get(room.0)
    }

    pub fn name(&self, room: RoomIndex) -> &'a str {
        self.room(room).map_or("a room that does not exist", Room::name)
    }

    pub fn indoors(&self) -> impl Iterator<Item = (RoomIndex, &'a Room)> + use<'a> {
        let rooms = self.building.rooms.iter().enumerate();
        rooms.filter(|(_, r)| !r.outdoors).map(|(i, r)| (RoomIndex(i), r))
    }

    /// Indoor rooms a source plays in, in the order of the rooms.
    pub fn loud_rooms(&self) -> Vec<RoomIndex> {
        self.indoors()
            .map(|(i, _)| i)
            .filter(|i| self.building.sources.iter().any(|s| s.room == *i))
            .collect()
    }

    pub fn is_loud(&self, room: RoomIndex) -> bool {
        self.building.sources.iter().any(|s| s.room == room)
    }

    /// Walls, floors and roofs of a room.
    pub fn round(
        &self,
        room: RoomIndex,
    ) -> impl Iterator<Item = (BoundaryIndex, &'a Boundary)> + use<'a> {
        let boundaries = self.building.boundaries.iter().enumerate();
        boundaries.map(|(i, b)| (BoundaryIndex(i), b)).filter(move |(_, b)| b.rooms.contains(&room))
    }

    /// Openings of a room with the room behind each.
    pub fn openings(
        &self,
        room: RoomIndex,
    ) -> impl Iterator<Item = (&'a Opening, RoomIndex)> + use<'a> {
        self.round(room).flat_map(move |(_, b)| {
            let beyond = b.beyond(room);
            b.openings.iter().filter_map(move |o| beyond.map(|r| (o, r)))
        })
    }

    pub fn is_outdoors(&self, room: RoomIndex) -> bool {
        self.room(room).is_some_and(|r| r.outdoors)
    }

    /// What the settings say about a room.
    pub fn use_of(&self, room: RoomIndex) -> Option<&'a RoomUse> {
        let id = &self.room(room)?.id;
        self.settings.rooms.iter().find(|u| u.room == *id)
    }

    pub fn occupancy(&self, room: RoomIndex) -> Occupancy {
        self.use_of(room).and_then(|u| u.occupancy.clone()).unwrap_or_else(|| {
            if self.is_loud(room) { Occupancy::four_players() } else { Occupancy::two_sitting() }
        })
    }

    /// Levels of everything that plays in a room at once.
    pub fn levels_in(&self, room: RoomIndex) -> Spectrum<Level> {
        wythe_bands::Band::all()
            .filter_map(|band| {
                let here = self.building.sources.iter().filter(|s| s.room == room);
                let levels: Vec<Level> = here.filter_map(|s| s.levels.get(band)).collect();
                Level::energy_sum(levels).map(|l| (band, l))
            })
            .collect()
    }

    /// A-weighted level of everything that plays in a room; `None` when it has no level, or one
    /// that is no number: leaving a band out would make the rest look quieter than it is.
    pub fn a_level_in(&self, room: RoomIndex) -> Option<Level> {
        let here = self.building.sources.iter().filter(|s| s.room == room);
        if here.flat_map(|s| s.levels.iter()).any(|(_, l)| !l.0.is_finite()) {
            return None;
        }
        finite(self.levels_in(room).weighted_total(Weighting::A))
    }

    /// A-weighted level that arrives in a room from all loud rooms together.
    pub fn a_level_arriving(&self, room: RoomIndex) -> Option<Level> {
        let arriving = self.fields.iter().filter(|f| f.source != room).filter_map(|field| {
            let received = field.at(room)?;
            finite(received.level(&self.levels_in(field.source)).weighted_total(Weighting::A))
        });
        Level::energy_sum(arriving)
    }

    /// Level difference between two rooms, as predicted.
    pub fn difference(&self, from: RoomIndex, to: RoomIndex) -> Option<Spectrum<LevelDifference>> {
        let known = self.fields.iter().find(|f| f.source == from);
        match known {
            Some(field) => field.at(to).map(|r| r.difference),
            None => self.model?.from_source(from).at(to).map(|r| r.difference),
        }
    }
}

fn finite(level: Option<Level>) -> Option<Level> {
    level.filter(|l| l.0.is_finite())
}

/// Area of the gaps round a closed leaf, m², each shrunk by what its seal leaves of it.
pub(super) fn gap_area(opening: &Opening) -> f64 {
    let (w, h) = (opening.width.0.max(0.0), opening.height.0.max(0.0));
    if opening.kind == OpeningKind::Hole || opening.leaf.is_none() {
        return w * h;
    }
    let edge = |seal: Seal, length: f64| seal.gap.0.max(0.0) * seal.kind.remaining() * length;
    edge(opening.head, w) + edge(opening.jambs, 2.0 * h) + edge(opening.sill, w)
}

/// Title if there is one, else the id.
pub(super) fn opening_name(opening: &Opening) -> &str {
    opening.title.as_deref().unwrap_or(&opening.id)
}

/// The layers of a build-up, also where they stand beside a data sheet.
pub(super) fn layers(build_up: &BuildUp) -> &[Layer] {
    match &build_up.construction {
        Construction::Layers(layers) => layers,
        Construction::Measured(sheet) => &sheet.layers,
    }
}
