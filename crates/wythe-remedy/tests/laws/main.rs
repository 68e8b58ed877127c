//! What every builder knows (common practice, no source), and what any plan must keep.

mod facts;
mod limits;
mod playing;
mod rooms;
mod suggestions;
