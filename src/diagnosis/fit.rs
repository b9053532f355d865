//! How well a prediction fits the readings: distance, evidence, the worst reading.
//!
//! # Formula
//!
//! With r the readings less the predictions and Σ = S·D·Sᵀ + M their covariance (tolerances by
//! adjoint sensitivities, and the meter), the distance is d² = rᵀΣ⁻¹r, and the evidence of the
//! numbers is ln p = −d²/2 − ln det(2πΣ)/2. A reading that is a range enters the distance by the
//! value inside it that makes the distance least, and the evidence by its probability given the
//! numbers.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use statrs::distribution::{ChiSquared, ContinuousCDF};
use statrs::function::erf::erfc;

use super::case::{Case, Prediction};
use crate::meter::Target;

/// Rounding kept in every variance, as a share of the value: a reading is never better than this.
const FLOOR: f64 = 1e-9;

/// A reading further off than this, in standard uncertainties, is not brought back by part values
/// inside their tolerances.
const BEYOND: f64 = 8.0;

/// How well one prediction fits.
#[derive(Debug, Clone)]
pub struct Fit {
    /// The squared distance d², dimensionless.
    pub distance: f64,
    /// Natural logarithm of the evidence.
    pub evidence: f64,
    /// For each reading, how far it is off, in standard uncertainties of it alone.
    pub off: Vec<f64>,
    /// One standard uncertainty of each reading against this prediction, on its target's scale.
    pub standard: Vec<f64>,
    /// Factors of Σ.
    pub(super) cholesky: Cholesky<f64, Dyn>,
    /// Residuals at the least distance.
    pub(super) residual: DVector<f64>,
}

/// The chi-square value that 99 % of good fits stay under.
///
/// ```
/// // NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4: 6.635 and 9.210.
/// assert!((ohmhound::diagnosis::chi_square_99(1) - 6.635).abs() < 1e-3);
/// assert!((ohmhound::diagnosis::chi_square_99(2) - 9.210).abs() < 1e-3);
/// ```
pub fn chi_square_99(freedom: usize) -> f64 {
    chi_square(0.99, freedom)
}

/// The chi-square value that this share of good fits stays under; `share` lies between 0 and 1.
///
/// ```
/// // NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4: 18.307.
/// assert!((ohmhound::diagnosis::chi_square(0.95, 10) - 18.307).abs() < 1e-3);
/// ```
pub fn chi_square(share: f64, freedom: usize) -> f64 {
    let share = share.clamp(0.0, 1.0);
    // The constructor refuses only degrees of freedom that are not above zero.
    ChiSquared::new(freedom.max(1) as f64).map_or(f64::INFINITY, |dist| dist.inverse_cdf(share))
}

/// The covariance of all readings against a prediction.
pub(super) fn covariance(case: &Case<'_>, prediction: &Prediction) -> DMatrix<f64> {
    let n = prediction.y.len();
    let mut matrix = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..=i {
            let shared: f64 =
                prediction.spread[i].iter().zip(&prediction.spread[j]).map(|(a, b)| a * b).sum();
            let (a, b) = (&case.targets[i], &case.targets[j]);
            let gain = if case.readings[i].quantity == case.readings[j].quantity {
                a.gain * b.gain * a.sign() * b.sign()
            } else {
                0.0
            };
            matrix[(i, j)] = shared + gain;
            matrix[(j, i)] = shared + gain;
        }
        let floor = FLOOR * (1e-3 + prediction.y[i].abs());
        matrix[(i, i)] += case.targets[i].own.powi(2) + floor * floor;
    }
    matrix
}

impl Fit {
    /// Fits a prediction; `None` when its covariance is not positive definite, which needs values
    /// that are not finite.
    pub fn new(case: &Case<'_>, prediction: &Prediction) -> Option<Fit> {
        let matrix = covariance(case, prediction);
        let n = matrix.nrows();
        let standard: Vec<f64> = (0..n).map(|idx| matrix[(idx, idx)].sqrt()).collect();
        let numbers: Vec<usize> = (0..n).filter(|&idx| case.targets[idx].is_number()).collect();
        let ranges: Vec<usize> = (0..n).filter(|&idx| !case.targets[idx].is_number()).collect();
        let off: Vec<f64> = (0..n)
            .map(|idx| outside(&case.targets[idx], prediction.y[idx]) / standard[idx])
            .collect();
        let cholesky = Cholesky::new(matrix.clone())?;
        let residual = nearest_residual(case, prediction, &cholesky, &ranges);
        let solved = cholesky.solve(&residual);
        let distance = residual.dot(&solved);
        let evidence = evidence(case, prediction, &matrix, &cholesky, &numbers, &ranges)?;
        (distance.is_finite() && evidence.is_finite()).then_some(Fit {
            distance,
            evidence,
            off,
            standard,
            cholesky,
            residual,
        })
    }

    /// Whether the prediction has to be taken around other part values: together the readings are
    /// too far from it, but none of them is by itself.
    pub(super) fn is_far(&self, case: &Case<'_>) -> bool {
        let m = case.n_numbers();
        self.distance > chi_square_99(m) && self.off.iter().all(|off| off.abs() < BEYOND)
    }

