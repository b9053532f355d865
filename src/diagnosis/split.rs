//! Hypotheses whose board may come to either of two states, because a threshold lies within
//! tolerance.
//!
//! # Formula
//!
//! With y the readings and m the volts by which the condition is met, both linear in the tolerances,
//! a board on this side of the threshold is the Gaussian of y with the probability that m is above
//! nothing given y:
//!
//! ```text
//! p(y, m > 0) = N(y; ŷ, Σ) · Φ( (m̂ + cᵀΣ⁻¹r) / √(s² − cᵀΣ⁻¹c) )
//! ```
//!
//! where c is the covariance of m with y, s² the variance of m and r the residual. A board on the other
//! side has the readings of the board with the condition held the other way, and the probability that
//! its m is below nothing. The evidences add.

use super::case::{Board, Case, Prediction};
use super::fit::{Fit, chi_square_99, ln_between};
use super::screen::{Line, Near};
use super::trace::{HOPELESS, Node, Trace};
use super::tried::ln_sum;
use crate::circuit::{Overlay, PartId};
use crate::engine::{Margin, Watch};
use crate::fault::Hypothesis;

/// A threshold further away than this many standard uncertainties on the board as it stands is not
/// looked into: where the condition holds, its volts may have moved since it switched.
const NEAR: f64 = 6.0;
/// A threshold further away than this many standard uncertainties is not, either.
const FAR: f64 = 4.0;
/// A board on the other side that comes nearer to the readings than this much more in squared
/// distance is followed along the line of its fault.
const FOLLOWED: f64 = 40.0;

/// A condition that tolerances may decide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Flipped {
    /// The part.
    pub part: PartId,
    /// What the condition stands for, such as `enable`.
    pub condition: &'static str,
    /// Whether it holds on the board that the readings fit, unlike on the nominal one.
    pub on: bool,
}

/// The boards of all setups with one condition held on or off, and how far its volts are past the
/// threshold on a board where it is off: positive where it switches on by itself.
fn held(case: &Case<'_>, overlay: &Overlay, near: &Near, on: bool) -> Option<(Vec<Board>, Margin)> {
    let assembly = case.assembly;
    let mut boards: Vec<Board> = Vec::new();
    let mut margin = None;
    for (number, (setup, _)) in case.setups.iter().enumerate() {
        if number != near.number {
            let power_up = assembly.power_up(*setup, overlay, None);
            boards.push(vec![(power_up.network, power_up.run.point?)]);
            continue;
        }
        let off = assembly.power_up_held(*setup, overlay, &near.watch, false)?;
        margin = Some(assembly.margin(*setup, &off.0, &off.1, &near.watch));
        boards.push(vec![if on {
            assembly.power_up_held(*setup, overlay, &near.watch, true)?
        } else {
            off
        }]);
    }
    Some((boards, margin?))
}

/// Takes into a fit that a margin is above nothing.
fn with_margin(fit: &mut Fit, prediction: &Prediction, margin: &Margin, sign: f64) {
    let covariance: Vec<f64> = prediction
        .spread
        .iter()
        .map(|row| row.iter().zip(&margin.spread).map(|(a, b)| sign * a * b).sum())
        .collect();
    let covariance = nalgebra::DVector::from_vec(covariance);
    let weights = fit.cholesky.solve(&covariance);
    let mean = sign * margin.volts + weights.dot(&fit.residual);
    let variance = margin.standard().powi(2) - weights.dot(&covariance);
    let deviation = variance.max(0.0).sqrt().max(1e-9);
    let z = mean / deviation;
    fit.evidence += ln_between(-z, f64::INFINITY);
    fit.distance += z.min(0.0).powi(2);
}

/// Boards with a condition held on or off at one place, with what it costs to be on that side.
fn side_at(
    case: &Case<'_>,
    line: Option<&Line<'_>>,
    overlay: &Overlay,
    near: &Near,
    on: bool,
) -> Option<(Prediction, Fit, Margin)> {
    let quick = line.and_then(|line| line.held(case, overlay, near, on));
    let (prediction, margin) = match quick {
        Some(quick) => quick,
        None => {
            let (boards, margin) = held(case, overlay, near, on)?;
            (case.predict_at(&boards).ok()?, margin)
        }
    };
    let mut fit = Fit::new(case, &prediction)?;
    with_margin(&mut fit, &prediction, &margin, if on { 1.0 } else { -1.0 });
    Some((prediction, fit, margin))
}

