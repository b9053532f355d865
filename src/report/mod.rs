//! What people and scripts read: findings, operating points, diagnoses, reports, lessons and quizzes as
//! text, JSON, Markdown and pages.
//!
//! Nothing is computed here, and nothing is printed.

mod bands;
mod bench;
mod choose;
mod curve;
mod diagnosis;
mod document;
mod doubts;
mod excerpt;
mod fault_table;
mod html;
mod json;
mod kinds;
mod lesson;
mod markdown;
mod marking;
mod next;
mod operating;
mod plot;
mod quiz;
mod quiz_marking;
mod quiz_opening;
mod quiz_sheet;
mod schema;
mod substitute;
mod text;
mod ticket;
mod told;
mod tree;
mod visible;
mod words;

pub use bands::{bands_json, bands_text, watched_words};
pub use bench::{
    advice_text, after_text, cautions, cautions_text, is_for_licensed_people, moved_text,
    question_text, status_text, why_text,
};
pub use choose::{choices_json, choices_text};
pub use curve::{curve_csv, curve_json, curve_text, curve_title, level_words, swept_words};
pub use diagnosis::diagnosis_text;
pub use excerpt::{Style, render};
pub use fault_table::{
    FaultTableView, fault_table_csv, fault_table_html, fault_table_json, fault_table_markdown,
    fault_table_text,
};
pub use html::{page, picture};
pub use json::{
    VERSION, check_json, cycle_json, diagnosis_json, expect_json, next_json, operating_json,
};
pub use kinds::{kind_text, kinds_markdown, kinds_text};
pub use lesson::{Lecture, lesson_html, lesson_json, lesson_markdown, lesson_text};
pub use marking::{MarkingsOf, markings_json, markings_text};
pub use next::next_text;
pub use operating::{cycle_text, expect_text, operating_text};
pub use quiz::{
    hint_text, judgement_text, notes_text, prediction_met, prediction_text, sign_words,
    symptom_lines, symptom_text, taken_text,
};
pub use quiz_marking::{marking_json, marking_text};
pub use quiz_opening::{parts_text, quiz_help, quiz_opening};
pub use quiz_sheet::{SheetsView, sheets_html, sheets_markdown, sheets_text};
pub use schema::{OUTPUTS, Schema};
pub use substitute::{substitute_json, substitute_text, substitute_words};
pub use text::Page;
pub use ticket::{Ticket, ticket_html, ticket_markdown};
pub use tree::{tree_json, tree_markdown, tree_text};
pub use visible::visible;
pub use words::{assumption_words, observed, percent};
