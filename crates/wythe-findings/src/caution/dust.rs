//! Dust and fibres from what is cut, drilled, pulled out or packed in.

use wythe_bands::Source;
use wythe_building::{Action, Boundary, BoundaryIndex, BuildUpIndex};
use wythe_partition::{Layer, MaterialClass};

use super::site::{Site, layers};
use super::words::list;
use super::{Caution, Concern, Topic};

const SILICA: Source =
    Source::Unverified("29 CFR 1926.1153 second-hand: 50 µg/m³ over 8 h, action from 25 µg/m³");

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    let stone = places(site, |l| class(l) == Some(MaterialClass::Masonry));
    if !stone.is_empty() {
        all.push(
            at(Caution::new("caution::silica", Topic::Dust, named(&stone)), &stone)
                .why(
                    "Brick, block or concrete. Cutting and drilling it makes dust that scars the \
                     lungs for good.",
                )
                .figure("workplace limit of silica over 8 h", 50.0, "µg/m³")
                .source(SILICA)
                .what_to_do(
                    "Cut wet or with extraction at the tool, wear a fitted respirator, do not \
                     sweep dry, keep others out of the room.",
                ),
        );
    }
    let wool = places(site, |l| matches!(l, Layer::Cavity(c) if c.fill.is_some()));
    if !wool.is_empty() {
        all.push(
            at(Caution::new("caution::fibres", Topic::Dust, named(&wool)), &wool)
                .why("Mineral and glass wool irritate skin, eyes and airways while handled.")
                .source(Source::Practice)
                .what_to_do(
                    "Gloves, goggles, mask, long sleeves; cover it before the room is used.",
                ),
        );
    }
    let lead = places(site, |l| {
        matches!(l, Layer::Board(b)
            if b.known().is_some_and(|m| m.name == "lead sheet"))
    });
    if !lead.is_empty() {
        all.push(
            at(Caution::new("caution::lead", Topic::Dust, named(&lead)), &lead)
                .why("Lead sheet. Its dust poisons by hand and breath, children first.")
                .source(Source::Practice)
                .what_to_do("Do not saw or sand it, wash hands, or take another heavy sheet."),
        );
    }
    if opens_old_work(site) {
        all.extend(old_materials(site.settings.built));
    }
    all
}

/// Countries gave up asbestos in buildings one after another until about 2000 (from memory); the
/// law of the place knows the year.
const LAST_ASBESTOS: i32 = 2000;

/// What stands open when old work is opened.
fn old_materials(built: Option<i32>) -> Option<Caution> {
    let caution =
        Caution::new("caution::old-materials", Topic::Dust, "what is opened or pulled out")
            .source(Source::Practice)
            .what_to_do("Have a sample tested before the first hole or demolition.");
    match built {
        None => Some(
            caution
                .why(
                    "How old the building is, nobody said. Boards, compound, tiles and paint from \
                     before about 1980 may hold asbestos or lead, in some countries later ones too.",
                )
                .not_known(),
        ),
        Some(year) if year <= LAST_ASBESTOS => Some(
            caution
                .figure("built", f64::from(year), "")
                .why(format!(
                    "The building is of {year}. Boards, compound, tiles and paint from before \
                     about 1980, in some countries until 2000, may hold asbestos or lead."
                ))
                .stop(true),
        ),
        Some(_) => None,
    }
}

fn class(layer: &Layer) -> Option<MaterialClass> {
    match layer {
        Layer::Board(b) => b.known().map(|m| m.class),
        Layer::Cavity(_) => None,
    }
}

/// Something that is built, or would be by a change.
struct Place<'a> {
    name: &'a str,
    concern: Concern,
}

fn places<'a>(site: &Site<'a>, mut has: impl FnMut(&Layer) -> bool) -> Vec<Place<'a>> {
    let mut found = |index: BuildUpIndex| {
        site.building.build_ups.get(index.0).is_some_and(|b| layers(b).iter().any(&mut has))
    };
    let mut out: Vec<Place<'a>> = Vec::new();
    for (i, boundary) in site.building.boundaries.iter().enumerate() {
        let boundary: &'a Boundary = boundary;
        if found(boundary.build_up) {
            let concern = Concern::Boundary(BoundaryIndex(i));
            out.push(Place { name: boundary.name(), concern });
        }
    }
    for change in &site.building.changes {
        let rebuilt = super::load::rebuilds(change).any(|(_, new)| found(new));
        if rebuilt {
            let concern = Concern::Change(change.id.clone());
            out.push(Place { name: &change.title, concern });
        }
    }
    out
}

fn named(places: &[Place<'_>]) -> String {
    list(&places.iter().map(|p| p.name).collect::<Vec<_>>())
}

fn at(caution: Caution, places: &[Place<'_>]) -> Caution {
    caution.at(places.iter().map(|p| p.concern.clone()))
}

/// Whether any change opens or replaces what is there.
fn opens_old_work(site: &Site<'_>) -> bool {
    site.building
        .changes
        .iter()
        .flat_map(|c| &c.actions)
        .any(|a| matches!(a, Action::Rebuild { .. } | Action::Leaf { .. } | Action::Close { .. }))
}
