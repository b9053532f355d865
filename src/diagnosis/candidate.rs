//! The diagnosis: every fault tried, judged and ranked.

use super::around::explained;
use super::case::{Case, Prediction};
use super::chain::chain;
use super::fit::{Fit, chi_square_99};
use super::groups::groups;
use super::other::other_evidence;
use super::screen::Screen;
use super::strain::{Along, can_strain};
use super::trace::{HOPELESS, Trace};
use crate::circuit::{Appearance, Overlay, PartId, Place, Quantity, Reading};
use crate::engine::Assembly;
use crate::fault::{BUDGET, Evidence, Fault, Hypothesis, hypotheses};

/// Nats below the best of all hypotheses at which a line is not taken again.
const HARDLY: f64 = 10.0;
/// Nats below the best of all hypotheses at which a line is not corrected.
const LIKELY: f64 = 7.0;
/// A probability below which nobody looks at a candidate.
const HARDLY_LIKELY: f64 = 1e-6;

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
    /// Its share of all hypotheses, healthy and "something else" among them.
    pub probability: f64,
    /// What the readings say of it.
    pub verdict: Verdict,
    /// The squared distance of its best fit.
    pub distance: f64,
    /// Degrees of freedom that the distance is judged by.
    pub freedom: usize,
    /// How far off the worst reading is, in standard uncertainties.
    pub worst_sigma: f64,
    /// For an excluded one: what rules it out.
    pub ruled_out_by: Option<RuledOut>,
    /// Candidates of one number are not told apart by the readings; excluded ones have none.
    pub group: Option<usize>,
    /// From the fault to its symptoms; empty for excluded ones.
    pub chain: Vec<String>,
    /// The change at its best fit.
    pub overlay: Overlay,
    /// What it predicts for every reading at its best fit, in SI units.
    pub predicted: Vec<f64>,
    /// Whether the readings fit with the board in another of its stable states, not in the one
    /// that it powers up in.
    pub other_state: bool,
}

/// One reading beside what a healthy board would show.
#[derive(Debug, Clone)]
pub struct ReadingLine {
    /// The value of a healthy board in the SI unit; `None` when it has no operating point.
    pub expected: Option<f64>,
    /// One standard uncertainty of it, tolerances and meter together, in the SI unit.
    pub expected_u: f64,
    /// How far the reading is off, in standard uncertainties.
    pub off: f64,
    /// Whether the net floats on a healthy board.
    pub floats: bool,
}

/// The answer to "which single faults reproduce these readings".
#[derive(Debug, Clone)]
pub struct Diagnosis {
    /// The readings against a healthy board, in the order of the readings.
    pub readings: Vec<ReadingLine>,
    /// Every fault tried that has an operating point, most likely first.
    pub candidates: Vec<Candidate>,
    /// Faults that have no operating point.
    pub no_point: Vec<Fault>,
    /// Faults that change nothing that DC readings could show, with their weight.
    pub invisible: Vec<(Fault, f64)>,
    /// Whether a healthy board reproduces the readings.
    pub healthy_verdict: Verdict,
    /// Whether it does so in another of its stable states, not in the one it powers up in.
    pub healthy_other_state: bool,
    /// The share of "healthy".
    pub healthy_probability: f64,
    /// The share of "something else".
    pub other_probability: f64,
    /// Number of hypotheses tried.
    pub faults_tried: usize,
    /// Whether every candidate and healthy are strained or excluded, so that shares are relative.
    pub nothing_fits: bool,
}

impl Diagnosis {
    /// The candidates that are not excluded.
    pub fn remaining(&self) -> impl Iterator<Item = &Candidate> {
        self.candidates.iter().filter(|candidate| candidate.verdict != Verdict::Excluded)
    }

    /// Whether a fault or a healthy board reproduces the readings.
    pub fn explains(&self) -> bool {
        !self.nothing_fits
    }
}

