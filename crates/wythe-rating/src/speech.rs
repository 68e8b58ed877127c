//! Speech as a source: published spectra, 1 m in front of the mouth.

use crate::Midband;
use wythe_bands::{Band, Level, LevelDifference, Octave, OctaveSpectrum, Source, Spectrum};

/// Vocal effort.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Effort {
    /// Normal.
    Normal,
    /// Raised.
    Raised,
    /// Loud.
    Loud,
    /// Shouted.
    Shout,
}

/// Spectrum levels, dB in a band of 1 Hz at 1 m, thirds 160 Hz to 8 kHz; ANSI S3.5-1997, Table 3
/// (public transcriptions; loud at 400 Hz reads 43.40 in one of them).
const SPECTRUM_LEVELS: [[f64; 18]; 4] = [
    [
        32.41, 34.48, 34.75, 33.98, 34.59, 34.27, 32.06, 28.30, 25.01, 23.00, 20.15, 17.32, 13.18,
        11.55, 9.33, 5.31, 2.59, 1.13,
    ],
    [
        33.81, 33.92, 38.98, 38.57, 39.11, 40.15, 38.78, 36.37, 33.86, 31.89, 28.58, 25.32, 22.35,
        20.15, 16.78, 11.47, 7.67, 5.07,
    ],
    [
        35.29, 37.76, 41.55, 43.78, 43.30, 44.85, 45.55, 44.05, 42.16, 40.53, 37.70, 34.39, 30.98,
        28.21, 25.41, 18.35, 13.87, 11.39,
    ],
    [
        30.77, 36.65, 42.50, 46.51, 47.40, 49.24, 51.21, 51.44, 51.31, 49.63, 47.65, 44.32, 40.80,
        38.13, 34.41, 28.24, 23.45, 20.72,
    ],
];
/// Width of an exact third over its mid-band frequency, 10^(1/20) − 10^(−1/20).
const RELATIVE_WIDTH: f64 = 0.230_767_5;

impl Effort {
    /// All efforts, rising.
    pub const ALL: [Effort; 4] = [Effort::Normal, Effort::Raised, Effort::Loud, Effort::Shout];

    /// Word in reports.
    pub fn word(self) -> &'static str {
        match self {
            Effort::Normal => "normal",
            Effort::Raised => "raised",
            Effort::Loud => "loud",
            Effort::Shout => "shout",
        }
    }

    /// Third-octave levels at 1 m in a free field, 160 Hz to 8 kHz: spectrum level plus
    /// 10 lg(0.2308 f_m). There is no published value below 160 Hz and none is made up.
    pub fn level_at_1m(self) -> Spectrum<Level> {
        let row = match self {
            Effort::Normal => &SPECTRUM_LEVELS[0],
            Effort::Raised => &SPECTRUM_LEVELS[1],
            Effort::Loud => &SPECTRUM_LEVELS[2],
            Effort::Shout => &SPECTRUM_LEVELS[3],
        };
        Midband::run("160", 18)
            .into_iter()
            .filter_map(Midband::band)
            .zip(row)
            .map(|(band, u): (Band, &f64)| {
                let width = RELATIVE_WIDTH * band.centre().0;
                (band, Level(u + 10.0 * width.log10()))
            })
            .collect()
    }

    /// Where the values come from.
    pub fn source(self) -> Source {
        Source::Published { key: "ansi-s3-5-1997", place: "Table 3 (public transcriptions)" }
    }
}

/// Octave levels of the male talker for intelligibility work less his A-weighted level, 125 Hz to
/// 8 kHz. Source: IEC 60268-16:2011, Table A.4 (public transcriptions; the 2020 edition changed
/// the low bands).
pub fn intelligibility_talker() -> OctaveSpectrum<LevelDifference> {
    octaves([2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8]).map(|_, v| LevelDifference(v))
}

/// Octave levels of the talker for open offices at 1 m, 125 Hz to 8 kHz, 57.4 dBA together.
/// Source: ISO 3382-3:2012, Table 1, from memory (the total agrees).
pub fn open_office_talker() -> OctaveSpectrum<Level> {
    octaves([49.9, 54.3, 58.0, 52.0, 44.8, 38.8, 33.5]).map(|_, v| Level(v))
}

fn octaves(values: [f64; 7]) -> OctaveSpectrum<f64> {
    Octave::all().skip(2).zip(values).collect()
}
