//! ISO 16283, field measurement of sound insulation. Vectors as in the comment lines of
//! `ratings_field.csv`: analytic, or documentation examples of a general acoustics library.

use wythe_bands::{Band, CubicMetre, Level, LevelDifference, Seconds, Spectrum, SquareMetre};
use wythe_fieldtest::{
    CornerSet, Decay, Position, SourcePosition, State, Survey, absorption_area, apparent_reduction,
    average, corner_level, corrected, corrected_in_the_laboratory, low_frequency_level, measure,
    needs_corners, normalized, standardized,
};

use crate::table::{number, read};

fn value(vector: &str, role: &str, name: &str, band: &str) -> f64 {
    let rows = read("ratings_field.csv");
    let row = rows
        .iter()
        .find(|r| {
            r["vector"] == vector && r["role"] == role && r["name"] == name && r["band_hz"] == band
        })
        .unwrap_or_else(|| panic!("{vector} {role} {name} {band}"));
    number(row, "value")
}

#[test]
fn clause_9_2_background() {
    for band in ["100", "125", "160", "200", "250"] {
        let v = |role, name| value("bg-16283-a", role, name, band);
        let got = corrected(Level(v("in", "Lsb")), Level(v("in", "Lb")));
        assert!((got.level.0 - v("out", "L")).abs() < 0.005, "{band} {got:?}");
        assert_eq!(got.state == State::Bound, v("out", "limit") == 1.0, "{band}");
    }
}

#[test]
fn iso_10140_4_background_is_another_rule() {
    for band in ["100", "125", "160", "200"] {
        let v = |role, name| value("bg-10140-a", role, name, band);
        let got = corrected_in_the_laboratory(Level(v("in", "Lsb")), Level(v("in", "Lb")));
        assert!((got.level.0 - v("out", "L")).abs() < 0.005, "{band} {got:?}");
        assert_eq!(got.state == State::Bound, v("out", "limit") == 1.0, "{band}");
    }
}

#[test]
fn meas_29_background() {
    for row in read("meas_29_background.csv") {
        let got = corrected(Level(number(&row, "Lsb")), Level(number(&row, "Lb")));
        assert!((got.level.0 - number(&row, "rule_dB")).abs() < 1e-9, "{row:?} {got:?}");
        let word = match row["flag"].as_str() {
            "none" => State::Valid,
            "corrected" => State::Corrected,
            _ => State::Bound,
        };
        assert_eq!(got.state, word, "{row:?}");
    }
}

#[test]
fn clause_7_8_energy_mean() {
    let levels = ["1", "2"].map(|b| Level(value("emean-2", "in", "L", b)));
    let got = average(levels, Band::HZ_500, None).unwrap();
    assert!((got.level.0 - value("emean-2", "out", "Lmean", "")).abs() <= 0.05);
}

#[test]
fn clause_3_quantities() {
    let v = |role, name, band| value("field-basic", role, name, band);
    let d = Level(v("in", "L1", "500")) - Level(v("in", "L2", "500"));
    let t = Seconds(v("in", "T", "500"));
    let area = absorption_area(CubicMetre(v("in", "V", "")), t);
    let s = SquareMetre(v("in", "S", ""));
    assert!((d.0 - v("out", "D", "500")).abs() < 1e-9);
    assert!((standardized(d, t).0 - v("out", "DnT", "500")).abs() < 1e-9);
    assert!((apparent_reduction(d, s, area).0 - v("out", "Rp", "500")).abs() < 0.0005);
    assert!((normalized(d, area).0 - v("out", "Dn", "500")).abs() < 0.0005);
}

#[test]
fn clause_8_when_corners_are_needed() {
    for vector in ["lf-trigger-8", "lf-trigger-24.49", "lf-trigger-24.5", "lf-trigger-25"] {
        let volume = CubicMetre(value(vector, "in", "V", ""));
        assert_eq!(needs_corners(volume), value(vector, "out", "applies", "") == 1.0, "{vector}");
    }
}

#[test]
fn formulas_12_and_13_and_clause_10_4() {
    let v = |role, name: &str, band| value("lf-one-position", role, name, band);
    let bands = ["50", "63", "80"];
    let band = |b: &str| Band::from_nominal(b).unwrap();
    for b in bands {
        let corners: Vec<Level> = (1..=4).map(|c| Level(v("in", &format!("q1_c{c}"), b))).collect();
        let corner = corner_level([&corners[..]]).unwrap();
        assert!((corner.0 - v("out", "Lcorner", b)).abs() < 0.01);
        let l = low_frequency_level(corner, Level(v("in", "Ldefault", b)));
        assert!((l.0 - v("out", "LLF", b)).abs() < 0.05, "{b} {l:?}");
    }
    // The same through a whole survey.
    let spectrum = |name: &str| -> Spectrum<Level> {
        bands.iter().map(|b| (band(b), Level(v("in", name, b)))).collect()
    };
    let quiet: Spectrum<Level> = Spectrum::from_fn(|_| Level(20.0));
    let survey = Survey {
        runs: vec![SourcePosition {
            source: vec![Position::new("s", spectrum("L1"))],
            receiving: vec![Position::new("r", spectrum("Ldefault")).over(quiet)],
            receiving_corners: CornerSet {
                corners: (1..=4)
                    .map(|c| {
                        Position::new(format!("c{c}"), spectrum(&format!("q1_c{c}"))).over(quiet)
                    })
                    .collect(),
            },
            ..SourcePosition::default()
        }],
        source_volume: Some(CubicMetre(60.0)),
        receiving_volume: Some(CubicMetre(v("in", "V", ""))),
        decay: Some(Decay { octave_63: Some(Seconds(v("in", "T63", ""))), ..Decay::default() }),
        ..Survey::default()
    };
    let got = measure(&survey).unwrap();
    for b in bands {
        let d = got.standardized.get(band(b)).unwrap().0;
        assert!((d - v("out", "DnT", b)).abs() < 0.05, "{b} {d}");
        assert_eq!(got.state.get(band(b)), Some(State::Valid));
    }
    assert_eq!(got.corner_bands.len(), 3);
    let refused: Vec<&str> = got.refusals.iter().map(|r| r.rating).collect();
    assert_eq!(refused, ["ASTC", "NNIC"]);
    let d = LevelDifference(0.0);
    assert_eq!(standardized(d, Seconds(0.5)).0, 0.0);
}
