//! A build-up in section, drawn to scale: boards solid, cavities open, fill hatched.

use super::drawing::{Drawing, Words, picture_id};
use super::format::Format;
use super::labels::spread;
use super::svg::{Anchor, Svg, n, polyline};
use super::words::{clip, clip_to, width, wrap};
use wythe_bands::Metre;

/// How the studs of a cavity stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Studs {
    /// No frame crosses the cavity.
    #[default]
    None,
    /// One stud carries both leaves.
    Common,
    /// Studs alternate between the leaves.
    Staggered,
    /// Each leaf has a row of its own.
    Separate,
}

/// What the studs are of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum StudMaterial {
    /// A rectangle with its diagonals, as joiners draw a cut timber (common practice, no source).
    #[default]
    Timber,
    /// A thin channel.
    Steel,
}

/// A resilient part between stud and board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Mount {
    /// A folded channel.
    Channel,
    /// A clip with a rubber part, drawn as a disc.
    Clip,
}

/// A side of the build-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// The side of the first layer, drawn on top.
    A,
    /// The side of the last layer.
    B,
}

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub enum SectionLayer {
    /// Boards or masonry, solid.
    Board {
        /// What it is with its dimension, in the reader's units.
        label: String,
        /// Thickness of one board.
        thickness: Metre,
        /// How many lie on one another.
        count: usize,
        /// Whether the boards are parted by a damping layer, drawn as a dashed line.
        damped: bool,
    },
    /// Air with what stands in it.
    Cavity {
        /// What it is with its dimension, in the reader's units.
        label: String,
        /// Clear depth.
        depth: Metre,
        /// Depth of the porous fill, zero for an empty cavity.
        fill_depth: Metre,
        /// How the studs stand.
        studs: Studs,
        /// What they are of.
        material: StudMaterial,
        /// Distance of the studs.
        spacing: Metre,
        /// Resilient part, and on which side.
        mount: Option<(Mount, Side)>,
    },
}

impl SectionLayer {
    fn thickness(&self) -> f64 {
        let t = match self {
            SectionLayer::Board { thickness, count, .. } => thickness.0 * (*count).min(50) as f64,
            SectionLayer::Cavity { depth, .. } => depth.0,
        };
        // Anything else is no thickness; the caller is told in a note.
        if t.is_finite() && t > 0.0 && t < 20.0 { t } else { 0.0 }
    }

    fn label(&self) -> &str {
        match self {
            SectionLayer::Board { label, .. } | SectionLayer::Cavity { label, .. } => label,
        }
    }
}

/// A build-up in section.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Section {
    /// Title, caption and id.
    pub words: Words,
    /// Layers from side a, drawn on top, to side b.
    pub layers: Vec<SectionLayer>,
    /// What lies on side a.
    pub side_a: String,
    /// What lies on side b.
    pub side_b: String,
    /// Whole thickness, in the reader's units.
    pub total: String,
    /// The cavity that parts the inner shell from the building, as an index into `layers`: the
    /// isolation line runs through it and nothing rigid may cross it.
    pub isolation: Option<usize>,
    /// Whether side b is drawn on top, as floors lie whose side a is the ceiling below.
    pub b_on_top: bool,
}

/// Face of a stud, m. The drawing needs one; the build-up does not carry it (common practice).
const STUD_FACE: f64 = 0.045;

/// A layer may say more than a line does, because it stands in a column of its own.
const LONGEST_LAYER: usize = 240;

impl Section {
    /// Draws the section.
    pub fn draw(&self, format: Format) -> Drawing {
        if self.b_on_top {
            self.turned().drawn(format, ["b", "a"])
        } else {
            self.drawn(format, ["a", "b"])
        }
    }

    /// The same seen from the other side: first layer last, all else in its place.
    fn turned(&self) -> Section {
        let mut out = self.clone();
        out.layers.reverse();
        for layer in &mut out.layers {
            if let SectionLayer::Cavity { mount: Some((_, side)), .. } = layer {
                *side = if *side == Side::A { Side::B } else { Side::A };
            }
        }
        std::mem::swap(&mut out.side_a, &mut out.side_b);
        out.isolation =
            self.isolation.and_then(|i| (self.layers.len().checked_sub(1)?).checked_sub(i));
        out
    }

