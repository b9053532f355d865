//! MOS transistors, enhancement type, n and p channel.
//!
//! # Formula
//!
//! The square law (A. S. Sedra and K. C. Smith, "Microelectronic Circuits", chapter on MOS
//! field-effect transistors; from memory), for an n channel, u = Vgs − threshold:
//!
//! ```text
//! i(drain → source) = K (u Vds − Vds²/2)    0 ≤ Vds < u      ohmic
//!                   = K u² / 2               Vds ≥ u          saturated
//!                   = 0                      u ≤ 0            off
//! ```
//!
//! with i in amps, V and u in volts, K in amps per square volt; and the same with drain and source
//! exchanged when Vds is negative. K follows from the
//! datasheet's on-resistance at a gate voltage, 1/R = K (Vgs − threshold), or is given as
//! `transconductance`. A p channel is the same with all signs turned. The body diode leads from
//! source to drain of an n channel. The gate is insulated, and neither it nor the drain breaks down;
//! threshold and K are those at any temperature.
//!
//! States: off, ohmic ("on"), saturated, and "through its body diode". Failure modes: terminals
//! joined or leaky, leads broken, threshold drifted.

use super::chip_pins::junction;
use super::{At, Branch, Driven, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

const DRAIN: usize = 0;
const GATE: usize = 1;
const SOURCE: usize = 2;

/// Conductance of insulation and of blocked channels, in siemens; see `junction::REVERSE_FLOOR`.
const BLOCKED: f64 = super::junction::REVERSE_FLOOR;

/// Gate volts at which an on-resistance without "at" holds. Common practice, no published source.
const USUAL_GATE: f64 = 4.5;

/// Below this current a channel counts as off, in amps.
const OFF_AMPS: f64 = 1e-7;

const ROWS: &[Parameter] = &[
    Parameter::number("threshold", Unit::Volt, "the gate voltage at which it begins to conduct")
        .within(0.10),
    Parameter::number("on_resistance", Unit::Ohm, "when on, such as \"50 mΩ at 4.5 V\"")
        .point(Unit::Volt)
        .fill(Fill::Absent)
        .within(0.30),
    Parameter::number(
        "transconductance",
        Unit::One,
        "the textbook's K in amps per square volt, in place of an on-resistance",
    )
    .fill(Fill::Absent),
    Parameter::number("body_drop", Unit::Volt, "the drop of its body diode")
        .point(Unit::Amp)
        .fill(Fill::Point(0.7, 10e-3))
        .within(0.10),
    Parameter::number("rated", Unit::Watt, "the most it may dissipate").fill(Fill::Absent),
];

const MODES: &[Mode] = &[
    Mode::Joined("drain", "source"),
    Mode::Joined("gate", "source"),
    Mode::Joined("gate", "drain"),
    Mode::LeakyInside("drain", "source"),
    Mode::LeakyInside("gate", "source"),
    Mode::LeakyInside("gate", "drain"),
    Mode::PinOpen("gate"),
    Mode::PinOpen("drain"),
    Mode::PinOpen("source"),
    Mode::Drifted("threshold"),
];

/// What the two kinds of this file differ in.
pub(super) struct Mosfet {
    name: &'static str,
    about: &'static str,
    is_p: bool,
}

/// An n-channel transistor.
pub(super) const NMOS: Mosfet =
    Mosfet { name: "nmos", about: "an n-channel MOS transistor", is_p: false };

/// A p-channel transistor.
pub(super) const PMOS: Mosfet =
    Mosfet { name: "pmos", about: "a p-channel MOS transistor", is_p: true };

impl Mosfet {
    fn channel(&self, values: &Values<'_>) -> Channel {
        let threshold = values.need("threshold");
        let k = values.get("transconductance").unwrap_or_else(|| {
            let gate = values.at("on_resistance").unwrap_or(USUAL_GATE);
            // A threshold that drifted past the datasheet's gate voltage hardly conducts there.
            1.0 / (values.need("on_resistance") * (gate - threshold).max(0.01 * gate))
        });
        Channel { threshold, k }
    }

    /// Pins so that current flows from the first to the second when an n channel conducts.
    fn way(&self, from: usize, to: usize) -> [usize; 2] {
        if self.is_p { [to, from] } else { [from, to] }
    }
}

impl Kind for Mosfet {
    fn name(&self) -> &'static str {
        self.name
    }

    fn about(&self) -> &'static str {
        self.about
    }

    fn pins(&self) -> Pins {
        Pins::Named(&["drain", "gate", "source"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let name = &part.name;
        let on = part.point("on_resistance");
        match (on, part.nominal("transconductance")) {
            (Some(_), Some(_)) => Err(Problem::new(
                "transconductance",
                format!("`{name}` has both an `on_resistance` and a `transconductance`"),
            )
            .help("give the datasheet's point, or the textbook's K, not both")),
            (None, None) => Err(Problem::new(
                "on_resistance",
                format!("{} `{name}` has no `on_resistance`", self.name),
            )
            .help("write for example \"50 mΩ at 4.5 V\"")),
            (Some(on), None) => {
                let gate = on.at.unwrap_or(USUAL_GATE);
                let threshold = part.nominal("threshold").unwrap_or(0.0);
                if gate > threshold {
                    return Ok(());
                }
                let message = format!(
                    "`{name}` has its `on_resistance` at a gate voltage that is not above its \
                     `threshold`"
                );
                Err(Problem::new("on_resistance", message)
                    .help("gate voltages of p-channel parts are written without the minus sign"))
            }
            _ => Ok(()),
        }
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let [from, to] = self.way(DRAIN, SOURCE);
        let [gate, source] = self.way(GATE, SOURCE);
        let amps = values.at("body_drop").filter(|amps| *amps > 0.0).unwrap_or(10e-3);
        let body = junction(values.need("body_drop"), amps, values.celsius);
        vec![
            Branch::driven(from, to, self.channel(values), &[[gate, source]]),
            Branch::new(to, from, Law::curve(body)),
            Branch::new(GATE, SOURCE, Law::conductance(BLOCKED)),
        ]
    }

    fn modes(&self) -> &'static [Mode] {
        MODES
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["drain"]
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let sign = if self.is_p { -1.0 } else { 1.0 };
        let (over, gate) = (sign * at.between(DRAIN, SOURCE), sign * at.between(GATE, SOURCE));
        let channel = self.channel(values);
        let through = channel.at(&[over, gate], &mut [0.0; 2]);
        let all = sign * at.amps[DRAIN];
        Some(if (all - through).abs() > OFF_AMPS + 0.5 * all.abs() {
            "conducting through its body diode"
        } else if gate.max(gate - over) <= channel.threshold {
            "off"
        } else if over.abs() < gate.max(gate - over) - channel.threshold {
            "on"
        } else {
            "saturated"
        })
    }
}

