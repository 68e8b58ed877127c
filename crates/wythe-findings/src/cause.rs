//! What can be wrong with a building, beside the model's own error.
//!
//! A cause is one physical fault of one element with one size: a gap in millimetres, bridges per
//! square metre, a leaf lighter than described. It is either absent, and the element is as
//! described, or present with a size drawn from a broad prior. How a size changes each link is
//! computed by predicting the element again, on a grid of sizes.

use wythe_bands::{LevelDifference, Metre, Standing};
use wythe_building::{
    Action, Boundary, BoundaryIndex, BoundaryKind, Building, FoundWay, Junction, JunctionKind,
    Leak, LeakShape,
};
use wythe_partition::{
    BuildUp, Construction, Joint, Layer, Opening, OpeningKind, OpeningState, PerimeterPart, Seal,
    SealKind,
};
use wythe_transmission::{
    BANDS, Cache, LinkKind, Model, PerBand, TransmissionError, assemble, links_of,
};

/// A fault of one element.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The element, in the user's words: `lobby door sill`.
    pub element: String,
    /// What is meant by its size: `gap`, `rigid bridges`, …
    pub parameter: &'static str,
    /// The boundary it belongs to; `usize::MAX` for ducts, vents and junctions, which belong to
    /// none.
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
    /// The cavities have only this part of the depth described.
    ShallowCavity,
    /// The damping layers between the boards are missing.
    NoDamping,
    /// The leaf of a door or window has only this part of the mass described.
    LightOpening {
        /// Opening by id.
        opening: String,
    },
    /// A leak that is described is this many millimetres wide.
    WideLeak {
        /// Leak by id.
        leak: String,
    },
    /// A junction, duct or vent carries more than calculated by this power ratio.
    Stronger {
        /// Junction, duct or vent by id.
        way: String,
    },
    /// Sound goes along the structure beside a boundary whose junctions nobody described: so many
    /// times the power of one usual framed junction.
    Beside,
}

impl Cause {
    /// Size for a standard normal value.
    pub fn size(&self, u: f64) -> f64 {
        self.median * (self.log_spread * u).exp()
    }

    /// Whether it is a fault of the wall or floor itself, not of something in it.
    fn is_of_the_wall(&self) -> bool {
        matches!(
            self.fault,
            Fault::Bridges
                | Fault::LightLeaf { .. }
                | Fault::NoFill
                | Fault::ShallowCavity
                | Fault::NoDamping
        )
    }

