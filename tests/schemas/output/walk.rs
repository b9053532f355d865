//! An output followed along its schema: which keys and words come up, and that nothing can be taken
//! away or added.

use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};

use jsonschema::Validator;
use serde_json::{Map, Value, json};

/// What came up.
#[derive(Default)]
pub struct Seen {
    /// `schema/path: key`, by the place in the schema.
    pub keys: BTreeSet<String>,
    /// Words, each with the list that it is out of: places share lists.
    pub words: BTreeSet<String>,
}

/// What is done at each place: its shape, the shape's place, the way to it in the output, the value.
type Visit<'a, 'b> = dyn FnMut(&'a Value, &str, &[String], &Value) + 'b;

/// A schema being followed.
pub struct Walk<'a> {
    schema: &'a Value,
    /// Which shapes of a choice fit, by their place: each is compiled once.
    choices: RefCell<HashMap<String, Validator>>,
}

impl<'a> Walk<'a> {
    pub fn new(schema: &'a Value) -> Walk<'a> {
        Walk { schema, choices: RefCell::default() }
    }

    /// The shape that a reference leads to.
    fn of(&self, shape: &'a Value, place: &str) -> (&'a Value, String) {
        match shape["$ref"].as_str() {
            Some(target) => {
                let pointer = target.trim_start_matches('#');
                let found = self.schema.pointer(pointer).unwrap_or_else(|| panic!("no {target}"));
                (found, pointer.to_owned())
            }
            None => (shape, place.to_owned()),
        }
    }

    fn fits(&self, shape: &Value, place: &str, output: &Value) -> bool {
        let mut choices = self.choices.borrow_mut();
        let validator = choices.entry(place.to_owned()).or_insert_with(|| {
            let shapes = self.schema.get("$defs").cloned().unwrap_or_else(|| json!({}));
            let whole = json!({ "$defs": shapes, "allOf": [shape] });
            super::validator(&whole)
        });
        validator.is_valid(output)
    }

    /// Every place of an output with the shape that it has there.
    fn each(&self, output: &Value, visit: &mut Visit<'a, '_>) {
        self.step((self.schema, ""), output, &mut Vec::new(), visit);
    }

    fn step(
        &self,
        (shape, place): (&'a Value, &str),
        output: &Value,
        path: &mut Vec<String>,
        visit: &mut Visit<'a, '_>,
    ) {
        let (shape, place) = self.of(shape, place);
        visit(shape, &place, path, output);
        for word in ["anyOf", "oneOf"] {
            for (at, one) in shape[word].as_array().into_iter().flatten().enumerate() {
                let place = format!("{place}/{word}/{at}");
                // A choice between requirements is no shape of its own.
                let is_shape = one.get("required").is_none() || one.get("properties").is_some();
                if is_shape && self.fits(one, &place, output) {
                    self.step((one, &place), output, path, visit);
                }
            }
        }
        match output {
            Value::Object(map) => {
                for (key, value) in map {
                    let own = &shape["properties"][key];
                    let (next, place) = match own.is_null() {
                        false => (own, format!("{place}/properties/{key}")),
                        true => (&shape["additionalProperties"], format!("{place}/each")),
                    };
                    if next.is_object() {
                        path.push(key.clone());
                        self.step((next, &place), value, path, visit);
                        path.pop();
                    }
                }
            }
            Value::Array(list) if shape["items"].is_object() => {
                for (at, value) in list.iter().enumerate() {
                    path.push(at.to_string());
                    self.step((&shape["items"], &format!("{place}/items")), value, path, visit);
                    path.pop();
                }
            }
            _ => {}
        }
    }

    /// Notes the keys and words that come up.
    pub fn follow(&self, output: &Value, name: &str, seen: &mut Seen) {
        self.each(output, &mut |shape, place, _, value| {
            if let (Some(properties), Some(map)) =
                (shape["properties"].as_object(), value.as_object())
            {
                let there = properties.keys().filter(|key| map.contains_key(*key));
                seen.keys.extend(there.map(|key| format!("{name}{place}: {key}")));
            }
            if let Some(list) = shape.get("enum") {
                seen.words.insert(format!("{value} of {list}"));
            }
        });
    }

    /// Takes every required key away, and puts one into every closed object: once for each place of
    /// the schema, as all rows of a list are alike.
    pub fn refuses_changes(&self, validator: &Validator, output: &Value, what: &str) {
        let mut done = BTreeSet::new();
        let mut changes: Vec<(Vec<String>, Option<String>)> = Vec::new();
        self.each(output, &mut |shape, place, path, value| {
            let Some(map) = value.as_object().filter(|_| shape["properties"].is_object()) else {
                return;
            };
            if done.insert((place.to_owned(), String::new())) {
                changes.push((path.to_vec(), None));
            }
            for key in shape["required"].as_array().into_iter().flatten() {
                let key = key.as_str().unwrap_or_default();
                if map.contains_key(key) && done.insert((place.to_owned(), key.to_owned())) {
                    changes.push((path.to_vec(), Some(key.to_owned())));
                }
            }
        });
        assert!(!changes.is_empty(), "{what}: nothing to change");
        for (path, key) in changes {
            let mut changed = output.clone();
            let object = at(&mut changed, &path);
            match &key {
                Some(key) => drop(object.remove(key)),
                None => drop(object.insert("surprise".to_owned(), Value::Null)),
            }
            let change = key.map_or("a further key".to_owned(), |key| format!("without `{key}`"));
            assert!(!validator.is_valid(&changed), "{what}: {change} at {path:?} is let through");
        }
    }
}

fn at<'a>(value: &'a mut Value, path: &[String]) -> &'a mut Map<String, Value> {
    let mut value = value;
    for step in path {
        value = match value {
            Value::Array(list) => &mut list[step.parse::<usize>().expect("a number")],
            other => &mut other[step],
        };
    }
    value.as_object_mut().expect("an object")
}

/// Every key of a schema, as [`Seen`] notes it.
pub fn keys(schema: &Value, name: &str) -> Vec<String> {
    let mut found = Vec::new();
    places(schema, "", &mut |place, shape| {
        if shape["type"] == "object" || place.is_empty() {
            let keys = shape["properties"].as_object().into_iter().flat_map(|map| map.keys());
            found.extend(keys.map(|key| format!("{name}{place}: {key}")));
        }
    });
    found
}

/// Every word of a schema, as [`Seen`] notes it.
pub fn words(schema: &Value) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    places(schema, "", &mut |_, shape| {
        let words = shape["enum"].as_array().into_iter().flatten();
        found.extend(words.map(|word| format!("{word} of {}", shape["enum"])));
    });
    found
}

/// Every shape with its place, as [`Walk::step`] names places.
fn places(shape: &Value, place: &str, visit: &mut dyn FnMut(&str, &Value)) {
    visit(place, shape);
    for (key, own) in shape["properties"].as_object().into_iter().flatten() {
        places(own, &format!("{place}/properties/{key}"), visit);
    }
    for (key, own) in shape["$defs"].as_object().into_iter().flatten() {
        places(own, &format!("/$defs/{key}"), visit);
    }
    for (key, step) in [("items", "items"), ("additionalProperties", "each")] {
        if shape[key].is_object() {
            places(&shape[key], &format!("{place}/{step}"), visit);
        }
    }
    for word in ["anyOf", "oneOf"] {
        for (at, one) in shape[word].as_array().into_iter().flatten().enumerate() {
            places(one, &format!("{place}/{word}/{at}"), visit);
        }
    }
}
