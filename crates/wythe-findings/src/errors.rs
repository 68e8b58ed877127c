//! How the error of a level in one band goes with that in another.

use wythe_bands::{BAND_COUNT, Band, LevelDifference, Spectrum};
use wythe_building::RoomIndex;
use wythe_transmission::{BANDS, Model, Received};

/// Correlation length of errors over bands, in thirds, as in the inference.
const CORRELATION_THIRDS: f64 = 3.0;

type Square = [[f64; BAND_COUNT]; BAND_COUNT];

/// Errors of a level over all bands: their covariance as its lower triangular root, dB.
#[derive(Clone, Debug, PartialEq)]
pub struct Errors {
    root: Option<Box<Square>>,
}

impl Errors {
    /// No error at all.
    pub fn none() -> Errors {
        Errors { root: None }
    }

    /// Errors known by their standard deviation only: taken as going together over about an
    /// octave, whatever the bands.
    pub fn of_deviation(deviation: &Spectrum<LevelDifference>) -> Errors {
        let sd = |b: usize| Band::at(b).and_then(|b| deviation.get(b)).map_or(0.0, |d| finite(d.0));
        Errors::from_covariance(|a, b| sd(a) * sd(b) * alike(a, b))
    }

    /// Errors of a predicted level: everything of one build-up, door or junction goes together,
    /// over about an octave; different ones are independent, so where the leading way changes with
    /// frequency the errors on both sides of the change have little in common. What few modes add
    /// is independent in every band.
    pub fn of(model: &Model, source: RoomIndex, received: &Received) -> Errors {
        let groups = model.links.iter().map(|l| l.group + 1).max().unwrap_or(0);
        let mut by_group = vec![[0.0; BANDS]; groups];
        for s in &received.sensitivity {
            let link = &model.links[s.link];
            for b in 0..BANDS {
                by_group[link.group][b] += finite(s.per_band[b] * link.deviation[b]);
            }
        }
        by_group.retain(|g| g.iter().any(|v| *v != 0.0));
        let modal = |room: RoomIndex, b: usize| match model.outdoors.get(room.0) {
            Some(false) => model.modal.get(room.0).map_or(0.0, |m| m[b]),
            _ => 0.0,
        };
        let mut few = [0.0; BAND_COUNT];
        // What is left of the stated deviation is that of the absorptions.
        let mut rest = [0.0; BAND_COUNT];
        for band in Band::all().take(BANDS) {
            let b = band.index();
            few[b] = modal(source, b).powi(2) + modal(received.room, b).powi(2);
            let own: f64 = by_group.iter().map(|g| g[b] * g[b]).sum();
            let all = received.deviation.get(band).map_or(0.0, |d| finite(d.0)).powi(2);
            rest[b] = (all - own - few[b]).max(0.0).sqrt();
        }
        Errors::from_covariance(|a, b| {
            let shared: f64 = if a < BANDS && b < BANDS {
                by_group.iter().map(|g| g[a] * g[b]).sum()
            } else {
                0.0
            };
            let single = if a == b { few[a] } else { 0.0 };
            (shared + rest[a] * rest[b]) * alike(a, b) + single
        })
    }

    /// Cholesky's root; a band without variance stays without.
    fn from_covariance(covariance: impl Fn(usize, usize) -> f64) -> Errors {
        let mut root: Box<Square> = Box::new([[0.0; BAND_COUNT]; BAND_COUNT]);
        for i in 0..BAND_COUNT {
            for j in 0..=i {
                let known: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
                let left = covariance(i, j) - known;
                root[i][j] = if i == j {
                    left.max(0.0).sqrt()
                } else if root[j][j] > 1e-9 {
                    left / root[j][j]
                } else {
                    0.0
                };
            }
        }
        Errors { root: Some(root) }
    }

    /// One set of errors.
    pub(crate) fn draw(&self, random: &mut Random) -> Spectrum<LevelDifference> {
        let Some(root) = &self.root else {
            return Band::all().map(|b| (b, LevelDifference(0.0))).collect();
        };
        let z: [f64; BAND_COUNT] = std::array::from_fn(|_| random.normal());
        Band::all()
            .map(|band| {
                let row = &root[band.index()];
                let sum = row.iter().zip(&z).take(band.index() + 1).map(|(r, z)| r * z).sum();
                (band, LevelDifference(sum))
            })
            .collect()
    }
}

fn alike(a: usize, b: usize) -> f64 {
    (-(a.abs_diff(b) as f64) / CORRELATION_THIRDS).exp()
}

fn finite(v: f64) -> f64 {
    if v.is_finite() { v } else { 0.0 }
}

/// A small generator (SplitMix64), so that a probability is the same on every machine.
pub(crate) struct Random(pub u64);

impl Random {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-53)
    }

    fn normal(&mut self) -> f64 {
        let u = self.uniform().max(1e-300);
        (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }
}
