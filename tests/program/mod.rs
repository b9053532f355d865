//! The program run as a process: what goes in, what comes out and how it ends.
#![allow(dead_code, reason = "each test uses its own part of it")]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// One run of the program.
pub struct Run {
    pub status: i32,
    pub out: String,
    pub err: String,
}

/// The folder of the demo circuits.
pub fn circuits() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits")
}

/// Runs the program in a folder, with these lines to read. Without a terminal the output is 80 columns
/// wide and has no colour.
pub fn run_in(folder: &Path, args: &[&str], input: &str) -> Run {
    let mut child = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
        .args(args)
        .current_dir(folder)
        .env_remove("CLICOLOR_FORCE")
        .env_remove("COLUMNS")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut stdin = child.stdin.take().expect("a pipe");
    // A program that refuses its arguments reads no line: that is no failure of the test.
    let _ = stdin.write_all(input.as_bytes());
    drop(stdin);
    let output = child.wait_with_output().expect("the program ends");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("the program prints UTF-8");
    let status = output.status.code().expect("the program ends by itself");
    Run { status, out: text(output.stdout), err: text(output.stderr) }
}

/// An empty folder of its own for a test.
pub fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&path);
    std::fs::create_dir_all(&path).expect("a folder for the test");
    path
}
