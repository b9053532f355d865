//! A line of changes followed on the reduced boards, place by place.
//!
//! The next place of a line is near the one before: solutions begin where the last one stood, and
//! patterns that the board just did not stay in are asked less often. All of that belongs to one
//! line; another one begins from nothing.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;

use super::lay::Laid;
use super::memory::{Memory, Read};
use super::pattern::{Pattern, Visited};
use super::route::{Route, Routes, values_of, values_of_none};
use super::{Key, Screen};
use crate::circuit::{Change, Overlay, PartId, Quantity};
use crate::diagnosis::case::{Case, Prediction};
use crate::engine::{Patch, Small, Stands, Watch};
use crate::meter::Shown;

/// A line that is followed.
pub(in crate::diagnosis) struct Line<'s> {
    pub(super) screen: &'s Screen,
    /// What a session remembers of it.
    pub(super) memory: Option<Arc<Memory>>,
    /// Per setup.
    pub(super) setups: Vec<Own>,
    /// The change that was predicted last, without regard to its values.
    last: RefCell<Overlay>,
    /// Whether every pattern is asked at every place.
    pub(super) is_thorough: Cell<bool>,
    /// Whether a pattern was passed over on the way to the board that was walked to last.
    pub(super) is_unsure: Cell<bool>,
}

/// What a line knows of one setup.
#[derive(Default)]
pub(super) struct Own {
    /// The patterns that it came through.
    visited: RefCell<HashMap<Key, Option<Rc<Visited>>>>,
    /// Patterns that the board does not stay in, each with how often it was passed over since.
    left: RefCell<HashMap<Vec<u8>, u8>>,
    /// The routes of its power-ups.
    pub(super) routes: RefCell<Routes>,
}

/// A board with a change in one pattern of states, solved without a meter.
#[derive(Debug, Clone)]
pub(super) struct Walked {
    /// The conditions that hold.
    pub(super) states: Vec<u8>,
    pub(super) pattern: Arc<Pattern>,
    pub(super) laid: Arc<Laid>,
    pub(super) small: Arc<Small>,
}

/// A line that comes through more patterns than this is left to the full network: so is a search
/// among so many.
const MOST_PATTERNS: usize = 300;

/// Places at which a pattern that the board did not stay in is passed over.
const PASSED_OVER: u8 = 3;

