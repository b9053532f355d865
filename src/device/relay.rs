//! Relay: a coil that moves a contact.
//!
//! The coil is a resistance and has no polarity: the condition `pulled in` holds from `pull_in`
//! volts across it up, and no longer below `drop_out`; `pulled in, reversed` is the same with the
//! coil's volts turned. While one of the two holds, `common` is joined to `normally_open` by
//! `resistance`; else to `normally_closed`, where the part has that pin.
//!
//! States: pulled in, released. Failure modes: coil broken, contact that does not carry, is poor, or
//! is welded.

use super::{At, Branch, Condition, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

const COIL_PLUS: usize = 0;
const COIL_MINUS: usize = 1;
const COMMON: usize = 2;
const NORMALLY_OPEN: usize = 3;

/// Conductance of an open contact, in siemens; see `junction::REVERSE_FLOOR`.
const LEAK: f64 = super::junction::REVERSE_FLOOR;

/// A relay.
pub(super) struct Relay;

impl Kind for Relay {
    fn name(&self) -> &'static str {
        "relay"
    }

    fn about(&self) -> &'static str {
        "a relay with one contact or changeover"
    }

    fn pins(&self) -> Pins {
        Pins::Fitted(&["coil_plus", "coil_minus", "common", "normally_open"], &["normally_closed"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            // Ten percent on a coil at 20 °C: common practice, no published source.
            Parameter::number("coil", Unit::Ohm, "the resistance of its coil").within(0.10),
            Parameter::number("pull_in", Unit::Volt, "the coil volts at which it pulls in")
                .within(0.10),
            Parameter::number("drop_out", Unit::Volt, "the coil volts at which it lets go")
                .within(0.10),
            Parameter::number("resistance", Unit::Ohm, "the resistance of its closed contact")
                .fill(Fill::Number(50e-3))
                .factor(2.0),
            Parameter::number("rated", Unit::Amp, "the most current of its contact")
                .fill(Fill::Absent),
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "coil")?;
        super::law::within_span(part, "resistance")?;
        let value = |key| part.nominal(key).unwrap_or(0.0);
        if value("drop_out") < value("pull_in") {
            return Ok(());
        }
        let message = format!("`{}` lets go at no lower volts than it pulls in at", part.name);
        Err(Problem::new("drop_out", message)
            .help("`drop_out` is below `pull_in`: often a tenth to a half of it"))
    }

    fn conditions(&self, values: &Values<'_>) -> Vec<Condition> {
        let (on, off) = (values.need("pull_in"), values.need("drop_out"));
        let (coil, names) = ([COIL_PLUS, COIL_MINUS], ["pull_in", "drop_out"]);
        vec![
            Condition::above("pulled in", coil, on, off, names),
            Condition::below("pulled in, reversed", coil, -on, -off, names),
        ]
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let closed = Law::conductance(1.0 / values.need("resistance"));
        let open = Law::conductance(LEAK);
        let is_in = values.is_on(0) || values.is_on(1);
        let (upper, lower) = if is_in { (closed, open) } else { (open, closed) };
        let mut branches = vec![
            Branch::new(COIL_PLUS, COIL_MINUS, Law::conductance(1.0 / values.need("coil"))),
            Branch::new(COMMON, NORMALLY_OPEN, upper),
        ];
        if let Some(pin) = values.pin("normally_closed") {
            branches.push(Branch::new(COMMON, pin, lower));
        }
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[
            Mode::PinOpen("coil_plus"),
            Mode::PinOpen("normally_open"),
            Mode::Resistive("resistance"),
            Mode::Joined("common", "normally_open"),
            Mode::Joined("coil_plus", "coil_minus"),
        ]
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["common", "normally_open", "normally_closed"]
    }

    fn state(&self, values: &Values<'_>, _at: &At<'_>) -> Option<&'static str> {
        Some(if values.is_on(0) || values.is_on(1) { "pulled in" } else { "released" })
    }
}
