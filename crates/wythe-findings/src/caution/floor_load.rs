//! Weight hung from a floor, stood on it, or already hanging there.

use wythe_bands::SurfaceMass;
use wythe_building::{Boundary, BoundaryIndex, BoundaryKind, BuildUpIndex, Change};
use wythe_partition::{BuildUp, FrameKind, Layer};

use super::load::{
    DESIGN_SOURCE, LoadFlag, added_mass, load_flag, mass_of, planning_mass, pounds_per_square_foot,
    rebuilds, sheet_mass,
};
use super::site::{Site, layers};
use super::words::{figures, list};
use super::{Caution, Concern, Topic};

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    for change in &site.building.changes {
        all.extend(of_change(site, change, Bearing::Floor));
        all.extend(of_change(site, change, Bearing::Wall));
    }
    all.extend(hanging(site));
    all
}

/// The weight of build-ups nobody has put anywhere yet.
pub(super) fn by_itself(build_ups: &[BuildUp]) -> Caution {
    let weighed: Vec<(&str, Option<SurfaceMass>)> =
        build_ups.iter().map(|b| (b.title.as_deref().unwrap_or(&b.id), planning_mass(b))).collect();
    let words: Vec<String> = weighed
        .iter()
        .map(|(name, mass)| match mass {
            Some(m) => format!(
                "{name} {} kg/m² ({} psf)",
                figures(m.0),
                figures(pounds_per_square_foot(*m))
            ),
            None => format!("{name} a weight nobody can tell, for a layer has none"),
        })
        .collect();
    let names: Vec<&str> = weighed.iter().map(|(name, _)| *name).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let caution = Caution::new("caution::weight", Topic::Load, list(&names))
        .why(format!("To plan with: {}.", list(&words)))
        .source(DESIGN_SOURCE)
        .assumed(
            "gypsum board at the weight engineers plan with, other layers at their usual weight; \
             frame, joists and screws are not counted",
        )
        .what_to_do(
            "Whether a floor, a ceiling or a wall below carries it is not judged here: before it is \
             hung or stood on anything, ask an engineer.",
        );
    let heaviest = weighed.iter().filter_map(|(_, m)| *m).map(|m| m.0).reduce(f64::max);
    match heaviest {
        Some(kg) => caution.figure("mass per area", kg, "kg/m²"),
        None => caution.not_known(),
    }
}

/// What takes the weight.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Bearing {
    /// The joists or the slab of the boundary itself.
    Floor,
    /// Whatever a wall stands on.
    Wall,
}

impl Bearing {
    fn of(boundary: &Boundary) -> Bearing {
        match boundary.kind {
            BoundaryKind::Wall => Bearing::Wall,
            BoundaryKind::Floor | BoundaryKind::Roof => Bearing::Floor,
        }
    }
}

struct Part<'a> {
    index: BoundaryIndex,
    boundary: &'a Boundary,
    added: Option<SurfaceMass>,
}

fn of_change(site: &Site<'_>, change: &Change, bearing: Bearing) -> Option<Caution> {
    let parts: Vec<Part<'_>> = rebuilds(change)
        .filter_map(|(index, new)| {
            let boundary = site.building.boundaries.get(index.0)?;
            let added = added_mass(site.building, index, new);
            Some(Part { index, boundary, added })
        })
        .filter(|p| Bearing::of(p.boundary) == bearing)
        // What becomes lighter needs no engineer for its weight; what cannot be weighed does.
        .filter(|p| p.added.is_none_or(|m| load_flag(m, None) != LoadFlag::Nothing))
        .collect();
    if parts.is_empty() {
        return None;
    }
    let names: Vec<&str> = parts.iter().map(|p| p.boundary.name()).collect();
    let code = if bearing == Bearing::Floor { "caution::dead-load" } else { "caution::wall-load" };
    let caution = Caution::new(code, Topic::Load, format!("{}: {}", change.title, list(&names)))
        .source(DESIGN_SOURCE)
        .at([Concern::Change(change.id.clone())])
        .at(parts.iter().map(|p| Concern::Boundary(p.index)));
    let Some(most) = heaviest(&parts) else {
        return Some(
            caution
                .why("The weight it adds cannot be told: a layer has no known weight.")
                .what_to_do(
                    "Find the weight on the data sheet; then show it to somebody who may \
                             sign for the structure: ask an engineer.",
                )
                .stop(true)
                .not_known(),
        );
    };
    // An area that is none leaves the whole untold; what is added per area still holds.
    let total = parts
        .iter()
        .map(|p| Some(mass_of(p.added?, p.boundary.area)).filter(|kg| *kg >= 0.0 && kg.is_finite()))
        .sum::<Option<f64>>();
    let caution = caution
        .figure("added mass per area", most.0, "kg/m²")
        .figure("added mass per area", pounds_per_square_foot(most), "psf")
        .figure("added mass in all", total.unwrap_or(f64::NAN), "kg")
        .assumed(
            "gypsum board at the weight engineers plan with, other layers at their usual \
                  weight; frame, joists and screws are not counted",
        );
    Some(match bearing {
        Bearing::Floor => {
            let stands = rebuilds(change)
                .filter_map(|(_, new)| site.building.build_ups.get(new.0))
                .filter(|b| on_its_own(b))
                .filter_map(|b| hung_mass(b)?)
                .map(|m| m.0)
                .reduce(f64::max);
            on_floor(caution, allowed(site, &parts), most, total, stands)
        }
        Bearing::Wall => on_wall(site, caution, &parts, most, total),
    })
}

