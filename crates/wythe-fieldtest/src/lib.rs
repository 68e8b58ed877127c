//! Field measurement: averages over positions, background, level differences, low-frequency
//! procedure, uncertainty.
//!
//! Everything here is a pure function of band levels that somebody measured; this crate knows no
//! samples (they are `wythe-recording`'s), no files and no ratings (`wythe-rating` turns the spectra
//! that come out into single numbers). It cannot tell where a level came from.
//!
//! Not covered: laboratory measurement, moving microphones, scanning by hand, the standardized maximum
//! level of the rubber ball.
//!
//! ```
//! use wythe_bands::{Band, CubicMetre, Level, Spectrum};
//! use wythe_fieldtest::{Position, SourcePosition, Survey, measure};
//!
//! let flat = |l| Spectrum::from_fn(|_| Level(l));
//! let survey = Survey {
//!     runs: vec![SourcePosition {
//!         source: vec![Position::new("hall-1", flat(95.0)), Position::new("hall-2", flat(95.0))],
//!         receiving: vec![Position::new("bed-1", flat(45.0)).over(flat(30.0))],
//!         ..SourcePosition::default()
//!     }],
//!     receiving_volume: Some(CubicMetre(42.0)),
//!     ..Survey::default()
//! };
//! let result = measure(&survey).unwrap();
//! assert!((result.difference.get(Band::HZ_500).unwrap().0 - 50.0).abs() < 1e-9);
//! ```

mod average;
mod background;
mod corner;
mod facade;
mod impact;
mod quantity;
mod survey;

pub use average::{Average, average};
pub use background::{Corrected, State, corrected, corrected_in_the_laboratory};
pub use corner::{corner_level, low_frequency_level, needs_corners};
pub use facade::{FacadeResult, Outside, facade};
pub use impact::{ImpactExcitation, ImpactResult, ImpactSurvey, impact};
pub use quantity::{
    absorption_area, apparent_reduction, facade_loudspeaker, facade_standardized, facade_traffic,
    impact_normalized, impact_standardized, normalized, standardized,
};
pub use survey::{
    CoherentLevel, CornerSet, Decay, FieldError, FieldResult, Position, Refusal, SourcePosition,
    Survey, measure,
};
