//! What can be wrong with a building, beside the model's own error.
//!
//! A cause is one physical fault of one element with one size: a gap in millimetres, bridges per
//! square metre, a leaf lighter than described. It is either absent, and the element is as
//! described, or present with a size drawn from a broad prior. How a size changes each link is
//! computed by predicting the element again, on a grid of sizes.

use wythe_bands::{Metre, Standing};
use wythe_building::{Boundary, BoundaryIndex, Building, Leak, LeakShape};
use wythe_partition::{
    BuildUp, Construction, Layer, OpeningKind, OpeningState, PerimeterPart, Seal, SealKind,
};
use wythe_transmission::{Cache, Model, PerBand, TransmissionError, links_of};

/// A fault of one element.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The element, in the user's words: `lobby door sill`.
    pub element: String,
    /// What is meant by its size: `gap`, `rigid bridges`, …
    pub parameter: &'static str,
    /// The boundary it belongs to.
    pub boundary: BoundaryIndex,
    /// The kind of fault.
    pub fault: Fault,
    /// Prior probability that it is present.
    pub prior: f64,
    /// Median of the size when present, in the fault's unit.
    pub median: f64,
    /// Standard deviation of its natural logarithm when present; 0 for a fault that either is or
    /// is not.
    pub log_spread: f64,
}

/// Kinds of fault.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// An edge of an opening stands open by some millimetres.
    OpenEdge {
        /// Opening by id.
        opening: String,
        /// Which edge.
        part: PerimeterPart,
        /// The gap described, mm; 0 where a seal is described.
        described_mm: f64,
    },
    /// Rigid bridges between the leaves, per m².
    Bridges,
    /// The last (`b`) or first (`a`) leaf has only this part of the mass described.
    LightLeaf {
        /// Whether it is the leaf of side b.
        side_b: bool,
    },
    /// The fill of the cavities is missing.
    NoFill,
    /// An unsealed joint along the edge of the boundary, mm wide.
    OpenJoint,
}

impl Cause {
    /// Size for a standard normal value.
    pub fn size(&self, u: f64) -> f64 {
        self.median * (self.log_spread * u).exp()
    }

    /// Size in words, with its unit.
    pub fn words(&self, size: f64) -> String {
        match self.fault {
            Fault::OpenEdge { .. } | Fault::OpenJoint => {
                if size < 1.0 {
                    format!("{size:.1} mm")
                } else {
                    format!("{size:.0} mm")
                }
            }
            Fault::Bridges => format!("{} per m²", two_figures(size)),
            Fault::LightLeaf { .. } => format!("{:.0} % of the mass", 100.0 * size),
            Fault::NoFill => "fill missing".to_owned(),
        }
    }

    /// The building with this fault at a size.
    pub fn apply(&self, building: &mut Building, size: f64) {
        let Some(boundary) = building.boundaries.get_mut(self.boundary.0) else { return };
        match &self.fault {
            Fault::OpenEdge { opening, part, .. } => {
                let gap = Seal { kind: SealKind::None, gap: Metre(size / 1000.0) };
                for o in boundary.openings.iter_mut().filter(|o| &o.id == opening) {
                    match part {
                        PerimeterPart::Head => o.head = gap,
                        PerimeterPart::Jambs => o.jambs = gap,
                        PerimeterPart::Sill => o.sill = gap,
                    }
                }
            }
            Fault::OpenJoint => {
                let length = joint_length(boundary);
                if let Some(leak) =
                    boundary.leaks.iter_mut().find(|l| l.id == joint_id(&boundary.id))
                {
                    leak.shape = LeakShape::Slit {
                        width: Metre(size / 1000.0),
                        length: Metre(length),
                        along_edge: true,
                    };
                }
            }
            Fault::Bridges | Fault::LightLeaf { .. } | Fault::NoFill => {
                let Some(original) = building.build_ups.get(boundary.build_up.0) else { return };
                let mut changed = original.clone();
                match self.fault {
                    Fault::Bridges => changed.rigid_bridges_per_m2 += size,
                    Fault::LightLeaf { side_b } => lighten(&mut changed, side_b, size),
                    _ => unfill(&mut changed),
                }
                // A copy of its own: the same build-up elsewhere stays as it is.
                changed.id = format!("{} of {}", changed.id, boundary.id);
                building.build_ups.push(changed);
                let last = building.build_ups.len() - 1;
                building.boundaries[self.boundary.0].build_up = wythe_building::BuildUpIndex(last);
            }
        }
    }
}

fn two_figures(size: f64) -> String {
    if size >= 10.0 {
        format!("{size:.0}")
    } else if size >= 1.0 {
        format!("{size:.1}")
    } else {
        format!("{size:.2}")
    }
}

