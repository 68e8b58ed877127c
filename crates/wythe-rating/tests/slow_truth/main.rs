//! The fast answers about spread against plain Monte Carlo runs, and the exact probability
//! against counting.

use wythe_rating::iso717::LiningBase;
use wythe_rating::uncertainty::iso12999::{Situation, airborne_bands, impact_bands};
use wythe_rating::uncertainty::{
    Number, Route, SplitMix64, monte_carlo, probability_within, promise, propagate,
};
use wythe_rating::{Curve, Method, Midband, Options, Resolution, rate};

const DRAWS: usize = 60_000;

/// Invented curves of several shapes, besides the heavy wall of ISO 717-1 Table E.1.
fn curves() -> Vec<Curve> {
    let shape = |f: &dyn Fn(f64) -> f64| {
        Curve::from_pairs(
            Resolution::Thirds,
            Midband::all()
                .filter(|b| (17..=37).contains(&b.n()))
                .map(|b| (b, f(f64::from(b.n() - 27)))),
        )
    };
    vec![
        LiningBase::HeavyWall.reduction_index(),
        // A steep double leaf.
        shape(&|n| 45.0 + 1.9 * n),
        // A single leaf with a dip at coincidence.
        shape(&|n| 32.0 + 1.2 * n - 9.0 * (-(n - 7.0).powi(2) / 3.0).exp()),
        shape(&|_| 40.0),
    ]
}

fn mean_and_deviation(draws: &[f64]) -> (f64, f64) {
    let n = draws.len() as f64;
    let mean = draws.iter().sum::<f64>() / n;
    (mean, (draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / n).sqrt())
}

/// First-order propagation against draws, for the deviations of ISO 12999-1 situation B and for
/// 1.5 dB throughout.
#[test]
fn first_order_is_close() {
    let plain = Options::default();
    let numbers = [Number::Rating, Number::WithTerm("C"), Number::WithTerm("Ctr")];
    let mut worst: f64 = 0.0;
    for curve in curves() {
        for sd in [airborne_bands(Situation::InSitu), curve.map(|_, _| 1.5)] {
            for number in numbers {
                for rho in [0.0, 0.5] {
                    let method = Method::Iso717Part1;
                    let fast = propagate(&curve, &sd, rho, method, number, &plain).unwrap();
                    let draws =
                        monte_carlo(&curve, &sd, rho, method, number, &plain, true, 20_000, 3)
                            .unwrap();
                    let (_, slow) = mean_and_deviation(&draws);
                    worst = worst.max((fast.standard_deviation / slow - 1.0).abs());
                    // Relative where the number moves, absolute where it hardly does.
                    let off = (fast.standard_deviation - slow).abs();
                    assert!(off < 0.15 * slow + 0.06, "{number:?} {rho}: {fast:?} against {slow}");
                }
            }
        }
    }
    println!("largest relative difference {worst:.3}");
}

/// The exact probability of a promise against counting whole ratings of drawn curves.
#[test]
fn the_exact_probability_is_the_counted_one() {
    let plain = Options::default();
    for (c, curve) in curves().iter().enumerate() {
        for method in [Method::Iso717Part1, Method::Iso717Part2, Method::E413, Method::E989] {
            let sd = match method {
                Method::Iso717Part2 => impact_bands(Situation::InSitu).unwrap(),
                _ => airborne_bands(Situation::InSitu),
            };
            let own = rate(curve, method, &plain).unwrap().number().unwrap();
            for rho in [0.0, 0.3, 0.9, 1.0] {
                for by in [-1.0, 0.0, 1.0] {
                    let promised = own + by;
                    let exact =
                        promise(curve, &sd, rho, method, Number::Rating, &plain, promised).unwrap();
                    assert_eq!(exact.route, Route::Exact);
                    let draws = 8_000;
                    let seed = 11 + c as u64;
                    let drawn = monte_carlo(
                        curve,
                        &sd,
                        rho,
                        method,
                        Number::Rating,
                        &plain,
                        false,
                        draws,
                        seed,
                    )
                    .unwrap();
                    let kept = drawn
                        .iter()
                        .filter(|d| match method {
                            Method::Iso717Part2 => **d <= promised,
                            _ => **d >= promised,
                        })
                        .count();
                    let p = kept as f64 / draws as f64;
                    let error = (p * (1.0 - p) / draws as f64).sqrt();
                    assert!(
                        (exact.probability - p).abs() < 5.0 * error + 0.002,
                        "{method} {rho} {promised}: {} against {p}",
                        exact.probability
                    );
                }
            }
        }
    }
}

/// The product over bands with a common part against counting.
#[test]
fn staying_within_limits_is_counted_alike() {
    let levels = curves()[2].clone();
    let limits = levels.map(|b, l| l + 1.0 + f64::from(b.n() % 4));
    let sd = levels.map(|b, _| 1.0 + 0.1 * f64::from(b.n() % 7));
    for rho in [0.0, 0.5, 0.95] {
        let exact = probability_within(&levels, &sd, rho, &limits).unwrap();
        let mut random = SplitMix64::new(5);
        let mut kept = 0u32;
        for _ in 0..DRAWS {
            let z = random.normal();
            let mut within = true;
            for (band, entry) in levels.iter() {
                let e = rho.sqrt() * z + (1.0 - rho).sqrt() * random.normal();
                let level = entry.value + sd.get(band).unwrap().value * e;
                within &= level <= limits.get(band).unwrap().value;
            }
            kept += u32::from(within);
        }
        let p = f64::from(kept) / DRAWS as f64;
        let error = (p * (1.0 - p) / DRAWS as f64).sqrt();
        assert!((exact - p).abs() < 5.0 * error, "{rho}: {exact} against {p}");
    }
}
