//! The panel under a spectrum: a difference on its own axis about zero.

use super::axis::{BandAxis, LevelAxis};
use super::band_chart::{DRAWABLE_DB, bands_word};
use super::format::Metrics;
use super::shortfall::WrongSide;
use super::svg::{Anchor, Svg, polygon};
use super::trace_marks::draw_band_between;
use super::words::clip;
use wythe_bands::{LevelDifference, Spectrum};

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
    /// What is subtracted, in a word or two: "predicted".
    pub against: String,
}

pub(crate) fn draw_difference(
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
        WrongSide::Below => "less",
        WrongSide::Above => "more",
    };
    let mut words = format!("hatched: {side} than {}", clip(&panel.against));
    if !spread.is_empty() {
        words.push_str("; pale: uncertainty");
    }
    svg.text((axis.x0, bottom + m.small + 6.0), m.small, Anchor::Start, "second", &words);
    bottom + m.small + 12.0
}
