//! From measured differences to what is wrong.
//!
//! The measurement y of all pairs, states and bands is
//!
//! ```text
//! y = f(u, δ, α) + noise
//! ```
//!
//! with u the sizes of the causes that are present (standard normal), δ the model's own error of
//! each group of links (smooth over bands, with the standard deviation the prediction states) and
//! α the error of each room's absorption. For a given set of causes the most probable values come
//! from a Gauss–Newton iteration in the space of the data, and the probability of the set from the
//! Laplace approximation of its evidence. Sets are searched by adding, taking away and exchanging
//! one cause at a time; a cause's probability is the weight of all sets visited that hold it.
//!
//! Derived here from standard Gaussian algebra; checked in `tests/laws` by simulation.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::{Action, Building, OWN_VARIANCE, RoomIndex};
use wythe_transmission::{BANDS, Cache, Model, PerBand, Transfer, TransmissionError, assemble};

use crate::cause::{self, Cause, Effect};
use crate::evidence::{NearSurface, Trial};
use crate::next_test::same_element;

/// Correlation length of the model's error over bands, in thirds: errors of a wall's prediction
/// rise and fall over about an octave (seen in the residuals on the published record).
const CORRELATION_THIRDS: f64 = 3.0;
/// Most causes held at once; a seventh has never been told apart in simulation.
const MOST_CAUSES: usize = 6;
/// Largest Gauss–Newton step in a size, in prior standard deviations: further and the grid's slope
/// says nothing.
const MOST_STEP: f64 = 1.0;
const ITERATIONS: usize = 24;
/// A step is halved at most so often: a thousandth of it changes nothing that could be measured.
const MOST_HALVINGS: usize = 10;
/// A place is settled where the linear model promises no more than this, in twice the logarithm
/// of probability: a hundredth of what a cause needs to be believed.
const SETTLED: f64 = 0.05;
/// A cause that cannot change a measured difference by this much, dB, is not seen: a fifth of the
/// least uncertainty any measurement is given.
const UNSEEN_DB: f64 = 0.1;
/// A cause stands in for another when its set weighs at least this against the best one.
const RIVAL: f64 = 0.1;
/// Sets that get a full fit after a first look at all of them.
const CLOSER_LOOKS: usize = 6;
/// Sets beside the best one whose neighbours are looked at too.
const BESIDE: usize = 2;
/// A set this far below the best one, in logarithms of probability, weighs a fiftieth of it.
const FAR: f64 = 4.0;
/// More than this, in logarithms of evidence, and the data speak for a cause.
const SPEAKS: f64 = 0.5;
const DB: f64 = 10.0 * std::f64::consts::LOG10_E;

/// What the data say about one cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The cause.
    pub cause: Cause,
    /// Probability that it is present.
    pub probability: f64,
    /// Most probable size when present, in the cause's unit.
    pub size: f64,
    /// 90 % interval of the size when present.
    pub interval_90: (f64, f64),
    /// Largest change it makes to a measured pair, dB, in any band.
    pub effect_db: f64,
    /// What it takes from the level difference of each trial, dB per band that was measured.
    pub effects: Vec<Spectrum<LevelDifference>>,
    /// Bands in which it changes a measured pair by 1 dB or more.
    pub bands: Vec<Band>,
    /// Causes that explain the data nearly as well in its place, by position in the list of
    /// causes.
    pub rivals: Vec<usize>,
}

/// The outcome of an inference.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// Findings, most probable first, those below 1 in 20 left out.
    pub findings: Vec<Finding>,
    /// All causes that were asked about.
    pub causes: Vec<Cause>,
    /// Probability of each cause.
    pub probability: Vec<f64>,
    /// Difference predicted before the evidence, per trial and band, dB.
    pub before: Vec<PerBand>,
    /// Difference after it.
    pub after: Vec<PerBand>,
    /// Couplings after the evidence, one model per trial.
    pub models: Vec<Model>,
    /// Couplings before it, one model per trial.
    pub models_before: Vec<Model>,
    /// What each room's absorption is, as far as the data say.
    pub rooms: Vec<RoomFinding>,
    /// The sets of causes that explain the data best, with their weights, which add up to one.
    pub hypotheses: Vec<Hypothesis>,
    /// Root mean square of what stays unexplained, in units of its standard uncertainty.
    pub misfit: f64,
    /// Sets of causes, each standing for all that hold it and any of the others.
    parts: Vec<Part>,
}

impl Posterior {
    /// Probability that at least one of some causes is present, by position in
    /// [`Posterior::causes`]: what is certain of a door although it is not certain of its edges.
    pub fn any(&self, causes: &[usize]) -> f64 {
        let total: f64 = self.parts.iter().map(|p| p.mass).sum();
        let held: f64 = self
            .parts
            .iter()
            .map(|p| {
                if causes.iter().any(|c| p.set.contains(c)) {
                    return p.mass;
                }
                let none: f64 = causes.iter().map(|&c| 1.0 / (1.0 + p.beside[c])).product();
                p.mass * (1.0 - none)
            })
            .sum();
        if total > 0.0 { (held / total).clamp(0.0, 1.0) } else { 0.0 }
    }

    /// The same before anything was measured.
    pub fn any_before(&self, causes: &[usize]) -> f64 {
        1.0 - causes.iter().map(|&c| 1.0 - self.causes[c].prior).product::<f64>()
    }
}

/// A set of causes that stands for all sets that hold it and any of the others.
#[derive(Clone, Debug)]
struct Part {
    set: Vec<usize>,
    /// Odds of each other cause, given the set.
    beside: Vec<f64>,
    /// Probability of everything it stands for, up to a factor common to all.
    mass: f64,
}

/// How much a room absorbs against its description.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoomFinding {
    /// The room.
    pub room: RoomIndex,
    /// 10 lg of absorption over described absorption, dB.
    pub more_db: f64,
    /// 90 % interval of it.
    pub interval_90: (f64, f64),
    /// Probability that it is off by 1 dB or more, a quarter of the absorption.
    pub probability: f64,
}

/// One explanation of everything measured.
#[derive(Clone, Debug)]
pub struct Hypothesis {
    /// Its weight among those kept.
    pub weight: f64,
    /// Causes it holds, by position in [`Posterior::causes`], and their sizes.
    pub causes: Vec<(usize, f64)>,
    /// Couplings of the building under it, one model per trial.
    pub models: Vec<Model>,
}

/// Explanations kept for the choice of the next test: beyond this they weigh nothing.
const MOST_HYPOTHESES: usize = 8;

