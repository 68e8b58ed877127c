//! Which of the inputs that nobody has looked at moves the result most.

use wythe_bands::{Band, FlowResistivity, LevelDifference, Metre, Spectrum, Standing, SurfaceMass};

use crate::prediction::{layers_of, predict_nominal};
use crate::{BuildUp, Conditions, Construction, Fitted, Layer, PartitionError};

/// How much one input moves the reduction index when it is off by one standard deviation.
#[derive(Clone, Debug, PartialEq)]
pub struct InputEffect {
    /// Number of the layer, 1 at side a; `None` for the build-up as a whole.
    pub layer: Option<usize>,
    /// Which input, for people: `stiffness of gypsum board`.
    pub input: String,
    /// What one standard deviation of it is taken to be, for people: `± 12 %`.
    pub spread: String,
    /// How well the user says it is known.
    pub standing: Standing,
    /// Change of R by one standard deviation of the input.
    pub change: Spectrum<LevelDifference>,
    /// Root mean square of the change over 100 Hz to 3150 Hz.
    pub moves: LevelDifference,
}

/// Spreads by common practice, no source, where the catalogue has none.
const MASS_SPREAD: f64 = 0.07;
const DEPTH_SPREAD: f64 = 0.05;
const SPACING_SPREAD: f64 = 0.2;
/// Rigid short circuits that poor work leaves between leaves meant to be apart, per m².
const SLIPS_PER_M2: f64 = 0.1;

/// All inputs of a build-up of layers by how much each moves R, the strongest first. Known ones
/// are listed too, with their standing; `wythe check` shows those that are not known.
///
/// # Errors
/// Anything in the description that cannot be used. A data sheet without layers has no inputs.
pub fn rank_inputs(
    build_up: &BuildUp,
    conditions: &Conditions,
) -> Result<Vec<InputEffect>, PartitionError> {
    effects(build_up, conditions, &crate::FITTED, |_| true)
}

/// Effects of the inputs whose standing `wanted` lets pass.
pub(crate) fn effects(
    build_up: &BuildUp,
    conditions: &Conditions,
    fitted: &Fitted,
    wanted: impl Fn(Standing) -> bool,
) -> Result<Vec<InputEffect>, PartitionError> {
    let layers = layers_of(build_up);
    if layers.is_empty() {
        return Ok(Vec::new());
    }
    let whole = build_up.standpoint.standing;
    let base = with_layers(build_up, layers.to_vec());
    let nominal = predict_nominal(&base, conditions, fitted)?.reduction;
    let mut out = Vec::new();
    let mut consider = |layer: Option<usize>,
                        input: String,
                        spread: String,
                        standing: Standing,
                        changed: BuildUp|
     -> Result<(), PartitionError> {
        let r = predict_nominal(&changed, conditions, fitted)?.reduction;
        let change = r.zip_with(&nominal, |a, b| a - b);
        let middle = change.within(Band::HZ_100, Band::HZ_3150);
        let n = middle.len().max(1) as f64;
        let moves = (middle.iter().map(|(_, c)| c.0 * c.0).sum::<f64>() / n).sqrt();
        out.push(InputEffect {
            layer,
            input,
            spread,
            standing,
            change,
            moves: LevelDifference(moves),
        });
        Ok(())
    };
    for (i, layer) in layers.iter().enumerate() {
        let number = Some(i + 1);
        let changed = |layer: Layer| {
            let mut layers = layers.to_vec();
            layers[i] = layer;
            with_layers(build_up, layers)
        };
        match layer {
            Layer::Board(board) => {
                // The whole is known no better than the least known that was said of it.
                let standing = board.standpoint.standing.max(whole);
                if !wanted(standing) {
                    continue;
                }
                let Some(material) = board.known() else { continue };
                let mass = board
                    .surface_mass
                    .unwrap_or(SurfaceMass(material.density.0 * board.thickness.0));
                let mut heavier = board.clone();
                heavier.surface_mass = Some(mass * (1.0 + MASS_SPREAD));
                consider(
                    number,
                    format!("mass of {}", material.name),
                    percent(MASS_SPREAD),
                    standing,
                    changed(Layer::Board(heavier)),
                )?;
                if material.spread > 0.0 {
                    // At the same mass a thinner sheet of the table has the higher f_c.
                    let mut softer = board.clone();
                    softer.surface_mass = Some(mass);
                    softer.thickness = Metre(board.thickness.0 / (1.0 + material.spread));
                    consider(
                        number,
                        format!("stiffness of {}", material.name),
                        percent(material.spread),
                        standing,
                        changed(Layer::Board(softer)),
                    )?;
                }
            }
            Layer::Cavity(cavity) => {
                let standing = cavity.standpoint.standing.max(whole);
                if !wanted(standing) {
                    continue;
                }
                let mut deeper = cavity.clone();
                deeper.depth = cavity.depth * (1.0 + DEPTH_SPREAD);
                consider(
                    number,
                    "depth of the cavity".to_owned(),
                    percent(DEPTH_SPREAD),
                    standing,
                    changed(Layer::Cavity(deeper)),
                )?;
                if let Some(fill) = &cavity.fill
                    && let Some(known) = fill.known()
                {
                    let sigma = fill.flow_resistivity.unwrap_or(known.flow_resistivity);
                    let mut denser = cavity.clone();
                    if let Some(f) = &mut denser.fill {
                        f.flow_resistivity =
                            Some(FlowResistivity((sigma.0 * known.spread_factor).min(9.9e5)));
                    }
                    consider(
                        number,
                        format!("flow resistivity of {}", known.name),
                        format!("× {}", known.spread_factor),
                        standing,
                        changed(Layer::Cavity(denser)),
                    )?;
                    let mut without = cavity.clone();
                    without.fill = None;
                    if standing == Standing::Unknown {
                        consider(
                            number,
                            format!("whether the {} is there", known.name),
                            "there or not".to_owned(),
                            standing,
                            changed(Layer::Cavity(without)),
                        )?;
                    }
                }
                if cavity.frame.is_some() {
                    let mut wider = cavity.clone();
                    if let Some(frame) = &mut wider.frame {
                        frame.spacing = frame.spacing * (1.0 + SPACING_SPREAD);
                    }
                    consider(
                        number,
                        "spacing of the frame".to_owned(),
                        percent(SPACING_SPREAD),
                        standing,
                        changed(Layer::Cavity(wider)),
                    )?;
                }
            }
        }
    }
    if layers.iter().any(|l| matches!(l, Layer::Cavity(_))) && wanted(whole) {
        let mut bridged = base.clone();
        bridged.rigid_bridges_per_m2 += SLIPS_PER_M2;
        consider(
            None,
            "short circuits by workmanship".to_owned(),
            format!("+ {SLIPS_PER_M2} per m²"),
            whole,
            bridged,
        )?;
    }
    out.sort_by(|a, b| b.moves.0.total_cmp(&a.moves.0));
    Ok(out)
}

fn with_layers(build_up: &BuildUp, layers: Vec<Layer>) -> BuildUp {
    BuildUp { construction: Construction::Layers(layers), ..build_up.clone() }
}

fn percent(share: f64) -> String {
    format!("± {:.0} %", 100.0 * share)
}
