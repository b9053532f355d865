//! Markdown.

use std::fmt::Write;

use super::document::{Block, Cell, Section, Table};

/// A text in which nothing is taken for markup.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        if matches!(letter, '\\' | '`' | '&' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|') {
            safe.push('\\');
        }
        // A line end would end the paragraph, the item or the row.
        safe.push(if letter.is_control() { ' ' } else { letter });
    }
    safe
}

/// A section with its heading; `level` is that of the heading. One that only holds a drawing is left
/// out.
pub(super) fn section(text: &mut String, level: usize, section: &Section) {
    if section.blocks.iter().all(|block| matches!(block, Block::Picture(..))) {
        return;
    }
    heading(text, level, &section.title);
    for block in &section.blocks {
        put(text, level, block);
    }
}

/// A heading, with a blank line behind it.
pub(super) fn heading(text: &mut String, level: usize, title: &str) {
    // What is written to a string cannot fail.
    let _ = writeln!(text, "{} {}\n", "#".repeat(level), escaped(title));
}

/// A block, with a blank line behind it.
pub(super) fn put(text: &mut String, level: usize, block: &Block) {
    let mut line = |words: String| {
        text.push_str(&words);
        text.push('\n');
    };
    match block {
        Block::Heading(title) => {
            heading(text, level + 1, title);
            return;
        }
        Block::Text(_, words) | Block::About(_, words) => line(escaped(words)),
        Block::Note(_, words) => line(format!("**{}**", escaped(words))),
        Block::List(items) => {
            items.iter().for_each(|item| line(format!("- {}", escaped(item))));
        }
        Block::Steps(steps) => {
            for (number, (step, outcomes)) in steps.iter().enumerate() {
                line(format!("{}. {}", number + 1, escaped(step)));
                outcomes.iter().for_each(|one| line(format!("   - {}", escaped(one))));
            }
        }
        Block::Facts(facts) => {
            for (name, words) in facts {
                line(format!("- **{}:** {}", escaped(name), escaped(words)));
            }
        }
        Block::Table(own) => table(text, own),
        Block::Nets(names) => line(escaped(&names.join(", "))),
        Block::SignOff => {
            line("Checked by: \\_\\_\\_\\_\\_\\_\\_\\_ Date: \\_\\_\\_\\_\\_\\_\\_\\_".to_owned())
        }
        // What is said of drawings would point at nothing.
        Block::Picture(..) | Block::Key(_) => return,
    }
    text.push('\n');
}

fn table(text: &mut String, table: &Table) {
    if !table.caption.is_empty() {
        let _ = writeln!(text, "{}\n", escaped(&table.caption));
    }
    // Columns of drawings have nothing to say here.
    let has_words = |column: &usize| {
        table.rows.iter().any(|row| row.get(*column).is_some_and(|cell| !cell.lines.is_empty()))
    };
    let columns: Vec<usize> = (0..table.header.len()).filter(has_words).collect();
    let row = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    let cell = |cell: &Cell| {
        cell.lines.iter().map(|(_, words)| escaped(words)).collect::<Vec<_>>().join("<br>")
    };
    let rule =
        |column: &usize| if table.right.contains(column) { "---:" } else { "---" }.to_owned();
    let head = columns.iter().map(|&column| escaped(table.header[column])).collect();
    let _ = writeln!(text, "{}\n{}", row(head), row(columns.iter().map(rule).collect()));
    for own in &table.rows {
        let cells = columns.iter().map(|&column| own.get(column).map_or(String::new(), cell));
        let _ = writeln!(text, "{}", row(cells.collect()));
    }
}
