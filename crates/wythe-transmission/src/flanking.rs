//! Along the structure round the separating element, ISO 12354-1, detailed model per band.
//!
//! In the form of a coupling area, which needs no separating element and is the same both ways:
//!
//! ```text
//! G_ij = √(S_i S_j) · 10^(−[(R_i + R_j)/2 + ΔR_i + ΔR_j + D_v,ij]/10)
//! D_v,ij = K_ij − 10 lg(l_ij/√(a_i a_j)),  not below 0
//! ```
//!
//! which with R_ij = −10 lg(G_ij/S_s) is the standard's R_ij (Vigran, *Building Acoustics*,
//! Eq. 9.46). An edge with four plates gives the usual three paths between neighbours, so four
//! edges twelve; rooms that meet only across an edge get theirs as well.
//!
//! R_i is the resonant part of the bare plate in the building (T_s,situ from what leaves at the
//! edges); linings count in full on the side where the path enters or leaves. A light wall takes
//! its whole R and a = S. First-order paths only: one plate, one edge, one plate.

use std::sync::Arc;

use wythe_bands::{Air, Hertz, LevelDifference, Remark, Spectrum, Standing};
use wythe_building::{BoundaryIndex, Building, FoundWay, Junction, JunctionKind, RoomIndex};

use crate::plate::{Plate, centre, filled, filled_levels};
use crate::vibration::{self, Turn};
use crate::{BANDS, Cache, Link, LinkKind, PerBand, TransmissionError};

/// Reference area of normalised level differences, m².
pub(crate) const A0: f64 = 10.0;
/// Standard deviation of K_ij where the junction is described, dB. The simplified model is stated
/// to scatter by about 2 dB in the single number; single bands scatter more (practice).
const K_DEVIATION: f64 = 3.0;
/// The same where the junction was found from outlines and its making is a guess, dB (practice).
const K_DEVIATION_FOUND: f64 = 4.5;
/// Deviation of the default for framed junctions, dB (practice).
const FRAMED_DEVIATION: f64 = 8.0;

/// Normalised flanking level difference of an untreated framed junction taken where a junction is
/// stated to be framed and no table is given, dB: 32 at 50 Hz, rising 6 dB per octave to 52 at
/// 500 Hz and level above. An assumption of this program without a source; a tested junction of
/// the kind built is worth far more.
pub fn usual_framed(f: Hertz) -> f64 {
    52.0 - (20.0 * (500.0 / f.0.max(1.0)).log10()).clamp(0.0, 28.0)
}

/// What an edge gave, with everything it was made of.
#[derive(Clone, Debug)]
pub(crate) struct Known {
    junction: Junction,
    air: Air,
    /// Rooms on both sides of each plate, and whether they are outdoors.
    sides: [Option<[(RoomIndex, bool); 2]>; 4],
    placed: [Option<Arc<Placed>>; 4],
    /// What of the names of rooms and boundaries went into the names of the paths.
    names: Vec<String>,
    paths: Vec<Path>,
}

/// The plates of one junction.
type Plates<'a> = [Option<&'a Plate>; 4];

/// The same in their place in the building.
type PlatesPlaced<'a> = [Option<&'a Placed>; 4];

/// A plate in its place: what the edges take from it, with everything that was made from.
#[derive(Clone, Debug)]
pub(crate) struct Placed {
    plate: Arc<Plate>,
    /// Length and absorption of each edge.
    edges: Vec<(f64, f64)>,
    air: Air,
    /// Loss factor.
    loss: PerBand,
    /// √ of what the loss does to the resonant transmission, see [`in_place`].
    transmits: PerBand,
    /// √a, the absorption length.
    length: PerBand,
}

impl Placed {
    fn new(plate: Arc<Plate>, edges: Vec<(f64, f64)>, air: Air) -> Placed {
        let loss: PerBand = std::array::from_fn(|b| plate.loss_in_place(centre(b).0, &edges, air));
        Placed {
            transmits: std::array::from_fn(|b| in_place(&plate, centre(b).0, loss[b]).sqrt()),
            length: std::array::from_fn(|b| {
                plate.absorption_length(centre(b).0, loss[b], air).max(1e-6).sqrt()
            }),
            plate,
            edges,
            air,
            loss,
        }
    }

