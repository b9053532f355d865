//! A hypothesis traced along its value: where it fits best, and its evidence as an integral.
//!
//! Evidence of a fault with a value is ∫ p(θ) L(θ) dθ over the prior density of its causes: a fault
//! with a free value pays for its freedom. The places are few where nothing fits and close where
//! something does: an interval is halved while a straight line between its ends, in readings, would
//! pass a place that matters.

use super::case::{Case, Prediction};
use super::fit::Fit;
use crate::circuit::Overlay;
use crate::fault::{Fault, Hypothesis};

/// A line starts with places about this far apart: a factor of ten in the value ...
const STRIDE: f64 = std::f64::consts::LN_10;
/// ... but with at least this many.
const FIRST: usize = 4;
/// The most places of one line.
const MOST: usize = 220;
/// Neighbouring places end up closer than this, in standard uncertainties of the readings.
const CLOSE: f64 = 0.5;
/// Places whose distance d² is this much more than the least carry no weight worth finding.
const FAR: f64 = 36.0;
/// A line whose least distance stays above this is refined only until its least is known roughly.
pub(super) const HOPELESS: f64 = 2000.0;
/// How far a line of readings bends away from the chord between two places at most, as a share of
/// the chord. One setup of a linear board bends not at all; several setups and logarithms do.
const BEND: f64 = 0.3;

/// A half that is still this share of the whole apart has the whole jump in it ...
const JUMP: f64 = 0.97;
/// ... and after so many of them in a row its place is known well enough: to a hundredth.
const MOST_JUMPS: u8 = 8;

/// A cause with less than this share of a hypothesis is not named.
const LEAST_CAUSE: f64 = 1e-3;

/// A place of a line with what it predicts.
#[derive(Debug, Clone)]
pub struct Node {
    /// The place: the natural logarithm of the value.
    pub place: f64,
    /// What the change predicts there.
    pub prediction: Prediction,
    /// How that fits.
    pub fit: Fit,
}

/// A hypothesis after tracing.
#[derive(Debug, Clone)]
pub struct Trace {
    /// The places that have an operating point, in order; one for a change without a value.
    pub places: Vec<f64>,
    /// The place with the least distance. What the others predict is not kept: there are
    /// thousands of them.
    pub best: Node,
    /// Natural logarithm of weight times evidence, the value integrated out.
    pub mass: f64,
    /// The causes by their share of the mass, the largest first.
    pub causes: Vec<CauseShare>,
    /// Whether the value is found by the readings: interior, and it moves some of them.
    pub value_matters: bool,
    /// Whether the readings fit best with the board in another state than it powers up in.
    pub other_state: bool,
}

/// One cause of a hypothesis after tracing.
#[derive(Debug, Clone)]
pub struct CauseShare {
    /// The fault, with the median of its own value where it has one.
    pub fault: Fault,
    /// Its share of the hypothesis's mass.
    pub share: f64,
    /// The lower end of the central 95 % of its value; `None` where it is open.
    pub low: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
}

impl Trace {
    /// Traces a hypothesis; `None` when it has no operating point anywhere. `predict` says what
    /// a change predicts, in full or by the reduced board.
    pub fn new(
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        predict: &dyn Fn(&Overlay) -> Option<Prediction>,
    ) -> Option<Trace> {
        let solve = |place: f64| -> Option<Node> {
            let prediction = predict(&hypothesis.overlay(place))?;
            let fit = Fit::new(case, &prediction)?;
            Some(Node { place, prediction, fit })
        };
        let Some(curve) = &hypothesis.curve else {
            let node = solve(0.0)?;
            let mass = hypothesis.weight().ln() + node.fit.evidence;
            return Some(Trace {
                places: vec![node.place],
                best: node,
                mass,
                causes: by_weight(hypothesis),
                value_matters: false,
                other_state: false,
            });
        };
        let points = hypothesis.points();
        let inside = |place: &f64| (curve.low..=curve.high).contains(place);
        // The ends are put in as they are: a rounding past the end would lose the place.
        let length = curve.high - curve.low;
        let n_first = ((length / STRIDE).ceil() as usize + 1).max(FIRST);
        let mut places: Vec<f64> = (1..n_first - 1)
            .map(|idx| curve.low + length * idx as f64 / (n_first - 1) as f64)
            .chain(points.iter().copied().filter(inside))
            .chain([curve.low, curve.high])
            .collect();
        places.sort_by(f64::total_cmp);
        places.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        let mut nodes: Vec<Node> = places.into_iter().filter_map(solve).collect();
        if nodes.is_empty() {
            return None;
        }
        refine(&mut nodes, solve);
        let best = best_of(&nodes);

        let open = (
            nodes[0].fit.evidence > nodes[best].fit.evidence - 2.0,
            nodes[nodes.len() - 1].fit.evidence > nodes[best].fit.evidence - 2.0,
        );
        let (mass, causes) = integrate(hypothesis, &nodes, open);
        let interior = best > 0 && best + 1 < nodes.len();
        let moves = nodes.iter().any(|node| {
            node.prediction
                .y
                .iter()
                .zip(&nodes[best].prediction.y)
                .zip(&nodes[best].fit.standard)
                .any(|((a, b), standard)| (a - b).abs() > *standard)
        });
        let places = nodes.iter().map(|node| node.place).collect();
        let best = nodes.swap_remove(best);
        let value_matters = interior && moves;
        Some(Trace { places, best, mass, causes, value_matters, other_state: false })
    }