/// Everything fixed during the search.
struct Problem {
    causes: Vec<Cause>,
    states: Vec<StateModel>,
    /// Data in a row: state, source's place in the state, receiver's place, band, value,
    /// standard deviation, whether a lower bound.
    data: Vec<Datum>,
    trials: usize,
    groups: usize,
    /// Standard deviation of each group's error per band.
    deviations: Vec<PerBand>,
    /// Correlation of errors between bands.
    correlation: Vec<PerBand>,
    rooms: usize,
}

/// Probabilities of the causes and the sets they come from.
struct Weights {
    probability: Vec<f64>,
    /// Per cause: its size in each set that holds it.
    sizes: Vec<Vec<SizeIs>>,
    parts: Vec<Part>,
    alternatives: Vec<Fit>,
    /// Per cause of the best set, and per cause that stands in for one of it: the others of the
    /// same place.
    rivals: Vec<Vec<usize>>,
}

/// A set without its member at a place.
fn but(set: &[usize], place: usize) -> Vec<usize> {
    set.iter().enumerate().filter(|(i, _)| *i != place).map(|(_, &c)| c).collect()
}

/// A set and one more cause, in order.
fn and(set: &[usize], cause: usize) -> Vec<usize> {
    let mut out = set.to_vec();
    out.insert(out.partition_point(|&k| k < cause), cause);
    out
}

/// Full fits that were made.
#[derive(Default)]
struct Settled {
    fits: BTreeMap<Vec<usize>, Fit>,
    /// Sets whose neighbours may be worth a look: each of their causes is spoken for.
    worth: BTreeSet<Vec<usize>>,
}

impl Settled {
    /// Keeps the better of two fits of one set, and gives it back.
    fn keep(&mut self, fit: Fit) -> Fit {
        match self.fits.get(&fit.set) {
            Some(known) if !(fit.score > known.score) => known.clone(),
            _ => {
                self.fits.insert(fit.set.clone(), fit.clone());
                fit
            }
        }
    }
}

/// A set of causes and everything one step away from it.
struct Around {
    fit: Fit,
    /// Without each of its causes.
    without: Vec<Fit>,
    /// With each other cause.
    more: Vec<(usize, Fit)>,
    /// With each other cause in place of each of its own.
    exchanged: Vec<Vec<(usize, Fit)>>,
}

struct StateModel {
    model: Model,
    /// Groups of each link with their weights: the error of its kind and its own.
    members: Vec<Vec<(usize, f64)>>,
    effects: Vec<Option<Effect>>,
    sources: Vec<(RoomIndex, Vec<RoomIndex>)>,
}

struct Datum {
    trial: usize,
    state: usize,
    source: usize,
    receiver: usize,
    band: usize,
    value: f64,
    deviation: f64,
    at_least: bool,
    near: Option<NearDatum>,
}

/// What a microphone close to a surface hears beside its room.
#[derive(Clone)]
struct NearDatum {
    /// Links through the surface.
    links: Vec<usize>,
    /// Its area, m².
    area: f64,
    /// Place of the room behind it among the state's receivers; `None` where that is the source
    /// room.
    behind: Option<usize>,
}

/// A fit for one set of causes.
#[derive(Clone)]
struct Fit {
    set: Vec<usize>,
    sizes: Vec<f64>,
    size_deviation: Vec<f64>,
    groups: Vec<PerBand>,
    absorption: Vec<f64>,
    score: f64,
    predicted: Vec<f64>,
    /// What was solved last: by state, source and receiver.
    transfers: Rc<Solved>,
}

/// A Gauss–Newton step and the part of it that is taken.
struct Step {
    part: f64,
    sizes: Vec<f64>,
    groups: Vec<PerBand>,
    absorption: Vec<f64>,
}

impl Step {
    fn take(&self, fit: &mut Fit) {
        for (old, by) in fit.sizes.iter_mut().zip(&self.sizes) {
            *old = (*old + self.part * by).clamp(-4.0, 4.0);
        }
        for (old, by) in fit.groups.iter_mut().flatten().zip(self.groups.iter().flatten()) {
            *old += self.part * by;
        }
        for (old, by) in fit.absorption.iter_mut().zip(&self.absorption) {
            *old += self.part * by;
        }
    }
}

#[derive(Default)]
struct Solved {
    /// By state, source and receiver.
    transfers: Vec<Vec<Vec<Transfer>>>,
    /// Couplings by state and link.
    couplings: Vec<Vec<PerBand>>,
}

impl Solved {
    fn at(&self, d: &Datum) -> Option<&Transfer> {
        self.transfers.get(d.state)?.get(d.source)?.get(d.receiver)
    }

    /// Mean-square pressure behind the surface of a near microphone, and its transfer.
    fn behind<'a>(&'a self, d: &Datum, near: &NearDatum) -> (f64, Option<&'a Transfer>) {
        match near.behind {
            None => (1.0, None),
            Some(place) => {
                let t = &self.transfers[d.state][d.source][place];
                (t.energy[d.band], Some(t))
            }
        }
    }

    /// What came straight through the surface, by link.
    fn through(&self, d: &Datum, near: &NearDatum) -> Vec<(usize, f64)> {
        let (x, _) = self.behind(d, near);
        let part = |l: &usize| 0.5 * self.couplings[d.state][*l][d.band] / near.area * x;
        near.links.iter().map(|l| (*l, part(l))).collect()
    }

    /// Mean-square pressure at the microphone.
    fn energy(&self, d: &Datum) -> f64 {
        let room = self.at(d).map_or(0.0, |t| t.energy[d.band]);
        match &d.near {
            None => room,
            Some(near) => room + self.through(d, near).iter().map(|(_, x)| x).sum::<f64>(),
        }
    }
}

/// Mean-square pressure per band at the microphone of a trial in a model, the source room at one.
pub(crate) fn energy_at(building: &Building, model: &Model, trial: &Trial) -> PerBand {
    let [room, behind] = [trial.receiver, behind(building, trial)];
    let found = model.transfers(trial.source, &[room, behind]);
    let energy = |i: usize| found.get(i).map_or([0.0; BANDS], |t| t.energy);
    let (mut out, mut x) = (energy(0), energy(1));
    if behind == trial.source {
        x = [1.0; BANDS];
    }
    if let Some(near) = &trial.near {
        let (links, area) = surface(building, model, near);
        for b in 0..BANDS {
            let g: f64 = links.iter().map(|&l| model.links[l].coupling[b]).sum();
            out[b] += 0.5 * g / area * x[b];
        }
    }
    out
}

/// The room on the other side of the surface a trial's microphone is at; its own room where there
/// is none.
fn behind(building: &Building, trial: &Trial) -> RoomIndex {
    trial
        .near
        .as_ref()
        .and_then(|n| building.boundaries.get(n.boundary.0)?.beyond(trial.receiver))
        .unwrap_or(trial.receiver)
}

