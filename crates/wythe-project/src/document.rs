//! Changing single values of a project file and keeping everything else as it was written.

use toml_edit::{DocumentMut, Item, TableLike, Value};

/// A project file being edited: comments, order and blanks stay.
///
/// A path names tables by their id, name or position counted from 0:
/// `room[bedroom].height`, `boundary[hall-lobby].opening[0].seals.sill`, `limits.budget`.
///
/// ```
/// use wythe_project::Document;
/// let mut document = Document::parse("[[room]]\nid = \"bedroom\"\nheight = \"2.4 m\"  # measured\n")?;
/// document.set("room[bedroom].height", "\"2.5 m\"")?;
/// assert_eq!(document.text(), "[[room]]\nid = \"bedroom\"\nheight = \"2.5 m\"  # measured\n");
/// # Ok::<(), wythe_project::EditError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Document {
    inner: DocumentMut,
    /// Whether lines end as on Windows; the parser hands back plain ends.
    carriage_returns: bool,
    /// Whether the text began with a byte order mark.
    marked: bool,
}

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum EditError {
    /// The text is no TOML.
    #[error("the text cannot be edited, because it cannot be read: {0}")]
    Syntax(String),
    /// The path is not written as it should be.
    #[error("path `{0}` cannot be read; write it as `room[bedroom].height`")]
    Path(String),
    /// A part of the path does not exist.
    #[error("there is no `{part}` in `{path}`")]
    Missing {
        /// The whole path.
        path: String,
        /// The part that does not exist.
        part: String,
    },
    /// The new value is no TOML value.
    #[error("`{0}` is no value; texts stand in double quotes")]
    Value(String),
    /// The path ends at a table where a value was expected, or the other way round.
    #[error("`{0}` is a table, not a value")]
    Table(String),
    /// The file is too large.
    #[error("a text of more than 4 MiB is not edited")]
    TooLarge,
}

enum Step {
    Key(String),
    Pick(String),
}

impl Document {
    /// A document from its text.
    ///
    /// # Errors
    /// [`EditError::Syntax`] or [`EditError::TooLarge`].
    pub fn parse(text: &str) -> Result<Document, EditError> {
        if text.len() as u64 > crate::LARGEST_TEXT {
            return Err(EditError::TooLarge);
        }
        let (marked, body) = match text.strip_prefix('\u{feff}') {
            Some(body) => (true, body),
            None => (false, text),
        };
        let carriage_returns = body.contains("\r\n");
        match body.parse::<DocumentMut>() {
            Ok(inner) => Ok(Document { inner, carriage_returns, marked }),
            Err(error) => Err(EditError::Syntax(error.message().to_owned())),
        }
    }

    /// The text as it would be saved.
    pub fn text(&self) -> String {
        let mut text = self.inner.to_string();
        if self.carriage_returns {
            text = text.replace("\r\n", "\n").replace('\n', "\r\n");
        }
        if self.marked { format!("\u{feff}{text}") } else { text }
    }

