//! How loud it is close to an opening that leaks, where that is more than the level of the room.

use std::f64::consts::PI;

use wythe_building::{BoundaryIndex, Building, RoomIndex};

use crate::balance::inward;
use crate::{BANDS, Field, LinkKind, Model, PerBand};

/// The field close to one opening of a room.
#[derive(Clone, Debug, PartialEq)]
pub struct Near {
    /// The boundary it stands in.
    pub boundary: BoundaryIndex,
    /// The opening by id.
    pub opening: String,
    /// Title for people.
    pub title: String,
    /// Level at the leaf over that of the room, dB, never negative.
    pub at_leaf: PerBand,
    /// The same one metre in front of its middle.
    pub at_a_metre: PerBand,
}

/// Openings are told from this excess over the level of the room on, dB, in some band from 50 Hz
/// to 5 kHz: less is within the spread of any room.
const WORTH_TELLING: f64 = 3.0;

/// Mean-square pressure that an opening adds in front of its middle, over that in the room behind
/// it:
///
/// ```text
/// x = x₁ (G/2S) / (1 + 2π r²/S)
/// ```
///
/// with S its area, G its coupling area and r the distance, m. At the leaf ½ τ x₁, far off
/// x₁ G/(4π r²), the direct sound of a wall that radiates 2 cos θ of its mean; the form between is
/// this program's own. Derived from W = x₁ S τ/(4 ρc); the level at the leaf is never lower than
/// L₁ − R − 3 dB however dead the room.
///
/// ```
/// // A door of 1.9 m2 and 30 dB: 33 dB below the room behind it at the leaf.
/// let x = wythe_transmission::direct_before(1.9, 1.9e-3, 0.0);
/// assert!((-10.0 * x.log10() - 33.0).abs() < 0.02);
/// ```
pub fn direct_before(area: f64, coupling: f64, distance: f64) -> f64 {
    if !(area > 0.0) {
        return 0.0;
    }
    coupling / (2.0 * area) / (1.0 + 2.0 * PI * distance * distance / area)
}

/// Openings of a room before which it is clearly louder than in the room, while one source plays.
/// The level behind each opening is that of the neighbour in the same field. Doors outdoors are
/// left out: outdoors there is no level of a room.
pub fn near_openings(
    building: &Building,
    model: &Model,
    field: &Field,
    room: RoomIndex,
) -> Vec<Near> {
    let energy = |r: RoomIndex| -> Option<PerBand> {
        if r == field.source {
            return Some([1.0; BANDS]);
        }
        let difference = &field.at(r)?.difference;
        Some(crate::assemble::per_band(|b| {
            difference.get(b).map_or(0.0, |d| 10f64.powf(-d.0 / 10.0))
        }))
    };
    let mut out = Vec::new();
    let indoors = |r: RoomIndex| building.rooms.get(r.0).is_some_and(|r| !r.outdoors);
    let Some(own) = energy(room).filter(|_| indoors(room)) else { return out };
    for (index, boundary) in building.boundaries.iter().enumerate() {
        let Some(behind) = boundary.beyond(room) else { continue };
        let Some(there) = energy(behind) else { continue };
        for opening in &boundary.openings {
            let area = opening.width.0 * opening.height.0;
            let mut coupling = [0.0; BANDS];
            let parts = model.links.iter().filter(|l| {
                l.boundary.0 == index
                    && matches!(l.kind, LinkKind::Opening | LinkKind::Leak)
                    && l.id.strip_prefix(&opening.id).is_some_and(|rest| rest.starts_with(' '))
                    && l.rooms.contains(&room)
                    && l.rooms.contains(&behind)
            });
            for link in parts {
                // From outdoors by the shape of the façade.
                let shape = inward(model, link, behind.0);
                for b in 0..BANDS {
                    coupling[b] += link.coupling[b] * shape;
                }
            }
            let over = |distance: f64| -> PerBand {
                std::array::from_fn(|b| {
                    // What is wide open is no leaf to stand before: there both rooms are one.
                    let direct = direct_before(area, coupling[b].min(area), distance) * there[b];
                    if own[b] > 0.0 { 10.0 * (1.0 + direct / own[b]).log10() } else { 0.0 }
                })
            };
            let at_leaf = over(0.0);
            let heard = wythe_bands::Band::results().map(|b| b.index()).filter(|b| *b < BANDS);
            if heard.map(|b| at_leaf[b]).fold(0.0, f64::max) < WORTH_TELLING {
                continue;
            }
            out.push(Near {
                boundary: BoundaryIndex(index),
                opening: opening.id.clone(),
                title: opening.title.clone().unwrap_or_else(|| opening.id.clone()),
                at_leaf,
                at_a_metre: over(1.0),
            });
        }
    }
    out
}
