//! Whether an alarm outside is heard inside a loud room.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, LevelDifference, Source};
use wythe_building::RoomIndex;

use super::site::Site;
use super::words::figures;
use super::{Caution, Concern, Topic};

/// An alarm should stand this far above what else is heard (model fire codes, from memory).
const ABOVE_AMBIENT: LevelDifference = LevelDifference(15.0);
const RULE: Source = Source::Unverified(
    "15 dB above the average ambient level, as model fire codes ask of alarms in public places, \
     from memory",
);

pub(super) fn cautions(site: &Site<'_>) -> Vec<Caution> {
    site.loud_rooms().into_iter().filter_map(|room| in_room(site, room)).collect()
}

/// Level of the alarm in a room from the neighbour that lets most of it through.
fn best_inside(site: &Site<'_>, room: RoomIndex) -> Option<(RoomIndex, Level)> {
    let alarm = &site.settings.alarm;
    let mut best: Option<(RoomIndex, Level)> = None;
    let mut beside: Vec<RoomIndex> = site.round(room).filter_map(|(_, b)| b.beyond(room)).collect();
    beside.sort();
    beside.dedup();
    for next in beside.into_iter().filter(|r| !site.is_outdoors(*r)) {
        // The A-weighting of the one band with the tone is the same on both sides.
        let inside =
            site.difference(next, room).and_then(|d| d.get(alarm.tone)).map(|d| alarm.level - d);
        if let Some(level) = inside.filter(|l| l.0.is_finite())
            && best.is_none_or(|(_, b)| level.0 > b.0)
        {
            best = Some((next, level));
        }
    }
    best
}

fn in_room(site: &Site<'_>, room: RoomIndex) -> Option<Caution> {
    let alarm = &site.settings.alarm;
    let caution = Caution::new("caution::alarm-not-heard", Topic::Alarm, site.name(room))
        .source(RULE)
        .at([Concern::Room(room)])
        .what_to_do(
            "Put smoke and carbon-monoxide alarms inside the room, linked with those outside, and \
             a flashing light that players see. Try them while it is played.",
        );
    if !alarm.level.0.is_finite() {
        return Some(
            caution
                .why("The level stated for the alarm outside is no level, so nothing is predicted.")
                .not_known(),
        );
    }
    let Some((next, inside)) = best_inside(site, room) else {
        return Some(
            caution
                .why(
                    "How loud an alarm outside would be in here cannot be predicted: no room beside \
                     it with a usable level difference is described.",
                )
                .not_known(),
        );
    };
    let playing = site.a_level_in(room);
    let quiet = site
        .room(room)
        .and_then(|r| r.background.as_ref())
        .and_then(|b| b.weighted_total(Weighting::A))
        .filter(|l| l.0.is_finite());
    if playing.is_some_and(|p| inside.0 >= p.0 + ABOVE_AMBIENT.0) {
        return None;
    }
    let against = match playing {
        Some(p) => format!("against {} dBA of playing", figures(p.0)),
        None => "and how loud it is played is not known".into(),
    };
    let mut caution = caution.figure("alarm inside", inside.0, "dBA");
    if let Some(p) = playing {
        caution = caution.figure("playing", p.0, "dBA");
    }
    let pause = match quiet {
        Some(q) if inside.0 < q.0 + ABOVE_AMBIENT.0 => {
            format!(
                " Even between pieces it stands less than 15 dB above the {} dBA there.",
                figures(q.0)
            )
        }
        _ => String::new(),
    };
    let caution = if alarm.stated {
        caution
    } else {
        caution.assumed(format!(
            "{} dBA in the room next door, the level usual at 3 m from a sounder, all in the {} Hz \
             band",
            figures(alarm.level.0),
            alarm.tone.nominal()
        ))
    };
    Some(
        caution
            .why(format!(
                "An alarm in the {} would be about {} dBA in here, {against}.{pause}",
                site.name(next),
                figures(inside.0)
            ))
            .stop(true),
    )
}
