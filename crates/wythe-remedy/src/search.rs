//! Changes tried one by one, together, and in the order that pays.

use std::collections::BTreeMap;

use wythe_bands::{Level, LevelDifference, Seconds, Spectrum, weighting::Weighting};
use wythe_building::{Building, Change, RoomIndex};
use wythe_findings::{Arrival, Assessment, Errors, assess};
use wythe_transmission::{Cache, Model, PerBand, TransmissionError, assemble};

use crate::limits::{forbidden, on_offer};

/// Why no plan can be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RemedyError {
    /// A building with changes cannot be put together.
    #[error(transparent)]
    Transmission(#[from] TransmissionError),
    /// There is nothing to aim for.
    #[error("no target can be judged: give at least one [[target]] for a room a source reaches")]
    NoTargets,
    /// A probability that cannot be searched for.
    #[error("a probability of {0} cannot be searched for; give 0.5 to 0.95")]
    Probability(f64),
    /// A margin that is no number.
    #[error("a margin of {0} dB cannot be searched for; give −100 to 100")]
    Margin(f64),
}

/// A target judged against one source.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Position in [`Building::targets`].
    pub target: usize,
    /// Position in [`Building::sources`].
    pub source: usize,
    /// The verdict.
    pub assessment: Assessment,
    /// A-weighted level in the target's room.
    pub level_a: Option<Level>,
}

/// A building judged by all its targets against all its sources.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Every target that could be judged.
    pub judged: Vec<Judged>,
    /// How many targets hold nobody because nothing is played in their hours.
    pub at_other_hours: usize,
}

impl Outcome {
    /// Least margin of all, dB; infinite where every target is at other hours than the playing;
    /// `None` when nothing could be judged.
    pub fn worst_margin(&self) -> Option<f64> {
        let least = self.judged.iter().filter_map(|j| j.assessment.margin_db);
        least.min_by(f64::total_cmp).or((self.at_other_hours > 0).then_some(f64::INFINITY))
    }

    /// Sum of all shortfalls, dB: how far from meeting everything.
    pub fn shortfall(&self) -> f64 {
        self.judged.iter().filter_map(|j| j.assessment.margin_db).map(|m| (-m).max(0.0)).sum()
    }

    /// Whether every target is met.
    pub fn met(&self) -> bool {
        self.worst_margin().is_some_and(|m| m >= 0.0)
    }

    /// Least probability that a target is met.
    pub fn probability_met(&self) -> Option<f64> {
        self.judged.iter().filter_map(|j| j.assessment.probability_met).min_by(f64::total_cmp)
    }

    /// Whether every target is met with at least this probability.
    pub(crate) fn likely(&self, probability: f64) -> bool {
        match self.probability_met() {
            Some(found) => found >= probability,
            None => self.judged.is_empty() && self.at_other_hours > 0,
        }
    }
}

/// What one change by itself brings.
#[derive(Clone, Debug, PartialEq)]
pub struct Gain {
    /// Position in [`Building::changes`].
    pub change: usize,
    /// Price, if on file.
    pub cost: Option<f64>,
    /// Worst margin before and after, dB.
    pub worst_margin_before: f64,
    /// Worst margin after, dB.
    pub worst_margin_after: f64,
    /// Decibels by which the shortfalls of all targets shrink together.
    pub shortfall_gain_db: f64,
    /// The same per thousand of the currency; infinite for a free change.
    pub gain_per_thousand: Option<f64>,
    /// The outcome with this change alone.
    pub outcome: Outcome,
}

/// A set of changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Positions in [`Building::changes`].
    pub changes: Vec<usize>,
    /// Sum of the prices on file.
    pub cost: f64,
    /// Whether a price is missing, so that the cost is only a part of it.
    pub cost_incomplete: bool,
    /// What it reaches.
    pub outcome: Outcome,
    /// Whether no cheaper set on offer meets the targets.
    pub proven_optimal: bool,
    /// What every set that meets the wish costs at least, where the search had to stop; with
    /// [`Plan::cost`] this is the gap.
    pub at_least: Option<f64>,
}

/// What a plan has to reach.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Wish {
    /// Most money, in the project's currency.
    pub budget: Option<f64>,
    /// Decibels every target has to be met with to spare; 0 for just met.
    pub margin: f64,
    /// Probability, 0.5 to 0.95, with which each target has to be met.
    pub probability: Option<f64>,
}

/// One purchase in a row of purchases.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The change made in this step.
    pub change: usize,
    /// Money spent so far.
    pub cost: f64,
    /// Worst margin so far, dB; infinite once no target holds at the hours that are left.
    pub worst_margin: f64,
    /// Sum of shortfalls so far, dB.
    pub shortfall: f64,
}

/// The building with changes made.
pub fn apply(building: &Building, changes: &[usize]) -> Building {
    building.with_changes(changes)
}

/// Judges a building. `draw` asks for probabilities, which takes longer.
///
/// # Errors
/// [`RemedyError::Transmission`] when it cannot be put together.
pub fn outcome(building: &Building, cache: &mut Cache, draw: bool) -> Result<Outcome, RemedyError> {
    let model = assemble(building, cache)?;
    Ok(judge(building, &model, draw))
}

