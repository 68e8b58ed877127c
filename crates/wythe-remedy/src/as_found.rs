//! The building as the recordings show it, so that changes are judged where they would be made.

use wythe_building::{Action, BuildUpIndex, Building};
use wythe_findings::{Cause, Fault, Posterior};
use wythe_partition::{Board, BuildUp, Construction, Joint, Layer};

use crate::work::{Piece, work};

/// A fault is taken as there from this probability on: it is then likelier present than not.
const TAKEN_AS_THERE: f64 = 0.5;
/// By how much the recordings must have raised a probability to count as having found it.
const RAISED: f64 = 0.05;

/// The building with every fault that is more likely there than not, each at its most probable
/// size, and the positions of these faults in [`Posterior::findings`].
///
/// Faults that stand in for each other count together, and only the likeliest of them is put in:
/// that a door leaks can be sure while the edge is not.
///
/// A fault of a wall stays where a change leaves that part of the wall alone: boards put onto a leaf
/// that is lighter than described hang on the lighter leaf. Where a change rebuilds the part, the
/// fault goes with it.
///
/// Not taken over: the error of the prediction itself, which the posterior corrects as well but
/// which belongs to no element.
pub fn as_found(building: &Building, posterior: &Posterior) -> (Building, Vec<usize>) {
    let mut out = building.clone();
    let mut made: Vec<usize> = Vec::new();
    let cause_of = |c: &Cause| posterior.causes.iter().position(|k| k == c);
    let mut order: Vec<usize> = (0..posterior.findings.len()).collect();
    let probability = |i: usize| posterior.findings[i].probability;
    order.sort_by(|&a, &b| probability(b).total_cmp(&probability(a)));
    for i in order {
        let finding = &posterior.findings[i];
        let lists = |a: usize, b: usize| {
            cause_of(&posterior.findings[b].cause)
                .is_some_and(|c| posterior.findings[a].rivals.contains(&c))
        };
        let stands_in = |&other: &usize| lists(i, other) || lists(other, i);
        if made.iter().any(stands_in) {
            continue;
        }
        let together: Vec<usize> =
            (0..posterior.findings.len()).filter(|k| *k == i || stands_in(k)).collect();
        let causes: Vec<usize> =
            together.iter().filter_map(|k| cause_of(&posterior.findings[*k].cause)).collect();
        let now = posterior.any(&causes);
        // What the recordings say nothing about is not found by them, however likely it was before.
        if now < TAKEN_AS_THERE || now < posterior.any_before(&causes) + RAISED {
            continue;
        }
        carry_over(building, &mut out, &finding.cause, finding.size);
        finding.cause.apply(&mut out, finding.size);
        made.push(i);
    }
    made.sort_unstable();
    (out, made)
}

/// Puts a fault of a wall into the build-ups that changes on offer would give the same wall, as far
/// as they leave the faulty part alone.
fn carry_over(described: &Building, out: &mut Building, cause: &Cause, size: f64) {
    let Some(old) = described
        .boundaries
        .get(cause.boundary.0)
        .and_then(|b| described.build_ups.get(b.build_up.0))
    else {
        return;
    };
    for change in 0..out.changes.len() {
        for action in 0..out.changes[change].actions.len() {
            let Action::Rebuild { boundary, build_up } = out.changes[change].actions[action] else {
                continue;
            };
            let Some(new) = out.build_ups.get(build_up.0).filter(|_| boundary == cause.boundary)
            else {
                continue;
            };
            let Some(mut kept) = carried(&cause.fault, size, old, new) else { continue };
            kept.id = format!("{} of {}", kept.id, out.boundaries[boundary.0].id);
            let index = BuildUpIndex(out.build_ups.len());
            out.build_ups.push(kept);
            out.changes[change].actions[action] = Action::Rebuild { boundary, build_up: index };
        }
    }
}

