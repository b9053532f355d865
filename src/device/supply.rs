//! Supplies and batteries: a voltage behind a resistance, a current source at the limit.
//!
//! ```text
//! delivered = (V − v) / R     up to the limit, and constant there
//! ```
//!
//! in amps, volts and ohms, with V the open-circuit volts (the equivalent source of any linear
//! supply: L. Thévenin, 1883; from memory). Folding back and shutting down are not here: a supply
//! stays at its limit.
//!
//! A resistance of zero makes an ideal source; what shorts one is refused by the engine.

use super::{At, Branch, Curve, Fill, Kind, Law, Mode, Parameter, Problem, Range, Sample, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// Slope of a source at its limit: its current still grows by this share of the limit from the set
/// voltage down to a dead short. It keeps a net that only such a source feeds defined, and stays
/// below the digits that the best tables of currents are printed with.
const LIMIT_SLOPE: f64 = 1e-12;

/// How far past zero a current source that never turns round is still straight, as a share of its
/// current. A source into nothing would else stand in the corner itself, where its slope could be
/// either.
const PAST_ZERO: f64 = 1e-9;

/// A supply or a battery.
pub(super) struct Supply {
    name: &'static str,
    about: &'static str,
    classes: &'static [&'static str],
    modes: &'static [Mode],
}

/// A supply: an adapter, a bench supply, whatever feeds the board.
pub(super) const SUPPLY: Supply = Supply {
    name: "supply",
    about: "an adapter, a bench supply or whatever feeds the board; pin 1 is plus",
    classes: &["PS"],
    modes: &[Mode::Absent, Mode::Low("volts"), Mode::Low("limit"), Mode::Reversed],
};

/// A battery.
pub(super) const BATTERY: Supply = Supply {
    name: "battery",
    about: "a battery; pin 1 is plus",
    classes: &["BT"],
    modes: &[Mode::Absent, Mode::Low("volts"), Mode::Resistive("resistance"), Mode::Reversed],
};

impl Kind for Supply {
    fn name(&self) -> &'static str {
        self.name
    }

    fn about(&self) -> &'static str {
        self.about
    }

    fn classes(&self) -> &'static [&'static str] {
        self.classes
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("volts", Unit::Volt, "its open-circuit volts")
                .range(Range::Any)
                .within(0.02),
            Parameter::number("resistance", Unit::Ohm, "its resistance, leads included")
                .fill(Fill::Number(10e-3))
                .range(Range::NotNegative)
                .factor(2.0),
            Parameter::number("limit", Unit::Amp, "the most current it gives")
                .fill(Fill::Absent)
                .within(0.25),
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let ideal = part.nominal("resistance") == Some(0.0);
        if ideal && part.nominal("limit").is_some() {
            let message = format!("`{}` is an ideal source and has a `limit`", part.name);
            return Err(Problem::new("limit", message).help(
                "leave `resistance` out, or give one above zero, for a source with a limit",
            ));
        }
        if ideal { Ok(()) } else { super::law::within_span(part, "resistance") }
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let (volts, ohms) = (values.need("volts"), values.need("resistance"));
        let law = if ohms == 0.0 {
            Law::Volts(volts)
        } else if let Some(limit) = values.get("limit").filter(|_| volts != 0.0) {
            Law::curve(Limited::supply(volts, ohms, limit))
        } else {
            Law::Line { siemens: 1.0 / ohms, amps: -volts / ohms }
        };
        vec![Branch::across(law)]
    }

    fn is_source(&self) -> bool {
        true
    }

    fn is_polarised(&self) -> bool {
        true
    }

    fn modes(&self) -> &'static [Mode] {
        self.modes
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let volts = at.across();
        let limit = values.get("limit")?;
        let law = Limited::supply(values.need("volts"), values.need("resistance"), limit);
        Some(if law.in_limit(volts) { "at its current limit" } else { "holding its voltage" })
    }
}

/// A voltage behind a resistance that gives at most a limit.
#[derive(Debug, Clone, Copy)]
pub struct Limited {
    volts: f64,
    siemens: f64,
    limit: f64,
    one_way: bool,
}

impl Limited {
    /// A supply of `volts` behind `ohms` that gives at most `limit` amps, and takes what is
    /// pushed into it.
    pub fn supply(volts: f64, ohms: f64, limit: f64) -> Limited {
        Limited { volts, siemens: 1.0 / ohms, limit, one_way: false }
    }

    /// A current of `amps` that stops at `compliance` volts and never turns round.
    pub fn current(amps: f64, compliance: f64) -> Limited {
        // The corner is a thousandth of the compliance wide.
        let ohms = 1e-3 * compliance / amps;
        Limited { volts: compliance, siemens: 1.0 / ohms, limit: amps, one_way: true }
    }

    /// Whether it is at its limit with `volts` across it.
    pub fn in_limit(&self, volts: f64) -> bool {
        self.segment(volts) == Some(0)
    }
}

impl Curve for Limited {
    fn at(&self, volts: f64) -> Sample {
        let sign = self.volts.signum();
        let creep = LIMIT_SLOPE * self.limit / self.volts.abs();
        match self.segment(volts) {
            Some(0) => {
                let corner = self.volts - sign * self.limit / self.siemens;
                Sample { amps: -sign * self.limit + creep * (volts - corner), siemens: creep }
            }
            Some(2) => {
                let corner = self.volts + sign * PAST_ZERO * self.limit / self.siemens;
                let amps = sign * PAST_ZERO * self.limit + creep * (volts - corner);
                Sample { amps, siemens: creep }
            }
            _ => Sample { amps: self.siemens * (volts - self.volts), siemens: self.siemens },
        }
    }

    fn first(&self) -> f64 {
        self.volts
    }

    fn limit(&self, new: f64, old: f64) -> f64 {
        // The steep stretch between full current and none is narrow: a step that leaps over it
        // lands in it, or Newton's method goes to and fro between the two sides.
        match (self.segment(old), self.segment(new)) {
            (Some(0), Some(2)) | (Some(2), Some(0)) => {
                self.volts - self.volts.signum() * 0.5 * self.limit / self.siemens
            }
            _ => new,
        }
    }

    fn segment(&self, volts: f64) -> Option<u8> {
        let delivered = (self.volts - volts) * self.siemens * self.volts.signum();
        Some(if delivered > self.limit {
            0
        } else if self.one_way && delivered < -PAST_ZERO * self.limit {
            2
        } else {
            1
        })
    }
}
