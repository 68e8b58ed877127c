//! Five questions, and the project that follows from their answers.

use serde::Deserialize;
use wythe_partition::catalogue;
use wythe_project::quantity::{Quantity, parse};
use wythe_project::{MemoryFiles, PROJECT_FILE, read};
use wythe_report::report::parts;

use crate::edit::quoted;
use crate::shape::layers_of;

/// Answers as the form sends them.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(default)]
pub struct Answers {
    /// Name of the building.
    pub title: String,
    /// What is loud: a named spectrum.
    pub spectrum: String,
    /// How loud it is in its own room.
    pub level: String,
    /// Width, depth and height of the loud room.
    pub width: String,
    /// See `width`.
    pub depth: String,
    /// See `width`.
    pub height: String,
    /// Where the quiet room is: `beside`, `above` or `below`.
    pub place: String,
    /// What the quiet room is called.
    pub quiet: String,
    /// What is between: a build-up the program knows.
    pub between: String,
    /// Whether there is a door between: `no`, `plain` or `sealed`.
    pub door: String,
    /// What is required there.
    pub criterion: String,
}

impl Default for Answers {
    fn default() -> Answers {
        let text = |t: &str| t.to_owned();
        Answers {
            title: text("My building"),
            spectrum: text("drum kit, hard"),
            level: text("103 dB"),
            width: text("5 m"),
            depth: text("4 m"),
            height: text("2.5 m"),
            place: text("beside"),
            quiet: text("Bedroom"),
            between: text("timber stud wall, one board each side"),
            door: text("no"),
            criterion: text("NR 20"),
        }
    }
}

/// What may be required, and in which words.
pub const CRITERIA: [(&str, &str); 4] = [
    ("NR 15", "hardly to be heard: a recording next door (NR 15)"),
    ("NR 20", "for sleep in a quiet place (NR 20)"),
    ("NR 25", "for sleep where there is some noise anyway (NR 25)"),
    ("NR 35", "for work and talk (NR 35)"),
];

/// Where the quiet room may be.
pub const PLACES: [(&str, &str); 3] =
    [("beside", "beside it"), ("above", "above it"), ("below", "below it")];

/// Whether there is a door.
pub const DOORS: [(&str, &str); 3] = [
    ("no", "no door"),
    ("plain", "a door without seals"),
    ("sealed", "a heavy door with seals all round"),
];

/// Distance of rooms on the plan that stands for the wall between them, m.
const WALL: f64 = 0.2;

