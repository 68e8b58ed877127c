//! What a new project starts with.

/// A small project of two rooms with comments that say how to go on. It reads without errors as
/// it stands.
pub fn template() -> String {
    include_str!("template.toml").to_owned()
}
