//! What to look at before it is closed: a checklist by kind of detail, and a box for the photograph
//! of each place.

use wythe_building::Action;
use wythe_findings::caution::STANDING_NOTICE;
use wythe_partition::{Joint, Layer};

use super::build_ups;
use super::results::Results;
use super::words::capital;
use crate::language::Language;
use crate::page::{Block, Column, PhotoSlot, Table, Text};

/// Boxes for photographs; a plan of more places says so.
const MOST_PHOTOGRAPHS: usize = 36;

/// Kinds of detail the plan touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    Boards,
    Damping,
    Mounts,
    Separate,
    Fill,
    Edges,
    Leaf,
    Absorber,
}

impl Detail {
    /// Keys of what it is called and of how it fails (common practice, no source).
    pub fn fails(self) -> (&'static str, &'static str) {
        match self {
            Detail::Boards => ("detail.boards", "detail.boards_how"),
            Detail::Damping => ("detail.damping", "detail.damping_how"),
            Detail::Mounts => ("detail.mounts", "detail.mounts_how"),
            Detail::Separate => ("detail.separate", "detail.separate_how"),
            Detail::Fill => ("detail.fill", "detail.fill_how"),
            Detail::Edges => ("detail.edges", "detail.edges_how"),
            Detail::Leaf => ("detail.leaf", "detail.leaf_how"),
            Detail::Absorber => ("detail.absorber", "detail.absorber_how"),
        }
    }

    /// Keys of what has to be seen of it (common practice, no source).
    fn seen(self) -> &'static [&'static str] {
        match self {
            Detail::Boards => &["hold.opened", "hold.boxes", "hold.first_layer", "hold.joints"],
            Detail::Damping => &["hold.damping"],
            Detail::Mounts => &["hold.mounts", "hold.screws", "hold.gap"],
            Detail::Separate => &["hold.separate"],
            Detail::Fill => &["hold.fill"],
            Detail::Edges => &["hold.light", "hold.way_out"],
            Detail::Leaf => &["hold.leaf"],
            Detail::Absorber => &["hold.absorber"],
        }
    }
}

/// The details of the plan with the places where each occurs.
pub fn touched(r: &Results<'_>) -> Vec<(Detail, Vec<String>)> {
    let mut out: Vec<(Detail, Vec<String>)> = Vec::new();
    let add = |d: Detail, place: &str, out: &mut Vec<(Detail, Vec<String>)>| {
        let there = out.iter().position(|x| x.0 == d).unwrap_or_else(|| {
            out.push((d, Vec::new()));
            out.len() - 1
        });
        let places = &mut out[there].1;
        if !places.iter().any(|p| p == place) {
            places.push(place.to_owned());
        }
    };
    let b = r.building;
    let opening = |id: &str| {
        let all = b.boundaries.iter().flat_map(|x| &x.openings);
        all.into_iter()
            .find(|o| o.id == id)
            .map_or_else(|| id.to_owned(), |o| o.title.clone().unwrap_or_else(|| o.id.clone()))
    };
    let order = r.remedies.map(|m| m.order.as_slice()).unwrap_or_default();
    for action in order.iter().flat_map(|s| &b.changes[s.change].actions) {
        match action {
            Action::Rebuild { boundary, build_up } => {
                let place = b.boundaries.get(boundary.0).map_or("", |x| x.name());
                add(Detail::Boards, place, &mut out);
                let Some(u) = b.build_ups.get(build_up.0) else { continue };
                for layer in build_ups::layers(u) {
                    match layer {
                        Layer::Board(b) if b.joined == Joint::DampingLayer => {
                            add(Detail::Damping, place, &mut out);
                        }
                        Layer::Board(_) => {}
                        Layer::Cavity(c) => {
                            if c.fill.is_some() {
                                add(Detail::Fill, place, &mut out);
                            }
                            match &c.frame {
                                Some(f) if f.mount.is_some() => {
                                    add(Detail::Mounts, place, &mut out);
                                }
                                Some(f) if build_ups::stands_apart(f.kind) => {
                                    add(Detail::Separate, place, &mut out);
                                }
                                None => add(Detail::Separate, place, &mut out),
                                Some(_) => {}
                            }
                        }
                    }
                }
            }
            Action::Seal { opening: o, .. } => add(Detail::Edges, &opening(o), &mut out),
            Action::Leaf { opening: o, .. } | Action::SecondDoor { opening: o, .. } => {
                add(Detail::Leaf, &opening(o), &mut out);
                add(Detail::Edges, &opening(o), &mut out);
            }
            Action::Close { leak } => {
                let with = |x: &&wythe_building::Boundary| x.leaks.iter().any(|l| l.id == *leak);
                let place = b.boundaries.iter().find(with).map_or(leak.as_str(), |x| x.name());
                add(Detail::Boards, place, &mut out);
            }
            Action::Absorb { room, .. } => {
                let place = b.rooms.get(room.0).map_or("", |x| x.name());
                add(Detail::Absorber, place, &mut out);
            }
            Action::Silence { .. }
            | Action::Plug { .. }
            | Action::Mount { .. }
            | Action::CutBridges { .. }
            | Action::CutJunction { .. }
            | Action::Earlier { .. }
            | Action::Quieter { .. } => {}
        }
    }
    out
}

/// The checklist with the number of each photograph, and the boxes to put them in.
pub fn blocks(r: &Results<'_>) -> Vec<Block> {
    let l = r.about.language;
    let say = |key: &str| l.say(key, &[]);
    let mut points: Vec<(&'static str, String)> = Vec::new();
    for (detail, places) in touched(r) {
        for key in detail.seen() {
            points.extend(places.iter().map(|p| (*key, capital(p))));
        }
    }
    if points.is_empty() {
        return Vec::new();
    }
    points.push(("hold.agreed", say("hold.whole")));
    points.push(("hold.measured", say("hold.whole")));
    let numbered = || points.iter().enumerate().map(|(i, (key, place))| (i + 1, *key, place));
    let rows = numbered()
        .map(|(n, key, place)| {
            vec![
                Text::from(format!("☐ {}", say(key))),
                place.as_str().into(),
                n.to_string().into(),
                Text::new(),
            ]
        })
        .collect();
    let slots: Vec<PhotoSlot> = numbered()
        .take(MOST_PHOTOGRAPHS)
        .map(|(n, key, place)| PhotoSlot {
            number: n,
            place: place.as_str().into(),
            seen: say(key).into(),
        })
        .collect();
    let mut out = vec![Block::Table(Table {
        id: "hold-points".into(),
        caption: say("hold.caption").into(),
        columns: vec![
            Column::words(say("hold.seen")),
            Column::words(say("hold.place")),
            Column::figures(say("hold.photograph")),
            Column::words(say("hold.by")),
        ],
        rows,
        ..Table::default()
    })];
    out.push(match l {
        Language::English => Block::Caution(STANDING_NOTICE.into()),
        _ => Block::Caution(say("care.notice").into()),
    });
    out.push(Block::Heading { level: 3, text: say("hold.photographs").into() });
    if points.len() > slots.len() {
        let more = points.len() - slots.len();
        out.push(Block::Notice(l.count("hold.more", more, &[]).into()));
    }
    out.push(Block::Photographs(slots));
    out
}
