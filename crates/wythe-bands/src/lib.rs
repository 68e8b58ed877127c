//! Third-octave bands, spectra, and the quantities that live on them.
//!
//! Everything in wythe speaks in these types: a [`Band`] is one exact base-ten
//! third-octave band between 20 Hz and 20 kHz, a [`Spectrum`] holds a value for each
//! band or says that there is none, and a [`Level`] cannot be added to a [`Level`].
//!
//! Not here: anything that knows what a wall, a room or a recording is, and any
//! serialised form (the crates at the rim write their own records).
//!
//! ```
//! use wythe_bands::{Band, Level, Spectrum};
//! let flat = Spectrum::from_fn(|_| Level(60.0));
//! let total = Level::energy_sum(flat.iter().map(|(_, l)| l)).unwrap();
//! // 31 equal bands: 60 dB + 10 lg 31.
//! assert!((total.0 - 74.914).abs() < 1e-3);
//! assert_eq!(Band::from_nominal("125").unwrap().nominal(), "125");
//! ```

mod air;
mod band;
mod origin;
mod quantity;
mod spectrum;
pub mod weighting;

pub use air::Air;
pub use band::{BAND_COUNT, Band, OCTAVE_COUNT, Octave};
pub use origin::{Remark, Source, Standing, Standpoint};
pub use quantity::{
    CubicMetre, Density, FlowResistivity, Hertz, Level, LevelDifference, Metre, Pascal, Seconds,
    SquareMetre, SurfaceMass, Transmittance,
};
pub use spectrum::{OctaveSpectrum, Spectrum};
