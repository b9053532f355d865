//! A circuit made ready: the branches of every setup, compiled once, so that thousands of overlays
//! can be laid over them.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use super::network::{Network, SHORT_OHMS};
use super::patch::Patch;
use super::sensitivity::{Source, sources_of};
use super::{Ending, OperatingPoint, PowerUp, Run, Settings, Stands, Strategy};
use crate::circuit::{
    Change, Circuit, Connection, NetId, Overlay, POWERED, Param, PartId, SetupId,
};
use crate::device::{Law, Limited, MINIMUM_SHARE, Values, of};
use crate::quantity::Toleranced;

/// A circuit made ready for solving.
#[derive(Debug)]
pub struct Assembly<'a> {
    circuit: &'a Circuit,
    settings: Settings,
    /// One network per setup.
    base: Vec<Network>,
    /// `minimum` of loads that do not give one, in volts.
    minimum: Vec<(PartId, f64)>,
    /// What is uncertain, the same list for all setups.
    sources: Vec<Source>,
    /// Parts that have states.
    stateful: Vec<PartId>,
    /// Per setup: whether parts may hold each other in one of several states.
    latching: Vec<bool>,
    /// Per setup: the board as drawn with power on, once it was asked for.
    healthy: Vec<OnceLock<PowerUp>>,
    /// Where boards with changes came to stand.
    stood: Mutex<HashMap<(SetupId, String), Stands>>,
    /// What this one shares with no other.
    identity: Arc<()>,
}

/// So many boards with changes are remembered at most: a few megabytes.
const MOST_STOOD: usize = 4096;

