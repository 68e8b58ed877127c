//! From files to a project, with everything that has to be said on the way.

use std::collections::BTreeMap;

use toml_edit::TableLike;
use wythe_bands::{Air, Remark};
use wythe_building::{Building, Limits};
use wythe_partition::{BuildUp, OwnCatalogue};

use crate::assembly::Assembly;
use crate::files::{Files, Unreadable, read_text, refused_path};
use crate::keys::{self, Section};
use crate::problem::{FileText, Noted, Notes, Place, Problem};
use crate::record::{Reader, Record, short};
use crate::survey::{self, Survey};

/// Name of the project file.
pub const PROJECT_FILE: &str = "wythe.toml";
/// Name of the survey file.
pub const SURVEY_FILE: &str = "survey.toml";

/// A project as read.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Project {
    /// The building and what is asked of it.
    pub building: Building,
    /// What was recorded, where there is a survey file.
    pub survey: Option<Survey>,
    /// The user's notes.
    pub notes: Option<String>,
    /// The library of kept comparisons it uses, if any.
    pub library: Option<LibraryUse>,
}

/// Which library of kept comparisons a project uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LibraryUse {
    /// The folder, relative to the project or absolute.
    pub folder: String,
    /// Comparisons by name that do not count.
    pub leave_out: Vec<String>,
}

/// Everything reading a project gives.
#[derive(Clone, Debug, Default)]
pub struct Reading {
    /// The project; `None` when the project file has errors. With errors in the survey file only,
    /// the project is there without its survey.
    pub project: Option<Project>,
    /// What cannot be used, in the order of the files.
    pub errors: Vec<Problem>,
    /// What has to be said beside the project; `place` is `file:line`.
    pub remarks: Vec<Remark>,
    /// Values stated as assumed, and defaults the program took.
    pub assumed: Vec<Noted>,
    /// Values stated as unknown.
    pub unknown: Vec<Noted>,
    /// Texts that were read, for drawing the lines messages point at.
    pub texts: Vec<FileText>,
}

impl Reading {
    /// Text of a file that was read.
    pub fn text(&self, file: &str) -> Option<&str> {
        self.texts.iter().find(|t| t.name == file).map(|t| t.text.as_str())
    }
}

/// Everything reading a file of build-ups gives.
#[derive(Clone, Debug, Default)]
pub struct BuildUpReading {
    /// The build-ups, in order; empty when there are errors.
    pub build_ups: Vec<BuildUp>,
    /// Materials and fills of the user's own.
    pub own: OwnCatalogue,
    /// What cannot be used.
    pub errors: Vec<Problem>,
    /// What has to be said beside them.
    pub remarks: Vec<Remark>,
    /// Values stated as assumed, and defaults the program took.
    pub assumed: Vec<Noted>,
    /// Values stated as unknown.
    pub unknown: Vec<Noted>,
    /// Texts that were read.
    pub texts: Vec<FileText>,
}

/// Reads `wythe.toml`, what it includes, its data sheets and `survey.toml`.
///
/// Every error of all files is collected; nothing panics on any bytes.
pub fn read(files: &dyn Files) -> Reading {
    let mut notes = Notes::default();
    let mut root = Root::default();
    let mut loader = Loader { files, notes: &mut notes, chain: Vec::new(), done: Vec::new() };
    let mut slipped = loader.load(PROJECT_FILE, None, &mut root);
    let mut assembly = Assembly::new(files, &mut notes);
    let building = assembly.building(&root);
    if slipped {
        keep_local(&mut notes, 0);
        notes.remarks.retain(|r| r.code != "project::no-rooms");
    }
    let project_fine = notes.problems.is_empty();

    let before = notes.problems.len();
    let mut survey = None;
    match read_text(files, SURVEY_FILE, 0) {
        Err(Unreadable::NotFound) => {}
        Err(Unreadable::TooLarge(why) | Unreadable::Refused(why)) => {
            let file = notes.add_text(SURVEY_FILE, String::new());
            notes.problem("project::file", &Place { file, span: 0..0 }, why, "");
        }
        Ok(text) => {
            let file = notes.add_text(SURVEY_FILE, text);
            let (document, lost) = crate::syntax::parse(&mut notes, file);
            slipped = lost;
            if let Some(document) = document
                && !newer(&mut notes, file, document.as_table())
            {
                let record = top(&mut notes, file, document.as_table(), &keys::SURVEY);
                survey = Some(survey::read(&mut notes, &record, &building));
            }
            if slipped {
                keep_local(&mut notes, before);
            }
        }
    }
    let survey_fine = notes.problems.len() == before;
    let project = project_fine.then(|| Project {
        building,
        survey: survey.filter(|_| survey_fine),
        notes: root.notes.clone(),
        library: root.library.as_ref().and_then(|record| {
            Some(LibraryUse {
                folder: record.text("folder")?.to_owned(),
                leave_out: record.texts("leave_out").iter().map(|(w, _)| w.clone()).collect(),
            })
        }),
    });
    let (errors, remarks, assumed, unknown, texts) = close(notes);
    Reading { project, errors, remarks, assumed, unknown, texts }
}

