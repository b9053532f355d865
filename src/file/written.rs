//! A text together with the place where it stands.

use std::ops::Range;
use std::sync::Arc;

use super::limits::MOST_SHOWN;
use crate::finding::{Code, Finding, Source};
use crate::quantity::ValueError;

/// A text as it stands in a source, so that a complaint about some of its bytes has a place.
#[derive(Debug, Clone)]
pub(super) struct Written {
    pub(super) source: Arc<Source>,
    /// The bytes of the source, quotes included.
    pub(super) range: Range<usize>,
    /// The text itself, without quotes and escapes.
    pub(super) text: String,
    /// Where the text starts in the source; nothing when escapes stand in between.
    start: Option<usize>,
}

impl Written {
    /// The bytes of the source as they are.
    pub(super) fn verbatim(source: &Arc<Source>, range: Range<usize>) -> Written {
        let text = source.text.get(range.clone()).unwrap_or("").to_owned();
        Written { source: Arc::clone(source), start: Some(range.start), range, text }
    }

    /// A text that was decoded from the bytes of the source, such as a quoted one.
    pub(super) fn decoded(source: &Arc<Source>, range: Range<usize>, text: String) -> Written {
        let raw = source.text.get(range.clone()).unwrap_or("");
        let inside = raw.len().saturating_sub(text.len()) / 2;
        let verbatim = raw.get(inside..inside + text.len()) == Some(text.as_str());
        let start = verbatim.then_some(range.start + inside);
        Written { source: Arc::clone(source), range, text, start }
    }

    /// The bytes of the source that hold these bytes of the text.
    pub(super) fn place(&self, part: Range<usize>) -> Range<usize> {
        match self.start {
            Some(start) if part.end <= self.text.len() => start + part.start..start + part.end,
            _ => self.range.clone(),
        }
    }

    /// Some bytes of the text, as a text of its own. White space at both ends is left out.
    pub(super) fn slice(&self, part: Range<usize>) -> Written {
        let inside = self.text.get(part.clone()).unwrap_or("");
        let from = part.start + (inside.len() - inside.trim_start().len());
        let text = inside.trim().to_owned();
        let range = self.place(from..from + text.len());
        let start = self.start.map(|start| start + from);
        Written { source: Arc::clone(&self.source), range, text, start }
    }

    /// Whether the text, which is shown as it stands, holds no control character but the ends of
    /// lines and tabs; if it does, a complaint.
    pub(super) fn can_be_shown(&self, what: &str, found: &mut Vec<Finding>) -> bool {
        let is_bad = |c: &char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
        let Some((at, bad)) = self.text.char_indices().find(|(_, c)| is_bad(c)) else {
            return true;
        };
        let message = format!("{what} holds the control character U+{:04X}", u32::from(bad));
        let place = self.place(at..at + bad.len_utf8());
        let finding = Finding::error(Code::BadValue, message).at(&self.source, place, "");
        found.push(finding.help("take it out: it is shown as it stands"));
        false
    }

    /// The text, short enough for a message.
    pub(super) fn shown(&self) -> String {
        shown(&self.text)
    }

    /// An error about all of it.
    pub(super) fn error(
        &self,
        code: Code,
        message: impl Into<String>,
        label: impl Into<String>,
    ) -> Finding {
        Finding::error(code, message).at(&self.source, self.range.clone(), label)
    }

    /// An error about a value that stands in it; `what` says what the value is of.
    pub(super) fn value_error(&self, what: &str, error: ValueError) -> Finding {
        let message = format!("{what}: {}", error.message);
        let finding =
            Finding::error(Code::BadValue, message).at(&self.source, self.place(error.range), "");
        Finding { help: error.help, ..finding }
    }
}

/// A foreign text, short enough for a message and without what cannot be seen.
pub(super) fn shown(text: &str) -> String {
    let mut shown: String = text
        .chars()
        .take(MOST_SHOWN)
        .map(|c| if is_invisible(c) { char::REPLACEMENT_CHARACTER } else { c })
        .collect();
    if text.chars().nth(MOST_SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

/// Whether a character has no shape of its own: it controls, joins, or turns the direction.
pub(super) fn is_invisible(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{ad}'
                | '\u{200b}'..='\u{200f}'
                | '\u{202a}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
        )
}
