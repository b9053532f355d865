//! What is wrong with a value, where, and how to write it instead.

use std::ops::Range;

/// A text that is not the value that was wanted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct ValueError {
    /// Bytes of the text that are at fault; always inside the text and on character boundaries.
    pub range: Range<usize>,
    /// What is wrong: one sentence, lower case, no full stop.
    pub message: String,
    /// How to write it instead.
    pub help: Option<String>,
}

impl ValueError {
    /// An error without help.
    pub(super) fn new(range: Range<usize>, message: impl Into<String>) -> ValueError {
        ValueError { range, message: message.into(), help: None }
    }

    /// The same error with a way out.
    pub(super) fn help(mut self, help: impl Into<String>) -> ValueError {
        self.help = Some(help.into());
        self
    }
}

/// The range without the white space at both ends.
pub(super) fn trimmed(text: &str, range: Range<usize>) -> Range<usize> {
    let inside = &text[range.clone()];
    let start = range.start + (inside.len() - inside.trim_start().len());
    let end = start + inside.trim().len();
    start..end
}
