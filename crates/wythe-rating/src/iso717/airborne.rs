//! ISO 717-1: weighted airborne index and spectrum adaptation terms.

use super::{SUM_LIMIT_OCTAVES, SUM_LIMIT_THIRDS, contour_rows, decided, step, tenths_of, worst};
use crate::contour::{Contour, Unfavourable};
use crate::rating::{Method, Options, Rating, Term, bound_over, bound_remark, examine};
use crate::{Bound, Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use wythe_bands::Remark;

/// Table 3, thirds 100 Hz to 3.15 kHz.
pub(crate) const REFERENCE_THIRDS: [i64; 16] =
    [33, 36, 39, 42, 45, 48, 51, 52, 53, 54, 55, 56, 56, 56, 56, 56];
/// Table 3, octaves 125 Hz to 2 kHz.
pub(crate) const REFERENCE_OCTAVES: [i64; 5] = [36, 45, 52, 55, 56];

/// The contour of Table 3 with the sum rule of 4.4.
pub(crate) fn contour(resolution: Resolution) -> Contour {
    match resolution {
        Resolution::Thirds => Contour {
            bands: Midband::run("100", 16),
            reference: &REFERENCE_THIRDS,
            at_500: 7,
            unfavourable: Unfavourable::Below,
            sum_limit: SUM_LIMIT_THIRDS,
            single_limit: None,
        },
        Resolution::Octaves => Contour {
            bands: Midband::octave_run("125", 5),
            reference: &REFERENCE_OCTAVES,
            at_500: 2,
            unfavourable: Unfavourable::Below,
            sum_limit: SUM_LIMIT_OCTAVES,
            single_limit: None,
        },
    }
}

/// Source spectrum of an adaptation term.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Spectrum {
    /// Spectrum No. 1: A-weighted pink noise, for C.
    Pink,
    /// Spectrum No. 2: A-weighted urban traffic, for Ctr.
    Traffic,
}

