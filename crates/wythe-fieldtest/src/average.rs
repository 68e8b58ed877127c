//! The average over positions and how sure it is.

use wythe_bands::{Band, Level, LevelDifference, Seconds};

/// Level averaged over positions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Average {
    /// Energy mean.
    pub level: Level,
    /// Standard uncertainty.
    pub uncertainty: LevelDifference,
    /// Number of positions.
    pub positions: usize,
}

/// Energy mean of positions with its standard uncertainty; `None` without positions.
///
/// L = 10 lg(mean q), q = 10^(L_i/10), u = 4.343 s(q)/(mean(q) √n); where the other way,
/// u = s(L)/√n, differs by more than 30 % the larger of the two. The positions are taken as
/// independent. A single position shows no spread: what a diffuse field would have is used then,
/// 4.343/√(1 + B T/6.9) (after Schroeder and Lubman, from memory), which is too small below the
/// Schroeder frequency.
///
/// Source: ISO 16283-1:2014, 7.8 (mean); GUM propagation, derived here.
pub fn average(
    levels: impl IntoIterator<Item = Level>,
    band: Band,
    decay: Option<Seconds>,
) -> Option<Average> {
    let levels: Vec<f64> = levels.into_iter().map(|l| l.0).filter(|l| l.is_finite()).collect();
    let n = levels.len() as f64;
    let level = Level::energy_mean(levels.iter().map(|l| Level(*l)))?;
    let uncertainty = if levels.len() < 2 {
        let width = band.upper_edge().0 - band.lower_edge().0;
        let t = decay.map_or(0.5, |t| t.0);
        4.343 / (1.0 + width * t / 6.9).sqrt()
    } else {
        // Energies relative to the mean, so that no level is too high or too low to square.
        let q: Vec<f64> = levels.iter().map(|l| 10f64.powf((l - level.0) / 10.0)).collect();
        let by_energy = 10.0 / std::f64::consts::LN_10 * deviation(&q) / n.sqrt();
        let by_level = deviation(&levels) / n.sqrt();
        let (small, large) = (by_energy.min(by_level), by_energy.max(by_level));
        if large > 1.3 * small { large } else { by_energy }
    };
    Some(Average { level, uncertainty: LevelDifference(uncertainty), positions: levels.len() })
}

fn deviation(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}
