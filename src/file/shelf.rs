//! Types: values that several parts share, from the circuit file and from the shop's shelf.

use std::collections::HashMap;
use std::sync::Arc;

use super::limits::MOST_SHELF;
use super::names::{Named, check_form};
use super::syntax;
use super::take::refuse_unknown;
use super::tree::{Entry, Node, Table};
use crate::finding::{Code, Finding, Source};

/// What reads a shelf file: its name as the circuit file has it, to its text.
pub(super) type Fetch<'a> = &'a mut dyn FnMut(&str) -> Result<Arc<Source>, String>;

/// Types by name.
#[derive(Debug, Default)]
pub(super) struct Types {
    by_name: HashMap<String, Entry>,
}

impl Types {
    /// The types of a circuit file and of the shelf files that it names. Its own types win over
    /// those of the shelf, and earlier shelf files over later ones.
    pub(super) fn read(file: &Table, fetch: Fetch<'_>, found: &mut Vec<Finding>) -> Types {
        let mut types = Types::default();
        types.take(file.get("types"), found);
        let Some(shelf) = file.get("shelf") else { return types };
        let Some(list) = shelf.take_list("`shelf`", found) else { return types };
        if let Some(node) = list.get(MOST_SHELF) {
            let message = format!("there are more than {MOST_SHELF} shelf files");
            found.push(node.error(Code::TooLarge, message, "the first one too many"));
        }
        for node in list.iter().take(MOST_SHELF) {
            let Some(name) = node.take_text("a file in `shelf`", found) else { continue };
            match fetch(&name.text) {
                Ok(source) => types.take_file(&source, found),
                Err(reason) => found.push(node.error(Code::Unreadable, reason, "")),
            }
        }
        types
    }

    fn take_file(&mut self, source: &Arc<Source>, found: &mut Vec<Finding>) {
        match syntax::parse(source, super::circuit::TWICE) {
            Ok(table) => {
                refuse_unknown(&table, "a shelf file", &["types"], found);
                self.take(table.get("types"), found);
            }
            Err(findings) => found.extend(findings),
        }
    }

    fn take(&mut self, node: Option<&Node>, found: &mut Vec<Finding>) {
        let Some(table) = node.and_then(|node| node.take_table("`types`", found)) else { return };
        for entry in &table.entries {
            if check_form(Named::Type, &entry.key, found) {
                self.by_name.entry(entry.key.text.clone()).or_insert_with(|| entry.clone());
            }
        }
    }

    /// The type of that name, with its own key.
    pub(super) fn get(&self, name: &str) -> Option<&Entry> {
        self.by_name.get(name)
    }

    /// All types, in the order of their names.
    pub(super) fn all(&self) -> Vec<&Entry> {
        let mut all: Vec<&Entry> = self.by_name.values().collect();
        all.sort_by(|a, b| a.key.text.cmp(&b.key.text));
        all
    }

    /// The names of all types.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> + Clone {
        self.by_name.keys().map(String::as_str)
    }
}
