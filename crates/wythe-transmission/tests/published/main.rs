//! Agreement with published and derived numbers.

mod duct_tables;
mod end_reflection;
mod flanking;
mod impact;
mod network;
mod outdoors;

/// Rows of a table of check numbers, without comments and heading.
fn rows(table: &str) -> impl Iterator<Item = Vec<&str>> {
    table
        .lines()
        .filter(|l| !l.starts_with('#') && !l.trim().is_empty())
        .skip(1)
        .map(|l| l.split(',').collect())
}
