//! The next test to make: which one tells most for the effort.
//!
//! Every explanation that the data leave says what a test would show. How many bits the test is
//! expected to bring is bounded from below by the distances of these answers,
//!
//! ```text
//! I ≥ −Σ_i w_i log₂ Σ_j w_j exp(−d_ij²/8),   d_ij² = Σ_b (Δ_ijb/σ_b)²/κ
//! ```
//!
//! with w the weights of the explanations, Δ the difference of their answers in a band, σ the
//! uncertainty there and κ = 3 thirds over which errors go together. Source of the bound:
//! Kolchinsky and Tracey, Estimating mixture entropy with pairwise distances, Entropy 19 (2017)
//! 361, with the Bhattacharyya distance of normals of equal covariance; κ is derived as in
//! `infer`. What is left open is only which explanation holds; what a test tells about a size
//! comes on top and is not counted.

use wythe_bands::{LevelDifference, Spectrum};
use wythe_building::{Building, RoomIndex};
use wythe_partition::{OpeningKind, OpeningState};
use wythe_transmission::{BANDS, Model, PerBand};

use crate::cause::{Cause, Fault};
use crate::evidence::{NearSurface, Trial};
use crate::infer::{Hypothesis, Posterior, energy_at};

/// A test somebody can do.
#[derive(Clone, Debug, PartialEq)]
pub struct NextTest {
    /// What to do, as a sentence.
    pub what: String,
    /// The same for whoever prepares it.
    pub setup: Setup,
    /// What it tells apart.
    pub separates: Vec<String>,
    /// By how much the difference between the rooms would change if what was found is true.
    pub expected: Spectrum<LevelDifference>,
    /// Source and receiving room of the pair to measure, by id.
    pub pair: (String, String),
    /// Minutes it takes somebody with the recorder at hand (common practice, no source).
    pub minutes: f64,
    /// Information about which explanation holds, at least, bits; near 0 where only one is left.
    pub bits: f64,
    /// What each outcome would mean, likeliest first.
    pub outcomes: Vec<TestOutcome>,
}

/// What has to be set up for a test.
#[derive(Clone, Debug, PartialEq)]
pub enum Setup {
    /// All edges of the opening of that id are taped.
    Tape(String),
    /// The door of that id stands open.
    Open(String),
    /// The duct or vent of that id is plugged.
    Plug(String),
    /// The microphone goes close to a surface.
    Near(NearSurface),
    /// Corner positions in the receiving room.
    Corners,
    /// The source goes to another room.
    Source(RoomIndex),
}

/// One outcome of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct TestOutcome {
    /// Chance of it, as far as is known now.
    pub probability: f64,
    /// Where it shows.
    pub band: Option<wythe_bands::Band>,
    /// Change of the level difference there against the last measurement, dB.
    pub change_db: f64,
    /// What it would mean.
    pub means: String,
}

/// Thirds over which the errors of a measurement and of the model go together.
const TOGETHER: f64 = 3.0;
/// What stays unknown of any prediction once it was fitted, dB (half of the least stated error).
const MODEL_LEFT: f64 = 1.5;
/// A test that brings less than this, bits, tells no explanations apart.
const TELLS_NOTHING: f64 = 0.02;
/// Less than this, dB, is not heard or seen in a repeated measurement.
const SEEN: f64 = 2.0;
/// Outcomes nearer to each other than this, dB, are one.
const SAME: f64 = 2.0;

