//! The table of methods, which of them apply, and the rule by which one is chosen.

pub(crate) mod cremer_1942;
pub(crate) mod davy_2009;
pub(crate) mod heckl_1960;
pub(crate) mod iso_12354_2017;
pub(crate) mod layered_media;
pub(crate) mod mass_law;
pub(crate) mod perimeter;
pub(crate) mod sharp_1978;
pub(crate) mod stud_path;
pub(crate) mod watters_1959;

use wythe_bands::{Band, Hertz, LevelDifference, Source, Spectrum, SurfaceMass, Transmittance};

use crate::element::Element;
use crate::layup::Layup;
use crate::prediction::{by_path, frequencies, layers_of, shares, tied_pairs};
use crate::{BuildUp, Conditions, Construction, FITTED, PartitionError};

/// A published way to the reduction index of some build-ups.
#[derive(Debug)]
pub struct Method {
    /// Name: author and year where it has them.
    pub name: &'static str,
    /// Where it comes from.
    pub source: Source,
    /// What it takes into account, for people.
    pub says: &'static str,
    /// Lowest frequency it is meant for.
    pub from: Hertz,
    /// Highest frequency it is meant for.
    pub to: Hertz,
    fits: fn(&Layup) -> bool,
    transmittance: fn(&Layup, &Element, f64) -> f64,
}

/// All methods that calculate from layers. **The rule of choice: the first that applies.** The
/// order is that of their errors on the published record; a data sheet comes before all of them.
pub static METHODS: [Method; 6] = [
    Method {
        name: "layered_media",
        source: Source::Derived(
            "chain matrices of plates and equivalent fluids (Vigran 2008, ch. 6; Miki 1990) with \
             Davy's finite-size radiation, a line and point stud path and a perimeter path",
        ),
        says: "two leaves and more: cavities, fills, coincidence, finite size, studs, perimeter",
        from: Hertz(50.0),
        to: Hertz(5000.0),
        fits: |layup| layup.leaves.len() > 1 || layup.leaves[0].stiff_ratio > 1.0,
        transmittance: whole,
    },
    Method {
        name: "davy_2009",
        source: Source::Unverified("Davy 2009, J. Acoust. Soc. Am. 126; equations from memory"),
        says: "one leaf: finite size, coincidence, edge losses, shear",
        from: Hertz(50.0),
        to: Hertz(5000.0),
        fits: |layup| layup.leaves.len() == 1,
        transmittance: whole,
    },
    Method {
        name: "iso_12354_2017",
        source: Source::Published { key: "iso12354-1-2017", place: "Annex B" },
        says: "one heavy homogeneous element: free and forced waves, plateau of thick elements",
        from: Hertz(50.0),
        to: Hertz(5000.0),
        fits: |layup| layup.leaves.len() == 1 && layup.leaves[0].is_heavy(),
        transmittance: |layup, element, f| {
            iso_12354_2017::transmittance(&layup.leaves[0], element, f)
        },
    },
    Method {
        name: "sharp_1978",
        source: Source::Published { key: "bies-2017", place: "Eqs. 7.62 ff., after Sharp 1978" },
        says: "two leaves without studs: mass law, mass-air-mass resonance; overrates most walls",
        from: Hertz(50.0),
        to: Hertz(2000.0),
        fits: |layup| layup.leaves.len() == 2 && layup.gaps[0].frame.is_none(),
        transmittance: sharp_1978::transmittance,
    },
    Method {
        name: "cremer_1942",
        source: Source::Published { key: "norton-2003", place: "Eq. 3.110" },
        says: "one leaf above its critical frequency; mass law below half of it, a line between",
        from: Hertz(50.0),
        to: Hertz(5000.0),
        fits: |layup| {
            layup.leaves.len() == 1
                && layup.leaves[0].bending(1000.0).stiffness > 0.0
                && layup.leaves[0].stiff_ratio <= 1.0
        },
        transmittance: |layup, element, f| {
            let leaf = &layup.leaves[0];
            let bending = leaf.bending(f);
            let fc = element.critical(leaf, &bending, 0.0);
            let mass = SurfaceMass(leaf.mass);
            let field = |f: f64| {
                mass_law::field_mass_law(
                    mass,
                    Hertz(f),
                    mass_law::FIELD_CORRECTION_THIRDS,
                    element.air,
                )
                .0
            };
            let loss = element.loss(leaf, &bending, f).max(1e-4);
            let above = |f: f64| {
                cremer_1942::above_coincidence(mass, Hertz(fc), loss, Hertz(f), element.air)
                    .map_or(0.0, |r| r.0)
            };
            // Between f_c/2 and 1.2 f_c a straight line over lg f, by the bookkeeping of Sharp.
            let (lo, hi) = (0.5 * fc, 1.2 * fc);
            let r = if f <= lo {
                field(f)
            } else if f >= hi {
                above(f)
            } else {
                field(lo) + (above(hi) - field(lo)) * (f / lo).ln() / (hi / lo).ln()
            };
            10f64.powf(-r.max(0.0) / 10.0)
        },
    },
    Method {
        name: "mass_law",
        source: Source::Published { key: "bies-2017", place: "Eqs. 7.40 and 7.42" },
        says: "all mass as one limp wall: what a wall would do that neither bends nor resonates",
        from: Hertz(50.0),
        to: Hertz(5000.0),
        fits: |_| true,
        transmittance: |layup, element, f| {
            mass_law::field_mass_law(
                SurfaceMass(layup.mass()),
                Hertz(f),
                mass_law::FIELD_CORRECTION_THIRDS,
                element.air,
            )
            .transmittance()
            .0
        },
    },
];

