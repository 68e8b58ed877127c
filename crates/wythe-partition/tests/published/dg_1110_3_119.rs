//! US Army DG 1110-3-119 (1983), table 5-1: usual STC ranges of well-sealed constructions.

use wythe_bands::{LevelDifference, Spectrum};
use wythe_partition::{Conditions, catalogue, predict};

use crate::{rows, support};

fn stc(r: &Spectrum<LevelDifference>) -> f64 {
    support::stc(r).unwrap()
}

#[test]
fn table_5_1_usual_ranges() {
    let ranges = rows(include_str!("../data/building_construction_stc_ranges.csv"));
    for (construction, ready) in [
        ("concrete slab", "concrete slab 200 mm"),
        ("simple stud wall gypsum", "timber stud wall, one board each side"),
        ("simple masonry", "brick wall 215 mm"),
        (
            "masonry with resilient gypsum skins",
            "dense block wall 215 mm with free-standing lining",
        ),
        (
            "wood joist floor resilient ceiling",
            "timber joist floor with ceiling on resilient channels",
        ),
    ] {
        let row = ranges.iter().find(|r| r[0] == construction).unwrap();
        let (low, high): (f64, f64) = (row[1].parse().unwrap(), row[2].parse().unwrap());
        let build_up = catalogue().ready_named(ready).unwrap().build_up("x");
        let ours = stc(&predict(&build_up, &Conditions::default()).unwrap().reduction);
        // The table is of types of wall; three points of play for one of them.
        assert!((low - 3.0..=high + 3.0).contains(&ours), "{ready}: {ours} for {low} to {high}");
    }
}
