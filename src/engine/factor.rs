//! LU factors with a condition estimate: dense, or sparse where the matrix is large.
//!
//! LU alone hands back large nonsense for a matrix that is singular but for rounding, so every
//! accepted solution asks [`Factor::reciprocal_condition`] first.

use std::sync::Arc;

use nalgebra::{DMatrix, DVector, Dyn, LU};

use super::cholesky::Cholesky;
use super::sparse::{Analysis, SparseLu};
use super::tree::Tree;

mod large;

/// The factors of a square matrix.
///
/// Rows and columns are scaled first: milliohms and megohms meet in one matrix, and only what is
/// left after scaling says how well the answer is determined.
#[derive(Debug, Clone)]
pub struct Factor {
    lu: Lu,
    rows: Vec<f64>,
    columns: Vec<f64>,
    norm: f64,
    /// What rows were multiplied by besides, for the choice of pivots; empty for nothing.
    raised: Vec<f64>,
    /// When the matrix is one of cut sets: what leads from its unknowns to voltages of nets.
    tree: Option<Arc<Tree>>,
}

/// The factors of the scaled matrix.
#[derive(Debug, Clone)]
enum Lu {
    Dense(LU<f64, Dyn, Dyn>),
    Sparse(Box<SparseLu>),
    /// Of conductances and given voltages alone.
    Symmetric(Box<Cholesky>),
}

impl Factor {
    /// Factors a square matrix; `None` when a pivot is zero or not finite.
    ///
    /// ```
    /// use nalgebra::DMatrix;
    /// use ohmhound::engine::Factor;
    /// let factor = Factor::new(DMatrix::from_row_slice(2, 2, &[2.0, 1.0, 0.0, 4.0])).unwrap();
    /// assert_eq!(factor.solve(&[4.0, 8.0]), [1.0, 2.0]);
    /// assert_eq!(factor.solve_transposed(&[4.0, 8.0]), [2.0, 1.5]);
    /// assert!(Factor::new(DMatrix::from_element(2, 2, 1.0)).is_none());
    /// ```
    pub fn new(matrix: DMatrix<f64>) -> Option<Factor> {
        let n = matrix.nrows();
        let (mut rows, mut columns) = (vec![0.0_f64; n], vec![0.0_f64; n]);
        for j in 0..n {
            for i in 0..n {
                let size = matrix[(i, j)].abs();
                rows[i] = rows[i].max(size);
                columns[j] = columns[j].max(size);
            }
        }
        for scale in rows.iter_mut().chain(&mut columns) {
            *scale = 1.0 / scale.sqrt();
        }
        Factor::scaled(matrix, rows, columns, None)
    }

    /// [`Factor::new`] for a matrix as a list of its rows, each as long as there are rows.
    ///
    /// ```
    /// use ohmhound::engine::Factor;
    /// let factor = Factor::of_rows(&[vec![2.0, 1.0], vec![0.0, 4.0]]).unwrap();
    /// assert_eq!(factor.solve(&[4.0, 8.0]), [1.0, 2.0]);
    /// ```
    pub fn of_rows(rows: &[Vec<f64>]) -> Option<Factor> {
        Factor::new(DMatrix::from_fn(rows.len(), rows.len(), |row, column| rows[row][column]))
    }

    /// Factors the equations of the cut sets of a tree. `sizes` holds, per cut set, the sum of the
    /// sizes of the conductances that cross it; the rows after them belong to own currents.
    ///
    /// A cut set is scaled by the root of its conductance, which is the natural unit of its
    /// voltage; a current by the cut sets that it crosses. The largest entry of a row would be the
    /// wrong measure: it is the 1 of an own current, however small the conductances beside it are.
    pub(super) fn of_cuts(matrix: DMatrix<f64>, sizes: &[f64], tree: Arc<Tree>) -> Option<Factor> {
        let (n, n_cuts) = (matrix.nrows(), sizes.len());
        let mut scales: Vec<f64> =
            sizes.iter().map(|size| if *size > 0.0 { 1.0 / size.sqrt() } else { 1.0 }).collect();
        for own in n_cuts..n {
            let crossed = (0..n_cuts)
                .map(|cut| matrix[(own, cut)].abs().max(matrix[(cut, own)].abs()) * scales[cut])
                .fold(0.0, f64::max);
            scales.push(1.0 / crossed.max(matrix[(own, own)].abs().sqrt()));
        }
        // A stage with a gain puts more into a row than its conductances do: such a row is scaled by
        // its largest entry.
        let steepest: Vec<f64> = (0..n_cuts)
            .map(|row| {
                let entry = |column: usize| matrix[(row, column)].abs() * scales[column];
                1.0 / (0..n_cuts).map(entry).fold(0.0, f64::max)
            })
            .collect();
        // Twice the weight makes the row that gives a voltage the pivot of its column, before the
        // conductances there: the voltage then is exact instead of a difference of currents.
        let rows = scales
            .iter()
            .enumerate()
            .map(|(row, scale)| if row < n_cuts { scale.min(steepest[row]) } else { 2.0 * scale })
            .collect();
        Factor::scaled(matrix, rows, scales, Some(tree))
    }

