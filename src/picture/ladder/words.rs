//! The picture in words, for whoever cannot see it.

use super::values::{Held, Values};
use crate::circuit::{Circuit, NetId};
use crate::device::of;

/// Nets and volts from top to bottom, the parts between them, and what is wrong.
pub(super) fn description(
    circuit: &Circuit,
    order: &[NetId],
    values: &[Values],
    has_point: bool,
    faults: &[String],
) -> String {
    let mut text = String::from(if has_point {
        "Nets from the highest volts to the lowest: "
    } else {
        "This board has no operating point. Nets, about from the highest volts to the lowest: "
    });
    let nets: Vec<String> = order
        .iter()
        .map(|net| {
            let own = &values[net.index()];
            let mut words = circuit.net_name(*net).to_owned();
            if has_point || *net == NetId::GROUND {
                words.push_str(&format!(" {}", own.healthy));
            }
            if let Some(held) = &own.measured {
                words.push_str(&format!(", measured {}", held_words(held)));
            }
            if let Some(held) = &own.faulted {
                words.push_str(&format!(", with the fault {}", held_words(held)));
            }
            words
        })
        .collect();
    text.push_str(&nets.join("; "));
    text.push_str(". Parts: ");
    let parts: Vec<String> = circuit.parts.iter().map(|part| part_words(circuit, part)).collect();
    text.push_str(&parts.join("; "));
    text.push('.');
    if !faults.is_empty() {
        text.push_str(&format!(" Fault: {}.", faults.join("; ")));
    }
    text
}

fn held_words(held: &Held) -> String {
    match held.stand.word() {
        "" => held.text.clone(),
        word => format!("{} ({word})", held.text),
    }
}

/// A part in words: what it is, and which nets it is on.
pub(super) fn part_words(circuit: &Circuit, part: &crate::circuit::Part) -> String {
    let kind = of(part).name();
    let value = super::label::value_words(part).into_iter().next().unwrap_or_default();
    let what = if value.is_empty() || value.eq_ignore_ascii_case(kind) {
        kind.to_owned()
    } else {
        format!("{kind} {value}")
    };
    let nets = if part.is_two_pin() {
        let [from, to] = [0, 1].map(|pin| circuit.net_name(part.pins[pin].net));
        format!("{from} to {to}")
    } else {
        let pins = part.pins.iter();
        let pins: Vec<String> =
            pins.map(|pin| format!("{} {}", pin.name, circuit.net_name(pin.net))).collect();
        pins.join(", ")
    };
    format!("{}, {what}, {nets}", part.name)
}
