//! The fault table as text, Markdown, CSV, JSON and a page; and the same with empty cells, for those
//! who are to fill it in.

mod data;

use std::fmt::Write;

use super::Style;
use super::html::page;
use super::markdown::escaped;
use super::text::Page;
use super::words::{shown, unit_of, with_band};
use crate::circuit::{Circuit, POWERED, Quantity};
use crate::diagnosis::Probe;
use crate::study::{Arrow, Cell, FaultTable, HealthyCell, Row};
use maud::{Markup, html};

pub use data::{fault_table_csv, fault_table_json};

/// Columns of text between two columns of a table.
const GAP: usize = 2;
/// A fault's name is not wider than this in text.
const WIDEST_NAME: usize = 30;
/// What stands in a cell that is to be filled in.
const EMPTY: &str = "........";

/// A fault table on its way to the reader.
#[derive(Debug, Clone, Copy)]
pub struct FaultTableView<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// The table.
    pub table: &'a FaultTable,
    /// Whether the cells are left empty, and with them all that would give them away.
    pub blank: bool,
}

/// The sign of an arrow.
fn sign(arrow: Arrow) -> &'static str {
    match arrow {
        Arrow::Same => "=",
        Arrow::Higher => "↑",
        Arrow::Lower => "↓",
        Arrow::Floating => "~",
        Arrow::Switching => "↕",
        Arrow::NoPoint => "-",
    }
}

/// What stands over the rows that are not shown by themselves.
const ALIKE: &str = "Cannot be told from (with tolerances and this meter)";

/// What the signs mean.
const SIGNS: &str = "↑ higher than on the healthy board, ↓ lower, = the same, ~ floating (the value \
                     is the meter's doing), ↕ the board keeps switching, no point - the board \
                     has no operating point";

/// What "the same" means, for those who read the answers.
const CRITERION: &str = "An arrow stands where the difference is more than three standard \
                         uncertainties of tolerances and meter together: where `diagnose` would mark \
                         the reading.";

impl FaultTableView<'_> {
    fn title(&self) -> String {
        let name = match self.circuit.title.as_str() {
            "" => "Fault table".to_owned(),
            title => format!("{title}: fault table"),
        };
        if self.blank { format!("{name} to fill in") } else { name }
    }

    /// What a column is called.
    fn column(&self, probe: &Probe) -> String {
        let place = probe.place.words(self.circuit);
        match probe.quantity {
            Quantity::Ohms => format!("{place} Ω"),
            _ => place,
        }
    }

    /// How the readings are taken.
    fn how(&self) -> String {
        let ground = self.circuit.net_name(crate::circuit::NetId::GROUND);
        let setup = match self.table.setup {
            POWERED => "with the power on".to_owned(),
            other => format!("in setup `{}`", self.circuit[other].name),
        };
        let ohms = self.table.columns.iter().any(|probe| probe.quantity == Quantity::Ohms);
        let cold = if ohms { "; columns with Ω are ohms with the power off" } else { "" };
        format!("Volts {setup}, black lead on {ground}, as a usual meter shows them{cold}.")
    }

    fn value(&self, column: usize, cell: &Cell) -> String {
        let unit = unit_of(self.table.columns[column].quantity, self.circuit, None);
        match cell.arrow {
            Arrow::NoPoint => "no point".to_owned(),
            Arrow::Switching if shown(cell.low, unit) != shown(cell.high, unit) => {
                format!("{} .. {}", shown(cell.low, unit), shown(cell.high, unit))
            }
            _ => shown(cell.low, unit),
        }
    }

    fn cell(&self, column: usize, cell: &Cell) -> String {
        format!("{} {}", self.value(column, cell), sign(cell.arrow))
    }

    fn healthy(&self, column: usize, cell: &HealthyCell) -> String {
        let unit = unit_of(self.table.columns[column].quantity, self.circuit, None);
        let text = shown(cell.value, unit);
        if cell.floats { format!("{text} ~") } else { text }
    }

    fn fault(&self, row: &Row) -> String {
        row.fault.full_phrase(self.circuit)
    }

    /// The rows that are shown: with answers those that look different from all before them and from
    /// the healthy board, each with its number.
    fn shown_rows(&self) -> Vec<(usize, &Row)> {
        let rows = self.table.rows.iter().enumerate();
        let is_shown = |row: &Row| self.blank || (row.same_as.is_none() && !row.looks_healthy());
        rows.filter(|(_, row)| is_shown(row)).map(|(at, row)| (at + 1, row)).collect()
    }

    /// Faults that look like an earlier one: its number and its name, and theirs.
    fn alike(&self) -> Vec<(usize, String, Vec<String>)> {
        if self.blank {
            return Vec::new();
        }
        let rows = &self.table.rows;
        let like = |number: usize| -> Vec<String> {
            let same = rows.iter().filter(|row| row.same_as == Some(number - 1));
            same.map(|row| self.fault(row)).collect()
        };
        let shown = self.shown_rows().into_iter();
        let each = shown.map(|(number, row)| (number, self.fault(row), like(number)));
        each.filter(|(.., like)| !like.is_empty()).collect()
    }

    /// Faults that none of the columns shows.
    fn unseen(&self) -> Vec<String> {
        let rows = self.table.rows.iter().filter(|row| !self.blank && row.looks_healthy());
        rows.map(|row| self.fault(row)).collect()
    }
}

