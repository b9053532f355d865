//! What a diagnosis leaves for the next one, with more readings.
//!
//! A squared distance only grows when readings join it, and an evidence becomes at most so much
//! larger as a reading that is met to the digit has density. A fault that is excluded, and that would
//! have no weight even with every new reading met, is not traced again: it keeps the trace that it
//! had, as if it met them.

use std::sync::Arc;

use super::candidate::{Candidate, Verdict};
use super::case::{Case, Prediction};
use super::fit::{Fit, chi_square};
use super::screen::Boards;
use super::trace::{HOPELESS, Node, Trace};
use crate::circuit::Reading;
use crate::engine::Assembly;
use crate::fault::{Evidence, Fault, Hypothesis};
use crate::meter::Target;

/// The share of good fits that stay under the distance beyond which a fault is not looked at again.
const SURELY: f64 = 0.9999;

/// The lines of a diagnosis, for one with more readings.
#[derive(Debug, Default)]
pub struct Earlier {
    readings: Vec<Reading>,
    evidence: Evidence,
    /// Whether the readings were judged as they are, without those of a good board.
    is_plain: bool,
    /// By the number of the hypothesis.
    lines: Vec<Option<Line>>,
    /// The boards, where there will be more questions.
    boards: Option<Arc<Boards>>,
}

/// One hypothesis after tracing.
#[derive(Debug)]
struct Line {
    causes: Vec<Fault>,
    /// Whether only the readings rule it out, each by itself: no other part values bring it back.
    is_out: bool,
    trace: Trace,
}

impl Earlier {
    pub(super) fn new(
        case: &Case<'_>,
        evidence: Evidence,
        list: &[Hypothesis],
        traces: Vec<(usize, Trace)>,
        candidates: &[Candidate],
    ) -> Earlier {
        let mut is_excluded = vec![false; list.len()];
        for candidate in candidates {
            is_excluded[candidate.hypothesis] = candidate.verdict == Verdict::Excluded;
        }
        let mut lines: Vec<Option<Line>> = list.iter().map(|_| None).collect();
        for (number, trace) in traces {
            let is_out = is_excluded[number] && !trace.is_far(case);
            let causes = causes_of(&list[number]);
            lines[number] = Some(Line { causes, is_out, trace });
        }
        let is_plain = case.good.iter().all(Option::is_none);
        let boards = case.boards.clone();
        Earlier { readings: case.readings.to_vec(), evidence, is_plain, lines, boards }
    }

    /// Whether there will be another question, for which boards are remembered.
    pub(crate) fn goes_on(&self) -> bool {
        self.boards.is_some()
    }

    /// What is remembered of the boards of an assembly.
    pub(super) fn boards(&self, assembly: &Assembly<'_>) -> Option<Arc<Boards>> {
        self.boards.clone().filter(|boards| boards.are_of(assembly))
    }

    /// The places of the earlier readings among those of a case; `None` where some are not there
    /// any more, or something else was known then.
    pub(super) fn places(&self, case: &Case<'_>, evidence: &Evidence) -> Option<Vec<usize>> {
        let is_plain = self.is_plain && case.good.iter().all(Option::is_none);
        if !is_plain || self.readings.is_empty() || self.evidence != *evidence {
            return None;
        }
        let mut taken = vec![false; case.readings.len()];
        let place = |reading: &Reading| {
            let at = (0..taken.len()).find(|&at| !taken[at] && case.readings[at] == *reading)?;
            taken[at] = true;
            Some(at)
        };
        self.readings.iter().map(place).collect()
    }

    /// The line of a hypothesis as it would be if it met every new reading, where it is excluded in
    /// any case.
    pub(super) fn stand_in(
        &self,
        case: &Case<'_>,
        places: &[usize],
        (number, hypothesis): (usize, &Hypothesis),
    ) -> Option<Trace> {
        let line = self.lines.get(number)?.as_ref()?;
        let trace = &line.trace;
        // Part values and readings inside their half-widths are each within √3 standard uncertainties:
        // no place of the line that they could meet is further off than all of them together.
        let n_widths = case.assembly.sources().len() + self.readings.len();
        let strained = (3.0 * n_widths as f64).min(HOPELESS);
        let met = chi_square(SURELY, case.n_numbers().max(1));
        let is_beyond = trace.best.fit.distance > strained.max(met);
        if !line.is_out || !is_beyond || line.causes != causes_of(hypothesis) {
            return None;
        }
        with_others_met(case, places, trace)
    }
}

fn causes_of(hypothesis: &Hypothesis) -> Vec<Fault> {
    hypothesis.causes.iter().map(|cause| cause.fault).collect()
}

/// A trace along some readings of a case, those with these numbers, as if every other reading were
/// met: the best that could be.
pub(super) fn with_others_met(whole: &Case<'_>, numbers: &[usize], trace: &Trace) -> Option<Trace> {
    let prediction = others_met(whole, numbers, &trace.best.prediction);
    completed(whole, trace.clone(), prediction)
}

/// A trace along some readings with what it predicts for all of them at its best place.
pub(super) fn completed(whole: &Case<'_>, trace: Trace, prediction: Prediction) -> Option<Trace> {
    let fit = Fit::new(whole, &prediction)?;
    let mass = trace.mass - trace.best.fit.evidence + fit.evidence;
    let best = Node { place: trace.best.place, prediction, fit };
    // How the readings move with the value makes no difference so far away.
    Some(Trace { mass, best, along: Vec::new(), width: 0.0, ..trace })
}

/// What is predicted for some readings, with every other reading met. What those would show is not
/// known, and is no number.
pub(super) fn others_met(whole: &Case<'_>, numbers: &[usize], own: &Prediction) -> Prediction {
    let n_sources = whole.assembly.sources().len();
    let met = |target: &Target| if target.low.is_finite() { target.low } else { target.high };
    let n = whole.readings.len();
    let mut prediction = Prediction {
        shown: vec![f64::NAN; n],
        y: whole.targets.iter().map(met).collect(),
        spread: vec![Vec::new(); n],
        floats: vec![false; n],
    };
    for (at, &idx) in numbers.iter().enumerate() {
        prediction.shown[idx] = own.shown[at];
        prediction.y[idx] = own.y[at];
        prediction.floats[idx] = own.floats[at];
        let spread = &own.spread[at];
        let mut moved: Vec<f64> = spread.iter().take(n_sources).copied().collect();
        // The width of a board that keeps switching is each reading's own, and stands behind.
        let width = spread.get(n_sources..).unwrap_or_default();
        if width.iter().any(|width| *width != 0.0) {
            moved.resize(n_sources + n, 0.0);
            for (width, &idx) in width.iter().zip(numbers) {
                moved[n_sources + idx] = *width;
            }
        }
        prediction.spread[idx] = moved;
    }
    prediction
}
