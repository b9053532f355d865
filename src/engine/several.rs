//! All operating points of a board: parts that amplify may hold each other in one of several.
//!
//! Newton's method is started from points spread evenly over what the sources can reach, until
//! the count is complete by the degree test: over all operating points of a board whose currents
//! stay bounded by its voltages, the signs of the Jacobian's determinant, normalised by that of
//! the same branches without gain, add up to +1. A sum that differs proves that a point is
//! missing; an even number of points cannot be right. (For bipolar transistors, diodes, resistors
//! and independent sources: M. M. Green and A. N. Willson, "On the uniqueness of a circuit's dc
//! operating point when its transistors have variable current gains", IEEE Trans. Circuits and
//! Systems 36, 1989; from memory.)

use super::assembly::Assembly;
use super::equations::{Aid, Equations};
use super::network::Network;
use super::newton::Walk;
use super::point::{OperatingPoint, Settings};
use super::strategy::{factor_is_sound, pseudo_transient};
use super::walk::PowerUp;
use crate::circuit::{Overlay, SetupId};
use crate::device::Law;

/// Starts that may bring nothing new, once the signs add up.
const QUIET_STARTS: usize = 40;
/// The same where many changes are tried.
const FEW_STARTS: usize = 10;
/// Starts in all.
const MOST_STARTS: usize = 4000;
/// Points after which no more are looked for: every part that remembers by itself multiplies them by
/// three, and ten of them have thousands that nobody reads.
const MOST_POINTS: usize = 81;
/// The same where many changes are tried.
const FEW_POINTS: usize = 27;
/// Two points are one when no net differs by more volts than this, or this share of its volts.
const SAME: f64 = 1e-6;

/// One of the operating points of a board.
#[derive(Debug, Clone)]
pub struct Several {
    /// The branches, with every part in its state.
    pub network: Network,
    /// The point.
    pub point: OperatingPoint,
    /// Whether a board can stay in it: the sign of its determinant is that of a board without gain.
    pub stable: bool,
}

/// The operating points of one network.
#[derive(Debug, Clone)]
pub struct AllPoints {
    /// The points, each with its sign: +1 for one that can be stable.
    pub points: Vec<(OperatingPoint, f64)>,
    /// Starts that were tried.
    pub starts: usize,
    /// Starts that did not settle.
    pub unsettled: usize,
}

impl AllPoints {
    /// The sum of all signs: +1 when no point is missing.
    pub fn degree(&self) -> f64 {
        self.points.iter().map(|(_, sign)| sign).sum()
    }
}

impl Network {
    /// All operating points, by Newton's method from many starts. `quiet` starts that find nothing
    /// new end the search once the signs add up; [`Network::solve`] finds the first one.
    pub fn all_points(&self, settings: &Settings, quiet: usize) -> AllPoints {
        self.all_points_with(self.solve(settings).point, settings, quiet)
    }

    /// The same with the first point known already: finding it from nothing takes as long as many
    /// starts.
    fn all_points_with(
        &self,
        first: Option<OperatingPoint>,
        settings: &Settings,
        quiet: usize,
    ) -> AllPoints {
        let equations = Equations::new(self, settings);
        let mut all = AllPoints { points: Vec::new(), starts: 0, unsettled: 0 };
        if let Some(point) = first {
            let sign = equations.sign(&equations.state(&point.x), &Aid::NONE);
            all.points.push((point, sign));
        }
        if !self.may_latch() {
            return all;
        }
        let (low, high) = self.reach();
        let steps: Vec<f64> = primes(equations.len()).map(f64::sqrt).collect();
        let mut since = 0;
        let most = MOST_STARTS.min(100 * quiet);
        let enough = if quiet < QUIET_STARTS { FEW_POINTS } else { MOST_POINTS };
        let is_open = |all: &AllPoints, since| {
            all.points.len() < enough && (since < quiet || (all.degree() - 1.0).abs() > 0.5)
        };
        while all.starts < most && is_open(&all, since) {
            all.starts += 1;
            since += 1;
            let mut unknowns = vec![0.0; equations.len()];
            for (unknown, step) in unknowns.iter_mut().zip(&steps).take(self.n_nets - 1) {
                // Multiples of roots of primes spread evenly (R. D. Richtmyer, 1951; from memory).
                *unknown = low + (high - low) * (step * all.starts as f64).fract();
            }
            let start = equations.state(&unknowns);
            let walk = equations.walk_anywhere(&start, &Aid::NONE, settings);
            // A walk that runs in circles is backed by steps of time from the same start.
            let found = match walk {
                Walk::Settled { state, factor, .. } => Some((state, *factor)),
                _ => pseudo_transient(&equations, &start, 1.0, settings).found,
            };
            let Some((state, factor)) = found else {
                all.unsettled += 1;
                continue;
            };
            let point = self.check(&equations, &state, factor, settings);
            if point.kcl_share > 1.0 || !factor_is_sound(&point, settings) {
                all.unsettled += 1;
                continue;
            }
            if all.points.iter().all(|(known, _)| !is_same(known, &point)) {
                let sign = equations.sign(&state, &Aid::NONE);
                all.points.push((point, sign));
                since = 0;
            }
        }
        all
    }

