//! The power balance of all rooms at once.

use nalgebra::DMatrix;
use wythe_bands::{Level, LevelDifference, Spectrum};
use wythe_building::RoomIndex;

use crate::assemble::{per_band, spectrum};
use crate::ways::{self, Way};
use crate::{BANDS, Model, PerBand};

/// Levels everywhere from one source room.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// The room with the source.
    pub source: RoomIndex,
    /// Every other room.
    pub receivers: Vec<Received>,
}

/// What arrives in one room.
#[derive(Clone, Debug, PartialEq)]
pub struct Received {
    /// The room.
    pub room: RoomIndex,
    /// Level difference between the source room and this one; bands nothing reaches are absent.
    pub difference: Spectrum<LevelDifference>,
    /// Standard deviation of it, dB.
    pub deviation: Spectrum<LevelDifference>,
    /// The ways the sound took, most energy first, with what is too small to list in the last.
    pub ways: Vec<Way>,
    /// How the level follows each link: dB per dB.
    pub sensitivity: Vec<Sensitivity>,
}

/// How much the level in a room follows one link: the elasticity ∂ ln x / ∂ ln G per band.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivity {
    /// Position in [`Model::links`].
    pub link: usize,
    /// Elasticity per band: 1 where everything comes through this link.
    pub per_band: PerBand,
}

/// ln 10 / 10: a relative error into decibels is 1 over this.
const DB: f64 = 10.0 * std::f64::consts::LOG10_E;

impl Received {
    /// Level per band from levels in the source room.
    pub fn level(&self, source: &Spectrum<Level>) -> Spectrum<Level> {
        source.zip_with(&self.difference, |l, d| l - d)
    }
}

impl Model {
    /// Solves the balance for a source in one room: level differences to all others, their
    /// deviation, and the ways.
    ///
    /// Per band, with x the mean-square pressures, A the absorption areas and G the couplings:
    ///
    /// ```text
    /// (A_i + Σ_j G_ij) x_i − Σ_j G_ij x_j = 4 ρc W_i
    /// ```
    ///
    /// Outdoors is a sink; its level is the power that reaches it over the area it is spread on.
    /// The matrix is symmetric and positive definite while every A_i > 0.
    /// Source: derived; the two-room case is the classic L₁ − L₂ = R − 10 lg(S/A).
    pub fn from_source(&self, source: RoomIndex) -> Field {
        let network = Network::new(self, source);
        let receivers = (0..self.rooms)
            .filter(|&r| r != source.0)
            .map(|r| self.received(&network, RoomIndex(r)))
            .collect();
        Field { source, receivers }
    }

    fn received(&self, network: &Network<'_>, room: RoomIndex) -> Received {
        let x = network.transfer(room);
        let difference = spectrum(&x, |x| (x > 0.0).then(|| LevelDifference(-10.0 * x.log10())));
        let sensitivity = self.sensitivity(network, room, &x);
        let deviation = self.deviation(network, room, &x, &sensitivity);
        let ways = ways::ways(self, network, room, &x);
        Received {
            room,
            difference,
            deviation: deviation.filter_map(|b, d| difference.get(b).map(|_| d)),
            ways,
            sensitivity,
        }
    }

    /// Elasticity of x_r to each link, exact by the symmetric perturbation of the inverse:
    /// dM = (e_i − e_j)(e_i − e_j)ᵀ dG gives dx = −K (e_i − e_j)(x_i − x_j) dG.
    fn sensitivity(&self, n: &Network<'_>, room: RoomIndex, x: &PerBand) -> Vec<Sensitivity> {
        let s = n.source.0;
        let mut all = Vec::new();
        for (index, link) in self.links.iter().enumerate() {
            let [i, j] = link.rooms.map(|r| r.0);
            let mut out = [0.0; BANDS];
            for (b, slot) in out.iter_mut().enumerate() {
                let g = link.coupling[b];
                if g <= 0.0 || x[b] <= 0.0 {
                    continue;
                }
                // Response at the receiver to unit injection into a room, and level of a room.
                let k = |v: usize| n.response(b, v, room.0);
                let at = |v: usize| n.level(b, v);
                let change = match (self.outdoors[i], self.outdoors[j]) {
                    (true, true) => 0.0,
                    (false, false) => (k(i) - k(j)) * (at(j) - at(i)),
                    (out_i, _) => {
                        // A loss from the indoor room, and, at that outdoors, what arrives.
                        let (indoor, outdoor) = if out_i { (j, i) } else { (i, j) };
                        let arrives = if outdoor == room.0 {
                            at(indoor) / link.spread.unwrap_or(f64::INFINITY)
                        } else {
                            0.0
                        };
                        let loss = if indoor == s { 0.0 } else { k(indoor) * at(indoor) };
                        arrives - loss
                    }
                };
                *slot = g * change / x[b];
            }
            // However small: a hair crack matters once it is a gap.
            if out.iter().any(|e| *e != 0.0) {
                all.push(Sensitivity { link: index, per_band: out });
            }
        }
        all
    }

