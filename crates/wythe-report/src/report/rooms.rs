//! One chart per judged room: what arrives, what is allowed, which way it comes.

use wythe_bands::{Band, Level, Spectrum, weighting::Weighting};
use wythe_building::Criterion;
use wythe_fieldtest::State;
use wythe_findings::{Arrived, hearing_threshold, sentences, shares_of_weighted};
use wythe_transmission::{Model, Received, Way};

use super::house::{letter, ranked, room_heading};
use super::judged::Judged;
use super::results::Results;
use super::words::sentence_case;
use crate::chart::{
    BandChart, Bound, DominanceStrip, PathShare, Quantity, Role, Trace, Words, WrongSide,
};
use crate::page::{Block, Figure};

/// Ways in a strip; one with more is no longer read.
pub const MOST_WAYS: usize = 6;
/// A way that carries less than this of every band has no row in a strip.
const LEAST_SHARE: f64 = 0.10;
/// A limit for an octave, spread evenly over its three thirds: 10 lg 3.
const THIRD_OF_OCTAVE_DB: f64 = 4.77;

/// Margin from which a room needs no chart of its own, dB, and chance.
const COMFORTABLE_DB: f64 = 3.0;
const COMFORTABLE_CHANCE: f64 = 0.8;

/// A chart with its figures and the ways in words for the `most` worst rooms; rooms that are
/// comfortably met only when `all` are wanted.
pub fn charts(r: &Results<'_>, judged: &[Judged<'_>], most: usize, all: bool) -> Vec<Block> {
    let wanted: Vec<&Judged<'_>> = judged
        .iter()
        .filter(|j| {
            let sure = j.verdict().probability_met.is_some_and(|p| p >= COMFORTABLE_CHANCE);
            all || j.margin() < COMFORTABLE_DB || (!sure && j.margin().is_finite())
        })
        .collect();
    if wanted.is_empty() {
        return Vec::new();
    }
    let recorded = if wanted.iter().any(|j| j.recorded.is_some()) {
        " The full line is what the recordings say; an open triangle says that the true value lies \
         below, because the background was too near."
    } else {
        ""
    };
    let found = if r.found.is_some() { ", with the faults the recordings point to" } else { "" };
    let mut out = vec![Block::Paragraph(
        format!(
            "How to read these charts: bass is on the left, treble on the right, and less is \
             better. The stepped line is what is allowed; hatched is too loud. The dashed line was \
             calculated{found}; in two cases of three the truth lies within the pale band.{recorded} \
             Below each chart, a stronger tint says that this way carries more of the band."
        )
        .into(),
    )];
    for (number, j) in wanted.iter().take(most).enumerate() {
        let chart = room_chart(r, j, number);
        let table = chart.table();
        let mut figure = Figure::new(|f| chart.draw(f)).with_table(table);
        figure.invented = j.source.invented;
        out.push(figure.into());
    }
    if wanted.len() > most {
        out.push(Block::Notice(
            format!(
                "{} more rooms stand in the table and have no chart here; the document for the \
                 file has them all.",
                wanted.len() - most
            )
            .into(),
        ));
    }
    out
}

/// Which way rules where, in one sentence.
pub fn ways_in_words(model: &Model, received: &Received) -> String {
    let all = sentences(model, received);
    if all.is_empty() { String::new() } else { sentence_case(&all.join("; ")) }
}

