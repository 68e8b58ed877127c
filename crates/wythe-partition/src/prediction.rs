//! What a build-up does to sound, and how sure that is.

use std::f64::consts::PI;

use wythe_bands::{
    Air, Band, Hertz, LevelDifference, Metre, Remark, Spectrum, SquareMetre, Standing, Standpoint,
    SurfaceMass, Transmittance,
};

use crate::element::Element;
use crate::fitted::{FITTED, Fitted};
use crate::layup::{Gap, Layup};
use crate::leaf::Leaf;
use crate::quadrature::band_rule;
use crate::{
    BuildUp, Construction, ElectricalBoxes, Family, FrameKind, Layer, PartitionError, data_sheet,
    deviation, electrical_box, inputs, method,
};

/// Where a build-up is asked about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// The air on both sides.
    pub air: Air,
    /// Area of the element; finite size matters at low bands. 10 m² in the laboratory.
    pub area: SquareMetre,
}

impl Default for Conditions {
    fn default() -> Self {
        Conditions { air: Air::default(), area: SquareMetre(10.0) }
    }
}

/// Reduction index of one build-up with its parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// Reduction index R per band, 20 Hz to 10 kHz.
    pub reduction: Spectrum<LevelDifference>,
    /// Standard deviation of R per band, dB, from residuals on published tests and the spread of
    /// what is assumed or unknown.
    pub deviation: Spectrum<LevelDifference>,
    /// R by each path alone; their transmittances add up to the whole.
    pub paths: Vec<PathReduction>,
    /// Bands not calculated from layers nor measured, but filled in beside measured data.
    pub filled_in: Spectrum<()>,
    /// Total mass per area; `None` when a data sheet does not say.
    pub surface_mass: Option<SurfaceMass>,
    /// Total thickness; `None` when a data sheet does not say.
    pub thickness: Option<Metre>,
    /// Resonances of leaves on the air between them, rising.
    pub resonances: Vec<Hertz>,
    /// Critical frequency of each leaf that has one below 40 kHz, from side a. A leaf that is
    /// stiffer one way is named by its soft way.
    pub critical: Vec<Hertz>,
    /// Name of the method used.
    pub method: &'static str,
    /// Names of all methods that apply.
    pub methods_that_apply: Vec<&'static str>,
    /// What has to be said beside it.
    pub remarks: Vec<Remark>,
}

/// Reduction by one path alone.
#[derive(Clone, Debug, PartialEq)]
pub struct PathReduction {
    /// Which path.
    pub kind: PathKind,
    /// R if this were the only path.
    pub reduction: Spectrum<LevelDifference>,
}

/// Ways through a build-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PathKind {
    /// Through the leaves and the air between them.
    Airborne,
    /// Through studs, channels, clips or ties.
    Studs,
    /// Through stated short circuits.
    Bridges,
    /// By way of electrical boxes.
    Boxes,
    /// Round the edge, where the leaves meet a common plate or wall.
    Perimeter,
}

impl PathKind {
    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            PathKind::Airborne => "airborne",
            PathKind::Studs => "studs",
            PathKind::Bridges => "bridges",
            PathKind::Boxes => "boxes",
            PathKind::Perimeter => "perimeter",
        }
    }
}

/// What an opening lets through, part by part.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningPrediction {
    /// The parts; their coupling areas add up.
    pub parts: Vec<OpeningPart>,
    /// Remarks.
    pub remarks: Vec<Remark>,
}

/// One part of an opening.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningPart {
    /// `leaf`, `head`, `jambs`, `sill`, `keyhole`, `letter plate` or `opening`.
    pub name: &'static str,
    /// Area × transmittance, m², per band, 20 Hz to 10 kHz.
    pub coupling: Spectrum<Transmittance>,
    /// Standard deviation of 10 lg of it, dB.
    pub deviation: Spectrum<LevelDifference>,
}

