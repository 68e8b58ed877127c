//! Texts with units.

use proptest::prelude::*;
use wythe_project::quantity::{Quantity, QuantityError, parse, parse_level};

#[test]
fn the_forms_of_the_reference() {
    // Exact by definition: 1 in = 25.4 mm, 1 ft = 12 in (international yard and pound agreement,
    // 1959), 1 lb = 0.45359237 kg.
    for (quantity, text, expected) in [
        (Quantity::Length, "2.7 m", 2.7),
        (Quantity::Length, "240mm", 0.24),
        (Quantity::Length, "27 cm", 0.27),
        (Quantity::Length, "5/8 in", 0.015_875),
        (Quantity::Length, "1 1/2 in", 0.0381),
        (Quantity::Length, "1-1/2 in", 0.0381),
        (Quantity::Length, "8 ft 2 in", 2.4892),
        (Quantity::Length, "8' 2\"", 2.4892),
        (Quantity::Length, "8'2 1/2\"", 2.5019),
        (Quantity::Length, "8 ft", 2.4384),
        (Quantity::Length, "-1.5 m", -1.5),
        (Quantity::Length, "-8' 2\"", -2.4892),
        (Quantity::Length, "2 m 30 cm", 2.3),
        (Quantity::Area, "10 m²", 10.0),
        (Quantity::Area, "100 ft2", 9.290_304),
        (Quantity::Area, "100 sq ft", 9.290_304),
        (Quantity::Volume, "100 ft3", 2.831_684_659_2),
        (Quantity::SurfaceMass, "11.5 kg/m2", 11.5),
        (Quantity::SurfaceMass, "11.5 kg/m²", 11.5),
        (Quantity::SurfaceMass, "1 psf", 4.882_427_636_4),
        (Quantity::SurfaceMass, "1.0 lb/ft2", 4.882_427_636_4),
        (Quantity::Time, "350 ms", 0.35),
        (Quantity::Time, "2 min", 120.0),
        (Quantity::Time, "1:10", 70.0),
        (Quantity::Time, "1:02:10.5", 3730.5),
        (Quantity::Frequency, "1.25 kHz", 1250.0),
        (Quantity::FlowResistivity, "10 kPa s/m2", 10_000.0),
        (Quantity::FlowResistivity, "6000 Pa·s/m²", 6000.0),
        (Quantity::FlowResistivity, "6000 rayl/m", 6000.0),
        (Quantity::DynamicStiffness, "15 MN/m3", 15e6),
        (Quantity::DynamicStiffness, "15 MN/m³", 15e6),
        (Quantity::Temperature, "68 °F", 20.0),
        (Quantity::Temperature, "20 C", 20.0),
        (Quantity::Percent, "50%", 50.0),
        (Quantity::Pressure, "1013.25 hPa", 101_325.0),
    ] {
        let found = parse(quantity, text).unwrap_or_else(|e| panic!("{text} {e}"));
        assert!((found - expected).abs() <= 1e-9 * expected.abs().max(1.0), "{text}: {found}");
    }
    for (text, level, letter) in [
        ("108 dB Leq", 108.0, "Z"),
        ("108 dB", 108.0, "Z"),
        ("82 dBA", 82.0, "A"),
        ("82 dB(A)", 82.0, "A"),
        ("82 dBA Leq", 82.0, "A"),
        ("95 dBC", 95.0, "C"),
    ] {
        let (value, weighting) = parse_level(text).unwrap_or_else(|e| panic!("{text} {e}"));
        assert_eq!((value, weighting.letter()), (level, letter), "{text}");
    }
}

#[test]
fn what_is_no_quantity() {
    for text in [
        "",
        "2.7",
        "m",
        "2,7 m",
        "2.7 kg",
        "2 in 8 ft",
        "8 ft 14 in",
        "1/0 in",
        "nan m",
        "inf m",
        "1e999 m",
        "2.7 m m",
        "..5 m",
        "2.7 m and more",
        "0x10 m",
        "1 1/2",
    ] {
        assert!(parse(Quantity::Length, text).is_err(), "{text}");
    }
    assert_eq!(
        parse(Quantity::Length, "2,7 m"),
        Err(QuantityError::Comma("2,7 m".to_owned(), "2.7 m".to_owned()))
    );
    for text in ["1:60", "1:2:3:4", "a:10", "1:", ":10"] {
        assert!(parse(Quantity::Time, text).is_err(), "{text}");
    }
}

proptest! {
    #[test]
    fn millimetres_and_metres_agree(mm in 0u32..10_000_000) {
        let a = parse(Quantity::Length, &format!("{mm} mm")).unwrap();
        let b = parse(Quantity::Length, &format!("{} m", f64::from(mm) / 1000.0)).unwrap();
        prop_assert!((a - b).abs() <= 1e-12 * a.max(1.0));
    }

    #[test]
    fn feet_and_inches_add_up(feet in 0u32..1000, eighths in 0u32..96) {
        let text = format!("{feet} ft {} {}/8 in", eighths / 8, eighths % 8);
        let expected = (f64::from(feet) * 12.0 + f64::from(eighths) / 8.0) * 0.0254;
        prop_assert!((parse(Quantity::Length, &text).unwrap() - expected).abs() < 1e-9);
    }

    #[test]
    fn any_text_gives_a_finite_number_or_an_error(text in ".{0,40}") {
        for quantity in [Quantity::Length, Quantity::Time, Quantity::Level, Quantity::Temperature] {
            if let Ok(n) = parse(quantity, &text) {
                prop_assert!(n.is_finite());
            }
        }
        let _ = parse_level(&text);
    }
}
