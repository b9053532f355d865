//! The chain from a fault to its symptoms, causes before consequences.

use crate::circuit::{Circuit, NetId, Overlay, PartId, SetupId};
use crate::device::{At, of};
use crate::engine::{Assembly, Network, OperatingPoint, Stands};
use crate::fault::Fault;
use crate::quantity::{Unit, print};

/// A net counts as changed when its voltage moves by more than this share of the largest one ...
const CHANGED: f64 = 0.03;
/// ... and the chain has at most this many steps of nets.
const STEPS: usize = 4;
/// What is told of a fault that moves nothing.
pub(crate) const NO_MOVE: &str = "no net moves by much";
/// Volts that no meter on this job tells from none.
const LEAST_VOLTS: f64 = 1e-4;

/// The chain of a fault: what went wrong, the nets that move, in order of their distance from it,
/// the conditions that fail there, and what follows behind the parts that they switch.
///
/// `known` says where the changed board stands, where that is known: the power-up is spared.
pub(crate) fn chain(
    assembly: &Assembly<'_>,
    setup: SetupId,
    fault: &Fault,
    (overlay, known): (&Overlay, Option<&[Stands]>),
) -> Vec<String> {
    let circuit = assembly.circuit();
    let before = assembly.healthy(setup);
    let mut steps = vec![fault.rounded().full_phrase(circuit)];
    let near = known
        .and_then(|known| match known {
            [(states, volts)] => assembly.power_up_in(setup, overlay, states, volts),
            _ => None,
        })
        .map(|(network, point)| (network, Some(point), None));
    let (network, point, cycle) = near.unwrap_or_else(|| {
        let after = assembly.power_up(setup, overlay, before.run.point.as_ref());
        (after.network, after.run.point, after.cycle)
    });
    if let Some(cycle) = &cycle {
        let names: Vec<&str> =
            cycle.parts.iter().map(|part| circuit[*part].name.as_str()).collect();
        steps.push(format!("{} keeps switching on and off", names.join(", ")));
        return steps;
    }
    let (Some(healthy), Some(faulty)) = (&before.run.point, &point) else {
        steps.push("no operating point".to_owned());
        return steps;
    };
    let boards =
        Boards { assembly, setup, healthy: (&before.network, healthy), faulty: (&network, faulty) };
    let changed: Vec<(PartId, &'static str)> = circuit
        .parts_by_id()
        .filter(|(id, part)| part.kind != "switch" && fault.part() != Some(*id))
        .filter_map(|(id, _)| {
            let now = boards.state(id, boards.faulty)?;
            (boards.state(id, boards.healthy) != Some(now)).then_some((id, now))
        })
        .collect();
    let failed = boards.failed();
    let is_behind = |part: PartId| {
        changed.iter().any(|(known, _)| *known == part) && !of(&circuit[part]).outputs().is_empty()
    };
    let mut told_parts: Vec<PartId> = Vec::new();
    let moved = boards.moved();
    let mut nets_left = moved.clone();
    let mut front = origin(circuit, fault);
    let mut n_told = 0;
    // Nets that the fault reaches without going through a part that changed; then those parts; then
    // the nets behind them, and so on.
    while !front.is_empty() {
        let reached = reached(circuit, &front, &moved, &is_behind);
        let mut here: Vec<NetId> =
            reached.iter().copied().filter(|net| nets_left.contains(net)).collect();
        nets_left.retain(|net| !here.contains(net));
        // A net that a failed condition looks at explains more than its neighbours.
        here.sort_by_key(|net| !failed.iter().any(|need| need.0 == *net));
        let told: Vec<(Vec<NetId>, String)> = boards.told(&here, &failed);
        for (nets, text) in told {
            if n_told < STEPS {
                let names: Vec<&str> = nets.iter().map(|net| circuit.net_name(*net)).collect();
                steps.push(format!("{} {text}", names.join(", ")));
                n_told += 1;
            } else {
                nets_left.extend(nets);
            }
        }
        let next: Vec<(PartId, &'static str)> = changed
            .iter()
            .copied()
            .filter(|(part, _)| is_behind(*part) && !told_parts.contains(part))
            .filter(|(part, _)| {
                let outputs = of(&circuit[*part]).outputs();
                let pins = circuit[*part].pins.iter();
                pins.clone().any(|pin| {
                    let tells = moved.contains(&pin.net) && reached.contains(&pin.net);
                    tells && !outputs.contains(&pin.name.as_str())
                })
            })
            .collect();
        front.clear();
        for (part, now) in next {
            told_parts.push(part);
            steps.push(format!("{} {now}", circuit[part].name));
            let outputs = of(&circuit[part]).outputs();
            let pins = circuit[part].pins.iter();
            front
                .extend(pins.filter(|pin| outputs.contains(&pin.name.as_str())).map(|pin| pin.net));
        }
        front.retain(|net| *net != NetId::GROUND);
    }
    if n_told < STEPS {
        for (nets, text) in
            boards.told(&nets_left.clone(), &failed).into_iter().take(STEPS - n_told)
        {
            let names: Vec<&str> = nets.iter().map(|net| circuit.net_name(*net)).collect();
            steps.push(format!("{} {text}", names.join(", ")));
            nets_left.retain(|net| !nets.contains(net));
        }
    }
    let more = nets_left.len();
    if more > 0 {
        let plural = if more == 1 { "" } else { "s" };
        steps.push(format!("{more} more net{plural} off"));
    }
    for (part, now) in changed.iter().filter(|(part, _)| !told_parts.contains(part)) {
        steps.push(format!("{} {now}", circuit[*part].name));
    }
    if steps.len() == 1 {
        steps.push(NO_MOVE.to_owned());
    }
    steps
}

/// A healthy board and the faulty one, in one setup.
struct Boards<'a> {
    assembly: &'a Assembly<'a>,
    setup: SetupId,
    healthy: (&'a Network, &'a OperatingPoint),
    faulty: (&'a Network, &'a OperatingPoint),
}

impl Boards<'_> {
    /// Nets whose volts moved, or that float now.
    fn moved(&self) -> Vec<NetId> {
        let ((_, healthy), (_, faulty)) = (self.healthy, self.faulty);
        let largest = healthy.volts.iter().fold(0.1_f64, |most, volts| most.max(volts.abs()));
        let nets = self.assembly.circuit().nets_by_id().skip(1).map(|(net, _)| net);
        nets.filter(|net| {
            let (before, after) = (healthy.volts[net.index()], faulty.volts[net.index()]);
            let (was, is) = (healthy.floating[net.index()], faulty.floating[net.index()]);
            // A net that hangs loose on the healthy board too is no symptom.
            !was && (is || (before - after).abs() > CHANGED * largest)
        })
        .collect()
    }

    /// Conditions that hold on the healthy board and fail on this one: the net they look at, and
    /// what they need.
    fn failed(&self) -> Vec<(NetId, f64)> {
        let circuit = self.assembly.circuit();
        let holds = |(network, point): (&Network, &OperatingPoint)| {
            self.assembly.conditions(self.setup, network, point)
        };
        let before = holds(self.healthy);
        holds(self.faulty)
            .into_iter()
            .filter(|now| {
                // A threshold between two nets says nothing of either alone.
                let to_ground = circuit[now.part].pins[now.condition.pins[1]].net == NetId::GROUND;
                !now.on
                    && to_ground
                    && before
                        .iter()
                        .any(|was| was.on && (was.part, was.number) == (now.part, now.number))
            })
            .map(|now| (circuit[now.part].pins[now.condition.pins[0]].net, now.needed))
            .collect()
    }

    /// What is said of nets; those that do the same are named together.
    fn told(&self, nets: &[NetId], failed: &[(NetId, f64)]) -> Vec<(Vec<NetId>, String)> {
        let ((_, healthy), (_, faulty)) = (self.healthy, self.faulty);
        let mut told: Vec<(Vec<NetId>, String)> = Vec::new();
        for &net in nets {
            let (before, after) = (healthy.volts[net.index()], faulty.volts[net.index()]);
            let before = as_read(before);
            let needed = failed.iter().find(|(known, _)| *known == net);
            let text = if faulty.floating[net.index()] {
                format!("floating, should be {before}")
            } else if let Some((_, needed)) = needed {
                format!("at {}, needs {}", as_read(after), as_read(*needed))
            } else {
                format!("at {}, should be {before}", as_read(after))
            };
            match told.iter_mut().find(|(_, known)| *known == text) {
                Some((nets, _)) => nets.push(net),
                None => told.push((vec![net], text)),
            }
        }
        told
    }

    /// What a part is doing.
    fn state(
        &self,
        part: PartId,
        (network, point): (&Network, &OperatingPoint),
    ) -> Option<&'static str> {
        let item = &self.assembly.circuit()[part];
        if !item.fitted || !self.assembly.is_connected(part, self.setup.0) {
            return None;
        }
        let n_pins = item.pins.len();
        let volts: Vec<f64> =
            (0..n_pins).map(|pin| point.volts[network.pin_net(part, pin)]).collect();
        let mut amps = vec![0.0; n_pins];
        let mut found = false;
        for (element, through) in network.elements.iter().zip(&point.amps) {
            if let Some(origin) = element.origin.filter(|origin| origin.part == part) {
                amps[origin.pins[0]] += through;
                amps[origin.pins[1]] -= through;
                found = true;
            }
        }
        let values = network.values(part, self.assembly, self.setup.0);
        let at = At { volts: &volts, amps: &amps };
        if found { of(item).state(&values, &at) } else { None }
    }
}

