//! ISO 717: what a lining or a floor covering improves, on a reference element.

use super::{TERMS, airborne, impact, step, tenths_of, worst};
use crate::rating::{BandRow, Decided, Method, Options, Rating, Term, bound_remark, examine};
use crate::{Bound, Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use wythe_bands::Remark;

/// Reference floor on which the improvement of a covering is rated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum ReferenceFloor {
    /// Heavyweight reference floor, for ΔL_w.
    #[default]
    Heavyweight,
    /// Lightweight reference floor No. 1, for ΔL_t,1,w.
    Lightweight1,
    /// Lightweight reference floor No. 2, for ΔL_t,2,w.
    Lightweight2,
    /// Lightweight reference floor No. 3, for ΔL_t,3,w.
    Lightweight3,
}

/// ISO 717-2, Table 4, thirds 100 Hz to 3.15 kHz, tenths of a decibel.
const HEAVYWEIGHT: [i64; 16] =
    [670, 675, 680, 685, 690, 695, 700, 705, 710, 715, 720, 720, 720, 720, 720, 720];
const LIGHTWEIGHT_1_2: [i64; 16] =
    [780, 780, 780, 780, 780, 780, 760, 740, 720, 690, 660, 630, 600, 570, 540, 510];
const LIGHTWEIGHT_3: [i64; 16] =
    [690, 720, 750, 780, 780, 780, 780, 780, 780, 760, 740, 720, 690, 660, 630, 600];

impl ReferenceFloor {
    /// Word for options: `heavy`, `light-1`, `light-2`, `light-3`.
    pub fn word(self) -> &'static str {
        match self {
            ReferenceFloor::Heavyweight => "heavy",
            ReferenceFloor::Lightweight1 => "light-1",
            ReferenceFloor::Lightweight2 => "light-2",
            ReferenceFloor::Lightweight3 => "light-3",
        }
    }

    /// Symbol of the improvement.
    pub fn symbol(self) -> &'static str {
        match self {
            ReferenceFloor::Heavyweight => "ΔLw",
            ReferenceFloor::Lightweight1 => "ΔLt,1,w",
            ReferenceFloor::Lightweight2 => "ΔLt,2,w",
            ReferenceFloor::Lightweight3 => "ΔLt,3,w",
        }
    }

    /// Normalized impact level of the bare reference floor (ISO 717-2, Table 4).
    pub fn level(self) -> Curve {
        let row = match self {
            ReferenceFloor::Heavyweight => &HEAVYWEIGHT,
            ReferenceFloor::Lightweight1 | ReferenceFloor::Lightweight2 => &LIGHTWEIGHT_1_2,
            ReferenceFloor::Lightweight3 => &LIGHTWEIGHT_3,
        };
        let bands = Midband::run("100", 16);
        Curve::from_pairs(
            Resolution::Thirds,
            bands.into_iter().zip(row).map(|(b, l)| (b, *l as f64 / 10.0)),
        )
    }
}

/// Level of the reference floor with the covering, each term taken to tenths first.
fn with_covering(floor: &Curve, improvement: &Curve) -> Curve {
    floor.map(|band, bare| {
        let delta = improvement.get(band).map_or(0.0, |e| e.value);
        (Tenths::nearest(bare) - Tenths::nearest(delta)).decibels()
    })
}

