//! Boxes and cables in the walls that separate.

use wythe_bands::Source;
use wythe_building::{Boundary, BoundaryIndex, BoundaryKind};

use super::site::Site;
use super::words::list;
use super::{Caution, Concern, Topic};

const OFFSET: Source = Source::Published {
    key: "nrc-ctu-27",
    place: "boxes in party walls, summary; 400 mm second-hand",
};

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let walls: Vec<(BoundaryIndex, &Boundary)> = site
        .building
        .boundaries
        .iter()
        .enumerate()
        .map(|(i, b)| (BoundaryIndex(i), b))
        .filter(|(_, b)| b.kind == BoundaryKind::Wall && b.rooms.iter().any(|r| site.is_loud(*r)))
        .collect();
    if walls.is_empty() {
        return Vec::new();
    }
    let names: Vec<&str> = walls.iter().map(|(_, b)| b.name()).collect();
    vec![
        Caution::new("caution::boxes", Topic::Wiring, list(&names))
            .why(
                "Where boxes and cables sit in these walls is not described. Two boxes back to back \
                 are a hole for sound and for fire, and a cable under new boards gets screwed into.",
            )
            .figure("least offset of boxes", 400.0, "mm")
            .source(OFFSET)
            .what_to_do(
                "Find the cables and switch them off before a screw goes in. Never back to back: \
                 400 mm apart and in another bay, sealed, or on the face inside. One conduit, \
                 flexible and sealed, brings the supply.",
            )
            .not_known()
            .at(walls.iter().map(|(b, _)| Concern::Boundary(*b))),
    ]
}
