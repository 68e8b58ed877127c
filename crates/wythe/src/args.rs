//! The words of the command line.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

/// Predict, measure, explain and improve the sound insulation between rooms.
#[derive(Debug, Parser)]
#[command(name = "wythe", version, about, arg_required_else_help = true, max_term_width = 100)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Options of every command.
    #[command(flatten)]
    pub common: Common,
}

/// Options of every command.
#[derive(Debug, ClapArgs)]
pub struct Common {
    /// Print one JSON object for programs instead of tables
    #[arg(long, global = true)]
    pub json: bool,
    /// Units of lengths, areas and masses in tables
    #[arg(long, global = true, value_enum, default_value_t = Units::Metric)]
    pub units: Units,
    /// Exit with 1 when a target is missed or a remark needs attention
    #[arg(long, global = true)]
    pub strict: bool,
}

/// Systems of units for tables; JSON keys carry their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// Millimetres, metres, kilograms
    Metric,
    /// Inches, feet, pounds
    #[value(alias = "us")]
    Imperial,
}

/// The commands, in the order of the job.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write the demonstration project with its recordings and walk through the whole loop on it
    Demo(Folder),
    /// Start an empty, commented project
    New(Folder),
    /// Read everything; say what cannot be used and where, what is assumed and what is unknown
    Check(Check),
    /// Level in every room from every source, band by band, path by path, against the targets
    Predict(Predict),
    /// Recordings to calibrated levels, level differences and ratings, with their validity
    Measure(Measure),
    /// What to record in this building, where, how long, and what to say into the log
    Protocol(Protocol),
    /// Write a swept sine to play, and its inverse; or fold a recording of it into impulse responses
    Sweep(Sweep),
    /// Predicted beside measured: what is probably wrong, and the test that would settle it
    Explain(Explain),
    /// Keep what was predicted and measured of each wall in a library, for the next project
    Keep(Keep),
    /// The cheapest set of changes that meets the targets, and what each further sum buys
    Remedy(Remedy),
    /// What a recording made in one room sounds like in another, now and after changes
    Listen(Listen),
    /// The document: for the owner, for the builder, for the file
    Report(Report),
    /// Every result as tables: CSV in a new folder, or one workbook
    Export(Export),
    /// Pack a project into one file, every byte proved; or open such a file again
    Archive(Archive),
    /// The same as a workbench in the browser, on this machine only
    Desk(Desk),
    /// What one build-up does, by itself
    Partition(Partition),
    /// Rate a band curve by a standard
    Rate(Rate),
    /// What boards, fills, doors and ready build-ups the program knows, and from where
    Catalogue(Catalogue),
    /// How much of a day's hearing dose a stay makes, and how long is allowed
    Dose(Dose),
}

/// Where the charts of a result are drawn.
#[derive(Debug, Default, ClapArgs)]
pub struct Charts {
    /// Draw the result: a name ending in .svg takes the first chart, any other is a folder for all
    #[arg(long, value_name = "FILE.svg|FOLDER")]
    pub svg: Option<PathBuf>,
    /// The same as PNG, drawn by the browser found on this machine
    #[arg(long, value_name = "FILE.png|FOLDER")]
    pub png: Option<PathBuf>,
}

