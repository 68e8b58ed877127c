//! The project file: reading, writing, and the places messages point at.
