//! A wall or floor as a plate that takes sound along: what flanking and impact need of it.

use std::f64::consts::PI;

use wythe_bands::{Air, Band, Hertz, LevelDifference, SquareMetre};
use wythe_partition::{
    Board, BuildUp, Construction, HeavyElement, Layer, MaterialClass, PartitionError,
    forced_radiation_factor, free_radiation_factor,
};

use crate::assemble::per_band;
use crate::{BANDS, Cache, PerBand};

/// A single leaf lighter than this, kg/m², is no heavy plate in the sense of the junction
/// formulas, whatever it is made of (common practice, no source).
const LIGHTEST_HEAVY: f64 = 60.0;
/// Internal loss factor of masonry and concrete. Source: ISO 12354-1 Annex B, from memory.
const INTERNAL_LOSS: f64 = 0.01;

/// A plate.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plate {
    /// Mass per area, kg/m²: of the heavy leaf, or of the whole light wall.
    pub mass: f64,
    /// Whether it is one heavy leaf (with or without linings).
    pub heavy: bool,
    /// Critical frequency of the heavy leaf, Hz.
    pub critical: Option<f64>,
    /// Area, m².
    pub area: f64,
    /// Reduction index of the bare plate, resonant transmission only where that is known, dB.
    pub resonant: PerBand,
    /// Improvement by what hangs or floats on side a and on side b, dB.
    pub linings: [PerBand; 2],
    /// What the plate gives to 10^(−R_ij/10) where a path enters or leaves on side a or b: half of
    /// the bare plate's reduction index, the lining of that side in full.
    pub halves: [PerBand; 2],
    /// Depth and fill of the gap nearest the heavy leaf on either side, and mass beyond it.
    pub floats: [Option<Float>; 2],
    /// Standard deviation of the reduction index, dB.
    pub deviation: PerBand,
}

/// Something that floats or hangs on a heavy leaf.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Float {
    /// Mass per area beyond the gap, kg/m².
    pub mass: f64,
    /// Clear depth of the gap, m.
    pub gap: f64,
    /// Whether more than half of the gap is filled.
    pub filled: bool,
}

impl Plate {
    /// The plate that a build-up of this area makes; `None` where neither layers nor a mass are
    /// known, so that nothing can be said about it.
    pub fn of(
        build_up: &BuildUp,
        area: SquareMetre,
        air: Air,
        cache: &mut Cache,
    ) -> Result<Option<Plate>, PartitionError> {
        let conditions = wythe_partition::Conditions { air, area };
        let whole = cache.wall(build_up, conditions)?;
        let dev = per_band(|b| whole.deviation.get(b).map_or(10.0, |d| d.0));
        let layers: &[Layer] = match &build_up.construction {
            Construction::Layers(layers) => layers,
            Construction::Measured(sheet) => &sheet.layers,
        };
        let reduction = per_band(|b| whole.reduction.get(b).map_or(0.0, |r| r.0));
        let mass = whole.surface_mass.map(|m| m.0).filter(|m| *m > 0.0);
        let light = |mass: f64| Plate {
            mass,
            heavy: false,
            critical: None,
            area: area.0,
            resonant: reduction,
            linings: [[0.0; BANDS]; 2],
            halves: halves(&reduction, &[[0.0; BANDS]; 2]),
            floats: [None; 2],
            deviation: dev,
        };
        let Some(base) = heavy_leaf(layers) else { return Ok(mass.map(light)) };
        let part = |from: usize, to: usize, name: &str| BuildUp {
            id: format!("{} ({name})", build_up.id),
            construction: Construction::Layers(layers[from..to].to_vec()),
            rigid_bridges_per_m2: build_up.rigid_bridges_per_m2,
            ..build_up.clone()
        };
        let bare = cache.wall(&part(base.0, base.1, "bare"), conditions)?;
        let bare_mass = bare.surface_mass.map_or(0.0, |m| m.0);
        if bare_mass < LIGHTEST_HEAVY {
            return Ok(mass.map(light));
        }
        let mut linings = [[0.0; BANDS]; 2];
        for (side, (from, to)) in [(0, base.1), (base.0, layers.len())].into_iter().enumerate() {
            if to - from > base.1 - base.0 {
                let lined =
                    cache.wall(&part(from, to, ["lined a", "lined b"][side]), conditions)?;
                linings[side] = per_band(|b| {
                    lined
                        .reduction
                        .get(b)
                        .zip(bare.reduction.get(b))
                        .map_or(0.0, |(l, r)| l.0 - r.0)
                });
            }
        }
        // A sheet of the whole, bare wall says more than its layers do.
        let measured_bare =
            matches!(build_up.construction, Construction::Measured(_)) && base == (0, layers.len());
        let total = if measured_bare {
            reduction
        } else {
            per_band(|b| bare.reduction.get(b).map_or(0.0, |r| r.0))
        };
        let critical = bare.critical.first().map(|f| f.0);
        let thickness = bare.thickness.map_or(0.1, |t| t.0).max(0.001);
        let resonant = match critical {
            Some(fc) => {
                let more = forced_share(bare_mass, fc, thickness, area.0, air);
                std::array::from_fn(|b| total[b] + more[b])
            }
            None => total,
        };
        Ok(Some(Plate {
            mass: bare_mass,
            heavy: true,
            critical,
            area: area.0,
            halves: halves(&resonant, &linings),
            resonant,
            linings,
            floats: floats(layers, base),
            deviation: dev,
        }))
    }

