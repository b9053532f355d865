//! The program itself: what it prints, where, and how it ends.
//!
//! It runs in the folder of the demo circuits, or in a folder of its own, so that golden texts hold
//! no path of any machine. Without a terminal the output is 80 columns wide and has no colour.

use crate::program;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::program::{Run, circuits};

fn run_in(folder: &Path, args: &[&str]) -> Run {
    program::run_in(folder, args, "")
}

fn run(args: &[&str]) -> Run {
    run_in(&circuits(), args)
}

/// An empty folder that is gone after the test.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        Folder(program::folder(name))
    }

    fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.0).expect("the folder");
        let mut names: Vec<String> = entries
            .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// The output of a run that is expected to go well: nothing on stderr, no line too wide.
#[track_caller]
fn good(args: &[&str], status: i32) -> String {
    let run = run(args);
    assert_eq!((run.status, run.err.as_str()), (status, ""), "{args:?}\n{}", run.out);
    for line in run.out.lines() {
        assert!(line.chars().count() <= 80, "{} columns: {line}", line.chars().count());
        assert!(!line.ends_with(' ') || args.contains(&"--help"), "blanks at the end: {line:?}");
        assert!(!line.contains("NaN") && !line.contains("inf "), "{line}");
    }
    run.out
}

#[test]
fn help_of_every_command() {
    insta::assert_snapshot!("help", good(&["--help"], 0));
    for command in [
        "starter",
        "check",
        "solve",
        "diagnose",
        "next",
        "substitute",
        "marking",
        "report",
        "lesson",
        "faults",
        "kinds",
    ] {
        let long = good(&[command, "--help"], 0);
        assert_eq!(long, good(&["help", command], 0));
        insta::assert_snapshot!(format!("help_{command}"), long);
    }
}

#[test]
fn forms_of_faults() {
    let faults = good(&["faults"], 0);
    assert!(good(&["help", "faults"], 0).contains(faults.trim_end()));
    insta::assert_snapshot!("faults", faults);
}

#[test]
fn kinds_of_parts() {
    insta::assert_snapshot!("kinds", good(&["kinds"], 0));
    insta::assert_snapshot!("kinds_of_two", good(&["kinds", "fuse", "ldo"], 0));
    // The letters of a designator stand for their kind.
    assert_eq!(good(&["kinds", "R"], 0), good(&["kinds", "resistor"], 0));
    for kind in ohmhound::device::ALL {
        let text = good(&["kinds", kind.name()], 0);
        let keys = kind.parameters().iter().map(|row| row.name.split(" of pin ").next());
        assert!(keys.flatten().all(|key| text.contains(key)), "{text}");
    }
    let wrong = run(&["kinds", "resistr"]);
    assert_eq!((wrong.status, wrong.out.as_str()), (2, ""));
    assert!(wrong.err.contains("did you mean `resistor`?"), "{}", wrong.err);
}

#[test]
fn version() {
    let version = good(&["--version"], 0);
    // A build for release adds its commit.
    assert!(version.starts_with(&format!("ohmhound {}", env!("CARGO_PKG_VERSION"))), "{version}");
}

#[test]
fn checks_in_text() {
    insta::assert_snapshot!("check_gate_supply", good(&["check", "gate-supply.toml"], 0));
    let folder = Folder::new("cli_check");
    let bad = "[parts]\n\
        J1 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = \"24 V\", limit = \"2 A\" }\n\
        R1 = { value = \"99k31\", tolerance = \"1 %\", nets = [\"VIN\", \"A\"] }\n\
        R2 = { value = \"100\", nets = [\"VIN\", \"GND\"], rated = \"0.25 W\" }\n\
        R3 = { value = \"100\", nets = [\"B\", \"C\"] }\n\
        C1 = { value = \"1 µF\", rated = \"16 V\", nets = [\"VIN\", \"GND\"] }\n\
        [limits]\nVIN = { max = \"20 V\" }\n";
    std::fs::write(folder.0.join("bad.toml"), bad).expect("a file");
    let found = run_in(&folder.0, &["check", "bad.toml"]);
    assert_eq!((found.status, found.err.as_str()), (0, ""), "warnings alone are no failure");
    insta::assert_snapshot!("check_with_warnings", found.out);
    let clash = "[parts]\n\
        J1 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = 24, resistance = 0 }\n\
        J2 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = 12, resistance = 0 }\n\
        R1 = { value = 100, nets = [\"VIN\", \"GND\"] }\n";
    std::fs::write(folder.0.join("clash.toml"), clash).expect("a file");
    let found = run_in(&folder.0, &["check", "clash.toml"]);
    assert_eq!((found.status, found.err.as_str()), (1, ""), "an error is the answer no");
    insta::assert_snapshot!("check_with_an_error", found.out);
    let found = run_in(&folder.0, &["solve", "clash.toml"]);
    assert_eq!((found.status, found.out.as_str()), (3, ""), "no operating point");
    insta::assert_snapshot!("solve_without_a_point", found.err);
}

