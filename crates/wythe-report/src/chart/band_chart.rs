//! A spectrum: traces over third-octave bands, with what is required, what was wrong, and
//! underneath, on the same bands, the difference and the paths.

use super::axis::{BandAxis, LevelAxis};
use super::dominance::DominanceStrip;
use super::drawing::{Drawing, Words, picture_id};
use super::format::{Format, Metrics};
use super::labels::spread;
use super::svg::{Anchor, Svg, escape, n, polygon, polyline};
use super::table::DataTable;
use super::trace::{Bound, Point, Role, Trace};
use super::words::{clip, clip_to, decibels, nominal, number, signed, width, wrap};
use wythe_bands::{Band, LevelDifference, Spectrum};

/// Values outside this are no levels or level differences of anything built, and would squeeze
/// the rest of the chart to a line; they are left out and the chart says so.
const DRAWABLE_DB: std::ops::RangeInclusive<f64> = -200.0..=300.0;

/// More positions than this are drawn as the band from lowest to highest only.
const MOST_POSITION_LINES: usize = 12;

/// What the vertical axis carries.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Quantity {
    /// In words: "Standardized level difference".
    pub words: String,
    /// Symbol without its index: "D". May be empty.
    pub symbol: String,
    /// Index set below the line: "nT". May be empty.
    pub index: String,
}

impl Quantity {
    /// A quantity in words, with symbol and index.
    pub fn new(
        words: impl Into<String>,
        symbol: impl Into<String>,
        index: impl Into<String>,
    ) -> Quantity {
        Quantity { words: words.into(), symbol: symbol.into(), index: index.into() }
    }

    fn markup(&self, size: f64) -> String {
        let mut out = escape(&self.words);
        if !self.symbol.is_empty() {
            out.push(' ');
            out.push_str(&escape(&clip_to(&self.symbol, 12)));
            if !self.index.is_empty() {
                // The way back up is a tspan of its own, because dy is relative.
                out.push_str(&format!(
                    r#"<tspan dy="3" font-size="{}">{}</tspan><tspan dy="-3">, dB</tspan>"#,
                    n((size - 2.0).max(12.0)),
                    escape(&clip_to(&self.index, 12))
                ));
                return out;
            }
        }
        out.push_str(", dB");
        out
    }
}

/// On which side of the required curve a measured value is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WrongSide {
    /// Insulation: too little.
    Below,
    /// Levels: too much.
    Above,
}

/// A panel under the chart: measured minus predicted about zero.
#[derive(Clone, Debug, PartialEq)]
pub struct DifferencePanel {
    /// What is subtracted from what: "Measured minus predicted".
    pub label: String,
    /// The difference per band.
    pub values: Spectrum<LevelDifference>,
    /// Half-width of the uncertainty about zero, where one is known.
    pub uncertainty: Spectrum<LevelDifference>,
    /// The side that is bad news, hatched.
    pub wrong: WrongSide,
}

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

/// What stands to the right of the plot, or below it on a telephone.
struct EndLabel {
    x: f64,
    y: f64,
    text: String,
    class: &'static str,
    /// Second line in the warning colour.
    extra: Option<String>,
    sample: Sample,
}

#[derive(Clone, Copy)]
enum Sample {
    Line(&'static str, f64, &'static str),
    Area,
}

