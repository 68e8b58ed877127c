//! Tables of the file turned into checked records, driven by the table of keys.

use std::ops::Range;

use toml_edit::{Item, TableLike, Value as TomlValue};
use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, OctaveSpectrum, Spectrum, Standing, Standpoint};
use wythe_building::outline::Point;

use crate::keys::{FARTHEST_CORNER, Key, Kind, Need, STANDINGS, Section};
use crate::problem::{Notes, Place};
use crate::quantity::{self, Quantity, QuantityError};
use crate::suggest::hint;

/// A checked value.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    Text(String),
    Flag(bool),
    Whole(i64),
    Number(f64),
    Quantity(Quantity, f64),
    Level(f64, Weighting),
    Texts(Vec<(String, Place)>),
    Wholes(Vec<(i64, Place)>),
    Points(Vec<(Point, Place)>),
    Bands(Box<BandTable>),
    Pairs(Vec<(String, Place, String, Place)>),
    Record(Box<Record>),
    Records(Vec<Record>),
}

/// Values per band, by thirds or by octaves.
#[derive(Clone, Debug, Default)]
pub(crate) struct BandTable {
    pub thirds: Spectrum<f64>,
    pub octaves: OctaveSpectrum<f64>,
    pub by_octaves: bool,
}

impl BandTable {
    /// Thirds; octave values are handed to their three thirds by `share`.
    pub fn to_thirds(&self, share: impl Fn(f64) -> f64) -> Spectrum<f64> {
        if !self.by_octaves {
            return self.thirds;
        }
        let mut out = Spectrum::empty();
        for (octave, value) in self.octaves.iter() {
            for band in octave.thirds() {
                out.set(band, share(value));
            }
        }
        out
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Given {
    pub value: Value,
    pub place: Place,
    pub standing: Option<Standing>,
}

/// One table with its checked values.
#[derive(Clone, Debug)]
pub(crate) struct Record {
    pub section: &'static Section,
    pub label: String,
    pub place: Place,
    values: Vec<(&'static str, Given)>,
    bad: Vec<&'static str>,
    standpoint: (Option<Standing>, Option<String>),
}

impl Record {
    pub fn given(&self, key: &str) -> Option<&Given> {
        debug_assert!(self.section.key(key).is_some(), "{key} is in no table of keys");
        self.values.iter().find(|(k, _)| *k == key).map(|(_, g)| g)
    }
    /// Whether the key stands in the file, usable or not.
    pub fn has(&self, key: &str) -> bool {
        self.given(key).is_some() || self.bad.contains(&key)
    }
    /// Whether the key stands in the file but cannot be used; a message is out already.
    pub fn is_bad(&self, key: &str) -> bool {
        self.bad.contains(&key)
    }
    /// Place of a key's value, or of the table.
    pub fn at(&self, key: &str) -> &Place {
        self.given(key).map_or(&self.place, |g| &g.place)
    }
    pub fn text(&self, key: &str) -> Option<&str> {
        match &self.given(key)?.value {
            Value::Text(t) => Some(t),
            _ => None,
        }
    }
    pub fn flag(&self, key: &str) -> Option<bool> {
        match self.given(key)?.value {
            Value::Flag(f) => Some(f),
            _ => None,
        }
    }
    pub fn whole(&self, key: &str) -> Option<i64> {
        match self.given(key)?.value {
            Value::Whole(n) => Some(n),
            _ => None,
        }
    }
    /// A number, or a quantity in SI.
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.given(key)?.value {
            Value::Number(n) | Value::Quantity(_, n) => Some(n),
            _ => None,
        }
    }
    pub fn bands(&self, key: &str) -> Option<&BandTable> {
        match &self.given(key)?.value {
            Value::Bands(b) => Some(b),
            _ => None,
        }
    }
    pub fn texts(&self, key: &str) -> &[(String, Place)] {
        match self.given(key).map(|g| &g.value) {
            Some(Value::Texts(t)) => t,
            _ => &[],
        }
    }
    pub fn record(&self, key: &str) -> Option<&Record> {
        match &self.given(key)?.value {
            Value::Record(r) => Some(r),
            _ => None,
        }
    }
    pub fn records(&self, key: &str) -> &[Record] {
        match self.given(key).map(|g| &g.value) {
            Some(Value::Records(r)) => r,
            _ => &[],
        }
    }
    /// How well the table is known: what `status` says, or worse where a value says worse.
    pub fn standpoint(&self) -> Standpoint {
        let (own, source) = &self.standpoint;
        let worst = self.values.iter().filter_map(|(_, g)| g.standing).max();
        let standing = match (own, worst) {
            (Some(a), Some(b)) => (*a).max(b),
            (Some(a), None) => *a,
            (None, Some(b)) => b.max(Standing::default()),
            (None, None) => Standing::default(),
        };
        Standpoint { standing, source: source.clone() }
    }
    pub fn source(&self) -> Option<&str> {
        self.standpoint.1.as_deref()
    }
}

/// Reads the tables of one file.
pub(crate) struct Reader<'n> {
    pub notes: &'n mut Notes,
    pub file: usize,
    /// A needed key that this file may leave out: an included file needs no version.
    pub waived: Option<&'static str>,
}

impl Reader<'_> {
    fn place(&self, span: Option<Range<usize>>, fallback: &Place) -> Place {
        match span {
            Some(span) => Place { file: self.file, span },
            None => fallback.clone(),
        }
    }

