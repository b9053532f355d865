//! Predictions by the reduced board: what most of the places of most hypotheses need.
//!
//! What this cannot do (broken joints, nets that lose their ground, parts turned round) it leaves
//! to the full network by saying `None`. What it can do agrees with the full network to rounding,
//! and the best place of everything that is not excluded is solved again in full.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use super::case::{Case, Prediction};
use crate::circuit::{Change, Overlay, PartId, Quantity, SetupId};
use crate::device::{Branch, Law, of};
use crate::engine::{Active, Assembly, Network, OperatingPoint, Reduced, Small, Watch};
use crate::fault::Hypothesis;

/// The reduced boards of a case, per setup.
#[derive(Debug)]
pub(super) struct Screen {
    setups: Vec<Patterns>,
    /// What a change may join, per setup, and read.
    ends: Vec<Vec<(usize, usize)>>,
}

/// The reduced boards of one setup, one per pattern of states that was walked through; with the
/// joint of a pin broken, further ones.
#[derive(Debug, Default)]
struct Patterns {
    known: RefCell<HashMap<Pattern, Option<Rc<SetupScreen>>>>,
}

/// Which conditions hold, and the joint that is broken.
type Pattern = (Vec<u8>, Option<Joint>);

/// A pin whose joint has a resistance, by part and number.
type Joint = (PartId, usize);

/// The resistance of a broken joint in the board that is reduced, in ohms: any will do.
const JOINT_OHMS: f64 = 1.0;

/// Steps of one walk, in parts of the number of conditions: a board that takes more keeps
/// switching, which the full walk finds out.
const WALK_STEPS: usize = 4;

#[derive(Debug)]
struct SetupScreen {
    setup: SetupId,
    network: Network,
    reduced: Reduced,
    healthy: Small,
    /// Where the last solution stood, without a meter and per reading: the next place of a line is
    /// near.
    last: RefCell<HashMap<Option<usize>, Small>>,
    /// Pairs of nets with the number of their port.
    pairs: HashMap<(usize, usize), usize>,
    /// Elements of each part.
    elements: Vec<Vec<usize>>,
    /// Sources of uncertainty with the element that each acts on and its number in its part.
    pushes: Vec<(usize, usize, usize)>,
    has_given: bool,
    /// The conditions of the board's parts, with the ports whose volts they look at.
    watches: Vec<(Watch, usize)>,
    /// Laws around the states, of sources whose part is in one.
    around: HashMap<usize, [Vec<Branch>; 2]>,
}

/// A change as the reduced board sees it.
struct Laid {
    changes: Vec<Active>,
    /// Parts whose tolerances no longer apply.
    taken: Vec<PartId>,
    /// Parameters that lost their tolerance.
    replaced: Option<(PartId, &'static str)>,
    /// Sources of a part with a replaced parameter: their laws around the fault.
    around: Vec<(usize, [Vec<Branch>; 2])>,
}

/// A voltmeter that loads its net by less than this share is taken into account to first order.
const LIGHT_LOADING: f64 = 1e-3;

/// Ohms below which a short across given voltages is a contradiction for the full network to name.
const SHORT: f64 = 1.0;

impl Screen {
    /// Reduces every setup of the case; `None` where one of them cannot be.
    pub(super) fn new(case: &Case<'_>, list: &[Hypothesis]) -> Option<Screen> {
        let ends = case
            .setups
            .iter()
            .map(|(setup, idxs)| {
                let network = case.assembly.network(*setup, &Overlay::none());
                ends_of(case, *setup, idxs, list, &network)
            })
            .collect();
        let setups = case.setups.iter().map(|_| Patterns::default()).collect();
        let screen = Screen { setups, ends };
        // A board that cannot be reduced when healthy is not tried fault by fault.
        screen.predict(case, &Overlay::none()).map(|_| ())?;
        Some(screen)
    }

