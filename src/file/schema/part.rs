//! Parts and types in a schema: one shape per kind, made of its table.

use serde_json::{Map, Value, json};

use super::super::keys::{self, Form, Key};
use super::super::params::main_parameter;
use super::super::parts::keys_of;
use super::value::{name, of_key, of_parameter, pair};
use super::{by_name, closed, shape_of, table};
use crate::device::{ALL, Fill, Kind, MOST_CHIP_PINS, Pins};

/// The shapes that `parts` and `types` refer to, by their names.
pub(super) fn shapes() -> Map<String, Value> {
    let mut shapes = Map::new();
    for kind in ALL.iter().copied() {
        shapes.insert(kind.name().to_owned(), part(kind));
        shapes.insert(format!("{}-type", kind.name()), of_type(kind));
    }
    shapes.insert("kind".to_owned(), json!({ "enum": names() }));
    shapes.insert("maximum".to_owned(), by_name(volts()));
    shapes.insert("pins".to_owned(), json!({ "type": "object", "minProperties": 1 }));
    shapes.insert("part".to_owned(), any_part());
    shapes.insert("untyped".to_owned(), by_kind(any(keys::PART), ""));
    shapes.insert("parts".to_owned(), parts());
    shapes.insert("type".to_owned(), by_kind(any(keys::TYPE), "-type"));
    shapes.insert("types".to_owned(), by_name(shape_of("type")));
    shapes
}

/// Every part by its name. Its class letters say its kind where neither it nor its type does.
fn parts() -> Value {
    let mut by_class = Map::new();
    for kind in ALL {
        for class in kind.classes() {
            let own = json!({
                "if": { "anyOf": [{ "required": ["kind"] }, { "required": ["type"] }] },
                "then": shape_of("part"),
                "else": shape_of(kind.name()),
            });
            by_class.insert(format!("^{class}([0-9_]|$)"), own);
        }
    }
    let mut parts = by_name(json!({}));
    parts["minProperties"] = json!(1);
    parts["patternProperties"] = Value::Object(by_class);
    // Whatever the letters do not settle.
    parts["additionalProperties"] = shape_of("part");
    parts
}

/// A part whose class letters say nothing: it says its kind, or its type does.
fn any_part() -> Value {
    json!({
        "allOf": [shape_of("untyped")],
        "anyOf": [{ "required": ["kind"] }, { "required": ["type"] }],
    })
}

/// A part of a kind. What a type may give is required only where there is none.
fn part(kind: &dyn Kind) -> Value {
    let mut properties = Map::new();
    let required = pins(kind, &mut properties);
    for key in keys::PART.iter().filter(|key| !["nets", "pins"].contains(&key.name)) {
        own_key(kind, key, &mut properties);
    }
    parameters(kind, &mut properties);
    let needed: Vec<&str> =
        keys_of(kind).filter(|row| row.fill == Fill::Required).map(|row| row.name).collect();
    let mut shape = closed(properties, required);
    shape["description"] = json!(kind.about());
    if !needed.is_empty() {
        shape["anyOf"] = json!([{ "required": ["type"] }, { "required": needed }]);
    }
    if kind.pins() == Pins::Contacts {
        shape["oneOf"] = json!([{ "required": ["nets"] }, { "required": ["pins"] }]);
    }
    shape
}

/// A type of a kind.
fn of_type(kind: &dyn Kind) -> Value {
    let mut properties = Map::new();
    for key in keys::TYPE {
        own_key(kind, key, &mut properties);
    }
    parameters(kind, &mut properties);
    let mut shape = closed(properties, &[]);
    shape["description"] = json!(kind.about());
    shape
}

/// A key that every part has, as far as this kind takes it.
fn own_key(kind: &dyn Kind, key: &Key, properties: &mut Map<String, Value>) {
    let mut shape = of_key(key);
    match key.name {
        "kind" => {
            shape = json!({ "const": kind.name(), "description": kind.about() });
        }
        "tolerance" if main_parameter(kind, |_| false).is_none() => return,
        "maximum" => {
            let most = match kind.pins() {
                Pins::Two => maximum(&["1", "2"], &[]),
                Pins::Named(names) => maximum(names, &[]),
                Pins::Fitted(required, optional) => maximum(required, optional),
                Pins::Chip | Pins::Contacts => by_name(volts()),
            };
            let about = shape["description"].take();
            shape = most;
            shape["description"] = about;
        }
        _ => {}
    }
    properties.insert(key.name.to_owned(), shape);
}

fn parameters(kind: &dyn Kind, properties: &mut Map<String, Value>) {
    for row in keys_of(kind) {
        properties.insert(row.name.to_owned(), of_parameter(row));
    }
}

/// The nets of a kind, under the key that it takes; which keys it has to have.
fn pins(kind: &dyn Kind, properties: &mut Map<String, Value>) -> &'static [&'static str] {
    let mut give = |key: &'static str, mut shape: Value| {
        let about = keys::PART.iter().find(|known| known.name == key).map(|known| known.about);
        shape["description"] = json!(about);
        properties.insert(key.to_owned(), shape);
    };
    match kind.pins() {
        Pins::Two => give("nets", pair()),
        Pins::Named(names) => give("pins", named(names, &[])),
        Pins::Fitted(required, optional) => give("pins", named(required, optional)),
        Pins::Chip => {
            let mut pin = table(keys::CHIP_PIN);
            pin["required"] = json!(["net"]);
            let mut all = by_name(json!({ "anyOf": [name(), pin] }));
            all["minProperties"] = json!(1);
            all["maxProperties"] = json!(MOST_CHIP_PINS);
            give("pins", all);
        }
        Pins::Contacts => {
            let mut all = by_name(pair());
            all["minProperties"] = json!(1);
            give("pins", all);
            give("nets", pair());
            return &[];
        }
    }
    if kind.pins() == Pins::Two { &["nets"] } else { &["pins"] }
}

fn named(required: &[&str], optional: &[&str]) -> Value {
    let pins = required.iter().chain(optional);
    closed(pins.map(|pin| ((*pin).to_owned(), name())).collect(), required)
}

fn maximum(required: &[&str], optional: &[&str]) -> Value {
    let pins = required.iter().chain(optional);
    closed(pins.map(|pin| ((*pin).to_owned(), volts())).collect(), &[])
}

fn volts() -> Value {
    let row = Key { name: "", form: Form::Positive(crate::quantity::Unit::Volt), about: "volts" };
    let mut shape = of_key(&row);
    shape["description"] = json!("the most volts");
    shape
}

/// Every key that some kind has: what an editor can offer before the kind is known.
fn any(own: &[Key]) -> Value {
    let mut properties: Map<String, Value> =
        own.iter().map(|key| (key.name.to_owned(), of_key(key))).collect();
    for kind in ALL {
        for row in keys_of(*kind) {
            // Kinds differ in what the same key takes; which of them it is, its kind says.
            let about = json!({ "description": row.about });
            properties.entry(row.name).or_insert(about);
        }
    }
    closed(properties, &[])
}

/// A shape that is also the one of its kind, where it says it.
fn by_kind(mut shape: Value, ending: &str) -> Value {
    let cases: Vec<Value> = ALL
        .iter()
        .map(|kind| {
            json!({
                "if": { "properties": { "kind": { "const": kind.name() } }, "required": ["kind"] },
                "then": shape_of(&format!("{}{ending}", kind.name())),
            })
        })
        .collect();
    shape["allOf"] = json!(cases);
    shape
}

fn names() -> Vec<&'static str> {
    ALL.iter().map(|kind| kind.name()).collect()
}
