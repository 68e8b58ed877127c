//! Whether somebody gets out: windows, plugs, doors in series.

use wythe_bands::Source;
use wythe_building::{Action, RoomIndex};
use wythe_partition::{BuildUp, Layer, Opening, OpeningKind, OpeningState, SealKind};

use super::load::{ESCAPE_SOURCE, EscapeOpening, escape_shortfalls, planning_mass, rebuilds};
use super::site::{Site, layers, opening_name};
use super::words::{figures, list};
use super::{Caution, Concern, Topic};

/// Doors of this mass per area are called heavy: a solid timber leaf of 44 mm has about 22 kg/m²
/// (common practice, no source).
const HEAVY_LEAF: f64 = 20.0;

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    all.extend(no_way_outdoors(site));
    for (room, _) in site.indoors() {
        for (opening, beyond) in site.openings(room) {
            if site.is_outdoors(beyond) {
                all.extend(plugged(site, room, opening));
                all.extend(too_small(site, room, opening));
            }
        }
    }
    all.extend(covered_by_change(site));
    all.extend(lined_over(site));
    for room in site.loud_rooms() {
        all.extend(doors_in_series(site, room));
    }
    all
}

fn leads_out(opening: &Opening) -> bool {
    matches!(opening.kind, OpeningKind::Door | OpeningKind::Window | OpeningKind::Hatch)
}

fn no_way_outdoors(site: &Site<'_>) -> Option<Caution> {
    let without: Vec<RoomIndex> = site
        .indoors()
        .map(|(i, _)| i)
        .filter(|i| !site.openings(*i).any(|(o, r)| leads_out(o) && site.is_outdoors(r)))
        .collect();
    if without.is_empty() {
        return None;
    }
    let names: Vec<&str> = without.iter().map(|r| site.name(*r)).collect();
    Some(
        Caution::new("caution::no-way-outdoors", Topic::WayOut, list(&names))
            .why(
                "The description shows no window or door from here to the outdoors. Either it \
                 leaves them out, or a fire in the next room closes the only way.",
            )
            .source(ESCAPE_SOURCE)
            .what_to_do(
                "Describe the windows and outer doors. Where there are none and people sleep, \
                 play or work below ground, settle the second way out before anything is built.",
            )
            .not_known()
            .at(without.into_iter().map(Concern::Room)),
    )
}

/// Words in a title that say somebody closed it.
const CLOSED_WORDS: [&str; 5] = ["plug", "boarded", "blanked", "bricked", "hidden"];

fn says_closed(text: &str) -> bool {
    let text = text.to_lowercase();
    CLOSED_WORDS.iter().any(|w| text.contains(w))
}

/// Whether something solid stands before or instead of the glass.
fn hides_glass(leaf: &BuildUp) -> bool {
    layers(leaf).iter().any(|layer| match layer {
        Layer::Board(b) => !b.known().is_some_and(|m| m.name.contains("glass")),
        Layer::Cavity(_) => false,
    })
}

fn leaf_says_closed(leaf: &BuildUp) -> bool {
    hides_glass(leaf) || says_closed(&leaf.id) || leaf.title.as_deref().is_some_and(says_closed)
}

fn plugged(site: &Site<'_>, room: RoomIndex, opening: &Opening) -> Option<Caution> {
    let window = opening.kind == OpeningKind::Window;
    let named = says_closed(&opening.id) || opening.title.as_deref().is_some_and(says_closed);
    let solid = window && opening.leaf.as_ref().is_some_and(leaf_says_closed);
    let taped = opening.state == OpeningState::Taped;
    if !(named || solid || taped) {
        return None;
    }
    let how = if taped { "taped over" } else { "closed by something solid" };
    Some(
        Caution::new("caution::way-out-plugged", Topic::WayOut, opening_name(opening))
            .why(format!(
                "This opening of the {} to the outdoors is {how}. In smoke nobody finds the screws.",
                site.name(room)
            ))
            .source(ESCAPE_SOURCE)
            .what_to_do(
                "Where it may be needed as a way out, make the plug come away by hand from inside \
                 without a tool, mark it, or leave the window free.",
            )
            .stop(true)
            .at([Concern::Room(room), Concern::Opening(opening.id.clone())]),
    )
}

