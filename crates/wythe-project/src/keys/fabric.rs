//! Keys of what joins rooms beside their boundaries.

use super::{Key, Kind, Section, def, length, opt, req};
use crate::quantity::Quantity;

/// Words of a junction's `kind`.
pub const JUNCTIONS: &[&str] = &[
    "by plates",
    "rigid",
    "flexible layer",
    "light facade",
    "light double leaf",
    "coupled light double leaf",
    "continuous",
    "framed",
    "separated",
];

const TITLE: Key =
    opt("title", Kind::Text, "title for people", r#"title = "Floor under the hall wall""#);

/// `[[junction]]`.
pub static JUNCTION: Section = Section {
    name: "junction",
    heading: "[[junction]]",
    help: "An edge where walls and floors meet and sound goes round the separating element. Edges are found from the outlines; a stated one takes the place of all found ones that hold the same boundaries. Where all that meets is light and nothing is stated, nothing is calculated and the result says so.",
    standing: true,
    example: r#"[[junction]]
id = "slab"
through = ["hall-floor", "lobby-floor"]
across = ["hall-lobby"]
kind = "rigid"
length = "5.4 m""#,
    keys: &[
        opt("id", Kind::Id, "name; made from the boundaries where not given", r#"id = "slab""#),
        TITLE,
        opt(
            "through",
            Kind::Texts(0, 2),
            "one or two boundaries in line that run on at the edge",
            r#"through = ["hall-floor", "lobby-floor"]"#,
        ),
        req(
            "across",
            Kind::Texts(1, 2),
            "one or two boundaries in line that stand square to them; of a framed junction the first parts the two rooms",
            r#"across = ["hall-lobby"]"#,
        ),
        def(
            "kind",
            Kind::Word(JUNCTIONS),
            "by plates",
            "how they are joined; `flexible layer`: what stands across has layers, what runs through has none; `continuous`: the slab runs on under a light wall; `separated`: the structure is cut",
            r#"kind = "rigid""#,
        ),
        opt(
            "length",
            length(0.05, 500.0),
            "length of the edge; that of the edges found where not given",
            r#"length = "5.4 m""#,
        ),
        def(
            "helps_from",
            Kind::Quantity(Quantity::Frequency, 5.0, 5000.0),
            "125 Hz",
            "flexible layer: frequency from which it helps; 125 Hz where it has about 100 MN/m3",
            r#"helps_from = "125 Hz""#,
        ),
        opt(
            "level_difference",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Difference, 0.0, 150.0)]),
            "framed: normalised flanking level difference Dn,f, a CSV file with the header `frequency_hz,difference_db` or per band; a default with ± 8 dB where not given",
            r#"level_difference = { unit = "dB", 63 = 41, 125 = 46, 250 = 50, 500 = 54 }"#,
        ),
        opt(
            "impact_level",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -20.0, 140.0)]),
            "framed: normalised flanking impact level Ln,f in the room beyond by the standard tapping machine on the floor named in `through`, as measured by ISO 10848: a CSV file with the header `frequency_hz,level_db` or per band",
            r#"impact_level = { unit = "dB", 63 = 62, 125 = 60, 250 = 56, 500 = 50 }"#,
        ),
    ],
};

