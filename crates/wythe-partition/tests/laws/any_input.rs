//! Nothing a person can type makes it panic, hang, or return a number that is none.

use proptest::prelude::*;
use wythe_bands::{FlowResistivity, Metre, SquareMetre, Standing, SurfaceMass};
use wythe_partition::{
    Board, Cavity, Conditions, Fill, Frame, FrameKind, Joint, Layer, Mount, MountKind, Opening,
    OpeningKind, OpeningState, Seal, SealKind, Side, limits, predict, predict_opening, rank_inputs,
};

use crate::walls::wall;

/// Mostly plausible lengths, some absurd.
fn length() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 0.001..0.5f64,
        1 => prop::sample::select(vec![0.0, -1.0, 1e-9, 1e3, 1e300, f64::NAN, f64::INFINITY]),
    ]
}

fn name() -> impl Strategy<Value = String> {
    let all: Vec<String> =
        wythe_partition::catalogue().materials().iter().map(|m| m.name.clone()).collect();
    prop_oneof![12 => prop::sample::select(all), 1 => ".{0,12}"]
}

fn joint() -> impl Strategy<Value = Joint> {
    prop::sample::select(vec![Joint::Screwed, Joint::Bonded, Joint::DampingLayer])
}

fn a_board() -> impl Strategy<Value = Layer> {
    (name(), length(), 0u32..5, joint(), prop::option::of(length())).prop_map(
        |(material, h, count, joined, mass)| {
            Layer::Board(Board {
                material,
                thickness: Metre(h),
                count,
                joined,
                surface_mass: mass.map(|m| SurfaceMass(100.0 * m)),
                standpoint: Default::default(),
                own: None,
            })
        },
    )
}

fn a_frame() -> impl Strategy<Value = Frame> {
    let kind = prop::sample::select(vec![
        FrameKind::TimberStuds,
        FrameKind::StaggeredTimberStuds,
        FrameKind::SeparateTimberStuds,
        FrameKind::LightSteelStuds,
        FrameKind::LoadBearingSteelStuds,
        FrameKind::SeparateSteelStuds,
        FrameKind::CommonWindowFrame,
        FrameKind::SeparateWindowFrames,
    ]);
    let mount = prop::option::of(prop::sample::select(vec![
        MountKind::ResilientChannel,
        MountKind::IsolationClips,
    ]));
    (kind, prop::option::of(0u32..40), length(), prop::option::of(length()), mount).prop_map(
        |(kind, gauge, spacing, screws, mount)| Frame {
            kind,
            gauge,
            spacing: Metre(3.0 * spacing),
            screw_spacing: screws.map(Metre),
            mount: mount.map(|kind| Mount { kind, side: Side::A }),
        },
    )
}

fn a_cavity() -> impl Strategy<Value = Layer> {
    let fill = prop::option::of((0.0..1.2f64, prop::option::of(length())));
    (length(), fill, prop::option::of(a_frame())).prop_map(|(depth, fill, frame)| {
        Layer::Cavity(Cavity {
            depth: Metre(depth),
            fill: fill.map(|(share, sigma)| Fill {
                material: "mineral wool".to_owned(),
                depth: Metre(share * depth),
                flow_resistivity: sigma.map(|s| FlowResistivity(1e5 * s)),
                own: None,
            }),
            frame,
            standpoint: Default::default(),
        })
    })
}

fn layers() -> impl Strategy<Value = Vec<Layer>> {
    prop_oneof![
        3 => (a_board(), a_cavity(), a_board()).prop_map(|(a, b, c)| vec![a, b, c]),
        1 => a_board().prop_map(|a| vec![a]),
        1 => prop::collection::vec(prop_oneof![a_board(), a_cavity()], 0..8),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_number_or_a_message(
        layers in layers(), bridges in prop_oneof![4 => 0.0..3.0f64, 1 => Just(f64::NAN)],
        area in prop_oneof![5 => 0.5..50.0f64, 1 => Just(-1.0)], unknown in any::<bool>(),
    ) {
        let mut w = wall(layers);
        w.rigid_bridges_per_m2 = bridges;
        if unknown {
            w.standpoint.standing = Standing::Unknown;
        }
        let c = Conditions { area: SquareMetre(area), ..Conditions::default() };
        match predict(&w, &c) {
            Ok(p) => {
                prop_assert_eq!(p.reduction.len(), 28);
                for (band, r) in p.reduction.iter() {
                    prop_assert!((0.0..=160.1).contains(&r.0), "{}: {}", band, r.0);
                    let sd = p.deviation.get(band).unwrap().0;
                    prop_assert!(sd.is_finite() && sd > 0.0);
                }
                prop_assert!(p.resonances.iter().chain(&p.critical).all(|f| f.0.is_finite()));
                prop_assert!(!limits(&p).is_empty());
                // An input may be moved past a limit, which is a message too.
                let _ = rank_inputs(&w, &c);
            }
            Err(e) => prop_assert!(!e.to_string().is_empty() && e.code().starts_with("partition::")),
        }
    }

    #[test]
    fn an_opening_or_a_message(
        layers in layers(), w in length(), h in length(), gap in length(), ajar in length(),
        state in 0..4u8, keyhole in any::<bool>(),
    ) {
        let seal = Seal { kind: SealKind::Brush, gap: Metre(0.02 * gap) };
        let o = Opening {
            id: "o".into(), title: None, kind: OpeningKind::Hatch, leaf: Some(wall(layers)),
            width: Metre(4.0 * w), height: Metre(4.0 * h), head: seal, jambs: seal, sill: seal,
            keyhole,
            state: match state {
                0 => OpeningState::Closed,
                1 => OpeningState::Open,
                2 => OpeningState::Ajar(Metre(ajar)),
                _ => OpeningState::Taped,
            },
            standpoint: Default::default(),
            letter_plate: None,
        second: None,
        };
        if let Ok(p) = predict_opening(&o, &Conditions::default()) {
            for part in &p.parts {
                prop_assert!(part.coupling.iter().all(|(_, t)| t.0.is_finite() && t.0 >= 0.0));
            }
        }
    }
}