/// `wythe rate`.
#[derive(Debug, ClapArgs)]
pub struct Rate {
    /// CSV with the header frequency_hz,value_db; `-` reads standard input
    pub file: PathBuf,
    /// Method: iso717-1, iso717-2, e413, e1332, e989, nc, nr or rc; `levels` adds the bands up
    /// with A, C and Z weighting
    #[arg(long)]
    pub by: String,
    /// What the curve holds, by the symbol of its number, such as "DnT,w", STC, NIC, NNIC, ASTC;
    /// the number then carries that symbol and that quantity's refusals
    #[arg(long = "as", value_name = "SYMBOL")]
    pub quantity: Option<String>,
    /// Volumes of source and receiving room, such as "60 m3" "28 m3"; ASTC, NNIC, FSTC and AIIC
    /// need them
    #[arg(long, num_args = 2, value_names = ["SOURCE", "RECEIVING"])]
    pub volumes: Option<Vec<String>>,
    /// The curve is the improvement of a lining (iso717-1): rated on this basic element of Annex E
    #[arg(long, value_name = "ELEMENT", value_parser = ["heavy-wall", "heavy-floor", "light-wall"])]
    pub lining: Option<String>,
    /// Rate with one decimal, for use beside an uncertainty only (ISO 717)
    #[arg(long)]
    pub one_decimal: bool,
    /// The curve is the improvement of a floor covering (iso717-2): rated on the heavyweight
    /// reference floor, or on the one named
    #[arg(long, num_args = 0..=1, default_missing_value = "heavy", value_name = "FLOOR")]
    pub floor_improvement: Option<String>,
    /// ASTM E413 and E989: take the data as given, not rounded to whole decibels
    #[arg(long)]
    pub unrounded: bool,
    /// NC: use the older table instead of that of 2019
    #[arg(long)]
    pub older_table: bool,
    /// Value that was promised: says how likely it is met, with the uncertainty of the situation
    #[arg(long, value_name = "DB")]
    pub promise: Option<f64>,
    /// Charts of the result.
    #[command(flatten)]
    pub charts: Charts,
    /// Situation of ISO 12999-1 for the uncertainty: a laboratory, b other teams, c repeated
    #[arg(long, value_name = "A|B|C", default_value = "b")]
    pub situation: String,
}

/// `wythe measure`.
#[derive(Debug, ClapArgs)]
pub struct Measure {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Write results/measured.json and the levels of every tenth of a second as
    /// results/history/*.parquet
    #[arg(long)]
    pub save: bool,
    /// Charts of the result: every pair of rooms, footsteps, façades.
    #[command(flatten)]
    pub charts: Charts,
}

/// `wythe protocol`.
#[derive(Debug, ClapArgs)]
pub struct Protocol {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Only for one recorder that is carried around, or only for eight channels at once
    #[arg(long, value_enum)]
    pub with: Option<Recorder>,
}

/// What there is to record with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Recorder {
    /// One recorder carried from room to room
    One,
    /// Eight channels at the same time
    Eight,
}

/// `wythe sweep`.
#[derive(Debug, ClapArgs)]
pub struct Sweep {
    /// WAV file to write; nothing is written over
    pub out: PathBuf,
    /// Where it begins, Hz
    #[arg(long, default_value_t = 20.0, value_name = "HZ")]
    pub from: f64,
    /// Where it ends, Hz
    #[arg(long, default_value_t = 20_000.0, value_name = "HZ")]
    pub to: f64,
    /// How long it takes, s
    #[arg(long, default_value_t = 15.0, value_name = "S")]
    pub length: f64,
    /// Samples per second
    #[arg(long, default_value_t = 48_000, value_name = "HZ")]
    pub rate: u32,
    /// Peak level re full scale, dB; raise it by ear and step by step
    #[arg(long, default_value_t = -20.0, value_name = "DB", allow_negative_numbers = true)]
    pub level: f64,
    /// Fold this recording of the sweep: OUT then holds the impulse response of every channel
    #[arg(long, value_name = "RECORDING")]
    pub fold: Option<PathBuf>,
}