    /// Whether both would give the same paths.
    fn same(&self, other: &Placed) -> bool {
        same_plate(&self.plate, &other.plate) && self.air == other.air && self.loss == other.loss
    }
}

/// Plates are remembered, so the same one is mostly the very same.
fn same_plate(a: &Arc<Plate>, b: &Arc<Plate>) -> bool {
    Arc::ptr_eq(a, b) || a == b
}

/// One path in numbers.
#[derive(Clone, Debug)]
struct Path {
    id: String,
    title: String,
    rooms: [RoomIndex; 2],
    plates: [usize; 2],
    coupling: PerBand,
    deviation: PerBand,
}

/// What flanks which boundary.
pub(crate) struct Flanking {
    /// Per boundary, whether something flanks it.
    pub modelled: Vec<bool>,
    /// Per boundary, whether an edge of it was left out because it is light all round.
    pub left_out: Vec<bool>,
    /// Group of the links of each junction; none where nothing passes.
    groups: Vec<Option<usize>>,
    /// Number of links.
    pub count: usize,
}

/// Paths along all edges, which are kept in `cache`; [`Flanking::links`] makes links of them.
pub(crate) fn prepare(
    building: &Building,
    cache: &mut Cache,
    groups: &mut Vec<String>,
) -> Result<Flanking, TransmissionError> {
    let boundaries = building.boundaries.len();
    let mut out = Flanking {
        modelled: vec![false; boundaries],
        left_out: vec![false; boundaries],
        groups: Vec::with_capacity(building.fabric.junctions.len()),
        count: 0,
    };
    if building.fabric.junctions.is_empty() {
        return Ok(out);
    }
    let plates = plates(building, cache)?;
    let placed = placed(building, &plates, cache);
    for (at, junction) in building.fabric.junctions.iter().enumerate() {
        if !sound(building, junction) {
            return Err(TransmissionError::Dangling(junction.id.clone()));
        }
        let own = junction.plates.map(|p| p.and_then(|p| placed[p.0].as_ref()));
        let sides = junction.plates.map(|p| {
            p.map(|p| building.boundaries[p.0].rooms.map(|r| (r, building.rooms[r.0].outdoors)))
        });
        let known = cache.junctions.get(at).is_some_and(|k| {
            k.junction == *junction
                && k.air == building.air
                && k.sides == sides
                && k.placed.iter().zip(own).all(|(k, o)| match (k, o) {
                    (Some(k), Some(o)) => Arc::ptr_eq(k, o) || k.same(o),
                    (None, None) => true,
                    _ => false,
                })
                && k.names.iter().map(String::as_str).eq(names(building, junction))
        });
        if !known {
            let made = Known {
                paths: paths(building, junction, &own.map(|p| p.map(|p| &**p))),
                junction: junction.clone(),
                air: building.air,
                sides,
                placed: own.map(|p| p.cloned()),
                names: names(building, junction).map(str::to_owned).collect(),
            };
            match cache.junctions.get_mut(at) {
                Some(slot) => *slot = made,
                // Junctions are met in order, so the next free place is this one.
                None => cache.junctions.push(made),
            }
        }
        let paths = &cache.junctions[at].paths;
        if matches!(junction.kind, JunctionKind::ByPlates) && paths.is_empty() {
            for p in junction.plates.iter().flatten() {
                out.left_out[p.0] = true;
            }
        }
        for path in paths {
            if let Some(s) = separating(building, junction, path.rooms) {
                out.modelled[s.0] = true;
            }
        }
        out.count += paths.len();
        out.groups.push((!paths.is_empty()).then(|| {
            let name = format!("flanking at {}", junction.id);
            groups.iter().position(|g| *g == name).unwrap_or_else(|| {
                groups.push(name);
                groups.len() - 1
            })
        }));
    }
    Ok(out)
}

