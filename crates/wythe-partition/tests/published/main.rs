//! Agreement with printed tables, curves and worked examples, one file per source.

mod bies_2017;
mod composite;
mod dg_1110_3_119;
mod hopkins_2007;
mod iso_12354_1;
mod iso_15186_3;
mod linings;
mod long_2014;
mod norton_2003;
mod porous;
mod record;
mod slits;
mod vigran_2008;

#[path = "../support/mod.rs"]
mod support;
#[path = "../support/walls.rs"]
mod walls;

use wythe_bands::Air;

/// Lines of a table without its comments, split at commas.
pub(crate) fn rows(table: &str) -> Vec<Vec<String>> {
    table
        .lines()
        .filter(|l| !l.starts_with('#') && !l.trim().is_empty())
        .map(support::fields)
        .collect()
}

/// One worked example of tests/data/tl_examples.csv.
pub(crate) struct Example {
    pub(crate) id: String,
    pub(crate) inputs: String,
    pub(crate) frequency: f64,
    pub(crate) expected: String,
    pub(crate) tolerance: f64,
}

impl Example {
    /// The number that follows a word in the inputs, as in `eta 0.0438`.
    pub(crate) fn input(&self, word: &str) -> f64 {
        let rest = self.inputs.split_once(word).unwrap_or_else(|| panic!("{word}: {}", self.id)).1;
        let number: String = rest
            .trim_start()
            .chars()
            .take_while(|c| c.is_ascii_digit() || matches!(c, '.' | 'e' | '-'))
            .collect();
        number.trim_end_matches('.').parse().unwrap_or_else(|_| panic!("{word}: {}", self.id))
    }

    pub(crate) fn value(&self) -> f64 {
        self.expected.parse().unwrap()
    }
}

/// Examples whose name begins with `start`.
pub(crate) fn examples(start: &str) -> Vec<Example> {
    let found: Vec<Example> = rows(include_str!("../data/tl_examples.csv"))
        .into_iter()
        .skip(1)
        .filter(|r| r[0].starts_with(start))
        .map(|r| Example {
            id: r[0].clone(),
            inputs: r[4].clone(),
            frequency: r[5].parse().unwrap_or(0.0),
            expected: r[7].clone(),
            // A tolerance in per cent is of the value.
            tolerance: match r[8].strip_suffix('%') {
                Some(percent) => {
                    percent.trim().parse::<f64>().unwrap() / 100.0 * r[7].parse::<f64>().unwrap()
                }
                None => r[8].parse().unwrap(),
            },
        })
        .collect();
    assert!(!found.is_empty(), "no examples called {start}");
    found
}

/// Air with a stated density and speed of sound.
pub(crate) fn air(density: f64, sound_speed: f64) -> Air {
    let kelvin = 293.15 * (sound_speed / 343.2f64).powi(2);
    Air { celsius: kelvin - 273.15, pressure: density * 287.05 * kelvin, ..Air::default() }
}
