//! What the limits of a project leave on offer: weight, thickness, whether it can be taken back.
//!
//! Planning numbers. Nothing here says that a floor may carry anything: below a stated figure the
//! word is still to ask an engineer.

use std::collections::BTreeMap;

use wythe_bands::{Metre, Remark, SurfaceMass};
use wythe_building::{
    Action, BoundaryIndex, BoundaryKind, BuildUpIndex, Building, Change, RoomIndex,
};
use wythe_findings::caution::load::{
    LoadFlag, added_mass, load_flag, planning_mass, pounds_per_square_foot, rebuilds,
};
use wythe_partition::{BuildUp, Construction, Layer};

/// What a change or a plan hangs from one floor or stands on it.
#[derive(Clone, Debug, PartialEq)]
pub struct FloorLoad {
    /// Position in [`Building::boundaries`]; a floor or a roof.
    pub boundary: usize,
    /// Added mass over the area of the floor, walls and doors that stand on it spread over it;
    /// `None` when a part cannot be weighed.
    pub added: Option<SurfaceMass>,
    /// Whether a wall stands on it: a line is worse for joists than the same mass spread.
    pub from_walls: bool,
}

/// A limit set beside what a plan does.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitCheck {
    /// `dead load`, `thickness`, `height`, `taken back` or `budget`.
    pub kind: &'static str,
    /// The wall, floor or change.
    pub place: String,
    /// What the plan does, with its unit; `unknown` where it cannot be told.
    pub value: String,
    /// What was stated, with its unit.
    pub stated: Option<String>,
    /// What to do about it.
    pub flag: String,
    /// Whether to stop before anything is bought.
    pub stop: bool,
}

/// Mass a change adds to each floor and roof; floors it leaves alone are not listed.
pub(crate) fn floor_loads(building: &Building, changes: &[usize]) -> Vec<FloorLoad> {
    // Kilograms by floor; `None` once a part cannot be weighed.
    let mut by_floor: BTreeMap<usize, (Option<f64>, bool)> = BTreeMap::new();
    let mut put = |floor: usize, kg: Option<f64>, wall: bool| {
        let entry = by_floor.entry(floor).or_insert((Some(0.0), false));
        entry.0 = match (entry.0, kg) {
            (Some(a), Some(b)) => Some(a + b),
            _ => None,
        };
        entry.1 |= wall;
    };
    // Of several changes of one boundary the last counts, as it does when they are applied.
    let mut rebuilt: BTreeMap<usize, BuildUpIndex> = BTreeMap::new();
    let mut leaves: BTreeMap<&str, &BuildUp> = BTreeMap::new();
    for change in changes.iter().filter_map(|&c| building.changes.get(c)) {
        for action in &change.actions {
            match action {
                Action::Rebuild { boundary, build_up } => {
                    rebuilt.insert(boundary.0, *build_up);
                }
                Action::Leaf { opening, leaf } => {
                    leaves.insert(opening, leaf);
                }
                // A second door stands beside the first, so its whole leaf is added.
                Action::SecondDoor { opening, leaf, .. } => {
                    let found = building
                        .boundaries
                        .iter()
                        .find_map(|b| b.openings.iter().find(|o| o.id == *opening).map(|o| (b, o)));
                    let Some((b, o)) = found.filter(|(b, _)| b.kind == BoundaryKind::Wall) else {
                        continue;
                    };
                    let kg = planning_mass(leaf).map(|m| m.0 * o.width.0 * o.height.0);
                    let under = floors_under(building, b.rooms);
                    let share = 1.0 / under.len().max(1) as f64;
                    for floor in under {
                        put(floor, kg.map(|k| k * share), true);
                    }
                }
                Action::Mount { contact, area, mass, .. } => {
                    let stands = building.fabric.contacts.iter().find(|c| &c.id == contact);
                    let Some(stands) = stands else { continue };
                    let under = floors_under(building, [stands.from, stands.from]);
                    let share = 1.0 / under.len().max(1) as f64;
                    for floor in under {
                        put(floor, Some(mass.0 * area.0 * share), false);
                    }
                }
                _ => {}
            }
        }
    }
    for (index, boundary) in building.boundaries.iter().enumerate() {
        let mut kg = Some(0.0);
        let mut touched = false;
        if let Some(&new) = rebuilt.get(&index) {
            touched = true;
            let area = boundary.net_area().0;
            kg = added_mass(building, BoundaryIndex(index), new)
                .map(|m| m.0 * area)
                .filter(|kg| kg.is_finite());
        }
        for opening in &boundary.openings {
            let Some(new) = leaves.get(opening.id.as_str()) else { continue };
            touched = true;
            let before = opening.leaf.as_ref().map_or(Some(0.0), |l| planning_mass(l).map(|m| m.0));
            let area = opening.width.0 * opening.height.0;
            kg = match (kg, planning_mass(new), before) {
                (Some(k), Some(after), Some(before)) => Some(k + (after.0 - before) * area),
                _ => None,
            };
        }
        if !touched {
            continue;
        }
        match boundary.kind {
            BoundaryKind::Floor | BoundaryKind::Roof => put(index, kg, false),
            BoundaryKind::Wall => {
                let under = floors_under(building, boundary.rooms);
                let share = 1.0 / under.len().max(1) as f64;
                for floor in under {
                    put(floor, kg.map(|k| k * share), true);
                }
            }
        }
    }
    by_floor
        .into_iter()
        .map(|(boundary, (kg, from_walls))| {
            let area = building.boundaries[boundary].area.0;
            let added = kg.map(|k| k / area).filter(|m| m.is_finite()).map(SurfaceMass);
            FloorLoad { boundary, added, from_walls }
        })
        .filter(|l| l.added.is_none_or(|m| m.0.abs() > 1e-9))
        .collect()
}

