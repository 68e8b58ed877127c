//! Writes one page with every kind of picture and block: `gallery OUT.html`.
//!
//! Every figure in it is invented, and the page says so.

use std::f64::consts::TAU;
use wythe_bands::{Band, Level, LevelDifference, Metre, Seconds, Spectrum};
use wythe_report::chart::*;
use wythe_report::page::*;

fn main() -> std::io::Result<()> {
    let Some(out) = std::env::args_os().nth(1) else {
        eprintln!("say where to write the page: gallery OUT.html");
        std::process::exit(2);
    };
    std::fs::write(out, document().html())
}

/// A smooth invented curve over the band number, with some ripple.
fn curve(start: f64, slope: f64, ripple: f64) -> Spectrum<LevelDifference> {
    Spectrum::from_fn(|b| {
        let i = b.index() as f64;
        LevelDifference(start + slope * i + ripple * (1.3 * i).sin())
    })
}

fn levels(start: f64, slope: f64, ripple: f64) -> Spectrum<Level> {
    curve(start, slope, ripple).map(|_, d| Level(d.0))
}

fn strip() -> DominanceStrip {
    let hump = |centre: f64, b: Band| (-(b.index() as f64 - centre).powi(2) / 30.0).exp();
    let paths = [
        ('A', "Ceiling of the drum hall", 4.0, 0.21),
        ('B', "Wall to the lobby", 13.0, 0.17),
        ('C', "Lobby door sill", 22.0, 0.62),
    ];
    DominanceStrip {
        paths: paths
            .into_iter()
            .map(|(letter, name, centre, total)| PathShare {
                letter,
                name: name.into(),
                shares: Spectrum::from_fn(|b| {
                    hump(centre, b) / paths.iter().map(|p| hump(p.2, b)).sum::<f64>()
                }),
                total: Some(total),
            })
            .collect(),
    }
}

fn insulation() -> BandChart {
    let mut measured = curve(18.0, 1.7, 3.0);
    measured.clear(Band::HZ_500);
    let predicted = curve(21.0, 1.65, 2.0);
    let uncertainty =
        Spectrum::from_fn(|b| LevelDifference(if b < Band::HZ_100 { 5.0 } else { 2.5 }));
    let mut chart = BandChart::new(
        Words::new(
            "insulation",
            "The door carries most of it above 1 kHz",
            "Standardized level difference from drum hall to bedroom, invented values. Measured \
             with the door shut, two source and five receiving positions; predicted by the power \
             balance of the building. More is better. Triangles are lower bounds, because the \
             background was too near.",
        ),
        Quantity::new("Standardized level difference", "D", "nT"),
    );
    chart.wrong = Some(WrongSide::Below);
    let required = curve(24.0, 1.4, 0.0).within(Band::HZ_100, Band::HZ_3150);
    chart.traces = vec![
        Trace::differences(Role::Required, "required", &required),
        Trace::differences(Role::Predicted, "predicted", &predicted)
            .with_uncertainty(&uncertainty)
            .outside(|b| b < Band::HZ_80),
        Trace::differences(Role::Measured, "measured, door shut", &measured)
            .with_bounds(|b| if b >= Band::HZ_4000 { Bound::AtLeast } else { Bound::Value }),
    ];
    chart.difference = Some(DifferencePanel {
        label: "Measured minus predicted".into(),
        values: measured.zip_with(&predicted, |m, p| m - p),
        uncertainty,
        wrong: WrongSide::Below,
        against: "predicted".into(),
    });
    chart.strip = Some(strip());
    chart
}

fn received() -> BandChart {
    let mut chart = BandChart::new(
        Words::new(
            "received",
            "The bedroom is too loud below 125 Hz",
            "Level in the bedroom while the drum hall plays, five positions and their energy \
             mean, invented values. Less is better.",
        ),
        Quantity::new("Sound pressure level", "L", ""),
    );
    chart.wrong = Some(WrongSide::Above);
    chart.sum_deviations = false;
    for k in 0..5 {
        let k = f64::from(k);
        let values = levels(52.0 + 1.5 * k, -1.15, 2.0 + 0.8 * k);
        chart.traces.push(Trace::levels(Role::Position, format!("bed-{}", k + 1.0), &values));
    }
    chart.traces.push(Trace::levels(Role::Background, "background", &levels(33.0, -0.8, 1.0)));
    chart.traces.push(Trace::levels(Role::Required, "NR 20", &levels(46.0, -1.2, 0.0)));
    chart.traces.push(Trace::levels(Role::Measured, "mean of 5", &levels(55.0, -1.15, 3.0)));
    chart
}

