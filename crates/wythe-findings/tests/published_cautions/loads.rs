//! Weights of ASCE 7-05, Table C3-1, and of a trade table, the confined space of NFPA 54, and the
//! emergency opening of IRC R310 (public restatements).

use wythe_bands::{Metre, SquareMetre, SurfaceMass};
use wythe_findings::caution::load::*;

use crate::rows::{Row, table};

/// Layers and thickness of a case such as `2xgyp_12.7`.
fn gypsum(row: &Row) -> (f64, Metre) {
    let (count, mm) = row.cell("case").split_once("xgyp_").unwrap();
    (count.parse().unwrap(), Metre(mm.parse::<f64>().unwrap() / 1000.0))
}

#[test]
fn every_row_of_the_table() {
    let inch = |x: f64| Metre(x * 0.0254);
    let mut seen = 0;
    for row in table(include_str!("../data/criteria_loads.csv")) {
        let design = || {
            let (n, t) = gypsum(&row);
            gypsum_design_mass(t).unwrap() * n
        };
        let typical = || {
            let (n, t) = gypsum(&row);
            gypsum_typical_mass(t).unwrap().unwrap() * n
        };
        let computed = match row.cell("quantity") {
            "surface_mass_typical" => typical().0,
            "surface_mass_design" => design().0,
            "line_load_kN_m2_design" => kilonewton_per_square_metre(design()),
            "added_mass_kg_typical" => mass_of(typical(), SquareMetre(row.number("area_m2"))),
            "allowance_left_psf" => {
                let psf = |word| from_pounds_per_square_foot(row.after(word));
                assert!(row.cell("case").contains("5/8 in"));
                let board = gypsum_design_mass(Metre(0.015_875)).unwrap();
                let added = board * row.after("adding");
                let (allowance, used) = (psf("allowance"), psf("used"));
                let left = allowance_left(allowance, used, added);
                // A negative remainder must stop.
                let room = SurfaceMass(allowance.0 - used.0);
                let stops = load_flag(added, Some(room)) == LoadFlag::Stop;
                assert_eq!(stops, left.0 < 0.0, "{}", row.cell("id"));
                pounds_per_square_foot(left)
            }
            "combustion_min_volume" => {
                let btu: f64 = row.cell("case").split_once(' ').unwrap().0.parse().unwrap();
                combustion_least_volume(btu / BTU_PER_HOUR_IN_A_KILOWATT).unwrap().0
            }
            "egress_check" => {
                let opening = EscapeOpening {
                    width: inch(row.after("width")),
                    height: inch(row.after("height")),
                    sill: Some(inch(row.after("sill"))),
                    at_grade: !row.cell("case").contains("not at grade"),
                };
                f64::from(u8::from(escape_shortfalls(&opening).unwrap().is_empty()))
            }
            other => panic!("no such quantity: {other}"),
        };
        row.check(computed);
        seen += 1;
    }
    assert_eq!(seen, 22);
}

/// 80 000 Btu/h is 23.4 kW; the metric form of the rule is 4.8 m³/kW.
#[test]
fn metric_form_of_the_volume_rule() {
    assert!((combustion_least_volume(1.0).unwrap().0 - 4.8).abs() < 0.05);
}

/// ASCE 7-16, Table C3.1-1: 0.008 kN/m² per mm. The weight taken is the larger, by 3.6 %.
#[test]
fn the_older_table_is_the_heavier() {
    let ours = kilonewton_per_square_metre(gypsum_design_mass(Metre(0.020)).unwrap());
    assert!((ours / (0.008 * 20.0) - 1.037).abs() < 0.001, "{ours}");
}

/// Grade openings may have 5.0 ft² and no opening may have a sill above 44 in.
#[test]
fn grade_and_sill() {
    let inch = |x: f64| Metre(x * 0.0254);
    let opening = |height: f64, sill: f64, at_grade: bool| EscapeOpening {
        width: inch(30.0),
        height: inch(height),
        sill: Some(inch(sill)),
        at_grade,
    };
    // 30 in by 24 in is exactly 5 ft².
    assert!(escape_shortfalls(&opening(24.0, 44.0, true)).unwrap().is_empty());
    assert_eq!(escape_shortfalls(&opening(24.0, 44.0, false)).unwrap(), ["clear area"]);
    assert_eq!(escape_shortfalls(&opening(30.0, 44.1, true)).unwrap(), ["height of the sill"]);
    assert_eq!(
        escape_shortfalls(&opening(23.9, 40.0, true)).unwrap(),
        ["clear area", "clear height"]
    );
}
