//! A curve with the reference it is rated by: of a file, of two rooms, of footsteps, of a façade.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::{Building, RoomIndex};
use wythe_fieldtest::State;
use wythe_findings::{Measured, MeasuredFacade, MeasuredImpact, MeasuredPair};
use wythe_rating::{BandRow, Method, Rating, Resolution};

use super::words::capital;
use crate::chart::{BandChart, Bound, Point, Quantity, Role, Trace, Words, WrongSide, id};

/// Bands of a row: an octave stands over its three thirds.
fn places(rating: &Rating, row: &BandRow) -> Vec<Band> {
    let Some(band) = row.band.band() else { return Vec::new() };
    match (rating.resolution, band.octave()) {
        (Resolution::Octaves, Some(octave)) => octave.thirds().to_vec(),
        _ => vec![band],
    }
}

fn points(rating: &Rating, value: impl Fn(&BandRow) -> Option<f64>) -> Spectrum<Point> {
    rating
        .rows
        .iter()
        .filter_map(|row| Some((places(rating, row), Point::new(value(row)?))))
        .flat_map(|(bands, point)| bands.into_iter().map(move |b| (b, point)))
        .collect()
}

/// The shifted reference of a rating as a trace; empty for rules that only add energies.
fn reference(rating: &Rating) -> Trace {
    let values = points(rating, |row| row.reference.map(|v| v.decibels()));
    Trace::points(Role::Required, "reference", values)
}

/// Whether more of the rated quantity is better.
fn airborne(rating: &Rating) -> bool {
    matches!(rating.method, Method::Iso717Part1 | Method::E413 | Method::E1332)
}

fn wrong_side(rating: &Rating) -> WrongSide {
    if airborne(rating) { WrongSide::Below } else { WrongSide::Above }
}

/// A rated curve with its shifted reference.
pub fn rating_chart(rating: &Rating) -> BandChart {
    let words = Words::new(
        "rating",
        rating.statement.clone(),
        format!(
            "{}; the stepped line is the shifted reference curve.{}",
            rating.standard,
            match rating.resolution {
                Resolution::Octaves => " The values are of octaves, each over its three thirds.",
                Resolution::Thirds => "",
            }
        ),
    );
    let quantity = if airborne(rating) {
        Quantity::new("Sound insulation", rating.symbol, "")
    } else {
        let impact = matches!(rating.method, Method::Iso717Part2 | Method::E989);
        Quantity::new("Level", if impact { rating.symbol } else { "L" }, "")
    };
    let mut chart = BandChart::new(words, quantity);
    let curve = points(rating, |row| Some(row.value.decibels()));
    chart.traces.push(Trace::points(Role::Measured, "the curve", curve));
    chart.traces.push(reference(rating));
    let bands: Vec<Band> = rating.rows.iter().flat_map(|row| places(rating, row)).collect();
    if let (Some(first), Some(last)) = (bands.first(), bands.last()) {
        chart.bands = (*first, *last);
    }
    chart.wrong = Some(wrong_side(rating));
    chart
}

/// Every recorded result as a chart, under a name that is fit for a file: pairs of rooms, then
/// footsteps, then façades.
pub fn recorded_charts(b: &Building, m: &Measured) -> Vec<(String, BandChart)> {
    let mut out = Vec::new();
    for (n, p) in m.pairs.iter().enumerate() {
        out.push((file_name(b, "", p.source, p.receiver, p.state.as_deref()), pair_chart(b, p, n)));
    }
    for (n, x) in m.impacts.iter().enumerate() {
        let name = file_name(b, "footsteps-", x.source, x.receiver, x.state.as_deref());
        out.push((name, impact_chart(b, x, n)));
    }
    for (n, x) in m.facades.iter().enumerate() {
        let name = file_name(b, "facade-", x.source, x.receiver, x.state.as_deref());
        out.push((name, facade_chart(b, x, n)));
    }
    out
}

/// Ids of two rooms and the state of the building as the stem of a file's name.
pub fn file_name(
    b: &Building,
    before: &str,
    source: RoomIndex,
    receiver: RoomIndex,
    state: Option<&str>,
) -> String {
    let room = |i: RoomIndex| b.rooms.get(i.0).map_or("", |r| r.id.as_str());
    let state = state.map(|s| format!("-{s}")).unwrap_or_default();
    id(&format!("{before}{}-to-{}{state}", room(source), room(receiver)))
}

/// What a chart of a recorded result is drawn from.
struct Recorded<'a> {
    id: String,
    /// The rooms and the state, beginning with a capital.
    name: String,
    what: &'static str,
    symbol: (&'static str, &'static str),
    curve: Trace,
    state: &'a Spectrum<State>,
    rating: Option<&'a Rating>,
    more_is_better: bool,
    /// What is to be known of the curve.
    said: String,
}

