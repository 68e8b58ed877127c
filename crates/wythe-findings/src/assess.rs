//! Whether a requirement is met, by how much, where it is decided, and how surely.

use crate::errors::Errors;
use wythe_bands::{
    Band, Level, LevelDifference, Octave, OctaveSpectrum, Remark, Seconds, Spectrum,
    weighting::Weighting,
};
use wythe_building::{Criterion, DifferenceKind, Hours, RoomIndex, Target};
use wythe_rating::audibility::Threshold;
use wythe_rating::room_noise::{NcTable, nc_curve, nr_curve};
use wythe_rating::{Bound, Curve, Method, Midband, Options, Resolution, rate};

/// A requirement set beside what arrives.
#[derive(Clone, Debug, PartialEq)]
pub struct Assessment {
    /// The criterion as the user wrote it.
    pub criterion: String,
    /// Whether it is met by the most probable levels; `None` when it cannot be judged.
    pub met: Option<bool>,
    /// Decibels to spare; negative when short. `None` when it cannot be judged.
    pub margin_db: Option<f64>,
    /// The band with the least to spare, where the criterion is by bands.
    pub governing_band: Option<&'static str>,
    /// Probability that it is met, from the stated deviations.
    pub probability_met: Option<f64>,
    /// Margin per octave, where the criterion is by octaves.
    pub octave_margins: OctaveSpectrum<LevelDifference>,
    /// What has to be said.
    pub remarks: Vec<Remark>,
}

/// What arrives in one room from one source.
#[derive(Clone, Copy, Debug)]
pub struct Arrival<'a> {
    /// The source room.
    pub from: RoomIndex,
    /// When the source plays; `None` for any time.
    pub plays: Option<Hours>,
    /// How far the source's fast-weighted maximum lies above its level, if known.
    pub maximum_above: Option<LevelDifference>,
    /// Levels in the receiving room.
    pub levels: &'a Spectrum<Level>,
    /// Level difference between the rooms.
    pub difference: &'a Spectrum<LevelDifference>,
    /// How uncertain both are.
    pub errors: &'a Errors,
    /// Decay time of the receiving room.
    pub decay: &'a Spectrum<Seconds>,
    /// Background of the receiving room.
    pub background: Option<&'a Spectrum<Level>>,
}

struct Verdict {
    margin: f64,
    band: Option<&'static str>,
    octaves: OctaveSpectrum<LevelDifference>,
}

/// Judges one target against what arrives. `draw` asks for the probability, which costs a Monte
/// Carlo of 2000 draws with errors that rise and fall together over about an octave.
pub fn assess(target: &Target, arrival: &Arrival<'_>, draw: bool) -> Assessment {
    let mut out = Assessment {
        criterion: target.text.clone(),
        met: None,
        margin_db: None,
        governing_band: None,
        probability_met: None,
        octave_margins: OctaveSpectrum::empty(),
        remarks: Vec::new(),
    };
    if let (Some(asked), Some(plays)) = (target.hours, arrival.plays)
        && !asked.overlaps(plays)
    {
        let text = format!("not judged: {asked}, played {plays}");
        out.remarks.push(Remark::new("target::other-hours", text));
        return out;
    }
    let verdict = match verdict(&target.criterion, arrival, arrival.levels, arrival.difference) {
        Ok(verdict) => verdict,
        Err(remark) => {
            out.remarks.push(remark);
            return out;
        }
    };
    out.met = Some(verdict.margin >= 0.0);
    out.margin_db = Some(verdict.margin);
    out.governing_band = verdict.band;
    out.octave_margins = verdict.octaves;
    if draw {
        let mut met = 0usize;
        for errors in arrival.errors.drawn() {
            let levels = arrival.levels.map(|b, l| l + LevelDifference(errors[b.index()]));
            let difference = arrival.difference.map(|b, d| d - LevelDifference(errors[b.index()]));
            if let Ok(v) = self::verdict(&target.criterion, arrival, &levels, &difference) {
                met += usize::from(v.margin >= 0.0);
            }
        }
        out.probability_met = Some(met as f64 / arrival.errors.drawn().len() as f64);
    }
    out
}

