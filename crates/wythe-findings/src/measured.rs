//! A survey's positions turned into level differences between rooms, and those rated.

use wythe_bands::{Band, Level, LevelDifference, Remark, Seconds, Spectrum, SquareMetre};
use wythe_building::{Absorption, Building, RoomIndex};
use wythe_fieldtest::{
    CornerSet, Decay, FieldResult, Position, SourcePosition, State, Survey, measure,
};
use wythe_rating::{Bound, Curve, Method, Midband, Options, Quantity, Rating, Resolution};

use crate::evidence::{Observed, Trial};

/// What one microphone position heard in one recording.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPosition {
    /// Name of the position.
    pub id: String,
    /// Its room.
    pub room: RoomIndex,
    /// Where in the room, in words.
    pub place: Option<String>,
    /// What it is good for.
    pub use_as: UseAs,
    /// File and channel, such as `first-survey.wav:3`.
    pub channel: String,
    /// Which recording of the survey.
    pub recording: usize,
    /// The building's state; `None` for as described.
    pub state: Option<String>,
    /// The room the source played in, if any did.
    pub source: Option<RoomIndex>,
    /// Whether the levels are absolute; without calibration they are relative to full scale.
    pub calibrated: bool,
    /// How it was calibrated, in words.
    pub calibration: String,
    /// Standard uncertainty of the calibration, dB.
    pub calibration_deviation: LevelDifference,
    /// Levels while the source was on: sound pressure levels, or re full scale.
    pub levels: PositionLevels,
    /// Levels per band while it was off.
    pub background: Spectrum<Level>,
    /// Time that was used, s.
    pub used: Seconds,
    /// What was left out.
    pub excluded: Vec<Excluded>,
    /// Fingerprint of the file.
    pub fingerprint: String,
}

/// What a position may be used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum UseAs {
    /// For the average of its room.
    Room,
    /// For the corner procedure.
    Corner,
    /// For nothing but itself: near the source.
    NearSource,
}

/// A stretch that was left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Excluded {
    /// Where it begins.
    pub from: Seconds,
    /// Where it ends.
    pub to: Seconds,
    /// The reason.
    pub why: String,
    /// Whether the program found it (else the user said so).
    pub found: bool,
}

/// Levels of one position.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PositionLevels {
    /// Equivalent level per band.
    pub leq: Spectrum<Level>,
    /// A-weighted.
    pub a: Option<Level>,
    /// C-weighted.
    pub c: Option<Level>,
    /// Unweighted.
    pub z: Option<Level>,
    /// Largest A-weighted F level.
    pub a_fast_max: Option<Level>,
    /// A-weighted F level exceeded 10, 50 and 90 % of the time.
    pub a_percentiles: Option<[Level; 3]>,
}

/// Two rooms measured, in one state of the building.
#[derive(Clone, Debug)]
pub struct MeasuredPair {
    /// The building's state; `None` for as described.
    pub state: Option<String>,
    /// Room with the source.
    pub source: RoomIndex,
    /// Receiving room.
    pub receiver: RoomIndex,
    /// Level differences with their validity and uncertainty.
    pub result: FieldResult,
    /// Ratings that could be given: NIC, DnT,w, R′w, NNIC, ASTC.
    pub ratings: Vec<Rating>,
    /// Ratings that could not, and why.
    pub refused: Vec<(String, String)>,
}

/// A whole survey measured.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// Every position of every recording.
    pub positions: Vec<MeasuredPosition>,
    /// Every pair of rooms.
    pub pairs: Vec<MeasuredPair>,
    /// Decay times used, by room: per band with standard uncertainty where known.
    pub decays: Vec<(RoomIndex, Decay)>,
    /// What had to be said.
    pub remarks: Vec<Remark>,
}

/// Forms all pairs of rooms from measured positions.
pub fn pairs(
    building: &Building,
    positions: Vec<MeasuredPosition>,
    decays: Vec<(RoomIndex, Decay)>,
) -> Measured {
    let mut out = Measured { positions, decays, ..Measured::default() };
    let mut keys: Vec<(Option<String>, RoomIndex, RoomIndex)> = Vec::new();
    for p in &out.positions {
        let Some(source) = p.source else { continue };
        let key = (p.state.clone(), source, p.room);
        if p.room != source && p.calibrated && p.use_as != UseAs::NearSource && !keys.contains(&key)
        {
            keys.push(key);
        }
    }
    for (state, source, receiver) in keys {
        let survey = survey(building, &out, &state, source, receiver);
        let place =
            format!("{} to {}", building.rooms[source.0].name(), building.rooms[receiver.0].name());
        match measure(&survey) {
            Ok(result) => {
                let (ratings, refused) = ratings(&result);
                out.remarks.extend(result.remarks.iter().cloned().map(|r| {
                    let at = match &r.place {
                        Some(p) => format!("{place}, {p}"),
                        None => place.clone(),
                    };
                    r.at(at)
                }));
                out.pairs.push(MeasuredPair { state, source, receiver, result, ratings, refused });
            }
            Err(e) => {
                out.remarks.push(Remark::new("measure::no-pair", e.to_string()).at(place));
            }
        }
    }
    let relative: Vec<&str> =
        out.positions.iter().filter(|p| !p.calibrated).map(|p| p.channel.as_str()).collect();
    if !relative.is_empty() {
        let text = format!(
            "no calibration for {}: its levels are relative to full scale only and enter no level \
             difference; record a calibrator tone or state what full scale is",
            relative.join(", ")
        );
        out.remarks.push(Remark::new("measure::relative-only", text));
    }
    out
}

