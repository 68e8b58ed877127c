//! What is stated for the cautions: people, fans, fuel, alarms.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Hertz, Level, Seconds};
use wythe_building::RoomIndex;
use wythe_building::care::{Care, FuelAppliance, People, Purpose, RoomCare};

use super::Assembly;
use crate::record::{Record, Value};

impl Assembly<'_> {
    /// Who is in the room about to be added, and its fan.
    pub(super) fn room_care(&mut self, record: &Record, outdoors: bool) {
        let people: Vec<People> = record
            .records("people")
            .iter()
            .map(|p| People {
                count: p.whole("count").and_then(|n| u32::try_from(n).ok()).unwrap_or(0),
                met: p.number("met").unwrap_or(2.0),
                age: p.number("age"),
            })
            .collect();
        let fan = record.number("fan");
        for key in ["people", "fan"] {
            if outdoors && record.has(key) {
                let text = format!("{}: the outdoors has no `{key}`", record.label);
                self.problem("project::misplaced", record.at(key), text, "take it out");
            }
        }
        let word = record.text("use");
        let purpose =
            Purpose::WORDS.iter().find(|(w, _)| Some(*w) == word).map(|(_, purpose)| *purpose);
        if !people.is_empty() || fan.is_some() || purpose.is_some() {
            let room = RoomIndex(self.building.rooms.len());
            self.building.care.rooms.push(RoomCare { room, purpose, people, fan });
        }
    }

    /// `[caution]`.
    pub(super) fn care(&mut self, record: Option<&Record>) {
        let Some(record) = record else { return };
        let fuel = self.fuel(record);
        let alarm = match record.given("alarm").map(|g| &g.value) {
            Some(Value::Level(level, Weighting::A)) => Some(Level(*level)),
            Some(_) => {
                let text = format!("{}: `alarm` is not A-weighted", record.label);
                let help = "for example `alarm = \"85 dBA\"`";
                self.problem("project::weighting", record.at("alarm"), text, help);
                None
            }
            None => None,
        };
        let care = std::mem::take(&mut self.building.care);
        self.building.care = Care {
            session: record.number("session").map(Seconds),
            osha: record.flag("osha").unwrap_or(false),
            eu: record.flag("eu").unwrap_or(false),
            bedrooms: record.whole("bedrooms").and_then(|n| u32::try_from(n).ok()),
            outdoor_co2: record.number("outdoor_co2"),
            alarm,
            alarm_tone: record.number("alarm_tone").and_then(|f| Band::holding(Hertz(f))),
            built: record.whole("built").and_then(|n| i32::try_from(n).ok()),
            fuel,
            ..care
        };
    }

    fn fuel(&mut self, record: &Record) -> Option<Vec<FuelAppliance>> {
        let mut all = Vec::new();
        for appliance in record.records("appliance") {
            let id = appliance.text("room").unwrap_or_default().to_owned();
            let room = self.room_ref(&appliance.label, &id, appliance.at("room"));
            if let (Some(room), Some(name), Some(kilowatts)) =
                (room, appliance.text("name"), appliance.number("power"))
            {
                all.push(FuelAppliance {
                    name: name.to_owned(),
                    room,
                    kilowatts,
                    direct_vent: appliance.flag("direct_vent").unwrap_or(false),
                });
            }
        }
        let none = record.flag("no_fuel").unwrap_or(false);
        if none && record.has("appliance") {
            let text = format!(
                "{}: `no_fuel` says that nothing burns fuel, `appliance` lists what does",
                record.label
            );
            self.problem("project::misplaced", record.at("no_fuel"), text, "take one of them out");
        }
        (none || !all.is_empty()).then_some(all)
    }
}