/// A command on a project folder.
#[derive(Debug, ClapArgs)]
pub struct Folder {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

/// `wythe check`.
#[derive(Debug, ClapArgs)]
pub struct Check {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Draw the plan of each storey as SVG into this folder: storey-0.svg and so on
    #[arg(long, value_name = "FOLDER")]
    pub plans: Option<PathBuf>,
    /// The same plans; the first storey where one file is named.
    #[command(flatten)]
    pub charts: Charts,
}

/// `wythe explain`.
#[derive(Debug, ClapArgs)]
pub struct Explain {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Charts of recorded beside predicted.
    #[command(flatten)]
    pub charts: Charts,
}

/// `wythe predict`.
#[derive(Debug, ClapArgs)]
pub struct Predict {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Named state of the building, such as "both lobby doors open"; may be given several times
    #[arg(long, value_name = "NAME")]
    pub state: Vec<String>,
    /// Only from this room
    #[arg(long, value_name = "ROOM")]
    pub from: Option<String>,
    /// Only to this room
    #[arg(long, value_name = "ROOM")]
    pub to: Option<String>,
    /// Charts of the result.
    #[command(flatten)]
    pub charts: Charts,
}

/// `wythe partition`.
#[derive(Debug, ClapArgs)]
pub struct Partition {
    /// TOML with one or several `[[build_up]]`, in the form of the project file
    pub file: PathBuf,
    /// Area of the element, such as "10 m2" or "107 ft2"
    #[arg(long, default_value = "10 m2")]
    pub area: String,
    /// Charts of the result.
    #[command(flatten)]
    pub charts: Charts,
}

/// `wythe remedy`.
#[derive(Debug, ClapArgs)]
pub struct Remedy {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Money there is, instead of the project's own limit
    #[arg(long, value_name = "N")]
    pub budget: Option<f64>,
    /// The cheapest set that meets each target with this probability, 50 to 95 percent
    #[arg(long, value_name = "PERCENT")]
    pub probability: Option<f64>,
    /// The cheapest set that meets each target with so many decibels to spare
    #[arg(long, value_name = "DB", default_value_t = 0.0)]
    pub margin: f64,
    /// Judge the building as the project describes it, also where recordings show it otherwise
    #[arg(long)]
    pub as_described: bool,
    /// Search what the program thinks of too, as far as you have prices for it
    #[arg(long)]
    pub with_suggestions: bool,
    /// Thickness that may be lost on a boundary, such as "60 mm"; instead of the project's limit
    #[arg(long, value_name = "LENGTH")]
    pub thickness: Option<String>,
    /// Least clear height a room must keep, such as "2.4 m"
    #[arg(long, value_name = "LENGTH")]
    pub height: Option<String>,
    /// Mass that may be added to a floor, such as "20 kg/m2"
    #[arg(long, value_name = "MASS")]
    pub added_mass: Option<String>,
    /// Only changes that can be taken back
    #[arg(long)]
    pub reversible: bool,
    /// Every sum of money from which on more is reached
    #[arg(long)]
    pub frontier: bool,
    /// Changes the program thinks of for every element, with what each gains at the receiver
    #[arg(long, conflicts_with_all = ["frontier", "compare", "substitute", "svg", "png"])]
    pub suggest: bool,
    /// Two changes by id, against each other at the receivers; several joined by + are one side
    #[arg(long, num_args = 2, value_names = ["A", "B"])]
    pub compare: Option<Vec<String>>,
    /// Other sheets came: what becomes of the plan, such as "gypsum board=8.5 kg/m2"
    #[arg(long, value_name = "BOARD=MASS")]
    pub substitute: Option<String>,
    /// Your own prices: CSV with the head item,unit,price and, if wanted, hours,invented,source;
    /// they go before those of the project
    #[arg(long, value_name = "FILE")]
    pub prices: Option<PathBuf>,
    /// The stages of the work, where to hold, what to photograph
    #[arg(long)]
    pub sequence: bool,
    /// A quote sheet: quantities, hours, what is provisional, what is promised
    #[arg(long)]
    pub quote: bool,
    /// Charts of what the money buys.
    #[command(flatten)]
    pub charts: Charts,
}

/// `wythe keep`.
#[derive(Debug, ClapArgs)]
pub struct Keep {
    /// The project folder whose comparisons are kept
    #[arg(value_name = "DIR")]
    pub folder: Option<PathBuf>,
    /// The library, a folder of your choice; the project's own where not given
    #[arg(long = "in", value_name = "LIBRARY")]
    pub library: Option<PathBuf>,
    /// What to say about these comparisons
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
    /// Leave a comparison out of what the library says
    #[arg(long, value_name = "NAME")]
    pub leave_out: Vec<String>,
    /// Let it count again
    #[arg(long, value_name = "NAME")]
    pub take_in: Vec<String>,
    /// Write copies of all that count into a folder, without notes and with neutral names
    #[arg(long, value_name = "FOLDER")]
    pub share: Option<PathBuf>,
    /// Take in a comparison somebody shared
    #[arg(long, value_name = "FILE")]
    pub add: Vec<PathBuf>,
}

/// `wythe listen`.
#[derive(Debug, ClapArgs)]
pub struct Listen {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Recording made in the source room, or `source` for noise beaten like the project's source
    #[arg(long, value_name = "RECORDING|source")]
    pub from: String,
    /// Channel of the recording, from 1
    #[arg(long, default_value_t = 1)]
    pub channel: usize,
    /// Room to listen in
    #[arg(long, value_name = "ROOM")]
    pub room: String,
    /// Room the recording was made in, where the project has several sources
    #[arg(long, value_name = "ROOM")]
    pub in_room: Option<String>,
    /// Then with this: `plan` for the cheapest set, `steps` for it purchase by purchase, or ids of
    /// changes joined by commas; again for another state
    #[arg(long, value_name = "PLAN|STEPS|IDS")]
    pub after: Vec<String>,
    /// Sound file to write, 24 bit
    #[arg(short, long, value_name = "OUT.wav")]
    pub output: PathBuf,
    /// Pressure of the recording's digital full scale, such as "20 Pa"; without it the level of
    /// the project's source is taken
    #[arg(long, value_name = "PRESSURE")]
    pub full_scale: Option<String>,
    /// Sound level your playback gives for a sine at digital full scale, at the listener's place
    #[arg(long, value_name = "DB")]
    pub playback: Option<f64>,
    /// Highest peak the playback may ever give, dB; never above 100
    #[arg(long, value_name = "DB", default_value_t = 85.0)]
    pub peak: f64,
    /// Seconds before the file switches to the next state
    #[arg(long, value_name = "S", default_value_t = 4.0)]
    pub switch_every: f64,
    /// Each state in a channel of its own on one clock, instead of switching in time
    #[arg(long)]
    pub channels: bool,
    /// Seconds to use, from the beginning of the recording
    #[arg(long, value_name = "S", default_value_t = 60.0)]
    pub seconds: f64,
    /// Leave out the background of the room
    #[arg(long)]
    pub no_background: bool,
    /// Take the building as the project describes it, also where recordings show it otherwise
    #[arg(long)]
    pub as_described: bool,
}

/// `wythe desk`.
#[derive(Debug, ClapArgs)]
pub struct Desk {
    /// The project folder; without one a page offers to begin, to open, or the demonstration
    #[arg(value_name = "DIR")]
    pub folder: Option<PathBuf>,
    /// Port to listen on; any free one where it is 0
    #[arg(long, default_value_t = 0, value_name = "N")]
    pub port: u16,
    /// Print the address and open no browser
    #[arg(long)]
    pub no_browser: bool,
    /// Let phones of the local network be paired with a code, for notes from the other rooms; the
    /// desk itself stays on this machine. An address of this machine may be given, with a port
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true,
        default_missing_value = "")]
    pub share: Option<String>,
}