fn paths() -> BandChart {
    let mut chart = BandChart::new(
        Words::new(
            "paths",
            "Sealing the sill would leave the wall in charge",
            "Predicted level in the bedroom by path, invented values.",
        ),
        Quantity::new("Sound pressure level", "L", ""),
    );
    chart.guide = true;
    chart.traces = vec![
        Trace::levels(Role::Path, "ceiling", &levels(56.0, -1.8, 1.0)).lettered('A'),
        Trace::levels(Role::Path, "wall to the lobby", &levels(50.0, -1.2, 2.0)).lettered('B'),
        Trace::levels(Role::Path, "lobby door sill", &levels(35.0, -0.3, 2.0))
            .lettered('C')
            .looked_at(),
        Trace::levels(Role::Predicted, "all paths", &levels(58.0, -1.1, 1.0)),
    ];
    chart
}

fn rooms() -> RoomTable {
    let names = ["Drum hall", "Lobby", "Mixing room", "Teaching room", "Bedroom"];
    let cells = (0..3)
        .map(|i: usize| {
            (0..5)
                .map(|j: usize| {
                    let value = 38.0 + 6.5 * i.abs_diff(j) as f64;
                    (i != j).then(|| RoomCell {
                        text: number(value, 0),
                        value: Some(value),
                        figure: Some("insulation".into()),
                        ..RoomCell::default()
                    })
                })
                .collect()
        })
        .collect();
    RoomTable {
        caption:
            "Weighted standardized level difference in dB, invented values. Darker insulates more."
                .into(),
        sources: names[..3].iter().map(|s| (*s).to_owned()).collect(),
        receivers: names.iter().map(|s| (*s).to_owned()).collect(),
        cells,
    }
}

fn plan() -> Plan {
    let room = |name: &str, x0: f64, y0: f64, x1: f64, y1: f64, level: f64| PlanRoom {
        name: name.into(),
        outline: vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)],
        level: decibels(level).replace(".0", ""),
        value: Some(level),
    };
    Plan {
        words: Words::new(
            "plan",
            "Most of the sound leaves through the lobby",
            "Ground floor, A-weighted level in each room while the drum hall plays, invented \
             values. Darker is louder; the width of an arrow is its share of what reaches the \
             teaching room.",
        ),
        rooms: vec![
            room("Drum hall", 0.0, 0.0, 7.2, 5.4, 101.0),
            room("Lobby", 7.2, 0.0, 9.0, 2.4, 72.0),
            room("Mixing room", 9.0, 0.0, 13.0, 5.4, 41.0),
            room("Stair", 7.2, 2.4, 9.0, 5.4, 60.0),
            PlanRoom {
                name: "Teaching room".into(),
                outline: vec![
                    (0.0, 5.4),
                    (9.0, 5.4),
                    (9.0, 8.4),
                    (5.0, 8.4),
                    (5.0, 9.6),
                    (0.0, 9.6),
                ],
                level: decibels(48.0).replace(".0", ""),
                value: Some(48.0),
            },
            room("Meter cupboard", 9.0, 5.4, 10.0, 6.4, 35.0),
        ],
        arrows: vec![
            PlanArrow {
                letter: 'A',
                name: "Ceiling, into the flat above".into(),
                from: (1.2, 4.2),
                to: (1.2, 4.2),
                share: 0.21,
            },
            PlanArrow {
                letter: 'B',
                name: "Wall to the teaching room".into(),
                from: (5.6, 4.4),
                to: (5.6, 6.8),
                share: 0.17,
            },
            PlanArrow {
                letter: 'C',
                name: "Lobby door sill".into(),
                from: (5.9, 1.2),
                to: (8.7, 1.2),
                share: 0.62,
            },
        ],
        ..Plan::default()
    }
}

fn section() -> Section {
    Section {
        words: Words::new(
            "split-frame",
            "Two frames that never touch",
            "Horizontal section of the wall between drum hall and lobby, drawn to scale; invented \
             build-up. Solid: boards. Hatched: mineral wool. Crossed: timber, cut.",
        ),
        layers: vec![
            SectionLayer::Board {
                label: "2 × gypsum board 15.9 mm, screwed".into(),
                thickness: Metre(0.0159),
                count: 2,
                damped: false,
            },
            SectionLayer::Cavity {
                label: "cavity 240 mm, mineral wool 180 mm, separate timber studs each 600 mm"
                    .into(),
                depth: Metre(0.24),
                fill_depth: Metre(0.18),
                studs: Studs::Separate,
                material: StudMaterial::Timber,
                spacing: Metre(0.6),
                mount: None,
            },
            SectionLayer::Board {
                label: "2 × gypsum board 15.9 mm with a damping layer".into(),
                thickness: Metre(0.0159),
                count: 2,
                damped: true,
            },
        ],
        side_a: "drum hall".into(),
        side_b: "lobby".into(),
        total: format!("304{THIN}mm"),
        isolation: Some(1),
        b_on_top: false,
    }
}

