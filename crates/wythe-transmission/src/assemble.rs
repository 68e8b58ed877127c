//! From a building to couplings between rooms.

use std::sync::Arc;

use wythe_bands::{
    Air, Band, Hertz, LevelDifference, Metre, Remark, Spectrum, SquareMetre, Transmittance,
};
use wythe_building::{BoundaryIndex, Building, Experience, Facing, LeakShape, Room, RoomIndex};
use wythe_partition::{
    BuildUp, Conditions, Construction, Opening, OpeningPrediction, PartitionError, PathKind,
    Prediction, Slit, hole_diffuse, predict, predict_opening,
};

use crate::flanking::Known;
use crate::plate::Plate;
use crate::{BANDS, PerBand, doors, duct, flanking, outdoors, rooms, structure_borne};

/// One way through from a room to its neighbour: a wall, a part of a door, a leak.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Name, unique in the model: `hall-lobby-wall`, `lobby-door sill`.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Kind of way.
    pub kind: LinkKind,
    /// The two rooms.
    pub rooms: [RoomIndex; 2],
    /// The boundary it belongs to.
    pub boundary: BoundaryIndex,
    /// Coupling area S·τ per band, m².
    pub coupling: PerBand,
    /// Standard deviation of 10 lg of the coupling, dB.
    pub deviation: PerBand,
    /// Links whose errors rise and fall together share a group: everything of one build-up.
    /// Position in [`Model::groups`].
    pub group: usize,
    /// Outdoors only: what becomes of the sound between the boundary and the point of interest.
    pub spread: Option<Box<Outdoors>>,
}

/// Between a boundary and the point of interest outdoors.
#[derive(Clone, Debug, PartialEq)]
pub struct Outdoors {
    /// Going out: the area over which the power is spread at the point of interest per band, m².
    pub area: PerBand,
    /// Coming in: factor on the coupling by the shape of the façade (pure ratio).
    pub inward: f64,
}

impl Outdoors {
    /// Power spread over so many m² in all bands; a plane façade.
    pub fn over(area: f64) -> Box<Outdoors> {
        Box::new(Outdoors { area: [area; BANDS], inward: 1.0 })
    }
}

/// Kinds of way between neighbours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LinkKind {
    /// Through a wall or floor.
    Direct,
    /// Through a door, window or hatch leaf, or an open hole.
    Opening,
    /// Through a slit or unintended hole.
    Leak,
    /// Along the structure round the separating element.
    Flanking,
    /// Through a duct.
    Duct,
    /// By impact or vibration: one way only, in proportion to the level in the first room while
    /// that one is the source, and at no cost to it (see the module `structure_borne`).
    StructureBorne,
}

impl LinkKind {
    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            LinkKind::Direct => "direct",
            LinkKind::Opening => "opening",
            LinkKind::Leak => "leak",
            LinkKind::Flanking => "flanking",
            LinkKind::Duct => "duct",
            LinkKind::StructureBorne => "structure-borne",
        }
    }
}

/// A building as couplings: what the power balance needs and nothing else.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// Number of rooms, outdoors included.
    pub rooms: usize,
    /// Whether each room is outdoors.
    pub outdoors: Vec<bool>,
    /// Equivalent absorption area of each room per band, m²; of no meaning outdoors.
    pub absorption: Vec<PerBand>,
    /// Relative standard deviation of each room's absorption (pure ratio), one for all bands.
    pub absorption_spread: Vec<f64>,
    /// The same per band; rooms without an entry take the one for all bands.
    pub absorption_deviation: Vec<PerBand>,
    /// Standard deviation each room's few modes add per band, dB.
    pub modal: Vec<PerBand>,
    /// All ways between neighbours.
    pub links: Vec<Link>,
    /// Names of the groups of links whose errors go together; the same in every state.
    pub groups: Vec<String>,
    /// What has to be said beside the result.
    pub remarks: Vec<Remark>,
}

