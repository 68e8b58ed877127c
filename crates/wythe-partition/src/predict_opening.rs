//! What a door, window or hatch lets through, part by part.

use wythe_bands::{
    Band, Hertz, LevelDifference, Metre, Remark, Spectrum, SquareMetre, Transmittance,
};

use crate::leak::{Slit, hole_diffuse};
use crate::prediction::frequencies;
use crate::{
    Conditions, Opening, OpeningKind, OpeningPart, OpeningPrediction, OpeningState, PartitionError,
    PerimeterPart, Seal, SealKind, predict, two_leaves,
};

/// Depth of a slit where the leaf's thickness is not known: a common door leaf.
const USUAL_LEAF: f64 = 0.044;
/// Depth of a small permanent hole, where nothing is said: a light wall.
const USUAL_WALL: f64 = 0.1;
/// A leaf smaller than this, m², is predicted as one of this size.
pub(crate) const LEAST_PREDICTED: f64 = 0.01;
/// Keyhole, 8 mm × 25 mm, by common practice.
const KEYHOLE_AREA: f64 = 0.008 * 0.025;

/// Standard deviation of 10 lg of what a slit passes, dB. The width enters linearly and is seldom
/// known better than by a factor of two. Practice, no source.
const SLIT_DEVIATION: f64 = 4.0;
/// The same for a slit with a seal: its contact is not known at all. Practice, no source.
const SEAL_DEVIATION: f64 = 5.0;
/// The same for a wide opening. Practice, no source.
const OPENING_DEVIATION: f64 = 1.5;

impl SealKind {
    /// Width of the open slit that is left, relative to the gap.
    ///
    /// No published table was found. Compression is chosen so that a solid-core door comes out
    /// near the two figures of Harris 1991, Table 31.6 (STC 28 well sealed, 20 unsealed); brush
    /// and drop seal lie between by common practice.
    pub fn remaining(self) -> f64 {
        match self {
            SealKind::None => 1.0,
            SealKind::Brush => 0.45,
            SealKind::DropSeal => 0.2,
            SealKind::Compression => 0.12,
        }
    }
}

