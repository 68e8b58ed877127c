//! How much of what arrives comes by which path, as bars.

use super::drawing::{Drawing, Words, picture_id};
use super::format::Format;
use super::svg::{Anchor, Svg};
use super::table::DataTable;
use super::words::{clip, percent, width, wrap};

/// One path and its share of the whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// Letter of the path, the same on strip, chart and plan.
    pub letter: Option<char>,
    /// The path's name.
    pub name: String,
    /// Share of the received energy, 0 to 1; none when it is not known.
    pub share: Option<f64>,
    /// The one thing to look at: hatched and outlined in the warning colour.
    pub look_here: bool,
}

/// Bars of shares, longest first.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ShareBars {
    /// Title, caption and id.
    pub words: Words,
    /// The paths, in any order.
    pub shares: Vec<Share>,
}

impl ShareBars {
    fn sorted(&self) -> Vec<&Share> {
        let mut out: Vec<&Share> = self.shares.iter().collect();
        let key = |s: &Share| s.share.filter(|v| v.is_finite()).unwrap_or(-1.0);
        out.sort_by(|a, b| key(b).total_cmp(&key(a)));
        out
    }

    /// Draws the bars.
    pub fn draw(&self, format: Format) -> Drawing {
        let m = format.metrics(21);
        let full = if m.labels_below { 328.0 } else { 560.0 };
        let bar = full - 76.0;
        let prefix = picture_id(&self.words, format);
        let mut svg = Svg::default();
        svg.raw("<defs>");
        svg.hatch(&format!("{prefix}-look"), "l-look-here", 6.0, 0.8, 45.0);
        svg.raw("</defs>");
        let mut y = 0.0;
        let mut pointed = false;
        let mut said = Vec::new();
        for share in self.sorted() {
            let name = match share.letter {
                Some(letter) => format!("{letter} {}", clip(&share.name)),
                None => clip(&share.name),
            };
            for line in wrap(&name, m.text, full - 8.0) {
                y += m.text * 1.25;
                svg.text((0.0, y), m.text, Anchor::Start, "", &line);
            }
            y += 6.0;
            let known = share.share.filter(|s| s.is_finite());
            let words = known.map_or_else(|| "not known".to_owned(), percent);
            let length = known.map_or(0.0, |s| s.clamp(0.0, 1.0) * bar);
            svg.line((0.0, y + 12.0), (bar, y + 12.0), "l-hairline", 1.0);
            if share.look_here && !pointed {
                pointed = true;
                let fill = format!(r#"fill="url(#{prefix}-look)""#);
                svg.rect(0.0, y, length, 12.0, "", &fill);
                svg.rect(0.5, y + 0.5, length - 1.0, 11.0, "l-look-here", r#"stroke-width="1.5""#);
            } else {
                svg.rect(0.0, y, length, 12.0, "f-ink", "");
            }
            let end = (length + 8.0).min(full - width(&words, m.text));
            svg.text((end, y + 11.0), m.text, Anchor::Start, "strong", &words);
            said.push(format!("{name}: {words}"));
            y += 20.0;
        }
        if self.shares.is_empty() {
            y += m.text * 1.25;
            svg.text((0.0, y), m.text, Anchor::Start, "second", "no path is known");
        }
        Drawing {
            words: self.words.clone(),
            description: format!("Share of the received energy by path. {}.", said.join("; ")),
            notes: Vec::new(),
            width: full,
            height: (y + 4.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    /// The shares as a table.
    pub fn table(&self) -> DataTable {
        DataTable {
            caption: format!("{} — figures", self.words.title),
            head: vec!["Path".to_owned(), "Share".to_owned()],
            rows: self
                .sorted()
                .into_iter()
                .map(|s| {
                    let name = match s.letter {
                        Some(letter) => format!("{letter} {}", s.name),
                        None => s.name.clone(),
                    };
                    vec![name, s.share.map_or_else(|| "not known".to_owned(), percent)]
                })
                .collect(),
        }
    }
}
