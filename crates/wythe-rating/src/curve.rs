//! A curve over bands that may be rated: values, and which of them are only bounds.

mod read;

pub use read::{CurveError, CurveFault, LARGEST_TEXT, read};

use crate::Midband;
use wythe_bands::{Level, LevelDifference, OctaveSpectrum, Remark, Spectrum};

/// Whether the bands of a curve are thirds of an octave or octaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Resolution {
    /// Third-octave bands.
    Thirds,
    /// Octave bands.
    Octaves,
}

impl Resolution {
    /// Word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Resolution::Thirds => "third-octave",
            Resolution::Octaves => "octave",
        }
    }
}

/// Whether a number is the value itself or only a limit on one side of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Bound {
    /// The value.
    #[default]
    Exact,
    /// The true value is this or higher, as an insulation found at the limit of background noise.
    AtLeast,
    /// The true value is this or lower, as an impact level found at that limit.
    AtMost,
}

impl Bound {
    /// The same limit seen through a falling relation.
    pub fn reversed(self) -> Bound {
        match self {
            Bound::Exact => Bound::Exact,
            Bound::AtLeast => Bound::AtMost,
            Bound::AtMost => Bound::AtLeast,
        }
    }

    /// `=`, `≥` or `≤`, to stand between symbol and number.
    pub fn relation(self) -> &'static str {
        match self {
            Bound::Exact => "=",
            Bound::AtLeast => "≥",
            Bound::AtMost => "≤",
        }
    }

    /// `≥ `, `≤ ` or nothing, to stand before the number.
    pub fn sign(self) -> &'static str {
        match self {
            Bound::Exact => "",
            Bound::AtLeast => "≥ ",
            Bound::AtMost => "≤ ",
        }
    }
}

/// Value of one band of a [`Curve`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// Level or level difference, dB, as given, not rounded.
    pub value: f64,
    /// Whether it is the value or a limit.
    pub bound: Bound,
}

/// A value per third or per octave, from 8 Hz to 20 kHz; bands may be absent.
///
/// It does not say whether it was predicted or measured, nor whether it holds levels or level
/// differences: the rating it is handed to says that.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    resolution: Resolution,
    values: [Option<Entry>; Midband::COUNT],
    /// What was noticed while the curve was read.
    pub remarks: Vec<Remark>,
}

impl Curve {
    /// A curve without values.
    pub fn new(resolution: Resolution) -> Curve {
        Curve { resolution, values: [None; Midband::COUNT], remarks: Vec::new() }
    }

    /// A curve from pairs of band and value; in a curve of octaves other bands are passed over.
    pub fn from_pairs(
        resolution: Resolution,
        pairs: impl IntoIterator<Item = (Midband, f64)>,
    ) -> Curve {
        let mut curve = Curve::new(resolution);
        for (band, value) in pairs {
            curve.set(band, value, Bound::Exact);
        }
        curve
    }

    /// Thirds or octaves.
    pub fn resolution(&self) -> Resolution {
        self.resolution
    }

    /// Value of a band.
    pub fn get(&self, band: Midband) -> Option<Entry> {
        self.values[band.index()]
    }

    /// Sets the value of a band; `false` when it could not be taken, because an octave curve has
    /// no such band.
    pub fn set(&mut self, band: Midband, value: f64, bound: Bound) -> bool {
        let fits = self.resolution == Resolution::Thirds || band.is_octave();
        if fits {
            self.values[band.index()] = Some(Entry { value, bound });
        }
        fits
    }

    /// Marks a band that has a value as a limit; a band without one stays absent.
    pub fn mark(&mut self, band: Midband, bound: Bound) {
        if let Some(entry) = &mut self.values[band.index()] {
            entry.bound = bound;
        }
    }

    /// Bands with their entries, rising.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (Midband, Entry)> + '_ {
        Midband::all().filter_map(|b| self.get(b).map(|e| (b, e)))
    }

    /// Number of bands with a value.
    pub fn len(&self) -> usize {
        self.iter().count()
    }

    /// Whether no band has a value.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Those of `wanted` that have no value.
    pub fn missing(&self, wanted: &[Midband]) -> Vec<Midband> {
        wanted.iter().copied().filter(|b| self.get(*b).is_none()).collect()
    }

    /// The curve with every value changed; bounds and remarks stay.
    pub fn map(&self, mut change: impl FnMut(Midband, f64) -> f64) -> Curve {
        let mut out = self.clone();
        for band in Midband::all() {
            if let Some(entry) = &mut out.values[band.index()] {
                entry.value = change(band, entry.value);
            }
        }
        out
    }

    /// A curve of levels as octaves: thirds are added by energy; an octave that lacks any of its
    /// thirds, or whose thirds are bounds on different sides, is left out. A curve of octaves
    /// comes back as it is.
    pub fn levels_in_octaves(&self) -> Curve {
        if self.resolution == Resolution::Octaves {
            return self.clone();
        }
        let mut out = Curve::new(Resolution::Octaves);
        out.remarks = self.remarks.clone();
        let mut partial = Vec::new();
        for octave in Midband::octaves() {
            let Some(thirds) = octave.thirds() else { continue };
            let entries: Vec<Entry> = thirds.iter().filter_map(|b| self.get(*b)).collect();
            let bound = entries.iter().try_fold(Bound::Exact, |so_far, e| match so_far {
                Bound::Exact => Some(e.bound),
                b if e.bound == Bound::Exact || e.bound == b => Some(b),
                _ => None,
            });
            let sum = Level::energy_sum(entries.iter().map(|e| Level(e.value)));
            match (entries.len(), sum, bound) {
                (3, Some(level), Some(bound)) => {
                    out.set(octave, level.0, bound);
                }
                (0, ..) => {}
                _ => partial.push(octave),
            }
        }
        out.remarks.push(Remark::new(
            "rating::octaves-from-thirds",
            "the octave levels are energy sums of the third-octave levels given",
        ));
        if !partial.is_empty() {
            out.remarks.push(
                Remark::new(
                    "rating::octave-incomplete",
                    "these octaves were left out because not all of their thirds can be added",
                )
                .at(crate::midband::list(&partial)),
            );
        }
        out
    }
}

macro_rules! from_spectrum {
    ($spectrum:ident, $quantity:ident, $resolution:ident) => {
        impl From<&$spectrum<$quantity>> for Curve {
            fn from(spectrum: &$spectrum<$quantity>) -> Curve {
                Curve::from_pairs(
                    Resolution::$resolution,
                    spectrum.iter().map(|(b, v)| (Midband::from(b), v.0)),
                )
            }
        }
    };
}

from_spectrum!(Spectrum, Level, Thirds);
from_spectrum!(Spectrum, LevelDifference, Thirds);
from_spectrum!(OctaveSpectrum, Level, Octaves);
from_spectrum!(OctaveSpectrum, LevelDifference, Octaves);
