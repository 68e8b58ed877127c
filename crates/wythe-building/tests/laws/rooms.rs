//! Laws of absorption and modes.

use proptest::prelude::*;
use wythe_bands::{Band, CubicMetre, Hertz, Metre, Seconds, SquareMetre};
use wythe_building::Surface;
use wythe_building::finish::{FINISHES, absorption_area};
use wythe_building::modes::{list, modes_in_band, nearest_pitch, spread_over_positions};

fn surface(index: usize, area: f64) -> Surface {
    Surface { finish: FINISHES[index % FINISHES.len()].name.to_owned(), area: SquareMetre(area) }
}

proptest! {
    #[test]
    fn more_surface_never_absorbs_less(i in 0usize..40, j in 0usize..40, a in 0.0f64..200.0, b in 0.0f64..200.0) {
        let one = absorption_area(&[surface(i, a)]);
        let both = absorption_area(&[surface(i, a), surface(j, b)]);
        for band in Band::all() {
            prop_assert!(both.get(band).unwrap().0 >= one.get(band).unwrap().0 - 1e-12);
        }
        let swapped = absorption_area(&[surface(j, b), surface(i, a)]);
        for band in Band::all() {
            prop_assert!((both.get(band).unwrap().0 - swapped.get(band).unwrap().0).abs() < 1e-12);
        }
    }

    #[test]
    fn bad_areas_count_as_nothing(area in prop_oneof![Just(f64::NAN), Just(-3.0), Just(f64::INFINITY)]) {
        let areas = absorption_area(&[surface(0, area)]);
        prop_assert!(areas.iter().all(|(_, a)| a.0 == 0.0));
    }

    #[test]
    fn scaling_a_room_scales_its_modes(x in 1.0f64..8.0, y in 1.0f64..8.0, z in 1.0f64..4.0, k in 1.1f64..2.0) {
        let sides = [Metre(x), Metre(y), Metre(z)];
        let larger = [Metre(k * x), Metre(k * y), Metre(k * z)];
        let modes = list(sides, Hertz(150.0), 343.0).unwrap();
        let lower = list(larger, Hertz(150.0 / k * (1.0 + 1e-12)), 343.0).unwrap();
        prop_assert_eq!(modes.len(), lower.len());
        for (a, b) in modes.iter().zip(&lower) {
            prop_assert!((a.frequency.0 / k - b.frequency.0).abs() < 1e-9);
        }
        prop_assert!(modes.windows(2).all(|w| w[0].frequency.0 <= w[1].frequency.0));
    }

    #[test]
    fn a_wider_band_or_longer_decay_never_spreads_more(b in 0.0f64..1e4, t in 0.01f64..10.0, k in 1.0f64..5.0) {
        let s = |b: f64, t: f64| spread_over_positions(Hertz(b), Seconds(t)).0;
        prop_assert!(s(k * b, t) <= s(b, t) + 1e-12 && s(b, k * t) <= s(b, t) + 1e-12);
    }

    #[test]
    fn nothing_panics(a in any::<f64>(), b in any::<f64>(), c in any::<f64>()) {
        let _ = list([Metre(a), Metre(b), Metre(c)], Hertz(a), b);
        let _ = list([Metre(a.abs()), Metre(b.abs()), Metre(c.abs())], Hertz(100.0), 343.0);
        let _ = spread_over_positions(Hertz(a), Seconds(b));
        let _ = nearest_pitch(Hertz(a));
        let _ = modes_in_band(CubicMetre(a), Band::HZ_50, b);
    }
}

#[test]
fn coefficients_lie_between_nothing_and_all() {
    for finish in FINISHES.iter().filter(|f| !f.each) {
        for (band, c) in finish.coefficients().iter() {
            assert!((0.0..=1.0).contains(&c.mean), "{} {band}", finish.name);
            assert!(c.spread > 0.0 && c.spread.is_finite());
        }
    }
}

#[test]
fn names_are_found_again_and_unique() {
    let mut names: Vec<String> = Vec::new();
    for f in FINISHES {
        for name in std::iter::once(&f.name).chain(f.synonyms) {
            assert!(std::ptr::eq(wythe_building::finish::finish(name).unwrap(), f), "{name}");
            assert!(!names.contains(&name.to_lowercase()), "{name} stands twice");
            names.push(name.to_lowercase());
        }
    }
}
