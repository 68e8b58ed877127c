//! What was recorded, band by band: pairs of rooms, footsteps, façades and decays, each with its
//! chart, its table and how it was rated.

use wythe_bands::{Band, Level, LevelDifference, Seconds, Spectrum};
use wythe_fieldtest::{FieldResult, State};
use wythe_findings::{Measured, MeasuredFacade, MeasuredImpact, MeasuredPair};
use wythe_rating::{Bound, Rating};

use super::compared::pair_name;
use super::field_test::{facade_name, impact_name};
use super::rated;
use super::results::{DecayDrawn, Results};
use super::words::{capital, count, frequency, sentence_case, symbol};
use crate::chart::{
    BandChart, LevelTrace, Role, Stretch, StretchKind, THIN, TimeLine, Words, number,
};
use crate::page::{Block, Column, Figure, ListKind, Table, Text};

/// A table with a row per band, put together column by column.
pub struct BandTable<'a> {
    columns: Vec<Column>,
    cells: Vec<Box<dyn Fn(Band) -> Text + 'a>>,
}

impl<'a> BandTable<'a> {
    /// With the bands alone.
    pub fn new() -> BandTable<'a> {
        BandTable {
            columns: vec![Column::figures("Hz")],
            cells: vec![Box::new(|b: Band| Text::from(b.nominal()))],
        }
    }

    /// With a column of figures; `without` stands where a band has no value.
    pub fn figures<T: Copy>(
        mut self,
        head: impl Into<Text>,
        values: &'a Spectrum<T>,
        without: &'static str,
        cell: impl Fn(T) -> String + 'a,
    ) -> BandTable<'a> {
        self.columns.push(Column::figures(head));
        self.cells.push(Box::new(move |b| {
            values.get(b).map_or_else(|| without.to_owned(), &cell).into()
        }));
        self
    }

    fn levels(self, head: impl Into<Text>, values: &'a Spectrum<Level>) -> BandTable<'a> {
        self.figures(head, values, "", |l| number(l.0, 1))
    }

    fn deviation(self, values: &'a Spectrum<LevelDifference>) -> BandTable<'a> {
        self.figures("±", values, "", |u| number(u.0, 1))
    }

    fn times(self, values: &'a Spectrum<Seconds>) -> BandTable<'a> {
        self.figures("T, s", values, "", |t| number(t.0, 2))
    }

    /// With a column that is only a limit where the background hides the band.
    fn limited<T: Copy>(
        mut self,
        head: impl Into<Text>,
        values: &'a Spectrum<T>,
        (state, mark): (&'a Spectrum<State>, &'static str),
        decibels: impl Fn(T) -> f64 + 'a,
    ) -> BandTable<'a> {
        self.columns.push(Column::figures(head));
        self.cells.push(Box::new(move |b| {
            let mark = if state.get(b).is_some_and(State::is_bound) { mark } else { "" };
            let value = values.get(b).map(|v| format!("{mark}{}", number(decibels(v), 1)));
            value.unwrap_or_default().into()
        }));
        self
    }

    fn differences(
        self,
        head: impl Into<Text>,
        values: &'a Spectrum<LevelDifference>,
        state: &'a Spectrum<State>,
    ) -> BandTable<'a> {
        self.limited(head, values, (state, "≥ "), |d| d.0)
    }

    fn background(mut self, state: &'a Spectrum<State>) -> BandTable<'a> {
        self.columns.push(Column::words("Background"));
        self.cells
            .push(Box::new(move |b| state.get(b).map(|s| s.word()).unwrap_or_default().into()));
        self
    }

    /// The table over the bands that are asked for.
    pub fn table(self, id: String, caption: String, bands: impl Iterator<Item = Band>) -> Block {
        let rows = bands.map(|b| self.cells.iter().map(|cell| cell(b)).collect()).collect();
        Block::Table(Table {
            id,
            caption: caption.into(),
            columns: self.columns,
            rows,
            ..Table::default()
        })
    }
}

/// Every pair of rooms, then footsteps, then façades; charts for the first `most` of each kind, in a
/// project of hundreds of rooms tables only beyond that.
pub fn blocks(r: &Results<'_>, m: &Measured, most: usize) -> Vec<Block> {
    let mut out = Vec::new();
    for (n, p) in m.pairs.iter().enumerate() {
        out.push(heading(capital(&pair_name(r, p.source, p.receiver, p.state.as_deref()))));
        out.extend((n < most).then(|| figure(&rated::pair_chart(r.building, p, n))));
        out.push(pair(r, p, n));
        out.extend(how_rated(&p.ratings, &p.refused));
    }
    for (n, x) in m.impacts.iter().enumerate() {
        out.push(heading(impact_name(r, x)));
        out.extend((n < most).then(|| figure(&rated::impact_chart(r.building, x, n))));
        out.push(impact(r, x, n));
        out.extend(how_rated(&x.ratings, &x.refused));
    }
    for (n, x) in m.facades.iter().enumerate() {
        out.push(heading(facade_name(r, x)));
        out.extend((n < most).then(|| figure(&rated::facade_chart(r.building, x, n))));
        out.push(facade(r, x, n));
        out.extend(how_rated(&x.ratings, &x.refused));
    }
    out
}

fn heading(text: String) -> Block {
    Block::Heading { level: 3, text: text.into() }
}

fn figure(chart: &BandChart) -> Block {
    // The table below holds the same figures and more.
    Figure::new(|f| chart.draw(f)).into()
}

fn index(letter: &str, i: &str) -> Text {
    Text::from(letter).index(i)
}

fn with_values<T: Copy>(values: &Spectrum<T>) -> impl Iterator<Item = Band> + '_ {
    Band::results().filter(|b| values.get(*b).is_some())
}

