//! Named source spectra. Those of instruments are invented for the demonstration and print as
//! such; speech is published.

use wythe_bands::{Band, Level, Octave, OctaveSpectrum, Spectrum};

/// A named spectrum.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedSpectrum {
    /// Name of the project file.
    pub name: &'static str,
    /// Levels per third-octave band.
    pub levels: Spectrum<Level>,
    /// Whether it was invented for the demonstration.
    pub invented: bool,
    /// Where it comes from, in words.
    pub origin: &'static str,
}

/// Octave levels 31.5 Hz to 8 kHz, invented: shapes chosen to exercise the program, not data.
const INVENTED: &[(&str, [f64; 9])] = &[
    ("drum kit, hard", [84.0, 98.0, 97.0, 93.0, 92.0, 92.0, 92.0, 91.0, 88.0]),
    ("kick drum alone", [86.0, 99.0, 94.0, 84.0, 78.0, 76.0, 76.0, 74.0, 68.0]),
    ("amplified band", [92.0, 104.0, 104.0, 102.0, 102.0, 100.0, 98.0, 95.0, 90.0]),
    ("brass section", [50.0, 58.0, 74.0, 88.0, 95.0, 96.0, 92.0, 86.0, 76.0]),
    ("piano", [45.0, 60.0, 74.0, 78.0, 78.0, 75.0, 70.0, 62.0, 52.0]),
    ("singer", [30.0, 40.0, 60.0, 72.0, 80.0, 80.0, 77.0, 70.0, 60.0]),
    ("home hi-fi", [70.0, 74.0, 73.0, 71.0, 70.0, 67.0, 64.0, 60.0, 55.0]),
];

/// Spectrum level (dB in a band of 1 Hz) of speech 1 m in front of the mouth in a free field,
/// 160 Hz to 8 kHz. Source: ANSI S3.5-1997, Table 3 (from public transcriptions; they differ in
/// one cell: loud at 400 Hz is 43.30 in most and 43.40 in one).
const SPEECH: &[(&str, [f64; 18])] = &[
    (
        "speech, normal",
        [
            32.41, 34.48, 34.75, 33.98, 34.59, 34.27, 32.06, 28.30, 25.01, 23.00, 20.15, 17.32,
            13.18, 11.55, 9.33, 5.31, 2.59, 1.13,
        ],
    ),
    (
        "speech, raised",
        [
            33.81, 33.92, 38.98, 38.57, 39.11, 40.15, 38.78, 36.37, 33.86, 31.89, 28.58, 25.32,
            22.35, 20.15, 16.78, 11.47, 7.67, 5.07,
        ],
    ),
    (
        "speech, loud",
        [
            35.29, 37.76, 41.55, 43.78, 43.30, 44.85, 45.55, 44.05, 42.16, 40.53, 37.70, 34.39,
            30.98, 28.21, 25.41, 18.35, 13.87, 11.39,
        ],
    ),
    (
        "speech, shouted",
        [
            30.77, 36.65, 42.50, 46.51, 47.40, 49.24, 51.21, 51.44, 51.31, 49.63, 47.65, 44.32,
            40.80, 38.13, 34.41, 28.24, 23.45, 20.72,
        ],
    ),
];

/// Names of all spectra.
pub fn names() -> Vec<&'static str> {
    let invented = INVENTED.iter().map(|(n, _)| *n);
    invented.chain(SPEECH.iter().map(|(n, _)| *n)).chain(["pink noise"]).collect()
}

/// Spectrum by name.
pub fn named(name: &str) -> Option<NamedSpectrum> {
    let name = name.trim();
    if name.eq_ignore_ascii_case("pink noise") {
        return Some(NamedSpectrum {
            name: "pink noise",
            // 85 dB C in all: 71.3 dB in every third from 20 Hz to 20 kHz.
            levels: Spectrum::from_fn(|_| Level(71.3)),
            invented: false,
            origin: "pink noise: equal level in every third, 85 dBC in all",
        });
    }
    if let Some((name, octaves)) = INVENTED.iter().find(|(n, _)| n.eq_ignore_ascii_case(name)) {
        let octaves: OctaveSpectrum<f64> = Octave::all().zip(octaves.iter().copied()).collect();
        return Some(NamedSpectrum {
            name,
            levels: thirds_of_octaves(&octaves),
            invented: true,
            origin: "invented for the demonstration; record the real source",
        });
    }
    let (name, spectrum_level) = SPEECH.iter().find(|(n, _)| n.eq_ignore_ascii_case(name))?;
    let first = Band::from_nominal("160")?.index();
    let levels = spectrum_level
        .iter()
        .enumerate()
        .filter_map(|(i, u)| {
            let band = Band::at(first + i)?;
            let width = band.upper_edge().0 - band.lower_edge().0;
            Some((band, Level(u + 10.0 * width.log10())))
        })
        .collect();
    Some(NamedSpectrum {
        name,
        levels,
        invented: false,
        origin: "ANSI S3.5-1997 Table 3: 1 m in front of the mouth in a free field, not a room average; nothing is published below 160 Hz",
    })
}

/// Octave levels as thirds of equal energy: each a third of its octave's.
pub(crate) fn thirds_of_octaves(octaves: &OctaveSpectrum<f64>) -> Spectrum<Level> {
    let mut out = Spectrum::empty();
    for (octave, level) in octaves.iter() {
        for band in octave.thirds() {
            out.set(band, Level(level - 10.0 * 3f64.log10()));
        }
    }
    out
}
