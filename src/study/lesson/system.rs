//! Which nets are known and why, what stays unknown, and the equations as a matrix.

use super::branch::{Branch, Form, Pair};

/// Why the volts of a net are known, or not.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// All volts are counted from it.
    Ground,
    /// A source whose volts are given holds it against a net that is known.
    Held {
        /// The number of the source's branch.
        by: usize,
        /// The net it is held against.
        against: usize,
    },
    /// Nothing joins it to ground: its volts mean nothing by themselves, and one net of its group
    /// is given some.
    Floating,
    /// It has to be solved for.
    Unknown,
}

/// An unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Volts of a net.
    Volts(usize),
    /// Amps of a branch.
    Amps(usize),
}

/// An equation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Row {
    /// The currents that leave a net add up to nothing.
    Balance(usize),
    /// The law of a branch whose current is an unknown.
    Law(usize),
}

/// The equations: unknowns, rows, and the matrix in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    /// Per net: whether it is known.
    pub roles: Vec<Role>,
    /// The unknowns, in the order of the columns.
    pub unknowns: Vec<Unknown>,
    /// The equations, in the order of the rows.
    pub rows: Vec<Row>,
    /// The matrix.
    pub matrix: Vec<Vec<f64>>,
    /// The right-hand side.
    pub right: Vec<f64>,
}

/// Whether a branch holds its two nets at given volts, whatever the rest does.
fn holds(branch: &Branch) -> Option<f64> {
    match &branch.form {
        Form::Relation { terms, volts, ohms } if *ohms == 0.0 => match terms[..] {
            [(factor, pair)] if pair == [branch.from, branch.to] => Some(volts / factor),
            [(factor, pair)] if pair == [branch.to, branch.from] => Some(-volts / factor),
            _ => None,
        },
        _ => None,
    }
}

impl System {
    /// Puts the equations up. `sources` are the branches of ideal sources; `fixed` nets whose volts
    /// are given since nothing joins them to ground.
    pub(super) fn new(
        n_nets: usize,
        branches: &[Branch],
        sources: &[usize],
        fixed: &[(usize, f64)],
        known: &[f64],
    ) -> System {
        let mut roles = vec![Role::Unknown; n_nets];
        roles[0] = Role::Ground;
        for &(net, _) in fixed {
            roles[net] = Role::Floating;
        }
        // What a source holds against a known net is known as well, and so on.
        loop {
            let next = sources.iter().find_map(|&by| {
                let branch = &branches[by];
                holds(branch)?;
                let ends = [branch.from, branch.to];
                let is_known = ends.map(|net| roles[net] != Role::Unknown);
                match is_known {
                    [true, false] => Some((branch.to, Role::Held { by, against: branch.from })),
                    [false, true] => Some((branch.from, Role::Held { by, against: branch.to })),
                    _ => None,
                }
            });
            let Some((net, role)) = next else { break };
            roles[net] = role;
        }
        let taken: Vec<usize> = roles
            .iter()
            .filter_map(|role| match role {
                Role::Held { by, .. } => Some(*by),
                _ => None,
            })
            .collect();
        let nets = (0..n_nets).filter(|net| roles[*net] == Role::Unknown);
        let own = (0..branches.len())
            .filter(|at| branches[*at].is_own && !branches[*at].form.is_open())
            .filter(|at| !taken.contains(at));
        let unknowns: Vec<Unknown> =
            nets.map(Unknown::Volts).chain(own.map(Unknown::Amps)).collect();
        let rows: Vec<Row> = unknowns
            .iter()
            .map(|unknown| match *unknown {
                Unknown::Volts(net) => Row::Balance(net),
                Unknown::Amps(branch) => Row::Law(branch),
            })
            .collect();
        let mut system = System { roles, unknowns, rows, matrix: Vec::new(), right: Vec::new() };
        system.fill(branches, known);
        system
    }

    /// Whether the volts of a net are known before anything is solved.
    pub fn is_known(&self, net: usize) -> bool {
        self.roles[net] != Role::Unknown
    }

