//! Words of the trade for frames, seals, leaves and positions. Boards and fills are words of the
//! catalogue of `wythe-partition`.

use wythe_bands::{Metre, Standing, Standpoint};
use wythe_partition::{
    Board, BuildUp, Cavity, Construction, Fill, Frame, FrameKind, Joint, Layer, OpeningState,
    SealKind,
};

use crate::quantity::{Quantity, parse};

pub(crate) fn joint(word: &str) -> Joint {
    match word {
        "bonded" => Joint::Bonded,
        "damping layer" => Joint::DampingLayer,
        _ => Joint::Screwed,
    }
}

pub(crate) fn seal_kind(word: &str) -> SealKind {
    match word {
        "compression" => SealKind::Compression,
        "brush" => SealKind::Brush,
        "drop seal" => SealKind::DropSeal,
        _ => SealKind::None,
    }
}

/// `closed`, `open`, `taped`, `ajar 50 mm`.
pub(crate) fn opening_state(text: &str) -> Option<OpeningState> {
    let text = text.trim();
    Some(match text {
        "closed" => OpeningState::Closed,
        "open" => OpeningState::Open,
        "taped" => OpeningState::Taped,
        _ => {
            let gap = parse(Quantity::Length, text.strip_prefix("ajar")?).ok()?;
            if !(0.001..=3.0).contains(&gap) {
                return None;
            }
            OpeningState::Ajar(Metre(gap))
        }
    })
}

/// Leaves by words, for the reference.
pub(crate) const LEAVES: &[(&str, &str)] = &[
    ("solid timber door 44 mm", "one board of solid timber; 44 mm where no thickness is said"),
    (
        "hollow-core door 40 mm",
        "two 3.2 mm skins of MDF round an empty cavity; the honeycomb that ties the skins is not modelled, so the figure is optimistic near 1 to 4 kHz; 40 mm where no thickness is said",
    ),
    (
        "steel door 45 mm",
        "two 1 mm steel sheets with mineral wool between; the stiffeners and the edge that tie them are not modelled, so the figure is optimistic; 45 mm where no thickness is said",
    ),
    ("glass door 10 mm", "one pane of glass; 10 mm where no thickness is said"),
    ("single glazing 4 mm", "one pane; 4 mm where no thickness is said"),
    ("laminated glazing 8 mm", "one laminated pane; 8 mm where no thickness is said"),
    (
        "double glazing 4/16/4 mm",
        "pane, air, pane in a common window frame; 4/16/4 mm where nothing is said",
    ),
];

/// A leaf from words: what it is and, if given, its thickness. Make-ups are common practice, no
/// source, and come back as assumed.
pub(crate) fn leaf(text: &str) -> Result<BuildUp, LeafError> {
    let text = text.trim();
    let digit = text.find(|c: char| c.is_ascii_digit());
    let (name, size) = match digit {
        Some(i) => (text[..i].trim(), Some(text[i..].trim())),
        None => (text, None),
    };
    let lower = name.to_lowercase();
    let known: &[(&str, f64)] = &[
        ("solid timber door", 0.044),
        ("timber door", 0.044),
        ("solid wood door", 0.044),
        ("solid-core door", 0.044),
        ("solid timber hatch", 0.044),
        ("hollow-core door", 0.040),
        ("hollow core door", 0.040),
        ("steel door", 0.045),
        ("glass door", 0.010),
        ("single glazing", 0.004),
        ("window pane", 0.004),
        ("laminated glazing", 0.008),
        ("double glazing", 0.0),
    ];
    let Some((kind, usual)) = known.iter().find(|(k, _)| *k == lower) else {
        return Err(LeafError::Unknown);
    };
    let built = |layers: Vec<Layer>| BuildUp {
        id: text.to_owned(),
        title: None,
        construction: Construction::Layers(layers),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: Standpoint {
            standing: Standing::Assumed,
            source: Some("leaf by words; common practice, no source".to_owned()),
        },
        boxes: Vec::new(),
    };
    if *kind == "double glazing" {
        let size = size.unwrap_or("4/16/4 mm");
        let numbers = size.trim_end_matches(|c: char| c.is_alphabetic()).trim();
        let unit = size[numbers.len()..].trim();
        let parts: Vec<f64> = numbers
            .split(['/', '-'])
            .filter_map(|p| parse(Quantity::Length, &format!("{} {unit}", p.trim())).ok())
            .collect();
        let [first, gap, second] = parts[..] else { return Err(LeafError::Size) };
        for pane in [first, second] {
            if !(0.001..=0.1).contains(&pane) {
                return Err(LeafError::Size);
            }
        }
        if !(0.002..=0.5).contains(&gap) {
            return Err(LeafError::Size);
        }
        let frame = Frame {
            kind: FrameKind::CommonWindowFrame,
            gauge: None,
            spacing: Metre(1.0),
            screw_spacing: None,
            mount: None,
        };
        return Ok(built(vec![
            board("glass", first),
            cavity(gap, None, Some(frame)),
            board("glass", second),
        ]));
    }
    let thickness = match size {
        Some(size) => parse(Quantity::Length, size).map_err(|_| LeafError::Size)?,
        None => *usual,
    };
    if !(0.001..=0.5).contains(&thickness) {
        return Err(LeafError::Size);
    }
    let core = |skin: f64| {
        if thickness > 3.0 * skin { Ok(thickness - 2.0 * skin) } else { Err(LeafError::Size) }
    };
    Ok(built(match *kind {
        "hollow-core door" | "hollow core door" => {
            let skin = 0.0032;
            vec![board("MDF", skin), cavity(core(skin)?, None, None), board("MDF", skin)]
        }
        "steel door" => {
            let skin = 0.001;
            let depth = core(skin)?;
            let fill = Fill {
                material: "mineral wool".to_owned(),
                depth: Metre(depth),
                flow_resistivity: None,
                own: None,
            };
            vec![
                board("steel sheet", skin),
                cavity(depth, Some(fill), None),
                board("steel sheet", skin),
            ]
        }
        "glass door" | "single glazing" | "window pane" => vec![board("glass", thickness)],
        "laminated glazing" => vec![board("laminated glass", thickness)],
        _ => vec![board("solid timber", thickness)],
    }))
}

/// Why words are no leaf.
pub(crate) enum LeafError {
    Unknown,
    Size,
}

fn board(material: &str, thickness: f64) -> Layer {
    Layer::Board(Board {
        material: material.to_owned(),
        thickness: Metre(thickness),
        count: 1,
        joined: Joint::Screwed,
        surface_mass: None,
        standpoint: Standpoint::default(),
        own: None,
    })
}

fn cavity(depth: f64, fill: Option<Fill>, frame: Option<Frame>) -> Layer {
    Layer::Cavity(Cavity { depth: Metre(depth), fill, frame, standpoint: Standpoint::default() })
}
