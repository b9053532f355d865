//! Predictions taken around other part values than the nominal ones.
//!
//! # Formula
//!
//! S at the nominal values is the tangent there. Where the tolerances that explain the readings are
//! far from nominal, a curved board leaves the tangent by more than a meter's counts. The values s
//! (in standard uncertainties) that make s² plus the meter's squared distance least are found by
//! Gauss-Newton; around them
//!
//! ```text
//! y ≈ y(s) + S(s)·(s' − s)     so that     y(s) − S(s)·s    stands for the nominal prediction
//! ```
//!
//! in the same distance and evidence: Laplace's approximation at the mode (R. E. Kass, A. E.
//! Raftery, "Bayes factors", J. American Statistical Association 90, 1995). On a straight board
//! nothing changes.

use std::borrow::Cow;
use std::cell::Cell;

use super::case::{Case, Prediction};
use super::fit::Fit;
use super::trace::{Node, Trace};
use crate::circuit::{Circuit, Overlay, Param};
use crate::engine::{Assembly, Network, OperatingPoint, Stands};
use crate::fault::Hypothesis;
use crate::meter::{Scene, show};
use crate::quantity::{Point, Spread, Toleranced};

/// Steps of Gauss and Newton at most.
const STEPS: usize = 8;
/// The distance, and a mass in nats, is known well enough when a step changes it by less than this.
const SETTLED: f64 = 0.1;
/// Rounds of taking a line again around other part values.
const AROUND: usize = 3;
/// A tangent that is off by less than this share of a reading's own uncertainty is good enough.
const CLOSE: f64 = 0.25;
/// How much a distance may grow when a line is corrected.
const FURTHER: f64 = 15.0;
/// A value that is never negative stays above this share of its nominal one.
const LEAST: f64 = 0.02;

/// Boards with other part values that are solved for one diagnosis of a board with states: each takes
/// a whole power-up.
const MOST_ANEW: usize = 300;
/// At least so many are solved for each line that needs them.
const LEAST_ANEW: usize = 30;

/// Boards with other part values that may still be solved for one line.
#[derive(Debug)]
pub(super) struct Anew(Cell<usize>);

impl Anew {
    /// The even share of one of so many lines: what one of them takes is not another one's loss.
    pub(super) fn shared_by(case: &Case<'_>, n_lines: usize) -> Anew {
        Anew(Cell::new(match case.assembly.has_states() {
            true => (MOST_ANEW / n_lines.max(1)).max(LEAST_ANEW),
            false => usize::MAX,
        }))
    }

    /// One more; `None` when there is none left.
    fn take(&self) -> Option<()> {
        self.0.set(self.0.get().checked_sub(1)?);
        Some(())
    }
}

/// Where a board stands, per setup: in one place, or in turn where it keeps switching.
pub(super) type Standing = Vec<Vec<Stands>>;
/// Says where a board stands with a change, where that is known cheaply.
type Stand<'a> = dyn Fn(&Overlay) -> Option<Standing> + 'a;

/// What a change predicts on a board whose sources of uncertainty stand at `at`, in standard
/// uncertainties; `None` where that board has no operating point.
pub(super) fn predict_at(case: &Case<'_>, overlay: &Overlay, at: &[f64]) -> Option<Prediction> {
    predict_from(case, overlay, at, From::Nothing)
}

