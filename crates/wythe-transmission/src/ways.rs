//! Which way the sound came.
//!
//! The level in a receiver is an exact sum over the room sequences that visit no room twice:
//! with K the inverse of the balance without the rooms already left behind,
//!
//! ```text
//! x_r = Σ_paths Π_steps G(v→w) K(w, w)
//! ```
//!
//! (the expansion of a cofactor of a symmetric diagonally dominant matrix; echoes back and forth
//! between rooms sit in the K of each step). Every term is positive, so shares are shares. Within
//! a step the energy divides over the parallel links as their couplings do.

use nalgebra::DMatrix;
use wythe_bands::{Level, Spectrum};
use wythe_building::RoomIndex;

use crate::balance::{Network, indoor_end};
use crate::{BANDS, LinkKind, Model, PerBand};

/// One way from the source to the receiver: a sequence of links.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Links in order, as positions in [`Model::links`]; empty for the sum of all ways too small
    /// to list.
    pub links: Vec<usize>,
    /// Rooms in order, source and receiver included; empty for the sum of small ways.
    pub rooms: Vec<RoomIndex>,
    /// Share of the receiver's energy per band; all ways of a receiver sum to one.
    pub share: PerBand,
}

/// A way smaller than this share in every band goes into the sum of small ways. A reader cannot
/// act on half a percent: removing it moves the level by 0.02 dB.
const LEAST_SHARE: f64 = 0.005;
/// No more ways than this are listed for a receiver.
const MOST_WAYS: usize = 40;

impl Way {
    /// Whether this is the sum of all ways too small to list.
    pub fn is_rest(&self) -> bool {
        self.links.is_empty()
    }

    /// Name of the way.
    pub fn id(&self, model: &Model) -> String {
        self.name(|i| &model.links[i].id)
    }

    /// Title for people.
    pub fn title(&self, model: &Model) -> String {
        self.name(|i| &model.links[i].title)
    }

    fn name<'m>(&self, of: impl Fn(usize) -> &'m String) -> String {
        if self.is_rest() {
            return "all smaller ways".to_owned();
        }
        let names: Vec<&str> = self.links.iter().map(|&i| of(i).as_str()).collect();
        names.join(", then ")
    }

    /// Kind of the way: of one link, its own; of several, a leak if any is one, else an opening if
    /// any is one, else the last link's.
    pub fn kind(&self, model: &Model) -> LinkKind {
        let kinds: Vec<LinkKind> = self.links.iter().map(|&i| model.links[i].kind).collect();
        for kind in [LinkKind::Leak, LinkKind::Opening, LinkKind::Duct] {
            if kinds.contains(&kind) {
                return kind;
            }
        }
        kinds.last().copied().unwrap_or(LinkKind::Direct)
    }

    /// Level this way alone brings, from the receiver's levels.
    pub fn level(&self, received: &Spectrum<Level>) -> Spectrum<Level> {
        received.filter_map(|b, l| {
            let share = *self.share.get(b.index())?;
            Level::from_energy(l.energy() * share)
        })
    }
}

/// All ways to a room, most energy (band shares added) first, the rest last.
pub(crate) fn ways(model: &Model, n: &Network<'_>, room: RoomIndex, x: &PerBand) -> Vec<Way> {
    if x.iter().all(|&v| v <= 0.0) {
        return Vec::new();
    }
    let mut walk =
        Walk { model, receiver: room.0, total: x, found: Vec::new(), hops: Hops::new(model) };
    let start = State {
        inverse: n.inverse.clone(),
        energy: [1.0; BANDS],
        rooms: vec![n.source.0],
        links: Vec::new(),
    };
    walk.from(&start);
    let mut found = walk.found;
    found.sort_by(|a, b| {
        let weight = |w: &Way| w.share.iter().sum::<f64>();
        weight(b).total_cmp(&weight(a)).then_with(|| a.links.cmp(&b.links))
    });
    found.truncate(MOST_WAYS);
    let mut rest = [0.0; BANDS];
    for (b, slot) in rest.iter_mut().enumerate() {
        if x[b] > 0.0 {
            let listed: f64 = found.iter().map(|w| w.share[b]).sum();
            *slot = (1.0 - listed).max(0.0);
        }
    }
    if rest.iter().any(|&s| s > 1e-12) {
        found.push(Way { links: Vec::new(), rooms: Vec::new(), share: rest });
    }
    found
}

/// Parallel links between each pair of rooms.
struct Hops {
    links: Vec<Vec<(usize, Vec<usize>)>>,
}

