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
    /// Share of each of them; links and rooms of all ways one after the other.
    shares: Vec<PerBand>,
    links: Vec<usize>,
    rooms: Vec<RoomIndex>,
    least: f64,
    too_deep: bool,
}

/// A way by its places in [`Shares`].
#[derive(Clone, Copy, Debug, PartialEq)]
struct Listed {
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
        self.listed[range.clone()].iter().zip(&self.shares[range]).map(|(l, share)| {
            (
                &self.links[l.links..l.links + l.steps],
                &self.rooms[l.rooms..=l.rooms + l.steps],
                share,
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

/// Neighbours of each room with the parallel links to them.
pub(crate) struct Hops {
    /// At the start, where the source may shake the structure.
    first: Vec<Option<Vec<Hop>>>,
    /// Later on, and at the start where nothing is shaken.
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
    /// Gain of each link in the same order where one end is outdoors; elsewhere a gain is the
    /// link's coupling itself.
    gains: Vec<PerBand>,
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
            Hops { first: vec![None; n], later: vec![Vec::new(); n], outlets: vec![None; n] };
        let mut shaken: Vec<usize> = Vec::new();
        for (index, link) in model.links.iter().enumerate() {
            let [i, j] = link.rooms.map(|r| r.0);
            if i == j {
                continue;
            }
            if link.kind == LinkKind::StructureBorne {
                shaken.push(index);
                continue;
            }
            for (from, to) in [(i, j), (j, i)] {
                Hop::to(&mut out.later[from], from, to).push((0.0, index));
            }
        }
        for from in 0..n {
            let (before, own) = out.later.split_at_mut(from);
            let Some(own) = own.first_mut() else { continue };
            for hop in own {
                // Between rooms both ways are the same.
                let back = (hop.to < from && !model.outdoors[from] && !model.outdoors[hop.to])
                    .then(|| before[hop.to].iter().find(|h| h.to == from))
                    .flatten();
                match back {
                    Some(back) => {
                        hop.links.clone_from(&back.links);
                        hop.most = back.most;
                    }
                    None => hop.order(model),
                }
            }
        }
        for index in shaken {
            let [from, to] = model.links[index].rooms.map(|r| r.0);
            let first = out.first[from].get_or_insert_with(|| out.later[from].clone());
            Hop::to(first, from, to).push((0.0, index));
        }
        for hop in out.first.iter_mut().flatten().flatten() {
            hop.order(model);
        }
        for to in (0..n).filter(|&r| model.outdoors[r]) {
            let mut column = vec![[0.0; BANDS]; n];
            for v in (0..n).filter(|&v| !model.outdoors[v]) {
                let Some(hop) = out.later[v].iter().find(|h| h.to == to) else { continue };
                let mut all = [0.0; BANDS];
                for gain in &hop.gains {
                    for b in 0..BANDS {
                        all[b] += gain[b];
                    }
                }
                for (a, slot) in column.iter_mut().enumerate() {
                    let k = whole.at(a, v);
                    for b in 0..BANDS {
                        slot[b] += k[b] * all[b];
                    }
                }
            }
            out.outlets[to] = Some(column);
        }
        out
    }

    /// Neighbours of a room; `start` where the source stands in it.
    fn of(&self, room: usize, start: bool) -> &[Hop] {
        match &self.first[room] {
            Some(first) if start => first,
            _ => &self.later[room],
        }
    }
}

impl Hop {
    /// Links of the hop to a neighbour in a list, which is made where there is none.
    fn to(list: &mut Vec<Hop>, from: usize, to: usize) -> &mut Vec<(f64, usize)> {
        let at = list.iter().position(|h| h.to == to).unwrap_or_else(|| {
            list.push(Hop { from, to, links: Vec::new(), gains: Vec::new(), most: [0.0; BANDS] });
            list.len() - 1
        });
        &mut list[at].links
    }

    /// Puts the links in order.
    fn order(&mut self, model: &Model) {
        let plain = !model.outdoors[self.from] && !model.outdoors[self.to];
        let (from, to) = (self.from, self.to);
        let gain_of = |link: usize| gain(model, link, from, to);
        self.most = [0.0; BANDS];
        for (_, link) in &self.links {
            let made;
            let gain = if plain {
                &model.links[*link].coupling
            } else {
                made = gain_of(*link);
                &made
            };
            for b in 0..BANDS {
                self.most[b] = self.most[b].max(gain[b]);
            }
        }
        let per_most = self.most.map(|m| if m > 0.0 { 1.0 / m } else { 0.0 });
        for (top, link) in &mut self.links {
            let made;
            let gain = if plain {
                &model.links[*link].coupling
            } else {
                made = gain_of(*link);
                &made
            };
            // One over and back may round below one.
            *top = greatest(gain, &per_most) * (1.0 + 1e-12);
        }
        self.links.sort_by(|a, b| b.0.total_cmp(&a.0));
        self.gains.clear();
        if !plain {
            self.gains.extend(self.links.iter().map(|(_, link)| gain_of(*link)));
        }
    }

    /// Gain of the link at a place of `links`.
    fn gain<'a>(&'a self, model: &'a Model, at: usize) -> &'a PerBand {
        self.gains.get(at).unwrap_or_else(|| &model.links[self.links[at].1].coupling)
    }
}

/// Greatest product over the bands. Four at a time, so that the processor need not wait for one
/// comparison before the next.
fn greatest(a: &PerBand, b: &PerBand) -> f64 {
    let mut most = [0.0f64; LANES];
    for (a, b) in a.chunks_exact(LANES).zip(b.chunks_exact(LANES)) {
        for i in 0..LANES {
            let v = a[i] * b[i];
            most[i] = if v > most[i] { v } else { most[i] };
        }
    }
    most.into_iter().fold(0.0, f64::max)
}

const LANES: usize = 4;
const _: () = assert!(BANDS.is_multiple_of(LANES));

/// A room left behind: its row of the inverse without those before it, and one over its pivot.
struct Row {
    values: Vec<PerBand>,
    per_pivot: PerBand,
}

/// A way that was found.
#[derive(Clone, Copy)]
struct Found {
    /// Band shares added.
    sum: f64,
    /// Its place in [`Walk::shares`].
    share: usize,
    /// Where its links and rooms begin.
    links: usize,
    rooms: usize,
    steps: usize,
}

/// The greatest ways to one room.
#[derive(Clone, Default)]
struct Greatest {
    ways: Vec<Found>,
    /// A way with less than this is not among them.
    floor: f64,
}

/// The walk over rooms from one source after the other.
pub(crate) struct Walk<'a> {
    model: &'a Model,
    whole: &'a Inverse,
    hops: &'a Hops,
    /// One over each receiver's energy, zero where nothing arrives.
    per_total: Vec<PerBand>,
    least: f64,
    too_deep: bool,
    /// What was found, by receiver; never more than twice as many ways as are listed.
    found: Vec<Greatest>,
    /// How many ways were ever taken into `found`.
    taken: usize,
    /// Shares of what was found, and places that are free again.
    shares: Vec<PerBand>,
    free: Vec<usize>,
    found_links: Vec<usize>,
    found_rooms: Vec<RoomIndex>,
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
    /// Over a model whose balance has the inverse `whole`.
    pub fn new(model: &'a Model, whole: &'a Inverse, hops: &'a Hops) -> Walk<'a> {
        Walk {
            model,
            whole,
            hops,
            per_total: Vec::new(),
            least: LEAST_SHARE,
            too_deep: false,
            found: vec![Greatest::default(); model.rooms],
            taken: 0,
            shares: Vec::new(),
            free: Vec::new(),
            found_links: Vec::new(),
            found_rooms: Vec::new(),
            rooms: Vec::new(),
            rows: Vec::new(),
            spare: Vec::new(),
            path: Vec::new(),
            chosen: Vec::new(),
            alive: Vec::new(),
            steps: MOST_STEPS,
        }
    }

    /// All ways from a source to every room in which something arrives.
    pub fn shares(&mut self, source: usize, energies: Vec<PerBand>) -> Shares {
        self.per_total.clear();
        let per_total = |x: &PerBand| x.map(|v| if v > 0.0 { 1.0 / v } else { 0.0 });
        self.per_total.extend(energies.iter().map(per_total));
        for least in std::iter::once(LEAST_SHARE).chain(COARSER) {
            if self.all_from(source, least) {
                break;
            }
        }
        self.listed(source, energies)
    }

    /// What was found, in order, and what is left for the rest.
    fn listed(&mut self, source: usize, energies: Vec<PerBand>) -> Shares {
        let count = |g: &Greatest| g.ways.len().min(MOST_WAYS);
        let ways: usize = self.found.iter().map(count).sum();
        let mut out = Shares {
            receivers: Vec::with_capacity(energies.len()),
            energies,
            listed: Vec::with_capacity(ways),
            shares: Vec::with_capacity(ways),
            least: self.least,
            too_deep: self.too_deep,
            ..Shares::default()
        };
        for (room, own) in self.found.iter_mut().enumerate() {
            let from = out.listed.len();
            let x = &out.energies[room];
            let mut rest = x.map(|v| if v > 0.0 && room != source { 1.0 } else { 0.0 });
            own.cut(&self.found_links, &mut self.free);
            own.ways.sort_unstable_by(|a, b| Found::order(a, b, &self.found_links));
            for way in &own.ways {
                let share = &self.shares[way.share];
                for b in 0..BANDS {
                    rest[b] -= share[b];
                }
                out.listed.push(Listed {
                    links: out.links.len(),
                    rooms: out.rooms.len(),
                    steps: way.steps,
                });
                out.shares.push(*share);
                out.links.extend_from_slice(&self.found_links[way.links..way.links + way.steps]);
                out.rooms.extend_from_slice(&self.found_rooms[way.rooms..=way.rooms + way.steps]);
            }
            out.receivers.push((from..out.listed.len(), rest.map(|s| s.max(0.0))));
        }
        out
    }

    /// Walks from a source; false where it took too many steps.
    fn all_from(&mut self, source: usize, least: f64) -> bool {
        self.least = least;
        self.steps = MOST_STEPS;
        self.too_deep = false;
        for own in &mut self.found {
            own.ways.clear();
            own.floor = 0.0;
        }
        self.taken = 0;
        self.shares.clear();
        self.free.clear();
        self.found_links.clear();
        self.found_rooms.clear();
        self.rooms.clear();
        self.path.clear();
        self.chosen.clear();
        while let Some(row) = self.rows.pop() {
            self.spare.push(row.values);
        }
        self.alive.clear();
        for r in (0..self.model.rooms).filter(|r| *r != source) {
            if self.per_total[r].iter().any(|v| *v > 0.0) {
                self.alive.push(r);
            }
        }
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
        let hops: &'a [Hop] = self.hops.of(here, self.rooms.len() == 1);
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
            // Rooms left behind only lower an entry of the inverse, so where the whole one is not
            // enough none is made.
            let mut own = outdoors.then_some([1.0; BANDS]);
            if self.alive[alive_from..alive_to].contains(&next) {
                let bound: PerBand = std::array::from_fn(|b| reached[b] * self.per_total[next][b]);
                let worth = match &own {
                    Some(own) => greatest(&bound, own),
                    None => greatest(&bound, self.whole.at(next, next)),
                };
                if worth >= self.least {
                    let own = *own.get_or_insert_with(|| self.entry(next, next));
                    let best = greatest(&bound, &own);
                    if best >= self.least {
                        self.arrive(hop, &own, standing, best);
                    }
                }
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
                let bound: PerBand = std::array::from_fn(|b| reached[b] * self.per_total[r][b]);
                let onward = match &self.hops.outlets[r] {
                    Some(column) => &column[next],
                    None => self.whole.at(next, r),
                };
                if greatest(&bound, onward) < self.least {
                    continue;
                }
                let onward = self.entry(next, r);
                if greatest(&bound, &onward) >= self.least {
                    self.alive.push(r);
                }
            }
            if self.alive.len() > alive_to {
                if self.rooms.len() + 1 >= MOST_ROOMS {
                    self.too_deep = true;
                } else {
                    let own = *own.get_or_insert_with(|| self.entry(next, next));
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

    /// The sequence has arrived over one last hop with at most the share `best`: every choice of
    /// links worth listing.
    fn arrive(&mut self, last: &'a Hop, own: &PerBand, standing: &PerBand, best: f64) {
        let receiver = last.to;
        let total = &self.per_total[receiver];
        let whole: PerBand = std::array::from_fn(|b| standing[b] * own[b] * total[b]);
        self.path.push(last);
        let (rooms, before) = (self.found_rooms.len(), self.taken);
        self.choose(0, &whole, best, rooms);
        if self.taken > before {
            let through = self.rooms.iter().chain(std::iter::once(&receiver));
            self.found_rooms.extend(through.map(|&r| RoomIndex(r)));
        }
        self.path.pop();
    }

    /// Takes one link for each hop from `at` on; `best` bounds the share of what follows, `rooms`
    /// is where the rooms of the sequence will stand.
    fn choose(&mut self, at: usize, share: &PerBand, best: f64, rooms: usize) {
        let hop = self.path[at];
        let last = at + 1 == self.path.len();
        for (place, (top, link)) in hop.links.iter().enumerate() {
            let best = best * top;
            // Greatest first: all others are smaller.
            if best < self.least {
                break;
            }
            let gain = hop.gain(self.model, place);
            if !last {
                let share: PerBand = std::array::from_fn(|b| share[b] * gain[b]);
                self.chosen.push(*link);
                self.choose(at + 1, &share, best, rooms);
                self.chosen.pop();
                continue;
            }
            let (share, most, sum) = product(share, gain);
            let own = &mut self.found[hop.to];
            if most < self.least || sum < own.floor {
                continue;
            }
            let way = Found {
                sum,
                share: self.free.pop().unwrap_or(self.shares.len()),
                links: self.found_links.len(),
                rooms,
                steps: self.chosen.len() + 1,
            };
            match self.shares.get_mut(way.share) {
                Some(slot) => *slot = share,
                None => self.shares.push(share),
            }
            self.found_links.extend_from_slice(&self.chosen);
            self.found_links.push(*link);
            own.ways.push(way);
            self.taken += 1;
            if own.ways.len() >= 2 * MOST_WAYS {
                own.cut(&self.found_links, &mut self.free);
            }
        }
    }
}

impl Found {
    /// Most energy first; of equal ones the lower links.
    fn order(a: &Found, b: &Found, links: &[usize]) -> std::cmp::Ordering {
        b.sum
            .total_cmp(&a.sum)
            .then_with(|| links[a.links..a.links + a.steps].cmp(&links[b.links..b.links + b.steps]))
    }
}

impl Greatest {
    /// Leaves no more ways than are listed and frees the places of the others.
    fn cut(&mut self, links: &[usize], free: &mut Vec<usize>) {
        if self.ways.len() <= MOST_WAYS {
            return;
        }
        self.ways.select_nth_unstable_by(MOST_WAYS, |a, b| Found::order(a, b, links));
        free.extend(self.ways[MOST_WAYS..].iter().map(|w| w.share));
        self.ways.truncate(MOST_WAYS);
        self.floor = self.ways.iter().map(|w| w.sum).fold(f64::INFINITY, f64::min);
    }
}

/// Product per band, its greatest and its sum.
fn product(a: &PerBand, b: &PerBand) -> (PerBand, f64, f64) {
    let out: PerBand = std::array::from_fn(|i| a[i] * b[i]);
    let (mut most, mut sum) = ([0.0f64; LANES], [0.0f64; LANES]);
    for v in out.chunks_exact(LANES) {
        for i in 0..LANES {
            most[i] = if v[i] > most[i] { v[i] } else { most[i] };
            sum[i] += v[i];
        }
    }
    (out, most.into_iter().fold(0.0, f64::max), sum.into_iter().sum())
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
