//! Series regulators, bucks and boosts: averaged, with their enable, lockout and power-good pins.
//!
//! # Set point
//!
//! With `reference`, the feedback pin stands that far above the ground pin when the output is
//! regulated; the divider between output, feedback and ground makes the output from it. With
//! `reference_to = "output"`, the output stands that far above the feedback pin (the adjustable
//! three-pin family). With `output_volts`, the output itself stands that far above the ground pin.
//! All of it is relative to the ground *pin*: an open ground joint lifts the output, with what the
//! regulator takes for itself (`quiescent`) lifting the ground pin. The law is in `regulation`.
//!
//! # States
//!
//! | condition | holds |
//! | --- | --- |
//! | `lockout` | input to ground above `lockout_rising`, until below `lockout_falling` |
//! | `enable` | enable pin to ground above (or below, `enable_active = "low"`) its threshold |
//! | `good` | what is sensed above `good_above` of the set point; the power-good pin lets go |
//!
//! It is on while lockout and enable hold; one that has neither comes up with its supply, fully at
//! 1 V. Off, nothing passes but the pass diode (`ldo`, `buck`) or the bypass diode (`boost`).
//!
//! # Sources
//!
//! The defaults are common practice, no published source, unless a row of the table says otherwise.

use super::chip_pins::{self, CLAMP_DROP};
use super::drawn::{HeldSwitch, KNEE, Supplied};
use super::regulation::{BLOCKED, Piece, Regulation, START_VOLTS, Topology};
use super::{At, Branch, Condition, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;

/// The threshold of an enable pin when none is given, in volts.
const USUAL_ENABLE: f64 = 1.2;

/// The lower lockout threshold when only the upper one is given, as a share of it.
const LOCKOUT_SHARE: f64 = 0.95;

/// The share of the set point above which the output is good, when the pin is fitted and no share
/// is given, and the share of that at which it is no longer.
const USUAL_GOOD: f64 = 0.9;
const GOOD_FALLING: f64 = 0.97;

/// Resistance of a power-good output that pulls low, in ohms.
const GOOD_OHMS: f64 = 50.0;

/// Drop of the diode from output to input through the pass element.
const PASS_DROP: (f64, f64) = (0.6, 10e-3);

/// What a regulator that is on takes from its own output, in siemens: a nanoamp per volt. Real ones
/// take more (common practice, no published source); it keeps the equations of a net that only the
/// regulator holds well apart from singular.
const OWN_LOAD: f64 = 1e-9;

const REQUIRED: &[&str] = &["input", "output"];
const OPTIONAL: &[&str] = &["ground", "enable", "feedback", "power_good"];

/// What the kinds of this file differ in.
pub(super) struct Regulator {
    name: &'static str,
    about: &'static str,
    topology: Topology,
    rows: &'static [Parameter],
}

/// A series regulator.
pub(super) const LDO: Regulator = Regulator {
    name: "ldo",
    about: "a series regulator, of low dropout or not",
    topology: Topology::Series,
    rows: rows::LDO,
};

/// A step-down converter.
pub(super) const BUCK: Regulator = Regulator {
    name: "buck",
    about: "a step-down converter, coil included",
    topology: Topology::Buck,
    rows: rows::BUCK,
};

/// A step-up converter.
pub(super) const BOOST: Regulator = Regulator {
    name: "boost",
    about: "a step-up converter, coil and rectifier included; `limit` is that of its input",
    topology: Topology::Boost,
    rows: rows::BOOST,
};

/// Where a regulator's own circuit meets the board.
#[derive(Debug, Clone, Copy)]
struct Wiring {
    input: usize,
    output: usize,
    ground: Option<usize>,
    feedback: Option<usize>,
    /// What is compared with the reference, first less second.
    sense: [usize; 2],
    /// What the supply of its own circuit stands against.
    low: usize,
}

impl Wiring {
    fn of(part: &Part) -> Option<Wiring> {
        let (input, output) = (part.pin("input")?, part.pin("output")?);
        let (ground, feedback) = (part.pin("ground"), part.pin("feedback"));
        let sense = match (part.word("reference_to"), feedback) {
            (Some("output"), feedback) => [output, feedback?],
            (_, Some(feedback)) => [feedback, ground?],
            (_, None) => [output, ground?],
        };
        // Without a ground pin its own circuit stands between input and feedback pin.
        let low = ground.or(feedback)?;
        Some(Wiring { input, output, ground, feedback, sense, low })
    }
}

/// The enable thresholds, rising and falling, with the names of their parameters.
fn enable(values: &Values<'_>) -> ([f64; 2], [&'static str; 2]) {
    match (values.get("enable_rising"), values.get("enable_falling")) {
        (Some(rising), Some(falling)) => ([rising, falling], ["enable_rising", "enable_falling"]),
        (Some(rising), None) => ([rising; 2], ["enable_rising"; 2]),
        _ => {
            let both = values.get("enable_threshold").unwrap_or(USUAL_ENABLE);
            ([both; 2], ["enable_threshold"; 2])
        }
    }
}

