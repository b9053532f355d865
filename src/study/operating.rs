//! The operating point of a setup, net by net and part by part.

use super::solved::part_state;
use crate::circuit::{Circuit, NetId, Overlay, PartId, SetupId};
use crate::device::{Law, of};
use crate::engine::{
    Assembly, Ending, Network, OperatingPoint, PowerUp, Sensitivities, Step, Strategy,
};

/// A net at an operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct NetState {
    /// The net.
    pub net: NetId,
    /// Its volts to ground; meaningless by themselves when it floats.
    pub volts: f64,
    /// One standard uncertainty from the tolerances of the parts, in volts.
    pub u: f64,
    /// Whether it has no DC path to ground.
    pub floating: bool,
}

/// A part at an operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct PartState {
    /// The part.
    pub part: PartId,
    /// For a part with two pins: amps from pin 1 to pin 2, or what a source delivers.
    pub amps: Option<f64>,
    /// Amps into each pin, in the order of the pins.
    pub pins: Vec<f64>,
    /// Watts that it takes; negative for what a source gives.
    pub watts: f64,
    /// What it is doing, where there is something to say.
    pub state: Option<&'static str>,
}

/// A condition of a part: what switched on the way up, or what holds now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Requirement {
    /// The part.
    pub part: PartId,
    /// What the condition stands for, such as `enable`.
    pub condition: &'static str,
    /// The net that it looks at.
    pub net: NetId,
    /// The net that it is measured against; ground for most.
    pub against: NetId,
    /// Whether it holds.
    pub holds: bool,
    /// The volts found, from that net to the part's own return.
    pub found: f64,
    /// The volts needed.
    pub needed: f64,
    /// Volts beyond what is needed; negative when they are missing.
    pub margin: f64,
    /// Whether tolerances decide: the margin is within two standard uncertainties of the volts and
    /// the threshold together.
    pub marginal: bool,
}

/// Current that flows through a diode inside a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InnerPath {
    /// The part.
    pub part: PartId,
    /// The net that the current comes from.
    pub from: NetId,
    /// The net that it goes to.
    pub to: NetId,
    /// Amps.
    pub amps: f64,
}

/// Another operating point that the board could stay in.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherState {
    /// Volts of the nets, ground left out, in the order of the circuit.
    pub volts: Vec<f64>,
    /// Whether a board can stay in it.
    pub stable: bool,
}

/// An operating point with everything a reader needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Operating {
    /// What switched while power came up, in order.
    pub power_up: Vec<Requirement>,
    /// Conditions that do not hold, and what they wait for.
    pub waiting: Vec<Requirement>,
    /// Current through diodes inside chips and transistors: what feeds a rail that is off.
    pub inner_paths: Vec<InnerPath>,
    /// Other operating points, where they were asked for.
    pub others: Vec<OtherState>,
    /// The nets, ground left out, in the order of the circuit.
    pub nets: Vec<NetState>,
    /// The parts, in the order of the circuit.
    pub parts: Vec<PartState>,
    /// How it was found.
    pub strategy: Strategy,
    /// Newton steps that it took.
    pub iterations: usize,
    /// Largest sum of currents at a net, recomputed from the laws of the parts, in amps.
    pub kcl_residual: f64,
    /// Power given less power taken, in watts.
    pub power_imbalance: f64,
    /// Estimate of how well the equations are conditioned: 1 is best, below 1e-15 nothing holds.
    pub reciprocal_condition: f64,
}

