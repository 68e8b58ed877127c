//! The marks of a trace: lines with gaps, steps, dots, triangles, hatch and pale bands.

use super::axis::{BandAxis, LevelAxis};
use super::svg::{Anchor, Svg, n, polygon, polyline};
use super::trace::{Bound, Point, Role, Trace};
use wythe_bands::{Band, Spectrum};

/// Context first, the measured line last, so that nothing covers it.
pub(crate) fn order_of_drawing(traces: &[Trace], with_positions: bool) -> Vec<&Trace> {
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

pub(crate) fn style_of(t: &Trace, look: bool) -> (String, f64, &'static str) {
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

/// Form of the marks, so that several lines of one role are told apart without colour.
/// Triangles are bounds and no form of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Round,
    Square,
    Diamond,
}

impl Form {
    /// The form of each trace: by its turn among those of its role.
    pub(crate) fn of_each(traces: &[Trace]) -> Vec<Form> {
        const TURN: [Form; 3] = [Form::Round, Form::Square, Form::Diamond];
        let of = |i: usize| {
            let role = traces[i].role;
            if !matches!(role, Role::Predicted | Role::Measured) {
                return Form::Round;
            }
            TURN[traces[..i].iter().filter(|t| t.role == role).count() % TURN.len()]
        };
        (0..traces.len()).map(of).collect()
    }

    /// Draws one mark: filled in the role's colour, or open.
    pub(crate) fn draw(self, svg: &mut Svg, at: (f64, f64), radius: f64, class: &str, extra: &str) {
        let (x, y) = at;
        // Of about the same area as the dot.
        let (s, d) = (radius * 0.9, radius * 1.3);
        match self {
            Form::Round => svg.circle(at, radius, class, extra),
            Form::Square => {
                let corners = [(x - s, y - s), (x + s, y - s), (x + s, y + s), (x - s, y + s)];
                svg.path(&polygon(&corners), class, extra);
            }
            Form::Diamond => {
                let corners = [(x, y - d), (x + d, y), (x, y + d), (x - d, y)];
                svg.path(&polygon(&corners), class, extra);
            }
        }
    }
}

pub(crate) fn draw_trace(
    svg: &mut Svg,
    axis: &BandAxis,
    levels: &LevelAxis,
    t: &Trace,
    form: Form,
    look: bool,
) {
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
                    form.draw(svg, at, radius, &format!("f-{fill}{faint}"), "");
                }
                Bound::Value if t.role == Role::Predicted => {
                    svg.open(&format!(r#"class="open{faint}""#));
                    form.draw(svg, at, radius, &format!("l-{fill} open"), stroke);
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
pub(crate) fn steps(
    axis: &BandAxis,
    levels: &LevelAxis,
    run: &[(Band, Point)],
    faint: bool,
) -> String {
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
pub(crate) fn lone_marks(
    svg: &mut Svg,
    axis: &BandAxis,
    levels: &LevelAxis,
    t: &Trace,
    fill: &str,
) {
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

pub(crate) fn draw_background(
    svg: &mut Svg,
    axis: &BandAxis,
    levels: &LevelAxis,
    t: &Trace,
    pattern: &str,
) {
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

pub(crate) fn draw_band_between(
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

pub(crate) fn draw_uncertainty(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis, t: &Trace) {
    let between: Spectrum<(f64, f64)> =
        t.points.filter_map(|_, p| p.uncertainty.map(|u| (p.db - u, p.db + u)));
    let class = format!("f-{} pale", t.role.colour());
    draw_band_between(svg, axis, levels, &between, &class);
}

pub(crate) fn draw_position_band(
    svg: &mut Svg,
    axis: &BandAxis,
    levels: &LevelAxis,
    all: &[&Trace],
) {
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

pub(crate) fn draw_guide(svg: &mut Svg, axis: &BandAxis, levels: &LevelAxis) {
    // 6 dB per octave is 20 dB per decade, 2 dB per third on base-ten bands.
    let count = axis.count() as f64;
    let low = levels.low + (levels.high - levels.low) * 0.1;
    let from = (axis.x0, levels.y(low));
    let to = (axis.right(), levels.y(low + 2.0 * count));
    svg.line_with(from, to, "l-context", 1.0, r#"stroke-dasharray="1 4""#);
    svg.text((axis.x0 + 6.0, from.1 - 8.0), 12.0, Anchor::Start, "second", "6 dB per octave");
}