/// A new build-up with what of a fault stays in it; `None` where nothing does.
fn carried(fault: &Fault, size: f64, old: &BuildUp, new: &BuildUp) -> Option<BuildUp> {
    let pieces = work(old, new)?;
    let any = |f: &dyn Fn(&Piece) -> bool| pieces.iter().any(f);
    let framed = any(&|p| matches!(p, Piece::Frame { .. } | Piece::Mount(..)));
    let mut out = new.clone();
    let Construction::Layers(before) = &old.construction else { return None };
    let Construction::Layers(after) = &mut out.construction else { return None };
    let cavities =
        |layers: &[Layer]| layers.iter().filter(|l| matches!(l, Layer::Cavity(_))).count();
    let same_leaves = cavities(before) == cavities(after);
    match fault {
        Fault::Bridges if !framed && same_leaves => out.rigid_bridges_per_m2 += size,
        Fault::NoFill if same_leaves && !any(&|p| matches!(p, Piece::Fill(..))) => {
            for layer in after {
                if let Layer::Cavity(c) = layer {
                    c.fill = None;
                }
            }
        }
        Fault::ShallowCavity if !framed && same_leaves => {
            for layer in after {
                if let Layer::Cavity(c) = layer {
                    c.depth = c.depth * size;
                    if let Some(fill) = &mut c.fill {
                        fill.depth.0 = fill.depth.0.min(c.depth.0);
                    }
                }
            }
        }
        Fault::LightLeaf { side_b } => {
            let lighter = |b: &mut Board| {
                b.thickness = b.thickness * size;
                b.surface_mass = b.surface_mass.map(|m| m * size);
            };
            if !kept_sheets(before, after, &[*side_b], &pieces, lighter) {
                return None;
            }
        }
        Fault::NoDamping => {
            let loose = |b: &mut Board| b.joined = Joint::Screwed;
            if !kept_sheets(before, after, &[false, true], &pieces, loose) {
                return None;
            }
        }
        _ => return None,
    }
    Some(out)
}

/// Does something to the sheets of an outer leaf that hang there already and stay; whether there
/// were any. A leaf that comes out is all new; the one opposite, left as it is, stays.
fn kept_sheets(
    before: &[Layer],
    after: &mut Vec<Layer>,
    sides: &[bool],
    pieces: &[Piece],
    edit: impl Fn(&mut Board),
) -> bool {
    // Sheets one by one; a joint belongs to the sheet after it, so this changes nothing else.
    let single = |layers: &[Layer]| -> Vec<Layer> {
        layers
            .iter()
            .flat_map(|l| match l {
                Layer::Board(b) => {
                    vec![Layer::Board(Board { count: 1, ..b.clone() }); b.count.min(100) as usize]
                }
                other => vec![other.clone()],
            })
            .collect()
    };
    let (before, mut new) = (single(before), single(after));
    let leaf = |layers: &[Layer], side_b: bool| -> Vec<usize> {
        let board = |i: &usize| matches!(layers[*i], Layer::Board(_));
        if side_b {
            (0..layers.len()).rev().take_while(board).collect()
        } else {
            (0..layers.len()).take_while(board).collect()
        }
    };
    // Whether the outer leaf of a side is to be what it is described as now.
    let unchanged = |side_b: bool| {
        let (old, new_leaf) = (leaf(&before, side_b), leaf(&new, side_b));
        old.len() == new_leaf.len() && old.iter().zip(&new_leaf).all(|(&o, &n)| before[o] == new[n])
    };
    let comes_out = pieces.iter().any(|p| matches!(p, Piece::Out(_)));
    // One leaf comes out to get at what lies between; the other stays with its fault.
    let stays = |side_b: bool| !comes_out || (unchanged(side_b) && !unchanged(!side_b));
    let sides: Vec<bool> = sides.iter().copied().filter(|&b| stays(b)).collect();
    let mut any = false;
    for side_b in sides {
        let (old_leaf, new_leaf) = (leaf(&before, side_b), leaf(&new, side_b));
        // From the cavity outwards the old sheets come first.
        for (&o, &n) in old_leaf.iter().rev().zip(new_leaf.iter().rev()) {
            let (Layer::Board(was), Layer::Board(is)) = (&before[o], &mut new[n]) else { continue };
            if was.material != is.material || (was.thickness.0 - is.thickness.0).abs() > 1e-6 {
                break;
            }
            edit(is);
            any = true;
        }
    }
    *after = new;
    any
}