    /// Reads a table by its section. Everything wrong in it is reported, not only the first.
    pub fn record(
        &mut self,
        table: &dyn TableLike,
        section: &'static Section,
        place: &Place,
        within: &str,
    ) -> Record {
        let label = label(table, section, within);
        let label = match self.notes.texts.get(self.file) {
            Some(text) if label.ends_with(".toml") => text.name.clone(),
            _ => label,
        };
        let mut record = Record {
            section,
            label: label.clone(),
            place: place.clone(),
            values: Vec::new(),
            bad: Vec::new(),
            standpoint: (None, None),
        };
        for (name, item) in table.iter() {
            let key_span = table.get_key_value(name).and_then(|(k, _)| k.span());
            let key_place = self.place(key_span, place);
            let Some(key) = section.key(name) else {
                if self.notes.is_full() {
                    self.notes.dropped += 1;
                    continue;
                }
                let known: Vec<&str> = section.names().collect();
                self.notes.problem(
                    "project::unknown-key",
                    &key_place,
                    format!("{label}: there is no key `{}` here", short(name)),
                    hint(name, &known),
                );
                continue;
            };
            let item_place = self.place(item.span(), &key_place);
            match self.given(item, key, &item_place, &label) {
                Some(given) => record.values.push((key.name, given)),
                None => record.bad.push(key.name),
            }
        }
        for key in section.keys {
            if key.need == Need::Required && !record.has(key.name) && self.waived != Some(key.name)
            {
                self.notes.problem(
                    "project::missing",
                    place,
                    format!("{label}: `{}` is missing", key.name),
                    format!("{}; for example {}", key.help, code(key.example)),
                );
            }
        }
        if section.standing {
            let standing =
                record.text("status").and_then(|w| STANDINGS.iter().position(|s| *s == w));
            let standing =
                standing.map(|i| [Standing::Known, Standing::Assumed, Standing::Unknown][i]);
            let source = record.text("source").map(str::to_owned);
            if let Some(standing) = standing {
                let at = record.at("status").clone();
                let text = format!("stated as {}", standing.word());
                self.notes.note(&label, text, standing, source.clone(), false, &at);
            }
            record.standpoint = (standing, source);
        }
        record
    }

    /// A value, bare or as `{ value, standing, source }`.
    fn given(
        &mut self,
        item: &Item,
        key: &'static Key,
        place: &Place,
        label: &str,
    ) -> Option<Given> {
        if let Some(table) = item.as_table_like()
            && (table.contains_key("value") || table.contains_key("standing"))
            && !matches!(key.kind, Kind::Table(_) | Kind::Records(_) | Kind::Pairs)
        {
            return self.given_in_full(table, key, place, label);
        }
        let value = self.value(item, key, &key.kind, place, label)?;
        Some(Given { value, place: place.clone(), standing: None })
    }

