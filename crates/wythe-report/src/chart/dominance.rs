//! Which path carries each band: a strip of cells aligned to the bands.

use super::axis::BandAxis;
use super::drawing::{Drawing, Words};
use super::format::{Format, Metrics};
use super::svg::{Anchor, Svg};
use super::table::DataTable;
use super::words::{clip, nominal, percent, width, wrap};
use wythe_bands::{Band, Spectrum};

/// One path's share of the received energy, band by band.
#[derive(Clone, Debug, PartialEq)]
pub struct PathShare {
    /// Letter, the same on strip, chart and plan.
    pub letter: char,
    /// The path's name.
    pub name: String,
    /// Share per band, 0 to 1.
    pub shares: Spectrum<f64>,
    /// Share of the total over all bands, 0 to 1, where it is known.
    pub total: Option<f64>,
}

/// The shares of all paths at one receiver.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct DominanceStrip {
    /// The paths, in any order; drawn by falling total.
    pub paths: Vec<PathShare>,
}

/// Upper limits of the five steps of ink.
const STEPS: [f64; 5] = [0.10, 0.25, 0.45, 0.70, 1.0];

/// Shares below this leave their cell blank: 20 dB under the whole, they change nothing.
const BLANK: f64 = 0.01;

pub(crate) fn step_of(share: f64) -> Option<usize> {
    if share.is_nan() || share < BLANK {
        return None;
    }
    Some(STEPS.iter().position(|limit| share <= *limit).unwrap_or(4) + 1)
}

impl DominanceStrip {
    /// Paths by falling total; a path without a stated total is placed by its mean share.
    pub fn sorted(&self) -> Vec<&PathShare> {
        let weight = |p: &PathShare| {
            p.total.filter(|t| t.is_finite()).unwrap_or_else(|| {
                let known: Vec<f64> =
                    p.shares.iter().map(|(_, s)| s).filter(|s| s.is_finite()).collect();
                if known.is_empty() { 0.0 } else { known.iter().sum::<f64>() / known.len() as f64 }
            })
        };
        let mut out: Vec<&PathShare> = self.paths.iter().collect();
        out.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
        out
    }

    /// Letter of the path with the largest share of a band, if any share is known there.
    pub fn leader(&self, band: Band) -> Option<char> {
        self.paths
            .iter()
            .filter_map(|p| p.shares.get(band).filter(|s| *s > 0.0).map(|s| (s, p.letter)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, letter)| letter)
    }

