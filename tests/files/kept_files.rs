//! Files that are written: whole or not at all, whenever the program is killed, the disk is full, the
//! folder is closed or the name is a link; and results that nobody takes.
#![cfg(unix)]

use crate::bench;
use crate::program;
use std::collections::BTreeMap;
use std::fs;
use std::io::{Read, Write};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use crate::program::folder;
use ohmhound::file::{Log, read_readings, replace_file};

/// The program, in a folder, without colour.
fn ohmhound(folder: &Path, args: &[&str]) -> Command {
    wrapped(folder, &[], args)
}

/// The program run by other ones, such as a shell that sets a limit.
fn wrapped(folder: &Path, wrappers: &[&str], args: &[&str]) -> Command {
    let program = env!("CARGO_BIN_EXE_ohmhound");
    let all: Vec<&str> = wrappers.iter().chain(&[program]).chain(args).copied().collect();
    let mut command = Command::new(all[0]);
    command.args(&all[1..]).current_dir(folder);
    command.env_remove("CLICOLOR_FORCE").env_remove("COLUMNS");
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What went to stderr, and that it is one that a person can read.
#[track_caller]
fn complaint(output: &Output) -> String {
    let told = words(&output.stderr);
    assert!(!told.contains("panicked"), "{told}");
    told
}

/// Everything in a folder, by name; locks that sessions leave are no files of anybody.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    entries
        .filter(|entry| entry.file_type().unwrap().is_file())
        .map(|entry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap()))
        .filter(|(name, _)| !name.ends_with(".lock"))
        .collect()
}

/// A folder with a small board and its readings.
fn bench_folder(name: &str) -> PathBuf {
    let folder = folder(name);
    for file in ["leaf-bridge.toml", "leaf-bridge.readings.toml"] {
        fs::copy(program::circuits().join(file), folder.join(file)).unwrap();
    }
    folder
}

/// Every command that writes a file, with the file that it writes.
const WRITERS: [(&[&str], &str); 6] = [
    (&["solve", "leaf-bridge.toml", "--picture", "a.svg"], "a.svg"),
    (&["diagnose", "leaf-bridge.readings.toml", "--picture", "b.svg"], "b.svg"),
    (&["lesson", "leaf-bridge.toml", "--picture", "c.svg"], "c.svg"),
    (&["report", "leaf-bridge.readings.toml", "-o", "d.html"], "d.html"),
    (&["starter", "e.toml", "--pattern", "divider"], "e.toml"),
    (&["bench", "leaf-bridge.toml", "--log", "f.toml"], "f.toml"),
];

/// The answers of a session, each with what the log holds of it.
const ANSWERS: [(&str, &str); 5] = [
    ("symptom leaves hang", "symptom = \"leaves hang\""),
    ("volts VREF 5.00", "VREF = 5.00"),
    ("volts LEFT 2.50", "LEFT = 2.50"),
    ("ohms LEFT 4.98k", "LEFT = \"4.98k\""),
    ("volts RIGHT 2.49", "RIGHT = 2.49"),
];

/// How many answers the output of a session acknowledges: their echo is followed by a reply.
fn acknowledged(out: &str) -> usize {
    let replies = out.split("\n> ").skip(1);
    replies.filter(|reply| reply.split_once('\n').is_some_and(|(_, rest)| !rest.is_empty())).count()
}

