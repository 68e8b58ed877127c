//! A finished picture with its words.

use super::svg::{Anchor, Svg, escape, id, n};
use super::words::{clip_to, wrap};
use super::{Format, STYLE};
use crate::design::{Theme, resolved};

/// Longest caption drawn into a file of its own; a page sets it whole.
const LONGEST_CAPTION: usize = 2000;

/// What a chart says in words, whatever is drawn: kept apart so that a picture never travels
/// without them.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Words {
    /// Distinguishes the picture within its page; any text, it is reduced to letters and dashes.
    pub id: String,
    /// The result as a short sentence; becomes the `<title>` and the `aria-label`.
    pub title: String,
    /// What, where and when, by which method. Stands under the picture.
    pub caption: String,
}

impl Words {
    /// The three words of a chart.
    pub fn new(
        id: impl Into<String>,
        title: impl Into<String>,
        caption: impl Into<String>,
    ) -> Words {
        Words { id: id.into(), title: title.into(), caption: caption.into() }
    }
}

/// A picture ready to be put into a page or a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    pub(crate) words: Words,
    pub(crate) description: String,
    pub(crate) notes: Vec<String>,
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) body: String,
    pub(crate) format: Format,
}

impl Drawing {
    /// The result as a short sentence.
    pub fn title(&self) -> &str {
        &self.words.title
    }

    /// What, where and when, by which method.
    pub fn caption(&self) -> &str {
        &self.words.caption
    }

    /// The picture in words, for those who do not see it.
    pub fn description(&self) -> &str {
        &self.description
    }

    /// What could not be drawn and why, as sentences that belong under the caption.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Width and height in CSS pixels.
    pub fn size(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// Width and height of [`Drawing::standalone`] in CSS pixels: with its title and caption.
    pub fn standalone_size(&self) -> (f64, f64) {
        (self.width, self.height + 20.0 + 16.0 * self.caption_lines().len() as f64)
    }

    /// Lines of title, caption and notes under a picture in a file of its own.
    fn caption_lines(&self) -> Vec<String> {
        // The result goes with the picture: whoever shows a bitmap shows no title element.
        [&self.words.title, &self.words.caption]
            .into_iter()
            .chain(&self.notes)
            .filter(|s| !s.trim().is_empty())
            .flat_map(|s| wrap(&clip_to(s, LONGEST_CAPTION), 12.0, self.width - 8.0))
            .collect()
    }

    /// The `svg` element for a page that carries [`STYLE`] and the custom properties of
    /// [`crate::design::custom_properties`].
    pub fn inline(&self) -> String {
        self.wrapped("", self.height, "")
    }

    /// A file of its own: carries its colours (light, and dark where the system asks), its ground
    /// its title and its caption.
    pub fn standalone(&self) -> String {
        let size = 12.0;
        let mut extra = Svg::default();
        let mut y = self.height + 8.0;
        for line in self.caption_lines() {
            y += 16.0;
            extra.text((4.0, y), size, Anchor::Start, "second", &line);
        }
        let height = y + 12.0;
        let style = format!(
            "<style>{}\n@media (prefers-color-scheme:dark){{{}}}\n@media print{{{}}}</style>\n\
             <rect class=\"f-ground\" x=\"0\" y=\"0\" width=\"{}\" height=\"{}\"/>\n",
            resolved(STYLE, Theme::Light),
            resolved(STYLE, Theme::Dark),
            resolved(STYLE, Theme::Print),
            n(self.width),
            n(height),
        );
        self.wrapped(&style, height, &extra.finish())
    }

    /// The picture with another prefix to its ids, for pages where two pictures share a name.
    pub(crate) fn inline_as(&self, prefix: &str) -> String {
        let own = self.id();
        let picture = self.inline();
        if own == prefix {
            return picture;
        }
        // Only attributes of ours hold these forms: text has its quotes escaped.
        picture
            .replace(&format!("id=\"{own}-"), &format!("id=\"{prefix}-"))
            .replace(&format!("describedby=\"{own}-"), &format!("describedby=\"{prefix}-"))
            .replace(&format!("\"url(#{own}-"), &format!("\"url(#{prefix}-"))
    }

    fn wrapped(&self, before: &str, height: f64, after: &str) -> String {
        let id = self.id();
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chart\" role=\"img\" \
             preserveAspectRatio=\"xMinYMin meet\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" aria-label=\"{title}\" \
             aria-describedby=\"{id}-desc\">\n<title>{title}</title>\n\
             <desc id=\"{id}-desc\">{desc}</desc>\n{before}{body}{after}</svg>\n",
            w = n(self.width),
            h = n(height),
            title = escape(&self.words.title),
            desc = escape(&self.description),
            body = self.body,
        )
    }

    pub(crate) fn id(&self) -> String {
        picture_id(&self.words, self.format)
    }
}

/// Prefix of every id inside a picture.
pub(crate) fn picture_id(words: &Words, format: Format) -> String {
    format!("{}-{}", id(&words.id), format.word())
}
