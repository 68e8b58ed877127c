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
            // Playing softer pays anywhere, and a second door brings seals of its own.
            !b.changes[g.change]
                .actions
                .iter()
                .any(|a| matches!(a, Action::Quieter { .. } | Action::SecondDoor { .. }))
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

#[test]
fn every_sort_of_change_is_thought_of_where_it_makes_sense_and_keeps_its_name() {
    let mut b = pair();
    b.build_ups[0].rigid_bridges_per_m2 = 0.4;
    let all = suggest(&b);
    let has = |f: &dyn Fn(&Action) -> bool| all.changes.iter().any(|c| c.actions.iter().any(f));
    assert!(has(&|a| matches!(a, Action::Seal { .. })));
    assert!(has(&|a| matches!(a, Action::SecondDoor { .. })));
    assert!(has(&|a| matches!(a, Action::CutBridges { .. })));
    assert!(has(&|a| matches!(a, Action::Rebuild { .. })));
    assert!(has(&|a| matches!(a, Action::Quieter { .. })));
    let mut names: Vec<&str> = all.changes.iter().map(|c| c.id.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all.changes.len(), "every name is its own");
    // Another wall beside it does not rename what was there.
    let mut more = b.clone();
    more.rooms.push(room("third", 0));
    more.boundaries.push(boundary(
        "other wall",
        [0, more.rooms.len() - 1],
        wythe_building::BoundaryKind::Wall,
        0,
        vec![],
    ));
    let again = suggest(&more);
    for c in &all.changes {
        assert!(again.changes.iter().any(|k| k.id == c.id && k.title == c.title), "{}", c.id);
    }
    // A board more does not take a bridge away; cutting it does.
    for c in &all.changes {
        for a in &c.actions {
            if let Action::Rebuild { build_up, .. } = a {
                assert!(all.build_ups[build_up.0].rigid_bridges_per_m2 > 0.0, "{}", c.title);
            }
        }
    }
    let cut =
        all.changes.iter().position(|c| matches!(c.actions[0], Action::CutBridges { .. })).unwrap();
    let free = wythe_remedy::apply(&all, &[cut]);
    assert_eq!(free.build_ups[free.boundaries[0].build_up.0].rigid_bridges_per_m2, 0.0);
}

#[test]
fn what_is_struck_out_is_in_no_plan() {
    let mut b = suggest(&pair());
    let seals = b.changes.iter().position(|c| c.title.contains("seals")).unwrap();
    let strike = wythe_building::Strike {
        change: Some(b.changes[seals].id.clone()),
        element: None,
        words: None,
        why: Some("the leaf is warped".into()),
    };
    b.strikes.push(strike);
    let why = breaks_limit(&b, seals).expect("struck out");
    assert!(why.text.contains("struck out: the leaf is warped"), "{}", why.text);
    let plan = wythe_remedy::cheapest(&b, &mut Cache::default(), None).unwrap();
    assert!(!plan.changes.contains(&seals));
    // One that names nothing strikes out nothing.
    let nothing = wythe_building::Strike { change: None, element: None, words: None, why: None };
    assert!(b.changes.iter().all(|c| !nothing.hits(c)));
}

#[test]
fn hours_are_paid_where_the_table_has_them() {
    let b = suggest(&pair());
    let seals = b.changes.iter().position(|c| c.title.contains("all round")).unwrap();
    let table = PriceList::read(
        "item,unit,price,hours\ncompression seal,m,3,0.2\ndrop seal,pieces,60,1\nlabour,h,40,\n",
    )
    .unwrap();
    let out = priced(b, &Counting::default(), &table);
    // 5.0 m and one piece as before, and 5.0 · 0.2 + 1 = 2 hours of 40.
    assert_eq!(out.changes[seals].cost, Some(75.0 + 80.0));
    assert_eq!(out.changes[seals].hours, Some(2.0));
}
