//! Reading tables of check numbers.

use std::collections::BTreeMap;

/// One row: cells by the name of their column.
pub struct Row(BTreeMap<String, String>);

impl Row {
    pub fn cell(&self, name: &str) -> &str {
        &self.0[name]
    }
    pub fn number(&self, name: &str) -> f64 {
        self.cell(name).parse().unwrap_or_else(|_| panic!("{}: no {name}", self.cell("id")))
    }
    /// Holds a computed number against the expected one.
    pub fn check(&self, computed: f64) {
        let (expected, tolerance) = (self.number("expected"), self.number("tolerance"));
        assert!(
            (computed - expected).abs() <= tolerance,
            "{} {}: computed {computed}, expected {expected} within {tolerance}",
            self.cell("id"),
            self.cell("quantity")
        );
    }
    /// The number after a word of the case, such as `layers` in `area 41 m2; layers 2`.
    pub fn after(&self, word: &str) -> f64 {
        after(self.cell("case"), word)
    }
}

/// The first number after a word.
pub fn after(text: &str, word: &str) -> f64 {
    let start = text.find(word).unwrap_or_else(|| panic!("no {word} in {text}")) + word.len();
    let number: String = text[start..]
        .trim_start_matches([' ', '='])
        .chars()
        .take_while(|c| c.is_ascii_digit() || *c == '.')
        .collect();
    number.parse().unwrap_or_else(|_| panic!("no number after {word} in {text}"))
}

/// Reads a table with a header; cells may be quoted.
pub fn table(text: &str) -> Vec<Row> {
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
    let rows: Vec<Row> = lines
        .map(|line| {
            let cells = split(line);
            assert_eq!(cells.len(), header.len(), "{line}");
            Row(header.iter().cloned().zip(cells).collect())
        })
        .collect();
    assert!(rows.len() > 5);
    rows
}
