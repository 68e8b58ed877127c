//! `wythe rate`: a band curve and its single numbers.

use std::io::Read;
use std::path::Path;

use serde_json::{Map, Value, json};
use wythe_rating::iso717::ReferenceFloor;
use wythe_rating::uncertainty::{Number, Promise, iso12999, promise};
use wythe_rating::{
    Bound, Curve, Method, Options, Rating, Resolution, astm, curve, rate, room_noise,
};
use wythe_report::chart::{BandChart, Format, Point, Quantity, Role, Trace, Words, WrongSide};

use crate::args::{self, Common};
use crate::failure::{Failure, message};
use crate::output::{Done, Table, one, print, print_json, remarks, remarks_text, rounded};
use crate::write;

/// A curve is a few hundred bytes; what is larger is another file.
const LARGEST_CURVE: u64 = 1 << 20;

/// Runs the command.
pub fn run(args: &args::Rate, common: &Common) -> Result<Done, Failure> {
    let method: Method = args.by.parse().map_err(|_| {
        let known: Vec<&str> = Method::ALL.iter().map(|m| m.name()).collect();
        Failure::new(
            format!("there is no method `{}`", args.by),
            format!("use one of {}", known.join(", ")),
        )
    })?;
    let floor_improvement = match args.floor_improvement.as_deref() {
        None => None,
        Some(word) => Some(floor(word)?),
    };
    let options = Options {
        one_decimal: args.one_decimal,
        floor_improvement,
        whole_decibels: if args.unrounded {
            astm::DataRounding::OneDecimal
        } else {
            astm::DataRounding::default()
        },
        nc_table: if args.older_table {
            room_noise::NcTable::Classic
        } else {
            room_noise::NcTable::default()
        },
        ..Options::default()
    };
    let text = read_text(&args.file)?;
    let curve = curve::read(&text).map_err(|errors| {
        Failure::Messages(
            errors
                .iter()
                .map(|e| message(&e.to_string(), Some(&args.file.display().to_string()), ""))
                .collect(),
        )
    })?;
    let rating = rate(&curve, method, &options)
        .map_err(|e| Failure::file(&args.file, format!("cannot be rated: {e}"), ""))?;
    let said = uncertainty(&rating, &curve, args, &options)?;
    if let Some(path) = &args.svg {
        write::text(path, &chart(&rating).draw(Format::Screen).standalone())?;
    }
    if common.json {
        let mut object = record(&rating);
        object["uncertainty"] = said.record();
        print_json(&object)?;
    } else {
        let mut out = text_of(&rating);
        out.push_str(&said.text(args.promise));
        out.push_str(&remarks_text(&rating.remarks));
        print(&out)?;
    }
    let kept = said.promise.as_ref().is_none_or(|p| p.probability >= 0.5);
    Ok(Done { attention: !rating.remarks.is_empty() || !kept })
}

/// How sure the number is.
struct Uncertainty {
    situation: &'static str,
    /// Standard uncertainty of the single number by ISO 12999-1, dB.
    standard: Option<f64>,
    promise: Option<Promise>,
}

/// Correlation of the errors of any two bands for a promise: between none (which flatters) and
/// full (which frightens); half and half is this program's choice and said.
const CORRELATION: f64 = 0.5;

fn uncertainty(
    rating: &Rating,
    curve: &Curve,
    args: &args::Rate,
    options: &Options,
) -> Result<Uncertainty, Failure> {
    let (situation, words) = match args.situation.to_lowercase().as_str() {
        "a" => (iso12999::Situation::Laboratory, "A, laboratory, other laboratories"),
        "b" => (iso12999::Situation::InSitu, "B, same building, other teams"),
        "c" => (iso12999::Situation::Repeated, "C, same team repeated"),
        other => {
            return Err(Failure::new(
                format!("there is no situation `{other}`"),
                "use a (laboratory), b (other teams in the same building) or c (repeated)",
            ));
        }
    };
    let name = match rating.method {
        Method::Iso717Part1 => Some("Xw"),
        Method::Iso717Part2 if options.floor_improvement.is_some() => Some("dLw"),
        Method::Iso717Part2 => Some("Lw"),
        _ => None,
    };
    let standard = name.and_then(|n| iso12999::single_number(n, situation));
    let promise = match args.promise {
        None => None,
        Some(promised) => {
            let sd = iso12999::bands_for(rating.method, situation).ok_or_else(|| {
                Failure::new(
                    format!("no band uncertainties are published for {}", rating.method),
                    "a promise can be asked of iso717-1, iso717-2, e413, e989 and e1332",
                )
            })?;
            let found =
                promise(curve, &sd, CORRELATION, rating.method, Number::Rating, options, promised)
                    .map_err(|e| Failure::new(format!("the promise cannot be judged: {e}"), ""))?;
            Some(found)
        }
    };
    Ok(Uncertainty { situation: words, standard, promise })
}

