//! The program as a whole process beside a process that does nothing, in the same language.
//!
//! Claim: `solve` and `diagnose` start up in less than 5 ms beside an empty process: what is left of
//! the whole process when an empty one and the work itself, done here, are taken away. Runs are
//! interleaved; medians of the differences are given, with the interval that their order gives.
#![allow(clippy::print_stdout)]

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use std::env;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::diagnosis::diagnose;
use ohmhound::engine::Assembly;
use ohmhound::file::{load_circuit, load_readings};

use measure::{Report, Time, memory, nanoseconds};

/// Runs of each process.
const RUNS: usize = 200;
/// What the empty process is asked.
const NOTHING: &str = "nothing-at-all";
/// What start-up may take, in nanoseconds.
const LIMIT: f64 = 5e6;
/// The processes of the program, the smallest work of each kind first.
const CASES: [(&str, &[&str]); 5] = [
    ("version", &["--version"]),
    ("solve soil-probe", &["solve", "circuits/soil-probe.toml"]),
    ("solve gate-supply", &["solve", "circuits/gate-supply.toml"]),
    ("diagnose soil-probe", &["diagnose", "circuits/soil-probe.readings.toml"]),
    ("diagnose gate-supply", &["diagnose", "circuits/gate-supply.readings.toml"]),
];

fn main() {
    if env::args().any(|argument| argument == NOTHING) {
        return;
    }
    let own = env::current_exe().expect("the bench's own path");
    let mut times = vec![Vec::with_capacity(RUNS); CASES.len() + 1];
    let mut works = vec![Vec::with_capacity(RUNS); CASES.len()];
    for _ in 0..RUNS {
        times[0].push(nanoseconds_of(Command::new(&own).arg(NOTHING)));
        for (number, (_, arguments)) in CASES.iter().enumerate() {
            let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
            times[number + 1].push(nanoseconds_of(command.args(*arguments)));
            works[number].extend(work(arguments));
        }
    }
    let mut report = Report::default();
    let empty = median(times[0].clone());
    report.row("an empty process", empty);
    for (number, (name, arguments)) in CASES.iter().enumerate() {
        let (all, works) = (&times[number + 1], &works[number]);
        report.row(*name, median(all.clone())).beside(empty);
        if !works.is_empty() {
            report
                .row(format!("{name}: the work itself"), median(works.clone()))
                .beside(empty)
                .with(memory(|| work(arguments)));
        }
        let works = works.iter().copied().chain(std::iter::repeat(0.0));
        let beyond = all.iter().zip(&times[0]).zip(works);
        let start_up = median(beyond.map(|((one, empty), work)| one - empty - work).collect());
        report.at_most(&format!("{name}: start-up"), start_up, LIMIT, nanoseconds);
    }
    report.print();
}

fn nanoseconds_of(command: &mut Command) -> f64 {
    let command =
        command.current_dir(env!("CARGO_MANIFEST_DIR")).stdout(Stdio::null()).stderr(Stdio::null());
    let start = Instant::now();
    let status = command.status().expect("the process runs");
    let time = start.elapsed().as_secs_f64();
    assert!(status.success());
    1e9 * time
}

/// The median with its interval of 95 %, by the order of the values (common textbook formula:
/// ranks n/2 ∓ 0.98 √n; from memory).
fn median(mut values: Vec<f64>) -> Time {
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    let at = |place: f64| values[(place.max(0.0) as usize).min(values.len() - 1)];
    let half = 0.98 * n.sqrt();
    Time { median: at(n / 2.0), low: at(n / 2.0 - half), high: at(n / 2.0 + half) }
}

/// What the process does between its start and its end, done here: reading its files, and the work.
/// Nothing for a process that only starts up.
fn work(arguments: &[&str]) -> Option<f64> {
    let [command, file] = *arguments else { return None };
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    let start = Instant::now();
    if command == "solve" {
        let circuit = load_circuit(&path).value?;
        black_box(Assembly::new(&circuit).solve(POWERED, &Overlay::none()));
    } else {
        let board = path.to_str()?.replace(".readings.toml", ".toml");
        let circuit = load_circuit(board).value?;
        let readings = load_readings(&path, &circuit).value?;
        black_box(diagnose(&Assembly::new(&circuit), &readings.readings, &readings.seen));
    }
    Some(1e9 * start.elapsed().as_secs_f64())
}
