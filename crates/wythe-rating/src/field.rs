//! Quantities of a field test that are pure arithmetic: differences, background, corners, decays.
//!
//! Not here: recordings, positions in a room, and which of the quantities a test needs.

use crate::Bound;
use thiserror::Error;
use wythe_bands::{Band, CubicMetre, Level, LevelDifference, Seconds, Spectrum, SquareMetre};

/// Reference reverberation time T0, s, of dwellings (ISO 16283).
pub const REFERENCE_TIME: Seconds = Seconds(0.5);
/// Reference absorption area A0, m² (ISO 16283).
pub const REFERENCE_AREA: SquareMetre = SquareMetre(10.0);
/// Sabine's constant as ISO 16283 rounds it, s/m.
const SABINE: f64 = 0.16;

/// A quantity that cannot be computed from what was given.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum FieldError {
    /// Something that must be above zero is not.
    #[error("{what}{} is {value}, it must be above zero", at.map(|b| format!(" at {b} Hz")).unwrap_or_default())]
    NotPositive {
        /// What.
        what: &'static str,
        /// Band, where it belongs to one.
        at: Option<Band>,
        /// What was given.
        value: f64,
    },
    /// A level that is no number.
    #[error(
        "the level at {at} Hz is {value}, which is not a number of decibels; leave the band out"
    )]
    NotALevel {
        /// Band.
        at: Band,
        /// What was given.
        value: f64,
    },
}

fn positive(what: &'static str, at: Option<Band>, value: f64) -> Result<f64, FieldError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(FieldError::NotPositive { what, at, value })
    }
}

fn checked<T: Copy, U: Copy>(
    spectrum: &Spectrum<T>,
    mut change: impl FnMut(Band, T) -> Result<Option<U>, FieldError>,
) -> Result<Spectrum<U>, FieldError> {
    let mut out = Spectrum::empty();
    for (band, value) in spectrum.iter() {
        if let Some(new) = change(band, value)? {
            out.set(band, new);
        }
    }
    Ok(out)
}

/// Level difference D = L1 − L2 in the bands both rooms have (ISO 16283-1:2014, 3.10).
pub fn difference(
    source: &Spectrum<Level>,
    receiver: &Spectrum<Level>,
) -> Spectrum<LevelDifference> {
    source.zip_with(receiver, |l1, l2| l1 - l2)
}

/// Absorption area A = 0.16 V / T of the receiving room, m² (ISO 16283-1:2014, Formula (5)).
///
/// # Errors
/// A volume or a reverberation time that is not above zero.
pub fn absorption_area(
    volume: CubicMetre,
    time: &Spectrum<Seconds>,
) -> Result<Spectrum<SquareMetre>, FieldError> {
    let volume = positive("the volume", None, volume.0)?;
    checked(time, |band, t| {
        let t = positive("the reverberation time", Some(band), t.0)?;
        Ok(Some(SquareMetre(SABINE * volume / t)))
    })
}

/// Standardized level difference DnT = D + 10 lg(T/0.5 s); NNR of ASTM E336 is the same.
///
/// # Errors
/// A reverberation time that is not above zero.
pub fn standardized(
    d: &Spectrum<LevelDifference>,
    time: &Spectrum<Seconds>,
) -> Result<Spectrum<LevelDifference>, FieldError> {
    with_ratio(d, time, "the reverberation time", |t| t.0 / REFERENCE_TIME.0)
}

/// Normalized level difference Dn = D + 10 lg(10 m²/A).
///
/// # Errors
/// An absorption area that is not above zero.
pub fn normalized(
    d: &Spectrum<LevelDifference>,
    area: &Spectrum<SquareMetre>,
) -> Result<Spectrum<LevelDifference>, FieldError> {
    with_ratio(d, area, "the absorption area", |a| REFERENCE_AREA.0 / a.0)
}

/// Apparent reduction index R′ = D + 10 lg(S/A), with S the common area; ATL of ASTM E336 is the
/// same.
///
/// # Errors
/// An area that is not above zero.
pub fn apparent_reduction(
    d: &Spectrum<LevelDifference>,
    common: SquareMetre,
    area: &Spectrum<SquareMetre>,
) -> Result<Spectrum<LevelDifference>, FieldError> {
    let s = positive("the common area", None, common.0)?;
    with_ratio(d, area, "the absorption area", |a| s / a.0)
}

/// Apparent reduction index of a facade, R′ = L1,s − L2 + 10 lg(S/A) less 1.5 dB (loudspeaker at
/// 45 degrees) or 3 dB (traffic). Source: ISO 16283-3:2016 (transcription).
///
/// # Errors
/// An area that is not above zero.
pub fn facade_reduction(
    d_at_surface: &Spectrum<LevelDifference>,
    common: SquareMetre,
    area: &Spectrum<SquareMetre>,
    traffic: bool,
) -> Result<Spectrum<LevelDifference>, FieldError> {
    let off = LevelDifference(if traffic { 3.0 } else { 1.5 });
    Ok(apparent_reduction(d_at_surface, common, area)?.map(|_, r| r - off))
}

