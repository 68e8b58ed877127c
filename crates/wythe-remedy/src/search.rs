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
/// budget; or, when no set does, the one on offer that comes nearest. Exact: branch and bound
/// with levels no combination of the open choices can stay under.
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
    if start.met() {
        search.best = Some((Vec::new(), 0.0));
    } else {
        // A first plan to beat: the greedy row.
        let row: Vec<usize> =
            steps(building, cache, budget)?.into_iter().map(|s| s.change).collect();
        if outcome(&apply(building, &row), cache, false)?.met() {
            let cost = search.cost(&row);
            search.best = Some((row, cost));
        }
        search.branch(0, &mut Vec::new(), 0.0, cache)?;
    }
    let proven = !search.cut_short;
    let (changes, met) = match search.best {
        Some((changes, _)) => (changes, true),
        None => (search.nearest.1, false),
    };
    let cost = changes.iter().filter_map(|&c| building.changes[c].cost).sum();
    let cost_incomplete = changes.iter().any(|&c| building.changes[c].cost.is_none());
    let outcome = outcome(&apply(building, &changes), cache, true)?;
    Ok(Plan { changes, cost, cost_incomplete, outcome, proven_optimal: proven && met })
}

/// Nodes after which the search stops and says so; about a minute.
const MOST_NODES: usize = 200_000;

struct Search<'a> {
    building: &'a Building,
    /// Choices per element, cheapest first.
    elements: Vec<Vec<usize>>,
    /// Least couplings, greatest couplings and absorptions, quietest sources over the choices of
    /// each element and of all elements after it.
    least: Vec<Envelope>,
    budget: f64,
    best: Option<(Vec<usize>, f64)>,
    /// Shortfall of the nearest miss, and its changes.
    nearest: (f64, Vec<usize>),
    nodes: usize,
    cut_short: bool,
}

/// By how much open choices can at best help: dB per link and band, relative to the building
/// without them.
#[derive(Clone, Default)]
struct Envelope {
    /// Link id to least and greatest change of coupling, dB.
    links: BTreeMap<String, (PerBand, PerBand)>,
    /// Greatest factor on a room's absorption.
    absorption: BTreeMap<usize, PerBand>,
    /// Greatest lowering of a source room's level, dB.
    quieter: BTreeMap<usize, f64>,
}

impl<'a> Search<'a> {
    fn new(
        building: &'a Building,
        cache: &mut Cache,
        budget: f64,
    ) -> Result<Search<'a>, RemedyError> {
        let mut names: Vec<&str> = allowed(building).map(|(_, c)| c.element.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let mut elements: Vec<Vec<usize>> = names
            .iter()
            .map(|name| {
                let mut options: Vec<usize> =
                    allowed(building).filter(|(_, c)| c.element == *name).map(|(i, _)| i).collect();
                options.sort_by(|a, b| {
                    let cost = |i: &usize| building.changes[*i].cost.unwrap_or(0.0);
                    cost(a).total_cmp(&cost(b))
                });
                options
            })
            .collect();
        let base = assemble(building, cache)?;
        let mut own = Vec::new();
        for options in &elements {
            own.push(envelope(building, &base, options, cache)?);
        }
        // The elements that can help most are decided first: wrong branches die early.
        let mut order: Vec<usize> = (0..elements.len()).collect();
        order.sort_by(|&a, &b| weight(&own[b]).total_cmp(&weight(&own[a])));
        elements = order.iter().map(|&i| elements[i].clone()).collect();
        let own: Vec<Envelope> = order.iter().map(|&i| own[i].clone()).collect();
        let mut least = vec![Envelope::default(); elements.len() + 1];
        for i in (0..elements.len()).rev() {
            least[i] = join(&least[i + 1], &own[i]);
        }
        Ok(Search {
            building,
            elements,
            least,
            budget,
            best: None,
            nearest: (f64::INFINITY, Vec::new()),
            nodes: 0,
            cut_short: false,
        })
    }

    fn cost(&self, changes: &[usize]) -> f64 {
        changes.iter().filter_map(|&c| self.building.changes[c].cost).sum()
    }

    fn branch(
        &mut self,
        depth: usize,
        made: &mut Vec<usize>,
        cost: f64,
        cache: &mut Cache,
    ) -> Result<(), RemedyError> {
        if self.nodes >= MOST_NODES {
            self.cut_short = true;
            return Ok(());
        }
        self.nodes += 1;
        let limit = self.best.as_ref().map_or(f64::INFINITY, |(_, c)| *c);
        if cost >= limit || cost > self.budget {
            return Ok(());
        }
        let with = apply(self.building, made);
        let model = assemble(&with, cache)?;
        let now = judge(&with, &model, false);
        if now.shortfall() < self.nearest.0 - 1e-9 {
            self.nearest = (now.shortfall(), made.clone());
        }
        if now.met() {
            // Nothing more to buy below this node can be cheaper.
            self.best = Some((made.clone(), cost));
            return Ok(());
        }
        if depth == self.elements.len() {
            return Ok(());
        }
        // At least one more change is needed: the cheapest of those left.
        let dearest = self.elements[depth..]
            .iter()
            .flatten()
            .map(|&c| self.building.changes[c].cost.unwrap_or(0.0))
            .fold(f64::INFINITY, f64::min);
        if cost + dearest >= limit || cost + dearest > self.budget {
            return Ok(());
        }
        let hopeless = !optimistic(&with, &model, &self.least[depth]).met();
        if hopeless && self.best.is_some() {
            return Ok(());
        }
        if hopeless && self.nearest.0.is_finite() {
            // No set below meets the targets; only a nearer miss could be found.
            let bound = optimistic(&with, &model, &self.least[depth]).shortfall();
            if bound >= self.nearest.0 - 0.05 {
                return Ok(());
            }
        }
        for option in self.elements[depth].clone() {
            made.push(option);
            let price = self.building.changes[option].cost.unwrap_or(0.0);
            self.branch(depth + 1, made, cost + price, cache)?;
            made.pop();
        }
        self.branch(depth + 1, made, cost, cache)
    }
}

