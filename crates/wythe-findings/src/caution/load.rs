//! What boards weigh, what floors were said to carry, and two other sums with a number in a code.
//!
//! Planning numbers. Whether a floor may carry more is for a licensed engineer and the building
//! department of the place; nothing here can say yes.

use thiserror::Error;
use wythe_bands::{CubicMetre, Metre, Source, SquareMetre, SurfaceMass};
use wythe_building::{Building, Change};
use wythe_partition::{Board, BuildUp, Construction, Layer};

/// Standard acceleration of free fall, m/s².
const GRAVITY: f64 = 9.806_65;
/// One pound per square foot, kg/m².
const PSF: f64 = 0.453_592_37 / (0.3048 * 0.3048);
/// One inch, m.
const INCH: f64 = 0.0254;
/// One cubic foot, m³.
const CUBIC_FOOT: f64 = 0.3048 * 0.3048 * 0.3048;

/// What cannot be counted.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LoadError {
    /// A number outside its range.
    #[error("{what} is {value}, which cannot be used; give {remedy}")]
    Range {
        /// Which quantity.
        what: &'static str,
        /// What was handed in.
        value: f64,
        /// What would do.
        remedy: &'static str,
    },
}

fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    remedy: &'static str,
) -> Result<f64, LoadError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(LoadError::Range { what, value, remedy })
    }
}

/// Inch sizes of gypsum board, in eighths, beside the millimetres they are sold under.
const NOMINAL: [(f64, f64); 5] = [(6.4, 2.0), (9.5, 3.0), (12.7, 4.0), (15.9, 5.0), (19.1, 6.0)];

/// Thickness in eighths of an inch; a nominal size in millimetres means the inch size it names.
fn eighths(thickness: Metre) -> Result<f64, LoadError> {
    let t = within("the thickness in m", thickness.0, 1e-4, 0.5, "a board of 0.1 to 500 mm")?;
    let named = NOMINAL.iter().find(|(mm, _)| (t * 1000.0 - mm).abs() < 0.051);
    Ok(named.map_or(t / (INCH / 8.0), |(_, eighths)| *eighths))
}

/// Where the design weight comes from.
pub const DESIGN_SOURCE: Source =
    Source::Published { key: "asce-7-05", place: "Table C3-1, gypsum board" };

/// Weight an engineer reckons gypsum board with: 0.55 psf per 1/8 in, 0.846 kg/m² per mm. It is
/// above what sheets weigh. ASCE 7-16 has 0.008 kN/m² per mm, 3.6 % less; the larger is taken.
///
/// Source: ASCE 7-05, Table C3-1.
///
/// # Errors
/// A thickness out of range.
pub fn gypsum_design_mass(thickness: Metre) -> Result<SurfaceMass, LoadError> {
    Ok(SurfaceMass(0.55 * eighths(thickness)? * PSF))
}

/// Where the usual weight comes from.
pub const TYPICAL_SOURCE: Source =
    Source::Unverified("weights of gypsum sheets by thickness, a trade table seen second-hand");

/// What a sheet of ordinary gypsum board weighs: 1.2, 1.6 and 2.2 psf at 1/4, 1/2 and 5/8 in,
/// straight lines between; `None` outside. Light boards weigh 20 to 30 % less, so the label
/// decides.
///
/// Source: trade weight table, second-hand.
///
/// # Errors
/// A thickness out of range.
pub fn gypsum_typical_mass(thickness: Metre) -> Result<Option<SurfaceMass>, LoadError> {
    let e = eighths(thickness)?;
    let rows = [(2.0, 1.2), (4.0, 1.6), (5.0, 2.2)];
    let pair = rows.windows(2).find(|w| (w[0].0..=w[1].0).contains(&e));
    Ok(pair.map(|w| {
        let share = (e - w[0].0) / (w[1].0 - w[0].0);
        SurfaceMass((w[0].1 + share * (w[1].1 - w[0].1)) * PSF)
    }))
}

