//! What must hold for any survey.

use proptest::prelude::*;
use wythe_bands::{Band, CubicMetre, Level, LevelDifference, Seconds, Spectrum, SquareMetre};
use wythe_fieldtest::{
    CoherentLevel, CornerSet, Decay, ImpactExcitation, ImpactSurvey, Outside, Position,
    SourcePosition, State, Survey, facade, impact, measure,
};

fn flat(l: f64) -> Spectrum<Level> {
    Spectrum::from_fn(|_| Level(l))
}

fn survey(source: f64, heard: f64, background: Option<f64>) -> Survey {
    let mut position = Position::new("r", flat(heard));
    if let Some(b) = background {
        position = position.over(flat(b));
    }
    Survey {
        runs: vec![SourcePosition {
            source: vec![Position::new("s", flat(source))],
            receiving: vec![position],
            ..SourcePosition::default()
        }],
        receiving_volume: Some(CubicMetre(40.0)),
        common_area: Some(SquareMetre(12.0)),
        ..Survey::default()
    }
}

#[test]
fn a_hidden_signal_is_a_bound_and_coherence_recovers_it() {
    let mut s = survey(95.0, 40.0, Some(38.0));
    let got = measure(&s).unwrap();
    assert_eq!(got.state.get(Band::HZ_500), Some(State::Bound));
    assert!(got.remarks.iter().any(|r| r.code == "fieldtest::bound"));
    s.runs[0].receiving[0].coherent =
        [(Band::HZ_500, CoherentLevel { level: Level(28.0), deviation: LevelDifference(1.0) })]
            .into_iter()
            .collect();
    let better = measure(&s).unwrap();
    assert_eq!(better.state.get(Band::HZ_500), Some(State::Coherent));
    assert!((better.difference.get(Band::HZ_500).unwrap().0 - 67.0).abs() < 1e-9);
    // Only there: elsewhere the bound stays, and a valid value is never replaced.
    assert_eq!(better.state.get(Band::HZ_1000), Some(State::Bound));
    s.runs[0].receiving[0].background = flat(20.0);
    assert_eq!(measure(&s).unwrap().state.get(Band::HZ_500), Some(State::Valid));
}

#[test]
fn without_background_nothing_is_called_valid() {
    let got = measure(&survey(95.0, 40.0, None)).unwrap();
    assert!(got.state.iter().all(|(_, s)| s == State::Missing && s.is_bound()));
}

#[test]
fn one_recorder_in_both_rooms_cancels_its_calibration() {
    let mut s = survey(95.0, 40.0, Some(10.0));
    s.source_calibration = LevelDifference(1.0);
    s.receiving_calibration = LevelDifference(1.0);
    let two = measure(&s).unwrap().uncertainty.get(Band::HZ_500).unwrap().0;
    s.calibration_correlation = 1.0;
    let one = measure(&s).unwrap().uncertainty.get(Band::HZ_500).unwrap().0;
    assert!((two * two - one * one - 2.0).abs() < 1e-9);
}

#[test]
fn an_assumed_decay_is_said() {
    let got = measure(&survey(95.0, 40.0, Some(10.0))).unwrap();
    assert!(got.decay_assumed);
    assert!(got.remarks.iter().any(|r| r.code == "fieldtest::decay-assumed"));
    assert_eq!(got.standardized.get(Band::HZ_500), got.difference.get(Band::HZ_500));
    // And bands without a measured decay are left out when others have one.
    let mut s = survey(95.0, 40.0, Some(10.0));
    s.decay = Some(Decay {
        times: [(Band::HZ_500, (Seconds(1.0), None))].into_iter().collect(),
        octave_63: None,
    });
    let got = measure(&s).unwrap();
    assert_eq!(got.standardized.len(), 1);
}

#[test]
fn nonsense_is_refused() {
    for volume in [0.0, -3.0, f64::NAN, f64::INFINITY] {
        let mut s = survey(95.0, 40.0, None);
        s.receiving_volume = Some(CubicMetre(volume));
        assert!(measure(&s).is_err(), "{volume}");
    }
    assert!(measure(&survey(f64::NAN, 40.0, None)).is_err());
    assert!(measure(&Survey::default()).is_err());
    let mut s = survey(95.0, 40.0, None);
    s.runs[0].receiving.clear();
    assert!(measure(&s).is_err());
    let mut s = survey(95.0, 40.0, None);
    s.calibration_correlation = f64::NAN;
    assert!(measure(&s).is_err());
}

proptest! {
    /// Whatever numbers come in: an answer or a refusal, and finite numbers in the answer.
    #[test]
    fn total_on_any_numbers(
        source in -400.0..400.0f64, heard in proptest::num::f64::ANY, background in -400.0..400.0f64,
        volume in proptest::num::f64::ANY, area in -10.0..100.0f64, t in -1.0..10.0f64,
        corner in -100.0..200.0f64,
    ) {
        let mut s = survey(source, heard, Some(background));
        s.receiving_volume = Some(CubicMetre(volume));
        s.source_volume = Some(CubicMetre(volume.abs().min(1e9)));
        s.common_area = Some(SquareMetre(area));
        s.decay = Some(Decay {
            times: Spectrum::from_fn(|_| (Seconds(t), None)), octave_63: Some(Seconds(t)) });
        s.runs[0].receiving_corners =
            CornerSet { corners: vec![Position::new("c", flat(corner))] };
        if let Ok(got) = measure(&s) {
            for (_, d) in got.difference.iter().chain(got.standardized.iter())
                .chain(got.apparent_reduction.iter()).chain(got.uncertainty.iter()) {
                prop_assert!(d.0.is_finite());
            }
        }
    }

    /// Correcting never raises a level, and more background never lowers the corrected difference
    /// below what was heard.
    #[test]
    fn correction_only_lowers(heard in 20.0..90.0f64, below in -5.0..40.0f64) {
        let got = measure(&survey(95.0, heard, Some(heard - below))).unwrap();
        let d = got.difference.get(Band::HZ_500).unwrap().0;
        prop_assert!(d >= 95.0 - heard - 1e-9);
        prop_assert!(d <= 95.0 - heard + 1.31);
    }
}

