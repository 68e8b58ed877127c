//! Changes on offer, and the limits they must keep.

use wythe_bands::{
    CubicMetre, LevelDifference, Metre, Spectrum, SquareMetre, Standpoint, SurfaceMass,
};
use wythe_partition::{BuildUp, Opening, OpeningKind, OpeningState, Seal, SealKind};

use crate::finish::absorption_area;
use crate::outline::{Outline, Point};
use crate::{
    Absorption, Boundary, BoundaryIndex, BuildUpIndex, Building, Hours, JunctionKind, Mounting,
    Room, RoomIndex, Surface,
};

/// One change somebody could make.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people, such as `drop seal on the lobby door`.
    pub title: String,
    /// The element it belongs to: of all changes with the same element, one at most is made.
    pub element: String,
    /// What it does.
    pub actions: Vec<Action>,
    /// Material and labour, in the project's currency; `None` when no price is on file.
    pub cost: Option<f64>,
    /// Whether the price was invented for the demonstration.
    pub cost_invented: bool,
    /// Own or hired hours, if stated.
    pub hours: Option<f64>,
    /// Whether it can be taken back without a trace.
    pub reversible: bool,
    /// Who can do it.
    pub skill: Skill,
    /// Other changes by id that cannot be made together with it.
    pub not_with: Vec<String>,
    /// Where the price and the idea come from.
    pub standpoint: Standpoint,
}

/// Who can do a piece of work. A statement of the trade, not of any law: what must be licensed
/// the place decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Skill {
    /// Anybody with a screwdriver.
    Anyone,
    /// Somebody used to building, with a second pair of hands.
    #[default]
    Handy,
    /// A joiner, plasterer or fitter.
    Trade,
    /// Somebody licensed: structure, ventilation, wiring, gas.
    Licensed,
}

impl Skill {
    /// Every word of the project file with its meaning.
    pub const WORDS: [(&'static str, Skill); 4] = [
        ("anyone", Skill::Anyone),
        ("handy", Skill::Handy),
        ("trade", Skill::Trade),
        ("licensed", Skill::Licensed),
    ];

    /// The word.
    pub fn word(self) -> &'static str {
        Skill::WORDS.iter().find(|(_, s)| *s == self).map_or("handy", |(w, _)| w)
    }
}

/// Something the user has struck out: impossible here, whatever it would gain.
#[derive(Clone, Debug, PartialEq)]
pub struct Strike {
    /// A change by id, as stated or as the program named its own.
    pub change: Option<String>,
    /// Every change of this element.
    pub element: Option<String>,
    /// Every change whose title holds these words.
    pub words: Option<String>,
    /// Why.
    pub why: Option<String>,
}

impl Strike {
    /// Whether it strikes out a change. One that names nothing strikes out nothing.
    pub fn hits(&self, change: &Change) -> bool {
        let named = self.change.is_some() || self.element.is_some() || self.words.is_some();
        named
            && self.change.as_ref().is_none_or(|id| *id == change.id)
            && self
                .element
                .as_ref()
                .is_none_or(|e| change.element.to_lowercase() == e.to_lowercase())
            && self
                .words
                .as_ref()
                .is_none_or(|w| change.title.to_lowercase().contains(&w.to_lowercase()))
    }
}

/// One price of the user's own table.
#[derive(Clone, Debug, PartialEq)]
pub struct Price {
    /// Words an item's name must hold, capitals not minded.
    pub item: String,
    /// Unit the price is for, as the buying list prints it.
    pub unit: String,
    /// Price of one unit.
    pub price: f64,
    /// Hours of work one unit takes, where the user knows them.
    pub hours: Option<f64>,
    /// Whether it was invented for a demonstration.
    pub invented: bool,
    /// Where and when it was asked for.
    pub source: Option<String>,
}

