//! Figures behind a picture, for readers who prefer or need them.

/// A plain table: head and rows of text.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct DataTable {
    /// What the table holds.
    pub caption: String,
    /// One text per column.
    pub head: Vec<String>,
    /// Rows; the first cell names the row.
    pub rows: Vec<Vec<String>>,
}
