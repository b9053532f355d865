//! What stands on the display.

use crate::circuit::{Observed, Quantity};

/// The weight of the last of four digits that a display shows of a value, in the SI unit: volts never
/// finer than a millivolt, amps than a tenth of a microamp, ohms than a tenth of an ohm. Common
/// practice, no published source.
pub fn last_digit(value: f64, quantity: Quantity) -> f64 {
    let finest: f64 = match quantity {
        Quantity::Amps => 1e-7,
        Quantity::Ohms => 0.1,
        _ => 1e-3,
    };
    if value == 0.0 || !value.is_finite() {
        return finest;
    }
    10.0_f64.powi(value.abs().log10().floor() as i32 - 3).max(finest)
}

/// What a display shows of a value that stands at the leads, OL where it is over the range.
///
/// ```
/// use ohmhound::circuit::{Observed, Quantity};
/// use ohmhound::meter::displayed;
///
/// let shown = Observed::Number { value: 4.207, count: 1e-3, half_width: None };
/// assert_eq!(displayed(4.2071, Quantity::Volts), shown);
/// assert_eq!(displayed(f64::INFINITY, Quantity::Ohms), Observed::Over);
/// ```
pub fn displayed(value: f64, quantity: Quantity) -> Observed {
    if value.is_infinite() {
        return Observed::Over;
    }
    let count = last_digit(value, quantity);
    // Ohms are never negative on a display. Adding zero turns a minus nothing into nothing.
    let least = if quantity == Quantity::Ohms { 0.0 } else { f64::NEG_INFINITY };
    // A count is a power of ten: dividing by its inverse keeps the digits clean.
    let places = 1.0 / count;
    let value = ((value * places).round() / places).max(least) + 0.0;
    Observed::Number { value, count, half_width: None }
}