impl Uncertainty {
    fn record(&self) -> Value {
        json!({
            "situation": self.situation,
            "standard_db": self.standard,
            "promise": self.promise.as_ref().map(|p| json!({
                "promised": p.promised,
                "probability_met": rounded(p.probability, 4),
                "weakest_band": p.weakest_band.map(|b| b.nominal()),
                "band_correlation": CORRELATION,
                "remarks": remarks(&p.remarks),
            })),
        })
    }

    fn text(&self, promised: Option<f64>) -> String {
        let mut out = String::new();
        if let Some(u) = self.standard {
            out.push_str(&format!(
                "\n  standard uncertainty {} dB (ISO 12999-1:2020, situation {})\n",
                one(u),
                self.situation
            ));
        }
        if let (Some(p), Some(value)) = (&self.promise, promised) {
            out.push_str(&format!(
                "\n  a promise of {value} is kept with a probability of {}",
                crate::commands::predict::percent(p.probability)
            ));
            if let Some(band) = p.weakest_band {
                out.push_str(&format!(", decided most by {} Hz", band.nominal()));
            }
            out.push_str(
                "\n  (band uncertainties of ISO 12999-1, errors of bands half in common)\n",
            );
            out.push_str(&remarks_text(&p.remarks));
        }
        out
    }
}

/// The curve with its shifted reference; an octave stands over its three thirds.
fn chart(rating: &Rating) -> BandChart {
    let places = |row: &wythe_rating::BandRow| -> Vec<wythe_bands::Band> {
        let Some(band) = row.band.band() else { return Vec::new() };
        match (rating.resolution, band.octave()) {
            (Resolution::Octaves, Some(octave)) => octave.thirds().to_vec(),
            _ => vec![band],
        }
    };
    let words = Words::new(
        "rating",
        rating.statement.clone(),
        format!("{}; the stepped line is the shifted reference curve.", rating.standard),
    );
    let airborne = matches!(rating.method, Method::Iso717Part1 | Method::E413 | Method::E1332);
    let quantity = if airborne {
        Quantity::new("Sound insulation", rating.symbol, "")
    } else {
        Quantity::new("Level", rating.symbol, "")
    };
    let mut chart = BandChart::new(words, quantity);
    let pick = |value: &dyn Fn(&wythe_rating::BandRow) -> Option<f64>| {
        rating
            .rows
            .iter()
            .filter_map(|r| Some((places(r), Point::new(value(r)?))))
            .flat_map(|(bands, point)| bands.into_iter().map(move |b| (b, point)))
            .collect()
    };
    chart.traces.push(Trace::points(
        Role::Measured,
        "the curve",
        pick(&|r| Some(r.value.decibels())),
    ));
    chart.traces.push(Trace::points(
        Role::Required,
        "reference",
        pick(&|r| r.reference.map(|v| v.decibels())),
    ));
    let bands: Vec<wythe_bands::Band> = rating.rows.iter().flat_map(places).collect();
    if let (Some(first), Some(last)) = (bands.first(), bands.last()) {
        chart.bands = (*first, *last);
    }
    chart.wrong = Some(if airborne { WrongSide::Below } else { WrongSide::Above });
    chart
}

const FLOORS: [ReferenceFloor; 4] = [
    ReferenceFloor::Heavyweight,
    ReferenceFloor::Lightweight1,
    ReferenceFloor::Lightweight2,
    ReferenceFloor::Lightweight3,
];

fn floor(word: &str) -> Result<ReferenceFloor, Failure> {
    FLOORS.into_iter().find(|f| f.word() == word).ok_or_else(|| {
        let known: Vec<&str> = FLOORS.iter().map(|f| f.word()).collect();
        Failure::new(
            format!("there is no reference floor `{word}`"),
            format!("use one of {}", known.join(", ")),
        )
    })
}

/// Reads a small text file or standard input (`-`).
pub fn read_text(path: &Path) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    if path.as_os_str() == "-" {
        std::io::stdin().take(LARGEST_CURVE + 1).read_to_end(&mut bytes)?;
    } else {
        let file = std::fs::File::open(path).map_err(|e| Failure::unreadable(path, &e))?;
        file.take(LARGEST_CURVE + 1)
            .read_to_end(&mut bytes)
            .map_err(|e| Failure::unreadable(path, &e))?;
    }
    if bytes.len() as u64 > LARGEST_CURVE {
        return Err(Failure::file(
            path,
            "is larger than 1 MiB, which no table of bands is",
            "give a text file with two columns, frequency and value",
        ));
    }
    String::from_utf8(bytes)
        .map_err(|_| Failure::file(path, "is not text", "save it as CSV with the encoding UTF-8"))
}