    /// The source that makes its net known and whose current therefore follows at the end.
    pub fn follows(&self, branch: usize) -> bool {
        self.roles.iter().any(|role| matches!(role, Role::Held { by, .. } if *by == branch))
    }

    /// The branches that meet at a net and carry something, each with whether its current leaves.
    pub fn at(&self, branches: &[Branch], net: usize) -> Vec<(usize, bool)> {
        let all = branches.iter().enumerate().filter(|(_, branch)| !branch.form.is_open());
        all.filter_map(|(at, branch)| {
            if branch.from == net {
                Some((at, true))
            } else {
                (branch.to == net).then_some((at, false))
            }
        })
        .collect()
    }

    fn fill(&mut self, branches: &[Branch], known: &[f64]) {
        let n = self.unknowns.len();
        let rows = self.rows.clone();
        for row in rows {
            let mut line = Line { system: self, known, entries: vec![0.0; n], right: 0.0 };
            match row {
                Row::Balance(net) => {
                    for (at, leaves) in line.system.at(branches, net) {
                        line.current(branches, at, if leaves { 1.0 } else { -1.0 });
                    }
                }
                Row::Law(at) => line.law(branches, at),
            }
            let Line { entries, right, .. } = line;
            self.matrix.push(entries);
            self.right.push(right);
        }
    }

    fn place(&self, unknown: Unknown) -> Option<usize> {
        self.unknowns.iter().position(|known| *known == unknown)
    }
}

/// A row as it is put together: entries of the unknowns on the left, what is known on the right.
struct Line<'a> {
    system: &'a System,
    known: &'a [f64],
    entries: Vec<f64>,
    right: f64,
}

impl Line<'_> {
    fn volts(&mut self, factor: f64, [plus, minus]: Pair) {
        for (net, factor) in [(plus, factor), (minus, -factor)] {
            match self.system.place(Unknown::Volts(net)) {
                Some(at) => self.entries[at] += factor,
                None => self.right -= factor * self.known[net],
            }
        }
    }

    fn amps(&mut self, factor: f64, branch: usize) {
        if let Some(at) = self.system.place(Unknown::Amps(branch)) {
            self.entries[at] += factor;
        }
    }

    /// Adds so many times the current of a branch.
    fn current(&mut self, branches: &[Branch], at: usize, factor: f64) {
        if self.system.place(Unknown::Amps(at)).is_some() {
            self.amps(factor, at);
            return;
        }
        self.flow(branches, at, factor);
    }

    fn flow(&mut self, branches: &[Branch], at: usize, factor: f64) {
        let branch = &branches[at];
        let between = [branch.from, branch.to];
        match &branch.form {
            Form::Open | Form::Relation { .. } => {}
            Form::Resistance { ohms } => self.volts(factor / ohms, between),
            Form::Source { volts, ohms } => {
                self.volts(factor / ohms, between);
                self.right += factor * volts / ohms;
            }
            Form::Current { amps } => self.right -= factor * amps,
            Form::Companion { siemens, amps } => {
                self.volts(factor * siemens, between);
                self.right -= factor * amps;
            }
            Form::Ratio { terms } => {
                terms.iter().for_each(|(k, of)| self.current(branches, *of, factor * k));
            }
            Form::Steered { terms, amps } => {
                terms.iter().for_each(|(slope, pair)| self.volts(factor * slope, *pair));
                self.right -= factor * amps;
            }
        }
    }

    /// The law of a branch whose current is an unknown.
    fn law(&mut self, branches: &[Branch], at: usize) {
        if let Form::Relation { terms, volts, ohms } = &branches[at].form {
            terms.iter().for_each(|(factor, pair)| self.volts(*factor, *pair));
            self.amps(-ohms, at);
            self.right += volts;
        } else {
            // i − law = 0
            self.amps(1.0, at);
            self.flow(branches, at, -1.0);
        }
    }
}
