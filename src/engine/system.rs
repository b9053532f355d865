//! The matrix of a network around one state: cut sets of a tree as rows, and own currents.

use std::sync::Arc;

use super::factor::Factor;
use super::matrix::{Entries, Matrix};
use super::sparse::Analysis;
use super::tree::{SLACK, Tree};

/// So many analyses of one run are kept: those of the steps before, and the healthy board's at first.
const MOST_KNOWN: usize = 3;

/// The equations around one state: a matrix, and what is left over.
pub(super) struct System {
    pub(super) tree: Arc<Tree>,
    /// Per element: the cut sets that it crosses.
    pub(super) paths: Vec<Vec<(usize, f64)>>,
    /// Per sensed pair of nets: the way between them.
    pub(super) ways: Vec<Vec<(usize, f64)>>,
    pub(super) matrix: Matrix,
    /// Per cut set: the sum of the sizes of the conductances that cross it.
    pub(super) sizes: Vec<f64>,
    /// Where the entries of large matrices lay before, nearest first.
    pub(super) known: Vec<Arc<Analysis>>,
    /// Whether all branches are conductances or given voltages.
    pub(super) is_symmetric: bool,
}

/// Volts along a way through the tree.
pub(super) fn sum_along(way: &[(usize, f64)], along: &[f64]) -> f64 {
    way.iter().map(|&(cut, sign)| sign * along[cut]).sum()
}

impl System {
    /// Whether the tree still is one of strong branches.
    pub(super) fn is_good_for(&self, edges: &[(usize, usize, f64)]) -> bool {
        let along = |cut: usize| self.tree.edge(cut + 1).map_or(0.0, |edge| edges[edge].2);
        self.paths.len() == edges.len()
            && edges.iter().zip(&self.paths).all(|(&(_, _, strength), path)| {
                path.iter().all(|&(cut, _)| strength <= SLACK * along(cut))
            })
    }

    /// A current between the ends of an edge that goes with the volts along a way.
    pub(super) fn add_transfer(&mut self, edge: usize, way: usize, siemens: f64) {
        for &(row, row_sign) in &self.paths[edge] {
            for &(column, column_sign) in &self.ways[way] {
                self.matrix.add(row, column, row_sign * column_sign * siemens);
            }
        }
    }

    pub(super) fn add_siemens(&mut self, edge: usize, siemens: f64) {
        for &(row, row_sign) in &self.paths[edge] {
            self.sizes[row] += siemens.abs();
            for &(column, column_sign) in &self.paths[edge] {
                self.matrix.add(row, column, row_sign * column_sign * siemens);
            }
        }
    }

    /// v − R i = given.
    pub(super) fn add_held(&mut self, edge: usize, row: usize, ohms: f64) {
        self.matrix.add(row, row, -ohms);
        for &(cut, sign) in &self.paths[edge] {
            self.matrix.add(cut, row, sign);
            self.matrix.add(row, cut, sign);
            // A clamp at its end is a conductance of 1/R, written so that its current stays exact.
            if ohms > 0.0 {
                self.sizes[cut] += 1.0 / ohms;
            }
        }
    }

    /// i − g v = 0: a current that is told by the voltage.
    pub(super) fn add_follower(&mut self, edge: usize, row: usize, siemens: f64) {
        self.matrix.add(row, row, 1.0);
        for &(cut, sign) in &self.paths[edge] {
            self.matrix.add(row, cut, -sign * siemens);
        }
    }

    /// Volts across an element, from the voltages along the tree.
    pub(super) fn across(&self, element: usize, along: &[f64]) -> f64 {
        sum_along(&self.paths[element], along)
    }

    /// The factors of the matrix; the matrix is then gone.
    pub(super) fn factor(&mut self) -> Option<Factor> {
        let tree = Arc::clone(&self.tree);
        match std::mem::replace(&mut self.matrix, Matrix::zeros(0, true)) {
            Matrix::Dense(matrix) => Factor::of_cuts(matrix, &self.sizes, tree),
            Matrix::Sparse { n, terms } => {
                let entries = Entries::new(n, &terms, self.known.iter().cloned())?;
                if !self.known.first().is_some_and(|first| Arc::ptr_eq(first, &entries.analysis)) {
                    self.known.insert(0, Arc::clone(&entries.analysis));
                    self.known.truncate(MOST_KNOWN);
                }
                Factor::of_sparse_cuts(entries, (&self.sizes, self.is_symmetric), tree)
            }
        }
    }
}
