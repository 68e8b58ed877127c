//! What each further sum of money buys: the worst margin against the cost.

use super::drawing::{Drawing, Words};
use super::format::Format;
use super::svg::{Anchor, Svg, n};
use super::table::DataTable;
use super::words::{THIN, clip, number, signed, wrap};

/// One plan, as good as can be had for its cost.
#[derive(Clone, Debug, PartialEq)]
pub struct CostStep {
    /// What is bought, in a few words.
    pub label: String,
    /// Cost, in the project's currency.
    pub cost: f64,
    /// Worst margin over all targets, dB; negative is short.
    pub margin_db: f64,
    /// Half-width of its uncertainty, dB, where known.
    pub uncertainty_db: Option<f64>,
}

/// Margin against cost as steps.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct CostSteps {
    /// Title, caption and id.
    pub words: Words,
    /// Currency as printed before or after the figure by the caption: "EUR".
    pub currency: String,
    /// The plans, in any order.
    pub steps: Vec<CostStep>,
    /// Index into `steps` of the plan to stop at.
    pub stop_at: Option<usize>,
}

impl CostSteps {
    /// Draws the steps.
    pub fn draw(&self, format: Format) -> Drawing {
        let m = format.metrics(21);
        let mut notes = Vec::new();
        let mut steps: Vec<(bool, &CostStep)> = self
            .steps
            .iter()
            .enumerate()
            .map(|(i, s)| (self.stop_at == Some(i), s))
            .filter(|(_, s)| {
                s.cost.is_finite()
                    && (0.0..1e12).contains(&s.cost)
                    && s.margin_db.is_finite()
                    && s.margin_db.abs() <= 200.0
            })
            .collect();
        if steps.len() < self.steps.len() {
            let left = self.steps.len() - steps.len();
            notes.push(format!("{left} plans without a cost or a margin are not drawn."));
        }
        steps.sort_by(|a, b| a.1.cost.total_cmp(&b.1.cost));

        let (x0, plot) = if m.labels_below { (34.0, 278.0) } else { (44.0, 500.0) };
        let reach = steps.iter().flat_map(|(_, s)| {
            let u = s.uncertainty_db.filter(|u| u.is_finite()).unwrap_or(0.0).abs().min(50.0);
            [s.margin_db - u, s.margin_db + u]
        });
        let (low, high) = reach.fold((0.0f64, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
        let grid = if high - low > 30.0 { 10.0 } else { 5.0 };
        let (low, high) = ((low / grid - 0.2).floor() * grid, (high / grid + 0.2).ceil() * grid);
        let tall = if m.labels_below { 180.0 } else { 240.0 };
        let top = m.text * 2.0 + 4.0;
        let y = |db: f64| top + (high - db) / (high - low) * tall;
        let most = steps.iter().map(|(_, s)| s.cost).fold(0.0, f64::max);
        let tick = nice(most.max(1.0) / if m.labels_below { 3.0 } else { 5.0 });
        let end = ((most / tick).floor() + 1.0) * tick;
        let x = |cost: f64| x0 + cost / end * plot;

        let mut svg = Svg::default();
        let head = "Worst margin over all targets, dB";
        svg.text((0.0, m.text), m.text, Anchor::Start, "second", head);
        let mut db = low;
        while db <= high + 1e-9 {
            svg.line((x0, y(db)), (x0 + plot, y(db)), "l-hairline", 1.0);
            let at = (x0 - 8.0, y(db) + m.text * 0.35);
            svg.text(at, m.text, Anchor::End, "", &signed(db, 0));
            db += grid;
        }
        svg.line((x0, y(high)), (x0, y(low)), "l-ink", 1.0);
        svg.line((x0, y(low)), (x0 + plot, y(low)), "l-ink", 1.0);
        let mut cost = 0.0;
        while cost <= end + tick * 1e-6 {
            svg.line((x(cost), y(low)), (x(cost), y(low) + 5.0), "l-ink", 1.0);
            let at = (x(cost), y(low) + 8.0 + m.text);
            svg.text(at, m.text, Anchor::Middle, "", &thousands(cost));
            cost += tick;
        }
        let mut bottom = y(low) + 8.0 + m.text + m.small + 6.0;
        let words = format!("cost, {}", clip(&self.currency));
        svg.text((x0 + plot, bottom), m.small, Anchor::End, "second", &words);

        svg.line((x0, y(0.0)), (x0 + plot, y(0.0)), "l-required", 1.5);

        let mut d = String::new();
        for (i, (_, s)) in steps.iter().enumerate() {
            let until = steps.get(i + 1).map_or(x0 + plot, |(_, next)| x(next.cost));
            let pen = if i == 0 { "M" } else { "L" };
            d.push_str(&format!("{pen}{} {}", n(x(s.cost)), n(y(s.margin_db))));
            d.push_str(&format!("L{} {}", n(until), n(y(s.margin_db))));
        }
        svg.path(&d, "l-predicted", r#"stroke-width="2" stroke-dasharray="6 3""#);
        for (_, s) in &steps {
            if let Some(u) = s.uncertainty_db.filter(|u| u.is_finite()) {
                let u = u.abs().min(50.0);
                let at = x(s.cost);
                let (a, b) = (y(s.margin_db - u), y(s.margin_db + u));
                svg.line((at, a), (at, b), "l-predicted", 1.0);
                svg.line((at - 4.0, a), (at + 4.0, a), "l-predicted", 1.0);
                svg.line((at - 4.0, b), (at + 4.0, b), "l-predicted", 1.0);
            }
        }
        if !m.labels_below {
            let at = (x0 + plot + 6.0, y(0.0) + 4.0);
            svg.text(at, m.small, Anchor::Start, "required", "met above");
        }
        let mut taken: Vec<f64> = Vec::new();
        for (i, (stop, s)) in steps.iter().enumerate() {
            let at = (x(s.cost), y(s.margin_db));
            let (fill, line) =
                if *stop { ("f-look-here", "l-look-here") } else { ("open", "l-predicted") };
            svg.circle(at, if *stop { 6.0 } else { 4.0 }, &format!("{line} open"), "");
            svg.circle(at, if *stop { 6.0 } else { 4.0 }, fill, "");
            svg.circle(at, if *stop { 6.0 } else { 4.0 }, line, r#"stroke-width="2""#);
            // A number on top of another says nothing; the list below has them all.
            if taken.iter().all(|x| (x - at.0).abs() > 14.0) {
                let class = if *stop { "strong look-here halo" } else { "strong halo" };
                let number = (i + 1).to_string();
                svg.text((at.0 + 7.0, at.1 - 9.0), m.text, Anchor::Start, class, &number);
                taken.push(at.0);
            }
        }
        if m.labels_below {
            bottom += m.text * 1.3 + 4.0;
            svg.line((0.0, bottom - 4.0), (20.0, bottom - 4.0), "l-required", 1.5);
            let words = "all targets met above this line";
            svg.text((24.0, bottom), m.text, Anchor::Start, "required", words);
        }
        bottom += 10.0;
        for (i, (stop, s)) in steps.iter().enumerate() {
            let mut words = format!(
                "{}: {}{THIN}{}, {}",
                clip(&s.label),
                thousands(s.cost),
                clip(&self.currency),
                margin_words(s.margin_db)
            );
            if *stop {
                words.push_str(". Stop here");
            }
            let class = if *stop { "strong" } else { "" };
            for (k, line) in wrap(&words, m.text, x0 + plot - 24.0).iter().enumerate() {
                bottom += m.text * 1.3;
                if k == 0 {
                    let number = (i + 1).to_string();
                    svg.text((0.0, bottom), m.text, Anchor::Start, "strong", &number);
                }
                svg.text((24.0, bottom), m.text, Anchor::Start, class, line);
            }
        }
        if steps.is_empty() {
            bottom += m.text * 1.3;
            svg.text((0.0, bottom), m.text, Anchor::Start, "second", "no plan to show");
        }
        let list: Vec<String> = steps
            .iter()
            .map(|(_, s)| {
                format!("{} {}: {}", thousands(s.cost), self.currency, margin_words(s.margin_db))
            })
            .collect();
        Drawing {
            words: self.words.clone(),
            description: format!("Worst margin against cost. {}.", list.join("; ")),
            notes,
            width: (x0 + plot + if m.labels_below { 16.0 } else { 80.0 }).min(m.widest).ceil(),
            height: (bottom + 8.0).ceil(),
            body: svg.finish(),
            format,
        }
    }

    /// The steps as a table.
    pub fn table(&self) -> DataTable {
        let mut steps: Vec<&CostStep> = self.steps.iter().collect();
        steps.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        DataTable {
            caption: format!("{} — figures", self.words.title),
            head: vec![
                "What is bought".to_owned(),
                format!("Cost, {}", self.currency),
                "Worst margin, dB".to_owned(),
            ],
            rows: steps
                .into_iter()
                .map(|s| vec![s.label.clone(), thousands(s.cost), signed(s.margin_db, 1)])
                .collect(),
        }
    }
}

/// "meets, 3.0 dB to spare" or "short by 2.0 dB".
fn margin_words(margin: f64) -> String {
    if margin >= 0.0 {
        format!("meets, {}{THIN}dB to spare", number(margin, 1))
    } else {
        format!("short by {}{THIN}dB", number(-margin, 1))
    }
}

/// The next of 1, 2, 5 times a power of ten that is not smaller.
pub(crate) fn nice(raw: f64) -> f64 {
    let power = 10f64.powf(raw.max(1e-9).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|f| f * power).find(|v| *v >= raw).unwrap_or(raw)
}

/// A sum in whole units with a thin space at the thousands.
fn thousands(value: f64) -> String {
    let digits = number(value, 0);
    let (sign, digits) = match digits.strip_prefix('\u{2212}') {
        Some(rest) => ("\u{2212}", rest.to_owned()),
        None => ("", digits),
    };
    if digits.len() < 5 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return format!("{sign}{digits}");
    }
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i) % 3 == 0 {
            out.push(THIN);
        }
        out.push(c);
    }
    format!("{sign}{out}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_read_in_threes() {
        assert_eq!(thousands(1840.0), "1840");
        assert_eq!(thousands(18400.4), format!("18{THIN}400"));
        assert_eq!(thousands(-1234567.0), format!("\u{2212}1{THIN}234{THIN}567"));
    }

    #[test]
    fn ticks_are_one_two_five() {
        assert_eq!(nice(368.0), 500.0);
        assert_eq!(nice(0.9), 1.0);
        assert_eq!(nice(100.0), 100.0);
    }
}
