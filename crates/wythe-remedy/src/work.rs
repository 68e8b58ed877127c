//! What has to be built to turn one build-up into another, layer by layer.

use wythe_partition::{
    Board, BuildUp, Cavity, Construction, Fill, Frame, FrameKind, Layer, Mount, Side,
};

/// One piece of work on a boundary.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Piece {
    /// One new sheet over the whole face.
    Sheet {
        /// The board it is cut from; `count` has no meaning here.
        board: Board,
        /// Thickness of what a screw goes through, this sheet included, m; `None` where there is
        /// no frame behind it to screw into.
        through: Option<f64>,
        /// Spacing of the frame behind it, m.
        supports: f64,
        /// Whether a damping layer lies under it.
        damped: bool,
        /// Whether it hangs on a resilient mounting.
        mounted: bool,
    },
    /// Fill over the whole face, m deep.
    Fill(String, f64),
    /// Rows of a new frame.
    Frame {
        /// The frame.
        frame: Frame,
        /// How many rows of studs or joists.
        rows: u32,
        /// Depth of the cavity, m.
        depth: f64,
    },
    /// A resilient mounting under a leaf.
    Mount(Mount, MountedMass),
    /// Something that comes out.
    Out(String),
}

/// Mass a resilient mounting carries, kg/m²; `None` where a layer cannot be weighed.
pub(crate) type MountedMass = Option<f64>;

/// A leaf: its sheets one by one, first the outermost of side a.
type Leaf = Vec<Board>;

struct Parts {
    leaves: Vec<Leaf>,
    gaps: Vec<Cavity>,
}

fn parts(build_up: &BuildUp) -> Option<Parts> {
    let layers = match &build_up.construction {
        Construction::Layers(layers) => layers,
        Construction::Measured(sheet) => &sheet.layers,
    };
    if layers.is_empty() {
        return None;
    }
    let mut out = Parts { leaves: vec![Vec::new()], gaps: Vec::new() };
    for layer in layers {
        match layer {
            Layer::Board(board) => {
                // A count beyond what anybody screws on is refused where it is read.
                for _ in 0..board.count.min(100) {
                    out.leaves.last_mut()?.push(Board { count: 1, ..board.clone() });
                }
            }
            Layer::Cavity(cavity) => {
                out.gaps.push(cavity.clone());
                out.leaves.push(Vec::new());
            }
        }
    }
    Some(out)
}

fn same_sheet(a: &Board, b: &Board) -> bool {
    a.material == b.material
        && (a.thickness.0 - b.thickness.0).abs() < 1e-6
        && a.surface_mass == b.surface_mass
}

fn same_leaf(a: &[Board], b: &[Board]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(x, y)| same_sheet(x, y))
}

fn same_frame(a: &Option<Frame>, b: &Option<Frame>) -> bool {
    match (a, b) {
        (None, None) => true,
        (Some(a), Some(b)) => a.kind == b.kind && (a.spacing.0 - b.spacing.0).abs() < 1e-6,
        _ => false,
    }
}

/// The work from one build-up to another, or `None` where the layers of either are not known.
///
/// What stays is found by comparison: sheets added on the outside of a leaf, a lining in front of
/// everything there was, a fill made deeper. Where a cavity changes, the leaf that changes anyway
/// (else the lighter one) is taken down and built anew. Where nothing matches, everything is new.
pub(crate) fn work(old: &BuildUp, new: &BuildUp) -> Option<Vec<Piece>> {
    let (old, new) = (parts(old)?, parts(new)?);
    let mut out = Vec::new();
    let (n, m) = (new.leaves.len(), old.leaves.len());
    if n == m {
        let mut rebuilt = vec![false; n];
        for (i, (a, b)) in old.gaps.iter().zip(&new.gaps).enumerate() {
            let moved = (a.depth.0 - b.depth.0).abs() > 1e-6 || !same_frame(&a.frame, &b.frame);
            let mount = |c: &Cavity| c.frame.as_ref().and_then(|f| f.mount);
            let mounted = mount(b).filter(|m| mount(a) != Some(*m));
            let fill = more_fill(a, b);
            if moved || mounted.is_some() || fill.is_some() {
                let side = match mounted {
                    Some(Mount { side: Side::A, .. }) => i,
                    Some(Mount { side: Side::B, .. }) => i + 1,
                    None => side_to_open(&old, &new, i),
                };
                rebuilt[side] = true;
            }
            if moved && let Some(frame) = b.frame.clone() {
                out.push(Piece::Frame { frame, rows: 1, depth: b.depth.0 });
            }
            if let Some((material, depth)) = fill {
                out.push(Piece::Fill(material, depth));
            }
        }
        for i in 0..n {
            leaf_work(&old.leaves[i], &new, i, rebuilt[i], &mut out);
        }
        return Some(out);
    }
    if n > m {
        // The old wall with something in front of it, on either side.
        for (leaf0, gap0) in [(n - m, n - m), (0, 0)] {
            let gaps_stay = old
                .gaps
                .iter()
                .enumerate()
                .all(|(i, g)| new.gaps.get(gap0 + i).is_some_and(|h| h == g));
            let leaves_stay = old
                .leaves
                .iter()
                .enumerate()
                .all(|(i, l)| new.leaves.get(leaf0 + i).is_some_and(|k| same_leaf(l, k)));
            if !(gaps_stay && leaves_stay) {
                continue;
            }
            for i in (0..n).filter(|i| !(leaf0..leaf0 + m).contains(i)) {
                leaf_work(&[], &new, i, true, &mut out);
            }
            let old_gaps = gap0..gap0 + old.gaps.len();
            for (_, gap) in new.gaps.iter().enumerate().filter(|(i, _)| !old_gaps.contains(i)) {
                gap_work(gap, true, &mut out);
            }
            return Some(out);
        }
    }
    for leaf in &old.leaves {
        for board in leaf {
            out.push(Piece::Out(board.material.clone()));
        }
    }
    for i in 0..n {
        leaf_work(&[], &new, i, true, &mut out);
    }
    for gap in &new.gaps {
        gap_work(gap, false, &mut out);
    }
    Some(out)
}

