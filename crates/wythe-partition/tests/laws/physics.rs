//! Laws of sound in walls.

use wythe_bands::{Air, Band, Hertz, Standing, SurfaceMass};
use wythe_partition::{
    Conditions, FrameKind, Joint, Layer, Mount, MountKind, PathKind, Side, limits, methods_for,
    normal_mass_law, predict, rank_inputs,
};

use crate::walls::{at, board, cavity, frame, joined, predicted, wall, weighing};

#[test]
fn paths_add_up_to_the_whole() {
    let p = predicted(vec![
        board("gypsum board", 12.5, 2),
        cavity(100.0, 60.0, Some(frame(FrameKind::TimberStuds, 600.0))),
        board("gypsum board", 12.5, 1),
    ]);
    assert!(p.paths.len() >= 3);
    for (band, whole) in p.reduction.iter() {
        let sum: f64 =
            p.paths.iter().map(|path| path.reduction.get(band).unwrap().transmittance().0).sum();
        assert!((sum.min(1.0) / whole.transmittance().0 - 1.0).abs() < 1e-9, "{band}");
        assert!(p.paths.iter().all(|x| x.reduction.get(band).unwrap().0 >= whole.0 - 1e-9));
    }
    let alone = p.without(PathKind::Studs).without(PathKind::Perimeter);
    assert!((at(&alone, "500") - p.paths[0].reduction.get(Band::HZ_500).unwrap().0).abs() < 1e-9);
}

#[test]
fn more_mass_never_lowers_the_mass_law() {
    for f in [50.0, 500.0, 5000.0] {
        let r = |m| normal_mass_law(SurfaceMass(m), Hertz(f), Air::default()).0;
        assert!((1..50).all(|m| r(f64::from(m) + 1.0) > r(f64::from(m))));
        // Twice the mass, six decibels, once the mass counts at all.
        assert!((r(800.0) - r(400.0) - 6.02).abs() < 0.02);
    }
}

#[test]
fn a_wall_turned_round_is_the_same_wall() {
    let layers = vec![
        board("gypsum board", 12.5, 1),
        cavity(70.0, 40.0, Some(frame(FrameKind::LightSteelStuds, 600.0))),
        board("plywood", 12.0, 2),
        cavity(120.0, 60.0, None),
        board("gypsum board", 15.0, 2),
    ];
    let mut turned = layers.clone();
    turned.reverse();
    let (a, b) = (predicted(layers), predicted(turned));
    for (band, r) in a.reduction.iter() {
        assert!((r.0 - b.reduction.get(band).unwrap().0).abs() < 0.02, "{band} {}", r.0);
    }
}

#[test]
fn the_same_boards_do_more_outside_than_in_the_middle_at_low_bands() {
    // The law the remedy search must not forget: reference Mahn, Skoda & Cunha 2024 (abstract).
    let middle = predicted(vec![
        board("gypsum board", 15.9, 1),
        cavity(90.0, 60.0, None),
        board("gypsum board", 15.9, 2),
        cavity(90.0, 60.0, None),
        board("gypsum board", 15.9, 1),
    ]);
    let outside = predicted(vec![
        board("gypsum board", 15.9, 2),
        cavity(180.0, 120.0, None),
        board("gypsum board", 15.9, 2),
    ]);
    for band in ["63", "80", "100"] {
        assert!(at(&outside, band) > at(&middle, band) + 3.0, "{band}");
    }
    assert!(middle.remarks.iter().any(|r| r.code == "partition::third-leaf"));
    assert!(outside.resonances[0].0 < middle.resonances[0].0);
    assert_eq!(middle.resonances.len(), 2);
}