#[test]
fn a_session_killed_at_any_instant_has_kept_what_it_acknowledged() {
    let folder = bench_folder("kept-killed");
    let circuit = bench::demo("leaf-bridge");
    let typed: String = ANSWERS.iter().map(|(answer, _)| format!("{answer}\n")).collect();
    let session = |log: &str, input: &str| {
        let mut command = ohmhound(&folder, &["bench", "leaf-bridge.toml", "--log", log]);
        let mut child = command.stdin(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
        child
    };
    // How long a whole one takes says where the instants lie.
    let start = Instant::now();
    let whole = session("whole.toml", &typed).wait_with_output().unwrap();
    let life = start.elapsed();
    assert_eq!(acknowledged(&words_by_line(&whole.stdout)), ANSWERS.len(), "{whole:?}");
    let mut seen = [0; ANSWERS.len() + 1];
    for round in 0..60_u32 {
        let log = format!("{round}.toml");
        let mut child = session(&log, &typed);
        std::thread::sleep(life * round / 60);
        child.kill().unwrap();
        let output = child.wait_with_output().unwrap();
        let kept = acknowledged(&words_by_line(&output.stdout));
        seen[kept] += 1;
        let path = folder.join(&log);
        let text = fs::read_to_string(&path).unwrap_or_default();
        for (answer, line) in &ANSWERS[..kept] {
            assert!(text.contains(line), "`{answer}` was acknowledged and is not in\n{text}");
        }
        // The next session knows them, goes on, and leaves nothing behind but the log and its lock.
        let again = session(&log, "volts VREF 5.00\nquit\n").wait_with_output().unwrap();
        assert!(again.status.success(), "{}", complaint(&again));
        let log = Log::open(&path, "leaf-bridge.toml").unwrap();
        let read = read_readings(&log.source(), &circuit);
        let n = read.value.expect("a log that is in order").readings.len();
        let n_kept = kept.saturating_sub(1);
        assert!(n > n_kept, "{n} readings of {n_kept} and one more in\n{}", log.text());
    }
    let strays: Vec<String> =
        contents(&folder).into_keys().filter(|name| name.starts_with('.')).collect();
    assert!(strays.is_empty(), "{strays:?}");
    // The instants did lie in its life: at least two different numbers of answers were kept.
    assert!(seen.iter().filter(|count| **count > 0).count() > 1, "{seen:?}");
}

fn words_by_line(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_page_killed_at_any_instant_is_the_old_one_or_the_new_one() {
    let folder = bench_folder("kept-pages");
    let args = ["report", "leaf-bridge.readings.toml", "-o", "page.html"];
    let page = folder.join("page.html");
    let start = Instant::now();
    assert!(ohmhound(&folder, &args).output().unwrap().status.success());
    let life = start.elapsed();
    let whole = fs::read(&page).unwrap();
    for round in 0..20_u32 {
        fs::write(&page, "old").unwrap();
        let mut child = ohmhound(&folder, &args).spawn().unwrap();
        std::thread::sleep(life * round / 20);
        child.kill().unwrap();
        child.wait().unwrap();
        let now = fs::read(&page).unwrap();
        assert!(now == b"old" || now == whole, "{} bytes of {}", now.len(), whole.len());
    }
    // What a killed one left half written is in nobody's way.
    fs::write(folder.join(".page.html.new"), "half").unwrap();
    assert!(ohmhound(&folder, &args).output().unwrap().status.success());
    assert_eq!(fs::read(&page).unwrap(), whole);
    assert!(!folder.join(".page.html.new").exists());
}

/// Runs every command that writes where it cannot: it says so, and everything is as it was.
fn nothing_written(name: &str, wrappers: &[&str], why: &[&str]) {
    let folder = bench_folder(name);
    for has_old in [false, true] {
        for (args, file) in WRITERS {
            // A starter never goes over a file; a log grows, and that is tried below.
            if has_old && ["e.toml", "f.toml"].contains(&file) {
                continue;
            }
            if has_old {
                fs::write(folder.join(file), "old").unwrap();
            }
            let before = contents(&folder);
            let output = wrapped(&folder, wrappers, args).output().unwrap();
            let told = complaint(&output);
            assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
            assert!(told.contains("cannot write") && told.contains(file), "{args:?}: {told}");
            assert!(why.iter().any(|why| told.contains(why)), "{args:?}: {told}");
            assert!(contents(&folder) == before, "{args:?} left something behind");
        }
    }
}

/// A shell that lets no file grow beyond so many blocks, and makes that an error of the write.
const NO_ROOM: &str = "trap '' XFSZ; ulimit -f 0; exec \"$0\" \"$@\"";

#[test]
fn without_room_nothing_is_written_and_the_old_file_stays() {
    nothing_written("kept-no-room", &["sh", "-c", NO_ROOM], &["file too large"]);
}

#[test]
fn without_room_a_log_keeps_what_it_holds() {
    let folder = bench_folder("kept-log-no-room");
    let old = "circuit = \"leaf-bridge.toml\"\n\n[powered.volts]\nVREF = 5.00\n";
    fs::write(folder.join("job.toml"), old).unwrap();
    let args = ["bench", "leaf-bridge.toml", "--log", "job.toml"];
    let mut command = wrapped(&folder, &["sh", "-c", NO_ROOM], &args);
    let mut child = command.stdin(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(b"volts LEFT 2.50\nundo\nstatus\n").unwrap();
    let output = child.wait_with_output().unwrap();
    let told = complaint(&output);
    assert!(told.contains("cannot write the log `job.toml`: file too large"), "{told}");
    assert!(told.contains("everything accepted so far is in it"), "{told}");
    assert_eq!(fs::read_to_string(folder.join("job.toml")).unwrap(), old);
    assert_eq!(contents(&folder).len(), 3, "{:?}", contents(&folder).keys());
}

/// Whether a program can be run with these words in front of it here.
fn is_possible(wrappers: &[&str]) -> bool {
    let mut command = Command::new(wrappers[0]);
    command.args(&wrappers[1..]).arg("true").stdout(Stdio::null()).stderr(Stdio::null());
    command.status().is_ok_and(|status| status.success())
}

/// A disk of four pages, mounted where only the program sees it, with the small board on it.
const SMALL_DISK: &str = "mount -t tmpfs -o size=16k none . && cd \"$PWD\" && \
                          cp ../disk-files/*.toml . && echo old > d.html && \
                          \"$0\" \"$@\"; status=$?; echo; ls -A; cat d.html; exit $status";

#[test]
#[allow(clippy::print_stderr, reason = "says why nothing was tested")]
fn a_full_disk_is_told_and_nothing_half_written_stays() {
    let mount = ["unshare", "-rm", "sh", "-c", "mount -t tmpfs -o size=16k none . && \"$0\""];
    if !is_possible(&mount) {
        eprintln!("skipped: no disk can be mounted here");
        return;
    }
    let files = bench_folder("disk-files");
    let disk = folder("disk");
    let wrappers = ["unshare", "-rm", "sh", "-c", SMALL_DISK];
    let args = ["report", "leaf-bridge.readings.toml", "-o", "d.html"];
    let output = wrapped(&disk, &wrappers, &args).output().unwrap();
    let told = complaint(&output);
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(told.contains("cannot write `d.html`: no space left on device"), "{told}");
    let names: Vec<String> = contents(&files).into_keys().collect();
    let left = words(&output.stdout);
    assert_eq!(left, format!("d.html {} old", names.join(" ")), "what is on the disk");
}

#[test]
#[allow(clippy::print_stderr, reason = "says why nothing was tested")]
fn into_a_closed_folder_nothing_is_written() {
    let folder = bench_folder("kept-closed");
    fs::write(folder.join("a.svg"), "old").unwrap();
    fs::write(folder.join("job.toml"), "circuit = \"leaf-bridge.toml\"\n").unwrap();
    let set = |mode| fs::set_permissions(&folder, fs::Permissions::from_mode(mode)).unwrap();
    // The superuser writes everywhere: the program is run as nobody then.
    let as_nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"];
    set(0o555);
    let is_super = fs::write(folder.join("try"), "").is_ok();
    let _ = fs::remove_file(folder.join("try"));
    let program = env!("CARGO_BIN_EXE_ohmhound");
    if is_super && !is_possible(&[&as_nobody[..], &["test", "-x", program, "-a"]].concat()) {
        eprintln!("skipped: the superuser writes everywhere");
        set(0o755);
        return;
    }
    let wrappers: &[&str] = if is_super { &as_nobody } else { &[] };
    let before = contents(&folder);
    for (args, file) in WRITERS {
        let output = wrapped(&folder, wrappers, args).output().unwrap();
        let told = complaint(&output);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
        let why = ["permission denied", "not permitted"];
        assert!(why.iter().any(|why| told.contains(why)), "{args:?}: {told}");
        assert!(told.contains(file), "{told}");
    }
    let output = wrapped(&folder, wrappers, &["bench", "leaf-bridge.toml", "--log", "job.toml"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", complaint(&output));
    set(0o755);
    assert!(contents(&folder) == before);
}

#[test]
fn results_that_nobody_takes_are_no_failure_and_those_that_are_lost_are() {
    let folder = bench_folder("kept-results");
    let all: [&[&str]; 15] = [
        &["--help"],
        &["--version"],
        &["help", "solve"],
        &["starter", "--list"],
        &["check", "leaf-bridge.toml"],
        &["solve", "leaf-bridge.toml", "--format", "json"],
        &["solve", "leaf-bridge.toml", "--bands"],
        &["diagnose", "leaf-bridge.readings.toml"],
        &["next", "leaf-bridge.readings.toml", "--tree"],
        &["marking", "103"],
        &["curve", "leaf-bridge.toml", "R1", "1k..100k", "--watch", "LEFT", "--format", "csv"],
        &["report", "leaf-bridge.readings.toml"],
        &["lesson", "leaf-bridge.toml", "--format", "html"],
        &["fault-table", "leaf-bridge.toml"],
        &["faults"],
    ];
    for args in all {
        let mut child = ohmhound(&folder, args).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let told = complaint(&output);
        assert!(output.status.code().is_some_and(|code| code < 2), "{args:?}: {told}");
        // The first line alone is read, as by `head -1`.
        let mut child = ohmhound(&folder, args).spawn().unwrap();
        let mut first = [0];
        let _ = child.stdout.take().unwrap().read(&mut first).unwrap();
        let output = child.wait_with_output().unwrap();
        assert!(output.status.code().is_some_and(|code| code < 2), "{}", complaint(&output));
        let Ok(full) = fs::File::options().write(true).open("/dev/full") else { continue };
        let output = ohmhound(&folder, args).stdout(full).output().unwrap();
        let told = complaint(&output);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
        // With nowhere to complain to either, the status still says it.
        let full = || fs::File::options().write(true).open("/dev/full").unwrap();
        let status = ohmhound(&folder, args).stdout(full()).stderr(full()).status().unwrap();
        assert_eq!(status.code(), Some(2), "{args:?}");
    }
}

#[test]
fn a_session_whose_reader_is_gone_keeps_the_answer() {
    let folder = bench_folder("kept-session");
    let args = ["bench", "leaf-bridge.toml", "--log", "job.toml"];
    let mut child = ohmhound(&folder, &args).stdin(Stdio::piped()).spawn().unwrap();
    let mut out = child.stdout.take().unwrap();
    let mut read = Vec::new();
    while !words(&read).contains("? measure") {
        let mut some = [0; 4096];
        let n = out.read(&mut some).unwrap();
        assert!(n > 0, "{}", words(&read));
        read.extend(&some[..n]);
    }
    drop(out);
    let _ = child.stdin.take().unwrap().write_all(b"volts VREF 5.00\nvolts LEFT 2.50\n");
    let output = child.wait_with_output().unwrap();
    complaint(&output);
    assert!(output.status.code().is_some_and(|code| code <= 2), "{:?}", output.status);
    // It ends at the first word that nobody takes; what it accepted until then is kept whole.
    let log = Log::open(&folder.join("job.toml"), "leaf-bridge.toml").unwrap();
    assert!(read_readings(&log.source(), &bench::demo("leaf-bridge")).value.is_some());
}

#[test]
fn links_stay_links_and_what_they_name_is_written() {
    let folder = bench_folder("kept-links");
    fs::create_dir(folder.join("pages")).unwrap();
    // To a file, to nothing yet, and over another link to nothing yet.
    fs::write(folder.join("pages/old.html"), "old").unwrap();
    for (link, target) in [
        ("a.html", "pages/old.html"),
        ("b.html", "pages/new.html"),
        ("c.html", "d.html"),
        ("d.html", "pages/far.html"),
        ("l.toml", "m.toml"),
        ("m.toml", "pages/log.toml"),
    ] {
        symlink(target, folder.join(link)).unwrap();
    }
    for (link, target) in [("a.html", "old.html"), ("b.html", "new.html"), ("c.html", "far.html")] {
        let args = ["report", "leaf-bridge.readings.toml", "-o", link];
        let output = ohmhound(&folder, &args).output().unwrap();
        assert!(output.status.success(), "{}", complaint(&output));
        let page = fs::read_to_string(folder.join("pages").join(target)).unwrap();
        assert!(page.contains("</html>"), "{link}");
    }
    let output = ohmhound(&folder, &["bench", "leaf-bridge.toml", "--log", "l.toml"]);
    assert!({ output }.output().unwrap().status.success());
    let log = fs::read_to_string(folder.join("pages/log.toml")).unwrap();
    assert!(log.starts_with("circuit = "), "{log}");
    for link in ["a.html", "b.html", "c.html", "d.html", "l.toml", "m.toml"] {
        let kind = folder.join(link).symlink_metadata().unwrap().file_type();
        assert!(kind.is_symlink(), "{link} is no link any more");
    }
}

#[test]
fn links_in_a_circle_and_into_nowhere_are_told() {
    let folder = bench_folder("kept-circle");
    symlink("two.svg", folder.join("one.svg")).unwrap();
    symlink("one.svg", folder.join("two.svg")).unwrap();
    symlink("nowhere/x.svg", folder.join("lost.svg")).unwrap();
    for (name, why) in [("one.svg", "circle"), ("lost.svg", "no such file")] {
        for args in [
            ["solve", "leaf-bridge.toml", "--picture", name],
            ["report", "leaf-bridge.readings.toml", "-o", name],
            ["bench", "leaf-bridge.toml", "--log", name],
        ] {
            let output = ohmhound(&folder, &args).output().unwrap();
            let told = complaint(&output);
            assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
            assert!(told.contains(why) && told.contains(name), "{args:?}: {told}");
        }
    }
    assert!(folder.join("one.svg").symlink_metadata().unwrap().is_symlink());
    assert_eq!(contents(&folder).len(), 2);
}

#[test]
fn the_longest_names_are_written_and_longer_ones_refused() {
    let folder = folder("kept-long");
    let longest = format!("{}.html", "n".repeat(250));
    for name in [&longest, &format!("{}.html", "é".repeat(125))] {
        replace_file(&folder.join(name), b"whole").unwrap();
        replace_file(&folder.join(name), b"again").unwrap();
        assert_eq!(fs::read(folder.join(name)).unwrap(), b"again");
        let log = folder.join(name.replace(".html", ".toml"));
        drop(Log::open(&log, "c.toml").unwrap());
        assert!(Log::open(&log, "c.toml").is_ok());
    }
    assert!(contents(&folder).keys().all(|name| !name.starts_with('.')));
    let too_long = "n".repeat(256);
    assert_eq!(replace_file(&folder.join(too_long), b"x"), Err("file name too long".to_owned()));
    let far = "folder/".repeat(700);
    assert!(replace_file(&folder.join(far).join("x"), b"x").is_err());
    // Two long names that begin alike are two files, and two logs with a lock each.
    let pair = ["a", "b"].map(|end| folder.join(format!("{}{end}.toml", "p".repeat(230))));
    let logs = pair.each_ref().map(|path| Log::open(path, "c.toml"));
    assert!(logs.iter().all(Result::is_ok), "{logs:?}");
}

/// A device takes what is written to it, and stays one.
#[test]
fn devices_and_pipes_are_not_replaced() {
    let folder = bench_folder("kept-devices");
    let pipe = folder.join("pipe.svg");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    for name in ["pipe.svg", "/dev/null"] {
        let args = ["report", "leaf-bridge.readings.toml", "-o", name];
        let mut child = ohmhound(&folder, &args).spawn().unwrap();
        let until = Instant::now() + Duration::from_secs(60);
        while child.try_wait().unwrap().is_none() {
            assert!(Instant::now() < until, "it waits for somebody to read the pipe");
            std::thread::sleep(Duration::from_millis(5));
        }
        let output = child.wait_with_output().unwrap();
        let told = complaint(&output);
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(told.contains("it is no plain file"), "{told}");
    }
    assert!(Path::new("/dev/null").metadata().is_ok_and(|known| !known.is_file()));
}
