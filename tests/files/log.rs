//! The log of a session: what is accepted is on disk, and what a person wrote stays as it is.

#![allow(clippy::print_stdout, reason = "a child tells its parent what was accepted")]

use crate::bench;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use ohmhound::circuit::{Circuit, Done, Quantity, Readings};
use ohmhound::file::{Entry, Log, read_readings};
use ohmhound::finding::Code;
use proptest::prelude::*;

/// Set for a child of this test: the log to write to, again and again.
const CHILD: &str = "LOG_OF_THE_CHILD";

/// A folder of its own, empty.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("log").join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn read(log: &Log, circuit: &Circuit) -> Readings {
    let read = read_readings(&log.source(), circuit);
    assert!(read.findings.iter().all(|finding| !finding.is_error()), "{:?}", read.findings);
    read.value.unwrap()
}

fn volts<'a>(place: &'a str, value: &'a str) -> Entry<'a> {
    let (after, setup, quantity) = (false, "powered", Quantity::Volts);
    Entry::Reading { after, setup, quantity, place, value }
}

#[test]
fn what_is_added_is_read_back() {
    let circuit = bench::demo("standby-supply");
    let mut log = Log::open(&folder("round").join("a.toml"), "standby-supply.toml").unwrap();
    let part = circuit.part("R1");
    let done = Done { action: "replaced".into(), part, with: Some("47k 1 %".into()) };
    let entries = [
        volts("EN", "0.020"),
        volts("EN", "0.03"),
        volts("EN", "< 0.05"),
        volts("U1.feedback", "0.81"),
        volts("VIN_F to EN", "23.9 V"),
        Entry::Reading {
            after: false,
            setup: "unpowered",
            quantity: Quantity::Ohms,
            place: "EN",
            value: "10k2",
        },
        Entry::Reading {
            after: true,
            setup: "unpowered",
            quantity: Quantity::Ohms,
            place: "EN",
            value: "OL",
        },
        Entry::Done(&done, Some("R1")),
        Entry::Seen { part: "R1", look: "burnt" },
        Entry::Job { key: "symptom", text: "gate \"stuck\"" },
    ];
    for entry in &entries {
        log.add(entry).unwrap();
    }
    let found = read(&log, &circuit);
    let places: Vec<&str> = found.readings.iter().map(|one| one.place_text.as_str()).collect();
    assert_eq!(places, ["EN", "EN", "EN", "U1.feedback", "VIN_F to EN", "EN"]);
    assert_eq!(found.readings[0].number(), Some(0.02));
    // The last digit as written is what counts come from.
    let ohmhound::circuit::Observed::Number { count, .. } = found.readings[0].observed else {
        panic!("no number")
    };
    assert!((count - 0.001).abs() < 1e-12, "{count}");
    assert_eq!(found.after.len(), 1);
    assert_eq!(found.done, [done]);
    assert_eq!(found.seen.len(), 1);
    assert_eq!(found.job.entries[0].1, "gate \"stuck\"");
    assert_eq!(found.circuit.as_deref(), Some("standby-supply.toml"));
}

#[test]
fn a_handwritten_log_keeps_its_words_and_undo_its_bytes() {
    let circuit = bench::demo("standby-supply");
    let path = folder("hand").join("job.toml");
    let text = "# For the orchard.\ncircuit = \"standby-supply.toml\" # here\n\n[powered.volts]\n\
                EN  =  0.02   # after a minute\n'5V_SB' = 0.1\n\n[unpowered]\nohms = { EN = 8300 }\n\
                # the end\n";
    std::fs::write(&path, text).unwrap();
    let mut log = Log::open(&path, "standby-supply.toml").unwrap();
    log.add(&volts("FB", "0.012")).unwrap();
    let ohms = Entry::Reading {
        after: false,
        setup: "unpowered",
        quantity: Quantity::Ohms,
        place: "FB",
        value: "8k4",
    };
    log.add(&ohms).unwrap();
    for line in text.lines().filter(|line| !line.contains("ohms")) {
        assert!(log.text().contains(line), "{line:?} is gone from\n{}", log.text());
    }
    assert_eq!(read(&log, &circuit).readings.len(), 5);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), log.text());
    assert!(log.undo().unwrap() && log.undo().unwrap() && !log.undo().unwrap());
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}

