//! Capacitor: no current at DC, or its leakage i = v / R (Ohm's law), in amps, volts and ohms. A
//! leakage that goes with the voltage, or heals, is not here.

use super::{Branch, Fill, Kind, Law, Mode, Parameter, Values};
use crate::quantity::Unit;

/// A capacitor. Without `leakage` it carries nothing.
pub(super) struct Capacitor;

impl Kind for Capacitor {
    fn name(&self) -> &'static str {
        "capacitor"
    }

    fn about(&self) -> &'static str {
        "a capacitor: nothing at DC, or its leakage"
    }

    fn classes(&self) -> &'static [&'static str] {
        &["C"]
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("value", Unit::Farad, "its capacitance; not used").fill(Fill::Absent),
            Parameter::number("leakage", Unit::Ohm, "its leakage resistance")
                .fill(Fill::Absent)
                .factor(2.0),
            Parameter::number("rated", Unit::Volt, "the most volts it may see").fill(Fill::Absent),
        ];
        ROWS
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        values
            .get("leakage")
            .map(|ohms| Branch::across(Law::conductance(1.0 / ohms)))
            .into_iter()
            .collect()
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Shorted, Mode::Leaky]
    }
}
