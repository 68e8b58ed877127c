//! The element as it stands in its wall: air, size, and what was fitted.

use std::f64::consts::PI;

use wythe_bands::Air;

use crate::Conditions;
use crate::fitted::Fitted;
use crate::leaf::{Bending, Leaf};
use crate::radiation::ForcedRadiation;

/// Air and size in plain numbers, worked out once.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Element {
    pub air: Air,
    /// Speed of sound, m/s.
    pub c: f64,
    /// Density of air, kg/m³.
    pub rho: f64,
    /// Area S, m².
    pub area: f64,
    /// Perimeter U, m.
    pub perimeter: f64,
    /// Longer side, m.
    pub l1: f64,
    /// Shorter side, m.
    pub l2: f64,
    pub fitted: Fitted,
}

/// Ratio of the sides taken where only an area is known: 10 m² is then 3.9 m × 2.6 m, near the
/// opening of a laboratory and the wall of a room.
const SIDES: f64 = 1.5;

impl Element {
    pub fn new(conditions: &Conditions, fitted: &Fitted) -> Element {
        let area = conditions.area.0;
        let l2 = (area / SIDES).sqrt();
        let l1 = area / l2;
        Element {
            air: conditions.air,
            c: conditions.air.sound_speed(),
            rho: conditions.air.density(),
            area,
            perimeter: 2.0 * (l1 + l2),
            l1,
            l2,
            fitted: *fitted,
        }
    }

    /// Radiation of the element forced by sound; a window is as large as its panes are.
    pub fn forced_radiation(&self, k: f64, glass: bool) -> ForcedRadiation {
        if glass && self.area > PANE_AREA {
            ForcedRadiation::new(k, PANE_AREA, PANE_PERIMETER)
        } else {
            ForcedRadiation::new(k, self.area, self.perimeter)
        }
    }

    /// Sides of a leaf, m: those of the element, and of a pane at most the largest pane's.
    pub fn sides(&self, glass: bool) -> (f64, f64) {
        if glass && self.area > PANE_AREA { PANE_SIDES } else { (self.l1, self.l2) }
    }

    /// k = 2πf/c, 1/m.
    pub fn wavenumber(&self, frequency: f64) -> f64 {
        2.0 * PI * frequency / self.c
    }

    /// a = ωm/(2ρc).
    pub fn normalised_impedance(&self, mass: f64, frequency: f64) -> f64 {
        PI * frequency * mass / (self.rho * self.c)
    }

    /// Critical frequency of a leaf, raised by shear where the frequency is above it; a
    /// frequency of 0 gives the thin-plate value.
    ///
    /// With B′ = B/(1 + s k_t²), k_t² = k² f_c/f at coincidence, f_c′ = f_c √(1 + s k_t²).
    /// Source: the shear-corrected plate of layered media, expanded at coincidence (derived).
    pub fn critical(&self, leaf: &Leaf, bending: &Bending, frequency: f64) -> f64 {
        if bending.stiffness <= 0.0 {
            return f64::INFINITY;
        }
        let fc = self.c * self.c / (2.0 * PI) * (leaf.mass / bending.stiffness).sqrt();
        if frequency <= 0.0 {
            return fc;
        }
        let kt2 = if frequency > fc {
            self.wavenumber(frequency).powi(2) * fc / frequency
        } else {
            self.wavenumber(frequency).powi(2)
        };
        fc * (1.0 + leaf.shear * kt2).sqrt()
    }

    /// Total loss factor of a leaf as built, without what it radiates.
    ///
    ///   η = η_int + c/(π² S √(f f_c)) Σ l_k α_k
    ///
    /// Source: ISO 12354-1:2017, Annex C (from memory, derived anew from the energy that a
    /// reverberant field of bending waves loses at absorbing edges). α is fitted, one value for
    /// heavy elements and one for boards and panes.
    pub fn loss(&self, leaf: &Leaf, bending: &Bending, frequency: f64) -> f64 {
        let absorbed = if leaf.is_heavy() {
            self.fitted.heavy_edge
        } else if leaf.glass {
            // The bed of a pane takes energy like a resistance at its edge: most where the pane's
            // impedance, in proportion to h^1.5 √f, is the bed's, less for thicker panes and thinner.
            let r =
                (leaf.thickness / MATCHED_PANE).powf(1.5) * (frequency.max(1.0) / 1000.0).sqrt();
            self.fitted.glass_edge * 4.0 * r / (1.0 + r).powi(2)
        } else {
            self.fitted.board_edge
        };
        let fc = self.critical(leaf, bending, 0.0);
        if !fc.is_finite() {
            return bending.loss;
        }
        let lines =
            if leaf.glass { PANE_PERIMETER / PANE_AREA } else { self.perimeter / self.area };
        let edges = self.c * lines * absorbed / (PI * PI * (frequency.max(1.0) * fc).sqrt());
        bending.loss
            + self.fitted.fixing_loss * f64::from(u8::from(!leaf.is_heavy() && !leaf.glass))
            + edges
    }
}

/// Sides of the largest pane, m: 1.25 m × 1.50 m, the opening of ISO 10140-1 for glazing.
const PANE_SIDES: (f64, f64) = (1.5, 1.25);
const PANE_AREA: f64 = PANE_SIDES.0 * PANE_SIDES.1;
const PANE_PERIMETER: f64 = 2.0 * (PANE_SIDES.0 + PANE_SIDES.1);

/// Thickness of the pane whose impedance at 1 kHz is that of its bed, m. Unverified: a common pane in
/// a common bed; thicker ones are known to be damped less by theirs.
const MATCHED_PANE: f64 = 0.006;
