//! What each kind of trial is for: two explanations of one measurement, and the trial that tells
//! which of them holds. Every trial is asked twice, with the one and with the other hidden in the
//! house, so that it cannot win by leaning to one side.

use wythe_bands::{Band, LevelDifference, Spectrum, Standpoint};
use wythe_building::{
    Action, BoundaryIndex, Building, Change, RoomIndex, Skill, SmallElement, State,
};
use wythe_findings::{NearSurface, Observed, Trial, causes, infer};
use wythe_partition::OpeningState;
use wythe_transmission::{Cache, assemble};

use crate::synthetic::{Random, building};

/// Rooms of the synthetic house.
const LOUD: usize = 0;
const LOBBY: usize = 1;
const QUIET: usize = 2;

/// A house with a grille beside the wall, and states to try things in.
fn house() -> Building {
    let mut house = building(&mut Random(5));
    house.fabric.small_elements.push(SmallElement {
        id: "grille".into(),
        title: None,
        rooms: [RoomIndex(LOUD), RoomIndex(QUIET)],
        level_difference: Spectrum::from_fn(|_| LevelDifference(60.0)),
        count: 1,
        standpoint: Standpoint::default(),
    });
    house.changes.push(Change {
        id: "cut".into(),
        title: "contacts of the wall cut".into(),
        element: "wall".into(),
        actions: vec![Action::CutBridges { boundary: BoundaryIndex(0) }],
        cost: None,
        cost_invented: false,
        hours: None,
        reversible: false,
        skill: Skill::Handy,
        not_with: Vec::new(),
        standpoint: Standpoint::default(),
    });
    house.states.extend([
        State {
            name: "hall door taped".into(),
            openings: vec![("hall door".into(), OpeningState::Taped)],
            ..State::default()
        },
        State {
            name: "hall door open".into(),
            openings: vec![("hall door".into(), OpeningState::Open)],
            ..State::default()
        },
        State { name: "plugged".into(), plugged: vec!["grille".into()], ..State::default() },
        State { name: "after".into(), made: vec!["cut".into()], ..State::default() },
    ]);
    house
}

/// The house with one thing wrong.
fn with(house: &Building, element: &str, parameter: &str, size: f64) -> Building {
    let mut built = house.clone();
    let cause = causes(house)
        .into_iter()
        .find(|c| c.element == element && c.parameter == parameter)
        .expect("a cause of that name");
    cause.apply(&mut built, size);
    built
}

/// What would be measured there, to 1 dB.
fn measured(built: &Building, state: Option<&str>, from: usize, to: usize) -> Trial {
    let there = state.map_or_else(|| built.clone(), |s| built.in_state(s).expect("a state"));
    let model = assemble(&there, &mut Cache::default()).expect("a model");
    let energy = model.transfers(RoomIndex(from), &[RoomIndex(to)])[0].energy;
    trial(state, from, to, None, |b| energy[b.index()])
}

/// The same a hand's breadth from a surface of the receiving room that the source room lies behind:
/// ½ G/S of its mean-square pressure comes on top.
fn close_to(built: &Building, near: NearSurface, link: &str, area: f64) -> Trial {
    let model = assemble(built, &mut Cache::default()).expect("a model");
    let energy = model.transfers(RoomIndex(LOUD), &[RoomIndex(LOBBY)])[0].energy;
    let through = |b: usize| -> f64 {
        let own = |id: &str| id == link || id.starts_with(&format!("{link} "));
        model.links.iter().filter(|l| own(&l.id)).map(|l| l.coupling[b]).sum()
    };
    trial(None, LOUD, LOBBY, Some(near), |b| energy[b.index()] + 0.5 * through(b.index()) / area)
}

fn trial(
    state: Option<&str>,
    from: usize,
    to: usize,
    near: Option<NearSurface>,
    energy: impl Fn(Band) -> f64,
) -> Trial {
    let bands = Band::results()
        .map(|b| {
            let difference = LevelDifference(-10.0 * energy(b).log10());
            (b, Observed { difference, deviation: LevelDifference(1.0), at_least: false })
        })
        .collect();
    let state = state.map(str::to_owned);
    Trial { state, source: RoomIndex(from), receiver: RoomIndex(to), near, bands }
}

