//! Changes tried one by one, together, and in the order that pays.

use std::collections::BTreeMap;

use wythe_bands::{Level, LevelDifference, Seconds, Spectrum, weighting::Weighting};
use wythe_building::{Action, Building, Change, RoomIndex};
use wythe_findings::{Arrival, Assessment, assess};
use wythe_transmission::{BANDS, Cache, Model, PerBand, TransmissionError, assemble};

/// Why no plan can be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RemedyError {
    /// A building with changes cannot be put together.
    #[error(transparent)]
    Transmission(#[from] TransmissionError),
    /// There is nothing to aim for.
    #[error("no target can be judged: give at least one [[target]] for a room a source reaches")]
    NoTargets,
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
}

impl Outcome {
    /// Least margin of all, dB; `None` when nothing could be judged.
    pub fn worst_margin(&self) -> Option<f64> {
        self.judged.iter().filter_map(|j| j.assessment.margin_db).min_by(f64::total_cmp)
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
}

/// One purchase in a row of purchases.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The change made in this step.
    pub change: usize,
    /// Money spent so far.
    pub cost: f64,
    /// Worst margin so far, dB.
    pub worst_margin: f64,
    /// Sum of shortfalls so far, dB.
    pub shortfall: f64,
}

/// The building with changes made.
pub fn apply(building: &Building, changes: &[usize]) -> Building {
    let mut out = building.clone();
    for change in changes.iter().filter_map(|&c| building.changes.get(c)) {
        for action in &change.actions {
            act(&mut out, action);
        }
    }
    out
}

fn act(building: &mut Building, action: &Action) {
    match action {
        Action::Rebuild { boundary, build_up } => {
            if let Some(b) = building.boundaries.get_mut(boundary.0) {
                b.build_up = *build_up;
            }
        }
        Action::Seal { opening, head, jambs, sill } => {
            for o in openings(building, opening) {
                o.head = head.unwrap_or(o.head);
                o.jambs = jambs.unwrap_or(o.jambs);
                o.sill = sill.unwrap_or(o.sill);
            }
        }
        Action::Leaf { opening, leaf } => {
            for o in openings(building, opening) {
                o.leaf = Some(leaf.clone());
            }
        }
        Action::Close { leak } => {
            for b in &mut building.boundaries {
                b.leaks.retain(|l| &l.id != leak);
            }
        }
        Action::Absorb { room, finish, area } => {
            let air = building.air;
            if let Some(r) = building.rooms.get_mut(room.0) {
                absorb(r, finish, *area, air);
            }
        }
        Action::Quieter { room, by } => {
            for s in building.sources.iter_mut().filter(|s| s.room == *room) {
                s.levels = s.levels.map(|_, l| l - *by);
            }
        }
    }
}

fn openings<'a>(
    building: &'a mut Building,
    id: &'a str,
) -> impl Iterator<Item = &'a mut wythe_partition::Opening> {
    building.boundaries.iter_mut().flat_map(|b| &mut b.openings).filter(move |o| o.id == id)
}

fn absorb(
    room: &mut wythe_building::Room,
    finish: &str,
    area: wythe_bands::SquareMetre,
    air: wythe_bands::Air,
) {
    use wythe_building::{Absorption, Surface, finish::absorption_area};
    let surface = Surface { finish: finish.to_owned(), area };
    if let Absorption::Finishes(surfaces) = &mut room.absorption {
        surfaces.push(surface);
        return;
    }
    let more = absorption_area(&[surface]);
    let (before, _) = room.absorption_area(air);
    room.absorption = Absorption::Area(before.map(|band, a| {
        let in_air = 4.0 * air.power_attenuation(band.centre()) * room.volume.0;
        let added = more.get(band).map_or(0.0, |m| m.0);
        wythe_bands::SquareMetre((a.0 - in_air).max(0.1) + added)
    }));
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
            let (difference, deviation) = match &field {
                Some(field) => match field.at(target.room) {
                    Some(there) => (there.difference, there.deviation),
                    None => continue,
                },
                None => (difference(&energies[&target.room]), Spectrum::empty()),
            };
            let levels = sound.levels.zip_with(&difference, |l, d| l - d);
            if levels.is_empty() {
                continue;
            }
            let decay = decay(building, target.room);
            let arrival = Arrival {
                from: sound.room,
                levels: &levels,
                difference: &difference,
                deviation: &deviation,
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
    Outcome { judged }
}

fn decay(building: &Building, room: RoomIndex) -> Spectrum<Seconds> {
    building.rooms.get(room.0).map_or_else(Spectrum::empty, |r| r.decay_time(building.air))
}

fn difference(energy: &PerBand) -> Spectrum<LevelDifference> {
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
            worst_margin: then.worst_margin().unwrap_or(f64::NAN),
            shortfall: then.shortfall(),
        });
        now = then;
    }
    Ok(row)
}

