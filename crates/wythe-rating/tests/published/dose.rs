//! NIOSH, OSHA, EU and WHO-ITU; the source stands beside each row of
//! `tests/data/criteria_dose.csv`.

use crate::rows::table;
use wythe_bands::Level;
use wythe_rating::dose::{self, DoseRule, Listener, Stay};

/// `103:30;94:60` is 30 minutes at 103 dBA and 60 at 94; the minutes may be absent.
fn stays(text: &str) -> Vec<Stay> {
    text.split(';')
        .map(|part| {
            let (level, minutes) = part.split_once(':').unwrap_or((part, ""));
            Stay {
                level: Level(level.parse().unwrap()),
                minutes: if minutes.is_empty() { 0.0 } else { minutes.parse().unwrap() },
            }
        })
        .collect()
}

#[test]
fn every_row() {
    let rows = table(include_str!("../data/criteria_dose.csv"));
    for row in &rows {
        let stays = stays(&row["exposure_dBA_min"]);
        let first = stays[0].level;
        let dose_by = |rule| dose::dose(rule, &stays).unwrap();
        let computed = match (row["method"].as_str(), row["quantity"].as_str()) {
            ("NIOSH", "allowed_minutes") => dose::allowed_minutes(DoseRule::Niosh, first).unwrap(),
            ("NIOSH", "dose_percent" | "dose_percent_mixed") => dose_by(DoseRule::Niosh).percent,
            ("NIOSH", "twa8h_dBA") => dose_by(DoseRule::Niosh).twa.unwrap().0,
            ("OSHA", "allowed_hours") => {
                dose::allowed_minutes(DoseRule::OshaAllLevels, first).unwrap() / 60.0
            }
            ("OSHA", "dose_percent_all_levels" | "dose_percent_constant") => {
                dose_by(DoseRule::OshaAllLevels).percent
            }
            ("OSHA", "twa8h_dBA") => dose_by(DoseRule::OshaAllLevels).twa.unwrap().0,
            ("EU", "lex8h_dBA" | "lex8h_dBA_mixed") => {
                dose::lex_8h(&stays).unwrap().lex_8h.unwrap().0
            }
            ("EU", "peak_pa_to_dBC") => dose::peak_level(first.0).unwrap().0,
            ("WHO-ITU", "weekly_allowance_hours") => {
                dose::weekly_allowance_hours(Listener::Adult, first).unwrap()
            }
            other => panic!("no test for {other:?}"),
        };
        let expected: f64 = row["expected"].parse().unwrap();
        let tolerance: f64 = row["tolerance"].parse().unwrap();
        let computed = if row["id"] == "PDOS065" {
            // DIFFERS: the worked text divides by the 6.1 h that Table G-16a prints for 92 dBA;
            // the formula beside that table, which is what `dose` uses, gives 6.063 h and 132.0 %.
            assert!((computed - 132.0).abs() < 0.06, "{computed}");
            let hours = dose::allowed_minutes(DoseRule::OshaAllLevels, first).unwrap() / 60.0;
            100.0 * 8.0 / ((hours * 10.0).round() / 10.0)
        } else {
            computed
        };
        assert!(
            (computed - expected).abs() <= tolerance,
            "{}: {computed}, expected {expected} within {tolerance}",
            row["id"]
        );
    }
    assert_eq!(rows.len(), 83);
}

/// NIOSH 98-126, Table 1-1, as criteria documents reprint it: 8 h at 85 dBA down to 28 s at 115.
#[test]
fn niosh_table_1_1_to_the_second() {
    for (level, seconds) in
        [(85.0, 28_800.0), (94.0, 3600.0), (103.0, 450.0), (109.0, 112.5), (115.0, 28.125)]
    {
        let minutes = dose::allowed_minutes(DoseRule::Niosh, Level(level)).unwrap();
        assert!((minutes * 60.0 - seconds).abs() < 1e-6, "{level}");
    }
}

#[test]
fn nonsense_is_refused() {
    let stay = |level, minutes| [Stay { level: Level(level), minutes }];
    assert!(dose::dose(DoseRule::Niosh, &stay(f64::NAN, 1.0)).is_err());
    assert!(dose::dose(DoseRule::Niosh, &stay(90.0, -1.0)).is_err());
    assert!(dose::dose(DoseRule::Niosh, &stay(90.0, 1441.0)).is_err());
    assert!(dose::lex_8h(&stay(90.0, f64::INFINITY)).is_err());
    assert!(dose::peak_level(0.0).is_err());
    let none = dose::dose(DoseRule::Niosh, &[]).unwrap();
    assert_eq!((none.percent, none.twa), (0.0, None));
}

#[test]
fn the_shortest_time_comes_first() {
    let all = dose::allowances(Level(100.0)).unwrap();
    assert!(all.windows(2).all(|w| w[0].minutes <= w[1].minutes));
    // 15 min by NIOSH and by 85 dB(A) LEX,8h (15.2), 24 min by 87 dB(A), 2 h by OSHA (Table G-16).
    assert_eq!(all[0].rule, "NIOSH");
    assert!((all[0].minutes - 15.0).abs() < 1e-9);
    assert!((all[3].minutes - 120.0).abs() < 1e-9);
    // Below its criterion OSHA's time is longer than NIOSH's by more than the exchange rate says.
    let session = dose::level_for_minutes(DoseRule::Niosh, 60.0).unwrap().unwrap();
    assert!((session.0 - 94.0).abs() < 1e-9);
}
