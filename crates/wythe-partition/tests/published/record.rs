//! The published record, tests/data/lab_tl.csv: errors by family, held where they are today.
//! `cargo run --release -p wythe-partition --example record` prints the table.

use wythe_partition::{Conditions, predict};

use crate::support::{Kind, record, stc};

struct Errors {
    bands: Vec<f64>,
    middle: Vec<f64>,
    stc: Vec<f64>,
}

fn errors(kind: Kind) -> Errors {
    let mut out = Errors { bands: Vec::new(), middle: Vec::new(), stc: Vec::new() };
    for row in record().iter().filter(|r| r.kind == kind) {
        let p = predict(&row.build_up, &Conditions::default()).unwrap();
        let octaves = p.reduction.to_octaves();
        for (o, v) in row.octaves.iter() {
            let e = octaves.get(o).unwrap().0 - v.0;
            out.bands.push(e);
            if (2..=7).contains(&o.index()) {
                out.middle.push(e);
            }
        }
        if let (Some(printed), Some(ours)) = (row.stc, stc(&p.reduction)) {
            out.stc.push(ours - printed);
        }
    }
    out
}

fn rms(v: &[f64]) -> f64 {
    (v.iter().map(|x| x * x).sum::<f64>() / v.len() as f64).sqrt()
}

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len() as f64
}

#[test]
fn thin_single_leaves() {
    let e = errors(Kind::Thin);
    assert!(e.bands.len() > 90 && rms(&e.bands) <= 4.6, "{}", rms(&e.bands));
    assert!(mean(&e.bands).abs() <= 1.0 && rms(&e.stc) <= 2.5, "{}", rms(&e.stc));
}

#[test]
fn heavy_single_leaves() {
    let e = errors(Kind::Heavy);
    assert!(e.middle.len() > 50 && rms(&e.middle) <= 5.05, "{}", rms(&e.middle));
    // 3.0 is the goal; without the one row of 19 mm glass (31 in one source, where another has 36
    // for 12 mm) it is 2.5.
    assert!(mean(&e.bands).abs() <= 1.2 && rms(&e.stc) <= 3.05, "{}", rms(&e.stc));
}

#[test]
fn stud_walls() {
    let e = errors(Kind::Stud);
    assert!(e.middle.len() > 60 && rms(&e.middle) <= 5.0, "{}", rms(&e.middle));
    assert!(mean(&e.bands).abs() <= 1.0 && rms(&e.stc) <= 2.5, "{}", rms(&e.stc));
    assert!(e.stc.iter().all(|s| s.abs() <= 7.0));
}

#[test]
fn double_glazing() {
    let e = errors(Kind::Glazing);
    assert!(rms(&e.stc) <= 2.5, "{}", rms(&e.stc));
    assert!(mean(&e.bands).abs() <= 1.0, "{}", mean(&e.bands));
}

/// The stated intervals against the same rows. The honest test leaves the row's source out and is
/// made by the program that writes the deviations; this one holds the table to the code.
#[test]
fn stated_intervals_hold_about_as_often_as_they_say() {
    let (mut one, mut ninety, mut n) = (0.0, 0.0, 0.0);
    for row in record() {
        let p = predict(&row.build_up, &Conditions::default()).unwrap();
        let octaves = p.reduction.to_octaves();
        for (o, v) in row.octaves.iter() {
            let sd = p.deviation.get(o.centre_band()).unwrap().0;
            let error = (octaves.get(o).unwrap().0 - v.0).abs();
            one += f64::from(u8::from(error <= sd));
            ninety += f64::from(u8::from(error <= 1.645 * sd));
            n += 1.0;
        }
    }
    let (one, ninety) = (one / n, ninety / n);
    assert!((0.60..=0.80).contains(&one), "{one}");
    assert!((0.85..=0.97).contains(&ninety), "{ninety}");
}
