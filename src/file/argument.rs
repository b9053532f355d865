//! A reading as an argument of the command line: `EN=0.02`.

use std::sync::Arc;

use super::csv::given;
use super::readings::{Taken, live};
use super::written::Written;
use super::{Parsed, lookup, place};
use crate::circuit::{Circuit, Meter, NetId, Place, Quantity, Reading, SetupId};
use crate::finding::{Code, Finding, Source};
use crate::quantity::{Unit, parse_number};

/// Reads a place and a value joined by `=`, such as `EN=0.02` or `VIN to EN=23.9`.
///
/// The findings speak of a source that is called after the option, such as `--volts`.
///
/// ```
/// use ohmhound::circuit::{Meter, POWERED, Quantity};
/// use ohmhound::file::{read_circuit, reading_argument};
/// use ohmhound::finding::Source;
///
/// let circuit = "[parts]\nBT1 = { volts = 9, nets = [\"IN\", \"GND\"] }\n\
///                R1 = { value = 470, nets = [\"IN\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", circuit), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let meter = Meter::default();
/// let read = reading_argument(&circuit, &meter, POWERED, Quantity::Volts, "IN=8.90");
/// assert!(read.value.is_some());
/// let read = reading_argument(&circuit, &meter, POWERED, Quantity::Volts, "IM=8.90");
/// assert_eq!(read.findings[0].help.as_deref(), Some("did you mean `IN`?"));
/// # Ok::<(), &str>(())
/// ```
pub fn reading_argument(
    circuit: &Circuit,
    meter: &Meter,
    setup: SetupId,
    quantity: Quantity,
    text: &str,
) -> Parsed<Reading> {
    let source = Source::new(format!("--{}", quantity.word()), text);
    let all = Written::verbatim(&source, 0..text.len());
    let Some(equals) = text.rfind('=') else {
        let message = format!("expected a place and a value, found `{}`", all.shown());
        let finding = all.error(Code::BadValue, message, "");
        return Parsed::refused(finding.help("write them as in `EN=0.02`"));
    };
    let ends = (all.slice(0..equals), all.slice(equals + 1..text.len()));
    taken(circuit, meter, (setup, quantity), &source, ends)
}

/// Reads the answer to a question of a session: a value, at the place that was asked for or at one
/// that the person named. The findings speak of a source that is called `answer`.
pub fn reading_answer(
    circuit: &Circuit,
    meter: &Meter,
    (setup, quantity): (SetupId, Quantity),
    place: &str,
    value: &str,
) -> Parsed<Reading> {
    let text = format!("{place} {value}");
    let source = Source::new("answer", text);
    let all = Written::verbatim(&source, 0..source.text.len());
    let ends = (all.slice(0..place.len()), all.slice(place.len() + 1..source.text.len()));
    taken(circuit, meter, (setup, quantity), &source, ends)
}

/// Reads where a reading is to be taken: a place without a value. The findings speak of a source that is
/// called `answer`.
///
/// ```
/// use ohmhound::circuit::{Meter, POWERED, Place, Quantity};
/// use ohmhound::file::{place_answer, read_circuit};
/// use ohmhound::finding::Source;
///
/// let circuit = "[parts]\nBT1 = { volts = 9, nets = [\"IN\", \"GND\"] }\n\
///                R1 = { value = 470, nets = [\"IN\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", circuit), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let meter = Meter::default();
/// let place = place_answer(&circuit, &meter, (POWERED, Quantity::Volts), "R1");
/// assert!(matches!(place.value, Some(Place::Part(_))));
/// let place = place_answer(&circuit, &meter, (POWERED, Quantity::Volts), "R2");
/// assert_eq!(place.findings[0].help.as_deref(), Some("did you mean `R1`?"));
/// # Ok::<(), &str>(())
/// ```
pub fn place_answer(
    circuit: &Circuit,
    meter: &Meter,
    (setup, quantity): (SetupId, Quantity),
    place: &str,
) -> Parsed<Place> {
    let source = Source::new("answer", place);
    let all = Written::verbatim(&source, 0..place.len());
    let mut found: Vec<Finding> = Vec::new();
    found.extend(live(circuit, setup, quantity, &all));
    let place = place::read(circuit, quantity, meter, &all, &mut found);
    Parsed::new(place, found, &source)
}