/// What a healthy board predicts on the other side of a threshold, with its fit; and the natural
/// logarithm of the evidence of both sides together.
pub(super) fn healthy_sides(
    case: &Case<'_>,
    line: Option<&Line<'_>>,
    prediction: &mut Prediction,
    fit: &mut Fit,
) -> Option<Flipped> {
    let overlay = Overlay::none();
    let nominal = (prediction.clone(), fit.clone());
    let mut other_side = None;
    for near in near(case, line, &overlay) {
        let other = side_at(case, line, &overlay, &near, !near.on).filter(in_reach);
        let Some((other, other_fit, margin)) = other else { continue };
        let lost = lost_to(&nominal, &margin, near.on);
        let evidence = ln_sum([fit.evidence + lost, other_fit.evidence].into_iter());
        if other_fit.distance < fit.distance {
            other_side = Some(flipped(&near, !near.on));
            (*prediction, *fit) = (other, other_fit);
        }
        fit.evidence = evidence;
    }
    other_side
}

/// Whether tolerances can bring a board to the side that it is held on.
fn in_reach((_, _, margin): &(Prediction, Fit, Margin)) -> bool {
    margin.volts.abs() <= FAR * margin.standard()
}

/// Natural logarithm of the share that boards on the nominal side have of a fit.
fn lost_to((prediction, fit): &(Prediction, Fit), margin: &Margin, on: bool) -> f64 {
    let mut own = fit.clone();
    with_margin(&mut own, prediction, margin, if on { 1.0 } else { -1.0 });
    own.evidence - fit.evidence
}

/// The condition with the side that it is held on.
fn flipped(near: &Near, on: bool) -> Flipped {
    let Watch { part, condition, .. } = near.watch;
    Flipped { part, condition: condition.name, on }
}

/// Conditions near their thresholds with a change, as the reduced boards have it.
fn near(case: &Case<'_>, line: Option<&Line<'_>>, overlay: &Overlay) -> Vec<Near> {
    let line = line.filter(|_| case.assembly.has_states());
    line.and_then(|line| line.near(case, overlay, NEAR)).unwrap_or_default()
}

impl Trace {
    /// Takes in the boards on the other side of every threshold that lies within tolerance at the
    /// best place of the line: those that switch where the nominal one does not.
    pub(super) fn with_splits(
        mut self,
        case: &Case<'_>,
        hypothesis: &Hypothesis,
        line: Option<&Line<'_>>,
    ) -> Trace {
        let overlay = hypothesis.overlay(self.best.place);
        for near in near(case, line, &overlay) {
            let other = side_at(case, line, &overlay, &near, !near.on).filter(in_reach);
            if other.is_none() {
                continue;
            }
            let n_numbers = case.n_numbers();
            let fits = self.best.fit.distance <= chi_square_99(n_numbers);
            let is_close = other.as_ref().is_some_and(|(_, fit, _)| {
                fit.distance < self.best.fit.distance + FOLLOWED && fit.distance < HOPELESS
            });
            // Along a line both sides go on past the place where the nominal board switches.
            if hypothesis.curve.is_some()
                && (is_close || !fits && self.best.fit.distance < HOPELESS)
            {
                let along = |on: bool| {
                    let at =
                        |place: f64| side_at(case, line, &hypothesis.overlay(place), &near, on);
                    let trace = Trace::along_fitted(case, hypothesis, &|place| {
                        at(place).map(|(prediction, fit, _)| (prediction, fit))
                    })?;
                    // Where the nominal board has it the other way, the side is a flipped one.
                    let (_, _, margin) = at(trace.best.place)?;
                    let nominal = margin.volts >= 0.0;
                    let side = (nominal != on).then(|| flipped(&near, on));
                    Some(Trace { flipped: side, ..trace })
                };
                self = self.or_sides(along(near.on), along(!near.on));
                continue;
            }
            let Some((prediction, fit, margin)) = other else { continue };
            let nominal = (self.best.prediction.clone(), self.best.fit.clone());
            let lost = lost_to(&nominal, &margin, near.on);
            let other = Trace {
                mass: self.mass - self.best.fit.evidence + fit.evidence,
                best: Node { place: self.best.place, prediction, fit },
                flipped: Some(flipped(&near, !near.on)),
                ..self.clone()
            };
            self.mass += lost;
            self = self.or(other);
        }
        self
    }

    /// Both sides of a threshold along a line, in place of the nominal boards.
    fn or_sides(self, here: Option<Trace>, there: Option<Trace>) -> Trace {
        let other_state = self.other_state;
        let sides = match (here, there) {
            (Some(here), Some(there)) => here.or(there),
            (Some(only), None) | (None, Some(only)) => only,
            (None, None) => return self,
        };
        Trace { other_state, ..sides }
    }

    /// Two sides together: values and causes are told of the one that weighs more.
    fn or(self, other: Trace) -> Trace {
        let mass = ln_sum([self.mass, other.mass].into_iter());
        let heavier = if other.mass > self.mass { other } else { self };
        if mass.is_finite() { Trace { mass, ..heavier } } else { heavier }
    }
}
