//! The wait for one build-up after a layer was changed: seven layers, 28 bands, five frequencies
//! each, integrated over all angles. To stay under 300 µs on one core.

use wythe_bands::{FlowResistivity, Metre, Standpoint};
use wythe_partition::{
    Board, BuildUp, Cavity, Conditions, Construction, Fill, Frame, FrameKind, Joint, Layer, predict,
};

fn main() {
    divan::main();
}

fn board(mm: f64, count: u32) -> Layer {
    Layer::Board(Board {
        material: "gypsum board".to_owned(),
        thickness: Metre(mm / 1000.0),
        count,
        joined: Joint::Screwed,
        surface_mass: None,
        standpoint: Standpoint::default(),
        own: None,
    })
}

fn cavity(mm: f64, fill_mm: f64, frame: Option<FrameKind>) -> Layer {
    Layer::Cavity(Cavity {
        depth: Metre(mm / 1000.0),
        fill: (fill_mm > 0.0).then(|| Fill {
            material: "mineral wool".to_owned(),
            depth: Metre(fill_mm / 1000.0),
            flow_resistivity: Some(FlowResistivity(8000.0)),
            own: None,
        }),
        frame: frame.map(|kind| Frame {
            kind,
            gauge: None,
            spacing: Metre(0.6),
            screw_spacing: None,
            mount: None,
        }),
        standpoint: Standpoint::default(),
    })
}

fn build_up(layers: Vec<Layer>) -> BuildUp {
    BuildUp {
        id: "bench".to_owned(),
        title: None,
        construction: Construction::Layers(layers),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: Standpoint::default(),
        boxes: Vec::new(),
    }
}

/// Three leaves of different sheets, two filled cavities: seven layers in the list.
#[divan::bench]
fn seven_layers(bencher: divan::Bencher) {
    let wall = build_up(vec![
        board(15.0, 1),
        board(12.5, 1),
        cavity(90.0, 90.0, Some(FrameKind::LightSteelStuds)),
        board(12.5, 1),
        cavity(70.0, 70.0, Some(FrameKind::SeparateSteelStuds)),
        board(12.5, 1),
        board(15.0, 1),
    ]);
    let conditions = Conditions::default();
    bencher.bench(|| predict(divan::black_box(&wall), &conditions));
}

/// The commonest question: two leaves on one frame.
#[divan::bench]
fn stud_wall(bencher: divan::Bencher) {
    let wall = build_up(vec![
        board(12.5, 2),
        cavity(90.0, 60.0, Some(FrameKind::TimberStuds)),
        board(12.5, 2),
    ]);
    let conditions = Conditions::default();
    bencher.bench(|| predict(divan::black_box(&wall), &conditions));
}

/// One leaf.
#[divan::bench]
fn single_leaf(bencher: divan::Bencher) {
    let wall = build_up(vec![board(12.5, 1)]);
    let conditions = Conditions::default();
    bencher.bench(|| predict(divan::black_box(&wall), &conditions));
}
