//! The exact search: branch and bound over one option for each element.

use std::collections::BTreeMap;
use std::rc::Rc;

use wythe_bands::{Band, Level, LevelDifference, Spectrum, weighting::Weighting};
use wythe_building::{Building, Change, Criterion, RoomIndex, Target};
use wythe_findings::{Arrival, Assessment, Errors, assess, hearing_threshold};
use wythe_transmission::{BANDS, Cache, Model, PerBand, assemble};

use crate::bound::Knapsack;
use crate::limits::{any_exclusion, clash, floor_loads, forbidden, too_low};
use crate::search::{
    Outcome, Plan, RemedyError, Wish, allowed, apply, decay, difference, outcome, steps,
};

/// The cheapest set of changes, at most one per element, that meets every target within the
/// budget; or, when no set does, the nearest miss that buying step by step and exchanging one
/// change at a time comes to.
///
/// Exact where it says so: branch and bound. At each node every open option is tried with all
/// other open elements at their best; one that misses a target even then is out for good. What is
/// left bounds the cost from below by the cheapest remaining option of each element, and when these
/// cheapest options together meet the targets, nothing below the node can be cheaper. Levels that
/// no combination can stay under come from the least couplings and the greatest losses.
///
/// # Errors
/// [`RemedyError`] when nothing can be judged.
pub fn cheapest(
    building: &Building,
    cache: &mut Cache,
    budget: Option<f64>,
) -> Result<Plan, RemedyError> {
    cheapest_for(building, cache, &Wish { budget, ..Wish::default() })
}

/// [`cheapest`] with a margin to spare or a probability with which each target is met.
///
/// A probability is the one [`outcome`] draws, so a set is only taken when its drawn probability
/// is high enough. Bounds come from levels alone: a target met with a probability of at least one
/// half is met by the mean levels (what meets a criterion is a convex set of errors, and one
/// without the mean lies on one side of a plane through it), and more is needed for what few modes
/// spread in the two rooms, which no change alters.
///
/// # Errors
/// [`RemedyError`] when nothing can be judged or the wish is no wish.
pub fn cheapest_for(
    building: &Building,
    cache: &mut Cache,
    wish: &Wish,
) -> Result<Plan, RemedyError> {
    if let Some(plan) = fulfilling(building, cache, wish)? {
        return Ok(plan);
    }
    let changes = nearest(building, cache, wish)?;
    Ok(Plan { proven_optimal: false, ..plan_of(building, cache, changes)? })
}

/// The cheapest set that fulfils a wish; `None` when none was found.
pub(crate) fn fulfilling(
    building: &Building,
    cache: &mut Cache,
    wish: &Wish,
) -> Result<Option<Plan>, RemedyError> {
    if let Some(p) = wish.probability.filter(|p| !(0.5..=0.95).contains(p)) {
        return Err(RemedyError::Probability(p));
    }
    if !(-100.0..=100.0).contains(&wish.margin) {
        return Err(RemedyError::Margin(wish.margin));
    }
    let start = outcome(building, cache, wish.probability.is_some())?;
    start.worst_margin().ok_or(RemedyError::NoTargets)?;
    let budget = wish.budget.unwrap_or(f64::INFINITY);
    let mut search = Search::new(building, cache, budget)?;
    search.need = wish.margin;
    let mut proven = !search.entangled;
    let mut at_least = None;
    if wish.met_by(&start) {
        search.best = Some((Vec::new(), 0.0));
    } else {
        if let Some(p) = wish.probability {
            search.guess(p, cache)?;
            search.guard_against_modes(p);
            search.probability = Some(p);
        }
        search.branch(search.root(), cache)?;
        if search.left_open.is_finite() {
            proven = false;
            at_least = Some(search.left_open);
        }
    }
    let Some((changes, _)) = search.best.take() else { return Ok(None) };
    let plan = plan_of(building, cache, changes)?;
    // Where effects do not simply add, what looked enough may not be.
    let met = wish.met_by(&plan.outcome);
    Ok(met.then_some(Plan { proven_optimal: proven, at_least, ..plan }))
}

fn plan_of(
    building: &Building,
    cache: &mut Cache,
    changes: Vec<usize>,
) -> Result<Plan, RemedyError> {
    let cost = changes.iter().filter_map(|&c| building.changes[c].cost).sum();
    let cost_incomplete = changes.iter().any(|&c| building.changes[c].cost.is_none());
    let outcome = outcome(&apply(building, &changes), cache, true)?;
    Ok(Plan { changes, cost, cost_incomplete, proven_optimal: false, at_least: None, outcome })
}

impl Wish {
    /// Whether an outcome fulfils it; the budget is not looked at.
    pub fn met_by(&self, outcome: &Outcome) -> bool {
        // The last digits of a sum in another order must not undo a plan.
        outcome.worst_margin().is_some_and(|m| m >= self.margin - 1e-9)
            && self.probability.is_none_or(|p| outcome.likely(p))
    }
}

/// What comes nearest to a wish that nothing on offer fulfils: where the targets themselves can be
/// met, the likeliest set of the frontier; else the nearest miss.
fn nearest(building: &Building, cache: &mut Cache, wish: &Wish) -> Result<Vec<usize>, RemedyError> {
    if wish.margin > 0.0 || wish.probability.is_some() {
        let edge = crate::frontier::frontier(building, cache, wish.budget)?;
        let chance = |p: &crate::Point| p.plan.outcome.probability_met().unwrap_or(0.0);
        let value = |p: &crate::Point| match wish.probability {
            Some(_) => chance(p),
            None => p.worst_margin,
        };
        let best = edge.points.into_iter().max_by(|a, b| value(a).total_cmp(&value(b)));
        if let Some(point) = best.filter(|p| p.plan.outcome.met()) {
            return Ok(point.plan.changes);
        }
    }
    nearest_miss(building, cache, wish.budget)
}

