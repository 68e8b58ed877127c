//! Fire in hidden spaces, through holes, and in linings.

use wythe_bands::Source;
use wythe_building::{Absorption, Action, Boundary, BoundaryIndex, BuildUpIndex};
use wythe_partition::{BuildUp, Cavity, FrameKind, Layer};

use super::load::rebuilds;
use super::site::{Site, layers};
use super::words::list;
use super::{Caution, Concern, Topic};

/// Cavities from this depth are called deep: an ordinary stud is shallower (common practice).
const DEEP: f64 = 0.15;

const BLOCKING: Source = Source::Unverified(
    "IRC R302.11 by restatements: 10 ft intervals, read as vertical by one and remembered as \
     horizontal; open the code and apply both until then",
);

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let mut all: Vec<Caution> = blocking(site).into_iter().collect();
    all.extend(foam(site));
    all.extend(holes(site));
    all
}

/// A hollow that runs on behind its studs: separate, staggered or no frame, or a deep one.
fn runs_on(cavity: &Cavity) -> bool {
    let frame = cavity.frame.as_ref().map(|f| f.kind);
    // Panes are glazed, not built over; their gap is no concealed space.
    if matches!(frame, Some(FrameKind::CommonWindowFrame | FrameKind::SeparateWindowFrames)) {
        return false;
    }
    let separate = matches!(
        frame,
        None | Some(
            FrameKind::SeparateTimberStuds
                | FrameKind::SeparateSteelStuds
                | FrameKind::StaggeredTimberStuds
        )
    );
    separate || cavity.depth.0 >= DEEP
}

/// Depth of the deepest hollow of a build-up that runs on behind its frame, m.
fn deepest(build_up: &BuildUp) -> Option<f64> {
    layers(build_up)
        .iter()
        .filter_map(|l| match l {
            Layer::Cavity(c) if runs_on(c) && c.depth.0.is_finite() => Some(c.depth.0),
            _ => None,
        })
        .max_by(f64::total_cmp)
        .filter(|d| *d > 0.0)
}

fn blocking(site: &Site<'_>) -> Option<Caution> {
    let building = site.building;
    let mut names: Vec<&str> = Vec::new();
    let mut concerns = Vec::new();
    let mut depths: Vec<(&str, f64)> = Vec::new();
    for (i, build_up) in building.build_ups.iter().enumerate() {
        let Some(depth) = deepest(build_up) else { continue };
        let index = BuildUpIndex(i);
        let at = building.boundaries.iter().enumerate().filter(|(_, b)| b.build_up == index);
        let changes: Vec<&wythe_building::Change> =
            building.changes.iter().filter(|c| rebuilds(c).any(|(_, new)| new == index)).collect();
        let before = names.len();
        for (b, boundary) in at {
            names.push(boundary.name());
            concerns.push(Concern::Boundary(BoundaryIndex(b)));
        }
        for change in changes {
            names.push(&change.title);
            concerns.push(Concern::Change(change.id.clone()));
        }
        if names.len() > before {
            concerns.push(Concern::BuildUp(index));
            depths.push((build_up.title.as_deref().unwrap_or(&build_up.id), depth * 1000.0));
        }
    }
    depths.sort_by(|a, b| b.1.total_cmp(&a.1));
    let (_, most) = *depths.first()?;
    let mut caution = Caution::new("caution::fire-blocking", Topic::Fire, list(&names));
    for (name, depth) in depths {
        caution = caution.figure(format!("depth of the hollow, {name}"), depth, "mm");
    }
    Some(
        caution
            .why(format!(
                "Hollows of up to {most:.0} mm can run on behind the frame like a chimney, up to the \
                 roof and past the floors. Whether they are blocked is not described."
            ))
            .source(BLOCKING)
            .what_to_do(
                "Draw the blocks at floors, ceilings, soffits and every 3 m (10 ft), of a material \
                 the code accepts that does not tie the leaves, such as tightly packed mineral \
                 wool where it is allowed. Photograph each before it is closed.",
            )
            .not_known()
            .at(concerns),
    )
}

/// Foam shown as a finish, or offered as one.
fn foam(site: &Site<'_>) -> Option<Caution> {
    let is_foam = |finish: &str| finish.to_lowercase().contains("foam");
    let rooms: Vec<_> = site
        .indoors()
        .filter(|(i, room)| {
            let there = match &room.absorption {
                Absorption::Finishes(all) => all.iter().any(|s| is_foam(&s.finish)),
                _ => false,
            };
            let offered = site.building.changes.iter().flat_map(|c| &c.actions).any(|a| {
                matches!(a, Action::Absorb { room, finish, .. } if room == i && is_foam(finish))
            });
            there || offered
        })
        .collect();
    if rooms.is_empty() {
        return None;
    }
    let names: Vec<&str> = rooms.iter().map(|(_, r)| r.name()).collect();
    Some(
        Caution::new("caution::exposed-foam", Topic::Fire, list(&names))
            .why(
                "Foam is a finish here. Exposed foam plastic can burn faster than people leave, and \
                 it keeps no sound in.",
            )
            .source(Source::Practice)
            .what_to_do(
                "Take mineral wool behind cloth with a fire classification instead, or ask for the \
                 classification of this foam in writing.",
            )
            .stop(true)
            .at(rooms.iter().map(|(i, _)| Concern::Room(*i))),
    )
}

/// Round walls that are rated or will be: every hole counts.
fn holes(site: &Site<'_>) -> Option<Caution> {
    let leaky: Vec<(BoundaryIndex, &Boundary)> = site
        .building
        .boundaries
        .iter()
        .enumerate()
        .map(|(i, b)| (BoundaryIndex(i), b))
        .filter(|(_, b)| {
            !b.leaks.is_empty()
                || b.openings.iter().any(|o| o.kind == wythe_partition::OpeningKind::Hole)
        })
        .collect();
    if leaky.is_empty() {
        return None;
    }
    let names: Vec<&str> = leaky.iter().map(|(_, b)| b.name()).collect();
    Some(
        Caution::new("caution::fire-penetrations", Topic::Fire, list(&names))
            .why(
                "Holes or slits are described here. Whether these walls and floors must hold back \
                 fire is not.",
            )
            .source(Source::Practice)
            .what_to_do(
                "Ask which must. There every hole needs a tested fire seal; sealant against sound \
                 or putty inside a box is not one, and added layers must not void the rating.",
            )
            .not_known()
            .at(leaky.iter().map(|(b, _)| Concern::Boundary(*b))),
    )
}