/// Solves a setup with an overlay and reads off everything.
///
/// # Errors
///
/// How the run ended, when there is no operating point.
///
/// ```
/// use ohmhound::study::operating;
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let found = operating(&Assembly::new(&circuit), POWERED, &Overlay::none());
/// let found = found.map_err(|end| format!("{end:?}"))?;
/// let out = found.nets.iter().find(|one| Some(one.net) == circuit.net("OUT")).ok_or("the net")?;
/// assert!((out.volts - 6.0).abs() < 1e-3);
/// // Two resistors of 5 % and a supply of 2 %, as standard uncertainty.
/// assert!((out.u / out.volts - 0.024).abs() < 2e-3, "{}", out.u / out.volts);
/// assert!(found.kcl_residual < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn operating(
    assembly: &Assembly<'_>,
    setup: SetupId,
    overlay: &Overlay,
) -> Result<Operating, Ending> {
    let circuit = assembly.circuit();
    let found = assembly.powered(setup, overlay, None);
    let PowerUp { network, run, steps, .. } = found;
    let (Some(point), Ending::Converged { by, iterations }) = (run.point, &run.ending) else {
        return Err(run.ending);
    };
    let sensitivities = Sensitivities::new(assembly, setup, &network, &point);
    let nets = circuit
        .nets_by_id()
        .skip(1)
        .map(|(net, _)| {
            let along = sensitivities.along(&point.adjoint(net.index(), 0));
            let squares = along.iter().zip(assembly.sources()).map(|(slope, source)| {
                let part = slope * source.standard;
                part * part
            });
            NetState {
                net,
                volts: point.volts[net.index()],
                u: squares.sum::<f64>().sqrt(),
                floating: point.floating[net.index()],
            }
        })
        .collect();
    let parts = circuit
        .parts_by_id()
        .map(|(id, part)| {
            let pins = point.pin_amps(&network, id, part.pins.len());
            let watts = point.part_watts(&network, id);
            let kind = of(part);
            let through = part.is_two_pin().then(|| pins[0]);
            let amps = through.map(|amps| if kind.is_source() { -amps } else { amps });
            let connected = part.fitted && assembly.is_connected(id, setup.0);
            let state = connected
                .then(|| part_state(assembly, setup, (&network, &point), id, &pins))
                .flatten();
            let state = match (part.fitted, connected) {
                (false, _) => Some("not fitted"),
                (true, false) => Some("disconnected"),
                _ => state,
            };
            // A current of minus nothing is nothing.
            let amps = amps.map(|amps| amps + 0.0);
            PartState { part: id, amps, pins, watts: watts + 0.0, state }
        })
        .collect();
    let require = |step: &Step| requirement(assembly, &network, &point, &sensitivities, step);
    let power_up: Vec<Requirement> = steps.iter().map(require).collect();
    let waiting = assembly
        .conditions(setup, &network, &point)
        .iter()
        // A coil that is wired one way round does not wait for the other.
        .filter(|step| !step.on && !step.condition.name.ends_with("reversed"))
        .map(require)
        .collect();
    Ok(Operating {
        power_up,
        waiting,
        inner_paths: inner_paths(circuit, &network, &point),
        others: Vec::new(),
        nets,
        parts,
        strategy: *by,
        iterations: *iterations,
        kcl_residual: point.kcl_residual,
        power_imbalance: point.power_imbalance,
        reciprocal_condition: point.reciprocal_condition(),
    })
}

/// Adds the other operating points of the setup to one that was solved.
pub fn with_others(
    assembly: &Assembly<'_>,
    setup: SetupId,
    overlay: &Overlay,
    mut point: Operating,
) -> Operating {
    let n_nets = assembly.circuit().nets.len();
    let (_, all) = assembly.all_states(setup, overlay);
    point.others = all
        .into_iter()
        .skip(1)
        .map(|other| OtherState {
            volts: other.point.volts[1..n_nets].to_vec(),
            stable: other.stable,
        })
        .collect();
    point
}

/// A condition as it stands at the operating point, in words and with its margin.
fn requirement(
    assembly: &Assembly<'_>,
    network: &Network,
    point: &OperatingPoint,
    sensitivities: &Sensitivities,
    step: &Step,
) -> Requirement {
    let circuit = assembly.circuit();
    let part = &circuit[step.part];
    let [red, black] = step.condition.pins.map(|pin| network.pin_net(step.part, pin));
    let along = sensitivities.along(&point.adjoint(red, black));
    let volts_u = along
        .iter()
        .zip(assembly.sources())
        .map(|(slope, source)| (slope * source.standard).powi(2))
        .sum::<f64>()
        .sqrt();
    let is_first = step.needed == step.condition.on_at;
    let name = step.condition.parameters[usize::from(!is_first)];
    let threshold = part.toleranced(name);
    let share = threshold.map_or(0.0, |number| {
        number.standard_uncertainty() / number.nominal.abs().max(f64::MIN_POSITIVE)
    });
    let u = volts_u.hypot(share * step.needed);
    let sign = if step.condition.rises { 1.0 } else { -1.0 };
    // What held on the way may stand closer to its threshold once everything runs.
    let now = point.between(red, black);
    let closest = (step.found - step.needed).abs().min((now - step.needed).abs());
    Requirement {
        part: step.part,
        condition: step.condition.name,
        net: part.pins[step.condition.pins[0]].net,
        against: part.pins[step.condition.pins[1]].net,
        holds: step.on,
        found: step.found,
        needed: step.needed,
        margin: sign * (step.found - step.needed),
        marginal: closest <= 2.0 * u,
    }
}

/// The least current through a diode inside a part that is told of, in amps.
const TOLD_AMPS: f64 = 1e-6;

/// Diodes inside chips and transistors that carry current between two nets other than ground.
fn inner_paths(circuit: &Circuit, network: &Network, point: &OperatingPoint) -> Vec<InnerPath> {
    let mut found: Vec<InnerPath> = Vec::new();
    for (element, &amps) in network.elements.iter().zip(&point.amps) {
        let Some(origin) = element.origin else { continue };
        let part = &circuit[origin.part];
        let is_inner = of(part).rails().is_some() || matches!(part.kind, "nmos" | "pmos");
        let pins = origin.pins.map(|pin| part.pins[pin].net);
        let inland = pins.iter().all(|net| *net != NetId::GROUND);
        if is_inner && inland && matches!(element.law, Law::Curve(_)) && amps > TOLD_AMPS {
            found.push(InnerPath { part: origin.part, from: pins[0], to: pins[1], amps });
        }
    }
    found
}