/// Where a board with other part values is looked for.
#[derive(Clone, Copy)]
enum From<'a> {
    /// From nothing, as it powers up.
    Nothing,
    /// From where the nominal board stands, and from nothing where it does not stay there.
    Standing(&'a Standing),
    /// Only in the states that the nominal board stands in: those that a tangent is taken in.
    Staying(&'a Standing),
}

/// The same from where the nominal board stands.
fn predict_from(
    case: &Case<'_>,
    overlay: &Overlay,
    at: &[f64],
    from: From<'_>,
) -> Option<Prediction> {
    let circuit = moved(case.assembly, at);
    let assembly = case.assembly.like(&circuit);
    if assembly.sources().len() != case.assembly.sources().len() {
        return None;
    }
    let there = Case {
        assembly: &assembly,
        readings: Cow::Borrowed(&case.readings),
        targets: case.targets.clone(),
        setups: case.setups.clone(),
        // The nominal board's points are good enough to start from.
        healthy: case.healthy.clone(),
        good: case.good.clone(),
        boards: None,
    };
    match from {
        From::Standing(standing) => there.predict_in(overlay, standing).ok(),
        From::Staying(standing) => there.predict_staying(overlay, standing),
        From::Nothing => there.predict(overlay).ok(),
    }
}

/// Where a board that may stand in several states stands with a change, or the round that it keeps
/// going: from nothing, each of its neighbours would take as long as this one again.
fn standing(case: &Case<'_>, overlay: &Overlay) -> Option<Standing> {
    if !case.has_several_states() {
        return None;
    }
    case.setups
        .iter()
        .map(|(setup, _)| {
            let power_up = case.assembly.settled(*setup, overlay, None);
            let stands = |network: &Network, point: &OperatingPoint| {
                (network.states().to_vec(), point.volts.clone())
            };
            match (&power_up.run.point, &power_up.cycle) {
                (Some(point), _) => Some(vec![stands(&power_up.network, point)]),
                (None, Some(cycle)) => Some(
                    cycle.round.iter().map(|(network, point)| stands(network, point)).collect(),
                ),
                (None, None) => None,
            }
        })
        .collect()
}

/// The circuit with other part values in place of the nominal ones.
fn moved(assembly: &Assembly<'_>, at: &[f64]) -> Circuit {
    let mut circuit = assembly.circuit().clone();
    for (source, at) in assembly.sources().iter().zip(at) {
        let params = &mut circuit.parts[source.part.index()].params;
        let param = params.iter_mut().find(|(name, _)| *name == source.parameter);
        let number = match param {
            Some((_, Param::Number(number) | Param::Point(Point { value: number, .. }))) => number,
            Some((_, Param::Pull(pull))) => &mut pull.value,
            _ => continue,
        };
        number.nominal = value_at(number, source.standard, *at);
    }
    assembly.keep_minimums(&mut circuit);
    circuit
}

/// What the readings would be on a board whose sources of uncertainty stand at `at`, in standard
/// uncertainties, on the scales of their targets; `None` where it has no operating point.
///
/// `standing` says where the board with the nominal values stands: its neighbour is found from there
/// in a step or two, where a power-up from nothing takes hundreds.
fn shown_at(
    case: &Case<'_>,
    overlay: &Overlay,
    at: &[f64],
    standing: Option<&Standing>,
) -> Option<Vec<f64>> {
    let circuit = case.assembly.circuit();
    let values = case.assembly.sources().iter().zip(at).enumerate();
    let values: Option<Vec<(usize, f64)>> = values
        .map(|(number, (source, at))| {
            let nominal = circuit[source.part].toleranced(source.parameter)?;
            Some((number, value_at(nominal, source.standard, *at)))
        })
        .collect();
    let laid = case.assembly.laid(overlay, values?);
    let mut y = vec![0.0; case.readings.len()];
    for (number, (setup, idxs)) in case.setups.iter().enumerate() {
        let near = match standing.map(|standing| &standing[number][..]) {
            Some([(states, volts)]) => case.assembly.power_up_in(*setup, &laid, states, volts),
            // A board that keeps switching shows a range anyway.
            Some(_) => return None,
            None => None,
        };
        let scene = match near {
            Some((network, point)) => Scene::at(case.assembly, *setup, network, point, false),
            None => {
                let healthy = case.healthy[number].as_ref();
                let start = healthy.filter(|_| !case.assembly.may_latch(*setup));
                Scene::new(case.assembly, *setup, &laid, start, false).ok()?
            }
        };
        for &idx in idxs {
            let reading = &case.readings[idx];
            let shown = show(&scene, reading.quantity, reading.place, &reading.meter)?;
            y[idx] = case.targets[idx].scale.of(case.within(idx, shown.latent));
        }
    }
    Some(y)
}

/// A value that stands so many standard uncertainties from its nominal one.
fn value_at(number: &Toleranced, standard: f64, at: f64) -> f64 {
    let nominal = number.nominal;
    let value = match number.spread {
        Some(Spread::Factor(factor)) => nominal * factor.powf(at / 3.0_f64.sqrt()),
        _ => nominal + standard * at,
    };
    if value * nominal < LEAST * nominal * nominal { LEAST * nominal } else { value }
}

/// The same prediction as seen from nominal values: what the tangent at `at` has there.
pub(super) fn from_nominal(mut prediction: Prediction, at: &[f64]) -> Prediction {
    for (y, spread) in prediction.y.iter_mut().zip(&prediction.spread) {
        *y -= spread.iter().zip(at).map(|(spread, at)| spread * at).sum::<f64>();
    }
    prediction
}

/// The part values, in standard uncertainties, around which the readings are explained best, with
/// the prediction around them; `None` where they are not found. What is `known` of where the board
/// stands with the nominal values spares looking for it.
pub(super) fn explained(
    case: &Case<'_>,
    (overlay, known): (&Overlay, Option<Standing>),
    prediction: &Prediction,
    anew: &Anew,
) -> Option<(Vec<f64>, Prediction)> {
    let n_sources = case.assembly.sources().len();
    let mut at = vec![0.0; n_sources];
    let mut tangent = prediction.clone();
    let mut cost = cost_of(case, prediction, &at)?;
    let standing = known.or_else(|| standing(case, overlay));
    let from = standing.as_ref().map_or(From::Nothing, From::Staying);
    for _ in 0..STEPS {
        let fit = Fit::new(case, &tangent)?;
        let wanted = fit.pulls(&tangent, n_sources);
        let mut share = 1.0;
        let (next, found, better) = loop {
            let next: Vec<f64> =
                at.iter().zip(&wanted).map(|(at, wanted)| at + share * (wanted - at)).collect();
            // What is left is left as it is.
            if let Some(found) = anew.take().and_then(|()| predict_from(case, overlay, &next, from))
                && let Some(better) = cost_of(case, &found, &next).filter(|new| *new < cost)
            {
                break (next, found, better);
            }
            share *= 0.4;
            if share < 0.05 {
                // No step comes down: this is as near as it gets.
                return settled(case, at, tangent, cost);
            }
        };
        let gained = cost - better;
        (at, cost) = (next, better);
        tangent = from_nominal(found, &at);
        tangent.shown.clone_from(&prediction.shown);
        if gained < SETTLED {
            break;
        }
    }
    settled(case, at, tangent, cost)
}

/// A tangent is believed where its own distance is what it costs to stand there.
fn settled(
    case: &Case<'_>,
    at: Vec<f64>,
    tangent: Prediction,
    cost: f64,
) -> Option<(Vec<f64>, Prediction)> {
    let fit = Fit::new(case, &tangent)?;
    ((fit.distance - cost).abs() < 1.0 + 0.1 * cost).then_some((at, tangent))
}

/// Squares of the part values in standard uncertainties, and the meter's squared distance.
fn cost_of(case: &Case<'_>, prediction: &Prediction, at: &[f64]) -> Option<f64> {
    let mut bare = prediction.clone();
    let n_sources = at.len();
    for spread in &mut bare.spread {
        // What is no tolerance of a part stays: the width of a board that keeps switching.
        spread.iter_mut().take(n_sources).for_each(|value| *value = 0.0);
    }
    let fit = Fit::new(case, &bare)?;
    Some(fit.distance + at.iter().map(|at| at * at).sum::<f64>())
}

impl Trace {
    /// Takes the line again with what its tangent misses at the part values that explain the
    /// readings best, where a meter would see that. `predict` is what the line was traced by;
    /// `standing` says where the board stands with a change, where that is known cheaply.
    ///
    /// The part is added all along the line: it hardly changes where the line matters. This is
    /// for lines that fit; see [`Trace::around`] for others.
    #[must_use]
    pub fn corrected(
        self,
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        predict: &dyn Fn(&Overlay) -> Option<Prediction>,
        standing: &dyn Fn(&Overlay) -> Option<Standing>,
    ) -> Trace {
        let n_sources = case.assembly.sources().len();
        let mut missed = vec![0.0; case.readings.len()];
        let plain = self;
        let mut trace = plain.clone();
        for _ in 0..AROUND {
            let overlay = hypothesis.overlay(trace.best.place);
            let best = &trace.best;
            let at = best.fit.pulls(&best.prediction, n_sources);
            let standing = standing(&overlay);
            let Some(there) = shown_at(case, &overlay, &at, standing.as_ref()) else {
                return trace;
            };
            let mut close = true;
            for (idx, there) in there.iter().enumerate() {
                let spread = best.prediction.spread[idx].iter();
                let along: f64 = spread.zip(&at).map(|(spread, at)| spread * at).sum();
                let more = there - best.prediction.y[idx] - along;
                close &= more.abs() < CLOSE * case.targets[idx].own;
                missed[idx] += more;
            }
            if close || missed.iter().any(|missed| !missed.is_finite()) {
                return trace;
            }
            let with = |overlay: &Overlay| {
                let mut prediction = predict(overlay)?;
                prediction.y.iter_mut().zip(&missed).for_each(|(y, missed)| *y += missed);
                Some(prediction)
            };
            let Some(again) = Trace::new(case, hypothesis, &with) else { return trace };
            // Where the tangent misses too much, adding it does not settle: round after round the line
            // would be led away from the readings. Then it is judged as it came.
            if again.best.fit.distance > plain.best.fit.distance + FURTHER {
                return plain;
            }
            trace = again;
        }
        trace
    }

    /// Whether the line has to be taken again around other part values: together the readings are
    /// too far from its best place, but none of them is by itself.
    pub fn is_far(&self, case: &Case<'_>) -> bool {
        self.best.fit.is_far(case)
    }

    /// Takes the line again around the part values that explain the readings best, where the
    /// readings are too far from the tangent at the nominal ones for this to be all.
    ///
    /// `standing` says where the board stands with a change, where that is known cheaply; `hopeless`
    /// says of a mass that it is too small to matter.
    pub fn around(
        self,
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        standing: &dyn Fn(&Overlay) -> Option<Standing>,
        hopeless: impl Fn(f64) -> bool,
    ) -> Trace {
        self.around_with(case, hypothesis, (standing, &Anew::shared_by(case, 1)), hopeless)
    }

    /// The same with so many boards with other part values.
    pub(super) fn around_with(
        self,
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        (standing, anew): (&Stand<'_>, &Anew),
        hopeless: impl Fn(f64) -> bool,
    ) -> Trace {
        let mut trace = self;
        for _ in 0..AROUND {
            let overlay = hypothesis.overlay(trace.best.place);
            let known = (&overlay, standing(&overlay));
            let Some((at, tangent)) = explained(case, known, &trace.best.prediction, anew) else {
                return trace;
            };
            let Some(fit) = Fit::new(case, &tangent) else { return trace };
            let gained = fit.evidence - trace.best.fit.evidence;
            if hypothesis.curve.is_none() || hopeless(trace.mass + gained) {
                trace.mass += gained;
                trace.best = Node { prediction: tangent, fit, ..trace.best };
                return trace;
            }
            let there = |overlay: &Overlay| {
                let known = standing(overlay);
                let from = known.as_ref().map_or(From::Nothing, From::Standing);
                anew.take()?;
                Some(from_nominal(predict_from(case, overlay, &at, from)?, &at))
            };
            let Some(mut again) = Trace::new(case, hypothesis, &there) else { return trace };
            // What is told of it is what a nominal board would show.
            if let Ok(nominal) = case.predict(&hypothesis.overlay(again.best.place)) {
                again.best.prediction.shown = nominal.shown;
            }
            let moved = (again.mass - trace.mass).abs();
            trace = Trace { other_state: trace.other_state, ..again };
            if moved < SETTLED {
                return trace;
            }
        }
        trace
    }
}
