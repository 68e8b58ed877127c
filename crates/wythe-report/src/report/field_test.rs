//! What the report of a field test has to state, where it stands, and what is missing of it;
//! footsteps and façades.
//!
//! The items are those of the clause on the test report of ISO 16283-1 and of the report section of
//! ASTM E336, both from memory; they are put in an order and words of our own.

use wythe_fieldtest::ImpactExcitation;
use wythe_findings::{Measured, MeasuredFacade, MeasuredImpact};
use wythe_rating::Rating;

use super::compared;
use super::results::{Papers, Results};
use super::words::{capital, count, symbol, thickness, volume};
use crate::page::{Block, Column, Table, Text};

/// What `[test]` can say: key, and what the report calls it.
const SAID: [(&str, &str); 9] = [
    ("organisation", "Who made the measurement: organisation"),
    ("operator", "Who made the measurement: person"),
    ("client", "For whom"),
    ("address", "Where"),
    ("date", "Day of the measurement"),
    ("state", "State of the building"),
    ("weather", "Weather and other conditions"),
    ("source_equipment", "What made the sound"),
    ("deviations", "Deviations from the standard"),
];

/// The statements with what is missing of them, the instruments, and where the microphones stood.
pub fn blocks(r: &Results<'_>, m: &Measured) -> Vec<Block> {
    let none = Papers::default();
    let papers = r.papers.unwrap_or(&none);
    let mut out = vec![statements(r, m, papers)];
    out.extend(instruments(papers));
    out.extend(taken(papers));
    out.extend(spots(r, m, papers));
    out
}

fn statements(r: &Results<'_>, m: &Measured, papers: &Papers) -> Block {
    let mut rows: Vec<Vec<Text>> = Vec::new();
    let mut row = |what: &str, said: Text| rows.push(vec![what.into(), said]);
    for (key, what) in SAID {
        let said = papers.said.iter().find(|(k, _)| *k == key).map(|(_, t)| t.clone());
        row(
            what,
            match said {
                Some(text) => text.into(),
                None => Text::from("not stated: write it as ")
                    .code(key)
                    .then(" under ")
                    .code("[test]")
                    .then(" in ")
                    .code("survey.toml"),
            },
        );
    }
    let standards: Vec<&str> = {
        let ratings = m.pairs.iter().flat_map(|p| &p.ratings);
        let ratings = ratings.chain(m.impacts.iter().flat_map(|p| &p.ratings));
        let ratings = ratings.chain(m.facades.iter().flat_map(|p| &p.ratings));
        let mut all: Vec<&str> = ratings.map(|x| x.standard).collect();
        all.sort_unstable();
        all.dedup();
        all
    };
    row(
        "Rated by",
        if standards.is_empty() {
            "nothing could be rated".into()
        } else {
            standards.join("; ").into()
        },
    );
    let mut rooms: Vec<String> = Vec::new();
    for index in m.pairs.iter().flat_map(|p| [p.source, p.receiver]) {
        let Some(room) = r.building.rooms.get(index.0).filter(|x| !x.outdoors) else { continue };
        let line = format!("{} {}", room.name(), volume(room.volume.0, r.about.units));
        if !rooms.contains(&line) {
            rooms.push(line);
        }
    }
    row(
        "Volumes of the rooms",
        if rooms.is_empty() { "no pair was measured".into() } else { rooms.join("; ").into() },
    );
    row(
        "What parts them",
        Text::new()
            .link("boundaries", "table of elements")
            .then(" and ")
            .link("build-ups", "table of build-ups"),
    );
    row(
        "Instruments",
        match papers.instruments.len() {
            0 => Text::from("not stated: write an ")
                .code("[[instrument]]")
                .then(" for each in ")
                .code("survey.toml"),
            n => {
                Text::new().link("instruments", count(n, "instrument, below", "instruments, below"))
            }
        },
    );
    row("Calibration on the day", Text::new().link("calibration", "table of calibrations"));
    let decays = match m.decays.len() {
        0 => "none was measured: where one is needed it is the one of the description, and said"
            .to_owned(),
        n => format!("measured in {}", count(n, "room", "rooms")),
    };
    row("Decay times", decays.into());
    let bounds =
        m.pairs.iter().flat_map(|p| p.result.state.iter()).filter(|(_, s)| s.is_bound()).count();
    row(
        "Results limited by the background",
        match bounds {
            0 => "none".into(),
            n => format!(
                "{}, marked ≥ in the tables of the pairs",
                count(n, "value in one band", "values in one band each")
            )
            .into(),
        },
    );
    row("Uncertainty", "one standard deviation, in the tables of the pairs".into());
    let few =
        m.pairs.iter().filter(|p| p.result.positions.iter().any(|n| *n < LEAST_POSITIONS)).count();
    let fewer = match few {
        0 => format!("at least {LEAST_POSITIONS} microphone positions in every room"),
        n => format!(
            "fewer than the {LEAST_POSITIONS} microphone positions in a room that ISO 16283-1 asks of fixed ones, in {} of {}",
            n,
            count(m.pairs.len(), "pair", "pairs")
        ),
    };
    row("Positions", fewer.into());
    Block::Table(Table {
        id: "field-test".into(),
        caption:
            "What ISO 16283-1 in its clause on the test report, and ASTM E336, ask a report of \
                  a field test to state (both from memory), and where it stands here. What is not \
                  stated has to be before this is signed."
                .into(),
        columns: vec![Column::words("To be stated"), Column::words("Stated")],
        rows,
        ..Table::default()
    })
}

