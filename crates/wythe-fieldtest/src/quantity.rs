//! Level differences made comparable: standardized, normalized, per element.

use wythe_bands::{CubicMetre, Level, LevelDifference, Seconds, SquareMetre};

/// Reference decay time of a dwelling, s.
const T0: f64 = 0.5;
/// Reference absorption area, m².
const A0: f64 = 10.0;

fn plus(d: LevelDifference, ratio: f64) -> LevelDifference {
    LevelDifference(d.0 + 10.0 * ratio.log10())
}

/// A = 0.16 V/T of the receiving room. Source: ISO 16283-1:2014, 3.
pub fn absorption_area(volume: CubicMetre, t: Seconds) -> SquareMetre {
    SquareMetre(0.16 * volume.0 / t.0)
}

/// D_nT = D + 10 lg(T/0.5 s). Source: ISO 16283-1:2014, 3.
///
/// ```
/// use wythe_bands::{LevelDifference, Seconds};
/// let d = wythe_fieldtest::standardized(LevelDifference(40.0), Seconds(0.5));
/// assert_eq!(d.0, 40.0);
/// ```
pub fn standardized(d: LevelDifference, t: Seconds) -> LevelDifference {
    plus(d, t.0 / T0)
}

/// D_n = D + 10 lg(10 m²/A). Source: ISO 16283-1:2014, 3.
pub fn normalized(d: LevelDifference, area: SquareMetre) -> LevelDifference {
    plus(d, A0 / area.0)
}

/// R′ = D + 10 lg(S/A), S the part of the element both rooms share. Source: ISO 16283-1:2014, 3.
pub fn apparent_reduction(
    d: LevelDifference,
    common: SquareMetre,
    area: SquareMetre,
) -> LevelDifference {
    plus(d, common.0 / area.0)
}

/// L′_nT = L_i − 10 lg(T/0.5 s). Source: ISO 16283-2:2020.
pub fn impact_standardized(level: Level, t: Seconds) -> Level {
    Level(level.0 - 10.0 * (t.0 / T0).log10())
}

/// L′_n = L_i + 10 lg(A/10 m²). Source: ISO 16283-2:2020.
pub fn impact_normalized(level: Level, area: SquareMetre) -> Level {
    Level(level.0 + 10.0 * (area.0 / A0).log10())
}

/// R′_45 = L_1,s − L_2 + 10 lg(S/A) − 1.5 dB, loudspeaker at 45°, L_1,s on the façade.
/// Source: ISO 16283-3:2016.
pub fn facade_loudspeaker(
    d: LevelDifference,
    element: SquareMetre,
    area: SquareMetre,
) -> LevelDifference {
    LevelDifference(apparent_reduction(d, element, area).0 - 1.5)
}

/// R′_tr,s: as [`facade_loudspeaker`] with traffic, less 3 dB. Source: ISO 16283-3:2016.
pub fn facade_traffic(
    d: LevelDifference,
    element: SquareMetre,
    area: SquareMetre,
) -> LevelDifference {
    LevelDifference(apparent_reduction(d, element, area).0 - 3.0)
}

/// D_2m,nT = L_1,2m − L_2 + 10 lg(T/0.5 s). Source: ISO 16283-3:2016.
pub fn facade_standardized(d: LevelDifference, t: Seconds) -> LevelDifference {
    standardized(d, t)
}
