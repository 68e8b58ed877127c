//! The document for the file: every figure, how it came about, and how to compute it again.

use wythe_bands::{Band, Level, LevelDifference, Spectrum, SquareMetre};
use wythe_building::{Absorption, BoundaryKind};
use wythe_findings::{Measured, MeasuredPosition, curve};
use wythe_partition::{BuildUp, Conditions, Construction, Layer, OpeningState, Seal, SealKind};
use wythe_rating::{Method, Options, rate};

use super::judged::{Judged, judged};
use super::owner::{CAUTIONS, document, heading, part};
use super::recorded_bands::BandTable;
use super::results::Results;
use super::words::{area, capital, chance, frequency, surface_mass, thickness, volume};
use super::{
    answer, build_ups, care, changes, compared, field_test, grounds, house, recorded_bands, rooms,
};
use crate::chart::{THIN, number};
use crate::page::{Block, Column, Document, ListKind, Table, Text};

/// Columns of figures that fit beside the band on a sheet.
const MOST_COLUMNS: usize = 8;
/// Charts in one document; a project of hundreds of rooms has tables only beyond this.
const MOST_CHARTS: usize = 40;

/// A level with its standard deviation.
type WithDeviation = (Level, Option<LevelDifference>);

/// The document for the file.
pub fn file(r: &Results<'_>) -> Document {
    let about = r.about.in_english();
    let r = &Results { about: &about, ..*r };
    let judged = judged(r);
    let mut blocks = vec![Block::Answer(answer::answer(r, &judged))];
    blocks.push(Block::Caution(crate::page::STANDING_NOTICE.into()));
    blocks.extend(grounds::gaps(r));
    let mut results = Vec::new();
    results.extend(verdicts(r, &judged));
    results.extend(house::levels_table(r, &judged));
    part(&mut blocks, "Results against the requirements", results);
    let mut described = Vec::new();
    described.extend(rooms_table(r));
    described.extend(boundaries_table(r));
    described.extend(openings_table(r));
    described.extend(build_up_tables(r));
    described.extend(sources_table(r));
    part(&mut blocks, "What was described", described);
    part(&mut blocks, "What is assumed and what is not known", grounds::known(r));
    part(&mut blocks, "What is invented", grounds::invented(r).into_iter().collect());
    part(&mut blocks, "Predicted levels", predicted_tables(r));
    part(&mut blocks, "Rooms with a requirement", rooms::charts(r, &judged, MOST_CHARTS, true));
    if let Some(m) = r.measured {
        part(&mut blocks, "What a report of a field test states", field_test::blocks(r, m));
        part(&mut blocks, "What was recorded", recorded(r, m));
        let mut compared = compared::findings(r);
        compared.extend(compared::charts(r, MOST_CHARTS, true));
        part(&mut blocks, "Recorded beside predicted", compared);
    }
    part(&mut blocks, "Changes on offer", changes::blocks(r));
    let drawings = build_ups::drawings(r, &judged, MOST_CHARTS);
    part(&mut blocks, "Sections", drawings);
    part(&mut blocks, CAUTIONS, care::blocks(r, true));
    let mut method = vec![grounds::methods(r)];
    let remarks = grounds::remarks(r);
    if !remarks.is_empty() {
        method.push(Block::Heading { level: 3, text: "Remarks".into() });
        method.push(Block::List(ListKind::Plain, remarks));
    }
    part(&mut blocks, "Methods and remarks", method);
    blocks.push(heading("How to compute it again"));
    blocks.push(Block::Paragraph(again(r)));
    blocks.extend(grounds::files(r));
    document(r, format!("{}: record for the file", r.building.title), blocks)
}

fn again(r: &Results<'_>) -> Text {
    Text::from(format!(
        "With the files below unchanged and version {} of the program, ",
        r.about.version
    ))
    .code("wythe report DIR -o FILE --for file")
    .then(" gives every figure of this document again; ")
    .code("wythe report DIR --verify RECORD.json")
    .then(
        " holds the figures written by --json against a new calculation and says which file, \
         figure or version changed.",
    )
}