/// Links through a surface, and its area, m².
fn surface(building: &Building, model: &Model, near: &NearSurface) -> (Vec<usize>, f64) {
    let boundary = building.boundaries.get(near.boundary.0);
    let opening = near.opening.as_ref();
    let area = match (boundary, opening) {
        (Some(b), Some(id)) => {
            b.openings.iter().find(|o| &o.id == id).map_or(0.0, |o| o.width.0 * o.height.0)
        }
        (Some(b), None) => b.net_area().0,
        (None, _) => 0.0,
    };
    let links = model
        .links
        .iter()
        .enumerate()
        .filter(|(_, l)| match (boundary, opening) {
            (_, Some(id)) => l.id.strip_prefix(id.as_str()).is_some_and(|r| r.starts_with(' ')),
            (Some(b), None) => l.id == b.id,
            (None, None) => false,
        })
        .map(|(i, _)| i)
        .collect();
    (links, area.max(1e-3))
}

/// Infers what is wrong from measured differences.
///
/// # Errors
/// [`TransmissionError`] when the building cannot be put together.
pub fn infer(
    building: &Building,
    trials: &[Trial],
    cache: &mut Cache,
) -> Result<Posterior, TransmissionError> {
    let problem = Problem::new(building, trials, cache)?;
    let none = problem.fit(&[], None, 0.0, ITERATIONS);
    let before_models: Vec<Model> = problem.states.iter().map(|s| s.model.clone()).collect();
    let known = problem.search(none);
    let weights = problem.weigh(&known);
    let best = known
        .into_iter()
        .map(|k| k.fit)
        .max_by(|a, b| a.score.total_cmp(&b.score))
        .unwrap_or_else(|| problem.fit(&[], None, 0.0, ITERATIONS));
    let probability = weights.probability;
    let mut findings: Vec<Finding> = (0..problem.causes.len())
        .filter(|&c| probability[c] >= 0.05)
        .filter_map(|c| {
            let holds = |f: &&Fit| f.set.contains(&c);
            let fit = weights
                .alternatives
                .iter()
                .filter(holds)
                .max_by(|a, b| a.score.total_cmp(&b.score))?;
            let here = SizeIs {
                weight: 1e-9,
                mean: fit.set.iter().position(|&k| k == c).map_or(0.0, |i| fit.sizes[i]),
                deviation: 1.0,
            };
            let mut sizes = weights.sizes[c].clone();
            sizes.push(here);
            Some(problem.finding(c, probability[c], fit, &sizes, weights.rivals[c].clone()))
        })
        .collect();
    findings.sort_by(|a, b| {
        b.probability.total_cmp(&a.probability).then(b.effect_db.total_cmp(&a.effect_db))
    });
    let after_models = problem.models(&best);
    let mut before = Vec::new();
    let mut after = Vec::new();
    let mut models = Vec::new();
    let mut models_before = Vec::new();
    let names = state_names(trials);
    for trial in trials {
        let state = names.iter().position(|n| *n == trial.state).unwrap_or(0);
        let difference = |model: &Model| {
            energy_at(building, model, trial)
                .map(|x| if x > 0.0 { -10.0 * x.log10() } else { f64::NAN })
        };
        before.push(difference(&before_models[state]));
        after.push(difference(&after_models[state]));
        models.push(after_models[state].clone());
        models_before.push(before_models[state].clone());
    }
    let rooms = problem.room_findings(&best);
    let hypotheses = problem.hypotheses(&weights.alternatives, trials, &names);
    let n = problem.data.len().max(1) as f64;
    let misfit = (problem
        .data
        .iter()
        .zip(&best.predicted)
        .map(|(d, p)| {
            let r = (d.value - p) / d.deviation;
            if d.at_least && r < 0.0 { 0.0 } else { r * r }
        })
        .sum::<f64>()
        / n)
        .sqrt();
    Ok(Posterior {
        findings,
        causes: problem.causes,
        probability,
        before,
        after,
        models,
        models_before,
        rooms,
        hypotheses,
        misfit,
        parts: weights.parts,
    })
}

/// The states that occur, in order of appearance.
fn state_names(trials: &[Trial]) -> Vec<Option<String>> {
    let mut names: Vec<Option<String>> = Vec::new();
    for trial in trials {
        if !names.contains(&trial.state) {
            names.push(trial.state.clone());
        }
    }
    names
}

impl Problem {
    fn new(
        building: &Building,
        trials: &[Trial],
        cache: &mut Cache,
    ) -> Result<Problem, TransmissionError> {
        let causes = cause::causes(building);
        let names = state_names(trials);
        let mut states = Vec::new();
        let mut data = Vec::new();
        let mut group_names: Vec<String> = Vec::new();
        for (state, name) in names.iter().enumerate() {
            let plain = match name {
                Some(name) => building.in_state(name).unwrap_or_else(|| building.clone()),
                None => building.clone(),
            };
            let jointed = cause::with_dormant_ways(&plain);
            let model = assemble(&jointed, cache)?;
            let made: Vec<&Action> = building
                .states
                .iter()
                .filter(|s| Some(&s.name) == name.as_ref())
                .flat_map(|s| &s.made)
                .filter_map(|id| building.changes.iter().find(|c| &c.id == id))
                .flat_map(|c| &c.actions)
                .collect();
            // A taped door has links another state has not: groups go by name.
            let mut named = |name: &str| {
                group_names.iter().position(|g| g == name).unwrap_or_else(|| {
                    group_names.push(name.to_owned());
                    group_names.len() - 1
                })
            };
            let members: Vec<Vec<(usize, f64)>> = model
                .links
                .iter()
                .map(|link| {
                    let kind = named(&model.groups[link.group]);
                    let own = named(&format!("link {}", link.id));
                    vec![(kind, (1.0 - OWN_VARIANCE).sqrt()), (own, OWN_VARIANCE.sqrt())]
                })
                .collect();
            let mut effects = Vec::with_capacity(causes.len());
            for cause in &causes {
                let effect = Effect::compute(cause, &jointed, &made, &model, cache)?;
                effects.push((!effect.links.is_empty()).then_some(effect));
            }
            let mut sources: Vec<(RoomIndex, Vec<RoomIndex>)> = Vec::new();
            for (number, trial) in trials.iter().enumerate().filter(|(_, t)| t.state == *name) {
                let source = match sources.iter().position(|(r, _)| *r == trial.source) {
                    Some(s) => s,
                    None => {
                        sources.push((trial.source, Vec::new()));
                        sources.len() - 1
                    }
                };
                let receivers = &mut sources[source].1;
                let mut place = |room: RoomIndex| {
                    receivers.iter().position(|r| *r == room).unwrap_or_else(|| {
                        receivers.push(room);
                        receivers.len() - 1
                    })
                };
                let receiver = place(trial.receiver);
                let near = trial.near.as_ref().map(|n| {
                    let (links, area) = surface(&plain, &model, n);
                    let behind = behind(&plain, trial);
                    let behind = (behind != trial.source).then(|| place(behind));
                    NearDatum { links, area, behind }
                });
                for (band, observed) in trial.bands.iter() {
                    let b = band.index();
                    if b >= BANDS
                        || !observed.difference.0.is_finite()
                        || !(observed.deviation.0 > 0.0)
                    {
                        continue;
                    }
                    // What few modes do to a level is noise of this measurement.
                    let modal = model.modal[trial.source.0][b].powi(2)
                        + model.modal[trial.receiver.0][b].powi(2);
                    data.push(Datum {
                        trial: number,
                        state,
                        source,
                        receiver,
                        band: b,
                        value: observed.difference.0,
                        deviation: (observed.deviation.0.powi(2) + modal).sqrt(),
                        at_least: observed.at_least,
                        near: near.clone(),
                    });
                }
            }
            states.push(StateModel { model, members, effects, sources });
        }
        let groups = group_names.len();
        let mut deviations = vec![[0.0; BANDS]; groups];
        for state in &states {
            for (link, members) in state.model.links.iter().zip(&state.members) {
                for &(group, _) in members {
                    // Links of one group agree but for their area; the first met stands for all.
                    if deviations[group].iter().all(|d| *d == 0.0) {
                        deviations[group] = link.deviation;
                    }
                }
            }
        }
        let correlation = (0..BANDS)
            .map(|b| std::array::from_fn(|c| (-(b.abs_diff(c) as f64) / CORRELATION_THIRDS).exp()))
            .collect();
        let rooms = building.rooms.len();
        let trials = trials.len();
        Ok(Problem { causes, states, data, trials, groups, deviations, correlation, rooms })
    }

