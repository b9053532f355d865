//! Sparse LU factors: where entries are and in which order unknowns go is found once, and kept.
//!
//! Unknowns are eliminated in the order of least degree (P. R. Amestoy, T. A. Davis and I. S. Duff,
//! "An approximate minimum degree ordering algorithm", SIAM J. Matrix Anal. Appl. 17, 1996), column
//! by column with the largest entry as pivot (J. R. Gilbert and T. Peierls, "Sparse partial
//! pivoting in time proportional to arithmetic operations", SIAM J. Sci. Stat. Comput. 9, 1988).

use std::sync::{Arc, OnceLock};

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::perm::Perm;
use faer::sparse::linalg::amd;
use faer::sparse::linalg::lu::simplicial::{
    SimplicialLu, factorize_simplicial_numeric_lu, factorize_simplicial_numeric_lu_scratch,
    solve_in_place_scratch, solve_transpose_in_place_scratch,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Conj, MatMut, Par};

use super::cholesky::Symmetric;

/// A term of an entry of a matrix that is being filled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Term {
    pub(super) row: u32,
    pub(super) column: u32,
    pub(super) value: f64,
}

/// Where a sparse matrix has entries, and the order in which its unknowns are eliminated.
#[derive(Debug)]
pub(super) struct Analysis {
    n: usize,
    /// Per column: where its entries begin.
    first: Vec<u32>,
    /// The rows of the entries, column by column, rising.
    rows: Vec<u32>,
    order: Perm<u32>,
    /// What else there is to say of a matrix of conductances and given voltages alone.
    symmetric: OnceLock<Option<Symmetric>>,
}

impl Analysis {
    /// Looks at where the terms of a matrix of so many rows lie; `None` where that fails.
    pub(super) fn new(n: usize, terms: &[Term]) -> Option<Analysis> {
        let mut places: Vec<(u32, u32)> =
            terms.iter().map(|term| (term.column, term.row)).collect();
        places.sort_unstable();
        places.dedup();
        let mut first = vec![0_u32; n + 1];
        for &(column, _) in &places {
            first[column as usize + 1] += 1;
        }
        for column in 0..n {
            first[column + 1] += first[column];
        }
        let rows: Vec<u32> = places.into_iter().map(|(_, row)| row).collect();
        let order = {
            let pattern = SymbolicSparseColMatRef::new_checked(n, n, &first, None, &rows);
            let (mut forward, mut inverse) = (vec![0_u32; n], vec![0_u32; n]);
            let scratch = amd::order_scratch::<u32>(n, rows.len());
            let mut memory = MemBuffer::try_new(scratch).ok()?;
            let stack = MemStack::new(&mut memory);
            amd::order(&mut forward, &mut inverse, pattern, amd::Control::default(), stack).ok()?;
            Perm::new_checked(forward.into_boxed_slice(), inverse.into_boxed_slice(), n)
        };
        Some(Analysis { n, first, rows, order, symmetric: OnceLock::new() })
    }

    /// The entries that terms add up to, in the order of the places; `None` where one lies elsewhere.
    pub(super) fn gathered(&self, n: usize, terms: &[Term]) -> Option<Vec<f64>> {
        if n != self.n {
            return None;
        }
        let mut values = vec![0.0; self.rows.len()];
        for term in terms {
            values[self.place(term.row as usize, term.column as usize)?] += term.value;
        }
        Some(values)
    }

    /// Number of rows.
    pub(super) fn n(&self) -> usize {
        self.n
    }

    /// The places of the entries of a column.
    pub(super) fn column(&self, column: usize) -> std::ops::Range<usize> {
        self.first[column] as usize..self.first[column + 1] as usize
    }

    /// The place of an entry.
    pub(super) fn place(&self, row: usize, column: usize) -> Option<usize> {
        let range = self.column(column);
        let at = self.rows[range.clone()].binary_search(&(row as u32)).ok()?;
        Some(range.start + at)
    }

    /// The place of the only entry of a column.
    pub(super) fn only(&self, column: usize) -> Option<usize> {
        let range = self.column(column);
        (range.len() == 1).then_some(range.start)
    }

