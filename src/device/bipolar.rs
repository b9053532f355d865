//! Bipolar transistors, npn and pnp.
//!
//! # Formula
//!
//! The transport form of J. J. Ebers and J. L. Moll ("Large-signal behavior of junction
//! transistors", Proc. IRE 42, 1954; I. E. Getreu, "Modeling the Bipolar Transistor", 1976, for the
//! transport form; both from memory), written for an npn, s the ideality times kT/q:
//!
//! ```text
//! i(base → emitter)      = Is/βF (exp(Vbe / s) − 1)
//! i(base → collector)    = Is/βR (exp(Vbc / s) − 1)
//! i(collector → emitter) = Is (exp(Vbe / s) − exp(Vbc / s))
//! ```
//!
//! with i and Is in amps, V and s in volts. A pnp is the same with all signs turned. Is follows from
//! the `drop`, a base-emitter voltage at a collector current, or is given as `saturation_current`;
//! the drop moves by −2 mV per kelvin (silicon; common practice, from memory). No Early effect: what
//! a multimeter shows of it is less than what the gain of two transistors of one type differs by. No
//! junction breaks down, and the gains are those at any current and temperature.
//!
//! With `approximation = "constant drop"` the base takes no current below the drop and all of it
//! at the drop, the collector takes `gain` times that while it is `saturation` above the emitter,
//! and no more than it gets below: cutoff, active and saturated region of the classroom.
//!
//! States, from the volts: off, active, saturated, and reversed when collector and emitter have
//! changed their parts. Failure modes: terminals joined or leaky, leads broken, gain lost.

use super::junction::{TAIL_AMPS, saturation_through, thermal_volts};
use super::{
    At, Branch, Curve, Driven, Fill, Junction, Kind, Law, Mode, Parameter, Pins, Problem, Sample,
    Values,
};
use crate::circuit::Part;
use crate::quantity::Unit;

const COLLECTOR: usize = 0;
const BASE: usize = 1;
const EMITTER: usize = 2;

/// Collector current at which a drop without "at" holds, in amps.
const USUAL_AMPS: f64 = 1e-3;

/// Conductance between collector and emitter that is always there, in siemens; see
/// `junction::REVERSE_FLOOR`.
const BLOCKED: f64 = super::junction::REVERSE_FLOOR;

/// Slope of what the constant-drop approximation holds, in siemens: a tenth of a microvolt for a
/// milliamp.
const STEEP: f64 = 1e4;

/// Below this base current a transistor counts as off, in amps.
const OFF_AMPS: f64 = 1e-8;

const ROWS: &[Parameter] = &[
    Parameter::number("gain", Unit::One, "its current gain").factor(2.0),
    Parameter::number("drop", Unit::Volt, "base to emitter, such as \"0.65 V at 1 mA\"")
        .point(Unit::Amp)
        .fill(Fill::Point(0.65, USUAL_AMPS))
        .within(0.10),
    // Between a tenth and a few for small-signal types: common practice, no published source.
    Parameter::number("reverse_gain", Unit::One, "its gain with collector and emitter exchanged")
        .fill(Fill::Number(1.0))
        .factor(2.0),
    Parameter::number("ideality", Unit::One, "the junctions' ideality").fill(Fill::Number(1.0)),
    Parameter::number(
        "saturation_current",
        Unit::Amp,
        "the textbook saturation current, in place of a drop",
    )
    .fill(Fill::Absent),
    Parameter::number(
        "saturation",
        Unit::Volt,
        "collector to emitter when saturated, for the constant drop",
    )
    .fill(Fill::Number(0.2))
    .range(super::Range::NotNegative),
    Parameter::word(
        "approximation",
        &["exponential", "constant drop"],
        "exponential",
        "how it is modelled: exponential, constant drop",
    ),
    Parameter::number("rated", Unit::Watt, "the most it may dissipate").fill(Fill::Absent),
];

const MODES: &[Mode] = &[
    Mode::Joined("collector", "emitter"),
    Mode::Joined("base", "emitter"),
    Mode::Joined("collector", "base"),
    Mode::LeakyInside("collector", "emitter"),
    Mode::LeakyInside("collector", "base"),
    Mode::LeakyInside("base", "emitter"),
    Mode::PinOpen("base"),
    Mode::PinOpen("collector"),
    Mode::PinOpen("emitter"),
    Mode::Drifted("gain"),
];

/// What the two kinds of this file differ in.
pub(super) struct Bipolar {
    name: &'static str,
    about: &'static str,
    is_pnp: bool,
}

/// An npn transistor.
pub(super) const NPN: Bipolar =
    Bipolar { name: "npn", about: "an npn bipolar transistor", is_pnp: false };

/// A pnp transistor.
pub(super) const PNP: Bipolar =
    Bipolar { name: "pnp", about: "a pnp bipolar transistor", is_pnp: true };

