//! Shunt references: two pins that hold `volts`, or three that hold the adjust pin at `reference`.
//!
//! # Formula
//!
//! With v = V(cathode) − V(anode) and s = v for two pins, V(adjust) − V(anode) for three:
//!
//! ```text
//! i = minimum · ramp(v / reference) + min(G (s − reference), (v − 0.75 reference) / R, limit)
//! ```
//!
//! in amps, volts, ohms, and G in siemens, with the second term never below zero, and `ramp(x)` 0
//! below 0, x up to 1, then 1. Fed with less than `minimum` it is a resistance and does not hold. G
//! takes the whole limit within a millionth of the reference. With the adjust pin high, the cathode
//! does not go below three quarters of the reference (1.8 to 2 V for a part of 2.5 V, as the trade
//! knows it; common practice, no published source). A junction leads from anode to cathode.
//!
//! A current into the adjust pin (`adjust_bias`) adds its drop across the upper resistor to the
//! output; it may be negative.

use super::chip_pins::{self, CLAMP_DROP};
use super::drawn::{KNEE, Supplied};
use super::law::Driven;
use super::{At, Branch, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Range, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// The share of the reference by which the input is past it at the limit.
const EXCESS: f64 = 1e-6;

/// The share of the reference that the cathode stays above.
const SATURATED: f64 = 0.75;

/// The share of the reference over which the cathode loses its current above that.
const SATURATING: f64 = 0.05;

/// Conductance that stays, in siemens; see `junction::REVERSE_FLOOR`.
const LEAK: f64 = super::junction::REVERSE_FLOOR;

/// The junction from anode to cathode. Common practice, no published source.
const FORWARD: (f64, f64) = (0.7, 10e-3);

/// Volts from cathode to anode at which the bias of the adjust pin is there in full. Common
/// practice, no published source.
const BIAS_SUPPLY: f64 = 1.0;

/// A shunt reference.
pub(super) struct ShuntReference;

impl ShuntReference {
    fn law(values: &Values<'_>) -> Option<Shunt> {
        let reference = values.get("reference").or(values.get("volts"))?;
        Some(Shunt {
            reference,
            minimum: values.get("minimum").unwrap_or(0.0),
            limit: values.need("limit"),
        })
    }

    fn sense(part: &Part) -> Option<[usize; 3]> {
        let (cathode, anode) = (part.pin("cathode")?, part.pin("anode")?);
        Some([cathode, anode, part.pin("adjust").unwrap_or(cathode)])
    }
}

impl Kind for ShuntReference {
    fn name(&self) -> &'static str {
        "shunt-reference"
    }

    fn about(&self) -> &'static str {
        "a shunt reference, fixed or with an adjust pin"
    }

    fn pins(&self) -> Pins {
        Pins::Fitted(&["cathode", "anode"], &["adjust"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("volts", Unit::Volt, "what it holds, with two pins")
                .fill(Fill::Absent)
                .within(0.02),
            Parameter::number("reference", Unit::Volt, "what the adjust pin is held at")
                .fill(Fill::Absent)
                .within(0.02),
            Parameter::number("minimum", Unit::Amp, "the current below which it does not hold")
                .fill(Fill::Absent)
                .factor(2.0),
            Parameter::number("adjust_bias", Unit::Amp, "the current into the adjust pin")
                .fill(Fill::Absent)
                .range(Range::Any)
                .factor(2.0),
            Parameter::number("limit", Unit::Amp, "the most current it takes")
                .fill(Fill::Number(0.1))
                .within(0.25),
            CLAMP_DROP,
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let name = &part.name;
        let help = "give `volts` for two pins, or `reference` with a pin `adjust`";
        let adjust = part.pin("adjust").is_some();
        let given = |key: &str| part.param(key).is_some();
        let (key, message) = match (given("volts"), given("reference")) {
            (true, true) => ("volts", format!("`{name}` has both `volts` and a `reference`")),
            (false, false) if adjust => {
                ("reference", format!("shunt-reference `{name}` has no `reference`"))
            }
            (false, false) => ("volts", format!("shunt-reference `{name}` has no `volts`")),
            (true, false) if adjust => {
                ("volts", format!("`{name}` has `volts` and a pin `adjust`"))
            }
            (false, true) if !adjust => {
                ("reference", format!("`{name}` has a `reference` but no pin `adjust`"))
            }
            _ if given("adjust_bias") && !adjust => {
                ("adjust_bias", format!("`{name}` has an `adjust_bias` but no pin `adjust`"))
            }
            _ => {
                let below = part.nominal("minimum").zip(part.nominal("limit"));
                if below.is_some_and(|(minimum, limit)| minimum >= limit) {
                    let message = format!("`{name}` has a `minimum` that is not below its `limit`");
                    return Err(Problem::new("minimum", message));
                }
                return Ok(());
            }
        };
        Err(Problem::new(key, message).help(help))
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let Some([cathode, anode, sense]) = Self::sense(values.part) else { return Vec::new() };
        let (volts, amps) = FORWARD;
        let forward = chip_pins::junction(volts, amps, values.celsius);
        let mut branches = vec![Branch::new(anode, cathode, Law::curve(forward))];
        let is_dead = values.is_struck("dead");
        match Self::law(values) {
            Some(law) if !is_dead => {
                branches.push(Branch::driven(cathode, anode, law, &[[sense, anode]]));
            }
            _ => branches.push(Branch::new(cathode, anode, Law::conductance(LEAK))),
        }
        let Some(adjust) = values.pin("adjust") else { return branches };
        branches.push(chip_pins::clamp(values, anode, adjust));
        if let Some(amps) = values.get("adjust_bias").filter(|_| !is_dead) {
            let law = Supplied { amps: amps.abs(), knee: KNEE, least: BIAS_SUPPLY };
            let (from, to) = if amps < 0.0 { (cathode, adjust) } else { (adjust, anode) };
            branches.push(Branch::driven(from, to, law, &[[cathode, anode]]));
        }
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[
            Mode::Dead,
            Mode::Joined("cathode", "anode"),
            Mode::LeakyInside("cathode", "anode"),
            Mode::Drifted("reference"),
            Mode::Drifted("volts"),
        ]
    }

    fn rails(&self) -> Option<[&'static str; 2]> {
        Some(["cathode", "anode"])
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let [cathode, anode, sense] = Self::sense(values.part)?;
        let law = Self::law(values).filter(|_| !values.is_struck("dead"));
        let Some(law) = law else { return Some("off") };
        let (v, s) = (at.between(cathode, anode), at.between(sense, anode));
        Some(match law.taken(v, s).2 {
            Piece::Off if v < law.reference => "below what it holds",
            Piece::Off => "off",
            Piece::Regulating => "regulating",
            Piece::Limited => "at its current limit",
            Piece::Saturated => "saturated",
        })
    }
}

/// What it does at the moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Piece {
    Off,
    Regulating,
    Limited,
    Saturated,
}