    /// How a symmetric matrix is factored whose first rows are cut sets, and whose others are given
    /// voltages; looked at once.
    pub(super) fn symmetric(&self, n_cuts: usize) -> Option<&Symmetric> {
        let found = self.symmetric.get_or_init(|| Symmetric::new(self, n_cuts)).as_ref();
        found.filter(|found| found.n_cuts() == n_cuts)
    }

    /// [`Analysis::symmetric`] as it was looked at.
    pub(super) fn known_symmetric(&self) -> Option<&Symmetric> {
        self.symmetric.get()?.as_ref()
    }

    /// The rows of all entries, column by column.
    pub(super) fn rows(&self) -> &[u32] {
        &self.rows
    }

    /// When each unknown is eliminated.
    pub(super) fn turns(&self) -> &[u32] {
        self.order.as_ref().arrays().1
    }
}

/// The factors of a sparse matrix.
#[derive(Debug, Clone)]
pub(super) struct SparseLu {
    analysis: Arc<Analysis>,
    lu: SimplicialLu<u32, f64>,
    rows: Perm<u32>,
}

impl SparseLu {
    /// Factors the matrix with these entries; `None` when a pivot is zero or not finite.
    pub(super) fn new(analysis: Arc<Analysis>, values: &[f64]) -> Option<SparseLu> {
        let n = analysis.n;
        let mut lu = SimplicialLu::new();
        let (mut forward, mut inverse) = (vec![0_u32; n], vec![0_u32; n]);
        let scratch = factorize_simplicial_numeric_lu_scratch::<u32, f64>(n, n);
        let mut memory = MemBuffer::try_new(scratch).ok()?;
        let pattern =
            SymbolicSparseColMatRef::new_checked(n, n, &analysis.first, None, &analysis.rows);
        factorize_simplicial_numeric_lu(
            &mut forward,
            &mut inverse,
            &mut lu,
            SparseColMatRef::new(pattern, values),
            analysis.order.as_ref(),
            MemStack::new(&mut memory),
        )
        .ok()?;
        let rows = Perm::new_checked(forward.into_boxed_slice(), inverse.into_boxed_slice(), n);
        let factors = SparseLu { analysis, lu, rows };
        let sound = factors.pivots().all(|pivot| pivot != 0.0 && pivot.is_finite());
        sound.then_some(factors)
    }

    /// Where the entries of the matrix were.
    pub(super) fn analysis(&self) -> &Arc<Analysis> {
        &self.analysis
    }

    fn len(&self) -> usize {
        self.analysis.n
    }

    /// Entries of both factors.
    pub(super) fn n_entries(&self) -> usize {
        self.lu.l_factor_unsorted().compute_nnz() + self.lu.u_factor_unsorted().compute_nnz()
    }

    /// The diagonal of U: the pivot is what a column of it was given last.
    fn pivots(&self) -> impl Iterator<Item = f64> {
        let upper = self.lu.u_factor_unsorted();
        (0..self.len()).map(move |column| upper.val_of_col(column).last().copied().unwrap_or(0.0))
    }

    /// A x = b, in place.
    pub(super) fn solve(&self, x: &mut [f64]) {
        let n = self.len();
        let mut memory = MemBuffer::new(solve_in_place_scratch::<u32, f64>(n, 1, Par::Seq));
        self.lu.solve_in_place_with_conj(
            self.rows.as_ref(),
            self.analysis.order.as_ref(),
            Conj::No,
            MatMut::from_column_major_slice_mut(x, n, 1),
            Par::Seq,
            MemStack::new(&mut memory),
        );
    }

    /// Aᵀ x = b, in place.
    pub(super) fn solve_transposed(&self, x: &mut [f64]) {
        let n = self.len();
        let scratch = solve_transpose_in_place_scratch::<u32, f64>(n, 1, Par::Seq);
        let mut memory = MemBuffer::new(scratch);
        self.lu.solve_transpose_in_place_with_conj(
            self.rows.as_ref(),
            self.analysis.order.as_ref(),
            Conj::No,
            MatMut::from_column_major_slice_mut(x, n, 1),
            Par::Seq,
            MemStack::new(&mut memory),
        );
    }