/// The row of purchases, improved by single exchanges as long as the shortfall shrinks.
fn nearest_miss(
    building: &Building,
    cache: &mut Cache,
    budget: Option<f64>,
) -> Result<Vec<usize>, RemedyError> {
    let mut made: Vec<usize> =
        steps(building, cache, budget)?.into_iter().map(|s| s.change).collect();
    let price =
        |set: &[usize]| -> f64 { set.iter().filter_map(|&c| building.changes[c].cost).sum() };
    let mut now = outcome(&apply(building, &made), cache, false)?.shortfall();
    loop {
        let mut better: Option<(f64, Vec<usize>)> = None;
        for (index, change) in allowed(building) {
            if made.contains(&index) {
                continue;
            }
            let mut with: Vec<usize> = made
                .iter()
                .copied()
                .filter(|&m| building.changes[m].element != change.element)
                .collect();
            with.push(index);
            if budget.is_some_and(|b| price(&with) > b) || forbidden(building, &with).is_some() {
                continue;
            }
            let then = outcome(&apply(building, &with), cache, false)?.shortfall();
            if then < better.as_ref().map_or(now - 0.1, |(s, _)| *s) {
                better = Some((then, with));
            }
        }
        match better {
            Some((shortfall, with)) => {
                now = shortfall;
                made = with;
            }
            None => return Ok(made),
        }
    }
}

/// Balances solved after which the search stops and says so; about twenty seconds for a house of
/// twenty rooms.
const MOST_WORK: usize = 150_000;
/// What drawing the probability of one set costs, in balances.
const DRAWING: usize = 100;
/// Steps towards the dearest prices where the rows are new, and where they are inherited.
const ROUNDS: [usize; 2] = [150, 20];
/// Spares tried when a choice is brought within the rows, which leave out how elements work
/// together.
const SPARES: [f64; 4] = [0.0, 0.02, 0.08, 0.25];

/// A probability is drawn 2000 times and may come out this much too high (two and a half standard
/// deviations at one half), so bounds ask for a little less.
const SLACK_OF_DRAWS: f64 = 0.03;

/// Least √(wᵀρw) over energy shares w of the three thirds of an octave, whose errors go together
/// by ρ = e^(−Δ/3): √((1 + ρ₁)/(3 − ρ₁)) = 0.867 with 0.44 in each outer third (the weights of
/// least variance of an autoregressive row). Derived; taken a little smaller.
const LEAST_OF_THREE: f64 = 0.85;

/// What one option does to the couplings: dB per link and band, factors on absorptions, quieter
/// sources.
#[derive(Clone, Default)]
struct Effect {
    /// Positions in [`Building::changes`]; none for leaving the element as it is.
    changes: Vec<usize>,
    cost: f64,
    links: Vec<(usize, PerBand)>,
    absorption: Vec<(usize, PerBand)>,
    quieter: Vec<(RoomIndex, f64)>,
    /// Sources and targets that are no longer heard together because the hours were moved.
    freed: Vec<(usize, usize)>,
    /// kg/m² on floors, by position of the boundary.
    loads: Vec<(usize, f64)>,
    /// Whether a way opens that was not there before, which no factor on a coupling can say.
    opens_a_way: bool,
}

struct Element {
    /// Options beside leaving it alone, cheapest first. In domains option 0 is leaving it alone
    /// and option `i` is `options[i − 1]`.
    options: Vec<Effect>,
}

/// A part of what is searched.
struct Node {
    /// Options still open for each element.
    open: Vec<Vec<usize>>,
    /// Rows of a node above.
    rows: Option<Rc<Rows>>,
    /// Prices that were good there.
    prices: Vec<f64>,
    /// What everything in it costs at least.
    least: f64,
}

struct Rows {
    knapsack: Knapsack,
    /// How many options were open where they were made, and how many of what rows do not tell.
    options: usize,
    untold: usize,
}

/// A limit on a weighted sum of what arrives in a room, as a share of it.
struct Row {
    source: RoomIndex,
    room: RoomIndex,
    weights: PerBand,
}

/// The best of everything open.
struct Relaxed {
    /// With the least couplings.
    inflow: Model,
    /// With the greatest couplings and absorptions.
    losses: Model,
    quieter: BTreeMap<RoomIndex, f64>,
    /// Sources and targets that could be freed of each other.
    freed: Vec<(usize, usize)>,
}

/// Shares of a limit nearer than this are the same; far below what anybody hears.
const SAME: f64 = 1e-9;

struct Search<'a> {
    building: &'a Building,
    base: Model,
    elements: Vec<Element>,
    nothing: Effect,
    /// Whether elements that cannot be parted touch the same link or room in too many
    /// combinations to try, so that their effects may not simply add; then nothing is proven.
    entangled: bool,
    /// Whether changes exclude each other, or a least height was stated.
    exclusions: bool,
    /// Elements that do nothing but let more or less through.
    plain: Vec<bool>,
    /// Whether every target is a limit on a sum of energies.
    all_rows: bool,
    budget: f64,
    /// Margin every target needs, dB.
    need: f64,
    /// Probability every target needs, looked at where the levels would do.
    probability: Option<f64>,
    /// Added to the levels before they are judged, by source and target.
    guard: BTreeMap<(usize, usize), Spectrum<LevelDifference>>,
    best: Option<(Vec<usize>, f64)>,
    /// Balances solved so far, and how many may be.
    work: usize,
    most_work: usize,
    /// Least bound of the nodes that were not looked at; infinite when all were.
    left_open: f64,
}

impl<'a> Search<'a> {
    fn new(
        building: &'a Building,
        cache: &mut Cache,
        budget: f64,
    ) -> Result<Search<'a>, RemedyError> {
        let base = assemble(building, cache)?;
        let offered: Vec<(usize, &Change)> = allowed(building).collect();
        let mut names: Vec<&str> = offered.iter().map(|(_, c)| c.element.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let mut elements = Vec::new();
        for name in names {
            let mut options = Vec::new();
            for &(index, _) in offered.iter().filter(|(_, c)| c.element == name) {
                options.push(effect(building, &base, &[index], cache)?);
            }
            elements.push(Element { options });
        }
        let (mut elements, mut entangled) = disentangled(building, &base, elements, cache)?;
        entangled |= elements.iter().flat_map(|e| &e.options).any(|o| o.opens_a_way);
        for element in &mut elements {
            element.options.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        }
        let plain = |e: &Element| {
            e.options
                .iter()
                .all(|o| o.absorption.is_empty() && o.quieter.is_empty() && o.freed.is_empty())
        };
        Ok(Search {
            plain: elements.iter().map(plain).collect(),
            all_rows: !building
                .targets
                .iter()
                .any(|t| matches!(t.criterion, Criterion::WeightedDifference { .. })),
            building,
            base,
            elements,
            nothing: Effect::default(),
            entangled,
            exclusions: building.limits.height.is_some() || any_exclusion(building),
            budget,
            need: 0.0,
            probability: None,
            guard: BTreeMap::new(),
            best: None,
            work: 0,
            most_work: MOST_WORK,
            left_open: f64::INFINITY,
        })
    }

