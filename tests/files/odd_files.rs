//! Files that are read and are not what they seem: folders, pipes and devices, other encodings and line
//! ends, empty ones, names that no text can hold. Each gets its answer or one clear message.
#![cfg(unix)]

use std::ffi::{OsStr, OsString};
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::mpsc::channel;
use std::time::Duration;

use crate::program::folder;

const CIRCUIT: &str = "title = \"Orchard pump, sense divider\"\n\n[parts]\n\
    BT1 = { volts = 9, nets = [\"IN\", \"GND\"] }\n\
    R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
    R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }\n";
const READINGS: &str = "[powered.volts]\nOUT = 0.02\n";
const CSV: &str = "setup,quantity,place,value\npowered,volts,OUT,0.02\n";
const STOCK: &str = "[[stock]]\nvalue = \"9k1\"\n";
const STOCK_CSV: &str = "value,note\n9k1,drawer\n";
const SHELF: &str = "[types.ten]\nkind = \"resistor\"\nvalue = \"10k\"\n";

/// One kind of file that is read: its usual name, its text, and the command that reads it from `at`.
struct Kind {
    name: &'static str,
    text: &'static str,
    /// Whether one without anything in it is in order.
    may_be_empty: bool,
}

const KINDS: [Kind; 6] = [
    Kind { name: "circuit.toml", text: CIRCUIT, may_be_empty: false },
    Kind { name: "readings.toml", text: READINGS, may_be_empty: false },
    Kind { name: "readings.csv", text: CSV, may_be_empty: false },
    Kind { name: "drawer.toml", text: STOCK, may_be_empty: false },
    Kind { name: "drawer.csv", text: STOCK_CSV, may_be_empty: false },
    Kind { name: "shelf.toml", text: SHELF, may_be_empty: true },
];

impl Kind {
    fn is_csv(&self) -> bool {
        self.name.ends_with(".csv")
    }

    /// A folder in which everything is in order but what stands under the name of this kind.
    fn folder(&self, test: &str) -> PathBuf {
        let folder = folder(&format!("odd-{test}-{}", self.name));
        for kind in &KINDS {
            fs::write(folder.join(kind.name), kind.text).unwrap();
        }
        let shelved = format!("shelf = [\"shelf.toml\"]\n{CIRCUIT}");
        fs::write(folder.join("shelved.toml"), shelved).unwrap();
        fs::remove_file(folder.join(self.name)).unwrap();
        folder
    }

    fn command(&self, folder: &Path, at: &OsStr) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
        command.current_dir(folder).env_remove("CLICOLOR_FORCE").env_remove("COLUMNS");
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        match self.name {
            "circuit.toml" => command.arg("solve").arg(at),
            "shelf.toml" => command.args(["solve", "shelved.toml"]),
            name if name.starts_with("readings") => {
                command.args(["diagnose", "circuit.toml"]).arg(at)
            }
            _ => command
                .args(["substitute", "circuit.toml", "R2", "--target", "OUT=4.5"])
                .arg("--stock")
                .arg(at),
        };
        command
    }

    fn run(&self, folder: &Path) -> Output {
        ended(self.command(folder, OsStr::new(self.name)))
    }
}

/// The program's end, which comes soon.
fn ended(mut command: Command) -> Output {
    let child = command.spawn().unwrap();
    let (tell, told) = channel();
    std::thread::spawn(move || tell.send(child.wait_with_output()));
    match told.recv_timeout(Duration::from_secs(60)) {
        Ok(output) => output.unwrap(),
        Err(_) => panic!("{command:?} hangs"),
    }
}

