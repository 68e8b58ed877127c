//! What was recorded, beside what was predicted, and what the difference points to.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::RoomIndex;
use wythe_findings::{Explained, ExplainedPair, Measured, MeasuredPair, Statement, statements};

use super::house::letter;
use super::results::Results;
use super::rooms::{MOST_WAYS, carries, ways_in_words};
use super::words::{capital, chance, count, frequency, listed, rough_db, sentence_case, symbol};
use crate::chart::{
    BandChart, Bound, DifferencePanel, DominanceStrip, PathShare, Quantity, Role, THIN, Trace,
    Words, WrongSide, number,
};
use crate::page::{Block, Column, Figure, Table, Text};

/// Findings less probable than this hide the ones that count.
const WORTH_SAYING: f64 = 0.2;

/// Findings with their probability, and what they cannot be told from.
pub fn findings(r: &Results<'_>) -> Vec<Block> {
    let Some(explained) = r.explained else { return Vec::new() };
    let all: Vec<Statement> = statements(&explained.posterior)
        .into_iter()
        .filter(|s| s.probability >= WORTH_SAYING && s.effect_db >= 1.0)
        .collect();
    if all.is_empty() {
        return vec![Block::Paragraph(
            "Nothing: what was recorded agrees with the description within what can be known."
                .into(),
        )];
    }
    let rows = all
        .iter()
        .map(|f| {
            vec![
                Text::from(sentence_case(&f.text)),
                chance(f.probability).into(),
                rough_db(f.effect_db).into(),
                rivals(explained, f).into(),
            ]
        })
        .collect();
    vec![Block::Table(Table {
        id: "findings".into(),
        caption: "What is probably not as described. The chance is reckoned from how well each \
                  fault explains the recordings; the effect is the largest change it makes to a \
                  recorded difference in any band."
            .into(),
        columns: vec![
            Column::words("What"),
            Column::figures("Chance"),
            Column::figures("Effect"),
            Column::words("Cannot be told from"),
        ],
        rows,
        ..Table::default()
    })]
}

/// Causes that would explain the data nearly as well, but for those the statement names itself.
fn rivals(e: &Explained, s: &Statement) -> String {
    if s.probability >= 0.95 {
        return String::new();
    }
    let all = &e.posterior.findings;
    let own: Vec<_> = s.findings.iter().filter_map(|&i| all.get(i)).collect();
    let mut names: Vec<String> = own
        .iter()
        .flat_map(|f| &f.rivals)
        .filter_map(|&c| e.posterior.causes.get(c))
        .filter(|c| own.iter().all(|f| f.cause != **c))
        .map(|c| format!("{} ({})", c.element, c.parameter))
        .collect();
    names.sort_unstable();
    names.dedup();
    listed(&names)
}

/// A chart per measured pair, those that differ most first; pairs that are as described only when
/// `all` are wanted, else in a sentence.
pub fn charts(r: &Results<'_>, most: usize, all: bool) -> Vec<Block> {
    let Some(explained) = r.explained else { return Vec::new() };
    let mut pairs: Vec<&ExplainedPair> =
        explained.pairs.iter().filter(|p| p.trial.near.is_none()).collect();
    pairs.sort_by(|a, b| surprise(b).1.total_cmp(&surprise(a).1));
    let wanted: Vec<&ExplainedPair> =
        pairs.iter().copied().filter(|p| all || surprise(p).1 >= SURPRISING).collect();
    let mut out = Vec::new();
    if !wanted.is_empty() {
        out.push(Block::Paragraph(
            "How to read these charts: each shows by how much the sound is weaker in the second \
             room than in the first, and more is better. The full line was recorded; an open \
             triangle says that the true value lies above, because the background was too near. \
             The dashed line was predicted from the description, the grey one with the faults that \
             were found. The bars are recorded less predicted; hatched is worse than described."
                .into(),
        ));
    }
    for (number, p) in wanted.iter().take(most).enumerate() {
        let chart = comparison_chart(r, p, number);
        let table = chart.table();
        out.push(Figure::new(|f| chart.draw(f)).with_table(table).into());
    }
    if wanted.len() > most {
        out.push(Block::Notice(
            format!(
                "{} from the description; the document for the file has a chart of each.",
                count(wanted.len() - most, "more pair differs", "more pairs differ")
            )
            .into(),
        ));
    }
    let as_described: Vec<String> = pairs
        .iter()
        .filter(|p| !all && surprise(p).1 < SURPRISING)
        .map(|p| pair_name(r, p.trial.source, p.trial.receiver, p.trial.state.as_deref()))
        .collect();
    if !as_described.is_empty() {
        out.push(Block::Paragraph(
            format!("As described, within what can be known: {}.", as_described.join("; ")).into(),
        ));
    }
    out
}

