//! Every picture has its words, fits its page, and can be read.

use super::{drawings, xml};
use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_report::chart::*;

#[test]
fn every_picture_is_well_formed_and_has_its_words() {
    for drawing in drawings() {
        for svg in [drawing.inline(), drawing.standalone()] {
            xml::check(&svg).unwrap_or_else(|e| panic!("{}: {e}", drawing.title()));
            let title = escape(drawing.title());
            assert!(svg.contains(&format!("<title>{title}</title>")));
            assert!(svg.contains(&format!("aria-label=\"{title}\"")));
            assert!(svg.contains("role=\"img\"") && svg.contains("<desc id="));
        }
        assert!(!drawing.title().is_empty() && drawing.description().len() > 30);
        assert!(drawing.standalone().contains("invented"), "a picture alone keeps its caption");
    }
}

#[test]
fn text_is_never_smaller_than_12_px() {
    for drawing in drawings() {
        for size in drawing.inline().split("font-size=\"").skip(1) {
            let size: f64 = size.split('"').next().and_then(|s| s.parse().ok()).expect("a size");
            assert!(size >= 12.0, "{}: {size}", drawing.title());
        }
    }
}

#[test]
fn pictures_fit_paper_and_telephone() {
    for drawing in drawings() {
        let (width, height) = drawing.size();
        // 170 mm at 96 px to the inch is 642.5 px; a telephone of 360 px leaves 328.
        assert!(width <= 645.0 && height < 1200.0, "{}: {width} × {height}", drawing.title());
        let svg = drawing.inline();
        if svg.contains("-phone-desc") {
            assert!(width <= 329.0, "{}: {width}", drawing.title());
        }
    }
}

#[test]
fn no_text_leaves_its_picture() {
    // Generous widths per character; the real ones are smaller.
    for drawing in drawings() {
        let (width, height) = drawing.size();
        for text in drawing.inline().split("<text").skip(1) {
            let of = |name: &str| {
                let (_, rest) = text.split_once(&format!(" {name}=\"")).expect("a coordinate");
                rest.split('"').next().and_then(|s| s.parse::<f64>().ok()).expect("a number")
            };
            let head = text.split('>').next().unwrap_or("");
            let inner = text.split('>').nth(1).and_then(|t| t.split('<').next()).unwrap_or("");
            let length = inner.chars().count() as f64 * of("font-size") * 0.5;
            let (left, right) = if head.contains("\"middle\"") {
                (of("x") - length / 2.0, of("x") + length / 2.0)
            } else if head.contains("\"end\"") {
                (of("x") - length, of("x"))
            } else {
                (of("x"), of("x") + length)
            };
            let what = format!("{}: {inner:?} from {left} to {right} of {width}", drawing.title());
            assert!(left >= -6.0 && right <= width + 8.0, "{what}");
            assert!(of("y") > 0.0 && of("y") <= height, "{what}");
        }
    }
}

fn flat(value: f64) -> Spectrum<LevelDifference> {
    Spectrum::from_fn(|_| LevelDifference(value)).within(Band::HZ_100, Band::HZ_3150)
}

fn short_chart(bound: Bound) -> Drawing {
    let words = Words::new("sum", "Short", "");
    let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
    chart.wrong = Some(WrongSide::Below);
    let mut measured = flat(55.0);
    measured.set(Band::HZ_125, LevelDifference(48.3));
    measured.set(Band::HZ_500, LevelDifference(47.9));
    chart.traces = vec![
        Trace::differences(Role::Required, "required", &flat(50.0)),
        Trace::differences(Role::Measured, "measured", &measured)
            .with_bounds(|b| if b == Band::HZ_500 { bound } else { Bound::Value }),
    ];
    chart.draw(Format::Screen)
}

#[test]
fn what_is_short_is_hatched_and_added_in_tenths() {
    // 50 − 48.3 = 1.7 and 50 − 47.9 = 2.1; what is better than required earns nothing.
    let drawing = short_chart(Bound::Value);
    assert!(drawing.inline().contains(&format!("short by 3.8{THIN}dB in all")));
    assert_eq!(drawing.inline().matches("fill=\"url(#sum-screen-wrong)\"").count(), 2);
    assert!(drawing.notes().is_empty());
}

#[test]
fn a_lower_bound_under_the_requirement_proves_nothing() {
    let drawing = short_chart(Bound::AtLeast);
    assert!(drawing.inline().contains(&format!("short by 1.7{THIN}dB in all")));
    assert_eq!(drawing.notes().len(), 1, "{:?}", drawing.notes());
    assert!(drawing.notes()[0].contains("1 band"));
    // An upper bound under the requirement does prove it.
    let upper = short_chart(Bound::AtMost);
    assert!(upper.inline().contains(&format!("short by 3.8{THIN}dB in all")));
}

#[test]
fn the_form_keeps_its_proportions() {
    // 50 dB per decade on screens and telephones, 25 dB per decade on paper, where a decade is
    // ten bands (IEC 60263:2020, 4.1).
    for (format, per_decade) in
        [(Format::Screen, 50.0), (Format::Phone, 50.0), (Format::Report, 25.0)]
    {
        let words = Words::new("form", "Form", "");
        let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
        let values = Spectrum::from_fn(|b| LevelDifference(10.0 + b.index() as f64));
        chart.traces.push(Trace::differences(Role::Measured, "x", &values));
        let svg = chart.draw(format).inline();
        let d = svg.split("class=\"l-measured\" d=\"M").nth(1).expect("the line");
        let points: Vec<(f64, f64)> = d
            .split('"')
            .next()
            .unwrap_or("")
            .split('L')
            .map(|p| p.split_once(' ').expect("two numbers"))
            .map(|(x, y)| (x.parse().expect("x"), y.parse().expect("y")))
            .collect();
        let (a, b) = (points[0], points[20]);
        let (across, up) = (b.0 - a.0, a.1 - b.1);
        // 20 bands and 20 dB: two decades.
        let got = 20.0 / up * across / 2.0;
        assert!((got - per_decade).abs() < 0.1, "{format:?}: {got} dB per decade");
    }
}

#[test]
fn shares_find_their_leader() {
    let strip = DominanceStrip {
        paths: [('A', 0.2), ('B', 0.7), ('C', 0.1)]
            .into_iter()
            .map(|(letter, share)| PathShare {
                letter,
                name: "path".into(),
                shares: [(Band::HZ_500, share)].into_iter().collect(),
                total: None,
            })
            .collect(),
    };
    assert_eq!(strip.leader(Band::HZ_500), Some('B'));
    assert_eq!(strip.leader(Band::HZ_1000), None);
    let order: String = strip.sorted().iter().map(|p| p.letter).collect();
    assert_eq!(order, "BAC");
}