impl Flanking {
    /// Links along all edges, in the order of the junctions.
    pub fn links(&self, building: &Building, cache: &Cache, links: &mut Vec<Link>) {
        let junctions = building.fabric.junctions.iter().zip(&cache.junctions).zip(&self.groups);
        for ((junction, known), group) in junctions {
            let Some(group) = group else { continue };
            for path in &known.paths {
                let radiating = junction.plates[path.plates[0]].unwrap_or(BoundaryIndex(0));
                links.push(Link {
                    id: path.id.clone(),
                    title: path.title.clone(),
                    kind: LinkKind::Flanking,
                    rooms: path.rooms,
                    boundary: separating(building, junction, path.rooms).unwrap_or(radiating),
                    coupling: path.coupling,
                    deviation: path.deviation,
                    group: *group,
                    spread: None,
                });
            }
        }
    }
}

/// The plate of a junction that parts two rooms.
fn separating(
    building: &Building,
    junction: &Junction,
    rooms: [RoomIndex; 2],
) -> Option<BoundaryIndex> {
    let parts = |p: &&BoundaryIndex| {
        let own = building.boundaries[p.0].rooms;
        rooms.iter().all(|r| own.contains(r))
    };
    junction.plates.iter().flatten().find(parts).copied()
}

/// Names that stand in the names of a junction's paths.
fn names<'a>(building: &'a Building, junction: &'a Junction) -> impl Iterator<Item = &'a str> {
    junction.plates.iter().flatten().flat_map(|p| {
        let boundary = &building.boundaries[p.0];
        let rooms = boundary.rooms.iter().map(|r| building.rooms[r.0].id.as_str());
        [boundary.id.as_str(), boundary.name()].into_iter().chain(rooms)
    })
}

/// Id and title of a path between two plates of a junction, by their places in it.
fn named(
    building: &Building,
    junction: &Junction,
    plates: [usize; 2],
    rooms: [RoomIndex; 2],
) -> (String, String) {
    let [i, j] = plates.map(|k| &building.boundaries[junction.plates[k].map_or(0, |p| p.0)]);
    let rooms = rooms.map(|r| building.rooms[r.0].id.as_str());
    let title = junction.title.clone().unwrap_or_else(|| {
        if plates[0] == plates[1] {
            format!("round {}", i.name())
        } else {
            format!("along {} into {}", i.name(), j.name())
        }
    });
    (format!("{}: {} to {}, {}/{}", junction.id, i.id, j.id, rooms[0], rooms[1]), title)
}

/// Whether flanking is modelled for one boundary, so that the edge path of the laboratory, which
/// stands in its prediction, must be taken away.
pub(crate) fn is_modelled(
    building: &Building,
    boundary: BoundaryIndex,
    cache: &mut Cache,
) -> Result<bool, TransmissionError> {
    let Some(own) = building.boundaries.get(boundary.0) else { return Ok(false) };
    if own.rooms.iter().any(|r| building.rooms.get(r.0).is_none_or(|r| r.outdoors)) {
        return Ok(false);
    }
    for junction in &building.fabric.junctions {
        if !junction.plates.contains(&Some(boundary)) || !sound(building, junction) {
            continue;
        }
        if matches!(junction.kind, JunctionKind::Framed(_)) {
            if junction.plates[0] == Some(boundary) {
                return Ok(true);
            }
            continue;
        }
        let mut held: [Option<Arc<Plate>>; 4] = Default::default();
        for (slot, p) in held.iter_mut().zip(junction.plates) {
            if let Some(p) = p {
                *slot = plate(building, p, cache)?;
            }
        }
        let plates: Plates<'_> = [0, 1, 2, 3].map(|k| held[k].as_deref());
        for (i, p) in junction.plates.iter().enumerate() {
            for (j, q) in junction.plates.iter().enumerate() {
                let (Some(p), Some(q)) = (p, q) else { continue };
                let touches =
                    |at: &BoundaryIndex, r: RoomIndex| building.boundaries[at.0].rooms.contains(&r);
                if p != q
                    && touches(p, own.rooms[0])
                    && touches(q, own.rooms[1])
                    && reduction_index(junction, &plates, i, j, Hertz(500.0)).is_some()
                {
                    return Ok(true);
                }
            }
        }
    }
    Ok(false)
}

