//! The inputs of a project file, flat, so that two versions can be held against each other.

use std::collections::BTreeMap;

/// Every input of a text of the project by its place, such as `boundary wall, area`: what a later
/// reader needs to be told which one changed.
pub fn inputs(text: &str) -> BTreeMap<String, String> {
    fn walk(place: &str, item: &toml_edit::Item, out: &mut BTreeMap<String, String>) {
        let under = |key: &str, parting: &str| match place {
            "" => key.to_owned(),
            _ => format!("{place}{parting}{key}"),
        };
        if let Some(tables) = item.as_array_of_tables() {
            for (i, table) in tables.iter().enumerate() {
                let named = ["id", "name", "file", "room"];
                let name = named.iter().find_map(|k| table.get(k)?.as_str());
                let number = (i + 1).to_string();
                let mut place = format!("{place} {}", name.unwrap_or(&number));
                // Two tables of one name stay two.
                if out.keys().any(|k| k.starts_with(&format!("{place}, "))) {
                    place = format!("{place} ({number})");
                }
                for (key, inner) in table.iter() {
                    walk(&format!("{place}, {key}"), inner, out);
                }
            }
        } else if let Some(table) = item.as_table() {
            for (key, inner) in table.iter() {
                walk(&under(key, ", "), inner, out);
            }
        } else if let Some(value) = item.as_value() {
            // Without the spaces and comments around it.
            let said = value
                .as_str()
                .map_or_else(|| value.clone().decorated("", "").to_string(), str::to_owned);
            let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
            out.insert(place.to_owned(), said);
        }
    }
    let mut out = BTreeMap::new();
    if let Ok(document) = text.parse::<toml_edit::DocumentMut>() {
        walk("", document.as_item(), &mut out);
    }
    out
}
