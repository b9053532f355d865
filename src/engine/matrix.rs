//! A matrix that is being filled: dense while it is small, a list of terms where it is large.

use std::sync::Arc;

use nalgebra::DMatrix;

use super::sparse::{Analysis, Term};

/// A square matrix that is being filled.
#[derive(Debug)]
pub(super) enum Matrix {
    Dense(DMatrix<f64>),
    Sparse { n: usize, terms: Vec<Term> },
}

impl Matrix {
    /// Zeros.
    pub(super) fn zeros(n: usize, is_dense: bool) -> Matrix {
        match is_dense {
            true => Matrix::Dense(DMatrix::zeros(n, n)),
            false => Matrix::Sparse { n, terms: Vec::new() },
        }
    }

    /// Adds to an entry.
    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        match self {
            Matrix::Dense(matrix) => matrix[(row, column)] += value,
            // A network of four thousand million nets does not fit into memory.
            Matrix::Sparse { terms, .. } => {
                terms.push(Term { row: row as u32, column: column as u32, value });
            }
        }
    }
}

/// The entries of a sparse matrix, column by column, at the places of an analysis.
#[derive(Debug)]
pub(super) struct Entries {
    pub(super) analysis: Arc<Analysis>,
    pub(super) values: Vec<f64>,
}

impl Entries {
    /// Adds terms up; at the places of a known analysis where all of them lie there.
    pub(super) fn new(
        n: usize,
        terms: &[Term],
        known: impl Iterator<Item = Arc<Analysis>>,
    ) -> Option<Entries> {
        for analysis in known {
            if let Some(values) = analysis.gathered(n, terms) {
                return Some(Entries { analysis, values });
            }
        }
        let analysis = Arc::new(Analysis::new(n, terms)?);
        let values = analysis.gathered(n, terms)?;
        Some(Entries { analysis, values })
    }

    /// Row, column and place of every entry.
    pub(super) fn places(&self) -> impl Iterator<Item = (usize, usize, usize)> {
        (0..self.analysis.n()).flat_map(move |column| {
            let rows = self.analysis.rows();
            self.analysis.column(column).map(move |place| (rows[place] as usize, column, place))
        })
    }
}
