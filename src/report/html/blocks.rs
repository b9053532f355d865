//! Blocks as HTML.

use maud::{Markup, html};

use super::picture;
use crate::report::document::{Block, Cell, Section, Table, Tone};
use crate::report::text::glued;

/// A section with its heading of the third level.
pub(in crate::report) fn section(section: &Section) -> Markup {
    html! {
        section id=(section.id) {
            h3 { (section.title) }
            @for block in &section.blocks { (put(block)) }
        }
    }
}

/// One block.
pub(in crate::report) fn put(block: &Block) -> Markup {
    html! {
        @match block {
            Block::Heading(title) => h4 { (title) },
            Block::Text(tone, text) => p class=[class(*tone)] { (glued(text)) },
            Block::Key(text) => p.quiet { (glued(text)) },
            Block::About(nets, text) => p.quiet {
                @for name in nets { span id=(anchor(name)) {} }
                (glued(text))
            },
            Block::Note(tone, text) => {
                p.note.off[*tone == Tone::Off].good[*tone == Tone::Good] { (glued(text)) }
            },
            Block::List(items) => ul { @for item in items { li { (glued(item)) } } },
            Block::Steps(steps) => ol {
                @for (step, outcomes) in steps {
                    li {
                        (glued(step))
                        @if !outcomes.is_empty() {
                            ul { @for one in outcomes { li { (glued(one)) } } }
                        }
                    }
                }
            },
            Block::Facts(facts) => dl {
                @for (name, text) in facts { div { dt { (name) } dd { (glued(text)) } } }
            },
            Block::Table(own) => (table(own)),
            // What is wider than the screen is reached by keys too.
            Block::Picture(pieces, caption) => figure.drawing {
                div.wide tabindex="0" role="group" aria-label="Drawing" {
                    @for svg in pieces { (picture(svg)) }
                }
                figcaption { (caption) }
            },
            Block::Nets(names) => p.nets {
                @for (number, name) in names.iter().enumerate() {
                    @if number > 0 { ", " }
                    span id=(anchor(name)) { (name) }
                }
            },
            Block::SignOff => dl.sign-off {
                div { dt { "Checked by" } dd {} }
                div { dt { "Date" } dd {} }
            },
        }
    }
}

/// What looks say of a tone.
fn class(tone: Tone) -> Option<&'static str> {
    match tone {
        Tone::Plain => None,
        Tone::Quiet => Some("quiet"),
        Tone::Off => Some("off"),
        Tone::Good => Some("good"),
    }
}

/// The name of the place that links to a net lead to.
pub(in crate::report) fn anchor(net: &str) -> String {
    format!("net-{net}")
}

/// A table that becomes a stack of cards where it has no room. The roles keep it a table for those
/// who hear it, whatever it looks like.
fn table(table: &Table) -> Markup {
    html! {
        table.cards role="table" {
            @if !table.caption.is_empty() { caption { (table.caption) } }
            thead role="rowgroup" {
                tr role="row" {
                    @for (column, name) in table.header.iter().enumerate() {
                        @if name.is_empty() {
                            td role="cell" {}
                        } @else {
                            th scope="col" role="columnheader" class=[number(table, column)] {
                                (name)
                            }
                        }
                    }
                }
            }
            tbody role="rowgroup" {
                @for row in &table.rows {
                    tr role="row" {
                        @for (column, own) in row.iter().enumerate() {
                            @let name = table.header.get(column).copied().unwrap_or_default();
                            @if column == 0 {
                                th scope="row" role="rowheader" data-label=(name)
                                    class=[number(table, column)] { (cell(own)) }
                            } @else {
                                td role="cell" data-label=(name)
                                    class=[number(table, column)] { (cell(own)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn number(table: &Table, column: usize) -> Option<&'static str> {
    table.right.contains(&column).then_some("number")
}

fn cell(cell: &Cell) -> Markup {
    let is_empty = cell.lines.iter().all(|(_, text)| text.is_empty()) && cell.picture.is_none();
    html! {
        @if !is_empty {
            div {
                @for name in &cell.nets { span id=(anchor(name)) {} }
                @if let Some(share) = cell.bar {
                    span.bar aria-hidden="true" {
                        span style={ "width:" (format!("{:.1}", 100.0 * share.clamp(0.0, 1.0))) "%" } {}
                    }
                }
                @for (number, (tone, text)) in cell.lines.iter().enumerate() {
                    @if number == 0 { span class=[class(*tone)] { (glued(text)) } }
                    @else { div class=[class(*tone)] { (glued(text)) } }
                }
                @if let Some(svg) = &cell.picture { (picture(svg)) }
            }
        }
    }
}
