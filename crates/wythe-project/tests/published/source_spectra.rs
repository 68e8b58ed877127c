//! Named spectra.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Octave};
use wythe_project::spectra::{named, names};

/// Totals Z, C, A computed apart from this program from the octave values. The shapes are
/// invented, so this checks arithmetic, not drums. The C and A totals there were formed from
/// octave levels, here from thirds; the weighting bends within an octave, so they may part by
/// a few tenths where the low octaves rule.
#[test]
fn invented_spectra_have_the_totals_of_their_octaves() {
    for (name, z, c, a) in [
        ("drum kit, hard", 103.1, 102.6, 98.4),
        ("kick drum alone", 100.5, 99.8, 84.4),
        ("amplified band", 110.2, 109.9, 105.2),
        ("brass section", 99.9, 99.9, 99.1),
        ("piano", 82.9, 82.9, 79.4),
        ("singer", 84.4, 84.4, 83.6),
        ("home hi-fi", 79.4, 78.8, 72.3),
    ] {
        let spectrum = named(name).unwrap();
        assert!(spectrum.invented, "{name} must print as invented");
        let close = |found: f64, expected: f64, tolerance: f64| {
            assert!((found - expected).abs() <= tolerance, "{name}: {found} {expected}");
        };
        close(spectrum.levels.total().unwrap().0, z, 0.051);
        close(spectrum.levels.weighted_total(Weighting::C).unwrap().0, c, 0.3);
        close(spectrum.levels.weighted_total(Weighting::A).unwrap().0, a, 0.8);
    }
}

#[test]
fn octaves_come_back_from_thirds() {
    let kit = named("drum kit, hard").unwrap().levels.to_octaves();
    for (octave, level) in [("31.5", 84.0), ("63", 98.0), ("1000", 92.0), ("8000", 88.0)] {
        let found = kit.get(Octave::from_nominal(octave).unwrap()).unwrap();
        assert!((found.0 - level).abs() < 1e-9);
    }
    assert_eq!(kit.get(Octave::from_nominal("16000").unwrap()), None);
}

/// ANSI S3.5-1997 Table 3 (public transcriptions): the standard's overall level for normal effort
/// is 62.35 dB; band levels and the other totals recomputed apart from this program. Nothing
/// is published below 160 Hz.
#[test]
fn ansi_s3_5_1997_table_3() {
    for (name, z, a, at_500) in [
        ("speech, normal", 62.35, 59.2, 54.9),
        ("speech, raised", 68.3, 66.3, 60.8),
        ("speech, loud", 74.85, 73.8, 65.5),
        ("speech, shouted", 82.3, 82.2, 69.9),
    ] {
        let speech = named(name).unwrap();
        assert!(!speech.invented);
        let levels = speech.levels;
        assert!((levels.total().unwrap().0 - z).abs() <= 0.051, "{name}");
        assert!((levels.weighted_total(Weighting::A).unwrap().0 - a).abs() <= 0.051, "{name}");
        assert!((levels.get(Band::HZ_500).unwrap().0 - at_500).abs() <= 0.051, "{name}");
        assert_eq!(levels.get(Band::HZ_125), None);
    }
}

#[test]
fn pink_noise_is_flat_and_85_dbc() {
    let pink = named("pink noise").unwrap();
    assert!((pink.levels.weighted_total(Weighting::C).unwrap().0 - 85.0).abs() < 0.06);
    assert_eq!(pink.levels.len(), 31);
    assert!(names().iter().all(|n| named(n).is_some()) && named("drums").is_none());
}
