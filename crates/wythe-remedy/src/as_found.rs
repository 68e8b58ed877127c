//! The building as the recordings show it, so that changes are judged where they would be made.

use wythe_bands::Metre;
use wythe_building::{Building, Leak, LeakShape};
use wythe_findings::{Cause, Fault, Posterior};

/// A fault is taken as there from this probability on: it is then likelier present than not.
const TAKEN_AS_THERE: f64 = 0.5;

/// The building with every fault that is more likely there than not, each at its most probable
/// size, and the positions of these faults in [`Posterior::findings`].
///
/// Faults that stand in for each other count together, and only the likeliest of them is put in:
/// that a door leaks can be sure while the edge is not.
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
        let stands_in = |&other: &usize| {
            cause_of(&posterior.findings[other].cause).is_some_and(|c| finding.rivals.contains(&c))
        };
        if made.iter().any(stands_in) {
            continue;
        }
        let rivals: f64 = (0..posterior.findings.len())
            .filter(|k| *k != i && stands_in(k))
            .map(probability)
            .sum();
        if finding.probability + rivals < TAKEN_AS_THERE {
            continue;
        }
        if finding.cause.fault == Fault::OpenJoint {
            make_room_for_joint(&mut out, &finding.cause);
        }
        finding.cause.apply(&mut out, finding.size);
        made.push(i);
    }
    made.sort_unstable();
    (out, made)
}

/// An open joint is a leak of its own, which the description does not have; its width and length
/// are set by [`Cause::apply`].
fn make_room_for_joint(building: &mut Building, cause: &Cause) {
    let Some(boundary) = building.boundaries.get_mut(cause.boundary.0) else { return };
    let id = format!("{} joint", boundary.id);
    if boundary.leaks.iter().any(|l| l.id == id) {
        return;
    }
    boundary.leaks.push(Leak {
        title: Some(format!("{} edge joint", boundary.name())),
        id,
        shape: LeakShape::Slit { width: Metre(1e-7), length: Metre(1.0), along_edge: true },
        // As deep as the inference takes it.
        depth: Metre(0.05),
        standpoint: boundary.standpoint.clone(),
    });
}
