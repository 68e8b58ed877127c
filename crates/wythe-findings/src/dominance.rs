//! Which way rules where, in words.

use wythe_bands::{Band, Level, Spectrum, weighting::Weighting};
use wythe_transmission::{Model, Received};

/// A stretch of neighbouring bands in which one way brings the most.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// First band.
    pub from: Band,
    /// Last band.
    pub to: Band,
    /// The way, by position in [`Received::ways`].
    pub way: usize,
    /// Its mean share of the energy over these bands, 0 to 1.
    pub share: f64,
}

/// Stretches of one leading way over the bands in which results are given. A lead of a single
/// band between two stretches of another way is left to that way.
pub fn stretches(received: &Received) -> Vec<Stretch> {
    let leader = |b: Band| -> Option<usize> {
        received.difference.get(b)?;
        received
            .ways
            .iter()
            .enumerate()
            .filter(|(_, w)| !w.is_rest())
            .max_by(|(_, a), (_, c)| a.share[b.index()].total_cmp(&c.share[b.index()]))
            .map(|(i, _)| i)
    };
    let mut leaders: Vec<(Band, usize)> =
        Band::results().filter_map(|b| leader(b).map(|l| (b, l))).collect();
    for i in 1..leaders.len().saturating_sub(1) {
        let (before, here, after) = (leaders[i - 1].1, leaders[i].1, leaders[i + 1].1);
        if before == after && here != before {
            leaders[i].1 = before;
        }
    }
    let mut out: Vec<Stretch> = Vec::new();
    for (band, way) in leaders {
        match out.last_mut() {
            Some(last) if last.way == way => last.to = band,
            _ => out.push(Stretch { from: band, to: band, way, share: 0.0 }),
        }
    }
    for stretch in &mut out {
        let shares: Vec<f64> = Band::range(stretch.from, stretch.to)
            .map(|b| received.ways[stretch.way].share[b.index()])
            .collect();
        stretch.share = shares.iter().sum::<f64>() / shares.len() as f64;
    }
    out
}

/// One sentence per stretch, as for the owner: `above 1 kHz the lobby door sill carries 80 %`.
pub fn sentences(model: &Model, received: &Received) -> Vec<String> {
    let all = stretches(received);
    let count = all.len();
    all.iter()
        .enumerate()
        .map(|(i, s)| {
            let title = received.ways[s.way].title(model);
            let range = if count == 1 {
                "at all frequencies".to_owned()
            } else if i == 0 {
                format!("up to {}", frequency(s.to))
            } else if i + 1 == count {
                format!("from {} up", frequency(s.from))
            } else if s.from == s.to {
                format!("at {}", frequency(s.from))
            } else {
                format!("from {} to {}", frequency(s.from), frequency(s.to))
            };
            format!("{range}, {title} carries {:.0} %", 100.0 * s.share)
        })
        .collect()
}

/// Share of each way in the A-weighted level, by position in [`Received::ways`].
pub fn shares_of_weighted(
    received: &Received,
    levels: &Spectrum<Level>,
    weighting: Weighting,
) -> Vec<f64> {
    let mut sums = vec![0.0; received.ways.len()];
    for (band, level) in levels.iter() {
        let energy = (level + weighting.at(band.centre())).energy();
        for (sum, way) in sums.iter_mut().zip(&received.ways) {
            *sum += energy * way.share.get(band.index()).copied().unwrap_or(0.0);
        }
    }
    let total: f64 = sums.iter().sum();
    if total > 0.0 {
        sums.iter_mut().for_each(|s| *s /= total);
    }
    sums
}

/// Nominal frequency with its unit, as people say it: `125 Hz`, `1.25 kHz`.
pub fn frequency(band: Band) -> String {
    let nominal: f64 = band.nominal().parse().unwrap_or(0.0);
    if nominal >= 1000.0 {
        format!("{} kHz", nominal / 1000.0)
    } else {
        format!("{} Hz", band.nominal())
    }
}
