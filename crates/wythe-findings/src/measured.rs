//! A survey's positions turned into level differences between rooms, and those rated.

use wythe_bands::{Band, Level, LevelDifference, Remark, Seconds, Spectrum, SquareMetre};
use wythe_building::{Absorption, Building, RoomIndex};
use wythe_fieldtest::{
    CoherentLevel, CornerSet, Decay, FacadeResult, FieldResult, ImpactExcitation, ImpactResult,
    ImpactSurvey, Outside, Position, SourcePosition, State, Survey, facade, impact, measure,
};
use wythe_rating::{Bound, Curve, Method, Midband, Options, Quantity, Rating, Resolution};

use crate::evidence::{NearSurface, Observed, Trial};

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
    /// The surface it was close to, where that is what it is good for.
    pub at: Option<NearSurface>,
    /// File and channel, such as `first-survey.wav:3`.
    pub channel: String,
    /// Which recording of the survey.
    pub recording: usize,
    /// Which position of the source: recordings that say the same one belong together.
    pub run: usize,
    /// What made the sound.
    pub excitation: Excitation,
    /// The building's state; `None` for as described.
    pub state: Option<String>,
    /// The room the source played in, if any did.
    pub source: Option<RoomIndex>,
    /// Whether the levels are absolute; without calibration they are relative to full scale.
    pub calibrated: bool,
    /// Relative levels with the same scale may be compared: what makes them comparable, in words.
    pub scale: Option<String>,
    /// Recorder and channel, where one was carried from room to room: their calibration cancels.
    pub carried: Option<String>,
    /// How it was calibrated, in words.
    pub calibration: String,
    /// Standard uncertainty of the calibration, dB.
    pub calibration_deviation: LevelDifference,
    /// Levels while the source was on: sound pressure levels, or re full scale.
    pub levels: PositionLevels,
    /// What enters level differences, where that is not all of the time above.
    pub in_common: Option<InCommon>,
    /// Levels per band while it was off.
    pub background: Spectrum<Level>,
    /// Largest F level per band while the source was on, for the rubber ball.
    pub maximum: Spectrum<Level>,
    /// What of the levels came from the source, found by coherence or by following it.
    pub recovered: Spectrum<RecoveredLevel>,
    /// Delay behind the source microphone, where one was found.
    pub delay: Option<Seconds>,
    /// Time that was used, s.
    pub used: Seconds,
    /// What was left out.
    pub excluded: Vec<Excluded>,
    /// Fingerprint of the file.
    pub fingerprint: String,
}

/// Levels over the time that a position shares with the source room's microphone. Music is not
/// steady: levels of two different times make no difference of levels.
#[derive(Clone, Debug, PartialEq)]
pub struct InCommon {
    /// File and channel of the microphone in the source room.
    pub with: String,
    /// Time that both can use while the source plays.
    pub time: Seconds,
    /// Levels of this position over it.
    pub levels: Spectrum<Level>,
    /// How much louder the source was over all of its time than over the common time. It is added to
    /// every level of this position, so that one source level stands for all.
    pub louder: Spectrum<LevelDifference>,
}

impl MeasuredPosition {
    /// Levels as they are compared with the source room's, and what is to be added to the background
    /// and to other levels of this position with them.
    pub fn compared(&self) -> (Spectrum<Level>, Spectrum<LevelDifference>) {
        match &self.in_common {
            Some(c) => {
                let levels = c.levels.filter_map(|b, l| c.louder.get(b).map(|d| l + d));
                (levels, c.louder)
            }
            None => (self.levels.leq, Spectrum::from_fn(|_| LevelDifference(0.0))),
        }
    }
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
    /// On the outer face of the tested element.
    OnFacade,
    /// Two metres before the façade.
    BeforeFacade,
    /// A hand's breadth from a surface inside.
    NearSurface,
}

/// What made the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Excitation {
    /// A loudspeaker or music in the source room.
    #[default]
    Airborne,
    /// The standard tapping machine.
    TappingMachine,
    /// The standard rubber ball.
    RubberBall,
    /// A loudspeaker outside.
    LoudspeakerOutside,
    /// Traffic outside.
    Traffic,
}

/// How a level under the background was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RecoveredBy {
    /// It is coherent with the source.
    Coherence,
    /// It goes up and down with the source.
    Following,
}

