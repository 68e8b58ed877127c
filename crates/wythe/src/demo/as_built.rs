//! What the invented building is really like. Only the generator of the recordings may look here;
//! nothing that predicts, compares or explains does.

use wythe_bands::{Metre, Transmittance};
use wythe_building::{BuildUpIndex, Building};
use wythe_partition::{Construction, Layer, Seal, SealKind};
use wythe_recording::test_signal::SplitMix64;
use wythe_transmission::{BANDS, Model};

/// Puts the hidden faults into a building.
pub fn with_faults(described: &Building) -> Building {
    let mut built = described.clone();
    // The brush sill of the mixing-room door was never fitted: 9 mm stand open.
    for boundary in &mut built.boundaries {
        for opening in boundary.openings.iter_mut().filter(|o| o.id == "mixing-door") {
            opening.sill = Seal { kind: SealKind::None, gap: Metre(0.009) };
        }
    }
    // One stud of the split frame between hall and mixing room touches both leaves.
    change(&mut built, "hall-mixing-wall", |layers, bridges| {
        let _ = layers;
        *bridges += 0.4;
    });
    // The ceiling has one thin board instead of two thick ones.
    for ceiling in ["hall-bedroom-ceiling", "hall-living-ceiling"] {
        change(&mut built, ceiling, |layers, _| {
            if let Some(Layer::Board(board)) = layers.first_mut() {
                board.count = 1;
                board.thickness = Metre(0.0125);
            }
        });
    }
    built
}

fn change(building: &mut Building, boundary: &str, edit: impl FnOnce(&mut Vec<Layer>, &mut f64)) {
    let Some(index) = building.boundary(boundary) else { return };
    let Some(mut build_up) =
        building.build_ups.get(building.boundaries[index.0].build_up.0).cloned()
    else {
        return;
    };
    if let Construction::Layers(layers) = &mut build_up.construction {
        edit(layers, &mut build_up.rigid_bridges_per_m2);
    }
    build_up.id = format!("{} as built", boundary);
    building.build_ups.push(build_up);
    building.boundaries[index.0].build_up = BuildUpIndex(building.build_ups.len() - 1);
}

/// Makes the couplings differ from any prediction the way real walls do: a smooth random error of
/// half the stated deviation per group, and rooms a tenth harder or softer than thought.
pub fn with_model_error(model: &Model, seed: u64) -> Model {
    let mut random = SplitMix64::new(seed);
    let mut real = model.clone();
    let groups = model.links.iter().map(|l| l.group + 1).max().unwrap_or(0);
    let rho = (-1.0f64 / 3.0).exp();
    for group in 0..groups {
        let mut state = random.gauss();
        for b in 0..BANDS {
            for link in real.links.iter_mut().filter(|l| l.group == group) {
                let error = 0.5 * link.deviation[b] * state;
                link.coupling[b] *= Transmittance(10f64.powf(error / 10.0)).0;
            }
            state = rho * state + (1.0 - rho * rho).sqrt() * random.gauss();
        }
    }
    for areas in &mut real.absorption {
        let factor = (0.1 * random.gauss()).exp();
        areas.iter_mut().for_each(|a| *a *= factor);
    }
    real
}
