//! `wythe rate`: a band curve and its single numbers.

use std::io::Read;
use std::path::Path;

use serde_json::{Map, Value, json};
use wythe_bands::CubicMetre;
use wythe_project::quantity::{Quantity::Volume as VOLUME, parse};
use wythe_rating::iso717::{LiningBase, ReferenceFloor, lining};
use wythe_rating::may_be_stated;
use wythe_rating::uncertainty::{Number, Promise, iso12999, promise};
use wythe_rating::{
    Bound, Curve, Method, Options, Rating, Resolution, astm, curve, rate, room_noise,
};
use wythe_report::chart::{BandChart, Format, Point, Quantity, Role, Trace, Words};
use wythe_report::report::parts::rating_chart;

use crate::args::{self, Common};
use crate::failure::{Failure, message};
use crate::output::{Done, Table, one, print, print_json, remarks, remarks_text, rounded};
use crate::pictures;

/// A curve is a few hundred bytes; what is larger is another file.
const LARGEST_CURVE: u64 = 1 << 20;

/// Runs the command.
pub fn run(args: &args::Rate, common: &Common) -> Result<Done, Failure> {
    if args.by == "levels" {
        return levels(args, common);
    }
    let method: Method = args.by.parse().map_err(|_| {
        let known: Vec<&str> = Method::ALL.iter().map(|m| m.name()).collect();
        Failure::new(
            format!("there is no method `{}`", args.by),
            format!("use one of {}, levels", known.join(", ")),
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
        quantity: quantity(args)?,
        ..Options::default()
    };
    let curve = read_curve(&args.file)?;
    if let Some(element) = &args.lining {
        return lined(args, &curve, element, method, &options, common);
    }
    let rating = rate(&curve, method, &options)
        .map_err(|e| Failure::file(&args.file, format!("cannot be rated: {e}"), ""))?;
    let said = uncertainty(&rating, &curve, args, &options)?;
    let one = || vec![("rating".to_owned(), rating_chart(&rating).draw(Format::Screen))];
    let drawn = pictures::write(&args.charts, one, "")?;
    if common.json {
        let mut object = record(&rating);
        object["uncertainty"] = said.record();
        print_json(&object)?;
    } else {
        let mut out = text_of(&rating);
        out.push_str(&said.text(args.promise));
        out.push_str(&remarks_text(&rating.remarks));
        out.push_str(&pictures::text(&drawn));
        print(&out)?;
    }
    let kept = said.promise.as_ref().is_none_or(|p| p.probability >= 0.5);
    Ok(Done { attention: !rating.remarks.is_empty() || !kept })
}

fn read_curve(file: &Path) -> Result<Curve, Failure> {
    curve::read(&read_text(file)?).map_err(|errors| {
        Failure::Messages(
            errors
                .iter()
                .map(|e| message(&e.to_string(), Some(&file.display().to_string()), ""))
                .collect(),
        )
    })
}

/// The quantity named by the symbol of its number, where the rooms allow it.
fn quantity(args: &args::Rate) -> Result<Option<wythe_rating::Quantity>, Failure> {
    use wythe_rating::Quantity;
    let Some(word) = &args.quantity else { return Ok(None) };
    let plain = |s: &str| s.replace([',', ' ', '\u{2032}', '\''], "").to_lowercase();
    // The field's prime is not to be lost: R'w is another quantity than Rw.
    let prime = |s: &str| s.contains(['\'', '\u{2032}']);
    let found = Quantity::ALL
        .iter()
        .find(|q| plain(q.symbol()) == plain(word) && prime(q.symbol()) == prime(word));
    let Some(&quantity) = found else {
        let known: Vec<&str> = Quantity::ALL.iter().map(|q| q.symbol()).collect();
        return Err(Failure::new(
            format!("no rated quantity has the symbol `{word}`"),
            format!("use one of {}", known.join("; ")),
        ));
    };
    let volumes = match args.volumes.as_deref() {
        Some([source, receiver]) => {
            let read = |text: &String| {
                parse(VOLUME, text).map(CubicMetre).map_err(|e| {
                    Failure::new(format!("--volumes: {e}"), "write them as \"60 m3\" \"28 m3\"")
                })
            };
            Some((read(source)?, read(receiver)?))
        }
        _ => None,
    };
    let limited = may_be_stated(quantity, CubicMetre(1.0), CubicMetre(1.0)).is_err();
    match volumes {
        None if limited => Err(Failure::new(
            format!("{} may not be stated for every room", quantity.symbol()),
            "give the volumes of source and receiving room: --volumes \"60 m3\" \"28 m3\"",
        )),
        None => Ok(Some(quantity)),
        Some((source, receiver)) => {
            may_be_stated(quantity, source, receiver)
                .map_err(|refusal| Failure::new(refusal.to_string(), ""))?;
            Ok(Some(quantity))
        }
    }
}

/// The improvement of a lining on a basic element.
fn lined(
    args: &args::Rate,
    curve: &Curve,
    element: &str,
    method: Method,
    options: &Options,
    common: &Common,
) -> Result<Done, Failure> {
    if method != Method::Iso717Part1 {
        return Err(Failure::new("a lining is rated by iso717-1", "write --by iso717-1"));
    }
    let (base, words) = match element {
        "heavy-floor" => (LiningBase::HeavyFloor, "heavy floor"),
        "light-wall" => (LiningBase::LightweightWall, "lightweight wall"),
        _ => (LiningBase::HeavyWall, "heavy wall"),
    };
    let found = lining(&base.reduction_index(), curve, options)
        .map_err(|e| Failure::file(&args.file, format!("cannot be rated: {e}"), ""))?;
    let both = || {
        let named =
            |name: &str, rating| (name.to_owned(), rating_chart(rating).draw(Format::Screen));
        vec![named("lined", &found.lined), named("alone", &found.alone)]
    };
    let drawn = pictures::write(&args.charts, both, "")?;
    if common.json {
        let sums: Map<String, Value> = found
            .sums
            .iter()
            .map(|s| (s.key.replace("Xw", "Rw"), number(s.difference.decibels())))
            .collect();
        print_json(&json!({
            "method": method.name(), "symbol": "ΔRw", "rating": number(found.weighted.decibels()),
            "element": words, "standard": found.lined.standard, "clause": "Annexes D and E",
            "sums": sums,
            "alone": record(&found.alone), "lined": record(&found.lined),
            "remarks": remarks(&curve.remarks),
        }))?;
    } else {
        let mut out = format!("ΔRw = {} dB on the {words}\n\n", found.weighted);
        for s in &found.sums {
            out.push_str(&format!("  Δ({}) = {} dB\n", s.key.replace("Xw", "Rw"), s.difference));
        }
        out.push_str(&format!(
            "\n  {}, Annexes D and E: alone {}; lined {}\n",
            found.lined.standard, found.alone.statement, found.lined.statement
        ));
        out.push_str(&remarks_text(&curve.remarks));
        out.push_str(&pictures::text(&drawn));
        print(&out)?;
    }
    Ok(Done { attention: !curve.remarks.is_empty() })
}

/// The bands added up with A, C and Z weighting.
fn levels(args: &args::Rate, common: &Common) -> Result<Done, Failure> {
    let curve = read_curve(&args.file)?;
    let totals = room_noise::weighted_totals(&curve)
        .map_err(|e| Failure::file(&args.file, format!("cannot be added up: {e}"), ""))?
        .ok_or_else(|| Failure::file(&args.file, "has no band to add up", ""))?;
    let rows = [("A", totals.a), ("C", totals.c), ("Z", totals.z)];
    // A sum of limits is a limit; of limits on both sides nothing can be said.
    let has = |bound| curve.iter().any(|(_, e)| e.bound == bound);
    let bound = match (has(Bound::AtLeast), has(Bound::AtMost)) {
        (true, true) => {
            return Err(Failure::file(
                &args.file,
                "holds lower and upper limits; their sum is neither",
                "leave out the bands that are limits on one of the sides",
            ));
        }
        (true, false) => Bound::AtLeast,
        (false, true) => Bound::AtMost,
        (false, false) => Bound::Exact,
    };
    let sign = bound.sign();
    let range = format!("{} to {} Hz", totals.lowest, totals.highest);
    let words: Vec<String> =
        rows.iter().map(|(k, l)| format!("L{k} = {sign}{} dB", one(l.0))).collect();
    let sum = words.join(", ");
    let picture = || vec![("levels".to_owned(), levels_chart(&curve, &sum).draw(Format::Screen))];
    let drawn = pictures::write(&args.charts, picture, "")?;
    if common.json {
        let map: Map<String, Value> =
            rows.iter().map(|(k, l)| (format!("L{k}"), rounded(l.0, 4))).collect();
        print_json(&json!({
            "method": "levels", "standard": "IEC 61672-1", "totals_db": map,
            "range": range,
            "c_minus_a_db": rounded(totals.c_minus_a.0, 4),
            "bound": match bound {
                Bound::Exact => Value::Null,
                Bound::AtLeast => json!("at least"),
                Bound::AtMost => json!("at most"),
            },
            "remarks": remarks(&curve.remarks),
        }))?;
    } else {
        print(&format!(
            "{sum}\n\n  {range}; IEC 61672-1 weightings at the mid-band frequencies, energy sum; C less A is {} dB\n{}{}",
            one(totals.c_minus_a.0),
            remarks_text(&curve.remarks),
            pictures::text(&drawn)
        ))?;
    }
    Ok(Done { attention: !curve.remarks.is_empty() })
}

/// The bands as they stand in the file.
fn levels_chart(curve: &Curve, sum: &str) -> BandChart {
    let words = Words::new(
        "levels",
        sum,
        "Levels per band as given; the sums are weighted by IEC 61672-1 at the mid-band frequencies.",
    );
    let octaves = curve.resolution() == Resolution::Octaves;
    let points: wythe_bands::Spectrum<Point> = curve
        .iter()
        .filter_map(|(midband, e)| {
            let bound = match e.bound {
                Bound::Exact => wythe_report::chart::Bound::Value,
                Bound::AtLeast => wythe_report::chart::Bound::AtLeast,
                Bound::AtMost => wythe_report::chart::Bound::AtMost,
            };
            let point = Point { bound, ..Point::new(e.value) };
            Some((midband.band()?, point))
        })
        .flat_map(|(band, point)| {
            let thirds = match band.octave().filter(|_| octaves) {
                Some(octave) => octave.thirds().to_vec(),
                None => vec![band],
            };
            thirds.into_iter().map(move |b| (b, point))
        })
        .collect();
    let mut chart = BandChart::new(words, Quantity::new("Sound pressure level", "L", ""));
    chart.rating_range = None;
    let bands: Vec<wythe_bands::Band> = points.iter().map(|(b, _)| b).collect();
    if let (Some(first), Some(last)) = (bands.first(), bands.last()) {
        chart.bands = (*first, *last);
    }
    chart.traces.push(Trace::points(Role::Measured, "the levels", points));
    chart
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
