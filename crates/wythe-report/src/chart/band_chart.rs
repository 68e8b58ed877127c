//! A spectrum: traces over third-octave bands, with what is required, what was wrong, and
//! underneath, on the same bands, the difference and the paths.

use super::axis::{BandAxis, LevelAxis};
use super::difference::{DifferencePanel, draw_difference};
use super::dominance::DominanceStrip;
use super::drawing::{Drawing, Words, picture_id};
use super::end_labels::{Sample, draw_end_labels, draw_key, end_of};
use super::format::{Format, Metrics};
use super::quantity::Quantity;
use super::shortfall::{WrongSide, shortfall};
use super::svg::{Anchor, Svg, n};
use super::table::DataTable;
use super::trace::{Bound, Point, Role, Trace};
use super::trace_marks::{
    Form, draw_background, draw_guide, draw_position_band, draw_trace, draw_uncertainty,
    order_of_drawing,
};
use super::words::{clip, decibels, nominal, number, signed, wrap};
use wythe_bands::Band;

/// Values outside this are no levels or level differences of anything built, and would squeeze
/// the rest of the chart to a line; they are left out and the chart says so.
pub(crate) const DRAWABLE_DB: std::ops::RangeInclusive<f64> = -200.0..=300.0;

/// More positions than this are drawn as the band from lowest to highest only.
const MOST_POSITION_LINES: usize = 12;

/// A spectrum with everything that is said about it band by band.
#[derive(Clone, Debug, PartialEq)]
pub struct BandChart {
    /// Title, caption and id.
    pub words: Words,
    /// What the vertical axis carries.
    pub quantity: Quantity,
    /// First and last band, in either order.
    pub bands: (Band, Band),
    /// The lines.
    pub traces: Vec<Trace>,
    /// Bands the rating uses; the others lie on a slightly darker ground.
    pub rating_range: Option<(Band, Band)>,
    /// Lowest and highest value of the axis, dB, for charts meant to be compared.
    pub span: Option<(f64, f64)>,
    /// Hatch the gap between measured (or else predicted) and required on this side.
    pub wrong: Option<WrongSide>,
    /// Say the sum of the deviations at the end of the required curve, as rating procedures add
    /// them; otherwise the largest one with its band.
    pub sum_deviations: bool,
    /// Dotted guide of 6 dB per octave.
    pub guide: bool,
    /// The difference, on its own axis about zero.
    pub difference: Option<DifferencePanel>,
    /// Which path dominates, aligned to the bands.
    pub strip: Option<DominanceStrip>,
}

impl BandChart {
    /// An empty chart over the bands from 50 Hz to 5 kHz with the rating range of ISO 717-1.
    pub fn new(words: Words, quantity: Quantity) -> BandChart {
        BandChart {
            words,
            quantity,
            bands: (Band::HZ_50, Band::HZ_5000),
            traces: Vec::new(),
            rating_range: Some((Band::HZ_100, Band::HZ_3150)),
            span: None,
            wrong: None,
            sum_deviations: true,
            guide: false,
            difference: None,
            strip: None,
        }
    }

