//! Faults and parts in plain words, for whoever has no schematic.

use crate::circuit::{Circuit, PartId};
use crate::fault::Fault;
use crate::quantity::print_short;

/// A part with what it is: `the resistor R8`.
pub(super) fn part_words(circuit: &Circuit, id: PartId) -> String {
    let part = &circuit[id];
    let what = match part.kind {
        "npn" | "pnp" | "nmos" | "pmos" => "transistor",
        "ldo" | "buck" | "boost" => "regulator",
        "zener" => "Zener diode",
        "led" => "LED",
        "link" => "wire link",
        "inductor" => "coil",
        "opamp" => "amplifier",
        "gate" => "logic chip",
        "shunt-reference" => "voltage reference",
        "platinum-sensor" => "temperature sensor",
        "current-source" => "current source",
        "contact" | "switch" => "contact",
        "supply" => "power supply",
        kind => kind,
    };
    format!("the {what} {}", part.name)
}

/// What is wrong, in one plain sentence without its full stop; the value only where the readings say
/// one.
pub(super) fn fault_words(circuit: &Circuit, fault: &Fault, has_value: bool) -> String {
    let part = |id: PartId| part_words(circuit, id);
    let unit = fault.unit(circuit);
    let value = fault.rounded().value().filter(|_| has_value);
    let about = |before: &str| {
        value
            .map_or_else(String::new, |value| format!("{before}about {}", print_short(value, unit)))
    };
    match *fault {
        Fault::Open(id) => format!("{} no longer conducts", part(id)),
        Fault::Shorted(id, _) => format!("{} is shorted", part(id)),
        Fault::Drifted(id, name, _) => {
            let what = match name {
                "value" => part(id),
                "volts" => format!("the voltage of {}", part(id)),
                "output_volts" => format!("the output of {}", part(id)),
                _ => format!("the {} of {}", name.replace('_', " "), part(id)),
            };
            let good = circuit[id].toleranced(name);
            let good = good.map_or_else(String::new, |good| {
                format!(", it should be {}", print_short(good.nominal, unit))
            });
            format!("{what} has changed{}{good}", about(": it is "))
        }
        Fault::Leaky(id, _) => format!("{} leaks current{}", part(id), about(", as if through ")),
        Fault::Resistive(id, ..) => format!("{} conducts badly{}", part(id), about(": ")),
        Fault::Reversed(id) => format!("{} is the wrong way round", part(id)),
        Fault::Absent(id) => format!("{} gives nothing", part(id)),
        Fault::Low(id, ..) => format!("{} gives too little{}", part(id), about(": ")),
        Fault::Limited(id, _) => format!("{} gives too little current{}", part(id), about(": ")),
        Fault::Struck(id, "dead") => format!("{} no longer works", part(id)),
        Fault::Struck(id, what) if what.starts_with("stuck") => {
            format!("the output of {} is {what}", part(id))
        }
        Fault::Struck(id, what) => format!("{} is faulty inside ({what})", part(id)),
        Fault::PinShorted(id, ..) | Fault::PinLeaky(id, ..) => {
            format!("{} is damaged inside, between two of its pins", part(id))
        }
        Fault::JointOpen(id, _) => format!("a solder joint of {} is broken", part(id)),
        Fault::JointResistive(id, ..) => format!("a solder joint of {} is bad", part(id)),
        Fault::Leak(..) => format!("current leaks away on the board{}", about(", as if through ")),
        Fault::Bridge(..) => "two tracks of the board that should be apart are joined".to_owned(),
        Fault::Exchanged(a, b) => {
            format!("{} and {} stand in each other's place", part(a), part(b))
        }
        Fault::Alike(id, _) => {
            let names: Vec<&str> =
                circuit.alike(id).into_iter().map(|id| circuit[id].name.as_str()).collect();
            format!("these parts all have a wrong value: {}", names.join(", "))
        }
        Fault::Fitted(id) => format!("{} is fitted where the place should be empty", part(id)),
        Fault::Misread(..) => {
            "nothing may be wrong with the board: a measurement went wrong".to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::two_pin;

    #[test]
    fn a_fault_in_plain_words_says_what_is_and_what_should_be() {
        let mut circuit = Circuit::new("", "GND");
        two_pin(&mut circuit, "R8", "resistor", ["A", "GND"], &[("value", 10e3)]).unwrap();
        let part = circuit.part("R8").unwrap();
        let fault = Fault::Drifted(part, "value", Some(33_123.0));
        assert_eq!(
            fault_words(&circuit, &fault, true),
            "the resistor R8 has changed: it is about 33.1 kΩ, it should be 10 kΩ"
        );
        assert_eq!(
            fault_words(&circuit, &fault, false),
            "the resistor R8 has changed, it should be 10 kΩ"
        );
    }
}