    /// The strip by itself, with its own band axis.
    pub fn draw(&self, words: &Words, bands: (Band, Band), format: Format) -> Drawing {
        let (first, last) = (bands.0.min(bands.1), bands.0.max(bands.1));
        let m = format.metrics(last.index() + 1 - first.index());
        let axis = BandAxis { first, last, x0: m.gutter, step: m.band };
        let mut svg = Svg::default();
        let (right, y) = self.draw_into(&mut svg, &axis, 0.0, &m);
        Drawing {
            words: words.clone(),
            description: self.describe(&axis),
            notes: Vec::new(),
            width: right.max(axis.right() + 8.0).ceil(),
            height: (y + 6.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    /// The shares as a table, one row per path.
    pub fn table(&self, caption: impl Into<String>, bands: (Band, Band)) -> DataTable {
        let columns: Vec<Band> = Band::range(bands.0.min(bands.1), bands.0.max(bands.1)).collect();
        let mut head = vec!["Path".to_owned(), "Total".to_owned()];
        head.extend(columns.iter().map(|b| b.nominal().to_owned()));
        let known = |s: Option<f64>| match s {
            Some(s) => percent(s),
            None => "not known".to_owned(),
        };
        let rows = self
            .sorted()
            .into_iter()
            .map(|p| {
                let mut row = vec![format!("{} {}", p.letter, p.name), known(p.total)];
                row.extend(columns.iter().map(|b| known(p.shares.get(*b))));
                row
            })
            .collect();
        DataTable { caption: caption.into(), head, rows }
    }

    fn describe(&self, axis: &BandAxis) -> String {
        let mut out = String::from("Share of the received energy per path and band.");
        let mut since: Option<(Band, char)> = None;
        let mut say = |from: Band, to: Band, letter: char| {
            let name = self.paths.iter().find(|p| p.letter == letter).map_or("", |p| &p.name);
            out.push_str(&format!(
                " {letter} {name} leads from {} to {}.",
                nominal(from),
                nominal(to)
            ));
        };
        let mut before = axis.first;
        for band in axis.bands() {
            let now = self.leader(band);
            if let Some((from, letter)) = since
                && now != Some(letter)
            {
                say(from, before, letter);
                since = None;
            }
            if since.is_none() {
                since = now.map(|letter| (band, letter));
            }
            before = band;
        }
        if let Some((from, letter)) = since {
            say(from, before, letter);
        }
        out
    }

    /// Draws the rows under `top`; gives the right and the lower edge.
    pub(crate) fn draw_into(
        &self,
        svg: &mut Svg,
        axis: &BandAxis,
        top: f64,
        m: &Metrics,
    ) -> (f64, f64) {
        let mut y = top + m.text;
        svg.text((0.0, y), m.text, Anchor::Start, "second", "Share of what arrives, by path");
        y += 10.0;
        let cell: f64 = 22.0;
        let x = axis.right() + 12.0;
        let room = (m.widest - x).min(230.0);
        // A column too narrow for words sends the names into a list below.
        let listed = m.labels_below || room < 130.0;
        let mut right = axis.right() + 8.0;
        let mut below = Vec::new();
        for path in self.sorted() {
            let total = path.total.map(|t| format!(", {}", percent(t))).unwrap_or_default();
            let label = format!("{}{total}", clip(&path.name));
            let lines = if listed {
                below.push((path.letter, label));
                Vec::new()
            } else {
                wrap(&label, m.text, room)
            };
            let height = cell.max(lines.len() as f64 * m.text * 1.2);
            let spare = (height - cell) / 2.0;
            y += spare;
            let at = (axis.x0 - 8.0, y + cell / 2.0 + m.text * 0.35);
            svg.text(at, m.text, Anchor::End, "strong", &path.letter.to_string());
            // In narrow columns a letter in each cell runs together; then every second has one.
            let every = if axis.step < 11.5 { 2 } else { 1 };
            let mut led = 0;
            for band in axis.bands() {
                let Some(share) = path.shares.get(band) else { continue };
                let (left, w) = (axis.left(band), axis.step);
                let step = step_of(share);
                let class = step.map_or_else(|| "f-ground".to_owned(), |s| format!("r-{s}"));
                svg.rect(left + 0.5, y + 0.5, w - 1.0, cell - 1.0, &class, "");
                if self.leader(band) == Some(path.letter)
                    && let Some(s) = step
                {
                    led += 1;
                    if (led - 1) % every != 0 {
                        continue;
                    }
                    let at = (axis.x(band), y + cell / 2.0 + 4.3);
                    let class = format!("strong on-{s}");
                    svg.text(at, 12.0, Anchor::Middle, &class, &path.letter.to_string());
                }
            }
            svg.line((axis.x0, y + cell), (axis.right(), y + cell), "l-hairline", 1.0);
            let above = (lines.len().max(1) - 1) as f64 / 2.0;
            let mut line_y = y + cell / 2.0 + m.text * (0.35 - 1.2 * above);
            for line in &lines {
                svg.text((x, line_y), m.text, Anchor::Start, "", line);
                right = right.max(x + width(line, m.text));
                line_y += m.text * 1.2;
            }
            y += cell + spare + 2.0;
        }
        if self.paths.is_empty() {
            svg.text((axis.x0, y + 14.0), m.text, Anchor::Start, "second", "no path is known");
            y += 20.0;
        }
        axis.draw_ticks(svg, y + 2.0, m);
        y += BandAxis::height(m) + 6.0;
        y = draw_ramp(svg, axis.x0, y, m);
        for (letter, label) in below {
            for (i, line) in wrap(&label, m.text, m.widest - 24.0).iter().enumerate() {
                if i == 0 {
                    let letter = letter.to_string();
                    svg.text((0.0, y + m.text), m.text, Anchor::Start, "strong", &letter);
                }
                svg.text((20.0, y + m.text), m.text, Anchor::Start, "", line);
                y += m.text * 1.35;
            }
        }
        (right, y)
    }
}

/// What the five steps of ink mean.
fn draw_ramp(svg: &mut Svg, x0: f64, y: f64, m: &Metrics) -> f64 {
    let mut x = x0;
    for (i, limit) in STEPS.iter().enumerate() {
        let words = if i == 0 { "to 10".to_owned() } else { format!("{:.0}", limit * 100.0) };
        svg.rect(x, y, 14.0, 12.0, &format!("r-{}", i + 1), "");
        svg.text((x + 18.0, y + 10.5), m.small, Anchor::Start, "second", &words);
        x += 24.0 + width(&words, m.small);
    }
    svg.text((x - 2.0, y + 10.5), m.small, Anchor::Start, "second", "%");
    y + 20.0
}