/// Floors that the rooms of a wall stand on: those whose upper room is one of them.
fn floors_under(building: &Building, rooms: [RoomIndex; 2]) -> Vec<usize> {
    building
        .boundaries
        .iter()
        .enumerate()
        .filter(|(_, b)| b.kind == BoundaryKind::Floor && rooms.contains(&b.rooms[1]))
        .map(|(i, _)| i)
        .collect()
}

/// Total thickness of a build-up; `None` where it is not known.
pub(crate) fn thickness(build_up: &BuildUp) -> Option<Metre> {
    let of = |layers: &[Layer]| -> Option<f64> {
        (!layers.is_empty()).then(|| {
            layers
                .iter()
                .map(|l| match l {
                    Layer::Board(b) => b.thickness.0 * f64::from(b.count),
                    Layer::Cavity(c) => c.depth.0,
                })
                .sum()
        })
    };
    match &build_up.construction {
        Construction::Layers(layers) => of(layers),
        Construction::Measured(sheet) => sheet.thickness.map(|t| t.0).or_else(|| of(&sheet.layers)),
    }
    .filter(|t| t.is_finite())
    .map(Metre)
}

/// Thickness each boundary gains by a set of changes; `None` where it cannot be told.
pub(crate) fn thickness_lost(
    building: &Building,
    changes: &[usize],
) -> Vec<(usize, Option<Metre>)> {
    let mut rebuilt: BTreeMap<usize, BuildUpIndex> = BTreeMap::new();
    for change in changes.iter().filter_map(|&c| building.changes.get(c)) {
        for (boundary, new) in rebuilds(change) {
            rebuilt.insert(boundary.0, new);
        }
    }
    let of = |i: BuildUpIndex| building.build_ups.get(i.0).and_then(thickness);
    rebuilt
        .into_iter()
        .filter_map(|(b, new)| {
            let before = of(building.boundaries.get(b)?.build_up);
            let lost = of(new).zip(before).map(|(n, o)| Metre(n.0 - o.0));
            Some((b, lost))
        })
        .collect()
}