#[test]
fn what_follows_the_source_is_taken_where_phase_shows_nothing() {
    let mut s = survey(95.0, 40.0, Some(38.0));
    let level = |l| {
        [(Band::HZ_500, CoherentLevel { level: Level(l), deviation: LevelDifference(1.0) })]
            .into_iter()
            .collect()
    };
    s.runs[0].receiving[0].followed = level(30.0);
    let got = measure(&s).unwrap();
    assert_eq!(got.state.get(Band::HZ_500), Some(State::Followed));
    assert!((got.difference.get(Band::HZ_500).unwrap().0 - 65.0).abs() < 1e-9);
    assert_eq!(got.state.get(Band::HZ_500).unwrap().word(), "corrected");
    assert!(got.remarks.iter().any(|r| r.code == "fieldtest::followed"));
    // Phase is believed first; a value that needs neither stays as it is.
    s.runs[0].receiving[0].coherent = level(28.0);
    assert_eq!(measure(&s).unwrap().state.get(Band::HZ_500), Some(State::Coherent));
    let mut clear = survey(95.0, 60.0, Some(30.0));
    clear.runs[0].receiving[0].followed = level(40.0);
    assert_eq!(measure(&clear).unwrap().difference.get(Band::HZ_500).unwrap().0, 35.0);
}

#[test]
fn footsteps_are_at_most_what_the_background_allows() {
    let run = |heard, background: f64| SourcePosition {
        receiving: vec![
            Position::new("a", flat(heard)).over(flat(background)),
            Position::new("b", flat(heard)).over(flat(background)),
        ],
        ..SourcePosition::default()
    };
    let wish = |heard, background, excitation| ImpactSurvey {
        survey: Survey {
            runs: vec![run(heard, background); 4],
            receiving_volume: Some(CubicMetre(50.0)),
            decay: Some(Decay {
                times: Spectrum::from_fn(|_| (Seconds(1.0), None)),
                octave_63: None,
            }),
            ..Survey::default()
        },
        excitation,
    };
    let tapping = ImpactExcitation::TappingMachine;
    let clear = impact(&wish(62.0, 40.0, tapping)).unwrap();
    assert_eq!(clear.state.get(Band::HZ_500), Some(State::Valid));
    // T twice the reference: 3 dB less. A = 0.16·50/1 = 8 m²: 0.97 dB less.
    let at = |s: &Spectrum<Level>| s.get(Band::HZ_500).unwrap().0;
    assert!((at(&clear.standardized) - 58.99).abs() < 0.005);
    assert!((at(&clear.normalized) - 61.03).abs() < 0.005);
    let hidden = impact(&wish(42.0, 40.0, tapping)).unwrap();
    assert_eq!(hidden.state.get(Band::HZ_500), Some(State::Bound));
    assert!((at(&hidden.level) - 40.7).abs() < 1e-9);
    assert!(hidden.remarks.iter().any(|r| r.text.contains("at most")));
    let ball = impact(&wish(62.0, 40.0, ImpactExcitation::RubberBall)).unwrap();
    assert!(
        ball.standardized.is_empty() && ball.remarks.iter().any(|r| r.code == "fieldtest::ball")
    );
    assert!(impact(&ImpactSurvey { survey: Survey::default(), excitation: tapping }).is_err());
}

#[test]
fn a_facade_is_measured_by_where_its_microphones_stood() {
    let mut s = survey(80.0, 45.0, Some(20.0));
    s.decay = Some(Decay { times: Spectrum::from_fn(|_| (Seconds(0.5), None)), octave_63: None });
    let before = facade(&s, Outside::TwoMetresBefore).unwrap();
    assert!((before.standardized_2m.get(Band::HZ_500).unwrap().0 - 35.0).abs() < 1e-9);
    assert!(before.reduction.is_empty() && before.quantity == "D2m,nT");
    // S = 12, A = 0.16·40/0.5 = 12.8: −0.28 dB; less 1.5 or 3 dB.
    for (outside, minus) in [(Outside::OnFacadeLoudspeaker, 1.5), (Outside::OnFacadeTraffic, 3.0)] {
        let r = facade(&s, outside).unwrap();
        let wanted = 35.0 + 10.0 * (12.0f64 / 12.8).log10() - minus;
        assert!((r.reduction.get(Band::HZ_500).unwrap().0 - wanted).abs() < 1e-9);
        assert!(r.standardized_2m.is_empty());
    }
    s.common_area = None;
    let without = facade(&s, Outside::OnFacadeLoudspeaker).unwrap();
    assert!(without.reduction.is_empty());
    assert!(without.field.remarks.iter().any(|r| r.code == "fieldtest::facade-area"));
}
