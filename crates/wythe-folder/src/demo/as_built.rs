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
    // The drop seal of the hall door hangs in the air: 7 mm stand open.
    for boundary in &mut built.boundaries {
        for opening in boundary.openings.iter_mut().filter(|o| o.id == "hall-door") {
            opening.sill = Seal { kind: SealKind::None, gap: Metre(0.007) };
        }
    }
    // One stud of the split frame between hall and mixing room touches both leaves.
    change(&mut built, "hall-mixing-wall", |layers, bridges| {
        let _ = layers;
        *bridges += 0.15;
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
    build_up.id = format!("{} as built", build_up.id);
    building.build_ups.push(build_up);
    building.boundaries[index.0].build_up = BuildUpIndex(building.build_ups.len() - 1);
}

/// Makes the couplings differ from any prediction the way real walls do: a smooth random error of
/// the stated deviation, three quarters of its variance that of the kind of wall and a quarter the
/// wall's own, and rooms a tenth harder or softer than thought.
pub fn with_model_error(model: &Model, seed: u64) -> Model {
    let mut real = model.clone();
    for link in &mut real.links {
        let kind = model.groups[link.group].replace(" as built", "");
        let kind = curve(&kind, seed);
        let own = curve(&link.id, seed);
        for (b, g) in link.coupling.iter_mut().enumerate() {
            let error = link.deviation[b] * SCALE * (0.866 * kind[b] + 0.5 * own[b]);
            *g *= Transmittance(10f64.powf(error / 10.0)).0;
        }
    }
    let mut random = SplitMix64::new(seed);
    for areas in &mut real.absorption {
        let factor = (0.1 * random.gauss()).exp();
        areas.iter_mut().for_each(|a| *a *= factor);
    }
    real
}

/// The demonstration's walls are built by people who know the trade: two thirds of the stated
/// deviation.
const SCALE: f64 = 0.67;

/// A smooth random curve that belongs to a name.
fn curve(name: &str, seed: u64) -> [f64; BANDS] {
    let hash = name.bytes().fold(seed ^ 0xcbf2_9ce4_8422_2325, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x100_0000_01b3)
    });
    let mut random = SplitMix64::new(hash);
    let rho = (-1.0f64 / 3.0).exp();
    let mut state = random.gauss();
    std::array::from_fn(|_| {
        let now = state;
        state = rho * state + (1.0 - rho * rho).sqrt() * random.gauss();
        now
    })
}