/// The levels in one judged room with what is allowed, what was recorded and the ways.
pub fn room_chart(r: &Results<'_>, j: &Judged<'_>, number: usize) -> BandChart {
    let room = &r.building.rooms[j.arrived.room.0];
    let required = limit(r, j);
    let about = match (&j.target.criterion, required.is_empty()) {
        (Criterion::Nr(_) | Criterion::Nc(_) | Criterion::Octaves(_), false) => {
            " The limit is set for whole octaves; here each third of an octave is given a third of \
             the energy, 4.8 dB less, and the verdict is by octaves."
        }
        (_, true) => {
            " The requirement is one figure for all frequencies together and has no curve to draw."
        }
        _ => "",
    };
    let ways = ways_in_words(j.model, &j.arrived.received);
    let words = Words::new(
        format!("room-{}-{number}", room.id),
        room_heading(r, j),
        format!(
            "Third-octave levels in {}, playing: {}. {ways}{about}",
            room.name(),
            j.source.name()
        ),
    );
    let mut chart = BandChart::new(words, Quantity::new("Sound pressure level", "L", "p"));
    if matches!(j.verdict().governing_band, Some("16" | "31.5")) {
        chart.bands = (Band::FIRST, Band::HZ_5000);
    }
    chart.rating_range = None;
    chart.sum_deviations = false;
    chart.wrong = Some(WrongSide::Above);
    if let Some(background) = &room.background {
        chart.traces.push(Trace::levels(Role::Background, "background", background));
    }
    if !required.is_empty() {
        let label = format!("allowed: {}", j.target.text);
        chart.traces.push(Trace::levels(Role::Required, label, &required));
    }
    chart.traces.push(
        Trace::levels(Role::Predicted, "calculated", &j.arrived.levels)
            .with_uncertainty(&j.arrived.received.deviation),
    );
    if let Some(recorded) = &j.recorded {
        let state = recorded.pair.result.state;
        chart.traces.push(Trace::levels(Role::Measured, "recorded", &recorded.levels).with_bounds(
            |b| {
                let bound = state.get(b).is_some_and(State::is_bound);
                if bound { Bound::AtMost } else { Bound::Value }
            },
        ));
    }
    chart.strip = Some(strip(j.model, j.arrived));
    chart
}

/// Whether a way carries enough of any band to be shown.
pub fn carries(way: &Way) -> bool {
    Band::results().any(|b| way.share.get(b.index()).is_some_and(|s| *s >= LEAST_SHARE))
}

/// Which way dominates, from what arrives.
pub fn strip(model: &Model, a: &Arrived) -> DominanceStrip {
    let totals = shares_of_weighted(&a.received, &a.levels, Weighting::A);
    let paths = ranked(a, &totals)
        .into_iter()
        .filter(|(way, _)| carries(way))
        .take(MOST_WAYS)
        .enumerate()
        .map(|(place, (way, total))| PathShare {
            letter: letter(place),
            name: way.title(model),
            shares: a.received.difference.filter_map(|b, _| way.share.get(b.index()).copied()),
            total: Some(total),
        })
        .collect();
    DominanceStrip { paths }
}

/// The requirement as a curve over thirds; empty where it is one figure.
fn limit(r: &Results<'_>, j: &Judged<'_>) -> Spectrum<Level> {
    match &j.target.criterion {
        Criterion::Nr(_) | Criterion::Nc(_) | Criterion::Octaves(_) => {
            let octaves = j.arrived.levels.to_octaves();
            let mut out = Spectrum::empty();
            for (octave, margin) in j.calculated.octave_margins.iter() {
                let Some(level) = octaves.get(octave) else { continue };
                for band in octave.thirds() {
                    out.set(band, Level(level.0 + margin.0 - THIRD_OF_OCTAVE_DB));
                }
            }
            out
        }
        Criterion::Thirds(limits) => *limits,
        Criterion::NotAudible => {
            let background = r.building.rooms[j.arrived.room.0].background;
            j.arrived.levels.filter_map(|b, _| {
                let noise = background.as_ref().and_then(|s| s.get(b)).map(|l| l.0);
                match (hearing_threshold(b), noise) {
                    (Some(t), Some(n)) => Some(Level(t.max(n))),
                    (t, n) => t.or(n).map(Level),
                }
            })
        }
        Criterion::LevelA(_)
        | Criterion::LevelC(_)
        | Criterion::MaximumA(_)
        | Criterion::WeightedDifference { .. } => Spectrum::empty(),
    }
}
