//! Measured reduction indices first; what a sheet lacks is filled in and marked as such.

use wythe_bands::{Band, LevelDifference, Octave, OctaveSpectrum, Remark, Spectrum};

use crate::element::Element;
use crate::prediction::{Prediction, from_layers};
use crate::{BuildUp, DataSheet, PartitionError, PathKind, PathReduction, SheetRating};
use wythe_rating::{Curve, Midband, Options, Resolution};

/// Standard uncertainty of one laboratory test against another, situation A, by octave from
/// 63 Hz, dB. Source: ISO 12999-1:2020, Table 2: 1.8 dB at mid bands, 3.0 dB at 100 Hz, 6.8 dB at
/// 50 Hz (from a public transcription); between these interpolated.
fn measured_deviation(band: Band) -> f64 {
    let f = band.centre().0;
    match f {
        f if f < 56.0 => 6.8,
        f if f < 90.0 => 4.5,
        f if f < 140.0 => 3.0,
        f if f < 225.0 => 2.4,
        f if f < 3600.0 => 1.8,
        _ => 2.5,
    }
}

/// What is added to the deviation per octave away from the nearest measured band, dB, where
/// nothing but the sheet is known. Practice, no source.
const PER_OCTAVE_AWAY: f64 = 3.0;
/// Rise of R per octave below the lowest measured band where no layers are known, dB: the mass
/// law. Above the highest band nothing is added, which errs on the low side.
const MASS_LAW: f64 = 6.0;

/// Reads a table of a data sheet: nominal frequencies in Hz with values in dB, in rising order.
/// Octave tables are told from third-octave tables by their steps.
///
/// # Errors
/// Frequencies that are no band, bands out of order or twice, values that are no reduction index.
pub fn data_sheet(
    id: &str,
    source: &str,
    table: &[(String, f64)],
) -> Result<DataSheet, PartitionError> {
    let mut bands: Vec<(Band, LevelDifference)> = Vec::new();
    for (word, value) in table {
        let band = Band::from_nominal(word).ok_or_else(|| PartitionError::NotABand {
            id: id.to_owned(),
            found: word.chars().take(40).collect(),
        })?;
        if let Some((before, _)) = bands.last()
            && *before >= band
        {
            return Err(PartitionError::BandsOutOfOrder {
                id: id.to_owned(),
                before: before.nominal().to_owned(),
                found: band.nominal().to_owned(),
            });
        }
        bands.push((band, LevelDifference(*value)));
    }
    let octaves =
        bands.len() >= 2 && bands.iter().all(|(b, _)| Octave::from_nominal(b.nominal()).is_some());
    let mut sheet = DataSheet { source: source.to_owned(), ..DataSheet::default() };
    for (band, value) in bands {
        match Octave::from_nominal(band.nominal()) {
            Some(octave) if octaves => sheet.octaves.set(octave, value),
            _ => sheet.thirds.set(band, value),
        }
    }
    check(id, &sheet)?;
    Ok(sheet)
}

fn check(id: &str, sheet: &DataSheet) -> Result<(), PartitionError> {
    if sheet.thirds.is_empty() && sheet.octaves.is_empty() && sheet.layers.is_empty() {
        if sheet.rating.is_some() {
            return Err(PartitionError::RatingAlone { id: id.to_owned() });
        }
        return Err(PartitionError::EmptyDataSheet { id: id.to_owned() });
    }
    if let Some(SheetRating::Rw(v) | SheetRating::Stc(v)) = sheet.rating
        && !(-20.0..=160.0).contains(&v)
    {
        let band = "single-number";
        return Err(PartitionError::DataSheetValue { id: id.to_owned(), band, value: v });
    }
    let refuse = |band: &'static str, value: f64| PartitionError::DataSheetValue {
        id: id.to_owned(),
        band,
        value,
    };
    let usable = |v: LevelDifference| (-20.0..=160.0).contains(&v.0);
    if let Some((b, v)) = sheet.thirds.iter().find(|(_, v)| !usable(*v)) {
        return Err(refuse(b.nominal(), v.0));
    }
    if let Some((o, v)) = sheet.octaves.iter().find(|(_, v)| !usable(*v)) {
        return Err(refuse(o.nominal(), v.0));
    }
    Ok(())
}