impl Prediction {
    /// The same with one path taken away, for a caller who accounts for it elsewhere; flanking
    /// round the edge, for instance. The airborne path cannot be taken away.
    pub fn without(&self, path: PathKind) -> Prediction {
        let mut out = self.clone();
        if path == PathKind::Airborne {
            return out;
        }
        out.paths.retain(|p| p.kind != path);
        if !out.paths.is_empty() {
            out.reduction = Band::all()
                .filter_map(|band| {
                    let taus: Vec<f64> = out
                        .paths
                        .iter()
                        .filter_map(|p| p.reduction.get(band))
                        .map(|r| r.transmittance().0)
                        .collect();
                    let tau: f64 = taus.iter().sum();
                    (!taus.is_empty()).then(|| (band, Transmittance(tau.min(1.0)).reduction()))
                })
                .collect();
        }
        out
    }
}

/// Number of bands calculated, 20 Hz to 10 kHz.
const BANDS: usize = 28;
/// Number of ways through a build-up.
const PATHS: usize = 5;
/// No finite element keeps back more than this; beyond it figures mean nothing.
const LEAST_TRANSMITTANCE: f64 = 1e-16;

/// Predicts the reduction index of a build-up.
///
/// # Errors
/// Anything in the description that cannot be used: see [`PartitionError`].
pub fn predict(build_up: &BuildUp, conditions: &Conditions) -> Result<Prediction, PartitionError> {
    predict_with(build_up, conditions, &FITTED)
}

/// [`predict`] with other fitted figures, for the program that fits them.
#[doc(hidden)]
pub fn predict_with(
    build_up: &BuildUp,
    conditions: &Conditions,
    fitted: &Fitted,
) -> Result<Prediction, PartitionError> {
    let mut prediction = predict_nominal(build_up, conditions, fitted)?;
    let layers = layers_of(build_up);
    let unknown = |s: &Standpoint| s.standing == Standing::Unknown;
    let any_unknown = unknown(&build_up.standpoint)
        || layers.iter().any(|l| match l {
            Layer::Board(b) => unknown(&b.standpoint),
            Layer::Cavity(c) => unknown(&c.standpoint),
        });
    // What is merely assumed is so in the published record too, and is in its residuals already;
    // what is unknown comes on top.
    if any_unknown && prediction.method != "measured" {
        let effects = inputs::effects(build_up, conditions, fitted, |s| s == Standing::Unknown)?;
        prediction.deviation = prediction.deviation.map(|band, sd| {
            let more: f64 =
                effects.iter().filter_map(|e| e.change.get(band)).map(|c| c.0 * c.0).sum();
            LevelDifference((sd.0 * sd.0 + more).sqrt())
        });
    }
    Ok(prediction)
}

/// The prediction with the deviation of its family, whatever is unknown about it.
pub(crate) fn predict_nominal(
    build_up: &BuildUp,
    conditions: &Conditions,
    fitted: &Fitted,
) -> Result<Prediction, PartitionError> {
    check_conditions(&build_up.id, conditions)?;
    let element = Element::new(conditions, fitted);
    match &build_up.construction {
        Construction::Layers(layers) => from_layers(build_up, layers, &element),
        Construction::Measured(sheet) => data_sheet::predict(build_up, sheet, &element),
    }
}

pub(crate) fn check_conditions(id: &str, conditions: &Conditions) -> Result<(), PartitionError> {
    let refuse = |what, value, remedy| {
        Err(PartitionError::Conditions { id: id.to_owned(), what, value, remedy })
    };
    let SquareMetre(area) = conditions.area;
    if !(0.01..=10_000.0).contains(&area) {
        return refuse("an area in m²", area, "give an area between 0.01 m² and 10 000 m²");
    }
    let air = conditions.air;
    if !(-40.0..=80.0).contains(&air.celsius) {
        return refuse("a temperature in °C", air.celsius, "give −40 °C to 80 °C");
    }
    if !(20_000.0..=200_000.0).contains(&air.pressure) {
        return refuse("an air pressure in Pa", air.pressure, "give 20 kPa to 200 kPa");
    }
    Ok(())
}

