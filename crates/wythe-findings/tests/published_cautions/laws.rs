//! What must hold whatever is described.

use proptest::prelude::*;
use wythe_bands::{CubicMetre, Metre, SquareMetre, SurfaceMass};
use wythe_building::*;
use wythe_findings::caution::air::*;
use wythe_findings::caution::load::*;
use wythe_findings::caution::requirements::{GUIDANCE, NOT_LAW};
use wythe_findings::caution::take_off::*;
use wythe_findings::caution::*;

use crate::buildings::*;

/// Words that would promise what nobody here can know.
const FORBIDDEN: [&str; 6] = ["is safe", "are safe", "safe to", "safely", "no danger", "harmless"];

pub fn promises_nothing(text: &str) {
    let lower = text.to_lowercase();
    for words in FORBIDDEN {
        assert!(!lower.contains(words), "`{words}` in: {text}");
    }
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -10.0f64..300.0,
        1 => prop::sample::select(vec![
            0.0,
            -1.0,
            1e-300,
            1e300,
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY
        ]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn more_people_never_have_longer(
        volume in 5.0f64..2000.0, flow in 0.0f64..200.0, each in 0.001f64..0.02, n in 1u32..60,
        start in 400.0f64..1600.0, limit in 800.0f64..6000.0,
    ) {
        let minutes = |n: u32| {
            Zone {
                volume: CubicMetre(volume),
                flow: LitresPerSecond(flow),
                breath: LitresPerSecond(each * f64::from(n)),
                outdoors: OUTDOORS,
            }
            .minutes_until(Ppm(limit), Ppm(start))
            .unwrap()
            .map_or(f64::INFINITY, |m| m.0)
        };
        prop_assert!(minutes(n + 1) <= minutes(n));
    }

    /// The time found is the time at which the balance reaches the limit.
    #[test]
    fn the_time_is_the_inverse_of_the_balance(
        volume in 5.0f64..2000.0, flow in 0.0f64..200.0, breath in 0.001f64..0.5,
        start in 400.0f64..1000.0, limit in 1001.0f64..6000.0,
    ) {
        let zone = Zone {
            volume: CubicMetre(volume),
            flow: LitresPerSecond(flow),
            breath: LitresPerSecond(breath),
            outdoors: OUTDOORS,
        };
        match zone.minutes_until(Ppm(limit), Ppm(start)).unwrap() {
            Some(t) if t.0 < 1e6 => {
                let reached = zone.concentration(Ppm(start), t).unwrap().0;
                prop_assert!((reached - limit).abs() < 1e-6 * limit, "{reached} {limit}");
            }
            Some(_) => {}
            None => prop_assert!(zone.steady_state().unwrap().unwrap().0 <= limit + 1e-9),
        }
    }

    /// Flow that holds a limit settles at that limit.
    #[test]
    fn the_flow_that_holds_holds(breath in 0.001f64..1.0, limit in 500.0f64..5000.0) {
        let q = required_flow(LitresPerSecond(breath), Ppm(limit), OUTDOORS).unwrap();
        let zone = Zone {
            volume: CubicMetre(50.0),
            flow: q,
            breath: LitresPerSecond(breath),
            outdoors: OUTDOORS,
        };
        prop_assert!((zone.steady_state().unwrap().unwrap().0 - limit).abs() < 1e-6);
    }

    #[test]
    fn more_mass_never_lowers_the_flag(
        a in any_number(), b in any_number(), allowance in prop::option::of(any_number()),
    ) {
        let flag = |m: f64| load_flag(SurfaceMass(m), allowance.map(SurfaceMass));
        if a <= b {
            prop_assert!(flag(a) <= flag(b));
        }
        if a.is_nan() {
            prop_assert_eq!(flag(a), LoadFlag::Stop);
        }
    }

    /// And in the whole: more boards never turn a stop into a question.
    #[test]
    fn more_boards_never_lift_the_stop(boards in 1u32..6, stated in 0.0f64..60.0) {
        let stop = |boards: u32| {
            let mut house = house();
            house.limits.added_mass = Some(SurfaceMass(stated));
            house.build_ups[FLOOR_AND_TWO] = build_up("more", vec![
                board("gypsum board", 15.9, 1 + boards),
                cavity(220.0, true, wythe_partition::FrameKind::TimberStuds),
                board("particleboard", 22.0, 1),
            ]);
            let all = cautions(&house, &Settings::default());
            all.iter().find(|c| c.code == "caution::dead-load").unwrap().stop
        };
        prop_assert!(stop(boards + 1) >= stop(boards));
    }

    #[test]
    fn more_area_never_needs_fewer(
        area in 0.0f64..500.0, more in 0.0f64..50.0, layers in 1u32..5, waste in 0.0f64..0.5,
    ) {
        let order = |a: f64| sheets(SquareMetre(a), layers, SquareMetre(2.88), Waste(waste)).unwrap();
        prop_assert!(order(area + more) >= order(area));
        prop_assert!(order(area) as f64 * 2.88 >= area * f64::from(layers) * (1.0 - 1e-8));
    }

    /// No number makes a sum panic, hang, or return what is no number.
    #[test]
    fn sums_are_total(x in any_number(), y in any_number(), z in any_number()) {
        let zone = Zone {
            volume: CubicMetre(x),
            flow: LitresPerSecond(y),
            breath: LitresPerSecond(z),
            outdoors: Ppm(y),
        };
        if let Ok(c) = zone.concentration(Ppm(z), Minutes(x)) { prop_assert!(c.0.is_finite()); }
        if let Ok(Some(c)) = zone.steady_state() { prop_assert!(c.0.is_finite()); }
        if let Ok(Some(m)) = zone.minutes_until(Ppm(y), Ppm(x)) { prop_assert!(m.0 >= 0.0); }
        if let Ok(q) = zone.flow_to_hold(Ppm(x)) { prop_assert!(q.0.is_finite()); }
        if let Ok(q) = dwelling_total_flow(SquareMetre(x), 3) { prop_assert!(q.0 >= 0.0); }
        if let Ok(q) = breathing_zone_flow(SpaceUse::Music, u32::MAX, SquareMetre(x)) {
            prop_assert!(q.0 >= 0.0);
        }
        if let Ok(g) = breath_rate(Age::From30, x) { prop_assert!(g.0 > 0.0); }
        if let Ok(a) = free_area(LitresPerSecond(x), y) { prop_assert!(a.0 >= 0.0); }
        if let Ok(m) = gypsum_design_mass(Metre(x)) { prop_assert!(m.0 > 0.0); }
        let _ = gypsum_typical_mass(Metre(x));
        if let Ok(v) = combustion_least_volume(x) { prop_assert!(v.0 >= 0.0); }
        let _ = escape_shortfalls(&EscapeOpening {
            width: Metre(x), height: Metre(y), sill: Some(Metre(z)), at_grade: true,
        });
        let _ = sheets(SquareMetre(x), 3, SquareMetre(y), Waste(z));
        let _ = sealant_tubes(Metre(x), Bead::Fillet(Metre(y)), Millilitres(z), Waste::PLAIN);
        let _ = screws_per_sheet([Metre(x), Metre(y)], Metre(z), Metre(x));
        let _ = screw_length(Metre(x));
        let _ = clips(SurfaceMass(x), SquareMetre(y), z);
        let _ = fill(SquareMetre(x), Waste(y));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// A building with absurd numbers in it still gets its cautions, every one of them whole, in
    /// order, the same twice, and promising nothing.
    #[test]
    fn any_house_gets_its_cautions(
        numbers in prop::collection::vec(any_number(), 16),
        index in 0usize..6,
        cut in 0usize..4,
    ) {
        let n = |i: usize| numbers[i];
        let mut house = house();
        match cut {
            0 => {}
            1 => house.rooms[PRACTICE].volume = CubicMetre(n(0)),
            2 => {
                house.boundaries[DOOR_WALL].openings[0].width = Metre(n(1));
                house.boundaries[CEILING].area = SquareMetre(n(2));
            }
            _ => house.build_ups[FLOOR_AND_TWO] =
                build_up("odd", vec![board("gypsum board", n(3), 3), board("nonsense", n(4), 1)]),
        }
        house.rooms[HALL].floor_area = SquareMetre(n(5));
        house.rooms[FLAT].height = Some(Metre(n(6)));
        house.limits.added_mass = Some(SurfaceMass(n(7)));
        house.sources[0].levels = at_1_khz(n(8));
        house.sources[0].room = RoomIndex(index);
        house.air.celsius = n(9).clamp(-30.0, 60.0);
        house.changes.push(change("odd", vec![rebuild(index, index), rebuild(99, 99)]));
        let settings = Settings {
            rooms: vec![RoomUse {
                room: "practice".into(),
                occupancy: Some(Occupancy {
                    people: vec![People { count: u32::MAX, met: n(10), age: Age::From21 }; 2],
                    stated: true,
                }),
                fan: Some(LitresPerSecond(n(11))),
            }],
            session_minutes: n(12),
            outdoors: Ppm(n(13)),
            bedrooms: Some(u32::MAX),
            osha: true,
            eu: true,
            appliances: Appliances::Listed(vec![Appliance {
                name: "stove".into(), room: "hall".into(), kilowatts: n(14), direct_vent: false,
            }]),
            ..Settings::default()
        };
        let all = cautions(&house, &settings);
        prop_assert!(!all.is_empty());
        prop_assert!(all.windows(2).all(|w| w[0].topic <= w[1].topic));
        for topic in [Topic::WayOut, Topic::Fuel, Topic::Air] {
            prop_assert!(all.iter().any(|c| c.topic == topic), "{topic:?}");
        }
        for caution in &all {
            prop_assert!(!caution.place.is_empty() && !caution.why.is_empty());
            prop_assert!(!caution.what_to_do.is_empty());
            prop_assert!(caution.figures.iter().all(|f| f.value.is_finite()), "{caution:?}");
            // Only a message that refuses a number may show one that is none.
            let text = caution.text();
            let refuses = text.contains("cannot be");
            prop_assert!(refuses || !(text.contains("NaN") || text.contains("inf")), "{text}");
            promises_nothing(&caution.text());
        }
        let again = cautions(&house, &settings);
        prop_assert_eq!(all, again);
    }
}

#[test]
fn nothing_in_the_table_or_the_notice_promises_anything() {
    promises_nothing(STANDING_NOTICE);
    promises_nothing(NOT_LAW);
    for row in GUIDANCE {
        promises_nothing(&row.text());
        promises_nothing(row.note);
    }
}
