//! Circuit files and shelf files.

use serde_json::{Map, Value, json};

use super::super::keys::{self, names};
use super::super::setups::ALWAYS;
use super::value::{name, pair, written};
use super::{by_name, part, shape_of, table, whole};
use crate::circuit::{CLASSES, FAILURES};

pub(super) fn circuit() -> Value {
    let mut defs = part::shapes();
    let shapes = [
        ("setups", setups()),
        ("connections", json!({ "type": "array", "items": shape_of("connection") })),
        ("connection", connection()),
        ("limits", by_name(limit())),
        ("board", table(keys::BOARD)),
        ("neighbours", json!({ "type": "array", "items": pair() })),
        ("weight", by_name(weight())),
        ("budget", budget()),
        ("efforts", by_name(factor())),
    ];
    defs.extend(shapes.map(|(name, shape)| (name.to_owned(), shape)));
    let mut shape = table(keys::CIRCUIT);
    shape["required"] = json!(["parts"]);
    whole("circuit", "Circuit file", shape, defs)
}

pub(super) fn shelf() -> Value {
    let mut defs = part::shapes();
    let of_types = |name: &String| name == "kind" || name == "maximum" || name.ends_with("type");
    defs.retain(|name, _| of_types(name) || name == "types");
    whole("shelf", "Shelf file", table(keys::SHELF), defs)
}

/// Setups may not be called what means something else in a readings file.
fn setups() -> Value {
    let mut setups = by_name(table(keys::SETUP));
    let taken: Vec<&str> = ALWAYS.into_iter().chain(names(keys::READINGS)).collect();
    setups["propertyNames"] = json!({ "allOf": [name(), { "not": { "enum": taken } }] });
    setups
}

/// A bench supply has volts, a link has a resistance and no limit.
fn connection() -> Value {
    let mut shape = table(keys::CONNECTION);
    shape["required"] = json!(["nets"]);
    shape["anyOf"] = json!([
        { "required": ["volts"] },
        { "required": ["resistance"], "properties": { "limit": false } },
    ]);
    shape
}

fn limit() -> Value {
    let mut shape = table(keys::LIMIT);
    shape["minProperties"] = json!(1);
    shape
}

fn factor() -> Value {
    let mut shape = written();
    shape["exclusiveMinimum"] = json!(0);
    shape
}

/// A factor for a part, or one for each of some failures of it.
fn weight() -> Value {
    json!({ "anyOf": [factor(), of_words(FAILURES, &factor())] })
}

fn budget() -> Value {
    let mut share = factor();
    share["exclusiveMaximum"] = json!(1);
    of_words(CLASSES, &share)
}

/// A table whose keys are words out of a list.
fn of_words(words: &[&str], each: &Value) -> Value {
    let properties: Map<String, Value> =
        words.iter().map(|word| ((*word).to_owned(), each.clone())).collect();
    super::closed(properties, &[])
}
