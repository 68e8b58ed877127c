//! What shakes the structure: links that go one way and take nothing from the air of their room.
//!
//! A link of kind [`LinkKind::StructureBorne`] brings power into its second room in proportion to
//! the level in its first while that one is the source, and does nothing else: no loss, no way
//! back. Its coupling is 10 m² · 10^(−D_n/10) with D_n the level in the source room minus the
//! structure-borne level normalised to 10 m².

use wythe_bands::Remark;
use wythe_building::{BoundaryIndex, BoundaryKind, Building, Contact, ContactTransfer};

use crate::flanking::A0;
use crate::impact::{self, ImpactLevel};
use crate::plate::filled;
use crate::{BANDS, Cache, Link, LinkKind, PerBand, TransmissionError, flanking};

/// Least deviation of an estimate without a measured force, dB: a range of ± 10 dB.
pub const ESTIMATE_DEVIATION: f64 = 10.0;
/// Deviation of one measured transfer, dB (practice).
const MEASURED_DEVIATION: f64 = 3.0;

/// Links of all contacts.
pub(crate) fn links(
    building: &Building,
    cache: &mut Cache,
    groups: &mut Vec<String>,
) -> Result<(Vec<Link>, Vec<Remark>), TransmissionError> {
    let mut links = Vec::new();
    let mut remarks = Vec::new();
    for contact in &building.fabric.contacts {
        let rooms = [contact.from, contact.into];
        if rooms[0] == rooms[1]
            || rooms.iter().any(|r| building.rooms.get(r.0).is_none_or(|r| r.outdoors))
        {
            return Err(TransmissionError::Dangling(contact.id.clone()));
        }
        let title = contact.title.clone().unwrap_or_else(|| contact.id.clone());
        let (ways, without) = ways(building, contact, &title, cache)?;
        if ways.is_empty() {
            remarks.push(
                Remark::new(
                    "transmission::contact-unknown",
                    "nothing is known of the way through the structure, so it is left out: state a measured transfer, or the floor it stands on and the junctions that lead to the room",
                )
                .at(title),
            );
            continue;
        }
        remarks.extend(without.map(|r| r.at(title.clone())));
        let mount: PerBand = std::array::from_fn(|b| {
            let band = wythe_bands::Band::at(b);
            contact.mount.zip(band).map_or(0.0, |(m, band)| m.improvement(band).0)
        });
        if let ContactTransfer::Estimated { .. } = contact.transfer {
            remarks.push(
                Remark::new(
                    "transmission::contact-estimated",
                    format!(
                        "the structure-borne part is an estimate with a range of at least ± {ESTIMATE_DEVIATION:.0} dB; one recording below while it plays, with the doors as they are, would replace it"
                    ),
                )
                .at(title.clone()),
            );
        }
        if let Some(mount) = &contact.mount {
            let (better, worse) = mount.bands();
            if let (Some(first), Some(last)) = (worse.first(), worse.last()) {
                remarks.push(
                    Remark::new(
                        "transmission::mount-worse",
                        format!(
                            "the mounting at {:.1} Hz makes {} to {} Hz worse{}",
                            mount.natural_frequency.0,
                            first.nominal(),
                            last.nominal(),
                            better.first().map_or_else(String::new, |b| format!(
                                " and helps from {} Hz",
                                b.nominal()
                            ))
                        ),
                    )
                    .at(title.clone()),
                );
            }
        }
        let name = format!("contact {}", contact.id);
        let group = groups.iter().position(|g| *g == name).unwrap_or_else(|| {
            groups.push(name);
            groups.len() - 1
        });
        for way in ways {
            links.push(Link {
                id: way.id,
                title: way.title,
                kind: LinkKind::StructureBorne,
                rooms,
                boundary: way.boundary.unwrap_or(Link::OF_NO_BOUNDARY),
                coupling: std::array::from_fn(|b| {
                    A0 * 10f64.powf(-(way.difference[b] + mount[b]) / 10.0)
                }),
                deviation: [way.deviation; BANDS],
                group,
                spread: None,
            });
        }
    }
    Ok((links, remarks))
}

/// One way of a contact through the structure.
struct ContactWay {
    id: String,
    title: String,
    /// D_n per band, dB.
    difference: PerBand,
    deviation: f64,
    /// The plate that radiates.
    boundary: Option<BoundaryIndex>,
}