/// What can be done.
enum Doing<'a> {
    /// All edges of a closed opening are taped.
    Tape(&'a str),
    /// A door is opened.
    Open(&'a str, f64),
    /// A duct or vent is plugged.
    Plug(&'a str),
    /// The microphone goes close to a surface.
    Near(NearSurface),
    /// Corner positions for the low bands.
    Corners,
    /// The source goes to another room.
    Source(RoomIndex),
}

impl Doing<'_> {
    /// Minutes it takes (common practice, no source).
    fn minutes(&self) -> f64 {
        match self {
            Doing::Open(..) => 5.0,
            Doing::Near(_) => 10.0,
            Doing::Tape(_) | Doing::Plug(_) => 20.0,
            Doing::Corners => 25.0,
            Doing::Source(_) => 40.0,
        }
    }

    fn setup(&self) -> Setup {
        match self {
            Doing::Tape(id) => Setup::Tape((*id).to_owned()),
            Doing::Open(id, _) => Setup::Open((*id).to_owned()),
            Doing::Plug(id) => Setup::Plug((*id).to_owned()),
            Doing::Near(surface) => Setup::Near(surface.clone()),
            Doing::Corners => Setup::Corners,
            Doing::Source(room) => Setup::Source(*room),
        }
    }

    fn done_to(&self, model: &Model) -> Model {
        let mut out = model.clone();
        for link in &mut out.links {
            match self {
                Doing::Tape(id) => {
                    let edge = link.id.strip_prefix(id).and_then(|r| r.strip_prefix(' '));
                    if edge.is_some_and(|e| {
                        matches!(e, "head" | "jambs" | "sill" | "keyhole" | "letter plate")
                    }) {
                        link.coupling.iter_mut().for_each(|g| *g *= 1e-6);
                    }
                }
                Doing::Open(id, area) => {
                    if link.id.strip_prefix(id).is_some_and(|r| r == " leaf") {
                        link.coupling = [*area; BANDS];
                    }
                }
                Doing::Plug(id) => {
                    if link.id == *id
                        || link.id.strip_prefix(id).is_some_and(|r| r.starts_with(" wall, "))
                    {
                        link.coupling.iter_mut().for_each(|g| *g *= 1e-3);
                    }
                }
                Doing::Near(_) | Doing::Corners | Doing::Source(_) => {}
            }
        }
        out
    }

    fn trial(&self, trial: &Trial) -> Trial {
        let mut out = trial.clone();
        match self {
            Doing::Near(surface) => out.near = Some(surface.clone()),
            Doing::Source(room) => out.source = *room,
            _ => {}
        }
        out
    }
}

/// The test to make next; `None` where nothing was measured or no test would show anything.
///
/// Among all that can be done in the building (tape or open a door, plug a duct, go close to a
/// surface, use corner positions, move the source) it is the one with the most bits per minute.
/// Where one explanation is left, it is the one whose result would confirm it most clearly.
pub(crate) fn next_test(
    building: &Building,
    trials: &[Trial],
    posterior: &Posterior,
) -> Option<NextTest> {
    let mut best: Option<(f64, NextTest)> = None;
    let plain = |t: &&Trial| t.state.is_none() && t.near.is_none();
    for (index, trial) in trials.iter().enumerate().filter(|(_, t)| plain(t)) {
        for doing in doings(building, trials, trial) {
            let Some(test) = weigh(building, trials, posterior, index, &doing) else { continue };
            let shown = test.expected.iter().map(|(_, d)| d.0.abs()).fold(0.0, f64::max);
            // Confirming is worth a little: it breaks ties, and rules where nothing is open.
            let worth = (test.bits + 0.002 * shown.min(10.0)) / test.minutes;
            if best.as_ref().is_none_or(|(w, _)| worth > *w) {
                best = Some((worth, test));
            }
        }
    }
    best.map(|(_, test)| test)
}

fn doings<'a>(building: &'a Building, trials: &[Trial], trial: &Trial) -> Vec<Doing<'a>> {
    let mut out = Vec::new();
    let done = |asked: &dyn Fn(&wythe_building::State) -> bool| {
        trials.iter().any(|t| {
            t.source == trial.source
                && t.receiver == trial.receiver
                && building.states.iter().any(|s| Some(&s.name) == t.state.as_ref() && asked(s))
        })
    };
    for (at, boundary) in building.boundaries.iter().enumerate() {
        for o in &boundary.openings {
            if o.leaf.is_none() || o.state != OpeningState::Closed {
                continue;
            }
            let stood = |state: OpeningState| {
                done(&|s| s.openings.iter().any(|(id, is)| *id == o.id && *is == state))
            };
            if !stood(OpeningState::Taped) {
                out.push(Doing::Tape(&o.id));
            }
            if o.kind == OpeningKind::Door && !stood(OpeningState::Open) {
                out.push(Doing::Open(&o.id, o.width.0 * o.height.0));
            }
        }
        let Some(behind) = boundary.beyond(trial.receiver) else { continue };
        let outdoors = |r: RoomIndex| building.rooms.get(r.0).is_none_or(|r| r.outdoors);
        if outdoors(behind) || outdoors(trial.receiver) {
            continue;
        }
        let surfaces = boundary.openings.iter().map(|o| Some(o.id.clone())).chain([None]);
        for opening in surfaces {
            let surface = NearSurface { boundary: wythe_building::BoundaryIndex(at), opening };
            let known = |t: &Trial| {
                t.near.as_ref() == Some(&surface)
                    && t.receiver == trial.receiver
                    && t.source == trial.source
            };
            if !trials.iter().any(known) {
                out.push(Doing::Near(surface));
            }
        }
    }
    let fabric = &building.fabric;
    let ways =
        fabric.ducts.iter().map(|d| &d.id).chain(fabric.small_elements.iter().map(|e| &e.id));
    for way in ways {
        if !done(&|s| s.plugged.contains(way)) {
            out.push(Doing::Plug(way));
        }
    }
    let small = building
        .rooms
        .get(trial.receiver.0)
        .is_some_and(|r| !r.outdoors && r.volume.0 > 0.0 && r.volume.0 < 25.0);
    // The procedure of ISO 16283-1 for rooms below 25 m³.
    if small {
        out.push(Doing::Corners);
    }
    for (i, room) in building.rooms.iter().enumerate() {
        let other = RoomIndex(i);
        let known = trials.iter().any(|t| t.source == other && t.receiver == trial.receiver);
        if !room.outdoors && other != trial.source && other != trial.receiver && !known {
            out.push(Doing::Source(other));
        }
    }
    out
}

