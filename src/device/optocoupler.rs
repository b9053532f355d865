//! Optocoupler: an LED whose light drives a transistor.
//!
//! # Formula
//!
//! ```text
//! i(collector → emitter) = ratio · i(LED) · (1 − exp(−3 Vce / saturation))     Vce > 0
//! ```
//!
//! in amps and volts, and nothing backwards. `ratio` is the current transfer ratio of the data sheet;
//! at `saturation` volts 95 % of its current flows (a smooth way from off to full; common practice,
//! no published source). The LED is an exponential junction through its `drop`, with an ideality of
//! 2. Nothing but the light passes between the two sides.
//!
//! States: off, active, saturated. Failure modes: LED broken or shorted, light faded (`ratio`
//! drifted), transistor shorted, leaky or broken.

use super::{
    At, Branch, Curve, Driven, Fill, Junction, Kind, Law, Mode, Parameter, Pins, Problem, Values,
};
use crate::circuit::Part;
use crate::quantity::Unit;

const ANODE: usize = 0;
const CATHODE: usize = 1;
const COLLECTOR: usize = 2;
const EMITTER: usize = 3;

/// Ideality of the LED. Common practice, no published source.
const IDEALITY: f64 = 2.0;

/// The current at which a drop without "at" holds, in amps.
const USUAL_AMPS: f64 = 10e-3;

/// E-folds from nothing to `saturation` volts.
const FOLDS: f64 = 3.0;

/// Conductance of the dark transistor, in siemens; see `junction::REVERSE_FLOOR`.
const LEAK: f64 = super::junction::REVERSE_FLOOR;

/// Below this current the LED counts as off, in amps.
const OFF_AMPS: f64 = 1e-6;

/// An optocoupler.
pub(super) struct Optocoupler;

/// The transistor; it senses the LED.
#[derive(Debug, Clone, Copy)]
struct Lit {
    led: Junction,
    ratio: f64,
    saturation: f64,
}

impl Driven for Lit {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let over = volts[0];
        (slopes[0], slopes[1]) = (LEAK, 0.0);
        if over <= 0.0 || volts[1] <= 0.0 {
            return LEAK * over;
        }
        let led = self.led.at(volts[1]);
        let x = -FOLDS * over / self.saturation;
        let share = -x.exp_m1();
        slopes[0] += self.ratio * led.amps * x.exp() * FOLDS / self.saturation;
        slopes[1] = self.ratio * led.siemens * share;
        self.ratio * led.amps * share + LEAK * over
    }

    fn limit(&self, new: &mut [f64], old: &[f64]) {
        new[1] = self.led.limit(new[1], old[1]);
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        Some(u32::from(volts[0] > 0.0) + 2 * u32::from(volts[1] > 0.0))
    }
}

impl Optocoupler {
    fn lit(values: &Values<'_>) -> Lit {
        let amps = values.at("drop").filter(|amps| *amps > 0.0).unwrap_or(USUAL_AMPS);
        let led = Junction::through(values.need("drop"), amps, IDEALITY, values.celsius);
        Lit { led, ratio: values.need("ratio"), saturation: values.need("saturation") }
    }
}

impl Kind for Optocoupler {
    fn name(&self) -> &'static str {
        "optocoupler"
    }

    fn about(&self) -> &'static str {
        "an optocoupler with a transistor output"
    }

    fn pins(&self) -> Pins {
        Pins::Named(&["anode", "cathode", "collector", "emitter"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        // The defaults are common practice, no published source.
        const ROWS: &[Parameter] = &[
            Parameter::number("ratio", Unit::One, "its current transfer ratio")
                .fill(Fill::Number(1.0))
                .factor(2.0),
            Parameter::number(
                "drop",
                Unit::Volt,
                "the drop of its LED, such as \"1.2 V at 10 mA\"",
            )
            .point(Unit::Amp)
            .fill(Fill::Point(1.2, USUAL_AMPS))
            .within(0.10),
            Parameter::number("saturation", Unit::Volt, "collector to emitter when saturated")
                .fill(Fill::Number(0.2))
                .within(0.30),
        ];
        ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let Some(at) = part.point("drop").and_then(|drop| drop.at) else { return Ok(()) };
        if at > 0.0 {
            return Ok(());
        }
        let message = format!("`{}` has its drop at no current", part.name);
        Err(Problem::new("drop", message)
            .help("write the current at which the datasheet states the drop"))
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let lit = Self::lit(values);
        vec![
            Branch::new(ANODE, CATHODE, Law::curve(lit.led)),
            Branch::driven(COLLECTOR, EMITTER, lit, &[[ANODE, CATHODE]]),
        ]
    }

    fn modes(&self) -> &'static [Mode] {
        &[
            Mode::PinOpen("anode"),
            Mode::Joined("anode", "cathode"),
            Mode::Drifted("ratio"),
            Mode::Joined("collector", "emitter"),
            Mode::LeakyInside("collector", "emitter"),
            Mode::PinOpen("collector"),
        ]
    }

    fn outputs(&self) -> &'static [&'static str] {
        &["collector", "emitter"]
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let lit = Self::lit(values);
        let amps = lit.led.at(at.between(ANODE, CATHODE)).amps;
        Some(if amps < OFF_AMPS {
            "off"
        } else if at.between(COLLECTOR, EMITTER) < lit.saturation {
            "saturated"
        } else {
            "active"
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::drive::check_slopes;
    use super::*;

    fn lit() -> Lit {
        let led = Junction { saturation: 1e-12, scale: 0.0514, series: 0.0, breakdown: None };
        Lit { led, ratio: 0.8, saturation: 0.2 }
    }

    #[test]
    fn slopes_are_the_derivatives() {
        for over in [-2.0, 0.01, 0.2, 1.0, 24.0] {
            for sensed in [-5.0, 0.3, 1.0, 1.2] {
                check_slopes(&lit(), &[over, sensed], 1e-6);
            }
        }
    }

    #[test]
    fn the_ratio_is_met_and_nothing_flows_backwards() {
        let led = lit().led.at(1.15).amps;
        let at = |over| lit().at(&[over, 1.15], &mut [0.0; 2]);
        approx::assert_relative_eq!(at(5.0), 0.8 * led, max_relative = 1e-9);
        approx::assert_relative_eq!(at(0.2), 0.8 * led * 0.950_213, max_relative = 1e-6);
        assert!(at(-5.0).abs() < 1e-11);
    }
}
