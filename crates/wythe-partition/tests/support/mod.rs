//! The published record of tests/data/lab_tl.csv as build-ups, and ratings for comparison.

#![allow(dead_code)]

use wythe_bands::{
    Band, FlowResistivity, LevelDifference, Metre, Octave, OctaveSpectrum, Spectrum, SurfaceMass,
};
use wythe_partition::{
    Board, BuildUp, Cavity, Construction, Fill, Frame, FrameKind, Joint, Layer, Mount, MountKind,
    Side,
};

const RECORD: &str = include_str!("../data/lab_tl.csv");

/// One published construction with what was measured.
pub(crate) struct Row {
    pub(crate) id: String,
    /// Short name of the source, for leaving one source out.
    pub(crate) source: String,
    pub(crate) kind: Kind,
    pub(crate) description: String,
    pub(crate) build_up: BuildUp,
    pub(crate) octaves: OctaveSpectrum<LevelDifference>,
    pub(crate) stc: Option<f64>,
    /// Number of figures the table marks as assumed.
    pub(crate) assumed: usize,
}

/// Families of the record.
#[derive(Clone, Copy, PartialEq, Eq, Debug, PartialOrd, Ord)]
pub(crate) enum Kind {
    Thin,
    Heavy,
    Stud,
    Glazing,
}

impl Kind {
    pub(crate) const ALL: [Kind; 4] = [Kind::Thin, Kind::Heavy, Kind::Stud, Kind::Glazing];

    pub(crate) fn word(self) -> &'static str {
        match self {
            Kind::Thin => "thin single leaf",
            Kind::Heavy => "heavy single leaf",
            Kind::Stud => "stud wall",
            Kind::Glazing => "double glazing",
        }
    }
}

/// Splits a line of comma-separated values with quotes.
pub(crate) fn fields(line: &str) -> Vec<String> {
    let mut out = Vec::new();
    let mut field = String::new();
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(std::mem::take(&mut field)),
            c => field.push(c),
        }
    }
    out.push(field);
    out
}

/// Every row the table offers for checking a model.
pub(crate) fn record() -> Vec<Row> {
    let mut lines = RECORD.lines().filter(|l| !l.starts_with('#'));
    let header = fields(lines.next().unwrap_or_default());
    let at = |name: &str| header.iter().position(|h| h == name).unwrap();
    lines
        .filter_map(|line| {
            let f = fields(line);
            let text = |name: &str| f[at(name)].as_str();
            let number = |name: &str| f[at(name)].parse::<f64>().ok();
            let usable = matches!(text("use_for_model"), "yes")
                || (text("use_for_model") == "laminate" && text("a_material") == "glass_laminated");
            if !usable {
                return None;
            }
            let leaf = |side: &str| -> Option<(Layer, f64)> {
                let get = |what: &str| number(&format!("{side}_{what}"));
                let count = get("count")? as u32;
                let mass = get("mass_kg_m2")?;
                Some((
                    Layer::Board(Board {
                        material: material(text(&format!("{side}_material")))?.to_owned(),
                        thickness: Metre(get("thickness_mm")? / 1000.0),
                        count,
                        joined: Joint::Screwed,
                        surface_mass: Some(SurfaceMass(mass / f64::from(count))),
                        standpoint: Default::default(),
                        own: None,
                    }),
                    mass,
                ))
            };
            let (a, mass_a) = leaf("a")?;
            let mut layers = vec![a];
            let kind;
            if let Some((b, _)) = leaf("b") {
                layers.push(Layer::Cavity(Cavity {
                    depth: Metre(number("cavity_mm")? / 1000.0),
                    fill: number("fill_thickness_mm").map(|mm| Fill {
                        material: "mineral wool".to_owned(),
                        depth: Metre(mm / 1000.0),
                        flow_resistivity: number("fill_flow_resistivity_pa_s_m2")
                            .map(FlowResistivity),
                        own: None,
                    }),
                    frame: frame(text("frame"), &number, text("resilient_channel") == "yes"),
                    standpoint: Default::default(),
                }));
                layers.push(b);
                kind = if text("kind").starts_with("glazing") { Kind::Glazing } else { Kind::Stud };
            } else {
                kind = if mass_a < 40.0 { Kind::Thin } else { Kind::Heavy };
            }
            let mut octaves = OctaveSpectrum::empty();
            if text("band_type") == "octave" {
                for octave in Octave::all() {
                    // Two single values that the table itself marks as misprints.
                    let misprint = matches!(
                        (text("id"), octave.nominal()),
                        ("bies038", "4000") | ("bies084", "8000")
                    );
                    if let Some(v) = header
                        .iter()
                        .position(|h| *h == format!("b{}", octave.nominal()))
                        .and_then(|i| f[i].parse::<f64>().ok())
                        && !misprint
                    {
                        octaves.set(octave, LevelDifference(v));
                    }
                }
            }
            Some(Row {
                id: text("id").to_owned(),
                source: text("source").split([',', '/', ' ']).next()?.to_owned(),
                kind,
                description: text("description").to_owned(),
                build_up: build_up(text("id"), layers),
                octaves,
                stc: number("stc_published"),
                assumed: text("assumed_columns").split(';').filter(|s| !s.is_empty()).count(),
            })
        })
        .collect()
}