/// The part of a level that came from the source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RecoveredLevel {
    /// How it was found.
    pub by: RecoveredBy,
    /// The level, where it stands out.
    pub level: Option<CoherentLevel>,
    /// It is at most this (one-sided 95 %).
    pub at_most: Option<Level>,
    /// It is at least this (one-sided 95 %).
    pub at_least: Option<Level>,
}

impl RecoveredLevel {
    fn louder_by(self, by: LevelDifference) -> RecoveredLevel {
        RecoveredLevel {
            by: self.by,
            level: self.level.map(|l| CoherentLevel { level: l.level + by, ..l }),
            at_most: self.at_most.map(|l| l + by),
            at_least: self.at_least.map(|l| l + by),
        }
    }
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
    /// How much the A-weighted level would change if it were used.
    pub effect: Option<LevelDifference>,
}

/// A stretch of a recording and what it was taken for.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Where it begins.
    pub from: Seconds,
    /// Where it ends.
    pub to: Seconds,
    /// `source`, `background`, `calibration` or `decay`.
    pub kind: &'static str,
    /// Whether the program found it (else the user said so).
    pub found: bool,
}

/// A sound file that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadFile {
    /// Path inside the project.
    pub file: String,
    /// SHA-256 of its bytes.
    pub fingerprint: String,
    /// Samples per second.
    pub rate: u32,
    /// Channels it has.
    pub channels: usize,
    /// Length.
    pub length: Seconds,
    /// What was taken for what; calibration tones by channel are among them once.
    pub stretches: Vec<Heard>,
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
    /// Not calibrated: why the levels could be compared all the same. The two levels are relative to
    /// full scale then.
    pub relative: Option<String>,
    /// What was recovered from under the background, per band.
    pub recovered: Spectrum<RecoveredDifference>,
    /// Ratings that could be given: NIC, DnT,w, R′w, NNIC, ASTC.
    pub ratings: Vec<Rating>,
    /// Ratings that could not, and why.
    pub refused: Vec<(String, String)>,
}

/// A level difference recovered from under the background, with its limits (one-sided 95 % each).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RecoveredDifference {
    /// How.
    pub by: RecoveredBy,
    /// The value, where it stands out at half of the positions or more.
    pub difference: Option<LevelDifference>,
    /// At least this.
    pub at_least: Option<LevelDifference>,
    /// At most this.
    pub at_most: Option<LevelDifference>,
}

/// Footsteps in one room.
#[derive(Clone, Debug)]
pub struct MeasuredImpact {
    /// The building's state.
    pub state: Option<String>,
    /// Room whose floor was hit.
    pub source: RoomIndex,
    /// Room below or beside.
    pub receiver: RoomIndex,
    /// What hit the floor.
    pub excitation: ImpactExcitation,
    /// Levels with their validity and uncertainty.
    pub result: ImpactResult,
    /// L′nT,w and L′n,w, where they could be given.
    pub ratings: Vec<Rating>,
    /// Ratings that could not, and why.
    pub refused: Vec<(String, String)>,
}