/// What may be added by statement: the least of the parts' own allowances, and of the limit of all
/// plans where a part has none.
fn allowed(site: &Site<'_>, parts: &[Part<'_>]) -> Option<SurfaceMass> {
    parts
        .iter()
        .map(|p| site.building.load_allowance(&p.boundary.id))
        .try_fold(SurfaceMass(f64::INFINITY), |least, one| {
            one.map(|o| if o.0 < least.0 || o.0.is_nan() { o } else { least })
        })
}

/// Largest added mass per area; `None` when any part cannot be weighed.
fn heaviest(parts: &[Part<'_>]) -> Option<SurfaceMass> {
    parts.iter().try_fold(SurfaceMass(0.0), |most, p| Some(SurfaceMass(most.0.max(p.added?.0))))
}

fn in_all(total: Option<f64>) -> String {
    total.map_or_else(
        || "and how much in all cannot be told without the area".to_owned(),
        |kg| format!("about {} kg in all", figures(kg)),
    )
}

/// Whether the leaf on side a has a frame of its own.
fn on_its_own(build_up: &BuildUp) -> bool {
    layers(build_up)
        .iter()
        .find_map(|l| match l {
            Layer::Cavity(c) => Some(c.frame.as_ref().map(|f| f.kind)),
            Layer::Board(_) => None,
        })
        .flatten()
        .is_some_and(|k| {
            matches!(k, FrameKind::SeparateTimberStuds | FrameKind::SeparateSteelStuds)
        })
}

fn on_floor(
    caution: Caution,
    stated: Option<SurfaceMass>,
    most: SurfaceMass,
    total: Option<f64>,
    stands_alone: Option<f64>,
) -> Caution {
    let flag = load_flag(most, stated);
    let weight = format!(
        "Adds {} kg/m² ({} psf), {}.",
        figures(most.0),
        figures(pounds_per_square_foot(most)),
        in_all(total)
    );
    let stands = match (stated, flag) {
        (None, _) => "Nobody has stated what may be added here.".to_owned(),
        (Some(limit), LoadFlag::Stop) if limit.0.is_finite() => {
            format!("That is above the {} kg/m² that was stated.", figures(limit.0))
        }
        (Some(_), LoadFlag::Stop) => "What was stated as allowed is not a weight.".to_owned(),
        (Some(limit), _) => format!(
            "That leaves {} of the {} kg/m² that was stated, if nothing else was added since.",
            figures(limit.0 - most.0),
            figures(limit.0)
        ),
    };
    let to_do = if flag == LoadFlag::Stop {
        "Buy nothing yet. Note joist size, span, spacing, species and every cut or notch, and ask \
         an engineer."
    } else {
        "Show weight, joist size, span and spacing to whoever stated the figure before you buy, \
         and ask an engineer."
    };
    let caution = match stated.filter(|l| l.0.is_finite()) {
        Some(limit) => caution.figure("left of what was stated", limit.0 - most.0, "kg/m²"),
        None => caution,
    };
    let alone = stands_alone.map_or_else(String::new, |kg| {
        format!(
            " Its inner ceiling has a frame of its own: all {} kg/m² of its boards, and the frame, \
             come down on other members than now.",
            figures(kg)
        )
    });
    caution.why(format!("{weight} {stands}{alone}")).what_to_do(to_do).stop(flag == LoadFlag::Stop)
}

fn on_wall(
    site: &Site<'_>,
    caution: Caution,
    parts: &[Part<'_>],
    most: SurfaceMass,
    total: Option<f64>,
) -> Caution {
    // A wall upstairs, or over a floor that is described, stands on joists or a slab.
    let suspended = parts.iter().any(|p| {
        p.boundary.rooms.iter().any(|r| {
            site.room(*r).is_some_and(|room| !room.outdoors && room.storey > 0)
                || site
                    .round(*r)
                    .any(|(_, b)| b.kind == BoundaryKind::Floor && b.rooms.get(1) == Some(r))
        })
    });
    let height = parts
        .iter()
        .flat_map(|p| p.boundary.rooms)
        .filter_map(|r| site.room(r)?.height)
        .fold(0.0f64, |h, m| if m.0.is_finite() { h.max(m.0) } else { h });
    let mut why = format!("Adds {} kg/m² to a wall, {}.", figures(most.0), in_all(total));
    let mut caution = caution;
    if height > 0.0 {
        caution = caution.figure("added mass per metre of wall", most.0 * height, "kg/m");
        why.push_str(&format!(
            " That is {} kg on every metre of floor under it.",
            figures(most.0 * height)
        ));
    }
    let caution = if suspended {
        why.push_str(" It stands on a floor with a room below.");
        caution.stop(true).what_to_do(
            "Buy nothing yet. Find which joists or beam carry this line, and ask an engineer.",
        )
    } else {
        why.push_str(" What it stands on is not described.");
        caution.not_known().what_to_do(
            "Look what is under it. On a concrete ground floor say so in your notes; on timber or \
             over a void, ask an engineer.",
        )
    };
    caution.why(why)
}

/// Boards under joists heavier than one ordinary sheet, 15 kg/m², are worth a question about who
/// agreed to them (common practice, no source).
const ORDINARY_CEILING: f64 = 15.0;

/// What the description already hangs under floors and roofs, one caution for each build-up.
fn hanging(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    for (i, build_up) in site.building.build_ups.iter().enumerate() {
        let under: Vec<(BoundaryIndex, &Boundary)> = site
            .building
            .boundaries
            .iter()
            .enumerate()
            .map(|(b, boundary)| (BoundaryIndex(b), boundary))
            .filter(|(_, b)| b.build_up.0 == i && Bearing::of(b) == Bearing::Floor)
            .collect();
        let Some(hung) = hung_mass(build_up).filter(|_| !under.is_empty()) else {
            continue;
        };
        let names: Vec<&str> = under.iter().map(|(_, b)| b.name()).collect();
        let Some(hung) = hung else {
            all.push(unweighed(&names, &under, i));
            continue;
        };
        if hung.0 <= ORDINARY_CEILING {
            continue;
        }
        let source = build_up.standpoint.source.as_deref();
        let told = source.map_or_else(
            || "The description does not say who agreed to it.".to_owned(),
            |s| format!("What the description has to say for it: {s}."),
        );
        all.push(
            Caution::new("caution::hung-mass", Topic::Load, list(&names))
                .why(format!(
                    "{} kg/m² of boards hang from the floor or roof above. {told}",
                    figures(hung.0)
                ))
                .figure("hanging mass per area", hung.0, "kg/m²")
                .source(DESIGN_SOURCE)
                .what_to_do(
                    "Where it is built, look for sagging and cracks. Where it is planned, and \
                     before anything is added, ask an engineer.",
                )
                .at([Concern::BuildUp(BuildUpIndex(i))])
                .at(under.iter().map(|(b, _)| Concern::Boundary(*b))),
        );
    }
    all
}

fn unweighed(names: &[&str], under: &[(BoundaryIndex, &Boundary)], build_up: usize) -> Caution {
    Caution::new("caution::hung-mass", Topic::Load, list(names))
        .why("The weight that hangs here cannot be told: a layer has no known weight.")
        .what_to_do("Find the weight of that layer, and before anything is added, ask an engineer.")
        .not_known()
        .at([Concern::BuildUp(BuildUpIndex(build_up))])
        .at(under.iter().map(|(b, _)| Concern::Boundary(*b)))
}

/// Mass of the leaf on side a where a cavity follows it; the inner option is `None` where it
/// cannot be weighed, the outer where nothing hangs.
fn hung_mass(build_up: &BuildUp) -> Option<Option<SurfaceMass>> {
    let layers = layers(build_up);
    let gap = layers.iter().position(|l| matches!(l, Layer::Cavity(_)))?;
    let mut mass = 0.0;
    for layer in layers.iter().take(gap) {
        if let Layer::Board(board) = layer {
            match sheet_mass(board) {
                Some(one) => mass += one.0 * f64::from(board.count),
                None => return Some(None),
            }
        }
    }
    Some(Some(SurfaceMass(mass)))
}
