//! Families of constructions, by which the error of a prediction is known.

use crate::FrameKind;
use crate::layup::Layup;

/// A family of constructions whose errors against published tests belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// One leaf of boards, sheets or glass.
    ThinSingle,
    /// One leaf of masonry or concrete.
    HeavySingle,
    /// Two leaves of boards on a frame, or without.
    StudWall,
    /// Two panes.
    DoubleGlazing,
    /// Anything else: three leaves and more, linings on heavy walls, cavity walls.
    Other,
}

impl Family {
    /// All families.
    pub const ALL: [Family; 5] = [
        Family::ThinSingle,
        Family::HeavySingle,
        Family::StudWall,
        Family::DoubleGlazing,
        Family::Other,
    ];

    /// Name as tables print it.
    pub fn word(self) -> &'static str {
        match self {
            Family::ThinSingle => "thin single leaf",
            Family::HeavySingle => "heavy single leaf",
            Family::StudWall => "stud wall",
            Family::DoubleGlazing => "double glazing",
            Family::Other => "other",
        }
    }

    pub(crate) fn of(layup: &Layup, panes: bool) -> Family {
        match layup.leaves.as_slice() {
            [one] if one.is_heavy() => Family::HeavySingle,
            [_] => Family::ThinSingle,
            [a, b] if !a.is_heavy() && !b.is_heavy() => {
                let window = layup.gaps[0].frame.as_ref().is_some_and(|f| {
                    matches!(f.kind, FrameKind::CommonWindowFrame | FrameKind::SeparateWindowFrames)
                });
                if window || panes { Family::DoubleGlazing } else { Family::StudWall }
            }
            _ => Family::Other,
        }
    }
}
