//! The chain from a fault to its symptoms, causes before consequences.

use crate::circuit::{Circuit, NetId, Overlay, PartId, SetupId};
use crate::device::{At, of};
use crate::engine::{Assembly, Network, OperatingPoint};
use crate::fault::Fault;
use crate::quantity::{Unit, print};

/// A net counts as changed when its voltage moves by more than this share of the largest one ...
const CHANGED: f64 = 0.03;
/// ... and the chain has at most this many steps of nets.
const STEPS: usize = 4;
/// Volts that no meter on this job tells from none.
const LEAST_VOLTS: f64 = 1e-4;

/// The chain of a fault: what went wrong, the nets that move, in order of their distance from it,
/// and the parts that change what they do.
pub(super) fn chain(
    assembly: &Assembly<'_>,
    setup: SetupId,
    fault: &Fault,
    overlay: &Overlay,
    healthy: Option<&OperatingPoint>,
) -> Vec<String> {
    let circuit = assembly.circuit();
    let mut steps = vec![fault.rounded().full_phrase(circuit)];
    let network = assembly.network(setup, overlay);
    let run = network.solve_from(healthy, assembly.settings());
    let (Some(healthy), Some(faulty)) = (healthy, run.point) else {
        steps.push("no operating point".to_owned());
        return steps;
    };
    let largest = healthy.volts.iter().fold(0.1_f64, |most, volts| most.max(volts.abs()));
    let mut moved: Vec<(usize, NetId)> = Vec::new();
    let distance = distances(circuit, fault);
    for (net, _) in circuit.nets_by_id().skip(1) {
        let (before, after) = (healthy.volts[net.index()], faulty.volts[net.index()]);
        let (was, is) = (healthy.floating[net.index()], faulty.floating[net.index()]);
        // A net that hangs loose on the healthy board too is no symptom.
        if !was && (is || (before - after).abs() > CHANGED * largest) {
            moved.push((distance[net.index()], net));
        }
    }
    moved.sort();
    // Nets that do the same are named together.
    let mut told: Vec<(Vec<&str>, String)> = Vec::new();
    for &(_, net) in &moved {
        let (before, after) = (healthy.volts[net.index()], faulty.volts[net.index()]);
        let before = as_read(before);
        let text = if faulty.floating[net.index()] {
            format!("floating, should be {before}")
        } else {
            format!("at {}, should be {before}", as_read(after))
        };
        let name = circuit.net_name(net);
        match told.iter_mut().find(|(_, known)| *known == text) {
            Some((names, _)) => names.push(name),
            None => told.push((vec![name], text)),
        }
    }
    let more: usize = told.iter().skip(STEPS).map(|(names, _)| names.len()).sum();
    for (names, text) in told.iter().take(STEPS) {
        steps.push(format!("{} {text}", names.join(", ")));
    }
    if more > 0 {
        let plural = if more == 1 { "" } else { "s" };
        steps.push(format!("{more} more net{plural} off"));
    }
    let healthy_network = assembly.network(setup, &Overlay::none());
    for (id, part) in circuit.parts_by_id() {
        let before = state(assembly, setup, id, &healthy_network, healthy);
        let after = state(assembly, setup, id, &network, &faulty);
        if let Some(after) = after
            && before != Some(after)
            && part.kind != "switch"
            && fault.part() != Some(id)
        {
            steps.push(format!("{} {after}", part.name));
        }
    }
    if steps.len() == 1 {
        steps.push("no net moves by much".to_owned());
    }
    steps
}

/// Volts as a meter would show them: nothing below its last digit.
fn as_read(volts: f64) -> String {
    print(if volts.abs() < LEAST_VOLTS { 0.0 } else { volts }, Unit::Volt, 3)
}

/// What a part with two pins is doing.
fn state(
    assembly: &Assembly<'_>,
    setup: SetupId,
    part: PartId,
    network: &Network,
    point: &OperatingPoint,
) -> Option<&'static str> {
    if !assembly.circuit()[part].is_two_pin() || !assembly.is_connected(part, setup.0) {
        return None;
    }
    let idx = network.elements.iter().position(|element| element.part() == Some(part))?;
    let volts = [0, 1].map(|pin| point.volts[network.pin_net(part, pin)]);
    let kind = of(&assembly.circuit()[part]);
    let at = At { volts: &volts, amps: &[point.amps[idx], -point.amps[idx]] };
    kind.state(&assembly.values(part, setup.0), &at)
}

/// Hops through parts from the nets that the fault touches.
fn distances(circuit: &Circuit, fault: &Fault) -> Vec<usize> {
    let mut distance = vec![usize::MAX; circuit.nets.len()];
    let mut front: Vec<NetId> = match *fault {
        Fault::Leak(net, _) => vec![net],
        Fault::Bridge(a, b, _) => vec![a, b],
        _ => fault
            .part()
            .map(|part| circuit[part].pins.iter().map(|pin| pin.net).collect())
            .unwrap_or_default(),
    };
    let mut hops = 0;
    // Ground is everywhere: going through it says nothing of distance.
    front.retain(|net| *net != NetId::GROUND);
    while !front.is_empty() {
        for net in &front {
            distance[net.index()] = distance[net.index()].min(hops);
        }
        hops += 1;
        let mut next = Vec::new();
        for part in circuit.parts.iter().filter(|part| part.fitted) {
            if part.pins.iter().any(|pin| front.contains(&pin.net)) {
                for pin in &part.pins {
                    if pin.net != NetId::GROUND && distance[pin.net.index()] == usize::MAX {
                        next.push(pin.net);
                    }
                }
            }
        }
        next.sort();
        next.dedup();
        front = next;
    }
    distance
}