/// Fixed microphone positions in a room that ISO 16283-1 asks for (from memory).
const LEAST_POSITIONS: usize = 5;

fn instruments(papers: &Papers) -> Option<Block> {
    let heads = ["Instrument", "Make", "Model", "Number", "Class", "Calibrated", "Used for"];
    let said = |t: &String| if t.is_empty() { "not stated".into() } else { t.as_str().into() };
    (!papers.instruments.is_empty()).then(|| {
        Block::Table(Table {
            id: "instruments".into(),
            caption: "Instruments as the user states them. Nothing of it was checked.".into(),
            columns: heads.into_iter().map(Column::words).collect(),
            rows: papers.instruments.iter().map(|i| i.iter().map(said).collect()).collect(),
            ..Table::default()
        })
    })
}

fn taken(papers: &Papers) -> Option<Block> {
    let said = |t: &String| if t.is_empty() { "not stated".into() } else { t.as_str().into() };
    (!papers.taken.is_empty()).then(|| {
        Block::Table(Table {
            id: "taken".into(),
            caption: "When each file was taken and where the source stood, as stated.".into(),
            columns: ["File", "Taken", "Source stood"].into_iter().map(Column::words).collect(),
            rows: papers.taken.iter().map(|i| i.iter().map(said).collect()).collect(),
            ..Table::default()
        })
    })
}

fn spots(r: &Results<'_>, m: &Measured, papers: &Papers) -> Option<Block> {
    let length = |x: wythe_bands::Metre| thickness(x, r.about.units);
    let rows: Vec<Vec<Text>> = papers
        .spots
        .iter()
        .map(|(channel, [x, y, up])| {
            let p = m.positions.iter().find(|p| p.channel == *channel);
            let room = p.and_then(|p| r.building.rooms.get(p.room.0)).map_or("", |x| x.name());
            vec![
                Text::from(p.map_or("not used", |p| p.id.as_str())),
                room.into(),
                channel.clone().into(),
                length(*x).into(),
                length(*y).into(),
                length(*up).into(),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "spots".into(),
            caption: "Where the microphones stood, from the lower left corner of the room on the \
                      plan, and above the floor."
                .into(),
            columns: vec![
                Column::words("Position"),
                Column::words("Room"),
                Column::words("File and channel"),
                Column::figures("To the right"),
                Column::figures("Upward"),
                Column::figures("Above the floor"),
            ],
            rows,
            ..Table::default()
        })
    })
}

/// Footsteps and façades, rated, in one table; nothing where neither was measured.
pub fn other_ratings(r: &Results<'_>, m: &Measured) -> Option<Block> {
    let mut rows: Vec<Vec<Text>> = Vec::new();
    let mut add = |what: String, ratings: &[Rating], refused: &[(String, String)]| {
        for x in ratings {
            rows.push(vec![
                what.clone().into(),
                symbol(Text::new(), x.symbol),
                x.statement.clone().into(),
                x.standard.into(),
            ]);
        }
        for (rating, why) in refused {
            rows.push(vec![
                what.clone().into(),
                rating.clone().into(),
                format!("not given: {why}").into(),
                Text::new(),
            ]);
        }
        if ratings.is_empty() && refused.is_empty() {
            rows.push(vec![
                what.into(),
                "–".into(),
                "no rating is defined for it here".into(),
                Text::new(),
            ]);
        }
    };
    for x in &m.impacts {
        add(impact_name(r, x), &x.ratings, &x.refused);
    }
    for x in &m.facades {
        add(facade_name(r, x), &x.ratings, &x.refused);
    }
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "other-ratings".into(),
            caption:
                "Footsteps (less is better) and façades (more is better), as measured and rated."
                    .into(),
            columns: vec![
                Column::words("Measured"),
                Column::words("Quantity"),
                Column::words("Rating"),
                Column::words("By"),
            ],
            rows,
            ..Table::default()
        })
    })
}

pub fn impact_name(r: &Results<'_>, x: &MeasuredImpact) -> String {
    let what = match x.excitation {
        ImpactExcitation::TappingMachine => "tapping machine",
        ImpactExcitation::RubberBall => "rubber ball",
    };
    format!(
        "{}, {what}",
        capital(&compared::pair_name(r, x.source, x.receiver, x.state.as_deref()))
    )
}

pub fn facade_name(r: &Results<'_>, x: &MeasuredFacade) -> String {
    format!(
        "{}, façade",
        capital(&compared::pair_name(r, x.source, x.receiver, x.state.as_deref()))
    )
}
