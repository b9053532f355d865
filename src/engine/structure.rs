//! Structure comes first: what can be said of a network before any number.

use super::network::Network;
use crate::device::Law;

/// Sets of nets that are joined, directly or through others.
#[derive(Debug, Clone)]
pub(super) struct Islands {
    parent: Vec<usize>,
}

impl Islands {
    pub(super) fn new(n: usize) -> Islands {
        Islands { parent: (0..n).collect() }
    }

    /// The lowest net of the island that the net is in.
    pub(super) fn root(&mut self, mut net: usize) -> usize {
        while self.parent[net] != net {
            self.parent[net] = self.parent[self.parent[net]];
            net = self.parent[net];
        }
        net
    }

    /// Joins two nets; false when they were joined already.
    pub(super) fn join(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b)] = a.min(b);
        a != b
    }
}

/// What is wrong with a network before any number is known, or what must be known of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// Branches with given voltages form a loop: ideal sources in parallel or one that is shorted.
    SourceLoop {
        /// The elements of the loop, as numbers in the network.
        elements: Vec<usize>,
    },
    /// Nets that have no DC path to ground.
    Floating {
        /// The nets of one island, as numbers in the network.
        nets: Vec<usize>,
    },
}

/// The islands of a network without a DC path to ground, and loops of ideal sources.
///
/// ```
/// use ohmhound::engine::{Trouble, examine};
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// // A resistor that nothing joins to the rest.
/// let text = format!("{text}\nR9 = {{ value = \"1k\", nets = [\"X\", \"Y\"] }}");
/// let circuit = read_circuit(&Source::new("island.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("in order, as far as reading goes")?;
/// let network = Assembly::new(&circuit).network(POWERED, &Overlay::none());
/// let number = |net: &str| circuit.net(net).map(|net| net.index()).ok_or("a net");
/// let nets = vec![number("X")?, number("Y")?];
/// assert_eq!(examine(&network), [Trouble::Floating { nets }]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn examine(network: &Network) -> Vec<Trouble> {
    let mut found = Vec::new();
    if let Some(elements) = source_loop(network) {
        found.push(Trouble::SourceLoop { elements });
    }
    let mut islands = conducting_islands(network);
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); network.n_nets];
    for net in 1..network.n_nets {
        members[islands.root(net)].push(net);
    }
    for nets in members.into_iter().skip(1).filter(|nets| !nets.is_empty()) {
        found.push(Trouble::Floating { nets });
    }
    found
}

/// The islands that branches of any kind make. A blocked junction still joins: it leaks.
pub(super) fn conducting_islands(network: &Network) -> Islands {
    let mut islands = Islands::new(network.n_nets);
    for element in &network.elements {
        islands.join(element.from, element.to);
    }
    islands
}

/// Branches with given voltages that close a loop, or a short laid over such branches.
///
/// A short of a milliohm across an ideal source has a formal answer of thousands of amps; no board
/// shows it, so it counts as a contradiction.
pub(super) fn source_loop(network: &Network) -> Option<Vec<usize>> {
    let given: Vec<usize> = (0..network.elements.len())
        .filter(|&idx| matches!(network.elements[idx].law, Law::Volts(_)))
        .collect();
    if given.is_empty() {
        return None;
    }
    let mut islands = Islands::new(network.n_nets);
    for (place, &idx) in given.iter().enumerate() {
        let element = &network.elements[idx];
        if !islands.join(element.from, element.to) {
            return Some(path(network, &given[..place], element.from, element.to, idx));
        }
    }
    network.shorts.iter().copied().find_map(|idx| {
        let element = network.elements.get(idx)?;
        (element.from != element.to && islands.root(element.from) == islands.root(element.to))
            .then(|| path(network, &given, element.from, element.to, idx))
    })
}

/// Amps through an ideal or constant-drop diode above which it stands against a source: no board
/// carries them.
const ABSURD_AMPS: f64 = 1e6;

/// A loop of ideal sources and of diodes that hold their drop against each other, told by the
/// currents of such elements (in order) at the point that the equations came to.
pub(super) fn held_loop(network: &Network, own: &[f64]) -> Option<Vec<usize>> {
    let mut own = own.iter();
    let (mut held, mut worst) = (Vec::new(), (ABSURD_AMPS, None));
    for (idx, element) in network.elements.iter().enumerate() {
        if !element.law.has_own_current() {
            continue;
        }
        let amps = own.next().copied().unwrap_or(0.0).abs();
        if matches!(element.law, Law::Volts(_)) {
            held.push(idx);
        } else if amps > ABSURD_AMPS {
            if worst.1.is_none() || amps > worst.0 {
                worst = (amps, Some(idx));
            }
            held.push(idx);
        }
    }
    let closing = worst.1?;
    held.retain(|&idx| idx != closing);
    let element = &network.elements[closing];
    Some(path(network, &held, element.from, element.to, closing))
}

/// The elements of `tree` on the way from one net to another, with the element that closes it.
fn path(network: &Network, tree: &[usize], from: usize, to: usize, closing: usize) -> Vec<usize> {
    // Elements that hang off the way are dropped one by one: a small graph, walked rarely.
    let mut kept: Vec<usize> = tree.to_vec();
    loop {
        let mut degree = vec![0_usize; network.n_nets];
        degree[from] += 1;
        degree[to] += 1;
        for &idx in &kept {
            degree[network.elements[idx].from] += 1;
            degree[network.elements[idx].to] += 1;
        }
        let before = kept.len();
        kept.retain(|&idx| {
            let element = &network.elements[idx];
            degree[element.from] > 1 && degree[element.to] > 1
        });
        if kept.len() == before {
            break;
        }
    }
    kept.push(closing);
    kept
}
