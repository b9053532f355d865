//! A setup reduced to one linear board: many changes at the price of small systems.
//!
//! The board is replaced once by a linear one, with every curve at a fixed slope. Whatever then
//! differs from that — a curve that is no straight line, a fault, a meter — is an extra current
//! between two nets, and only what those currents go with is solved for.
//!
//! # Formula
//!
//! With A the matrix of the linear board, x⁰ its solution, and extra currents j that leave a net
//! and enter another one, each with the shape h = A⁻¹(e_from − e_to),
//!
//! ```text
//! v_k = v⁰_k − Σ h_k j(v)          at every pair of nets k that a current goes with
//! 0   = Σ ± j(v)                   at every net that the change itself made
//! ```
//!
//! solved by Newton's method; the unknowns are those pairs, or the nets themselves where these are
//! fewer. (The large-change view of G. C. Temes, "Efficient methods of fault simulation", 20th
//! Midwest Symposium on Circuits and Systems, 1977, from memory; the identity is that of Woodbury.)
//! A net that a broken joint makes is an unknown of its own, so that no change needs another board.
//! What it finds is for screening: answers that a person acts on are solved again in full.
//!
//! The shape of a branch of the board is solved for by itself: the microvolts across a link are
//! lost in the difference of the shapes of its two nets.

use std::sync::OnceLock;

use nalgebra::DMatrix;

use super::factor::Factor;
use super::network::{Network, Origin};
use super::point::DENSE;
use super::structure::{Islands, conducting_islands};
use crate::circuit::PartId;
use crate::device::{Law, Sample};

mod answer;
mod change;
mod nodal;
mod settle;
mod several;
mod solve;
mod straight;

pub use answer::Adjoint;
pub use change::{Active, Changes, Standing};
pub use settle::{From, Small};

/// Least slope that stands for a curve in the linear board, in siemens: blocked junctions would
/// leave their nets hanging in the air.
const LEAST_SLOPE: f64 = 1e-8;

/// A driven branch is steep from this slope on, in siemens.
const STEEP: f64 = 10.0;

/// A setup reduced to a linear board.
#[derive(Debug)]
pub struct Reduced {
    /// Number of nets, ground included.
    n_nets: usize,
    /// The branches.
    elements: Vec<Base>,
    /// The nets that a floating island is tied to ground at, each with the number of its tie among
    /// the branches.
    ties: Vec<(usize, usize)>,
    /// Elements that are curves or driven.
    curves: Vec<usize>,
    factor: Factor,
    /// Whether the linear board would run away from where it stands: the sign of its determinant is
    /// not that of a board without gain.
    runs_away: bool,
    /// Volts of every net on the linear board.
    volts: Vec<f64>,
    /// A⁻¹ for nets: per net that an amp is driven into, the volts of every net, ground included.
    columns: Vec<f64>,
    /// The same row by row, with the own currents of given voltages behind the nets.
    rows: Vec<f64>,
    /// Shapes of the branches, as far as they were asked for.
    shapes: Vec<OnceLock<Vec<f64>>>,
}

/// A branch of the board.
#[derive(Debug)]
struct Base {
    from: usize,
    to: usize,
    law: Law,
    /// Pairs of nets that drive it.
    senses: Vec<(usize, usize)>,
    origin: Option<Origin>,
    /// The slopes of the straight line that stands for it, by its own volts and by what it senses.
    slopes: Vec<f64>,
    /// The current of that line at no volts.
    offset: f64,
    /// The volts that the line was taken at; empty for what is a line anyhow.
    at: Vec<f64>,
    /// The row of its own current, for given voltages.
    own: Option<usize>,
}

