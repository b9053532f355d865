//! What stands on a page, whatever it is laid out as: text, HTML, Markdown.

use super::text::Page;

/// What a text says by its looks; the words say the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tone {
    Plain,
    /// It matters less.
    Quiet,
    /// Something is off.
    Off,
    /// Something is as it should be.
    Good,
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cell {
    /// One line under the other.
    pub(super) lines: Vec<(Tone, String)>,
    /// A bar of this share, beside the first line.
    pub(super) bar: Option<f64>,
    /// A drawing; a text alternative is in it.
    pub(super) picture: Option<String>,
    /// The nets that links to this place are for.
    pub(super) nets: Vec<String>,
}

impl Cell {
    pub(super) fn toned(tone: Tone, text: impl Into<String>) -> Cell {
        Cell { lines: vec![(tone, text.into())], bar: None, picture: None, nets: Vec::new() }
    }

    pub(super) fn drawn(svg: Option<String>) -> Cell {
        Cell { lines: Vec::new(), bar: None, picture: svg, nets: Vec::new() }
    }

    /// The same with a line under it.
    pub(super) fn and(mut self, tone: Tone, text: impl Into<String>) -> Cell {
        self.lines.push((tone, text.into()));
        self
    }

    fn text(&self) -> String {
        self.lines.iter().map(|(_, text)| text.as_str()).collect::<Vec<_>>().join("; ")
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::toned(Tone::Plain, text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::toned(Tone::Plain, text)
    }
}

/// A table; the first cell of each row says what the row is about.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// What is in it; may be empty.
    pub(super) caption: String,
    pub(super) header: Vec<&'static str>,
    pub(super) rows: Vec<Vec<Cell>>,
    /// The columns of numbers.
    pub(super) right: Vec<usize>,
}

/// A piece of a page.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Block {
    /// A heading below that of the section.
    Heading(String),
    Text(Tone, String),
    List(Vec<String>),
    /// What is to be done in this order, each with what may come of it.
    Steps(Vec<(String, Vec<String>)>),
    /// Names with what they stand for.
    Facts(Vec<(String, String)>),
    Table(Table),
    /// A drawing, in as many pieces as pages need, with its caption.
    Picture(Vec<String>, String),
    /// Names of nets that links to this place are for.
    Nets(Vec<String>),
    /// What the signs of a drawing mean.
    Key(String),
    /// A quiet text that links to these nets lead to.
    About(Vec<String>, String),
    /// A sentence that should not be read over.
    Note(Tone, String),
    /// Room for a name and a date, by hand.
    SignOff,
}

impl Block {
    pub(super) fn text(text: impl Into<String>) -> Block {
        Block::Text(Tone::Plain, text.into())
    }

    pub(super) fn quiet(text: impl Into<String>) -> Block {
        Block::Text(Tone::Quiet, text.into())
    }

    /// A table of plain texts.
    pub(super) fn table(header: &[&'static str], rows: Vec<Vec<String>>) -> Block {
        let rows = rows.into_iter().map(|row| row.into_iter().map(Cell::from).collect()).collect();
        let (caption, right) = (String::new(), Vec::new());
        Block::Table(Table { caption, header: header.to_vec(), rows, right })
    }
}

/// A section of a page.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Section {
    /// The name that links have.
    pub(super) id: &'static str,
    pub(super) title: String,
    pub(super) blocks: Vec<Block>,
}

impl Section {
    pub(super) fn new(id: &'static str, title: impl Into<String>, blocks: Vec<Block>) -> Section {
        Section { id, title: title.into(), blocks }
    }
}

/// Blocks as text.
pub(super) fn lay_out(page: &mut Page, blocks: &[Block]) {
    for block in blocks {
        match block {
            Block::Heading(title) => page.heading(title),
            Block::Text(_, text) | Block::About(_, text) | Block::Note(_, text) => {
                page.sentence("  ", text);
            }
            Block::List(items) => {
                items.iter().for_each(|item| page.hanging("  - ", "    ", item));
            }
            Block::Steps(steps) => {
                for (number, (step, outcomes)) in steps.iter().enumerate() {
                    page.hanging(&format!("  {}. ", number + 1), "     ", step);
                    outcomes.iter().for_each(|one| page.hanging("     - ", "       ", one));
                }
            }
            Block::Facts(facts) => {
                let width = facts.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
                let indent = " ".repeat(width + 4);
                for (name, text) in facts {
                    let name = format!("{name}:");
                    page.hanging(&format!("  {name:0$} ", width + 1), &indent, text);
                }
            }
            Block::Table(table) => {
                let rows: Vec<Vec<String>> =
                    table.rows.iter().map(|row| row.iter().map(Cell::text).collect()).collect();
                page.table(&table.header, &rows, &table.right);
            }
            Block::Nets(names) => page.sentence("  ", &names.join(", ")),
            // Nothing that a text could show.
            Block::Picture(..) | Block::Key(_) | Block::SignOff => {}
        }
    }
}