/// `[[duct]]`.
pub static DUCT: Section = Section {
    name: "duct",
    heading: "[[duct]]",
    help: "A duct from one room to another or to the outdoors, or a transfer grille with a short duct behind it. Round (`diameter`) or rectangular (`width`, `height`).",
    standing: true,
    example: r#"[[duct]]
id = "supply"
between = ["hall", "studio"]
width = "300 mm"
height = "200 mm"
length = "6 m"
lining = "25 mm"
lined_length = "3 m"
elbows = ["lined square", "square"]"#,
    keys: &[
        opt("id", Kind::Id, "name; made from the rooms where not given", r#"id = "supply""#),
        TITLE,
        req(
            "between",
            Kind::Texts(2, 2),
            "the rooms at its ends",
            r#"between = ["hall", "studio"]"#,
        ),
        opt("width", length(0.01, 10.0), "clear width inside the lining", r#"width = "300 mm""#),
        opt("height", length(0.01, 10.0), "clear height inside the lining", r#"height = "200 mm""#),
        opt(
            "diameter",
            length(0.01, 10.0),
            "clear diameter inside the lining",
            r#"diameter = "160 mm""#,
        ),
        req("length", length(0.0, 1000.0), "length of the straight runs", r#"length = "6 m""#),
        def(
            "lining",
            length(0.0, 0.5),
            "0 mm",
            "thickness of the absorbing lining",
            r#"lining = "25 mm""#,
        ),
        opt(
            "lined_length",
            length(0.0, 1000.0),
            "how much of the length is lined; all of it where not given",
            r#"lined_length = "3 m""#,
        ),
        opt(
            "elbows",
            Kind::Texts(0, 50),
            "bends: `square`, `vaned` or `round`, with `lined` before it where it is lined",
            r#"elbows = ["lined square", "round"]"#,
        ),
        opt(
            "splits",
            Kind::Texts(0, 50),
            "at each split, the share of the leaving cross-sections that goes on in this duct",
            r#"splits = ["50 %"]"#,
        ),
        opt(
            "silencer",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Difference, 0.0, 100.0)]),
            "insertion loss of its silencers, a CSV file with the header `frequency_hz,loss_db` or per band",
            r#"silencer = { unit = "dB", 63 = 6, 125 = 11, 250 = 19, 500 = 28 }"#,
        ),
        opt(
            "grille",
            Kind::Quantity(Quantity::Area, 0.0001, 100.0),
            "area of the openings where it is not the duct's own",
            r#"grille = "0.09 m2""#,
        ),
        def(
            "ends",
            Kind::Word(&["flush", "free"]),
            "flush",
            "whether it ends in a wall or ceiling, or free in the room",
            r#"ends = "flush""#,
        ),
        opt(
            "noise",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -40.0, 140.0)]),
            "sound power level of fan and stream in the duct at the first room, dB re 1 pW: a CSV file with the header `frequency_hz,level_db` or per band",
            r#"noise = { unit = "dB", 63 = 52, 125 = 47, 250 = 41, 500 = 36 }"#,
        ),
        opt(
            "noise_there",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -40.0, 140.0)]),
            "the same at the second room",
            r#"noise_there = { unit = "dB", 63 = 52, 125 = 47 }"#,
        ),
        opt(
            "flow",
            Kind::Quantity(Quantity::AirFlow, 0.01, 100_000.0),
            "air that streams through it; with it the noise of the stream in the duct, at its bends, damper and grilles is calculated",
            r#"flow = "60 L/s""#,
        ),
        opt(
            "grille_loss",
            Kind::Number(0.1, 200.0),
            "pressure loss of the grille at either end over the velocity pressure ½ ρ U² at its whole face, from the maker; 3 where not given",
            "grille_loss = 3.0",
        ),
        opt(
            "damper",
            Kind::Number(0.01, 1000.0),
            "the same of a damper in the duct; about 0.5 wide open, 10 and more half shut",
            "damper = 4.0",
        ),
        opt(
            "wall_mass",
            Kind::Quantity(Quantity::SurfaceMass, 0.1, 1000.0),
            "mass of the duct's own wall, for rooms it runs through",
            r#"wall_mass = "5.5 kg/m2""#,
        ),
        opt(
            "through",
            Kind::Records(&THROUGH),
            "rooms it runs through open to the air there",
            r#"through = [{ room = "lobby", length = "2 m" }]"#,
        ),
    ],
};

/// `through` of a duct.
pub static THROUGH: Section = Section {
    name: "duct_through",
    heading: "through",
    help: "A room a duct runs through. Its wall lets sound out and in there.",
    standing: true,
    example: "",
    keys: &[
        req("room", Kind::Text, "the room", r#"room = "lobby""#),
        req("length", length(0.01, 1000.0), "length of duct in it", r#"length = "2 m""#),
    ],
};

/// `[[vent]]`.
pub static VENT: Section = Section {
    name: "vent",
    heading: "[[vent]]",
    help: "A small element known by its level difference: transfer grille, trickle vent, letter box. What is only a hole is an opening of the boundary.",
    standing: true,
    example: r#"[[vent]]
id = "grille"
between = ["lobby", "studio"]
level_difference = { unit = "dB", 125 = 31, 250 = 33, 500 = 36, 1000 = 40, 2000 = 42 }"#,
    keys: &[
        opt("id", Kind::Id, "name; made from the rooms where not given", r#"id = "grille""#),
        TITLE,
        req(
            "between",
            Kind::Texts(2, 2),
            "the rooms on both sides",
            r#"between = ["lobby", "studio"]"#,
        ),
        req(
            "level_difference",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Difference, -10.0, 150.0)]),
            "element-normalised level difference Dn,e, referred to 10 m2: a CSV file with the header `frequency_hz,difference_db` or per band",
            r#"level_difference = { unit = "dB", 125 = 31, 250 = 33, 500 = 36 }"#,
        ),
        def("count", Kind::Whole(1, 1000), "1", "how many there are", "count = 2"),
    ],
};