/// The law from cathode to anode; it senses s after its own volts.
#[derive(Debug, Clone, Copy)]
struct Shunt {
    reference: f64,
    minimum: f64,
    limit: f64,
}

impl Shunt {
    /// What it takes beyond its minimum: amps, slopes by v and s, and the piece.
    fn taken(&self, v: f64, s: f64) -> (f64, [f64; 2], Piece) {
        let limit = self.limit - self.minimum;
        let gain = self.limit / (EXCESS * self.reference);
        let wanted = gain * (s - self.reference);
        let siemens = self.limit / (SATURATING * self.reference);
        let left = siemens * (v - SATURATED * self.reference);
        if wanted <= 0.0 || left <= 0.0 || limit <= 0.0 {
            (0.0, [0.0; 2], Piece::Off)
        } else if wanted < left.min(limit) {
            (wanted, [0.0, gain], Piece::Regulating)
        } else if left < limit {
            (left, [siemens, 0.0], Piece::Saturated)
        } else {
            (limit, [0.0; 2], Piece::Limited)
        }
    }

    fn own(&self, v: f64) -> (f64, f64, u8) {
        if v <= 0.0 {
            (0.0, 0.0, 0)
        } else if v < self.reference {
            let siemens = self.minimum / self.reference;
            (siemens * v, siemens, 1)
        } else {
            (self.minimum, 0.0, 2)
        }
    }
}

impl Driven for Shunt {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (amps, by, _) = self.taken(volts[0], volts[1]);
        let (own, own_slope, _) = self.own(volts[0]);
        slopes[0] = by[0] + own_slope + LEAK;
        slopes[1] = by[1];
        amps + own + LEAK * volts[0]
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        // Off at a low cathode and off at a low adjust pin are two pieces: between them lies one
        // in which it takes all it can.
        let (_, _, piece) = self.taken(volts[0], volts[1]);
        let side = u8::from(piece == Piece::Off && volts[1] > self.reference);
        Some(u32::from((piece as u8 * 2 + side) * 3 + self.own(volts[0]).2))
    }

    /// It corrects the voltage that it is across.
    fn amplifies(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAW: Shunt = Shunt { reference: 2.5, minimum: 1e-3, limit: 0.1 };

    #[test]
    fn slopes_are_the_derivatives() {
        for v in [-1.0, 0.5, 1.9, 2.2, 2.49, 3.0, 12.0] {
            for s in [-1.0, 1.0, 2.499, 2.5 + 1e-7, 2.5 + 2e-6, 2.6, 8.0] {
                let mut slopes = [0.0; 2];
                LAW.at(&[v, s], &mut slopes);
                let at = |v, s| LAW.at(&[v, s], &mut [0.0; 2]);
                let h = 1e-9;
                let by_v = (at(v + h, s) - at(v - h, s)) / (2.0 * h);
                let by_s = (at(v, s + h) - at(v, s - h)) / (2.0 * h);
                approx::assert_relative_eq!(slopes[0], by_v, max_relative = 1e-4, epsilon = 1e-6);
                approx::assert_relative_eq!(slopes[1], by_s, max_relative = 1e-4, epsilon = 1e-6);
            }
        }
    }

    #[test]
    fn it_takes_its_minimum_and_no_more_until_it_holds() {
        let at = |v, s| LAW.at(&[v, s], &mut [0.0; 2]);
        approx::assert_relative_eq!(at(1.25, 1.25), 0.5e-3, max_relative = 1e-6);
        approx::assert_relative_eq!(at(2.5, 2.5), 1e-3, max_relative = 1e-6);
        approx::assert_relative_eq!(at(9.0, 9.0), 0.1, max_relative = 1e-6);
        assert!(at(1.8, 9.0) < 1e-3, "saturated");
    }
}
