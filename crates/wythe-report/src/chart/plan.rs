//! One storey from above: rooms with their levels, and the ways the sound takes.

use super::drawing::{Drawing, Words};
use super::format::Format;
use super::svg::{Anchor, Svg, polygon};
use super::tint::steps;
use super::words::{clip, percent, width, wrap};
use crate::language::Language;

/// A point of the plan in metres, x to the right, y upward on the sheet.
pub type PlanPoint = (f64, f64);

/// One room.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanRoom {
    /// Name as the user wrote it.
    pub name: String,
    /// Corners in order, m.
    pub outline: Vec<PlanPoint>,
    /// The level as text: "41 dB"; empty when there is none.
    pub level: String,
    /// The figure that decides the tint.
    pub value: Option<f64>,
}

/// One way of the sound, from a point to a point. Where both are the same the way goes through
/// floor or ceiling and is drawn as a disc.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanArrow {
    /// Letter of the path, the same on strip and chart.
    pub letter: char,
    /// The path's name.
    pub name: String,
    /// Where it starts, m.
    pub from: PlanPoint,
    /// Where it ends, m.
    pub to: PlanPoint,
    /// Share of what arrives, 0 to 1: the width of the arrow.
    pub share: f64,
}

/// One wall with how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanWall {
    /// Ends on the face of a room, m.
    pub ends: (PlanPoint, PlanPoint),
    /// Whether a boundary describes it (else nothing passes there in the calculation).
    pub described: bool,
    /// Whether that description is known.
    pub known: bool,
}

/// A door, window, hatch or hole in a wall.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanOpening {
    /// What it is called.
    pub name: String,
    /// Its ends on the face of a room, m.
    pub ends: (PlanPoint, PlanPoint),
    /// From that face through the wall, m.
    pub through: PlanPoint,
    /// How it is drawn.
    pub drawn: OpeningDrawn,
}

/// How an opening is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpeningDrawn {
    /// A leaf in the wall.
    Leaf,
    /// Panes in the wall.
    Panes,
    /// Nothing in the wall.
    Gap,
}

/// A scan or photo to trace rooms from.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanTracing {
    /// Address of the picture.
    pub address: String,
    /// Its lower left corner, m.
    pub low: PlanPoint,
    /// Width and height, m.
    pub size: (f64, f64),
    /// How strongly it is shown, 0 to 1.
    pub opacity: f64,
}

/// One storey.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Plan {
    /// Title, caption and id.
    pub words: Words,
    /// The rooms.
    pub rooms: Vec<PlanRoom>,
    /// Figures of rooms on other sheets that share the scale of tints, so that two storeys may be
    /// held beside each other.
    pub elsewhere: Vec<f64>,
    /// The ways of the sound.
    pub arrows: Vec<PlanArrow>,
    /// Walls, where it matters how well they are known: dashed where assumed, dotted where
    /// nothing describes them.
    pub walls: Vec<PlanWall>,
    /// Doors, windows and the like, where it is said in which wall they are.
    pub openings: Vec<PlanOpening>,
    /// What lies under the plan.
    pub tracing: Option<PlanTracing>,
    /// Lines of text under the plan.
    pub lines: Vec<String>,
    /// Whether the scale bar is in feet.
    pub in_feet: bool,
    /// Greatest height of the drawn storey, px; as high as its width makes it where there is none.
    pub highest: Option<f64>,
    /// Language of what the drawing says itself.
    pub language: Language,
}

/// Where metres lie on the drawn sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanFrame {
    /// Left and lower edge of what is drawn, m.
    pub low: PlanPoint,
    /// Right and upper edge, m.
    pub high: PlanPoint,
    /// Pixels per metre.
    pub scale: f64,
    /// Blank rim, px.
    pub margin: f64,
}

impl PlanFrame {
    /// A point of the plan on the sheet, px from its upper left corner.
    pub fn on_sheet(&self, p: PlanPoint) -> PlanPoint {
        (
            self.margin + (p.0 - self.low.0) * self.scale,
            self.margin + (self.high.1 - p.1) * self.scale,
        )
    }

    fn size(&self) -> (f64, f64) {
        ((self.high.0 - self.low.0).max(0.5), (self.high.1 - self.low.1).max(0.5))
    }
}

fn sound(p: &PlanPoint) -> bool {
    p.0.is_finite() && p.1.is_finite() && p.0.abs() <= WIDEST_SITE_M && p.1.abs() <= WIDEST_SITE_M
}

/// Narrowest list that stands beside a storey, px.
const LEAST_LIST: f64 = 110.0;