/// A façade.
#[derive(Clone, Debug)]
pub struct MeasuredFacade {
    /// The building's state.
    pub state: Option<String>,
    /// Outside.
    pub source: RoomIndex,
    /// Room behind it.
    pub receiver: RoomIndex,
    /// Levels, differences and what follows.
    pub result: FacadeResult,
    /// D2m,nT,w or R′45,w, where it could be given.
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
    /// Rooms in which footsteps were measured.
    pub impacts: Vec<MeasuredImpact>,
    /// Façades.
    pub facades: Vec<MeasuredFacade>,
    /// Decay times used, by room: per band with standard uncertainty where known.
    pub decays: Vec<(RoomIndex, Decay)>,
    /// Files that were read.
    pub files: Vec<ReadFile>,
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
    let mut keys: Vec<Key> = Vec::new();
    for p in &out.positions {
        let Some(source) = p.source else { continue };
        let key = Key { state: p.state.clone(), source, receiver: p.room, what: p.excitation };
        if p.room != source && p.use_as != UseAs::NearSource && !keys.contains(&key) {
            keys.push(key);
        }
    }
    let mut said: Vec<(Remark, Vec<String>)> = Vec::new();
    for key in keys {
        let Key { state, source, receiver, what } = key.clone();
        let mut place =
            format!("{} to {}", building.rooms[source.0].name(), building.rooms[receiver.0].name());
        if let Some(state) = &state {
            place.push_str(&format!(" ({state})"));
        }
        let survey = match survey(building, &out, &key) {
            Some(survey) => survey,
            None => continue,
        };
        let Gathered { survey, relative, outside } = survey;
        let remarks = match what {
            Excitation::TappingMachine | Excitation::RubberBall => {
                let excitation = if what == Excitation::RubberBall {
                    ImpactExcitation::RubberBall
                } else {
                    ImpactExcitation::TappingMachine
                };
                impact(&ImpactSurvey { survey, excitation }).map(|result| {
                    let remarks = result.remarks.clone();
                    let (ratings, refused) = impact_ratings(&result);
                    let found = MeasuredImpact {
                        state,
                        source,
                        receiver,
                        excitation,
                        result,
                        ratings,
                        refused,
                    };
                    out.impacts.push(found);
                    remarks
                })
            }
            Excitation::LoudspeakerOutside | Excitation::Traffic => {
                let outside = match (outside, what) {
                    (UseAs::OnFacade, Excitation::Traffic) => Outside::OnFacadeTraffic,
                    (UseAs::OnFacade, _) => Outside::OnFacadeLoudspeaker,
                    _ => Outside::TwoMetresBefore,
                };
                facade(&survey, outside).map(|result| {
                    let remarks = result.field.remarks.clone();
                    let (ratings, refused) = facade_ratings(&result);
                    let found =
                        MeasuredFacade { state, source, receiver, result, ratings, refused };
                    out.facades.push(found);
                    remarks
                })
            }
            Excitation::Airborne => measure(&survey).map(|mut result| {
                let (ratings, refused) = ratings(&result);
                let recovered = recovered(&out, &key, &result);
                let remarks = result.remarks.clone();
                if relative.is_some() {
                    // Only differences mean anything; the levels go back to full scale.
                    let back = |s: &Spectrum<Level>| s.map(|_, l| Level(l.0 - RELATIVE_SHIFT));
                    result.source_level = back(&result.source_level);
                    result.receiving_level = back(&result.receiving_level);
                }
                out.pairs.push(MeasuredPair {
                    state,
                    source,
                    receiver,
                    result,
                    relative,
                    recovered,
                    ratings,
                    refused,
                });
                remarks
            }),
        };
        match remarks {
            Ok(remarks) => {
                for r in remarks {
                    let at = match &r.place {
                        Some(p) => format!("{place}, {p}"),
                        None => place.clone(),
                    };
                    // The same sentence about several pairs is said once.
                    match said.iter_mut().find(|(s, _)| s.code == r.code && s.text == r.text) {
                        Some((_, places)) => places.push(at),
                        None => said.push((r, vec![at])),
                    }
                }
            }
            Err(e) => {
                // Positions are there, and no time of theirs is that of the source.
                let mut idle: Vec<&str> = out
                    .positions
                    .iter()
                    .filter(|p| p.source == Some(key.source) && p.state == key.state)
                    .filter(|p| p.room == key.source || p.room == key.receiver)
                    .filter(|p| p.levels.leq.is_empty())
                    .map(|p| p.channel.as_str())
                    .collect();
                idle.dedup();
                let text = if idle.is_empty() {
                    e.to_string()
                } else {
                    format!(
                        "{} of its channels hold no usable time of the source (the first is {}): say \
                         when it played, with kind = \"source\"",
                        idle.len(),
                        idle[0]
                    )
                };
                out.remarks.push(Remark::new("measure::no-pair", text).at(place));
            }
        }
    }
    out.remarks.extend(said.into_iter().map(|(r, places)| r.at(places.join("; "))));
    // Uncalibrated and comparable to nothing.
    let lonely: Vec<&str> = out
        .positions
        .iter()
        .filter(|p| !p.calibrated && p.scale.is_none())
        .map(|p| p.channel.as_str())
        .collect();
    if !lonely.is_empty() {
        let text = format!(
            "no calibration for {}: its levels are relative to full scale only and enter no level \
             difference; record a calibrator tone, state what full scale is, or state \
             `equal_gains = true` if the gains and microphones were equal",
            lonely.join(", ")
        );
        out.remarks.push(Remark::new("measure::relative-only", text));
    }
    out
}

/// What belongs together.
#[derive(Clone, PartialEq)]
struct Key {
    state: Option<String>,
    source: RoomIndex,
    receiver: RoomIndex,
    what: Excitation,
}

