//! What `--version` says: the version, and in a build for release the commit that it was made of.
//!
//! A build for development leaves the commit out: the whole library would be compiled again for each
//! one.
#![allow(clippy::print_stdout, reason = "this is how a build script speaks")]

use std::env::var;
use std::path::{Path, PathBuf};
use std::process::Command;

fn main() {
    println!("cargo::rerun-if-changed=src/build.rs");
    let version = var("CARGO_PKG_VERSION").unwrap_or_default();
    let folder = PathBuf::from(var("CARGO_MANIFEST_DIR").unwrap_or_default());
    let is_release = var("PROFILE").is_ok_and(|profile| profile == "release");
    let commit = if is_release { commit(&folder) } else { None };
    let version = match &commit {
        Some(commit) => format!("{version} ({commit})"),
        None => version,
    };
    println!("cargo::rustc-env=OHMHOUND_VERSION={version}");
    if let Some(file) = moves_with_head(&folder).filter(|_| is_release) {
        println!("cargo::rerun-if-changed={}", file.display());
    }
}

/// The commit that a folder stands at with the day it was made, such as `1a2b3c4 2026-11-28`; nothing
/// where the folder is no checkout of its own, or there is no git to ask.
pub fn commit(folder: &Path) -> Option<String> {
    let said = git(folder, &["log", "-1", "--no-show-signature", "--abbrev=7", "--format=%h %cs"])?;
    let (hash, day) = said.split_once(' ')?;
    let is_hash = hash.len() >= 7 && hash.bytes().all(|byte| byte.is_ascii_hexdigit());
    let is_day = day.len() == 10 && day.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
    (is_hash && is_day).then_some(said)
}

/// The file that changes whenever the checkout moves to another commit, and else hardly ever.
pub fn moves_with_head(folder: &Path) -> Option<PathBuf> {
    let path = folder.join(git(folder, &["rev-parse", "--git-path", "logs/HEAD"])?);
    // A file that is not there would start the script with every build.
    path.exists().then_some(path)
}

fn git(folder: &Path, args: &[&str]) -> Option<String> {
    // A folder of sources inside of somebody else's checkout is not of that checkout.
    if !folder.join(".git").exists() {
        return None;
    }
    let mut git = Command::new("git");
    git.current_dir(folder).args(args);
    // Set by git while it runs a hook, for another repository perhaps.
    for name in ["GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE"] {
        git.env_remove(name);
    }
    let output = git.output().ok().filter(|output| output.status.success())?;
    Some(String::from_utf8(output.stdout).ok()?.trim().to_owned())
}
