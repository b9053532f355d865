//! The shapes of the files as JSON Schema (draft 2020-12), for editors that complete keys and mark
//! slips while somebody types.
//!
//! They are made out of the tables that the readers go by: the keys of [`super::keys`] and the kinds
//! of [`crate::device`]. A schema knows no net of the circuit and reads no value in a text: what it
//! lets through, the reader may still refuse, and says so better.

mod circuit;
mod part;
mod readings;
mod value;

use serde_json::{Map, Value, json};

use super::keys::{self, Key};

/// The shape of one kind of file.
#[derive(Debug, Clone, Copy)]
pub struct InputSchema {
    /// The name that `schema` takes.
    pub name: &'static str,
    /// What it is of.
    pub about: &'static str,
    /// Makes it.
    pub make: fn() -> Value,
}

/// Every kind of file in TOML.
///
/// ```
/// use ohmhound::file::SCHEMAS;
///
/// let circuit = (SCHEMAS[0].make)();
/// assert_eq!(circuit["$defs"]["fuse"]["properties"]["kind"]["const"], "fuse");
/// ```
pub const SCHEMAS: &[InputSchema] = &[
    InputSchema { name: "circuit", about: "a circuit file", make: circuit::circuit },
    InputSchema {
        name: "shelf",
        about: "a shelf file: types for circuit files",
        make: circuit::shelf,
    },
    InputSchema {
        name: "readings",
        about: "a readings file, or the log of a session",
        make: readings::readings,
    },
    InputSchema { name: "stock", about: "a stock list", make: stock },
];

/// A whole schema: what a file is, its shape, and what that refers to.
fn whole(name: &str, about: &str, mut shape: Value, defs: Map<String, Value>) -> Value {
    shape["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    shape["$id"] = json!(format!("urn:ohmhound:file:{name}:1"));
    shape["title"] = json!(about);
    if !defs.is_empty() {
        shape["$defs"] = Value::Object(defs);
    }
    shape
}

/// A table that holds these keys and no others.
fn table(keys: &[Key]) -> Value {
    let properties: Map<String, Value> =
        keys.iter().map(|key| (key.name.to_owned(), value::of_key(key))).collect();
    closed(properties, &[])
}

/// A table that holds these properties and no others.
fn closed(properties: Map<String, Value>, required: &[&str]) -> Value {
    let mut shape = json!({
        "type": "object",
        "properties": properties,
        "additionalProperties": false,
    });
    if !required.is_empty() {
        shape["required"] = json!(required);
    }
    shape
}

/// A table of that many things by name.
fn by_name(each: Value) -> Value {
    json!({ "type": "object", "propertyNames": value::name(), "additionalProperties": each })
}

/// A reference to a shape of this schema.
fn shape_of(name: &str) -> Value {
    json!({ "$ref": format!("#/$defs/{name}") })
}

fn stock() -> Value {
    let mut entry = table(keys::STOCK);
    entry["required"] = json!(["value"]);
    let list = json!({ "type": "array", "items": entry });
    let defs = Map::from_iter([("stock".to_owned(), list)]);
    whole("stock", "Stock list", table(keys::STOCK_FILE), defs)
}
