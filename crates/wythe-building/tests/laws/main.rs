//! What must hold for any room.

mod outlines;
mod rooms;
