//! The filter in front of every halving of the sample rate.

/// Taps of the half-band filter. Nineteen keep every folded image 70 dB and more below its band
/// down to 44.1 kHz; fifteen fail there by 3 dB in the 20 Hz band (nine halvings).
pub const TAPS: usize = 19;
/// Delay of the filter, samples of the higher rate.
pub const DELAY: i64 = (TAPS as i64 - 1) / 2;
pub(crate) const PAIRS: usize = 5;

/// Half-band filter, h₀ = 1/2 in the middle and five pairs at the odd distances 1, 3, 5, 7, 9.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HalfBand(pub [f64; PAIRS]);

impl HalfBand {
    /// Equal-ripple design that passes 0 to `edge` (as a share of the higher rate, below 1/4) and
    /// stops everything from 1/2 − `edge` up.
    ///
    /// Remez exchange on 2 Σ h_k cos((2k−1)ω) ≈ 1/2: a half-band's stop band mirrors its pass band,
    /// so only the pass band has to be fitted. Derived here.
    pub fn design(edge: f64) -> HalfBand {
        let edge = edge.clamp(0.01, 0.24);
        const GRID: usize = 600;
        let angle = |i: usize| std::f64::consts::TAU * edge * i as f64 / (GRID - 1) as f64;
        // Six extremes for five unknowns and the ripple.
        let mut extremes: [usize; PAIRS + 1] = std::array::from_fn(|k| {
            let t = (std::f64::consts::PI * k as f64 / PAIRS as f64).cos();
            ((1.0 - t) / 2.0 * (GRID - 1) as f64).round() as usize
        });
        let mut h = [0.0; PAIRS];
        for _ in 0..20 {
            let mut rows = [[0.0; PAIRS + 2]; PAIRS + 1];
            for (k, row) in rows.iter_mut().enumerate() {
                let w = angle(extremes[k]);
                for (j, cell) in row.iter_mut().take(PAIRS).enumerate() {
                    *cell = 2.0 * ((2 * j + 1) as f64 * w).cos();
                }
                row[PAIRS] = if k % 2 == 0 { 1.0 } else { -1.0 };
                row[PAIRS + 1] = 0.5;
            }
            let Some(solution) = solve(rows) else { break };
            h.copy_from_slice(&solution[..PAIRS]);
            let error = |i: usize| {
                let w = angle(i);
                0.5 - h
                    .iter()
                    .enumerate()
                    .map(|(j, hj)| 2.0 * hj * ((2 * j + 1) as f64 * w).cos())
                    .sum::<f64>()
            };
            let errors: Vec<f64> = (0..GRID).map(error).collect();
            // Largest error of each sign run.
            let mut found: Vec<usize> = Vec::new();
            for i in 0..GRID {
                match found.last_mut() {
                    Some(last) if (errors[*last] > 0.0) == (errors[i] > 0.0) => {
                        if errors[i].abs() > errors[*last].abs() {
                            *last = i;
                        }
                    }
                    _ => found.push(i),
                }
            }
            if found.len() < PAIRS + 1 {
                break;
            }
            let next: [usize; PAIRS + 1] = std::array::from_fn(|k| found[k]);
            if next == extremes {
                break;
            }
            extremes = next;
        }
        HalfBand(h)
    }

    /// Gain at a share of the higher rate, 0 to 1/2. Real, because the filter is symmetric; the
    /// delay of [`DELAY`] samples is left out.
    pub fn gain(&self, share: f64) -> f64 {
        let w = std::f64::consts::TAU * share;
        0.5 + self
            .0
            .iter()
            .enumerate()
            .map(|(j, h)| 2.0 * h * ((2 * j + 1) as f64 * w).cos())
            .sum::<f64>()
    }
}