impl Regulator {
    fn set_point(values: &Values<'_>) -> f64 {
        values.get("reference").unwrap_or_else(|| values.need("output_volts"))
    }

    fn regulation(&self, values: &Values<'_>) -> Regulation {
        let at = values.at("dropout").filter(|amps| *amps > 0.0);
        let dropout = values.get("dropout");
        Regulation {
            topology: self.topology,
            reference: Self::set_point(values),
            limit: values.get("limit"),
            drop: if at.is_some() { 0.0 } else { dropout.unwrap_or(0.0) },
            ohms: dropout.zip(at).map(|(volts, amps)| volts / amps),
            minimum_load: values.get("minimum_load").unwrap_or(0.0),
            efficiency: values.get("efficiency").unwrap_or(1.0).min(1.0),
        }
    }

    /// Whether every condition but that of the power-good pin holds.
    fn is_on(&self, values: &Values<'_>) -> bool {
        let conditions = self.conditions(values);
        let mut needed = conditions.iter().enumerate().filter(|(_, c)| c.name != "good");
        !values.is_struck("dead") && needed.all(|(number, _)| values.is_on(number))
    }

    /// Whether the condition of that name holds; `None` where there is none.
    fn holds(&self, values: &Values<'_>, name: &str) -> Option<bool> {
        let number = self.conditions(values).iter().position(|c| c.name == name)?;
        Some(values.is_on(number))
    }

    /// What flows while it is on.
    fn running(&self, values: &Values<'_>, wiring: &Wiring, branches: &mut Vec<Branch>) {
        let Wiring { input, output, sense, low, .. } = *wiring;
        let law = self.regulation(values);
        let senses = [[input, output], sense, [input, low]];
        branches.push(Branch::new(output, low, Law::conductance(OWN_LOAD)));
        if sense == [output, low] {
            let [own, _, supply] = senses;
            branches.push(Branch::driven(low, output, law.own_output_law(), &[own, supply]));
            branches.push(Branch::driven(input, low, law.input_law(), &senses));
        } else if self.topology == Topology::Series {
            branches.push(Branch::driven(input, output, law.output_law(), &senses));
        } else {
            branches.push(Branch::driven(low, output, law.output_law(), &senses));
            branches.push(Branch::driven(input, low, law.input_law(), &senses));
        }
        branches.extend(chip_pins::quiescent(values, input, low, START_VOLTS));
        if let (Some(amps), Some(feedback)) = (values.get("feedback_bias"), wiring.feedback) {
            let law = Supplied { amps: amps.abs(), knee: KNEE, least: START_VOLTS };
            // What flows out of the pin comes from the input; what flows into it leaves by the
            // ground pin, or by the output where there is none.
            let (from, to) = match amps < 0.0 {
                true => (input, feedback),
                false => (feedback, wiring.ground.unwrap_or(output)),
            };
            branches.push(Branch::driven(from, to, law, &[[input, low]]));
        }
    }
}