fn too_small(site: &Site<'_>, room: RoomIndex, opening: &Opening) -> Option<Caution> {
    if opening.kind != OpeningKind::Window {
        return None;
    }
    let sill = site.building.care.sills.iter().find(|(id, _)| *id == opening.id).map(|(_, h)| *h);
    let size =
        EscapeOpening { width: opening.width, height: opening.height, sill, at_grade: false };
    let sashes = opening
        .leaf
        .as_ref()
        .map_or(0, |l| layers(l).iter().filter(|l| matches!(l, Layer::Cavity(_))).count());
    let caution = Caution::new("caution::escape-window", Topic::WayOut, opening_name(opening))
        .figure("clear width at most", opening.width.0, "m")
        .figure("clear height at most", opening.height.0, "m")
        .source(ESCAPE_SOURCE)
        .at([Concern::Room(room), Concern::Opening(opening.id.clone())]);
    let lacks = match escape_shortfalls(&size) {
        Ok(lacks) => lacks,
        Err(why) => {
            return Some(
                caution
                    .why(format!("Its size cannot be judged: {why}."))
                    .what_to_do("Mend the size.")
                    .not_known(),
            );
        }
    };
    let name = site.name(room);
    if !lacks.is_empty() {
        return Some(
            caution
                .why(format!(
                    "The only figures known of this window of the {name} fall short of a model \
                     code for a window to climb out of: {}.",
                    lacks.join(", ")
                ))
                .what_to_do(
                    "Ask whether this room needs an escape window; then count another way \
                             out or enlarge it.",
                ),
        );
    }
    let several =
        if sashes > 0 { " Its panes stand one behind another: each must open." } else { "" };
    Some(
        caution
            .why(format!(
                "Whether this window of the {name} serves as a way out is not known: the \
                 description {}.{several}",
                if sill.is_some() {
                    "does not say how far it opens"
                } else {
                    "has neither its sill height nor whether it opens"
                }
            ))
            .what_to_do(
                "Measure the clear opening and the sill (at most 44 in, 1.12 m, in one model code), \
                 and open it by hand once.",
            )
            .not_known(),
    )
}

fn covered_by_change(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    for change in &site.building.changes {
        for action in &change.actions {
            let Action::Leaf { opening: id, leaf } = action else { continue };
            let found = site.indoors().find_map(|(room, _)| {
                site.openings(room)
                    .find(|(o, beyond)| {
                        o.id == *id && o.kind == OpeningKind::Window && site.is_outdoors(*beyond)
                    })
                    .map(|(o, _)| (room, o))
            });
            let Some((room, opening)) = found else { continue };
            if !(leaf_says_closed(leaf) || says_closed(&change.title)) {
                continue;
            }
            all.push(
                Caution::new("caution::change-plugs-window", Topic::WayOut, opening_name(opening))
                    .why(format!(
                        "\u{201c}{}\u{201d} closes a window of the {} to the outdoors.",
                        change.title,
                        site.name(room)
                    ))
                    .source(ESCAPE_SOURCE)
                    .what_to_do(
                        "Ask first whether this window is a way out. If it is, choose another \
                         change, or a plug that comes away by hand from inside without a tool.",
                    )
                    .stop(true)
                    .at([
                        Concern::Room(room),
                        Concern::Opening(opening.id.clone()),
                        Concern::Change(change.id.clone()),
                    ]),
            );
        }
    }
    all
}

