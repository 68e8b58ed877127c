//! A project predicted: every source to every room, judged by the targets.

use wythe_bands::{Band, Level, LevelDifference, Spectrum, weighting::Weighting};
use wythe_building::{Building, Criterion, RoomIndex, SoundSource, Target};
use wythe_transmission::{
    Cache, Model, Near, Received, TransmissionError, assemble, duct, near_openings,
};

use wythe_rating::Curve;
use wythe_rating::audibility::{Audibility, Threshold, audibility};

use crate::{Arrival, Assessment, Errors, assess};

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
    /// Openings before which it is clearly louder than in the room.
    pub near: Vec<Near>,
}

/// What one source makes everywhere.
#[derive(Clone, Debug, PartialEq)]
pub struct FromSource {
    /// Position in the building's sources.
    pub source: usize,
    /// Every other room.
    pub arrived: Vec<Arrived>,
}

/// What all sources that may play at once make in one room.
#[derive(Clone, Debug, PartialEq)]
pub struct Together {
    /// The room; no source stands in it.
    pub room: RoomIndex,
    /// Sources heard there, by position.
    pub sources: Vec<usize>,
    /// Energy sum of their levels.
    pub levels: Spectrum<Level>,
    /// A-weighted level.
    pub level_a: Option<Level>,
    /// C-weighted level.
    pub level_c: Option<Level>,
    /// Targets on levels, in the order of the project, each by the sources that play in its hours.
    pub targets: Vec<Assessment>,
}

/// What fans and air streams make in one room by themselves.
#[derive(Clone, Debug, PartialEq)]
pub struct Ventilation {
    /// The room.
    pub room: RoomIndex,
    /// Levels from all ducts that end there with a stated noise or flow.
    pub levels: Spectrum<Level>,
    /// A-weighted level.
    pub level_a: Option<Level>,
    /// Targets on levels, in the order of the project.
    pub targets: Vec<Assessment>,
}

/// A predicted project.
#[derive(Clone, Debug, PartialEq)]
pub struct Predicted {
    /// The couplings.
    pub model: Model,
    /// Every source.
    pub sources: Vec<FromSource>,
    /// Rooms in which several sources are heard.
    pub together: Vec<Together>,
    /// Rooms into which ducts bring noise.
    pub ventilation: Vec<Ventilation>,
}

/// Predicts a building: every source to every room, judged by the targets; all sources together;
/// the noise of the ventilation. What ducts bring counts as background.
///
/// # Errors
/// [`TransmissionError`] when it cannot be put together or a source is silent.
pub fn predict(building: &Building, cache: &mut Cache) -> Result<Predicted, TransmissionError> {
    let model = assemble(building, cache)?;
    if let Some(silent) = building.sources.iter().find(|s| s.levels.is_empty()) {
        return Err(TransmissionError::SilentSource(silent.id.clone()));
    }
    let noisy = duct::with_ventilation_noise(building);
    // Sources in one room share its field.
    let mut rooms: Vec<RoomIndex> = building.sources.iter().map(|s| s.room).collect();
    rooms.sort_unstable();
    rooms.dedup();
    let fields = model.from_sources(&rooms);
    let mut sources = Vec::new();
    for (index, source) in building.sources.iter().enumerate() {
        let Some(field) = fields.iter().find(|f| f.source == source.room) else { continue };
        let arrived = field
            .receivers
            .iter()
            .map(|received| Arrived {
                near: near_openings(building, &model, field, received.room),
                ..arrive(&noisy, &model, source, received.clone())
            })
            .collect();
        sources.push(FromSource { source: index, arrived });
    }
    let together = together(&noisy, &sources);
    Ok(Predicted { model, sources, together, ventilation: ventilation(building) })
}

fn arrive(building: &Building, model: &Model, source: &SoundSource, received: Received) -> Arrived {
    let errors = Errors::of(model, source.room, &received);
    let room = &building.rooms[received.room.0];
    let levels = received.level(&source.levels);
    let decay = room.decay_time(building.air);
    let arrival = Arrival {
        from: source.room,
        plays: source.hours,
        maximum_above: source.maximum_above,
        levels: &levels,
        difference: &received.difference,
        errors: &errors,
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
        near: Vec::new(),
        received,
    }
}