/// `[[contact]]`.
pub static CONTACT: Section = Section {
    name: "contact",
    heading: "[[contact]]",
    help: "A source that shakes the floor it stands on. Best known by one measured transfer (`heard`); otherwise an estimate from the floor with a range of at least ± 10 dB. It counts for whatever plays in the source's room.",
    standing: true,
    example: r#"[[contact]]
id = "kit-on-floor"
of = "kit"
into = "flat"
heard = { unit = "dB", 31.5 = 52, 63 = 47, 125 = 38 }"#,
    keys: &[
        opt("id", Kind::Id, "name; made from the source where not given", r#"id = "kit-on-floor""#),
        TITLE,
        req("of", Kind::Text, "the source, by its id", r#"of = "kit""#),
        req("into", Kind::Text, "the room where the structure radiates", r#"into = "flat""#),
        opt(
            "heard",
            Kind::OneOf(&[Kind::Text, Kind::Bands(Quantity::Level, -20.0, 140.0)]),
            "level heard there through the structure alone while the source plays as described: a CSV file with the header `frequency_hz,level_db` or per band",
            r#"heard = { unit = "dB", 31.5 = 52, 63 = 47, 125 = 38 }"#,
        ),
        opt(
            "floor",
            Kind::Text,
            "estimate: the floor it stands on, a boundary with the source's room above; heard in the room below and, along heavy walls at its edges, in others",
            r#"floor = "studio-floor""#,
        ),
        def(
            "blow",
            Kind::Word(&["soft", "hard"]),
            "soft",
            "estimate: `hard` as the standard tapping machine, `soft` the same to 125 Hz and 12 dB less per octave above; both are guesses of this program",
            r#"blow = "soft""#,
        ),
        opt(
            "force",
            Kind::Bands(Quantity::Difference, -80.0, 60.0),
            "estimate: force relative to the standard tapping machine per band, if known",
            r#"force = { unit = "dB", 63 = 4, 125 = 0, 250 = -12 }"#,
        ),
        opt(
            "mount",
            Kind::Table(&MOUNT),
            "pads, springs or a riser under it",
            r#"mount = { deflection = "4 mm" }"#,
        ),
    ],
};

/// `mount` of a contact.
pub static MOUNT: Section = Section {
    name: "mount",
    heading: "mount",
    help: "A single-stage resilient mounting. It helps above 1.4 times its natural frequency, makes things worse about it, and is credited with at most 25 dB unless measured. Air trapped under a riser is a spring of its own.",
    standing: true,
    example: "",
    keys: &[
        opt(
            "natural_frequency",
            Kind::Quantity(Quantity::Frequency, 0.5, 500.0),
            "natural frequency with what stands on it, without trapped air",
            r#"natural_frequency = "12 Hz""#,
        ),
        opt(
            "deflection",
            length(0.000_01, 0.2),
            "how far it sinks under what stands on it, where the frequency is not given; for steel springs, rubber is stiffer",
            r#"deflection = "4 mm""#,
        ),
        opt(
            "load",
            Kind::Quantity(Quantity::SurfaceMass, 1.0, 5000.0),
            "mass per area of riser and what stands on it, for the trapped air",
            r#"load = "60 kg/m2""#,
        ),
        opt(
            "air_gap",
            length(0.001, 2.0),
            "depth of the air trapped under it",
            r#"air_gap = "50 mm""#,
        ),
        def(
            "filled",
            Kind::Flag,
            "false",
            "whether the trapped air is filled with wool",
            "filled = true",
        ),
        def("damping", Kind::Number(0.001, 1.0), "0.05", "damping ratio", "damping = 0.05"),
        def(
            "measured",
            Kind::Flag,
            "false",
            "whether its improvement was measured, so that the limit of 25 dB falls",
            "measured = true",
        ),
    ],
};
