//! The power-up walk: parts with states are switched one at a time, from all off, until every state
//! agrees with its conditions.
//!
//! Continuous laws settle inside Newton's method; enable and lockout inputs, relays, supervisors
//! and stages with hysteresis do not, because they remember. The walk is what a board does when
//! power comes up, and its steps tell what has to be there first. A walk that comes back to where
//! it was is no answer yet: only when no pattern of states agrees with itself does the board keep
//! switching.

use super::assembly::Assembly;
use super::network::Network;
use super::patch::Patch;
use super::point::{Ending, OperatingPoint, Run};
use crate::circuit::{Overlay, PartId, SetupId};
use crate::device::{Condition, of};

/// With up to so many conditions every pattern of them is tried.
const MOST_TRIED: usize = 12;

/// More patterns than this are solved each from the point of the one before.
const FEW_PATTERNS: usize = 64;

/// A board with power on it: where its states came to, and how.
#[derive(Debug, Clone)]
pub struct PowerUp {
    /// The branches, with every part in its state.
    pub network: Network,
    /// How it ended, and the operating point.
    pub run: Run,
    /// What switched, in order.
    pub steps: Vec<Step>,
    /// For a board that keeps switching: the patterns that it goes through.
    pub cycle: Option<Cycle>,
}

/// One condition that switched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The part.
    pub part: PartId,
    /// The condition.
    pub condition: Condition,
    /// The condition's place in the list of its part.
    pub number: usize,
    /// Whether it holds from now on.
    pub on: bool,
    /// The volts found.
    pub found: f64,
    /// The volts needed.
    pub needed: f64,
}

/// A board that keeps switching.
#[derive(Debug, Clone)]
pub struct Cycle {
    /// The parts that keep switching.
    pub parts: Vec<PartId>,
    /// The least and the most volts of every net on the way.
    pub ranges: Vec<(f64, f64)>,
    /// The networks of one round, with their operating points.
    pub round: Vec<(Network, OperatingPoint)>,
    /// Whether every pattern of states was tried; otherwise there may be one that stays.
    pub exhaustive: bool,
}

/// Where a board stands: the states of its parts, and roughly the volts of all nets.
pub type Stands = (Vec<u8>, Vec<f64>);

/// A condition of a part in one network.
#[derive(Debug, Clone, Copy)]
pub struct Watch {
    /// The part.
    pub part: PartId,
    /// The condition's place in the list of its part.
    pub number: usize,
    /// The condition.
    pub condition: Condition,
}

impl Watch {
    /// Whether it holds in this pattern of states.
    pub fn is_on(&self, states: &[u8]) -> bool {
        states[self.part.index()] & (1 << self.number) != 0
    }

    /// The pattern with this condition the other way.
    pub fn flip(&self, states: &mut [u8]) {
        states[self.part.index()] ^= 1 << self.number;
    }

    /// Volts between the pins that the condition looks at.
    pub(super) fn volts(&self, network: &Network, point: &OperatingPoint) -> f64 {
        let [from, to] = self.condition.pins.map(|pin| network.pin_net(self.part, pin));
        point.between(from, to)
    }
}

/// Whether every condition agrees with the state that it is in.
fn stays(network: &Network, watches: &[Watch], point: &OperatingPoint) -> bool {
    watches.iter().all(|watch| {
        let is_on = watch.is_on(&network.states);
        watch.condition.holds(watch.volts(network, point), is_on) == is_on
    })
}