/// Whether a target asks about levels in its room and not about a difference.
fn is_of_levels(target: &Target) -> bool {
    !matches!(target.criterion, Criterion::WeightedDifference { .. } | Criterion::MaximumA(_))
}

/// Rooms in which more than one source is heard. Errors of the sources are taken as going
/// together, which makes the deviation no smaller than it is.
fn together(building: &Building, sources: &[FromSource]) -> Vec<Together> {
    let mut out = Vec::new();
    for index in 0..building.rooms.len() {
        let room = RoomIndex(index);
        if building.sources.iter().any(|s| s.room == room) {
            continue;
        }
        let heard: Vec<(usize, &Arrived)> = sources
            .iter()
            .filter_map(|s| Some((s.source, s.arrived.iter().find(|a| a.room == room)?)))
            .filter(|(_, a)| !a.levels.is_empty())
            .collect();
        if heard.len() < 2 {
            continue;
        }
        let sum = |of: &dyn Fn(usize) -> bool| {
            let mut energy = [0.0; wythe_bands::BAND_COUNT];
            let mut weighted = [0.0; wythe_bands::BAND_COUNT];
            for (_, a) in heard.iter().filter(|(s, _)| of(*s)) {
                for (band, level) in a.levels.iter() {
                    let e = level.energy();
                    energy[band.index()] += e;
                    weighted[band.index()] +=
                        e * a.received.deviation.get(band).map_or(0.0, |d| d.0);
                }
            }
            let levels: Spectrum<Level> = Band::all()
                .filter_map(|b| Level::from_energy(energy[b.index()]).map(|l| (b, l)))
                .collect();
            let deviation =
                levels.map(|b, _| LevelDifference(weighted[b.index()] / energy[b.index()]));
            (levels, deviation)
        };
        let decay = building.rooms[index].decay_time(building.air);
        let targets = building
            .targets
            .iter()
            .filter(|t| t.room == room && is_of_levels(t))
            .filter_map(|t| {
                let plays = |s: usize| t.applies_to(&building.sources[s]);
                if heard.iter().filter(|(s, _)| plays(*s)).count() < 2 {
                    return None;
                }
                let (levels, deviation) = sum(&plays);
                let arrival = Arrival {
                    from: room,
                    plays: None,
                    maximum_above: None,
                    levels: &levels,
                    difference: &Spectrum::empty(),
                    errors: &Errors::of_deviation(&deviation),
                    decay: &decay,
                    background: building.rooms[index].background.as_ref(),
                };
                Some(assess(t, &arrival, true))
            })
            .collect();
        let (levels, _) = sum(&|_| true);
        out.push(Together {
            room,
            sources: heard.iter().map(|(s, _)| *s).collect(),
            level_a: levels.weighted_total(Weighting::A),
            level_c: levels.weighted_total(Weighting::C),
            levels,
            targets,
        });
    }
    out
}

/// What the ducts of the description bring, against the targets of their rooms.
fn ventilation(building: &Building) -> Vec<Ventilation> {
    (0..building.rooms.len())
        .map(RoomIndex)
        .filter_map(|room| {
            let levels = duct::ventilation_noise(building, room)?;
            let deviation = duct::ventilation_deviation(building, room);
            let deviation = levels.map(|_, _| LevelDifference(deviation));
            let errors = Errors::of_deviation(&deviation);
            let decay = building.rooms[room.0].decay_time(building.air);
            let arrival = Arrival {
                from: room,
                plays: None,
                maximum_above: None,
                levels: &levels,
                difference: &Spectrum::empty(),
                errors: &errors,
                decay: &decay,
                background: building.rooms[room.0].background.as_ref(),
            };
            let targets = building
                .targets
                .iter()
                .filter(|t| t.room == room && is_of_levels(t))
                .filter(|t| t.criterion != Criterion::NotAudible)
                .map(|t| assess(t, &arrival, true))
                .collect();
            Some(Ventilation {
                room,
                level_a: levels.weighted_total(Weighting::A),
                levels,
                targets,
            })
        })
        .collect()
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
