//! Every message of the crate as a person reads it, against `tests/data/messages.txt`.

use wythe_bands::{Band, CubicMetre, Level};
use wythe_rating::curve::read;
use wythe_rating::dose::DoseError;
use wythe_rating::field::FieldError;
use wythe_rating::{
    Bound, Curve, CurveError, CurveFault, Method, Midband, Options, Quantity, RatingError,
    Resolution, audibility, dose, may_be_stated, rate,
};

fn hz(name: &str) -> Midband {
    Midband::from_nominal(name).unwrap()
}

fn rating_errors() -> Vec<RatingError> {
    let method = Method::E413;
    vec![
        RatingError::MissingBands {
            method,
            resolution: "third-octave",
            missing: vec![hz("125"), hz("160")],
        },
        RatingError::OctavesGiven { method },
        RatingError::ThirdsNeeded { what: "the hearing threshold" },
        RatingError::NotDecibels { band: hz("500"), value: f64::NAN },
        RatingError::OpposedBounds { at_least: vec![hz("100")], at_most: vec![hz("3150")] },
        RatingError::OptionElsewhere {
            option: "a floor improvement",
            belongs_to: "iso717-2",
            method,
        },
        RatingError::NoSuchNumber { method, number: "C50-3150" },
        RatingError::Statistic {
            what: "the correlation between bands".to_string(),
            value: 2.0,
            expected: "give 0 (bands err independently) to 1 (all err together)",
        },
    ]
}

fn messages() -> Vec<String> {
    let mut all: Vec<String> =
        rating_errors().iter().map(|e| format!("{}: {e}", e.code())).collect();
    all.push("\"stc\".parse: ".to_string() + &"stc".parse::<Method>().unwrap_err().to_string());

    let mut faults = read(
        "frequency_hz,value_db\n100,20.4\n110,3\nabc,4\n125,x\n100,5\n160,20,4\n200,999\n63,1\n125,1\n250,1\n500,1\n",
    )
    .unwrap_err();
    faults.extend(read("").unwrap_err());
    faults.extend(read("a,b,c\n100,1,2\n").unwrap_err());
    for fault in [
        CurveFault::TooLong { bytes: 2_000_000 },
        CurveFault::Mixed { octaves: "63, 125 and 250 Hz".to_string() },
        CurveFault::More,
    ] {
        faults.push(CurveError { line: None, fault });
    }
    all.extend(faults.iter().map(|f| format!("{}: {f}", f.code())));

    for (quantity, source, receiver) in [
        (Quantity::NormalizedNoiseIsolationClass, 30.0, 18.0),
        (Quantity::ApparentSoundTransmissionClass, 18.0, 30.0),
        (Quantity::ApparentSoundTransmissionClass, 180.0, 30.0),
        (Quantity::ApparentImpactInsulationClass, 30.0, 30.0),
        (Quantity::NoiseIsolationClass, 0.0, 30.0),
    ] {
        let refusal = may_be_stated(quantity, CubicMetre(source), CubicMetre(receiver));
        all.push(format!("field: {}", refusal.unwrap_err()));
    }
    let field = [
        FieldError::NotPositive { what: "the absorption area", at: Some(Band::HZ_500), value: 0.0 },
        FieldError::NotPositive { what: "the volume", at: None, value: -1.0 },
        FieldError::NotALevel { at: Band::HZ_500, value: f64::NAN },
    ];
    all.extend(field.iter().map(|e| format!("field: {e}")));
    let doses = [
        DoseError::Level(900.0),
        DoseError::Minutes(-1.0),
        DoseError::LongerThanADay(2000.0),
        DoseError::Pressure(0.0),
    ];
    all.extend(doses.iter().map(|e| format!("dose: {e}")));
    all.extend(remarks());
    all
}

/// Remarks of ratings that have something to remark.
fn remarks() -> Vec<String> {
    let thirds = Midband::all().filter(|b| (17..=37).contains(&b.n()));
    let walk = |b: Midband| 20.04 + 1.3 * f64::from(b.n() - 17);
    let mut curve = Curve::from_pairs(Resolution::Thirds, thirds.map(|b| (b, walk(b))));
    curve.mark(hz("2500"), Bound::AtLeast);
    let octaves = Curve::from_pairs(
        Resolution::Octaves,
        ["63", "125", "250", "500", "1000", "2000", "4000"].map(|n| (hz(n), walk(hz(n)))),
    );
    let classic = Options { floor_improvement: Some(Default::default()), ..Options::default() };
    let mut out = Vec::new();
    for (curve, method, options) in [
        (&curve, Method::Iso717Part1, Options::default()),
        (&curve, Method::E413, Options::default()),
        (&curve, Method::Iso717Part2, classic),
        (&octaves, Method::Iso717Part1, Options::default()),
        (&octaves, Method::Iso717Part2, Options::default()),
        (&octaves, Method::Nc, Options::default()),
        (&curve, Method::Nr, Options::default()),
        (&octaves, Method::Rc, Options::default()),
    ] {
        let rating = rate(curve, method, &options).unwrap();
        out.push(format!("{method}: {}", rating.statement));
        out.push(format!("{method}: {}", rating.clause));
        out.extend(rating.remarks.iter().map(|r| {
            let place = r.place.as_deref().map(|p| format!(" [{p}]")).unwrap_or_default();
            format!("{}{place}: {}", r.code, r.text)
        }));
    }
    let heard = audibility::audibility(&curve, None, audibility::Threshold::Din45680);
    let heard = heard.unwrap().unwrap();
    out.push(format!("audibility: {}", heard.sentence));
    out.extend(heard.remarks.iter().map(|r| format!("{}: {}", r.code, r.text)));
    let stay = [dose::Stay { level: Level(116.0), minutes: 60.0 }];
    let day = dose::dose(dose::DoseRule::Niosh, &stay).unwrap();
    let exposure = dose::lex_8h(&stay).unwrap();
    out.extend(
        day.remarks.iter().chain(&exposure.remarks).map(|r| format!("{}: {}", r.code, r.text)),
    );
    out
}

#[test]
fn every_message() {
    let found = messages().join("\n") + "\n";
    let expected = include_str!("../data/messages.txt");
    if found != expected {
        // Printed whole, so that a wilful change can be copied after it was read.
        println!("{found}");
    }
    for (a, b) in found.lines().zip(expected.lines()) {
        assert_eq!(a, b);
    }
    assert_eq!(found.lines().count(), expected.lines().count());
}

/// Lower case, no full stop, no blame.
#[test]
fn every_message_is_in_style() {
    for message in messages() {
        assert!(!message.ends_with('.'), "{message}");
        assert!(!message.contains("  "), "{message}");
        let lower = message.to_lowercase();
        assert!(!["invalid", "illegal", "you must", "error:"].iter().any(|w| lower.contains(w)));
    }
    let mut codes: Vec<_> = rating_errors().iter().map(RatingError::code).collect();
    assert!(codes.iter().all(|c| c.starts_with("rating::")));
    codes.dedup();
    assert!(codes.len() >= 7);
}
