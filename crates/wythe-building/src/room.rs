//! Rooms: how big, how hard, how quiet by themselves.

use wythe_bands::{
    Air, CubicMetre, Level, Metre, Octave, Seconds, Spectrum, SquareMetre, Standpoint,
};

use crate::outline::Outline;

/// A room, or the outdoors.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// Storey, 0 at the ground, negative below.
    pub storey: i32,
    /// Inner faces of the walls, if drawn.
    pub outline: Option<Outline>,
    /// Clear height, if stated.
    pub height: Option<Metre>,
    /// Volume; of no meaning outdoors.
    pub volume: CubicMetre,
    /// Floor area; of no meaning outdoors.
    pub floor_area: SquareMetre,
    /// Whether this is the outdoors: a receiver that sends nothing back.
    pub outdoors: bool,
    /// Distance from the building to the point of interest outdoors; at least 1 m.
    pub distance: Option<Metre>,
    /// What the room swallows.
    pub absorption: Absorption,
    /// Sound in the room by itself at the hour that counts, if measured or stated.
    pub background: Option<Spectrum<Level>>,
    /// How well the room is known.
    pub standpoint: Standpoint,
}

/// How the absorption of a room is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Absorption {
    /// Equivalent absorption area per band, stated.
    Area(Spectrum<SquareMetre>),
    /// Decay time per band, stated or measured.
    DecayTime(Spectrum<Seconds>),
    /// Surfaces with their finishes, and objects.
    Finishes(Vec<Surface>),
}

/// A surface with a finish.
#[derive(Clone, Debug, PartialEq)]
pub struct Surface {
    /// Name in the table of finishes, such as `gypsum on studs`.
    pub finish: String,
    /// Area.
    pub area: SquareMetre,
}

impl Room {
    /// Title if there is one, else the id.
    pub fn name(&self) -> &str {
        self.title.as_deref().unwrap_or(&self.id)
    }

    /// Equivalent absorption area per band, m², with the air's share in indoor rooms, 20 Hz to
    /// 10 kHz, and its relative standard deviation (pure ratio). Bands the description lacks take
    /// the nearest band that has a value. Every value is at least 0.1 m² so that the power
    /// balance stays solvable; a real room has more.
    ///
    /// Sabine's relation A = 24 ln 10 / c · V / T; air as 4 m V (ISO 12354-6 form).
    pub fn absorption_area(&self, air: Air) -> (Spectrum<SquareMetre>, f64) {
        let (areas, spread): (Spectrum<SquareMetre>, f64) = match &self.absorption {
            Absorption::Area(areas) => (*areas, 0.10),
            Absorption::DecayTime(times) => {
                // A measured decay already holds the air's share.
                let areas = times.map(|_, t| air.sabine_area(self.volume, t));
                return (fill(areas), 0.10);
            }
            Absorption::Finishes(surfaces) => (crate::finish::absorption_area(surfaces), 0.20),
        };
        let filled = fill(areas).map(|band, a| {
            let in_air = 4.0 * air.power_attenuation(band.centre()) * self.volume.0.max(0.0);
            SquareMetre(a.0 + if self.outdoors { 0.0 } else { in_air })
        });
        (filled, spread)
    }

    /// Decay time per band by Sabine's relation from [`Room::absorption_area`].
    pub fn decay_time(&self, air: Air) -> Spectrum<Seconds> {
        let (areas, _) = self.absorption_area(air);
        areas.map(|_, a| Seconds(air.sabine_constant() * self.volume.0 / a.0))
    }

    /// Sides of a box-shaped room, the longer of the plan first, the height last; `None` where the
    /// outline is no rectangle or the height is not known. For [`crate::modes::list`].
    pub fn box_sides(&self) -> Option<[Metre; 3]> {
        let [long, short] = self.outline.as_ref()?.rectangle()?;
        Some([long, short, self.height?])
    }

    /// Schroeder's frequency 2000 √(T/V) at the 500 Hz octave's decay time, Hz: below it single
    /// modes rule. Source: Kuttruff, Room Acoustics, as quoted in building-acoustics handbooks.
    pub fn schroeder_frequency(&self, air: Air) -> f64 {
        let times = self.decay_time(air);
        let octave = Octave::all().find(|o| o.nominal() == "500");
        let t = octave.and_then(|o| times.get(o.centre_band())).map_or(0.5, |t| t.0);
        2000.0 * (t / self.volume.0).sqrt()
    }
}

/// Every band to 10 kHz with a value: missing ones take the nearest that has one.
fn fill(areas: Spectrum<SquareMetre>) -> Spectrum<SquareMetre> {
    use wythe_bands::Band;
    const LEAST: f64 = 0.1;
    Band::range(Band::FIRST, Band::HZ_10000)
        .map(|band| {
            let nearest = areas
                .iter()
                .min_by_key(|(b, _)| b.index().abs_diff(band.index()))
                .map_or(SquareMetre(LEAST), |(_, a)| a);
            let a = if nearest.0.is_finite() { nearest.0.max(LEAST) } else { LEAST };
            (band, SquareMetre(a))
        })
        .collect()
}
