//! Everything there is to say about the changes on offer, in one go and in words.

use wythe_bands::{Band, Remark};
use wythe_building::{Action, Building, RoomIndex, Strike};
use wythe_transmission::{Cache, TransmissionError, assemble};

use crate::buying::{Buying, Counting, buying};
use crate::exact::cheapest_for;
use crate::frontier::stop_rule;
use crate::limits::{LimitCheck, limit_checks, on_offer};
use crate::prices::PriceList;
use crate::search::{
    Gain, Judged, Outcome, Plan, RemedyError, Step, Wish, apply, outcome, single_changes, steps,
};
use crate::sequence::{Stage, sequence};
use crate::suggest::suggest;
use crate::third_leaf;

/// What the changes on offer reach, one by one, in a row and as the cheapest set.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedies {
    /// As it is.
    pub baseline: Outcome,
    /// Each change by itself.
    pub gains: Vec<Gain>,
    /// The row of purchases.
    pub steps: Vec<Step>,
    /// The cheapest set, or the nearest miss.
    pub plan: Plan,
    /// The cheapest set one purchase after the other, what pays most first.
    pub order: Vec<Step>,
    /// What was wished for.
    pub wish: Wish,
    /// What the plan sets beside the limits of the project.
    pub limits: Vec<LimitCheck>,
    /// What the plan needs bought, counted as [`Counting::default`] does and without prices.
    pub buying: Buying,
    /// The work in order, with what must be seen before it is closed.
    pub sequence: Vec<Stage>,
    /// Where to stop, and why.
    pub stop: Option<String>,
    /// What has to be said.
    pub remarks: Vec<Remark>,
}

/// What is asked of [`remedies_for`].
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Asked {
    /// Budget, margin, probability.
    pub wish: Wish,
    /// How to count the buying list.
    pub counting: Counting,
    /// Prices that go before those of the project.
    pub prices: PriceList,
}

/// Searches the changes on offer.
///
/// # Errors
/// [`RemedyError`] when the building cannot be put together or nothing can be judged.
pub fn remedies(building: &Building, budget: Option<f64>) -> Result<Remedies, RemedyError> {
    let wish = Wish { budget, ..Wish::default() };
    remedies_for(building, &Asked { wish, ..Asked::default() })
}

