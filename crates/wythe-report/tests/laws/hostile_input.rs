//! Whatever comes in, a picture comes out: well formed, of a size, with every number a number.

use super::xml;
use wythe_bands::{Band, Level, LevelDifference, Metre, Seconds, Spectrum};
use wythe_report::chart::*;
use wythe_report::page::*;

const FORMATS: [Format; 3] = [Format::Screen, Format::Report, Format::Phone];

fn names() -> Vec<String> {
    vec![
        String::new(),
        "</text><script>alert(1)</script>".into(),
        "a\" onload=\"x' & ]]> <!--".into(),
        "\u{0}\u{1}\u{8}\u{FFFE}\n\t".into(),
        "غرفة الطبول، الطابق الأول".into(),
        "\u{202E}desrever".into(),
        "太鼓の稽古場".into(),
        "W".repeat(100_000),
        "word ".repeat(2_000),
    ]
}

fn numbers() -> Vec<f64> {
    vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300, 1e-300, -0.0, 0.0, 42.0]
}

fn sound(drawing: &Drawing) {
    for svg in [drawing.inline(), drawing.standalone()] {
        xml::check(&svg).unwrap_or_else(|e| panic!("{e}"));
        assert!(!svg.contains("=\"NaN") && !svg.contains("=\"inf") && !svg.contains("<script"));
    }
    let (width, height) = drawing.size();
    assert!((1.0..2000.0).contains(&width), "{width}");
    assert!((1.0..60_000.0).contains(&height), "{height}");
}

#[test]
fn charts_survive_any_name() {
    for name in names() {
        for format in FORMATS {
            let words = Words::new(name.clone(), name.clone(), name.clone());
            let quantity = Quantity::new(name.clone(), name.clone(), name.clone());
            let mut chart = BandChart::new(words.clone(), quantity);
            let flat = Spectrum::from_fn(|_| LevelDifference(40.0));
            for role in [Role::Measured, Role::Background, Role::Required, Role::Position] {
                chart.traces.push(Trace::differences(role, name.clone(), &flat));
            }
            chart.strip = Some(DominanceStrip {
                paths: vec![PathShare {
                    letter: '<',
                    name: name.clone(),
                    shares: Spectrum::from_fn(|_| 1.0),
                    total: Some(1.0),
                }],
            });
            sound(&chart.draw(format));
            let bars = ShareBars {
                words: words.clone(),
                shares: vec![Share {
                    letter: Some('&'),
                    name: name.clone(),
                    share: Some(0.5),
                    look_here: true,
                }],
            };
            sound(&bars.draw(format));
            let section = Section {
                words,
                layers: vec![SectionLayer::Board {
                    label: name.clone(),
                    thickness: Metre(0.01),
                    count: 2,
                    damped: true,
                }],
                side_a: name.clone(),
                side_b: name.clone(),
                total: clip_for_test(&name),
                isolation: Some(7),
                b_on_top: false,
            };
            sound(&section.draw(format));
        }
    }
}

/// Totals are figures with a unit; a long one is not worth a test.
fn clip_for_test(name: &str) -> String {
    name.chars().take(40).collect()
}

#[test]
fn charts_survive_any_number() {
    for v in numbers() {
        for format in FORMATS {
            let words = Words::new("n", "Numbers", "");
            let mut chart = BandChart::new(words.clone(), Quantity::default());
            chart.wrong = Some(WrongSide::Above);
            chart.guide = true;
            chart.span = Some((v, v + 10.0));
            chart.bands = (Band::LAST, Band::FIRST);
            let wild = Spectrum::from_fn(|_| LevelDifference(v));
            for role in [
                Role::Measured,
                Role::Predicted,
                Role::Required,
                Role::Background,
                Role::Position,
                Role::Position,
                Role::Path,
            ] {
                chart.traces.push(Trace::differences(role, "x", &wild).with_uncertainty(&wild));
            }
            chart.difference = Some(DifferencePanel {
                label: "d".into(),
                values: wild,
                uncertainty: wild,
                wrong: WrongSide::Below,
                against: "predicted".into(),
            });
            chart.strip = Some(DominanceStrip {
                paths: vec![PathShare {
                    letter: 'A',
                    name: "p".into(),
                    shares: Spectrum::from_fn(|_| v),
                    total: Some(v),
                }],
            });
            let drawing = chart.draw(format);
            sound(&drawing);
            if !v.is_finite() || v.abs() > 1e3 {
                assert!(!drawing.notes().is_empty(), "{v} is left out and said");
            }
            sound(&plan(v, &words).draw(format));
            sound(&section(v, &words).draw(format));
            sound(&costs(v, &words).draw(format));
            sound(&history(v, &words).draw(format));
            let bars = ShareBars {
                words: words.clone(),
                shares: vec![Share {
                    letter: None,
                    name: "p".into(),
                    share: Some(v),
                    look_here: true,
                }],
            };
            sound(&bars.draw(format));
        }
    }
}