/// Changes the limits leave, with their positions.
fn allowed(building: &Building) -> impl Iterator<Item = (usize, &Change)> {
    building
        .changes
        .iter()
        .enumerate()
        .filter(|(_, c)| c.reversible || !building.limits.reversible_only)
}

fn taken(building: &Building, made: &[usize], change: &Change) -> bool {
    made.iter().any(|&m| building.changes[m].element == change.element)
}

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
    let start = outcome(building, cache, false)?;
    start.worst_margin().ok_or(RemedyError::NoTargets)?;
    let mut search = Search::new(building, cache, budget.unwrap_or(f64::INFINITY))?;
    let mut proven = !search.entangled;
    if start.met() {
        search.best = Some((Vec::new(), 0.0));
    } else {
        let all: Vec<Vec<usize>> =
            search.elements.iter().map(|e| (0..=e.options.len()).collect()).collect();
        search.branch(all);
        proven &= search.nodes < MOST_NODES;
    }
    let changes = match search.best {
        Some((changes, _)) => changes,
        None => {
            proven = false;
            nearest_miss(building, cache, budget)?
        }
    };
    let cost = changes.iter().filter_map(|&c| building.changes[c].cost).sum();
    let cost_incomplete = changes.iter().any(|&c| building.changes[c].cost.is_none());
    let outcome = outcome(&apply(building, &changes), cache, true)?;
    Ok(Plan { changes, cost, cost_incomplete, proven_optimal: proven && outcome.met(), outcome })
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
            if budget.is_some_and(|b| price(&with) > b) {
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

/// Nodes after which the search stops and says so; about a minute for a house of twenty rooms.
const MOST_NODES: usize = 20_000;

/// What one option does to the couplings: dB per link and band, factors on absorptions, quieter
/// sources.
#[derive(Clone, Default)]
struct Effect {
    /// Position in [`Building::changes`]; `None` for leaving the element as it is.
    change: Option<usize>,
    cost: f64,
    links: Vec<(usize, PerBand)>,
    absorption: Vec<(usize, PerBand)>,
    quieter: Vec<(RoomIndex, f64)>,
}

struct Element {
    /// Options beside leaving it alone, cheapest first. In domains option 0 is leaving it alone
    /// and option `i` is `options[i − 1]`.
    options: Vec<Effect>,
}

struct Search<'a> {
    building: &'a Building,
    base: Model,
    elements: Vec<Element>,
    nothing: Effect,
    /// Whether two elements touch the same link, room or source, so that their effects may not
    /// simply add; then nothing is called proven.
    entangled: bool,
    budget: f64,
    best: Option<(Vec<usize>, f64)>,
    nodes: usize,
}