    /// What a change predicts for every reading; `None` where the full network is needed.
    pub(super) fn predict(&self, case: &Case<'_>, overlay: &Overlay) -> Option<Prediction> {
        let n = case.readings.len();
        let mut prediction = Prediction {
            shown: vec![0.0; n],
            y: vec![0.0; n],
            spread: vec![Vec::new(); n],
            floats: vec![false; n],
        };
        for (number, (_, idxs)) in case.setups.iter().enumerate() {
            let (screen, laid, unloaded) = self.walk(case, number, overlay)?;
            let volts = screen.reduced.volts(&unloaded);
            let pushes = screen.pushes(case, &laid, &laid.changes, &volts);
            for &idx in idxs {
                let reading = &case.readings[idx];
                let shown = match screen.light(case, &unloaded, &volts, &pushes, reading) {
                    Some(shown) => shown,
                    None => screen.show(case, &laid, &unloaded, &volts, idx)?,
                };
                case.put(&mut prediction, idx, (shown.value, shown.latent), shown.spread, false);
            }
        }
        Some(prediction)
    }

    /// The pattern of states that a change powers up in, per setup, by the reduced boards.
    pub(super) fn states(&self, case: &Case<'_>, overlay: &Overlay) -> Option<Vec<Vec<u8>>> {
        (0..case.setups.len())
            .map(|number| Some(self.walk(case, number, overlay)?.0.network.states().to_vec()))
            .collect()
    }

    /// Powers a setup up on reduced boards, one condition at a time, as the full walk does.
    fn walk(
        &self,
        case: &Case<'_>,
        number: usize,
        overlay: &Overlay,
    ) -> Option<(Rc<SetupScreen>, Laid, Small)> {
        let mut states = vec![0; case.assembly.circuit().parts.len()];
        let mut steps = 0;
        let joint = match overlay.changes[..] {
            [Change::Joint { part, pin, ohms: Some(_) }] => Some((part, pin)),
            _ => None,
        };
        loop {
            let screen = self.in_pattern(case, number, &states, joint)?;
            let laid = screen.lay(case.assembly, overlay)?;
            let unloaded = screen.solve(None, &laid.changes, &screen.healthy)?;
            if screen.watches.is_empty() {
                return Some((screen, laid, unloaded));
            }
            let volts = screen.reduced.volts(&unloaded);
            let watches: Vec<Watch> = screen
                .watches
                .iter()
                .map(|(watch, _)| *watch)
                .filter(|watch| !laid.taken.contains(&watch.part))
                .collect();
            let volts_of = |watch: &Watch| {
                let known = |(other, _): &&(Watch, usize)| {
                    (other.part, other.number) == (watch.part, watch.number)
                };
                screen.watches.iter().find(known).map_or(f64::NAN, |(_, port)| volts[*port])
            };
            let next = case.assembly.next_switch(&states, &watches, volts_of);
            let Some((watch, _)) = next else { return Some((screen, laid, unloaded)) };
            watch.flip(&mut states);
            steps += 1;
            if steps > WALK_STEPS * screen.watches.len() {
                return None;
            }
        }
    }

