//! Readings in words.

use crate::circuit::{Circuit, Observed, Place, Quantity, Reading};
use crate::quantity::{Unit, print_count, print_short};

/// The unit that a quantity is read in.
pub fn unit_of(quantity: Quantity, circuit: &Circuit, reading: Option<&Reading>) -> Unit {
    match quantity {
        Quantity::Volts | Quantity::Diode => Unit::Volt,
        Quantity::Amps => Unit::Amp,
        Quantity::Ohms | Quantity::Beep => Unit::Ohm,
        Quantity::Seen => {
            let led = reading.is_some_and(|reading| match reading.place {
                Place::Part(part) => circuit[part].kind == "led",
                _ => false,
            });
            if led { Unit::Amp } else { Unit::Watt }
        }
    }
}

/// Volts of diode mode with a fixed number of decimals, without a minus before nothing.
pub fn diode_volts(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_nothing = text.chars().all(|sign| matches!(sign, '-' | '0' | '.'));
    format!("{} V", if is_nothing { text.trim_start_matches('-') } else { &text })
}

/// What was read, as the person wrote it.
pub fn observed(reading: &Reading, circuit: &Circuit) -> String {
    let unit = unit_of(reading.quantity, circuit, Some(reading));
    match reading.observed {
        Observed::Number { value, count, .. } if reading.quantity == Quantity::Diode => {
            let decimals = if count > 0.0 { (-count.log10()).round().clamp(0.0, 4.0) } else { 3.0 };
            diode_volts(value, decimals as usize)
        }
        Observed::Number { value, count, .. } => print_count(value, count, unit),
        Observed::Between { low, high } => {
            format!("{} .. {}", print_short(low, unit), print_short(high, unit))
        }
        Observed::Below(most) => format!("< {}", print_short(most, unit)),
        Observed::Above(least) => format!("> {}", print_short(least, unit)),
        Observed::Over => "OL".to_owned(),
        Observed::Beep(true) => "beep".to_owned(),
        Observed::Beep(false) => "no beep".to_owned(),
        Observed::Sight(sight) => sight.word().to_owned(),
    }
}