/// Reads a file that holds `[[build_up]]` by themselves.
pub fn read_build_ups(files: &dyn Files, name: &str) -> BuildUpReading {
    let mut notes = Notes::default();
    let mut build_ups = Vec::new();
    let mut own = OwnCatalogue::default();
    match read_text(files, name, 0) {
        Err(error) => {
            let file = notes.add_text(name, String::new());
            let why = match error {
                Unreadable::NotFound => format!("there is no file `{name}`"),
                Unreadable::TooLarge(why) | Unreadable::Refused(why) => why,
            };
            notes.problem("project::file", &Place { file, span: 0..0 }, why, "");
        }
        Ok(text) => {
            let file = notes.add_text(name, text);
            let (document, slipped) = crate::syntax::parse(&mut notes, file);
            if let Some(document) = document
                && !newer(&mut notes, file, document.as_table())
            {
                // A whole project file is welcome too; only its build-ups are used.
                let whole = ["room", "boundary", "include"]
                    .iter()
                    .any(|k| document.as_table().contains_key(k));
                let section = if whole { &keys::PROJECT } else { &keys::BUILD_UP_FILE };
                let record = top(&mut notes, file, document.as_table(), section);
                let root = Root {
                    only_build_ups: true,
                    materials: record.records("material").to_vec(),
                    fills: record.records("fill").to_vec(),
                    build_ups: record.records("build_up").to_vec(),
                    ..Root::default()
                };
                let mut assembly = Assembly::new(files, &mut notes);
                let building = assembly.building(&root);
                (build_ups, own) = (building.build_ups, building.own);
            }
            if slipped {
                keep_local(&mut notes, 0);
            }
        }
    }
    let (errors, remarks, assumed, unknown, texts) = close(notes);
    if !errors.is_empty() {
        build_ups.clear();
    }
    BuildUpReading { build_ups, own, errors, remarks, assumed, unknown, texts }
}

type Closed = (Vec<Problem>, Vec<Remark>, Vec<Noted>, Vec<Noted>, Vec<FileText>);

fn close(mut notes: Notes) -> Closed {
    let order: BTreeMap<&str, usize> =
        notes.texts.iter().enumerate().map(|(i, t)| (t.name.as_str(), i)).collect();
    notes.problems.sort_by_key(|p| (order.get(p.file.as_str()).copied(), p.span.start));
    notes.problems.dedup();
    if notes.dropped > 0 {
        let text = format!("{} more errors are not listed", notes.dropped);
        notes.remarks.push(Remark::new("project::more-errors", text));
    }
    (notes.problems, notes.remarks, notes.assumed, notes.unknown, notes.texts)
}

/// After lines were left out, only messages about a single value can be trusted; what refers to
/// other lines may just miss those that were left out.
fn keep_local(notes: &mut Notes, from: usize) {
    const LOCAL: &[&str] = &[
        "project::syntax",
        "project::file",
        "project::include",
        "project::unit",
        "project::decimal-comma",
        "project::range",
        "project::word",
        "project::unknown-key",
        "project::band",
        "project::sheet",
        "project::version",
    ];
    let mut i = 0;
    notes.problems.retain(|p| {
        i += 1;
        i <= from || LOCAL.contains(&p.code)
    });
}