    /// Where it only scales links: the name they go by, and how many decibels the description
    /// has already.
    fn scales(&self, building: &Building) -> Option<(String, f64)> {
        match &self.fault {
            Fault::Stronger { way } => Some((way.clone(), 0.0)),
            Fault::Beside => {
                let b = building.boundaries.get(self.boundary.0)?;
                Some((format!("{} beside", b.id), DORMANT_DB))
            }
            _ => None,
        }
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
            Fault::WideLeak { .. } => format!("{size:.1} mm"),
            Fault::LightLeaf { .. } | Fault::LightOpening { .. } => {
                format!("{:.0} % of the mass", 100.0 * size)
            }
            Fault::ShallowCavity => format!("{:.0} % of the depth", 100.0 * size),
            Fault::NoFill => "fill missing".to_owned(),
            Fault::NoDamping => "damping layer missing".to_owned(),
            Fault::Stronger { .. } => format!("{:.0} dB more", 10.0 * size.log10()),
            Fault::Beside => {
                let d = usual_framed_500() - 10.0 * size.log10();
                format!("{d:.0} dB from 500 Hz up")
            }
        }
    }

    /// The building with this fault at a size.
    pub fn apply(&self, building: &mut Building, size: f64) {
        let by = LevelDifference(10.0 * size.log10());
        match &self.fault {
            Fault::Stronger { way } => {
                building.fabric.found.retain(|f| f.way() != way);
                building.fabric.found.push(FoundWay::Stronger { way: way.clone(), by });
                return;
            }
            Fault::Beside => {
                let Some(b) = building.boundaries.get(self.boundary.0) else { return };
                let way = b.id.clone();
                building.fabric.found.retain(|f| f.way() != way);
                building.fabric.found.push(FoundWay::Beside { way, boundary: self.boundary, by });
                return;
            }
            Fault::LightOpening { opening } => {
                let all = building.boundaries.iter_mut().flat_map(|b| &mut b.openings);
                for leaf in all.filter(|o| &o.id == opening).filter_map(|o| o.leaf.as_mut()) {
                    scale_boards(leaf, size);
                }
                return;
            }
            Fault::WideLeak { leak } => {
                for l in building.boundaries.iter_mut().flat_map(|b| &mut b.leaks) {
                    if &l.id == leak {
                        l.shape = widened(l.shape, size);
                    }
                }
                return;
            }
            _ => {}
        }
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
                let mut joint = dormant_joint(boundary);
                joint.shape = widened(joint.shape, size);
                boundary.leaks.retain(|l| l.id != joint.id);
                boundary.leaks.push(joint);
            }
            Fault::Stronger { .. }
            | Fault::Beside
            | Fault::LightOpening { .. }
            | Fault::WideLeak { .. } => {}
            Fault::Bridges
            | Fault::LightLeaf { .. }
            | Fault::NoFill
            | Fault::ShallowCavity
            | Fault::NoDamping => {
                let Some(original) = building.build_ups.get(boundary.build_up.0) else { return };
                let mut changed = original.clone();
                match self.fault {
                    Fault::Bridges => changed.rigid_bridges_per_m2 += size,
                    Fault::LightLeaf { side_b } => lighten(&mut changed, side_b, size),
                    Fault::ShallowCavity => flatten(&mut changed, size),
                    Fault::NoDamping => undamp(&mut changed),
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

fn dormant_joint(boundary: &Boundary) -> Leak {
    Leak {
        id: joint_id(&boundary.id),
        title: Some(format!("{} edge joint", boundary.name())),
        shape: LeakShape::Slit {
            width: Metre(DORMANT_MM / 1000.0),
            length: Metre(joint_length(boundary)),
            along_edge: true,
        },
        depth: Metre(0.05),
        standpoint: boundary.standpoint.clone(),
    }
}

fn widened(shape: LeakShape, mm: f64) -> LeakShape {
    match shape {
        LeakShape::Slit { length, along_edge, .. } => {
            LeakShape::Slit { width: Metre(mm / 1000.0), length, along_edge }
        }
        LeakShape::Hole { .. } => LeakShape::Hole { diameter: Metre(mm / 1000.0) },
    }
}

/// A dormant way along the structure is this far below one usual framed junction, dB: nothing
/// that could be heard.
const DORMANT_DB: f64 = -120.0;

/// Normalised flanking level difference of one usual framed junction from 500 Hz up, dB.
fn usual_framed_500() -> f64 {
    wythe_transmission::flanking::usual_framed(wythe_bands::Hertz(500.0))
}

/// Whether nothing is said or calculated about the way along the structure beside a boundary
/// between two rooms indoors.
fn silent_on_flanking(building: &Building, boundary: usize) -> bool {
    let Some(b) = building.boundaries.get(boundary) else { return false };
    let at = BoundaryIndex(boundary);
    let indoors = b.rooms.iter().all(|r| building.rooms.get(r.0).is_some_and(|r| !r.outdoors));
    let spoken = |j: &Junction| match j.kind {
        JunctionKind::Separated => j.plates.contains(&Some(at)),
        JunctionKind::Framed(_) => j.plates[0] == Some(at),
        _ => !j.found && j.plates.contains(&Some(at)),
    };
    indoors && b.net_area().0 > 0.0 && !building.fabric.junctions.iter().any(spoken)
}

/// The building with a dormant joint in every boundary that can have one and a dormant way along
/// the structure where nothing is known of it, so that a fault has a link to live in.
pub(crate) fn with_dormant_ways(building: &Building) -> Building {
    let mut out = building.clone();
    for index in 0..out.boundaries.len() {
        if silent_on_flanking(building, index)
            && !out.fabric.found.iter().any(|f| f.way() == out.boundaries[index].id)
        {
            out.fabric.found.push(FoundWay::Beside {
                way: out.boundaries[index].id.clone(),
                boundary: BoundaryIndex(index),
                by: LevelDifference(DORMANT_DB),
            });
        }
    }
    for boundary in &mut out.boundaries {
        let joint = dormant_joint(boundary);
        boundary.leaks.push(joint);
    }
    out
}

/// All causes worth asking about, from what the building is made of.
///
/// The prior probabilities are common practice without a source: of things described as known,
/// one in thirty is not so; of assumed ones, one in ten; of unknown ones, one in four. Unsealed
/// sills and bridged frames are the usual faults and stand at twice that; cavities and door leaves,
/// which anybody can measure, at half of it. So does the leaf of a floor that people walk on, and it can
/// lack little: what is skipped is the boards below (common practice, no source).
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
                    // A deck that carries people cannot lack half of its boards.
                    let (prior, median, spread) = match boundary.kind {
                        BoundaryKind::Floor => (0.5 * doubt, 0.8, 0.15),
                        _ => (doubt, 0.5, 0.35),
                    };
                    push(
                        format!("{name}, last leaf"),
                        "mass",
                        Fault::LightLeaf { side_b: true },
                        prior,
                        median,
                        spread,
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
                    let element = format!("{name}, cavity");
                    let half = 0.5 * doubt;
                    push(element, "cavity depth", Fault::ShallowCavity, half, 0.5, 0.35);
                }
                if layers
                    .iter()
                    .any(|l| matches!(l, Layer::Board(b) if b.joined == Joint::DampingLayer))
                {
                    push(format!("{name}, boards"), "damping", Fault::NoDamping, doubt, 1.0, 0.0);
                }
            }
            push(format!("{name}, edge joint"), "gap", Fault::OpenJoint, doubt, 1.0, 0.8);
            if silent_on_flanking(building, index) {
                let element = format!("structure beside {name}");
                // One usual junction, and its stated ± 8 dB.
                push(element, "flanking limit", Fault::Beside, doubt, 1.0, 8.0 / DB);
            }
        }
        for leak in &boundary.leaks {
            let title = leak.title.as_deref().unwrap_or(&leak.id).to_owned();
            let described_mm = 1000.0
                * match leak.shape {
                    LeakShape::Slit { width, .. } => width.0,
                    LeakShape::Hole { diameter } => diameter.0,
                };
            if described_mm > 0.0 {
                let doubt = self::doubt(leak.standpoint.standing);
                let fault = Fault::WideLeak { leak: leak.id.clone() };
                push(title, "width", fault, doubt, 2.5 * described_mm, 0.6);
            }
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
            if boarded(opening) {
                let fault = Fault::LightOpening { opening: opening.id.clone() };
                push(format!("{title} leaf"), "mass", fault, 0.5 * doubt, 0.55, 0.3);
            }
        }
    }
    let fabric = &building.fabric;
    let junctions = fabric
        .junctions
        .iter()
        .filter(|j| !matches!(j.kind, JunctionKind::Separated))
        .map(|j| (&j.id, &j.title, j.standpoint.standing, "flanking limit"));
    let ducts = fabric.ducts.iter().map(|d| (&d.id, &d.title, d.standpoint.standing, "duct path"));
    let vents =
        fabric.small_elements.iter().map(|e| (&e.id, &e.title, e.standpoint.standing, "vent"));
    for (id, title, standing, parameter) in junctions.chain(ducts).chain(vents) {
        all.push(Cause {
            element: title.clone().unwrap_or_else(|| id.clone()),
            parameter,
            boundary: BoundaryIndex(usize::MAX),
            fault: Fault::Stronger { way: id.clone() },
            prior: doubt(standing).min(0.5),
            // A junction or a duct is at fault where it carries clearly more than its own
            // scatter of 3 to 5 dB.
            median: 10f64.powf(0.7),
            log_spread: 3.5 / DB,
        });
    }
    all
}

