//! A whole diagnosis of the board of 40 passive parts beside the obvious alternative: a script in
//! numpy that rebuilds and solves every fault. Run by hand; see `numpy/rebuild_every_fault.py`.
//!
//! Claim: at least a hundred times as fast, for the whole job and for one board.
//!
//! Arguments: `dump=FILE` only writes what the script reads; `python=PROGRAM` runs the script with
//! that interpreter, which has to have numpy.
#![allow(clippy::print_stdout)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;

use measure::{Measure, Report, exact, share};
use ohmhound::circuit::{Circuit, POWERED, Quantity};
use ohmhound::device::{Curve, Law};
use ohmhound::diagnosis::diagnose;
use ohmhound::engine::{Assembly, Network};
use ohmhound::fault::{Evidence, hypotheses};
use ohmhound::file::load_readings;
use ohmhound::meter::Target;
use serde_json::{Value, json};

/// The board.
const BOARD: &str = "packing-shed";
/// Values that the script tries along each line.
const PLACES: usize = 10;
/// Volts that curves are given at: from minus to plus this ...
const REACH: f64 = 30.0;
/// ... so far apart.
const APART: f64 = 0.01;

fn main() {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let value = |key: &str| arguments.iter().find_map(|one| one.strip_prefix(key));
    let circuit = bench::demo(BOARD);
    let assembly = Assembly::new(&circuit);
    let path = bench::folder().join(format!("{BOARD}.readings.toml"));
    let readings = load_readings(path, &circuit).value.expect("the demo readings");
    let dump = dump(&circuit, &assembly, &readings.readings);
    if let Some(file) = value("dump=") {
        fs::write(file, dump.to_string()).expect("a file that can be written");
        println!("{file}: {} boards", dump["boards"].as_array().map_or(0, Vec::len));
        return;
    }
    let mut measure = Measure::new("numpy");
    let whole =
        measure.time("diagnosis", || diagnose(&assembly, &readings.readings, &readings.seen));
    let mut report = Report::default();
    report.row(format!("{BOARD}: whole diagnosis"), whole);
    let Some(python) = value("python=") else {
        report.print();
        println!("for the script in numpy: python=PROGRAM, an interpreter that has numpy");
        return;
    };
    let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("board.json");
    fs::write(&file, dump.to_string()).expect("a file that can be written");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/numpy/rebuild_every_fault.py");
    let output = Command::new(python).arg(script).arg(&file).output().expect("the interpreter");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told: Value = serde_json::from_slice(&output.stdout).expect("a line of JSON");
    let number = |key: &str| told[key].as_f64().expect("a number");
    let script = exact(1e9 * number("seconds"));
    let boards = number("boards");
    report.row(format!("numpy: {boards} boards"), script).beside(whole);
    report.row("numpy: one board", script.over(boards));
    report.at_least("the script beside the whole diagnosis", script.ratio(whole), 100.0, share);
    report.print();
    println!(
        "the script finds {} (chi-square {:.1}); {} boards did not settle",
        told["best"],
        number("chi_square"),
        number("unsettled")
    );
}

/// The board under every hypothesis at a few of its values, branch by branch.
fn dump(
    circuit: &Circuit,
    assembly: &Assembly<'_>,
    readings: &[ohmhound::circuit::Reading],
) -> Value {
    let mut curves: Vec<Arc<dyn Curve>> = Vec::new();
    let healthy = assembly.healthy(POWERED).run.point.as_ref().expect("an operating point");
    let mut boards = Vec::new();
    for hypothesis in hypotheses(circuit, &Evidence::default()) {
        let places: Vec<f64> = match &hypothesis.curve {
            None => vec![0.0],
            Some(curve) => (0..PLACES)
                .map(|place| {
                    curve.low + (curve.high - curve.low) * place as f64 / (PLACES - 1) as f64
                })
                .collect(),
        };
        for place in places {
            let network = assembly.network(POWERED, &hypothesis.overlay(place));
            boards.push(json!({
                "name": hypothesis.name(circuit),
                "elements": elements(&network, &mut curves),
            }));
        }
    }
    let steps = (2.0 * REACH / APART) as usize;
    let volts: Vec<f64> = (0..=steps).map(|step| -REACH + APART * step as f64).collect();
    let curves: Vec<Value> = curves
        .iter()
        .map(|curve| {
            let amps: Vec<f64> = volts.iter().map(|volts| curve.at(*volts).amps).collect();
            json!({ "volts": volts, "amps": amps })
        })
        .collect();
    let network = assembly.network(POWERED, &ohmhound::circuit::Overlay::none());
    let readings: Vec<Value> = readings
        .iter()
        .filter(|reading| reading.setup == POWERED && reading.quantity == Quantity::Volts)
        .filter_map(|reading| {
            let (red, black) = network.leads(reading.place);
            let standard = Target::new(circuit, reading).standard();
            Some(json!({
                "red": red, "black": black, "volts": reading.number()?, "standard": standard,
            }))
        })
        .collect();
    json!({
        "nets": network.n_nets,
        "healthy": healthy.volts,
        "curves": curves,
        "readings": readings,
        "boards": boards,
    })
}

fn elements(network: &Network, curves: &mut Vec<Arc<dyn Curve>>) -> Vec<Value> {
    let each = network.elements.iter().map(|element| {
        let (from, to) = (element.from, element.to);
        match &element.law {
            Law::Line { siemens, amps } => json!([from, to, "line", siemens, amps]),
            Law::Volts(volts) => json!([from, to, "volts", volts]),
            Law::Curve(curve) => {
                let known = curves.iter().position(|known| Arc::ptr_eq(known, curve));
                let number = known.unwrap_or_else(|| {
                    curves.push(Arc::clone(curve));
                    curves.len() - 1
                });
                json!([from, to, "curve", number])
            }
            law => panic!("the board has no {law:?}"),
        }
    });
    each.collect()
}
