//! Every kind with every parameter: the schema and the reader take the same.

use std::fmt::Write;

use ohmhound::device::{ALL, Fill, Kind, Parameter, Pins, Range, Shape};
use ohmhound::file::read_circuit;
use ohmhound::finding::{Code, Finding, Source};
use ohmhound::quantity::print_short;
use serde_json::Value;

use super::{as_json, said, schema, validator};

/// The parameters that are keys of a part.
fn rows(kind: &dyn Kind) -> impl Iterator<Item = &'static Parameter> {
    kind.parameters().iter().filter(|row| !row.name.contains(' '))
}

/// A value that the row takes, as a circuit file has it.
fn value(row: &Parameter) -> String {
    let number = match row.fill {
        Fill::Number(number) | Fill::Point(number, _) => number,
        _ => match row.range {
            Range::Within(low, high) => low + (high - low) / 2.0,
            _ => 1.0,
        },
    };
    match row.shape {
        Shape::Number => format!("{number:?}"),
        Shape::Point(at) => {
            format!("\"{} at {}\"", print_short(number, row.unit), print_short(0.001, at))
        }
        Shape::Word(words) => format!("{:?}", words[words.len() - 1]),
        Shape::Flag => "true".to_owned(),
        Shape::Pull => "\"up 1 µA\"".to_owned(),
    }
}

/// The pins of a kind, all of them.
fn pins(kind: &dyn Kind) -> String {
    let named = |names: &mut dyn Iterator<Item = &&str>| {
        let pins: Vec<String> = names.map(|pin| format!("{pin} = \"N_{pin}\"")).collect();
        format!("pins = {{ {} }}", pins.join(", "))
    };
    match kind.pins() {
        Pins::Two | Pins::Contacts => "nets = [\"A\", \"GND\"]".to_owned(),
        Pins::Named(names) => named(&mut names.iter()),
        Pins::Fitted(required, optional) => named(&mut required.iter().chain(optional)),
        Pins::Chip => "pins = { supply = \"A\", ground = { net = \"GND\" }, \
                       in = { net = \"B\", to_ground = \"10k\", draws = \"1 mA above 1 V\", \
                       clamp_to = \"supply\" } }"
            .to_owned(),
    }
}

/// A circuit with one part of that kind, and these lines of it.
fn circuit(kind: &dyn Kind, lines: &str) -> String {
    let mut text =
        "ground = \"GND\"\n[parts]\nR999 = { value = 1, nets = [\"Z\", \"GND\"] }\n".to_owned();
    let _ = write!(text, "[parts.QQ1]\nkind = \"{}\"\n{}\n{lines}", kind.name(), pins(kind));
    text
}

fn findings(text: &str) -> Vec<Finding> {
    let source = Source::new("kind.toml", text);
    read_circuit(&source, &mut |_| Err("no shelf".to_owned())).findings
}

/// Whether the reader takes the keys and forms: rules between values are no matter of a schema.
fn is_read(text: &str) -> bool {
    findings(text).iter().all(|finding| !finding.is_error() || finding.code == Code::BadParameter)
}

fn json(text: &str) -> Value {
    as_json(text).unwrap_or_else(|| panic!("no TOML\n{text}"))
}

#[test]
fn every_parameter_of_every_kind_is_taken_by_both() {
    let validator = validator("circuit");
    for kind in ALL {
        let required: String = rows(*kind)
            .filter(|row| row.fill == Fill::Required)
            .map(|row| format!("{} = {}\n", row.name, value(row)))
            .collect();
        let all: String =
            rows(*kind).map(|row| format!("{} = {}\n", row.name, value(row))).collect();
        let each = rows(*kind).map(|row| {
            let again = row.fill == Fill::Required;
            let own =
                if again { String::new() } else { format!("{} = {}\n", row.name, value(row)) };
            required.clone() + &own
        });
        for lines in each.chain([required.clone(), all]) {
            let text = circuit(*kind, &lines);
            let said = said(&validator, &json(&text));
            assert!(said.is_empty(), "{text}\n{}", said.join("\n"));
            assert!(is_read(&text), "{text}\n{:#?}", findings(&text));
        }
    }
}

