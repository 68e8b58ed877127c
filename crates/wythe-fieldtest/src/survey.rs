//! A survey between two rooms, and what it comes to.

use wythe_bands::{
    Band, CubicMetre, Level, LevelDifference, Remark, Seconds, Spectrum, SquareMetre,
};
use wythe_rating::uncertainty::iso12999::{Situation, airborne_deviation};

use crate::average::average;
use crate::background::{State, corrected};
use crate::corner::{corner_level, is_low, low_frequency_level, needs_corners};
use crate::quantity::{absorption_area, apparent_reduction, normalized, standardized};

/// A level recovered by coherence with the source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoherentLevel {
    /// Level of what came from the source.
    pub level: Level,
    /// Its standard deviation.
    pub deviation: LevelDifference,
}

impl CoherentLevel {
    /// From the level a position heard and what coherence said of it: the level as heard is lowered
    /// by how much the coherent difference exceeds the plain one. Sensitivity and gain of the source
    /// channel cancel.
    ///
    /// ```
    /// use wythe_bands::{Level, LevelDifference};
    /// use wythe_fieldtest::CoherentLevel;
    /// let d = LevelDifference;
    /// let c = CoherentLevel::recovered(Level(40.0), d(39.5), d(50.0), d(0.4));
    /// assert!((c.level.0 - 29.5).abs() < 1e-9);
    /// ```
    pub fn recovered(
        heard: Level,
        level_difference: LevelDifference,
        coherent_difference: LevelDifference,
        deviation: LevelDifference,
    ) -> CoherentLevel {
        CoherentLevel { level: heard - (coherent_difference - level_difference), deviation }
    }
}

/// Levels at one microphone position.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Position {
    /// The user's name for it.
    pub id: String,
    /// Levels while the source was on.
    pub levels: Spectrum<Level>,
    /// Levels while it was off.
    pub background: Spectrum<Level>,
    /// What of the level came from the source, where coherence could tell.
    pub coherent: Spectrum<CoherentLevel>,
    /// What of the level goes up and down with the source, where that could be told.
    pub followed: Spectrum<CoherentLevel>,
    /// Time the levels rest on.
    pub used: Option<Seconds>,
}

impl Position {
    /// A position with levels of the source.
    pub fn new(id: impl Into<String>, levels: Spectrum<Level>) -> Position {
        Position { id: id.into(), levels, ..Position::default() }
    }

    /// The same with a background.
    pub fn over(mut self, background: Spectrum<Level>) -> Position {
        self.background = background;
        self
    }
}

/// Corners of one room for one source position.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct CornerSet {
    /// At least four corners with their backgrounds.
    pub corners: Vec<Position>,
}

/// Everything measured for one position of the source.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct SourcePosition {
    /// Positions in the source room.
    pub source: Vec<Position>,
    /// Positions in the receiving room.
    pub receiving: Vec<Position>,
    /// Corners of the source room.
    pub source_corners: CornerSet,
    /// Corners of the receiving room.
    pub receiving_corners: CornerSet,
}

/// Decay time of the receiving room.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Decay {
    /// Per band, with standard uncertainty where known.
    pub times: Spectrum<(Seconds, Option<Seconds>)>,
    /// Of the 63 Hz octave, which the corner procedure uses for 50, 63 and 80 Hz.
    pub octave_63: Option<Seconds>,
}

/// What was measured between two rooms.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Survey {
    /// One entry per position of the source.
    pub runs: Vec<SourcePosition>,
    /// Volume of the source room.
    pub source_volume: Option<CubicMetre>,
    /// Volume of the receiving room.
    pub receiving_volume: Option<CubicMetre>,
    /// Area of the element that both rooms share.
    pub common_area: Option<SquareMetre>,
    /// Measured decay of the receiving room; without it T = 0.5 s is assumed and said.
    pub decay: Option<Decay>,
    /// Standard uncertainty of the source room's sensitivity, dB.
    pub source_calibration: LevelDifference,
    /// Standard uncertainty of the receiving room's sensitivity, dB.
    pub receiving_calibration: LevelDifference,
    /// Correlation of the two: 1 with one recorder carried from room to room, 0 with two.
    pub calibration_correlation: f64,
    /// Relative standard uncertainty of volume and area, each.
    pub geometry: f64,
}