/// [`remedies`] with a margin or probability to reach, another way of counting, and prices.
///
/// # Errors
/// [`RemedyError`] when the building cannot be put together, nothing can be judged, or the wish is
/// no wish.
pub fn remedies_for(building: &Building, asked: &Asked) -> Result<Remedies, RemedyError> {
    let budget = asked.wish.budget;
    let mut cache = Cache::default();
    let baseline = outcome(building, &mut cache, true)?;
    let gains = single_changes(building, &mut cache)?;
    let steps = steps(building, &mut cache, budget)?;
    let plan = cheapest_for(building, &mut cache, &asked.wish)?;
    let order = in_order(building, &plan.changes, &mut cache)?;
    let limits = limit_checks(building, &plan.changes, plan.cost);
    let prices = asked.prices.clone().with(&building.prices);
    let buying = buying(building, &plan.changes, &asked.counting, &prices);
    let sequence = sequence(building, &plan.changes);
    let mut stop = stop_rule(building, &order, &mut cache)?;
    if let Some(text) = &mut stop
        && plan.outcome.met()
        && !asked.wish.met_by(&plan.outcome)
    {
        text.push_str(" by the most probable levels, though not as surely as was asked for");
    }
    let mut remarks = Vec::new();
    if building.changes.is_empty() {
        remarks.push(Remark::new(
            "remedy::nothing-offered",
            "no change is on offer; add [[change]] tables to the project",
        ));
    }
    if building.changes.iter().any(|c| c.cost_invented) {
        remarks.push(Remark::new(
            "remedy::invented-prices",
            "some prices are invented; replace them by your own before you decide by them",
        ));
    }
    let unpriced: Vec<&str> =
        building.changes.iter().filter(|c| c.cost.is_none()).map(|c| c.title.as_str()).collect();
    if !unpriced.is_empty() {
        remarks.push(Remark::new(
            "remedy::no-price",
            format!("no price is on file for {}; it counts as free here", unpriced.join(", ")),
        ));
    }
    for change in &building.changes {
        remarks.extend(third_leaf::remarks(building, change));
    }
    let (_, not_offered) = on_offer(building);
    remarks.extend(not_offered);
    remarks.extend(idle_strikes(building));
    if let Some(over) = limits.iter().find(|l| l.kind == "dead load" && l.stop) {
        remarks.push(
            Remark::new(
                "remedy::ask-an-engineer",
                format!(
                    "the plan adds {} there: {}; buy nothing before that",
                    over.value, over.flag
                ),
            )
            .at(over.place.clone()),
        );
    }
    if let Some(bound) = plan.at_least {
        remarks.push(Remark::new(
            "remedy::not-proven",
            format!(
                "the search stopped before it was sure: no set that is enough costs less than {}, \
                 this one costs {}",
                money(building, bound),
                money(building, plan.cost)
            ),
        ));
    }
    if let Some(p) = asked.wish.probability
        && plan.outcome.met()
        && !asked.wish.met_by(&plan.outcome)
    {
        remarks.push(Remark::new(
            "remedy::not-likely-enough",
            format!("nothing on offer meets every target with a probability of {:.0} %", 100.0 * p),
        ));
    }
    if !plan.outcome.met() {
        remarks.push(Remark::new(
            "remedy::not-reached",
            format!(
                "nothing on offer meets every target; {}{}",
                obstacle(building, &plan.outcome),
                in_the_way(building, &plan, &mut cache)?
            ),
        ));
    }
    remarks.extend(buying.remarks.iter().cloned());
    Ok(Remedies {
        baseline,
        gains,
        steps,
        plan,
        order,
        wish: asked.wish,
        limits,
        buying,
        sequence,
        stop,
        remarks,
    })
}

/// Remarks on what is struck out and was never thought of: most likely a name written otherwise.
fn idle_strikes(building: &Building) -> Vec<Remark> {
    let idle = |strike: &&Strike, b: &Building| !b.changes.iter().any(|c| strike.hits(c));
    let unused: Vec<&Strike> = building.strikes.iter().filter(|s| idle(s, building)).collect();
    if unused.is_empty() {
        return Vec::new();
    }
    let thought_of = suggest(building);
    let named = |s: &Strike| -> String {
        let parts = [("change", &s.change), ("element", &s.element), ("words", &s.words)];
        let stated = parts.into_iter().filter_map(|(k, v)| Some((k, v.as_deref()?)));
        stated.map(|(k, v)| format!("{k} `{v}`")).collect::<Vec<_>>().join(", ")
    };
    unused
        .into_iter()
        .filter(|s| idle(s, &thought_of))
        .map(|s| {
            Remark::new(
                "remedy::strikes-nothing",
                format!(
                    "what is struck out by {} is neither on offer nor thought of; compare it with \
                     `wythe remedy --suggest`",
                    named(s)
                ),
            )
        })
        .collect()
}