/// The record of the command line's contract.
pub fn record(rating: &Rating) -> Value {
    let terms: Map<String, Value> = rating
        .terms
        .iter()
        .map(|t| {
            let value = t.value.map_or(Value::Null, |v| number(v.decibels()));
            (t.key.to_owned(), value)
        })
        .collect();
    let mut reference = Map::new();
    let mut deviation = Map::new();
    let mut plus = Map::new();
    let mut minus = Map::new();
    for row in &rating.rows {
        let band = row.band.nominal().to_owned();
        if let Some(r) = row.reference {
            reference.insert(band.clone(), number(r.decibels()));
        }
        if let Some(d) = row.deviation {
            deviation.insert(band.clone(), number(d.decibels()));
        }
        plus.insert(band.clone(), number(row.plus_one.decibels()));
        minus.insert(band, number(row.minus_one.decibels()));
    }
    json!({
        "method": rating.method.name(),
        "symbol": rating.symbol,
        "standard": rating.standard,
        "clause": rating.clause,
        "rating": rating.number().map_or(Value::Null, number),
        "bound": match rating.bound {
            Bound::Exact => Value::Null,
            Bound::AtLeast => json!("at least"),
            Bound::AtMost => json!("at most"),
        },
        "unrounded": rating.unrounded.map_or(Value::Null, |v| rounded(v, 4)),
        "statement": rating.statement,
        "resolution": match rating.resolution {
            Resolution::Thirds => "thirds",
            Resolution::Octaves => "octaves",
        },
        "terms": terms,
        "sum_unfavourable_db":
            rating.sum_unfavourable.map_or(Value::Null, |s| number(s.decibels())),
        "worst_band": rating.worst_band.map(|b| b.nominal()),
        "reference_db": reference,
        "deviation_db": deviation,
        "one_more_db": plus,
        "one_less_db": minus,
        "remarks": remarks(&rating.remarks),
    })
}

/// A whole number as an integer, else with its decimals.
fn number(value: f64) -> Value {
    if value == value.trunc() && value.abs() < 1e9 {
        json!(value as i64)
    } else {
        rounded(value, 4)
    }
}

fn text_of(rating: &Rating) -> String {
    let mut out = format!("{}\n\n", rating.statement);
    out.push_str(&format!("  {}; {}\n", rating.standard, rating.clause));
    if let Some(sum) = rating.sum_unfavourable {
        out.push_str(&format!("  sum of unfavourable deviations {sum} dB"));
        if let Some(band) = rating.worst_band {
            out.push_str(&format!(", most at {} Hz", band.nominal()));
        }
        out.push('\n');
    } else if let Some(band) = rating.worst_band {
        out.push_str(&format!("  decided at {} Hz\n", band.nominal()));
    }
    out.push('\n');
    let mut table =
        Table::new(0, &["Hz", "value", "reference", "deviation", "if 1 dB more", "if 1 dB less"]);
    for row in &rating.rows {
        let mark = match row.bound {
            Bound::Exact => String::new(),
            bound => format!("{} ", bound.sign()),
        };
        table.row(vec![
            row.band.nominal().to_owned(),
            format!("{mark}{}", one(row.value.decibels())),
            row.reference.map(|r| one(r.decibels())).unwrap_or_default(),
            row.deviation.filter(|d| d.0 != 0).map(|d| one(d.decibels())).unwrap_or_default(),
            change(row.plus_one.decibels()),
            change(row.minus_one.decibels()),
        ]);
    }
    out.push_str(&table.text());
    let terms: Vec<String> = rating
        .terms
        .iter()
        .filter_map(|t| {
            let value = t.value?;
            let sum = t.sum.map(|s| format!(" (sum {s})")).unwrap_or_default();
            Some(format!("{} {value}{sum}", t.key))
        })
        .collect();
    if !terms.is_empty() {
        out.push_str(&format!("\n  {}\n", terms.join(", ")));
    }
    out
}

/// Change of a rating: nothing where it does not change.
fn change(value: f64) -> String {
    if value == 0.0 {
        "·".to_owned()
    } else if value > 0.0 {
        format!("+{}", crate::output::decimals(value, if value.fract() == 0.0 { 0 } else { 1 }))
    } else {
        crate::output::decimals(value, if value.fract() == 0.0 { 0 } else { 1 })
    }
}
