//! What a line does that a session remembers of it.

use std::sync::Arc;

use super::line::{Line, Walked};
use super::memory::{Read, Remembered};
use super::route::values_of;
use crate::circuit::Overlay;
use crate::diagnosis::case::Case;

impl Line<'_> {
    /// Something that is remembered of a place, or else found, and kept where places are kept.
    pub(super) fn recalled<T: Clone>(
        &self,
        case: &Case<'_>,
        (number, overlay): (usize, &Overlay),
        known: impl FnOnce(&Remembered) -> Option<T>,
        keep: impl FnOnce(&mut Remembered, T),
        find: impl FnOnce() -> T,
    ) -> T {
        let Some(memory) = &self.memory else { return find() };
        let setup = case.setups[number].0;
        if let Some(known) = memory.at(setup, overlay, |place| known(place)).flatten() {
            return known;
        }
        let found = find();
        memory.at_new(setup, overlay, |place| keep(place, found.clone()));
        found
    }

    /// Powers a setup up on reduced boards, or remembers where it came to.
    pub(super) fn walk(
        &self,
        case: &Case<'_>,
        number: usize,
        overlay: &Overlay,
    ) -> Option<Arc<Vec<Walked>>> {
        let setup = case.setups[number].0;
        debug_assert_eq!(setup, self.screen.setups[number].setup, "a line of another case");
        let Some(memory) = &self.memory else {
            return self.walk_anew(case, number, overlay).map(Arc::new);
        };
        let known = memory.at(setup, overlay, |place| place.boards.clone()).flatten();
        if let Some(known) = known.filter(|_| !self.is_thorough.get()) {
            let (boards, route) = known?;
            let mut routes = self.setups[number].routes.borrow_mut();
            if let Some(route) = route {
                routes.note(values_of(overlay), route);
            }
            // The next place of the line begins here.
            for board in boards.iter() {
                self.own(number, &board.pattern).stand_at(&board.small);
            }
            return Some(boards);
        }
        self.is_unsure.set(false);
        let found = self.walk_anew(case, number, overlay).map(Arc::new);
        // Where a pattern was passed over, it is asked the next time.
        if self.is_unsure.get() {
            return found;
        }
        let route = self.setups[number].routes.borrow().last(&values_of(overlay));
        let boards = Some(found.clone().map(|boards| (boards, route)));
        memory.at_new(setup, overlay, |place| {
            *place = Remembered { boards, ..Remembered::default() };
        });
        found
    }

    /// What the meter shows for every reading of a setup with a change, on the board that it powers up
    /// to: as it is remembered, or else found. `None` for each reading that the full network is needed
    /// for.
    pub(super) fn read(
        &self,
        case: &Case<'_>,
        number: usize,
        overlay: &Overlay,
    ) -> Option<Vec<Read>> {
        let boards = self.walk(case, number, overlay)?;
        let (setup, idxs) = &case.setups[number];
        let memory = self.memory.as_ref().filter(|_| !self.is_thorough.get());
        let known: Option<Vec<Option<Read>>> = memory.and_then(|memory| {
            memory.at(*setup, overlay, |place| {
                let each = idxs.iter().enumerate();
                each.map(|(at, &idx)| place.shown(&case.readings[idx], at).cloned()).collect()
            })
        });
        let Some(mut known) = known else {
            return Some(self.shown_each(case, number, &boards, idxs));
        };
        let open: Vec<usize> = (0..idxs.len()).filter(|&at| known[at].is_none()).collect();
        let numbers: Vec<usize> = open.iter().map(|&at| idxs[at]).collect();
        let found = self.shown_each(case, number, &boards, &numbers);
        for (&at, found) in open.iter().zip(found) {
            if let Some(memory) = memory {
                let reading = &case.readings[idxs[at]];
                memory.at(*setup, overlay, |place| place.keep(reading, found.clone()));
            }
            known[at] = Some(found);
        }
        Some(known.into_iter().map(Option::flatten).collect())
    }

    /// The readings of a case, by their numbers, for which the full network was not yet seen to agree
    /// with what is remembered here.
    pub(in crate::diagnosis) fn unconfirmed(
        &self,
        case: &Case<'_>,
        overlay: &Overlay,
    ) -> Vec<usize> {
        let is_open = |&idx: &usize| {
            let reading = &case.readings[idx];
            // What a good board shows shifts what is compared.
            let memory = self.memory.as_ref().filter(|_| case.good[idx].is_none());
            let at = memory.and_then(|memory| {
                memory.at(reading.setup, overlay, |place| place.is_confirmed(reading))
            });
            at != Some(true)
        };
        (0..case.readings.len()).filter(is_open).collect()
    }

    /// Keeps that it agrees for all readings of a case.
    pub(in crate::diagnosis) fn confirm(&self, case: &Case<'_>, overlay: &Overlay) {
        let Some(memory) = self.memory.as_ref().filter(|_| !self.is_thorough.get()) else { return };
        for reading in case.readings.iter() {
            memory.at(reading.setup, overlay, |place| place.confirm(reading));
        }
    }
}
