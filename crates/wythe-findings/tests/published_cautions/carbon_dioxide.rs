//! Mass balance of one well-mixed room (computed), breath rates of Persily and de Jonge, Indoor Air
//! 27 (2017), Table 4, and the flows of ASHRAE 62.1-2016, Table 6.2.2.1, and 62.2, Eq. 4.1a.

use wythe_bands::{CubicMetre, SquareMetre};
use wythe_findings::caution::air::*;

use crate::rows::{Row, after, table};

fn zone(row: &Row) -> Zone {
    let or = |name: &str, otherwise: f64| {
        if row.cell(name).is_empty() { otherwise } else { row.number(name) }
    };
    Zone {
        volume: CubicMetre(or("V_m3", 50.0)),
        flow: LitresPerSecond(or("Q_lps", 0.0)),
        breath: LitresPerSecond(or("G_lps_total", 0.0)),
        outdoors: Ppm(or("Cout_ppm", 420.0)),
    }
}

#[test]
fn every_row_of_the_table() {
    let mut seen = 0;
    for row in table(include_str!("../data/criteria_co2.csv")) {
        let quantity = row.cell("quantity").to_owned();
        let space = || {
            if quantity.contains("music") { SpaceUse::Music } else { SpaceUse::Assembly }
        };
        let computed = match quantity.split_whitespace().next().unwrap() {
            "concentration" => {
                zone(&row)
                    .concentration(Ppm(row.number("C0_ppm")), Minutes(row.number("t_min")))
                    .unwrap()
                    .0
            }
            "steady_state" => zone(&row).steady_state().unwrap().unwrap().0,
            "required_flow" => zone(&row).flow_to_hold(Ppm(row.number("limit_ppm"))).unwrap().0,
            "sealed_minutes_to_limit" => {
                zone(&row)
                    .minutes_until(Ppm(row.number("limit_ppm")), Ppm(row.number("C0_ppm")))
                    .unwrap()
                    .unwrap()
                    .0
            }
            "rate_at_temp" => {
                let age = match quantity.split_whitespace().nth(2).unwrap() {
                    "11-16" => Age::From11,
                    "16-21" => Age::From16,
                    "21-30" => Age::From21,
                    "30-40" => Age::From30,
                    "40-50" => Age::From40,
                    "60-70" => Age::From60,
                    other => panic!("{other}"),
                };
                let rate = breath_rate(age, after(&quantity, "met")).unwrap();
                assert_eq!(rate.0, row.number("G_lps_total"), "{quantity}: the printed cell");
                at_temperature(rate, after(&quantity, " at")).unwrap().0
            }
            "breathing_zone_flow" => {
                let people = row.number("persons") as u32;
                breathing_zone_flow(space(), people, SquareMetre(row.number("A_m2"))).unwrap().0
            }
            "dwelling_total_flow" => {
                let area = SquareMetre(after(&quantity, "A") * 0.3048 * 0.3048);
                dwelling_total_flow(area, after(&quantity, "bedrooms") as u32).unwrap().cfm()
            }
            other => panic!("no such quantity: {other}"),
        };
        row.check(computed);
        seen += 1;
    }
    assert_eq!(seen, 24);
}

/// The worked case of the planning notes (computed there): 6 m by 5 m by 2.6 m, a drummer and three
/// players, 25 °C.
#[test]
fn a_rehearsal_of_four() {
    let four = wythe_findings::caution::Occupancy::four_players();
    let g = four.breath(25.0).unwrap();
    assert!((g.0 - 0.0437).abs() < 5e-5, "{g:?}");
    let flow = breathing_zone_flow(SpaceUse::Music, four.count(), SquareMetre(30.0)).unwrap();
    assert_eq!(flow.0, 29.0);
    let hold = required_flow(g, Ppm(1000.0), OUTDOORS).unwrap();
    assert!((hold.0 / flow.0 - 2.6).abs() < 0.01);
    // 75 L/s at 1.5 m/s: 0.05 m².
    assert!((free_area(LitresPerSecond(75.0), 1.5).unwrap().0 - 0.05).abs() < 1e-12);
}

/// Straight lines between the printed activities: sitting tasks at 1.5 met lie between 1.4 and 1.6.
#[test]
fn between_the_columns() {
    let rate = breath_rate(Age::From21, 1.5).unwrap();
    assert!((rate.0 - 0.0060).abs() < 1e-12);
    assert_eq!(breath_rate(Age::From21, 1.0).unwrap().0, 0.0039);
    assert_eq!(breath_rate(Age::From60, 4.0).unwrap().0, 0.0133);
    for met in [0.0, 0.99, 4.01, f64::NAN, f64::INFINITY, -1.0] {
        assert!(breath_rate(Age::From21, met).is_err(), "{met}");
    }
}
