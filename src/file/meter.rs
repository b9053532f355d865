//! `[meter]`: what the readings were taken with.

use super::keys;
use super::take::refuse_unknown;
use super::tree::{Node, Table};
use super::written::Written;
use crate::circuit::{Accuracy, Input, Meter, Quantity, RedOn};
use crate::finding::{Code, Finding};
use crate::quantity::{Unit, parse_number};

/// Reads `[meter]`; what it does not say stays as it is in the usual meter.
pub(super) fn read(node: Option<&Node>, found: &mut Vec<Finding>) -> Meter {
    let mut meter = Meter::default();
    let Some(table) = node.and_then(|node| node.take_table("`meter`", found)) else { return meter };
    refuse_unknown(table, "`meter`", &keys::meters(), found);
    for quantity in Quantity::ALL {
        let what = format!("`{}` of `meter`", quantity.word());
        let node = table.get(quantity.word()).filter(|_| quantity != Quantity::Seen);
        if let Some(table) = node.and_then(|node| node.take_table(&what, found)) {
            read_quantity(quantity, table, &mut meter, found);
        }
    }
    meter
}

/// Reads what the meter is on one quantity.
pub(super) fn read_quantity(
    quantity: Quantity,
    table: &Table,
    meter: &mut Meter,
    found: &mut Vec<Finding>,
) {
    let what = format!("the meter on {}", quantity.word());
    refuse_unknown(table, &what, keys::meter(quantity), found);
    let mut reader = Reader { table, what: &what, found };
    match quantity {
        Quantity::Volts => {
            let volts = &mut meter.volts;
            reader.accuracy(&mut volts.accuracy);
            volts.input = reader.input().unwrap_or(volts.input);
        }
        Quantity::Amps => {
            reader.accuracy(&mut meter.amps.accuracy);
            reader.number("resistance", Unit::Ohm, Sign::NotNegative, &mut meter.amps.resistance);
        }
        Quantity::Ohms => {
            let ohms = &mut meter.ohms;
            reader.accuracy(&mut ohms.accuracy);
            reader.number("open_volts", Unit::Volt, Sign::Positive, &mut ohms.open_volts);
            reader.number("amps", Unit::Amp, Sign::Positive, &mut ohms.amps);
            reader.number("leads", Unit::Ohm, Sign::NotNegative, &mut ohms.leads);
            reader.number("range", Unit::Ohm, Sign::Positive, &mut ohms.range);
        }
        Quantity::Diode => {
            let diode = &mut meter.diode;
            reader.accuracy(&mut diode.accuracy);
            reader.number("amps", Unit::Amp, Sign::Positive, &mut diode.amps);
            reader.number("compliance", Unit::Volt, Sign::Positive, &mut diode.compliance);
            reader.number("display_max", Unit::Volt, Sign::Positive, &mut diode.display_max);
            diode.red_on = reader.red_on().or(diode.red_on);
        }
        Quantity::Beep => {
            reader.number("below", Unit::Ohm, Sign::Positive, &mut meter.beep_below);
        }
        Quantity::Seen => {}
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Sign {
    Positive,
    NotNegative,
}

struct Reader<'a> {
    table: &'a Table,
    what: &'a str,
    found: &'a mut Vec<Finding>,
}

impl Reader<'_> {
    fn number(&mut self, key: &str, unit: Unit, sign: Sign, into: &mut f64) {
        let Some(node) = self.table.get(key) else { return };
        let what = format!("`{key}` of {}", self.what);
        let wanted = match sign {
            Sign::Positive => format!("more than zero {}", unit.name()),
            Sign::NotNegative => format!("zero {} or more", unit.name()),
        };
        let fits = |value: f64| value > 0.0 || (sign == Sign::NotNegative && value == 0.0);
        *into = node.take_number(&what, unit, &wanted, fits, self.found).unwrap_or(*into);
    }

    fn red_on(&mut self) -> Option<RedOn> {
        let word = self.table.get("red_on")?.take_text("`red_on`", self.found)?;
        match word.text.as_str() {
            "ground" => Some(RedOn::Ground),
            "net" => Some(RedOn::Net),
            _ => {
                let message =
                    format!("`red_on`: expected `ground` or `net`, found `{}`", word.shown());
                self.found.push(word.error(Code::BadValue, message, ""));
                None
            }
        }
    }

    /// `10 MΩ`, or `20 kΩ/V on 10 V` for a moving-coil meter.
    fn input(&mut self) -> Option<Input> {
        let what = "`input`";
        let written = self.table.get("input")?.take_value(what, self.found)?.clone();
        let Some(slash) = written.text.find("/V") else {
            return self.ohms(&written).map(Input::Ohms);
        };
        let after = written.slice(slash + "/V".len()..written.text.len());
        let ohms_per_volt = self.ohms(&written.slice(0..slash));
        let Some(range) = after.text.strip_prefix("on ") else {
            let message =
                format!("{what}: expected ohms per volt on a range, found `{}`", written.shown());
            let help = "write the range as well, as in `20 kΩ/V on 10 V`";
            self.found.push(written.error(Code::BadValue, message, "").help(help));
            return None;
        };
        let range = after.slice(after.text.len() - range.len()..after.text.len());
        let range = self.positive(&range, Unit::Volt)?;
        Some(Input::PerVolt { ohms_per_volt: ohms_per_volt?, range })
    }

    fn ohms(&mut self, written: &Written) -> Option<f64> {
        self.positive(written, Unit::Ohm)
    }

    fn positive(&mut self, written: &Written, unit: Unit) -> Option<f64> {
        match parse_number(&written.text, unit) {
            Ok(number) if number.value > 0.0 => Some(number.value),
            Ok(_) => {
                let message = format!(
                    "`input`: expected more than zero {}, found `{}`",
                    unit.name(),
                    written.shown()
                );
                self.found.push(written.error(Code::BadValue, message, ""));
                None
            }
            Err(error) => {
                self.found.push(written.value_error("`input`", error));
                None
            }
        }
    }

    /// `0.5 % + 2 counts`, or either of the two.
    fn accuracy(&mut self, into: &mut Accuracy) {
        let Some(node) = self.table.get("accuracy") else { return };
        let Some(written) = node.take_text("`accuracy`", self.found) else { return };
        let mut accuracy = Accuracy { fraction: 0.0, counts: 0.0 };
        let mut start = 0;
        let mut pieces = Vec::new();
        for piece in written.text.split('+') {
            pieces.push(written.slice(start..start + piece.len()));
            start += piece.len() + 1;
        }
        let mut seen = (false, false);
        for piece in &pieces {
            let counts = ["counts", "count", "digits", "digit"]
                .into_iter()
                .find_map(|word| piece.text.strip_suffix(word));
            let (digits, most, slot, twice) = match counts {
                Some(digits) => (digits, 1e6, &mut accuracy.counts, &mut seen.1),
                None if piece.text.ends_with('%') => {
                    (piece.text.as_str(), 1.0, &mut accuracy.fraction, &mut seen.0)
                }
                None => return self.bad_accuracy(piece),
            };
            let number = match parse_number(digits, Unit::One) {
                Ok(number) => number.value,
                Err(error) => return self.found.push(piece.value_error("`accuracy`", error)),
            };
            if !(0.0..most).contains(&number) || *twice {
                return self.bad_accuracy(piece);
            }
            *slot = number;
            *twice = true;
        }
        *into = accuracy;
    }

    fn bad_accuracy(&mut self, piece: &Written) {
        let message =
            format!("`accuracy`: expected a percentage and counts, found `{}`", piece.shown());
        let help = "write it as in `0.5 % + 2 counts`";
        self.found.push(piece.error(Code::BadValue, message, "").help(help));
    }
}
