//! Levels in every room from every source, path by path.
