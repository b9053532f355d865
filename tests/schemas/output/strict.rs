//! Rules that every schema keeps.

use ohmhound::report::OUTPUTS;
use serde_json::Value;

use super::schema;

/// Keys that are not always there, with the reason.
const OPTIONAL: &[(&str, &str, &str)] = &[
    ("solve", "healthy", "only with faults"),
    ("solve", "amps", "parts with two pins"),
    ("solve", "pins", "parts with more"),
    ("bands", "draws", "only with --draws"),
    ("fault-table", "healthy", "not in a blank table"),
    ("fault-table", "differs_beyond", "not in a blank table"),
    ("fault-table", "cells", "not in a blank table"),
    ("fault-table", "same_as", "not in a blank table"),
];

fn visit(value: &Value, check: &mut dyn FnMut(&Value)) {
    check(value);
    match value {
        Value::Object(map) => map.values().for_each(|value| visit(value, check)),
        Value::Array(list) => list.iter().for_each(|value| visit(value, check)),
        _ => {}
    }
}

/// An object is closed with all its keys required, or holds things by their names.
#[test]
fn objects_are_closed() {
    for one in OUTPUTS {
        visit(&schema(one.name), &mut |value| {
            if value["type"] != "object" {
                return;
            }
            let Some(properties) = value["properties"].as_object() else {
                assert!(value["additionalProperties"].is_object(), "{}: {value}", one.name);
                return;
            };
            assert_eq!(value["additionalProperties"], false, "{}: {value}", one.name);
            let required = value["required"].as_array().expect("a list");
            for key in properties.keys() {
                let is_free = OPTIONAL.iter().any(|row| (row.0, row.1) == (one.name, key));
                let is_required = required.iter().any(|known| known == key);
                assert!(is_required || is_free, "{}: `{key}` is not required", one.name);
            }
            for key in required {
                assert!(properties.contains_key(key.as_str().unwrap_or_default()), "{key}");
            }
        });
    }
}

/// A number says what it is, and a key what it means.
#[test]
fn keys_are_described() {
    /// Words by which a description says the unit of a number, or that it has none.
    const UNITS: &[&str] = &[
        "unit",
        "volts",
        "Volts",
        "amps",
        "Amps",
        "ohms",
        "Ohms",
        "watts",
        "Watts",
        "siemens",
        "bits",
        "0 to 1",
        "points",
        "costs",
        "cost",
        "share",
        "Share",
        "farads",
        "standard uncertainties",
        "Standard uncertainties",
        "For the",
        "For pre",
        "Taken off",
        "Together",
        "What",
        "value",
    ];
    for one in OUTPUTS {
        visit(&schema(one.name), &mut |value| {
            let Some(properties) = value["properties"].as_object() else { return };
            // Of conditions, which repeat keys to say when they have to be there.
            if value["type"] != "object" {
                return;
            }
            for (key, shape) in properties {
                let Some(about) = shape["description"].as_str() else {
                    assert!(shape["$ref"].is_string(), "{}: `{key}` is not described", one.name);
                    continue;
                };
                let is_number = shape["type"] == "number" || shape["type"][0] == "number";
                let says = UNITS.iter().any(|unit| about.contains(unit));
                assert!(!is_number || says, "{}: `{key}` says no unit: {about}", one.name);
            }
        });
    }
}

/// What a blank table leaves out is there in one that is not blank, and only there.
#[test]
fn a_blank_table_gives_nothing_away() {
    use serde_json::json;
    let validator = super::validator(&schema("fault-table"));
    let row = json!({ "number": 1, "fault": "R1 open" });
    let blank = json!({
        "version": 1, "circuit": "", "setup": "powered", "blank": true, "columns": [], "rows": [row],
    });
    let full = json!({
        "version": 1, "circuit": "", "setup": "powered", "blank": false, "columns": [],
        "rows": [{ "number": 1, "fault": "R1 open", "cells": [], "same_as": null }],
        "healthy": [], "differs_beyond": 3.0,
    });
    assert!(validator.is_valid(&blank) && validator.is_valid(&full));
    for (table, is_blank) in [(&blank, false), (&full, true)] {
        let mut other = table.clone();
        other["blank"] = json!(is_blank);
        assert!(!validator.is_valid(&other), "{other}");
    }
    let mut part = full.clone();
    part["rows"] = blank["rows"].clone();
    assert!(!validator.is_valid(&part), "{part}");
}