/// Text of the project.
///
/// # Errors
/// Which answer cannot be used, and what to write, as a sentence without full stop.
pub fn project(answers: &Answers) -> Result<String, String> {
    let size = |text: &str, what: &str, most: f64| {
        let text = text.trim();
        let text = if text.parse::<f64>().is_ok() { format!("{text} m") } else { text.to_owned() };
        parse(Quantity::Length, &text).ok().filter(|v| (1.0..=most).contains(v)).ok_or_else(|| {
            format!("the {what} of the loud room is 1 to {most} m; write 4.5 m or 15 ft")
        })
    };
    let (w, d) = (size(&answers.width, "width", 60.0)?, size(&answers.depth, "depth", 60.0)?);
    let h = size(&answers.height, "height", 20.0)?;
    let spectrum = wythe_project::spectra::named(&answers.spectrum)
        .ok_or("say what is loud: choose one of the list")?;
    let number = answers.level.trim().trim_end_matches("dB").trim();
    let level: f64 = number
        .parse()
        .ok()
        .filter(|l| (30.0..=140.0).contains(l))
        .ok_or("how loud it is stands in decibels, 30 to 140; write 103 dB")?;
    let ready = catalogue()
        .ready_named(&answers.between)
        .ok_or("say what is between the rooms: choose one of the list")?;
    let known = |list: &[(&str, &str)], word: &str| list.iter().any(|(w, _)| *w == word);
    if !known(&PLACES, &answers.place) || !known(&CRITERIA, &answers.criterion) {
        return Err("choose where the quiet room is, and how quiet it has to be".into());
    }
    let beside = answers.place == "beside";
    if !known(&DOORS, &answers.door) {
        return Err("say whether there is a door".into());
    }
    if !beside && answers.door != "no" {
        return Err("a door leads into a room beside, not above or below; choose `no door`".into());
    }
    let (x, storey) = match answers.place.as_str() {
        "beside" => (w + WALL, 0),
        "above" => (0.0, 1),
        _ => (0.0, -1),
    };
    let m = |v: f64| format!("\"{} m\"", (v * 1000.0).round() / 1000.0);
    let outline = |x: f64| {
        format!(
            "[[{}, \"0 m\"], [{}, \"0 m\"], [{}, {}], [{}, {}]]",
            m(x),
            m(x + w),
            m(x + w),
            m(d),
            m(x),
            m(d)
        )
    };
    let title = if answers.title.trim().is_empty() { "My building" } else { answers.title.trim() };
    let quiet = if answers.quiet.trim().is_empty() { "Quiet room" } else { answers.quiet.trim() };
    let finishes = "finishes = { floor = \"timber on joists\", walls = \"gypsum on studs\", ceiling = \
                    \"gypsum on studs\" }";
    let mut out = format!(
        "# Made from the answers to five questions; everything here may be changed.\n\
         # All keys are in docs/project-file.md; every quantity is a text with its unit.\n\
         wythe = 1\ntitle = {}\n\n\
         [[room]]\nid = \"loud\"\ntitle = \"Loud room\"\nstorey = 0\noutline = {}\nheight = {}\n\
         {finishes}\nstatus = \"assumed\"\n\n\
         # As large as the loud room until somebody measures it.\n\
         [[room]]\nid = \"quiet\"\ntitle = {}\nstorey = {storey}\noutline = {}\nheight = {}\n\
         {finishes}\nstatus = \"assumed\"\n\n\
         [[build_up]]\nid = \"between\"\ntitle = {}\nlayers = [\n{}]\nstatus = \"assumed\"\n\n\
         [[boundary]]\nid = \"separation\"\nbetween = [\"loud\", \"quiet\"]\nbuild_up = \"between\"\n",
        quoted(title),
        outline(0.0),
        m(h),
        quoted(quiet),
        outline(x),
        m(h),
        quoted(&ready.name),
        layers_of(ready),
    );
    if answers.door != "no" {
        let (leaf, seals) = if answers.door == "sealed" {
            (
                "solid timber door 68 mm",
                "{ head = \"compression\", jambs = \"compression\", sill = \"drop seal\", gap = \"3 mm\" }",
            )
        } else {
            (
                "solid timber door 44 mm",
                "{ head = \"none\", jambs = \"none\", sill = \"none\", gap = \"6 mm\" }",
            )
        };
        out.push_str(&format!(
            "\n[[boundary.opening]]\nid = \"door\"\nkind = \"door\"\nleaf = \"{leaf}\"\nwidth = \"0.8 m\"\n\
             height = \"2.0 m\"\nseals = {seals}\n"
        ));
    }
    out.push_str(&format!(
        "\n[[source]]\ntitle = {}\nroom = \"loud\"\nspectrum = {}\nlevel = \"{level} dB Leq\"\n\n\
         [[target]]\nroom = \"quiet\"\ncriterion = {}\n",
        quoted(&parts::capital(spectrum.name)),
        quoted(spectrum.name),
        quoted(&answers.criterion)
    ));
    // What cannot be read would be a project nobody can mend on the first day.
    let reading = read(&MemoryFiles::new().with(PROJECT_FILE, out.clone()));
    match reading.errors.first() {
        None => Ok(out),
        Some(e) => Err(e.text.clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use wythe_findings::predict;
    use wythe_transmission::Cache;

    #[test]
    fn every_answer_of_the_form_leads_to_a_level_in_the_quiet_room() {
        for ready in catalogue().ready().iter().filter(|r| r.kind != "door" && r.kind != "glazing")
        {
            for (place, _) in PLACES {
                let answers = Answers {
                    between: ready.name.clone(),
                    place: place.into(),
                    ..Answers::default()
                };
                let text = project(&answers).unwrap_or_else(|e| panic!("{}: {e}", ready.name));
                let reading = read(&MemoryFiles::new().with(PROJECT_FILE, text));
                let project = reading.project.unwrap();
                let found = predict(&project.building, &mut Cache::default()).unwrap();
                let arrived = &found.sources[0].arrived;
                let level = arrived.iter().find_map(|a| a.level_a).unwrap().0;
                assert!((0.0..103.0).contains(&level), "{} {place}: {level}", ready.name);
            }
        }
    }

    #[test]
    fn a_door_lets_more_through_and_seals_less() {
        let level = |door: &str| {
            let answers = Answers {
                door: door.into(),
                between: "brick wall 215 mm".into(),
                ..Answers::default()
            };
            let text = project(&answers).unwrap();
            let building =
                read(&MemoryFiles::new().with(PROJECT_FILE, text)).project.unwrap().building;
            let found = predict(&building, &mut Cache::default()).unwrap();
            found.sources[0].arrived[0].level_a.unwrap().0
        };
        assert!(level("plain") > level("sealed") + 3.0 && level("sealed") > level("no"));
    }

    #[test]
    fn answers_that_cannot_be_used_are_named() {
        let with = |change: fn(&mut Answers)| {
            let mut answers = Answers::default();
            change(&mut answers);
            project(&answers).unwrap_err()
        };
        assert!(with(|a| a.width = "wide".into()).contains("width"));
        assert!(with(|a| a.depth = "0".into()).contains("depth"));
        assert!(with(|a| a.height = "NaN".into()).contains("height"));
        assert!(with(|a| a.level = "loud".into()).contains("decibels"));
        assert!(with(|a| a.spectrum = "x".into()).contains("loud"));
        assert!(with(|a| a.between = "x".into()).contains("between"));
        assert!(with(|a| a.place = "x".into()).contains("where"));
        assert!(
            with(|a| {
                a.place = "above".into();
                a.door = "plain".into()
            })
            .contains("door")
        );
        let hostile = Answers { title: "\"\n[[room]]\n".into(), ..Answers::default() };
        let text = project(&hostile).unwrap();
        let reading = read(&MemoryFiles::new().with(PROJECT_FILE, text));
        assert_eq!(reading.project.unwrap().building.rooms.len(), 2);
    }
}