/// Why a survey gives nothing.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FieldError {
    /// No levels.
    #[error("{room} has no position with levels; record at least one position in each room")]
    NoPositions {
        /// Which room.
        room: &'static str,
    },
    /// A size that cannot be.
    #[error("{what} of {value} is impossible; it must lie between 0.001 and a million")]
    Size {
        /// Which one.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// An uncertainty that is none.
    #[error("{what} of {value} is impossible; it must not be negative")]
    Setting {
        /// Which one.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// A level that is none.
    #[error(
        "position {id} has a level of {value} dB in the {band} Hz band; no sound is that loud or soft"
    )]
    Level {
        /// The position.
        id: String,
        /// The band.
        band: &'static str,
        /// What was given.
        value: f64,
    },
}

/// A rating that must not be given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Its name.
    pub rating: &'static str,
    /// Why not.
    pub why: String,
}

/// What a survey came to. A band that is absent was not measured in both rooms.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct FieldResult {
    /// Average in the source room, background taken off.
    pub source_level: Spectrum<Level>,
    /// Average in the receiving room, background taken off (at most, where bound).
    pub receiving_level: Spectrum<Level>,
    /// Level difference D; it is also the noise reduction that NIC rates.
    pub difference: Spectrum<LevelDifference>,
    /// How each band stands.
    pub state: Spectrum<State>,
    /// Standardized level difference D_nT.
    pub standardized: Spectrum<LevelDifference>,
    /// Normalized level difference D_n; needs the receiving room's volume.
    pub normalized: Spectrum<LevelDifference>,
    /// Apparent reduction index R′; needs volume and common area.
    pub apparent_reduction: Spectrum<LevelDifference>,
    /// Standard uncertainty of D.
    pub uncertainty: Spectrum<LevelDifference>,
    /// Standard uncertainty of D_nT.
    pub standardized_uncertainty: Spectrum<LevelDifference>,
    /// Standard uncertainty of R′.
    pub apparent_reduction_uncertainty: Spectrum<LevelDifference>,
    /// Decay times that were used.
    pub decay: Spectrum<Seconds>,
    /// Whether they were assumed.
    pub decay_assumed: bool,
    /// Bands in which corners entered.
    pub corner_bands: Vec<Band>,
    /// Largest number of positions behind a band, source and receiving room.
    pub positions: [usize; 2],
    /// Ratings that must not be given for these rooms.
    pub refusals: Vec<Refusal>,
    /// What had to be said.
    pub remarks: Vec<Remark>,
}

/// Decay time assumed for a furnished dwelling where none was measured.
pub(crate) const ASSUMED_DECAY: Seconds = Seconds(0.5);
/// Standard uncertainty of that assumption: a factor of 1.35 either way, 1.3 dB.
pub(crate) const ASSUMED_DECAY_DB: f64 = 1.3;

/// What one source position came to in one band.
struct BandRun {
    l1: f64,
    l2: f64,
    u1: f64,
    u2: f64,
    state: State,
    positions: [usize; 2],
    corners: bool,
}

