//! The guide and the README say what the program does now.
//!
//! Written anew, where the program says something else on purpose:
//! `GUIDE=write cargo test --test guide`, then read what `git diff` shows.

mod console;
mod keys;
#[path = "../program/mod.rs"]
mod program;

use std::fs;
use std::path::{Path, PathBuf};

use ohmhound::device::ALL;
use ohmhound::file::{is_circuit, read_circuit};
use ohmhound::finding::Source;
use ohmhound::guide::{files_markdown, kinds_chapter};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// Whether the texts are to be written anew.
fn writes() -> bool {
    std::env::var("GUIDE").is_ok_and(|word| word == "write")
}

fn guide(name: &str) -> PathBuf {
    root().join("src/guide").join(name)
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The file holds the text; or it is written anew.
#[track_caller]
fn holds(path: &Path, text: &str) {
    if writes() {
        return fs::write(path, text).expect("the file can be written");
    }
    let known = read(path);
    let differs =
        known.lines().zip(text.lines()).enumerate().find(|(_, (one, other))| one != other);
    let at = differs.map_or(0, |(line, _)| line + 1);
    assert!(
        known == text,
        "{} line {at} is not what the code says now: GUIDE=write cargo test --test guide",
        path.strip_prefix(root()).unwrap_or(path).display()
    );
}

#[test]
fn the_reference_is_what_the_tables_say() {
    holds(&guide("files.md"), &files_markdown());
    holds(&guide("kinds.md"), &kinds_chapter());
}

#[test]
fn every_kind_has_a_chapter_on_its_model_with_limits() {
    let text = read(&guide("models.md"));
    let chapters: Vec<(&str, &str)> =
        text.split("\n# ").filter_map(|chapter| chapter.split_once('\n')).collect();
    for kind in ALL {
        let own: Vec<&str> = chapters
            .iter()
            .filter(|(title, _)| title.split(", ").any(|name| name == kind.name()))
            .map(|(_, body)| *body)
            .collect();
        assert_eq!(own.len(), 1, "`{}` has {} chapters", kind.name(), own.len());
        // Rules are there where the kind has any; which those are, only its code knows.
        for part in ["**Model.**", "**States.**", "**Cannot know.**"] {
            assert!(own[0].contains(part), "the chapter of `{}` has no {part}", kind.name());
        }
    }
    let known: Vec<&str> = ALL.iter().map(|kind| kind.name()).collect();
    for (title, body) in chapters.iter().filter(|(_, body)| body.contains("**Model.**")) {
        for name in title.split(", ") {
            assert!(known.contains(&name), "the chapter `{title}` is of no kind: {body}");
        }
    }
}

/// Every state that the code can tell of a part stands in the chapter on its model: read from the
/// sources, as only a solved board would say one.
#[test]
fn every_state_of_every_kind_is_told() {
    let text = read(&guide("models.md")).replace('\n', " ");
    let mut told = 0;
    for entry in fs::read_dir(root().join("src/device")).expect("the kinds") {
        let path = entry.expect("an entry").path();
        let code = if path.is_dir() { String::new() } else { read(&path) };
        let states = code.split("fn state(&self").skip(1);
        for state in states.filter_map(|body| body.split("\n    }\n").next()) {
            let pieces: Vec<&str> = state.split('"').collect();
            for pair in pieces.chunks_exact(2) {
                // What is asked for by name is a key, and no state.
                let asks = ["need(", "get(", "is_struck(", "flag(", "pin(", "== ", "word("];
                if asks.iter().any(|ask| pair[0].ends_with(ask)) {
                    continue;
                }
                told += 1;
                assert!(text.contains(pair[1]), "{}: no word on `{}`", path.display(), pair[1]);
            }
        }
    }
    assert!(told > 40, "{told} states");
}

#[test]
fn every_condition_that_a_regulator_waits_for_is_told() {
    let text = read(&guide("models.md"));
    for word in ["lockout", "enable", "good", "sense", "pulled in", "high"] {
        assert!(text.contains(&format!("`{word}`")), "no word on the condition `{word}`");
    }
}

/// The chapters that hold what the program prints, with the folder that it runs in.
const TEXTS: [(&str, &str); 4] = [
    ("src/guide/tutorial.md", "circuits/guide"),
    ("src/guide/commands.md", "."),
    ("src/guide/numbers.md", "circuits/guide"),
    ("README.md", "."),
];

#[test]
fn what_the_program_prints_stands_in_the_guide() {
    for (text, folder) in TEXTS {
        console::check(&root().join(text), folder);
    }
}

#[test]
fn what_the_guide_shows_of_files_stands_in_them() {
    for (text, _) in TEXTS {
        console::check_files(&root(), &root().join(text));
    }
}

#[test]
fn what_the_readme_points_at_is_there() {
    let text = read(&root().join("README.md"));
    let links: Vec<&str> =
        text.split("](").skip(1).filter_map(|rest| rest.split(')').next()).collect();
    assert!(links.len() > 5, "{links:?}");
    for link in links {
        assert!(root().join(link).is_file(), "the README points at {link}");
    }
}

/// What is shown of a circuit file can be typed as it stands.
#[test]
fn circuits_that_are_shown_are_in_order() {
    let mut shown = 0;
    for (text, _) in TEXTS {
        for file in console::files(&root().join(text)) {
            let source = Source::new("shown.toml", file);
            if is_circuit(&source) {
                let read = read_circuit(&source, &mut |_| Err("no shelf".to_owned()));
                assert!(read.findings.is_empty(), "{text}: {:?}", read.findings);
                shown += 1;
            }
        }
    }
    assert!(shown >= 2, "{shown}");
}

#[test]
fn every_command_is_told_of_in_the_guide_and_in_the_readme() {
    let help = program::run_in(&root(), &["--help"], "").out;
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() > 10, "{help}");
    let (guide, readme) = (read(&guide("commands.md")), read(&root().join("README.md")));
    for command in commands {
        assert!(guide.contains(&format!("# `{command}`")), "no chapter on `{command}`");
        assert!(readme.contains(&format!("`{command}")), "the README is silent on `{command}`");
    }
}

/// The picture of the README is what the program draws.
#[test]
fn the_picture_is_what_the_program_draws() {
    let folder = console::copied("circuits");
    let picture = ["--picture", "drawn.svg"];
    let args = [&["diagnose", "gate-supply.readings.toml"], &picture[..]].concat();
    let run = program::run_in(&folder, &args, "");
    assert_eq!(run.status, 0, "{}", run.err);
    holds(&root().join("circuits/gate-supply.svg"), &read(&folder.join("drawn.svg")));
    let shown = read(&root().join("README.md")).contains("](circuits/gate-supply.svg)");
    assert!(shown, "the README shows it");
}
