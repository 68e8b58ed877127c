//! A band without a value is a gap.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_report::chart::*;

const ROLES: [Role; 4] = [Role::Measured, Role::Predicted, Role::Position, Role::Path];

fn chart(trace: Trace) -> String {
    let words = Words::new("gap", "A gap stays a gap", "Invented values.");
    let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
    chart.traces.push(trace);
    chart.draw(Format::Screen).inline()
}

/// The path data of the one trace with this role.
fn path_of(svg: &str, role: Role) -> String {
    let group = svg.split_once(&format!("<g data-role=\"{}\">", role.word())).expect("the trace").1;
    let group = group.split_once("</g>").expect("its end").0;
    match group.split_once(" d=\"") {
        Some((_, d)) => d.split('"').next().unwrap_or("").to_owned(),
        None => String::new(),
    }
}

/// Start and end of every straight piece.
fn pieces(d: &str) -> Vec<((f64, f64), (f64, f64))> {
    let point = |t: &str| {
        let (x, y) = t.split_once(' ').expect("two numbers");
        (x.parse::<f64>().expect("x"), y.parse::<f64>().expect("y"))
    };
    d.split('M')
        .filter(|s| !s.is_empty())
        .flat_map(|s| {
            let points: Vec<_> = s.split('L').map(point).collect();
            points.windows(2).map(|w| (w[0], w[1])).collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn a_missing_band_breaks_the_line() {
    let mut values = Spectrum::from_fn(|b| LevelDifference(20.0 + b.index() as f64));
    values.clear(Band::HZ_500);
    for role in ROLES {
        let d = path_of(&chart(Trace::differences(role, "x", &values)), role);
        assert_eq!(d.matches('M').count(), 2, "{role:?}: {d}");
    }
}

#[test]
fn no_line_ever_spans_more_than_one_band_whatever_is_missing() {
    // A small generator of masks; any masks would do.
    let mut state: u32 = 7;
    for _ in 0..300 {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let mask = state >> 4;
        let values: Spectrum<LevelDifference> = Band::results()
            .filter(|b| mask >> (b.index() - Band::HZ_50.index()) & 1 == 1)
            .map(|b| (b, LevelDifference(30.0 + (b.index() * 7 % 11) as f64)))
            .collect();
        if values.is_empty() {
            continue;
        }
        let neighbours = values
            .iter()
            .filter(|(b, _)| Band::at(b.index() + 1).is_some_and(|n| values.get(n).is_some()))
            .count();
        for role in ROLES {
            let d = path_of(&chart(Trace::differences(role, "x", &values)), role);
            let all = pieces(&d);
            assert_eq!(all.len(), neighbours, "{role:?} {mask:b}: {d}");
            for (a, b) in all {
                // One band is 24 px on a screen.
                assert!((b.0 - a.0 - 24.0).abs() < 0.011, "{role:?} {mask:b}: {a:?} to {b:?}");
            }
        }
    }
}

#[test]
fn steps_and_noise_leave_the_gap_open_too() {
    let mut values = Spectrum::from_fn(|_| LevelDifference(40.0));
    values.clear(Band::HZ_500);
    let d = path_of(&chart(Trace::differences(Role::Required, "x", &values)), Role::Required);
    assert_eq!(d.matches('M').count(), 2, "{d}");
    let svg = chart(Trace::differences(Role::Background, "x", &values));
    assert_eq!(svg.matches("data-role=\"background\"").count(), 2);
}

#[test]
fn a_lone_value_is_still_seen() {
    let lone: Spectrum<LevelDifference> =
        [(Band::HZ_500, LevelDifference(40.0))].into_iter().collect();
    for role in ROLES {
        let svg = chart(Trace::differences(role, "x", &lone));
        assert!(svg.contains("<circle"), "{role:?}");
    }
}

#[test]
fn a_gap_in_time_is_a_gap() {
    use wythe_bands::{Level, Seconds};
    let line = TimeLine {
        role: Role::Measured,
        label: "x".into(),
        start: Seconds(0.0),
        step: Seconds(1.0),
        values: (0..60).map(|i| (!(20..30).contains(&i)).then_some(Level(50.0))).collect(),
    };
    let trace = LevelTrace {
        words: Words::new("t", "Time", ""),
        quantity: "Level, dB".into(),
        lines: vec![line],
        stretches: Vec::new(),
    };
    let svg = trace.draw(Format::Screen).inline();
    let d = svg.split("class=\"l-measured\" d=\"").nth(1).expect("the line");
    assert_eq!(d.split('"').next().unwrap_or("").matches('M').count(), 2);
}