    fn given_in_full(
        &mut self,
        table: &dyn TableLike,
        key: &'static Key,
        place: &Place,
        label: &str,
    ) -> Option<Given> {
        let known = ["value", "standing", "status", "source"];
        let mut standing = None;
        let mut source = None;
        for (name, item) in table.iter() {
            let span = table.get_key_value(name).and_then(|(k, _)| k.span());
            let at = self.place(span, place);
            match name {
                "standing" | "status" => match item.as_str() {
                    Some("known") => standing = Some(Standing::Known),
                    Some("assumed") => standing = Some(Standing::Assumed),
                    Some("unknown") => standing = Some(Standing::Unknown),
                    _ => self.notes.problem(
                        "project::word",
                        &self.place(item.span(), &at),
                        format!(
                            "{label}, {}: `{name}` is one of known, assumed, unknown",
                            key.name
                        ),
                        "for example `standing = \"assumed\"`",
                    ),
                },
                "source" => match item.as_str() {
                    Some(text) => source = Some(text.to_owned()),
                    None => self.notes.problem(
                        "project::type",
                        &at,
                        format!("{label}, {}: `source` is a text", key.name),
                        "for example `source = \"data sheet, page 3\"`",
                    ),
                },
                "value" => {}
                _ => self.notes.problem(
                    "project::unknown-key",
                    &at,
                    format!("{label}, {}: there is no key `{}` here", key.name, short(name)),
                    hint(name, &known),
                ),
            }
        }
        let value = match table.get("value") {
            Some(item) => {
                let at = self.place(item.span(), place);
                self.value(item, key, &key.kind, &at, label).map(|v| (v, at))
            }
            None => {
                if key.need == Need::Required || standing != Some(Standing::Unknown) {
                    self.notes.problem(
                        "project::missing",
                        place,
                        format!("{label}, {}: `value` is missing", key.name),
                        format!("for example {}", code(key.example)),
                    );
                }
                None
            }
        };
        if let Some(standing) = standing {
            let text = match &value {
                Some(_) => format!("stated as {}", standing.word()),
                None => "no value stated".to_owned(),
            };
            let what = format!("{label}, {}", key.name);
            self.notes.note(what, text, standing, source, false, place);
        }
        let (value, place) = value?;
        Some(Given { value, place, standing })
    }