/// The answers all explanations give to one test.
fn weigh(
    building: &Building,
    trials: &[Trial],
    posterior: &Posterior,
    index: usize,
    doing: &Doing<'_>,
) -> Option<NextTest> {
    let trial = &trials[index];
    let then = doing.trial(trial);
    let answers: Vec<PerBand> = posterior
        .hypotheses
        .iter()
        .filter_map(|h| h.models.get(index))
        .map(|m| difference(building, &doing.done_to(m), &then))
        .collect();
    if answers.len() != posterior.hypotheses.len() || answers.is_empty() {
        return None;
    }
    let weights: Vec<f64> = posterior.hypotheses.iter().map(|h| h.weight).collect();
    let deviation = |b: usize, before: f64| {
        let modal = posterior
            .models
            .get(index)
            .map_or(0.0, |m| m.modal[then.source.0][b].hypot(m.modal[then.receiver.0][b]));
        // Corners and room together find the mean of a mode where positions find one of its
        // slopes: half the spread (common practice, no source).
        let modal = if matches!(doing, Doing::Corners) && b <= 6 { 0.5 * modal } else { modal };
        before.hypot(modal).hypot(MODEL_LEFT)
    };
    let used: Vec<(usize, f64)> = trial
        .bands
        .iter()
        .filter(|(b, _)| b.index() < BANDS)
        .map(|(b, o)| (b.index(), deviation(b.index(), o.deviation.0)))
        .collect();
    let distance = |i: usize, j: usize| -> f64 {
        used.iter()
            .filter(|(b, _)| answers[i][*b].is_finite() && answers[j][*b].is_finite())
            .map(|(b, sd)| ((answers[i][*b] - answers[j][*b]) / sd).powi(2))
            .sum::<f64>()
            / TOGETHER
    };
    // What the same two rooms would tell once more as they are must not count as the test's.
    let bits: f64 = -(0..answers.len())
        .map(|i| {
            let near: f64 =
                (0..answers.len()).map(|j| weights[j] * (-distance(i, j) / 8.0).exp()).sum();
            weights[i] * near.max(1e-300).log2()
        })
        .sum::<f64>();
    let now: PerBand = match doing {
        // Another source room has no measurement to change from: what is told is the difference
        // itself, and what counts is how far the explanations part.
        Doing::Source(_) => answers[0],
        _ => posterior.after.get(index).copied().unwrap_or([f64::NAN; BANDS]),
    };
    let expected: Spectrum<LevelDifference> = trial.bands.filter_map(|b, _| {
        let i = b.index();
        let change = answers[0].get(i)? - now.get(i)?;
        (change.is_finite() && change.abs() >= 0.5).then_some(LevelDifference(change))
    });
    let shown = expected.iter().map(|(_, d)| d.0.abs()).fold(0.0, f64::max);
    if bits < TELLS_NOTHING && (shown < SEEN || !matches!(doing, Doing::Tape(_) | Doing::Plug(_))) {
        return None;
    }
    let id = |r: RoomIndex| building.rooms[r.0].id.clone();
    let outcomes = outcomes(posterior, &answers, &now, &used);
    Some(NextTest {
        what: words(building, doing, &then),
        setup: doing.setup(),
        separates: separates(building, posterior, doing, &outcomes),
        expected,
        pair: (id(then.source), id(then.receiver)),
        minutes: doing.minutes(),
        bits: bits.max(0.0),
        outcomes,
    })
}