    /// Sets a value, given as TOML (`"\"2.5 m\""`, `3`, `true`, `{ value = "2.5 m", standing =
    /// "known" }`). A key that is not there yet is added to its table; the comment behind a value
    /// stays.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn set(&mut self, path: &str, value: &str) -> Result<(), EditError> {
        let mut new: Value = value.parse().map_err(|_| EditError::Value(value.to_owned()))?;
        let (table, key) = self.table_of(path)?;
        match table.get_mut(&key) {
            Some(Item::Value(old)) => {
                *new.decor_mut() = old.decor().clone();
                *old = new;
            }
            Some(Item::None) | None => {
                new.decor_mut().clear();
                table.insert(&key, Item::Value(new));
            }
            Some(_) => return Err(EditError::Table(path.to_owned())),
        }
        Ok(())
    }

    /// Sets a text, whatever is in it.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn set_text(&mut self, path: &str, text: &str) -> Result<(), EditError> {
        self.set(path, &Value::from(text).to_string())
    }

    /// The value at a path as TOML, without blanks around it; `None` when there is none.
    pub fn get(&self, path: &str) -> Option<String> {
        look(self.inner.as_item(), &steps(path)?)?
            .value()
            .map(|v| v.clone().decorated("", "").to_string())
    }

    /// The text at a path; `None` when there is none or it is no text.
    pub fn text_at(&self, path: &str) -> Option<&str> {
        look(self.inner.as_item(), &steps(path)?)?.value()?.as_str()
    }

    /// Takes a key, or one table of a list, out.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn remove(&mut self, path: &str) -> Result<(), EditError> {
        let missing =
            |part: &str| EditError::Missing { path: path.to_owned(), part: part.to_owned() };
        let mut steps = steps(path).ok_or_else(|| EditError::Path(path.to_owned()))?;
        match steps.pop() {
            Some(Step::Key(key)) => {
                let table = walk(self.inner.as_item_mut(), &steps)
                    .and_then(At::table)
                    .ok_or_else(|| missing(&key))?;
                table.remove(&key).map(|_| ()).ok_or_else(|| missing(&key))
            }
            Some(Step::Pick(which)) => {
                let list = walk(self.inner.as_item_mut(), &steps)
                    .and_then(At::item)
                    .ok_or_else(|| missing(&which))?;
                let at = position(list, &which).ok_or_else(|| missing(&which))?;
                match list {
                    Item::ArrayOfTables(tables) => {
                        tables.remove(at);
                    }
                    Item::Value(Value::Array(array)) => {
                        array.remove(at);
                    }
                    _ => return Err(missing(&which)),
                }
                Ok(())
            }
            None => Err(EditError::Path(path.to_owned())),
        }
    }

    /// Puts a value, given as TOML, into a list written in brackets, before position `at` counted
    /// from 0; at the end where `at` is the length.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn insert(&mut self, path: &str, at: usize, value: &str) -> Result<(), EditError> {
        let mut new: Value = value.parse().map_err(|_| EditError::Value(value.to_owned()))?;
        let list = self.list_of(path)?;
        if at > list.len() {
            return Err(missing(path, &at.to_string()));
        }
        // The new one stands on its line as its neighbour does.
        let neighbour = list.get(at.min(list.len().saturating_sub(1)));
        match neighbour.map(|v| v.decor().clone()) {
            Some(decor) => *new.decor_mut() = decor,
            None => new.decor_mut().clear(),
        }
        list.insert_formatted(at, new);
        Ok(())
    }

    /// Moves an entry of a list written in brackets to another position, both counted from 0.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn shift(&mut self, path: &str, from: usize, to: usize) -> Result<(), EditError> {
        let list = self.list_of(path)?;
        for at in [from, to] {
            if at >= list.len() {
                return Err(missing(path, &at.to_string()));
            }
        }
        let moved = list.remove(from);
        list.insert_formatted(to, moved);
        Ok(())
    }

    /// Number of entries of a list written in brackets; `None` when there is no such list.
    pub fn count(&self, path: &str) -> Option<usize> {
        look(self.inner.as_item(), &steps(path)?)?.value()?.as_array().map(toml_edit::Array::len)
    }

    /// Number of tables of a list, in brackets or each under its heading; 0 when there is none.
    pub fn tables(&self, path: &str) -> usize {
        let Some(steps) = steps(path) else { return 0 };
        match look(self.inner.as_item(), &steps) {
            Some(Seen::Item(Item::ArrayOfTables(tables))) => tables.len(),
            Some(seen) => seen.value().and_then(Value::as_array).map_or(0, toml_edit::Array::len),
            None => 0,
        }
    }

    fn list_of(&mut self, path: &str) -> Result<&mut toml_edit::Array, EditError> {
        let steps = steps(path).ok_or_else(|| EditError::Path(path.to_owned()))?;
        walk(self.inner.as_item_mut(), &steps)
            .and_then(At::item)
            .ok_or_else(|| missing(path, path))?
            .as_array_mut()
            .ok_or_else(|| EditError::Table(path.to_owned()))
    }

    /// Adds a table with texts to a list of tables, such as the stretches of a recording, and
    /// makes the list where there is none.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn push(&mut self, path: &str, texts: &[(&str, &str)]) -> Result<(), EditError> {
        let (table, key) = self.table_of(path)?;
        let mut new = toml_edit::Table::new();
        for (name, text) in texts {
            new.insert(name, toml_edit::value(*text));
        }
        match table.get_mut(&key) {
            None => {
                let mut list = toml_edit::ArrayOfTables::new();
                list.push(new);
                table.insert(&key, Item::ArrayOfTables(list));
            }
            Some(Item::ArrayOfTables(list)) => list.push(new),
            Some(Item::Value(Value::Array(list))) => list.push(new.into_inline_table()),
            Some(_) => return Err(EditError::Table(path.to_owned())),
        }
        Ok(())
    }

    /// Adds text, such as a `[[change]]` with its keys, at the end. Nothing is added when the
    /// whole would not read any more.
    ///
    /// # Errors
    /// [`EditError`]; the document is then unchanged.
    pub fn append(&mut self, toml: &str) -> Result<(), EditError> {
        let mut text = self.text();
        if !text.is_empty() && !text.ends_with('\n') {
            text.push('\n');
        }
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(toml.trim_end());
        text.push('\n');
        *self = Document::parse(&text)?;
        Ok(())
    }

    /// Lets go of all tables and keys at the top but these.
    pub fn keep(&mut self, names: &[&str]) {
        self.inner.retain(|name, _| names.contains(&name));
    }

    /// Lets go of all tables of a list but the one of that id, name or number.
    pub fn keep_of(&mut self, list: &str, which: &str) {
        let Some(list) = self.inner.get_mut(list) else { return };
        let Some(at) = position(list, which) else { return };
        let mut i = 0;
        let mut wanted = || {
            i += 1;
            i == at + 1
        };
        match list {
            Item::ArrayOfTables(tables) => tables.retain(|_| wanted()),
            Item::Value(Value::Array(array)) => array.retain(|_| wanted()),
            _ => {}
        }
    }

    /// Takes out the tables of a list in which one of these names stands anywhere but in a title,
    /// note or source, and tells the ids of what went.
    pub fn remove_naming(&mut self, list: &str, names: &[String]) -> Vec<String> {
        let mut gone = Vec::new();
        let mut keep = |table: &dyn TableLike| {
            let named = naming(table, names);
            if named {
                ids_in(table, &mut gone);
            }
            !named
        };
        let Ok((table, key)) = self.table_of(list) else { return gone };
        let empty = match table.get_mut(&key) {
            Some(Item::ArrayOfTables(tables)) => {
                tables.retain(|t| keep(t));
                tables.is_empty()
            }
            Some(Item::Value(Value::Array(all))) => {
                all.retain(|v| v.as_inline_table().is_none_or(|t| keep(t)));
                all.is_empty()
            }
            _ => false,
        };
        if empty {
            table.remove(&key);
        }
        gone
    }

    fn table_of(&mut self, path: &str) -> Result<(&mut dyn TableLike, String), EditError> {
        let mut steps = steps(path).ok_or_else(|| EditError::Path(path.to_owned()))?;
        let Some(Step::Key(key)) = steps.pop() else {
            return Err(EditError::Path(path.to_owned()));
        };
        let last = match steps.last() {
            Some(Step::Key(part) | Step::Pick(part)) => part.clone(),
            None => String::new(),
        };
        let table = walk(self.inner.as_item_mut(), &steps)
            .and_then(At::table)
            .ok_or_else(|| EditError::Missing { path: path.to_owned(), part: last })?;
        Ok((table, key))
    }
}

