//! Reading curves from text.

use proptest::prelude::*;
use wythe_rating::curve::{LARGEST_TEXT, read};
use wythe_rating::{Bound, Curve, CurveFault, Midband, Resolution};

fn hz(name: &str) -> Midband {
    Midband::from_nominal(name).unwrap()
}

fn values(c: &Curve) -> Vec<(&'static str, f64, Bound)> {
    c.iter().map(|(b, e)| (b.nominal(), e.value, e.bound)).collect()
}

#[test]
fn every_way_to_write_the_same_curve() {
    use Bound::{AtLeast, Exact};
    let expected = [("100", 20.4, Exact), ("1000", -3.5, Exact), ("1250", 31.0, AtLeast)];
    for text in [
        "frequency_hz,value_db\n100,20.4\n1000,-3.5\n1250,>=31\n",
        "1250,>=31.0\n1000,-3.5\n100,20.4",
        "\u{feff}frequency_hz,value_db\r\n100,20.4\r\n\r\n1000,-3.5\r\n1250,> 31\r\n",
        "# a note\nfrequency_hz;value_db\n100;20,4\n1k;-3,5 # dip\n1,25k;≥ 31,0\n",
        "100 Hz\t20,4 dB\n1 kHz\t\u{2212}3,5 dB\n1.25 kHz\t>=31 dB\n",
        "Hz\tdB\r100\t20.4\r1000\t-3.5\r1250\t=>31",
        "100 20,4\n1000 -3,5\n1250 >= 31,0\n",
        "  100 Hz   20.4 dB\n 1000 Hz   -3.5 dB\n 1250 Hz   > 31.0 dB\n",
        "\"frequency_hz\",\"value_db\"\n\"100\",\"20,4\"\n\"1000\",\"-3,5\"\n\"1250\",\">=31,0\"\n",
        "value_db,frequency_hz\n20.4,100\n-3.5,1000\n>=31,1250\n",
        "frequency_hz,value_db,note\n100,20.4,first\n1000,-3.5,\n1250,>=31,bound\n",
        "100,20.4,,\n1000,-3.5,,\n1250,>=31,,\n",
        "Some wall\nfrequency_hz,value_db\n100,20.4\n1000,-3.5\n1250,>=31\n",
        "f / Hz;R / dB\n100;20,4\n1000;-3,5\n1250;>31\n",
        "100.0,20.40\n1000.0,-3.5\n1258.9,>=31\n",
    ] {
        let curve = read(text).unwrap_or_else(|e| panic!("{text:?}: {e:?}"));
        assert_eq!(curve.resolution(), Resolution::Thirds);
        assert_eq!(values(&curve), expected, "{text:?}");
    }
    let upper = read("100,<=20\n125,< 21\n160,≤22\n").unwrap();
    assert!(upper.iter().all(|(_, e)| e.bound == Bound::AtMost));
}

#[test]
fn thirds_or_octaves_is_inferred_and_said() {
    let octaves = read("63,47\n125,36\n250,29\n16,80\n").unwrap();
    assert_eq!(octaves.resolution(), Resolution::Octaves);
    assert_eq!(octaves.remarks[0].code, "curve::taken-as-octaves");
    assert_eq!(read("100,47\n125,36\n160,29\n").unwrap().resolution(), Resolution::Thirds);
    // A gap of two missing thirds alone is a matter for the rating.
    assert_eq!(read("100,1\n125,2\n250,3\n315,4\n").unwrap().resolution(), Resolution::Thirds);
    for mixed in [
        "63,1\n125,2\n250,3\n315,4\n400,5\n",
        "100,1\n125,2\n160,3\n200,4\n250,5\n500,6\n1000,7\n2000,8\n",
    ] {
        let faults = read(mixed).unwrap_err();
        assert!(matches!(faults[0].fault, CurveFault::Mixed { .. }), "{faults:?}");
        assert_eq!(faults[0].line, None);
    }
}