/// Changes that build on a wall with a window to the outdoors: a lining can end up before it.
fn lined_over(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    for change in &site.building.changes {
        for (index, _) in rebuilds(change) {
            let Some(boundary) = site.building.boundaries.get(index.0) else { continue };
            let windows: Vec<&Opening> =
                boundary.openings.iter().filter(|o| o.kind == OpeningKind::Window).collect();
            if windows.is_empty() || !boundary.rooms.iter().any(|r| site.is_outdoors(*r)) {
                continue;
            }
            let names: Vec<&str> = windows.iter().map(|o| opening_name(o)).collect();
            all.push(
                Caution::new("caution::change-beside-window", Topic::WayOut, list(&names))
                    .why(format!(
                        "\u{201c}{}\u{201d} rebuilds the {} round it. Whether the window stays free \
                         and can be opened is not described.",
                        change.title,
                        boundary.name()
                    ))
                    .source(ESCAPE_SOURCE)
                    .what_to_do(
                        "Draw the reveal through the new wall, with the sash open, before anything \
                         is bought.",
                    )
                    .not_known()
                    .at([Concern::Boundary(index), Concern::Change(change.id.clone())])
                    .at(windows.iter().map(|o| Concern::Opening(o.id.clone()))),
            );
        }
    }
    all
}

/// Mass of a leaf, kg, where it can be weighed.
fn leaf_mass(opening: &Opening) -> Option<f64> {
    let mass = planning_mass(opening.leaf.as_ref()?)?;
    let kg = mass.0 * opening.width.0 * opening.height.0;
    (kg.is_finite() && kg >= 0.0).then_some(kg)
}

fn hard_to_open(opening: &Opening) -> bool {
    let heavy = opening.leaf.as_ref().and_then(planning_mass).is_some_and(|m| m.0 >= HEAVY_LEAF);
    let tight = [opening.head, opening.jambs].iter().all(|s| s.kind == SealKind::Compression);
    opening.kind == OpeningKind::Door && (heavy || tight)
}

/// Every room that is left by one hard door only to meet another.
fn doors_in_series(site: &Site<'_>, room: RoomIndex) -> Option<Caution> {
    let mut doors: Vec<&Opening> = Vec::new();
    let mut locks = Vec::new();
    for (first, lock) in site.openings(room).filter(|(o, _)| hard_to_open(o)) {
        if site.is_outdoors(lock) || lock == room {
            continue;
        }
        let beyond: Vec<&Opening> = site
            .openings(lock)
            .filter(|(o, r)| *r != room && hard_to_open(o))
            .map(|(o, _)| o)
            .collect();
        if beyond.is_empty() {
            continue;
        }
        if !locks.contains(&lock) {
            locks.push(lock);
        }
        for door in std::iter::once(first).chain(beyond) {
            if !doors.iter().any(|d| d.id == door.id) {
                doors.push(door);
            }
        }
    }
    if doors.is_empty() {
        return None;
    }
    let names: Vec<&str> = doors.iter().map(|d| opening_name(d)).collect();
    let heaviest = doors.iter().filter_map(|d| leaf_mass(d)).fold(f64::NAN, f64::max);
    let mut caution = Caution::new("caution::doors-in-series", Topic::WayOut, list(&names));
    let weigh = if heaviest.is_finite() {
        caution = caution.figure("heaviest leaf", heaviest, "kg");
        format!(" The heaviest leaf has about {} kg.", figures(heaviest))
    } else {
        String::new()
    };
    Some(
        caution
            .why(format!(
                "Who leaves the {} meets one heavy or tightly sealed door after another.{weigh}",
                site.name(room)
            ))
            .source(Source::Practice)
            .what_to_do(
                "Each must open easily from inside without a key, in the dark and by a child; keep \
                 swing and landing free, fit hinges for the weight, try both with the fan running.",
            )
            .at([Concern::Room(room)])
            .at(locks.into_iter().map(Concern::Room))
            .at(doors.iter().map(|d| Concern::Opening(d.id.clone()))),
    )
}