/// At least `wanted` frequencies of one band with their weights, which add up to 1: Gauss's rule
/// over the logarithm of frequency.
pub(crate) fn frequencies(band: Band, wanted: usize) -> impl Iterator<Item = (f64, f64)> {
    let rule = band_rule(wanted);
    let lower = band.lower_edge().0;
    rule.nodes.iter().zip(&rule.weights).map(move |(x, w)| (lower * 10f64.powf(0.1 * x), *w))
}

/// How many frequencies a band needs, so that the mean of τ is good to 0.05 dB.
fn frequencies_needed(layup: &Layup, critical: &[f64], element: &Element, band: Band) -> usize {
    let f = band.centre().0;
    let near = critical.iter().any(|fc| (0.65..1.7).contains(&(f / fc)));
    let above = critical.iter().any(|fc| f > 0.8 * fc);
    let lively = layup
        .gaps
        .iter()
        .filter(|gap| gap.is_lively())
        .map(|gap| element.wavenumber(f) * gap.depth / PI)
        .fold(0.0, f64::max);
    let resonances =
        if (above && lively > 0.0) || lively > 0.7 { 14.0 + 14.0 * lively } else { 5.0 };
    // About the mass-air-mass resonance of an empty gap the air damps little.
    let pumped = layup.gaps.iter().zip(layup.leaves.windows(2)).any(|(gap, pair)| {
        let f0 = method::stud_path::mass_air_mass(pair[0].mass, pair[1].mass, gap.air_depth());
        gap.is_lively() && (0.7..1.5).contains(&(f / f0))
    });
    let base = match (near || pumped, layup.gaps.is_empty()) {
        (false, _) => 5,
        (true, false) => 9,
        // A single leaf costs nothing, and its dip is bare.
        (true, true) => 41,
    };
    base.max(resonances as usize)
}

pub(crate) fn from_layers(
    build_up: &BuildUp,
    layers: &[Layer],
    element: &Element,
) -> Result<Prediction, PartitionError> {
    let layup = Layup::new(&build_up.id, layers)?;
    let bridges = build_up.rigid_bridges_per_m2;
    if !(0.0..=10_000.0).contains(&bridges) {
        return Err(PartitionError::Unusable {
            id: build_up.id.clone(),
            layer: 0,
            what: "number of rigid bridges",
            value: bridges,
            unit: "per m²",
            why: "is no number of bridges",
            remedy: "give 0 for none, or how many there are on a square metre",
        });
    }
    for set in &build_up.boxes {
        if !(0.0..=100.0).contains(&set.per_m2) {
            return Err(PartitionError::Unusable {
                id: build_up.id.clone(),
                layer: 0,
                what: "number of electrical boxes",
                value: set.per_m2,
                unit: "per m²",
                why: "is no number of boxes",
                remedy: "give 0 for none, or how many there are on a square metre",
            });
        }
    }
    let family = Family::of(&layup, panes(layers));
    let critical: Vec<f64> = layup
        .leaves
        .iter()
        .map(|l| l.critical(element.air).map_or(f64::INFINITY, |f| f.0))
        .collect();
    let pairs = tied_pairs(&layup, bridges);
    let mut taus = [[0.0f64; PATHS]; BANDS];
    for (band, tau) in Band::range(Band::FIRST, Band::HZ_10000).zip(&mut taus) {
        let wanted = frequencies_needed(&layup, &critical, element, band);
        let shares = shares(&layup, &pairs, element, band);
        for (f, weight) in frequencies(band, wanted) {
            let at = by_path(&layup, element, (bridges, &build_up.boxes), &shares, f);
            for (sum, one) in tau.iter_mut().zip(at) {
                *sum += one * weight;
            }
        }
    }
    let kinds = [
        PathKind::Airborne,
        PathKind::Studs,
        PathKind::Bridges,
        PathKind::Boxes,
        PathKind::Perimeter,
    ];
    let spectrum = |value: &dyn Fn(&[f64; PATHS]) -> f64| -> Spectrum<LevelDifference> {
        Band::range(Band::FIRST, Band::HZ_10000)
            .zip(&taus)
            .map(|(band, tau)| {
                (band, Transmittance(value(tau).clamp(LEAST_TRANSMITTANCE, 1.0)).reduction())
            })
            .collect()
    };
    let paths = kinds
        .into_iter()
        .enumerate()
        .filter(|(i, kind)| *kind == PathKind::Airborne || taus.iter().any(|t| t[*i] > 0.0))
        .map(|(i, kind)| PathReduction { kind, reduction: spectrum(&|t| t[i]) })
        .collect();
    let methods: Vec<&'static str> = method::fitting(&layup).map(|m| m.name).collect();
    Ok(Prediction {
        reduction: spectrum(&|t| t.iter().sum()),
        deviation: deviation::of_family(family),
        paths,
        filled_in: Spectrum::empty(),
        surface_mass: Some(SurfaceMass(layup.mass())),
        thickness: Some(Metre(layup.thickness())),
        resonances: resonances(&layup, element),
        critical: critical.into_iter().filter(|f| f.is_finite()).map(Hertz).collect(),
        method: methods.first().copied().unwrap_or("mass_law"),
        methods_that_apply: methods,
        remarks: remarks(build_up, &layup, family),
    })
}

