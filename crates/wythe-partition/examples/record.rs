//! Compares every prediction with the published record.
//!
//! `cargo run --release -p wythe-partition --example record` prints the table by family and
//! octave. `-- --rows` lists every row, `-- --fit` searches the fitted figures anew.

use wythe_bands::{LevelDifference, Octave, Spectrum};
use wythe_partition::{Conditions, FITTED, Fitted, predict_with};

#[path = "../tests/support/mod.rs"]
mod support;
use support::{Kind, Row, record, stc};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let has = |w: &str| words.iter().any(|a| a == w);
    let rows = record();
    let mut fitted = FITTED;
    if has("--fit") {
        fitted = fit(&rows, fitted);
        println!("{fitted:#?}");
    }
    let errors = evaluate(&rows, &fitted);
    if has("--rows") {
        list(&rows, &errors);
    }
    table(&rows, &errors);
}

/// What a row was off by: per octave and in STC, predicted − published.
struct Errors {
    predicted: Spectrum<LevelDifference>,
    octaves: Vec<(Octave, f64)>,
    stc: Option<f64>,
}

fn evaluate(rows: &[Row], fitted: &Fitted) -> Vec<Errors> {
    rows.iter()
        .map(|row| {
            let p = predict_with(&row.build_up, &Conditions::default(), fitted)
                .unwrap_or_else(|e| panic!("{}: {e}", row.id));
            let octaves = p.reduction.to_octaves();
            Errors {
                predicted: p.reduction,
                octaves: row
                    .octaves
                    .iter()
                    .filter_map(|(o, v)| octaves.get(o).map(|p| (o, p.0 - v.0)))
                    .collect(),
                stc: row.stc.and_then(|s| stc(&p.reduction).map(|p| p - s)),
            }
        })
        .collect()
}

fn mean_rms(values: &[f64]) -> (f64, f64) {
    let n = values.len().max(1) as f64;
    (values.iter().sum::<f64>() / n, (values.iter().map(|v| v * v).sum::<f64>() / n).sqrt())
}

fn list(rows: &[Row], errors: &[Errors]) {
    for (row, e) in rows.iter().zip(errors) {
        print!("{:34} {:4.4}", row.id.trim_start_matches("harr"), format!("{:?}", row.kind));
        for (o, d) in &e.octaves {
            print!(" {}:{d:+.0}", o.nominal());
        }
        if let Some(d) = e.stc {
            print!("  STC {:+.0} ({:.0})", d, row.stc.unwrap_or(0.0));
        }
        println!("   {}", row.description);
    }
}

fn table(rows: &[Row], errors: &[Errors]) {
    for kind in Kind::ALL {
        let of: Vec<&Errors> =
            rows.iter().zip(errors).filter(|(r, _)| r.kind == kind).map(|(_, e)| e).collect();
        let bands: Vec<f64> = of.iter().flat_map(|e| e.octaves.iter().map(|o| o.1)).collect();
        let middle: Vec<f64> = of
            .iter()
            .flat_map(|e| e.octaves.iter())
            .filter(|(o, _)| (2..=7).contains(&o.index()))
            .map(|o| o.1)
            .collect();
        let stcs: Vec<f64> = of.iter().filter_map(|e| e.stc).collect();
        let (m, r) = mean_rms(&bands);
        let (mm, rr) = mean_rms(&middle);
        let (sm, sr) = mean_rms(&stcs);
        let worst = stcs.iter().fold(0.0f64, |a, s| if s.abs() > a.abs() { *s } else { a });
        println!(
            "{:18} bands n {:3} mean {m:+.1} RMS {r:.1} | 125-4000: {mm:+.1} {rr:.1} | STC n {:2} mean {sm:+.1} RMS {sr:.1} worst {worst:+.0}",
            kind.word(),
            bands.len(),
            stcs.len(),
        );
        print!("   ");
        for o in Octave::all() {
            let of: Vec<f64> = of
                .iter()
                .flat_map(|e| e.octaves.iter())
                .filter(|(p, _)| *p == o)
                .map(|o| o.1)
                .collect();
            if !of.is_empty() {
                let (m, r) = mean_rms(&of);
                print!(" {}({}):{m:+.1}/{r:.1}", o.nominal(), of.len());
            }
        }
        println!();
    }
}

