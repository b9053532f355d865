//! The equations of a network around one state: cut sets of a tree, and own currents.

use std::ops::Range;
use std::sync::Arc;

use super::matrix::Matrix;
use super::network::Network;
use super::point::Settings;
use super::structure::conducting_islands;
use super::system::{System, sum_along};
use super::tree::Tree;
use crate::device::{Driven, Law, Sample};

/// The resistance that weighs the current of a clamped branch against its voltage, in ohms: the
/// size of resistance that small boards are made of. Any positive value has the same solutions.
const CLAMP_OHMS: f64 = 1e3;

/// What a clamped branch drops at its end for each amp, in ohms. A nanovolt per amp is far below
/// the last digit of any meter, and it settles how ideal diodes in parallel share a current.
pub(super) const HELD_OHMS: f64 = 1e-9;

/// Conductance of a clamped branch inside its range, in siemens, as of every blocked junction: it
/// keeps a net between two of them defined.
const BLOCKED: f64 = 1e-13;

/// The equations of a network: unknowns, and ties of floating islands.
pub(super) struct Equations<'a> {
    pub(super) network: &'a Network,
    /// Number of nets less ground.
    n_volts: usize,
    /// Elements with a current of their own, in the order of their rows.
    own: Vec<usize>,
    /// Elements that are curves.
    pub(super) curves: Vec<usize>,
    /// Elements that are clamps.
    clamps: Vec<usize>,
    /// Elements that are driven, each with the places of its senses in `senses`.
    pub(super) driven: Vec<(usize, Range<usize>)>,
    /// The pairs of nets that driven elements sense.
    senses: Vec<(usize, usize)>,
    /// One net of every floating island, tied to ground by 1 S. No current can flow in the only tie
    /// of an island, so the tie changes nothing and makes the equations solvable.
    ties: Vec<usize>,
    /// Per element: its current at zero volts, which source stepping takes away.
    at_zero: Vec<f64>,
    /// Whether the matrix is dense, which it is while it is small.
    is_dense: bool,
    /// The strength of branches that is usual, in siemens, for networks of many nets.
    usual: f64,
}

/// What stands between the equations and easier ones.
#[derive(Debug, Clone)]
pub(super) struct Aid<'a> {
    /// Share of the sources that is on, 0 to 1.
    pub(super) sources: f64,
    /// Siemens from every net to the voltage below.
    pub(super) shunt: f64,
    /// The voltages that shunts pull to; ground when `None`.
    pub(super) pull_to: Option<&'a [f64]>,
    /// Whether slopes that fall are left out of the steps: a current that falls when its voltage
    /// rises sends a step the wrong way while it is far from the answer.
    pub(super) tamed: bool,
    /// Whether the whole network stops where the first part meets a corner of its law, instead of
    /// that part alone.
    pub(super) together: bool,
}

impl Aid<'_> {
    /// No help: the equations themselves.
    pub(super) const NONE: Aid<'static> =
        Aid { sources: 1.0, shunt: 0.0, pull_to: None, tamed: false, together: false };
}

/// Where the unknowns stand. Voltages across elements are kept by themselves: the microvolts across
/// a link are lost in the difference of the voltages of its nets.
#[derive(Debug, Clone)]
pub(super) struct State {
    /// Volts across every element, then across every pair of nets that is sensed.
    pub(super) drops: Vec<f64>,
    /// Currents of the elements that have their own.
    pub(super) own: Vec<f64>,
    /// Volts of every net.
    pub(super) volts: Vec<f64>,
    /// The tree of the last step and the volts along it, which the next step goes on from.
    along: Option<(Arc<Tree>, Vec<f64>)>,
}

impl State {
    /// Voltages of nets less ground, then own currents.
    pub(super) fn unknowns(&self) -> Vec<f64> {
        self.volts[1..].iter().chain(&self.own).copied().collect()
    }
}

