//! What proves an answer of the port view: Kirchhoff's law on the changed network, and its islands.

use super::{Port, Shunt};
use crate::device::Law;
use crate::engine::network::Network;
use crate::engine::structure::Islands;

/// Currents at a net may leave this share of the sum of their sizes ...
const RELATIVE: f64 = 1e-9;
/// ... plus this many amps.
const ABSOLUTE_AMPS: f64 = 1e-12;
/// Two conductances are the same within this share: one takes the other away.
const SAME: f64 = 1e-12;

/// The largest share of what is allowed that currents leave at a net, of a network with amps that
/// flow beside its ports. `x` holds the volts of all nets but ground, then own currents.
///
/// The amps of a branch beside a port are those that it was solved for: they are put to the test by
/// the shape, which has to carry them everywhere.
pub(super) fn share(network: &Network, x: &[f64], flows: &[(Port, f64)]) -> f64 {
    let volts = |net: usize| if net == 0 { 0.0 } else { x[net - 1] };
    let (mut sums, mut sizes) = (vec![0.0; network.n_nets], vec![0.0; network.n_nets]);
    let mut put = |from: usize, to: usize, amps: f64, size: f64| {
        sums[from] += amps;
        sums[to] -= amps;
        sizes[from] += size;
        sizes[to] += size;
    };
    let mut own = network.n_nets - 1;
    for element in &network.elements {
        let (from, to) = (element.from, element.to);
        match element.law {
            Law::Line { siemens, amps } => {
                // What rounding makes of volts that are nearly the same counts by the volts.
                let rounding = 1e-5 * siemens * (volts(from).abs() + volts(to).abs());
                let amps = siemens * (volts(from) - volts(to)) + amps;
                put(from, to, amps, amps.abs() + rounding);
            }
            _ => {
                put(from, to, x[own], x[own].abs());
                own += 1;
            }
        }
    }
    for &(Port { from, to }, amps) in flows {
        put(from, to, amps, amps.abs());
    }
    let left = sums.iter().zip(&sizes).skip(1);
    let shares = left.map(|(sum, size)| sum.abs() / (RELATIVE * size + ABSOLUTE_AMPS));
    // A sum that is not a number is no proof.
    shares
        .fold(0.0, |most: f64, share| if share.is_nan() { f64::INFINITY } else { most.max(share) })
}

/// Whether branches beside ports take so much away that nets lose their path to ground.
pub(super) fn splits(network: &Network, branches: &[(Port, Shunt)]) -> bool {
    let mut gone = vec![false; network.elements.len()];
    for &(port, shunt) in branches {
        let there: Vec<(usize, f64)> = network
            .elements
            .iter()
            .enumerate()
            .filter(|(idx, element)| !gone[*idx] && is_at(port, element.from, element.to))
            .map(|(idx, element)| match element.law {
                Law::Line { siemens, .. } => (idx, siemens),
                _ => (idx, f64::INFINITY),
            })
            .collect();
        let takes = |siemens: f64| (siemens + 1.0 / shunt.ohms).abs() <= SAME * siemens;
        // One branch, or all that lies there together.
        if let Some(&(idx, _)) = there.iter().find(|(_, siemens)| takes(*siemens)) {
            gone[idx] = true;
        } else if takes(there.iter().map(|(_, siemens)| siemens).sum()) {
            there.iter().for_each(|(idx, _)| gone[*idx] = true);
        }
    }
    let mut islands = Islands::new(network.n_nets);
    for (element, _) in network.elements.iter().zip(gone).filter(|(_, gone)| !gone) {
        islands.join(element.from, element.to);
    }
    for (port, shunt) in branches {
        if shunt.ohms >= 0.0 && shunt.ohms.is_finite() {
            islands.join(port.from, port.to);
        }
    }
    (1..network.n_nets).any(|net| islands.root(net) != 0)
}

fn is_at(port: Port, from: usize, to: usize) -> bool {
    (port.from, port.to) == (from, to) || (port.from, port.to) == (to, from)
}