fn taken(
    circuit: &Circuit,
    meter: &Meter,
    (setup, quantity): (SetupId, Quantity),
    source: &Arc<Source>,
    (place_text, value): (Written, Written),
) -> Parsed<Reading> {
    let mut found: Vec<Finding> = Vec::new();
    found.extend(live(circuit, setup, quantity, &place_text));
    let reading =
        place::read(circuit, quantity, meter, &place_text, &mut found).and_then(|place| {
            let taken = Taken { setup, quantity, place, place_text: &place_text, meter: *meter };
            taken.read(circuit, given(quantity, &value), &mut found)
        });
    Parsed::new(reading, found, source)
}

/// Reads a net and a number joined by `=`, such as `5V_SB=5.0`. The findings speak of a source that
/// is called after the option.
pub fn place_argument(
    circuit: &Circuit,
    option: &str,
    text: &str,
    unit: Unit,
) -> Parsed<(NetId, f64)> {
    let source = Source::new(option, text);
    let all = Written::verbatim(&source, 0..text.len());
    let Some(equals) = text.rfind('=') else {
        let message = format!("expected a net and a value, found `{}`", all.shown());
        let finding = all.error(Code::BadValue, message, "");
        return Parsed::refused(finding.help("write them as in `OUT=5.0`"));
    };
    let mut found = Vec::new();
    let (name, value) = (all.slice(0..equals), all.slice(equals + 1..text.len()));
    let net = lookup::net(circuit, &name, Code::UnknownName, &mut found);
    let number = match parse_number(&value.text, unit) {
        Ok(number) => Some(number.value),
        Err(error) => {
            found.push(value.value_error(&format!("`{}`", name.shown()), error));
            None
        }
    };
    if net == Some(NetId::GROUND) {
        let message = format!("`{}` is ground: it is at nothing", name.shown());
        found.push(name.error(Code::BadValue, message, ""));
    }
    Parsed::new(net.zip(number), found, &source)
}

/// Reads a range joined by two points, such as `1k..100k`, in a unit. The findings speak of a source
/// that is called `range`.
///
/// ```
/// use ohmhound::file::range_argument;
/// use ohmhound::quantity::Unit;
///
/// assert_eq!(range_argument("1k..100k", Unit::Ohm).value, Some((1e3, 100e3)));
/// assert!(range_argument("5..5", Unit::Volt).value.is_none());
/// ```
pub fn range_argument(text: &str, unit: Unit) -> Parsed<(f64, f64)> {
    let source = Source::new("range", text);
    let all = Written::verbatim(&source, 0..text.len());
    let Some(points) = text.find("..") else {
        let message = format!("expected a range, found `{}`", all.shown());
        let finding = all.error(Code::BadValue, message, "");
        return Parsed::refused(finding.help("write it with two points, as in `1k..100k`"));
    };
    let mut found = Vec::new();
    let mut end = |part: Written| match parse_number(&part.text, unit) {
        Ok(number) => Some(number.value),
        Err(error) => {
            found.push(part.value_error("the range", error));
            None
        }
    };
    let ends = (end(all.slice(0..points)), end(all.slice(points + 2..text.len())));
    let ends = ends.0.zip(ends.1);
    if let Some((from, to)) = ends {
        let refused = if from == to {
            Some(("the range has no width", "end it above where it begins".to_owned()))
        } else if from > to {
            let turned = (all.slice(points + 2..text.len()).text, all.slice(0..points).text);
            Some(("the range ends below where it begins", format!("`{}..{}`?", turned.0, turned.1)))
        } else {
            None
        };
        if let Some((message, help)) = refused {
            found.push(all.error(Code::BadValue, message, "").help(help));
        }
    }
    Parsed::new(ends, found, &source)
}
