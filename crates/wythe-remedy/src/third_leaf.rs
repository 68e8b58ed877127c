//! What a leaf in the middle costs, so that nobody builds one unknowingly.

use wythe_bands::{Band, Remark, SquareMetre};
use wythe_building::{Building, Change};
use wythe_findings::caution::load::rebuilds;
use wythe_partition::{
    BuildUp, Cavity, Conditions, Construction, Frame, FrameKind, Layer, predict,
};

/// Loss below which a leaf in the middle does no harm worth a word, dB.
const WORTH_A_WORD: f64 = 1.0;

/// Number of leaves; 0 where the layers are not known.
pub(crate) fn leaves(build_up: &BuildUp) -> usize {
    match &build_up.construction {
        Construction::Layers(layers) if !layers.is_empty() => {
            1 + layers.iter().filter(|l| matches!(l, Layer::Cavity(_))).count()
        }
        _ => 0,
    }
}

/// The same boards with the inner leaves moved to the last one and one cavity as deep as all.
fn without_middle(build_up: &BuildUp) -> Option<BuildUp> {
    let Construction::Layers(layers) = &build_up.construction else { return None };
    let mut first = Vec::new();
    let mut rest = Vec::new();
    let mut gap: Option<Cavity> = None;
    for layer in layers {
        match (layer, &mut gap) {
            (Layer::Board(_), None) => first.push(layer.clone()),
            (Layer::Board(_), Some(_)) => rest.push(layer.clone()),
            (Layer::Cavity(c), None) => gap = Some(c.clone()),
            (Layer::Cavity(c), Some(whole)) => {
                whole.depth.0 += c.depth.0;
                match (&mut whole.fill, &c.fill) {
                    (Some(a), Some(b)) => a.depth.0 += b.depth.0,
                    (None, Some(b)) => whole.fill = Some(b.clone()),
                    _ => {}
                }
                // The outer leaves would stand as far apart as the loosest of the frames lets them.
                if loose(&c.frame) && !loose(&whole.frame) {
                    whole.frame = c.frame.clone();
                }
            }
        }
    }
    let mut all = first;
    all.push(Layer::Cavity(gap?));
    all.extend(rest);
    Some(BuildUp { construction: Construction::Layers(all), ..build_up.clone() })
}

/// Whether a frame leaves the leaves apart.
fn loose(frame: &Option<Frame>) -> bool {
    frame.as_ref().is_none_or(|f| {
        matches!(
            f.kind,
            FrameKind::SeparateTimberStuds
                | FrameKind::SeparateSteelStuds
                | FrameKind::SeparateWindowFrames
        )
    })
}

/// What is lost, by band, when a change turns fewer leaves into three or more: against the same
/// boards in two leaves with one cavity as deep, from 50 to 315 Hz. `None` where nothing is lost
/// or the change makes no third leaf.
pub fn third_leaf(
    old: &BuildUp,
    new: &BuildUp,
    area: SquareMetre,
    place: &str,
) -> Option<(Band, f64, Remark)> {
    if leaves(new) < 3 || leaves(old) >= leaves(new) {
        return None;
    }
    let conditions = Conditions { area, ..Conditions::default() };
    let three = predict(new, &conditions).ok()?;
    let joined = without_middle(new)?;
    let two = predict(&joined, &conditions).ok()?;
    let before = predict(old, &conditions).ok();
    let low = || Band::all().filter(|b| b.centre().0 > 45.0 && b.centre().0 < 330.0);
    let (band, loss) = low()
        .filter_map(|b| Some((b, two.reduction.get(b)?.0 - three.reduction.get(b)?.0)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    if loss < WORTH_A_WORD {
        return None;
    }
    let worse = before.and_then(|p| {
        low()
            .filter_map(|b| Some((b, p.reduction.get(b)?.0 - three.reduction.get(b)?.0)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|(_, d)| *d > 0.5)
    });
    let than_now = worse.map_or_else(String::new, |(b, d)| {
        format!("; at {} Hz it would be {d:.0} dB worse than the wall is now", b.nominal())
    });
    let tied = |b: &BuildUp| match &b.construction {
        Construction::Layers(layers) => {
            layers.iter().filter(|l| matches!(l, Layer::Cavity(c) if !loose(&c.frame))).count()
        }
        Construction::Measured(_) => 0,
    };
    let apart = if tied(new) > 0 && tied(&joined) == 0 { " on frames of their own" } else { "" };
    let remark = Remark::new(
        "remedy::third-leaf",
        format!(
            "makes a leaf in the middle: at {} Hz it keeps back {loss:.0} dB less than the same \
             boards in two leaves{apart} with one cavity as deep{than_now}",
            band.nominal()
        ),
    )
    .at(place);
    Some((band, loss, remark))
}

/// Remarks on every rebuilding of a change that puts a leaf in the middle.
pub(crate) fn remarks(building: &Building, change: &Change) -> Vec<Remark> {
    rebuilds(change)
        .filter_map(|(b, new)| {
            let boundary = building.boundaries.get(b.0)?;
            let old = building.build_ups.get(boundary.build_up.0)?;
            let new = building.build_ups.get(new.0)?;
            let place = format!("{}, {}", change.title, boundary.name());
            third_leaf(old, new, boundary.net_area(), &place).map(|(_, _, r)| r)
        })
        .collect()
}
