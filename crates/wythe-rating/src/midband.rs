//! The axis of rated curves, which reaches below the axis of the building.

use std::fmt;
use wythe_bands::{Band, Hertz, Octave};

const FIRST_N: i32 = 9;
const NOMINAL: [&str; 35] = [
    "8", "10", "12.5", "16", "20", "25", "31.5", "40", "50", "63", "80", "100", "125", "160",
    "200", "250", "315", "400", "500", "630", "800", "1000", "1250", "1600", "2000", "2500",
    "3150", "4000", "5000", "6300", "8000", "10000", "12500", "16000", "20000",
];

/// A mid-band frequency of IEC 61260-1, base ten, from 8 Hz to 20 kHz, of a third or an octave.
///
/// Criterion curves for room noise begin at 16 Hz and low-frequency reference curves at 8 Hz,
/// below the first [`Band`]; hence an axis of its own. The exact frequency is 10^(n/10) Hz.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Midband(u8);

impl Midband {
    /// Number of mid-bands on this axis.
    pub const COUNT: usize = NOMINAL.len();

    /// All mid-bands, rising.
    pub fn all() -> impl DoubleEndedIterator<Item = Midband> + ExactSizeIterator + Clone {
        (0..NOMINAL.len() as u8).map(Midband)
    }

    /// Mid-bands of octaves only, 8 Hz to 16 kHz, rising.
    pub fn octaves() -> impl DoubleEndedIterator<Item = Midband> + Clone {
        Midband::all().filter(|m| m.is_octave())
    }

    /// Place on this axis, 0 for 8 Hz.
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// Mid-band at a place on this axis.
    pub fn at(index: usize) -> Option<Midband> {
        (index < NOMINAL.len()).then_some(Midband(index as u8))
    }

    /// n of f = 10^(n/10) Hz.
    pub fn n(self) -> i32 {
        FIRST_N + i32::from(self.0)
    }

    /// Whether an octave band has this mid-band frequency.
    pub fn is_octave(self) -> bool {
        self.n() % 3 == 0
    }

    /// Exact mid-band frequency.
    pub fn centre(self) -> Hertz {
        Hertz(10f64.powf(f64::from(self.n()) / 10.0))
    }

    /// Nominal frequency in hertz as the trade writes it.
    pub fn nominal(self) -> &'static str {
        NOMINAL[self.index()]
    }

    /// Mid-band whose nominal frequency is `hertz`, or whose exact one is within 1 %.
    pub fn from_hertz(hertz: f64) -> Option<Midband> {
        if !(hertz > 0.0 && hertz.is_finite()) {
            return None;
        }
        Midband::all().find(|m| {
            let nominal: f64 = m.nominal().parse().unwrap_or(f64::NAN);
            (hertz - nominal).abs() < 1e-6 * nominal || (hertz / m.centre().0 - 1.0).abs() < 0.01
        })
    }

    /// Mid-band of a nominal frequency such as `"31.5"`, `"1000"` or `"1k"`.
    pub fn from_nominal(text: &str) -> Option<Midband> {
        let text = text.trim();
        let (number, factor) = match text.strip_suffix(['k', 'K']) {
            Some(rest) => (rest.trim_end(), 1000.0),
            None => (text, 1.0),
        };
        Midband::from_hertz(number.parse::<f64>().ok()? * factor)
    }

    /// The third-octave band here, if it lies on the axis of the building (20 Hz to 20 kHz).
    pub fn band(self) -> Option<Band> {
        Band::at(self.index().checked_sub(4)?)
    }

    /// The octave band here, if there is one on the axis of the building.
    pub fn octave(self) -> Option<Octave> {
        if !self.is_octave() {
            return None;
        }
        self.band()?.octave()
    }

    /// The three thirds of the octave centred here; `None` where there is no octave or a third
    /// falls off the axis.
    pub fn thirds(self) -> Option<[Midband; 3]> {
        if !self.is_octave() || self.0 == 0 {
            return None;
        }
        let upper = Midband::at(self.index() + 1)?;
        Some([Midband(self.0 - 1), self, upper])
    }

    /// A row of a standard's table: consecutive thirds from `first` on.
    pub(crate) fn run(first: &str, count: usize) -> Vec<Midband> {
        let start = Midband::from_nominal(first).map_or(0, Midband::index);
        (start..start + count).filter_map(Midband::at).collect()
    }

    /// A row of a standard's table: consecutive octaves from `first` on.
    pub(crate) fn octave_run(first: &str, count: usize) -> Vec<Midband> {
        let start = Midband::from_nominal(first).map_or(0, Midband::index);
        (0..count).filter_map(|i| Midband::at(start + 3 * i)).collect()
    }
}

impl From<Band> for Midband {
    fn from(band: Band) -> Midband {
        Midband(band.index() as u8 + 4)
    }
}

impl From<Octave> for Midband {
    fn from(octave: Octave) -> Midband {
        octave.centre_band().into()
    }
}

impl fmt::Display for Midband {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.nominal())
    }
}

impl fmt::Debug for Midband {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} Hz", self.nominal())
    }
}

/// Bands as a person lists them: `50, 63 and 80 Hz`.
pub fn list(bands: &[Midband]) -> String {
    match bands {
        [] => String::new(),
        [one] => format!("{one} Hz"),
        [rest @ .., last] => {
            let rest: Vec<_> = rest.iter().map(|b| b.nominal()).collect();
            format!("{} and {last} Hz", rest.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_meets_the_axis_of_the_building() {
        for band in Band::all() {
            let here = Midband::from(band);
            assert_eq!(here.nominal(), band.nominal());
            assert_eq!(here.band(), Some(band));
            assert!((here.centre().0 / band.centre().0 - 1.0).abs() < 1e-12);
        }
        for octave in Octave::all() {
            assert_eq!(Midband::from(octave).octave(), Some(octave));
        }
        assert_eq!(Midband::from_nominal("16").unwrap().octave(), None);
        assert_eq!(Midband::from_nominal("8").unwrap().n(), 9);
        assert_eq!(Midband::octaves().count(), 12);
        assert_eq!(list(&Midband::run("50", 3)), "50, 63 and 80 Hz");
    }
}
