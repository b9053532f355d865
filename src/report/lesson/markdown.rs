//! A lesson as Markdown.

use std::fmt::Write;

use super::document::Block;
use super::text;
use crate::report::Style;
use crate::report::markdown::escaped;

/// The columns of what is set in fixed width.
const WIDTH: usize = 100;

/// The blocks as Markdown.
pub(super) fn markdown(blocks: &[Block]) -> String {
    let mut out = String::new();
    for block in blocks {
        if !out.is_empty() {
            out.push('\n');
        }
        // Writing to a text cannot fail.
        let _ = match block {
            Block::Title(text) => writeln!(out, "# {}", escaped(text)),
            Block::Heading(text) => writeln!(out, "## {}", escaped(text)),
            Block::Small(text) => writeln!(out, "### {}", escaped(text)),
            Block::Sentence(text) => writeln!(out, "{}", escaped(text)),
            Block::Table { header, rows, right } => {
                let line = |cells: &[String]| {
                    let cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
                    format!("| {} |", cells.join(" | "))
                };
                let rule =
                    (0..header.len()).map(|at| if right.contains(&at) { "---:" } else { "---" });
                let rule: Vec<&str> = rule.collect();
                let mut table = format!("{}\n| {} |\n", line(header), rule.join(" | "));
                for row in rows {
                    table += &(line(row) + "\n");
                }
                write!(out, "{table}")
            }
            Block::Equations(list) => {
                let lines: Vec<String> = list
                    .iter()
                    .map(|(name, equation)| match name.is_empty() {
                        true => equation.text(),
                        false => format!("{name}: {}", equation.text()),
                    })
                    .collect();
                writeln!(out, "```text\n{}\n```", lines.join("\n"))
            }
            Block::Circuit(_) => Ok(()),
            Block::Matrix { .. } | Block::Plot(_) => {
                let fixed = text::text(std::slice::from_ref(block), Style::Plain, WIDTH);
                writeln!(out, "```text\n{fixed}```")
            }
        };
    }
    out
}
