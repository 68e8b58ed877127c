//! How much to buy: sheets, sealant, screws, fill, clips.
//!
//! Counts are common practice without a source; the geometry behind them is exact.

use thiserror::Error;
use wythe_bands::{Metre, SquareMetre, SurfaceMass};

/// What cannot be counted.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{what} is {value}, which cannot be used; give {remedy}")]
pub struct TakeOffError {
    /// Which quantity.
    pub what: &'static str,
    /// What was handed in.
    pub value: f64,
    /// What would do.
    pub remedy: &'static str,
}

fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    remedy: &'static str,
) -> Result<f64, TakeOffError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(TakeOffError { what, value, remedy })
    }
}

/// Share bought beyond the geometry, a pure ratio from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Waste(pub f64);

impl Waste {
    /// Large plain walls (common practice, no source).
    pub const LARGE_WALLS: Waste = Waste(0.05);
    /// Plain rooms (common practice, no source).
    pub const PLAIN: Waste = Waste(0.10);
    /// Many openings or slopes (common practice, no source).
    pub const CUT_UP: Waste = Waste(0.15);

    fn factor(self) -> Result<f64, TakeOffError> {
        Ok(1.0 + within("the waste", self.0, 0.0, 1.0, "a share from 0 to 1, such as 0.10")?)
    }
}

/// Whole pieces: up to the next whole number, with a hair of rounding forgiven so that ten metres
/// of exactly one-metre pieces are ten.
fn whole(pieces: f64) -> u64 {
    (pieces - 1e-9 * pieces.max(1.0)).ceil().max(0.0) as u64
}

/// Sheets to order: ⌈area · layers · (1 + waste)/sheet area⌉.
///
/// # Errors
/// A number out of range.
pub fn sheets(
    area: SquareMetre,
    layers: u32,
    sheet: SquareMetre,
    waste: Waste,
) -> Result<u64, TakeOffError> {
    let a = within("the area in m²", area.0, 0.0, 1e6, "an area from 0 to 1 million m²")?;
    let n = within("the number of layers", f64::from(layers), 0.0, 100.0, "at most 100 layers")?;
    let s = within("the sheet in m²", sheet.0, 0.01, 100.0, "a sheet from 0.01 to 100 m²")?;
    Ok(whole(a * n * waste.factor()? / s))
}

/// Shape of a bead of sealant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bead {
    /// A joint filled square, side by side.
    Square(Metre),
    /// A triangular fillet in a corner with two equal legs.
    Fillet(Metre),
    /// A joint of any width and depth.
    Joint {
        /// Width.
        width: Metre,
        /// Depth.
        depth: Metre,
    },
}

impl Bead {
    /// Area of the section.
    fn section(self) -> Result<f64, TakeOffError> {
        let side = |m: Metre| {
            within("the side of the bead in m", m.0, 1e-4, 0.2, "a bead of 0.1 to 200 mm")
        };
        Ok(match self {
            Bead::Square(a) => side(a)?.powi(2),
            Bead::Fillet(a) => side(a)?.powi(2) / 2.0,
            Bead::Joint { width, depth } => side(width)? * side(depth)?,
        })
    }
}

/// Content of a tube, millilitres.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Millilitres(pub f64);

impl Millilitres {
    /// 10.1 fl oz, 299 mL.
    pub const SMALL_TUBE: Millilitres = Millilitres(299.0);
    /// 28 fl oz, 825 mL.
    pub const LARGE_TUBE: Millilitres = Millilitres(825.0);
}

/// Metres of bead one tube gives: its volume over the section.
///
/// # Errors
/// A number out of range.
pub fn metres_per_tube(bead: Bead, tube: Millilitres) -> Result<Metre, TakeOffError> {
    let v = within("the tube in mL", tube.0, 1.0, 1e6, "a content from 1 mL to 1000 L")?;
    Ok(Metre(v * 1e-6 / bead.section()?))
}

/// Tubes to order: ⌈length · (1 + waste) · section/content⌉.
///
/// # Errors
/// A number out of range.
pub fn sealant_tubes(
    length: Metre,
    bead: Bead,
    tube: Millilitres,
    waste: Waste,
) -> Result<u64, TakeOffError> {
    let l = within("the joint in m", length.0, 0.0, 1e6, "a length from 0 to 1000 km")?;
    Ok(whole(l * waste.factor()? / metres_per_tube(bead, tube)?.0))
}

/// Screws in one sheet: (⌊width/supports⌋ + 1) · (⌊height/screws⌋ + 1).
///
/// # Errors
/// A number out of range.
pub fn screws_per_sheet(
    sheet: [Metre; 2],
    supports: Metre,
    spacing: Metre,
) -> Result<u64, TakeOffError> {
    let rows = |length: Metre, step: Metre| -> Result<u64, TakeOffError> {
        let l = within("the side of the sheet in m", length.0, 0.01, 100.0, "1 cm to 100 m")?;
        let s = within("the spacing in m", step.0, 0.01, 100.0, "1 cm to 100 m")?;
        // 2.4 m over 0.4 m is six spaces, whatever the last binary digit says.
        Ok((l / s + 1e-9).floor() as u64 + 1)
    };
    Ok(rows(sheet[0], supports)? * rows(sheet[1], spacing)?)
}

/// Spacing of screws on walls, 400 mm or 16 in (second-hand; the trade document was not opened).
pub const SCREWS_ON_WALLS: Metre = Metre(0.400);
/// Spacing of screws on ceilings, 300 mm or 12 in (second-hand).
pub const SCREWS_ON_CEILINGS: Metre = Metre(0.300);

/// Shortest screw that holds in timber: what it goes through and 16 mm more (common practice, no
/// source). Over resilient members a screw must not reach the stud; that length is the maker's.
///
/// # Errors
/// A thickness out of range.
pub fn screw_length(through: Metre) -> Result<Metre, TakeOffError> {
    let t = within("the boards in m", through.0, 0.0, 0.5, "boards of 0 to 500 mm")?;
    Ok(Metre(t + 0.016))
}

/// Resilient clips by load: ⌈mass · area/rated load⌉. The maker's greatest spacing may ask for
/// more.
///
/// # Errors
/// A number out of range.
pub fn clips(
    mass: SurfaceMass,
    area: SquareMetre,
    kilograms_per_clip: f64,
) -> Result<u64, TakeOffError> {
    let m = within("the mass in kg/m²", mass.0, 0.0, 1e4, "0 to 10 000 kg/m²")?;
    let a = within("the area in m²", area.0, 0.0, 1e6, "an area from 0 to 1 million m²")?;
    let k = within("the load of a clip in kg", kilograms_per_clip, 0.1, 1e4, "0.1 to 10 000 kg")?;
    Ok(whole(m * a / k))
}

/// Area of fill to order, with waste.
///
/// # Errors
/// A number out of range.
pub fn fill(area: SquareMetre, waste: Waste) -> Result<SquareMetre, TakeOffError> {
    let a = within("the area in m²", area.0, 0.0, 1e6, "an area from 0 to 1 million m²")?;
    Ok(SquareMetre(a * waste.factor()?))
}