/// Relative levels are moved up by this while they are worked with, dB: a level of −90 dB re full scale
/// is no impossible sound.
const RELATIVE_SHIFT: f64 = 120.0;

/// Nothing in a room is softer than this, dB.
const LOWEST: f64 = -60.0;

struct Gathered {
    survey: Survey,
    /// What makes uncalibrated levels comparable, if that is what they are.
    relative: Option<String>,
    /// Where the outer microphones were.
    outside: UseAs,
}

/// Positions of a key, calibrated ones; where one of the two rooms has none, those of a common scale.
fn members<'a>(measured: &'a Measured, key: &Key) -> (Vec<&'a MeasuredPosition>, Option<String>) {
    let all: Vec<&MeasuredPosition> = measured
        .positions
        .iter()
        .filter(|p| p.source == Some(key.source) && p.state == key.state)
        .filter(|p| p.excitation == key.what)
        .filter(|p| p.room == key.source || p.room == key.receiver)
        .collect();
    let impact = matches!(key.what, Excitation::TappingMachine | Excitation::RubberBall);
    let both = |some: &[&MeasuredPosition]| {
        let has = |room| some.iter().any(|p| p.room == room && p.use_as != UseAs::NearSource);
        (impact || has(key.source)) && has(key.receiver)
    };
    let calibrated: Vec<_> = all.iter().copied().filter(|p| p.calibrated).collect();
    if both(&calibrated) {
        return (calibrated, None);
    }
    let mut scales: Vec<&String> = all.iter().filter_map(|p| p.scale.as_ref()).collect();
    scales.dedup();
    for scale in scales {
        let some: Vec<_> =
            all.iter().copied().filter(|p| p.scale.as_ref() == Some(scale)).collect();
        // A difference may be relative; an impact level may not.
        if both(&some) && !impact {
            return (some, Some(scale.clone()));
        }
    }
    (Vec::new(), None)
}

fn survey(building: &Building, measured: &Measured, key: &Key) -> Option<Gathered> {
    let (source, receiver) = (key.source, key.receiver);
    let (positions, relative) = members(measured, key);
    if positions.is_empty() {
        return None;
    }
    let impact = matches!(key.what, Excitation::TappingMachine | Excitation::RubberBall);
    let shift = if relative.is_some() { RELATIVE_SHIFT } else { 0.0 };
    // Digital silence is no sound of a room: as a background it is nothing, as a level it is absent.
    let up = |s: &Spectrum<Level>| {
        s.filter_map(|_, l| Some(Level(l.0 + shift)).filter(|l| l.0 >= LOWEST))
    };
    let floor = |s: &Spectrum<Level>| s.map(|_, l| Level((l.0 + shift).max(LOWEST)));
    let mut runs: Vec<(usize, SourcePosition)> = Vec::new();
    let mut deviation = [0.0f64; 2];
    let mut carried: Vec<Option<&String>> = Vec::new();
    // Microphones on the façade and two metres before it do not mix; the former win.
    let outside = if positions.iter().any(|p| p.use_as == UseAs::OnFacade) {
        UseAs::OnFacade
    } else {
        UseAs::BeforeFacade
    };
    for p in positions {
        let side = usize::from(p.room != source);
        let index = runs.iter().position(|(r, _)| *r == p.run).unwrap_or_else(|| {
            runs.push((p.run, SourcePosition::default()));
            runs.len() - 1
        });
        let run = &mut runs[index].1;
        let (levels, louder) = p.compared();
        let moved = |s: &Spectrum<Level>| s.filter_map(|b, l| louder.get(b).map(|d| l + d));
        let of = |by: RecoveredBy| {
            p.recovered.filter_map(|band, r| {
                let l = r.level.filter(|_| r.by == by)?;
                Some(CoherentLevel { level: Level(l.level.0 + shift) + louder.get(band)?, ..l })
            })
        };
        let ball = key.what == Excitation::RubberBall;
        let position = Position {
            id: p.id.clone(),
            levels: up(if ball { &p.maximum } else { &levels }),
            background: floor(&moved(&p.background)),
            coherent: of(RecoveredBy::Coherence),
            followed: of(RecoveredBy::Following),
            used: Some(p.in_common.as_ref().map_or(p.used, |c| c.time)),
        };
        let corner = |set: &mut CornerSet, position| set.corners.push(position);
        match (side, p.use_as) {
            (0, UseAs::Room) if !impact => run.source.push(position),
            (0, used) if used == outside => run.source.push(position),
            (0, UseAs::Corner) => corner(&mut run.source_corners, position),
            (1, UseAs::Room) => run.receiving.push(position),
            (1, UseAs::Corner) => corner(&mut run.receiving_corners, position),
            _ => continue,
        }
        deviation[side] = deviation[side].max(p.calibration_deviation.0);
        carried.push(p.carried.as_ref());
    }
    // A recording that held only one of the two rooms forms no difference.
    runs.retain(|(_, r)| (impact || !r.source.is_empty()) && !r.receiving.is_empty());
    if runs.is_empty() {
        return None;
    }
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
    let one_recorder =
        carried.first().is_some_and(|c| c.is_some()) && carried.iter().all(|c| *c == carried[0]);
    // Uncalibrated levels on one scale: two microphones said to be equal differ by half a decibel
    // (common practice, no source), one microphone by nothing.
    let each =
        |known: f64| if relative.is_some() { if one_recorder { 0.0 } else { 0.35 } } else { known };
    Some(Gathered {
        survey: Survey {
            runs: runs.into_iter().map(|(_, r)| r).collect(),
            source_volume: volume(source),
            receiving_volume: volume(receiver),
            common_area: (area > 0.0).then_some(SquareMetre(area)),
            decay,
            source_calibration: LevelDifference(each(deviation[0])),
            receiving_calibration: LevelDifference(each(deviation[1])),
            calibration_correlation: if one_recorder { 1.0 } else { 0.0 },
            // Tape measure and rounding (common practice, no source).
            geometry: 0.02,
        },
        relative,
        outside,
    })
}

