//! The axis: exact base-ten third-octave and octave bands.

use crate::Hertz;

/// Number of third-octave bands on the axis, 20 Hz to 20 kHz.
pub const BAND_COUNT: usize = 31;
/// Number of octave bands on the axis, 31.5 Hz to 16 kHz.
pub const OCTAVE_COUNT: usize = 10;

/// First band: n = 13 in f = 10^(n/10) Hz, nominal 20 Hz.
const FIRST_N: i32 = 13;

const NOMINAL: [&str; BAND_COUNT] = [
    "20", "25", "31.5", "40", "50", "63", "80", "100", "125", "160", "200", "250", "315", "400",
    "500", "630", "800", "1000", "1250", "1600", "2000", "2500", "3150", "4000", "5000", "6300",
    "8000", "10000", "12500", "16000", "20000",
];
const OCTAVE_NOMINAL: [&str; OCTAVE_COUNT] =
    ["31.5", "63", "125", "250", "500", "1000", "2000", "4000", "8000", "16000"];

/// One third-octave band of IEC 61260-1, base ten, from 20 Hz to 20 kHz.
///
/// The exact mid-band frequency is 10^(n/10) Hz, so the band called 125 is centred on
/// 125.89 Hz. Source: IEC 61260-1:2014, 5.2 to 5.4 (from a public transcription).
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Band(u8);

impl Band {
    /// The 20 Hz band.
    pub const FIRST: Band = Band(0);
    /// The 20 kHz band.
    pub const LAST: Band = Band(BAND_COUNT as u8 - 1);
    /// The 50 Hz band, where results begin unless asked otherwise.
    pub const HZ_50: Band = Band(4);
    /// The 63 Hz band.
    pub const HZ_63: Band = Band(5);
    /// The 80 Hz band.
    pub const HZ_80: Band = Band(6);
    /// The 100 Hz band, where the rating range of ISO 717-1 begins.
    pub const HZ_100: Band = Band(7);
    /// The 125 Hz band.
    pub const HZ_125: Band = Band(8);
    /// The 500 Hz band.
    pub const HZ_500: Band = Band(14);
    /// The 1 kHz band.
    pub const HZ_1000: Band = Band(17);
    /// The 3.15 kHz band, where the rating range of ISO 717-1 ends.
    pub const HZ_3150: Band = Band(22);
    /// The 4 kHz band.
    pub const HZ_4000: Band = Band(23);
    /// The 5 kHz band, where results end unless asked otherwise.
    pub const HZ_5000: Band = Band(24);
    /// The 10 kHz band, where calculation ends.
    pub const HZ_10000: Band = Band(27);

    /// All bands, rising.
    pub fn all() -> impl DoubleEndedIterator<Item = Band> + ExactSizeIterator + Clone {
        (0..BAND_COUNT as u8).map(Band)
    }

    /// The bands from `low` to `high`, both included, rising.
    pub fn range(low: Band, high: Band) -> impl DoubleEndedIterator<Item = Band> + Clone {
        (low.0..=high.0).map(Band)
    }

    /// The bands from 50 Hz to 5 kHz, in which results are given by default.
    pub fn results() -> impl DoubleEndedIterator<Item = Band> + Clone {
        Band::range(Band::HZ_50, Band::HZ_5000)
    }

    /// Band at a position on the axis, 0 = 20 Hz; `None` past 20 kHz.
    pub fn at(index: usize) -> Option<Band> {
        (index < BAND_COUNT).then_some(Band(index as u8))
    }

    /// Position on the axis, 0 for 20 Hz to 30 for 20 kHz.
    pub fn index(self) -> usize {
        self.0 as usize
    }

    /// Exact mid-band frequency.
    pub fn centre(self) -> Hertz {
        Hertz(10f64.powf(f64::from(self.n()) / 10.0))
    }

    /// Lower band edge, f_m · 10^(−1/20).
    pub fn lower_edge(self) -> Hertz {
        Hertz(10f64.powf((f64::from(self.n()) - 0.5) / 10.0))
    }

    /// Upper band edge, f_m · 10^(1/20).
    pub fn upper_edge(self) -> Hertz {
        Hertz(10f64.powf((f64::from(self.n()) + 0.5) / 10.0))
    }

