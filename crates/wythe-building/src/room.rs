//! Rooms: how big, how hard, how quiet by themselves.

use wythe_bands::{
    Air, Band, CubicMetre, Level, Metre, Octave, Seconds, Spectrum, SquareMetre, Standpoint,
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
    /// 10 kHz, and its relative standard deviation (pure ratio), the mean over the bands 100 Hz to
    /// 5 kHz of [`Room::absorption_spread`]. Bands the description lacks take the nearest band
    /// that has a value. Every value is at least 0.1 m² so that the power balance stays solvable;
    /// a real room has more.
    ///
    /// Sabine's relation A = 24 ln 10 / c · V / T; air as 4 m V (ISO 12354-6 form). Where the
    /// mean coefficient of stated finishes is above [`SABINE_LIMIT`], Eyring's A = −S ln(1 − ᾱ)
    /// takes the place of Sabine's sum.
    pub fn absorption_area(&self, air: Air) -> (Spectrum<SquareMetre>, f64) {
        let areas: Spectrum<SquareMetre> = match &self.absorption {
            Absorption::Area(areas) => *areas,
            Absorption::DecayTime(times) => {
                // A measured decay already holds the air's share.
                let areas = times.map(|_, t| air.sabine_area(self.volume, t));
                return (fill(areas), self.mean_spread(air));
            }
            Absorption::Finishes(surfaces) => {
                let total = surface(surfaces);
                crate::finish::absorption_area(surfaces)
                    .map(|_, a| SquareMetre(eyring(a.0, total).0))
            }
        };
        let filled = fill(areas).map(|band, a| {
            let in_air = 4.0 * air.power_attenuation(band.centre()) * self.volume.0.max(0.0);
            SquareMetre(a.0 + if self.outdoors { 0.0 } else { in_air })
        });
        (filled, self.mean_spread(air))
    }

    /// Relative standard deviation of the absorption area per band (pure ratio).
    ///
    /// A stated decay time or area: a tenth, 5 % on top where no band near has a value. Finishes:
    /// the spread between the sources of each finish ([`crate::finish::Coefficient::spread`]),
    /// together with half the difference between Sabine's and Eyring's sums, because neither is
    /// the truth in a room whose surfaces are unlike each other.
    pub fn absorption_spread(&self, air: Air) -> Spectrum<f64> {
        /// ±10 % after calibration: JASA 152, 1158 (2022), abstract.
        const STATED: f64 = 0.10;
        /// For a band taken from a neighbour an octave off (common practice, no source).
        const PER_OCTAVE_AWAY: f64 = 0.05;
        let stated = |given: &dyn Fn(Band) -> bool| {
            axis()
                .map(|band| {
                    let away = (0..axis().count())
                        .filter_map(Band::at)
                        .filter(|b| given(*b))
                        .map(|b| b.index().abs_diff(band.index()))
                        .min()
                        .unwrap_or(0);
                    (band, STATED + PER_OCTAVE_AWAY * away as f64 / 3.0)
                })
                .collect()
        };
        match &self.absorption {
            Absorption::Area(areas) => stated(&|b| areas.get(b).is_some()),
            Absorption::DecayTime(times) => stated(&|b| times.get(b).is_some()),
            Absorption::Finishes(surfaces) => {
                let total = surface(surfaces);
                let known = crate::finish::absorption_area_with_spread(surfaces);
                axis()
                    .map(|band| {
                        let Some((mean, spread)) = known.get(band) else { return (band, 0.5) };
                        let in_air =
                            4.0 * air.power_attenuation(band.centre()) * self.volume.0.max(0.0);
                        let (area, other) = eyring(mean.0, total);
                        let choice = 0.5 * (area - other).abs();
                        let whole = (area + in_air).max(0.1);
                        (band, spread.0.hypot(choice) / whole)
                    })
                    .collect()
            }
        }
    }

    fn mean_spread(&self, air: Air) -> f64 {
        let all = self.absorption_spread(air);
        let middle: Vec<f64> =
            Band::range(Band::HZ_100, Band::HZ_5000).filter_map(|b| all.get(b)).collect();
        if middle.is_empty() { 0.10 } else { middle.iter().sum::<f64>() / middle.len() as f64 }
    }

    /// What can be said about the room below Schroeder's frequency, as a sentence without a full
    /// stop; `None` outdoors.
    pub fn low_frequency_statement(&self, air: Air) -> Option<String> {
        if self.outdoors || !(self.volume.0 > 0.0) {
            return None;
        }
        let schroeder = self.schroeder_frequency(air);
        let c = air.sound_speed();
        let below = crate::modes::smoothed_count_of_cube(self.volume, wythe_bands::Hertz(100.0), c);
        Some(format!(
            "below about {schroeder:.0} Hz single modes rule in {} ({below:.0} modes up to 100 Hz), \
             so band levels there depend on where one stands; the border is not sharp",
            self.name()
        ))
    }

    /// Standing waves up to `highest` with the nearest pitch and how far off it lies, hundredths
    /// of a semitone; empty where the room is no box or the list would be too long to use.
    pub fn modes_with_pitch(
        &self,
        highest: wythe_bands::Hertz,
        air: Air,
    ) -> Vec<(crate::modes::Mode, Option<(String, i32)>)> {
        let Some(sides) = self.box_sides() else { return Vec::new() };
        crate::modes::list(sides, highest, air.sound_speed())
            .unwrap_or_default()
            .into_iter()
            .map(|m| (m, crate::modes::nearest_pitch(m.frequency)))
            .collect()
    }

    /// Decay time per band, T = 24 ln 10 / c · V / A with [`Room::absorption_area`], which is
    /// Sabine's where the room is live and Eyring's where its finishes are absorbing.
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

/// Mean absorption coefficient from which Sabine's sum overstates too much (common practice; in
/// ISO 12354-6 its range ends there too, from memory). At the border Eyring's area is 19 % larger,
/// 0.75 dB.
pub const SABINE_LIMIT: f64 = 0.3;

/// Absorption area of surfaces `total` m² with Sabine's sum `sum` m²: what is used, and the other.
///
/// Eyring: A = −S ln(1 − ᾱ), ᾱ held to 0.98: a coefficient of one would be no room any more.
fn eyring(sum: f64, total: f64) -> (f64, f64) {
    if !(total > 0.0) {
        return (sum, sum);
    }
    let mean = (sum / total).clamp(0.0, 0.98);
    let by_eyring = -total * (-mean).ln_1p();
    if mean > SABINE_LIMIT { (by_eyring.max(sum), sum) } else { (sum, by_eyring) }
}

/// Area of the surfaces that bound the room; persons and pieces have none.
fn surface(surfaces: &[Surface]) -> f64 {
    surfaces
        .iter()
        .filter(|s| crate::finish::finish(&s.finish).is_some_and(|f| !f.each))
        .map(|s| if s.area.0.is_finite() { s.area.0.max(0.0) } else { 0.0 })
        .sum()
}

/// Bands that are calculated.
fn axis() -> impl Iterator<Item = Band> {
    Band::range(Band::FIRST, Band::HZ_10000)
}

/// Every band to 10 kHz with a value: missing ones take the nearest that has one.
fn fill(areas: Spectrum<SquareMetre>) -> Spectrum<SquareMetre> {
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
