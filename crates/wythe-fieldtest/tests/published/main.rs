//! Agreement with printed tables, formulas and reference calculations; one file per source.

#[path = "../table/mod.rs"]
mod table;

mod iso_16283;
mod reference_calculations;