/// Tries every hypothesis on the readings.
///
/// The readings may be in any setups; one fault must explain them all together.
pub fn diagnose(
    assembly: &Assembly<'_>,
    readings: &[Reading],
    seen: &[(PartId, Appearance)],
) -> Diagnosis {
    let circuit = assembly.circuit();
    let case = Case::new(assembly, readings);
    let evidence = Evidence { seen: seen.to_vec(), apart: looked_into(assembly, readings) };
    let list = hypotheses(circuit, &evidence);
    let mut healthy = case.predict(&Overlay::none()).ok();
    let mut healthy_fit = healthy.as_ref().and_then(|prediction| Fit::new(&case, prediction));
    let healthy_other_state = other_healthy(&case, &mut healthy, &mut healthy_fit);
    let healthy_pair = healthy.as_ref().zip(healthy_fit.as_ref());

    let screen = Screen::new(&case, &list);
    let (mut tried, mut no_point, mut invisible) = (Vec::new(), Vec::new(), Vec::new());
    for (number, hypothesis) in list.iter().enumerate() {
        if is_invisible(assembly, hypothesis) {
            invisible.push((hypothesis.causes[0].fault, hypothesis.weight()));
            continue;
        }
        match checked_trace(&case, hypothesis, screen.as_ref()) {
            Some(trace) => tried.push((number, trace)),
            None => no_point.extend(hypothesis.causes.first().map(|cause| cause.fault)),
        }
    }

    debug_assert!(tried.iter().all(|(_, trace)| !trace.mass.is_nan()), "a mass is no number");
    let n_numbers = case.targets.iter().filter(|target| target.is_number()).count();
    let around = healthy_pair.and_then(|(prediction, fit)| {
        let far = fit.is_far(&case);
        let found = far.then(|| explained(&case, &Overlay::none(), prediction)).flatten();
        let tangent = found.map(|(_, tangent)| tangent)?;
        Fit::new(&case, &tangent).map(|fit| (tangent, fit))
    });
    let judged = around.as_ref().map(|(prediction, fit)| (prediction, fit)).or(healthy_pair);
    let healthy_mass =
        judged.map_or(f64::NEG_INFINITY, |(_, fit)| BUDGET.healthy.ln() + fit.evidence);
    let best = tried.iter().map(|(_, trace)| trace.mass).fold(healthy_mass, f64::max);
    let predict = |overlay: &Overlay| {
        let quick = screen.as_ref().and_then(|screen| screen.predict(&case, overlay));
        quick.or_else(|| case.predict(overlay).ok())
    };
    let tried: Vec<(usize, Trace)> = tried
        .into_iter()
        .map(|(number, trace)| {
            let fit = &trace.best.fit;
            // At most it gains what is too much of its distance.
            let most = trace.mass + 0.5 * fit.distance;
            if trace.mass > best - LIKELY && fit.distance <= chi_square_99(n_numbers) {
                return (number, trace.corrected(&case, &list[number], &predict));
            }
            if most < best - HARDLY || !fit.is_far(&case) {
                return (number, trace);
            }
            (number, trace.around(&case, &list[number], |mass| mass < best - HARDLY))
        })
        .collect();
    let other_mass = BUDGET.other.ln() + other_evidence(&case, healthy_pair);
    let masses = tried.iter().map(|(_, trace)| trace.mass).chain([healthy_mass, other_mass]);
    let top = masses.clone().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = masses.map(|mass| (mass - top).exp()).sum();
    let share = |mass: f64| (mass - top).exp() / total;

    let healthy_verdict = match judged {
        Some((prediction, fit)) => judge(&case, (prediction, fit), &NO_VALUE, n_numbers, 0).0,
        None => Verdict::Excluded,
    };
    let mut candidates: Vec<(Candidate, &Trace)> = tried
        .iter()
        .map(|(number, trace)| {
            let share = share(trace.mass);
            (candidate(&case, (*number, &list[*number]), trace, share, n_numbers), trace)
        })
        .collect();
    candidates.sort_by(|(a, _), (b, _)| {
        b.probability
            .total_cmp(&a.probability)
            .then_with(|| a.distance.total_cmp(&b.distance))
            .then_with(|| a.fault.phrase(circuit).cmp(&b.fault.phrase(circuit)))
    });
    let kept: Vec<usize> = (0..candidates.len())
        .filter(|&idx| candidates[idx].0.verdict != Verdict::Excluded)
        .collect();
    let nodes: Vec<_> = kept.iter().map(|&idx| &candidates[idx].1.best).collect();
    for (&idx, group) in kept.iter().zip(groups(&case, &nodes)) {
        candidates[idx].0.group = Some(group);
    }
    let mut candidates: Vec<Candidate> =
        candidates.into_iter().map(|(candidate, _)| candidate).collect();
    if let Some((setup, _)) = case.setups.first() {
        let healthy = assembly.power_up(*setup, &Overlay::none(), None);
        for candidate in candidates.iter_mut().filter(|candidate| candidate.group.is_some()) {
            candidate.chain =
                chain(assembly, *setup, &candidate.fault, &candidate.overlay, &healthy);
        }
    }
    let nothing_fits = healthy_verdict != Verdict::Reproduces
        && candidates.iter().all(|candidate| candidate.verdict != Verdict::Reproduces);
    Diagnosis {
        readings: reading_lines(&case, healthy_pair),
        candidates,
        no_point,
        invisible,
        healthy_verdict,
        healthy_other_state,
        healthy_probability: share(healthy_mass),
        other_probability: share(other_mass),
        faults_tried: list.len(),
        nothing_fits,
    }
}

