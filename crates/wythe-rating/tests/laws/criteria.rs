//! Noise criteria and refusals.

use crate::strategies::{curve, octaves, thirds};
use proptest::prelude::*;
use wythe_bands::CubicMetre;
use wythe_rating::room_noise::{NcRule, NcTable, nc_curve, nr_curve};
use wythe_rating::{
    Bound, Curve, Method, Midband, Options, Quantity, RatingError, Resolution, may_be_stated, rate,
};

fn hz(name: &str) -> Midband {
    Midband::from_nominal(name).unwrap()
}

proptest! {
    #[test]
    fn a_curve_of_the_family_rates_its_own_number(number in 15.0f64..70.0) {
        for table in [NcTable::S12Of2019, NcTable::Classic] {
            let c = Curve::from_pairs(
                Resolution::Octaves,
                Midband::octaves().filter_map(|b| Some((b, nc_curve::level(table, number, b)?))),
            );
            let options = Options { nc_table: table, ..Options::default() };
            let rating = rate(&c, Method::Nc, &options).unwrap();
            prop_assert!((rating.unrounded.unwrap() - number).abs() < 1e-9);
        }
        let c = Curve::from_pairs(
            Resolution::Octaves,
            Midband::octaves().filter_map(|b| Some((b, nr_curve::level(number, b)?))),
        );
        let rating = rate(&c, Method::Nr, &Options::default()).unwrap();
        prop_assert!((rating.unrounded.unwrap() - number).abs() < 1e-9);
        prop_assert!(rating.value.unwrap().decibels() >= number - 1e-6);
    }

    #[test]
    fn no_curve_at_all_makes_it_panic(
        t in thirds(), scale in -40.0f64..40.0, drop in 0usize..35, nan in 0usize..70,
    ) {
        for mut c in [curve(&t), octaves(&t)] {
            let kept: Vec<_> = c.iter().filter(|(b, _)| b.index() != drop).collect();
            let mut fresh = Curve::new(c.resolution());
            for (b, e) in kept {
                let value = if b.index() == nan { f64::NAN } else { e.value * scale };
                fresh.set(b, value, e.bound);
            }
            c = fresh;
            for method in Method::ALL {
                for one_decimal in [false, true] {
                    for nc_rule in [NcRule::Tangency, NcRule::SpeechInterferenceFirst] {
                        let options = Options { one_decimal, nc_rule, ..Options::default() };
                        if let Ok(rating) = rate(&c, method, &options) {
                            prop_assert!(rating.number().is_none_or(f64::is_finite));
                            prop_assert!(!rating.statement.is_empty());
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn refusals_name_the_bands_and_the_way_out() {
    let mut c = curve(&[300; 21]);
    let without = |c: &Curve, name: &str| {
        let mut out = Curve::new(c.resolution());
        for (b, e) in c.iter().filter(|(b, _)| b.nominal() != name) {
            out.set(b, e.value, e.bound);
        }
        out
    };
    let plain = Options::default();
    let said = rate(&without(&c, "1250"), Method::Iso717Part1, &plain).unwrap_err();
    assert_eq!(
        said.to_string(),
        "iso717-1 needs a value in every third-octave band it judges; 1250 Hz is missing; measure \
         or predict it, a gap is never filled in"
    );
    let gap = without(&without(&c, "125"), "160");
    let said = rate(&gap, Method::E413, &plain).unwrap_err().to_string();
    assert!(said.contains("125 and 160 Hz are missing"), "{said}");
    // Bands outside the range may be missing: only the terms that need them are not stated.
    let rating = rate(&without(&c, "63"), Method::Iso717Part1, &plain).unwrap();
    assert!(rating.term("C50-3150").unwrap().value.is_none());
    assert_eq!(rating.term("C50-3150").unwrap().missing, [hz("63")]);
    assert!(rating.term("C100-5000").unwrap().value.is_some());

    for method in [Method::E413, Method::E989, Method::E1332] {
        let said = rate(&octaves(&[300; 21]), method, &plain).unwrap_err();
        assert_eq!(said, RatingError::OctavesGiven { method });
    }
    c.set(hz("500"), f64::INFINITY, Bound::Exact);
    assert!(matches!(rate(&c, Method::Iso717Part1, &plain), Err(RatingError::NotDecibels { .. })));
    let floor = Options { floor_improvement: Some(Default::default()), ..plain };
    assert!(matches!(
        rate(&curve(&[300; 21]), Method::Iso717Part1, &floor),
        Err(RatingError::OptionElsewhere { .. })
    ));
    let wrong = Options { quantity: Some(Quantity::NoiseIsolationClass), ..plain };
    assert!(rate(&curve(&[300; 21]), Method::Iso717Part1, &wrong).is_err());
}

#[test]
fn bounds_make_the_rating_a_bound() {
    let mut c = curve(&[300; 21]);
    c.mark(hz("2000"), Bound::AtLeast);
    let plain = Options::default();
    let rating = rate(&c, Method::Iso717Part1, &plain).unwrap();
    assert_eq!(rating.bound, Bound::AtLeast);
    assert!(rating.statement.contains(") ≥ "), "{}", rating.statement);
    assert!(rating.remarks.iter().any(|r| r.code == "rating::bound"));
    // Impact levels that are upper limits give an upper limit, but a lower limit of the class.
    let mut c = curve(&[600; 21]);
    c.mark(hz("2000"), Bound::AtMost);
    assert_eq!(rate(&c, Method::Iso717Part2, &plain).unwrap().bound, Bound::AtMost);
    assert_eq!(rate(&c, Method::E989, &plain).unwrap().bound, Bound::AtLeast);
    c.mark(hz("100"), Bound::AtLeast);
    assert!(matches!(
        rate(&c, Method::Iso717Part2, &plain),
        Err(RatingError::OpposedBounds { .. })
    ));
    // A limit outside the range of the rule is no limit of the rating.
    let mut c = curve(&[300; 21]);
    c.mark(hz("50"), Bound::AtLeast);
    let rating = rate(&c, Method::Iso717Part1, &plain).unwrap();
    assert_eq!(rating.bound, Bound::Exact);
    assert_eq!(rating.term("C50-3150").unwrap().bound, Bound::AtLeast);
}

#[test]
fn off_the_scale_there_is_no_number() {
    let flat = |level| {
        Curve::from_pairs(
            Resolution::Octaves,
            Midband::octaves().filter(|b| b.n() >= 12).map(|b| (b, level)),
        )
    };
    let quiet = rate(&flat(5.0), Method::Nc, &Options::default()).unwrap();
    assert_eq!((quiet.value, quiet.statement.as_str()), (None, "< NC-15"));
    let loud = rate(&flat(95.0), Method::Nc, &Options::default()).unwrap();
    assert_eq!((loud.value, loud.statement.as_str()), (None, "> NC-70"));
}

#[test]
fn thirds_are_added_to_octaves_with_a_remark() {
    // 40 dB in each third is 44.8 dB in each octave: governed by 4 kHz, (44.77 + 6.1)/1.025; the
    // 8 kHz octave cannot be formed, so the number is a lower limit.
    let rating = rate(&curve(&[400; 21]), Method::Nr, &Options::default()).unwrap();
    assert!((rating.unrounded.unwrap() - (44.771_212_5 + 6.1) / 1.025).abs() < 1e-6);
    assert_eq!(rating.bound, Bound::AtLeast);
    let codes: Vec<_> = rating.remarks.iter().map(|r| r.code).collect();
    assert!(codes.contains(&"rating::octaves-from-thirds"), "{codes:?}");
    assert!(codes.contains(&"rating::band-not-judged"), "{codes:?}");
}

#[test]
fn small_rooms_are_refused_their_class() {
    let stated = |q, source, receiver| may_be_stated(q, CubicMetre(source), CubicMetre(receiver));
    use Quantity::{
        ApparentImpactInsulationClass as Aiic, ApparentSoundTransmissionClass as Astc,
        NoiseIsolationClass as Nic, NormalizedNoiseIsolationClass as Nnic,
    };
    assert!(stated(Nic, 12.0, 12.0).is_ok());
    assert!(stated(Nnic, 12.0, 25.0).is_ok());
    assert!(stated(Astc, 25.0, 25.0).is_ok());
    let said = stated(Nnic, 40.0, 24.9).unwrap_err().to_string();
    assert!(said.contains("NNIC") && said.contains("24.9 m3") && said.contains("NIC"), "{said}");
    assert!(stated(Astc, 24.9, 40.0).is_err());
    assert!(stated(Astc, 40.0, 150.0).is_err());
    assert!(stated(Aiic, 40.0, 39.0).is_err());
    assert!(stated(Nic, f64::NAN, 30.0).is_err());
}