fn ceiling() -> Section {
    Section {
        words: Words::new(
            "channel-wall",
            "A resilient channel on one side",
            "Horizontal section, drawn to scale; invented build-up.",
        ),
        layers: vec![
            SectionLayer::Board {
                label: "gypsum board 12.5 mm".into(),
                thickness: Metre(0.0125),
                count: 1,
                damped: false,
            },
            SectionLayer::Cavity {
                label:
                    "cavity 90 mm, mineral wool 60 mm, light steel studs each 400 mm, resilient \
                        channel on side b"
                        .into(),
                depth: Metre(0.09),
                fill_depth: Metre(0.06),
                studs: Studs::Common,
                material: StudMaterial::Steel,
                spacing: Metre(0.4),
                mount: Some((Mount::Channel, Side::B)),
            },
            SectionLayer::Board {
                label: "2 × gypsum board 12.5 mm".into(),
                thickness: Metre(0.0125),
                count: 2,
                damped: false,
            },
        ],
        side_a: "teaching room".into(),
        side_b: "stair".into(),
        total: format!("128{THIN}mm"),
        isolation: None,
        b_on_top: false,
    }
}

fn shares() -> ShareBars {
    let share = |letter, name: &str, share, look_here| Share {
        letter: Some(letter),
        name: name.into(),
        share,
        look_here,
    };
    ShareBars {
        words: Words::new(
            "shares",
            "The door sill lets in more than everything else together",
            "Share of the A-weighted energy in the bedroom by path, invented values.",
        ),
        shares: vec![
            share('A', "Ceiling of the drum hall", Some(0.21), false),
            share('B', "Wall to the lobby", Some(0.168), false),
            share('C', "Lobby door sill", Some(0.62), true),
            share('D', "Ventilation duct", Some(0.002), false),
            share('E', "Floor, structure-borne", None, false),
        ],
    }
}

fn costs() -> CostSteps {
    let step = |label: &str, cost, margin_db| CostStep {
        label: label.into(),
        cost,
        margin_db,
        uncertainty_db: Some(2.0),
    };
    CostSteps {
        words: Words::new(
            "costs",
            "1840 buys the target; more buys little",
            "Worst margin over all targets of the best plan for each sum, invented prices and \
             values. Bars are the standard deviation of the margin.",
        ),
        currency: "units of money".into(),
        steps: vec![
            step("as it is", 0.0, -8.2),
            step("drop seal on the lobby door", 120.0, -3.1),
            step("and a second door in the lobby", 940.0, -0.8),
            step("and a hung ceiling in the drum hall", 1840.0, 1.9),
            step("and a second lining on the lobby wall", 3900.0, 2.6),
        ],
        stop_at: Some(3),
    }
}

fn history() -> LevelTrace {
    let line = |role, label: &str, base: f64, depth: f64| TimeLine {
        role,
        label: label.into(),
        start: Seconds(0.0),
        step: Seconds(0.125),
        values: (0..3200)
            .map(|i| {
                let t = f64::from(i) * 0.125;
                let playing = (60.0..230.0).contains(&t) || (262.0..380.0).contains(&t);
                let beat = 6.0 * (TAU * t / 2.1).sin() + 3.0 * (TAU * t / 0.53).sin();
                let on = if playing { depth + beat * depth / 40.0 } else { 0.0 };
                // The recorder was stopped for a moment.
                (!(240.0..255.0).contains(&t))
                    .then_some(Level(base + on + 1.5 * (TAU * t / 11.0).sin()))
            })
            .collect(),
    };
    let stretch = |kind, from: f64, to: f64, label: &str| Stretch {
        kind,
        from: Seconds(from),
        to: Seconds(to),
        label: label.into(),
    };
    LevelTrace {
        words: Words::new(
            "history",
            "Talking spoils fourteen seconds of the bedroom",
            "Levels over the whole recording, invented values. The gap is where the recorder stood still.",
        ),
        quantity: "A-weighted level, time weighting F, dB".into(),
        lines: vec![
            line(Role::Measured, "drum hall", 48.0, 52.0),
            line(Role::Position, "bedroom", 24.0, 10.0),
        ],
        stretches: vec![
            stretch(StretchKind::Calibration, 2.0, 22.0, "tone on channel 1"),
            stretch(StretchKind::Background, 25.0, 58.0, ""),
            stretch(StretchKind::Used, 60.0, 150.0, ""),
            stretch(StretchKind::Excluded, 150.0, 164.0, "talking in the bedroom"),
            stretch(StretchKind::Used, 164.0, 230.0, ""),
            stretch(StretchKind::Used, 262.0, 380.0, ""),
        ],
    }
}

