//! Small pictures as text: shapes, not physics. All values are invented.

use wythe_bands::{Band, Level, LevelDifference, Metre, Seconds, Spectrum};
use wythe_report::chart::*;

fn few() -> (Band, Band) {
    (Band::HZ_63, Band::at(10).unwrap_or(Band::HZ_125))
}

fn line(values: &[(usize, f64)]) -> Spectrum<LevelDifference> {
    values.iter().filter_map(|(i, v)| Some((Band::at(*i)?, LevelDifference(*v)))).collect()
}

#[test]
fn spectrum_with_gap_bound_and_shortfall() {
    let words = Words::new("s", "Short at 80 Hz", "Invented values.");
    let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", "nT"));
    chart.bands = few();
    chart.wrong = Some(WrongSide::Below);
    let required = line(&[(5, 30.0), (6, 33.0), (7, 36.0), (8, 38.0), (9, 40.0), (10, 42.0)]);
    let measured = line(&[(5, 32.0), (6, 29.0), (8, 41.0), (9, 44.0), (10, 41.0)]);
    chart.traces = vec![
        Trace::differences(Role::Required, "required", &required),
        Trace::differences(Role::Measured, "measured", &measured)
            .with_bounds(|b| if b.index() == 10 { Bound::AtLeast } else { Bound::Value }),
    ];
    insta::assert_snapshot!(chart.draw(Format::Screen).inline());
}

#[test]
fn prediction_with_uncertainty_and_background() {
    let words = Words::new("p", "As predicted", "Invented values.");
    let mut chart = BandChart::new(words, Quantity::new("Sound pressure level", "L", ""));
    chart.bands = few();
    let predicted = line(&[(5, 40.0), (6, 38.0), (7, 35.0), (8, 33.0), (9, 30.0), (10, 28.0)]);
    let spread = Spectrum::from_fn(|_| LevelDifference(2.0));
    chart.traces = vec![
        Trace::differences(Role::Predicted, "predicted", &predicted)
            .with_uncertainty(&spread)
            .outside(|b| b == Band::HZ_63),
        Trace::differences(Role::Background, "background", &predicted.map(|_, d| d * 0.6)),
    ];
    insta::assert_snapshot!(chart.draw(Format::Report).inline());
}

