//! LU factors of small dense matrices, for systems of a few ports.

/// A pivot of a small system below this share of its row is a net that lost its path to ground.
const LEAST_PIVOT: f64 = 1e-11;

/// LU factors of a small matrix, row by row, with partial pivoting on scaled rows.
#[derive(Debug, Clone)]
pub(super) struct SmallFactors {
    n: usize,
    lu: Vec<f64>,
    /// The row of the matrix that stands in each row of the factors.
    rows: Vec<usize>,
}

impl SmallFactors {
    /// `None` where a pivot is next to nothing.
    pub(super) fn new(mut lu: Vec<f64>, n: usize) -> Option<SmallFactors> {
        let mut rows: Vec<usize> = (0..n).collect();
        let mut sizes: Vec<f64> = lu
            .chunks(n.max(1))
            .map(|row| row.iter().fold(1e-300, |most: f64, value| most.max(value.abs())))
            .collect();
        for k in 0..n {
            let share = |row: usize| lu[row * n + k].abs() / sizes[row];
            let pivot = (k..n).max_by(|&a, &b| share(a).total_cmp(&share(b)))?;
            let best = share(pivot);
            if best.is_nan() || best < LEAST_PIVOT {
                return None;
            }
            if pivot != k {
                for column in 0..n {
                    lu.swap(pivot * n + column, k * n + column);
                }
                rows.swap(pivot, k);
                sizes.swap(pivot, k);
            }
            let (upper, lower) = lu.split_at_mut((k + 1) * n);
            let top = &upper[k * n + k..];
            for row in lower.chunks_mut(n) {
                let row = &mut row[k..];
                let factor = row[0] / top[0];
                row[0] = factor;
                for (value, top) in row[1..].iter_mut().zip(&top[1..]) {
                    *value -= factor * top;
                }
            }
        }
        Some(SmallFactors { n, lu, rows })
    }

    pub(super) fn solve(&self, right: Vec<f64>) -> Vec<f64> {
        let n = self.n;
        let mut x: Vec<f64> = self.rows.iter().map(|&row| right[row]).collect();
        for row in 0..n {
            for column in 0..row {
                x[row] -= self.lu[row * n + column] * x[column];
            }
        }
        for row in (0..n).rev() {
            for column in row + 1..n {
                x[row] -= self.lu[row * n + column] * x[column];
            }
            x[row] /= self.lu[row * n + row];
        }
        x
    }

    pub(super) fn solve_transposed(&self, right: Vec<f64>) -> Vec<f64> {
        let n = self.n;
        let mut x = right;
        for row in 0..n {
            for column in 0..row {
                x[row] -= self.lu[column * n + row] * x[column];
            }
            x[row] /= self.lu[row * n + row];
        }
        for row in (0..n).rev() {
            for column in row + 1..n {
                x[row] -= self.lu[column * n + row] * x[column];
            }
        }
        let mut answer = vec![0.0; n];
        for (place, &row) in self.rows.iter().enumerate() {
            answer[row] = x[place];
        }
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_factors_solve_both_ways() {
        // Rows out of order, so that pivoting has something to do.
        let matrix = vec![0.0, 2.0, 1.0, 1.0, 1.0, 0.0, 4.0, 0.0, 3.0];
        let factors = SmallFactors::new(matrix.clone(), 3).unwrap();
        let x = [1.0, -2.0, 3.0];
        let times = |transposed: bool| -> Vec<f64> {
            (0..3)
                .map(|i| {
                    (0..3)
                        .map(|j| matrix[if transposed { 3 * j + i } else { 3 * i + j }] * x[j])
                        .sum()
                })
                .collect()
        };
        for (found, right) in
            [(factors.solve(times(false)), x), (factors.solve_transposed(times(true)), x)]
        {
            for (found, right) in found.iter().zip(right) {
                approx::assert_relative_eq!(*found, right, max_relative = 1e-14);
            }
        }
        assert!(SmallFactors::new(vec![1.0, 2.0, 2.0, 4.0], 2).is_none());
    }
}
