//! The port view: what any change of conductance between two nets does, from one solve.
//!
//! # Formula
//!
//! With u = A⁻¹(e_i − e_j) the port's shape, r = (e_i − e_j)ᵀu its resistance (Thevenin) and
//! v = (e_i − e_j)ᵀx its voltage, a branch of z ohms laid beside the port carries t amps and moves
//! the solution to
//!
//! ```text
//! x' = x − u t,    t = v / (z + r)
//! ```
//!
//! (A. S. Householder, "A survey of some closed methods for inverting matrices", J. SIAM 5, 1957:
//! the rank-one case.) Opening R ohms is z = −R, a short is z = 0, and every value between lies on
//! the same line at its own t. r = R means that opening the resistance splits the network: that net
//! floats. Two changes are a system of two equations with the mutual resistances of their ports
//! (M. A. Woodbury, "Inverting modified matrices", 1950; from memory).
//!
//! What cannot be computed through is told as a [`Refusal`]: nets that float, a short across an
//! ideal source, and answers that too few digits would be left of.

use super::assembly::Assembly;
use super::network::{Network, SHORT_OHMS};
use super::point::OperatingPoint;
use super::structure::Islands;
use crate::circuit::{Overlay, PartId, SetupId};
use crate::device::Law;

mod line;
mod pairs;
mod residual;
mod scores;
mod table;

pub use line::{Line, Refusal, Shunt};
pub use pairs::{BestPairs, PairScore};
pub use scores::{Fitted, Scores};
pub use table::{PortTable, Site};

pub(super) use line::LEAST_SHARE;
use line::both_amps;

/// A pair of nets, as numbers in the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Port {
    /// The first net.
    pub from: usize,
    /// The second net.
    pub to: usize,
}

/// A linear network, solved once and factored, with the shapes of its ports.
#[derive(Debug)]
pub struct PortView {
    network: Network,
    point: OperatingPoint,
    /// Per net: the lowest net that ideal sources join it to.
    held_to: Vec<usize>,
}

impl PortView {
    /// The port view of a setup of a healthy circuit; `None` when the circuit is not linear there,
    /// does not settle, or has nets that float.
    pub fn new(assembly: &Assembly<'_>, setup: SetupId) -> Option<PortView> {
        let network = assembly.network(setup, &Overlay::none());
        if !network.elements.iter().all(|element| element.law.is_linear()) {
            return None;
        }
        let point = network.solve(assembly.settings()).point?;
        let mut islands = Islands::new(network.n_nets);
        for element in &network.elements {
            if matches!(element.law, Law::Volts(_)) {
                islands.join(element.from, element.to);
            }
        }
        let held_to = (0..network.n_nets).map(|net| islands.root(net)).collect();
        (!point.floating.contains(&true)).then_some(PortView { network, point, held_to })
    }

    /// The network.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// The healthy operating point.
    pub fn point(&self) -> &OperatingPoint {
        &self.point
    }

    /// The resistance looking into a port, in ohms.
    pub fn resistance(&self, port: Port) -> f64 {
        across(&self.point.shape(port.from, port.to), port)
    }

    /// The shape of a port, net k at k − 1 and the own currents of ideal sources behind the nets,
    /// and the line that any branch beside the port moves the board along.
    pub fn line(&self, port: Port) -> (Vec<f64>, Line) {
        let shape = self.point.shape(port.from, port.to);
        // Rounding leaves a port on ideal sources a resistance that is not quite zero, so sources
        // decide.
        let held = self.held_to[port.from] == self.held_to[port.to];
        let ohms = if held { 0.0 } else { across(&shape, port) };
        let volts = self.point.between(port.from, port.to);
        (shape, Line { ohms, volts, held })
    }

    /// Volts of every net, ground included, with a branch laid beside a port.
    ///
    /// ```
    /// # fn main() -> Result<(), String> {
    /// use ohmhound::circuit::{Circuit, POWERED};
    /// use ohmhound::device::two_pin;
    /// use ohmhound::engine::{Assembly, Port, PortView, Refusal, Shunt};
    ///
    /// let mut circuit = Circuit::new("divider", "GND");
    /// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0), ("resistance", 0.0)])?;
    /// two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
    /// two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
    /// let view = PortView::new(&Assembly::new(&circuit), POWERED).ok_or("not linear")?;
    /// let [input, out] = ["IN", "OUT"].map(|net| circuit.net(net).unwrap().index());
    /// let r2 = Port { from: out, to: 0 };
    /// // R2 at 2 kΩ makes two equal halves; R2 open lifts OUT to the supply.
    /// let drifted = view.with(r2, Shunt::instead(1e3, 2e3)).unwrap();
    /// assert!((drifted[out] - 6.0).abs() < 1e-12);
    /// assert!((view.with(r2, Shunt::open(1e3)).unwrap()[out] - 12.0).abs() < 1e-12);
    /// // A short across the supply has no answer.
    /// assert_eq!(view.with(Port { from: input, to: 0 }, Shunt::SHORT), Err(Refusal::Sourced));
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// Why the answer has to come from a full solve of the changed network, or cannot come at all.
    pub fn with(&self, port: Port, shunt: Shunt) -> Result<Vec<f64>, Refusal> {
        let (shape, line) = self.line(port);
        let amps = line.amps(shunt).map_err(|why| self.why(why, &[(port, shunt)]))?;
        self.proven(&[(&shape, amps)], &[(port, shunt)])
    }

