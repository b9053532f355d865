//! What is refused, and the whole text of the refusal: one file for each slip, one golden text for
//! each file.
//!
//! A new complaint is a new file in `rejects/`, not a new test.

use std::fs;
use std::path::Path;

use ohmhound::circuit::Circuit;
use ohmhound::file::{read_circuit, read_readings, read_readings_csv};
use ohmhound::finding::{Code, Finding, Source};
use ohmhound::report::{Style, render};

const WIDTH: usize = 80;

const SHOP: &str = "[types.shop-10k]\nkind = \"resistor\"\nvalue = \"10 kV\"\n\n[parts]\n";

fn source(path: &Path) -> std::sync::Arc<Source> {
    let name = path.file_name().expect("a file").to_string_lossy();
    Source::new(name, fs::read_to_string(path).expect("a text"))
}

fn shelf(name: &str) -> Result<std::sync::Arc<Source>, String> {
    match name {
        "shop.toml" => Ok(Source::new(name, SHOP)),
        "parts/one.toml" => Ok(Source::new(name, "shelf = [\"../two.toml\"]\n")),
        "two.toml" => Ok(Source::new(name, "shelf = [\"parts/one.toml\"]\n")),
        _ => Err(format!("cannot read `{name}`: there is no such file")),
    }
}

fn gate() -> Circuit {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/files/rejects/gate.toml");
    let read = read_circuit(&source(&path), &mut shelf);
    assert!(read.findings.is_empty(), "{}", render(&read.findings, Style::Plain, WIDTH));
    read.value.expect("a circuit")
}

/// The text that a person sees, after checks that hold for every refusal.
fn text(findings: &[Finding], has_value: bool) -> String {
    assert!(!findings.is_empty(), "nothing is refused");
    assert_eq!(has_value, !findings.iter().any(Finding::is_error));
    for finding in findings {
        assert!(!finding.labels.is_empty(), "no place: {}", finding.message);
        for label in &finding.labels {
            let stretch = label.source.text.get(label.range.clone());
            assert!(stretch.is_some(), "outside of the text: {}", finding.message);
        }
        let first = finding.message.chars().next();
        assert!(!first.is_some_and(char::is_uppercase), "{}", finding.message);
        assert!(!finding.message.ends_with('.'), "{}", finding.message);
    }
    render(findings, Style::Plain, WIDTH)
}

#[test]
fn circuits() {
    insta::glob!("rejects/circuit/*.toml", |path| {
        let read = read_circuit(&source(path), &mut shelf);
        insta::assert_snapshot!(text(&read.findings, read.value.is_some()));
    });
}

#[test]
fn readings() {
    let circuit = gate();
    insta::glob!("rejects/readings/*.toml", |path| {
        let read = read_readings(&source(path), &circuit);
        insta::assert_snapshot!(text(&read.findings, read.value.is_some()));
    });
}

#[test]
fn readings_with_commas() {
    let circuit = gate();
    insta::glob!("rejects/readings/*.csv", |path| {
        let read = read_readings_csv(&source(path), &circuit);
        insta::assert_snapshot!(text(&read.findings, read.value.is_some()));
    });
}

#[test]
fn every_code_of_a_file_is_in_a_golden_text() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/files/snapshots");
    let golden: String = fs::read_dir(folder)
        .expect("golden texts")
        .filter_map(Result::ok)
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("files__rejects__"))
        .map(|entry| fs::read_to_string(entry.path()).expect("a text"))
        .collect();
    let of_files = |code: &&Code| ["H1", "H2", "H3"].iter().any(|h| code.name().starts_with(h));
    let absent: Vec<&str> = Code::ALL
        .iter()
        .filter(of_files)
        .map(|code| code.name())
        .filter(|name| !golden.contains(&format!("[{name}]")))
        .collect();
    assert!(absent.is_empty(), "no golden text for {absent:?}");
}
