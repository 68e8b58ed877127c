//! ISO 12999-1:2020, Annex B and Tables 3 and 8. Sources in `tests/data/ratings_uncertainty.csv`.

use crate::rows::cases;
use wythe_rating::uncertainty::iso12999::{self, Situation};
use wythe_rating::uncertainty::{Number, propagate, shifted_together};
use wythe_rating::{Method, Options, Resolution, rate};

#[test]
fn every_row() {
    let cases = cases(include_str!("../data/ratings_uncertainty.csv"));
    let (method, plain) = (Method::Iso717Part1, Options::default());
    for case in &cases {
        match case.options["procedure"].as_str() {
            "expand" => {
                let u = iso12999::expand(case.scalar("u"), case.scalar("k")).unwrap();
                case.outputs[0].check(&case.name, u);
                assert_eq!(iso12999::single_number("Xw", Situation::Laboratory), Some(1.2));
                assert_eq!(iso12999::coverage_factor(95.0, false), Some(1.96));
            }
            "iso12999-annexB" => {
                let x = case.curve_of("X", Resolution::Thirds);
                let u = case.curve_of("u", Resolution::Thirds);
                assert_eq!(u, iso12999::airborne_bands(Situation::Laboratory));
                let one = Options { one_decimal: true, ..plain };
                let rating = rate(&x, method, &one).unwrap();
                for expected in &case.outputs {
                    let name = expected.name.as_str();
                    let number = |rest: &str| match rest {
                        "Xw" => Number::Rating,
                        "C_50_5000" => Number::WithTerm("C50-5000"),
                        "Ctr_50_5000" => Number::WithTerm("Ctr50-5000"),
                        other => panic!("no test for {other}"),
                    };
                    let computed = if let Some(rest) = name.strip_prefix("u_corr_") {
                        shifted_together(&x, &u, method, number(rest), &plain).unwrap()
                    } else if let Some(rest) = name.strip_prefix("u_uncorr_") {
                        propagate(&x, &u, 0.0, method, number(rest), &plain)
                            .unwrap()
                            .standard_deviation
                    } else {
                        match name {
                            "Xw_1dp" => rating.value.unwrap().decibels(),
                            "Xw+C_50_5000_1dp" => {
                                rating.term("C50-5000").unwrap().sum.unwrap().decibels()
                            }
                            "Xw+Ctr_50_5000_1dp" => {
                                rating.term("Ctr50-5000").unwrap().sum.unwrap().decibels()
                            }
                            other => panic!("no test for {other}"),
                        }
                    };
                    expected.check(&case.name, computed);
                }
            }
            other => panic!("no test for {other}"),
        }
    }
    assert_eq!(cases.len(), 2);
}

/// Table 8: the printed factors are the quantiles of the normal distribution, to two decimals.
#[test]
fn table_8_coverage_factors() {
    use wythe_rating::uncertainty::normal_quantile;
    for (confidence, k) in iso12999::TWO_SIDED {
        let exact = normal_quantile(0.5 + confidence / 200.0).unwrap();
        assert!((exact - k).abs() <= 0.0062, "{confidence}: {exact}");
    }
    for (confidence, k) in iso12999::ONE_SIDED {
        let exact = normal_quantile(confidence / 100.0).unwrap();
        assert!((exact - k).abs() <= 0.0062, "{confidence}: {exact}");
    }
}

#[test]
fn conformity_is_one_sided() {
    use wythe_rating::uncertainty::iso12999::Conformity::{Met, MetWithinUncertainty, Missed};
    // 52 with U = 1.65 · 0.9 against 50: 50.515.
    let u = iso12999::expand(0.9, iso12999::coverage_factor(95.0, true).unwrap()).unwrap();
    assert_eq!(iso12999::conformity(52.0, u, 50.0, true), Some(Met));
    assert_eq!(iso12999::conformity(51.0, u, 50.0, true), Some(MetWithinUncertainty));
    assert_eq!(iso12999::conformity(52.0, u, 50.0, false), Some(Missed));
    assert_eq!(iso12999::conformity(f64::NAN, u, 50.0, false), None);
    assert_eq!(iso12999::expand(1.0, 0.5), None);
}

/// Tables 2, 4, 6 and D.1, cell by cell.
#[test]
fn tables_2_4_6_and_d_1() {
    use wythe_rating::{Curve, Midband};
    let text = include_str!("../data/iso12999_1_tables.csv");
    let body: Vec<&str> = text.lines().filter(|l| !l.starts_with('#')).collect();
    let rows = crate::rows::table(&body.join("\n"));
    for row in &rows {
        let own: Curve = match row["table"].as_str() {
            "airborne-A" => iso12999::airborne_bands(Situation::Laboratory),
            "airborne-B" => iso12999::airborne_bands(Situation::InSitu),
            "airborne-C" => iso12999::airborne_bands(Situation::Repeated),
            "airborne-A-upper" => iso12999::airborne_bands_upper(),
            "impact-B" => iso12999::impact_bands(Situation::InSitu).unwrap(),
            "impact-C" => iso12999::impact_bands(Situation::Repeated).unwrap(),
            "covering-A" => iso12999::covering_bands(Situation::Laboratory).unwrap(),
            other => panic!("no test for {other}"),
        };
        for (hz, cell) in row.iter().filter(|(hz, cell)| *hz != "table" && !cell.is_empty()) {
            let u = own.get(Midband::from_nominal(hz).unwrap()).unwrap().value;
            assert_eq!(u, cell.parse::<f64>().unwrap(), "{} {hz} Hz", row["table"]);
        }
    }
    assert_eq!(rows.len(), 7);
    assert!(iso12999::impact_bands(Situation::Laboratory).is_none());
}
