//! What nobody has looked at, by how much it would change the answer: the hole worth drilling.

use wythe_bands::{LevelDifference, Spectrum, Standing};
use wythe_building::{BoundaryIndex, Building};
use wythe_partition::{BuildUp, Conditions, InputEffect, predict, rank_inputs};
use wythe_rating::{Method, Options, rate};

use crate::assess::curve;

/// An input that is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknown {
    /// Where it counts most; `None` for a build-up by itself.
    pub boundary: Option<BoundaryIndex>,
    /// Which input of its build-up, and how far it moves R.
    pub effect: InputEffect,
    /// How well it is known: no better than the boundary it is in.
    pub standing: Standing,
    /// How far it moves the weighted reduction index, dB in steps of 0.1, one standard deviation
    /// up; negative where the rating falls. `None` where it cannot be rated.
    pub rating: Option<f64>,
}

/// A smaller effect than this, dB, changes no decision.
const LEAST_DB: f64 = 0.3;

/// Inputs not known, over all boundaries, by how much each moves its reduction index.
/// A build-up that cannot be predicted ranks nothing.
pub fn unknowns(building: &Building) -> Vec<Unknown> {
    let mut all: Vec<Unknown> = Vec::new();
    for (index, boundary) in building.boundaries.iter().enumerate() {
        let Some(build_up) = building.build_ups.get(boundary.build_up.0) else { continue };
        let conditions = Conditions { air: building.air, area: boundary.area };
        let here = of_build_up(build_up, &conditions, boundary.standpoint.standing);
        all.extend(here.into_iter().map(|u| Unknown { boundary: Some(BoundaryIndex(index)), ..u }));
    }
    all.sort_by(|a, b| b.effect.moves.0.total_cmp(&a.effect.moves.0));
    all
}

/// The same of one build-up, in a place that is known as well as stated.
pub fn of_build_up(build_up: &BuildUp, conditions: &Conditions, place: Standing) -> Vec<Unknown> {
    let inputs = rank_inputs(build_up, conditions).unwrap_or_default();
    let mut known = inputs
        .into_iter()
        .map(|effect| (effect.standing.max(place), effect))
        .filter(|(standing, e)| *standing != Standing::Known && e.moves.0 >= LEAST_DB)
        .peekable();
    if known.peek().is_none() {
        return Vec::new();
    }
    let nominal = predict(build_up, conditions).ok().map(|p| p.reduction);
    let weighted = |r: &Spectrum<LevelDifference>| {
        let options = Options { one_decimal: true, ..Options::default() };
        rate(&curve(r), Method::Iso717Part1, &options).ok().and_then(|r| r.number())
    };
    let before = nominal.as_ref().and_then(weighted);
    known
        .map(|(standing, effect)| {
            let after =
                nominal.as_ref().and_then(|r| weighted(&r.zip_with(&effect.change, |r, c| r + c)));
            let rating = before.zip(after).map(|(b, a)| ((a - b) * 10.0).round() / 10.0);
            Unknown { boundary: None, effect, standing, rating }
        })
        .collect()
}