    fn value(
        &mut self,
        item: &Item,
        key: &'static Key,
        kind: &'static Kind,
        place: &Place,
        label: &str,
    ) -> Option<Value> {
        let wrong = |reader: &mut Self, expected: &str| {
            let what = match item.type_name() {
                "none" => "nothing",
                other => other,
            };
            reader.notes.problem(
                "project::type",
                place,
                format!(
                    "{label}: `{}` is {expected}, here stands {} {what}",
                    key.name,
                    article(what)
                ),
                format!("for example {}", code(key.example)),
            );
            None
        };
        match kind {
            Kind::Text | Kind::Id | Kind::Word(_) => {
                let Some(text) = item.as_str() else { return wrong(self, "a text") };
                self.text(text, key, kind, place, label)
            }
            Kind::Flag => match item.as_bool() {
                Some(flag) => Some(Value::Flag(flag)),
                None => wrong(self, "`true` or `false`"),
            },
            Kind::Whole(least, most) => {
                let Some(n) = item.as_integer() else { return wrong(self, "a whole number") };
                if n < *least || n > *most {
                    self.range(
                        key,
                        place,
                        label,
                        &n.to_string(),
                        &least.to_string(),
                        &most.to_string(),
                    );
                    return None;
                }
                Some(Value::Whole(n))
            }
            Kind::Number(least, most) => {
                let Some(n) = item.as_float().or_else(|| item.as_integer().map(|n| n as f64))
                else {
                    return wrong(self, "a number without unit");
                };
                if !(n >= *least && n <= *most) {
                    self.range(
                        key,
                        place,
                        label,
                        &n.to_string(),
                        &least.to_string(),
                        &most.to_string(),
                    );
                    return None;
                }
                Some(Value::Number(n))
            }
            Kind::Quantity(quantity, least, most) => {
                let n = self.quantity(item, *quantity, key, place, label, None)?;
                if !(n >= *least && n <= *most) {
                    self.quantity_range(item, *quantity, key, place, label, *least, *most);
                    return None;
                }
                Some(Value::Quantity(*quantity, n))
            }
            Kind::Level => {
                let Some(text) = item.as_str() else {
                    if let Some(n) = bare_number(item) {
                        self.no_unit(key, place, label, &n, "dB Leq");
                        return None;
                    }
                    return wrong(self, "a level with its unit");
                };
                match quantity::parse_level(text) {
                    Ok((level, weighting)) if (-20.0..=194.0).contains(&level) => {
                        Some(Value::Level(level, weighting))
                    }
                    Ok((level, _)) => {
                        self.range(key, place, label, &format!("{level} dB"), "-20 dB", "194 dB");
                        None
                    }
                    Err(error) => {
                        self.quantity_error(error, Quantity::Level, key, place, label);
                        None
                    }
                }
            }
            Kind::Texts(least, most) => {
                let Some(array) = item.as_array() else { return wrong(self, "a list of texts") };
                let mut texts = Vec::new();
                for value in array.iter() {
                    let at = self.place(value.span(), place);
                    match value.as_str() {
                        Some(text) => texts.push((text.to_owned(), at)),
                        None => {
                            self.notes.problem(
                                "project::type",
                                &at,
                                format!("{label}: `{}` holds texts only", key.name),
                                format!("for example {}", code(key.example)),
                            );
                            return None;
                        }
                    }
                }
                if texts.len() < *least || texts.len() > *most {
                    let count = if least == most {
                        format!("{least}")
                    } else {
                        format!("{least} to {most}")
                    };
                    self.notes.problem(
                        "project::count",
                        place,
                        format!(
                            "{label}: `{}` holds {count} texts, here are {}",
                            key.name,
                            texts.len()
                        ),
                        format!("for example {}", code(key.example)),
                    );
                    return None;
                }
                Some(Value::Texts(texts))
            }
            Kind::Wholes => {
                let Some(array) = item.as_array() else {
                    return wrong(self, "a list of whole numbers");
                };
                let mut numbers = Vec::new();
                for value in array.iter() {
                    let at = self.place(value.span(), place);
                    match value.as_integer() {
                        Some(n) if (1..=1024).contains(&n) => numbers.push((n, at)),
                        _ => {
                            self.notes.problem(
                                "project::type",
                                &at,
                                format!("{label}: `{}` holds whole numbers from 1", key.name),
                                format!("for example {}", code(key.example)),
                            );
                            return None;
                        }
                    }
                }
                Some(Value::Wholes(numbers))
            }
            Kind::Points => self.points(item, key, place, label),
            Kind::Bands(quantity, least, most) => {
                let Some(table) = item.as_table_like() else {
                    return wrong(self, "a table of values per band");
                };
                self.bands(table, *quantity, *least, *most, key, place, label)
                    .map(|table| Value::Bands(Box::new(table)))
            }
            Kind::Pairs => {
                let Some(table) = item.as_table_like() else {
                    return wrong(self, "a table of texts");
                };
                let mut pairs = Vec::new();
                for (name, value) in table.iter() {
                    let span = table.get_key_value(name).and_then(|(k, _)| k.span());
                    let at = self.place(span, place);
                    let value_at = self.place(value.span(), &at);
                    match value.as_str() {
                        Some(text) => pairs.push((name.to_owned(), at, text.to_owned(), value_at)),
                        None => self.notes.problem(
                            "project::type",
                            &value_at,
                            format!("{label}: `{}` is a text", short(name)),
                            format!("for example {}", code(key.example)),
                        ),
                    }
                }
                Some(Value::Pairs(pairs))
            }
            Kind::Table(section) => {
                let Some(table) = item.as_table_like() else { return wrong(self, "a table") };
                Some(Value::Record(Box::new(self.record(table, section, place, label))))
            }
            Kind::Records(section) => self.records(item, section, key, place, label),
            Kind::OneOf(kinds) => {
                for kind in *kinds {
                    let fits = match kind {
                        Kind::Text => item.is_str(),
                        Kind::Bands(..) => item.is_table_like(),
                        Kind::Quantity(q, ..) => {
                            item.as_str().is_some_and(|t| quantity::parse(*q, t).is_ok())
                        }
                        _ => false,
                    };
                    if fits {
                        return self.value(item, key, kind, place, label);
                    }
                }
                // Nothing fits: a text or number is judged as the first quantity, to say why.
                let quantity = kinds.iter().find(|k| matches!(k, Kind::Quantity(..)));
                match quantity {
                    Some(kind) if !item.is_table_like() => {
                        self.value(item, key, kind, place, label)
                    }
                    _ => {
                        let forms: Vec<&str> = kinds.iter().map(kind_in_words).collect();
                        wrong(self, &forms.join(" or "))
                    }
                }
            }
        }
    }