/// Load per area of a mass per area, kN/m².
pub fn kilonewton_per_square_metre(mass: SurfaceMass) -> f64 {
    mass.0 * GRAVITY / 1000.0
}

/// The same in pounds per square foot.
pub fn pounds_per_square_foot(mass: SurfaceMass) -> f64 {
    mass.0 / PSF
}

/// A mass per area from pounds per square foot.
pub fn from_pounds_per_square_foot(psf: f64) -> SurfaceMass {
    SurfaceMass(psf * PSF)
}

/// Mass of an area, kg.
pub fn mass_of(mass: SurfaceMass, area: SquareMetre) -> f64 {
    mass.0 * area.0
}

/// What is left of an allowance for dead load: allowance − used − added. Below zero is past it.
pub fn allowance_left(
    allowance: SurfaceMass,
    used: SurfaceMass,
    added: SurfaceMass,
) -> SurfaceMass {
    SurfaceMass(allowance.0 - used.0 - added.0)
}

/// Where added mass stands against what somebody stated. The order is the order of concern.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LoadFlag {
    /// Nothing is added.
    Nothing,
    /// Below the stated figure. Still a question for an engineer.
    Ask,
    /// Nobody stated a figure, or the mass is above it, or it cannot be weighed: stop.
    Stop,
}

/// Flag of an added mass. A mass or an allowance that is no number stops.
pub fn load_flag(added: SurfaceMass, allowance: Option<SurfaceMass>) -> LoadFlag {
    // A hair of rounding in the last digit is neither mass nor overload.
    const HAIR: f64 = 1e-9;
    if added.0 <= HAIR {
        return LoadFlag::Nothing;
    }
    match allowance {
        Some(most) if most.0.is_finite() && added.0 <= most.0 + HAIR => LoadFlag::Ask,
        _ => LoadFlag::Stop,
    }
}

/// Mass of a build-up to plan with, per area: every sheet at its stated or usual weight, gypsum
/// board at no less than its design weight, fill at its usual density. Frames, joists, screws and
/// plaster skims are not in it. `None` where a layer's weight is not known.
pub fn planning_mass(build_up: &BuildUp) -> Option<SurfaceMass> {
    match &build_up.construction {
        Construction::Layers(layers) => of_layers(layers),
        Construction::Measured(sheet) => {
            let layers = if sheet.layers.is_empty() { None } else { of_layers(&sheet.layers) };
            // `max` of the two where both are there: the planner's side.
            match (layers, sheet.surface_mass.filter(|m| usable(m.0))) {
                (Some(a), Some(b)) => Some(SurfaceMass(a.0.max(b.0))),
                (a, b) => a.or(b),
            }
        }
    }
}

fn usable(mass: f64) -> bool {
    (0.0..=1e5).contains(&mass)
}

fn of_layers(layers: &[Layer]) -> Option<SurfaceMass> {
    if layers.is_empty() {
        return None;
    }
    let mut total = 0.0;
    for layer in layers {
        total += match layer {
            Layer::Board(board) => sheet_mass(board)?.0 * f64::from(board.count),
            Layer::Cavity(cavity) => match &cavity.fill {
                Some(fill) => fill.known()?.density.0 * fill.depth.0.max(0.0),
                None => 0.0,
            },
        };
    }
    usable(total).then_some(SurfaceMass(total))
}

/// Mass per area of one sheet to plan with; `None` where it is not known.
pub fn sheet_mass(board: &Board) -> Option<SurfaceMass> {
    let material = board.known();
    let listed = material.map(|m| m.density.0 * board.thickness.0);
    let mut mass = board.surface_mass.map(|m| m.0).or(listed)?;
    if material.is_some_and(|m| m.name == "gypsum board") {
        mass = mass.max(gypsum_design_mass(board.thickness).ok()?.0);
    }
    usable(mass).then_some(SurfaceMass(mass))
}