impl Reduced {
    /// Reduces a network; `None` where it has branches that are no curves, or no linear solution.
    ///
    /// `point` holds the volts of all nets at the operating point that slopes are taken at. Parts
    /// that are `flat` have no gain on the linear board: a branch of a million siemens that a change
    /// takes away would leave its rounding behind.
    pub fn new(network: &Network, point: &[f64], flat: &[PartId]) -> Option<Reduced> {
        let n_nets = network.n_nets;
        let n_volts = n_nets - 1;
        let mut elements = Vec::with_capacity(network.elements.len());
        let mut curves = Vec::new();
        let mut n = n_volts;
        for (idx, element) in network.elements.iter().enumerate() {
            let senses = network.sensed(element);
            let mut at: Vec<f64> = std::iter::once((element.from, element.to))
                .chain(senses.iter().copied())
                .map(|(from, to)| point[from] - point[to])
                .collect();
            let mut slopes = vec![0.0; at.len()];
            let mut own = None;
            let amps = match &element.law {
                Law::Line { siemens, amps } => {
                    slopes[0] = *siemens;
                    at.clear();
                    *amps
                }
                Law::Curve(curve) => {
                    let Sample { amps, siemens } = curve.at(at[0]);
                    slopes[0] = siemens.max(LEAST_SLOPE);
                    curves.push(idx);
                    amps
                }
                Law::Driven(law) => {
                    curves.push(idx);
                    let amps = law.at(&at, &mut slopes);
                    if element.part().is_some_and(|part| flat.contains(&part)) {
                        slopes.fill(0.0);
                        slopes[0] = LEAST_SLOPE;
                    }
                    amps
                }
                Law::Volts(_) => {
                    own = Some(n);
                    n += 1;
                    0.0
                }
                Law::Clamp { .. } => return None,
            };
            let along: f64 = slopes.iter().zip(&at).map(|(slope, volts)| slope * volts).sum();
            elements.push(Base {
                from: element.from,
                to: element.to,
                law: element.law.clone(),
                senses,
                origin: element.origin,
                slopes,
                offset: amps - along,
                at,
                own,
            });
        }
        let mut islands = conducting_islands(network);
        let mut ties = Vec::new();
        for net in (1..n_nets).filter(|&net| islands.root(net) == net) {
            ties.push((net, elements.len()));
            elements.push(Base {
                from: net,
                to: 0,
                law: Law::conductance(1.0),
                senses: Vec::new(),
                origin: None,
                slopes: vec![1.0],
                offset: 0.0,
                at: Vec::new(),
                own: None,
            });
        }
        let (factor, right) = linear(&elements, n)?;
        let solution = factor.solve(&right);
        // Each given voltage alone turns the sign.
        let turned = (n - n_volts) % 2 == 1;
        let runs_away = (factor.determinant_sign() < 0.0) != turned;
        let mut columns = vec![0.0; n_nets * n_nets];
        let mut rows = vec![0.0; n_nets * (n + 1)];
        for column in 0..n {
            let mut push = vec![0.0; n];
            push[column] = 1.0;
            let shape = factor.solve(&push);
            for net in 1..n_nets {
                rows[net * (n + 1) + column + 1] = shape[net - 1];
                if column < n_volts {
                    columns[(column + 1) * n_nets + net] = shape[net - 1];
                }
            }
        }
        let mut volts = vec![0.0];
        volts.extend_from_slice(&solution[..n_volts]);
        let sound = volts.iter().chain(&rows).all(|value| value.is_finite());
        let shapes = elements.iter().map(|_| OnceLock::new()).collect();
        sound.then_some(Reduced {
            n_nets,
            elements,
            ties,
            curves,
            factor,
            runs_away,
            volts,
            columns,
            rows,
            shapes,
        })
    }

    /// Number of nets, ground included: those that changes make are numbered from here.
    pub fn n_nets(&self) -> usize {
        self.n_nets
    }

    /// Whether a branch is so steep that taking it away costs digits.
    pub fn is_steep(&self, element: usize) -> bool {
        let base = &self.elements[element];
        matches!(base.law, Law::Driven(_)) && base.slopes.iter().any(|slope| slope.abs() > STEEP)
    }

    /// The law of an element.
    pub fn law(&self, element: usize) -> &Law {
        &self.elements[element].law
    }

    /// The volts of every net on the linear board.
    pub fn linear_volts(&self) -> &[f64] {
        &self.volts
    }

    /// The shape of a branch of the board.
    fn shape(&self, element: usize) -> &[f64] {
        self.shapes[element].get_or_init(|| {
            let Base { from, to, .. } = self.elements[element];
            let mut push = vec![0.0; self.factor.len()];
            if from != 0 {
                push[from - 1] += 1.0;
            }
            if to != 0 {
                push[to - 1] -= 1.0;
            }
            let mut nets = vec![0.0];
            nets.extend_from_slice(&self.factor.solve(&push)[..self.n_nets - 1]);
            nets
        })
    }

    /// How the volts of all nets answer to an amp driven into a net.
    fn column(&self, net: usize) -> &[f64] {
        &self.columns[net * self.n_nets..(net + 1) * self.n_nets]
    }

    /// How the volts of a net answer to an amp into every net, and to a volt more of every given
    /// voltage behind them.
    fn row(&self, net: usize) -> &[f64] {
        let n = self.factor.len() + 1;
        &self.rows[net * n..(net + 1) * n]
    }
}

/// The factors of the linear board, and its right side.
fn linear(elements: &[Base], n: usize) -> Option<(Factor, Vec<f64>)> {
    let mut entries = Vec::with_capacity(4 * elements.len());
    let mut right = vec![0.0; n];
    for element in elements {
        let ends = [(element.from, 1.0), (element.to, -1.0)];
        if let Some(row) = element.own {
            for (net, sign) in ends.into_iter().filter(|(net, _)| *net != 0) {
                entries.push((net - 1, row, sign));
                entries.push((row, net - 1, sign));
            }
            if let Law::Volts(volts) = element.law {
                right[row] = volts;
            }
            continue;
        }
        let pairs =
            std::iter::once((element.from, element.to)).chain(element.senses.iter().copied());
        for (&slope, (plus, minus)) in element.slopes.iter().zip(pairs) {
            for (row, out) in ends {
                for (column, sign) in [(plus, 1.0), (minus, -1.0)] {
                    if row != 0 && column != 0 {
                        entries.push((row - 1, column - 1, out * sign * slope));
                    }
                }
            }
        }
        for (net, out) in ends.into_iter().filter(|(net, _)| *net != 0) {
            right[net - 1] -= out * element.offset;
        }
    }
    if n > DENSE {
        return Some((Factor::of_entries(n, &entries)?, right));
    }
    let mut matrix = DMatrix::zeros(n, n);
    for (row, column, value) in entries {
        matrix[(row, column)] += value;
    }
    Some((Factor::new(matrix)?, right))
}

/// The islands of a board with changes, by union of what each branch joins.
fn join_all(n: usize, edges: impl Iterator<Item = (usize, usize)>) -> Islands {
    let mut islands = Islands::new(n);
    for (from, to) in edges {
        islands.join(from, to);
    }
    islands
}
