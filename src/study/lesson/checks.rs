//! The sums that show that an answer is one: currents into nets, volts round loops, powers.

use super::branch::{Branch, Form};
use super::tableau::Solution;

/// The currents at a net.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// The net.
    pub net: usize,
    /// Branches and the amps that leave the net through them.
    pub terms: Vec<(usize, f64)>,
    /// Their sum.
    pub sum: f64,
}

/// The volts round a loop.
#[derive(Debug, Clone, PartialEq)]
pub struct Loop {
    /// Branches in the order of the way, with whether the way goes with the branch, and the volts
    /// that are lost on the way, from the law of the branch and its current.
    pub terms: Vec<(usize, bool, f64)>,
    /// The nets in the order of the way, the first one again at the end.
    pub nets: Vec<usize>,
    /// Their sum.
    pub sum: f64,
}

/// What is given and taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    /// Branches with the watts that they take; negative for what they give.
    pub terms: Vec<(usize, f64)>,
    /// Watts given.
    pub given: f64,
    /// Watts taken.
    pub taken: f64,
}

/// A curve whose current rises by less than this share of it up to its volts is nearly flat.
const FLAT: f64 = 1e-5;

/// The most loops that are walked round.
const MOST_LOOPS: usize = 6;

/// The currents at every net.
pub(super) fn balances(n_nets: usize, branches: &[Branch], solution: &Solution) -> Vec<Balance> {
    let nets = (0..n_nets).map(|net| {
        let terms: Vec<(usize, f64)> = branches
            .iter()
            .enumerate()
            .filter(|(_, branch)| !branch.form.is_open())
            .filter_map(|(at, branch)| {
                let amps = solution.amps[at];
                if branch.from == net {
                    Some((at, amps))
                } else {
                    (branch.to == net).then_some((at, -amps))
                }
            })
            .collect();
        let sum = terms.iter().map(|(_, amps)| amps).sum();
        Balance { net, terms, sum }
    });
    nets.filter(|balance| !balance.terms.is_empty()).collect()
}

/// Volts of a branch by its law and its current; nothing where the law says nothing of them.
fn by_law(branch: &Branch, amps: f64) -> Option<f64> {
    match &branch.form {
        Form::Resistance { ohms } => Some(ohms * amps),
        Form::Source { volts, ohms } => Some(volts + ohms * amps),
        Form::Companion { siemens, amps: at_zero } if *siemens > 0.0 => {
            // Of a curve that is nearly flat the current says little of the volts.
            let rise = amps - at_zero;
            (rise.abs() > FLAT * at_zero.abs()).then(|| rise / siemens)
        }
        Form::Relation { terms, volts, ohms } => match terms[..] {
            [(factor, pair)] if pair == [branch.from, branch.to] => {
                Some((volts + ohms * amps) / factor)
            }
            [(factor, pair)] if pair == [branch.to, branch.from] => {
                Some(-(volts + ohms * amps) / factor)
            }
            _ => None,
        },
        _ => None,
    }
}

/// Loops through branches whose laws give their volts: one for each branch that closes one, the
/// shortest way round.
pub(super) fn loops(n_nets: usize, branches: &[Branch], solution: &Solution) -> Vec<Loop> {
    let usable: Vec<(usize, f64)> = branches
        .iter()
        .enumerate()
        .filter(|(_, branch)| !branch.form.is_open())
        .filter_map(|(at, branch)| Some((at, by_law(branch, solution.amps[at])?)))
        .collect();
    let mut found = Vec::new();
    for (number, &(closing, lost)) in usable.iter().enumerate() {
        let branch = &branches[closing];
        // Only branches before it: each loop brings in one that no loop before had.
        let Some(back) = way(n_nets, branches, &usable[..number], branch.to, branch.from) else {
            continue;
        };
        let mut nets = vec![branch.from, branch.to];
        let mut terms = vec![(closing, true, lost)];
        for (at, along, lost) in back {
            let step = &branches[at];
            nets.push(if along { step.to } else { step.from });
            terms.push((at, along, if along { lost } else { -lost }));
        }
        let sum = terms.iter().map(|(_, _, lost)| lost).sum();
        found.push(Loop { terms, nets, sum });
    }
    found.sort_by_key(|one| one.terms.len());
    found.truncate(MOST_LOOPS);
    found
}

/// The shortest way from one net to another, as branches with their direction and volts.
fn way(
    n_nets: usize,
    branches: &[Branch],
    usable: &[(usize, f64)],
    from: usize,
    to: usize,
) -> Option<Vec<(usize, bool, f64)>> {
    let mut came: Vec<Option<(usize, bool, f64)>> = vec![None; n_nets];
    let mut reached = vec![from];
    let mut next = 0;
    while next < reached.len() {
        let net = reached[next];
        next += 1;
        for &(at, lost) in usable {
            let branch = &branches[at];
            let (other, along) = if branch.from == net {
                (branch.to, true)
            } else if branch.to == net {
                (branch.from, false)
            } else {
                continue;
            };
            if !reached.contains(&other) {
                reached.push(other);
                came[other] = Some((at, along, lost));
            }
        }
    }
    let mut back = Vec::new();
    let mut net = to;
    while net != from {
        let step = came[net]?;
        back.push(step);
        net = if step.1 { branches[step.0].from } else { branches[step.0].to };
    }
    back.reverse();
    Some(back)
}

/// What is given and taken.
pub(super) fn power(branches: &[Branch], solution: &Solution) -> Power {
    let terms: Vec<(usize, f64)> = branches
        .iter()
        .enumerate()
        .filter(|(_, branch)| !branch.form.is_open())
        .map(|(at, branch)| (at, solution.across([branch.from, branch.to]) * solution.amps[at]))
        .collect();
    let given = terms.iter().map(|(_, watts)| (-watts).max(0.0)).sum();
    let taken = terms.iter().map(|(_, watts)| watts.max(0.0)).sum();
    Power { terms, given, taken }
}