/// Level differences of a survey.
///
/// Per source position and band: energy mean over the positions of each room, background taken off
/// by the rule of ISO 16283-1:2014, 9.2; where that gives only a bound and coherence with the source
/// recovered a level at half of the positions or more, the coherent level instead; in rooms below
/// 25 m³ the corner procedure at 50, 63 and 80 Hz. Source positions are combined by
/// D = −10 lg(mean 10^(−D_j/10)) (from memory). Uncertainty by GUM propagation of position spread,
/// background, calibration, decay time and geometry, and never below the repeatability of
/// ISO 12999-1:2020 (situation C), because two positions can agree by luck.
///
/// # Errors
/// Refuses sizes that are not above zero, levels that are not numbers, and surveys without positions.
pub fn measure(survey: &Survey) -> Result<FieldResult, FieldError> {
    check(survey)?;
    let mut out = FieldResult::default();
    let mut cautious = Cautions::default();
    let decay_of = |band: Band, corners: bool| -> Option<(Seconds, Option<Seconds>)> {
        let decay = survey.decay.as_ref()?;
        if corners && let Some(t) = decay.octave_63 {
            return Some((t, decay.times.get(band).and_then(|t| t.1)));
        }
        decay.times.get(band)
    };
    for band in Band::all() {
        let t = decay_of(band, false).map(|t| t.0);
        let runs: Vec<BandRun> = survey
            .runs
            .iter()
            .filter_map(|run| one_run(survey, run, band, t, &mut cautious))
            .collect();
        if runs.is_empty() {
            continue;
        }
        let m = runs.len() as f64;
        let transmitted: Vec<f64> =
            runs.iter().map(|r| 10f64.powf(-(r.l1 - r.l2) / 10.0)).collect();
        let total: f64 = transmitted.iter().sum();
        let d = LevelDifference(-10.0 * (total / m).log10());
        // The weight of each source position is its share of what came through.
        let mut spread2 = 0.0;
        for (run, tau) in runs.iter().zip(&transmitted) {
            spread2 += (tau / total).powi(2) * (run.u1 * run.u1 + run.u2 * run.u2);
        }
        let (k1, k2) = (survey.source_calibration.0, survey.receiving_calibration.0);
        let r = survey.calibration_correlation.clamp(0.0, 1.0);
        let calibration2 = k1 * k1 + k2 * k2 - 2.0 * r * k1 * k2;
        let propagated = (spread2 + calibration2.max(0.0)).sqrt();
        let floor = airborne_deviation(band, Situation::Repeated).map_or(0.0, |u| u.0);
        let u = propagated.max(floor);
        let worst = worst_state(runs.iter().map(|r| r.state));
        let corners = runs.iter().any(|r| r.corners);
        if corners {
            out.corner_bands.push(band);
        }
        for run in &runs {
            out.positions[0] = out.positions[0].max(run.positions[0]);
            out.positions[1] = out.positions[1].max(run.positions[1]);
        }
        if let Some(l) = Level::energy_mean(runs.iter().map(|r| Level(r.l1))) {
            out.source_level.set(band, l);
        }
        if let Some(l) = Level::energy_mean(runs.iter().map(|r| Level(r.l2))) {
            out.receiving_level.set(band, l);
        }
        out.difference.set(band, d);
        out.state.set(band, worst);
        out.uncertainty.set(band, LevelDifference(u));

        // A band without its own decay time takes none from elsewhere: only a survey without any
        // measured decay is standardized with an assumed one.
        let (t, u_t) = match (decay_of(band, corners), &survey.decay) {
            (Some((t, u)), _) => {
                // Unknown uncertainty of a measured decay: a tenth, usual for few positions.
                let relative = u.map_or(0.1, |u| u.0 / t.0);
                (t, 10.0 / std::f64::consts::LN_10 * relative)
            }
            (None, Some(_)) => {
                cautious.no_decay.push(band);
                continue;
            }
            (None, None) => (ASSUMED_DECAY, ASSUMED_DECAY_DB),
        };
        out.decay.set(band, t);
        out.standardized.set(band, standardized(d, t));
        let u_standardized = u.hypot(u_t);
        out.standardized_uncertainty.set(band, LevelDifference(u_standardized));
        if let Some(volume) = survey.receiving_volume {
            let area = absorption_area(volume, t);
            out.normalized.set(band, normalized(d, area));
            if let Some(common) = survey.common_area {
                let geometry = 10.0 / std::f64::consts::LN_10 * survey.geometry;
                let u = (u_standardized.powi(2) + 2.0 * geometry * geometry).sqrt();
                out.apparent_reduction.set(band, apparent_reduction(d, common, area));
                out.apparent_reduction_uncertainty.set(band, LevelDifference(u));
            }
        }
    }
    if out.difference.is_empty() {
        return Err(FieldError::NoPositions { room: "one of the two rooms" });
    }
    out.decay_assumed = survey.decay.is_none();
    say(survey, &mut out, &cautious);
    refuse(survey, &mut out);
    Ok(out)
}

/// What has to be remarked, gathered over bands.
#[derive(Default)]
pub(crate) struct Cautions {
    single_source: bool,
    single_receiving: bool,
    pub(crate) missing_corners: Vec<&'static str>,
    few_corners: Vec<&'static str>,
    no_decay: Vec<Band>,
    partly_coherent: Vec<Band>,
}

fn note(list: &mut Vec<&'static str>, room: &'static str) {
    if !list.contains(&room) {
        list.push(room);
    }
}

pub(crate) fn worst_state(states: impl Iterator<Item = State>) -> State {
    let rank = |s: &State| match s {
        State::Valid => 0,
        State::Corrected => 1,
        State::Followed => 2,
        State::Coherent => 3,
        State::Missing => 4,
        State::Bound => 5,
    };
    states.max_by_key(rank).unwrap_or(State::Missing)
}

pub(crate) struct RoomLevel {
    pub(crate) level: f64,
    pub(crate) u: f64,
    pub(crate) state: State,
    pub(crate) positions: usize,
    pub(crate) corners: bool,
}