/// Why a building cannot be put together.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TransmissionError {
    /// A boundary's build-up or opening cannot be predicted.
    #[error("boundary `{boundary}`: {cause}")]
    Partition {
        /// Boundary id.
        boundary: String,
        /// What is wrong with it.
        cause: PartitionError,
    },
    /// A boundary names a room or build-up that is not there.
    #[error("boundary `{0}` names a room or a build-up that does not exist")]
    Dangling(String),
    /// The source has no level in any band.
    #[error("source `{0}` has no level in any band")]
    SilentSource(String),
}

/// Predictions already made, so that a changed layer costs one new prediction and nothing else.
#[derive(Clone, Debug, Default)]
pub struct Cache {
    walls: Vec<(BuildUp, Conditions, Arc<Prediction>)>,
    openings: Vec<(Opening, Conditions, Arc<OpeningPrediction>)>,
    rooms: Vec<(Room, Air, RoomNumbers)>,
    plates: Vec<PlateMade>,
    without_edge: Vec<(Arc<Prediction>, Arc<Prediction>)>,
    /// What the balance takes of a prediction: 10^(−R/10) and its deviation.
    through: Vec<Through>,
    /// Plates in their place by what they were made from, by boundary.
    pub(crate) placed: Vec<Option<Arc<flanking::Placed>>>,
    /// What each junction gave last, by its position.
    pub(crate) junctions: Vec<Known>,
}

/// A plate with what it was made from.
#[derive(Clone, Debug)]
struct PlateMade {
    build_up: BuildUp,
    area: SquareMetre,
    air: Air,
    plate: Option<Arc<Plate>>,
}

/// What a prediction lets through per m², and how sure that is.
#[derive(Clone, Debug)]
struct Through {
    of: Arc<Prediction>,
    transmittance: PerBand,
    deviation: PerBand,
}

/// What the balance needs of a room.
#[derive(Clone, Copy, Debug)]
struct RoomNumbers {
    absorption: PerBand,
    spread: f64,
    deviation: PerBand,
    modal: PerBand,
}

impl Cache {
    /// Prediction of a build-up, made or remembered.
    ///
    /// # Errors
    /// Whatever the prediction refuses.
    pub fn wall(
        &mut self,
        build_up: &BuildUp,
        conditions: Conditions,
    ) -> Result<Arc<Prediction>, PartitionError> {
        if let Some((_, _, made)) =
            self.walls.iter().find(|(b, c, _)| *c == conditions && b == build_up)
        {
            return Ok(Arc::clone(made));
        }
        let made = Arc::new(predict(build_up, &conditions)?);
        self.walls.push((build_up.clone(), conditions, Arc::clone(&made)));
        Ok(made)
    }

    /// A prediction without the laboratory's path round the edge, made or remembered.
    fn without_edge(&mut self, wall: &Arc<Prediction>) -> Arc<Prediction> {
        if let Some((_, made)) = self.without_edge.iter().find(|(w, _)| Arc::ptr_eq(w, wall)) {
            return Arc::clone(made);
        }
        let made = Arc::new(wall.without(PathKind::Perimeter));
        self.without_edge.push((Arc::clone(wall), Arc::clone(&made)));
        made
    }

    /// What a prediction lets through, made or remembered.
    fn through(&mut self, wall: &Arc<Prediction>) -> &Through {
        let at = self.through.iter().position(|t| Arc::ptr_eq(&t.of, wall)).unwrap_or_else(|| {
            self.through.push(Through {
                transmittance: per_band(|b| {
                    wall.reduction.get(b).map_or(0.0, |r| r.transmittance().0)
                }),
                deviation: deviation(&wall.deviation),
                of: Arc::clone(wall),
            });
            self.through.len() - 1
        });
        &self.through[at]
    }