/// What the receiving positions recovered, as differences to the source level of the result.
fn recovered(
    measured: &Measured,
    key: &Key,
    result: &FieldResult,
) -> Spectrum<RecoveredDifference> {
    let (positions, relative) = members(measured, key);
    let shift = if relative.is_some() { RELATIVE_SHIFT } else { 0.0 };
    let receiving: Vec<_> = positions
        .into_iter()
        .filter(|p| p.room == key.receiver && p.use_as == UseAs::Room)
        .collect();
    result.source_level.filter_map(|band, l1| {
        let l1 = l1.0 - shift;
        let all: Vec<RecoveredLevel> = receiving
            .iter()
            .filter_map(|p| Some(p.recovered.get(band)?.louder_by(p.compared().1.get(band)?)))
            .collect();
        let by = if all.iter().any(|r| r.by == RecoveredBy::Coherence && r.level.is_some()) {
            RecoveredBy::Coherence
        } else {
            all.first()?.by
        };
        let all: Vec<_> = all.into_iter().filter(|r| r.by == by).collect();
        let mean = |of: &dyn Fn(&RecoveredLevel) -> Option<Level>| -> Option<LevelDifference> {
            let some: Vec<Level> = all.iter().filter_map(of).collect();
            if 2 * some.len() < receiving.len() {
                return None;
            }
            Level::energy_mean(some).map(|l2| LevelDifference(l1 - l2.0))
        };
        Some(RecoveredDifference {
            by,
            difference: mean(&|r| r.level.map(|l| l.level)),
            // The most that came through makes the least difference; all positions must say so.
            at_least: (all.len() == receiving.len() && all.iter().all(|r| r.at_most.is_some()))
                .then(|| mean(&|r| r.at_most))
                .flatten(),
            at_most: mean(&|r| r.at_least),
        })
    })
}

/// D2m,nT,w or R′45,w; none is defined here for traffic on the façade.
fn facade_ratings(result: &FacadeResult) -> (Vec<Rating>, Vec<(String, String)>) {
    let (mut given, mut refused) = (Vec::new(), Vec::new());
    for (quantity, values, name) in [
        (Quantity::FacadeStandardizedDifference, &result.standardized_2m, "D2m,nT"),
        (Quantity::FacadeApparentReductionIndex, &result.reduction, "R'45"),
    ] {
        if values.is_empty() || result.quantity != name {
            continue;
        }
        let curve = curve(values, &result.field.state);
        match wythe_rating::rate_as(&curve, quantity, &Options::default()) {
            Ok(rating) => given.push(rating),
            Err(e) => refused.push((quantity.symbol().to_owned(), e.to_string())),
        }
    }
    (given, refused)
}

