//! Quantities that wear their names, so that a mass cannot be handed in as a length.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
        pub struct $name(pub f64);
        impl $name {
            /// Unit symbol as printed.
            pub const UNIT: &'static str = $unit;
        }
        impl Mul<f64> for $name {
            type Output = $name;
            fn mul(self, factor: f64) -> $name { $name(self.0 * factor) }
        }
        impl Div<f64> for $name {
            type Output = $name;
            fn div(self, divisor: f64) -> $name { $name(self.0 / divisor) }
        }
    };
}

macro_rules! additive {
    ($name:ident) => {
        impl Add for $name {
            type Output = $name;
            fn add(self, other: $name) -> $name {
                $name(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = $name;
            fn sub(self, other: $name) -> $name {
                $name(self.0 - other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: $name) {
                self.0 += other.0;
            }
        }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = $name>>(all: I) -> $name {
                $name(all.map(|q| q.0).sum())
            }
        }
    };
}

quantity!(
    /// Frequency, Hz.
    Hertz, "Hz");
quantity!(
    /// Length, m.
    Metre, "m");
quantity!(
    /// Area, m².
    SquareMetre, "m²");
quantity!(
    /// Volume, m³.
    CubicMetre, "m³");
quantity!(
    /// Time, s.
    Seconds, "s");
quantity!(
    /// Mass per area of a leaf, kg/m².
    SurfaceMass, "kg/m²");
quantity!(
    /// Mass per volume, kg/m³.
    Density, "kg/m³");
quantity!(
    /// Pressure or elastic modulus, Pa.
    Pascal, "Pa");
quantity!(
    /// Airflow resistivity of a porous material, Pa·s/m².
    FlowResistivity, "Pa·s/m²");
quantity!(
    /// Sound pressure level, dB re 20 µPa. Two levels cannot be added with `+`:
    ///
    /// ```compile_fail
    /// use wythe_bands::Level;
    /// let wrong = Level(60.0) + Level(60.0);
    /// ```
    Level, "dB");
quantity!(
    /// Difference of two levels, dB. Reduction indices and corrections are differences too.
    LevelDifference, "dB");
quantity!(
    /// Transmitted over incident sound power, linear, 0 to 1 for a passive element.
    Transmittance, "");

additive!(Hertz);
additive!(Metre);
additive!(SquareMetre);
additive!(CubicMetre);
additive!(Seconds);
additive!(SurfaceMass);
additive!(LevelDifference);
additive!(Transmittance);

impl Mul<Metre> for Metre {
    type Output = SquareMetre;
    fn mul(self, other: Metre) -> SquareMetre {
        SquareMetre(self.0 * other.0)
    }
}

impl Mul<Metre> for SquareMetre {
    type Output = CubicMetre;
    fn mul(self, other: Metre) -> CubicMetre {
        CubicMetre(self.0 * other.0)
    }
}

impl Sub for Level {
    type Output = LevelDifference;
    fn sub(self, other: Level) -> LevelDifference {
        LevelDifference(self.0 - other.0)
    }
}

impl Add<LevelDifference> for Level {
    type Output = Level;
    fn add(self, difference: LevelDifference) -> Level {
        Level(self.0 + difference.0)
    }
}

impl Sub<LevelDifference> for Level {
    type Output = Level;
    fn sub(self, difference: LevelDifference) -> Level {
        Level(self.0 - difference.0)
    }
}

impl Neg for LevelDifference {
    type Output = LevelDifference;
    fn neg(self) -> LevelDifference {
        LevelDifference(-self.0)
    }
}

impl Level {
    /// Reference pressure, 20 µPa.
    pub const REFERENCE_PASCAL: f64 = 20e-6;

    /// Level of a mean-square pressure relative to the squared reference pressure.
    /// Zero or negative energy has no level.
    pub fn from_energy(ratio: f64) -> Option<Level> {
        (ratio > 0.0 && ratio.is_finite()).then(|| Level(10.0 * ratio.log10()))
    }

    /// Mean-square pressure relative to the squared reference pressure, 10^(L/10).
    pub fn energy(self) -> f64 {
        10f64.powf(self.0 / 10.0)
    }

    /// Level of incoherent sounds heard together; `None` when there are none.
    pub fn energy_sum(levels: impl IntoIterator<Item = Level>) -> Option<Level> {
        let mut any = false;
        let mut sum = 0.0;
        for level in levels {
            any = true;
            sum += level.energy();
        }
        if any { Level::from_energy(sum) } else { None }
    }

    /// Energy mean of several levels, as the average over positions is formed
    /// (ISO 16283-1:2014, 7.8); `None` when there are none.
    pub fn energy_mean(levels: impl IntoIterator<Item = Level>) -> Option<Level> {
        let mut count = 0u32;
        let sum: f64 = levels.into_iter().inspect(|_| count += 1).map(Level::energy).sum();
        if count == 0 { None } else { Level::from_energy(sum / f64::from(count)) }
    }
}

impl LevelDifference {
    /// Transmittance 10^(−R/10) of a reduction index.
    pub fn transmittance(self) -> Transmittance {
        Transmittance(10f64.powf(-self.0 / 10.0))
    }

    /// Mean of reduction indices by transmitted energy; `None` when there are none.
    pub fn mean_by_transmittance(
        values: impl IntoIterator<Item = LevelDifference>,
    ) -> Option<LevelDifference> {
        let mut count = 0u32;
        let sum: f64 =
            values.into_iter().inspect(|_| count += 1).map(|r| r.transmittance().0).sum();
        (count > 0).then(|| Transmittance(sum / f64::from(count)).reduction())
    }
}

impl Transmittance {
    /// Reduction index −10 lg τ. Zero transmission gives +∞ dB.
    pub fn reduction(self) -> LevelDifference {
        LevelDifference(-10.0 * self.0.log10())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn energies_add_as_energies() {
        let sum = Level::energy_sum([Level(60.0), Level(60.0)]).unwrap();
        assert!((sum.0 - 63.010_299_956_6).abs() < 1e-9);
        let mean = Level::energy_mean([Level(60.0), Level(60.0)]).unwrap();
        assert!((mean.0 - 60.0).abs() < 1e-12);
        assert_eq!(Level::energy_sum([]), None);
        assert_eq!(Level::energy_mean([]), None);
        assert_eq!(Level::from_energy(0.0), None);
    }

    #[test]
    fn ten_decibels_is_a_tenth() {
        assert!((LevelDifference(10.0).transmittance().0 - 0.1).abs() < 1e-15);
        assert!((Transmittance(0.01).reduction().0 - 20.0).abs() < 1e-12);
        let mean =
            LevelDifference::mean_by_transmittance([LevelDifference(20.0), LevelDifference(30.0)])
                .unwrap();
        // −10 lg((0.01 + 0.001)/2)
        assert!((mean.0 - 22.596_373_1).abs() < 1e-6);
    }
}
