//! Few modes in small rooms: which they are, how many, and how far levels spread because of it.

use wythe_bands::{Band, CubicMetre, Hertz, LevelDifference, Metre, Seconds, SquareMetre};

/// One standing wave of a rectangular room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Half waves along each side.
    pub order: [u32; 3],
    /// Its frequency.
    pub frequency: Hertz,
}

/// Why modes cannot be listed.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ModeError {
    /// A side that is zero, negative or no number.
    #[error("a room of {0} m by {1} m by {2} m has no modes: every side must be above zero")]
    NoRoom(f64, f64, f64),
    /// A speed of sound or highest frequency that is no positive number.
    #[error("modes cannot be listed up to {0} Hz at a speed of sound of {1} m/s")]
    NoFrequency(f64, f64),
    /// More modes than a list can use.
    #[error("about {0:.0} modes lie below that frequency, more than {most} are not listed; ask for a lower one", most = MOST_MODES)]
    TooMany(f64),
}

/// Longest list; beyond it single modes tell nothing.
pub const MOST_MODES: usize = 20_000;

/// Modes of a rigid rectangular room above 0 Hz up to `highest`, rising.
///
///   f_n = (c/2) √((n_x/L_x)² + (n_y/L_y)² + (n_z/L_z)²)
///
/// Source: Kuttruff, Room Acoustics (from memory; seen in extracts).
///
/// ```
/// use wythe_bands::{Hertz, Metre};
/// let modes = wythe_building::modes::list(
///     [Metre(4.0), Metre(3.0), Metre(2.5)], Hertz(100.0), 343.0)?;
/// assert_eq!(modes.len(), 8);
/// assert_eq!(modes[0].order, [1, 0, 0]);
/// # Ok::<(), wythe_building::modes::ModeError>(())
/// ```
///
/// # Errors
/// [`ModeError`] for sides or frequencies that are not above zero, and for lists over
/// [`MOST_MODES`].
pub fn list(sides: [Metre; 3], highest: Hertz, sound_speed: f64) -> Result<Vec<Mode>, ModeError> {
    let expected = smoothed_count_of_box(sides, highest, sound_speed)?;
    if expected > MOST_MODES as f64 {
        return Err(ModeError::TooMany(expected));
    }
    let most = sides.map(|l| (2.0 * l.0 * highest.0 / sound_speed).floor() as u32);
    // A needle of a room has few modes by volume but an endless range along one side.
    if most.iter().map(|n| f64::from(*n)).sum::<f64>() > MOST_MODES as f64 {
        return Err(ModeError::TooMany(most.iter().map(|n| f64::from(*n)).sum()));
    }
    let mut modes = Vec::new();
    for x in 0..=most[0] {
        for y in 0..=most[1] {
            for z in 0..=most[2] {
                let order = [x, y, z];
                let sum: f64 =
                    order.iter().zip(sides).map(|(n, l)| (f64::from(*n) / l.0).powi(2)).sum();
                let frequency = sound_speed / 2.0 * sum.sqrt();
                if frequency > highest.0 {
                    break;
                }
                if frequency > 0.0 {
                    modes.push(Mode { order, frequency: Hertz(frequency) });
                }
            }
        }
    }
    modes.sort_by(|a, b| a.frequency.0.total_cmp(&b.frequency.0));
    Ok(modes)
}

/// Smoothed number of modes up to `f` of a rectangular room.
///
///   N(f) = 4πV f³/3c³ + πS f²/4c² + L f/8c
///
/// with S the area of all six faces and L the length of all twelve edges.
/// Source: Kuttruff, Room Acoustics (from memory; seen in extracts).
///
/// # Errors
/// [`ModeError`] as [`list`], but for its length.
pub fn smoothed_count_of_box(
    sides: [Metre; 3],
    f: Hertz,
    sound_speed: f64,
) -> Result<f64, ModeError> {
    let [x, y, z] = sides.map(|l| l.0);
    if !sides.iter().all(|l| l.0 > 0.0 && l.0.is_finite()) {
        return Err(ModeError::NoRoom(x, y, z));
    }
    if !(f.0 > 0.0 && f.0.is_finite() && sound_speed > 0.0 && sound_speed.is_finite()) {
        return Err(ModeError::NoFrequency(f.0, sound_speed));
    }
    let volume = CubicMetre(x * y * z);
    let surface = SquareMetre(2.0 * (x * y + y * z + z * x));
    let edges = Metre(4.0 * (x + y + z));
    Ok(smoothed_count(volume, surface, edges, f, sound_speed))
}

