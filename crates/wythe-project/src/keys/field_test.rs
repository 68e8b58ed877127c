//! What the report of a field test has to state beside the levels.

use super::{Kind, Section, def, length, opt, req};

/// `[test]`.
pub static TEST: Section = Section {
    name: "test",
    heading: "[test]",
    help: "What the report of a field test has to state beside the levels. It goes into the document for the file as it is written here; no level depends on it.",
    standing: false,
    example: "",
    keys: &[
        opt("operator", Kind::Text, "who measured", r#"operator = "the owner""#),
        opt(
            "organisation",
            Kind::Text,
            "for which firm or laboratory",
            r#"organisation = "own use""#,
        ),
        opt("client", Kind::Text, "for whom", r#"client = "the caretaker""#),
        opt(
            "address",
            Kind::Text,
            "where the building stands",
            r#"address = "the old rope works""#,
        ),
        opt("date", Kind::Text, "day of the measurement", r#"date = "2031-04-02""#),
        opt(
            "weather",
            Kind::Text,
            "weather and other conditions: wind, rain, traffic, temperature indoors",
            r#"weather = "dry, light wind, 14 degrees outside and 20 inside""#,
        ),
        opt(
            "state",
            Kind::Text,
            "state of the building: furnished, finished, what is still open",
            r#"state = "furnished, skirtings not fitted""#,
        ),
        opt(
            "source_equipment",
            Kind::Text,
            "what made the sound: loudspeaker and signal, machine, instruments",
            r#"source_equipment = "twelve-sided loudspeaker, pink noise""#,
        ),
        opt(
            "deviations",
            Kind::Text,
            "what was done otherwise than the standard says, and why",
            r#"deviations = "four positions instead of five in the stair""#,
        ),
    ],
};

/// `[[instrument]]`.
pub static INSTRUMENT: Section = Section {
    name: "instrument",
    heading: "[[instrument]]",
    help: "One instrument of the survey, for the document for the file. What it says about calibration is what you state; the program does not check it.",
    standing: false,
    example: "",
    keys: &[
        req("kind", Kind::Text, "what it is", r#"kind = "recorder""#),
        opt("make", Kind::Text, "who made it", r#"make = "as on its label""#),
        opt("model", Kind::Text, "which model", r#"model = "as on its label""#),
        opt("serial", Kind::Text, "its number", r#"serial = "0417""#),
        opt("class", Kind::Text, "its class by its own standard", r#"class = "1""#),
        opt(
            "calibrated",
            Kind::Text,
            "when a laboratory calibrated it last, and by which certificate",
            r#"calibrated = "2030-11, certificate 88""#,
        ),
        opt("used_for", Kind::Text, "what for", r#"used_for = "channels 1 to 4""#),
    ],
};

/// `spot` of a channel.
pub static SPOT: Section = Section {
    name: "spot",
    heading: "spot",
    help: "Where a microphone stood, measured from the lower left corner of the plan of its room, seen from above.",
    standing: false,
    example: r#"spot = { x = "1.4 m", y = "2.2 m", up = "1.3 m" }"#,
    keys: &[
        req("x", length(-1000.0, 1000.0), "to the right", r#"x = "1.4 m""#),
        req("y", length(-1000.0, 1000.0), "upward on the plan", r#"y = "2.2 m""#),
        def("up", length(0.0, 100.0), "1.2 m", "above the floor", r#"up = "1.3 m""#),
    ],
};