impl Price {
    /// Units the lines of a buying list are counted in, and `h` for an hour of work; a price in
    /// any other fits nothing.
    pub const UNITS: [&str; 7] = ["sheets", "tubes", "screws", "m", "m²", "pieces", "h"];
}

/// What a change does to the building.
// A handful exist at a time; boxing the leaf would only burden who matches on it.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// A boundary gets another build-up.
    Rebuild {
        /// Which boundary.
        boundary: BoundaryIndex,
        /// Its new build-up.
        build_up: BuildUpIndex,
    },
    /// An opening gets other seals; `None` leaves an edge as it is.
    Seal {
        /// Opening by id.
        opening: String,
        /// New seal of the head.
        head: Option<Seal>,
        /// New seal of the jambs.
        jambs: Option<Seal>,
        /// New seal of the sill.
        sill: Option<Seal>,
    },
    /// An opening gets another leaf.
    Leaf {
        /// Opening by id.
        opening: String,
        /// The new leaf.
        leaf: BuildUp,
    },
    /// A leak is closed.
    Close {
        /// Leak by id.
        leak: String,
    },
    /// Absorbing finish is added in a room.
    Absorb {
        /// Which room.
        room: RoomIndex,
        /// Name in the table of finishes.
        finish: String,
        /// Its area.
        area: SquareMetre,
    },
    /// An opening gets a second door behind the first, with the reveal between them as a lock.
    SecondDoor {
        /// Opening by id; it must be a door.
        opening: String,
        /// The second leaf, with new compression seals and a drop seal.
        leaf: BuildUp,
        /// Clear distance between the leaves.
        depth: Metre,
        /// Whether the reveal is lined with absorbing board.
        lined: bool,
    },
    /// A silencer is put into a duct, beside what is in it.
    Silence {
        /// Duct by id.
        duct: String,
        /// Insertion loss of the new silencer.
        loss: Spectrum<LevelDifference>,
    },
    /// A duct, a vent or a leak is closed for good.
    Plug {
        /// Duct, vent or leak by id.
        way: String,
    },
    /// What shakes the floor is put on a resilient mounting: riser, floating floor, pads.
    Mount {
        /// Contact by id.
        contact: String,
        /// The mounting with what stands on it.
        mounting: Mounting,
        /// Area of the riser or floating floor.
        area: SquareMetre,
        /// Its mass.
        mass: SurfaceMass,
    },
    /// What ties the leaves of a boundary together is cut: no rigid bridge is left.
    CutBridges {
        /// Which boundary.
        boundary: BoundaryIndex,
    },
    /// The structure is cut along an edge: nothing passes there any more.
    CutJunction {
        /// Junction by id.
        junction: String,
    },
    /// The sources of a room are played at other hours, when other targets apply.
    Earlier {
        /// Room of the sources.
        room: RoomIndex,
        /// The new hours.
        hours: Hours,
    },
    /// The source is played more quietly.
    Quieter {
        /// Room of the source.
        room: RoomIndex,
        /// By how much.
        by: LevelDifference,
    },
}

/// Limits a plan must keep.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Limits {
    /// Money there is, in the project's currency.
    pub budget: Option<f64>,
    /// Currency symbol or word, as the user writes it.
    pub currency: Option<String>,
    /// Mass that may be added to a floor or hung from a ceiling, as the person responsible for
    /// the structure stated it.
    pub added_mass: Option<SurfaceMass>,
    /// Thickness that may be lost on a boundary.
    pub thickness: Option<Metre>,
    /// Least clear height a room must keep.
    pub height: Option<Metre>,
    /// Whether only changes that can be taken back may be made.
    pub reversible_only: bool,
}

impl Building {
    /// The building with changes made, by their positions in [`Building::changes`]; positions
    /// without a change are passed over.
    pub fn with_changes(&self, changes: &[usize]) -> Building {
        let mut out = self.clone();
        // Seals, leaves and walls first: a second door takes the first as the others left it, and
        // what is cut is cut in the wall as it will be.
        let late = |a: &&Action| matches!(a, Action::SecondDoor { .. } | Action::CutBridges { .. });
        let all = || changes.iter().filter_map(|&c| self.changes.get(c)).flat_map(|c| &c.actions);
        for action in all().filter(|a| !late(a)).chain(all().filter(late)) {
            out.act(action);
        }
        out
    }

