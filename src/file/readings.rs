//! A readings file: tables of setup, quantity and place.

use std::sync::Arc;

use super::keys::{self, names};
use super::limits::MOST_READINGS;
use super::observed::{self, Given};
use super::take::{listed, refuse_unknown, suggested};
use super::tree::{Data, Entry, Node, Table};
use super::written::Written;
use super::{Parsed, job, meter, place, syntax};
use crate::circuit::{Circuit, Connection, Meter, Place, Quantity, Reading, Readings, SetupId};
use crate::device;
use crate::finding::{Code, Finding, Source};

/// What to do about a place that is there twice.
const REPEATS: &str =
    "write repeats as one list, as in `EN = [0.02, 0.03]`, or take one of them out";

/// Reads a readings file about a circuit.
///
/// Every complaint of the file is in [`Parsed::findings`], in the order of the text.
///
/// ```
/// use ohmhound::circuit::{Observed, POWERED};
/// use ohmhound::file::{read_circuit, read_readings};
/// use ohmhound::finding::Source;
///
/// let circuit = "[parts]\nBT1 = { volts = 9, nets = [\"IN\", \"GND\"] }\n\
///                R1 = { value = 470, nets = [\"IN\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", circuit), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let source = Source::new("r.toml", "[powered.volts]\nIN = 8.90");
/// let readings = read_readings(&source, &circuit).value.ok_or("so are the readings")?;
/// let reading = &readings.readings[0];
/// assert_eq!(reading.setup, POWERED);
/// assert_eq!(reading.observed, Observed::Number { value: 8.9, count: 0.01, half_width: None });
/// # Ok::<(), &str>(())
/// ```
pub fn read_readings(source: &Arc<Source>, circuit: &Circuit) -> Parsed<Readings> {
    let table = match syntax::parse(source, REPEATS) {
        Ok(table) => table,
        Err(findings) => return Parsed::new(None, findings, source),
    };
    let mut found = Vec::new();
    let mut readings = Readings {
        circuit: table
            .get("circuit")
            .and_then(|node| node.take_text("`circuit`", &mut found))
            .map(|name| name.text.clone()),
        job: job::read_job(table.get("job"), &mut found),
        meter: meter::read(table.get("meter"), &mut found),
        seen: job::read_seen(table.get("seen"), circuit, &mut found),
        done: job::read_done(table.get("done"), circuit, &mut found),
        ..Readings::default()
    };
    let mut reader = Reader { circuit, meter: readings.meter, found: &mut found, count: 0 };
    readings.readings = reader.block(&table, "the readings file", &names(keys::READINGS));
    for (key, into) in [("after", &mut readings.after), ("good", &mut readings.good)] {
        let what = format!("`{key}`");
        let table = table.get(key).and_then(|node| node.take_table(&what, reader.found));
        *into = table.map_or_else(Vec::new, |table| reader.block(table, &what, &[]));
    }
    Parsed::new(Some(readings), found, source)
}

/// The circuit file that a readings file names, relative to the readings file; nothing when it
/// names none or is not in order, which [`read_readings`] then says.
///
/// ```
/// use ohmhound::{file::readings_circuit, finding::Source};
///
/// let source = Source::new("r.toml", "circuit = \"gate.toml\"");
/// assert_eq!(readings_circuit(&source).as_deref(), Some("gate.toml"));
/// ```
pub fn readings_circuit(source: &Arc<Source>) -> Option<String> {
    match &syntax::parse(source, REPEATS).ok()?.get("circuit")?.data {
        Data::Text(name) => Some(name.text.clone()),
        _ => None,
    }
}

/// Whether a text is a circuit file: it has parts.
///
/// ```
/// use ohmhound::{file::is_circuit, finding::Source};
///
/// assert!(is_circuit(&Source::new("c.toml", "[parts]")));
/// assert!(!is_circuit(&Source::new("r.toml", "circuit = \"gate.toml\"")));
/// ```
pub fn is_circuit(source: &Arc<Source>) -> bool {
    syntax::parse(source, REPEATS).is_ok_and(|root| root.get("parts").is_some())
}

struct Reader<'a> {
    circuit: &'a Circuit,
    meter: Meter,
    found: &'a mut Vec<Finding>,
    count: usize,
}