/// Probability that something of an element is wrong, and the same before any evidence; edges of
/// one door count together.
fn blamed(house: &Building, trials: &[Trial], element: &str) -> (f64, f64) {
    let found = infer(house, trials, &mut Cache::default()).expect("an answer");
    let of = |name: &str| {
        name.strip_prefix(element).is_some_and(|r| r.is_empty() || r.starts_with([' ', ',']))
    };
    let mine: Vec<usize> =
        (0..found.causes.len()).filter(|&c| of(&found.causes[c].element)).collect();
    let at_least_one =
        |p: &dyn Fn(usize) -> f64| 1.0 - mine.iter().map(|&c| 1.0 - p(c)).product::<f64>();
    (at_least_one(&|c| found.probability[c]), at_least_one(&|c| found.causes[c].prior))
}

/// Asks which of two elements is to blame, each being so in turn: the guilty one is, the other no
/// more than before anything was measured.
fn tells(
    [(a, in_a), (b, in_b)]: [(&str, Building); 2],
    evidence: impl Fn(&Building) -> Vec<Trial>,
) {
    let house = house();
    for (guilty, other, built) in [(a, b, in_a), (b, a, in_b)] {
        let trials = evidence(&built);
        let (right, _) = blamed(&house, &trials, guilty);
        let (wrong, before) = blamed(&house, &trials, other);
        assert!(
            right > 0.75 && wrong < before + 0.05,
            "{guilty} {right:.2}, {other} {wrong:.2} after {before:.2}"
        );
    }
}

fn leaking_door() -> (&'static str, Building) {
    ("hall door", with(&house(), "hall door sill", "gap", 10.0))
}

fn bridged_wall() -> (&'static str, Building) {
    ("wall", with(&house(), "wall", "rigid bridges", 2.0))
}

#[test]
fn a_taped_door_tells_the_door_from_the_wall() {
    tells([leaking_door(), bridged_wall()], |built| {
        vec![
            measured(built, None, LOUD, QUIET),
            measured(built, Some("hall door taped"), LOUD, QUIET),
        ]
    });
}

#[test]
fn a_plugged_grille_tells_the_grille_from_the_wall() {
    let grille = ("grille", with(&house(), "grille", "vent", 10f64.powf(1.5)));
    tells([grille, bridged_wall()], |built| {
        vec![measured(built, None, LOUD, QUIET), measured(built, Some("plugged"), LOUD, QUIET)]
    });
}

#[test]
fn before_and_after_tells_the_contacts_that_were_cut_from_the_door() {
    tells([leaking_door(), bridged_wall()], |built| {
        vec![measured(built, None, LOUD, QUIET), measured(built, Some("after"), LOUD, QUIET)]
    });
}

#[test]
fn a_microphone_close_by_tells_the_door_from_the_wall_it_hangs_in() {
    let wall = ("lobby wall", with(&house(), "lobby wall, edge joint", "gap", 5.0));
    tells([leaking_door(), wall], |built| {
        let at = |opening: Option<&str>| NearSurface {
            boundary: BoundaryIndex(1),
            opening: opening.map(str::to_owned),
        };
        let net = built.boundaries[1].net_area().0;
        vec![
            measured(built, None, LOUD, LOBBY),
            close_to(built, at(Some("hall door")), "hall door", 0.9 * 2.05),
            close_to(built, at(None), "lobby wall", net),
        ]
    });
}

#[test]
fn an_open_door_tells_the_door_from_the_wall_beside_it() {
    // With the quiet door open its seals count nothing: what is left is the wall.
    tells([leaking_door(), bridged_wall()], |built| {
        vec![
            measured(built, None, LOUD, QUIET),
            measured(built, Some("hall door open"), LOUD, QUIET),
            measured(built, Some("hall door open"), LOUD, LOBBY),
            measured(built, None, LOUD, LOBBY),
        ]
    });
}

#[test]
fn another_source_room_finds_the_far_door_and_leaves_the_wall_alone() {
    // From the lobby the far door is heard by itself. The other way round does not hold: a bridged
    // wall and sound along the structure beside it answer alike from every source room.
    let house = house();
    let built = with(&house, "quiet door sill", "gap", 10.0);
    let trials = [measured(&built, None, LOUD, QUIET), measured(&built, None, LOBBY, QUIET)];
    let (door, _) = blamed(&house, &trials, "quiet door");
    let (wall, before) = blamed(&house, &trials, "wall");
    assert!(door > 0.75 && wall < before + 0.05, "door {door:.2}, wall {wall:.2}, {before:.2}");
}
