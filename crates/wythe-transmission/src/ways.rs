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

//! The walk goes over rooms, not over links: what stands in a room depends on the rooms alone, so
//! parallel links are told apart only where a sequence has arrived and is worth listing. All
//! receivers of a source share one walk, and of the inverse without the rooms left behind only
//! the entries that are asked for are made:
//!
//! ```text
//! K′(a, b) = K(a, b) − Σ_i k_i(a) k_i(b)/k_i(i)
//! ```
//!
//! with k_i the row of the i-th room left behind, without those before it.

use wythe_bands::{Level, Spectrum};
use wythe_building::RoomIndex;

use crate::balance::Network;
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

/// Levels and ways at one receiver, without derivatives and deviations.
#[derive(Clone, Debug, PartialEq)]
pub struct Shares {
    /// The room.
    pub room: RoomIndex,
    /// Mean-square pressure with the source room at one; 0 where nothing arrives.
    pub energy: PerBand,
    /// The ways, as in [`crate::Received::ways`].
    pub ways: Vec<Way>,
    /// The share from which ways are listed: 0.005 unless the walk had to be cut short.
    pub listed_from: f64,
}

/// A way smaller than this share in every band goes into the sum of small ways. A reader cannot
/// act on half a percent: removing it moves the level by 0.02 dB.
pub const LEAST_SHARE: f64 = 0.005;
/// Where a walk takes too long it is begun again with these.
const COARSER: [f64; 3] = [0.02, 0.08, 0.3];
/// No more ways than this are listed for a receiver.
const MOST_WAYS: usize = 40;
/// A way through more rooms than this is not followed: nobody would read it.
const MOST_ROOMS: usize = 32;
/// Steps (entries of an inverse times rooms left behind, all bands) one walk may take, about a
/// tenth of a second.
const MOST_STEPS: usize = 4_000_000;

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


/// All ways from a source to every room in which something arrives: `energies` holds the transfer
/// to each room, `whole` the inverse of the whole balance.
pub(crate) fn from_source(
    model: &Model,
    whole: &Inverse,
    hops: &Hops,
    source: usize,
    energies: &[PerBand],
) -> Vec<Shares> {
    let mut walk = Walk {
        model,
        whole,
        hops,
        per_total: energies.iter().map(|x| x.map(|v| if v > 0.0 { 1.0 / v } else { 0.0 })).collect(),
        least: LEAST_SHARE,
        found: vec![Vec::new(); model.rooms],
        rooms: Vec::new(),
        rows: Vec::new(),
        spare: Vec::new(),
        path: Vec::new(),
        alive: Vec::new(),
        steps: MOST_STEPS,
        too_deep: false,
    };
    let mut listed_from = LEAST_SHARE;
    for least in std::iter::once(LEAST_SHARE).chain(COARSER) {
        listed_from = least;
        if walk.all_from(source, least) {
            break;
        }
    }
    let deep = walk.too_deep;
    let found = std::mem::take(&mut walk.found);
    found
        .into_iter()
        .enumerate()
        .filter(|(r, _)| *r != source)
        .map(|(r, found)| {
            let ways = listed(found, &energies[r]);
            // Where ways beyond the most rooms were left, the rest may be anything.
            let rest = ways.last().filter(|w| w.is_rest());
            let large = rest.is_some_and(|w| w.share.iter().any(|s| *s > 0.5));
            let listed_from = if deep && large { 1.0 } else { listed_from };
            Shares { room: RoomIndex(r), energy: energies[r], ways, listed_from }
        })
        .collect()
}

/// Most energy (band shares added) first, the rest last.
fn listed(mut found: Vec<(f64, Way)>, x: &PerBand) -> Vec<Way> {
    if x.iter().all(|&v| v <= 0.0) {
        return Vec::new();
    }
    found.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.links.cmp(&b.1.links)));
    found.truncate(MOST_WAYS);
    let mut rest = x.map(|v| if v > 0.0 { 1.0 } else { 0.0 });
    for (_, way) in &found {
        for b in 0..BANDS {
            rest[b] -= way.share[b];
        }
    }
    let rest = rest.map(|s| s.max(0.0));
    let mut found: Vec<Way> = found.into_iter().map(|(_, way)| way).collect();
    if rest.iter().any(|&s| s > 1e-12) {
        found.push(Way { links: Vec::new(), rooms: Vec::new(), share: rest });
    }
    found
}

/// Neighbours of each room with the parallel links to them.
pub(crate) struct Hops {
    /// At the start, where the source may shake the structure.
    first: Vec<Vec<Hop>>,
    /// Later on.
    later: Vec<Vec<Hop>>,
    /// Per outdoors, the rooms it is reached from, with the sum of gains.
    into: Vec<Vec<(usize, PerBand)>>,
}

/// All parallel links from a room to one neighbour.
struct Hop {
    to: usize,
    /// Links with what each adds to the receiver (coupling, outdoors over its spread), the
    /// greatest first by `top`, its greatest share of `most` over the bands.
    links: Vec<(f64, usize, PerBand)>,
    /// Greatest gain of a single link per band.
    most: PerBand,
}

