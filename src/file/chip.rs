//! The pins of a chip of which only the pins matter: `pins = { name = "NET", other = { .. } }`.

use std::ops::Range;
use std::sync::Arc;

use super::keys;
use super::names::{Named, check_form};
use super::params;
use super::pins::{Wire, net, suggest_pin};
use super::tree::{Data, Entry, Node, Table};
use super::written::Written;
use crate::circuit::{ChipPin, Param};
use crate::device::{DRAWS, MOST_CHIP_PINS, TO_GROUND};
use crate::finding::{Code, Finding, Source};
use crate::quantity::{Unit, parse_joined};

/// What the file says of a chip's pins.
#[derive(Debug, Default)]
pub(super) struct Chip {
    pub(super) wires: Vec<Wire>,
    pub(super) pins: Vec<ChipPin>,
    pub(super) params: Vec<(&'static str, Param)>,
    /// Where the parameters stand.
    pub(super) places: Vec<(&'static str, Arc<Source>, Range<usize>)>,
}

/// Reads the pins of a chip, in the order of the file.
pub(super) fn read(part: &str, entry: &Entry, found: &mut Vec<Finding>) -> Option<Chip> {
    let table = entry.value.take_table(&format!("`pins` of `{part}`"), found)?;
    if table.entries.is_empty() {
        let message = format!("chip `{part}` has no pin");
        found.push(entry.value.error(Code::BadPins, message, "").help("name the pins that matter"));
        return None;
    }
    if let Some(first) = table.entries.get(MOST_CHIP_PINS) {
        let message =
            format!("chip `{part}` has {} pins, more than {MOST_CHIP_PINS}", table.entries.len());
        found.push(
            first
                .key
                .error(Code::TooLarge, message, "the first one too many")
                .help("name only pins that something hangs on, or split the chip into two parts"),
        );
        return None;
    }
    let mut chip = Chip::default();
    for entry in &table.entries {
        if !check_form(Named::Pin, &entry.key, found) {
            continue;
        }
        let number = chip.wires.len();
        let Some((wire, pin)) = one(part, number, table, entry, &mut chip, found) else { continue };
        chip.wires.push(wire);
        chip.pins.push(pin);
    }
    Some(chip)
}

/// One pin, by the net alone or by a table of its own.
fn one(
    part: &str,
    number: usize,
    pins: &Table,
    entry: &Entry,
    chip: &mut Chip,
    found: &mut Vec<Finding>,
) -> Option<(Wire, ChipPin)> {
    let shown = entry.key.shown();
    let what = format!("pin `{shown}` of `{part}`");
    let table = match &entry.value.data {
        Data::Table(table) => table,
        _ => {
            let net = net(&entry.value, &what, found)?;
            return Some((Wire { pin: entry.key.text.clone(), net }, ChipPin::default()));
        }
    };
    super::take::refuse_unknown(table, &what, keys::CHIP_PIN, found);
    let mut pin = ChipPin::default();
    if let Some(node) = table.get("to_ground") {
        let value = params::number(&format!("`to_ground` of {what}"), node, Unit::Ohm, found);
        chip.give(TO_GROUND[number], node, value.map(Param::Number));
    }
    if let Some(node) = table.get("draws") {
        let drawn = draws(&format!("`draws` of {what}"), node, found);
        pin.draws_above = drawn.as_ref().and_then(|(_, above)| *above);
        chip.give(DRAWS[number], node, drawn.map(|(amps, _)| amps));
    }
    if let Some(node) = table.get("clamp_to") {
        pin.clamp_to = clamp_to(&what, pins, &entry.key, node, found);
    }
    let Some(node) = table.get("net") else {
        let message = format!("{what} is on no net");
        let help = "write `net = \"..\"`; give a pin that hangs free a net of its own";
        found.push(entry.key.error(Code::BadPins, message, "").help(help));
        return None;
    };
    let net = net(node, &what, found)?;
    Some((Wire { pin: entry.key.text.clone(), net }, pin))
}

impl Chip {
    fn give(&mut self, name: &'static str, node: &Node, param: Option<Param>) {
        self.places.push((name, Arc::clone(&node.source), node.range.clone()));
        self.params.extend(param.map(|param| (name, param)));
    }
}

/// A current, and the volts above which it is drawn.
fn draws(what: &str, node: &Node, found: &mut Vec<Finding>) -> Option<(Param, Option<f64>)> {
    let written = node.take_value(what, found)?;
    match parse_joined(&written.text, Unit::Amp, "above", Unit::Volt) {
        Ok(point) if point.at.is_some_and(|volts| volts <= 0.0) => {
            let message = format!("{what}: expected volts above zero after `above`");
            let help = "leave `above ..` out for a current that is drawn from zero volts on";
            found.push(written.error(Code::BadValue, message, "").help(help));
            None
        }
        Ok(point) => Some((Param::Number(point.value), point.at)),
        Err(error) => {
            let finding = written.value_error(what, error);
            found.push(match finding.help {
                Some(_) => finding,
                None => finding.help("write for example `20 mA above 2.7 V`"),
            });
            None
        }
    }
}

/// The number of the pin that a junction leads up to.
fn clamp_to(
    what: &str,
    pins: &Table,
    own: &Written,
    node: &Node,
    found: &mut Vec<Finding>,
) -> Option<usize> {
    let wanted = node.take_text(&format!("`clamp_to` of {what}"), found)?;
    let names = || pins.entries.iter().map(|entry| entry.key.text.as_str());
    if wanted.text == own.text {
        let message = format!("{what} is clamped to itself");
        let help = "name the supply pin that its protection diode leads up to";
        found.push(wanted.error(Code::BadPins, message, "").help(help));
        return None;
    }
    let pin = names().position(|name| name == wanted.text);
    if pin.is_none() {
        let message = format!("{what} is clamped to the unknown pin `{}`", wanted.shown());
        let finding = wanted.error(Code::BadPins, message, "");
        found.push(finding.help(suggest_pin(names(), &wanted.text, found)));
    }
    pin
}