/// Volts as a meter would show them: nothing below its last digit.
fn as_read(volts: f64) -> String {
    print(if volts.abs() < LEAST_VOLTS { 0.0 } else { volts }, Unit::Volt, 3)
}

/// The nets that a fault touches, ground left out.
fn origin(circuit: &Circuit, fault: &Fault) -> Vec<NetId> {
    let mut nets: Vec<NetId> = match *fault {
        Fault::Leak(net, _) => vec![net],
        Fault::Bridge(a, b, _) => vec![a, b],
        _ => fault
            .part()
            .map(|part| circuit[part].pins.iter().map(|pin| pin.net).collect())
            .unwrap_or_default(),
    };
    // Ground is everywhere: going through it says nothing of distance.
    nets.retain(|net| *net != NetId::GROUND);
    nets
}

/// The nets that are reached from some others through parts, nearest first: over nets that moved,
/// and without going through a part that `stops`. A rail that stands hides what is behind it.
fn reached(
    circuit: &Circuit,
    from: &[NetId],
    moved: &[NetId],
    stops: &dyn Fn(PartId) -> bool,
) -> Vec<NetId> {
    let mut found: Vec<NetId> = Vec::new();
    let mut front: Vec<NetId> = from.to_vec();
    while !front.is_empty() {
        front.sort();
        front.dedup();
        found.extend(&front);
        let mut next = Vec::new();
        for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted) {
            if stops(id) || !part.pins.iter().any(|pin| front.contains(&pin.net)) {
                continue;
            }
            let nets = part.pins.iter().map(|pin| pin.net);
            next.extend(nets.filter(|net| moved.contains(net) && !found.contains(net)));
        }
        front = next;
    }
    found
}