/// A set of changes in the order in which each purchase removes most shortfall per money. Unlike
/// [`steps`] it makes all of them, also those that help only together with a later one.
///
/// # Errors
/// [`RemedyError::Transmission`] when the building cannot be put together.
pub fn in_order(
    building: &Building,
    changes: &[usize],
    cache: &mut Cache,
) -> Result<Vec<Step>, RemedyError> {
    let mut left: Vec<usize> = changes.to_vec();
    let mut made: Vec<usize> = Vec::new();
    let mut row = Vec::new();
    let mut spent = 0.0;
    let mut lacking = outcome(building, cache, false)?.shortfall();
    while !left.is_empty() {
        let mut best: Option<(f64, usize, Outcome)> = None;
        for (place, &change) in left.iter().enumerate() {
            let mut with = made.clone();
            with.push(change);
            let then = outcome(&apply(building, &with), cache, false)?;
            let cost = building.changes.get(change).and_then(|c| c.cost).unwrap_or(0.0);
            let value = (lacking - then.shortfall()) / cost.max(1.0);
            if best.as_ref().is_none_or(|(v, _, _)| value > *v) {
                best = Some((value, place, then));
            }
        }
        let Some((_, place, then)) = best else { break };
        let change = left.remove(place);
        made.push(change);
        spent += building.changes.get(change).and_then(|c| c.cost).unwrap_or(0.0);
        lacking = then.shortfall();
        row.push(Step {
            change,
            cost: spent,
            worst_margin: then.worst_margin().unwrap_or(f64::INFINITY),
            shortfall: lacking,
        });
    }
    Ok(row)
}

/// Which target stands in the way, and where.
pub fn obstacle(building: &Building, outcome: &Outcome) -> String {
    let margin = |j: &Judged| j.assessment.margin_db.unwrap_or(f64::INFINITY);
    match outcome.judged.iter().min_by(|a, b| margin(a).total_cmp(&margin(b))) {
        Some(j) => {
            let target = &building.targets[j.target];
            let room = building.rooms[target.room.0].name();
            let band =
                j.assessment.governing_band.map(|b| format!(" at {b} Hz")).unwrap_or_default();
            let lacking = -j.assessment.margin_db.unwrap_or(0.0);
            let from = building.rooms[building.sources[j.source].room.0].name();
            format!(
                "{} in {room}, from {from}, stays {} dB short{band}",
                target.text,
                tenth(lacking)
            )
        }
        None => "no target can be judged".into(),
    }
}

/// The target that is least surely met, and where it is decided.
fn least_sure(building: &Building, outcome: &Outcome) -> String {
    let chance = |j: &Judged| j.assessment.probability_met.unwrap_or(1.0);
    match outcome.judged.iter().min_by(|a, b| chance(a).total_cmp(&chance(b))) {
        Some(j) => {
            let target = &building.targets[j.target];
            let band =
                j.assessment.governing_band.map(|b| format!(", at {b} Hz")).unwrap_or_default();
            format!(
                "least sure is {} in {}{band}, with {:.0} %",
                target.text,
                building.rooms[target.room.0].name(),
                100.0 * chance(j)
            )
        }
        None => "no target can be judged".into(),
    }
}

/// By which ways most of it still comes where a plan is furthest from enough, as the end of a
/// sentence; empty where the criterion has no one band.
fn in_the_way(
    building: &Building,
    plan: &Plan,
    cache: &mut Cache,
) -> Result<String, TransmissionError> {
    let margin = |j: &&Judged| j.assessment.margin_db.unwrap_or(f64::INFINITY);
    let worst = plan.outcome.judged.iter().min_by(|a, b| margin(a).total_cmp(&margin(b)));
    let at = worst.and_then(|j| Some((j, Band::from_nominal(j.assessment.governing_band?)?)));
    let Some((judged, band)) = at else { return Ok(String::new()) };
    let model = assemble(&apply(building, &plan.changes), cache)?;
    let field = model.from_source(building.sources[judged.source].room);
    let Some(there) = field.at(building.targets[judged.target].room) else {
        return Ok(String::new());
    };
    let mut ways: Vec<(f64, String)> = there
        .ways
        .iter()
        .filter_map(|w| Some((*w.share.get(band.index())?, w.title(&model))))
        .filter(|(share, title)| *share >= 0.15 && !title.is_empty())
        .collect();
    ways.sort_by(|a, b| b.0.total_cmp(&a.0));
    let named: Vec<String> = ways
        .iter()
        .take(3)
        .map(|(share, title)| format!("{title} ({:.0} %)", 100.0 * share))
        .collect();
    Ok(match named.is_empty() {
        true => "; it comes by many ways, none of which carries much".into(),
        false => format!("; what still comes there comes through {}", named.join(", ")),
    })
}