/// The reduction index of a build-up with a data sheet.
pub(crate) fn predict(
    build_up: &BuildUp,
    sheet: &DataSheet,
    element: &Element,
) -> Result<Prediction, PartitionError> {
    check(&build_up.id, sheet)?;
    let model = if sheet.layers.is_empty() {
        None
    } else {
        Some(from_layers(build_up, &sheet.layers, element)?)
    };
    if let (true, Some(rating)) =
        (sheet.thirds.is_empty() && sheet.octaves.is_empty(), sheet.rating)
    {
        let model = model.ok_or_else(|| PartitionError::RatingAlone { id: build_up.id.clone() })?;
        return by_rating(build_up, sheet, rating, model);
    }
    if sheet.thirds.is_empty() && sheet.octaves.is_empty() {
        // Layers alone: nothing was measured, so nothing is anchored.
        return model.ok_or_else(|| PartitionError::EmptyDataSheet { id: build_up.id.clone() });
    }
    let mut reduction = Spectrum::empty();
    let mut deviation = Spectrum::empty();
    let mut filled_in = Spectrum::empty();
    let in_range = |band: Band| band <= Band::HZ_10000;
    for (band, value) in sheet.thirds.iter().filter(|(b, _)| in_range(*b)) {
        reduction.set(band, value);
        deviation.set(band, LevelDifference(measured_deviation(band)));
    }
    spread_octaves(&sheet.octaves, model.as_ref(), &mut reduction, &mut deviation, &mut filled_in);
    let measured: Vec<(Band, f64)> = reduction.iter().map(|(b, v)| (b, v.0)).collect();
    if measured.is_empty() {
        return Err(PartitionError::EmptyDataSheet { id: build_up.id.clone() });
    }
    for band in Band::range(Band::FIRST, Band::HZ_10000) {
        if reduction.get(band).is_some() {
            continue;
        }
        let (value, sd) = fill_in(band, &measured, model.as_ref());
        reduction.set(band, LevelDifference(value));
        deviation.set(band, LevelDifference(sd));
        filled_in.set(band, ());
    }
    let mut remarks = Vec::new();
    if !sheet.octaves.is_empty() {
        let names: Vec<&str> = sheet.octaves.iter().map(|(o, _)| o.nominal()).collect();
        remarks.push(
            Remark::new(
                "partition::octaves",
                format!(
                    "the sheet has octave frequencies only, and its values are taken as those of whole \
                     octaves: {} Hz; the thirds within them are filled in",
                    names.join(", ")
                ),
            )
            .at(build_up.id.clone()),
        );
    }
    remarks.push(
        Remark::new(
            "partition::measured",
            format!("reduction indices of `{}` are from: {}", build_up.id, said(&sheet.source)),
        )
        .at(build_up.id.clone()),
    );
    if !filled_in.is_empty() {
        let names: Vec<&str> = filled_in.iter().map(|(b, ())| b.nominal()).collect();
        let by = if model.is_some() {
            "by the layers, moved to meet the sheet"
        } else {
            "by the slope of the mass law below and held level above, for want of layers"
        };
        remarks.push(
            Remark::new(
                "partition::filled-in",
                format!("not in the sheet and filled in {by}: {} Hz", names.join(", ")),
            )
            .at(build_up.id.clone()),
        );
    }
    let (resonances, critical, mass, thickness) = match &model {
        Some(m) => (m.resonances.clone(), m.critical.clone(), m.surface_mass, m.thickness),
        None => (Vec::new(), Vec::new(), None, None),
    };
    Ok(Prediction {
        paths: vec![PathReduction { kind: PathKind::Airborne, reduction }],
        reduction,
        deviation,
        filled_in,
        surface_mass: sheet.surface_mass.or(mass),
        thickness: sheet.thickness.or(thickness),
        resonances,
        critical,
        method: "measured",
        methods_that_apply: std::iter::once("measured")
            .chain(model.iter().flat_map(|m| m.methods_that_apply.iter().copied()))
            .collect(),
        remarks,
    })
}

/// What knowing the rating takes off the deviation of the layers: the part that all bands share.
/// Practice, no source.
const SHARED: f64 = 0.5;
/// Standard uncertainty of R_w between laboratories, dB. Source: ISO 12999-1:2020, Table 3, situation
/// A (from a public transcription).
const RATING_DEVIATION: f64 = 1.2;

/// The curve of the layers, moved as a whole so that its rating is the sheet's. Outside 100 Hz to
/// 3150 Hz the move fades by half per octave, for the rating knows nothing of those bands.
fn by_rating(
    build_up: &BuildUp,
    sheet: &DataSheet,
    rating: SheetRating,
    mut model: Prediction,
) -> Result<Prediction, PartitionError> {
    let (symbol, stated) = match rating {
        SheetRating::Rw(v) => ("Rw", v),
        SheetRating::Stc(v) => ("STC", v),
    };
    let rated = |shift: f64| -> Option<f64> {
        let pairs = model
            .reduction
            .iter()
            .filter_map(|(b, r)| Some((Midband::from_nominal(b.nominal())?, r.0 + shift)));
        let curve = Curve::from_pairs(Resolution::Thirds, pairs);
        let options = Options::default();
        let rating = match rating {
            SheetRating::Rw(_) => wythe_rating::iso717::airborne(&curve, &options),
            SheetRating::Stc(_) => wythe_rating::astm::e413(&curve, &options),
        };
        rating.ok()?.unrounded
    };
    // Both ratings move with the curve, but for the rounding of their data: twice is enough.
    let mut shift = 0.0;
    for _ in 0..2 {
        let value = rated(shift).ok_or_else(|| PartitionError::DataSheetValue {
            id: build_up.id.clone(),
            band: "single-number",
            value: stated,
        })?;
        shift += stated - value;
    }
    let away = |band: Band| {
        let below = Band::HZ_100.index() as f64 - band.index() as f64;
        let above = band.index() as f64 - Band::HZ_3150.index() as f64;
        below.max(above).max(0.0) / 3.0
    };
    let moved = |r: Spectrum<LevelDifference>| {
        r.map(|band, r| LevelDifference((r.0 + shift * 0.5f64.powf(away(band))).max(0.0)))
    };
    model.reduction = moved(model.reduction);
    for path in &mut model.paths {
        path.reduction = moved(path.reduction);
    }
    model.deviation = model.deviation.map(|band, sd| {
        let known = SHARED * 0.5f64.powf(away(band));
        LevelDifference((sd.0 * (1.0 - known)).hypot(RATING_DEVIATION))
    });
    model.filled_in = model.reduction.map(|_, _| ());
    model.surface_mass = sheet.surface_mass.or(model.surface_mass);
    model.thickness = sheet.thickness.or(model.thickness);
    model.methods_that_apply.insert(0, "measured");
    model.method = "measured";
    model.remarks.push(
        Remark::new(
            "partition::filled-in",
            format!(
                "all that is known of `{}` is {symbol} {stated} ({}): every band is that of the layers, \
                 moved by {shift:+.1} dB to agree; below 100 Hz and above 3150 Hz the move fades, \
                 since the number says nothing of them",
                build_up.id,
                said(&sheet.source)
            ),
        )
        .at(build_up.id.clone()),
    );
    Ok(model)
}