    fn act(&mut self, action: &Action) {
        match action {
            Action::Rebuild { boundary, build_up } => {
                if let Some(b) = self.boundaries.get_mut(boundary.0) {
                    b.build_up = *build_up;
                }
            }
            Action::Seal { opening, head, jambs, sill } => {
                for o in self.openings_named(opening) {
                    o.head = head.unwrap_or(o.head);
                    o.jambs = jambs.unwrap_or(o.jambs);
                    o.sill = sill.unwrap_or(o.sill);
                }
            }
            Action::Leaf { opening, leaf } => {
                for o in self.openings_named(opening) {
                    o.leaf = Some(leaf.clone());
                }
            }
            Action::Close { leak } => {
                for b in &mut self.boundaries {
                    b.leaks.retain(|l| &l.id != leak);
                }
            }
            Action::Plug { way } => self.plug(way),
            Action::Absorb { room, finish, area } => {
                let air = self.air;
                if let Some(r) = self.rooms.get_mut(room.0) {
                    absorb(r, finish, *area, air);
                }
            }
            Action::SecondDoor { opening, leaf, depth, lined } => {
                self.second_door(opening, leaf, *depth, *lined);
            }
            Action::Silence { duct, loss } => {
                for d in self.fabric.ducts.iter_mut().filter(|d| &d.id == duct) {
                    d.silencer = Some(match &d.silencer {
                        Some(there) => Spectrum::from_fn(|b| {
                            let of = |s: &Spectrum<LevelDifference>| s.get(b).map_or(0.0, |l| l.0);
                            LevelDifference(of(there) + of(loss))
                        }),
                        None => *loss,
                    });
                }
            }
            Action::Mount { contact, mounting, .. } => {
                for c in self.fabric.contacts.iter_mut().filter(|c| &c.id == contact) {
                    c.mount = Some(*mounting);
                }
            }
            Action::CutBridges { boundary } => {
                let Some(b) = self.boundaries.get_mut(boundary.0) else { return };
                let Some(bridged) = self.build_ups.get(b.build_up.0) else { return };
                let mut cut = bridged.clone();
                cut.rigid_bridges_per_m2 = 0.0;
                cut.id = format!("{} cut", cut.id);
                b.build_up = BuildUpIndex(self.build_ups.len());
                self.build_ups.push(cut);
            }
            Action::CutJunction { junction } => {
                for j in self.fabric.junctions.iter_mut().filter(|j| &j.id == junction) {
                    j.kind = JunctionKind::Separated;
                }
                self.fabric.found.retain(|f| f.way() != junction);
            }
            Action::Earlier { room, hours } => {
                for s in self.sources.iter_mut().filter(|s| s.room == *room) {
                    s.hours = Some(*hours);
                }
            }
            Action::Quieter { room, by } => {
                for s in self.sources.iter_mut().filter(|s| s.room == *room) {
                    s.levels = s.levels.map(|_, l| l - *by);
                }
            }
        }
    }

    fn openings_named<'a>(&'a mut self, id: &'a str) -> impl Iterator<Item = &'a mut Opening> {
        self.boundaries.iter_mut().flat_map(|b| &mut b.openings).filter(move |o| o.id == id)
    }

    /// Takes a duct, a vent or a leak out.
    pub(crate) fn plug(&mut self, way: &str) {
        self.fabric.ducts.retain(|d| d.id != way);
        self.fabric.small_elements.retain(|e| e.id != way);
        for b in &mut self.boundaries {
            b.leaks.retain(|l| l.id != way);
        }
    }