    /// Volts of every net, ground included, with branches laid beside two ports.
    ///
    /// # Errors
    ///
    /// As for one port.
    pub fn with_both(&self, branches: [(Port, Shunt); 2]) -> Result<Vec<f64>, Refusal> {
        let [(one, line_one), (other, line_other)] = branches.map(|(port, _)| self.line(port));
        let mutual = [across(&other, branches[0].0), across(&one, branches[1].0)];
        let lines = [(line_one, branches[0].1), (line_other, branches[1].1)];
        let amps = both_amps(lines, mutual).map_err(|why| self.why(why, &branches))?;
        self.proven(&[(&one, amps[0]), (&other, amps[1])], &branches)
    }

    /// Volts of every net with `siemens` added at a port; `None` where that leaves a net without a
    /// path to ground, or too few digits.
    pub fn with_conductance(&self, port: Port, siemens: f64) -> Option<Vec<f64>> {
        self.with(port, Shunt::of(1.0 / siemens)).ok()
    }

    /// Volts of every net with a port shorted: the limit of a growing conductance. `None` when an
    /// ideal source feeds the port, or when it has both ends on one net.
    pub fn with_short(&self, port: Port) -> Option<Vec<f64>> {
        self.with(port, Shunt::SHORT).ok()
    }

    /// The solution moved along shapes, if it stands the test of Kirchhoff's law.
    fn proven(
        &self,
        moves: &[(&Vec<f64>, f64)],
        branches: &[(Port, Shunt)],
    ) -> Result<Vec<f64>, Refusal> {
        let mut x = self.point.x.clone();
        for (shape, amps) in moves {
            for (x, shape) in x.iter_mut().zip(*shape) {
                *x -= shape * amps;
            }
        }
        let flows: Vec<(Port, f64)> =
            branches.iter().zip(moves).map(|((port, _), (_, amps))| (*port, *amps)).collect();
        if residual::share(&self.network, &x, &flows) > 1.0 {
            return Err(Refusal::Imprecise);
        }
        let mut volts = Vec::with_capacity(self.network.n_nets);
        volts.push(0.0);
        volts.extend_from_slice(&x[..self.network.n_nets - 1]);
        Ok(volts)
    }

    /// An answer without digits is one of a net that floats where the structure says so.
    fn why(&self, why: Refusal, branches: &[(Port, Shunt)]) -> Refusal {
        let floats = || residual::splits(&self.network, branches);
        if why == Refusal::Imprecise && floats() { Refusal::Floats } else { why }
    }

    /// The port of a two-pin part that is one straight branch, with its siemens and the amps that it
    /// carries at no volts; `None` for any other part.
    pub fn branch_of(&self, part: PartId) -> Option<(Port, f64, f64)> {
        let mut own = self.network.elements.iter().filter(|element| element.part() == Some(part));
        let (element, None) = (own.next()?, own.next()) else { return None };
        match element.law {
            Law::Line { siemens, amps } if siemens > 0.0 && element.from != element.to => {
                Some((Port { from: element.from, to: element.to }, siemens, amps))
            }
            _ => None,
        }
    }

    /// Sum over all resistances of conductance times port resistance: in a connected network of
    /// resistances it equals the number of nets, ground included, less one (R. M. Foster, "The
    /// average impedance of an electrical network", Contributions to Applied Mechanics, 1949; from
    /// memory). Ideal sources make their nets one.
    pub fn foster_sum(&self) -> f64 {
        self.network
            .elements
            .iter()
            .filter_map(|element| match element.law {
                Law::Line { siemens, .. } if element.from != element.to => {
                    let port = Port { from: element.from, to: element.to };
                    Some(siemens * self.resistance(port))
                }
                _ => None,
            })
            .sum()
    }
}

/// Volts across a port of a vector without ground.
fn across(shape: &[f64], port: Port) -> f64 {
    let at = |net: usize| if net == 0 { 0.0 } else { shape[net - 1] };
    at(port.from) - at(port.to)
}