impl Assembly<'_> {
    /// Powers a setup up with an overlay: from all states off until they agree.
    ///
    /// `start` is an operating point of a similar board, for a shorter way.
    pub fn power_up(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        start: Option<&OperatingPoint>,
    ) -> PowerUp {
        let mut network = self.network(setup, overlay);
        let watches = self.watches(setup, &network);
        // The operating point of a board that runs is no place to start from with everything off.
        let start = start.filter(|_| watches.is_empty());
        let mut run = network.solve_from(start, self.settings());
        let mut steps: Vec<Step> = Vec::new();
        let mut seen: Vec<Vec<u8>> = vec![network.states.clone()];
        while let Some(point) = &run.point {
            let volts = |watch: &Watch| watch.volts(&network, point);
            let next = self.next_switch(&network.states, &watches, volts);
            let Some((watch, found)) = next else { break };
            let on = !watch.is_on(&network.states);
            let condition = watch.condition;
            let needed = if on { condition.on_at } else { condition.off_at };
            let (part, number) = (watch.part, watch.number);
            steps.push(Step { part, condition, number, on, found, needed });
            let bits = network.states[part.index()] ^ (1 << number);
            network.switch(part, bits, self, setup.0);
            if let Some(first) = seen.iter().position(|known| *known == network.states) {
                return self.search(setup, network, &watches, &seen, first, steps);
            }
            seen.push(network.states.clone());
            // A board that may latch comes to its state from nothing, whatever it was in before.
            let start = run.point.as_ref().filter(|_| !network.may_latch());
            run = network.solve_from(start, self.settings());
        }
        PowerUp { network, run, steps, cycle: None }
    }

    /// Goes on from where a board stands after a small change of its overlay, as a board does whose
    /// supply is turned up slowly: parts that remember stay in their states until they switch. `None`
    /// where it does not settle, or keeps switching.
    pub fn carry_on(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        states: &[u8],
        start: &[f64],
    ) -> Option<(Network, OperatingPoint)> {
        let base = self.network(setup, overlay);
        let watches = self.watches(setup, &base);
        let (mut network, mut point) = self.solved_in(setup, (&base, &watches), (states, start))?;
        for _ in 0..=2 * watches.len() {
            let volts = |watch: &Watch| watch.volts(&network, &point);
            let Some((watch, _)) = self.next_switch(&network.states, &watches, volts) else {
                return Some((network, point));
            };
            let mut states = network.states.clone();
            watch.flip(&mut states);
            network = self.in_states(setup, &base, &watches, &states);
            point = network.solve_from(Some(&point), self.settings()).point?;
        }
        None
    }

    /// A setup with an overlay in a pattern of states that is known already, where it agrees with
    /// itself; the walk there is spared. `start` holds the volts of all nets, as far as known.
    pub fn power_up_in(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        states: &[u8],
        start: &[f64],
    ) -> Option<(Network, OperatingPoint)> {
        let base = self.network(setup, overlay);
        let watches = self.watches(setup, &base);
        let (network, point) = self.solved_in(setup, (&base, &watches), (states, start))?;
        stays(&network, &watches, &point).then_some((network, point))
    }

    /// A network in a pattern of states, solved from the volts of all nets, as far as known.
    fn solved_in(
        &self,
        setup: SetupId,
        (base, watches): (&Network, &[Watch]),
        (states, start): (&[u8], &[f64]),
    ) -> Option<(Network, OperatingPoint)> {
        let network = self.in_states(setup, base, watches, states);
        let point = network.solve_from_volts(start, self.settings()).point?;
        Some((network, point))
    }

    /// [`Assembly::power_up_in`] for a board that keeps switching: the patterns of its round in their order, where
    /// each of them still leads to the next.
    pub fn round_in(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        round: &[Stands],
    ) -> Option<Vec<(Network, OperatingPoint)>> {
        if let [(states, volts)] = round {
            return Some(vec![self.power_up_in(setup, overlay, states, volts)?]);
        }
        let base = self.network(setup, overlay);
        let watches = self.watches(setup, &base);
        let next = round.iter().cycle().skip(1);
        round
            .iter()
            .zip(next)
            .map(|((states, start), (next, _))| {
                let (network, point) = self.solved_in(setup, (&base, &watches), (states, start))?;
                let volts = |watch: &Watch| watch.volts(&network, &point);
                let (watch, _) = self.next_switch(states, &watches, volts)?;
                let mut switched = states.clone();
                watch.flip(&mut switched);
                (switched == *next).then_some((network, point))
            })
            .collect()
    }

    /// Every condition of every part that is connected.
    pub fn watches(&self, setup: SetupId, network: &Network) -> Vec<Watch> {
        let parts = self.stateful().iter();
        parts.flat_map(|&part| self.watches_of(setup, &network.patch, part)).collect()
    }

    /// The conditions of one part that some changes are made to; none where it is not connected.
    pub fn watches_of(&self, setup: SetupId, patch: &Patch, part: PartId) -> Vec<Watch> {
        let fitted = self.circuit()[part].fitted && !patch.is_removed(part);
        if !fitted || !self.is_connected(part, setup.0) {
            return Vec::new();
        }
        let values = patch.values(part, self, setup.0, 0);
        let conditions = of(values.part).conditions(&values).into_iter().take(8).enumerate();
        conditions.map(|(number, condition)| Watch { part, number, condition }).collect()
    }

    /// The condition that is furthest past its threshold, with the volts found there; ties go by
    /// designator.
    pub fn next_switch(
        &self,
        states: &[u8],
        watches: &[Watch],
        volts_of: impl Fn(&Watch) -> f64,
    ) -> Option<(Watch, f64)> {
        let name = |watch: &Watch| self.circuit()[watch.part].name.as_str();
        watches
            .iter()
            .filter_map(|watch| {
                let volts = volts_of(watch);
                let is_on = watch.is_on(states);
                let switches = watch.condition.holds(volts, is_on) != is_on;
                switches.then(|| (*watch, volts, watch.condition.excess(volts, is_on)))
            })
            .max_by(|(a, _, more), (b, _, less)| {
                let near = (more - less).abs() <= 1e-9 * (1.0 + more.abs());
                let by_margin = if near { std::cmp::Ordering::Equal } else { more.total_cmp(less) };
                by_margin.then_with(|| name(b).cmp(name(a))).then(b.number.cmp(&a.number))
            })
            .map(|(watch, volts, _)| (watch, volts))
    }

    /// The operating points of those patterns of states that agree with themselves.
    ///
    /// A few are solved from nothing on a board that may latch. Thousands would take minutes that
    /// way: each begins at the point of the one before, and only one that agrees is solved from
    /// nothing as well, for the point that it powers up in. On a board that cannot latch a pattern
    /// has one point, wherever it is looked for from.
    fn agreeing<'a>(
        &'a self,
        setup: SetupId,
        base: &'a Network,
        watches: &'a [Watch],
        patterns: Vec<&'a Vec<u8>>,
    ) -> impl Iterator<Item = (Network, Run)> + 'a {
        let may_latch = base.may_latch();
        let are_many = patterns.len() > FEW_PATTERNS;
        let mut last: Option<OperatingPoint> = None;
        patterns.into_iter().filter_map(move |states| {
            let network = self.in_states(setup, base, watches, states);
            let run = network.solve_from(last.as_ref(), self.settings());
            let point = run.point.clone()?;
            let agrees = stays(&network, watches, &point);
            let was_warm = last.is_some() && may_latch;
            if are_many || !may_latch {
                last = Some(point);
            }
            if !agrees {
                return None;
            }
            let fresh = was_warm.then(|| network.solve(self.settings()));
            let fresh = fresh.filter(|fresh| {
                fresh.point.as_ref().is_some_and(|point| stays(&network, watches, point))
            });
            Some((network, fresh.unwrap_or(run)))
        })
    }

    /// Whether every condition agrees with the states of a network at a point.
    pub(super) fn agrees_at(
        &self,
        setup: SetupId,
        network: &Network,
        point: &OperatingPoint,
    ) -> bool {
        stays(network, &self.watches(setup, network), point)
    }

    /// A network with its parts in the given states.
    pub fn in_states(
        &self,
        setup: SetupId,
        base: &Network,
        watches: &[Watch],
        states: &[u8],
    ) -> Network {
        let mut network = base.clone();
        for watch in watches {
            let on = states[watch.part.index()];
            if network.states[watch.part.index()] != on {
                network.switch(watch.part, on, self, setup.0);
            }
        }
        network
    }

    /// After a walk that came back to the pattern with the number `first`: a pattern that agrees
    /// with itself, or the round that the board keeps going.
    fn search(
        &self,
        setup: SetupId,
        network: Network,
        watches: &[Watch],
        walked: &[Vec<u8>],
        first: usize,
        steps: Vec<Step>,
    ) -> PowerUp {
        let (patterns, exhaustive) = patterns(watches, walked);
        let others = patterns.iter().filter(|states| !walked.contains(states)).collect();
        let stays = self.agreeing(setup, &network, watches, others).next();
        if let Some((network, run)) = stays {
            return PowerUp { network, run, steps, cycle: None };
        }
        let mut round = Vec::new();
        for states in &walked[first..] {
            let network = self.in_states(setup, &network, watches, states);
            let run = network.solve(self.settings());
            match run.point {
                Some(point) => round.push((network, point)),
                None => return PowerUp { network, run, steps, cycle: None },
            }
        }
        let range = |net: usize| {
            let volts = round.iter().map(|(_, point)| point.volts[net]);
            volts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), volts| {
                (low.min(volts), high.max(volts))
            })
        };
        let n_nets = round.iter().map(|(network, _)| network.n_nets).min().unwrap_or(0);
        let ranges = (0..n_nets).map(range).collect();
        let mut parts: Vec<PartId> = watches.iter().map(|watch| watch.part).collect();
        parts.dedup();
        parts.retain(|part| {
            let on = |states: &Vec<u8>| states[part.index()];
            walked[first..].iter().any(|states| on(states) != on(&walked[first]))
        });
        let cycle = Cycle { parts, ranges, round, exhaustive };
        let run = Run { ending: Ending::Cycling { exhaustive }, point: None };
        PowerUp { network, run, steps, cycle: Some(cycle) }
    }

    /// Other patterns of states that agree with themselves, besides that of a powered-up board.
    pub fn other_patterns(
        &self,
        setup: SetupId,
        found: &PowerUp,
    ) -> Vec<(Network, OperatingPoint)> {
        let watches = self.watches(setup, &found.network);
        if watches.is_empty() || found.run.point.is_none() {
            return Vec::new();
        }
        let here = found.network.states.clone();
        let (patterns, _) = patterns(&watches, std::slice::from_ref(&here));
        let others = patterns.iter().filter(|states| **states != here).collect();
        self.agreeing(setup, &found.network, &watches, others)
            .filter_map(|(network, run)| Some((network, run.point?)))
            .collect()
    }

    /// Patterns of states that agree with themselves and are near that of a powered-up board.
    pub(super) fn near_patterns(&self, setup: SetupId, found: &PowerUp) -> Vec<(Network, Run)> {
        let watches = self.watches(setup, &found.network);
        let patterns = patterns_near(&watches, &found.network.states);
        self.agreeing(setup, &found.network, &watches, patterns.iter().collect()).collect()
    }

    /// What every condition finds on a powered-up board, in the order of the parts: those that
    /// hold and those that do not.
    pub fn conditions(
        &self,
        setup: SetupId,
        network: &Network,
        point: &OperatingPoint,
    ) -> Vec<Step> {
        self.watches(setup, network)
            .into_iter()
            .map(|watch| {
                let on = watch.is_on(&network.states);
                let condition = watch.condition;
                Step {
                    part: watch.part,
                    condition,
                    number: watch.number,
                    on,
                    found: watch.volts(network, point),
                    needed: condition.on_at,
                }
            })
            .collect()
    }
}

