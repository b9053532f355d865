//! Newton's method written out: every curve as its tangent, step after step.

use super::branch::Branch;
use super::form::Tangent;
use super::scene::{Choice, Scene};
use super::tableau::{Solution, solve};
use crate::device::Law;

/// The most steps.
const MOST: usize = 60;

/// A step is the last one when no curve moved by more, in volts.
const STILL: f64 = 1e-9;

/// A curve in one step.
#[derive(Debug, Clone, PartialEq)]
pub struct Touched {
    /// The number of its branch.
    pub branch: usize,
    /// Where the tangent touches: the branch's own volts, then those it senses.
    pub volts: Vec<f64>,
    /// Amps there.
    pub amps: f64,
    /// Slopes there, in siemens, in the order of the volts.
    pub siemens: Vec<f64>,
    /// Amps of the tangent with all volts at zero.
    pub source: f64,
    /// The branch's own volts that the equations give.
    pub found: f64,
    /// Whether the next tangent touches nearer than that.
    pub limited: bool,
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The curves.
    pub curves: Vec<Touched>,
    /// The largest sum of the currents at a net, with the curves themselves in place of the
    /// tangents, in amps.
    pub residual: f64,
}

/// Where a walk ended.
pub(super) struct Walked {
    pub(super) branches: Vec<Branch>,
    pub(super) solution: Solution,
    pub(super) steps: Vec<Step>,
}

/// Solves the branches with these choices; the curves are walked to from their starts. `None` where
/// the equations have no answer or the steps do not settle.
pub(super) fn walk(
    scene: &Scene<'_>,
    mut choices: Vec<Choice>,
    fixed: &[(usize, f64)],
) -> Option<Walked> {
    let n_nets = scene.network.n_nets;
    let curves: Vec<usize> =
        (0..choices.len()).filter(|&at| matches!(choices[at], Choice::Tangent(_))).collect();
    let mut steps = Vec::new();
    for _ in 0..MOST {
        let branches = scene.branches(&choices);
        let solution = solve(n_nets, &branches, fixed)?;
        if curves.is_empty() {
            return Some(Walked { branches, solution, steps });
        }
        let mut touched = Vec::new();
        let mut left = vec![0.0; n_nets];
        let mut furthest = 0.0_f64;
        for &at in &curves {
            let element = &scene.network.elements[at];
            let Choice::Tangent(old) = &choices[at] else { continue };
            let pairs = scene.pairs(element);
            let new: Vec<f64> = pairs.iter().map(|pair| solution.across(*pair)).collect();
            let tangent = Tangent::new(&element.law, old)?;
            let along: f64 = tangent.amps
                + tangent
                    .slopes
                    .iter()
                    .zip(&new)
                    .zip(old)
                    .map(|((g, new), old)| g * (new - old))
                    .sum::<f64>();
            let missed = Tangent::new(&element.law, &new)?.amps - along;
            left[element.from] += missed;
            left[element.to] -= missed;
            let mut next = new.clone();
            match &element.law {
                Law::Curve(curve) => next[0] = curve.limit(new[0], old[0]),
                Law::Driven(law) => law.limit(&mut next, old),
                _ => {}
            }
            let moved = next.iter().zip(old).map(|(next, old)| (next - old).abs());
            furthest = moved.fold(furthest, f64::max);
            let source =
                tangent.amps - tangent.slopes.iter().zip(old).map(|(g, v)| g * v).sum::<f64>();
            touched.push(Touched {
                branch: at,
                volts: old.clone(),
                amps: tangent.amps,
                siemens: tangent.slopes,
                source,
                found: new[0],
                limited: next != new,
            });
            choices[at] = Choice::Tangent(next);
        }
        let residual = left.iter().fold(0.0_f64, |most, amps| most.max(amps.abs()));
        steps.push(Step { curves: touched, residual });
        if furthest <= STILL {
            // The tangents of the last step are the ones to print: they touch at the answer.
            let branches = scene.branches(&choices);
            let solution = solve(n_nets, &branches, fixed)?;
            return Some(Walked { branches, solution, steps });
        }
    }
    None
}
