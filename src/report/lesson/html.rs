//! A lesson as a page of HTML with MathML (MathML Core, W3C).

use std::ops::Range;

use maud::{Markup, html};

use super::document::{Block, Drawing};
use super::equations::Equation;
use super::expr::{BLANK, Expr, number};
use crate::picture::{Plot, PlotLine, PlotMark, plot_svg};
use crate::report::{page, picture};

/// The blocks as a page.
pub(super) fn html(title: &str, blocks: &[Block]) -> String {
    let body = html! {
        @for (at, block) in blocks.iter().enumerate() {
            @match block {
                // A page has one title; the answers stand below it.
                Block::Title(text) if at > 0 => h2 { (text) },
                _ => (of(block)),
            }
        }
    };
    page(title, &body)
}

fn of(block: &Block) -> Markup {
    match block {
        Block::Title(text) => html! { h1 { (text) } },
        Block::Heading(text) => html! { h2 { (text) } },
        Block::Small(text) => html! { h3 { (text) } },
        Block::Sentence(text) => html! { p { (text) } },
        Block::Table { header, rows, right } => {
            let class = |at: usize| if right.contains(&at) { "number" } else { "" };
            html! {
                div.scroll tabindex="0" {
                    table {
                        thead { tr { @for (at, cell) in header.iter().enumerate() {
                            th scope="col" class=[Some(class(at)).filter(|one| !one.is_empty())] { (cell) }
                        } } }
                        tbody { @for row in rows { tr { @for (at, cell) in row.iter().enumerate() {
                            td class=[Some(class(at)).filter(|one| !one.is_empty())] { (cell) }
                        } } } }
                    }
                }
            }
        }
        Block::Equations(list) => html! {
            div.scroll.keep tabindex="0" {
                math displaystyle="true" {
                    mtable displaystyle="true" {
                        @for (name, equation) in list { (row(name, equation)) }
                    }
                }
            }
        },
        Block::Matrix { columns, rows } => html! {
            @for piece in &split(columns, rows) {
                @if columns.len() > piece.len() {
                    p { (format!("Columns {} to {} of {}", piece.start + 1, piece.end, columns.len())) }
                }
                div.scroll.keep tabindex="0" {
                    math displaystyle="true" { (matrix(columns, rows, piece)) }
                }
            }
        },
        Block::Circuit(drawings) => html! {
            figure { @for drawing in drawings { div.scroll tabindex="0" { (picture(drawing)) } } }
        },
        Block::Plot(plot) => match plot_svg(&drawing(plot)) {
            Ok(svg) => {
                html! { figure { div.plot { (picture(&svg)) } figcaption.quiet { (plot.description) } } }
            }
            // What cannot be drawn is still told in words.
            Err(_) => html! { p { (plot.description) } },
        },
    }
}

/// The width of a page for a side of an equation, in letters as text would have it.
const ROOM: usize = 58;

/// An equation as rows of a table: a long sum goes on below, each row beginning with a sign.
fn row(name: &str, equation: &Equation) -> Markup {
    let mut left = pieces(&equation.left);
    let mut right = pieces(&equation.right);
    // A short one stands in one row, with its sides to the left and the right of the sign.
    let last = left.pop().unwrap_or_default();
    let first = right.drain(..right.len().min(1)).next().unwrap_or_default();
    html! {
        @for (at, piece) in left.iter().enumerate() {
            mtr {
                (label(if at == 0 { name } else { "" }))
                mtd style="text-align:left" { (terms(piece, at == 0)) }
                mtd {}
                mtd {}
            }
        }
        mtr {
            (label(if left.is_empty() { name } else { "" }))
            mtd style=(if left.is_empty() { "text-align:right" } else { "text-align:left" }) {
                (terms(&last, left.is_empty()))
            }
            mtd { mo { "=" } }
            mtd style="text-align:left" { (terms(&first, true)) }
        }
        @for piece in &right {
            mtr {
                (label(""))
                mtd {}
                mtd {}
                mtd style="text-align:left" { (terms(piece, false)) }
            }
        }
    }
}

fn label(name: &str) -> Markup {
    // A hyphen in a name is no place to break it.
    let name = name.replace('-', "\u{2011}");
    html! {
        mtd style="text-align:left;white-space:nowrap" {
            @if !name.is_empty() { mtext { (name) ":" } }
        }
    }
}

/// A side cut into rows that have room.
fn pieces(side: &Expr) -> Vec<Vec<(bool, Expr)>> {
    let all = match side {
        Expr::Sum(terms) => terms.clone(),
        other => vec![(false, other.clone())],
    };
    let mut rows: Vec<Vec<(bool, Expr)>> = Vec::new();
    let mut used = 0;
    for term in all {
        let size = size_of(&term.1) + 3;
        match rows.last_mut() {
            Some(row) if used + size <= ROOM => {
                row.push(term);
                used += size;
            }
            _ => {
                rows.push(vec![term]);
                used = size;
            }
        }
    }
    rows
}

/// About the letters that a term is wide: a fraction is as wide as its wider half.
fn size_of(one: &Expr) -> usize {
    match one {
        Expr::Over(above, below) => size_of(above).max(size_of(below)),
        Expr::Times(one, other) => size_of(one) + size_of(other) + 1,
        Expr::Sum(terms) => terms.iter().map(|(_, term)| size_of(term) + 3).sum(),
        other => other.text().chars().count(),
    }
}

