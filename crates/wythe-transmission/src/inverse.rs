//! The inverse of the power balance, all bands side by side.

use nalgebra::DMatrix;

use crate::{BANDS, LinkKind, Model, PerBand};

/// Up to this many rooms all bands are eliminated together, which the processor does in lanes;
/// beyond it the numbers of all bands leave its fast memory and one band after the other is
/// faster: at 12 rooms 42 against 121 µs, at 200 rooms 165 against 80 ms.
const IN_LANES: usize = 48;

/// Symmetric matrix per band.
#[derive(Clone, Debug)]
pub(crate) struct Inverse {
    n: usize,
    values: Vec<PerBand>,
}

impl Inverse {
    /// Inverse of the balance of all rooms, outdoors apart, with the couplings of `model` between
    /// rooms and the losses of `losses` on the diagonal. Every outdoors stands apart with a one.
    pub fn of(model: &Model, losses: &Model) -> Inverse {
        let n = model.rooms;
        let mut m = Inverse { n, values: vec![[0.0; BANDS]; n * n] };
        if n > IN_LANES {
            by_band(model, losses, |b, k| {
                for (slot, v) in m.values.iter_mut().zip(k.iter()) {
                    slot[b] = *v;
                }
            });
            return m;
        }
        for i in 0..n {
            m.values[i * n + i] =
                if model.outdoors[i] { [1.0; BANDS] } else { losses.absorption[i] };
        }
        for (link, loss) in model.links.iter().zip(&losses.links) {
            let [i, j] = link.rooms.map(|r| r.0);
            if link.kind == LinkKind::StructureBorne || i == j {
                continue;
            }
            for room in [i, j] {
                if !model.outdoors[room] {
                    add(&mut m.values[room * n + room], &loss.coupling, 1.0);
                }
            }
            if !model.outdoors[i] && !model.outdoors[j] {
                add(&mut m.values[i * n + j], &link.coupling, -1.0);
                add(&mut m.values[j * n + i], &link.coupling, -1.0);
            }
        }
        m.invert_in_lanes();
        m
    }

    pub fn at(&self, i: usize, j: usize) -> &PerBand {
        &self.values[i * self.n + j]
    }

    /// Without row and column `out`, from the inverse with them; what is left out is zero.
    ///
    ///   K′ = K − k kᵀ/K_oo
    pub fn without(&self, out: usize) -> Inverse {
        let n = self.n;
        let mut next = self.clone();
        let pivot = *self.at(out, out);
        for i in 0..n {
            let factor: PerBand = std::array::from_fn(|b| {
                if pivot[b] > 0.0 { self.at(i, out)[b] / pivot[b] } else { 0.0 }
            });
            let row = &self.values[out * n..(out + 1) * n];
            for (slot, k) in next.values[i * n..(i + 1) * n].iter_mut().zip(row) {
                for b in 0..BANDS {
                    // Of an M-matrix no entry is negative; rounding may say otherwise.
                    slot[b] = (slot[b] - factor[b] * k[b]).max(0.0);
                }
            }
        }
        for i in 0..n {
            next.values[i * n + out] = [0.0; BANDS];
            next.values[out * n + i] = [0.0; BANDS];
        }
        next
    }

    /// Gauss-Jordan without pivoting, which a diagonally dominant matrix does not need.
    fn invert_in_lanes(&mut self) {
        let n = self.n;
        for k in 0..n {
            let pivot: PerBand =
                self.values[k * n + k].map(|p| if p > 0.0 { 1.0 / p } else { 0.0 });
            let mut row: Vec<PerBand> = self.values[k * n..(k + 1) * n].to_vec();
            for slot in &mut row {
                scale(slot, &pivot);
            }
            row[k] = pivot;
            for i in 0..n {
                if i == k {
                    continue;
                }
                let factor = self.values[i * n + k];
                if factor == [0.0; BANDS] {
                    continue;
                }
                let own = &mut self.values[i * n..(i + 1) * n];
                own[k] = [0.0; BANDS];
                for (slot, r) in own.iter_mut().zip(&row) {
                    for b in 0..BANDS {
                        slot[b] -= factor[b] * r[b];
                    }
                }
            }
            self.values[k * n..(k + 1) * n].copy_from_slice(&row);
        }
    }
}

/// Whether a model is so large that [`by_band`] is the faster way.
pub(crate) fn is_large(model: &Model) -> bool {
    model.rooms > IN_LANES
}

/// The same inverse band by band; a symmetric matrix each.
pub(crate) fn by_band(model: &Model, losses: &Model, mut visit: impl FnMut(usize, &DMatrix<f64>)) {
    let n = model.rooms;
    let mut m = DMatrix::<f64>::zeros(n, n);
    let mut column = vec![0.0; n];
    for b in 0..BANDS {
        m.fill(0.0);
        for i in 0..n {
            m[(i, i)] = if model.outdoors[i] { 1.0 } else { losses.absorption[i][b] };
        }
        for (link, loss) in model.links.iter().zip(&losses.links) {
            let [i, j] = link.rooms.map(|r| r.0);
            if link.kind == LinkKind::StructureBorne || i == j {
                continue;
            }
            for room in [i, j] {
                if !model.outdoors[room] {
                    m[(room, room)] += loss.coupling[b];
                }
            }
            if !model.outdoors[i] && !model.outdoors[j] {
                m[(i, j)] -= link.coupling[b];
                m[(j, i)] -= link.coupling[b];
            }
        }
        invert(&mut m, &mut column);
        visit(b, &m);
    }
}

/// Inverse of a symmetric positive definite matrix in place, by sweeping its lower triangle:
/// n³/2 steps, all along columns.
fn invert(m: &mut DMatrix<f64>, column: &mut [f64]) {
    let n = m.nrows();
    let values = m.as_mut_slice();
    for k in 0..n {
        // Column k of the whole matrix, from the triangle that is kept: (row, col) at col·n + row.
        for (j, slot) in column.iter_mut().enumerate() {
            *slot = if j < k { values[j * n + k] } else { values[k * n + j] };
        }
        let pivot = column[k];
        let inverse = if pivot > 0.0 { 1.0 / pivot } else { 0.0 };
        for j in 0..n {
            let factor = column[j] * inverse;
            if factor == 0.0 {
                continue;
            }
            for (slot, c) in values[j * n + j..(j + 1) * n].iter_mut().zip(&column[j..]) {
                *slot -= factor * c;
            }
        }
        for (j, c) in column.iter().enumerate() {
            let at = if j < k { j * n + k } else { k * n + j };
            values[at] = c * inverse;
        }
        values[k * n + k] = -inverse;
    }
    for j in 0..n {
        for i in j..n {
            let v = -values[j * n + i];
            values[j * n + i] = v;
            values[i * n + j] = v;
        }
    }
}

fn add(to: &mut PerBand, what: &PerBand, sign: f64) {
    for (slot, v) in to.iter_mut().zip(what) {
        *slot += sign * v;
    }
}

fn scale(to: &mut PerBand, by: &PerBand) {
    for (slot, v) in to.iter_mut().zip(by) {
        *slot *= v;
    }
}