/// Values that are in no series, and prefix letters that may be slips. Preferred values say nothing
/// of a slip of decades, so 680 Ω for 680 kΩ and the like pass.
#[test]
fn odd_values_in_text() {
    let folder = Folder::new("cli_odd_values");
    let mut file = String::from(
        "[parts]\nJ1 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = \"1 V\" }\n",
    );
    let values = [
        ("99k31", "1 %"),
        ("5k32", "1 %"),
        ("4k775", "1 %"),
        ("1k237", "1 %"),
        ("46k", "5 %"),
        ("96k", "5 %"),
        ("52k3", "5 %"),
        ("9k2", "1 %"),
        ("680R", "1 %"),
        ("220R", "1 %"),
        ("100k", "5 %"),
        ("100m", "1 %"),
        ("100 mΩ", "1 %"),
        ("100M", "5 %"),
    ];
    for (at, (value, tolerance)) in values.iter().enumerate() {
        let part = format!("R{} = {{ value = \"{value}\", tolerance = \"{tolerance}\", ", at + 1);
        file.push_str(&format!("{part}nets = [\"VIN\", \"GND\"] }}\n"));
    }
    std::fs::write(folder.0.join("odd.toml"), file).expect("a file");
    let found = run_in(&folder.0, &["check", "odd.toml"]);
    assert_eq!((found.status, found.err.as_str()), (0, ""), "warnings alone are no failure");
    insta::assert_snapshot!("check_odd_values", found.out);
    // A note is for `check` alone.
    let solved = run_in(&folder.0, &["solve", "odd.toml"]);
    assert_eq!(solved.err.matches("[H508]").count(), 1, "{}", solved.err);
}

#[test]
fn markings_in_text() {
    let codes = ["6R8", "680", "01C", "R10", "0", "100", "1000", "10R", "R47F"];
    insta::assert_snapshot!("markings", good(&[&["marking"], &codes[..]].concat(), 0));
    let codes = ["104K", "470K", "4m7", "2n2J", "4p7C", "22S"];
    insta::assert_snapshot!("markings_tolerances", good(&[&["marking"], &codes[..]].concat(), 0));
}

#[test]
fn operating_points_in_text() {
    insta::assert_snapshot!("solve_gate_supply", good(&["solve", "gate-supply.toml"], 0));
    insta::assert_snapshot!(
        "solve_with_a_fault",
        good(&["solve", "pump-lamp.toml", "--fault", "C1 leaky 47"], 0)
    );
    insta::assert_snapshot!(
        "solve_with_two_faults",
        good(&["solve", "leaf-bridge.toml", "--fault", "R2 open", "--fault", "R3 shorted 0.3"], 0)
    );
    insta::assert_snapshot!(
        "solve_in_a_setup",
        good(&["solve", "sensor-battery.toml", "--setup", "night"], 0)
    );
    insta::assert_snapshot!(
        "solve_what_to_expect",
        good(&["solve", "packing-shed.toml", "--expect"], 0)
    );
    insta::assert_snapshot!(
        "solve_what_to_expect_with_a_fault",
        good(&["solve", "soil-probe.toml", "--expect", "--fault", "R3 drifted 1k8"], 0)
    );
}

#[test]
fn bands_in_text() {
    insta::assert_snapshot!(
        "solve_bands",
        good(&["solve", "gate-supply.toml", "--bands", "--draws", "100"], 0)
    );
    insta::assert_snapshot!(
        "solve_bands_with_a_fault",
        good(
            &[
                "solve",
                "leaf-bridge.toml",
                "--bands",
                "--watch",
                "LEFT",
                "--fault",
                "R1 drifted 11k"
            ],
            0
        )
    );
    // The same seed draws the same boards, another one others.
    let seeded = |seed: &str| {
        good(&["solve", "fence-loop.toml", "--bands", "--draws", "50", "--seed", seed], 0)
    };
    assert_eq!(seeded("1"), seeded("1"));
    assert_ne!(seeded("1"), seeded("2"));
}

