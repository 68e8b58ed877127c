//! The two axes every spectrum shares: bands in equal steps, decibels upward.

use super::format::Metrics;
use super::svg::{Anchor, Svg};
use super::words::{number, short_nominal};
use wythe_bands::Band;

/// Equal steps, one per third-octave band.
#[derive(Clone, Copy)]
pub(crate) struct BandAxis {
    pub(crate) first: Band,
    pub(crate) last: Band,
    pub(crate) x0: f64,
    pub(crate) step: f64,
}

impl BandAxis {
    pub(crate) fn bands(&self) -> impl DoubleEndedIterator<Item = Band> + Clone + use<> {
        Band::range(self.first, self.last)
    }

    pub(crate) fn holds(&self, band: Band) -> bool {
        band >= self.first && band <= self.last
    }

    pub(crate) fn count(&self) -> usize {
        self.last.index() + 1 - self.first.index()
    }

    /// Left edge of a band's column.
    pub(crate) fn left(&self, band: Band) -> f64 {
        self.x0 + (band.index() as f64 - self.first.index() as f64) * self.step
    }

    /// Middle of a band's column.
    pub(crate) fn x(&self, band: Band) -> f64 {
        self.left(band) + self.step / 2.0
    }

    pub(crate) fn right(&self) -> f64 {
        self.x0 + self.count() as f64 * self.step
    }

    /// A slightly darker ground under the bands outside the rating range.
    pub(crate) fn draw_range(&self, svg: &mut Svg, range: (Band, Band), top: f64, bottom: f64) {
        let mut shade = |from: f64, to: f64| {
            let (from, to) = (from.max(self.x0), to.min(self.right()));
            if to > from {
                svg.rect(from, top, to - from, bottom - top, "f-shade", "");
            }
        };
        shade(self.x0, self.left(range.0));
        shade(self.left(range.1) + self.step, self.right());
    }

    /// Short ticks at every third, long ones with the nominal frequency at the octaves.
    pub(crate) fn draw_ticks(&self, svg: &mut Svg, y: f64, m: &Metrics) {
        svg.line((self.x0, y), (self.right(), y), "l-ink", 1.0);
        for band in self.bands() {
            let centre = band.octave().is_some_and(|o| o.centre_band() == band);
            let length = if centre { 8.0 } else { 4.0 };
            svg.line((self.x(band), y), (self.x(band), y + length), "l-ink", 1.0);
            // A chart of one or two bands may hold no octave centre; then each band is named.
            if centre || self.count() < 4 {
                let at = (self.x(band), y + 10.0 + m.text);
                svg.text(at, m.text, Anchor::Middle, "", &short_nominal(band));
            }
        }
    }

    /// Room under the plot that the ticks and their labels take.
    pub(crate) fn height(m: &Metrics) -> f64 {
        14.0 + m.text
    }
}

/// Decibels upward.
#[derive(Clone, Copy)]
pub(crate) struct LevelAxis {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) top: f64,
    pub(crate) ten_db: f64,
}

impl LevelAxis {
    /// Axis over whole tens that holds `values`, at least `least` dB long, no taller than 1000 px.
    pub(crate) fn around(
        values: impl Iterator<Item = f64>,
        least: f64,
        top: f64,
        m: &Metrics,
    ) -> LevelAxis {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for v in values {
            low = low.min(v);
            high = high.max(v);
        }
        if low > high {
            (low, high) = (0.0, least);
        }
        low = (low / 10.0).floor() * 10.0;
        high = (high / 10.0).ceil() * 10.0;
        // Grow a short axis evenly, upward first.
        let mut up = true;
        while high - low < least {
            if up {
                high += 10.0;
            } else {
                low -= 10.0;
            }
            up = !up;
        }
        LevelAxis::new(low, high, top, m)
    }

    pub(crate) fn new(low: f64, high: f64, top: f64, m: &Metrics) -> LevelAxis {
        let ten_db = m.ten_db.min(1000.0 * 10.0 / (high - low).max(1.0));
        LevelAxis { low, high, top, ten_db }
    }

    pub(crate) fn y(&self, db: f64) -> f64 {
        self.top + (self.high - db) / 10.0 * self.ten_db
    }

    pub(crate) fn bottom(&self) -> f64 {
        self.y(self.low)
    }

    pub(crate) fn holds(&self, db: f64) -> bool {
        db >= self.low && db <= self.high
    }

    /// Grid each 10 dB, ticks each 5, figures left of the plot.
    pub(crate) fn draw_grid(&self, svg: &mut Svg, x0: f64, x1: f64, m: &Metrics, signed: bool) {
        // Figures keep a line's distance when the axis had to be compressed.
        let every = if self.ten_db >= m.text + 2.0 { 10.0 } else { 50.0 };
        let mut db = (self.low / 5.0).ceil() * 5.0;
        while db <= self.high + 1e-9 {
            let ten = (db / 10.0 - (db / 10.0).round()).abs() < 1e-9;
            let y = self.y(db);
            if ten {
                svg.line((x0, y), (x1, y), "l-hairline", 1.0);
                if (db / every - (db / every).round()).abs() < 1e-9 {
                    let figure = if signed && db > 0.0 {
                        format!("+{}", number(db, 0))
                    } else {
                        number(db, 0)
                    };
                    let at = (x0 - 8.0, y + m.text * 0.35);
                    svg.text(at, m.text, Anchor::End, "", &figure);
                }
            }
            svg.line((x0 - if ten { 5.0 } else { 3.0 }, y), (x0, y), "l-ink", 1.0);
            db += 5.0;
        }
        svg.line((x0, self.top), (x0, self.bottom()), "l-ink", 1.0);
    }
}
