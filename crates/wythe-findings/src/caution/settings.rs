//! What the description of the building does not say, with the assumption made instead.

use wythe_bands::{Band, Level};
use wythe_building::{Building, RoomIndex};

use super::air::{Age, AirError, LitresPerSecond, OUTDOORS, Ppm, at_temperature, breath_rate};

/// People of one kind in a room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct People {
    /// How many.
    pub count: u32,
    /// How hard they work, met, 1 to 4: sitting 1.2, standing play 2 to 3, drumming about 4 (the
    /// last two from memory).
    pub met: f64,
    /// Their age.
    pub age: Age,
}

/// Who is in a room.
#[derive(Clone, Debug, PartialEq)]
pub struct Occupancy {
    /// The people.
    pub people: Vec<People>,
    /// Whether the user said so; else it is an assumption and printed as one.
    pub stated: bool,
}

impl Occupancy {
    /// Four players, one of them drumming hard: the assumption for rooms in which a source plays.
    pub fn four_players() -> Occupancy {
        Occupancy {
            people: vec![
                People { count: 1, met: 4.0, age: Age::From21 },
                People { count: 3, met: 2.0, age: Age::From21 },
            ],
            stated: false,
        }
    }

    /// Two people sitting: the assumption for other rooms.
    pub fn two_sitting() -> Occupancy {
        Occupancy { people: vec![People { count: 2, met: 1.2, age: Age::From21 }], stated: false }
    }

    /// Number of people.
    pub fn count(&self) -> u32 {
        self.people.iter().fold(0u32, |sum, p| sum.saturating_add(p.count))
    }

    /// Carbon dioxide they breathe out together at room temperature.
    ///
    /// # Errors
    /// An activity outside the table or a temperature out of range.
    pub fn breath(&self, celsius: f64) -> Result<LitresPerSecond, AirError> {
        let mut sum = 0.0;
        for p in &self.people {
            sum += f64::from(p.count) * breath_rate(p.age, p.met)?.0;
        }
        at_temperature(LitresPerSecond(sum), celsius)
    }

    /// The people in words.
    pub fn words(&self) -> String {
        let parts: Vec<String> =
            self.people.iter().map(|p| format!("{} at {} met", p.count, p.met)).collect();
        parts.join(", ")
    }
}

/// What is said about one room.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct RoomUse {
    /// Room by id.
    pub room: String,
    /// Who is in it.
    pub occupancy: Option<Occupancy>,
    /// Outdoor air its fan brings, if there is one.
    pub fan: Option<LitresPerSecond>,
}

/// A smoke or carbon-monoxide alarm outside the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alarm {
    /// A-weighted level in the room it hangs in, dB.
    pub level: Level,
    /// Band of its tone.
    pub tone: Band,
    /// Whether the user said so.
    pub stated: bool,
}

impl Default for Alarm {
    /// 85 dBA at 3 m from a sounder of about 3 kHz, taken as the level of the whole room it hangs
    /// in (both figures from memory of what is usual).
    fn default() -> Alarm {
        Alarm { level: Level(85.0), tone: Band::HZ_3150, stated: false }
    }
}

/// A boiler, water heater, fireplace, stove or dryer.
#[derive(Clone, Debug, PartialEq)]
pub struct Appliance {
    /// What it is, in the user's words.
    pub name: String,
    /// Room by id.
    pub room: String,
    /// Heat input, kW.
    pub kilowatts: f64,
    /// Whether it takes its air straight from outdoors.
    pub direct_vent: bool,
}

/// Whether anybody said where fuel is burnt.
#[derive(Clone, Debug, PartialEq, Default)]
pub enum Appliances {
    /// Nobody said.
    #[default]
    NotSaid,
    /// These; an empty list means that there are none.
    Listed(Vec<Appliance>),
}

/// Settings of [`cautions`](super::cautions).
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Who is where, and which fans run.
    pub rooms: Vec<RoomUse>,
    /// Length of a session, minutes.
    pub session_minutes: f64,
    /// Whether the user said how long a session is.
    pub session_stated: bool,
    /// Whether the times by OSHA are wanted too.
    pub osha: bool,
    /// Whether the times by the European directive are wanted too.
    pub eu: bool,
    /// Carbon dioxide outdoors.
    pub outdoors: Ppm,
    /// Bedrooms of the dwelling; `None` when nobody said, then one is assumed.
    pub bedrooms: Option<u32>,
    /// The alarm outside loud rooms.
    pub alarm: Alarm,
    /// Fuel-burning appliances.
    pub appliances: Appliances,
    /// Year the building was built, where somebody said.
    pub built: Option<i32>,
}

impl Settings {
    /// What the description states, and the assumptions for the rest.
    pub fn stated(building: &Building) -> Settings {
        let care = &building.care;
        let usual = Settings::default();
        let id = |room: RoomIndex| building.rooms.get(room.0).map(|r| r.id.clone());
        let rooms = care
            .rooms
            .iter()
            .filter_map(|r| {
                Some(RoomUse {
                    room: id(r.room)?,
                    occupancy: (!r.people.is_empty()).then(|| Occupancy {
                        people: r
                            .people
                            .iter()
                            .map(|p| People {
                                count: p.count,
                                met: p.met,
                                age: p.age.map_or(Age::From21, Age::of),
                            })
                            .collect(),
                        stated: true,
                    }),
                    fan: r.fan.map(LitresPerSecond),
                })
            })
            .collect();
        Settings {
            rooms,
            session_minutes: care.session.map_or(usual.session_minutes, |s| s.0 / 60.0),
            session_stated: care.session.is_some(),
            osha: care.osha,
            eu: care.eu,
            outdoors: care.outdoor_co2.map_or(usual.outdoors, Ppm),
            bedrooms: care.bedrooms,
            alarm: Alarm {
                level: care.alarm.unwrap_or(usual.alarm.level),
                tone: care.alarm_tone.unwrap_or(usual.alarm.tone),
                stated: care.alarm.is_some(),
            },
            appliances: match &care.fuel {
                None => Appliances::NotSaid,
                Some(all) => Appliances::Listed(
                    all.iter()
                        .filter_map(|a| {
                            Some(Appliance {
                                name: a.name.clone(),
                                room: id(a.room)?,
                                kilowatts: a.kilowatts,
                                direct_vent: a.direct_vent,
                            })
                        })
                        .collect(),
                ),
            },
            built: care.built,
        }
    }
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            rooms: Vec::new(),
            session_minutes: 120.0,
            session_stated: false,
            osha: false,
            eu: false,
            outdoors: OUTDOORS,
            bedrooms: None,
            alarm: Alarm::default(),
            appliances: Appliances::NotSaid,
            built: None,
        }
    }
}