/// Mass a change adds to one boundary: planning mass of the new build-up less that of the present.
/// `None` where either cannot be weighed or an index points nowhere.
pub fn added_mass(
    building: &Building,
    boundary: wythe_building::BoundaryIndex,
    new: wythe_building::BuildUpIndex,
) -> Option<SurfaceMass> {
    let present = building.boundaries.get(boundary.0)?.build_up;
    let weigh = |i: wythe_building::BuildUpIndex| planning_mass(building.build_ups.get(i.0)?);
    Some(SurfaceMass(weigh(new)?.0 - weigh(present)?.0))
}

/// Boundaries a change rebuilds, with their new build-ups.
pub fn rebuilds(
    change: &Change,
) -> impl Iterator<Item = (wythe_building::BoundaryIndex, wythe_building::BuildUpIndex)> + '_ {
    change.actions.iter().filter_map(|action| match action {
        wythe_building::Action::Rebuild { boundary, build_up } => Some((*boundary, *build_up)),
        _ => None,
    })
}

/// Where the volume rule comes from.
pub const COMBUSTION_SOURCE: Source =
    Source::Published { key: "nfpa-54", place: "confined space, 50 ft³ per 1000 Btu/h" };

/// Volume below which a space with fuel-burning appliances counts as confined: 50 ft³ per
/// 1000 Btu/h of everything that is not direct-vent (4.83 m³ per kW).
///
/// Source: NFPA 54 / ANSI Z223.1.
///
/// # Errors
/// An input out of range.
pub fn combustion_least_volume(kilowatts: f64) -> Result<CubicMetre, LoadError> {
    let kw = within("the input in kW", kilowatts, 0.0, 1e5, "zero or more kilowatts")?;
    Ok(CubicMetre(50.0 * CUBIC_FOOT * kw * BTU_PER_HOUR_IN_A_KILOWATT / 1000.0))
}

/// Btu (International Table) per hour in one kilowatt: 3 600 000 J over 1055.055 852 62 J.
pub const BTU_PER_HOUR_IN_A_KILOWATT: f64 = 3_600_000.0 / 1_055.055_852_62;

/// Where the sizes of an emergency opening come from.
pub const ESCAPE_SOURCE: Source =
    Source::Unverified("IRC R310 as public restatements give it; open the code of the place");

/// Clear size of an opening somebody may have to climb out of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EscapeOpening {
    /// Clear width when open.
    pub width: Metre,
    /// Clear height when open.
    pub height: Metre,
    /// Height of the sill above the floor; `None` when nobody measured it.
    pub sill: Option<Metre>,
    /// Whether the ground outside is level with it.
    pub at_grade: bool,
}

/// What an opening lacks of the sizes a model code asks for; empty when it meets those that are
/// known. That says nothing about the code of the place.
///
/// 5.7 ft² clear (5.0 at grade), 24 in high, 20 in wide, sill at most 44 in above the floor.
/// Source: IRC R310 (public restatements).
///
/// # Errors
/// A size out of range.
pub fn escape_shortfalls(opening: &EscapeOpening) -> Result<Vec<&'static str>, LoadError> {
    let w = within("the width in m", opening.width.0, 0.0, 100.0, "zero to 100 m")?;
    let h = within("the height in m", opening.height.0, 0.0, 100.0, "zero to 100 m")?;
    // Sizes printed in inches come through metres; a hair of rounding must not fail them.
    const HAIR: f64 = 1.0 + 1e-9;
    let mut lacks = Vec::new();
    let least_area = if opening.at_grade { 5.0 } else { 5.7 } * super::air::SQUARE_FOOT;
    if w * h * HAIR < least_area {
        lacks.push("clear area");
    }
    if h * HAIR < 24.0 * INCH {
        lacks.push("clear height");
    }
    if w * HAIR < 20.0 * INCH {
        lacks.push("clear width");
    }
    if let Some(sill) = opening.sill {
        let s = within("the sill in m", sill.0, -100.0, 100.0, "a height above the floor in m")?;
        if s > 44.0 * INCH * HAIR {
            lacks.push("height of the sill");
        }
    }
    Ok(lacks)
}