fn plan(v: f64, words: &Words) -> Plan {
    let room = |outline| PlanRoom { name: "r".into(), outline, level: "1".into(), value: Some(v) };
    Plan {
        words: words.clone(),
        rooms: vec![
            room(vec![(0.0, 0.0), (v, 0.0), (v, v)]),
            room(vec![(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)]),
            room(vec![(1.0, 1.0); 5]),
            room(Vec::new()),
        ],
        arrows: vec![PlanArrow {
            letter: 'A',
            name: "a".into(),
            from: (0.0, 0.0),
            to: (v, 1.0),
            share: v,
        }],
        ..Plan::default()
    }
}

fn section(v: f64, words: &Words) -> Section {
    let cavity = |depth: f64, spacing: f64| SectionLayer::Cavity {
        label: "c".into(),
        depth: Metre(depth),
        fill_depth: Metre(v),
        studs: Studs::Staggered,
        material: StudMaterial::Steel,
        spacing: Metre(spacing),
        mount: Some((Mount::Clip, Side::A)),
    };
    Section {
        words: words.clone(),
        layers: vec![
            SectionLayer::Board {
                label: "b".into(),
                thickness: Metre(v),
                count: usize::MAX,
                damped: true,
            },
            cavity(v, 0.6),
            cavity(0.1, v),
        ],
        isolation: Some(usize::MAX),
        b_on_top: false,
        ..Section::default()
    }
}

fn costs(v: f64, words: &Words) -> CostSteps {
    let step =
        |cost, margin_db| CostStep { label: "s".into(), cost, margin_db, uncertainty_db: Some(v) };
    CostSteps {
        words: words.clone(),
        currency: "money".into(),
        steps: vec![step(v, 1.0), step(10.0, v), step(20.0, -1.0)],
        stop_at: Some(usize::MAX),
    }
}

fn history(v: f64, words: &Words) -> LevelTrace {
    let line = |start, step, values| TimeLine {
        role: Role::Measured,
        label: "l".into(),
        start: Seconds(start),
        step: Seconds(step),
        values,
    };
    LevelTrace {
        words: words.clone(),
        quantity: "L".into(),
        lines: vec![
            line(v, 1.0, vec![Some(Level(50.0)); 3]),
            line(0.0, v, vec![Some(Level(50.0)); 3]),
            line(0.0, 1.0, vec![Some(Level(v)), None, Some(Level(40.0))]),
        ],
        stretches: vec![
            Stretch {
                kind: StretchKind::Used,
                from: Seconds(v),
                to: Seconds(9.0),
                label: "".into(),
            },
            Stretch {
                kind: StretchKind::Excluded,
                from: Seconds(0.0),
                to: Seconds(v),
                label: "".into(),
            },
        ],
    }
}

#[test]
fn nothing_at_all_still_says_so() {
    for format in FORMATS {
        let words = Words::default();
        let empty = BandChart::new(words.clone(), Quantity::default()).draw(format);
        assert!(empty.notes().iter().any(|n| n.contains("nothing to draw")));
        sound(&empty);
        sound(&Plan::default().draw(format));
        sound(&Section::default().draw(format));
        sound(&CostSteps::default().draw(format));
        sound(&LevelTrace::default().draw(format));
        sound(&ShareBars::default().draw(format));
        sound(&DominanceStrip::default().draw(&words, (Band::LAST, Band::FIRST), format));
    }
    xml::check(&RoomTable::default().html()).expect("an empty table");
}

