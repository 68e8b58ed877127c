//! The command line of wythe.
fn main() {}
