//! Agreement with printed counts.

mod take_off;