#[test]
fn substitutes_in_text() {
    let board = "standby-supply.toml";
    insta::assert_snapshot!("substitute", good(&["substitute", board, "R3=51k"], 0));
    insta::assert_snapshot!(
        "substitute_several",
        good(&["substitute", board, "R3=47k", "R4=6k2", "U1.reference=0.6 V ± 2 %"], 0)
    );
    // Broken is the answer no.
    insta::assert_snapshot!("substitute_does_not_fit", good(&["substitute", board, "R3=22k"], 1));
    let target = ["--target", "5V_SB=5.0"];
    insta::assert_snapshot!(
        "substitute_series",
        good(&[&["substitute", board, "R3", "--series", "E24"], &target[..]].concat(), 0)
    );
    insta::assert_snapshot!(
        "substitute_both",
        good(&[&["substitute", board, "R3", "R4", "--series", "E24"], &target[..]].concat(), 0)
    );
    let folder = Folder::new("cli_substitute");
    std::fs::copy(circuits().join(board), folder.0.join(board)).expect("a copy");
    let drawer = "value,tolerance,rated,quantity,note\n\
        51k,1 %,0.25 W,10,row 2\n\
        1k3,1 %,0.25 W,4,row 2\n\
        110k,5 %,0.25 W,1,row 5\n\
        100k,1 %,0.25 W,0,used up\n\
        100n,10 %,50 V,30,row 7\n";
    std::fs::write(folder.0.join("drawer.csv"), drawer).expect("a file");
    let args = [&["substitute", board, "R3", "--stock", "drawer.csv"], &target[..]].concat();
    let found = run_in(&folder.0, &args);
    assert_eq!((found.status, found.err.as_str()), (0, ""));
    insta::assert_snapshot!("substitute_stock", found.out);
    // What there is does not bring it there: the nearest are shown, and it is said.
    let found = run(&["substitute", board, "R3", "--series", "E24", "--target", "5V_SB=30"]);
    assert_eq!(found.status, 1);
    insta::assert_snapshot!("substitute_not_met", format!("{}\n{}", found.out, found.err));
}

#[test]
fn diagnoses_in_text() {
    for name in ["gate-supply", "fence-loop", "pump-lamp", "sensor-battery"] {
        let file = format!("{name}.readings.toml");
        insta::assert_snapshot!(format!("diagnose_{name}"), good(&["diagnose", &file], 0));
    }
    insta::assert_snapshot!(
        "diagnose_typed_readings",
        good(&["diagnose", "soil-probe.toml", "--volts", "TAP_5=5.39", "--ohms", "R3=1.47k"], 0)
    );
    // A rail above its source: nothing on the list does that.
    insta::assert_snapshot!(
        "diagnose_nothing_fits",
        good(&["diagnose", "soil-probe.toml", "--volts", "V12=12.02", "--volts", "TAP_2=12.02"], 1)
    );
    insta::assert_snapshot!(
        "next_fence_loop",
        good(&["next", "fence-loop.readings.toml", "--most", "5"], 0)
    );
    insta::assert_snapshot!("next_nothing", good(&["next", "gate-supply.readings.toml"], 0));
}

#[test]
fn findings_about_readings_do_not_mix_with_the_answer() {
    let run = run(&["diagnose", "gate-supply.toml", "--volts", "EN=4"]);
    assert_eq!(run.status, 0);
    assert!(run.out.contains("EN"), "{}", run.out);
    assert!(!run.out.contains("few digits"), "{}", run.out);
    insta::assert_snapshot!("few_digits", run.err);
}

#[test]
fn starter_writes_once() {
    let folder = Folder::new("cli_starter");
    let run = run_in(&folder.0, &["starter", "divider.toml", "--pattern", "divider"]);
    let said = "wrote divider.toml: fill it in, then run `ohmhound check divider.toml`\n";
    assert_eq!((run.status, run.out.as_str(), run.err.as_str()), (0, said, ""));
    let before = std::fs::read(folder.0.join("divider.toml")).expect("the file");
    let run = run_in(&folder.0, &["starter", "divider.toml", "--pattern", "loop"]);
    assert_eq!((run.status, run.out.as_str()), (2, ""));
    insta::assert_snapshot!("starter_refuses_to_overwrite", run.err);
    assert_eq!(before, std::fs::read(folder.0.join("divider.toml")).expect("the file"));
    assert_eq!(folder.names(), ["divider.toml"]);
}