    /// Draws the chart.
    pub fn draw(&self, format: Format) -> Drawing {
        let (first, last) = (self.bands.0.min(self.bands.1), self.bands.0.max(self.bands.1));
        let count = last.index() + 1 - first.index();
        let m = format.metrics(count);
        let axis = BandAxis { first, last, x0: m.gutter, step: m.band };
        let prefix = picture_id(&self.words, format);
        let mut notes = Vec::new();
        let traces = self.drawable(&axis, &mut notes);

        let mut svg = Svg::default();
        let mut title = 0.0;
        // Long names of quantities break instead of running out of the picture.
        let head = wrap(&clip(&self.quantity.words), m.text, m.widest - 110.0);
        for line in &head[..head.len() - 1] {
            title += m.text * 1.3;
            svg.text((0.0, title), m.text, Anchor::Start, "second", line);
        }
        title += m.text + 2.0;
        let lasting =
            Quantity { words: head.last().cloned().unwrap_or_default(), ..self.quantity.clone() };
        svg.raw_text((0.0, title), m.text, Anchor::Start, "second", &lasting.markup(m.text));
        let top = title + 14.0;

        let levels = self.level_axis(&traces, top, &m, &mut notes);
        let bottom = levels.bottom();
        svg.raw("<defs>");
        svg.hatch(&format!("{prefix}-wrong"), "l-look-here", 6.0, 0.8, 45.0);
        svg.hatch(&format!("{prefix}-noise"), "l-context", 6.0, 0.5, -45.0);
        svg.raw(&format!(
            r#"<clipPath id="{prefix}-plot"><rect x="{}" y="{}" width="{}" height="{}"/></clipPath>"#,
            n(axis.x0),
            n(top - 1.0),
            n(axis.right() - axis.x0),
            n(bottom - top + 2.0)
        ));
        svg.raw("</defs>");
        if let Some(range) = self.rating_range {
            axis.draw_range(&mut svg, range, top, bottom);
        }
        levels.draw_grid(&mut svg, axis.x0, axis.right(), &m, false);

        let shortfall = self.wrong.and_then(|side| shortfall(&traces, side));
        let positions: Vec<&Trace> = traces.iter().filter(|t| t.role == Role::Position).collect();
        let mut ends = Vec::new();
        let mut named = false;
        let forms = Form::of_each(&traces);
        for (t, form) in traces.iter().zip(&forms) {
            if t.role == Role::Position && positions.len() > MOST_POSITION_LINES {
                continue;
            }
            let look = t.look_here && !named;
            named |= look;
            if let Some(mut end) = end_of(t, &axis, &levels, look) {
                if t.role == Role::Required {
                    end.extra = shortfall
                        .as_ref()
                        .and_then(|s| s.sentence(self.wrong, self.sum_deviations));
                }
                let alike = |other: &&Trace| other.role == t.role;
                end.form = (matches!(t.role, Role::Predicted | Role::Measured)
                    && traces.iter().filter(alike).count() > 1)
                    .then_some(*form);
                ends.push(end);
            }
        }
        if positions.len() > MOST_POSITION_LINES
            && let Some(mut end) = positions.iter().find_map(|t| end_of(t, &axis, &levels, false))
        {
            end.text = format!("{} positions, lowest to highest", positions.len());
            end.sample = Sample::Area;
            ends.push(end);
        }
        // Leaders first, so that they pass under the lines they cross.
        let mut right = axis.right() + 8.0;
        let mut lowest = bottom;
        if !m.labels_below {
            let (edge, low) = draw_end_labels(&mut svg, &ends, axis.right(), top - 8.0, &m);
            right = right.max(edge);
            lowest = lowest.max(low);
        }
        svg.open(&format!(r#"clip-path="url(#{prefix}-plot)""#));
        if self.guide {
            draw_guide(&mut svg, &axis, &levels);
        }
        draw_position_band(&mut svg, &axis, &levels, &positions);
        for t in traces.iter().filter(|t| t.role == Role::Background) {
            draw_background(&mut svg, &axis, &levels, t, &format!("{prefix}-noise"));
        }
        for t in &traces {
            draw_uncertainty(&mut svg, &axis, &levels, t);
        }
        if let Some(s) = &shortfall {
            for &(band, required, reached) in &s.cells {
                let (a, b) = (levels.y(required), levels.y(reached));
                let fill = format!(r#"fill="url(#{prefix}-wrong)""#);
                svg.rect(axis.left(band), a.min(b), axis.step, (a - b).abs(), "", &fill);
            }
        }
        let mut pointed = false;
        for t in order_of_drawing(&traces, positions.len() <= MOST_POSITION_LINES) {
            let look = t.look_here && !pointed;
            pointed |= look;
            let form =
                traces.iter().position(|x| std::ptr::eq(x, t)).map_or(Form::Round, |i| forms[i]);
            draw_trace(&mut svg, &axis, &levels, t, form, look);
        }
        svg.close();

        if self.guide && m.labels_below {
            notes.push("The dotted line rises 6 dB per octave.".to_owned());
        }
        if let Some(s) = &shortfall
            && s.undecided > 0
        {
            notes.push(format!(
                "In {} the value is only a bound that leaves open whether the requirement is met; \
                 {} not counted.",
                bands_word(s.undecided),
                if s.undecided == 1 { "it is" } else { "they are" }
            ));
        }

        let mut y = bottom;
        axis.draw_ticks(&mut svg, y, &m);
        y += BandAxis::height(&m);
        let unit = (axis.right(), y + m.small + 2.0);
        svg.text(unit, m.small, Anchor::End, "second", "third-octave band, Hz");
        y += m.small + 6.0;

        if let Some(panel) = &self.difference {
            y = draw_difference(&mut svg, panel, &axis, y + 16.0, &m, &prefix, &mut notes);
        }
        if let Some(strip) = &self.strip {
            let (edge, low) = strip.draw_into(&mut svg, &axis, y + 16.0, &m);
            right = right.max(edge);
            y = low;
        }
        if m.labels_below {
            y = draw_key(&mut svg, &ends, y + 10.0, &m);
        }
        Drawing {
            words: self.words.clone(),
            description: self.describe(&traces, &axis),
            notes,
            width: right.max(axis.right() + 8.0).ceil(),
            height: (y.max(lowest) + 6.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    /// The chart's figures, one row per band, which a screen reader meets first.
    pub fn table(&self) -> DataTable {
        let (first, last) = (self.bands.0.min(self.bands.1), self.bands.0.max(self.bands.1));
        let mut head = vec!["Band, Hz".to_owned()];
        head.extend(self.traces.iter().map(|t| format!("{}, dB", t.name())));
        if let Some(panel) = &self.difference {
            head.push(format!("{}, dB", panel.label));
        }
        let rows = Band::range(first, last)
            .map(|band| {
                let mut row = vec![band.nominal().to_owned()];
                row.extend(self.traces.iter().map(|t| match t.points.get(band) {
                    None => "not known".to_owned(),
                    Some(p) => point_words(p),
                }));
                if let Some(panel) = &self.difference {
                    row.push(match panel.values.get(band) {
                        Some(v) => signed(v.0, 1),
                        None => "not known".to_owned(),
                    });
                }
                row
            })
            .collect();
        DataTable { caption: format!("{} — figures", self.words.title), head, rows }
    }

    /// The traces cut to the axis and rid of what is no level; says what was left out.
    fn drawable(&self, axis: &BandAxis, notes: &mut Vec<String>) -> Vec<Trace> {
        let mut out = Vec::new();
        for t in &self.traces {
            let mut wild = 0;
            let mut t = t.clone();
            t.points = t.points.filter_map(|b, p| {
                let sound = DRAWABLE_DB.contains(&p.db);
                wild += usize::from(!sound && axis.holds(b));
                let uncertainty = p.uncertainty.filter(|u| u.is_finite() && *u < 200.0);
                (sound && axis.holds(b)).then_some(Point { uncertainty, ..p })
            });
            if wild > 0 {
                notes.push(format!(
                    "{}: {} with a value that is no level (not a number, or beyond \
                     {DRAWABLE_DB:?} dB) left out.",
                    t.name(),
                    bands_word(wild)
                ));
            }
            out.push(t);
        }
        let values = out.iter().any(|t| !t.points.is_empty());
        if !values {
            notes.push("There is nothing to draw: no trace has a value in these bands.".to_owned());
        }
        out
    }

    fn level_axis(
        &self,
        traces: &[Trace],
        top: f64,
        m: &Metrics,
        notes: &mut Vec<String>,
    ) -> LevelAxis {
        let reach = |p: Point| {
            let u = p.uncertainty.unwrap_or(0.0);
            [p.db - u, p.db + u]
        };
        let values = traces.iter().flat_map(|t| t.points.iter().flat_map(|(_, p)| reach(p)));
        if let Some((low, high)) = self.span
            && low.is_finite()
            && high.is_finite()
            && high - low >= 10.0
            && high - low <= 1000.0
        {
            let axis = LevelAxis::new(low, high, top, m);
            let beyond = traces
                .iter()
                .flat_map(|t| t.points.iter())
                .filter(|(_, p)| !axis.holds(p.db))
                .count();
            if beyond > 0 {
                notes.push(format!("{beyond} values lie beyond the axis; the table has them."));
            }
            return axis;
        }
        LevelAxis::around(values, 30.0, top, m)
    }

    fn describe(&self, traces: &[Trace], axis: &BandAxis) -> String {
        let mut out = format!(
            "{}, third-octave bands {} to {}.",
            self.quantity.words,
            nominal(axis.first),
            nominal(axis.last)
        );
        for t in traces.iter().filter(|t| t.role != Role::Position) {
            let Some((a, p)) = t.points.iter().next() else {
                out.push_str(&format!(" {}: no values.", t.name()));
                continue;
            };
            let (b, q) = t.points.iter().next_back().unwrap_or((a, p));
            // A trace called "measured" need not be said to be measured.
            let role = if t.label.to_lowercase().contains(t.role.word()) {
                String::new()
            } else {
                format!(" ({})", t.role.word())
            };
            out.push_str(&format!(
                " {}{role}: {} at {}, {} at {}.",
                t.name(),
                decibels(p.db),
                nominal(a),
                decibels(q.db),
                nominal(b)
            ));
            let missing = axis.bands().filter(|b| t.points.get(*b).is_none()).count();
            if missing > 0 {
                out.push_str(&format!(" Not known in {}.", bands_word(missing)));
            }
        }
        out
    }
}

pub(crate) fn bands_word(count: usize) -> String {
    if count == 1 { "1 band".to_owned() } else { format!("{count} bands") }
}

fn point_words(p: Point) -> String {
    let value = number(p.db, 1);
    let bound = match p.bound {
        Bound::Value => "",
        Bound::AtLeast => "at least ",
        Bound::AtMost => "at most ",
    };
    match p.uncertainty {
        Some(u) => format!("{bound}{value} ± {}", number(u, 1)),
        None => format!("{bound}{value}"),
    }
}
