//! The schemas of the files, held against the readers: what a reader takes, the schema takes, and of
//! what a reader refuses the schema refuses what a schema can see.

mod kinds;
mod rejects;

use std::path::{Path, PathBuf};

use jsonschema::Validator;
use ohmhound::file::SCHEMAS;
use serde_json::{Map, Value};
use toml::de::{DeTable, DeValue};

/// A schema by its name.
pub fn schema(name: &str) -> Value {
    let found = SCHEMAS.iter().find(|schema| schema.name == name);
    (found.unwrap_or_else(|| panic!("no schema `{name}`")).make)()
}

/// A schema by its name, ready to judge.
pub fn validator(name: &str) -> Validator {
    jsonschema::draft202012::options().build(&schema(name)).expect("a schema is a schema")
}

/// A file of TOML as JSON; a date is a text there. Nothing where it is no TOML.
pub fn as_json(text: &str) -> Option<Value> {
    let table = DeTable::parse(text).ok()?;
    Some(of_table(table.get_ref()))
}

fn of_table(table: &DeTable<'_>) -> Value {
    let entries = table.iter();
    let entries =
        entries.map(|(key, value)| (key.get_ref().to_string(), of_value(value.get_ref())));
    Value::Object(entries.collect::<Map<_, _>>())
}

fn of_value(value: &DeValue<'_>) -> Value {
    match value {
        DeValue::String(text) => Value::from(text.as_ref()),
        DeValue::Integer(number) => {
            let number = i64::from_str_radix(number.as_str(), number.radix());
            Value::from(number.expect("a number of usual size"))
        }
        // What no number of JSON is, such as `inf`, is refused by the readers too.
        DeValue::Float(number) => number.as_str().parse::<f64>().map_or(Value::Null, Value::from),
        DeValue::Boolean(flag) => Value::from(*flag),
        DeValue::Datetime(date) => Value::from(date.to_string()),
        DeValue::Array(list) => list.iter().map(|value| of_value(value.get_ref())).collect(),
        DeValue::Table(table) => of_table(table),
    }
}

/// A file as JSON; nothing where it is no TOML.
pub fn read(path: &Path) -> Option<Value> {
    as_json(&std::fs::read_to_string(path).ok()?)
}

/// What a schema says of a file.
pub fn said(validator: &Validator, file: &Value) -> Vec<String> {
    validator.iter_errors(file).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

/// Every file under a folder.
pub fn files(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("a file").path();
            if path.is_dir() { folders.push(path) } else { found.push(path) }
        }
    }
    found.sort();
    found
}

#[test]
fn schemas_are_schemas() {
    for one in SCHEMAS {
        let schema = schema(one.name);
        assert!(jsonschema::draft202012::meta::is_valid(&schema), "{}", one.name);
        assert_eq!(schema["$id"], format!("urn:ohmhound:file:{}:1", one.name));
        // Every shape that is referred to is there, and every shape that is there is referred to.
        let text = schema.to_string();
        let shapes = schema["$defs"].as_object().into_iter().flat_map(|map| map.keys());
        for shape in shapes {
            assert!(text.contains(&format!("\"#/$defs/{shape}\"")), "{}: `{shape}`", one.name);
        }
        for target in text.split("\"#/$defs/").skip(1) {
            let target = target.split('"').next().unwrap_or_default();
            assert!(!schema["$defs"][target].is_null(), "{}: no `{target}`", one.name);
        }
    }
}

/// Demo files, the patterns of `starter`, and what other tests use.
#[test]
fn files_that_are_read_pass() {
    let mut counts = [0; 3];
    for folder in ["circuits", "src/cli/starter", "tests/pages/jobs"] {
        for path in files(folder) {
            let name = path.to_string_lossy();
            let (at, schema) = match () {
                () if !name.ends_with(".toml") => continue,
                () if name.ends_with(".readings.toml") => (0, "readings"),
                () if name.ends_with(".shelf.toml") => (1, "shelf"),
                () => (2, "circuit"),
            };
            let file = read(&path).unwrap_or_else(|| panic!("{name} is no TOML"));
            let said = said(&validator(schema), &file);
            assert!(said.is_empty(), "{name}\n{}", said.join("\n"));
            counts[at] += 1;
        }
    }
    assert!(counts[0] >= 20 && counts[1] >= 1 && counts[2] >= 30, "{counts:?}");
}

#[test]
fn a_stock_list_passes() {
    let stock = validator("stock");
    let list = |text: &str| as_json(text).expect("TOML");
    let good = "[[stock]]\nvalue = \"51k\"\ntolerance = \"1 %\"\nrated = 0.25\nquantity = 12\nnote = \"tin\"";
    assert_eq!(said(&stock, &list(good)), Vec::<String>::new());
    for bad in
        ["[[stock]]\ntolerance = \"1 %\"", "[[stock]]\nvalu = 1", "[stock]\nvalue = 1", "stok = []"]
    {
        assert!(!said(&stock, &list(bad)).is_empty(), "{bad}");
    }
}
