//! Sections of the build-ups that matter, to scale.

use wythe_bands::Metre;
use wythe_building::{Action, BoundaryIndex, BoundaryKind, BuildUpIndex};
use wythe_findings::shares_of_weighted;
use wythe_partition::{
    Board, BuildUp, Cavity, Construction, FrameKind, Joint, Layer, MountKind, Side as Face,
};

use super::house::ranked;
use super::judged::Judged;
use super::results::{Results, Units};
use super::words::{capital, thickness};
use crate::chart::{Mount, Section, SectionLayer, Side, StudMaterial, Studs, Words};
use crate::page::{Block, Figure};

/// A wall matters when it carries this much of the A-weighted energy into a missed room.
const LEAST_SHARE: f64 = 0.10;

/// A build-up to be drawn, with the reason.
#[derive(Clone, Debug)]
pub struct Shown {
    /// What it parts.
    pub boundary: BoundaryIndex,
    /// The build-up.
    pub build_up: BuildUpIndex,
    /// Heading.
    pub heading: String,
    /// Whether it is still to be built.
    pub proposed: bool,
}

/// What is to be built by the plan, each beside what is there, and then what carries the sound
/// into rooms that fall short.
pub fn that_matter(r: &Results<'_>, judged: &[Judged<'_>]) -> Vec<Shown> {
    let b = r.building;
    let mut out: Vec<Shown> = Vec::new();
    let push = |shown: Shown, out: &mut Vec<Shown>| {
        if !out.iter().any(|s| s.build_up == shown.build_up) {
            out.push(shown);
        }
    };
    let planned = r.remedies.map(|m| m.order.as_slice()).unwrap_or_default();
    for step in planned {
        for action in &b.changes[step.change].actions {
            let Action::Rebuild { boundary, build_up } = action else { continue };
            let Some(place) = b.boundaries.get(boundary.0) else { continue };
            let name = capital(place.name());
            let proposed = Shown {
                boundary: *boundary,
                build_up: *build_up,
                heading: format!("{name}, to be built"),
                proposed: true,
            };
            let present = Shown {
                boundary: *boundary,
                build_up: place.build_up,
                heading: format!("{name}, as it is"),
                proposed: false,
            };
            push(proposed, &mut out);
            push(present, &mut out);
        }
    }
    for j in judged.iter().filter(|j| j.margin() < 0.0) {
        let totals = shares_of_weighted(
            &j.arrived.received,
            &j.arrived.levels,
            wythe_bands::weighting::Weighting::A,
        );
        for (way, share) in ranked(j.arrived, &totals) {
            if share < LEAST_SHARE {
                break;
            }
            for link in way.links.iter().filter_map(|&l| j.model.links.get(l)) {
                // A door's leak says nothing about the wall it hangs in.
                if link.kind != wythe_transmission::LinkKind::Direct {
                    continue;
                }
                let Some(place) = b.boundaries.get(link.boundary.0) else { continue };
                let shown = Shown {
                    boundary: link.boundary,
                    build_up: place.build_up,
                    heading: format!("{}, as described", capital(place.name())),
                    proposed: false,
                };
                push(shown, &mut out);
            }
        }
    }
    out
}

/// Drawings of at most `most` build-ups.
pub fn drawings(r: &Results<'_>, judged: &[Judged<'_>], most: usize) -> Vec<Block> {
    let mut out = Vec::new();
    let all = that_matter(r, judged);
    for shown in all.iter().take(most) {
        let Some(section) = section(r, shown) else { continue };
        out.push(Figure::new(|f| section.draw(f)).into());
    }
    out
}

