//! The operating point of a setup, net by net and part by part.

use crate::circuit::{NetId, Overlay, PartId, SetupId};
use crate::device::{At, of};
use crate::engine::{Assembly, Ending, Sensitivities, Strategy};

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

/// An operating point with everything a reader needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Operating {
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
pub fn operating(
    assembly: &Assembly<'_>,
    setup: SetupId,
    overlay: &Overlay,
) -> Result<Operating, Ending> {
    let circuit = assembly.circuit();
    let network = assembly.network(setup, overlay);
    let run = network.solve(assembly.settings());
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
            let mut pins = vec![0.0; part.pins.len()];
            let mut watts = 0.0;
            for (idx, element) in network.elements.iter().enumerate() {
                if let Some(origin) = element.origin.filter(|origin| origin.part == id) {
                    pins[origin.pins[0]] += point.amps[idx];
                    pins[origin.pins[1]] -= point.amps[idx];
                    watts += point.watts(&network, idx);
                }
            }
            let kind = of(part);
            let through = part.is_two_pin().then(|| pins[0]);
            let amps = through.map(|amps| if kind.is_source() { -amps } else { amps });
            let connected = part.fitted && assembly.is_connected(id, setup.0);
            let volts: Vec<f64> =
                (0..pins.len()).map(|pin| point.volts[network.pin_net(id, pin)]).collect();
            let at = At { volts: &volts, amps: &pins };
            let state = connected.then(|| kind.state(&assembly.values(id, setup.0), &at)).flatten();
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
    Ok(Operating {
        nets,
        parts,
        strategy: *by,
        iterations: *iterations,
        kcl_residual: point.kcl_residual,
        power_imbalance: point.power_imbalance,
        reciprocal_condition: point.reciprocal_condition(),
    })
}
