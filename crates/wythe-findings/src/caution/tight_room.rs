//! Air in rooms that are as tight as they are quiet.

use std::f64::consts::PI;

use wythe_bands::{Source, SquareMetre};
use wythe_building::{LeakShape, Room, RoomIndex};
use wythe_partition::OpeningKind;

use super::air::{
    AirError, BREATH_SOURCE, DWELLING_RATE_SOURCE, LitresPerSecond, Ppm, ROOM_RATE_SOURCE,
    SpaceUse, Zone, breathing_zone_flow, dwelling_total_flow, free_area,
};
use super::settings::Occupancy;
use super::site::{Site, gap_area};
use super::words::{figures, list, time};
use super::{Caution, Concern, Topic};

/// Yardstick of ventilation, not a health limit.
const STUFFY: Ppm = Ppm(1000.0);
/// Half as much again.
const HEAVY: Ppm = Ppm(1500.0);
/// Workplace limit of eight hours (29 CFR 1910.1000 Table Z-1, from memory).
const WORKPLACE: Ppm = Ppm(5000.0);
/// Speed in a quiet duct, m/s: the low end of common practice for NC 15 to 20 (no source).
const QUIET_SPEED: f64 = 1.5;
/// Pressure across gaps by wind and warmth, Pa; the reference pressure of effective leakage areas
/// (from memory).
const GAP_PRESSURE: f64 = 4.0;
/// Discharge coefficient of a sharp-edged slit, textbook value.
const DISCHARGE: f64 = 0.6;

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    let mut undescribed = Vec::new();
    let mut any_tight = false;
    for (index, room) in site.indoors() {
        let described = site.openings(index).next().is_some();
        let loud = site.is_loud(index);
        if !described && !loud && site.use_of(index).is_none() {
            undescribed.push((index, room.name()));
            continue;
        }
        match of_room(site, index, room, described) {
            Ok(Some(caution)) => {
                any_tight |= caution.code == "caution::tight-room";
                all.push(caution);
            }
            Ok(None) => {}
            Err(why) => all.push(
                Caution::new("caution::air-not-known", Topic::Air, room.name())
                    .why(format!("The air in this room cannot be judged: {why}."))
                    .what_to_do("Mend the figure it names; until then plan for a tight room.")
                    .not_known()
                    .at([Concern::Room(index)]),
            ),
        }
    }
    if !undescribed.is_empty() {
        let names: Vec<&str> = undescribed.iter().map(|(_, n)| *n).collect();
        all.push(
            Caution::new("caution::air-not-described", Topic::Air, list(&names))
                .why(
                    "No door, window or duct of these rooms is described, so where their air comes \
                     from is not known.",
                )
                .what_to_do("Describe doors, windows and ducts, or say how each room is aired.")
                .not_known()
                .at(undescribed.iter().map(|(i, _)| Concern::Room(*i))),
        );
    }
    if any_tight {
        all.push(duct_noise(site));
    }
    all
}