    /// First-order propagation: groups of links are independent of each other, links of one group
    /// move together; absorptions are independent; few modes add to source and receiver.
    fn deviation(
        &self,
        n: &Network<'_>,
        room: RoomIndex,
        x: &PerBand,
        sensitivity: &[Sensitivity],
    ) -> Spectrum<LevelDifference> {
        let groups = self.links.iter().map(|l| l.group + 1).max().unwrap_or(0);
        let absorption = self.absorption_elasticity(n, room, x);
        let values = per_band(|band| {
            let b = band.index();
            if x[b] <= 0.0 {
                return 0.0;
            }
            let mut by_group = vec![0.0; groups];
            for s in sensitivity {
                let link = &self.links[s.link];
                by_group[link.group] += s.per_band[b] * link.deviation[b];
            }
            let mut variance: f64 = by_group.iter().map(|d| d * d).sum();
            for (elasticity, spread) in absorption.iter().zip(&self.absorption_spread) {
                variance += (elasticity[b] * spread * DB).powi(2);
            }
            variance += self.modal[n.source.0][b].powi(2);
            if !self.outdoors[room.0] {
                variance += self.modal[room.0][b].powi(2);
            }
            variance.sqrt()
        });
        spectrum(&values, |d| (d > 0.0).then_some(LevelDifference(d)))
    }
}

/// The solved balance with the source room's level held at one: K is the inverse of the matrix
/// without the source's row and column, per band.
pub(crate) struct Network<'a> {
    pub(crate) model: &'a Model,
    pub(crate) source: RoomIndex,
    /// Inverse with the source row and column zero, per band.
    pub(crate) inverse: Vec<DMatrix<f64>>,
    /// Level of every room with the source room at one, per band.
    levels: Vec<Vec<f64>>,
}

impl<'a> Network<'a> {
    pub(crate) fn new(model: &'a Model, source: RoomIndex) -> Network<'a> {
        Network::with_losses(model, model, source)
    }

    /// A balance whose inflows come from one model and whose losses from another with the same
    /// links: with the least inflows and the greatest losses of a set of buildings, no level of
    /// any of them is lower (the inverse of an M-matrix falls with every loss and rises with
    /// every coupling).
    fn with_losses(model: &'a Model, losses: &Model, source: RoomIndex) -> Network<'a> {
        let n = model.rooms;
        let s = source.0;
        let mut inverse = Vec::with_capacity(BANDS);
        let mut levels = Vec::with_capacity(BANDS);
        for b in 0..BANDS {
            let mut g = DMatrix::<f64>::zeros(n, n);
            let mut m = DMatrix::<f64>::zeros(n, n);
            for i in 0..n {
                m[(i, i)] = if model.outdoors[i] || i == s {
                    // Not unknowns: a unit diagonal keeps the matrix regular and apart.
                    1.0
                } else {
                    losses.absorption[i][b]
                };
            }
            for (link, loss) in model.links.iter().zip(&losses.links) {
                let [i, j] = link.rooms.map(|r| r.0);
                let value = link.coupling[b];
                let (out_i, out_j) = (model.outdoors[i], model.outdoors[j]);
                if !out_i && i != s {
                    m[(i, i)] += loss.coupling[b];
                }
                if !out_j && j != s {
                    m[(j, j)] += loss.coupling[b];
                }
                if !out_i && !out_j {
                    g[(i, j)] += value;
                    g[(j, i)] += value;
                    if i != s && j != s {
                        m[(i, j)] -= value;
                        m[(j, i)] -= value;
                    }
                }
            }
            let mut k = m.cholesky().map_or_else(|| DMatrix::zeros(n, n), |c| c.inverse());
            for i in 0..n {
                if model.outdoors[i] || i == s {
                    k[(i, i)] = 0.0;
                }
            }
            let mut x = vec![0.0; n];
            for (i, level) in x.iter_mut().enumerate() {
                *level = if i == s { 1.0 } else { (0..n).map(|v| g[(s, v)] * k[(v, i)]).sum() };
            }
            inverse.push(k);
            levels.push(x);
        }
        Network { model, source, inverse, levels }
    }

    /// Mean-square pressure in an indoor room with the source room at one.
    pub(crate) fn level(&self, band: usize, room: usize) -> f64 {
        self.levels[band][room]
    }

    /// Response at `receiver` to a unit injected into `room`.
    pub(crate) fn response(&self, band: usize, room: usize, receiver: usize) -> f64 {
        let k = &self.inverse[band];
        if !self.model.outdoors[receiver] {
            return k[(room, receiver)];
        }
        self.model
            .links
            .iter()
            .filter_map(|l| {
                let v = indoor_end(l, receiver)?;
                Some(k[(room, v)] * l.coupling[band] / l.spread?)
            })
            .sum()
    }

    /// Transfer to a room per band, with the source room at one.
    pub(crate) fn transfer(&self, room: RoomIndex) -> PerBand {
        per_band(|band| {
            let b = band.index();
            if !self.model.outdoors[room.0] {
                return self.level(b, room.0);
            }
            self.model
                .links
                .iter()
                .filter_map(|l| {
                    let v = indoor_end(l, room.0)?;
                    Some(self.level(b, v) * l.coupling[b] / l.spread?)
                })
                .sum()
        })
    }
}

/// The indoor room of a link that leads to this outdoors.
pub(crate) fn indoor_end(link: &crate::Link, outdoor: usize) -> Option<usize> {
    match link.rooms.map(|r| r.0) {
        [a, b] if a == outdoor => Some(b),
        [a, b] if b == outdoor => Some(a),
        _ => None,
    }
}

impl Field {
    /// What arrives in a room.
    pub fn at(&self, room: RoomIndex) -> Option<&Received> {
        self.receivers.iter().find(|r| r.room == room)
    }
}

/// Level difference between two rooms with its derivatives and nothing else: what a fit needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Transfer {
    /// Mean-square pressure in the receiver with the source room at one; 0 where nothing arrives.
    pub energy: PerBand,
    /// Elasticity to each link that matters.
    pub links: Vec<Sensitivity>,
    /// Elasticity to each room's absorption area, negative or zero.
    pub absorption: Vec<PerBand>,
}

impl Model {
    /// Transfers from one source room to several receivers, with exact derivatives.
    pub fn transfers(&self, source: RoomIndex, receivers: &[RoomIndex]) -> Vec<Transfer> {
        let network = Network::new(self, source);
        receivers
            .iter()
            .map(|&room| {
                let energy = network.transfer(room);
                let links = self.sensitivity(&network, room, &energy);
                let absorption = self.absorption_elasticity(&network, room, &energy);
                Transfer { energy, links, absorption }
            })
            .collect()
    }