fn judge(building: &Building, model: &Model, draw: bool) -> Outcome {
    let mut judged = Vec::new();
    let mut at_other_hours = 0;
    for (source, sound) in building.sources.iter().enumerate() {
        let receivers: Vec<RoomIndex> =
            building.targets.iter().map(|t| t.room).filter(|r| *r != sound.room).collect();
        if receivers.is_empty() {
            continue;
        }
        // Probabilities need the stated deviation, which only the full field carries.
        let field = draw.then(|| model.from_source(sound.room));
        let energies: BTreeMap<RoomIndex, PerBand> = if draw {
            BTreeMap::new()
        } else {
            let found = model.least_energies(model, sound.room, &receivers);
            receivers.iter().copied().zip(found).collect()
        };
        for (index, target) in building.targets.iter().enumerate() {
            if target.room == sound.room {
                continue;
            }
            if !target.binds(sound.hours) {
                at_other_hours += 1;
                continue;
            }
            let (difference, errors) = match &field {
                Some(field) => match field.at(target.room) {
                    Some(there) => (there.difference, Errors::of(model, sound.room, there)),
                    None => continue,
                },
                None => (difference(&energies[&target.room]), Errors::none()),
            };
            let levels = sound.levels.zip_with(&difference, |l, d| l - d);
            if levels.is_empty() {
                continue;
            }
            let decay = decay(building, target.room);
            let arrival = Arrival {
                from: sound.room,
                plays: sound.hours,
                maximum_above: sound.maximum_above,
                levels: &levels,
                difference: &difference,
                errors: &errors,
                decay: &decay,
                background: building.rooms[target.room.0].background.as_ref(),
            };
            let assessment = assess(target, &arrival, draw);
            if assessment.margin_db.is_some() {
                judged.push(Judged {
                    target: index,
                    source,
                    assessment,
                    level_a: levels.weighted_total(Weighting::A),
                });
            }
        }
    }
    Outcome { judged, at_other_hours }
}

pub(crate) fn decay(building: &Building, room: RoomIndex) -> Spectrum<Seconds> {
    building.rooms.get(room.0).map_or_else(Spectrum::empty, |r| r.decay_time(building.air))
}

pub(crate) fn difference(energy: &PerBand) -> Spectrum<LevelDifference> {
    wythe_bands::Band::all()
        .zip(energy)
        .filter(|(_, x)| **x > 0.0)
        .map(|(b, x)| (b, LevelDifference(-10.0 * x.log10())))
        .collect()
}

/// Every change on offer by itself, best first: by decibels of shortfall removed per money, free
/// and priceless ones by decibels.
///
/// # Errors
/// [`RemedyError`] when nothing can be judged.
pub fn single_changes(building: &Building, cache: &mut Cache) -> Result<Vec<Gain>, RemedyError> {
    let before = outcome(building, cache, false)?;
    let worst = before.worst_margin().ok_or(RemedyError::NoTargets)?;
    let mut gains = Vec::new();
    for (index, change) in building.changes.iter().enumerate() {
        let after = outcome(&apply(building, &[index]), cache, false)?;
        let shortfall_gain_db = before.shortfall() - after.shortfall();
        gains.push(Gain {
            change: index,
            cost: change.cost,
            worst_margin_before: worst,
            worst_margin_after: after.worst_margin().unwrap_or(worst),
            shortfall_gain_db,
            gain_per_thousand: change
                .cost
                .map(|c| if c > 0.0 { shortfall_gain_db / c * 1000.0 } else { f64::INFINITY }),
            outcome: after,
        });
    }
    gains.sort_by(|a, b| {
        let key = |g: &Gain| {
            if g.shortfall_gain_db <= 0.05 {
                f64::NEG_INFINITY
            } else {
                g.gain_per_thousand.unwrap_or(0.0)
            }
        };
        key(b).total_cmp(&key(a)).then(b.shortfall_gain_db.total_cmp(&a.shortfall_gain_db))
    });
    Ok(gains)
}

/// The row of purchases that removes most shortfall per money at each step, until everything is
/// met, nothing helps any more, or the budget is spent.
///
/// # Errors
/// [`RemedyError`] when nothing can be judged.
pub fn steps(
    building: &Building,
    cache: &mut Cache,
    budget: Option<f64>,
) -> Result<Vec<Step>, RemedyError> {
    let mut made: Vec<usize> = Vec::new();
    let mut spent = 0.0;
    let mut row = Vec::new();
    let mut now = outcome(building, cache, false)?;
    now.worst_margin().ok_or(RemedyError::NoTargets)?;
    while !now.met() {
        let mut best: Option<(usize, f64, Outcome)> = None;
        for (index, change) in allowed(building) {
            let cost = change.cost.unwrap_or(0.0);
            if taken(building, &made, change) || budget.is_some_and(|b| spent + cost > b) {
                continue;
            }
            let mut with = made.clone();
            with.push(index);
            if forbidden(building, &with).is_some() {
                continue;
            }
            let then = outcome(&apply(building, &with), cache, false)?;
            let gain = now.shortfall() - then.shortfall();
            // Below this nobody hears it, and the sum of rounding could go on forever.
            if gain < 0.1 {
                continue;
            }
            let value = gain / cost.max(1.0);
            if best.as_ref().is_none_or(|(_, v, _)| value > *v) {
                best = Some((index, value, then));
            }
        }
        let Some((index, _, then)) = best else { break };
        made.push(index);
        spent += building.changes[index].cost.unwrap_or(0.0);
        row.push(Step {
            change: index,
            cost: spent,
            worst_margin: then.worst_margin().unwrap_or(f64::INFINITY),
            shortfall: then.shortfall(),
        });
        now = then;
    }
    Ok(row)
}

/// Changes the limits leave, with their positions.
pub(crate) fn allowed(building: &Building) -> impl Iterator<Item = (usize, &Change)> {
    let (offered, _) = on_offer(building);
    offered.into_iter().filter_map(|i| building.changes.get(i).map(|c| (i, c)))
}

fn taken(building: &Building, made: &[usize], change: &Change) -> bool {
    made.iter().any(|&m| building.changes[m].element == change.element)
}