fn said(source: &str) -> &str {
    if source.trim().is_empty() { "a source that is not stated" } else { source }
}

/// Thirds of an octave the sheet gives only as a whole: the model's shape within the octave,
/// moved so that the octave comes out as the sheet says; level where there is no model.
fn spread_octaves(
    octaves: &OctaveSpectrum<LevelDifference>,
    model: Option<&Prediction>,
    reduction: &mut Spectrum<LevelDifference>,
    deviation: &mut Spectrum<LevelDifference>,
    filled_in: &mut Spectrum<()>,
) {
    let shape = model.map(|m| (m.reduction, m.reduction.to_octaves()));
    for (octave, value) in octaves.iter() {
        for third in octave.thirds() {
            if third > Band::HZ_10000 || reduction.get(third).is_some() {
                continue;
            }
            let offset = shape
                .as_ref()
                .and_then(|(r, o)| Some(r.get(third)?.0 - o.get(octave)?.0))
                .unwrap_or(0.0);
            reduction.set(third, LevelDifference(value.0 + offset));
            // A third may stray from its octave by what slope and dips do within it.
            let sd = measured_deviation(third).hypot(2.0);
            deviation.set(third, LevelDifference(sd));
            filled_in.set(third, ());
        }
    }
}

/// Value and standard deviation of a band that was not measured.
fn fill_in(band: Band, measured: &[(Band, f64)], model: Option<&Prediction>) -> (f64, f64) {
    let octaves_to = |b: Band| (b.index() as f64 - band.index() as f64).abs() / 3.0;
    let (nearest, value) = measured
        .iter()
        .copied()
        .min_by(|a, b| octaves_to(a.0).total_cmp(&octaves_to(b.0)))
        .unwrap_or((band, 0.0));
    let away = octaves_to(nearest);
    let at_edge = measured_deviation(nearest);
    let below = measured.iter().rev().find(|(b, _)| *b < band);
    let above = measured.iter().find(|(b, _)| *b > band);
    match (model.and_then(|m| m.reduction.get(band).map(|r| (m, r.0))), below, above) {
        (Some((m, r)), below, above) => {
            // What sheet and model differ by next to the gap, between the two sides by distance;
            // its weight falls by half per octave, since errors far apart know little of each
            // other.
            let difference = |b: &(Band, f64)| b.1 - m.reduction.get(b.0).map_or(0.0, |r| r.0);
            let offset = match (below, above) {
                (Some(l), Some(h)) => {
                    let t =
                        (band.index() - l.0.index()) as f64 / (h.0.index() - l.0.index()) as f64;
                    difference(l) * (1.0 - t) + difference(h) * t
                }
                (Some(b), None) | (None, Some(b)) => difference(b) * 0.5f64.powf(away),
                (None, None) => 0.0,
            };
            let known = 0.5f64.powf(away);
            let of_model = m.deviation.get(band).map_or(8.0, |d| d.0);
            let sd = (of_model * (1.0 - known)).hypot(at_edge.max(measured_deviation(band)));
            (r + offset, sd)
        }
        (None, Some(l), Some(h)) => {
            let t = (band.index() - l.0.index()) as f64 / (h.0.index() - l.0.index()) as f64;
            (l.1 * (1.0 - t) + h.1 * t, at_edge.hypot(PER_OCTAVE_AWAY * away))
        }
        (None, Some(_), None) => (value, at_edge.hypot(PER_OCTAVE_AWAY * away)),
        (None, ..) => (
            (value - MASS_LAW * away).max(0.0),
            measured_deviation(band).hypot(PER_OCTAVE_AWAY * away),
        ),
    }
}
