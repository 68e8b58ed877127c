//! Sound from outside.

use wythe_bands::{LevelDifference, Remark, Spectrum};

use crate::quantity::standardized;
use crate::survey::{FieldError, FieldResult, Survey, measure};

/// Where the outer microphones were and what sounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outside {
    /// On the surface of the tested element, with a loudspeaker at 45°.
    OnFacadeLoudspeaker,
    /// On the surface of the tested element, with traffic.
    OnFacadeTraffic,
    /// Two metres before the façade, whatever sounded.
    TwoMetresBefore,
}

/// What a façade measurement came to.
#[derive(Clone, Debug, PartialEq)]
pub struct FacadeResult {
    /// Levels, differences, states, decay and remarks as of two rooms; the first is outside.
    pub field: FieldResult,
    /// R′_45° or R′_tr,s; needs microphones on the façade, the area of the element and the volume.
    pub reduction: Spectrum<LevelDifference>,
    /// D_2m,nT; needs microphones 2 m before the façade.
    pub standardized_2m: Spectrum<LevelDifference>,
    /// Name of the quantity, such as `D2m,nT`.
    pub quantity: &'static str,
}

/// Level differences of a façade. The source positions of the survey are those outside, and its common
/// area is that of the tested element.
///
///   R′_45° = L_1,s − L_2 + 10 lg(S/A) − 1.5 dB,  R′_tr,s the same with 3 dB,
///   D_2m,nT = L_1,2m − L_2 + 10 lg(T/0.5 s).
///
/// Source: ISO 16283-3:2016 (public transcriptions).
///
/// # Errors
/// As [`measure`].
pub fn facade(survey: &Survey, outside: Outside) -> Result<FacadeResult, FieldError> {
    // Outdoors is no small room: no corners, no volume.
    let mut survey = survey.clone();
    survey.source_volume = None;
    let mut field = measure(&survey)?;
    field.refusals.clear();
    field.remarks.retain(|r| r.code != "fieldtest::uneven-source");
    let minus = |by: f64| field.apparent_reduction.map(|_, r| LevelDifference(r.0 - by));
    let (reduction, standardized_2m, quantity) = match outside {
        Outside::OnFacadeLoudspeaker => (minus(1.5), Spectrum::empty(), "R'45"),
        Outside::OnFacadeTraffic => (minus(3.0), Spectrum::empty(), "R'tr,s"),
        Outside::TwoMetresBefore => {
            let d = field
                .difference
                .filter_map(|band, d| Some(standardized(d, field.decay.get(band)?)));
            (Spectrum::empty(), d, "D2m,nT")
        }
    };
    if reduction.is_empty() && outside != Outside::TwoMetresBefore {
        field.remarks.push(Remark::new(
            "fieldtest::facade-area",
            format!(
                "{quantity} needs the area of the tested element and the volume of the room; describe \
                 the boundary to the outside"
            ),
        ));
    }
    if outside == Outside::OnFacadeTraffic {
        field.remarks.push(Remark::new(
            "fieldtest::traffic",
            "with traffic as the source inside and outside must have been recorded at the same time",
        ));
    }
    Ok(FacadeResult { field, reduction, standardized_2m, quantity })
}
