//! Breath and fresh air: carbon dioxide in one well-mixed room, and the outdoor air that rules
//! ask for.
//!
//! Planning numbers. Which rate counts is decided by the mechanical code of the place and by
//! whoever signs for the ventilation.

use thiserror::Error;
use wythe_bands::{CubicMetre, Source, SquareMetre};

/// Volume flow, litres per second.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct LitresPerSecond(pub f64);

/// Share of carbon dioxide in air, parts per million by volume.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Ppm(pub f64);

/// Time, minutes.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Minutes(pub f64);

/// Carbon dioxide outdoors when nothing else is stated, of the size measured in recent years
/// (common practice, no source).
pub const OUTDOORS: Ppm = Ppm(420.0);

/// One cubic foot per minute, 0.3048³ m³ in 60 s.
const CFM: f64 = 0.3048 * 0.3048 * 0.3048 * 1000.0 / 60.0;
/// One square foot, m².
pub(crate) const SQUARE_FOOT: f64 = 0.3048 * 0.3048;

/// What cannot be counted.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum AirError {
    /// A number outside its range.
    #[error("{what} is {value}, which cannot be used; give {remedy}")]
    Range {
        /// Which quantity.
        what: &'static str,
        /// What was handed in.
        value: f64,
        /// What would do.
        remedy: &'static str,
    },
    /// An activity the table does not reach.
    #[error("no breath rate is printed for {age} at {met} met; give an activity from 1 to 4 met")]
    NoRate {
        /// Row of the table.
        age: &'static str,
        /// Activity.
        met: f64,
    },
}

fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    remedy: &'static str,
) -> Result<f64, AirError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(AirError::Range { what, value, remedy })
    }
}

/// One well-mixed room: its air, what is breathed into it, what is blown through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zone {
    /// Volume V.
    pub volume: CubicMetre,
    /// Outdoor air Q.
    pub flow: LitresPerSecond,
    /// Carbon dioxide G breathed out by everybody, at room temperature.
    pub breath: LitresPerSecond,
    /// Outdoors, C_out.
    pub outdoors: Ppm,
}

impl Zone {
    fn check(&self) -> Result<(), AirError> {
        within("the volume in m³", self.volume.0, 0.1, 1e7, "a volume from 0.1 to 10 million m³")?;
        within("the outdoor air in L/s", self.flow.0, 0.0, 1e7, "zero or more litres per second")?;
        within("the breath in L/s", self.breath.0, 0.0, 1e4, "zero or more litres per second")?;
        ppm("the share outdoors in ppm", self.outdoors)?;
        Ok(())
    }

    /// Litres in the room.
    fn litres(&self) -> f64 {
        1000.0 * self.volume.0
    }

    /// Share after a time from a start C_0:
    ///
    /// ```text
    /// C(t) = C_out + 10⁶ G/Q + (C_0 − C_out − 10⁶ G/Q) e^(−Q t/V)    Q > 0
    /// C(t) = C_0 + 10⁶ G t/V                                         Q = 0
    /// ```
    ///
    /// Source: mass balance of one well-mixed zone (derived; the form is that of textbooks).
    ///
    /// # Errors
    /// A number out of range.
    ///
    /// ```
    /// use wythe_bands::CubicMetre;
    /// use wythe_findings::caution::air::{LitresPerSecond, Minutes, OUTDOORS, Zone};
    /// // A drummer and three players in 78 m³ with nothing open: 2437 ppm after an hour.
    /// let sealed = Zone {
    ///     volume: CubicMetre(78.0),
    ///     flow: LitresPerSecond(0.0),
    ///     breath: LitresPerSecond(0.0437),
    ///     outdoors: OUTDOORS,
    /// };
    /// let share = sealed.concentration(OUTDOORS, Minutes(60.0))?;
    /// assert!((share.0 - 2436.9).abs() < 0.5);
    /// # Ok::<(), wythe_findings::caution::air::AirError>(())
    /// ```
    pub fn concentration(&self, start: Ppm, after: Minutes) -> Result<Ppm, AirError> {
        self.check()?;
        let c0 = ppm("the share at the start in ppm", start)?;
        let t = 60.0 * within("the time in minutes", after.0, 0.0, 1e7, "zero or more minutes")?;
        let (v, q, g) = (self.litres(), self.flow.0, self.breath.0);
        let turns = q * t / v;
        // (1 − e^(−x))/x stays exact where the fan hardly turns, and is 1 where it stands.
        let mean = if turns > 0.0 { -(-turns).exp_m1() / turns } else { 1.0 };
        let cout = self.outdoors.0;
        Ok(Ppm(cout + (c0 - cout) * (-turns).exp() + 1e6 * g * t / v * mean))
    }

    /// Share the room settles at, C_out + 10⁶ G/Q; `None` where it never settles (people, no fan).
    ///
    /// # Errors
    /// A number out of range.
    pub fn steady_state(&self) -> Result<Option<Ppm>, AirError> {
        self.check()?;
        if self.breath.0 == 0.0 {
            return Ok(Some(self.outdoors));
        }
        let rise = 1e6 * self.breath.0 / self.flow.0;
        Ok(rise.is_finite().then_some(Ppm(self.outdoors.0 + rise)))
    }