/// All paths at one frequency, as [`crate::predict`] adds them up.
fn whole(layup: &Layup, element: &Element, f: f64) -> f64 {
    let shares = Band::holding(Hertz(f))
        .map_or_else(Vec::new, |band| shares(layup, &tied_pairs(layup, 0.0), element, band));
    by_path(layup, element, (0.0, &[]), &shares, f).iter().sum()
}

impl Method {
    /// Whether the method is made for this build-up. A build-up that cannot be used fits none.
    pub fn applies(&self, build_up: &BuildUp) -> bool {
        Layup::new(&build_up.id, layers_of(build_up)).is_ok_and(|layup| (self.fits)(&layup))
    }

    /// Reduction index by this method, in all bands from 20 Hz to 10 kHz; [`Method::from`] and
    /// [`Method::to`] say where it is meant to be believed.
    ///
    /// # Errors
    /// Anything in the description that cannot be used.
    pub fn reduction(
        &self,
        build_up: &BuildUp,
        conditions: &Conditions,
    ) -> Result<Spectrum<LevelDifference>, PartitionError> {
        crate::prediction::check_conditions(&build_up.id, conditions)?;
        let layup = Layup::new(&build_up.id, layers_of(build_up))?;
        let element = Element::new(conditions, &FITTED);
        if !(self.fits)(&layup) {
            return Err(PartitionError::MethodDoesNotApply {
                id: build_up.id.clone(),
                method: self.name,
                says: self.says,
            });
        }
        Ok(Band::range(Band::FIRST, Band::HZ_10000)
            .map(|band| {
                let tau: f64 = frequencies(band, 9)
                    .map(|(f, weight)| weight * (self.transmittance)(&layup, &element, f))
                    .sum();
                (band, Transmittance(tau.clamp(1e-16, 1.0)).reduction())
            })
            .collect())
    }
}

/// The methods that apply to a build-up, the one that [`crate::predict`] uses first. For a build-up
/// with nothing but a data sheet there are none.
pub fn methods_for(build_up: &BuildUp) -> Vec<&'static Method> {
    let layers = match &build_up.construction {
        Construction::Layers(layers) => layers,
        Construction::Measured(sheet) => &sheet.layers,
    };
    match Layup::new(&build_up.id, layers) {
        Ok(layup) => fitting(&layup).collect(),
        Err(_) => Vec::new(),
    }
}

pub(crate) fn fitting(layup: &Layup) -> impl Iterator<Item = &'static Method> + '_ {
    METHODS.iter().filter(move |m| (m.fits)(layup))
}