    fn room(&mut self, room: &Room, air: Air) -> RoomNumbers {
        if let Some((_, _, known)) = self.rooms.iter().find(|(r, a, _)| *a == air && r == room) {
            return *known;
        }
        let (areas, spread) = room.absorption_area(air);
        let numbers = RoomNumbers {
            absorption: per_band(|b| areas.get(b).map_or(0.1, |a| a.0)),
            spread,
            deviation: {
                let relative = room.absorption_spread(air);
                per_band(|b| relative.get(b).unwrap_or(spread))
            },
            modal: crate::modes::modal_deviation(room, air),
        };
        self.rooms.push((room.clone(), air, numbers));
        numbers
    }

    /// A wall or floor as a plate, made or remembered.
    pub(crate) fn plate(
        &mut self,
        build_up: &BuildUp,
        area: SquareMetre,
        air: Air,
    ) -> Result<Option<Arc<Plate>>, PartitionError> {
        let known =
            self.plates.iter().find(|p| p.area == area && p.air == air && p.build_up == *build_up);
        if let Some(known) = known {
            return Ok(known.plate.clone());
        }
        let plate = Plate::of(build_up, area, air, self)?.map(Arc::new);
        self.plates.push(PlateMade { build_up: build_up.clone(), area, air, plate: plate.clone() });
        Ok(plate)
    }

    /// Prediction of an opening, made or remembered.
    ///
    /// # Errors
    /// Whatever the prediction refuses.
    pub fn opening(
        &mut self,
        opening: &Opening,
        conditions: Conditions,
    ) -> Result<Arc<OpeningPrediction>, PartitionError> {
        if let Some((_, _, made)) =
            self.openings.iter().find(|(o, c, _)| *c == conditions && o == opening)
        {
            return Ok(Arc::clone(made));
        }
        let made = Arc::new(predict_opening(opening, &conditions)?);
        self.openings.push((opening.clone(), conditions, Arc::clone(&made)));
        Ok(made)
    }
}

/// Distance outdoors when none is stated: the usual point in front of a façade.
pub(crate) const DISTANCE_OUTDOORS: f64 = 2.0;

/// Puts a building together.
///
/// # Errors
/// [`TransmissionError`] naming the boundary that cannot be used; the first one met.
pub fn assemble(building: &Building, cache: &mut Cache) -> Result<Model, TransmissionError> {
    let mut model = Model {
        rooms: building.rooms.len(),
        outdoors: building.rooms.iter().map(|r| r.outdoors).collect(),
        absorption: Vec::with_capacity(building.rooms.len()),
        absorption_spread: Vec::with_capacity(building.rooms.len()),
        absorption_deviation: Vec::with_capacity(building.rooms.len()),
        modal: Vec::with_capacity(building.rooms.len()),
        links: Vec::new(),
        groups: Vec::new(),
        remarks: Vec::new(),
    };
    for room in &building.rooms {
        let numbers = cache.room(room, building.air);
        model.absorption.push(numbers.absorption);
        model.absorption_spread.push(numbers.spread);
        model.absorption_deviation.push(numbers.deviation);
        model.modal.push(numbers.modal);
    }
    let mut groups = Vec::new();
    let flanking = flanking::prepare(building, cache, &mut groups)?;
    model.links.reserve(2 * building.boundaries.len() + flanking.count);
    for index in 0..building.boundaries.len() {
        let modelled = flanking.modelled[index];
        let (links, mut remarks) =
            boundary_links(building, BoundaryIndex(index), cache, &mut groups, Some(modelled))?;
        model.links.extend(links);
        model.remarks.append(&mut remarks);
    }
    model.remarks.extend(flanking::left_out(building, &model.links, &flanking));
    flanking.links(building, cache, &mut model.links);
    let (links, remarks) = duct::links(building, &mut groups);
    model.links.extend(links);
    model.remarks.extend(remarks);
    for (links, remarks) in [
        doors::links(building, cache, &mut groups)?,
        structure_borne::links(building, cache, &mut groups)?,
    ] {
        model.links.extend(links);
        model.remarks.extend(remarks);
    }
    flanking::found_ways(building, &mut model.links, &mut groups);
    model.remarks.extend(rooms::remarks(building, &model));
    model.groups = groups;
    model.remarks.dedup();
    Ok(model)
}