/// Sum of squared errors, each family weighing the same; an STC error counts as three bands.
fn cost(rows: &[Row], fitted: &Fitted) -> f64 {
    let errors = evaluate(rows, fitted);
    Kind::ALL
        .iter()
        .map(|kind| {
            let mut sum = 0.0;
            let mut n = 0.0;
            for (row, e) in rows.iter().zip(&errors) {
                if row.kind != *kind {
                    continue;
                }
                for (o, d) in &e.octaves {
                    let weight = if (2..=7).contains(&o.index()) { 1.0 } else { 0.4 };
                    // Beyond 12 dB a row is wrong in another way than a figure can mend.
                    sum += weight * d.abs().min(12.0).powi(2);
                    n += weight;
                }
                if let Some(d) = e.stc {
                    sum += 3.0 * d.abs().min(10.0).powi(2);
                    n += 3.0;
                }
            }
            sum / f64::max(n, 1.0)
        })
        .sum()
}

type Knob = (&'static str, fn(&mut Fitted) -> &mut f64, bool);

/// The figures that the search may turn; `true` where they are scaled, else shifted.
const KNOBS: &[Knob] = &[
    ("empty_loss", |f| &mut f.empty_loss, true),
    ("empty_loss_fall", |f| &mut f.empty_loss_fall, false),
    ("steel_compliance", |f| &mut f.steel_compliance, true),
    ("steel_fall", |f| &mut f.steel_fall, false),
    ("load_bearing_compliance", |f| &mut f.load_bearing_compliance, true),
    ("timber_compliance", |f| &mut f.timber_compliance, true),
    ("channel_compliance", |f| &mut f.channel_compliance, true),
    ("channel_fall", |f| &mut f.channel_fall, false),
    ("plates_compliance", |f| &mut f.plates_compliance, true),
    ("separate_compliance", |f| &mut f.separate_compliance, true),
    ("window_compliance", |f| &mut f.window_compliance, true),
    ("separate_window_compliance", |f| &mut f.separate_window_compliance, true),
    ("perimeter", |f| &mut f.perimeter, false),
    ("perimeter_rise", |f| &mut f.perimeter_rise, false),
    ("heavy_perimeter", |f| &mut f.heavy_perimeter, false),
    ("heavy_perimeter_rise", |f| &mut f.heavy_perimeter_rise, false),
    ("heavy_loss", |f| &mut f.heavy_loss, true),
    ("fixing_loss", |f| &mut f.fixing_loss, false),
    ("bay", |f| &mut f.bay, false),
];

/// Coordinate search.
fn fit(rows: &[Row], start: Fitted) -> Fitted {
    let mut best = start;
    let mut least = cost(rows, &best);
    println!("start {least:.2}");
    let mut step = 1.0;
    for round in 0..6 {
        for (name, knob, scaled) in KNOBS {
            for sign in [1.0, -1.0] {
                for _ in 0..4 {
                    let mut tried = best;
                    let value = knob(&mut tried);
                    if *scaled {
                        *value *= 2f64.powf(sign * step);
                    } else {
                        let unit = if name.contains("perimeter") && !name.contains("rise") {
                            3.0
                        } else if name.contains("fixing") {
                            0.02
                        } else {
                            0.3
                        };
                        *value += sign * step * unit;
                        if !name.contains("rise") && *value < 0.0 {
                            break;
                        }
                    }
                    if *name == "bay" && *value > 1.0 {
                        break;
                    }
                    let c = cost(rows, &tried);
                    if c < least - 1e-4 {
                        least = c;
                        best = tried;
                    } else {
                        break;
                    }
                }
            }
        }
        println!("round {round} step {step} cost {least:.3}");
        step *= 0.6;
    }
    best
}
