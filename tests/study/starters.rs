//! The patterns of `starter`: each is written, is in order as it stands, and does what its comments
//! say.

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

/// A folder with every pattern in a file of its name, gone after the test.
struct Folder {
    path: PathBuf,
    names: Vec<String>,
}

impl Folder {
    fn new(name: &str) -> Folder {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).expect("a folder for the test");
        let mut folder = Folder { path, names: Vec::new() };
        let list = folder.run(&["starter", "--list"], 0);
        let names = list.lines().map(|line| line.split(' ').next().expect("a name").to_owned());
        folder.names = names.collect();
        for name in &folder.names {
            folder.run(&["starter", &format!("{name}.toml"), "--pattern", name], 0);
        }
        folder
    }

    /// The output of a run that is expected to end so, with nothing on stderr.
    #[track_caller]
    fn run(&self, args: &[&str], status: i32) -> String {
        let output = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
            .args(args)
            .current_dir(&self.path)
            .stdin(Stdio::null())
            .env_remove("CLICOLOR_FORCE")
            .env_remove("COLUMNS")
            .output()
            .expect("the program runs");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("the program prints UTF-8");
        let (out, err) = (text(output.stdout), text(output.stderr));
        assert_eq!((output.status.code(), err.as_str()), (Some(status), ""), "{args:?}\n{out}");
        out
    }

    fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.path.join(format!("{name}.toml"))).expect("the file")
    }

    /// Checks and solves a text that is none of the patterns but near one.
    #[track_caller]
    fn holds(&self, text: &str) {
        std::fs::write(self.path.join("other.toml"), text).expect("a file");
        in_order(&self.run(&["check", "other.toml"], 0));
        self.run(&["solve", "other.toml"], 0);
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.path);
    }
}

#[track_caller]
fn in_order(check: &str) {
    assert!(check.contains("nothing to complain of"), "{check}");
}

/// The commands that the comments of a file say to run, word by word.
fn commands<'a>(text: &'a str, file: &'a str) -> Vec<Vec<&'a str>> {
    let words = |line: &'a str| {
        // Quotes hold words together; every other piece stands inside of them.
        let mut found = Vec::new();
        for (idx, piece) in line.split('"').enumerate() {
            match idx % 2 {
                0 => found.extend(piece.split_whitespace()),
                _ => found.push(piece),
            }
        }
        found.into_iter().map(|word| if word == "FILE" { file } else { word }).collect()
    };
    text.lines().filter_map(|line| line.strip_prefix("#   ohmhound ")).map(words).collect()
}

#[test]
fn the_list() {
    let folder = Folder::new("starters_list");
    let list = folder.run(&["starter", "--list"], 0);
    let mut seen = HashSet::new();
    let start = list.lines().map(|line| line.find("  ").expect("a gap")).max();
    let start = start.expect("a pattern") + 2;
    for line in list.lines() {
        assert!(line.chars().count() <= 80, "{} columns: {line}", line.chars().count());
        let (name, about) = (line[..start].trim_end(), &line[start..]);
        assert!(line[..start].ends_with("  ") && !about.starts_with(' '), "not aligned: {line}");
        assert!(seen.insert(name) && seen.insert(about), "twice: {line}");
    }
    // No text lies in the folder without being on the list.
    let texts = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/cli/starter");
    for file in std::fs::read_dir(texts).expect("the texts") {
        let path = file.expect("an entry").path();
        if path.extension().is_some_and(|end| end == "toml") {
            let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
            assert!(folder.names.contains(&name), "{name} is not on the list");
        }
    }
    insta::assert_snapshot!("list", list);
}