/// The values that the equations take.
#[derive(Debug, Clone, Copy)]
struct Model {
    saturation: f64,
    scale: f64,
    forward: f64,
    reverse: f64,
}

impl Bipolar {
    fn model(&self, values: &Values<'_>) -> Model {
        let scale = values.need("ideality") * thermal_volts(values.celsius);
        let saturation = values.get("saturation_current").unwrap_or_else(|| {
            let amps = values.at("drop").filter(|amps| *amps > 0.0).unwrap_or(USUAL_AMPS);
            saturation_through(values.need("drop"), amps, scale, values.celsius)
        });
        let (forward, reverse) = (values.need("gain"), values.need("reverse_gain"));
        Model { saturation, scale, forward, reverse }
    }

    /// Pins so that current flows from the first to the second when an npn conducts.
    fn way(&self, from: usize, to: usize) -> [usize; 2] {
        if self.is_pnp { [to, from] } else { [from, to] }
    }
}

impl Kind for Bipolar {
    fn name(&self) -> &'static str {
        self.name
    }

    fn about(&self) -> &'static str {
        self.about
    }

    fn pins(&self) -> Pins {
        Pins::Named(&["collector", "base", "emitter"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let given = part.is_given("drop");
        if part.nominal("saturation_current").is_some() && given {
            let message = format!("`{}` has both a `drop` and a `saturation_current`", part.name);
            return Err(Problem::new("saturation_current", message).help(
                "give the datasheet's drop, or the textbook's saturation current, not both",
            ));
        }
        Ok(())
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let [base, emitter] = self.way(BASE, EMITTER);
        let [base_too, collector] = self.way(BASE, COLLECTOR);
        let [from, to] = self.way(COLLECTOR, EMITTER);
        if values.part.word("approximation") == Some("constant drop") {
            let (drop, gain) = (values.need("drop"), values.need("gain"));
            let input = Branch::new(base, emitter, Law::curve(Threshold { drop }));
            let output = Held { drop, gain, saturation: values.need("saturation") };
            // No leak from the collector: a base that hangs open has no drop.
            return vec![input, Branch::driven(from, to, output, &[[base, emitter]])];
        }
        let model = self.model(values);
        let junction = |gain: f64| {
            Law::curve(Junction {
                saturation: model.saturation / gain,
                scale: model.scale,
                series: 0.0,
                breakdown: None,
            })
        };
        let transport = Transport(model);
        let senses = [[base, emitter], [base_too, collector]];
        vec![
            Branch::new(base, emitter, junction(model.forward)),
            Branch::new(base_too, collector, junction(model.reverse)),
            Branch::driven(from, to, transport, &senses),
        ]
    }

    fn modes(&self) -> &'static [Mode] {
        MODES
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["collector"]
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let sign = if self.is_pnp { -1.0 } else { 1.0 };
        let (base, collector) = (sign * at.amps[BASE], sign * at.amps[COLLECTOR]);
        let over = sign * at.between(COLLECTOR, EMITTER);
        Some(if collector < -OFF_AMPS && over < 0.0 {
            "reversed"
        } else if base < OFF_AMPS && collector < values.need("gain") * OFF_AMPS {
            "off"
        // What the gain would carry does not flow: the rest of the circuit limits it.
        } else if collector < 0.9 * values.need("gain") * base {
            "saturated"
        } else {
            "active"
        })
    }
}

/// The current from collector to emitter; it senses base to emitter and base to collector.
#[derive(Debug)]
struct Transport(Model);

impl Driven for Transport {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let Model { saturation, scale, .. } = self.0;
        let (forward, forward_slope) = exponential(saturation, volts[1], scale);
        let (reverse, reverse_slope) = exponential(saturation, volts[2], scale);
        slopes[0] = BLOCKED;
        slopes[1] = forward_slope;
        slopes[2] = -reverse_slope;
        forward - reverse + BLOCKED * volts[0]
    }

    fn limit(&self, new: &mut [f64], old: &[f64]) {
        let Model { saturation, scale, forward, reverse } = self.0;
        // As the junctions of the transistor limit themselves, so that all stand at one place.
        for (idx, gain) in [(1, forward), (2, reverse)] {
            let junction =
                Junction { saturation: saturation / gain, scale, series: 0.0, breakdown: None };
            new[idx] = junction.limit(new[idx], old[idx]);
        }
    }
}

/// `amps (exp(v / scale) − 1)` and its slope by v, going on as a tangent above [`TAIL_AMPS`].
fn exponential(amps: f64, volts: f64, scale: f64) -> (f64, f64) {
    let x = volts / scale;
    let tail = (TAIL_AMPS / amps).ln();
    if x > tail {
        (TAIL_AMPS * (1.0 + x - tail) - amps, TAIL_AMPS / scale)
    } else {
        (amps * x.exp_m1(), amps * x.exp() / scale)
    }
}

