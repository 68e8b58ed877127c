//! Boilers, heaters, fireplaces and dryers that share air with a tight room.

use wythe_building::RoomIndex;

use super::load::{COMBUSTION_SOURCE, combustion_least_volume};
use super::settings::{Appliance, Appliances};
use super::site::Site;
use super::words::{figures, list};
use super::{Caution, Concern, Topic};

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    match &site.settings.appliances {
        Appliances::NotSaid => vec![
            Caution::new("caution::fuel-not-said", Topic::Fuel, "building")
                .why(
                    "Nobody has said where a boiler, water heater, stove, fireplace or gas dryer \
                     stands. A room sealed off or an added fan can starve it or turn its flue \
                     round, and the gas that comes back has no smell.",
                )
                .source(COMBUSTION_SOURCE)
                .what_to_do(
                    "Look before the first drawing and list them, or say that there are none. \
                     Where one shares air with a new room, stop and call the contractor.",
                )
                .not_known(),
        ],
        Appliances::Listed(all) => listed(site, all),
    }
}

fn listed(site: &Site<'_>, all: &[Appliance]) -> Vec<Caution> {
    let mut out: Vec<Caution> = Vec::new();
    for (index, room) in site.indoors() {
        let here: Vec<&Appliance> = all.iter().filter(|a| a.room == room.id).collect();
        if !here.is_empty() {
            out.push(in_room(site, index, &here));
        }
    }
    let lost: Vec<&str> = all
        .iter()
        .filter(|a| !site.building.rooms.iter().any(|r| r.id == a.room))
        .map(|a| a.name.as_str())
        .collect();
    if !lost.is_empty() {
        out.push(
            Caution::new("caution::fuel-place-not-known", Topic::Fuel, list(&lost))
                .why("The room it is said to stand in is not described.")
                .what_to_do("Name a room of the description, or add the room.")
                .stop(true)
                .not_known(),
        );
    }
    out
}

fn in_room(site: &Site<'_>, room: RoomIndex, here: &[&Appliance]) -> Caution {
    let names: Vec<&str> = here.iter().map(|a| a.name.as_str()).collect();
    let drawing: Vec<&&Appliance> = here.iter().filter(|a| !a.direct_vent).collect();
    let kilowatts: f64 = drawing.iter().map(|a| a.kilowatts).sum();
    let volume = site.room(room).map_or(f64::NAN, |r| r.volume.0);
    let shares = site.is_loud(room)
        || site.round(room).any(|(_, b)| b.beyond(room).is_some_and(|r| site.is_loud(r)));
    let caution = Caution::new(
        "caution::fuel-appliance",
        Topic::Fuel,
        format!("{}: {}", site.name(room), list(&names)),
    )
    .source(COMBUSTION_SOURCE)
    .at([Concern::Room(room)]);
    let beside = if shares { " It is in or beside a room that is played in." } else { "" };
    let to_do = "Seal nothing and add no fan round it before the contractor has seen it; fit a \
                 carbon-monoxide alarm.";
    if drawing.is_empty() {
        return caution
            .why(format!(
                "It burns fuel and is said to take its air straight from outdoors.{beside}"
            ))
            .what_to_do("Have that confirmed on site; fit a carbon-monoxide alarm.");
    }
    match combustion_least_volume(kilowatts) {
        Ok(least) => {
            let small = !(volume >= least.0);
            let says = if small { "less than" } else { "not below" };
            caution
                .why(format!(
                    "It burns fuel with air from a room of {} m³, {says} the {} m³ under which a \
                     model code calls the space confined.{beside}",
                    figures(volume),
                    figures(least.0)
                ))
                .figure("volume asked for", least.0, "m³")
                .figure("volume of the room", volume, "m³")
                .what_to_do(to_do)
                .stop(small || shares)
        }
        Err(why) => caution
            .why(format!("Its air cannot be judged: {why}.{beside}"))
            .what_to_do(to_do)
            .stop(true)
            .not_known(),
    }
}
