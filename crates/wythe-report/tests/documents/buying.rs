//! Quantities from areas.

use super::*;
use wythe_report::report::buying_list;

#[test]
fn what_the_new_wall_has_more_of() {
    let toml = HOUSE.replace("\"NR 45\"", "\"1 dBA\"");
    let house = House::new(&toml);
    let planned: Vec<usize> =
        house.remedies.as_ref().unwrap().order.iter().map(|s| s.change).collect();
    assert!(
        planned.contains(&0) && planned.contains(&1),
        "both changes are in the plan: {planned:?}"
    );
    let all = buying_list(&house.results());
    let find = |item: &str| all.iter().find(|l| l.item.contains(item)).unwrap();
    // 10 m² of wall less a door of 1.8 m², two boards more, sheets of 2.88 m², a tenth of waste:
    // 8.2 · 2 · 1.1 / 2.88 = 6.3.
    assert_eq!(find("gypsum board 12.5").quantity, 7.0);
    // Between the new boards and to the present one: two layers, 8.2 · 2 · 1.1 = 18.04.
    assert_eq!(find("damping").quantity, 19.0);
    assert_eq!(find("drop seal").quantity, 0.9);
    // The fill was there before.
    assert!(!all.iter().any(|l| l.item.contains("wool")));
}

#[test]
fn nothing_to_buy_is_an_empty_list() {
    let toml = HOUSE.replace("\"NR 45\"", "\"120 dBA\"").replace("\"90 dBA\"", "\"120 dBA\"");
    assert!(buying_list(&House::new(&toml).results()).is_empty());
}
