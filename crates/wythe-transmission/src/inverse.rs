//! The inverse of the power balance, all bands side by side.

use nalgebra::DMatrix;

use crate::{BANDS, LinkKind, Model, PerBand};

/// Up to this many rooms all bands are eliminated together, which the processor does in lanes;
/// beyond it the numbers of all bands leave its fast memory and one band after the other is
/// faster (tried at 12, 40 and 200 rooms).
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
        if n <= IN_LANES {
            m.invert_in_lanes()
        } else {
            m.invert_by_band()
        }
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

    fn invert_by_band(&mut self) {
        let n = self.n;
        for b in 0..BANDS {
            let m = DMatrix::from_fn(n, n, |i, j| self.values[i * n + j][b]);
            let k = m.cholesky().map_or_else(|| DMatrix::zeros(n, n), |c| c.inverse());
            for i in 0..n {
                for j in 0..n {
                    self.values[i * n + j][b] = k[(i, j)];
                }
            }
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