fn joint_id(boundary: &str) -> String {
    format!("{boundary} joint")
}

/// Length of the joint along floor and ceiling of a wall, m: the element taken as twice as wide
/// as high; the product of length and width is what counts.
fn joint_length(boundary: &Boundary) -> f64 {
    2.0 * (2.0 * boundary.area.0.max(0.1)).sqrt()
}

/// A dormant joint's width, mm: passes nothing that could be heard, yet has a spectrum.
const DORMANT_MM: f64 = 1e-4;

/// The building with a dormant joint in every boundary that can have one, so that a leak has a
/// link to live in.
pub(crate) fn with_joints(building: &Building) -> Building {
    let mut out = building.clone();
    for boundary in &mut out.boundaries {
        let length = joint_length(boundary);
        boundary.leaks.push(Leak {
            id: joint_id(&boundary.id),
            title: Some(format!("{} edge joint", boundary.name())),
            shape: LeakShape::Slit {
                width: Metre(DORMANT_MM / 1000.0),
                length: Metre(length),
                along_edge: true,
            },
            depth: Metre(0.05),
            standpoint: boundary.standpoint.clone(),
        });
    }
    out
}

/// All causes worth asking about, from what the building is made of.
///
/// The prior probabilities are common practice without a source: of things described as known,
/// one in thirty is not so; of assumed ones, one in ten; of unknown ones, one in four. Unsealed
/// sills and bridged frames are the usual faults and stand at twice that.
pub fn causes(building: &Building) -> Vec<Cause> {
    let mut all = Vec::new();
    for (index, boundary) in building.boundaries.iter().enumerate() {
        let boundary_index = BoundaryIndex(index);
        let Some(build_up) = building.build_ups.get(boundary.build_up.0) else { continue };
        let mut push = |element: String, parameter, fault, prior: f64, median, log_spread| {
            all.push(Cause {
                element,
                parameter,
                boundary: boundary_index,
                fault,
                prior: prior.min(0.5),
                median,
                log_spread,
            });
        };
        let name = boundary.name().to_owned();
        let doubt = doubt(boundary.standpoint.standing.max(build_up.standpoint.standing));
        if boundary.net_area().0 > 0.0 {
            if let Construction::Layers(layers) = &build_up.construction {
                let cavities = layers.iter().filter(|l| matches!(l, Layer::Cavity(_))).count();
                if cavities > 0 {
                    push(name.clone(), "rigid bridges", Fault::Bridges, 2.0 * doubt, 0.3, 1.3);
                    push(
                        format!("{name}, last leaf"),
                        "mass",
                        Fault::LightLeaf { side_b: true },
                        doubt,
                        0.5,
                        0.35,
                    );
                    push(
                        format!("{name}, first leaf"),
                        "mass",
                        Fault::LightLeaf { side_b: false },
                        doubt,
                        0.5,
                        0.35,
                    );
                    let filled =
                        layers.iter().any(|l| matches!(l, Layer::Cavity(c) if c.fill.is_some()));
                    if filled {
                        push(format!("{name}, fill"), "fill", Fault::NoFill, doubt, 1.0, 0.0);
                    }
                }
            }
            push(format!("{name}, edge joint"), "gap", Fault::OpenJoint, doubt, 1.0, 0.8);
        }
        for opening in &boundary.openings {
            if opening.kind == OpeningKind::Hole
                || opening.leaf.is_none()
                || opening.state == OpeningState::Open
            {
                continue;
            }
            let title = opening.title.as_deref().unwrap_or(&opening.id).to_owned();
            let doubt = self::doubt(opening.standpoint.standing);
            for (part, word, seal, factor) in [
                (PerimeterPart::Head, "head", opening.head, 1.0),
                (PerimeterPart::Jambs, "jambs", opening.jambs, 1.0),
                (PerimeterPart::Sill, "sill", opening.sill, 2.0),
            ] {
                let described_mm =
                    if seal.kind == SealKind::None { 1000.0 * seal.gap.0 } else { 0.0 };
                // A fault is a gap clearly wider than the one described.
                let median = if described_mm > 0.0 { (2.5 * described_mm).max(3.0) } else { 3.0 };
                push(
                    format!("{title} {word}"),
                    "gap",
                    Fault::OpenEdge { opening: opening.id.clone(), part, described_mm },
                    factor * doubt,
                    median,
                    0.7,
                );
            }
        }
    }
    all
}

fn doubt(standing: Standing) -> f64 {
    match standing {
        Standing::Known => 0.03,
        Standing::Assumed => 0.10,
        Standing::Unknown => 0.25,
    }
}

