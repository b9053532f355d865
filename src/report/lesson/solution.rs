//! The answer, what meters make of it, and how it compares with that of the solver.

use super::document::Block;
use super::expr::number;
use super::sections::{View, heading, table};
use crate::quantity::{Unit, print_short};
use crate::study::lesson::Unknown;

/// The unknowns, then every branch.
pub(super) fn section(view: &View<'_>, blocks: &mut Vec<Block>) {
    let lesson = view.lesson;
    heading(blocks, view, "Solution", "Solve");
    let rows: Vec<Vec<String>> = lesson
        .system
        .unknowns
        .iter()
        .map(|unknown| {
            let value = match *unknown {
                Unknown::Volts(net) => view.volts(lesson.solution.volts[net]),
                Unknown::Amps(branch) => view.amps(lesson.solution.amps[branch]),
            };
            vec![view.unknown(*unknown), value]
        })
        .collect();
    if !rows.is_empty() {
        blocks.push(table(&["unknown", "value"], rows, &[1]));
    }
    blocks.push(Block::Sentence(
        "From these the volts across and the amps through every branch; those of an ideal source \
         follow from the balance of its net:"
            .to_owned(),
    ));
    let flowing = lesson.branches.iter().enumerate().filter(|(_, branch)| !branch.form.is_open());
    let rows = flowing.map(|(at, branch)| {
        vec![
            branch.label.clone(),
            view.volts(lesson.solution.across([branch.from, branch.to])),
            view.amps(lesson.solution.amps[at]),
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    blocks.push(table(&["branch", "volts across", "amps through"], rows, &[1, 2]));
    if view.blank {
        return;
    }
    blocks.push(Block::Sentence(agreement(view)));
    for loading in &lesson.loadings {
        let lost = 100.0 * (loading.with - loading.without) / loading.without;
        let more = match lost.is_finite() {
            true if lost.abs() < 0.005 => ", 0 %".to_owned(),
            true => format!(", {lost:+.2} %"),
            false => String::new(),
        };
        blocks.push(Block::Sentence(format!(
            "The meter of {} at {} loads its net: {} without it, {} with it{more}.",
            print_short(loading.meter.ohms, Unit::Ohm),
            view.net(loading.meter.net.index()),
            view.volts(loading.without),
            view.volts(loading.with)
        )));
    }
}

/// How the answer compares with that of the solver.
fn agreement(view: &View<'_>) -> String {
    let lesson = view.lesson;
    if lesson.agrees {
        let apart = match lesson.departure < 1e-12 {
            true => "to the last digit of the arithmetic".to_owned(),
            false => format!("within {}", number(lesson.departure, Unit::Volt, 1)),
        };
        return format!(
            "The solver of this program, which goes another way, finds the same volts {apart}."
        );
    }
    let worst = (0..lesson.nets.len())
        .max_by(|a, b| {
            let off = |net: usize| (lesson.solution.volts[net] - lesson.engine_volts[net]).abs();
            off(*a).total_cmp(&off(*b))
        })
        .unwrap_or(0);
    format!(
        "This board has a part whose law these equations do not hold exactly: the solver of this \
         program puts {} at {}, and that counts.",
        view.net(worst),
        view.volts(lesson.engine_volts[worst])
    )
}
