//! From text to a tree: what TOML itself refuses.

use std::ops::Range;
use std::sync::Arc;

use toml::de::DeTable;

use super::limits::MOST_BYTES;
use super::tree::{Data, Node, Table};
use super::written::shown;
use crate::finding::{Code, Finding, Source};

/// The most bytes of a text that is read a second time to find more errors of the same text.
const SECOND_LOOK: usize = 1 << 18;

/// The most errors looked at for those that are shown.
const MOST_LOOKED_AT: usize = 1000;

/// The most errors shown of a text that is not TOML: later ones mostly follow from earlier ones.
const MOST_ERRORS: usize = 5;

/// The tree of a text; `twice` is the advice for a key that is there twice.
///
/// # Errors
///
/// The text is longer than [`MOST_BYTES`], or not TOML.
pub(super) fn parse(source: &Arc<Source>, twice: &str) -> Result<Table, Vec<Finding>> {
    if source.text.len() > MOST_BYTES {
        return Err(vec![too_long(&source.name)]);
    }
    match DeTable::parse(&source.text) {
        Ok(table) => Ok(Table::from_toml(source, table.get_ref())),
        Err(first) => Err(not_toml(source, &first, twice)),
    }
}

/// A text that is longer than the limit.
pub(super) fn too_long(name: &str) -> Finding {
    let message = format!("`{}` is larger than {} MiB", shown(name), MOST_BYTES >> 20);
    Finding::error(Code::TooLarge, message)
        .help("circuits and readings are small texts; this looks like another kind of file")
}

fn not_toml(source: &Arc<Source>, first: &toml::de::Error, twice: &str) -> Vec<Finding> {
    // The second look costs memory with every error, so it is for texts of a usual size only.
    if source.text.len() > SECOND_LOOK {
        return vec![finding(source, first, &Table::default(), twice)];
    }
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    let table = Table::from_toml(source, table.get_ref());
    let mut lines = Vec::new();
    let mut found = Vec::new();
    for error in errors.iter().take(MOST_LOOKED_AT) {
        let line = error.span().map_or(0, |span| source.line_column(span.start).0);
        if !lines.contains(&line) && found.len() < MOST_ERRORS {
            lines.push(line);
            found.push(finding(source, error, &table, twice));
        }
        // Whatever stands in a table that is there twice is there twice as well.
        if is_twice(error) {
            break;
        }
    }
    found
}

fn is_twice(error: &toml::de::Error) -> bool {
    error.message().starts_with("duplicate key")
}

fn finding(source: &Arc<Source>, error: &toml::de::Error, table: &Table, help: &str) -> Finding {
    let range = error.span().unwrap_or(0..0);
    if is_twice(error) {
        return twice(source, range, table, help);
    }
    // The parser gives up well before the stack does; the words are its own.
    if error.message().contains("recursion") {
        let message = "tables and lists are nested more deeply than is read";
        let finding = Finding::error(Code::TooLarge, message).at(source, range, "");
        return finding.help("circuits and readings have three levels or four");
    }
    let bare = error.message().starts_with("string values must be quoted");
    let said = if bare { "a text wants quotes" } else { error.message() };
    let finding = Finding::error(Code::NotToml, format!("not valid TOML: {}", shown(said))).at(
        source,
        range.clone(),
        "",
    );
    match advice(source, &range, bare) {
        Some(help) => finding.help(help),
        None => finding,
    }
}

/// Advice for the slips that hands make most often, by what stands at and around the error.
fn advice(source: &Arc<Source>, range: &Range<usize>, bare: bool) -> Option<String> {
    let text = &source.text;
    let start = text[..floor(text, range.start)].rfind('\n').map_or(0, |at| at + 1);
    let line = text[start..].lines().next().unwrap_or("");
    if line.contains(['“', '”', '„', '‘', '’']) {
        return Some("use straight quotes \"..\", not curly ones".to_owned());
    }
    if bare {
        let word = text.get(range.clone()).unwrap_or("");
        return Some(format!("write `\"{}\"`", shown(word)));
    }
    if !line.contains('=') && !line.trim_start().starts_with('[') {
        return Some("a line is `key = value`, or a heading such as `[parts]`".to_owned());
    }
    let key = line.split('=').next().unwrap_or("").trim();
    let before = range.start <= start + line.find('=').unwrap_or(0);
    (before && needs_quotes(key)).then(|| format!("write `\"{}\" = ..`", shown(key)))
}

fn needs_quotes(key: &str) -> bool {
    !key.starts_with(['"', '\'', '['])
        && key.chars().any(|c| !c.is_ascii_alphanumeric() && !matches!(c, '_' | '-' | '.'))
}

/// A key that is there twice, with both places where the first one can be found.
fn twice(source: &Arc<Source>, range: Range<usize>, table: &Table, help: &str) -> Finding {
    let raw = source.text.get(range.clone()).unwrap_or("");
    let key = raw.trim_matches(['"', '\'']);
    let finding = Finding::error(Code::NotToml, format!("`{}` is there twice", shown(key)))
        .at(source, range.clone(), "the second one")
        .help(help);
    match first_place(table, key, &range).or_else(|| same_heading(source, &range)) {
        Some(first) => finding.at(source, first, "the first one"),
        None => finding,
    }
}

/// The nearest key of that text before `range` in a table that may hold both: any table under a
/// heading, or the braces around the second key.
fn first_place(table: &Table, key: &str, range: &Range<usize>) -> Option<Range<usize>> {
    let mut best: Option<Range<usize>> = None;
    let mut keep = |candidate: Range<usize>| {
        if candidate.end <= range.start
            && best.as_ref().is_none_or(|best| candidate.start > best.start)
        {
            best = Some(candidate);
        }
    };
    for entry in &table.entries {
        if entry.key.text == key {
            keep(entry.key.range.clone());
        }
        if let Some(inside) = inside(&entry.value, range)
            && let Some(found) = first_place(inside, key, range)
        {
            keep(found);
        }
    }
    best
}

/// The same key in an earlier heading that reads like the heading around `range`.
fn same_heading(source: &Arc<Source>, range: &Range<usize>) -> Option<Range<usize>> {
    let text = &source.text;
    let start = text[..floor(text, range.start)].rfind('\n').map_or(0, |at| at + 1);
    let heading = text[start..].lines().next()?.trim();
    let (offset, length) = (range.start - start, range.len());
    let mut at = 0;
    text[..start]
        .split_inclusive('\n')
        .find_map(|line| {
            let found = (heading.starts_with('[') && line.trim() == heading).then(|| at + offset);
            at += line.len();
            found.filter(|from| text.get(*from..from + length) == text.get(range.clone()))
        })
        .map(|from| from..from + length)
}

fn inside<'a>(node: &'a Node, range: &Range<usize>) -> Option<&'a Table> {
    match &node.data {
        Data::Table(table) if !table.braces || node.range.contains(&range.start) => Some(table),
        _ => None,
    }
}

/// The character boundary at or before a byte.
fn floor(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
