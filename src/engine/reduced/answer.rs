//! How a solved board with changes answers to small currents: adjoints.
//!
//! # Formula
//!
//! With H the shapes, S the slopes of the extra currents and M the matrix of the small system, one
//! amp through a branch moves the volts between two nets by
//!
//! ```text
//! ∂v_o/∂i = −(λ_from − λ_to),   λ = row_o − Σ w_k row_k,   Mᵀ w = Sᵀ H_o
//! ```
//!
//! with row_k the answer of the linear board at the pair k to an amp into every net.

use super::Reduced;
use super::settle::Small;

/// What one amp into each net moves the volts between two nets by.
#[derive(Debug, Clone)]
pub struct Adjoint {
    /// Per net, ground included; the nets that changes made stand at the end.
    nets: Vec<f64>,
    /// The same for one volt more of the given voltages, by their rows.
    own: Vec<f64>,
    n_nets: usize,
}

impl Adjoint {
    /// The answer to one amp more through a branch, from its first net to its second.
    pub fn amp(&self, from: usize, to: usize) -> f64 {
        self.nets[to] - self.nets[from]
    }

    /// The answer to one volt more of a given voltage, by the row of its current.
    pub fn volt(&self, row: usize) -> f64 {
        self.own[row + 1 - self.n_nets]
    }
}

impl Reduced {
    /// The adjoint of the volts from `red` to `black` on a solved board.
    pub fn adjoint(&self, small: &Small, red: usize, black: usize) -> Adjoint {
        let n_nets = small.unknowns.n_nets;
        let leads = [(red, 1.0), (black, -1.0)];
        let unknowns = &small.unknowns;
        let n_pairs = unknowns.pairs.len();
        let mut weights = vec![0.0; unknowns.len()];
        for (slopes, shape) in small.currents() {
            let on_board = leads.iter().filter(|(net, _)| *net < n_nets);
            let answer: f64 = on_board.map(|&(net, sign)| sign * shape[net]).sum();
            for &(span, slope) in slopes {
                span.add(&mut weights, slope * answer);
            }
        }
        for (net, sign) in leads.into_iter().filter(|(net, _)| *net >= n_nets) {
            weights[n_pairs + net - n_nets] -= sign;
        }
        small.factors.solve_transposed(&mut weights);
        let mut nets = vec![0.0; self.row(0).len()];
        let mut add = |net: usize, share: f64| {
            if net != 0 && share != 0.0 {
                for (sum, answer) in nets.iter_mut().zip(self.row(net)) {
                    *sum += share * answer;
                }
            }
        };
        for (net, sign) in leads.into_iter().filter(|(net, _)| *net < n_nets) {
            add(net, sign);
        }
        for (&(from, to), weight) in unknowns.pairs.iter().zip(&weights) {
            add(from, -weight);
            add(to, *weight);
        }
        // Net by net, no voltage is given.
        let own = nets.split_off(n_nets);
        nets.extend(weights[n_pairs..].iter().map(|weight| -weight));
        Adjoint { nets, own, n_nets }
    }
}