impl Kind for Regulator {
    fn name(&self) -> &'static str {
        self.name
    }

    fn about(&self) -> &'static str {
        self.about
    }

    fn pins(&self) -> Pins {
        Pins::Fitted(REQUIRED, OPTIONAL)
    }

    fn parameters(&self) -> &'static [Parameter] {
        self.rows
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        check::set_point(self.name, part)?;
        check::pins(self.name, part)?;
        check::thresholds(part)?;
        check::numbers(part)
    }

    fn conditions(&self, values: &Values<'_>) -> Vec<Condition> {
        let Some(wiring) = Wiring::of(values.part) else { return Vec::new() };
        let mut conditions = Vec::new();
        if let (Some(rising), Some(ground)) = (values.get("lockout_rising"), wiring.ground) {
            let (falling, name) = match values.get("lockout_falling") {
                Some(falling) => (falling, "lockout_falling"),
                None => (LOCKOUT_SHARE * rising, "lockout_rising"),
            };
            let pins = [wiring.input, ground];
            let names = ["lockout_rising", name];
            conditions.push(Condition::above("lockout", pins, rising, falling, names));
        }
        if let (Some(pin), Some(ground)) = (values.pin("enable"), wiring.ground) {
            let ([rising, falling], [up, down]) = enable(values);
            let pins = [pin, ground];
            conditions.push(match values.part.word("enable_active") {
                Some("low") => Condition::below("enable", pins, falling, rising, [down, up]),
                _ => Condition::above("enable", pins, rising, falling, [up, down]),
            });
        }
        if values.pin("power_good").is_some() && wiring.ground.is_some() {
            let share = values.get("good_above").unwrap_or(USUAL_GOOD);
            let good = share * Self::set_point(values);
            let names = ["good_above"; 2];
            conditions.push(Condition::above(
                "good",
                wiring.sense,
                good,
                GOOD_FALLING * good,
                names,
            ));
        }
        conditions
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let Some(wiring) = Wiring::of(values.part) else { return Vec::new() };
        let Wiring { input, output, .. } = wiring;
        let mut branches = Vec::new();
        let is_on = self.is_on(values);
        branches.push(Branch::new(input, output, Law::conductance(BLOCKED)));
        if is_on {
            self.running(values, &wiring, &mut branches);
        }
        if values.part.flag("pass_diode") {
            let (volts, amps) = PASS_DROP;
            let law = chip_pins::junction(volts, amps, values.celsius);
            branches.push(Branch::new(output, input, Law::curve(law)));
        }
        if let Some(volts) = values.get("bypass_drop") {
            let amps = values.at("bypass_drop").unwrap_or(0.1);
            let law = chip_pins::junction(volts, amps, values.celsius);
            branches.push(Branch::new(input, output, Law::curve(law)));
        }
        let Some(ground) = wiring.ground else { return branches };
        if let Some(pin) = values.pin("power_good")
            && !(is_on && self.holds(values, "good") == Some(true))
            && !values.is_struck("dead")
        {
            let law = HeldSwitch { siemens: 1.0 / GOOD_OHMS, least: START_VOLTS };
            branches.push(Branch::driven(pin, ground, law, &[[input, ground]]));
        }
        if let Some(pin) = values.pin("enable") {
            branches.extend(chip_pins::pull(values, "enable_pull", pin, input, ground));
        }
        branches.extend(chip_pins::protection(values, ground));
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[
            Mode::Dead,
            Mode::Joined("input", "output"),
            Mode::Drifted("reference"),
            Mode::Drifted("output_volts"),
            Mode::PinLeaky,
            Mode::Lost("enable_pull"),
            Mode::Raised("quiescent"),
        ]
    }

    fn inputs(&self) -> &'static [&'static str] {
        &["enable"]
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["output", "power_good"]
    }

    fn rails(&self) -> Option<[&'static str; 2]> {
        Some(["input", "ground"])
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let wiring = Wiring::of(values.part)?;
        let supply = at.between(wiring.input, wiring.low);
        let [plus, minus] = wiring.sense;
        let volts = [at.between(wiring.input, wiring.output), at.between(plus, minus), supply];
        let piece = self.regulation(values).piece(volts);
        // What is enabled may still pass on the little that it is fed with.
        let passes = self.is_on(values) && piece != Piece::Blocked && supply > 0.1 * START_VOLTS;
        if values.is_struck("dead") || (supply < 0.5 * START_VOLTS && !passes) {
            return Some("off");
        }
        if self.holds(values, "lockout") == Some(false) {
            return Some("locked out");
        }
        if self.holds(values, "enable") == Some(false) {
            return Some("disabled");
        }
        Some(match piece {
            Piece::Above => "above its set point",
            Piece::Regulating => "regulating",
            Piece::Limited => "at its current limit",
            Piece::Dropout | Piece::Blocked => "in dropout",
        })
    }
}

mod check;
mod rows;

#[cfg(test)]
mod tests;
