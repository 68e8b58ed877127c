//! Agreement with published and derived numbers.

mod network;
