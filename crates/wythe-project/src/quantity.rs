//! Text with a unit, and the SI number it stands for.

use wythe_bands::weighting::Weighting;

/// Kinds of quantity the project file knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// m.
    Length,
    /// m².
    Area,
    /// m³.
    Volume,
    /// kg/m².
    SurfaceMass,
    /// kg/m³.
    Density,
    /// dB re 20 µPa, without weighting.
    Level,
    /// dB.
    Difference,
    /// s.
    Time,
    /// Hz.
    Frequency,
    /// Pa·s/m².
    FlowResistivity,
    /// N/m³.
    DynamicStiffness,
    /// °C.
    Temperature,
    /// %.
    Percent,
    /// Pa.
    Pressure,
    /// L/s of air.
    AirFlow,
    /// kW.
    Power,
}

/// Why a text is no such quantity.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// Nothing there.
    #[error("is empty")]
    Empty,
    /// A number alone.
    #[error("`{0}` has no unit")]
    NoUnit(String),
    /// A comma where a point belongs.
    #[error("`{0}` has a comma in a number; decimals are written with a point")]
    Comma(String, String),
    /// No number in front.
    #[error("`{0}` does not begin with a number")]
    NoNumber(String),
    /// A unit that is not known or of another kind.
    #[error("`{0}` is no unit of {1}")]
    Unit(String, &'static str),
    /// Feet and inches in the wrong order, or a part that is too large.
    #[error("`{0}` does not run from the larger unit to the smaller")]
    Order(String),
    /// Larger than a number can be.
    #[error("`{0}` is no finite number")]
    NotFinite(String),
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;
/// International avoirdupois pound, kg, exact by the yard and pound agreement of 1959.
const POUND: f64 = 0.453_592_37;
/// One Btu (International Table) per hour, kW: 1055.055 852 62 J over 3600 s.
const BTU_PER_HOUR: f64 = 1.055_055_852_62 / 3600.0;

impl Quantity {
    /// The kind in words, plural.
    pub fn plural(self) -> &'static str {
        match self {
            Quantity::Length => "length",
            Quantity::Area => "area",
            Quantity::Volume => "volume",
            Quantity::SurfaceMass => "mass per area",
            Quantity::Density => "density",
            Quantity::Level => "sound level",
            Quantity::Difference => "level difference",
            Quantity::Time => "time",
            Quantity::Frequency => "frequency",
            Quantity::FlowResistivity => "airflow resistivity",
            Quantity::DynamicStiffness => "dynamic stiffness",
            Quantity::Temperature => "temperature",
            Quantity::Percent => "percentage",
            Quantity::Pressure => "pressure",
            Quantity::AirFlow => "air flow",
            Quantity::Power => "power",
        }
    }

    /// Ways to write it, for people.
    pub fn forms(self) -> &'static str {
        match self {
            Quantity::Length => {
                "`\"2.7 m\"`, `\"27 cm\"`, `\"15.9 mm\"`, `\"8 ft 2 in\"`, `\"8' 2\\\"\"`, `\"5/8 in\"`, `\"1 1/2 in\"`"
            }
            Quantity::Area => "`\"10 m2\"`, `\"10 m²\"`, `\"108 ft2\"`",
            Quantity::Volume => "`\"60 m3\"`, `\"2100 ft3\"`",
            Quantity::Density => "`\"750 kg/m3\"`, `\"47 lb/ft3\"`",
            Quantity::SurfaceMass => "`\"11.5 kg/m2\"`, `\"2.3 lb/ft2\"`, `\"2.3 psf\"`",
            Quantity::Level => "`\"35 dB\"`, `\"108 dB Leq\"`",
            Quantity::Difference => "`\"6 dB\"`",
            Quantity::Time => "`\"0.5 s\"`, `\"350 ms\"`, `\"2 min\"`, `\"1:10\"`, `\"1:02:10.5\"`",
            Quantity::Frequency => "`\"250 Hz\"`, `\"1 kHz\"`",
            Quantity::FlowResistivity => {
                "`\"10000 Pa s/m2\"`, `\"10 kPa s/m2\"`, `\"10000 rayl/m\"`"
            }
            Quantity::DynamicStiffness => "`\"15 MN/m3\"`",
            Quantity::Temperature => "`\"20 °C\"`, `\"68 °F\"`",
            Quantity::Percent => "`\"50 %\"`",
            Quantity::Pressure => "`\"101325 Pa\"`, `\"1013 hPa\"`",
            Quantity::AirFlow => "`\"60 L/s\"`, `\"216 m3/h\"`, `\"127 cfm\"`",
            Quantity::Power => "`\"24 kW\"`, `\"80000 Btu/h\"`",
        }
    }

    /// The unit a message prints values in.
    pub fn unit(self) -> &'static str {
        match self {
            Quantity::Length => "m",
            Quantity::Area => "m2",
            Quantity::Volume => "m3",
            Quantity::SurfaceMass => "kg/m2",
            Quantity::Density => "kg/m3",
            Quantity::Level | Quantity::Difference => "dB",
            Quantity::Time => "s",
            Quantity::Frequency => "Hz",
            Quantity::FlowResistivity => "Pa s/m2",
            Quantity::DynamicStiffness => "N/m3",
            Quantity::Temperature => "°C",
            Quantity::Percent => "%",
            Quantity::Pressure => "Pa",
            Quantity::AirFlow => "L/s",
            Quantity::Power => "kW",
        }
    }

    /// Factor and offset to SI (or °C) of a unit: value · factor + offset.
    fn scale(self, unit: &str) -> Option<(f64, f64)> {
        let u = plain(unit);
        let factor =
            match self {
                Quantity::Length => return length_unit(&u).map(|f| (f, 0.0)),
                Quantity::Area => match u.as_str() {
                    "m2" | "sqm" | "sq m" => 1.0,
                    "cm2" => 1e-4,
                    "mm2" => 1e-6,
                    "ft2" | "sqft" | "sq ft" => FOOT * FOOT,
                    "in2" | "sqin" | "sq in" => INCH * INCH,
                    _ => return None,
                },
                Quantity::Volume => match u.as_str() {
                    "m3" => 1.0,
                    "l" | "dm3" => 1e-3,
                    "ft3" | "cuft" | "cu ft" => FOOT * FOOT * FOOT,
                    _ => return None,
                },
                Quantity::SurfaceMass => match u.as_str() {
                    "kg/m2" => 1.0,
                    "g/m2" => 1e-3,
                    "lb/ft2" | "lbs/ft2" | "psf" => POUND / (FOOT * FOOT),
                    _ => return None,
                },
                Quantity::Density => match u.as_str() {
                    "kg/m3" => 1.0,
                    "g/cm3" => 1000.0,
                    "lb/ft3" | "lbs/ft3" | "pcf" => POUND / (FOOT * FOOT * FOOT),
                    _ => return None,
                },
                Quantity::Level => match u.as_str() {
                    "db" | "dbz" | "db z" | "db(z)" | "db leq" | "dbz leq" | "db spl"
                    | "db lzeq" => 1.0,
                    _ => return None,
                },
                Quantity::Difference => match u.as_str() {
                    "db" => 1.0,
                    _ => return None,
                },
                Quantity::Time => match u.as_str() {
                    "s" | "sec" => 1.0,
                    "ms" => 1e-3,
                    "min" => 60.0,
                    "h" => 3600.0,
                    _ => return None,
                },
                Quantity::Frequency => match u.as_str() {
                    "hz" => 1.0,
                    "khz" => 1000.0,
                    _ => return None,
                },
                Quantity::FlowResistivity => match u.as_str() {
                    "pa s/m2" | "pas/m2" | "n s/m4" | "ns/m4" | "rayl/m" | "rayls/m"
                    | "mks rayl/m" => 1.0,
                    "kpa s/m2" | "kpas/m2" | "kn s/m4" => 1000.0,
                    _ => return None,
                },
                Quantity::DynamicStiffness => match u.as_str() {
                    "mn/m3" | "mpa/m" => 1e6,
                    "kn/m3" | "kpa/m" => 1e3,
                    "n/m3" | "pa/m" => 1.0,
                    _ => return None,
                },
                Quantity::Temperature => {
                    return match u.as_str() {
                        "°c" | "c" | "degc" | "deg c" => Some((1.0, 0.0)),
                        "°f" | "f" | "degf" | "deg f" => Some((5.0 / 9.0, -160.0 / 9.0)),
                        "k" => Some((1.0, -273.15)),
                        _ => None,
                    };
                }
                Quantity::Percent => match u.as_str() {
                    "%" | "percent" => 1.0,
                    _ => return None,
                },
                Quantity::Pressure => match u.as_str() {
                    "pa" => 1.0,
                    "hpa" | "mbar" => 100.0,
                    "kpa" => 1000.0,
                    _ => return None,
                },
                Quantity::AirFlow => match u.as_str() {
                    "l/s" => 1.0,
                    "m3/h" => 1.0 / 3.6,
                    "m3/s" => 1000.0,
                    "cfm" | "ft3/min" => FOOT * FOOT * FOOT * 1000.0 / 60.0,
                    _ => return None,
                },
                Quantity::Power => match u.as_str() {
                    "kw" => 1.0,
                    "w" => 1e-3,
                    "btu/h" => BTU_PER_HOUR,
                    _ => return None,
                },
            };
        Some((factor, 0.0))
    }
}

