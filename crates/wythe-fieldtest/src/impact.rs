//! Footsteps: levels below a floor that is tapped or hit.

use wythe_bands::{Band, Level, LevelDifference, Remark, Seconds, Spectrum};
use wythe_rating::uncertainty::iso12999::{Situation, impact_deviation};

use crate::background::State;
use crate::quantity::{absorption_area, impact_normalized, impact_standardized};
use crate::survey::{
    ASSUMED_DECAY, ASSUMED_DECAY_DB, Cautions, FieldError, Survey, check, names, room_level,
    with_corners, worst_state,
};

/// What hits the floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ImpactExcitation {
    /// The standard tapping machine: equivalent levels.
    TappingMachine,
    /// The standard rubber ball: largest F levels.
    RubberBall,
}

/// Levels in a room below (or beside) a floor that is hit. The source position lists of the survey stay
/// empty: each run is one position of the machine, its receiving list the microphones.
#[derive(Clone, Debug, PartialEq)]
pub struct ImpactSurvey {
    /// Runs, receiving volume, decay and receiving calibration are used.
    pub survey: Survey,
    /// What hit the floor.
    pub excitation: ImpactExcitation,
}

/// What an impact measurement came to. Unlike with airborne sound a value close to the background is an
/// upper bound: the level is at most this.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ImpactResult {
    /// L_i (or L_i,Fmax), background taken off.
    pub level: Spectrum<Level>,
    /// How each band stands; `bound` and `missing` mean at most.
    pub state: Spectrum<State>,
    /// L′_nT; not for the ball.
    pub standardized: Spectrum<Level>,
    /// L′_n; needs the volume; not for the ball.
    pub normalized: Spectrum<Level>,
    /// Standard uncertainty of L_i.
    pub uncertainty: Spectrum<LevelDifference>,
    /// Standard uncertainty of L′_nT.
    pub standardized_uncertainty: Spectrum<LevelDifference>,
    /// Decay times that were used.
    pub decay: Spectrum<Seconds>,
    /// Whether they were assumed.
    pub decay_assumed: bool,
    /// Positions of the machine.
    pub machine_positions: usize,
    /// What had to be said.
    pub remarks: Vec<Remark>,
}

/// Impact levels of a survey: energy mean over microphones, background by the rule of all parts of
/// ISO 16283, corner procedure below 25 m³, energy mean over machine positions,
/// L′_nT = L_i − 10 lg(T/0.5 s), L′_n = L_i + 10 lg(A/10 m²). Uncertainty from position spread,
/// background and calibration, never below the repeatability of ISO 12999-1:2020, Table 4.
///
/// Sources: ISO 16283-2:2020 (public transcriptions); the mean over machine positions from memory.
///
/// # Errors
/// Refuses impossible sizes and levels and a survey without positions.
pub fn impact(wish: &ImpactSurvey) -> Result<ImpactResult, FieldError> {
    let mut survey = wish.survey.clone();
    // The checks want both rooms; here there is one.
    for run in &mut survey.runs {
        run.source.clone_from(&run.receiving);
        run.source_corners = Default::default();
    }
    check(&survey)?;
    let ball = wish.excitation == ImpactExcitation::RubberBall;
    let mut out = ImpactResult { machine_positions: survey.runs.len(), ..Default::default() };
    let mut cautious = Cautions::default();
    for band in Band::all() {
        let given = survey.decay.as_ref().and_then(|d| d.times.get(band));
        let levels: Vec<_> = survey
            .runs
            .iter()
            .filter_map(|run| {
                let level = room_level(&run.receiving, band, given.map(|t| t.0), &mut cautious)?;
                Some(with_corners(
                    level,
                    &run.receiving_corners,
                    survey.receiving_volume,
                    band,
                    "receiving room",
                    &mut cautious,
                ))
            })
            .collect();
        let Some(level) = Level::energy_mean(levels.iter().map(|l| Level(l.level))) else {
            continue;
        };
        let total: f64 = levels.iter().map(|l| 10f64.powf(l.level / 10.0)).sum();
        let spread: f64 = levels
            .iter()
            .map(|l| (10f64.powf(l.level / 10.0) / total * l.u).powi(2))
            .sum::<f64>()
            .sqrt();
        let floor = impact_deviation(band, Situation::Repeated).map_or(0.0, |u| u.0);
        let u = spread.hypot(survey.receiving_calibration.0).max(floor);
        let corners = levels.iter().any(|l| l.corners);
        debug_assert!(levels.iter().all(|l| l.positions > 0));
        out.level.set(band, level);
        out.state.set(band, worst_state(levels.iter().map(|l| l.state)));
        out.uncertainty.set(band, LevelDifference(u));
        if ball {
            continue;
        }
        let octave = survey.decay.as_ref().and_then(|d| d.octave_63).filter(|_| corners);
        let (t, u_t) = match (octave, given, &survey.decay) {
            (Some(t), ..) => (t, 0.43),
            (None, Some((t, u)), _) => (t, 4.343 * u.map_or(0.1, |u| u.0 / t.0)),
            (None, None, Some(_)) => continue,
            (None, None, None) => (ASSUMED_DECAY, ASSUMED_DECAY_DB),
        };
        out.decay.set(band, t);
        out.standardized.set(band, impact_standardized(level, t));
        out.standardized_uncertainty.set(band, LevelDifference(u.hypot(u_t)));
        if let Some(volume) = survey.receiving_volume {
            out.normalized.set(band, impact_normalized(level, absorption_area(volume, t)));
        }
    }
    if out.level.is_empty() {
        return Err(FieldError::NoPositions { room: "the receiving room" });
    }
    out.decay_assumed = survey.decay.is_none() && !ball;
    say(&mut out, &survey, ball, &cautious);
    Ok(out)
}

fn say(out: &mut ImpactResult, survey: &Survey, ball: bool, cautious: &Cautions) {
    let bound: Vec<Band> =
        out.state.iter().filter(|(_, s)| s.is_bound()).map(|(band, _)| band).collect();
    if !bound.is_empty() {
        out.remarks.push(Remark::new(
            "fieldtest::impact-bound",
            format!(
                "at {} Hz the background hides the impact sound or was not recorded: the levels are at \
                 most the values given",
                names(bound)
            ),
        ));
    }
    if out.decay_assumed {
        out.remarks.push(Remark::new(
            "fieldtest::decay-assumed",
            "no decay time was measured in the receiving room: 0.5 s is assumed for L′_nT and L′_n",
        ));
    }
    if out.machine_positions < 4 {
        out.remarks.push(Remark::new(
            "fieldtest::few-machine-positions",
            format!(
                "{} position{} on the floor; ISO 16283-2 asks for four and more (from memory)",
                out.machine_positions,
                if out.machine_positions == 1 { "" } else { "s" }
            ),
        ));
    }
    if ball {
        out.remarks.push(Remark::new(
            "fieldtest::ball",
            "largest F levels of the ball as recorded; their standardization to volume and decay time \
             is not computed",
        ));
    }
    for room in &cautious.missing_corners {
        out.remarks.push(
            Remark::new(
                "fieldtest::no-corners",
                "below 25 m³ the levels at 50, 63 and 80 Hz need measurements in corners, and there \
                 are none; the values given are those of the middle of the room",
            )
            .at(*room),
        );
    }
    if survey.receiving_volume.is_some_and(|v| v.0 < 40.0) {
        out.remarks.push(Remark::new(
            "fieldtest::small-room",
            "ASTM E1007 gives AIIC only for rooms of at least 40 m³ (secondary source); \
             compare levels as they are",
        ));
    }
}
