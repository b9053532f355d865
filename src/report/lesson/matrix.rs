//! The equations as a matrix: in full, or its entries that are not zero.

use super::document::Block;
use super::expr::{BLANK, number};
use super::sections::{View, table};
use crate::quantity::Unit;
use crate::study::lesson::{Form, Lesson, Row, Unknown};

/// Units in which the numbers of a board are of a handy size: amps times this.
#[derive(Debug, Clone, Copy)]
struct Scale {
    amps: f64,
    words: &'static str,
}

const SCALES: [Scale; 3] = [
    Scale { amps: 1.0, words: "volts, amps, ohms and siemens" },
    Scale { amps: 1e3, words: "volts, milliamps, kilohms and millisiemens" },
    Scale { amps: 1e6, words: "volts, microamps, megohms and microsiemens" },
];

/// The scale in which the larger part of the currents is above one half.
fn scale(lesson: &Lesson) -> Scale {
    let mut sizes: Vec<f64> = lesson
        .solution
        .amps
        .iter()
        .zip(&lesson.branches)
        .filter(|(amps, branch)| **amps != 0.0 && !branch.form.is_open())
        .map(|(amps, _)| amps.abs())
        .collect();
    sizes.sort_by(f64::total_cmp);
    let middle = sizes.get(sizes.len() / 2).copied().unwrap_or(1.0);
    SCALES.into_iter().find(|scale| middle * scale.amps >= 0.5).unwrap_or(SCALES[2])
}

/// The matrix of the system and its right-hand side.
pub(super) fn section(view: &View<'_>, blocks: &mut Vec<Block>, full: usize) {
    let system = &view.lesson.system;
    if system.unknowns.is_empty() {
        return;
    }
    let heading = if view.blank { "Put them into a matrix" } else { "As a matrix" };
    blocks.push(Block::Heading(heading.to_owned()));
    let scale = scale(view.lesson);
    let entry = |row: usize, column: usize| {
        let value = system.matrix[row][column];
        // A relation of volts is in volts; a balance and the law of a current are in amps.
        let of_volts = match system.rows[row] {
            Row::Balance(_) => false,
            Row::Law(branch) => {
                matches!(view.lesson.branches[branch].form, Form::Relation { .. })
            }
        };
        let of_row = if of_volts { 1.0 } else { scale.amps };
        let of_column = match system.unknowns[column] {
            Unknown::Amps(_) => 1.0 / scale.amps,
            Unknown::Volts(_) => 1.0,
        };
        (value * of_row * of_column, of_row)
    };
    let digits = view.lesson.value_digits;
    let text = |value: f64| match value == 0.0 {
        true => "0".to_owned(),
        false if view.blank => BLANK.to_owned(),
        false => number(value, Unit::One, digits),
    };
    let right = |row: usize| {
        let value = system.right[row] * entry(row, 0).1;
        // What is left over of a difference is nothing.
        let largest = system.right.iter().fold(0.0_f64, |most, one| most.max(one.abs()));
        text(if system.right[row].abs() <= 1e-14 * largest { 0.0 } else { value })
    };
    let name = |row: Row| match row {
        Row::Balance(net) => view.net(net).to_owned(),
        Row::Law(branch) => view.label(branch).to_owned(),
    };
    let n_nets = system.unknowns.iter().filter(|one| matches!(one, Unknown::Volts(_))).count();
    blocks.push(Block::Sentence(format!(
        "One row per equation, one column per unknown, what is known on the right; in {}.",
        scale.words
    )));
    let n = system.unknowns.len();
    if n_nets <= full && n <= 2 * full {
        let columns = system.unknowns.iter().map(|one| view.unknown(*one)).collect();
        let rows = (0..n)
            .map(|row| {
                let entries = (0..n).map(|column| text(entry(row, column).0)).collect();
                (name(system.rows[row]), entries, right(row))
            })
            .collect();
        blocks.push(Block::Matrix { columns, rows });
        return;
    }
    blocks.push(Block::Sentence(format!(
        "Of its {n} by {n} entries only those that are not zero are listed:"
    )));
    let rows = (0..n).map(|row| {
        let entries: Vec<String> = (0..n)
            .filter(|column| system.matrix[row][*column] != 0.0)
            .map(|column| {
                format!("{}: {}", view.unknown(system.unknowns[column]), text(entry(row, column).0))
            })
            .collect();
        vec![name(system.rows[row]), entries.join(", "), right(row)]
    });
    blocks.push(table(&["row", "entries", "right"], rows.collect(), &[2]));
}
