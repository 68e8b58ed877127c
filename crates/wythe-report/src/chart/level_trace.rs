//! Level against time, with the stretches that were used, left out, or something else.

use super::axis::LevelAxis;
use super::drawing::{Drawing, Words, picture_id};
use super::format::Format;
use super::labels::spread;
use super::svg::{Anchor, Svg, polyline};
use super::trace::Role;
use super::words::{clip, width, wrap};
use wythe_bands::{Level, Seconds};

/// One channel or weighting over time.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeLine {
    /// Decides colour and line type.
    pub role: Role,
    /// Written at the end of the line.
    pub label: String,
    /// Time of the first value.
    pub start: Seconds,
    /// Distance of the values; must be above zero.
    pub step: Seconds,
    /// Levels; `None` is a gap.
    pub values: Vec<Option<Level>>,
}

/// What a stretch of a recording is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StretchKind {
    /// Used as source or received sound.
    Used,
    /// Used as background.
    Background,
    /// The calibration tone.
    Calibration,
    /// Left out, with the reason in the label.
    Excluded,
}

impl StretchKind {
    /// The kind as a word.
    pub fn word(self) -> &'static str {
        match self {
            StretchKind::Used => "used",
            StretchKind::Background => "background",
            StretchKind::Calibration => "calibration",
            StretchKind::Excluded => "left out",
        }
    }
}

/// A marked stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// What it is.
    pub kind: StretchKind,
    /// Begin.
    pub from: Seconds,
    /// End.
    pub to: Seconds,
    /// Reason or note; may be empty.
    pub label: String,
}

/// Level against time.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct LevelTrace {
    /// Title, caption and id.
    pub words: Words,
    /// What the axis carries: "A-weighted level, F, dB".
    pub quantity: String,
    /// The lines.
    pub lines: Vec<TimeLine>,
    /// The marked stretches.
    pub stretches: Vec<Stretch>,
}

/// A picture shorter than this, s, tells time by fractions of a second.
const FINE: f64 = 4.0;
/// More stretches than this are drawn but not listed one by one.
const MOST_LISTED: usize = 16;

/// As minutes and seconds, or hours where there are any.
fn clock(seconds: f64) -> String {
    clock_to(seconds, false)
}