    /// The part values that this fit asks for, in standard uncertainties: the mean of what the
    /// readings leave of each source.
    pub(super) fn pulls(&self, prediction: &Prediction, n_sources: usize) -> Vec<f64> {
        let solved = self.cholesky.solve(&self.residual);
        (0..n_sources)
            .map(|source| {
                let along = |(spread, solved): (&Vec<f64>, &f64)| {
                    spread.get(source).map_or(0.0, |spread| spread * solved)
                };
                prediction.spread.iter().zip(solved.iter()).map(along).sum()
            })
            .collect()
    }

    /// The reading that is furthest off, with how far, in standard uncertainties.
    pub fn worst(&self) -> Option<(usize, f64)> {
        let largest = |a: &(usize, f64), b: &(usize, f64)| a.1.abs().total_cmp(&b.1.abs());
        self.off.iter().copied().enumerate().max_by(largest)
    }
}

/// How far a prediction is from its target; zero inside a range.
fn outside(target: &Target, y: f64) -> f64 {
    if y < target.low {
        target.low - y
    } else if y > target.high {
        target.high - y
    } else {
        0.0
    }
}

/// Residuals with every range at the value inside it that makes the distance least: coordinate
/// descent, which on a convex quadratic over a box cannot but come down.
fn nearest_residual(
    case: &Case<'_>,
    prediction: &Prediction,
    cholesky: &Cholesky<f64, Dyn>,
    ranges: &[usize],
) -> DVector<f64> {
    let mut residual = DVector::from_fn(prediction.y.len(), |idx, _| {
        outside(&case.targets[idx], prediction.y[idx])
    });
    if ranges.is_empty() {
        return residual;
    }
    let inverse = cholesky.inverse();
    for _ in 0..50 {
        let mut moved = 0.0_f64;
        for &idx in ranges {
            let pull = (inverse.row(idx) * &residual)[0] - inverse[(idx, idx)] * residual[idx];
            let target = &case.targets[idx];
            let (low, high) = (target.low - prediction.y[idx], target.high - prediction.y[idx]);
            let new = (-pull / inverse[(idx, idx)]).clamp(low, high);
            moved = moved.max((new - residual[idx]).abs() * inverse[(idx, idx)].sqrt());
            residual[idx] = new;
        }
        if moved < 1e-9 {
            break;
        }
    }
    residual
}

fn evidence(
    case: &Case<'_>,
    prediction: &Prediction,
    matrix: &DMatrix<f64>,
    whole: &Cholesky<f64, Dyn>,
    numbers: &[usize],
    ranges: &[usize],
) -> Option<f64> {
    let m = numbers.len();
    let mut total = 0.0;
    let block;
    let cholesky = if ranges.is_empty() {
        whole
    } else {
        block = Cholesky::new(DMatrix::from_fn(m, m, |i, j| matrix[(numbers[i], numbers[j])]))?;
        &block
    };
    let residual =
        DVector::from_fn(m, |i, _| case.targets[numbers[i]].low - prediction.y[numbers[i]]);
    let solved = cholesky.solve(&residual);
    let log_determinant: f64 =
        cholesky.l_dirty().diagonal().iter().map(|pivot| 2.0 * pivot.ln()).sum();
    let circle = (2.0 * std::f64::consts::PI).ln();
    total -= 0.5 * (residual.dot(&solved) + log_determinant + m as f64 * circle);
    for &idx in ranges {
        let cross = DVector::from_fn(m, |i, _| matrix[(idx, numbers[i])]);
        let weights = cholesky.solve(&cross);
        let mean = prediction.y[idx] + weights.dot(&residual);
        let deviation = (matrix[(idx, idx)] - weights.dot(&cross)).max(0.0).sqrt().max(1e-12);
        let target = &case.targets[idx];
        total += ln_between((target.low - mean) / deviation, (target.high - mean) / deviation);
    }
    Some(total)
}

/// Natural logarithm of the standard normal probability between two points.
pub(super) fn ln_between(low: f64, high: f64) -> f64 {
    if high <= low {
        return f64::NEG_INFINITY;
    }
    // Seen from the side where both tails are small, so that nothing cancels.
    let (low, high) = if low + high < 0.0 { (-high, -low) } else { (low, high) };
    if low > 30.0 {
        // Leading term of the tail; further terms change the logarithm by less than 0.002.
        return -0.5 * low * low - (low * (2.0 * std::f64::consts::PI).sqrt()).ln();
    }
    let tail = |z: f64| 0.5 * erfc(z / std::f64::consts::SQRT_2);
    (tail(low) - tail(high)).max(f64::MIN_POSITIVE).ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Normal probabilities: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.1.
    #[test]
    fn normal_probabilities() {
        approx::assert_relative_eq!(ln_between(-1.96, 1.96).exp(), 0.95, epsilon = 1e-4);
        approx::assert_relative_eq!(
            ln_between(f64::NEG_INFINITY, 1.0).exp(),
            0.84134,
            epsilon = 1e-5
        );
        approx::assert_relative_eq!(ln_between(1.0, f64::INFINITY).exp(), 0.15866, epsilon = 1e-5);
        assert!(ln_between(40.0, f64::INFINITY) < -800.0);
        assert_eq!(ln_between(-40.0, f64::INFINITY), 0.0);
    }
}