#[test]
fn all_faults_at_once_with_their_lines() {
    let text = "frequency_hz,value_db\n100,20.4\n110,3\nabc,4\n125,x\n100,5\n160,20,4\n200,999\n\
                250,nan\n315\n";
    let faults = read(text).unwrap_err();
    let said: Vec<(Option<usize>, &str)> = faults.iter().map(|f| (f.line, f.code())).collect();
    assert_eq!(
        said,
        [
            (Some(3), "curve::not-a-band"),
            (Some(4), "curve::not-a-frequency"),
            (Some(5), "curve::not-a-value"),
            (Some(6), "curve::band-twice"),
            (Some(7), "curve::columns"),
            (Some(8), "curve::absurd-value"),
            (Some(9), "curve::not-a-value"),
            (Some(10), "curve::columns"),
        ]
    );
    assert_eq!(
        faults[3].to_string(),
        "line 6: the 100 Hz band was already given on line 2; keep one of the two"
    );
    assert!(faults[0].to_string().contains("nearest are 100 and 125"), "{}", faults[0]);
}

#[test]
fn nothing_and_too_much() {
    for nothing in ["", "\n\n", "# only a note\n", "\u{feff}", "frequency_hz,value_db\n"] {
        let faults = read(nothing).unwrap_err();
        assert_eq!(faults.len(), 1);
        assert_eq!(faults[0].fault, CurveFault::NoBands, "{nothing:?}");
    }
    // A band without a value is absent, not zero.
    let curve = read("100,20\n125,\n160,21\n").unwrap();
    assert!(curve.get(hz("125")).is_none());
    assert_eq!(curve.remarks[0].place.as_deref(), Some("125 Hz"));
    assert_eq!(read("125,\n").unwrap_err()[0].fault, CurveFault::NoBands);

    let started = std::time::Instant::now();
    let huge = "100,20.4\n".repeat(12_000_000);
    let made = started.elapsed();
    let faults = read(&huge).unwrap_err();
    assert!(matches!(faults[0].fault, CurveFault::TooLong { .. }));
    // Refused by its length alone: far quicker than it was made.
    assert!(started.elapsed() - made < std::time::Duration::from_secs(1));
    // The worst text that is read: every line a fault.
    let worst = "x\n".repeat(LARGEST_TEXT / 2);
    assert!(read(&worst).unwrap_err().len() <= 51);
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,200}") {
        let _ = read(&text);
    }

    #[test]
    fn no_pasted_text_makes_it_panic(
        text in "[0-9kKhHzZdDbB ,;\t.\"<>=≥≤#\r\n\u{feff}\u{2212}-]{0,120}",
    ) {
        let _ = read(&text);
    }

    #[test]
    fn what_is_written_is_read(tenths in prop::collection::vec(-500i64..1500, 35), semi: bool) {
        let mut text = String::from("frequency_hz,value_db\n");
        let mut lines: Vec<String> = Midband::all()
            .zip(&tenths)
            .map(|(b, t)| format!("{b},{}", *t as f64 / 10.0))
            .collect();
        lines.reverse();
        text += &lines.join("\n");
        if semi {
            text = text.replace(',', ";").replace('.', ",");
        }
        let curve = read(&text).unwrap();
        for ((_, e), t) in curve.iter().zip(&tenths) {
            prop_assert_eq!(e.value, *t as f64 / 10.0);
        }
        prop_assert_eq!(curve.len(), 35);
    }
}

#[test]
fn a_decimal_comma_between_commas_is_said_or_refused() {
    // Three headings, a note in the third: nothing to say.
    let noted = read("frequency_hz,value_db,note\n100,20,hall\n125,21,7\n").unwrap();
    assert!(noted.remarks.iter().all(|r| r.code != "curve::comma-may-be-decimal"));
    // Every line could be a decimal comma.
    let doubtful = read("frequency_hz,value_db,note\n100,20,4\n125,21,7\n160,22,1\n").unwrap();
    assert!(doubtful.remarks.iter().any(|r| r.code == "curve::comma-may-be-decimal"));
    // More cells than headings cannot be meant.
    let faults = read("frequency_hz,value_db,note\n100,20,4,hall\n125,21,7,hall\n").unwrap_err();
    assert!(faults.iter().all(|f| f.code() == "curve::columns"), "{faults:?}");
}
