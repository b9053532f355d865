//! A hypothesis traced along its value: where it fits best, and its evidence as an integral.
//!
//! Evidence of a fault with a value is ∫ p(θ) L(θ) dθ over the prior density of its causes: a fault
//! with a free value pays for its freedom. The places are few where nothing fits and close where
//! something does: an interval is halved while a straight line between its ends, in readings, would
//! pass a place that matters.

use super::case::{Case, Prediction};
use super::fit::{Fit, chi_square_99};
use super::split::Flipped;
use super::value::{CauseShare, by_weight, integrate};
use crate::circuit::Overlay;
use crate::fault::{Curve, Hypothesis};

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
    /// The condition that a board has to have the other way than the nominal one for the readings to
    /// fit best, its threshold being within tolerance.
    pub flipped: Option<Flipped>,
    /// How the readings move along the line at the best place, on the scales of their targets: what
    /// lies between its neighbours. Empty for a change without a value.
    pub along: Vec<f64>,
    /// How far those neighbours are apart.
    pub width: f64,
    /// Places with the share of the mass at and below them; a place with weight of its own stands
    /// twice, without it and with it. Empty for a change without a value.
    pub below: Vec<(f64, f64)>,
}

impl Trace {
    /// Traces a hypothesis; `None` when it has no operating point anywhere. `predict` says what
    /// a change predicts, in full or by the reduced board.
    pub fn new(
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        predict: &dyn Fn(&Overlay) -> Option<Prediction>,
    ) -> Option<Trace> {
        Trace::along(case, hypothesis, &|place| predict(&hypothesis.overlay(place)))
    }

    /// The same with a prediction for every place of the line, for what is not a change of the
    /// board alone.
    pub fn along(
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        predict: &dyn Fn(f64) -> Option<Prediction>,
    ) -> Option<Trace> {
        Trace::along_fitted(case, hypothesis, &|place| {
            let prediction = predict(place)?;
            let fit = Fit::new(case, &prediction)?;
            Some((prediction, fit))
        })
    }

