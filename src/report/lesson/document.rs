//! A lesson as a list of blocks, before it is text, Markdown or HTML.

use super::equations::Equation;

/// A piece of a lesson.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Block {
    /// The title.
    Title(String),
    /// A section.
    Heading(String),
    /// A part of a section.
    Small(String),
    /// A paragraph.
    Sentence(String),
    /// A table; the columns of `right` hold numbers.
    Table { header: Vec<String>, rows: Vec<Vec<String>>, right: Vec<usize> },
    /// Equations, one below the other, with what each is of.
    Equations(Vec<(String, Equation)>),
    /// The matrix: names of the columns; per row its name, its entries and its right-hand side.
    Matrix { columns: Vec<String>, rows: Vec<(String, Vec<String>, String)> },
    /// A plot.
    Plot(Box<Drawing>),
    /// The circuit as drawn, for pages: one SVG element each.
    Circuit(Vec<String>),
}

/// A plot of lines, with one place that is marked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawing {
    pub(super) title: String,
    pub(super) description: String,
    pub(super) across: String,
    pub(super) up: String,
    /// Names and points.
    pub(super) lines: Vec<(String, Vec<(f64, f64)>)>,
    pub(super) mark: (String, (f64, f64)),
    /// The end of the lower axis, which begins at nothing.
    pub(super) right: f64,
}