/// The same, to the tenth of a second where `fine`.
fn clock_to(seconds: f64, fine: bool) -> String {
    if fine {
        return format!("{}\u{2009}s", super::words::number(seconds.max(0.0), 2));
    }
    let s = seconds.round().max(0.0) as u64;
    if s >= 3600 {
        format!("{}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
    } else {
        format!("{}:{:02}", s / 60, s % 60)
    }
}

fn is_time(s: Seconds) -> bool {
    s.0.is_finite() && (0.0..1e9).contains(&s.0)
}

impl LevelTrace {
    /// Where the time axis begins on the wide picture, px.
    pub const LEFT_PX: f64 = 40.0;
    /// Length of the time axis on the wide picture, px.
    pub const WIDTH_PX: f64 = 520.0;

    /// Draws the trace. Where there are more values than pixels, each column runs from the lowest
    /// to the highest value in it, so that no peak is lost.
    pub fn draw(&self, format: Format) -> Drawing {
        let mut m = format.metrics(21);
        // Time takes its own span; 10 dB stay as tall as the width of the form allows.
        m.ten_db = if m.labels_below { 26.0 } else { 40.0 };
        let (x0, plot) =
            if m.labels_below { (30.0, 290.0) } else { (Self::LEFT_PX, Self::WIDTH_PX) };
        let prefix = picture_id(&self.words, format);
        let mut notes = Vec::new();
        let lines: Vec<&TimeLine> = self
            .lines
            .iter()
            .filter(|l| is_time(l.start) && l.step.0 > 0.0 && l.step.0.is_finite())
            .filter(|l| is_time(Seconds(l.start.0 + l.step.0 * l.values.len() as f64)))
            .collect();
        if lines.len() < self.lines.len() {
            notes.push("A line without a usable time axis is left out.".to_owned());
        }
        let stretches: Vec<&Stretch> = self
            .stretches
            .iter()
            .filter(|s| is_time(s.from) && is_time(s.to) && s.to.0 > s.from.0)
            .collect();
        if stretches.len() < self.stretches.len() {
            notes.push("A stretch that ends before it begins is left out.".to_owned());
        }
        let end = lines
            .iter()
            .map(|l| l.start.0 + l.step.0 * l.values.len() as f64)
            .chain(stretches.iter().map(|s| s.to.0))
            .fold(0.0, f64::max);
        let end = if end > 0.0 { end } else { 1.0 };
        let begin = lines
            .iter()
            .map(|l| l.start.0)
            .chain(stretches.iter().map(|s| s.from.0))
            .fold(f64::INFINITY, f64::min);
        let begin = if begin < end { begin } else { 0.0 };
        // A decay is over before a clock of seconds has moved.
        let fine = end - begin < FINE;
        let clock = |t: f64| clock_to(t, fine);
        let x = |t: f64| x0 + (t - begin) / (end - begin) * plot;

        let mut svg = Svg::default();
        svg.raw("<defs>");
        svg.hatch(&format!("{prefix}-noise"), "l-context", 6.0, 0.5, -45.0);
        svg.hatch(&format!("{prefix}-out"), "l-look-here", 6.0, 0.8, 45.0);
        svg.raw("</defs>");
        let mut y = 0.0;
        for line in wrap(&clip(&self.quantity), m.text, x0 + plot) {
            y += m.text * 1.2;
            svg.text((0.0, y), m.text, Anchor::Start, "second", &line);
        }
        let top = y + 14.0;
        let values = lines.iter().flat_map(|l| l.values.iter().flatten().map(|v| v.0));
        let axis =
            LevelAxis::around(values.filter(|v| (-100.0..=250.0).contains(v)), 30.0, top, &m);
        axis.draw_grid(&mut svg, x0, x0 + plot, &m, false);
        for s in stretches.iter().filter(|s| s.kind == StretchKind::Excluded) {
            let (a, b) = (x(s.from.0), x(s.to.0));
            svg.rect(a, top, (b - a).max(1.0), axis.bottom() - top, "f-look-here pale", "");
        }

        let mut ends = Vec::new();
        for (colour, dash, line) in lines.iter().map(|l| match l.role {
            Role::Measured => ("measured", "", *l),
            Role::Predicted => ("predicted", r#" stroke-dasharray="6 3""#, *l),
            Role::Required => ("required", "", *l),
            _ => ("context", "", *l),
        }) {
            let pieces = columns(line, &x, plot);
            let mut d = String::new();
            for piece in &pieces {
                let points: Vec<(f64, f64)> = piece
                    .iter()
                    .map(|(x, db)| (*x, axis.y(*db).clamp(axis.top, axis.bottom())))
                    .collect();
                d.push_str(&polyline(&points));
            }
            let pen = format!(r#"stroke-width="1.25" stroke-linejoin="round"{dash}"#);
            svg.path(&d, &format!("l-{colour}"), &pen);
            if let Some((px, db)) = pieces.last().and_then(|p| p.last()) {
                ends.push((*px, axis.y(*db), clip(&line.label), line.role.text_class(), colour));
            }
        }
        let mut right = x0 + plot + 8.0;
        if !m.labels_below {
            let room = (m.widest - x0 - plot - 20.0).clamp(70.0, 160.0);
            let blocks: Vec<Vec<String>> = ends.iter().map(|e| wrap(&e.2, m.small, room)).collect();
            let wanted: Vec<(f64, f64)> =
                ends.iter().zip(&blocks).map(|(e, b)| (e.1, b.len() as f64 * 15.0 + 2.0)).collect();
            for ((centre, (_, tall)), (end, lines)) in
                spread(&wanted, top - 8.0).iter().zip(&wanted).zip(ends.iter().zip(&blocks))
            {
                let mut y = centre - tall / 2.0 + 12.0;
                svg.line((end.0, end.1), (x0 + plot + 14.0, y - 4.0), "l-hairline", 1.0);
                for line in lines {
                    let at = (x0 + plot + 18.0, y);
                    svg.text(at, m.small, Anchor::Start, end.3, line);
                    right = right.max(at.0 + width(line, m.small));
                    y += 15.0;
                }
            }
        }

        let mut y = axis.bottom();
        svg.line((x0, y), (x0 + plot, y), "l-ink", 1.0);
        let span = end - begin;
        let tick = [
            0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0,
            1800.0, 3600.0, 7200.0, 14400.0, 28800.0, 86400.0,
        ]
        .into_iter()
        .find(|t| span / t <= if m.labels_below { 5.0 } else { 8.0 })
        .unwrap_or_else(|| super::cost_steps::nice(span / 4.0));
        let mut t = (begin / tick).ceil() * tick;
        while t <= end + 1e-9 {
            svg.line((x(t), y), (x(t), y + 5.0), "l-ink", 1.0);
            svg.text((x(t), y + 8.0 + m.text), m.text, Anchor::Middle, "", &clock(t));
            t += tick;
        }
        y += 12.0 + m.text;

        // The track: one bar per stretch, told apart by fill and number.
        if !stretches.is_empty() {
            y += 18.0;
            let mut last = f64::NEG_INFINITY;
            for (i, s) in stretches.iter().enumerate() {
                let (a, b) = (x(s.from.0), x(s.to.0));
                let w = (b - a).max(1.5);
                let pen = r#"stroke-width="1""#;
                match s.kind {
                    StretchKind::Used => svg.rect(a, y, w, 10.0, "f-ink", ""),
                    StretchKind::Background => {
                        let fill = format!(r#"fill="url(#{prefix}-noise)""#);
                        svg.rect(a, y, w, 10.0, "", &fill);
                        svg.rect(a, y, w, 10.0, "l-context", pen);
                    }
                    StretchKind::Calibration => svg.rect(a, y, w, 10.0, "l-ink", pen),
                    StretchKind::Excluded => {
                        let fill = format!(r#"fill="url(#{prefix}-out)""#);
                        svg.rect(a, y, w, 10.0, "", &fill);
                        svg.rect(a, y, w, 10.0, "l-look-here", pen);
                    }
                }
                let number = (i + 1).to_string();
                let middle = a + w / 2.0;
                if i < MOST_LISTED && middle - last > width(&number, m.small) + 5.0 {
                    svg.text((middle, y - 4.0), m.small, Anchor::Middle, "strong", &number);
                    last = middle;
                }
            }
            y += 18.0;
            for (i, s) in stretches.iter().take(MOST_LISTED).enumerate() {
                let mut text =
                    format!("{} to {}, {}", clock(s.from.0), clock(s.to.0), s.kind.word());
                if !s.label.trim().is_empty() {
                    text.push_str(&format!(": {}", clip(&s.label)));
                }
                for (k, line) in wrap(&text, m.small, x0 + plot - 24.0).iter().enumerate() {
                    y += 16.0;
                    if k == 0 {
                        let number = (i + 1).to_string();
                        svg.text((0.0, y), m.small, Anchor::Start, "strong", &number);
                    }
                    svg.text((24.0, y), m.small, Anchor::Start, "", line);
                }
            }
            if stretches.len() > MOST_LISTED {
                let more = format!("and {} more", stretches.len() - MOST_LISTED);
                y += 16.0;
                svg.text((24.0, y), m.small, Anchor::Start, "second", &more);
            }
        }
        if m.labels_below {
            y += 6.0;
            for end in &ends {
                y += 17.0;
                let pen = format!("l-{}", end.4);
                svg.line((0.0, y - 4.0), (24.0, y - 4.0), &pen, 1.5);
                svg.text((32.0, y), m.text, Anchor::Start, end.3, &end.2);
            }
        }
        Drawing {
            words: self.words.clone(),
            description: self.describe(begin, end, &lines, &stretches),
            notes,
            width: right.ceil(),
            height: (y + 8.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    fn describe(&self, begin: f64, end: f64, lines: &[&TimeLine], all: &[&Stretch]) -> String {
        let mut out = format!("{} from {} to {}.", self.quantity, clock(begin), clock(end));
        for line in lines {
            out.push_str(&format!(" {} ({}).", line.label, line.role.word()));
        }
        for s in all.iter().take(MOST_LISTED) {
            out.push_str(&format!(
                " {} to {}: {} {}.",
                clock(s.from.0),
                clock(s.to.0),
                s.kind.word(),
                s.label
            ));
        }
        out
    }
}

/// The line in pixels: per pixel column the lowest and highest value, in the order they came;
/// a gap ends a piece.
fn columns(line: &TimeLine, x: &impl Fn(f64) -> f64, plot: f64) -> Vec<Vec<(f64, f64)>> {
    let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
    let per_column = (line.values.len() as f64 / plot).ceil().max(1.0) as usize;
    let mut open = false;
    for (i, chunk) in line.values.chunks(per_column).enumerate() {
        let known = |v: &Option<Level>| v.map(|l| l.0).filter(|v| (-100.0..=250.0).contains(v));
        // A gap inside a column would vanish in it; it ends the piece here instead.
        let whole = chunk.iter().all(|v| known(v).is_some());
        let mut low = (f64::INFINITY, 0usize);
        let mut high = (f64::NEG_INFINITY, 0usize);
        for (k, v) in chunk.iter().enumerate() {
            if let Some(v) = known(v) {
                if v < low.0 {
                    low = (v, k);
                }
                if v > high.0 {
                    high = (v, k);
                }
            }
        }
        if low.0 > high.0 {
            open = false;
            continue;
        }
        if !open {
            pieces.push(Vec::new());
        }
        let at = |k: usize| x(line.start.0 + line.step.0 * (i * per_column + k) as f64);
        if let Some(piece) = pieces.last_mut() {
            let (a, b) = if low.1 <= high.1 { (low, high) } else { (high, low) };
            piece.push((at(a.1), a.0));
            if b.1 != a.1 {
                piece.push((at(b.1), b.0));
            }
        }
        open = whole;
    }
    pieces
}
