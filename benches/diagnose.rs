//! A whole diagnosis beside a single healthy solve of the same board, in one run.
//!
//! Claims: as a whole process, the diagnosis of a board with 40 passive parts takes well under 50 ms
//! of processor time, and that of one with 40 parts, regulators, gates, a comparator, transistors
//! and a relay among them, under 100 ms. Rounds are interleaved, medians are compared, and the ratio
//! is what counts: single times depend on the machine.
#![allow(clippy::print_stdout)]

use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::diagnosis::diagnose;
use ohmhound::engine::Assembly;
use ohmhound::file::{load_circuit, load_readings};

/// Rounds that medians are taken over.
const ROUNDS: usize = 15;
/// The boards, each with the readings that are diagnosed.
const BOARDS: [&str; 11] = [
    "soil-probe",
    "gate-supply",
    "pump-lamp",
    "sensor-battery",
    "packing-shed",
    "relay-driver",
    "soil-amplifier",
    "load-switch",
    "standby-supply",
    "pump-controller",
    "cold-store",
];
/// Boards of 40 parts, passive and active, with their limit for the whole process in milliseconds.
const LIMITS: [(&str, u32); 2] = [("packing-shed", 50), ("cold-store", 100)];
/// Whole processes whose processor time is added up.
const PROCESSES: u32 = 40;

fn main() {
    println!("{:16} {:>5} {:>10} {:>12} {:>9}", "board", "parts", "solve", "diagnosis", "ratio");
    for board in BOARDS {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits");
        let circuit = load_circuit(folder.join(format!("{board}.toml"))).value.unwrap();
        let readings =
            load_readings(folder.join(format!("{board}.readings.toml")), &circuit).value.unwrap();
        let assembly = Assembly::new(&circuit);
        let (mut solves, mut diagnoses) = (Vec::new(), Vec::new());
        for _ in 0..ROUNDS {
            let start = Instant::now();
            for _ in 0..20 {
                black_box(assembly.solve(POWERED, &Overlay::none()));
            }
            solves.push(start.elapsed().as_secs_f64() / 20.0);
            let start = Instant::now();
            black_box(diagnose(&assembly, &readings.readings, &readings.seen));
            diagnoses.push(start.elapsed().as_secs_f64());
        }
        let (solve, diagnosis) = (median(&mut solves), median(&mut diagnoses));
        println!(
            "{board:16} {:5} {:7.1} µs {:9.2} ms {:9.0}",
            circuit.parts.len(),
            1e6 * solve,
            1e3 * diagnosis,
            diagnosis / solve
        );
    }
    for (board, limit) in LIMITS {
        match process_time(&format!("circuits/{board}.readings.toml")) {
            Some(seconds) => println!(
                "{board} as a whole process: {:.1} ms of processor time (limit {limit} ms)",
                1e3 * seconds
            ),
            None => println!("processor time of child processes is not known on this system"),
        }
    }
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Mean processor time of the program on a readings file, in seconds: what the system counted for
/// children that ended, in hundredths of a second, over many of them.
fn process_time(readings: &str) -> Option<f64> {
    let ticks = || {
        let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
        // Fields after the command's closing bracket: cutime is the 14th, cstime the 15th.
        let fields: Vec<&str> = stat.rsplit(')').next()?.split_whitespace().collect();
        Some(fields.get(13)?.parse::<f64>().ok()? + fields.get(14)?.parse::<f64>().ok()?)
    };
    let before = ticks()?;
    for _ in 0..PROCESSES {
        let status = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
            .args(["diagnose", readings])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .stdout(Stdio::null())
            .status()
            .ok()?;
        assert!(status.success());
    }
    Some((ticks()? - before) / 100.0 / f64::from(PROCESSES))
}