impl<'a> Search<'a> {
    fn new(
        building: &'a Building,
        cache: &mut Cache,
        budget: f64,
    ) -> Result<Search<'a>, RemedyError> {
        let base = assemble(building, cache)?;
        let mut names: Vec<&str> = allowed(building).map(|(_, c)| c.element.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let mut elements = Vec::new();
        for name in names {
            let mut options = Vec::new();
            for (index, change) in allowed(building).filter(|(_, c)| c.element == name) {
                options.push(effect(building, &base, index, change, cache)?);
            }
            options.sort_by(|a: &Effect, b| a.cost.total_cmp(&b.cost));
            elements.push(Element { options });
        }
        let entangled = entangled(&elements);
        Ok(Search {
            building,
            base,
            elements,
            nothing: Effect::default(),
            entangled,
            budget,
            best: None,
            nodes: 0,
        })
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

    /// Searches below a node given by the options still open for each element.
    fn branch(&mut self, mut open: Vec<Vec<usize>>) {
        if self.nodes >= MOST_NODES {
            return;
        }
        self.nodes += 1;
        loop {
            if !self.can_meet(&open) {
                return;
            }
            // Options that miss even with everything else at its best are out; each loss makes
            // the others' best worse, so until nothing changes.
            let mut changed = false;
            for e in 0..open.len() {
                if open[e].len() < 2 {
                    continue;
                }
                let before = open[e].clone();
                let keep: Vec<usize> = before
                    .iter()
                    .copied()
                    .filter(|&o| {
                        open[e] = vec![o];
                        self.can_meet(&open)
                    })
                    .collect();
                changed |= keep.len() < before.len();
                open[e] = keep;
                if open[e].is_empty() {
                    return;
                }
            }
            if !changed {
                break;
            }
        }
        let cheapest: Vec<usize> = open
            .iter()
            .enumerate()
            .map(|(e, options)| {
                let cost = |o: &&usize| self.option(e, **o).cost;
                *options.iter().min_by(|a, b| cost(a).total_cmp(&cost(b))).unwrap_or(&0)
            })
            .collect();
        let bound: f64 = cheapest.iter().enumerate().map(|(e, &o)| self.option(e, o).cost).sum();
        if bound >= self.limit() {
            return;
        }
        let single: Vec<Vec<usize>> = cheapest.iter().map(|&o| vec![o]).collect();
        if self.can_meet(&single) {
            let changes: Vec<usize> = cheapest
                .iter()
                .enumerate()
                .filter_map(|(e, &o)| self.option(e, o).change)
                .collect();
            self.best = Some((changes, bound));
            return;
        }
        // The element whose cheapest option leaves most of the range open decides first.
        let spread = |e: usize| -> f64 {
            let costs = open[e].iter().map(|&o| self.option(e, o).cost);
            costs.clone().fold(0.0, f64::max) - costs.fold(f64::INFINITY, f64::min)
        };
        let Some(e) = (0..open.len())
            .filter(|&e| open[e].len() > 1)
            .max_by(|&a, &b| spread(a).total_cmp(&spread(b)))
        else {
            return;
        };
        let mut options = open[e].clone();
        options.sort_by(|&a, &b| self.option(e, a).cost.total_cmp(&self.option(e, b).cost));
        // Take the cheapest option or do without it: the second branch bounds better than fixing
        // each option in turn.
        let first = options[0];
        let mut take = open.clone();
        take[e] = vec![first];
        let mut leave = open;
        leave[e].retain(|&o| o != first);
        self.branch(take);
        self.branch(leave);
    }

    /// Whether the targets could be met with the best of the open options of each element; with
    /// one option each, whether they are met.
    fn can_meet(&self, open: &[Vec<usize>]) -> bool {
        let mut least = vec![[0.0f64; BANDS]; self.base.links.len()];
        let mut most = vec![[0.0f64; BANDS]; self.base.links.len()];
        let mut soft = vec![[1.0f64; BANDS]; self.base.rooms];
        let mut quieter: BTreeMap<RoomIndex, f64> = BTreeMap::new();
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
        for sound in &self.building.sources {
            let by = quieter.get(&sound.room).copied().unwrap_or(0.0);
            let targets: Vec<_> =
                self.building.targets.iter().filter(|t| t.room != sound.room).collect();
            let rooms: Vec<RoomIndex> = targets.iter().map(|t| t.room).collect();
            let energies = inflow.least_energies(&losses, sound.room, &rooms);
            for (target, energy) in targets.iter().zip(&energies) {
                let difference = difference(energy);
                let levels = sound.levels.zip_with(&difference, |l, d| l - d - LevelDifference(by));
                if levels.is_empty() {
                    continue;
                }
                let room = &self.building.rooms[target.room.0];
                let decay = decay(self.building, target.room);
                let arrival = Arrival {
                    from: sound.room,
                    levels: &levels,
                    difference: &difference,
                    deviation: &Spectrum::empty(),
                    decay: &decay,
                    background: room.background.as_ref(),
                };
                if assess(target, &arrival, false).met == Some(false) {
                    return false;
                }
            }
        }
        true
    }
}

/// What a change does to the couplings of a building.
fn effect(
    building: &Building,
    base: &Model,
    index: usize,
    change: &Change,
    cache: &mut Cache,
) -> Result<Effect, RemedyError> {
    let changed = apply(building, &[index]);
    let model = assemble(&changed, cache)?;
    let mut out = Effect {
        change: Some(index),
        cost: change.cost.unwrap_or(0.0).max(0.0),
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
    }
    for room in 0..base.rooms {
        let factor: PerBand =
            std::array::from_fn(|b| model.absorption[room][b] / base.absorption[room][b]);
        if factor.iter().any(|f| (f - 1.0).abs() > 1e-12) {
            out.absorption.push((room, factor));
        }
    }
    for (before, after) in building.sources.iter().zip(&changed.sources) {
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

fn entangled(elements: &[Element]) -> bool {
    let mut links: BTreeMap<usize, usize> = BTreeMap::new();
    let mut rooms: BTreeMap<usize, usize> = BTreeMap::new();
    for (e, element) in elements.iter().enumerate() {
        for option in &element.options {
            for (link, _) in &option.links {
                if *links.entry(*link).or_insert(e) != e {
                    return true;
                }
            }
            for (room, _) in &option.absorption {
                if *rooms.entry(*room).or_insert(e) != e {
                    return true;
                }
            }
        }
    }
    false
}