    /// The models with everything found put in.
    fn models(&self, fit: &Fit) -> Vec<Model> {
        self.states
            .iter()
            .map(|state| {
                let mut model = state.model.clone();
                for (index, link) in model.links.iter_mut().enumerate() {
                    let mut db = [0.0; BANDS];
                    for &(group, weight) in &state.members[index] {
                        for (d, e) in db.iter_mut().zip(&fit.groups[group]) {
                            *d += weight * e;
                        }
                    }
                    for (&c, &u) in fit.set.iter().zip(&fit.sizes) {
                        let Some(effect) = &state.effects[c] else { continue };
                        for (_, table) in effect.links.iter().filter(|(i, _)| *i == index) {
                            let (value, _) = effect.at(table, u);
                            for (d, v) in db.iter_mut().zip(value) {
                                *d += v;
                            }
                        }
                    }
                    for (g, d) in link.coupling.iter_mut().zip(db) {
                        *g *= 10f64.powf(d / 10.0);
                    }
                }
                for (room, areas) in model.absorption.iter_mut().enumerate() {
                    let factor = fit.absorption.get(room).copied().unwrap_or(0.0);
                    for a in areas {
                        *a *= 10f64.powf(factor / 10.0);
                    }
                }
                model
            })
            .collect()
    }

    fn transfers(&self, models: &[Model]) -> Solved {
        let near = self.data.iter().any(|d| d.near.is_some());
        Solved {
            transfers: models
                .iter()
                .zip(&self.states)
                .map(|(model, state)| {
                    state.sources.iter().map(|(s, r)| model.transfers(*s, r)).collect()
                })
                .collect(),
            // Only microphones close to a surface ask for them.
            couplings: if near {
                models.iter().map(|m| m.links.iter().map(|l| l.coupling).collect()).collect()
            } else {
                Vec::new()
            },
        }
    }

    /// Most probable values for one set of causes, starting where another fit stood. With one
    /// iteration the evidence is that of the model made linear at the start: good enough to see
    /// which causes are worth a closer look. With more, a step that makes the fit worse is halved
    /// until it does not, and the evidence is that of the place reached: a step too long would
    /// otherwise be credited with what the linear model promised there.
    fn fit(&self, set: &[usize], start: Option<&Fit>, new_size: f64, iterations: usize) -> Fit {
        let known =
            |c: &usize| start.and_then(|s| s.set.iter().position(|k| k == c).map(|i| s.sizes[i]));
        let mut fit = Fit {
            set: set.to_vec(),
            sizes: set.iter().map(|c| known(c).unwrap_or(new_size)).collect(),
            size_deviation: vec![1.0; set.len()],
            groups: start.map_or_else(|| vec![[0.0; BANDS]; self.groups], |s| s.groups.clone()),
            absorption: start.map_or_else(|| vec![0.0; self.rooms], |s| s.absorption.clone()),
            score: f64::NEG_INFINITY,
            predicted: vec![f64::NAN; self.data.len()],
            transfers: Rc::default(),
        };
        let odds: f64 =
            set.iter().map(|&c| (self.causes[c].prior / (1.0 - self.causes[c].prior)).ln()).sum();
        // The best place so far with its cost, and the step that was taken from it.
        let mut stood: Option<(f64, Fit, Step)> = None;
        let mut halved = 0;
        for iteration in 0..iterations {
            fit.transfers = Rc::new(self.transfers(&self.models(&fit)));
            let rows = self.rows(&fit, &fit.transfers);
            fit.predicted = rows.iter().map(|r| r.predicted).collect();
            let cost = self.cost(&fit);
            if let Some((least, from, step)) = &mut stood
                && cost > *least + 1e-9
            {
                if halved == MOST_HALVINGS {
                    break;
                }
                halved += 1;
                step.part *= 0.5;
                let mut nearer = from.clone();
                step.take(&mut nearer);
                fit = nearer;
                continue;
            }
            halved = 0;
            let active: Vec<usize> = (0..self.data.len())
                .filter(|&k| {
                    rows[k].predicted.is_finite()
                        && !(self.data[k].at_least && rows[k].predicted > self.data[k].value)
                })
                .collect();
            let Some(system) = self.system(&rows, &active, set.len()) else { break };
            let residual = self.residual(&rows, &active, &fit);
            let w = system.solve(&residual);
            // A bound that is broken counts by how far, without a density's constant: one that
            // holds counts nothing.
            let bounds: f64 = active
                .iter()
                .filter(|&&k| self.data[k].at_least)
                .map(|&k| self.data[k].deviation.ln())
                .sum();
            // What the linear model could still reach from here.
            let least = residual.dot(&w);
            let reached = if iterations == 1 { least } else { cost };
            fit.score = -0.5 * (reached + system.log_det) + bounds + odds;
            fit.size_deviation = system.size_deviation(&rows, &active, set.len());
            if cost - least < SETTLED || iteration + 1 == iterations {
                return fit;
            }
            let mut step = Step {
                part: 1.0,
                sizes: (0..set.len())
                    .map(|i| {
                        let new: f64 =
                            active.iter().zip(w.iter()).map(|(&k, w)| rows[k].sizes[i] * w).sum();
                        new - fit.sizes[i]
                    })
                    .collect(),
                groups: (0..self.groups)
                    .map(|g| {
                        let value = self.group_step(g, &rows, &active, &w);
                        std::array::from_fn(|b| value[b] - fit.groups[g][b])
                    })
                    .collect(),
                absorption: (0..self.rooms)
                    .map(|r| {
                        let variance = self.absorption_deviation(r).powi(2);
                        let sum: f64 = active
                            .iter()
                            .zip(w.iter())
                            .map(|(&k, w)| rows[k].absorption[r] * w)
                            .sum();
                        variance * sum - fit.absorption[r]
                    })
                    .collect(),
            };
            let largest = step.sizes.iter().map(|s| s.abs()).fold(0.0f64, f64::max);
            step.part = if largest > MOST_STEP { MOST_STEP / largest } else { 1.0 };
            let from = fit.clone();
            step.take(&mut fit);
            stood = Some((cost, from, step));
        }
        // Ended on a step that was worse than where it came from.
        match stood {
            Some((_, from, _)) => from,
            None => fit,
        }
    }