    /// Energies that no building between two can stay under: `self` with the least couplings,
    /// `losses` with the greatest couplings and absorptions, links in the same order.
    pub fn least_energies(
        &self,
        losses: &Model,
        source: RoomIndex,
        receivers: &[RoomIndex],
    ) -> Vec<PerBand> {
        let network = Network::with_losses(self, losses, source);
        receivers.iter().map(|&r| network.transfer(r)).collect()
    }

    /// Mean-square pressure in every room with each room in turn at one: `[source][receiver]`,
    /// from a single inverse per band. Zero where nothing arrives, and from a source outdoors.
    pub fn all_energies(&self) -> Vec<Vec<PerBand>> {
        let n = self.rooms;
        let mut out = vec![vec![[0.0; BANDS]; n]; n];
        let mut m = DMatrix::<f64>::zeros(n, n);
        for b in 0..BANDS {
            m.fill(0.0);
            for i in 0..n {
                m[(i, i)] = if self.outdoors[i] { 1.0 } else { self.absorption[i][b] };
            }
            for link in &self.links {
                let [i, j] = link.rooms.map(|r| r.0);
                let g = link.coupling[b];
                if !self.outdoors[i] {
                    m[(i, i)] += g;
                }
                if !self.outdoors[j] {
                    m[(j, j)] += g;
                }
                if !self.outdoors[i] && !self.outdoors[j] {
                    m[(i, j)] -= g;
                    m[(j, i)] -= g;
                }
            }
            let Some(factor) = m.clone().cholesky() else { continue };
            let inverse = factor.inverse();
            for s in (0..n).filter(|&s| !self.outdoors[s]) {
                let own = inverse[(s, s)];
                for r in (0..n).filter(|&r| !self.outdoors[r]) {
                    out[s][r][b] = inverse[(s, r)] / own;
                }
            }
        }
        for link in &self.links {
            let [i, j] = link.rooms.map(|r| r.0);
            let (indoor, outdoor) = match (self.outdoors[i], self.outdoors[j]) {
                (false, true) => (i, j),
                (true, false) => (j, i),
                _ => continue,
            };
            let Some(spread) = link.spread else { continue };
            for row in &mut out {
                for b in 0..BANDS {
                    row[outdoor][b] += row[indoor][b] * link.coupling[b] / spread;
                }
            }
        }
        out
    }

    fn absorption_elasticity(&self, n: &Network<'_>, room: RoomIndex, x: &PerBand) -> Vec<PerBand> {
        (0..self.rooms)
            .map(|i| {
                let mut out = [0.0; BANDS];
                if i != n.source.0 && !self.outdoors[i] {
                    for (b, slot) in out.iter_mut().enumerate() {
                        if x[b] > 0.0 {
                            let k = n.response(b, i, room.0);
                            *slot = -self.absorption[i][b] * k * n.level(b, i) / x[b];
                        }
                    }
                }
                out
            })
            .collect()
    }
}
