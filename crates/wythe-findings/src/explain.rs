//! Predicted beside measured, with what is probably wrong and what to try next.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::Building;
use wythe_partition::OpeningState;
use wythe_transmission::{BANDS, Cache, Field, Model, TransmissionError};

use crate::cause::Fault;
use crate::evidence::Trial;
use crate::infer::{Finding, Posterior, infer};

/// One measured pair, explained.
#[derive(Clone, Debug)]
pub struct ExplainedPair {
    /// The measurement.
    pub trial: Trial,
    /// Difference predicted from the description alone.
    pub predicted: Spectrum<LevelDifference>,
    /// Difference with everything found put in.
    pub explained: Spectrum<LevelDifference>,
    /// Ways before the evidence.
    pub before: Field,
    /// Couplings before.
    pub model_before: Model,
    /// Ways after the evidence.
    pub after: Field,
    /// Couplings after.
    pub model_after: Model,
    /// Findings that change this pair by a decibel or more, by position in the posterior's list.
    pub findings: Vec<usize>,
}

/// A test somebody can do.
#[derive(Clone, Debug, PartialEq)]
pub struct NextTest {
    /// What to do, as a sentence.
    pub what: String,
    /// What it tells apart.
    pub separates: Vec<String>,
    /// By how much the difference between the rooms would rise if what was found is true.
    pub expected: Spectrum<LevelDifference>,
    /// Source and receiving room of the pair to measure, by id.
    pub pair: (String, String),
}

/// Everything the comparison gave.
#[derive(Clone, Debug)]
pub struct Explained {
    /// Every measured pair.
    pub pairs: Vec<ExplainedPair>,
    /// The probabilities.
    pub posterior: Posterior,
    /// The next cheapest test, if one would tell anything.
    pub next: Option<NextTest>,
}

/// Explains measured differences.
///
/// # Errors
/// [`TransmissionError`] when the building cannot be put together.
pub fn explain(
    building: &Building,
    trials: &[Trial],
    cache: &mut Cache,
) -> Result<Explained, TransmissionError> {
    let posterior = infer(building, trials, cache)?;
    let mut pairs = Vec::new();
    for (index, trial) in trials.iter().enumerate() {
        let (model_before, model_after) =
            (posterior.models_before[index].clone(), posterior.models[index].clone());
        let findings = posterior
            .findings
            .iter()
            .enumerate()
            .filter(|(_, f)| f.effects[index].iter().any(|(_, d)| d.0.abs() >= 1.0))
            .map(|(i, _)| i)
            .collect();
        pairs.push(ExplainedPair {
            trial: trial.clone(),
            predicted: known(&posterior.before[index]),
            explained: known(&posterior.after[index]),
            before: model_before.from_source(trial.source),
            after: model_after.from_source(trial.source),
            model_before,
            model_after,
            findings,
        });
    }
    let next = next_test(building, trials, &posterior);
    Ok(Explained { pairs, posterior, next })
}

fn known(values: &[f64; BANDS]) -> Spectrum<LevelDifference> {
    Band::all()
        .zip(values)
        .filter(|(_, v)| v.is_finite())
        .map(|(b, v)| (b, LevelDifference(*v)))
        .collect()
}

/// What can be said of one element: findings that stand in for each other are one statement.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// Probability that at least one of its findings is true.
    pub probability: f64,
    /// Positions in the posterior's findings, most probable first.
    pub findings: Vec<usize>,
    /// The sentence for the owner.
    pub text: String,
    /// Largest effect on a measured difference, dB.
    pub effect_db: f64,
}