    fn in_pattern(
        &self,
        case: &Case<'_>,
        number: usize,
        states: &[u8],
        joint: Option<Joint>,
    ) -> Option<Rc<SetupScreen>> {
        let known = &self.setups[number].known;
        let key = (states.to_vec(), joint);
        if let Some(screen) = known.borrow().get(&key) {
            return screen.clone();
        }
        let (setup, healthy) = (case.setups[number].0, case.healthy[number].as_ref());
        let screen = match joint {
            None => {
                let base = case.assembly.network(setup, &Overlay::none());
                SetupScreen::new(case, setup, base, states, healthy, &self.ends[number])
            }
            Some((part, pin)) => {
                let broken = Overlay::one(Change::Joint { part, pin, ohms: Some(JOINT_OHMS) });
                let base = case.assembly.network(setup, &broken);
                let ends = ends_of(case, setup, &case.setups[number].1, &[], &base);
                SetupScreen::new(case, setup, base, states, None, &ends)
            }
        };
        let screen = screen.map(Rc::new);
        known.borrow_mut().insert(key, screen.clone());
        screen
    }
}

/// The pairs of nets of a setup that readings are taken at or that a change may join.
fn ends_of(
    case: &Case<'_>,
    setup: SetupId,
    readings: &[usize],
    list: &[Hypothesis],
    network: &Network,
) -> Vec<(usize, usize)> {
    let mut ends: Vec<(usize, usize)> = Vec::new();
    for &idx in readings {
        let reading = &case.readings[idx];
        if !matches!(reading.quantity, Quantity::Amps | Quantity::Seen) {
            ends.push(network.leads(reading.place));
        }
    }
    for hypothesis in list {
        for change in hypothesis.overlay(0.0).changes {
            match change {
                Change::Bridge { nets, .. } => {
                    ends.push((nets[0].index(), nets[1].index()));
                }
                Change::Across { part, .. } => {
                    ends.push((network.pin_net(part, 0), network.pin_net(part, 1)));
                }
                Change::Inside { part, pins: [a, b], .. } => {
                    ends.push((network.pin_net(part, a), network.pin_net(part, b)));
                }
                _ => {}
            }
        }
    }
    for watch in case.assembly.watches(setup, network) {
        let [from, to] = watch.condition.pins.map(|pin| network.pin_net(watch.part, pin));
        ends.push((from, to));
    }
    ends.sort_unstable();
    ends.dedup();
    ends
}

struct ScreenShown {
    value: f64,
    /// What a meter of endless range would show.
    latent: f64,
    spread: Vec<f64>,
}

impl SetupScreen {
    fn new(
        case: &Case<'_>,
        setup: SetupId,
        base: Network,
        states: &[u8],
        healthy: Option<&OperatingPoint>,
        ends: &[(usize, usize)],
    ) -> Option<SetupScreen> {
        let assembly = case.assembly;
        let on_base = assembly.watches(setup, &base);
        let network = assembly.in_states(setup, &base, &on_base, states);
        let volts = if assembly.has_states() || healthy.is_none() {
            network.solve_from(healthy, assembly.settings()).point?.volts
        } else {
            healthy?.volts.clone()
        };
        let reduced = Reduced::new(&network, &volts, ends)?;
        let at = |wanted: (usize, usize)| ends.iter().position(|ends| *ends == wanted);
        let watches = assembly
            .watches(setup, &network)
            .into_iter()
            .map(|watch| {
                let [from, to] = watch.condition.pins.map(|pin| network.pin_net(watch.part, pin));
                Some((watch, reduced.pair(at((from, to))?)))
            })
            .collect::<Option<_>>()?;
        let pairs: HashMap<(usize, usize), usize> =
            ends.iter().enumerate().map(|(at, &ends)| (ends, reduced.pair(at))).collect();
        let healthy = reduced.solve(&[], None)?;
        let mut elements = vec![Vec::new(); assembly.circuit().parts.len()];
        for (idx, element) in network.elements.iter().enumerate() {
            if let Some(part) = element.part() {
                elements[part.index()].push(idx);
            }
        }
        let pushes: Vec<(usize, usize, usize)> = assembly
            .sources()
            .iter()
            .enumerate()
            .flat_map(|(at, source)| {
                let own = &elements[source.part.index()];
                own.iter().enumerate().map(move |(number, &element)| (at, element, number))
            })
            .collect();
        let around = assembly
            .sources()
            .iter()
            .enumerate()
            .filter(|(_, source)| states[source.part.index()] != 0)
            .map(|(at, source)| {
                let on = states[source.part.index()];
                (at, source.laws_around(assembly, setup, &[], on))
            })
            .collect();
        let has_given = network.elements.iter().any(|element| matches!(element.law, Law::Volts(_)));
        Some(SetupScreen {
            setup,
            network,
            reduced,
            healthy,
            pairs,
            elements,
            pushes,
            last: RefCell::default(),
            has_given,
            watches,
            around,
        })
    }

