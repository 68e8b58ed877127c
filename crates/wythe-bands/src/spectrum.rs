//! A value per band, or none.

use crate::{BAND_COUNT, Band, Level, LevelDifference, OCTAVE_COUNT, Octave};

/// A value for each third-octave band from 20 Hz to 20 kHz, or none where none is known.
/// A missing value is never zero: it is absent.
#[derive(Clone, Copy, PartialEq)]
pub struct Spectrum<T> {
    values: [Option<T>; BAND_COUNT],
}

/// A value for each octave band from 31.5 Hz to 16 kHz, or none.
#[derive(Clone, Copy, PartialEq)]
pub struct OctaveSpectrum<T> {
    values: [Option<T>; OCTAVE_COUNT],
}

macro_rules! axis {
    ($spectrum:ident, $band:ident, $count:ident) => {
        impl<T> Default for $spectrum<T> {
            fn default() -> Self {
                $spectrum { values: std::array::from_fn(|_| None) }
            }
        }

        impl<T: Copy> $spectrum<T> {
            /// A spectrum with no values.
            pub fn empty() -> Self {
                Self::default()
            }

            /// A value for every band.
            pub fn from_fn(mut value: impl FnMut($band) -> T) -> Self {
                let mut out = Self::empty();
                for band in $band::all() {
                    out.set(band, value(band));
                }
                out
            }

            /// Value of a band, if known.
            pub fn get(&self, band: $band) -> Option<T> {
                self.values[band.index()]
            }

            /// Sets a band.
            pub fn set(&mut self, band: $band, value: T) {
                self.values[band.index()] = Some(value);
            }

            /// Removes a band's value.
            pub fn clear(&mut self, band: $band) {
                self.values[band.index()] = None;
            }

            /// The bands that have a value, rising.
            pub fn iter(&self) -> impl DoubleEndedIterator<Item = ($band, T)> + '_ {
                $band::all().filter_map(|b| self.get(b).map(|v| (b, v)))
            }

            /// Number of bands with a value.
            pub fn len(&self) -> usize {
                self.values.iter().flatten().count()
            }

            /// Whether no band has a value.
            pub fn is_empty(&self) -> bool {
                self.len() == 0
            }

            /// Whether each of `bands` has a value.
            pub fn covers(&self, bands: impl IntoIterator<Item = $band>) -> bool {
                bands.into_iter().all(|b| self.get(b).is_some())
            }

            /// The same bands with changed values.
            pub fn map<U: Copy>(&self, mut change: impl FnMut($band, T) -> U) -> $spectrum<U> {
                self.filter_map(|b, v| Some(change(b, v)))
            }

            /// Changed values; a band for which `change` gives none is left out.
            pub fn filter_map<U: Copy>(
                &self,
                mut change: impl FnMut($band, T) -> Option<U>,
            ) -> $spectrum<U> {
                let mut out = $spectrum::empty();
                for (band, value) in self.iter() {
                    if let Some(new) = change(band, value) {
                        out.set(band, new);
                    }
                }
                out
            }

            /// Values of two spectra joined, in the bands both have.
            pub fn zip_with<U: Copy, V: Copy>(
                &self,
                other: &$spectrum<U>,
                mut join: impl FnMut(T, U) -> V,
            ) -> $spectrum<V> {
                self.filter_map(|b, v| other.get(b).map(|w| join(v, w)))
            }

            /// Only the bands from `low` to `high`, both included.
            pub fn within(&self, low: $band, high: $band) -> Self {
                self.filter_map(|b, v| (b >= low && b <= high).then_some(v))
            }
        }

        impl<T: Copy> FromIterator<($band, T)> for $spectrum<T> {
            fn from_iter<I: IntoIterator<Item = ($band, T)>>(pairs: I) -> Self {
                let mut out = Self::empty();
                for (band, value) in pairs {
                    out.set(band, value);
                }
                out
            }
        }

        impl<T: Copy + std::fmt::Debug> std::fmt::Debug for $spectrum<T> {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.debug_map().entries(self.iter()).finish()
            }
        }
    };
}

axis!(Spectrum, Band, BAND_COUNT);
axis!(OctaveSpectrum, Octave, OCTAVE_COUNT);

impl Spectrum<Level> {
    /// Octave levels by energy sum; an octave missing any of its thirds is left out.
    pub fn to_octaves(&self) -> OctaveSpectrum<Level> {
        octaves(self, Level::energy_sum)
    }

    /// Energy sum over the bands that have a value; `None` when there are none.
    pub fn total(&self) -> Option<Level> {
        Level::energy_sum(self.iter().map(|(_, l)| l))
    }

    /// Weighted total: each band level plus the weighting at its exact mid-band frequency.
    pub fn weighted_total(&self, weighting: crate::weighting::Weighting) -> Option<Level> {
        Level::energy_sum(self.iter().map(|(b, l)| l + weighting.at(b.centre())))
    }
}

impl Spectrum<LevelDifference> {
    /// Octave values by the mean of the transmittances of the three thirds; an octave missing any
    /// of them is left out. Source: ISO 717-1 practice for reduction indices, X_oct =
    /// −10 lg((1/3) Σ 10^(−X_k/10)) (from memory, checked by definition).
    pub fn to_octaves(&self) -> OctaveSpectrum<LevelDifference> {
        octaves(self, LevelDifference::mean_by_transmittance)
    }
}

fn octaves<T: Copy>(thirds: &Spectrum<T>, join: impl Fn([T; 3]) -> Option<T>) -> OctaveSpectrum<T> {
    Octave::all()
        .filter_map(|o| {
            let [a, b, c] = o.thirds();
            let values = [thirds.get(a)?, thirds.get(b)?, thirds.get(c)?];
            join(values).map(|v| (o, v))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn octaves_need_all_three_thirds() {
        let mut s: Spectrum<Level> = Spectrum::from_fn(|_| Level(50.0));
        s.clear(Band::HZ_125);
        let o = s.to_octaves();
        assert_eq!(o.get(Octave::from_nominal("125").unwrap()), None);
        let l = o.get(Octave::from_nominal("250").unwrap()).unwrap();
        assert!((l.0 - 54.771_212_547).abs() < 1e-6);
    }

    #[test]
    fn pink_noise_at_85_dbc() {
        // Derived: flat per band 20 Hz to 20 kHz, 71.3 dB a third, gives 86.2 dB Z, 85.0 dB C,
        // 83.2 dB A when summed with the exact weightings.
        use crate::weighting::Weighting;
        let s: Spectrum<Level> = Spectrum::from_fn(|_| Level(71.3));
        assert!((s.total().unwrap().0 - 86.2).abs() < 0.05);
        assert!((s.weighted_total(Weighting::C).unwrap().0 - 85.0).abs() < 0.06);
        assert!((s.weighted_total(Weighting::A).unwrap().0 - 83.2).abs() < 0.06);
    }
}
