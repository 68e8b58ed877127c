//! Thresholds and excesses; the source stands beside each row of
//! `tests/data/criteria_audibility.csv`.

use crate::rows::table;
use wythe_rating::audibility::{Hearing, Threshold, audibility};
use wythe_rating::{Bound, Curve, Midband, Resolution};

fn one(band: Midband, level: &str) -> Curve {
    Curve::from_pairs(Resolution::Thirds, [(band, level.parse().unwrap())])
}

#[test]
fn every_row() {
    let rows = table(include_str!("../data/criteria_audibility.csv"));
    for row in &rows {
        let band = Midband::from_nominal(&row["f_hz"]).unwrap();
        let computed = match row["curve"].as_str() {
            "ISO226-2003-Tf" => Threshold::Iso226.level(band).unwrap(),
            "DIN45680-1997" => Threshold::Din45680.level(band).unwrap(),
            "NANR45-2005" => Threshold::Nanr45.level(band).unwrap(),
            "excess_over_max_of_threshold_and_background" => {
                let level = one(band, &row["level_dB"]);
                let background = one(band, &row["background_dB"]);
                let found = audibility(&level, Some(&background), Threshold::Iso226);
                found.unwrap().unwrap().loudest.excess
            }
            other => panic!("no test for {other}"),
        };
        let expected: f64 = row["expected"].parse().unwrap();
        let tolerance: f64 = row["tolerance"].parse().unwrap();
        assert!((computed - expected).abs() <= tolerance, "{}: {computed}", row["id"]);
    }
    assert_eq!(rows.len(), 33);
}

#[test]
fn the_words_follow_the_loudest_band() {
    let hz = |name| Midband::from_nominal(name).unwrap();
    let mut level = Curve::from_pairs(Resolution::Thirds, [(hz("50"), 52.0), (hz("1000"), -9.0)]);
    let found = audibility(&level, None, Threshold::Iso226).unwrap().unwrap();
    assert_eq!(found.hearing, Hearing::Clear);
    assert_eq!(
        found.sentence,
        "clearly heard: at 50 Hz 8.0 dB above hearing threshold of ISO 226:2003"
    );
    assert!(found.remarks.iter().any(|r| r.code == "audibility::no-background"));
    level.set(hz("50"), 32.0, Bound::AtMost);
    let found = audibility(&level, None, Threshold::Iso226).unwrap().unwrap();
    assert_eq!(found.hearing, Hearing::NotExpected);
    // Octaves have no threshold; a curve outside the threshold says nothing.
    let octave = Curve::from_pairs(Resolution::Octaves, [(hz("63"), 50.0)]);
    assert!(audibility(&octave, None, Threshold::Iso226).is_err());
    let high = Curve::from_pairs(Resolution::Thirds, [(hz("20000"), 50.0)]);
    assert!(audibility(&high, None, Threshold::Iso226).unwrap().is_none());
}
