//! Agreement with printed tables.

mod noise_curves;
mod source_spectra;