/// Every way of asking for what cannot be done: status 2, one message on stderr, nothing on stdout,
/// nothing written.
#[test]
fn bad_input() {
    let folder = Folder::new("cli_bad_input");
    for file in std::fs::read_dir(circuits()).expect("the demo circuits") {
        let file = file.expect("an entry");
        if file.path().is_file() {
            std::fs::copy(file.path(), folder.0.join(file.file_name())).expect("a copy");
        }
    }
    std::fs::write(folder.0.join("empty.toml"), "").expect("a file");
    std::fs::create_dir(folder.0.join("folder")).expect("a folder");
    let before = folder.names();
    let mut text = String::new();
    for args in [
        &[][..],
        &["diagnos"],
        &["check"],
        &["check", "gate-suply.toml"],
        &["check", "nothing-like-it.toml"],
        &["check", "empty.toml"],
        &["check", "folder"],
        &["check", "gate-supply.readings.toml"],
        &["check", "gate-supply.toml", "--format", "jsn"],
        &["solve", "gate-supply.readings.toml"],
        &["solve", "sensor-battery.toml", "--setup", "nigth"],
        &["solve", "gate-supply.toml", "--setup", "x"],
        &["solve", "gate-supply.toml", "--fault", "R9 open"],
        &["solve", "gate-supply.toml", "--fault", "R1 opne"],
        &["solve", "gate-supply.toml", "--fault", "R1"],
        &["solve", "gate-supply.toml", "--fault", "R1 drifted"],
        &["solve", "gate-supply.toml", "--fault", "R1 drifted 4,7k"],
        &["solve", "gate-supply.toml", "--fault", "EM leak 10"],
        &["solve", "gate-supply.toml", "--fault", "EN to EN bridge"],
        &["solve", "leaf-bridge.toml", "--fault", "RV1.wipe open"],
        &["diagnose", "gate-supply.toml"],
        &["diagnose", "missing.readings.toml"],
        &["diagnose", "empty.toml"],
        &["diagnose", "folder"],
        &["diagnose", "gate-supply.toml", "missing.csv"],
        &["diagnose", "gate-supply.toml", "gate-supply.toml"],
        &["diagnose", "gate-supply.toml", "--volts", "EN"],
        &["diagnose", "gate-supply.toml", "--volts", "EN="],
        &["diagnose", "gate-supply.toml", "--volts", "EM=2.0"],
        &["diagnose", "gate-supply.toml", "--volts", "EN=abc"],
        &["diagnose", "gate-supply.toml", "--volts", "EN=2,5"],
        &["diagnose", "gate-supply.toml", "--volts", "EN=2.50", "--setup", "powerd"],
        &["diagnose", "gate-supply.toml", "--volt", "EN=2.50"],
        &["diagnose", "gate-supply.toml", "--diode", "EN=0.5"],
        &["diagnose", "gate-supply.toml", "--amps", "EN=0.50"],
        &["next", "gate-supply.toml"],
        &["next", "fence-loop.readings.toml", "--most", "0"],
        &["solve", "gate-supply.toml", "--draws", "100"],
        &["solve", "gate-supply.toml", "--bands", "--draws", "1"],
        &["solve", "gate-supply.toml", "--bands", "--expect"],
        &["solve", "gate-supply.toml", "--bands", "--watch", "EM"],
        &["substitute"],
        &["substitute", "standby-supply.toml"],
        &["substitute", "standby-supply.toml", "R3"],
        &["substitute", "standby-supply.toml", "R3="],
        &["substitute", "standby-supply.toml", "R33=51k"],
        &["substitute", "standby-supply.toml", "r3=51k"],
        &["substitute", "standby-supply.toml", "R3=51 nF"],
        &["substitute", "standby-supply.toml", "R3=51,3k"],
        &["substitute", "standby-supply.toml", "R3=0"],
        &["substitute", "standby-supply.toml", "R3=-51k"],
        &["substitute", "standby-supply.toml", "R3.valu=51k"],
        &["substitute", "standby-supply.toml", "R3.tolerance=wide"],
        &["substitute", "standby-supply.toml", "U1.referense=0.6"],
        &["substitute", "standby-supply.toml", "R3=51k", "--watch", "5V_SBY"],
        &["substitute", "standby-supply.toml", "R3=51k", "--target", "5V_SB=5"],
        &["substitute", "standby-supply.toml", "R3", "--target", "5V_SB"],
        &["substitute", "standby-supply.toml", "R3", "--target", "5V=5"],
        &["substitute", "standby-supply.toml", "R3", "--target", "5V_SB=5 A"],
        &["substitute", "standby-supply.toml", "R3", "--series", "E25"],
        &["substitute", "standby-supply.toml", "R3", "--series", "E24", "--stock", "empty.toml"],
        &["substitute", "standby-supply.toml", "R3.tolerance", "--series", "E24"],
        &["substitute", "standby-supply.toml", "R3", "R4", "R5", "--series", "E24"],
        &["substitute", "standby-supply.toml", "R3", "C1", "--series", "E24"],
        &["substitute", "standby-supply.toml", "R3", "R3", "--series", "E24"],
        &["substitute", "standby-supply.toml", "R6", "--series", "E24"],
        &["substitute", "standby-supply.toml", "R3", "--stock", "empty.toml"],
        &["substitute", "standby-supply.toml", "R3", "--stock", "drawer.csv"],
        &["substitute", "standby-supply.toml", "R3", "--stock", "folder"],
        &["marking"],
        &["marking", ""],
        &["marking", "red"],
        &["marking", "103", "97C", "1O3"],
        &["marking", "103", "--format", "xml"],
        &["starter"],
        &["starter", "new.toml"],
        &["starter", "new.toml", "--pattern", "divder"],
        &["starter", "new.toml", "--pattern", "relay-diver"],
        &["starter", "new.toml", "--pattern", "nothing-like-it"],
        &["starter", "empty.toml", "--pattern", "divider"],
        &["starter", "folder", "--pattern", "divider"],
        &["starter", "missing/new.toml", "--pattern", "divider"],
        &["starter", "empty.toml/new.toml", "--pattern", "divider"],
    ] {
        let run = run_in(&folder.0, args);
        assert_eq!((run.status, run.out.as_str()), (2, ""), "{args:?}\n{}", run.err);
        assert!(!run.err.is_empty(), "{args:?}");
        if !args.is_empty() {
            let errors = run.err.lines().filter(|line| line.starts_with("error")).count();
            assert_eq!(errors, 1, "{args:?}\n{}", run.err);
            text.push_str(&format!("$ ohmhound {}\n{}\n", args.join(" "), run.err));
        }
        for inside in ["panicked", "src/", "Some(", "None", "os error", "NetId", "\u{1b}["] {
            assert!(!run.err.contains(inside), "{args:?} shows {inside:?}\n{}", run.err);
        }
    }
    assert_eq!(before, folder.names(), "something was written");
    insta::assert_snapshot!("bad_input", text);
}

