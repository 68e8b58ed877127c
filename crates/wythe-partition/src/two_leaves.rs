//! Two leaves in one opening: a spring of air between them, not a room.

use std::f64::consts::PI;

use wythe_bands::{Band, LevelDifference, Metre, Remark, Spectrum, SquareMetre, Transmittance};

use crate::predict_opening::{LEAST_PREDICTED, flat};
use crate::{
    BuildUp, Cavity, Conditions, Construction, Frame, FrameKind, Layer, Opening, OpeningPart,
    OpeningPrediction, PartitionError, SecondLeaf, predict,
};

/// Deviation of what two leaves let through together, dB: how stiffly the frame ties them is not
/// known (practice).
const LEAVES_DEVIATION: f64 = 5.0;
/// The same of what passes slits of both, dB (practice).
const SLITS_DEVIATION: f64 = 6.0;
/// Share of the sound that bare leaves and a bare reveal take up where it meets them (timber and
/// plaster, common practice, no source), and that a reveal with absorbing board takes up (the
/// same).
const BARE: f64 = 0.02;
const LINED: f64 = 0.6;

/// Natural frequency of two leaves on the air between them, Hz:
///
///   f₀ = (1/2π) √(1.4 · 10⁵ (1/m₁ + 1/m₂)/d)
///
/// with surface masses in kg/m² and the distance in m. Source: double-leaf theory with adiabatic
/// air at 101 kPa.
///
/// ```
/// // Two door leaves of 25 kg/m2, 60 mm apart.
/// assert!((wythe_partition::spring_frequency(25.0, 25.0, 0.06) - 68.8).abs() < 0.1);
/// ```
pub fn spring_frequency(m1: f64, m2: f64, distance: f64) -> f64 {
    (1.4e5 * (1.0 / m1 + 1.0 / m2) / distance).sqrt() / (2.0 * PI)
}

/// Reduction index of two leaves that act together, dB, at frequencies below a quarter wavelength
/// of their distance: below f₀ as one leaf of both masses, above it the sum of both with
/// 40 lg(f/f₀) at most, never better than the sum.
///
/// Derived: at and below f₀ the mass law of the joint mass; between, the double-leaf slope of
/// 18 dB per octave against the 6 dB of one leaf.
pub fn as_one(r1: f64, r2: f64, m1: f64, m2: f64, f: f64, f0: f64) -> f64 {
    let (heavier, lighter) = (m1.max(m2), m1.min(m2));
    let joint = r1.max(r2) + 20.0 * ((heavier + lighter) / heavier).log10();
    (joint + 40.0 * (f / f0).log10().max(0.0)).min((r1 + r2).max(joint))
}

/// Both leaves of an opening, from what each would let through alone.
///
/// The leaves together are one double leaf, predicted as such where both are known by their
/// layers, and by [`as_one`] up to a quarter wavelength where one is known by its reduction index
/// alone. Everything else that passes meets the reveal between them: with G₁, G₂ what each side
/// lets through in all and A what the reveal takes up,
///
/// ```text
/// G = G₁ G₂/(G₁ + G₂ + A)
/// ```
///
/// less the share of leaf and leaf. Derived, from the power balance of a room between the leaves;
/// below a quarter wavelength the reveal is a spring and no room, and the formula is then on the
/// safe side (no more than 3 dB better than the better of the two where A is small).
pub(crate) fn together(
    opening: &Opening,
    second: &SecondLeaf,
    [one, two]: [OpeningPrediction; 2],
    conditions: &Conditions,
) -> Result<OpeningPrediction, PartitionError> {
    let (w, h, d) = (opening.width.0, opening.height.0, second.gap.0);
    let area = w * h;
    let reveal = (2.0 * h + w) * d;
    let absorbed = BARE * (2.0 * area + w * d) + if second.lined { LINED } else { BARE } * reveal;
    let mut remarks = one.remarks;
    for remark in two.remarks {
        if !remarks.contains(&remark) {
            remarks.push(remark);
        }
    }
    let at = |parts: &[OpeningPart], name: &str, band: Band| {
        parts
            .iter()
            .find(|p| p.name == name)
            .and_then(|p| p.coupling.get(band))
            .map_or(0.0, |t| t.0)
    };
    let sum = |parts: &[OpeningPart], band: Band| -> f64 {
        parts.iter().filter_map(|p| p.coupling.get(band)).map(|t| t.0).sum()
    };
    let (leaf, deviation, resonance) = leaves(opening, second, absorbed, conditions, |band| {
        [at(&one.parts, "leaf", band), at(&two.parts, "leaf", band)]
    })?;
    if let Some(f0) = resonance {
        remarks.push(
            Remark::new(
                "partition::two-leaves",
                format!(
                    "its two leaves stand {:.0} mm apart: below {f0:.0} Hz they act as one and gain only their mass, about it they may be worse than one; they are no sound lock below {:.0} Hz",
                    1000.0 * d,
                    conditions.air.sound_speed() / (4.0 * d)
                ),
            )
            .at(opening.id.clone()),
        );
    }
    let mut parts = vec![OpeningPart { name: "leaf", coupling: leaf, deviation }];
    let mut names: Vec<&'static str> = Vec::new();
    for part in one.parts.iter().chain(&two.parts).filter(|p| p.name != "leaf") {
        if !names.contains(&part.name) {
            names.push(part.name);
        }
    }
    for name in names {
        let coupling = Band::range(Band::FIRST, Band::HZ_10000)
            .map(|band| {
                let (g1, g2) = (sum(&one.parts, band), sum(&two.parts, band));
                let (l1, l2) = (at(&one.parts, "leaf", band), at(&two.parts, "leaf", band));
                let through = (g1 * g2 - l1 * l2).max(0.0) / (g1 + g2 + absorbed);
                // Who opened the way: each edge in proportion to what it lets through of all slits.
                let of = |parts: &[OpeningPart], slits: f64| {
                    if slits > 0.0 { at(parts, name, band) / slits } else { 0.0 }
                };
                let sides = f64::from(u8::from(g1 > l1) + u8::from(g2 > l2)).max(1.0);
                let share = (of(&one.parts, g1 - l1) + of(&two.parts, g2 - l2)) / sides;
                (band, Transmittance(share * through))
            })
            .collect();
        parts.push(OpeningPart { name, coupling, deviation: flat(SLITS_DEVIATION) });
    }
    Ok(OpeningPrediction { parts, remarks })
}