#[test]
fn three_hundred_rooms_and_a_day_of_seconds() {
    let many: Vec<String> = (0..300).map(|i| format!("Room {i}")).collect();
    let cell =
        |v: f64| Some(RoomCell { text: number(v, 1), value: Some(v), ..RoomCell::default() });
    let table = RoomTable {
        caption: "many".into(),
        sources: many.clone(),
        receivers: many.clone(),
        cells: (0..300).map(|i| (0..310).map(|j| cell(f64::from(i * j % 60))).collect()).collect(),
    };
    xml::check(&table.html()).expect("a large table");
    let rooms = (0..300)
        .map(|i| {
            let (x, y) = (f64::from(i % 20) * 3.0, f64::from(i / 20) * 3.0);
            PlanRoom {
                name: format!("Room {i}"),
                outline: vec![(x, y), (x + 3.0, y), (x + 3.0, y + 3.0), (x, y + 3.0)],
                level: "40 dB".into(),
                value: Some(f64::from(i)),
            }
        })
        .collect();
    let plan = Plan {
        words: Words::new("p", "Many rooms", ""),
        rooms,
        arrows: Vec::new(),
        ..Plan::default()
    };
    sound(&plan.draw(Format::Phone));
    let line = TimeLine {
        role: Role::Measured,
        label: "day".into(),
        start: Seconds(0.0),
        step: Seconds(0.125),
        values: (0..691_200).map(|i| Some(Level(40.0 + f64::from(i % 97) / 10.0))).collect(),
    };
    let day = LevelTrace {
        words: Words::new("d", "A day", ""),
        quantity: "L".into(),
        lines: vec![line],
        stretches: Vec::new(),
    };
    let drawing = day.draw(Format::Report);
    sound(&drawing);
    assert!(drawing.inline().len() < 60_000, "a day is no longer than its pixels");
}

#[test]
fn no_peak_is_lost_when_values_share_a_pixel() {
    let mut values = vec![Some(Level(40.0)); 100_000];
    values[54_321] = Some(Level(89.0));
    let line = TimeLine {
        role: Role::Measured,
        label: "x".into(),
        start: Seconds(0.0),
        step: Seconds(0.1),
        values,
    };
    let trace = LevelTrace {
        words: Words::new("peak", "Peak", ""),
        quantity: "L".into(),
        lines: vec![line],
        stretches: Vec::new(),
    };
    let svg = trace.draw(Format::Screen).inline();
    let d = svg.split("class=\"l-measured\" d=\"M").nth(1).expect("the line");
    let heights: Vec<f64> = d
        .split('"')
        .next()
        .unwrap_or("")
        .split('L')
        .filter_map(|p| p.split_once(' ').and_then(|(_, y)| y.parse().ok()))
        .collect();
    let (low, high) =
        heights.iter().fold((f64::INFINITY, 0.0f64), |(l, h), y| (l.min(*y), h.max(*y)));
    // 49 dB at 40 px per 10 dB.
    assert!((high - low - 196.0).abs() < 0.1, "{}", high - low);
}

#[test]
fn a_page_survives_any_name() {
    for name in names() {
        let t = || {
            Text::from(name.clone()).strong(name.clone()).code(name.clone()).link(&*name, &*name)
        };
        let document = Document {
            title: name.clone(),
            language: name.clone(),
            words: wythe_report::Language::English,
            project: name.clone(),
            date: name.clone(),
            version: name.clone(),
            methods: vec![name.clone()],
            contents: true,
            one_sheet: true,
            paper: Paper::Letter,
            blocks: vec![
                Block::Heading { level: 2, text: t() },
                Block::Heading { level: 9, text: t() },
                Block::Paragraph(t()),
                Block::Caution(t()),
                Block::List(ListKind::Checks, vec![t()]),
                Block::Details(name.clone(), vec![Block::Notice(t())]),
                Block::Table(Table {
                    id: name.clone(),
                    caption: t(),
                    columns: vec![Column::words(t()), Column::figures(t())],
                    rows: vec![vec![], vec![t()], vec![t(), t(), t()]],
                    ..Table::default()
                }),
            ],
        };
        let html = document.html();
        assert!(!html.contains("<script") && !html.contains("onload=\"x"), "{name:.40}");
        // One style sheet opens and closes; nothing from a name ends it.
        assert_eq!(html.matches("</style>").count(), 1);
        assert!(!html.contains('\u{0}') && !html.contains('\u{8}'));
    }
}