fn lighten(build_up: &mut BuildUp, side_b: bool, factor: f64) {
    let Construction::Layers(layers) = &mut build_up.construction else { return };
    let boards = |l: &&mut Layer| matches!(l, Layer::Board(_));
    let scale = |layer: &mut Layer| {
        if let Layer::Board(board) = layer {
            board.thickness = board.thickness * factor;
            board.surface_mass = board.surface_mass.map(|m| m * factor);
        }
    };
    if side_b {
        layers.iter_mut().rev().take_while(boards).for_each(scale);
    } else {
        layers.iter_mut().take_while(boards).for_each(scale);
    }
}

fn unfill(build_up: &mut BuildUp) {
    let Construction::Layers(layers) = &mut build_up.construction else { return };
    for layer in layers {
        if let Layer::Cavity(cavity) = layer {
            cavity.fill = None;
        }
    }
}

/// How a cause moves the links of its boundary: dB of coupling per band on a grid of sizes.
#[derive(Clone, Debug)]
pub(crate) struct Effect {
    /// Grid in the standard normal value.
    pub(crate) grid: Vec<f64>,
    /// Per affected link: its position in the model, and the change at each grid point.
    pub(crate) links: Vec<(usize, Vec<PerBand>)>,
}

/// Grid of standard normal values: ±2.4 holds 98 % of the prior; beyond, the end slope goes on.
const GRID: [f64; 7] = [-2.4, -1.6, -0.8, 0.0, 0.8, 1.6, 2.4];

impl Effect {
    /// Computes the effect of a cause in a building (one with joints).
    pub(crate) fn compute(
        cause: &Cause,
        building: &Building,
        model: &Model,
        cache: &mut Cache,
    ) -> Result<Effect, TransmissionError> {
        let base = alone(building, cause.boundary, cache)?;
        let first = model.links.iter().position(|l| l.boundary == cause.boundary).unwrap_or(0);
        let grid: Vec<f64> = if cause.log_spread > 0.0 { GRID.to_vec() } else { vec![0.0] };
        let mut links: Vec<(usize, Vec<PerBand>)> = Vec::new();
        for (point, &u) in grid.iter().enumerate() {
            let mut changed = building.clone();
            cause.apply(&mut changed, cause.size(u));
            // Doubling back: the boundary's links keep their order whatever the fault is.
            let with = alone(&changed, cause.boundary, cache)?;
            for (place, (before, after)) in base.iter().zip(&with).enumerate() {
                let index = first + place;
                let mut change = [0.0; wythe_transmission::BANDS];
                for (b, slot) in change.iter_mut().enumerate() {
                    if before[b] > 0.0 && after[b] > 0.0 {
                        *slot = 10.0 * (after[b] / before[b]).log10();
                    }
                }
                if change.iter().all(|c| c.abs() < 1e-9) && point == 0 {
                    continue;
                }
                match links.iter_mut().find(|(i, _)| *i == index) {
                    Some((_, list)) => list.push(change),
                    None => {
                        let mut list = vec![[0.0; wythe_transmission::BANDS]; point];
                        list.push(change);
                        links.push((index, list));
                    }
                }
            }
        }
        Ok(Effect { grid, links })
    }

    /// Change of a link in dB per band at a standard normal value, and its slope per unit of it.
    pub(crate) fn at(&self, table: &[PerBand], u: f64) -> (PerBand, PerBand) {
        let zero = [0.0; wythe_transmission::BANDS];
        if self.grid.len() == 1 {
            return (table.first().copied().unwrap_or(zero), zero);
        }
        let last = self.grid.len() - 2;
        let cell = self.grid.iter().rposition(|&g| g <= u).unwrap_or(0).min(last);
        let (u0, u1) = (self.grid[cell], self.grid[cell + 1]);
        let t = (u - u0) / (u1 - u0);
        let mut value = zero;
        let mut slope = zero;
        for b in 0..wythe_transmission::BANDS {
            let (v0, v1) = (table[cell][b], table[cell + 1][b]);
            value[b] = v0 + (v1 - v0) * t;
            slope[b] = (v1 - v0) / (u1 - u0);
        }
        (value, slope)
    }
}

/// Couplings of one boundary's links.
fn alone(
    building: &Building,
    boundary: BoundaryIndex,
    cache: &mut Cache,
) -> Result<Vec<PerBand>, TransmissionError> {
    let (links, _) = links_of(building, boundary, cache, &mut Vec::new())?;
    Ok(links.iter().map(|l| l.coupling).collect())
}
