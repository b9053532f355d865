//! All pairs of faults with values of an active board of 40 parts: how long, on one thread and on two.
//!
//! Claim: under a second on two cores. `threads=1,2,4` says what to time, the first of them being what
//! the others are held against; `boards=cold-store,packing-shed` which readings.
#![allow(clippy::print_stdout)]

use std::path::Path;
use std::time::Instant;

use ohmhound::circuit::{Circuit, Readings};
use ohmhound::diagnosis::{Diagnosis, Job, Pairs, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::file::{load_circuit, load_readings};
use rayon::ThreadPoolBuilder;

/// Runs that the least time is taken of.
const RUNS: usize = 5;

fn main() {
    let given = |name: &str, usual: &str| -> Vec<String> {
        let own = std::env::args().find_map(|one| one.strip_prefix(name).map(str::to_owned));
        own.unwrap_or_else(|| usual.to_owned()).split(',').map(str::to_owned).collect()
    };
    let threads: Vec<usize> =
        given("threads=", "1,2").iter().map(|n| n.parse().expect("a number of threads")).collect();
    println!(
        "| readings | parts | faults | pairs | threads | single | pairs too | ratio | faster |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for name in given("boards=", "cold-store,packing-shed,pump-controller.motor") {
        let (circuit, readings) = load(&name);
        let mut first = None;
        for &n in &threads {
            let pool = ThreadPoolBuilder::new().num_threads(n).build().expect("the threads start");
            let (single, _) = pool.install(|| least(&circuit, &readings, Pairs::Never));
            let (all, found) = pool.install(|| least(&circuit, &readings, Pairs::Always));
            let faults = found.faults_tried;
            let faster = *first.get_or_insert(all) / all;
            println!(
                "| {name} | {} | {faults} | {} | {n} | {single:.3} s | {all:.3} s | {:.1} | {faster:.2} |",
                circuit.parts.len(),
                faults * (faults - 1) / 2,
                all / single,
            );
        }
    }
}

fn load(name: &str) -> (Circuit, Readings) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits");
    let board = name.split('.').next().unwrap_or(name);
    let circuit = load_circuit(folder.join(format!("{board}.toml"))).value.expect("a demo board");
    let file = folder.join(format!("{name}.readings.toml"));
    let readings = load_readings(file, &circuit).value.expect("its readings");
    (circuit, readings)
}

/// The least time of some runs in seconds, with what they found.
fn least(circuit: &Circuit, readings: &Readings, pairs: Pairs) -> (f64, Diagnosis) {
    let run = || {
        let start = Instant::now();
        let assembly = Assembly::new(circuit);
        let found = diagnose_job(&assembly, &Job { pairs, ..Job::of(readings) });
        (start.elapsed().as_secs_f64(), found)
    };
    (0..RUNS).map(|_| run()).min_by(|a, b| a.0.total_cmp(&b.0)).expect("some runs")
}