/// All ways of a contact: the measured one, or through the floor and along what stands on or
/// under it; with what has to be said of ways that are left out.
fn ways(
    building: &Building,
    contact: &Contact,
    title: &str,
    cache: &mut Cache,
) -> Result<(Vec<ContactWay>, Option<Remark>), TransmissionError> {
    let (floor, force) = match &contact.transfer {
        ContactTransfer::Measured(table) => {
            let measured = filled(table).map(|difference| ContactWay {
                id: contact.id.clone(),
                title: title.to_owned(),
                difference,
                deviation: MEASURED_DEVIATION,
                boundary: None,
            });
            return Ok((measured.into_iter().collect(), None));
        }
        ContactTransfer::Estimated { floor, force } => (*floor, force),
    };
    let Some(boundary) = building.boundaries.get(floor.0) else {
        return Err(TransmissionError::Dangling(contact.id.clone()));
    };
    let stands = boundary.kind == BoundaryKind::Floor && boundary.rooms[1] == contact.from;
    let (Some(force), true) = (filled(force), stands) else { return Ok((Vec::new(), None)) };
    let Some(impact) = impact_level(building, floor, cache)? else {
        return Ok((Vec::new(), None));
    };
    let mut out = Vec::new();
    if boundary.rooms[0] == contact.into {
        out.push(ContactWay {
            id: contact.id.clone(),
            title: title.to_owned(),
            difference: std::array::from_fn(|b| -(impact.below[b] + force[b])),
            deviation: impact.deviation.hypot(ESTIMATE_DEVIATION),
            boundary: Some(floor),
        });
    }
    let paths =
        flanking::impact_paths(building, floor, contact.into, impact.struck.as_ref(), cache)?;
    let along = !paths.is_empty();
    for path in paths {
        let by = &building.boundaries[path.by.0];
        let junction = &building.fabric.junctions[path.junction];
        out.push(ContactWay {
            id: format!("{} at {} by {}", contact.id, junction.id, by.id),
            title: format!("{title}, along {}", by.name()),
            difference: std::array::from_fn(|b| -(path.level[b] + force[b])),
            deviation: impact.deviation.hypot(ESTIMATE_DEVIATION).hypot(path.deviation),
            boundary: Some(path.by),
        });
    }
    let left_out = (!along && impact.struck.is_none()).then(|| {
        Remark::new(
            "transmission::impact-framed",
            "the floor is framed: how much of a blow goes along its walls into this room is published for no construction but the one tested, so that part is left out; state `impact_level` of a framed [[junction]], or what is `heard`",
        )
    });
    Ok((out, left_out))
}

/// What the standard tapping machine on a floor makes in one room.
#[derive(Clone, Debug, PartialEq)]
pub struct ImpactInto {
    /// The room.
    pub room: wythe_building::RoomIndex,
    /// Normalised impact level L′_n per band, the floor itself (where the room lies below it) and
    /// all first-order paths together, dB.
    pub level: PerBand,
    /// Standard deviation at 500 Hz, dB.
    pub deviation: f64,
    /// Number of paths along walls and floors in it.
    pub paths: usize,
}

/// [`impact_level`] with what goes along walls and floors, for every room that gets any of it, the
/// one above left out.
///
/// # Errors
/// As [`impact_level`].
pub fn impact_rooms(
    building: &Building,
    floor: BoundaryIndex,
    cache: &mut Cache,
) -> Result<Vec<ImpactInto>, TransmissionError> {
    let Some(impact) = impact_level(building, floor, cache)? else { return Ok(Vec::new()) };
    let [below, above] = building.boundaries[floor.0].rooms;
    let mut out = Vec::new();
    for (index, room) in building.rooms.iter().enumerate() {
        let into = wythe_building::RoomIndex(index);
        if into == above || room.outdoors {
            continue;
        }
        let paths = flanking::impact_paths(building, floor, into, impact.struck.as_ref(), cache)?;
        let direct = (into == below).then_some((&impact.below, 0.0));
        let parts: Vec<(&PerBand, f64)> =
            direct.into_iter().chain(paths.iter().map(|p| (&p.level, p.deviation))).collect();
        if parts.is_empty() {
            continue;
        }
        let energy = |b: usize| parts.iter().map(|(l, _)| 10f64.powf(l[b] / 10.0)).sum::<f64>();
        let b = wythe_bands::Band::HZ_500.index();
        let spread: f64 = parts
            .iter()
            .map(|(l, d)| (10f64.powf(l[b] / 10.0) / energy(b) * d).powi(2))
            .sum::<f64>()
            .sqrt();
        out.push(ImpactInto {
            room: into,
            level: std::array::from_fn(|b| 10.0 * energy(b).log10()),
            deviation: impact.deviation.hypot(spread),
            paths: paths.len(),
        });
    }
    Ok(out)
}

/// Normalised impact level below a floor per band from the standard tapping machine; `None` where
/// nothing is known of the floor.
///
/// # Errors
/// What the prediction of the floor refuses.
pub fn impact_level(
    building: &Building,
    floor: BoundaryIndex,
    cache: &mut Cache,
) -> Result<Option<ImpactLevel>, TransmissionError> {
    let Some(boundary) = building.boundaries.get(floor.0) else {
        return Err(TransmissionError::Dangling(format!("number {}", floor.0)));
    };
    let Some(build_up) = building.build_ups.get(boundary.build_up.0) else {
        return Err(TransmissionError::Dangling(boundary.id.clone()));
    };
    let plate = cache
        .plate(build_up, boundary.area, building.air)
        .map_err(|cause| TransmissionError::Partition { boundary: boundary.id.clone(), cause })?;
    Ok(plate.map(|p| impact::of_floor(&p, |f| p.usual_loss(f), building.air)))
}
