//! Documents and charts.