    /// Every option of every element open.
    fn root(&self) -> Node {
        let open = self.elements.iter().map(|e| (0..=e.options.len()).collect()).collect();
        Node { open, rows: None, prices: Vec::new(), least: 0.0 }
    }

    /// A set that reaches a probability, to start from: the cheapest for a margin, with the least
    /// margin that is enough. Better sets may exist; the exact search looks for them.
    fn guess(&mut self, probability: f64, cache: &mut Cache) -> Result<(), RemedyError> {
        let wished = self.need;
        let (mut low, mut high) = (0.0, 24.0);
        let mut found: Option<(Vec<usize>, f64)> = None;
        self.most_work = MOST_WORK / 10;
        for _ in 0..6 {
            let margin = 0.5 * (low + high);
            self.need = wished.max(margin);
            self.best = found.clone();
            self.work = 0;
            self.branch(self.root(), cache)?;
            let enough = match &self.best {
                Some((changes, _)) => {
                    let then = outcome(&apply(self.building, changes), cache, true)?;
                    then.likely(probability)
                }
                None => false,
            };
            if enough {
                found = self.best.take();
                high = margin;
            } else if self.best.is_none() {
                high = margin;
            } else {
                low = margin;
            }
        }
        self.need = wished;
        self.best = found;
        self.work = 0;
        self.most_work = MOST_WORK;
        self.left_open = f64::INFINITY;
        Ok(())
    }

    /// What every target needs beyond its limit because of the few modes of source and receiving
    /// room, whatever is changed elsewhere.
    ///
    /// With w the energy shares of the bands, a level rises by at least w·e for errors e (it is
    /// convex in them), so met with probability p needs a margin of z_p √(wᵀΣw). Derived; Σ as
    /// [`assess`] draws it. Shares are not known here: over an octave the least band takes
    /// them all at the least correlation, over the whole range nothing is needed.
    fn guard_against_modes(&mut self, probability: f64) {
        let z = normal_quantile((probability - SLACK_OF_DRAWS).max(0.5));
        for (s, sound) in self.building.sources.iter().enumerate() {
            for (t, target) in self.building.targets.iter().enumerate() {
                let by_octaves = matches!(
                    target.criterion,
                    Criterion::Nr(_) | Criterion::Nc(_) | Criterion::Octaves(_)
                );
                let by_thirds =
                    matches!(target.criterion, Criterion::Thirds(_) | Criterion::NotAudible);
                if !(by_octaves || by_thirds) || target.room == sound.room {
                    continue;
                }
                let least = |b: Band| -> f64 {
                    let modal = |room: usize| match self.base.outdoors.get(room) {
                        Some(false) => self.base.modal[room].get(b.index()).copied().unwrap_or(0.0),
                        _ => 0.0,
                    };
                    modal(sound.room.0).hypot(modal(target.room.0))
                };
                let spread = |b: Band| -> f64 {
                    if by_thirds {
                        return least(b);
                    }
                    let Some(octave) = b.octave() else { return 0.0 };
                    let of_three = octave.thirds().map(&least);
                    of_three.into_iter().fold(f64::INFINITY, f64::min) * LEAST_OF_THREE
                };
                let guard = Spectrum::from_fn(|b| LevelDifference(z * spread(b)));
                self.guard.insert((s, t), guard);
            }
        }
    }

    fn option(&self, element: usize, index: usize) -> &Effect {
        match index {
            0 => &self.nothing,
            i => &self.elements[element].options[i - 1],
        }
    }

    fn limit(&self) -> f64 {
        self.best.as_ref().map_or(self.budget + 1e-9, |(_, cost)| *cost)
    }

    /// Least cost of what is open.
    fn bound(&self, open: &[Vec<usize>]) -> f64 {
        open.iter()
            .enumerate()
            .map(|(e, options)| {
                options.iter().map(|&o| self.option(e, o).cost).fold(f64::INFINITY, f64::min)
            })
            .sum()
    }

    /// Searches below a node.
    fn branch(&mut self, node: Node, cache: &mut Cache) -> Result<(), RemedyError> {
        let Node { mut open, rows, mut prices, least } = node;
        let at_least = least.max(self.bound(&open));
        if at_least >= self.limit() {
            return Ok(());
        }
        if self.work >= self.most_work {
            self.left_open = self.left_open.min(at_least);
            return Ok(());
        }
        if !self.go_together(&open) {
            return Ok(());
        }
        self.work += 1;
        let options = |open: &[Vec<usize>]| -> usize { open.iter().map(Vec::len).sum() };
        // Rows hold below their node as well, but the fewer options are left the more new ones say.
        let untold = self.untold(&open);
        let inherited = rows
            .filter(|r| self.all_rows && r.untold == untold && 4 * options(&open) > 3 * r.options);
        let fresh = inherited.is_none();
        let rows = match inherited {
            Some(rows) => rows,
            None => {
                if !self.narrowed(&mut open) {
                    return Ok(());
                }
                let (knapsack, solved) = self.knapsack(&open);
                self.work += solved;
                Rc::new(Rows { knapsack, options: options(&open), untold: self.untold(&open) })
            }
        };
        let knapsack = &rows.knapsack;
        for (e, options) in open.iter_mut().enumerate() {
            let fits = |o: &usize| {
                knapsack.uses[e][*o].iter().zip(&knapsack.room).all(|(u, r)| *u <= r + SAME)
            };
            options.retain(fits);
            if options.is_empty() {
                return Ok(());
            }
        }
        let rounds = ROUNDS[usize::from(!fresh)];
        self.work += rounds / 10;
        let bound = knapsack.bound(&open, &mut prices, self.limit(), rounds);
        // Sums in another order differ in their last digits.
        let hair = 1e-9 * self.limit().min(1e12);
        if bound.least >= self.limit() - hair {
            return Ok(());
        }
        if self.cheapest_will_do(&open, knapsack, cache)? {
            return Ok(());
        }
        if fresh || self.best.is_none() {
            self.try_near(&open, knapsack, &bound.values, cache)?;
        }
        // An option whose price alone lifts the bound to what is found already is out.
        let limit = self.limit() - hair;
        let mut values = bound.values;
        for (options, values) in open.iter_mut().zip(&mut values) {
            let own = values.iter().copied().fold(f64::INFINITY, f64::min);
            let keep: Vec<bool> =
                values.iter().map(|v| bound.least - own + v < limit || *v <= own).collect();
            let mut at = keep.iter();
            options.retain(|_| *at.next().unwrap_or(&true));
            let mut at = keep.iter();
            values.retain(|_| *at.next().unwrap_or(&true));
        }
        let Some((cheap, dear, dear_first)) = self.split(&open, &values) else { return Ok(()) };
        let least = bound.least.max(at_least);
        let below = |open: Vec<Vec<usize>>| Node {
            open,
            rows: Some(rows.clone()),
            prices: prices.clone(),
            least,
        };
        let [first, second] = if dear_first { [dear, cheap] } else { [cheap, dear] };
        self.branch(below(first), cache)?;
        self.branch(below(second), cache)
    }