/// Terms with their signs; those that go on with a sum begin with one.
fn terms(terms: &[(bool, Expr)], is_first: bool) -> Markup {
    // One that stands alone is no factor of anything.
    if let ([(false, only)], true) = (terms, is_first) {
        return expr(only);
    }
    html! {
        mrow {
            @for (at, (minus, term)) in terms.iter().enumerate() {
                @if *minus { mo { "−" } } @else if at > 0 || !is_first { mo { "+" } }
                (factor(term))
            }
        }
    }
}

/// A matrix wider than a page, in letters, is written in blocks of columns.
const WIDE: usize = 80;

/// The columns of a matrix, in blocks that have room.
fn split(columns: &[String], rows: &[(String, Vec<String>, String)]) -> Vec<Range<usize>> {
    let mut blocks: Vec<Range<usize>> = Vec::new();
    let mut used = 0;
    for at in 0..columns.len() {
        let entries = rows.iter().map(|(_, entries, _)| entries[at].chars().count());
        let size = entries.max().unwrap_or(0) + 2;
        match blocks.last_mut() {
            Some(block) if used + size <= WIDE => {
                block.end = at + 1;
                used += size;
            }
            _ => {
                blocks.push(at..at + 1);
                used = size;
            }
        }
    }
    blocks
}

/// The matrix, times the unknowns, is what is known; where it is written in blocks, a sum of them
/// is.
fn matrix(
    columns: &[String],
    rows: &[(String, Vec<String>, String)],
    piece: &Range<usize>,
) -> Markup {
    let is_last = piece.end == columns.len();
    let cell = |text: &str| html! { mtd { (entry(text)) } };
    html! {
        mrow {
            @if piece.start > 0 { mo { "+" } }
            mrow { mo { "[" } mtable {
                @for (_, entries, _) in rows { mtr { @for one in &entries[piece.clone()] { (cell(one)) } } }
            } mo { "]" } }
            mrow { mo { "[" } mtable {
                @for name in &columns[piece.clone()] { mtr { mtd { (variable(name)) } } }
            } mo { "]" } }
            @if is_last {
                mo { "=" }
                mrow { mo { "[" } mtable {
                    @for (.., right) in rows { mtr { (cell(right)) } }
                } mo { "]" } }
            }
        }
    }
}

/// V(X) or I(P) as a letter with an index.
fn variable(name: &str) -> Markup {
    let inner = name.get(2..name.len().saturating_sub(1)).unwrap_or(name);
    indexed(name.get(..1).unwrap_or(""), inner)
}

fn indexed(letter: &str, index: &str) -> Markup {
    html! { msub { mi { (letter) } mtext { (index.replace('-', "\u{2011}")) } } }
}

fn entry(text: &str) -> Markup {
    if text == BLANK {
        return html! { mtext { (BLANK) } };
    }
    match text.strip_prefix('-') {
        Some(rest) => html! { mrow { mo { "−" } (size(rest)) } },
        None => size(text),
    }
}

/// A number without sign, with its unit or its power of ten.
fn size(text: &str) -> Markup {
    let (value, unit) = text.split_once(' ').unwrap_or((text, ""));
    let value = match value.split_once('e') {
        Some((digits, power)) => html! {
            mrow { mn { (digits) } mo { "·" } msup { mn { "10" } mn { (power.replace('-', "−")) } } }
        },
        None => html! { mn { (value) } },
    };
    match unit.is_empty() {
        true => value,
        false => html! { mrow { (value) mspace width="0.17em" {} mtext { (unit) } } },
    }
}

/// A side of an equation.
fn expr(one: &Expr) -> Markup {
    match one {
        Expr::Volts(net) => indexed("V", net),
        Expr::Amps(branch) => indexed("I", branch),
        Expr::Symbol(letter, of) => indexed(letter, of),
        // What was printed already is a number; else it is the name of a part.
        Expr::Name(text) => {
            match text.starts_with(|first: char| first.is_ascii_digit() || first == '-') {
                true => entry(text),
                false => html! { mi mathvariant="normal" { (text) } },
            }
        }
        Expr::Value(value, unit, digits) => entry(&number(*value, *unit, *digits)),
        Expr::Blank => html! { mtext { (BLANK) } },
        Expr::Sum(several) => terms(several, true),
        Expr::Over(above, below) => html! { mfrac { (expr(above)) (expr(below)) } },
        Expr::Times(one, other) => html! { mrow { (factor(one)) mo { "·" } (factor(other)) } },
    }
}

/// A sum stands in brackets where it is a factor.
fn factor(one: &Expr) -> Markup {
    match one {
        Expr::Sum(_) => html! { mrow { mo { "(" } (expr(one)) mo { ")" } } },
        _ => expr(one),
    }
}

fn drawing(plot: &Drawing) -> Plot {
    let lines = plot.lines.iter().enumerate().map(|(group, (name, points))| PlotLine {
        name: name.clone(),
        points: points.iter().map(|(x, y)| (*x, Some(*y))).collect(),
        group,
        is_dashed: group > 0,
    });
    Plot {
        title: plot.title.clone(),
        description: plot.description.clone(),
        across: plot.across.clone(),
        up: plot.up.clone(),
        is_log: false,
        range: (0.0, plot.right),
        lines: lines.collect(),
        levels: Vec::new(),
        marks: vec![PlotMark { name: plot.mark.0.clone(), at: plot.mark.1 }],
    }
}
