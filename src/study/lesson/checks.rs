//! The sums that show that an answer is one: currents into nets, volts round loops, powers.

use super::branch::{Branch, Form, Owner};
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
    /// Branches of it whose laws say nothing of their volts: those of the nets are taken instead.
    pub by_nets: Vec<usize>,
    /// Their sum.
    pub sum: f64,
}

/// What is given and taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    /// Parts, each by the first of its branches, with the watts that they take; negative for what
    /// they give. What goes from one branch of a part to another is neither.
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

/// A way from one net to another, with the volts that are lost on it.
struct Edge {
    branch: usize,
    from: usize,
    to: usize,
    lost: f64,
    /// Whether the volts are those of the nets, since the law of the branch says nothing of them.
    is_by_nets: bool,
}

/// A branch as a way: where its law gives volts between two nets, by its law and its current.
fn edge(at: usize, branch: &Branch, solution: &Solution) -> Edge {
    let amps = solution.amps[at];
    let own = [branch.from, branch.to];
    let by_law = match &branch.form {
        Form::Resistance { ohms } => Some((own, ohms * amps)),
        Form::Source { volts, ohms } => Some((own, volts + ohms * amps)),
        Form::Companion { siemens, amps: at_zero } if *siemens > 0.0 => {
            // Of a curve that is nearly flat the current says little of the volts.
            let rise = amps - at_zero;
            (rise.abs() > FLAT * at_zero.abs()).then(|| (own, rise / siemens))
        }
        // A regulator may hold the volts of other nets than those that it feeds.
        Form::Relation { terms, volts, ohms } => match terms[..] {
            [(factor, pair)] => Some((pair, (volts + ohms * amps) / factor)),
            _ => None,
        },
        _ => None,
    };
    let is_by_nets = by_law.is_none();
    let ([from, to], lost) = by_law.unwrap_or_else(|| (own, solution.across(own)));
    Edge { branch: at, from, to, lost, is_by_nets }
}

/// Loops: one for each branch that closes one, the shortest way round, through the sources first and
/// then through branches whose laws give their volts.
pub(super) fn loops(n_nets: usize, branches: &[Branch], solution: &Solution) -> Vec<Loop> {
    let flowing = branches.iter().enumerate().filter(|(_, branch)| !branch.form.is_open());
    let mut edges: Vec<Edge> = flowing.map(|(at, branch)| edge(at, branch, solution)).collect();
    let gives = |at: usize| {
        let across = solution.across([branches[at].from, branches[at].to]);
        across * solution.amps[at] < 0.0
    };
    edges.sort_by_key(|edge| (edge.is_by_nets, !gives(edge.branch)));
    let mut found = Vec::new();
    for (number, closing) in edges.iter().enumerate() {
        // Only those before it: each loop brings in one that no loop before had.
        let Some(back) = way(n_nets, &edges[..number], closing.to, closing.from) else {
            continue;
        };
        let mut nets = vec![closing.from, closing.to];
        let mut terms = vec![(closing.branch, true, closing.lost)];
        let mut by_nets: Vec<usize> = Vec::new();
        by_nets.extend(closing.is_by_nets.then_some(closing.branch));
        for (step, along) in back {
            nets.push(if along { step.to } else { step.from });
            terms.push((step.branch, along, if along { step.lost } else { -step.lost }));
            by_nets.extend(step.is_by_nets.then_some(step.branch));
        }
        // Of nothing but volts of nets the sum is nothing whatever they are.
        if by_nets.len() < terms.len() {
            let sum = terms.iter().map(|(_, _, lost)| lost).sum();
            found.push(Loop { terms, nets, by_nets, sum });
        }
    }
    found.sort_by_key(|one| one.terms.len());
    found.truncate(MOST_LOOPS);
    found
}

/// The shortest way from one net to another, with the direction of each piece.
fn way(n_nets: usize, edges: &[Edge], from: usize, to: usize) -> Option<Vec<(&Edge, bool)>> {
    let mut came: Vec<Option<(&Edge, bool)>> = vec![None; n_nets];
    let mut reached = vec![from];
    let mut next = 0;
    while next < reached.len() {
        let net = reached[next];
        next += 1;
        for edge in edges {
            let (other, along) = if edge.from == net {
                (edge.to, true)
            } else if edge.to == net {
                (edge.from, false)
            } else {
                continue;
            };
            if !reached.contains(&other) {
                reached.push(other);
                came[other] = Some((edge, along));
            }
        }
    }
    let mut back = Vec::new();
    let mut net = to;
    while net != from {
        let step = came[net]?;
        back.push(step);
        net = if step.1 { step.0.from } else { step.0.to };
    }
    back.reverse();
    Some(back)
}

/// What is given and taken.
pub(super) fn power(branches: &[Branch], solution: &Solution) -> Power {
    let mut terms: Vec<(usize, f64)> = Vec::new();
    for (at, branch) in branches.iter().enumerate().filter(|(_, one)| !one.form.is_open()) {
        let watts = solution.across([branch.from, branch.to]) * solution.amps[at];
        let of_part = |(first, _): &&mut (usize, f64)| {
            matches!(branch.owner, Owner::Part(_)) && branches[*first].owner == branch.owner
        };
        match terms.iter_mut().find(of_part) {
            Some((_, all)) => *all += watts,
            None => terms.push((at, watts)),
        }
    }
    let given = terms.iter().map(|(_, watts)| (-watts).max(0.0)).sum();
    let taken = terms.iter().map(|(_, watts)| watts.max(0.0)).sum();
    Power { terms, given, taken }
}
