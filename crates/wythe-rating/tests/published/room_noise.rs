//! NC, NR and RC. The source of each case stands in the head of
//! `tests/data/ratings_criteria.csv` and beside each row of `tests/data/criteria_room_noise.csv`.

use crate::rows::{cases, table};
use wythe_rating::room_noise::{NcRule, NcTable, nc_curve, nr_curve, weighted_totals};
use wythe_rating::{Curve, Method, Midband, Options, Resolution, rate};

#[test]
fn every_row_of_the_curves() {
    let cases = cases(include_str!("../data/ratings_criteria.csv"));
    for case in &cases {
        let procedure = case.options["procedure"].as_str();
        if procedure == "nr-curve" {
            for expected in &case.outputs {
                let band = Midband::from_nominal(&expected.band).unwrap();
                let level = nr_curve::level(case.scalar("NR"), band).unwrap();
                expected.check(&case.name, level);
            }
            continue;
        }
        let nc_table = match case.options.get("table").map(String::as_str) {
            Some("classic") => NcTable::Classic,
            _ => NcTable::S12Of2019,
        };
        let method: Method = procedure.parse().unwrap();
        let curve = case.curve_of("L", Resolution::Octaves);
        for nc_rule in [NcRule::Tangency, NcRule::SpeechInterferenceFirst] {
            let options = Options { nc_table, nc_rule, ..Options::default() };
            let rating = rate(&curve, method, &options).unwrap();
            for expected in &case.outputs {
                let computed = match expected.name.as_str() {
                    "NC" | "RC" | "NR" => rating.number().unwrap(),
                    "NC_band" | "NR_band" => rating.worst_band.unwrap().nominal().parse().unwrap(),
                    "LMF" => rating.unrounded.unwrap(),
                    "tag" => {
                        let end = format!("({})", expected.value);
                        assert!(rating.statement.ends_with(&end), "{}", rating.statement);
                        continue;
                    }
                    other => panic!("no test for {other}"),
                };
                expected.check(&case.name, computed);
            }
        }
    }
    assert_eq!(cases.len(), 8);
}

#[test]
fn every_row_of_the_rooms() {
    let rows = table(include_str!("../data/criteria_room_noise.csv"));
    for row in &rows {
        let bands = [
            ("L31_5", "31.5"),
            ("L63", "63"),
            ("L125", "125"),
            ("L250", "250"),
            ("L500", "500"),
            ("L1k", "1000"),
            ("L2k", "2000"),
            ("L4k", "4000"),
            ("L8k", "8000"),
        ];
        let curve = Curve::from_pairs(
            Resolution::Octaves,
            bands.iter().filter(|(column, _)| !row[*column].is_empty()).map(|(column, name)| {
                (Midband::from_nominal(name).unwrap(), row[*column].parse().unwrap())
            }),
        );
        // These rows use the older table.
        let classic = Options { nc_table: NcTable::Classic, ..Options::default() };
        let target = || row["target"].parse::<f64>().unwrap();
        let computed = match (row["scheme"].as_str(), row["quantity"].as_str()) {
            ("NC", "rating_tangent") => {
                rate(&curve, Method::Nc, &classic).unwrap().unrounded.unwrap()
            }
            ("NC", "exceedance_max") => {
                nc_curve::exceedance(&curve, target(), NcTable::Classic).unwrap().unwrap().decibels
            }
            ("NR", "curve_A_weighted") => {
                // The row prints the curve itself, so the curve can be checked first.
                for (band, entry) in curve.iter() {
                    let own = nr_curve::level(target(), band).unwrap();
                    assert!((own - entry.value).abs() < 1e-3, "{band}");
                }
                weighted_totals(&curve).unwrap().unwrap().a.0
            }
            ("NR", "rating_unrounded") => {
                rate(&curve, Method::Nr, &classic).unwrap().unrounded.unwrap()
            }
            ("dB", "C_minus_A") => weighted_totals(&curve).unwrap().unwrap().c_minus_a.0,
            other => panic!("no test for {other:?}"),
        };
        let expected: f64 = row["expected"].parse().unwrap();
        let tolerance: f64 = row["tolerance"].parse().unwrap();
        let slack = if tolerance == 0.0 { 1e-9 } else { tolerance };
        assert!((computed - expected).abs() <= slack, "{}: {computed}, not {expected}", row["id"]);
    }
    assert_eq!(rows.len(), 16);
}

/// S12.2-2019 Table 1 and the older table, cell by cell, with the A-weighted sums of the latter.
#[test]
fn tables_of_nc_curves() {
    let text = include_str!("../data/nc_curves.csv");
    let body: Vec<&str> = text.lines().filter(|l| !l.starts_with('#')).collect();
    let rows = table(&body.join("\n"));
    for row in &rows {
        let nc_table = match row["table"].as_str() {
            "classic" => NcTable::Classic,
            _ => NcTable::S12Of2019,
        };
        let number: f64 = row["nc"].parse().unwrap();
        let mut curve = Curve::new(Resolution::Octaves);
        for (hz, cell) in row.iter().filter(|(hz, c)| hz.parse::<f64>().is_ok() && !c.is_empty()) {
            let band = Midband::from_nominal(hz).unwrap();
            let own = nc_curve::level(nc_table, number, band).unwrap();
            assert_eq!(own, cell.parse::<f64>().unwrap(), "{} NC-{number} {hz}", row["table"]);
            curve.set(band, own, wythe_rating::Bound::Exact);
        }
        if let Ok(sum) = row["sum_A"].parse::<f64>() {
            let own = weighted_totals(&curve).unwrap().unwrap().a.0;
            assert!((own - sum).abs() <= 0.051, "NC-{number}: {own}");
        }
    }
    assert_eq!(rows.len(), 18);
    // The older table has nothing below 63 Hz.
    let low = Midband::from_nominal("31.5").unwrap();
    assert_eq!(nc_curve::level(NcTable::Classic, 20.0, low), None);
}
