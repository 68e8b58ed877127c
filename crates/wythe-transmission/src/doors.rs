//! Doors too close to each other: the air between them is a spring, not a room.

use wythe_bands::Remark;
use wythe_building::{BoundaryIndex, Building, RoomIndex};
use wythe_partition::{Conditions, Opening, OpeningState, as_one, spring_frequency};

use crate::plate::centre;
use crate::{BANDS, Cache, Link, LinkKind, PerBand, TransmissionError};

/// A lock with its doors further apart than this, m, is a room in every band that counts: a
/// quarter of the wavelength at 100 Hz.
const CLOSE: f64 = 0.85;
/// Deviation of what two close doors let through as one, dB (practice).
const DEVIATION: f64 = 4.0;

struct Door<'a> {
    boundary: usize,
    beyond: RoomIndex,
    opening: &'a Opening,
}

/// One more link past every lock whose closed doors stand so close that it is no room: the way of
/// both leaves as one, in the bands below a quarter wavelength.
pub(crate) fn links(
    building: &Building,
    cache: &mut Cache,
    groups: &mut Vec<String>,
) -> Result<(Vec<Link>, Vec<Remark>), TransmissionError> {
    let mut links = Vec::new();
    let mut remarks = Vec::new();
    for (index, lock) in building.rooms.iter().enumerate().filter(|(_, r)| !r.outdoors) {
        let Some(distance) = depth(lock).filter(|d| *d < CLOSE) else { continue };
        let doors: Vec<Door<'_>> = building
            .boundaries
            .iter()
            .enumerate()
            .filter_map(|(i, b)| Some((i, b, b.beyond(RoomIndex(index))?)))
            .flat_map(|(boundary, b, beyond)| {
                b.openings
                    .iter()
                    .filter(|o| {
                        o.leaf.is_some()
                            && matches!(o.state, OpeningState::Closed | OpeningState::Taped)
                    })
                    .map(move |opening| Door { boundary, beyond, opening })
            })
            .collect();
        for (k, first) in doors.iter().enumerate() {
            for second in doors[k + 1..].iter().filter(|d| d.beyond != first.beyond) {
                if [first, second].iter().all(|d| building.rooms[d.beyond.0].outdoors) {
                    continue;
                }
                let Some((coupling, f0)) = pair(building, first, second, distance, cache)? else {
                    continue;
                };
                let id = format!("{} and {} as one", first.opening.id, second.opening.id);
                groups.push(id.clone());
                let quarter = building.air.sound_speed() / (4.0 * distance);
                remarks.push(
                    Remark::new(
                        "transmission::doors-too-close",
                        format!(
                            "doors `{}` and `{}` stand {:.2} m apart: below {f0:.0} Hz both leaves act as one and the lock gains nothing, up to {quarter:.0} Hz it gains less than a room would",
                            first.opening.id, second.opening.id, distance
                        ),
                    )
                    .at(lock.name().to_owned()),
                );
                links.push(Link {
                    title: format!("{id} (too close)"),
                    id,
                    kind: LinkKind::Opening,
                    rooms: [first.beyond, second.beyond],
                    boundary: BoundaryIndex(first.boundary),
                    coupling,
                    deviation: [DEVIATION; BANDS],
                    group: groups.len() - 1,
                    spread: [first, second]
                        .iter()
                        .find(|d| building.rooms[d.beyond.0].outdoors)
                        .and_then(|d| crate::assemble::spread_outdoors(building, d.boundary)),
                });
            }
        }
    }
    Ok((links, remarks))
}

/// Distance of the doors of a lock: the shorter side of its plan; `None` without an outline, where
/// nothing says which way the doors face.
fn depth(lock: &wythe_building::Room) -> Option<f64> {
    lock.outline.as_ref()?.rectangle().map(|[_, short]| short.0).filter(|d| *d > 0.0)
}

fn pair(
    building: &Building,
    first: &Door<'_>,
    second: &Door<'_>,
    distance: f64,
    cache: &mut Cache,
) -> Result<Option<(PerBand, f64)>, TransmissionError> {
    let mut leaf = |door: &Door<'_>| -> Result<Option<(PerBand, f64, f64)>, TransmissionError> {
        let Some(build_up) = &door.opening.leaf else { return Ok(None) };
        let area = wythe_bands::SquareMetre(
            (door.opening.width.0 * door.opening.height.0).clamp(0.02, 1000.0),
        );
        let made =
            cache.wall(build_up, Conditions { air: building.air, area }).map_err(|cause| {
                TransmissionError::Partition {
                    boundary: building.boundaries[door.boundary].id.clone(),
                    cause,
                }
            })?;
        let reduction = crate::assemble::per_band(|b| made.reduction.get(b).map_or(0.0, |r| r.0));
        Ok(made.surface_mass.map(|m| (reduction, m.0, area.0)))
    };
    let (Some((r1, m1, s1)), Some((r2, m2, s2))) = (leaf(first)?, leaf(second)?) else {
        return Ok(None);
    };
    if !(m1 > 0.0 && m2 > 0.0) {
        return Ok(None);
    }
    let f0 = spring_frequency(m1, m2, distance);
    let quarter = building.air.sound_speed() / (4.0 * distance);
    let coupling = std::array::from_fn(|b| {
        let f = centre(b).0;
        if f < quarter {
            s1.min(s2) * 10f64.powf(-as_one(r1[b], r2[b], m1, m2, f, f0) / 10.0)
        } else {
            0.0
        }
    });
    Ok(Some((coupling, f0)))
}