    fn drawn(&self, format: Format, sides: [&str; 2]) -> Drawing {
        let m = format.metrics(21);
        let prefix = picture_id(&self.words, format);
        let mut notes = Vec::new();
        let total: f64 = self.layers.iter().map(SectionLayer::thickness).sum();
        if self.layers.iter().any(|l| l.thickness() == 0.0) {
            notes.push("A layer without a thickness is drawn as a line.".to_owned());
        }
        // To scale, within what a page holds; px per metre.
        let scale = if total > 0.0 { (230.0 / total).min(1600.0) } else { 1000.0 };
        let x0 = 18.0;
        let wide = if m.labels_below { 264.0 } else { 340.0 };
        let mut svg = Svg::default();
        svg.raw("<defs>");
        svg.hatch(&format!("{prefix}-fill-a"), "l-context", 8.0, 0.4, 45.0);
        svg.hatch(&format!("{prefix}-fill-b"), "l-context", 8.0, 0.4, -45.0);
        svg.raw(&format!(
            r#"<clipPath id="{prefix}-cut"><rect x="{}" y="0" width="{}" height="4000"/></clipPath>"#,
            n(x0),
            n(wide)
        ));
        svg.raw("</defs>");
        let mut y = m.text;
        for line in wrap(&format!("side {}: {}", sides[0], clip(&self.side_a)), m.text, wide) {
            svg.text((x0, y), m.text, Anchor::Start, "second", &line);
            y += m.text * 1.25;
        }
        y -= m.text * 0.5;
        let top = y;
        let mut middles = Vec::new();
        let mut isolation = None;
        svg.open(&format!(r#"clip-path="url(#{prefix}-cut)""#));
        for (i, layer) in self.layers.iter().enumerate() {
            let mut height = layer.thickness() * scale;
            if height < 2.0 {
                if height > 0.0 {
                    notes.push(format!("{}: drawn thicker than to scale.", clip(layer.label())));
                }
                height = 2.0;
            }
            let area = Area { x: x0, y, w: wide, h: height };
            match layer {
                SectionLayer::Board { count, damped, .. } => {
                    draw_boards(&mut svg, area, (*count).clamp(1, 50), *damped);
                }
                SectionLayer::Cavity { .. } => {
                    draw_cavity(&mut svg, area, layer, scale, &prefix);
                }
            }
            if self.isolation == Some(i) {
                let middle = y + parting(layer, height, scale);
                isolation = Some(middle);
                let dash = r#"stroke-dasharray="14 4 2 4""#;
                svg.line((x0, middle), (x0 + wide, middle), "l-ground", 5.0);
                svg.line_with((x0, middle), (x0 + wide, middle), "l-look-here", 2.0, dash);
            }
            middles.push(y + height / 2.0);
            y += height;
        }
        svg.close();
        let bottom = y;
        svg.line((x0, top), (x0, bottom), "l-hairline", 1.0);
        svg.line((x0 + wide, top), (x0 + wide, bottom), "l-hairline", 1.0);

        // The whole thickness left of the section, between two short strokes.
        svg.line((6.0, top), (6.0, bottom), "l-ink", 1.0);
        svg.line((2.0, top), (12.0, top), "l-ink", 1.0);
        svg.line((2.0, bottom), (12.0, bottom), "l-ink", 1.0);

        let (mut right, mut low) = (x0 + wide, bottom);
        let mut labels: Vec<(f64, String, &str)> = self
            .layers
            .iter()
            .zip(&middles)
            .map(|(l, y)| (*y, clip_to(l.label(), LONGEST_LAYER), ""))
            .collect();
        if let Some(y) = isolation {
            let text = "isolation line: nothing rigid crosses it";
            // Below the cavity's own label.
            labels.push((y + 1.0, text.to_owned(), "look-here"));
        }
        if m.labels_below {
            let wanted: Vec<(f64, f64)> = labels.iter().map(|l| (l.0, m.text * 1.2)).collect();
            for (i, (centre, label)) in spread(&wanted, top).iter().zip(&labels).enumerate() {
                let aim = centre - 0.5;
                let from = (x0 + wide, label.0);
                svg.line(from, (x0 + wide + 14.0, aim), "l-hairline", 1.0);
                let at = (x0 + wide + 18.0, aim + m.text * 0.35);
                svg.text(at, m.text, Anchor::Start, "strong", &(i + 1).to_string());
                low = low.max(centre + m.text);
            }
            right = 328.0;
        } else {
            let x = x0 + wide + 24.0;
            let room = (m.widest - x).clamp(90.0, 260.0);
            let blocks: Vec<Vec<String>> =
                labels.iter().map(|l| wrap(&l.1, m.text, room)).collect();
            let wanted: Vec<(f64, f64)> = labels
                .iter()
                .zip(&blocks)
                .map(|(l, b)| (l.0, b.len() as f64 * m.text * 1.25 + 3.0))
                .collect();
            for (((centre, (_, tall)), label), lines) in
                spread(&wanted, 0.0).iter().zip(&wanted).zip(&labels).zip(&blocks)
            {
                let mut y = centre - tall / 2.0 + m.text;
                let aim = y - m.text * 0.35;
                let knee =
                    [(x0 + wide, label.0), (x0 + wide + 8.0, label.0), (x0 + wide + 20.0, aim)];
                svg.path(&polyline(&knee), "l-context", r#"stroke-width="1""#);
                for line in lines {
                    svg.text((x, y), m.text, Anchor::Start, label.2, line);
                    right = right.max(x + width(line, m.text));
                    y += m.text * 1.25;
                }
                low = low.max(centre + tall / 2.0);
            }
        }
        let mut y = bottom + m.text * 1.2;
        for line in wrap(&format!("side {}: {}", sides[1], clip(&self.side_b)), m.text, wide) {
            svg.text((x0, y), m.text, Anchor::Start, "second", &line);
            y += m.text * 1.25;
        }
        svg.text((x0, y), m.text, Anchor::Start, "strong", &format!("total {}", self.total));
        y += m.text * 0.6;
        if m.labels_below {
            y = y.max(low);
            for (i, (_, text, class)) in labels.iter().enumerate() {
                let number = (i + 1).to_string();
                svg.text((0.0, y + m.text), m.text, Anchor::Start, "strong", &number);
                for line in wrap(text, m.text, m.widest - 28.0) {
                    svg.text((22.0, y + m.text), m.text, Anchor::Start, class, &line);
                    y += m.text * 1.35;
                }
            }
        }
        Drawing {
            words: self.words.clone(),
            description: self.describe(),
            notes,
            width: right.ceil(),
            height: (y.max(low) + 6.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    fn describe(&self) -> String {
        let labels: Vec<&str> = self.layers.iter().map(SectionLayer::label).collect();
        let mut out = format!(
            "Section from {} to {}: {}. Total {}.",
            self.side_a,
            self.side_b,
            labels.join("; "),
            self.total
        );
        if let Some(layer) = self.isolation.and_then(|i| self.layers.get(i)) {
            out.push_str(&format!(" The isolation line runs through: {}.", layer.label()));
        }
        out
    }
}

/// What the mount takes out of the stud's depth, so that the air it leaves is seen, px.
fn mount_gap(height: f64, scale: f64) -> f64 {
    (0.016 * scale).clamp(5.0, 14.0).min(height / 3.0)
}

/// How far below the top of a cavity what must not touch is parted: in its middle, or at the mount
/// where there is one, because the stud behind it belongs to the other side.
fn parting(layer: &SectionLayer, height: f64, scale: f64) -> f64 {
    match layer {
        SectionLayer::Cavity { mount: Some((_, Side::A)), .. } => mount_gap(height, scale) / 2.0,
        SectionLayer::Cavity { mount: Some((_, Side::B)), .. } => {
            height - mount_gap(height, scale) / 2.0
        }
        _ => height / 2.0,
    }
}

#[derive(Clone, Copy)]
struct Area {
    x: f64,
    y: f64,
    w: f64,
    h: f64,
}

fn draw_boards(svg: &mut Svg, a: Area, count: usize, damped: bool) {
    svg.rect(a.x, a.y, a.w, a.h, "f-ink", "");
    for i in 1..count {
        let y = a.y + a.h * i as f64 / count as f64;
        let (from, to) = ((a.x, y), (a.x + a.w, y));
        if damped {
            svg.line(from, to, "l-ground", 2.2);
            svg.line_with(from, to, "l-required", 1.4, r#"stroke-dasharray="4 3""#);
        } else {
            svg.line(from, to, "l-ground", 1.0);
        }
    }
}

fn draw_cavity(svg: &mut Svg, a: Area, layer: &SectionLayer, scale: f64, prefix: &str) {
    let SectionLayer::Cavity { fill_depth, studs, material, spacing, mount, .. } = layer else {
        return;
    };
    svg.rect(a.x, a.y, a.w, a.h, "f-ground", "");
    let fill = (fill_depth.0 * scale).clamp(0.0, a.h);
    if fill > 0.0 {
        for side in ["a", "b"] {
            let paint = format!(r#"fill="url(#{prefix}-fill-{side})""#);
            svg.rect(a.x, a.y + (a.h - fill) / 2.0, a.w, fill, "", &paint);
        }
    }
    let gap = if mount.is_some() { mount_gap(a.h, scale) } else { 0.0 };
    let (top, bottom) = match mount {
        Some((_, Side::A)) => (a.y + gap, a.y + a.h),
        Some((_, Side::B)) => (a.y, a.y + a.h - gap),
        None => (a.y, a.y + a.h),
    };
    let step = spacing.0 * scale;
    let step = if step.is_finite() && step > 8.0 { step } else { 0.6 * scale };
    let step = step.max(24.0);
    let face = (STUD_FACE * scale).clamp(6.0, 60.0);
    let mut x = a.x + (step / 2.0).min(a.w / 3.0);
    let mut odd = false;
    while x - face < a.x + a.w && *studs != Studs::None {
        let depth = bottom - top;
        let pieces: Vec<(f64, f64)> = match studs {
            Studs::None => Vec::new(),
            Studs::Common => vec![(top, depth)],
            Studs::Staggered if odd => vec![(top + depth * 0.3, depth * 0.7)],
            Studs::Staggered => vec![(top, depth * 0.7)],
            Studs::Separate => vec![(top, depth * 0.42), (top + depth * 0.58, depth * 0.42)],
        };
        for (y, h) in pieces {
            draw_stud(svg, Area { x: x - face / 2.0, y, w: face, h }, *material);
        }
        if let Some((kind, side)) = mount {
            // The stud that reaches the mounted side.
            let reaches = *studs != Studs::Staggered || odd == (*side == Side::B);
            if reaches {
                let y = if *side == Side::A { a.y } else { a.y + a.h - gap };
                draw_mount(svg, Area { x: x - face / 2.0, y, w: face, h: gap }, *kind, *side);
            }
        }
        odd = !odd;
        x += if *studs == Studs::Staggered { step / 2.0 } else { step };
    }
}

fn draw_stud(svg: &mut Svg, a: Area, material: StudMaterial) {
    let pen = r#"stroke-width="1.2""#;
    match material {
        StudMaterial::Timber => {
            svg.rect(a.x, a.y, a.w, a.h, "f-ground", "");
            svg.rect(a.x, a.y, a.w, a.h, "l-ink", pen);
            svg.line((a.x, a.y), (a.x + a.w, a.y + a.h), "l-ink", 0.8);
            svg.line((a.x + a.w, a.y), (a.x, a.y + a.h), "l-ink", 0.8);
        }
        StudMaterial::Steel => {
            let d = polyline(&[
                (a.x + a.w, a.y + 1.0),
                (a.x, a.y + 1.0),
                (a.x, a.y + a.h - 1.0),
                (a.x + a.w, a.y + a.h - 1.0),
            ]);
            svg.path(&d, "l-ink", r#"stroke-width="2""#);
        }
    }
}

fn draw_mount(svg: &mut Svg, a: Area, kind: Mount, side: Side) {
    match kind {
        Mount::Clip => {
            let at = (a.x + a.w / 2.0, a.y + a.h / 2.0);
            svg.circle(at, a.h / 2.0, "f-ground", "");
            svg.circle(at, (a.h / 2.0 - 1.0).max(1.0), "l-required", r#"stroke-width="2""#);
        }
        Mount::Channel => {
            // One flange on the stud, one on the board: the web between them is the spring.
            let (stud, board) = if side == Side::A {
                (a.y + a.h - 1.0, a.y + 1.0)
            } else {
                (a.y + 1.0, a.y + a.h - 1.0)
            };
            let d = polyline(&[
                (a.x, stud),
                (a.x + a.w * 0.5, stud),
                (a.x + a.w * 0.75, board),
                (a.x + a.w * 1.5, board),
            ]);
            svg.path(&d, "l-required", r#"stroke-width="2""#);
        }
    }
}
