//! Files: circuits, readings, stock lists.

use std::sync::Arc;

use ohmhound::circuit::Circuit;
use ohmhound::file::{
    Parsed, Wanted, is_circuit, lift_setups, read_readings, read_readings_csv, read_stock,
    read_stock_csv, readings_circuit,
};
use ohmhound::finding::Source;
use ohmhound::quantity::{Tolerance, Unit};
use ohmhound::report::observed;

use super::{board, circuit_of, owed, parts, text};

/// A circuit file, and behind the line `# shelf` the shelf that it names.
pub fn circuit(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let (own, shelf) = parts(text, "# shelf\n");
    let source = Source::new("circuit.toml", own);
    let _ = (is_circuit(&source), readings_circuit(&source));
    let read = circuit_of(&source, shelf);
    owed(&read);
    let again = circuit_of(&source, shelf);
    assert_eq!(read.findings, again.findings, "two answers to one text");
    let all = |circuit: &Circuit| {
        let Circuit { title, nets, parts, setups, limits, board, .. } = circuit;
        format!("{title:?} {nets:?} {parts:?} {setups:?} {limits:?} {board:?}")
    };
    let (first, second) = (read.value.as_ref().map(all), again.value.as_ref().map(all));
    assert_eq!(first, second, "two circuits from one text");
    if let Some(circuit) = read.value {
        whole(&circuit);
    }
}

/// Every pin is on a net that is there, every name is found under its number.
fn whole(circuit: &Circuit) {
    for (id, part) in circuit.parts_by_id() {
        assert_eq!(circuit.part(&part.name), Some(id));
        assert!(part.pins.iter().all(|pin| pin.net.index() < circuit.nets.len()));
        assert!(part.pins.len() >= 2, "{part:?}");
    }
    for (id, name) in circuit.nets_by_id() {
        assert_eq!(circuit.net(name), Some(id));
    }
    for number in 0..circuit.setups.len() {
        assert_eq!(circuit.setup(&circuit.setups[number].name).map(|id| id.0), Some(number));
    }
}

/// A readings file of the demo board that it names.
pub fn readings(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let source = Source::new("readings.toml", text);
    let mut circuit = board(&readings_circuit(&source).unwrap_or_default());
    lift_setups(&source, &mut circuit);
    whole(&circuit);
    let read = read_readings(&source, &circuit);
    let again = read_readings(&source, &circuit);
    assert_eq!(read.findings, again.findings, "two answers to one text");
    taken(&read, &circuit);
}

/// Readings with commas, of the board that the shorter readings are of.
pub fn csv(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let circuit = board("gate.toml");
    taken(&read_readings_csv(&Source::new("readings.csv", text), &circuit), &circuit);
}

fn taken(read: &Parsed<ohmhound::circuit::Readings>, circuit: &Circuit) {
    owed(read);
    let Some(readings) = &read.value else { return };
    for reading in readings.readings.iter().chain(&readings.after).chain(&readings.good) {
        assert!(!observed(reading, circuit).is_empty());
        assert!(!reading.place.words(circuit).is_empty());
        assert!(reading.number().is_none_or(f64::is_finite), "{reading:?}");
    }
}

/// A stock list, in both forms.
pub fn stock(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    for (unit, rated) in [(Unit::Ohm, Unit::Watt), (Unit::Farad, Unit::Volt)] {
        let wanted = Wanted { unit, rated, tolerance: Tolerance::Fraction(0.05) };
        let source: Arc<Source> = Source::new("drawer", text);
        for read in [read_stock(&source, wanted), read_stock_csv(&source, wanted)] {
            owed(&read);
            for item in read.value.iter().flatten() {
                assert!(item.value.nominal.is_finite(), "{item:?}");
                assert!(item.value.least() <= item.value.most(), "{item:?}");
            }
        }
    }
}
