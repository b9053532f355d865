//! Logic gates.
//!
//! # Formula
//!
//! Every input counts as a share of the supply, x = V(input) / S, both against the ground pin:
//!
//! ```text
//! level = rise of x from c − w to c + w      c = (low + high) / 2,   w = (high − low) / 10
//! and   = the least level        nand = 1 − and
//! or    = the greatest level     nor  = 1 − or
//! xor   = (1 − product of (1 − 2 level)) / 2
//! ```
//!
//! all of them shares without a unit, with `threshold_low` and `threshold_high` the two thresholds,
//! as shares of the supply: between them a data sheet promises nothing, and a gate switches near the
//! middle (common practice, no published source). The result is the share by which the output is
//! high, in `drive`; an open-drain output has only the switch to ground. Below `minimum_supply` the
//! output lets go. Inputs are insulated. Protection diodes lead from ground to every pin, and from
//! every pin but an open-drain output up to the supply: by these an input feeds a chip without
//! supply.
//!
//! States: off, high, low, and between when an input stands near its threshold. Failure modes:
//! dead, output at either rail, a pin that leaks to a rail, more current for itself; a broken lead
//! counts as a joint.

use super::chip_pins::{self, CLAMP_DROP};
use super::drive::{Fixed, LEAK, Share, Stage, alive, rise, stuck};
use super::{At, Branch, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Range, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// The pins that every gate has, by number.
const OUTPUT: usize = 0;
const SUPPLY: usize = 1;
const GROUND: usize = 2;
const STAGE: Stage = Stage { output: OUTPUT, supply: SUPPLY, ground: GROUND };
/// The first of the inputs; the others follow.
const FIRST_INPUT: usize = 3;

const REQUIRED: &[&str] = &["y", "supply", "ground", "a"];
const OPTIONAL: &[&str] = &["b", "c", "d", "e", "f", "g", "h"];
/// The pins that only sense.
const INPUTS: &[&str] = &["a", "b", "c", "d", "e", "f", "g", "h"];
const FUNCTIONS: &[&str] = &["and", "or", "nand", "nor", "xor", "not", "buffer"];

/// Half of the stretch in which a level rises, as a share of the distance of the thresholds.
const HALF_WIDTH: f64 = 0.1;

/// A logic gate.
pub(super) struct Gate;

/// How the levels of the inputs become one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Function {
    Least,
    Greatest,
    Odd,
}

/// What the gate makes of its inputs; it takes the supply, then every input.
#[derive(Debug, Clone, Copy)]
struct Logic {
    function: Function,
    is_inverted: bool,
    from: f64,
    to: f64,
}

impl Logic {
    fn of(values: &Values<'_>) -> Logic {
        let word = values.part.word("function").unwrap_or("buffer");
        let function = match word {
            "or" | "nor" => Function::Greatest,
            "xor" => Function::Odd,
            _ => Function::Least,
        };
        let (low, high) = (values.need("threshold_low"), values.need("threshold_high"));
        let centre = 0.5 * (low + high);
        // Thresholds that faults bring together or exchange still leave a stretch.
        let half = (HALF_WIDTH * (high - low)).max(1e-3);
        let is_inverted = matches!(word, "nand" | "nor" | "not");
        Logic { function, is_inverted, from: centre - half, to: centre + half }
    }

    /// The level of an input, its slopes by the input and by the supply, and its piece.
    fn level(&self, input: f64, supply: f64) -> (f64, f64, f64, u8) {
        let (level, slope, piece) = rise(input / supply, self.from, self.to);
        (level, slope / supply, -slope * input / (supply * supply), piece)
    }

    /// The number of the input that decides, of the least or of the greatest.
    fn deciding(&self, volts: &[f64]) -> usize {
        let mut found = 1;
        for idx in 2..volts.len() {
            let is_less = volts[idx] < volts[found];
            let is_more = volts[idx] > volts[found];
            if if self.function == Function::Least { is_less } else { is_more } {
                found = idx;
            }
        }
        found
    }
}

