//! What every rating hands back, and how one is asked for.

use crate::{Bound, Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use crate::{astm, iso717, room_noise};
use std::fmt;
use std::str::FromStr;
use wythe_bands::Remark;

/// A rating standard, by the name the command line uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Method {
    /// ISO 717-1, airborne sound insulation.
    Iso717Part1,
    /// ISO 717-2, impact sound insulation.
    Iso717Part2,
    /// ASTM E413, airborne classes (STC, NIC and kin).
    E413,
    /// ASTM E1332, outdoor-indoor transmission class.
    E1332,
    /// ASTM E989, impact classes (IIC and kin).
    E989,
    /// Noise criterion curves of ANSI/ASA S12.2.
    Nc,
    /// Noise rating curves of ISO R 1996.
    Nr,
    /// Room criterion, Mark II, of ANSI/ASA S12.2 Annex D.
    Rc,
}

impl Method {
    /// All methods.
    pub const ALL: [Method; 8] = [
        Method::Iso717Part1,
        Method::Iso717Part2,
        Method::E413,
        Method::E1332,
        Method::E989,
        Method::Nc,
        Method::Nr,
        Method::Rc,
    ];

    /// Name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Method::Iso717Part1 => "iso717-1",
            Method::Iso717Part2 => "iso717-2",
            Method::E413 => "e413",
            Method::E1332 => "e1332",
            Method::E989 => "e989",
            Method::Nc => "nc",
            Method::Nr => "nr",
            Method::Rc => "rc",
        }
    }
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A name that is no rating method.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" is not a rating method; choose one of iso717-1, iso717-2, e413, e1332, e989, nc, nr, \
     rc"
)]
pub struct UnknownMethod(
    /// What was asked for.
    pub String,
);

impl FromStr for Method {
    type Err = UnknownMethod;
    fn from_str(text: &str) -> Result<Method, UnknownMethod> {
        let wanted = text.trim().to_ascii_lowercase();
        Method::ALL
            .into_iter()
            .find(|m| m.name() == wanted)
            .ok_or_else(|| UnknownMethod(text.chars().take(40).collect()))
    }
}

/// What may be asked for beside the method. The default is what each standard asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Options {
    /// ISO 717 in steps of 0.1 dB, for use beside an uncertainty only.
    pub one_decimal: bool,
    /// The curve is the improvement ΔL of a floor covering, to be rated on this reference floor
    /// (ISO 717-2 only).
    pub floor_improvement: Option<iso717::ReferenceFloor>,
    /// How ASTM E413 and E989 take their data.
    pub whole_decibels: astm::DataRounding,
    /// Which edition of the NC table.
    pub nc_table: room_noise::NcTable,
    /// By which rule NC is found.
    pub nc_rule: room_noise::NcRule,
    /// Which quantity the curve holds, so that the result carries its symbol.
    pub quantity: Option<crate::Quantity>,
}

/// An adaptation term or other number that stands beside the rating.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// Key such as `C`, `Ctr50-5000`, `CI`.
    pub key: &'static str,
    /// The term; `None` when bands it needs are absent.
    pub value: Option<SingleNumber>,
    /// Rating plus term, the number a requirement is written for, where that has a meaning.
    pub sum: Option<SingleNumber>,
    /// That sum before rounding.
    pub unrounded_sum: Option<f64>,
    /// Whether the sum is only a limit.
    pub bound: Bound,
    /// Bands the term lacks.
    pub missing: Vec<Midband>,
}