/// The drawing of one build-up; `None` where only a data sheet is known.
pub fn section(r: &Results<'_>, shown: &Shown) -> Option<Section> {
    let b = r.building;
    let build_up = b.build_ups.get(shown.build_up.0)?;
    let boundary = b.boundaries.get(shown.boundary.0)?;
    let units = r.about.units;
    let layers: Vec<SectionLayer> =
        layers(build_up).iter().map(|l| section_layer(l, units)).collect();
    if layers.is_empty() {
        return None;
    }
    let isolation = isolation(self::layers(build_up));
    let title = build_up.title.clone().unwrap_or_else(|| build_up.id.clone());
    let name = |i: usize| b.rooms[boundary.rooms[i].0].name().to_owned();
    let cut = match boundary.kind {
        BoundaryKind::Wall => "Cut through the wall, seen from above",
        BoundaryKind::Floor | BoundaryKind::Roof => {
            "Cut through floor and ceiling, seen from the side"
        }
    };
    let line = if isolation.is_some() {
        " The dashed line parts what must not touch: no screw, pipe, offcut or mortar may cross it."
    } else {
        ""
    };
    let drawn = if shown.proposed { "a change on offer" } else { "as described" };
    Some(Section {
        words: Words::new(
            format!("section-{}-{}", boundary.id, build_up.id),
            format!("{}: {}", shown.heading, title),
            format!(
                "{cut}; drawn to scale, {drawn}. Solid: boards and masonry. Hatched: fill.{line}"
            ),
        ),
        total: total(build_up, units),
        layers,
        side_a: name(0),
        side_b: name(1),
        isolation,
        b_on_top: boundary.kind != BoundaryKind::Wall,
    })
}

/// The drawing of a build-up by itself; `None` where only a data sheet is known.
pub fn section_alone(build_up: &BuildUp, units: Units) -> Option<Section> {
    let own = self::layers(build_up);
    if own.is_empty() {
        return None;
    }
    let title = build_up.title.clone().unwrap_or_else(|| build_up.id.clone());
    Some(Section {
        words: Words::new(
            format!("section-{}", build_up.id),
            title,
            "Drawn to scale, side a on top. Solid: boards and masonry. Hatched: fill. A dashed \
             line, where there is one, parts what must not touch.",
        ),
        total: total(build_up, units),
        layers: own.iter().map(|l| section_layer(l, units)).collect(),
        isolation: isolation(own),
        side_a: "first layer".into(),
        side_b: "last layer".into(),
        b_on_top: false,
    })
}

fn total(build_up: &BuildUp, units: Units) -> String {
    let sum: f64 = layers(build_up)
        .iter()
        .map(|l| match l {
            Layer::Board(x) => x.thickness.0 * f64::from(x.count),
            Layer::Cavity(x) => x.depth.0,
        })
        .sum();
    thickness(Metre(sum), units)
}

/// Layers of a build-up; those beside a data sheet where it is measured.
pub fn layers(build_up: &BuildUp) -> &[Layer] {
    match &build_up.construction {
        Construction::Layers(layers) => layers,
        Construction::Measured(sheet) => &sheet.layers,
    }
}

/// The first cavity without a stiff tie between its two sides.
fn isolation(layers: &[Layer]) -> Option<usize> {
    layers.iter().position(|l| match l {
        Layer::Board(_) => false,
        Layer::Cavity(c) => {
            c.depth.0 > 0.0
                && c.frame.as_ref().is_none_or(|f| f.mount.is_some() || stands_apart(f.kind))
        }
    })
}

/// Whether a frame stands in two rows that do not touch.
pub fn stands_apart(kind: FrameKind) -> bool {
    matches!(
        kind,
        FrameKind::SeparateTimberStuds
            | FrameKind::SeparateSteelStuds
            | FrameKind::SeparateWindowFrames
    )
}