/// The volts that laws are taken around: junctions are limited, steep stages not leapt over.
#[derive(Debug, Clone)]
pub(super) struct Held {
    /// Volts and sample of every curve, in the order of `curves`.
    pub(super) curves: Vec<(f64, Sample)>,
    /// The same of every driven element, in the order of `driven`.
    pub(super) driven: Vec<HeldDriven>,
}

/// A driven law around some volts.
#[derive(Debug, Clone)]
pub(super) struct HeldDriven {
    /// Its own volts, then those it senses.
    pub(super) volts: Vec<f64>,
    amps: f64,
    slopes: Vec<f64>,
}

impl HeldDriven {
    pub(super) fn new(law: &dyn Driven, volts: Vec<f64>) -> HeldDriven {
        let mut slopes = vec![0.0; volts.len()];
        let amps = law.at(&volts, &mut slopes);
        HeldDriven { volts, amps, slopes }
    }

    /// The same with the slopes that a walk from afar takes.
    pub(super) fn tamed(mut self, law: &dyn Driven, tamed: bool) -> HeldDriven {
        if tamed {
            law.tame(&self.volts, &mut self.slopes);
        }
        self
    }
}

/// All elements as straight lines around the present state.
#[derive(Debug, Clone)]
pub(super) struct Locals {
    pub(super) elements: Vec<Local>,
    /// Slopes of driven elements by what they sense, in the order of `senses`.
    transfers: Vec<f64>,
}

/// An element as a straight line around the present state.
#[derive(Debug, Clone, Copy)]
pub(super) enum Local {
    /// Current and slope at the present volts.
    Flow(Sample),
    /// The volts are held, and rise by so many ohms times the own current.
    Held { volts: f64, ohms: f64 },
}

