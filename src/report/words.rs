//! Values and places as people read them.

use crate::circuit::{Circuit, Observed, Quantity, Reading};
use crate::diagnosis::Candidate;
use crate::fault::Fault;
use crate::quantity::{Unit, print, print_count, print_short};

/// The unit that a quantity is read in.
pub fn unit_of(quantity: Quantity, circuit: &Circuit, reading: Option<&Reading>) -> Unit {
    match quantity {
        Quantity::Volts | Quantity::Diode => Unit::Volt,
        Quantity::Amps => Unit::Amp,
        Quantity::Ohms | Quantity::Beep => Unit::Ohm,
        Quantity::Seen => {
            let led = reading.is_some_and(|reading| match reading.place {
                crate::circuit::Place::Part(part) => circuit[part].kind == "led",
                _ => false,
            });
            if led { Unit::Amp } else { Unit::Watt }
        }
    }
}

/// A value as a meter would show it; OL where it is over the range.
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

/// A value of a quantity as the meter shows it: diode mode always shows volts with three decimals.
pub fn shown_as(value: f64, quantity: Quantity, unit: Unit) -> String {
    if quantity == Quantity::Diode && value.is_finite() {
        return diode_volts(value, 3);
    }
    shown(value, unit)
}

/// Volts of diode mode with a band of two standard uncertainties.
pub fn drop_with_band(value: f64, u: f64) -> String {
    if value.is_infinite() {
        return "OL".to_owned();
    }
    let text = diode_volts(value, 3);
    let percent = 200.0 * u / value.abs();
    if !percent.is_finite() || percent < 0.05 || value.abs() < 5e-4 {
        return text;
    }
    let digits = if percent < 10.0 { 1 } else { 0 };
    format!("{text} ±{percent:.digits$} %")
}

/// Volts with a fixed number of decimals, without a minus before nothing.
fn diode_volts(value: f64, decimals: usize) -> String {
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

/// What a prediction means for a reading: a value, or a word for what is seen or heard.
pub fn predicted(value: f64, reading: &Reading, circuit: &Circuit) -> String {
    match reading.quantity {
        Quantity::Beep => {
            let beeps = value < reading.meter.beep_below;
            if beeps { "beep".to_owned() } else { "no beep".to_owned() }
        }
        Quantity::Seen => match reading.place {
            crate::circuit::Place::Part(part) if circuit[part].kind == "led" => {
                let least = circuit[part].nominal("lit_above").unwrap_or(5e-4);
                let lit = if value > least { "lit" } else { "dark" };
                format!("{lit} ({})", shown(value, Unit::Amp))
            }
            _ => shown(value, Unit::Watt),
        },
        quantity => shown_as(value, quantity, unit_of(quantity, circuit, Some(reading))),
    }
}

/// The setup, the quantity and the place of a reading.
pub fn where_taken(reading: &Reading, circuit: &Circuit) -> String {
    format!("{} {} {}", circuit[reading.setup].name, reading.quantity.word(), reading.place_text)
}

/// The value of a candidate with its interval; empty for a fault without one.
pub fn value_interval(candidate: &Candidate, circuit: &Circuit) -> String {
    let Candidate { fault, value, value_low, value_high, .. } = candidate;
    interval_words(fault, *value, *value_low, *value_high, circuit)
}

/// A value of a fault with its interval; an end that is not there is open.
pub fn interval_words(
    fault: &Fault,
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    circuit: &Circuit,
) -> String {
    let Some(value) = value else { return String::new() };
    let unit = fault.unit(circuit);
    let text = |value: f64| {
        let fault = fault.with_value(Some(value)).rounded();
        print_short(fault.value().unwrap_or(value), unit)
    };
    match (low, high) {
        (Some(low), Some(high)) => format!("{} ({} .. {})", text(value), text(low), text(high)),
        (Some(low), None) => format!("above {}", text(low)),
        (None, Some(high)) => format!("below {}", text(high)),
        (None, None) => "any value".to_owned(),
    }
}

/// A share in percent; "< 0.1 %" below that, and "> 99 %" where only rounding would make it all.
pub fn percent(share: f64) -> String {
    let percent = 100.0 * share;
    if percent > 99.0 {
        "> 99 %".to_owned()
    } else if percent >= 10.0 {
        format!("{percent:.0} %")
    } else if percent >= 0.1 {
        format!("{percent:.1} %")
    } else {
        "< 0.1 %".to_owned()
    }
}

/// A ratio in percent, without bounds.
pub fn percent_of(share: f64) -> String {
    let percent = 100.0 * share;
    if percent >= 10.0 { format!("{percent:.0} %") } else { format!("{percent:.1} %") }
}

/// Some names, and how many more.
pub fn list(names: &[String], most: usize) -> String {
    let shown = names.iter().take(most).cloned().collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(most) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// The range of values of one outcome.
pub fn range(low: f64, high: f64, quantity: Quantity, unit: Unit) -> String {
    let (low_text, high_text) = (shown_as(low, quantity, unit), shown_as(high, quantity, unit));
    if low_text == high_text {
        if low.is_infinite() { low_text } else { format!("about {low_text}") }
    } else {
        format!("{low_text} to {high_text}")
    }
}

/// A text of Markdown in which nothing is taken for markup.
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        if matches!(letter, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|') {
            safe.push('\\');
        }
        safe.push(letter);
    }
    safe
}

/// A field of a table with commas.
pub fn csv_field(text: &str) -> String {
    if text.contains([',', '"']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
