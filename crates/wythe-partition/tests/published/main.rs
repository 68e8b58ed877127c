//! Agreement with printed tables, curves and worked examples, one file per source.

mod slits;

/// Lines of a table without its comments, split at commas.
pub fn rows(table: &str) -> Vec<Vec<String>> {
    table
        .lines()
        .filter(|l| !l.starts_with('#') && !l.trim().is_empty())
        .map(|l| l.split(',').map(str::to_owned).collect())
        .collect()
}