impl Recorded<'_> {
    fn chart(self) -> BandChart {
        let limit = if self.more_is_better { Bound::AtLeast } else { Bound::AtMost };
        let title = match self.rating {
            Some(rating) => format!("{}: {}", self.name, rating.statement),
            None => format!("{}: not rated", self.name),
        };
        let contour = self.rating.map(reference).filter(|t| !t.points.is_empty());
        let drawn = match (&contour, self.rating) {
            (Some(_), Some(r)) => {
                format!(" The stepped line is the reference of {}, shifted.", r.standard)
            }
            _ => String::new(),
        };
        let bounds = match self.more_is_better {
            true => "lies above, because the background was too near",
            false => "lies below, because the background was too near",
        };
        let hidden = if self.state.iter().any(|(_, s)| s.is_bound()) {
            format!(" An open triangle says that the true value {bounds}.")
        } else {
            String::new()
        };
        let caption = format!("{}{drawn}{hidden}", self.said);
        let words = Words::new(self.id, title, caption);
        let (letter, index) = self.symbol;
        let mut chart = BandChart::new(words, Quantity::new(self.what, letter, index));
        let state = *self.state;
        chart.traces.push(self.curve.with_bounds(|band| {
            match state.get(band).is_some_and(State::is_bound) {
                true => limit,
                false => Bound::Value,
            }
        }));
        chart.wrong = contour.is_some().then_some(match self.more_is_better {
            true => WrongSide::Below,
            false => WrongSide::Above,
        });
        chart.traces.extend(contour);
        chart
    }
}

fn rooms_named(
    b: &Building,
    source: RoomIndex,
    receiver: RoomIndex,
    state: Option<&str>,
) -> String {
    let name = |i: RoomIndex| b.rooms.get(i.0).map_or("", |r| r.name());
    let state = state.map(|s| format!(", {s}")).unwrap_or_default();
    capital(&format!("{} to {}{state}", name(source), name(receiver)))
}

/// The rating of the first of these symbols that was given.
fn rated<'a>(ratings: &'a [Rating], symbols: &[&str]) -> Option<&'a Rating> {
    symbols.iter().find_map(|s| ratings.iter().find(|r| r.symbol == *s))
}

fn decay(assumed: bool) -> &'static str {
    if assumed { " The decay times are assumed." } else { "" }
}

/// The level difference of two rooms, standardized where its rating could be given, with the
/// reference it is rated by.
pub fn pair_chart(b: &Building, p: &MeasuredPair, number: usize) -> BandChart {
    let x = &p.result;
    let rating = rated(&p.ratings, &["DnT,w", "NIC"]).or(p.ratings.first());
    let standardized = rating.is_some_and(|r| r.symbol == "DnT,w");
    let (values, deviation, symbol, what): (
        &Spectrum<LevelDifference>,
        &Spectrum<LevelDifference>,
        (&str, &str),
        &str,
    ) = match standardized {
        true => (
            &x.standardized,
            &x.standardized_uncertainty,
            ("D", "nT"),
            "Standardized level difference",
        ),
        false => (&x.difference, &x.uncertainty, ("D", ""), "Level difference"),
    };
    Recorded {
        id: format!("recorded-{number}"),
        name: rooms_named(b, p.source, p.receiver, p.state.as_deref()),
        what,
        symbol,
        curve: Trace::differences(Role::Measured, "recorded", values).with_uncertainty(deviation),
        state: &x.state,
        // A contour belongs to the curve it rates.
        rating: rating.filter(|r| standardized || r.symbol == "NIC"),
        more_is_better: true,
        said: format!(
            "Recorded by ISO 16283-1, with one standard deviation; higher is better.{}",
            if standardized { decay(x.decay_assumed) } else { "" }
        ),
    }
    .chart()
}

/// Levels of footsteps with the reference they are rated by.
pub fn impact_chart(b: &Building, x: &MeasuredImpact, number: usize) -> BandChart {
    let r = &x.result;
    let rating = rated(&x.ratings, &["L'nT,w"]);
    let (values, deviation, symbol) = match rating {
        Some(_) => (&r.standardized, &r.standardized_uncertainty, ("L\u{2032}", "nT")),
        None => (&r.level, &r.uncertainty, ("L", "i")),
    };
    Recorded {
        id: format!("footsteps-{number}"),
        name: format!("Footsteps, {}", rooms_named(b, x.source, x.receiver, x.state.as_deref())),
        what: "Impact sound pressure level",
        symbol,
        curve: Trace::levels(Role::Measured, "recorded", values).with_uncertainty(deviation),
        state: &r.state,
        rating,
        more_is_better: false,
        said: format!(
            "Recorded by ISO 16283-2, with one standard deviation; lower is better.{}",
            decay(r.decay_assumed)
        ),
    }
    .chart()
}

/// The quantity of a façade with the reference it is rated by.
pub fn facade_chart(b: &Building, x: &MeasuredFacade, number: usize) -> BandChart {
    let f = &x.result.field;
    let two_metres = !x.result.standardized_2m.is_empty();
    let (values, deviation, symbol, what) = if two_metres {
        let d = &f.standardized_uncertainty;
        (&x.result.standardized_2m, d, ("D", "2m,nT"), "Standardized level difference")
    } else if x.result.reduction.is_empty() {
        (&f.difference, &f.uncertainty, ("D", ""), "Level difference")
    } else {
        let d = &f.apparent_reduction_uncertainty;
        let index = x.result.quantity.trim_start_matches(['R', '\'', '\u{2032}']);
        (&x.result.reduction, d, ("R\u{2032}", index), "Apparent sound reduction index")
    };
    Recorded {
        id: format!("facade-{number}"),
        name: format!("Façade, {}", rooms_named(b, x.source, x.receiver, x.state.as_deref())),
        what,
        symbol,
        curve: Trace::differences(Role::Measured, "recorded", values).with_uncertainty(deviation),
        state: &f.state,
        rating: x.ratings.first(),
        more_is_better: true,
        said: format!(
            "Recorded by ISO 16283-3, with one standard deviation; higher is better.{}",
            decay(f.decay_assumed)
        ),
    }
    .chart()
}
