//! Writing SVG: escaping, numbers, the few shapes the charts are made of.

use std::fmt::Write;

/// Text made safe between tags and inside double quotes. Characters XML 1.0 forbids become
/// U+FFFD, so that a name pasted from anywhere cannot break a document.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c < ' ' || c == '\u{FFFE}' || c == '\u{FFFF}' => out.push('\u{FFFD}'),
            c => out.push(c),
        }
    }
    out
}

/// A name usable as an XML id and inside `url(#…)`: letters, digits and dashes only.
pub fn id(text: &str) -> String {
    let mut out: String = text
        .chars()
        .take(60)
        .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
        .collect();
    if !out.starts_with(|c: char| c.is_ascii_alphabetic()) {
        out.insert_str(0, "c-");
    }
    out
}

/// A coordinate to a hundredth of a pixel, which is finer than any screen or printer.
pub(crate) fn n(value: f64) -> String {
    let value = if value.is_finite() { (value * 100.0).round() / 100.0 } else { 0.0 };
    // −0 would print its sign.
    format!("{}", value + 0.0)
}

/// Where a text is tied to its point.
#[derive(Clone, Copy)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A growing drawing.
#[derive(Default)]
pub(crate) struct Svg {
    out: String,
}

impl Svg {
    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), class: &str, width: f64) {
        self.line_with(from, to, class, width, "");
    }

    /// `extra` is written as it stands: attributes of ours, never text of the user.
    pub(crate) fn line_with(
        &mut self,
        from: (f64, f64),
        to: (f64, f64),
        class: &str,
        width: f64,
        extra: &str,
    ) {
        let _ = writeln!(
            self.out,
            r#"<line class="{class}" x1="{}" y1="{}" x2="{}" y2="{}" stroke-width="{}"{}{extra}/>"#,
            n(from.0),
            n(from.1),
            n(to.0),
            n(to.1),
            n(width),
            space(extra),
        );
    }

    pub(crate) fn path(&mut self, d: &str, class: &str, extra: &str) {
        if !d.is_empty() {
            let _ = writeln!(self.out, r#"<path class="{class}" d="{d}"{}{extra}/>"#, space(extra));
        }
    }

    pub(crate) fn rect(&mut self, x: f64, y: f64, w: f64, h: f64, class: &str, extra: &str) {
        let _ = writeln!(
            self.out,
            r#"<rect class="{class}" x="{}" y="{}" width="{}" height="{}"{}{extra}/>"#,
            n(x),
            n(y),
            n(w.max(0.0)),
            n(h.max(0.0)),
            space(extra),
        );
    }

    pub(crate) fn circle(&mut self, at: (f64, f64), r: f64, class: &str, extra: &str) {
        let _ = writeln!(
            self.out,
            r#"<circle class="{class}" cx="{}" cy="{}" r="{}"{}{extra}/>"#,
            n(at.0),
            n(at.1),
            n(r),
            space(extra),
        );
    }

    pub(crate) fn image(&mut self, address: &str, at: (f64, f64), size: (f64, f64), opacity: f64) {
        let _ = writeln!(
            self.out,
            r#"<image href="{}" x="{}" y="{}" width="{}" height="{}" opacity="{}" preserveAspectRatio="none"/>"#,
            escape(address),
            n(at.0),
            n(at.1),
            n(size.0.max(0.0)),
            n(size.1.max(0.0)),
            n(opacity),
        );
    }

    pub(crate) fn text(
        &mut self,
        at: (f64, f64),
        size: f64,
        anchor: Anchor,
        class: &str,
        text: &str,
    ) {
        self.raw_text(at, size, anchor, class, &escape(text));
    }

    /// Text that already holds tags of ours (a subscript) and is already escaped.
    pub(crate) fn raw_text(
        &mut self,
        at: (f64, f64),
        size: f64,
        anchor: Anchor,
        class: &str,
        inner: &str,
    ) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => r#" text-anchor="middle""#,
            Anchor::End => r#" text-anchor="end""#,
        };
        let class = if class.is_empty() { String::new() } else { format!(r#" class="{class}""#) };
        let _ = writeln!(
            self.out,
            r#"<text{class} x="{}" y="{}" font-size="{}"{anchor}>{inner}</text>"#,
            n(at.0),
            n(at.1),
            n(size),
        );
    }

    pub(crate) fn open(&mut self, attributes: &str) {
        let _ = writeln!(self.out, "<g{}{attributes}>", space(attributes));
    }

    pub(crate) fn close(&mut self) {
        self.out.push_str("</g>\n");
    }

    pub(crate) fn raw(&mut self, markup: &str) {
        self.out.push_str(markup);
        self.out.push('\n');
    }

    /// Diagonal lines as a vector pattern, to be used as `fill="url(#id)"`.
    pub(crate) fn hatch(&mut self, id: &str, class: &str, gap: f64, width: f64, degrees: f64) {
        let _ = writeln!(
            self.out,
            r#"<pattern id="{id}" patternUnits="userSpaceOnUse" width="{g}" height="{g}" patternTransform="rotate({})"><line class="{class}" x1="0" y1="0" x2="0" y2="{g}" stroke-width="{}"/></pattern>"#,
            n(degrees),
            n(width * 2.0),
            g = n(gap),
        );
    }

    pub(crate) fn finish(self) -> String {
        self.out
    }
}

fn space(extra: &str) -> &'static str {
    if extra.is_empty() || extra.starts_with(' ') { "" } else { " " }
}

/// Path of straight lines through `points`.
pub(crate) fn polyline(points: &[(f64, f64)]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if i == 0 { "M" } else { "L" }, n(p.0), n(p.1));
    }
    d
}

/// Closed path through `points`.
pub(crate) fn polygon(points: &[(f64, f64)]) -> String {
    let mut d = polyline(points);
    if !d.is_empty() {
        d.push('Z');
    }
    d
}
