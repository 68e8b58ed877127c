//! Outlines of rooms, and the walls and floors they share.
//!
//! Outlines are the *inner* faces of walls, so two neighbours stand a wall's thickness apart.
//! [`Outline::shared_wall`] pairs edges that face each other across at most that thickness;
//! [`Outline::overlap_area`] is the floor one room shares with the room above it.
//!
//! Not here: curved walls (draw them as short straight ones) and sloped ceilings (state the area).

use wythe_bands::{Metre, SquareMetre};

/// A corner of a room on plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: Metre,
    /// Up the sheet.
    pub y: Metre,
}

impl Point {
    /// A point from two numbers of metres.
    pub fn at(x: f64, y: f64) -> Point {
        Point { x: Metre(x), y: Metre(y) }
    }

    fn pair(self) -> [f64; 2] {
        [self.x.0, self.y.0]
    }
}

/// A simple polygon: the inner faces of a room's walls on plan, either way round.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    corners: Vec<Point>,
}

/// Why a list of corners is no outline.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OutlineError {
    /// Fewer than three different corners.
    #[error("an outline needs at least three corners, this one has {0}")]
    TooFewCorners(usize),
    /// More corners than [`Outline::MOST_CORNERS`].
    #[error("an outline of {0} corners is more than {most} can be", most = Outline::MOST_CORNERS)]
    TooManyCorners(usize),
    /// A corner that is not a number or lies absurdly far out.
    #[error("corner {0} does not lie within 10 km of the origin")]
    NotANumber(usize),
    /// Two corners in a row are the same point.
    #[error("corners {0} and {1} are the same point")]
    Repeated(usize, usize),
    /// Two walls cross or touch.
    #[error("the walls from corner {0} and from corner {1} cross or touch")]
    Crossing(usize, usize),
    /// All corners on one line.
    #[error("the corners enclose no area")]
    NoArea,
}

/// How far walls are searched for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallSearch {
    /// Thickest wall that still parts two rooms.
    pub thickest: Metre,
    /// Angle by which two faces of one wall may be out of parallel, degrees.
    pub skew_degrees: f64,
}

impl Default for WallSearch {
    /// 0.6 m and 5°: old masonry is rarely thicker, and tape measures rarely worse.
    fn default() -> WallSearch {
        WallSearch { thickest: Metre(0.6), skew_degrees: 5.0 }
    }
}

/// The wall two rooms share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharedWall {
    /// Length on plan.
    pub length: Metre,
    /// Mean distance between the two inner faces.
    pub thickness: Metre,
}

/// A stretch of wall on plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Where it begins, on the inner face.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// Direction out of the room, of length 1 (pure ratio).
    pub outward: [f64; 2],
    /// Distance to the face on the other side, m; 0 where nothing faces it.
    pub gap: f64,
}

/// A stretch of one edge that faces another room.
#[derive(Clone, Copy, Debug)]
struct Piece {
    edge: usize,
    /// From and to as shares of the edge, 0 to 1.
    from: f64,
    to: f64,
    length: f64,
    gap: f64,
}

/// Faces drawn this much over each other still count as touching, m: a tape measure's error.
const DRAWN_OVER: f64 = 0.03;

impl Outline {
    /// Most corners an outline may have; beyond it comparisons of all edges would take long.
    pub const MOST_CORNERS: usize = 100;

    /// An outline of the given corners, unchecked; [`Outline::checked`] refuses bad ones.
    pub fn new(corners: Vec<Point>) -> Outline {
        Outline { corners }
    }

