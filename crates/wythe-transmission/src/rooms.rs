//! Where "the level in the room" means less than it says.

use std::collections::BTreeMap;

use wythe_bands::{Band, Remark};
use wythe_building::Building;

use crate::{LinkKind, Model};

/// Remarks on rooms joined by a large opening and on dead rooms with something that leaks.
pub(crate) fn remarks(building: &Building, model: &Model) -> Vec<Remark> {
    let b = Band::HZ_500.index();
    let mut out = Vec::new();
    let mut open_between: BTreeMap<[usize; 2], f64> = BTreeMap::new();
    for link in model.links.iter().filter(|l| l.kind != LinkKind::StructureBorne) {
        let [i, j] = link.rooms.map(|r| r.0);
        *open_between.entry([i.min(j), i.max(j)]).or_insert(0.0) += link.coupling[b];
    }
    for (i, room) in building.rooms.iter().enumerate().filter(|(_, r)| !r.outdoors) {
        for (j, other) in building.rooms.iter().enumerate().skip(i + 1) {
            if other.outdoors {
                continue;
            }
            let open = open_between.get(&[i, j]).copied().unwrap_or(0.0);
            let least = model.absorption[i][b].min(model.absorption[j][b]);
            if open > least {
                out.push(
                    Remark::new(
                        "transmission::one-room",
                        format!(
                            "`{}` and `{}` are joined by an opening of {open:.1} m2, more than the lesser one absorbs ({least:.1} m2): they are one room, and the difference between them stays below 3 dB",
                            room.name(),
                            other.name()
                        ),
                    )
                    .at(room.name().to_owned()),
                );
            }
        }
        // Mean coefficient of a cube of the same volume.
        let walls = 6.0 * room.volume.0.max(0.0).powf(2.0 / 3.0);
        if walls > 0.0 && model.absorption[i][b] > wythe_building::SABINE_LIMIT * walls {
            let leaking = building
                .boundaries
                .iter()
                .filter(|boundary| boundary.rooms.iter().any(|r| r.0 == i))
                .any(|boundary| !boundary.openings.is_empty() || !boundary.leaks.is_empty());
            if leaking {
                out.push(
                    Remark::new(
                        "transmission::near-field",
                        format!(
                            "`{}` is so absorbing that its level depends on where one stands: close to a leaking door it is never lower than the level behind it less R less 3 dB, up to {:.0} dB above the figure given for the room",
                            room.name(),
                            near_excess(1.9, model.absorption[i][b])
                        ),
                    )
                    .at(room.name().to_owned()),
                );
            }
        }
    }
    out
}

/// Level at a leaking element minus level in the room, dB: 10 lg(1 + A/(2S)), for an element of
/// `s` m² in a room of absorption `a` m².
///
/// Derived: at the leaf ½ + S/A of what comes through, in the room S/A. Where S/A is below ½ the
/// level of the room depends on where one stands.
///
/// ```
/// // A door of 1.9 m2 into a room of 12 m2.
/// assert!((wythe_transmission::near_excess(1.9, 12.0) - 6.18).abs() < 0.01);
/// ```
pub fn near_excess(s: f64, a: f64) -> f64 {
    if s > 0.0 && a > 0.0 { 10.0 * (1.0 + a / (2.0 * s)).log10() } else { 0.0 }
}