/// Clear height rooms lose by a set of changes: to ceilings that come down and floors that come
/// up. Where nobody can tell which way a floor grows, both rooms lose it.
pub(crate) fn height_lost(building: &Building, changes: &[usize]) -> BTreeMap<usize, Metre> {
    // The lowest ceiling and the highest floor of each room.
    let mut lost: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
    let sheets = |b: BuildUpIndex| -> Vec<&Layer> {
        match building.build_ups.get(b.0).map(|b| &b.construction) {
            Some(Construction::Layers(layers)) => layers.iter().collect(),
            Some(Construction::Measured(sheet)) => sheet.layers.iter().collect(),
            None => Vec::new(),
        }
    };
    let mut rebuilt: BTreeMap<usize, BuildUpIndex> = BTreeMap::new();
    for change in changes.iter().filter_map(|&c| building.changes.get(c)) {
        for (boundary, new) in rebuilds(change) {
            rebuilt.insert(boundary.0, new);
        }
    }
    for (index, grown) in thickness_lost(building, changes) {
        let b = &building.boundaries[index];
        let Some(grown) = grown.filter(|g| g.0 > 1e-6 && b.kind != BoundaryKind::Wall) else {
            continue;
        };
        let (old, new) =
            (sheets(b.build_up), rebuilt.get(&index).map_or(Vec::new(), |n| sheets(*n)));
        let below = new.len() >= old.len() && new.ends_with(&old[old.len().min(1)..]);
        let above = new.len() >= old.len() && new.starts_with(&old[..old.len() - old.len().min(1)]);
        let sides: &[usize] = match (below, above) {
            (true, false) => &[0],
            (false, true) => &[1],
            _ => &[0, 1],
        };
        for &side in sides {
            let slot = &mut lost.entry(b.rooms[side].0).or_insert([0.0; 2])[side];
            *slot = slot.max(grown.0);
        }
    }
    lost.into_iter().map(|(room, [down, up])| (room, Metre(down + up))).collect()
}

/// Why a set leaves a room lower than stated; `None` when it does not, or nothing was stated.
pub(crate) fn too_low(building: &Building, changes: &[usize]) -> Option<String> {
    let least = building.limits.height?;
    height_lost(building, changes).into_iter().find_map(|(room, lost)| {
        let room = building.rooms.get(room).filter(|r| !r.outdoors)?;
        let name = room.name();
        match room.height {
            None => Some(format!("nobody stated how high `{name}` is, and it would lose height")),
            Some(h) if h.0 - lost.0 < least.0 - 1e-9 => Some(format!(
                "`{name}` would keep {:.2} m of height, and {:.2} m were stated as the least",
                h.0 - lost.0,
                least.0
            )),
            Some(_) => None,
        }
    })
}

/// Two changes of a set that exclude each other, as a sentence: by what the user stated, or because
/// both rebuild the same boundary and only one wall can stand there.
pub fn clash(building: &Building, changes: &[usize]) -> Option<String> {
    let chosen: Vec<&Change> = changes.iter().filter_map(|&c| building.changes.get(c)).collect();
    chosen.iter().enumerate().find_map(|(i, a)| {
        chosen[i + 1..].iter().find_map(|b| {
            if a.not_with.contains(&b.id) || b.not_with.contains(&a.id) {
                return Some(format!("`{}` and `{}` cannot be made together", a.title, b.title));
            }
            let twice = rebuilt_by_both(a, b)?;
            let name = building.boundaries.get(twice)?.name();
            Some(format!("`{}` and `{}` both rebuild `{name}`", a.title, b.title))
        })
    })
}

/// A boundary that two changes both rebuild.
fn rebuilt_by_both(a: &Change, b: &Change) -> Option<usize> {
    let twice = |here: &BoundaryIndex| rebuilds(b).any(|(there, _)| there == *here);
    rebuilds(a).map(|(here, _)| here).find(twice).map(|b| b.0)
}

/// Whether any two changes of different elements exclude each other.
pub(crate) fn any_exclusion(building: &Building) -> bool {
    let all = &building.changes;
    all.iter().enumerate().any(|(i, a)| {
        !a.not_with.is_empty()
            || all[i + 1..]
                .iter()
                .any(|b| a.element != b.element && rebuilt_by_both(a, b).is_some())
    })
}

