//! Load: what hangs on a rail, as a resistance, a current or a power.
//!
//! Ohmic from zero to `minimum` volts, then constant resistance, current or power, continuous at
//! the joint; nothing flows when it is reversed.
//!
//! ```text
//! i = I + P / v      v ≥ minimum        i = (I + P / minimum) · v / minimum      0 ≤ v < minimum
//! ```
//!
//! in amps, watts and volts, I for a load in amps and P for one in watts. What it takes while it
//! starts is not here.

use super::{At, Branch, Curve, Fill, Kind, Law, Mode, Parameter, Problem, Sample, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// `minimum` when it is not given, as a share of the healthy voltage of the load's net. Common
/// practice, no published source.
pub const MINIMUM_SHARE: f64 = 0.2;

/// Conductance of a reversed load, in siemens, so that a net that only it hangs on stays defined.
const REVERSED: f64 = 1e-13;

/// How far below zero a load is still ohmic, as a share of its minimum. A load on a dead rail would
/// else stand in the corner itself, where its slope could be either.
const PAST_ZERO: f64 = 1e-9;

/// A load.
pub(super) struct Load;

impl Kind for Load {
    fn name(&self) -> &'static str {
        "load"
    }

    fn about(&self) -> &'static str {
        "what hangs on a rail: one of ohms, amps, watts; pin 1 is plus"
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("ohms", Unit::Ohm, "its resistance").fill(Fill::Absent).within(0.30),
            Parameter::number("amps", Unit::Amp, "its current").fill(Fill::Absent).within(0.30),
            Parameter::number("watts", Unit::Watt, "its power").fill(Fill::Absent).within(0.30),
            Parameter::number("minimum", Unit::Volt, "the volts below which it is a resistance")
                .fill(Fill::Absent)
                .within(0.10),
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let given: Vec<_> =
            ["ohms", "amps", "watts"].into_iter().filter(|key| part.param(key).is_some()).collect();
        match given[..] {
            [_] => super::law::within_span(part, "ohms"),
            [] => Err(Problem::new(
                "ohms",
                format!("load `{}` says nothing of what it takes", part.name),
            )
            .help("give one of `ohms`, `amps`, `watts`")),
            [first, second, ..] => {
                let message = format!("load `{}` has both `{first}` and `{second}`", part.name);
                Err(Problem::new("amps", message).help("give one of `ohms`, `amps`, `watts`"))
            }
        }
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        if let Some(ohms) = values.get("ohms") {
            return vec![Branch::across(Law::conductance(1.0 / ohms))];
        }
        let minimum = values.get("minimum").unwrap_or(1.0);
        let law = match (values.get("amps"), values.get("watts")) {
            (Some(amps), _) => Drawn { amps, watts: 0.0, minimum },
            (None, watts) => Drawn { amps: 0.0, watts: watts.unwrap_or(0.0), minimum },
        };
        vec![Branch::across(Law::curve(law))]
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Shorted, Mode::Leaky]
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let volts = at.across();
        values.get("ohms").is_none().then(|| {
            if volts < values.get("minimum").unwrap_or(1.0) {
                "below its minimum"
            } else {
                "running"
            }
        })
    }
}

/// A current or a power above the minimum, a resistance below it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drawn {
    pub(super) amps: f64,
    pub(super) watts: f64,
    pub(super) minimum: f64,
}

impl Curve for Drawn {
    fn at(&self, volts: f64) -> Sample {
        let ohmic = (self.amps + self.watts / self.minimum) / self.minimum;
        let turn = -PAST_ZERO * self.minimum;
        if volts < turn {
            let amps = ohmic * turn + REVERSED * (volts - turn);
            return Sample { amps, siemens: REVERSED };
        }
        if volts < self.minimum {
            return Sample { amps: ohmic * volts, siemens: ohmic };
        }
        Sample { amps: self.amps + self.watts / volts, siemens: -self.watts / (volts * volts) }
    }

    /// A constant power may run at two voltages behind one resistance. The high one is reached from
    /// above: from a voltage at which the load takes next to nothing.
    fn first(&self) -> f64 {
        if self.watts > 0.0 { 1e6 * self.minimum } else { self.minimum }
    }

    fn limit(&self, new: f64, old: f64) -> f64 {
        // Between a current that flows and none there is nothing to hold a net by: a step from one
        // to the other lands on the ohmic stretch, or Newton's method goes to and fro for ever.
        let (turn, minimum) = (-PAST_ZERO * self.minimum, self.minimum);
        let leaps = old >= minimum && new < turn || old < turn && new >= minimum;
        if leaps { 0.5 * minimum } else { new }
    }

    fn segment(&self, volts: f64) -> Option<u8> {
        if volts < -PAST_ZERO * self.minimum {
            Some(0)
        } else if volts < self.minimum {
            Some(1)
        } else if self.watts == 0.0 {
            Some(2)
        } else {
            None
        }
    }
}
