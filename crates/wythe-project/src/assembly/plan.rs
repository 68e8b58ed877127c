//! What the outlines say: shared walls, floors over rooms, outer walls.

use wythe_building::outline::Outline;
use wythe_building::{Room, RoomIndex};

use super::Assembly;

/// What two rooms share on the plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shared {
    /// A wall: its length and the lesser height, m.
    Wall { length: f64, height: f64 },
    /// A floor: the area one lies over the other, m², and whether the first is the lower.
    Floor { area: f64, first_below: bool },
}

/// Shared walls shorter than this, m, are corners that meet, not walls.
const SHORTEST_WALL: f64 = 0.05;

impl Assembly<'_> {
    /// What two rooms share; `None` where a room has no outline or they share nothing.
    pub(super) fn shared(&self, a: RoomIndex, b: RoomIndex) -> Option<Shared> {
        let (ra, rb) = (&self.building.rooms[a.0], &self.building.rooms[b.0]);
        let (oa, ob) = (ra.outline.as_ref()?, rb.outline.as_ref()?);
        if !self.near(oa, ob) {
            return None;
        }
        match rb.storey - ra.storey {
            0 => {
                let length = if self.inside[b.0] == Some(a) {
                    oa.wall_of_inner(ob, &self.search).0
                } else if self.inside[a.0] == Some(b) {
                    ob.wall_of_inner(oa, &self.search).0
                } else {
                    let between: Vec<&Outline> = self
                        .storey(ra.storey)
                        .filter(|(i, _)| {
                            *i != a.0
                                && *i != b.0
                                && self.inside[a.0] != Some(RoomIndex(*i))
                                && self.inside[b.0] != Some(RoomIndex(*i))
                        })
                        .filter(|(_, o)| self.near(o, oa) && self.near(o, ob))
                        .map(|(_, o)| o)
                        .collect();
                    oa.shared_wall(ob, &between, &self.search)?.length.0
                };
                let height = height(ra).min(height(rb));
                (length >= SHORTEST_WALL).then_some(Shared::Wall { length, height })
            }
            step @ (1 | -1) => {
                let area = oa.overlap_area(ob).0;
                (area > 1e-4).then_some(Shared::Floor { area, first_below: step == 1 })
            }
            _ => None,
        }
    }

    /// Length of a room's walls that face no other room, m; `None` without an outline.
    pub(super) fn outer_length(&self, room: RoomIndex) -> Option<f64> {
        let own = self.building.rooms[room.0].outline.as_ref()?;
        if self.inside[room.0].is_some() {
            return Some(0.0);
        }
        let others: Vec<&Outline> = self
            .storey(self.building.rooms[room.0].storey)
            .filter(|(i, o)| *i != room.0 && self.inside[*i] != Some(room) && self.near(own, o))
            .map(|(_, o)| o)
            .collect();
        Some(own.exposed_length(&others, &self.search).0)
    }

    /// Area of a room with no room of the next storey above it, m².
    pub(super) fn roof_area(&self, room: RoomIndex) -> Option<f64> {
        let own = self.building.rooms[room.0].outline.as_ref()?;
        let above = self.building.rooms[room.0].storey.saturating_add(1);
        let covered: f64 = self.storey(above).map(|(_, o)| own.overlap_area(o).0).sum();
        Some((own.area().0 - covered).max(0.0))
    }

    /// Least distance between two rooms' bounding rectangles, m.
    pub(super) fn distance(&self, a: RoomIndex, b: RoomIndex) -> Option<f64> {
        let bounds = |r: RoomIndex| self.building.rooms[r.0].outline.as_ref()?.bounds();
        let ((al, ah), (bl, bh)) = (bounds(a)?, bounds(b)?);
        let x = (bl.x.0 - ah.x.0).max(al.x.0 - bh.x.0).max(0.0);
        let y = (bl.y.0 - ah.y.0).max(al.y.0 - bh.y.0).max(0.0);
        Some(x.hypot(y))
    }

    fn near(&self, a: &Outline, b: &Outline) -> bool {
        let (Some((al, ah)), Some((bl, bh))) = (a.bounds(), b.bounds()) else { return false };
        let reach = self.search.thickest.0;
        al.x.0 <= bh.x.0 + reach
            && bl.x.0 <= ah.x.0 + reach
            && al.y.0 <= bh.y.0 + reach
            && bl.y.0 <= ah.y.0 + reach
    }

    fn storey(&self, storey: i32) -> impl Iterator<Item = (usize, &Outline)> {
        self.building
            .rooms
            .iter()
            .enumerate()
            .filter(move |(_, r)| r.storey == storey)
            .filter_map(|(i, r)| r.outline.as_ref().map(|o| (i, o)))
    }
}

/// Height of a room's walls, m: as stated, else volume over floor area.
pub(super) fn height(room: &Room) -> f64 {
    room.height.map_or_else(|| room.volume.0 / room.floor_area.0.max(0.01), |h| h.0)
}