#[test]
fn colour_only_when_it_is_asked_for() {
    let plain = run(&["diagnose", "fence-loop.readings.toml"]);
    assert!(!plain.out.contains('\u{1b}'));
    let coloured = run(&["--color", "always", "diagnose", "fence-loop.readings.toml"]);
    assert!(coloured.out.contains('\u{1b}'));
    let stripped = coloured.out.replace("\u{1b}[1m", "").replace("\u{1b}[0m", "");
    assert_eq!(stripped, plain.out);
}

/// A reader that has seen enough closes the pipe: no complaint, no panic.
#[cfg(unix)]
#[test]
fn a_closed_pipe_is_no_failure() {
    use std::io::Read;
    let mut child = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
        .args(["diagnose", "fence-loop.readings.toml"])
        .current_dir(circuits())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    drop(child.stdout.take());
    let mut said = String::new();
    child.stderr.take().expect("stderr").read_to_string(&mut said).expect("text");
    let status = child.wait().expect("the program ends");
    assert_eq!((status.code(), said.as_str()), (Some(0), ""));
}

#[test]
fn curves_in_text() {
    const BOARD: &str = "standby-supply.toml";
    let rows: [(&str, &[&str]); 3] = [
        ("curve_source", &["curve", BOARD, "J1", "0..24", "--points", "49"]),
        ("curve_fault", &["curve", BOARD, "EN leak", "1k..1M", "--watch", "EN"]),
        (
            "curve_hysteresis",
            &[
                "curve",
                "soil-amplifier.toml",
                "temperature",
                "-20..40",
                "--watch",
                "TEMP",
                "--watch",
                "FROST_N",
            ],
        ),
    ];
    for (name, args) in rows {
        insta::assert_snapshot!(name, good(args, 0));
    }
    let csv = run(&["curve", BOARD, "R3", "10k..100k", "--points", "4", "--format", "csv"]);
    insta::assert_snapshot!("curve_csv", csv.out);
    let slips: [&[&str]; 5] = [
        &["curve", BOARD, "R3", "10k..10k"],
        &["curve", BOARD, "J1", "0..24", "--log"],
        &["curve", BOARD, "J1", "24..0"],
        &["curve", BOARD, "R1 open", "1..2"],
        &["curve", BOARD, "R3", "-5..5"],
    ];
    let mut text = String::new();
    for args in slips {
        let run = run(args);
        assert_eq!((run.status, run.out.as_str()), (2, ""), "{args:?}");
        text += &format!("$ {}\n{}\n", args.join(" "), run.err);
    }
    insta::assert_snapshot!("curve_slips", text);
    let svg = run(&["curve", BOARD, "J1", "0..24", "--format", "svg"]);
    assert_eq!((svg.status, svg.err.as_str()), (0, ""));
    assert!(svg.out.starts_with("<svg") && svg.out.trim_end().ends_with("</svg>"));
    for word in ["<title>5V_SB, 3V3 over J1 volts", "<desc>", "role=\"img\"", "J1 volts, V"] {
        assert!(svg.out.contains(word), "{word}");
    }
}

