//! The middle verdict: a fault that is too far off for chance, but not for the tolerances.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::around::{from_nominal, predict_at};
use super::case::{Case, Prediction};
use super::trace::Trace;
use crate::circuit::{Overlay, Quantity};
use crate::fault::Hypothesis;
use crate::quantity::Spread;

/// Rounds of taking the prediction again around the part values that come nearest.
const ROUNDS: usize = 6;
/// Together the half-widths must reach a reading, or come this near, in parts of them: a curved board
/// may do the rest.
const NEARLY: f64 = 1.5;
/// How far the value of a fault may move along the tangent of its line, in steps between places.
const STEPS: f64 = 20.0;
/// A reading is met within its half-width, give or take this share of it.
const MET: f64 = 0.1;
/// Sweeps over all that may move.
const SWEEPS: usize = 400;

/// The line of a fault around its best place.
pub(super) struct Along<'a> {
    /// What the line is of; nothing for a healthy board.
    hypothesis: Option<&'a Hypothesis>,
    /// The best place.
    place: f64,
    /// Whether the prediction is taken again around other part values.
    again: bool,
    /// A step of the place.
    width: f64,
    /// How the readings move by that step; empty for a change without a value.
    answers: &'a [f64],
}

/// A healthy board has no value to move.
pub(super) const NO_VALUE: Along<'_> =
    Along { hypothesis: None, place: 0.0, again: true, width: 0.0, answers: &[] };

impl<'a> Along<'a> {
    /// The line of a traced hypothesis.
    pub(super) fn of(hypothesis: &'a Hypothesis, trace: &'a Trace, again: bool) -> Along<'a> {
        let Trace { best, width, along, .. } = trace;
        let (place, width) = (best.place, *width);
        Along { hypothesis: Some(hypothesis), place, again, width, answers: along }
    }

    /// The change at a place.
    fn overlay(&self, place: f64) -> Overlay {
        self.hypothesis.map_or_else(Overlay::none, |hypothesis| hypothesis.overlay(place))
    }

    /// The ends of the line.
    fn ends(&self) -> (f64, f64) {
        let curve = self.hypothesis.and_then(|hypothesis| hypothesis.curve);
        curve.map_or((self.place, self.place), |curve| (curve.low, curve.high))
    }
}

/// What may move, and how the readings answer.
struct Column {
    /// Change of the readings by one step: a half-width.
    answers: Vec<f64>,
    /// The least and the most steps.
    ends: (f64, f64),
}

/// Whether some part values inside their tolerances, readings inside their half-widths and a value
/// of the fault meet the readings: bounded least squares on the tangent, which is taken again
/// around the part values that come nearest.
pub(super) fn can_strain(case: &Case<'_>, along: &Along<'_>, prediction: &Prediction) -> bool {
    let n_sources = case.assembly.sources().len();
    let mut tangent = prediction.clone();
    let mut at = Vec::new();
    let mut off = f64::INFINITY;
    for _ in 0..ROUNDS {
        let Some(nearest) = nearest(case, &tangent, along, &mut at) else { return false };
        if nearest < MET {
            return true;
        }
        // A round that comes no nearer is the last.
        if !along.again || nearest > 0.95 * off {
            return false;
        }
        off = nearest;
        // Steps are half-widths; the tangent counts in standard uncertainties.
        let values: Vec<f64> =
            at.iter().take(n_sources).map(|step| step * 3.0_f64.sqrt()).collect();
        let ends = along.ends();
        let steps = if along.answers.is_empty() { 0.0 } else { at.last().copied().unwrap_or(0.0) };
        let place = (along.place + steps * along.width).clamp(ends.0, ends.1);
        let overlay = along.overlay(place);
        let Some(there) = predict_at(case, &overlay, &values) else { return false };
        tangent = from_nominal(there, &values);
        if along.width > 0.0 {
            let steps = (place - along.place) / along.width;
            for (y, answer) in tangent.y.iter_mut().zip(along.answers) {
                *y -= steps * answer;
            }
        }
    }
    false
}