/// Links of one boundary by themselves, in the order in which they stand in the whole model.
/// `groups` holds the names of groups met so far.
///
/// # Errors
/// As [`assemble`].
pub fn links_of(
    building: &Building,
    at: BoundaryIndex,
    cache: &mut Cache,
    groups: &mut Vec<String>,
) -> Result<(Vec<Link>, Vec<Remark>), TransmissionError> {
    boundary_links(building, at, cache, groups, None)
}

/// [`links_of`], where the caller may know already whether flanking is modelled.
fn boundary_links(
    building: &Building,
    at: BoundaryIndex,
    cache: &mut Cache,
    groups: &mut Vec<String>,
    modelled: Option<bool>,
) -> Result<(Vec<Link>, Vec<Remark>), TransmissionError> {
    let index = at.0;
    let Some(boundary) = building.boundaries.get(index) else {
        return Err(TransmissionError::Dangling(format!("number {index}")));
    };
    let mut links = Vec::new();
    let mut remarks = Vec::new();
    let mut group = |name: String| -> usize {
        groups.iter().position(|g| *g == name).unwrap_or_else(|| {
            groups.push(name);
            groups.len() - 1
        })
    };
    let (Some(build_up), [a, b]) = (building.build_ups.get(boundary.build_up.0), boundary.rooms)
    else {
        return Err(TransmissionError::Dangling(boundary.id.clone()));
    };
    if a.0 >= building.rooms.len() || b.0 >= building.rooms.len() || a == b {
        return Err(TransmissionError::Dangling(boundary.id.clone()));
    }
    let refuse = |cause| TransmissionError::Partition { boundary: boundary.id.clone(), cause };
    let conditions = Conditions { air: building.air, area: boundary.area };
    let spread = spread_outdoors(building, index);
    let link = |id: String, title: String, kind, coupling, deviation, group| Link {
        id,
        title,
        kind,
        rooms: boundary.rooms,
        boundary: BoundaryIndex(index),
        coupling,
        deviation,
        group,
        spread: spread.clone(),
    };
    let net = boundary.net_area().0;
    if net > 0.0 {
        let mut wall = cache.wall(build_up, conditions).map_err(refuse)?;
        // The laboratory's own flanking round the edge stands in the prediction; where the edges
        // are modelled it would count twice.
        if wall.paths.iter().any(|p| p.kind == PathKind::Perimeter) {
            let modelled = match modelled {
                Some(modelled) => modelled,
                None => flanking::is_modelled(building, at, cache)?,
            };
            if modelled {
                wall = cache.without_edge(&wall);
            }
        }
        let known = experience(building, build_up);
        let through = cache.through(&wall);
        let (mut coupling, mut stated) = (through.transmittance, through.deviation);
        for band in Band::all().take(BANDS) {
            let b = band.index();
            coupling[b] *= net;
            if let Some(e) = known {
                let more = e.bias.get(band).map_or(0.0, |d| d.0);
                coupling[b] *= 10f64.powf(-more / 10.0);
                stated[b] *= e.variance_left.get(band).unwrap_or(1.0).clamp(0.0, 1.0).sqrt();
            }
        }
        if let Some(e) = known {
            remarks.push(
                Remark::new(
                    "transmission::experience",
                    format!(
                        "moved by what {} kept comparison{} of `{}` showed, up to {:.1} dB",
                        e.comparisons,
                        if e.comparisons == 1 { "" } else { "s" },
                        e.kind,
                        e.bias.iter().map(|(_, d)| d.0.abs()).fold(0.0, f64::max)
                    ),
                )
                .at(boundary.name().to_owned()),
            );
        }
        links.push(link(
            boundary.id.clone(),
            boundary.name().to_owned(),
            LinkKind::Direct,
            coupling,
            stated,
            group(format!("build-up {}", build_up.id)),
        ));
        remarks.extend(
            wall.remarks
                .iter()
                .cloned()
                .map(|r| if r.place.is_some() { r } else { r.at(boundary.name().to_owned()) }),
        );
    }
    for opening in &boundary.openings {
        let parts = cache.opening(opening, conditions).map_err(refuse)?;
        let title = opening.title.as_deref().unwrap_or(&opening.id);
        for part in &parts.parts {
            let kind = match part.name {
                "leaf" | "opening" => LinkKind::Opening,
                _ => LinkKind::Leak,
            };
            links.push(link(
                format!("{} {}", opening.id, part.name),
                format!("{title} {}", part.name),
                kind,
                coupling(&part.coupling),
                deviation(&part.deviation),
                group(format!("opening {} {}", opening.id, part.name)),
            ));
        }
        remarks.extend(parts.remarks.iter().cloned());
    }
    for leak in &boundary.leaks {
        let parts = leak_coupling(leak.shape, leak.depth, building.air);
        links.push(link(
            leak.id.clone(),
            leak.title.clone().unwrap_or_else(|| leak.id.clone()),
            LinkKind::Leak,
            parts,
            [LEAK_DEVIATION; BANDS],
            group(format!("leak {}", leak.id)),
        ));
    }

    Ok((links, remarks))
}