impl<'s> Line<'s> {
    /// A line on the boards of a screen, from nothing.
    pub(super) fn new(screen: &'s Screen, memory: Option<Arc<Memory>>) -> Line<'s> {
        let setups = screen.setups.iter().map(|_| Own::default()).collect();
        let (last, is_thorough, is_unsure) = Default::default();
        Line { screen, memory, setups, last, is_thorough, is_unsure }
    }

    /// What a change predicts for every reading; `None` where the full network is needed.
    pub(in crate::diagnosis) fn predict(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
    ) -> Option<Prediction> {
        self.follow(overlay);
        let shown = (0..case.setups.len())
            .map(|number| self.read(case, number, overlay)?.into_iter().collect())
            .collect::<Option<Vec<Vec<Arc<Vec<Shown>>>>>>()?;
        Some(gathered(case, &shown.iter().collect::<Vec<_>>()))
    }

    /// The same, reading by reading: what a meter on the reduced boards does not settle with is
    /// unknown, and spoils no other. `None` where the full network is needed for all of them.
    pub(in crate::diagnosis) fn predict_each(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
    ) -> Option<(Prediction, Vec<bool>)> {
        self.follow(overlay);
        let mut known = vec![true; case.readings.len()];
        let mut all = Vec::new();
        for number in 0..case.setups.len() {
            let shown = self.read(case, number, overlay)?;
            for (&idx, shown) in case.setups[number].1.iter().zip(&shown) {
                known[idx] = shown.is_some();
            }
            all.push(shown.into_iter().map(Option::unwrap_or_default).collect());
        }
        Some((gathered(case, &all.iter().collect::<Vec<_>>()), known))
    }

    /// What the meter shows for every reading of a setup, on one board or on each of a round.
    pub(super) fn shown(
        &self,
        case: &Case<'_>,
        number: usize,
        boards: &[Walked],
    ) -> Option<Vec<Arc<Vec<Shown>>>> {
        self.shown_each(case, number, boards, &case.setups[number].1).into_iter().collect()
    }

    /// What the meter shows for readings of a setup, by their numbers; `None` for each that the full
    /// network is needed for.
    pub(super) fn shown_each(
        &self,
        case: &Case<'_>,
        number: usize,
        boards: &[Walked],
        idxs: &[usize],
    ) -> Vec<Read> {
        let mut shown: Vec<Option<Vec<Shown>>> = vec![Some(Vec::new()); idxs.len()];
        // Only what is read on the board as it is goes by what acts on it without a meter.
        let bare =
            |idx: &usize| matches!(case.readings[*idx].quantity, Quantity::Volts | Quantity::Seen);
        let any_bare = idxs.iter().any(bare);
        for Walked { pattern, laid, small, .. } in boards {
            let visited = self.own(number, pattern);
            let pushes = match any_bare {
                true => visited.pushes(case, laid, small, None),
                false => Vec::new(),
            };
            for (&idx, shown) in idxs.iter().zip(&mut shown) {
                let Some(so_far) = shown else { continue };
                match visited.show(case, laid, small, &pushes, idx) {
                    Some(one) => so_far.push(one),
                    None => *shown = None,
                }
            }
        }
        shown.into_iter().map(|shown| shown.map(Arc::new)).collect()
    }

    /// The pattern of states that a change powers up in, per setup, with the volts of all nets, by
    /// the reduced boards; the whole round for a board that keeps switching.
    pub(in crate::diagnosis) fn standing(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
    ) -> Option<Vec<Vec<Stands>>> {
        self.follow(overlay);
        let stands = |board: &Walked| (board.states.clone(), board.small.volts.clone());
        (0..case.setups.len())
            .map(|number| Some(self.walk(case, number, overlay)?.iter().map(stands).collect()))
            .collect()
    }

    /// Does something with every pattern asked at every place, even those that the board did not stay
    /// in just before.
    pub(in crate::diagnosis) fn thoroughly<T>(&self, work: impl FnOnce() -> T) -> T {
        self.is_thorough.set(true);
        let result = work();
        self.is_thorough.set(false);
        result
    }

    /// Forgets all but the boards where a change does not lie on the line of the one before.
    pub(super) fn follow(&self, overlay: &Overlay) {
        let mut last = self.last.borrow_mut();
        if !is_same_line(&last, overlay) {
            for own in &self.setups {
                own.left.borrow_mut().clear();
                own.routes.borrow_mut().clear();
                own.visited.borrow().values().flatten().for_each(|visited| visited.forget());
            }
        }
        last.clone_from(overlay);
    }

    /// Powers a setup up on reduced boards, one condition at a time, as the full walk does: the
    /// board that it comes to, or the round that it keeps going.
    pub(super) fn walk_anew(
        &self,
        case: &Case<'_>,
        number: usize,
        overlay: &Overlay,
    ) -> Option<Vec<Walked>> {
        let patch = Patch::new(overlay);
        let watches = self.watches(case, number, &patch);
        let mut walked = vec![vec![0; case.assembly.circuit().parts.len()]];
        if watches.is_empty() {
            let on_board = (number, overlay);
            return Some(vec![self.solve_in(case, on_board, &patch, &walked[0], (None, true))?]);
        }
        let routes = &self.setups[number].routes;
        let values = values_of(overlay);
        if routes.borrow().is_empty() && !values.is_empty() {
            let setup = case.setups[number].0;
            let none = values_of_none(overlay, case.assembly, setup);
            if let Some((none, route)) = none.zip(self.screen.healthy_route(case, number)) {
                routes.borrow_mut().note(none, Arc::clone(route));
            }
        }
        let known = routes.borrow().between(&values).map(Arc::clone);
        if let Some(route) = known.filter(|_| !self.is_thorough.get())
            && let Some(boards) = self.at_end(case, (number, overlay), &patch, &watches, &route)
        {
            routes.borrow_mut().note(values, route);
            return Some(boards);
        }
        let mut boards = Vec::new();
        let found = loop {
            let states = &walked[walked.len() - 1];
            // As the full walk does, each pattern begins where the one before it stood.
            let board =
                self.solve_in(case, (number, overlay), &patch, states, (boards.last(), true))?;
            let next = case.assembly.next_switch(states, &watches, |watch| board.volts(watch));
            let Some((watch, _)) = next else { break vec![board] };
            let states = flipped(states, &watch);
            boards.push(board);
            if let Some(first) = walked.iter().position(|known| *known == states) {
                break self.search(case, (number, overlay), &patch, &watches, &walked, || {
                    boards.drain(first..).collect()
                })?;
            }
            walked.push(states);
        };
        let end = found.iter().map(|board| board.states.clone()).collect();
        routes.borrow_mut().note(values, Arc::new(Route { walked, end }));
        Some(found)
    }

    /// The boards at the end of a route that power-ups on both sides of this place took; `None` where
    /// it does not end there.
    fn at_end(
        &self,
        case: &Case<'_>,
        (number, overlay): (usize, &Overlay),
        patch: &Patch,
        watches: &[Watch],
        route: &Route,
    ) -> Option<Vec<Walked>> {
        let mut boards: Vec<Walked> = Vec::with_capacity(route.end.len());
        for (at, states) in route.end.iter().enumerate() {
            let before = (boards.last(), false);
            let board = self.solve_in(case, (number, overlay), patch, states, before)?;
            let next = case.assembly.next_switch(states, watches, |watch| board.volts(watch));
            let goes_on = next.map(|(watch, _)| flipped(states, &watch));
            let is_round = route.end.len() > 1;
            let wanted = is_round.then(|| &route.end[(at + 1) % route.end.len()]);
            if goes_on.as_ref() != wanted {
                return None;
            }
            boards.push(board);
        }
        Some(boards)
    }

    /// The route of a power-up without a change.
    pub(super) fn route_of_none(&self, case: &Case<'_>, number: usize) -> Option<Arc<Route>> {
        let nothing = Overlay::none();
        self.walk(case, number, &nothing)?;
        self.setups[number].routes.borrow().between(&values_of(&nothing)).map(Arc::clone)
    }

    /// The conditions of a board whose parts are changed.
    pub(super) fn watches(&self, case: &Case<'_>, number: usize, patch: &Patch) -> Vec<Watch> {
        let setup = case.setups[number].0;
        let healthy = &self.screen.setups[number].watches;
        let mut found = Vec::with_capacity(healthy.len());
        for watch in healthy {
            if !patch.touches(watch.part) {
                found.push(*watch);
            } else if !found.iter().any(|known: &Watch| known.part == watch.part) {
                found.extend(case.assembly.watches_of(setup, patch, watch.part));
            }
        }
        found
    }

    pub(super) fn solve_in(
        &self,
        case: &Case<'_>,
        (number, overlay): (usize, &Overlay),
        patch: &Patch,
        states: &[u8],
        (before, stubborn): (Option<&Walked>, bool),
    ) -> Option<Walked> {
        let mut plain = states.to_vec();
        for (part, same) in &self.screen.setups[number].same {
            let on = &mut plain[part.index()];
            *on = same.get(usize::from(*on)).copied().unwrap_or(*on);
        }
        let mut visited = self.in_pattern(case, number, &plain, &[])?;
        let mut flat: Vec<PartId> = overlay
            .changes
            .iter()
            .filter(|change| !matches!(change, Change::Across { .. } | Change::Inside { .. }))
            .flat_map(Change::parts)
            .filter(|part| visited.pattern.is_steep(*part))
            .collect();
        if !flat.is_empty() {
            flat.sort();
            flat.dedup();
            visited = self.in_pattern(case, number, &plain, &flat)?;
        }
        // A condition that changes no branch leaves the board where it stood.
        let is_changed = |part: usize| {
            overlay.changes.iter().flat_map(Change::parts).any(|id| id.index() == part)
        };
        if let Some(before) = before.filter(|before| Arc::ptr_eq(&before.pattern, &visited.pattern))
        {
            let each = before.states.iter().zip(states).enumerate();
            if each.into_iter().all(|(part, (was, is))| was == is || !is_changed(part)) {
                return Some(Walked { states: states.to_vec(), ..before.clone() });
            }
        }
        let laid = visited.pattern.lay(case.assembly, overlay, patch, states)?;
        let volts = before.map(|before| &before.small.volts[..]);
        let small = visited.solve(None, &laid.changes, None, (volts, &[]), stubborn)?;
        if visited.pattern.reduced.is_undecided(&laid.changes, &small) {
            return None;
        }
        let (pattern, laid) = (Arc::clone(&visited.pattern), Arc::new(laid));
        Some(Walked { states: states.to_vec(), pattern, laid, small })
    }

    /// After a walk that came back to where it was: a pattern that agrees with itself, or the
    /// round, as the full walk looks for them.
    fn search(
        &self,
        case: &Case<'_>,
        (number, overlay): (usize, &Overlay),
        patch: &Patch,
        watches: &[Watch],
        walked: &[Vec<u8>],
        round: impl FnOnce() -> Vec<Walked>,
    ) -> Option<Vec<Walked>> {
        let (patterns, _) = crate::engine::patterns(watches, walked);
        if patterns.len() > MOST_PATTERNS {
            return None;
        }
        for states in patterns.iter().filter(|states| !walked.contains(states)) {
            if self.is_passed_over(number, states) {
                continue;
            }
            // A pattern without a point is none that the board could stay in.
            let board = self.solve_in(case, (number, overlay), patch, states, (None, false));
            let stays = board.filter(|board| {
                case.assembly.next_switch(states, watches, |watch| board.volts(watch)).is_none()
            });
            self.note(number, states, stays.is_some());
            if let Some(board) = stays {
                return Some(vec![board]);
            }
        }
        Some(round())
    }

    /// Whether the board did not stay in a pattern at the last few places of this line: then it is
    /// asked at every fourth place only.
    fn is_passed_over(&self, number: usize, states: &[u8]) -> bool {
        let mut left = self.setups[number].left.borrow_mut();
        let Some(times) = left.get_mut(states) else { return false };
        if *times >= PASSED_OVER || self.is_thorough.get() {
            return false;
        }
        *times += 1;
        self.is_unsure.set(true);
        true
    }

    fn note(&self, number: usize, states: &[u8], stays: bool) {
        let mut left = self.setups[number].left.borrow_mut();
        if stays {
            left.remove(states);
        } else {
            left.insert(states.to_vec(), 0);
        }
    }

    /// What this line knows of a pattern.
    pub(super) fn own(&self, number: usize, pattern: &Arc<Pattern>) -> Rc<Visited> {
        let mut visited = self.setups[number].visited.borrow_mut();
        match visited.get(&pattern.key) {
            Some(Some(known)) => Rc::clone(known),
            _ => {
                let own = Rc::new(Visited::new(Arc::clone(pattern)));
                visited.insert(pattern.key.clone(), Some(Rc::clone(&own)));
                own
            }
        }
    }

    fn in_pattern(
        &self,
        case: &Case<'_>,
        number: usize,
        states: &[u8],
        flat: &[PartId],
    ) -> Option<Rc<Visited>> {
        let mut visited = self.setups[number].visited.borrow_mut();
        let mut key = states.to_vec();
        key.extend(flat.iter().flat_map(|part| (part.index() as u32).to_le_bytes()));
        if let Some(known) = visited.get(&key) {
            return known.clone();
        }
        if visited.len() > MOST_PATTERNS {
            return None;
        }
        let pattern = self.screen.pattern(case, number, (states, flat), &key);
        let own = pattern.map(|pattern| Rc::new(Visited::new(pattern)));
        visited.insert(key, own.clone());
        own
    }
}

/// The pattern after a condition has switched.
fn flipped(states: &[u8], watch: &Watch) -> Vec<u8> {
    let mut states = states.to_vec();
    watch.flip(&mut states);
    states
}

/// A prediction from what is shown per setup, per reading of it, on one board or on several.
pub(super) fn gathered(case: &Case<'_>, shown: &[&Vec<Arc<Vec<Shown>>>]) -> Prediction {
    let mut prediction = Prediction::blank(case.readings.len());
    for ((_, idxs), shown) in case.setups.iter().zip(shown) {
        for (&idx, shown) in idxs.iter().zip(*shown) {
            match &shown[..] {
                [] => {}
                [only] => {
                    case.put(&mut prediction, idx, only);
                }
                // A board that keeps switching shows something between its states.
                round => case.put_range(&mut prediction, idx, round),
            }
        }
    }
    prediction
}

impl Walked {
    /// Volts between the pins that a condition looks at.
    pub(super) fn volts(&self, watch: &Watch) -> f64 {
        let [from, to] =
            watch.condition.pins.map(|pin| self.laid.net(&self.pattern.network, watch.part, pin));
        self.small.volts[from] - self.small.volts[to]
    }
}

/// Whether two overlays are one but for the values of their changes.
pub(in crate::diagnosis) fn is_same_line(one: &Overlay, other: &Overlay) -> bool {
    let (one, other) = (&one.changes, &other.changes);
    one.len() == other.len() && one.iter().zip(other).all(|(a, b)| is_same_change(a, b))
}

/// Whether two changes are one but for their values.
fn is_same_change(one: &Change, other: &Change) -> bool {
    match (one, other) {
        (Change::Across { part: a, .. }, Change::Across { part: b, .. }) => a == b,
        (
            Change::Parameter { part: a, name: first, .. },
            Change::Parameter { part: b, name: second, .. },
        ) => a == b && first == second,
        (
            Change::Inside { part: a, pins: first, .. },
            Change::Inside { part: b, pins: second, .. },
        ) => a == b && first == second,
        (Change::Joint { part: a, pin: first, .. }, Change::Joint { part: b, pin: second, .. }) => {
            a == b && first == second
        }
        (Change::Bridge { nets: a, .. }, Change::Bridge { nets: b, .. }) => a == b,
        _ => one == other,
    }
}