/// Levels on both sides and their difference.
fn two_sides(x: &FieldResult) -> BandTable<'_> {
    BandTable::new()
        .levels(index("L", "1"), &x.source_level)
        .levels(index("L", "2"), &x.receiving_level)
        .differences("D", &x.difference, &x.state)
        .deviation(&x.uncertainty)
}

fn assumed(yes: bool) -> &'static str {
    if yes { " The decay times are assumed." } else { "" }
}

fn pair(r: &Results<'_>, p: &MeasuredPair, n: usize) -> Block {
    let name = capital(&pair_name(r, p.source, p.receiver, p.state.as_deref()));
    let x = &p.result;
    let caption = format!(
        "{name}: levels, difference with its standard uncertainty, and the quantities of ISO \
         16283-1, dB; {} in the source room, {} in the receiving room.{}",
        count(x.positions[0], "position", "positions"),
        count(x.positions[1], "position", "positions"),
        assumed(x.decay_assumed),
    );
    two_sides(x)
        .differences(index("D", "nT"), &x.standardized, &x.state)
        .differences("R′", &x.apparent_reduction, &x.state)
        .times(&x.decay)
        .background(&x.state)
        .table(format!("pair-{n}-bands"), caption, with_values(&x.difference))
}

fn impact(r: &Results<'_>, m: &MeasuredImpact, n: usize) -> Block {
    let x = &m.result;
    let caption = format!(
        "{}: levels by ISO 16283-2, dB, with one standard deviation; {}.{}",
        impact_name(r, m),
        count(x.machine_positions, "position of the source", "positions of the source"),
        assumed(x.decay_assumed),
    );
    let limit = |l: Level| l.0;
    BandTable::new()
        .limited(index("L", "i"), &x.level, (&x.state, "≤ "), limit)
        .deviation(&x.uncertainty)
        .limited(index("L′", "nT"), &x.standardized, (&x.state, "≤ "), limit)
        .limited(index("L′", "n"), &x.normalized, (&x.state, "≤ "), limit)
        .times(&x.decay)
        .background(&x.state)
        .table(format!("impact-{n}"), caption, with_values(&x.level))
}

fn facade(r: &Results<'_>, m: &MeasuredFacade, n: usize) -> Block {
    let f = &m.result.field;
    let quantity = match m.result.standardized_2m.is_empty() {
        true => &m.result.reduction,
        false => &m.result.standardized_2m,
    };
    let caption = format!(
        "{}: levels outside and inside, their difference and the quantity of ISO 16283-3, dB.{}",
        facade_name(r, m),
        assumed(f.decay_assumed),
    );
    two_sides(f)
        .differences(symbol(Text::new(), m.result.quantity), quantity, &f.state)
        .times(&f.decay)
        .background(&f.state)
        .table(format!("facade-{n}"), caption, with_values(&f.difference))
}

/// Every rating with its clause, and every one that could not be given with the reason.
fn how_rated(ratings: &[Rating], refused: &[(String, String)]) -> Option<Block> {
    let mut lines: Vec<Text> = ratings
        .iter()
        .map(|x| {
            let least = match x.bound {
                Bound::Exact => "",
                Bound::AtLeast => ", a lower limit",
                Bound::AtMost => ", an upper limit",
            };
            let sum = x.sum_unfavourable.map(|s| {
                format!("; unfavourable deviations {}{THIN}dB in all", number(s.decibels(), 1))
            });
            let worst = x.worst_band.map(|b| format!(", most at {}", frequency(b.nominal())));
            symbol(Text::new(), x.symbol).then(format!(
                ": {} by {}, {}{least}{}{}",
                x.statement,
                x.standard,
                x.clause,
                sum.unwrap_or_default(),
                worst.unwrap_or_default()
            ))
        })
        .collect();
    lines.extend(refused.iter().map(|(rating, why)| {
        Text::from("No ").then(rating.clone()).then(format!(": {}", sentence_case(why)))
    }));
    (!lines.is_empty()).then_some(Block::List(ListKind::Plain, lines))
}

