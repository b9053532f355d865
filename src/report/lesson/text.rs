//! A lesson as text for terminals and paper.

use super::document::{Block, Drawing};
use super::equations::Equation;
use crate::quantity::{Unit, print};
use crate::report::Style;
use crate::report::plot::{Line, SIGNS, drawn};
use crate::report::text::Page;

/// The blocks as text.
pub(super) fn text(blocks: &[Block], style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    let mut before = None;
    for block in blocks {
        if needs_room(before, block) {
            page.line("");
        }
        match block {
            Block::Title(text) | Block::Heading(text) => page.heading(text),
            Block::Small(text) => page.sentence("  ", text),
            Block::Sentence(text) => page.sentence("", text),
            Block::Table { header, rows, right } => {
                let header: Vec<&str> = header.iter().map(String::as_str).collect();
                page.table(&header, rows, right);
            }
            Block::Equations(list) => equations(&mut page, list, width),
            Block::Matrix { columns, rows } => matrix(&mut page, columns, rows, width),
            Block::Plot(plot) => picture(&mut page, plot, width),
            Block::Circuit(_) => {}
        }
        before = Some(block);
    }
    page.finish()
}

/// Whether an empty line stands between two blocks.
fn needs_room(before: Option<&Block>, block: &Block) -> bool {
    let Some(before) = before else { return false };
    match (before, block) {
        (_, Block::Title(_) | Block::Heading(_)) => false,
        (Block::Title(_) | Block::Heading(_) | Block::Small(_), _) => false,
        (_, Block::Small(_)) => true,
        (Block::Sentence(_), Block::Table { .. } | Block::Equations(_) | Block::Matrix { .. }) => {
            false
        }
        (Block::Sentence(_), Block::Sentence(_)) => false,
        _ => true,
    }
}

fn equations(page: &mut Page, list: &[(String, Equation)], width: usize) {
    let names = list.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
    let margin = if names == 0 { 2 } else { names.min(24) + 4 };
    for (name, equation) in list {
        let name = if name.is_empty() { String::new() } else { format!("{name}:") };
        let first = format!("  {name:<width$}", width = margin - 2);
        for (at, line) in lines(equation, width.saturating_sub(margin)).into_iter().enumerate() {
            let before = if at == 0 { first.clone() } else { " ".repeat(margin + 2) };
            page.line(&format!("{before}{line}"));
        }
    }
}

/// An equation in lines that fit, broken before the sign of a term.
fn lines(equation: &Equation, width: usize) -> Vec<String> {
    let mut pieces = equation.left.terms();
    let mut right = equation.right.terms();
    if let Some(first) = right.first_mut() {
        *first = format!(" = {first}");
    }
    pieces.append(&mut right);
    let mut lines: Vec<String> = vec![String::new()];
    for piece in pieces {
        let room = if lines.len() == 1 { width } else { width.saturating_sub(2) };
        let last = lines.len() - 1;
        let used = lines[last].chars().count();
        if used > 0 && used + piece.chars().count() > room {
            lines.push(piece.trim_start().to_owned());
        } else {
            lines[last].push_str(&piece);
        }
    }
    lines.into_iter().flat_map(|line| broken(line, width.saturating_sub(2))).collect()
}

/// A line that is still too long, broken before signs inside brackets.
fn broken(mut line: String, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    while line.chars().count() > width {
        let end = line.char_indices().nth(width).map_or(line.len(), |(at, _)| at);
        let signs = [" + ", " - ", " = "].into_iter().filter_map(|sign| line[..end].rfind(sign));
        let factors = || ['·', '/'].into_iter().filter_map(|sign| line[..end].rfind(sign)).max();
        // At nothing else a line can be broken.
        let Some(at) = signs.max().or_else(factors).filter(|at| *at > 0) else { break };
        let rest = line.split_off(at);
        lines.push(std::mem::replace(&mut line, rest.trim_start().to_owned()));
    }
    lines.push(line);
    lines
}

