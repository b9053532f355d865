//! The log of a guided session: a readings file that grows by one accepted answer at a time.
//!
//! What a person wrote into it stays as it is, comments and all. Each addition is on disk before
//! [`Log::add`] returns: written to a file beside it, flushed, and renamed over it, so that whenever
//! the program is killed the log holds either the answer or the state before it. A small lock file
//! keeps a second session away; the system lets go of it however the program ends.

use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, TableLike, Value};

use super::load::{load_text, shown_path};
use super::replace::{beside, end_of_link, reason, replace};
use super::syntax;
use crate::circuit::{Done, Quantity};
use crate::finding::{Code, Finding, Source};

/// What a session adds to its log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Entry<'a> {
    /// A reading, with its value as the person wrote it.
    Reading {
        /// Whether it was taken after the repair.
        after: bool,
        /// The name of the setup.
        setup: &'a str,
        /// What was measured.
        quantity: Quantity,
        /// Where, as readings write it.
        place: &'a str,
        /// The value.
        value: &'a str,
    },
    /// A step of the repair, with the name of its part.
    Done(&'a Done, Option<&'a str>),
    /// How a part looks.
    Seen {
        /// The part.
        part: &'a str,
        /// The word for it.
        look: &'a str,
    },
    /// A line of the job ticket.
    Job {
        /// The key, such as `ticket`.
        key: &'a str,
        /// The text.
        text: &'a str,
    },
}

/// A log that is open for one session.
#[derive(Debug)]
pub struct Log {
    /// The file itself, where the name is a link.
    path: PathBuf,
    /// The name as the person gave it.
    name: String,
    /// What is on disk.
    text: String,
    /// What was on disk before each addition of this session.
    before: Vec<String>,
    /// Held as long as the session lasts.
    _lock: File,
}