    /// Options open of elements that the rows do not tell of.
    fn untold(&self, open: &[Vec<usize>]) -> usize {
        (0..open.len()).filter(|&e| !self.plain[e]).map(|e| open[e].len()).sum()
    }

    /// Takes out options with which a target is missed even with everything else at its best;
    /// whether anything is left. Only those the rows do not tell of are tried here.
    fn narrowed(&mut self, open: &mut [Vec<usize>]) -> bool {
        self.work += 1;
        if !self.can_meet(open) {
            return false;
        }
        for e in 0..open.len() {
            if open[e].len() < 2 || (self.all_rows && !self.exclusions && self.plain[e]) {
                continue;
            }
            let before = open[e].clone();
            let mut keep = Vec::new();
            for &o in &before {
                open[e] = vec![o];
                let told = self.all_rows && self.plain[e];
                self.work += usize::from(!told);
                if if told { self.go_together(open) } else { self.can_meet(open) } {
                    keep.push(o);
                }
            }
            open[e] = keep;
            if open[e].is_empty() {
                return false;
            }
        }
        true
    }

    /// Takes the cheapest option of each element where together they are enough: nothing below the
    /// node is cheaper then.
    fn cheapest_will_do(
        &mut self,
        open: &[Vec<usize>],
        knapsack: &Knapsack,
        cache: &mut Cache,
    ) -> Result<bool, RemedyError> {
        let cheapest: Vec<usize> = open
            .iter()
            .enumerate()
            .map(|(e, options)| {
                let cost = |o: &&usize| self.option(e, **o).cost;
                *options.iter().min_by(|a, b| cost(a).total_cmp(&cost(b))).unwrap_or(&0)
            })
            .collect();
        self.take(&cheapest, knapsack, cache)
    }

    /// Keeps a choice as the best found if it is cheaper than that and enough.
    fn take(
        &mut self,
        chosen: &[usize],
        knapsack: &Knapsack,
        cache: &mut Cache,
    ) -> Result<bool, RemedyError> {
        let cost: f64 = chosen.iter().enumerate().map(|(e, &o)| self.option(e, o).cost).sum();
        if cost >= self.limit() || knapsack.over(chosen).iter().any(|o| *o > SAME) {
            return Ok(false);
        }
        self.work += 1;
        let single: Vec<Vec<usize>> = chosen.iter().map(|&o| vec![o]).collect();
        if !self.can_meet(&single) {
            return Ok(false);
        }
        let mut changes: Vec<usize> = chosen
            .iter()
            .enumerate()
            .flat_map(|(e, &o)| self.option(e, o).changes.iter().copied())
            .collect();
        changes.sort_unstable();
        if let Some(p) = self.probability {
            self.work += DRAWING;
            if !outcome(&apply(self.building, &changes), cache, true)?.likely(p) {
                return Ok(false);
            }
        }
        self.best = Some((changes, cost));
        Ok(true)
    }

    /// Looks for a good set near the best valued options, so that less has to be searched.
    fn try_near(
        &mut self,
        open: &[Vec<usize>],
        knapsack: &Knapsack,
        values: &[Vec<f64>],
        cache: &mut Cache,
    ) -> Result<(), RemedyError> {
        for spare in SPARES {
            let start = knapsack.chosen(open, values);
            let Some(mut chosen) = knapsack.repaired(open, start, spare) else { return Ok(()) };
            if !self.take(&chosen, knapsack, cache)? {
                continue;
            }
            // What was exchanged on the way may not be needed any more, the dearest first.
            let mut order: Vec<usize> = (0..open.len()).collect();
            let cost = |e: usize, o: usize| knapsack.costs[e][o];
            order.sort_by(|&a, &b| cost(b, chosen[b]).total_cmp(&cost(a, chosen[a])));
            for e in order {
                let mut cheaper: Vec<usize> =
                    open[e].iter().copied().filter(|&o| cost(e, o) < cost(e, chosen[e])).collect();
                cheaper.sort_by(|&a, &b| cost(e, a).total_cmp(&cost(e, b)));
                for o in cheaper {
                    let had = std::mem::replace(&mut chosen[e], o);
                    if self.take(&chosen, knapsack, cache)? {
                        break;
                    }
                    chosen[e] = had;
                }
            }
            return Ok(());
        }
        Ok(())
    }

