//! What each further sum of money buys, and where to stop.

use wythe_bands::Level;
use wythe_building::Building;
use wythe_transmission::Cache;

use crate::exact::fulfilling;
use crate::remedies::money;
use crate::search::{Outcome, Plan, RemedyError, Step, Wish, apply, outcome};

/// A sum from which on more is reached.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// The cheapest set that reaches this margin.
    pub plan: Plan,
    /// Worst margin of all targets, dB; infinite where none holds at the hours that are left.
    pub worst_margin: f64,
    /// Whether no cheaper set on offer reaches more than [`RESOLUTION`] above the point before.
    pub proven: bool,
}

/// Sums of money and what they buy, from nothing up.
#[derive(Clone, Debug, PartialEq)]
pub struct Frontier {
    /// Points, rising in cost and in margin; the first is the building as it is.
    pub points: Vec<Point>,
    /// Whether the last point is the most that anything on offer reaches; else there were too many.
    pub complete: bool,
}

/// Points nearer in margin than this are one, dB; nobody hears less.
pub const RESOLUTION: f64 = 0.1;
/// Points after which the list ends; more cannot be read.
const MOST_POINTS: usize = 60;

/// The whole frontier of cost against the worst margin within a budget.
///
/// Each point is found by the exact search for a little more than the point before, so between
/// two points money alone buys nothing for the worst room.
///
/// # Errors
/// [`RemedyError`] when nothing can be judged.
pub fn frontier(
    building: &Building,
    cache: &mut Cache,
    budget: Option<f64>,
) -> Result<Frontier, RemedyError> {
    let start = outcome(building, cache, true)?;
    let mut margin = start.worst_margin().ok_or(RemedyError::NoTargets)?;
    let as_it_is = Plan {
        changes: Vec::new(),
        cost: 0.0,
        cost_incomplete: false,
        outcome: start,
        proven_optimal: true,
        at_least: None,
    };
    let mut points = vec![Point { plan: as_it_is, worst_margin: margin, proven: true }];
    while points.len() < MOST_POINTS {
        if margin.is_infinite() {
            return Ok(Frontier { points, complete: true });
        }
        let wish =
            Wish { budget, margin: (margin + RESOLUTION).clamp(-100.0, 100.0), ..Wish::default() };
        let Some(plan) = fulfilling(building, cache, &wish)? else {
            return Ok(Frontier { points, complete: true });
        };
        margin = plan.outcome.worst_margin().unwrap_or(margin);
        // As cheap as the point before and better: that one was only one of several.
        if points.last().is_some_and(|p| plan.cost <= p.plan.cost + 1e-9) {
            points.pop();
        }
        points.push(Point { worst_margin: margin, proven: plan.proven_optimal, plan });
    }
    Ok(Frontier { points, complete: false })
}

/// A gain at the receiver that is not worth money, dB (common practice, no source).
const NOT_HEARD: f64 = 1.0;

/// Where in a row of purchases to stop, as a sentence; `None` when the row is empty.
///
/// A step gains what the A-weighted levels in rooms with targets fall by, with the background of
/// the room added before and after: what the background hides is no gain.
///
/// # Errors
/// [`RemedyError`] when the building cannot be put together.
pub fn stop_rule(
    building: &Building,
    row: &[Step],
    cache: &mut Cache,
) -> Result<Option<String>, RemedyError> {
    if row.is_empty() {
        return Ok(None);
    }
    let mut made = Vec::new();
    let mut before = outcome(building, cache, false)?;
    let mut worth = 0;
    let mut last_gain = 0.0;
    let mut hidden = false;
    let mut after = before.clone();
    for (i, step) in row.iter().enumerate() {
        made.push(step.change);
        after = outcome(&apply(building, &made), cache, false)?;
        let gain = heard_gain(building, &before, &after);
        if gain.heard >= NOT_HEARD {
            worth = i + 1;
        } else {
            last_gain = gain.heard;
            hidden = gain.alone >= NOT_HEARD;
        }
        before = after.clone();
    }
    let met = after.met();
    let spent = |n: usize| match n {
        0 => "before the first step".to_owned(),
        n => format!("after step {n}, at {}", money(building, row[n - 1].cost)),
    };
    Ok(Some(if worth < row.len() && hidden {
        format!(
            "Stop {}: from there on the background of the rooms decides, and further steps are \
             hardly heard",
            spent(worth)
        )
    } else if worth < row.len() {
        format!(
            "Stop {}, unless a target has to be met on paper: the steps after it gain {last_gain:.1} \
             dB at the receiver, less than 1 dB",
            spent(worth)
        )
    } else if met {
        format!("Stop {}: every target is met", spent(row.len()))
    } else {
        format!(
            "Every step is heard, and after the last, at {}, a target is still missed",
            money(building, row[row.len() - 1].cost)
        )
    }))
}

struct HeardGain {
    /// With the background.
    heard: f64,
    /// Without it.
    alone: f64,
}

/// Largest fall of the A-weighted level in any room with a target.
fn heard_gain(building: &Building, before: &Outcome, after: &Outcome) -> HeardGain {
    let mut out = HeardGain { heard: 0.0, alone: 0.0 };
    for then in &after.judged {
        let Some(now) =
            before.judged.iter().find(|j| (j.target, j.source) == (then.target, then.source))
        else {
            continue;
        };
        let (Some(a), Some(b)) = (now.level_a, then.level_a) else { continue };
        let room = &building.rooms[building.targets[then.target].room.0];
        let background = room
            .background
            .as_ref()
            .and_then(|s| s.weighted_total(wythe_bands::weighting::Weighting::A));
        let with = |l: Level| match background {
            Some(n) => Level::energy_sum([l, n]).unwrap_or(l),
            None => l,
        };
        out.alone = f64::max(out.alone, a.0 - b.0);
        out.heard = f64::max(out.heard, with(a).0 - with(b).0);
    }
    out
}