    /// Solves from where the last solution of the same reading stood, or from `first`.
    fn solve(&self, reading: Option<usize>, changes: &[Active], first: &Small) -> Option<Small> {
        let last = self.last.borrow_mut().remove(&reading);
        let small = self.reduced.solve(changes, Some(last.as_ref().unwrap_or(first)))?;
        self.last.borrow_mut().insert(reading, small.clone());
        Some(small)
    }

    fn lay(&self, assembly: &Assembly<'_>, overlay: &Overlay) -> Option<Laid> {
        let mut laid =
            Laid { changes: Vec::new(), taken: Vec::new(), replaced: None, around: Vec::new() };
        let elements = |part: PartId| &self.elements[part.index()];
        for change in &overlay.changes {
            match *change {
                Change::Removed { part } => {
                    let gone = elements(part).iter().map(|&port| Active { port, law: None });
                    laid.changes.extend(gone);
                    laid.taken.push(part);
                }
                Change::Across { part, ohms } => {
                    let ends = (self.network.pin_net(part, 0), self.network.pin_net(part, 1));
                    self.join(&mut laid, ends, ohms)?;
                }
                Change::Inside { part, pins: [a, b], ohms } => {
                    let ends = (self.network.pin_net(part, a), self.network.pin_net(part, b));
                    self.join(&mut laid, ends, ohms)?;
                }
                Change::Bridge { nets, ohms } => {
                    self.join(&mut laid, (nets[0].index(), nets[1].index()), ohms)?;
                }
                // The thresholds of a part with states may move with its parameters.
                Change::Parameter { part, .. } if self.is_watched(part) => return None,
                Change::Parameter { part, name, value } => {
                    self.rebuild(&mut laid, assembly, part, (name, value))?;
                    for (at, source) in assembly.sources().iter().enumerate() {
                        if source.part == part && source.parameter != name {
                            let laws =
                                source.laws_around(assembly, self.setup, &[(name, value)], 0);
                            laid.around.push((at, laws));
                        }
                    }
                    laid.replaced = Some((part, name));
                }
                Change::Joint { ohms: Some(ohms), .. } => {
                    // The branch to the net that the broken joint made, which is the last one.
                    let broken = self.network.n_nets - 1;
                    let port = self
                        .network
                        .elements
                        .iter()
                        .position(|element| element.origin.is_none() && element.to == broken)?;
                    let law = Some(Law::conductance(1.0 / ohms));
                    laid.changes.push(Active { port, law });
                }
                // Each of the two takes its tolerance to the other's place.
                Change::Exchanged { .. }
                | Change::Reversed { .. }
                | Change::Joint { .. }
                | Change::Fitted { .. }
                | Change::Struck { .. } => return None,
            }
        }
        Some(laid)
    }

    fn is_watched(&self, part: PartId) -> bool {
        self.watches.iter().any(|(watch, _)| watch.part == part)
    }

    fn join(&self, laid: &mut Laid, ends: (usize, usize), ohms: f64) -> Option<()> {
        if self.has_given && ohms <= SHORT {
            return None;
        }
        let port = *self.pairs.get(&ends)?;
        laid.changes.push(Active { port, law: Some(Law::conductance(1.0 / ohms)) });
        Some(())
    }

    fn rebuild(
        &self,
        laid: &mut Laid,
        assembly: &Assembly<'_>,
        part: PartId,
        replaced: (&'static str, f64),
    ) -> Option<()> {
        if !assembly.is_connected(part, self.setup.0) {
            return Some(());
        }
        let mut values = assembly.values(part, self.setup.0);
        values.on = self.network.states()[part.index()];
        values.replaced.insert(0, replaced);
        let branches = of(values.part).branches(&values);
        let own = &self.elements[part.index()];
        let same = |(port, branch): (&usize, &Branch)| {
            self.network.elements[*port].senses == branch.senses
        };
        if branches.len() != own.len() || !own.iter().zip(&branches).all(same) {
            return None;
        }
        for (&port, branch) in own.iter().zip(branches) {
            laid.changes.push(Active { port, law: Some(branch.law) });
        }
        Some(())
    }
}

mod shown;
#[cfg(test)]
mod tests;
