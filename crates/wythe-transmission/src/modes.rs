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

pub(crate) fn modal_deviation(room: &Room, air: Air) -> PerBand {
    if room.outdoors {
        return [0.0; BANDS];
    }
    per_band(|b| trust(room, air, b).added_deviation().0)
}
