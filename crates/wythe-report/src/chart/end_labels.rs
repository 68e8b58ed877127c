//! What a line is called: at its end, or in a list below on a telephone.

use super::axis::{BandAxis, LevelAxis};
use super::format::Metrics;
use super::labels::spread;
use super::svg::{Anchor, Svg};
use super::trace::{Role, Trace};
use super::trace_marks::{Form, style_of};
use super::words::{clip, width, wrap};

/// What stands to the right of the plot, or below it on a telephone.
pub(crate) struct EndLabel {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) text: String,
    pub(crate) class: &'static str,
    /// Second line in the warning colour.
    pub(crate) extra: Option<String>,
    pub(crate) sample: Sample,
    /// Mark before the name, where several lines share a role.
    pub(crate) form: Option<Form>,
}

/// Radius of a mark beside a name.
const MARK: f64 = 3.0;

impl EndLabel {
    /// Width the mark takes before the name.
    fn indent(&self) -> f64 {
        if self.form.is_some() { 4.0 * MARK } else { 0.0 }
    }

    fn draw_mark(&self, svg: &mut Svg, at: (f64, f64)) {
        if let (Some(form), Sample::Line(class, ..)) = (self.form, self.sample) {
            // Open in a line's colour for what is predicted, full for what is measured.
            let (class, extra) = match class {
                "l-measured" => ("f-measured".to_owned(), ""),
                "l-look-here" => ("f-look-here".to_owned(), ""),
                line => (format!("{line} open"), r#"stroke-width="1.5""#),
            };
            form.draw(svg, at, MARK, &class, extra);
        }
    }
}

#[derive(Clone, Copy)]
pub(crate) enum Sample {
    Line(&'static str, f64, &'static str),
    Area,
}

pub(crate) fn end_of(
    t: &Trace,
    axis: &BandAxis,
    levels: &LevelAxis,
    look: bool,
) -> Option<EndLabel> {
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
        form: None,
        sample: match t.role {
            Role::Background => Sample::Area,
            _ => Sample::Line(colour, line, dash),
        },
    })
}

/// Labels right of the plot; gives the right edge and the lowest edge they reach.
pub(crate) fn draw_end_labels(
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
            (wrap(&e.text, m.text, room - e.indent()), extra)
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
        end.draw_mark(svg, (x + MARK + 2.0, aim));
        for line in lines {
            let x = x + end.indent();
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
pub(crate) fn draw_key(svg: &mut Svg, ends: &[EndLabel], top: f64, m: &Metrics) -> f64 {
    let mut y = top;
    for end in ends {
        let middle = y + m.text * 0.65;
        match end.sample {
            Sample::Line(class, width, dash) => {
                svg.line_with((0.0, middle), (24.0, middle), class, width, dash);
                end.draw_mark(svg, (12.0, middle));
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
