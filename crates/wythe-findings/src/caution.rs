//! What could hurt somebody: hearing, weight, air, a way out, fire, fuel, wiring, dust.
//!
//! [`cautions`] reads the building and says where each of these arises, with the figure behind it,
//! where the figure comes from, what to do and who decides. What cannot be judged because the
//! description lacks it is said too. Nothing here can be switched off, and nothing here says that
//! something will not hurt anybody.
//!
//! Beside it the plain sums: [`air`], [`load`], [`take_off`], and the table of published guidance
//! in [`requirements`].
//!
//! Not here: the rules of hearing dose (`wythe_rating::dose`), local law, prices.

// `!(x >= y)` refuses NaN together with what is too small; `x < y` would let it through.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

pub mod air;
mod alarm;
mod draw_together;
mod dust;
mod fire;
mod floor_load;
mod fuel;
mod hearing;
mod lifting;
pub mod load;
pub mod requirements;
mod settings;
mod site;
pub mod take_off;
mod tight_room;
mod way_out;
mod wiring;
mod words;

pub use draw_together::{cautions, cautions_in, cautions_of, cautions_of_build_ups};
pub use settings::{Alarm, Appliance, Appliances, Occupancy, People, RoomUse, Settings};

use wythe_bands::{Remark, Source};
use wythe_building::{BoundaryIndex, BuildUpIndex, RoomIndex};

/// Notice printed wherever weight, a way out, air, fire, fuel, wiring or dust is touched.
pub const STANDING_NOTICE: &str = "These are figures to plan with, no more. The building code of \
                                   the place and the licensed engineer or tradesperson who signs \
                                   for the work decide. Where they say otherwise, follow them and \
                                   not this page.";

/// What a caution is about, in the order in which cautions are listed: what kills first, then what
/// injures, then what is merely regretted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Topic {
    /// The way out in a fire.
    WayOut,
    /// Fuel-burning appliances and their air.
    Fuel,
    /// Whether an alarm is heard.
    Alarm,
    /// Weight on the structure.
    Load,
    /// Air to breathe.
    Air,
    /// Fire in hidden spaces and in linings.
    Fire,
    /// Electrical boxes and cables.
    Wiring,
    /// Hearing.
    Hearing,
    /// Dust and fibres.
    Dust,
    /// Lifting.
    Lifting,
    /// Noise of the ventilation itself.
    DuctNoise,
}

impl Topic {
    /// Who decides, whatever the figures say.
    pub fn who_decides(self) -> &'static str {
        match self {
            Topic::WayOut | Topic::Alarm => "the fire officer and the building code of the place",
            Topic::Fuel => "a licensed fuel-gas or heating contractor",
            Topic::Load => "a licensed structural engineer and the building department",
            Topic::Air => "the mechanical code of the place and whoever signs for the ventilation",
            Topic::Fire => "the building inspector and the fire code of the place",
            Topic::Wiring => "a licensed electrician and the electrical inspector",
            Topic::Hearing => {
                "the workplace rules of the place and licensed occupational-health practice"
            }
            Topic::Dust => "the workplace rules of the place and the product's safety data sheet",
            Topic::Lifting => "the workplace rules of the place and the people who lift",
            Topic::DuctNoise => "whoever signs for the ventilation",
        }
    }

    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            Topic::WayOut => "way out",
            Topic::Fuel => "fuel",
            Topic::Alarm => "alarm",
            Topic::Load => "weight",
            Topic::Air => "air",
            Topic::Fire => "fire",
            Topic::Wiring => "wiring",
            Topic::Hearing => "hearing",
            Topic::Dust => "dust",
            Topic::Lifting => "lifting",
            Topic::DuctNoise => "duct noise",
        }
    }
}

/// A figure behind a caution.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// What it is, such as `minutes to 1500 ppm`.
    pub name: String,
    /// Its value, in `unit`.
    pub value: f64,
    /// Unit as printed.
    pub unit: &'static str,
}

/// A thing of the project a caution belongs to, so that a face can show it in that place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Concern {
    /// A room.
    Room(RoomIndex),
    /// A wall, floor or roof.
    Boundary(BoundaryIndex),
    /// A door or window by id.
    Opening(String),
    /// A build-up.
    BuildUp(BuildUpIndex),
    /// A change on offer by id.
    Change(String),
}

/// Something that could hurt somebody, or that cannot be judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Caution {
    /// Stable code such as `caution::hearing-dose`.
    pub code: &'static str,
    /// What it is about.
    pub topic: Topic,
    /// Where, in the user's own names.
    pub place: String,
    /// What is the matter, in one or two sentences.
    pub why: String,
    /// The figure that matters most, with its unit.
    pub number: Option<(f64, &'static str)>,
    /// All figures, the one that matters most first.
    pub figures: Vec<Figure>,
    /// Where figures and rules come from.
    pub sources: Vec<Source>,
    /// What to do.
    pub what_to_do: String,
    /// What the figures take for granted; to be printed with them.
    pub assumed: Vec<String>,
    /// Whether to stop before money is spent or work begins.
    pub stop: bool,
    /// Whether this says that something is not known instead of what was found.
    pub not_known: bool,
    /// What of the project it belongs to.
    pub concerns: Vec<Concern>,
}

impl Caution {
    fn new(code: &'static str, topic: Topic, place: impl Into<String>) -> Caution {
        Caution {
            code,
            topic,
            place: place.into(),
            why: String::new(),
            number: None,
            figures: Vec::new(),
            sources: Vec::new(),
            what_to_do: String::new(),
            assumed: Vec::new(),
            stop: false,
            not_known: false,
            concerns: Vec::new(),
        }
    }

    fn why(mut self, why: impl Into<String>) -> Caution {
        self.why = why.into();
        self
    }

    fn figure(mut self, name: impl Into<String>, value: f64, unit: &'static str) -> Caution {
        if value.is_finite() {
            self.number.get_or_insert((value, unit));
            self.figures.push(Figure { name: name.into(), value, unit });
        }
        self
    }

    fn source(mut self, source: Source) -> Caution {
        if !self.sources.contains(&source) {
            self.sources.push(source);
        }
        self
    }

    fn what_to_do(mut self, what: impl Into<String>) -> Caution {
        self.what_to_do = what.into();
        self
    }

    fn assumed(mut self, what: impl Into<String>) -> Caution {
        self.assumed.push(what.into());
        self
    }

    fn stop(mut self, stop: bool) -> Caution {
        self.stop = stop;
        self
    }

    fn not_known(mut self) -> Caution {
        self.not_known = true;
        self
    }

    fn at(mut self, concerns: impl IntoIterator<Item = Concern>) -> Caution {
        self.concerns.extend(concerns);
        self
    }

    /// Who decides, whatever the figures say.
    pub fn who_decides(&self) -> &'static str {
        self.topic.who_decides()
    }

    /// The whole in one paragraph: what, what is taken for granted, what to do, who decides.
    pub fn text(&self) -> String {
        let mut out = String::new();
        if self.stop {
            out.push_str("Stop. ");
        }
        out.push_str(&self.why);
        if !self.assumed.is_empty() {
            out.push_str(&format!(" Taken for granted: {}.", self.assumed.join("; ")));
        }
        out.push_str(&format!(" {} Decides: {}.", self.what_to_do, self.who_decides()));
        out
    }

    /// The same as a remark, for tables that hold remarks.
    pub fn remark(&self) -> Remark {
        Remark::new(self.code, self.text()).at(self.place.clone())
    }
}
