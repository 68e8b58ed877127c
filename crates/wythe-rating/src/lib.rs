//! Single-number ratings and noise criteria.
//!
//! A curve of thirds or octaves goes in, a number comes out, with everything needed to see why it
//! is that number: the shifted contour, the deciding band, the sum of deviations, what one decibel
//! more or less in each band would do, and the clause. The crate cannot tell a predicted curve
//! from a measured one.
//!
//! ```
//! use wythe_rating::{Method, Options, curve, rate};
//! // ISO 717-1, Annex C, Table C.1 (printed there: Rw(C;Ctr) = 30(-2;-3) dB, sum 31.8 dB).
//! let text = "frequency_hz,value_db\n100,20.4\n125,16.3\n160,17.7\n200,22.6\n250,22.4\n315,22.7\n\
//!             400,24.8\n500,26.6\n630,28.0\n800,30.5\n1000,31.8\n1250,32.5\n1600,33.4\n\
//!             2000,33.0\n2500,31.0\n3150,25.5\n";
//! let curve = curve::read(text).unwrap();
//! let rating = rate(&curve, Method::Iso717Part1, &Options::default())?;
//! assert_eq!(rating.statement, "Rw(C;Ctr) = 30(-2;-3) dB");
//! assert_eq!(rating.sum_unfavourable.unwrap().to_string(), "31.8");
//! assert_eq!(rating.worst_band.unwrap().nominal(), "3150");
//! // One decibel less at 3150 Hz breaks the 32.0 dB rule and costs a whole decibel.
//! assert_eq!(rating.rows.last().unwrap().minus_one.to_string(), "-1.0");
//! # Ok::<(), wythe_rating::RatingError>(())
//! ```
//!
//! Not here: the prediction or measurement of a curve, which requirement applies to a room, and
//! the documents.

pub mod astm;
pub mod audibility;
mod contour;
pub mod curve;
pub mod dose;
mod error;
pub mod field;
pub mod iso717;
mod midband;
mod quantity;
mod rating;
pub mod room_noise;
pub mod speech;
mod tenths;
pub mod uncertainty;

pub use curve::{Bound, Curve, CurveError, CurveFault, Entry, Resolution};
pub use error::{LARGEST_VALUE, RatingError};
pub use midband::Midband;
pub use quantity::{
    FieldRefusal, LARGEST_ASTM_ROOM, Quantity, SMALLEST_AIIC_ROOM, SMALLEST_ASTM_ROOM,
    may_be_stated, rate_as,
};
pub use rating::{BandRow, Decided, Method, Options, Rating, Term, UnknownMethod, rate};
pub use tenths::{SingleNumber, Tenths};
