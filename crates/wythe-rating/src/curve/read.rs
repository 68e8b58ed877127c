//! Reading a curve from text: a file of the project's own form, or columns somebody pasted.

use super::{Bound, Curve, Resolution};
use crate::Midband;
use thiserror::Error;
use wythe_bands::Remark;

/// Longest text that is read, bytes. A curve has at most 35 lines; a mebibyte is a wrong file.
pub const LARGEST_TEXT: usize = 1 << 20;
/// Most faults reported; more would hide the first.
const MOST_FAULTS: usize = 50;
/// Longest piece of the text repeated in a message, characters.
const LONGEST_QUOTE: usize = 40;

/// Something in the text that cannot be used, with its line.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{}{fault}", line.map(|l| format!("line {l}: ")).unwrap_or_default())]
pub struct CurveError {
    /// Line, counted from 1; `None` when it is about the whole text.
    pub line: Option<usize>,
    /// What is wrong and what to do.
    pub fault: CurveFault,
}

/// Kinds of faults in a curve.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum CurveFault {
    /// The text is too long to be a curve.
    #[error(
        "the text is {bytes} bytes long, a curve has a few dozen lines; more than {LARGEST_TEXT} \
         bytes are not read"
    )]
    TooLong {
        /// Its length.
        bytes: usize,
    },
    /// No band at all.
    #[error(
        "there are no bands here; write lines such as \"125,20.4\" under frequency_hz,value_db"
    )]
    NoBands,
    /// Not two columns.
    #[error(
        "\"{text}\" has {found} columns where a frequency and a value are needed; if the comma is \
         the decimal mark, separate the columns with a semicolon or a tab"
    )]
    Columns {
        /// The line.
        text: String,
        /// How many columns were found.
        found: usize,
    },
    /// The header names more columns than can be told apart.
    #[error(
        "the header \"{text}\" does not say which columns are the frequency and the value; call \
         them frequency_hz and value_db"
    )]
    Header {
        /// The header.
        text: String,
    },
    /// Not a frequency.
    #[error(
        "\"{text}\" is not a frequency; write 125, \"125 Hz\" or 1.25k, thousands without a mark"
    )]
    NotAFrequency {
        /// What was there.
        text: String,
    },
    /// A frequency without a band.
    #[error(
        "{text} is not the mid-band frequency of a third-octave or octave band between 8 Hz and \
         20 kHz; the nearest are {below} and {above}"
    )]
    NotABand {
        /// What was there.
        text: String,
        /// Nearest band below.
        below: &'static str,
        /// Nearest band above.
        above: &'static str,
    },
    /// Not a value.
    #[error(
        "\"{text}\" is not a value in decibels; write 20.4, or \">= 20.4\" for a lower limit, or \
         leave the line out if nothing was measured"
    )]
    NotAValue {
        /// What was there.
        text: String,
    },
    /// A value no sound has.
    #[error("{value} dB is no level or level difference; check the column")]
    Absurd {
        /// The value.
        value: f64,
    },
    /// A band twice.
    #[error("the {band} Hz band was already given on line {first}; keep one of the two")]
    Twice {
        /// The band.
        band: Midband,
        /// Line of the first.
        first: usize,
    },
    /// Thirds and octaves in one curve.
    #[error(
        "thirds and octaves are mixed: steps of an octave at {octaves}, of a third elsewhere; hand \
         in one curve of thirds or one of octaves"
    )]
    Mixed {
        /// Where the steps are octaves.
        octaves: String,
    },
    /// More faults than are worth listing.
    #[error("there are more faults than these; this may not be a curve at all")]
    More,
}

impl CurveError {
    /// Stable code.
    pub fn code(&self) -> &'static str {
        match self.fault {
            CurveFault::TooLong { .. } => "curve::too-long",
            CurveFault::NoBands => "curve::no-bands",
            CurveFault::Columns { .. } => "curve::columns",
            CurveFault::Header { .. } => "curve::header",
            CurveFault::NotAFrequency { .. } => "curve::not-a-frequency",
            CurveFault::NotABand { .. } => "curve::not-a-band",
            CurveFault::NotAValue { .. } => "curve::not-a-value",
            CurveFault::Absurd { .. } => "curve::absurd-value",
            CurveFault::Twice { .. } => "curve::band-twice",
            CurveFault::Mixed { .. } => "curve::mixed-bands",
            CurveFault::More => "curve::more-faults",
        }
    }
}

/// What stands between two columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Separator {
    Tab,
    Semicolon,
    Comma,
    Blank,
}

