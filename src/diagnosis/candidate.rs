//! A candidate: one fault with the figures that say how well it explains the readings.

use super::case::{Case, Prediction};
use super::fit::{Fit, chi_square_99};
use super::split::Flipped;
use super::strain::{Along, can_strain};
use super::trace::Trace;
use super::value::Stretch;
use crate::circuit::Overlay;
use crate::fault::{Fault, Hypothesis};

/// A probability below which nobody looks at a candidate.
const HARDLY_LIKELY: f64 = 1e-6;
/// The same between two questions of a session: such a one is no suspect of the planner.
const NO_SUSPECT: f64 = 1e-3;

/// What the readings say of a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// The readings are what chance and tolerances make of it.
    Reproduces,
    /// Only part values and readings at the edges of their tolerances meet it.
    Strained,
    /// A reading rules it out.
    Excluded,
}

impl Verdict {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Reproduces => "reproduces",
            Verdict::Strained => "strained",
            Verdict::Excluded => "excluded",
        }
    }
}

/// The reading that rules a candidate out, and what the candidate predicts there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RuledOut {
    /// The number of the reading.
    pub reading: usize,
    /// The value that the meter would have shown, in the SI unit of the reading.
    pub predicted: f64,
}

/// A fault with the figures that say how well it explains the readings.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Its place in the list of hypotheses that were tried.
    pub hypothesis: usize,
    /// The likeliest cause, with its value.
    pub fault: Fault,
    /// All causes that the change may have, likeliest first, with their values.
    pub causes: Vec<Fault>,
    /// The share of each cause in the candidate's probability, in the same order.
    pub cause_shares: Vec<f64>,
    /// The likeliest value: the median, in the unit of the fault.
    pub value: Option<f64>,
    /// The lower end of its central 95 %; `None` where it is open.
    pub value_low: Option<f64>,
    /// The upper end of its central 95 %; `None` where it is open.
    pub value_high: Option<f64>,
    /// The separate stretches of values that fit, the likeliest first; a single one is the value
    /// with its interval.
    pub values: Vec<Stretch>,
    /// Its share of all hypotheses, healthy and "something else" among them.
    pub probability: f64,
    /// What the readings say of it.
    pub verdict: Verdict,
    /// The squared distance of its best fit.
    pub distance: f64,
    /// Degrees of freedom that the distance is judged by.
    pub freedom: usize,
    /// Whether its value was found from the only number there is: it fits, whatever the number.
    pub fitted_exactly: bool,
    /// How far off the worst reading is, in standard uncertainties.
    pub worst_sigma: f64,
    /// For an excluded one: what rules it out.
    pub ruled_out_by: Option<RuledOut>,
    /// Candidates of one number are not told apart by the readings; excluded ones have none.
    pub group: Option<usize>,
    /// Candidates of one number are not told apart by any measurement, as far as the planner has
    /// looked: see `plan::mark_inseparable`.
    pub inseparable: Option<usize>,
    /// From the fault to its symptoms; empty for excluded ones.
    pub chain: Vec<String>,
    /// The change at its best fit.
    pub overlay: Overlay,
    /// What it predicts for every reading at its best fit, in SI units.
    pub predicted: Vec<f64>,
    /// Whether the readings fit with the board in another of its stable states, not in the one
    /// that it powers up in.
    pub other_state: bool,
    /// The condition that a board has to have the other way than the nominal one for the readings to
    /// fit best, its threshold being within tolerance.
    pub flipped: Option<Flipped>,
}

/// The verdict on a prediction with `fitted` values found from the readings, and the degrees of
/// freedom it was judged by.
pub(super) fn judge(
    case: &Case<'_>,
    (prediction, fit): (&Prediction, &Fit),
    along: &Along<'_>,
    n_numbers: usize,
    fitted: usize,
) -> (Verdict, usize) {
    let freedom = n_numbers.saturating_sub(fitted).max(1);
    let verdict = if fit.distance <= chi_square_99(freedom) {
        Verdict::Reproduces
    } else if can_strain(case, along, (prediction, fit.distance)) {
        Verdict::Strained
    } else {
        Verdict::Excluded
    };
    (verdict, freedom)
}

pub(super) fn candidate(
    case: &Case<'_>,
    (number, hypothesis): (usize, &Hypothesis),
    trace: &Trace,
    probability: f64,
    n_numbers: usize,
) -> Candidate {
    let best = &trace.best;
    let fitted = usize::from(trace.value_matters);
    // Boards without states cost little to take again; of the others only likely ones are.
    let least = if case.is_in_session() { NO_SUSPECT } else { HARDLY_LIKELY };
    let again = probability > least || !case.assembly.has_states();
    let along = Along::of(hypothesis, trace, again);
    let found = (&best.prediction, &best.fit);
    let (verdict, freedom) = judge(case, found, &along, n_numbers, fitted);
    let worst = best.fit.worst();
    let first = trace.causes.first();
    let fault = first.map_or(hypothesis.causes[0].fault, |cause| cause.fault);
    // What is ruled out is told at the place that came nearest, and with what it predicts there.
    let fault = match (verdict, &hypothesis.curve) {
        (Verdict::Excluded, Some(_)) => fault.with_value(Some(best.place.exp())),
        _ => fault,
    };
    Candidate {
        hypothesis: number,
        fault,
        causes: trace.causes.iter().map(|cause| cause.fault).collect(),
        cause_shares: trace.causes.iter().map(|cause| cause.share).collect(),
        value: fault.value(),
        value_low: first.and_then(|cause| cause.low),
        value_high: first.and_then(|cause| cause.high),
        values: first.map_or_else(Vec::new, |cause| cause.stretches.clone()),
        probability,
        verdict,
        distance: best.fit.distance,
        freedom,
        fitted_exactly: fitted == n_numbers && fitted > 0 && n_numbers == case.targets.len(),
        worst_sigma: worst.map_or(0.0, |(_, sigma)| sigma.abs()),
        ruled_out_by: worst
            .filter(|_| verdict == Verdict::Excluded)
            .map(|(reading, _)| RuledOut { reading, predicted: best.prediction.shown[reading] }),
        group: None,
        inseparable: None,
        chain: Vec::new(),
        overlay: hypothesis.overlay(best.place),
        predicted: best.prediction.shown.clone(),
        other_state: trace.other_state,
        flipped: trace.flipped,
    }
}
