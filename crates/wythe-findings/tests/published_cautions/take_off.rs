//! Sheets, sealant and screws. Counts are common practice without a source, the rest geometry.

use wythe_bands::{Metre, SquareMetre, SurfaceMass};
use wythe_findings::caution::take_off::*;

use crate::rows::table;

#[test]
fn every_row_of_the_table() {
    let mut seen = 0;
    for row in table(include_str!("../data/criteria_takeoff.csv")) {
        let mm = |word| Metre(row.after(word) / 1000.0);
        let bead = || Bead::Square(mm("side"));
        let tube = || Millilitres(row.after("tube"));
        let waste = || Waste(row.after("waste"));
        let computed = match row.cell("quantity") {
            "sheets" => {
                let (area, sheet) =
                    (SquareMetre(row.after("area")), SquareMetre(row.after("sheet")));
                sheets(area, row.after("layers") as u32, sheet, waste()).unwrap() as f64
            }
            "sealant_tubes" => {
                let joint = Metre(row.after("joint"));
                sealant_tubes(joint, bead(), tube(), waste()).unwrap() as f64
            }
            "metres_per_tube" => metres_per_tube(bead(), tube()).unwrap().0,
            "screws_per_sheet" => {
                let case = row.cell("case");
                let (w, h) = case
                    .trim_start_matches("sheet ")
                    .split_once(" mm")
                    .unwrap()
                    .0
                    .split_once('x')
                    .unwrap();
                let metres = |s: &str| Metre(s.parse::<f64>().unwrap() / 1000.0);
                screws_per_sheet([metres(w), metres(h)], mm("supports"), mm("spacing")).unwrap()
                    as f64
            }
            other => panic!("no such quantity: {other}"),
        };
        row.check(computed);
        seen += 1;
    }
    assert_eq!(seen, 11);
}

/// Table of beads (computed): a triangular fillet goes twice as far as a square joint.
#[test]
fn beads_by_shape() {
    let quarter = Metre(0.00635);
    for (bead, small, large) in [
        (Bead::Square(Metre(0.006)), 8.3, 22.9),
        (Bead::Square(quarter), 7.4, 20.5),
        (Bead::Fillet(quarter), 14.8, 40.9),
        (Bead::Fillet(Metre(0.010)), 6.0, 16.5),
    ] {
        for (tube, metres) in [(Millilitres::SMALL_TUBE, small), (Millilitres::LARGE_TUBE, large)] {
            let computed = metres_per_tube(bead, tube).unwrap().0;
            assert!((computed - metres).abs() < 0.051, "{bead:?}: {computed}");
        }
    }
}

/// One, two and three layers of 15.9 mm into timber (common practice, no source): screws of 32, 50
/// and 65 mm are sold; each is at least what the rule asks for.
#[test]
fn screws_as_they_are_sold() {
    for (layers, sold) in [(1.0, 0.032), (2.0, 0.050), (3.0, 0.065)] {
        let least = screw_length(Metre(0.0159 * layers)).unwrap().0;
        assert!(least <= sold && sold - least < 0.003, "{layers}: {least}");
    }
}

#[test]
fn exact_counts_are_not_rounded_up() {
    let area = SquareMetre(28.8);
    assert_eq!(sheets(area, 1, SquareMetre(2.88), Waste(0.0)).unwrap(), 10);
    assert_eq!(sheets(area, 3, SquareMetre(2.88), Waste(0.1)).unwrap(), 33);
    assert_eq!(sheets(SquareMetre(0.0), 1, SquareMetre(2.88), Waste::PLAIN).unwrap(), 0);
    // 0.1 m² more than ten sheets is an eleventh.
    assert_eq!(sheets(SquareMetre(28.9), 1, SquareMetre(2.88), Waste(0.0)).unwrap(), 11);
    // 40 kg/m² over 20 m² on clips of 16 kg.
    assert_eq!(clips(SurfaceMass(40.0), SquareMetre(20.0), 16.0).unwrap(), 50);
    assert!((fill(SquareMetre(20.0), Waste::LARGE_WALLS).unwrap().0 - 21.0).abs() < 1e-12);
}