/// Fill to buy for a cavity: all of another material, the rest of a deeper one.
fn more_fill(old: &Cavity, new: &Cavity) -> Option<(String, f64)> {
    let wanted: &Fill = new.fill.as_ref()?;
    let there = match &old.fill {
        Some(f) if f.material == wanted.material => f.depth.0,
        _ => 0.0,
    };
    let more = wanted.depth.0 - there;
    (more > 1e-4).then(|| (wanted.material.clone(), more))
}

fn side_to_open(old: &Parts, new: &Parts, gap: usize) -> usize {
    let changes = |i: usize| !same_leaf(&old.leaves[i], &new.leaves[i]);
    match (changes(gap), changes(gap + 1)) {
        (true, false) => gap,
        (false, true) => gap + 1,
        _ if thickness(&new.leaves[gap]) <= thickness(&new.leaves[gap + 1]) => gap,
        _ => gap + 1,
    }
}

fn thickness(leaf: &[Board]) -> f64 {
    leaf.iter().map(|b| b.thickness.0).sum()
}

fn gap_work(gap: &Cavity, lining: bool, out: &mut Vec<Piece>) {
    if let Some(frame) = &gap.frame {
        let two = matches!(
            frame.kind,
            FrameKind::SeparateTimberStuds
                | FrameKind::SeparateSteelStuds
                | FrameKind::StaggeredTimberStuds
        );
        let rows = if two && !lining { 2 } else { 1 };
        out.push(Piece::Frame { frame: frame.clone(), rows, depth: gap.depth.0 });
    }
    if let Some(fill) = &gap.fill {
        out.push(Piece::Fill(fill.material.clone(), fill.depth.0));
    }
}

fn leaf_work(old: &[Board], new: &Parts, index: usize, rebuilt: bool, out: &mut Vec<Piece>) {
    let leaf = &new.leaves[index];
    // Sheets from the cavity outwards; a leaf in the middle is built from its first side.
    let outwards_is_back = index == 0 && !new.gaps.is_empty();
    let order: Vec<&Board> =
        if outwards_is_back { leaf.iter().rev().collect() } else { leaf.iter().collect() };
    let there: Vec<&Board> =
        if outwards_is_back { old.iter().rev().collect() } else { old.iter().collect() };
    let kept = if rebuilt {
        0
    } else if there.len() <= order.len() && there.iter().zip(&order).all(|(a, b)| same_sheet(a, b))
    {
        there.len()
    } else {
        0
    };
    if kept == 0 {
        for board in &there {
            out.push(Piece::Out(board.material.clone()));
        }
    }
    let before = index.checked_sub(1).and_then(|i| new.gaps.get(i));
    let gap = if outwards_is_back { new.gaps.first() } else { before };
    let frame = gap.and_then(|g| g.frame.as_ref());
    let mount = frame.and_then(|f| f.mount).filter(|m| match m.side {
        Side::A => outwards_is_back,
        Side::B => !outwards_is_back,
    });
    if let Some(mount) = mount.filter(|_| kept == 0 && !order.is_empty()) {
        let mass = order
            .iter()
            .map(|b| wythe_findings::caution::load::sheet_mass(b).map(|m| m.0))
            .sum::<Option<f64>>();
        out.push(Piece::Mount(mount, mass));
    }
    let mut through = 0.0;
    for (k, board) in order.iter().enumerate() {
        through += board.thickness.0;
        if k < kept {
            continue;
        }
        out.push(Piece::Sheet {
            board: (*board).clone(),
            through: frame.map(|_| through),
            supports: frame.map_or(0.6, |f| f.spacing.0),
            // Between sheets, not between the first sheet and its frame.
            damped: k > 0 && board.joined == wythe_partition::Joint::DampingLayer,
            mounted: mount.is_some(),
        });
    }
}