    /// Loss factor of the plate in a building when nothing is known of its edges.
    ///
    ///   η = η_int + m′/(485 √f)
    ///
    /// Source: EN 12354-1:2000 Annex C (secondary transcription), for m′ below 800 kg/m².
    pub fn usual_loss(&self, f: f64) -> f64 {
        INTERNAL_LOSS + self.mass.min(800.0) / (485.0 * f.sqrt())
    }

    /// Loss factor by what leaves at the edges: internal, radiated from both sides, and
    /// c₀/(π² S √(f f_c)) Σ l_k α_k, with the part of the perimeter nobody described taken as
    /// usual. Source: ISO 12354-1 Annex C, from memory.
    pub fn loss_in_place(&self, f: f64, edges: &[(f64, f64)], air: Air) -> f64 {
        let usual = self.usual_loss(f);
        let Some(fc) = self.critical else { return usual };
        let length: f64 = edges.iter().map(|(l, _)| l).sum();
        if !self.heavy || !(length > 0.0) {
            return usual;
        }
        let c = air.sound_speed();
        let side = self.area.sqrt();
        let known = (length / (4.0 * side)).min(1.0);
        let absorbed: f64 = edges.iter().map(|(l, alpha)| l * alpha).sum::<f64>() / known;
        let sigma = free_radiation_factor(f, fc, side, side, c);
        let radiated = 2.0 * air.impedance() * sigma / (2.0 * PI * f * self.mass);
        let by_edges = INTERNAL_LOSS
            + radiated
            + c / (PI * PI * self.area * (f * fc).sqrt()) * absorbed.max(0.0);
        known * by_edges + (1.0 - known) * usual
    }

    /// Equivalent absorption length a of the plate, m, for structural decay T_s = 2.2/(f η):
    ///   a = (2.2 π² S/(c T_s)) √(f_ref/f),  f_ref = 1000 Hz
    /// Source: Vigran, *Building Acoustics*, Eq. 9.42. A light, strongly damped plate takes
    /// a = S/l₀ (ISO 12354-1, from memory).
    pub fn absorption_length(&self, f: f64, loss: f64, air: Air) -> f64 {
        if !self.heavy {
            return self.area;
        }
        PI * PI * self.area * f * loss / air.sound_speed() * (1000.0 / f).sqrt()
    }
}