impl Reader<'_> {
    /// Tables of setups, beside the keys that mean something else.
    fn block(&mut self, table: &Table, what: &str, other: &[&str]) -> Vec<Reading> {
        let mut readings = Vec::new();
        for entry in &table.entries {
            if other.contains(&entry.key.text.as_str()) {
                continue;
            }
            let Some(setup) = setup(self.circuit, &entry.key, what, other, self.found) else {
                continue;
            };
            let what = format!("setup `{}`", entry.key.shown());
            let Some(table) = entry.value.take_table(&what, self.found) else { continue };
            for entry in &table.entries {
                self.quantity(setup, entry, &mut readings);
            }
        }
        readings
    }

    fn quantity(&mut self, setup: SetupId, entry: &Entry, readings: &mut Vec<Reading>) {
        let Some(quantity) = quantity(&entry.key, self.found) else { return };
        let what = format!("`{}`", quantity.word());
        let Some(table) = entry.value.take_table(&what, self.found) else { return };
        self.found.extend(live(self.circuit, setup, quantity, &entry.key));
        for entry in &table.entries {
            self.entry(setup, quantity, entry, readings);
        }
    }

    fn entry(
        &mut self,
        setup: SetupId,
        quantity: Quantity,
        entry: &Entry,
        readings: &mut Vec<Reading>,
    ) {
        if self.count > MOST_READINGS {
            return;
        }
        let mut own = self.meter;
        let mut node = &entry.value;
        if let Data::Table(table) = &node.data {
            if !table.braces {
                return self.found.push(unquoted(entry));
            }
            let what = format!("the reading at `{}`", entry.key.shown());
            refuse_unknown(table, &what, keys::READING, self.found);
            let meter = table.get("meter").and_then(|node| node.take_table("`meter`", self.found));
            if let Some(meter) = meter {
                meter::read_quantity(quantity, meter, &mut own, self.found);
            }
            let Some(value) = table.get("value") else {
                let message = format!("{what} has no `value`");
                return self.found.push(node.error(Code::WrongShape, message, ""));
            };
            node = value;
        }
        let Some(place) = place::read(self.circuit, quantity, &own, &entry.key, self.found) else {
            self.full(&entry.key);
            return;
        };
        let values = match &node.data {
            Data::List(list) => list.as_slice(),
            _ => std::slice::from_ref(node),
        };
        for value in values {
            if self.full(&entry.key) {
                return;
            }
            let Some(given) = Given::of(value) else {
                let message = format!(
                    "{}: expected a number or a text, found {}",
                    quantity.word(),
                    value.found()
                );
                self.found.push(value.error(Code::WrongShape, message, ""));
                continue;
            };
            let taken = Taken { setup, quantity, place, place_text: &entry.key, meter: own };
            readings.extend(taken.read(self.circuit, given, self.found));
        }
    }

    /// Counts a reading, in order or not, and says once that there are too many.
    fn full(&mut self, at: &Written) -> bool {
        self.count += 1;
        if self.count == MOST_READINGS + 1 {
            self.found.push(too_many(at));
        }
        self.count > MOST_READINGS
    }
}

/// A reading without its value.
pub(super) struct Taken<'a> {
    pub(super) setup: SetupId,
    pub(super) quantity: Quantity,
    pub(super) place: Place,
    pub(super) place_text: &'a Written,
    pub(super) meter: Meter,
}

impl Taken<'_> {
    /// The reading with its value.
    pub(super) fn read(
        &self,
        circuit: &Circuit,
        given: Given<'_>,
        found: &mut Vec<Finding>,
    ) -> Option<Reading> {
        let observed = observed::read(circuit, self, given, found)?;
        Some(Reading {
            setup: self.setup,
            quantity: self.quantity,
            place: self.place,
            place_text: self.place_text.text.clone(),
            observed,
            meter: self.meter,
        })
    }
}

/// The setup of that name, or a complaint.
pub(super) fn setup(
    circuit: &Circuit,
    name: &Written,
    what: &str,
    other: &[&str],
    found: &mut Vec<Finding>,
) -> Option<SetupId> {
    let setup = circuit.setup(&name.text);
    if setup.is_none() {
        let names: Vec<&str> = circuit.setups.iter().map(|setup| setup.name.as_str()).collect();
        let message = format!("{what} has the unknown setup `{}`", name.shown());
        let finding = name.error(Code::UnknownSetup, message, "");
        let known = names.iter().chain(other).copied();
        found.push(match suggested(&name.text, known, found) {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None if Quantity::ALL.iter().any(|quantity| quantity.word() == name.text) => {
                finding.help(format!("write the setup first, as in `[powered.{}]`", name.text))
            }
            None => finding.help(format!("setups are {}", listed(&names))),
        });
    }
    setup
}

