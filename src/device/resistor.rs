//! Resistor: i = v / R (Ohm's law), in amps, volts and ohms, at any temperature: a temperature
//! coefficient is no key.

use super::{Branch, Kind, Law, Mode, Parameter, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// A resistor with two pins. Source of the default tolerance: the series E24 of IEC 60063, whose
/// customary tolerance is 5 %.
pub(super) struct Resistor;

impl Kind for Resistor {
    fn name(&self) -> &'static str {
        "resistor"
    }

    fn about(&self) -> &'static str {
        "a fixed resistor"
    }

    fn classes(&self) -> &'static [&'static str] {
        &["R"]
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("value", Unit::Ohm, "its resistance, such as \"4k7\"").within(0.05),
            Parameter::number("rated", Unit::Watt, "the most it may dissipate")
                .fill(super::Fill::Absent),
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "value")
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        vec![Branch::across(Law::conductance(1.0 / values.need("value")))]
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Shorted, Mode::Drifted("value")]
    }
}
