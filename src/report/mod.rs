//! What people and scripts read: findings, operating points and diagnoses as text and JSON.
//!
//! Nothing is computed here, and nothing is printed.

mod bench;
mod diagnosis;
mod doubts;
mod excerpt;
mod json;
mod marking;
mod next;
mod operating;
mod text;
mod tree;
mod words;

pub use bench::{
    advice_text, after_text, cautions, cautions_text, moved_text, question_text, status_text,
    why_text,
};
pub use diagnosis::diagnosis_text;
pub use excerpt::{Style, render};
pub use json::{
    VERSION, check_json, cycle_json, diagnosis_json, expect_json, next_json, operating_json,
};
pub use marking::{MarkingsOf, markings_json, markings_text};
pub use next::next_text;
pub use operating::{cycle_text, expect_text, operating_text};
pub use text::Page;
pub use tree::{tree_json, tree_markdown, tree_text};
pub use words::observed;
