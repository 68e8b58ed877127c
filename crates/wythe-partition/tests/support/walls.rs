//! Short ways to write a wall in a test.

#![allow(dead_code)]

use wythe_bands::{Band, FlowResistivity, Metre, Standpoint, SurfaceMass};
use wythe_partition::{
    Board, BuildUp, Cavity, Conditions, Construction, Fill, Frame, FrameKind, Joint, Layer,
    Prediction, predict,
};

pub(crate) fn board(material: &str, mm: f64, count: u32) -> Layer {
    joined(material, mm, count, Joint::Screwed)
}

pub(crate) fn joined(material: &str, mm: f64, count: u32, joined: Joint) -> Layer {
    Layer::Board(Board {
        material: material.to_owned(),
        thickness: Metre(mm / 1000.0),
        count,
        joined,
        surface_mass: None,
        standpoint: Standpoint::default(),
        own: None,
    })
}

pub(crate) fn weighing(material: &str, mm: f64, kg_m2: f64) -> Layer {
    match board(material, mm, 1) {
        Layer::Board(b) => Layer::Board(Board { surface_mass: Some(SurfaceMass(kg_m2)), ..b }),
        other => other,
    }
}

pub(crate) fn frame(kind: FrameKind, spacing_mm: f64) -> Frame {
    Frame {
        kind,
        gauge: None,
        spacing: Metre(spacing_mm / 1000.0),
        screw_spacing: None,
        mount: None,
    }
}

pub(crate) fn cavity(mm: f64, fill_mm: f64, frame: Option<Frame>) -> Layer {
    Layer::Cavity(Cavity {
        depth: Metre(mm / 1000.0),
        fill: (fill_mm > 0.0).then(|| Fill {
            material: "mineral wool".to_owned(),
            depth: Metre(fill_mm / 1000.0),
            flow_resistivity: Some(FlowResistivity(8000.0)),
            own: None,
        }),
        frame,
        standpoint: Standpoint::default(),
    })
}

pub(crate) fn wall(layers: Vec<Layer>) -> BuildUp {
    BuildUp {
        id: "wall".to_owned(),
        title: None,
        construction: Construction::Layers(layers),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: Standpoint::default(),
        boxes: Vec::new(),
    }
}

pub(crate) fn predicted(layers: Vec<Layer>) -> Prediction {
    predict(&wall(layers), &Conditions::default()).unwrap_or_else(|e| panic!("{e}"))
}

/// R in a band named by its nominal frequency.
pub(crate) fn at(p: &Prediction, band: &str) -> f64 {
    p.reduction.get(Band::from_nominal(band).unwrap()).unwrap().0
}
