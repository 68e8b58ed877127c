//! Mountings and dead rooms by worked numbers.

use wythe_bands::{
    Air, Band, CubicMetre, Hertz, Metre, Spectrum, SquareMetre, Standpoint, SurfaceMass,
};
use wythe_building::mounting::{by_deflection, by_stiffness, trapped_air_stiffness};
use wythe_building::{Absorption, Mounting, Room, Surface};

#[test]
fn natural_frequency_by_deflection() {
    // 15.76/√δ: 1 mm 15.8, 5 mm 7.0, 10 mm 5.0, 25 mm 3.15 Hz (handbook, derived).
    for (mm, printed) in [(1.0, 15.8), (5.0, 7.05), (10.0, 4.98), (25.0, 3.15)] {
        let f = by_deflection(Metre(mm / 1000.0)).unwrap().0;
        assert!((f - printed).abs() < 0.05, "{mm} mm: {f}");
    }
    assert!(by_deflection(Metre(0.0)).is_none() && by_deflection(Metre(f64::NAN)).is_none());
}

#[test]
fn trapped_air_under_a_floor() {
    // 50 mm under 100 kg/m²: 26.8 Hz free, 23.8 Hz filled (derived; ISO 9052-1 from memory).
    for (filled, printed) in [(false, 26.8), (true, 23.8)] {
        let s = trapped_air_stiffness(Metre(0.05), filled);
        let f = by_stiffness(SurfaceMass(100.0), s).unwrap().0;
        assert!((f - printed).abs() < 0.1, "{f}");
    }
    assert_eq!(trapped_air_stiffness(Metre(-1.0), false), 0.0);
    assert!(by_stiffness(SurfaceMass(0.0), 1e6).is_none());
}

#[test]
fn a_mount_makes_some_bands_worse_and_is_held_to_25_db() {
    let mount = Mounting { natural_frequency: Hertz(31.6), damping: 0.05, measured: false };
    let (better, worse) = mount.bands();
    assert!(worse.contains(&Band::from_nominal("31.5").unwrap()));
    assert!(better.contains(&Band::HZ_100) && !better.contains(&Band::FIRST));
    assert!(Band::all().all(|b| mount.improvement(b).0 <= 25.0));
    let measured = Mounting { measured: true, ..mount };
    assert!(measured.improvement(Band::HZ_4000).0 > 25.0);
}

fn room(finish: &str, area: f64) -> Room {
    Room {
        id: "room".into(),
        title: None,
        storey: 0,
        outline: None,
        height: Some(Metre(2.5)),
        volume: CubicMetre(50.0),
        floor_area: SquareMetre(20.0),
        outdoors: false,
        distance: None,
        absorption: Absorption::Finishes(vec![
            Surface { finish: finish.into(), area: SquareMetre(area) },
            Surface { finish: "painted concrete".into(), area: SquareMetre(85.0 - area) },
        ]),
        background: None,
        standpoint: Standpoint::default(),
    }
}

#[test]
fn sabine_in_live_rooms_and_eyring_in_dead_ones() {
    // 1 kHz, 85 m² of surface. Live: 5 m² of mineral wool at 0.82 and 80 m² at 0.02 is 5.7 m² by
    // Sabine. Dead: 60 m² at 0.82 and 25 at 0.02 is 49.7 m² by Sabine, ᾱ 0.585, and
    // −85 ln(1 − 0.585) = 74.7 m² by Eyring.
    let air = Air::default();
    let in_air = 4.0 * air.power_attenuation(Band::HZ_1000.centre()) * 50.0;
    let coefficient = wythe_building::finish::finish("mineral wool 50 mm")
        .unwrap()
        .coefficient(Band::HZ_1000)
        .mean;
    let area = |r: &Room| r.absorption_area(air).0.get(Band::HZ_1000).unwrap().0 - in_air;
    let sum = |m2: f64| m2 * coefficient + (85.0 - m2) * 0.02;
    assert!((area(&room("mineral wool 50 mm", 5.0)) - sum(5.0)).abs() < 1e-9);
    let eyring = -85.0 * (1.0 - sum(60.0) / 85.0).ln();
    assert!((area(&room("mineral wool 50 mm", 60.0)) - eyring).abs() < 1e-9);
    // The doubt between the two is part of the spread.
    let spread = |r: &Room| -> Spectrum<f64> { r.absorption_spread(air) };
    let dead = spread(&room("mineral wool 50 mm", 60.0)).get(Band::HZ_1000).unwrap();
    assert!(dead > 0.5 * (eyring - sum(60.0)) / (eyring + in_air) - 1e-9, "{dead}");
}

#[test]
fn modes_are_listed_with_their_pitch() {
    let mut box_room = room("brick", 40.0);
    box_room.outline = Some(wythe_building::outline::Outline::new(
        [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]
            .map(|(x, y)| wythe_building::outline::Point::at(x, y))
            .to_vec(),
    ));
    let modes = box_room.modes_with_pitch(Hertz(100.0), Air::default());
    // 4 x 3 x 2.5 m: 8 modes to 100 Hz, the first at 42.9 Hz a little under F1.
    assert_eq!(modes.len(), 8);
    assert_eq!(modes[0].1.as_ref().unwrap().0, "F1");
    assert!(box_room.low_frequency_statement(Air::default()).unwrap().contains("Hz single modes"));
}
