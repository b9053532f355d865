//! The fault dictionary of a five-resistor ladder, worked out by hand.
//!
//! 10 V – R1 1k – n1; R2 2k n1–n2; R3 3k n2–ground; R4 4k n1–ground; R5 5k n2–ground; n1 and n2 are
//! read. All parts are exact, and so are the readings: the exact fractions of `ladder.rs`.
//!
//! By hand, with G the conductances: whatever is between n1 and n2 alone draws current from n1 and
//! gives it to n2. The shape of a change is the direction (n1, n2) along which it moves the two
//! voltages. R1 (source to n1) and R4 (n1 to ground) both act on n1 alone; R3 and R5 both act on n2
//! alone; R2 on both, with opposite signs. So the groups of parts are {R1, R4}, {R2}, {R3, R5}.

mod bench;

use std::collections::BTreeSet;

use ohmhound::circuit::{
    Circuit, Meter, NetId, Observed, Overlay, POWERED, Place, Quantity, Reading, Spot,
};
use ohmhound::diagnosis::{Candidate, Diagnosis, Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Fault, parse};

const LADDER: &str = r#"
[parts]
V1 = { kind = "supply", volts = 10, tolerance = "0 %", resistance = 0, nets = ["IN", "GND"] }
R1 = { value = "1k", tolerance = "0 %", nets = ["IN", "n1"] }
R2 = { value = "2k", tolerance = "0 %", nets = ["n1", "n2"] }
R3 = { value = "3k", tolerance = "0 %", nets = ["n2", "GND"] }
R4 = { value = "4k", tolerance = "0 %", nets = ["n1", "GND"] }
R5 = { value = "5k", tolerance = "0 %", nets = ["n2", "GND"] }
"#;

/// Half of the last digit of a five-digit voltmeter on its 10 V range: a short of a milliohm, which
/// leaves 10 µV here, shows nothing on it.
const HALF_WIDTH: f64 = 5e-5;

/// A voltmeter that draws nothing to speak of.
fn meter() -> Meter {
    let mut meter = Meter::default();
    meter.volts.input = ohmhound::circuit::Input::Ohms(1e15);
    meter
}

fn read(circuit: &Circuit, volts: [f64; 2]) -> Vec<Reading> {
    ["n1", "n2"]
        .into_iter()
        .zip(volts)
        .map(|(name, value)| Reading {
            setup: POWERED,
            quantity: Quantity::Volts,
            place: Place::At(Spot::Net(circuit.net(name).expect("a net of the ladder"))),
            place_text: name.to_owned(),
            observed: Observed::Number { value, count: 1e-4, half_width: Some(HALF_WIDTH) },
            meter: meter(),
        })
        .collect()
}

fn volts(circuit: &Circuit, phrase: &str) -> [f64; 2] {
    let overlay = parse(phrase, circuit).expect(phrase).overlay().expect(phrase);
    volts_with(circuit, &overlay)
}

fn volts_with(circuit: &Circuit, overlay: &Overlay) -> [f64; 2] {
    let point = Assembly::new(circuit).solve(POWERED, overlay).point.expect("an operating point");
    ["n1", "n2"].map(|net| point.volts[circuit.net(net).unwrap_or(NetId::GROUND).index()])
}

fn reproducing(diagnosis: &Diagnosis) -> impl Iterator<Item = &Candidate> {
    diagnosis.candidates.iter().filter(|one| one.verdict == Verdict::Reproduces)
}

/// The resistors in which some fault reproduces the readings.
fn parts(circuit: &Circuit, diagnosis: &Diagnosis) -> BTreeSet<String> {
    reproducing(diagnosis)
        .flat_map(|one| &one.causes)
        .filter_map(Fault::part)
        .map(|part| circuit[part].name.clone())
        .filter(|name| name.starts_with('R'))
        .collect()
}

/// The value in ohms at which a resistor reproduces the readings by drift.
fn drift(circuit: &Circuit, diagnosis: &Diagnosis, name: &str) -> Option<f64> {
    let part = circuit.part(name);
    reproducing(diagnosis).flat_map(|one| &one.causes).find_map(|cause| match *cause {
        Fault::Drifted(known, "value", value) if Some(known) == part => value,
        _ => None,
    })
}

fn names(list: &[&str]) -> BTreeSet<String> {
    list.iter().map(|name| (*name).to_owned()).collect()
}

