//! ISO 717-2: its own annex and Table 4, ISO 12354-2, a certificate of a field test.
//! The source of each case stands in the head of `tests/data/ratings_iso717_2.csv`.

use crate::rows::cases;
use wythe_rating::iso717::ReferenceFloor;
use wythe_rating::{Method, Options, rate};

#[test]
fn every_row() {
    let cases = cases(include_str!("../data/ratings_iso717_2.csv"));
    for case in &cases {
        let delta = match case.options["procedure"].as_str() {
            "iso717-2" => false,
            "iso717-2-delta" => true,
            other => panic!("no test for {other}"),
        };
        let floor = case.options.get("floor").map(|f| match f.as_str() {
            "heavy" => ReferenceFloor::Heavyweight,
            other => panic!("no floor {other}"),
        });
        let curve = case.curve(if delta { "dL" } else { "X" });
        let options = Options { floor_improvement: floor, ..Options::default() };
        let whole = rate(&curve, Method::Iso717Part2, &options).unwrap();
        let fine = Options { one_decimal: true, ..options };
        let fine = rate(&curve, Method::Iso717Part2, &fine).unwrap();
        for expected in &case.outputs {
            let (rating, name) = match expected.name.strip_suffix("_1dp") {
                Some(rest) => (&fine, rest),
                None => (&whole, expected.name.as_str()),
            };
            let computed = match name {
                "Lw" | "dLw" => rating.value.unwrap().decibels(),
                "sum_unfav" => rating.sum_unfavourable.unwrap().decibels(),
                term => rating.term(term).unwrap().value.unwrap().decibels(),
            };
            expected.check(&case.name, computed);
        }
    }
    assert_eq!(cases.len(), 9);
}

/// ISO 717-2, Table 4, right-hand columns: ratings of the bare reference floors.
#[test]
fn table_4_reference_floors() {
    use ReferenceFloor::{Heavyweight, Lightweight1, Lightweight2, Lightweight3};
    for (floor, whole, ci, fine, fine_ci) in [
        (Heavyweight, "78", "-11", "77.6", Some("-10.3")),
        (Lightweight1, "72", "0", "71.8", None),
        (Lightweight2, "72", "0", "71.8", None),
        (Lightweight3, "75", "-3", "75.0", Some("-2.8")),
    ] {
        let one = Options { one_decimal: true, ..Options::default() };
        let rated = rate(&floor.level(), Method::Iso717Part2, &Options::default()).unwrap();
        let finely = rate(&floor.level(), Method::Iso717Part2, &one).unwrap();
        assert_eq!(rated.value.unwrap().to_string(), whole);
        assert_eq!(rated.term("CI").unwrap().value.unwrap().to_string(), ci);
        assert_eq!(finely.value.unwrap().to_string(), fine);
        if let Some(ci) = fine_ci {
            assert_eq!(finely.term("CI").unwrap().value.unwrap().to_string(), ci);
        }
    }
}