/// Coordinates beyond this are a slip of the keyboard, not a building.
const WIDEST_SITE_M: f64 = 5000.0;

impl PlanTracing {
    fn is_sound(&self) -> bool {
        let (w, h) = self.size;
        sound(&self.low) && sound(&self.size) && w > 0.0 && h > 0.0 && self.opacity.is_finite()
    }

    fn draw(&self, svg: &mut Svg, frame: &PlanFrame) {
        let (x, y) = frame.on_sheet((self.low.0, self.low.1 + self.size.1));
        let (w, h) = (self.size.0 * frame.scale, self.size.1 * frame.scale);
        svg.image(&self.address, (x, y), (w, h), self.opacity.clamp(0.0, 1.0));
    }
}

impl PlanOpening {
    fn draw(&self, svg: &mut Svg, at: impl Fn(PlanPoint) -> PlanPoint) {
        let (a, b) = self.ends;
        let (tx, ty) = self.through;
        let beyond = |p: PlanPoint, share: f64| (p.0 + tx * share, p.1 + ty * share);
        if ![a, b, beyond(a, 1.0), beyond(b, 1.0)].iter().all(sound) {
            return;
        }
        // A little over both faces, so that no ink of them shows through.
        let corners = [beyond(a, -0.2), beyond(b, -0.2), beyond(b, 1.2), beyond(a, 1.2)];
        svg.path(&polygon(&corners.map(&at)), "f-ground", "");
        let mut line = |from: PlanPoint, to: PlanPoint, width: f64| {
            svg.line(at(from), at(to), "l-ink", width);
        };
        line(beyond(a, -0.2), beyond(a, 1.2), 1.5);
        line(beyond(b, -0.2), beyond(b, 1.2), 1.5);
        match self.drawn {
            OpeningDrawn::Leaf => line(beyond(a, 0.5), beyond(b, 0.5), 3.0),
            OpeningDrawn::Panes => {
                line(beyond(a, 0.3), beyond(b, 0.3), 1.0);
                line(beyond(a, 0.7), beyond(b, 0.7), 1.0);
            }
            OpeningDrawn::Gap => {}
        }
    }
}

impl Plan {
    /// Where metres lie once the storey is drawn.
    pub fn frame(&self, format: Format) -> PlanFrame {
        let widest = format.metrics(21).widest.min(640.0);
        let outlines = self.rooms.iter().filter(|r| r.outline.len() >= 3);
        let points = outlines
            .filter(|r| r.outline.iter().all(sound))
            .flat_map(|r| r.outline.iter().copied())
            .chain(
                self.arrows
                    .iter()
                    .filter(|a| sound(&a.from) && sound(&a.to))
                    .flat_map(|a| [a.from, a.to]),
            )
            .chain(
                self.tracing
                    .iter()
                    .filter(|t| t.is_sound())
                    .flat_map(|t| [t.low, (t.low.0 + t.size.0, t.low.1 + t.size.1)]),
            );
        let (mut low, mut high) =
            ((f64::INFINITY, f64::INFINITY), (-f64::INFINITY, -f64::INFINITY));
        for p in points {
            low = (low.0.min(p.0), low.1.min(p.1));
            high = (high.0.max(p.0), high.1.max(p.1));
        }
        if low.0 > high.0 {
            (low, high) = ((0.0, 0.0), (1.0, 1.0));
        }
        let mut frame = PlanFrame { low, high, scale: 1.0, margin: 8.0 };
        let (dx, dy) = frame.size();
        frame.scale =
            ((widest - 2.0 * frame.margin) / dx).min(self.highest.unwrap_or(560.0) / dy).min(90.0);
        frame
    }