/// A matrix, in blocks of columns where it is wider than the page.
fn matrix(
    page: &mut Page,
    columns: &[String],
    rows: &[(String, Vec<String>, String)],
    width: usize,
) {
    let size = |text: &str| text.chars().count();
    let sizes: Vec<usize> = columns
        .iter()
        .enumerate()
        .map(|(at, name)| {
            let entries = rows.iter().map(|(_, entries, _)| size(&entries[at]));
            entries.max().unwrap_or(0).max(size(name)) + 2
        })
        .collect();
    let names = rows.iter().map(|(name, ..)| size(name)).max().unwrap_or(0);
    let rights = rows.iter().map(|(.., right)| size(right)).max().unwrap_or(0).max(size("right"));
    let room = width.saturating_sub(names + rights + 8);
    let mut from = 0;
    while from < columns.len() {
        let mut to = from;
        let mut used = 0;
        while to < columns.len() && (to == from || used + sizes[to] <= room) {
            used += sizes[to];
            to += 1;
        }
        if from > 0 {
            page.line("");
        }
        if to < columns.len() || from > 0 {
            page.line(&format!("  columns {} to {} of {}", from + 1, to, columns.len()));
        }
        let is_last = to == columns.len();
        let cells = |cells: &[String]| -> String {
            let listed = cells[from..to].iter().zip(&sizes[from..to]);
            listed
                .map(|(cell, size)| format!("{}{cell}", " ".repeat(size - cell.chars().count())))
                .collect()
        };
        let right = |text: &str| match is_last {
            true => format!("  |  {text:>rights$}"),
            false => String::new(),
        };
        page.line(&format!("  {:names$}{}{}", "", cells(columns), right("right")));
        for (name, entries, value) in rows {
            page.line(&format!("  {name:<names$}{}{}", cells(entries), right(value)));
        }
        from = to;
    }
}

/// About a column of a plot, as a share of its width.
const COLUMN: f64 = 0.016;

fn picture(page: &mut Page, plot: &Drawing, width: usize) {
    let right = plot.right.max(f64::MIN_POSITIVE);
    let mut lines: Vec<Line> = Vec::new();
    let mut legend = Vec::new();
    for (at, (name, points)) in plot.lines.iter().enumerate() {
        let mut points = points.iter().map(|(x, y)| (x / right, Some(*y))).collect::<Vec<_>>();
        // What goes straight up gets a column of its own.
        if let [.., before, last] = points[..]
            && last.0 - before.0 < COLUMN
        {
            points.push((before.0 + COLUMN, last.1));
        }
        let end = points.last().map_or(1.0, |(x, _)| *x);
        // Before its beginning and past its end a line is not drawn.
        let start = points.first().map_or(0.0, |(x, _)| *x);
        let before = (start > 0.0).then_some((start - 1e-6, None));
        let after = (end < 1.0).then_some((end + 1e-6, None));
        let points = before.into_iter().chain(points).chain(after).collect();
        lines.push(Line { sign: SIGNS[at % SIGNS.len()], points });
        legend.push(format!("{} {name}", SIGNS[at % SIGNS.len()]));
    }
    let (name, (x, y)) = &plot.mark;
    let (at, near) = (x / right, 0.008);
    let mark = vec![
        (at - near, None),
        (at - near + 1e-6, Some(*y)),
        (at + near, Some(*y)),
        (at + near + 1e-6, None),
    ];
    lines.push(Line { sign: '@', points: mark });
    legend.push(format!("@ {name}"));
    page.sentence("  ", &format!("{} over {}: {}", plot.up, plot.across, legend.join(", ")));
    let rows = drawn(&lines, &[], &|amps| print(amps, Unit::Amp, 3), width);
    let margin = rows.first().and_then(|row| row.find('|')).unwrap_or(0);
    rows.iter().for_each(|row| page.line(row));
    let end = print(right, Unit::Volt, 3);
    let columns = rows.last().map_or(0, |row| row.chars().count()).saturating_sub(margin + 4);
    let gap = columns.saturating_sub(end.chars().count());
    page.line(&format!("{}0 V{}{end}", " ".repeat(margin + 1), " ".repeat(gap)));
}
