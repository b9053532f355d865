//! Pairs of faults, when nothing single fits or when they are asked for.
//!
//! Trying every pair with every value of both would be millions of boards. A pair that reproduces
//! the readings has a first fault that explains some of them outright, whatever it leaves to the
//! second: the promising firsts are those that leave the least when every reading counts up to a
//! limit. To each of them every second fault is added at a few of its values; the best are then
//! followed along both lines in turn.

use super::candidate::{Verdict, judge};
use super::case::{Case, Prediction};
use super::fit::Fit;
use super::groups::groups;
use super::trace::{Node, Trace};
use super::tried::{Tried, ln_sum};
use crate::circuit::Overlay;
use crate::fault::{Fault, Hypothesis};

/// Two faults together that reproduce the readings.
#[derive(Debug, Clone)]
pub struct Pair {
    /// The two, with their values, the one that explains more first.
    pub faults: [Fault; 2],
    /// The share among all pairs that reproduce: relative to them only.
    pub share: f64,
    /// What the readings say of it.
    pub verdict: Verdict,
    /// The squared distance of its best fit.
    pub distance: f64,
    /// Degrees of freedom that the distance is judged by.
    pub freedom: usize,
    /// How far off the worst reading is, in standard uncertainties.
    pub worst_sigma: f64,
    /// Pairs of one number are not told apart by the readings.
    pub group: usize,
    /// The changes at their best fit.
    pub overlay: Overlay,
    /// What the pair predicts for every reading, in SI units.
    pub predicted: Vec<f64>,
}

/// Firsts that seconds are added to.
const FIRSTS: usize = 20;
/// A reading that is off by more than this many standard uncertainties is off: how far does not
/// matter to a first fault, because the second may explain it.
const OFF: f64 = 4.0;
/// Places of a line that are tried, at most this far apart in natural logarithms.
const STRIDE: f64 = 2.0;
/// Pairs that are followed along their lines.
const FOLLOWED: usize = 60;
/// Rounds of following one line and then the other.
const ROUNDS: usize = 2;
/// Pairs that are told.
const TOLD: usize = 50;

/// A fault at one of its values, with what it predicts.
struct Sample {
    hypothesis: usize,
    place: f64,
    overlay: Overlay,
    fit: Fit,
}