/// Smoothed number of modes up to `f`, for a room of any shape with flat faces (Weyl's sum as
/// [`smoothed_count_of_box`]; for other shapes than boxes an estimate).
pub fn smoothed_count(v: CubicMetre, s: SquareMetre, l: Metre, f: Hertz, c: f64) -> f64 {
    let k = f.0 / c;
    4.0 * std::f64::consts::PI * v.0 / 3.0 * k.powi(3)
        + std::f64::consts::PI * s.0 / 4.0 * k * k
        + l.0 / 8.0 * k
}

/// Smoothed number of modes up to `f` of a room known by its volume only, taken as a cube.
pub fn smoothed_count_of_cube(v: CubicMetre, f: Hertz, c: f64) -> f64 {
    let side = v.0.max(0.0).cbrt();
    smoothed_count(v, SquareMetre(6.0 * side * side), Metre(12.0 * side), f, c)
}

/// Smoothed number of modes inside one third-octave band of a room of volume `v`.
///
/// Faces and edges are taken as of a cube of the same volume, the least any box can have, so the
/// count errs to the low side by a mode or two.
pub fn modes_in_band(v: CubicMetre, band: Band, c: f64) -> f64 {
    let side = v.0.max(0.0).cbrt();
    let (s, l) = (SquareMetre(6.0 * side * side), Metre(12.0 * side));
    smoothed_count(v, s, l, band.upper_edge(), c) - smoothed_count(v, s, l, band.lower_edge(), c)
}

/// Modal overlap M = 2.2 n(f)/T with the modal density n = dN/df, 1/Hz.
/// Source: half-power bandwidth 2.2/T times density; from memory, checked by definition.
pub fn modal_overlap(density: f64, decay: Seconds) -> f64 {
    2.2 * density / decay.0
}

/// Standard deviation over positions of the level in a band of width B with decay time T.
///
///   σ = 5.57 / √(1 + 0.238 B T) dB
///
/// Source: Schroeder 1969, from memory; both limits derived: 5.57 dB is the standard deviation of
/// the level of a pure tone in a diffuse field, 11.4/√(BT) that of a wide band. Against a modal
/// sum of three rigid rooms the formula runs 0 to 1.8 dB low, worst with few modes;
/// [`FIXED_SOURCE_FACTOR`] makes up for a source that stays in one place.
pub fn spread_over_positions(bandwidth: Hertz, decay: Seconds) -> LevelDifference {
    let product = bandwidth.0 * decay.0;
    let product = if product.is_finite() { product.max(0.0) } else { 0.0 };
    LevelDifference(5.57 / (1.0 + 0.238 * product).sqrt())
}

/// What [`spread_over_positions`] is multiplied with for a fixed source (derived from a modal sum
/// of three rooms of 30, 62 and 109 m³).
pub const FIXED_SOURCE_FACTOR: f64 = 1.2;

/// How far the level in a band may be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldTrust {
    /// Ten modes or more and overlapping: diffuse-field arithmetic holds within its spread.
    Diffuse,
    /// Three to ten modes, or overlap 0.5 to 1: indicative.
    Indicative,
    /// Fewer than three modes: an order of magnitude.
    OrderOnly,
}

impl FieldTrust {
    /// Trust in a band holding `modes` modes with modal overlap `overlap`.
    /// Rule of this program, derived from the modal sums named at [`spread_over_positions`].
    pub fn of(modes: f64, overlap: f64) -> FieldTrust {
        if modes >= 10.0 && overlap >= 1.0 {
            FieldTrust::Diffuse
        } else if modes >= 3.0 && overlap >= 0.5 {
            FieldTrust::Indicative
        } else {
            FieldTrust::OrderOnly
        }
    }

    /// What to add to the standard deviation of a level, dB.
    pub fn added_deviation(self) -> LevelDifference {
        LevelDifference(match self {
            FieldTrust::Diffuse => 0.0,
            FieldTrust::Indicative => 3.0,
            FieldTrust::OrderOnly => 5.5,
        })
    }
}

/// Nearest pitch of equal temperament at A4 = 440 Hz, and how many hundredths of a semitone the
/// frequency lies above it. `None` outside 16 Hz to 20 kHz.
///
/// ```
/// use wythe_bands::Hertz;
/// assert_eq!(wythe_building::modes::nearest_pitch(Hertz(42.9)), Some(("F1".to_owned(), -30)));
/// ```
pub fn nearest_pitch(f: Hertz) -> Option<(String, i32)> {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    if !(f.0 >= 16.0 && f.0 <= 20_000.0) {
        return None;
    }
    // Semitones above C0, which lies 57 below A4.
    let semitones = 57.0 + 12.0 * (f.0 / 440.0).log2();
    let nearest = semitones.round();
    let cents = ((semitones - nearest) * 100.0).round() as i32;
    let n = nearest as usize;
    Some((format!("{}{}", NAMES[n % 12], n / 12), cents))
}