    /// The least and the most volts that the sources can bring a net to, roughly.
    fn reach(&self) -> (f64, f64) {
        let volts = self.elements.iter().map(|element| match &element.law {
            Law::Line { siemens, amps } if *siemens > 0.0 => -amps / siemens,
            Law::Curve(curve) => curve.first(),
            Law::Volts(volts) => *volts,
            _ => 0.0,
        });
        let (mut low, mut high) = (-1.0_f64, 1.0_f64);
        for volts in volts.filter(|volts| volts.abs() < 1e3) {
            low = low.min(volts);
            high = high.max(volts);
        }
        (low, high)
    }
}

fn is_same(one: &OperatingPoint, other: &OperatingPoint) -> bool {
    one.volts
        .iter()
        .zip(&other.volts)
        .all(|(one, other)| (one - other).abs() <= SAME * (1.0 + one.abs()))
}

fn primes(n: usize) -> impl Iterator<Item = f64> {
    let is_prime = |number: &u32| {
        (2..*number).take_while(|d| d * d <= *number).all(|d| !number.is_multiple_of(d))
    };
    (2_u32..).filter(is_prime).take(n).map(f64::from)
}

impl Assembly<'_> {
    /// Whether parts of a healthy setup may hold each other in one of several states.
    pub fn may_latch(&self, setup: SetupId) -> bool {
        self.latching()[setup.0]
    }

    /// Whether parts of a setup with an overlay may hold each other in one of several states, with
    /// its conditions in these states.
    pub fn may_latch_with(&self, setup: SetupId, overlay: &Overlay, states: &[u8]) -> bool {
        let base = self.network(setup, overlay);
        let watches = self.watches(setup, &base);
        self.in_states(setup, &base, &watches, states).may_latch()
    }

    /// Whether a setup with an overlay can stay in more than one state at all: it has parts that
    /// remember, or parts that may hold each other.
    pub fn may_have_several(&self, setup: SetupId, overlay: &Overlay) -> bool {
        self.has_states() || self.network(setup, overlay).may_latch()
    }

    /// The states that a setup with an overlay can stay in, that of power-up first; fewer starts
    /// than [`Assembly::all_states`], for many changes.
    pub fn stable_states(
        &self,
        setup: SetupId,
        overlay: &Overlay,
    ) -> Vec<(Network, OperatingPoint)> {
        let found = self.powered(setup, overlay, None);
        let Some(point) = found.run.point.clone() else { return Vec::new() };
        let mut all = vec![(found.network.clone(), point.clone())];
        let near = self.near_patterns(setup, &found);
        let networks = std::iter::once((found.network.clone(), Some(point)))
            .chain(near.into_iter().map(|(network, run)| (network, run.point)));
        for (network, first) in networks {
            if all.len() >= FEW_POINTS {
                break;
            }
            let points = network.all_points_with(first, self.settings(), FEW_STARTS).points;
            for (point, sign) in points {
                let known = all
                    .iter()
                    .any(|(known, at)| known.states() == network.states() && is_same(at, &point));
                if sign > 0.0 && !known && self.agrees_at(setup, &network, &point) {
                    all.push((network.clone(), point));
                }
            }
        }
        all
    }

    /// Every operating point of a setup with an overlay, the one that it powers up in first: all
    /// points in every pattern of states that agrees with itself.
    pub fn all_states(&self, setup: SetupId, overlay: &Overlay) -> (PowerUp, Vec<Several>) {
        let found = self.powered(setup, overlay, None);
        let mut all: Vec<Several> = Vec::new();
        if let Some(point) = &found.run.point {
            let network = found.network.clone();
            all.push(Several { network, point: point.clone(), stable: true });
        }
        let patterns = self.other_patterns(setup, &found);
        let networks = std::iter::once(&found.network).chain(patterns.iter().map(|(net, _)| net));
        for network in networks {
            if found.run.point.is_none() {
                break;
            }
            // Of further patterns only the first point then.
            let quiet = if all.len() < MOST_POINTS { QUIET_STARTS } else { 0 };
            for (point, sign) in network.all_points(self.settings(), quiet).points {
                let known = all.iter().any(|known| {
                    known.network.states() == network.states() && is_same(&known.point, &point)
                });
                if !known && self.agrees_at(setup, network, &point) {
                    all.push(Several { network: network.clone(), point, stable: sign > 0.0 });
                }
            }
        }
        (found, all)
    }
}