    /// Twice the negative logarithm of the probability of a place, constants left out: the
    /// misfit and how far sizes, errors and absorptions are from where they are expected.
    fn cost(&self, fit: &Fit) -> f64 {
        let data: f64 = self
            .data
            .iter()
            .zip(&fit.predicted)
            .filter(|(d, p)| p.is_finite() && !(d.at_least && **p > d.value))
            .map(|(d, p)| ((d.value - p) / d.deviation).powi(2))
            .sum();
        let sizes: f64 = fit.sizes.iter().map(|u| u * u).sum();
        let absorption: f64 = fit
            .absorption
            .iter()
            .enumerate()
            .map(|(r, a)| (a / self.absorption_deviation(r)).powi(2))
            .sum();
        // Correlation exp(−Δ/κ) over the bands is that of a chain in which each band hangs on the
        // one before it.
        let rho = (-1.0 / CORRELATION_THIRDS).exp();
        let chain = |values: &PerBand, own: &PerBand| -> f64 {
            let z = |b: usize| if own[b] > 0.0 { values[b] / own[b] } else { 0.0 };
            z(0).powi(2)
                + (1..BANDS).map(|b| (z(b) - rho * z(b - 1)).powi(2)).sum::<f64>()
                    / (1.0 - rho * rho)
        };
        let groups: f64 =
            fit.groups.iter().zip(&self.deviations).map(|(v, own)| chain(v, own)).sum();
        data + sizes + absorption + groups
    }

    fn absorption_deviation(&self, room: usize) -> f64 {
        self.states
            .first()
            .and_then(|s| s.model.absorption_spread.get(room))
            .map_or(0.1, |s| s * DB)
            .max(1e-3)
    }

    fn rows(&self, fit: &Fit, transfers: &Solved) -> Vec<Row> {
        self.data
            .iter()
            .map(|d| {
                let state = &self.states[d.state];
                let b = d.band;
                let x = transfers.energy(d);
                let Some(t) = transfers.at(d).filter(|_| x > 0.0) else {
                    return Row::silent(self.rooms, fit.set.len());
                };
                let (slopes, absorption) = self.slopes(d, t, transfers, x);
                let mut groups: Vec<(usize, f64, f64)> = Vec::new();
                let mut sizes = vec![0.0; fit.set.len()];
                for (link, eta) in slopes {
                    if eta.abs() < 1e-9 {
                        continue;
                    }
                    for &(group, weight) in &state.members[link] {
                        match groups.iter_mut().find(|(g, _, _)| *g == group) {
                            Some((_, sum, _)) => *sum -= weight * eta,
                            None => groups.push((group, -weight * eta, self.deviations[group][b])),
                        }
                    }
                    for (i, (&c, &u)) in fit.set.iter().zip(&fit.sizes).enumerate() {
                        let Some(effect) = &state.effects[c] else { continue };
                        for (_, table) in effect.links.iter().filter(|(k, _)| *k == link) {
                            sizes[i] -= eta * effect.at(table, u).1[b];
                        }
                    }
                }
                Row { predicted: -10.0 * x.log10(), groups, sizes, absorption }
            })
            .collect()
    }

    /// How the level at a datum's microphone follows each link and, in decibels of difference,
    /// each room's absorption.
    fn slopes(
        &self,
        d: &Datum,
        t: &Transfer,
        solved: &Solved,
        x: f64,
    ) -> (Vec<(usize, f64)>, Vec<f64>) {
        let b = d.band;
        let room: Vec<(usize, f64)> = t.links.iter().map(|l| (l.link, l.per_band[b])).collect();
        let mut absorption: Vec<f64> = t.absorption.iter().map(|a| -a[b]).collect();
        let Some(near) = &d.near else { return (room, absorption) };
        // x = x_room + Σ x_l: the mean of the parts' slopes, weighted by what they carry.
        let of_room = t.energy[b] / x;
        let through = solved.through(d, near);
        let straight = through.iter().map(|(_, v)| v).sum::<f64>() / x;
        let mut slopes: std::collections::BTreeMap<usize, f64> = std::collections::BTreeMap::new();
        for (link, eta) in room {
            *slopes.entry(link).or_insert(0.0) += of_room * eta;
        }
        for (link, part) in &through {
            *slopes.entry(*link).or_insert(0.0) += part / x;
        }
        absorption.iter_mut().for_each(|a| *a *= of_room);
        if let (_, Some(behind)) = solved.behind(d, near) {
            for l in &behind.links {
                *slopes.entry(l.link).or_insert(0.0) += straight * l.per_band[b];
            }
            for (a, other) in absorption.iter_mut().zip(&behind.absorption) {
                *a -= straight * other[b];
            }
        }
        (slopes.into_iter().collect(), absorption)
    }

    /// What the data say about each room's absorption at the best explanation: the Gaussian
    /// posterior of the linearised model there.
    fn room_findings(&self, best: &Fit) -> Vec<RoomFinding> {
        if self.data.is_empty() || best.transfers.transfers.is_empty() {
            return Vec::new();
        }
        let rows = self.rows(best, &best.transfers);
        let active: Vec<usize> = (0..self.data.len())
            .filter(|&k| {
                rows[k].predicted.is_finite()
                    && !(self.data[k].at_least && rows[k].predicted > self.data[k].value)
            })
            .collect();
        let Some(system) = self.system(&rows, &active, best.set.len()) else { return Vec::new() };
        (0..self.rooms)
            .filter_map(|r| {
                let h: Vec<f64> = active.iter().map(|&k| rows[k].absorption[r]).collect();
                if h.iter().all(|v| v.abs() < 1e-3) {
                    return None;
                }
                let h = DVector::from_vec(h);
                let prior = self.absorption_deviation(r).powi(2);
                let left = (prior - prior * prior * h.dot(&system.solve(&h))).max(1e-9);
                let sd = left.sqrt();
                let mean = best.absorption[r];
                let beyond = |limit: f64| 1.0 - below((limit - mean) / sd);
                Some(RoomFinding {
                    room: RoomIndex(r),
                    more_db: mean,
                    interval_90: (mean - 1.645 * sd, mean + 1.645 * sd),
                    probability: (beyond(1.0) + 1.0 - beyond(-1.0)).clamp(0.0, 1.0),
                })
            })
            .collect()
    }

