//! Sparse factors of boards without chips: conductances and given voltages alone.
//!
//! The matrix of such a board is symmetric, and what is left of it without the given voltages is
//! positive definite: half the work, no pivots to look for, and blocks of columns at once (J. W. H.
//! Liu, E. G. Ng and B. W. Peyton, "On finding supernodes for sparse matrix computations", SIAM J.
//! Matrix Anal. Appl. 14, 1993).
//!
//! # Formula
//!
//! Each given voltage is that along one cut of the tree, so it is known, and its current is what
//! that cut lacks:
//!
//! ```text
//! [ G_kk  G_kh  0 ] [x_k]   [b_k]        x_h = ± b_own
//! [ G_hk  G_hh  ± ] [x_h] = [b_h]        G_kk x_k = b_k − G_kh x_h
//! [ 0     ±     0 ] [ i ]   [b_own]      i = ± (b_h − G_hk x_k − G_hh x_h)
//! ```

use std::sync::Arc;

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, SymbolicCholesky, SymbolicCholeskyRaw, SymmetricOrdering,
    factorize_symbolic_cholesky, simplicial, supernodal,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Par, Side};

use super::sparse::Analysis;

/// A given voltage and the cut that it lies along.
#[derive(Debug, Clone, Copy)]
struct Held {
    own: u32,
    cut: u32,
    /// Where the factors of both stand among the entries, in the row and in the column of the current.
    places: [u32; 2],
}

/// What the analysis of a symmetric matrix says besides where its entries are.
#[derive(Debug)]
pub(super) struct Symmetric {
    n_cuts: usize,
    held: Vec<Held>,
    /// Per column of what is left: where its entries begin.
    first: Vec<u32>,
    /// Their rows, and the places that they have among all entries; the lower half only.
    rows: Vec<u32>,
    places: Vec<u32>,
    /// Entries of what is left in the columns of given voltages: row, column, place.
    from_held: Vec<[u32; 3]>,
    /// Entries of the rows of given voltages: which of them, column, place.
    into_held: Vec<[u32; 3]>,
    symbolic: SymbolicCholesky<u32>,
    /// The unknowns that are left, in the order of elimination.
    order: Vec<u32>,
}

const NOT_KEPT: u32 = u32::MAX;

impl Symmetric {
    /// Looks at a matrix whose first `n_cuts` rows are cut sets; `None` where its other rows are not
    /// given voltages along one cut each.
    pub(super) fn new(analysis: &Analysis, n_cuts: usize) -> Option<Symmetric> {
        let n = analysis.n();
        let mut number = vec![0_u32; n_cuts];
        let mut held = Vec::with_capacity(n - n_cuts);
        for own in n_cuts..n {
            let place = analysis.only(own)?;
            let cut = analysis.rows()[place] as usize;
            let across = analysis.place(own, cut)?;
            if cut >= n_cuts || number[cut] == NOT_KEPT {
                return None;
            }
            number[cut] = NOT_KEPT;
            let places = [across as u32, place as u32];
            held.push(Held { own: own as u32, cut: cut as u32, places });
        }
        let kept: Vec<u32> =
            (0..n_cuts as u32).filter(|cut| number[*cut as usize] != NOT_KEPT).collect();
        for (at, cut) in kept.iter().enumerate() {
            number[*cut as usize] = at as u32;
        }
        let (mut first, mut rows) = (vec![0_u32], Vec::new());
        let (mut places, mut from_held, mut into_held) = (Vec::new(), Vec::new(), Vec::new());
        let mut which = vec![0_u32; n_cuts];
        for (at, held) in held.iter().enumerate() {
            which[held.cut as usize] = at as u32;
        }
        for column in 0..n_cuts {
            for place in analysis.column(column) {
                let row = analysis.rows()[place] as usize;
                // The row of the current itself.
                if row >= n_cuts {
                    continue;
                }
                if number[row] == NOT_KEPT {
                    into_held.push([which[row], column as u32, place as u32]);
                } else if number[column] == NOT_KEPT {
                    from_held.push([row as u32, column as u32, place as u32]);
                } else if row >= column {
                    rows.push(number[row]);
                    places.push(place as u32);
                }
            }
            if number[column] != NOT_KEPT {
                first.push(rows.len() as u32);
            }
        }
        let pattern =
            SymbolicSparseColMatRef::new_checked(kept.len(), kept.len(), &first, None, &rows);
        let symbolic = factorize_symbolic_cholesky(
            pattern,
            Side::Lower,
            SymmetricOrdering::Amd,
            CholeskySymbolicParams::default(),
        )
        .ok()?;
        let order = match symbolic.perm() {
            Some(order) => order.arrays().0.iter().map(|at| kept[*at as usize]).collect(),
            None => kept.clone(),
        };
        Some(Symmetric { n_cuts, held, first, rows, places, from_held, into_held, symbolic, order })
    }