/// The whole page as data.
pub fn document() -> Document {
    let heading = |level, text: &str| Block::Heading { level, text: text.into() };
    let figure = |draw: &dyn Fn(Format) -> Drawing| Figure::new(draw).invented();
    let (insulation, received, paths) = (insulation(), received(), paths());
    let (shares, costs) = (shares(), costs());
    Document {
        title: "Every picture the report knows".into(),
        language: "en".into(),
        words: wythe_report::Language::English,
        project: "The Ropewalk".into(),
        date: "invented, undated".into(),
        version: env!("CARGO_PKG_VERSION").into(),
        methods: vec!["power balance of coupled rooms".into(), "ISO 717-1:2020".into()],
        paper: Paper::Any,
        contents: true,
        one_sheet: false,
        blocks: vec![
            Block::Answer(Answer {
                verdict: Verdict::Short,
                sentence: Text::from(
                    "The bedroom is short by 4.2 dB at night; the lobby door sill ",
                )
                .then("is why."),
                more: "Seal the sill first: it costs 120 and brings 5 dB.".into(),
            }),
            Block::Paragraph(Text::from("Everything on this page is ").invented().then(
                " and stands here only to be looked at. No room, wall or price in it exists.",
            )),
            Block::Facts(vec![
                Fact {
                    label: Text::from("D").index("nT,w").then(" (C; C").index("tr").then(")"),
                    value: format!("52 (\u{2212}2; \u{2212}8){THIN}dB").into(),
                    note: "measured, ± 1.8 dB, positions taken as independent".into(),
                },
                Fact {
                    label: "worst margin".into(),
                    value: format!("{}{THIN}dB", number(-4.2, 1)).into(),
                    note: "63 Hz decides".into(),
                },
                Fact {
                    label: "cheapest plan that meets".into(),
                    value: "1840".into(),
                    note: "with a probability of 0.90".into(),
                },
            ]),
            heading(2, "The door carries most of it above 1 kHz"),
            figure(&|f| insulation.draw(f)).with_table(insulation.table()).into(),
            figure(&|f| shares.draw(f)).with_table(shares.table()).into(),
            heading(2, "Below 125 Hz nothing but mass and distance helps"),
            figure(&|f| received.draw(f)).with_table(received.table()).into(),
            figure(&|f| paths.draw(f)).into(),
            figure(&|f| {
                let words = Words::new(
                    "strip",
                    "Three paths share the bands between them",
                    "Share of the energy in the bedroom by path and band, invented values.",
                );
                strip().draw(&words, (Band::FIRST, Band::LAST), f)
            })
            .into(),
            heading(2, "Where the sound goes"),
            Block::Rooms(rooms()),
            figure(&|f| plan().draw(f)).into(),
            heading(2, "How it is built"),
            figure(&|f| section().draw(f)).into(),
            figure(&|f| ceiling().draw(f)).into(),
            Block::Caution(STANDING_NOTICE.into()),
            heading(2, "What the next money buys"),
            figure(&|f| costs.draw(f)).with_table(costs.table()).into(),
            Block::Table(Table {
                id: "buying".into(),
                caption: "Buying list with 10 % waste. Prices are invented.".into(),
                columns: vec![
                    Column::words("Item"),
                    Column::figures("Quantity"),
                    Column::words("Unit"),
                    Column::figures("Cost"),
                ],
                rows: vec![
                    vec![
                        "Gypsum board 15.9 mm".into(),
                        "14".into(),
                        "sheets".into(),
                        "210.00".into(),
                    ],
                    vec!["Mineral wool 90 mm".into(), "22.5".into(), "m²".into(), "97.40".into()],
                    vec!["Drop seal 0.9 m".into(), "1".into(), "piece".into(), "120.00".into()],
                ],
                total: Some(vec!["Sum".into(), "".into(), "".into(), "427.40".into()]),
                invented: true,
            }),
            heading(3, "Hold points"),
            Block::List(
                ListKind::Checks,
                vec![
                    "Frames free of each other all round, no offcut in the gap".into(),
                    "First board sealed before the second hides it".into(),
                    "Door light-tight at head, jambs and sill".into(),
                ],
            ),
            heading(2, "What was recorded"),
            figure(&|f| history().draw(f)).into(),
            Block::Notice(
                Text::from("Raw files are kept unaltered in ").code("recordings/").then("."),
            ),
            Block::Details(
                "How each figure was computed".into(),
                vec![Block::List(
                    ListKind::Numbered,
                    vec![
                        Text::from("Energy means over positions, see ")
                            .link("received", "the levels"),
                        "Background corrected by rule, bands too near kept as bounds".into(),
                    ],
                )],
            ),
        ],
    }
}