/// Columns of values that fit a printed page.
const COLUMNS: usize = 5;

/// The table as text; columns that do not fit the width go on below.
pub fn fault_table_text(view: &FaultTableView<'_>, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    page.heading(&view.title());
    page.sentence("", &view.how());
    page.sentence("", SIGNS);
    if view.blank {
        page.sentence("", "Write the value and the sign into each cell.");
    }
    let rows = view.shown_rows();
    let table = view.table;
    let name = rows.iter().map(|(_, row)| view.fault(row).chars().count()).max().unwrap_or(0);
    // The number, the name, and what is left for cells.
    let before = 3 + GAP + name.clamp(7, WIDEST_NAME) + GAP;
    let cell = |column: usize, row: &Row| match view.blank {
        true => EMPTY.to_owned(),
        false => view.cell(column, &row.cells[column]),
    };
    let healthy = |column: usize| match view.blank {
        true => EMPTY.to_owned(),
        false => view.healthy(column, &table.healthy[column]),
    };
    let wide = |column: usize| {
        let cells = rows.iter().map(|(_, row)| cell(column, row).chars().count());
        let header = view.column(&table.columns[column]).chars().count();
        cells.chain([header, healthy(column).chars().count()]).max().unwrap_or(0) + GAP
    };
    for columns in folded(table.columns.len(), width.saturating_sub(before), &wide) {
        page.line("");
        let names: Vec<String> =
            columns.iter().map(|&column| view.column(&table.columns[column])).collect();
        let header: Vec<&str> =
            ["#", "fault"].into_iter().chain(names.iter().map(String::as_str)).collect();
        let first = [String::new(), "healthy".to_owned()];
        let mut lines: Vec<Vec<String>> =
            vec![first.into_iter().chain(columns.iter().map(|&at| healthy(at))).collect()];
        lines.extend(rows.iter().map(|(number, row)| {
            let start = [number.to_string(), view.fault(row)];
            start.into_iter().chain(columns.iter().map(|&at| cell(at, row))).collect()
        }));
        let right: Vec<usize> = if view.blank { Vec::new() } else { (2..header.len()).collect() };
        page.table(&header, &lines, &right);
    }
    if view.blank {
        return page.finish();
    }
    let alike = view.alike();
    if !alike.is_empty() {
        page.heading(ALIKE);
        for (number, fault, like) in alike {
            let indent = format!("  {number:>3}  ");
            page.hanging(&indent, "       ", &format!("{fault}: {}", like.join(", ")));
        }
    }
    let unseen = view.unseen();
    if !unseen.is_empty() {
        page.heading("Not seen in any of these columns");
        page.sentence("  ", &unseen.join(", "));
    }
    page.line("");
    page.sentence("", CRITERION);
    page.finish()
}

/// Columns in sheets that fit beside each other, at least one each.
fn folded(n: usize, room: usize, wide: &dyn Fn(usize) -> usize) -> Vec<Vec<usize>> {
    let mut sheets: Vec<Vec<usize>> = Vec::new();
    let mut used = usize::MAX;
    for column in 0..n {
        let own = wide(column);
        match sheets.last_mut() {
            Some(sheet) if used + own <= room => {
                sheet.push(column);
                used += own;
            }
            _ => {
                sheets.push(vec![column]);
                used = own;
            }
        }
    }
    sheets
}