    /// The open options parted in two, and whether the dearer part is the likelier; `None` where
    /// nothing is left to part.
    #[allow(clippy::type_complexity)]
    fn split(
        &self,
        open: &[Vec<usize>],
        values: &[Vec<f64>],
    ) -> Option<(Vec<Vec<usize>>, Vec<Vec<usize>>, bool)> {
        let undecided = || (0..open.len()).filter(|&e| open[e].len() > 1);
        let cost = |e: usize, o: usize| self.option(e, o).cost;
        let range = |e: usize| -> f64 {
            let costs = open[e].iter().map(|&o| cost(e, o));
            costs.clone().fold(0.0, f64::max) - costs.fold(f64::INFINITY, f64::min)
        };
        let part = |e: usize, dear: &dyn Fn(usize) -> bool| {
            let mut parts = [open.to_vec(), open.to_vec()];
            parts[0][e].retain(|&o| !dear(o));
            parts[1][e].retain(|&o| dear(o));
            let [cheap, rest] = parts;
            (cheap, rest)
        };
        // What the rows do not tell of first: until it is settled they take the best of it for
        // granted. The cheapest option is taken or done without, which bounds better than fixing
        // each in turn.
        let untold = undecided()
            .filter(|&e| !self.plain[e] || !self.all_rows)
            .max_by(|&a, &b| range(a).total_cmp(&range(b)));
        if let Some(e) = untold {
            let first =
                open[e].iter().copied().min_by(|&a, &b| cost(e, a).total_cmp(&cost(e, b)))?;
            let (cheap, dear) = part(e, &|o| o != first);
            return Some((cheap, dear, false));
        }
        // Then where two options are worth most nearly the same: the prices hold them in balance,
        // and whichever is ruled out lifts the bound.
        let two_best = |e: usize| -> Option<(usize, usize, f64)> {
            let mut at: Vec<usize> = (0..open[e].len()).collect();
            at.sort_by(|&a, &b| values[e][a].total_cmp(&values[e][b]));
            let (a, b) = (*at.first()?, *at.get(1)?);
            Some((open[e][a], open[e][b], values[e][b] - values[e][a]))
        };
        let (e, a, b, _) = undecided()
            .filter_map(|e| two_best(e).map(|(a, b, gap)| (e, a, b, gap)))
            .min_by(|x, y| x.3.total_cmp(&y.3).then(range(y.0).total_cmp(&range(x.0))))?;
        let above = cost(e, a).max(cost(e, b));
        let (cheap, dear) = if cost(e, a) == cost(e, b) {
            part(e, &|o| o != a)
        } else {
            part(e, &|o| cost(e, o) >= above)
        };
        let dear_first = dear[e].contains(&a);
        Some((cheap, dear, dear_first))
    }

    /// What passes to every target, as rows whose sum may not be above one, with the best of the
    /// open options taken and what each one uses beyond it; and how many balances it took.
    ///
    /// With losses held at their greatest, every level is a sum of products of couplings with
    /// nothing negative in it (the Neumann series of the balance). So what several options let
    /// through beyond the best is at least the sum of what each lets through by itself, for all sets
    /// below the node (derived). Criteria by a single number of level differences make no row.
    fn knapsack(&self, open: &[Vec<usize>]) -> (Knapsack, usize) {
        let relaxed = self.relaxed(open);
        let rows = self.rows(&relaxed);
        let mut solved = 1;
        let mut sources: BTreeMap<RoomIndex, Vec<RoomIndex>> = BTreeMap::new();
        for row in &rows {
            let rooms = sources.entry(row.source).or_default();
            if !rooms.contains(&row.room) {
                rooms.push(row.room);
            }
        }
        let filled = |inflow: &Model| -> Vec<f64> {
            let mut energies: BTreeMap<(RoomIndex, RoomIndex), PerBand> = BTreeMap::new();
            for (&source, rooms) in &sources {
                let found = inflow.least_energies(&relaxed.losses, source, rooms);
                energies.extend(rooms.iter().map(|&r| (source, r)).zip(found));
            }
            rows.iter()
                .map(|row| {
                    let x = &energies[&(row.source, row.room)];
                    x.iter().zip(&row.weights).map(|(x, w)| x * w).sum()
                })
                .collect()
        };
        let best = filled(&relaxed.inflow);
        // Floors that may bear so much and no more are rows of their own.
        let floors: Vec<(usize, f64)> = (0..self.building.boundaries.len())
            .filter_map(|f| {
                let most = self.building.load_allowance(&self.building.boundaries[f].id)?;
                Some((f, most.0.max(0.0)))
            })
            .collect();
        let load = |e: usize, o: usize, floor: usize| -> f64 {
            let loads = &self.option(e, o).loads;
            loads.iter().filter(|(f, _)| *f == floor).map(|(_, kg)| kg).sum()
        };
        let lightest = |e: usize, floor: usize| -> f64 {
            open[e].iter().map(|&o| load(e, o, floor)).fold(f64::INFINITY, f64::min)
        };
        let mut room: Vec<f64> = best.iter().map(|b| 1.0 - b).collect();
        room.extend(floors.iter().map(|&(f, most)| {
            let least: f64 = (0..open.len()).map(|e| lightest(e, f)).sum();
            (most - least) / most.max(1.0)
        }));
        let mut scratch = relaxed.inflow.clone();
        let mut uses = Vec::new();
        let mut costs = Vec::new();
        for (e, options) in open.iter().enumerate() {
            let count = self.elements[e].options.len() + 1;
            costs.push((0..count).map(|o| self.option(e, o).cost).collect());
            let mut links: Vec<usize> = options
                .iter()
                .flat_map(|&o| self.option(e, o).links.iter().map(|(l, _)| *l))
                .collect();
            links.sort_unstable();
            links.dedup();
            let of = |o: usize, link: usize| -> PerBand {
                let named = self.option(e, o).links.iter().find(|(l, _)| *l == link);
                named.map_or([0.0; BANDS], |(_, db)| *db)
            };
            let least: Vec<PerBand> = links
                .iter()
                .map(|&l| {
                    options.iter().map(|&o| of(o, l)).fold([f64::INFINITY; BANDS], |a, b| {
                        std::array::from_fn(|k| a[k].min(b[k]))
                    })
                })
                .collect();
            let mut element = vec![Vec::new(); count];
            for &o in options {
                let mut moved = false;
                for (&l, least) in links.iter().zip(&least) {
                    let db = of(o, l);
                    for b in 0..BANDS {
                        let more = db[b] - least[b];
                        if more > 1e-12 {
                            moved = true;
                            scratch.links[l].coupling[b] *= 10f64.powf(more / 10.0);
                        }
                    }
                }
                let mut row: Vec<f64> = if moved {
                    solved += 1;
                    let then = filled(&scratch);
                    then.iter().zip(&best).map(|(t, b)| (t - b).max(0.0)).collect()
                } else {
                    vec![0.0; rows.len()]
                };
                for &l in &links {
                    scratch.links[l].coupling = relaxed.inflow.links[l].coupling;
                }
                row.extend(
                    floors
                        .iter()
                        .map(|&(f, most)| (load(e, o, f) - lightest(e, f)) / most.max(1.0)),
                );
                element[o] = row;
            }
            uses.push(element);
        }
        (Knapsack { room, uses, costs }, solved)
    }

