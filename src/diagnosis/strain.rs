//! The middle verdict: a fault that is too far off for chance, but not for the tolerances.

use super::case::{Case, Prediction};

/// Whether some part values inside their tolerances and readings inside their half-widths meet the
/// readings exactly: bounded least squares on the linearised prediction, by coordinate descent.
pub(super) fn can_strain(case: &Case<'_>, prediction: &Prediction) -> bool {
    let n = prediction.y.len();
    let root = 3.0_f64.sqrt();
    let n_sources = prediction.spread.iter().map(Vec::len).max().unwrap_or(0);
    // Columns: every source by its half-width, the gain of every quantity, every reading's own.
    let mut columns: Vec<Vec<f64>> = (0..n_sources)
        .map(|source| {
            let at = |idx: usize| prediction.spread[idx].get(source).copied().unwrap_or(0.0);
            (0..n).map(|idx| root * at(idx)).collect()
        })
        .collect();
    let mut quantities: Vec<_> = case.readings.iter().map(|reading| reading.quantity).collect();
    quantities.sort();
    quantities.dedup();
    for quantity in quantities {
        let gain = |idx: usize| {
            if case.readings[idx].quantity == quantity {
                root * case.targets[idx].gain
            } else {
                0.0
            }
        };
        columns.push((0..n).map(gain).collect());
    }
    for idx in 0..n {
        let mut own = vec![0.0; n];
        own[idx] = root * case.targets[idx].own;
        columns.push(own);
    }
    columns.retain(|column| column.iter().any(|value| *value != 0.0));
    let scale: Vec<f64> =
        (0..n).map(|idx| columns.iter().map(|column| column[idx].abs()).sum::<f64>()).collect();
    let mut residual: Vec<f64> = (0..n)
        .map(|idx| {
            let target = &case.targets[idx];
            prediction.y[idx].clamp(target.low, target.high) - prediction.y[idx]
        })
        .collect();
    // Together even the half-widths do not reach a reading: no need to try.
    if residual.iter().zip(&scale).any(|(residual, scale)| residual.abs() > scale * (1.0 + 1e-9)) {
        return false;
    }
    let weight: Vec<f64> = scale.iter().map(|scale| 1.0 / scale.max(1e-300).powi(2)).collect();
    let mut at = vec![0.0_f64; columns.len()];
    for _ in 0..2000 {
        let mut moved = 0.0_f64;
        for (column, at) in columns.iter().zip(&mut at) {
            let (mut along, mut size) = (0.0, 0.0);
            for idx in 0..n {
                along += weight[idx] * column[idx] * residual[idx];
                size += weight[idx] * column[idx] * column[idx];
            }
            let new = (*at + along / size).clamp(-1.0, 1.0);
            let step = new - *at;
            for idx in 0..n {
                residual[idx] -= step * column[idx];
            }
            *at = new;
            moved = moved.max(step.abs());
        }
        let left: f64 = residual
            .iter()
            .zip(&weight)
            .map(|(residual, weight)| weight * residual * residual)
            .sum();
        if left < 1e-8 {
            return true;
        }
        if moved < 1e-7 {
            return false;
        }
    }
    false
}
