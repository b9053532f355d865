//! The middle verdict: a fault that is too far off for chance, but not for the tolerances.

use super::around::{from_nominal, predict_at};
use super::bounded::{Column, least_squares};
use super::case::{Case, Prediction};
use super::fit::chi_square_99;
use super::trace::Trace;
use crate::circuit::{Overlay, Quantity};
use crate::fault::Hypothesis;
use crate::quantity::Spread;

/// Rounds of taking the prediction again around the part values that come nearest.
const ROUNDS: usize = 10;
/// Together the half-widths must reach a reading, or come this near, in parts of them: a curved board
/// may do the rest.
const NEARLY: f64 = 1.5;
/// How far the value of a fault may move along the tangent of its line, in steps between places.
const STEPS: f64 = 20.0;
/// A reading is met within its half-width, give or take this share of it.
const MET: f64 = 0.1;
/// Up to this many times the distance that chance makes, a board whose readings are out of reach is
/// looked at again around the part values that come nearest: a supply at its limit is another board.
const NOT_FAR: f64 = 5.0;

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

/// Whether some part values inside their tolerances, readings inside their half-widths and a value
/// of the fault meet the readings: bounded least squares on the tangent, which is taken again
/// around the part values that come nearest. `distance` is that of the prediction.
pub(super) fn can_strain(
    case: &Case<'_>,
    along: &Along<'_>,
    (prediction, distance): (&Prediction, f64),
) -> bool {
    let is_near = distance < NOT_FAR * chi_square_99(case.n_numbers());
    let n_sources = case.assembly.sources().len();
    let mut tangent = prediction.clone();
    let mut at = Vec::new();
    let mut off = f64::INFINITY;
    for _ in 0..ROUNDS {
        let nearest = nearest(case, &tangent, along, (&mut at, is_near && along.again));
        let Some(nearest) = nearest else { return false };
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

/// How far the worst reading stays outside its half-width, in half-widths, with `at` moved to the
/// steps that bring it there. `None` where a reading is out of reach, give or take what a curved
/// board may do; unless it is to be tried all the same.
fn nearest(
    case: &Case<'_>,
    tangent: &Prediction,
    along: &Along<'_>,
    (at, all_the_same): (&mut Vec<f64>, bool),
) -> Option<f64> {
    let n = tangent.y.len();
    let mut columns = columns(case, tangent, along);
    let n_moving = columns.len();
    let reach = |idx: usize| -> f64 {
        columns
            .iter()
            .map(|column| column.answers[idx].abs() * column.ends.1.max(-column.ends.0))
            .sum()
    };
    let reach: Vec<f64> = (0..n).map(reach).collect();
    let own: Vec<f64> = (0..n)
        .map(|idx| {
            let own = 3.0_f64.sqrt() * case.targets[idx].own;
            own.max(1e-6 * reach[idx]).max(1e-12)
        })
        .collect();
    // How far each reading may be moved, in its own half-widths.
    let ends = |idx: usize| {
        let (target, y) = (&case.targets[idx], tangent.y[idx]);
        ((target.low - y) / own[idx] - 1.0, (target.high - y) / own[idx] + 1.0)
    };
    let in_reach = (0..n).all(|idx| {
        let (low, high) = ends(idx);
        low.max(-high).max(0.0) * own[idx] <= NEARLY * reach[idx]
    });
    if !in_reach && !all_the_same {
        return None;
    }
    for column in &mut columns {
        column.answers.iter_mut().zip(&own).for_each(|(answer, own)| *answer /= own);
    }
    let moved = (0..n).map(|idx| {
        let mut answers = vec![0.0; n];
        answers[idx] = -1.0;
        Column { answers, ends: ends(idx) }
    });
    columns.extend(moved);
    // From the steps of the round before; the readings are where they were.
    at.resize(n_moving, 0.0);
    at.resize(columns.len(), 0.0);
    for (at, column) in at.iter_mut().zip(&columns) {
        *at = at.clamp(column.ends.0, column.ends.1);
    }
    let left = least_squares(&columns, &vec![0.0; n], at);
    at.truncate(n_moving);
    Some(left.iter().fold(0.0, |worst, left| worst.max(left.abs())))
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