#[test]
fn texts_are_short_and_commented() {
    let folder = Folder::new("starters_texts");
    let mut titles = HashSet::new();
    for name in &folder.names {
        let text = folder.text(name);
        assert!(text.starts_with("# ") && text.ends_with('\n'), "{name}");
        let comment: Vec<&str> = text.lines().map_while(|line| line.strip_prefix("# ")).collect();
        let comment = comment.join(" ");
        let asks = comment.contains("Change names and values") && comment.ends_with("schematic.");
        assert!(asks, "{name} does not say what to change");
        assert!(text.lines().count() <= 45, "{name} has {} lines", text.lines().count());
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{name}: {line}");
            assert!(!line.ends_with(' ') && !line.contains('\t'), "{name}: {line}");
        }
        let title = text.lines().find(|line| line.starts_with("title = ")).expect("a title");
        assert!(titles.insert(title.to_owned()), "{name}: {title} is another's");
    }
}

/// Every pattern passes `check` with no warning and no note, and every setup of it has a point.
#[test]
fn patterns_are_in_order() {
    let folder = Folder::new("starters_order");
    for name in &folder.names {
        let file = format!("{name}.toml");
        in_order(&folder.run(&["check", &file], 0));
        let text = folder.text(name);
        let setups = text.lines().filter_map(|line| line.strip_prefix("[setups."));
        for setup in setups.map(|rest| rest.trim_end_matches(']')).chain(["powered", "unpowered"]) {
            let shown = folder.run(&["solve", &file, "--setup", setup], 0);
            assert!(!shown.contains("NaN"), "{name}, {setup}: {shown}");
            let told = text.contains(&format!("`--setup {setup}`"));
            assert!(told || setup.ends_with("powered"), "{name} says nothing of {setup}");
        }
    }
}

/// What the comments say to run does run, and its readings are those of a board with a fault.
#[test]
fn comments_hold() {
    let folder = Folder::new("starters_comments");
    for name in &folder.names {
        let file = format!("{name}.toml");
        let text = folder.text(name);
        let commands = commands(&text, &file);
        let verbs: Vec<&str> = commands.iter().map(|words| words[0]).collect();
        assert_eq!(verbs, ["solve", "diagnose"], "{name}");
        for command in &commands {
            let shown = folder.run(command, 0);
            for line in shown.lines() {
                assert!(line.chars().count() <= 80, "{name}: {line}");
            }
            if command[0] == "diagnose" {
                assert!(shown.contains("Faults that reproduce all readings"), "{name}: {shown}");
                assert!(shown.contains("a healthy board is ruled out"), "{name}: {shown}");
            }
        }
    }
}