#[test]
fn a_leaf_close_to_an_existing_wall_costs_low_bands() {
    // An existing wall of two heavy leaves well apart; a board in front of it on 20 mm battens
    // resonates at 157 Hz: 60 √((11.1 + 22.3)/(11.1 · 22.3 · 0.02)).
    let old = vec![
        board("gypsum board", 15.9, 2),
        cavity(200.0, 100.0, None),
        board("gypsum board", 15.9, 2),
    ];
    let mut close = old.clone();
    close.extend([cavity(20.0, 0.0, None), board("gypsum board", 15.9, 1)]);
    let (old, close) = (predicted(old), predicted(close));
    let change = |b: &str| at(&close, b) - at(&old, b);
    // A fifth more mass, and yet less reduction about the resonance: clearly less, as tests of walls of
    // three leaves say (Mahn, Skoda & Cunha 2024, abstract).
    assert!(["160", "200"].iter().all(|b| change(b) < -2.0), "{} {}", change("160"), change("200"));
    let moved = predicted(vec![
        board("gypsum board", 15.9, 2),
        cavity(220.0, 100.0, None),
        board("gypsum board", 15.9, 3),
    ]);
    for band in ["125", "160", "200"] {
        assert!(at(&moved, band) > at(&close, band) + 1.5, "{band}: {}", at(&moved, band));
    }
}

#[test]
fn a_third_leaf_at_25_mm_loses_at_low_bands_what_the_same_board_outside_gains() {
    let of = |d: f64, outer: u32| {
        vec![
            board("gypsum board", 15.9, 2),
            cavity(d, 100.0, None),
            board("gypsum board", 15.9, outer),
        ]
    };
    let old = predicted(of(200.0, 2));
    let mut third = of(200.0, 2);
    third.extend([cavity(25.0, 0.0, None), board("gypsum board", 15.9, 1)]);
    let (third, outside) = (predicted(third), predicted(of(200.0, 3)));
    // The new pair resonates at 140 Hz: 60 √((11.1 + 22.3)/(11.1 · 22.3 · 0.025)).
    assert!((130.0..150.0).contains(&third.resonances[1].0), "{:?}", third.resonances);
    assert!(["125", "160"].iter().any(|b| at(&third, b) < at(&old, b) - 2.0));
    for band in ["125", "160"] {
        assert!(at(&outside, band) > at(&old, band) + 2.0, "{band}");
        assert!(at(&outside, band) > at(&third, band) + 2.0, "{band}");
    }
}

#[test]
fn a_light_lining_gives_nothing_far_below_its_resonance() {
    // What a heavy wall radiates by its own free waves a light lining lets through as it does the rest.
    let bare = predicted(vec![board("brick", 225.0, 1)]);
    let lined = predicted(vec![
        board("brick", 225.0, 1),
        cavity(13.0, 0.0, None),
        board("gypsum board", 12.5, 1),
    ]);
    let of = |p: &wythe_partition::Prediction| at(&p.without(PathKind::Perimeter), "50");
    assert!((of(&lined) - of(&bare)).abs() < 1.5, "{} {}", of(&lined), of(&bare));
}

#[test]
fn a_lining_on_a_heavy_wall_loses_at_its_resonance_and_gains_above() {
    let bare = predicted(vec![board("dense block", 140.0, 1)]);
    let lined = predicted(vec![
        board("dense block", 140.0, 1),
        cavity(50.0, 50.0, None),
        board("gypsum board", 12.5, 1),
    ]);
    // f₀ of 8.8 kg/m² on 50 mm of wool before 280 kg/m²: near 80 Hz.
    assert!((60.0..110.0).contains(&lined.resonances[0].0), "{:?}", lined.resonances);
    // The perimeter path bounds both, so airborne is compared.
    let of =
        |p: &wythe_partition::Prediction, band: &str| at(&p.without(PathKind::Perimeter), band);
    let around = ["63", "80", "100"].iter().map(|b| of(&lined, b) - of(&bare, b));
    assert!(around.fold(f64::INFINITY, f64::min) < 2.0);
    for band in ["400", "800"] {
        assert!(of(&lined, band) > of(&bare, band) + 10.0, "{band}");
    }
}

#[test]
fn joints_of_a_stack_move_coincidence_and_damping() {
    let of = |joint| predicted(vec![joined("gypsum board", 12.5, 2, joint)]);
    let (screwed, bonded, damped) =
        (of(Joint::Screwed), of(Joint::Bonded), of(Joint::DampingLayer));
    assert!((screwed.critical[0].0 / bonded.critical[0].0 - 2.0).abs() < 0.01);
    assert!(damped.critical[0].0 > bonded.critical[0].0);
    assert!(damped.critical[0].0 <= screwed.critical[0].0 * 1.001);
    // In the dip of the glued plate the damped one is better by its loss factor.
    let dip = Band::holding(bonded.critical[0]).unwrap().nominal();
    assert!(at(&damped, dip) > at(&bonded, dip) + 3.0);
}

