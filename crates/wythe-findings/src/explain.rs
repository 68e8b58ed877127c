//! Predicted beside measured, with what is probably wrong and what to try next.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::Building;
use wythe_transmission::{BANDS, Cache, Field, Model, TransmissionError};

use crate::cause::Fault;
use crate::evidence::Trial;
use crate::infer::{Finding, Posterior, RoomFinding, infer};
use crate::next_test::{NextTest, next_test, same_element};

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
                && same_element(&findings[i].cause, &findings[k].cause)
                && index_of(&findings[k]).is_some_and(|c| findings[i].rivals.contains(&c));
            if together {
                members.push(k);
            }
        }
        members.iter().for_each(|&m| taken[m] = true);
        let causes: Vec<usize> = members.iter().filter_map(|&m| index_of(&findings[m])).collect();
        let probability = match causes.as_slice() {
            [_] => findings[i].probability,
            several => posterior.any(several),
        };
        let text = match members.as_slice() {
            [one] => sentence(&findings[*one]),
            several => together(findings, several, probability),
        };
        let effect_db = members.iter().map(|&m| findings[m].effect_db).fold(0.0, f64::max);
        out.push(Statement { probability, findings: members, text, effect_db });
    }
    out.sort_by(|a, b| {
        let key = |s: &Statement| weight(s.probability, s.effect_db);
        key(b).total_cmp(&key(a)).then(b.effect_db.total_cmp(&a.effect_db))
    });
    out
}

/// A change of this much, dB, is plain to hear; from there on the surer cause comes first, not the
/// larger one, or a guess with a large effect would stand before what is known.
const PLAIN_DB: f64 = 3.0;

fn weight(probability: f64, effect_db: f64) -> f64 {
    probability * effect_db.min(PLAIN_DB)
}

/// What a finding is ranked by: its probability, less where it changes a level by less than 3 dB.
pub fn rank(finding: &Finding) -> f64 {
    weight(finding.probability, finding.effect_db)
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
        Fault::NoDamping => format!("{element} {sure} have no damping layer between them"),
        Fault::ShallowCavity => {
            format!("{element} {sure} is shallower than described: about {size} ({range})")
        }
        Fault::LightOpening { .. } => {
            format!("{element} {sure} is lighter than described: about {size} ({range})")
        }
        Fault::WideLeak { .. } => {
            format!("{element} {sure} is wider than described: about {size} ({range})")
        }
        Fault::Stronger { .. } => {
            format!("{element} {sure} carries more than calculated: about {size} ({range})")
        }
        Fault::Beside => format!(
            "the {element} {sure} carries sound: a normalised flanking level difference of about \
             {size} ({} to {})",
            finding.cause.words(high),
            finding.cause.words(low)
        ),
        Fault::OpenJoint => {
            format!("{element} {sure} is not sealed: about {size} ({range}) stand open along it")
        }
    };
    format!("{what}{}", counts(finding))
}

/// What was found of a room's absorption as a sentence for the owner; `None` where the data leave
/// it as described.
pub fn room_sentence(building: &Building, found: &RoomFinding) -> Option<String> {
    if found.probability < 0.5 {
        return None;
    }
    let room = building.rooms.get(found.room.0)?.name();
    let percent = |db: f64| 100.0 * (10f64.powf(db.abs() / 10.0) - 1.0);
    let less = |db: f64| 100.0 * (1.0 - 10f64.powf(-db.abs() / 10.0));
    let (word, by) = if found.more_db >= 0.0 {
        ("more", percent(found.more_db))
    } else {
        ("less", less(found.more_db))
    };
    Some(format!(
        "{room} {} absorbs {by:.0} % {word} than described: {:.1} dB ({:.1} to {:.1} dB); a decay \
         time measured there would settle it",
        sure(found.probability),
        found.more_db,
        found.interval_90.0,
        found.interval_90.1
    ))
}
