//! ANSI S3.5-1997 and IEC 60268-16; the source stands beside each row of
//! `tests/data/criteria_speech.csv`.

use crate::rows::table;
use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Octave};
use wythe_rating::speech::{Effort, intelligibility_talker, open_office_talker};

#[test]
fn every_row() {
    let rows = table(include_str!("../data/criteria_speech.csv"));
    for row in &rows {
        let effort = Effort::ALL.into_iter().find(|e| e.word() == row["effort"]);
        let octave = || Octave::from_nominal(&row["f_hz"]).unwrap();
        let computed = match (effort, row["quantity"].as_str()) {
            (Some(e), "third_octave_band_level_1m") => {
                e.level_at_1m().get(Band::from_nominal(&row["f_hz"]).unwrap()).unwrap().0
            }
            (Some(e), "octave_band_level_1m") => {
                e.level_at_1m().to_octaves().get(octave()).unwrap().0
            }
            (Some(e), "overall_Z") => e.level_at_1m().total().unwrap().0,
            (Some(e), "overall_A") => e.level_at_1m().weighted_total(Weighting::A).unwrap().0,
            (None, "octave_re_A_level") => intelligibility_talker().get(octave()).unwrap().0,
            other => panic!("no test for {other:?}"),
        };
        let expected: f64 = row["expected"].parse().unwrap();
        let tolerance: f64 = row["tolerance"].parse().unwrap();
        assert!((computed - expected).abs() <= tolerance, "{}: {computed}", row["id"]);
    }
    assert_eq!(rows.len(), 56);
}

/// ISO 3382-3:2012, Table 1 (from memory): the A-weighted total is printed as 57.4 dB.
#[test]
fn iso_3382_3_table_1_total() {
    let curve = (&open_office_talker()).into();
    let total = wythe_rating::room_noise::weighted_totals(&curve).unwrap().unwrap();
    assert!((total.a.0 - 57.4).abs() <= 0.05, "{}", total.a.0);
}
