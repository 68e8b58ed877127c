//! Whether a filter of the bank keeps the class 1 mask, with every image that halving folds in.

use wythe_bands::{Band, Hertz, LevelDifference};

use crate::bank::Plan;
use crate::section::response;

/// Octave-band breakpoints of the class 1 mask: exponent of G, least and largest relative
/// attenuation at it, dB; the last row holds beyond.
/// Source: IEC 61260-1:2014, Table 1 (public transcriptions that agree).
const MASK: [(f64, f64, f64); 9] = [
    (0.0, -0.4, 0.4),
    (0.125, -0.4, 0.5),
    (0.25, -0.4, 0.7),
    (0.375, -0.4, 1.4),
    (0.5, -0.4, 5.3),
    (0.5, 1.2, f64::INFINITY),
    (1.0, 16.6, f64::INFINITY),
    (2.0, 40.5, f64::INFINITY),
    (3.0, 60.0, f64::INFINITY),
];
/// From G⁴ on.
const FAR: (f64, f64) = (4.0, 70.0);

/// A frequency ratio of the octave mask mapped to third octaves.
/// Source: IEC 61260-1:2014, 5.10: Ω_h(1/b) = 1 + (G^(1/2b) − 1)/(G^(1/2) − 1) · (Ω_h − 1).
fn mapped(exponent: f64) -> f64 {
    let g = 10f64.powf(0.3);
    1.0 + (g.powf(1.0 / 6.0) - 1.0) / (g.sqrt() - 1.0) * (g.powf(exponent) - 1.0)
}

/// Least and largest relative attenuation class 1 allows a third-octave filter at a frequency over
/// its mid-band frequency; linear in lg Ω between breakpoints, the stricter at the band edge.
pub fn limits(omega: f64) -> (LevelDifference, LevelDifference) {
    let omega = if omega < 1.0 { 1.0 / omega } else { omega };
    let pair = |a: f64, b: f64| (LevelDifference(a), LevelDifference(b));
    for w in MASK.windows(2) {
        let (low, high) = (mapped(w[0].0), mapped(w[1].0));
        if omega > high || high <= low {
            continue;
        }
        let t = ((omega / low).ln() / (high / low).ln()).clamp(0.0, 1.0);
        let least = w[0].1 + t * (w[1].1 - w[0].1);
        let most = if w[0].2.is_finite() && w[1].2.is_finite() {
            w[0].2 + t * (w[1].2 - w[0].2)
        } else {
            f64::INFINITY
        };
        return pair(least, most);
    }
    let (low, high) = (mapped(3.0), mapped(FAR.0));
    let t = ((omega / low).ln() / (high / low).ln()).clamp(0.0, 1.0);
    pair(60.0 + t * (FAR.1 - 60.0), f64::INFINITY)
}

/// Attenuation of the whole chain (halvings, folding, band filter) for a tone of a frequency up to
/// half the rate, relative to 0 dB.
pub fn attenuation(plan: &Plan, band: Band, frequency: Hertz) -> Option<LevelDifference> {
    Chain::new(plan, band).map(|c| c.attenuation(plan, frequency))
}

struct Chain {
    sections: Vec<crate::section::Section>,
    stage: usize,
}

impl Chain {
    fn new(plan: &Plan, band: Band) -> Option<Chain> {
        Some(Chain { sections: plan.sections(band)?, stage: plan.place(band)?.stage })
    }

    fn attenuation(&self, plan: &Plan, frequency: Hertz) -> LevelDifference {
        let mut f = frequency.0;
        let mut gain = 1.0;
        for stage in 0..self.stage {
            let rate = plan.stage_rate(stage);
            gain *= plan.half_band.gain(f / rate).abs();
            // Folding: the next stage sees the distance to the nearest multiple of its rate.
            let half = rate / 2.0;
            f = (f - half * (f / half).round()).abs();
        }
        gain *= response(&self.sections, Hertz(f), plan.stage_rate(self.stage)).norm();
        LevelDifference(-20.0 * gain.max(1e-30).log10())
    }
}

/// Distance of a band's filter to the nearest class 1 limit over all frequencies up to half the
/// rate, in the mask and in every folded image; negative outside. 0.4 dB is the best there can be.
/// `None` when the rate does not hold the band.
pub fn margin(plan: &Plan, band: Band) -> Option<LevelDifference> {
    let chain = Chain::new(plan, band)?;
    let centre = band.centre().0;
    let reference = chain.attenuation(plan, Hertz(centre)).0;
    let mut worst = f64::INFINITY;
    let mut at = |f: f64| {
        if f > 0.0 && f < plan.rate / 2.0 {
            let a = chain.attenuation(plan, Hertz(f)).0 - reference;
            let (least, most) = limits(f / centre);
            worst = worst.min(a - least.0).min(most.0 - a);
        }
    };
    for i in 0..=4000 {
        at(centre * 64f64.powf(f64::from(i) / 4000.0 - 0.5));
    }
    // The images of the pass band around every multiple of the stage rate.
    let stage_rate = plan.stage_rate(chain.stage);
    let images = (plan.rate / 2.0 / stage_rate).round() as u32;
    for m in 1..=images {
        for k in -12..=12 {
            let f = centre * 10f64.powf(f64::from(k) / 120.0);
            at(f64::from(m) * stage_rate - f);
            at(f64::from(m) * stage_rate + f);
        }
    }
    Some(LevelDifference(worst))
}

/// Effective bandwidth over the reference bandwidth, dB: what broadband noise of equal energy per
/// relative bandwidth reads too much. Class 1 allows ±0.4 dB.
///
/// 10 lg(B_e/B_r), B_e = ∫ 10^(−ΔA/10) dΩ/Ω, B_r = ln(f₂/f₁).
/// Source: IEC 61260-1:2014, 5.12 (one transcription).
pub fn bandwidth_surplus(plan: &Plan, band: Band) -> Option<LevelDifference> {
    let chain = Chain::new(plan, band)?;
    let centre = band.centre().0;
    let top = (plan.rate / 2.0 / centre).min(8.0);
    let (from, to) = ((1.0f64 / 8.0).ln(), top.ln());
    const N: usize = 8000;
    let reference = chain.attenuation(plan, Hertz(centre)).0;
    let width = (to - from) / N as f64;
    let sum: f64 = (0..N)
        .map(|i| {
            let f = centre * (from + (i as f64 + 0.5) * width).exp();
            10f64.powf(-(chain.attenuation(plan, Hertz(f)).0 - reference) / 10.0) * width
        })
        .sum();
    let reference_width = (band.upper_edge().0 / band.lower_edge().0).ln();
    Some(LevelDifference(10.0 * (sum / reference_width).log10()))
}
