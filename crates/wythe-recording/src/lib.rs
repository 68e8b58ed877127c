//! Recordings: samples, calibration, weightings, band levels, decays.
