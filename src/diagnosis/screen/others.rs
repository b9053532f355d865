//! Other states that a board may stay in, on the reduced boards.

use std::sync::Arc;

use super::lay::leaves_ground;
use super::{Line, Walked, gathered};
use crate::circuit::Overlay;
use crate::diagnosis::case::{Case, Prediction, choices};
use crate::engine::{Patch, patterns_near};
use crate::meter::Shown;

impl Line<'_> {
    /// What a change predicts on a board that stays in another of its stable states, as
    /// [`Case::predict_others`] finds them: patterns of states near that of power-up, and where the
    /// parts of the changed board may hold each other, further points in each. `None` where the
    /// full network is needed.
    pub(in crate::diagnosis) fn predict_others(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
    ) -> Option<Vec<(f64, Prediction)>> {
        self.follow(overlay);
        let patch = Patch::new(overlay);
        let mut setups: Vec<Arc<Vec<Walked>>> = Vec::new();
        for number in 0..case.setups.len() {
            let boards = self.walk(case, number, overlay)?;
            let [first] = &boards[..] else { return Some(Vec::new()) };
            let (at, flag) = ((number, overlay), case.may_latch());
            let several = self.recalled(
                case,
                at,
                |place| place.several.clone().filter(|(with_holding, _)| *with_holding == flag),
                // Only beside a board that is sure, which is the first of them.
                |place, found| place.several = place.boards.is_some().then_some(found),
                || (flag, self.several(case, at, &patch, first.clone()).map(Arc::new)),
            );
            setups.push(several.1?);
        }
        // Most changes leave one state: what a meter shows in it is known from the power-up.
        if setups.iter().all(|boards| boards.len() == 1) {
            return Some(Vec::new());
        }
        let mut several: Vec<Vec<Vec<Arc<Vec<Shown>>>>> = Vec::new();
        for (number, boards) in setups.iter().enumerate() {
            let shown =
                boards.iter().map(|board| self.shown(case, number, std::slice::from_ref(board)));
            // A board on which a meter cannot be read in full is left out, but not the first.
            let mut shown: Vec<Option<_>> = shown.collect();
            shown[0].as_ref()?;
            several.push(shown.drain(..).flatten().collect());
        }
        let counts: Vec<usize> = several.iter().map(Vec::len).collect();
        let predicted = choices(&counts).into_iter().map(|(share, states)| {
            let chosen: Vec<_> =
                several.iter().zip(states).map(|(several, state)| &several[state]).collect();
            (share, gathered(case, &chosen))
        });
        Some(predicted.collect())
    }

    /// The boards of a setup in every state that it can stay in with a change, that of power-up first;
    /// `None` where the full network is needed.
    fn several(
        &self,
        case: &Case<'_>,
        (number, overlay): (usize, &Overlay),
        patch: &Patch,
        first: Walked,
    ) -> Option<Vec<Walked>> {
        let leaves_ground = leaves_ground(case.assembly, overlay);
        let watches = self.watches(case, number, patch);
        let here = first.states.clone();
        let mut boards = vec![first];
        for states in patterns_near(&watches, &here) {
            // A pattern without a point is none that the board could stay in.
            let board = self.solve_in(case, (number, overlay), patch, &states, (None, false));
            let agrees = |board: &Walked| {
                let volts = |watch: &_| board.volts(watch);
                case.assembly.next_switch(&states, &watches, volts).is_none()
            };
            boards.extend(board.filter(agrees));
        }
        let mut more = Vec::new();
        for Walked { states, pattern, laid, small } in &boards {
            let setup = case.setups[number].0;
            if !leaves_ground && !case.assembly.may_latch_with(setup, overlay, states) {
                continue;
            }
            // Parts that hold each other on the healthy board already may do so in every state.
            let (others, is_complete) =
                pattern.reduced.others(&laid.changes, small, case.may_latch());
            if !is_complete && case.may_latch() {
                return None;
            }
            for small in others {
                let (pattern, laid) = (Arc::clone(pattern), Arc::clone(laid));
                let small = Arc::new(small);
                let board = Walked { states: states.clone(), pattern, laid, small };
                let volts = |watch: &_| board.volts(watch);
                if case.assembly.next_switch(states, &watches, volts).is_none() {
                    more.push(board);
                }
            }
        }
        boards.append(&mut more);
        Some(boards)
    }
}
