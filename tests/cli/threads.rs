//! The number of threads changes nothing but the time: the same bytes with one, two, three and eight.
//!
//! Eight are more than a small machine has cores: threads then take turns at any moment.

use crate::program::{Run, circuits, folder, run_in};

/// The readings files of the demo boards.
fn jobs() -> Vec<String> {
    let mut found: Vec<String> = std::fs::read_dir(circuits())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".readings.toml"))
        .collect();
    found.sort();
    assert!(found.len() > 15, "{found:?}");
    found
}

fn run(args: &[&str], threads: &str) -> Run {
    let args: Vec<&str> = args.iter().copied().chain(["--threads", threads]).collect();
    run_in(&circuits(), &args, "")
}

/// Nothing in what a command prints goes by the number of threads.
fn same_with_any(args: &[&str]) {
    same_with(args, &["2", "3", "8"]);
}

/// It prints the same with these numbers of threads as with one.
fn same_with(args: &[&str], numbers: &[&str]) {
    let one = run(args, "1");
    assert!(one.out.len() > 100, "{args:?} says nothing: {}", one.err);
    for threads in numbers {
        let other = run(args, threads);
        assert!(one.out == other.out, "{args:?} prints something else with {threads} threads");
        assert_eq!((one.status, &one.err), (other.status, &other.err), "{args:?} {threads}");
    }
}

#[test]
fn diagnoses_are_the_same() {
    for job in jobs() {
        same_with_any(&["diagnose", &job, "--format", "json"]);
    }
}

#[test]
fn next_measurements_are_the_same() {
    for job in jobs() {
        same_with_any(&["next", &job, "--format", "json"]);
    }
}

/// Boards whose pairs take seconds.
const SLOW: [&str; 3] = ["cold-store", "load-switch", "pump-controller"];

#[test]
fn pairs_are_the_same() {
    for job in jobs().iter().filter(|job| !SLOW.iter().any(|slow| job.starts_with(slow))) {
        same_with(&["diagnose", job, "--pairs", "--format", "json"], &["3"]);
    }
}

#[test]
#[ignore = "a minute: pairs of every board with every number of threads"]
fn pairs_are_the_same_with_any_number() {
    for job in jobs() {
        same_with_any(&["diagnose", &job, "--pairs", "--format", "json"]);
    }
}

#[test]
fn studies_are_the_same() {
    same_with_any(&["fault-table", "pump-controller.toml"]);
    same_with_any(&["solve", "standby-supply.toml", "--bands", "--format", "json"]);
    let draws = ["solve", "soil-amplifier.toml", "--bands", "--draws", "600", "--seed", "3"];
    same_with_any(&draws);
    same_with_any(&["report", "pump-lamp.readings.toml"]);
}

/// A number of threads that is none is refused, and one that is not used is no mistake.
#[test]
fn numbers_of_threads() {
    for bad in ["0", "-1", "1.5", "many", "100000"] {
        let refused = run_in(&circuits(), &["faults", &format!("--threads={bad}")], "");
        assert_eq!(refused.status, 2, "{bad}");
        assert!(refused.out.is_empty(), "{bad}");
        assert!(refused.err.contains("--threads <N>"), "{bad}: {}", refused.err);
    }
    let empty = folder("threads");
    assert_eq!(run_in(&empty, &["faults", "--threads", "3"], "").status, 0);
    assert_eq!(run_in(&empty, &["--threads", "3", "marking", "472"], "").status, 0);
    std::fs::write(empty.join("empty.readings.toml"), "").unwrap();
    let nothing = run_in(&empty, &["diagnose", "empty.readings.toml", "--threads", "2"], "");
    assert_eq!((nothing.status, nothing.out.as_str()), (2, ""));
}

/// No variable of the environment decides: neither the answers nor how many threads there are.
#[test]
fn the_environment_decides_nothing() {
    let args = ["diagnose", "gate-supply.readings.toml", "--threads", "2"];
    let plain = run_in(&circuits(), &args, "");
    for number in ["1", "7", "nonsense"] {
        let other = std::process::Command::new(env!("CARGO_BIN_EXE_ohmhound"))
            .args(args)
            .current_dir(circuits())
            .env_remove("CLICOLOR_FORCE")
            .env_remove("COLUMNS")
            .env("RAYON_NUM_THREADS", number)
            .output()
            .unwrap();
        assert_eq!(plain.out.as_bytes(), other.stdout, "{number}");
    }
}