    /// Every criterion that is a limit on a weighted sum of energies, as such a sum.
    fn rows(&self, relaxed: &Relaxed) -> Vec<Row> {
        let mut rows = Vec::new();
        for (s, t, levels) in self.arriving(relaxed) {
            let (sound, target) = (&self.building.sources[s], &self.building.targets[t]);
            // Share of the limit that a band takes at an energy of one.
            let by = relaxed.quieter.get(&sound.room).copied().unwrap_or(0.0);
            let weight = |b: Band, over: f64| -> f64 {
                let Some(level) = sound.levels.get(b).filter(|_| levels.get(b).is_some()) else {
                    return 0.0;
                };
                let guard = self.guard.get(&(s, t)).and_then(|g| g.get(b)).map_or(0.0, |g| g.0);
                10f64.powf((level.0 - by + guard + over + self.need) / 10.0)
            };
            let mut put = |weights: &dyn Fn(Band) -> Option<f64>| {
                let mut row = [0.0; BANDS];
                for (slot, band) in row.iter_mut().zip(Band::all()) {
                    *slot = weights(band).map_or(0.0, |over| weight(band, over));
                }
                rows.push(Row { source: sound.room, room: target.room, weights: row });
            };
            let total = |weighting: Weighting, most: f64| {
                move |b: Band| Some(weighting.at(b.centre()).0 - most)
            };
            match &target.criterion {
                Criterion::LevelA(most) => put(&total(Weighting::A, most.0)),
                Criterion::LevelC(most) => put(&total(Weighting::C, most.0)),
                Criterion::MaximumA(most) => {
                    if let Some(above) = sound.maximum_above {
                        put(&total(Weighting::A, most.0 - above.0));
                    }
                }
                Criterion::Nr(_) | Criterion::Nc(_) | Criterion::Octaves(_) => {
                    let there = levels.to_octaves();
                    for (octave, margin) in
                        self.assessed(s, t, &levels, relaxed).octave_margins.iter()
                    {
                        let Some(level) = there.get(octave) else { continue };
                        let most = level.0 + margin.0;
                        let thirds = octave.thirds();
                        put(&|b| thirds.contains(&b).then_some(-most));
                    }
                }
                Criterion::Thirds(limits) => {
                    for (band, most) in limits.iter() {
                        put(&|b| (b == band).then_some(-most.0));
                    }
                }
                Criterion::NotAudible => {
                    let background = self.building.rooms[target.room.0].background;
                    for band in Band::all() {
                        let threshold = hearing_threshold(band);
                        let hidden = background.and_then(|s| s.get(band)).map(|l| l.0);
                        let most = match (threshold, hidden) {
                            (Some(t), Some(n)) => t.max(n),
                            (Some(most), None) | (None, Some(most)) => most,
                            (None, None) => continue,
                        };
                        put(&|b| (b == band).then_some(-most));
                    }
                }
                Criterion::WeightedDifference { .. } => {}
            }
        }
        rows.retain(|r| r.weights.iter().any(|w| *w > 0.0));
        rows
    }

    /// Whether the targets could be met with the best of the open options of each element; with
    /// one option each, whether they are met.
    fn can_meet(&self, open: &[Vec<usize>]) -> bool {
        if !self.can_carry(open) || !self.go_together(open) {
            return false;
        }
        let relaxed = self.relaxed(open);
        self.arriving(&relaxed).into_iter().all(|(s, t, levels)| {
            let margin = self.assessed(s, t, &levels, &relaxed).margin_db;
            margin.is_none_or(|m| m >= self.need)
        })
    }

    /// Least levels of every target that binds, by source and target; with the guard added.
    fn arriving(&self, relaxed: &Relaxed) -> Vec<(usize, usize, Spectrum<Level>)> {
        let mut out = Vec::new();
        for (s, sound) in self.building.sources.iter().enumerate() {
            let by = relaxed.quieter.get(&sound.room).copied().unwrap_or(0.0);
            let targets: Vec<(usize, &Target)> = self
                .building
                .targets
                .iter()
                .enumerate()
                .filter(|(_, t)| t.room != sound.room && t.binds(sound.hours))
                .filter(|(t, _)| !relaxed.freed.contains(&(s, *t)))
                .collect();
            let rooms: Vec<RoomIndex> = targets.iter().map(|(_, t)| t.room).collect();
            let energies = relaxed.inflow.least_energies(&relaxed.losses, sound.room, &rooms);
            for (&(t, _), energy) in targets.iter().zip(&energies) {
                let difference = self.guarded(s, t, &difference(energy));
                let levels = sound.levels.zip_with(&difference, |l, d| l - d - LevelDifference(by));
                if !levels.is_empty() {
                    out.push((s, t, levels));
                }
            }
        }
        out
    }

    fn guarded(
        &self,
        s: usize,
        t: usize,
        difference: &Spectrum<LevelDifference>,
    ) -> Spectrum<LevelDifference> {
        match self.guard.get(&(s, t)) {
            Some(guard) => difference.zip_with(guard, |d, g| LevelDifference(d.0 - g.0)),
            None => *difference,
        }
    }

    /// A target judged by levels that arrive.
    fn assessed(
        &self,
        s: usize,
        t: usize,
        levels: &Spectrum<Level>,
        relaxed: &Relaxed,
    ) -> Assessment {
        let (sound, target) = (&self.building.sources[s], &self.building.targets[t]);
        let by = relaxed.quieter.get(&sound.room).copied().unwrap_or(0.0);
        let difference = sound.levels.zip_with(levels, |l, there| l - there - LevelDifference(by));
        let arrival = Arrival {
            from: sound.room,
            plays: sound.hours,
            maximum_above: sound.maximum_above,
            levels,
            difference: &difference,
            errors: &Errors::none(),
            decay: &decay(self.building, target.room),
            background: self.building.rooms[target.room.0].background.as_ref(),
        };
        assess(target, &arrival, false)
    }