    /// An outline of the given corners. A closing corner equal to the first is dropped.
    ///
    /// # Errors
    /// [`OutlineError`] names corners counted from 1.
    pub fn checked(mut corners: Vec<Point>) -> Result<Outline, OutlineError> {
        if corners.len() > 1 && corners.first() == corners.last() {
            corners.pop();
        }
        let n = corners.len();
        if n > Outline::MOST_CORNERS {
            return Err(OutlineError::TooManyCorners(n));
        }
        for (i, p) in corners.iter().enumerate() {
            if !p.pair().iter().all(|c| c.abs() <= 10_000.0) {
                return Err(OutlineError::NotANumber(i + 1));
            }
        }
        if n < 3 {
            return Err(OutlineError::TooFewCorners(n));
        }
        let outline = Outline { corners };
        for i in 0..n {
            if outline.edge_length(i) < 1e-6 {
                return Err(OutlineError::Repeated(i + 1, (i + 1) % n + 1));
            }
        }
        if outline.without_straight_corners().len() < 3 {
            return Err(OutlineError::NoArea);
        }
        match outline.crossing() {
            Some((i, j)) => Err(OutlineError::Crossing(i + 1, j + 1)),
            None if outline.area().0 < 1e-6 => Err(OutlineError::NoArea),
            None => Ok(outline),
        }
    }

    /// The corners.
    pub fn corners(&self) -> &[Point] {
        &self.corners
    }

    /// Area by the shoelace formula.
    pub fn area(&self) -> SquareMetre {
        SquareMetre(self.signed_area().abs())
    }

    /// Sum of the wall lengths.
    pub fn perimeter(&self) -> Metre {
        Metre((0..self.corners.len()).map(|i| self.edge_length(i)).sum())
    }

    /// Least and greatest corner of the upright rectangle round the outline; `None` without
    /// corners.
    pub fn bounds(&self) -> Option<(Point, Point)> {
        let first = *self.corners.first()?;
        let mut low = first.pair();
        let mut high = low;
        for p in &self.corners {
            for (axis, c) in p.pair().into_iter().enumerate() {
                low[axis] = low[axis].min(c);
                high[axis] = high[axis].max(c);
            }
        }
        Some((Point::at(low[0], low[1]), Point::at(high[0], high[1])))
    }

    /// The sides of a rectangle, longer first; `None` when a corner is more than 2° off square.
    pub fn rectangle(&self) -> Option<[Metre; 2]> {
        let straight = self.without_straight_corners();
        if straight.len() != 4 {
            return None;
        }
        let side = |i: usize| {
            let (p, q) = (straight[i % 4], straight[(i + 1) % 4]);
            [q[0] - p[0], q[1] - p[1]]
        };
        for i in 0..4 {
            let (a, b) = (side(i), side(i + 1));
            let cosine = dot(a, b) / (norm(a) * norm(b));
            if !(cosine.abs() < 2f64.to_radians().sin()) {
                return None;
            }
        }
        let a = (norm(side(0)) + norm(side(2))) / 2.0;
        let b = (norm(side(1)) + norm(side(3))) / 2.0;
        Some([Metre(a.max(b)), Metre(a.min(b))])
    }

    /// Whether a point lies inside; points on the edge may fall either way.
    pub fn contains(&self, point: Point) -> bool {
        let [x, y] = point.pair();
        let mut inside = false;
        for i in 0..self.corners.len() {
            let ([ax, ay], [bx, by]) = self.edge(i);
            if (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax) {
                inside = !inside;
            }
        }
        inside
    }

    /// Area common to two outlines, whatever their shape.
    ///
    /// The plane is cut into strips at every corner and every crossing of edges. Within a strip
    /// no edges cross, so widths change linearly and the width half way up times the strip's
    /// height is exact.
    pub fn overlap_area(&self, other: &Outline) -> SquareMetre {
        let (Some((al, ah)), Some((bl, bh))) = (self.bounds(), other.bounds()) else {
            return SquareMetre(0.0);
        };
        let low = al.y.0.max(bl.y.0);
        let high = ah.y.0.min(bh.y.0);
        if !(low < high && al.x.0.max(bl.x.0) < ah.x.0.min(bh.x.0)) {
            return SquareMetre(0.0);
        }
        let mut cuts = vec![low, high];
        cuts.extend(self.corners.iter().chain(&other.corners).map(|p| p.y.0));
        for i in 0..self.corners.len() {
            for j in 0..other.corners.len() {
                cuts.extend(crossing_height(self.edge(i), other.edge(j)));
            }
        }
        cuts.retain(|y| y.is_finite() && *y >= low && *y <= high);
        cuts.sort_by(f64::total_cmp);
        cuts.dedup();
        let area = cuts
            .windows(2)
            .map(|strip| {
                let middle = (strip[0] + strip[1]) / 2.0;
                let width = common_length(&self.spans_at(middle), &other.spans_at(middle));
                width * (strip[1] - strip[0])
            })
            .sum();
        SquareMetre(area)
    }

