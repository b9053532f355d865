//! Switch: a contact that is closed, i = v / R (Ohm's law) in amps, volts and ohms, or open, no
//! current: as drawn or as the setup says.

use super::{At, Branch, Fill, Kind, Law, Mode, Parameter, Values};
use crate::quantity::Unit;

/// A switch or push-button.
pub(super) struct Switch;

impl Kind for Switch {
    fn name(&self) -> &'static str {
        "switch"
    }

    fn about(&self) -> &'static str {
        "a switch or push-button, open unless `closed = true`"
    }

    fn classes(&self) -> &'static [&'static str] {
        &["S", "SW"]
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter {
                name: "closed",
                shape: super::Shape::Flag,
                unit: Unit::One,
                fill: Fill::Flag(false),
                tolerance: None,
                range: super::Range::Any,
                about: "whether it is closed as drawn",
            },
            Parameter::number("resistance", Unit::Ohm, "the resistance of the closed contact")
                .fill(Fill::Number(20e-3))
                .factor(2.0),
            Parameter::number("rated", Unit::Amp, "the most current it may carry")
                .fill(Fill::Absent),
        ];
        ROWS
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let closed = values.closed.unwrap_or_else(|| values.part.flag("closed"));
        if closed {
            vec![Branch::across(Law::conductance(1.0 / values.need("resistance")))]
        } else {
            Vec::new()
        }
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Shorted, Mode::Resistive("resistance")]
    }

    fn state(&self, values: &Values<'_>, _at: &At<'_>) -> Option<&'static str> {
        Some(if values.closed.unwrap_or_else(|| values.part.flag("closed")) {
            "closed"
        } else {
            "open"
        })
    }
}