fn weight(envelope: &Envelope) -> f64 {
    envelope.links.values().flat_map(|(least, _)| least).map(|d| -d).sum::<f64>()
        + envelope.quieter.values().sum::<f64>() * BANDS as f64
        + envelope.absorption.values().flat_map(|a| a.iter()).map(|f| 10.0 * f.log10()).sum::<f64>()
}

/// Best that the options of one element can do to each link, room and source.
fn envelope(
    building: &Building,
    base: &Model,
    options: &[usize],
    cache: &mut Cache,
) -> Result<Envelope, RemedyError> {
    let mut out = Envelope::default();
    for &option in options {
        let changed = apply(building, &[option]);
        let model = assemble(&changed, cache)?;
        for link in &base.links {
            let after = model.links.iter().find(|l| l.id == link.id);
            let entry = out.links.entry(link.id.clone()).or_insert(([0.0; BANDS], [0.0; BANDS]));
            for b in 0..BANDS {
                let coupling = after.map_or(0.0, |l| l.coupling[b]);
                let db = if link.coupling[b] <= 0.0 {
                    0.0
                } else if coupling <= 0.0 {
                    // A closed leak: as good as gone.
                    -300.0
                } else {
                    10.0 * (coupling / link.coupling[b]).log10()
                };
                entry.0[b] = entry.0[b].min(db);
                entry.1[b] = entry.1[b].max(db);
            }
        }
        for room in 0..base.rooms {
            let entry = out.absorption.entry(room).or_insert([1.0; BANDS]);
            for b in 0..BANDS {
                entry[b] = entry[b].max(model.absorption[room][b] / base.absorption[room][b]);
            }
        }
        for (before, after) in building.sources.iter().zip(&changed.sources) {
            let by = before
                .levels
                .zip_with(&after.levels, |a, b| (a - b).0)
                .iter()
                .map(|(_, d)| d)
                .fold(0.0f64, f64::max);
            let entry = out.quieter.entry(before.room.0).or_insert(0.0);
            *entry = entry.max(by);
        }
    }
    out.links
        .retain(|_, (least, most)| least.iter().any(|d| *d < 0.0) || most.iter().any(|d| *d > 0.0));
    Ok(out)
}

/// Both envelopes at once: changes of different elements add in decibels.
fn join(a: &Envelope, b: &Envelope) -> Envelope {
    let mut out = a.clone();
    for (id, (least, most)) in &b.links {
        let entry = out.links.entry(id.clone()).or_insert(([0.0; BANDS], [0.0; BANDS]));
        for i in 0..BANDS {
            entry.0[i] += least[i];
            entry.1[i] += most[i];
        }
    }
    for (room, factor) in &b.absorption {
        let entry = out.absorption.entry(*room).or_insert([1.0; BANDS]);
        for i in 0..BANDS {
            entry[i] *= factor[i];
        }
    }
    for (room, by) in &b.quieter {
        *out.quieter.entry(*room).or_insert(0.0) += by;
    }
    out
}

/// What no set of the open choices can surpass.
fn optimistic(building: &Building, model: &Model, open: &Envelope) -> Outcome {
    let mut least = model.clone();
    let mut losses = model.clone();
    for (low, high) in least.links.iter_mut().zip(&mut losses.links) {
        if let Some((down, up)) = open.links.get(&low.id) {
            for b in 0..BANDS {
                low.coupling[b] *= 10f64.powf(down[b].min(0.0) / 10.0);
                high.coupling[b] *= 10f64.powf(up[b].max(0.0) / 10.0);
            }
        }
    }
    for (room, factor) in &open.absorption {
        for b in 0..BANDS {
            losses.absorption[*room][b] *= factor[b];
        }
    }
    let mut judged = Vec::new();
    for (source, sound) in building.sources.iter().enumerate() {
        let by = open.quieter.get(&sound.room.0).copied().unwrap_or(0.0);
        for (index, target) in building.targets.iter().enumerate() {
            if target.room == sound.room {
                continue;
            }
            let energies = least.least_energies(&losses, sound.room, &[target.room]);
            let Some(energy) = energies.first() else { continue };
            let difference = difference(energy);
            let levels = sound.levels.zip_with(&difference, |l, d| l - d - LevelDifference(by));
            if levels.is_empty() {
                continue;
            }
            let decay = decay(building, target.room);
            let arrival = Arrival {
                from: sound.room,
                levels: &levels,
                difference: &difference,
                deviation: &Spectrum::empty(),
                decay: &decay,
                background: building.rooms[target.room.0].background.as_ref(),
            };
            let assessment = assess(target, &arrival, false);
            judged.push(Judged { target: index, source, assessment, level_a: None });
        }
    }
    Outcome { judged }
}
