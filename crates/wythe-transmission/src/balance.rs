//! The power balance of all rooms at once.

use wythe_bands::{Level, LevelDifference, Spectrum};
use wythe_building::RoomIndex;

use crate::assemble::{per_band, spectrum};
use crate::inverse::{Inverse, by_band, is_large};
use crate::ways::{self, Hops, Shares, Walk, Way};
use crate::{BANDS, Link, LinkKind, Model, PerBand};

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
    /// The share from which on ways are listed: 0.005 unless the building has so many that the
    /// walk had to be cut short; 1 where most of the sound comes through more rooms in a row than
    /// are followed.
    pub listed_from: f64,
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
    /// As a source its level is L₁,₂ₘ, 2 m in front of the façade, and the balance gives
    /// L₁,₂ₘ − L₂ = R′ − 10 lg(S/A), the form of ISO 12354-3 with a plane façade (from memory).
    /// The matrix is symmetric and positive definite while every A_i > 0.
    /// Source: derived; the two-room case is the classic L₁ − L₂ = R − 10 lg(S/A).
    pub fn from_source(&self, source: RoomIndex) -> Field {
        self.from_sources(&[source]).remove(0)
    }

    /// [`Model::from_source`] for several sources, which share the inverse of the balance.
    pub fn from_sources(&self, sources: &[RoomIndex]) -> Vec<Field> {
        let whole = Inverse::of(self, self);
        let hops = Hops::new(self, &whole);
        let mut walk = Walk::new(self, &whole, &hops);
        sources.iter().map(|&s| self.field(&whole, s, &mut walk)).collect()
    }

    /// Levels and ways from several sources and nothing else: what a moved slider needs.
    pub fn shares(&self, sources: &[RoomIndex]) -> Vec<Shares> {
        let whole = Inverse::of(self, self);
        let hops = Hops::new(self, &whole);
        let mut walk = Walk::new(self, &whole, &hops);
        let mut out = Vec::with_capacity(sources.len());
        for s in sources {
            let energies = ways::energies(self, &whole, s.0);
            out.push(walk.shares(s.0, energies));
        }
        out
    }

    fn field(&self, whole: &Inverse, source: RoomIndex, walk: &mut Walk<'_>) -> Field {
        let network = Network::from_inverse(self, whole, source);
        let energies: Vec<PerBand> =
            (0..self.rooms).map(|r| network.transfer(RoomIndex(r))).collect();
        let shares = walk.shares(source.0, energies);
        let receivers = (0..self.rooms)
            .filter(|&r| r != source.0)
            .map(|r| self.received(&network, RoomIndex(r), &shares))
            .collect();
        Field { source, receivers }
    }

    fn received(&self, network: &Network<'_>, room: RoomIndex, shares: &Shares) -> Received {
        let x = shares.energies[room.0];
        let (ways, listed_from) = (shares.owned(room), shares.listed_from(room));
        let difference = spectrum(&x, |x| (x > 0.0).then(|| LevelDifference(-10.0 * x.log10())));
        let sensitivity = self.sensitivity(network, room, &x);
        let deviation = self.deviation(network, room, &x, &sensitivity);
        Received {
            room,
            difference,
            deviation: deviation.filter_map(|b, d| difference.get(b).map(|_| d)),
            ways,
            listed_from,
            sensitivity,
        }
    }

    /// Elasticity of x_r to each link, exact by the symmetric perturbation of the inverse:
    /// dM = (e_i − e_j)(e_i − e_j)ᵀ dG gives dx = −K (e_i − e_j)(x_i − x_j) dG.
    fn sensitivity(&self, n: &Network<'_>, room: RoomIndex, x: &PerBand) -> Vec<Sensitivity> {
        let s = n.source.0;
        let response = n.responses(room.0);
        let inverse_x: PerBand = x.map(|v| if v > 0.0 { 1.0 / v } else { 0.0 });
        // Parallel links between the same rooms stand together and share everything but G.
        let mut before: Option<([usize; 2], PerBand)> = None;
        let mut all = Vec::with_capacity(self.links.len());
        for (index, link) in self.links.iter().enumerate() {
            let rooms = link.rooms.map(|r| r.0);
            let one_way = link.kind == LinkKind::StructureBorne;
            // What arrives outdoors depends on the link's own spread.
            let own = one_way || link.spread.is_some();
            let factor = match &before {
                Some((known, factor)) if *known == rooms && !own => *factor,
                _ => {
                    let factor = self.slope(n, link, room, &response, &inverse_x, s);
                    before = (!own).then_some((rooms, factor));
                    factor
                }
            };
            let out: PerBand = std::array::from_fn(|b| link.coupling[b] * factor[b]);
            // However small: a hair crack matters once it is a gap.
            if out.iter().any(|e| *e != 0.0) {
                all.push(Sensitivity { link: index, per_band: out });
            }
        }
        all
    }

    /// ∂x_r/∂G over x_r of one link.
    fn slope(
        &self,
        n: &Network<'_>,
        link: &Link,
        room: RoomIndex,
        response: &[PerBand],
        inverse_x: &PerBand,
        s: usize,
    ) -> PerBand {
        let [i, j] = link.rooms.map(|r| r.0);
        std::array::from_fn(|b| {
            // Response at the receiver to unit injection into a room, and level of a room.
            let k = |v: usize| response[v][b];
            let at = |v: usize| n.level(b, v);
            let change = if link.kind == LinkKind::StructureBorne {
                if i == s { k(j) } else { 0.0 }
            } else {
                match (self.outdoors[i] && i != s, self.outdoors[j] && j != s) {
                    (true, true) => 0.0,
                    // From outdoors more or less comes in than would go back.
                    (false, false) if self.outdoors[s] && (i == s || j == s) => {
                        let indoor = if i == s { j } else { i };
                        k(indoor) * (inward(self, link, s) - at(indoor))
                    }
                    (false, false) => (k(i) - k(j)) * (at(j) - at(i)),
                    (out_i, _) => {
                        // A loss from the indoor room, and, at that outdoors, what arrives.
                        let (indoor, outdoor) = if out_i { (j, i) } else { (i, j) };
                        let arrives = if outdoor == room.0 {
                            link.spread.as_ref().map_or(0.0, |s| at(indoor) / s.area[b])
                        } else {
                            0.0
                        };
                        let loss = if indoor == s { 0.0 } else { k(indoor) * at(indoor) };
                        arrives - loss
                    }
                }
            };
            change * inverse_x[b]
        })
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
        let mut by_group = vec![[0.0; BANDS]; groups];
        for s in sensitivity {
            let link = &self.links[s.link];
            let sum = &mut by_group[link.group];
            for b in 0..BANDS {
                sum[b] += s.per_band[b] * link.deviation[b];
            }
        }
        let values = per_band(|band| {
            let b = band.index();
            if x[b] <= 0.0 {
                return 0.0;
            }
            let mut variance: f64 = by_group.iter().map(|d| d[b] * d[b]).sum();
            for (i, elasticity) in absorption.iter().enumerate() {
                let spread = self.absorption_deviation.get(i).map_or_else(
                    || self.absorption_spread.get(i).copied().unwrap_or(0.0),
                    |per_band| per_band[b],
                );
                variance += (elasticity[b] * spread * DB).powi(2);
            }
            if !self.outdoors[n.source.0] {
                variance += self.modal[n.source.0][b].powi(2);
            }
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
    /// Inverse with the source and all outdoors zero.
    pub(crate) inverse: Inverse,
    /// Level of every room with the source room at one.
    levels: Vec<PerBand>,
}

impl<'a> Network<'a> {
    pub(crate) fn new(model: &'a Model, source: RoomIndex) -> Network<'a> {
        Network::from_inverse(model, &Inverse::of(model, model), source)
    }

    /// A balance whose inflows come from one model and whose losses from another with the same
    /// links: with the least inflows and the greatest losses of a set of buildings, no level of
    /// any of them is lower (the inverse of an M-matrix falls with every loss and rises with
    /// every coupling).
    fn with_losses(model: &'a Model, losses: &Model, source: RoomIndex) -> Network<'a> {
        Network::from_inverse(model, &Inverse::of(model, losses), source)
    }

    /// One source of a balance whose inverse is known.
    pub(crate) fn from_inverse(
        model: &'a Model,
        whole: &Inverse,
        source: RoomIndex,
    ) -> Network<'a> {
        let s = source.0;
        let inverse = whole.without(s);
        let mut levels: Vec<PerBand> = if model.outdoors[s] {
            vec![[0.0; BANDS]; model.rooms]
        } else {
            // x_r = K_sr/K_ss of the whole inverse: the same as inflows times K, without the sum.
            let own = whole.at(s, s);
            (0..model.rooms)
                .map(|r| {
                    let there = whole.at(s, r);
                    std::array::from_fn(|b| if own[b] > 0.0 { there[b] / own[b] } else { 0.0 })
                })
                .collect()
        };
        // What comes in beside: all of it from a source outdoors, and what goes through the
        // structure one way.
        for link in &model.links {
            let Some(into) = inflow(model, link, s) else { continue };
            if !model.outdoors[s] && link.kind != LinkKind::StructureBorne {
                continue;
            }
            let inward = inward(model, link, s);
            for (r, level) in levels.iter_mut().enumerate() {
                let k = inverse.at(into, r);
                for b in 0..BANDS {
                    level[b] += inward * link.coupling[b] * k[b];
                }
            }
        }
        for (r, level) in levels.iter_mut().enumerate() {
            if r == s {
                *level = [1.0; BANDS];
            } else if model.outdoors[r] {
                *level = [0.0; BANDS];
            }
        }
        Network { model, source, inverse, levels }
    }

    /// Mean-square pressure in an indoor room with the source room at one.
    pub(crate) fn level(&self, band: usize, room: usize) -> f64 {
        self.levels[room][band]
    }

    /// Response at `receiver` to a unit injected into each room, `[room][band]`.
    pub(crate) fn responses(&self, receiver: usize) -> Vec<PerBand> {
        responses(self.model, &self.inverse, receiver)
    }

    /// Transfer to a room per band, with the source room at one.
    pub(crate) fn transfer(&self, room: RoomIndex) -> PerBand {
        if !self.model.outdoors[room.0] || room == self.source {
            return self.levels[room.0];
        }
        let mut out = [0.0; BANDS];
        for link in &self.model.links {
            let (Some(v), Some(spread)) = (indoor_end(link, room.0), &link.spread) else {
                continue;
            };
            for (b, slot) in out.iter_mut().enumerate() {
                *slot += self.levels[v][b] * link.coupling[b] / spread.area[b];
            }
        }
        out
    }
}

/// Response at `receiver` to a unit injected into each room, by an inverse of the balance.
pub(crate) fn responses(model: &Model, inverse: &Inverse, receiver: usize) -> Vec<PerBand> {
    let n = model.rooms;
    if !model.outdoors[receiver] {
        return (0..n).map(|room| *inverse.at(room, receiver)).collect();
    }
    let mut out = vec![[0.0; BANDS]; n];
    for link in &model.links {
        let (Some(v), Some(spread)) = (indoor_end(link, receiver), &link.spread) else {
            continue;
        };
        for (room, slot) in out.iter_mut().enumerate() {
            let k = inverse.at(room, v);
            for b in 0..BANDS {
                slot[b] += k[b] * link.coupling[b] / spread.area[b];
            }
        }
    }
    out
}

/// The indoor room a link brings sound into from the source.
fn inflow(model: &Model, link: &crate::Link, source: usize) -> Option<usize> {
    let [a, b] = link.rooms.map(|r| r.0);
    let into = match (a == source, b == source) {
        (true, false) => b,
        (false, true) if link.kind != LinkKind::StructureBorne => a,
        _ => return None,
    };
    (!model.outdoors[into]).then_some(into)
}

/// Factor on what comes in through a link from a source outdoors.
pub(crate) fn inward(model: &Model, link: &crate::Link, source: usize) -> f64 {
    match &link.spread {
        Some(spread) if model.outdoors[source] => spread.inward,
        _ => 1.0,
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
    /// from a single inverse per band. Zero where nothing arrives.
    pub fn all_energies(&self) -> Vec<Vec<PerBand>> {
        let n = self.rooms;
        let mut out = vec![vec![[0.0; BANDS]; n]; n];
        let whole = if is_large(self) {
            by_band(self, self, |b, k| {
                for (s, row) in out.iter_mut().enumerate().filter(|(s, _)| !self.outdoors[*s]) {
                    let own = k[(s, s)];
                    for (r, slot) in row.iter_mut().enumerate().filter(|(r, _)| !self.outdoors[*r])
                    {
                        slot[b] = if own > 0.0 { k[(r, s)] / own } else { 0.0 };
                    }
                }
            });
            None
        } else {
            let whole = Inverse::of(self, self);
            for (s, row) in out.iter_mut().enumerate().filter(|(s, _)| !self.outdoors[*s]) {
                let own = whole.at(s, s);
                for (r, slot) in row.iter_mut().enumerate().filter(|(r, _)| !self.outdoors[*r]) {
                    let there = whole.at(s, r);
                    *slot =
                        std::array::from_fn(|b| if own[b] > 0.0 { there[b] / own[b] } else { 0.0 });
                }
            }
            Some(whole)
        };
        // Sources that need more than the inverse: outdoors, and those that shake the structure.
        let mut beside: Vec<usize> = (0..n).filter(|&s| self.outdoors[s]).collect();
        beside.extend(
            self.links.iter().filter(|l| l.kind == LinkKind::StructureBorne).map(|l| l.rooms[0].0),
        );
        beside.sort_unstable();
        beside.dedup();
        let whole = match whole {
            None if !beside.is_empty() => Some(Inverse::of(self, self)),
            whole => whole,
        };
        for (s, whole) in beside.into_iter().zip(std::iter::repeat(whole.as_ref())) {
            let Some(whole) = whole else { continue };
            let network = Network::from_inverse(self, whole, RoomIndex(s));
            for r in (0..n).filter(|&r| !self.outdoors[r]) {
                out[s][r] = network.levels[r];
            }
        }
        for link in &self.links {
            let [i, j] = link.rooms.map(|r| r.0);
            let (indoor, outdoor) = match (self.outdoors[i], self.outdoors[j]) {
                (false, true) => (i, j),
                (true, false) => (j, i),
                _ => continue,
            };
            let Some(spread) = &link.spread else { continue };
            for (_, row) in out.iter_mut().enumerate().filter(|(s, _)| *s != outdoor) {
                for b in 0..BANDS {
                    row[outdoor][b] += row[indoor][b] * link.coupling[b] / spread.area[b];
                }
            }
        }
        for (s, row) in out.iter_mut().enumerate() {
            row[s] = [1.0; BANDS];
        }
        out
    }

    fn absorption_elasticity(&self, n: &Network<'_>, room: RoomIndex, x: &PerBand) -> Vec<PerBand> {
        let response = n.responses(room.0);
        (0..self.rooms)
            .map(|i| {
                let mut out = [0.0; BANDS];
                if i != n.source.0 && !self.outdoors[i] {
                    for (b, slot) in out.iter_mut().enumerate() {
                        if x[b] > 0.0 {
                            let k = response[i][b];
                            *slot = -self.absorption[i][b] * k * n.level(b, i) / x[b];
                        }
                    }
                }
                out
            })
            .collect()
    }
}
