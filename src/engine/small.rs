//! LU factors of small dense matrices, for systems of a few ports.

/// A pivot of a small system below this share of its row is a net that lost its path to ground.
pub(super) const LEAST_PIVOT: f64 = 1e-11;
/// Where currents are summed net by net, nets that stand together on a blocked junction still have
/// a pivot: from here on it has two good digits, which is enough for what next to nothing holds.
pub(super) const LEAST_NODAL_PIVOT: f64 = 1e-14;

/// LU factors of a small matrix, row by row, with partial pivoting on scaled rows. The matrix is
/// filled, factored and filled again in place.
#[derive(Debug, Clone)]
pub(super) struct SmallFactors {
    n: usize,
    lu: Vec<f64>,
    /// The row of the matrix that stands in each row of the factors.
    rows: Vec<usize>,
    sizes: Vec<f64>,
    /// Whether the determinant is negative.
    negative: bool,
}

impl SmallFactors {
    /// A matrix of zeros.
    pub(super) fn empty(n: usize) -> SmallFactors {
        SmallFactors {
            n,
            lu: vec![0.0; n * n],
            rows: vec![0; n],
            sizes: vec![0.0; n],
            negative: false,
        }
    }

    /// Zeros, but for ones on the diagonal of the first `ones` rows.
    pub(super) fn clear(&mut self, ones: usize) {
        self.lu.fill(0.0);
        for idx in 0..ones {
            self.lu[idx * self.n + idx] = 1.0;
        }
    }

    /// Adds a multiple of a vector to the first entries of a column; to none where the column is past the end.
    pub(super) fn add(&mut self, vector: &[f64], column: usize, factor: f64) {
        if column < self.n && !vector.is_empty() {
            let entries = self.lu.iter_mut().skip(column).step_by(self.n);
            for (entry, value) in entries.zip(vector) {
                *entry += factor * value;
            }
        }
    }

    /// Adds to one entry; to none where it is past the end.
    pub(super) fn add_at(&mut self, row: usize, column: usize, value: f64) {
        if row < self.n && column < self.n {
            self.lu[row * self.n + column] += value;
        }
    }

    /// Factors what was filled in; `None` where a pivot is less than this share of its row.
    pub(super) fn factor(&mut self, least: f64) -> Option<()> {
        let n = self.n;
        let lu = &mut self.lu;
        for (row, place) in self.rows.iter_mut().enumerate() {
            *place = row;
        }
        for (size, row) in self.sizes.iter_mut().zip(lu.chunks(n.max(1))) {
            *size = row.iter().fold(1e-300, |most: f64, value| most.max(value.abs()));
        }
        self.negative = false;
        for k in 0..n {
            let share = |row: usize| lu[row * n + k].abs() / self.sizes[row];
            let (mut pivot, mut best) = (k, share(k));
            for row in k + 1..n {
                let here = share(row);
                if here > best || best.is_nan() {
                    (pivot, best) = (row, here);
                }
            }
            if best.is_nan() || best < least {
                return None;
            }
            if pivot != k {
                for column in 0..n {
                    lu.swap(pivot * n + column, k * n + column);
                }
                self.rows.swap(pivot, k);
                self.sizes.swap(pivot, k);
                self.negative = !self.negative;
            }
            self.negative ^= lu[k * n + k] < 0.0;
            let (upper, lower) = lu.split_at_mut((k + 1) * n);
            let top = &upper[k * n + k..];
            for row in lower.chunks_mut(n) {
                let row = &mut row[k..];
                if row[0] == 0.0 {
                    continue;
                }
                let factor = row[0] / top[0];
                row[0] = factor;
                for (value, top) in row[1..].iter_mut().zip(&top[1..]) {
                    *value -= factor * top;
                }
            }
        }
        Some(())
    }

    /// Whether the determinant of the matrix is negative.
    pub(super) fn is_negative(&self) -> bool {
        self.negative
    }

    pub(super) fn solve(&self, x: &mut Vec<f64>) {
        self.solve_beside(x, &mut Vec::with_capacity(self.n));
    }

    /// The same with room that is taken again by the next one.
    pub(super) fn solve_beside(&self, x: &mut Vec<f64>, room: &mut Vec<f64>) {
        let n = self.n;
        room.clear();
        room.extend(self.rows.iter().map(|&row| x[row]));
        std::mem::swap(x, room);
        for row in 0..n {
            let sum: f64 =
                self.lu[row * n..row * n + row].iter().zip(&x[..row]).map(|(l, x)| l * x).sum();
            x[row] -= sum;
        }
        for row in (0..n).rev() {
            let upper = &self.lu[row * n + row + 1..(row + 1) * n];
            let sum: f64 = upper.iter().zip(&x[row + 1..]).map(|(u, x)| u * x).sum();
            x[row] = (x[row] - sum) / self.lu[row * n + row];
        }
    }

    pub(super) fn solve_transposed(&self, x: &mut Vec<f64>) {
        let n = self.n;
        for row in 0..n {
            x[row] /= self.lu[row * n + row];
            let (at, below) = (x[row], &self.lu[row * n + row + 1..(row + 1) * n]);
            for (x, u) in x[row + 1..].iter_mut().zip(below) {
                *x -= at * u;
            }
        }
        for row in (0..n).rev() {
            let at = x[row];
            for (x, l) in x[..row].iter_mut().zip(&self.lu[row * n..row * n + row]) {
                *x -= at * l;
            }
        }
        let mut answer = vec![0.0; n];
        for (place, &row) in self.rows.iter().enumerate() {
            answer[row] = x[place];
        }
        *x = answer;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factors(matrix: &[f64], n: usize) -> Option<SmallFactors> {
        let mut factors = SmallFactors::empty(n);
        for column in 0..n {
            let entries: Vec<f64> = (0..n).map(|row| matrix[row * n + column]).collect();
            factors.add(&entries, column, 1.0);
        }
        factors.factor(LEAST_PIVOT).map(|()| factors)
    }

    #[test]
    fn small_factors_solve_both_ways() {
        // Rows out of order, so that pivoting has something to do.
        let matrix = vec![0.0, 2.0, 1.0, 1.0, 1.0, 0.0, 4.0, 0.0, 3.0];
        let factored = factors(&matrix, 3).unwrap();
        // 0 (3 - 0) - 2 (3 - 0) + 1 (0 - 4) by the first row.
        assert!(factored.is_negative());
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
        let (mut straight, mut transposed) = (times(false), times(true));
        factored.solve(&mut straight);
        factored.solve_transposed(&mut transposed);
        for found in [straight, transposed] {
            for (found, right) in found.iter().zip(x) {
                approx::assert_relative_eq!(*found, right, max_relative = 1e-14);
            }
        }
        assert!(factors(&[1.0, 2.0, 2.0, 4.0], 2).is_none());
    }
}