fn one_run(
    survey: &Survey,
    run: &SourcePosition,
    band: Band,
    decay: Option<Seconds>,
    cautious: &mut Cautions,
) -> Option<BandRun> {
    let source = room_level(&run.source, band, decay, cautious)?;
    let receiving = room_level(&run.receiving, band, decay, cautious)?;
    cautious.single_source |= source.positions == 1;
    cautious.single_receiving |= receiving.positions == 1;
    let source = with_corners(
        source,
        &run.source_corners,
        survey.source_volume,
        band,
        "source room",
        cautious,
    );
    let receiving = with_corners(
        receiving,
        &run.receiving_corners,
        survey.receiving_volume,
        band,
        "receiving room",
        cautious,
    );
    Some(BandRun {
        l1: source.level,
        l2: receiving.level,
        u1: source.u,
        u2: receiving.u,
        // A source room drowned in its own background would be a bound of the other kind; there it
        // is loud by construction, and a missing background does no harm.
        state: match (source.state, receiving.state) {
            (State::Bound, _) => State::Bound,
            (_, s) => s,
        },
        positions: [source.positions, receiving.positions],
        corners: source.corners || receiving.corners,
    })
}

pub(crate) fn room_level(
    positions: &[Position],
    band: Band,
    decay: Option<Seconds>,
    cautious: &mut Cautions,
) -> Option<RoomLevel> {
    let together = average(positions.iter().filter_map(|p| p.levels.get(band)), band, decay)?;
    let alone = average(positions.iter().filter_map(|p| p.background.get(band)), band, decay);
    let (level, u, state) = match alone {
        Some(alone) => {
            let c = corrected(together.level, alone.level);
            (c.level, c.uncertainty(together.uncertainty, alone.uncertainty), c.state)
        }
        None => (together.level, together.uncertainty, State::Missing),
    };
    let mut out =
        RoomLevel { level: level.0, u: u.0, state, positions: together.positions, corners: false };
    if state.is_bound() {
        // Phase first; what goes up and down with the source where phase does not help.
        type Of = fn(&Position, Band) -> Option<CoherentLevel>;
        let ways: [(Of, State); 2] = [
            (|p, b| p.coherent.get(b), State::Coherent),
            (|p, b| p.followed.get(b), State::Followed),
        ];
        for (of, state) in ways {
            let heard: Vec<CoherentLevel> = positions
                .iter()
                .filter_map(|p| of(p, band))
                .filter(|c| c.level.0.is_finite() && c.deviation.0.is_finite())
                .collect();
            let Some(mean) = average(heard.iter().map(|c| c.level), band, decay) else { continue };
            if 2 * mean.positions < together.positions {
                continue;
            }
            let n = mean.positions as f64;
            let random = heard.iter().map(|c| c.deviation.0.powi(2)).sum::<f64>().sqrt() / n;
            out.level = mean.level.0;
            out.u = mean.uncertainty.0.hypot(random);
            out.state = state;
            if mean.positions < together.positions && !cautious.partly_coherent.contains(&band) {
                cautious.partly_coherent.push(band);
            }
            break;
        }
    }
    Some(out)
}

pub(crate) fn with_corners(
    mut room: RoomLevel,
    set: &CornerSet,
    volume: Option<CubicMetre>,
    band: Band,
    name: &'static str,
    cautious: &mut Cautions,
) -> RoomLevel {
    if !is_low(band) || !volume.is_some_and(needs_corners) {
        return room;
    }
    let mut state = room.state;
    let corners: Vec<Level> = set
        .corners
        .iter()
        .filter_map(|p| {
            let level = p.levels.get(band)?;
            Some(match p.background.get(band) {
                Some(alone) => {
                    let c = corrected(level, alone);
                    if c.state == State::Bound {
                        state = State::Bound;
                    }
                    c.level
                }
                None => level,
            })
        })
        .collect();
    let Some(corner) = corner_level([&corners[..]]) else {
        note(&mut cautious.missing_corners, name);
        return room;
    };
    if corners.len() < 4 {
        note(&mut cautious.few_corners, name);
    }
    room.level = low_frequency_level(corner, Level(room.level)).0;
    room.state = state;
    room.corners = true;
    room
}