/// One spectrum adaptation term of Annex A or B.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AdaptationTerm {
    /// Key, such as `C50-3150`.
    pub key: &'static str,
    /// Key of rating plus term.
    pub sum_key: &'static str,
    /// Which spectrum.
    pub spectrum: Spectrum,
    thirds: (&'static str, usize),
    octaves: (&'static str, usize),
    // C alone has other levels where the range reaches 5 kHz.
    to_5000: bool,
}

/// All terms of ISO 717-1, in the order they are stated.
pub static TERMS: [AdaptationTerm; 8] = {
    const fn term(
        key: &'static str,
        sum_key: &'static str,
        spectrum: Spectrum,
        thirds: (&'static str, usize),
        octaves: (&'static str, usize),
        to_5000: bool,
    ) -> AdaptationTerm {
        AdaptationTerm { key, sum_key, spectrum, thirds, octaves, to_5000 }
    }
    use Spectrum::{Pink, Traffic};
    [
        term("C", "Xw+C", Pink, ("100", 16), ("125", 5), false),
        term("Ctr", "Xw+Ctr", Traffic, ("100", 16), ("125", 5), false),
        term("C50-3150", "Xw+C50-3150", Pink, ("50", 19), ("63", 6), false),
        term("Ctr50-3150", "Xw+Ctr50-3150", Traffic, ("50", 19), ("63", 6), false),
        term("C50-5000", "Xw+C50-5000", Pink, ("50", 21), ("63", 7), true),
        term("Ctr50-5000", "Xw+Ctr50-5000", Traffic, ("50", 21), ("63", 7), true),
        term("C100-5000", "Xw+C100-5000", Pink, ("100", 18), ("125", 6), true),
        term("Ctr100-5000", "Xw+Ctr100-5000", Traffic, ("100", 18), ("125", 6), true),
    ]
};

/// Spectrum No. 1, thirds 50 Hz to 5 kHz. The 50-5000 column is 1 dB lower throughout, except
/// that its values above 3.15 kHz exist only there.
const PINK_THIRDS: [i32; 21] = [
    -40, -36, -33, -29, -26, -23, -21, -19, -17, -15, -13, -12, -11, -10, -9, -9, -9, -9, -9, -9,
    -9,
];
/// Spectrum No. 2, thirds 50 Hz to 5 kHz, the same for every range.
const TRAFFIC_THIRDS: [i32; 21] = [
    -25, -23, -21, -20, -20, -18, -16, -15, -14, -13, -12, -11, -9, -8, -9, -10, -11, -13, -15,
    -16, -18,
];
/// Spectrum No. 1, octaves 63 Hz to 4 kHz, again 1 dB lower where the range reaches 5 kHz. The
/// enlarged rows are from memory; each equals the rounded energy sum of its thirds.
const PINK_OCTAVES: [i32; 7] = [-31, -21, -14, -8, -5, -4, -4];
/// Spectrum No. 2, octaves 63 Hz to 4 kHz.
const TRAFFIC_OCTAVES: [i32; 7] = [-18, -14, -10, -7, -4, -6, -11];

impl AdaptationTerm {
    /// Bands the term adds over.
    pub fn bands(&self, resolution: Resolution) -> Vec<Midband> {
        match resolution {
            Resolution::Thirds => Midband::run(self.thirds.0, self.thirds.1),
            Resolution::Octaves => Midband::octave_run(self.octaves.0, self.octaves.1),
        }
    }

    /// Level of the source spectrum in a band, dB re the A-weighted total.
    pub fn level(&self, resolution: Resolution, band: Midband) -> Option<i32> {
        let (first, step, pink, traffic): (&str, usize, &[i32], &[i32]) = match resolution {
            Resolution::Thirds => ("50", 1, &PINK_THIRDS, &TRAFFIC_THIRDS),
            Resolution::Octaves => ("63", 3, &PINK_OCTAVES, &TRAFFIC_OCTAVES),
        };
        if !self.bands(resolution).contains(&band) {
            return None;
        }
        let place = (band.index() - Midband::from_nominal(first)?.index()) / step;
        Some(match self.spectrum {
            Spectrum::Pink => pink[place] - i32::from(self.to_5000),
            Spectrum::Traffic => traffic[place],
        })
    }

    /// Level and place of each band, for repeated evaluation.
    pub(crate) fn levels(&self, resolution: Resolution) -> Vec<(Midband, f64)> {
        self.bands(resolution)
            .into_iter()
            .filter_map(|b| self.level(resolution, b).map(|l| (b, f64::from(l))))
            .collect()
    }

    /// X_Aj = −10 lg Σ 10^((L_ij − X_i)/10), unrounded, from values taken to one decimal.
    ///
    /// `None` when a band is absent. Source: ISO 717-1, Formula (1).
    pub fn unrounded(&self, curve: &Curve) -> Option<f64> {
        let mut sum = 0.0;
        for (band, level) in self.levels(curve.resolution()) {
            let x = Tenths::nearest(curve.get(band)?.value).decibels();
            sum += 10f64.powf((level - x) / 10.0);
        }
        Some(-10.0 * sum.log10())
    }

    /// The term beside a weighted index: C_j = X_Aj − X_w, each rounded once.
    pub(crate) fn beside(
        &self,
        curve: &Curve,
        weighted: SingleNumber,
    ) -> Result<Term, RatingError> {
        let bands = self.bands(curve.resolution());
        let missing = curve.missing(&bands);
        let mut term = Term {
            key: self.key,
            value: None,
            sum: None,
            unrounded_sum: None,
            bound: Bound::Exact,
            missing,
        };
        if let (true, Some(sum)) = (term.missing.is_empty(), self.unrounded(curve)) {
            let rounded = SingleNumber::nearest(sum, weighted.one_decimal);
            term.bound = bound_over(curve, &bands)?;
            term.value = Some(rounded - weighted);
            term.sum = Some(rounded);
            term.unrounded_sum = Some(sum);
        }
        Ok(term)
    }
}

/// Rates airborne sound insulation: the highest contour in steps of 1 dB (or 0.1 dB) whose sum of
/// unfavourable deviations is not more than 32.0 dB (thirds) or 10.0 dB (octaves).
///
/// Source: ISO 717-1:2013 and 2020, 4.2 to 4.5, Tables 3 and 4, Annex B (transcriptions and
/// published results; the printed page was not seen).
///
/// # Errors
/// [`RatingError`] for missing bands, values that are no decibels and opposed bounds.
pub fn airborne(curve: &Curve, options: &Options) -> Result<Rating, RatingError> {
    let resolution = curve.resolution();
    let contour = contour(resolution);
    let bound = examine(curve, Method::Iso717Part1, &contour.bands)?;
    let data = tenths_of(curve, &contour.bands);
    let step = step(options.one_decimal);
    let rest = contour.rest(&data, step);
    let weighted = SingleNumber { tenths: rest.at_500, one_decimal: options.one_decimal };
    let rows = contour_rows(curve, &contour, &data, &rest, step, 1);
    let terms: Vec<Term> =
        TERMS.iter().map(|t| t.beside(curve, weighted)).collect::<Result<_, _>>()?;

    let symbol = options.quantity.map_or("Rw", |q| q.symbol());
    let mut remarks: Vec<Remark> = bound_remark(curve, &contour.bands, bound).into_iter().collect();
    if bound != Bound::Exact {
        remarks.push(reach(curve, &contour, &data, step, bound, weighted));
    }
    if resolution == Resolution::Octaves {
        remarks.push(Remark::new(
            "rating::octave-airborne",
            "rated from octaves, which ISO 717-1 allows for field measurements only",
        ));
        if terms.iter().any(|t| t.value.is_some() && t.key.contains("50")) {
            remarks.push(Remark::new(
                "rating::octave-ranges",
                "the octave spectra of the enlarged ranges are from memory; each equals the \
                 rounded energy sum of its third-octave spectrum",
            ));
        }
    }
    let limits: Vec<String> = terms
        .iter()
        .filter(|t| t.bound != Bound::Exact)
        .filter_map(|t| Some(format!("{symbol}+{} {} {}", t.key, t.bound.relation(), t.sum?)))
        .collect();
    if !limits.is_empty() {
        remarks.push(Remark::new(
            "rating::bound-sums",
            format!("the sums of rating and term are only limits: {}", limits.join(", ")),
        ));
    }
    Ok(Rating {
        method: Method::Iso717Part1,
        symbol,
        standard: "ISO 717-1:2020",
        clause: if resolution == Resolution::Thirds {
            "ISO 717-1: values to one decimal, reference curve of Table 3 shifted until the sum of \
             unfavourable deviations in 16 third-octave bands is as large as possible but not more \
             than 32.0 dB (4.4); adaptation terms 4.5 and Annex B"
        } else {
            "ISO 717-1: values to one decimal, reference curve of Table 3 shifted until the sum of \
             unfavourable deviations in 5 octave bands is as large as possible but not more than \
             10.0 dB (4.4, field data); adaptation terms 4.5 and Annex B"
        },
        resolution,
        value: Some(weighted),
        bound,
        unrounded: Some(contour.value(&data, 1).decibels()),
        statement: state(symbol, bound, weighted, &terms),
        terms,
        sum_unfavourable: Some(rest.sum),
        decided: decided(&contour, &rest),
        worst_band: worst(&rows),
        rows,
        remarks,
    })
}

/// Says how far the rating could go if the bounded bands were as good as can be.
fn reach(
    curve: &Curve,
    contour: &Contour,
    data: &[Tenths],
    step: i64,
    bound: Bound,
    weighted: SingleNumber,
) -> Remark {
    // Far beyond the contour a band no longer deviates, so going further changes nothing. In the
    // other direction there is no floor.
    let lifted: Vec<Tenths> = contour
        .bands
        .iter()
        .zip(data)
        .map(|(b, x)| match curve.get(*b).map(|e| e.bound) {
            Some(Bound::AtLeast) => Tenths(x.0 + 100_000),
            _ => *x,
        })
        .collect();
    let best = contour.value(&lifted, step);
    let text = match bound {
        Bound::AtLeast if best == weighted.tenths => {
            "however much better these bands are, the rating stays where it is".to_string()
        }
        // With all sixteen bounded nothing holds the contour down.
        Bound::AtLeast if best.0 > 50_000 => {
            "the other bands would allow any rating: the limit says nothing about how much better \
             it is"
                .to_string()
        }
        Bound::AtLeast => format!(
            "were these bands as good as can be, the other bands would hold the rating at {}",
            SingleNumber { tenths: best, ..weighted }
        ),
        _ => "the bands may be worse than stated, so the rating may be worse without limit"
            .to_string(),
    };
    Remark::new("rating::bound-reach", text)
}

/// `Rw(C;Ctr) = 30(-2;-3) dB`, with the terms of the widest range known behind the first two.
fn state(symbol: &str, bound: Bound, weighted: SingleNumber, terms: &[Term]) -> String {
    let known = |key: &str| terms.iter().any(|t| t.key == key && t.value.is_some());
    let mut keys = vec!["C", "Ctr"];
    for (pink, traffic) in
        [("C50-5000", "Ctr50-5000"), ("C50-3150", "Ctr50-3150"), ("C100-5000", "Ctr100-5000")]
    {
        if known(pink) && known(traffic) {
            keys.extend([pink, traffic]);
            break;
        }
    }
    let values: Vec<String> = keys
        .iter()
        .filter_map(|k| terms.iter().find(|t| t.key == *k)?.value)
        .map(|v| v.to_string())
        .collect();
    format!("{symbol}({}) {} {weighted}({}) dB", keys.join(";"), bound.relation(), values.join(";"))
}