/// Why a set as a whole cannot be made, whatever its parts may be.
pub(crate) fn forbidden(building: &Building, changes: &[usize]) -> Option<String> {
    overload(building, changes)
        .or_else(|| too_low(building, changes))
        .or_else(|| clash(building, changes))
}

/// What one change takes: the most thickness on any boundary and the most mass on any floor;
/// `None` where it takes none or nobody can tell.
pub fn cost_in_space(building: &Building, index: usize) -> (Option<Metre>, Option<SurfaceMass>) {
    let lost = thickness_lost(building, &[index]);
    let load = floor_loads(building, &[index]);
    let most = |values: Vec<f64>| values.into_iter().max_by(f64::total_cmp);
    (
        most(lost.iter().filter_map(|(_, t)| t.map(|t| t.0)).collect()).map(Metre),
        most(load.iter().filter_map(|l| l.added.map(|m| m.0)).collect()).map(SurfaceMass),
    )
}

/// Why a change by itself breaks a stated limit; `None` when it keeps them all.
pub fn breaks_limit(building: &Building, index: usize) -> Option<Remark> {
    let change: &Change = building.changes.get(index)?;
    let limits = &building.limits;
    let not_offered = |code, why: String| {
        Some(Remark::new(code, format!("`{}` is not offered: {why}", change.title)))
    };
    if let Some(strike) = building.strikes.iter().find(|s| s.hits(change)) {
        let why = strike.why.as_deref().map(|w| format!(": {w}")).unwrap_or_default();
        return not_offered("remedy::struck-out", format!("it was struck out{why}"));
    }
    if limits.reversible_only && !change.reversible {
        return not_offered(
            "remedy::not-reversible",
            "it cannot be taken back, and only what can be may be done here".into(),
        );
    }
    if let Some(most) = limits.thickness {
        for (b, lost) in thickness_lost(building, &[index]) {
            let name = building.boundaries[b].name();
            match lost {
                Some(lost) if lost.0 > most.0 + 1e-9 => {
                    return not_offered(
                        "remedy::too-thick",
                        format!(
                            "`{name}` would grow by {:.0} mm, and {:.0} mm were stated as the most",
                            lost.0 * 1000.0,
                            most.0 * 1000.0
                        ),
                    );
                }
                None => {
                    return not_offered(
                        "remedy::thickness-unknown",
                        format!("nobody can tell how much `{name}` would grow; give thicknesses"),
                    );
                }
                Some(_) => {}
            }
        }
    }
    if let Some(why) = too_low(building, &[index]) {
        return not_offered("remedy::too-low", why);
    }
    overload(building, &[index]).and_then(|why| not_offered("remedy::too-heavy", why))
}

/// Why a set is heavier than what was stated; `None` when it is not, or nothing was stated.
pub(crate) fn overload(building: &Building, changes: &[usize]) -> Option<String> {
    floor_loads(building, changes).into_iter().find_map(|load| {
        let name = building.boundaries[load.boundary].name();
        let most = building.load_allowance(&building.boundaries[load.boundary].id)?;
        match load.added {
            None => Some(format!(
                "what it adds to `{name}` cannot be weighed; find the weight on the data sheet and \
                 ask an engineer"
            )),
            Some(added) if load_flag(added, Some(most)) == LoadFlag::Stop => Some(format!(
                "it adds {:.0} kg/m² to `{name}`, and {:.0} kg/m² were stated as the most; ask an \
                 engineer before you change the figure",
                added.0, most.0
            )),
            Some(_) => None,
        }
    })
}

/// Changes that no stated limit forbids by themselves, and the reasons for the others.
pub fn on_offer(building: &Building) -> (Vec<usize>, Vec<Remark>) {
    let mut offered = Vec::new();
    let mut said = Vec::new();
    for index in 0..building.changes.len() {
        match breaks_limit(building, index) {
            None => offered.push(index),
            Some(why) => said.push(why),
        }
    }
    (offered, said)
}