    fn text(
        &mut self,
        text: &str,
        key: &'static Key,
        kind: &'static Kind,
        place: &Place,
        label: &str,
    ) -> Option<Value> {
        match kind {
            Kind::Word(words) if !words.contains(&text) => {
                self.notes.problem(
                    "project::word",
                    place,
                    format!("{label}: `{}` cannot be `{}`", key.name, short(text)),
                    hint(text, words),
                );
                None
            }
            Kind::Id
                if text.trim().is_empty()
                    || text.len() > 100
                    || text.chars().any(char::is_control) =>
            {
                self.notes.problem(
                    "project::id",
                    place,
                    format!("{label}: `{}` is a short name on one line", key.name),
                    format!("for example {}", code(key.example)),
                );
                None
            }
            _ => Some(Value::Text(text.to_owned())),
        }
    }

    /// A quantity in SI; with `unit` a bare number is read in that unit.
    fn quantity(
        &mut self,
        item: &Item,
        quantity: Quantity,
        key: &'static Key,
        place: &Place,
        label: &str,
        unit: Option<f64>,
    ) -> Option<f64> {
        if let Some(text) = item.as_str() {
            return match quantity::parse(quantity, text) {
                Ok(n) => Some(n),
                Err(error) => {
                    self.quantity_error(error, quantity, key, place, label);
                    None
                }
            };
        }
        match (item.as_float().or_else(|| item.as_integer().map(|n| n as f64)), unit) {
            (Some(n), Some(factor)) if n.is_finite() => Some(n * factor),
            (Some(n), _) if !n.is_finite() => {
                self.notes.problem(
                    "project::range",
                    place,
                    format!("{label}: `{}` is no finite number", key.name),
                    format!("for example {}", code(key.example)),
                );
                None
            }
            (Some(_), _) => {
                let n = bare_number(item).unwrap_or_default();
                self.no_unit(key, place, label, &n, quantity.unit());
                None
            }
            (None, _) => {
                self.notes.problem(
                    "project::type",
                    place,
                    format!(
                        "{label}: `{}` is {} {} with its unit, as text",
                        key.name,
                        article(quantity.plural()),
                        quantity.plural()
                    ),
                    format!("for example {}", code(key.example)),
                );
                None
            }
        }
    }

    fn no_unit(&mut self, key: &'static Key, place: &Place, label: &str, number: &str, unit: &str) {
        self.notes.problem(
            "project::unit",
            place,
            format!("{label}: `{}` is the bare number {number}; it needs a unit", key.name),
            format!(
                "write `\"{number} {unit}\"` if that is meant; for example {}",
                code(key.example)
            ),
        );
    }

    fn quantity_error(
        &mut self,
        error: QuantityError,
        quantity: Quantity,
        key: &'static Key,
        place: &Place,
        label: &str,
    ) {
        let code_ = match &error {
            QuantityError::Comma(..) => "project::decimal-comma",
            QuantityError::NotFinite(_) => "project::range",
            _ => "project::unit",
        };
        let help = match &error {
            QuantityError::Comma(_, point) => format!("write `\"{}\"`", short(point)),
            _ => format!(
                "for example {}; {} is written as {}",
                code(key.example),
                quantity.plural(),
                quantity.forms()
            ),
        };
        let text = short(&error.to_string()).to_owned();
        self.notes.problem(code_, place, format!("{label}: `{}` {text}", key.name), help);
    }

