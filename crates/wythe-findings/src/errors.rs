//! How the error of a level in one band goes with that in another.

use std::sync::OnceLock;

use wythe_bands::{BAND_COUNT, Band, LevelDifference, Spectrum};
use wythe_building::RoomIndex;
use wythe_transmission::{BANDS, Model, PerBand, Received};

/// Correlation length of errors over bands, in thirds, as in the inference.
const CORRELATION_THIRDS: f64 = 3.0;

/// Draws of the Monte Carlo; 2000 put a probability within ±2 %.
const DRAWS: usize = 2000;

/// Errors of a level over all bands, dB.
///
/// A predicted level is drawn way by way: each way's energy moves with the build-ups, doors and
/// junctions on it, and the energies are added. Decibels are not normal then: of several ways the
/// one that came out badly rules, so levels lie higher than the sum of most probable ways, and the
/// chance of a target is less than the deviation alone would say.
#[derive(Clone, Debug)]
pub struct Errors {
    ways: Vec<Moving>,
    groups: usize,
    /// Share of all ways that do not move.
    still: PerBand,
    /// What all ways have in common, alike over about an octave.
    common: [f64; BAND_COUNT],
    /// Independent in every band.
    single: [f64; BAND_COUNT],
    drawn: OnceLock<Vec<[f64; BAND_COUNT]>>,
}

/// Ways that move alike.
#[derive(Clone, Debug)]
struct Moving {
    share: PerBand,
    /// Groups of links on it with their deviation.
    by: Vec<(usize, PerBand)>,
}

/// A group that moves the level by less than this, dB, is taken to stand still.
const STILL: f64 = 0.05;

impl Errors {
    /// No error at all.
    pub fn none() -> Errors {
        Errors::in_common([0.0; BAND_COUNT])
    }

    /// Errors known by their standard deviation only: taken as going together over about an
    /// octave, whatever the bands.
    pub fn of_deviation(deviation: &Spectrum<LevelDifference>) -> Errors {
        Errors::in_common(std::array::from_fn(|b| {
            Band::at(b).and_then(|b| deviation.get(b)).map_or(0.0, |d| finite(d.0))
        }))
    }

    fn in_common(common: [f64; BAND_COUNT]) -> Errors {
        Errors {
            ways: Vec::new(),
            groups: 0,
            still: [1.0; BANDS],
            common,
            single: [0.0; BAND_COUNT],
            drawn: OnceLock::new(),
        }
    }