/// Every index of a junction points at something.
fn sound(building: &Building, junction: &Junction) -> bool {
    junction.length.0 > 0.0
        && junction.length.0.is_finite()
        && junction.plates.iter().flatten().all(|p| {
            building
                .boundaries
                .get(p.0)
                .is_some_and(|b| b.rooms.iter().all(|r| r.0 < building.rooms.len()))
        })
}

fn plate(
    building: &Building,
    at: BoundaryIndex,
    cache: &mut Cache,
) -> Result<Option<Arc<Plate>>, TransmissionError> {
    let Some(boundary) = building.boundaries.get(at.0) else { return Ok(None) };
    let Some(build_up) = building.build_ups.get(boundary.build_up.0) else {
        return Err(TransmissionError::Dangling(boundary.id.clone()));
    };
    cache
        .plate(build_up, boundary.area, building.air)
        .map_err(|cause| TransmissionError::Partition { boundary: boundary.id.clone(), cause })
}

fn plates(
    building: &Building,
    cache: &mut Cache,
) -> Result<Vec<Option<Arc<Plate>>>, TransmissionError> {
    let mut used = vec![false; building.boundaries.len()];
    for p in building.fabric.junctions.iter().flat_map(|j| j.plates).flatten() {
        if let Some(slot) = used.get_mut(p.0) {
            *slot = true;
        }
    }
    let mut out = Vec::with_capacity(used.len());
    for (index, used) in used.into_iter().enumerate() {
        out.push(if used { plate(building, BoundaryIndex(index), cache)? } else { None });
    }
    Ok(out)
}

/// Every plate in its place.
fn placed(
    building: &Building,
    plates: &[Option<Arc<Plate>>],
    cache: &mut Cache,
) -> Vec<Option<Arc<Placed>>> {
    let mut edges: Vec<Vec<(f64, f64)>> = vec![Vec::new(); plates.len()];
    for junction in building.fabric.junctions.iter().filter(|j| sound(building, j)) {
        let own: Plates<'_> = junction.plates.map(|p| p.and_then(|p| plates[p.0].as_deref()));
        for (i, at) in junction.plates.iter().enumerate() {
            let Some(at) = at else { continue };
            if own[i].is_none_or(|p| !p.heavy) {
                continue;
            }
            // α_k = Σ_j √(f_c,j/f_ref) · 10^(−K_ij/10). Source: ISO 12354-1 Annex C, from memory.
            let alpha: f64 = (0..4)
                .filter(|&j| j != i && junction.plates[j] != Some(*at))
                .filter_map(|j| {
                    let fc = own[j]?.critical?;
                    let k = reduction_index(junction, &own, i, j, Hertz(500.0))?;
                    Some((fc / 1000.0).sqrt() * 10f64.powf(-k / 10.0))
                })
                .sum();
            edges[at.0].push((junction.length.0, alpha));
        }
    }
    cache.placed.resize_with(plates.len(), || None);
    plates
        .iter()
        .zip(edges)
        .zip(&mut cache.placed)
        .map(|((plate, edges), known)| {
            let plate = plate.as_ref()?;
            let same = known.as_ref().is_some_and(|k| {
                k.air == building.air && k.edges == edges && same_plate(&k.plate, plate)
            });
            if !same {
                *known = Some(Arc::new(Placed::new(Arc::clone(plate), edges, building.air)));
            }
            known.clone()
        })
        .collect()
}