pub(crate) fn check(survey: &Survey) -> Result<(), FieldError> {
    let sizes = [
        ("a source room volume", survey.source_volume.map(|v| v.0)),
        ("a receiving room volume", survey.receiving_volume.map(|v| v.0)),
        ("a common area", survey.common_area.map(|s| s.0)),
        (
            "a decay time of the 63 Hz octave",
            survey.decay.as_ref().and_then(|d| d.octave_63).map(|t| t.0),
        ),
    ];
    for (what, value) in sizes {
        if let Some(value) = value.filter(|v| !(1e-3..=1e6).contains(v)) {
            return Err(FieldError::Size { what, value });
        }
    }
    for (what, value) in [
        ("an uncertainty of the source calibration", survey.source_calibration.0),
        ("an uncertainty of the receiving calibration", survey.receiving_calibration.0),
        ("an uncertainty of the geometry", survey.geometry),
        ("a correlation of the calibrations", survey.calibration_correlation),
    ] {
        if !(0.0..=1e3).contains(&value) {
            return Err(FieldError::Setting { what, value });
        }
    }
    if let Some(decay) = &survey.decay {
        for (_, (t, u)) in decay.times.iter() {
            if !(1e-3..=1e6).contains(&t.0) {
                return Err(FieldError::Size { what: "a decay time", value: t.0 });
            }
            if let Some(u) = u.filter(|u| !(0.0..=1e6).contains(&u.0)) {
                return Err(FieldError::Size {
                    what: "an uncertainty of a decay time",
                    value: u.0,
                });
            }
        }
    }
    if survey.runs.is_empty() {
        return Err(FieldError::NoPositions { room: "the survey" });
    }
    for run in &survey.runs {
        let all = run
            .source
            .iter()
            .chain(&run.receiving)
            .chain(&run.source_corners.corners)
            .chain(&run.receiving_corners.corners);
        for position in all {
            for (band, level) in position.levels.iter().chain(position.background.iter()) {
                // Sound that humans measure lies between silence far below hearing and the loudest
                // rocket.
                if !(-100.0..=250.0).contains(&level.0) {
                    return Err(FieldError::Level {
                        id: position.id.clone(),
                        band: band.nominal(),
                        value: level.0,
                    });
                }
            }
        }
    }
    if survey.runs.iter().all(|r| r.source.is_empty()) {
        return Err(FieldError::NoPositions { room: "the source room" });
    }
    if survey.runs.iter().all(|r| r.receiving.is_empty()) {
        return Err(FieldError::NoPositions { room: "the receiving room" });
    }
    Ok(())
}

pub(crate) fn names(bands: impl IntoIterator<Item = Band>) -> String {
    bands.into_iter().map(|b| b.nominal()).collect::<Vec<_>>().join(", ")
}

