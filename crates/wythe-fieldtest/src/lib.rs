//! Field measurement: averages, background, level differences, low-frequency procedure.
