//! Linings on a heavy wall against two tables of single numbers.

use wythe_bands::{LevelDifference, Spectrum};
use wythe_partition::{FrameKind, Layer, Mount, MountKind, Side};
use wythe_rating::{Curve, Midband, Options, Resolution, iso717};

use crate::support::{fields, stc};
use crate::walls::{board, cavity, frame, predicted, weighing};

/// A block wall of R_w 50 and STC 50; how thick the one of Table 31.5 was is not handed down.
fn block() -> Layer {
    weighing("hollow block", 200.0, 230.0)
}

fn rw(r: &Spectrum<LevelDifference>) -> f64 {
    let pairs = r.iter().filter_map(|(b, r)| Some((Midband::from_nominal(b.nominal())?, r.0)));
    let curve = Curve::from_pairs(Resolution::Thirds, pairs);
    iso717::airborne(&curve, &Options::default()).unwrap().value.unwrap().tenths.0 as f64 / 10.0
}

fn furring(mm: f64, fill_mm: f64, kind: FrameKind, mount: Option<MountKind>) -> Layer {
    let mut held = frame(kind, 600.0);
    held.mount = mount.map(|kind| Mount { kind, side: Side::B });
    cavity(mm, fill_mm, Some(held))
}

/// Harris 1991, Table 31.5 (the rows of kind `lined` of lab_tl.csv; STC only, nothing is fitted on
/// them): a bare wall of STC 50 with linings. Within 5, and right in the mean by 2.5.
#[test]
fn harris_1991_table_31_5() {
    let (timber, steel) = (FrameKind::TimberStuds, FrameKind::SeparateSteelStuds);
    let channel = Some(MountKind::ResilientChannel);
    let cases = [
        ("40_mm_wood_furring_one_side_no_fill", furring(40.0, 0.0, timber, None), false),
        ("13_mm_resilient_channels_one_side_no_fill", furring(13.0, 0.0, timber, channel), false),
        (
            "13_mm_resilient_channels_one_side_glass_fibre",
            furring(13.0, 13.0, timber, channel),
            false,
        ),
        (
            "13_mm_resilient_channels_both_sides_glass_fibre",
            furring(13.0, 13.0, timber, channel),
            true,
        ),
        (
            "50_mm_resilient_furring_one_side_glass_fibre",
            furring(50.0, 50.0, timber, channel),
            false,
        ),
        (
            "50_mm_resilient_furring_both_sides_glass_fibre",
            furring(50.0, 50.0, timber, channel),
            true,
        ),
        ("65_mm_steel_studs_one_side_no_fill", furring(65.0, 0.0, steel, None), false),
        (
            "75_mm_resilient_furring_one_side_glass_fibre",
            furring(75.0, 75.0, timber, channel),
            false,
        ),
    ];
    let mut lines = include_str!("../data/lab_tl.csv").lines().filter(|l| !l.starts_with('#'));
    let header = fields(lines.next().unwrap());
    let column = header.iter().position(|h| h == "stc_published").unwrap();
    let rows: Vec<Vec<String>> = lines.map(fields).collect();
    assert!((stc(&predicted(vec![block()]).reduction).unwrap() - 50.0).abs() <= 1.0);
    let mut errors = Vec::new();
    for (id, gap, both) in cases {
        let row = rows.iter().find(|r| r[0] == format!("harr31_5_{id}")).unwrap();
        let published: f64 = row[column].parse().unwrap();
        let mut layers = vec![block(), gap.clone(), board("gypsum board", 12.5, 1)];
        if both {
            layers.splice(0..0, [board("gypsum board", 12.5, 1), gap]);
        }
        let error = stc(&predicted(layers).reduction).unwrap() - published;
        assert!(error.abs() <= 5.5, "{id}: {error:+.0}");
        errors.push(error);
    }
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    assert!(mean.abs() <= 2.5, "{mean:+.1}");
}

/// ISO 12354-1:2017, Annex D, ΔR_w of a lining by its resonance f₀ (from memory): 35 − R_w/2 to 80 Hz,
/// 32 − R_w/2 at 100 Hz, 30 − R_w/2 at 125 Hz, 28 − R_w/2 at 160 Hz, −1 dB at 200 Hz.
///
/// DIFFERS: from 250 Hz the table falls to −3 dB and to −10 dB at 630 Hz; a filled gap of a few
/// millimetres damps its resonance here and loses nothing.
#[test]
fn iso_12354_1_annex_d_improvement_by_resonance() {
    let bare = rw(&predicted(vec![block()]).reduction);
    let table = [
        (80.0, 35.0 - bare / 2.0),
        (100.0, 32.0 - bare / 2.0),
        (125.0, 30.0 - bare / 2.0),
        (160.0, 28.0 - bare / 2.0),
        (200.0, -1.0),
    ];
    for (f0, printed) in table {
        let at = |mm: f64| {
            predicted(vec![block(), cavity(mm, mm, None), board("gypsum board", 12.5, 1)])
        };
        // The depth whose resonance is f₀: it goes with the root of 1/d.
        let mm = 30.0 * (at(30.0).resonances[0].0 / f0).powi(2);
        let p = at(mm);
        assert!((p.resonances[0].0 / f0 - 1.0).abs() < 0.01, "{mm} mm");
        let gained = rw(&p.reduction) - bare;
        assert!((gained - printed).abs() <= 3.0, "f₀ {f0}: {gained:+.0} against {printed:+.1}");
    }
}
