//! Values in a schema: a number, or the text that the trade writes.

use serde_json::{Value, json};

use super::super::keys::{Form, Key};
use super::super::limits::MOST_NAME;
use super::shape_of;
use crate::device::{Fill, Parameter, Range, Shape};
use crate::quantity::{Unit, print_short};

/// What names hold: no white space, no quote, no `=` and no `:`.
const NAME: &str = "^[^\\s\"'`=:]+$";

/// A name of a part, a net, a setup, a type or a pin.
pub(super) fn name() -> Value {
    json!({ "type": "string", "pattern": NAME, "maxLength": MOST_NAME })
}

/// A number, or a text that holds one.
pub(super) fn written() -> Value {
    json!({ "type": ["number", "string"] })
}

/// A pair of nets.
pub(super) fn pair() -> Value {
    json!({ "type": "array", "items": name(), "minItems": 2, "maxItems": 2 })
}

/// The value of a key, with what it is.
pub(super) fn of_key(key: &Key) -> Value {
    let (mut shape, unit) = match key.form {
        Form::Text => (json!({ "type": "string" }), Unit::One),
        Form::Flag => (json!({ "type": "boolean" }), Unit::One),
        Form::Value(unit) => (written(), unit),
        Form::Positive(unit) => (within(Range::Positive), unit),
        Form::NotNegative(unit) => (within(Range::NotNegative), unit),
        Form::Within(unit, low, high) => (within(Range::Within(low, high)), unit),
        Form::Written => (written(), Unit::One),
        Form::Word(words) => (json!({ "enum": words }), Unit::One),
        Form::Names => (json!({ "type": "array", "items": { "type": "string" } }), Unit::One),
        Form::Pair => (pair(), Unit::One),
        Form::Own(shape) => (shape_of(shape), Unit::One),
    };
    shape["description"] = json!(about(key.about, unit, None));
    shape
}

/// The value of a parameter of a kind, with what it is, its unit and what applies without it.
pub(super) fn of_parameter(row: &Parameter) -> Value {
    let mut shape = match row.shape {
        Shape::Number | Shape::Point(_) => within(row.range),
        Shape::Word(words) => json!({ "enum": words }),
        Shape::Flag => json!({ "type": "boolean" }),
        Shape::Pull => json!({ "type": "string", "pattern": "^\\s*(up|down)\\s+\\S" }),
    };
    let fill = match row.fill {
        Fill::Required | Fill::Absent => None,
        Fill::Number(value) => Some((json!(value), print_short(value, row.unit))),
        Fill::Point(value, at) => {
            let at = match row.shape {
                Shape::Point(unit) => format!(" at {}", print_short(at, unit)),
                _ => String::new(),
            };
            let text = format!("{}{at}", print_short(value, row.unit));
            Some((json!(text), text))
        }
        Fill::Word(word) => Some((json!(word), word.to_owned())),
        Fill::Flag(flag) => Some((json!(flag), flag.to_string())),
    };
    shape["description"] = json!(about(row.about, row.unit, fill.as_ref().map(|(_, text)| text)));
    if let Some((value, _)) = fill {
        shape["default"] = value;
    }
    shape
}

/// A value whose number lies in a range; a number in a text is not looked at.
pub(super) fn within(range: Range) -> Value {
    let mut shape = written();
    match range {
        Range::Positive => shape["exclusiveMinimum"] = json!(0),
        Range::NotNegative => shape["minimum"] = json!(0),
        Range::Any => {}
        Range::Within(low, high) => {
            shape["minimum"] = json!(low);
            shape["maximum"] = json!(high);
        }
    }
    shape
}

/// What a value is, the unit of a number that has none, and what applies when it is left out.
fn about(about: &str, unit: Unit, fill: Option<&String>) -> String {
    let unit = match unit {
        Unit::One => String::new(),
        unit => format!("; in {}", unit.name()),
    };
    let fill = fill.map_or(String::new(), |fill| format!("; {fill} when it is left out"));
    format!("{about}{unit}{fill}")
}
