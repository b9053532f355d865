//! The fault table for spreadsheets and scripts.

use serde_json::{Value, json};

use super::FaultTableView;
use crate::diagnosis::MARKED;
use crate::report::json::{VERSION, number};
use crate::report::words::{csv_field, unit_of};
use crate::study::{Arrow, Cell, Row};

/// The table for spreadsheets: a value in its SI unit and the arrow as a word, per column; every fault
/// has its row.
pub fn fault_table_csv(view: &FaultTableView<'_>) -> String {
    let table = view.table;
    let mut header = vec!["number".to_owned(), "fault".to_owned()];
    if !view.blank {
        header.push("same as".to_owned());
    }
    for probe in &table.columns {
        let unit = unit_of(probe.quantity, view.circuit, None).name();
        let place = probe.place.words(view.circuit);
        header.push(csv_field(&format!("{place} in {unit}")));
        header.push(csv_field(&format!(
            "{place} {}",
            if unit == "ohms" { "ohms arrow" } else { "arrow" }
        )));
    }
    let mut text = header.join(",") + "\n";
    let value = |value: f64| match value {
        value if value.is_nan() => String::new(),
        value if value.is_infinite() => "OL".to_owned(),
        // Seven digits are more than a board holds.
        value => format!("{}", rounded(value)),
    };
    let mut first = vec!["0".to_owned(), "healthy".to_owned()];
    if !view.blank {
        first.push(String::new());
    }
    for cell in &table.healthy {
        let own = if view.blank { String::new() } else { value(cell.value) };
        first.extend([own, String::new()]);
    }
    text += &(first.join(",") + "\n");
    for (at, row) in table.rows.iter().enumerate() {
        let mut fields = vec![(at + 1).to_string(), csv_field(&view.fault(row))];
        if !view.blank {
            fields.push(same_as(row).map_or_else(String::new, |number| number.to_string()));
        }
        for cell in &row.cells {
            let switching = cell.arrow == Arrow::Switching;
            let shown = match switching {
                true => format!("{}..{}", value(cell.low), value(cell.high)),
                false => value(cell.low),
            };
            fields.extend(match view.blank {
                true => [String::new(), String::new()],
                false => [shown, cell.arrow.word().to_owned()],
            });
        }
        text += &(fields.join(",") + "\n");
    }
    text
}

/// Seven digits.
fn rounded(value: f64) -> f64 {
    // Below the last digit of any meter.
    if value.abs() < 1e-7 {
        return 0.0;
    }
    let scale = 10.0_f64.powi(6 - value.abs().log10().floor() as i32);
    let rounded = (value * scale).round() / scale;
    if rounded.is_finite() { rounded + 0.0 } else { value }
}

/// The number of the row that a row looks like: nought is the healthy one.
fn same_as(row: &Row) -> Option<usize> {
    if row.looks_healthy() { Some(0) } else { row.same_as.map(|at| at + 1) }
}

/// The table as JSON; in a blank one the cells and what would give them away are left out.
pub fn fault_table_json(view: &FaultTableView<'_>) -> Value {
    let (circuit, table) = (view.circuit, view.table);
    let columns: Vec<Value> = table
        .columns
        .iter()
        .map(|probe| {
            json!({
                "setup": circuit[probe.setup].name,
                "quantity": probe.quantity.word(),
                "place": probe.place.words(circuit),
            })
        })
        .collect();
    let rows: Vec<Value> = table
        .rows
        .iter()
        .enumerate()
        .map(|(at, row)| {
            let mut value = json!({ "number": at + 1, "fault": view.fault(row) });
            if !view.blank {
                let cells: Vec<Value> = row.cells.iter().map(cell_json).collect();
                value["cells"] = json!(cells);
                value["same_as"] = json!(same_as(row));
            }
            value
        })
        .collect();
    let mut value = json!({
        "version": VERSION,
        "circuit": circuit.title,
        "setup": circuit[table.setup].name,
        "blank": view.blank,
        "columns": columns,
        "rows": rows,
    });
    if !view.blank {
        let healthy: Vec<Value> = table
            .healthy
            .iter()
            .map(|cell| json!({ "value": number(cell.value), "u": number(cell.u), "floating": cell.floats }))
            .collect();
        value["healthy"] = json!(healthy);
        value["differs_beyond"] = json!(MARKED);
    }
    value
}

fn cell_json(cell: &Cell) -> Value {
    match cell.arrow {
        Arrow::Switching => {
            json!({ "low": number(cell.low), "high": number(cell.high), "arrow": cell.arrow.word() })
        }
        arrow => json!({ "value": number(cell.low), "arrow": arrow.word() }),
    }
}
