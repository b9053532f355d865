//! Which pairs are worth following: faults at a few of their values, promising firsts, and how near
//! a second one could bring them.

use nalgebra::DVector;
use rayon::prelude::*;

use super::{Along, IN_FULL_EACH, both};
use crate::circuit::Overlay;
use crate::diagnosis::case::{Case, Prediction};
use crate::diagnosis::fit::Fit;
use crate::diagnosis::tried::Tried;
use crate::fault::Hypothesis;

/// Boards with two faults that are solved while the pairs to follow are chosen.
const BOARDS: usize = 20_000;
/// At least so many firsts are taken, whatever that costs.
const LEAST_FIRSTS: usize = 12;
/// The step in the logarithm of a first's value that shows which way it moves the readings.
const ASIDE: f64 = 0.05;
/// A reading that is off by more than this many standard uncertainties is off: how far does not
/// matter to a first fault, because the second may explain it.
const OFF: f64 = 4.0;
/// Places of a line that are tried, at most this far apart in natural logarithms.
const STRIDE: f64 = 2.0;
/// Times that the step is halved on the way to the best value of a first fault.
const SHARPENED: usize = 8;

/// What a fault leaves: the less, the more promising it is as a first one.
type Score = fn(&Fit) -> f64;

/// A fault at one of its values, with what it predicts.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    pub(super) hypothesis: usize,
    pub(super) place: f64,
    pub(super) overlay: Overlay,
    fit: Fit,
    /// Readings that it moves, by more than their standard uncertainty.
    moves: Vec<bool>,
}

/// Every hypothesis at a few places of its line, its best one among them, less places where it
/// shows nothing.
pub(super) fn samples(tried: &Tried<'_>) -> Vec<Sample> {
    let each: Vec<Vec<Sample>> = tried
        .traces
        .par_iter()
        .with_max_len(1)
        .filter(|(number, _)| !tried.list[*number].is_misread())
        .map(|(number, trace)| samples_of(tried, *number, trace.best.place))
        .collect();
    each.into_iter().flatten().collect()
}

fn samples_of(tried: &Tried<'_>, number: usize, best: f64) -> Vec<Sample> {
    let hypothesis = &tried.list[number];
    let along = Along::new(tried, IN_FULL_EACH);
    let sample = |place: f64| {
        let overlay = hypothesis.overlay(place);
        let prediction = along.predict(&overlay)?;
        let fit = Fit::new(tried.case, &prediction)?;
        let moves: Vec<bool> = match &tried.healthy {
            Some((healthy, _)) => {
                let apart = healthy.y.iter().zip(&prediction.y).zip(&fit.standard);
                apart.map(|((a, b), standard)| (a - b).abs() > *standard).collect()
            }
            None => vec![true; prediction.y.len()],
        };
        moves.contains(&true).then_some(Sample { hypothesis: number, place, overlay, fit, moves })
    };
    places(hypothesis, best).into_iter().filter_map(sample).collect()
}

/// The places of a line that are tried, its best one among them.
fn places(hypothesis: &Hypothesis, best: f64) -> Vec<f64> {
    let Some(curve) = &hypothesis.curve else { return vec![0.0] };
    let length = curve.high - curve.low;
    let n = (length / STRIDE).ceil().max(2.0) as usize;
    let mut places: Vec<f64> =
        (0..=n).map(|idx| curve.low + length * idx as f64 / n as f64).collect();
    places.extend(hypothesis.points());
    places.push(best);
    places.sort_by(f64::total_cmp);
    places.dedup_by(|a, b| (*a - *b).abs() < 1e-3);
    places
}

/// A first fault at the value of its line that leaves least, near one of the samples.
fn sharpened(tried: &Tried<'_>, samples: &[Sample], (at, score): (usize, Score)) -> Sample {
    let along = Along::new(tried, IN_FULL_EACH);
    let hypothesis = samples[at].hypothesis;
    let near = |other: Option<usize>| {
        let other = other.and_then(|other| samples.get(other));
        other.filter(|other| other.hypothesis == hypothesis).map(|other| other.place)
    };
    let mut best = samples[at].clone();
    let low = near(at.checked_sub(1)).unwrap_or(best.place);
    let high = near(Some(at + 1)).unwrap_or(best.place);
    let mut step = (best.place - low).max(high - best.place) / 2.0;
    // Halving steps to both sides: what is left has kinks where a reading stops counting.
    for _ in 0..SHARPENED {
        for place in [best.place - step, best.place + step] {
            if !(low..=high).contains(&place) {
                continue;
            }
            let overlay = tried.list[hypothesis].overlay(place);
            let fit = along.predict(&overlay).and_then(|made| Fit::new(tried.case, &made));
            if let Some(fit) = fit.filter(|fit| score(fit) < score(&best.fit)) {
                best = Sample { hypothesis, place, overlay, fit, moves: best.moves };
            }
        }
        step /= 2.0;
    }
    best
}

/// What a fault leaves to explain when every reading counts up to a limit.
fn left_over(fit: &Fit) -> f64 {
    fit.off.iter().map(|off| off.powi(2).min(OFF * OFF)).sum()
}