/// Vibration reduction index between two plates of a junction at one frequency; `None` where the
/// sort of junction is not known or nothing passes.
fn reduction_index(
    junction: &Junction,
    plates: &Plates<'_>,
    i: usize,
    j: usize,
    f: Hertz,
) -> Option<f64> {
    let (p, q) = (plates[i]?, plates[j]?);
    let turn = if (i + j).is_multiple_of(2) { Turn::Straight } else { Turn::Corner };
    // Heavy plates that stand across the path; without any, light ones.
    let across = |heavy: bool| -> Option<f64> {
        let masses: Vec<f64> = [(i + 1) % 4, (i + 3) % 4]
            .into_iter()
            .filter_map(|k| plates[k])
            .filter(|p| p.heavy == heavy)
            .map(|p| p.mass)
            .collect();
        (!masses.is_empty()).then(|| masses.iter().sum::<f64>() / masses.len() as f64)
    };
    // In line both plates of the path count alike, which keeps K_ij = K_ji.
    let m_of = |across: f64| (across / (p.mass * q.mass).sqrt()).log10();
    let m = match turn {
        Turn::Corner => (q.mass / p.mass).log10(),
        Turn::Straight => across(true).or_else(|| across(false)).map_or(0.0, m_of),
    };
    let heavy = plates.iter().flatten().filter(|p| p.heavy).count();
    let arms = plates.iter().flatten().count();
    let rigid = |arms: usize| match (arms, turn) {
        (4, _) => vibration::rigid_cross(turn, m),
        (3, _) => vibration::rigid_tee(turn, m),
        (_, Turn::Straight) => vibration::two_plates(turn, (q.mass / p.mass).log10()),
        (_, Turn::Corner) => vibration::two_plates(turn, m),
    };
    match &junction.kind {
        JunctionKind::Separated | JunctionKind::Framed(_) => None,
        JunctionKind::Rigid => Some(rigid(arms)),
        JunctionKind::FlexibleLayer { from } => {
            let layer = vibration::flexible_layer(f, *from);
            Some(match (turn, i % 2) {
                (Turn::Straight, 0) => vibration::through_flexible(m),
                (Turn::Straight, _) => rigid(arms) + 2.0 * layer,
                (Turn::Corner, _) => rigid(arms) + layer,
            })
        }
        JunctionKind::LightFacade => Some(vibration::light_facade(turn, m)),
        JunctionKind::LightDoubleLeaf => Some(vibration::light_double_leaf(turn, m, f)),
        JunctionKind::CoupledLightDoubleLeaf => {
            Some(vibration::coupled_light_double_leaf(turn, m, f))
        }
        JunctionKind::Continuous => match turn {
            Turn::Straight => Some(vibration::under_light_wall(m)),
            Turn::Corner => Some(vibration::light_double_leaf(turn, m, f)),
        },
        JunctionKind::ByPlates => match (p.heavy, q.heavy, turn) {
            (true, true, Turn::Straight) if across(true).is_none() => {
                across(false).map(|light| vibration::under_light_wall(m_of(light)))
            }
            (true, true, _) => Some(rigid(heavy)),
            (false, false, Turn::Straight) if across(true).is_some() => {
                Some(vibration::light_double_leaf(turn, m, f))
            }
            (false, false, _) => None,
            (_, _, Turn::Corner) => Some(vibration::light_double_leaf(turn, m, f)),
            // Light above heavy in one line: the corner's value, which says that they part.
            (_, _, Turn::Straight) => {
                Some(vibration::light_double_leaf(Turn::Corner, (q.mass / p.mass).log10(), f))
            }
        },
    }
}