    /// Whether `inner` lies wholly inside this outline, up to a sliver of `slack` m².
    pub fn encloses(&self, inner: &Outline, slack: SquareMetre) -> bool {
        self.area().0 > inner.area().0
            && self.overlap_area(inner).0 >= inner.area().0 - slack.0
            && inner.area().0 > slack.0
    }

    /// The wall two rooms side by side share: edges that face each other across at most
    /// `search.thickest`, out of parallel by at most `search.skew_degrees`, with no room of
    /// `others` between them. `None` when they share none. Symmetric in the two outlines.
    pub fn shared_wall(
        &self,
        other: &Outline,
        others: &[&Outline],
        search: &WallSearch,
    ) -> Option<SharedWall> {
        let pieces = self.facing_pieces(other, others, search);
        let length: f64 = pieces.iter().map(|p| p.length).sum();
        if !(length > 0.0) {
            return None;
        }
        let gap = pieces.iter().map(|p| p.length * p.gap).sum::<f64>() / length;
        Some(SharedWall { length: Metre(length), thickness: Metre(gap.max(0.0)) })
    }

    /// Length of walls that face none of `others`, as the outer walls of a building do.
    pub fn exposed_length(&self, others: &[&Outline], search: &WallSearch) -> Metre {
        let taken = self.taken(others, search);
        let free: f64 = taken
            .into_iter()
            .enumerate()
            .map(|(i, spans)| self.edge_length(i) * (1.0 - total_length(&merged(spans))).max(0.0))
            .sum();
        Metre(free)
    }

    /// Length of the walls of a room standing inside this one that look into this one: its
    /// perimeter without the stretches that stand against this room's own walls.
    pub fn wall_of_inner(&self, inner: &Outline, search: &WallSearch) -> Metre {
        let free = |(i, against): (usize, Vec<[f64; 2]>)| {
            inner.edge_length(i) * (1.0 - total_length(&merged(against))).max(0.0)
        };
        Metre(self.against(inner, search).into_iter().enumerate().map(free).sum())
    }

    /// The same as stretches of the inner room's outline.
    pub fn stretches_of_inner(&self, inner: &Outline, search: &WallSearch) -> Vec<Stretch> {
        inner.free_stretches(self.against(inner, search))
    }

    /// Per edge of a room standing inside this one, the shares of it that stand against this
    /// room's own walls.
    fn against(&self, inner: &Outline, search: &WallSearch) -> Vec<Vec<[f64; 2]>> {
        let cosine = search.skew_degrees.to_radians().cos();
        (0..inner.corners.len())
            .map(|i| {
                let (p, q) = inner.wound_edge(i);
                let along = unit([q[0] - p[0], q[1] - p[1]]);
                let outward = [along[1], -along[0]];
                let length = inner.edge_length(i);
                (0..self.corners.len())
                    .filter_map(|j| {
                        let (r, s) = self.wound_edge(j);
                        let other = unit([s[0] - r[0], s[1] - r[1]]);
                        let gap =
                            dot([(r[0] + s[0]) / 2.0 - p[0], (r[1] + s[1]) / 2.0 - p[1]], outward);
                        if dot(along, other) < cosine
                            || gap < -DRAWN_OVER
                            || gap > search.thickest.0
                        {
                            return None;
                        }
                        let t = |c: [f64; 2]| dot([c[0] - p[0], c[1] - p[1]], along) / length;
                        let (from, to) = (t(r).max(0.0), t(s).min(1.0));
                        (to > from).then_some([from, to])
                    })
                    .collect()
            })
            .collect()
    }