/// `wythe catalogue`.
#[derive(Debug, ClapArgs)]
pub struct Catalogue {
    /// Part of a name, such as "gypsum" or "door"; everything where not given; "guidance" for the
    /// table of published guidance on how quiet rooms should be; "sentences" for those of the documents
    pub search: Option<String>,
    /// A project folder, or a file of build-ups, whose own materials and fills are listed too
    #[arg(long, value_name = "DIR|FILE")]
    pub with: Option<PathBuf>,
}

/// `wythe dose`.
#[derive(Debug, ClapArgs)]
pub struct Dose {
    /// A level such as "98 dBA", or a project folder whose recordings say how loud it is
    #[arg(value_name = "LEVEL|DIR")]
    pub level: String,
    /// How long, such as "90 min" or "2 h"
    #[arg(long, default_value = "2 h")]
    pub time: String,
    /// Also by the rules of OSHA
    #[arg(long)]
    pub osha: bool,
    /// Also by the European directive
    #[arg(long)]
    pub eu: bool,
}

/// `wythe report`.
#[derive(Debug, ClapArgs)]
pub struct Report {
    /// The project folder
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// HTML file to write; one file that needs no other
    #[arg(short, long, value_name = "FILE", required_unless_present_any = ["json", "verify"])]
    pub output: Option<PathBuf>,
    /// Who reads it
    #[arg(long = "for", value_enum, default_value_t = Reader::Owner)]
    pub reader: Reader,
    /// Print it to PDF too, beside the HTML file, with the browser found on this machine
    #[arg(long, requires = "output")]
    pub pdf: bool,
    /// Compute again and say what differs from a record written by --json
    #[arg(long, value_name = "FILE", conflicts_with_all = ["output", "pdf"])]
    pub verify: Option<PathBuf>,
    /// Sheet to print on; the margins suit both when it is left out
    #[arg(long, value_enum)]
    pub paper: Option<PaperSize>,
    /// Language of the owner's document, and of what the builder's is worked by: en, de, or a table of
    /// your own; `wythe catalogue sentences` prints the one to translate
    #[arg(long, value_name = "TAG|FILE.toml", default_value = "en")]
    pub language: String,
}