/// One band of a rating: what it was, what it was held against, and what it is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandRow {
    /// Band.
    pub band: Midband,
    /// Value as the rule took it (rounded to tenths or to whole decibels).
    pub value: Tenths,
    /// Whether the value is only a limit.
    pub bound: Bound,
    /// Shifted reference contour, or the criterion curve through the rating; absent for rules
    /// that only add energies.
    pub reference: Option<Tenths>,
    /// Unfavourable deviation from it; 0 when the band is on the good side.
    pub deviation: Option<Tenths>,
    /// Share of the band in the energy sum that makes the rating, 0 to 1, for rules that add.
    pub share: Option<f64>,
    /// Change of the rating if this band's value were 1 dB higher.
    pub plus_one: Tenths,
    /// Change of the rating if this band's value were 1 dB lower.
    pub minus_one: Tenths,
    /// The same on the scale of 0.1 dB, which also shows what the whole number hides.
    pub plus_one_fine: Tenths,
    /// The same for 1 dB lower.
    pub minus_one_fine: Tenths,
}

/// What stopped the rating where it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Decided {
    /// One more step would bring the sum of unfavourable deviations over its limit.
    BySum {
        /// The limit.
        limit: Tenths,
    },
    /// One more step would bring single bands over the limit for one band.
    BySingleBands {
        /// The limit.
        limit: Tenths,
        /// Those bands.
        bands: Vec<Midband>,
    },
    /// All bands together: the rating is an energy sum or a mean.
    ByAllBands,
    /// The one band that touches the highest criterion curve.
    ByBand(Midband),
}

/// A rating with everything needed to understand and to check it.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    /// By which method.
    pub method: Method,
    /// Symbol of the rated quantity, such as `Rw`, `DnT,w`, `STC`.
    pub symbol: &'static str,
    /// Standard and edition as computed.
    pub standard: &'static str,
    /// Clauses applied, in words.
    pub clause: &'static str,
    /// Thirds or octaves.
    pub resolution: Resolution,
    /// The rating; `None` where the curve lies off the criterion curves (see `statement`).
    pub value: Option<SingleNumber>,
    /// Whether it is only a limit.
    pub bound: Bound,
    /// The number before the last rounding, where the rule has one: the energy sums of E1332, the
    /// interpolated NC and NR. For contour ratings the 0.1 dB variant.
    pub unrounded: Option<f64>,
    /// Adaptation terms and other companions, in the order they are stated.
    pub terms: Vec<Term>,
    /// Sum of unfavourable deviations (deficiencies), for contour ratings.
    pub sum_unfavourable: Option<Tenths>,
    /// What stopped the rating.
    pub decided: Decided,
    /// Band with the largest deviation, or the largest share, or the one that touches; the lowest
    /// of several alike.
    pub worst_band: Option<Midband>,
    /// Band by band, rising.
    pub rows: Vec<BandRow>,
    /// The rating as the standard writes it: `Rw(C;Ctr) = 30(-2;-3) dB`.
    pub statement: String,
    /// What has to travel with the result.
    pub remarks: Vec<Remark>,
}

impl Rating {
    /// The rating as one number for programs: whole or one decimal as stated, for NR the
    /// interpolated number to four decimals (it is rounded up only against a limit).
    pub fn number(&self) -> Option<f64> {
        match (self.method, self.unrounded) {
            (Method::Nr, Some(exact)) => Some((exact * 1e4).round() / 1e4),
            _ => self.value.map(SingleNumber::decibels),
        }
    }

    /// A companion by its key.
    pub fn term(&self, key: &str) -> Option<&Term> {
        self.terms.iter().find(|t| t.key == key)
    }

    /// The row of a band.
    pub fn row(&self, band: Midband) -> Option<&BandRow> {
        self.rows.iter().find(|r| r.band == band)
    }

    /// The largest unfavourable deviation, for contour ratings.
    pub fn largest_deviation(&self) -> Option<Tenths> {
        self.rows.iter().filter_map(|r| r.deviation).max()
    }
}