impl<'a> Assembly<'a> {
    /// Compiles every setup of the circuit.
    ///
    /// ```
    /// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
    ///
    /// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
    ///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
    ///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
    /// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
    /// let circuit = circuit.value.ok_or("the circuit is in order")?;
    /// let assembly = Assembly::new(&circuit);
    /// let healthy = assembly.solve(POWERED, &Overlay::none());
    /// assert!(healthy.point.is_some());
    /// // As often as wanted, with something changed each time.
    /// let part = circuit.part("R1").ok_or("a part")?;
    /// let broken = assembly.solve(POWERED, &Overlay::one(Change::Removed { part }));
    /// assert!(broken.point.is_some());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn new(circuit: &'a Circuit) -> Assembly<'a> {
        Assembly::with_settings(circuit, Settings::default())
    }

    /// Compiles every setup of the circuit, with other tolerances of the solver.
    pub fn with_settings(circuit: &'a Circuit, settings: Settings) -> Assembly<'a> {
        let mut assembly = Assembly::bare(circuit, settings);
        let has_states = |&(id, _): &(PartId, _)| {
            let values = assembly.values(id, 0);
            !of(values.part).conditions(&values).is_empty()
        };
        assembly.stateful = circuit.parts_by_id().filter(has_states).map(|(id, _)| id).collect();
        assembly.compile_all();
        assembly.settle_minimums();
        assembly.sources = sources_of(&assembly, None);
        assembly.latching = assembly.base.iter().map(Network::may_latch).collect();
        assembly
    }

    /// Compiles a circuit that differs from this one by the values of parameters alone: what follows
    /// from how it is wired is not looked for again.
    pub fn like<'b>(&self, circuit: &'b Circuit) -> Assembly<'b> {
        let mut assembly = Assembly::bare(circuit, self.settings.clone());
        assembly.stateful.clone_from(&self.stateful);
        assembly.compile_all();
        assembly.settle_minimums();
        assembly.sources = sources_of(&assembly, Some(&self.sources));
        assembly.latching.clone_from(&self.latching);
        assembly
    }

    fn bare(circuit: &'a Circuit, settings: Settings) -> Assembly<'a> {
        Assembly {
            circuit,
            settings,
            base: Vec::new(),
            minimum: Vec::new(),
            sources: Vec::new(),
            stateful: Vec::new(),
            latching: Vec::new(),
            healthy: circuit.setups.iter().map(|_| OnceLock::new()).collect(),
            stood: Mutex::default(),
            identity: Arc::default(),
        }
    }

    /// What this assembly shares with no other: whether something was made for it is told by
    /// [`Arc::ptr_eq`].
    pub fn identity(&self) -> &Arc<()> {
        &self.identity
    }

    /// The circuit.
    pub fn circuit(&self) -> &'a Circuit {
        self.circuit
    }

    /// The solver's tolerances.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    pub(super) fn latching(&self) -> &[bool] {
        &self.latching
    }

    /// Whether any part has states that are walked.
    pub fn has_states(&self) -> bool {
        !self.stateful.is_empty()
    }

    /// An overlay with sources of uncertainty, by their numbers, at other values than the nominal ones.
    pub fn laid(
        &self,
        overlay: &Overlay,
        values: impl IntoIterator<Item = (usize, f64)>,
    ) -> Overlay {
        let moved = values.into_iter().map(|(at, value)| {
            let source = &self.sources[at];
            Change::Parameter { part: source.part, name: source.parameter, value }
        });
        // A fault comes last: the parameter that it replaces is its own.
        Overlay { changes: moved.chain(overlay.changes.iter().cloned()).collect() }
    }

    /// Gives the loads of a variant of the circuit, whose least voltage follows from the healthy
    /// board, the one that they have on this board: it is the load that stays the same.
    pub fn keep_minimums(&self, variant: &mut Circuit) {
        for (id, part) in self.circuit.parts_by_id().filter(|(_, part)| part.kind == "load") {
            if part.param("minimum").is_none()
                && let Some(volts) = self.values(id, 0).get("minimum")
            {
                let number = Param::Number(Toleranced::bare(volts));
                variant.parts[id.index()].params.push(("minimum", number));
            }
        }
    }

    /// Whether a part has states that are walked.
    pub fn is_stateful(&self, part: PartId) -> bool {
        self.stateful.contains(&part)
    }

    /// Parts that have states.
    pub(super) fn stateful(&self) -> &[PartId] {
        &self.stateful
    }

    /// What is uncertain in the circuit: one entry per parameter with a tolerance.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The network of a setup with an overlay.
    pub fn network(&self, setup: SetupId, overlay: &Overlay) -> Network {
        let mut network = self.base[setup.0].clone();
        if network.n_nets > self.settings.dense {
            // A change moves few entries, and so does another setup: what was found about the places of
            // the healthy board's holds.
            let like = match overlay.changes.is_empty() {
                true if setup == POWERED => None,
                true => Some(POWERED),
                false => Some(setup),
            };
            let known = like.and_then(|like| self.healthy(like).run.point.as_ref());
            network.analysis = known.and_then(|point| point.factor.analysis());
        }
        network.lay(overlay, self, setup.0);
        network
    }

    /// Solves a setup with an overlay, from nothing.
    ///
    /// ```
    /// # fn main() -> Result<(), String> {
    /// use ohmhound::circuit::{Circuit, Overlay, POWERED};
    /// use ohmhound::device::two_pin;
    /// use ohmhound::engine::Assembly;
    ///
    /// let mut circuit = Circuit::new("divider", "GND");
    /// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0), ("resistance", 0.0)])?;
    /// two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
    /// two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
    /// let run = Assembly::new(&circuit).solve(POWERED, &Overlay::none());
    /// let out = circuit.net("OUT").unwrap();
    /// assert!((run.point.unwrap().volts[out.index()] - 4.0).abs() < 1e-12);
    /// # Ok(())
    /// # }
    /// ```
    pub fn solve(&self, setup: SetupId, overlay: &Overlay) -> Run {
        self.power_up(setup, overlay, None).run
    }

    /// The board as drawn with power on in a setup, solved once.
    pub fn healthy(&self, setup: SetupId) -> &PowerUp {
        self.healthy[setup.0].get_or_init(|| self.power_up(setup, &Overlay::none(), None))
    }

    /// [`Assembly::power_up`], but the board as drawn is not solved again.
    pub fn powered(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        start: Option<&OperatingPoint>,
    ) -> PowerUp {
        match overlay.changes[..] {
            [] => self.healthy(setup).clone(),
            _ => self.power_up(setup, overlay, start),
        }
    }

    /// [`Assembly::powered`] for a board that may be asked for again, as between the questions of a
    /// session: where it came to stand is remembered, and found again in a step or two. The steps on
    /// the way there are told the first time only.
    pub fn settled(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        start: Option<&OperatingPoint>,
    ) -> PowerUp {
        // Where nothing switches or latches, the way from the start is short enough.
        if overlay.changes.is_empty() || start.is_some() {
            return self.powered(setup, overlay, start);
        }
        let key = (setup, format!("{overlay:?}"));
        // A poisoned lock is one whose holder panicked: what it held is only a shorter way.
        let stood = self.stood.lock().ok().and_then(|stood| stood.get(&key).cloned());
        if let Some((states, volts)) = stood
            && let Some((network, point)) = self.power_up_in(setup, overlay, &states, &volts)
        {
            let ending = Ending::Converged { by: Strategy::Newton, iterations: 0 };
            let run = Run { ending, point: Some(point) };
            return PowerUp { network, run, steps: Vec::new(), cycle: None };
        }
        let found = self.power_up(setup, overlay, start);
        if let (Some(point), Ok(mut stood)) = (&found.run.point, self.stood.lock()) {
            if stood.len() >= MOST_STOOD {
                stood.clear();
            }
            stood.insert(key, (found.network.states().to_vec(), point.volts.clone()));
        }
        found
    }

    /// Whether the part carries current at all in a setup: fitted, and not a source that the
    /// setup disconnects.
    pub fn is_connected(&self, part: PartId, setup: usize) -> bool {
        let setup = &self.circuit.setups[setup];
        let is_source = of(&self.circuit[part]).is_source();
        !setup.disconnected.contains(&part) && (setup.sources_on || !is_source)
    }

    /// The nominal values of a part in a setup.
    pub fn values(&self, part: PartId, setup: usize) -> Values<'a> {
        let circuit: &'a Circuit = self.circuit;
        let setup = &circuit.setups[setup];
        let mut values = Values::nominal(&circuit.parts[part.index()], setup.celsius);
        if setup.closed.contains(&part) {
            values.closed = Some(true);
        } else if setup.open.contains(&part) {
            values.closed = Some(false);
        }
        if let Some(&(_, volts)) = self.minimum.iter().find(|(known, _)| *known == part) {
            values.replaced.push(("minimum", volts));
        }
        values
    }

    fn compile_all(&mut self) {
        self.base = (0..self.circuit.setups.len()).map(|setup| self.compile(setup)).collect();
    }

    fn compile(&self, setup_idx: usize) -> Network {
        let setup = &self.circuit.setups[setup_idx];
        let mut network = Network {
            n_nets: self.circuit.nets.len(),
            elements: Vec::new(),
            pins: self
                .circuit
                .parts
                .iter()
                .map(|part| part.pins.iter().map(|pin| pin.net.index()).collect())
                .collect(),
            patch: Patch::default(),
            states: vec![0; self.circuit.parts.len()],
            rails: self
                .circuit
                .parts_by_id()
                .flat_map(|(id, part)| {
                    let rails = of(part).rails().unwrap_or_default();
                    rails.into_iter().filter_map(move |name| Some((id, part.pin(name)?)))
                })
                .collect(),
            shorts: Vec::new(),
            analysis: None,
        };
        for (id, part) in self.circuit.parts_by_id() {
            if part.fitted && self.is_connected(id, setup_idx) {
                network.put_part(id, &self.values(id, setup_idx), false);
            }
        }
        for &part in &setup.lifted {
            let n_pins = self.circuit[part].pins.len();
            let off = if n_pins == 2 { 0..1 } else { 0..n_pins };
            for pin in off {
                network.break_pin(part, pin, None);
            }
        }
        for connection in &setup.connections {
            let [plus, minus] = connection.nets().map(NetId::index);
            let law = match *connection {
                Connection::Supply { volts, limit: Some(limit), resistance, .. }
                    if resistance > 0.0 && volts != 0.0 =>
                {
                    Law::curve(Limited::supply(volts, resistance, limit))
                }
                Connection::Supply { volts, resistance, .. } if resistance > 0.0 => {
                    Law::Line { siemens: 1.0 / resistance, amps: -volts / resistance }
                }
                Connection::Supply { volts, .. } => Law::Volts(volts),
                Connection::Link { resistance, .. } => Law::conductance(1.0 / resistance),
            };
            let idx = network.add(plus, minus, law);
            if matches!(connection, Connection::Link { resistance, .. } if *resistance <= SHORT_OHMS)
            {
                network.shorts.push(idx);
            }
        }
        network
    }

    /// Gives loads without a `minimum` their share of the healthy voltage of their net: solved
    /// once with the same share of the largest source in its place.
    fn settle_minimums(&mut self) {
        let circuit = self.circuit;
        let waiting: Vec<PartId> = circuit
            .parts_by_id()
            .filter(|(_, part)| part.kind == "load" && part.param("minimum").is_none())
            .map(|(id, _)| id)
            .collect();
        if waiting.is_empty() {
            return;
        }
        let largest = circuit
            .parts
            .iter()
            .filter_map(|part| part.nominal("volts").or(part.nominal("compliance")))
            .fold(1.0, |largest: f64, volts| largest.max(volts.abs()));
        self.minimum = waiting.iter().map(|&id| (id, MINIMUM_SHARE * largest)).collect();
        self.compile_all();
        let run = self.solve(POWERED, &Overlay::none());
        if let Some(point) = run.point {
            for (id, minimum) in &mut self.minimum {
                let pins = &circuit[*id].pins;
                let volts = point.volts[pins[0].net.index()] - point.volts[pins[1].net.index()];
                // A load that the healthy board does not feed keeps the first guess.
                if volts > 1e-3 * largest {
                    *minimum = MINIMUM_SHARE * volts;
                }
            }
        }
        self.compile_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::UNPOWERED;
    use crate::device::two_pin;

    /// A large board's matrices are looked at once: for faults of any value that makes no cluster of
    /// two nets, and for other setups.
    #[test]
    fn faults_and_setups_share_what_is_known_of_a_large_board() {
        let mut circuit = Circuit::new("", "GND");
        two_pin(&mut circuit, "V1", "supply", ["N0", "GND"], &[("volts", 12.0)]).unwrap();
        for idx in 0..120 {
            let (from, to) = (format!("N{idx}"), format!("N{}", idx + 1));
            let nets = [from.as_str(), to.as_str()];
            two_pin(&mut circuit, &format!("R{idx}"), "resistor", nets, &[("value", 1e3)]).unwrap();
        }
        two_pin(&mut circuit, "R120", "resistor", ["N120", "GND"], &[("value", 1e3)]).unwrap();
        let assembly = Assembly::new(&circuit);
        let analysis = |setup, overlay: &Overlay| {
            let point = assembly.powered(setup, overlay, None).run.point.unwrap();
            point.factor.analysis().unwrap()
        };
        let healthy = analysis(POWERED, &Overlay::none());
        let part = circuit.part("R7").unwrap();
        for ohms in [20.0, 470.0, 1e6] {
            let fault = Overlay::one(Change::Across { part, ohms });
            assert!(std::sync::Arc::ptr_eq(&healthy, &analysis(POWERED, &fault)), "{ohms}");
        }
        assert!(std::sync::Arc::ptr_eq(&healthy, &analysis(UNPOWERED, &Overlay::none())));
    }
}