impl Log {
    /// Opens a log, or starts one for the circuit file of that name, relative to the log.
    ///
    /// # Errors
    ///
    /// That another session has it open, that it cannot be read or written, or is no readings file.
    pub fn open(path: &Path, circuit: &str) -> Result<Log, Finding> {
        let name = shown_path(path);
        if path.is_dir() {
            return Err(unwritten(&name, "it is a folder").help("name a file in it"));
        }
        // A link is written through, not replaced.
        let help = "name a log that can be written, by `--log`";
        let failed = |error: io::Error| unwritten(&name, &reason(&error)).help(help);
        let path = end_of_link(path).map_err(failed)?;
        if let Ok(known) = std::fs::metadata(&path) {
            // A new file in place of a device or a pipe would be none of these any more.
            if !known.is_file() {
                return Err(unwritten(&name, "it is no plain file").help(help));
            }
            if known.permissions().readonly() {
                return Err(unwritten(&name, "it is write-protected").help(help));
            }
        }
        let beside = beside(&path, "lock");
        let lock = OpenOptions::new().create(true).append(true).open(&beside).map_err(failed)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let message = format!("another session has the log `{name}` open");
                return Err(Finding::error(Code::LogBusy, message)
                    .help("end that one first, or name another log by `--log`"));
            }
            // A file system without locks: better a session without one than none at all.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {}
            Err(TryLockError::Error(error)) => return Err(failed(error)),
        }
        let text = match path.try_exists() {
            Ok(false) => String::new(),
            // The byte order mark stays with the text, which is put back as it was.
            _ => load_text(&path)?,
        };
        let mut log = Log { path, name, text, before: Vec::new(), _lock: lock };
        let mut document = log.document()?;
        log.belongs(&document, circuit)?;
        if log.text.trim().is_empty() {
            document.insert("circuit", toml_edit::value(circuit));
            log.write(document.to_string())?;
        }
        Ok(log)
    }

    /// Refuses what is no log of this circuit: answers would go into the wrong file.
    fn belongs(&self, document: &DocumentMut, circuit: &str) -> Result<(), Finding> {
        let refused = |message: String, help: &str| {
            Err(Finding::error(Code::LogUnwritten, message).help(help))
        };
        if document.contains_key("parts") {
            let message = format!("expected a log, found the circuit file `{}`", self.name);
            return refused(message, "name another file by `--log`");
        }
        let Some(named) = document.get("circuit").and_then(Item::as_str) else { return Ok(()) };
        let folder = self.path.parent().unwrap_or(Path::new(""));
        let whole = |name: &str| folder.join(name).canonicalize().ok();
        let same = named == circuit || whole(named).is_some_and(|own| whole(circuit) == Some(own));
        if same {
            return Ok(());
        }
        let message = format!("the log `{}` belongs to `{named}`, not to `{circuit}`", self.name);
        refused(message, "name that circuit, or another log by `--log`")
    }

    /// What is on disk.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text as a source for the reader.
    pub fn source(&self) -> Arc<Source> {
        let text = self.text.strip_prefix('\u{feff}').unwrap_or(&self.text);
        Source::new(self.name.as_str(), text)
    }

    /// Adds an entry; it is on disk when this returns.
    ///
    /// # Errors
    ///
    /// Why it could not be written. The log is as it was then.
    pub fn add(&mut self, entry: &Entry<'_>) -> Result<(), Finding> {
        let mut document = self.document()?;
        let added = match *entry {
            Entry::Reading { after, setup, quantity, place, value } => {
                let first = if after { Some("after") } else { None };
                let keys = first.into_iter().chain([setup, quantity.word()]);
                table(document.as_table_mut(), keys)
                    .and_then(|table| put(table, place, written(quantity, value)))
            }
            Entry::Done(done, part) => add_done(document.as_table_mut(), done, part),
            Entry::Seen { part, look } => table(document.as_table_mut(), ["seen"])
                .and_then(|table| put(table, part, look.into())),
            Entry::Job { key, text } => table(document.as_table_mut(), ["job"]).map(|table| {
                table.insert(key, toml_edit::value(text));
            }),
        };
        if added.is_none() {
            return Err(self.occupied());
        }
        let before = self.text.clone();
        self.write(document.to_string())?;
        self.before.push(before);
        Ok(())
    }

    /// Puts the value of a reading in place of every earlier one of its setup, quantity and place.
    ///
    /// # Errors
    ///
    /// Why it could not be written. The log is as it was then.
    pub fn correct(
        &mut self,
        (setup, quantity): (&str, Quantity),
        place: &str,
        value: &str,
    ) -> Result<(), Finding> {
        let mut document = self.document()?;
        let table = table(document.as_table_mut(), [setup, quantity.word()]);
        let plain = |known: &Item| known.is_value() && !known.is_inline_table();
        let Some(table) = table.filter(|table| table.get(place).is_none_or(plain)) else {
            return Err(self.occupied());
        };
        table.remove(place);
        table.insert(place, Item::Value(written(quantity, value)));
        let before = self.text.clone();
        self.write(document.to_string())?;
        self.before.push(before);
        Ok(())
    }

    /// Takes back the last entry that this session added; false when there is none left.
    ///
    /// # Errors
    ///
    /// Why it could not be written. The log is as it was then.
    pub fn undo(&mut self) -> Result<bool, Finding> {
        let Some(before) = self.before.pop() else { return Ok(false) };
        match self.write(before.clone()) {
            Ok(()) => Ok(true),
            Err(finding) => {
                self.before.push(before);
                Err(finding)
            }
        }
    }

    fn occupied(&self) -> Finding {
        let message = format!(
            "`{}` holds something else where the answer belongs, such as a value with its own meter",
            self.name
        );
        Finding::error(Code::LogUnwritten, message)
            .help("write this one into the log in an editor, or name another log by `--log`")
    }

    fn document(&self) -> Result<DocumentMut, Finding> {
        let source = self.source();
        // Slips are told in the words of the reader.
        if let Err(mut findings) = syntax::parse(&source, "")
            && !findings.is_empty()
        {
            return Err(findings.swap_remove(0));
        }
        source.text.parse().map_err(|_| {
            let message = format!("`{}` is not valid TOML", self.name);
            Finding::error(Code::NotToml, message)
        })
    }

    /// Puts a text on disk in place of the one there.
    fn write(&mut self, text: String) -> Result<(), Finding> {
        let text = like(&self.text, text);
        let on_disk = std::fs::read_to_string(&self.path).unwrap_or_default();
        if on_disk != self.text {
            let message =
                format!("the log `{}` was changed by something else since it was read", self.name);
            return Err(Finding::error(Code::LogChanged, message)
                .help("nothing was overwritten; quit, look at it, and start again"));
        }
        replace(&self.path, text.as_bytes()).map_err(|error| {
            let help = "everything accepted so far is in it; make room or name another log by \
                        `--log`";
            unwritten(&self.name, &reason(&error)).help(help)
        })?;
        self.text = text;
        Ok(())
    }
}