#[test]
fn softer_ties_help_and_short_circuits_hurt() {
    let with = |kind, mount| {
        let mut f = frame(kind, 400.0);
        f.mount = mount;
        predicted(vec![
            board("gypsum board", 15.9, 1),
            cavity(102.0, 90.0, Some(f)),
            board("gypsum board", 15.9, 1),
        ])
    };
    let channel = Some(Mount { kind: MountKind::ResilientChannel, side: Side::B });
    let clips = Some(Mount { kind: MountKind::IsolationClips, side: Side::B });
    let direct = with(FrameKind::TimberStuds, None);
    let steel = with(FrameKind::LightSteelStuds, None);
    let load_bearing = with(FrameKind::LoadBearingSteelStuds, None);
    let soft = with(FrameKind::TimberStuds, channel);
    let clipped = with(FrameKind::TimberStuds, clips);
    let split = with(FrameKind::SeparateTimberStuds, None);
    for band in ["250", "500", "1000"] {
        assert!(at(&steel, band) > at(&load_bearing, band), "{band}");
        // Thick steel ties about as firmly as timber with its screws.
        assert!((at(&load_bearing, band) - at(&direct, band)).abs() < 4.0, "{band}");
        // Near its own resonance with the leaves a channel buys little.
        let least = if band == "250" { 0.5 } else { 3.0 };
        assert!(at(&soft, band) > at(&direct, band) + least, "{band}");
        assert!(at(&clipped, band) >= at(&soft, band), "{band}");
        assert!(at(&split, band) > at(&direct, band) + 6.0, "{band}");
    }
    let mut faulty = wall(vec![
        board("gypsum board", 15.9, 1),
        cavity(102.0, 90.0, Some(frame(FrameKind::SeparateTimberStuds, 400.0))),
        board("gypsum board", 15.9, 1),
    ]);
    faulty.rigid_bridges_per_m2 = 1.0;
    let faulty = predict(&faulty, &Conditions::default()).unwrap();
    assert!(at(&faulty, "500") < at(&split, "500") - 3.0);
    assert!(faulty.paths.iter().any(|p| p.kind == PathKind::Bridges));
}

#[test]
fn thicker_steel_and_closer_studs_carry_more() {
    let studs = |gauge, spacing| {
        let mut f = frame(FrameKind::LightSteelStuds, spacing);
        f.gauge = Some(gauge);
        let p = predicted(vec![
            board("gypsum board", 12.5, 2),
            cavity(92.0, 90.0, Some(f)),
            board("gypsum board", 12.5, 2),
        ]);
        p.paths.iter().find(|x| x.kind == PathKind::Studs).unwrap().reduction
    };
    let r = |gauge, spacing| studs(gauge, spacing).get(Band::HZ_500).unwrap().0;
    assert!(r(25, 600.0) > r(20, 600.0) && r(20, 600.0) > r(16, 600.0));
    assert!(r(25, 600.0) > r(25, 300.0));
}

#[test]
fn a_corrugated_sheet_is_weak_over_octaves_where_the_flat_one_is_not() {
    let flat = predicted(vec![weighing("steel sheet", 1.0, 7.8)]);
    let waves = predicted(vec![weighing("corrugated steel sheet", 1.0, 8.5)]);
    assert!(["2000", "4000"].iter().all(|b| at(&waves, b) < at(&flat, b) - 2.0));
    assert_eq!(waves.method, "layered_media");
}

#[test]
fn what_is_unknown_widens_the_interval_and_is_ranked() {
    let layers = vec![
        board("gypsum board", 12.5, 1),
        cavity(90.0, 60.0, Some(frame(FrameKind::TimberStuds, 600.0))),
        board("gypsum board", 12.5, 1),
    ];
    let known = wall(layers.clone());
    let mut unknown = known.clone();
    unknown.standpoint.standing = Standing::Unknown;
    let c = Conditions::default();
    let (a, b) = (predict(&known, &c).unwrap(), predict(&unknown, &c).unwrap());
    assert_eq!(a.reduction, b.reduction);
    assert!(Band::results().all(|x| b.deviation.get(x) > a.deviation.get(x)));
    let ranked = rank_inputs(&unknown, &c).unwrap();
    assert!(ranked.len() >= 6);
    assert!(ranked.windows(2).all(|w| w[0].moves >= w[1].moves));
    assert!(ranked.iter().any(|e| e.input.contains("stiffness of gypsum board")));
}

