//! A list of layers made ready for calculation: leaves with the gaps between them.

use wythe_bands::{FlowResistivity, Metre};

use crate::catalogue::{Material, MaterialClass, catalogue};
use crate::damped_stack::{DampedStack, Face};
use crate::leaf::{Leaf, Stiffness, stiffness_from_fc_h};
use crate::{Board, Cavity, Frame, Joint, Layer, PartitionError};

/// Most layers a build-up may have. More is a slip of the keyboard, and each costs time.
pub const MOST_LAYERS: usize = 60;
/// Most leaves with cavities between them.
pub const MOST_LEAVES: usize = 8;
/// Increase of the loss factor by friction between loose sheets, practice (no source).
const LOOSE_SHEETS_LOSS: f64 = 1.5;

/// Leaves and gaps, alternating, a leaf at each end.
#[derive(Clone, Debug)]
pub(crate) struct Layup {
    pub leaves: Vec<Leaf>,
    pub gaps: Vec<Gap>,
}

/// One cavity.
#[derive(Clone, Debug)]
pub(crate) struct Gap {
    /// Clear depth, m.
    pub depth: f64,
    /// Fill depth, m, and flow resistivity, Pa·s/m².
    pub fill: Option<(f64, f64)>,
    /// A resilient layer from leaf to leaf: dynamic modulus, Pa, and density, kg/m³.
    pub resilient: Option<(f64, f64)>,
    pub frame: Option<Frame>,
}

impl Gap {
    /// Depth of the air that would be as stiff, m: the gap's own, or that of its resilient layer.
    pub fn air_depth(&self) -> f64 {
        match self.resilient {
            Some((modulus, _)) => AIR_STIFFNESS * self.depth / modulus,
            None => self.depth,
        }
    }

    /// Whether there is hardly anything in it that damps.
    pub fn is_lively(&self) -> bool {
        self.fill.is_none_or(|(d, _)| d < 0.3 * self.depth)
    }
}

/// ρc² of air, Pa.
const AIR_STIFFNESS: f64 = 1.418e5;

impl Layup {
    pub fn mass(&self) -> f64 {
        self.leaves.iter().map(|l| l.mass).sum()
    }

    pub fn thickness(&self) -> f64 {
        self.leaves.iter().map(|l| l.thickness).sum::<f64>()
            + self.gaps.iter().map(|g| g.depth).sum::<f64>()
    }

    /// Reads and checks the layers of the build-up called `id`.
    pub fn new(id: &str, layers: &[Layer]) -> Result<Layup, PartitionError> {
        if layers.is_empty() {
            return Err(PartitionError::NoLayers(id.to_owned()));
        }
        if layers.len() > MOST_LAYERS {
            return Err(PartitionError::TooMany {
                id: id.to_owned(),
                what: "layers",
                count: layers.len(),
                most: MOST_LAYERS,
                remedy: "join equal sheets by their count",
            });
        }
        let mut leaves = Vec::new();
        let mut gaps: Vec<Gap> = Vec::new();
        let mut boards: Vec<&Board> = Vec::new();
        for (index, layer) in layers.iter().enumerate() {
            let number = index + 1;
            match layer {
                Layer::Board(board) => {
                    check_board(id, number, board)?;
                    boards.push(board);
                }
                Layer::Cavity(cavity) => {
                    if index == 0 {
                        return Err(at_the_edge(id, number, 'a'));
                    }
                    if boards.is_empty() {
                        return Err(PartitionError::CavitiesSideBySide {
                            id: id.to_owned(),
                            layer: index,
                        });
                    }
                    leaves.push(leaf(&boards));
                    boards.clear();
                    gaps.push(gap(id, number, cavity)?);
                }
            }
        }
        if boards.is_empty() {
            return Err(at_the_edge(id, layers.len(), 'b'));
        }
        leaves.push(leaf(&boards));
        if leaves.len() > MOST_LEAVES {
            return Err(PartitionError::TooMany {
                id: id.to_owned(),
                what: "leaves",
                count: leaves.len(),
                most: MOST_LEAVES,
                remedy: "describe it as two build-ups with a room between",
            });
        }
        Ok(Layup { leaves, gaps })
    }
}

fn at_the_edge(id: &str, layer: usize, side: char) -> PartitionError {
    PartitionError::CavityAtTheEdge { id: id.to_owned(), layer, side }
}

