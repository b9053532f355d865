//! The port view: what any change of conductance between two nets does, from one solve.
//!
//! # Formula
//!
//! With u = A⁻¹(e_i − e_j) the port's shape, r = (e_i − e_j)ᵀu its resistance (Thevenin) and
//! v = (e_i − e_j)ᵀx its voltage, an added conductance d moves the solution to
//!
//! ```text
//! x' = x − u · v / (1/d + r)
//! ```
//!
//! (A. S. Householder, "A survey of some closed methods for inverting matrices", J. SIAM 5, 1957:
//! the rank-one case.) Open is d = −g, a short is 1/d → 0, and every value between lies on the same
//! line. g · r = 1 means that opening the conductance splits the network: that net floats.

use super::assembly::Assembly;
use super::network::Network;
use super::point::OperatingPoint;
use super::structure::Islands;
use crate::circuit::{Overlay, SetupId};
use crate::device::Law;

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
        let linear = network.elements.iter().all(|element| element.law.is_linear());
        let point = network.solve(assembly.settings()).point.filter(|_| linear)?;
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
        let shape = self.point.shape(port.from, port.to);
        across(&shape, port)
    }

    /// Volts of every net with `siemens` added at a port; `None` where that leaves a net without a
    /// path to ground.
    pub fn with_conductance(&self, port: Port, siemens: f64) -> Option<Vec<f64>> {
        let shape = self.point.shape(port.from, port.to);
        let resistance = across(&shape, port);
        let bottom = 1.0 + siemens * resistance;
        // Opening the only path leaves rounding alone in the denominator.
        if bottom.abs() < 1e-9 {
            return None;
        }
        let volts = self.point.between(port.from, port.to);
        Some(self.moved(&shape, siemens * volts / bottom))
    }

    /// Volts of every net with a port shorted: the limit of a growing conductance. `None` when an
    /// ideal source feeds the port, or when it has both ends on one net.
    pub fn with_short(&self, port: Port) -> Option<Vec<f64>> {
        // Rounding leaves such a port a resistance that is not quite zero, so sources decide.
        if self.held_to[port.from] == self.held_to[port.to] {
            return None;
        }
        let shape = self.point.shape(port.from, port.to);
        let volts = self.point.between(port.from, port.to);
        Some(self.moved(&shape, volts / across(&shape, port)))
    }

    fn moved(&self, shape: &[f64], amps: f64) -> Vec<f64> {
        let mut volts = self.point.volts.clone();
        for (volts, shape) in volts.iter_mut().skip(1).zip(shape) {
            *volts -= shape * amps;
        }
        volts
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

fn across(shape: &[f64], port: Port) -> f64 {
    let at = |net: usize| if net == 0 { 0.0 } else { shape[net - 1] };
    at(port.from) - at(port.to)
}
