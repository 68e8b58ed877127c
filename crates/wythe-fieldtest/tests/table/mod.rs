//! Reads the small tables of check numbers in `tests/data`.

use std::collections::HashMap;

/// Rows as maps from column name to text; comment lines are skipped.
pub fn read(name: &str) -> Vec<HashMap<String, String>> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    let mut lines = text.lines().filter(|l| !l.starts_with('#') && !l.trim().is_empty());
    let head: Vec<&str> = lines.next().unwrap().split(',').collect();
    lines
        .map(|l| head.iter().map(|h| h.to_string()).zip(l.split(',').map(str::to_string)).collect())
        .collect()
}

/// A number of a row; an empty cell or `inf` becomes infinity.
pub fn number(row: &HashMap<String, String>, column: &str) -> f64 {
    let text = &row[column];
    if text.is_empty() { f64::INFINITY } else { text.parse().unwrap_or_else(|_| panic!("{text}")) }
}