    /// Whether the determinant is negative.
    pub(super) fn is_negative(&self) -> bool {
        let minus = self.pivots().filter(|pivot| *pivot < 0.0).count() % 2 == 1;
        minus ^ is_odd(&self.rows) ^ is_odd(&self.analysis.order)
    }
}

/// Whether a permutation is an odd number of exchanges.
fn is_odd(permutation: &Perm<u32>) -> bool {
    let to = permutation.as_ref().arrays().0;
    let mut seen = vec![false; to.len()];
    let mut odd = false;
    for start in 0..to.len() {
        let mut at = start;
        while !seen[at] {
            seen[at] = true;
            at = to[at] as usize;
            // A cycle of k is k − 1 exchanges.
            odd ^= at != start;
        }
    }
    odd
}

#[cfg(test)]
mod tests {
    use nalgebra::{DMatrix, DVector};
    use proptest::prelude::*;

    use super::*;

    fn factors(n: usize, terms: &[Term]) -> Option<SparseLu> {
        let analysis = Arc::new(Analysis::new(n, terms)?);
        let values = analysis.gathered(n, terms)?;
        SparseLu::new(analysis, &values)
    }

    proptest! {
        /// Another library's dense LU says the same of random sparse matrices, both ways, and of the
        /// sign of the determinant.
        #[test]
        fn sparse_factors_agree_with_dense_ones(
            n in 1_usize..12,
            entries in prop::collection::vec((0_u32..12, 0_u32..12, -3.0..3.0_f64), 0..40),
            b in prop::collection::vec(-5.0..5.0_f64, 12),
        ) {
            let mut terms: Vec<Term> = entries
                .into_iter()
                .filter(|(row, column, _)| (*row as usize) < n && (*column as usize) < n)
                .map(|(row, column, value)| Term { row, column, value })
                .collect();
            // Rows turned round, so that pivots have to be looked for.
            terms.extend((0..n as u32).map(|row| {
                Term { row, column: (row + 1) % n as u32, value: 4.0 }
            }));
            let mut matrix = DMatrix::zeros(n, n);
            for term in &terms {
                matrix[(term.row as usize, term.column as usize)] += term.value;
            }
            let determinant: f64 = matrix.determinant();
            prop_assume!(determinant.abs() > 1e-6);
            let sparse = factors(n, &terms).unwrap();
            prop_assert_eq!(sparse.is_negative(), determinant < 0.0);
            let right = DVector::from_column_slice(&b[..n]);
            let straight = matrix.clone().lu().solve(&right).unwrap();
            let transposed = matrix.transpose().lu().solve(&right).unwrap();
            let (mut x, mut y) = (b[..n].to_vec(), b[..n].to_vec());
            sparse.solve(&mut x);
            sparse.solve_transposed(&mut y);
            for (found, wanted) in x.iter().chain(&y).zip(straight.iter().chain(&transposed)) {
                prop_assert!((found - wanted).abs() <= 1e-8 * (1.0 + wanted.abs()));
            }
        }
    }

    #[test]
    fn a_matrix_without_an_inverse_has_no_factors() {
        let term = |row, column| Term { row, column, value: 1.0 };
        assert!(factors(2, &[term(0, 0), term(1, 0)]).is_none());
        assert!(factors(2, &[term(0, 0), term(1, 0), term(0, 1), term(1, 1)]).is_none());
    }

    #[test]
    fn a_term_at_another_place_needs_another_analysis() {
        let term = |row, column| Term { row, column, value: 1.0 };
        let analysis = Analysis::new(2, &[term(0, 0), term(1, 1), term(1, 1)]).unwrap();
        assert_eq!(analysis.gathered(2, &[term(1, 1), term(1, 1)]), Some(vec![0.0, 2.0]));
        assert_eq!(analysis.gathered(2, &[term(0, 1)]), None);
        assert_eq!(analysis.gathered(3, &[]), None);
    }
}
