//! What limits each range of frequencies, in words.

use wythe_bands::{Band, Hertz, LevelDifference};

use crate::{PathKind, Prediction};

/// What decides over a range of bands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Limit {
    /// The leaves moving together on the air between them, or as one below that.
    Resonance,
    /// The mass of the leaves.
    Mass,
    /// Air and fill of the cavity, above the resonance.
    Cavity,
    /// Coincidence of a leaf.
    Coincidence,
    /// Studs, channels, clips, common plates.
    Studs,
    /// Stated short circuits.
    Bridges,
    /// Electrical boxes.
    Boxes,
    /// The way round the edge.
    Perimeter,
    /// A measured table says it, and not why.
    Measured,
    /// Filled in beside measured values.
    FilledIn,
}

/// One range with what limits it.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitedRange {
    /// Lowest band.
    pub from: Band,
    /// Highest band.
    pub to: Band,
    /// What limits it.
    pub limit: Limit,
    /// The same as a phrase, such as `below 80 Hz the mass-air-mass resonance at 46 Hz`.
    pub words: String,
}

/// What limits each range of a prediction, from 50 Hz to 5 kHz, rising.
pub fn limits(prediction: &Prediction) -> Vec<LimitedRange> {
    let mut ranges: Vec<(Band, Band, Limit)> = Vec::new();
    for band in Band::results() {
        let Some(limit) = limit_at(prediction, band) else { continue };
        match ranges.last_mut() {
            Some((_, to, last)) if *last == limit && to.index() + 1 == band.index() => *to = band,
            _ => ranges.push((band, band, limit)),
        }
    }
    ranges
        .iter()
        .map(|&(from, to, limit)| LimitedRange {
            from,
            to,
            limit,
            words: format!("{} {}", place(from, to), phrase(prediction, limit, from, to)),
        })
        .collect()
}

fn limit_at(p: &Prediction, band: Band) -> Option<Limit> {
    p.reduction.get(band)?;
    if p.filled_in.get(band).is_some() {
        return Some(Limit::FilledIn);
    }
    if p.method == "measured" {
        return Some(Limit::Measured);
    }
    let strongest = p
        .paths
        .iter()
        .filter_map(|path| path.reduction.get(band).map(|r: LevelDifference| (path.kind, r.0)))
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(match strongest.0 {
        PathKind::Studs => Limit::Studs,
        PathKind::Bridges => Limit::Bridges,
        PathKind::Boxes => Limit::Boxes,
        PathKind::Perimeter => Limit::Perimeter,
        PathKind::Airborne => {
            let f = band.centre().0;
            if near_coincidence(p, f).is_some() {
                Limit::Coincidence
            } else if let Some(highest) = p.resonances.last() {
                if f < 1.6 * highest.0 { Limit::Resonance } else { Limit::Cavity }
            } else {
                Limit::Mass
            }
        }
    })
}

/// Critical frequency that makes a band weak: from 0.7 f_c, and to 2 f_c for the climb out of it.
fn near_coincidence(p: &Prediction, f: f64) -> Option<Hertz> {
    p.critical
        .iter()
        .copied()
        .filter(|fc| (0.7..2.0).contains(&(f / fc.0)))
        .min_by(|a, b| (f / a.0).ln().abs().total_cmp(&(f / b.0).ln().abs()))
}

fn place(from: Band, to: Band) -> String {
    match (from == Band::HZ_50, to == Band::HZ_5000) {
        (true, true) => "everywhere".to_owned(),
        (true, false) => format!("up to {}", nominal(to)),
        (false, true) => format!("from {}", nominal(from)),
        _ if from == to => format!("at {}", nominal(from)),
        _ => format!("{} to {}", nominal(from), nominal(to)),
    }
}

fn phrase(p: &Prediction, limit: Limit, from: Band, to: Band) -> String {
    match limit {
        Limit::Resonance => {
            let all: Vec<String> = p.resonances.iter().map(|f| hertz(f.0)).collect();
            let word = if p.resonances.len() > 1 { "resonances" } else { "resonance" };
            format!("the mass-air-mass {word} at {}", all.join(" and "))
        }
        Limit::Mass => "the mass of the leaf".to_owned(),
        Limit::Cavity => "air and fill of the cavity".to_owned(),
        Limit::Coincidence => {
            let middle = (from.centre().0 * to.centre().0).sqrt();
            match near_coincidence(p, middle).or_else(|| near_coincidence(p, from.centre().0)) {
                Some(fc) => format!("coincidence of the boards at {}", hertz(fc.0)),
                None => "coincidence of the boards".to_owned(),
            }
        }
        Limit::Studs => "the frame between the leaves".to_owned(),
        Limit::Bridges => "the stated short circuits".to_owned(),
        Limit::Boxes => "the electrical boxes".to_owned(),
        Limit::Perimeter => "the way round the edge".to_owned(),
        Limit::Measured => "as measured".to_owned(),
        Limit::FilledIn => "filled in, not measured".to_owned(),
    }
}

/// Nominal frequency of a band with its unit.
fn nominal(band: Band) -> String {
    let f: f64 = band.nominal().parse().unwrap_or(0.0);
    if f >= 1000.0 { format!("{} kHz", f / 1000.0) } else { format!("{} Hz", band.nominal()) }
}

fn hertz(f: f64) -> String {
    // Three figures at most: nothing here is known better.
    if f >= 1000.0 {
        let k = (f / 100.0).round() / 10.0;
        format!("{k} kHz")
    } else if f >= 100.0 {
        format!("{:.0} Hz", (f / 5.0).round() * 5.0)
    } else {
        format!("{f:.0} Hz")
    }
}