fn paths(building: &Building, junction: &Junction, placed: &PlatesPlaced<'_>) -> Vec<Path> {
    let k_deviation = match (junction.found, junction.standpoint.standing) {
        (false, Standing::Known) => K_DEVIATION,
        _ => K_DEVIATION_FOUND,
    };
    if let JunctionKind::Framed(table) = &junction.kind {
        return framed(building, junction, table.as_ref());
    }
    let rooms_of = |k: usize| junction.plates[k].map(|p| building.boundaries[p.0].rooms);
    // K_ij = K_ji.
    let mut between: [[Option<PerBand>; 4]; 4] = [[None; 4]; 4];
    for i in 0..4 {
        for j in i + 1..4 {
            between[i][j] = passed(junction, placed, i, j);
            between[j][i] = between[i][j];
        }
    }
    let mut out: Vec<Path> = Vec::new();
    for i in 0..4 {
        for j in 0..4 {
            let (Some(from), Some(to)) = (rooms_of(i), rooms_of(j)) else { continue };
            let (Some(p), Some(q)) = (placed[i], placed[j]) else { continue };
            let Some(passed) = &between[i][j] else { continue };
            if junction.plates[i] == junction.plates[j] {
                continue;
            }
            let area = (p.plate.area * q.plate.area).sqrt();
            let between: PerBand =
                std::array::from_fn(|b| area * p.transmits[b] * q.transmits[b] * passed[b]);
            let deviation = std::array::from_fn(|b| {
                (k_deviation.powi(2)
                    + (p.plate.deviation[b] / 2.0).powi(2)
                    + (q.plate.deviation[b] / 2.0).powi(2))
                .sqrt()
            });
            for (side_i, a) in from.into_iter().enumerate() {
                for (side_j, b) in to.into_iter().enumerate() {
                    let indoors = |r: RoomIndex| !building.rooms[r.0].outdoors;
                    // Each pair of rooms once; both ways are the same number.
                    if a.0 >= b.0 || !indoors(a) || !indoors(b) {
                        continue;
                    }
                    let (enters, leaves) = (&p.plate.halves[side_i], &q.plate.halves[side_j]);
                    let (id, title) = named(building, junction, [i, j], [a, b]);
                    out.push(Path {
                        id,
                        title,
                        rooms: [a, b],
                        plates: [i, j],
                        coupling: std::array::from_fn(|b| enters[b] * leaves[b] * between[b]),
                        deviation,
                    });
                }
            }
        }
    }
    out
}

/// 10^(−D_v,ij/10) of two plates, not above one.
fn passed(junction: &Junction, placed: &PlatesPlaced<'_>, i: usize, j: usize) -> Option<PerBand> {
    let (p, q) = (placed[i]?, placed[j]?);
    let plates: Plates<'_> = placed.map(|p| p.map(|p| &*p.plate));
    let at = |f: f64| reduction_index(junction, &plates, i, j, Hertz(f));
    // Most junctions do not depend on frequency; those that do rise or fall all the way.
    let (low, high) = (at(20.0)?, at(10_000.0)?);
    let same = (low == high).then(|| 10f64.powf(-low / 10.0));
    Some(std::array::from_fn(|b| {
        let k = same.unwrap_or_else(|| 10f64.powf(-at(centre(b).0).unwrap_or(0.0) / 10.0));
        (k * junction.length.0 / (p.length[b] * q.length[b])).min(1.0)
    }))
}

/// What R_situ = R_lab − 10 lg(T_s,situ/T_s,lab) does to the resonant transmission: it grows with
/// the decay time.
fn in_place(plate: &Plate, f: f64, eta: f64) -> f64 {
    if plate.heavy { plate.usual_loss(f) / eta.max(1e-6) } else { 1.0 }
}

/// Impact sound of one floor along one junction into one room.
pub(crate) struct ImpactPath {
    /// Junction, by position.
    pub junction: usize,
    /// The plate that radiates; of a framed junction the one that parts the rooms.
    pub by: BoundaryIndex,
    /// Normalised flanking impact level L_n,ij or L_n,f, dB.
    pub level: PerBand,
    /// Its standard deviation beside that of the floor's own level, dB.
    pub deviation: f64,
}

/// Deviation on top where a light wall radiates, dB: its whole R stands for the resonant part,
/// which is on the safe side below its critical frequency (practice).
const LIGHT_DEVIATION: f64 = 5.0;

