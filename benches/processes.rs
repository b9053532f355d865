//! The program as a whole process beside a process that does nothing, in the same language.
//!
//! Claim: `solve` and `diagnose` start up in less than 5 ms beside an empty process. Runs are
//! interleaved; medians are compared, with the interval that the order of the differences gives.
#![allow(clippy::print_stdout)]

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use std::env;
use std::process::{Command, Stdio};
use std::time::Instant;

use measure::{Report, Time, exact, nanoseconds};

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
    for _ in 0..RUNS {
        times[0].push(nanoseconds_of(Command::new(&own).arg(NOTHING)));
        for (number, (_, arguments)) in CASES.iter().enumerate() {
            let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
            times[number + 1].push(nanoseconds_of(command.args(*arguments)));
        }
    }
    let mut report = Report::default();
    let empty = median(times[0].clone());
    report.row("an empty process", empty);
    for ((name, arguments), all) in CASES.iter().zip(&times[1..]) {
        let beyond: Vec<f64> = all.iter().zip(&times[0]).map(|(one, empty)| one - empty).collect();
        report.row(*name, median(all.clone())).beside(empty);
        let beyond = median(beyond);
        report.at_most(&format!("{name} beside the empty process"), beyond, LIMIT, nanoseconds);
        if let Some(bytes) = most_resident(arguments) {
            report.at_most(
                &format!("{name}: most memory resident"),
                exact(bytes),
                32.0 * 1024.0 * 1024.0,
                |bytes| measure::bytes(bytes as u64),
            );
        }
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

/// The most memory that a process had, in bytes, as the shell's system tells it; none where it
/// does not.
fn most_resident(arguments: &[&str]) -> Option<f64> {
    let mut child = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let path = format!("/proc/{}/status", child.id());
    let mut most: Option<f64> = None;
    while child.try_wait().ok()?.is_none() {
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kilobytes = line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<f64>().ok());
        most = kilobytes.map(|kilobytes| 1024.0 * kilobytes).or(most);
    }
    most
}
