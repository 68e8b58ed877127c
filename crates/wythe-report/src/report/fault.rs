//! Faults the recordings point to, and the test that settles them, in the language of the page.

use wythe_bands::Metre;
use wythe_building::Building;
use wythe_findings::{Fault, Finding, NextTest, Posterior, Setup, Statement};
use wythe_partition::PerimeterPart;

use super::results::{Results, Units};
use crate::chart::THIN;
use crate::language::Language;

/// Square feet in a square metre.
const FT2_PER_M2: f64 = 1.0 / (0.3048 * 0.3048);

/// A statement as one clause without full stop: the element, what is wrong with it, how sure.
pub fn words(r: &Results<'_>, posterior: &Posterior, statement: &Statement) -> String {
    let (l, units) = (r.about.language, r.about.units);
    let members: Vec<&Finding> =
        statement.findings.iter().filter_map(|&i| posterior.findings.get(i)).collect();
    let Some(first) = members.first() else { return String::new() };
    let fault = &first.cause.fault;
    let sure = l.say(sure(statement.probability), &[]);
    let size = |v: f64| size_words(l, units, fault, v);
    let (low, high) = first.interval_90;
    let bare = |v: f64| bare_size(l, units, fault, v);
    let range = l.say("unit.to", &[("low", &bare(low)), ("high", &bare(high))]);
    let most = size(first.size);
    let values = |more: &[(&'static str, &str)], key: &str| {
        let mut all = vec![("sure", sure.as_str()), ("size", &most), ("range", &range)];
        all.extend_from_slice(more);
        l.say(key, &all)
    };
    let plain = |key: &str| values(&[], key);
    let said = match fault {
        Fault::OpenEdge { part, described_mm, .. } => {
            let edge = l.say(edge(*part), &[]);
            let key = if *described_mm > 0.0 { "found.open_edge" } else { "found.unsealed_edge" };
            let described = l.gap(Metre(described_mm / 1000.0), units);
            let said = values(&[("edge", &edge), ("described", &described)], key);
            let others: Vec<String> = members[1..]
                .iter()
                .filter_map(|f| match &f.cause.fault {
                    Fault::OpenEdge { part, .. } => Some(l.say(self::edge(*part), &[])),
                    _ => None,
                })
                .collect();
            if others.is_empty() {
                said
            } else {
                let others = l.listed(&others);
                l.say("found.or_else", &[("fault", &said), ("others", &others)])
            }
        }
        Fault::Bridges => plain("found.bridges"),
        Fault::LightLeaf { .. } if members.len() > 1 => plain("found.light_either"),
        Fault::LightLeaf { .. } => plain("found.light_leaf"),
        Fault::NoFill => plain("found.no_fill"),
        Fault::NoDamping => plain("found.no_damping"),
        Fault::ShallowCavity => plain("found.shallow"),
        Fault::LightOpening { .. } => plain("found.light_opening"),
        Fault::WideLeak { .. } => plain("found.wide_leak"),
        Fault::Stronger { .. } => plain("found.stronger"),
        Fault::Beside => plain("found.beside"),
        Fault::OpenJoint => plain("found.open_joint"),
    };
    l.say("found.element", &[("element", &element(r.building, first)), ("fault", &said)])
}

/// The element a fault is of, in the user's own words.
fn element(building: &Building, finding: &Finding) -> String {
    let cause = &finding.cause;
    let opening = match &cause.fault {
        Fault::OpenEdge { opening, .. } | Fault::LightOpening { opening } => Some(opening),
        // Named by the user's own title already.
        Fault::WideLeak { .. } | Fault::Stronger { .. } => return cause.element.clone(),
        _ => None,
    };
    let name = match opening {
        Some(id) => Some(self::opening(building, id)),
        None => building.boundaries.get(cause.boundary.0).map(|b| b.name().to_owned()),
    };
    name.unwrap_or_else(|| cause.element.clone())
}

/// A door or window as the user calls it.
fn opening(building: &Building, id: &str) -> String {
    let found = building.boundaries.iter().flat_map(|b| &b.openings).find(|o| o.id == id);
    found.and_then(|o| o.title.clone()).unwrap_or_else(|| id.to_owned())
}

/// A duct or vent as the user calls it.
fn way(building: &Building, id: &str) -> String {
    let ducts = building.fabric.ducts.iter().map(|d| (&d.id, &d.title));
    let vents = building.fabric.small_elements.iter().map(|e| (&e.id, &e.title));
    let title = ducts.chain(vents).find(|(i, _)| *i == id).and_then(|(_, t)| t.clone());
    title.unwrap_or_else(|| id.to_owned())
}

fn sure(probability: f64) -> &'static str {
    match probability {
        p if p >= 0.95 => "sure.almost",
        p if p >= 0.8 => "sure.very",
        p if p >= 0.5 => "sure.probably",
        p if p >= 0.2 => "sure.perhaps",
        _ => "sure.less",
    }
}

