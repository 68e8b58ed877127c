//! `wythe rate`: a band curve and its single numbers.

use std::io::Read;
use std::path::Path;

use serde_json::{Map, Value, json};
use wythe_rating::iso717::ReferenceFloor;
use wythe_rating::{Bound, Method, Options, Rating, Resolution, astm, curve, rate, room_noise};

use crate::args::{self, Common};
use crate::failure::{Failure, message};
use crate::output::{Done, Table, one, print, print_json, remarks, remarks_text, rounded};

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
    if common.json {
        print_json(&record(&rating))?;
    } else {
        print(&text_of(&rating))?;
    }
    Ok(Done { attention: !rating.remarks.is_empty() })
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
    out.push_str(&remarks_text(&rating.remarks));
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
