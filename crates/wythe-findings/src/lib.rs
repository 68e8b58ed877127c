//! What dominates where; predicted beside measured; what is probably wrong.
//!
//! [`stretches`] and [`sentences`] say which way rules which bands, [`assess`] sets a requirement
//! beside what arrives, and [`infer`] argues from measured differences back to faults of single
//! elements, with probabilities.
//!
//! Not here: files, recordings, documents, prices.

mod assess;
mod cause;
pub mod caution;
mod dominance;
mod errors;
mod evidence;
mod explain;
mod infer;
mod kept;
mod measured;
mod next_test;
mod overview;
mod unknowns;

pub use assess::{Arrival, Assessment, assess, curve, hearing_threshold};
pub use cause::{Cause, Fault, causes};
pub use dominance::{Stretch, frequency, sentences, shares_of_weighted, stretches};
pub use errors::Errors;
pub use evidence::{NearSurface, Observed, Trial};
pub use explain::{
    Explained, ExplainedPair, Statement, explain, rank, room_sentence, sentence, statements,
};
pub use infer::{Finding, Hypothesis, Posterior, RoomFinding, infer};
pub use kept::comparisons;
pub use measured::{
    Excitation, Excluded, Heard, InCommon, Measured, MeasuredFacade, MeasuredImpact, MeasuredPair,
    MeasuredPosition, PositionLevels, ReadFile, RecoveredBy, RecoveredDifference, RecoveredLevel,
    UseAs, pairs,
};
pub use next_test::{NextTest, Setup, TestOutcome};
pub use overview::{
    Arrived, FromSource, Predicted, Together, Ventilation, deviation_of_weighted, predict,
};
pub use unknowns::{Unknown, of_build_up as unknowns_of, unknowns};
