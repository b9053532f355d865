//! A setup with its parts in one pattern of states, reduced.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::Key;
use super::lay::Laid;
use crate::circuit::{PartId, SetupId};
use crate::device::{Branch, Law};
use crate::diagnosis::case::Case;
use crate::engine::{Assembly, Changes, From, Network, OperatingPoint, Reduced, Slope, Small};

/// Ohms below which a short across given voltages is a contradiction for the full network to name.
pub(super) const SHORT: f64 = 1.0;
/// Volts, and share of them, within which a branch stands where it stood before: what acts on it
/// then differs by less than a part in ten thousand, far below what a spread is known to.
const SAME_VOLTS: f64 = 1e-6;

/// A setup in one pattern of states.
#[derive(Debug)]
pub(super) struct Pattern {
    /// What it is kept by.
    pub(super) key: Key,
    pub(super) setup: SetupId,
    pub(super) network: Network,
    pub(super) reduced: Reduced,
    /// Elements of each part.
    pub(super) elements: Vec<Vec<usize>>,
    /// What acts on the branches of the board.
    influences: Vec<Influence>,
    pub(super) has_given: bool,
    /// The board without a change under the current of a meter; nothing where it does not settle.
    metered: Mutex<HashMap<MeterCurrent, Option<Arc<Near>>>>,
}

/// Where a board near to another one stands: the volts of its nets, and the curves that left their
/// straight lines.
pub(super) type Near = (Vec<f64>, Vec<usize>);

/// The current that a meter drives from one net to another: the nets, and its volts and amps by
/// their bits, in ohms or in diode mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct MeterCurrent {
    red: usize,
    black: usize,
    volts: u64,
    amps: u64,
    is_ohms: bool,
}

/// A source of uncertainty that acts on a branch of the board.
#[derive(Debug)]
struct Influence {
    source: usize,
    /// The branch.
    element: usize,
    /// Its number in its part.
    number: usize,
    /// The laws around the pattern's states, where the part is in one.
    around: Option<[Vec<Branch>; 2]>,
    /// The volts that the branch stands at on the board without a change, and what the source pushes
    /// there.
    here: (Vec<f64>, f64),
    /// How the push goes with the volts where it does so in a straight line.
    line: Option<(f64, f64)>,
}

/// A pattern as one line of changes has it: with where its last solutions stood, for the next place of
/// the line is near.
#[derive(Debug)]
pub(super) struct Visited {
    pub(super) pattern: Arc<Pattern>,
    /// Without a meter, then per reading.
    last: RefCell<Vec<Last>>,
}

/// Where a pattern stood last.
#[derive(Debug, Clone, Default)]
struct Last {
    /// The solved board.
    small: Option<Arc<Small>>,
    /// Per influence: the volts that its branch stood at, and what the source pushed there.
    pushed: Vec<Option<(Vec<f64>, f64)>>,
}

/// What one standard uncertainty of a source pushes through a branch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Push {
    pub(super) source: usize,
    pub(super) from: usize,
    pub(super) to: usize,
    /// For a given voltage: the row of its current; the amount is in volts then.
    pub(super) row: Option<usize>,
    /// Amps.
    pub(super) amount: f64,
}

impl Pattern {
    /// Reduces a setup with its parts in these states, and without the gain of those that are
    /// `flat`; `None` where it cannot be.
    pub(super) fn new(
        assembly: &Assembly<'_>,
        setup: SetupId,
        (states, flat): (&[u8], &[PartId]),
        key: &Key,
        healthy: Option<&OperatingPoint>,
    ) -> Option<Pattern> {
        let base = assembly.network(setup, &crate::circuit::Overlay::none());
        let watches = assembly.watches(setup, &base);
        let network = assembly.in_states(setup, &base, &watches, states);
        let volts = match healthy {
            Some(point) if !assembly.has_states() => point.volts.clone(),
            _ => {
                let full = || network.solve_from(healthy, assembly.settings()).point;
                // A board that is off in this pattern stands near nothing, not near the healthy one.
                healthy
                    .and_then(|point| {
                        let nothing = vec![0.0; point.volts.len()];
                        roughly(&network, &point.volts).or_else(|| roughly(&network, &nothing))
                    })
                    .or_else(|| full().map(|point| point.volts))?
            }
        };
        let reduced = Reduced::new(&network, &volts, flat)?;
        let mut elements = vec![Vec::new(); assembly.circuit().parts.len()];
        for (idx, element) in network.elements.iter().enumerate() {
            if let Some(part) = element.part() {
                elements[part.index()].push(idx);
            }
        }
        let mut influences = Vec::new();
        for (at, source) in assembly.sources().iter().enumerate() {
            let own = &elements[source.part.index()];
            let on = states[source.part.index()];
            let around = (on != 0).then(|| source.laws_around(assembly, setup, &[], on));
            for (number, &element) in own.iter().enumerate() {
                // A parameter is none of most branches of a chip.
                let acts = around.is_some() || source.touched(setup).get(number) == Some(&true);
                if !acts {
                    continue;
                }
                let around = around.clone();
                let all = across(&reduced, element, &volts);
                let here = (Vec::new(), 0.0);
                let mut influence =
                    Influence { source: at, element, number, around, here, line: None };
                let push = |volts: &[f64]| match influence.slope(
                    assembly,
                    setup,
                    reduced.law(element),
                    volts,
                ) {
                    Some(Slope::Amps(amps)) => amps,
                    Some(Slope::Volts(volts)) => volts,
                    None => 0.0,
                };
                let amount = push(&all);
                let line = matches!(reduced.law(element), Law::Line { .. })
                    .then(|| (push(&[0.0]), push(&[1.0])));
                influence.line = line.map(|(none, one)| (none, one - none));
                influence.here = (all, amount);
                influences.push(influence);
            }
        }
        let has_given = network.elements.iter().any(|element| matches!(element.law, Law::Volts(_)));
        let key = key.clone();
        let metered = Mutex::default();
        Some(Pattern { key, setup, network, reduced, elements, influences, has_given, metered })
    }

