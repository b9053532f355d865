//! Current source: a constant current in amps out of pin 1, up to its compliance in volts, where it
//! falls to nothing within a thousandth of that. Its output resistance below is taken as endless.

use super::{At, Branch, Kind, Law, Limited, Mode, Parameter, Values};
use crate::quantity::Unit;

/// A current source, such as a transmitter in a 4 to 20 mA loop.
pub(super) struct CurrentSource;

impl Kind for CurrentSource {
    fn name(&self) -> &'static str {
        "current-source"
    }

    fn about(&self) -> &'static str {
        "a constant current out of pin 1, up to its compliance"
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("amps", Unit::Amp, "its current").within(0.02),
            Parameter::number("compliance", Unit::Volt, "the most volts it can drive").within(0.10),
        ];
        ROWS
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let law = Limited::current(values.need("amps"), values.need("compliance"));
        vec![Branch::across(Law::curve(law))]
    }

    fn is_source(&self) -> bool {
        true
    }

    fn is_polarised(&self) -> bool {
        true
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Absent, Mode::Low("amps"), Mode::Reversed]
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let volts = at.across();
        let law = Limited::current(values.need("amps"), values.need("compliance"));
        Some(if law.in_limit(volts) { "holding its current" } else { "at its compliance" })
    }
}