/// The table as Markdown.
pub fn fault_table_markdown(view: &FaultTableView<'_>) -> String {
    let table = view.table;
    let mut text = format!("# {}\n\n{}\n\n{SIGNS}\n\n", escaped(&view.title()), view.how());
    let names: Vec<String> =
        table.columns.iter().map(|probe| escaped(&view.column(probe))).collect();
    let _ = writeln!(text, "| # | fault | {} |", names.join(" | "));
    let _ = writeln!(text, "| --: | --- |{}", " --: |".repeat(names.len()));
    let line = |text: &mut String, number: &str, fault: &str, cells: Vec<String>| {
        let _ = writeln!(text, "| {number} | {fault} | {} |", cells.join(" | "));
    };
    let healthy = table.healthy.iter().enumerate();
    let healthy = healthy.map(|(at, cell)| match view.blank {
        true => String::new(),
        false => escaped(&view.healthy(at, cell)),
    });
    line(&mut text, "", "**healthy**", healthy.collect());
    for (number, row) in view.shown_rows() {
        let cells = row.cells.iter().enumerate().map(|(at, cell)| match view.blank {
            true => String::new(),
            false => escaped(&view.cell(at, cell)),
        });
        line(&mut text, &number.to_string(), &escaped(&view.fault(row)), cells.collect());
    }
    let alike = view.alike();
    if !alike.is_empty() {
        let _ = write!(text, "\n## {ALIKE}\n\n");
        for (number, fault, like) in alike {
            let _ =
                writeln!(text, "- {number}, {}: {}", escaped(&fault), escaped(&like.join(", ")));
        }
    }
    let unseen = view.unseen();
    if !unseen.is_empty() {
        let _ = write!(
            text,
            "\n## Not seen in any of these columns\n\n{}\n",
            escaped(&unseen.join(", "))
        );
    }
    if !view.blank {
        let _ = write!(text, "\n{CRITERION}\n");
    }
    text
}

/// The table as a page that prints on A4.
pub fn fault_table_html(view: &FaultTableView<'_>) -> String {
    let table = view.table;
    let units: Vec<_> =
        table.columns.iter().map(|probe| unit_of(probe.quantity, view.circuit, None)).collect();
    let body = html! {
        h1 { (view.title()) }
        p { (view.how()) }
        p { (SIGNS) "." @if view.blank { " Write the value and the sign into each cell." } }
        // A printed page has room for so many columns: the others stand below, the faults beside them again.
        @for first in (0..table.columns.len()).step_by(COLUMNS) {
            @let own = first..(first + COLUMNS).min(table.columns.len());
            div.scroll {
                table.grid {
                    thead { tr {
                        th.number scope="col" { "#" }
                        th scope="col" { "fault" }
                        @for probe in &table.columns[own.clone()] {
                            th.number scope="col" { (view.column(probe)) }
                        }
                    } }
                    tbody {
                        tr {
                            td {} th scope="row" { "healthy" }
                            @for at in own.clone() {
                                @let cell = &table.healthy[at];
                                td.number {
                                    @if !view.blank { (with_band(cell.value, cell.u, units[at])) }
                                }
                            }
                        }
                        @for (number, row) in view.shown_rows() {
                            tr {
                                td.number { (number) }
                                td { (view.fault(row)) }
                                @for at in own.clone() { (cell_html(view, at, &row.cells[at])) }
                            }
                        }
                    }
                }
            }
        }
        @let alike = view.alike();
        @if !alike.is_empty() {
            h2 { (ALIKE) }
            ul { @for (number, fault, like) in &alike {
                li { b { (number) ", " (fault) } ": " (like.join(", ")) }
            } }
        }
        @let unseen = view.unseen();
        @if !unseen.is_empty() {
            h2 { "Not seen in any of these columns" }
            p { (unseen.join(", ")) }
        }
        @if !view.blank { p.quiet { (CRITERION) } }
    };
    page(&view.title(), &body)
}

fn cell_html(view: &FaultTableView<'_>, column: usize, cell: &Cell) -> Markup {
    if view.blank {
        return html! { td.number.empty {} };
    }
    let text = view.value(column, cell);
    html! {
        @match cell.arrow {
            Arrow::Same => td.number { (text) " " span title="the same" { (sign(cell.arrow)) } },
            arrow => td.number.off { (text) " " span title=(arrow.word()) { (sign(arrow)) } },
        }
    }
}