    /// Which conditions hold.
    pub(super) fn states(&self) -> &[u8] {
        self.network.states()
    }

    /// The board without a change under the current of a meter, by its `law`. Most changes leave a
    /// board near it, where it is far from the board without a meter. It is the same whoever asks
    /// for it first.
    pub(super) fn metered(&self, current: MeterCurrent, law: &Law) -> Option<Arc<Near>> {
        let solve = || {
            let mut changes = Changes::default();
            changes.list.push(Reduced::between(current.red, current.black, law.clone()));
            self.reduced.tie(&mut changes);
            let small = self.reduced.solve(&changes, None, &[], (From::Afar, true))?;
            Some(Arc::new((small.volts, small.awake)))
        };
        // What is put in is whole: a thread that panicked left nothing half done.
        let mut metered = self.metered.lock().unwrap_or_else(PoisonError::into_inner);
        metered.entry(current).or_insert_with(solve).clone()
    }

    /// Whether taking a part away would cost digits.
    pub(super) fn is_steep(&self, part: PartId) -> bool {
        self.elements[part.index()].iter().any(|&element| self.reduced.is_steep(element))
    }
}

impl Visited {
    pub(super) fn new(pattern: Arc<Pattern>) -> Visited {
        Visited { pattern, last: RefCell::default() }
    }

    /// Goes on from a board that was solved before.
    pub(super) fn stand_at(&self, small: &Arc<Small>) {
        let mut last = self.last.borrow_mut();
        if last.is_empty() {
            last.push(Last::default());
        }
        last[slot(None)].small = Some(Arc::clone(small));
    }

    /// Forgets where solutions stood: what comes next lies on another line.
    pub(super) fn forget(&self) {
        self.last.borrow_mut().clear();
    }

    /// Solves from where the last solution of the same reading on this line stood, or else from a
    /// board that is `near`, or else from the volts `first`: those of the pattern before, as a walk
    /// goes, or of the board without a meter.
    pub(super) fn solve(
        &self,
        reading: Option<usize>,
        changes: &Changes,
        near: Option<&Near>,
        (first, awake): (Option<&[f64]>, &[usize]),
        stubborn: bool,
    ) -> Option<Arc<Small>> {
        let slot = slot(reading);
        let last = self.last.borrow_mut().get_mut(slot).and_then(|last| last.small.take());
        let last = last.as_deref().map(|small| (&small.volts[..], &small.awake[..]));
        let near = last.or_else(|| near.map(|(volts, awake)| (&volts[..], &awake[..])));
        let (start, awake, from) = match near {
            Some((volts, awake)) => (Some(volts), awake, From::Near),
            None => (first, awake, From::Afar),
        };
        let reduced = &self.pattern.reduced;
        let small = reduced.solve(changes, start, awake, (from, false)).or_else(|| {
            // A start that leads nowhere is no reason to give up.
            let again = if near.is_some() { first } else { None };
            if start.is_none() && !stubborn {
                return None;
            }
            reduced.solve(changes, again, &[], (From::Afar, stubborn))
        })?;
        let small = Arc::new(small);
        let mut last = self.last.borrow_mut();
        if last.len() <= slot {
            last.resize(slot + 1, Last::default());
        }
        last[slot].small = Some(Arc::clone(&small));
        Some(small)
    }