    /// Takes in the other states that the board may stay in with this change, at a few places of
    /// its line: they share what is not the power-up state's.
    pub(super) fn with_other_states(
        mut self,
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        others: &dyn Fn(&Overlay) -> Vec<(f64, Prediction)>,
    ) -> Trace {
        let mut places = vec![self.best.place];
        if case.may_latch() {
            places.extend([self.places.first(), self.places.last()].into_iter().flatten());
            places.dedup();
        }
        let evidence = self.best.fit.evidence;
        for place in places {
            let others = others(&hypothesis.overlay(place));
            for (share, prediction) in others {
                let Some(fit) = Fit::new(case, &prediction) else { continue };
                // The width that the line gives to the power-up state is given to this one too.
                let mass = self.mass - evidence + fit.evidence + share.ln();
                // Neither has any weight left: nothing to add, and no difference of infinities.
                if !mass.is_finite() {
                    continue;
                }
                let top = self.mass.max(mass);
                if fit.distance < self.best.fit.distance {
                    self.best = Node { place, prediction, fit };
                    self.other_state = true;
                }
                self.mass = top + ((self.mass - top).exp() + (mass - top).exp()).ln();
            }
        }
        self
    }
}

fn best_of(nodes: &[Node]) -> usize {
    let least = |a: &usize, b: &usize| nodes[*a].fit.distance.total_cmp(&nodes[*b].fit.distance);
    (0..nodes.len()).min_by(least).unwrap_or(0)
}

/// Halves intervals that matter until they are close.
fn refine(nodes: &mut Vec<Node>, solve: impl Fn(f64) -> Option<Node>) {
    let mut checked: Vec<bool> = vec![false; nodes.len().saturating_sub(1)];
    // Halvings in a row that brought the ends of an interval no nearer: a part changes its state
    // there, and no place inside is between the two.
    let mut jumps: Vec<u8> = vec![0; checked.len()];
    while nodes.len() < MOST {
        let least = nodes[best_of(nodes)].fit.distance;
        // The interval whose straight line passes nearest to the readings goes first.
        let mut chosen: Option<(f64, usize, f64)> = None;
        for idx in 0..nodes.len() - 1 {
            if checked[idx] {
                continue;
            }
            let (apart, passing, share) = chord(&nodes[idx], &nodes[idx + 1]);
            let close = if least.min(passing) > HOPELESS { 0.2 * least.sqrt() } else { CLOSE };
            let bound = (passing.sqrt() - BEND * apart).max(0.0).powi(2);
            if apart < close || bound > (least + FAR).min(HOPELESS) {
                continue;
            }
            if chosen.is_none_or(|(best, ..)| passing < best) {
                chosen = Some((passing, idx, share));
            }
        }
        let Some((_, idx, share)) = chosen else { return };
        let (from, to) = (nodes[idx].place, nodes[idx + 1].place);
        let middle = from + (to - from) * share.clamp(0.2, 0.8);
        match solve(middle).filter(|_| to - from > 1e-7) {
            Some(node) => {
                let before = chord(&nodes[idx], &nodes[idx + 1]).0;
                nodes.insert(idx + 1, node);
                checked.insert(idx + 1, false);
                jumps.insert(idx + 1, jumps[idx]);
                for half in [idx, idx + 1] {
                    let apart = chord(&nodes[half], &nodes[half + 1]).0;
                    jumps[half] = if apart > JUMP * before { jumps[half] + 1 } else { 0 };
                    checked[half] |= jumps[half] >= MOST_JUMPS;
                }
            }
            // No operating point inside: the line is broken here.
            None => checked[idx] = true,
        }
    }
}

/// Of the straight line, in readings, between two nodes: its length in standard uncertainties, the
/// least squared distance to the readings on it, and where along it that is.
fn chord(a: &Node, b: &Node) -> (f64, f64, f64) {
    let step = nalgebra::DVector::from_fn(a.prediction.y.len(), |idx, _| {
        b.prediction.y[idx] - a.prediction.y[idx]
    });
    let better = if a.fit.distance <= b.fit.distance { a } else { b };
    let solved = better.fit.cholesky.solve(&step);
    let length = step.dot(&solved);
    let along = a.fit.residual.dot(&solved);
    let share = if length > 0.0 { (along / length).clamp(0.0, 1.0) } else { 0.5 };
    let start = a.fit.residual.dot(&better.fit.cholesky.solve(&a.fit.residual));
    let passing = (start - 2.0 * share * along + share * share * length).max(0.0);
    (length.sqrt(), passing.min(a.fit.distance).min(b.fit.distance), share)
}