impl<'a> Equations<'a> {
    pub(super) fn new(network: &'a Network, settings: &Settings) -> Equations<'a> {
        let (mut own, mut curves, mut clamps) = (Vec::new(), Vec::new(), Vec::new());
        let (mut driven, mut senses) = (Vec::new(), Vec::new());
        let mut at_zero = vec![0.0; network.elements.len()];
        for (idx, element) in network.elements.iter().enumerate() {
            if element.law.has_own_current() {
                own.push(idx);
            }
            match &element.law {
                Law::Clamp { .. } => clamps.push(idx),
                Law::Curve(curve) => {
                    curves.push(idx);
                    at_zero[idx] = curve.at(0.0).amps;
                }
                Law::Line { amps, .. } => at_zero[idx] = *amps,
                Law::Driven(law) => {
                    let first = senses.len();
                    senses.extend(network.sensed(element));
                    driven.push((idx, first..senses.len()));
                    let zeros = vec![0.0; 1 + senses.len() - first];
                    at_zero[idx] = HeldDriven::new(law.as_ref(), zeros).amps;
                }
                Law::Volts(_) => {}
            }
        }
        let mut islands = conducting_islands(network);
        let ties = (1..network.n_nets).filter(|&net| islands.root(net) == net).collect();
        let n_volts = network.n_nets - 1;
        let is_dense = n_volts + own.len() <= settings.dense;
        let usual = if is_dense { 1.0 } else { usual(network) };
        Equations {
            network,
            n_volts,
            own,
            curves,
            clamps,
            driven,
            senses,
            ties,
            at_zero,
            is_dense,
            usual,
        }
    }

    /// Number of unknowns.
    pub(super) fn len(&self) -> usize {
        self.n_volts + self.own.len()
    }

    /// Whether one linear solve is the answer.
    pub(super) fn is_linear(&self) -> bool {
        self.curves.is_empty() && self.clamps.is_empty() && self.driven.is_empty()
    }

    /// The state with these voltages of nets and own currents.
    pub(super) fn state(&self, unknowns: &[f64]) -> State {
        let mut volts = vec![0.0];
        volts.extend_from_slice(&unknowns[..self.n_volts]);
        let drops = self
            .network
            .elements
            .iter()
            .map(|element| (element.from, element.to))
            .chain(self.senses.iter().copied())
            .map(|(from, to)| volts[from] - volts[to])
            .collect();
        State { drops, own: unknowns[self.n_volts..].to_vec(), volts, along: None }
    }

    /// Current and slope of a curve at a voltage.
    pub(super) fn sample(&self, idx: usize, volts: f64) -> Sample {
        match &self.network.elements[idx].law {
            Law::Curve(curve) => curve.at(volts),
            _ => Sample { amps: 0.0, siemens: 0.0 },
        }
    }

    /// The volts of a driven element at a state: its own, then those it senses.
    pub(super) fn driven_volts(&self, number: usize, drops: &[f64]) -> Vec<f64> {
        let (idx, senses) = &self.driven[number];
        let n_elements = self.network.elements.len();
        let sensed = senses.clone().map(|sense| drops[n_elements + sense]);
        std::iter::once(drops[*idx]).chain(sensed).collect()
    }

    /// The law of a driven element.
    pub(super) fn driven_law(&self, number: usize) -> Option<&dyn Driven> {
        match &self.network.elements[self.driven[number].0].law {
            Law::Driven(law) => Some(law.as_ref()),
            _ => None,
        }
    }

    /// The laws around a state itself.
    pub(super) fn held_at(&self, drops: &[f64]) -> Held {
        let curve = |&idx: &usize| (drops[idx], self.sample(idx, drops[idx]));
        let driven = (0..self.driven.len())
            .filter_map(|number| {
                let volts = self.driven_volts(number, drops);
                Some(HeldDriven::new(self.driven_law(number)?, volts))
            })
            .collect();
        Held { curves: self.curves.iter().map(curve).collect(), driven }
    }

    /// Every element around the state; curves and driven ones around the volts held for them.
    pub(super) fn locals(&self, state: &State, held: &Held, aid: &Aid<'_>) -> Locals {
        let mut curves = held.curves.iter();
        let mut driven = held.driven.iter().enumerate();
        let mut own = state.own.iter();
        let off = 1.0 - aid.sources;
        let elements = self
            .network
            .elements
            .iter()
            .zip(&state.drops)
            .zip(&self.at_zero)
            .map(|((element, &drop), &at_zero)| match element.law {
                Law::Line { siemens, .. } => {
                    Local::Flow(Sample { amps: siemens * drop + (1.0 - off) * at_zero, siemens })
                }
                Law::Curve(_) => {
                    let &(volts, sample) = curves.next().unwrap_or(&(0.0, Sample::NOTHING));
                    let amps = sample.amps + sample.siemens * (drop - volts) - off * at_zero;
                    Local::Flow(Sample { amps, ..sample })
                }
                Law::Driven(_) => {
                    let Some((number, held)) = driven.next() else {
                        return Local::Flow(Sample::NOTHING);
                    };
                    let now = self.driven_volts(number, &state.drops);
                    let moved = now.iter().zip(&held.volts).zip(&held.slopes);
                    let more: f64 = moved.map(|((now, held), slope)| slope * (now - held)).sum();
                    let amps = held.amps + more - off * at_zero;
                    Local::Flow(Sample { amps, siemens: held.slopes[0] })
                }
                Law::Volts(volts) => {
                    own.next();
                    Local::Held { volts: aid.sources * volts, ohms: 0.0 }
                }
                Law::Clamp { low, high } => {
                    let amps = own.next().copied().unwrap_or(0.0);
                    match end(drop, amps, low, high) {
                        Some(volts) => Local::Held { volts, ohms: HELD_OHMS },
                        None => Local::Flow(Sample { amps: BLOCKED * drop, siemens: BLOCKED }),
                    }
                }
            })
            .collect();
        let transfers = held.driven.iter().flat_map(|held| held.slopes[1..].iter().copied());
        Locals { elements, transfers: transfers.collect() }
    }

    /// The same with the curves at the state itself, and with clamps as steep lines of `ohms`.
    ///
    /// Driven elements are left out: what the line search goes down exists without them only.
    pub(super) fn soft_locals(&self, drops: &[f64], ohms: f64) -> Locals {
        let elements = self
            .network
            .elements
            .iter()
            .zip(drops)
            .map(|(element, &drop)| match element.law {
                Law::Line { siemens, amps } => {
                    Local::Flow(Sample { amps: siemens * drop + amps, siemens })
                }
                Law::Curve(ref curve) => Local::Flow(curve.at(drop)),
                Law::Driven(_) => Local::Flow(Sample::NOTHING),
                Law::Volts(volts) => Local::Held { volts, ohms: 0.0 },
                Law::Clamp { low, high } => {
                    let over = (drop - high).max(0.0) + (drop - low).min(0.0);
                    let siemens = if over == 0.0 { BLOCKED } else { 1.0 / ohms };
                    Local::Flow(Sample { amps: over / ohms + BLOCKED * drop, siemens })
                }
            })
            .collect();
        Locals { elements, transfers: vec![0.0; self.senses.len()] }
    }

    /// The matrix around a state. The tree of the state before is kept while it is good enough.
    pub(super) fn system(&self, locals: &Locals, aid: &Aid<'_>, before: Option<System>) -> System {
        let elements = &self.network.elements;
        let mut edges: Vec<(usize, usize, f64)> = elements
            .iter()
            .zip(&locals.elements)
            .map(|(element, local)| {
                let strength = match *local {
                    Local::Flow(sample) => sample.siemens.abs(),
                    Local::Held { .. } => f64::INFINITY,
                };
                (element.from, element.to, strength)
            })
            .collect();
        edges.extend(self.to_ground(aid).map(|(net, siemens)| (net, 0, siemens)));
        let n = self.len();
        let known = match &before {
            Some(before) => before.known.clone(),
            None => self.network.analysis.iter().cloned().collect(),
        };
        let kept = before.filter(|system| system.is_good_for(&edges));
        let (tree, paths, ways) = kept.map_or_else(
            || {
                let tree = match self.is_dense {
                    true => Tree::strongest(self.network.n_nets, &edges),
                    false => Tree::of_clusters(self.network.n_nets, &edges, self.usual),
                };
                let path = |&(from, to, _): &(usize, usize, f64)| tree.path(from, to);
                let paths = edges.iter().map(path).collect();
                let ways = self.senses.iter().map(|&(from, to)| tree.path(from, to)).collect();
                (Arc::new(tree), paths, ways)
            },
            |system| (system.tree, system.paths, system.ways),
        );
        let sizes = vec![0.0; self.n_volts];
        let mut system = System {
            tree,
            paths,
            ways,
            matrix: Matrix::zeros(n, self.is_dense),
            sizes,
            known,
            is_symmetric: self.driven.is_empty() && self.clamps.is_empty(),
        };
        for (idx, (net, siemens)) in self.to_ground(aid).enumerate() {
            debug_assert!(net != 0);
            system.add_siemens(elements.len() + idx, siemens);
        }
        let mut row = self.n_volts;
        for (idx, senses) in &self.driven {
            for sense in senses.clone() {
                system.add_transfer(*idx, sense, locals.transfers[sense]);
            }
        }
        for (idx, (element, local)) in elements.iter().zip(&locals.elements).enumerate() {
            if let Local::Flow(sample) = *local {
                system.add_siemens(idx, sample.siemens);
            }
            if element.law.has_own_current() {
                match *local {
                    Local::Held { ohms, .. } => system.add_held(idx, row, ohms),
                    Local::Flow(sample) => system.add_follower(idx, row, sample.siemens),
                }
                row += 1;
            }
        }
        system
    }

    /// Conductances to ground that belong to no element: ties of islands, and the aid's shunts.
    fn to_ground<'b>(&'b self, aid: &'b Aid<'_>) -> impl Iterator<Item = (usize, f64)> + 'b {
        let shunts = if aid.shunt > 0.0 { self.network.n_nets } else { 0 };
        let shunts = (1..shunts).map(|net| (net, aid.shunt));
        self.ties.iter().map(|&net| (net, 1.0)).chain(shunts)
    }

    /// What is left over of the equations of `system` at a state.
    pub(super) fn residual(
        &self,
        system: &System,
        state: &State,
        locals: &Locals,
        aid: &Aid<'_>,
    ) -> Vec<f64> {
        let mut left = vec![0.0; self.len()];
        let mut own = state.own.iter();
        let mut row = self.n_volts;
        for (idx, (element, local)) in
            self.network.elements.iter().zip(&locals.elements).enumerate()
        {
            let mut amps = match *local {
                Local::Flow(sample) => sample.amps,
                Local::Held { .. } => 0.0,
            };
            if element.law.has_own_current() {
                let current = own.next().copied().unwrap_or(0.0);
                match *local {
                    Local::Held { volts, ohms } => {
                        left[row] = state.drops[idx] - volts - ohms * current;
                        amps = current;
                    }
                    Local::Flow(sample) => left[row] = current - sample.amps,
                }
                row += 1;
            }
            for &(cut, sign) in &system.paths[idx] {
                left[cut] += sign * amps;
            }
        }
        let n_elements = self.network.elements.len();
        for (idx, (net, siemens)) in self.to_ground(aid).enumerate() {
            let pulled = if idx < self.ties.len() { None } else { aid.pull_to };
            let volts = state.volts[net] - pulled.map_or(0.0, |volts| volts[net]);
            for &(cut, sign) in &system.paths[n_elements + idx] {
                left[cut] += sign * siemens * volts;
            }
        }
        left
    }

    /// The state after a step in the unknowns of `system`.
    pub(super) fn moved(&self, system: &System, state: &State, step: &[f64]) -> State {
        let n_elements = self.network.elements.len();
        let tree = &system.tree;
        // Volts between a net and the one that it hangs on, from what is known most finely: those
        // along the tree before, or across the branch between them. The volts of nets are coarse.
        let before = |net: usize| match (&state.along, tree.edge(net)) {
            (Some((last, along)), _) if Arc::ptr_eq(last, tree) => along[net - 1],
            (Some((last, along)), _) if !tree.spans() => {
                sum_along(&last.path(net, tree.parent(net)), along)
            }
            (_, Some(idx)) if tree.spans() && idx < n_elements => {
                let turned = self.network.elements[idx].from != net;
                if turned { -state.drops[idx] } else { state.drops[idx] }
            }
            _ => state.volts[net] - state.volts[tree.parent(net)],
        };
        let along: Vec<f64> =
            (1..self.network.n_nets).map(|net| before(net) + step[net - 1]).collect();
        let sensed = system.ways.iter().map(|way| sum_along(way, &along));
        let drops = (0..n_elements).map(|idx| system.across(idx, &along)).chain(sensed).collect();
        let own =
            state.own.iter().zip(&step[self.n_volts..]).map(|(own, step)| own + step).collect();
        let mut volts = Vec::with_capacity(self.network.n_nets);
        volts.push(0.0);
        volts.extend_from_slice(&along);
        tree.spread(&mut volts[1..]);
        State { drops, own, volts, along: Some((Arc::clone(tree), along)) }
    }

    /// Whether the two states have a clamp at different ends.
    pub(super) fn clamps_differ(&self, one: &State, other: &State) -> bool {
        self.own.iter().enumerate().any(|(row, &idx)| match self.network.elements[idx].law {
            Law::Clamp { low, high } => {
                let at = |state: &State| end(state.drops[idx], state.own[row], low, high);
                at(one) != at(other)
            }
            _ => false,
        })
    }

    /// +1 for a point that can be stable, −1 for one that no board stays in: the sign of the
    /// Jacobian's determinant over that of the same branches without what drives them.
    ///
    /// With a capacitance at every net a point is unstable when the Jacobian has an eigenvalue
    /// less than zero; an odd number of them turns the sign (M. M. Green and A. N. Willson, "How
    /// to identify unstable dc operating points", IEEE Trans. Circuits and Systems I 39, 1992;
    /// from memory). `aid` adds its shunts to both.
    pub(super) fn sign(&self, state: &State, aid: &Aid<'_>) -> f64 {
        if self.driven.is_empty() {
            return 1.0;
        }
        let mut locals = self.locals(state, &self.held_at(&state.drops), aid);
        let mut system = self.system(&locals, aid, None);
        let full = system.factor().map_or(0.0, |factor| factor.determinant_sign());
        locals.transfers.fill(0.0);
        for local in &mut locals.elements {
            if let Local::Flow(sample) = local {
                sample.siemens = sample.siemens.max(BLOCKED);
            }
        }
        let mut system = self.system(&locals, aid, Some(system));
        full * system.factor().map_or(1.0, |factor| factor.determinant_sign())
    }

    /// Gives clamps the current that steep lines of `ohms` carry.
    pub(super) fn harden(&self, state: &mut State, ohms: f64) {
        let locals = self.soft_locals(&state.drops, ohms);
        for (own, &idx) in state.own.iter_mut().zip(&self.own) {
            if let Local::Flow(sample) = locals.elements[idx] {
                *own = sample.amps;
            }
        }
    }

    /// Amps of every element, and what the arithmetic itself may be wrong by in each.
    pub(super) fn amps(&self, state: &State) -> (Vec<f64>, Vec<f64>) {
        let mut own = state.own.iter();
        let mut numbers = 0..self.driven.len();
        self.network
            .elements
            .iter()
            .zip(&state.drops)
            .map(|(element, &drop)| {
                // Without a spanning tree the volts of a branch are a difference, as coarse as what
                // it was taken of.
                let coarse = |net: usize| state.volts[net].abs();
                let size = match &state.along {
                    _ if self.is_dense => drop.abs(),
                    Some((tree, along)) => tree.largest(element.from, element.to, along),
                    None => drop.abs().max(coarse(element.from)).max(coarse(element.to)),
                };
                let rounding = |siemens: f64| 16.0 * f64::EPSILON * siemens.abs() * size;
                match &element.law {
                    Law::Line { siemens, amps } => (siemens * drop + amps, rounding(*siemens)),
                    Law::Curve(curve) => {
                        let sample = curve.at(drop);
                        (sample.amps, rounding(sample.siemens))
                    }
                    Law::Driven(law) => {
                        let volts = numbers.next().map(|at| self.driven_volts(at, &state.drops));
                        let held = HeldDriven::new(law.as_ref(), volts.unwrap_or_default());
                        // What is sensed is the difference of two nets: a hair between two high
                        // ones, as at the inputs of an amplifier, is as coarse as they are.
                        let sensed = self.network.sensed(element);
                        let coarse = |net: usize| state.volts[net].abs();
                        let scales = std::iter::once(drop.abs())
                            .chain(sensed.into_iter().map(|(a, b)| coarse(a) + coarse(b)));
                        let terms = held.slopes.iter().zip(scales);
                        let size: f64 = terms.map(|(slope, volts)| slope.abs() * volts).sum();
                        (held.amps, 16.0 * f64::EPSILON * size)
                    }
                    Law::Volts(_) | Law::Clamp { .. } => (own.next().copied().unwrap_or(0.0), 0.0),
                }
            })
            .unzip()
    }
}

/// The middle of the conductances of a network of many nets, in siemens.
fn usual(network: &Network) -> f64 {
    let mut lines: Vec<f64> = network
        .elements
        .iter()
        .filter_map(|element| match element.law {
            Law::Line { siemens, .. } => Some(siemens),
            _ => None,
        })
        .collect();
    lines.sort_by(f64::total_cmp);
    lines.get(lines.len() / 2).copied().filter(|siemens| *siemens > 0.0).unwrap_or(1e-3)
}

/// The end at which a clamp holds its volts: v = clamp(v + R i) says both that nothing flows inside
/// the range and that the current at an end has the right sign.
fn end(volts: f64, amps: f64, low: f64, high: f64) -> Option<f64> {
    let reach = volts + CLAMP_OHMS * amps;
    if reach >= high {
        Some(high)
    } else if reach <= low {
        Some(low)
    } else {
        None
    }
}