fn say(survey: &Survey, out: &mut FieldResult, cautious: &Cautions) {
    let of = |state: State| -> Vec<Band> {
        out.state.iter().filter(|(_, s)| *s == state).map(|(b, _)| b).collect()
    };
    let mut remarks = Vec::new();
    let bound = of(State::Bound);
    if !bound.is_empty() {
        remarks.push(Remark::new(
            "fieldtest::bound",
            format!(
                "at {} Hz the background hides what comes through: the differences are at least the \
                 values given",
                names(bound)
            ),
        ));
    }
    let missing = of(State::Missing);
    if !missing.is_empty() {
        remarks.push(Remark::new(
            "fieldtest::no-background",
            format!(
                "no background was recorded for {} Hz in the receiving room: the differences are at \
                 least the values given; record it quiet for a minute",
                names(missing)
            ),
        ));
    }
    let coherent = of(State::Coherent);
    if !coherent.is_empty() {
        remarks.push(Remark::new(
            "fieldtest::coherent",
            format!(
                "at {} Hz the values rest on what is coherent with the source; rattling and buzzing \
                 are not in them",
                names(coherent)
            ),
        ));
    }
    let followed = of(State::Followed);
    if !followed.is_empty() {
        remarks.push(Remark::new(
            "fieldtest::followed",
            format!(
                "at {} Hz the background was taken off as the part that does not go up and down with \
                 the source: this is no procedure of ISO 16283",
                names(followed)
            ),
        ));
    }
    if !cautious.partly_coherent.is_empty() {
        remarks.push(Remark::new(
            "fieldtest::partly-coherent",
            format!(
                "at {} Hz only some of the receiving positions show a part of the source; the quieter \
                 ones are missing from the average",
                names(cautious.partly_coherent.iter().copied())
            ),
        ));
    }
    if out.decay_assumed {
        remarks.push(Remark::new(
            "fieldtest::decay-assumed",
            "no decay time was measured in the receiving room: 0.5 s is assumed for D_nT, D_n and R′",
        ));
    } else if !cautious.no_decay.is_empty() {
        remarks.push(Remark::new(
            "fieldtest::decay-missing",
            format!(
                "no decay time at {} Hz: D_nT, D_n and R′ are left out there",
                names(cautious.no_decay.iter().copied())
            ),
        ));
    }
    for (single, room) in
        [(cautious.single_source, "source room"), (cautious.single_receiving, "receiving room")]
    {
        if single {
            remarks.push(
                Remark::new(
                    "fieldtest::single-position",
                    "a single position shows no spread; a diffuse field's is assumed, too small for \
                     bass in a small room. ISO 16283-1 asks for five positions",
                )
                .at(room),
            );
        }
    }
    for room in &cautious.missing_corners {
        remarks.push(
            Remark::new(
                "fieldtest::no-corners",
                "below 25 m³ the levels at 50, 63 and 80 Hz need measurements in corners, and there \
                 are none; the values given are those of the middle of the room",
            )
            .at(*room),
        );
    }
    for room in &cautious.few_corners {
        remarks.push(
            Remark::new("fieldtest::few-corners", "the corner procedure asks for four corners")
                .at(*room),
        );
    }
    if !out.corner_bands.is_empty() {
        let text = if survey.decay.as_ref().is_some_and(|d| d.octave_63.is_none()) {
            "the corner procedure was used; its decay time should be that of the 63 Hz octave, which \
             is missing, and the thirds were used"
        } else {
            "the corner procedure was used"
        };
        remarks.push(
            Remark::new("fieldtest::corners", text)
                .at(format!("{} Hz", names(out.corner_bands.clone()))),
        );
    }
    if survey.common_area.is_some_and(|s| s.0 < 10.0) {
        remarks.push(Remark::new(
            "fieldtest::small-common-area",
            "the common area is below 10 m²: rules differ on what area R′ takes then; here the common \
             part itself",
        ));
    }
    // In the source room neighbouring thirds must not differ by more than 8 dB (secondary source).
    let uneven: Vec<Band> = Band::range(Band::HZ_100, Band::HZ_5000)
        .filter(|b| {
            let before =
                Band::at(b.index().saturating_sub(1)).and_then(|p| out.source_level.get(p));
            let (Some(before), Some(now)) = (before, out.source_level.get(*b)) else {
                return false;
            };
            (now - before).0.abs() > 8.0
        })
        .collect();
    if !uneven.is_empty() {
        remarks.push(
            Remark::new(
                "fieldtest::uneven-source",
                "neighbouring bands of the source differ by more than 8 dB; a standard test asks for \
                 less. Music does that",
            )
            .at(format!("{} Hz", names(uneven))),
        );
    }
    out.remarks = remarks;
}

/// ASTM E336 and its small rooms: below 25 m³ only NR and NIC may be reported.
/// Source: ASTM E336 abstracts of several editions (secondary); the standard was not to hand.
fn refuse(survey: &Survey, out: &mut FieldResult) {
    for (room, volume) in
        [("source room", survey.source_volume), ("receiving room", survey.receiving_volume)]
    {
        let Some(volume) = volume else { continue };
        if volume.0 < 25.0 {
            for rating in ["ASTC", "NNIC"] {
                // Normalized ratings hang on the receiving room; the apparent one on both.
                if rating == "NNIC" && room == "source room" {
                    continue;
                }
                out.refusals.push(Refusal {
                    rating,
                    why: format!(
                        "the {room} has {:.1} m³; ASTM E336 gives {rating} only for rooms of at least \
                         25 m³, because a smaller one has no diffuse field to normalize by. NIC may be \
                         reported",
                        volume.0
                    ),
                });
            }
        }
        if volume.0 >= 150.0 {
            out.remarks.push(
                Remark::new(
                    "fieldtest::large-room",
                    "from 150 m³ ASTM E336 measures near the partition and reports NR and NIC only",
                )
                .at(room),
            );
        }
    }
    if out.decay_assumed {
        for rating in ["ASTC", "NNIC"] {
            if !out.refusals.iter().any(|r| r.rating == rating) {
                out.refusals.push(Refusal {
                    rating,
                    why: "no decay time was measured in the receiving room".into(),
                });
            }
        }
    }
}
