//! Prices the user has on file, by item.

pub use wythe_building::Price;

/// The table. Empty when there is none: then no line has a price.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PriceList(pub Vec<Price>);

/// What is wrong with a table of prices.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PriceError {
    /// The head of the table.
    #[error("the first line must name at least the columns item, unit and price, not `{0}`")]
    Head(String),
    /// A row.
    #[error("line {line}: {what}; a row looks like `gypsum board 15.9 mm,sheets,21.50`")]
    Row {
        /// Line number from 1.
        line: usize,
        /// What is wrong.
        what: String,
    },
}

impl PriceList {
    /// Reads comma-separated rows under a head with the columns `item`, `unit`, `price` and, if
    /// wanted, `hours` of work for one unit, `invented` (yes or no) and `source`, in any order. A cell may stand in double
    /// quotes.
    ///
    /// # Errors
    /// [`PriceError`] with the line.
    pub fn read(text: &str) -> Result<PriceList, PriceError> {
        let mut lines = text
            .trim_start_matches('\u{feff}')
            .lines()
            .enumerate()
            .filter(|(_, l)| !l.trim().is_empty() && !l.trim_start().starts_with('#'));
        let head: Vec<String> = lines
            .next()
            .map(|(_, l)| cells(l).iter().map(|c| c.to_lowercase()).collect())
            .unwrap_or_default();
        let column = |name: &str| head.iter().position(|c| c == name);
        let (Some(item), Some(unit), Some(price)) =
            (column("item"), column("unit"), column("price"))
        else {
            return Err(PriceError::Head(head.join(",").chars().take(80).collect()));
        };
        let (invented, source) = (column("invented"), column("source"));
        let hours = column("hours");
        let mut out = Vec::new();
        for (at, line) in lines {
            let row = cells(line);
            let wrong = |what: String| PriceError::Row { line: at + 1, what };
            let cell = |c: usize| row.get(c).map(String::as_str).unwrap_or("");
            if cell(item).is_empty() || cell(unit).is_empty() {
                return Err(wrong("item or unit is empty".into()));
            }
            let value = cell(price)
                .parse::<f64>()
                .ok()
                .filter(|v| v.is_finite() && *v >= 0.0)
                .ok_or_else(|| wrong(format!("`{}` is no price", cell(price))))?;
            let unit = match cell(unit) {
                "m2" => "m²".to_owned(),
                other => other.to_owned(),
            };
            if !Price::UNITS.contains(&unit.as_str()) {
                return Err(wrong(format!(
                    "`{unit}` is no unit of the list, which are {}",
                    Price::UNITS.join(", ")
                )));
            }
            let hours = match hours.map(cell).filter(|h| !h.is_empty()) {
                None => None,
                Some(text) => Some(
                    text.parse::<f64>()
                        .ok()
                        .filter(|v| v.is_finite() && *v >= 0.0)
                        .ok_or_else(|| wrong(format!("`{text}` are no hours")))?,
                ),
            };
            out.push(Price {
                item: cell(item).to_owned(),
                unit,
                price: value,
                hours,
                invented: invented
                    .is_some_and(|c| matches!(cell(c).to_lowercase().as_str(), "yes" | "true")),
                source: source.map(|c| cell(c).to_owned()).filter(|s| !s.is_empty()),
            });
        }
        Ok(PriceList(out))
    }

    /// The rows of another table before one's own: of two rows as fitting the first one counts.
    pub fn with(mut self, others: &[Price]) -> PriceList {
        self.0.extend_from_slice(others);
        self
    }

    /// Price of one hour of work, from the row `labour` in `h`.
    pub fn of_an_hour(&self) -> Option<&Price> {
        self.of("labour", "h")
    }

    /// Price of an item in a unit: of all rows whose words it holds the one with most words.
    pub fn of(&self, item: &str, unit: &str) -> Option<&Price> {
        let name = item.to_lowercase();
        self.0
            .iter()
            .filter(|p| p.unit == unit)
            .filter(|p| p.item.split_whitespace().all(|w| name.contains(&w.to_lowercase())))
            .fold(None, |best: Option<&Price>, p| match best {
                Some(b)
                    if b.item.split_whitespace().count() >= p.item.split_whitespace().count() =>
                {
                    Some(b)
                }
                _ => Some(p),
            })
    }
}

/// Cells of one line; a doubled quote inside quotes is a quote.
fn cells(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut quoted = false;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                if let Some(cell) = out.last_mut() {
                    cell.push('"');
                }
            }
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(String::new()),
            c => {
                if let Some(cell) = out.last_mut() {
                    cell.push(c);
                }
            }
        }
    }
    out.iter().map(|c| c.trim().to_owned()).collect()
}