#[test]
fn limits_are_said_in_words_and_cover_the_results() {
    let layers = vec![
        board("gypsum board", 12.5, 1),
        cavity(90.0, 60.0, Some(frame(FrameKind::TimberStuds, 600.0))),
        board("gypsum board", 12.5, 1),
    ];
    let said = limits(&predicted(layers));
    assert_eq!(said.first().unwrap().from, Band::HZ_50);
    assert_eq!(said.last().unwrap().to, Band::HZ_5000);
    assert!(said[0].words.contains("mass-air-mass resonance at"), "{}", said[0].words);
    assert!(said.iter().any(|l| l.words.contains("frame between the leaves")));
    let single = limits(&predicted(vec![board("glass", 6.0, 1)]));
    assert!(single.iter().any(|l| l.words.contains("coincidence of the boards at 2.1 kHz")));
}

#[test]
fn the_method_used_is_the_first_that_applies() {
    for layers in [
        vec![board("glass", 6.0, 1)],
        vec![board("concrete", 150.0, 1)],
        vec![
            board("gypsum board", 12.5, 1),
            cavity(90.0, 0.0, None),
            board("gypsum board", 12.5, 1),
        ],
        vec![weighing("corrugated steel sheet", 1.0, 8.5)],
    ] {
        let wall = wall(layers);
        let p = predict(&wall, &Conditions::default()).unwrap();
        let methods = methods_for(&wall);
        assert_eq!(p.method, methods[0].name);
        let r = methods[0].reduction(&wall, &Conditions::default()).unwrap();
        // Nine frequencies in place of five at least: the same to a few tenths.
        let band = Band::HZ_500;
        assert!((r.get(band).unwrap().0 - p.reduction.get(band).unwrap().0).abs() < 0.3);
        for m in methods {
            assert!(m.applies(&wall) && m.reduction(&wall, &Conditions::default()).is_ok());
        }
    }
}

#[test]
fn a_smaller_pane_keeps_back_more_at_low_bands() {
    let wall = wall(vec![board("gypsum board", 12.5, 1)]);
    let of = |m2| {
        let c = Conditions { area: wythe_bands::SquareMetre(m2), ..Conditions::default() };
        predict(&wall, &c).unwrap()
    };
    assert!(at(&of(2.0), "63") > at(&of(20.0), "63") + 1.0);
}

/// A floating slab on a resilient layer stands on s′, not on the air in it: f₀ = (1/2π) √(s′ (1/m₁ + 1/m₂)),
/// the 160 √(s′/m′) of practice with s′ in MN/m³. Below it nothing is gained, above it much.
#[test]
fn a_floating_slab_stands_on_the_dynamic_stiffness_of_its_layer() {
    let slab = || board("concrete", 150.0, 1);
    let bare = predicted(vec![slab()]);
    let on = |fill: &str| {
        let mut layer = cavity(20.0, 20.0, None);
        if let Layer::Cavity(c) = &mut layer {
            c.fill.as_mut().unwrap().material = fill.to_owned();
            c.fill.as_mut().unwrap().flow_resistivity = None;
        }
        predicted(vec![board("concrete", 60.0, 1), layer, slab()])
    };
    let wool = on("floor-grade mineral wool");
    let (m1, m2) = (2300.0 * 0.06, 2300.0 * 0.15);
    let stiffness: f64 = 0.3e6 / 0.02;
    let f0 = (stiffness * (1.0 / m1 + 1.0 / m2)).sqrt() / (2.0 * std::f64::consts::PI);
    assert!((wool.resonances[0].0 / f0 - 1.0).abs() < 1e-9);
    assert!((f0 / (160.0 * (15.0 * (1.0 / m1 + 1.0 / m2)).sqrt()) - 1.0).abs() < 0.01);
    assert!(at(&wool, "500") > at(&bare, "500") + 10.0);
    // A stiffer mat resonates higher and gains less.
    let rubber = on("rubber granulate mat");
    assert!(rubber.resonances[0].0 > 1.3 * wool.resonances[0].0);
    assert!(at(&rubber, "125") < at(&wool, "125"));
}