/// Rooms whose decays are drawn, and decays of one band: a third looks like the second.
const MOST_ROOMS: usize = 12;
const MOST_DECAYS: usize = 2;
/// Decays of one band in the tables.
const MOST_ROWS: usize = 12;

/// The decays room by room: a table of what each band's lines say, and the curves.
pub fn decays(r: &Results<'_>) -> Vec<Block> {
    let mut rooms: Vec<_> = r.decays.iter().map(|d| d.room).collect();
    rooms.sort_by_key(|i| i.0);
    rooms.dedup();
    let mut out = Vec::new();
    for room in rooms.iter().take(MOST_ROOMS) {
        let name = r.building.rooms.get(room.0).map_or("", |x| x.name());
        let here: Vec<&DecayDrawn> = r.decays.iter().filter(|d| d.room == *room).collect();
        let mut bands: Vec<Band> = here.iter().map(|d| d.band).collect();
        bands.sort_unstable();
        bands.dedup();
        let of = |band: Band| here.iter().filter(move |d| d.band == band);
        let time = |t: Option<Seconds>| t.map_or_else(|| "–".to_owned(), |t| number(t.0, 2));
        let rows = bands
            .iter()
            .flat_map(|b| of(*b).take(MOST_ROWS))
            .map(|d| {
                vec![
                    Text::from(d.band.nominal()),
                    d.label.clone().into(),
                    time(d.edt).into(),
                    time(d.fit.map(|f| f.t20)).into(),
                    time(d.t30).into(),
                    d.range.map_or_else(|| "–".into(), |x| number(x.0, 0)).into(),
                    d.non_linearity.map_or_else(|| "–".into(), |x| number(x, 1)).into(),
                ]
            })
            .collect();
        out.push(heading(format!("Decays of {name}")));
        out.push(Block::Table(Table {
            id: format!("decay-lines-{}", room.0),
            caption: "What the lines fitted to each decay say, at the middle of each octave (ISO \
                      3382-2); the decay times used are the means above, of all bands."
                .into(),
            columns: vec![
                Column::figures("Hz"),
                Column::words("Decay"),
                Column::figures("EDT, s"),
                Column::figures(Text::from("T").index("20").then(", s")),
                Column::figures(Text::from("T").index("30").then(", s")),
                Column::figures("Above the noise, dB"),
                Column::figures("Not straight, ‰"),
            ],
            rows,
            ..Table::default()
        }));
        let curves: Vec<Block> = bands
            .iter()
            .flat_map(|b| of(*b).filter(|d| d.fit.is_some()).take(MOST_DECAYS))
            .enumerate()
            .map(|(i, d)| {
                let trace = decay_chart(d, format!("decay-{}-{i}", room.0));
                Figure::new(|f| trace.draw(f)).into()
            })
            .collect();
        if curves.is_empty() {
            out.push(Block::Notice("No decay reaches 25 dB down above the noise.".into()));
        } else {
            out.push(Block::Details(format!("Decay curves of {name}"), curves));
        }
    }
    if rooms.len() > MOST_ROOMS {
        let more = count(rooms.len() - MOST_ROOMS, "more room has", "more rooms have");
        out.push(Block::Notice(format!("{more} decays that are not drawn here.").into()));
    }
    out
}

/// One decay: the curve in ink, the line of T20 in dashes where it was fitted, and a little on.
pub fn decay_chart(d: &DecayDrawn, id: String) -> LevelTrace {
    let level = |db: f64| (db > -75.0).then_some(Level(db));
    let mut lines = vec![TimeLine {
        role: Role::Measured,
        label: "recorded".into(),
        start: Seconds(0.0),
        step: d.step,
        values: d.levels.iter().map(|l| level(*l)).collect(),
    }];
    let mut stretches = Vec::new();
    if let Some(f) = d.fit {
        let slope = -60.0 / f.t20.0;
        let points = ((1.25 * (f.to.0 - f.from.0) / d.step.0) as usize).clamp(2, 10_000);
        let at = |k: usize| f.from.0 + k as f64 * d.step.0;
        lines.push(TimeLine {
            role: Role::Predicted,
            label: format!("T20 {} s", number(f.t20.0, 2)),
            start: f.from,
            step: d.step,
            values: (0..points).map(|k| level(f.level + slope * (at(k) - f.middle.0))).collect(),
        });
        stretches.push(Stretch {
            kind: StretchKind::Used,
            from: f.from,
            to: f.to,
            label: "evaluated, −5 to −25 dB".into(),
        });
    }
    LevelTrace {
        words: Words::new(
            id,
            format!("{}, {}", d.label, frequency(d.band.nominal())),
            format!(
                "Decay after {}, filtered backwards in time, energy still to come (Schroeder \
                 1965), noise taken off. ISO 3382-2: T20 from −5 to −25 dB.",
                d.excitation
            ),
        ),
        quantity: "Level re its beginning, dB".into(),
        lines,
        stretches,
    }
}