/// The patterns of states to try: all of them where they are few, else those that differ by
/// one condition from patterns that were walked through.
pub fn patterns(watches: &[Watch], walked: &[Vec<u8>]) -> (Vec<Vec<u8>>, bool) {
    let Some(blank) = walked.first().map(|states| vec![0; states.len()]) else {
        return (Vec::new(), true);
    };
    if watches.len() <= MOST_TRIED {
        let all = (0..1_usize << watches.len()).map(|bits| {
            let mut states = blank.clone();
            for (at, watch) in watches.iter().enumerate() {
                if bits & (1 << at) != 0 {
                    states[watch.part.index()] |= 1 << watch.number;
                }
            }
            states
        });
        return (all.collect(), true);
    }
    let mut found = walked.to_vec();
    for states in walked {
        for watch in watches {
            let mut changed = states.clone();
            changed[watch.part.index()] ^= 1 << watch.number;
            if !found.contains(&changed) {
                found.push(changed);
            }
        }
    }
    (found, false)
}

/// Patterns of states that differ by one condition from that of a powered-up board, or have every
/// condition on.
pub fn patterns_near(watches: &[Watch], here: &[u8]) -> Vec<Vec<u8>> {
    let mut patterns: Vec<Vec<u8>> = Vec::new();
    let mut all_on = here.to_vec();
    for watch in watches {
        let mut changed = here.to_vec();
        watch.flip(&mut changed);
        patterns.push(changed);
        all_on[watch.part.index()] |= 1 << watch.number;
    }
    patterns.push(all_on);
    patterns.dedup();
    patterns.retain(|states| states != here);
    patterns
}
