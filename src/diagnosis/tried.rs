//! Every hypothesis tried on some readings: traces and masses, before anything is told of them.

use std::sync::Arc;

use rayon::prelude::*;

use super::around::{Anew, explained};
use super::case::{Case, Prediction};
use super::cold::Cold;
use super::earlier::{Earlier, completed};
use super::fit::{Fit, chi_square_99};
use super::misread::Misreadings;
use super::other::other_evidence;
use super::screen::{Line, Memory, Screen};
use super::split::{Flipped, healthy_sides};
use super::strain::{Along, can_strain};
use super::trace::{HOPELESS, Trace};
use crate::circuit::{Overlay, PartId, Place, Quantity, Reading, SetupId};
use crate::engine::Assembly;
use crate::fault::{Budget, Evidence, Fault, Hypothesis, hypotheses, misreads};

/// Nats below the best of all hypotheses at which a line is not corrected.
const LIKELY: f64 = 7.0;
/// Nats below the best of all hypotheses at which a line that is excluded counts for nothing.
const NOTHING: f64 = 25.0;
/// Nats below the best of all hypotheses at which a line is not taken again.
const HARDLY: f64 = 10.0;
/// With more lines than this that are likely, a question of a session takes a second look only at
/// those with a share that counts. Nothing can be claimed then: they share too much of the whole.
const MANY: usize = 30;
/// That share.
const COUNTS: f64 = 0.02;

/// What came of trying every hypothesis.
#[derive(Debug)]
pub(super) struct Tried<'a> {
    pub(super) case: &'a Case<'a>,
    /// Every hypothesis, misreadings among them.
    pub(super) list: Vec<Hypothesis>,
    /// The reduced boards, where the board can be reduced.
    pub(super) screen: Option<Screen>,
    /// The readings without power as a case of their own, where that spares something.
    pub(super) cold: Option<Cold<'a>>,
    /// What a healthy board predicts, in the state that fits best.
    pub(super) healthy: Option<(Prediction, Fit)>,
    /// Whether that is another state than the one it powers up in.
    pub(super) healthy_other_state: bool,
    /// The healthy board around the part values that explain the readings best, where they are far.
    pub(super) judged: Option<(Prediction, Fit)>,
    /// The condition that a healthy board has to have the other way for the readings to fit best.
    pub(super) healthy_flipped: Option<Flipped>,
    /// Hypotheses by their number, with their traces.
    pub(super) traces: Vec<(usize, Trace)>,
    pub(super) no_point: Vec<Fault>,
    pub(super) invisible: Vec<(Fault, f64)>,
    /// Natural logarithms of weight times evidence.
    pub(super) healthy_mass: f64,
    pub(super) other_mass: f64,
}

