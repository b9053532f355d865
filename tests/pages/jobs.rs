//! Jobs to write reports of: every demo circuit with each of its readings files, and jobs of every
//! sort beside them.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A job with its report.
pub struct Job {
    /// The readings file without its endings.
    pub name: String,
    /// The page.
    pub html: String,
}

pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// An empty folder for one test.
pub fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pages").join(name);
    let _ = std::fs::remove_dir_all(&path);
    std::fs::create_dir_all(&path).expect("a folder for the test");
    path
}

/// Runs the program in a folder.
pub fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ohmhound"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

/// What the program prints, where all goes well.
#[track_caller]
pub fn printed(folder: &Path, args: &[&str]) -> String {
    let output = run(folder, args);
    let words = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && words.is_empty(), "{args:?}: {words}");
    String::from_utf8(output.stdout).expect("pages are UTF-8")
}

/// The readings files in a folder, in order.
fn readings(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("the folder of the readings");
    let mut names: Vec<String> = entries
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("a plain name"))
        .filter(|name| name.ends_with(".readings.toml"))
        .collect();
    names.sort();
    names
}

/// Every job with its page.
pub fn all() -> Vec<Job> {
    let mut jobs = Vec::new();
    for own in ["circuits", "tests/pages/jobs"] {
        let folder = root().join(own);
        for file in readings(&folder) {
            let mut args = vec!["report", file.as_str()];
            if file.starts_with("fixed.") {
                args.extend(["--substitute", "R1=51k", "--pairs"]);
            }
            let name = file.trim_end_matches(".readings.toml").to_owned();
            jobs.push(Job { name, html: printed(&folder, &args) });
        }
    }
    jobs
}

/// Pages for a class: lessons with and without blanks, fault tables, sheets and their key.
pub fn for_a_class() -> Vec<Job> {
    let circuits = root().join("circuits");
    let mut commands: Vec<Vec<String>> = Vec::new();
    let words = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<_>>();
    let entries = std::fs::read_dir(circuits.join("lessons")).expect("the lessons");
    let mut lessons: Vec<String> = entries
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("a plain name"))
        .collect();
    lessons.sort();
    for lesson in lessons {
        commands.push(words(&format!("lesson lessons/{lesson}")));
        commands.push(words(&format!("lesson lessons/{lesson} --ask")));
    }
    for more in [
        "lesson standby-supply.toml",
        "lesson gate-supply.toml --meter EN=1M --fault",
        "fault-table gate-supply.toml --ohms",
        "fault-table standby-supply.toml --blank",
        "quiz gate-supply.toml --class 2 --seed 5",
        "quiz gate-supply.toml --class 2 --seed 5 --key",
    ] {
        let mut more = words(more);
        if more.last().is_some_and(|last| last == "--fault") {
            more.push("R1 open".to_owned());
        }
        commands.push(more);
    }
    let page = |command: Vec<String>| {
        let mut args: Vec<&str> = command.iter().map(String::as_str).collect();
        args.extend(["--format", "html"]);
        let plain = |letter: char| if letter.is_alphanumeric() { letter } else { '-' };
        let name = command.join("-").chars().map(plain).collect();
        Job { name, html: printed(&circuits, &args) }
    };
    commands.into_iter().map(page).collect()
}