fn difference(building: &Building, model: &Model, trial: &Trial) -> PerBand {
    energy_at(building, model, trial).map(|x| if x > 0.0 { -10.0 * x.log10() } else { f64::NAN })
}

/// Answers told apart in the band where they differ most, each with what it would mean.
fn outcomes(
    posterior: &Posterior,
    answers: &[PerBand],
    now: &PerBand,
    used: &[(usize, f64)],
) -> Vec<TestOutcome> {
    let spread = |b: usize| -> f64 {
        let mean: f64 =
            posterior.hypotheses.iter().zip(answers).map(|(h, a)| h.weight * a[b]).sum();
        posterior
            .hypotheses
            .iter()
            .zip(answers)
            .map(|(h, a)| h.weight * (a[b] - mean).powi(2))
            .sum()
    };
    let fine = |b: &usize| answers.iter().all(|a| a[*b].is_finite()) && now[*b].is_finite();
    let telling = used
        .iter()
        .filter(|(b, _)| fine(b))
        .max_by(|x, y| (spread(x.0) / x.1.powi(2)).total_cmp(&(spread(y.0) / y.1.powi(2))))
        .map(|(b, _)| *b);
    let Some(band) = telling else { return Vec::new() };
    // Hypotheses with nearly the same answer are one outcome.
    let mut groups: Vec<(f64, f64, Vec<&Hypothesis>)> = Vec::new();
    for (h, a) in posterior.hypotheses.iter().zip(answers) {
        let change = a[band] - now[band];
        match groups.iter_mut().find(|g| (g.1 - change).abs() < SAME) {
            Some(g) => {
                g.0 += h.weight;
                g.2.push(h);
            }
            None => groups.push((h.weight, change, vec![h])),
        }
    }
    groups.sort_by(|x, y| y.0.total_cmp(&x.0));
    groups.truncate(4);
    groups
        .into_iter()
        .map(|(probability, change_db, hypotheses)| TestOutcome {
            probability,
            band: wythe_bands::Band::at(band),
            change_db,
            means: means(posterior, &hypotheses, probability),
        })
        .collect()
}

/// What an outcome says is there beside what every explanation has: what nearly all explanations of this
/// outcome hold, and what some of them do.
fn means(posterior: &Posterior, hypotheses: &[&Hypothesis], probability: f64) -> String {
    let weight_of = |all: &[&Hypothesis], c: usize| -> f64 {
        all.iter().filter(|h| h.causes.iter().any(|(k, _)| *k == c)).map(|h| h.weight).sum()
    };
    let always =
        |c: usize| posterior.hypotheses.iter().all(|h| h.causes.iter().any(|(k, _)| *k == c));
    let mut sure: Vec<(usize, String)> = Vec::new();
    let mut perhaps = sure.clone();
    for (c, size) in hypotheses.iter().flat_map(|h| &h.causes) {
        let seen = sure.iter().chain(&perhaps).any(|(k, _)| k == c);
        let share = weight_of(hypotheses, *c) / probability;
        if seen || always(*c) || share < 0.1 {
            continue;
        }
        let cause = &posterior.causes[*c];
        let said =
            if cause.log_spread > 0.0 { cause.words(*size) } else { cause.parameter.to_owned() };
        let list = if share > 0.9 { &mut sure } else { &mut perhaps };
        list.push((*c, format!("{} ({said})", cause.element)));
    }
    let words = |list: &[(usize, String)]| -> Vec<String> {
        list.iter().map(|(_, text)| text.clone()).collect()
    };
    match (sure.is_empty(), perhaps.is_empty()) {
        (true, true) => "nothing beside what was found".into(),
        (false, true) => words(&sure).join(" and "),
        (true, false) => format!("perhaps {}", words(&perhaps).join(" or ")),
        (false, false) => {
            format!("{}, perhaps with {}", words(&sure).join(" and "), words(&perhaps).join(" or "))
        }
    }
}