    /// Errors of a predicted level: everything of one build-up, door or junction goes together,
    /// over about an octave; different ones are independent. What few modes add is independent in
    /// every band; absorptions count in first order.
    pub fn of(model: &Model, source: RoomIndex, received: &Received) -> Errors {
        let groups = model.links.iter().map(|l| l.group + 1).max().unwrap_or(0);
        let mut by_group = vec![[0.0; BANDS]; groups];
        let mut carried = vec![[0.0; BANDS]; model.links.len()];
        for way in &received.ways {
            for &l in &way.links {
                for b in 0..BANDS {
                    carried[l][b] += way.share[b];
                }
            }
        }
        // What a link moves a way on it: its deviation, less where a wider way also empties the
        // room it leads out of.
        let mut moves = vec![None; model.links.len()];
        for s in &received.sensitivity {
            let link = &model.links[s.link];
            let mut own = [0.0; BANDS];
            for b in 0..BANDS {
                by_group[link.group][b] += finite(s.per_band[b] * link.deviation[b]);
                let part = carried[s.link][b];
                let scale = if part > 1e-3 { (s.per_band[b] / part).clamp(0.0, 1.0) } else { 1.0 };
                own[b] = finite(scale * link.deviation[b]);
            }
            moves[s.link] = Some(own);
        }
        let mut number = vec![None; groups];
        let mut count = 0;
        for (g, moved) in by_group.iter().enumerate() {
            if moved.iter().any(|d| d.abs() > STILL) {
                number[g] = Some(count);
                count += 1;
            }
        }
        let mut out = Errors::none();
        out.groups = count;
        out.still = [0.0; BANDS];
        for way in &received.ways {
            let mut by: Vec<(usize, PerBand)> = Vec::new();
            for &l in &way.links {
                let (Some(g), Some(own)) = (number[model.links[l].group], moves[l]) else {
                    continue;
                };
                match by.iter_mut().find(|(known, _)| *known == g) {
                    Some((_, d)) => (0..BANDS).for_each(|b| d[b] += own[b]),
                    None => by.push((g, own)),
                }
            }
            if by.is_empty() {
                (0..BANDS).for_each(|b| out.still[b] += way.share[b]);
                continue;
            }
            by.sort_by_key(|(g, _)| *g);
            match out.ways.iter_mut().find(|w| w.by == by) {
                Some(same) => (0..BANDS).for_each(|b| same.share[b] += way.share[b]),
                None => out.ways.push(Moving { share: way.share, by }),
            }
        }
        let modal = |room: RoomIndex, b: usize| match model.outdoors.get(room.0) {
            Some(false) => model.modal.get(room.0).map_or(0.0, |m| m[b]),
            _ => 0.0,
        };
        for band in Band::all().take(BANDS) {
            let b = band.index();
            let few = modal(source, b).powi(2) + modal(received.room, b).powi(2);
            // What is left of the stated deviation is that of the absorptions.
            let own: f64 = by_group.iter().map(|g| g[b] * g[b]).sum();
            let all = received.deviation.get(band).map_or(0.0, |d| finite(d.0)).powi(2);
            out.common[b] = (all - own - few).max(0.0).sqrt();
            out.single[b] = few.sqrt();
        }
        out
    }

    /// Sets of errors, the same ones at every call.
    pub(crate) fn drawn(&self) -> &[[f64; BAND_COUNT]] {
        self.drawn.get_or_init(|| {
            let mut random = Random { state: 0x9E37_79B9, spare: None };
            (0..DRAWS).map(|_| self.draw(&mut random)).collect()
        })
    }

    fn draw(&self, random: &mut Random) -> [f64; BAND_COUNT] {
        let common = random.over_bands();
        let mut out: [f64; BAND_COUNT] = std::array::from_fn(|b| {
            let few = if self.single[b] > 0.0 { self.single[b] * random.normal() } else { 0.0 };
            self.common[b] * common[b] + few
        });
        if self.ways.is_empty() {
            return out;
        }
        let groups: Vec<[f64; BAND_COUNT]> =
            (0..self.groups).map(|_| random.over_bands()).collect();
        let mut energy = self.still;
        for way in &self.ways {
            for b in 0..BANDS {
                if way.share[b] > 1e-4 {
                    let error: f64 = way.by.iter().map(|(g, d)| d[b] * groups[*g][b]).sum();
                    energy[b] += way.share[b] * (error * std::f64::consts::LN_10 / 10.0).exp();
                }
            }
        }
        for b in 0..BANDS {
            if energy[b] > 0.0 {
                out[b] += 10.0 * energy[b].log10();
            }
        }
        out
    }
}

fn finite(v: f64) -> f64 {
    if v.is_finite() { v } else { 0.0 }
}

/// A small generator (SplitMix64), so that a probability is the same on every machine.
struct Random {
    state: u64,
    spare: Option<f64>,
}

impl Random {
    fn uniform(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-53)
    }

    fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * self.uniform().max(1e-300).ln()).sqrt();
        let (sin, cos) = (2.0 * std::f64::consts::PI * self.uniform()).sin_cos();
        self.spare = Some(radius * sin);
        radius * cos
    }

    /// Normal numbers over the bands, alike over about an octave.
    fn over_bands(&mut self) -> [f64; BAND_COUNT] {
        let rho = (-1.0 / CORRELATION_THIRDS).exp();
        let fresh = (1.0 - rho * rho).sqrt();
        let mut state = self.normal();
        std::array::from_fn(|_| {
            let now = state;
            state = rho * state + fresh * self.normal();
            now
        })
    }
}