impl Separator {
    /// Told from the first line that is neither blank nor a comment.
    fn of(line: &str) -> Separator {
        if line.contains('\t') {
            return Separator::Tab;
        }
        if line.contains(';') {
            return Separator::Semicolon;
        }
        if !line.contains(',') {
            return Separator::Blank;
        }
        // "125 20,4" has a decimal comma; "125, 20.4" and "125 Hz,20.4" have a separating one.
        match blank_columns(line).as_slice() {
            [f, v] if frequency(f, true).is_some() && value(v, true).is_some() => Separator::Blank,
            _ => Separator::Comma,
        }
    }

    fn split(self, line: &str) -> Vec<String> {
        let mut columns: Vec<String> = match self {
            Separator::Blank => blank_columns(line),
            Separator::Tab => quoted_columns(line, '\t'),
            Separator::Semicolon => quoted_columns(line, ';'),
            Separator::Comma => quoted_columns(line, ','),
        };
        // Spreadsheets leave empty cells behind.
        while columns.len() > 2 && columns.last().is_some_and(|c| c.is_empty()) {
            columns.pop();
        }
        columns
    }
}

fn quoted_columns(line: &str, separator: char) -> Vec<String> {
    let mut columns = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        if c == '"' {
            quoted = !quoted;
        } else if c == separator && !quoted {
            columns.push(String::new());
        } else if let Some(last) = columns.last_mut() {
            last.push(c);
        }
    }
    columns.iter().map(|c| c.trim().to_string()).collect()
}

/// Columns parted by blanks: units stay with their number, limit marks with what follows.
fn blank_columns(line: &str) -> Vec<String> {
    let mut columns: Vec<String> = Vec::new();
    for token in line.split_whitespace() {
        let lower = token.to_ascii_lowercase();
        let unit = ["hz", "khz", "k", "db"].contains(&lower.as_str());
        let after_mark = columns.last().is_some_and(|c| c.ends_with(['<', '>', '=', '≥', '≤']));
        match columns.last_mut() {
            Some(last) if unit || after_mark => last.push_str(token),
            _ => columns.push(token.to_string()),
        }
    }
    columns
}

/// A decimal number, also with the minus sign of typesetters and, where asked, a decimal comma.
fn number(text: &str, decimal_comma: bool) -> Option<f64> {
    let mut plain = text.trim().replace('\u{2212}', "-");
    if decimal_comma && !plain.contains('.') {
        plain = plain.replacen(',', ".", 1);
    }
    // Only digits, sign, point and exponent: "inf" and "nan" parse in Rust but are no values.
    if !plain.chars().all(|c| c.is_ascii_digit() || "+-.eE".contains(c)) {
        return None;
    }
    plain.parse::<f64>().ok().filter(|v| v.is_finite())
}

fn strip_unit<'a>(text: &'a str, unit: &str) -> Option<&'a str> {
    let cut = text.len().checked_sub(unit.len())?;
    let tail = text.get(cut..)?;
    if tail.eq_ignore_ascii_case(unit) { text.get(..cut) } else { None }
}

fn frequency(text: &str, decimal_comma: bool) -> Option<f64> {
    let text = text.trim();
    let (text, factor) = if let Some(rest) = strip_unit(text, "kHz") {
        (rest, 1000.0)
    } else {
        let rest = strip_unit(text, "Hz").unwrap_or(text).trim_end();
        match strip_unit(rest, "k") {
            Some(rest) => (rest, 1000.0),
            None => (rest, 1.0),
        }
    };
    number(text, decimal_comma).map(|v| v * factor)
}

/// Marks that make a value a limit, the longer first.
const MARKS: [(&str, Bound); 8] = [
    (">=", Bound::AtLeast),
    ("=>", Bound::AtLeast),
    ("≥", Bound::AtLeast),
    (">", Bound::AtLeast),
    ("<=", Bound::AtMost),
    ("=<", Bound::AtMost),
    ("≤", Bound::AtMost),
    ("<", Bound::AtMost),
];

fn value(text: &str, decimal_comma: bool) -> Option<(f64, Bound)> {
    let text = text.trim();
    let (text, bound) = MARKS
        .iter()
        .find_map(|(mark, bound)| text.strip_prefix(mark).map(|rest| (rest, *bound)))
        .unwrap_or((text, Bound::Exact));
    let text = strip_unit(text, "dB").unwrap_or(text);
    number(text, decimal_comma).map(|v| (v, bound))
}