fn with_ratio<T: Copy>(
    d: &Spectrum<LevelDifference>,
    other: &Spectrum<T>,
    what: &'static str,
    ratio: impl Fn(T) -> f64,
) -> Result<Spectrum<LevelDifference>, FieldError> {
    checked(d, |band, d| match other.get(band) {
        None => Ok(None),
        Some(o) => {
            let ratio = positive(what, Some(band), ratio(o))?;
            Ok(Some(d + LevelDifference(10.0 * ratio.log10())))
        }
    })
}

/// Standardized impact level L′nT = Li − 10 lg(T/0.5 s) (ISO 16283-2:2020).
///
/// # Errors
/// A reverberation time that is not above zero.
pub fn standardized_impact(
    level: &Spectrum<Level>,
    time: &Spectrum<Seconds>,
) -> Result<Spectrum<Level>, FieldError> {
    checked(level, |band, l| match time.get(band) {
        None => Ok(None),
        Some(t) => {
            let t = positive("the reverberation time", Some(band), t.0)?;
            Ok(Some(l - LevelDifference(10.0 * (t / REFERENCE_TIME.0).log10())))
        }
    })
}

/// Normalized impact level L′n = Li + 10 lg(A/10 m²) (ISO 16283-2:2020).
///
/// # Errors
/// An absorption area that is not above zero.
pub fn normalized_impact(
    level: &Spectrum<Level>,
    area: &Spectrum<SquareMetre>,
) -> Result<Spectrum<Level>, FieldError> {
    checked(level, |band, l| match area.get(band) {
        None => Ok(None),
        Some(a) => {
            let a = positive("the absorption area", Some(band), a.0)?;
            Ok(Some(l + LevelDifference(10.0 * (a / REFERENCE_AREA.0).log10())))
        }
    })
}

/// Energy mean over positions, band by band, in the bands every position has (ISO 16283-1:2014,
/// 7.8, Formula (9)).
pub fn mean_over_positions(positions: &[Spectrum<Level>]) -> Spectrum<Level> {
    let Some(first) = positions.first() else { return Spectrum::empty() };
    first.filter_map(|band, _| {
        let levels: Option<Vec<Level>> = positions.iter().map(|p| p.get(band)).collect();
        Level::energy_mean(levels?)
    })
}

/// Level differences found with one loudspeaker at several positions, combined by transmitted
/// energy: D = −10 lg((1/m) Σ 10^(−Dj/10)), in the bands all have (rule from memory; that
/// ISO 16283-1 has such a rule: Rosão et al. 2015).
pub fn combine_loudspeaker_positions(
    differences: &[Spectrum<LevelDifference>],
) -> Spectrum<LevelDifference> {
    let Some(first) = differences.first() else { return Spectrum::empty() };
    first.filter_map(|band, _| {
        let all: Option<Vec<LevelDifference>> = differences.iter().map(|d| d.get(band)).collect();
        LevelDifference::mean_by_transmittance(all?)
    })
}

/// By which rule a level is freed of background noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BackgroundRule {
    /// ISO 16283, field: nothing from 10 dB on, 1.3 dB and a limit at 6 dB or less.
    Iso16283,
    /// ISO 10140-4, laboratory: nothing from 15 dB on, 1.3 dB and a limit at 6 dB or less.
    Iso10140,
    /// ASTM E336, from memory: nothing above 10 dB, 2 dB and a limit below 5 dB.
    E336,
}

/// What became of a band freed of background noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BackgroundVerdict {
    /// The background is too low to matter.
    Valid,
    /// Background energy was taken off.
    Corrected,
    /// The background is too near: the level is an upper limit, the insulation a lower one.
    Limit,
}

impl BackgroundVerdict {
    /// Word for tables: `valid`, `corrected`, `bound`.
    pub fn word(self) -> &'static str {
        match self {
            BackgroundVerdict::Valid => "valid",
            BackgroundVerdict::Corrected => "corrected",
            BackgroundVerdict::Limit => "bound",
        }
    }

    /// Bound of an insulation value computed from the level.
    pub fn insulation_bound(self) -> Bound {
        if self == BackgroundVerdict::Limit { Bound::AtLeast } else { Bound::Exact }
    }

    /// Bound of an impact level computed from the level.
    pub fn impact_bound(self) -> Bound {
        self.insulation_bound().reversed()
    }
}

/// A level freed of background noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Freed {
    /// The level.
    pub level: Level,
    /// How it was found.
    pub verdict: BackgroundVerdict,
}