impl<'a> Tried<'a> {
    /// Tries every hypothesis on the readings of a case.
    ///
    /// What an earlier diagnosis found on some of them rules faults out beforehand. A brief trial
    /// takes a second look only at what has a share that counts, while there is much of it.
    pub(super) fn new(
        case: &'a Case<'a>,
        evidence: &Evidence,
        with_misreads: bool,
        (earlier, is_brief): (Option<&Earlier>, bool),
    ) -> Tried<'a> {
        let assembly = case.assembly;
        let circuit = assembly.circuit();
        let mut list = hypotheses(circuit, evidence);
        if with_misreads {
            list.extend(misreads(circuit, &case.readings));
        }
        let as_drawn = case.predict(&Overlay::none()).ok();
        let misreadings = Misreadings::new(case, as_drawn.as_ref());
        let mut healthy = as_drawn.clone();
        let mut healthy_fit = healthy.as_ref().and_then(|prediction| Fit::new(case, prediction));
        let screen = Screen::new(case);
        let line = || screen.as_ref().map(Screen::line);
        // Misreadings are predicted from the healthy board alone.
        let memory_of = |hypothesis: &Hypothesis| {
            let boards = case.boards.as_ref().filter(|_| !hypothesis.is_misread())?;
            Some(boards.of_hypothesis(hypothesis))
        };
        let memories: Vec<Option<Arc<Memory>>> = list.iter().map(memory_of).collect();
        let line_of = |number: usize| Some(screen.as_ref()?.remembering(memories[number].clone()));
        let healthy_other_state =
            other_healthy(case, line().as_ref(), &mut healthy, &mut healthy_fit);
        let healthy_flipped = healthy
            .as_mut()
            .zip(healthy_fit.as_mut())
            .and_then(|(prediction, fit)| healthy_sides(case, line().as_ref(), prediction, fit));
        let cold = Cold::of(case);
        let budget = Budget::of(&circuit.board);
        let healthy = healthy.zip(healthy_fit);
        let judged = healthy.as_ref().map(|(prediction, fit)| {
            let far = fit.is_far(case);
            let anew = Anew::shared_by(case, 1);
            let found =
                far.then(|| explained(case, (&Overlay::none(), None), prediction, &anew)).flatten();
            let around =
                found.and_then(|(_, tangent)| Fit::new(case, &tangent).map(|fit| (tangent, fit)));
            around.unwrap_or_else(|| (prediction.clone(), fit.clone()))
        });
        let healthy_mass = judged
            .as_ref()
            .map_or(f64::NEG_INFINITY, |(_, fit)| budget.healthy.ln() + fit.evidence);
        let earlier = earlier.and_then(|earlier| Some((earlier, earlier.places(case, evidence)?)));
        let n_numbers = case.n_numbers();
        // A line of its own for each: no answer depends on what else is looked at, or by whom.
        let plainly = |number: usize| -> (Option<Trace>, bool) {
            let (hypothesis, line) = (&list[number], line_of(number));
            let Some(trace) = checked_trace(case, hypothesis, line.as_ref(), is_brief) else {
                return (None, false);
            };
            // What fits as it is gains or loses little by the other side of a threshold.
            if is_brief && trace.fits(n_numbers) {
                return (Some(trace), true);
            }
            (Some(trace.with_splits(case, hypothesis, line.as_ref())), false)
        };
        let look = |(number, hypothesis): (usize, &Hypothesis)| -> Look {
            if is_invisible(assembly, hypothesis) {
                return Look::Invisible;
            }
            if hypothesis.is_misread() {
                return Look::Misread(Trace::along(case, hypothesis, &|place| {
                    let (misread, value) = hypothesis.misread(place)?;
                    misreadings.predict(misread, value)
                }));
            }
            if let Some((earlier, places)) = &earlier
                && let Some(trace) = earlier.stand_in(case, places, (number, hypothesis))
            {
                return Look::StandsIn(trace);
            }
            if let Some(trace) =
                cold.as_ref().and_then(|cold| cold.ruled_out(hypothesis, &memories[number]))
            {
                return Look::RuledOut(trace);
            }
            let (trace, is_unsplit) = plainly(number);
            Look::Traced(trace, is_unsplit)
        };
        // Some hypotheses cost a thousand times as much as others.
        let looks: Vec<Look> = list.par_iter().enumerate().with_max_len(1).map(look).collect();
        let mut is_unsplit = vec![false; list.len()];
        let (mut stand_ins, mut ruled_out) = (Vec::new(), Vec::new());
        let (mut traces, mut no_point, mut invisible) = (Vec::new(), Vec::new(), Vec::new());
        for (number, look) in looks.into_iter().enumerate() {
            let hypothesis = &list[number];
            match look {
                Look::Invisible => {
                    invisible.push((hypothesis.causes[0].fault, hypothesis.weight()))
                }
                Look::StandsIn(trace) => stand_ins.push((number, trace)),
                Look::RuledOut(trace) => ruled_out.push((number, trace)),
                Look::Traced(Some(trace), plain) => {
                    is_unsplit[number] = plain;
                    traces.push((number, trace));
                }
                Look::Misread(Some(trace)) => traces.push((number, trace)),
                Look::Misread(None) => {}
                Look::Traced(None, _) => {
                    no_point.extend(hypothesis.causes.first().map(|cause| cause.fault));
                }
            }
        }
        if let Some(cold) = &cold {
            traces.extend(cold.completed(case, &list, ruled_out, screen.as_ref()));
        }
        let best = traces.iter().map(|(_, trace)| trace.mass).fold(healthy_mass, f64::max);
        let again: Vec<(usize, Option<Trace>, bool)> = stand_ins
            .into_par_iter()
            .with_max_len(1)
            .map(|(number, stand_in)| {
                if stand_in.mass < best - NOTHING {
                    return (number, Some(stand_in), false);
                }
                let (trace, is_unsplit) = plainly(number);
                (number, trace, is_unsplit)
            })
            .collect();
        for (number, trace, plain) in again {
            is_unsplit[number] = plain;
            match trace {
                Some(trace) => traces.push((number, trace)),
                None => no_point.extend(list[number].causes.first().map(|cause| cause.fault)),
            }
        }
        traces.sort_by_key(|(number, _)| *number);
        debug_assert!(traces.iter().all(|(_, trace)| !trace.mass.is_nan()), "a mass is no number");
        let best = traces.iter().map(|(_, trace)| trace.mass).fold(healthy_mass, f64::max);
        let masses = traces.iter().map(|(_, trace)| trace.mass);
        let n_likely = masses.clone().filter(|mass| *mass > best - LIKELY).count();
        let least = match is_brief && n_likely > MANY {
            true => ln_sum(masses.chain([healthy_mass])) + COUNTS.ln(),
            false => f64::NEG_INFINITY,
        };
        let split = |(number, trace): (usize, Trace)| {
            if !is_unsplit[number] || trace.mass < least {
                return (number, trace);
            }
            (number, trace.with_splits(case, &list[number], line_of(number).as_ref()))
        };
        let traces: Vec<(usize, Trace)> =
            traces.into_par_iter().with_max_len(1).map(split).collect();
        let way = |(number, trace): &(usize, Trace)| -> Way {
            let hypothesis = &list[*number];
            let fit = &trace.best.fit;
            // At most it gains what is too much of its distance.
            let most = trace.mass + 0.5 * fit.distance;
            let is_plain = !trace.other_state
                && trace.flipped.is_none()
                && !hypothesis.is_misread()
                && case.good.iter().all(Option::is_none);
            if is_plain
                && trace.mass > least.max(best - LIKELY)
                && fit.distance <= chi_square_99(n_numbers)
            {
                return Way::Corrected;
            }
            if most < least.max(best - HARDLY) || !fit.is_far(case) || hypothesis.is_misread() {
                return Way::AsItIs;
            }
            Way::Around
        };
        let ways: Vec<Way> = traces.iter().map(way).collect();
        let n_around = ways.iter().filter(|way| **way == Way::Around).count();
        let traces = traces
            .into_par_iter()
            .zip(ways)
            .with_max_len(1)
            .map(|((number, trace), way)| {
                let (hypothesis, line) = (&list[number], line_of(number));
                let predict = |overlay: &Overlay| quick_or_full(case, line.as_ref(), overlay);
                let standing = |overlay: &Overlay| line.as_ref()?.standing(case, overlay);
                let trace = match way {
                    Way::AsItIs => trace,
                    Way::Corrected => trace.corrected(case, hypothesis, &predict, &standing),
                    Way::Around => {
                        let anew = Anew::shared_by(case, n_around);
                        let hopeless = |mass| mass < best - HARDLY;
                        trace.around_with(case, hypothesis, (&standing, &anew), hopeless)
                    }
                };
                (number, trace)
            })
            .collect();
        let pair = healthy.as_ref().map(|(prediction, fit)| (prediction, fit));
        let other_mass = budget.other.ln() + other_evidence(case, pair);
        Tried {
            case,
            list,
            screen,
            cold,
            healthy,
            judged,
            healthy_other_state,
            healthy_flipped,
            traces,
            no_point,
            invisible,
            healthy_mass,
            other_mass,
        }
    }

    /// Natural logarithm of the mass of everything together.
    pub(super) fn total(&self) -> f64 {
        let masses = self.traces.iter().map(|(_, trace)| trace.mass);
        ln_sum(masses.chain([self.healthy_mass, self.other_mass]))
    }
}