fn unwritten(name: &str, why: &str) -> Finding {
    Finding::error(Code::LogUnwritten, format!("cannot write the log `{name}`: {why}"))
}

/// A text with the line ends and the byte order mark of another one.
fn like(known: &str, text: String) -> String {
    let plain = text.strip_prefix('\u{feff}').unwrap_or(&text).replace("\r\n", "\n");
    let lines = if known.contains("\r\n") { plain.replace('\n', "\r\n") } else { plain };
    if known.starts_with('\u{feff}') { format!("\u{feff}{lines}") } else { lines }
}

/// The table under these keys, made where it is not there; `None` where something else is.
fn table<'a, 'k>(
    root: &'a mut Table,
    keys: impl IntoIterator<Item = &'k str>,
) -> Option<&'a mut dyn TableLike> {
    let mut here: &mut dyn TableLike = root;
    for key in keys {
        if here.get(key).is_none() {
            let mut new = Table::new();
            // `[powered.volts]` stands without a line `[powered]` above it.
            new.set_implicit(true);
            // Inside a table in braces it becomes one in braces too.
            here.insert(key, Item::Table(new));
        }
        here = here.get_mut(key)?.as_table_like_mut()?;
    }
    Some(here)
}

/// Puts a value under a key; beside one that is there already as a repeat. `None` beside one that
/// has more to say, such as a meter of its own: the reader takes no repeats of those.
fn put(table: &mut dyn TableLike, key: &str, value: Value) -> Option<()> {
    let list = match table.get_mut(key) {
        None => value,
        Some(known) => match known.as_value_mut()? {
            Value::InlineTable(_) => return None,
            Value::Array(list) => {
                list.push(value);
                return Some(());
            }
            known => {
                let mut list = Array::new();
                let mut first = known.clone();
                // A comment behind the value stays behind it.
                let decor = std::mem::take(first.decor_mut());
                list.push_formatted(first);
                list.push(value);
                let mut list = Value::Array(list);
                *list.decor_mut() = decor;
                list
            }
        },
    };
    table.insert(key, Item::Value(list));
    Some(())
}

/// A value as the file holds it: a plain number bare, with its digits as written.
fn written(quantity: Quantity, value: &str) -> Value {
    let digits = value.strip_prefix('-').unwrap_or(value);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits =
        |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let is_plain =
        all_digits(whole) && all_digits(part) && (whole == "0" || !whole.starts_with('0'));
    let is_flag = quantity == Quantity::Beep && matches!(value, "true" | "false");
    match value.parse::<Value>() {
        Ok(bare) if is_plain || is_flag => bare,
        _ => value.into(),
    }
}

fn add_done(root: &mut Table, done: &Done, part: Option<&str>) -> Option<()> {
    if root.get("done").is_none() {
        root.insert("done", Item::ArrayOfTables(ArrayOfTables::new()));
    }
    let mut entry = Table::new();
    entry.insert("action", toml_edit::value(done.action.as_str()));
    for (key, text) in [("part", part), ("with", done.with.as_deref())] {
        if let Some(text) = text {
            entry.insert(key, toml_edit::value(text));
        }
    }
    match root.get_mut("done")? {
        Item::ArrayOfTables(list) => list.push(entry),
        // `done = [{ .. }]` in one line.
        Item::Value(Value::Array(list)) => list.push(Value::InlineTable(entry.into_inline_table())),
        _ => return None,
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_as_they_were_written() {
        for bare in ["23.90", "0.02", "-1.5", "24", "0"] {
            assert_eq!(written(Quantity::Volts, bare).to_string(), bare);
        }
        for text in ["4k7", "OL", "< 0.05", "007", "1e3", "3.1..3.4", "23.9 V", ".5", "nan"] {
            assert_eq!(written(Quantity::Volts, text).to_string(), format!("\"{text}\""));
        }
        assert_eq!(written(Quantity::Beep, "true").to_string(), "true");
        assert_eq!(written(Quantity::Volts, "true").to_string(), "\"true\"");
    }
}
