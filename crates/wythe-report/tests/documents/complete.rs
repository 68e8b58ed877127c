//! What stands in each document when everything is there.

use super::*;

/// The recordings point to the door.
fn complete() -> House {
    recorded_with(18.0)
}

/// The recordings point to nothing, and the plan has boards to draw.
fn boarded() -> House {
    recorded_with(22.0)
}

fn recorded_with(difference: f64) -> House {
    let mut house = House::recorded(HOUSE, difference, -20.0);
    house.notes = vec![Note {
        standing: wythe_bands::Standing::Unknown,
        what: "boundary `ceiling`".into(),
        text: "stated as unknown".into(),
        source: None,
        by_program: false,
        place: "wythe.toml:60".into(),
    }];
    house.files = vec![FileRead { name: "wythe.toml".into(), sha256: "ab".repeat(32), bytes: 1 }];
    house
}

#[test]
fn for_the_owner() {
    insta::assert_snapshot!(outline(&complete().documents()[0]));
}

#[test]
fn for_the_builder() {
    insta::assert_snapshot!(outline(&boarded().documents()[1]));
}

#[test]
fn for_the_file() {
    insta::assert_snapshot!(outline(&complete().documents()[2]));
    assert!(outline(&boarded().documents()[2]).contains("# Sections\nfigure\nfigure\n"));
    assert!(outline(&complete().documents()[1]).contains("table: findings"));
}

#[test]
fn every_document_is_well_formed_and_has_the_standing_notices() {
    for document in complete().documents() {
        well_formed(&document).unwrap();
        let html = document.html();
        assert!(!html.contains('⟨'), "a sentence is missing: {}", document.title);
        assert!(html.contains("Nothing here states that something is safe"), "{}", document.title);
        assert!(html.contains("licensed"), "{}", document.title);
        assert!(html.contains("class=\"badge\""), "{}", document.title);
        assert!(html.contains("abababab"), "fingerprints are missing: {}", document.title);
    }
}

#[test]
fn nothing_is_called_safe() {
    for document in complete().documents() {
        let html = document.html().to_lowercase();
        let notice = "nothing here states that something is safe";
        let rest = html.replace(notice, "");
        for claim in [" is safe", " are safe", "safely", "harmless", "no danger"] {
            assert!(!rest.contains(claim), "{}: {claim}", document.title);
        }
    }
}

#[test]
fn without_anything_invented_nothing_is_marked() {
    let toml = HOUSE
        .replace("cost_invented = true\n", "")
        .replace("spectrum = \"drum kit, hard\"", "spectrum = \"pink noise\"");
    let house = House::new(&toml);
    assert!(!house.results().invented(), "pink noise is no invented spectrum");
    for document in house.documents() {
        assert!(!document.html().contains("class=\"badge\""), "{}", document.title);
    }
}

#[test]
fn the_same_results_give_the_same_bytes() {
    let [a, b] = [complete(), complete()];
    for (x, y) in a.documents().iter().zip(b.documents()) {
        assert_eq!(x.html(), y.html());
    }
}

#[test]
fn what_the_recordings_say_nothing_about_is_not_found() {
    // The ceiling is of unknown standing, as likely bridged as not, and no recording hears it.
    let house = complete();
    let findings = &house.explained.as_ref().unwrap().posterior.findings;
    assert!(findings.iter().any(|f| f.cause.element == "ceiling" && f.probability >= 0.499));
    let found = &house.found.as_ref().unwrap().2;
    assert!(found.iter().all(|&i| findings[i].cause.element != "ceiling"), "{found:?}");
}
