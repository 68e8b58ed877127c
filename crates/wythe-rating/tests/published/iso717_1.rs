//! ISO 717-1: its own annexes, ISO 12354-1, EN 12354, certificates of field tests.
//! The source of each case stands in the head of `tests/data/ratings_iso717_1.csv`.

use crate::rows::{Case, Expected, cases};
use wythe_rating::iso717::{TERMS, lining};
use wythe_rating::{Method, Options, Rating, rate};

fn key_of(name: &str) -> String {
    // The tables write C_50_3150 where the command line writes C50-3150.
    match name.split_once('_') {
        Some((term, range)) => format!("{term}{}", range.replace('_', "-")),
        None => name.to_string(),
    }
}

fn check(case: &Case, expected: &Expected, whole: &Rating, fine: &Rating) {
    let name = expected.name.as_str();
    let (rating, name) = match name.strip_suffix("_1dp") {
        Some(rest) => (fine, rest),
        None => (whole, name),
    };
    let computed = if name == "Xw" {
        rating.value.unwrap().decibels()
    } else if name == "sum_unfav" {
        rating.sum_unfavourable.unwrap().decibels()
    } else if let Some(term) = name.strip_prefix("XA_") {
        rating.term(&key_of(term)).unwrap().unrounded_sum.unwrap()
    } else {
        let key = key_of(name);
        rating.term(&key).unwrap_or_else(|| panic!("{key}")).value.unwrap().decibels()
    };
    expected.check(&case.name, computed);
}

#[test]
fn every_row() {
    let cases = cases(include_str!("../data/ratings_iso717_1.csv"));
    for case in &cases {
        let curve = case.curve("X");
        let fine = Options { one_decimal: true, ..Options::default() };
        match case.options["procedure"].as_str() {
            "iso717-1" => {
                let whole = rate(&curve, Method::Iso717Part1, &Options::default()).unwrap();
                let fine = rate(&curve, Method::Iso717Part1, &fine).unwrap();
                for expected in &case.outputs {
                    check(case, expected, &whole, &fine);
                }
            }
            "iso717-1-lining" => {
                let lining = lining(&curve, &case.curve("dR"), &Options::default()).unwrap();
                assert_eq!(lining.sums.len(), TERMS.len());
                for expected in &case.outputs {
                    let computed = if expected.name == "dXw" {
                        lining.weighted
                    } else {
                        let inner = expected.name.strip_prefix("d(Xw+").unwrap();
                        let key = format!("Xw+{}", key_of(inner.strip_suffix(')').unwrap()));
                        lining.sums.iter().find(|s| s.key == key).unwrap().difference
                    };
                    expected.check(&case.name, computed.decibels());
                }
            }
            other => panic!("no test for {other}"),
        }
    }
    assert_eq!(cases.len(), 19);
}

#[test]
fn table_c_1_as_it_is_printed() {
    let cases = cases(include_str!("../data/ratings_iso717_1.csv"));
    let rating = rate(&cases[0].curve("X"), Method::Iso717Part1, &Options::default()).unwrap();
    assert_eq!(rating.statement, "Rw(C;Ctr) = 30(-2;-3) dB");
    assert_eq!(rating.worst_band.unwrap().nominal(), "3150");
    assert_eq!(rating.rows[0].reference.unwrap().to_string(), "11.0");
    assert!(rating.term("C50-3150").unwrap().value.is_none());
    // Table C.2, the same element with enlarged ranges.
    let rating = rate(&cases[1].curve("X"), Method::Iso717Part1, &Options::default()).unwrap();
    assert_eq!(rating.statement, "Rw(C;Ctr;C50-5000;Ctr50-5000) = 30(-2;-3;-2;-4) dB");
}

/// The standard basic elements shipped with the crate are those of the checks.
#[test]
fn table_e_1_elements() {
    use wythe_rating::iso717::LiningBase;
    let cases = cases(include_str!("../data/ratings_iso717_1.csv"));
    for (name, base) in [
        ("lining-heavy-wall-sloped", LiningBase::HeavyWall),
        ("lining-light-wall-sloped", LiningBase::LightweightWall),
    ] {
        let case = cases.iter().find(|c| c.name == name).unwrap();
        assert_eq!(case.curve("X"), base.reduction_index(), "{name}");
    }
}