/// All first-order paths of impact sound from a struck floor into a room; `struck` is L_n,ii of
/// the floor, which framed floors have not.
///
///   L_n,ij = L_n,ii + (R_i − R_j)/2 − ΔR_j − D_v,ij − 10 lg √(S_i/S_j)
///
/// with R the resonant parts in place, of light walls the whole. Source: ISO 12354-2, from memory;
/// it gives L_n,ii back for a plate like the floor with D_v = 0. From framed floors nothing is
/// published that transfers from one building to another: what counts there is the L_n,f that is
/// stated of a framed junction (measured as by ISO 10848), and nothing else.
pub(crate) fn impact_paths(
    building: &Building,
    floor: BoundaryIndex,
    into: RoomIndex,
    struck: Option<&PerBand>,
    cache: &mut Cache,
) -> Result<Vec<ImpactPath>, TransmissionError> {
    let mut out = Vec::new();
    if !building.fabric.junctions.iter().any(|j| j.plates.contains(&Some(floor))) {
        return Ok(out);
    }
    let plates = plates(building, cache)?;
    let all = placed(building, &plates, cache);
    for (at, junction) in building.fabric.junctions.iter().enumerate() {
        let Some(i) = junction.plates.iter().position(|p| *p == Some(floor)) else { continue };
        if !sound(building, junction) {
            continue;
        }
        if matches!(junction.kind, JunctionKind::Framed(_)) {
            let above = building.boundaries[floor.0].rooms[1];
            let parts = |p: &BoundaryIndex| {
                let rooms = building.boundaries[p.0].rooms;
                rooms.contains(&above) && rooms.contains(&into) && above != into
            };
            let stated = junction.impact.as_ref().and_then(filled_levels);
            if let (Some(by), Some(level)) = (junction.plates[0].filter(parts), stated) {
                out.push(ImpactPath { junction: at, by, level, deviation: K_DEVIATION });
            }
            continue;
        }
        let Some(struck) = struck else { continue };
        let own: PlatesPlaced<'_> = junction.plates.map(|p| p.and_then(|p| all[p.0].as_deref()));
        let Some(p) = own[i].filter(|p| p.plate.heavy) else { continue };
        for j in 0..4 {
            let (Some(by), Some(q)) = (junction.plates[j], own[j]) else { continue };
            if by == floor {
                continue;
            }
            let Some(side) = building.boundaries[by.0].rooms.iter().position(|r| *r == into) else {
                continue;
            };
            let Some(passed) = passed(junction, &own, i, j) else { continue };
            let level = std::array::from_fn(|b| {
                let placed = |p: &Placed| p.plate.resonant[b] - 20.0 * p.transmits[b].log10();
                struck[b] + (placed(p) - placed(q)) / 2.0 - q.plate.linings[side][b]
                    + 10.0 * passed[b].max(1e-15).log10()
                    - 5.0 * (p.plate.area / q.plate.area).log10()
            });
            let known = !junction.found && junction.standpoint.standing == Standing::Known;
            let k = if known { K_DEVIATION } else { K_DEVIATION_FOUND };
            let deviation = if q.plate.heavy { k } else { k.hypot(LIGHT_DEVIATION) };
            out.push(ImpactPath { junction: at, by, level, deviation });
        }
    }
    Ok(out)
}

/// D_n,f between the rooms on both sides of plate 0.
fn framed(
    building: &Building,
    junction: &Junction,
    table: Option<&Spectrum<LevelDifference>>,
) -> Vec<Path> {
    let Some(separating) = junction.plates[0] else { return Vec::new() };
    let rooms = building.boundaries[separating.0].rooms;
    if rooms.iter().any(|r| building.rooms[r.0].outdoors) {
        return Vec::new();
    }
    let (values, deviation) = match table.and_then(filled) {
        Some(values) => (values, K_DEVIATION),
        None => (std::array::from_fn(|b| usual_framed(centre(b))), FRAMED_DEVIATION),
    };
    let (id, title) = named(building, junction, [0, 0], rooms);
    vec![Path {
        id,
        title,
        rooms,
        plates: [0, 0],
        coupling: values.map(|d| A0 * 10f64.powf(-d / 10.0)),
        deviation: [deviation; BANDS],
    }]
}