/// Takes another state of a healthy board where that is what the readings fit.
fn other_healthy(case: &Case<'_>, healthy: &mut Option<Prediction>, fit: &mut Option<Fit>) -> bool {
    if !case.has_several_states() {
        return false;
    }
    let mut taken = false;
    for (_, prediction) in case.predict_others(&Overlay::none()) {
        let other = Fit::new(case, &prediction);
        let better = |other: &Fit| fit.as_ref().is_none_or(|fit| other.distance < fit.distance);
        if let Some(other) = other.filter(better) {
            (*healthy, *fit) = (Some(prediction), Some(other));
            taken = true;
        }
    }
    taken
}

/// Traces a hypothesis by the reduced board where that can do it, and solves its best place again
/// in full; where the two differ, the whole line is traced in full.
fn checked_trace(
    case: &Case<'_>,
    hypothesis: &Hypothesis,
    screen: Option<&Screen>,
) -> Option<Trace> {
    let trace = plain_trace(case, hypothesis, screen)?;
    // A fault that fits as it powers up needs no other state to explain the readings.
    let m = case.targets.iter().filter(|target| target.is_number()).count();
    if trace.best.fit.distance <= chi_square_99(m) || !case.has_several_states() {
        return Some(trace);
    }
    Some(trace.with_other_states(case, hypothesis))
}

fn plain_trace(case: &Case<'_>, hypothesis: &Hypothesis, screen: Option<&Screen>) -> Option<Trace> {
    let full = |overlay: &Overlay| case.predict(overlay).ok();
    if let Some(screen) = screen {
        let quick = |overlay: &Overlay| screen.predict(case, overlay).or_else(|| full(overlay));
        let trace = Trace::new(case, hypothesis, &quick)?;
        let best = &trace.best;
        if best.fit.distance > HOPELESS {
            return Some(trace);
        }
        let overlay = hypothesis.overlay(best.place);
        let states = screen.states(case, &overlay).filter(|_| !case.may_latch());
        let exact = match states {
            Some(states) => case.predict_in(&overlay, &states).ok(),
            None => full(&overlay),
        };
        let same = exact.is_some_and(|exact| {
            let y = exact.y.iter().zip(&best.prediction.y).zip(&best.fit.standard);
            y.into_iter().all(|((exact, quick), standard)| (exact - quick).abs() < 0.01 * standard)
        });
        if same {
            return Some(trace);
        }
    }
    Trace::new(case, hypothesis, &full)
}

/// Parts whose own current is read, or whose legs are read apart from their nets.
fn looked_into(assembly: &Assembly<'_>, readings: &[Reading]) -> Vec<PartId> {
    let circuit = assembly.circuit();
    let mut apart: Vec<PartId> = readings
        .iter()
        .filter(|reading| matches!(reading.quantity, Quantity::Amps | Quantity::Seen))
        .filter_map(|reading| match reading.place {
            Place::Part(part) => Some(part),
            _ => None,
        })
        .collect();
    for reading in readings {
        let setup = &circuit[reading.setup];
        // What a setup takes out, and switches that it moves, no longer lies beside the rest.
        apart.extend(setup.lifted.iter().chain(&setup.disconnected));
    }
    apart.sort();
    apart.dedup();
    apart
}

