//! One module per command.

pub mod archive;
pub mod catalogue;
pub mod check;
pub mod demo;
pub mod desk;
pub mod dose;
pub mod explain;
pub mod export;
pub mod keep;
pub mod listen;
pub mod measure;
pub mod new;
pub mod partition;
pub mod predict;
pub mod protocol;
pub mod rate;
pub mod remedy;
pub mod report;
pub mod sweep;