/// Names of the two rooms and the state of the building.
pub fn pair_name(
    r: &Results<'_>,
    source: RoomIndex,
    receiver: RoomIndex,
    state: Option<&str>,
) -> String {
    let name = |i: RoomIndex| r.building.rooms[i.0].name();
    let state = state.map(|s| format!(", {s}")).unwrap_or_default();
    format!("{} to {}{state}", name(source), name(receiver))
}

/// Band in which the measurement lies furthest from the prediction, in standard deviations of
/// both together, and that distance.
fn surprise(p: &ExplainedPair) -> (Option<Band>, f64) {
    let deviation = p.before.at(p.trial.receiver).map(|x| x.deviation);
    let mut most = (None, 0.0);
    for (band, o) in p.trial.bands.iter() {
        let Some(predicted) = p.predicted.get(band) else { continue };
        let gap = o.difference.0 - predicted.0;
        // A lower bound below the prediction says nothing.
        if o.at_least && gap < 0.0 {
            continue;
        }
        let own = deviation.as_ref().and_then(|s| s.get(band)).map_or(3.0, |d| d.0);
        let sigma = own.hypot(o.deviation.0).max(0.5);
        if gap.abs() / sigma > most.1 {
            most = (Some(band), gap.abs() / sigma);
        }
    }
    most
}

/// From this many standard deviations on a single band out of twenty is worth a headline.
const SURPRISING: f64 = 2.5;

fn heading(r: &Results<'_>, p: &ExplainedPair) -> String {
    let name = capital(&pair_name(r, p.trial.source, p.trial.receiver, p.trial.state.as_deref()));
    let (band, sigmas) = surprise(p);
    let gap = band.and_then(|b| {
        let o = p.trial.bands.get(b)?;
        Some((b, o.difference.0 - p.predicted.get(b)?.0))
    });
    match gap {
        Some((b, gap)) if sigmas >= SURPRISING => {
            let word = if gap < 0.0 { "less" } else { "more" };
            format!(
                "{name}: {} {word} is kept back at {} than described",
                rough_db(gap.abs()),
                frequency(b.nominal())
            )
        }
        _ => format!("{name}: as described, within what can be known"),
    }
}

/// Recorded beside predicted of one pair, with the ways once the faults are put in.
pub fn comparison_chart(r: &Results<'_>, p: &ExplainedPair, number: usize) -> BandChart {
    let name = pair_name(r, p.trial.source, p.trial.receiver, p.trial.state.as_deref());
    let ways = p
        .after
        .at(p.trial.receiver)
        .map(|there| ways_in_words(&p.model_after, there))
        .filter(|w| !w.is_empty())
        .map(|w| format!(" With the faults put in: {w}"));
    let words = Words::new(
        format!("pair-{number}"),
        heading(r, p),
        format!("Level difference from {name}.{}", ways.unwrap_or_default()),
    );
    let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
    chart.rating_range = None;
    let measured: Spectrum<LevelDifference> = p.trial.bands.map(|_, o| o.difference);
    let uncertainty: Spectrum<LevelDifference> = p.trial.bands.map(|_, o| o.deviation);
    let mut predicted = Trace::differences(Role::Predicted, "predicted", &p.predicted);
    if let Some(before) = p.before.at(p.trial.receiver) {
        predicted = predicted.with_uncertainty(&before.deviation);
    }
    chart.traces = vec![
        predicted,
        Trace::differences(Role::Path, "with what was found", &p.explained),
        Trace::differences(Role::Measured, "recorded", &measured).with_bounds(|b| {
            match p.trial.bands.get(b) {
                Some(o) if o.at_least => Bound::AtLeast,
                _ => Bound::Value,
            }
        }),
    ];
    chart.difference = Some(DifferencePanel {
        label: "Recorded less predicted".into(),
        values: measured.zip_with(&p.predicted, |m, q| m - q),
        uncertainty,
        wrong: WrongSide::Below,
        against: "predicted".into(),
    });
    if let Some(there) = p.after.at(p.trial.receiver) {
        let mean = |w: &wythe_transmission::Way| {
            let all: Vec<f64> = there
                .difference
                .within(Band::HZ_50, Band::HZ_5000)
                .iter()
                .filter_map(|(b, _)| w.share.get(b.index()).copied())
                .collect();
            all.iter().sum::<f64>() / all.len().max(1) as f64
        };
        let mut ways: Vec<(&wythe_transmission::Way, f64)> = there
            .ways
            .iter()
            .filter(|w| !w.is_rest() && carries(w))
            .map(|w| (w, mean(w)))
            .collect();
        ways.sort_by(|a, b| b.1.total_cmp(&a.1));
        let paths = ways
            .into_iter()
            .take(MOST_WAYS)
            .enumerate()
            .map(|(place, (way, _))| PathShare {
                letter: letter(place),
                name: way.title(&p.model_after),
                shares: there.difference.filter_map(|b, _| way.share.get(b.index()).copied()),
                total: None,
            })
            .collect();
        chart.strip = Some(DominanceStrip { paths });
    }
    chart
}

