//! What measurements and repairs cost, in one place.

use crate::circuit::{Board, Circuit, NetId, PartId};

/// What a measurement or a repair costs, in probes of a net. Common practice, no published source.
/// Nets and parts that are hard to reach say so in the circuit file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Holding a probe on a net.
    pub probe: f64,
    /// Switching the power off first, and letting capacitors discharge.
    pub power_off: f64,
    /// Switching it on again.
    pub power_on: f64,
    /// Breaking a path to put the meter in.
    pub break_path: f64,
    /// Lifting a leg of a part to measure it alone.
    pub lift: f64,
    /// Replacing a part, per pin.
    pub replace_pin: f64,
}

impl Default for Effort {
    fn default() -> Effort {
        Effort {
            probe: 1.0,
            power_off: 2.0,
            power_on: 1.0,
            break_path: 5.0,
            lift: 10.0,
            replace_pin: 5.0,
        }
    }
}

impl Effort {
    /// Holding a probe on this net.
    pub fn reach(&self, board: &Board, net: NetId) -> f64 {
        let known = board.net_effort.iter().find(|(known, _)| *known == net);
        known.map_or(self.probe, |(_, effort)| *effort)
    }

    /// Lifting this part, to measure it alone.
    pub fn lift_of(&self, circuit: &Circuit, part: PartId) -> f64 {
        let known = circuit.board.part_effort.iter().find(|(known, _)| *known == part);
        let pins = circuit[part].pins.len();
        // One leg of a part with two, all pins of a chip.
        let own = if pins > 2 { self.replace_pin * pins as f64 } else { self.lift };
        known.map_or(own, |(_, effort)| *effort)
    }
}
