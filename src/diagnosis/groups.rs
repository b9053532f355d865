//! Candidates that the readings so far do not tell apart.
//!
//! Two belong together when the difference of their best predictions, at the places read, is under
//! the chi-square 99 % quantile; tolerances are shared by both, so only what they do differently
//! counts, and the meter is one and the same.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::case::Case;
use super::fit::chi_square_99;
use super::trace::Node;

/// The group of each node: connected components, numbered in order of their first member.
pub(super) fn groups(case: &Case<'_>, nodes: &[&Node]) -> Vec<usize> {
    let mut group: Vec<usize> = (0..nodes.len()).collect();
    let limit = chi_square_99(case.readings.len());
    for a in 0..nodes.len() {
        for b in a + 1..nodes.len() {
            if group[a] != group[b] && difference(case, nodes[a], nodes[b]) <= limit {
                let (keep, drop) = (group[a].min(group[b]), group[a].max(group[b]));
                for member in &mut group {
                    if *member == drop {
                        *member = keep;
                    }
                }
            }
        }
    }
    let mut known: Vec<usize> = Vec::new();
    group
        .into_iter()
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
            a.iter().zip(b).map(|(a, b)| a - b).collect()
        })
        .collect();
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        let shared: f64 = spread[i].iter().zip(&spread[j]).map(|(a, b)| a * b).sum();
        let own = if i == j { case.targets[i].standard().powi(2) + 1e-18 } else { 0.0 };
        shared + own
    });
    let step = DVector::from_fn(n, |idx, _| {
        let (a, b) = (a.prediction.y[idx], b.prediction.y[idx]);
        let target = &case.targets[idx];
        // Two predictions inside the same range look the same through it.
        let inside = |y: f64| y >= target.low && y <= target.high;
        if !target.is_number() && inside(a) && inside(b) { 0.0 } else { a - b }
    });
    Cholesky::new(matrix).map_or(f64::INFINITY, |factors| step.dot(&factors.solve(&step)))
}
