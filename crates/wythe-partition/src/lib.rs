//! Sound reduction of one build-up: leaves, cavities, bridges, openings, leaks.