    /// What one standard uncertainty of each source pushes on a solved board, without a meter or
    /// with that of a reading.
    pub(super) fn pushes(
        &self,
        case: &Case<'_>,
        laid: &Laid,
        small: &Small,
        reading: Option<usize>,
    ) -> Vec<Push> {
        let slot = slot(reading);
        let assembly = case.assembly;
        let Pattern { setup, reduced, influences, .. } = &*self.pattern;
        let mut last = self.last.borrow_mut();
        if last.len() <= slot {
            last.resize(slot + 1, Last::default());
        }
        let pushed = &mut last[slot].pushed;
        pushed.resize(influences.len(), None);
        let mut pushes = Vec::with_capacity(influences.len());
        let changed = laid.changes.list.iter().filter_map(|active| {
            let origin = active.origin?;
            Some((active, origin.part, origin.number?))
        });
        let changed: Vec<_> = changed.filter(|(active, ..)| active.law.is_some()).collect();
        let touched = |element: usize| laid.changes.at(element).is_some();
        for (influence, pushed) in influences.iter().zip(pushed) {
            let source = &assembly.sources()[influence.source];
            if touched(influence.element) {
                continue;
            }
            let ((from, to), _) = reduced.ends(influence.element);
            let row = reduced.own_row(influence.element);
            let own = small.volts[from] - small.volts[to];
            let amount = match influence.line {
                Some((none, per_volt)) => none + per_volt * own,
                None => {
                    let stands = |(known, _): &&(Vec<f64>, f64)| {
                        stands_at(reduced, influence.element, &small.volts, known)
                    };
                    let known = [Some(&influence.here), pushed.as_ref()];
                    let known = known.into_iter().flatten().find(stands).map(|known| known.1);
                    match known {
                        Some(amount) => amount,
                        None => {
                            let all = across(reduced, influence.element, &small.volts);
                            let law = reduced.law(influence.element);
                            let amount = match influence.slope(assembly, *setup, law, &all) {
                                Some(Slope::Amps(amount) | Slope::Volts(amount)) => amount,
                                None => 0.0,
                            };
                            *pushed = Some((all, amount));
                            amount
                        }
                    }
                }
            };
            if amount != 0.0 {
                let amount = amount * source.standard;
                pushes.push(Push { source: influence.source, from, to, row, amount });
            }
        }
        if changed.is_empty() {
            return pushes;
        }
        for (at, source) in assembly.sources().iter().enumerate() {
            let replaced = laid.patch.replaced(source.part);
            if laid.patch.is_taken(source.part)
                || replaced.iter().any(|(name, _)| *name == source.parameter)
            {
                continue;
            }
            // Of two parts in each other's place, each takes its tolerance with it.
            let place = laid.patch.place_of(source.part);
            let on = self.pattern.states()[place.index()];
            let mut laws = None;
            for &(active, _, number) in changed.iter().filter(|(_, part, _)| *part == place) {
                let Some(law) = &active.law else { continue };
                let laws =
                    laws.get_or_insert_with(|| source.laws_around(assembly, *setup, replaced, on));
                let all: Vec<f64> = std::iter::once((active.from, active.to))
                    .chain(active.senses.iter().copied())
                    .map(|(from, to)| small.volts[from] - small.volts[to])
                    .collect();
                if let Some(Slope::Amps(amount)) = source.slope_with(laws, number, law, &all) {
                    let amount = amount * source.standard;
                    let (from, to) = (active.from, active.to);
                    pushes.push(Push { source: at, from, to, row: None, amount });
                }
            }
        }
        pushes
    }
}

impl MeterCurrent {
    /// What a meter drives from net to net of the board, with its mode's volts and amps.
    pub(super) fn new(
        (red, black): (usize, usize),
        (volts, amps): (f64, f64),
        is_ohms: bool,
    ) -> MeterCurrent {
        MeterCurrent { red, black, volts: volts.to_bits(), amps: amps.to_bits(), is_ohms }
    }
}

/// The place of a reading among what is remembered.
fn slot(reading: Option<usize>) -> usize {
    reading.map_or(0, |idx| idx + 1)
}

impl Influence {
    fn slope(
        &self,
        assembly: &Assembly<'_>,
        setup: SetupId,
        here: &Law,
        volts: &[f64],
    ) -> Option<Slope> {
        let source = &assembly.sources()[self.source];
        match &self.around {
            Some(laws) => source.slope_with(laws, self.number, here, volts),
            None => source.slope(setup, self.number, here, volts),
        }
    }
}

/// The volts of a branch of the board: its own, then those that drive it.
fn across(reduced: &Reduced, element: usize, volts: &[f64]) -> Vec<f64> {
    let (ends, senses) = reduced.ends(element);
    let pairs = std::iter::once(ends).chain(senses.iter().copied());
    pairs.map(|(from, to)| volts[from] - volts[to]).collect()
}

/// Whether a branch of the board stands at these volts, its own and those that drive it.
fn stands_at(reduced: &Reduced, element: usize, volts: &[f64], known: &[f64]) -> bool {
    let (ends, senses) = reduced.ends(element);
    let mut pairs = std::iter::once(ends).chain(senses.iter().copied()).zip(known);
    pairs.all(|((from, to), known)| {
        (volts[from] - volts[to] - known).abs() <= SAME_VOLTS * (1.0 + known.abs())
    })
}

/// The volts of a board in another pattern than the healthy one, by a linear board that is taken
/// elsewhere, such as where the healthy one stands: straight lines need not be taken at the very
/// point, but are left by fewer curves there.
fn roughly(network: &Network, volts: &[f64]) -> Option<Vec<f64>> {
    let reduced = Reduced::new(network, volts, &[])?;
    Some(reduced.solve(&Changes::default(), None, &[], (From::Afar, true))?.volts)
}
