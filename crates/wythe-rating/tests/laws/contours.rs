//! Contour ratings: monotony, shifts, edges, and a brute-force twin.

use crate::strategies::{curve, octaves, thirds};
use proptest::prelude::*;
use wythe_rating::astm::DataRounding;
use wythe_rating::iso717::ReferenceFloor;
use wythe_rating::{Curve, Decided, Method, Midband, Options, Rating, Resolution, Tenths, rate};

fn plain(c: &Curve, m: Method) -> Rating {
    rate(c, m, &Options::default()).unwrap()
}

fn tenths(r: &Rating) -> i64 {
    r.value.unwrap().tenths.0
}

const AIRBORNE: [i64; 16] = [33, 36, 39, 42, 45, 48, 51, 52, 53, 54, 55, 56, 56, 56, 56, 56];
const IMPACT: [i64; 16] = [62, 62, 62, 62, 62, 62, 61, 60, 59, 58, 57, 54, 51, 48, 45, 42];
const CLASS: [i64; 16] = [-16, -13, -10, -7, -4, -1, 0, 1, 2, 3, 4, 4, 4, 4, 4, 4];

/// Tries every shift one after another, in tenths, and keeps the last one allowed: slow, obvious,
/// and without any code of the crate.
fn brute(data: &[i64], reference: &[i64], below: bool, step: i64, single: Option<i64>) -> i64 {
    let limit = if data.len() == 5 { 100 } else { 320 };
    let mut best = None;
    let mut shift = -40_000;
    while shift <= 40_000 {
        let deviations: Vec<i64> = data
            .iter()
            .zip(reference)
            .map(|(x, r)| {
                let d = if below { r * 10 + shift - x } else { x - (r * 10 - shift) };
                d.max(0)
            })
            .collect();
        let fine = deviations.iter().sum::<i64>() <= limit
            && single.is_none_or(|s| deviations.iter().all(|d| *d <= s));
        if fine {
            best = Some(shift);
        }
        shift += step;
    }
    best.expect("some shift")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn the_brute_twin_agrees(t in thirds()) {
        let c = curve(&t);
        for one_decimal in [false, true] {
            let step = if one_decimal { 1 } else { 10 };
            let options = Options { one_decimal, ..Options::default() };
            let air = rate(&c, Method::Iso717Part1, &options).unwrap();
            prop_assert_eq!(tenths(&air), 520 + brute(&t[3..19], &AIRBORNE, true, step, None));
            let impact = rate(&c, Method::Iso717Part2, &options).unwrap();
            prop_assert_eq!(tenths(&impact), 600 - brute(&t[3..19], &IMPACT, false, step, None));
            let oct = octaves(&t);
            let air = rate(&oct, Method::Iso717Part1, &options).unwrap();
            let reference = [36, 45, 52, 55, 56];
            prop_assert_eq!(tenths(&air), 520 + brute(&t[1..6], &reference, true, step, None));
            let impact = rate(&oct, Method::Iso717Part2, &options).unwrap();
            let reference = [67, 67, 65, 62, 49];
            prop_assert_eq!(tenths(&impact), 600 - brute(&t[1..6], &reference, false, step, None));
        }
        let whole: Vec<i64> = t.iter().map(|x| (x + 5).div_euclid(10) * 10).collect();
        let class = plain(&c, Method::E413);
        prop_assert_eq!(tenths(&class), brute(&whole[4..20], &CLASS, true, 10, Some(80)));
        let unrounded = Options { whole_decibels: DataRounding::OneDecimal, ..Options::default() };
        let class = rate(&c, Method::E413, &unrounded).unwrap();
        prop_assert_eq!(tenths(&class), brute(&t[4..20], &CLASS, true, 10, Some(80)));
        let class = plain(&c, Method::E989);
        prop_assert_eq!(
            tenths(&class),
            1100 - (600 - brute(&whole[3..19], &IMPACT, false, 10, Some(80)))
        );
    }
}