/// Parses a quantity to its SI number (°C and % stay what they are; air flows are L/s, powers kW).
///
/// ```
/// use wythe_project::quantity::{Quantity, parse};
/// assert_eq!(parse(Quantity::Length, "5/8 in").unwrap(), 0.015875);
/// assert!((parse(Quantity::Length, "8' 2\"").unwrap() - 2.4892).abs() < 1e-12);
/// assert_eq!(parse(Quantity::Time, "1:10").unwrap(), 70.0);
/// assert!(parse(Quantity::Length, "240").is_err());
/// ```
///
/// # Errors
/// [`QuantityError`] says what is wrong with the text.
pub fn parse(quantity: Quantity, text: &str) -> Result<f64, QuantityError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(QuantityError::Empty);
    }
    if quantity == Quantity::Time
        && text.contains(':')
        && let Some(seconds) = clock(text)
    {
        return Ok(seconds);
    }
    if quantity == Quantity::Length {
        return parse_length(text);
    }
    let (value, unit) = one(text)?;
    let unit = unit.trim();
    if unit.is_empty() {
        return Err(QuantityError::NoUnit(text.to_owned()));
    }
    let (factor, offset) = quantity
        .scale(unit)
        .ok_or_else(|| QuantityError::Unit(unit.to_owned(), quantity.plural()))?;
    finite(value * factor + offset, text)
}