/// Nothing below a drop, all there is at it.
#[derive(Debug)]
struct Threshold {
    drop: f64,
}

impl Curve for Threshold {
    fn at(&self, volts: f64) -> Sample {
        let over = (volts - self.drop).max(0.0);
        let siemens = BLOCKED + if over > 0.0 { STEEP } else { 0.0 };
        Sample { amps: STEEP * over + BLOCKED * volts, siemens }
    }

    fn segment(&self, volts: f64) -> Option<u8> {
        Some(u8::from(volts > self.drop))
    }
}

/// The collector of the constant-drop approximation; it senses base to emitter.
#[derive(Debug)]
struct Held {
    drop: f64,
    gain: f64,
    saturation: f64,
}

impl Held {
    /// What the base asks for, and what the collector can give.
    fn sides(&self, volts: &[f64]) -> (f64, f64) {
        let asked = self.gain * STEEP * (volts[1] - self.drop).max(0.0);
        (asked, STEEP * (volts[0] - self.saturation).max(0.0))
    }
}

impl Driven for Held {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (asked, given) = self.sides(volts);
        slopes[0] = BLOCKED;
        slopes[1] = 0.0;
        match self.segment(volts) {
            Some(1) => slopes[1] = self.gain * STEEP,
            Some(2) => slopes[0] += STEEP,
            _ => {}
        }
        asked.min(given) + BLOCKED * volts[0]
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        let (asked, given) = self.sides(volts);
        Some(if asked <= 0.0 || given <= 0.0 {
            // Which of the two is missing decides where a step has to stop.
            3 + u32::from(asked > 0.0) + 2 * u32::from(given > 0.0)
        } else if asked <= given {
            1
        } else {
            2
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One of the published operating points of an emitter-coupled pair with positive feedback:
    /// 10 V, 1.5 V at the first base, 2 kΩ and 1 kΩ in the collectors, 100 Ω in the emitters,
    /// 10 kΩ from the first collector to the second base; Is = 1e-16 A, αF = 0.99, αR = 0.5,
    /// n = 38.78 per volt. Kirchhoff's current law holds there with these laws.
    #[test]
    fn a_published_operating_point_satisfies_the_laws() {
        let model = Model { saturation: 1e-16, scale: 1.0 / 38.78, forward: 99.0, reverse: 1.0 };
        let [c1, e, c2, b2] =
            [8.632514359771012, 0.9645512252802462, 1.0382316201484962, 1.7961284667955193];
        let amps = |c: f64, b: f64, e: f64| {
            let Model { saturation, scale, forward, reverse } = model;
            let to_emitter = exponential(saturation / forward, b - e, scale).0;
            let to_collector = exponential(saturation / reverse, b - c, scale).0;
            let through = Transport(model).at(&[c - e, b - e, b - c], &mut [0.0; 3]);
            [through - to_collector, to_emitter + to_collector, -through - to_emitter]
        };
        let (first, second) = (amps(c1, 1.5, e), amps(c2, b2, e));
        let sums = [
            (c1 - 10.0) / 2e3 + (c1 - b2) / 10e3 + first[0],
            (c2 - 10.0) / 1e3 + second[0],
            e / 100.0 + first[2] + second[2],
            (b2 - c1) / 10e3 + second[1],
        ];
        for sum in sums {
            assert!(sum.abs() < 1e-12, "{sums:?}");
        }
    }

    #[test]
    fn slopes_are_the_derivatives() {
        let laws: [(&dyn Driven, usize); 2] = [
            (
                &Transport(Model { saturation: 1e-14, scale: 0.026, forward: 150.0, reverse: 1.0 }),
                3,
            ),
            (&Held { drop: 0.7, gain: 100.0, saturation: 0.2 }, 2),
        ];
        for (law, n) in laws {
            for own in [-1.0, 0.1, 0.25, 5.0] {
                for sensed in [-2.0, 0.3, 0.65, 0.700_000_1, 0.75] {
                    let volts = [own, sensed, sensed - own];
                    let volts = &volts[..n];
                    let mut slopes = vec![0.0; n];
                    law.at(volts, &mut slopes);
                    for idx in 0..n {
                        let h = 1e-8;
                        let moved = |by: f64| {
                            let mut there = volts.to_vec();
                            there[idx] += by;
                            law.at(&there, &mut vec![0.0; n])
                        };
                        let slope = (moved(h) - moved(-h)) / (2.0 * h);
                        approx::assert_relative_eq!(
                            slopes[idx],
                            slope,
                            max_relative = 1e-4,
                            // What is left of the currents' own rounding.
                            epsilon = 1e-6 + 4.0 * f64::EPSILON * moved(0.0).abs() / h
                        );
                    }
                }
            }
        }
    }
}