proptest! {
    #[test]
    fn raising_a_band_never_lowers_an_airborne_rating(t in thirds(), band in 0usize..21) {
        let mut higher = t.clone();
        higher[band] += 1;
        for method in [Method::Iso717Part1, Method::E413, Method::E1332] {
            let (before, after) = (plain(&curve(&t), method), plain(&curve(&higher), method));
            prop_assert!(tenths(&after) >= tenths(&before), "{method}");
            for (a, b) in before.terms.iter().zip(&after.terms) {
                prop_assert!(b.unrounded_sum.unwrap() >= a.unrounded_sum.unwrap() - 1e-12);
            }
        }
        // An impact level raised is never better.
        let lower = plain(&curve(&higher), Method::Iso717Part2);
        prop_assert!(tenths(&lower) >= tenths(&plain(&curve(&t), Method::Iso717Part2)));
        let lower = plain(&curve(&higher), Method::E989);
        prop_assert!(tenths(&lower) <= tenths(&plain(&curve(&t), Method::E989)));
    }

    #[test]
    fn a_curve_shifted_by_one_rates_one_more(t in thirds(), by in -20i64..20) {
        let shifted: Vec<i64> = t.iter().map(|x| x + 10 * by).collect();
        for method in [Method::Iso717Part1, Method::Iso717Part2, Method::E413, Method::E1332] {
            let (before, after) = (plain(&curve(&t), method), plain(&curve(&shifted), method));
            prop_assert_eq!(tenths(&after) - tenths(&before), 10 * by);
            prop_assert_eq!(before.sum_unfavourable, after.sum_unfavourable);
            for (a, b) in before.terms.iter().zip(&after.terms) {
                prop_assert_eq!(a.value, b.value, "{} {}", method, a.key);
            }
        }
        let (before, after) =
            (plain(&curve(&t), Method::E989), plain(&curve(&shifted), Method::E989));
        prop_assert_eq!(tenths(&after) - tenths(&before), -10 * by);
    }

    #[test]
    fn the_rows_tell_the_truth(t in thirds(), i in 0usize..16) {
        for method in [Method::Iso717Part1, Method::Iso717Part2, Method::E413, Method::E989] {
            let before = plain(&curve(&t), method);
            let row = before.rows[i];
            let place = row.band.index() - Midband::from_nominal("50").unwrap().index();
            for (by, said) in [(10, row.plus_one), (-10, row.minus_one)] {
                let mut other = t.clone();
                other[place] += by;
                let after = plain(&curve(&other), method);
                prop_assert_eq!(tenths(&after) - tenths(&before), said.0, "{}", method);
            }
            let sum: i64 = before.rows.iter().map(|r| r.deviation.unwrap().0).sum();
            prop_assert_eq!(Tenths(sum), before.sum_unfavourable.unwrap());
            prop_assert!(sum <= 320);
            let worst = before.worst_band.and_then(|b| before.row(b)).unwrap();
            prop_assert_eq!(worst.deviation, before.largest_deviation());
        }
    }

    #[test]
    fn an_improvement_of_nothing_improves_nothing(extra in 0i64..30) {
        // The same dB in every band is that many dB better on every floor.
        let same = curve(&[extra * 10; 21]);
        for floor in [
            ReferenceFloor::Heavyweight,
            ReferenceFloor::Lightweight1,
            ReferenceFloor::Lightweight2,
            ReferenceFloor::Lightweight3,
        ] {
            let options = Options { floor_improvement: Some(floor), ..Options::default() };
            let rating = rate(&same, Method::Iso717Part2, &options).unwrap();
            prop_assert_eq!(tenths(&rating), extra * 10);
            prop_assert_eq!(rating.term("CI_delta").unwrap().value.unwrap().tenths.0, 0);
        }
    }
}

/// Exactly 32.0 dB is allowed, 32.1 dB is not (ISO 717-1:2013, 4.4; ISO 717-2:2013, 4.3.1).
#[test]
fn the_edge_of_thirty_two() {
    let bands: Vec<Midband> =
        Midband::all().filter(|b| (20..=35).contains(&b.n())).collect::<Vec<_>>();
    let make =
        |values: Vec<f64>| Curve::from_pairs(Resolution::Thirds, bands.iter().copied().zip(values));
    // Sixteen bands 2.0 dB below the reference curve: no shift needed.
    for below in [true, false] {
        let (reference, sign, method, at_500) = if below {
            (AIRBORNE, -1.0, Method::Iso717Part1, 52)
        } else {
            (IMPACT, 1.0, Method::Iso717Part2, 60)
        };
        let mut values: Vec<f64> = reference.iter().map(|r| *r as f64 + sign * 2.0).collect();
        let rating = plain(&make(values.clone()), method);
        assert_eq!(tenths(&rating), at_500 * 10);
        assert_eq!(rating.sum_unfavourable, Some(Tenths(320)));
        assert_eq!(rating.decided, Decided::BySum { limit: Tenths(320) });
        // One tenth worse in one band costs a whole decibel.
        for i in 0..16 {
            let was = values[i];
            values[i] += sign * 0.1;
            let rating = plain(&make(values.clone()), method);
            assert_eq!(tenths(&rating), (at_500 + sign as i64) * 10, "band {i}");
            values[i] = was;
        }
    }
    // The same sum reached through binary fractions that do not add up to it.
    let uneven: Vec<f64> = AIRBORNE
        .iter()
        .enumerate()
        .map(|(i, r)| *r as f64 - if i % 2 == 0 { 1.9 } else { 2.1 })
        .collect();
    assert_eq!(tenths(&plain(&make(uneven), Method::Iso717Part1)), 520);
}

/// The same edge at 10.0 dB with five octaves.
#[test]
fn the_edge_of_ten() {
    let bands: Vec<Midband> = ["125", "250", "500", "1000", "2000"]
        .into_iter()
        .map(|n| Midband::from_nominal(n).unwrap())
        .collect();
    let rated = |last: f64| {
        let values = [34.0, 43.0, 50.0, 53.0, last];
        let c = Curve::from_pairs(Resolution::Octaves, bands.iter().copied().zip(values));
        tenths(&plain(&c, Method::Iso717Part1))
    };
    assert_eq!(rated(54.0), 520);
    assert_eq!(rated(53.9), 510);
}