/// Parses a level and its weighting: `"108 dB Leq"`, `"82 dBA"`, `"95 dB(C)"`.
///
/// # Errors
/// [`QuantityError`] says what is wrong with the text.
pub fn parse_level(text: &str) -> Result<(f64, Weighting), QuantityError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(QuantityError::Empty);
    }
    let (value, unit) = one(text)?;
    let unit = unit.trim();
    if unit.is_empty() {
        return Err(QuantityError::NoUnit(text.to_owned()));
    }
    let plain = plain(unit);
    let bare = plain.strip_suffix("leq").map_or(plain.as_str(), str::trim_end);
    let weighting = match bare {
        "db" | "dbz" | "db z" | "db(z)" | "db spl" | "db lzeq" => Weighting::Z,
        "dba" | "db a" | "db(a)" | "db laeq" => Weighting::A,
        "dbc" | "db c" | "db(c)" | "db lceq" => Weighting::C,
        _ => return Err(QuantityError::Unit(unit.to_owned(), "sound level")),
    };
    Ok((finite(value, text)?, weighting))
}

/// Parses a number without unit, as a criterion holds one.
pub(crate) fn number(text: &str) -> Option<f64> {
    match one(text.trim()) {
        Ok((value, rest)) if rest.trim().is_empty() => Some(value),
        _ => None,
    }
}

fn finite(value: f64, text: &str) -> Result<f64, QuantityError> {
    if value.is_finite() { Ok(value) } else { Err(QuantityError::NotFinite(text.to_owned())) }
}

/// Unit in one spelling: lower case, plain powers, single blanks.
fn plain(unit: &str) -> String {
    let mut out = String::with_capacity(unit.len());
    for c in unit.trim().chars().take(40) {
        match c {
            '²' => out.push('2'),
            '³' => out.push('3'),
            '⁴' => out.push('4'),
            '^' => {}
            '·' | '⋅' | '*' | '\u{a0}' | ' ' => {
                if !out.ends_with(' ') {
                    out.push(' ');
                }
            }
            '′' | '’' => out.push('\''),
            '″' | '”' => out.push('"'),
            _ => out.extend(c.to_lowercase()),
        }
    }
    out.trim().to_owned()
}

