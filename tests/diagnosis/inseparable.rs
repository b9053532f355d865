//! Candidates that no measurement tells apart, and those that some measurement does.

use crate::bench;
use ohmhound::circuit::{Circuit, Meter};
use ohmhound::diagnosis::{Diagnosis, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::plan::mark_inseparable;

fn told(circuit: &Circuit, text: &str) -> Diagnosis {
    let assembly = Assembly::new(circuit);
    let mut diagnosis = diagnose(&assembly, &bench::readings(circuit, text), &[]);
    mark_inseparable(&assembly, &mut diagnosis, &Meter::default());
    diagnosis
}

fn set(diagnosis: &Diagnosis, circuit: &Circuit, phrase: &str) -> Option<usize> {
    let found = diagnosis.candidates.iter().find(|one| one.fault.phrase(circuit) == phrase);
    found.unwrap_or_else(|| panic!("{phrase}")).inseparable
}

/// A chain of two links and a load: which of the links is open is told by one probe between them;
/// a joint and its lead are told apart by nothing.
#[test]
fn two_links_in_a_row_are_separable() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "12 V", nets = ["IN", "GND"] }
        W1 = { nets = ["IN", "MID"] }
        W2 = { nets = ["MID", "OUT"] }
        R1 = { value = "1k", nets = ["OUT", "GND"] }"#,
    );
    let diagnosis = told(&circuit, "[powered.volts]\nIN = 12.0\nOUT = 0.000");
    let groups = ["W1 open", "W2 open"].map(|phrase| {
        let found = diagnosis.candidates.iter().find(|one| one.fault.phrase(&circuit) == phrase);
        found.unwrap().group
    });
    // Together so far, but not for ever.
    assert_eq!(groups[0], groups[1]);
    assert_eq!(set(&diagnosis, &circuit, "W1 open"), None);
    assert_eq!(set(&diagnosis, &circuit, "W2 open"), None);
}

/// With the net between them out of reach no measurement is left.
#[test]
fn without_access_they_are_not() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "12 V", nets = ["IN", "GND"] }
        W1 = { nets = ["IN", "MID"] }
        W2 = { nets = ["MID", "OUT"] }
        R1 = { value = "1k", nets = ["OUT", "GND"] }
        [board]
        no_access = ["MID"]"#,
    );
    let diagnosis = told(&circuit, "[powered.volts]\nIN = 12.0\nOUT = 0.000");
    let sets = ["W1 open", "W2 open"].map(|phrase| set(&diagnosis, &circuit, phrase));
    assert!(sets[0].is_some() && sets[0] == sets[1], "{sets:?}");
}

/// A chain to ground that cannot be reached: whatever is open in it lets the rest hang in the air,
/// where the reduced boards cannot say what a meter shows.
#[test]
fn a_chain_out_of_reach_is_one() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "12 V", nets = ["IN", "GND"] }
        W1 = { nets = ["IN", "OUT"] }
        R1 = { value = "1k", nets = ["OUT", "TAP"] }
        R2 = { value = "2k2", nets = ["TAP", "LOW"] }
        W3 = { nets = ["LOW", "DEEP"] }
        W4 = { nets = ["DEEP", "GND"] }
        [board]
        no_access = ["DEEP", "LOW"]"#,
    );
    let diagnosis = told(&circuit, "[powered.volts]\nIN = 12.0\nTAP = 12.0");
    let sets = ["R2 open", "W3 open", "W4 open"].map(|phrase| set(&diagnosis, &circuit, phrase));
    assert!(sets[0].is_some() && sets.iter().all(|one| *one == sets[0]), "{sets:?}");
}

/// Two resistors in parallel: which one is open is told by the current through it alone. An open
/// one and one that drifted up without end are one and the same.
#[test]
fn resistors_side_by_side() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "12 V", tolerance = "1 %", nets = ["IN", "GND"] }
        R1 = { value = "1k", tolerance = "1 %", nets = ["IN", "OUT"] }
        R2 = { value = "10k", tolerance = "1 %", nets = ["OUT", "GND"] }
        R3 = { value = "10k", tolerance = "1 %", nets = ["OUT", "GND"] }"#,
    );
    // 1k under 10k alone: 12 V · 10/11.
    let diagnosis = told(&circuit, "[powered.volts]\nIN = 12.00\nOUT = 10.909");
    let sets = ["R2 open", "R2 drifted", "R3 open", "R3 drifted"]
        .map(|phrase| set(&diagnosis, &circuit, phrase));
    assert!(sets[0].is_some() && sets[0] == sets[1], "{sets:?}");
    assert!(sets[2].is_some() && sets[2] == sets[3], "{sets:?}");
    assert_ne!(sets[0], sets[2]);
}