/// What a set asks of those who play, in words, one for each such action; empty where everything
/// stays as it is played now.
pub fn asked_of_players(building: &Building, changes: &[usize]) -> Vec<String> {
    let room = |r: &RoomIndex| building.rooms.get(r.0).map_or("", |r| r.name());
    let actions = changes.iter().filter_map(|&c| building.changes.get(c)).flat_map(|c| &c.actions);
    actions
        .filter_map(|a| match a {
            Action::Quieter { room: r, by } => {
                Some(format!("to play {:.0} dB quieter in {}", by.0, room(r)))
            }
            Action::Earlier { room: r, hours } => {
                let clock = |m: u16| format!("{:02}:{:02}", m / 60, m % 60);
                Some(format!(
                    "to play in {} only from {} to {}",
                    room(r),
                    clock(hours.from),
                    clock(hours.to)
                ))
            }
            _ => None,
        })
        .collect()
}

/// The answer in one or two sentences, and what it asks of those who play.
pub fn headline(building: &Building, r: &Remedies) -> String {
    let mut out = answer(building, r);
    let asked = asked_of_players(building, &r.plan.changes);
    if !asked.is_empty() {
        out.push_str(&format!(" It asks the players {}.", asked.join(" and ")));
    }
    out
}

fn answer(building: &Building, r: &Remedies) -> String {
    let titles: Vec<&str> =
        r.plan.changes.iter().map(|&c| building.changes[c].title.as_str()).collect();
    let wished = match (r.wish.probability, r.wish.margin) {
        (Some(p), m) if m > 0.0 => {
            format!(" with a probability of {:.0} % and {} dB to spare", 100.0 * p, tenth(m))
        }
        (Some(p), _) => format!(" with a probability of {:.0} %", 100.0 * p),
        (None, m) if m > 0.0 => format!(" with {} dB to spare", tenth(m)),
        _ => String::new(),
    };
    if r.baseline.judged.is_empty() && r.baseline.at_other_hours > 0 {
        "Nothing is played in the hours of any target; nothing has to be bought.".to_owned()
    } else if r.wish.met_by(&r.baseline) {
        format!("Every target is met{wished} as it is; nothing has to be bought.")
    } else if r.plan.outcome.met() && !r.wish.met_by(&r.plan.outcome) {
        format!(
            "Nothing on offer meets every target{wished}. Nearest comes, for {}: {}; {}.",
            money(building, r.plan.cost),
            titles.join("; "),
            least_sure(building, &r.plan.outcome)
        )
    } else if r.wish.met_by(&r.plan.outcome) {
        let (set, sure) = if r.plan.proven_optimal {
            ("cheapest set", ", and nothing cheaper on offer is enough")
        } else {
            ("cheapest set found", "")
        };
        format!(
            "The {set} that meets every target{wished} costs {}{sure}: {}.",
            money(building, r.plan.cost),
            titles.join("; ")
        )
    } else if titles.is_empty() {
        format!("Nothing on offer helps: {}.", obstacle(building, &r.plan.outcome))
    } else {
        format!(
            "Nothing on offer meets every target. Nearest comes, for {}: {}; then {}.",
            money(building, r.plan.cost),
            titles.join("; "),
            obstacle(building, &r.plan.outcome)
        )
    }
}

/// Money with the project's currency.
pub fn money(building: &Building, sum: f64) -> String {
    match &building.limits.currency {
        Some(currency) => format!("{sum:.0} {currency}"),
        None => format!("{sum:.0}"),
    }
}

/// One decimal with a true minus sign.
fn tenth(value: f64) -> String {
    let text = format!("{value:.1}");
    match text.strip_prefix('-') {
        Some("0.0") => "0.0".to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}