/// `wythe export`.
#[derive(Debug, ClapArgs)]
pub struct Export {
    /// The project folder
    #[arg(value_name = "DIR", required_unless_present = "schema")]
    pub folder: Option<PathBuf>,
    /// New or empty folder for the tables; nothing is written over. Left out with --json, which then
    /// prints all tables
    #[arg(short, long, value_name = "OUT", required_unless_present_any = ["json", "schema"])]
    pub output: Option<PathBuf>,
    /// One workbook with a sheet for each table instead; OUT is then a new file
    #[arg(long, requires = "output")]
    pub xlsx: bool,
    /// Parquet files instead of CSV
    #[arg(long, requires = "output", conflicts_with = "xlsx")]
    pub parquet: bool,
    /// Print the JSON Schema of what --json prints, and compute nothing; of another command with its
    /// name, such as --schema=measure
    #[arg(long, value_name = "COMMAND", num_args = 0..=1, require_equals = true,
        default_missing_value = "export", conflicts_with_all = ["output", "json"])]
    pub schema: Option<String>,
}

/// `wythe archive`.
#[derive(Debug, ClapArgs)]
pub struct Archive {
    /// The project folder to pack
    #[arg(value_name = "DIR", required_unless_present = "open", conflicts_with = "open")]
    pub folder: Option<PathBuf>,
    /// New file for the archive; with --open the new or empty folder to open it into
    #[arg(short, long, value_name = "OUT")]
    pub output: PathBuf,
    /// Leave the sound files out
    #[arg(long, conflicts_with = "open")]
    pub without_recordings: bool,
    /// Open this archive instead
    #[arg(long, value_name = "FILE")]
    pub open: Option<PathBuf>,
}

/// Readers of the document.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Reader {
    /// The answer, what to do and what it costs
    Owner,
    /// What can be promised, details, buying list, checklist, quote sheet
    Builder,
    /// Every figure and how it came about
    File,
}

/// Sheet sizes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PaperSize {
    /// 210 mm by 297 mm
    A4,
    /// 8.5 in by 11 in
    Letter,
}
