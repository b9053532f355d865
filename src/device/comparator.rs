//! Comparator, with hysteresis or without.
//!
//! Without `hysteresis` the output is one continuous law, with d = V(plus) − V(minus):
//!
//! ```text
//! share = 1/2 + gain · (d + offset) / 1 V       held between 0, low, and 1, high
//! ```
//!
//! With `hysteresis` it has two states: the condition `high` holds from d + offset = hysteresis / 2
//! up, and no longer from −hysteresis / 2 down. The switches of the output are in `drive`; an
//! open-drain output has only the one to ground, and may stand above the supply.
//!
//! States: off below the least supply, else high or low, or between the two. Failure modes: dead,
//! output at either rail, a pin that leaks to a rail, more current for itself.

use super::chip_pins::CLAMP_DROP;
use super::drive::{Fixed, LEAK, Share, Stage, alive, rise, stuck};
use super::opamp::{
    BIAS, GROUND, INPUTS, MINIMUM_SUPPLY, MINUS, OFFSET, OUTPUT, OUTPUT_RESISTANCE, PINS, PLUS,
    QUIESCENT, SUPPLY, around,
};
use super::{At, Branch, Condition, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// A comparator.
pub(super) struct Comparator;

/// How high the output is to be without hysteresis; it takes the supply, then plus less minus.
#[derive(Debug, Clone, Copy)]
struct Difference {
    gain: f64,
    offset: f64,
}

impl Difference {
    fn rise(&self, d: f64) -> (f64, f64, u8) {
        let half = 0.5 / self.gain;
        rise(d + self.offset, -half, half)
    }
}

impl Share for Difference {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (share, slope, _) = self.rise(volts[1]);
        slopes[1] = slope;
        share
    }

    fn rises(&self) -> bool {
        true
    }

    fn segment(&self, volts: &[f64]) -> u32 {
        u32::from(self.rise(volts[1]).2)
    }
}

impl Comparator {
    /// The share of the output where something holds it: a fault, or its state.
    fn held(values: &Values<'_>) -> Option<f64> {
        let state = || values.get("hysteresis").map(|_| values.is_on(0));
        stuck(values).or_else(state).map(|high| f64::from(u8::from(high)))
    }

    fn difference(values: &Values<'_>) -> Difference {
        Difference { gain: values.need("gain"), offset: values.need("offset") }
    }

    /// The two switches of the output.
    fn output(values: &Values<'_>, share: impl Share + Copy + 'static) -> Vec<Branch> {
        let stage = Stage { output: OUTPUT, supply: SUPPLY, ground: GROUND };
        stage.legs(values, [[PLUS, MINUS]], share)
    }
}

impl Kind for Comparator {
    fn name(&self) -> &'static str {
        "comparator"
    }

    fn about(&self) -> &'static str {
        "a comparator: its output is high when plus is above minus"
    }

    fn pins(&self) -> Pins {
        Pins::Named(PINS)
    }

    fn parameters(&self) -> &'static [Parameter] {
        // The defaults are common practice, no published source.
        const ROWS: &[Parameter] = &[
            Parameter::number("gain", Unit::One, "full swings of its output per volt of input")
                .fill(Fill::Number(1e5))
                .factor(3.0),
            Parameter::number("hysteresis", Unit::Volt, "from where it falls to where it rises")
                .fill(Fill::Absent)
                .within(0.30),
            OFFSET,
            BIAS,
            Parameter::flag("open_drain", true, "whether the output only pulls low"),
            OUTPUT_RESISTANCE,
            QUIESCENT,
            MINIMUM_SUPPLY,
            CLAMP_DROP,
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "output_resistance")
    }

    fn conditions(&self, values: &Values<'_>) -> Vec<Condition> {
        let Some(hysteresis) = values.get("hysteresis") else { return Vec::new() };
        let (half, offset) = (0.5 * hysteresis, values.need("offset"));
        let parameters = ["hysteresis", "offset"];
        vec![Condition::above("high", [PLUS, MINUS], half - offset, -half - offset, parameters)]
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let up: &[usize] =
            if values.part.flag("open_drain") { &[] } else { &[PLUS, MINUS, OUTPUT] };
        let mut branches = around(values, up);
        if values.is_struck("dead") {
            branches.push(Branch::new(OUTPUT, GROUND, Law::conductance(LEAK)));
        } else if let Some(share) = Self::held(values) {
            branches.extend(Self::output(values, Fixed(share)));
        } else {
            branches.extend(Self::output(values, Self::difference(values)));
        }
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Dead, Mode::StuckHigh, Mode::StuckLow, Mode::PinLeaky, Mode::Raised("quiescent")]
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
        let up = alive(at.between(SUPPLY, GROUND), values.need("minimum_supply")).0;
        if values.is_struck("dead") || up < 0.5 {
            return Some("off");
        }
        let share = Self::held(values)
            .unwrap_or_else(|| Self::difference(values).rise(at.between(PLUS, MINUS)).0);
        Some(match share {
            share if share >= 1.0 => "high",
            share if share <= 0.0 => "low",
            _ => "between high and low",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::drive::{Leg, check_slopes};
    use super::*;

    #[test]
    fn slopes_are_the_derivatives() {
        let share = Difference { gain: 20.0, offset: 1e-3 };
        for is_high in [true, false] {
            let law = Leg { siemens: 0.02, least: 2.0, is_high, share };
            for own in [-1.0, 0.3, 5.0] {
                for supply in [-2.0, 1.0, 1.93, 5.0] {
                    for d in [-1.0, -0.02, 0.0, 0.015, 1.0] {
                        check_slopes(&law, &[own, supply, d], 1e-7);
                    }
                }
            }
        }
    }
}