/// L′nT,w and L′n,w.
fn impact_ratings(result: &ImpactResult) -> (Vec<Rating>, Vec<(String, String)>) {
    let (mut given, mut refused) = (Vec::new(), Vec::new());
    for (quantity, values) in [
        (Quantity::StandardizedImpact, &result.standardized),
        (Quantity::ApparentNormalizedImpact, &result.normalized),
    ] {
        if values.is_empty() {
            continue;
        }
        let mut curve = Curve::new(Resolution::Thirds);
        for (band, value) in values.iter() {
            let bound = match result.state.get(band) {
                Some(state) if state.is_bound() => Bound::AtMost,
                _ => Bound::Exact,
            };
            if let Some(midband) = Midband::from_nominal(band.nominal()) {
                curve.set(midband, value.0, bound);
            }
        }
        match wythe_rating::rate_as(&curve, quantity, &Options::default()) {
            Ok(rating) => given.push(rating),
            Err(e) => refused.push((quantity.symbol().to_owned(), e.to_string())),
        }
    }
    (given, refused)
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

/// How far a level close to a surface may be from what stands there, dB: the distance of a hand is
/// not a measure, and the room's own sound rises towards the wall (common practice, no source).
const NEAR_DEVIATION: f64 = 2.0;
/// A level less than this above the background says only how little came through, dB (ISO 16283-1
/// asks for 6 dB).
const ABOVE_BACKGROUND: f64 = 6.0;

impl Measured {
    /// Everything measured as evidence for the comparison: the pairs of rooms, and microphones
    /// close to surfaces against the average of the source room in the same recording.
    pub fn trials(&self) -> Vec<Trial> {
        let mut out: Vec<Trial> = self.pairs.iter().map(MeasuredPair::trial).collect();
        out.extend(self.near_trials());
        out
    }

    fn near_trials(&self) -> Vec<Trial> {
        let near = self
            .positions
            .iter()
            .filter(|p| p.use_as == UseAs::NearSurface && p.excitation == Excitation::Airborne);
        near.filter_map(|p| {
            let surface = p.at.clone()?;
            let source = p.source.filter(|s| *s != p.room)?;
            let beside: Vec<&MeasuredPosition> = self
                .positions
                .iter()
                .filter(|s| {
                    s.recording == p.recording
                        && s.source == p.source
                        && s.room == source
                        && s.use_as == UseAs::Room
                        && (s.calibrated == p.calibrated)
                        && (s.calibrated || (s.scale.is_some() && s.scale == p.scale))
                })
                .collect();
            if beside.is_empty() {
                return None;
            }
            let (levels, louder) = p.compared();
            let loud_levels: Vec<Spectrum<Level>> = beside.iter().map(|s| s.compared().0).collect();
            let bands = levels.within(Band::HZ_50, Band::HZ_5000).filter_map(|b, level| {
                let loud = loud_levels.iter().filter_map(|s| s.get(b));
                let loud = Level::energy_mean(loud.collect::<Vec<_>>())?;
                let background = p.background.get(b).and_then(|n| Some(n + louder.get(b)?));
                let above = background.map_or(0.0, |n| level.0 - n.0);
                let at_least = above < ABOVE_BACKGROUND;
                // What is not the source's is taken off where there is enough of it left.
                let own = match background.filter(|_| !at_least) {
                    Some(n) => 10.0 * (level.energy() - n.energy()).max(1e-30).log10(),
                    None => level.0,
                };
                let spread = if beside.len() > 1 { 1.0 } else { 1.5 };
                Some(Observed {
                    difference: LevelDifference(loud.0 - own),
                    deviation: LevelDifference(
                        NEAR_DEVIATION.hypot(spread).hypot(p.calibration_deviation.0),
                    ),
                    at_least,
                })
            });
            (!bands.is_empty()).then_some(Trial {
                state: p.state.clone(),
                source,
                receiver: p.room,
                near: Some(surface),
                bands,
            })
        })
        .collect()
    }
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
        Trial {
            state: self.state.clone(),
            source: self.source,
            receiver: self.receiver,
            near: None,
            bands,
        }
    }
}

/// No measured difference is believed better than this, dB: positions, calibrator and geometry
/// that nobody wrote down (common practice, no source).
const LEAST_DEVIATION: f64 = 0.5;
