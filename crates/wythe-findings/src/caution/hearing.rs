//! Hearing: how long a day somebody may stay where it is loud.

use wythe_bands::{Level, Source};
use wythe_building::RoomIndex;
use wythe_rating::dose::{Allowance, DoseRule, Stay, allowances, dose};

use super::site::Site;
use super::words::{figures, list, time};
use super::{Caution, Concern, Topic};

/// Receiving rooms are named from here: the lower action value of Directive 2003/10/EC, Art. 3.
const RECEIVING_FROM: Level = wythe_rating::dose::EU_ACTION_LOWER;
/// No unprotected exposure above this (NIOSH 98-126).
const NOBODY_ABOVE: f64 = 115.0;

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    let loud = site.loud_rooms();
    if loud.is_empty() {
        all.push(
            Caution::new("caution::no-source", Topic::Hearing, "building")
                .why("No sound source indoors is described, so no hearing dose can be given.")
                .what_to_do("Describe what is played, or record it where the players sit.")
                .not_known(),
        );
    }
    for &room in &loud {
        all.push(in_source_room(site, room));
    }
    for room in (0..site.building.rooms.len()).map(RoomIndex) {
        if loud.contains(&room) {
            continue;
        }
        if let Some(level) = site.a_level_arriving(room).filter(|l| l.0 >= RECEIVING_FROM.0) {
            all.push(judged(
                site,
                room,
                level,
                format!("{} dBA is predicted here from the rooms that play", figures(level.0)),
                "Keep people out while it is played, or shorten the stay; lower the level by the \
                 plan of changes.",
            ));
        }
    }
    all
}

fn in_source_room(site: &Site<'_>, room: RoomIndex) -> Caution {
    let names: Vec<&str> = site
        .building
        .sources
        .iter()
        .filter(|s| s.room == room)
        .map(wythe_building::SoundSource::name)
        .collect();
    let Some(level) = site.a_level_in(room) else {
        return unknown(site, room, format!("{} has no level that can be used", list(&names)));
    };
    let together = if names.len() > 1 { ", all at once" } else { "" };
    let mut caution = judged(
        site,
        room,
        level,
        format!("{} dBA in the room from {}{together}", figures(level.0), list(&names)),
        "Shorten the stay, play more quietly, or wear protection that was fitted and checked. \
         Whoever measures needs it too. Walls do not lower this level.",
    )
    .assumed("the level is the average of the room; at a player's own ear it is higher")
    .assumed("peaks of single strokes are not known from an average");
    let invented = site.building.sources.iter().any(|s| s.room == room && s.invented);
    if invented {
        caution = caution.assumed("the spectrum was invented for the demonstration");
    }
    caution
}

/// Times allowed at a level by the rules asked for, the shortest first.
fn wanted(site: &Site<'_>, level: Level) -> Result<Vec<Allowance>, String> {
    let all = allowances(level).map_err(|e| e.to_string())?;
    Ok(all
        .into_iter()
        .filter(|a| match a.rule {
            rule if rule == DoseRule::Niosh.name() => true,
            rule if rule.starts_with("OSHA") => site.settings.osha,
            _ => site.settings.eu,
        })
        .collect())
}

fn judged(site: &Site<'_>, room: RoomIndex, level: Level, what: String, to_do: &str) -> Caution {
    let times = match wanted(site, level) {
        Ok(times) => times,
        Err(why) => return unknown(site, room, why),
    };
    let minutes = site.settings.session_minutes;
    let session = dose(DoseRule::Niosh, &[Stay { level, minutes }]);
    let mut sentences = vec![format!("{what}.")];
    const DAY: f64 = 1440.0;
    let (spent, lasting): (Vec<&Allowance>, Vec<&Allowance>) =
        times.iter().partition(|t| t.minutes <= DAY);
    if !spent.is_empty() {
        let spent: Vec<String> =
            spent.iter().map(|t| format!("{} by {}", time(t.minutes), t.rule)).collect();
        sentences.push(format!("The day's allowance is spent after {}.", spent.join(", ")));
    }
    if !lasting.is_empty() {
        let rules: Vec<&str> = lasting.iter().map(|t| t.rule).collect();
        sentences.push(format!("By {} it is not spent in a day of 24 h.", list(&rules)));
    }
    let mut caution = Caution::new("caution::hearing-dose", Topic::Hearing, site.name(room))
        .at([Concern::Room(room)]);
    for t in &times {
        caution = caution
            .figure(format!("minutes a day by {}", t.rule), t.minutes, "min")
            .source(t.source);
    }
    caution = caution.figure("A-weighted level", level.0, "dBA");
    match session {
        Ok(session) => {
            sentences.push(format!(
                "A session of {} is {} % of it by NIOSH.",
                time(minutes),
                figures(session.percent)
            ));
            caution = caution.figure("dose of a session by NIOSH", session.percent, "%");
            if !site.settings.session_stated {
                caution = caution.assumed(format!("a session lasts {}", time(minutes)));
            }
        }
        Err(why) => sentences.push(format!("The session cannot be counted: {why}.")),
    }
    let stop = level.0 > NOBODY_ABOVE;
    if stop {
        sentences.push("Above 115 dBA nobody may stay unprotected, however briefly.".into());
        caution = caution.source(Source::Published { key: "niosh-98-126", place: "1.1" });
    }
    caution.why(sentences.join(" ")).what_to_do(to_do).stop(stop)
}

fn unknown(site: &Site<'_>, room: RoomIndex, why: String) -> Caution {
    Caution::new("caution::hearing-not-known", Topic::Hearing, site.name(room))
        .why(format!("The hearing dose cannot be given: {why}."))
        .what_to_do("Record the source at the players' ears with a calibration tone.")
        .not_known()
        .at([Concern::Room(room)])
}
