//! What is fuzzed: for each kind of input one function of bytes that panics where a law is broken.
//!
//! The coverage-guided programs of `ohmhound-fuzz` run them by hand; `tests/corpora.rs` compiles this
//! module too and replays what was found.

mod mutate;
mod texts;
mod whole;
mod words;

pub use mutate::mutated;
pub use texts::{circuit, csv, readings, stock};
pub use whole::{diagnose, solve};
pub use words::{answers, faults, values};

use std::sync::Arc;

use ohmhound::circuit::Circuit;
use ohmhound::file::{Parsed, read_circuit};
use ohmhound::finding::{Finding, Source};
use ohmhound::report::{Style, render};

/// A target.
pub type Target = fn(&[u8]);

/// Every target with its name, which is that of its program and of its corpus.
#[allow(dead_code, reason = "the programs name their targets themselves")]
pub const ALL: [(&str, Target); 9] = [
    ("circuit", circuit),
    ("readings", readings),
    ("csv", csv),
    ("values", values),
    ("faults", faults),
    ("answers", answers),
    ("stock", stock),
    ("solve", solve),
    ("diagnose", diagnose),
];

/// The program of one target.
#[macro_export]
macro_rules! fuzzed {
    ($target:ident) => {
        libfuzzer_sys::fuzz_target!(|bytes: &[u8]| $crate::$target(bytes));
        libfuzzer_sys::fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, seed: u32| {
            // Half of the mutations are blind, half know the words of the files.
            if seed % 2 == 0 {
                return libfuzzer_sys::fuzzer_mutate(data, size, most);
            }
            let new = $crate::mutated(&data[..size], u64::from(seed));
            let size = new.len().min(most).min(data.len());
            data[..size].copy_from_slice(&new[..size]);
            size
        });
    };
}

const SHELF: &str = include_str!("../../../circuits/orchard.shelf.toml");

/// The boards that readings, faults and answers are of.
const BOARDS: [(&str, &str); 6] = [
    ("gate-supply.toml", include_str!("../../../circuits/gate-supply.toml")),
    ("standby-supply.toml", include_str!("../../../circuits/standby-supply.toml")),
    ("relay-driver.toml", include_str!("../../../circuits/relay-driver.toml")),
    ("soil-amplifier.toml", include_str!("../../../circuits/soil-amplifier.toml")),
    ("pump-lamp.toml", include_str!("../../../circuits/pump-lamp.toml")),
    ("gate.toml", include_str!("../../files/rejects/gate.toml")),
];

/// A text as far as it is one: no reader is given anything else.
fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok()
}

/// A text and what follows a line of its own, such as `# readings`.
fn parts<'a>(text: &'a str, line: &str) -> (&'a str, &'a str) {
    text.split_once(line).unwrap_or((text, ""))
}

/// Reads a circuit; every shelf that it names is the demo shelf, or the one given.
fn circuit_of(source: &Arc<Source>, shelf: &str) -> Parsed<Circuit> {
    let shelf = if shelf.is_empty() { SHELF } else { shelf };
    let shelf = Source::new("shelf.toml", shelf);
    read_circuit(source, &mut |_| Ok(Arc::clone(&shelf)))
}

/// The demo board of that file name; the last one where there is none.
fn board(name: &str) -> Circuit {
    let last = BOARDS[BOARDS.len() - 1];
    let (name, text) = BOARDS.into_iter().find(|(known, _)| *known == name).unwrap_or(last);
    circuit_of(&Source::new(name, text), "").value.expect("a demo board is in order")
}

/// What every reader owes: a value or an error, places inside the text, words for everything, and an
/// excerpt that can be printed.
fn owed<T>(parsed: &Parsed<T>) {
    let is_refused = parsed.findings.iter().any(Finding::is_error);
    assert_eq!(parsed.value.is_none(), is_refused, "{:?}", parsed.findings);
    said(&parsed.findings);
}

fn said(findings: &[Finding]) {
    for finding in findings {
        assert!(!finding.message.is_empty(), "a finding without words");
        assert!(!finding.message.contains('\n'), "{:?} is not one line", finding.message);
        for label in &finding.labels {
            let inside = label.source.text.get(label.range.clone());
            assert!(inside.is_some(), "{:?} is no place of its text: {finding:?}", label.range);
        }
    }
    for width in [80, 20] {
        let shown = render(findings, Style::Plain, width);
        assert!(findings.is_empty() || !shown.is_empty());
        let is_control = |c: char| c.is_control() && c != '\n';
        assert!(!shown.contains(is_control), "a control character in {shown:?}");
    }
}
