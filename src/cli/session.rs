//! What sessions have in common: how text is laid out, and what follows a line.

use ohmhound::finding::Finding;
use ohmhound::report::Style;

/// How text is laid out.
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    pub(super) style: Style,
    pub(super) width: usize,
}

/// What follows a line.
#[derive(Debug, Default)]
pub(super) struct Reply {
    pub(super) text: String,
    pub(super) findings: Vec<Finding>,
}

/// A text and nothing else.
pub(super) fn said(text: String) -> Reply {
    Reply { text, findings: Vec::new() }
}
