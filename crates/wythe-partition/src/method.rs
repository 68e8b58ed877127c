//! The table of methods, which of them apply, and the rule by which one is chosen.

pub(crate) mod davy_2009;
pub(crate) mod iso_12354_2017;
pub(crate) mod layered_media;
pub(crate) mod perimeter;
pub(crate) mod stud_path;