/// The quantity of that name, or a complaint.
pub(super) fn quantity(name: &Written, found: &mut Vec<Finding>) -> Option<Quantity> {
    let known = Quantity::ALL.into_iter().find(|quantity| quantity.word() == name.text);
    if known.is_none() {
        let words = Quantity::ALL.map(Quantity::word);
        let message = format!("unknown quantity `{}`", name.shown());
        let finding = name.error(Code::UnknownQuantity, message, "");
        found.push(match suggested(&name.text, words, found) {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding.help(format!("quantities are {}", listed(&words))),
        });
    }
    known
}

/// An error when the quantity is read with the meter's own current while something feeds the
/// board.
pub(super) fn live(
    circuit: &Circuit,
    setup: SetupId,
    quantity: Quantity,
    place: &Written,
) -> Option<Finding> {
    if !quantity.needs_power_off() {
        return None;
    }
    let setup = circuit.setups.get(setup.0)?;
    let source = circuit.parts_by_id().find(|(id, part)| {
        setup.sources_on
            && part.fitted
            && device::of(part).is_source()
            && !setup.disconnected.contains(id)
            && !setup.lifted.contains(id)
    });
    let bench = setup.connections.iter().find(|c| matches!(c, Connection::Supply { .. }));
    let what = match (source, bench) {
        (Some((_, part)), _) => format!("the {} `{}`", part.kind, part.name),
        (None, Some(bench)) => {
            format!("a bench supply on `{}`", circuit.net_name(bench.nets()[0]))
        }
        (None, None) => return None,
    };
    let word = quantity.word();
    let message =
        format!("`{word}` cannot be read in setup `{}`, where {what} is live", setup.name);
    Some(place.error(Code::PowerOn, message, "").help(format!(
        "for `{word}` the meter sends its own small current, which a source drowns: read with the \
         power off, as `unpowered`, or disconnect the source in the setup"
    )))
}

/// More readings than the limit.
pub(super) fn too_many(at: &Written) -> Finding {
    let message = format!("there are more than {MOST_READINGS} readings");
    at.error(Code::TooLarge, message, "the first one too many")
        .help("the covariance of all readings is one square table; split the job")
}

/// A name with points and without quotes, which TOML takes for a key in a key.
fn unquoted(entry: &Entry) -> Finding {
    let mut name = entry.key.text.clone();
    let mut end = entry.key.range.end;
    let mut node: &Node = &entry.value;
    while let Data::Table(table) = &node.data
        && !table.braces
        && let Some(inner) = table.entries.first()
    {
        name.push('.');
        name.push_str(&inner.key.text);
        // Under a heading the inner key stands elsewhere.
        if inner.key.range.start == end + 1 {
            end = inner.key.range.end;
        }
        node = &inner.value;
    }
    let name = super::written::shown(&name);
    let finding = Finding::error(Code::Unquoted, format!("`{name}` has a point and wants quotes"));
    finding
        .at(&entry.key.source, entry.key.range.start..end, "")
        .help(format!("write `\"{name}\" = ..`: without quotes TOML takes it for a key in a key"))
}

/// Makes the setups that a readings file names by a part alone, such as `["R1 lifted".ohms]`: they need
/// no words in the circuit file.
pub fn lift_setups(source: &Arc<Source>, circuit: &mut Circuit) {
    // What is wrong with the text is said where it is read.
    let Ok(file) = syntax::parse(source, "") else { return };
    let tables = ["after", "good"].iter().filter_map(|key| match &file.get(key)?.data {
        Data::Table(table) => Some(table),
        _ => None,
    });
    let names: Vec<String> = std::iter::once(&file)
        .chain(tables)
        .flat_map(|table| table.entries.iter().map(|entry| entry.key.text.clone()))
        .collect();
    for part in names.iter().filter_map(|name| circuit.lifted_in(name)).collect::<Vec<_>>() {
        circuit.lift(part);
    }
}