    /// Nominal frequency in hertz as the trade writes it, such as `"31.5"` or `"1250"`.
    pub fn nominal(self) -> &'static str {
        NOMINAL[self.index()]
    }

    /// Band of a nominal frequency written in hertz: `"125"`, `"31.5"`, `"1000"`, `"1000.0"`,
    /// `"1k"`, `"1.25k"`. `None` for anything that is not on the axis.
    pub fn from_nominal(text: &str) -> Option<Band> {
        let hertz = parse_frequency(text)?;
        Band::from_hertz(hertz)
    }

    /// Band whose nominal or exact mid-band frequency is `hertz`; `None` when it is neither.
    /// An exact frequency is recognised within 1 %, which no other band can share.
    pub fn from_hertz(hertz: Hertz) -> Option<Band> {
        if hertz.0.is_nan() || hertz.0 <= 0.0 {
            return None;
        }
        Band::all().find(|b| {
            let nominal: f64 = b.nominal().parse().unwrap_or(f64::NAN);
            (hertz.0 - nominal).abs() < 1e-6 * nominal
                || (hertz.0 / b.centre().0 - 1.0).abs() < 0.01
        })
    }

    /// The band that holds a frequency between its edges, if any.
    pub fn holding(hertz: Hertz) -> Option<Band> {
        Band::all().find(|b| hertz.0 >= b.lower_edge().0 && hertz.0 < b.upper_edge().0)
    }

    /// The octave this third belongs to; `None` for 20 Hz, whose octave is below the axis.
    pub fn octave(self) -> Option<Octave> {
        // 25, 31.5, 40 form the first octave.
        (self.0 >= 1).then(|| Octave((self.0 - 1) / 3))
    }

    fn n(self) -> i32 {
        FIRST_N + i32::from(self.0)
    }
}

impl std::fmt::Debug for Band {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} Hz", self.nominal())
    }
}

impl std::fmt::Display for Band {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.nominal())
    }
}

/// One octave band, base ten, from 31.5 Hz to 16 kHz: three thirds.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Octave(u8);

impl Octave {
    /// All octaves, rising.
    pub fn all() -> impl DoubleEndedIterator<Item = Octave> + ExactSizeIterator + Clone {
        (0..OCTAVE_COUNT as u8).map(Octave)
    }

    /// Position on the axis, 0 for 31.5 Hz to 9 for 16 kHz.
    pub fn index(self) -> usize {
        self.0 as usize
    }

    /// The three thirds of this octave, rising.
    pub fn thirds(self) -> [Band; 3] {
        let first = 3 * self.0 + 1;
        [Band(first), Band(first + 1), Band(first + 2)]
    }

    /// The middle third, which shares the octave's mid-band frequency.
    pub fn centre_band(self) -> Band {
        self.thirds()[1]
    }

    /// Exact mid-band frequency.
    pub fn centre(self) -> Hertz {
        self.centre_band().centre()
    }

    /// Nominal frequency in hertz as the trade writes it.
    pub fn nominal(self) -> &'static str {
        OCTAVE_NOMINAL[self.index()]
    }

    /// Octave of a nominal frequency written in hertz, as [`Band::from_nominal`].
    pub fn from_nominal(text: &str) -> Option<Octave> {
        let hertz = parse_frequency(text)?;
        Octave::all().find(|o| {
            let nominal: f64 = o.nominal().parse().unwrap_or(f64::NAN);
            (hertz.0 - nominal).abs() < 1e-6 * nominal
                || (hertz.0 / o.centre().0 - 1.0).abs() < 0.01
        })
    }
}

impl std::fmt::Debug for Octave {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} Hz octave", self.nominal())
    }
}

impl std::fmt::Display for Octave {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.nominal())
    }
}

fn parse_frequency(text: &str) -> Option<Hertz> {
    let text = text.trim();
    let (number, factor) = match text.strip_suffix(['k', 'K']) {
        Some(rest) => (rest.trim_end(), 1000.0),
        None => (text, 1.0),
    };
    let value: f64 = number.parse().ok()?;
    value.is_finite().then_some(Hertz(value * factor))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_centres_and_edges_of_iec_61260_1() {
        // IEC 61260-1:2014 5.2: f_m = 1000 · 10^(3x/30) for thirds.
        let band = Band::from_nominal("31.5").unwrap();
        assert!((band.centre().0 - 31.622_776_601_683_79).abs() < 1e-9);
        assert!((Band::HZ_1000.upper_edge().0 - 1_122.018_454_301_963).abs() < 1e-6);
        assert!((Band::LAST.upper_edge().0 - 22_387.211_385_683).abs() < 1e-3);
        for pair in Band::all().collect::<Vec<_>>().windows(2) {
            assert!((pair[0].upper_edge().0 / pair[1].lower_edge().0 - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn every_name_is_found_again_and_strangers_are_not() {
        for band in Band::all() {
            assert_eq!(Band::from_nominal(band.nominal()), Some(band));
            assert_eq!(Band::from_hertz(band.centre()), Some(band));
        }
        for octave in Octave::all() {
            assert_eq!(Octave::from_nominal(octave.nominal()), Some(octave));
            assert!(octave.thirds().iter().all(|b| b.octave() == Some(octave)));
        }
        assert_eq!(Band::from_nominal("1.25k").unwrap().nominal(), "1250");
        for stranger in ["", "0", "-100", "110", "NaN", "inf", "30000", "abc"] {
            assert_eq!(Band::from_nominal(stranger), None, "{stranger}");
        }
    }
}