/// A wrong type, a key of no kind, a word or a number out of its range: refused by both.
#[test]
fn what_a_row_does_not_take_is_refused_by_both() {
    let validator = validator("circuit");
    let mut refused = 0;
    for kind in ALL {
        for row in rows(*kind) {
            let others: String = rows(*kind)
                .filter(|other| other.fill == Fill::Required && other.name != row.name)
                .map(|other| format!("{} = {}\n", other.name, value(other)))
                .collect();
            let mut wrong = vec!["[1, 2]".to_owned(), "{ is = 1 }".to_owned()];
            match row.shape {
                Shape::Word(_) => wrong.extend(["\"sideways\"".to_owned(), "1".to_owned()]),
                Shape::Flag => wrong.extend(["\"yes\"".to_owned(), "1".to_owned()]),
                Shape::Pull => wrong.extend(["\"1 µA\"".to_owned(), "true".to_owned()]),
                Shape::Number | Shape::Point(_) => wrong.push("true".to_owned()),
            }
            match (row.shape, row.range) {
                (Shape::Number | Shape::Point(_), Range::Positive) => wrong.push("0.0".to_owned()),
                (Shape::Number | Shape::Point(_), Range::NotNegative) => {
                    wrong.push("-1".to_owned())
                }
                (Shape::Number | Shape::Point(_), Range::Within(low, high)) => {
                    wrong.extend([format!("{:?}", low - 1.0), format!("{:?}", high + 1.0)]);
                }
                _ => {}
            }
            for wrong in wrong {
                let text = circuit(*kind, &format!("{others}{} = {wrong}\n", row.name));
                assert!(!said(&validator, &json(&text)).is_empty(), "let through:\n{text}");
                assert!(findings(&text).iter().any(Finding::is_error), "read:\n{text}");
                refused += 1;
            }
        }
        let text = circuit(*kind, "surprise = 1\n");
        assert!(!said(&validator, &json(&text)).is_empty(), "let through:\n{text}");
        assert!(findings(&text).iter().any(|one| one.code == Code::WrongShape), "read:\n{text}");
    }
    assert!(refused > 500, "{refused}");
}

/// Every row of every table is in the schema with what it is, and nothing else is.
#[test]
fn the_schema_holds_the_tables() {
    let schema = schema("circuit");
    for kind in ALL {
        for (name, needs) in
            [(kind.name().to_owned(), true), (format!("{}-type", kind.name()), false)]
        {
            let shape = &schema["$defs"][&name];
            let properties = shape["properties"].as_object().unwrap_or_else(|| panic!("no {name}"));
            let own = ["kind", "type", "nets", "pins", "fitted", "tolerance", "maximum"];
            let keys: Vec<&str> = properties
                .keys()
                .map(String::as_str)
                .filter(|key| !own.contains(key) || rows(*kind).any(|row| row.name == *key))
                .collect();
            let mut names: Vec<&str> = rows(*kind).map(|row| row.name).collect();
            names.sort_unstable();
            assert_eq!(keys, names, "{name}");
            for row in rows(*kind) {
                let about = properties[row.name]["description"].as_str().unwrap_or_default();
                assert!(about.starts_with(row.about), "{name}: {about}");
                let has_default = !matches!(row.fill, Fill::Required | Fill::Absent);
                assert_eq!(properties[row.name]["default"].is_null(), !has_default, "{name}");
            }
            let required: Vec<&str> =
                rows(*kind).filter(|row| row.fill == Fill::Required).map(|row| row.name).collect();
            let needed = shape["anyOf"][1]["required"].clone();
            let expected =
                if needs && !required.is_empty() { Value::from(required) } else { Value::Null };
            assert_eq!(needed, expected, "{name}");
        }
        for class in kind.classes() {
            let pattern = format!("^{class}([0-9_]|$)");
            let own = &schema["$defs"]["parts"]["patternProperties"][&pattern]["else"]["$ref"];
            assert_eq!(own, &format!("#/$defs/{}", kind.name()));
        }
    }
    let kinds: Vec<&str> = ALL.iter().map(|kind| kind.name()).collect();
    assert_eq!(schema["$defs"]["kind"]["enum"], Value::from(kinds));
}