/// Predicts what an opening lets through: leaf, head, jambs, sill, keyhole, each as area times
/// transmittance. The parts add up to the coupling of the whole opening.
///
/// # Errors
/// Sizes that cannot be used, and whatever [`predict`] says about the leaf.
pub fn predict_opening(
    opening: &Opening,
    conditions: &Conditions,
) -> Result<OpeningPrediction, PartitionError> {
    let (w, h) = (opening.width.0, opening.height.0);
    size(opening, "a width", w, (0.001, 100.0))?;
    size(opening, "a height", h, (0.001, 100.0))?;
    for (what, seal) in [
        ("a gap at the head", opening.head),
        ("a gap at the jambs", opening.jambs),
        ("a gap at the sill", opening.sill),
    ] {
        if seal.gap.0 != 0.0 {
            size(opening, what, seal.gap.0, (1e-6, 1.0))?;
        }
    }
    if let Some(second) = opening.second.as_deref().filter(|_| opening.leaf.is_some()) {
        size(opening, "a distance between its leaves", second.gap.0, (0.001, 10.0))?;
        let one = Opening { second: None, ..opening.clone() };
        let two = Opening {
            leaf: Some(second.leaf.clone()),
            head: second.head,
            jambs: second.jambs,
            sill: second.sill,
            keyhole: false,
            letter_plate: None,
            ..one.clone()
        };
        let both = [predict_opening(&one, conditions)?, predict_opening(&two, conditions)?];
        // Wide open or ajar by its whole width: there is nothing between.
        if both.iter().any(|p| p.parts.iter().any(|p| p.name == "opening")) {
            let [one, _] = both;
            return Ok(one);
        }
        return two_leaves::together(opening, second, both, conditions);
    }
    let area = w * h;
    let mut remarks = Vec::new();
    let wide_open = opening.state == OpeningState::Open || opening.kind == OpeningKind::Hole;
    if wide_open {
        return Ok(OpeningPrediction { parts: vec![wide(w, h, conditions)], remarks });
    }
    let Some(leaf) = &opening.leaf else {
        return Err(PartitionError::NoLeaf { id: opening.id.clone() });
    };
    let leaf_conditions =
        Conditions { area: SquareMetre(area.max(LEAST_PREDICTED)), ..*conditions };
    let prediction = predict(leaf, &leaf_conditions)?;
    remarks.extend(prediction.remarks.iter().cloned().map(|r| r.at(opening.id.clone())));
    let depth = prediction.thickness.map_or(USUAL_LEAF, |t| t.0);
    let mut parts = vec![OpeningPart {
        name: "leaf",
        coupling: prediction.reduction.map(|_, r| Transmittance(area * r.transmittance().0)),
        deviation: prediction.deviation,
    }];

    let edges: Vec<(PerimeterPart, Vec<Edge>)> = match opening.state {
        OpeningState::Taped => Vec::new(),
        OpeningState::Ajar(by) => {
            size(opening, "standing ajar by", by.0, (1e-4, 100.0))?;
            if by.0 >= w {
                return Ok(OpeningPrediction { parts: vec![wide(w, h, conditions)], remarks });
            }
            remarks.push(
                Remark::new(
                    "partition::ajar",
                    format!("`{}` stands ajar: its slits, not its leaf, decide", opening.id),
                )
                .at(opening.id.clone()),
            );
            // The latch edge stands off by the whole, head and sill by half of it in the mean; the
            // hinge edge stays as it is.
            let open = |length: f64, width: f64| Edge { length, width, sealed: false };
            vec![
                (PerimeterPart::Head, vec![open(w, by.0 / 2.0)]),
                (PerimeterPart::Jambs, vec![open(h, by.0), closed_edge(opening.jambs, h)]),
                (PerimeterPart::Sill, vec![open(w, by.0 / 2.0)]),
            ]
        }
        _ => vec![
            (PerimeterPart::Head, vec![closed_edge(opening.head, w)]),
            (
                PerimeterPart::Jambs,
                vec![closed_edge(opening.jambs, h), closed_edge(opening.jambs, h)],
            ),
            (PerimeterPart::Sill, vec![closed_edge(opening.sill, w)]),
        ],
    };
    for (part, slits) in edges {
        if slits.iter().all(|s| s.width <= 0.0) {
            continue;
        }
        let sealed = slits.iter().all(|s| s.sealed);
        let deviation = if sealed { SEAL_DEVIATION } else { SLIT_DEVIATION };
        parts.push(OpeningPart {
            name: match part {
                PerimeterPart::Head => "head",
                PerimeterPart::Jambs => "jambs",
                PerimeterPart::Sill => "sill",
            },
            coupling: bands(|f| {
                slits
                    .iter()
                    .filter(|edge| edge.width > 0.0)
                    .map(|edge| {
                        let slit = Slit {
                            width: Metre(edge.width),
                            depth: Metre(depth),
                            length: Metre(edge.length),
                            along_edge: part == PerimeterPart::Sill,
                        };
                        slit.transmittance(f, conditions.air).0 * edge.width * edge.length
                    })
                    .sum()
            }),
            deviation: flat(deviation),
        });
    }
    if opening.keyhole && opening.state != OpeningState::Taped {
        let radius = Metre((KEYHOLE_AREA / std::f64::consts::PI).sqrt());
        parts.push(OpeningPart {
            name: "keyhole",
            coupling: bands(|f| {
                KEYHOLE_AREA * hole_diffuse(radius, Metre(depth), f, conditions.air).0
            }),
            deviation: flat(SLIT_DEVIATION),
        });
    }
    if let Some(seal) = opening.letter_plate
        && opening.state != OpeningState::Taped
    {
        parts.push(OpeningPart {
            name: "letter plate",
            coupling: bands(|f| letter_plate(seal, depth, f, conditions)),
            deviation: flat(if seal == SealKind::None { SLIT_DEVIATION } else { SEAL_DEVIATION }),
        });
    }
    if opening.keyhole || parts.len() > 1 {
        remarks.push(
            Remark::new(
                "partition::slits-assumed-straight",
                "slits are taken as straight and even all along; a real edge differs by several \
                 decibels",
            )
            .at(opening.id.clone()),
        );
    }
    Ok(OpeningPrediction { parts, remarks })
}