/// The channel of an n-type; it senses gate to source.
#[derive(Debug, Clone, Copy)]
struct Channel {
    threshold: f64,
    k: f64,
}

impl Channel {
    /// Current with `over` ≥ 0 from drain to source, slopes by `over` and by the gate.
    fn forward(&self, over: f64, gate: f64) -> (f64, f64, f64) {
        let u = gate - self.threshold;
        if u <= 0.0 {
            (0.0, 0.0, 0.0)
        } else if over < u {
            (self.k * over * (u - 0.5 * over), self.k * (u - over), self.k * over)
        } else {
            (0.5 * self.k * u * u, 0.0, self.k * u)
        }
    }
}

impl Driven for Channel {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (over, gate) = (volts[0], volts[1]);
        let amps = if over >= 0.0 {
            let (amps, by_over, by_gate) = self.forward(over, gate);
            (slopes[0], slopes[1]) = (by_over, by_gate);
            amps
        } else {
            // The drain is the source: the gate stands against the drain.
            let (amps, by_over, by_gate) = self.forward(-over, gate - over);
            (slopes[0], slopes[1]) = (by_over + by_gate, -by_gate);
            -amps
        };
        slopes[0] += BLOCKED;
        amps + BLOCKED * over
    }

    fn limit(&self, new: &mut [f64], old: &[f64]) {
        // A parabola has no end: a gate goes at most twice as far past its threshold, and some.
        let u = (old[1] - self.threshold).max(0.0);
        let most = self.threshold + 2.0 * u + 2.0;
        if new[1] > most {
            new[1] = most;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_the_derivatives() {
        let law = Channel { threshold: 2.0, k: 0.5 };
        for over in [-6.0, -1.0, -0.1, 0.1, 0.9, 3.0, 20.0] {
            for gate in [-3.0, 1.9, 2.4, 5.0] {
                let mut slopes = [0.0; 2];
                law.at(&[over, gate], &mut slopes);
                let at = |over, gate| law.at(&[over, gate], &mut [0.0; 2]);
                let h = 1e-6;
                let by_over = (at(over + h, gate) - at(over - h, gate)) / (2.0 * h);
                let by_gate = (at(over, gate + h) - at(over, gate - h)) / (2.0 * h);
                approx::assert_relative_eq!(slopes[0], by_over, epsilon = 1e-6);
                approx::assert_relative_eq!(slopes[1], by_gate, epsilon = 1e-6);
            }
        }
    }

    /// Exchanging drain and source turns the current round.
    #[test]
    fn the_channel_is_symmetric() {
        let law = Channel { threshold: 1.0, k: 2.0 };
        for (drain, source) in [(3.0, 0.5), (0.2, 2.0), (1.0, 1.0)] {
            let gate = 2.5;
            let one = law.at(&[drain - source, gate - source], &mut [0.0; 2]);
            let other = law.at(&[source - drain, gate - drain], &mut [0.0; 2]);
            approx::assert_relative_eq!(one, -other, max_relative = 1e-12, epsilon = 1e-12);
        }
    }

    #[test]
    fn the_on_resistance_is_met_at_small_volts() {
        let law = Channel { threshold: 2.0, k: 1.0 / (0.05 * 2.5) };
        let amps = law.at(&[1e-6, 4.5], &mut [0.0; 2]);
        approx::assert_relative_eq!(1e-6 / amps, 0.05, max_relative = 1e-5);
    }
}