/// Whether a change without a value leaves every branch as it was: an open capacitor.
fn is_invisible(assembly: &Assembly<'_>, hypothesis: &Hypothesis) -> bool {
    match hypothesis.causes.first().map(|cause| cause.fault) {
        Some(Fault::Open(part)) => (0..assembly.circuit().setups.len()).all(|setup| {
            let values = assembly.values(part, setup);
            crate::device::of(values.part).branches(&values).is_empty()
        }),
        _ => false,
    }
}

/// A healthy board has no value to move.
const NO_VALUE: Along<'_> = Along {
    overlay: &|_| Overlay::none(),
    place: 0.0,
    ends: (0.0, 0.0),
    again: true,
    width: 0.0,
    answers: &[],
};

/// The verdict on a prediction with `fitted` values found from the readings, and the degrees of
/// freedom it was judged by.
fn judge(
    case: &Case<'_>,
    (prediction, fit): (&Prediction, &Fit),
    along: &Along<'_>,
    n_numbers: usize,
    fitted: usize,
) -> (Verdict, usize) {
    let freedom = n_numbers.saturating_sub(fitted).max(1);
    let verdict = if fit.distance <= chi_square_99(freedom) {
        Verdict::Reproduces
    } else if can_strain(case, along, prediction) {
        Verdict::Strained
    } else {
        Verdict::Excluded
    };
    (verdict, freedom)
}

fn candidate(
    case: &Case<'_>,
    (number, hypothesis): (usize, &Hypothesis),
    trace: &Trace,
    probability: f64,
    n_numbers: usize,
) -> Candidate {
    let best = &trace.best;
    let fitted = usize::from(trace.value_matters);
    let along = Along {
        overlay: &|place| hypothesis.overlay(place),
        place: best.place,
        ends: hypothesis.curve.map_or((best.place, best.place), |curve| (curve.low, curve.high)),
        again: probability > HARDLY_LIKELY,
        width: trace.width,
        answers: &trace.along,
    };
    let found = (&best.prediction, &best.fit);
    let (verdict, freedom) = judge(case, found, &along, n_numbers, fitted);
    let worst = best.fit.worst();
    let first = trace.causes.first();
    let fault = first.map_or(hypothesis.causes[0].fault, |cause| cause.fault);
    Candidate {
        hypothesis: number,
        fault,
        causes: trace.causes.iter().map(|cause| cause.fault).collect(),
        cause_shares: trace.causes.iter().map(|cause| cause.share).collect(),
        value: fault.value(),
        value_low: first.and_then(|cause| cause.low),
        value_high: first.and_then(|cause| cause.high),
        probability,
        verdict,
        distance: best.fit.distance,
        freedom,
        worst_sigma: worst.map_or(0.0, |(_, sigma)| sigma.abs()),
        ruled_out_by: worst
            .filter(|_| verdict == Verdict::Excluded)
            .map(|(reading, _)| RuledOut { reading, predicted: best.prediction.shown[reading] }),
        group: None,
        chain: Vec::new(),
        overlay: hypothesis.overlay(best.place),
        predicted: best.prediction.shown.clone(),
        other_state: trace.other_state,
    }
}

fn reading_lines(case: &Case<'_>, healthy: Option<(&Prediction, &Fit)>) -> Vec<ReadingLine> {
    (0..case.readings.len())
        .map(|idx| match healthy {
            Some((prediction, fit)) => ReadingLine {
                expected: Some(prediction.shown[idx]),
                expected_u: fit.standard[idx]
                    / case.targets[idx].scale.slope(prediction.shown[idx]),
                off: fit.off[idx],
                floats: prediction.floats[idx],
            },
            None => {
                ReadingLine { expected: None, expected_u: f64::NAN, off: f64::NAN, floats: false }
            }
        })
        .collect()
}
