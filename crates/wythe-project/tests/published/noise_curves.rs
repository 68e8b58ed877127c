//! Backgrounds stated as curves.

use wythe_bands::{Octave, weighting::Weighting};
use wythe_building::Building;
use wythe_project::{MemoryFiles, read};

fn background(curve: &str) -> Building {
    let text = format!(
        "wythe = 1\n[[room]]\nid = \"a\"\nvolume = \"40 m3\"\nheight = \"2.5 m\"\nbackground = \"{curve}\"\n"
    );
    let reading = read(&MemoryFiles::new().with("wythe.toml", text));
    assert_eq!(reading.errors, []);
    reading.project.unwrap().building
}

fn octaves(curve: &str, names: &[&str]) -> Vec<f64> {
    let levels = background(curve).rooms[0].background.unwrap().to_octaves();
    names.iter().map(|n| levels.get(Octave::from_nominal(n).unwrap()).unwrap().0).collect()
}

/// AS 1469:1983 (secondary): L = a + b N. NR 20 at 1 kHz is 20 by definition of the curves.
#[test]
fn nr_curves() {
    let found = octaves("NR 20", &["31.5", "63", "125", "1000", "8000"]);
    for (level, expected) in found.iter().zip([69.02, 51.3, 39.4, 20.0, 12.6]) {
        assert!((level - expected).abs() < 1e-9, "{level} {expected}");
    }
}

/// Classic NC table (secondary; identical in several public copies).
#[test]
fn nc_curves() {
    let names = ["63", "125", "250", "500", "1000", "2000", "4000", "8000"];
    for (curve, row) in [
        ("NC 15", [47.0, 36.0, 29.0, 22.0, 17.0, 14.0, 12.0, 11.0]),
        ("NC 20", [51.0, 40.0, 33.0, 26.0, 22.0, 19.0, 17.0, 16.0]),
        ("NC 40", [64.0, 56.0, 50.0, 45.0, 41.0, 39.0, 38.0, 37.0]),
    ] {
        for (found, expected) in octaves(curve, &names).iter().zip(row) {
            assert!((found - expected).abs() < 1e-9, "{curve}");
        }
    }
    // A-weighted sum of NC 20: 31.4 dB, computed apart from octaves; here from thirds.
    let a = background("NC 20").rooms[0].background.unwrap().weighted_total(Weighting::A).unwrap();
    assert!((a.0 - 31.4).abs() < 0.8, "{a:?}");
    // There is no NC value at 31.5 Hz, and none is made up.
    let levels = background("NC 20").rooms[0].background.unwrap();
    assert_eq!(levels.to_octaves().get(Octave::from_nominal("31.5").unwrap()), None);
}

/// Criteria in the words of the file.
#[test]
fn criteria_are_read() {
    use wythe_bands::Level;
    use wythe_building::{Criterion, DifferenceKind};
    let of = |text: &str| {
        let text = format!(
            "wythe = 1\n[[room]]\nid = \"a\"\nvolume = \"40 m3\"\n[[target]]\nroom = \"a\"\ncriterion = {text}\n"
        );
        let reading = read(&MemoryFiles::new().with("wythe.toml", text));
        reading.project.map(|p| p.building.targets[0].criterion.clone())
    };
    assert_eq!(of("\"NR 20\""), Some(Criterion::Nr(20.0)));
    assert_eq!(of("\"NC-25\""), Some(Criterion::Nc(25.0)));
    assert!(matches!(of("\"30 dBA\""), Some(Criterion::LevelA(l)) if l.0 == 30.0));
    assert!(matches!(of("\"45 dBC\""), Some(Criterion::LevelC(l)) if l.0 == 45.0));
    assert_eq!(of("\"not audible\""), Some(Criterion::NotAudible));
    assert!(matches!(
        of("\"DnT,w + C50-3150 >= 55\""),
        Some(Criterion::WeightedDifference { of: DifferenceKind::Standardized, least, term: Some(term), from: None })
            if least.0 == 55.0 && term == "C50-3150"
    ));
    assert!(matches!(
        of("\"DnT,w ≥ 60 dB\""),
        Some(Criterion::WeightedDifference { term: None, .. })
    ));
    for (text, kind) in [
        ("\"Dw >= 50\"", DifferenceKind::Plain),
        ("\"D >= 60 dBA\"", DifferenceKind::LevelA),
        ("\"D ≥ 60 dB(C)\"", DifferenceKind::LevelC),
    ] {
        let Some(Criterion::WeightedDifference { of, .. }) = of(text) else { panic!("{text}") };
        assert_eq!(of, kind);
    }
    for text in ["\"45 dB LAFmax\"", "\"LAFmax 45 dB\"", "\"45 dBA max\"", "\"LAFmax <= 45 dBA\""] {
        assert_eq!(of(text), Some(Criterion::MaximumA(Level(45.0))), "{text}");
    }
    for wrong in ["\"D >= 60 dB\"", "\"45 dBC max\"", "\"LAFmax\"", "\"D 60\""] {
        assert_eq!(of(wrong), None, "{wrong}");
    }
    assert!(
        matches!(of("{ unit = \"dB\", 63 = 40, 125 = 30 }"), Some(Criterion::Octaves(o)) if o.len() == 2)
    );
    assert!(
        matches!(of("{ unit = \"dB\", 50 = 40, 63 = 40 }"), Some(Criterion::Thirds(t)) if t.len() == 2)
    );
    for wrong in [
        "\"30 dB\"",
        "\"NR\"",
        "\"NR -5\"",
        "\"quiet\"",
        "\"DnT,w 55\"",
        "\"DnT,w + X >= 55\"",
        "3",
    ] {
        assert_eq!(of(wrong), None, "{wrong}");
    }
}
