//! A whole diagnosis of the board of 40 passive parts beside the obvious alternative: a script in
//! numpy that rebuilds and solves every fault. Run by hand; see `numpy/rebuild_every_fault.py`.
//!
//! Claim: at least a hundred times as fast for the same job: all boards, each with its chi-square. A
//! whole diagnosis does more: it traces every value until it is told apart, with the covariance of
//! all tolerances at each, and takes the readings without power as well.
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

use measure::{Measure, Report, exact, memory, share};
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED, PartId, Quantity, Reading};
use ohmhound::device::{Curve, Law};
use ohmhound::diagnosis::diagnose;
use ohmhound::engine::{Active, Assembly, Changes, From, Network, OperatingPoint, Reduced};
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
    let overlays = overlays(&circuit);
    let dump = dump(&circuit, &assembly, &readings.readings, &overlays);
    if let Some(file) = value("dump=") {
        fs::write(file, dump.to_string()).expect("a file that can be written");
        println!("{file}: {} boards", dump["boards"].as_array().map_or(0, Vec::len));
        return;
    }
    let mut measure = Measure::new("numpy");
    let whole =
        measure.time("diagnosis", || diagnose(&assembly, &readings.readings, &readings.seen));
    let reduced = Board::new(&assembly, &overlays, &dump["readings"]);
    let same = measure.time("same-job", || reduced.best());
    let (solved, best) = reduced.best();
    let mut report = Report::default();
    report
        .row(format!("{BOARD}: {} boards, reduced", overlays.len()), same)
        .with(memory(|| reduced.best()));
    report
        .row(format!("{BOARD}: whole diagnosis"), whole)
        .beside(same)
        .with(memory(|| diagnose(&assembly, &readings.readings, &readings.seen)));
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
    report.row(format!("numpy: {boards} boards"), script).beside(same);
    report.row("numpy: one board", script.over(boards));
    report.at_least("the script beside the same job", script.ratio(same), 100.0, share);
    report.at_least("the script beside the whole diagnosis", script.ratio(whole), 1.0, share);
    report.print();
    println!(
        "reduced, {} finds {} (chi-square {:.1}); {solved} boards were solved",
        BOARD, overlays[best.1].0, best.0
    );
    println!(
        "the script finds {} (chi-square {:.1}); {} boards did not settle",
        told["best"],
        number("chi_square"),
        number("unsettled")
    );
}

/// Every hypothesis at a few of its values, by name.
fn overlays(circuit: &Circuit) -> Vec<(String, Overlay)> {
    let mut found = Vec::new();
    for hypothesis in hypotheses(circuit, &Evidence::default()) {
        let places: Vec<f64> = match &hypothesis.curve {
            None => vec![0.0],
            Some(curve) => (0..PLACES)
                .map(|place| {
                    curve.low + (curve.high - curve.low) * place as f64 / (PLACES - 1) as f64
                })
                .collect(),
        };
        let name = hypothesis.name(circuit);
        found.extend(places.into_iter().map(|place| (name.clone(), hypothesis.overlay(place))));
    }
    found
}

/// The board reduced, with every change ready, as the script has every board ready.
struct Board<'a> {
    reduced: Reduced,
    healthy: OperatingPoint,
    changes: Vec<(Changes, &'a Overlay)>,
    assembly: &'a Assembly<'a>,
    /// Leads, volts and standard uncertainty of each reading.
    readings: Vec<(usize, usize, f64, f64)>,
}

impl<'a> Board<'a> {
    fn new(
        assembly: &'a Assembly<'a>,
        overlays: &'a [(String, Overlay)],
        readings: &Value,
    ) -> Board<'a> {
        let base = assembly.network(POWERED, &Overlay::none());
        let healthy = assembly.healthy(POWERED).run.point.clone().expect("an operating point");
        let reduced = Reduced::new(&base, &healthy.volts, &[]).expect("a reduced board");
        assert!(base.elements.iter().all(|element| element.part().is_some()));
        let lay = |overlay: &'a Overlay| {
            let network = assembly.network(POWERED, overlay);
            let parts: Vec<PartId> = overlay.changes.iter().flat_map(Change::parts).collect();
            let is_touched = |part: Option<PartId>| part.is_none_or(|part| parts.contains(&part));
            let mut changes = Changes::default();
            for (number, element) in base.elements.iter().enumerate() {
                if element.part().is_some() && is_touched(element.part()) {
                    changes.list.push(reduced.instead(number, None));
                }
            }
            for element in network.elements.iter().filter(|element| is_touched(element.part())) {
                let law = element.law.clone();
                let new = Reduced::between(element.from, element.to, law);
                changes.list.push(Active { origin: element.origin, ..new });
            }
            changes.new_nets = overlay
                .changes
                .iter()
                .filter_map(|change| match *change {
                    Change::Joint { part, pin, .. } => Some(base.pin_net(part, pin)),
                    _ => None,
                })
                .collect();
            reduced.tie(&mut changes);
            (changes, overlay)
        };
        let changes = overlays.iter().map(|(_, overlay)| lay(overlay)).collect();
        let each = readings.as_array().expect("readings").iter();
        let number = |reading: &Value, key: &str| reading[key].as_f64().expect("a number");
        let readings = each
            .map(|reading| {
                let lead = |key: &str| number(reading, key) as usize;
                let volts = number(reading, "volts");
                (lead("red"), lead("black"), volts, number(reading, "standard"))
            })
            .collect();
        Board { reduced, healthy, changes, assembly, readings }
    }

    /// Solves every board, in full where the reduced one does not do; how many were solved, the
    /// least chi-square and whose it is.
    fn best(&self) -> (usize, (f64, usize)) {
        let (mut solved, mut best) = (0, (f64::INFINITY, 0));
        for (number, (changes, overlay)) in self.changes.iter().enumerate() {
            let start = Some(&self.healthy.volts[..]);
            let small = self.reduced.solve(changes, start, &[], (From::Afar, false));
            let volts = match small {
                Some(small) => small.volts,
                None => match self.assembly.solve(POWERED, overlay).point {
                    Some(point) => point.volts,
                    None => continue,
                },
            };
            solved += 1;
            let off = self.readings.iter().map(|&(red, black, reading, standard)| {
                ((reading - volts[red] + volts[black]) / standard).powi(2)
            });
            let chi_square: f64 = off.sum();
            if chi_square < best.0 {
                best = (chi_square, number);
            }
        }
        (solved, best)
    }
}

/// The board under every overlay, branch by branch.
fn dump(
    circuit: &Circuit,
    assembly: &Assembly<'_>,
    readings: &[Reading],
    overlays: &[(String, Overlay)],
) -> Value {
    let mut curves: Vec<Arc<dyn Curve>> = Vec::new();
    let healthy = assembly.healthy(POWERED).run.point.as_ref().expect("an operating point");
    let mut boards = Vec::new();
    for (name, overlay) in overlays {
        let network = assembly.network(POWERED, overlay);
        boards.push(json!({ "name": name, "elements": elements(&network, &mut curves) }));
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
    let network = assembly.network(POWERED, &Overlay::none());
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