/// Rates the improvement ΔL of a floor covering on a reference floor:
/// L_n,r = L_n,r,0 − ΔL per band, ΔL_w = L_n,r,0,w − L_n,r,w, C_I,Δ = C_I,r,0 − C_I,r and
/// ΔL_lin = ΔL_w + C_I,Δ.
///
/// Terms: `CI_delta`, `dLlin`, `Lrw` (L_n,r,w) and `CIr`.
///
/// Source: ISO 717-2, clause 5, Table 4 and A.2.2 (transcription). The 2020 print of Annex C.2
/// carries a misprint (71.0 for 71.5 at 800 Hz) into C_I,Δ −8 and ΔL_lin 7; the rule gives −9
/// and 6.
///
/// # Errors
/// [`RatingError`] for missing bands, octaves, values that are no decibels and opposed bounds.
pub fn floor_improvement(
    improvement: &Curve,
    floor: ReferenceFloor,
    options: &Options,
) -> Result<Rating, RatingError> {
    let method = Method::Iso717Part2;
    if improvement.resolution() == Resolution::Octaves {
        return Err(RatingError::ThirdsNeeded { what: "the improvement of a floor covering" });
    }
    let bands = Midband::run("100", 16);
    let bound = examine(improvement, method, &bands)?;
    let plain = Options { quantity: None, ..*options };
    let bare = floor.level();
    let covered = with_covering(&bare, improvement);
    let (r0, r) = (impact(&bare, &plain)?, impact(&covered, &plain)?);
    let none = SingleNumber::nearest(0.0, options.one_decimal);
    let value_of = |rating: &Rating| rating.value.unwrap_or(none);
    let ci_of = |rating: &Rating| rating.term("CI").and_then(|t| t.value).unwrap_or(none);
    let weighted = value_of(&r0) - value_of(&r);
    let ci_delta = ci_of(&r0) - ci_of(&r);
    let linear = weighted + ci_delta;
    let ci_r = ci_of(&r);

    let (step, bare_tenths) = (step(options.one_decimal), tenths_of(&bare, &bands));
    let deltas = tenths_of(improvement, &bands);
    let index = |step: i64, deltas: &[Tenths]| {
        let level: Vec<Tenths> = bare_tenths.iter().zip(deltas).map(|(l, d)| *l - *d).collect();
        impact::weighted(Resolution::Thirds, &bare_tenths, step)
            - impact::weighted(Resolution::Thirds, &level, step)
    };
    let changed = |i: usize, by: i64, step: i64| {
        let mut other = deltas.clone();
        other[i] = Tenths(other[i].0 + by);
        index(step, &other) - index(step, &deltas)
    };
    let rows: Vec<BandRow> = r
        .rows
        .iter()
        .enumerate()
        .map(|(i, row)| BandRow {
            value: deltas[i],
            bound: improvement.get(row.band).map(|e| e.bound).unwrap_or_default(),
            // The improvement this band would need for no deviation at the rating found.
            reference: row.reference.map(|reference| bare_tenths[i] - reference),
            plus_one: changed(i, 10, step),
            minus_one: changed(i, -10, step),
            plus_one_fine: changed(i, 10, 1),
            minus_one_fine: changed(i, -10, 1),
            ..*row
        })
        .collect();
    let term = |key, value| Term {
        key,
        value: Some(value),
        sum: None,
        unrounded_sum: None,
        bound: Bound::Exact,
        missing: Vec::new(),
    };
    let mut remarks: Vec<Remark> = bound_remark(improvement, &bands, bound).into_iter().collect();
    remarks.push(Remark::new(
        "rating::reference-floor",
        format!("rated on the {} reference floor of ISO 717-2 Table 4", floor.word()),
    ));
    Ok(Rating {
        method,
        symbol: floor.symbol(),
        standard: "ISO 717-2:2020",
        clause: "ISO 717-2: improvement on a reference floor of Table 4 (clause 5), linear \
                 improvement by A.2.2; the reference per band is the improvement that would leave \
                 no deviation",
        resolution: Resolution::Thirds,
        value: Some(weighted),
        bound,
        unrounded: Some(index(1, &deltas).decibels()),
        statement: format!(
            "{}(CI,Δ) {} {weighted}({ci_delta}) dB",
            floor.symbol(),
            bound.relation()
        ),
        terms: vec![
            term("CI_delta", ci_delta),
            term("dLlin", linear),
            term("Lrw", value_of(&r)),
            term("CIr", ci_r),
        ],
        sum_unfavourable: r.sum_unfavourable,
        decided: Decided::BySum { limit: super::SUM_LIMIT_THIRDS },
        worst_band: worst(&rows),
        rows,
        remarks,
    })
}

