//! Findings and results as text, JSON, Markdown and HTML.

mod excerpt;

pub use excerpt::{Style, render};
