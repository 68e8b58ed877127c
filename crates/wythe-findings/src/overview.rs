//! A project predicted: every source to every room, judged by the targets.

use wythe_bands::{Level, LevelDifference, Spectrum, weighting::Weighting};
use wythe_building::{Building, RoomIndex};
use wythe_transmission::{Cache, Model, Received, TransmissionError, assemble};

use wythe_rating::Curve;
use wythe_rating::audibility::{Audibility, Threshold, audibility};

use crate::{Arrival, Assessment, assess};

/// What one source makes in one room.
#[derive(Clone, Debug, PartialEq)]
pub struct Arrived {
    /// The room.
    pub room: RoomIndex,
    /// Difference, deviation, ways.
    pub received: Received,
    /// Levels.
    pub levels: Spectrum<Level>,
    /// A-weighted level.
    pub level_a: Option<Level>,
    /// C-weighted level.
    pub level_c: Option<Level>,
    /// Targets of this room, in the order of the project.
    pub targets: Vec<Assessment>,
    /// Whether it can be heard over the hearing threshold and the room's background; `None` where
    /// nothing arrives in a band with a threshold.
    pub heard: Option<Audibility>,
}

/// What one source makes everywhere.
#[derive(Clone, Debug, PartialEq)]
pub struct FromSource {
    /// Position in the building's sources.
    pub source: usize,
    /// Every other room.
    pub arrived: Vec<Arrived>,
}

/// A predicted project.
#[derive(Clone, Debug, PartialEq)]
pub struct Predicted {
    /// The couplings.
    pub model: Model,
    /// Every source.
    pub sources: Vec<FromSource>,
}

/// Predicts a building: every source to every room, judged by the targets.
///
/// # Errors
/// [`TransmissionError`] when it cannot be put together or a source is silent.
pub fn predict(building: &Building, cache: &mut Cache) -> Result<Predicted, TransmissionError> {
    let model = assemble(building, cache)?;
    let mut sources = Vec::new();
    for (index, source) in building.sources.iter().enumerate() {
        if source.levels.is_empty() {
            return Err(TransmissionError::SilentSource(source.id.clone()));
        }
        let field = model.from_source(source.room);
        let arrived = field
            .receivers
            .into_iter()
            .map(|received| arrive(building, source.room, &source.levels, received))
            .collect();
        sources.push(FromSource { source: index, arrived });
    }
    Ok(Predicted { model, sources })
}

fn arrive(
    building: &Building,
    from: RoomIndex,
    played: &Spectrum<Level>,
    received: Received,
) -> Arrived {
    let room = &building.rooms[received.room.0];
    let levels = received.level(played);
    let decay = room.decay_time(building.air);
    let arrival = Arrival {
        from,
        levels: &levels,
        difference: &received.difference,
        deviation: &received.deviation,
        decay: &decay,
        background: room.background.as_ref(),
    };
    let targets = building
        .targets
        .iter()
        .filter(|t| t.room == received.room && !levels.is_empty())
        .map(|t| assess(t, &arrival, true))
        .collect();
    // Predicted levels and backgrounds are finite thirds, which is all it could refuse.
    let background = room.background.as_ref().map(Curve::from);
    let heard =
        audibility(&Curve::from(&levels), background.as_ref(), Threshold::Iso226).ok().flatten();
    Arrived {
        room: received.room,
        level_a: levels.weighted_total(Weighting::A),
        level_c: levels.weighted_total(Weighting::C),
        levels,
        targets,
        heard,
        received,
    }
}

/// Standard deviation of an A-weighted level: band deviations weighted by their share of it,
/// taken as going together. `None` without levels.
pub fn deviation_of_weighted(
    levels: &Spectrum<Level>,
    deviation: &Spectrum<LevelDifference>,
    weighting: Weighting,
) -> Option<LevelDifference> {
    let (mut sum, mut total) = (0.0, 0.0);
    for (band, level) in levels.iter() {
        let energy = (level + weighting.at(band.centre())).energy();
        sum += energy * deviation.get(band)?.0;
        total += energy;
    }
    (total > 0.0).then(|| LevelDifference(sum / total))
}
