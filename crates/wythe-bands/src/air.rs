//! The air between things.

use crate::{Hertz, Seconds};

/// State of the air: what sets the speed of sound, the characteristic impedance and the
/// absorption of sound on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Temperature, °C, −20 to 50 where the absorption formula was made.
    pub celsius: f64,
    /// Relative humidity, %, 0 to 100.
    pub relative_humidity: f64,
    /// Static pressure, Pa.
    pub pressure: f64,
}

impl Default for Air {
    /// A dwelling: 20 °C, 50 %, sea level.
    fn default() -> Air {
        Air { celsius: 20.0, relative_humidity: 50.0, pressure: 101_325.0 }
    }
}

impl Air {
    /// Speed of sound, m/s: 331.3 · √(T/273.15). 343.2 m/s at 20 °C.
    /// Source: ISO 9613-1:1993 uses 343.2 · √(T/293.15), the same relation.
    pub fn sound_speed(self) -> f64 {
        343.2 * ((self.celsius + 273.15) / 293.15).sqrt()
    }

    /// Density, kg/m³, of dry air as an ideal gas: p / (287.05 T). 1.204 at 20 °C.
    pub fn density(self) -> f64 {
        self.pressure / (287.05 * (self.celsius + 273.15))
    }

    /// Characteristic impedance ρc, Pa·s/m.
    pub fn impedance(self) -> f64 {
        self.density() * self.sound_speed()
    }

    /// Attenuation of a pure tone in dB per metre.
    ///
    /// Source: ISO 9613-1:1993, equations (3) to (5) with the relaxation frequencies of oxygen
    /// and nitrogen. Range −20 to 50 °C, 50 Hz to 10 kHz, ±10 %.
    pub fn attenuation_per_metre(self, frequency: Hertz) -> f64 {
        let f2 = frequency.0 * frequency.0;
        let t = self.celsius + 273.15;
        let t0 = 293.15;
        let ratio = t / t0;
        let p = self.pressure / 101_325.0;
        let saturation = 10f64.powf(-6.8346 * (273.16 / t).powf(1.261) + 4.6151);
        let h = self.relative_humidity * saturation / p;
        let oxygen = p * (24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h));
        let nitrogen = p
            * ratio.powf(-0.5)
            * (9.0 + 280.0 * h * (-4.170 * (ratio.powf(-1.0 / 3.0) - 1.0)).exp());
        8.686
            * f2
            * (1.84e-11 / p * ratio.sqrt()
                + ratio.powf(-2.5)
                    * (0.012_75 * (-2239.1 / t).exp() / (oxygen + f2 / oxygen)
                        + 0.1068 * (-3352.0 / t).exp() / (nitrogen + f2 / nitrogen)))
    }

    /// Power attenuation coefficient m, 1/m, that enters the absorption of a room as 4 m V.
    pub fn power_attenuation(self, frequency: Hertz) -> f64 {
        self.attenuation_per_metre(frequency) / (10.0 * std::f64::consts::LOG10_E)
    }

    /// Sabine's constant 24 ln 10 / c, s/m: T = constant · V / A. 0.161 at 20 °C.
    pub fn sabine_constant(self) -> f64 {
        24.0 * std::f64::consts::LN_10 / self.sound_speed()
    }

    /// Equivalent absorption area, m², of a room of volume `volume` m³ with decay time `t`.
    pub fn sabine_area(self, volume: crate::CubicMetre, t: Seconds) -> crate::SquareMetre {
        crate::SquareMetre(self.sabine_constant() * volume.0 / t.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Band, Octave};

    #[test]
    fn iso_9613_2_table_2_at_20_degrees_70_percent() {
        // ISO 9613-2:1996 Table 2 (seen in a secondary transcription), dB/km, octave mid-bands.
        let air = Air { celsius: 20.0, relative_humidity: 70.0, pressure: 101_325.0 };
        let table = [
            ("63", 0.1),
            ("125", 0.3),
            ("250", 1.1),
            ("500", 2.8),
            ("1000", 5.0),
            ("2000", 9.0),
            ("4000", 22.9),
            ("8000", 76.6),
        ];
        for (name, printed) in table {
            let f = Octave::from_nominal(name).unwrap().centre();
            let computed = 1000.0 * air.attenuation_per_metre(f);
            assert!((computed - printed).abs() <= 0.051, "{name} Hz: {computed}");
        }
    }

    #[test]
    fn a_dwelling_has_the_usual_figures() {
        let air = Air::default();
        assert!((air.sound_speed() - 343.2).abs() < 1e-9);
        assert!((air.impedance() - 413.2).abs() < 0.2);
        assert!((air.sabine_constant() - 0.161).abs() < 1e-4);
        // m at 4 kHz, 20 °C, 50 %: 6.77e-3 1/m (building-acoustics handbooks; recomputed).
        let m = air.power_attenuation(Band::HZ_4000.centre());
        assert!((m / 6.77e-3 - 1.0).abs() < 0.02, "{m}");
    }
}
