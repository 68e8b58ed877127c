//! One set of changes against another, at the receiver and band by band.

use wythe_bands::{Level, LevelDifference, Spectrum, weighting::Weighting};
use wythe_building::Building;
use wythe_findings::predict;
use wythe_transmission::Cache;

use crate::search::{RemedyError, apply};

/// Two sets of changes in one room with a target.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedAt {
    /// Position in [`Building::targets`].
    pub target: usize,
    /// Position in [`Building::sources`].
    pub source: usize,
    /// Levels as it is, with the first set, with the second.
    pub levels: [Spectrum<Level>; 3],
    /// A-weighted levels of the same.
    pub level_a: [Option<Level>; 3],
    /// Margin of the target for the same, dB.
    pub margin_db: [Option<f64>; 3],
    /// Probability that the target is met, for the same.
    pub probability: [Option<f64>; 3],
    /// Second less first: positive where the first is the quieter.
    pub first_better_by: Spectrum<LevelDifference>,
    /// Band where the two part most.
    pub parts_most: Option<wythe_bands::Band>,
}

/// Compares two sets of changes in every room with a target.
///
/// # Errors
/// [`RemedyError`] when the building cannot be put together with either.
pub fn compare(
    building: &Building,
    cache: &mut Cache,
    first: &[usize],
    second: &[usize],
) -> Result<Vec<ComparedAt>, RemedyError> {
    let none: &[usize] = &[];
    let predicted = [none, first, second]
        .into_iter()
        .map(|set| predict(&apply(building, set), cache))
        .collect::<Result<Vec<_>, _>>()?;
    let mut out = Vec::new();
    for (s, source) in building.sources.iter().enumerate() {
        for (t, target) in building.targets.iter().enumerate() {
            if target.room == source.room {
                continue;
            }
            let arrived: Vec<_> = predicted
                .iter()
                .filter_map(|p| {
                    p.sources
                        .iter()
                        .find(|f| f.source == s)?
                        .arrived
                        .iter()
                        .find(|a| a.room == target.room)
                })
                .collect();
            let [now, a, b] = arrived.as_slice() else { continue };
            // Assessments of a room stand in the order of its targets.
            let nth = building.targets[..t].iter().filter(|o| o.room == target.room).count();
            let verdict = |x: &wythe_findings::Arrived| x.targets.get(nth).cloned();
            let all = [now, a, b];
            let first_better_by = b.levels.zip_with(&a.levels, |b, a| b - a);
            let parts_most = first_better_by
                .iter()
                .max_by(|x, y| x.1.0.abs().total_cmp(&y.1.0.abs()))
                .filter(|(_, d)| d.0.abs() > 0.05)
                .map(|(band, _)| band);
            out.push(ComparedAt {
                target: t,
                source: s,
                levels: all.map(|x| x.levels),
                level_a: all.map(|x| x.levels.weighted_total(Weighting::A)),
                margin_db: all.map(|x| verdict(x).and_then(|v| v.margin_db)),
                probability: all.map(|x| verdict(x).and_then(|v| v.probability_met)),
                first_better_by,
                parts_most,
            });
        }
    }
    Ok(out)
}