    /// The explanations that weigh most, each set of causes once.
    fn hypotheses(
        &self,
        alternatives: &[Fit],
        trials: &[Trial],
        names: &[Option<String>],
    ) -> Vec<Hypothesis> {
        let mut order: Vec<&Fit> = alternatives.iter().filter(|f| f.score.is_finite()).collect();
        order.sort_by(|a, b| b.score.total_cmp(&a.score));
        let mut kept: Vec<&Fit> = Vec::new();
        for fit in order {
            if kept.len() < MOST_HYPOTHESES && !kept.iter().any(|k| k.set == fit.set) {
                kept.push(fit);
            }
        }
        let Some(top) = kept.first().map(|f| f.score) else { return Vec::new() };
        let total: f64 = kept.iter().map(|f| (f.score - top).exp()).sum();
        kept.iter()
            .map(|fit| {
                let by_state = self.models(fit);
                let models = trials
                    .iter()
                    .filter_map(|t| {
                        let state = names.iter().position(|n| *n == t.state)?;
                        by_state.get(state).cloned()
                    })
                    .collect();
                let causes = fit
                    .set
                    .iter()
                    .zip(&fit.sizes)
                    .map(|(&c, &u)| (c, self.causes[c].size(u)))
                    .collect();
                Hypothesis { weight: (fit.score - top).exp() / total, causes, models }
            })
            .collect()
    }

    /// y − f + H z for the active data.
    fn residual(&self, rows: &[Row], active: &[usize], fit: &Fit) -> DVector<f64> {
        DVector::from_iterator(
            active.len(),
            active.iter().map(|&k| {
                let row = &rows[k];
                let b = self.data[k].band;
                let mut hz = 0.0;
                for (g, h, _) in &row.groups {
                    hz += h * fit.groups[*g][b];
                }
                for (h, u) in row.sizes.iter().zip(&fit.sizes) {
                    hz += h * u;
                }
                for (h, a) in row.absorption.iter().zip(&fit.absorption) {
                    hz += h * a;
                }
                self.data[k].value - row.predicted + hz
            }),
        )
    }

    fn system(&self, rows: &[Row], active: &[usize], sizes: usize) -> Option<System> {
        let n = active.len();
        // S = ρ ∘ (W Wᵀ) + U Uᵀ + noise, with W the groups' and U everything else's derivatives
        // scaled by their prior deviations.
        let mut w = DMatrix::<f64>::zeros(n, self.groups);
        let mut u = DMatrix::<f64>::zeros(n, sizes + self.rooms);
        for (i, &k) in active.iter().enumerate() {
            let row = &rows[k];
            for &(g, h, sd) in &row.groups {
                w[(i, g)] = h * sd;
            }
            for (m, h) in row.sizes.iter().enumerate() {
                u[(i, m)] = *h;
            }
            for (r, h) in row.absorption.iter().enumerate() {
                u[(i, sizes + r)] = h * self.absorption_deviation(r);
            }
        }
        let mut s = &w * w.transpose();
        for (i, &k) in active.iter().enumerate() {
            for (j, &l) in active.iter().enumerate() {
                s[(i, j)] *= self.correlation[self.data[k].band][self.data[l].band];
            }
        }
        s += &u * u.transpose();
        for (i, &k) in active.iter().enumerate() {
            s[(i, i)] += self.data[k].deviation.powi(2);
        }
        let factor = Cholesky::new(s)?;
        let log_det = 2.0 * factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        Some(System { factor, log_det })
    }

    /// A group's error from the solved weights. Bands without data move with their neighbours.
    fn group_step(
        &self,
        group: usize,
        rows: &[Row],
        active: &[usize],
        w: &DVector<f64>,
    ) -> PerBand {
        let mut pull = [0.0; BANDS];
        for (&k, w) in active.iter().zip(w.iter()) {
            for (_, h, _) in rows[k].groups.iter().filter(|(g, ..)| *g == group) {
                pull[self.data[k].band] += h * w;
            }
        }
        let own = &self.deviations[group];
        let mut value = [0.0; BANDS];
        for (b, slot) in value.iter_mut().enumerate() {
            let sum: f64 = (0..BANDS).map(|c| self.correlation[b][c] * own[c] * pull[c]).sum();
            *slot = own[b] * sum;
        }
        value
    }

    /// Searches the sets of causes from the likeliest known one on, adding, taking away and
    /// exchanging one cause at a time. What the climb leaves behind is not forgotten: sets nearly
    /// as good as the best have their neighbours looked at too, so that a wrong turn taken early
    /// is found out.
    fn search(&self, start: Fit) -> Vec<Around> {
        let mut settled = Settled::default();
        settled.worth.insert(start.set.clone());
        settled.keep(start);
        let mut known: Vec<Around> = Vec::new();
        let mut beside = 0;
        loop {
            let top = known.iter().map(|k| k.fit.score).fold(f64::NEG_INFINITY, f64::max);
            let next = settled
                .worth
                .iter()
                .filter_map(|set| settled.fits.get(set))
                .filter(|f| f.score.is_finite() && f.set.len() <= MOST_CAUSES)
                .filter(|f| !known.iter().any(|k| k.fit.set == f.set))
                .max_by(|a, b| a.score.total_cmp(&b.score));
            let Some(next) = next else { return known };
            if next.score <= top {
                beside += 1;
                if beside > BESIDE || next.score < top - FAR {
                    return known;
                }
            }
            let next = next.clone();
            known.push(self.around(next, &mut settled));
        }
    }