/// Rates a curve.
///
/// Bands outside the range of the rule may be present and are ignored by it.
///
/// # Errors
/// [`RatingError`] names the bands and says why: bands missing, octaves for a rule of thirds,
/// values that are no decibels, limits on both sides, an option of another method.
pub fn rate(curve: &Curve, method: Method, options: &Options) -> Result<Rating, RatingError> {
    if options.floor_improvement.is_some() && method != Method::Iso717Part2 {
        return Err(RatingError::OptionElsewhere {
            option: "a floor improvement",
            belongs_to: "iso717-2",
            method,
        });
    }
    let iso = matches!(method, Method::Iso717Part1 | Method::Iso717Part2);
    if options.one_decimal && !iso {
        return Err(RatingError::OptionElsewhere {
            option: "the variant with one decimal",
            belongs_to: "iso717-1 and iso717-2",
            method,
        });
    }
    let mut rating = match method {
        Method::Iso717Part1 => iso717::airborne(curve, options),
        Method::Iso717Part2 => match options.floor_improvement {
            None => iso717::impact(curve, options),
            Some(floor) => iso717::floor_improvement(curve, floor, options),
        },
        Method::E413 => astm::e413(curve, options),
        Method::E1332 => astm::e1332(curve, options),
        Method::E989 => astm::e989(curve, options),
        Method::Nc => room_noise::nc(curve, options.nc_table, options.nc_rule),
        Method::Nr => room_noise::nr(curve),
        Method::Rc => room_noise::rc(curve),
    }?;
    if let Some(quantity) = options.quantity
        && quantity.method() != method
    {
        return Err(RatingError::OptionElsewhere {
            option: quantity.symbol(),
            belongs_to: quantity.method().name(),
            method,
        });
    }
    // Remarks made while the curve was read come first: they say what was rated.
    let mut remarks = curve.remarks.clone();
    remarks.extend(rating.remarks.into_iter().filter(|r| !curve.remarks.contains(r)));
    rating.remarks = remarks;
    Ok(rating)
}

/// Checks the values of the bands a rule needs and finds whether the result is a limit.
///
/// `needed` bands must be there; the bound is that of the curve, not yet of the rating.
pub(crate) fn examine(
    curve: &Curve,
    method: Method,
    needed: &[Midband],
) -> Result<Bound, RatingError> {
    let missing = curve.missing(needed);
    if !missing.is_empty() {
        return Err(RatingError::MissingBands {
            method,
            resolution: curve.resolution().word(),
            missing,
        });
    }
    bound_over(curve, needed)
}

/// Bound of a result that rises or falls with each of these bands; absent ones are passed over.
pub(crate) fn bound_over(curve: &Curve, bands: &[Midband]) -> Result<Bound, RatingError> {
    let entries = || bands.iter().filter_map(|b| curve.get(*b).map(|e| (*b, e)));
    for (band, entry) in entries() {
        check_decibels(band, entry.value)?;
    }
    let those =
        |bound| entries().filter(|(_, e)| e.bound == bound).map(|(b, _)| b).collect::<Vec<_>>();
    let (at_least, at_most) = (those(Bound::AtLeast), those(Bound::AtMost));
    match (at_least.is_empty(), at_most.is_empty()) {
        (true, true) => Ok(Bound::Exact),
        (false, true) => Ok(Bound::AtLeast),
        (true, false) => Ok(Bound::AtMost),
        (false, false) => Err(RatingError::OpposedBounds { at_least, at_most }),
    }
}

pub(crate) fn check_decibels(band: Midband, value: f64) -> Result<(), RatingError> {
    if value.is_finite() && value.abs() <= crate::error::LARGEST_VALUE {
        Ok(())
    } else {
        Err(RatingError::NotDecibels { band, value })
    }
}

pub(crate) fn bound_remark(curve: &Curve, bands: &[Midband], bound: Bound) -> Option<Remark> {
    let marked: Vec<Midband> = bands
        .iter()
        .copied()
        .filter(|b| curve.get(*b).is_some_and(|e| e.bound != Bound::Exact))
        .collect();
    (!marked.is_empty()).then(|| {
        let way = if bound == Bound::AtMost { "at most" } else { "at least" };
        Remark::new(
            "rating::bound",
            format!("the values of these bands are only limits, so the rating is \"{way}\""),
        )
        .at(crate::midband::list(&marked))
    })
}
