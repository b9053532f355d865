//! The middle verdict: a fault that is too far off for chance, but not for the tolerances.

use super::around::{from_nominal, predict_at};
use super::case::{Case, Prediction};
use crate::circuit::{Overlay, Quantity};

/// Rounds of taking the prediction again around the part values that come nearest.
const ROUNDS: usize = 5;
/// Together the half-widths must reach a reading, or come this near, in parts of them: a curved board
/// may do the rest.
const NEARLY: f64 = 1.5;
/// How far the value of a fault may move along the tangent of its line, in steps between places.
const STEPS: f64 = 20.0;

/// What may move, by how much, and how the readings answer.
struct Column {
    /// Change of the readings by one step.
    answers: Vec<f64>,
    /// The least and the most steps.
    ends: (f64, f64),
}

/// Whether some part values inside their tolerances, readings inside their half-widths and a value
/// of the fault meet the readings exactly: bounded least squares on the tangent, which is taken
/// again around the part values that come nearest.
///
/// `along` is how the readings move along the fault's line; empty when it has none.
pub(super) fn can_strain(
    case: &Case<'_>,
    overlay: &Overlay,
    prediction: &Prediction,
    along: &[f64],
) -> bool {
    let n_sources = case.assembly.sources().len();
    let mut tangent = prediction.clone();
    let mut left = f64::INFINITY;
    for _ in 0..ROUNDS {
        let Some((nearest, at)) = nearest(case, &tangent, along) else { return false };
        if nearest < 1e-8 {
            return true;
        }
        // A round that comes no nearer is the last.
        if nearest > 0.9 * left {
            return false;
        }
        left = nearest;
        // Steps are half-widths; the tangent counts in standard uncertainties.
        let at: Vec<f64> = at.iter().take(n_sources).map(|step| step * 3.0_f64.sqrt()).collect();
        let Some(there) = predict_at(case, overlay, &at) else { return false };
        tangent = from_nominal(there, &at);
    }
    false
}

/// How near the readings are met, as a sum of squares in parts of what may move, and the steps of
/// the sources that do it; `None` where they are out of reach.
fn nearest(case: &Case<'_>, tangent: &Prediction, along: &[f64]) -> Option<(f64, Vec<f64>)> {
    let n = tangent.y.len();
    let (columns, n_sources) = columns(case, tangent, along);
    let reach: Vec<f64> = (0..n)
        .map(|idx| {
            let steps =
                |column: &Column| column.answers[idx].abs() * column.ends.1.max(-column.ends.0);
            columns.iter().map(steps).sum::<f64>()
        })
        .collect();
    let mut residual: Vec<f64> = (0..n)
        .map(|idx| {
            let target = &case.targets[idx];
            tangent.y[idx].clamp(target.low, target.high) - tangent.y[idx]
        })
        .collect();
    if residual.iter().zip(&reach).any(|(residual, reach)| residual.abs() > NEARLY * reach) {
        return None;
    }
    // Readings are weighed by what they may be off without the fault's own value.
    let weight: Vec<f64> = (0..n)
        .map(|idx| {
            let own = columns.iter().take(columns.len() - usize::from(!along.is_empty()));
            let scale: f64 = own.map(|column| column.answers[idx].abs()).sum();
            1.0 / scale.max(1e-300).powi(2)
        })
        .collect();
    let mut at = vec![0.0_f64; columns.len()];
    let mut left = f64::INFINITY;
    for _ in 0..2000 {
        let mut moved = 0.0_f64;
        for (column, at) in columns.iter().zip(&mut at) {
            let (mut pull, mut size) = (0.0, 0.0);
            for idx in 0..n {
                pull += weight[idx] * column.answers[idx] * residual[idx];
                size += weight[idx] * column.answers[idx] * column.answers[idx];
            }
            if size <= 0.0 {
                continue;
            }
            let new = (*at + pull / size).clamp(column.ends.0, column.ends.1);
            let step = new - *at;
            for idx in 0..n {
                residual[idx] -= step * column.answers[idx];
            }
            *at = new;
            moved = moved.max(step.abs());
        }
        left = residual
            .iter()
            .zip(&weight)
            .map(|(residual, weight)| weight * residual * residual)
            .sum();
        if left < 1e-8 || moved < 1e-7 {
            break;
        }
    }
    at.truncate(n_sources);
    Some((left, at))
}

/// Every source by its half-width, the gain of every quantity, every reading's own, and the value
/// of the fault; and the number of sources, which come first.
fn columns(case: &Case<'_>, tangent: &Prediction, along: &[f64]) -> (Vec<Column>, usize) {
    let n = tangent.y.len();
    let root = 3.0_f64.sqrt();
    let circuit = case.assembly.circuit();
    let n_sources = tangent.spread.iter().map(Vec::len).max().unwrap_or(0);
    let mut columns: Vec<Column> = (0..n_sources)
        .map(|source| {
            let at = |idx: usize| tangent.spread[idx].get(source).copied().unwrap_or(0.0);
            // A least and a most need not lie evenly around the nominal value.
            let known = case.assembly.sources().get(source);
            let number = known.and_then(|known| circuit[known.part].toleranced(known.parameter));
            let ends = match (known, number.map(|number| (number.spread, number))) {
                (Some(known), Some((Some(crate::quantity::Spread::Between { .. }), number))) => (
                    -number.half_width_low() / known.half_width,
                    number.half_width_high() / known.half_width,
                ),
                _ => (-1.0, 1.0),
            };
            Column { answers: (0..n).map(|idx| root * at(idx)).collect(), ends }
        })
        .collect();
    let mut quantities: Vec<Quantity> =
        case.readings.iter().map(|reading| reading.quantity).collect();
    quantities.sort();
    quantities.dedup();
    let even = |answers: Vec<f64>| Column { answers, ends: (-1.0, 1.0) };
    for quantity in quantities {
        let gain = |idx: usize| {
            let same = case.readings[idx].quantity == quantity;
            if same { root * case.targets[idx].gain * case.targets[idx].sign() } else { 0.0 }
        };
        columns.push(even((0..n).map(gain).collect()));
    }
    for idx in 0..n {
        let mut own = vec![0.0; n];
        own[idx] = root * case.targets[idx].own;
        columns.push(even(own));
    }
    if !along.is_empty() {
        columns.push(Column { answers: along.to_vec(), ends: (-STEPS, STEPS) });
    }
    (columns, n_sources)
}