    /// Looks at every set one step away from a set.
    fn around(&self, fit: Fit, settled: &mut Settled) -> Around {
        let better = |looks: Vec<Fit>| looks.into_iter().max_by(|a, b| a.score.total_cmp(&b.score));
        let without: Vec<Fit> = (0..fit.set.len())
            .map(|i| {
                let set = but(&fit.set, i);
                settled.worth.insert(set.clone());
                settled.keep(self.fit(&set, Some(&fit), 0.0, ITERATIONS))
            })
            .collect();
        let outside: Vec<usize> = (0..self.causes.len()).filter(|c| !fit.set.contains(c)).collect();
        let more: Vec<(usize, Fit)> = outside
            .iter()
            .filter_map(|&c| {
                let look = better(self.look(&fit, c))?;
                if self.reach(&fit, c) < UNSEEN_DB {
                    return Some((c, look));
                }
                Some((c, self.closer(look, settled)))
            })
            .collect();
        let exchanged = (0..fit.set.len())
            .map(|i| {
                // A stand-in is looked at from where the set stands, not from where the rest of it
                // went once the cause was gone: there the errors have bent to make up for it.
                let mut gap = fit.clone();
                gap.set.remove(i);
                gap.sizes.remove(i);
                gap.size_deviation.remove(i);
                let mut looks: Vec<(usize, Fit)> = outside
                    .iter()
                    .filter(|&&c| self.reach(&gap, c) >= UNSEEN_DB)
                    .filter_map(|&c| better(self.look(&gap, c)).map(|l| (c, l)))
                    .collect();
                looks.sort_by(|a, b| b.1.score.total_cmp(&a.1.score));
                // A first look promises more than a full fit keeps; what gets none counts nothing.
                let like = |c: usize| same_element(&self.causes[c], &self.causes[fit.set[i]]);
                looks
                    .into_iter()
                    .enumerate()
                    .filter(|(place, (c, _))| *place < CLOSER_LOOKS || like(*c))
                    .map(|(_, (c, look))| (c, self.closer(look, settled)))
                    .collect()
            })
            .collect();
        for (c, more) in &more {
            if more.score - fit.score - self.odds(*c).ln() > SPEAKS {
                settled.worth.insert(more.set.clone());
            }
        }
        let exchanged: Vec<Vec<(usize, Fit)>> = exchanged;
        for ((c, other), bare) in exchanged
            .iter()
            .zip(&without)
            .flat_map(|(all, bare)| all.iter().map(move |o| (o, bare)))
        {
            if other.score - bare.score - self.odds(*c).ln() > SPEAKS {
                settled.worth.insert(other.set.clone());
            }
        }
        Around { fit, without, more, exchanged }
    }

    /// A first look made a full fit.
    fn closer(&self, look: Fit, settled: &mut Settled) -> Fit {
        match settled.fits.get(&look.set) {
            Some(known) => known.clone(),
            None => settled.keep(self.settle(&look)),
        }
    }

    /// Prior odds of a cause.
    fn odds(&self, c: usize) -> f64 {
        self.causes[c].prior / (1.0 - self.causes[c].prior)
    }

    /// First looks at a set with one more cause, from a small and a large size.
    fn look(&self, base: &Fit, c: usize) -> Vec<Fit> {
        let mut set = base.set.clone();
        let place = set.iter().position(|&k| k > c).unwrap_or(set.len());
        set.insert(place, c);
        if self.reach(base, c) < UNSEEN_DB {
            // Nothing measured would change: the evidence stays, the prior counts.
            let prior = self.causes[c].prior;
            let mut fit = base.clone();
            fit.set = set;
            fit.sizes.insert(place, 0.0);
            fit.size_deviation.insert(place, 1.0);
            fit.score += (prior / (1.0 - prior)).ln();
            return vec![fit];
        }
        let starts: &[f64] = if self.causes[c].log_spread > 0.0 { &[-0.8, 0.8] } else { &[0.0] };
        starts.iter().map(|&u| self.fit(&set, Some(base), u, 1)).collect()
    }

    /// Largest change of any measured difference by a cause of a large size, dB, from the
    /// elasticities of a fit: a link that carries the share η of a level and rises by Δ dB raises
    /// it by 10 lg(1 + η (10^(Δ/10) − 1)).
    fn reach(&self, base: &Fit, c: usize) -> f64 {
        let mut reach = 0.0f64;
        for d in &self.data {
            let Some(effect) = &self.states[d.state].effects[c] else { continue };
            let Some(t) = base.transfers.at(d) else {
                return f64::INFINITY;
            };
            let slopes = match &d.near {
                Some(_) => self.slopes(d, t, &base.transfers, base.transfers.energy(d)).0,
                None => Vec::new(),
            };
            let mut more = 0.0;
            for (link, table) in &effect.links {
                let eta = match &d.near {
                    Some(_) => slopes.iter().find(|(l, _)| l == link).map(|(_, e)| *e),
                    None => t.links.iter().find(|s| s.link == *link).map(|s| s.per_band[d.band]),
                };
                let Some(eta) = eta else { continue };
                let largest = table
                    .iter()
                    .map(|at| at[d.band])
                    .fold(0.0f64, |a, b| if b.abs() > a.abs() { b } else { a });
                more += (eta * (10f64.powf(largest / 10.0) - 1.0)).abs();
            }
            reach = reach.max(10.0 * (1.0 + more).log10());
        }
        reach
    }

    fn settle(&self, look: &Fit) -> Fit {
        if look.set.iter().all(|&c| self.reach(look, c) < UNSEEN_DB) && !look.set.is_empty() {
            return look.clone();
        }
        let fit = self.fit(&look.set, Some(look), 0.0, ITERATIONS);
        if fit.score.is_finite() { fit } else { look.clone() }
    }