/// How much of 10 lg τ of a heavy leaf below f_c is forced, not resonant: what must be added to R
/// for a path along the structure, dB, never negative. With the same formula for both, so that
/// only the share counts. Forced sound does not travel along a plate (Nightingale and Bosmans
/// 2003, as cited by Vigran).
fn forced_share(mass: f64, fc: f64, thickness: f64, area: f64, air: Air) -> PerBand {
    let (c, side) = (air.sound_speed(), area.max(0.1).sqrt());
    let (l1, l2) = (side * 1.2, side / 1.2);
    let leaf = HeavyElement {
        m: mass,
        fc,
        rho: mass / thickness,
        c_l: 12f64.sqrt() * c * c / (2.0 * PI * fc * thickness),
        l1,
        l2,
        rho0: air.density(),
        c0: c,
    };
    per_band(|band| {
        let f = band.centre().0;
        if f >= fc {
            return 0.0;
        }
        let eta = INTERNAL_LOSS + mass.min(800.0) / (485.0 * f.sqrt());
        let sigma = free_radiation_factor(f, fc, l1, l2, c);
        let forced = forced_radiation_factor(2.0 * PI * f / c, l1, l2);
        let whole = leaf.with_radiation(f, eta, sigma, forced);
        let resonant = leaf.with_radiation(f, eta, sigma, 0.0);
        // Where the edges hardly radiate the formula would take any amount off; half a plate's
        // forced sound again comes back as resonant at its edges, so no more than 15 dB.
        (10.0 * (whole / resonant).log10()).clamp(0.0, 15.0)
    })
}

/// The heaviest run of boards, if it is of masonry or concrete: its range in the layers.
fn heavy_leaf(layers: &[Layer]) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize, f64)> = None;
    let mut start = 0;
    while start < layers.len() {
        let Layer::Board(_) = &layers[start] else {
            start += 1;
            continue;
        };
        let end = (start..layers.len())
            .find(|&i| matches!(layers[i], Layer::Cavity(_)))
            .unwrap_or(layers.len());
        let boards = || layers[start..end].iter().filter_map(board);
        let masonry = boards().any(|b| {
            b.known().is_some_and(|m| m.class == MaterialClass::Masonry && m.name != "plaster")
        });
        let mass: f64 = boards().map(mass_of).sum();
        if masonry && best.is_none_or(|(_, _, m)| mass > m) {
            best = Some((start, end, mass));
        }
        start = end;
    }
    best.map(|(from, to, _)| (from, to))
}

fn board(layer: &Layer) -> Option<&Board> {
    match layer {
        Layer::Board(b) => Some(b),
        Layer::Cavity(_) => None,
    }
}

fn mass_of(board: &Board) -> f64 {
    let each = board
        .surface_mass
        .map(|m| m.0)
        .or_else(|| board.known().map(|m| m.density.0 * board.thickness.0));
    each.unwrap_or(0.0) * f64::from(board.count.max(1))
}

fn floats(layers: &[Layer], base: (usize, usize)) -> [Option<Float>; 2] {
    let beyond = |range: std::ops::Range<usize>| -> f64 {
        layers[range].iter().filter_map(board).map(mass_of).sum()
    };
    let gap = |i: usize, mass: f64| match &layers[i] {
        Layer::Cavity(c) if mass > 0.0 => Some(Float {
            mass,
            gap: c.depth.0,
            filled: c.fill.as_ref().is_some_and(|f| f.depth.0 > c.depth.0 / 2.0),
        }),
        _ => None,
    };
    let below = (base.0 > 0).then(|| gap(base.0 - 1, beyond(0..base.0))).flatten();
    let above =
        (base.1 < layers.len()).then(|| gap(base.1, beyond(base.1..layers.len()))).flatten();
    [below, above]
}

fn halves(resonant: &PerBand, linings: &[PerBand; 2]) -> [PerBand; 2] {
    [0, 1].map(|side| {
        std::array::from_fn(|b| 10f64.powf(-(resonant[b] / 2.0 + linings[side][b]) / 10.0))
    })
}

/// Centre frequency of a calculated band.
pub(crate) fn centre(b: usize) -> Hertz {
    Band::at(b).map_or(Hertz(1000.0), |band| band.centre())
}

/// A spectrum of levels as one value per band, the nearest where one is missing.
pub(crate) fn filled_levels(values: &wythe_bands::Spectrum<wythe_bands::Level>) -> Option<PerBand> {
    filled(&values.map(|_, l| LevelDifference(l.0)))
}

/// A spectrum of level differences as one value per band, the nearest where one is missing.
pub(crate) fn filled(values: &wythe_bands::Spectrum<LevelDifference>) -> Option<PerBand> {
    if values.is_empty() {
        return None;
    }
    Some(per_band(|band| {
        values
            .iter()
            .min_by_key(|(b, _)| b.index().abs_diff(band.index()))
            .map_or(0.0, |(_, v)| if v.0.is_finite() { v.0 } else { 0.0 })
    }))
}
