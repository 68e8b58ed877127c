//! Whether a sound can be heard, band by band, and how that may be put into words.

use crate::rating::check_decibels;
use crate::{Bound, Curve, Midband, RatingError, Resolution};
use wythe_bands::{Remark, Source};

/// A curve of third-octave levels that received sound is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Threshold {
    /// Hearing threshold T_f of ISO 226:2003 Table 1, the same as the free-field threshold of
    /// ISO 389-7, 20 Hz to 12.5 kHz.
    Iso226,
    /// Hearing threshold of DIN 45680:1997, 8 Hz to 100 Hz.
    Din45680,
    /// Night reference curve of the British procedure NANR45 (2005), 10 Hz to 160 Hz; from memory.
    Nanr45,
}

/// ISO 226:2003, Table 1, T_f from 20 Hz.
const ISO_226: [f64; 29] = [
    78.5, 68.7, 59.5, 51.1, 44.0, 37.5, 31.5, 26.5, 22.1, 17.9, 14.4, 11.4, 8.6, 6.2, 4.4, 3.0,
    2.2, 2.4, 3.5, 1.7, -1.3, -4.2, -6.0, -5.4, -1.5, 6.0, 12.6, 13.9, 12.3,
];
/// DIN 45680:1997 from 8 Hz.
const DIN_45680: [f64; 12] =
    [103.0, 95.0, 87.0, 79.0, 71.0, 63.0, 55.5, 48.0, 40.5, 33.5, 28.0, 23.5];
/// NANR45 from 10 Hz, from memory.
const NANR45: [f64; 13] =
    [92.0, 87.0, 83.0, 74.0, 64.0, 56.0, 49.0, 43.0, 42.0, 40.0, 38.0, 36.0, 34.0];

impl Threshold {
    /// Third-octave level of the curve, dB; `None` where it has none.
    pub fn level(self, band: Midband) -> Option<f64> {
        let (first, row): (&str, &[f64]) = match self {
            Threshold::Iso226 => ("20", &ISO_226),
            Threshold::Din45680 => ("8", &DIN_45680),
            Threshold::Nanr45 => ("10", &NANR45),
        };
        let place = band.index().checked_sub(Midband::from_nominal(first)?.index())?;
        row.get(place).copied()
    }

    /// Where the values come from and how well they are known.
    pub fn source(self) -> Source {
        match self {
            Threshold::Iso226 => Source::Published { key: "iso226-2003", place: "Table 1, T_f" },
            Threshold::Din45680 => Source::Unverified(
                "DIN 45680:1997-03, one public transcription that agrees with memory",
            ),
            Threshold::Nanr45 => {
                Source::Unverified("NANR45 (2005) from memory; open the report before use")
            }
        }
    }

    /// Name in reports.
    pub fn name(self) -> &'static str {
        match self {
            Threshold::Iso226 => "hearing threshold of ISO 226:2003",
            Threshold::Din45680 => "threshold of DIN 45680:1997",
            Threshold::Nanr45 => "night reference curve of NANR45 (2005), from memory",
        }
    }
}

/// One band of an [`Audibility`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AudibleBand {
    /// Band.
    pub band: Midband,
    /// Level received, dB.
    pub level: f64,
    /// Threshold, dB.
    pub threshold: f64,
    /// Background, dB, where it is known.
    pub background: Option<f64>,
    /// E = level − max(threshold, background), dB.
    pub excess: f64,
    /// Whether the excess is only a limit.
    pub bound: Bound,
}

/// What may be said about hearing a sound. The words are common practice, without a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Hearing {
    /// At least 10 dB below threshold and background in every band.
    NotExpected,
    /// Between 10 dB below and level with them in the loudest band.
    QuietMoments,
    /// Up to 10 dB above them.
    Clear,
    /// More than 10 dB above them.
    Dominant,
}

impl Hearing {
    /// Of an excess in dB.
    pub fn of(excess: f64) -> Hearing {
        match excess {
            e if e <= -10.0 => Hearing::NotExpected,
            e if e <= 0.0 => Hearing::QuietMoments,
            e if e <= 10.0 => Hearing::Clear,
            _ => Hearing::Dominant,
        }
    }