/// The mass of one kind of cause along the line.
struct Running {
    /// The cause that turns places into values.
    cause: usize,
    /// Places with the mass at and below them; a point with weight of its own has two entries.
    marks: Vec<(f64, f64)>,
}

impl Running {
    fn total(&self) -> f64 {
        self.marks.last().map_or(0.0, |(_, sum)| *sum)
    }

    /// The place below which this share of the mass lies.
    fn quantile(&self, share: f64) -> f64 {
        let wanted = share * self.total();
        let idx = self.marks.iter().position(|(_, sum)| *sum >= wanted);
        let idx = idx.unwrap_or(self.marks.len() - 1);
        if idx == 0 {
            return self.marks[0].0;
        }
        let ((from, low), (to, high)) = (self.marks[idx - 1], self.marks[idx]);
        let part = if high > low { (wanted - low) / (high - low) } else { 1.0 };
        from + (to - from) * part.clamp(0.0, 1.0)
    }
}

/// Weight times evidence over the whole line (trapezoids in the evidence, exact in the weight),
/// and the causes by their share of it.
fn integrate(
    hypothesis: &Hypothesis,
    nodes: &[Node],
    open: (bool, bool),
) -> (f64, Vec<CauseShare>) {
    let top = nodes.iter().map(|node| node.fit.evidence).fold(f64::NEG_INFINITY, f64::max);
    let likelihood = |node: &Node| (node.fit.evidence - top).exp();
    // Causes of one name count together: a drift and its decade slips.
    let mut kinds: Vec<(Fault, Running)> = Vec::new();
    for (idx, cause) in hypothesis.causes.iter().enumerate() {
        let name = cause.fault.with_value(None);
        if !kinds.iter().any(|(known, _)| *known == name) {
            kinds.push((name, Running { cause: idx, marks: Vec::new() }));
        }
    }
    for (name, running) in &mut kinds {
        let own = || hypothesis.causes.iter().filter(|cause| cause.fault.with_value(None) == *name);
        let mut sum = 0.0;
        for (idx, node) in nodes.iter().enumerate() {
            if let Some(before) = idx.checked_sub(1).map(|idx| &nodes[idx]) {
                let weight: f64 =
                    own().map(|cause| cause.weight_between(before.place, node.place)).sum();
                sum += weight * 0.5 * (likelihood(before) + likelihood(node));
            }
            running.marks.push((node.place, sum));
            let here = |cause: &&crate::fault::Cause| {
                cause.point().is_some_and(|at| (at - node.place).abs() < 1e-6)
            };
            let points: f64 = own().filter(here).map(|cause| cause.weight).sum();
            if points > 0.0 {
                sum += points * likelihood(node);
                running.marks.push((node.place, sum));
            }
        }
    }
    let total: f64 = kinds.iter().map(|(_, running)| running.total()).sum();
    if total <= 0.0 {
        return (f64::MIN_POSITIVE.ln() + top, by_weight(hypothesis));
    }
    let mut causes: Vec<CauseShare> = kinds
        .iter()
        .filter(|(_, running)| running.total() >= LEAST_CAUSE * total)
        .map(|(_, running)| {
            let cause = &hypothesis.causes[running.cause];
            let value = |share: f64| cause.at(running.quantile(share)).value();
            let last = running.marks.len() - 1;
            let (first_mass, last_mass) = (
                running.marks[1.min(last)].1,
                running.total() - running.marks[last - 1.min(last)].1,
            );
            CauseShare {
                fault: cause.at(running.quantile(0.5)),
                share: running.total() / total,
                low: (!(open.0 && first_mass > 0.0)).then(|| value(0.025)).flatten(),
                high: (!(open.1 && last_mass > 0.0)).then(|| value(0.975)).flatten(),
            }
        })
        .collect();
    causes.sort_by(|a, b| b.share.total_cmp(&a.share));
    (total.ln() + top, causes)
}

/// The causes by their weight alone, for a change without a value, and for a line on which no
/// place has any weight left.
fn by_weight(hypothesis: &Hypothesis) -> Vec<CauseShare> {
    let total = hypothesis.weight();
    let mut causes: Vec<CauseShare> = hypothesis
        .causes
        .iter()
        .map(|cause| CauseShare {
            fault: cause.fault,
            share: cause.weight / total,
            low: None,
            high: None,
        })
        .collect();
    causes.sort_by(|a, b| b.share.total_cmp(&a.share));
    causes.dedup_by(|a, b| a.fault == b.fault);
    causes
}