#[track_caller]
fn told(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    assert!(!text.contains("panicked"), "{text}");
    let control = |c: char| c.is_control() && c != '\n';
    assert!(!text.contains(control), "{text:?}");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn good(output: &Output) -> String {
    let complaint = told(output);
    assert!(output.status.code().is_some_and(|code| code < 2), "{complaint}");
    String::from_utf8(output.stdout.clone()).unwrap()
}

#[track_caller]
fn refused(output: &Output, words: &str) {
    let complaint = told(output);
    assert_eq!(output.status.code(), Some(2), "{complaint}");
    assert!(complaint.contains(words), "no `{words}` in: {complaint}");
    assert_eq!(complaint.matches("error").count(), 1, "{complaint}");
}

/// The answer to a file in order, to hold others against.
fn usual(kind: &Kind) -> String {
    let folder = kind.folder("usual");
    fs::write(folder.join(kind.name), kind.text).unwrap();
    good(&kind.run(&folder))
}

#[test]
fn line_ends_byte_order_marks_and_white_space_change_nothing() {
    for kind in &KINDS {
        let wanted = usual(kind);
        let crlf = kind.text.replace('\n', "\r\n");
        let (first, rest) = kind.text.split_once('\n').unwrap();
        let texts = [
            crlf.clone(),
            format!("\u{feff}{}", kind.text),
            format!("\u{feff}{crlf}"),
            kind.text.trim_end().to_owned(),
            format!("{first}\n\n \t \n{rest}\n\n\t\n"),
            if kind.is_csv() {
                kind.text.replace(',', "\t,\t ")
            } else {
                kind.text.replace(" = ", "\t=\t")
            },
        ];
        for text in texts {
            let folder = kind.folder("same");
            fs::write(folder.join(kind.name), &text).unwrap();
            assert_eq!(good(&kind.run(&folder)), wanted, "{text:?}");
        }
    }
}

#[test]
fn other_encodings_and_bytes_that_no_text_has_are_refused() {
    let utf16 = |mark: &[u8], bytes: fn(u16) -> [u8; 2], text: &str| -> Vec<u8> {
        mark.iter().copied().chain(text.encode_utf16().flat_map(bytes)).collect()
    };
    for kind in &KINDS {
        let latin: Vec<u8> = [kind.text.as_bytes(), b"# 5 \xb5A\n"].concat();
        let at = kind.text.len() + 5;
        let texts = [
            (
                utf16(b"\xff\xfe", u16::to_le_bytes, kind.text),
                "UTF-16: save it as UTF-8".to_owned(),
            ),
            (
                utf16(b"\xfe\xff", u16::to_be_bytes, kind.text),
                "UTF-16: save it as UTF-8".to_owned(),
            ),
            (latin, format!("it is not UTF-8 text; byte {at} is 0xb5")),
            (vec![b' '; (8 << 20) + 1], "is larger than 8 MiB".to_owned()),
        ];
        for (bytes, why) in texts {
            let folder = kind.folder("encoding");
            fs::write(folder.join(kind.name), bytes).unwrap();
            let output = kind.run(&folder);
            refused(&output, &why);
            assert!(told(&output).contains(kind.name), "{}", told(&output));
        }
        // UTF-16 without its mark is UTF-8 with a NUL after each letter.
        for bytes in [utf16(b"", u16::to_le_bytes, kind.text), vec![0; 1000]] {
            let folder = kind.folder("nul");
            fs::write(folder.join(kind.name), bytes).unwrap();
            let output = kind.run(&folder);
            assert_eq!(output.status.code(), Some(2), "{}", told(&output));
            let place = format!("{}:1:", kind.name);
            assert!(told(&output).contains(&place), "{}", told(&output));
        }
    }
}

#[test]
fn empty_files_and_files_with_nothing_but_comments_say_what_is_missing() {
    let missing = |kind: &Kind| match kind.name {
        "circuit.toml" => "the circuit has no `[parts]`",
        "readings.csv" => "the readings are empty",
        "drawer.csv" => "is empty",
        "drawer.toml" => "stock",
        _ => "there are no readings",
    };
    for kind in &KINDS {
        let only_comments: &[&str] = if kind.is_csv() {
            &["", "\n", " \r\n\t\n"]
        } else {
            &["", "\n", "# later\n\n  # more\r\n", "#"]
        };
        for text in only_comments {
            let folder = kind.folder("empty");
            fs::write(folder.join(kind.name), text).unwrap();
            let output = kind.run(&folder);
            match kind.may_be_empty {
                true => drop(good(&output)),
                false => refused(&output, missing(kind)),
            }
        }
    }
}

#[test]
fn places_are_right_behind_tabs_wide_letters_and_carriage_returns() {
    let rows = [
        ("circuit.toml", CIRCUIT.replace("R2 = { value", "\tR2\t=\t{ valu"), "circuit.toml:6:9"),
        (
            "circuit.toml",
            CIRCUIT.replace(
                "R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"]",
                "R2 = { nets = [\"漢\", \"GND\"], valu = 1",
            ),
            "circuit.toml:6:29",
        ),
        ("readings.toml", READINGS.replace("OUT", "\t\tOUR"), "readings.toml:2:3"),
        ("readings.csv", CSV.replace("OUT", "\tOUR"), "readings.csv:2:16"),
        ("drawer.csv", STOCK_CSV.replace("9k1", "\t9k1,5"), "drawer.csv:2:"),
    ];
    for (name, text, place) in rows {
        let kind = KINDS.iter().find(|kind| kind.name == name).unwrap();
        for text in [text.clone(), text.replace('\n', "\r\n"), format!("\u{feff}{text}")] {
            let folder = kind.folder("places");
            fs::write(folder.join(name), &text).unwrap();
            let output = kind.run(&folder);
            assert_eq!(output.status.code(), Some(2));
            let out = String::from_utf8_lossy(&output.stderr).replace('\t', " ");
            assert!(out.contains(place), "no {place} for {text:?} in\n{out}");
        }
    }
}

