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

use wythe_bands::{Air, Hertz, LevelDifference, Remark, Spectrum, Standing};
use wythe_building::{BoundaryIndex, Building, FoundWay, Junction, JunctionKind, RoomIndex};

use crate::plate::{Plate, centre, filled};
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
    plates: [Option<Plate>; 4],
    losses: [PerBand; 4],
    paths: Vec<Path>,
}

/// The plates of one junction.
type Plates<'a> = [Option<&'a Plate>; 4];

/// One path in numbers.
#[derive(Clone, Debug)]
struct Path {
    rooms: [RoomIndex; 2],
    plates: [usize; 2],
    coupling: PerBand,
    deviation: PerBand,
}

/// All flanking links of a building, and which boundaries have any.
pub(crate) struct Flanking {
    pub links: Vec<Link>,
    /// Per boundary, whether something flanks it.
    pub modelled: Vec<bool>,
    /// Per boundary, whether an edge of it was left out because it is light all round.
    pub left_out: Vec<bool>,
}

/// Links along all edges, in the order of the junctions.
pub(crate) fn links(
    building: &Building,
    cache: &mut Cache,
    groups: &mut Vec<String>,
) -> Result<Flanking, TransmissionError> {
    let count = building.boundaries.len();
    let mut out =
        Flanking { links: Vec::new(), modelled: vec![false; count], left_out: vec![false; count] };
    if building.fabric.junctions.is_empty() {
        return Ok(out);
    }
    let plates = plates(building, cache)?;
    let losses = losses(building, &plates, cache);
    for (at, junction) in building.fabric.junctions.iter().enumerate() {
        if !sound(building, junction) {
            return Err(TransmissionError::Dangling(junction.id.clone()));
        }
        let own: Plates<'_> = junction.plates.map(|p| p.and_then(|p| plates[p.0].as_ref()));
        let own_losses: [PerBand; 4] =
            junction.plates.map(|p| p.map_or([0.0; BANDS], |p| losses[p.0]));
        let sides = junction.plates.map(|p| {
            p.map(|p| building.boundaries[p.0].rooms.map(|r| (r, building.rooms[r.0].outdoors)))
        });
        let known = cache.junctions.get(at).is_some_and(|k| {
            k.junction == *junction
                && k.air == building.air
                && k.sides == sides
                && k.losses == own_losses
                && k.plates.iter().zip(&own).all(|(k, o)| k.as_ref() == *o)
        });
        if !known {
            let made = Known {
                paths: paths(building, junction, &own, &own_losses),
                junction: junction.clone(),
                air: building.air,
                sides,
                plates: own.map(|p| p.cloned()),
                losses: own_losses,
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
        let name = format!("flanking at {}", junction.id);
        if paths.is_empty() {
            continue;
        }
        let group = groups.iter().position(|g| *g == name).unwrap_or_else(|| {
            groups.push(name);
            groups.len() - 1
        });
        for path in paths {
            let [i, j] = path.plates.map(|k| junction.plates[k].map_or(BoundaryIndex(0), |p| p));
            let separating = junction
                .plates
                .iter()
                .flatten()
                .find(|p| {
                    let rooms = building.boundaries[p.0].rooms;
                    path.rooms.iter().all(|r| rooms.contains(r))
                })
                .copied();
            if let Some(s) = separating {
                out.modelled[s.0] = true;
            }
            let names = [i, j].map(|p| building.boundaries[p.0].name());
            let title = junction.title.clone().unwrap_or_else(|| {
                if i == j {
                    format!("round {}", names[0])
                } else {
                    format!("along {} into {}", names[0], names[1])
                }
            });
            let rooms = path.rooms.map(|r| building.rooms[r.0].id.as_str());
            out.links.push(Link {
                id: format!(
                    "{}: {} to {}, {}/{}",
                    junction.id,
                    building.boundaries[i.0].id,
                    building.boundaries[j.0].id,
                    rooms[0],
                    rooms[1]
                ),
                title,
                kind: LinkKind::Flanking,
                rooms: path.rooms,
                boundary: separating.unwrap_or(i),
                coupling: path.coupling,
                deviation: path.deviation,
                group,
                spread: None,
            });
        }
    }
    Ok(out)
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
        let mut held: [Option<Plate>; 4] = Default::default();
        for (slot, p) in held.iter_mut().zip(junction.plates) {
            if let Some(p) = p {
                *slot = plate(building, p, cache)?;
            }
        }
        let plates: Plates<'_> = [0, 1, 2, 3].map(|k| held[k].as_ref());
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
) -> Result<Option<Plate>, TransmissionError> {
    let Some(boundary) = building.boundaries.get(at.0) else { return Ok(None) };
    let Some(build_up) = building.build_ups.get(boundary.build_up.0) else {
        return Err(TransmissionError::Dangling(boundary.id.clone()));
    };
    cache
        .plate(build_up, boundary.area, building.air)
        .map_err(|cause| TransmissionError::Partition { boundary: boundary.id.clone(), cause })
}

fn plates(building: &Building, cache: &mut Cache) -> Result<Vec<Option<Plate>>, TransmissionError> {
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

/// Loss factor in place of every plate, per band.
fn losses(building: &Building, plates: &[Option<Plate>], cache: &mut Cache) -> Vec<PerBand> {
    let mut edges: Vec<Vec<(f64, f64)>> = vec![Vec::new(); plates.len()];
    for junction in building.fabric.junctions.iter().filter(|j| sound(building, j)) {
        let own: Plates<'_> = junction.plates.map(|p| p.and_then(|p| plates[p.0].as_ref()));
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
    cache.losses.resize_with(plates.len(), || None);
    plates
        .iter()
        .zip(edges)
        .zip(&mut cache.losses)
        .map(|((plate, edges), known)| {
            let Some(plate) = plate else { return [0.0; BANDS] };
            if let Some(known) = known
                && known.air == building.air
                && known.edges == edges
                && known.plate == *plate
            {
                return known.loss;
            }
            let loss =
                std::array::from_fn(|b| plate.loss_in_place(centre(b).0, &edges, building.air));
            *known = Some(Loss { plate: plate.clone(), edges, air: building.air, loss });
            loss
        })
        .collect()
}

/// A plate's loss factor with everything it was made from.
#[derive(Clone, Debug)]
pub(crate) struct Loss {
    plate: Plate,
    /// Length and absorption of each edge.
    edges: Vec<(f64, f64)>,
    air: Air,
    loss: PerBand,
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

fn paths(
    building: &Building,
    junction: &Junction,
    plates: &Plates<'_>,
    losses: &[PerBand; 4],
) -> Vec<Path> {
    let k_deviation = match (junction.found, junction.standpoint.standing) {
        (false, Standing::Known) => K_DEVIATION,
        _ => K_DEVIATION_FOUND,
    };
    if let JunctionKind::Framed(table) = &junction.kind {
        return framed(building, junction, table.as_ref());
    }
    let rooms_of = |k: usize| junction.plates[k].map(|p| building.boundaries[p.0].rooms);
    let mut out: Vec<Path> = Vec::new();
    for i in 0..4 {
        for j in 0..4 {
            let (Some(from), Some(to)) = (rooms_of(i), rooms_of(j)) else { continue };
            let (Some(p), Some(q)) = (plates[i], plates[j]) else { continue };
            if junction.plates[i] == junction.plates[j] {
                continue;
            }
            for (side_i, a) in from.into_iter().enumerate() {
                for (side_j, b) in to.into_iter().enumerate() {
                    let indoors = |r: RoomIndex| !building.rooms[r.0].outdoors;
                    // Each pair of rooms once; both ways are the same number.
                    if a.0 >= b.0 || !indoors(a) || !indoors(b) {
                        continue;
                    }
                    let Some(coupling) =
                        path(junction, plates, losses, (i, side_i), (j, side_j), building.air)
                    else {
                        continue;
                    };
                    let deviation = std::array::from_fn(|b| {
                        (k_deviation.powi(2)
                            + (p.deviation[b] / 2.0).powi(2)
                            + (q.deviation[b] / 2.0).powi(2))
                        .sqrt()
                    });
                    out.push(Path { rooms: [a, b], plates: [i, j], coupling, deviation });
                }
            }
        }
    }
    out
}

/// Coupling area of one path.
fn path(
    junction: &Junction,
    plates: &Plates<'_>,
    losses: &[PerBand; 4],
    (i, side_i): (usize, usize),
    (j, side_j): (usize, usize),
    air: Air,
) -> Option<PerBand> {
    let (p, q) = (plates[i]?, plates[j]?);
    let passed = passed(junction, plates, losses, i, j, air)?;
    let area = (p.area * q.area).sqrt();
    Some(std::array::from_fn(|b| {
        let f = centre(b).0;
        let in_place = (in_place(p, f, losses[i][b]) * in_place(q, f, losses[j][b])).sqrt();
        area * p.halves[side_i][b] * q.halves[side_j][b] * in_place * passed[b]
    }))
}

/// 10^(−D_v,ij/10) of two plates, not above one.
fn passed(
    junction: &Junction,
    plates: &Plates<'_>,
    losses: &[PerBand; 4],
    i: usize,
    j: usize,
    air: Air,
) -> Option<PerBand> {
    let (p, q) = (plates[i]?, plates[j]?);
    let at = |f: f64| reduction_index(junction, plates, i, j, Hertz(f));
    // Most junctions do not depend on frequency; those that do rise or fall all the way.
    let (low, high) = (at(20.0)?, at(10_000.0)?);
    let same = (low == high).then(|| 10f64.powf(-low / 10.0));
    Some(std::array::from_fn(|b| {
        let f = centre(b).0;
        let a_i = p.absorption_length(f, losses[i][b], air).max(1e-6);
        let a_j = q.absorption_length(f, losses[j][b], air).max(1e-6);
        let k = same.unwrap_or_else(|| 10f64.powf(-at(f).unwrap_or(0.0) / 10.0));
        (k * junction.length.0 / (a_i * a_j).sqrt()).min(1.0)
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
    /// The plate that radiates.
    pub by: BoundaryIndex,
    /// L_n,ij − L_n,ii of the bare floor, dB.
    pub relative: PerBand,
    /// Its standard deviation, dB.
    pub deviation: f64,
}

/// All first-order paths of impact sound from a struck floor into a room:
///
///   L_n,ij = L_n,ii + (R_i − R_j)/2 − ΔR_j − D_v,ij − 10 lg √(S_i/S_j)
///
/// with R the resonant parts in place. Source: ISO 12354-2, from memory; it gives L_n,ii back for
/// a plate like the floor with D_v = 0. Heavy floors only: of framed ones nothing is published
/// that transfers.
pub(crate) fn impact_paths(
    building: &Building,
    floor: BoundaryIndex,
    into: RoomIndex,
    cache: &mut Cache,
) -> Result<Vec<ImpactPath>, TransmissionError> {
    let mut out = Vec::new();
    if !building.fabric.junctions.iter().any(|j| j.plates.contains(&Some(floor))) {
        return Ok(out);
    }
    let plates = plates(building, cache)?;
    let all_losses = losses(building, &plates, cache);
    for (at, junction) in building.fabric.junctions.iter().enumerate() {
        let Some(i) = junction.plates.iter().position(|p| *p == Some(floor)) else { continue };
        if !sound(building, junction) || matches!(junction.kind, JunctionKind::Framed(_)) {
            continue;
        }
        let own: Plates<'_> = junction.plates.map(|p| p.and_then(|p| plates[p.0].as_ref()));
        let own_losses: [PerBand; 4] =
            junction.plates.map(|p| p.map_or([0.0; BANDS], |p| all_losses[p.0]));
        let Some(p) = own[i].filter(|p| p.heavy) else { continue };
        for j in 0..4 {
            let (Some(by), Some(q)) = (junction.plates[j], own[j]) else { continue };
            // A light wall on a heavy floor hardly radiates what it takes; its R says nothing of
            // free vibration.
            if by == floor || !q.heavy {
                continue;
            }
            let Some(side) = building.boundaries[by.0].rooms.iter().position(|r| *r == into) else {
                continue;
            };
            let Some(passed) = passed(junction, &own, &own_losses, i, j, building.air) else {
                continue;
            };
            let relative = std::array::from_fn(|b| {
                let f = centre(b).0;
                let placed = |plate: &Plate, eta: f64| {
                    plate.resonant[b] - 10.0 * in_place(plate, f, eta).log10()
                };
                (placed(p, own_losses[i][b]) - placed(q, own_losses[j][b])) / 2.0
                    - q.linings[side][b]
                    + 10.0 * passed[b].max(1e-15).log10()
                    - 5.0 * (p.area / q.area).log10()
            });
            let known = !junction.found && junction.standpoint.standing == Standing::Known;
            let deviation = if known { K_DEVIATION } else { K_DEVIATION_FOUND };
            out.push(ImpactPath { junction: at, by, relative, deviation });
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
    vec![Path {
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
