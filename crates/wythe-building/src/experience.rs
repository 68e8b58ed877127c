//! What comparisons of earlier projects say about kinds of construction.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_partition::{Cavity, Layer, MaterialClass, MountKind, catalogue};

/// One finished comparison: what a construction was predicted to keep back where it stands, and
/// what it was measured to.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Name, unique in a library.
    pub name: String,
    /// The kind, as [`kind_of`] names it.
    pub kind: String,
    /// The construction in words.
    pub construction: String,
    /// What was found wrong with it and stands in the prediction, in words.
    pub with: Option<String>,
    /// Reduction index predicted, without what earlier comparisons said.
    pub predicted: Spectrum<LevelDifference>,
    /// Reduction index measured in place, in bands where the element carried half of the sound or
    /// more.
    pub measured: Spectrum<LevelDifference>,
    /// Standard uncertainty of the measured value.
    pub deviation: Spectrum<LevelDifference>,
    /// Standard deviation the prediction stated.
    pub stated: Spectrum<LevelDifference>,
    /// Anything worth keeping.
    pub note: Option<String>,
    /// Whether it is left out of what the library says.
    pub left_out: bool,
}

/// Share of an element's error variance that is its own (workmanship, size, mounting), not that of
/// its kind: of 5 to 6 dB between prediction and published tests, about half of the deviation is
/// what laboratories find between nominally equal walls (ISO 12999-1:2020, situation A).
pub const OWN_VARIANCE: f64 = 0.25;

/// What a library says about each kind of construction.
///
/// The error of a kind is normal about zero with three quarters of the stated variance σ²; each
/// comparison shows it with the element's own quarter and the uncertainty u of the measurement
/// on top:
///
/// ```text
/// 1/v = 1/(¾σ²) + Σ 1/(¼σ² + u²),   bias = v Σ d/(¼σ² + u²),   left = (v + ¼σ²)/σ²
/// ```
///
/// Standard Gaussian algebra (derived), band by band. A single comparison moves the prediction by
/// less than three quarters of what it showed.
pub fn experience(comparisons: &[Comparison], leave_out: &[String]) -> Vec<Experience> {
    let used: Vec<&Comparison> = comparisons
        .iter()
        .filter(|c| !c.left_out && !leave_out.contains(&c.name) && !c.measured.is_empty())
        .collect();
    let mut kinds: Vec<&str> = used.iter().map(|c| c.kind.as_str()).collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds
        .into_iter()
        .map(|kind| {
            let own: Vec<&&Comparison> = used.iter().filter(|c| c.kind == kind).collect();
            let (mut bias, mut left) = (Spectrum::empty(), Spectrum::empty());
            for band in Band::all() {
                let rows: Vec<(f64, f64, f64)> = own
                    .iter()
                    .filter_map(|c| {
                        let d = c.measured.get(band)?.0 - c.predicted.get(band)?.0;
                        let (u, s) = (c.deviation.get(band)?.0, c.stated.get(band)?.0);
                        let fine = d.is_finite() && u.is_finite() && u >= 0.0 && s > 0.0;
                        (fine && s.is_finite()).then_some((d, u, s))
                    })
                    .collect();
                if rows.is_empty() {
                    continue;
                }
                let n = rows.len() as f64;
                let variance = rows.iter().map(|(_, _, s)| s * s).sum::<f64>() / n;
                let weight = |u: f64| 1.0 / (OWN_VARIANCE * variance + u * u);
                let precision = 1.0 / ((1.0 - OWN_VARIANCE) * variance)
                    + rows.iter().map(|(_, u, _)| weight(*u)).sum::<f64>();
                let mean = rows.iter().map(|(d, u, _)| d * weight(*u)).sum::<f64>() / precision;
                bias.set(band, LevelDifference(mean));
                left.set(band, (1.0 / precision + OWN_VARIANCE * variance) / variance);
            }
            Experience { kind: kind.to_owned(), bias, variance_left: left, comparisons: own.len() }
        })
        .collect()
}

/// What was learnt about one kind of construction.
#[derive(Clone, Debug, PartialEq)]
pub struct Experience {
    /// The kind, as [`kind_of`] names it.
    pub kind: String,
    /// How much more it insulated than calculated, the part that is believed to be the kind's.
    pub bias: Spectrum<LevelDifference>,
    /// Part of the stated variance that is left, 0 to 1 (pure ratio).
    pub variance_left: Spectrum<f64>,
    /// From how many comparisons.
    pub comparisons: usize,
}

/// The kind of a construction: what prediction errors are shared by. Leaves, frame and
/// mounting count, thicknesses do not.
///
/// ```
/// assert_eq!(wythe_building::kind_of(&[]), "nothing");
/// ```
pub fn kind_of(layers: &[Layer]) -> String {
    if layers.is_empty() {
        return "nothing".to_owned();
    }
    let gaps: Vec<&Cavity> = layers
        .iter()
        .filter_map(|l| match l {
            Layer::Cavity(c) => Some(c),
            Layer::Board(_) => None,
        })
        .collect();
    if gaps.is_empty() {
        let heavy = layers.iter().any(|l| match l {
            Layer::Board(b) => {
                catalogue().material(&b.material).is_some_and(|m| m.class == MaterialClass::Masonry)
            }
            Layer::Cavity(_) => false,
        });
        return if heavy { "masonry".to_owned() } else { "one light leaf".to_owned() };
    }
    let leaves = gaps.len() + 1;
    let frames: Vec<String> = gaps
        .iter()
        .map(|c| match &c.frame {
            None => "no frame".to_owned(),
            Some(f) => {
                let mount = match f.mount.map(|m| m.kind) {
                    None => "",
                    Some(MountKind::ResilientChannel) => " with channel",
                    Some(MountKind::IsolationClips) => " with clips",
                };
                format!("{}{mount}", f.kind.word())
            }
        })
        .collect();
    format!("{leaves} leaves, {}", frames.join(" and "))
}
