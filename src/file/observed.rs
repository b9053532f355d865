//! What was observed: the value of a reading, in the unit of its quantity.

use std::ops::Range;
use std::sync::Arc;

use super::readings::Taken;
use super::take::suggested;
use super::tree::{Data, Node};
use super::written::Written;
use crate::circuit::{Accuracy, Circuit, Meter, Observed, Place, Quantity, Sight};
use crate::finding::{Code, Finding, Source};
use crate::quantity::{ReadingValue, Unit, parse_reading, print_short};

/// A value as the input has it.
pub(super) enum Given<'a> {
    Words(&'a Written),
    Flag(bool, &'a Arc<Source>, Range<usize>),
}

impl<'a> Given<'a> {
    /// The value of a node that is one value.
    pub(super) fn of(node: &'a Node) -> Option<Given<'a>> {
        match &node.data {
            Data::Text(written) | Data::Number(written) => Some(Given::Words(written)),
            Data::Flag(flag) => Some(Given::Flag(*flag, &node.source, node.range.clone())),
            _ => None,
        }
    }
}

/// Reads what was observed.
pub(super) fn read(
    circuit: &Circuit,
    taken: &Taken<'_>,
    given: Given<'_>,
    found: &mut Vec<Finding>,
) -> Option<Observed> {
    let quantity = taken.quantity;
    let what = format!("{} at `{}`", quantity.word(), taken.place_text.shown());
    let written = match (quantity, given) {
        (Quantity::Beep, Given::Flag(flag, ..)) => return Some(Observed::Beep(flag)),
        (Quantity::Beep, Given::Words(word)) => {
            let message = format!("{what}: expected `true` or `false`, found `{}`", word.shown());
            let help = "`true` when it beeps; write resistances under `ohms`";
            found.push(word.error(Code::Unobservable, message, "").help(help));
            return None;
        }
        (_, Given::Flag(flag, source, range)) => {
            let wanted = if quantity == Quantity::Seen { "a word" } else { "a number" };
            let message = format!("{what}: expected {wanted}, found `{flag}`");
            let finding = Finding::error(Code::Unobservable, message).at(source, range, "");
            found.push(finding.help("`true` and `false` are for `beep`"));
            return None;
        }
        (_, Given::Words(written)) => written,
    };
    let unit = match quantity {
        Quantity::Seen => return sight(circuit, taken.place, written, found),
        Quantity::Amps => Unit::Amp,
        Quantity::Ohms => Unit::Ohm,
        Quantity::Volts | Quantity::Diode | Quantity::Beep => Unit::Volt,
    };
    let value = match parse_reading(&written.text, unit) {
        Ok(value) => value,
        Err(error) => {
            found.push(written.value_error(&what, error));
            return None;
        }
    };
    let (least, observed) = match value {
        ReadingValue::Number { value, count, half_width } => {
            (value, Observed::Number { value, count, half_width })
        }
        ReadingValue::Between { low, high } => (low, Observed::Between { low, high }),
        ReadingValue::Below(most) => (most, Observed::Below(most)),
        ReadingValue::Above(least) => (least, Observed::Above(least)),
        ReadingValue::Over => (0.0, Observed::Over),
    };
    if quantity == Quantity::Ohms && (least < 0.0 || value == ReadingValue::Below(0.0)) {
        let message = format!("{what}: expected zero ohms or more, found `{}`", written.shown());
        found.push(written.error(Code::Unobservable, message, "").help(
            "a negative resistance means that the board was not off: discharge it and read again",
        ));
        return None;
    }
    found.extend(few_digits(quantity, unit, &taken.meter, written, &observed));
    Some(observed)
}

fn sight(
    circuit: &Circuit,
    place: Place,
    written: &Written,
    found: &mut Vec<Finding>,
) -> Option<Observed> {
    let word = written.text.as_str();
    let all = [Sight::Lit, Sight::Dark, Sight::Hot];
    let Some(sight) = all.into_iter().find(|sight| sight.word() == word) else {
        let message = format!("seen: expected `lit`, `dark` or `hot`, found `{}`", written.shown());
        let finding = written.error(Code::Unobservable, message, "");
        let near = suggested(word, all.map(Sight::word), found);
        let looks = crate::circuit::Appearance::ALL.iter().any(|(_, known)| *known == word);
        found.push(match near {
            _ if looks => finding.help("how a part looks, whatever the setup, goes under `[seen]`"),
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding,
        });
        return None;
    };
    if let Place::Part(part) = place
        && sight != Sight::Hot
        && circuit[part].kind != "led"
    {
        let part = &circuit[part];
        let message = format!(
            "`{}` is {}, which is never `{word}`",
            part.name,
            crate::device::with_article(part.kind)
        );
        found.push(
            written.error(Code::Unobservable, message, "").help("only an LED is lit or dark"),
        );
        return None;
    }
    Some(Observed::Sight(sight))
}

/// The last digit of the smallest range that hand-held meters usually have: a value written this
/// finely was copied in full, however few its digits. Common practice, no published source.
fn finest(quantity: Quantity) -> f64 {
    match quantity {
        Quantity::Volts | Quantity::Diode => 10e-3,
        Quantity::Amps => 1e-3,
        Quantity::Ohms => 0.1,
        Quantity::Beep | Quantity::Seen => f64::INFINITY,
    }
}

/// Warns of a value that was written with so few digits that its last one dominates.
fn few_digits(
    quantity: Quantity,
    unit: Unit,
    meter: &Meter,
    written: &Written,
    observed: &Observed,
) -> Option<Finding> {
    /// Fewer steps of the last digit than this are few: two digits.
    const FEW: f64 = 99.5;
    /// The share of the value from which the last digit is worth a word.
    const SHARE: f64 = 0.02;
    let Observed::Number { value, count, half_width: None } = *observed else { return None };
    let Accuracy { fraction, counts } = match quantity {
        Quantity::Volts => meter.volts.accuracy,
        Quantity::Amps => meter.amps.accuracy,
        Quantity::Ohms => meter.ohms.accuracy,
        Quantity::Diode => meter.diode.accuracy,
        Quantity::Beep | Quantity::Seen => return None,
    };
    let (size, doubt) = (value.abs(), counts * count);
    // A hair of slack keeps 10 mV, which is not a binary number, on the side of the finest.
    let coarse = count > finest(quantity) * 1.001;
    let dominates = doubt > SHARE * size && doubt > fraction * size;
    if value == 0.0 || !coarse || size > FEW * count || !dominates {
        return None;
    }
    let shown = written.shown();
    let taken = format!("{} ± {}", print_short(value, unit), print_short(doubt, unit));
    let message = format!("`{shown}` is taken as {taken}");
    // The half-width that one digit more would leave.
    let bare = shown.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | '-'));
    let half = if bare { format!("{}", count / 10.0) } else { print_short(count / 10.0, unit) };
    let help = match one_more_digit(&shown) {
        Some(longer) => format!(
            "if the meter showed more digits, write them all, as in `{longer}`; \
             or say how sure it is, as in `{shown} ± {half}`"
        ),
        None => format!("write all digits of the meter, or `{shown} ± {half}`"),
    };
    let finding = Finding::warning(Code::FewDigits, message);
    Some(finding.at(&written.source, written.range.clone(), "few digits").help(help))
}

/// The number with a zero more behind its point.
fn one_more_digit(shown: &str) -> Option<String> {
    let digits = shown.find(|c: char| !c.is_ascii_digit() && c != '.' && c != '-');
    let (number, rest) = shown.split_at(digits.unwrap_or(shown.len()));
    let plain = !number.is_empty()
        && !rest.starts_with(['e', 'E'])
        && !rest.contains(|c: char| c.is_ascii_digit());
    let point = if number.contains('.') { "" } else { "." };
    plain.then(|| format!("{number}{point}0{rest}"))
}