/// Puts in what recordings said about ways the description does not know enough of.
pub(crate) fn found_ways(building: &Building, links: &mut Vec<Link>, groups: &mut Vec<String>) {
    for found in &building.fabric.found {
        match found {
            FoundWay::Stronger { way, by } => {
                let factor = 10f64.powf(by.0 / 10.0);
                for link in links.iter_mut().filter(|l| belongs_to(&l.id, way)) {
                    link.coupling.iter_mut().for_each(|g| *g *= factor);
                }
            }
            FoundWay::Beside { way, boundary, by } => {
                let Some(b) = building.boundaries.get(boundary.0) else { continue };
                if b.rooms.iter().any(|r| building.rooms.get(r.0).is_none_or(|r| r.outdoors)) {
                    continue;
                }
                let id = format!("{way} beside");
                groups.push(id.clone());
                links.push(Link {
                    title: format!("along the structure beside {}", b.name()),
                    id,
                    kind: LinkKind::Flanking,
                    rooms: b.rooms,
                    boundary: *boundary,
                    coupling: std::array::from_fn(|k| {
                        A0 * 10f64.powf((by.0 - usual_framed(centre(k))) / 10.0)
                    }),
                    deviation: [FRAMED_DEVIATION / 2.0; BANDS],
                    group: groups.len() - 1,
                    spread: None,
                });
            }
        }
    }
}

/// Whether a link is the way of this name, or a part of it: `id`, `id: …` along a junction,
/// `id wall, …` through a duct's own wall.
pub(crate) fn belongs_to(link: &str, way: &str) -> bool {
    link.strip_prefix(way).is_some_and(|rest| {
        rest.is_empty() || rest.starts_with(": ") || rest.starts_with(" wall, ")
    })
}

/// One remark for all boundaries between rooms whose flanking is left out, with what the usual
/// framed junctions on four edges would cost there.
pub(crate) fn left_out(building: &Building, links: &[Link], flanking: &Flanking) -> Option<Remark> {
    let mut names = Vec::new();
    let mut worst = [0.0f64; 2];
    for (index, boundary) in building.boundaries.iter().enumerate() {
        if (flanking.modelled[index] && !flanking.left_out[index])
            || boundary.rooms.iter().any(|r| building.rooms[r.0].outdoors)
            || spoken_for(building, BoundaryIndex(index))
        {
            continue;
        }
        names.push(boundary.name());
        for (slot, hertz) in worst.iter_mut().zip([63.0, 500.0]) {
            let Some(band) = wythe_bands::Band::holding(Hertz(hertz)) else { continue };
            let direct: f64 = links
                .iter()
                .filter(|l| l.boundary.0 == index)
                .map(|l| l.coupling[band.index()])
                .sum();
            let more = 4.0 * A0 * 10f64.powf(-usual_framed(Hertz(hertz)) / 10.0);
            if direct > 0.0 {
                *slot = slot.max(10.0 * (1.0 + more / direct).log10());
            }
        }
    }
    if names.is_empty() {
        return None;
    }
    let some: Vec<String> = names.iter().take(4).map(|n| format!("`{n}`")).collect();
    let rest =
        if names.len() > 4 { format!(" and {} more", names.len() - 4) } else { String::new() };
    Some(Remark::new(
        "transmission::flanking-left-out",
        format!(
            "sound along the structure is left out, in whole or at some edges, at {}{rest}, because nothing is known of the junctions \
             there or they are framed; with the usual framed junction on all four edges (an assumption, \
             ± 8 dB) up to {:.0} dB would be lost at 63 Hz and {:.0} dB at 500 Hz: describe them in \
             `[[junction]]`",
            some.join(", "),
            worst[0],
            worst[1]
        ),
    ))
}

/// Whether somebody spoke for the boundary: the structure is cut at an edge of it, or its framed
/// junction is stated, which stands for all its light edges.
fn spoken_for(building: &Building, boundary: BoundaryIndex) -> bool {
    building.fabric.junctions.iter().any(|j| match j.kind {
        JunctionKind::Separated => j.plates.contains(&Some(boundary)),
        JunctionKind::Framed(_) => j.plates[0] == Some(boundary),
        _ => false,
    }) || building
        .fabric
        .found
        .iter()
        .any(|f| matches!(f, FoundWay::Beside { boundary: b, .. } if *b == boundary))
}
