//! What happened when.

use wythe_bands::Seconds;

/// What a stretch of a recording holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The sound whose way into the next room is measured.
    Source,
    /// Nothing but what is there anyway.
    Background,
    /// A calibrator on the microphone.
    Calibration,
    /// A sound dying away after it was stopped, or an impulse.
    Decay,
    /// Not to be used, and why.
    Excluded(String),
}

/// Who says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Author {
    /// The user's own log; it wins.
    User,
    /// Found by the program.
    Found,
}

/// One stretch of time.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Begin, s from the start of the recording.
    pub from: Seconds,
    /// End, s.
    pub to: Seconds,
    /// What it holds.
    pub kind: Kind,
    /// Who says so.
    pub author: Author,
}

/// Stretches of one recording, in order of time. Nothing is ever cut silently: what is excluded is
/// a stretch with a reason.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    stretches: Vec<Stretch>,
}

impl Timeline {
    /// No stretches.
    pub fn new() -> Timeline {
        Timeline::default()
    }

    /// Adds a stretch. One that is empty or not made of numbers is left out and `false` returned.
    ///
    /// What the user says replaces what the program found in the same time, except that a found
    /// exclusion stays an exclusion under a stretch of another kind: to lift it, the user says so
    /// with [`Timeline::lift`].
    pub fn add(&mut self, from: Seconds, to: Seconds, kind: Kind, author: Author) -> bool {
        if !(to.0 > from.0 && from.0.is_finite() && to.0.is_finite()) {
            return false;
        }
        let from = Seconds(from.0.max(0.0));
        if to.0 <= 0.0 {
            return false;
        }
        let excludes = |k: &Kind| matches!(k, Kind::Excluded(_));
        if !excludes(&kind) {
            match author {
                Author::User => {
                    self.cut(from, to, |s| s.author == Author::Found && !excludes(&s.kind))
                }
                Author::Found => {
                    // Keep only what the user has not spoken about.
                    let spoken: Vec<(f64, f64)> = self
                        .stretches
                        .iter()
                        .filter(|s| s.author == Author::User && !excludes(&s.kind))
                        .map(|s| (s.from.0, s.to.0))
                        .collect();
                    let left = Mask::spans(vec![(from.0, to.0)]).without(&Mask::spans(spoken));
                    for &(a, b) in &left.spans {
                        self.insert(Seconds(a), Seconds(b), kind.clone(), author);
                    }
                    return !left.spans.is_empty();
                }
            }
        }
        self.insert(from, to, kind, author);
        true
    }

    /// Lifts what the program excluded in a time: the user has listened and wants it used.
    pub fn lift(&mut self, from: Seconds, to: Seconds) {
        self.cut(from, to, |s| s.author == Author::Found && matches!(s.kind, Kind::Excluded(_)));
    }

    fn insert(&mut self, from: Seconds, to: Seconds, kind: Kind, author: Author) {
        let at = self.stretches.partition_point(|s| s.from.0 <= from.0);
        self.stretches.insert(at, Stretch { from, to, kind, author });
    }

    fn cut(&mut self, from: Seconds, to: Seconds, which: impl Fn(&Stretch) -> bool) {
        let gone = Mask::spans(vec![(from.0, to.0)]);
        for stretch in std::mem::take(&mut self.stretches) {
            if which(&stretch) {
                let left = Mask::spans(vec![(stretch.from.0, stretch.to.0)]).without(&gone);
                for &(a, b) in &left.spans {
                    self.insert(Seconds(a), Seconds(b), stretch.kind.clone(), stretch.author);
                }
            } else {
                self.insert(stretch.from, stretch.to, stretch.kind, stretch.author);
            }
        }
    }

    /// All stretches, in order.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// The time of one kind, without what is excluded.
    pub fn mask(&self, kind: &Kind) -> Mask {
        self.time_of(|k| k == kind).without(&self.excluded())
    }

    /// All time that is not excluded.
    pub fn usable(&self) -> Mask {
        Mask::everything().without(&self.excluded())
    }

    /// All excluded time.
    pub fn excluded(&self) -> Mask {
        self.time_of(|k| matches!(k, Kind::Excluded(_)))
    }

    fn time_of(&self, which: impl Fn(&Kind) -> bool) -> Mask {
        Mask::spans(
            self.stretches.iter().filter(|s| which(&s.kind)).map(|s| (s.from.0, s.to.0)).collect(),
        )
    }
}

/// A set of times.
#[derive(Clone, Debug, PartialEq)]
pub struct Mask {
    /// Disjoint, rising.
    spans: Vec<(f64, f64)>,
}

impl Mask {
    /// All time.
    pub fn everything() -> Mask {
        Mask { spans: vec![(f64::NEG_INFINITY, f64::INFINITY)] }
    }

    /// The union of spans in seconds, in any order; empty ones and NaN are left out.
    pub fn spans(mut spans: Vec<(f64, f64)>) -> Mask {
        spans.retain(|(a, b)| b > a);
        spans.sort_by(|x, y| x.0.total_cmp(&y.0));
        let mut out: Vec<(f64, f64)> = Vec::with_capacity(spans.len());
        for (a, b) in spans {
            match out.last_mut() {
                Some(last) if a <= last.1 => last.1 = last.1.max(b),
                _ => out.push((a, b)),
            }
        }
        Mask { spans: out }
    }

    /// The spans, disjoint and rising.
    pub fn as_spans(&self) -> &[(f64, f64)] {
        &self.spans
    }

    /// What is in both.
    pub fn and(&self, other: &Mask) -> Mask {
        let (mut i, mut j) = (0, 0);
        let mut out = Vec::new();
        while i < self.spans.len() && j < other.spans.len() {
            let (a, b) = (self.spans[i], other.spans[j]);
            let both = (a.0.max(b.0), a.1.min(b.1));
            if both.1 > both.0 {
                out.push(both);
            }
            if a.1 < b.1 { i += 1 } else { j += 1 }
        }
        Mask { spans: out }
    }

    /// What is in this but not in the other.
    pub fn without(&self, other: &Mask) -> Mask {
        let mut rest = Vec::new();
        let mut at = f64::NEG_INFINITY;
        for &(a, b) in &other.spans {
            rest.push((at, a));
            at = b;
        }
        rest.push((at, f64::INFINITY));
        self.and(&Mask::spans(rest))
    }

    /// Whether a piece of time lies wholly inside (to a nanosecond).
    pub fn holds(&self, from: f64, to: f64) -> bool {
        let at = self.spans.partition_point(|s| s.0 <= from + 1e-9);
        at > 0 && self.spans[at - 1].1 >= to - 1e-9
    }

    /// Whether there is no time in it.
    pub fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }
}