fn length_unit(unit: &str) -> Option<f64> {
    Some(match unit {
        "mm" => 1e-3,
        "km" => 1000.0,
        "cm" => 1e-2,
        "m" => 1.0,
        "in" | "inch" | "inches" | "\"" => INCH,
        "ft" | "foot" | "feet" | "'" => FOOT,
        _ => return None,
    })
}

fn parse_length(text: &str) -> Result<f64, QuantityError> {
    let mut rest = text;
    let mut total = 0.0;
    let mut negative = false;
    let mut last_factor = f64::INFINITY;
    let mut parts = 0;
    while !rest.is_empty() {
        let (value, after) = one(rest)?;
        let end = after.find(|c: char| c.is_ascii_digit()).unwrap_or(after.len());
        let unit = after[..end].trim();
        if unit.is_empty() {
            return Err(QuantityError::NoUnit(text.to_owned()));
        }
        let factor = length_unit(&plain(unit))
            .ok_or_else(|| QuantityError::Unit(unit.to_owned(), Quantity::Length.plural()))?;
        if factor >= last_factor || (parts > 0 && value * factor >= last_factor) {
            return Err(QuantityError::Order(text.to_owned()));
        }
        if parts == 0 {
            negative = rest.starts_with('-');
        }
        total += value.abs() * factor;
        last_factor = factor;
        parts += 1;
        rest = after[end..].trim_start();
    }
    finite(if negative { -total } else { total }, text)
}

/// A number in front (decimal, fraction, whole and fraction) and what follows it.
fn one(text: &str) -> Result<(f64, &str), QuantityError> {
    let (sign, body) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let none = || QuantityError::NoNumber(text.to_owned());
    let (whole, after) = decimal(body).ok_or_else(none)?;
    if let Some(tail) = after.strip_prefix(',')
        && tail.starts_with(|c: char| c.is_ascii_digit())
    {
        return Err(QuantityError::Comma(text.to_owned(), text.replacen(',', ".", 1)));
    }
    let whole = finite(whole, text)?;
    // `5/8`, and `1 1/2` or `1-1/2`.
    if let Some(below) = after.strip_prefix('/')
        && let Some((bottom, rest)) = digits(below)
    {
        return if bottom > 0.0 { Ok((sign * whole / bottom, rest)) } else { Err(none()) };
    }
    let again = after.trim_start_matches([' ', '-', '\u{a0}']);
    if let Some((top, rest)) = digits(again)
        && let Some(below) = rest.strip_prefix('/')
        && let Some((bottom, rest)) = digits(below)
    {
        return if bottom > 0.0 { Ok((sign * (whole + top / bottom), rest)) } else { Err(none()) };
    }
    Ok((sign * whole, after))
}

fn digits(text: &str) -> Option<(f64, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    if end == 0 || end > 12 {
        return None;
    }
    Some((text[..end].parse().ok()?, &text[end..]))
}

/// A decimal number without sign, with an optional exponent.
fn decimal(text: &str) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let run = |mut i: usize| {
        while i < bytes.len() && bytes[i].is_ascii_digit() {
            i += 1;
        }
        i
    };
    let mut end = run(0);
    let whole_digits = end;
    if bytes.get(end) == Some(&b'.') {
        end = run(end + 1);
        if end == whole_digits + 1 && whole_digits == 0 {
            return None;
        }
    }
    if end == 0 {
        return None;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let after = run(end + 1 + sign);
        if after > end + 1 + sign {
            end = after;
        }
    }
    Some((text[..end].parse().ok()?, &text[end..]))
}

/// `m:ss`, `m:ss.s` or `h:mm:ss`.
fn clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    if parts.len() > 3 || parts.iter().any(|p| p.is_empty() || p.len() > 12) {
        return None;
    }
    let mut seconds = 0.0;
    for (i, part) in parts.iter().enumerate() {
        let last = i + 1 == parts.len();
        let fits = part.chars().all(|c| c.is_ascii_digit() || (last && c == '.'));
        let value: f64 = part.parse().ok().filter(|_| fits)?;
        if i > 0 && value >= 60.0 {
            return None;
        }
        seconds = seconds * 60.0 + value;
    }
    Some(seconds)
}