/// Gauss elimination with pivoting of a small system with its right side in the last column.
pub(crate) fn solve<const N: usize, const M: usize>(mut rows: [[f64; M]; N]) -> Option<[f64; N]> {
    debug_assert!(M == N + 1);
    for k in 0..N {
        let pivot = (k..N).max_by(|a, b| rows[*a][k].abs().total_cmp(&rows[*b][k].abs()))?;
        rows.swap(k, pivot);
        let head = rows[k][k];
        if !(head.abs() > 1e-300) {
            return None;
        }
        for i in k + 1..N {
            let factor = rows[i][k] / head;
            for j in k..M {
                rows[i][j] -= factor * rows[k][j];
            }
        }
    }
    let mut x = [0.0; N];
    for k in (0..N).rev() {
        let known: f64 = (k + 1..N).map(|j| rows[k][j] * x[j]).sum();
        x[k] = (rows[k][M - 1] - known) / rows[k][k];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}

/// Halves the rate of `C` channels, block by block.
#[derive(Clone, Debug)]
pub(crate) struct Halver<const C: usize> {
    h: [f64; PAIRS],
    /// Samples of even and odd index, the last nine carried over.
    even: Vec<[f64; C]>,
    odd: Vec<[f64; C]>,
    /// The block before ended on an even index.
    next_is_odd: bool,
}

/// Even samples kept from the block before; the odd ones keep as many so both stay in step.
pub(crate) const KEEP: usize = 9;

impl<const C: usize> Halver<C> {
    pub(crate) fn new(filter: HalfBand) -> Self {
        Halver {
            h: filter.0,
            even: vec![[0.0; C]; KEEP],
            odd: vec![[0.0; C]; KEEP],
            next_is_odd: false,
        }
    }

    /// Output j belongs to input index 2j − 9.
    pub(crate) fn run(&mut self, input: &[[f64; C]], output: &mut Vec<[f64; C]>) {
        let mut rest = input;
        if self.next_is_odd
            && let Some((first, tail)) = rest.split_first()
        {
            self.odd.push(*first);
            rest = tail;
            self.next_is_odd = false;
        }
        let (pairs, last) = rest.as_chunks::<2>();
        crate::lanes::part(pairs, &mut self.even, &mut self.odd);
        if let [last] = last {
            self.even.push(*last);
            self.next_is_odd = true;
        }
        // out[j] = ½ odd[j−5] + Σ h_i (even[j−5−i] + even[j−4+i]); index j sits at j + KEEP here.
        let new = self.even.len() - KEEP;
        output.clear();
        output.resize(new, [0.0; C]);
        crate::lanes::halve(&self.h, &self.even, &self.odd, output);
        self.even.drain(..new);
        // Both lists start at the same index; after an even last sample the odd one is shorter.
        self.odd.drain(..new);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nineteen_taps_stop_95_decibels_at_48_khz_and_ripple_evenly() {
        let filter = HalfBand::design(0.117);
        let worst = (0..500)
            .map(|i| filter.gain(0.383 + 0.117 * f64::from(i) / 499.0).abs())
            .fold(0.0, f64::max);
        let stop = -20.0 * worst.log10();
        // Reference figure for these edges: 95 dB.
        assert!((94.0..98.0).contains(&stop), "{stop}");
        // Complementary: gain(f) + gain(½ − f) = 1.
        for f in [0.01, 0.1, 0.2, 0.24] {
            assert!((filter.gain(f) + filter.gain(0.5 - f) - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn blocks_of_any_size_give_the_same_samples() {
        let x: Vec<[f64; 1]> =
            crate::test_signal::white(5, 1.0, 1001).into_iter().map(|v| [v]).collect();
        let filter = HalfBand::design(0.12);
        let mut whole = Vec::new();
        Halver::<1>::new(filter).run(&x, &mut whole);
        let mut halver = Halver::<1>::new(filter);
        let (mut pieces, mut out) = (Vec::new(), Vec::new());
        let mut at = 0;
        for size in [1usize, 2, 3, 1, 1, 7, 64, 101, 500, 400] {
            let end = (at + size).min(x.len());
            halver.run(&x[at..end], &mut out);
            pieces.extend_from_slice(&out);
            at = end;
        }
        assert_eq!(at, x.len());
        assert_eq!(whole, pieces);
        // And it is the convolution it should be.
        let mut taps = [0.0; TAPS];
        taps[9] = 0.5;
        for i in 0..PAIRS {
            taps[9 - (2 * i + 1)] = filter.0[i];
            taps[9 + (2 * i + 1)] = filter.0[i];
        }
        for (j, y) in whole.iter().enumerate() {
            let sum: f64 =
                (0..TAPS).filter(|k| 2 * j >= *k).map(|k| taps[k] * x[2 * j - k][0]).sum();
            assert!((sum - y[0]).abs() < 1e-14, "{j}");
        }
    }
}
