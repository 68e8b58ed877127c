//! ISO 16283, ISO 10140-4, ISO 3382-2. The source of each case stands in the head of
//! `tests/data/ratings_field.csv`.

use crate::rows::{Case, cases};
use wythe_bands::{Band, CubicMetre, Level, LevelDifference, Seconds, Spectrum, SquareMetre};
use wythe_rating::field::{self, BackgroundRule, BackgroundVerdict};

fn spectrum<T: Copy>(case: &Case, name: &str, make: impl Fn(f64) -> T) -> Spectrum<T> {
    case.inputs[name].iter().map(|(b, v)| (Band::from_nominal(b).unwrap(), make(*v))).collect()
}

#[test]
fn every_row() {
    let cases = cases(include_str!("../data/ratings_field.csv"));
    for case in &cases {
        match case.options["procedure"].as_str() {
            "bg16283" => background(case, BackgroundRule::Iso16283),
            "bg10140" => background(case, BackgroundRule::Iso10140),
            "energy-mean" => {
                let positions: Vec<Spectrum<Level>> = case.inputs["L"]
                    .iter()
                    .map(|(_, l)| [(Band::HZ_500, Level(*l))].into_iter().collect())
                    .collect();
                let mean = field::mean_over_positions(&positions).get(Band::HZ_500).unwrap();
                assert_eq!(case.outputs.len(), 1);
                case.outputs[0].check(&case.name, mean.0);
            }
            "field" => quantities(case),
            "lf16283" => low_frequency(case),
            "decay" => {
                for expected in &case.outputs {
                    let computed = match expected.name.as_str() {
                        "C_percent" => field::decay_curvature(
                            Seconds(case.scalar("T20")),
                            Seconds(case.scalar("T30")),
                        )
                        .unwrap(),
                        "xi_permille" => field::decay_nonlinearity(case.scalar("r")).unwrap(),
                        other => panic!("no test for {other}"),
                    };
                    expected.check(&case.name, computed);
                }
            }
            other => panic!("no test for {other}"),
        }
    }
    assert_eq!(cases.len(), 10);
}

fn background(case: &Case, rule: BackgroundRule) {
    let freed =
        field::free_spectrum(&spectrum(case, "Lsb", Level), &spectrum(case, "Lb", Level), rule)
            .unwrap();
    for expected in &case.outputs {
        let band = freed.get(Band::from_nominal(&expected.band).unwrap()).unwrap();
        let limit = f64::from(u8::from(band.verdict == BackgroundVerdict::Limit));
        let computed = match expected.name.as_str() {
            "L" => band.level.0,
            "limit" => limit,
            other => panic!("no test for {other}"),
        };
        expected.check(&case.name, computed);
    }
}

fn quantities(case: &Case) {
    let d = field::difference(&spectrum(case, "L1", Level), &spectrum(case, "L2", Level));
    let time = spectrum(case, "T", Seconds);
    let area = field::absorption_area(CubicMetre(case.scalar("V")), &time).unwrap();
    let common = SquareMetre(case.scalar("S"));
    for expected in &case.outputs {
        let computed: Spectrum<LevelDifference> = match expected.name.as_str() {
            "D" => d,
            "DnT" => field::standardized(&d, &time).unwrap(),
            "Dn" => field::normalized(&d, &area).unwrap(),
            "Rp" => field::apparent_reduction(&d, common, &area).unwrap(),
            other => panic!("no test for {other}"),
        };
        let band = Band::from_nominal(&expected.band).unwrap();
        expected.check(&case.name, computed.get(band).unwrap().0);
    }
}

fn low_frequency(case: &Case) {
    let volume = CubicMetre(case.scalar("V"));
    for expected in &case.outputs {
        if expected.name == "applies" {
            let applies = field::needs_low_frequency_procedure(volume).unwrap();
            expected.check(&case.name, f64::from(u8::from(applies)));
            continue;
        }
        let corners: Vec<Spectrum<Level>> = ["q1_c1", "q1_c2", "q1_c3", "q1_c4"]
            .into_iter()
            .map(|c| spectrum(case, c, Level))
            .collect();
        let corner = field::corner_level(&[corners]);
        let l_lf = field::low_frequency_level(&spectrum(case, "Ldefault", Level), &corner);
        let band = Band::from_nominal(&expected.band).unwrap();
        let computed = match expected.name.as_str() {
            "Lcorner" => corner.get(band).unwrap().0,
            "LLF" => l_lf.get(band).unwrap().0,
            "DnT" => {
                let time =
                    field::low_frequency_time(&Spectrum::empty(), Seconds(case.scalar("T63")));
                let d = field::difference(&spectrum(case, "L1", Level), &l_lf);
                field::standardized(&d, &time).unwrap().get(band).unwrap().0
            }
            other => panic!("no test for {other}"),
        };
        expected.check(&case.name, computed);
    }
}

/// The energy taken off at a distance of 6 dB is the 1.3 dB of the limit (1.256 rounded), so the
/// rule has no step larger than that rounding.
#[test]
fn iso_16283_1_clause_9_2_meets_at_six_decibels() {
    let freed = |d: f64| {
        field::free_of_background(
            Band::HZ_500,
            Level(50.0),
            Level(50.0 - d),
            BackgroundRule::Iso16283,
        )
        .unwrap()
    };
    assert_eq!(freed(6.0).verdict, BackgroundVerdict::Limit);
    assert_eq!(freed(6.1).verdict, BackgroundVerdict::Corrected);
    assert_eq!(freed(10.0).verdict, BackgroundVerdict::Valid);
    // Levels to one decimal: 50.3 − 44.3 is 5.999 999 999 999 996 in binary.
    let typed =
        field::free_of_background(Band::HZ_500, Level(50.3), Level(44.3), BackgroundRule::Iso16283)
            .unwrap();
    assert_eq!(typed.verdict, BackgroundVerdict::Limit);
    assert!((freed(6.0).level.0 - freed(6.001).level.0).abs() < 0.05);
}

/// The corner procedure never lowers a level by more than 1.76 dB and leaves equal levels alone.
#[test]
fn iso_16283_1_formula_13_bounds() {
    let level = |l| [(Band::HZ_50, Level(l))].into_iter().collect::<Spectrum<Level>>();
    let lf = |l, c| field::low_frequency_level(&level(l), &level(c)).get(Band::HZ_50).unwrap().0;
    assert!((lf(60.0, 60.0) - 60.0).abs() < 1e-12);
    assert!((lf(60.0, -200.0) - (60.0 - 1.760_912_6)).abs() < 1e-6);
}