/// All measured pairs with their ratings.
pub fn ratings_table(r: &Results<'_>, m: &Measured) -> Option<Block> {
    let mut symbols: Vec<&'static str> = Vec::new();
    for rating in m.pairs.iter().flat_map(|p| &p.ratings) {
        if !symbols.contains(&rating.symbol) {
            symbols.push(rating.symbol);
        }
    }
    if m.pairs.is_empty() {
        return None;
    }
    let mut columns = vec![Column::words("From and to")];
    columns.extend(symbols.iter().map(|s| Column::figures(symbol(Text::new(), s))));
    columns.push(Column::words("Bands hidden by the background"));
    let rows = m
        .pairs
        .iter()
        .map(|p| {
            let mut row: Vec<Text> =
                vec![capital(&pair_name(r, p.source, p.receiver, p.state.as_deref())).into()];
            row.extend(symbols.iter().map(|s| rating_cell(p, s).into()));
            row.push(hidden(p).into());
            row
        })
        .collect();
    Some(Block::Table(Table {
        id: "ratings".into(),
        caption: "Every recorded pair of rooms, rated. More is better. ≥ marks a lower limit: the \
                  background hid some bands. A dash: the rating cannot be given."
            .into(),
        columns,
        rows,
        ..Table::default()
    }))
}

fn rating_cell(p: &MeasuredPair, symbol: &str) -> String {
    let Some(rating) = p.ratings.iter().find(|x| x.symbol == symbol) else { return "–".into() };
    let mark = if rating.bound == wythe_rating::Bound::AtLeast { "≥ " } else { "" };
    rating.number().map_or_else(|| "–".into(), |v| format!("{mark}{}", number(v, 0)))
}

fn hidden(p: &MeasuredPair) -> String {
    let n = p
        .result
        .state
        .within(Band::HZ_50, Band::HZ_5000)
        .iter()
        .filter(|(_, s)| s.is_bound())
        .count();
    if n == 0 { "none".into() } else { count(n, "band", "bands") }
}

/// All positions with what they heard and what was left out.
pub fn positions_table(r: &Results<'_>, m: &Measured) -> Option<Block> {
    if m.positions.is_empty() {
        return None;
    }
    let rows = m
        .positions
        .iter()
        .map(|p| {
            let level = |l: Option<wythe_bands::Level>| {
                l.map_or_else(|| "not known".to_owned(), |l| number(l.0, 1))
            };
            let place = p.place.as_ref().map(|t| format!(", {t}")).unwrap_or_default();
            let levels = if p.calibrated {
                [level(p.levels.a), level(p.levels.c)]
            } else {
                ["relative only".to_owned(), "relative only".to_owned()]
            };
            let mut why: Vec<String> = Vec::new();
            for e in &p.excluded {
                let line = format!(
                    "{}–{}{THIN}s {}{}",
                    number(e.from.0, 1),
                    number(e.to.0, 1),
                    e.why,
                    if e.found { " (found by the program)" } else { "" }
                );
                if !why.contains(&line) {
                    why.push(line);
                }
            }
            let [a, c] = levels;
            vec![
                Text::from(format!("{}{place}", p.id)),
                r.building.rooms[p.room.0].name().into(),
                p.channel.clone().into(),
                a.into(),
                c.into(),
                format!("{}{THIN}s", number(p.used.0, 0)).into(),
                why.join("; ").into(),
            ]
        })
        .collect();
    Some(Block::Table(Table {
        id: "positions".into(),
        caption: "Microphone positions while the source played: levels in dBA and dBC, the time \
                  that was used, and what was left out."
            .into(),
        columns: vec![
            Column::words("Position"),
            Column::words("Room"),
            Column::words("File and channel"),
            Column::figures("dBA"),
            Column::figures("dBC"),
            Column::figures("Used"),
            Column::words("Left out"),
        ],
        rows,
        ..Table::default()
    }))
}