/// What both leaves let through without their slits, m², its deviation, and the frequency of the
/// leaves on the air between them.
#[allow(clippy::type_complexity)]
fn leaves(
    opening: &Opening,
    second: &SecondLeaf,
    absorbed: f64,
    conditions: &Conditions,
    alone: impl Fn(Band) -> [f64; 2],
) -> Result<(Spectrum<Transmittance>, Spectrum<LevelDifference>, Option<f64>), PartitionError> {
    let area = opening.width.0 * opening.height.0;
    let conditions = Conditions { area: SquareMetre(area.max(LEAST_PREDICTED)), ..*conditions };
    let Some(first) = &opening.leaf else {
        return Err(PartitionError::NoLeaf { id: opening.id.clone() });
    };
    let mass = |leaf: &BuildUp| -> Result<Option<f64>, PartitionError> {
        Ok(predict(leaf, &conditions)?.surface_mass.map(|m| m.0).filter(|m| *m > 0.0))
    };
    let masses = mass(first)?.zip(mass(&second.leaf)?);
    let f0 = masses.map(|(m1, m2)| spring_frequency(m1, m2, second.gap.0));
    if let Some(both) = double_leaf(first, second) {
        let made = predict(&both, &conditions)?;
        return Ok((
            made.reduction.map(|_, r| Transmittance(area * r.transmittance().0)),
            made.deviation.map(|_, d| LevelDifference(d.0.max(LEAVES_DEVIATION))),
            f0,
        ));
    }
    let quarter = conditions.air.sound_speed() / (4.0 * second.gap.0);
    let coupling = Band::range(Band::FIRST, Band::HZ_10000)
        .map(|band| {
            let [l1, l2] = alone(band);
            let f = band.centre().0;
            let index = |l: f64| -10.0 * (l / area).max(1e-15).log10();
            let through = match masses.zip(f0) {
                Some(((m1, m2), f0)) if f < quarter => {
                    area * 10f64.powf(-as_one(index(l1), index(l2), m1, m2, f, f0) / 10.0)
                }
                _ => l1 * l2 / (l1 + l2 + absorbed),
            };
            (band, Transmittance(through))
        })
        .collect();
    Ok((coupling, flat(SLITS_DEVIATION), f0))
}

/// Both leaves with the air between them as one build-up; `None` where a leaf is known by its
/// reduction index alone.
fn double_leaf(first: &BuildUp, second: &SecondLeaf) -> Option<BuildUp> {
    let (Construction::Layers(a), Construction::Layers(b)) =
        (&first.construction, &second.leaf.construction)
    else {
        return None;
    };
    let kind = if second.separate_frames {
        FrameKind::SeparateWindowFrames
    } else {
        FrameKind::CommonWindowFrame
    };
    let frame = Frame { kind, gauge: None, spacing: Metre(1.0), screw_spacing: None, mount: None };
    let between = Layer::Cavity(Cavity {
        depth: second.gap,
        fill: None,
        frame: Some(frame),
        standpoint: first.standpoint.clone(),
    });
    Some(BuildUp {
        id: format!("{} and {}", first.id, second.leaf.id),
        title: None,
        construction: Construction::Layers(
            a.iter().cloned().chain([between]).chain(b.iter().cloned()).collect(),
        ),
        boxes: Vec::new(),
        cost_per_m2: None,
        ..first.clone()
    })
}
