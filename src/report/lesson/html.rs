//! A lesson as a page of HTML with MathML (MathML Core, W3C).

use maud::{Markup, html};

use super::document::{Block, Drawing};
use super::equations::Equation;
use super::expr::{BLANK, Expr, number};
use crate::picture::{Plot, PlotLine, PlotMark, plot_svg};
use crate::report::{page, picture};

/// The blocks as a page.
pub(super) fn html(title: &str, blocks: &[Block]) -> String {
    let body = html! {
        @for block in blocks { (of(block)) }
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
            div.scroll.keep tabindex="0" {
                math displaystyle="true" { (matrix(columns, rows)) }
            }
        },
        Block::Circuit(drawings) => html! {
            figure { @for drawing in drawings { div.scroll tabindex="0" { (picture(drawing)) } } }
        },
        Block::Plot(plot) => match plot_svg(&drawing(plot)) {
            Ok(svg) => html! { figure { (picture(&svg)) figcaption.quiet { (plot.description) } } },
            // What cannot be drawn is still told in words.
            Err(_) => html! { p { (plot.description) } },
        },
    }
}

fn row(name: &str, equation: &Equation) -> Markup {
    html! {
        mtr {
            mtd style="text-align:left" { @if !name.is_empty() { mtext { (name) ":" } } }
            mtd style="text-align:right" { (expr(&equation.left)) }
            mtd { mo { "=" } }
            mtd style="text-align:left" { (expr(&equation.right)) }
        }
    }
}

/// The matrix, times the unknowns, is what is known.
fn matrix(columns: &[String], rows: &[(String, Vec<String>, String)]) -> Markup {
    let cell = |text: &str| html! { mtd { (entry(text)) } };
    html! {
        mrow {
            mrow { mo { "[" } mtable {
                @for (_, entries, _) in rows { mtr { @for one in entries { (cell(one)) } } }
            } mo { "]" } }
            mrow { mo { "[" } mtable {
                @for name in columns { mtr { mtd { (variable(name)) } } }
            } mo { "]" } }
            mo { "=" }
            mrow { mo { "[" } mtable {
                @for (.., right) in rows { mtr { (cell(right)) } }
            } mo { "]" } }
        }
    }
}

/// V(X) or I(P) as a letter with an index.
fn variable(name: &str) -> Markup {
    let inner = name.get(2..name.len().saturating_sub(1)).unwrap_or(name);
    indexed(name.get(..1).unwrap_or(""), inner)
}

fn indexed(letter: &str, index: &str) -> Markup {
    html! { msub { mi { (letter) } mtext { (index) } } }
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
        Expr::Sum(terms) => html! {
            mrow {
                @for (at, (minus, term)) in terms.iter().enumerate() {
                    @if *minus { mo { "−" } } @else if at > 0 { mo { "+" } }
                    (factor(term))
                }
            }
        },
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