pub(crate) fn build_up(id: &str, layers: Vec<Layer>) -> BuildUp {
    BuildUp {
        id: id.to_owned(),
        title: None,
        construction: Construction::Layers(layers),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: Default::default(),
        boxes: Vec::new(),
    }
}

fn material(word: &str) -> Option<&'static str> {
    Some(match word {
        "gypsum" => "gypsum board",
        "plywood" => "plywood",
        "particleboard" => "particleboard",
        "fibreboard_soft" => "softboard",
        "timber" => "solid timber",
        "glass" => "glass",
        "glass_laminated" => "laminated glass",
        "steel" => "steel sheet",
        "aluminium" => "aluminium sheet",
        "lead" => "lead sheet",
        "concrete" => "concrete",
        "concrete_light" => "lightweight concrete",
        "aerated_concrete" => "aerated concrete",
        "brick" => "brick",
        "block_light" => "light block",
        "block_hollow" => "hollow block",
        _ => return None,
    })
}

fn frame(word: &str, number: &impl Fn(&str) -> Option<f64>, channel: bool) -> Option<Frame> {
    let gauge = number("steel_gauge").map(|g| g as u32);
    let kind = match word {
        "wood_single" => FrameKind::TimberStuds,
        "wood_staggered" => FrameKind::StaggeredTimberStuds,
        "wood_double" => FrameKind::SeparateTimberStuds,
        "steel_single" if gauge.is_some_and(|g| g <= 20) => FrameKind::LoadBearingSteelStuds,
        "steel_single" => FrameKind::LightSteelStuds,
        "steel_double" => FrameKind::SeparateSteelStuds,
        "glazing_spacer" | "common_frame" => FrameKind::CommonWindowFrame,
        "separate_frames" => FrameKind::SeparateWindowFrames,
        _ => return None,
    };
    Some(Frame {
        kind,
        gauge,
        spacing: Metre(number("frame_spacing_mm").unwrap_or(600.0) / 1000.0),
        screw_spacing: None,
        mount: channel.then_some(Mount { kind: MountKind::ResilientChannel, side: Side::B }),
    })
}

/// ASTM E413: highest contour with a sum of deficiencies of at most 32 and none over 8.
/// Contour from the standard (public tables); reduction indices rounded to whole decibels.
pub(crate) fn stc(r: &Spectrum<LevelDifference>) -> Option<f64> {
    const CONTOUR: [i32; 16] = [-16, -13, -10, -7, -4, -1, 0, 1, 2, 3, 4, 4, 4, 4, 4, 4];
    let values: Vec<i32> = Band::range(Band::HZ_125, Band::HZ_4000)
        .map(|b| r.get(b).map(|v| v.0.round() as i32))
        .collect::<Option<_>>()?;
    (0..150)
        .rev()
        .find(|rating| {
            let short: Vec<i32> =
                values.iter().zip(CONTOUR).map(|(v, c)| (c + rating - v).max(0)).collect();
            short.iter().sum::<i32>() <= 32 && short.iter().all(|s| *s <= 8)
        })
        .map(f64::from)
}