/// What earlier projects say about a build-up's kind.
fn experience<'a>(building: &'a Building, build_up: &BuildUp) -> Option<&'a Experience> {
    if building.experience.is_empty() {
        return None;
    }
    // A data sheet is its own experience.
    let Construction::Layers(layers) = &build_up.construction else { return None };
    let kind = wythe_building::kind_of(layers);
    building.experience.iter().find(|e| e.kind == kind)
}

/// Standard deviation of a leak of stated size, dB: slit formulas against published tests scatter
/// by a few decibels (common practice, no source).
const LEAK_DEVIATION: f64 = 3.0;

/// Coupling area of a leak: transmittance times its own area, averaged over each band.
fn leak_coupling(shape: LeakShape, depth: Metre, air: Air) -> PerBand {
    // A hair crack passes nothing that could be heard, but its coupling stays a number that can
    // be compared with that of a wider one.
    const LEAST: f64 = 1e-15;
    per_band(|band| {
        // Five frequencies a band: a slit resonance is narrower than a third.
        let over = |transmittance: &dyn Fn(Hertz) -> Transmittance| -> f64 {
            let (low, high) = (band.lower_edge().0, band.upper_edge().0);
            (0..5)
                .map(|i| {
                    let f = low * (high / low).powf((f64::from(i) + 0.5) / 5.0);
                    transmittance(Hertz(f)).0
                })
                .sum::<f64>()
                / 5.0
        };
        match shape {
            LeakShape::Slit { width, length, along_edge } => {
                let slit = Slit { width, depth, length, along_edge };
                (width.0 * length.0 * over(&|f| slit.transmittance(f, air))).max(LEAST)
            }
            LeakShape::Hole { diameter } => {
                let radius = diameter / 2.0;
                let area = std::f64::consts::PI * radius.0 * radius.0;
                (area * over(&|f| hole_diffuse(radius, depth, f, air))).max(LEAST)
            }
        }
    })
}

