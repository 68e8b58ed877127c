//! What must hold for any bytes and any sizes.

mod absurd_sizes;
mod any_bytes;
mod quantities;