/// Standard basic element on which the improvement of a lining is rated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LiningBase {
    /// Heavy wall.
    HeavyWall,
    /// Heavy floor.
    HeavyFloor,
    /// Lightweight wall.
    LightweightWall,
}

const HEAVY_WALL: [i64; 21] = [
    353, 373, 394, 400, 400, 400, 400, 410, 435, 461, 485, 510, 536, 560, 584, 611, 636, 650, 650,
    650, 650,
];
const HEAVY_FLOOR: [i64; 21] = [
    340, 360, 381, 400, 400, 400, 400, 400, 418, 444, 468, 493, 519, 544, 568, 595, 619, 643, 650,
    650, 650,
];
const LIGHTWEIGHT_WALL: [i64; 21] = [
    213, 233, 253, 270, 270, 270, 270, 270, 270, 270, 270, 280, 305, 328, 351, 376, 400, 423, 446,
    471, 494,
];

impl LiningBase {
    /// Reduction index of the element alone, thirds 50 Hz to 5 kHz (ISO 717-1, Table E.1).
    pub fn reduction_index(self) -> Curve {
        let row = match self {
            LiningBase::HeavyWall => &HEAVY_WALL,
            LiningBase::HeavyFloor => &HEAVY_FLOOR,
            LiningBase::LightweightWall => &LIGHTWEIGHT_WALL,
        };
        let bands = Midband::run("50", 21);
        Curve::from_pairs(
            Resolution::Thirds,
            bands.into_iter().zip(row).map(|(b, r)| (b, *r as f64 / 10.0)),
        )
    }
}

/// Improvement by a lining, for the index and for each sum of index and term.
#[derive(Clone, Debug, PartialEq)]
pub struct Lining {
    /// ΔR_w.
    pub weighted: SingleNumber,
    /// Δ(R_w + C) and so on, for every term whose bands are there.
    pub sums: Vec<LiningDifference>,
    /// Rating of the element alone.
    pub alone: Rating,
    /// Rating of the element with the lining.
    pub lined: Rating,
}

/// Difference of one sum of index and term.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LiningDifference {
    /// Key, such as `Xw+C50-3150`.
    pub key: &'static str,
    /// With the lining less without: of the sums, not of the terms.
    pub difference: SingleNumber,
}

/// Rates the improvement ΔR of a lining on a basic element: Δ R_w = R_w(with) − R_w(alone), and
/// likewise for each R_w + C_j.
///
/// Bands of the element that the improvement lacks are dropped, so terms whose range needs them
/// are not stated. Source: ISO 717-1, Annexes D and E.
///
/// # Errors
/// [`RatingError`] as for [`airborne`]; also when the two curves are not both thirds or octaves.
pub fn lining(
    element: &Curve,
    improvement: &Curve,
    options: &Options,
) -> Result<Lining, RatingError> {
    if element.resolution() != improvement.resolution() {
        return Err(RatingError::ThirdsNeeded { what: "a lining on an element given in thirds" });
    }
    let mut with = Curve::new(element.resolution());
    let mut without = Curve::new(element.resolution());
    for (band, r) in element.iter() {
        if let Some(delta) = improvement.get(band) {
            crate::rating::check_decibels(band, r.value)?;
            crate::rating::check_decibels(band, delta.value)?;
            let sum = Tenths::nearest(r.value) + Tenths::nearest(delta.value);
            let bound = if delta.bound == Bound::Exact { r.bound } else { delta.bound };
            with.set(band, sum.decibels(), bound);
            without.set(band, r.value, r.bound);
        }
    }
    let options = Options { quantity: None, ..*options };
    let (alone, lined) = (airborne(&without, &options)?, airborne(&with, &options)?);
    let none = SingleNumber::nearest(0.0, options.one_decimal);
    let weighted = lined.value.unwrap_or(none) - alone.value.unwrap_or(none);
    let sums = TERMS
        .iter()
        .filter_map(|t| {
            let difference = lined.term(t.key)?.sum? - alone.term(t.key)?.sum?;
            Some(LiningDifference { key: t.sum_key, difference })
        })
        .collect();
    Ok(Lining { weighted, sums, alone, lined })
}
