//! One line on a band chart.

use wythe_bands::{Band, Level, LevelDifference, Spectrum};

/// What a line stands for. Colour and line type follow from it and from nothing else.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// Measured, averaged: ink, filled dots.
    Measured,
    /// Predicted: slate dashes, open dots.
    Predicted,
    /// Required, or a reference curve: steps across each band.
    Required,
    /// Background noise: hatch below the line, never a line on top.
    Background,
    /// One microphone position: thin grey.
    Position,
    /// What one path delivers: grey with its letter at the end.
    Path,
}

impl Role {
    /// The role as a word.
    pub fn word(self) -> &'static str {
        match self {
            Role::Measured => "measured",
            Role::Predicted => "predicted",
            Role::Required => "required",
            Role::Background => "background",
            Role::Position => "position",
            Role::Path => "path",
        }
    }

    pub(crate) fn colour(self) -> &'static str {
        match self {
            Role::Measured => "measured",
            Role::Predicted => "predicted",
            Role::Required => "required",
            Role::Background | Role::Position | Role::Path => "context",
        }
    }

    /// Class of the label; grey lines take the second text colour, which is dark enough to read.
    pub(crate) fn text_class(self) -> &'static str {
        match self {
            Role::Measured => "",
            Role::Predicted => "predicted",
            Role::Required => "required",
            Role::Background | Role::Position | Role::Path => "second",
        }
    }
}

/// Whether a plotted value is the value or only a limit to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Bound {
    /// The value itself.
    #[default]
    Value,
    /// The truth is this or higher, as a level difference limited by the background.
    AtLeast,
    /// The truth is this or lower.
    AtMost,
}

/// One value of a trace, dB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Value, dB.
    pub db: f64,
    /// Value or limit.
    pub bound: Bound,
    /// Half-width of the uncertainty band, dB, when one is known.
    pub uncertainty: Option<f64>,
    /// Outside the range of the method or the instrument: drawn lighter.
    pub outside: bool,
}

impl Point {
    /// A plain value.
    pub fn new(db: f64) -> Point {
        Point { db, bound: Bound::Value, uncertainty: None, outside: false }
    }
}

/// One line on a band chart. A band without a value is a gap and is never bridged.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// What it stands for.
    pub role: Role,
    /// Written at the end of the line.
    pub label: String,
    /// Letter of a path, matching the strip and the plan.
    pub letter: Option<char>,
    /// The one thing to look at: drawn in the warning colour and thick. The first such trace of a
    /// chart has it, any other keeps its own colour.
    pub look_here: bool,
    /// Values, dB.
    pub points: Spectrum<Point>,
}

impl Trace {
    /// A trace of sound pressure levels.
    pub fn levels(role: Role, label: impl Into<String>, values: &Spectrum<Level>) -> Trace {
        Trace::points(role, label, values.map(|_, l| Point::new(l.0)))
    }

    /// A trace of level differences or reduction indices.
    pub fn differences(
        role: Role,
        label: impl Into<String>,
        values: &Spectrum<LevelDifference>,
    ) -> Trace {
        Trace::points(role, label, values.map(|_, l| Point::new(l.0)))
    }

    /// A trace of finished points.
    pub fn points(role: Role, label: impl Into<String>, points: Spectrum<Point>) -> Trace {
        Trace { role, label: label.into(), letter: None, look_here: false, points }
    }

    /// The same trace with what each band's value bounds.
    pub fn with_bounds(mut self, bound: impl Fn(Band) -> Bound) -> Trace {
        self.points = self.points.map(|b, p| Point { bound: bound(b), ..p });
        self
    }

    /// The same trace with a half-width of uncertainty in the bands that have one.
    pub fn with_uncertainty(mut self, half_width: &Spectrum<LevelDifference>) -> Trace {
        self.points = self
            .points
            .map(|b, p| Point { uncertainty: half_width.get(b).map(|u| u.0.abs()), ..p });
        self
    }

    /// The same trace, lighter in the bands its method does not cover.
    pub fn outside(mut self, outside: impl Fn(Band) -> bool) -> Trace {
        self.points = self.points.map(|b, p| Point { outside: outside(b), ..p });
        self
    }

    /// The same trace with the letter of its path.
    pub fn lettered(mut self, letter: char) -> Trace {
        self.letter = Some(letter);
        self
    }

    /// The same trace as the one thing to look at.
    pub fn looked_at(mut self) -> Trace {
        self.look_here = true;
        self
    }

    /// What the trace is called, with its letter in front.
    pub(crate) fn name(&self) -> String {
        match self.letter {
            Some(letter) => format!("{letter} {}", self.label),
            None => self.label.clone(),
        }
    }
}