#[test]
fn one_log_has_one_session() {
    let path = folder("two").join("a.toml");
    let first = Log::open(&path, "c.toml").unwrap();
    let second = Log::open(&path, "c.toml").unwrap_err();
    assert_eq!(second.code, Code::LogBusy);
    assert!(second.message.contains("a.toml"), "{}", second.message);
    drop(first);
    Log::open(&path, "c.toml").unwrap();
}

#[test]
fn what_somebody_else_wrote_is_not_overwritten() {
    let path = folder("changed").join("a.toml");
    let mut log = Log::open(&path, "c.toml").unwrap();
    std::fs::write(&path, "circuit = \"c.toml\"\n# by hand, meanwhile\n").unwrap();
    assert_eq!(log.add(&volts("EN", "1")).unwrap_err().code, Code::LogChanged);
    assert!(std::fs::read_to_string(&path).unwrap().contains("by hand"));
}

#[test]
fn a_log_that_cannot_be_written_says_so() {
    let folder = folder("unwritable");
    assert_eq!(Log::open(&folder, "c.toml").unwrap_err().code, Code::LogUnwritten);
    let below_a_file = folder.join("a.toml");
    std::fs::write(&below_a_file, "").unwrap();
    let finding = Log::open(&below_a_file.join("b.toml"), "c.toml").unwrap_err();
    assert_eq!(finding.code, Code::LogUnwritten, "{finding:?}");
    // A folder that goes away while the session runs: what was accepted stays accepted.
    let inside = folder.join("inside");
    std::fs::create_dir(&inside).unwrap();
    let mut log = Log::open(&inside.join("c.toml"), "c.toml").unwrap();
    log.add(&volts("EN", "1")).unwrap();
    std::fs::remove_dir_all(&inside).unwrap();
    let before = log.text().to_owned();
    assert!(log.add(&volts("EN", "2")).is_err());
    assert_eq!(log.text(), before);
    // Not a readings file at all: the place of the slip is shown.
    let slip = folder.join("slip.toml");
    std::fs::write(&slip, "circuit = \"c.toml\"\n[powered.volts\n").unwrap();
    let finding = Log::open(&slip, "c.toml").unwrap_err();
    assert_eq!(finding.labels[0].source.line_column(finding.labels[0].range.start).0, 2);
}

#[test]
fn what_is_no_log_of_this_circuit_stays_as_it_is() {
    let folder = folder("wrong");
    for (text, words) in [
        ("[parts]\nR1 = { value = 1 }\n", "found the circuit file"),
        ("circuit = \"other.toml\"\n", "belongs to `other.toml`"),
    ] {
        let path = folder.join("a.toml");
        std::fs::write(&path, text).unwrap();
        let finding = Log::open(&path, "c.toml").unwrap_err();
        assert!(finding.message.contains(words), "{}", finding.message);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    }
    // The reader takes no repeats of a value with its own meter: nothing is written.
    let path = folder.join("meter.toml");
    let text =
        "circuit = \"c.toml\"\n[powered.volts]\nEN = { value = 9, meter = { input = \"1M\" } }\n";
    std::fs::write(&path, text).unwrap();
    let mut log = Log::open(&path, "c.toml").unwrap();
    assert_eq!(log.add(&volts("EN", "9.1")).unwrap_err().code, Code::LogUnwritten);
    assert!(log.correct(("powered", Quantity::Volts), "EN", "9.1").is_err());
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}

#[test]
fn a_repeat_keeps_the_comment_and_a_log_its_line_ends() {
    let path = folder("ends").join("a.toml");
    let text = "\u{feff}circuit = \"c.toml\"\r\n\r\n[powered.volts]\r\nEN = 0.02   # cold\r\n";
    std::fs::write(&path, text).unwrap();
    let mut log = Log::open(&path, "c.toml").unwrap();
    log.add(&volts("EN", "0.03")).unwrap();
    let found = std::fs::read_to_string(&path).unwrap();
    let wanted = text.replace("0.02", "[0.02, 0.03]");
    assert_eq!(found, wanted);
    assert!(log.undo().unwrap());
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}

