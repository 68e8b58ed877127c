//! Levels of one position and of the source room over the same time, for music is not steady.

use wythe_bands::{Level, LevelDifference, Remark, Seconds, Spectrum};
use wythe_findings::{InCommon, MeasuredPosition, UseAs};
use wythe_project::Project;
use wythe_project::survey::{Excitation, PositionKind, Recording};
use wythe_recording::{History, Kind, Mask, Statistics};

use super::Listened;
use super::aligning::Partner;
use super::reading::Taken;

/// Less time in common than this is no comparison, s.
const LEAST: f64 = 1.0;

/// The source room's microphone that a recording's others are compared with: over its time the level
/// of the source room stands, and its own history says how much louder the source was then than
/// during what another position could use. The ratio of two positions is that of the building, so
/// it may be asked over any time that both have.
pub struct Anchor<'a> {
    /// Index among the channels of the recording, where it is one of them.
    pub own: Option<usize>,
    label: String,
    history: &'a History,
    mask: Mask,
    /// Another recorder's clock, where it is on one.
    partner: Option<&'a Partner>,
}

/// Says why nothing is compared where all microphones of a source room stood near the source.
pub fn no_room_level(project: &Project, found: &[MeasuredPosition], remarks: &mut Vec<Remark>) {
    let is = |p: &MeasuredPosition, kinds: &[UseAs]| kinds.contains(&p.use_as);
    let mut said = Vec::new();
    for near in found.iter().filter(|p| is(p, &[UseAs::NearSource]) && p.source == Some(p.room)) {
        let inside = found
            .iter()
            .any(|p| p.room == near.room && p.source == near.source && is(p, &[UseAs::Room]));
        let received = found
            .iter()
            .any(|p| p.room != near.room && p.source == near.source && is(p, &[UseAs::Room]));
        if inside || !received || said.contains(&near.room) {
            continue;
        }
        said.push(near.room);
        remarks.push(
            Remark::new(
                "measure::no-room-level",
                "every microphone of this source room stood near the source, and none tells the level \
                 of the room: no level difference is made. Record one more in the room, away from the \
                 source and the walls, or take out kind = \"near source\" where it stood so",
            )
            .at(project.building.rooms[near.room.0].name().to_owned()),
        );
    }
}

/// Time of the source that a channel can use.
pub fn source_time(listened: &Listened, k: usize) -> Mask {
    listened.timelines[k].mask(&Kind::Source)
}

fn long(mask: &Mask) -> f64 {
    mask.as_spans().iter().map(|(a, b)| b - a).sum()
}

/// The microphone of the source room with the longest time, among those that enter its level.
fn best(recording: &Recording, listened: &Listened) -> Option<usize> {
    let outside =
        matches!(recording.excitation, Excitation::LoudspeakerOutside | Excitation::Traffic);
    if matches!(recording.excitation, Excitation::TappingMachine | Excitation::RubberBall) {
        return None;
    }
    let enters = |kind| match kind {
        PositionKind::OnFacade | PositionKind::BeforeFacade => outside,
        PositionKind::Position => !outside,
        _ => false,
    };
    let mut found: Option<(usize, f64)> = None;
    for (k, channel) in recording.channels.iter().enumerate() {
        let here = Some(channel.room) == listened.source && enters(channel.kind);
        let time =
            if here && !listened.worthless[k] { long(&source_time(listened, k)) } else { 0.0 };
        if time > found.map_or(0.0, |f| f.1) {
            found = Some((k, time));
        }
    }
    found.map(|f| f.0)
}

/// The anchor of a recording: one of its own channels, else one of the recorder that ran beside it.
pub fn anchor<'a>(
    recording: &Recording,
    taken: &'a Taken,
    listened: &Listened,
    partner: Option<&'a Partner>,
) -> Option<Anchor<'a>> {
    let label = |file: &str, number| format!("{}:{number}", super::file_name(file));
    if let Some(k) = best(recording, listened) {
        return Some(Anchor {
            own: Some(k),
            label: label(&recording.file, recording.channels[k].number),
            history: &taken.heard.channels[k].history,
            mask: source_time(listened, k),
            partner: None,
        });
    }
    let partner = partner?;
    let first = &*partner.first;
    let k = best(&first.recording, &first.listened)
        .filter(|_| first.listened.source == listened.source)?;
    Some(Anchor {
        own: None,
        label: label(&first.recording.file, first.recording.channels[k].number),
        history: &first.taken.heard.channels[k].history,
        mask: source_time(&first.listened, k),
        partner: Some(partner),
    })
}

impl Anchor<'_> {
    /// Its time, on the clock of the recording that asks.
    pub fn time(&self) -> Mask {
        match self.partner {
            Some(p) => p.off_first(&self.mask),
            None => self.mask.clone(),
        }
    }

    /// How much louder the source was over the anchor's whole time than over `time`, per band.
    pub fn louder(&self, time: &Mask) -> Spectrum<LevelDifference> {
        let there = match self.partner {
            Some(p) => p.onto_first(time).and(&self.mask),
            None => time.and(&self.mask),
        };
        if there == self.mask {
            return Spectrum::from_fn(|_| LevelDifference(0.0));
        }
        let all = self.history.leq(&self.mask);
        let some = self.history.leq(&there);
        all.filter_map(|band, l| some.get(band).map(|s| LevelDifference(l.0 - s.0)))
    }

    /// What position `k` heard while both could be used; nothing where that is all its time anyway.
    pub fn in_common(
        &self,
        own: &Mask,
        history: &History,
        absolute: &dyn Fn(Statistics<wythe_recording::RelativeLevel>) -> Statistics<Level>,
    ) -> Option<InCommon> {
        let whole = self.time();
        let length = history.length().0;
        let inside = |m: &Mask| m.and(&Mask::spans(vec![(0.0, length)]));
        let (whole, own) = (inside(&whole), inside(own));
        if whole == own && self.partner.is_none() {
            return None;
        }
        let both = whole.and(&own);
        let heard = absolute(history.statistics(&both));
        let enough = heard.used.0 >= LEAST;
        Some(InCommon {
            with: self.label.clone(),
            time: heard.used,
            levels: if enough { heard.leq } else { Spectrum::empty() },
            louder: if enough { self.louder(&both) } else { Spectrum::empty() },
        })
    }
}

/// What is to be said where a position has no time in common with the source room.
pub fn remark(common: &InCommon, label: &str) -> Option<Remark> {
    common.levels.is_empty().then(|| {
        Remark::new(
            "measure::no-common-time",
            format!(
                "while the source played there is {:.1} s that both this channel and {} can use: it \
                 is compared with nothing; look at what was left out of either",
                Seconds(common.time.0).0,
                common.with
            ),
        )
        .at(label.to_owned())
    })
}