impl Hops {
    pub fn new(model: &Model) -> Hops {
        let n = model.rooms;
        let mut out = Hops {
            first: (0..n).map(|_| Vec::new()).collect(),
            later: (0..n).map(|_| Vec::new()).collect(),
            into: vec![Vec::new(); n],
        };
        for (index, link) in model.links.iter().enumerate() {
            let [i, j] = link.rooms.map(|r| r.0);
            if i == j {
                continue;
            }
            let shakes = link.kind == LinkKind::StructureBorne;
            for (from, to) in std::iter::once((i, j)).chain((!shakes).then_some((j, i))) {
                let gain = match (model.outdoors[to], link.spread) {
                    (false, _) => link.coupling,
                    (true, Some(spread)) => link.coupling.map(|g| g / spread),
                    (true, None) => continue,
                };
                let list = &mut out.first[from];
                match list.iter_mut().find(|h| h.to == to) {
                    Some(hop) => hop.links.push((0.0, index, gain)),
                    None => list.push(Hop { to, links: vec![(0.0, index, gain)], most: gain }),
                }
            }
        }
        for from in 0..n {
            for hop in &mut out.first[from] {
                let plain: Vec<(f64, usize, PerBand)> = hop
                    .links
                    .iter()
                    .filter(|l| model.links[l.1].kind != LinkKind::StructureBorne)
                    .cloned()
                    .collect();
                if plain.len() == hop.links.len() {
                    hop.order();
                    out.later[from].push(Hop { to: hop.to, links: hop.links.clone(), most: hop.most });
                } else {
                    hop.order();
                    if !plain.is_empty() {
                        let mut later = Hop { to: hop.to, links: plain, most: hop.most };
                        later.order();
                        out.later[from].push(later);
                    }
                }
            }
            for hop in out.later[from].iter().filter(|h| model.outdoors[h.to]) {
                let mut sum = [0.0; BANDS];
                for (_, _, gain) in &hop.links {
                    for b in 0..BANDS {
                        sum[b] += gain[b];
                    }
                }
                out.into[hop.to].push((from, sum));
            }
        }
        out
    }
}

impl Hop {
    fn order(&mut self) {
        self.most = [0.0; BANDS];
        for (_, _, gain) in &self.links {
            for b in 0..BANDS {
                self.most[b] = self.most[b].max(gain[b]);
            }
        }
        for (top, _, gain) in &mut self.links {
            *top = (0..BANDS)
                .map(|b| if self.most[b] > 0.0 { gain[b] / self.most[b] } else { 0.0 })
                .fold(0.0, f64::max);
        }
        self.links.sort_by(|a, b| b.0.total_cmp(&a.0));
    }
}

/// A room left behind: its row of the inverse without those before it, and one over its pivot.
struct Row {
    values: Vec<PerBand>,
    per_pivot: PerBand,
}

struct Walk<'a> {
    model: &'a Model,
    whole: &'a Inverse,
    hops: &'a Hops,
    /// One over each receiver's energy, zero where nothing arrives.
    per_total: Vec<PerBand>,
    least: f64,
    /// Ways with the sum of their shares, per receiver.
    found: Vec<Vec<(f64, Way)>>,
    /// Rooms of the sequence so far.
    rooms: Vec<usize>,
    /// Their rows.
    rows: Vec<Row>,
    /// Rows to be used again.
    spare: Vec<Vec<PerBand>>,
    /// Hops of the sequence so far.
    path: Vec<&'a Hop>,
    /// Receivers still worth going on for, one stretch per room of the sequence.
    alive: Vec<usize>,
    steps: usize,
    too_deep: bool,
}

impl<'a> Walk<'a> {
    /// Walks from a source; false where it took too many steps.
    fn all_from(&mut self, source: usize, least: f64) -> bool {
        self.least = least;
        self.steps = MOST_STEPS;
        self.too_deep = false;
        self.found.iter_mut().for_each(Vec::clear);
        self.rooms.clear();
        self.path.clear();
        self.rows.clear();
        self.alive.clear();
        let heard = |r: &usize| *r != source && self.per_total[*r].iter().any(|v| *v > 0.0);
        let alive: Vec<usize> = (0..self.model.rooms).filter(heard).collect();
        self.alive = alive;
        self.enter(source);
        self.from(source, &[1.0; BANDS], &[1.0; BANDS], 0)
    }

    /// Leaves one more room behind; one over its pivot.
    fn enter(&mut self, room: usize) {
        let n = self.model.rooms;
        let mut values = self.spare.pop().unwrap_or_default();
        values.clear();
        for other in 0..n {
            let entry = self.entry(room, other);
            values.push(entry);
        }
        let per_pivot = values[room].map(|p| if p > 0.0 { 1.0 / p } else { 0.0 });
        self.rows.push(Row { values, per_pivot });
        self.rooms.push(room);
    }

    fn leave(&mut self) {
        self.rooms.pop();
        if let Some(row) = self.rows.pop() {
            self.spare.push(row.values);
        }
    }