fn section_layer(layer: &Layer, units: Units) -> SectionLayer {
    match layer {
        Layer::Board(b) => SectionLayer::Board {
            label: board_words(b, units),
            thickness: b.thickness,
            count: b.count as usize,
            damped: b.joined == Joint::DampingLayer && b.count > 1,
        },
        Layer::Cavity(c) => {
            let (studs, material) =
                c.frame.as_ref().map_or((Studs::None, StudMaterial::Timber), |f| studs(f.kind));
            SectionLayer::Cavity {
                label: cavity_words(c, units),
                depth: c.depth,
                fill_depth: c.fill.as_ref().map_or(Metre(0.0), |f| f.depth),
                studs,
                material,
                spacing: c.frame.as_ref().map_or(Metre(0.6), |f| f.spacing),
                mount: c.frame.as_ref().and_then(|f| f.mount).map(|m| {
                    let kind = match m.kind {
                        MountKind::ResilientChannel => Mount::Channel,
                        MountKind::IsolationClips => Mount::Clip,
                    };
                    (kind, if m.side == Face::A { Side::A } else { Side::B })
                }),
            }
        }
    }
}

fn studs(kind: FrameKind) -> (Studs, StudMaterial) {
    match kind {
        FrameKind::TimberStuds => (Studs::Common, StudMaterial::Timber),
        FrameKind::StaggeredTimberStuds => (Studs::Staggered, StudMaterial::Timber),
        FrameKind::SeparateTimberStuds => (Studs::Separate, StudMaterial::Timber),
        FrameKind::LightSteelStuds | FrameKind::LoadBearingSteelStuds => {
            (Studs::Common, StudMaterial::Steel)
        }
        FrameKind::SeparateSteelStuds => (Studs::Separate, StudMaterial::Steel),
        // Ties and hangers are drawn as what they are not: nothing from leaf to leaf. Their words
        // stand beside the drawing.
        kind if kind.is_points() => (Studs::None, StudMaterial::Steel),
        // A window has no studs between its panes.
        FrameKind::CommonWindowFrame | FrameKind::SeparateWindowFrames => {
            (Studs::None, StudMaterial::Timber)
        }
        _ => (Studs::None, StudMaterial::Timber),
    }
}

/// Boards in words with their thickness.
pub fn board_words(b: &Board, units: Units) -> String {
    let times = if b.count > 1 { format!("{} × ", b.count) } else { String::new() };
    let joined = match b.joined {
        Joint::Screwed if b.count > 1 => ", screwed",
        Joint::Screwed => "",
        Joint::Bonded => ", glued on",
        Joint::DampingLayer => ", with a damping layer",
    };
    format!("{times}{} {}{joined}", b.material, thickness(b.thickness, units))
}

/// A cavity in words: depth, fill, frame, mounting.
pub fn cavity_words(c: &Cavity, units: Units) -> String {
    let mut out = format!("cavity {}", thickness(c.depth, units));
    match &c.fill {
        Some(f) => out.push_str(&format!(", {} {}", f.material, thickness(f.depth, units))),
        None => out.push_str(", empty"),
    }
    if let Some(f) = &c.frame {
        out.push_str(&format!(", {}", frame_words(f.kind)));
        if !matches!(f.kind, FrameKind::CommonWindowFrame | FrameKind::SeparateWindowFrames) {
            out.push_str(&format!(" each {}", thickness(f.spacing, units)));
        }
        if let Some(m) = f.mount {
            let kind = match m.kind {
                MountKind::ResilientChannel => "resilient channel",
                MountKind::IsolationClips => "isolation clips",
            };
            out.push_str(&format!(", {kind}"));
        }
    }
    out
}

fn frame_words(kind: FrameKind) -> &'static str {
    match kind {
        FrameKind::TimberStuds => "timber studs or joists",
        FrameKind::StaggeredTimberStuds => "staggered timber studs",
        FrameKind::SeparateTimberStuds => "two separate rows of timber",
        FrameKind::LightSteelStuds => "light steel studs",
        FrameKind::LoadBearingSteelStuds => "load-bearing steel studs",
        FrameKind::SeparateSteelStuds => "two separate rows of steel",
        FrameKind::CommonWindowFrame => "in one frame",
        FrameKind::SeparateWindowFrames => "in two separate frames",
        FrameKind::LightWallTies => "light wall ties",
        FrameKind::HeavyWallTies => "heavy wall ties",
        FrameKind::RigidHangers => "on hangers",
        FrameKind::ResilientHangers => "on resilient hangers",
    }
}
