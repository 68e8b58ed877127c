//! Bass in small rooms: the corner procedure.

use wythe_bands::{Band, CubicMetre, Level};

/// Whether a room needs the corner procedure: its volume, to the nearest cubic metre, is smaller
/// than 25 m³. A half is rounded up (own reading of the tie), so 24.5 m³ does not.
///
/// Source: ISO 16283-1:2014, clause 8 (public transcriptions).
pub fn needs_corners(volume: CubicMetre) -> bool {
    (volume.0 + 0.5).floor() < 25.0
}

/// Whether a band belongs to the procedure: 50, 63 and 80 Hz.
pub(crate) fn is_low(band: Band) -> bool {
    (Band::HZ_50..=Band::HZ_80).contains(&band)
}

/// Highest corner of each source position, then the energy mean over source positions; `None`
/// without corners. Source: ISO 16283-1:2014, 8 and Formula (12).
pub fn corner_level<'a>(source_positions: impl IntoIterator<Item = &'a [Level]>) -> Option<Level> {
    Level::energy_mean(source_positions.into_iter().filter_map(|corners| {
        corners.iter().copied().filter(|l| l.0.is_finite()).max_by(|a, b| a.0.total_cmp(&b.0))
    }))
}

/// L_LF = 10 lg((10^(L_corner/10) + 2 · 10^(L/10))/3).
/// Source: ISO 16283-1:2014, Formula (13).
///
/// ```
/// use wythe_bands::Level;
/// let l = wythe_fieldtest::low_frequency_level(Level(56.4), Level(50.3));
/// assert!((l.0 - 53.4).abs() < 0.05);
/// ```
pub fn low_frequency_level(corner: Level, default: Level) -> Level {
    let energy = (corner.energy() + 2.0 * default.energy()) / 3.0;
    Level::from_energy(energy).unwrap_or(default)
}