    fn scaled(
        mut matrix: DMatrix<f64>,
        rows: Vec<f64>,
        columns: Vec<f64>,
        tree: Option<Arc<Tree>>,
    ) -> Option<Factor> {
        let n = matrix.nrows();
        if rows.iter().chain(&columns).any(|scale| !scale.is_finite()) {
            return None;
        }
        for j in 0..n {
            for i in 0..n {
                matrix[(i, j)] *= rows[i] * columns[j];
            }
        }
        let norm = one_norm(&matrix);
        if !norm.is_finite() {
            return None;
        }
        let lu = LU::new(matrix);
        let diagonal = lu.lu_internal().diagonal();
        let sound = diagonal.iter().all(|pivot| *pivot != 0.0 && pivot.is_finite());
        let lu = Lu::Dense(lu);
        sound.then_some(Factor { lu, rows, columns, norm, raised: Vec::new(), tree })
    }

    /// Size of the matrix.
    pub fn len(&self) -> usize {
        self.columns.len()
    }

    /// Whether the matrix has no rows.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Entries of both factors that are kept: all of them, or those that are not zero by structure.
    pub fn n_entries(&self) -> usize {
        match &self.lu {
            Lu::Dense(lu) => lu.lu_internal().len(),
            Lu::Sparse(lu) => lu.n_entries(),
            Lu::Symmetric(factors) => factors.n_entries(),
        }
    }

    /// Where the entries of a large matrix were.
    pub(super) fn analysis(&self) -> Option<Arc<Analysis>> {
        match &self.lu {
            Lu::Dense(_) => None,
            Lu::Sparse(lu) => Some(Arc::clone(lu.analysis())),
            Lu::Symmetric(factors) => Some(Arc::clone(factors.analysis())),
        }
    }

    /// Solves A x = b.
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        self.between_nets(b, |b| self.solve_cuts(b))
    }

    /// The same for equations of nets by way of those of cut sets: A⁻¹ = T A′⁻¹ Tᵀ, and so is its
    /// transpose.
    fn between_nets(&self, b: &[f64], solve: impl Fn(&[f64]) -> Vec<f64>) -> Vec<f64> {
        let Some(tree) = &self.tree else { return solve(b) };
        let mut gathered = b.to_vec();
        tree.gather(&mut gathered);
        let mut x = solve(&gathered);
        tree.spread(&mut x);
        x
    }

    /// Solves A x = b in the unknowns of the matrix itself.
    pub(super) fn solve_cuts(&self, b: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = b.iter().zip(&self.rows).map(|(b, scale)| b * scale).collect();
        self.solve_scaled(&mut x);
        for (x, scale) in x.iter_mut().zip(&self.columns) {
            *x *= scale;
        }
        x
    }

    fn solve_scaled(&self, b: &mut [f64]) {
        for (b, raised) in b.iter_mut().zip(&self.raised) {
            *b *= raised;
        }
        match &self.lu {
            Lu::Dense(lu) => solve_dense(lu, b),
            Lu::Sparse(lu) => lu.solve(b),
            Lu::Symmetric(factors) => factors.solve(b),
        }
    }

    /// Solves Aᵀ x = b, which is what adjoint sensitivities need.
    pub fn solve_transposed(&self, b: &[f64]) -> Vec<f64> {
        self.between_nets(b, |b| {
            let mut x: Vec<f64> = b.iter().zip(&self.columns).map(|(b, scale)| b * scale).collect();
            self.solve_transposed_scaled(&mut x);
            for (x, scale) in x.iter_mut().zip(&self.rows) {
                *x *= scale;
            }
            x
        })
    }

    fn solve_transposed_scaled(&self, b: &mut [f64]) {
        match &self.lu {
            Lu::Dense(lu) => solve_dense_transposed(lu, b),
            Lu::Sparse(lu) => lu.solve_transposed(b),
            Lu::Symmetric(factors) => factors.solve(b),
        }
        for (b, raised) in b.iter_mut().zip(&self.raised) {
            *b *= raised;
        }
    }

    /// Sign of the determinant.
    pub fn determinant_sign(&self) -> f64 {
        let is_negative = match &self.lu {
            Lu::Dense(lu) => {
                let minus =
                    lu.lu_internal().diagonal().iter().filter(|pivot| **pivot < 0.0).count();
                let sign: f64 = lu.p().determinant();
                (minus % 2 == 1) != (sign < 0.0)
            }
            Lu::Sparse(lu) => lu.is_negative(),
            // Each given voltage alone turns the sign.
            Lu::Symmetric(factors) => factors.n_held() % 2 == 1,
        };
        if is_negative { -1.0 } else { 1.0 }
    }

    /// An estimate of 1 / (‖A‖₁ ‖A⁻¹‖₁) of the scaled matrix, from above, within a small factor in practice.
    ///
    /// W. W. Hager, "Condition estimates", SIAM J. Sci. Stat. Comput. 5, 1984: walks to a corner
    /// of the unit ball where ‖A⁻¹x‖₁ is largest.
    pub fn reciprocal_condition(&self) -> f64 {
        let n = self.len();
        if n == 0 {
            return 1.0;
        }
        let mut x = vec![1.0 / n as f64; n];
        let mut estimate = 0.0;
        for _ in 0..5 {
            let mut y = x.clone();
            self.solve_scaled(&mut y);
            let size: f64 = y.iter().map(|value| value.abs()).sum();
            if !size.is_finite() {
                return 0.0;
            }
            if size <= estimate {
                break;
            }
            estimate = size;
            let mut z: Vec<f64> = y.iter().map(|value| value.signum()).collect();
            self.solve_transposed_scaled(&mut z);
            let dot: f64 = z.iter().zip(&x).map(|(z, x)| z * x).sum();
            let steepest = (0..n).max_by(|&a, &b| z[a].abs().total_cmp(&z[b].abs())).unwrap_or(0);
            if z[steepest].abs() <= dot {
                break;
            }
            x = vec![0.0; n];
            x[steepest] = 1.0;
        }
        1.0 / (self.norm * estimate)
    }
}