/// Aperture of a letter plate, width and height, m, and the slit round a loose flap, m; common
/// practice. The flap is a sheet of metal of 1 mm to 2 mm.
const LETTER_PLATE: (f64, f64) = (0.25, 0.038);
const FLAP_GAP: f64 = 0.002;
const FLAP_MASS: f64 = 10.0;

/// Area × transmittance of a letter plate, m²: its flap as a limp piece, the slit round it behind
/// whatever seals it, both before the channel through the leaf.
///
/// A loose flap passes what its slit passes; the channel behind is as wide as a short hole and
/// takes nothing away.
fn letter_plate(seal: SealKind, depth: f64, f: Hertz, conditions: &Conditions) -> f64 {
    let (w, h) = LETTER_PLATE;
    let area = w * h;
    let open =
        hole_diffuse(Metre((area / std::f64::consts::PI).sqrt()), Metre(depth), f, conditions.air);
    let gap = FLAP_GAP * seal.remaining();
    let slit = Slit {
        width: Metre(gap),
        // The flap overlaps its frame by about ten millimetres.
        depth: Metre(0.01),
        length: Metre(2.0 * (w + h)),
        along_edge: false,
    };
    let round = slit.transmittance(f, conditions.air).0 * gap * 2.0 * (w + h);
    let a = std::f64::consts::PI * f.0 * FLAP_MASS / conditions.air.impedance();
    let flap = area / (1.0 + a * a);
    // Never more than the bare channel lets through.
    (round + flap).min(area * open.0)
}

fn size(
    opening: &Opening,
    what: &'static str,
    value: f64,
    (least, most): (f64, f64),
) -> Result<(), PartitionError> {
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(PartitionError::OpeningSize {
        id: opening.id.clone(),
        what,
        value,
        unit: "m",
        why: "cannot be used",
        remedy: "give a length such as \"0.9 m\", or \"3 mm\" for a gap",
    })
}

/// One edge of a leaf, or one of a pair.
struct Edge {
    length: f64,
    /// Width of the open slit, or of what is left of it behind a seal.
    width: f64,
    sealed: bool,
}

fn closed_edge(seal: Seal, length: f64) -> Edge {
    Edge { length, width: seal.gap.0 * seal.kind.remaining(), sealed: seal.kind != SealKind::None }
}

/// A wide opening passes what falls on it; a small one is a short hole.
fn wide(w: f64, h: f64, conditions: &Conditions) -> OpeningPart {
    let area = w * h;
    let radius = Metre((area / std::f64::consts::PI).sqrt());
    OpeningPart {
        name: "opening",
        coupling: bands(|f| {
            // A hole of a person's size passes everything; resonances of its depth are not seen.
            if area > 0.1 {
                area
            } else {
                area * hole_diffuse(radius, Metre(USUAL_WALL), f, conditions.air).0
            }
        }),
        deviation: flat(OPENING_DEVIATION),
    }
}

fn bands(value: impl Fn(Hertz) -> f64) -> Spectrum<Transmittance> {
    Band::range(Band::FIRST, Band::HZ_10000)
        .map(|band| {
            let mean = frequencies(band, 5).map(|(f, weight)| weight * value(Hertz(f))).sum();
            (band, Transmittance(mean))
        })
        .collect()
}

pub(crate) fn flat(deviation: f64) -> Spectrum<LevelDifference> {
    Band::range(Band::FIRST, Band::HZ_10000).map(|b| (b, LevelDifference(deviation))).collect()
}