    /// Entry of the inverse without the rooms left behind.
    fn entry(&mut self, a: usize, c: usize) -> PerBand {
        self.steps = self.steps.saturating_sub(1 + self.rows.len());
        let mut out = *self.whole.at(a, c);
        for row in &self.rows {
            let (x, y) = (&row.values[a], &row.values[c]);
            for b in 0..BANDS {
                // Of an M-matrix no entry is negative; rounding may say otherwise.
                out[b] = (out[b] - x[b] * y[b] * row.per_pivot[b]).max(0.0);
            }
        }
        out
    }

    /// Goes on from the last room of the sequence. `standing` is the product of the K of its
    /// steps, `most` the same with the greatest link of each step; false where the steps ran out.
    fn from(&mut self, here: usize, standing: &PerBand, most: &PerBand, alive_from: usize) -> bool {
        let hops: &'a [Hop] =
            if self.rooms.len() == 1 { &self.hops.first[here] } else { &self.hops.later[here] };
        let alive_to = self.alive.len();
        for hop in hops {
            let next = hop.to;
            if self.rooms.contains(&next) {
                continue;
            }
            if self.steps == 0 {
                return false;
            }
            let outdoors = self.model.outdoors[next];
            let reached: PerBand = std::array::from_fn(|b| most[b] * hop.most[b]);
            let own = if outdoors { [1.0; BANDS] } else { self.entry(next, next) };
            if self.alive[alive_from..alive_to].contains(&next) {
                self.arrive(hop, &own, standing, &reached);
            }
            if outdoors {
                continue;
            }
            // All ways that go on from the next room: to which receivers are they worth it?
            for at in alive_from..alive_to {
                let r = self.alive[at];
                if r == next {
                    continue;
                }
                let onward = if self.model.outdoors[r] {
                    let mut sum = [0.0; BANDS];
                    let hops = self.hops;
                    for (v, gain) in &hops.into[r] {
                        let k = self.entry(next, *v);
                        for b in 0..BANDS {
                            sum[b] += k[b] * gain[b];
                        }
                    }
                    sum
                } else {
                    self.entry(next, r)
                };
                let total = &self.per_total[r];
                let mut best = 0.0f64;
                for b in 0..BANDS {
                    best = best.max(reached[b] * onward[b] * total[b]);
                }
                if best >= self.least {
                    self.alive.push(r);
                }
            }
            if self.alive.len() > alive_to {
                if self.rooms.len() + 1 >= MOST_ROOMS {
                    self.too_deep = true;
                } else {
                    let standing: PerBand = std::array::from_fn(|b| standing[b] * own[b]);
                    let most: PerBand = std::array::from_fn(|b| reached[b] * own[b]);
                    self.path.push(hop);
                    self.enter(next);
                    let done = self.from(next, &standing, &most, alive_to);
                    self.leave();
                    self.path.pop();
                    if !done {
                        return false;
                    }
                }
                self.alive.truncate(alive_to);
            }
        }
        true
    }

    /// The sequence has arrived over one last hop: every choice of links worth listing.
    fn arrive(&mut self, last: &'a Hop, own: &PerBand, standing: &PerBand, reached: &PerBand) {
        let receiver = last.to;
        let total = &self.per_total[receiver];
        let mut best = 0.0f64;
        for b in 0..BANDS {
            best = best.max(reached[b] * own[b] * total[b]);
        }
        if best < self.least {
            return;
        }
        let whole: PerBand = std::array::from_fn(|b| standing[b] * own[b] * total[b]);
        self.path.push(last);
        let mut chosen = Vec::with_capacity(self.path.len());
        let mut found = std::mem::take(&mut self.found[receiver]);
        self.choose(0, &whole, best, &mut chosen, &mut found);
        self.found[receiver] = found;
        self.path.pop();
    }

    /// Takes one link for each hop from `at` on; `best` bounds the share of what follows.
    fn choose(
        &self,
        at: usize,
        share: &PerBand,
        best: f64,
        chosen: &mut Vec<usize>,
        found: &mut Vec<(f64, Way)>,
    ) {
        let hop = self.path[at];
        for (top, link, gain) in &hop.links {
            let best = best * top;
            // Greatest first: all others are smaller.
            if best < self.least {
                break;
            }
            let share: PerBand = std::array::from_fn(|b| share[b] * gain[b]);
            chosen.push(*link);
            if at + 1 < self.path.len() {
                self.choose(at + 1, &share, best, chosen, found);
            } else if share.iter().any(|s| *s >= self.least) {
                let rooms = self.rooms.iter().chain(std::iter::once(&hop.to));
                let way = Way {
                    links: chosen.clone(),
                    rooms: rooms.map(|&r| RoomIndex(r)).collect(),
                    share,
                };
                found.push((share.iter().sum(), way));
            }
            chosen.pop();
        }
    }
}

/// Transfers from a source to every room, itself at one.
pub(crate) fn energies(model: &Model, whole: &Inverse, source: usize) -> Vec<PerBand> {
    let network = Network::from_inverse(model, whole, RoomIndex(source));
    (0..model.rooms).map(|r| network.transfer(RoomIndex(r))).collect()
}