/// The tables of all included files together.
#[derive(Default)]
pub(crate) struct Root {
    /// Whether nothing but build-ups was asked for.
    pub only_build_ups: bool,
    pub title: Option<(String, Place)>,
    pub notes: Option<String>,
    pub air: Option<Record>,
    pub defaults: Option<Record>,
    pub limits: Option<Record>,
    pub library: Option<Record>,
    pub strikes: Vec<Record>,
    pub prices: Vec<Record>,
    pub caution: Option<Record>,
    pub rooms: Vec<Record>,
    pub materials: Vec<Record>,
    pub fills: Vec<Record>,
    pub build_ups: Vec<Record>,
    pub boundaries: Vec<Record>,
    pub junctions: Vec<Record>,
    pub ducts: Vec<Record>,
    pub vents: Vec<Record>,
    pub contacts: Vec<Record>,
    pub states: Vec<Record>,
    pub sources: Vec<Record>,
    pub targets: Vec<Record>,
    pub changes: Vec<Record>,
}

struct Loader<'a> {
    files: &'a dyn Files,
    notes: &'a mut Notes,
    chain: Vec<String>,
    done: Vec<String>,
}

/// Files may include files this deep; more is a tangle nobody can follow.
const DEEPEST_INCLUDE: usize = 8;
/// And so many in all.
const MOST_FILES: usize = 100;

impl Loader<'_> {
    /// Loads a file and what it includes. Returns whether lines were left out anywhere.
    fn load(&mut self, name: &str, from: Option<&Place>, root: &mut Root) -> bool {
        let text = match read_text(self.files, name, self.notes.weight()) {
            Ok(text) => text,
            Err(error) => {
                let (why, help) = match error {
                    Unreadable::NotFound if from.is_none() => (
                        format!("there is no `{name}` in this folder"),
                        "a project is a folder with a `wythe.toml`; `wythe new DIR` starts one",
                    ),
                    Unreadable::NotFound => (
                        format!("there is no file `{name}`"),
                        "paths are relative to the project folder",
                    ),
                    Unreadable::TooLarge(why) => {
                        (why, "recordings and tables belong into files of their own")
                    }
                    Unreadable::Refused(why) => (why, ""),
                };
                let place = match from {
                    Some(place) => place.clone(),
                    None => Place { file: self.notes.add_text(name, String::new()), span: 0..0 },
                };
                self.notes.problem("project::file", &place, why, help);
                return from.is_some();
            }
        };
        let file = self.notes.add_text(name, text);
        let (document, mut slipped) = crate::syntax::parse(self.notes, file);
        let Some(document) = document else { return true };
        if newer(self.notes, file, document.as_table()) {
            return true;
        }
        let place = Place { file, span: 0..0 };
        let waived = from.is_some().then_some("wythe");
        let record = Reader { notes: self.notes, file, waived }.record(
            document.as_table(),
            &keys::PROJECT,
            &place,
            "",
        );
        self.chain.push(normal(name));
        self.done.push(normal(name));
        self.take(&record, root);
        for (path, place) in record.texts("include") {
            if let Some(why) = refused_path(path) {
                self.notes.problem(
                    "project::include",
                    place,
                    format!("include `{}` {why}", short(path)),
                    "for example `include = [\"build-ups.toml\"]`",
                );
                continue;
            }
            let path = normal(path);
            if self.chain.contains(&path) {
                let mut chain = self.chain.clone();
                chain.push(path);
                self.notes.problem(
                    "project::include",
                    place,
                    format!("includes run in a circle: {}", chain.join(" → ")),
                    "take one of these lines out",
                );
            } else if self.done.contains(&path) {
                self.notes.remark(
                    "project::include",
                    place,
                    format!("`{path}` is included twice; it is read once"),
                );
            } else if self.chain.len() >= DEEPEST_INCLUDE || self.done.len() >= MOST_FILES {
                self.notes.problem(
                    "project::include",
                    place,
                    format!("includes go deeper than {DEEPEST_INCLUDE} files, or are more than {MOST_FILES}"),
                    "list the files in `wythe.toml` itself",
                );
            } else {
                slipped |= self.load(&path, Some(place), root);
            }
        }
        self.chain.pop();
        slipped
    }

    fn take(&mut self, record: &Record, root: &mut Root) {
        if let Some(title) = record.text("title") {
            let place = record.at("title").clone();
            // The title of an included file is its own matter.
            if root.title.is_none() {
                root.title = Some((title.to_owned(), place));
            }
        }
        if root.notes.is_none() {
            root.notes = record.text("notes").map(str::to_owned);
        }
        for (key, slot) in [
            ("air", &mut root.air),
            ("defaults", &mut root.defaults),
            ("limits", &mut root.limits),
            ("library", &mut root.library),
            ("caution", &mut root.caution),
        ] {
            let Some(table) = record.record(key) else { continue };
            if slot.is_some() {
                self.notes.problem(
                    "project::twice",
                    &table.place,
                    format!("`[{key}]` stands in more than one file"),
                    "keep one of them",
                );
            } else {
                *slot = Some(table.clone());
            }
        }
        root.rooms.extend_from_slice(record.records("room"));
        root.materials.extend_from_slice(record.records("material"));
        root.fills.extend_from_slice(record.records("fill"));
        root.build_ups.extend_from_slice(record.records("build_up"));
        root.boundaries.extend_from_slice(record.records("boundary"));
        root.junctions.extend_from_slice(record.records("junction"));
        root.ducts.extend_from_slice(record.records("duct"));
        root.vents.extend_from_slice(record.records("vent"));
        root.contacts.extend_from_slice(record.records("contact"));
        root.states.extend_from_slice(record.records("state"));
        root.sources.extend_from_slice(record.records("source"));
        root.targets.extend_from_slice(record.records("target"));
        root.changes.extend_from_slice(record.records("change"));
        root.strikes.extend_from_slice(record.records("strike"));
        root.prices.extend_from_slice(record.records("price"));
        for tracing in record.records("tracing") {
            let Some(file) = tracing.text("file") else { continue };
            if let Some(why) = refused_path(file) {
                self.notes.problem(
                    "project::tracing",
                    tracing.at("file"),
                    format!("picture `{}` {why}", short(file)),
                    "for example `file = \"drawings/ground-floor.png\"`",
                );
            }
        }
    }
}

