//! What a set that is enough costs at least: a knapsack with several limits, bounded by prices on
//! what passes.
//!
//! Not here: buildings. Rows are shares of a limit, columns the open options of elements.

/// What is open and what it uses up, all linear.
///
/// A set is only enough if in every row the uses of its options add up to no more than the room
/// there is.
pub(crate) struct Knapsack {
    /// Room in each row beside what the best of everything uses, as a share of its limit.
    pub room: Vec<f64>,
    /// What each option uses beyond the best of its element, `[element][option][row]`.
    pub uses: Vec<Vec<Vec<f64>>>,
    /// What each option costs, `[element][option]`.
    pub costs: Vec<Vec<f64>>,
}

/// What the best prices found say.
#[derive(Clone)]
pub(crate) struct Bound {
    /// No set of the open options that is enough costs less.
    pub least: f64,
    /// Cost and price of the uses of each open option, in the order of the options open.
    pub values: Vec<Vec<f64>>,
}

impl Knapsack {
    /// Lagrange bound: for prices λ ≥ 0 on the rows,
    ///
    /// ```text
    /// cost ≥ Σ_e min_o (c_eo + Σ_k λ_k u_eok) − Σ_k λ_k room_k
    /// ```
    ///
    /// Any prices give a true bound; steps along the subgradient look for good ones, as long as
    /// `rounds`, and stop once `enough` is reached. Textbook; derived here.
    pub fn bound(
        &self,
        open: &[Vec<usize>],
        prices: &mut Vec<f64>,
        enough: f64,
        rounds: usize,
    ) -> Bound {
        prices.resize(self.room.len(), 0.0);
        let mut now = self.priced(open, prices);
        let mut best_prices = prices.clone();
        let mut best = now.clone();
        let mut pace = 1.0;
        let mut since = 0;
        for _ in 0..rounds {
            if best.least >= enough {
                break;
            }
            let over = self.over(&self.chosen(open, &now.values));
            // A price that is nothing already cannot fall for what is not used.
            let slope: Vec<f64> = over
                .iter()
                .zip(prices.iter())
                .map(|(o, p)| if *p <= 0.0 { o.max(0.0) } else { *o })
                .collect();
            let steep: f64 = slope.iter().map(|s| s * s).sum();
            if steep <= 1e-18 {
                break;
            }
            let aim = if enough.is_finite() { enough } else { 1.2 * best.least.abs() + 1.0 };
            let step = pace * (aim - now.least).max(1e-3 * aim.abs().max(1.0)) / steep;
            for (p, s) in prices.iter_mut().zip(&slope) {
                *p = (*p + step * s).max(0.0);
            }
            now = self.priced(open, prices);
            if now.least > best.least + 1e-9 * best.least.abs() {
                best = now.clone();
                best_prices.clone_from(prices);
                since = 0;
            } else {
                since += 1;
                if since >= 5 {
                    pace *= 0.6;
                    since = 0;
                    prices.clone_from(&best_prices);
                    now = best.clone();
                }
            }
        }
        *prices = best_prices;
        best
    }

    fn priced(&self, open: &[Vec<usize>], prices: &[f64]) -> Bound {
        let values: Vec<Vec<f64>> = open
            .iter()
            .enumerate()
            .map(|(e, options)| {
                options
                    .iter()
                    .map(|&o| {
                        let uses = self.uses[e][o].iter().zip(prices);
                        self.costs[e][o] + uses.map(|(u, p)| u * p).sum::<f64>()
                    })
                    .collect()
            })
            .collect();
        let each: f64 =
            values.iter().map(|v| v.iter().copied().fold(f64::INFINITY, f64::min)).sum();
        let paid: f64 = self.room.iter().zip(prices).map(|(r, p)| r * p).sum();
        Bound { least: each - paid, values }
    }

    /// The best valued option of each element.
    pub fn chosen(&self, open: &[Vec<usize>], values: &[Vec<f64>]) -> Vec<usize> {
        open.iter()
            .zip(values)
            .map(|(options, values)| {
                let least = (0..values.len()).min_by(|&a, &b| values[a].total_cmp(&values[b]));
                least.map_or(0, |i| options[i])
            })
            .collect()
    }

