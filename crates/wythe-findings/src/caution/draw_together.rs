//! All triggers asked, the answers in order.

use wythe_bands::SquareMetre;
use wythe_building::{Boundary, BoundaryKind, BuildUpIndex, Building, RoomIndex};
use wythe_partition::BuildUp;
use wythe_transmission::{Cache, Model, assemble};

use super::site::Site;
use super::words::list;
use super::{
    Caution, Settings, Topic, alarm, dust, fire, floor_load, fuel, hearing, lifting, tight_room,
    way_out, wiring,
};

/// Every caution of a building, by how badly somebody could be hurt; within a topic what must stop
/// first, then what was found, then what is not known. The order is the same on every run.
pub fn cautions(building: &Building, settings: &Settings) -> Vec<Caution> {
    match assemble(building, &mut Cache::default()) {
        Ok(model) => cautions_in(building, settings, &model),
        Err(why) => {
            let mut all = gather(&Site::new(building, settings, None));
            let missing = Caution::new("caution::levels-not-known", Topic::Hearing, "building")
                .why(format!("What arrives in other rooms cannot be predicted: {why}."))
                .what_to_do(
                    "Mend the description; hearing and alarms in the other rooms stay open.",
                )
                .not_known();
            all.push(missing);
            in_order(all)
        }
    }
}

/// [`cautions`] with a model already made of the same building.
pub fn cautions_in(building: &Building, settings: &Settings, model: &Model) -> Vec<Caution> {
    in_order(gather(&Site::new(building, settings, Some(model))))
}

/// The same with what the description states, by a model already made of the building, or one made
/// here. What
/// it does not state is assumed, and each caution says what.
pub fn cautions_of(building: &Building, model: Option<&Model>) -> Vec<Caution> {
    let settings = Settings::stated(building);
    match model {
        Some(model) => cautions_in(building, &settings, model),
        None => cautions(building, &settings),
    }
}

/// What a build-up by itself calls for, wherever it is put: its weight, its dust, its sheets. What
/// hangs on rooms (air, fire, ways out, hearing) cannot be said without them.
pub fn cautions_of_build_ups(build_ups: &[BuildUp]) -> Vec<Caution> {
    let walls = build_ups.iter().enumerate().map(|(i, build_up)| Boundary {
        id: build_up.id.clone(),
        title: build_up.title.clone(),
        // There are no rooms; nothing asked below looks for them.
        rooms: [RoomIndex(usize::MAX); 2],
        kind: BoundaryKind::Floor,
        build_up: BuildUpIndex(i),
        area: SquareMetre(1.0),
        area_found: false,
        openings: Vec::new(),
        leaks: Vec::new(),
        distance: None,
        standpoint: build_up.standpoint.clone(),
    });
    let building = Building {
        boundaries: walls.collect(),
        build_ups: build_ups.to_vec(),
        ..Building::default()
    };
    let settings = Settings::default();
    let site = Site::new(&building, &settings, None);
    let mut all = [dust::cautions(&site), lifting::cautions(&site)].concat();
    all.push(floor_load::by_itself(build_ups));
    in_order(all)
}

fn gather(site: &Site<'_>) -> Vec<Caution> {
    if site.indoors().next().is_none() {
        return vec![
            Caution::new("caution::nothing-described", Topic::WayOut, "building")
                .why("No room indoors is described, so nothing that could hurt anybody is judged.")
                .what_to_do("Describe the rooms, what separates them and what is played in them.")
                .not_known(),
        ];
    }
    [
        unknown_rooms(site),
        way_out::cautions(site),
        fuel::cautions(site),
        alarm::cautions(site),
        floor_load::cautions(site),
        tight_room::cautions(site),
        fire::cautions(site),
        wiring::cautions(site),
        hearing::cautions(site),
        dust::cautions(site),
        lifting::cautions(site),
    ]
    .concat()
}

/// Settings about rooms that are not described, which would else be lost without a word.
fn unknown_rooms(site: &Site<'_>) -> Vec<Caution> {
    let rooms = &site.building.rooms;
    let lost: Vec<&str> = site
        .settings
        .rooms
        .iter()
        .map(|u| u.room.as_str())
        .filter(|id| !rooms.iter().any(|r| r.id == *id))
        .collect();
    if lost.is_empty() {
        return Vec::new();
    }
    vec![
        Caution::new("caution::use-of-unknown-room", Topic::Air, list(&lost))
            .why(
                "People or a fan are stated for a room that is not described, so they count \
                 nowhere.",
            )
            .what_to_do("Give the id of a room of the description.")
            .not_known(),
    ]
}

fn in_order(mut all: Vec<Caution>) -> Vec<Caution> {
    // Stable: triggers of one rank stay in the order of the building.
    all.sort_by_key(|c| (c.topic, !c.stop, c.not_known));
    all
}