#[test]
fn parts_fall_into_three_groups() {
    let circuit = bench::circuit(LADDER);
    let assembly = Assembly::new(&circuit);
    // A drift by a third, up and down, of every part: what else explains it?
    for (name, nominal, group) in [
        ("R1", 1e3, &["R1", "R4"][..]),
        ("R2", 2e3, &["R2"]),
        ("R3", 3e3, &["R3", "R5"]),
        ("R4", 4e3, &["R1", "R4"]),
        ("R5", 5e3, &["R3", "R5"]),
    ] {
        for factor in [0.75, 4.0 / 3.0] {
            let found = volts(&circuit, &format!("{name} drifted {}", nominal * factor));
            let diagnosis = diagnose(&assembly, &read(&circuit, found), &[]);
            assert_eq!(parts(&circuit, &diagnosis), names(group), "{name} times {factor}");
        }
    }
}

/// Both act on n1 alone. With R4 open n1 is fed by 1 mS out of 10 V; R1 at r ohms with R4 in place
/// gives the same when (10 − v)/r = v/4k + the rest, and the rest is (10 − v)/1k with
/// v = 310/39 V: r = (10 − v)/((10 − v)/1k + v/4k) = (80/39)/(80/39 + 310/156) kΩ = 32/63 kΩ.
#[test]
fn an_open_resistor_and_its_drifted_twin() {
    let circuit = bench::circuit(LADDER);
    let assembly = Assembly::new(&circuit);
    let diagnosis = diagnose(&assembly, &read(&circuit, [310.0 / 39.0, 50.0 / 13.0]), &[]);
    let mut phrases = reproducing(&diagnosis).flat_map(|one| &one.causes);
    assert!(phrases.any(|fault| fault.phrase(&circuit) == "R4 open"));
    let twin = drift(&circuit, &diagnosis, "R1").expect("R1 drifted reproduces");
    assert!((twin / (32e3 / 63.0) - 1.0).abs() < 1e-3, "{twin}");
    // R5 open: R3 alone has to draw what both drew less R5's share: 1/3k − 1/5k = 1/7.5k.
    let diagnosis = diagnose(&assembly, &read(&circuit, [200.0 / 29.0, 120.0 / 29.0]), &[]);
    let mut phrases = reproducing(&diagnosis).flat_map(|one| &one.causes);
    assert!(phrases.any(|fault| fault.phrase(&circuit) == "R5 open"));
    let twin = drift(&circuit, &diagnosis, "R3").expect("R3 drifted reproduces");
    assert!((twin / 7.5e3 - 1.0).abs() < 1e-3, "{twin}");
}

/// Volts of n1 and n2 with the part open and with it shorted: the fractions of `ladder.rs`.
const EXACT: [(&str, [f64; 2], [f64; 2]); 5] = [
    ("R1", [0.0, 0.0], [10.0, 150.0 / 31.0]),
    ("R2", [8.0, 0.0], [600.0 / 107.0, 600.0 / 107.0]),
    ("R3", [280.0 / 39.0, 200.0 / 39.0], [40.0 / 7.0, 0.0]),
    ("R4", [310.0 / 39.0, 50.0 / 13.0], [0.0, 0.0]),
    ("R5", [200.0 / 29.0, 120.0 / 29.0], [40.0 / 7.0, 0.0]),
];

/// Only two pairs of opens and shorts read the same: n1 dead, and n2 dead with n1 at 40/7 V.
#[test]
fn opens_and_shorts_that_coincide() {
    let circuit = bench::circuit(LADDER);
    let assembly = Assembly::new(&circuit);
    for (name, open, short) in EXACT {
        for (what, exact) in [("open", open), ("shorted", short)] {
            let injected = format!("{name} {what}");
            let diagnosis = diagnose(&assembly, &read(&circuit, exact), &[]);
            let found: BTreeSet<String> = reproducing(&diagnosis)
                .flat_map(|one| &one.causes)
                .filter(|fault| match fault {
                    Fault::Open(part) | Fault::Shorted(part, _) => {
                        circuit[*part].kind == "resistor"
                    }
                    _ => false,
                })
                .map(|fault| fault.phrase(&circuit))
                .collect();
            let expected = match injected.as_str() {
                "R1 open" | "R4 shorted" => names(&["R1 open", "R4 shorted"]),
                "R3 shorted" | "R5 shorted" => names(&["R3 shorted", "R5 shorted"]),
                alone => names(&[alone]),
            };
            assert_eq!(found, expected, "{injected}");
        }
    }
}

/// A part that feeds more than any other could by drift: R4 and R5 would have to give current.
#[test]
fn faults_without_a_drifted_twin() {
    let circuit = bench::circuit(LADDER);
    let assembly = Assembly::new(&circuit);
    for exact in [EXACT[0].2, EXACT[2].1] {
        let diagnosis = diagnose(&assembly, &read(&circuit, exact), &[]);
        assert!(diagnosis.explains());
        for (name, ..) in EXACT {
            assert_eq!(drift(&circuit, &diagnosis, name), None, "{name} at {exact:?}");
        }
    }
}
