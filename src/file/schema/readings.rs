//! Readings files: tables of setup, quantity and place.

use serde_json::{Map, Value, json};

use super::super::keys;
use super::super::setups::ALWAYS;
use super::value::{within, written};
use super::{closed, shape_of, table, whole};
use crate::circuit::{Appearance, Quantity, Sight};
use crate::device::Range;

pub(super) fn readings() -> Value {
    let mut defs = Map::new();
    let mut give = |name: String, shape: Value| defs.insert(name, shape);
    give("setup".to_owned(), setup());
    give("setups".to_owned(), with_setups(Map::new()));
    give("job".to_owned(), job());
    give("looks".to_owned(), by_any_name(one_or_several(looks())));
    give("done".to_owned(), json!({ "type": "array", "items": done() }));
    let meters: Map<String, Value> = keys::meters()
        .iter()
        .map(|key| {
            let shape = shape_of(&format!("meter-{}", key.name));
            (key.name.to_owned(), shape)
        })
        .collect();
    give("meter".to_owned(), closed(meters, &[]));
    for quantity in Quantity::ALL {
        let word = quantity.word();
        give(format!("meter-{word}"), table(keys::meter(quantity)));
        give(word.to_owned(), of_quantity(quantity));
    }
    let own = table(keys::READINGS);
    let own = own["properties"].as_object().cloned().unwrap_or_default();
    whole("readings", "Readings file", with_setups(own), defs)
}

/// A table of setups, besides what else it holds.
fn with_setups(mut properties: Map<String, Value>) -> Value {
    for always in ALWAYS {
        properties.insert(always.to_owned(), shape_of("setup"));
    }
    let mut shape = closed(properties, &[]);
    shape["additionalProperties"] = shape_of("setup");
    shape
}

/// What was read in a setup, by quantity.
fn setup() -> Value {
    let by_quantity = Quantity::ALL.map(|quantity| {
        let mut shape = shape_of(quantity.word());
        shape["description"] = json!(about(quantity));
        (quantity.word().to_owned(), shape)
    });
    closed(by_quantity.into_iter().collect(), &[])
}

fn about(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Volts => "volts by place: a net against ground, or \"RED to BLACK\"",
        Quantity::Amps => "amps by part, from pin 1 to pin 2; for a source what it delivers",
        Quantity::Ohms => "ohms by place, with the power off",
        Quantity::Diode => "volts in diode mode by place, red lead first, with the power off",
        Quantity::Beep => "whether it beeps, by place, with the power off",
        Quantity::Seen => "what a part looks or feels like, with the power on",
    }
}

/// Readings of a quantity by their place: one value, repeats as a list, or a table with a meter.
fn of_quantity(quantity: Quantity) -> Value {
    let value = one_or_several(match quantity {
        Quantity::Beep => json!({ "type": "boolean" }),
        Quantity::Seen => {
            let words = [Sight::Lit, Sight::Dark, Sight::Hot].map(Sight::word);
            json!({ "enum": words })
        }
        Quantity::Ohms => within(Range::NotNegative),
        _ => written(),
    });
    let properties: Map<String, Value> = keys::READING
        .iter()
        .map(|key| {
            let mut shape = match key.name {
                "meter" => shape_of(&format!("meter-{}", quantity.word())),
                _ => value.clone(),
            };
            shape["description"] = json!(key.about);
            (key.name.to_owned(), shape)
        })
        .collect();
    by_any_name(json!({ "anyOf": [value, closed(properties, &["value"])] }))
}

/// Places may hold spaces: `VIN to EN`.
fn by_any_name(each: Value) -> Value {
    json!({ "type": "object", "additionalProperties": each })
}

fn one_or_several(one: Value) -> Value {
    json!({ "anyOf": [one.clone(), { "type": "array", "items": one }] })
}

fn looks() -> Value {
    let words = Appearance::ALL.map(|(_, word)| word);
    json!({ "enum": words })
}

/// Free keys with a text each; a number or a date is a text of the ticket too.
fn job() -> Value {
    by_any_name(json!({ "type": ["string", "number", "boolean"] }))
}

fn done() -> Value {
    let mut shape = table(keys::DONE);
    shape["required"] = json!(["action"]);
    shape
}