/// How far the worst reading stays outside its half-width, in half-widths, and the steps that bring
/// it there; `None` where readings are out of reach.
fn nearest(
    case: &Case<'_>,
    tangent: &Prediction,
    along: &Along<'_>,
    at: &mut Vec<f64>,
) -> Option<f64> {
    let n = tangent.y.len();
    let columns = columns(case, tangent, along);
    let reach: Vec<f64> = (0..n)
        .map(|idx| {
            let most =
                |column: &Column| column.answers[idx].abs() * column.ends.1.max(-column.ends.0);
            columns.iter().map(most).sum::<f64>()
        })
        .collect();
    let own: Vec<f64> = (0..n)
        .map(|idx| {
            let own = 3.0_f64.sqrt() * case.targets[idx].own;
            own.max(1e-6 * reach[idx]).max(1e-12)
        })
        .collect();
    let bounds: Vec<(f64, f64)> = case
        .targets
        .iter()
        .zip(&tangent.y)
        .map(|(target, y)| (target.low - y, target.high - y))
        .collect();
    let excess = |idx: usize, moved: f64| {
        let (low, high) = bounds[idx];
        moved - moved.clamp(low - own[idx], high + own[idx])
    };
    if (0..n).any(|idx| excess(idx, 0.0).abs() > NEARLY * reach[idx]) {
        return None;
    }
    if at.len() != columns.len() {
        *at = first(&columns, &bounds, &own);
    }
    let mut moved: Vec<f64> = (0..n)
        .map(|idx| columns.iter().zip(&*at).map(|(column, at)| column.answers[idx] * at).sum())
        .collect();
    let sizes: Vec<f64> = columns
        .iter()
        .map(|column| {
            column.answers.iter().zip(&own).map(|(answer, own)| (answer / own).powi(2)).sum()
        })
        .collect();
    let mut worst = f64::INFINITY;
    for _ in 0..SWEEPS {
        worst = (0..n).map(|idx| (excess(idx, moved[idx]) / own[idx]).abs()).fold(0.0, f64::max);
        if worst < MET {
            break;
        }
        let mut changed = 0.0_f64;
        for ((column, at), size) in columns.iter().zip(at.iter_mut()).zip(&sizes) {
            let pull: f64 = (0..n)
                .map(|idx| column.answers[idx] * excess(idx, moved[idx]) / own[idx].powi(2))
                .sum();
            if *size <= 0.0 {
                continue;
            }
            let new = (*at - pull / size).clamp(column.ends.0, column.ends.1);
            let step = new - *at;
            for (moved, answer) in moved.iter_mut().zip(&column.answers) {
                *moved += step * answer;
            }
            *at = new;
            changed = changed.max(step.abs());
        }
        if changed < 1e-7 {
            break;
        }
    }
    Some(worst)
}

/// Steps to begin with: the shortest that meet all readings, as if nothing had an end.
fn first(columns: &[Column], bounds: &[(f64, f64)], own: &[f64]) -> Vec<f64> {
    let n = own.len();
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        let shared: f64 = columns.iter().map(|column| column.answers[i] * column.answers[j]).sum();
        shared + if i == j { own[i] * own[i] } else { 0.0 }
    });
    let wanted = DVector::from_fn(n, |idx, _| 0.0_f64.clamp(bounds[idx].0, bounds[idx].1));
    let Some(factors) = Cholesky::new(matrix) else { return vec![0.0; columns.len()] };
    let solved = factors.solve(&wanted);
    columns
        .iter()
        .map(|column| {
            let step: f64 = column.answers.iter().zip(solved.iter()).map(|(a, b)| a * b).sum();
            step.clamp(column.ends.0, column.ends.1)
        })
        .collect()
}

/// Every source by its half-width, the gain of every quantity, and last the value of the fault.
fn columns(case: &Case<'_>, tangent: &Prediction, along: &Along<'_>) -> Vec<Column> {
    let n = tangent.y.len();
    let root = 3.0_f64.sqrt();
    let circuit = case.assembly.circuit();
    let n_sources = tangent.spread.iter().map(Vec::len).max().unwrap_or(0);
    let mut columns: Vec<Column> = (0..n_sources)
        .map(|source| {
            let at = |idx: usize| tangent.spread[idx].get(source).copied().unwrap_or(0.0);
            // A least and a most need not lie evenly around the nominal value.
            let known = case.assembly.sources().get(source);
            let uneven = known.and_then(|known| {
                let number = circuit[known.part].toleranced(known.parameter)?;
                let Some(Spread::Between { least, most }) = number.spread else { return None };
                let ends = (least - number.nominal, most - number.nominal);
                Some((ends.0 / known.half_width, ends.1 / known.half_width))
            });
            let ends = uneven.unwrap_or((-1.0, 1.0));
            Column { answers: (0..n).map(|idx| root * at(idx)).collect(), ends }
        })
        .collect();
    let mut quantities: Vec<Quantity> =
        case.readings.iter().map(|reading| reading.quantity).collect();
    quantities.sort();
    quantities.dedup();
    for quantity in quantities {
        let gain = |idx: usize| {
            let target = &case.targets[idx];
            let same = case.readings[idx].quantity == quantity;
            if same { root * target.gain * target.sign() } else { 0.0 }
        };
        columns.push(Column { answers: (0..n).map(gain).collect(), ends: (-1.0, 1.0) });
    }
    if !along.answers.is_empty() {
        columns.push(Column { answers: along.answers.to_vec(), ends: (-STEPS, STEPS) });
    }
    columns
}