/// Decibels of one unit of the natural logarithm of a power.
const DB: f64 = 10.0 * std::f64::consts::LOG10_E;

/// Whether the leaf of an opening is made of boards whose mass can be less than described.
fn boarded(opening: &Opening) -> bool {
    opening.leaf.as_ref().is_some_and(
        |l| matches!(&l.construction, Construction::Layers(layers) if !layers.is_empty()),
    )
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

fn scale_boards(build_up: &mut BuildUp, factor: f64) {
    let Construction::Layers(layers) = &mut build_up.construction else { return };
    for layer in layers {
        if let Layer::Board(board) = layer {
            board.thickness = board.thickness * factor;
            board.surface_mass = board.surface_mass.map(|m| m * factor);
        }
    }
}

fn flatten(build_up: &mut BuildUp, factor: f64) {
    let Construction::Layers(layers) = &mut build_up.construction else { return };
    for layer in layers {
        if let Layer::Cavity(cavity) = layer {
            cavity.depth = cavity.depth * factor;
            if let Some(fill) = &mut cavity.fill {
                // Wool is pressed together, not cut away.
                fill.depth = Metre(fill.depth.0.min(cavity.depth.0));
            }
        }
    }
}

fn undamp(build_up: &mut BuildUp) {
    let Construction::Layers(layers) = &mut build_up.construction else { return };
    for layer in layers {
        if let Layer::Board(board) = layer
            && board.joined == Joint::DampingLayer
        {
            board.joined = Joint::Screwed;
        }
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
    /// Computes the effect of a cause in a building with dormant ways; empty where the cause
    /// changes nothing, or where one of the changes made in this state has replaced what it was
    /// about.
    pub(crate) fn compute(
        cause: &Cause,
        building: &Building,
        made: &[&Action],
        model: &Model,
        cache: &mut Cache,
    ) -> Result<Effect, TransmissionError> {
        let grid: Vec<f64> = if cause.log_spread > 0.0 { GRID.to_vec() } else { vec![0.0] };
        let mut links: Vec<(usize, Vec<PerBand>)> = Vec::new();
        if made.iter().any(|a| replaces(a, cause)) {
            return Ok(Effect { grid, links });
        }
        if let Some((way, base_db)) = cause.scales(building) {
            let members = model.links.iter().enumerate().filter(|(_, l)| {
                l.kind != LinkKind::StructureBorne
                    && l.id.strip_prefix(way.as_str()).is_some_and(|rest| {
                        rest.is_empty() || rest.starts_with(": ") || rest.starts_with(" wall, ")
                    })
            });
            for (index, _) in members {
                let at = |u: &f64| [10.0 * cause.size(*u).log10() - base_db; BANDS];
                links.push((index, grid.iter().map(at).collect()));
            }
            return Ok(Effect { grid, links });
        }
        // Where something flanks the boundary, its plates and so the ways along them change as
        // well; a door's edges leave them alone.
        let at = cause.boundary;
        let whole = cause.is_of_the_wall()
            && building.fabric.junctions.iter().any(|j| j.plates.contains(&Some(at)));
        let first = model.links.iter().position(|l| l.boundary == at).unwrap_or(0);
        let couplings = |building: &Building, cache: &mut Cache| {
            if whole {
                let links = assemble(building, cache)?.links;
                // In the order of the model: a fault never takes a way away, and what it may open
                // (a junction that was light all round) has no link to be seen in.
                Ok(model
                    .links
                    .iter()
                    .map(|l| links.iter().find(|k| k.id == l.id).map_or(l.coupling, |k| k.coupling))
                    .collect())
            } else {
                alone(building, at, cache)
            }
        };
        let base: Vec<PerBand> = if whole {
            model.links.iter().map(|l| l.coupling).collect()
        } else {
            alone(building, at, cache)?
        };
        for (point, &u) in grid.iter().enumerate() {
            let mut changed = building.clone();
            cause.apply(&mut changed, cause.size(u));
            // The boundary's links keep their order whatever the fault is.
            let with: Vec<PerBand> = couplings(&changed, cache)?;
            for (place, (before, after)) in base.iter().zip(&with).enumerate() {
                let index = if whole { place } else { first + place };
                let mut change = [0.0; BANDS];
                for (b, slot) in change.iter_mut().enumerate() {
                    if before[b] > 0.0 && after[b] > 0.0 {
                        *slot = 10.0 * (after[b] / before[b]).log10();
                    }
                }
                let known = links.iter().position(|(i, _)| *i == index);
                if known.is_none() && change.iter().all(|c| c.abs() < 1e-9) {
                    continue;
                }
                match known {
                    Some(k) => links[k].1.push(change),
                    None => {
                        let mut list = vec![[0.0; BANDS]; point];
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
        let zero = [0.0; BANDS];
        if self.grid.len() == 1 {
            return (table.first().copied().unwrap_or(zero), zero);
        }
        let last = self.grid.len() - 2;
        let cell = self.grid.iter().rposition(|&g| g <= u).unwrap_or(0).min(last);
        let (u0, u1) = (self.grid[cell], self.grid[cell + 1]);
        let t = (u - u0) / (u1 - u0);
        let mut value = zero;
        let mut slope = zero;
        for b in 0..BANDS {
            let (v0, v1) = (table[cell][b], table[cell + 1][b]);
            value[b] = v0 + (v1 - v0) * t;
            slope[b] = (v1 - v0) / (u1 - u0);
        }
        (value, slope)
    }
}

/// Whether a change replaces what a cause is about, so that the fault went with it.
fn replaces(action: &Action, cause: &Cause) -> bool {
    match (action, &cause.fault) {
        (
            Action::Seal { opening: a, head, jambs, sill },
            Fault::OpenEdge { opening: b, part, .. },
        ) => {
            a == b
                && match part {
                    PerimeterPart::Head => head.is_some(),
                    PerimeterPart::Jambs => jambs.is_some(),
                    PerimeterPart::Sill => sill.is_some(),
                }
        }
        (Action::Leaf { opening: a, .. }, Fault::LightOpening { opening: b }) => a == b,
        (Action::Close { leak: a } | Action::Plug { way: a }, Fault::WideLeak { leak: b }) => {
            a == b
        }
        (
            Action::CutJunction { junction: a } | Action::Plug { way: a },
            Fault::Stronger { way: b },
        ) => a == b,
        (Action::CutBridges { boundary }, Fault::Bridges) => *boundary == cause.boundary,
        (Action::Rebuild { boundary, .. }, _) => {
            *boundary == cause.boundary && cause.is_of_the_wall()
        }
        _ => false,
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