    /// Minutes until a limit is reached from a start; zero when it is reached already, `None` when
    /// it never is.
    ///
    /// # Errors
    /// A number out of range.
    pub fn minutes_until(&self, limit: Ppm, start: Ppm) -> Result<Option<Minutes>, AirError> {
        self.check()?;
        let limit = ppm("the limit in ppm", limit)?;
        let c0 = ppm("the share at the start in ppm", start)?;
        if c0 >= limit {
            return Ok(Some(Minutes(0.0)));
        }
        let (v, q, g) = (self.litres(), self.flow.0, self.breath.0);
        if q == 0.0 {
            let t = (limit - c0) * v / (1e6 * g) / 60.0;
            return Ok(t.is_finite().then_some(Minutes(t)));
        }
        let settles = self.outdoors.0 + 1e6 * g / q;
        if settles <= limit {
            return Ok(None);
        }
        // ln((C_s − C_0)/(C_s − C_limit)) written so that a nearly still fan keeps its digits.
        let t = v / q * ((limit - c0) / (settles - limit)).ln_1p();
        Ok(t.is_finite().then_some(Minutes(t / 60.0)))
    }

    /// Outdoor air that holds a limit for ever, Q = 10⁶ G/(C_limit − C_out).
    ///
    /// # Errors
    /// A number out of range, or a limit not above the share outdoors.
    pub fn flow_to_hold(&self, limit: Ppm) -> Result<LitresPerSecond, AirError> {
        required_flow(self.breath, limit, self.outdoors)
    }
}

/// Outdoor air that holds a limit for ever, Q = 10⁶ G/(C_limit − C_out).
///
/// # Errors
/// A number out of range, or a limit not above the share outdoors.
pub fn required_flow(
    breath: LitresPerSecond,
    limit: Ppm,
    outdoors: Ppm,
) -> Result<LitresPerSecond, AirError> {
    let g = within("the breath in L/s", breath.0, 0.0, 1e4, "zero or more litres per second")?;
    let (limit, outdoors) =
        (ppm("the limit in ppm", limit)?, ppm("the share outdoors in ppm", outdoors)?);
    if !(limit - outdoors >= 1.0) {
        return Err(AirError::Range {
            what: "the limit in ppm",
            value: limit,
            remedy: "a limit above the share outdoors; no fan can do better than outdoors",
        });
    }
    Ok(LitresPerSecond(1e6 * g / (limit - outdoors)))
}

fn ppm(what: &'static str, share: Ppm) -> Result<f64, AirError> {
    within(what, share.0, 0.0, 1e6, "a share from 0 to 1 000 000 ppm")
}

/// Age of the people in the table of breath rates.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Age {
    /// 11 to 16 years.
    From11,
    /// 16 to 21 years.
    From16,
    /// 21 to 30 years.
    From21,
    /// 30 to 40 years.
    From30,
    /// 40 to 50 years.
    From40,
    /// 60 to 70 years.
    From60,
}

/// Activities of the columns, met.
const MET: [f64; 7] = [1.0, 1.2, 1.4, 1.6, 2.0, 3.0, 4.0];

impl Age {
    /// Row of the table nearest to an age in years; what is younger than 11 or older than 70
    /// takes the first or the last.
    pub fn of(years: f64) -> Age {
        match years {
            y if y < 16.0 => Age::From11,
            y if y < 21.0 => Age::From16,
            y if y < 30.0 => Age::From21,
            y if y < 40.0 => Age::From30,
            y if y < 55.0 => Age::From40,
            _ => Age::From60,
        }
    }

    /// Name in messages.
    pub fn words(self) -> &'static str {
        match self {
            Age::From11 => "men of 11 to 16 years",
            Age::From16 => "men of 16 to 21 years",
            Age::From21 => "men of 21 to 30 years",
            Age::From30 => "men of 30 to 40 years",
            Age::From40 => "men of 40 to 50 years",
            Age::From60 => "men of 60 to 70 years",
        }
    }

    /// Carbon dioxide one man breathes out at 0 °C and 1 atm, L/s, column by column.
    fn row(self) -> [f64; 7] {
        match self {
            Age::From11 => [0.0034, 0.0041, 0.0048, 0.0054, 0.0068, 0.0102, 0.0136],
            Age::From16 => [0.0037, 0.0045, 0.0053, 0.0060, 0.0075, 0.0113, 0.0150],
            Age::From21 => [0.0039, 0.0048, 0.0056, 0.0064, 0.0080, 0.0120, 0.0160],
            Age::From30 => [0.0037, 0.0046, 0.0053, 0.0061, 0.0076, 0.0114, 0.0152],
            Age::From40 => [0.0038, 0.0046, 0.0054, 0.0062, 0.0077, 0.0116, 0.0155],
            Age::From60 => [0.0033, 0.0040, 0.0046, 0.0053, 0.0066, 0.0099, 0.0133],
        }
    }
}