fn missing(path: &str, part: &str) -> EditError {
    EditError::Missing { path: path.to_owned(), part: part.to_owned() }
}

fn steps(path: &str) -> Option<Vec<Step>> {
    let mut out = Vec::new();
    let mut rest = path;
    while !rest.is_empty() {
        if out.len() > 20 {
            return None;
        }
        if let Some(inner) = rest.strip_prefix('[') {
            let (which, after) = inner.split_once(']')?;
            out.push(Step::Pick(which.to_owned()));
            rest = after;
        } else {
            let body = rest.strip_prefix('.').filter(|_| !out.is_empty()).unwrap_or(rest);
            let end = body.find(['.', '[']).unwrap_or(body.len());
            if end == 0 {
                return None;
            }
            out.push(Step::Key(body[..end].to_owned()));
            rest = &body[end..];
        }
    }
    (!out.is_empty()).then_some(out)
}

/// Somewhere in the document: a table of a list is no item, so both kinds are needed.
enum At<'a> {
    Item(&'a mut Item),
    Table(&'a mut dyn TableLike),
}

impl<'a> At<'a> {
    fn table(self) -> Option<&'a mut dyn TableLike> {
        match self {
            At::Item(item) => item.as_table_like_mut(),
            At::Table(table) => Some(table),
        }
    }

    fn item(self) -> Option<&'a mut Item> {
        match self {
            At::Item(item) => Some(item),
            At::Table(_) => None,
        }
    }
}

