//! Absolute maximum volts of pins: `maximum = { enable = "6 V" }`.

use super::pins::suggest_pin;
use super::tree::Table;
use crate::device::Kind;
use crate::finding::{Code, Finding};
use crate::quantity::Unit;

/// The most volts that a pin may see.
#[derive(Debug, Clone)]
pub(super) struct Most {
    pub(super) pin: String,
    pub(super) volts: f64,
}

/// Reads the key `maximum` of a part and of its type, with the name of each; what the part says of
/// a pin wins. `pins` are the pins that the part has.
pub(super) fn read<'a>(
    kind: &dyn Kind,
    pins: &[&str],
    layers: impl Iterator<Item = (&'a Table, &'a str)>,
    found: &mut Vec<Finding>,
) -> Vec<Most> {
    let mut all: Vec<Most> = Vec::new();
    for (table, owner) in layers {
        let Some(node) = table.get("maximum") else { continue };
        let Some(table) = node.take_table(&format!("`maximum` of `{owner}`"), found) else {
            continue;
        };
        for entry in &table.entries {
            let shown = entry.key.shown();
            let pin = entry.key.text.as_str();
            if !pins.contains(&pin) {
                let message =
                    format!("`maximum` of {} `{owner}` names no pin of it: `{shown}`", kind.name());
                let finding = entry.key.error(Code::BadPins, message, "");
                found.push(finding.help(suggest_pin(pins.iter().copied(), pin, found)));
                continue;
            }
            let what = format!("`maximum` of `{owner}` at `{shown}`");
            let volts = entry.value.take_number(
                &what,
                Unit::Volt,
                "more than zero volts",
                |volts| volts > 0.0 && volts.is_finite(),
                found,
            );
            if let Some(volts) = volts
                && !all.iter().any(|most| most.pin == pin)
            {
                all.push(Most { pin: pin.to_owned(), volts });
            }
        }
    }
    all
}