    /// The reveal between two doors as a room of its own: the first door leads into it, the
    /// second, as wide and high, out of it on the other side.
    ///
    /// Its walls take up 2 % of what meets them where bare (timber and plaster, common practice,
    /// no source), and are lined with 25 mm of absorbing board, 60 % (the same), on both jambs
    /// and the head otherwise.
    fn second_door(&mut self, opening: &str, leaf: &BuildUp, depth: Metre, lined: bool) {
        let found = self
            .boundaries
            .iter()
            .enumerate()
            .find_map(|(i, b)| b.openings.iter().position(|o| o.id == opening).map(|o| (i, o)));
        let Some((index, place)) = found else { return };
        let boundary = self.boundaries[index].clone();
        let first = boundary.openings[place].clone();
        if first.kind != OpeningKind::Door || !(depth.0 > 0.0) {
            return;
        }
        let (width, height) = (first.width.0, first.height.0);
        let reveal = (2.0 * height + width) * depth.0;
        let bare = 2.0 * width * height + width * depth.0;
        let area = 0.02 * bare + if lined { 0.6 } else { 0.02 } * reveal;
        let lock = RoomIndex(self.rooms.len());
        let name = first.title.clone().unwrap_or_else(|| first.id.clone());
        self.rooms.push(Room {
            id: format!("{opening}-lock"),
            title: Some(format!("lock behind {name}")),
            storey: self.rooms.get(boundary.rooms[0].0).map_or(0, |r| r.storey),
            // A plan says how far apart the doors are: too close they are one.
            outline: Some(Outline::new(vec![
                Point::at(0.0, 0.0),
                Point::at(width, 0.0),
                Point::at(width, depth.0),
                Point::at(0.0, depth.0),
            ])),
            height: Some(Metre(height)),
            volume: CubicMetre(width * height * depth.0),
            floor_area: SquareMetre(width * depth.0),
            outdoors: false,
            distance: None,
            absorption: Absorption::Area(Spectrum::from_fn(|_| SquareMetre(area))),
            background: None,
            standpoint: Standpoint::default(),
        });
        let seal = |kind| Seal { kind, gap: Metre(0.002) };
        let second = Opening {
            id: format!("{opening}-second"),
            title: Some(format!("second door behind {name}")),
            leaf: Some(leaf.clone()),
            head: seal(SealKind::Compression),
            jambs: seal(SealKind::Compression),
            sill: seal(SealKind::DropSeal),
            keyhole: false,
            second: None,
            state: OpeningState::Closed,
            ..first.clone()
        };
        // A boundary that is all door carries no sound beside it.
        let around = |id: String, rooms, opening: Opening| Boundary {
            title: Some(id.clone()),
            id,
            rooms,
            area: SquareMetre(width * height),
            area_found: false,
            openings: vec![opening],
            leaks: Vec::new(),
            ..boundary.clone()
        };
        self.boundaries[index].openings.remove(place);
        // The opening is no wall now.
        let left = &mut self.boundaries[index];
        left.area = SquareMetre((left.area.0 - width * height).max(0.0));
        let [a, b] = boundary.rooms;
        self.boundaries.push(around(format!("{opening} in its frame"), [a, lock], first));
        self.boundaries.push(around(format!("second door of {opening}"), [lock, b], second));
    }
}

fn absorb(room: &mut Room, finish: &str, area: SquareMetre, air: wythe_bands::Air) {
    let surface = Surface { finish: finish.to_owned(), area };
    if let Absorption::Finishes(surfaces) = &mut room.absorption {
        surfaces.push(surface);
        return;
    }
    let more = absorption_area(&[surface]);
    let (before, _) = room.absorption_area(air);
    room.absorption = Absorption::Area(before.map(|band, a| {
        let in_air = 4.0 * air.power_attenuation(band.centre()) * room.volume.0;
        let added = more.get(band).map_or(0.0, |m| m.0);
        SquareMetre((a.0 - in_air).max(0.1) + added)
    }));
}