    /// Draws the storey to scale, with a scale bar.
    pub fn draw(&self, format: Format) -> Drawing {
        let m = format.metrics(21);
        let widest = m.widest.min(640.0);
        let mut notes = Vec::new();
        let (rooms, bad): (Vec<&PlanRoom>, Vec<&PlanRoom>) =
            self.rooms.iter().partition(|r| r.outline.len() >= 3 && r.outline.iter().all(sound));
        for room in bad {
            notes.push(self.language.say("plan.no_outline", &[("room", &clip(&room.name))]));
        }
        let arrows: Vec<&PlanArrow> =
            self.arrows.iter().filter(|a| sound(&a.from) && sound(&a.to)).collect();
        if arrows.len() < self.arrows.len() {
            notes.push(self.language.say("plan.path_without_place", &[]));
        }

        let frame = self.frame(format);
        if rooms.is_empty() && arrows.is_empty() {
            notes.push(self.language.say("plan.no_room", &[]));
        }
        let PlanFrame { margin, scale, .. } = frame;
        let (dx, dy) = frame.size();
        let at = |p: PlanPoint| frame.on_sheet(p);

        let mut svg = Svg::default();
        let here = rooms.iter().map(|r| r.value);
        let tints = steps(&here.chain(self.elsewhere.iter().map(|v| Some(*v))).collect::<Vec<_>>());
        let shapes: Vec<Vec<PlanPoint>> =
            rooms.iter().map(|r| r.outline.iter().map(|p| at(*p)).collect()).collect();
        let tracing = self.tracing.as_ref().filter(|t| t.is_sound());
        if let Some(tracing) = tracing {
            tracing.draw(&mut svg, &frame);
        }
        // What lies under the plan has to be seen through it.
        let through = if tracing.is_some() { r#"fill-opacity="0.35""# } else { "" };
        for (shape, tint) in shapes.iter().zip(&tints) {
            let class = tint.map_or_else(|| "f-ground".to_owned(), |s| format!("t-{s}"));
            svg.path(&polygon(shape), &class, through);
        }
        let pen = if self.walls.is_empty() { "3.5" } else { "1" };
        for shape in &shapes {
            let pen = format!(r#"stroke-width="{pen}" stroke-linejoin="miter""#);
            svg.path(&polygon(shape), "l-ink", &pen);
        }
        for wall in self.walls.iter().filter(|w| sound(&w.ends.0) && sound(&w.ends.1)) {
            let dashes = match (wall.described, wall.known) {
                (true, true) => "",
                (true, false) => r#" stroke-dasharray="9 5""#,
                (false, _) => r#" stroke-dasharray="1.5 5""#,
            };
            let ends = [at(wall.ends.0), at(wall.ends.1)];
            svg.path(&polygon(&ends), "l-ink", &format!(r#"stroke-width="3.5"{dashes}"#));
        }
        for opening in &self.openings {
            opening.draw(&mut svg, at);
        }
        let segments: Vec<(PlanPoint, PlanPoint)> =
            arrows.iter().map(|a| (at(a.from), at(a.to))).collect();
        for (arrow, segment) in arrows.iter().zip(&segments) {
            draw_arrow(&mut svg, arrow, *segment);
        }

        let mut keyed = Vec::new();
        for (room, shape) in rooms.iter().zip(&shapes) {
            if room.name.is_empty() && room.level.is_empty() {
                continue;
            }
            // The walls of a room in this room stand in the way of its name like arrows do.
            let within: Vec<&Vec<PlanPoint>> = shapes
                .iter()
                .filter(|s| !std::ptr::eq(*s, shape) && s.iter().all(|p| inside(shape, *p)))
                .collect();
            let mut segments = segments.clone();
            for hole in &within {
                let next = hole.iter().cycle().skip(1);
                segments.extend(hole.iter().copied().zip(next.copied()));
            }
            let spot = clear_spot(shape, &within, &segments);
            if !label_room(&mut svg, room, shape, &segments, spot, m.text) {
                keyed.push(*room);
                let number = keyed.len().to_string();
                svg.text((spot.0, spot.1 + 4.0), 12.0, Anchor::Middle, "strong", &number);
            }
        }

        let mut y = margin * 2.0 + dy * scale;
        let unit = if self.in_feet { (0.3048, "ft") } else { (1.0, "m") };
        y = draw_scale_bar(&mut svg, (margin, y + 6.0), scale, dx, m.small, unit);
        // A storey kept low leaves room beside itself for its list.
        let beside = self.highest.is_some() && 2.0 * margin + dx * scale + LEAST_LIST <= widest;
        let below = y;
        let (left, room) = if beside {
            y = margin;
            (2.0 * margin + dx * scale, widest - 2.0 * margin - dx * scale - 24.0)
        } else {
            (margin, widest - 40.0)
        };
        let mut key = |svg: &mut Svg, mark: &str, text: &str| {
            for (i, line) in wrap(text, m.text, room).iter().enumerate() {
                if i == 0 {
                    svg.text((left, y + m.text), m.text, Anchor::Start, "strong", mark);
                }
                svg.text((left + 24.0, y + m.text), m.text, Anchor::Start, "", line);
                y += m.text * 1.35;
            }
        };
        for (i, room) in keyed.iter().enumerate() {
            let level =
                if room.level.is_empty() { String::new() } else { format!(", {}", room.level) };
            key(&mut svg, &(i + 1).to_string(), &format!("{}{level}", clip(&room.name)));
        }
        let mut listed: Vec<&PlanArrow> = self.arrows.iter().collect();
        listed.sort_by(|a, b| b.share.total_cmp(&a.share));
        for arrow in listed {
            let text = format!("{}, {}", clip(&arrow.name), percent(arrow.share));
            key(&mut svg, &arrow.letter.to_string(), &text);
        }
        for line in &self.lines {
            key(&mut svg, "·", line);
        }
        y = y.max(below);
        let listed = beside && y > margin && !(keyed.is_empty() && self.arrows.is_empty());
        let drawn = if listed { widest } else { 2.0 * margin + dx * scale };
        Drawing {
            words: self.words.clone(),
            description: self.describe(),
            notes,
            width: drawn.max(widest.min(328.0)).ceil(),
            height: (y + 6.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    fn describe(&self) -> String {
        let l = self.language;
        let mut out = l.say("plan.describe", &[]);
        for room in &self.rooms {
            let unknown = l.say("plan.level_not_known", &[]);
            let level = if room.level.is_empty() { &unknown } else { &room.level };
            out.push(' ');
            out.push_str(&l.say("plan.room", &[("room", &room.name), ("level", level)]));
        }
        for arrow in &self.arrows {
            let (letter, share) = (arrow.letter.to_string(), percent(arrow.share));
            let values = [("letter", letter.as_str()), ("name", &arrow.name), ("percent", &share)];
            out.push(' ');
            out.push_str(&l.say("plan.path", &values));
        }
        out
    }
}

fn draw_arrow(svg: &mut Svg, arrow: &PlanArrow, (a, b): (PlanPoint, PlanPoint)) {
    let share = if arrow.share.is_finite() { arrow.share.clamp(0.0, 1.0) } else { 0.0 };
    let letter = arrow.letter.to_string();
    let length = ((b.0 - a.0).powi(2) + (b.1 - a.1).powi(2)).sqrt();
    if length < 4.0 {
        let r = 9.0 + 9.0 * share;
        svg.circle(a, r, "f-ground", "");
        svg.circle(a, r, "l-ink", &format!(r#"stroke-width="{:.1}""#, 1.5 + 6.0 * share));
        svg.text((a.0, a.1 + 4.3), 12.0, Anchor::Middle, "strong", &letter);
        return;
    }
    let half = (1.5 + 10.5 * share) / 2.0;
    let (ux, uy) = ((b.0 - a.0) / length, (b.1 - a.1) / length);
    let head = (half * 2.2 + 5.0).min(length * 0.5);
    let wing = half + 4.5;
    let p =
        |along: f64, across: f64| (a.0 + ux * along - uy * across, a.1 + uy * along + ux * across);
    let neck = length - head;
    let outline = polygon(&[
        p(0.0, half),
        p(neck, half),
        p(neck, wing),
        p(length, 0.0),
        p(neck, -wing),
        p(neck, -half),
        p(0.0, -half),
    ]);
    // A rim of ground parts the arrow from walls and tints.
    svg.path(&outline, "l-ground", r#"stroke-width="3" stroke-linejoin="round""#);
    svg.path(&outline, "f-ink", "");
    let middle = p(neck * 0.4, 0.0);
    svg.circle(middle, 9.0, "f-ground", "");
    svg.circle(middle, 9.0, "l-ink", r#"stroke-width="1""#);
    svg.text((middle.0, middle.1 + 4.3), 12.0, Anchor::Middle, "strong", &letter);
}

fn inside(shape: &[PlanPoint], p: PlanPoint) -> bool {
    let mut odd = false;
    for i in 0..shape.len() {
        let (a, b) = (shape[i], shape[(i + 1) % shape.len()]);
        if (a.1 > p.1) != (b.1 > p.1) && p.0 < (b.0 - a.0) * (p.1 - a.1) / (b.1 - a.1) + a.0 {
            odd = !odd;
        }
    }
    odd
}

/// Squared distance from a point to a segment.
fn distance2(p: PlanPoint, (a, b): (PlanPoint, PlanPoint)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length2 = dx * dx + dy * dy;
    let t = if length2 > 0.0 {
        (((p.0 - a.0) * dx + (p.1 - a.1) * dy) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (p.0 - a.0 - t * dx).powi(2) + (p.1 - a.1 - t * dy).powi(2)
}

/// Outlines with more corners than this are searched on every n-th edge only, so that a wild
/// outline cannot stall the drawing.
const MOST_EDGES: usize = 400;

/// The point of the room with most room around it, from walls and arrows alike. Height counts
/// double, because a label is wider than it is tall.
fn clear_spot(
    shape: &[PlanPoint],
    within: &[&Vec<PlanPoint>],
    arrows: &[(PlanPoint, PlanPoint)],
) -> PlanPoint {
    let (x0, x1) = extent(shape.iter().map(|p| p.0));
    let (y0, y1) = extent(shape.iter().map(|p| p.1));
    let every = shape.len() / MOST_EDGES + 1;
    let squash = |(x, y): PlanPoint| (x, y * 2.0);
    let edges: Vec<(PlanPoint, PlanPoint)> = (0..shape.len())
        .step_by(every)
        .map(|i| (shape[i], shape[(i + 1) % shape.len()]))
        .chain(arrows.iter().copied())
        .map(|(a, b)| (squash(a), squash(b)))
        .collect();
    let middle = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let mut best = (f64::NEG_INFINITY, middle);
    for i in 1..24 {
        for j in 1..24 {
            let p = (x0 + (x1 - x0) * f64::from(i) / 24.0, y0 + (y1 - y0) * f64::from(j) / 24.0);
            if !inside(shape, p) || within.iter().any(|hole| inside(hole, p)) {
                continue;
            }
            let room = edges.iter().map(|e| distance2(squash(p), *e)).fold(f64::INFINITY, f64::min);
            // Of places with as much room the one nearest the middle.
            let off = distance2(p, (middle, middle)).sqrt();
            let score = room.sqrt() - 0.2 * off;
            if score > best.0 {
                best = (score, p);
            }
        }
    }
    best.1
}

fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, -f64::INFINITY), |(l, h), v| (l.min(v), h.max(v)))
}

/// Name and level in the room, if they fit; says whether they did.
fn label_room(
    svg: &mut Svg,
    room: &PlanRoom,
    shape: &[PlanPoint],
    arrows: &[(PlanPoint, PlanPoint)],
    spot: PlanPoint,
    size: f64,
) -> bool {
    // The free chord either side of the spot.
    let free = |direction: f64| {
        let mut reach = 0.0;
        while reach < 400.0 {
            let p = (spot.0 + direction * (reach + 4.0), spot.1);
            let blocked = arrows.iter().any(|s| distance2(p, *s) < 12.0f64.powi(2));
            if !inside(shape, p) || blocked {
                break;
            }
            reach += 4.0;
        }
        reach
    };
    let half = free(-1.0).min(free(1.0));
    let room_px = 2.0 * half - 4.0;
    if room_px < 28.0 {
        return false;
    }
    let mut lines: Vec<(String, &str)> =
        wrap(&clip(&room.name), size, room_px).into_iter().map(|l| (l, "")).collect();
    if !room.level.is_empty() {
        lines.extend(wrap(&room.level, size, room_px).into_iter().map(|l| (l, "strong")));
    }
    // A name broken inside a word is worse than a number with a list.
    let longest = room
        .name
        .split_whitespace()
        .chain(room.level.split_whitespace())
        .map(|w| width(w, size))
        .fold(0.0, f64::max);
    let height = lines.len() as f64 * size * 1.25;
    let corners = [
        (spot.0 - half.min(room_px / 2.0) * 0.9, spot.1 - height / 2.0),
        (spot.0 + half.min(room_px / 2.0) * 0.9, spot.1 - height / 2.0),
        (spot.0, spot.1 - height / 2.0),
        (spot.0, spot.1 + height / 2.0),
    ];
    let clear = corners[2..]
        .iter()
        .all(|c| inside(shape, *c) && arrows.iter().all(|s| distance2(*c, *s) > 6.0f64.powi(2)));
    if longest > room_px || !clear {
        return false;
    }
    let mut y = spot.1 - height / 2.0 + size;
    for (line, class) in &lines {
        svg.text((spot.0, y), size, Anchor::Middle, class, line);
        y += size * 1.25;
    }
    true
}

/// A bar with its length; `unit` is its size in metres and its sign.
fn draw_scale_bar(
    svg: &mut Svg,
    (x, y): PlanPoint,
    scale: f64,
    dx: f64,
    size: f64,
    (metres, sign): (f64, &str),
) -> f64 {
    let length = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0]
        .into_iter()
        .rfind(|l| l * metres <= dx / 2.0)
        .unwrap_or(0.25);
    let end = x + length * metres * scale;
    svg.line((x, y), (end, y), "l-ink", 2.0);
    svg.line((x, y - 4.0), (x, y + 4.0), "l-ink", 1.0);
    svg.line((end, y - 4.0), (end, y + 4.0), "l-ink", 1.0);
    svg.text(
        (end + 8.0, y + 4.0),
        size,
        Anchor::Start,
        "second",
        &format!("{length}\u{202F}{sign}"),
    );
    y + 16.0
}
