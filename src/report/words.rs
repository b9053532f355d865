//! Values and places as people read them.

use crate::circuit::{Accuracy, Appearance, Circuit, Connection, PartId, Quantity, Reading, Setup};
use crate::diagnosis::Candidate;
use crate::fault::Fault;
use crate::meter::diode_volts;
use crate::meter::lit_above;
use crate::quantity::{Unit, print_short};
use crate::study::Assumption;

pub use crate::meter::{observed, unit_of};
pub use crate::quantity::{shown, with_band};

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

/// What a prediction means for a reading: a value, or a word for what is seen or heard.
pub fn predicted(value: f64, reading: &Reading, circuit: &Circuit) -> String {
    match reading.quantity {
        Quantity::Beep => {
            let beeps = value < reading.meter.beep_below;
            if beeps { "beep".to_owned() } else { "no beep".to_owned() }
        }
        Quantity::Seen => match reading.place {
            crate::circuit::Place::Part(part) if circuit[part].kind == "led" => {
                let least = lit_above(&circuit[part]);
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

/// A text that begins with a capital letter. A name keeps its own.
pub fn sentence_case(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// How a setup differs from the circuit as drawn.
pub fn setup_words(circuit: &Circuit, setup: &Setup) -> String {
    let names = |parts: &[PartId], what: &str| {
        let names: Vec<String> = parts.iter().map(|part| circuit[*part].name.clone()).collect();
        (!names.is_empty()).then(|| format!("{} {what}", names.join(", ")))
    };
    let connection = |one: &Connection| {
        let [plus, minus] = one.nets().map(|net| circuit.net_name(net));
        match one {
            Connection::Supply { volts, .. } => {
                format!("{} connected from {plus} to {minus}", print_short(*volts, Unit::Volt))
            }
            Connection::Link { resistance, .. } => {
                format!("{} between {plus} and {minus}", print_short(*resistance, Unit::Ohm))
            }
        }
    };
    let mut words = vec![if setup.sources_on { "power on" } else { "power off" }.to_owned()];
    words.extend(names(&setup.disconnected, "disconnected"));
    words.extend(setup.connections.iter().map(connection));
    words.extend(names(&setup.open, "open"));
    words.extend(names(&setup.closed, "closed"));
    words.extend(names(&setup.lifted, "lifted"));
    if setup.celsius != Setup::powered().celsius {
        words.push(format!("at {}", print_short(setup.celsius, Unit::Celsius)));
    }
    words.join("; ")
}

/// A noun that goes with a number.
pub fn plural(n: usize, noun: &str) -> String {
    if n == 1 { noun.to_owned() } else { format!("{noun}s") }
}

/// How a part looks.
pub fn appearance_words(look: Appearance) -> &'static str {
    match look {
        Appearance::Corroded => "is corroded",
        Appearance::Burnt => "is burnt",
        Appearance::Cracked => "is cracked",
        Appearance::Replaced => "was replaced before",
        Appearance::Fine => "looks fine",
    }
}

/// How accurate a meter is.
pub fn accuracy_words(accuracy: &Accuracy) -> String {
    let percent = (1e6 * accuracy.fraction).round() / 1e4;
    format!("±({percent} % + {} counts)", accuracy.counts)
}

/// A default that applied, with the parts that it applied to.
pub fn assumption_words(one: &Assumption) -> String {
    format!("{} {}: {} ({})", one.kind, one.parameter, one.value, one.parts.join(", "))
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

/// A field of a table with commas.
pub fn csv_field(text: &str) -> String {
    if text.contains([',', '"']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
