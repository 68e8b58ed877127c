//! Absorption of finishes.

use wythe_bands::{Spectrum, SquareMetre};

use crate::Surface;

/// Equivalent absorption area of surfaces. Finishes that are not in the table count as nothing;
/// whoever reads the description refuses them before.
pub fn absorption_area(_surfaces: &[Surface]) -> Spectrum<SquareMetre> {
    Spectrum::empty()
}
