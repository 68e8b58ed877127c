//! `meas_31`: a worked uncertainty calculated independently for this project (GUM propagation).

use std::collections::HashMap;

use wythe_bands::{Band, CubicMetre, Level, LevelDifference, Seconds, Spectrum, SquareMetre};
use wythe_fieldtest::{Decay, Position, SourcePosition, Survey, average, measure};

use crate::table::read;

#[test]
fn meas_31_uncertainty() {
    let rows: HashMap<String, String> = read("meas_31_uncertainty.csv")
        .into_iter()
        .map(|r| (r["item"].clone(), r["value"].clone()))
        .collect();
    let list = |name: &str| -> Vec<f64> {
        rows[name].split_whitespace().map(|v| v.parse().unwrap()).collect()
    };
    let want = |name: &str| list(name)[0];
    let band = Band::HZ_500;
    let levels = |name: &str| list(name).into_iter().map(Level).collect::<Vec<_>>();
    for (name, l, u) in
        [("L_source_positions", "L1", "u_L1"), ("L_receive_positions", "L2", "u_L2")]
    {
        let got = average(levels(name), band, None).unwrap();
        assert!((got.level.0 - want(l)).abs() < 1e-9);
        assert!((got.uncertainty.0 - want(u)).abs() < 1e-9);
    }
    let t = list("T_decays");
    let n = t.len() as f64;
    let mean = t.iter().sum::<f64>() / n;
    let u_t = (t.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt();
    assert!((mean - want("T")).abs() < 1e-9 && (u_t - want("u_T")).abs() < 1e-9);
    let positions = |name: &str| {
        levels(name)
            .into_iter()
            .map(|l| {
                let at = |l: Level| -> Spectrum<Level> { [(band, l)].into_iter().collect() };
                Position::new("p", at(l)).over(at(Level(10.0)))
            })
            .collect()
    };
    let survey = Survey {
        runs: vec![SourcePosition {
            source: positions("L_source_positions"),
            receiving: positions("L_receive_positions"),
            ..SourcePosition::default()
        }],
        source_volume: Some(CubicMetre(60.0)),
        receiving_volume: Some(CubicMetre(want("V_m3"))),
        common_area: Some(SquareMetre(want("S_m2"))),
        decay: Some(Decay {
            times: [(band, (Seconds(mean), Some(Seconds(u_t))))].into_iter().collect(),
            octave_63: None,
        }),
        source_calibration: LevelDifference(0.2),
        receiving_calibration: LevelDifference(0.2),
        calibration_correlation: 0.0,
        geometry: 0.02,
    };
    let got = measure(&survey).unwrap();
    let close = |ours: Option<LevelDifference>, name: &str| {
        let ours = ours.unwrap().0;
        assert!((ours - want(name)).abs() < 1e-9, "{name}: {ours} {}", want(name));
    };
    close(got.difference.get(band), "D");
    close(got.uncertainty.get(band), "u_D");
    close(got.standardized.get(band), "DnT");
    close(got.standardized_uncertainty.get(band), "u_DnT");
    close(got.apparent_reduction.get(band), "Rprime");
    close(got.apparent_reduction_uncertainty.get(band), "u_Rprime");
    let u95 = 1.96 * got.apparent_reduction_uncertainty.get(band).unwrap().0;
    assert!((u95 - want("U95_Rprime_k1.96")).abs() < 1e-9);
    assert!(got.refusals.is_empty());
}