#[test]
fn folders_devices_and_lost_links_are_told() {
    for kind in &KINDS {
        let folder = kind.folder("device");
        let path = folder.join(kind.name);
        fs::create_dir(&path).unwrap();
        refused(&kind.run(&folder), "it is a folder");
        fs::remove_dir(&path).unwrap();
        refused(&kind.run(&folder), "there is no such file");
        for (target, why) in [
            ("nothing.toml", "there is no such file"),
            (kind.name, "cannot read"),
            ("/dev/zero", "is larger than 8 MiB"),
        ] {
            symlink(target, &path).unwrap();
            refused(&kind.run(&folder), why);
            fs::remove_file(&path).unwrap();
        }
        // A device without anything in it is an empty file.
        symlink("/dev/null", &path).unwrap();
        let output = kind.run(&folder);
        assert_eq!(output.status.code() == Some(2), !kind.may_be_empty, "{}", told(&output));
    }
}

/// A pipe gives its text once, in order or not: `ohmhound solve <(make-circuit)`.
#[test]
fn pipes_are_read_once() {
    for kind in &KINDS {
        let wanted = usual(kind);
        for (text, is_good) in [(kind.text, true), ("[parts\n", false)] {
            let folder = kind.folder("pipe");
            let pipe = folder.join(kind.name);
            assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
            let text = text.to_owned();
            let writer = std::thread::spawn(move || fs::write(pipe, text));
            let output = kind.run(&folder);
            assert!(writer.join().unwrap().is_ok());
            match is_good {
                true => assert_eq!(good(&output), wanted),
                false => assert_eq!(output.status.code(), Some(2), "{}", told(&output)),
            }
        }
    }
}

/// A readings file that names its circuit, as the one argument, is read once too.
#[test]
fn a_pipe_alone_may_name_its_circuit() {
    let kind = &KINDS[1];
    for (text, words) in [
        (format!("circuit = \"circuit.toml\"\n{READINGS}"), "R1 open"),
        (CIRCUIT.to_owned(), "there are no readings"),
    ] {
        let folder = kind.folder("pipe-alone");
        let pipe = folder.join("job.toml");
        assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let writer = std::thread::spawn(move || fs::write(pipe, text));
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
        command.args(["diagnose", "job.toml"]).current_dir(&folder);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let output = ended(command);
        assert!(writer.join().unwrap().is_ok());
        let all = String::from_utf8_lossy(&output.stdout).into_owned() + &told(&output);
        assert!(all.contains(words), "{all}");
    }
}

