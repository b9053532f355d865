//! Shorter ways to parts of the answer, recognised from the structure: series, parallel, dividers,
//! bridges, and what a net looks like to what hangs on it.
//!
//! Series and parallel resistance, the divider, M. L. Thevenin's theorem (Comptes rendus 97, 1883;
//! from memory) and C. Wheatstone's bridge as every text on circuits has them.

use super::Lesson;
use super::branch::{Branch, Form, Owner, Pair};
use super::port::{Port, port};
use super::system::Role;

/// The most bridges, and the most ports, that are told.
const MOST: usize = 4;

/// The most dividers that are told.
const MOST_DIVIDERS: usize = 3;

/// A net that a divider leaves within this share of one of its ends is no example of one.
const PLAIN: f64 = 0.02;

/// A way of resistances from a net to another one that something else touches too.
#[derive(Debug, Clone, PartialEq)]
pub struct Leg {
    /// The branches on the way.
    pub branches: Vec<usize>,
    /// The net at its end.
    pub end: usize,
    /// Ohms of all of them.
    pub ohms: f64,
    /// Volts that the net would have if nothing flowed: those of the end and of sources on the way.
    pub volts: f64,
}

/// A shorter way to a part of the answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Shortcut {
    /// Resistances that carry the same current; closed, a loop with its sources.
    Series {
        /// The resistances.
        branches: Vec<usize>,
        /// The ends; one net twice for a loop.
        ends: Pair,
        /// Ohms of all.
        ohms: f64,
        /// Volts between the ends, or of all sources round the loop.
        volts: f64,
        /// Amps of the whole answer.
        amps: f64,
        /// Where a current is given on the way: its branch. What the sources have left after the
        /// ohms is across it then.
        given: Option<usize>,
    },
    /// Resistances between the same two nets.
    Parallel {
        /// The resistances with their ohms and the amps of the whole answer.
        branches: Vec<(usize, f64, f64)>,
        /// The nets.
        pair: Pair,
        /// Ohms of all.
        ohms: f64,
    },
    /// A net between two resistances.
    Divider {
        /// The net.
        net: usize,
        /// The way to the higher volts.
        upper: Leg,
        /// The way to the lower volts.
        lower: Leg,
        /// What else hangs on the net beside the lower one.
        loads: Vec<Leg>,
        /// Amps that leave the net by branches whose current is given.
        currents: Vec<(usize, f64)>,
        /// Volts without loads and currents.
        unloaded: f64,
        /// Volts with them.
        loaded: f64,
    },
    /// Two dividers side by side.
    Bridge {
        /// The nets that feed it, higher volts first.
        fed: Pair,
        /// The nets of its output.
        output: Pair,
        /// Ways from the first output net up and down, then from the second.
        arms: Box<[Leg; 4]>,
        /// What lies between the output nets.
        detector: Option<Leg>,
        /// Volts between the output nets with nothing there.
        open_volts: f64,
        /// Ohms of the bridge as its output sees them.
        ohms: f64,
        /// Volts of the whole answer.
        volts: f64,
    },
    /// What a branch sees of the rest.
    Thevenin {
        /// The branch that is taken out; a net against ground where none is.
        branch: Option<usize>,
        /// The nets.
        pair: Pair,
        /// The rest.
        port: Port,
        /// Volts and amps there of the whole answer.
        volts: f64,
        /// Amps through the branch.
        amps: f64,
    },
}

/// The shorter ways that apply.
pub(super) fn shortcuts(lesson: &Lesson) -> Vec<Shortcut> {
    let view = View { lesson };
    let mut found = view.series();
    found.extend(view.parallel());
    let bridges = view.bridges();
    // A net in an arm of a bridge is told of with the bridge.
    let is_bridged = |net: usize| {
        let in_arm = |at: &usize| {
            bridges.iter().any(|one| match one {
                Shortcut::Bridge { arms, .. } => arms.iter().any(|leg| leg.branches.contains(at)),
                _ => false,
            })
        };
        view.flowing(net).iter().any(in_arm)
    };
    let dividers: Vec<Shortcut> = (1..lesson.nets.len())
        .filter(|net| !is_bridged(*net))
        .filter_map(|net| view.divider(net))
        .collect();
    // The last nets of a file are its outputs, most likely.
    found.extend(dividers.into_iter().rev().take(MOST_DIVIDERS).rev());
    found.extend(bridges);
    found.extend(view.ports());
    found
}

/// Whether two bridges have a resistance in common.
fn shares_an_arm(one: &Shortcut, other: &Shortcut) -> bool {
    let (Shortcut::Bridge { arms, .. }, Shortcut::Bridge { arms: others, .. }) = (one, other)
    else {
        return false;
    };
    let of_other = |at: &usize| others.iter().any(|leg| leg.branches.contains(at));
    arms.iter().flat_map(|leg| &leg.branches).any(of_other)
}

