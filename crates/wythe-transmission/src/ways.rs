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

/// Levels and ways from one source to all rooms, without derivatives and deviations.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shares {
    /// Mean-square pressure per room with the source room at one; 0 where nothing arrives.
    pub energies: Vec<PerBand>,
    /// Per room, which of `listed` are its ways, and what is left for the rest.
    receivers: Vec<(std::ops::Range<usize>, PerBand)>,
    listed: Vec<Listed>,
    /// Shares, links and rooms of all ways one after the other.
    shares: Vec<PerBand>,
    links: Vec<usize>,
    rooms: Vec<RoomIndex>,
    least: f64,
    too_deep: bool,
}

/// A way by its places in [`Shares`].
#[derive(Clone, Copy, Debug, PartialEq)]
struct Listed {
    receiver: usize,
    sum: f64,
    share: usize,
    links: usize,
    rooms: usize,
    steps: usize,
}

impl Shares {
    /// Links, rooms and share of every listed way to a room, most energy (band shares added)
    /// first.
    pub fn ways_to(
        &self,
        room: RoomIndex,
    ) -> impl Iterator<Item = (&[usize], &[RoomIndex], &PerBand)> {
        let range = self.receivers.get(room.0).map_or(0..0, |(range, _)| range.clone());
        self.listed[range].iter().map(|l| {
            (
                &self.links[l.links..l.links + l.steps],
                &self.rooms[l.rooms..=l.rooms + l.steps],
                &self.shares[l.share],
            )
        })
    }

    /// Share of all ways to a room that are too small to list.
    pub fn rest(&self, room: RoomIndex) -> PerBand {
        self.receivers.get(room.0).map_or([0.0; BANDS], |(_, rest)| *rest)
    }

    /// The same as values of their own, the rest last.
    pub(crate) fn owned(&self, room: RoomIndex) -> Vec<Way> {
        let mut out: Vec<Way> = self
            .ways_to(room)
            .map(|(links, rooms, share)| Way {
                links: links.to_vec(),
                rooms: rooms.to_vec(),
                share: *share,
            })
            .collect();
        let rest = self.rest(room);
        if rest.iter().any(|&s| s > 1e-12) {
            out.push(Way { links: Vec::new(), rooms: Vec::new(), share: rest });
        }
        out
    }

