//! Published fault-finding examples: the faults of the open and short kind that are reported to
//! reproduce the readings are exactly the published ones, plus those that the same readings allow
//! and the text leaves out (`also_possible`, enumerated by hand for each case).
//!
//! The source of each case stands in the data file, which holds facts and figures only.

use std::collections::BTreeSet;

use ohmhound::circuit::{
    Circuit, Meter, Observed, Overlay, POWERED, Param, Part, Pin, Place, Quantity, Reading, Spot,
};
use ohmhound::device::{complete, two_pin};
use ohmhound::diagnosis::{Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::quantity::{Point, Tolerance, Toleranced};
use serde_json::Value;

const DATA: &str = include_str!("../data/published_faults.json");

fn circuit(case: &Value) -> Circuit {
    let mut circuit = Circuit::new(case["id"].as_str().unwrap(), "0");
    for part in case["parts"].as_array().unwrap() {
        let text = |idx: usize| part[idx].as_str().unwrap();
        let nets = [text(3), text(4)];
        match text(1) {
            "R" => two_pin(
                &mut circuit,
                text(0),
                "resistor",
                nets,
                &[("value", part[2].as_f64().unwrap())],
            )
            .map(drop),
            "V" => two_pin(
                &mut circuit,
                text(0),
                "supply",
                nets,
                &[("volts", part[2].as_f64().unwrap()), ("resistance", 0.0)],
            )
            .map(drop),
            "Z" => zener(&mut circuit, text(0), nets, &part[2]),
            kind => panic!("{kind}"),
        }
        .unwrap();
    }
    circuit
}

/// A zener with a constant drop, as the text has it.
fn zener(circuit: &mut Circuit, name: &str, nets: [&str; 2], values: &Value) -> Result<(), String> {
    let exact = |key: &str| {
        let value = Toleranced::bare(values[key].as_f64().unwrap()).or(Tolerance::Absolute(0.0));
        Param::Point(Point { value, at: None })
    };
    let mut part = Part {
        name: name.to_owned(),
        kind: "zener",
        pins: nets
            .iter()
            .zip(["1", "2"])
            .map(|(net, pin)| Pin { name: pin.to_owned(), net: circuit.net_or_new(net) })
            .collect(),
        params: vec![
            ("voltage", exact("vz")),
            ("drop", exact("vf")),
            ("approximation", Param::Word("constant drop".to_owned())),
        ],
        defaulted: Vec::new(),
        usual: Vec::new(),
        chip: Vec::new(),
        maximum: Vec::new(),
        fitted: true,
    };
    complete(&mut part).map_err(|problem| problem.message)?;
    circuit.add(part);
    Ok(())
}

fn readings(circuit: &Circuit, case: &Value) -> Vec<Reading> {
    let rows = case["readings"].as_array().unwrap();
    rows.iter()
        .map(|row| {
            let text = |idx: usize| row[idx].as_str().unwrap();
            let value = row[3].as_f64().unwrap();
            // Where the text states no tolerance, one percent and at least 20 mV.
            let half_width = row[4].as_f64().unwrap_or((0.01 * value.abs()).max(0.02));
            let spot = |name: &str| Spot::Net(circuit.net(name).unwrap());
            let (quantity, place) = match text(0) {
                "V" => (Quantity::Volts, Place::Between(spot(text(1)), spot(text(2)))),
                _ => {
                    let name = text(1).split('.').next().unwrap();
                    (Quantity::Amps, Place::Part(circuit.part(name).unwrap()))
                }
            };
            Reading {
                setup: POWERED,
                quantity,
                place,
                place_text: format!("{} {}", text(1), text(2)),
                observed: Observed::Number { value, count: 0.001, half_width: Some(half_width) },
                meter: Meter::default(),
            }
        })
        .collect()
}

#[test]
fn published_faults_are_found_exactly() {
    let cases: Value = serde_json::from_str(DATA).unwrap();
    for case in cases.as_array().unwrap() {
        let circuit = circuit(case);
        let readings = readings(&circuit, case);
        let assembly = Assembly::new(&circuit);
        assert!(assembly.solve(POWERED, &Overlay::none()).point.is_some(), "{}", case["id"]);
        let diagnosis = diagnose(&assembly, &readings, &[]);
        let mut found: BTreeSet<String> = diagnosis
            .candidates
            .iter()
            .filter(|candidate| candidate.verdict == Verdict::Reproduces)
            .flat_map(|candidate| &candidate.causes)
            .map(|fault| fault.phrase(&circuit))
            .filter(|phrase| {
                ["open", "shorted", "absent"].iter().any(|kind| phrase.ends_with(kind))
            })
            .collect();
        if diagnosis.healthy_verdict == Verdict::Reproduces {
            found.insert("healthy".to_owned());
        }
        let listed = |key: &str| {
            case[key].as_array().unwrap().iter().map(|phrase| {
                let phrase = phrase.as_str().unwrap();
                phrase.replace(" short", " shorted").replace(" dead", " absent")
            })
        };
        let expected: BTreeSet<String> =
            listed("published_faults").chain(listed("also_possible")).collect();
        assert_eq!(found, expected, "{} ({})", case["id"], case["source"]);
    }
}
