//! The numbers of a solved board that studies look at, and boards near it.

use crate::circuit::{Change, Circuit, NetId, Overlay, PartId, SetupId};
use crate::device::{At, of};
use crate::engine::{Assembly, Ending, Network, OperatingPoint, Source};

/// A number that a study watches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Watched {
    /// Volts of a net.
    Net(NetId),
    /// Volts from one net to another: of the first against the second.
    Between(NetId, NetId),
    /// Amps through a part with two pins, from pin 1 to pin 2; for a source what it delivers.
    Amps(PartId),
    /// Watts that a part takes.
    Watts(PartId),
}

/// A board solved in one setup.
#[derive(Debug, Clone)]
pub struct Solved {
    /// The branches, with every part in its state.
    pub network: Network,
    /// The operating point.
    pub point: OperatingPoint,
}

impl Solved {
    /// Powers a setup up with an overlay.
    ///
    /// # Errors
    ///
    /// How the run ended, when there is no operating point.
    pub fn new(
        assembly: &Assembly<'_>,
        setup: SetupId,
        overlay: &Overlay,
    ) -> Result<Solved, Ending> {
        let found = assembly.powered(setup, overlay, None);
        match found.run.point {
            Some(point) => Ok(Solved { network: found.network, point }),
            None => Err(found.run.ending),
        }
    }

    /// A board with another overlay that is hardly different: looked for from this one, in the same
    /// states. `None` where it is not found there.
    pub fn near(
        &self,
        assembly: &Assembly<'_>,
        setup: SetupId,
        overlay: &Overlay,
    ) -> Option<Solved> {
        let (states, volts) = (self.network.states(), &self.point.volts);
        let (network, point) = assembly.power_up_in(setup, overlay, states, volts)?;
        Some(Solved { network, point })
    }

    /// A number of this board, in its SI unit.
    pub fn value(&self, assembly: &Assembly<'_>, watched: Watched) -> f64 {
        match watched {
            Watched::Net(net) => self.point.volts[net.index()],
            Watched::Between(red, black) => self.point.between(red.index(), black.index()),
            Watched::Amps(part) => self.amps(assembly, part),
            Watched::Watts(part) => self.point.part_watts(&self.network, part),
        }
    }

    fn amps(&self, assembly: &Assembly<'_>, part: PartId) -> f64 {
        let own = &assembly.circuit()[part];
        let amps = self.point.pin_amps(&self.network, part, own.pins.len())[0];
        if of(own).is_source() { -amps } else { amps }
    }

    /// Parts that are in another state on the other board.
    pub fn switched(&self, other: &Solved) -> Vec<PartId> {
        let states = self.network.states().iter().zip(other.network.states()).enumerate();
        let differ = states.filter(|(_, (own, other))| own != other);
        differ.map(|(idx, _)| PartId(idx as u32)).collect()
    }
}

/// What a part does on a board with these amps into its pins, where its kind has a word for it.
pub(super) fn part_state(
    assembly: &Assembly<'_>,
    setup: SetupId,
    (network, point): (&Network, &OperatingPoint),
    part: PartId,
    pins: &[f64],
) -> Option<&'static str> {
    let volts: Vec<f64> =
        (0..pins.len()).map(|pin| point.volts[network.pin_net(part, pin)]).collect();
    let at = At { volts: &volts, amps: pins };
    of(&assembly.circuit()[part]).state(&network.values(part, assembly, setup.0), &at)
}

/// Sources of uncertainty that an overlay leaves: a parameter that it replaces has no tolerance any
/// more.
pub(super) fn left(assembly: &Assembly<'_>, overlay: &Overlay) -> Vec<usize> {
    let replaced = |source: &Source| {
        overlay.changes.iter().any(|change| match change {
            Change::Parameter { part, name, .. } => {
                (*part, *name) == (source.part, source.parameter)
            }
            Change::Removed { part } => *part == source.part,
            _ => false,
        })
    };
    let sources = assembly.sources().iter().enumerate();
    let left = sources.filter(|(_, source)| !replaced(source) && source.standard > 0.0);
    left.map(|(at, _)| at).collect()
}

/// Every net that does not float, and the current through every part with two pins.
pub fn everything(assembly: &Assembly<'_>, setup: SetupId, overlay: &Overlay) -> Vec<Watched> {
    let circuit = assembly.circuit();
    let floats = match Solved::new(assembly, setup, overlay) {
        Ok(solved) => solved.point.floating,
        Err(_) => Vec::new(),
    };
    let nets = circuit.nets_by_id().skip(1).map(|(net, _)| net);
    let nets = nets.filter(|net| floats.get(net.index()) != Some(&true)).map(Watched::Net);
    let is_there = |id: PartId| circuit[id].fitted && assembly.is_connected(id, setup.0);
    let parts = circuit.parts_by_id().filter(|(id, part)| part.is_two_pin() && is_there(*id));
    // A capacitor that does not leak carries nothing.
    let carries =
        parts.filter(|(_, part)| part.kind != "capacitor" || part.param("leakage").is_some());
    nets.chain(carries.map(|(id, _)| Watched::Amps(id))).collect()
}

/// The nets that somebody cares for: those with limits, and the outputs of regulators.
pub fn watched_nets(circuit: &Circuit) -> Vec<NetId> {
    let mut found: Vec<NetId> = circuit.limits.iter().map(|(net, _)| *net).collect();
    for part in circuit.parts.iter().filter(|part| part.fitted) {
        let output = match part.kind {
            "ldo" | "buck" | "boost" => part.pin("output"),
            "shunt-reference" => part.pin("cathode").or(Some(0)),
            _ => None,
        };
        found.extend(output.and_then(|pin| part.pins.get(pin)).map(|pin| pin.net));
    }
    found.retain(|net| *net != NetId::GROUND);
    let mut seen = Vec::new();
    found.retain(|net| {
        !seen.contains(net) && {
            seen.push(*net);
            true
        }
    });
    found
}
