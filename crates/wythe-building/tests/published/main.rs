//! Agreement with printed tables.

mod absorption_tables;
mod room_modes;
