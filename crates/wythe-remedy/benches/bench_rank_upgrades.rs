//! The wait for a plan, proven cheapest, on one core: 15 elements with 5 choices each, goal 1 s, and
//! 30 with 5, goal 30 s.

#[path = "../tests/slow_truth/house.rs"]
mod house;

use divan::{Bencher, black_box};
use wythe_building::Building;
use wythe_remedy::{cheapest, single_changes};
use wythe_transmission::Cache;

fn main() {
    divan::main();
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn cheapest_of_15_elements_with_5_choices(bencher: Bencher) {
    proven(bencher, house::house(6, 15, 5, 3, 36.5));
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn cheapest_of_30_elements_with_5_choices(bencher: Bencher) {
    proven(bencher, house::house(12, 30, 5, 3, 36.5));
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn cheapest_of_15_that_share_what_a_room_may_hear(bencher: Bencher) {
    proven(bencher, house::shared(3, 15, 5, 0, 40.0));
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn cheapest_of_30_that_share_what_a_room_may_hear(bencher: Bencher) {
    proven(bencher, house::shared(5, 30, 5, 0, 44.0));
}

fn proven(bencher: Bencher, building: Building) {
    bencher.bench_local(|| {
        let plan = cheapest(&building, &mut Cache::default(), None).unwrap();
        assert!(plan.proven_optimal, "stopped before it was proven");
        black_box(plan)
    });
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn every_single_change(bencher: Bencher) {
    let building = house::house(6, 15, 5, 3, 36.5);
    bencher.bench_local(|| black_box(single_changes(&building, &mut Cache::default()).unwrap()));
}