/// A number between `least` and `most`, both included; refuses NaN.
fn within(
    id: &str,
    layer: usize,
    what: &'static str,
    (value, unit): (f64, &'static str),
    (least, most): (f64, f64),
    remedy: &'static str,
) -> Result<(), PartitionError> {
    let why = if value.is_nan() {
        "is no number"
    } else if value <= 0.0 {
        "is not more than nothing"
    } else if value < least {
        "is too small to be one"
    } else if value > most {
        "is too large to be one"
    } else {
        return Ok(());
    };
    Err(PartitionError::Unusable { id: id.to_owned(), layer, what, value, unit, why, remedy })
}

fn check_board(id: &str, number: usize, board: &Board) -> Result<(), PartitionError> {
    let Some(material) = board.known() else {
        return Err(PartitionError::UnknownMaterial {
            id: id.to_owned(),
            layer: number,
            name: board.material.chars().take(80).collect(),
            nearest: catalogue().nearest_materials(&board.material),
        });
    };
    check_own(id, number, material)?;
    let mm = |m: Metre| (1000.0 * m.0, "mm");
    within(
        id,
        number,
        "thickness",
        mm(board.thickness),
        (0.05, 3000.0),
        "give the thickness of one sheet, such as \"12.5 mm\"",
    )?;
    if let Some(mass) = board.surface_mass {
        within(
            id,
            number,
            "surface mass",
            (mass.0, "kg/m²"),
            (0.05, 10_000.0),
            "give the mass of one sheet per area, such as \"9 kg/m2\", or leave it out",
        )?;
    }
    if board.count == 0 {
        return Err(PartitionError::Unusable {
            id: id.to_owned(),
            layer: number,
            what: "count",
            value: 0.0,
            unit: "sheets",
            why: "leaves nothing of the layer",
            remedy: "give 1 or more, or drop the layer",
        });
    }
    if board.count > 40 {
        return Err(PartitionError::TooMany {
            id: id.to_owned(),
            what: "sheets in one layer",
            count: board.count as usize,
            most: 40,
            remedy: "give the thickness of one sheet and how many there are",
        });
    }
    Ok(())
}

/// The user's own figures are as open to a slip as anything typed.
fn check_own(id: &str, number: usize, material: &Material) -> Result<(), PartitionError> {
    const REMEDY: &str = "correct the material of that name in the project";
    let density = (material.density.0, "kg/m³");
    within(id, number, "density of the material", density, (1.0, 25_000.0), REMEDY)?;
    if material.class != MaterialClass::Limp {
        let fc_h = (material.fc_times_h, "m/s");
        within(id, number, "critical frequency × thickness", fc_h, (1.0, 1000.0), REMEDY)?;
    }
    let loss = (material.loss, "");
    within(id, number, "loss factor of the material", loss, (1e-6, 2.0), REMEDY)
}

fn gap(id: &str, number: usize, cavity: &Cavity) -> Result<Gap, PartitionError> {
    let depth = cavity.depth.0;
    within(
        id,
        number,
        "cavity depth",
        (1000.0 * depth, "mm"),
        (0.2, 20_000.0),
        "give the clear distance between the leaves, or drop the cavity",
    )?;
    let mut resilient = None;
    let fill = match &cavity.fill {
        None => None,
        Some(fill) => {
            let Some(known) = fill.known() else {
                return Err(PartitionError::UnknownFill {
                    id: id.to_owned(),
                    layer: number,
                    name: fill.material.chars().take(80).collect(),
                    nearest: catalogue().nearest_fills(&fill.material),
                });
            };
            within(
                id,
                number,
                "fill depth",
                (1000.0 * fill.depth.0, "mm"),
                (0.5, 20_000.0),
                "give the depth of the fill, or drop the fill",
            )?;
            // Half a millimetre of play for figures rounded from inches.
            if fill.depth.0 > depth + 0.0005 {
                return Err(PartitionError::FillDeeperThanCavity {
                    id: id.to_owned(),
                    layer: number,
                    fill_mm: 1000.0 * fill.depth.0,
                    cavity_mm: 1000.0 * depth,
                });
            }
            let FlowResistivity(sigma) = fill.flow_resistivity.unwrap_or(known.flow_resistivity);
            within(
                id,
                number,
                "flow resistivity",
                (sigma, "Pa·s/m²"),
                (100.0, 1.0e6),
                "give a value such as \"8000 Pa s/m2\", or leave it out",
            )?;
            if let Some(modulus) = known.dynamic_modulus {
                within(
                    id,
                    number,
                    "dynamic stiffness",
                    (1e-6 * modulus / depth, "MN/m³"),
                    (0.05, 10_000.0),
                    "give what the data sheet says, such as \"15 MN/m3\", and the thickness it is of",
                )?;
                // Where it leaves room it touches one leaf only, and is a porous fill.
                if fill.depth.0 > depth - 0.0005 {
                    resilient = Some((modulus, known.density.0));
                }
            }
            Some((fill.depth.0.min(depth), sigma))
        }
    };
    if let Some(frame) = &cavity.frame {
        within(
            id,
            number,
            "spacing",
            (1000.0 * frame.spacing.0, "mm"),
            (20.0, 20_000.0),
            "give the distance of the studs, centre to centre, such as \"600 mm\"",
        )?;
        if let Some(screws) = frame.screw_spacing {
            within(
                id,
                number,
                "screw spacing",
                (1000.0 * screws.0, "mm"),
                (10.0, 5000.0),
                "give the distance of the screws along a stud, such as \"300 mm\"",
            )?;
        }
        if let Some(gauge) = frame.gauge
            && !(8..=30).contains(&gauge)
        {
            return Err(PartitionError::Unusable {
                id: id.to_owned(),
                layer: number,
                what: "gauge",
                value: f64::from(gauge),
                unit: "",
                why: "is no sheet gauge of a stud",
                remedy: "give a number from 8 (thick) to 30 (thin), such as 25",
            });
        }
    }
    Ok(Gap { depth, fill, resilient, frame: cavity.frame.clone() })
}

/// One sheet of a leaf.
struct Sheet {
    mass: f64,
    thickness: f64,
    bending: f64,
    poisson: f64,
    joined: Joint,
}

/// The plate that adjacent boards make. Names were checked before.
fn leaf(boards: &[&Board]) -> Leaf {
    let mut sheets: Vec<Sheet> = Vec::new();
    let mut loss = 0.0;
    let mut glass = true;
    let mut stiff_ratio = 1.0f64;
    let mut heavy_mass = 0.0;
    for board in boards {
        let Some(material) = board.known() else { continue };
        let h = board.thickness.0;
        let mass = board.surface_mass.map_or(material.density.0 * h, |m| m.0);
        let bending = if material.class == MaterialClass::Limp {
            0.0
        } else {
            stiffness_from_fc_h(mass, material.fc_times_h, h)
        };
        let all = mass * f64::from(board.count);
        loss += material.loss * all;
        glass &= material.name.contains("glass");
        stiff_ratio = stiff_ratio.max(material.stiff_ratio);
        if material.class == MaterialClass::Masonry {
            heavy_mass += all;
        }
        for _ in 0..board.count {
            sheets.push(Sheet {
                mass,
                thickness: h,
                bending,
                poisson: material.poisson,
                joined: board.joined,
            });
        }
    }
    let mass: f64 = sheets.iter().map(|s| s.mass).sum();
    let thickness = sheets.iter().map(|s| s.thickness).sum();
    let mut loss = loss / mass;

    // Sheets glued to each other become one; what is left are groups, each joined to the one
    // before by screws or by a damping layer.
    let mut groups: Vec<(Face, Joint, f64, f64)> = Vec::new();
    for sheet in &sheets {
        let face = Face {
            bending: sheet.bending,
            extension: 12.0 * sheet.bending / sheet.thickness.powi(2),
            thickness: sheet.thickness,
        };
        // (1 − ν) of the sheet, for the shear correction.
        let shear = sheet.thickness.powi(2) / (5.0 * (1.0 - sheet.poisson));
        match groups.last_mut() {
            Some((last, _, last_shear, _)) if sheet.joined == Joint::Bonded => {
                *last = glued(*last, face);
                *last_shear = last.thickness.powi(2) / (5.0 * (1.0 - sheet.poisson));
            }
            _ => groups.push((face, sheet.joined, shear, sheet.mass)),
        }
    }
    let total_bending: f64 = groups.iter().map(|g| g.0.bending).sum();
    let shear = if total_bending > 0.0 {
        groups.iter().map(|g| g.2 * g.0.bending).sum::<f64>() / total_bending
    } else {
        0.0
    };
    let damped = groups.iter().skip(1).any(|g| g.1 == Joint::DampingLayer);
    let stiffness = if total_bending <= 0.0 {
        Stiffness::None
    } else if damped {
        // Loose groups between damped ones count as one face of summed stiffness.
        let mut faces: Vec<Face> = Vec::new();
        for (face, joined, ..) in &groups {
            match faces.last_mut() {
                Some(last) if *joined == Joint::Screwed => {
                    last.bending += face.bending;
                    last.extension += face.extension;
                    last.thickness += face.thickness;
                }
                _ => faces.push(*face),
            }
        }
        if faces.iter().all(|f| f.extension > 0.0) {
            Stiffness::Damped(DampedStack { faces })
        } else {
            Stiffness::Plate(total_bending)
        }
    } else {
        Stiffness::Plate(total_bending)
    };
    if groups.len() > 1 && !damped {
        loss *= LOOSE_SHEETS_LOSS;
    }
    let class = if matches!(stiffness, Stiffness::None) {
        MaterialClass::Limp
    } else if heavy_mass > 0.5 * mass && mass >= 30.0 {
        MaterialClass::Masonry
    } else {
        MaterialClass::Board
    };
    Leaf { mass, thickness, stiffness, loss, class, shear, glass, stiff_ratio }
}

/// Two sheets glued over the whole face: bending about their common neutral line.
/// B = B₁ + B₂ + d² E₁h₁E₂h₂/(E₁h₁ + E₂h₂), the stiff limit of the damped stack.
fn glued(a: Face, b: Face) -> Face {
    let sum = a.extension + b.extension;
    let d = 0.5 * (a.thickness + b.thickness);
    let coupled = if sum > 0.0 { d * d * a.extension * b.extension / sum } else { 0.0 };
    Face {
        bending: a.bending + b.bending + coupled,
        extension: sum,
        thickness: a.thickness + b.thickness,
    }
}