    /// The same with predictions that are fitted already.
    pub(super) fn along_fitted(
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        fitted: &dyn Fn(f64) -> Option<(Prediction, Fit)>,
    ) -> Option<Trace> {
        let solve = |place: f64| -> Option<Node> {
            let (prediction, fit) = fitted(place)?;
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
                flipped: None,
                along: Vec::new(),
                width: 0.0,
                below: Vec::new(),
            });
        };
        let first = first_places(hypothesis, curve);
        let mut nodes = solved_in_turn(case, &first, solve);
        if nodes.is_empty() {
            return None;
        }
        refine(&mut nodes, HOPELESS, solve);
        let best = best_of(&nodes);

        let open = (
            nodes[0].fit.evidence > nodes[best].fit.evidence - 2.0,
            nodes[nodes.len() - 1].fit.evidence > nodes[best].fit.evidence - 2.0,
        );
        let n_numbers = case.n_numbers();
        let (mass, causes, below) = integrate(hypothesis, &nodes, open, n_numbers);
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
        let [low, high] = [best.saturating_sub(1), (best + 1).min(nodes.len() - 1)];
        let ends = nodes[low].prediction.y.iter().zip(&nodes[high].prediction.y);
        let along = ends.map(|(low, high)| high - low).collect();
        let width = nodes[high].place - nodes[low].place;
        let best = nodes.swap_remove(best);
        let value_matters = interior && moves;
        Some(Trace {
            places,
            best,
            mass,
            causes,
            value_matters,
            other_state: false,
            flipped: None,
            along,
            width,
            below,
        })
    }

    /// Readings that are left to test the best place, of so many numbers.
    pub(super) fn freedom(&self, n_numbers: usize) -> usize {
        n_numbers.saturating_sub(usize::from(self.value_matters))
    }

    /// Whether the best place is within what chance makes of it.
    pub(super) fn fits(&self, n_numbers: usize) -> bool {
        self.best.fit.distance <= chi_square_99(self.freedom(n_numbers).max(1))
    }

    /// The share of the mass below a place of the line, and the share at and below it: the two
    /// differ where the place has weight of its own.
    pub fn share_below(&self, hypothesis: &Hypothesis, place: f64) -> (f64, f64) {
        let same = |known: f64| (known - place).abs() < 1e-6;
        let mut before: Option<(f64, f64)> = None;
        for (idx, &(known, share)) in self.below.iter().enumerate() {
            if same(known) {
                let last = self.below[idx..].iter().take_while(|(known, _)| same(*known)).last();
                return (share, last.map_or(share, |(_, share)| *share));
            }
            if known > place {
                let Some((from, start)) = before else { return (0.0, 0.0) };
                let weight = |from: f64, to: f64| -> f64 {
                    hypothesis.causes.iter().map(|cause| cause.weight_between(from, to)).sum()
                };
                let all = weight(from, known);
                let part = if all > 0.0 { weight(from, place) / all } else { 0.5 };
                let share = start + (share - start) * part;
                return (share, share);
            }
            before = Some((known, share));
        }
        (1.0, 1.0)
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
        // The width that the line gives to the power-up state is given to the others too, evenly
        // over the places that they are looked at. It is that of the line as it came: what other
        // states weigh is no part of it.
        let width = self.mass - self.best.fit.evidence - (places.len() as f64).ln();
        for place in places {
            let others = others(&hypothesis.overlay(place));
            for (share, prediction) in others {
                let Some(fit) = Fit::new(case, &prediction) else { continue };
                let mass = width + fit.evidence + share.ln();
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

/// The place of a line with the least distance, as far as distances up to a limit are looked for, with
/// that distance; `known` is a place that is looked at besides the usual ones.
pub(super) fn least_along(
    hypothesis: &Hypothesis,
    (known, limit): (f64, f64),
    solve: &dyn Fn(f64) -> Option<Node>,
) -> Option<(f64, f64)> {
    let curve = hypothesis.curve.as_ref()?;
    let mut places = first_places(hypothesis, curve);
    places.push(known);
    places.sort_by(f64::total_cmp);
    places.dedup();
    let mut nodes: Vec<Node> = places.into_iter().filter_map(solve).collect();
    if nodes.is_empty() {
        return None;
    }
    refine(&mut nodes, limit, solve);
    let best = &nodes[best_of(&nodes)];
    Some((best.place, best.fit.distance))
}

/// The places that a line starts with.
fn first_places(hypothesis: &Hypothesis, curve: &Curve) -> Vec<f64> {
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
    places
}

/// The nodes at places in rising order, each solved after its neighbour below. Where the board has
/// states the last one goes first: what is alike on both sides of a place need not be looked for again
/// at it.
fn solved_in_turn(
    case: &Case<'_>,
    places: &[f64],
    solve: impl Fn(f64) -> Option<Node>,
) -> Vec<Node> {
    let Some((last, others)) = places.split_last() else { return Vec::new() };
    let first = case.assembly.has_states().then(|| solve(*last));
    let mut nodes: Vec<Node> = others.iter().filter_map(|place| solve(*place)).collect();
    nodes.extend(first.unwrap_or_else(|| solve(*last)));
    nodes
}

fn best_of(nodes: &[Node]) -> usize {
    let least = nodes.iter().map(|node| node.fit.distance).fold(f64::INFINITY, f64::min);
    // Where the readings do not move along a stretch, its first place: not the one that rounding favours.
    let alike = least + SAME * (1.0 + least);
    nodes.iter().position(|node| node.fit.distance <= alike).unwrap_or(0)
}

/// Halves intervals that matter until they are close; those that come no nearer than `limit` do not.
fn refine(nodes: &mut Vec<Node>, limit: f64, solve: impl Fn(f64) -> Option<Node>) {
    let mut checked: Vec<bool> = vec![false; nodes.len().saturating_sub(1)];
    // Halvings in a row that brought the ends of an interval no nearer: a part changes its state
    // there, and no place inside is between the two.
    let mut jumps: Vec<u8> = vec![0; checked.len()];
    let mut chords: Vec<Chord> = nodes.windows(2).map(|pair| chord(&pair[0], &pair[1])).collect();
    while nodes.len() < MOST {
        let least = nodes[best_of(nodes)].fit.distance;
        // The interval whose straight line passes nearest to the readings goes first.
        let mut chosen: Option<(f64, usize, f64)> = None;
        for idx in 0..nodes.len() - 1 {
            if checked[idx] {
                continue;
            }
            let (apart, passing, share) = chords[idx];
            let close = if least.min(passing) > HOPELESS { 0.2 * least.sqrt() } else { CLOSE };
            let bound = (passing.sqrt() - BEND * apart).max(0.0).powi(2);
            if apart < close || bound > (least + FAR).min(limit) {
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
                let before = chords[idx].0;
                nodes.insert(idx + 1, node);
                chords[idx] = chord(&nodes[idx], &nodes[idx + 1]);
                chords.insert(idx + 1, chord(&nodes[idx + 1], &nodes[idx + 2]));
                checked.insert(idx + 1, false);
                jumps.insert(idx + 1, jumps[idx]);
                for half in [idx, idx + 1] {
                    jumps[half] = if chords[half].0 > JUMP * before { jumps[half] + 1 } else { 0 };
                    checked[half] |= jumps[half] >= MOST_JUMPS;
                }
            }
            // No operating point inside: the line is broken here.
            None => checked[idx] = true,
        }
    }
}

/// Distances that differ by this share are the same.
const SAME: f64 = 1e-9;

/// A straight line, in readings, between two nodes: its length in standard uncertainties, the least
/// squared distance to the readings on it, and where along it that is.
type Chord = (f64, f64, f64);

fn chord(a: &Node, b: &Node) -> Chord {
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
