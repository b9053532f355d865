//! All equations of a circuit at once: volts of every net and amps of every branch as unknowns.
//!
//! The sparse tableau (G. D. Hachtel, R. K. Brayton, F. G. Gustavson, IEEE Trans. Circuit Theory
//! 18, 1971; from memory) keeps milliohms and megohms apart, so that what a lesson solves agrees
//! with the engine to the digits that it prints.

use super::branch::{Branch, Form, Pair};
use crate::engine::Factor;

/// Volts of every net and amps of every branch.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Volts, by net.
    pub volts: Vec<f64>,
    /// Amps, by branch.
    pub amps: Vec<f64>,
}

impl Solution {
    /// Volts between two nets.
    pub fn across(&self, [plus, minus]: Pair) -> f64 {
        self.volts[plus] - self.volts[minus]
    }
}

/// Solves the equations of these branches; `fixed` are nets whose volts are given.
///
/// `None` where they have no single answer.
pub(super) fn solve(
    n_nets: usize,
    branches: &[Branch],
    fixed: &[(usize, f64)],
) -> Option<Solution> {
    let flows: Vec<usize> =
        (0..branches.len()).filter(|&at| !branches[at].form.is_open()).collect();
    let place = |branch: usize| flows.iter().position(|&at| at == branch).map(|at| n_nets + at);
    let n = n_nets + flows.len();
    let mut rows = vec![vec![0.0; n]; n];
    let mut right = vec![0.0; n];
    for (at, &branch) in flows.iter().enumerate() {
        let own = &branches[branch];
        rows[own.from][n_nets + at] += 1.0;
        rows[own.to][n_nets + at] -= 1.0;
        let row = n_nets + at;
        let amps = row;
        let mut volts = |factor: f64, [plus, minus]: Pair| {
            rows[row][plus] += factor;
            rows[row][minus] -= factor;
        };
        let between = [own.from, own.to];
        match &own.form {
            Form::Open => {}
            Form::Resistance { ohms } => {
                volts(1.0, between);
                rows[row][amps] -= ohms;
            }
            Form::Source { volts: given, ohms } => {
                volts(1.0, between);
                rows[row][amps] -= ohms;
                right[row] = *given;
            }
            Form::Current { amps: given } => {
                rows[row][amps] = 1.0;
                right[row] = *given;
            }
            Form::Companion { siemens, amps: given } => {
                volts(-siemens, between);
                rows[row][amps] += 1.0;
                right[row] = *given;
            }
            Form::Relation { terms, volts: given, ohms } => {
                terms.iter().for_each(|(factor, pair)| volts(*factor, *pair));
                rows[row][amps] -= ohms;
                right[row] = *given;
            }
            Form::Ratio { terms } => {
                for (factor, of) in terms {
                    if let Some(other) = place(*of) {
                        rows[row][other] -= factor;
                    }
                }
                rows[row][amps] += 1.0;
            }
            Form::Steered { terms, amps: given } => {
                terms.iter().for_each(|(factor, pair)| volts(-factor, *pair));
                rows[row][amps] += 1.0;
                right[row] = *given;
            }
        }
        let largest = rows[row].iter().fold(0.0_f64, |most, entry| most.max(entry.abs()));
        if largest > 0.0 {
            rows[row].iter_mut().for_each(|entry| *entry /= largest);
            right[row] /= largest;
        }
    }
    for &(net, volts) in std::iter::once(&(0, 0.0)).chain(fixed) {
        rows[net].fill(0.0);
        rows[net][net] = 1.0;
        right[net] = volts;
    }
    let factor = Factor::of_rows(&rows).filter(|factor| factor.reciprocal_condition() > LEAST)?;
    let mut x = factor.solve(&right);
    // What rounding left over is solved for again.
    for _ in 0..3 {
        let left: Vec<f64> = rows
            .iter()
            .zip(&right)
            .map(|(row, right)| right - row.iter().zip(&x).map(|(a, b)| a * b).sum::<f64>())
            .collect();
        for (x, more) in x.iter_mut().zip(factor.solve(&left)) {
            *x += more;
        }
    }
    if x.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let mut amps = vec![0.0; branches.len()];
    for (at, &branch) in flows.iter().enumerate() {
        amps[branch] = x[n_nets + at];
    }
    x.truncate(n_nets);
    Some(Solution { volts: x, amps })
}

/// The reciprocal condition number below which the equations count as having no single answer.
const LEAST: f64 = 1e-17;

/// Nets that nothing joins to ground: of each group the first, whose volts are to be given.
pub(super) fn floating(n_nets: usize, branches: &[Branch]) -> Vec<Vec<usize>> {
    let mut group: Vec<usize> = (0..n_nets).collect();
    let mut join = |a: usize, b: usize| {
        let (a, b) = (group[a], group[b]);
        let (low, high) = (a.min(b), a.max(b));
        for member in &mut group {
            if *member == high {
                *member = low;
            }
        }
    };
    for branch in branches.iter().filter(|branch| !branch.form.is_open()) {
        // A given current joins nothing: it leaves the volts of its ends open.
        if matches!(branch.form, Form::Current { .. } | Form::Ratio { .. }) {
            continue;
        }
        if let Form::Relation { terms, .. } = &branch.form {
            terms.iter().for_each(|(_, [plus, minus])| join(*plus, *minus));
            continue;
        }
        join(branch.from, branch.to);
    }
    let mut found: Vec<Vec<usize>> = Vec::new();
    for net in 1..n_nets {
        if group[net] == net {
            found.push((net..n_nets).filter(|other| group[*other] == net).collect());
        }
    }
    found
}
