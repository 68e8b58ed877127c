//! What is loud.

use wythe_bands::{Level, LevelDifference, Spectrum, Standpoint};

use crate::{Hours, RoomIndex};

/// Levels over the whole axis.
pub type Spectrum31 = Spectrum<Level>;

/// A sound source, as the level it makes in its own room.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundSource {
    /// The user's name for it.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// Its room.
    pub room: RoomIndex,
    /// Room-average level per band in its own room.
    pub levels: Spectrum31,
    /// Whether the spectrum was invented for the demonstration.
    pub invented: bool,
    /// How far its fast-weighted maximum lies above `levels`, if known.
    pub maximum_above: Option<LevelDifference>,
    /// When it plays; `None` for any time.
    pub hours: Option<Hours>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

impl SoundSource {
    /// Title if there is one, else the id.
    pub fn name(&self) -> &str {
        self.title.as_deref().unwrap_or(&self.id)
    }
}
