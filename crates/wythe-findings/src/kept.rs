//! Finished comparisons, element by element: what is worth keeping for the next project.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::{Building, Comparison, kind_of};
use wythe_partition::{BuildUp, Construction, Layer};
use wythe_transmission::{BANDS, Cache, LinkKind, TransmissionError, assemble};

use crate::evidence::Trial;

/// Least share of the sound in the receiver that an element must carry for the difference to tell
/// about it: the elasticity of the level to its coupling.
const CARRIES: f64 = 0.5;
/// Decibels of one unit of the natural logarithm of a power.
const DB: f64 = 10.0 * std::f64::consts::LOG10_E;

/// What recordings say about walls and floors, one comparison for each that carried half of the
/// sound somewhere in some band.
///
/// `found` is the building with its faults put in, so that these are not taken for errors of the
/// kind; `described` gives the words. With η the elasticity of the level to the element and Δ the
/// measured minus the predicted difference, its reduction index is off by e with
///
/// ```text
/// 10^(−Δ/10) = 1 − η + η 10^(−e/10)
/// ```
///
/// (derived; exact where the other ways are as predicted).
///
/// # Errors
/// [`TransmissionError`] when the building cannot be put together.
pub fn comparisons(
    described: &Building,
    found: &Building,
    trials: &[Trial],
    cache: &mut Cache,
) -> Result<Vec<Comparison>, TransmissionError> {
    let mut plain = found.clone();
    // What earlier comparisons said must not come back as a comparison of its own.
    plain.experience.clear();
    let mut sums: Vec<Vec<(f64, f64)>> = vec![vec![(0.0, 0.0); BANDS]; plain.boundaries.len()];
    let mut models = Vec::new();
    for trial in trials.iter().filter(|t| t.near.is_none()) {
        let state = match &trial.state {
            Some(name) => plain.in_state(name).unwrap_or_else(|| plain.clone()),
            None => plain.clone(),
        };
        let model = assemble(&state, cache)?;
        let Some(t) = model.transfers(trial.source, &[trial.receiver]).pop() else { continue };
        for s in &t.links {
            let link = &model.links[s.link];
            if link.kind != LinkKind::Direct {
                continue;
            }
            // A wall that a change rebuilt in this state is another wall.
            let same =
                plain.boundaries.get(link.boundary.0).zip(state.boundaries.get(link.boundary.0));
            if same.is_none_or(|(a, b)| a.build_up != b.build_up) {
                continue;
            }
            for (band, observed) in trial.bands.iter() {
                let b = band.index();
                if b >= BANDS || observed.at_least || !(t.energy[b] > 0.0) {
                    continue;
                }
                let eta = s.per_band[b].clamp(0.0, 1.0);
                if eta < CARRIES {
                    continue;
                }
                let delta = observed.difference.0 + 10.0 * t.energy[b].log10();
                let left = (10f64.powf(-delta / 10.0) - (1.0 - eta)) / eta;
                if !(left > 0.0) {
                    continue;
                }
                let e = -10.0 * left.log10();
                let modal = model.modal[trial.source.0][b].hypot(model.modal[trial.receiver.0][b]);
                let rooms = model.absorption_spread.get(trial.receiver.0).copied().unwrap_or(0.1);
                let u = observed.deviation.0.hypot(modal).hypot(rooms * DB) / eta;
                if e.is_finite() && u > 0.0 {
                    let slot = &mut sums[link.boundary.0][b];
                    slot.0 += e / (u * u);
                    slot.1 += 1.0 / (u * u);
                }
            }
        }
        models.push(model);
    }
    let mut out = Vec::new();
    let as_it_is = assemble(&plain, cache)?;
    for (index, boundary) in plain.boundaries.iter().enumerate() {
        if sums[index].iter().all(|(_, w)| *w == 0.0) {
            continue;
        }
        let words =
            described.boundaries.get(index).and_then(|b| described.build_ups.get(b.build_up.0));
        let Some(build_up) = words else { continue };
        let Construction::Layers(layers) = &build_up.construction else { continue };
        let Some(link) = as_it_is.links.iter().find(|l| l.id == boundary.id) else { continue };
        let net = boundary.net_area().0;
        let mut c = Comparison {
            name: boundary.id.clone(),
            kind: kind_of(layers),
            construction: in_words(build_up, layers),
            with: with(described, &plain, index),
            predicted: Spectrum::empty(),
            measured: Spectrum::empty(),
            deviation: Spectrum::empty(),
            stated: Spectrum::empty(),
            note: None,
            left_out: false,
        };
        for band in Band::all().filter(|b| b.index() < BANDS) {
            let b = band.index();
            let (sum, weight) = sums[index][b];
            if weight == 0.0 || !(link.coupling[b] > 0.0) {
                continue;
            }
            let predicted = -10.0 * (link.coupling[b] / net).log10();
            c.predicted.set(band, LevelDifference(predicted));
            c.measured.set(band, LevelDifference(predicted + sum / weight));
            // Measurements of one element share their room and source: no better than the best
            // two independent ones.
            c.deviation.set(band, LevelDifference((1.0 / weight).sqrt().max(0.5)));
            c.stated.set(band, LevelDifference(link.deviation[b]));
        }
        if !c.measured.is_empty() {
            out.push(c);
        }
    }
    Ok(out)
}

fn in_words(build_up: &BuildUp, layers: &[Layer]) -> String {
    if let Some(title) = &build_up.title {
        return title.clone();
    }
    let words: Vec<String> = layers
        .iter()
        .map(|l| match l {
            Layer::Board(b) => {
                format!("{} × {:.1} mm {}", b.count, b.thickness.0 * 1000.0, b.material)
            }
            Layer::Cavity(c) => format!("{:.0} mm cavity", c.depth.0 * 1000.0),
        })
        .collect();
    words.join(", ")
}

/// What differs between the wall as described and as found, in words.
fn with(described: &Building, found: &Building, index: usize) -> Option<String> {
    let of =
        |b: &Building| b.boundaries.get(index).and_then(|x| b.build_ups.get(x.build_up.0)).cloned();
    let (old, new) = (of(described)?, of(found)?);
    if old.construction == new.construction && old.rigid_bridges_per_m2 == new.rigid_bridges_per_m2
    {
        return None;
    }
    let bridges = new.rigid_bridges_per_m2 - old.rigid_bridges_per_m2;
    let mut words = Vec::new();
    if bridges > 0.0 {
        words.push(format!("{bridges:.2} rigid contacts per m²"));
    }
    if old.construction != new.construction {
        words.push("layers as the recordings show them".to_owned());
    }
    Some(words.join(", "))
}
