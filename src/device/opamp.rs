//! Operational amplifier.
//!
//! # Formula
//!
//! With S the supply against the ground pin, d = V(plus) − V(minus), and all volts against the
//! ground pin:
//!
//! ```text
//! wanted = S / 2 + gain · (d + offset)         held between swing_low and S − swing_high
//! i      = alive(S) · (wanted − V(output)) / R      held between −limit and limit
//! ```
//!
//! in volts, amps and ohms. A current out of the output comes from the supply pin, one into it goes
//! back by the ground pin. `alive` goes from 0 to 1 over the last 5 % of `minimum_supply`. The middle
//! between the rails is what an amplifier on two equal supplies calls zero. One gain, one output
//! resistance and two limits are the model of any textbook (for instance A. S. Sedra and K. C. Smith,
//! "Microelectronic Circuits", chapter on operational amplifiers; from memory).
//!
//! # States
//!
//! Off below its least supply; at its current limit; at its high or low limit, when `wanted` is
//! held; else in its linear range.
//!
//! # Failure modes
//!
//! Dead, its output at either rail, its gain lost, a pin that leaks to a rail, more current taken
//! for itself. An offset of zero has no range to drift over; its tolerance stands for it.

use super::chip_pins::{self, CLAMP_DROP};
use super::drawn::{KNEE, Supplied};
use super::drive::{LEAK, alive, stuck};
use super::law::Driven;
use super::{At, Branch, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Range, Values};
use crate::circuit::Part;
use crate::quantity::{Tolerance, Unit};

/// The pins by number, in the order of the kind; the comparator's are the same.
pub(super) const PLUS: usize = 0;
pub(super) const MINUS: usize = 1;
pub(super) const OUTPUT: usize = 2;
pub(super) const SUPPLY: usize = 3;
pub(super) const GROUND: usize = 4;

/// Names of the pins, in that order.
pub(super) const PINS: &[&str] = &["plus", "minus", "output", "supply", "ground"];

/// The pins that only sense.
pub(super) const INPUTS: &[&str] = &["plus", "minus"];

// The defaults of these rows are common practice, no published source: a general-purpose
// amplifier that reaches its lower rail.

/// The offset of the inputs.
pub(super) const OFFSET: Parameter = Parameter {
    tolerance: Some(Tolerance::Absolute(5e-3)),
    ..Parameter::number("offset", Unit::Volt, "what it adds to plus less minus")
        .fill(Fill::Number(0.0))
        .range(Range::Any)
};
/// The bias current of the inputs.
pub(super) const BIAS: Parameter =
    Parameter::number("bias", Unit::Amp, "the current into each input, or out of it when negative")
        .fill(Fill::Absent)
        .range(Range::Any)
        .factor(2.0);
/// What it takes for itself.
pub(super) const QUIESCENT: Parameter =
    Parameter::number("quiescent", Unit::Amp, "what it takes from its supply for itself")
        .fill(Fill::Absent)
        .factor(2.0);
/// The least supply.
pub(super) const MINIMUM_SUPPLY: Parameter =
    Parameter::number("minimum_supply", Unit::Volt, "the supply from which it works")
        .fill(Fill::Number(2.0))
        .within(0.10);
/// The resistance of the output.
pub(super) const OUTPUT_RESISTANCE: Parameter =
    Parameter::number("output_resistance", Unit::Ohm, "the resistance of its output")
        .fill(Fill::Number(50.0))
        .factor(2.0);

/// An operational amplifier.
pub(super) struct OpAmp;

/// The values that the law takes.
#[derive(Debug, Clone, Copy)]
struct Model {
    gain: f64,
    offset: f64,
    swing_high: f64,
    swing_low: f64,
    siemens: f64,
    limit: f64,
    least: f64,
    /// Where a fault holds the output: at the high limit, or at the low one.
    held: Option<bool>,
}

impl Model {
    fn of(values: &Values<'_>) -> Model {
        Model {
            gain: values.need("gain"),
            offset: values.need("offset"),
            swing_high: values.need("swing_high"),
            swing_low: values.need("swing_low"),
            siemens: 1.0 / values.need("output_resistance"),
            limit: values.need("limit"),
            least: values.need("minimum_supply"),
            held: stuck(values),
        }
    }