    /// Number of cut sets.
    pub(super) fn n_cuts(&self) -> usize {
        self.n_cuts
    }
}

/// The factors L Lᵀ of a positive definite matrix, column by column, in the order of elimination.
#[derive(Debug, Clone)]
pub(super) struct Cholesky {
    analysis: Arc<Analysis>,
    /// Square roots of the pivots, turned over.
    pivots: Vec<f64>,
    /// Per column: where its entries below the diagonal begin.
    first: Vec<u32>,
    rows: Vec<u32>,
    values: Vec<f64>,
    /// Entries that have to do with given voltages, in the order of the analysis.
    from_held: Vec<f64>,
    into_held: Vec<f64>,
    /// What given voltages and their currents are multiplied by.
    given: Vec<[f64; 2]>,
}

impl Cholesky {
    /// Factors the matrix with these entries; `None` where it is not positive definite.
    pub(super) fn new(analysis: Arc<Analysis>, n_cuts: usize, values: &[f64]) -> Option<Cholesky> {
        let symmetric = analysis.symmetric(n_cuts)?;
        let at = |place: u32| values[place as usize];
        let given: Vec<[f64; 2]> = symmetric.held.iter().map(|held| held.places.map(at)).collect();
        // At the places of another board's matrix a voltage may not be given.
        if given.iter().flatten().any(|factor| *factor == 0.0) {
            return None;
        }
        let lower: Vec<f64> =
            symmetric.places.iter().map(|place| values[*place as usize]).collect();
        let n = symmetric.order.len();
        let pattern =
            SymbolicSparseColMatRef::new_checked(n, n, &symmetric.first, None, &symmetric.rows);
        let symbolic = &symmetric.symbolic;
        let mut factors = vec![0.0; symbolic.len_val()];
        let scratch = symbolic.factorize_numeric_llt_scratch::<f64>(Par::Seq, Default::default());
        let mut memory = MemBuffer::try_new(scratch).ok()?;
        symbolic
            .factorize_numeric_llt(
                &mut factors,
                SparseColMatRef::new(pattern, &lower),
                Side::Lower,
                Default::default(),
                Par::Seq,
                MemStack::new(&mut memory),
                Default::default(),
            )
            .ok()?;
        let mut found = Cholesky {
            from_held: symmetric.from_held.iter().map(|entry| at(entry[2])).collect(),
            into_held: symmetric.into_held.iter().map(|entry| at(entry[2])).collect(),
            given,
            pivots: Vec::with_capacity(n),
            first: Vec::with_capacity(n + 1),
            rows: Vec::with_capacity(factors.len()),
            values: Vec::with_capacity(factors.len()),
            analysis: Arc::clone(&analysis),
        };
        found.first.push(0);
        found.take(symbolic, &factors);
        let sound = found.pivots.iter().all(|pivot| *pivot > 0.0 && pivot.is_finite());
        sound.then_some(found)
    }

    /// Takes the columns out of the blocks that they were found in: for one right side after the
    /// other, plain columns are faster.
    fn take(&mut self, symbolic: &SymbolicCholesky<u32>, factors: &[f64]) {
        match symbolic.raw() {
            SymbolicCholeskyRaw::Simplicial(symbolic) => {
                let lower = simplicial::SimplicialLltRef::new(symbolic, factors);
                let first = symbolic.col_ptr();
                for bounds in first.windows(2) {
                    let range = bounds[0] as usize..bounds[1] as usize;
                    let rows = &symbolic.row_idx()[range.clone()];
                    self.put(rows.iter().copied().zip(lower.values()[range].iter().copied()));
                }
            }
            SymbolicCholeskyRaw::Supernodal(symbolic) => {
                let lower = supernodal::SupernodalLltRef::new(symbolic, factors);
                for number in 0..symbolic.n_supernodes() {
                    let block = lower.supernode(number);
                    let (start, matrix) = (block.start(), block.val());
                    for column in 0..matrix.ncols() {
                        // Blocks lie column by column; one that did not would have no pivot.
                        let whole = matrix.col(column).try_as_col_major();
                        let values = whole.map(|whole| whole.as_slice()).unwrap_or_default();
                        let own = (start + column..start + matrix.ncols()).map(|row| row as u32);
                        let rows = own.chain(block.pattern().iter().copied());
                        self.put(rows.zip(values.iter().skip(column).copied()));
                    }
                }
            }
        }
    }

    /// Puts the next column in: its diagonal first.
    fn put(&mut self, mut column: impl Iterator<Item = (u32, f64)>) {
        self.pivots.push(column.next().map_or(0.0, |(_, pivot)| 1.0 / pivot));
        // Blocks hold zeros where their columns differ.
        for (row, value) in column.filter(|(_, value)| *value != 0.0) {
            self.rows.push(row);
            self.values.push(value);
        }
        self.first.push(self.rows.len() as u32);
    }

