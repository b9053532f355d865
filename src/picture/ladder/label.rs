//! The value that stands beside a part, in few words.

use crate::circuit::Part;
use crate::quantity::{Unit, print_short};

/// The value of a part, and what else tells it from others of its kind: up to two short lines.
pub(super) fn value_words(part: &Part) -> Vec<String> {
    let number = |name: &str, unit: Unit| {
        part.toleranced(name).map(|value| print_short(value.nominal, unit))
    };
    let found: Vec<Option<String>> = match part.kind {
        "resistor" => vec![number("value", Unit::Ohm)],
        "fuse" | "connector" | "contact" => vec![number("rated", Unit::Amp)],
        "link" => vec![Some("link".to_owned())],
        "inductor" | "ferrite" => {
            vec![number("value", Unit::Henry).or_else(|| number("resistance", Unit::Ohm))]
        }
        "capacitor" => vec![number("value", Unit::Farad)],
        "diode" | "led" => vec![number("drop", Unit::Volt)],
        "zener" => vec![number("voltage", Unit::Volt)],
        "supply" | "battery" => vec![number("volts", Unit::Volt)],
        "current-source" => vec![number("amps", Unit::Amp)],
        "load" => vec![
            number("ohms", Unit::Ohm)
                .or_else(|| number("amps", Unit::Amp))
                .or_else(|| number("watts", Unit::Watt)),
        ],
        "switch" => vec![Some(if part.flag("closed") { "closed" } else { "open" }.to_owned())],
        "potentiometer" => vec![
            number("value", Unit::Ohm),
            part.nominal("position").map(|share| format!("at {:.0} %", 100.0 * share)),
        ],
        "thermistor" => vec![number("value", Unit::Ohm), Some("NTC".to_owned())],
        "platinum-sensor" => vec![number("value", Unit::Ohm), Some("platinum".to_owned())],
        "npn" | "pnp" => vec![Some(part.kind.to_owned())],
        "nmos" => vec![Some("n-MOS".to_owned())],
        "pmos" => vec![Some("p-MOS".to_owned())],
        "relay" => vec![number("coil", Unit::Ohm)],
        "optocoupler" => vec![Some("coupler".to_owned())],
        "shunt-reference" => {
            vec![number("volts", Unit::Volt).or_else(|| number("reference", Unit::Volt))]
        }
        "ldo" | "buck" | "boost" => vec![
            Some(if part.kind == "ldo" { "LDO" } else { part.kind }.to_owned()),
            number("output_volts", Unit::Volt)
                .or_else(|| number("reference", Unit::Volt).map(|volts| format!("ref. {volts}"))),
        ],
        "supervisor" => vec![Some("supervisor".to_owned()), number("threshold", Unit::Volt)],
        // The signs of IEC 60617 for an amplifier are a triangle and the gain; fonts lack the first.
        "opamp" => vec![Some("op-amp ∞".to_owned())],
        "comparator" => vec![Some("comparator".to_owned())],
        "gate" => {
            vec![part.word("function").and_then(gate_sign).map(str::to_owned), function_words(part)]
        }
        _ => vec![Some(part.kind.to_owned())],
    };
    found.into_iter().flatten().collect()
}

fn function_words(part: &Part) -> Option<String> {
    part.word("function").map(|function| format!("({function})"))
}

/// The sign of a gate's function (IEC 60617, binary logic elements; from memory). What turns its
/// output has a ring at the output besides.
fn gate_sign(function: &str) -> Option<&'static str> {
    match function {
        "and" | "nand" => Some("&"),
        "or" | "nor" => Some("≥1"),
        "xor" => Some("=1"),
        "not" | "buffer" => Some("1"),
        _ => None,
    }
}

/// The parameter that [`value_words`] shows first.
pub(super) fn shown_parameter(part: &Part) -> Option<&'static str> {
    let first =
        |names: &[&'static str]| names.iter().copied().find(|name| part.toleranced(name).is_some());
    match part.kind {
        "resistor" | "capacitor" | "potentiometer" | "thermistor" | "platinum-sensor" => {
            first(&["value"])
        }
        "inductor" | "ferrite" => first(&["value", "resistance"]),
        "diode" | "led" => first(&["drop"]),
        "zener" => first(&["voltage"]),
        "supply" | "battery" => first(&["volts"]),
        "current-source" => first(&["amps"]),
        "load" => first(&["ohms", "amps", "watts"]),
        "relay" => first(&["coil"]),
        "shunt-reference" => first(&["volts", "reference"]),
        _ => None,
    }
}
