//! One leaf: the plate that its sheets make together.

use std::f64::consts::PI;

use wythe_bands::{Air, Hertz};

use crate::catalogue::MaterialClass;
use crate::damped_stack::DampedStack;

/// Speed of sound for which the catalogue's f_c·h holds, m/s.
const CATALOGUE_SOUND_SPEED: f64 = 343.0;

/// One leaf, ready for calculation.
#[derive(Clone, Debug)]
pub(crate) struct Leaf {
    /// Mass per area, kg/m².
    pub mass: f64,
    /// Thickness, m.
    pub thickness: f64,
    /// How it bends.
    pub stiffness: Stiffness,
    /// Internal loss factor, friction of loose sheets included, to which edges add theirs.
    pub loss: f64,
    /// What it is made of, in the large.
    pub class: MaterialClass,
    /// k_t² h² is multiplied by this in the shear correction, m².
    pub shear: f64,
    /// Whether it is a pane.
    pub glass: bool,
    /// Bending stiffness the stiff way over that the soft way; 1 for an even plate.
    pub stiff_ratio: f64,
}

/// How a leaf bends.
#[derive(Clone, Debug)]
pub(crate) enum Stiffness {
    /// Not at all: a membrane.
    None,
    /// One bending stiffness per width, N·m, at all frequencies.
    Plate(f64),
    /// Sheets with a viscoelastic layer between: stiffness and loss depend on frequency.
    Damped(DampedStack),
}

/// Bending stiffness per width, N·m, and loss factor at one frequency.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bending {
    pub stiffness: f64,
    pub loss: f64,
}

impl Leaf {
    /// Whether edge losses and the heavy-element method apply.
    pub fn is_heavy(&self) -> bool {
        self.class == MaterialClass::Masonry
    }

    /// Stiffness and loss at a frequency.
    pub fn bending(&self, frequency: f64) -> Bending {
        match &self.stiffness {
            Stiffness::None => Bending { stiffness: 0.0, loss: self.loss },
            Stiffness::Plate(b) => Bending { stiffness: *b, loss: self.loss },
            Stiffness::Damped(stack) => {
                let (stiffness, core_loss) = stack.stiffness_at(frequency, self.mass);
                Bending { stiffness, loss: core_loss + self.loss }
            }
        }
    }

    /// Critical frequency at a frequency (they differ in a damped stack), Hz; infinite if limp.
    ///
    /// f_c = c²/2π · √(m/B). Source: Vigran 2008, Eq. 6.41 (from a public transcription).
    pub fn critical_at(&self, frequency: f64, air: Air) -> f64 {
        let c = air.sound_speed();
        let b = self.bending(frequency).stiffness;
        if b > 0.0 { c * c / (2.0 * PI) * (self.mass / b).sqrt() } else { f64::INFINITY }
    }

    /// The critical frequency to print: where f_c(f) = f. `None` if there is none below 40 kHz.
    pub fn critical(&self, air: Air) -> Option<Hertz> {
        let mut f = self.critical_at(1000.0, air);
        if !f.is_finite() {
            return None;
        }
        // Only a damped stack moves at all; eight steps settle it to less than a hertz.
        for _ in 0..8 {
            f = self.critical_at(f, air);
        }
        (f.is_finite() && f < 40_000.0).then_some(Hertz(f))
    }
}

/// Bending stiffness per width of a plate with mass `m` and critical frequency `fc_h / h`.
pub(crate) fn stiffness_from_fc_h(mass: f64, fc_times_h: f64, thickness: f64) -> f64 {
    let fc = fc_times_h / thickness;
    let c = CATALOGUE_SOUND_SPEED;
    mass * (c * c / (2.0 * PI * fc)).powi(2)
}
