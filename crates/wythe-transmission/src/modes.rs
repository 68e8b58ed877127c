//! What few modes take from the word "level" in a small room.

use wythe_bands::{Air, Band};
use wythe_building::Room;
use wythe_building::modes::{FieldTrust, modal_overlap, modes_in_band};

use crate::assemble::per_band;
use crate::{BANDS, PerBand};

/// How far a band level in a room may be trusted as the room's level: by the modes in the band and
/// their overlap. Outdoors has no modes and is always trusted.
pub fn trust(room: &Room, air: Air, band: Band) -> FieldTrust {
    if room.outdoors {
        return FieldTrust::Diffuse;
    }
    let modes = modes_in_band(room.volume, band, air.sound_speed());
    let density = modes / (band.upper_edge().0 - band.lower_edge().0);
    let decay = room.decay_time(air).get(band).unwrap_or(wythe_bands::Seconds(0.5));
    FieldTrust::of(modes, modal_overlap(density, decay))
}

/// Standard deviation of the level from place to place in a room with a source that stays where it
/// is, dB per band; nothing outdoors. The stated deviation of a level is that of the room's level;
/// this is what a listener in one place has on top.
///
/// [`wythe_building::modes::spread_over_positions`] times
/// [`wythe_building::modes::FIXED_SOURCE_FACTOR`].
pub fn position_spread(room: &Room, air: Air) -> PerBand {
    if room.outdoors {
        return [0.0; BANDS];
    }
    let times = room.decay_time(air);
    per_band(|b| {
        let width = wythe_bands::Hertz(b.upper_edge().0 - b.lower_edge().0);
        let decay = times.get(b).unwrap_or(wythe_bands::Seconds(0.5));
        wythe_building::modes::FIXED_SOURCE_FACTOR
            * wythe_building::modes::spread_over_positions(width, decay).0
    })
}

pub(crate) fn modal_deviation(room: &Room, air: Air) -> PerBand {
    if room.outdoors {
        return [0.0; BANDS];
    }
    per_band(|b| trust(room, air, b).added_deviation().0)
}
