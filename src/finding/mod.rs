//! Errors and findings as data, with their places in the text they speak of.
//!
//! Nothing here prints. A [`Finding`] says what is wrong, where, and what to do about it; the
//! renderers in `report` turn it into text for a terminal or into JSON.

mod codes;
mod suggest;

use std::ops::Range;
use std::sync::Arc;

pub use codes::Code;
pub use suggest::nearest;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing; nothing is wrong.
    Note,
    /// Probably not what was meant; work goes on.
    Warning,
    /// The input cannot be used.
    Error,
}

impl Severity {
    /// The word shown before the message.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }
}

/// A text that findings point into: a file, or an argument of the command line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The name shown to the person, as they gave it.
    pub name: String,
    /// The whole text.
    pub text: String,
}

impl Source {
    /// A shared source of the given name and text.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Arc<Source> {
        Arc::new(Source { name: name.into(), text: text.into() })
    }

    /// Line and column, both from 1, of a byte offset; columns count characters.
    ///
    /// ```
    /// let source = ohmhound::finding::Source::new("a.toml", "x = 1\nµ = 2");
    /// assert_eq!(source.line_column(9), (2, 3));
    /// ```
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let before = &self.text[..offset];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
    }
}

/// A stretch of a source, with what is to be said of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// The text that is pointed into.
    pub source: Arc<Source>,
    /// Bytes of the stretch.
    pub range: Range<usize>,
    /// What is said beside it; may be empty.
    pub text: String,
}

impl Label {
    /// A label on `range` of `source`.
    pub fn new(source: &Arc<Source>, range: Range<usize>, text: impl Into<String>) -> Label {
        Label { source: Arc::clone(source), range, text: text.into() }
    }
}

/// One thing to tell the person: what is wrong, where, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What kind of finding this is: stable, listed in one place.
    pub code: Code,
    /// How much it matters.
    pub severity: Severity,
    /// One sentence that stands alone, lower case, no full stop.
    pub message: String,
    /// Places in the text; the first one is the main one.
    pub labels: Vec<Label>,
    /// What to do about it: the only part that proposes a change.
    pub help: Option<String>,
}

impl Finding {
    /// An error.
    pub fn error(code: Code, message: impl Into<String>) -> Finding {
        Finding::new(code, Severity::Error, message)
    }

    /// A warning.
    pub fn warning(code: Code, message: impl Into<String>) -> Finding {
        Finding::new(code, Severity::Warning, message)
    }

    /// A note.
    pub fn note(code: Code, message: impl Into<String>) -> Finding {
        Finding::new(code, Severity::Note, message)
    }

    fn new(code: Code, severity: Severity, message: impl Into<String>) -> Finding {
        Finding { code, severity, message: message.into(), labels: Vec::new(), help: None }
    }

    /// The same finding with one more place.
    #[must_use]
    pub fn at(
        mut self,
        source: &Arc<Source>,
        range: Range<usize>,
        text: impl Into<String>,
    ) -> Finding {
        self.labels.push(Label::new(source, range, text));
        self
    }

    /// The same finding with advice.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Finding {
        self.help = Some(help.into());
        self
    }

    /// Whether it is an error.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}