/// The layers of a build-up, also where they stand beside a data sheet.
pub(crate) fn layers_of(build_up: &BuildUp) -> &[Layer] {
    match &build_up.construction {
        Construction::Layers(layers) => layers,
        Construction::Measured(sheet) => &sheet.layers,
    }
}

/// Whether every leaf is of glass.
fn panes(layers: &[Layer]) -> bool {
    layers.iter().all(|l| match l {
        Layer::Cavity(_) => true,
        Layer::Board(b) => b.known().is_some_and(|m| m.name.contains("glass")),
    })
}

/// Transmittance by each path at one frequency: airborne, studs, bridges, boxes, perimeter.
pub(crate) fn by_path(
    layup: &Layup,
    element: &Element,
    (bridges, boxes): (f64, &[ElectricalBoxes]),
    shares: &[f64],
    f: f64,
) -> [f64; PATHS] {
    let through_boxes = if boxes.is_empty() {
        0.0
    } else {
        electrical_box::transmittance(layup, boxes, element, f)
    };
    match layup.leaves.as_slice() {
        [leaf] if leaf.stiff_ratio > 1.0 => [
            method::layered_media::transmittance(layup, element, f),
            0.0,
            0.0,
            through_boxes,
            method::perimeter::transmittance(layup, element, f),
        ],
        [leaf] => [
            method::davy_2009::transmittance(leaf, element, f),
            0.0,
            0.0,
            through_boxes,
            method::perimeter::transmittance(layup, element, f),
        ],

        _ => {
            let airborne = (free_waves(layup, element, f)
                * method::layered_media::transmittance(layup, element, f))
            .min(1.0);
            let studs = through_frames(layup, element, f, shares, |a, b, gap| {
                method::stud_path::transmittance(a, b, gap, element, f)
            });
            let points = if bridges > 0.0 {
                through_frames(layup, element, f, shares, |a, b, gap| {
                    method::stud_path::bridges(a, b, gap, bridges, element, f)
                })
            } else {
                0.0
            };
            let perimeter = method::perimeter::transmittance(layup, element, f);
            [airborne, studs, points, through_boxes, perimeter]
        }
    }
}