/// What came of a first look at a hypothesis.
enum Look {
    /// It changes no branch.
    Invisible,
    /// What an earlier diagnosis found stands in for it, for now.
    StandsIn(Trace),
    /// The readings without power rule it out.
    RuledOut(Trace),
    /// Its trace, where it has a point, and whether thresholds were not looked into yet.
    Traced(Option<Trace>, bool),
    /// The same for a misreading.
    Misread(Option<Trace>),
}

/// What a line that was traced needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    AsItIs,
    /// What its tangent misses at the part values that explain the readings.
    Corrected,
    /// To be taken again around those part values.
    Around,
}

/// Natural logarithm of a sum of exponentials.
pub(super) fn ln_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let top = values.clone().fold(f64::NEG_INFINITY, f64::max);
    if top == f64::NEG_INFINITY {
        return top;
    }
    top + values.map(|value| (value - top).exp()).sum::<f64>().ln()
}

/// Takes another state of a healthy board where that is what the readings fit.
fn other_healthy(
    case: &Case<'_>,
    line: Option<&Line<'_>>,
    healthy: &mut Option<Prediction>,
    fit: &mut Option<Fit>,
) -> bool {
    if !case.has_several_states() {
        return false;
    }
    // What the reduced boards find no better is not looked for in full.
    let quick = line.and_then(|line| line.predict_others(case, &Overlay::none()));
    if let (Some(others), Some(fit)) = (quick, fit.as_ref()) {
        let may_be_better = |(_, other): (f64, Prediction)| {
            Fit::new(case, &other).is_none_or(|other| 0.98 * other.distance < fit.distance)
        };
        if !others.into_iter().any(may_be_better) {
            return false;
        }
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
    line: Option<&Line<'_>>,
    is_brief: bool,
) -> Option<Trace> {
    let trace = plain_trace(case, hypothesis, line, is_brief)?;
    // A fault that fits as it powers up needs no other state to explain the readings.
    let m = case.n_numbers();
    if trace.best.fit.distance <= chi_square_99(m) || !case.has_several_states() {
        return Some(trace);
    }
    let full = |overlay: &Overlay| case.predict_others(overlay);
    let Some(line) = line else {
        return Some(trace.with_other_states(case, hypothesis, &full));
    };
    // What the reduced boards cannot follow, such as an input that hangs in the air between its
    // clamps, is looked into further only where it is not far off as it powers up; unless parts hold
    // each other on the healthy board already.
    let is_hopeless = trace.best.fit.distance > HOPELESS && !case.may_latch();
    let quick = |overlay: &Overlay| match line.predict_others(case, overlay) {
        Some(others) => others,
        None if is_hopeless => Vec::new(),
        None => full(overlay),
    };
    let with_others = trace.with_other_states(case, hypothesis, &quick);
    if !with_others.other_state || is_excluded(case, hypothesis, &with_others, m) {
        return Some(with_others);
    }
    if is_brief {
        return Some(with_others);
    }
    // A state that makes a difference is looked for again in full, from the power-up on.
    let trace = Trace::new(case, hypothesis, &|overlay: &Overlay| case.predict(overlay).ok())?;
    if trace.best.fit.distance <= chi_square_99(m) {
        return Some(trace);
    }
    Some(trace.with_other_states(case, hypothesis, &full))
}

/// Whether a place is so far off that solving it in full could not bring it back.
fn is_excluded(case: &Case<'_>, hypothesis: &Hypothesis, trace: &Trace, n_numbers: usize) -> bool {
    let best = &trace.best;
    if 0.98 * best.fit.distance <= chi_square_99(n_numbers) || best.fit.is_far(case) {
        return false;
    }
    let found = (&best.prediction, best.fit.distance);
    !can_strain(case, &Along::of(hypothesis, trace, false), found)
}

/// What a change predicts, by the reduced boards where they can say.
pub(super) fn quick_or_full(
    case: &Case<'_>,
    line: Option<&Line<'_>>,
    overlay: &Overlay,
) -> Option<Prediction> {
    let quick = line.and_then(|line| line.predict(case, overlay));
    quick.or_else(|| case.predict(overlay).ok())
}

fn plain_trace(
    case: &Case<'_>,
    hypothesis: &Hypothesis,
    line: Option<&Line<'_>>,
    is_brief: bool,
) -> Option<Trace> {
    if let Some(line) = line {
        let trace = screened_trace(case, hypothesis, line)?;
        if is_confirmed(case, hypothesis, line, &trace) {
            return Some(trace);
        }
        // A pattern that was passed over may be the one that the board stays in.
        let again = line.thoroughly(|| screened_trace(case, hypothesis, line))?;
        if again.best.prediction.y != trace.best.prediction.y
            && is_confirmed(case, hypothesis, line, &again)
        {
            return Some(again);
        }
        // A whole line in full takes minutes where boards hardly settle: a question of a session goes
        // by its best place.
        if is_brief {
            let exact = case.predict(&hypothesis.overlay(again.best.place)).ok();
            return match exact {
                Some(exact) => completed(case, again, exact),
                None => Some(again),
            };
        }
    }
    Trace::new(case, hypothesis, &|overlay: &Overlay| case.predict(overlay).ok())
}

/// A hypothesis traced by the reduced boards, and in full where these cannot say.
fn screened_trace(case: &Case<'_>, hypothesis: &Hypothesis, line: &Line<'_>) -> Option<Trace> {
    Trace::new(case, hypothesis, &|overlay: &Overlay| quick_or_full(case, Some(line), overlay))
}

/// Whether the best place of a line, solved in full, predicts the same, or is too far off for that to
/// matter.
fn is_confirmed(case: &Case<'_>, hypothesis: &Hypothesis, line: &Line<'_>, trace: &Trace) -> bool {
    let best = &trace.best;
    if best.fit.distance > HOPELESS || is_excluded(case, hypothesis, trace, case.n_numbers()) {
        return true;
    }
    let overlay = hypothesis.overlay(best.place);
    let open = line.unconfirmed(case, &overlay);
    if open.is_empty() {
        return true;
    }
    // What was seen to agree at an earlier question need not be solved again.
    let some = (open.len() < case.readings.len()).then(|| case.only(&open));
    let asked = some.as_ref().unwrap_or(case);
    let is_plain = !case.may_latch();
    let standing = is_plain.then(|| line.standing(case, &overlay)).flatten();
    let exact = match standing {
        Some(standing) => {
            // The line knows the setups of all readings, in the order of the case.
            let of_setup = |(id, _): &(SetupId, Vec<usize>)| {
                let number = case.setups.iter().position(|(known, _)| known == id)?;
                Some(standing[number].clone())
            };
            let standing: Vec<_> = asked.setups.iter().filter_map(of_setup).collect();
            asked.predict_in(&overlay, &standing).ok()
        }
        None => asked.predict(&overlay).ok(),
    };
    let agrees = exact.is_some_and(|exact| {
        let quick = |idx: usize| (best.prediction.y[idx], best.fit.standard[idx]);
        open.iter().zip(exact.y).all(|(&idx, exact)| {
            let (quick, standard) = quick(idx);
            (exact - quick).abs() < 0.01 * standard
        })
    });
    if agrees {
        line.confirm(asked, &overlay);
    }
    agrees
}

/// Parts whose own current is read, or whose legs are read apart from their nets.
pub(super) fn looked_into(assembly: &Assembly<'_>, readings: &[Reading]) -> Vec<PartId> {
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
