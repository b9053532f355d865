//! Boards that hold one condition as it is, on the reduced boards: what lies on either side of a
//! threshold that is within tolerance.

use super::pattern::Push;
use super::{Line, Walked, gathered};
use crate::circuit::Overlay;
use crate::diagnosis::case::{Case, Prediction};
use crate::engine::{HELD_STEPS, Margin, Patch, Watch};

/// A condition near its threshold in one setup.
#[derive(Debug, Clone, Copy)]
pub(in crate::diagnosis) struct Near {
    /// The number of the setup in the case.
    pub(in crate::diagnosis) number: usize,
    /// The condition.
    pub(in crate::diagnosis) watch: Watch,
    /// Whether it holds on the nominal board.
    pub(in crate::diagnosis) on: bool,
}

impl Line<'_> {
    /// The conditions that stand within so many standard uncertainties of the threshold at which
    /// they switch on, with a change; `None` where the full network is needed to say.
    pub(in crate::diagnosis) fn near(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
        far: f64,
    ) -> Option<Vec<Near>> {
        self.follow(overlay);
        let patch = Patch::new(overlay);
        let mut found = Vec::new();
        for number in 0..case.setups.len() {
            let boards = self.walk(case, number, overlay)?;
            let [board] = &boards[..] else { continue };
            let watches = self.watches(case, number, &patch);
            if watches.is_empty() {
                continue;
            }
            let own = self.own(number, &board.pattern);
            let pushes = own.pushes(case, &board.laid, &board.small, None);
            for watch in watches {
                let margin = margin(case, number, &patch, (board, &pushes), &watch);
                if margin.volts.abs() < far * margin.standard() {
                    found.push(Near { number, watch, on: watch.is_on(&board.states) });
                }
            }
        }
        Some(found)
    }

    /// What a change predicts on boards with a condition held on or off, and how far its volts are
    /// past the threshold on a board where it is off.
    pub(in crate::diagnosis) fn held(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
        near: &Near,
        on: bool,
    ) -> Option<(Prediction, Margin)> {
        self.follow(overlay);
        let patch = Patch::new(overlay);
        let mut shown = Vec::new();
        let mut own = None;
        for number in 0..case.setups.len() {
            if number != near.number {
                shown.push(self.shown(case, number, &self.walk(case, number, overlay)?)?);
                continue;
            }
            let walked = |on: bool| {
                let (at, wanted) = ((number, overlay), (near.watch.part, near.watch.number, on));
                self.recalled(
                    case,
                    at,
                    |place| {
                        let found = place.held.iter().find(|(known, _)| *known == wanted);
                        found.map(|(_, board)| board.clone())
                    },
                    |place, board| place.held.push((wanted, board)),
                    || self.walk_held(case, at, &patch, &near.watch, on),
                )
            };
            let off = walked(false)?;
            let known = self.own(number, &off.pattern);
            let pushes = known.pushes(case, &off.laid, &off.small, None);
            own = Some(margin(case, number, &patch, (&off, &pushes), &near.watch));
            let board = if on { walked(true)? } else { off };
            shown.push(self.shown(case, number, std::slice::from_ref(&board))?);
        }
        Some((gathered(case, &shown.iter().collect::<Vec<_>>()), own?))
    }

    /// Powers a setup up with a condition held.
    fn walk_held(
        &self,
        case: &Case<'_>,
        (number, overlay): (usize, &Overlay),
        patch: &Patch,
        held: &Watch,
        on: bool,
    ) -> Option<Walked> {
        let watches = self.watches(case, number, patch);
        let others = held.others(&watches);
        let mut states = vec![0; case.assembly.circuit().parts.len()];
        if on {
            held.flip(&mut states);
        }
        let mut last: Option<Walked> = None;
        for _ in 0..=HELD_STEPS * watches.len() {
            let before = (last.as_ref(), true);
            let board = self.solve_in(case, (number, overlay), patch, &states, before)?;
            let next = case.assembly.next_switch(&states, &others, |watch| board.volts(watch));
            let Some((watch, _)) = next else { return Some(board) };
            watch.flip(&mut states);
            last = Some(board);
        }
        None
    }
}

/// How far the volts of a condition are past the threshold at which it switches on, on a board with
/// what acts on it.
fn margin(
    case: &Case<'_>,
    number: usize,
    patch: &Patch,
    (board, pushes): (&Walked, &[Push]),
    watch: &Watch,
) -> Margin {
    let Walked { pattern, laid, small, .. } = board;
    let condition = &watch.condition;
    let sign = if condition.rises { 1.0 } else { -1.0 };
    let [red, black] = condition.pins.map(|pin| laid.net(&pattern.network, watch.part, pin));
    let setup = case.setups[number].0;
    let mut spread = case.assembly.threshold_spread(setup, patch, watch);
    if red != black {
        let adjoint = pattern.reduced.adjoint(small, red, black);
        let moved = super::shown::spread(case, &adjoint, pushes, sign);
        for (spread, moved) in spread.iter_mut().zip(moved) {
            *spread += moved;
        }
    }
    Margin { volts: sign * (board.volts(watch) - condition.on_at), spread }
}