impl Share for Logic {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let supply = volts[0];
        let sign = if self.is_inverted { -1.0 } else { 1.0 };
        let result = if self.function == Function::Odd {
            let side = |input: f64| 1.0 - 2.0 * self.level(input, supply).0;
            for idx in 1..volts.len() {
                let (_, by_input, by_supply, _) = self.level(volts[idx], supply);
                let others = (1..volts.len()).filter(|other| *other != idx);
                let others: f64 = others.map(|other| side(volts[other])).product();
                slopes[idx] = sign * others * by_input;
                slopes[0] += sign * others * by_supply;
            }
            let product: f64 = volts[1..].iter().map(|input| side(*input)).product();
            0.5 * (1.0 - product)
        } else {
            let idx = self.deciding(volts);
            let (level, by_input, by_supply, _) = self.level(volts[idx], supply);
            slopes[idx] = sign * by_input;
            slopes[0] = sign * by_supply;
            level
        };
        if self.is_inverted { 1.0 - result } else { result }
    }

    fn rises(&self) -> bool {
        !self.is_inverted || self.function == Function::Odd
    }

    fn segment(&self, volts: &[f64]) -> u32 {
        let piece = |idx: usize| u32::from(self.level(volts[idx], volts[0]).3);
        if self.function == Function::Odd {
            // One digit to the base of three for each of at most eight inputs.
            (1..volts.len()).fold(0, |sum, idx| sum * 3 + piece(idx))
        } else {
            let idx = self.deciding(volts);
            // Which input decides matters only where the level rises.
            if piece(idx) == 1 {
                u32::try_from(idx).unwrap_or(u32::MAX - 2) + 2
            } else {
                piece(idx)
            }
        }
    }
}

impl Gate {
    /// The share of the output where a fault holds it.
    fn held(values: &Values<'_>) -> Option<f64> {
        stuck(values).map(|high| f64::from(u8::from(high)))
    }

    fn output(values: &Values<'_>, share: impl Share + Copy + 'static) -> Vec<Branch> {
        let inputs = (FIRST_INPUT..values.part.pins.len()).map(|pin| [pin, GROUND]);
        STAGE.legs(values, inputs, share)
    }
}

