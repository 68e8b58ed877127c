//! Agreement with printed tables, curves and reference calculations; one file per source.

#[path = "../table/mod.rs"]
mod table;

mod coherence;
mod fips_180_4;
mod iec_61260_1_2014;
mod iec_61672_1_2013;
mod iso_3382;
mod reference_calculations;
