//! Agreement with printed tables.

mod absorption_tables;
mod mountings;
mod room_modes;
