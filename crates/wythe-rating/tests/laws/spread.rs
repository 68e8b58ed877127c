//! Laws of uncertainties and promises.

use crate::strategies::{curve, thirds};
use proptest::prelude::*;
use wythe_rating::uncertainty::{Number, probability_within, promise, propagate};
use wythe_rating::{Curve, Method, Options, rate};

fn sd(of: &Curve, u: f64) -> Curve {
    of.map(|_, _| u)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn without_doubt_a_promise_is_kept_or_broken(t in thirds(), by in -2i64..3, rho in 0.0f64..1.0) {
        let c = curve(&t);
        for method in [Method::Iso717Part1, Method::Iso717Part2, Method::E413, Method::E989] {
            let own = rate(&c, method, &Options::default()).unwrap().number().unwrap();
            let promised = own + by as f64;
            let kept = promise(
                &c, &sd(&c, 0.0), rho, method, Number::Rating, &Options::default(), promised,
            ).unwrap();
            let better = if method == Method::Iso717Part2 { by >= 0 } else { by <= 0 };
            prop_assert!((kept.probability - f64::from(u8::from(better))).abs() < 1e-9, "{}", method);
        }
    }

    #[test]
    fn a_higher_promise_is_never_likelier(t in thirds(), u in 0.2f64..4.0, rho in 0.0f64..1.0) {
        let c = curve(&t);
        let own = rate(&c, Method::Iso717Part1, &Options::default()).unwrap().number().unwrap();
        let mut before = 1.0;
        for by in -4..=4 {
            let p = promise(
                &c, &sd(&c, u), rho, Method::Iso717Part1, Number::Rating, &Options::default(),
                own + f64::from(by),
            ).unwrap().probability;
            prop_assert!(p <= before + 1e-9);
            before = p;
        }
    }

    #[test]
    fn errors_that_agree_spread_more(t in thirds(), u in 0.1f64..3.0) {
        let c = curve(&t);
        for number in [Number::Rating, Number::WithTerm("C"), Number::WithTerm("Ctr50-5000")] {
            let spread = |rho| {
                propagate(&c, &sd(&c, u), rho, Method::Iso717Part1, number, &Options::default())
                    .unwrap()
                    .standard_deviation
            };
            prop_assert!(spread(0.0) <= spread(0.5) + 1e-12);
            prop_assert!(spread(0.5) <= spread(1.0) + 1e-12);
            // All bands together by u moves the number by u.
            prop_assert!((spread(1.0) - u).abs() < 1e-9);
        }
    }
}

#[test]
fn independent_bands_multiply() {
    // Two bands, each exactly at its limit: one half each.
    let levels = curve(&[300; 21]);
    let mut limits = Curve::new(levels.resolution());
    for (b, e) in levels.iter().take(2) {
        limits.set(b, e.value, e.bound);
    }
    let p = |rho| probability_within(&levels, &sd(&levels, 2.0), rho, &limits).unwrap();
    assert!((p(0.0) - 0.25).abs() < 1e-12);
    assert!((p(1.0) - 0.5).abs() < 1e-6);
    // Both below their mean: 1/4 + asin(ρ)/2π (Sheppard's formula).
    let half = 0.25 + 0.5f64.asin() / (2.0 * std::f64::consts::PI);
    assert!((p(0.5) - half).abs() < 1e-6, "{}", p(0.5));
}

#[test]
fn statistics_out_of_range_are_refused() {
    let c = curve(&[300; 21]);
    let ask = |u: &Curve, rho| {
        propagate(&c, u, rho, Method::Iso717Part1, Number::Rating, &Options::default()).is_err()
    };
    assert!(ask(&sd(&c, -1.0), 0.0));
    assert!(ask(&sd(&c, f64::NAN), 0.0));
    assert!(ask(&Curve::new(c.resolution()), 0.0));
    assert!(ask(&sd(&c, 1.0), 1.5));
    assert!(ask(&sd(&c, 1.0), f64::NAN));
    assert!(
        promise(
            &c,
            &sd(&c, 1.0),
            0.0,
            Method::Iso717Part1,
            Number::Rating,
            &Options::default(),
            f64::NAN
        )
        .is_err()
    );
    assert!(
        propagate(&c, &sd(&c, 1.0), 0.0, Method::Nc, Number::Rating, &Options::default()).is_err()
    );
}
