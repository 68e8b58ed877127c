//! Reading the long tables of check numbers.

use std::collections::BTreeMap;
use wythe_rating::{Curve, Midband, Resolution, Tenths};

/// One check: its options, inputs and expected results.
#[derive(Default, Debug)]
pub struct Case {
    pub name: String,
    pub options: BTreeMap<String, String>,
    /// Name of the quantity, then band text (empty for a scalar) and value.
    pub inputs: BTreeMap<String, Vec<(String, f64)>>,
    pub outputs: Vec<Expected>,
}

#[derive(Debug, Clone)]
pub struct Expected {
    pub name: String,
    pub band: String,
    pub value: String,
    pub tolerance: f64,
}

impl Case {
    pub fn octaves(&self) -> bool {
        self.options.get("bands").is_some_and(|b| b == "octave")
    }

    pub fn curve(&self, name: &str) -> Curve {
        let resolution = if self.octaves() { Resolution::Octaves } else { Resolution::Thirds };
        self.curve_of(name, resolution)
    }

    pub fn curve_of(&self, name: &str, resolution: Resolution) -> Curve {
        Curve::from_pairs(
            resolution,
            self.inputs[name]
                .iter()
                .map(|(band, v)| (Midband::from_nominal(band).expect("a band"), *v)),
        )
    }

    pub fn scalar(&self, name: &str) -> f64 {
        self.inputs[name][0].1
    }
}

impl Expected {
    /// Checks a computed number. With a tolerance of zero the two must be the same decimal.
    pub fn check(&self, case: &str, computed: f64) {
        let expected: f64 = self.value.parse().expect("a number");
        let met = if self.tolerance == 0.0 {
            Tenths::nearest(expected) == Tenths::nearest(computed)
                && (expected - computed).abs() < 1e-9
        } else {
            (expected - computed).abs() <= self.tolerance
        };
        assert!(
            met,
            "{case}: {} {} is {computed}, expected {expected} within {}",
            self.name, self.band, self.tolerance
        );
    }
}

/// Reads the long format `vector,role,name,band_hz,value,tol`.
pub fn cases(text: &str) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for line in text.lines().filter(|l| !l.starts_with('#') && !l.starts_with("vector,")) {
        let cells: Vec<&str> = line.split(',').collect();
        // A name may itself hold a comma-free text only; six cells always.
        assert_eq!(cells.len(), 6, "{line}");
        let [vector, role, name, band, value, tol] = cells[..] else { unreachable!() };
        if cases.last().is_none_or(|c| c.name != vector) {
            cases.push(Case { name: vector.to_string(), ..Case::default() });
        }
        let case = cases.last_mut().expect("just pushed");
        match role {
            "opt" => {
                case.options.insert(name.to_string(), value.to_string());
            }
            "in" => case
                .inputs
                .entry(name.to_string())
                .or_default()
                .push((band.to_string(), value.parse().expect("a number"))),
            "out" => case.outputs.push(Expected {
                name: name.to_string(),
                band: band.to_string(),
                value: value.to_string(),
                tolerance: tol.parse().expect("a tolerance"),
            }),
            other => panic!("unknown role {other}"),
        }
    }
    assert!(!cases.is_empty());
    cases
}

/// Reads a plain table with a header; cells may be quoted.
pub fn table(text: &str) -> Vec<BTreeMap<String, String>> {
    let split = |line: &str| -> Vec<String> {
        let (mut cells, mut quoted) = (vec![String::new()], false);
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ',' if !quoted => cells.push(String::new()),
                c => cells.last_mut().expect("one cell").push(c),
            }
        }
        cells
    };
    let mut lines = text.lines();
    let header = split(lines.next().expect("a header"));
    lines
        .map(|line| {
            let cells = split(line);
            assert_eq!(cells.len(), header.len(), "{line}");
            header.iter().cloned().zip(cells).collect()
        })
        .collect()
}