fn verdict(
    criterion: &Criterion,
    arrival: &Arrival<'_>,
    levels: &Spectrum<Level>,
    difference: &Spectrum<LevelDifference>,
) -> Result<Verdict, Remark> {
    let nothing = || {
        Remark::new(
            "target::no-levels",
            "the level cannot be judged: the source has no level in the bands it is judged by",
        )
    };
    let octaves = |limit: &dyn Fn(Octave) -> Option<f64>| -> Result<Verdict, Remark> {
        let arriving = levels.to_octaves();
        let margins: OctaveSpectrum<LevelDifference> =
            arriving.filter_map(|o, l| limit(o).map(|most| LevelDifference(most - l.0)));
        let (octave, least) =
            margins.iter().min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0)).ok_or_else(nothing)?;
        Ok(Verdict { margin: least.0, band: Some(octave.nominal()), octaves: margins })
    };
    let total = |weighting, most: Level| -> Result<Verdict, Remark> {
        let level = levels.weighted_total(weighting).ok_or_else(nothing)?;
        Ok(Verdict { margin: most.0 - level.0, band: None, octaves: OctaveSpectrum::empty() })
    };
    let thirds = |limit: &dyn Fn(Band) -> Option<f64>| -> Result<Verdict, Remark> {
        let (band, margin) = levels
            .iter()
            .filter_map(|(b, l)| limit(b).map(|most| (b, most - l.0)))
            .min_by(|(_, a), (_, b)| a.total_cmp(b))
            .ok_or_else(nothing)?;
        Ok(Verdict { margin, band: Some(band.nominal()), octaves: OctaveSpectrum::empty() })
    };
    let midband = |o: Octave| Midband::from_nominal(o.nominal());
    match criterion {
        Criterion::Nr(n) => octaves(&|o| midband(o).and_then(|m| nr_curve::level(*n, m))),
        Criterion::Nc(n) => {
            octaves(&|o| midband(o).and_then(|m| nc_curve::level(NcTable::default(), *n, m)))
        }
        Criterion::Octaves(limits) => octaves(&|o| limits.get(o).map(|l| l.0)),
        Criterion::Thirds(limits) => thirds(&|b| limits.get(b).map(|l| l.0)),
        Criterion::LevelA(most) => total(Weighting::A, *most),
        Criterion::LevelC(most) => total(Weighting::C, *most),
        Criterion::MaximumA(most) => match arrival.maximum_above {
            Some(above) => total(Weighting::A, *most - above),
            None => Err(Remark::new(
                "target::no-maximum",
                "asks about maxima, and nothing says how far the source's lie above its level: \
                 state `maximum_above` of the source",
            )),
        },
        Criterion::NotAudible => thirds(&|b| {
            let threshold = hearing_threshold(b);
            let background = arrival.background.and_then(|s| s.get(b)).map(|l| l.0);
            match (threshold, background) {
                (Some(t), Some(n)) => Some(t.max(n)),
                (t, n) => t.or(n),
            }
        }),
        Criterion::WeightedDifference { of, least, term, from } => {
            if from.is_some_and(|f| f != arrival.from) {
                return Err(Remark::new("target::other-source", "asks about another source"));
            }
            let of_totals = |weighting| {
                let played = levels.zip_with(difference, |l, d| l + d);
                let there = levels.weighted_total(weighting).ok_or_else(nothing)?;
                let here = played.weighted_total(weighting).ok_or_else(nothing)?;
                let margin = (here - there).0 - least.0;
                Ok(Verdict { margin, band: None, octaves: OctaveSpectrum::empty() })
            };
            let standardized = match of {
                DifferenceKind::LevelA => return of_totals(Weighting::A),
                DifferenceKind::LevelC => return of_totals(Weighting::C),
                DifferenceKind::Plain => *difference,
                DifferenceKind::Standardized => difference.zip_with(arrival.decay, |d, t| {
                    LevelDifference(d.0 + 10.0 * (t.0 / 0.5).log10())
                }),
            };
            let curve = curve(&standardized);
            let rating = rate(
                &curve,
                Method::Iso717Part1,
                &Options { one_decimal: true, ..Options::default() },
            )
            .map_err(|e| Remark::new("target::not-rated", e.to_string()))?;
            let mut value = rating.number().unwrap_or(f64::NAN);
            if let Some(term) = term {
                value = rating.term(term).and_then(|t| t.unrounded_sum).ok_or_else(|| {
                    Remark::new(
                        "target::no-term",
                        format!("the term {term} needs bands that are not there"),
                    )
                })?;
            }
            Ok(Verdict {
                margin: value - least.0,
                band: rating.worst_band.map(|b| b.nominal()),
                octaves: OctaveSpectrum::empty(),
            })
        }
    }
}

/// Hearing threshold of ISO 226:2003 in a band, dB.
pub fn hearing_threshold(band: Band) -> Option<f64> {
    Threshold::Iso226.level(Midband::from_nominal(band.nominal())?)
}

/// A spectrum as the rating reads it.
pub fn curve(spectrum: &Spectrum<LevelDifference>) -> Curve {
    let mut out = Curve::new(Resolution::Thirds);
    for (band, value) in spectrum.iter() {
        if let Some(midband) = Midband::from_nominal(band.nominal()) {
            out.set(midband, value.0, Bound::Exact);
        }
    }
    out
}
