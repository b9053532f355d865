//! Readings without power, tried first.
//!
//! With no source connected nothing switches, and a board with chips costs no more than one of
//! resistors. A squared distance only grows when readings join it: d² = rᵀΣ⁻¹r over some of the
//! readings, with their part of Σ, is the least that r over all of them can have there. A fault that
//! the cold readings put hopelessly far off is not powered up at every place of its line and in
//! every state: the nearest of such faults are predicted in full at their best value, of the others
//! it is taken that every other reading would be met.

use std::borrow::Cow;

use super::case::{Case, Prediction};
use super::earlier::{completed, others_met};
use super::screen::Screen;
use super::trace::{HOPELESS, Trace};
use crate::circuit::Overlay;
use crate::fault::Hypothesis;

/// So many of the faults that the cold readings rule out are predicted in full, the nearest ones.
const IN_FULL: usize = 24;

/// The cold readings of a case that has others too.
#[derive(Debug)]
pub(super) struct Cold<'a> {
    pub(super) case: Case<'a>,
    /// Their numbers in the whole case.
    numbers: Vec<usize>,
    screen: Option<Screen>,
}

impl<'a> Cold<'a> {
    /// The readings of a case that are taken with no source connected, as a case of their own;
    /// `None` where trying them first spares nothing: on a board without states, and where there
    /// are no others.
    pub(super) fn of(whole: &Case<'a>) -> Option<Cold<'a>> {
        let (assembly, readings) = (whole.assembly, &whole.readings);
        if !whole.has_several_states() || whole.good.iter().any(Option::is_some) {
            return None;
        }
        let is_cold = |idx: &usize| {
            let id = readings[*idx].setup;
            let setup = &assembly.circuit()[id];
            !setup.sources_on && setup.connections.is_empty() && !assembly.may_latch(id)
        };
        let numbers: Vec<usize> = (0..readings.len()).filter(is_cold).collect();
        if numbers.is_empty() || numbers.len() == readings.len() {
            return None;
        }
        let own = numbers.iter().map(|&idx| readings[idx].clone()).collect();
        let case = Case::of(assembly, Cow::Owned(own));
        let screen = Screen::new(&case);
        Some(Cold { case, numbers, screen })
    }

    /// What a change predicts for the cold readings.
    pub(super) fn predict(&self, overlay: &Overlay) -> Option<Prediction> {
        let quick = self.screen.as_ref().and_then(|screen| screen.predict(&self.case, overlay));
        quick.or_else(|| self.case.predict(overlay).ok())
    }

    /// The trace of a hypothesis along these readings, where they alone rule it out by far; `None`
    /// for any other, which has to be traced whole.
    pub(super) fn ruled_out(&self, hypothesis: &Hypothesis) -> Option<Trace> {
        let trace = Trace::new(&self.case, hypothesis, &|overlay: &Overlay| self.predict(overlay))?;
        let fit = &trace.best.fit;
        (fit.distance > HOPELESS && !fit.is_far(&self.case)).then_some(trace)
    }

    /// Such traces as traces along all readings; `predict` says what a change predicts for them.
    pub(super) fn completed(
        &self,
        whole: &Case<'_>,
        list: &[Hypothesis],
        mut traces: Vec<(usize, Trace)>,
        predict: &dyn Fn(&Overlay) -> Option<Prediction>,
    ) -> Vec<(usize, Trace)> {
        let distance = |(_, trace): &(usize, Trace)| trace.best.fit.distance;
        traces.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
        let complete = |(rank, (number, trace)): (usize, (usize, Trace))| {
            let place = trace.best.place;
            let near = rank < IN_FULL;
            let full = near.then(|| predict(&list[number].overlay(place))).flatten();
            let best = || others_met(whole, &self.numbers, &trace.best.prediction);
            let prediction = full.unwrap_or_else(best);
            Some((number, completed(whole, trace, prediction)?))
        };
        traces.into_iter().enumerate().filter_map(complete).collect()
    }
}