struct View<'a> {
    lesson: &'a Lesson,
}

impl View<'_> {
    fn flowing(&self, net: usize) -> Vec<usize> {
        self.lesson.system.at(&self.lesson.branches, net).into_iter().map(|(at, _)| at).collect()
    }

    fn branch(&self, at: usize) -> &Branch {
        &self.lesson.branches[at]
    }

    /// Ohms of a branch that is a resistance, with or without a source in it, and its volts.
    fn line(&self, at: usize) -> Option<(f64, f64)> {
        match self.branch(at).form {
            Form::Resistance { ohms } => Some((ohms, 0.0)),
            Form::Source { volts, ohms } => Some((ohms, volts)),
            _ => None,
        }
    }

    fn volts(&self, net: usize) -> f64 {
        self.lesson.solution.volts[net]
    }

    /// Whether a net only passes a current on from one resistance to the next.
    fn passes(&self, net: usize) -> bool {
        let flowing = self.flowing(net);
        !self.lesson.system.is_known(net)
            && flowing.len() == 2
            && flowing.iter().all(|at| self.line(*at).is_some())
    }

    /// The way from a net along a branch to where something else is.
    fn leg(&self, net: usize, first: usize) -> Option<Leg> {
        let (mut here, mut at) = (net, first);
        let mut leg = Leg { branches: Vec::new(), end: net, ohms: 0.0, volts: 0.0 };
        loop {
            let (ohms, source) = self.line(at)?;
            let branch = self.branch(at);
            // v = source + ohms · i from the branch's first net to its second.
            let (next, sign) =
                if branch.from == here { (branch.to, 1.0) } else { (branch.from, -1.0) };
            leg.branches.push(at);
            leg.ohms += ohms;
            leg.volts += sign * source;
            here = next;
            if here == net {
                return None;
            }
            let onward = self.flowing(here).into_iter().find(|other| *other != at);
            match onward.filter(|_| self.passes(here)) {
                Some(other) => at = other,
                None => break,
            }
        }
        leg.end = here;
        leg.volts += self.volts(here);
        Some(leg)
    }

    fn series(&self) -> Vec<Shortcut> {
        let mut used: Vec<usize> = Vec::new();
        let mut found = Vec::new();
        if let Some(ring) = self.ring() {
            if let Shortcut::Series { branches, .. } = &ring {
                used.extend(branches);
            }
            found.push(ring);
        }
        for net in (1..self.lesson.nets.len()).filter(|net| self.passes(*net)) {
            let flowing = self.flowing(net);
            if flowing.iter().any(|at| used.contains(at)) {
                continue;
            }
            let legs: Vec<Leg> = flowing.iter().filter_map(|at| self.leg(net, *at)).collect();
            let [one, other] = &legs[..] else { continue };
            let branches: Vec<usize> =
                one.branches.iter().rev().chain(&other.branches).copied().collect();
            used.extend(&branches);
            let plain =
                branches.iter().all(|at| self.line(*at).is_some_and(|(_, volts)| volts == 0.0));
            if !plain || one.end == other.end {
                continue;
            }
            let ends = [one.end, other.end];
            let volts = self.volts(ends[0]) - self.volts(ends[1]);
            let first = self.branch(branches[0]);
            let sign = if first.from == ends[0] { 1.0 } else { -1.0 };
            let amps = sign * self.lesson.solution.amps[branches[0]];
            found.push(Shortcut::Series {
                branches,
                ends,
                ohms: one.ohms + other.ohms,
                volts,
                amps,
                given: None,
            });
        }
        found
    }

    /// All branches as one loop, where they are one.
    fn ring(&self) -> Option<Shortcut> {
        let all: Vec<usize> =
            (0..self.lesson.branches.len()).filter(|at| !self.branch(*at).form.is_open()).collect();
        let &start = all.first()?;
        let (mut net, mut at) = (self.branch(start).to, start);
        let (mut ohms, mut volts, mut given) = (0.0, 0.0, None);
        let mut resistances = Vec::new();
        for number in 0..all.len() {
            let branch = self.branch(at);
            let along = branch.to == net;
            let lost = match &branch.form {
                Form::Relation { terms, volts, ohms } if *ohms == 0.0 && terms.len() == 1 => {
                    let (factor, pair) = terms[0];
                    if pair == [branch.from, branch.to] { volts / factor } else { -volts / factor }
                }
                Form::Current { .. } if given.is_none() => {
                    given = Some(at);
                    0.0
                }
                _ => {
                    let (own, source) = self.line(at)?;
                    ohms += own;
                    resistances.push(at);
                    source
                }
            };
            volts -= if along { lost } else { -lost };
            let flowing = self.flowing(net);
            if flowing.len() != 2 {
                return None;
            }
            let next = flowing.into_iter().find(|other| *other != at)?;
            if next == start {
                if number + 1 != all.len() {
                    return None;
                }
                let amps = self.lesson.solution.amps[start];
                let ends = [0, 0];
                // The way round in which the sources push.
                let sign = if volts < 0.0 { -1.0 } else { 1.0 };
                if volts < 0.0 {
                    resistances.reverse();
                }
                let (volts, amps) = (sign * volts, sign * amps);
                return (resistances.len() > 1).then_some(Shortcut::Series {
                    branches: resistances,
                    ends,
                    ohms,
                    volts,
                    amps,
                    given,
                });
            }
            let onward = self.branch(next);
            net = if onward.from == net { onward.to } else { onward.from };
            at = next;
        }
        None
    }

    fn parallel(&self) -> Vec<Shortcut> {
        let mut used: Vec<usize> = Vec::new();
        let mut found = Vec::new();
        for (at, branch) in self.lesson.branches.iter().enumerate() {
            let Form::Resistance { .. } = branch.form else { continue };
            if used.contains(&at) {
                continue;
            }
            let pair = [branch.from, branch.to];
            let beside: Vec<(usize, f64, f64)> = self
                .lesson
                .branches
                .iter()
                .enumerate()
                .filter_map(|(other, branch)| {
                    let Form::Resistance { ohms } = branch.form else { return None };
                    let amps = self.lesson.solution.amps[other];
                    if [branch.from, branch.to] == pair {
                        Some((other, ohms, amps))
                    } else {
                        ([branch.to, branch.from] == pair).then_some((other, ohms, -amps))
                    }
                })
                .collect();
            used.extend(beside.iter().map(|(other, ..)| *other));
            if beside.len() > 1 {
                let ohms = 1.0 / beside.iter().map(|(_, ohms, _)| 1.0 / ohms).sum::<f64>();
                found.push(Shortcut::Parallel { branches: beside, pair, ohms });
            }
        }
        found
    }

    fn divider(&self, net: usize) -> Option<Shortcut> {
        if self.lesson.system.is_known(net) {
            return None;
        }
        let (mut legs, mut currents) = (Vec::new(), Vec::new());
        for (at, leaves) in self.lesson.system.at(&self.lesson.branches, net) {
            if let Form::Current { amps } = self.branch(at).form {
                currents.push((at, if leaves { amps } else { -amps }));
            } else {
                legs.push(self.leg(net, at)?);
            }
        }
        if legs.len() < 2 {
            return None;
        }
        legs.sort_by(|a, b| b.volts.total_cmp(&a.volts));
        // Nothing but the divider may hang on a net whose own volts the whole answer has to give.
        let is_plain = legs.len() == 2 && currents.is_empty();
        let is_known = |leg: &Leg| self.lesson.system.is_known(leg.end);
        if !(legs.iter().all(is_known) || is_plain && is_known(&legs[1])) {
            return None;
        }
        let mut rest = legs.into_iter();
        let (upper, lower) = (rest.next()?, rest.next()?);
        let loads: Vec<Leg> = rest.collect();
        let is_divider = upper.volts > lower.volts
            && loads.iter().all(|leg| leg.volts == lower.volts && leg.end == lower.end);
        if !is_divider {
            return None;
        }
        let at =
            |below: f64| lower.volts + (upper.volts - lower.volts) * below / (upper.ohms + below);
        let below = 1.0 / (1.0 / lower.ohms + loads.iter().map(|leg| 1.0 / leg.ohms).sum::<f64>());
        let behind = upper.ohms * below / (upper.ohms + below);
        let drawn: f64 = currents.iter().map(|(_, amps)| amps).sum();
        let (unloaded, loaded) = (at(lower.ohms), at(below) - drawn * behind);
        if !(PLAIN..=1.0 - PLAIN).contains(&(below / (upper.ohms + below))) {
            return None;
        }
        Some(Shortcut::Divider { net, upper, lower, loads, currents, unloaded, loaded })
    }

    fn bridges(&self) -> Vec<Shortcut> {
        let mut found: Vec<Shortcut> = Vec::new();
        for left in 1..self.lesson.nets.len() {
            for right in left + 1..self.lesson.nets.len() {
                let Some(one) = self.bridge(left, right) else { continue };
                // Taps of one arm are no further bridges.
                if !found.iter().any(|known| shares_an_arm(known, &one)) {
                    found.push(one);
                }
            }
        }
        found.truncate(MOST);
        found
    }

    /// Whether no part that carries nothing hangs on a net, as the input of a chip: the middle of a
    /// bridge without an instrument in the drawing is left to one that is laid over it. What a
    /// comparator holds against each other are a signal and its threshold.
    fn is_free(&self, net: usize) -> bool {
        let mut open = self.lesson.branches.iter().filter(|branch| branch.form.is_open());
        !open.any(|branch| branch.from == net || branch.to == net)
    }

    fn bridge(&self, left: usize, right: usize) -> Option<Shortcut> {
        if self.lesson.system.is_known(left) || self.lesson.system.is_known(right) {
            return None;
        }
        // A net that only passes a current on is no output, but where its own way ends.
        let legs = |net: usize| -> Option<Vec<Leg>> {
            let flowing = self.flowing(net);
            (2..=3).contains(&flowing.len()).then_some(())?;
            flowing.into_iter().map(|at| self.leg(net, at)).collect()
        };
        let (mut of_left, mut of_right) = (legs(left)?, legs(right)?);
        let detector = of_left.iter().position(|leg| leg.end == right).map(|at| of_left.remove(at));
        if detector.is_some() {
            let at = of_right.iter().position(|leg| leg.end == left)?;
            of_right.remove(at);
        }
        for legs in [&mut of_left, &mut of_right] {
            legs.sort_by(|a, b| b.volts.total_cmp(&a.volts));
        }
        let [up, down] = <[Leg; 2]>::try_from(of_left).ok()?;
        let [other_up, other_down] = <[Leg; 2]>::try_from(of_right).ok()?;
        // One way through both is one divider with two taps, no bridge.
        let shared = up
            .branches
            .iter()
            .chain(&down.branches)
            .any(|at| other_up.branches.contains(at) || other_down.branches.contains(at));
        let fed = [up.end, down.end];
        let plain =
            up.volts > down.volts && up.volts == other_up.volts && down.volts == other_down.volts;
        if shared || !plain || fed != [other_up.end, other_down.end] || fed[0] == fed[1] {
            return None;
        }
        // Two dividers are a bridge where something compares their middles.
        if detector.is_none() && !(self.is_free(left) && self.is_free(right)) {
            return None;
        }
        let share = |up: &Leg, down: &Leg| down.ohms / (up.ohms + down.ohms);
        let beside = |up: &Leg, down: &Leg| up.ohms * down.ohms / (up.ohms + down.ohms);
        let open_volts =
            (up.volts - down.volts) * (share(&up, &down) - share(&other_up, &other_down));
        let ohms = beside(&up, &down) + beside(&other_up, &other_down);
        Some(Shortcut::Bridge {
            fed,
            output: [left, right],
            arms: Box::new([up, down, other_up, other_down]),
            detector,
            open_volts,
            ohms,
            volts: self.lesson.solution.across([left, right]),
        })
    }

    /// What meters, loads and single curves see of the rest; without any, what the last unknown net
    /// offers.
    fn ports(&self) -> Vec<Shortcut> {
        let lesson = self.lesson;
        let is_load = |branch: &Branch| match branch.owner {
            Owner::Meter => true,
            Owner::Part(_) => matches!(branch.form, Form::Current { .. }),
            _ => false,
        };
        let branches = lesson.branches.iter().enumerate();
        let seen: Vec<usize> = match &lesson.bent[..] {
            [] => branches.filter(|(_, branch)| is_load(branch)).map(|(at, _)| at).collect(),
            [only] => vec![*only],
            // With several the rest of one is not linear.
            _ => return Vec::new(),
        };
        let mut found: Vec<Shortcut> = seen
            .into_iter()
            .filter_map(|at| {
                let branch = self.branch(at);
                let pair = [branch.from, branch.to];
                let port = port(lesson, Some(at), pair)?;
                // Seen so that the open-circuit volts are not negative.
                let sign = if port.open_volts < 0.0 { -1.0 } else { 1.0 };
                let pair = if sign < 0.0 { [pair[1], pair[0]] } else { pair };
                let port = Port { open_volts: sign * port.open_volts, ..port };
                let volts = lesson.solution.across(pair);
                let amps = sign * lesson.solution.amps[at];
                Some(Shortcut::Thevenin { branch: Some(at), pair, port, volts, amps })
            })
            .take(MOST)
            .collect();
        let last =
            (1..lesson.nets.len()).rev().find(|net| lesson.system.roles[*net] == Role::Unknown);
        if found.is_empty()
            && lesson.bent.is_empty()
            && let Some(net) = last
            && let Some(port) = port(lesson, None, [net, 0])
        {
            let volts = self.volts(net);
            found.push(Shortcut::Thevenin { branch: None, pair: [net, 0], port, volts, amps: 0.0 });
        }
        found
    }
}
