//! Supervisor: holds its output low until the sense pin is high enough.
//!
//! The condition `sense` holds from `threshold` + `hysteresis` between sense and ground up, and no
//! longer below `threshold`, as data sheets count it. While it does not hold, `output` is joined to
//! ground by `output_resistance`, as far as there is a supply: below `minimum_supply` that
//! conductance falls to nothing with the supply. While it holds, an open-drain output lets go, and
//! any other is joined to the supply by the same resistance. Sense and supply may be one net.

use super::chip_pins::{self, CLAMP_DROP};
use super::drawn::HeldSwitch;
use super::{At, Branch, Condition, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// Conductance of an output that lets go, in siemens; see `junction::REVERSE_FLOOR`.
const LEAK: f64 = super::junction::REVERSE_FLOOR;

/// A supervisor.
pub(super) struct Supervisor;

/// The pins by number, in the order of the kind.
const SENSE: usize = 0;
const OUTPUT: usize = 1;
const SUPPLY: usize = 2;
const GROUND: usize = 3;

impl Supervisor {
    fn is_released(values: &Values<'_>) -> bool {
        !values.is_struck("stuck low") && (values.is_struck("stuck high") || values.is_on(0))
    }
}

impl Kind for Supervisor {
    fn name(&self) -> &'static str {
        "supervisor"
    }

    fn about(&self) -> &'static str {
        "a supervisor: its output is low until the sense pin is above the threshold"
    }

    fn pins(&self) -> Pins {
        Pins::Named(&["sense", "output", "supply", "ground"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("threshold", Unit::Volt, "the sense volts below which it is low")
                .within(0.10),
            Parameter::number("hysteresis", Unit::Volt, "how far above that it lets go again")
                .fill(Fill::Absent)
                .within(0.30),
            Parameter::flag("open_drain", true, "whether the output only pulls low"),
            Parameter::number("minimum_supply", Unit::Volt, "the supply from which it works")
                .fill(Fill::Number(1.0))
                .within(0.10),
            Parameter::number("output_resistance", Unit::Ohm, "the resistance of its output")
                .fill(Fill::Number(50.0))
                .factor(2.0),
            Parameter::number("quiescent", Unit::Amp, "what it takes from its supply for itself")
                .fill(Fill::Absent)
                .factor(2.0),
            CLAMP_DROP,
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "output_resistance")
    }

    fn conditions(&self, values: &Values<'_>) -> Vec<Condition> {
        let off_at = values.need("threshold");
        let on_at = off_at + values.get("hysteresis").unwrap_or(0.0);
        vec![Condition::above("sense", [SENSE, GROUND], on_at, off_at, ["threshold"; 2])]
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let mut branches = chip_pins::protection(values, GROUND);
        let supply = [[SUPPLY, GROUND]];
        let least = values.need("minimum_supply");
        let held = HeldSwitch { siemens: 1.0 / values.need("output_resistance"), least };
        let is_released = Self::is_released(values);
        if values.is_struck("dead") || (is_released && values.part.flag("open_drain")) {
            branches.push(Branch::new(OUTPUT, GROUND, Law::conductance(LEAK)));
        } else if is_released {
            branches.push(Branch::driven(SUPPLY, OUTPUT, held, &supply));
        } else {
            branches.push(Branch::driven(OUTPUT, GROUND, held, &supply));
        }
        if !values.is_struck("dead") {
            branches.extend(chip_pins::quiescent(values, SUPPLY, GROUND, least));
        }
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[
            Mode::Dead,
            Mode::StuckHigh,
            Mode::StuckLow,
            Mode::Drifted("threshold"),
            Mode::PinLeaky,
            Mode::Raised("quiescent"),
        ]
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["output"]
    }

    fn rails(&self) -> Option<[&'static str; 2]> {
        Some(["supply", "ground"])
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let is_off = at.between(SUPPLY, GROUND) < 0.5 * values.need("minimum_supply");
        Some(match Self::is_released(values) {
            _ if is_off || values.is_struck("dead") => "off",
            false => "holding its output low",
            true if values.part.flag("open_drain") => "letting its output go",
            true => "driving its output high",
        })
    }
}
