//! The name of what a vertical axis carries.

use super::svg::{escape, n};
use super::words::clip_to;

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

    pub(crate) fn markup(&self, size: f64) -> String {
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
