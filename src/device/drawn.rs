//! Currents inside a chip that need its supply: what it draws, the bias of a pin, a pull by a
//! current, a switch to ground.
//!
//! ```text
//! i = amps · ramp(v / knee) · ramp(supply / least)      ramp(x) = 0 below 0, x up to 1, then 1
//! ```
//!
//! A current that has nowhere to go falls to nothing within the knee, so that it never takes a net
//! past the rail that it comes from. The two ends of a ramp are corners, told apart as segments.

use super::drive::rise;
use super::law::Driven;

/// Volts across a current inside a chip at which it is full. Common practice, no published source.
pub(super) const KNEE: f64 = 0.05;

/// Conductance beside it, in siemens; see `junction::REVERSE_FLOOR`.
const LEAK: f64 = super::junction::REVERSE_FLOOR;

/// A current that senses the chip's supply volts after its own.
#[derive(Debug, Clone, Copy)]
pub(super) struct Supplied {
    /// The current at full supply and beyond the knee, in amps.
    pub(super) amps: f64,
    /// Volts across it at which it is full.
    pub(super) knee: f64,
    /// Volts of supply at which it is full.
    pub(super) least: f64,
}

/// From 0 to 1, its slope, and the number of the stretch.
fn ramp(volts: f64, full: f64) -> (f64, f64, u8) {
    rise(volts, 0.0, full)
}

impl Driven for Supplied {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (across, across_slope, _) = ramp(volts[0], self.knee);
        let (supply, supply_slope, _) = ramp(volts[1], self.least);
        slopes[0] = self.amps * across_slope * supply + LEAK;
        slopes[1] = self.amps * across * supply_slope;
        self.amps * across * supply + LEAK * volts[0]
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        Some(u32::from(ramp(volts[0], self.knee).2 * 3 + ramp(volts[1], self.least).2))
    }

    fn amplifies(&self) -> bool {
        false
    }
}

/// A switch to ground that its supply holds closed; it senses the supply volts after its own.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeldSwitch {
    /// Conductance at full supply, in siemens.
    pub(super) siemens: f64,
    /// Volts of supply at which it is full.
    pub(super) least: f64,
}

impl Driven for HeldSwitch {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        let (supply, supply_slope, _) = ramp(volts[1], self.least);
        slopes[0] = self.siemens * supply + LEAK;
        slopes[1] = self.siemens * supply_slope * volts[0];
        slopes[0] * volts[0]
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        Some(u32::from(ramp(volts[1], self.least).2))
    }

    fn amplifies(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_the_derivatives() {
        let supplied = Supplied { amps: 2e-3, knee: KNEE, least: 1.0 };
        let switch = HeldSwitch { siemens: 0.02, least: 1.0 };
        for law in [&supplied as &dyn Driven, &switch] {
            for own in [-2.0, -0.01, 0.01, 0.04, 0.06, 5.0] {
                for supply in [-1.0, 0.01, 0.5, 0.99, 1.01, 12.0] {
                    let mut slopes = [0.0; 2];
                    law.at(&[own, supply], &mut slopes);
                    let h = 1e-6;
                    let at = |own, supply| law.at(&[own, supply], &mut [0.0; 2]);
                    let by_own = (at(own + h, supply) - at(own - h, supply)) / (2.0 * h);
                    let by_supply = (at(own, supply + h) - at(own, supply - h)) / (2.0 * h);
                    approx::assert_relative_eq!(slopes[0], by_own, epsilon = 1e-9);
                    approx::assert_relative_eq!(slopes[1], by_supply, epsilon = 1e-9);
                }
            }
        }
    }

    #[test]
    fn nothing_flows_without_supply_or_against_the_rail() {
        let law = Supplied { amps: 2e-3, knee: KNEE, least: 1.0 };
        let at = |own, supply| law.at(&[own, supply], &mut [0.0; 2]);
        assert!(at(5.0, 0.0).abs() < 1e-11 && at(-5.0, 5.0).abs() < 1e-11);
        approx::assert_relative_eq!(at(5.0, 5.0), 2e-3, max_relative = 1e-9);
    }
}