/// Frees one level of signal and background from the background.
///
/// L = 10 lg(10^(Lsb/10) − 10^(Lb/10)) between the limits of the rule. Source: ISO 16283-1:2014,
/// 9.2 (transcription); ISO 10140-4 thresholds and E336 from memory.
///
/// # Errors
/// A level that is no number.
pub fn free_of_background(
    at: Band,
    both: Level,
    background: Level,
    rule: BackgroundRule,
) -> Result<Freed, FieldError> {
    for level in [both, background] {
        if !level.0.is_finite() {
            return Err(FieldError::NotALevel { at, value: level.0 });
        }
    }
    // Levels to one decimal subtract to 5.999 999 or 6.000 001: both are the 6.0 of the rule.
    let d = ((both.0 - background.0) * 1e6).round() / 1e6;
    let (untouched, limited, off) = match rule {
        BackgroundRule::Iso16283 => (d >= 10.0, d <= 6.0, 1.3),
        BackgroundRule::Iso10140 => (d >= 15.0, d <= 6.0, 1.3),
        BackgroundRule::E336 => (d > 10.0, d < 5.0, 2.0),
    };
    let (level, verdict) = if untouched {
        (both, BackgroundVerdict::Valid)
    } else if limited {
        (both - LevelDifference(off), BackgroundVerdict::Limit)
    } else {
        let energy = both.energy() - background.energy();
        let level =
            Level::from_energy(energy).ok_or(FieldError::NotALevel { at, value: energy })?;
        (level, BackgroundVerdict::Corrected)
    };
    Ok(Freed { level, verdict })
}

/// [`free_of_background`] for every band both spectra have.
///
/// # Errors
/// A level that is no number.
pub fn free_spectrum(
    both: &Spectrum<Level>,
    background: &Spectrum<Level>,
    rule: BackgroundRule,
) -> Result<Spectrum<Freed>, FieldError> {
    checked(both, |band, level| {
        background.get(band).map(|b| free_of_background(band, level, b, rule)).transpose()
    })
}

/// Bands of the low-frequency procedure.
pub const LOW_BANDS: [Band; 3] = [Band::HZ_50, Band::HZ_63, Band::HZ_80];

/// Whether a room needs the low-frequency procedure: its volume to the nearest cubic metre is
/// below 25 m³, so below 24.5 m³ (halves taken up: own reading). Source: ISO 16283-1:2014, 8.1.
///
/// # Errors
/// A volume that is not above zero.
pub fn needs_low_frequency_procedure(volume: CubicMetre) -> Result<bool, FieldError> {
    let volume = positive("the volume", None, volume.0)?;
    Ok((volume + 0.5).floor() < 25.0)
}

/// Corner level of the low bands: per source position the highest corner, then the energy mean
/// over source positions (ISO 16283-1:2014, Formula (12)). A band one corner lacks is left out.
///
/// `corners[q][c]` is corner c measured with the source at position q.
pub fn corner_level(corners: &[Vec<Spectrum<Level>>]) -> Spectrum<Level> {
    LOW_BANDS
        .into_iter()
        .filter_map(|band| {
            let highest: Option<Vec<Level>> = corners
                .iter()
                .map(|position| {
                    let levels: Option<Vec<f64>> =
                        position.iter().map(|c| c.get(band).map(|l| l.0)).collect();
                    levels?.into_iter().reduce(f64::max).map(Level)
                })
                .collect();
            Level::energy_mean(highest?).map(|l| (band, l))
        })
        .collect()
}

/// Low-frequency level L_LF = 10 lg((10^(L_corner/10) + 2 · 10^(L/10))/3), with L from the default
/// procedure (ISO 16283-1:2014, Formula (13)). Other bands keep L.
pub fn low_frequency_level(default: &Spectrum<Level>, corner: &Spectrum<Level>) -> Spectrum<Level> {
    default.map(|band, l| match corner.get(band) {
        Some(c) => Level::energy_mean([c, l, l]).unwrap_or(l),
        None => l,
    })
}

/// Reverberation times with the three low thirds replaced by the one value of the 63 Hz octave
/// (ISO 16283-1:2014, 10.4).
pub fn low_frequency_time(time: &Spectrum<Seconds>, octave_63: Seconds) -> Spectrum<Seconds> {
    let mut out = *time;
    for band in LOW_BANDS {
        out.set(band, octave_63);
    }
    out
}

/// Curvature of a decay, C = 100 (T30/T20 − 1) %; usual 0 to 5, suspicious above 10 or below 0.
/// Source: ISO 3382-2:2008, Annex B (public manuals; the lower bound from memory).
///
/// # Errors
/// A time that is not above zero.
pub fn decay_curvature(t20: Seconds, t30: Seconds) -> Result<f64, FieldError> {
    let t20 = positive("T20", None, t20.0)?;
    let t30 = positive("T30", None, t30.0)?;
    Ok(100.0 * (t30 / t20 - 1.0))
}

/// Non-linearity of a decay, ξ = 1000 (1 − r²) per mille, with r the correlation coefficient of
/// the regression, −1 to 1; usual 0 to 5. `None` for a coefficient out of range.
/// Source: ISO 3382-2:2008, Annex B (public manuals).
pub fn decay_nonlinearity(r: f64) -> Option<f64> {
    (r.abs() <= 1.0).then_some(1000.0 * (1.0 - r * r))
}