fn verdicts(r: &Results<'_>, judged: &[Judged<'_>]) -> Option<Block> {
    let tenth = |v: Option<f64>| v.map_or_else(|| "not known".to_owned(), |v| number(v, 1));
    let rows: Vec<Vec<Text>> = judged
        .iter()
        .map(|j| {
            let recorded = j.recorded.as_ref();
            let bound = recorded.is_some_and(|x| x.limit);
            let of_recording = recorded.map_or_else(
                || "–".to_owned(),
                |x| {
                    let margin = tenth(x.assessment.margin_db);
                    match (bound, x.decides) {
                        (_, false) => "hidden by background".to_owned(),
                        (true, true) if j.margin() < 0.0 => format!("≤ {margin}"),
                        (true, true) => format!("≥ {margin}"),
                        (false, true) => margin,
                    }
                },
            );
            let v = j.verdict();
            vec![
                Text::from(capital(r.building.rooms[j.arrived.room.0].name())),
                j.source.name().into(),
                house::requirement(j).into(),
                tenth(j.calculated.margin_db).into(),
                of_recording.into(),
                v.governing_band.map(frequency).unwrap_or_default().into(),
                v.probability_met.map(chance).unwrap_or_default().into(),
                j.target.standpoint.source.clone().unwrap_or_default().into(),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "verdicts".into(),
            caption: "Margin to each requirement in decibels; negative is short. The recorded \
                      margin decides where there is one."
                .into(),
            columns: vec![
                Column::words("Room"),
                Column::words("Playing"),
                Column::words("Requirement"),
                Column::figures("Calculated"),
                Column::figures("Recorded"),
                Column::figures("Decided at"),
                Column::figures("Chance"),
                Column::words("Who asks it"),
            ],
            rows,
            invented: r.building.sources.iter().any(|s| s.invented),
            ..Table::default()
        })
    })
}

fn rooms_table(r: &Results<'_>) -> Option<Block> {
    let b = r.building;
    let units = r.about.units;
    let rows: Vec<Vec<Text>> = b
        .rooms
        .iter()
        .map(|room| {
            let known = room.standpoint.standing.word();
            if room.outdoors {
                let away = room.distance.map(|d| format!("outdoors, {} away", thickness(d, units)));
                return vec![
                    Text::from(room.name()),
                    away.unwrap_or_else(|| "outdoors".into()).into(),
                    Text::new(),
                    Text::new(),
                    Text::new(),
                    Text::new(),
                    known.into(),
                ];
            }
            let t = room.decay_time(b.air).get(Band::HZ_500);
            let how = match &room.absorption {
                Absorption::Area(_) => "absorption area stated",
                Absorption::DecayTime(_) => "decay time stated",
                Absorption::Finishes(_) => "from finishes",
            };
            vec![
                Text::from(room.name()),
                format!("storey {}", room.storey).into(),
                area(room.floor_area, units).into(),
                volume(room.volume.0, units).into(),
                t.map(|t| format!("{}{THIN}s", number(t.0, 2))).unwrap_or_default().into(),
                how.into(),
                known.into(),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "rooms".into(),
            caption: "Rooms. The decay time is that of the 500 Hz third.".into(),
            columns: vec![
                Column::words("Room"),
                Column::words("Where"),
                Column::figures("Floor"),
                Column::figures("Volume"),
                Column::figures("Decay time"),
                Column::words("Its source"),
                Column::words("Standing"),
            ],
            rows,
            ..Table::default()
        })
    })
}