    /// The volts that the output should have, the slopes by d and by the supply, and the piece.
    fn wanted(&self, d: f64, supply: f64) -> (f64, f64, f64, u8) {
        let free = 0.5 * supply + self.gain * (d + self.offset);
        let high = supply - self.swing_high;
        // On a supply that leaves no room between the two, the low one holds.
        let is_low = high <= self.swing_low
            || self.held == Some(false)
            || (self.held.is_none() && free <= self.swing_low);
        if is_low {
            (self.swing_low, 0.0, 0.0, 0)
        } else if self.held == Some(true) || free >= high {
            (high, 0.0, 1.0, 2)
        } else {
            (free, self.gain, 0.5, 1)
        }
    }
}

/// Half of the output stage; it senses plus to minus and the supply.
#[derive(Debug, Clone, Copy)]
struct Half {
    model: Model,
    /// From the supply to the output; else from the output to the ground.
    is_high: bool,
}

impl Half {
    /// Volts by which the output is away from what is wanted, to the side that this half serves,
    /// with the slopes by the three volts and the piece of what is wanted.
    fn away(&self, volts: &[f64]) -> (f64, [f64; 3], u8) {
        let [own, d, supply] = [volts[0], volts[1], volts[2]];
        let (wanted, by_d, by_supply, piece) = self.model.wanted(d, supply);
        if self.is_high {
            (wanted - supply + own, [1.0, by_d, by_supply - 1.0], piece)
        } else {
            (own - wanted, [1.0, -by_d, -by_supply], piece)
        }
    }
}

impl Driven for Half {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let Model { siemens, limit, least, .. } = self.model;
        let (away, by, _) = self.away(volts);
        let (up, up_slope, _) = alive(volts[2], least);
        let full = (siemens * away).clamp(0.0, limit);
        let is_free = full > 0.0 && full < limit;
        for (slope, by) in slopes.iter_mut().zip(by) {
            *slope = if is_free { siemens * by * up } else { 0.0 };
        }
        slopes[2] += full * up_slope;
        slopes[0] += LEAK;
        full * up + LEAK * volts[0]
    }

    fn raised_by(&self, sense: usize) -> bool {
        sense == 0
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        let (away, _, piece) = self.away(volts);
        let full = self.model.siemens * away;
        let carries = u8::from(full > 0.0) + u8::from(full >= self.model.limit);
        let stretch = alive(volts[2], self.model.least).2;
        Some(u32::from(9 * piece + 3 * carries + stretch))
    }
}

/// The protection diodes from ground to every pin and from the pins listed up to the supply, the
/// bias of the inputs, and what the chip takes for itself: of amplifiers and comparators.
pub(super) fn around(values: &Values<'_>, up_to_supply: &[usize]) -> Vec<Branch> {
    let mut branches = chip_pins::protection(values, GROUND);
    branches.extend(up_to_supply.iter().map(|pin| chip_pins::clamp(values, *pin, SUPPLY)));
    if values.is_struck("dead") {
        return branches;
    }
    let supply = [[SUPPLY, GROUND]];
    let least = values.need("minimum_supply");
    if let Some(bias) = values.get("bias").filter(|amps| *amps != 0.0) {
        for pin in [PLUS, MINUS] {
            let (from, to) = if bias > 0.0 { (pin, GROUND) } else { (SUPPLY, pin) };
            let law = Supplied { amps: bias.abs(), knee: KNEE, least };
            branches.push(Branch::driven(from, to, law, &supply));
        }
    }
    branches.extend(chip_pins::quiescent(values, SUPPLY, GROUND, least));
    branches
}