/// By how much free bending waves of its leaves raise what a stack lets through.
///
/// Above their resonance on the air between them, leaves move for themselves and each raises what
/// comes to it: the product. Below it they move as one plate, whose free waves count once: the
/// largest of them. The two are blended as the frame's path is.
pub(crate) fn free_waves(layup: &Layup, element: &Element, f: f64) -> f64 {
    let gain = |leaf: &Leaf| method::davy_2009::free_wave_gain(leaf, element, f);
    let mut together = gain(&layup.leaves[0]);
    for (gap, pair) in layup.gaps.iter().zip(layup.leaves.windows(2)) {
        let next = gain(&pair[1]);
        if together == 1.0 || next == 1.0 {
            together *= next;
            continue;
        }
        let f0 = method::stud_path::mass_air_mass(pair[0].mass, pair[1].mass, gap.air_depth());
        let apart = 1.0 / (1.0 + (f0 / f).powi(4));
        let (once, twice) = (together.max(next), together * next);
        together = once + apart * (twice - once);
    }
    together
}

/// Transmittance through what ties leaves to each other, of two leaves or more.
///
/// With more than two, a tie short-circuits its own cavity only: the sound goes through the others
/// as it does in air, so the tie's τ is lessened as the whole stack lessens that of its pair. Ties
/// in all cavities make one more way, pair by pair, each counted against the leaf they share.
/// Derived here, for want of a published form; a mean over standing waves in the middle leaf.
fn through_frames(
    layup: &Layup,
    element: &Element,
    f: f64,
    shares: &[f64],
    tie: impl Fn(&Leaf, &Leaf, &Gap) -> f64,
) -> f64 {
    let mut sum = 0.0;
    let mut all_through = 1.0;
    let pairs = layup.gaps.iter().zip(layup.leaves.windows(2));
    for (i, (gap, pair)) in pairs.enumerate() {
        let tau = tie(&pair[0], &pair[1], gap);
        sum += tau * shares.get(i).copied().unwrap_or(1.0);
        all_through *= tau;
        if i > 0 && all_through > 0.0 {
            all_through /= method::davy_2009::transmittance(&layup.leaves[i], element, f);
        }
    }
    if layup.gaps.len() == 1 { sum } else { sum + all_through.min(1.0) }
}

/// The pairs of leaves tied to each other in a stack of three leaves and more; none for two.
pub(crate) fn tied_pairs(layup: &Layup, bridges: f64) -> Vec<Option<Layup>> {
    if layup.gaps.len() < 2 {
        return Vec::new();
    }
    layup
        .gaps
        .iter()
        .enumerate()
        .map(|(i, gap)| {
            (gap.frame.is_some() || bridges > 0.0)
                .then(|| Layup { leaves: layup.leaves[i..i + 2].to_vec(), gaps: vec![gap.clone()] })
        })
        .collect()
}

/// What each tied pair keeps of its transmittance in the stack, about one band. It enters an
/// approximate path only and need not be better than rough.
pub(crate) fn shares(
    layup: &Layup,
    pairs: &[Option<Layup>],
    element: &Element,
    band: Band,
) -> Vec<f64> {
    if pairs.is_empty() {
        return Vec::new();
    }
    let rough = method::layered_media::rough_transmittance;
    let whole = rough(layup, element, band);
    pairs
        .iter()
        .map(|pair| match pair {
            Some(pair) => (whole / rough(pair, element, band)).min(1.0),
            None => 1.0,
        })
        .collect()
}