    /// The share from which ways to a room are listed, see [`crate::Received::listed_from`].
    pub fn listed_from(&self, room: RoomIndex) -> f64 {
        let left = self.rest(room).iter().any(|s| *s > 0.5);
        if self.too_deep && left { 1.0 } else { self.least }
    }
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

/// All ways from a source to every room in which something arrives; `whole` is the inverse of the
/// whole balance.
pub(crate) fn from_source(
    model: &Model,
    whole: &Inverse,
    hops: &Hops,
    source: usize,
    energies: Vec<PerBand>,
) -> Shares {
    let mut walk = Walk {
        model,
        whole,
        hops,
        per_total: energies
            .iter()
            .map(|x| x.map(|v| if v > 0.0 { 1.0 / v } else { 0.0 }))
            .collect(),
        least: LEAST_SHARE,
        out: Shares { energies, ..Shares::default() },
        rooms: Vec::new(),
        rows: Vec::new(),
        spare: Vec::new(),
        path: Vec::new(),
        chosen: Vec::new(),
        alive: Vec::new(),
        steps: MOST_STEPS,
    };
    for least in std::iter::once(LEAST_SHARE).chain(COARSER) {
        if walk.all_from(source, least) {
            break;
        }
    }
    let mut out = walk.out;
    out.list(source);
    out
}

impl Shares {
    /// Puts what was found in order.
    fn list(&mut self, source: usize) {
        let Shares { listed, links, .. } = self;
        listed.sort_unstable_by(|a, b| {
            a.receiver.cmp(&b.receiver).then_with(|| b.sum.total_cmp(&a.sum)).then_with(|| {
                links[a.links..a.links + a.steps].cmp(&links[b.links..b.links + b.steps])
            })
        });
        let mut at = 0;
        for room in 0..self.energies.len() {
            let count = self.listed[at..].iter().take_while(|l| l.receiver == room).count();
            let range = at..at + count.min(MOST_WAYS);
            at += count;
            let x = &self.energies[room];
            let mut rest = x.map(|v| if v > 0.0 && room != source { 1.0 } else { 0.0 });
            for way in &self.listed[range.clone()] {
                let share = &self.shares[way.share];
                for b in 0..BANDS {
                    rest[b] -= share[b];
                }
            }
            self.receivers.push((range, rest.map(|s| s.max(0.0))));
        }
    }
}

/// Neighbours of each room with the parallel links to them.
pub(crate) struct Hops {
    /// At the start, where the source may shake the structure.
    first: Vec<Vec<Hop>>,
    /// Later on.
    later: Vec<Vec<Hop>>,
    /// Per outdoors, what arrives there of a unit brought into each room: a column of the inverse
    /// like those of rooms.
    outlets: Vec<Option<Vec<PerBand>>>,
}

/// All parallel links from a room to one neighbour.
#[derive(Clone)]
struct Hop {
    from: usize,
    to: usize,
    /// Links, the greatest first by their greatest share of `most` over the bands.
    links: Vec<(f64, usize)>,
    /// Greatest gain of a single link per band.
    most: PerBand,
}

/// What a link adds to the receiver it leads to: its coupling, outdoors over its spread, from
/// outdoors by the shape of the façade.
fn gain(model: &Model, link: usize, from: usize, to: usize) -> PerBand {
    let link = &model.links[link];
    match (model.outdoors[to], &link.spread) {
        (false, Some(spread)) if model.outdoors[from] => link.coupling.map(|g| g * spread.inward),
        (false, _) => link.coupling,
        (true, Some(spread)) => std::array::from_fn(|b| link.coupling[b] / spread.area[b]),
        (true, None) => [0.0; BANDS],
    }
}

impl Hops {
    pub fn new(model: &Model, whole: &Inverse) -> Hops {
        let n = model.rooms;
        let mut out =
            Hops { first: vec![Vec::new(); n], later: vec![Vec::new(); n], outlets: vec![None; n] };
        for (index, link) in model.links.iter().enumerate() {
            let [i, j] = link.rooms.map(|r| r.0);
            if i == j {
                continue;
            }
            let shakes = link.kind == LinkKind::StructureBorne;
            for (from, to) in std::iter::once((i, j)).chain((!shakes).then_some((j, i))) {
                for list in [&mut out.first[from], &mut out.later[from]]
                    .into_iter()
                    .take(2 - usize::from(shakes))
                {
                    match list.iter_mut().find(|h| h.to == to) {
                        Some(hop) => hop.links.push((0.0, index)),
                        None => {
                            list.push(Hop {
                                from,
                                to,
                                links: vec![(0.0, index)],
                                most: [0.0; BANDS],
                            });
                        }
                    }
                }
            }
        }
        for from in 0..n {
            for hop in &mut out.later[from] {
                hop.order(model);
            }
            for hop in &mut out.first[from] {
                match out.later[from].iter().find(|l| l.to == hop.to) {
                    Some(same) if same.links.len() == hop.links.len() => *hop = same.clone(),
                    _ => hop.order(model),
                }
            }
        }
        for to in (0..n).filter(|&r| model.outdoors[r]) {
            let mut column = vec![[0.0; BANDS]; n];
            for (index, link) in model.links.iter().enumerate() {
                let Some(v) = crate::balance::indoor_end(link, to) else { continue };
                if link.kind == LinkKind::StructureBorne || model.outdoors[v] {
                    continue;
                }
                let gain = gain(model, index, v, to);
                for (a, slot) in column.iter_mut().enumerate() {
                    let k = whole.at(a, v);
                    for b in 0..BANDS {
                        slot[b] += k[b] * gain[b];
                    }
                }
            }
            out.outlets[to] = Some(column);
        }
        out
    }
}

impl Hop {
    fn order(&mut self, model: &Model) {
        self.most = [0.0; BANDS];
        for (_, link) in &self.links {
            let gain = gain(model, *link, self.from, self.to);
            for b in 0..BANDS {
                self.most[b] = self.most[b].max(gain[b]);
            }
        }
        let per_most = self.most.map(|m| if m > 0.0 { 1.0 / m } else { 0.0 });
        for (top, link) in &mut self.links {
            let gain = gain(model, *link, self.from, self.to);
            for b in 0..BANDS {
                *top = top.max(gain[b] * per_most[b]);
            }
            // One over and back may round below one.
            *top *= 1.0 + 1e-12;
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
    /// What was found.
    out: Shares,
    /// Rooms of the sequence so far.
    rooms: Vec<usize>,
    /// Their rows.
    rows: Vec<Row>,
    /// Rows to be used again.
    spare: Vec<Vec<PerBand>>,
    /// Hops of the sequence so far.
    path: Vec<&'a Hop>,
    /// Links chosen for the first of them.
    chosen: Vec<usize>,
    /// Receivers still worth going on for, one stretch per room of the sequence.
    alive: Vec<usize>,
    steps: usize,
}

impl<'a> Walk<'a> {
    /// Walks from a source; false where it took too many steps.
    fn all_from(&mut self, source: usize, least: f64) -> bool {
        self.least = least;
        self.steps = MOST_STEPS;
        self.out.least = least;
        self.out.too_deep = false;
        self.out.listed.clear();
        self.out.shares.clear();
        self.out.links.clear();
        self.out.rooms.clear();
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
        let mut out = match &self.hops.outlets[c] {
            Some(column) if a != c => column[a],
            _ => *self.whole.at(a, c),
        };
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
                let onward = self.entry(next, r);
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
                    self.out.too_deep = true;
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
        let (rooms, before) = (self.out.rooms.len(), self.out.listed.len());
        self.choose(0, &whole, best, rooms);
        if self.out.listed.len() > before {
            let through = self.rooms.iter().chain(std::iter::once(&receiver));
            self.out.rooms.extend(through.map(|&r| RoomIndex(r)));
        }
        self.path.pop();
    }

    /// Takes one link for each hop from `at` on; `best` bounds the share of what follows, `rooms`
    /// is where the rooms of the sequence will stand.
    fn choose(&mut self, at: usize, share: &PerBand, best: f64, rooms: usize) {
        let hop = self.path[at];
        for (top, link) in &hop.links {
            let best = best * top;
            // Greatest first: all others are smaller.
            if best < self.least {
                break;
            }
            let gain = gain(self.model, *link, hop.from, hop.to);
            let share: PerBand = std::array::from_fn(|b| share[b] * gain[b]);
            self.chosen.push(*link);
            if at + 1 < self.path.len() {
                self.choose(at + 1, &share, best, rooms);
            } else if share.iter().any(|s| *s >= self.least) {
                self.out.listed.push(Listed {
                    receiver: hop.to,
                    sum: share.iter().sum(),
                    share: self.out.shares.len(),
                    links: self.out.links.len(),
                    rooms,
                    steps: self.chosen.len(),
                });
                self.out.shares.push(share);
                self.out.links.extend_from_slice(&self.chosen);
            }
            self.chosen.pop();
        }
    }
}

/// Transfers from a source to every room, itself at one.
pub(crate) fn energies(model: &Model, whole: &Inverse, source: usize) -> Vec<PerBand> {
    let shakes = |l: &crate::Link| l.kind == LinkKind::StructureBorne && l.rooms[0].0 == source;
    if model.outdoors[source] || model.links.iter().any(shakes) {
        let network = Network::from_inverse(model, whole, RoomIndex(source));
        return (0..model.rooms).map(|r| network.transfer(RoomIndex(r))).collect();
    }
    // x_r = K_sr/K_ss of the whole inverse.
    let per_own = whole.at(source, source).map(|k| if k > 0.0 { 1.0 / k } else { 0.0 });
    let mut out: Vec<PerBand> = (0..model.rooms)
        .map(|r| {
            let there = whole.at(source, r);
            std::array::from_fn(|b| there[b] * per_own[b])
        })
        .collect();
    out[source] = [1.0; BANDS];
    for room in (0..model.rooms).filter(|&r| model.outdoors[r]) {
        out[room] = [0.0; BANDS];
    }
    for (index, link) in model.links.iter().enumerate() {
        let [i, j] = link.rooms.map(|r| r.0);
        let (indoor, outdoor) = match (model.outdoors[i], model.outdoors[j]) {
            (false, true) => (i, j),
            (true, false) => (j, i),
            _ => continue,
        };
        if link.spread.is_none() {
            continue;
        }
        let gain = gain(model, index, indoor, outdoor);
        let level = out[indoor];
        for b in 0..BANDS {
            out[outdoor][b] += level[b] * gain[b];
        }
    }
    out
}
