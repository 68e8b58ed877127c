//! Other boards came than were ordered: what now?

use wythe_bands::{Standpoint, SurfaceMass};
use wythe_building::{Action, BuildUpIndex, Building};
use wythe_partition::{Board, BuildUp, Construction, Layer, catalogue};

/// Why nothing can be substituted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SubstituteError {
    /// A mass that is none.
    #[error("{0} kg/m² is no weight of a sheet; give 0.1 to 500 kg/m², from the label")]
    Mass(f64),
    /// No new sheet of this material.
    #[error("the chosen changes use no new sheet of `{0}`; new sheets are of: {1}")]
    NotUsed(String, String),
}

/// The building with every **new** sheet of a material in the chosen changes at another mass per
/// sheet; what hangs there already keeps its own.
///
/// # Errors
/// [`SubstituteError`] when the mass is none or no new sheet is of that material.
pub fn substitute(
    building: &Building,
    changes: &[usize],
    material: &str,
    mass: SurfaceMass,
) -> Result<Building, SubstituteError> {
    if !(0.1..=500.0).contains(&mass.0) {
        return Err(SubstituteError::Mass(mass.0));
    }
    let name = |m: &str| catalogue().material(m).map_or(m.to_owned(), |m| m.name.clone());
    let wanted = name(material);
    let mut out = building.clone();
    let mut used = Vec::new();
    let mut touched = false;
    for &index in changes {
        let Some(change) = building.changes.get(index) else { continue };
        for (a, action) in change.actions.iter().enumerate() {
            let Action::Rebuild { boundary, build_up } = action else { continue };
            let old = building
                .boundaries
                .get(boundary.0)
                .and_then(|b| building.build_ups.get(b.build_up.0));
            let Some((old, new)) = old.zip(building.build_ups.get(build_up.0)) else { continue };
            let (swapped, fresh) = swap(old, new, &wanted, mass, &name);
            used.extend(fresh);
            let Some(swapped) = swapped else { continue };
            touched = true;
            let at = BuildUpIndex(out.build_ups.len());
            out.build_ups.push(swapped);
            out.changes[index].actions[a] = Action::Rebuild { boundary: *boundary, build_up: at };
        }
    }
    if !touched {
        used.sort_unstable();
        used.dedup();
        let list = if used.is_empty() { "none".into() } else { used.join(", ") };
        return Err(SubstituteError::NotUsed(material.to_owned(), list));
    }
    Ok(out)
}

/// The new build-up with its fresh sheets of the material at another mass, and the materials of
/// all fresh sheets. Sheets one by one; a joint belongs to the sheet after it, so this changes
/// nothing else.
fn swap(
    old: &BuildUp,
    new: &BuildUp,
    wanted: &str,
    mass: SurfaceMass,
    name: &dyn Fn(&str) -> String,
) -> (Option<BuildUp>, Vec<String>) {
    let (Construction::Layers(before), Construction::Layers(after)) =
        (&old.construction, &new.construction)
    else {
        return (None, Vec::new());
    };
    // What hangs there already, leaf by leaf from whichever side matches; a sheet that is there
    // is used up by the first equal one of the same leaf.
    let leaves = |layers: &[Layer]| {
        let mut out: Vec<Vec<Board>> = vec![Vec::new()];
        for layer in layers {
            match layer {
                Layer::Board(b) => {
                    for _ in 0..b.count.min(100) {
                        if let Some(leaf) = out.last_mut() {
                            leaf.push(Board { count: 1, ..b.clone() });
                        }
                    }
                }
                Layer::Cavity(_) => out.push(Vec::new()),
            }
        }
        out
    };
    let (old_leaves, new_leaves) = (leaves(before), leaves(after));
    // A lining in front shifts the old leaves by one.
    let equal = |a: &Board, b: &Board| {
        a.material == b.material && (a.thickness.0 - b.thickness.0).abs() < 1e-6
    };
    let shift = new_leaves.len().saturating_sub(old_leaves.len());
    let matches_at = |s: usize| {
        old_leaves
            .iter()
            .enumerate()
            .filter(|(i, l)| {
                new_leaves.get(i + s).is_some_and(|n| {
                    l.len() <= n.len() && l.iter().zip(n).all(|(a, b)| equal(a, b))
                })
            })
            .count()
    };
    let at = if matches_at(shift) > matches_at(0) { shift } else { 0 };
    let mut fresh_names = Vec::new();
    let mut touched = false;
    let mut out_leaves = Vec::new();
    for (i, leaf) in new_leaves.iter().enumerate() {
        let mut there: Vec<Board> =
            i.checked_sub(at).and_then(|k| old_leaves.get(k)).cloned().unwrap_or_default();
        let mut sheets = Vec::new();
        // From the cavity outwards: for the first leaf that is from its end.
        let backwards = i == 0;
        let order: Vec<&Board> =
            if backwards { leaf.iter().rev().collect() } else { leaf.iter().collect() };
        for board in order {
            let mut sheet = board.clone();
            match there.iter().position(|t| equal(t, board)) {
                Some(k) => {
                    there.remove(k);
                }
                None => {
                    fresh_names.push(name(&board.material));
                    if name(&board.material) == wanted {
                        sheet.surface_mass = Some(mass);
                        touched = true;
                    }
                }
            }
            sheets.push(sheet);
        }
        if backwards {
            sheets.reverse();
        }
        out_leaves.push(sheets);
    }
    let gaps = after.iter().filter(|l| matches!(l, Layer::Cavity(_)));
    let mut layers: Vec<Layer> = Vec::new();
    let mut gaps = gaps.cloned();
    for leaf in out_leaves {
        layers.extend(leaf.into_iter().map(Layer::Board));
        layers.extend(gaps.next());
    }
    let swapped = touched.then(|| BuildUp {
        id: format!("{} as delivered", new.id),
        construction: Construction::Layers(layers),
        standpoint: Standpoint {
            source: Some("weight of the sheets that came".into()),
            ..new.standpoint.clone()
        },
        ..new.clone()
    });
    (swapped, fresh_names)
}
