//! Boards that hold one condition as it is, and how far it stands from its threshold.
//!
//! Where a threshold lies within tolerance, some boards of a kind switch and others do not. What
//! those of the other kind do is found by holding the condition and walking on with all others.

use super::assembly::Assembly;
use super::network::Network;
use super::patch::Patch;
use super::point::OperatingPoint;
use super::sensitivity::{Sensitivities, Source};
use super::walk::Watch;
use crate::circuit::{Overlay, SetupId};
use crate::device::of;

/// Steps of a walk with one condition held, in parts of the number of conditions.
pub const HELD_STEPS: usize = 4;
/// The share of a parameter by which a threshold is differentiated.
const STEP: f64 = 1e-4;

/// How far a condition stands from its threshold.
#[derive(Debug, Clone)]
pub struct Margin {
    /// Volts by which the condition is met; negative when it is not.
    pub volts: f64,
    /// Change of it by one standard uncertainty of each source, in the order of
    /// [`Assembly::sources`].
    pub spread: Vec<f64>,
}

impl Margin {
    /// One standard uncertainty of it in volts.
    pub fn standard(&self) -> f64 {
        self.spread.iter().map(|part| part * part).sum::<f64>().sqrt()
    }
}

impl Watch {
    /// The other ones among the conditions of a board.
    pub fn others(&self, watches: &[Watch]) -> Vec<Watch> {
        let is_other = |one: &&Watch| (one.part, one.number) != (self.part, self.number);
        watches.iter().filter(is_other).copied().collect()
    }
}

impl Assembly<'_> {
    /// Powers a setup up while one condition is held on or off, whatever its volts: the board with
    /// its operating point, where the others come to rest.
    pub fn power_up_held(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        held: &Watch,
        on: bool,
    ) -> Option<(Network, OperatingPoint)> {
        let base = self.network(setup, overlay);
        let watches = self.watches(setup, &base);
        let others = held.others(&watches);
        let mut states = base.states().to_vec();
        if on {
            held.flip(&mut states);
        }
        let mut start: Option<OperatingPoint> = None;
        for _ in 0..=HELD_STEPS * watches.len() {
            let network = self.in_states(setup, &base, &watches, &states);
            let from = start.as_ref().filter(|_| !network.may_latch());
            let point = network.solve_from(from, self.settings()).point?;
            let next = self.next_switch(&states, &others, |watch| watch.volts(&network, &point));
            let Some((watch, _)) = next else { return Some((network, point)) };
            watch.flip(&mut states);
            start = Some(point);
        }
        None
    }

    /// How far the volts of a condition stand from the threshold at which it switches on, on a board
    /// where it is off.
    pub fn margin(
        &self,
        setup: SetupId,
        network: &Network,
        point: &OperatingPoint,
        watch: &Watch,
    ) -> Margin {
        let condition = &watch.condition;
        let sign = if condition.rises { 1.0 } else { -1.0 };
        let [red, black] = condition.pins.map(|pin| network.pin_net(watch.part, pin));
        let sensitivities = Sensitivities::new(self, setup, network, point);
        let mut spread: Vec<f64> = sensitivities
            .along(&point.adjoint(red, black))
            .iter()
            .zip(self.sources())
            .map(|(slope, source)| sign * slope * source.standard)
            .collect();
        let own = self.threshold_spread(setup, &network.patch, watch);
        for (spread, own) in spread.iter_mut().zip(own) {
            *spread += own;
        }
        Margin { volts: sign * (point.between(red, black) - condition.on_at), spread }
    }

    /// Change of a condition's margin by one standard uncertainty of each source, by way of the
    /// threshold alone.
    pub fn threshold_spread(&self, setup: SetupId, patch: &Patch, watch: &Watch) -> Vec<f64> {
        let condition = &watch.condition;
        let sign = if condition.rises { 1.0 } else { -1.0 };
        let replaced = patch.replaced(watch.part);
        let spread = |source: &Source| {
            let is_own = source.part == watch.part
                && !replaced.iter().any(|(name, _)| *name == source.parameter);
            if !is_own {
                return 0.0;
            }
            // The threshold with the parameter a little higher.
            let mut values = patch.values(watch.part, self, setup.0, 0);
            let step = STEP * if source.nominal == 0.0 { 1.0 } else { source.nominal };
            values.replaced.push((source.parameter, source.nominal + step));
            let there = of(values.part).conditions(&values);
            let moved = there.get(watch.number).map_or(condition.on_at, |there| there.on_at);
            -sign * (moved - condition.on_at) / step * source.standard
        };
        self.sources().iter().map(spread).collect()
    }
}
