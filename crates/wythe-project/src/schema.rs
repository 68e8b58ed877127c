//! The JSON Schema of both files, from the table of keys.

use serde_json::{Map, Value, json};

use crate::keys::{FORMAT, Key, Kind, Need, PROJECT, SECTIONS, STANDING, SURVEY, Section};
use crate::quantity::Quantity;

/// JSON Schema (draft 2020-12) of `wythe.toml`.
pub fn schema() -> Value {
    document(&PROJECT, "The project file of wythe")
}

/// JSON Schema (draft 2020-12) of `survey.toml`.
pub fn survey_schema() -> Value {
    document(&SURVEY, "The survey file of wythe")
}

fn document(root: &'static Section, title: &str) -> Value {
    let mut definitions = Map::new();
    for section in SECTIONS.iter().filter(|s| !std::ptr::eq(**s, root)) {
        definitions.insert(section.name.to_owned(), table(section));
    }
    let mut out = Map::new();
    out.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
    out.insert("title".to_owned(), json!(title));
    if let Value::Object(body) = table(root) {
        out.extend(body);
    }
    if let Some(version) =
        out.get_mut("properties").and_then(|p| p.get_mut("wythe")).and_then(Value::as_object_mut)
    {
        version.insert("maximum".to_owned(), json!(FORMAT));
    }
    out.insert("$defs".to_owned(), Value::Object(definitions));
    Value::Object(out)
}

fn table(section: &'static Section) -> Value {
    let common: &'static [Key] = if section.standing { &STANDING } else { &[] };
    let properties: Map<String, Value> =
        section.keys.iter().chain(common).map(|key| (key.name.to_owned(), property(key))).collect();
    let required: Vec<&str> =
        section.keys.iter().filter(|k| k.need == Need::Required).map(|k| k.name).collect();
    json!({
        "type": "object",
        "description": section.help,
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

fn property(key: &'static Key) -> Value {
    let mut value = kind(&key.kind);
    let wrapped = !matches!(key.kind, Kind::Table(_) | Kind::Records(_) | Kind::Pairs)
        && !matches!(key.name, "status" | "source" | "wythe" | "include" | "id");
    if wrapped {
        value = json!({ "anyOf": [value.clone(), {
            "type": "object",
            "properties": {
                "value": value,
                "standing": { "enum": crate::keys::STANDINGS },
                "source": { "type": "string" },
            },
            "required": ["standing"],
            "additionalProperties": false,
        }] });
    }
    if let Some(object) = value.as_object_mut() {
        object.insert("description".to_owned(), json!(key.help));
        object.insert("examples".to_owned(), json!([key.example]));
        if let Need::Default(default) = key.need {
            object.insert("x-default".to_owned(), json!(default));
        }
    }
    value
}

fn kind(kind_: &'static Kind) -> Value {
    match kind_ {
        Kind::Text => json!({ "type": "string" }),
        Kind::Id => json!({ "type": "string", "minLength": 1, "maxLength": 100 }),
        Kind::Word(words) => json!({ "enum": words }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Whole(least, most) => json!({ "type": "integer", "minimum": least, "maximum": most }),
        Kind::Number(least, most) => json!({ "type": "number", "minimum": least, "maximum": most }),
        Kind::Quantity(quantity, least, most) => quantity_text(*quantity, *least, *most),
        Kind::Level => {
            json!({ "type": "string", "x-quantity": "sound level", "pattern": r"^\s*[+-]?[0-9]" })
        }
        Kind::Texts(least, most) => json!({
            "type": "array", "items": { "type": "string" }, "minItems": least, "maxItems": most,
        }),
        Kind::Wholes => json!({ "type": "array", "items": { "type": "integer", "minimum": 1 } }),
        Kind::Points => json!({
            "type": "array", "minItems": 3,
            "items": { "type": "array", "minItems": 2, "maxItems": 2, "items": { "type": "string" } },
        }),
        Kind::Bands(quantity, least, most) => json!({
            "type": "object",
            "properties": {
                "unit": { "type": "string" },
                "bands": { "enum": ["thirds", "octaves"] },
                "status": { "enum": crate::keys::STANDINGS },
                "source": { "type": "string" },
            },
            // An unquoted 31.5 is the key 31 holding the key 5.
            "additionalProperties": { "anyOf": [
                quantity_text(*quantity, *least, *most),
                { "type": "number" },
                { "type": "object" },
            ] },
        }),
        Kind::Pairs => json!({ "type": "object", "additionalProperties": { "type": "string" } }),
        Kind::Table(section) => json!({ "$ref": format!("#/$defs/{}", section.name) }),
        Kind::Records(section) => {
            let item = json!({ "$ref": format!("#/$defs/{}", section.name) });
            json!({ "anyOf": [{ "type": "array", "items": item.clone() }, item] })
        }
        Kind::OneOf(kinds) => {
            json!({ "anyOf": kinds.iter().map(kind).collect::<Vec<_>>() })
        }
    }
}

fn quantity_text(quantity: Quantity, least: f64, most: f64) -> Value {
    json!({
        "type": "string",
        "x-quantity": quantity.plural(),
        "x-least": format!("{least} {}", quantity.unit()),
        "x-most": format!("{most} {}", quantity.unit()),
    })
}
