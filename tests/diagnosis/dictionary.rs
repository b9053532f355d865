//! A fault dictionary with exact answers: the five-resistor ladder, its ten opens and shorts, and
//! what a diagnosis has to make of their voltages.
//!
//! 10 V – R1 1k – n1; R2 2k n1–n2; R3 3k n2–ground; R4 4k n1–ground; R5 5k n2–ground. The exact
//! fractions were worked out by hand from Kirchhoff's current law. Any change of one resistor
//! moves n1 and n2 along one straight line, and the lines of R1 and R4, and of R3 and R5, coincide
//! (their ends on the two nets are the same but for a net that an ideal source holds). So the ten
//! faults fall into three groups of parts, whatever the mode: {R1, R4}, {R2}, {R3, R5}.

use std::collections::BTreeSet;

use ohmhound::circuit::{Circuit, Input, Meter, Observed, POWERED, Place, Quantity, Reading, Spot};
use ohmhound::device::two_pin;
use ohmhound::diagnosis::{Candidate, Diagnosis, Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::Fault;

/// Volts of n1 and n2 with the part open, and with it shorted.
const EXACT: [(&str, [f64; 2], [f64; 2]); 5] = [
    ("R1", [0.0, 0.0], [10.0, 150.0 / 31.0]),
    ("R2", [8.0, 0.0], [600.0 / 107.0, 600.0 / 107.0]),
    ("R3", [280.0 / 39.0, 200.0 / 39.0], [40.0 / 7.0, 0.0]),
    ("R4", [310.0 / 39.0, 50.0 / 13.0], [0.0, 0.0]),
    ("R5", [200.0 / 29.0, 120.0 / 29.0], [40.0 / 7.0, 0.0]),
];

/// Half-width of every reading in volts. A short of a milliohm, the least that is tried, moves n1
/// by 10 µV; a resistor a thousand times too large, the most that is tried, stays 10 mV away from
/// an open one.
const HALF_WIDTH: f64 = 1e-3;

fn ladder() -> Circuit {
    let mut circuit = Circuit::new("ladder", "GND");
    let mut add = |name, kind, nets, params: &[(&'static str, f64)]| {
        two_pin(&mut circuit, name, kind, nets, params).unwrap();
    };
    add("V1", "supply", ["IN", "GND"], &[("volts", 10.0), ("resistance", 0.0)]);
    add("R1", "resistor", ["IN", "n1"], &[("value", 1e3)]);
    add("R2", "resistor", ["n1", "n2"], &[("value", 2e3)]);
    add("R3", "resistor", ["n2", "GND"], &[("value", 3e3)]);
    add("R4", "resistor", ["n1", "GND"], &[("value", 4e3)]);
    add("R5", "resistor", ["n2", "GND"], &[("value", 5e3)]);
    circuit
}

fn diagnosed(circuit: &Circuit, volts: [f64; 2]) -> Diagnosis {
    // The meter is kept out of it: the fractions are those of the bare ladder.
    let mut meter = Meter::default();
    meter.volts.input = Input::Ohms(1e12);
    let readings: Vec<Reading> = ["n1", "n2"]
        .into_iter()
        .zip(volts)
        .map(|(net, value)| Reading {
            setup: POWERED,
            quantity: Quantity::Volts,
            place: Place::At(Spot::Net(circuit.net(net).unwrap())),
            place_text: net.to_owned(),
            observed: Observed::Number { value, count: 1e-4, half_width: Some(HALF_WIDTH) },
            meter,
        })
        .collect();
    diagnose(&Assembly::new(circuit), &readings, &[])
}

/// The causes inside the resistors, each with its candidate: leaks of nets, bridges and the supply
/// are on the list too, and are not what the dictionary is of.
fn in_resistors<'c, 'd>(
    circuit: &'c Circuit,
    diagnosis: &'d Diagnosis,
) -> impl Iterator<Item = (&'c str, Fault, &'d Candidate)> {
    let reproducing = |candidate: &&Candidate| candidate.verdict == Verdict::Reproduces;
    diagnosis.candidates.iter().filter(reproducing).flat_map(move |candidate| {
        candidate.causes.iter().filter_map(move |&fault| {
            let part = &circuit[fault.part()?];
            let own = matches!(fault, Fault::Open(_) | Fault::Shorted(..) | Fault::Drifted(..));
            (part.kind == "resistor" && own).then_some((part.name.as_str(), fault, candidate))
        })
    })
}

/// The ten faults as phrases with their exact volts.
fn faults() -> impl Iterator<Item = (&'static str, String, [f64; 2])> {
    EXACT.into_iter().flat_map(|(part, open, short)| {
        [(part, format!("{part} open"), open), (part, format!("{part} shorted"), short)]
    })
}

#[test]
fn every_fault_is_found_in_its_own_volts() {
    let circuit = ladder();
    for (_, phrase, volts) in faults() {
        let diagnosis = diagnosed(&circuit, volts);
        let found: Vec<String> = in_resistors(&circuit, &diagnosis)
            .map(|(_, fault, _)| fault.phrase(&circuit))
            .collect();
        assert!(found.contains(&phrase), "{phrase}: {found:?}");
        assert!(diagnosis.explains());
        assert_eq!(diagnosis.healthy_verdict, Verdict::Excluded, "{phrase}");
    }
}

#[test]
fn only_two_pairs_of_opens_and_shorts_coincide() {
    let circuit = ladder();
    for (_, phrase, volts) in faults() {
        let diagnosis = diagnosed(&circuit, volts);
        let found: BTreeSet<String> = in_resistors(&circuit, &diagnosis)
            .filter(|(_, fault, _)| !matches!(fault, Fault::Drifted(..)))
            .map(|(_, fault, _)| fault.phrase(&circuit))
            .collect();
        let expected: &[&str] = match phrase.as_str() {
            "R1 open" | "R4 shorted" => &["R1 open", "R4 shorted"],
            "R3 shorted" | "R5 shorted" => &["R3 shorted", "R5 shorted"],
            alone => &[alone],
        };
        let expected: BTreeSet<String> = expected.iter().map(|&text| text.to_owned()).collect();
        assert_eq!(found, expected, "{phrase}");
    }
}

/// The parts that some reading of the dictionary does not tell apart, joined over all ten; and in
/// each diagnosis they are one group, as nothing that was read tells them apart.
#[test]
fn the_parts_fall_into_three_groups() {
    let circuit = ladder();
    let groups =
        [BTreeSet::from(["R1", "R4"]), BTreeSet::from(["R2"]), BTreeSet::from(["R3", "R5"])];
    let mut joined: Vec<BTreeSet<&str>> = groups.iter().map(|_| BTreeSet::new()).collect();
    for (part, phrase, volts) in faults() {
        let diagnosis = diagnosed(&circuit, volts);
        let idx = groups.iter().position(|group| group.contains(part)).unwrap();
        let mut numbers = BTreeSet::new();
        for (name, fault, candidate) in in_resistors(&circuit, &diagnosis) {
            let found = fault.full_phrase(&circuit);
            assert!(groups[idx].contains(name), "{phrase} reproduced by {found}");
            joined[idx].insert(name);
            numbers.insert(candidate.group.unwrap());
        }
        assert_eq!(numbers.len(), 1, "{phrase}: {numbers:?}");
    }
    assert_eq!(joined, groups);
}

/// The drifts of one part that reproduce the volts of another part's fault.
fn twins(volts: [f64; 2], other_than: &str) -> Vec<(String, f64, f64, f64)> {
    let circuit = ladder();
    let diagnosis = diagnosed(&circuit, volts);
    in_resistors(&circuit, &diagnosis)
        .filter(|(name, fault, _)| *name != other_than && matches!(fault, Fault::Drifted(..)))
        .map(|(name, fault, candidate)| {
            let end = |end: Option<f64>| end.unwrap_or(f64::NAN);
            (
                name.to_owned(),
                fault.value().unwrap(),
                end(candidate.value_low),
                end(candidate.value_high),
            )
        })
        .collect()
}

/// A fault has a drift twin where the partner's value on the common line is above zero: worked out
/// by hand, R4 open is R1 at 32/63 kΩ, and R5 open is R3 at 7.5 kΩ.
#[test]
fn opens_have_the_drift_twins_of_the_algebra() {
    for (open, twin, ohms) in [("R4", "R1", 32e3 / 63.0), ("R5", "R3", 7.5e3)] {
        let volts = EXACT.iter().find(|(name, ..)| *name == open).unwrap().1;
        let found = twins(volts, open);
        let [(name, value, low, high)] = &found[..] else { panic!("{open} open: {found:?}") };
        assert_eq!(name, twin);
        assert!((value / ohms - 1.0).abs() < 2e-3, "{open} open: {found:?}, expected {ohms}");
        // With half-widths of a millivolt the value is known to better than one percent.
        assert!(*low < ohms && ohms < *high && high / low < 1.01, "{open} open: {found:?}");
    }
}

#[test]
fn two_faults_have_no_drift_twin() {
    // Their partners would need negative values.
    assert_eq!(twins([10.0, 150.0 / 31.0], "R1"), [], "R1 shorted");
    assert_eq!(twins([280.0 / 39.0, 200.0 / 39.0], "R3"), [], "R3 open");
}