#[test]
fn names_that_are_no_text_are_read_and_shown_as_far_as_they_can_be() {
    for kind in &KINDS[..5] {
        let end = if kind.is_csv() { ".csv" } else { ".toml" };
        for odd in [
            &b"fruit\xff\xfetree"[..],
            b"a b",
            b"-dash",
            "Äpfel漢".as_bytes(),
            b"new\nline",
            b"esc\x1b[31m",
        ] {
            let folder = kind.folder("names");
            let name = OsString::from(OsStr::from_bytes(&[b"./", odd, end.as_bytes()].concat()));
            fs::write(folder.join(&name), kind.text).unwrap();
            good(&ended(kind.command(&folder, &name)));
            fs::write(folder.join(&name), "[parts").unwrap();
            let output = ended(kind.command(&folder, &name));
            assert_eq!(output.status.code(), Some(2));
            assert!(told(&output).len() < 1_000, "{}", told(&output));
        }
    }
}

#[test]
fn names_longer_than_any_file_has_are_refused_in_few_words() {
    for kind in &KINDS[..5] {
        let folder = kind.folder("long");
        let long =
            [format!("{}.toml", "n".repeat(300)), format!("{}x.toml", "folder/".repeat(700))];
        for name in long {
            let output = ended(kind.command(&folder, OsStr::new(&name)));
            refused(&output, "cannot read");
            assert!(told(&output).len() < 1_000, "{} bytes of complaint", told(&output).len());
        }
    }
    // A shelf is named in the circuit.
    let shelf = &KINDS[5];
    let folder = shelf.folder("long");
    let text = format!("shelf = [\"{}\"]\n{CIRCUIT}", "n".repeat(5_000));
    fs::write(folder.join("shelved.toml"), text).unwrap();
    let output = shelf.run(&folder);
    refused(&output, "cannot read");
    assert!(told(&output).len() < 1_500, "{} bytes of complaint", told(&output).len());
}

/// A board that is read and solved may be too large to be diagnosed: that is said at once.
#[test]
fn boards_too_large_to_diagnose_are_refused_before_anything_is_computed() {
    let folder = KINDS[0].folder("large");
    let parts: String = (0..1_600)
        .map(|n| format!("R{n} = {{ value = 100, nets = [\"N{n}\", \"N{}\"] }}\n", n + 1))
        .collect();
    let source = "J1 = { kind = \"supply\", volts = 5, nets = [\"N0\", \"GND\"] }\n\
                  R9999 = { value = 100, nets = [\"N1600\", \"GND\"] }\n";
    fs::write(folder.join("large.toml"), format!("[parts]\n{source}{parts}")).unwrap();
    let run = |args: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
        command.current_dir(&folder).args(args);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        ended(command)
    };
    good(&run(&["solve", "large.toml"]));
    for args in [
        &["diagnose", "large.toml", "--volts", "N5=1.00"][..],
        &["next", "large.toml", "--volts", "N5=1.00"],
        &["bench", "large.toml", "--log", "job.toml"],
    ] {
        refused(&run(args), "1602 parts; more than 1500 are solved, but not diagnosed");
    }
    assert!(!folder.join("job.toml").exists());
}

#[test]
fn a_log_cannot_name_a_circuit_whose_name_is_no_text() {
    let folder = KINDS[1].folder("log-names");
    let name = OsStr::from_bytes(b"fruit\xff.toml");
    fs::write(folder.join(name), CIRCUIT).unwrap();
    for session in ["bench", "quiz"] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
        command.current_dir(&folder).arg(session).arg(name).args(["--log", "job.toml"]);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        refused(&ended(command), "expected a name in UTF-8");
        assert!(!folder.join("job.toml").exists());
    }
}