fn of_room(
    site: &Site<'_>,
    index: RoomIndex,
    room: &Room,
    described: bool,
) -> Result<Option<Caution>, AirError> {
    let people = site.occupancy(index);
    let rule = breathing_zone_flow(SpaceUse::Music, people.count(), room.floor_area)?;
    let breath = people.breath(site.building.air.celsius)?;
    let through_gaps = flow_through(leak_area(site, index), site.building.air.density());
    if through_gaps.0 >= rule.0 {
        return Ok(site.is_loud(index).then(|| unplanned(site, index, through_gaps, rule)));
    }
    let fan = site.use_of(index).and_then(|u| u.fan);
    let sealed = Zone {
        volume: room.volume,
        flow: LitresPerSecond(0.0),
        breath,
        outdoors: site.settings.outdoors,
    };
    let dwelling = dwelling(site);
    let hold = sealed.flow_to_hold(STUFFY)?;
    let until = |limit| sealed.minutes_until(limit, site.settings.outdoors);
    let mut caution = Caution::new("caution::tight-room", Topic::Air, room.name())
        .source(ROOM_RATE_SOURCE)
        .source(BREATH_SOURCE)
        .source(Source::Derived("mass balance of one well-mixed room"))
        .at([Concern::Room(index)]);
    let mut why = vec![opening_words(described).to_owned()];
    let mut times = Vec::new();
    for limit in [HEAVY, STUFFY, WORKPLACE] {
        if let Some(t) = until(limit)? {
            caution = caution.figure(format!("minutes to {:.0} ppm, no fan", limit.0), t.0, "min");
            times.push((limit, t));
        }
    }
    times.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    if times.is_empty() {
        why.push("With nobody breathing in it the air stays as it is.".into());
    } else {
        let words: Vec<String> =
            times.iter().map(|(l, t)| format!("{:.0} ppm after {}", l.0, time(t.0))).collect();
        let n = people.count();
        why.push(format!(
            "If the fan stops, or there is none, {n} {} bring the carbon dioxide from {:.0} to {}.",
            if n == 1 { "person will" } else { "people will" },
            site.settings.outdoors.0,
            list(&words)
        ));
    }
    caution = caution.figure("outdoor air by people and area", rule.0, "L/s").figure(
        "outdoor air to hold 1000 ppm",
        hold.0,
        "L/s",
    );
    match &dwelling {
        Ok(flow) => {
            caution = caution
                .figure("outdoor air of the whole dwelling", flow.0, "L/s")
                .source(DWELLING_RATE_SOURCE);
        }
        Err(e) => why.push(format!("The dwelling rule over all rooms cannot be counted: {e}.")),
    }
    let with = Zone { flow: fan.unwrap_or(rule), ..sealed };
    let settles = with.steady_state()?;
    why.push(match (fan, settles) {
        (Some(fan), Some(c)) => {
            format!("With its fan of {} L/s it settles at {:.0} ppm.", figures(fan.0), c.0)
        }
        (Some(_), None) => "Its fan is stated to bring no air.".into(),
        (None, Some(c)) => format!(
            "With the {} L/s of the table it would settle at {:.0} ppm.",
            figures(rule.0),
            c.0
        ),
        (None, None) => "It never settles.".into(),
    });
    if let Some(c) = settles {
        caution = caution.figure("carbon dioxide it settles at", c.0, "ppm");
    }
    let stop = fan.is_none_or(|f| !(f.0 >= rule.0));
    Ok(Some(
        assumptions(site, caution, &people)
            .why(why.join(" "))
            .what_to_do(needs(rule, dwelling.ok(), hold)?)
            .stop(
                // A quiet receiver without a described fan is ordinary life; a room that is played in
                // is not finished before its air is.
                stop && site.is_loud(index),
            ),
    ))
}

fn opening_words(described: bool) -> &'static str {
    if described {
        "With doors and windows shut, the gaps that are described bring in too little air."
    } else {
        "No door, window or duct is described, so nothing is known to bring in air."
    }
}

/// The larger of the two rules first, then what breath asks for.
fn needs(
    rule: LitresPerSecond,
    dwelling: Option<LitresPerSecond>,
    hold: LitresPerSecond,
) -> Result<String, AirError> {
    let room = format!("{} L/s by people and floor area (music room)", figures(rule.0));
    let both = match dwelling {
        Some(d) => {
            let whole = format!("{} L/s by the dwelling rule for all rooms", figures(d.0));
            if d.0 > rule.0 { format!("{whole}, {room}") } else { format!("{room}, {whole}") }
        }
        None => room,
    };
    let duct = free_area(LitresPerSecond(hold.0.max(rule.0)), QUIET_SPEED)?;
    Ok(format!(
        "Plan supply and extract before the walls: {both}; {} L/s to hold 1000 ppm. Slow air keeps \
         it quiet: {} m² of free duct at {QUIET_SPEED} m/s. If the fan stops, open the doors and \
         leave.",
        figures(hold.0),
        figures(duct.0)
    ))
}

