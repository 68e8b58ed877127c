//! Flanking: the simplified model against a derived case of 13 paths, junction formulas by number.

use wythe_bands::Hertz;
use wythe_transmission::simplified::{Weighted, path_rating, sum_of_paths};
use wythe_transmission::vibration::{self, Turn};

use crate::rows;

#[test]
fn thirteen_paths_of_the_simplified_model() {
    // Derived case with invented geometry (tests/data/building_flanking_simplified_derived.csv):
    // separating R_w 57, 460 kg/m², 11.475 m²; R'_w 52.5.
    let (mass, area) = (460.0f64, 11.475);
    let separating = Weighted { rating: 57.0, area, lining: 0.0 };
    // Element: R_w, mass, length of the edge, cross or T, area on each side.
    let elements = [
        ("floor", 49.0, 287.0, 4.5, true, 20.0),
        ("ceiling", 49.0, 287.0, 4.5, true, 20.0),
        ("facade", 41.0, 120.0, 2.55, false, 10.0),
        ("inner_wall", 36.0, 67.0, 2.55, true, 10.0),
    ];
    let mut all = vec![57.0];
    for row in rows(include_str!("../data/building_flanking_simplified_derived.csv")) {
        if row[0] == "Dd" || row[0] == "TOTAL" {
            continue;
        }
        let (_, rating, m, length, cross, s) =
            *elements.iter().find(|e| e.0 == row[0]).expect("an element of the case");
        let flank = Weighted { rating, area: s, lining: 0.0 };
        let big_m = (mass / m).log10();
        let (turn, i, j) = match row[1] {
            "Ff" => (Turn::Straight, flank, flank),
            "Fd" => (Turn::Corner, flank, separating),
            _ => (Turn::Corner, separating, flank),
        };
        let k = if cross {
            vibration::rigid_cross(turn, big_m)
        } else {
            vibration::rigid_tee(turn, big_m)
        };
        let printed: Vec<f64> = row[2..4].iter().map(|c| c.parse().unwrap()).collect();
        assert!((k - printed[0]).abs() < 0.006, "{row:?}: K {k}");
        let r = path_rating(i, j, k, area, length);
        assert!((r - printed[1]).abs() < 0.006, "{row:?}: R {r}");
        all.push(r);
    }
    assert_eq!(all.len(), 13);
    assert!((sum_of_paths(&all) - 52.5).abs() < 0.05, "{}", sum_of_paths(&all));
}

#[test]
fn two_linings_count_the_larger_and_half_the_smaller() {
    // EN 12354-1:2000, formula 31 (transcribed).
    let bare = Weighted { rating: 50.0, area: 12.0, lining: 0.0 };
    let lined = |by| Weighted { lining: by, ..bare };
    let base = path_rating(bare, bare, 12.0, 10.0, 4.0);
    let both = path_rating(lined(10.0), lined(6.0), 12.0, 10.0, 4.0);
    assert!((both - base - 13.0).abs() < 1e-12);
}

#[test]
fn the_geometry_sets_a_floor_under_k() {
    // K_min = 10 lg(l (1/S_i + 1/S_j)): 4 m between plates of 4 and 12 m².
    let k = vibration::least(4.0, 4.0, 12.0);
    assert!((k - 10.0 * (4.0f64 / 3.0).log10()).abs() < 1e-12);
    let plates = (
        Weighted { rating: 50.0, area: 4.0, lining: 0.0 },
        Weighted { rating: 50.0, area: 12.0, lining: 0.0 },
    );
    let low = path_rating(plates.0, plates.1, -20.0, 10.0, 4.0);
    assert!((low - (50.0 + k + 10.0 * 2.5f64.log10())).abs() < 1e-12);
}

#[test]
fn an_equal_cross_gives_a_twelfth_round_the_corner_of_bending_theory() {
    // Vigran, Building Acoustics, Eqs 9.38 and 9.39: equal corner 3.0 dB, equal cross 9.0 dB of
    // bending waves round the corner; ISO 12354-1 prints 8.7 for the cross.
    assert!((vibration::rigid_cross(Turn::Corner, 0.0) - 9.0).abs() < 0.5);
}

#[test]
fn junctions_by_number() {
    // ISO 12354-1 Annex E (from memory or transcription), worked by hand.
    let f = Hertz(500.0);
    assert!((vibration::rigid_tee(Turn::Straight, 0.5) - (5.7 + 7.05 + 1.425)).abs() < 1e-12);
    assert!((vibration::light_facade(Turn::Straight, -1.0) - 5.0).abs() < 1e-12);
    assert!((vibration::light_facade(Turn::Corner, -1.0) - 20.0).abs() < 1e-12);
    assert!((vibration::light_double_leaf(Turn::Straight, 1.0, f) - 30.0).abs() < 1e-12);
    let slope = vibration::light_double_leaf(Turn::Corner, 1.0, Hertz(5000.0)) - 20.0;
    assert!((slope - 3.3).abs() < 1e-12);
    // The printed bound "0 ≤ K24 ≤ −4" is a misprint; −4 to 0 dB it is.
    assert_eq!(vibration::through_flexible(1.0), 0.0);
    assert_eq!(vibration::through_flexible(-1.0), -4.0);
    assert!((vibration::flexible_layer(Hertz(1250.0), Hertz(125.0)) - 10.0).abs() < 1e-12);
    assert_eq!(vibration::flexible_layer(Hertz(63.0), Hertz(125.0)), 0.0);
    assert_eq!(vibration::two_plates(Turn::Corner, 0.0), -2.0);
    assert!((vibration::two_plates(Turn::Corner, 0.5) - 4.5).abs() < 1e-12);
}
