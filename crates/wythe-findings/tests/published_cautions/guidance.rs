//! The table of published guidance: exact kinds of quantity, marks, and who comes first.

use wythe_bands::{Level, Standpoint};
use wythe_building::care::{Purpose, RoomCare};
use wythe_building::{Criterion, RoomIndex, Target};
use wythe_findings::caution::requirements::*;

use crate::buildings::{FLAT, house};

fn value(receiver: Receiver, quantity: Quantity, country: &str) -> (f64, f64) {
    let rows: Vec<_> = guidance(receiver)
        .filter(|g| g.quantity == quantity && g.country.contains(country))
        .collect();
    assert_eq!(rows.len(), 1, "{receiver:?} {quantity:?} {country}");
    rows[0].value
}

/// WHO Guidelines for Community Noise 1999, Table 4.1 (public reproductions).
#[test]
fn who_1999_table_4_1() {
    assert_eq!(value(Receiver::Bedroom, Quantity::LAeq, ""), (30.0, 30.0));
    assert_eq!(value(Receiver::Bedroom, Quantity::LAFmax, ""), (45.0, 45.0));
    assert_eq!(value(Receiver::Living, Quantity::LAeq, ""), (35.0, 35.0));
    assert_eq!(value(Receiver::OutsideDwelling, Quantity::LAeq, ""), (45.0, 45.0));
    assert_eq!(value(Receiver::OutsideDwelling, Quantity::LAFmax, ""), (60.0, 60.0));
}

/// IBC 2006 section 1207 (second-hand) and Approved Document E (part from memory).
#[test]
fn codes_between_homes() {
    assert_eq!(value(Receiver::BetweenDwellings, Quantity::StcLaboratory, ""), (50.0, 50.0));
    assert_eq!(value(Receiver::BetweenDwellings, Quantity::StcField, ""), (45.0, 45.0));
    assert_eq!(value(Receiver::BetweenDwellings, Quantity::DnTwCtr, "new"), (45.0, 45.0));
    assert_eq!(value(Receiver::BetweenDwellings, Quantity::DnTwCtr, "conversion"), (43.0, 43.0));
    assert_eq!(value(Receiver::BetweenDwellings, Quantity::LnTw, "new"), (62.0, 62.0));
    assert_eq!(value(Receiver::BetweenDwellings, Quantity::LnTw, "conversion"), (64.0, 64.0));
}

#[test]
fn what_is_from_memory_says_so() {
    let memory: Vec<&str> =
        GUIDANCE.iter().filter(|g| g.mark == Mark::FromMemory).map(|g| g.key).collect();
    assert_eq!(memory, ["itu-r-bs1116", "approved-document-e", "approved-document-e"]);
    for row in GUIDANCE.iter().filter(|g| g.mark == Mark::FromMemory) {
        assert!(row.text().contains("from memory"), "{}", row.text());
    }
    for receiver in Receiver::ALL {
        assert!(guidance(receiver).next().is_some(), "{}", receiver.words());
    }
}

/// The list of sources.
fn sources() -> String {
    include_str!("../../../../docs/sources.bib").to_owned()
}

/// Every key of the table and of the cautions stands in the list of sources.
#[test]
fn every_key_has_its_source() {
    let bib = sources();
    for row in GUIDANCE {
        assert!(bib.contains(&format!("{{{},", row.key)), "{}", row.key);
    }
    let all = wythe_findings::caution::cautions(&house(), &Default::default());
    for source in all.iter().flat_map(|c| &c.sources) {
        if let wythe_bands::Source::Published { key, .. } = source {
            let entry = format!("{{{key},");
            assert!(bib.contains(&entry), "{key}");
        }
    }
}

#[test]
fn the_users_own_limits_come_first() {
    let mut house = house();
    let own = |room, text: &str| Target {
        room: RoomIndex(room),
        criterion: Criterion::LevelA(Level(25.0)),
        text: text.into(),
        hours: None,
        standpoint: Standpoint::default(),
    };
    house.targets = vec![own(0, "other room"), own(FLAT, "25 dBA")];
    let asked = {
        assert_eq!(asked_of(&house, RoomIndex(FLAT)).len(), 1);
        house.care.rooms.push(RoomCare {
            room: RoomIndex(FLAT),
            purpose: Some(Purpose::Bedroom),
            people: Vec::new(),
            fan: None,
        });
        asked_of(&house, RoomIndex(FLAT))
    };
    assert_eq!(asked.len(), 3);
    assert!(matches!(asked[0], Asked::Own(t) if t.text == "25 dBA"));
    assert!(asked[1..].iter().all(|a| matches!(a, Asked::Published(_))));
}
