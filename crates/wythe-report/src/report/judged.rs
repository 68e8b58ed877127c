//! Every requirement with what was calculated and, where there are recordings, what they say.

use wythe_bands::{Level, LevelDifference, Spectrum, weighting::Weighting};
use wythe_building::{Criterion, SoundSource, Target};
use wythe_fieldtest::State;
use wythe_findings::{Arrival, Arrived, Assessment, Errors, MeasuredPair, assess};
use wythe_transmission::Model;

use super::results::Results;

/// One requirement on one room, judged for one source.
#[derive(Clone, Debug)]
pub struct Judged<'a> {
    /// The requirement.
    pub target: &'a Target,
    /// The source.
    pub source: &'a SoundSource,
    /// What arrives, calculated.
    pub arrived: &'a Arrived,
    /// The couplings it was calculated with.
    pub model: &'a Model,
    /// The verdict of the calculation.
    pub calculated: &'a Assessment,
    /// The verdict of the recordings.
    pub recorded: Option<Recorded<'a>>,
}

/// What the source would make in the room, by the measured level difference.
#[derive(Clone, Debug)]
pub struct Recorded<'a> {
    /// The measured pair of rooms.
    pub pair: &'a MeasuredPair,
    /// Level of the source less the measured difference; where the background hid the difference
    /// the level is at most this.
    pub levels: Spectrum<Level>,
    /// A-weighted.
    pub level_a: Option<Level>,
    /// The verdict.
    pub assessment: Assessment,
    /// Whether the margin is only a limit: the room falls short by at least this, or has at least
    /// this to spare, because the background hid some bands.
    pub limit: bool,
    /// Whether the recordings decide the question. They do not where the background hid what
    /// matters.
    pub decides: bool,
}

impl Judged<'_> {
    /// The verdict that counts: of the recordings where they decide, else of the calculation.
    pub fn verdict(&self) -> &Assessment {
        match &self.recorded {
            Some(r) if r.decides => &r.assessment,
            _ => self.calculated,
        }
    }

    /// Whether the recordings decide.
    pub fn by_recording(&self) -> bool {
        self.recorded.as_ref().is_some_and(|r| r.decides)
    }

    /// Margin of the verdict; rooms that cannot be judged come last in order.
    pub fn margin(&self) -> f64 {
        self.verdict().margin_db.unwrap_or(f64::INFINITY)
    }

    /// A-weighted level by the verdict's basis.
    pub fn level_a(&self) -> Option<Level> {
        match &self.recorded {
            Some(r) if r.decides => r.level_a,
            _ => self.arrived.level_a,
        }
    }

    /// Whether the requirement is on a level difference rather than on a level.
    pub fn is_difference(&self) -> bool {
        matches!(self.target.criterion, Criterion::WeightedDifference { .. })
    }
}

/// All requirements, what falls short most first. Requirements about another source or
/// hours in which it never plays are left out.
pub fn judged<'a>(r: &Results<'a>) -> Vec<Judged<'a>> {
    let mut out = Vec::new();
    let Some(best) = r.best() else { return out };
    for from in &best.sources {
        let Some(source) = r.building.sources.get(from.source) else { continue };
        for arrived in &from.arrived {
            // The assessments stand in the order of the project's targets of this room.
            let targets = r.building.targets.iter().filter(|t| t.room == arrived.room);
            for (target, calculated) in targets.zip(&arrived.targets) {
                if calculated
                    .remarks
                    .iter()
                    .any(|m| ["target::other-source", "target::other-hours"].contains(&m.code))
                {
                    continue;
                }
                let recorded = recorded(r, source, target, arrived);
                out.push(Judged {
                    target,
                    source,
                    arrived,
                    model: &best.model,
                    calculated,
                    recorded,
                });
            }
        }
    }
    out.sort_by(|a, b| a.margin().total_cmp(&b.margin()));
    out
}

/// How far a bound is moved when it is asked what the requirement says without its bands.
const FAR_DB: f64 = 200.0;

fn recorded<'a>(
    r: &Results<'a>,
    source: &SoundSource,
    target: &Target,
    arrived: &Arrived,
) -> Option<Recorded<'a>> {
    let pair = r
        .measured?
        .pairs
        .iter()
        .find(|p| p.state.is_none() && p.source == source.room && p.receiver == arrived.room)?;
    let room = r.building.rooms.get(arrived.room.0)?;
    let result = &pair.result;
    let hidden = |b| result.state.get(b).is_some_and(State::is_bound);
    let sure = result.difference;
    let best: Spectrum<LevelDifference> =
        sure.map(|b, d| if hidden(b) { d + LevelDifference(FAR_DB) } else { d });
    let decay =
        if result.decay.is_empty() { room.decay_time(r.building.air) } else { result.decay };
    let errors = Errors::of_deviation(&result.uncertainty);
    let judge = |difference: &Spectrum<LevelDifference>| {
        let levels = source.levels.zip_with(difference, |l, d| l - d);
        let arrival = Arrival {
            from: source.room,
            plays: source.hours,
            maximum_above: source.maximum_above,
            levels: &levels,
            difference,
            errors: &errors,
            decay: &decay,
            background: room.background.as_ref(),
        };
        (assess(target, &arrival, true), levels)
    };
    let (at_worst, levels) = judge(&sure);
    let (at_best, _) = judge(&best);
    let (assessment, limit, decides) = match (at_worst.met, at_best.met) {
        (Some(true), _) => {
            let limit = differs(&at_worst, &at_best);
            (at_worst, limit, true)
        }
        (_, Some(false)) => {
            let limit = differs(&at_worst, &at_best);
            (at_best, limit, true)
        }
        _ => (at_worst, true, false),
    };
    Some(Recorded {
        pair,
        level_a: levels.weighted_total(Weighting::A),
        levels,
        assessment,
        limit,
        decides,
    })
}

fn differs(a: &Assessment, b: &Assessment) -> bool {
    match (a.margin_db, b.margin_db) {
        (Some(x), Some(y)) => (x - y).abs() >= 0.05,
        _ => false,
    }
}