fn quote(text: &str) -> String {
    let mut short: String = text.chars().filter(|c| !c.is_control()).take(LONGEST_QUOTE).collect();
    if text.chars().nth(LONGEST_QUOTE).is_some() {
        short.push('…');
    }
    short
}

/// Columns of frequency and value of a header, and whether its words told them.
fn header_places(columns: &[String]) -> Option<((usize, usize), bool)> {
    let find = |words: &[&str]| {
        columns.iter().position(|c| {
            let c = c.to_lowercase();
            words.iter().any(|w| c.contains(w))
        })
    };
    match (find(&["freq", "hz", "band"]), find(&["value", "level", "db"])) {
        (Some(f), Some(v)) if f != v => Some(((f, v), true)),
        _ if columns.len() <= 2 => Some(((0, 1), false)),
        _ => None,
    }
}

/// Reads a curve from text.
///
/// One line per band: frequency, value. Lines in any order; a header line
/// `frequency_hz,value_db` (any line without numbers before the first band is taken for one);
/// columns parted by comma, semicolon, tab or blanks; a decimal comma where the comma does not
/// part the columns; blank lines and `#` comments; byte-order mark; any line ends; `125 Hz`,
/// `1k`, `20.4 dB`; `>=`, `>`, `≥` for a lower and `<=`, `<`, `≤` for an upper limit. A line
/// without a value leaves its band out, with a remark.
///
/// The bands are octaves when every frequency is an octave mid-band (a remark says so), thirds
/// otherwise. Two or more octave steps in a curve that also has steps of a third are refused as
/// mixed; a single gap of two missing thirds is left for the rating to refuse.
///
/// ```
/// use wythe_rating::{Bound, Midband, Resolution, curve};
/// let text = "frequency_hz;value_db\n125 Hz;20,4\n160;>= 31,0 # background\n";
/// let curve = curve::read(text)?;
/// assert_eq!(curve.resolution(), Resolution::Thirds);
/// let at_160 = curve.get(Midband::from_nominal("160").unwrap()).unwrap();
/// assert_eq!((at_160.value, at_160.bound), (31.0, Bound::AtLeast));
/// # Ok::<(), Vec<wythe_rating::CurveError>>(())
/// ```
///
/// # Errors
/// Every fault at once, each with its line, up to fifty.
pub fn read(text: &str) -> Result<Curve, Vec<CurveError>> {
    if text.len() > LARGEST_TEXT {
        let fault = CurveFault::TooLong { bytes: text.len() };
        return Err(vec![CurveError { line: None, fault }]);
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let mut reader = Reader::default();
    for (index, raw) in text.split('\n').enumerate() {
        if reader.faults.len() >= MOST_FAULTS {
            reader.faults.push(CurveError { line: None, fault: CurveFault::More });
            break;
        }
        let line = raw.split('#').next().unwrap_or("");
        if !line.trim().is_empty()
            && let Err(fault) = reader.line(index + 1, line)
        {
            reader.faults.push(CurveError { line: Some(index + 1), fault });
        }
    }
    reader.finish()
}

/// What has been read so far.
struct Reader {
    faults: Vec<CurveError>,
    /// Line on which each band was given.
    seen: [Option<usize>; Midband::COUNT],
    values: Curve,
    empty: Vec<Midband>,
    separator: Option<Separator>,
    /// Columns of frequency and value.
    places: (usize, usize),
    /// Number of columns of the header, if there was one.
    header: Option<usize>,
    /// Whether the words of the header told the columns.
    header_told: bool,
    any_band: bool,
    /// Whether every line so far could be a decimal comma taken for a separating one.
    whole_pairs: bool,
}

impl Default for Reader {
    fn default() -> Reader {
        Reader {
            faults: Vec::new(),
            seen: [None; Midband::COUNT],
            values: Curve::new(Resolution::Thirds),
            empty: Vec::new(),
            separator: None,
            places: (0, 1),
            header: None,
            header_told: false,
            any_band: false,
            whole_pairs: true,
        }
    }
}

impl Reader {
    fn line(&mut self, line_number: usize, line: &str) -> Result<(), CurveFault> {
        let mut parted = *self.separator.get_or_insert_with(|| Separator::of(line));
        let mut columns = parted.split(line);
        // The header may be parted otherwise than the data ("Hz dB" over "125;20,4").
        if !self.any_band && self.header.is_some() {
            parted = Separator::of(line);
            self.separator = Some(parted);
            columns = parted.split(line);
        }
        // A quoted cell may keep a comma even though the comma parts the columns.
        let decimal_comma = parted != Separator::Comma || line.contains('"');
        let names_only = !columns
            .iter()
            .any(|c| frequency(c, decimal_comma).is_some() || value(c, decimal_comma).is_some());
        // A title may stand above the header, so a header is final only when its words told.
        if !self.any_band && !self.header_told && names_only && columns.len() >= 2 {
            (self.places, self.header_told) = header_places(&columns)
                .ok_or_else(|| CurveFault::Header { text: quote(line.trim()) })?;
            self.header = Some(columns.len());
            return Ok(());
        }
        self.any_band = true;
        let wide = self.header.is_some_and(|h| h > 2);
        let too_many = match self.header {
            Some(header) if wide => columns.len() > header,
            _ => columns.len() > 2,
        };
        if columns.len() < 2 || too_many {
            let found = columns.len();
            return Err(CurveFault::Columns { text: quote(line.trim()), found });
        }
        let cell = |place: usize| columns.get(place).map_or("", String::as_str);
        let (frequency_text, value_text) = (cell(self.places.0), cell(self.places.1));
        let hertz = frequency(frequency_text, decimal_comma)
            .ok_or_else(|| CurveFault::NotAFrequency { text: quote(frequency_text) })?;
        let band = Midband::from_hertz(hertz).ok_or_else(|| {
            let (below, above) = neighbours(hertz);
            CurveFault::NotABand { text: quote(frequency_text), below, above }
        })?;
        if let Some(first) = self.seen[band.index()] {
            return Err(CurveFault::Twice { band, first });
        }
        self.seen[band.index()] = Some(line_number);
        // "125,20,4" under three headings may be 20.4 with a decimal comma.
        let digits =
            |c: &str| !c.is_empty() && c.len() <= 2 && c.bytes().all(|b| b.is_ascii_digit());
        self.whole_pairs &= parted == Separator::Comma
            && !value_text.contains('.')
            && digits(cell(self.places.1 + 1));
        if value_text.is_empty() {
            self.empty.push(band);
            return Ok(());
        }
        let (v, bound) = value(value_text, decimal_comma)
            .ok_or_else(|| CurveFault::NotAValue { text: quote(value_text) })?;
        if v.abs() > crate::error::LARGEST_VALUE {
            return Err(CurveFault::Absurd { value: v });
        }
        self.values.set(band, v, bound);
        Ok(())
    }

    fn finish(mut self) -> Result<Curve, Vec<CurveError>> {
        let given: Vec<Midband> =
            Midband::all().filter(|b| self.seen[b.index()].is_some()).collect();
        let octaves_only = given.iter().all(|b| b.is_octave());
        let mut octave_steps: Vec<Midband> = given
            .windows(2)
            .filter(|w| w[0].is_octave() && w[1].is_octave() && w[1].n() - w[0].n() == 3)
            .flat_map(|w| [w[0], w[1]])
            .collect();
        if !octaves_only && octave_steps.len() >= 4 {
            octave_steps.dedup();
            let fault = CurveFault::Mixed { octaves: crate::midband::list(&octave_steps) };
            self.faults.push(CurveError { line: None, fault });
        }
        if self.values.is_empty() && self.faults.is_empty() {
            self.faults.push(CurveError { line: None, fault: CurveFault::NoBands });
        }
        if !self.faults.is_empty() {
            return Err(self.faults);
        }
        let resolution = if octaves_only { Resolution::Octaves } else { Resolution::Thirds };
        let mut curve = Curve::new(resolution);
        for (band, entry) in self.values.iter() {
            curve.set(band, entry.value, entry.bound);
        }
        // Thirds are the rule and need no word; octaves are a conclusion the reader should see.
        if octaves_only {
            curve.remarks.push(Remark::new(
                "curve::taken-as-octaves",
                "taken as octave bands, because every frequency given is the mid-band of an octave",
            ));
        }
        if self.whole_pairs {
            curve.remarks.push(Remark::new(
                "curve::comma-may-be-decimal",
                "every value is a whole number with one or two digits in the column after it; if \
                 that is a decimal comma, separate the columns with a semicolon",
            ));
        }
        if !self.empty.is_empty() {
            curve.remarks.push(
                Remark::new("curve::no-value", "no value is given here, so the band is absent")
                    .at(crate::midband::list(&self.empty)),
            );
        }
        Ok(curve)
    }
}

fn neighbours(hertz: f64) -> (&'static str, &'static str) {
    let below = Midband::all().rfind(|b| b.centre().0 <= hertz);
    let above = Midband::all().find(|b| b.centre().0 > hertz);
    (below.map_or("8", Midband::nominal), above.map_or("20000", Midband::nominal))
}