    /// The best of the open options of each element, taken together.
    fn relaxed(&self, open: &[Vec<usize>]) -> Relaxed {
        let mut least = vec![[0.0f64; BANDS]; self.base.links.len()];
        let mut most = vec![[0.0f64; BANDS]; self.base.links.len()];
        let mut soft = vec![[1.0f64; BANDS]; self.base.rooms];
        let mut quieter: BTreeMap<RoomIndex, f64> = BTreeMap::new();
        // What any open option could free of is not in the way.
        let freed: Vec<(usize, usize)> = open
            .iter()
            .enumerate()
            .flat_map(|(e, options)| options.iter().map(move |&o| (e, o)))
            .flat_map(|(e, o)| self.option(e, o).freed.iter().copied())
            .collect();
        for (e, options) in open.iter().enumerate() {
            let mut touched: BTreeMap<usize, (PerBand, PerBand, usize)> = BTreeMap::new();
            let mut softer: BTreeMap<usize, PerBand> = BTreeMap::new();
            let mut by: BTreeMap<RoomIndex, f64> = BTreeMap::new();
            for &o in options {
                let effect = self.option(e, o);
                for (link, db) in &effect.links {
                    let entry = touched.entry(*link).or_insert((*db, *db, 0));
                    entry.2 += 1;
                    for b in 0..BANDS {
                        entry.0[b] = entry.0[b].min(db[b]);
                        entry.1[b] = entry.1[b].max(db[b]);
                    }
                }
                for (room, factor) in &effect.absorption {
                    let entry = softer.entry(*room).or_insert([1.0; BANDS]);
                    for b in 0..BANDS {
                        entry[b] = entry[b].max(factor[b]);
                    }
                }
                for (room, db) in &effect.quieter {
                    let entry = by.entry(*room).or_insert(0.0);
                    *entry = entry.max(*db);
                }
            }
            for (link, (down, up, seen)) in touched {
                for b in 0..BANDS {
                    // An option that does not name the link leaves it alone.
                    let alone = seen < options.len();
                    least[link][b] += if alone { down[b].min(0.0) } else { down[b] };
                    most[link][b] += if alone { up[b].max(0.0) } else { up[b] };
                }
            }
            for (room, factor) in softer {
                for b in 0..BANDS {
                    soft[room][b] *= factor[b];
                }
            }
            for (room, db) in by {
                *quieter.entry(room).or_insert(0.0) += db;
            }
        }
        let scaled = |db: &[PerBand], model: &mut Model| {
            for (link, db) in model.links.iter_mut().zip(db) {
                for (g, d) in link.coupling.iter_mut().zip(db) {
                    if *d != 0.0 {
                        *g *= 10f64.powf(d / 10.0);
                    }
                }
            }
        };
        let mut inflow = self.base.clone();
        scaled(&least, &mut inflow);
        let mut losses = self.base.clone();
        scaled(&most, &mut losses);
        for (areas, factor) in losses.absorption.iter_mut().zip(&soft) {
            areas.iter_mut().zip(factor).for_each(|(a, f)| *a *= f);
        }
        Relaxed { inflow, losses, quieter, freed }
    }

    /// Whether what is settled already excludes each other or takes a room's height.
    fn go_together(&self, open: &[Vec<usize>]) -> bool {
        if !self.exclusions {
            return true;
        }
        let settled: Vec<usize> = open
            .iter()
            .enumerate()
            .filter(|(_, options)| options.len() == 1)
            .flat_map(|(e, options)| self.option(e, options[0]).changes.iter().copied())
            .collect();
        clash(self.building, &settled).is_none() && too_low(self.building, &settled).is_none()
    }

    /// Whether the lightest of the open options stay below what was stated for every floor.
    fn can_carry(&self, open: &[Vec<usize>]) -> bool {
        let mut floors: BTreeMap<usize, f64> = BTreeMap::new();
        for (e, options) in open.iter().enumerate() {
            let mut least: BTreeMap<usize, (f64, usize)> = BTreeMap::new();
            for &o in options {
                for &(floor, kg) in &self.option(e, o).loads {
                    let entry = least.entry(floor).or_insert((kg, 0));
                    entry.0 = entry.0.min(kg);
                    entry.1 += 1;
                }
            }
            for (floor, (kg, seen)) in least {
                let kg = if seen < options.len() { kg.min(0.0) } else { kg };
                *floors.entry(floor).or_insert(0.0) += kg;
            }
        }
        floors.iter().all(|(floor, kg)| {
            let id = &self.building.boundaries[*floor].id;
            self.building.load_allowance(id).is_none_or(|most| *kg <= most.0.max(0.0) + 1e-9)
        })
    }
}