fn edge(part: PerimeterPart) -> &'static str {
    match part {
        PerimeterPart::Head => "edge.head",
        PerimeterPart::Jambs => "edge.jambs",
        PerimeterPart::Sill => "edge.sill",
    }
}

/// Size of a fault as it stands in a range: without words behind the number.
fn bare_size(l: Language, units: Units, fault: &Fault, size: f64) -> String {
    match fault {
        Fault::OpenEdge { .. } | Fault::OpenJoint | Fault::WideLeak { .. } => {
            l.gap(Metre(size / 1000.0), units)
        }
        Fault::Bridges => match units {
            Units::Metric => two_figures(l, size),
            Units::UsCustomary => two_figures(l, size / FT2_PER_M2),
        },
        Fault::LightLeaf { .. } | Fault::LightOpening { .. } | Fault::ShallowCavity => {
            l.percent(size)
        }
        Fault::Stronger { .. } => format!("{}{THIN}dB", l.number(10.0 * size.log10(), 0)),
        // These have no size that is said.
        Fault::NoFill | Fault::NoDamping | Fault::Beside => String::new(),
    }
}

/// Size of a fault with what it is a size of.
fn size_words(l: Language, units: Units, fault: &Fault, size: f64) -> String {
    let bare = bare_size(l, units, fault, size);
    match (fault, units) {
        (Fault::Bridges, Units::Metric) => l.say("unit.per_m2", &[("number", &bare)]),
        (Fault::Bridges, Units::UsCustomary) => l.say("unit.per_ft2", &[("number", &bare)]),
        (Fault::LightLeaf { .. } | Fault::LightOpening { .. }, _) => {
            l.say("unit.mass", &[("percent", &bare)])
        }
        (Fault::ShallowCavity, _) => l.say("unit.depth", &[("percent", &bare)]),
        _ => bare,
    }
}

/// A positive number with two figures.
fn two_figures(l: Language, value: f64) -> String {
    let places = match value {
        v if v >= 10.0 => 0,
        v if v >= 1.0 => 1,
        v if v >= 0.1 => 2,
        _ => 3,
    };
    l.number(value, places)
}

/// The next test as a clause without full stop.
pub fn test(r: &Results<'_>, next: &NextTest) -> String {
    let l = r.about.language;
    let room = |id: &str| {
        let found = r.building.rooms.iter().find(|x| x.id == *id);
        found.map_or(id.to_owned(), |x| x.name().to_owned())
    };
    let (key, what) = match &next.setup {
        Setup::Tape(id) => ("test.tape", opening(r.building, id)),
        Setup::Open(id) => ("test.open", opening(r.building, id)),
        Setup::Plug(id) => ("test.plug", way(r.building, id)),
        Setup::Near(surface) => {
            let what = match &surface.opening {
                Some(id) => opening(r.building, id),
                None => {
                    let place = r.building.boundaries.get(surface.boundary.0);
                    place.map_or_else(String::new, |b| b.name().to_owned())
                }
            };
            ("test.near", what)
        }
        Setup::Corners => ("test.corners", String::new()),
        Setup::Source(to) => {
            ("test.source", r.building.rooms.get(to.0).map_or("", |x| x.name()).to_owned())
        }
    };
    let (source, receiver) = (room(&next.pair.0), room(&next.pair.1));
    l.say(key, &[("what", &what), ("source", &source), ("receiver", &receiver)])
}