/// One spelling of a path.
fn normal(path: &str) -> String {
    path.replace('\\', "/")
        .split('/')
        .filter(|p| !p.is_empty() && *p != ".")
        .collect::<Vec<_>>()
        .join("/")
}

fn top(notes: &mut Notes, file: usize, table: &dyn TableLike, section: &'static Section) -> Record {
    let place = Place { file, span: 0..0 };
    Reader { notes, file, waived: None }.record(table, section, &place, "")
}

/// Whether the file has a newer format than this program reads. Then nothing else is said of it:
/// what looks like a mistake may be a word of the newer format.
fn newer(notes: &mut Notes, file: usize, table: &dyn TableLike) -> bool {
    let Some((_, item)) = table.get_key_value("wythe") else { return false };
    let Some(n) = item.as_integer().filter(|n| *n > keys::FORMAT) else { return false };
    let place = Place { file, span: item.span().unwrap_or(0..0) };
    let text =
        format!("this file has format {n}; this program reads formats up to {}", keys::FORMAT);
    notes.problem("project::version", &place, text, "read it with a newer wythe");
    true
}

pub(crate) fn air(record: Option<&Record>) -> Air {
    let mut air = Air::default();
    if let Some(record) = record {
        air.celsius = record.number("temperature").unwrap_or(air.celsius);
        air.relative_humidity = record.number("humidity").unwrap_or(air.relative_humidity);
        air.pressure = record.number("pressure").unwrap_or(air.pressure);
    }
    air
}

pub(crate) fn limits(record: Option<&Record>) -> Limits {
    let Some(record) = record else { return Limits::default() };
    Limits {
        budget: record.number("budget"),
        currency: record.text("currency").map(str::to_owned),
        added_mass: record.number("added_mass").map(wythe_bands::SurfaceMass),
        thickness: record.number("thickness").map(wythe_bands::Metre),
        height: record.number("height").map(wythe_bands::Metre),
        reversible_only: record.flag("reversible_only").unwrap_or(false),
    }
}