fn boundaries_table(r: &Results<'_>) -> Option<Block> {
    let b = r.building;
    let rows: Vec<Vec<Text>> = b
        .boundaries
        .iter()
        .map(|x| {
            let name = |i: usize| b.rooms.get(x.rooms[i].0).map_or("", |r| r.name());
            let kind = match x.kind {
                BoundaryKind::Wall => "wall",
                BoundaryKind::Floor => "floor",
                BoundaryKind::Roof => "roof",
            };
            let build_up = b.build_ups.get(x.build_up.0);
            let found = if x.area_found { "from the outlines" } else { "stated" };
            vec![
                Text::from(capital(x.name())),
                format!("{} – {}", name(0), name(1)).into(),
                kind.into(),
                area(x.area, r.about.units).into(),
                found.into(),
                build_up
                    .map(|u| u.title.clone().unwrap_or_else(|| u.id.clone()))
                    .unwrap_or_default()
                    .into(),
                x.standpoint.standing.word().into(),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "boundaries".into(),
            caption: "Walls and floors with their gross areas.".into(),
            columns: vec![
                Column::words("Element"),
                Column::words("Between"),
                Column::words("Kind"),
                Column::figures("Area"),
                Column::words("Area is"),
                Column::words("Build-up"),
                Column::words("Standing"),
            ],
            rows,
            ..Table::default()
        })
    })
}

fn openings_table(r: &Results<'_>) -> Option<Block> {
    let units = r.about.units;
    let mut rows: Vec<Vec<Text>> = Vec::new();
    for x in &r.building.boundaries {
        for o in &x.openings {
            let named = |l: &BuildUp| l.title.clone().unwrap_or_else(|| l.id.clone());
            let mut leaf = o.leaf.as_ref().map_or_else(|| "none: a hole".to_owned(), named);
            if let Some(second) = &o.second {
                let gap = thickness(second.gap, units);
                leaf = format!("{leaf}; {gap} behind it {}", named(&second.leaf));
            }
            let seal = |s: Seal| {
                let kind = match s.kind {
                    SealKind::None => "none",
                    SealKind::Compression => "compression",
                    SealKind::Brush => "brush",
                    SealKind::DropSeal => "drop seal",
                };
                format!("{kind}, {}", thickness(s.gap, units))
            };
            let state = match o.state {
                OpeningState::Closed => "closed".to_owned(),
                OpeningState::Open => "open".to_owned(),
                OpeningState::Taped => "taped".to_owned(),
                OpeningState::Ajar(by) => format!("ajar by {}", thickness(by, units)),
            };
            rows.push(vec![
                Text::from(o.title.clone().unwrap_or_else(|| o.id.clone())),
                x.name().into(),
                format!("{} × {}", thickness(o.width, units), thickness(o.height, units)).into(),
                leaf.into(),
                format!("head {}; jambs {}; sill {}", seal(o.head), seal(o.jambs), seal(o.sill))
                    .into(),
                state.into(),
                o.standpoint.standing.word().into(),
            ]);
        }
    }
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "openings".into(),
            caption:
                "Doors, windows and hatches, with the seal of each edge and the gap it closes."
                    .into(),
            columns: vec![
                Column::words("Opening"),
                Column::words("In"),
                Column::figures("Clear size"),
                Column::words("Leaf"),
                Column::words("Edges"),
                Column::words("State"),
                Column::words("Standing"),
            ],
            rows,
            ..Table::default()
        })
    })
}

/// Area for which the curves of build-ups are stated, m²: that of a laboratory's test opening
/// (common practice).
const TEST_AREA: SquareMetre = SquareMetre(10.0);