/// The promising firsts, each at the value that leaves least; as many as the boards that may be
/// solved allow.
pub(super) fn firsts(tried: &Tried<'_>, samples: &[Sample], alone: &[usize]) -> Vec<Sample> {
    let most = (BOARDS / (2 * samples.len().max(1))).max(LEAST_FIRSTS);
    // Half by what each leaves when readings count up to a limit, half by the plain distance: two
    // faults that both move everything leave much whatever the first one is.
    let scores: [Score; 2] = [left_over, |fit| fit.distance];
    let ranked = scores.map(|score| {
        let mut best: Vec<(f64, usize)> = Vec::new();
        for (at, sample) in samples.iter().enumerate() {
            if alone.contains(&sample.hypothesis) {
                continue;
            }
            let own = score(&sample.fit);
            match best.last_mut() {
                Some(last) if samples[last.1].hypothesis == sample.hypothesis => {
                    if own < last.0 {
                        *last = (own, at);
                    }
                }
                _ => best.push((own, at)),
            }
        }
        best.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        best
    });
    let in_turn: Vec<(usize, Score)> = ranked[0]
        .iter()
        .zip(&ranked[1])
        .flat_map(|(one, other)| [(one.1, scores[0]), (other.1, scores[1])])
        .collect();
    let mut in_turn = &in_turn[..];
    let mut chosen: Vec<Sample> = Vec::new();
    // As many at once as are wanting: some turn out to be next to one that was taken before.
    while chosen.len() < most && !in_turn.is_empty() {
        let (now, later) = in_turn.split_at((most - chosen.len()).min(in_turn.len()));
        let found: Vec<Sample> =
            now.par_iter().with_max_len(1).map(|&which| sharpened(tried, samples, which)).collect();
        for sample in found {
            let is_near = |known: &Sample| {
                known.hypothesis == sample.hypothesis
                    && (known.place - sample.place).abs() < 2.0 * ASIDE
            };
            if !chosen.iter().any(is_near) {
                chosen.push(sample);
            }
        }
        in_turn = later;
    }
    chosen
}

/// Whether the samples of a second fault, by itself, move every reading that the first one leaves
/// off: one that moves none of them cannot bring them back.
pub(super) fn may_mend(first: &Sample, line: &[Sample]) -> bool {
    let off = first.fit.off.iter().enumerate().filter(|(_, off)| off.abs() > OFF);
    off.into_iter().all(|(idx, _)| line.iter().any(|sample| sample.moves[idx]))
}

/// A second fault at one of its values beside a first one.
struct Met {
    place: f64,
    fit: Fit,
    y: Vec<f64>,
    /// How the readings move when the first one's value does.
    moved: Option<DVector<f64>>,
}

/// How near to the readings a first fault comes with a second one: the least squared distance, and
/// the second's place there.
///
/// Between two places of the second the readings move along a straight line, near enough, and with
/// the first's value along another; the nearest point of the plane that both span is what the two
/// values together can reach.
pub(super) fn nearest(
    case: &Case<'_>,
    predict: &dyn Fn(&Overlay) -> Option<Prediction>,
    (hypothesis, first): (&Hypothesis, &Sample),
    line: &[Sample],
) -> Option<(f64, f64)> {
    let aside = hypothesis.curve.as_ref().map(|curve| {
        let step = if first.place + ASIDE > curve.high { -ASIDE } else { ASIDE };
        hypothesis.overlay(first.place + step)
    });
    let nodes: Vec<Met> = line
        .iter()
        .filter_map(|sample| {
            let made = predict(&both(&first.overlay, &sample.overlay))?;
            let fit = Fit::new(case, &made)?;
            let moved = aside.as_ref().and_then(|aside| {
                let there = predict(&both(aside, &sample.overlay))?;
                let change = there.y.iter().zip(&made.y).map(|(there, here)| there - here);
                Some(DVector::from_iterator(made.y.len(), change))
            });
            Some(Met { place: sample.place, fit, y: made.y, moved })
        })
        .collect();
    let alone = nodes.iter().map(|met| (reach(&met.fit, met.moved.as_ref(), None).0, met.place));
    let between = nodes.windows(2).map(|pair| {
        let change = pair[1].y.iter().zip(&pair[0].y).map(|(there, here)| there - here);
        let step = DVector::from_iterator(pair[0].y.len(), change);
        let (passing, share) = reach(&pair[0].fit, pair[0].moved.as_ref(), Some(&step));
        (passing, pair[0].place + share * (pair[1].place - pair[0].place))
    });
    alone.chain(between).filter(|(at, _)| at.is_finite()).min_by(|a, b| a.0.total_cmp(&b.0))
}

/// The least squared distance when the residual may be lessened by any multiple of one direction
/// and by a share, from none to all, of another; with that share.
fn reach(fit: &Fit, any: Option<&DVector<f64>>, part: Option<&DVector<f64>>) -> (f64, f64) {
    let weigh = |vector: &DVector<f64>| fit.cholesky.solve(vector);
    // Takes out of a vector what the free direction can make.
    let freed = any.map(|any| (any, weigh(any))).filter(|(any, weighed)| any.dot(weighed) > 0.0);
    let without = |vector: &DVector<f64>| match &freed {
        Some((any, weighed)) => vector - *any * (vector.dot(weighed) / any.dot(weighed)),
        None => vector.clone(),
    };
    let residual = without(&fit.residual);
    let weighed = weigh(&residual);
    let start = residual.dot(&weighed);
    let Some(step) = part.map(without) else { return (start, 0.0) };
    let (along, length) = (step.dot(&weighed), step.dot(&weigh(&step)));
    let share = if length > 0.0 { (along / length).clamp(0.0, 1.0) } else { 0.0 };
    ((start - 2.0 * share * along + share * share * length).max(0.0), share)
}
