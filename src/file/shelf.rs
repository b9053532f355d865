//! Types: values that several parts share, from the circuit file and from the shop's shelf.

use std::collections::{HashMap, HashSet};
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use super::keys;
use super::limits::MOST_SHELF;
use super::names::{Named, check_form};
use super::syntax;
use super::take::{listed, refuse_unknown};
use super::tree::{Entry, Node, Table};
use crate::finding::{Code, Finding, Source};

/// What reads a shelf file: its name, relative to the circuit file, to its text.
pub(super) type Fetch<'a> = &'a mut dyn FnMut(&str) -> Result<Arc<Source>, String>;

/// Types by name.
#[derive(Debug, Default)]
pub(super) struct Types {
    by_name: HashMap<String, Entry>,
}

impl Types {
    /// The types of a circuit file and of the shelf files that it names, which may name further
    /// ones. A file's own types win over those of its shelf, and earlier shelf files over later
    /// ones.
    pub(super) fn read(file: &Table, fetch: Fetch<'_>, found: &mut Vec<Finding>) -> Types {
        let mut types = Types::default();
        types.take(file.get("types"), found);
        let mut shelves = Shelves { types, fetch, found, seen: HashSet::new(), open: Vec::new() };
        shelves.follow(file);
        shelves.types
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

/// The shelf files while they are followed from one to the next.
struct Shelves<'a> {
    types: Types,
    fetch: Fetch<'a>,
    found: &'a mut Vec<Finding>,
    /// Every file that was read, so that one that two others name is read once.
    seen: HashSet<PathBuf>,
    /// The files between the circuit and here, each named by the one before it.
    open: Vec<PathBuf>,
}

impl Shelves<'_> {
    /// Reads the files that a circuit file or a shelf file names. The number of files is limited,
    /// and with it how deep they can lead.
    fn follow(&mut self, file: &Table) {
        let Some(shelf) = file.get("shelf") else { return };
        let Some(list) = shelf.take_list("`shelf`", self.found) else { return };
        for node in list {
            let Some(name) = node.take_text("a file in `shelf`", self.found) else { continue };
            let folder = self.open.last().and_then(|path| path.parent()).unwrap_or(Path::new(""));
            let path = tidy(&folder.join(&name.text));
            if let Some(first) = self.open.iter().position(|open| *open == path) {
                let circle = self.open[first..].iter().chain([&path]);
                let names: Vec<String> = circle.map(|path| path.display().to_string()).collect();
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                let message =
                    format!("shelf files name each other in a circle: {}", listed(&names));
                let help = "a shelf file may build on others, but not on itself; take one out";
                self.found.push(name.error(Code::WrongShape, message, "").help(help));
                continue;
            }
            if self.seen.contains(&path) {
                continue;
            }
            if self.seen.len() >= MOST_SHELF {
                let message = format!("there are more than {MOST_SHELF} shelf files");
                self.found.push(node.error(Code::TooLarge, message, "the first one too many"));
                return;
            }
            self.seen.insert(path.clone());
            match (self.fetch)(&path.to_string_lossy()) {
                Ok(source) => self.read(&source, path),
                Err(reason) => self.found.push(node.error(Code::Unreadable, reason, "")),
            }
        }
    }

    fn read(&mut self, source: &Arc<Source>, path: PathBuf) {
        match syntax::parse(source, super::circuit::TWICE) {
            Ok(table) => {
                refuse_unknown(&table, "a shelf file", keys::SHELF, self.found);
                self.types.take(table.get("types"), self.found);
                self.open.push(path);
                self.follow(&table);
                self.open.pop();
            }
            Err(findings) => self.found.extend(findings),
        }
    }
}

/// A path without `.` and without a folder that is left again by `..`, so that one file has one
/// name.
fn tidy(path: &Path) -> PathBuf {
    let mut tidy = PathBuf::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir
                if matches!(tidy.components().next_back(), Some(Component::Normal(_))) =>
            {
                tidy.pop();
            }
            component => tidy.push(component),
        }
    }
    tidy
}
