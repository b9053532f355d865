//! Readings without power, tried first.
//!
//! With no source connected nothing switches, and a board with chips costs no more than one of
//! resistors. A squared distance only grows when readings join it: d² = rᵀΣ⁻¹r over some of the
//! readings, with their part of Σ, is the least that r over all of them can have there. A fault that
//! the cold readings put hopelessly far off is not powered up at every place of its line and in
//! every state: the nearest of such faults are predicted in full at their best value, of the others
//! it is taken that every other reading would be met.

use std::sync::Arc;

use rayon::prelude::*;

use super::case::Case;
use super::earlier::{completed, others_met};
use super::screen::{Line, Memory, Screen};
use super::trace::{HOPELESS, Trace};
use super::tried::quick_or_full;
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
        let case = whole.only(&numbers);
        let screen = Screen::new(&case);
        Some(Cold { case, numbers, screen })
    }

    /// A line to be followed on the reduced boards, where the board can be reduced.
    pub(super) fn line(&self) -> Option<Line<'_>> {
        self.screen.as_ref().map(Screen::line)
    }

    /// The trace of a hypothesis along these readings, where they alone rule it out by far; `None`
    /// for any other, which has to be traced whole.
    pub(super) fn ruled_out(
        &self,
        hypothesis: &Hypothesis,
        memory: &Option<Arc<Memory>>,
    ) -> Option<Trace> {
        let screen = self.screen.as_ref();
        let line = screen.map(|screen| screen.remembering(memory.clone()));
        let predict = |overlay: &Overlay| quick_or_full(&self.case, line.as_ref(), overlay);
        let trace = Trace::new(&self.case, hypothesis, &predict)?;
        let fit = &trace.best.fit;
        (fit.distance > HOPELESS && !fit.is_far(&self.case)).then_some(trace)
    }

    /// Such traces as traces along all readings, with the reduced boards of these.
    pub(super) fn completed(
        &self,
        whole: &Case<'_>,
        list: &[Hypothesis],
        mut traces: Vec<(usize, Trace)>,
        screen: Option<&Screen>,
    ) -> Vec<(usize, Trace)> {
        let distance = |(_, trace): &(usize, Trace)| trace.best.fit.distance;
        traces.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
        let complete = |(rank, (number, trace)): (usize, (usize, Trace))| {
            let place = trace.best.place;
            let near = rank < IN_FULL;
            let line = screen.map(Screen::line);
            let predict = || quick_or_full(whole, line.as_ref(), &list[number].overlay(place));
            let full = near.then(predict).flatten();
            let best = || others_met(whole, &self.numbers, &trace.best.prediction);
            let prediction = full.unwrap_or_else(best);
            Some((number, completed(whole, trace, prediction)?))
        };
        // In their order, whoever is done first.
        let all: Vec<Option<(usize, Trace)>> =
            traces.into_par_iter().enumerate().map(complete).collect();
        all.into_iter().flatten().collect()
    }
}