fn walk<'a>(root: &'a mut Item, steps: &[Step]) -> Option<At<'a>> {
    let mut at = At::Item(root);
    for step in steps {
        at = match step {
            Step::Key(key) => At::Item(at.table()?.get_mut(key)?),
            Step::Pick(which) => {
                let list = at.item()?;
                let index = position(list, which)?;
                match list {
                    Item::ArrayOfTables(tables) => At::Table(tables.get_mut(index)?),
                    Item::Value(Value::Array(array)) => {
                        At::Table(array.get_mut(index)?.as_inline_table_mut()?)
                    }
                    _ => return None,
                }
            }
        };
    }
    Some(at)
}

/// Keys whose texts are for people.
const FOR_PEOPLE: [&str; 3] = ["title", "notes", "source"];

fn naming(table: &dyn TableLike, names: &[String]) -> bool {
    fn in_value(value: &Value, names: &[String]) -> bool {
        match value {
            Value::String(text) => names.iter().any(|n| n == text.value()),
            Value::Array(all) => all.iter().any(|v| in_value(v, names)),
            Value::InlineTable(table) => naming(table, names),
            _ => false,
        }
    }
    table.iter().filter(|(key, _)| !FOR_PEOPLE.contains(key)).any(|(_, item)| match item {
        Item::Value(value) => in_value(value, names),
        Item::Table(table) => naming(table, names),
        Item::ArrayOfTables(all) => all.iter().any(|t| naming(t, names)),
        Item::None => false,
    })
}

fn ids_in(table: &dyn TableLike, out: &mut Vec<String>) {
    for (key, item) in table.iter() {
        match item {
            Item::Value(Value::String(id)) if key == "id" => out.push(id.value().clone()),
            Item::Table(table) => ids_in(table, out),
            Item::ArrayOfTables(all) => all.iter().for_each(|t| ids_in(t, out)),
            _ => {}
        }
    }
}

/// Somewhere in the document, to be read only.
enum Seen<'a> {
    Item(&'a Item),
    Value(&'a Value),
    Table(&'a dyn TableLike),
}

impl<'a> Seen<'a> {
    fn table(self) -> Option<&'a dyn TableLike> {
        match self {
            Seen::Item(item) => item.as_table_like(),
            Seen::Value(value) => value.as_inline_table().map(|t| t as &dyn TableLike),
            Seen::Table(table) => Some(table),
        }
    }

    fn value(self) -> Option<&'a Value> {
        match self {
            Seen::Item(item) => item.as_value(),
            Seen::Value(value) => Some(value),
            Seen::Table(_) => None,
        }
    }
}

/// As [`walk`] without changing anything, and into plain values of a list too.
fn look<'a>(root: &'a Item, steps: &[Step]) -> Option<Seen<'a>> {
    let mut at = Seen::Item(root);
    for step in steps {
        at = match step {
            Step::Key(key) => Seen::Item(at.table()?.get(key)?),
            Step::Pick(which) => {
                let Seen::Item(list) = at else { return None };
                let index = position(list, which)?;
                match list {
                    Item::ArrayOfTables(tables) => Seen::Table(tables.get(index)?),
                    Item::Value(Value::Array(array)) => Seen::Value(array.get(index)?),
                    _ => return None,
                }
            }
        };
    }
    Some(at)
}

/// Position of a table in a list by id, name or number.
fn position(list: &Item, which: &str) -> Option<usize> {
    let named = |table: &dyn TableLike| {
        ["id", "name", "file", "position"]
            .iter()
            .any(|k| table.get(k).and_then(Item::as_str) == Some(which))
    };
    let (count, by_name) = match list {
        Item::ArrayOfTables(tables) => {
            (tables.len(), tables.iter().position(|t| named(t as &dyn TableLike)))
        }
        Item::Value(Value::Array(array)) => {
            (array.len(), array.iter().position(|v| v.as_inline_table().is_some_and(|t| named(t))))
        }
        _ => return None,
    };
    by_name.or_else(|| which.parse::<usize>().ok()).filter(|at| *at < count)
}

/// A short text that differs when the text differs, to notice that a file changed underneath.
///
/// FNV-1a of 64 bits (Fowler, Noll, Vo; constants from memory, checked against the published
/// value for the empty text in the tests) and the length. Good against accidents, not against
/// forgery.
pub fn fingerprint(text: &str) -> String {
    const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    let hash = text.bytes().fold(BASIS, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME));
    format!("{hash:016x}-{}", text.len())
}
