//! One chart per judged room: what arrives, what is allowed, which way it comes.

use wythe_bands::{Band, Level, Spectrum, weighting::Weighting};
use wythe_building::Criterion;
use wythe_fieldtest::State;
use wythe_findings::{Arrived, hearing_threshold, sentences, shares_of_weighted};
use wythe_transmission::Model;

use super::house::{letter, ranked, room_heading};
use super::judged::Judged;
use super::results::Results;
use super::words::sentence_case;
use crate::chart::{
    BandChart, Bound, DominanceStrip, PathShare, Quantity, Role, Trace, Words, WrongSide,
};
use crate::page::{Block, Figure, ListKind, Text};

/// Ways in a strip; one with more is no longer read.
pub const MOST_WAYS: usize = 8;
/// A limit for an octave, spread evenly over its three thirds: 10 lg 3.
const THIRD_OF_OCTAVE_DB: f64 = 4.77;

/// A chart, its figures and the ways in words for the `most` worst rooms.
pub fn charts(r: &Results<'_>, judged: &[Judged<'_>], most: usize) -> Vec<Block> {
    let mut out = Vec::new();
    for (number, j) in judged.iter().take(most).enumerate() {
        out.push(Block::Heading { level: 3, text: room_heading(r, j).into() });
        let chart = chart(r, j, number);
        let table = chart.table();
        let mut figure = Figure::new(|f| chart.draw(f)).with_table(table);
        figure.invented = j.source.invented;
        out.push(figure.into());
        let ways = ways_in_words(j.model, j.arrived);
        if !ways.is_empty() {
            out.push(Block::Paragraph("The way it comes in:".into()));
            out.push(Block::List(ListKind::Plain, ways));
        }
    }
    if judged.len() > most {
        out.push(Block::Notice(
            format!(
                "{} more requirements stand in the table above and not here; all of them are in \
                 the document for the file.",
                judged.len() - most
            )
            .into(),
        ));
    }
    out
}

/// Which way rules where, one sentence each.
pub fn ways_in_words(model: &Model, a: &Arrived) -> Vec<Text> {
    sentences(model, &a.received).iter().map(|s| sentence_case(s).into()).collect()
}

fn chart(r: &Results<'_>, j: &Judged<'_>, number: usize) -> BandChart {
    let room = &r.building.rooms[j.arrived.room.0];
    let mut notes: Vec<&str> = vec!["Less is better."];
    let required = limit(r, j);
    match (&j.target.criterion, required.is_empty()) {
        (Criterion::Nr(_) | Criterion::Nc(_) | Criterion::Octaves(_), false) => notes.push(
            "The limit is set for whole octaves; here each third of an octave is given a third of \
             the energy, 4.8 dB less. The verdict is by octaves.",
        ),
        (_, true) => notes.push(
            "The requirement is one figure for all frequencies together and has no curve to draw.",
        ),
        _ => {}
    }
    let calculated = if r.found.is_some() {
        "Dashed: calculated, with the faults the recordings point to; the pale band is one \
         standard deviation."
    } else {
        "Dashed: calculated from the description; the pale band is one standard deviation."
    };
    notes.push(calculated);
    if j.recorded.is_some() {
        notes.push(
            "Full line: the level of the source less the difference that was recorded; open \
             triangles are upper limits, because the background was too near.",
        );
    }
    notes.push("Below the chart: darker means that this way carries more of the band.");
    let words = Words::new(
        format!("room-{}-{number}", room.id),
        format!("{} in {}, band by band", j.source.name(), room.name()),
        format!("Third-octave levels in {}. {}", room.name(), notes.join(" ")),
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
            |b| match state.get(b) {
                Some(State::Bound | State::Missing) => Bound::AtMost,
                _ => Bound::Value,
            },
        ));
    }
    chart.strip = Some(strip(j.model, j.arrived));
    chart
}

/// Which way dominates, from what arrives.
pub fn strip(model: &Model, a: &Arrived) -> DominanceStrip {
    let totals = shares_of_weighted(&a.received, &a.levels, Weighting::A);
    let paths = ranked(a, &totals)
        .into_iter()
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
        Criterion::LevelA(_) | Criterion::LevelC(_) | Criterion::WeightedDifference { .. } => {
            Spectrum::empty()
        }
    }
}