    /// The words.
    pub fn words(self) -> &'static str {
        match self {
            Hearing::NotExpected => "not expected to be heard",
            Hearing::QuietMoments => "may be picked out in quiet moments",
            Hearing::Clear => "clearly heard",
            Hearing::Dominant => "dominates the room",
        }
    }
}

/// Basis of the words in [`Hearing`], to be printed with them.
pub const BASIS: &str = "excess over the higher of hearing threshold and background in each \
                         third-octave band; the words for it are common practice, without a \
                         source; a rhythm can be heard a few decibels below a steady background";

/// Whether a sound can be heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Audibility {
    /// Curve it was held against.
    pub threshold: Threshold,
    /// Band by band, rising.
    pub bands: Vec<AudibleBand>,
    /// The band with the largest excess.
    pub loudest: AudibleBand,
    /// What may be said.
    pub hearing: Hearing,
    /// The sentence with its numbers.
    pub sentence: String,
    /// What has to be said with it.
    pub remarks: Vec<Remark>,
}

/// Holds a received sound against a threshold and the background of the room, in the bands the
/// sound and the threshold have. `None` when they share none.
///
/// E = L − max(threshold, background), the background at face value, without a masking shift.
///
/// # Errors
/// [`RatingError::ThirdsNeeded`] for octaves, [`RatingError::NotDecibels`].
pub fn audibility(
    received: &Curve,
    background: Option<&Curve>,
    threshold: Threshold,
) -> Result<Option<Audibility>, RatingError> {
    let octaves = |c: &Curve| c.resolution() == Resolution::Octaves;
    if octaves(received) || background.is_some_and(octaves) {
        return Err(RatingError::ThirdsNeeded { what: "the hearing threshold" });
    }
    let mut bands = Vec::new();
    let (mut beyond, mut unheard) = (Vec::new(), Vec::new());
    for (band, entry) in received.iter() {
        check_decibels(band, entry.value)?;
        let Some(limit) = threshold.level(band) else {
            beyond.push(band);
            continue;
        };
        let behind = background.and_then(|b| b.get(band));
        if let Some(b) = behind {
            check_decibels(band, b.value)?;
        } else {
            unheard.push(band);
        }
        let background = behind.map(|b| b.value);
        let masked = background.is_some_and(|b| b > limit);
        let excess = entry.value - background.map_or(limit, |b| b.max(limit));
        // A background known only as "at most" makes the excess "at least", where it decides.
        let bound = match (entry.bound, behind.map(|b| b.bound)) {
            (Bound::Exact, Some(b)) if masked => b.reversed(),
            (own, _) => own,
        };
        bands.push(AudibleBand {
            band,
            level: entry.value,
            threshold: limit,
            background,
            excess,
            bound,
        });
    }
    let Some(loudest) =
        bands.iter().copied().reduce(|a, b| if b.excess > a.excess { b } else { a })
    else {
        return Ok(None);
    };
    let hearing = Hearing::of(loudest.excess);
    let over = if loudest.background.is_some_and(|b| b > loudest.threshold) {
        "the background of the room"
    } else {
        threshold.name()
    };
    let side = if loudest.excess >= 0.0 { "above" } else { "below" };
    let sentence = format!(
        "{}: at {} Hz {}{:.1} dB {side} {over}",
        hearing.words(),
        loudest.band,
        if loudest.excess >= 0.0 { loudest.bound.sign() } else { loudest.bound.reversed().sign() },
        loudest.excess.abs(),
    );
    let mut remarks = vec![Remark::new("audibility::basis", BASIS)];
    if let Source::Unverified(why) = threshold.source() {
        remarks.push(Remark::new("audibility::unverified", why));
    }
    if !unheard.is_empty() {
        remarks.push(
            Remark::new(
                "audibility::no-background",
                "no background is known here, so only the threshold counts; a measured L90 at the \
                 hour of interest, without people talking, is needed",
            )
            .at(crate::midband::list(&unheard)),
        );
    }
    if !beyond.is_empty() {
        remarks.push(
            Remark::new("audibility::no-threshold", "the threshold curve has no value here")
                .at(crate::midband::list(&beyond)),
        );
    }
    Ok(Some(Audibility { threshold, bands, loudest, hearing, sentence, remarks }))
}
