//! What people and scripts read: findings, operating points and diagnoses as text and JSON.
//!
//! Nothing is computed here, and nothing is printed.

mod bands;
mod bench;
mod choose;
mod curve;
mod diagnosis;
mod doubts;
mod excerpt;
mod html;
mod json;
mod lesson;
mod marking;
mod next;
mod operating;
mod plot;
mod substitute;
mod text;
mod tree;
mod words;

pub use bands::{bands_json, bands_text, watched_words};
pub use bench::{
    advice_text, after_text, cautions, cautions_text, moved_text, question_text, status_text,
    why_text,
};
pub use choose::{choices_json, choices_text};
pub use curve::{curve_csv, curve_json, curve_text, curve_title, level_words, swept_words};
pub use diagnosis::diagnosis_text;
pub use excerpt::{Style, render};
pub use html::{page, picture};
pub use json::{
    VERSION, check_json, cycle_json, diagnosis_json, expect_json, next_json, operating_json,
};
pub use lesson::{Lecture, lesson_html, lesson_json, lesson_markdown, lesson_text};
pub use marking::{MarkingsOf, markings_json, markings_text};
pub use next::next_text;
pub use operating::{cycle_text, expect_text, operating_text};
pub use substitute::{substitute_json, substitute_text, substitute_words};
pub use text::Page;
pub use tree::{tree_json, tree_markdown, tree_text};
pub use words::observed;
