//! Typed access to the tree: the wanted form of a value, or a complaint that says what was found.

use super::keys::{Key, names};
use super::limits::MOST_SUGGESTED;
use super::tree::{Data, Entry, Node, Table};
use super::written::Written;
use crate::finding::{Code, Finding, nearest};
use crate::quantity::{Unit, parse_number};

impl Node {
    /// A table; `what` says what it is of, such as "`parts`".
    pub(super) fn take_table(&self, what: &str, found: &mut Vec<Finding>) -> Option<&Table> {
        match &self.data {
            Data::Table(table) => Some(table),
            _ => self.refuse(what, "a table", found),
        }
    }

    /// A list.
    pub(super) fn take_list(&self, what: &str, found: &mut Vec<Finding>) -> Option<&[Node]> {
        match &self.data {
            Data::List(list) => Some(list),
            _ => self.refuse(what, "a list in square brackets", found),
        }
    }

    /// A text.
    pub(super) fn take_text(&self, what: &str, found: &mut Vec<Finding>) -> Option<&Written> {
        match &self.data {
            Data::Text(text) => Some(text),
            _ => self.refuse(what, "a text in quotes", found),
        }
    }

    /// A text that is shown as it stands, such as a title: pages and terminals obey control
    /// characters, which nobody types.
    pub(super) fn take_shown(&self, what: &str, found: &mut Vec<Finding>) -> Option<&Written> {
        let text = self.take_text(what, found)?;
        text.can_be_shown(what, found).then_some(text)
    }

    /// A number, or a text that holds one.
    pub(super) fn take_value(&self, what: &str, found: &mut Vec<Finding>) -> Option<&Written> {
        match &self.data {
            Data::Text(written) | Data::Number(written) => Some(written),
            _ => self.refuse(what, "a number or a text", found),
        }
    }

    /// Yes or no.
    pub(super) fn take_flag(&self, what: &str, found: &mut Vec<Finding>) -> Option<bool> {
        match &self.data {
            Data::Flag(flag) => Some(*flag),
            _ => self.refuse(what, "`true` or `false`", found),
        }
    }

    /// A number in `unit` that passes `fits`; `wanted` says which numbers do.
    pub(super) fn take_number(
        &self,
        what: &str,
        unit: Unit,
        wanted: &str,
        fits: impl Fn(f64) -> bool,
        found: &mut Vec<Finding>,
    ) -> Option<f64> {
        let written = self.take_value(what, found)?;
        match parse_number(&written.text, unit) {
            Ok(number) if fits(number.value) => Some(number.value),
            Ok(_) => {
                let message = format!("{what}: expected {wanted}, found `{}`", written.shown());
                found.push(written.error(Code::BadValue, message, ""));
                None
            }
            Err(error) => {
                found.push(written.value_error(what, error));
                None
            }
        }
    }

    fn refuse<T>(&self, what: &str, wanted: &str, found: &mut Vec<Finding>) -> Option<T> {
        let message = format!("{what}: expected {wanted}, found {}", self.found());
        found.push(self.error(Code::WrongShape, message, ""));
        None
    }
}

/// Complains of every key that is not known.
pub(super) fn refuse_unknown(table: &Table, what: &str, keys: &[Key], found: &mut Vec<Finding>) {
    let known = names(keys);
    for entry in &table.entries {
        if !known.contains(&entry.key.text.as_str()) {
            let finding = unknown_key(entry, what, &known, found);
            found.push(finding);
        }
    }
}

/// An unknown key, with the likely intended one.
pub(super) fn unknown_key(entry: &Entry, what: &str, known: &[&str], found: &[Finding]) -> Finding {
    let message = format!("unknown key `{}` in {what}", entry.key.shown());
    let finding = entry.key.error(Code::WrongShape, message, "");
    match suggested(&entry.key.text, known.iter().copied(), found) {
        Some(near) => finding.help(format!("did you mean `{near}`?")),
        None => finding.help(format!("known keys are {}", listed(known))),
    }
}

/// The known name nearest to a text, while suggestions are still worth their cost.
pub(super) fn suggested<'a>(
    text: &str,
    known: impl IntoIterator<Item = &'a str>,
    found: &[Finding],
) -> Option<&'a str> {
    (found.len() < MOST_SUGGESTED).then(|| nearest(text, known)).flatten()
}

/// Words in backticks with commas between them.
pub(super) fn listed(words: &[&str]) -> String {
    const MOST: usize = 40;
    let mut text =
        words.iter().take(MOST).map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ");
    if words.len() > MOST {
        text.push_str(&format!(" and {} more", words.len() - MOST));
    }
    text
}
