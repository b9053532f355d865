//! Candidates that the readings so far do not tell apart.
//!
//! Two belong together when the difference of their best predictions, at the places read, is under
//! the chi-square 99 % quantile; tolerances are shared by both, so only what they do differently
//! counts, and the meter is one and the same.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::case::Case;
use super::fit::chi_square_99;
use super::trace::Node;
use crate::meter::Target;

/// The group of each node: connected components, numbered in order of their first member. Nodes
/// for which `joins` is false link no others: they stand in the group of the first one that they
/// are not told apart from, or alone.
pub(super) fn groups_of(case: &Case<'_>, nodes: &[(&Node, bool)]) -> Vec<usize> {
    let linking: Vec<&Node> =
        nodes.iter().filter(|(_, joins)| *joins).map(|(node, _)| *node).collect();
    let own = groups(case, &linking);
    let mut next = own.iter().max().map_or(0, |last| last + 1);
    let limit = chi_square_99(case.readings.len());
    let mut numbers = own.iter();
    nodes
        .iter()
        .map(|(node, joins)| {
            if *joins {
                return numbers.next().copied().unwrap_or(0);
            }
            let near = linking.iter().position(|other| difference(case, other, node) <= limit);
            near.map_or_else(
                || {
                    next += 1;
                    next - 1
                },
                |near| own[near],
            )
        })
        .collect()
}

/// The group of each node: connected components, numbered in order of their first member.
pub(super) fn groups(case: &Case<'_>, nodes: &[&Node]) -> Vec<usize> {
    let limit = chi_square_99(case.readings.len());
    components(nodes.len(), |a, b| difference(case, nodes[a], nodes[b]) <= limit)
}

/// The connected component of each of `n` things, numbered in order of their first member; `joined`
/// says whether two of them hold together, and is asked only of those that do not yet.
///
/// ```
/// use ohmhound::diagnosis::components;
/// assert_eq!(components(4, |a, b| (a, b) == (0, 2) || (a, b) == (2, 3)), [0, 1, 0, 0]);
/// ```
pub fn components(n: usize, joined: impl Fn(usize, usize) -> bool) -> Vec<usize> {
    let mut root: Vec<usize> = (0..n).collect();
    for a in 0..n {
        for b in a + 1..n {
            if root[a] != root[b] && joined(a, b) {
                let (keep, drop) = (root[a].min(root[b]), root[a].max(root[b]));
                for member in &mut root {
                    if *member == drop {
                        *member = keep;
                    }
                }
            }
        }
    }
    let mut known: Vec<usize> = Vec::new();
    root.into_iter()
        .map(|root| {
            known.iter().position(|seen| *seen == root).unwrap_or_else(|| {
                known.push(root);
                known.len() - 1
            })
        })
        .collect()
}

fn difference(case: &Case<'_>, a: &Node, b: &Node) -> f64 {
    let n = a.prediction.y.len();
    let spread: Vec<Vec<f64>> = (0..n)
        .map(|idx| {
            let (a, b) = (&a.prediction.spread[idx], &b.prediction.spread[idx]);
            // A row that ends early has nothing of what follows.
            let at = |row: &[f64], idx: usize| row.get(idx).copied().unwrap_or(0.0);
            (0..a.len().max(b.len())).map(|idx| at(a, idx) - at(b, idx)).collect()
        })
        .collect();
    let own: Vec<f64> = case.targets.iter().map(Target::standard).collect();
    let step: Vec<f64> = (0..n)
        .map(|idx| {
            let (a, b) = (a.prediction.y[idx], b.prediction.y[idx]);
            let target = &case.targets[idx];
            // Two predictions inside the same range look the same through it.
            let inside = |y: f64| y >= target.low && y <= target.high;
            if !target.is_number() && inside(a) && inside(b) { 0.0 } else { a - b }
        })
        .collect();
    squared_difference(&spread, &own, &step, &[])
}

/// The least squared distance from nothing on the ways from one difference of predictions to others,
/// as one of two hypotheses takes its values: with the covariance of what both do differently,
/// `spread` (one row per reading, one column per source), and each reading's own standard
/// uncertainty. Infinite where the covariance has no factors.
///
/// ```
/// use ohmhound::diagnosis::squared_difference;
/// // Two readings, each known to 1: (3, 4) is 5 away, and (0, 4) on the way to (-3, 4) is 4.
/// let spread = [vec![], vec![]];
/// assert!((squared_difference(&spread, &[1.0, 1.0], &[3.0, 4.0], &[]) - 25.0).abs() < 1e-9);
/// let ends = [vec![-3.0, 4.0]];
/// assert!((squared_difference(&spread, &[1.0, 1.0], &[3.0, 4.0], &ends) - 16.0).abs() < 1e-9);
/// ```
pub fn squared_difference(
    spread: &[Vec<f64>],
    own: &[f64],
    difference: &[f64],
    ends: &[Vec<f64>],
) -> f64 {
    let n = difference.len();
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        let shared: f64 = spread[i].iter().zip(&spread[j]).map(|(a, b)| a * b).sum();
        let own = if i == j { own[i].powi(2) + 1e-18 } else { 0.0 };
        shared + own
    });
    let Some(factors) = Cholesky::new(matrix) else { return f64::INFINITY };
    let start = DVector::from_column_slice(difference);
    let size = |at: &DVector<f64>| at.dot(&factors.solve(at));
    ends.iter()
        .map(|end| {
            let step = DVector::from_column_slice(end) - &start;
            let solved = factors.solve(&step);
            let length = step.dot(&solved);
            let share =
                if length > 0.0 { (-start.dot(&solved) / length).clamp(0.0, 1.0) } else { 0.0 };
            size(&(&start + step * share))
        })
        .fold(size(&start), f64::min)
}
