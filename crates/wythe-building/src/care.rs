//! What the people who plan know about the place that the cautions need: who is in a room, what
//! burns fuel, what may hang from a ceiling. Nothing here changes a sound level.

use crate::RoomIndex;
use wythe_bands::{Band, Level, Metre, Seconds, SurfaceMass};

/// People of one kind in a room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct People {
    /// How many.
    pub count: u32,
    /// How hard they work, met, 1 to 4.
    pub met: f64,
    /// Their age, years; taken as 21 to 30 where not stated.
    pub age: Option<f64>,
}

/// A boiler, water heater, fireplace, stove or dryer.
#[derive(Clone, Debug, PartialEq)]
pub struct FuelAppliance {
    /// What it is, in the user's words.
    pub name: String,
    /// Where it stands.
    pub room: RoomIndex,
    /// Heat input, kW.
    pub kilowatts: f64,
    /// Whether it takes its air straight from outdoors.
    pub direct_vent: bool,
}

/// What a room is for, where published guidance tells rooms apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Purpose {
    /// Recording or mixing.
    Recording,
    /// Critical listening.
    Listening,
    /// Practice or rehearsal.
    Practice,
    /// Living room of a dwelling.
    Living,
    /// Bedroom of a dwelling.
    Bedroom,
    /// The outdoors in front of a dwelling.
    OutsideDwelling,
}

impl Purpose {
    /// All of them with their words in the project file.
    pub const WORDS: [(&'static str, Purpose); 6] = [
        ("recording", Purpose::Recording),
        ("listening", Purpose::Listening),
        ("practice", Purpose::Practice),
        ("living", Purpose::Living),
        ("bedroom", Purpose::Bedroom),
        ("outside a dwelling", Purpose::OutsideDwelling),
    ];
}

/// What is said about one room.
#[derive(Clone, Debug, PartialEq)]
pub struct RoomCare {
    /// The room.
    pub room: RoomIndex,
    /// What it is for.
    pub purpose: Option<Purpose>,
    /// Who is in it; empty where nobody said.
    pub people: Vec<People>,
    /// Outdoor air its fan brings, L/s.
    pub fan: Option<f64>,
}

/// Everything stated for the cautions; what is `None` or empty was not said, and the cautions
/// then say so or assume aloud.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Care {
    /// Length of a session.
    pub session: Option<Seconds>,
    /// Whether the times allowed by OSHA are wanted beside NIOSH's.
    pub osha: bool,
    /// Whether the European directive's are.
    pub eu: bool,
    /// Bedrooms of the dwelling.
    pub bedrooms: Option<u32>,
    /// Carbon dioxide outdoors, ppm.
    pub outdoor_co2: Option<f64>,
    /// A-weighted level of the alarm in the room it hangs in.
    pub alarm: Option<Level>,
    /// Band of its tone.
    pub alarm_tone: Option<Band>,
    /// Year the building was built.
    pub built: Option<i32>,
    /// Fuel-burning appliances; an empty list means that there are none, `None` that nobody said.
    pub fuel: Option<Vec<FuelAppliance>>,
    /// Who is where, and which fans run.
    pub rooms: Vec<RoomCare>,
    /// Heights of sills above the floor, by opening.
    pub sills: Vec<(String, Metre)>,
    /// Mass that may be added to a floor or hung from a ceiling, by boundary, as the person
    /// responsible for the structure stated it. Where none is given, the limit of all plans holds.
    pub allowances: Vec<(String, SurfaceMass)>,
}
