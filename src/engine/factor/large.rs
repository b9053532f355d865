//! Factors of large matrices, from their entries.

use std::sync::Arc;

use super::super::cholesky::Cholesky;
use super::super::matrix::Entries;
use super::super::sparse::{SparseLu, Term};
use super::super::tree::Tree;
use super::{Factor, Lu, larger};

/// By how much a row is preferred as the pivot of its own unknown over one of the same size.
const EQUALS: f64 = 1e-6;

impl Factor {
    /// Factors a large matrix of so many rows, given by entries as row, column and value; those at one
    /// place add up. `None` when a pivot is zero or not finite, or an entry lies outside.
    ///
    /// ```
    /// use ohmhound::engine::Factor;
    /// let factor = Factor::of_entries(2, &[(0, 0, 2.0), (0, 1, 1.0), (1, 1, 4.0)]).unwrap();
    /// assert_eq!(factor.solve(&[4.0, 8.0]), [1.0, 2.0]);
    /// assert_eq!(factor.solve_transposed(&[4.0, 8.0]), [2.0, 1.5]);
    /// assert!(Factor::of_entries(2, &[(0, 2, 1.0)]).is_none());
    /// ```
    pub fn of_entries(n: usize, entries: &[(usize, usize, f64)]) -> Option<Factor> {
        Factor::general(Entries::new(n, &terms(n, entries)?, std::iter::empty())?)
    }

    /// Factors another large matrix of as many rows. Where its entries lie at places of this one's,
    /// what was found out about those is not looked for again.
    ///
    /// ```
    /// use ohmhound::engine::Factor;
    /// let factor = Factor::of_entries(2, &[(0, 0, 2.0), (0, 1, 1.0), (1, 1, 4.0)]).unwrap();
    /// let other = factor.again(&[(0, 0, 1.0), (1, 1, 4.0)]).unwrap();
    /// assert_eq!(other.solve(&[4.0, 8.0]), [4.0, 2.0]);
    /// ```
    pub fn again(&self, entries: &[(usize, usize, f64)]) -> Option<Factor> {
        let terms = terms(self.len(), entries)?;
        Factor::general(Entries::new(self.len(), &terms, self.analysis().into_iter())?)
    }

    fn general(entries: Entries) -> Option<Factor> {
        let analysis = &entries.analysis;
        let mut sizes = vec![0.0; analysis.n()];
        let mut is_symmetric = true;
        for (row, column, place) in entries.places() {
            if row == column {
                sizes[row] = entries.values[place].abs();
            } else {
                let across = analysis.place(column, row).map(|across| entries.values[across]);
                is_symmetric &= across == Some(entries.values[place]);
            }
        }
        Factor::of_entries_of_cuts(entries, (&sizes, is_symmetric), None)
    }

    /// [`Factor::of_cuts`] for a large matrix.
    ///
    /// A symmetric one has no need of pivots, unless a slope falls. Otherwise they are chosen by column
    /// among rows in siemens, where a sum of conductances is never less than one of them, so that the
    /// order of elimination stays the one that was looked for: rows are raised by the root of their
    /// conductance beyond the scale that the condition is told by.
    pub(in super::super) fn of_sparse_cuts(
        entries: Entries,
        sizes: (&[f64], bool),
        tree: Arc<Tree>,
    ) -> Option<Factor> {
        Factor::of_entries_of_cuts(entries, sizes, Some(tree))
    }

    fn of_entries_of_cuts(
        mut entries: Entries,
        (sizes, is_symmetric): (&[f64], bool),
        tree: Option<Arc<Tree>>,
    ) -> Option<Factor> {
        let n_cuts = sizes.len();
        let n = entries.analysis.n();
        let [rows, columns] = scales(&entries, sizes);
        if rows.iter().chain(&columns).any(|scale| !scale.is_finite()) {
            return None;
        }
        let mut sums = vec![0.0_f64; n];
        for column in 0..n {
            for place in entries.analysis.column(column) {
                let row = entries.analysis.rows()[place] as usize;
                let value = &mut entries.values[place];
                *value *= rows[row] * columns[column];
                sums[column] += value.abs();
            }
        }
        let norm = sums.into_iter().fold(0.0, larger);
        if !norm.is_finite() {
            return None;
        }
        if is_symmetric
            && let Some(factors) =
                Cholesky::new(Arc::clone(&entries.analysis), n_cuts, &entries.values)
        {
            let lu = Lu::Symmetric(Box::new(factors));
            return Some(Factor { lu, rows, columns, norm, raised: Vec::new(), tree });
        }
        // Of equal ones the pivot is that of the unknown whose turn it is: net and neighbour are
        // equals where the net hangs on that neighbour alone. A given voltage comes before the
        // conductance of its cut.
        let raise = |((row, scale), turn): ((usize, &f64), &u32)| {
            let early = 1.0 - f64::from(*turn) / n as f64;
            (1.0 + EQUALS * early) * if row < n_cuts { 1.0 / scale } else { *scale }
        };
        let turns = entries.analysis.turns();
        let raised: Vec<f64> = columns.iter().enumerate().zip(turns).map(raise).collect();
        if raised.iter().any(|scale| !scale.is_finite()) {
            return None;
        }
        for (value, row) in entries.values.iter_mut().zip(entries.analysis.rows()) {
            *value *= raised[*row as usize];
        }
        let lu = Lu::Sparse(Box::new(SparseLu::new(entries.analysis, &entries.values)?));
        Some(Factor { lu, rows, columns, norm, raised, tree })
    }
}

/// The scales of rows and columns, as [`Factor::of_cuts`] takes them.
fn scales(entries: &Entries, sizes: &[f64]) -> [Vec<f64>; 2] {
    let n_cuts = sizes.len();
    let n_own = entries.analysis.n() - n_cuts;
    let mut columns: Vec<f64> =
        sizes.iter().map(|size| if *size > 0.0 { 1.0 / size.sqrt() } else { 1.0 }).collect();
    let (mut crossed, mut own) = (vec![0.0_f64; n_own], vec![0.0_f64; n_own]);
    let mut steepest = vec![0.0_f64; n_cuts];
    for (row, column, place) in entries.places() {
        let size = entries.values[place].abs();
        let (most, size) = match (row < n_cuts, column < n_cuts) {
            (true, true) => (&mut steepest[row], size * columns[column]),
            (true, false) => (&mut crossed[column - n_cuts], size * columns[row]),
            (false, true) => (&mut crossed[row - n_cuts], size * columns[column]),
            (false, false) => (&mut own[row - n_cuts], size),
        };
        *most = most.max(size);
    }
    columns.extend(crossed.iter().zip(&own).map(|(crossed, own)| 1.0 / crossed.max(own.sqrt())));
    let row = |(row, scale): (usize, &f64)| match steepest.get(row) {
        Some(steepest) => scale.min(1.0 / steepest),
        None => 2.0 * scale,
    };
    let rows = columns.iter().enumerate().map(row).collect();
    [rows, columns]
}

fn terms(n: usize, entries: &[(usize, usize, f64)]) -> Option<Vec<Term>> {
    let place = |at: usize| u32::try_from(at).ok().filter(|_| at < n);
    let term = |&(row, column, value): &(usize, usize, f64)| {
        Some(Term { row: place(row)?, column: place(column)?, value })
    };
    entries.iter().map(term).collect()
}