    #[allow(clippy::too_many_arguments)]
    fn quantity_range(
        &mut self,
        item: &Item,
        quantity: Quantity,
        key: &'static Key,
        place: &Place,
        label: &str,
        least: f64,
        most: f64,
    ) {
        let shown = item.as_str().map(|s| short(s).to_owned()).or_else(|| bare_number(item));
        let unit = quantity.unit();
        self.range(
            key,
            place,
            label,
            &shown.unwrap_or_default(),
            &format!("{} {unit}", trim_number(least)),
            &format!("{} {unit}", trim_number(most)),
        );
    }

    fn range(
        &mut self,
        key: &'static Key,
        place: &Place,
        label: &str,
        shown: &str,
        least: &str,
        most: &str,
    ) {
        self.notes.problem(
            "project::range",
            place,
            format!(
                "{label}: `{}` cannot be {shown}; it lies between {least} and {most}",
                key.name
            ),
            format!("for example {}", code(key.example)),
        );
    }

    fn points(
        &mut self,
        item: &Item,
        key: &'static Key,
        place: &Place,
        label: &str,
    ) -> Option<Value> {
        let bad = |reader: &mut Self, at: &Place| {
            reader.notes.problem(
                "project::type",
                at,
                format!("{label}: `{}` is a list of corners, two lengths each", key.name),
                format!("for example {}", code(key.example)),
            );
        };
        let Some(array) = item.as_array() else {
            bad(self, place);
            return None;
        };
        if array.len() > wythe_building::outline::Outline::MOST_CORNERS + 1 {
            let most = wythe_building::outline::Outline::MOST_CORNERS;
            self.notes.problem(
                "project::count",
                place,
                format!("{label}: `{}` has {} corners, more than {most}", key.name, array.len()),
                "leave out the niches; they hardly change area and volume",
            );
            return None;
        }
        let mut points = Vec::new();
        let mut fine = true;
        for corner in array.iter() {
            let at = self.place(corner.span(), place);
            let pair = corner.as_array().filter(|c| c.len() == 2);
            let Some(pair) = pair else {
                bad(self, &at);
                fine = false;
                continue;
            };
            let mut xy = [0.0; 2];
            for (slot, value) in xy.iter_mut().zip(pair.iter()) {
                let at = self.place(value.span(), &at);
                let item = Item::Value(value.clone());
                match self.quantity(&item, Quantity::Length, key, &at, label, None) {
                    Some(n) if n.abs() <= FARTHEST_CORNER => *slot = n,
                    Some(_) => {
                        self.quantity_range(
                            &item,
                            Quantity::Length,
                            key,
                            &at,
                            label,
                            -FARTHEST_CORNER,
                            FARTHEST_CORNER,
                        );
                        fine = false;
                    }
                    None => fine = false,
                }
            }
            points.push((Point::at(xy[0], xy[1]), at));
        }
        fine.then_some(Value::Points(points))
    }