#[test]
fn lines_of_one_role_have_marks_of_their_own_beside_their_names_too() {
    let values = line(&[(5, 40.0), (6, 38.0), (7, 35.0), (8, 33.0)]);
    let drawn = |count: usize| {
        let words = Words::new("m", "Side by side", "Invented values.");
        let mut chart = BandChart::new(words, Quantity::new("Reduction index", "R", ""));
        chart.bands = few();
        chart.traces = (0..count)
            .map(|i| Trace::differences(Role::Predicted, format!("wall {i}"), &values))
            .collect();
        chart.draw(Format::Screen).inline()
    };
    let marks = |svg: &str, form: &str| {
        svg.lines().filter(|l| l.starts_with(form) && l.contains(r#""l-predicted open""#)).count()
    };
    // One line needs no mark beside its name; of two, each has one more than its four bands.
    assert_eq!((marks(&drawn(1), "<circle"), marks(&drawn(1), "<path")), (4, 0));
    assert_eq!((marks(&drawn(2), "<circle"), marks(&drawn(2), "<path")), (5, 5));
}

#[test]
fn difference_and_strip_on_a_telephone() {
    let words = Words::new("d", "Less than predicted", "Invented values.");
    let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
    chart.bands = few();
    let measured = line(&[(5, 30.0), (6, 31.0), (7, 33.0), (8, 36.0)]);
    chart.traces = vec![Trace::differences(Role::Measured, "measured", &measured)];
    chart.difference = Some(DifferencePanel {
        label: "Measured minus predicted".into(),
        values: line(&[(5, -4.0), (6, 2.0), (7, -1.0)]),
        uncertainty: Spectrum::from_fn(|_| LevelDifference(3.0)),
        wrong: WrongSide::Below,
        against: "predicted".into(),
    });
    chart.strip = Some(DominanceStrip {
        paths: [('A', "wall", 0.3), ('B', "door", 0.7)]
            .into_iter()
            .map(|(letter, name, share)| PathShare {
                letter,
                name: name.into(),
                shares: Spectrum::from_fn(|_| share),
                total: Some(share),
            })
            .collect(),
    });
    insta::assert_snapshot!(chart.draw(Format::Phone).inline());
}

#[test]
fn plan_of_two_rooms() {
    let room = |name: &str, x: f64, level: f64| PlanRoom {
        name: name.into(),
        outline: vec![(x, 0.0), (x + 4.0, 0.0), (x + 4.0, 3.0), (x, 3.0)],
        level: decibels(level),
        value: Some(level),
    };
    let plan = Plan {
        words: Words::new("plan", "Through the wall", "Invented values."),
        rooms: vec![room("Hall", 0.0, 100.0), room("Office", 4.0, 50.0)],
        arrows: vec![PlanArrow {
            letter: 'A',
            name: "wall".into(),
            from: (3.0, 0.6),
            to: (5.0, 0.6),
            share: 0.8,
        }],
        ..Plan::default()
    };
    insta::assert_snapshot!(plan.draw(Format::Phone).inline());
}

#[test]
fn section_with_a_clip() {
    let board = |label: &str, count| SectionLayer::Board {
        label: label.into(),
        thickness: Metre(0.0125),
        count,
        damped: count > 1,
    };
    let section = Section {
        words: Words::new("section", "Clips on one side", "Invented build-up."),
        layers: vec![
            board("board", 1),
            SectionLayer::Cavity {
                label: "cavity 100 mm".into(),
                depth: Metre(0.1),
                fill_depth: Metre(0.05),
                studs: Studs::Common,
                material: StudMaterial::Timber,
                spacing: Metre(0.6),
                mount: Some((Mount::Clip, Side::B)),
            },
            board("two boards", 2),
        ],
        side_a: "hall".into(),
        side_b: "office".into(),
        total: "138 mm".into(),
        isolation: Some(1),
        b_on_top: false,
    };
    insta::assert_snapshot!(section.draw(Format::Screen).inline());
}

#[test]
fn steps_of_cost() {
    let step = |label: &str, cost, margin_db| CostStep {
        label: label.into(),
        cost,
        margin_db,
        uncertainty_db: None,
    };
    let steps = CostSteps {
        words: Words::new("cost", "400 is enough", "Invented prices."),
        currency: "money".into(),
        steps: vec![step("as it is", 0.0, -4.0), step("seal", 400.0, 1.0)],
        stop_at: Some(1),
    };
    insta::assert_snapshot!(steps.draw(Format::Screen).inline());
}

#[test]
fn level_over_a_minute() {
    let trace = LevelTrace {
        words: Words::new("time", "A minute", "Invented values."),
        quantity: "A-weighted level, dB".into(),
        lines: vec![TimeLine {
            role: Role::Measured,
            label: "hall".into(),
            start: Seconds(0.0),
            step: Seconds(10.0),
            values: [50.0, 60.0, 80.0].map(|v| Some(Level(v))).into_iter().chain([None]).collect(),
        }],
        stretches: vec![Stretch {
            kind: StretchKind::Excluded,
            from: Seconds(10.0),
            to: Seconds(20.0),
            label: "talking".into(),
        }],
    };
    insta::assert_snapshot!(trace.draw(Format::Screen).inline());
}

#[test]
fn rooms_as_a_table() {
    let cell =
        |v: f64| Some(RoomCell { text: number(v, 0), value: Some(v), ..RoomCell::default() });
    let table = RoomTable {
        caption: "Level difference, dB".into(),
        sources: vec!["Hall".into(), "Lobby".into()],
        receivers: vec!["Hall".into(), "Lobby".into(), "Bedroom <north>".into()],
        cells: vec![vec![None, cell(30.0), cell(55.0)], vec![cell(30.0), None]],
    };
    insta::assert_snapshot!(table.html());
}