fn assumptions(site: &Site<'_>, mut caution: Caution, people: &Occupancy) -> Caution {
    if !people.stated {
        caution = caution.assumed(format!("{} people ({})", people.count(), people.words()));
    }
    if site.settings.bedrooms.is_none() {
        caution = caution.assumed("a dwelling with 1 bedroom and all rooms of this description");
    }
    caution.assumed(
        "fresh air at the start; 1000 ppm is a yardstick of ventilation, not a health limit; \
         5000 ppm is the workplace limit of eight hours (from memory); heat is felt sooner",
    )
}

/// Dwelling rule over all rooms indoors.
fn dwelling(site: &Site<'_>) -> Result<LitresPerSecond, AirError> {
    let area = site.indoors().map(|(_, r)| r.floor_area.0).sum();
    dwelling_total_flow(SquareMetre(area), site.settings.bedrooms.unwrap_or(1))
}

/// Area of everything open when the leaves are shut, m².
fn leak_area(site: &Site<'_>, room: RoomIndex) -> f64 {
    let gaps: f64 = site.openings(room).map(|(o, _)| gap_area(o)).sum();
    let leaks: f64 = site
        .round(room)
        .flat_map(|(_, b)| &b.leaks)
        .map(|leak| match leak.shape {
            LeakShape::Slit { width, length, .. } => width.0.max(0.0) * length.0.max(0.0),
            LeakShape::Hole { diameter } => PI / 4.0 * diameter.0 * diameter.0,
        })
        .sum();
    gaps + leaks
}

/// Air through gaps at the pressure of wind and warmth, Q = C_d A √(2Δp/ρ) (derived).
fn flow_through(area: f64, density: f64) -> LitresPerSecond {
    let flow = 1000.0 * DISCHARGE * area * (2.0 * GAP_PRESSURE / density).sqrt();
    LitresPerSecond(if flow.is_finite() { flow.max(0.0) } else { 0.0 })
}

/// A room that is played in, airy by its gaps alone.
fn unplanned(
    site: &Site<'_>,
    room: RoomIndex,
    gaps: LitresPerSecond,
    rule: LitresPerSecond,
) -> Caution {
    let holes = site.openings(room).any(|(o, _)| o.kind == OpeningKind::Hole);
    let by = if holes { "an open hole and gaps" } else { "gaps" };
    Caution::new("caution::air-by-chance", Topic::Air, site.name(room))
        .why(format!(
            "Air comes through {by}: some {} L/s in wind or cold, against {} L/s by people and \
             floor area. Every gap that is closed for quiet takes air away.",
            figures(gaps.0),
            figures(rule.0)
        ))
        .figure("outdoor air by people and area", rule.0, "L/s")
        .figure("air through described gaps at 4 Pa", gaps.0, "L/s")
        .source(ROOM_RATE_SOURCE)
        .source(Source::Derived("flow through a sharp-edged slit"))
        .what_to_do("Plan supply and extract together with the seals, and say which fan runs.")
        .at([Concern::Room(room)])
        .not_known()
}

fn duct_noise(site: &Site<'_>) -> Caution {
    let rooms: Vec<RoomIndex> = site.loud_rooms();
    let names: Vec<&str> = rooms.iter().map(|r| site.name(*r)).collect();
    let place = if names.is_empty() { "every duct".to_owned() } else { list(&names) };
    Caution::new("caution::duct-noise", Topic::DuctNoise, place)
        .why(
            "A duct is a hole through the wall. One open grille undoes what the wall was paid for; \
             a fast one is heard in every recording.",
        )
        .source(Source::Practice)
        .what_to_do(
            "Give supply and extract silencers of equal loss, and 1.5 to 2.5 m/s at the grille for \
             NC 15 to 20. Give an extract fan an inlet too, or it pulls on every leak and flue.",
        )
        .at(rooms.into_iter().map(Concern::Room))
}
