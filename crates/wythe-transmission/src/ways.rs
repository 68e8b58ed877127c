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

use std::collections::BTreeMap;
use std::rc::Rc;

use wythe_bands::{Level, Spectrum};
use wythe_building::RoomIndex;

use crate::balance::{Network, responses};
use crate::inverse::Inverse;
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

    /// Kind of the way: of one link, its own; of several, structure-borne if it begins so, else a
    /// leak if any is one, else an opening if any is one, else a duct, else the last link's.
    pub fn kind(&self, model: &Model) -> LinkKind {
        let kinds: Vec<LinkKind> = self.links.iter().map(|&i| model.links[i].kind).collect();
        for kind in [LinkKind::StructureBorne, LinkKind::Leak, LinkKind::Opening, LinkKind::Duct] {
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

/// Inverses of the balance without a set of rooms, remembered: ways of different receivers and
/// sources leave the same rooms behind.
pub(crate) struct Reduced {
    known: BTreeMap<Vec<usize>, Rc<Inverse>>,
    hops: Rc<Hops>,
    /// How many may be kept: about 64 MB of them.
    most: usize,
}

impl Reduced {
    pub fn new(model: &Model) -> Reduced {
        let each = (model.rooms * model.rooms * BANDS * 8).max(1);
        Reduced { known: BTreeMap::new(), hops: Rc::new(Hops::new(model)), most: (1 << 26) / each }
    }

    /// The inverse without the rooms of `left`, from the one without all but the last of them.
    fn without(&mut self, before: &Inverse, left: &[usize]) -> Rc<Inverse> {
        let mut key = left.to_vec();
        key.sort_unstable();
        if let Some(known) = self.known.get(&key) {
            return Rc::clone(known);
        }
        let made = Rc::new(before.without(left[left.len() - 1]));
        if self.known.len() < self.most {
            self.known.insert(key, Rc::clone(&made));
        }
        made
    }
}

/// All ways to a room, most energy (band shares added) first, the rest last.
pub(crate) fn ways(
    model: &Model,
    n: &Network<'_>,
    room: RoomIndex,
    x: &PerBand,
    reduced: &mut Reduced,
) -> Vec<Way> {
    if x.iter().all(|&v| v <= 0.0) {
        return Vec::new();
    }
    let hops = Rc::clone(&reduced.hops);
    let mut walk = Walk {
        model,
        receiver: room.0,
        per_total: x.map(|v| if v > 0.0 { 1.0 / v } else { 0.0 }),
        found: Vec::new(),
        hops: &hops,
        reduced,
    };
    let mut start = State { energy: [1.0; BANDS], rooms: vec![n.source.0], links: Vec::new() };
    walk.from(&n.inverse, &mut start);
    let mut found = walk.found;
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.links.cmp(&b.1.links)));
    found.truncate(MOST_WAYS);
    let mut found: Vec<Way> = found.into_iter().map(|(_, way)| way).collect();
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

/// Parallel links from each room to each neighbour.
struct Hops {
    links: Vec<Vec<(usize, Vec<usize>)>>,
}

impl Hops {
    fn new(model: &Model) -> Hops {
        let mut links: Vec<Vec<(usize, Vec<usize>)>> = vec![Vec::new(); model.rooms];
        for (index, link) in model.links.iter().enumerate() {
            let [i, j] = link.rooms.map(|r| r.0);
            let back = link.kind != LinkKind::StructureBorne;
            for (from, to) in std::iter::once((i, j)).chain(back.then_some((j, i))) {
                match links[from].iter_mut().find(|(room, _)| *room == to) {
                    Some((_, list)) => list.push(index),
                    None => links[from].push((to, vec![index])),
                }
            }
        }
        Hops { links }
    }
}

/// A way begun: what stands in the room reached by this very sequence of links.
struct State {
    energy: PerBand,
    rooms: Vec<usize>,
    links: Vec<usize>,
}

struct Walk<'a> {
    model: &'a Model,
    receiver: usize,
    /// One over the receiver's energy, zero where nothing arrives.
    per_total: PerBand,
    /// Ways with the sum of their shares.
    found: Vec<(f64, Way)>,
    hops: &'a Hops,
    reduced: &'a mut Reduced,
}

impl Walk<'_> {
    /// Goes on from the last room of a state; `inverse` is without all its rooms.
    fn from(&mut self, inverse: &Inverse, state: &mut State) {
        let Some(&here) = state.rooms.last() else { return };
        let hops = self.hops;
        let mut beyond: Option<Vec<PerBand>> = None;
        for (next, links) in &hops.links[here] {
            let next = *next;
            if state.rooms.contains(&next) {
                continue;
            }
            if self.model.outdoors[next] && next != self.receiver {
                continue;
            }
            if next == self.receiver {
                self.arrive(inverse, state, links);
                continue;
            }
            // All ways that go on from the next room, by each link: too small to list?
            let all =
                beyond.get_or_insert_with(|| responses(self.model, inverse, self.receiver))[next];
            let onward: PerBand =
                std::array::from_fn(|b| state.energy[b] * all[b] * self.per_total[b]);
            let mut without: Option<Rc<Inverse>> = None;
            for &link in links {
                let l = &self.model.links[link];
                let worth = (0..BANDS).any(|b| onward[b] * l.coupling[b] >= LEAST_SHARE);
                if !worth || !self.starts_here(link, state) {
                    continue;
                }
                let k = inverse.at(next, next);
                let before = state.energy;
                for b in 0..BANDS {
                    state.energy[b] *= l.coupling[b] * k[b];
                }
                state.rooms.push(next);
                state.links.push(link);
                let left = &state.rooms;
                let reduced =
                    without.get_or_insert_with(|| self.reduced.without(inverse, left)).clone();
                self.from(&reduced, state);
                state.rooms.pop();
                state.links.pop();
                state.energy = before;
            }
        }
    }

    /// The structure is shaken by the source itself and by nothing on the way.
    fn starts_here(&self, link: usize, state: &State) -> bool {
        self.model.links[link].kind != LinkKind::StructureBorne || state.rooms.len() == 1
    }

    fn arrive(&mut self, inverse: &Inverse, state: &State, links: &[usize]) {
        let last = self.receiver;
        let k = *inverse.at(last, last);
        let outdoors = self.model.outdoors[last];
        for &link in links {
            if !self.starts_here(link, state) {
                continue;
            }
            let l = &self.model.links[link];
            let mut share = [0.0; BANDS];
            match (outdoors, l.spread) {
                (true, None) => continue,
                (true, Some(spread)) => {
                    for (b, slot) in share.iter_mut().enumerate() {
                        *slot = state.energy[b] * l.coupling[b] / spread * self.per_total[b];
                    }
                }
                (false, _) => {
                    for (b, slot) in share.iter_mut().enumerate() {
                        *slot = state.energy[b] * l.coupling[b] * k[b] * self.per_total[b];
                    }
                }
            }
            if share.iter().all(|&s| s < LEAST_SHARE) {
                continue;
            }
            let mut rooms: Vec<RoomIndex> = Vec::with_capacity(state.rooms.len() + 1);
            rooms.extend(state.rooms.iter().map(|&r| RoomIndex(r)));
            rooms.push(RoomIndex(last));
            let mut way = Vec::with_capacity(state.links.len() + 1);
            way.extend_from_slice(&state.links);
            way.push(link);
            self.found.push((share.iter().sum(), Way { links: way, rooms, share }));
        }
    }
}