/// Quantile of the normal distribution for 0.5 to 0.95, by bisection of the series of its
/// distribution; good to 1e-9.
fn normal_quantile(p: f64) -> f64 {
    let below = |z: f64| -> f64 {
        // Φ(z) = 1/2 + φ(z) (z + z³/3 + z⁵/15 + …)
        let (mut term, mut sum) = (z, z);
        for k in 1..60 {
            term *= z * z / f64::from(2 * k + 1);
            sum += term;
        }
        0.5 + (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt() * sum
    };
    let (mut low, mut high) = (0.0, 2.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if below(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// What changes together do to the couplings of a building.
fn effect(
    building: &Building,
    base: &Model,
    changes: &[usize],
    cache: &mut Cache,
) -> Result<Effect, RemedyError> {
    let changed = apply(building, changes);
    let model = assemble(&changed, cache)?;
    let model = if model.rooms > base.rooms { folded(base, &model) } else { model };
    let mut out = Effect {
        changes: changes.to_vec(),
        cost: changes.iter().map(|&c| building.changes[c].cost.unwrap_or(0.0).max(0.0)).sum(),
        loads: floor_loads(building, changes)
            .into_iter()
            // What cannot be weighed is not on offer where a figure is stated.
            .filter_map(|l| Some((l.boundary, l.added?.0)))
            .collect(),
        ..Effect::default()
    };
    for (position, link) in base.links.iter().enumerate() {
        let after = model.links.iter().find(|l| l.id == link.id);
        let db: PerBand = std::array::from_fn(|b| {
            let coupling = after.map_or(0.0, |l| l.coupling[b]);
            if link.coupling[b] <= 0.0 {
                0.0
            } else if coupling <= 0.0 {
                // A closed leak: as good as gone.
                -300.0
            } else {
                10.0 * (coupling / link.coupling[b]).log10()
            }
        });
        if db.iter().any(|d| d.abs() > 1e-12) {
            out.links.push((position, db));
        }
        out.opens_a_way |= after.is_some_and(|l| {
            l.coupling.iter().zip(&link.coupling).any(|(g, was)| *g > 0.0 && *was <= 0.0)
        });
    }
    out.opens_a_way |= model
        .links
        .iter()
        .any(|l| l.coupling.iter().any(|g| *g > 0.0) && !base.links.iter().any(|b| b.id == l.id));
    for room in 0..base.rooms {
        let factor: PerBand =
            std::array::from_fn(|b| model.absorption[room][b] / base.absorption[room][b]);
        if factor.iter().any(|f| (f - 1.0).abs() > 1e-12) {
            out.absorption.push((room, factor));
        }
    }
    for (s, (before, after)) in building.sources.iter().zip(&changed.sources).enumerate() {
        let freed = building
            .targets
            .iter()
            .enumerate()
            .filter(|(_, t)| t.binds(before.hours) && !t.binds(after.hours));
        out.freed.extend(freed.map(|(t, _)| (s, t)));
        // At other hours a target may come into force that held no one before.
        out.opens_a_way |=
            building.targets.iter().any(|t| !t.binds(before.hours) && t.binds(after.hours));
        let by = before
            .levels
            .zip_with(&after.levels, |a, b| (a - b).0)
            .iter()
            .map(|(_, d)| d)
            .fold(0.0f64, f64::max);
        if by > 0.0 {
            out.quieter.push((before.room, by));
        }
    }
    Ok(out)
}

/// A model with the rooms that a change added taken out again, so that it can be compared link by
/// link: the reveal between two doors becomes one coupling between the rooms on both sides.
///
/// From the balance of the added room, (A + G₁ + G₂) x = G₁ x₁ + G₂ x₂, the coupling is
/// G₁G₂/(A + G₁ + G₂) (derived). What else the added room takes from its neighbours is less than
/// the door took from them before, and is left out.
fn folded(base: &Model, model: &Model) -> Model {
    let mut out = model.clone();
    let added = |r: RoomIndex| r.0 >= base.rooms;
    for e in base.rooms..model.rooms {
        let at: Vec<usize> = (0..model.links.len())
            .filter(|&l| model.links[l].rooms.contains(&RoomIndex(e)))
            .collect();
        let other = |l: usize| {
            let [a, b] = model.links[l].rooms;
            if a.0 == e { b } else { a }
        };
        let mut rooms: Vec<RoomIndex> = at.iter().map(|&l| other(l)).collect();
        rooms.sort_unstable();
        rooms.dedup();
        let [first, second] = rooms.as_slice() else { continue };
        let sum = |room: RoomIndex, b: usize| -> f64 {
            at.iter().filter(|&&l| other(l) == room).map(|&l| model.links[l].coupling[b]).sum()
        };
        // Links of the door that was there, and what passes both leaves as one.
        let moved: Vec<usize> = at
            .iter()
            .copied()
            .filter(|&l| base.links.iter().any(|k| k.id == model.links[l].id))
            .collect();
        let beside = model.links.iter().filter(|l| {
            !base.links.iter().any(|k| k.id == l.id)
                && !l.rooms.iter().any(|r| added(*r))
                && l.rooms.contains(first)
                && l.rooms.contains(second)
        });
        let beside: Vec<&wythe_transmission::Link> = beside.collect();
        for b in 0..BANDS {
            let (g1, g2) = (sum(*first, b), sum(*second, b));
            let through = g1 * g2 / (model.absorption[e][b] + g1 + g2).max(1e-300)
                + beside.iter().map(|l| l.coupling[b]).sum::<f64>();
            let before: f64 = moved.iter().map(|&l| model.links[l].coupling[b]).sum();
            for &l in &moved {
                if before > 0.0 {
                    out.links[l].coupling[b] *= through / before;
                }
                out.links[l].rooms = [*first, *second];
            }
        }
        let gone: Vec<String> = beside.iter().map(|l| l.id.clone()).collect();
        out.links.retain(|l| !gone.contains(&l.id));
    }
    out.links.retain(|l| !l.rooms.iter().any(|r| added(*r)));
    out
}

/// Most combinations of elements that cannot be parted; each costs one building put together.
const MOST_TOGETHER: usize = 400;

/// Elements that touch the same link or room made into one, whose options are all combinations,
/// and whether some were too many for that. A leaf and the seals of the same door are such.
fn disentangled(
    building: &Building,
    base: &Model,
    elements: Vec<Element>,
    cache: &mut Cache,
) -> Result<(Vec<Element>, bool), RemedyError> {
    // The first element of each group, found by following to the smallest.
    let mut group: Vec<usize> = (0..elements.len()).collect();
    let mut links: BTreeMap<usize, usize> = BTreeMap::new();
    let mut rooms: BTreeMap<usize, usize> = BTreeMap::new();
    for e in 0..elements.len() {
        for option in &elements[e].options {
            let by_links = option.links.iter().map(|(l, _)| *links.entry(*l).or_insert(e));
            let by_rooms = option.absorption.iter().map(|(r, _)| *rooms.entry(*r).or_insert(e));
            let others: Vec<usize> = by_links.chain(by_rooms).collect();
            for other in others {
                let (a, b) = (group[other], group[e]);
                let (into, from) = (a.min(b), a.max(b));
                group.iter_mut().filter(|g| **g == from).for_each(|g| *g = into);
            }
        }
    }
    let mut out = Vec::new();
    let mut too_many = false;
    let mut elements: Vec<Option<Element>> = elements.into_iter().map(Some).collect();
    for first in 0..group.len() {
        let members: Vec<Element> = (0..group.len())
            .filter(|&e| group[e] == first)
            .filter_map(|e| elements[e].take())
            .collect();
        let combinations =
            members.iter().fold(1usize, |n, m| n.saturating_mul(m.options.len() + 1));
        if members.len() < 2 || combinations > MOST_TOGETHER {
            too_many |= members.len() > 1;
            out.extend(members);
            continue;
        }
        let mut options = Vec::new();
        for code in 1..combinations {
            let (mut rest, mut changes) = (code, Vec::new());
            for member in &members {
                let choice = rest % (member.options.len() + 1);
                rest /= member.options.len() + 1;
                if choice > 0 {
                    changes.extend(&member.options[choice - 1].changes);
                }
            }
            changes.sort_unstable();
            options.push(effect(building, base, &changes, cache)?);
        }
        out.push(Element { options });
    }
    Ok((out, too_many))
}