/// All that was found, as statements, most probable first. Findings of one wall or one door that
/// the data cannot tell apart are put together: that the door leaks can be sure while the edge is
/// not.
pub fn statements(posterior: &Posterior) -> Vec<Statement> {
    let mut out: Vec<Statement> = Vec::new();
    let findings = &posterior.findings;
    let index_of = |f: &Finding| posterior.causes.iter().position(|c| *c == f.cause);
    let mut taken = vec![false; findings.len()];
    for i in 0..findings.len() {
        if taken[i] {
            continue;
        }
        let mut members = vec![i];
        for k in i + 1..findings.len() {
            let together = !taken[k]
                && same_element(&findings[i], &findings[k])
                && index_of(&findings[k]).is_some_and(|c| findings[i].rivals.contains(&c));
            if together {
                members.push(k);
            }
        }
        members.iter().for_each(|&m| taken[m] = true);
        // Rivals exclude each other nearly: their probabilities add.
        let probability = members.iter().map(|&m| findings[m].probability).sum::<f64>().min(0.999);
        let text = match members.as_slice() {
            [one] => sentence(&findings[*one]),
            several => together(findings, several, probability),
        };
        let effect_db = members.iter().map(|&m| findings[m].effect_db).fold(0.0, f64::max);
        out.push(Statement { probability, findings: members, text, effect_db });
    }
    out.sort_by(|a, b| {
        let key = |s: &Statement| s.probability * s.effect_db.min(10.0);
        key(b).total_cmp(&key(a))
    });
    out
}

fn same_element(a: &Finding, b: &Finding) -> bool {
    match (&a.cause.fault, &b.cause.fault) {
        (Fault::OpenEdge { opening: x, .. }, Fault::OpenEdge { opening: y, .. }) => x == y,
        (Fault::LightLeaf { .. }, Fault::LightLeaf { .. }) => a.cause.boundary == b.cause.boundary,
        _ => false,
    }
}

fn together(findings: &[Finding], members: &[usize], probability: f64) -> String {
    let first = &findings[members[0]];
    let sure = sure(probability);
    let range = format!(
        "{} to {}",
        first.cause.words(first.interval_90.0),
        first.cause.words(first.interval_90.1)
    );
    let size = first.cause.words(first.size);
    let counts = counts(first);
    match &first.cause.fault {
        Fault::LightLeaf { .. } => {
            let element = first.cause.element.split(", ").next().unwrap_or(&first.cause.element);
            format!(
                "{element} {sure} is lighter than described on one side, which one cannot be told: \
                 about {size} ({range}){counts}"
            )
        }
        _ => {
            let others: Vec<&str> =
                members[1..].iter().map(|&m| findings[m].cause.element.as_str()).collect();
            format!(
                "{} {sure} stands open by about {size} ({range}), or else {}{counts}",
                first.cause.element,
                others.join(" or ")
            )
        }
    }
}

fn sure(probability: f64) -> &'static str {
    match probability {
        p if p >= 0.95 => "almost certainly",
        p if p >= 0.8 => "very probably",
        p if p >= 0.5 => "probably",
        p if p >= 0.2 => "perhaps",
        _ => "less likely",
    }
}

fn counts(finding: &Finding) -> String {
    match (finding.bands.first(), finding.bands.last()) {
        (Some(first), Some(last)) if first != last => {
            format!("; it counts from {} to {}", crate::frequency(*first), crate::frequency(*last))
        }
        _ => String::new(),
    }
}

/// A finding as a sentence for the owner.
pub fn sentence(finding: &Finding) -> String {
    let sure = sure(finding.probability);
    let (low, high) = finding.interval_90;
    let range = format!("{} to {}", finding.cause.words(low), finding.cause.words(high));
    let size = finding.cause.words(finding.size);
    let element = &finding.cause.element;
    let what = match &finding.cause.fault {
        Fault::OpenEdge { described_mm, .. } if *described_mm > 0.0 => format!(
            "{element} {sure} stands open by about {size} ({range}) instead of {described_mm:.0} mm"
        ),
        Fault::OpenEdge { .. } => {
            format!("{element} {sure} does not seal: about {size} ({range}) stand open")
        }
        Fault::Bridges => format!(
            "{element} {sure} has rigid contacts between its leaves, about {size} ({range})"
        ),
        Fault::LightLeaf { .. } => {
            format!("{element} {sure} is lighter than described: about {size} ({range})")
        }
        Fault::NoFill => format!("{element} {sure} is missing"),
        Fault::OpenJoint => {
            format!("{element} {sure} is not sealed: about {size} ({range}) stand open along it")
        }
    };
    format!("{what}{}", counts(finding))
}