/// The pairs of faults that reproduce the readings, likeliest first.
pub(super) fn pairs(tried: &Tried<'_>) -> Vec<Pair> {
    let case = tried.case;
    let predict = |overlay: &Overlay| -> Option<Prediction> {
        let quick = tried.screen.as_ref().and_then(|screen| screen.predict(case, overlay));
        quick.or_else(|| case.predict(overlay).ok())
    };
    let alone = fits_alone(tried);
    let samples = samples(tried, &predict);
    let mut firsts: Vec<(f64, usize)> = Vec::new();
    for (at, sample) in samples.iter().enumerate() {
        let left = left_over(&sample.fit);
        // One sample per hypothesis: the one that leaves least.
        match firsts.iter_mut().find(|(_, known)| samples[*known].hypothesis == sample.hypothesis) {
            Some(known) if left < known.0 => *known = (left, at),
            Some(_) => {}
            None => firsts.push((left, at)),
        }
    }
    let healthy = tried.healthy.as_ref().map_or(f64::INFINITY, |(_, fit)| left_over(fit));
    firsts.retain(|(left, at)| *left < healthy && !alone.contains(&samples[*at].hypothesis));
    firsts.sort_by(|(a, one), (b, other)| a.total_cmp(b).then(one.cmp(other)));
    firsts.truncate(FIRSTS);

    let mut found: Vec<(f64, usize, usize)> = Vec::new();
    for (rank, &(_, first)) in firsts.iter().enumerate() {
        // The best value of every second.
        let mut best: Option<(f64, usize)> = None;
        let mut seconds: Vec<(f64, usize)> = Vec::new();
        for second in 0..samples.len() {
            let (one, other) = (&samples[first], &samples[second]);
            let is_earlier_first = firsts[..rank]
                .iter()
                .any(|(_, known)| samples[*known].hypothesis == other.hypothesis);
            if alone.contains(&other.hypothesis)
                || is_earlier_first
                || touch(tried, one.hypothesis, other.hypothesis)
            {
                continue;
            }
            let overlay = both(&one.overlay, &other.overlay);
            let Some(fit) = predict(&overlay).and_then(|made| Fit::new(case, &made)) else {
                continue;
            };
            let is_same =
                best.is_some_and(|(_, known)| samples[known].hypothesis == other.hypothesis);
            if !is_same {
                seconds.extend(best.take());
            }
            if best.is_none_or(|(distance, _)| fit.distance < distance) {
                best = Some((fit.distance, second));
            }
        }
        seconds.extend(best);
        found.extend(seconds.into_iter().map(|(distance, second)| (distance, first, second)));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    found.truncate(FOLLOWED);
    let followed: Vec<Followed> = found
        .iter()
        .filter_map(|&(_, first, second)| {
            follow(tried, &predict, &samples[first], &samples[second])
        })
        .collect();
    told(tried, followed)
}

/// Hypotheses that reproduce the readings alone: a pair with one of them says nothing more.
fn fits_alone(tried: &Tried<'_>) -> Vec<usize> {
    let n_numbers = tried.n_numbers();
    let fits = |(number, trace): &(usize, Trace)| {
        let fitted = usize::from(trace.value_matters);
        let best = &trace.best;
        let (verdict, _) = judge(tried.case, &best.prediction, &best.fit, n_numbers, fitted);
        (verdict == Verdict::Reproduces).then_some(*number)
    };
    tried.traces.iter().filter_map(fits).collect()
}

/// Every hypothesis at a few places of its line, its best one among them, less places where it
/// shows nothing.
fn samples(tried: &Tried<'_>, predict: &dyn Fn(&Overlay) -> Option<Prediction>) -> Vec<Sample> {
    let mut found = Vec::new();
    for (number, trace) in &tried.traces {
        let hypothesis = &tried.list[*number];
        if hypothesis.misread(0.0).is_some() {
            continue;
        }
        for place in places(hypothesis, trace.best.place) {
            let overlay = hypothesis.overlay(place);
            let Some(prediction) = predict(&overlay) else { continue };
            let Some(fit) = Fit::new(tried.case, &prediction) else { continue };
            let shows = tried.healthy.as_ref().is_none_or(|(healthy, _)| {
                let apart = healthy.y.iter().zip(&prediction.y).zip(&fit.standard);
                apart.into_iter().any(|((a, b), standard)| (a - b).abs() > *standard)
            });
            if shows {
                found.push(Sample { hypothesis: *number, place, overlay, fit });
            }
        }
    }
    found
}

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

/// What a fault leaves to explain when every reading counts up to a limit.
fn left_over(fit: &Fit) -> f64 {
    fit.off.iter().map(|off| off.powi(2).min(OFF * OFF)).sum()
}

/// Whether two hypotheses are about the same part: one physical thing fails in one way.
fn touch(tried: &Tried<'_>, one: usize, other: usize) -> bool {
    let parts = |number: usize| {
        let place = tried.list[number].curve.as_ref().map_or(0.0, |curve| curve.low);
        let changes = tried.list[number].overlay(place).changes;
        changes.iter().flat_map(|change| change.parts()).collect::<Vec<_>>()
    };
    one == other || parts(one).iter().any(|part| parts(other).contains(part))
}

fn both(one: &Overlay, other: &Overlay) -> Overlay {
    let changes = one.changes.iter().chain(&other.changes).cloned().collect();
    Overlay { changes }
}

/// A pair after following both lines.
struct Followed {
    hypotheses: [usize; 2],
    faults: [Fault; 2],
    overlay: Overlay,
    best: Node,
    /// Natural logarithm of weight times evidence, both values integrated out.
    mass: f64,
    /// Values that the readings found.
    fitted: usize,
}

/// Follows one line with the other fault where it fits best, and then the other, for some rounds.
///
/// The mass is the product of the two integrals over the evidence where the lines cross: exact
/// where the two values do not depend on each other, and near enough to rank where they do.
fn follow(
    tried: &Tried<'_>,
    predict: &dyn Fn(&Overlay) -> Option<Prediction>,
    first: &Sample,
    second: &Sample,
) -> Option<Followed> {
    let case = tried.case;
    let list = [&tried.list[first.hypothesis], &tried.list[second.hypothesis]];
    let mut places = [first.place, second.place];
    let mut traces: [Option<Trace>; 2] = [None, None];
    for round in 0..ROUNDS {
        for moving in [1, 0] {
            // A line without a value has nothing to follow.
            if round > 0 && list[moving].curve.is_none() && traces[moving].is_some() {
                continue;
            }
            let fixed = list[1 - moving].overlay(places[1 - moving]);
            let trace = Trace::along(case, list[moving], &|place| {
                predict(&both(&fixed, &list[moving].overlay(place)))
            })?;
            places[moving] = trace.best.place;
            traces[moving] = Some(trace);
        }
    }
    let [Some(one), Some(other)] = traces else { return None };
    let overlay = both(&list[0].overlay(places[0]), &list[1].overlay(places[1]));
    // The best place is solved in full.
    let prediction = case.predict(&overlay).ok()?;
    let fit = Fit::new(case, &prediction)?;
    // Each trace was taken with the other at its best: what both share is the evidence there.
    let mass = one.mass + other.mass - one.best.fit.evidence.max(other.best.fit.evidence);
    let fault = |trace: &Trace| trace.causes.first().map(|cause| cause.fault);
    Some(Followed {
        hypotheses: [first.hypothesis, second.hypothesis],
        faults: [fault(&one)?, fault(&other)?],
        overlay,
        best: Node { place: 0.0, prediction, fit },
        mass,
        fitted: usize::from(one.value_matters) + usize::from(other.value_matters),
    })
}

fn told(tried: &Tried<'_>, mut followed: Vec<Followed>) -> Vec<Pair> {
    let case: &Case<'_> = tried.case;
    let n_numbers = tried.n_numbers();
    let judged = |pair: &Followed| {
        judge(case, &pair.best.prediction, &pair.best.fit, n_numbers, pair.fitted)
    };
    followed.retain(|pair| judged(pair).0 == Verdict::Reproduces);
    followed.sort_by(|a, b| b.mass.total_cmp(&a.mass).then(a.hypotheses.cmp(&b.hypotheses)));
    followed.truncate(TOLD);
    let total = ln_sum(followed.iter().map(|pair| pair.mass));
    let nodes: Vec<&Node> = followed.iter().map(|pair| &pair.best).collect();
    let groups = groups(case, &nodes);
    followed
        .iter()
        .zip(groups)
        .map(|(pair, group)| {
            let (verdict, freedom) = judged(pair);
            Pair {
                faults: pair.faults,
                share: (pair.mass - total).exp(),
                verdict,
                distance: pair.best.fit.distance,
                freedom,
                worst_sigma: pair.best.fit.worst().map_or(0.0, |(_, sigma)| sigma.abs()),
                group,
                overlay: pair.overlay.clone(),
                predicted: pair.best.prediction.shown.clone(),
            }
        })
        .collect()
}