/// Every limit a plan touches, stated or not, what must stop first.
pub fn limit_checks(building: &Building, changes: &[usize], cost: f64) -> Vec<LimitCheck> {
    let mut all = Vec::new();
    for load in floor_loads(building, changes) {
        let name = building.boundaries[load.boundary].name().to_owned();
        let stated = building.load_allowance(&building.boundaries[load.boundary].id);
        let value = load.added.map_or_else(
            || "unknown".to_owned(),
            |m| format!("{:.1} kg/m² ({:.1} psf)", m.0, pounds_per_square_foot(m)),
        );
        let mut flag = match (load.added, stated) {
            (None, _) => "stop: a layer has no known weight; ask an engineer".to_owned(),
            (Some(m), _) if load_flag(m, None) == LoadFlag::Nothing => {
                "lighter than now; if the frame changes, ask an engineer".to_owned()
            }
            (Some(_), None) => {
                "stop: nobody has stated what may be added here; ask an engineer".to_owned()
            }
            (Some(m), Some(most)) if load_flag(m, Some(most)) == LoadFlag::Stop => {
                "stop: above what was stated; ask an engineer".to_owned()
            }
            (Some(m), Some(most)) => format!(
                "{:.1} kg/m² left of what was stated, if nothing was added since; ask an engineer",
                most.0 - m.0
            ),
        };
        if load.from_walls {
            flag.push_str("; part of it stands on a line, which is harder on joists than its mean");
        }
        all.push(LimitCheck {
            kind: "dead load",
            place: name,
            value,
            stated: stated.map(|m| format!("{:.1} kg/m²", m.0)),
            stop: flag.starts_with("stop"),
            flag,
        });
    }
    for (b, lost) in thickness_lost(building, changes) {
        let most = building.limits.thickness;
        let mm = |m: Metre| format!("{:.0} mm", m.0 * 1000.0);
        let over = match (lost, most) {
            (Some(l), Some(m)) => l.0 > m.0 + 1e-9,
            (None, Some(_)) => true,
            _ => false,
        };
        if lost.is_some_and(|l| l.0.abs() < 5e-4) {
            continue;
        }
        all.push(LimitCheck {
            kind: "thickness",
            place: building.boundaries[b].name().to_owned(),
            value: lost.map_or_else(|| "unknown".into(), mm),
            stated: most.map(mm),
            flag: if over {
                "more than was stated".into()
            } else if most.is_some() {
                "within what was stated".into()
            } else {
                "no limit was stated; look at doors, sockets, sills and headroom".into()
            },
            stop: over,
        });
    }
    for (room, lost) in height_lost(building, changes) {
        let Some(room) = building.rooms.get(room).filter(|r| !r.outdoors) else { continue };
        let least = building.limits.height;
        let left = room.height.map(|h| h.0 - lost.0);
        let over = least.is_some_and(|m| left.is_none_or(|l| l < m.0 - 1e-9));
        all.push(LimitCheck {
            kind: "height",
            place: room.name().to_owned(),
            value: left.map_or_else(|| "unknown".into(), |l| format!("{l:.2} m")),
            stated: least.map(|m| format!("{:.2} m", m.0)),
            flag: if over {
                "lower than was stated".into()
            } else if least.is_some() {
                "not lower than was stated".into()
            } else {
                "no least height was stated; the building code has one for rooms people use".into()
            },
            stop: over,
        });
    }
    for change in changes.iter().filter_map(|&c| building.changes.get(c)) {
        if !change.reversible && building.limits.reversible_only {
            all.push(LimitCheck {
                kind: "taken back",
                place: change.title.clone(),
                value: "cannot be taken back".into(),
                stated: Some("only what can be".into()),
                flag: "not allowed here".into(),
                stop: true,
            });
        }
    }
    if let Some(budget) = building.limits.budget {
        all.push(LimitCheck {
            kind: "budget",
            place: "the whole plan".into(),
            value: crate::money(building, cost),
            stated: Some(crate::money(building, budget)),
            flag: if cost <= budget + 1e-9 { "within".into() } else { "over".into() },
            stop: cost > budget + 1e-9,
        });
    }
    all.sort_by_key(|c| !c.stop);
    all
}
