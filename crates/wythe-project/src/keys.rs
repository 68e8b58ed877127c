//! The one table of keys. Reading, messages about unknown keys, the JSON Schema and
//! `docs/project-file.md` all come from here.

mod fabric;
mod field_test;

pub use fabric::{CONTACT, DUCT, JUNCTION, JUNCTIONS, MOUNT, THROUGH, VENT};
pub use field_test::{INSTRUMENT, SPOT, TEST};

use crate::quantity::Quantity;

/// One key of a table.
#[derive(Debug)]
pub struct Key {
    /// As written in the file.
    pub name: &'static str,
    /// What may stand behind it.
    pub kind: Kind,
    /// Whether it may be left out.
    pub need: Need,
    /// One line for people.
    pub help: &'static str,
    /// A correct line.
    pub example: &'static str,
}

/// Whether a key may be left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// It may not.
    Required,
    /// It may, and nothing is taken in its place.
    Optional,
    /// It may, and this is taken.
    Default(&'static str),
}

/// What may stand behind a key.
#[derive(Debug)]
pub enum Kind {
    /// Free text.
    Text,
    /// A name that other tables refer to.
    Id,
    /// One of these words.
    Word(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A whole number between two.
    Whole(i64, i64),
    /// A number without unit between two.
    Number(f64, f64),
    /// A text with a unit, between two values in the quantity's own unit.
    Quantity(Quantity, f64, f64),
    /// A sound level with or without weighting.
    Level,
    /// A list of texts, of at least and at most so many.
    Texts(usize, usize),
    /// A list of whole numbers from 1.
    Wholes,
    /// Corners of an outline.
    Points,
    /// A value per band: `{ 125 = "…", 250 = "…" }` or with `unit`.
    Bands(Quantity, f64, f64),
    /// Names of the user's choice with a text each.
    Pairs,
    /// One table.
    Table(&'static Section),
    /// Any number of tables.
    Records(&'static Section),
    /// One of several.
    OneOf(&'static [Kind]),
}

/// A table of the file with its keys.
#[derive(Debug)]
pub struct Section {
    /// Short name, also of its definition in the schema.
    pub name: &'static str,
    /// As it is written in the file.
    pub heading: &'static str,
    /// What it describes, in one or two sentences.
    pub help: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
    /// Whether `status` and `source` may be said of it.
    pub standing: bool,
    /// A complete example, if one helps.
    pub example: &'static str,
}

impl Section {
    /// Key by name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys
            .iter()
            .find(|k| k.name == name)
            .or_else(|| self.standing.then(|| STANDING.iter().find(|k| k.name == name)).flatten())
    }

    /// Names of all keys that may stand in it.
    pub fn names(&self) -> impl Iterator<Item = &'static str> + '_ {
        let common: &'static [Key] = if self.standing { &STANDING } else { &[] };
        self.keys.iter().chain(common).map(|k| k.name)
    }
}

const fn req(name: &'static str, kind: Kind, help: &'static str, example: &'static str) -> Key {
    Key { name, kind, need: Need::Required, help, example }
}
const fn opt(name: &'static str, kind: Kind, help: &'static str, example: &'static str) -> Key {
    Key { name, kind, need: Need::Optional, help, example }
}
const fn def(
    name: &'static str,
    kind: Kind,
    default: &'static str,
    help: &'static str,
    example: &'static str,
) -> Key {
    Key { name, kind, need: Need::Default(default), help, example }
}
const fn length(least: f64, most: f64) -> Kind {
    Kind::Quantity(Quantity::Length, least, most)
}

/// Version of the format this program writes and the newest it reads.
pub const FORMAT: i64 = 1;

/// Words of `status` and `standing`.
pub const STANDINGS: &[&str] = &["known", "assumed", "unknown"];

/// Keys that nearly every table may carry.
pub static STANDING: [Key; 2] = [
    opt(
        "status",
        Kind::Word(STANDINGS),
        "how well the whole table is known; taken as `assumed` where nothing is said",
        r#"status = "known""#,
    ),
    opt(
        "source",
        Kind::Text,
        "where it came from: drawing, data sheet, visit, person",
        r#"source = "seen on site, joists at 400 mm""#,
    ),
];

/// Widest sensible extent of a room, m. A sports hall is 100 m; what is larger is a slip of unit.
const ROOM: f64 = 500.0;
/// Thickest board or leaf, m. Castle walls are 2 m.
const LEAF: f64 = 2.5;

/// `wythe.toml`.
pub static PROJECT: Section = Section {
    name: "project",
    heading: "wythe.toml",
    help: "The building and what is asked of it. Lists of tables may be split over files named in `include`.",
    standing: false,
    example: "",
    keys: &[
        req("wythe", Kind::Whole(1, i64::MAX), "version of the file format", "wythe = 1"),
        opt("title", Kind::Text, "title of the project", r#"title = "The Ropewalk""#),
        opt(
            "notes",
            Kind::Text,
            "anything worth keeping",
            r#"notes = "second survey due in spring""#,
        ),
        def(
            "units",
            Kind::Word(&["metric", "US"]),
            "metric",
            "units the desk shows and takes for bare numbers; what is written in the file stays as it is",
            r#"units = "US""#,
        ),
        opt(
            "include",
            Kind::Texts(0, 50),
            "more files of the same form, relative to the project folder",
            r#"include = ["build-ups.toml"]"#,
        ),
        opt(
            "air",
            Kind::Table(&AIR),
            "the air in the building",
            r#"air = { temperature = "20 °C" }"#,
        ),
        opt(
            "defaults",
            Kind::Table(&DEFAULTS),
            "what is taken where boundaries are not written",
            r#"defaults = { wall = "partition" }"#,
        ),
        opt("room", Kind::Records(&ROOM_SECTION), "rooms, and the outdoors", "[[room]]"),
        opt(
            "material",
            Kind::Records(&MATERIAL),
            "boards, sheets and slabs of your own, for `board` in layers",
            "[[material]]",
        ),
        opt("fill", Kind::Records(&FILL), "fills of your own, for `fill` in layers", "[[fill]]"),
        opt(
            "build_up",
            Kind::Records(&BUILD_UP),
            "what walls, floors and leaves are made of",
            "[[build_up]]",
        ),
        opt("boundary", Kind::Records(&BOUNDARY), "what parts the rooms", "[[boundary]]"),
        opt(
            "junction",
            Kind::Records(&JUNCTION),
            "edges where walls and floors meet",
            "[[junction]]",
        ),
        opt("duct", Kind::Records(&DUCT), "ducts between rooms and to the outdoors", "[[duct]]"),
        opt("vent", Kind::Records(&VENT), "grilles and vents known by a figure", "[[vent]]"),
        opt("contact", Kind::Records(&CONTACT), "sources that shake the floor", "[[contact]]"),
        opt("state", Kind::Records(&STATE), "named positions of doors and windows", "[[state]]"),
        opt("source", Kind::Records(&SOURCE), "what is loud", "[[source]]"),
        opt("target", Kind::Records(&TARGET), "what is required", "[[target]]"),
        opt("change", Kind::Records(&CHANGE), "changes on offer", "[[change]]"),
        opt(
            "limits",
            Kind::Table(&LIMITS),
            "limits a plan must keep",
            r#"limits = { budget = 4000 }"#,
        ),
        opt("strike", Kind::Records(&STRIKE), "what is impossible here", "[[strike]]"),
        opt("price", Kind::Records(&PRICE), "your own prices", "[[price]]"),
        opt(
            "library",
            Kind::Table(&LIBRARY),
            "comparisons kept from earlier projects",
            r#"library = { folder = "../kept" }"#,
        ),
        opt(
            "caution",
            Kind::Table(&CAUTION),
            "what the cautions need to know",
            r#"caution = { session = "2 h", built = 1974 }"#,
        ),
        opt(
            "tracing",
            Kind::Records(&TRACING),
            "pictures of plans to trace rooms from",
            "[[tracing]]",
        ),
    ],
};

/// `[[tracing]]`.
pub static TRACING: Section = Section {
    name: "tracing",
    heading: "[[tracing]]",
    help: "A scan or photo of a plan that the desk lays under the rooms of a storey. Nothing is calculated from it.",
    standing: false,
    example: r#"[[tracing]]
file = "drawings/ground-floor.png"
storey = 0
width = "14.2 m""#,
    keys: &[
        req(
            "file",
            Kind::Text,
            "a PNG or JPEG in the project folder",
            r#"file = "drawings/ground-floor.png""#,
        ),
        def("storey", Kind::Whole(-20, 200), "0", "the storey it shows", "storey = 1"),
        req(
            "width",
            length(0.1, 5000.0),
            "how much of the building it spans from its left to its right edge",
            r#"width = "14.2 m""#,
        ),
        def(
            "x",
            Kind::Quantity(Quantity::Length, -5000.0, 5000.0),
            "0 m",
            "where its left edge lies on the plan",
            r#"x = "-0.4 m""#,
        ),
        def(
            "y",
            Kind::Quantity(Quantity::Length, -5000.0, 5000.0),
            "0 m",
            "where its lower edge lies on the plan",
            r#"y = "-0.3 m""#,
        ),
        def("opacity", Kind::Number(0.05, 1.0), "0.5", "how strongly it is shown", "opacity = 0.3"),
    ],
};

/// A file holding build-ups only.
pub static BUILD_UP_FILE: Section = Section {
    name: "build_up_file",
    heading: "a file of build-ups",
    help: "One or more `[[build_up]]` by themselves, for the partition command.",
    standing: false,
    example: "",
    keys: &[
        opt("wythe", Kind::Whole(1, i64::MAX), "version of the file format", "wythe = 1"),
        opt("title", Kind::Text, "title", r#"title = "Walls on offer""#),
        opt(
            "material",
            Kind::Records(&MATERIAL),
            "boards, sheets and slabs of your own, for `board` in layers",
            "[[material]]",
        ),
        opt("fill", Kind::Records(&FILL), "fills of your own, for `fill` in layers", "[[fill]]"),
        req(
            "build_up",
            Kind::Records(&BUILD_UP),
            "what walls, floors and leaves are made of",
            "[[build_up]]",
        ),
    ],
};

/// `[air]`.
pub static AIR: Section = Section {
    name: "air",
    heading: "[air]",
    help: "The air in the building: speed of sound, impedance, absorption on the way.",
    standing: true,
    example: "",
    keys: &[
        def(
            "temperature",
            Kind::Quantity(Quantity::Temperature, -20.0, 50.0),
            "20 °C",
            "temperature",
            r#"temperature = "20 °C""#,
        ),
        def(
            "humidity",
            Kind::Quantity(Quantity::Percent, 0.0, 100.0),
            "50 %",
            "relative humidity",
            r#"humidity = "50 %""#,
        ),
        def(
            "pressure",
            Kind::Quantity(Quantity::Pressure, 50_000.0, 110_000.0),
            "101325 Pa",
            "static pressure",
            r#"pressure = "1013 hPa""#,
        ),
    ],
};

/// `[defaults]`.
pub static DEFAULTS: Section = Section {
    name: "defaults",
    heading: "[defaults]",
    help: "Where rooms share a wall or floor on the outlines and no boundary is written, a boundary of this build-up is added and listed as assumed. Without a default the shared wall is only remarked.",
    standing: true,
    example: "",
    keys: &[
        opt("wall", Kind::Text, "build-up of walls between rooms", r#"wall = "partition""#),
        opt(
            "floor",
            Kind::Text,
            "build-up of floors between storeys, side a below",
            r#"floor = "joist-floor""#,
        ),
        opt(
            "outer_wall",
            Kind::Text,
            "build-up of walls that face no room; needs exactly one outdoors",
            r#"outer_wall = "brick""#,
        ),
        opt(
            "roof",
            Kind::Text,
            "build-up over rooms with no room above; needs exactly one outdoors",
            r#"roof = "roof""#,
        ),
        def(
            "thickest_wall",
            length(0.05, 3.0),
            "0.6 m",
            "how far apart two outlines may lie and still share a wall",
            r#"thickest_wall = "0.6 m""#,
        ),
        def(
            "flanking",
            Kind::Word(&["found", "left out"]),
            "found",
            "whether edges found from the outlines carry sound along the structure where heavy plates meet; `left out` keeps those of `[[junction]]` only",
            r#"flanking = "found""#,
        ),
    ],
};

/// `[[room]]`.
pub static ROOM_SECTION: Section = Section {
    name: "room",
    heading: "[[room]]",
    help: "A room by outline, storey and height, or by volume; or the outdoors. Its absorption comes from `decay_time` if given, else `absorption`, else `finishes`; with none of them a decay time of 0.5 s is assumed and listed.",
    standing: true,
    example: "",
    keys: &[
        req("id", Kind::Id, "name that other tables refer to", r#"id = "drum-hall""#),
        opt("title", Kind::Text, "title for people", r#"title = "Drum hall""#),
        def(
            "storey",
            Kind::Whole(-20, 200),
            "0",
            "storey, 0 at the ground, negative below",
            "storey = 1",
        ),
        opt(
            "outline",
            Kind::Points,
            "inner faces of the walls on plan, corner by corner",
            r#"outline = [["0 m", "0 m"], ["7.2 m", "0 m"], ["7.2 m", "5.4 m"], ["0 m", "5.4 m"]]"#,
        ),
        opt("height", length(0.2, 100.0), "clear height", r#"height = "2.7 m""#),
        opt(
            "volume",
            Kind::Quantity(Quantity::Volume, 0.1, 1e6),
            "volume, where there is no outline or the ceiling slopes",
            r#"volume = "105 m3""#,
        ),
        opt(
            "floor_area",
            Kind::Quantity(Quantity::Area, 0.05, 1e5),
            "floor area, where there is no outline",
            r#"floor_area = "38.9 m2""#,
        ),
        opt(
            "finishes",
            Kind::Table(&FINISHES),
            "what the surfaces are covered with",
            r#"finishes = { floor = "timber on joists", walls = "gypsum on studs", ceiling = "gypsum on studs" }"#,
        ),
        opt(
            "absorption",
            Kind::Bands(Quantity::Area, 0.0, 1e5),
            "equivalent absorption area per band, without the air's",
            r#"absorption = { unit = "m2", 125 = 8.1, 250 = 9.4, 500 = 10.2 }"#,
        ),
        opt(
            "decay_time",
            Kind::OneOf(&[
                Kind::Quantity(Quantity::Time, 0.02, 60.0),
                Kind::Bands(Quantity::Time, 0.02, 60.0),
            ]),
            "reverberation time T, one for all bands or per band",
            r#"decay_time = { unit = "s", 125 = 0.9, 250 = 0.7, 500 = 0.6, 1000 = 0.6 }"#,
        ),
        opt(
            "background",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -20.0, 140.0)]),
            "sound in the room by itself: per band, a CSV file with the header `frequency_hz,level_db`, or a curve as `NR 15` or `NC 20`",
            r#"background = "NR 15""#,
        ),
        def(
            "outdoors",
            Kind::Flag,
            "false",
            "whether this is the outdoors, which sends nothing back; as the room of a source its level is the one 2 m in front of the wall",
            "outdoors = true",
        ),
        opt(
            "distance",
            length(1.0, 10_000.0),
            "outdoors: distance from the building to the point of interest, at least 1 m",
            r#"distance = "7 m""#,
        ),
        opt(
            "use",
            Kind::Word(&[
                "recording",
                "listening",
                "practice",
                "living",
                "bedroom",
                "outside a dwelling",
            ]),
            "what it is for: published guidance for such rooms is then shown beside your own targets",
            r#"use = "bedroom""#,
        ),
        opt(
            "people",
            Kind::Records(&PEOPLE),
            "who is in it, for the air; four players are assumed where a source plays, two people sitting elsewhere",
            r#"people = [{ count = 1, met = 4 }, { count = 3, met = 2 }]"#,
        ),
        opt(
            "fan",
            Kind::Quantity(Quantity::AirFlow, 0.0, 100_000.0),
            "outdoor air its fan brings",
            r#"fan = "60 L/s""#,
        ),
    ],
};

/// `people` of a room.
pub static PEOPLE: Section = Section {
    name: "people",
    heading: "people",
    help: "People of one kind in a room. They change no sound level; absorption by persons is an `extra` of `finishes`.",
    standing: true,
    example: "",
    keys: &[
        req("count", Kind::Whole(0, 100_000), "how many", "count = 4"),
        def(
            "met",
            Kind::Number(1.0, 4.0),
            "2",
            "how hard they work: sitting 1.2, standing play 2 to 3, drumming about 4 (the last two from memory)",
            "met = 4",
        ),
        opt(
            "age",
            Kind::Number(11.0, 70.0),
            "their age in years; 21 to 30 where not stated",
            "age = 15",
        ),
    ],
};

/// `[caution]`.
pub static CAUTION: Section = Section {
    name: "caution",
    heading: "[caution]",
    help: "What the cautions about hearing, air, fire and fuel need to know. What is not stated is assumed aloud or asked for; nothing here switches a caution off without a fact in its place, and none of it changes a sound level.",
    standing: true,
    example: r#"[caution]
session = "2 h"
bedrooms = 3
built = 1931
appliance = [{ name = "gas boiler", room = "kitchen", power = "24 kW" }]"#,
    keys: &[
        def(
            "session",
            Kind::Quantity(Quantity::Time, 60.0, 86_400.0),
            "2 h",
            "how long one session of playing is, for the hearing dose",
            r#"session = "2 h""#,
        ),
        def(
            "osha",
            Kind::Flag,
            "false",
            "whether the times OSHA allows are wanted beside NIOSH's",
            "osha = true",
        ),
        def("eu", Kind::Flag, "false", "whether the European directive's are", "eu = true"),
        opt(
            "bedrooms",
            Kind::Whole(0, 1000),
            "bedrooms of the dwelling, for its outdoor air",
            "bedrooms = 3",
        ),
        def(
            "outdoor_co2",
            Kind::Number(300.0, 2000.0),
            "420",
            "carbon dioxide outdoors, ppm",
            "outdoor_co2 = 420",
        ),
        opt(
            "built",
            Kind::Whole(1000, 2200),
            "year the building was built, for asbestos and lead",
            "built = 1931",
        ),
        def(
            "alarm",
            Kind::Level,
            "85 dBA",
            "A-weighted level of the smoke alarm in the room it hangs in",
            r#"alarm = "85 dBA""#,
        ),
        def(
            "alarm_tone",
            Kind::Quantity(Quantity::Frequency, 20.0, 20_000.0),
            "3150 Hz",
            "frequency of the alarm's tone",
            r#"alarm_tone = "520 Hz""#,
        ),
        opt(
            "no_fuel",
            Kind::Flag,
            "whether somebody looked and nothing in the building burns fuel",
            "no_fuel = true",
        ),
        opt(
            "appliance",
            Kind::Records(&APPLIANCE),
            "boilers, water heaters, stoves, fireplaces, gas dryers",
            r#"appliance = [{ name = "gas boiler", room = "kitchen", power = "24 kW" }]"#,
        ),
    ],
};

/// `appliance` of `[caution]`.
pub static APPLIANCE: Section = Section {
    name: "appliance",
    heading: "appliance",
    help: "Something that burns fuel.",
    standing: true,
    example: "",
    keys: &[
        req("name", Kind::Text, "what it is", r#"name = "gas boiler""#),
        req("room", Kind::Text, "room it stands in", r#"room = "kitchen""#),
        req(
            "power",
            Kind::Quantity(Quantity::Power, 0.01, 10_000.0),
            "heat input",
            r#"power = "24 kW""#,
        ),
        def(
            "direct_vent",
            Kind::Flag,
            "false",
            "whether it takes its air straight from outdoors",
            "direct_vent = true",
        ),
    ],
};

/// `finishes` of a room.
pub static FINISHES: Section = Section {
    name: "finishes",
    heading: "finishes",
    help: "Names of the table of finishes. Areas come from the outline, or from floor area and volume for a square plan. Doors and windows in walls are taken off them and count by their own finish.",
    standing: true,
    example: "",
    keys: &[
        opt("floor", Kind::Text, "finish of the floor", r#"floor = "timber on joists""#),
        opt("walls", Kind::Text, "finish of the walls", r#"walls = "gypsum on studs""#),
        opt("ceiling", Kind::Text, "finish of the ceiling", r#"ceiling = "gypsum on studs""#),
        opt(
            "extra",
            Kind::Records(&EXTRA),
            "further surfaces, added to the others",
            r#"extra = [{ finish = "heavy curtain", area = "6 m2" }]"#,
        ),
    ],
};

/// `extra` of `finishes`.
pub static EXTRA: Section = Section {
    name: "extra",
    heading: "extra",
    help: "A surface beside floor, walls and ceiling, or persons.",
    standing: true,
    example: "",
    keys: &[
        req("finish", Kind::Text, "name in the table of finishes", r#"finish = "heavy curtain""#),
        opt("area", Kind::Quantity(Quantity::Area, 0.0, 1e5), "its area", r#"area = "6 m2""#),
        opt("count", Kind::Number(0.0, 100_000.0), "how many, for `person`", "count = 4"),
    ],
};

/// `[[material]]`.
pub static MATERIAL: Section = Section {
    name: "material",
    heading: "[[material]]",
    help: "A board, sheet, pane or slab of your own, by a data sheet. What is not given is taken from the catalogue's material named by `like`.",
    standing: true,
    example: r#"[[material]]
name = "dense acoustic board"
like = "gypsum board"
density = "1000 kg/m3"
critical_frequency = "2500 Hz"
thickness = "12.5 mm"
source = "maker's sheet, 2024"

[[build_up]]
id = "heavier-lining"
layers = [{ board = "dense acoustic board", thickness = "12.5 mm", count = 2 }]"#,
    keys: &[
        req(
            "name",
            Kind::Text,
            "name that layers use; none of the catalogue's",
            r#"name = "dense acoustic board""#,
        ),
        req(
            "like",
            Kind::Text,
            "the catalogue's material it resembles most",
            r#"like = "gypsum board""#,
        ),
        opt(
            "density",
            Kind::Quantity(Quantity::Density, 5.0, 20_000.0),
            "density",
            r#"density = "1000 kg/m3""#,
        ),
        opt(
            "critical_frequency",
            Kind::Quantity(Quantity::Frequency, 20.0, 100_000.0),
            "critical frequency of one sheet of the `thickness` beside it",
            r#"critical_frequency = "2500 Hz""#,
        ),
        opt(
            "thickness",
            length(0.0001, LEAF),
            "thickness of the sheet that the critical frequency is of",
            r#"thickness = "12.5 mm""#,
        ),
        opt(
            "loss_factor",
            Kind::Number(1e-6, 2.0),
            "internal loss factor; what edges and fixings add is calculated",
            "loss_factor = 0.015",
        ),
    ],
};

/// `[[fill]]`.
pub static FILL: Section = Section {
    name: "fill",
    heading: "[[fill]]",
    help: "A porous fill of your own, by a data sheet. What is not given is taken from the catalogue's fill named by `like`.",
    standing: true,
    example: "",
    keys: &[
        req(
            "name",
            Kind::Text,
            "name that layers use; none of the catalogue's",
            r#"name = "wood wool batt""#,
        ),
        req(
            "like",
            Kind::Text,
            "the catalogue's fill it resembles most",
            r#"like = "mineral wool""#,
        ),
        opt(
            "flow_resistivity",
            Kind::Quantity(Quantity::FlowResistivity, 100.0, 1e6),
            "airflow resistivity",
            r#"flow_resistivity = "7000 Pa s/m2""#,
        ),
        opt(
            "density",
            Kind::Quantity(Quantity::Density, 1.0, 500.0),
            "density, for weights",
            r#"density = "45 kg/m3""#,
        ),
        opt(
            "dynamic_stiffness",
            Kind::Quantity(Quantity::DynamicStiffness, 5e4, 1e10),
            "dynamic stiffness per area of one layer of the `thickness` beside it: a resilient layer that carries a floating floor, where it fills the cavity between the leaves",
            r#"dynamic_stiffness = "15 MN/m3""#,
        ),
        opt(
            "thickness",
            length(0.001, 1.0),
            "thickness of the layer that the dynamic stiffness is of",
            r#"thickness = "20 mm""#,
        ),
    ],
};

/// One entry of `boxes`.
pub static BOXES: Section = Section {
    name: "boxes",
    heading: "boxes",
    help: "Electrical boxes set into the leaves of a build-up. What gets through them is a rough calculation from practice; published tests give their direction, not their size.",
    standing: false,
    example: "",
    keys: &[
        req(
            "kind",
            Kind::Word(&["perforated", "moulded", "airtight"]),
            "shell with open knock-outs, moulded shell with fitting holes, or gasketed throughout",
            r#"kind = "perforated""#,
        ),
        req(
            "per_m2",
            Kind::Number(0.0, 20.0),
            "boxes, or pairs of them, per m² of the build-up",
            "per_m2 = 0.2",
        ),
        def(
            "placed",
            Kind::Word(&["one face", "back to back", "same bay", "other bay"]),
            "back to back",
            "how the boxes of the two faces stand to each other; in one bay means at least 400 mm apart",
            r#"placed = "other bay""#,
        ),
        def(
            "sealed",
            Kind::Flag,
            "false",
            "whether packed in putty or in a sealed hood",
            "sealed = true",
        ),
    ],
};

/// `[[build_up]]`.
pub static BUILD_UP: Section = Section {
    name: "build_up",
    heading: "[[build_up]]",
    help: "A wall, floor, ceiling, leaf or pane from side a to side b: by layers, by a table of reduction indices, or both (then layers serve the bands the table lacks).",
    standing: true,
    example: r#"[[build_up]]
id = "split-frame"
layers = [
  { board = "gypsum board", thickness = "15.9 mm", count = 2, joined = "screwed" },
  { cavity = "240 mm", fill = "mineral wool", fill_depth = "180 mm", frame = "separate timber studs", spacing = "600 mm" },
  { board = "gypsum board", thickness = "15.9 mm", count = 2, joined = "damping layer" },
]"#,
    keys: &[
        req("id", Kind::Id, "name that other tables refer to", r#"id = "split-frame""#),
        opt("title", Kind::Text, "title for people", r#"title = "Split frame, two boards a side""#),
        opt(
            "layers",
            Kind::Records(&LAYER),
            "layers from side a to side b",
            r#"layers = [{ board = "brick", thickness = "215 mm" }]"#,
        ),
        opt(
            "table",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Difference, -10.0, 120.0)]),
            "reduction indices of a data sheet: a CSV file with the header `frequency_hz,reduction_db`, or per band; say where from in `source`",
            r#"table = "sheets/door-44.csv""#,
        ),
        opt(
            "rw",
            Kind::Number(5.0, 110.0),
            "the single number of a data sheet that states nothing else, by ISO 717-1: the curve of the `layers` beside it is moved to agree",
            "rw = 52",
        ),
        opt("stc", Kind::Number(5.0, 110.0), "the same by ASTM E413", "stc = 52"),
        opt(
            "surface_mass",
            Kind::Quantity(Quantity::SurfaceMass, 0.01, 10_000.0),
            "mass per area the data sheet states",
            r#"surface_mass = "32 kg/m2""#,
        ),
        opt(
            "thickness",
            length(0.0001, LEAF),
            "total thickness the data sheet states",
            r#"thickness = "44 mm""#,
        ),
        def(
            "rigid_bridges_per_m2",
            Kind::Number(0.0, 1000.0),
            "0",
            "rigid short circuits between leaves beyond the frame, per m²: dropped mortar, a screw too long",
            "rigid_bridges_per_m2 = 0.2",
        ),
        opt(
            "boxes",
            Kind::Records(&BOXES),
            "electrical boxes set into its leaves",
            r#"boxes = [{ kind = "perforated", per_m2 = 0.2, placed = "back to back" }]"#,
        ),
        opt(
            "cost_per_m2",
            Kind::Number(0.0, 1e9),
            "material and labour per m², in the project's currency",
            "cost_per_m2 = 64",
        ),
    ],
};

/// Words of `frame`.
pub const FRAMES: &[&str] = &[
    "none",
    "timber studs",
    "staggered timber studs",
    "separate timber studs",
    "light steel studs",
    "load-bearing steel studs",
    "separate steel studs",
    "common window frame",
    "separate window frames",
    "light wall ties",
    "heavy wall ties",
    "rigid hangers",
    "resilient hangers",
];

/// One entry of `layers`.
pub static LAYER: Section = Section {
    name: "layer",
    heading: "layers",
    help: "A board or a cavity. Board layers in a row form one leaf. The first layer is side a.",
    standing: true,
    example: "",
    keys: &[
        opt(
            "board",
            Kind::Text,
            "material of a board, sheet, slab or pane",
            r#"board = "gypsum board""#,
        ),
        opt(
            "thickness",
            length(0.0001, LEAF),
            "board: thickness of one sheet",
            r#"thickness = "15.9 mm""#,
        ),
        def("count", Kind::Whole(1, 50), "1", "board: number of sheets", "count = 2"),
        def(
            "joined",
            Kind::Word(&["screwed", "bonded", "damping layer"]),
            "screwed",
            "board: how sheets hold to each other and to the board before",
            r#"joined = "damping layer""#,
        ),
        opt(
            "surface_mass",
            Kind::Quantity(Quantity::SurfaceMass, 0.01, 10_000.0),
            "board: mass of ONE sheet; overrides the catalogue",
            r#"surface_mass = "11.5 kg/m2""#,
        ),
        opt("cavity", length(0.0005, 5.0), "clear depth of a cavity", r#"cavity = "90 mm""#),
        opt(
            "fill",
            Kind::Text,
            "cavity: porous fill; leave out for an empty cavity",
            r#"fill = "mineral wool""#,
        ),
        opt(
            "fill_depth",
            length(0.001, 5.0),
            "cavity: depth of the fill; the whole cavity where not given",
            r#"fill_depth = "90 mm""#,
        ),
        opt(
            "flow_resistivity",
            Kind::Quantity(Quantity::FlowResistivity, 100.0, 1e6),
            "cavity: airflow resistivity of the fill; overrides the catalogue",
            r#"flow_resistivity = "6000 Pa s/m2""#,
        ),
        opt(
            "frame",
            Kind::Word(FRAMES),
            "cavity: what ties the leaves together",
            r#"frame = "light steel studs""#,
        ),
        opt("gauge", Kind::Whole(8, 40), "cavity: sheet gauge number of light steel", "gauge = 25"),
        opt(
            "spacing",
            length(0.05, 10.0),
            "cavity: studs or joists, centre to centre; ties and hangers, along a row",
            r#"spacing = "600 mm""#,
        ),
        opt(
            "screw_spacing",
            length(0.02, 3.0),
            "cavity: screws along a stud; for ties and hangers, from row to row",
            r#"screw_spacing = "300 mm""#,
        ),
        opt(
            "mount",
            Kind::Word(&["resilient channel", "isolation clips"]),
            "cavity: resilient mounting between frame and boards",
            r#"mount = "resilient channel""#,
        ),
        opt(
            "mount_side",
            Kind::Word(&["a", "b"]),
            "cavity: the leaf that hangs on the mounting",
            r#"mount_side = "b""#,
        ),
    ],
};

/// `[[boundary]]`.
pub static BOUNDARY: Section = Section {
    name: "boundary",
    heading: "[[boundary]]",
    help: "A wall or floor between two rooms. Its area is found from the outlines unless stated.",
    standing: true,
    example: "",
    keys: &[
        opt(
            "id",
            Kind::Id,
            "name that changes refer to; made from the rooms where not given",
            r#"id = "hall-lobby""#,
        ),
        opt("title", Kind::Text, "title for people", r#"title = "Wall to the lobby""#),
        req(
            "between",
            Kind::Texts(2, 2),
            "the two rooms; side a of the build-up faces the first. A floor is written from below",
            r#"between = ["drum-hall", "lobby"]"#,
        ),
        opt(
            "build_up",
            Kind::Text,
            "what it is made of; the default of `[defaults]` where not given",
            r#"build_up = "split-frame""#,
        ),
        opt(
            "area",
            Kind::Quantity(Quantity::Area, 0.01, 1e5),
            "gross area, openings included",
            r#"area = "12.4 m2""#,
        ),
        opt(
            "height",
            length(0.05, 100.0),
            "height of the wall where it is not the lesser of the rooms'",
            r#"height = "2.4 m""#,
        ),
        opt(
            "kind",
            Kind::Word(&["wall", "floor", "roof"]),
            "which way it lies; found from the storeys where not given",
            r#"kind = "wall""#,
        ),
        opt(
            "distance",
            length(1.0, 10_000.0),
            "distance to the point of interest outdoors, where it differs from the room's",
            r#"distance = "12 m""#,
        ),
        opt(
            "angle_degrees",
            Kind::Number(0.0, 180.0),
            "boundaries to the outdoors: angle in degrees between straight out and the way to the point of interest; straight out where not given",
            "angle_degrees = 60",
        ),
        opt(
            "facade_shape",
            Kind::Quantity(Quantity::Difference, -5.0, 15.0),
            "boundaries to the outdoors, sound from there: how much better balconies or recesses are than a plane wall (the façade term of ISO 12354-3); 0 where not given",
            r#"facade_shape = "1 dB""#,
        ),
        opt(
            "screen_detour",
            length(0.0, 50.0),
            "boundaries to the outdoors, sound from inside: how much longer the way to the point of interest is over the edge of a screen than straight",
            r#"screen_detour = "0.4 m""#,
        ),
        opt(
            "screen_beside",
            Kind::Texts(1, 2),
            "to the outdoors: how much longer the way is round one end of the screen or both, where it does not run on",
            r#"screen_beside = ["1.2 m", "4 m"]"#,
        ),
        opt(
            "screen_thickness",
            length(0.01, 500.0),
            "to the outdoors: distance between the edges of a thick screen, such as a building",
            r#"screen_thickness = "6 m""#,
        ),
        opt(
            "soft_ground",
            Kind::Quantity(Quantity::Percent, 0.0, 100.0),
            "to the outdoors: share of the ground between that is lawn, beds or loose earth; goes before `hard_ground`",
            r#"soft_ground = "80 %""#,
        ),
        opt(
            "ground_heights",
            Kind::Texts(2, 2),
            "to the outdoors: heights of the middle of the boundary and of the point of interest above that ground; 1.5 m each where not given",
            r#"ground_heights = ["1.2 m", "1.5 m"]"#,
        ),
        def(
            "hard_ground",
            Kind::Flag,
            "false",
            "boundaries to the outdoors, sound from inside: whether paving or water lies before them, which adds 3 dB",
            "hard_ground = true",
        ),
        opt(
            "load_allowance",
            Kind::Quantity(Quantity::SurfaceMass, 0.0, 10_000.0),
            "floors and roofs: mass per area that may still be added to it or hung from it, as the person responsible for the structure said; the limit of all plans where not given",
            r#"load_allowance = "25 kg/m2""#,
        ),
        opt(
            "opening",
            Kind::Records(&OPENING),
            "doors, windows, hatches and holes",
            "[[boundary.opening]]",
        ),
        opt(
            "leak",
            Kind::Records(&LEAK),
            "slits and holes that belong to no opening",
            "[[boundary.leak]]",
        ),
    ],
};

/// Words of a seal.
pub const SEALS: &[&str] = &["none", "compression", "brush", "drop seal"];

/// `[[boundary.opening]]`.
pub static OPENING: Section = Section {
    name: "opening",
    heading: "[[boundary.opening]]",
    help: "A door, window, hatch or hole in the boundary above it.",
    standing: true,
    example: "",
    keys: &[
        opt(
            "id",
            Kind::Id,
            "name that states and changes refer to; made from the boundary where not given",
            r#"id = "lobby-door""#,
        ),
        opt("title", Kind::Text, "title for people", r#"title = "Lobby door""#),
        req(
            "kind",
            Kind::Word(&["door", "window", "hatch", "hole"]),
            "kind of opening",
            r#"kind = "door""#,
        ),
        opt(
            "leaf",
            Kind::Text,
            "a build-up by id, or words as `solid timber door 44 mm`, `hollow-core door 40 mm`, `steel door`, `glass door 10 mm`, `single glazing 4 mm`, `double glazing 4/16/4 mm`",
            r#"leaf = "solid timber door 44 mm""#,
        ),
        req("width", length(0.01, 100.0), "clear width", r#"width = "0.9 m""#),
        req("height", length(0.01, 100.0), "clear height", r#"height = "2.05 m""#),
        opt(
            "seals",
            Kind::Table(&SEALS_SECTION),
            "seals and gaps round the leaf",
            r#"seals = { head = "compression", jambs = "compression", sill = "none", gap = "6 mm" }"#,
        ),
        def("keyhole", Kind::Flag, "false", "whether there is an open keyhole", "keyhole = true"),
        opt(
            "letter_plate",
            Kind::Word(&["loose flap", "brush", "compression"]),
            "a letter plate in the leaf, by what closes its flap",
            r#"letter_plate = "brush""#,
        ),
        opt(
            "second_leaf",
            Kind::Table(&SECOND_LEAF),
            "a second leaf in the same opening, a few centimetres behind the first",
            r#"second_leaf = { leaf = "solid timber door 44 mm", gap = "60 mm" }"#,
        ),
        def(
            "state",
            Kind::Text,
            "closed",
            "`closed`, `open`, `taped` or `ajar 50 mm`; of two leaves both",
            r#"state = "closed""#,
        ),
        opt(
            "sill_height",
            length(0.0, 20.0),
            "windows and hatches to the outdoors: height of the sill above the floor, for the way out",
            r#"sill_height = "0.9 m""#,
        ),
        opt(
            "along",
            length(0.0, 1000.0),
            "plans only: distance of its middle from the left end of the wall, seen from the first room of the boundary that is indoors; where a boundary is several walls, one after the other",
            r#"along = "1.2 m""#,
        ),
    ],
};

/// `second_leaf` of an opening.
pub static SECOND_LEAF: Section = Section {
    name: "second_leaf",
    heading: "second_leaf",
    help: "Two leaves a few centimetres apart are one double leaf and no sound lock: below the frequency of both on the air between them they gain only their mass. Doors so far apart that somebody stands between them are a room of its own with two boundaries. Two leaves to unlatch are slower to leave by: the rules for ways out decide.",
    standing: true,
    example: "",
    keys: &[
        req(
            "leaf",
            Kind::Text,
            "the second leaf, as `leaf` of the opening",
            r#"leaf = "solid timber door 44 mm""#,
        ),
        req("gap", length(0.005, 0.5), "clear distance between both leaves", r#"gap = "60 mm""#),
        opt(
            "seals",
            Kind::Table(&SEALS_SECTION),
            "seals and gaps round the second leaf",
            r#"seals = { head = "compression", jambs = "compression", sill = "drop seal" }"#,
        ),
        def(
            "frames",
            Kind::Word(&["one", "separate"]),
            "one",
            "whether both hang in one frame or each in its own, with nothing stiff between",
            r#"frames = "separate""#,
        ),
        def(
            "reveal",
            Kind::Word(&["bare", "lined"]),
            "bare",
            "whether the reveal between them is lined with absorbing board",
            r#"reveal = "lined""#,
        ),
    ],
};

/// `seals` of an opening.
pub static SEALS_SECTION: Section = Section {
    name: "seals",
    heading: "seals",
    help: "What closes each edge of a leaf. `gap` is the open slit of the edges without a seal; where every edge has one, it is the width the seals close.",
    standing: true,
    example: "",
    keys: &[
        def("head", Kind::Word(SEALS), "none", "top edge", r#"head = "compression""#),
        def("jambs", Kind::Word(SEALS), "none", "both upright edges", r#"jambs = "compression""#),
        def("sill", Kind::Word(SEALS), "none", "bottom edge", r#"sill = "drop seal""#),
        opt("gap", length(0.0, 0.2), "width of the slit, see above", r#"gap = "6 mm""#),
        opt("head_gap", length(0.0, 0.2), "width at the head alone", r#"head_gap = "3 mm""#),
        opt("jambs_gap", length(0.0, 0.2), "width at the jambs alone", r#"jambs_gap = "3 mm""#),
        opt("sill_gap", length(0.0, 0.2), "width at the sill alone", r#"sill_gap = "8 mm""#),
    ],
};

/// `[[boundary.leak]]`.
pub static LEAK: Section = Section {
    name: "leak",
    heading: "[[boundary.leak]]",
    help: "A slit (`width` and `length`) or a round hole (`diameter`) through the boundary above it.",
    standing: true,
    example: "",
    keys: &[
        opt(
            "id",
            Kind::Id,
            "name that changes refer to; made from the boundary where not given",
            r#"id = "ceiling-slit""#,
        ),
        opt("title", Kind::Text, "title for people", r#"title = "Slit along the ceiling""#),
        opt("width", length(0.000_01, 0.5), "slit: width", r#"width = "2 mm""#),
        opt("length", length(0.001, 200.0), "slit: length", r#"length = "3 m""#),
        def(
            "along_edge",
            Kind::Flag,
            "false",
            "slit: whether it runs along an edge of the room, where it passes more",
            "along_edge = true",
        ),
        opt("diameter", length(0.000_1, 2.0), "hole: diameter", r#"diameter = "25 mm""#),
        opt(
            "depth",
            length(0.0001, 5.0),
            "depth of the way through; the thickness of the build-up where not given",
            r#"depth = "150 mm""#,
        ),
    ],
};

/// `[[state]]`.
pub static STATE: Section = Section {
    name: "state",
    heading: "[[state]]",
    help: "A named state of the building: which openings stand otherwise than described, what is plugged, which changes are made. Recordings name the state they were made in.",
    standing: true,
    example: "",
    keys: &[
        req("name", Kind::Text, "name of the state", r#"name = "both lobby doors open""#),
        opt(
            "openings",
            Kind::Pairs,
            "openings by id, with `closed`, `open`, `taped` or `ajar 50 mm`",
            r#"openings = { lobby-door = "open" }"#,
        ),
        opt(
            "plugged",
            Kind::Texts(1, 200),
            "ducts, vents and leaks by id that are plugged",
            r#"plugged = ["transfer-duct"]"#,
        ),
        opt(
            "made",
            Kind::Texts(1, 200),
            "changes by id that are made in it: before and after",
            r#"made = ["drop-seal"]"#,
        ),
    ],
};

/// `[[source]]`.
pub static SOURCE: Section = Section {
    name: "sound_source",
    heading: "[[source]]",
    help: "What is loud, as the room-average level it makes in its own room.",
    standing: true,
    example: "",
    keys: &[
        opt("id", Kind::Id, "name of the source; numbered where not given", r#"id = "kit""#),
        opt("title", Kind::Text, "title for people", r#"title = "Drum kit""#),
        req("room", Kind::Text, "the room it sounds in", r#"room = "drum-hall""#),
        req(
            "spectrum",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -20.0, 194.0)]),
            "a named spectrum, `pink noise`, a CSV file with the header `frequency_hz,level_db`, or levels per band",
            r#"spectrum = "drum kit, hard""#,
        ),
        opt(
            "level",
            Kind::Level,
            "overall level to scale the spectrum to: `dB` (no weighting), `dBA` or `dBC`",
            r#"level = "108 dB Leq""#,
        ),
        opt(
            "maximum_above",
            Kind::Quantity(Quantity::Difference, 0.0, 60.0),
            "how far its loudest moment (A-weighted, fast) lies above `level`, for targets of maxima",
            r#"maximum_above = "9 dB""#,
        ),
        opt(
            "hours",
            Kind::Text,
            "when it plays; any time where not given",
            r#"hours = "18:00-22:00""#,
        ),
        def(
            "invented",
            Kind::Flag,
            "false",
            "whether the spectrum is invented; named spectra know by themselves",
            "invented = true",
        ),
    ],
};

/// `[[target]]`.
pub static TARGET: Section = Section {
    name: "target",
    heading: "[[target]]",
    help: "What is required in a room.",
    standing: true,
    example: "",
    keys: &[
        req("room", Kind::Text, "the receiving room", r#"room = "bedroom""#),
        req(
            "criterion",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -20.0, 140.0)]),
            "`NR 20`, `NC 25`, `30 dBA`, `45 dBC`, `45 dB LAFmax` (needs `maximum_above` of the source), `not audible`, `DnT,w + C50-3150 >= 55`, `Dw >= 50` (as heard), `D >= 60 dBA` (level there less level here), or highest levels per band",
            r#"criterion = "NR 20""#,
        ),
        opt(
            "hours",
            Kind::Text,
            "when it applies; always where not given. A source that never plays then is not judged by it",
            r#"hours = "22:00-07:00""#,
        ),
        opt(
            "from",
            Kind::Text,
            "for `DnT,w`, `Dw` and `D`: the room the sound comes from; every source room where not given",
            r#"from = "drum-hall""#,
        ),
    ],
};

/// `[[change]]`.
pub static CHANGE: Section = Section {
    name: "change",
    heading: "[[change]]",
    help: "A change somebody could make. Of all changes with the same `element` a plan takes one at most.",
    standing: true,
    example: r#"[[change]]
id = "drop-seal"
title = "drop seal on the lobby door"
element = "lobby door"
cost = 95
hours = 2
reversible = true
action = [{ do = "seal", opening = "lobby-door", sill = "drop seal" }]"#,
    keys: &[
        req("id", Kind::Id, "name of the change", r#"id = "drop-seal""#),
        opt(
            "title",
            Kind::Text,
            "title for people; the id where not given",
            r#"title = "drop seal on the lobby door""#,
        ),
        opt(
            "element",
            Kind::Text,
            "what it belongs to; the id where not given",
            r#"element = "lobby door""#,
        ),
        opt(
            "cost",
            Kind::Number(0.0, 1e9),
            "material and labour, in the project's currency",
            "cost = 95",
        ),
        def(
            "cost_invented",
            Kind::Flag,
            "false",
            "whether the price is invented",
            "cost_invented = true",
        ),
        opt("hours", Kind::Number(0.0, 100_000.0), "hours of work", "hours = 2"),
        def(
            "reversible",
            Kind::Flag,
            "false",
            "whether it can be taken back without a trace",
            "reversible = true",
        ),
        def(
            "skill",
            Kind::Word(&["anyone", "handy", "trade", "licensed"]),
            "handy",
            "who can do it",
            r#"skill = "trade""#,
        ),
        opt(
            "not_with",
            Kind::Texts(1, 100),
            "changes by id that cannot be made together with it",
            r#"not_with = ["heavier-leaf"]"#,
        ),
        req(
            "action",
            Kind::Records(&ACTION),
            "what it does",
            r#"action = [{ do = "close", leak = "ceiling-slit" }]"#,
        ),
    ],
};

/// Words of `do`.
pub const ACTIONS: &[&str] = &[
    "rebuild",
    "seal",
    "leaf",
    "second door",
    "close",
    "plug",
    "absorb",
    "silence",
    "mount",
    "cut bridges",
    "cut junction",
    "earlier",
    "quieter",
];

/// `action` of a change.
pub static ACTION: Section = Section {
    name: "action",
    heading: "action",
    help: "`rebuild` (boundary, build_up); `seal` (opening, head, jambs, sill); `leaf` (opening, leaf); `second door` (opening, leaf, depth, lined); `close` (leak); `plug` (way); `absorb` (room, finish, area); `silence` (duct, loss); `mount` (contact, mount, area, mass); `cut bridges` (boundary); `cut junction` (junction); `earlier` (room, hours); `quieter` (room, by).",
    standing: true,
    example: "",
    keys: &[
        req("do", Kind::Word(ACTIONS), "what is done", r#"do = "seal""#),
        opt(
            "boundary",
            Kind::Text,
            "rebuild, cut bridges: boundary by id",
            r#"boundary = "hall-lobby""#,
        ),
        opt("build_up", Kind::Text, "rebuild: its new build-up", r#"build_up = "split-frame""#),
        opt(
            "opening",
            Kind::Text,
            "seal, leaf, second door: opening by id",
            r#"opening = "lobby-door""#,
        ),
        opt("head", Kind::Word(SEALS), "seal: new seal of the top edge", r#"head = "compression""#),
        opt(
            "jambs",
            Kind::Word(SEALS),
            "seal: new seal of both upright edges",
            r#"jambs = "compression""#,
        ),
        opt(
            "sill",
            Kind::Word(SEALS),
            "seal: new seal of the bottom edge",
            r#"sill = "drop seal""#,
        ),
        opt(
            "gap",
            length(0.0, 0.2),
            "seal: width the new seals close; the present gap where not given",
            r#"gap = "3 mm""#,
        ),
        opt(
            "leaf",
            Kind::Text,
            "leaf, second door: new leaf, as in an opening",
            r#"leaf = "steel door""#,
        ),
        opt(
            "depth",
            length(0.02, 5.0),
            "second door: clear distance between the leaves",
            r#"depth = "250 mm""#,
        ),
        def(
            "lined",
            Kind::Flag,
            "false",
            "second door: whether the reveal is lined with absorbing board",
            "lined = true",
        ),
        opt("way", Kind::Text, "plug: duct, vent or leak by id", r#"way = "old-flue""#),
        opt("duct", Kind::Text, "silence: duct by id", r#"duct = "supply""#),
        opt(
            "loss",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Difference, 0.0, 100.0)]),
            "silence: insertion loss of the new silencer, a CSV file with the header `frequency_hz,loss_db` or per band",
            r#"loss = { unit = "dB", 63 = 6, 125 = 11, 250 = 19, 500 = 28 }"#,
        ),
        opt("contact", Kind::Text, "mount: what shakes the floor, by id", r#"contact = "kit""#),
        opt(
            "mount",
            Kind::Table(&MOUNT),
            "mount: the mounting",
            r#"mount = { natural_frequency = "10 Hz" }"#,
        ),
        opt(
            "mass",
            Kind::Quantity(Quantity::SurfaceMass, 0.1, 5000.0),
            "mount: mass of the riser or floating floor",
            r#"mass = "60 kg/m2""#,
        ),
        opt("junction", Kind::Text, "cut junction: junction by id", r#"junction = "deck""#),
        opt("hours", Kind::Text, "earlier: the new hours", r#"hours = "15:00-19:00""#),
        opt("leak", Kind::Text, "close: leak by id", r#"leak = "ceiling-slit""#),
        opt("room", Kind::Text, "absorb, earlier, quieter: room by id", r#"room = "lobby""#),
        opt(
            "finish",
            Kind::Text,
            "absorb: name in the table of finishes",
            r#"finish = "mineral wool 50 mm""#,
        ),
        opt(
            "area",
            Kind::Quantity(Quantity::Area, 0.001, 1e5),
            "absorb, mount: its area",
            r#"area = "6 m2""#,
        ),
        opt(
            "by",
            Kind::Quantity(Quantity::Difference, 0.0, 100.0),
            "quieter: by how much",
            r#"by = "6 dB""#,
        ),
    ],
};

/// `[limits]`.
pub static LIMITS: Section = Section {
    name: "limits",
    heading: "[limits]",
    help: "Limits a plan must keep. A stated load is what the person responsible for the structure said; the program never judges that it is safe.",
    standing: true,
    example: "",
    keys: &[
        opt("budget", Kind::Number(0.0, 1e12), "money there is", "budget = 4000"),
        opt("currency", Kind::Text, "currency as you write it", r#"currency = "EUR""#),
        opt(
            "added_mass",
            Kind::Quantity(Quantity::SurfaceMass, 0.0, 10_000.0),
            "mass per area that may be added to a floor or hung from a ceiling",
            r#"added_mass = "45 kg/m2""#,
        ),
        opt(
            "thickness",
            length(0.0, 5.0),
            "thickness that may be lost on a boundary",
            r#"thickness = "120 mm""#,
        ),
        opt(
            "height",
            length(0.5, 50.0),
            "least clear height a room must keep",
            r#"height = "2.4 m""#,
        ),
        def(
            "reversible_only",
            Kind::Flag,
            "false",
            "whether only changes that can be taken back may be made",
            "reversible_only = true",
        ),
    ],
};

/// `[[strike]]`.
pub static STRIKE: Section = Section {
    name: "strike",
    heading: "[[strike]]",
    help: "Something that is impossible here, whatever it would gain: it is left out of every plan. What stands in it must all fit.",
    standing: false,
    example: r#"[[strike]]
words = "second door"
why = "the stair landing is too small""#,
    keys: &[
        opt(
            "change",
            Kind::Text,
            "a change by id, also one the program thinks of",
            r#"change = "hall-door-seals-all-round""#,
        ),
        opt(
            "element",
            Kind::Text,
            "every change of this element",
            r#"element = "lobby absorption""#,
        ),
        opt("words", Kind::Text, "every change whose title holds this", r#"words = "clips""#),
        opt("why", Kind::Text, "why", r#"why = "the lease forbids it""#),
    ],
};

/// `[[price]]`.
pub static PRICE: Section = Section {
    name: "price",
    heading: "[[price]]",
    help: "A price of your own. It fits every line of the buying list that holds its words, in the same unit; of several the one with most words counts. The item `labour` in `h` is the price of an hour.",
    standing: false,
    example: r#"[[price]]
item = "gypsum board 15.9 mm"
unit = "sheets"
price = 21.5
hours = 0.7
source = "yard by the canal, 3 April""#,
    keys: &[
        req("item", Kind::Text, "words the line must hold", r#"item = "gypsum board 15.9 mm""#),
        req(
            "unit",
            Kind::Text,
            "unit as the buying list prints it: `sheets`, `tubes`, `screws`, `m`, `m2`, `pieces`, `h`",
            r#"unit = "sheets""#,
        ),
        req("price", Kind::Number(0.0, 1e9), "price of one", "price = 21.5"),
        opt("hours", Kind::Number(0.0, 10_000.0), "hours of work for one", "hours = 0.7"),
        def("invented", Kind::Flag, "false", "whether it is invented", "invented = true"),
        opt(
            "source",
            Kind::Text,
            "where and when it was asked for",
            r#"source = "yard by the canal, 3 April""#,
        ),
    ],
};

/// `[library]`.
pub static LIBRARY: Section = Section {
    name: "library",
    heading: "[library]",
    help: "Comparisons kept from earlier projects by `wythe keep`. What they say about a kind of construction moves the prediction and narrows its spread.",
    standing: false,
    example: "",
    keys: &[
        req(
            "folder",
            Kind::Text,
            "the folder, relative to the project or absolute",
            r#"folder = "../kept""#,
        ),
        opt(
            "leave_out",
            Kind::Texts(1, 1000),
            "comparisons by name that do not count here",
            r#"leave_out = ["mill-hall-wall"]"#,
        ),
    ],
};

/// `survey.toml`.
pub static SURVEY: Section = Section {
    name: "survey",
    heading: "survey.toml",
    help: "Which file and channel is which position, how it was calibrated, and what happened when.",
    standing: false,
    example: "",
    keys: &[
        opt("wythe", Kind::Whole(1, i64::MAX), "version of the file format", "wythe = 1"),
        opt("title", Kind::Text, "title of the survey", r#"title = "First survey""#),
        opt("notes", Kind::Text, "anything worth keeping", r#"notes = "rain until noon""#),
        opt("recording", Kind::Records(&RECORDING), "recordings", "[[recording]]"),
        opt(
            "decay_time",
            Kind::Records(&DECAY_TIME),
            "decay times measured otherwise",
            "[[decay_time]]",
        ),
        opt("log", Kind::Records(&LOG), "what happened when", "[[log]]"),
        opt(
            "test",
            Kind::Table(&TEST),
            "what the report of a field test has to state",
            r#"test = { operator = "the owner", date = "2031-04-02" }"#,
        ),
        opt(
            "instrument",
            Kind::Records(&INSTRUMENT),
            "instruments of the survey",
            "[[instrument]]",
        ),
    ],
};

/// `[[recording]]`.
pub static RECORDING: Section = Section {
    name: "recording",
    heading: "[[recording]]",
    help: "One sound file. It is never altered.",
    standing: true,
    example: "",
    keys: &[
        req(
            "file",
            Kind::Text,
            "path relative to the project folder",
            r#"file = "recordings/hall-lobby.wav""#,
        ),
        opt("title", Kind::Text, "title for people", r#"title = "Hall to lobby""#),
        opt("taken", Kind::Text, "date and time", r#"taken = "2031-04-02 18:30""#),
        opt(
            "planned",
            Kind::Flag,
            "not made yet: passed over as long as there is no such file, and used as soon as there is",
            "planned = true",
        ),
        opt(
            "begun",
            Kind::Text,
            "when its first sample was taken, to the second, by the clock the notes are taken by: brings notes by the clock into it",
            r#"begun = "2031-04-02 18:30:05""#,
        ),
        opt(
            "state",
            Kind::Text,
            "named state of the building; as described where not given",
            r#"state = "both lobby doors open""#,
        ),
        def(
            "gain",
            Kind::Word(&["fixed", "unknown", "automatic"]),
            "unknown",
            "whether the recorder's gain stood still",
            r#"gain = "fixed""#,
        ),
        def(
            "equal_gains",
            Kind::Flag,
            "false",
            "whether all channels have the same gain and the same kind of microphone: level \
             differences between them are then offered without calibration",
            "equal_gains = true",
        ),
        opt(
            "recorder",
            Kind::Text,
            "which recorder; one recorder carried from room to room at a fixed gain needs no \
             calibration for level differences",
            r#"recorder = "hand recorder""#,
        ),
        opt(
            "source_position",
            Kind::Text,
            "where the source stood; recordings of the same source position belong together",
            r#"source_position = "left of the door""#,
        ),
        opt(
            "same_time_as",
            Kind::Text,
            "another recording that ran at the same time on another recorder; the two are brought \
             onto one clock by what both heard",
            r#"same_time_as = "recordings/hall.wav""#,
        ),
        def(
            "excitation",
            Kind::Word(&[
                "loudspeaker or music",
                "tapping machine",
                "rubber ball",
                "loudspeaker outside",
                "traffic",
            ]),
            "loudspeaker or music",
            "what made the sound",
            r#"excitation = "tapping machine""#,
        ),
        opt(
            "calibration",
            Kind::Table(&CALIBRATION),
            "what full scale is, or where a calibration tone is",
            r#"calibration = { tone = "94 dB", frequency = "1 kHz", from = "0:02", to = "0:12" }"#,
        ),
        opt("channel", Kind::Records(&CHANNEL), "its channels", "[[recording.channel]]"),
        opt("stretch", Kind::Records(&STRETCH), "what is where in it", "[[recording.stretch]]"),
        opt(
            "log",
            Kind::Texts(0, 1000),
            "notes of the day, `from-to words` or `at words`; the time is left out of the levels",
            r#"log = ["12:04-12:06 talking"]"#,
        ),
        LOG_TIMES,
    ],
};

/// `calibration` of a recording or channel.
pub static CALIBRATION: Section = Section {
    name: "calibration",
    heading: "calibration",
    help: "Either `full_scale`, or a `tone` with its level, or `beside_channel`. Without any the levels are relative only.",
    standing: true,
    example: "",
    keys: &[
        opt(
            "full_scale",
            Kind::OneOf(&[
                Kind::Quantity(Quantity::Pressure, 1e-6, 1e6),
                Kind::Quantity(Quantity::Level, 0.0, 220.0),
            ]),
            "peak pressure of digital full scale, or the level of a sine of that peak",
            r#"full_scale = "20 Pa""#,
        ),
        opt(
            "tone",
            Kind::Quantity(Quantity::Level, 20.0, 180.0),
            "level of the calibrator",
            r#"tone = "94 dB""#,
        ),
        def(
            "frequency",
            Kind::Quantity(Quantity::Frequency, 20.0, 20_000.0),
            "1 kHz",
            "frequency of the calibrator",
            r#"frequency = "1 kHz""#,
        ),
        opt(
            "from",
            Kind::Quantity(Quantity::Time, 0.0, 1e7),
            "tone: where it begins; searched where not given",
            r#"from = "0:02""#,
        ),
        opt(
            "to",
            Kind::Quantity(Quantity::Time, 0.0, 1e7),
            "tone: where it ends",
            r#"to = "0:12""#,
        ),
        opt(
            "file",
            Kind::Text,
            "tone: another file that holds it, same channel and gain",
            r#"file = "recordings/cal.wav""#,
        ),
        opt(
            "beside_channel",
            Kind::Whole(1, 1024),
            "in place of a tone: the calibrated channel whose microphone stood beside this one from \
             `from` to `to`",
            "beside_channel = 1",
        ),
    ],
};

/// `[[recording.channel]]`.
pub static CHANNEL: Section = Section {
    name: "channel",
    heading: "[[recording.channel]]",
    help: "One channel of the file above it.",
    standing: true,
    example: "",
    keys: &[
        req("number", Kind::Whole(1, 1024), "channel of the file, counted from 1", "number = 1"),
        opt(
            "position",
            Kind::Id,
            "name of the microphone position; made from the room where not given",
            r#"position = "bed-1""#,
        ),
        req("room", Kind::Text, "the room it stood in", r#"room = "bedroom""#),
        opt(
            "place",
            Kind::Text,
            "where in the room, in words",
            r#"place = "over the pillow, 1.2 m up""#,
        ),
        opt(
            "spot",
            Kind::Table(&SPOT),
            "where in the room, in lengths",
            r#"spot = { x = "1.4 m", y = "2.2 m", up = "1.3 m" }"#,
        ),
        def(
            "kind",
            Kind::Word(&[
                "position",
                "corner",
                "near source",
                "near surface",
                "on facade",
                "before facade",
            ]),
            "position",
            "what the position is good for; `near surface` is a hand's breadth from what `at` names, `before facade` 2 m in front of it",
            r#"kind = "position""#,
        ),
        opt(
            "at",
            Kind::Text,
            "near surface: the opening or boundary by id",
            r#"at = "lobby-door""#,
        ),
        opt(
            "correction",
            Kind::Text,
            "CSV with the header `frequency_hz,correction_db` (added to the levels) or \
             `frequency_hz,response_db` (taken off them)",
            r#"correction = "microphones/seven.csv""#,
        ),
        opt(
            "calibration",
            Kind::Table(&CALIBRATION),
            "calibration of this channel alone",
            r#"calibration = { full_scale = "120 dB" }"#,
        ),
    ],
};

/// `[[recording.stretch]]`.
pub static STRETCH: Section = Section {
    name: "stretch",
    heading: "[[recording.stretch]]",
    help: "A stretch of the file above it and what it holds.",
    standing: true,
    example: "",
    keys: &[
        req(
            "from",
            Kind::Quantity(Quantity::Time, 0.0, 1e7),
            "where it begins",
            r#"from = "0:20""#,
        ),
        req("to", Kind::Quantity(Quantity::Time, 0.0, 1e7), "where it ends", r#"to = "2:40""#),
        req(
            "kind",
            Kind::Word(&["source", "background", "calibration", "decay", "excluded", "keep"]),
            "what it holds; `keep` is used in spite of what the program finds wrong with it",
            r#"kind = "source""#,
        ),
        opt(
            "room",
            Kind::Text,
            "source, decay: the room the source played in",
            r#"room = "drum-hall""#,
        ),
        opt("why", Kind::Text, "excluded: the reason", r#"why = "talking""#),
        opt(
            "channels",
            Kind::Wholes,
            "channels it is about; all where not given",
            "channels = [1, 2]",
        ),
    ],
};

/// `[[decay_time]]`.
pub static DECAY_TIME: Section = Section {
    name: "measured_decay",
    heading: "[[decay_time]]",
    help: "A decay time that was measured otherwise than from these recordings.",
    standing: true,
    example: "",
    keys: &[
        req("room", Kind::Text, "the room", r#"room = "bedroom""#),
        req(
            "time",
            Kind::OneOf(&[
                Kind::Quantity(Quantity::Time, 0.02, 60.0),
                Kind::Bands(Quantity::Time, 0.02, 60.0),
            ]),
            "one for all bands or per band",
            r#"time = { unit = "s", 125 = 0.9, 250 = 0.7 }"#,
        ),
    ],
};

/// `[[log]]`.
pub static LOG: Section = Section {
    name: "log",
    heading: "[[log]]",
    help: "What happened when. The time is left out of the levels of every recording it falls into.",
    standing: true,
    example: "",
    keys: &[
        req(
            "entry",
            Kind::Text,
            "`from-to words` or `at words`; words alone where `at` is given",
            r#"entry = "12:04-12:06 talking""#,
        ),
        opt(
            "at",
            Kind::Text,
            "when, by the clock; recordings whose `begun` is stated take it in",
            r#"at = "2031-04-02 18:42:10+02:00""#,
        ),
        opt(
            "until",
            Kind::Text,
            "when it ended, by the same clock; a moment where not given",
            r#"until = "2031-04-02 18:42:40+02:00""#,
        ),
        opt(
            "file",
            Kind::Text,
            "the recording it is about; all where not given",
            r#"file = "recordings/hall-lobby.wav""#,
        ),
        LOG_TIMES,
    ],
};

/// How the times of notes are meant.
const LOG_TIMES: Key = def(
    "log_times",
    Kind::Word(&["from the start", "of day"]),
    "from the start",
    "how the times of notes are meant: minutes and seconds from the start of the file, or hours and \
     minutes by the clock. The second needs the time at which the file begins, in `begun`, in `taken` \
     or in the file itself; a note to the minute holds until that minute is over",
    r#"log_times = "of day""#,
);

/// Coordinates of an outline lie within this, m.
pub const FARTHEST_CORNER: f64 = 2.0 * ROOM;
/// A room is no longer than this, m.
pub const LONGEST_ROOM: f64 = ROOM;

/// All sections in the order of the reference.
pub static SECTIONS: &[&Section] = &[
    &PROJECT,
    &AIR,
    &DEFAULTS,
    &ROOM_SECTION,
    &PEOPLE,
    &FINISHES,
    &EXTRA,
    &MATERIAL,
    &FILL,
    &BUILD_UP,
    &LAYER,
    &BOXES,
    &BOUNDARY,
    &OPENING,
    &SECOND_LEAF,
    &SEALS_SECTION,
    &LEAK,
    &JUNCTION,
    &DUCT,
    &THROUGH,
    &VENT,
    &CONTACT,
    &MOUNT,
    &STATE,
    &SOURCE,
    &TARGET,
    &CHANGE,
    &ACTION,
    &LIMITS,
    &STRIKE,
    &PRICE,
    &LIBRARY,
    &TRACING,
    &CAUTION,
    &APPLIANCE,
    &SURVEY,
    &RECORDING,
    &CALIBRATION,
    &CHANNEL,
    &STRETCH,
    &SPOT,
    &DECAY_TIME,
    &LOG,
    &TEST,
    &INSTRUMENT,
];