    #[allow(clippy::too_many_arguments)]
    fn bands(
        &mut self,
        table: &dyn TableLike,
        quantity: Quantity,
        least: f64,
        most: f64,
        key: &'static Key,
        place: &Place,
        label: &str,
    ) -> Option<BandTable> {
        let mut fine = true;
        let mut unit = None;
        if let Some(item) = table.get("unit") {
            let at = self.place(item.span(), place);
            match item.as_str().map(|u| quantity::parse(quantity, &format!("1 {u}"))) {
                Some(Ok(factor)) => unit = Some(factor),
                _ => {
                    self.notes.problem(
                        "project::unit",
                        &at,
                        format!("{label}, {}: `unit` is a unit of {}", key.name, quantity.plural()),
                        format!("for example `unit = \"{}\"`", quantity.unit()),
                    );
                    return None;
                }
            }
        }
        let mut entries: Vec<(Band, f64, Place)> = Vec::new();
        let mut by: Option<bool> = None;
        for (name, item) in table.iter() {
            let span = table.get_key_value(name).and_then(|(k, _)| k.span());
            let at = self.place(span, place);
            match name {
                "unit" | "source" => continue,
                "bands" => {
                    match item.as_str() {
                        Some("thirds") => by = Some(false),
                        Some("octaves") => by = Some(true),
                        _ => {
                            self.notes.problem(
                                "project::word",
                                &self.place(item.span(), &at),
                                format!("{label}, {}: `bands` is `thirds` or `octaves`", key.name),
                                "leave it out and it is found from the frequencies",
                            );
                            fine = false;
                        }
                    }
                    continue;
                }
                "status" => {
                    let standing = item.as_str().and_then(|w| {
                        [Standing::Known, Standing::Assumed, Standing::Unknown]
                            .into_iter()
                            .find(|s| s.word() == w)
                    });
                    match standing {
                        Some(standing) => {
                            let source =
                                table.get("source").and_then(Item::as_str).map(str::to_owned);
                            let what = format!("{label}, {}", key.name);
                            let text = format!("stated as {}", standing.word());
                            self.notes.note(what, text, standing, source, false, &at);
                        }
                        None => {
                            self.notes.problem(
                                "project::word",
                                &self.place(item.span(), &at),
                                format!(
                                    "{label}, {}: `status` is one of known, assumed, unknown",
                                    key.name
                                ),
                                "for example `status = \"known\"`",
                            );
                            fine = false;
                        }
                    }
                    continue;
                }
                _ => {}
            }
            // `31.5 = …` without quotes arrives as the key 31 holding the key 5.
            let (name, item) = match item.as_table_like() {
                Some(inner) if inner.len() == 1 => match inner.iter().next() {
                    Some((rest, item)) => (format!("{name}.{rest}"), item),
                    None => (name.to_owned(), item),
                },
                _ => (name.to_owned(), item),
            };
            let value_at = self.place(item.span(), &at);
            let stripped = name.strip_suffix("Hz").unwrap_or(&name).trim();
            let Some(band) = Band::from_nominal(stripped) else {
                self.notes.problem(
                    "project::band",
                    &at,
                    format!("{label}, {}: `{}` is no band", key.name, short(&name)),
                    "bands are named by their nominal frequency in hertz, 20 to 20000: 63, 80, 100, 125, …; beside them `unit`, `bands`, `status`, `source`",
                );
                fine = false;
                continue;
            };
            if entries.iter().any(|(b, ..)| *b == band) {
                self.notes.problem(
                    "project::band",
                    &at,
                    format!("{label}, {}: {} Hz stands twice", key.name, band),
                    "keep one of them",
                );
                fine = false;
                continue;
            }
            let Some(n) = self.quantity(item, quantity, key, &value_at, label, unit) else {
                fine = false;
                continue;
            };
            if !(n >= least && n <= most) {
                self.quantity_range(item, quantity, key, &value_at, label, least, most);
                fine = false;
                continue;
            }
            entries.push((band, n, at));
        }
        if !fine {
            return None;
        }
        if entries.is_empty() {
            self.notes.problem(
                "project::band",
                place,
                format!("{label}: `{}` has no band", key.name),
                format!("for example {}", code(key.example)),
            );
            return None;
        }
        let octave = |band: Band| band.octave().filter(|o| o.centre_band() == band);
        let all_octaves = entries.iter().all(|(b, ..)| octave(*b).is_some());
        let by_octaves = by.unwrap_or(all_octaves);
        let mut out = BandTable { by_octaves, ..BandTable::default() };
        for (band, n, at) in entries {
            match (by_octaves, octave(band)) {
                (false, _) => out.thirds.set(band, n),
                (true, Some(o)) => out.octaves.set(o, n),
                (true, None) => {
                    self.notes.problem(
                        "project::band",
                        &at,
                        format!("{label}, {}: {band} Hz is no octave band", key.name),
                        "octaves are 31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 16000",
                    );
                    return None;
                }
            }
        }
        Some(out)
    }

