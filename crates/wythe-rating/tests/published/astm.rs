//! ASTM E413, E1332, E989. The source of each case stands in the head of
//! `tests/data/ratings_astm.csv`.

use crate::rows::cases;
use wythe_rating::{Decided, Method, Options, Resolution, rate};

#[test]
fn every_row() {
    let cases = cases(include_str!("../data/ratings_astm.csv"));
    for case in &cases {
        let method: Method = case.options["procedure"].parse().unwrap();
        let curve = case.curve_of("X", Resolution::Thirds);
        let rating = rate(&curve, method, &Options::default()).unwrap();
        for expected in &case.outputs {
            let computed = match expected.name.as_str() {
                "rating" | "OITC" | "IIC" => rating.number().unwrap(),
                "OITC_raw" => rating.unrounded.unwrap(),
                "sum_def" => rating.sum_unfavourable.unwrap().decibels(),
                "max_def" => rating.largest_deviation().unwrap().decibels(),
                other => panic!("no test for {other}"),
            };
            expected.check(&case.name, computed);
        }
    }
    assert_eq!(cases.len(), 9);
}

/// E413-22, 5.4.2: a single dip decides although the sum is small.
#[test]
fn the_eight_decibel_rule_is_named() {
    let cases = cases(include_str!("../data/ratings_astm.csv"));
    let case = cases.iter().find(|c| c.name == "e413-edge-8dB").unwrap();
    let curve = case.curve_of("X", Resolution::Thirds);
    let rating = rate(&curve, Method::E413, &Options::default()).unwrap();
    match &rating.decided {
        Decided::BySingleBands { bands, .. } => assert_eq!(bands[0].nominal(), "2500"),
        other => panic!("{other:?}"),
    }
}