impl Kind for Gate {
    fn name(&self) -> &'static str {
        "gate"
    }

    fn about(&self) -> &'static str {
        "a logic gate"
    }

    fn pins(&self) -> Pins {
        Pins::Fitted(REQUIRED, OPTIONAL)
    }

    fn parameters(&self) -> &'static [Parameter] {
        // The defaults are common practice, no published source: CMOS logic.
        const ROWS: &[Parameter] = &[
            Parameter {
                fill: Fill::Required,
                ..Parameter::word(
                    "function",
                    FUNCTIONS,
                    "and",
                    "what it makes of its inputs: and, or, nand, nor, xor, not, buffer",
                )
            },
            Parameter::number(
                "threshold_low",
                Unit::One,
                "the share of the supply below which an input is low",
            )
            .fill(Fill::Number(0.3))
            .range(Range::Within(0.0, 1.0))
            .within(0.10),
            Parameter::number(
                "threshold_high",
                Unit::One,
                "the share of the supply above which an input is high",
            )
            .fill(Fill::Number(0.7))
            .range(Range::Within(0.0, 1.0))
            .within(0.10),
            Parameter::number("minimum_supply", Unit::Volt, "the supply from which it works")
                .fill(Fill::Number(1.8))
                .within(0.10),
            Parameter::number("output_resistance", Unit::Ohm, "the resistance of its output")
                .fill(Fill::Number(50.0))
                .factor(2.0),
            Parameter::flag("open_drain", false, "whether the output only pulls low"),
            Parameter::number("quiescent", Unit::Amp, "what it takes from its supply for itself")
                .fill(Fill::Absent)
                .factor(2.0),
            CLAMP_DROP,
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "output_resistance")?;
        let name = &part.name;
        let value = |key| part.nominal(key).unwrap_or(0.0);
        if value("threshold_low") >= value("threshold_high") {
            let message =
                format!("`{name}` has its `threshold_low` not below its `threshold_high`");
            return Err(Problem::new("threshold_low", message)
                .help("both are shares of the supply, such as 0.3 and 0.7"));
        }
        let word = part.word("function").unwrap_or("");
        let inputs = part.pins.len().saturating_sub(FIRST_INPUT);
        let takes_one = matches!(word, "not" | "buffer");
        if takes_one && inputs != 1 {
            let message = format!("gate `{name}` (`{word}`) has {inputs} inputs, expected one");
            return Err(Problem::new("function", message).help("give it the pin `a` alone"));
        }
        if !takes_one && inputs < 2 {
            let message = format!("gate `{name}` (`{word}`) has one input, expected two or more");
            return Err(Problem::new("function", message).help("give it the pins `a` and `b`"));
        }
        Ok(())
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let mut branches = chip_pins::protection(values, GROUND);
        let inputs = FIRST_INPUT..values.part.pins.len();
        branches.extend(inputs.map(|pin| chip_pins::clamp(values, pin, SUPPLY)));
        if !values.part.flag("open_drain") {
            branches.push(chip_pins::clamp(values, OUTPUT, SUPPLY));
        }
        if values.is_struck("dead") {
            branches.push(Branch::new(OUTPUT, GROUND, Law::conductance(LEAK)));
            return branches;
        }
        match Self::held(values) {
            Some(share) => branches.extend(Self::output(values, Fixed(share))),
            None => branches.extend(Self::output(values, Logic::of(values))),
        }
        let least = values.need("minimum_supply");
        branches.extend(chip_pins::quiescent(values, SUPPLY, GROUND, least));
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Dead, Mode::StuckHigh, Mode::StuckLow, Mode::PinLeaky, Mode::Raised("quiescent")]
    }

    fn inputs(&self) -> &'static [&'static str] {
        INPUTS
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["y"]
    }

    fn rails(&self) -> Option<[&'static str; 2]> {
        Some(["supply", "ground"])
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let supply = at.between(SUPPLY, GROUND);
        if values.is_struck("dead") || alive(supply, values.need("minimum_supply")).0 < 0.5 {
            return Some("off");
        }
        let share = Self::held(values).unwrap_or_else(|| {
            let inputs = (FIRST_INPUT..at.volts.len()).map(|pin| at.between(pin, GROUND));
            let volts: Vec<f64> = std::iter::once(supply).chain(inputs).collect();
            Logic::of(values).at(&volts, &mut vec![0.0; volts.len()])
        });
        Some(match share {
            share if share >= 1.0 => "high",
            share if share <= 0.0 => "low",
            _ => "between",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::drive::{Leg, check_slopes};
    use super::super::law::Driven;
    use super::*;

    #[test]
    fn slopes_are_the_derivatives() {
        for function in [Function::Least, Function::Greatest, Function::Odd] {
            for is_inverted in [true, false] {
                let share = Logic { function, is_inverted, from: 0.46, to: 0.54 };
                let law = Leg { siemens: 0.02, least: 1.8, is_high: is_inverted, share };
                for own in [-1.0, 0.7] {
                    for supply in [-1.0, 0.0, 1.75, 5.0] {
                        for a in [-1.0, 2.36, 2.51, 2.66, 5.5] {
                            for b in [0.0, 2.4, 2.62, 5.0] {
                                check_slopes(&law, &[own, supply, a, b], 1e-7);
                            }
                        }
                    }
                }
            }
        }
    }

    /// The truth tables of two inputs, a then b: low low, low high, high low, high high.
    #[test]
    fn truth_tables() {
        for (function, is_inverted, table) in [
            (Function::Least, false, [0.0, 0.0, 0.0, 1.0]),
            (Function::Greatest, false, [0.0, 1.0, 1.0, 1.0]),
            (Function::Least, true, [1.0, 1.0, 1.0, 0.0]),
            (Function::Greatest, true, [1.0, 0.0, 0.0, 0.0]),
            (Function::Odd, false, [0.0, 1.0, 1.0, 0.0]),
        ] {
            let logic = Logic { function, is_inverted, from: 0.46, to: 0.54 };
            for (row, expected) in table.into_iter().enumerate() {
                let volts = [3.3, [0.2, 3.0][row / 2], [0.2, 3.0][row % 2]];
                assert_eq!(logic.at(&volts, &mut [0.0; 3]), expected, "{function:?} {row}");
            }
        }
    }

    /// No two pieces of a gate with eight inputs share a number, so that no step leaps over one.
    #[test]
    fn pieces_are_told_apart() {
        let share = Logic { function: Function::Odd, is_inverted: false, from: 0.46, to: 0.54 };
        let law = Leg { siemens: 0.02, least: 1.8, is_high: true, share };
        let mut seen = std::collections::BTreeSet::new();
        for mut piece in 0..3_usize.pow(8) {
            let mut volts = vec![0.1, 5.0];
            for _ in 0..8 {
                volts.push([0.0, 2.5, 5.0][piece % 3]);
                piece /= 3;
            }
            assert!(seen.insert(law.segment(&volts)), "{volts:?}");
        }
    }
}
