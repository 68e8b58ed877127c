//! Outlines of rooms, and the walls and floors they share.

use wythe_bands::{Metre, SquareMetre};

/// A corner of a room on plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: Metre,
    /// Up the sheet.
    pub y: Metre,
}

/// A simple polygon: the inner faces of a room's walls on plan, either way round.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    corners: Vec<Point>,
}

impl Outline {
    /// An outline of the given corners.
    pub fn new(corners: Vec<Point>) -> Outline {
        Outline { corners }
    }

    /// The corners.
    pub fn corners(&self) -> &[Point] {
        &self.corners
    }

    /// Area by the shoelace formula.
    pub fn area(&self) -> SquareMetre {
        let n = self.corners.len();
        let twice: f64 = (0..n)
            .map(|i| {
                let (p, q) = (self.corners[i], self.corners[(i + 1) % n]);
                p.x.0 * q.y.0 - q.x.0 * p.y.0
            })
            .sum();
        SquareMetre(twice.abs() / 2.0)
    }
}