#[cfg(unix)]
#[test]
fn devices_and_protected_files_are_no_logs() {
    let finding = Log::open(Path::new("/dev/null"), "c.toml").unwrap_err();
    assert!(finding.message.contains("no plain file"), "{}", finding.message);
    let path = folder("protected").join("a.toml");
    std::fs::write(&path, "circuit = \"c.toml\"\n").unwrap();
    let mut rights = std::fs::metadata(&path).unwrap().permissions();
    rights.set_readonly(true);
    std::fs::set_permissions(&path, rights).unwrap();
    let finding = Log::open(&path, "c.toml").unwrap_err();
    assert!(finding.message.contains("write-protected"), "{}", finding.message);
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link() {
    let folder = folder("link");
    let (file, link) = (folder.join("a.toml"), folder.join("b.toml"));
    std::fs::write(&file, "circuit = \"c.toml\"\n").unwrap();
    std::os::unix::fs::symlink(&file, &link).unwrap();
    Log::open(&link, "c.toml").unwrap().add(&volts("EN", "1")).unwrap();
    assert!(link.symlink_metadata().unwrap().file_type().is_symlink());
    assert!(std::fs::read_to_string(&file).unwrap().contains("EN = 1"));
    // So does one to a log that is not there yet.
    std::fs::remove_file(&file).unwrap();
    Log::open(&link, "c.toml").unwrap();
    assert!(link.symlink_metadata().unwrap().file_type().is_symlink() && file.exists());
}

/// Not a test of its own: what the killed children run.
#[test]
fn child() {
    let Some(path) = std::env::var_os(CHILD) else { return };
    let mut log = Log::open(Path::new(&path), "standby-supply.toml").unwrap();
    for number in 0.. {
        log.add(&volts("EN", &number.to_string())).unwrap();
        println!("accepted {number}");
    }
}

#[test]
fn killed_at_any_moment_nothing_accepted_is_lost() {
    let circuit = bench::demo("standby-supply");
    let folder = folder("killed");
    for round in 0..60_u64 {
        let path = folder.join(format!("{round}.toml"));
        // A file that an earlier kill left half written is in nobody's way.
        std::fs::write(folder.join(format!(".{round}.toml.new")), "circuit = \"ga").unwrap();
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "log::child", "--nocapture"])
            .env(CHILD, &path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        // Once it is at work, at a moment that differs from round to round.
        let first = lines.find(|line| line.as_ref().is_ok_and(|line| line.contains("accepted")));
        assert!(first.is_some(), "the child accepted nothing");
        std::thread::sleep(Duration::from_micros(137 * round));
        child.kill().unwrap();
        child.wait().unwrap();
        let accepted = lines
            .map_while(Result::ok)
            .filter_map(|line| line.split("accepted ").nth(1)?.parse::<usize>().ok())
            .last()
            .unwrap_or(0);
        let log = Log::open(&path, "standby-supply.toml").unwrap();
        let read = read(&log, &circuit);
        let count = read.readings.len();
        // The last one may be on disk without having been told.
        assert!(count == accepted + 1 || count == accepted + 2, "{count} of {accepted} + 1");
        for (number, reading) in read.readings.iter().enumerate() {
            assert_eq!(reading.number(), Some(number as f64));
        }
    }
}

proptest! {
    /// Any places and values, in any order: the reader sees them all again, in order at each place.
    #[test]
    fn any_answers_are_read_back(
        answers in proptest::collection::vec((0..4_usize, 0..6_usize, any::<bool>()), 1..12),
    ) {
        let circuit = bench::demo("standby-supply");
        let places = ["EN", "5V_SB", "U1.enable", "VIN_F to EN"];
        let values = ["0.02", "OL", "3.1..3.4", "< 0.05", "12", "-0.004 V"];
        let mut log = Log::open(&folder("any").join("a.toml"), "standby-supply.toml").unwrap();
        for &(place, value, after) in &answers {
            let (setup, quantity) = ("powered", Quantity::Volts);
            let (place, value) = (places[place], values[value]);
            log.add(&Entry::Reading { after, setup, quantity, place, value }).unwrap();
        }
        let found = read(&log, &circuit);
        let wanted = |after: bool| answers.iter().filter(|answer| answer.2 == after).count();
        prop_assert_eq!(found.readings.len(), wanted(false));
        prop_assert_eq!(found.after.len(), wanted(true));
        for _ in 0..answers.len() {
            prop_assert!(log.undo().unwrap());
        }
        prop_assert_eq!(log.text(), "circuit = \"standby-supply.toml\"\n");
    }
}
