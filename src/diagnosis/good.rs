//! Readings of a board that is known to be good, as a reference.
//!
//! A model of a board leaves much out: what a chip does between its pins with the power off is in no
//! datasheet. What a good board reads at a place is then better than any model. The model is shifted
//! to that value, and a fault has to explain the difference between the two boards.

use super::case::Case;
use crate::circuit::{Observed, Overlay, Quantity, Reading};
use crate::engine::Assembly;
use crate::meter::Target;

/// What a good board reads at the place of a reading, beside what the model says of it.
#[derive(Debug, Clone)]
pub(super) struct Good {
    quantity: Quantity,
    /// The value read on the good board in its SI unit; infinite for OL.
    read: f64,
    /// The value of the model for a healthy board, in the same way.
    model: f64,
    /// The largest value that counts as a number: more is OL.
    most: f64,
    /// One standard uncertainty of the reading of the good board, and of what the model leaves out.
    pub(super) own: f64,
    /// Change of the model's value by one standard uncertainty of each source: a good board has its
    /// own draw of every tolerance.
    pub(super) spread: Vec<f64>,
}

/// A prediction after the shift, with how it goes with what it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shifted {
    pub(super) value: f64,
    /// Per unit of the model's value for the faulted board.
    pub(super) by_model: f64,
    /// Per unit of the model's value for the healthy board.
    pub(super) by_healthy: f64,
    /// Per unit of what the good board reads.
    pub(super) by_good: f64,
}

/// What the model leaves out differs between two good boards by this share. Common practice, no
/// published source.
const UNMODELLED: f64 = 0.1;

/// Volts of the model and of the good board that are within this factor are shifted in proportion.
const NEAR: f64 = 2.0;

/// The readings of a good board that stand at the places of these readings.
pub(super) fn goods(
    assembly: &Assembly<'_>,
    readings: &[Reading],
    good: &[Reading],
) -> Vec<Option<Good>> {
    let place = |reading: &Reading| (reading.setup, reading.quantity, reading.place);
    let of = |reading: &Reading| good.iter().find(|other| place(other) == place(reading));
    let matched: Vec<Option<&Reading>> = readings.iter().map(of).collect();
    let references: Vec<Reading> = matched.iter().flatten().copied().cloned().collect();
    let case = Case::new(assembly, &references);
    let healthy = case.predict(&Overlay::none()).ok();
    let mut number = 0;
    matched
        .into_iter()
        .map(|reference| {
            let reference = reference?;
            let idx = number;
            number += 1;
            let healthy = healthy.as_ref()?;
            let read = match reference.observed {
                Observed::Number { value, .. } => value,
                Observed::Over => f64::INFINITY,
                _ => return None,
            };
            let target = Target::new(assembly.circuit(), reference);
            let slope = |value: f64| target.scale.slope(value);
            let meter = target.standard() / if read.is_finite() { slope(read) } else { 1.0 };
            let model = healthy.shown[idx];
            let left_out = if !read.is_finite() {
                0.0
            } else if read < model {
                // What stands beside the model takes this share of the current.
                UNMODELLED * read.abs() * (1.0 - read / model).clamp(0.0, 1.0)
            } else {
                UNMODELLED * (read - model).abs()
            };
            let spread = healthy.spread[idx].iter().map(|part| part / slope(model)).collect();
            Some(Good {
                quantity: reference.quantity,
                read,
                model,
                most: match reference.quantity {
                    Quantity::Ohms => reference.meter.ohms.range,
                    Quantity::Diode => reference.meter.diode.display_max,
                    _ => f64::INFINITY,
                },
                own: meter.hypot(left_out),
                spread,
            })
        })
        .collect()
}

impl Good {
    fn is_over(&self, value: f64) -> bool {
        value >= self.most
    }

