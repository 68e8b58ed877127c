//! Tenths of a decibel, counted as whole numbers.

use std::fmt;
use std::ops::{Add, Neg, Sub};

/// How far a binary fraction may lie below a decimal tie and still be taken for it.
///
/// 0.15 typed by a person is stored as 0.1499999999999999944; the person meant the tie. No
/// measured decibel is known to a billionth, so nothing real is moved by it.
const TIE: f64 = 1e-9;

/// A number of tenths of a decibel.
///
/// Ratings are cliffs: a sum of exactly 32.0 dB is allowed and 32.1 dB is not, and binary
/// fractions turn 32.0 into 32.000 000 01. Counted in tenths nothing of the kind can happen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Tenths(pub i64);

impl Tenths {
    /// A whole number of decibels.
    pub const fn whole(decibels: i64) -> Tenths {
        Tenths(decibels * 10)
    }

    /// Rounds to one decimal, once, from the unrounded value: a second decimal of 0 to 4 goes
    /// down, 5 to 9 up.
    ///
    /// Source: ISO 717-1:2013, 4.4 footnote (from a transcription). The standard shows the digit
    /// rule for positive numbers; the same rule is applied to the signed value here, so −0.05
    /// becomes 0.0 (common practice, no source).
    pub fn nearest(decibels: f64) -> Tenths {
        Tenths((decibels * 10.0 + 0.5 + TIE).floor() as i64)
    }

    /// Rounds to a whole decibel, once, from the unrounded value, halves up; see [`Self::nearest`].
    pub fn nearest_whole(decibels: f64) -> Tenths {
        Tenths::whole((decibels + 0.5 + TIE).floor() as i64)
    }

    /// Value in decibels.
    pub fn decibels(self) -> f64 {
        // One division of two exact integers: the double nearest to the decimal number.
        self.0 as f64 / 10.0
    }

    /// Whether the value is a whole number of decibels.
    pub fn is_whole(self) -> bool {
        self.0 % 10 == 0
    }
}

impl fmt::Display for Tenths {
    /// With one decimal: `31.8`, `-0.6`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(f, "{sign}{}.{}", self.0.abs() / 10, self.0.abs() % 10)
    }
}

impl Add for Tenths {
    type Output = Tenths;
    fn add(self, other: Tenths) -> Tenths {
        Tenths(self.0 + other.0)
    }
}

impl Sub for Tenths {
    type Output = Tenths;
    fn sub(self, other: Tenths) -> Tenths {
        Tenths(self.0 - other.0)
    }
}

impl Neg for Tenths {
    type Output = Tenths;
    fn neg(self) -> Tenths {
        Tenths(-self.0)
    }
}

/// A rating or a term: a number of decibels with the decimals it is stated with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SingleNumber {
    /// The number.
    pub tenths: Tenths,
    /// Whether it is stated with one decimal (the variant for use beside an uncertainty).
    pub one_decimal: bool,
}

impl SingleNumber {
    /// Value in decibels.
    pub fn decibels(self) -> f64 {
        self.tenths.decibels()
    }

    /// The number as a whole one, where it is stated as such.
    pub fn whole(self) -> Option<i64> {
        (!self.one_decimal && self.tenths.is_whole()).then_some(self.tenths.0 / 10)
    }

    /// Rounds once from the unrounded value, to tenths or to whole decibels.
    pub fn nearest(decibels: f64, one_decimal: bool) -> SingleNumber {
        let tenths =
            if one_decimal { Tenths::nearest(decibels) } else { Tenths::nearest_whole(decibels) };
        SingleNumber { tenths, one_decimal }
    }
}

impl Add for SingleNumber {
    type Output = SingleNumber;
    fn add(self, other: SingleNumber) -> SingleNumber {
        SingleNumber {
            tenths: self.tenths + other.tenths,
            one_decimal: self.one_decimal || other.one_decimal,
        }
    }
}

impl Sub for SingleNumber {
    type Output = SingleNumber;
    fn sub(self, other: SingleNumber) -> SingleNumber {
        SingleNumber {
            tenths: self.tenths - other.tenths,
            one_decimal: self.one_decimal || other.one_decimal,
        }
    }
}

impl fmt::Display for SingleNumber {
    /// `30` or `30.4`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.one_decimal || !self.tenths.is_whole() {
            self.tenths.fmt(f)
        } else {
            write!(f, "{}", self.tenths.0 / 10)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_typed_half_goes_up() {
        for whole in 0..2000i64 {
            for digit in 0..10i64 {
                let typed: f64 = format!("{}.{}{}", whole / 10, whole % 10, digit).parse().unwrap();
                let expected = whole + i64::from(digit >= 5);
                assert_eq!(Tenths::nearest(typed).0, expected, "{typed}");
            }
        }
        assert_eq!(Tenths::nearest(-0.05).0, 0);
        assert_eq!(Tenths::nearest(-0.06).0, -1);
        assert_eq!(Tenths::nearest_whole(67.5), Tenths::whole(68));
        // Rounded once: 24.46 is 24, though 24.5 would be 25.
        assert_eq!(Tenths::nearest_whole(24.46), Tenths::whole(24));
    }

    #[test]
    fn halves_reached_by_adding_go_up_too() {
        // Adding hundredths in binary drifts to either side of each tie.
        let (mut sum, mut wrong_without) = (0.0f64, 0);
        for hundredths in 1..5000i64 {
            sum += 0.01;
            assert_eq!(Tenths::nearest(sum).0, (hundredths + 5).div_euclid(10), "{hundredths}");
            wrong_without +=
                i64::from((sum * 10.0 + 0.5).floor() as i64 != (hundredths + 5).div_euclid(10));
        }
        assert!(wrong_without > 0, "this test no longer shows what the tolerance is for");
    }

    #[test]
    fn printing() {
        assert_eq!(Tenths(-6).to_string(), "-0.6");
        assert_eq!(Tenths(318).to_string(), "31.8");
        assert_eq!(SingleNumber { tenths: Tenths(300), one_decimal: false }.to_string(), "30");
        assert_eq!(SingleNumber { tenths: Tenths(300), one_decimal: true }.to_string(), "30.0");
    }
}
