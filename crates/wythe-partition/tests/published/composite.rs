//! Composite elements: Crocker & Arenas 2021, Example 12.13, and the limit set by an open slit.

use wythe_bands::{LevelDifference, SquareMetre};
use wythe_partition::composite;

use crate::{examples, rows};

#[test]
fn crocker_and_arenas_2021_example_12_13_brick_with_window() {
    let table = rows(include_str!("../data/building_composite_brick_window.csv"));
    let number = |name: &str, column: usize| -> f64 {
        table.iter().find(|r| r[0] == name).unwrap()[column].parse().unwrap()
    };
    let part = |name| (SquareMetre(number(name, 1)), LevelDifference(number(name, 2)));
    let r = composite([part("brick"), part("glass")]).unwrap();
    assert!((r.0 - number("EXPECTED_composite", 2)).abs() <= number("TOLERANCE_db", 2), "{}", r.0);
}

#[test]
fn one_hundredth_of_a_wall() {
    let e = &examples("door_in_60")[0];
    let r = composite([
        (SquareMetre(0.01), LevelDifference(25.0)),
        (SquareMetre(0.99), LevelDifference(60.0)),
    ]);
    assert!((r.unwrap().0 - e.value()).abs() <= e.tolerance.max(0.005));
}

#[test]
fn handbook_for_sound_engineers_figure_4_17_leak_limits() {
    for row in &rows(include_str!("../data/building_leak_limit_chart.csv"))[1..] {
        let share: f64 = row[0].parse::<f64>().unwrap() / 100.0;
        let r = composite([
            (SquareMetre(share), LevelDifference(0.0)),
            (SquareMetre(1.0 - share), LevelDifference(200.0)),
        ])
        .unwrap();
        let printed: f64 = row[1].parse().unwrap();
        // The chart is marked in whole decibels.
        assert!((r.0 - printed).abs() < 0.5, "{} %: {}", row[0], r.0);
    }
}

#[test]
fn the_trap_of_a_published_answer() {
    // "60 dB wall + 45 dB window = 60.13 dB" was met in print: a composite never beats its best.
    let r = composite([
        (SquareMetre(9.0), LevelDifference(60.0)),
        (SquareMetre(1.0), LevelDifference(45.0)),
    ])
    .unwrap();
    assert!(r.0 > 45.0 && r.0 < 60.0);
}