    /// The model's value for a faulted board, shifted to the good board.
    ///
    /// A good board that reads less ohms or a lower drop than its model has another way for the
    /// current, which stays where it is: ohms in parallel, and of two drops the lower one shows. One
    /// that reads more has something in the way of all of it: the values go in proportion.
    pub(super) fn shift(&self, value: f64) -> Shifted {
        let same = Shifted { value, by_model: 1.0, by_healthy: 0.0, by_good: 0.0 };
        let (read, model) = (self.read, self.model);
        match self.quantity {
            Quantity::Ohms if self.is_over(read) && self.is_over(model) => same,
            // The good board shows nothing there that the model has: what is left of it is a fault.
            Quantity::Ohms | Quantity::Diode if self.is_over(read) => {
                let gone = value >= model / NEAR;
                Shifted { value: if gone { f64::INFINITY } else { value }, ..same }
            }
            Quantity::Ohms if read < model && read > 0.0 => {
                let beside = 1.0 / read - if model.is_finite() { 1.0 / model } else { 0.0 };
                let shifted = 1.0 / (1.0 / value.max(f64::MIN_POSITIVE) + beside);
                let share = |of: f64| if of.is_finite() { (shifted / of).powi(2) } else { 0.0 };
                Shifted {
                    value: shifted,
                    by_model: share(value.max(f64::MIN_POSITIVE)),
                    by_healthy: -share(model),
                    by_good: share(read),
                }
            }
            Quantity::Diode if read < model => {
                if value < read {
                    same
                } else {
                    Shifted { value: read, by_model: 0.0, by_healthy: 0.0, by_good: 1.0 }
                }
            }
            _ if !value.is_finite() => same,
            _ if model != 0.0 && (1.0 / NEAR..=NEAR).contains(&(read / model))
                || matches!(self.quantity, Quantity::Ohms | Quantity::Diode) && model > 0.0 =>
            {
                let factor = read / model;
                Shifted {
                    value: value * factor,
                    by_model: factor,
                    by_healthy: -value * factor / model,
                    by_good: value / model,
                }
            }
            Quantity::Volts | Quantity::Amps => Shifted {
                value: value + read - model,
                by_model: 1.0,
                by_healthy: -1.0,
                by_good: 1.0,
            },
            _ => same,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn good(quantity: Quantity, read: f64, model: f64, most: f64) -> Good {
        Good { quantity, read, model, most, own: 0.0, spread: Vec::new() }
    }

    #[test]
    fn a_healthy_board_reads_what_the_good_one_read() {
        for quantity in [Quantity::Ohms, Quantity::Diode, Quantity::Volts] {
            for (read, model) in [(0.5, 0.7), (0.7, 0.5), (0.5, 0.5), (1.9, 0.1)] {
                let shifted = good(quantity, read, model, 40e6).shift(model).value;
                approx::assert_relative_eq!(shifted, read, max_relative = 1e-12);
            }
        }
        // A path that no model knows, and one that the good board does not have.
        let over = f64::INFINITY;
        assert_eq!(good(Quantity::Ohms, 5e3, over, 40e6).shift(over).value, 5e3);
        assert_eq!(good(Quantity::Diode, 0.55, over, 2.0).shift(over).value, 0.55);
        assert_eq!(good(Quantity::Ohms, over, 5e3, 40e6).shift(5e3).value, over);
        assert_eq!(good(Quantity::Diode, over, 0.6, 2.0).shift(0.6).value, over);
    }

    /// A short is a short on any board.
    #[test]
    fn a_short_stays_a_short() {
        for (read, model) in [(2e3, 10e3), (10e3, 2e3), (2e3, f64::INFINITY)] {
            let shifted = good(Quantity::Ohms, read, model, 40e6).shift(0.3).value;
            assert!((0.29..=1.5).contains(&shifted), "{read} {model}: {shifted}");
        }
        assert_eq!(good(Quantity::Diode, 0.5, 0.7, 2.0).shift(0.0).value, 0.0);
        assert_eq!(good(Quantity::Diode, 0.7, 0.5, 2.0).shift(0.0).value, 0.0);
    }

    /// The slopes are those of differences.
    #[test]
    fn slopes() {
        for quantity in [Quantity::Ohms, Quantity::Diode, Quantity::Volts] {
            for (read, model, value) in [(5.0, 7.0, 4.0), (7.0, 5.0, 4.0), (5.0, 7.0, 6.0)] {
                let at = |read, model, value| good(quantity, read, model, 1e9).shift(value).value;
                let step = 1e-6;
                let shifted = good(quantity, read, model, 1e9).shift(value);
                let by_model =
                    (at(read, model, value + step) - at(read, model, value - step)) / (2.0 * step);
                let by_healthy =
                    (at(read, model + step, value) - at(read, model - step, value)) / (2.0 * step);
                let by_good =
                    (at(read + step, model, value) - at(read - step, model, value)) / (2.0 * step);
                approx::assert_relative_eq!(shifted.by_model, by_model, epsilon = 1e-6);
                approx::assert_relative_eq!(shifted.by_healthy, by_healthy, epsilon = 1e-6);
                approx::assert_relative_eq!(shifted.by_good, by_good, epsilon = 1e-6);
            }
        }
    }
}
