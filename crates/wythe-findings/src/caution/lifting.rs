//! Sheets and leaves too heavy for one pair of hands.

use wythe_bands::Source;
use wythe_building::{Action, BuildUpIndex};
use wythe_partition::{BuildUp, Layer, Opening};

use super::load::{planning_mass, rebuilds, sheet_mass};
use super::site::{Site, layers, opening_name};
use super::words::{figures, list};
use super::{Caution, Concern, Topic};

/// What one person should not lift alone, kg (common practice, no source).
const ALONE: f64 = 25.0;
/// Area of a usual sheet, 1.2 m by 2.4 m.
const SHEET: f64 = 2.88;
/// Boards thicker than this come as blocks, slabs or panes cut to size, not as sheets, m.
const THICKEST_SHEET: f64 = 0.045;

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    sheets(site).into_iter().chain(leaves(site)).collect()
}

fn sheets(site: &Site<'_>) -> Option<Caution> {
    let used = |i: usize| {
        site.building.boundaries.iter().any(|b| b.build_up.0 == i)
            || site.building.changes.iter().any(|c| rebuilds(c).any(|(_, new)| new.0 == i))
    };
    let mut heavy: Vec<(String, f64)> = Vec::new();
    let mut concerns: Vec<Concern> = Vec::new();
    for (index, build_up) in site.building.build_ups.iter().enumerate().filter(|(i, _)| used(*i)) {
        for layer in layers(build_up) {
            let Layer::Board(board) = layer else { continue };
            if !(board.thickness.0 <= THICKEST_SHEET) || is_masonry(&board.material) {
                continue;
            }
            let name = format!("{} {} mm", board.material, figures(board.thickness.0 * 1000.0));
            let Some(mass) = sheet_mass(board).map(|m| m.0 * SHEET).filter(|m| *m > ALONE) else {
                continue;
            };
            let concern = Concern::BuildUp(BuildUpIndex(index));
            if !concerns.contains(&concern) {
                concerns.push(concern);
            }
            match heavy.iter_mut().find(|(n, _)| *n == name) {
                // Two sheets of one name may have been stated with different weights.
                Some((_, most)) => *most = most.max(mass),
                None => heavy.push((name, mass)),
            }
        }
    }
    let most = heavy.iter().map(|(_, m)| *m).fold(f64::NAN, f64::max);
    if heavy.is_empty() {
        return None;
    }
    let names: Vec<&str> = heavy.iter().map(|(n, _)| n.as_str()).collect();
    Some(
        Caution::new("caution::heavy-sheets", Topic::Lifting, list(&names))
            .why(format!(
                "A sheet of 1.2 m by 2.4 m has up to {} kg, more than one person should lift.",
                figures(most)
            ))
            .figure("heaviest sheet", most, "kg")
            .source(Source::Practice)
            .what_to_do("Two people and a lift, above all overhead; or buy shorter sheets.")
            .at(concerns),
    )
}

fn is_masonry(material: &str) -> bool {
    use wythe_partition::{MaterialClass, catalogue};
    catalogue()
        .material(material)
        .is_some_and(|m| m.class == MaterialClass::Masonry || m.name == "plaster")
}

fn leaves(site: &Site<'_>) -> Option<Caution> {
    let weigh = |opening: &Opening, leaf: &BuildUp| {
        let kg = planning_mass(leaf)?.0 * opening.width.0 * opening.height.0;
        (kg > 2.0 * ALONE && kg.is_finite()).then_some(kg)
    };
    let openings = || site.building.boundaries.iter().flat_map(|b| &b.openings);
    let mut heavy: Vec<(&str, f64, Concern)> = openings()
        .filter_map(|o| {
            let kg = weigh(o, o.leaf.as_ref()?)?;
            Some((opening_name(o), kg, Concern::Opening(o.id.clone())))
        })
        .collect();
    for change in &site.building.changes {
        for action in &change.actions {
            let Action::Leaf { opening, leaf } = action else { continue };
            let Some(kg) = openings().find(|o| o.id == *opening).and_then(|o| weigh(o, leaf))
            else {
                continue;
            };
            heavy.push((&change.title, kg, Concern::Change(change.id.clone())));
        }
    }
    if heavy.is_empty() {
        return None;
    }
    let most = heavy.iter().map(|(_, m, _)| *m).fold(f64::NAN, f64::max);
    let names: Vec<&str> = heavy.iter().map(|(n, ..)| *n).collect();
    Some(
        Caution::new("caution::heavy-leaves", Topic::Lifting, list(&names))
            .why(format!("The heaviest leaf has about {} kg without its frame.", figures(most)))
            .figure("heaviest leaf", most, "kg")
            .source(Source::Practice)
            .what_to_do(
                "Lift it with a trolley and two people. Fit hinges and fixings for the weight, and \
                 look at what the frame stands in.",
            )
            .at(heavy.into_iter().map(|(_, _, c)| c)),
    )
}
