//! Every measurement that could be taken, with its effort.

use super::effort::Effort;
use super::suspects::Suspect;
use crate::circuit::{Circuit, NetId, POWERED, Place, Quantity, Reading, SetupId, Spot, UNPOWERED};
use crate::device::of;
use crate::diagnosis::Probe;
use crate::fault::Fault;

/// A measurement that could be taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// What to measure, where, in which setup.
    pub probe: Probe,
    /// Where, as readings write it.
    pub place_text: String,
    /// Effort in probes of a net, without switching the power.
    pub effort: f64,
}

/// Every measurement of the setups that always exist and of those in use, in the order of the
/// circuit: volts at every net, and at the pins of chips whose joints are suspects; currents
/// through parts; ohms and both diode readings with the power off.
pub fn measurements(
    circuit: &Circuit,
    readings: &[Reading],
    suspects: &[Suspect],
) -> Vec<Measurement> {
    let mut setups = vec![POWERED, UNPOWERED];
    for reading in readings {
        if !setups.contains(&reading.setup) && !circuit[reading.setup].is_for_one_part() {
            setups.push(reading.setup);
        }
    }
    setups.iter().flat_map(|setup| in_setup(circuit, *setup, suspects)).collect()
}

/// Whether a live source is connected in a setup, so that ohms would be measured in vain.
pub fn is_live(circuit: &Circuit, setup: SetupId) -> bool {
    circuit[setup].sources_on || !circuit[setup].connections.is_empty()
}

/// Every measurement of one setup.
pub(super) fn in_setup(
    circuit: &Circuit,
    setup: SetupId,
    suspects: &[Suspect],
) -> Vec<Measurement> {
    let mut found = Vec::new();
    let effort = Effort::default();
    let mut put = |quantity: Quantity, place: Place, place_text: String| {
        let probe = Probe { setup, quantity, place };
        let effort = effort.of_probe(circuit, &probe);
        found.push(Measurement { probe, place_text, effort });
    };
    let board = &circuit.board;
    let live = is_live(circuit, setup);
    let ground = Spot::Net(NetId::GROUND);
    let ground_name = circuit.net_name(NetId::GROUND);
    for (net, name) in circuit.nets_by_id().skip(1).filter(|(net, _)| board.can_probe(*net)) {
        let red = Spot::Net(net);
        if live {
            put(Quantity::Volts, Place::At(red), name.to_owned());
        } else {
            put(Quantity::Ohms, Place::At(red), name.to_owned());
            let there = format!("{name} to {ground_name}");
            put(Quantity::Diode, Place::Between(red, ground), there);
            let back = format!("{ground_name} to {name}");
            put(Quantity::Diode, Place::Between(ground, red), back);
        }
    }
    for (part, pin) in suspects.iter().filter_map(|suspect| suspect.fault.as_ref().and_then(joint))
    {
        let part_ref = &circuit[part];
        let net = part_ref.pins[pin].net;
        if !live || part_ref.pins.len() < 3 || net == NetId::GROUND || !board.can_probe(net) {
            continue;
        }
        let text = format!("{}.{}", part_ref.name, part_ref.pins[pin].name);
        put(Quantity::Volts, Place::At(Spot::Pin(part, pin)), text);
    }
    for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted && part.is_two_pin()) {
        let nets = [part.pins[0].net, part.pins[1].net];
        if nets.iter().any(|net| !board.can_probe(*net)) {
            continue;
        }
        if live {
            put(Quantity::Amps, Place::Part(id), part.name.clone());
        } else if !nets.contains(&NetId::GROUND) && !of(part).is_source() {
            put(Quantity::Ohms, Place::Part(id), part.name.clone());
        }
    }
    found.dedup_by(|a, b| a.probe == b.probe);
    found
}

/// The joint that a fault is in.
fn joint(fault: &Fault) -> Option<(crate::circuit::PartId, usize)> {
    match *fault {
        Fault::JointOpen(part, pin) | Fault::JointResistive(part, pin, _) => Some((part, pin)),
        _ => None,
    }
}
