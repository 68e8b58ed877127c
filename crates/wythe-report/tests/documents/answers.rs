//! The answer follows from the verdicts, and says from where they come.

use super::*;
use wythe_report::page::{Answer, Verdict};
use wythe_report::report::judged;

fn answer(house: &House) -> Answer {
    let first = owner(&house.results()).blocks.into_iter().next();
    match first {
        Some(Block::Answer(a)) => a,
        other => panic!("the answer does not come first: {other:?}"),
    }
}

/// The house with other requirements.
fn asking(quiet: &str, above: &str) -> String {
    HOUSE.replace("\"NR 45\"", quiet).replace("\"90 dBA\"", above)
}

#[test]
fn everything_met() {
    let a = answer(&House::new(&asking("\"120 dBA\"", "\"120 dBA\"")));
    assert_eq!(a.verdict, Verdict::Met);
    assert!(a.sentence.plain().starts_with("Yes, as far as it is known"));
}

#[test]
fn something_missed_names_the_worst_room() {
    let a = answer(&House::new(&asking("\"10 dBA\"", "\"90 dBA\"")));
    assert_eq!(a.verdict, Verdict::Short);
    assert!(a.sentence.plain().contains("Quiet room"), "{}", a.sentence.plain());
    assert!(a.sentence.plain().contains("too loud"));
}

#[test]
fn the_recording_decides_where_it_can() {
    // Calculated about 30 dB between the rooms; recorded 80 dB.
    let toml = asking("\"45 dBA\"", "\"120 dBA\"");
    let house = House::recorded(&toml, 80.0, -60.0);
    let r = house.results();
    let all = judged(&r);
    let quiet = all.iter().find(|j| j.target.room.0 == 1).unwrap();
    assert_eq!(quiet.calculated.met, Some(false));
    assert!(quiet.by_recording());
    assert_eq!(quiet.verdict().met, Some(true));
    // What the source makes less the recorded difference, to the tenth.
    let source = quiet.source.levels.within(wythe_bands::Band::HZ_50, wythe_bands::Band::HZ_5000);
    let recorded = quiet.recorded.as_ref().unwrap();
    for (band, level) in source.iter() {
        let got = recorded.levels.get(band).unwrap();
        assert!((level.0 - 80.0 - got.0).abs() < 0.2, "{band:?}: {got:?}");
    }
}

#[test]
fn a_recording_hidden_by_the_background_does_not_condemn() {
    // The background lies as high as what comes through: the difference is at least 25 dB, and
    // the level at most what is drawn. That says nothing about a limit far below it.
    let toml = asking("\"20 dBA\"", "\"120 dBA\"");
    let house = House::recorded(&toml, 25.0, 120.0);
    let r = house.results();
    let all = judged(&r);
    let quiet = all.iter().find(|j| j.target.room.0 == 1).unwrap();
    assert!(quiet.recorded.is_some());
    assert!(!quiet.by_recording());
    assert_eq!(quiet.verdict(), quiet.calculated);
}

#[test]
fn a_limit_that_meets_is_enough() {
    // Hidden by the background, yet already the limit is below what is asked.
    let toml = asking("\"110 dBA\"", "\"120 dBA\"");
    let house = House::recorded(&toml, 25.0, 120.0);
    let r = house.results();
    let all = judged(&r);
    let quiet = all.iter().find(|j| j.target.room.0 == 1).unwrap();
    assert!(quiet.by_recording());
    assert_eq!(quiet.verdict().met, Some(true));
    assert!(quiet.recorded.as_ref().unwrap().limit);
    let html = owner(&r).html();
    assert!(html.contains("at least"), "that it is a limit is not said");
}