    /// Probability of every cause, from the sets looked around and all sets one step away.
    ///
    /// Each of these sets stands for all that hold it and any of the other causes, which are taken
    /// as independent of each other given the set, with the odds that adding one of them to the
    /// set has. A set that another one stands for already counts by what it gains over that.
    fn weigh(&self, known: &[Around]) -> Weights {
        let n = self.causes.len();
        let top = known.iter().map(|k| k.fit.score).fold(f64::NEG_INFINITY, f64::max);
        let weight = |fit: &Fit| if fit.score.is_finite() { (fit.score - top).exp() } else { 0.0 };
        let looked = |set: &[usize]| known.iter().any(|k| k.fit.set == set);
        let mut parts: BTreeMap<Vec<usize>, (f64, Vec<f64>)> = BTreeMap::new();
        let mut rivals: Vec<Vec<usize>> = vec![Vec::new(); n];
        for k in known {
            let own = weight(&k.fit);
            // Causes the data do not speak for stand beside the set independently; a set with one
            // they do speak for stands by itself.
            let mut beside = vec![0.0; n];
            let mut spoken = Vec::new();
            for (c, fit) in &k.more {
                let gain = fit.score - k.fit.score;
                if gain - self.odds(*c).ln() > SPEAKS {
                    spoken.push((*c, fit));
                } else {
                    beside[*c] = gain.exp();
                }
            }
            for (c, fit) in spoken {
                if !looked(&fit.set) {
                    let mut others = beside.clone();
                    others[c] = 0.0;
                    let part = parts.entry(fit.set.clone()).or_insert((0.0, others));
                    part.0 = part.0.max(weight(fit));
                }
            }
            parts.insert(k.fit.set.clone(), (own, beside.clone()));
            for (i, bare) in k.without.iter().enumerate() {
                if looked(&bare.set) {
                    continue;
                }
                let left = weight(bare);
                parts.entry(bare.set.clone()).or_insert_with(|| (left, beside.clone()));
                for (c, fit) in &k.exchanged[i] {
                    if looked(&fit.set) {
                        continue;
                    }
                    let gain = (weight(fit) - left * beside[*c]).max(0.0);
                    let mut others = beside.clone();
                    others[*c] = 0.0;
                    let part = parts.entry(fit.set.clone()).or_insert((0.0, others));
                    part.0 = part.0.max(gain);
                }
            }
            if own >= RIVAL {
                for (i, &c) in k.fit.set.iter().enumerate() {
                    for (other, fit) in &k.exchanged[i] {
                        if weight(fit) >= RIVAL * own && !rivals[c].contains(other) {
                            rivals[c].push(*other);
                            rivals[*other].push(c);
                        }
                    }
                }
            }
        }
        let mut fits: BTreeMap<&[usize], &Fit> = BTreeMap::new();
        for k in known {
            let swapped = k.exchanged.iter().flatten().map(|(_, f)| f);
            let more = k.more.iter().map(|(_, f)| f);
            for fit in swapped.chain(more).chain(&k.without).chain([&k.fit]) {
                let best = fits.entry(&fit.set).or_insert(fit);
                if fit.score > best.score {
                    *best = fit;
                }
            }
        }
        let mut probability = vec![0.0; n];
        let mut sizes: Vec<Vec<SizeIs>> = vec![Vec::new(); n];
        let parts: Vec<Part> = parts
            .into_iter()
            .map(|(set, (own, beside))| {
                let mass = own * beside.iter().map(|q| 1.0 + q).product::<f64>();
                Part { set, beside, mass }
            })
            .collect();
        let total: f64 = parts.iter().map(|p| p.mass).sum();
        for Part { set, beside, mass } in &parts {
            for c in 0..n {
                let inside = set.contains(&c);
                let weight = mass * if inside { 1.0 } else { beside[c] / (1.0 + beside[c]) };
                probability[c] += weight;
                let holding = if inside { set.clone() } else { and(set, c) };
                if let Some(fit) = fits.get(holding.as_slice())
                    && let Some(i) = fit.set.iter().position(|&k| k == c)
                {
                    let (mean, deviation) = (fit.sizes[i], fit.size_deviation[i]);
                    sizes[c].push(SizeIs { weight, mean, deviation });
                }
            }
        }
        for (p, sizes) in probability.iter_mut().zip(&mut sizes) {
            *p = (*p / total).clamp(0.0, 1.0);
            sizes.iter_mut().for_each(|s| s.weight /= total);
        }
        let alternatives = fits.into_values().cloned().collect();
        Weights { probability, sizes, parts, alternatives, rivals }
    }

    /// A finding from everything that holds its cause: the size of all such sets together, the
    /// effect in the likeliest.
    fn finding(
        &self,
        c: usize,
        probability: f64,
        fit: &Fit,
        sizes: &[SizeIs],
        rivals: Vec<usize>,
    ) -> Finding {
        let cause = self.causes[c].clone();
        let place = fit.set.iter().position(|&k| k == c).unwrap_or(0);
        let at = |part: f64| cause.size(quantile(sizes, part));
        let (size, interval_90) = (at(0.5), (at(0.05), at(0.95)));
        // Effect: the fit with and without this cause, all else as found.
        let with = Rc::clone(&fit.transfers);
        let mut bare = fit.clone();
        bare.set.remove(place);
        bare.sizes.remove(place);
        let without = self.transfers(&self.models(&bare));
        let mut effect_db = 0.0f64;
        let mut effects = vec![Spectrum::empty(); self.trials];
        let mut bands = Vec::new();
        for d in &self.data {
            let change = 10.0 * (with.energy(d) / without.energy(d)).log10();
            if !change.is_finite() {
                continue;
            }
            effect_db = effect_db.max(change.abs());
            let Some(band) = Band::at(d.band) else { continue };
            effects[d.trial].set(band, LevelDifference(change));
            if change.abs() >= 1.0 && !bands.contains(&band) {
                bands.push(band);
            }
        }
        bands.sort_unstable();
        Finding { cause, probability, size, interval_90, effect_db, effects, bands, rivals }
    }
}

/// A normal distribution of a size, in standard deviations of its prior, and its weight.
#[derive(Clone, Copy)]
struct SizeIs {
    weight: f64,
    mean: f64,
    deviation: f64,
}

/// The size that this part of a mixture lies below, by halving.
fn quantile(sizes: &[SizeIs], part: f64) -> f64 {
    let all: f64 = sizes.iter().map(|s| s.weight).sum();
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let mass: f64 =
            sizes.iter().map(|s| s.weight * below((middle - s.mean) / s.deviation)).sum();
        if mass < part * all {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Distribution of the standard normal, by the series of its odd half; good to 1e-9 within ±6.
fn below(z: f64) -> f64 {
    if z.abs() > 6.0 {
        return if z > 0.0 { 1.0 } else { 0.0 };
    }
    // Φ(z) = 1/2 + φ(z) (z + z³/3 + z⁵/15 + …)
    let (mut term, mut sum) = (z, z);
    for k in 1..120 {
        term *= z * z / f64::from(2 * k + 1);
        sum += term;
    }
    0.5 + (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt() * sum
}

struct Row {
    predicted: f64,
    /// Group, derivative of the difference to its dB of coupling, its deviation.
    groups: Vec<(usize, f64, f64)>,
    sizes: Vec<f64>,
    absorption: Vec<f64>,
}

impl Row {
    fn silent(rooms: usize, sizes: usize) -> Row {
        Row {
            predicted: f64::NAN,
            groups: Vec::new(),
            sizes: vec![0.0; sizes],
            absorption: vec![0.0; rooms],
        }
    }
}

struct System {
    factor: Cholesky<f64, Dyn>,
    log_det: f64,
}

impl System {
    fn solve(&self, r: &DVector<f64>) -> DVector<f64> {
        self.factor.solve(r)
    }

    /// Standard deviation of each size after the data: 1 − hᵀ S⁻¹ h.
    fn size_deviation(&self, rows: &[Row], active: &[usize], sizes: usize) -> Vec<f64> {
        (0..sizes)
            .map(|i| {
                let h =
                    DVector::from_iterator(active.len(), active.iter().map(|&k| rows[k].sizes[i]));
                (1.0 - h.dot(&self.factor.solve(&h))).max(1e-4).sqrt()
            })
            .collect()
    }
}
