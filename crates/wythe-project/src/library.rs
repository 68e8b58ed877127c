//! Kept comparisons as text: one small file for each, to be read, compared and given away.

use std::fmt::Write as _;

use toml_edit::{DocumentMut, Item, TableLike};
use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_building::Comparison;

/// Largest text that is read as a comparison, bytes.
const LARGEST: usize = 100_000;

/// What is wrong with a kept comparison.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LibraryError {
    /// It is no TOML.
    #[error("is no comparison: {0}")]
    Syntax(String),
    /// A key is missing or holds something else.
    #[error("`{0}` is missing or not what it should be; `wythe keep` writes it")]
    Key(&'static str),
    /// It is too large to be one.
    #[error("is larger than a comparison can be")]
    Large,
}

/// Reads one comparison.
///
/// # Errors
/// [`LibraryError`] naming what is wrong.
pub fn read_comparison(text: &str) -> Result<Comparison, LibraryError> {
    if text.len() > LARGEST {
        return Err(LibraryError::Large);
    }
    let document: DocumentMut = text.parse().map_err(|e: toml_edit::TomlError| {
        LibraryError::Syntax(e.message().lines().next().unwrap_or_default().to_owned())
    })?;
    let words = |key: &'static str| {
        document
            .get(key)
            .and_then(Item::as_str)
            .filter(|w| !w.trim().is_empty() && w.len() <= 500)
            .map(str::to_owned)
            .ok_or(LibraryError::Key(key))
    };
    let curve = |key: &'static str| -> Result<Spectrum<LevelDifference>, LibraryError> {
        let table =
            document.get(key).and_then(Item::as_table_like).ok_or(LibraryError::Key(key))?;
        spectrum(table).ok_or(LibraryError::Key(key))
    };
    let deviation = curve("deviation_db")?;
    let stated = curve("stated_deviation_db")?;
    let spread =
        |s: &Spectrum<LevelDifference>| s.iter().all(|(_, d)| (0.05..=50.0).contains(&d.0));
    if !spread(&deviation) {
        return Err(LibraryError::Key("deviation_db"));
    }
    if !spread(&stated) {
        return Err(LibraryError::Key("stated_deviation_db"));
    }
    Ok(Comparison {
        name: words("name")?,
        kind: words("kind")?,
        construction: words("construction")?,
        with: words("with").ok(),
        predicted: curve("predicted_db")?,
        measured: curve("measured_db")?,
        deviation,
        stated,
        note: words("note").ok(),
        left_out: document.get("left_out").and_then(Item::as_bool).unwrap_or(false),
    })
}

fn spectrum(table: &dyn TableLike) -> Option<Spectrum<LevelDifference>> {
    let mut out = Spectrum::empty();
    for (key, item) in table.iter() {
        let band = Band::all().find(|b| b.nominal() == key)?;
        let value = item.as_float().or_else(|| item.as_integer().map(|i| i as f64))?;
        if !(-50.0..=200.0).contains(&value) {
            return None;
        }
        out.set(band, LevelDifference(value));
    }
    Some(out)
}

/// A comparison as text.
pub fn write_comparison(c: &Comparison) -> String {
    let mut out = String::from(
        "# What one construction was predicted to keep back, and what it did where it stands.\n\n",
    );
    let mut line = |key: &str, value: &str| {
        let _ = writeln!(out, "{key} = {}", toml_edit::Value::from(value));
    };
    line("name", &c.name);
    line("kind", &c.kind);
    line("construction", &c.construction);
    if let Some(with) = &c.with {
        line("with", with);
    }
    if let Some(note) = &c.note {
        line("note", note);
    }
    let _ = writeln!(out, "left_out = {}", c.left_out);
    for (key, curve) in [
        ("predicted_db", &c.predicted),
        ("measured_db", &c.measured),
        ("deviation_db", &c.deviation),
        ("stated_deviation_db", &c.stated),
    ] {
        let values: Vec<String> =
            curve.iter().map(|(b, d)| format!("{} = {:.2}", toml_key(b.nominal()), d.0)).collect();
        let _ = writeln!(out, "{key} = {{ {} }}", values.join(", "));
    }
    out
}

/// A band as a key; `31.5` needs quotes.
fn toml_key(nominal: &str) -> String {
    if nominal.contains('.') { format!("\"{nominal}\"") } else { nominal.to_owned() }
}
