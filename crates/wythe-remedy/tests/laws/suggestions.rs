//! What the program thinks of by itself.

use wythe_building::Action;
use wythe_remedy::{Counting, PriceList, breaks_limit, priced, single_changes, suggest};
use wythe_transmission::Cache;

use crate::rooms::*;

#[test]
fn a_gap_under_a_door_is_what_pays() {
    let b = suggest(&pair());
    assert!(b.changes.len() > 5);
    assert!(b.changes.iter().all(|c| c.cost.is_none()), "no price is on file");
    let gains = single_changes(&b, &mut Cache::default()).unwrap();
    let best = gains
        .iter()
        .filter(|g| {
            !b.changes[g.change].actions.iter().any(|a| matches!(a, Action::Quieter { .. }))
        })
        .max_by(|x, y| x.shortfall_gain_db.total_cmp(&y.shortfall_gain_db))
        .unwrap();
    let seals = &b.changes[best.change];
    assert!(matches!(seals.actions[0], Action::Seal { .. }), "{seals:?}");
    assert!(best.shortfall_gain_db > 3.0, "{best:?}");
}

#[test]
fn a_suggestion_never_makes_its_own_element_worse_than_a_decibel_unsaid() {
    // A lining can lose bass; whoever reads the list must be told.
    let b = suggest(&pair());
    for c in &b.changes {
        for action in &c.actions {
            if let Action::Rebuild { boundary, build_up } = action {
                let at = &b.boundaries[boundary.0];
                let (old, new) = (&b.build_ups[at.build_up.0], &b.build_ups[build_up.0]);
                let said = wythe_remedy::third_leaf(old, new, at.net_area(), &c.title);
                let conditions = wythe_partition::Conditions::default();
                let before = wythe_partition::predict(old, &conditions).unwrap();
                let after = wythe_partition::predict(new, &conditions).unwrap();
                for (band, r) in before.reduction.iter().filter(|(b, _)| b.centre().0 < 100.0) {
                    if let Some(then) = after.reduction.get(band)
                        && then.0 < r.0 - 1.5
                    {
                        assert!(said.is_some(), "{}: {band:?} {} to {}", c.title, r.0, then.0);
                    }
                }
            }
        }
    }
}

#[test]
fn prices_are_given_only_where_every_line_has_one() {
    let b = suggest(&pair());
    let seals = b.changes.iter().position(|c| c.title.contains("seals")).unwrap();
    let half = PriceList::read("item,unit,price\ncompression seal,m,3\n").unwrap();
    let table =
        PriceList::read("item,unit,price\ncompression seal,m,3\ndrop seal,pieces,60\n").unwrap();
    let cost = |t: &PriceList| priced(b.clone(), &Counting::default(), t).changes[seals].cost;
    assert_eq!(cost(&half), None);
    // 5.0 m round head and jambs, one drop seal.
    assert_eq!(cost(&table), Some(75.0));
    assert!(breaks_limit(&b, seals).is_none());
}
