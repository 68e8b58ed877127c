//! The documents as text: what stands in them and in which order, whatever is missing.

mod answers;
mod bad_input;
mod buying;
mod complete;
mod field_test;
mod languages;
mod one_sheet;
#[path = "../laws/xml.rs"]
mod xml;

use wythe_bands::{Band, Level, LevelDifference, Seconds, Spectrum};
use wythe_building::Building;
use wythe_findings::caution::{Caution, Settings, cautions};
use wythe_findings::{
    Explained, Measured, MeasuredPosition, PositionLevels, Predicted, Trial, UseAs, explain, pairs,
    predict,
};
use wythe_project::{MemoryFiles, read};
use wythe_remedy::{Remedies, apply, as_found, remedies};
use wythe_report::page::{Block, Document};
use wythe_report::report::{
    About, DecayDrawn, DecayFit, FileRead, Found, Gap, Note, Papers, Results,
};
use wythe_report::{builder, file, owner};
use wythe_transmission::Cache;

/// The house of the tests, as a project file. Invented.
const HOUSE: &str = include_str!("../data/house.toml");

/// Everything the documents are made from, owned.
struct House {
    building: Building,
    predicted: Option<Predicted>,
    found: Option<(Building, Predicted, Vec<usize>)>,
    measured: Option<Measured>,
    explained: Option<Explained>,
    remedies: Option<Remedies>,
    after: Option<Predicted>,
    cautions: Vec<Caution>,
    gaps: Vec<Gap>,
    notes: Vec<Note>,
    files: Vec<FileRead>,
    papers: Option<Papers>,
    decays: Vec<DecayDrawn>,
    about: About,
}

impl House {
    fn new(toml: &str) -> House {
        let reading = read(&MemoryFiles::new().with("wythe.toml", toml));
        let problems: Vec<String> = reading.errors.iter().map(|e| e.text.clone()).collect();
        assert!(problems.is_empty(), "{problems:?}");
        House::of(reading.project.unwrap().building, None)
    }

    /// The house with a recording in which every difference is what `difference` says.
    fn recorded(toml: &str, difference: f64, background: f64) -> House {
        let reading = read(&MemoryFiles::new().with("wythe.toml", toml));
        let building = reading.project.unwrap().building;
        let measured = survey(&building, difference, background);
        House::of(building, Some(measured))
    }

    fn of(building: Building, measured: Option<Measured>) -> House {
        let predicted =
            predict(&building, &mut Cache::default()).ok().filter(|p| !p.sources.is_empty());
        let explained = measured.as_ref().and_then(|m| {
            let trials: Vec<Trial> = m.pairs.iter().map(|p| p.trial()).collect();
            (!trials.is_empty())
                .then(|| explain(&building, &trials, &mut Cache::default()).unwrap())
        });
        let found = explained.as_ref().and_then(|e| {
            let (there, which) = as_found(&building, &e.posterior);
            let again = predict(&there, &mut Cache::default()).ok()?;
            (!which.is_empty()).then_some((there, again, which))
        });
        let best = found.as_ref().map_or(&building, |f| &f.0);
        let remedies = remedies(best, building.limits.budget).ok();
        let after = remedies
            .as_ref()
            .and_then(|m| predict(&apply(best, &m.plan.changes), &mut Cache::default()).ok());
        let cautions = cautions(&building, &Settings::default());
        House {
            predicted,
            found,
            measured,
            explained,
            remedies,
            after,
            cautions,
            gaps: Vec::new(),
            notes: Vec::new(),
            files: Vec::new(),
            papers: None,
            decays: Vec::new(),
            about: About { date: "2031-04-02".into(), version: "0.0.0".into(), ..About::default() },
            building,
        }
    }

    fn results(&self) -> Results<'_> {
        Results {
            building: &self.building,
            predicted: self.predicted.as_ref(),
            found: self.found.as_ref().map(|(building, predicted, findings)| Found {
                building,
                predicted,
                findings,
            }),
            measured: self.measured.as_ref(),
            explained: self.explained.as_ref(),
            remedies: self.remedies.as_ref(),
            after: self.after.as_ref(),
            decays: &self.decays,
            cautions: &self.cautions,
            gaps: &self.gaps,
            notes: &self.notes,
            remarks: &[],
            papers: self.papers.as_ref(),
            files: &self.files,
            about: &self.about,
        }
    }

    /// All three documents.
    fn documents(&self) -> [Document; 3] {
        let r = self.results();
        [owner(&r), builder(&r), file(&r)]
    }
}

