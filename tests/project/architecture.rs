//! The order of the layers, and who may name what: read from `src/` itself.

use std::fs;
use std::path::{Path, PathBuf};

/// Lowest first: each layer uses only those before it. `cli` is the program, not the library.
const ORDER: &[&str] = &[
    "quantity",
    "finding",
    "circuit",
    "device",
    "file",
    "engine",
    "fault",
    "meter",
    "diagnosis",
    "plan",
    "study",
    "picture",
    "report",
    "guide",
    "cli",
];

/// Lines after which a file has more than one idea in it, most likely.
const LONG: usize = 450;

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// Every source file with its layer and its text, comments left out.
fn files() -> Vec<(PathBuf, String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    sources(&root, &mut paths);
    paths
        .into_iter()
        .map(|path| {
            let relative = path.strip_prefix(&root).unwrap().to_owned();
            let first = relative.iter().next().unwrap().to_str().unwrap();
            let layer = first.trim_end_matches(".rs").to_owned();
            let text = fs::read_to_string(&path).unwrap();
            let code: Vec<&str> = text
                .lines()
                .map(|line| line.split_once("//").map_or(line, |(code, _)| code))
                .collect();
            (relative, layer, code.join("\n"))
        })
        .collect()
}

fn rank(layer: &str) -> Option<usize> {
    ORDER.iter().position(|known| *known == layer)
}

/// Every layer that the code names, as `crate::layer` or, in a list, `crate::{layer`.
fn layers_used(code: &str) -> Vec<String> {
    let mut found = Vec::new();
    for prefix in ["crate::", "ohmhound::"] {
        for (at, _) in code.match_indices(prefix) {
            let rest = &code[at + prefix.len()..];
            let names = match rest.strip_prefix('{') {
                Some(list) => list.split('}').next().unwrap_or("").split(',').collect(),
                None => vec![rest],
            };
            for name in names {
                let word: String = name
                    .trim_start()
                    .chars()
                    .take_while(|letter| letter.is_alphanumeric() || *letter == '_')
                    .collect();
                found.push(word);
            }
        }
    }
    found
}

#[test]
fn every_layer_uses_only_those_below_it() {
    for (path, layer, code) in files() {
        let Some(own) = rank(&layer) else { continue };
        for used in layers_used(&code) {
            let Some(other) = rank(&used) else { continue };
            assert!(
                other <= own,
                "{}: `{layer}` may not use `{used}`: see DEVELOPERS.md, the order of the layers",
                path.display()
            );
            assert!(
                used != "file" || ["file", "guide", "cli"].contains(&layer.as_str()),
                "{}: results never depend on how a circuit was read",
                path.display()
            );
        }
    }
}

#[test]
fn the_library_never_names_the_program() {
    let (_, _, code) = files().into_iter().find(|(path, ..)| path == Path::new("lib.rs")).unwrap();
    assert!(!code.contains("mod cli"));
    let layers: Vec<String> = files().into_iter().map(|(_, layer, _)| layer).collect();
    for layer in layers.iter().filter(|layer| !["lib", "main", "build"].contains(&layer.as_str())) {
        assert!(rank(layer).is_some(), "`{layer}` has no place in the order of the layers");
    }
}

#[test]
fn libraries_are_named_where_they_belong() {
    let belongs: &[(&str, &[&str])] = &[
        ("toml", &["file"]),
        ("clap", &["cli"]),
        ("clap_complete", &["cli"]),
        ("clap_mangen", &["cli"]),
        ("nalgebra", &["engine", "diagnosis"]),
        ("serde_json", &["file", "report", "cli"]),
        ("annotate_snippets", &["report"]),
        ("comfy_table", &["report"]),
        ("maud", &["report"]),
        ("statrs", &["diagnosis"]),
        ("rayon", &["diagnosis", "study", "cli"]),
        ("plotters", &["picture"]),
        ("rand_xoshiro", &["study"]),
        ("faer", &["engine"]),
    ];
    for (path, layer, code) in files() {
        for (library, homes) in belongs {
            let named = code.contains(&format!("{library}::"));
            assert!(
                !named || homes.contains(&layer.as_str()),
                "{}: `{library}` belongs in {homes:?}",
                path.display()
            );
        }
    }
}

#[test]
fn the_library_never_prints_and_never_reads_the_clock() {
    for (path, layer, code) in files() {
        if ["cli", "main", "build"].contains(&layer.as_str()) {
            continue;
        }
        for word in ["println!", "eprintln!", "print!(", "SystemTime", "Instant::now", "env::var"] {
            assert!(!code.contains(word), "{}: `{word}`", path.display());
        }
    }
}

/// A long file is looked at, not refused: the list is printed with `--nocapture`.
#[allow(clippy::print_stdout)]
#[test]
fn files_stay_short() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    sources(&root, &mut paths);
    let mut much_too_long = Vec::new();
    for path in paths {
        let lines = fs::read_to_string(&path).unwrap().lines().count();
        if lines > LONG {
            println!("{lines} lines: {}", path.display());
        }
        if lines > 2 * LONG {
            much_too_long.push(path);
        }
    }
    assert!(much_too_long.is_empty(), "{much_too_long:?}");
}