fn build_up_tables(r: &Results<'_>) -> Vec<Block> {
    let units = r.about.units;
    let conditions = Conditions { air: r.building.air, area: TEST_AREA };
    let mut rows: Vec<Vec<Text>> = Vec::new();
    let mut curves: Vec<(String, Spectrum<LevelDifference>)> = Vec::new();
    for (number_, u) in r.building.build_ups.iter().enumerate() {
        let layers: Vec<String> = build_ups::layers(u)
            .iter()
            .map(|l| match l {
                Layer::Board(b) => build_ups::board_words(b, units),
                Layer::Cavity(c) => build_ups::cavity_words(c, units),
            })
            .collect();
        let layers = match &u.construction {
            Construction::Measured(sheet) => format!("data sheet: {}", sheet.source),
            Construction::Layers(_) => layers.join("; "),
        };
        let title = u.title.clone().unwrap_or_else(|| u.id.clone());
        let (mass, total, rating, method) = match wythe_partition::predict(u, &conditions) {
            Ok(p) => {
                let options = Options::default();
                let rated = rate(&curve(&p.reduction), Method::Iso717Part1, &options);
                let statement = rated.map(|x| x.statement).unwrap_or_else(|e| e.to_string());
                curves.push((format!("{}", number_ + 1), p.reduction));
                (
                    p.surface_mass.map(|m| surface_mass(m, units)).unwrap_or_default(),
                    p.thickness.map(|t| thickness(t, units)).unwrap_or_default(),
                    statement,
                    p.method.to_owned(),
                )
            }
            Err(e) => (String::new(), String::new(), e.to_string(), String::new()),
        };
        rows.push(vec![
            Text::from(format!("{} {title}", number_ + 1)),
            layers.into(),
            total.into(),
            mass.into(),
            rating.into(),
            method.into(),
            u.standpoint.standing.word().into(),
        ]);
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let mut out = vec![Block::Table(Table {
        id: "build-ups".into(),
        caption: Text::from(
            "Build-ups from side a to side b, with the rating of the calculated curve for ",
        )
        .then(area(TEST_AREA, units))
        .then(", without doors and gaps."),
        columns: vec![
            Column::words("Build-up"),
            Column::words("Layers"),
            Column::figures("Thickness"),
            Column::figures("Mass"),
            Column::words("Rated"),
            Column::words("Method"),
            Column::words("Standing"),
        ],
        rows,
        ..Table::default()
    })];
    for (k, some) in curves.chunks(MOST_COLUMNS).enumerate() {
        let columns: Vec<(Text, &Spectrum<LevelDifference>)> =
            some.iter().map(|(n, s)| (Text::from(n.clone()), s)).collect();
        out.push(band_table(
            format!("reduction-{k}"),
            "Calculated reduction index R in dB, by the number of the build-up.".into(),
            &columns,
            |d| number(d.0, 1),
        ));
    }
    out
}

fn sources_table(r: &Results<'_>) -> Vec<Block> {
    let columns: Vec<(Text, &Spectrum<Level>)> = r
        .building
        .sources
        .iter()
        .map(|s| {
            let room = r.building.rooms[s.room.0].name();
            let text = Text::from(format!("{}, in {room}", s.name()));
            (if s.invented { text.then(" ").invented() } else { text }, &s.levels)
        })
        .collect();
    columns
        .chunks(MOST_COLUMNS)
        .enumerate()
        .map(|(k, some)| {
            let caption = "Levels of the sources in their own rooms, dB.";
            band_table(format!("sources-{k}"), caption.into(), some, |l| number(l.0, 1))
        })
        .collect()
}

fn predicted_tables(r: &Results<'_>) -> Vec<Block> {
    let mut out = Vec::new();
    let as_found = if r.found.is_some() { " with the faults the recordings point to" } else { "" };
    for (which, predicted, note) in [
        ("described", r.predicted, " as described"),
        ("found", r.found.map(|f| f.predicted), as_found),
        ("after", r.after, " once the whole plan is made"),
    ] {
        let Some(predicted) = predicted else { continue };
        for (n, from) in predicted.sources.iter().enumerate() {
            let source = &r.building.sources[from.source];
            let arrived: Vec<_> = from.arrived.iter().filter(|a| !a.levels.is_empty()).collect();
            for (k, some) in arrived.chunks(MOST_COLUMNS).enumerate() {
                let columns: Vec<(Text, Spectrum<WithDeviation>)> = some
                    .iter()
                    .map(|a| {
                        let both = a.levels.map(|b, l| (l, a.received.deviation.get(b)));
                        (Text::from(r.building.rooms[a.room.0].name()), both)
                    })
                    .collect();
                let borrowed: Vec<(Text, &Spectrum<WithDeviation>)> =
                    columns.iter().map(|(t, s)| (t.clone(), s)).collect();
                out.push(band_table(
                    format!("predicted-{which}-{n}-{k}"),
                    format!(
                        "Third-octave levels from {}{note}, dB, with one standard deviation.",
                        source.name()
                    ),
                    &borrowed,
                    |(l, d)| match d {
                        Some(d) => format!("{} ± {}", number(l.0, 1), number(d.0, 0)),
                        None => number(l.0, 1),
                    },
                ));
            }
        }
    }
    out
}

/// A table with a row per band from 50 Hz to 5 kHz.
fn band_table<T: Copy>(
    id: String,
    caption: String,
    columns: &[(Text, &Spectrum<T>)],
    cell: impl Fn(T) -> String,
) -> Block {
    let empty = BandTable::new();
    let all = columns.iter().fold(empty, |t, (head, s)| t.figures(head.clone(), s, "–", &cell));
    all.table(id, caption, Band::results())
}

fn recorded(r: &Results<'_>, m: &Measured) -> Vec<Block> {
    let mut out = Vec::new();
    out.extend(compared::positions_table(r, m));
    out.extend(calibration_table(r, m));
    out.extend(position_levels(m, "levels", "Levels while the source played, dB", |p| {
        &p.levels.leq
    }));
    out.extend(position_levels(m, "background", "Levels while it did not play, dB", |p| {
        &p.background
    }));
    let decays: Vec<(Text, Spectrum<f64>)> = m
        .decays
        .iter()
        .map(|(room, d)| {
            let name = r.building.rooms[room.0].name();
            (Text::from(name), d.times.map(|_, (t, _)| t.0))
        })
        .collect();
    let borrowed: Vec<(Text, &Spectrum<f64>)> =
        decays.iter().map(|(t, s)| (t.clone(), s)).collect();
    if borrowed.is_empty() {
        out.push(Block::Notice("No decay time was measured.".into()));
    }
    for (k, some) in borrowed.chunks(MOST_COLUMNS).enumerate() {
        let caption = "Decay times used, s.".to_owned();
        out.push(band_table(format!("decays-{k}"), caption, some, |t| number(t, 2)));
    }
    out.extend(compared::ratings_table(r, m));
    out.extend(field_test::other_ratings(r, m));
    out.extend(recorded_bands::blocks(r, m, MOST_CHARTS));
    out.extend(recorded_bands::decays(r));
    out
}

fn calibration_table(r: &Results<'_>, m: &Measured) -> Option<Block> {
    let rows: Vec<Vec<Text>> = m
        .positions
        .iter()
        .map(|p| {
            let words = if p.calibration.is_empty() { "not stated" } else { &p.calibration };
            vec![
                Text::from(p.id.clone()),
                r.building.rooms[p.room.0].name().into(),
                p.channel.clone().into(),
                p.state.clone().unwrap_or_else(|| "as described".into()).into(),
                words.to_owned().into(),
                number(p.calibration_deviation.0, 2).into(),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            id: "calibration".into(),
            caption: "How each channel was calibrated, and the standard uncertainty of that in dB."
                .into(),
            columns: vec![
                Column::words("Position"),
                Column::words("Room"),
                Column::words("File and channel"),
                Column::words("State of the building"),
                Column::words("Calibration"),
                Column::figures("±"),
            ],
            rows,
            ..Table::default()
        })
    })
}

fn position_levels(
    m: &Measured,
    id: &str,
    caption: &str,
    of: impl Fn(&MeasuredPosition) -> &Spectrum<Level>,
) -> Vec<Block> {
    m.positions
        .chunks(MOST_COLUMNS)
        .enumerate()
        .map(|(k, some)| {
            let columns: Vec<(Text, &Spectrum<Level>)> =
                some.iter().map(|p| (Text::from(p.channel.clone()), of(p))).collect();
            let relative = if some.iter().any(|p| !p.calibrated) {
                "; channels without calibration are relative to full scale"
            } else {
                ""
            };
            band_table(
                format!("position-{id}-{k}"),
                format!("{caption}{relative}."),
                &columns,
                |l| number(l.0, 1),
            )
        })
        .collect()
}