    /// The stretches of this outline that face `other`, as [`Outline::shared_wall`] finds them,
    /// joined where they continue each other.
    pub fn facing_stretches(
        &self,
        other: &Outline,
        others: &[&Outline],
        search: &WallSearch,
    ) -> Vec<Stretch> {
        let pieces = self.facing_pieces(other, others, search);
        self.stretches(pieces.iter().map(|p| (p.edge, p.from, p.to, p.gap.max(0.0))))
    }

    /// The stretches of this outline that face none of `others`.
    pub fn exposed_stretches(&self, others: &[&Outline], search: &WallSearch) -> Vec<Stretch> {
        self.free_stretches(self.taken(others, search))
    }

    /// What is left of every edge beside the shares of it that are taken.
    fn free_stretches(&self, taken: Vec<Vec<[f64; 2]>>) -> Vec<Stretch> {
        let mut free = Vec::new();
        for (edge, spans) in taken.into_iter().enumerate() {
            let mut from = 0.0;
            for [start, end] in merged(spans).into_iter().chain([[1.0, 1.0]]) {
                if (start - from) * self.edge_length(edge) > 0.05 {
                    free.push((edge, from, start, 0.0));
                }
                from = end.max(from);
            }
        }
        self.stretches(free.into_iter())
    }

    fn stretches(&self, parts: impl Iterator<Item = (usize, f64, f64, f64)>) -> Vec<Stretch> {
        let mut parts: Vec<(usize, f64, f64, f64)> =
            parts.map(|(e, a, b, gap)| (e, a.min(b), a.max(b), gap)).collect();
        parts.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut joined: Vec<(usize, f64, f64, f64)> = Vec::new();
        for (edge, from, to, gap) in parts {
            match joined.last_mut() {
                Some(last) if last.0 == edge && (from - last.2) * self.edge_length(edge) < 0.02 => {
                    last.2 = last.2.max(to);
                    last.3 = last.3.max(gap);
                }
                _ => joined.push((edge, from, to, gap)),
            }
        }
        joined
            .into_iter()
            .map(|(edge, from, to, gap)| {
                let (p, q) = self.wound_edge(edge);
                let at = |t: f64| Point::at(p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1]));
                let along = unit([q[0] - p[0], q[1] - p[1]]);
                Stretch { from: at(from), to: at(to), outward: [along[1], -along[0]], gap }
            })
            .collect()
    }

    /// Per edge, the shares of it that face one of `others`.
    fn taken(&self, others: &[&Outline], search: &WallSearch) -> Vec<Vec<[f64; 2]>> {
        let mut taken: Vec<Vec<[f64; 2]>> = vec![Vec::new(); self.corners.len()];
        for (k, other) in others.iter().enumerate() {
            let rest: Vec<&Outline> =
                others.iter().enumerate().filter(|(i, _)| *i != k).map(|(_, o)| *o).collect();
            for piece in self.facing_pieces(other, &rest, search) {
                taken[piece.edge].push([piece.from, piece.to]);
            }
        }
        taken
    }

    fn facing_pieces(
        &self,
        other: &Outline,
        others: &[&Outline],
        search: &WallSearch,
    ) -> Vec<Piece> {
        if !near(self, other, search.thickest.0) {
            return Vec::new();
        }
        let blockers: Vec<&Outline> = others
            .iter()
            .copied()
            .filter(|o| near(self, o, search.thickest.0) && near(other, o, search.thickest.0))
            .chain([self, other])
            .collect();
        let cosine = search.skew_degrees.to_radians().cos();
        let mut pieces = Vec::new();
        for i in 0..self.corners.len() {
            let (p, q) = self.wound_edge(i);
            let d = unit([q[0] - p[0], q[1] - p[1]]);
            for j in 0..other.corners.len() {
                let (r, s) = other.wound_edge(j);
                let g = unit([s[0] - r[0], s[1] - r[1]]);
                if !(dot(d, g) <= -cosine) {
                    continue;
                }
                // The bisector serves both edges alike, so that the result is symmetric.
                let along = unit([d[0] - g[0], d[1] - g[1]]);
                let outward = [along[1], -along[0]];
                let (up, uq) = (dot(p, along), dot(q, along));
                let (us, ur) = (dot(s, along), dot(r, along));
                let (from, to) = (up.max(us), uq.min(ur));
                if !(to - from > 1e-9) {
                    continue;
                }
                let face = |u: f64, a: [f64; 2], ua: f64, b: [f64; 2], ub: f64| {
                    let share = if ub == ua { 0.5 } else { (u - ua) / (ub - ua) };
                    [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
                };
                let gap_at = |u: f64| {
                    let (a, b) = (face(u, p, up, q, uq), face(u, s, us, r, ur));
                    dot([b[0] - a[0], b[1] - a[1]], outward)
                };
                let (first, last) = (gap_at(from), gap_at(to));
                if first.min(last) > search.thickest.0 + 1e-9 || first.max(last) < -DRAWN_OVER {
                    continue;
                }
                let mut cuts = vec![from, to];
                for corner in blockers.iter().flat_map(|o| &o.corners) {
                    let u = dot(corner.pair(), along);
                    if u > from && u < to {
                        cuts.push(u);
                    }
                }
                cuts.sort_by(f64::total_cmp);
                for part in cuts.windows(2) {
                    let length = part[1] - part[0];
                    if !(length > 1e-9) {
                        continue;
                    }
                    let u = (part[0] + part[1]) / 2.0;
                    let (a, b) = (face(u, p, up, q, uq), face(u, s, us, r, ur));
                    let gap = dot([b[0] - a[0], b[1] - a[1]], outward);
                    if gap < -DRAWN_OVER || gap > search.thickest.0 + 1e-9 {
                        continue;
                    }
                    let between = |share: f64| {
                        Point::at(a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
                    };
                    let blocked = gap > 1e-3
                        && [0.1, 0.3, 0.5, 0.7, 0.9]
                            .iter()
                            .any(|s| blockers.iter().any(|o| o.contains(between(*s))));
                    if blocked {
                        continue;
                    }
                    let share = |u: f64| (u - up) / (uq - up);
                    pieces.push(Piece {
                        edge: i,
                        from: share(part[0]),
                        to: share(part[1]),
                        length,
                        gap,
                    });
                }
            }
        }
        pieces
    }

    fn signed_area(&self) -> f64 {
        // Taken from the first corner, so that outlines far from the origin lose no digits.
        let Some(origin) = self.corners.first().map(|p| p.pair()) else { return 0.0 };
        let n = self.corners.len();
        let twice: f64 = (0..n)
            .map(|i| {
                let (p, q) = (self.corners[i].pair(), self.corners[(i + 1) % n].pair());
                (p[0] - origin[0]) * (q[1] - origin[1]) - (q[0] - origin[0]) * (p[1] - origin[1])
            })
            .sum();
        twice / 2.0
    }

    fn edge(&self, i: usize) -> ([f64; 2], [f64; 2]) {
        (self.corners[i].pair(), self.corners[(i + 1) % self.corners.len()].pair())
    }

    /// Edge in counter-clockwise order, so that the outside lies to its right.
    fn wound_edge(&self, i: usize) -> ([f64; 2], [f64; 2]) {
        let (p, q) = self.edge(i);
        if self.signed_area() < 0.0 { (q, p) } else { (p, q) }
    }

    fn edge_length(&self, i: usize) -> f64 {
        let (p, q) = self.edge(i);
        norm([q[0] - p[0], q[1] - p[1]])
    }

    /// First pair of edges that cross or touch where they should not.
    fn crossing(&self) -> Option<(usize, usize)> {
        let n = self.corners.len();
        for i in 0..n {
            let (p, q) = self.edge(i);
            // A wall that runs straight back over the one before it.
            let (_, next) = self.edge((i + 1) % n);
            let (d, e) = ([q[0] - p[0], q[1] - p[1]], [next[0] - q[0], next[1] - q[1]]);
            if cross(d, e).abs() < 1e-9 * norm(d) * norm(e) && dot(d, e) < 0.0 {
                return Some((i, (i + 1) % n));
            }
            for j in i + 2..n {
                if i == 0 && j == n - 1 {
                    continue;
                }
                if segments_meet((p, q), self.edge(j)) {
                    return Some((i, j));
                }
            }
        }
        None
    }

    /// Stretches of a level line inside the outline, rising.
    fn spans_at(&self, y: f64) -> Vec<[f64; 2]> {
        let mut xs: Vec<f64> = (0..self.corners.len())
            .filter_map(|i| {
                let ([ax, ay], [bx, by]) = self.edge(i);
                ((ay > y) != (by > y)).then(|| ax + (y - ay) / (by - ay) * (bx - ax))
            })
            .collect();
        xs.sort_by(f64::total_cmp);
        xs.chunks_exact(2).map(|c| [c[0], c[1]]).collect()
    }

    fn without_straight_corners(&self) -> Vec<[f64; 2]> {
        let n = self.corners.len();
        (0..n)
            .filter(|&i| {
                let (before, _) = self.edge((i + n - 1) % n);
                let (here, after) = self.edge(i);
                let d = [here[0] - before[0], here[1] - before[1]];
                let e = [after[0] - here[0], after[1] - here[1]];
                cross(d, e).abs() > 0.5f64.to_radians().sin() * norm(d) * norm(e) || dot(d, e) < 0.0
            })
            .map(|i| self.corners[i].pair())
            .collect()
    }
}

fn near(a: &Outline, b: &Outline, reach: f64) -> bool {
    let (Some((al, ah)), Some((bl, bh))) = (a.bounds(), b.bounds()) else { return false };
    al.x.0 <= bh.x.0 + reach
        && bl.x.0 <= ah.x.0 + reach
        && al.y.0 <= bh.y.0 + reach
        && bl.y.0 <= ah.y.0 + reach
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

fn norm(a: [f64; 2]) -> f64 {
    a[0].hypot(a[1])
}

fn unit(a: [f64; 2]) -> [f64; 2] {
    let n = norm(a);
    if n > 0.0 { [a[0] / n, a[1] / n] } else { [0.0, 0.0] }
}

/// Height at which two edges cross, if they do at one point.
fn crossing_height((p, q): ([f64; 2], [f64; 2]), (r, s): ([f64; 2], [f64; 2])) -> Option<f64> {
    let (d, e) = ([q[0] - p[0], q[1] - p[1]], [s[0] - r[0], s[1] - r[1]]);
    let bottom = cross(d, e);
    if bottom == 0.0 {
        return None;
    }
    let between = [r[0] - p[0], r[1] - p[1]];
    let (t, u) = (cross(between, e) / bottom, cross(between, d) / bottom);
    ((0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)).then(|| p[1] + t * d[1])
}

fn segments_meet((p, q): ([f64; 2], [f64; 2]), (r, s): ([f64; 2], [f64; 2])) -> bool {
    let side = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        cross([b[0] - a[0], b[1] - a[1]], [c[0] - a[0], c[1] - a[1]])
    };
    let (d1, d2, d3, d4) = (side(p, q, r), side(p, q, s), side(r, s, p), side(r, s, q));
    if d1 * d2 < 0.0 && d3 * d4 < 0.0 {
        return true;
    }
    let within = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (0..2).all(|k| c[k] >= a[k].min(b[k]) - 1e-12 && c[k] <= a[k].max(b[k]) + 1e-12)
    };
    (d1 == 0.0 && within(p, q, r))
        || (d2 == 0.0 && within(p, q, s))
        || (d3 == 0.0 && within(r, s, p))
        || (d4 == 0.0 && within(r, s, q))
}

fn merged(mut spans: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    spans.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut out: Vec<[f64; 2]> = Vec::new();
    for span in spans {
        match out.last_mut() {
            Some(last) if span[0] <= last[1] => last[1] = last[1].max(span[1]),
            _ => out.push(span),
        }
    }
    out
}

fn total_length(spans: &[[f64; 2]]) -> f64 {
    spans.iter().map(|s| s[1] - s[0]).sum()
}

fn common_length(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    a.iter().flat_map(|p| b.iter().map(move |q| (p[1].min(q[1]) - p[0].max(q[0])).max(0.0))).sum()
}