/// The opening to tape next: where taping would change a measured difference by 2 dB or more and
/// something about its edges is neither sure nor excluded; else the one whose taping would change
/// most, as a check of what was found.
fn next_test(building: &Building, trials: &[Trial], posterior: &Posterior) -> Option<NextTest> {
    let mut best: Option<(f64, NextTest)> = None;
    for boundary in &building.boundaries {
        for opening in &boundary.openings {
            if opening.leaf.is_none() || opening.state != OpeningState::Closed {
                continue;
            }
            if already_taped(building, trials, &opening.id) {
                continue;
            }
            let title = opening.title.as_deref().unwrap_or(&opening.id);
            let edges: Vec<&Finding> = posterior
                .findings
                .iter()
                .filter(|f| {
                    matches!(&f.cause.fault, Fault::OpenEdge { opening: o, .. } if *o == opening.id)
                })
                .collect();
            let doubt: f64 =
                edges.iter().map(|f| f.probability * (1.0 - f.probability) * 4.0).sum();
            for (index, trial) in trials.iter().enumerate().filter(|(_, t)| t.state.is_none()) {
                let taped = taped(&posterior.models[index], &opening.id);
                let transfer = taped.transfers(trial.source, &[trial.receiver]);
                let Some(t) = transfer.first() else { continue };
                let expected: Spectrum<LevelDifference> = trial
                    .bands
                    .filter_map(|b, _| {
                        let i = b.index();
                        let now = posterior.after[index][i];
                        (i < BANDS && t.energy[i] > 0.0 && now.is_finite())
                            .then(|| LevelDifference(-10.0 * t.energy[i].log10() - now))
                    })
                    .filter_map(|_, d| (d.0 >= 0.5).then_some(d));
                let largest = expected.iter().map(|(_, d)| d.0).fold(0.0, f64::max);
                if largest < 2.0 {
                    continue;
                }
                let worth = largest.min(10.0) * (0.1 + doubt);
                if best.as_ref().is_none_or(|(w, _)| worth > *w) {
                    let mut separates: Vec<String> =
                        edges.iter().map(|f| f.cause.element.clone()).collect();
                    if separates.is_empty() {
                        separates.push(format!("edges of the {title}"));
                    }
                    separates.push(format!("everything but the edges of the {title}"));
                    let id = |r: wythe_building::RoomIndex| building.rooms[r.0].id.clone();
                    let name = |r: wythe_building::RoomIndex| building.rooms[r.0].name();
                    let what = format!(
                        "tape all edges of the {title} and measure from {} to {} once more",
                        name(trial.source),
                        name(trial.receiver)
                    );
                    let pair = (id(trial.source), id(trial.receiver));
                    best = Some((worth, NextTest { what, separates, expected, pair }));
                }
            }
        }
    }
    best.map(|(_, test)| test)
}

fn already_taped(building: &Building, trials: &[Trial], opening: &str) -> bool {
    trials.iter().filter_map(|t| t.state.as_ref()).any(|name| {
        building.states.iter().filter(|s| s.name == *name).any(|s| {
            s.openings.iter().any(|(id, state)| id == opening && *state == OpeningState::Taped)
        })
    })
}

/// The same couplings with every edge of an opening closed.
fn taped(model: &Model, opening: &str) -> Model {
    let mut out = model.clone();
    for link in &mut out.links {
        let edge = link.id.strip_prefix(opening).and_then(|rest| rest.strip_prefix(' '));
        if edge.is_some_and(|e| matches!(e, "head" | "jambs" | "sill" | "keyhole" | "letter plate"))
        {
            link.coupling.iter_mut().for_each(|g| *g *= 1e-6);
        }
    }
    out
}