fn survey(
    building: &Building,
    measured: &Measured,
    state: &Option<String>,
    source: RoomIndex,
    receiver: RoomIndex,
) -> Survey {
    let mut runs: Vec<(usize, SourcePosition)> = Vec::new();
    let mut deviation = [0.0f64; 2];
    for p in &measured.positions {
        if p.source != Some(source) || p.state != *state || !p.calibrated {
            continue;
        }
        let side = if p.room == source {
            0
        } else if p.room == receiver {
            1
        } else {
            continue;
        };
        deviation[side] = deviation[side].max(p.calibration_deviation.0);
        let index = runs.iter().position(|(r, _)| *r == p.recording).unwrap_or_else(|| {
            runs.push((p.recording, SourcePosition::default()));
            runs.len() - 1
        });
        let run = &mut runs[index].1;
        let position = Position {
            id: p.id.clone(),
            levels: p.levels.leq,
            background: p.background,
            used: Some(p.used),
            ..Position::default()
        };
        let corner = |set: &mut CornerSet, position| set.corners.push(position);
        match (side, p.use_as) {
            (0, UseAs::Room) => run.source.push(position),
            (0, UseAs::Corner) => corner(&mut run.source_corners, position),
            (1, UseAs::Room) => run.receiving.push(position),
            (1, UseAs::Corner) => corner(&mut run.receiving_corners, position),
            _ => {}
        }
    }
    // A recording that held only one of the two rooms forms no difference.
    runs.retain(|(_, r)| !r.source.is_empty() && !r.receiving.is_empty());
    let volume = |r: RoomIndex| {
        let room = &building.rooms[r.0];
        (!room.outdoors && room.volume.0 > 0.0).then_some(room.volume)
    };
    let decay =
        measured.decays.iter().find(|(r, _)| *r == receiver).map(|(_, d)| d.clone()).or_else(
            || {
                match &building.rooms[receiver.0].absorption {
                    // Stated in the project as a decay time: as good as measured, so far as is known.
                    Absorption::DecayTime(times) => {
                        Some(Decay { times: times.map(|_, t| (t, None)), octave_63: None })
                    }
                    _ => None,
                }
            },
        );
    let area: f64 = building
        .boundaries
        .iter()
        .filter(|b| b.beyond(source) == Some(receiver))
        .map(|b| b.area.0)
        .sum();
    Survey {
        runs: runs.into_iter().map(|(_, r)| r).collect(),
        source_volume: volume(source),
        receiving_volume: volume(receiver),
        common_area: (area > 0.0).then_some(SquareMetre(area)),
        decay,
        source_calibration: LevelDifference(deviation[0]),
        receiving_calibration: LevelDifference(deviation[1]),
        calibration_correlation: 0.0,
        // Tape measure and rounding (common practice, no source).
        geometry: 0.02,
    }
}

/// All ratings a pair can be given.
fn ratings(result: &FieldResult) -> (Vec<Rating>, Vec<(String, String)>) {
    let mut given = Vec::new();
    let mut refused: Vec<(String, String)> =
        result.refusals.iter().map(|r| (r.rating.to_owned(), r.why.clone())).collect();
    let mut rate = |quantity: Quantity, values: &Spectrum<LevelDifference>| {
        if values.is_empty() {
            return;
        }
        let symbol = quantity.symbol();
        if refused.iter().any(|(name, _)| name == symbol) {
            return;
        }
        match wythe_rating::rate_as(&curve(values, &result.state), quantity, &Options::default()) {
            Ok(rating) => given.push(rating),
            Err(e) => refused.push((symbol.to_owned(), e.to_string())),
        }
    };
    rate(Quantity::NoiseIsolationClass, &result.difference);
    rate(Quantity::StandardizedDifference, &result.standardized);
    rate(Quantity::ApparentReductionIndex, &result.apparent_reduction);
    rate(Quantity::NormalizedNoiseIsolationClass, &result.standardized);
    rate(Quantity::ApparentSoundTransmissionClass, &result.apparent_reduction);
    (given, refused)
}

/// A spectrum as the rating reads it, bands marked as limits where the background hid them.
fn curve(values: &Spectrum<LevelDifference>, state: &Spectrum<State>) -> Curve {
    let mut out = Curve::new(Resolution::Thirds);
    for (band, value) in values.iter() {
        let bound = match state.get(band) {
            Some(State::Bound | State::Missing) => Bound::AtLeast,
            _ => Bound::Exact,
        };
        if let Some(midband) = Midband::from_nominal(band.nominal()) {
            out.set(midband, value.0, bound);
        }
    }
    out
}

impl MeasuredPair {
    /// A rating by its symbol.
    pub fn rating(&self, method: Method, symbol: &str) -> Option<&Rating> {
        self.ratings.iter().find(|r| r.method == method && r.symbol == symbol)
    }

    /// The pair as evidence for the comparison, over the bands in which results are given.
    pub fn trial(&self) -> Trial {
        let bands = self.result.difference.within(Band::HZ_50, Band::HZ_5000).filter_map(|b, d| {
            let state = self.result.state.get(b)?;
            let deviation = self.result.uncertainty.get(b)?;
            Some(Observed {
                difference: d,
                deviation: LevelDifference(deviation.0.max(LEAST_DEVIATION)),
                at_least: matches!(state, State::Bound | State::Missing),
            })
        });
        Trial { state: self.state.clone(), source: self.source, receiver: self.receiver, bands }
    }
}

/// No measured difference is believed better than this, dB: positions, calibrator and geometry
/// that nobody wrote down (common practice, no source).
const LEAST_DEVIATION: f64 = 0.5;