impl Kind for OpAmp {
    fn name(&self) -> &'static str {
        "opamp"
    }

    fn about(&self) -> &'static str {
        "an operational amplifier"
    }

    fn pins(&self) -> Pins {
        Pins::Named(PINS)
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("gain", Unit::One, "its gain without feedback")
                .fill(Fill::Number(1e5))
                .factor(3.0),
            OFFSET,
            BIAS,
            Parameter::number(
                "swing_high",
                Unit::Volt,
                "how far its output stays below its supply",
            )
            .fill(Fill::Number(1.5))
            .range(Range::NotNegative)
            .within(0.30),
            Parameter::number("swing_low", Unit::Volt, "how far its output stays above its ground")
                .fill(Fill::Number(0.05))
                .range(Range::NotNegative)
                .within(0.30),
            OUTPUT_RESISTANCE,
            Parameter::number("limit", Unit::Amp, "the most current of its output, either way")
                .fill(Fill::Number(25e-3))
                .within(0.50),
            QUIESCENT,
            MINIMUM_SUPPLY,
            CLAMP_DROP,
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "output_resistance")?;
        let value = |name| part.nominal(name).unwrap_or(0.0);
        let swings = value("swing_high") + value("swing_low");
        if swings < value("minimum_supply") {
            return Ok(());
        }
        let message = format!(
            "`{}` cannot swing at its least supply: `swing_high` and `swing_low` take {swings} V",
            part.name
        );
        // A supply that was not given is for an amplifier with the usual swing.
        Err(Problem::new("minimum_supply", message)
            .help("give a `minimum_supply` above the sum of the two"))
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let mut branches = around(values, &[PLUS, MINUS, OUTPUT]);
        if values.is_struck("dead") {
            branches.push(Branch::new(OUTPUT, GROUND, Law::conductance(LEAK)));
            return branches;
        }
        let model = Model::of(values);
        let senses = [[PLUS, MINUS], [SUPPLY, GROUND]];
        let half = |is_high| Half { model, is_high };
        branches.push(Branch::driven(SUPPLY, OUTPUT, half(true), &senses));
        branches.push(Branch::driven(OUTPUT, GROUND, half(false), &senses));
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[
            Mode::Dead,
            Mode::StuckHigh,
            Mode::StuckLow,
            Mode::Drifted("gain"),
            Mode::PinLeaky,
            Mode::Raised("quiescent"),
        ]
    }

    fn inputs(&self) -> &'static [&'static str] {
        INPUTS
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["output"]
    }

    fn rails(&self) -> Option<[&'static str; 2]> {
        Some(["supply", "ground"])
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let model = Model::of(values);
        let supply = at.between(SUPPLY, GROUND);
        if values.is_struck("dead") || alive(supply, model.least).0 < 0.5 {
            return Some("off");
        }
        let (wanted, _, _, piece) = model.wanted(at.between(PLUS, MINUS), supply);
        let away = wanted - at.between(OUTPUT, GROUND);
        Some(match piece {
            _ if model.siemens * away.abs() >= model.limit => "at its current limit",
            0 => "at its low limit",
            2 => "at its high limit",
            _ => "in its linear range",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::drive::check_slopes;
    use super::*;

    const MODEL: Model = Model {
        gain: 50.0,
        offset: 2e-3,
        swing_high: 1.5,
        swing_low: 0.05,
        siemens: 0.02,
        limit: 25e-3,
        least: 2.0,
        held: None,
    };

    #[test]
    fn slopes_are_the_derivatives() {
        for held in [None, Some(true), Some(false)] {
            for is_high in [true, false] {
                let law = Half { model: Model { held, ..MODEL }, is_high };
                for own in [-1.0, 0.01, 1.3, 2.6, 4.9, 12.0] {
                    for d in [-3.0, -0.04, -0.001, 0.013, 0.04, 2.0] {
                        for supply in [-1.0, 0.5, 1.93, 3.0, 5.0, 12.0] {
                            check_slopes(&law, &[own, d, supply], 1e-6);
                        }
                    }
                }
            }
        }
    }

    /// What the two halves carry is one law: never both at once, and the sum has no step.
    #[test]
    fn one_half_at_a_time() {
        let [high, low] = [true, false].map(|is_high| Half { model: MODEL, is_high });
        for step in 0..=1000 {
            let (out, d, supply) = (0.005 * f64::from(step), 0.01, 5.0);
            let from = high.at(&[supply - out, d, supply], &mut [0.0; 3]);
            let to = low.at(&[out, d, supply], &mut [0.0; 3]);
            assert!(from < 1e-11 || to < 1e-11, "{out}: {from} {to}");
            let wanted = 2.5 + 50.0 * 0.012;
            let expected = (0.02 * (wanted - out)).clamp(-25e-3, 25e-3);
            approx::assert_relative_eq!(from - to, expected, epsilon = 1e-11);
        }
    }
}
