//! What the documents are made from: every result of the loop, and what is missing of it.

use wythe_bands::{Band, LevelDifference, Metre, Remark, Seconds, Standing};
use wythe_building::{Building, RoomIndex};
use wythe_findings::caution::Caution;
use wythe_findings::{Explained, Measured, Predicted};
use wythe_remedy::Remedies;

use crate::language::Language;
use crate::page::Paper;

/// Everything computed for one project. Parts that do not exist are `None`, and [`Gap`]s say why.
#[derive(Clone, Copy, Debug)]
pub struct Results<'a> {
    /// The building as described.
    pub building: &'a Building,
    /// What its sources make in its rooms, as described.
    pub predicted: Option<&'a Predicted>,
    /// The same with the faults the recordings point to.
    pub found: Option<Found<'a>>,
    /// What was recorded.
    pub measured: Option<&'a Measured>,
    /// Recorded beside predicted.
    pub explained: Option<&'a Explained>,
    /// What the changes on offer reach, judged on the building as found where there is one.
    pub remedies: Option<&'a Remedies>,
    /// What arrives once the whole plan is made, where there is one.
    pub after: Option<&'a Predicted>,
    /// Decays as curves, for the document for the file.
    pub decays: &'a [DecayDrawn],
    /// What could hurt somebody.
    pub cautions: &'a [Caution],
    /// What could not be computed, and why.
    pub gaps: &'a [Gap],
    /// What is assumed or not known.
    pub notes: &'a [Note],
    /// What had to be said on the way.
    pub remarks: &'a [Remark],
    /// What the user states of the survey beside the recordings.
    pub papers: Option<&'a Papers>,
    /// The files everything was computed from.
    pub files: &'a [FileRead],
    /// Date, version, sheet.
    pub about: &'a About,
}

/// A decay in one band with the line that was fitted to it.
#[derive(Clone, Debug, PartialEq)]
pub struct DecayDrawn {
    /// Where the microphone stood.
    pub room: RoomIndex,
    /// File, channel and time.
    pub label: String,
    /// Band.
    pub band: Band,
    /// What made the sound, in words: an impulse, or steady noise that stops.
    pub excitation: &'static str,
    /// Distance of the levels.
    pub step: Seconds,
    /// Energy still to come, dB re its beginning.
    pub levels: Vec<f64>,
    /// The line of T20, where the decay reaches that far.
    pub fit: Option<DecayFit>,
    /// Early decay time.
    pub edt: Option<Seconds>,
    /// T30.
    pub t30: Option<Seconds>,
    /// Decibels between the start and the noise.
    pub range: Option<LevelDifference>,
    /// Departure of the T20 line from straight, ‰ (ISO 3382-2, Annex B).
    pub non_linearity: Option<f64>,
}

/// A line through the part of a decay from −5 to −25 dB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DecayFit {
    /// Time in which it falls by 60 dB.
    pub t20: Seconds,
    /// Where the part begins.
    pub from: Seconds,
    /// Where it ends.
    pub to: Seconds,
    /// Mean time of the part: the line passes there at `level`.
    pub middle: Seconds,
    /// Mean level of the part, dB re the beginning.
    pub level: f64,
}

/// What the report of a field test has to state, in the user's words.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Papers {
    /// Key of the survey's `[test]` and what is said.
    pub said: Vec<(&'static str, String)>,
    /// Instruments: kind, make, model, number, class, calibrated, used for.
    pub instruments: Vec<[String; 7]>,
    /// Microphone positions by file and channel: to the right, upward on the plan, above the floor.
    pub spots: Vec<(String, [Metre; 3])>,
    /// Files with when they were taken and where the source stood, as stated.
    pub taken: Vec<[String; 3]>,
}

/// The building as the recordings show it.
#[derive(Clone, Copy, Debug)]
pub struct Found<'a> {
    /// With the faults put in.
    pub building: &'a Building,
    /// Predicted again.
    pub predicted: &'a Predicted,
    /// Which findings were put in, by position in the posterior.
    pub findings: &'a [usize],
}

/// A part of the loop that could not be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Which part, such as `recordings`.
    pub part: String,
    /// Key of the reason and of its remedy in the tables of [`crate::language`], such as
    /// `nothing_recorded`; empty where the reason is a message of the program.
    pub key: &'static str,
    /// Why, in one sentence without full stop.
    pub why: String,
    /// What to do about it; may be empty.
    pub to_do: String,
}

/// Something of the description that is assumed or not known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// Assumed or unknown.
    pub standing: Standing,
    /// Which thing, in the user's words.
    pub what: String,
    /// What is assumed of it.
    pub text: String,
    /// Who says so.
    pub source: Option<String>,
    /// Whether the program took it by itself.
    pub by_program: bool,
    /// File and line.
    pub place: String,
}

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileRead {
    /// Path within the project folder.
    pub name: String,
    /// SHA-256 of its bytes, as hexadecimal digits.
    pub sha256: String,
    /// Its size.
    pub bytes: u64,
}

/// Units of lengths, areas and masses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Units {
    /// Millimetres, metres, kilograms.
    #[default]
    Metric,
    /// Inches, feet, pounds.
    UsCustomary,
}

/// What stands on every sheet.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct About {
    /// Date as printed.
    pub date: String,
    /// Version of the program.
    pub version: String,
    /// Sheet.
    pub paper: Paper,
    /// Units.
    pub units: Units,
    /// Language of the owner's document; the other two are in English.
    pub language: Language,
}

impl About {
    /// The same for a document that is in English only.
    pub fn in_english(&self) -> About {
        About { language: Language::English, ..self.clone() }
    }
}

impl<'a> Results<'a> {
    /// Of a building of which nothing was computed yet.
    pub fn of(building: &'a Building, about: &'a About) -> Results<'a> {
        Results {
            building,
            predicted: None,
            found: None,
            measured: None,
            explained: None,
            remedies: None,
            after: None,
            decays: &[],
            cautions: &[],
            gaps: &[],
            notes: &[],
            remarks: &[],
            papers: None,
            files: &[],
            about,
        }
    }

    /// The best prediction there is: with what was found, or else as described.
    pub fn best(&self) -> Option<&'a Predicted> {
        self.found.map(|f| f.predicted).or(self.predicted)
    }

    /// The building that prediction is of.
    pub fn best_building(&self) -> &'a Building {
        self.found.map_or(self.building, |f| f.building)
    }

    /// Whether anything in the description was invented for a demonstration: a spectrum, a price.
    pub fn invented(&self) -> bool {
        self.building.sources.iter().any(|s| s.invented) || self.prices_invented()
    }

    /// Whether a price was invented.
    pub fn prices_invented(&self) -> bool {
        self.building.changes.iter().any(|c| c.cost_invented)
    }
}
