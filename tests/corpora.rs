//! What fuzzing found, replayed: every input of the corpora, and mutations of each that are the same
//! on every machine. No target may panic, or take longer than a person would wait.
//!
//! `tests/fuzz` runs the same targets guided by coverage, by hand.

#[path = "fuzz/targets/mod.rs"]
mod targets;

use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

/// What hangs is caught; a busy machine without optimisation is not.
const LONGEST: Duration = Duration::from_secs(20);

/// The inputs of a target with their names, in order: its corpus, and the demo files where they are
/// inputs as they stand.
fn inputs(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let files = |folder: &Path| -> Vec<PathBuf> {
        let entries = std::fs::read_dir(folder).unwrap_or_else(|why| panic!("{folder:?}: {why}"));
        entries.map(|entry| entry.expect("an entry").path()).filter(|path| path.is_file()).collect()
    };
    let mut paths = files(&root.join("tests/fuzz/corpus").join(target));
    let is_readings = |path: &Path| path.to_string_lossy().ends_with(".readings.toml");
    let demos = files(&root.join("circuits")).into_iter();
    match target {
        "circuit" => paths.extend(demos.filter(|path| !is_readings(path))),
        "readings" => paths.extend(demos.filter(|path| is_readings(path))),
        _ => {}
    }
    paths.sort();
    paths.into_iter().map(|path| (path.clone(), std::fs::read(path).expect("an input"))).collect()
}

/// Runs a target on its corpus, and on so many mutations of each input.
fn replay(name: &str, mutations: u64) {
    let (_, target) = targets::ALL.into_iter().find(|(known, _)| *known == name).expect("a target");
    let inputs = inputs(name);
    assert!(inputs.len() >= 5, "the corpus of `{name}` is gone");
    let (tell, told) = channel();
    let worker = std::thread::spawn(move || {
        for (path, bytes) in &inputs {
            for seed in 0..=mutations {
                let what = format!("{} mutated by {seed}", path.display());
                if tell.send(what).is_err() {
                    return;
                }
                match seed {
                    0 => target(bytes),
                    _ => target(&targets::mutated(bytes, seed)),
                }
            }
        }
    });
    let mut last = "nothing".to_owned();
    loop {
        match told.recv_timeout(LONGEST) {
            Ok(what) => last = what,
            Err(RecvTimeoutError::Timeout) => panic!("more than {LONGEST:?} on {last}"),
            Err(RecvTimeoutError::Disconnected) => break,
        }
    }
    // What broke is told above by the worker; here is the input that broke it.
    assert!(worker.join().is_ok(), "broken by {last}");
}

#[test]
fn circuits_are_read_or_refused() {
    replay("circuit", 20);
}

#[test]
fn readings_are_read_or_refused() {
    replay("readings", 20);
}

#[test]
fn readings_with_commas_are_read_or_refused() {
    replay("csv", 20);
}

#[test]
fn values_print_and_read_back() {
    replay("values", 40);
}

#[test]
fn fault_phrases_print_and_read_back() {
    replay("faults", 3);
}

#[test]
fn answers_are_in_the_log_as_they_were_typed() {
    replay("answers", 10);
}

#[test]
fn stock_lists_are_read_or_refused() {
    replay("stock", 20);
}

#[test]
fn boards_are_solved_or_say_why_not() {
    replay("solve", 4);
}

#[test]
fn jobs_are_diagnosed() {
    replay("diagnose", 3);
}

#[test]
fn a_mutation_is_the_same_every_time_and_most_are_texts() {
    let (_, bytes) = inputs("circuit").swap_remove(0);
    let all: Vec<Vec<u8>> = (1..200).map(|seed| targets::mutated(&bytes, seed)).collect();
    let again: Vec<Vec<u8>> = (1..200).map(|seed| targets::mutated(&bytes, seed)).collect();
    assert_eq!(all, again);
    let different: std::collections::HashSet<&Vec<u8>> = all.iter().collect();
    assert!(different.len() > 150, "{} different ones", different.len());
    let texts = all.iter().filter(|new| std::str::from_utf8(new).is_ok()).count();
    assert!(texts > 150, "{texts} texts");
}
