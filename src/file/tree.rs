//! The tree of a TOML text in which every key and every value knows its place.

use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::written::{Written, shown};
use crate::finding::{Code, Finding, Source};

/// A value.
#[derive(Debug, Clone)]
pub(super) struct Node {
    pub(super) source: Arc<Source>,
    pub(super) range: Range<usize>,
    pub(super) data: Data,
}

/// What a value is.
#[derive(Debug, Clone)]
pub(super) enum Data {
    Text(Written),
    /// A number, with the digits as they stand in the file.
    Number(Written),
    Flag(bool),
    List(Vec<Node>),
    Table(Table),
    /// A date or a time.
    Moment,
}

/// A table; its entries are in the order of the file.
#[derive(Debug, Clone, Default)]
pub(super) struct Table {
    pub(super) entries: Vec<Entry>,
    /// The entries in the order of their keys, so that a long table is searched fast.
    by_key: Vec<usize>,
    /// Written in braces, and not under a heading or as a key with points.
    pub(super) braces: bool,
}

/// A key with its value.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    pub(super) key: Written,
    pub(super) value: Node,
}

impl Table {
    /// The tree of a parsed text.
    pub(super) fn from_toml(source: &Arc<Source>, table: &DeTable<'_>) -> Table {
        let mut entries: Vec<Entry> = table
            .iter()
            .map(|(key, value)| Entry {
                key: Written::decoded(source, key.span(), key.get_ref().clone().into_owned()),
                value: Node::from_toml(source, value),
            })
            .collect();
        entries.sort_by_key(|entry| entry.key.range.start);
        let mut by_key: Vec<usize> = (0..entries.len()).collect();
        by_key.sort_by(|a, b| entries[*a].key.text.cmp(&entries[*b].key.text));
        Table { entries, by_key, braces: false }
    }

    /// The value of a key.
    pub(super) fn get(&self, key: &str) -> Option<&Node> {
        self.entry(key).map(|entry| &entry.value)
    }

    /// A key with its value.
    pub(super) fn entry(&self, key: &str) -> Option<&Entry> {
        let text = |idx: &usize| self.entries[*idx].key.text.as_str();
        let found = self.by_key.binary_search_by(|idx| text(idx).cmp(key)).ok()?;
        self.by_key.get(found).map(|idx| &self.entries[*idx])
    }
}

impl Node {
    fn from_toml(source: &Arc<Source>, value: &Spanned<DeValue<'_>>) -> Node {
        let range = value.span();
        let digits = |range: Range<usize>| {
            let raw = source.text.get(range.clone()).unwrap_or("");
            // A number may group its digits with underscores, which carry no meaning.
            match raw.contains('_') {
                true => Written::decoded(source, range, raw.replace('_', "")),
                false => Written::verbatim(source, range),
            }
        };
        let data = match value.get_ref() {
            DeValue::String(text) => {
                Data::Text(Written::decoded(source, range.clone(), text.clone().into_owned()))
            }
            DeValue::Integer(_) | DeValue::Float(_) => Data::Number(digits(range.clone())),
            DeValue::Boolean(flag) => Data::Flag(*flag),
            DeValue::Datetime(_) => Data::Moment,
            DeValue::Array(list) => {
                Data::List(list.iter().map(|item| Node::from_toml(source, item)).collect())
            }
            DeValue::Table(table) => {
                let braces = source.text.get(range.clone()).is_some_and(|t| t.starts_with('{'));
                Data::Table(Table { braces, ..Table::from_toml(source, table) })
            }
        };
        Node { source: Arc::clone(source), range, data }
    }

    /// The value as it stands in the file.
    pub(super) fn raw(&self) -> &str {
        self.source.text.get(self.range.clone()).unwrap_or("")
    }

    /// What it is, after "found".
    pub(super) fn found(&self) -> String {
        match &self.data {
            Data::Text(text) => format!("the text `{}`", text.shown()),
            Data::Number(digits) => format!("the number `{}`", digits.shown()),
            Data::Flag(flag) => format!("`{flag}`"),
            Data::List(_) => "a list".to_owned(),
            Data::Table(_) => "a table".to_owned(),
            Data::Moment => format!("the date `{}`", shown(self.raw())),
        }
    }

    /// An error about the value.
    pub(super) fn error(
        &self,
        code: Code,
        message: impl Into<String>,
        label: impl Into<String>,
    ) -> Finding {
        Finding::error(code, message).at(&self.source, self.range.clone(), label)
    }
}