/// A sum of deviations on the wrong side of the required curve.
struct Shortfall {
    /// Band, required value, reached value.
    cells: Vec<(Band, f64, f64)>,
    tenths: i64,
    undecided: usize,
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
        let mut ends = Vec::new();
        svg.open(&format!(r#"clip-path="url(#{prefix}-plot)""#));
        if self.guide {
            draw_guide(&mut svg, &axis, &levels);
        }
        let positions: Vec<&Trace> = traces.iter().filter(|t| t.role == Role::Position).collect();
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
            draw_trace(&mut svg, &axis, &levels, t, look);
        }
        svg.close();

        let mut named = false;
        for t in &traces {
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

        let mut right = axis.right() + 8.0;
        let mut lowest = bottom;
        if !m.labels_below {
            let (edge, low) = draw_end_labels(&mut svg, &ends, axis.right(), top - 8.0, &m);
            right = right.max(edge);
            lowest = lowest.max(low);
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

fn bands_word(count: usize) -> String {
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

impl Shortfall {
    fn sentence(&self, side: Option<WrongSide>, sum: bool) -> Option<String> {
        let gap = |c: &(Band, f64, f64)| (c.1 - c.2).abs();
        let worst = self.cells.iter().max_by(|a, b| gap(a).total_cmp(&gap(b)))?;
        let word = if side == Some(WrongSide::Above) { "over" } else { "short" };
        if !sum {
            let most = decibels(gap(worst));
            return Some(format!("{word} by up to {most}, at {}", nominal(worst.0)));
        }
        Some(format!("{word} by {} in all", decibels(self.tenths as f64 / 10.0)))
    }
}

/// Deviations of the measured trace (or, without one, the predicted) on the wrong side of the
/// required one, added in whole tenths of a decibel as rating procedures do.
fn shortfall(traces: &[Trace], side: WrongSide) -> Option<Shortfall> {
    let required = traces.iter().find(|t| t.role == Role::Required)?;
    let reached = traces
        .iter()
        .find(|t| t.role == Role::Measured)
        .or_else(|| traces.iter().find(|t| t.role == Role::Predicted))?;
    let mut out = Shortfall { cells: Vec::new(), tenths: 0, undecided: 0 };
    for (band, p) in reached.points.iter() {
        let Some(need) = required.points.get(band) else { continue };
        let gap = match side {
            WrongSide::Below => need.db - p.db,
            WrongSide::Above => p.db - need.db,
        };
        let tenths = (gap * 10.0).round() as i64;
        if tenths <= 0 {
            continue;
        }
        // A lower bound below the requirement may hide a value above it.
        let open = match side {
            WrongSide::Below => p.bound == Bound::AtLeast,
            WrongSide::Above => p.bound == Bound::AtMost,
        };
        if open {
            out.undecided += 1;
        } else {
            out.cells.push((band, need.db, p.db));
            out.tenths += tenths;
        }
    }
    Some(out)
}

/// Context first, the measured line last, so that nothing covers it.
fn order_of_drawing(traces: &[Trace], with_positions: bool) -> Vec<&Trace> {
    let rank = |t: &Trace| match t.role {
        Role::Background => 0,
        Role::Position => 1,
        Role::Path => 2,
        Role::Required => 3,
        Role::Predicted => 4,
        Role::Measured => 5,
    };
    let mut out: Vec<&Trace> = traces
        .iter()
        .filter(|t| t.role != Role::Background && (with_positions || t.role != Role::Position))
        .collect();
    out.sort_by_key(|t| (t.look_here, rank(t)));
    out
}

/// Runs of neighbouring bands that have a value: a missing band ends a run.
pub(crate) fn runs<T: Copy>(axis: &BandAxis, values: &Spectrum<T>) -> Vec<Vec<(Band, T)>> {
    let mut out: Vec<Vec<(Band, T)>> = Vec::new();
    let mut open = false;
    for band in axis.bands() {
        match values.get(band) {
            Some(v) => {
                if !open {
                    out.push(Vec::new());
                }
                if let Some(run) = out.last_mut() {
                    run.push((band, v));
                }
                open = true;
            }
            None => open = false,
        }
    }
    out
}

fn style_of(t: &Trace, look: bool) -> (String, f64, &'static str) {
    let class = format!("l-{}", if look { "look-here" } else { t.role.colour() });
    let (width, dash) = match t.role {
        Role::Measured => (2.0, ""),
        Role::Predicted => (2.0, r#"stroke-dasharray="6 3""#),
        Role::Required => (1.5, ""),
        Role::Path => (1.25, ""),
        Role::Position | Role::Background => (1.0, ""),
    };
    (class, if look { width + 1.0 } else { width }, dash)
}

fn draw_trace(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis, t: &Trace, look: bool) {
    let (class, line, dash) = style_of(t, look);
    let fill = if look { "look-here" } else { t.role.colour() };
    svg.open(&format!(r#"data-role="{}""#, t.role.word()));
    // The part outside the method's range is a path of its own, so that it can be lighter; the
    // step that leads into it is lighter too.
    for faint in [false, true] {
        let mut d = String::new();
        for run in runs(axis, &t.points) {
            if t.role == Role::Required {
                d.push_str(&steps(axis, levels, &run, faint));
            } else {
                for pair in run.windows(2) {
                    if (pair[0].1.outside || pair[1].1.outside) == faint {
                        let ends = pair
                            .iter()
                            .map(|(b, p)| (axis.x(*b), levels.y(p.db)))
                            .collect::<Vec<_>>();
                        let piece = polyline(&ends);
                        // Joined to the piece before where it ends in the same point, so that
                        // dashes run on and corners are mitred.
                        let joint = format!("{} {}", n(ends[0].0), n(ends[0].1));
                        match piece.split_once('L') {
                            Some((_, rest)) if d.ends_with(&joint) => {
                                d.push('L');
                                d.push_str(rest);
                            }
                            _ => d.push_str(&piece),
                        }
                    }
                }
            }
        }
        let class = if faint { format!("{class} faint") } else { class.clone() };
        let extra = format!(
            r#"stroke-width="{}" stroke-linejoin="round"{}{dash}"#,
            n(line),
            if dash.is_empty() { "" } else { " " }
        );
        svg.path(&d, &class, &extra);
    }
    if t.role == Role::Required || t.role == Role::Position {
        lone_marks(svg, axis, levels, t, fill);
    } else {
        let radius = (axis.step * 0.14).clamp(1.8, 3.0);
        for (band, p) in t.points.iter() {
            let at = (axis.x(band), levels.y(p.db));
            let faint = if p.outside { " faint" } else { "" };
            let stroke = r#"stroke-width="1.5""#;
            match p.bound {
                Bound::Value if t.role == Role::Measured || look => {
                    svg.circle(at, radius, &format!("f-{fill}{faint}"), "");
                }
                Bound::Value if t.role == Role::Predicted => {
                    svg.open(&format!(r#"class="open{faint}""#));
                    svg.circle(at, radius, &format!("l-{fill} open"), stroke);
                    svg.close();
                }
                Bound::Value => svg.circle(at, radius * 0.7, &format!("f-{fill}{faint}"), ""),
                Bound::AtLeast | Bound::AtMost => {
                    let s = (radius * 1.7).max(3.6);
                    let up = if p.bound == Bound::AtLeast { -1.0 } else { 1.0 };
                    let d = polygon(&[
                        (at.0, at.1 + up * s * 1.1),
                        (at.0 + s, at.1 - up * s * 0.7),
                        (at.0 - s, at.1 - up * s * 0.7),
                    ]);
                    svg.path(&d, &format!("l-{fill} open{faint}"), stroke);
                }
            }
        }
    }
    svg.close();
}

/// A step across each band of a run; the riser between two bands belongs to the clear part.
fn steps(axis: &BandAxis, levels: &LevelAxis, run: &[(Band, Point)], faint: bool) -> String {
    let mut d = String::new();
    let mut joined = false;
    for (band, p) in run {
        if p.outside != faint {
            joined = false;
            continue;
        }
        let (x, y) = (axis.left(*band), levels.y(p.db));
        d.push_str(&format!("{}{} {}", if joined { "L" } else { "M" }, n(x), n(y)));
        d.push_str(&format!("L{} {}", n(x + axis.step), n(y)));
        joined = true;
    }
    d
}

/// A value without neighbours would leave no line at all.
fn lone_marks(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis, t: &Trace, fill: &str) {
    if t.role == Role::Required {
        return;
    }
    for run in runs(axis, &t.points).iter().filter(|r| r.len() == 1) {
        for (band, p) in run {
            let at = (axis.x(*band), levels.y(p.db));
            svg.circle(at, 1.8, &format!("f-{fill}"), "");
        }
    }
}

fn draw_background(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis, t: &Trace, pattern: &str) {
    for run in runs(axis, &t.points) {
        let mut edge = Vec::new();
        for (band, p) in &run {
            let y = levels.y(p.db).clamp(levels.top, levels.bottom());
            edge.push((axis.left(*band), y));
            edge.push((axis.left(*band) + axis.step, y));
        }
        if let (Some(a), Some(b)) = (edge.first().copied(), edge.last().copied()) {
            edge.push((b.0, levels.bottom()));
            edge.push((a.0, levels.bottom()));
        }
        svg.path(
            &polygon(&edge),
            "background",
            &format!(r#"data-role="background" fill="url(#{pattern})""#),
        );
    }
}

fn draw_band_between(
    svg: &mut Svg,
    axis: &BandAxis,
    levels: &LevelAxis,
    between: &Spectrum<(f64, f64)>,
    class: &str,
) {
    for run in runs(axis, between) {
        // Half a column beyond both ends, so that a lone band is seen too.
        let half = axis.step / 2.0;
        let mut upper: Vec<(f64, f64)> =
            run.iter().map(|(b, (_, high))| (axis.x(*b), levels.y(*high))).collect();
        let mut lower: Vec<(f64, f64)> =
            run.iter().map(|(b, (low, _))| (axis.x(*b), levels.y(*low))).collect();
        for side in [&mut upper, &mut lower] {
            if let (Some(a), Some(b)) = (side.first().copied(), side.last().copied()) {
                side.insert(0, (a.0 - half, a.1));
                side.push((b.0 + half, b.1));
            }
        }
        lower.reverse();
        upper.extend(lower);
        svg.path(&polygon(&upper), class, "");
    }
}

fn draw_uncertainty(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis, t: &Trace) {
    let between: Spectrum<(f64, f64)> =
        t.points.filter_map(|_, p| p.uncertainty.map(|u| (p.db - u, p.db + u)));
    let class = format!("f-{} pale", t.role.colour());
    draw_band_between(svg, axis, levels, &between, &class);
}

fn draw_position_band(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis, all: &[&Trace]) {
    if all.len() < 2 {
        return;
    }
    let between: Spectrum<(f64, f64)> = axis
        .bands()
        .filter_map(|band| {
            let values = all.iter().filter_map(|t| t.points.get(band)).map(|p| p.db);
            let (low, high) =
                values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            (low <= high).then_some((band, (low, high)))
        })
        .collect();
    draw_band_between(svg, axis, levels, &between, "f-context pale");
}

fn draw_guide(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis) {
    // 6 dB per octave is 20 dB per decade, 2 dB per third on base-ten bands.
    let count = axis.count() as f64;
    let low = levels.low + (levels.high - levels.low) * 0.1;
    let from = (axis.x0, levels.y(low));
    let to = (axis.right(), levels.y(low + 2.0 * count));
    svg.line_with(from, to, "l-context", 1.0, r#"stroke-dasharray="1 4""#);
    svg.text((axis.x0 + 6.0, from.1 - 8.0), 12.0, Anchor::Start, "second", "6 dB per octave");
}

fn end_of(t: &Trace, axis: &BandAxis, levels: &LevelAxis, look: bool) -> Option<EndLabel> {
    let (band, p) = t.points.iter().next_back()?;
    let (colour, line, dash) = style_of(t, look);
    let colour = match colour.as_str() {
        "l-look-here" => "l-look-here",
        "l-measured" => "l-measured",
        "l-predicted" => "l-predicted",
        "l-required" => "l-required",
        _ => "l-context",
    };
    let x = match t.role {
        Role::Required | Role::Background => axis.left(band) + axis.step,
        _ => axis.x(band) + 4.0,
    };
    Some(EndLabel {
        x,
        y: levels.y(p.db).clamp(levels.top, levels.bottom()),
        text: clip(&t.name()),
        class: if look { "look-here" } else { t.role.text_class() },
        extra: None,
        sample: match t.role {
            Role::Background => Sample::Area,
            _ => Sample::Line(colour, line, dash),
        },
    })
}

/// Labels right of the plot; gives the right edge and the lowest edge they reach.
fn draw_end_labels(
    svg: &mut Svg,
    ends: &[EndLabel],
    edge: f64,
    least: f64,
    m: &Metrics,
) -> (f64, f64) {
    let x = edge + 22.0;
    let room = (m.widest - x).clamp(90.0, 220.0);
    let height = m.text * 1.25;
    let blocks: Vec<(Vec<String>, Vec<String>)> = ends
        .iter()
        .map(|e| {
            let extra = e.extra.as_ref().map(|x| wrap(x, m.small, room)).unwrap_or_default();
            (wrap(&e.text, m.text, room), extra)
        })
        .collect();
    let wanted: Vec<(f64, f64)> = ends
        .iter()
        .zip(&blocks)
        .map(|(e, (a, b))| (e.y, (a.len() + b.len()) as f64 * height + 2.0))
        .collect();
    let centres = spread(&wanted, least);
    let (mut right, mut low) = (x, 0.0f64);
    for ((end, (lines, extra)), (centre, (_, tall))) in
        ends.iter().zip(&blocks).zip(centres.iter().zip(&wanted))
    {
        // The leader goes to the first line of the block.
        let mut y = centre - tall / 2.0 + m.text * 0.95;
        let aim = y - m.text * 0.35;
        svg.line((end.x, end.y), (edge + 6.0, end.y), "l-hairline", 1.0);
        svg.line((edge + 6.0, end.y), (edge + 18.0, aim), "l-hairline", 1.0);
        for line in lines {
            svg.text((x, y), m.text, Anchor::Start, end.class, line);
            right = right.max(x + width(line, m.text));
            y += height;
        }
        for line in extra {
            svg.text((x, y), m.small, Anchor::Start, "look-here", line);
            right = right.max(x + width(line, m.small));
            y += height;
        }
        low = low.max(centre + tall / 2.0);
    }
    (right, low)
}

/// Labels as a list under the plot, each with a piece of its line.
fn draw_key(svg: &mut Svg, ends: &[EndLabel], top: f64, m: &Metrics) -> f64 {
    let mut y = top;
    for end in ends {
        let middle = y + m.text * 0.65;
        match end.sample {
            Sample::Line(class, width, dash) => {
                svg.line_with((0.0, middle), (24.0, middle), class, width, dash);
            }
            Sample::Area => svg.rect(0.0, middle - 5.0, 24.0, 10.0, "f-context pale", ""),
        }
        for line in wrap(&end.text, m.text, m.widest - 34.0) {
            svg.text((32.0, y + m.text), m.text, Anchor::Start, end.class, &line);
            y += m.text * 1.35;
        }
        if let Some(extra) = &end.extra {
            svg.text((32.0, y + m.text), m.text, Anchor::Start, "look-here", extra);
            y += m.text * 1.35;
        }
    }
    y
}

fn draw_difference(
    svg: &mut Svg,
    panel: &DifferencePanel,
    axis: &BandAxis,
    top: f64,
    m: &Metrics,
    prefix: &str,
    notes: &mut Vec<String>,
) -> f64 {
    let values: Spectrum<f64> = panel
        .values
        .filter_map(|b, v| (axis.holds(b) && DRAWABLE_DB.contains(&v.0)).then_some(v.0));
    let wild = panel.values.iter().filter(|(b, _)| axis.holds(*b)).count() - values.len();
    if wild > 0 {
        notes.push(format!("Difference left out in {}: not a number.", bands_word(wild)));
    }
    let spread: Spectrum<f64> = panel.uncertainty.filter_map(|b, u| {
        (axis.holds(b) && u.0.is_finite() && u.0.abs() < 200.0).then_some(u.0.abs())
    });
    let mut y = top + m.text;
    svg.text((0.0, y), m.text, Anchor::Start, "second", &format!("{}, dB", panel.label));
    y += 14.0;
    let reach =
        values.iter().map(|(_, v)| v).chain(spread.iter().flat_map(|(_, u)| [u, -u])).chain([0.0]);
    let scaled = Metrics { ten_db: m.difference_ten_db, ..*m };
    let levels = LevelAxis::around(reach, 20.0, y, &scaled);
    let bottom = levels.bottom();
    levels.draw_grid(svg, axis.x0, axis.right(), m, true);
    let between = spread.map(|_, u| (-u, u));
    draw_band_between(svg, axis, &levels, &between, "f-context pale");
    let zero = levels.y(0.0);
    for (band, v) in values.iter() {
        let wrong = match panel.wrong {
            WrongSide::Below => v < 0.0,
            WrongSide::Above => v > 0.0,
        };
        let y = levels.y(v);
        let (x, w) = (axis.left(band) + axis.step * 0.2, axis.step * 0.6);
        if wrong {
            let fill = format!(r#"fill="url(#{prefix}-wrong)" stroke-width="1""#);
            svg.rect(x, y.min(zero), w, (y - zero).abs(), "outlined", &fill);
            svg.path(
                &polygon(&[(x, y), (x + w, y), (x + w, zero), (x, zero)]),
                "l-look-here",
                r#"stroke-width="1""#,
            );
        } else {
            svg.rect(x, y.min(zero), w, (y - zero).abs(), "f-context", "");
        }
    }
    svg.line((axis.x0, zero), (axis.right(), zero), "l-ink", 1.0);
    let side = match panel.wrong {
        WrongSide::Below => "hatched: less than predicted",
        WrongSide::Above => "hatched: more than predicted",
    };
    let mut words = side.to_owned();
    if !spread.is_empty() {
        words.push_str("; pale: uncertainty");
    }
    svg.text((axis.x0, bottom + m.small + 6.0), m.small, Anchor::Start, "second", &words);
    bottom + m.small + 12.0
}
