//! Every kind of chart with invented values, for looking at.
fn main() {
    use wythe_bands::*;
    use wythe_report::chart::*;
    let f = |a: f64, k: f64, w: f64| {
        Spectrum::from_fn(|b: Band| {
            LevelDifference(a + k * b.index() as f64 + w * (b.index() as f64 * 1.3).sin())
        })
    };
    let mut meas = f(18.0, 1.7, 3.0);
    meas.clear(Band::HZ_500);
    let mut c = BandChart::new(
        Words::new("a", "The door carries most of it above 1 kHz", "Invented values."),
        Quantity::new("Standardized level difference", "D", "nT"),
    );
    c.wrong = Some(WrongSide::Below);
    c.traces.push(Trace::differences(
        Role::Required,
        "required",
        &f(24.0, 1.4, 0.0).within(Band::HZ_100, Band::HZ_3150),
    ));
    c.traces.push(
        Trace::differences(Role::Predicted, "predicted", &f(20.0, 1.65, 2.0))
            .with_uncertainty(&Spectrum::from_fn(|_| LevelDifference(3.0)))
            .outside(|b| b < Band::HZ_80),
    );
    c.traces.push(
        Trace::differences(Role::Measured, "measured, door shut", &meas)
            .with_bounds(|b| if b >= Band::HZ_4000 { Bound::AtLeast } else { Bound::Value }),
    );
    c.traces.push(Trace::differences(Role::Background, "background", &f(15.0, -0.3, 1.0)));
    let pred = f(20.0, 1.65, 2.0);
    c.difference = Some(DifferencePanel {
        label: "Measured minus predicted".into(),
        values: meas.zip_with(&pred, |a, b| a - b),
        uncertainty: Spectrum::from_fn(|_| LevelDifference(3.0)),
        wrong: WrongSide::Below,
    });
    let sh =
        |c: f64| Spectrum::from_fn(move |b: Band| (-(b.index() as f64 - c).powi(2) / 30.0).exp());
    let (a, b2, c2) = (sh(4.0), sh(13.0), sh(22.0));
    let norm =
        |s: &Spectrum<f64>| s.filter_map(|b, v| Some(v / (a.get(b)? + b2.get(b)? + c2.get(b)?)));
    c.strip = Some(DominanceStrip {
        paths: vec![
            PathShare { letter: 'A', name: "Ceiling".into(), shares: norm(&a), total: Some(0.21) },
            PathShare {
                letter: 'B',
                name: "Wall to the lobby".into(),
                shares: norm(&b2),
                total: Some(0.17),
            },
            PathShare {
                letter: 'C',
                name: "Lobby door sill".into(),
                shares: norm(&c2),
                total: Some(0.62),
            },
        ],
    });
    let css = format!(
        "{}{}body{{background:var(--ground);margin:16px}}",
        wythe_report::design::custom_properties(),
        STYLE
    );
    let mut out = format!(
        "<!doctype html><meta name=viewport content='width=device-width'><style>{css}</style>"
    );
    for f in [Format::Screen, Format::Report, Format::Phone] {
        out += &c.draw(f).inline();
    }
    std::fs::write(std::env::args().nth(1).unwrap(), out).unwrap();
}