    /// Where the entries of the matrix were.
    pub(super) fn analysis(&self) -> &Arc<Analysis> {
        &self.analysis
    }

    /// Entries of the factor.
    pub(super) fn n_entries(&self) -> usize {
        self.pivots.len() + self.values.len()
    }

    /// Number of given voltages.
    pub(super) fn n_held(&self) -> usize {
        self.given.len()
    }

    /// A x = b, in place; A is its own transpose.
    pub(super) fn solve(&self, b: &mut [f64]) {
        // An analysis with factors was looked at.
        let Some(symmetric) = self.analysis.known_symmetric() else { return };
        let held = || symmetric.held.iter().zip(&self.given);
        let mut lacking: Vec<f64> = held().map(|(held, _)| b[held.cut as usize]).collect();
        for (held, [volts, _]) in held() {
            b[held.cut as usize] = b[held.own as usize] / volts;
        }
        for (&[row, column, _], value) in symmetric.from_held.iter().zip(&self.from_held) {
            b[row as usize] -= value * b[column as usize];
        }
        let mut x: Vec<f64> = symmetric.order.iter().map(|cut| b[*cut as usize]).collect();
        self.solve_kept(&mut x);
        for (cut, x) in symmetric.order.iter().zip(x) {
            b[*cut as usize] = x;
        }
        for (&[which, column, _], value) in symmetric.into_held.iter().zip(&self.into_held) {
            lacking[which as usize] -= value * b[column as usize];
        }
        for ((held, [_, amps]), lacking) in held().zip(lacking) {
            b[held.own as usize] = lacking / amps;
        }
    }

    /// L Lᵀ x = b, in place, in the order of elimination.
    fn solve_kept(&self, x: &mut [f64]) {
        let columns = || self.first.windows(2).map(|ends| ends[0] as usize..ends[1] as usize);
        for (at, column) in columns().enumerate() {
            let value = x[at] * self.pivots[at];
            x[at] = value;
            for (row, lower) in self.rows[column.clone()].iter().zip(&self.values[column]) {
                x[*row as usize] -= lower * value;
            }
        }
        for (at, column) in columns().enumerate().rev() {
            let (rows, values) = (&self.rows[column.clone()], &self.values[column]);
            // Four sums side by side: a single one would wait for each addition before the next.
            let (quads, rest) = (rows.chunks_exact(4), values.chunks_exact(4));
            let ends = quads.remainder().iter().zip(rest.remainder());
            let mut sum: f64 = ends.map(|(row, lower)| lower * x[*row as usize]).sum();
            let mut sums = [0.0; 4];
            for (rows, values) in quads.zip(rest) {
                for ((sum, row), lower) in sums.iter_mut().zip(rows).zip(values) {
                    *sum += lower * x[*row as usize];
                }
            }
            sum += (sums[0] + sums[1]) + (sums[2] + sums[3]);
            x[at] = (x[at] - sum) * self.pivots[at];
        }
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::{DMatrix, DVector};

    use super::*;
    use crate::engine::sparse::Term;

    /// A chain of conductances with two given voltages in it, against another library's dense LU: every
    /// right side by itself, those of the given voltages among them.
    #[test]
    fn given_voltages_and_their_currents_are_those_of_the_whole_matrix() {
        let (n_cuts, n) = (7, 9);
        let mut matrix = DMatrix::<f64>::zeros(n, n);
        for cut in 0..n_cuts {
            let siemens = 1.0 + cut as f64;
            matrix[(cut, cut)] += siemens;
            if cut + 1 < n_cuts {
                matrix[(cut + 1, cut + 1)] += siemens;
                matrix[(cut, cut + 1)] -= siemens;
                matrix[(cut + 1, cut)] -= siemens;
            }
        }
        // Two neighbours, so that given voltages meet each other, too.
        for (own, cut, sign) in [(7, 2, 1.0), (8, 3, -2.0)] {
            matrix[(own, cut)] = sign;
            matrix[(cut, own)] = sign;
        }
        let place = |at: usize| Term {
            row: (at % n) as u32,
            column: (at / n) as u32,
            value: matrix[(at % n, at / n)],
        };
        let terms: Vec<Term> = (0..n * n).map(place).filter(|term| term.value != 0.0).collect();
        let analysis = Arc::new(Analysis::new(n, &terms).unwrap());
        let values = analysis.gathered(n, &terms).unwrap();
        let factors = Cholesky::new(analysis, n_cuts, &values).unwrap();
        assert_eq!(factors.n_held(), 2);
        let dense = matrix.lu();
        for column in 0..n {
            let mut right = DVector::<f64>::zeros(n);
            right[column] = 1.0;
            let mut found = right.as_slice().to_vec();
            factors.solve(&mut found);
            for (found, wanted) in found.iter().zip(&dense.solve(&right).unwrap()) {
                assert!((found - wanted).abs() < 1e-12, "{column}: {found} and {wanted}");
            }
        }
    }
}
