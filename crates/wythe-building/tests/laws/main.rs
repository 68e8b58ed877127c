//! What must hold for any room.

mod edges;
mod outlines;
mod rooms;