/// One position in the first room and one in the second.
fn survey(building: &Building, difference: f64, background: f64) -> Measured {
    let source = &building.sources[0];
    let position = |room: usize, below: f64| MeasuredPosition {
        id: format!("position {room}"),
        room: wythe_building::RoomIndex(room),
        place: Some("in the middle".into()),
        use_as: UseAs::Room,
        at: None,
        channel: format!("one.wav:{}", room + 1),
        recording: 0,
        state: None,
        source: Some(source.room),
        calibrated: true,
        calibration: "94 dB tone".into(),
        calibration_deviation: LevelDifference(0.2),
        levels: PositionLevels {
            leq: source.levels.map(|_, l| Level(l.0 - below)),
            a: Some(Level(90.0 - below)),
            c: Some(Level(95.0 - below)),
            ..PositionLevels::default()
        },
        background: Spectrum::from_fn(|_| Level(background)),
        used: Seconds(30.0),
        fingerprint: "0123".into(),
        ..blank()
    };
    pairs(building, vec![position(0, 0.0), position(1, difference)], Vec::new())
}

/// The parts of a position these tests say nothing about.
fn blank() -> MeasuredPosition {
    MeasuredPosition {
        id: String::new(),
        room: wythe_building::RoomIndex(0),
        place: None,
        use_as: UseAs::Room,
        at: None,
        channel: String::new(),
        recording: 0,
        run: 0,
        excitation: Default::default(),
        state: None,
        source: None,
        calibrated: true,
        scale: None,
        carried: None,
        calibration: String::new(),
        calibration_deviation: LevelDifference(0.0),
        levels: PositionLevels::default(),
        in_common: None,
        background: Spectrum::empty(),
        maximum: Spectrum::empty(),
        recovered: Spectrum::empty(),
        delay: None,
        used: Seconds(0.0),
        excluded: Vec::new(),
        fingerprint: String::new(),
    }
}

/// What stands in a document, one line a block: shapes, not physics.
fn outline(document: &Document) -> String {
    fn walk(blocks: &[Block], depth: usize, out: &mut String) {
        for b in blocks {
            let line = match b {
                Block::Heading { level: 2, text } => format!("# {}", text.plain()),
                Block::Heading { .. } => "## heading".to_owned(),
                Block::Answer(a) => format!("answer: {:?}", a.verdict),
                Block::Paragraph(_) => "paragraph".to_owned(),
                Block::List(kind, _) => format!("list: {kind:?}"),
                Block::Facts(all) => format!("{} facts", all.len()),
                Block::Figure(f) => {
                    format!("figure{}", if f.invented { " (invented)" } else { "" })
                }
                Block::Table(t) => {
                    format!("table: {}{}", t.id, if t.invented { " (invented)" } else { "" })
                }
                Block::Rooms(_) => "room to room".to_owned(),
                Block::Caution(_) => "caution".to_owned(),
                Block::Notice(_) => "notice".to_owned(),
                Block::Details(title, inner) => {
                    out.push_str(&format!("{}folded: {title}\n", "  ".repeat(depth)));
                    walk(inner, depth + 1, out);
                    continue;
                }
                Block::Beside(inner) => {
                    out.push_str(&format!("{}beside each other\n", "  ".repeat(depth)));
                    walk(inner, depth + 1, out);
                    continue;
                }
                Block::Photographs(all) => format!("{} boxes for photographs", all.len()),
                Block::InLanguage(l, inner) => {
                    out.push_str(&format!("{}in {}\n", "  ".repeat(depth), l.tag()));
                    walk(inner, depth + 1, out);
                    continue;
                }
                Block::PageBreak => "new sheet".to_owned(),
            };
            out.push_str(&format!("{}{line}\n", "  ".repeat(depth)));
        }
    }
    let mut out = format!("{}\n", document.title);
    walk(&document.blocks, 0, &mut out);
    out
}

/// The page as a checker of XML takes it.
fn well_formed(document: &Document) -> Result<(), String> {
    let html = document.html();
    let body = html.find("<body").map(|i| &html[i..]).ok_or("no body")?;
    let end = body.find("</html>").ok_or("no end")?;
    xml::check(&body[..end])
}
