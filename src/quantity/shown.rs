//! Values as a handheld meter would show them.

use super::{Unit, print};

/// A value as a meter would show it; OL where it is over the range.
///
/// ```
/// use ohmhound::quantity::{Unit, shown};
///
/// assert_eq!(shown(4.7e3, Unit::Ohm), "4.70 kΩ");
/// assert_eq!(shown(f64::INFINITY, Unit::Ohm), "OL");
/// ```
pub fn shown(value: f64, unit: Unit) -> String {
    if value.is_infinite() {
        return "OL".to_owned();
    }
    // Below the last digit of any hand-held meter.
    let least = match unit {
        Unit::Volt => 5e-5,
        Unit::Amp => 5e-8,
        Unit::Ohm => 5e-4,
        Unit::Watt => 5e-7,
        _ => 0.0,
    };
    if value.abs() < least { print(0.0, unit, 3) } else { print(value, unit, 3) }
}

/// A value with a band of two standard uncertainties.
///
/// ```
/// use ohmhound::quantity::{Unit, with_band};
///
/// assert_eq!(with_band(5.0, 0.05, Unit::Volt), "5.00 V ±2.0 %");
/// assert_eq!(with_band(5.0, 0.0, Unit::Volt), "5.00 V");
/// ```
pub fn with_band(value: f64, u: f64, unit: Unit) -> String {
    if value.is_infinite() || !u.is_finite() {
        return shown(value, unit);
    }
    let band = 2.0 * u;
    if band <= 5e-4 * value.abs() {
        return shown(value, unit);
    }
    if unit != Unit::Ohm && band > 0.5 * value.abs() {
        let text = shown(value, unit);
        // A band that no meter shows is none.
        let band = if shown(band, unit) == shown(0.0, unit) {
            return text;
        } else {
            print(band, unit, 2)
        };
        return format!("{text} ±{band}");
    }
    let percent = 100.0 * band / value.abs();
    let digits = if percent < 10.0 { 1 } else { 0 };
    format!("{} ±{percent:.digits$} %", shown(value, unit))
}