fn solve_dense(lu: &LU<f64, Dyn, Dyn>, b: &mut [f64]) {
    let mut x = DVector::from_column_slice(b);
    lu.p().permute_rows(&mut x);
    let factors = lu.lu_internal();
    let n = factors.nrows();
    for k in 0..n {
        let xk = x[k];
        if xk != 0.0 {
            for i in k + 1..n {
                x[i] -= factors[(i, k)] * xk;
            }
        }
    }
    for k in (0..n).rev() {
        x[k] /= factors[(k, k)];
        let xk = x[k];
        if xk != 0.0 {
            for i in 0..k {
                x[i] -= factors[(i, k)] * xk;
            }
        }
    }
    b.copy_from_slice(x.as_slice());
}

fn solve_dense_transposed(lu: &LU<f64, Dyn, Dyn>, b: &mut [f64]) {
    let mut x = DVector::from_column_slice(b);
    let factors = lu.lu_internal();
    let n = factors.nrows();
    for k in 0..n {
        let column = factors.column(k);
        let sum: f64 = (0..k).map(|i| column[i] * x[i]).sum();
        x[k] = (x[k] - sum) / column[k];
    }
    for k in (0..n).rev() {
        let column = factors.column(k);
        let sum: f64 = (k + 1..n).map(|i| column[i] * x[i]).sum();
        x[k] -= sum;
    }
    lu.p().inv_permute_rows(&mut x);
    b.copy_from_slice(x.as_slice());
}

/// Largest column sum of absolute values.
fn one_norm(matrix: &DMatrix<f64>) -> f64 {
    matrix
        .column_iter()
        .map(|column| column.iter().map(|value| value.abs()).sum::<f64>())
        .fold(0.0, larger)
}

/// The larger of two; not-a-number counts as the largest.
fn larger(largest: f64, sum: f64) -> f64 {
    if sum > largest || sum.is_nan() { sum } else { largest }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// T(n) = tridiag(−1, 2, −1) has the inverse (i (n + 1 − j)) / (n + 1) for i ≤ j (N. J. Higham,
    /// "Accuracy and Stability of Numerical Algorithms", 2nd ed., section 28.5), so for n = 9 the
    /// largest column sum of the inverse is 12.5 and of T it is 4. Scaling halves T and doubles
    /// the inverse.
    #[test]
    fn condition_of_the_second_difference_matrix() {
        let matrix = DMatrix::from_fn(9, 9, |i, j| match i.abs_diff(j) {
            0 => 2.0,
            1 => -1.0,
            _ => 0.0,
        });
        let condition = 1.0 / Factor::new(matrix).unwrap().reciprocal_condition();
        approx::assert_relative_eq!(condition, 4.0 * 12.5, max_relative = 1e-12);
    }

    #[test]
    fn a_matrix_that_is_singular_but_for_rounding_is_seen() {
        let matrix = DMatrix::from_row_slice(2, 2, &[0.1 + 0.2, 1.0, 0.3, 1.0]);
        assert!(Factor::new(matrix).is_none_or(|factor| factor.reciprocal_condition() < 1e-15));
    }
}