#[test]
fn lessons_in_text() {
    const DIVIDER: &str = "lessons/meter-divider.toml";
    insta::assert_snapshot!("lesson", good(&["lesson", DIVIDER, "--meter", "PROBE=10M"], 0));
    insta::assert_snapshot!("lesson_ask", good(&["lesson", DIVIDER, "--ask"], 0));
    insta::assert_snapshot!("lesson_states", good(&["lesson", "lessons/valve-switch.toml"], 0));
    let markdown = run(&["lesson", DIVIDER, "--format", "markdown"]);
    assert!(markdown.out.starts_with("# Soil probe") && markdown.status == 0);
    let page = run(&["lesson", DIVIDER, "--format", "html"]);
    assert!(page.out.starts_with("<!DOCTYPE html>") && page.status == 0);
    let again = run(&["lesson", DIVIDER, "--format", "html"]);
    assert_eq!(page.out, again.out);
}

/// What a lesson cannot be given for: one message, and what to do.
#[test]
fn lessons_that_cannot_be_given() {
    let folder = Folder::new("cli_lesson");
    let shorted = "[parts]\n\
        J1 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = \"5 V\", resistance = 0 }\n\
        J2 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = \"9 V\", resistance = 0 }\n\
        R1 = { value = \"1k\", nets = [\"VIN\", \"GND\"] }\n";
    std::fs::write(folder.0.join("shorted.toml"), shorted).expect("a file");
    std::fs::write(folder.0.join("empty.toml"), "").expect("a file");
    let divider = circuits().join("lessons/meter-divider.toml");
    std::fs::copy(divider, folder.0.join("divider.toml")).expect("a copy");
    let mut text = String::new();
    for (args, status) in [
        (&["lesson"][..], 2),
        (&["lesson", "empty.toml"], 2),
        (&["lesson", "shorted.toml"], 3),
        (&["lesson", "divider.toml", "--meter", "PROBE"], 2),
        (&["lesson", "divider.toml", "--meter", "PROB=10M"], 2),
        (&["lesson", "divider.toml", "--meter", "GND=10M"], 2),
        (&["lesson", "divider.toml", "--meter", "PROBE=0"], 2),
        (&["lesson", "divider.toml", "--meter", "PROBE=ten"], 2),
        (&["lesson", "divider.toml", "--setup", "poweredd"], 2),
        (&["lesson", "divider.toml", "--fault", "R9 open"], 2),
        (&["lesson", "divider.toml", "--format", "markdwn"], 2),
    ] {
        let run = run_in(&folder.0, args);
        assert_eq!((run.status, run.out.as_str()), (status, ""), "{args:?}\n{}", run.err);
        text += &format!("$ ohmhound {}\n{}\n", args.join(" "), run.err);
    }
    insta::assert_snapshot!("lesson_refused", text);
}