impl Hops {
    fn new(model: &Model) -> Hops {
        let mut links: Vec<Vec<(usize, Vec<usize>)>> = vec![Vec::new(); model.rooms];
        for (index, link) in model.links.iter().enumerate() {
            let [i, j] = link.rooms.map(|r| r.0);
            for (from, to) in [(i, j), (j, i)] {
                match links[from].iter_mut().find(|(room, _)| *room == to) {
                    Some((_, list)) => list.push(index),
                    None => links[from].push((to, vec![index])),
                }
            }
        }
        Hops { links }
    }
}

struct State {
    /// Inverse of the balance without the rooms already left behind.
    inverse: Vec<DMatrix<f64>>,
    /// Energy standing in the room reached, per band, by this very sequence of links.
    energy: PerBand,
    rooms: Vec<usize>,
    links: Vec<usize>,
}

struct Walk<'a> {
    model: &'a Model,
    receiver: usize,
    total: &'a PerBand,
    found: Vec<Way>,
    hops: Hops,
}

impl Walk<'_> {
    fn from(&mut self, state: &State) {
        let Some(&here) = state.rooms.last() else { return };
        let onward: Vec<(usize, Vec<usize>)> = self.hops.links[here].clone();
        for (next, links) in onward {
            if state.rooms.contains(&next) {
                continue;
            }
            if self.model.outdoors[next] {
                if next == self.receiver {
                    self.arrive_outdoors(state, next, &links);
                }
                continue;
            }
            if next == self.receiver {
                for link in links {
                    let share = self.share(|b| {
                        state.energy[b]
                            * self.model.links[link].coupling[b]
                            * state.inverse[b][(next, next)]
                    });
                    self.keep(state, next, link, share);
                }
                continue;
            }
            // All ways that go on from the next room, by each link: too small to list?
            let beyond: Vec<f64> =
                (0..BANDS).map(|b| self.beyond(&state.inverse[b], b, next)).collect();
            let worth: Vec<usize> = links
                .into_iter()
                .filter(|&link| {
                    let share = self.share(|b| {
                        state.energy[b] * self.model.links[link].coupling[b] * beyond[b]
                    });
                    share.iter().any(|&s| s >= LEAST_SHARE)
                })
                .collect();
            if worth.is_empty() {
                continue;
            }
            let reduced: Vec<DMatrix<f64>> =
                state.inverse.iter().map(|k| without(k, next)).collect();
            for link in worth {
                let mut energy = state.energy;
                for (b, e) in energy.iter_mut().enumerate() {
                    *e *= self.model.links[link].coupling[b] * state.inverse[b][(next, next)];
                }
                let mut rooms = state.rooms.clone();
                rooms.push(next);
                let mut so_far = state.links.clone();
                so_far.push(link);
                self.from(&State { inverse: reduced.clone(), energy, rooms, links: so_far });
            }
        }
    }

    /// Response at the receiver to a unit injected into a room of the reduced balance.
    fn beyond(&self, k: &DMatrix<f64>, b: usize, room: usize) -> f64 {
        if !self.model.outdoors[self.receiver] {
            return k[(room, self.receiver)];
        }
        self.model
            .links
            .iter()
            .filter_map(|l| {
                let v = indoor_end(l, self.receiver)?;
                Some(k[(room, v)] * l.coupling[b] / l.spread?)
            })
            .sum()
    }

    fn arrive_outdoors(&mut self, state: &State, next: usize, links: &[usize]) {
        for &link in links {
            let l = &self.model.links[link];
            let Some(spread) = l.spread else { continue };
            let share = self.share(|b| state.energy[b] * l.coupling[b] / spread);
            self.keep(state, next, link, share);
        }
    }

    fn share(&self, energy: impl Fn(usize) -> f64) -> PerBand {
        let mut out = [0.0; BANDS];
        for (b, slot) in out.iter_mut().enumerate() {
            if self.total[b] > 0.0 {
                *slot = energy(b) / self.total[b];
            }
        }
        out
    }

    fn keep(&mut self, state: &State, last: usize, link: usize, share: PerBand) {
        if share.iter().all(|&s| s < LEAST_SHARE) {
            return;
        }
        let mut rooms: Vec<RoomIndex> = state.rooms.iter().map(|&r| RoomIndex(r)).collect();
        rooms.push(RoomIndex(last));
        let mut links = state.links.clone();
        links.push(link);
        self.found.push(Way { links, rooms, share });
    }
}

/// Inverse of a matrix without row and column `out`, from the inverse with them.
fn without(k: &DMatrix<f64>, out: usize) -> DMatrix<f64> {
    let n = k.nrows();
    let pivot = k[(out, out)];
    if pivot <= 0.0 {
        return k.clone();
    }
    DMatrix::from_fn(n, n, |i, j| {
        if i == out || j == out { 0.0 } else { k[(i, j)] - k[(i, out)] * k[(out, j)] / pivot }
    })
}