/// Volts of the healthy boards against Ohm's law and the divider rule, worked out by hand. Drops of
/// junctions are those that the file states, so that nets behind them agree less closely.
#[test]
fn volts_by_hand() {
    let folder = Folder::new("starters_volts");
    let divided = |volts: f64, upper: f64, lower: f64| volts * lower / (upper + lower);
    let beside = |one: f64, other: f64| one * other / (one + other);
    let cases: &[(&str, &str, f64, f64)] = &[
        ("divider", "OUT", divided(12.0, 10e3, beside(3.3e3, 100e3)), 1e-3),
        ("threshold-divider", "SENSE", divided(12.6, 75e3, 10e3), 1e-3),
        ("threshold-divider", "RUN", 3.3, 1e-3),
        ("loop", "SENSE", divided(12.0, 2.2e3, 4.7e3 + 1.0), 1e-3),
        ("supply-chain", "EN", divided(24.0, 47e3, 10e3), 1e-3),
        ("supply-chain", "LED_A", 2.0, 0.05),
        // The battery's resistance and the fuse at 0.4 A; the transistor is some ten milliohms.
        ("battery", "BATT_F", 12.6 - 0.4 * 130e-3, 1e-3),
        ("battery", "RAIL", 12.6 - 0.4 * 150e-3, 2e-3),
        // (12 V − V) / 390 Ω = 5 mA + I and V = 5.1 V + 7 Ω · (I − 20 mA).
        ("zener-supply", "V5", (4.96 + 7.0 * (12.0 / 390.0 - 5e-3)) / (1.0 + 7.0 / 390.0), 5e-3),
        ("ldo", "V3", 3.3, 1e-3),
        ("ldo", "PG", 3.3, 1e-3),
        ("regulator", "EN", divided(24.0, 47e3, 10e3), 1e-3),
        ("regulator", "V5", 0.8 * (1.0 + 52.3 / 10.0), 1e-3),
        ("led-chain", "LED_2", 2.0, 0.02),
        ("led-chain", "LED_1", 4.0, 0.02),
        // Q2 saturated, at some 50 mV.
        ("transistor-switch", "GATE", 0.05 + divided(11.95, 10e3, 1e3), 0.02),
        ("transistor-switch", "VALVE", 12.0 - 0.4 * 25e-3, 2e-3),
        ("relay-driver", "CTL", 5.0 - 30.0 * (5.0 - 0.74) / 4.73e3, 1e-3),
        ("relay-driver", "PUMP", 12.0 - 1.2 * 60e-3, 2e-3),
        ("optocoupler", "LED_A", 1.2, 0.03),
        ("opamp-front-end", "TEMP", 2.5, 1e-3),
        ("opamp-front-end", "ADC", 2.5 * 1.47, 1e-3),
        ("comparator", "REF", divided(5.0, 22e3, 10e3), 1e-3),
        // The track below the wiper is 0.6 of 10 kΩ; R5 lifts the level by 10 / 480 of the rest.
        ("comparator", "LEVEL", 2.804 + (4.98 - 2.804) * 10.0 / 480.0, 0.01),
        ("bridge", "LEFT", 2.5, 1e-3),
        ("bridge", "RIGHT", 2.5, 1e-3),
        ("logic", "SHUT", 5.0, 1e-3),
        ("logic", "EN", 5.0, 2e-3),
    ];
    for name in &folder.names {
        let shown = folder.run(&["solve", &format!("{name}.toml"), "--format", "json"], 0);
        let shown: Value = serde_json::from_str(&shown).expect("one JSON value");
        let mine: Vec<_> = cases.iter().filter(|(pattern, ..)| pattern == name).collect();
        assert!(!mine.is_empty(), "{name} has no volts worked out by hand");
        for (_, net, expected, share) in mine {
            let found = shown["nets"][net]["volts"].as_f64().expect("volts");
            assert!((found - expected).abs() <= share * expected, "{name} {net}: {found}");
        }
    }
}

/// A text without some of its parts, be they lines or tables, and with those in comments taken in.
fn exchanged(text: &str, out: &[&str]) -> String {
    let (mut found, mut inside, mut taken) = (String::new(), false, false);
    for line in text.lines() {
        inside |= out.iter().any(|name| line == format!("[parts.{name}]"));
        taken |= line.starts_with("# [parts.");
        if line.is_empty() {
            (inside, taken) = (false, false);
        }
        if inside || out.iter().any(|name| line.starts_with(&format!("{name} = "))) {
            continue;
        }
        found.push_str(if taken { line.trim_start_matches("# ") } else { line });
        found.push('\n');
    }
    found
}

/// The alternatives that stand in comments are in order too.
#[test]
fn alternatives_hold() {
    let folder = Folder::new("starters_alternatives");
    let zener = exchanged(&folder.text("zener-supply"), &["D1"]);
    assert!(zener.contains("\n[parts.U1]\nkind = \"shunt-reference\"\n"), "{zener}");
    folder.holds(&zener);
    let battery = exchanged(&folder.text("battery"), &["Q1", "R1", "D1"]);
    assert!(battery.contains("\n[parts.D2]\nnets = "), "{battery}");
    folder.holds(&battery);
    let watch = folder.text("threshold-divider").replace("# open_drain", "open_drain");
    assert!(watch.contains("\nopen_drain = false\n"), "{watch}");
    folder.holds(&watch);
    let level = exchanged(&folder.text("comparator"), &["R4", "R5"]);
    let inside = "kind = \"comparator\"\nhysteresis = \"60 mV\"";
    let level = level.replace("kind = \"comparator\"", inside).replace("\"LEVEL\"", "\"FLOAT\"");
    folder.holds(&level);
}