/// What has to be said beside a prediction from layers.
fn remarks(build_up: &BuildUp, layup: &Layup, family: Family) -> Vec<Remark> {
    let mut out = Vec::new();
    let mut say = |code, text: String| out.push(Remark::new(code, text).at(build_up.id.clone()));
    if layup.leaves.len() >= 3 {
        let outer: f64 = layup.gaps.iter().map(|g| g.depth).sum();
        let (a, b) = (layup.leaves[0].mass, layup.leaves[layup.leaves.len() - 1].mass);
        let inner = layup.mass() - a - b;
        let together = method::stud_path::mass_air_mass(a + inner / 2.0, b + inner / 2.0, outer);
        say(
            "partition::third-leaf",
            format!(
                "a leaf in the middle lowers the low bands: with its boards moved to the outer \
                 leaves and one cavity of {:.0} mm the resonance would be at {together:.0} Hz; \
                 compare both",
                1000.0 * outer
            ),
        );
    }
    if let Some((first, last)) = touching(layers_of(build_up)) {
        say(
            "partition::one-leaf",
            format!(
                "layers {first} to {last} touch and count as one leaf; if there is air between them, \
                 write its cavities"
            ),
        );
    }
    for gap in &layup.gaps {
        let Some(frame) = &gap.frame else { continue };
        let mountable = matches!(
            frame.kind,
            FrameKind::TimberStuds | FrameKind::LightSteelStuds | FrameKind::LoadBearingSteelStuds
        );
        if frame.mount.is_some() && !mountable {
            say(
                "partition::mount-on-split-frame",
                "a resilient mount on a frame that is split already adds little; it is counted \
                 with the common plates"
                    .to_owned(),
            );
        }
        if gap.depth < 0.013 && frame.mount.is_some() {
            say(
                "partition::mount-without-room",
                "a resilient channel needs about 13 mm of the cavity; check the depth".to_owned(),
            );
        }
    }
    if family == Family::Other && layup.leaves.iter().any(Leaf::is_heavy) {
        say(
            "partition::no-record",
            "no published tests of linings or cavity walls are in the record; the standard \
             deviation is taken from other families"
                .to_owned(),
        );
    }
    out
}

/// Four entries of boards or more in a row, by number: as a rule someone forgot the cavities.
fn touching(layers: &[Layer]) -> Option<(usize, usize)> {
    let mut from = 0;
    for (i, layer) in layers.iter().enumerate() {
        if matches!(layer, Layer::Cavity(_)) {
            from = i + 1;
        } else if i - from >= 3 {
            let end = layers[i..].iter().position(|l| matches!(l, Layer::Cavity(_)));
            return Some((from + 1, end.map_or(layers.len(), |n| i + n)));
        }
    }
    None
}

/// Resonances of leaves on the air between them, rising: the eigenvalues of masses on springs.
fn resonances(layup: &Layup, element: &Element) -> Vec<Hertz> {
    let n = layup.leaves.len();
    if n < 2 {
        return Vec::new();
    }
    // Stiffness per area of each gap: adiabatic air ρc²/d; a gap with fill is isothermal in the
    // fill, softer by γ = 1.4 there.
    let springs: Vec<f64> = layup
        .gaps
        .iter()
        .map(|g| {
            if let Some((modulus, _)) = g.resilient {
                return modulus / g.depth;
            }
            let wool = g.fill.map_or(0.0, |(d, _)| d);
            element.rho * element.c * element.c / (g.depth - wool + 1.4 * wool)
        })
        .collect();
    // Symmetric form M^-1/2 K M^-1/2.
    let mut k = nalgebra::DMatrix::<f64>::zeros(n, n);
    for (i, s) in springs.iter().enumerate() {
        let (mi, mj) = (layup.leaves[i].mass, layup.leaves[i + 1].mass);
        k[(i, i)] += s / mi;
        k[(i + 1, i + 1)] += s / mj;
        k[(i, i + 1)] -= s / (mi * mj).sqrt();
        k[(i + 1, i)] -= s / (mi * mj).sqrt();
    }
    let mut squares: Vec<f64> = k.symmetric_eigenvalues().iter().copied().collect();
    squares.sort_by(f64::total_cmp);
    // The first is the whole wall moving freely, 0 Hz.
    squares.into_iter().skip(1).map(|w2| Hertz(w2.max(0.0).sqrt() / (2.0 * PI))).collect()
}
