//! Every fault of the list, put into every demo circuit, is found again from what the meter shows.
//!
//! A fault with a value is put in at 20, 50 and 80 % of its line. The readings are those of the
//! first round over the board, rounded to the display; the parts of the board have their nominal
//! values, so that the truth fits as well as anything can.

use crate::bench;
use std::collections::BTreeSet;

use ohmhound::circuit::{Circuit, Overlay, Place, Quantity, Reading, SetupId};
use ohmhound::diagnosis::{Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, Hypothesis, hypotheses};

/// Shares of its line at which a fault with a value is put in.
const PLACES: [f64; 3] = [0.2, 0.5, 0.8];

/// How a fault fared.
#[derive(Debug, PartialEq, Eq)]
enum Outcome {
    /// It is among those that reproduce, or stands in a group with one that does.
    Found,
    /// The display shows nothing of it, and the healthy board reproduces.
    Hidden,
    /// It has no operating point, so that there are no readings.
    NoPoint,
    /// None of these: what is wrong.
    Lost(String),
}

/// A change to put in.
struct Injected<'a> {
    hypothesis: &'a Hypothesis,
    place: f64,
    name: String,
}

fn injected<'a>(circuit: &Circuit, list: &'a [Hypothesis]) -> Vec<Injected<'a>> {
    let mut found = Vec::new();
    for hypothesis in list {
        let Some(curve) = &hypothesis.curve else {
            found.push(Injected { hypothesis, place: 0.0, name: hypothesis.name(circuit) });
            continue;
        };
        for share in PLACES {
            let place = curve.low + share * (curve.high - curve.low);
            let name = curve.fault.with_value(Some(place.exp())).full_phrase(circuit);
            found.push(Injected { hypothesis, place, name });
        }
    }
    found
}

fn outcome(
    assembly: &Assembly<'_>,
    healthy: &[Reading],
    places: &[(SetupId, Quantity, Place)],
    injected: &Injected<'_>,
) -> Outcome {
    let circuit = assembly.circuit();
    let overlay = injected.hypothesis.overlay(injected.place);
    let Ok(readings) = bench::measure(assembly, &overlay, places) else { return Outcome::NoPoint };
    let diagnosis = diagnose(assembly, &readings, &[]);
    let same = readings.iter().zip(healthy).all(|(a, b)| a.observed == b.observed);
    if same {
        return if diagnosis.healthy_verdict == Verdict::Reproduces {
            Outcome::Hidden
        } else {
            Outcome::Lost(format!("{}: healthy does not reproduce", injected.name))
        };
    }
    let mut causes: BTreeSet<String> =
        injected.hypothesis.causes.iter().map(|cause| cause.fault.phrase(circuit)).collect();
    causes.extend(injected.hypothesis.curve.iter().map(|curve| curve.fault.phrase(circuit)));
    let own: Vec<_> = diagnosis
        .candidates
        .iter()
        .filter(|one| one.causes.iter().any(|cause| causes.contains(&cause.phrase(circuit))))
        .collect();
    let found = own.iter().any(|one| {
        one.verdict == Verdict::Reproduces
            || diagnosis.candidates.iter().any(|other| {
                other.verdict == Verdict::Reproduces
                    && one.group.is_some()
                    && one.group == other.group
            })
    });
    if found {
        return Outcome::Found;
    }
    let best: Vec<String> = own
        .iter()
        .map(|one| {
            let (word, distance) = (one.verdict.word(), one.distance);
            format!("{} {word} d2 {distance:.1}", one.fault.full_phrase(circuit))
        })
        .collect();
    Outcome::Lost(format!("{}: {}", injected.name, best.join("; ")))
}

/// Puts every `step`-th change into a demo circuit: how many were found, hidden, without an
/// operating point, and what was lost.
fn recover(name: &str, step: usize) -> (usize, usize, Vec<String>, Vec<String>) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let mut places = bench::first_round(&circuit);
    if circuit.nets.len() > 15 {
        // Nobody goes over a board of this size in every mode, and it would take minutes here.
        places.retain(|(_, quantity, _)| *quantity != Quantity::Diode);
    }
    let healthy = bench::measure(&assembly, &Overlay::none(), &places).expect("a healthy board");
    let list = hypotheses(&circuit, &Evidence::default());
    let (mut found, mut hidden, mut no_point, mut lost) = (0, 0, Vec::new(), Vec::new());
    for injected in injected(&circuit, &list).iter().step_by(step) {
        match outcome(&assembly, &healthy, &places, injected) {
            Outcome::Found => found += 1,
            Outcome::Hidden => hidden += 1,
            Outcome::NoPoint => no_point.push(injected.name.clone()),
            Outcome::Lost(what) => lost.push(what),
        }
    }
    (found, hidden, no_point, lost)
}

/// What comes out for a demo circuit: changes put in, of which hidden, and which of them have no
/// operating point. Everything else must be found.
#[track_caller]
fn check(name: &str, step: usize, tried: usize, hidden: usize, no_point: &[&str]) {
    let (found, n_hidden, without, lost) = recover(name, step);
    assert_eq!(lost, Vec::<String>::new(), "{name}");
    assert_eq!(without, no_point, "{name}");
    assert_eq!((found + n_hidden + without.len(), n_hidden), (tried, hidden), "{name}");
}

// The larger boards are sampled evenly: a diagnosis of a full first round takes them a second or
// so. `everything_is_found_again` leaves out less.

#[test]
#[ignore = "takes minutes"]
fn cold_store() {
    check("cold-store", 100, 7, 1, &[]);
}

#[test]
fn fence_loop() {
    check("fence-loop", 1, 95, 11, &[]);
}

#[test]
fn gate_supply() {
    check("gate-supply", 2, 44, 1, &[]);
}

#[test]
fn leaf_bridge() {
    check("leaf-bridge", 1, 73, 7, &[]);
}

#[test]
fn load_switch() {
    check("load-switch", 80, 3, 0, &[]);
}

#[test]
fn relay_driver() {
    check("relay-driver", 48, 3, 0, &[]);
}

#[test]
fn soil_amplifier() {
    check("soil-amplifier", 120, 2, 0, &[]);
}

#[test]
fn standby_supply() {
    check("standby-supply", 100, 3, 0, &[]);
}

#[test]
fn packing_shed() {
    check("packing-shed", 20, 18, 0, &[]);
}

#[test]
fn pump_lamp() {
    check("pump-lamp", 3, 35, 4, &[]);
}

#[test]
fn sensor_battery() {
    check("sensor-battery", 4, 21, 2, &[]);
}

#[test]
fn soil_probe() {
    check("soil-probe", 1, 64, 8, &[]);
}

#[test]
#[ignore = "takes minutes; run it in the release profile"]
fn everything_is_found_again() {
    for name in bench::names() {
        // A quarter of an hour for the largest one would be too much even by hand.
        let step = if name == "packing-shed" { 10 } else { 1 };
        let (_, _, without, lost) = recover(&name, step);
        assert_eq!((lost, without), (Vec::new(), Vec::new()), "{name}");
    }
}
