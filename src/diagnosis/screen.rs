//! Predictions by the reduced board: what nearly all places of all hypotheses need.
//!
//! What this cannot do (ideal sources that a change touches, ideal diodes) it leaves to the full
//! network by saying `None`. What it can do agrees with the full network to rounding, and the best
//! place of everything that is not excluded is solved again in full.

//!
//! What the boards of a case have in common is shared by all that look at them, on any number of
//! threads: one reduced board per pattern of states. What helps from one place of a line to the next
//! is the line's own ([`Line`]), so that no answer depends on what else was looked at before.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::case::Case;
use crate::circuit::{Overlay, PartId, SetupId};
use crate::device::of;
use crate::engine::{Assembly, Patch, Watch};

mod held;
mod lay;
mod line;
mod memory;
mod others;
mod pattern;
mod recall;
mod route;
mod shown;
#[cfg(test)]
mod tests;

pub(super) use held::Near;
pub(super) use line::{Line, is_same_line};
use line::{Walked, gathered};
pub(super) use memory::{Boards, Memory};
use pattern::Pattern;
use route::Route;

/// The reduced boards of a case, per setup.
#[derive(Debug)]
pub(super) struct Screen {
    setups: Vec<Arc<Patterns>>,
}

/// The reduced boards of one setup, one per pattern of states that was walked through.
#[derive(Debug)]
struct Patterns {
    setup: SetupId,
    /// Those that are kept.
    kept: Mutex<HashMap<Key, Option<Arc<Pattern>>>>,
    /// The conditions of the healthy board.
    watches: Vec<Watch>,
    /// Parts with states: for each choice of conditions the least one that makes the same branches
    /// of the part. A regulator that lacks its enable is off, whatever its lockout says.
    same: Vec<(PartId, Vec<u8>)>,
    /// How the board powers up without a change, once it was asked for.
    route: OnceLock<Option<Arc<Route>>>,
}

/// A pattern by the conditions that hold, followed by the parts that are taken without their gain.
type Key = Vec<u8>;

/// The most reduced boards that are kept per setup for whoever comes next.
const MOST_KEPT: usize = 1000;
/// Parts with more conditions than this are taken as they are.
const MOST_CONDITIONS: usize = 4;

impl Screen {
    /// Reduces every setup of the case; `None` where one of them cannot be.
    pub(super) fn new(case: &Case<'_>) -> Option<Screen> {
        let screen = Screen::unchecked(case);
        // A board that cannot be reduced when healthy is not tried fault by fault.
        screen.line().predict(case, &Overlay::none()).map(|_| screen)
    }

    /// The same where some of the readings may need the full network.
    pub(super) fn for_each(case: &Case<'_>) -> Option<Screen> {
        let screen = Screen::unchecked(case);
        screen.line().predict_each(case, &Overlay::none()).map(|_| screen)
    }

    fn unchecked(case: &Case<'_>) -> Screen {
        let setups = case
            .setups
            .iter()
            .map(|(setup, _)| match &case.boards {
                Some(boards) => boards.patterns(case.assembly, *setup),
                None => Arc::new(patterns_of(case.assembly, *setup)),
            })
            .collect();
        Screen { setups }
    }

    /// A line to be followed on these boards, from nothing.
    pub(super) fn line(&self) -> Line<'_> {
        self.remembering(None)
    }

    /// The same for a line that a session remembers.
    pub(super) fn remembering(&self, memory: Option<Arc<Memory>>) -> Line<'_> {
        Line::new(self, memory)
    }

    /// How a setup powers up without a change; `None` where the reduced boards cannot say.
    fn healthy_route(&self, case: &Case<'_>, number: usize) -> Option<&Arc<Route>> {
        let found = || self.line().route_of_none(case, number);
        self.setups[number].route.get_or_init(found).as_ref()
    }

    /// The reduced board of a setup in a pattern; `None` where it cannot be reduced.
    fn pattern(
        &self,
        case: &Case<'_>,
        number: usize,
        (states, flat): (&[u8], &[PartId]),
        key: &Key,
    ) -> Option<Arc<Pattern>> {
        // A board is put in whole, so that one that panicked half-way left nothing half done.
        let kept = || self.setups[number].kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(pattern) = kept().get(key) {
            return pattern.clone();
        }
        // Made without holding the lock: two that make the same board make it alike.
        let (setup, healthy) = (case.setups[number].0, case.healthy[number].as_ref());
        let pattern =
            Pattern::new(case.assembly, setup, (states, flat), key, healthy).map(Arc::new);
        let mut kept = kept();
        if kept.len() < MOST_KEPT {
            kept.entry(key.clone()).or_insert_with(|| pattern.clone());
        }
        pattern
    }
}

/// The reduced boards of a setup, none made yet.
fn patterns_of(assembly: &Assembly<'_>, setup: SetupId) -> Patterns {
    let network = assembly.network(setup, &Overlay::none());
    let watches = assembly.watches(setup, &network);
    let same = same_branches(assembly, setup, &watches);
    Patterns { setup, kept: Mutex::default(), watches, same, route: OnceLock::new() }
}

/// Per part with states: for each choice of its conditions the least one that makes the same
/// branches.
fn same_branches(
    assembly: &Assembly<'_>,
    setup: SetupId,
    watches: &[Watch],
) -> Vec<(PartId, Vec<u8>)> {
    let mut parts: Vec<PartId> = watches.iter().map(|watch| watch.part).collect();
    parts.dedup();
    parts
        .into_iter()
        .map(|part| {
            let count = watches.iter().filter(|watch| watch.part == part).count();
            let choices = 0..if count <= MOST_CONDITIONS { 1_u8 << count } else { 0 };
            let made: Vec<String> = choices
                .map(|on| {
                    let values = Patch::default().values(part, assembly, setup.0, on);
                    format!("{:?}", of(values.part).branches(&values))
                })
                .collect();
            let first = |text: &String| made.iter().position(|known| known == text);
            // Two to the fourth fits a byte.
            (part, made.iter().map(|text| first(text).unwrap_or(0) as u8).collect())
        })
        .collect()
}