/// Whether two causes say the same of one wall or door, on another side or edge.
pub(crate) fn same_element(a: &Cause, b: &Cause) -> bool {
    match (&a.fault, &b.fault) {
        (Fault::OpenEdge { opening: x, .. }, Fault::OpenEdge { opening: y, .. }) => x == y,
        (Fault::LightLeaf { .. }, Fault::LightLeaf { .. }) => a.boundary == b.boundary,
        _ => false,
    }
}

fn words(building: &Building, doing: &Doing<'_>, trial: &Trial) -> String {
    let room = |r: RoomIndex| building.rooms[r.0].name();
    let opening = |id: &str| {
        building
            .boundaries
            .iter()
            .flat_map(|b| &b.openings)
            .find(|o| o.id == id)
            .map_or(id, |o| o.title.as_deref().unwrap_or(&o.id))
            .to_owned()
    };
    let fabric = &building.fabric;
    let way = |id: &str| {
        let ducts = fabric.ducts.iter().map(|d| (&d.id, &d.title));
        let vents = fabric.small_elements.iter().map(|e| (&e.id, &e.title));
        ducts
            .chain(vents)
            .find(|(i, _)| *i == id)
            .map_or(id.to_owned(), |(i, t)| t.clone().unwrap_or_else(|| i.clone()))
    };
    let pair = format!("from {} to {}", room(trial.source), room(trial.receiver));
    match doing {
        Doing::Tape(id) => {
            format!("tape all edges of the {} and measure {pair} once more", opening(id))
        }
        Doing::Open(id, _) => format!("open the {} and measure {pair} once more", opening(id)),
        Doing::Plug(id) => format!(
            "plug {} for a few minutes with something as heavy as the wall, with the fan and \
             everything that burns off and nobody staying in the room, and measure {pair} once more",
            way(id)
        ),
        Doing::Near(surface) => {
            let what = match &surface.opening {
                Some(id) => format!("the {}", opening(id)),
                None => building.boundaries[surface.boundary.0].name().to_owned(),
            };
            format!(
                "hold the microphone a hand's breadth from {what} in {} and measure {pair} once more",
                room(trial.receiver)
            )
        }
        Doing::Corners => format!(
            "measure {pair} once more with corner positions for the low bands (ISO 16283-1)"
        ),
        Doing::Source(r) => format!("put the source into {} and measure {pair}", room(*r)),
    }
}

/// What the test tells apart, in words.
fn separates(
    building: &Building,
    posterior: &Posterior,
    doing: &Doing<'_>,
    outcomes: &[TestOutcome],
) -> Vec<String> {
    if outcomes.len() > 1 {
        return outcomes.iter().map(|o| o.means.trim_start_matches("perhaps ").into()).collect();
    }
    if let Doing::Tape(id) = doing {
        let title = building
            .boundaries
            .iter()
            .flat_map(|b| &b.openings)
            .find(|o| o.id == *id)
            .map_or(*id, |o| o.title.as_deref().unwrap_or(&o.id));
        let mut out: Vec<String> = posterior
            .findings
            .iter()
            .filter(|f| matches!(&f.cause.fault, Fault::OpenEdge { opening, .. } if opening == id))
            .map(|f| f.cause.element.clone())
            .collect();
        if out.is_empty() {
            out.push(format!("edges of the {title}"));
        }
        out.push(format!("everything but the edges of the {title}"));
        return out;
    }
    vec!["what was found".into(), "everything else".into()]
}