    fn records(
        &mut self,
        item: &Item,
        section: &'static Section,
        key: &'static Key,
        place: &Place,
        label: &str,
    ) -> Option<Value> {
        let mut out = Vec::new();
        // The project file itself is no table to name in messages.
        let within = if label.ends_with(".toml") { "" } else { label };
        if let Some(tables) = item.as_array_of_tables() {
            for table in tables.iter() {
                let at = self.place(table.span(), place);
                out.push(self.record(table, section, &at, within));
            }
        } else if let Some(array) = item.as_array() {
            for value in array.iter() {
                let at = self.place(value.span(), place);
                match value {
                    TomlValue::InlineTable(table) => {
                        out.push(self.record(table, section, &at, within));
                    }
                    _ => {
                        self.notes.problem(
                            "project::type",
                            &at,
                            format!("{label}: `{}` holds tables only", key.name),
                            format!("for example {}", code(key.example)),
                        );
                        return None;
                    }
                }
            }
        } else if let Some(table) = item.as_table_like() {
            let header = section.heading;
            if item.is_table() && header.starts_with("[[") {
                self.notes.problem(
                    "project::type",
                    place,
                    format!("{label}: `{}` is a list of tables", key.name),
                    format!("write its heading with two brackets: `{header}`"),
                );
                return None;
            }
            out.push(self.record(table, section, place, within));
        } else {
            self.notes.problem(
                "project::type",
                place,
                format!("{label}: `{}` is a list of tables", key.name),
                format!("for example {}", code(key.example)),
            );
            return None;
        }
        Some(Value::Records(out))
    }
}

/// How a table is called in messages: by its own id where it has one.
fn label(table: &dyn TableLike, section: &Section, within: &str) -> String {
    let noun = match section.name {
        "project" | "survey" | "build_up_file" => return section.heading.to_owned(),
        "build_up" => "build-up",
        "sound_source" => "source",
        "measured_decay" => "decay time",
        other => other,
    };
    let named = ["id", "name", "file", "board", "number"]
        .iter()
        .filter(|k| section.key(k).is_some())
        .find_map(|k| {
            let item = table.get(k)?;
            item.as_str().map(str::to_owned).or_else(|| item.as_integer().map(|n| n.to_string()))
        });
    let rooms: Vec<String> = match table.get("between").and_then(Item::as_array) {
        Some(pair) => pair.iter().take(2).filter_map(|r| r.as_str().map(short)).collect(),
        None => Vec::new(),
    };
    let word =
        |key: &str| section.key(key).and_then(|_| table.get(key)).and_then(Item::as_str).map(short);
    let own = match (named, &rooms[..]) {
        (Some(name), _) => format!("{noun} `{}`", short(&name)),
        (None, [a, b]) => format!("{noun} `{a}`/`{b}`"),
        _ => match (word("room"), word("kind")) {
            (Some(room), _) => format!("{noun} in `{room}`"),
            (None, Some(kind)) => format!("{noun} ({kind})"),
            (None, None) => noun.to_owned(),
        },
    };
    if within.is_empty() || within.ends_with(".toml") { own } else { format!("{within}, {own}") }
}

fn kind_in_words(kind: &Kind) -> &'static str {
    match kind {
        Kind::Text => "a text",
        Kind::Bands(..) => "a table of values per band",
        Kind::Quantity(q, ..) => q.plural(),
        _ => "a value",
    }
}

fn article(noun: &str) -> &'static str {
    if noun.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}

fn bare_number(item: &Item) -> Option<String> {
    item.as_integer()
        .map(|n| n.to_string())
        .or_else(|| item.as_float().filter(|n| n.is_finite()).map(trim_number))
}

fn trim_number(n: f64) -> String {
    format!("{n}")
}

fn code(example: &str) -> String {
    format!("`{example}`")
}

/// The beginning of a long text, so that a message stays a message.
pub(crate) fn short(text: &str) -> String {
    let one_line: String =
        text.chars().take(80).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > 80 { format!("{one_line}…") } else { one_line }
}
