//! Lengths and edges of boundaries, as far as the description gives them.

use wythe_building::{Boundary, BoundaryKind, Building};

/// What is measured on a boundary for buying, m and m².
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Face {
    /// Area without openings.
    pub area: f64,
    /// Length of all edges of one face.
    pub perimeter: f64,
    /// Length along the floor for a wall; the longer side for a floor.
    pub length: f64,
    /// Height of a wall, or the shorter side of a floor.
    pub height: f64,
    /// Edges of the openings in it.
    pub openings: f64,
    pub has_openings: bool,
    pub lying: bool,
    /// What was taken for granted.
    pub assumed: Option<String>,
}

/// Measures a boundary. A wall is its area over the lower room's height; a floor as large as a
/// room takes that room's outline; another is taken as a rectangle with that room's proportions.
pub(crate) fn face(building: &Building, boundary: &Boundary) -> Option<Face> {
    let gross = boundary.area.0;
    if !(gross > 0.0 && gross.is_finite()) {
        return None;
    }
    let rooms = boundary.rooms.map(|r| building.rooms.get(r.0));
    let openings = boundary.openings.iter().map(|o| 2.0 * (o.width.0 + o.height.0)).sum();
    let area = boundary.net_area().0;
    let has_openings = !boundary.openings.is_empty();
    let lying = boundary.kind != BoundaryKind::Wall;
    let mut assumed = None;
    let (length, height, perimeter) = if lying {
        let outline = rooms.iter().flatten().find_map(|r| {
            let o = r.outline.as_ref()?;
            ((o.area().0 - gross).abs() < 0.05 * gross).then_some(o)
        });
        let drawn = outline.or_else(|| rooms.iter().flatten().find_map(|r| r.outline.as_ref()));
        let ratio = drawn
            .and_then(|o| {
                let (low, high) = o.bounds()?;
                let (x, y) = (high.x.0 - low.x.0, high.y.0 - low.y.0);
                Some(x.max(y) / x.min(y))
            })
            .filter(|r| (1.0..=20.0).contains(r));
        let short = (gross / ratio.unwrap_or(1.0)).sqrt();
        let long = gross / short;
        match outline {
            Some(o) => (long, short, o.perimeter().0),
            None => {
                assumed = Some("edges taken from a rectangle of its area".to_owned());
                (long, short, 2.0 * (long + short))
            }
        }
    } else {
        let stated = rooms
            .iter()
            .flatten()
            .filter(|r| !r.outdoors)
            .filter_map(|r| r.height)
            .map(|h| h.0)
            .filter(|h| *h > 0.0 && h.is_finite())
            .min_by(f64::total_cmp);
        let height = stated.unwrap_or_else(|| {
            assumed = Some("height not stated, taken as 2.5 m".to_owned());
            2.5
        });
        let length = gross / height;
        (length, height, 2.0 * (length + height))
    };
    Some(Face { area, perimeter, length, height, openings, has_openings, lying, assumed })
}
