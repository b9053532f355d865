//! How a quiz begins: the board as a parts list, what can be typed and what it costs.

use super::Style;
use super::quiz::{effort, symptom_text};
use super::text::Page;
use crate::circuit::{Circuit, Meter, Param, Part, Pin};
use crate::device::{Fill, Shape, of};
use crate::plan::Effort;
use crate::quantity::{Unit, print_short};
use crate::study::{Play, quiz_meter};

/// The board as its parts list says it: what a student has instead of a drawing.
pub fn parts_text(circuit: &Circuit, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    page.heading("Parts");
    let rows: Vec<Vec<String>> = parts_rows(circuit);
    page.table(&["part", "kind", "value", "nets"], &rows, &[]);
    page.line("");
    let nets: Vec<&str> = circuit.nets.iter().map(String::as_str).collect();
    page.sentence("", &format!("Nets: {}", nets.join(", ")));
    page.finish()
}

/// One row per part: name, kind, value, nets.
pub(super) fn parts_rows(circuit: &Circuit) -> Vec<Vec<String>> {
    let fitted = circuit.parts.iter();
    fitted
        .map(|part| {
            let pins: Vec<String> = if part.is_two_pin() {
                part.pins.iter().map(|pin| circuit.net_name(pin.net).to_owned()).collect()
            } else {
                let named = |pin: &Pin| format!("{}={}", pin.name, circuit.net_name(pin.net));
                part.pins.iter().map(named).collect()
            };
            let kind = if part.fitted {
                part.kind.to_owned()
            } else {
                format!("{}, not fitted", part.kind)
            };
            vec![part.name.clone(), kind, values(part), pins.join(", ")]
        })
        .collect()
}

/// Parameters that are told without their name: the value that stands beside a part on a schematic.
const BARE: [&str; 8] =
    ["value", "volts", "amps", "watts", "ohms", "resistance", "voltage", "drop"];

/// The values of a part that were given, as a parts list has them.
fn values(part: &Part) -> String {
    let mut told = Vec::new();
    for row in of(part).parameters() {
        let (value, at) = match part.param(row.name) {
            Some(Param::Number(number)) => (number.nominal, None),
            Some(Param::Point(point)) => (point.value.nominal, point.at),
            Some(Param::Flag(flag)) if row.name == "closed" => {
                told.push(if *flag { "closed" } else { "open" }.to_owned());
                continue;
            }
            _ => continue,
        };
        // What nobody typed is no part of a parts list.
        let is_default = match row.fill {
            Fill::Number(usual) => usual == value,
            Fill::Point(usual, _) => usual == value,
            _ => false,
        };
        if is_default {
            continue;
        }
        let mut text = print_short(value, row.unit);
        if let (Shape::Point(unit), Some(at)) = (row.shape, at) {
            text += &format!(" at {}", print_short(at, unit));
        }
        told.push(match BARE.contains(&row.name) {
            true => text,
            false => format!("{} {text}", row.name.replace('_', " ")),
        });
    }
    told.join(", ")
}

/// How a quiz begins: what to do, and what it costs.
pub fn quiz_opening(play: &Play<'_>, style: Style, width: usize) -> String {
    let quiz = play.quiz();
    let circuit = quiz.circuit();
    let mut text = format!("\n{}", symptom_text(circuit, quiz.symptom(), style, width));
    let mut page = Page::new(style, width);
    page.line("");
    let costs = Effort::default();
    page.sentence(
        "",
        &format!(
            "One thing on this board is wrong. Find out which, with as little effort as you can: a \
             probe on a net costs {}, breaking a path for amps {} more, switching the power off {}, on \
             again {}.",
            effort(costs.probe),
            effort(costs.break_path),
            effort(costs.power_off),
            effort(costs.power_on)
        ),
    );
    page.sentence("", &meter_words(&quiz.meter()));
    let example = Example::of(circuit);
    page.sentence(
        "",
        &format!(
            "Type a place to measure: `{}` for volts, `ohms {}`, and when you know it `guess {} open`. \
             `parts` lists the board, `help` the rest.",
            example.net, example.net, example.part
        ),
    );
    text += &page.finish();
    text
}

/// What the meter is: its load is in every value.
pub(super) fn meter_words(meter: &Meter) -> String {
    format!(
        "The meter has {} between its leads on volts and {} on amps, and shows what it makes of the \
         board. For ohms and diode mode every source is off and taken out.",
        print_short(meter.volts.input.ohms(), Unit::Ohm),
        print_short(meter.amps.resistance, Unit::Ohm)
    )
}

/// Names of this board to show how things are typed: always the same, whatever is hidden.
struct Example {
    net: String,
    other: String,
    part: String,
    through: String,
    ground: String,
}

impl Example {
    fn of(circuit: &Circuit) -> Example {
        let nets = &circuit.nets;
        let name =
            |at: usize| nets.get(at.min(nets.len().saturating_sub(1))).cloned().unwrap_or_default();
        let parts = || circuit.parts.iter().filter(|part| part.fitted && part.is_two_pin());
        let resistor = parts().find(|part| part.kind == "resistor");
        let first = parts().next();
        let named =
            |part: Option<&Part>| part.map_or_else(|| "R1".to_owned(), |part| part.name.clone());
        Example {
            net: name(2),
            other: name(1),
            part: named(resistor.or(first)),
            through: named(first),
            ground: name(0),
        }
    }
}

/// What can be typed, with names of this board.
pub fn quiz_help(circuit: &Circuit, width: usize) -> String {
    let Example { net, other, part, through, ground } = Example::of(circuit);
    let rows = [
        (net.clone(), format!("volts at {net}, black lead on {ground}")),
        (format!("{other} to {net}"), "volts from net to net, red lead first".to_owned()),
        (part.clone(), format!("volts across {part}")),
        (format!("ohms {net}"), "with the power off; diode and beep as well".to_owned()),
        (format!("diode {ground} to {net}"), "diode mode, red lead first".to_owned()),
        (format!("amps {through}"), format!("the meter in series with {through}")),
        (
            format!("predict {net} 4.2 V"),
            "what a healthy board shows there, before you measure".to_owned(),
        ),
        (
            "hint".to_owned(),
            "where to look; again: what to measure; again: what remains".to_owned(),
        ),
        (format!("guess {part} open"), "your answer; `faults` lists the forms".to_owned()),
        ("notes, symptom, parts".to_owned(), "your readings; what is seen; the board".to_owned()),
        ("give up".to_owned(), "the solution, and your marking".to_owned()),
    ];
    let mut page = Page::new(Style::Plain, width);
    let widest = rows.iter().map(|(typed, _)| typed.chars().count()).max().unwrap_or(0);
    for (typed, means) in rows {
        let pad = " ".repeat(widest - typed.chars().count());
        let others = " ".repeat(widest + 4);
        page.hanging(&format!("  {typed}{pad}  "), &others, &means);
    }
    page.sentence(
        "  ",
        "Points: 60 for the fault (10 less for each wrong guess), 40 for the way (as the planned \
         effort is to yours); a hint of level 1 costs 2, of level 2 4, of level 3 8, and the same again \
         nothing; a right prediction gives 2, all of them 10 at most.",
    );
    page.sentence("  ", &meter_words(&quiz_meter()));
    page.finish()
}