/// Where the breath rates come from.
pub const BREATH_SOURCE: Source =
    Source::Published { key: "persily-dejonge-2017", place: "Table 4, men, by transcriptions" };

/// Carbon dioxide one man breathes out at 0 °C and 1 atm, 1 to 4 met; straight lines between the
/// printed activities (their rates are proportional to the activity within the printed digit).
/// Women's rates are lower by about a quarter (from memory), so these err towards more air.
///
/// Source: Persily and de Jonge, Indoor Air 27 (2017) 868-879, Table 4, by two transcriptions.
///
/// # Errors
/// An activity outside 1 to 4 met.
pub fn breath_rate(age: Age, met: f64) -> Result<LitresPerSecond, AirError> {
    let row = age.row();
    let none = AirError::NoRate { age: age.words(), met };
    if !(1.0..=4.0).contains(&met) {
        return Err(none);
    }
    let above = MET.iter().position(|&m| met <= m + 1e-12).ok_or(none)?;
    let below = above.saturating_sub(1);
    if above == below {
        return Ok(LitresPerSecond(row[0]));
    }
    let share = ((met - MET[below]) / (MET[above] - MET[below])).clamp(0.0, 1.0);
    Ok(LitresPerSecond(row[below] + share * (row[above] - row[below])))
}

/// The same gas at room temperature: · (273.15 + ϑ)/273.15 (ideal gas, derived).
///
/// # Errors
/// A rate or temperature out of range.
pub fn at_temperature(rate: LitresPerSecond, celsius: f64) -> Result<LitresPerSecond, AirError> {
    within("the breath in L/s", rate.0, 0.0, 1e4, "zero or more litres per second")?;
    within("the temperature in °C", celsius, -40.0, 80.0, "a room from -40 to 80 °C")?;
    Ok(LitresPerSecond(rate.0 * (273.15 + celsius) / 273.15))
}

/// Use of a space in the table of outdoor air.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SpaceUse {
    /// Music, theatre, dance.
    Music,
    /// Assembly for several uses.
    Assembly,
    /// Lecture classroom.
    Lecture,
}

impl SpaceUse {
    /// R_p in L/s per person and R_a in L/s per m².
    fn rates(self) -> (f64, f64) {
        match self {
            SpaceUse::Music => (5.0, 0.3),
            SpaceUse::Assembly | SpaceUse::Lecture => (3.8, 0.3),
        }
    }
}

/// Where the rates per person and area come from.
pub const ROOM_RATE_SOURCE: Source =
    Source::Published { key: "ashrae-62-1-2016", place: "Table 6.2.2.1, public copy" };

/// Outdoor air in the breathing zone of a public room, V_bz = R_p P_z + R_a A_z.
///
/// The standard says of itself that it does not cover the inside of dwellings.
/// Source: ASHRAE 62.1-2016, Table 6.2.2.1 (public copy of the table).
///
/// # Errors
/// An area out of range.
pub fn breathing_zone_flow(
    space: SpaceUse,
    people: u32,
    area: SquareMetre,
) -> Result<LitresPerSecond, AirError> {
    let a = within("the floor area in m²", area.0, 0.0, 1e6, "an area from 0 to 1 million m²")?;
    let (per_person, per_area) = space.rates();
    Ok(LitresPerSecond(per_person * f64::from(people) + per_area * a))
}

/// Where the dwelling rule comes from.
pub const DWELLING_RATE_SOURCE: Source =
    Source::Published { key: "ashrae-62-2", place: "Eq. 4.1a, cfm form, public restatement" };

/// Outdoor air of a whole dwelling, Q = 0.03 A + 7.5 (N_br + 1), A in ft², Q in cfm.
///
/// Source: ASHRAE 62.2, Eq. (4.1a).
///
/// # Errors
/// An area out of range.
pub fn dwelling_total_flow(area: SquareMetre, bedrooms: u32) -> Result<LitresPerSecond, AirError> {
    let a = within("the floor area in m²", area.0, 0.0, 1e6, "an area from 0 to 1 million m²")?;
    let cfm = 0.03 * a / SQUARE_FOOT + 7.5 * (f64::from(bedrooms) + 1.0);
    Ok(LitresPerSecond(cfm * CFM))
}

impl LitresPerSecond {
    /// In cubic feet per minute.
    pub fn cfm(self) -> f64 {
        self.0 / CFM
    }
}

/// Free area a flow needs at a speed, A = Q/v.
///
/// # Errors
/// A flow below zero or a speed not above zero.
pub fn free_area(flow: LitresPerSecond, metres_per_second: f64) -> Result<SquareMetre, AirError> {
    let q = within("the flow in L/s", flow.0, 0.0, 1e7, "zero or more litres per second")?;
    let v = within("the speed in m/s", metres_per_second, 1e-3, 100.0, "a speed above zero")?;
    Ok(SquareMetre(q / 1000.0 / v))
}
