//! What measurements and repairs cost, in one place.

use super::measurements::is_live;
use crate::circuit::{Board, Circuit, NetId, PartId, Place, Quantity, SetupId, Spot};
use crate::diagnosis::Probe;

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

    /// Taking a measurement on a board that stands in its setup.
    pub fn of_probe(&self, circuit: &Circuit, probe: &Probe) -> f64 {
        let nets = nets_of(circuit, probe.place);
        // Ground is under the black clip all the time.
        let reached = nets.into_iter().filter(|net| *net != NetId::GROUND);
        let reach = reached.map(|net| self.reach(&circuit.board, net)).reduce(f64::max);
        let broken = if probe.quantity == Quantity::Amps { self.break_path } else { 0.0 };
        reach.unwrap_or(self.probe) + broken
    }

    /// Switching the power off or on.
    pub fn switch(&self, to_live: bool) -> f64 {
        if to_live { self.power_on } else { self.power_off }
    }

    /// Going from one setup to another.
    pub fn switching(&self, circuit: &Circuit, from: SetupId, to: SetupId) -> f64 {
        let of = |setup: SetupId| (setup, is_live(circuit, setup));
        self.between(of(from), of(to))
    }

    /// The same for setups of which it is known whether a source is connected.
    pub(super) fn between(&self, (from, was): (SetupId, bool), (to, is): (SetupId, bool)) -> f64 {
        match (was, is) {
            _ if was != is => self.switch(is),
            // Another supply, another switch: off and on again.
            (true, true) if from != to => self.switch(false) + self.switch(true),
            _ => 0.0,
        }
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

/// The nets that the leads are put on.
pub(crate) fn nets_of(circuit: &Circuit, place: Place) -> Vec<NetId> {
    let net = |spot: Spot| match spot {
        Spot::Net(net) => net,
        Spot::Pin(part, pin) => circuit[part].pins[pin].net,
    };
    match place {
        Place::At(spot) => vec![net(spot)],
        Place::Between(red, black) => vec![net(red), net(black)],
        Place::Part(part) => circuit[part].pins.iter().map(|pin| pin.net).collect(),
    }
}
