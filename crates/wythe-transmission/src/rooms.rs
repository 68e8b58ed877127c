//! Where two rooms are one, and where the level of a room is not that close to an opening.

use std::collections::BTreeMap;

use wythe_bands::{Band, Remark};
use wythe_building::Building;

use crate::{LinkKind, Model};

/// Remarks on rooms joined by a large opening.
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
    }
    out
}