/// What becomes of the sound between a boundary and the point of interest outdoors.
///
/// A wall radiating into a half space: L = L_in − R + 10 lg S − 20 lg r − 14 dB, so the area is
/// 8π r². Source: Parkin, Humphreys and Cowell, Acoustics, Noise and Buildings, p. 238, as
/// quoted; −6 − 10 lg 2π = −13.98 (derived). Valid beyond three times the largest dimension.
/// Hard ground before it makes a quarter space of the half: 3 dB more.
///
/// Off the axis a wall radiates less: 5 dB at 90° is typical (from memory of ISO 12354-4 Annex E),
/// taken as 5 sin² θ dB up to 90° and held beyond.
pub(crate) fn spread_outdoors(building: &Building, index: usize) -> Option<Box<Outdoors>> {
    let boundary = building.boundaries.get(index)?;
    let outdoors =
        boundary.rooms.iter().filter_map(|r| building.rooms.get(r.0)).find(|r| r.outdoors)?;
    let r = boundary.distance.or(outdoors.distance).map_or(DISTANCE_OUTDOORS, |d| d.0).max(0.5);
    // Nearer than a·√(1/8π)… the spreading area cannot be smaller than the element's own
    // radiating area: close to a wall the level stops rising.
    let least = boundary.area.0.max(0.1) * 2.0;
    let mut out = Outdoors::over((8.0 * std::f64::consts::PI * r * r).max(least));
    let Some(facing) = building.fabric.facings.iter().find(|f| f.boundary.0 == index) else {
        return Some(out);
    };
    let off_axis = 5.0 * facing.angle_degrees.clamp(0.0, 90.0).to_radians().sin().powi(2);
    let c = building.air.sound_speed();
    for (b, area) in out.area.iter_mut().enumerate() {
        *area *= 10f64.powf((off_axis + on_the_way(facing, r, crate::plate::centre(b), c)) / 10.0);
    }
    // D_2m,nT = R′ + ΔL_fs + 10 lg(V/(6 T₀ S)). Source: ISO 12354-3, from memory.
    out.inward = 10f64.powf(-facing.facade_shape.0 / 10.0);
    Some(out)
}

/// What ground and screens take off on the way to the point of interest, dB.
///
/// Over the top of a screen the ground counts no more where the screen takes off more (as
/// A_bar = D_z − A_gr says); round its ends it does. What comes over and round adds up as energy.
/// Source: ISO 9613-2, 7.3 and 7.4, from memory.
fn on_the_way(facing: &Facing, distance: f64, f: Hertz, c: f64) -> f64 {
    let ground = match (&facing.ground, facing.hard_ground) {
        (Some(ground), _) => outdoors::ground(ground, Metre(distance), f),
        (None, true) => -3.0,
        (None, false) => 0.0,
    };
    let edge = |z: Metre| outdoors::screening(z, facing.screen_thickness, f, c);
    let over = facing.screen_detour.map(|z| edge(z).max(ground));
    let Some(over) = over else { return ground };
    let beside = facing.screen_beside.iter().flatten().map(|z| edge(*z) + ground);
    let energy: f64 = std::iter::once(over).chain(beside).map(|d| 10f64.powf(-d / 10.0)).sum();
    // More ways than one are no more than the straight one.
    (-10.0 * energy.log10()).max(ground)
}

/// Collects a value for each calculated band.
pub(crate) fn per_band(mut value: impl FnMut(Band) -> f64) -> PerBand {
    let mut out = [0.0; BANDS];
    for (slot, band) in out.iter_mut().zip(Band::all()) {
        *slot = value(band);
    }
    out
}

/// Spectrum of the calculated bands.
pub(crate) fn spectrum<T: Copy>(values: &PerBand, wrap: impl Fn(f64) -> Option<T>) -> Spectrum<T> {
    values.iter().zip(Band::all()).filter_map(|(v, b)| wrap(*v).map(|w| (b, w))).collect()
}

fn coupling(values: &Spectrum<Transmittance>) -> PerBand {
    per_band(|b| values.get(b).map_or(0.0, |t| t.0))
}

fn deviation(values: &Spectrum<LevelDifference>) -> PerBand {
    per_band(|b| values.get(b).map_or(10.0, |d| d.0))
}
