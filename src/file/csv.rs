//! Readings as comma-separated values: `setup,quantity,place,value`.
//!
//! Fields are separated and quoted as in RFC 4180: a field that holds a comma or a quote stands in
//! quotes, and a quote in it is doubled. Quoted fields do not run over the end of a line.

use std::collections::HashSet;
use std::sync::Arc;

use super::limits::{MOST_BYTES, MOST_READINGS};
use super::observed::Given;
use super::readings::{Taken, live, quantity, setup, too_many};
use super::syntax::too_long;
use super::written::Written;
use super::{Parsed, place};
use crate::circuit::{Circuit, Meter, Quantity, Readings};
use crate::finding::{Code, Finding, Source};

const HEADER: [&str; 4] = ["setup", "quantity", "place", "value"];

/// Reads readings from comma-separated values, taken with the usual meter. The first line is
/// `setup,quantity,place,value`; a repeated place is a repeated reading.
///
/// ```
/// use ohmhound::file::{read_circuit, read_readings_csv};
/// use ohmhound::finding::Source;
///
/// let circuit = "[parts]\nBT1 = { volts = 9, nets = [\"IN\", \"GND\"] }\n\
///                R1 = { value = 470, nets = [\"IN\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", circuit), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let source = Source::new("r.csv", "setup,quantity,place,value\npowered,volts,IN,8.90\n");
/// let readings = read_readings_csv(&source, &circuit).value.ok_or("so are the readings")?;
/// assert_eq!(readings.readings.len(), 1);
/// # Ok::<(), &str>(())
/// ```
pub fn read_readings_csv(source: &Arc<Source>, circuit: &Circuit) -> Parsed<Readings> {
    if source.text.len() > MOST_BYTES {
        return Parsed::refused(too_long(&source.name));
    }
    let mut found = Vec::new();
    let mut lines = lines(source);
    let Some((fields, range)) = lines.next() else {
        let finding = Finding::error(Code::BadCsv, "the readings are empty").at(source, 0..0, "");
        return Parsed::refused(finding.help(format!("the first line is `{}`", HEADER.join(","))));
    };
    let header: Option<Vec<Written>> = fields.ok();
    let header = header.unwrap_or_default();
    if !header.iter().map(|field| field.text.as_str()).eq(HEADER) {
        let line = Written::verbatim(source, range);
        let message =
            format!("expected the header `{}`, found `{}`", HEADER.join(","), line.shown());
        let finding = line.error(Code::BadCsv, message, "");
        let separator = [';', '\t'].into_iter().find(|c| line.text.contains(*c));
        return Parsed::refused(match separator {
            Some(_) => finding.help("separate the fields with commas, and write points in numbers"),
            None => finding,
        });
    }
    let mut readings = Readings::default();
    let mut reader = Reader { circuit, live: HashSet::new(), found: &mut found };
    for (count, (fields, range)) in lines.enumerate() {
        if count == MOST_READINGS {
            reader.found.push(too_many(&Written::verbatim(source, range)));
            break;
        }
        match fields {
            Ok(fields) => readings.readings.extend(reader.line(source, &fields, range)),
            Err(finding) => reader.found.push(*finding),
        }
    }
    Parsed::new(Some(readings), found, source)
}

struct Reader<'a> {
    circuit: &'a Circuit,
    /// Setups and quantities of which it was said that the power is on.
    live: HashSet<(usize, Quantity)>,
    found: &'a mut Vec<Finding>,
}

impl Reader<'_> {
    fn line(
        &mut self,
        source: &Arc<Source>,
        fields: &[Written],
        range: std::ops::Range<usize>,
    ) -> Option<crate::circuit::Reading> {
        let [setup_text, quantity_text, place_text, value] = fields else {
            let message = format!("expected four fields, found {}", fields.len());
            self.found.push(
                Finding::error(Code::BadCsv, message)
                    .at(source, range, "")
                    .help("put a field that holds a comma in quotes; write points in numbers"),
            );
            return None;
        };
        let setup = setup(self.circuit, setup_text, "the line", &[], self.found);
        let quantity = quantity(quantity_text, self.found);
        let (setup, quantity) = (setup?, quantity?);
        if let Some(finding) = live(self.circuit, setup, quantity, quantity_text)
            && self.live.insert((setup.0, quantity))
        {
            self.found.push(finding);
        }
        let meter = Meter::default();
        let place = place::read(self.circuit, quantity, &meter, place_text, self.found)?;
        let given = given(quantity, value);
        Taken { setup, quantity, place, place_text, meter }.read(self.circuit, given, self.found)
    }
}

/// A value from a place where everything is text.
pub(super) fn given(quantity: Quantity, value: &Written) -> Given<'_> {
    match (quantity, value.text.as_str()) {
        (Quantity::Beep, "true") => Given::Flag(true, &value.source, value.range.clone()),
        (Quantity::Beep, "false") => Given::Flag(false, &value.source, value.range.clone()),
        _ => Given::Words(value),
    }
}

pub(super) type Line = (Result<Vec<Written>, Box<Finding>>, std::ops::Range<usize>);

/// The fields of every line that is not blank, with the bytes of the line.
pub(super) fn lines(source: &Arc<Source>) -> impl Iterator<Item = Line> + '_ {
    let mut start = 0;
    source.text.split_inclusive('\n').filter_map(move |line| {
        let from = start;
        start += line.len();
        let range = from..from + line.trim_end_matches(['\n', '\r']).len();
        let blank = line.trim().is_empty();
        (!blank).then(|| (split(source, range.clone()), range))
    })
}

fn split(
    source: &Arc<Source>,
    range: std::ops::Range<usize>,
) -> Result<Vec<Written>, Box<Finding>> {
    let mut fields = Vec::new();
    let mut at = range.start;
    loop {
        let rest = &source.text[at..range.end];
        let field_at = at + (rest.len() - rest.trim_start_matches([' ', '\t']).len());
        let end = if source.text[field_at..range.end].starts_with('"') {
            quoted_end(&source.text, field_at, range.end).ok_or_else(|| {
                Box::new(
                    Finding::error(Code::BadCsv, "a quoted field has no closing quote")
                        .at(source, field_at..range.end, "")
                        .help("close it on the same line, and double a quote inside it"),
                )
            })?
        } else {
            source.text[field_at..range.end].find(',').map_or(range.end, |comma| field_at + comma)
        };
        let raw = &source.text[field_at..end];
        fields.push(match raw.strip_prefix('"').and_then(|raw| raw.strip_suffix('"')) {
            Some(inside) if raw.len() > 1 => {
                Written::decoded(source, field_at..end, inside.replace("\"\"", "\""))
            }
            _ => Written::verbatim(source, field_at..field_at + raw.trim_end().len()),
        });
        let rest = &source.text[end..range.end];
        let after = rest.trim_start_matches([' ', '\t']);
        if after.is_empty() {
            return Ok(fields);
        }
        if !after.starts_with(',') {
            return Err(Box::new(
                Finding::error(Code::BadCsv, "expected a comma after a quoted field").at(
                    source,
                    end..range.end,
                    "",
                ),
            ));
        }
        at = end + (rest.len() - after.len()) + 1;
    }
}

/// Where a field ends that starts with a quote at `start`, its closing quote included.
fn quoted_end(text: &str, start: usize, end: usize) -> Option<usize> {
    let mut at = start + 1;
    loop {
        let quote = at + text[at..end].find('"')?;
        if !text[quote + 1..end].starts_with('"') {
            return Some(quote + 1);
        }
        at = quote + 2;
    }
}