    /// By how much a choice uses more than there is, row by row.
    pub fn over(&self, chosen: &[usize]) -> Vec<f64> {
        let mut over: Vec<f64> = self.room.iter().map(|r| -r).collect();
        for (e, &o) in chosen.iter().enumerate() {
            over.iter_mut().zip(&self.uses[e][o]).for_each(|(sum, u)| *sum += u);
        }
        over
    }

    /// A choice brought within the rows, `spare` of each left free, by the exchanges that free most
    /// per money; `None` where exchanges do not get there.
    pub fn repaired(
        &self,
        open: &[Vec<usize>],
        mut chosen: Vec<usize>,
        spare: f64,
    ) -> Option<Vec<usize>> {
        let most: usize = open.iter().map(Vec::len).sum();
        for _ in 0..=most {
            let over = self.over(&chosen);
            let lacking = |over: &[f64]| -> f64 { over.iter().map(|o| (o + spare).max(0.0)).sum() };
            let now = lacking(&over);
            if now <= 0.0 {
                return Some(chosen);
            }
            let mut best: Option<(f64, usize, usize)> = None;
            for (e, options) in open.iter().enumerate() {
                let had = chosen[e];
                for &o in options.iter().filter(|&&o| o != had) {
                    let then: f64 = over
                        .iter()
                        .zip(self.uses[e][o].iter().zip(&self.uses[e][had]))
                        .map(|(sum, (new, old))| (sum + new - old + spare).max(0.0))
                        .sum();
                    let freed = now - then;
                    if freed <= 1e-12 {
                        continue;
                    }
                    let dearer = (self.costs[e][o] - self.costs[e][had]).max(1e-6);
                    if best.as_ref().is_none_or(|(v, _, _)| freed / dearer > *v) {
                        best = Some((freed / dearer, e, o));
                    }
                }
            }
            let (_, e, o) = best?;
            chosen[e] = o;
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers that look random and are the same everywhere.
    fn scatter(n: u64) -> f64 {
        let mut z = n.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-53)
    }

    /// Six elements with four options, dearer the less they use, in two rows.
    fn some(seed: u64) -> Knapsack {
        let number = |i: usize| scatter(seed * 1000 + i as u64);
        let uses = (0..6).map(|e| {
            (0..4)
                .map(|o| {
                    let least = if o == 3 { 0.0 } else { 0.5 * f64::from(3 - o) };
                    vec![least * number(e * 7), least * number(e * 11 + 3)]
                })
                .collect()
        });
        let costs =
            (0..6).map(|e| (0..4).map(|o| f64::from(o) * (20.0 + 80.0 * number(e + 50))).collect());
        Knapsack { room: vec![1.0, 1.2], uses: uses.collect(), costs: costs.collect() }
    }

    #[test]
    fn no_choice_that_fits_is_cheaper_than_the_bound() {
        let mut near = 0;
        for seed in 0..20 {
            let k = some(seed);
            let open = vec![vec![0, 1, 2, 3]; 6];
            let mut cheapest = f64::INFINITY;
            for code in 0..4usize.pow(6) {
                let chosen: Vec<usize> = (0..6).map(|e| code / 4usize.pow(e) % 4).collect();
                if k.over(&chosen).iter().all(|o| *o <= 0.0) {
                    let cost = chosen.iter().enumerate().map(|(e, &o)| k.costs[e][o]).sum();
                    cheapest = cheapest.min(cost);
                }
            }
            let found = k.bound(&open, &mut Vec::new(), f64::INFINITY, 200);
            assert!(found.least <= cheapest + 1e-9, "{seed}: {} over {cheapest}", found.least);
            near += usize::from(found.least > 0.75 * cheapest);
            let start = k.chosen(&open, &found.values);
            let fits = k.repaired(&open, start, 0.0).unwrap();
            assert!(k.over(&fits).iter().all(|o| *o <= 0.0));
        }
        assert!(near >= 15, "{near} of 20 bounds say something");
    }
}
