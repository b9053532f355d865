//! Input that no person typed: too much of it, cut short, mutated, or not text at all. None of it
//! may panic, hang, or flood the terminal.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};

use ohmhound::circuit::{Circuit, Meter, Quantity, Readings, SetupId};
use ohmhound::file::{
    MOST_BYTES, MOST_PARTS, Parsed, Wanted, load_circuit, load_readings, load_source, read_circuit,
    read_readings, read_readings_csv, read_stock, read_stock_csv, reading_argument,
    readings_circuit,
};
use ohmhound::finding::{Code, Finding, Source};
use ohmhound::quantity::{Tolerance, Unit};
use ohmhound::report::{Style, render};
use proptest::prelude::*;

const GATE: &str = include_str!("rejects/gate.toml");

fn circuit_of(text: impl Into<String>) -> Parsed<Circuit> {
    let source = Source::new("circuit.toml", text);
    read_circuit(&source, &mut |_| Err("no shelf here".to_owned()))
}

fn gate() -> &'static Circuit {
    static GATE_CIRCUIT: OnceLock<Circuit> = OnceLock::new();
    GATE_CIRCUIT.get_or_init(|| circuit_of(GATE).value.expect("a circuit in order"))
}

fn readings_of(text: impl Into<String>) -> Parsed<Readings> {
    read_readings(&Source::new("readings.toml", text), gate())
}

fn csv_of(text: impl Into<String>) -> Parsed<Readings> {
    read_readings_csv(&Source::new("readings.csv", text), gate())
}

/// The findings as text; short, quick and without a value.
fn refused<T>(read: impl FnOnce() -> Parsed<T>) -> String {
    let start = Instant::now();
    let read = read();
    let text = render(&read.findings, Style::Plain, 80);
    let time = start.elapsed();
    // Some seconds of slack for a busy machine; what this guards against takes minutes.
    assert!(time < Duration::from_secs(20), "took {time:?}");
    assert!(text.len() < 200_000, "{} bytes of text", text.len());
    assert!(read.value.is_none(), "{text}");
    text
}

#[test]
fn a_million_parts_are_refused_with_the_limit() {
    let mut text = String::from("[parts]\n");
    for n in 0..1_000_000 {
        let _ = writeln!(text, "R{n} = {{ value = 1, nets = [\"A\", \"GND\"] }}");
    }
    let shown = refused(|| circuit_of(text.as_str()));
    assert!(shown.contains("` is larger than 8 MiB"), "{shown}");
    // As many as fit into the bytes are refused by their number.
    text.truncate(MOST_BYTES);
    text.truncate(text.rfind('\n').unwrap_or(0));
    let shown = refused(|| circuit_of(text));
    assert!(shown.contains(&format!("more than {MOST_PARTS}")), "{shown}");
}

#[test]
fn too_many_nets_and_readings_are_refused_with_the_limit() {
    let mut text = String::from("[parts.J1]\nkind = \"connector\"\n[parts.J1.pins]\n");
    for n in 0..3_000 {
        let _ = writeln!(text, "{n} = [\"A{n}\", \"B{n}\"]");
    }
    let shown = refused(|| circuit_of(text));
    assert!(shown.contains("6000 nets, more than 5000"), "{shown}");

    let repeats = "0.02, ".repeat(5_001);
    let shown = refused(|| readings_of(format!("[powered.volts]\nEN = [{repeats}]")));
    assert!(shown.contains("more than 5000 readings"), "{shown}");
    let lines = "powered,volts,EN,0.02\n".repeat(5_001);
    let shown = refused(|| csv_of(format!("setup,quantity,place,value\n{lines}")));
    assert!(shown.contains("more than 5000 readings"), "{shown}");
}

#[test]
fn a_stock_list_that_is_too_long_says_so() {
    let wanted =
        Wanted { unit: Unit::Ohm, rated: Unit::Watt, tolerance: Tolerance::Fraction(0.05) };
    let toml = Source::new("drawer.toml", "[[stock]]\nvalue = 1\n".repeat(5_001));
    let csv = Source::new("drawer.csv", format!("value\n{}", "1\n".repeat(5_001)));
    for shown in [refused(|| read_stock(&toml, wanted)), refused(|| read_stock_csv(&csv, wanted))] {
        assert!(shown.contains("more than 5000"), "{shown}");
        assert!(shown.contains("the first one too many"), "{shown}");
    }
}

#[test]
fn ten_megabytes_of_junk_are_refused() {
    for junk in ["x", "[", "{", "\"", "= ", "[[a]]\n", "a=[", "a.", "a = 1\n", "\u{1F50C}", "\0"] {
        let text = junk.repeat(10_000_000 / junk.len());
        let shown = refused(|| circuit_of(text.as_str()));
        assert!(shown.contains("8 MiB"), "{shown}");
        // The same within the limit of bytes, where it has to be looked at.
        let text = junk.repeat((MOST_BYTES - 64) / junk.len());
        refused(|| circuit_of(text.as_str()));
        refused(|| readings_of(text.as_str()));
        refused(|| csv_of(text.as_str()));
        refused(|| csv_of(format!("setup,quantity,place,value\n{text}")));
    }
}

#[test]
fn what_is_nested_too_deeply_is_refused_and_not_followed() {
    for text in [
        format!("{}a = 1", "a.".repeat(1_000_000)),
        format!("[{}a]\nb = 1", "a.".repeat(1_000_000)),
        format!("[parts]\nR1 = {}1{}", "{ a = ".repeat(50_000), " }".repeat(50_000)),
        format!("[parts]\nR1.{}a = 1", "a.".repeat(20_000)),
        format!("a = {}{}", "[".repeat(50_000), "]".repeat(50_000)),
    ] {
        for shown in [refused(|| circuit_of(text.as_str())), refused(|| readings_of(text.as_str()))]
        {
            assert!(shown.contains("nested more deeply than is read"), "{shown}");
        }
    }
}

#[test]
fn floods_that_are_valid_toml_end_soon_and_in_few_words() {
    let keys: String = (0..300_000).fold(String::new(), |mut text, n| {
        let _ = writeln!(text, "k{n} = 1");
        text
    });
    refused(|| circuit_of(keys.as_str()));
    refused(|| readings_of(keys.as_str()));
    refused(|| readings_of(format!("[powered.volts]\n{keys}")));
    refused(|| readings_of(format!("[powered.seen]\n{keys}")));
    // One type with a flood of unknown keys, used by many parts.
    let mut text = String::from("[parts]\n");
    for n in 0..MOST_PARTS {
        let _ = writeln!(text, "R{n} = {{ type = \"t\", nets = [\"A\", \"GND\"] }}");
    }
    refused(|| circuit_of(format!("{text}[types.t]\n{keys}")));
    // Setups that build on each other and grow.
    let mut setups = String::from(GATE);
    let mut base = "powered".to_owned();
    for n in 0..20_000 {
        let _ = writeln!(setups, "[setups.s{n}]\nbase = \"{base}\"");
        setups.push_str("connect = [{ nets = [\"EN\", \"GND\"], resistance = 1 }]\n");
        base = format!("s{n}");
    }
    let shown = refused(|| circuit_of(setups));
    assert!(shown.contains("more than 100 setups"), "{shown}");
}

#[test]
fn a_flood_of_findings_is_cut_and_says_so() {
    let ones = "1, ".repeat(250);
    let read = circuit_of(format!("{GATE}\n[board]\nno_access = [{ones}]"));
    let last = read.findings.last().map(|finding| finding.message.as_str());
    assert_eq!(last, Some("150 more findings are not shown"));
}

#[test]
fn a_line_of_a_megabyte_is_not_printed() {
    let digits = "9".repeat(1_000_000);
    for text in [
        format!("[parts]\nR1 = {{ value = \"{digits}k,\", nets = [\"A\", \"GND\"] }}"),
        format!("[parts]\n\"{digits}\" = {{ value = 1, nets = [\"{digits}\", \"GND\"] }}"),
        format!("title = {digits}"),
        format!("[parts]\nR1 = {{ value = \"{digits}\" \n"),
    ] {
        let shown = refused(|| circuit_of(text));
        assert!(shown.len() < 2_000, "{} bytes", shown.len());
        assert!(shown.contains("circuit.toml:"), "{shown}");
    }
}

#[test]
fn excerpts_stand_right_under_wide_characters_and_tabs() {
    let source = Source::new("wide.toml", "\t\"漢字\" = \"x\"\r\n");
    let at = source.text.find("\"x\"").expect("a place");
    let finding = Finding::error(Code::BadValue, "wrong").at(&source, at..at + 3, "here");
    let shown = render(&[finding], Style::Plain, 80);
    // A wide character takes two columns, a tab four.
    let column = |line: &str| -> Option<usize> {
        let before = line.split_once("\"x\"").or_else(|| line.split_once('^'))?.0;
        Some(before.chars().map(|c| if c.is_ascii() { 1 } else { 2 }).sum())
    };
    let columns: Vec<_> = shown.lines().filter_map(column).collect();
    assert!(matches!(columns[..], [a, b] if a == b), "{shown}");
    assert!(shown.contains("wide.toml:1:9"), "{shown}");
}

/// Line ends that a careless conversion doubled: the place may lie among them.
#[test]
fn a_place_behind_the_end_of_its_line_is_shown_at_the_end() {
    for text in ["a = 1\r\r\r\n", "a = \"x\r\r\r\r\n", "[a]x\r\r\r\r\r\r\nb = 2\r\r\n"] {
        let source = Source::new("ends.toml", text);
        for at in 0..=text.len() {
            let finding = Finding::error(Code::NotToml, "wrong").at(&source, at..at, "here");
            let shown = render(&[finding], Style::Plain, 80);
            assert!(shown.contains("ends.toml:"), "{shown}");
        }
        let _ = refused(|| circuit_of(text));
        let _ = refused(|| readings_of(text));
    }
}

/// A terminal would obey what it is shown: no character of a file or of its name does.
#[test]
fn control_characters_of_files_are_shown_and_not_obeyed() {
    let escapes = ["\u{1b}[31m", "\u{9b}31m", "\u{7}", "\u{85}", "\u{7f}", "\u{0}", "\u{91}x"];
    for escape in escapes {
        let source =
            Source::new(format!("a{escape}.toml"), format!("[parts]\nR1 = \"{escape}\" 1\n"));
        let read = read_circuit(&source, &mut |_| Err("no shelf here".to_owned()));
        let csv =
            csv_of(format!("setup,quantity,place,value\n{escape}powered,volts,EN{escape},1\n"));
        let said = Finding::error(Code::BadValue, escape).help(escape).at(&source, 9..11, escape);
        for findings in [read.findings, csv.findings, vec![said]] {
            let shown = render(&findings, Style::Plain, 80);
            assert!(!shown.contains(|c: char| c.is_control() && c != '\n'), "{shown:?}");
        }
    }
    // What is shown as it stands may not hold any.
    let titled = GATE.replacen("The circuit", "\\u001b[31m", 1);
    let shown = refused(|| circuit_of(titled));
    assert!(shown.contains("`title` holds the control character U+001B"), "{shown}");
    for text in [
        "[job]\nticket = \"\\u0007\"",
        "[job]\n\"a\\u0007\" = 1",
        "[[done]]\naction = \"replaced\"\nwith = \"\\u009b\"",
    ] {
        let shown = refused(|| readings_of(text));
        assert!(shown.contains("holds the control character U+00"), "{shown}");
    }
    let several_lines = readings_of("[job]\nsymptom = \"\"\"dark\nand cold\twet\"\"\"");
    assert!(several_lines.value.is_some());
}

#[test]
fn findings_without_a_place_and_with_several_sources_print_too() {
    let one = Source::new("one.toml", "a = 1");
    let other = Source::new("other.toml", "b = 2");
    let bare = Finding::note(Code::Unreadable, "nothing to point at").help("do something");
    let both = Finding::warning(Code::BadValue, "two places")
        .at(&one, 0..1, "here")
        .at(&other, 4..5, "there")
        .at(&one, 900..1000, "past the end");
    let shown = render(&[bare, both], Style::Plain, 80);
    for part in ["note[H101]", "help: do something", "one.toml:1:1", "other.toml:1:5", "there"] {
        assert!(shown.contains(part), "no {part} in\n{shown}");
    }
    let coloured = render(&[Finding::error(Code::BadValue, "red")], Style::Color, 80);
    assert!(coloured.contains('\u{1b}'));
}

/// A folder of its own for one test, emptied before use.
fn folder(test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("rejects_floods_{test}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder");
    folder
}

fn why(path: &Path) -> String {
    let finding = load_source(path).expect_err("it is refused");
    format!("{}; {}", finding.message, finding.help.unwrap_or_default())
}

#[test]
fn files_that_cannot_be_read_say_why() {
    let folder = folder("unreadable");
    fs::write(folder.join("gate.toml"), GATE).expect("a file");
    fs::write(folder.join("latin.toml"), b"title = \"5 \xb5A\"").expect("a file");
    fs::write(folder.join("wide.toml"), b"\xff\xfet\0i\0").expect("a file");
    fs::write(folder.join("large.toml"), vec![b' '; MOST_BYTES + 1]).expect("a file");
    let missing = why(&folder.join("gaet.toml"));
    assert!(missing.contains("there is no such file"), "{missing}");
    assert!(missing.contains("did you mean") && missing.contains("gate.toml"), "{missing}");
    assert!(why(&folder).contains("it is a folder"));
    let latin = why(&folder.join("latin.toml"));
    assert!(latin.contains("byte 12 is 0xb5"), "{latin}");
    assert!(why(&folder.join("wide.toml")).contains("UTF-16"));
    assert!(why(&folder.join("large.toml")).contains("larger than 8 MiB"));
    let read = load_circuit(folder.join("nothing-like-it.toml"));
    assert!(read.value.is_none() && read.findings[0].code == Code::Unreadable);
}

#[test]
fn byte_order_marks_and_carriage_returns_are_no_trouble() {
    let folder = folder("marks");
    let text = format!("\u{feff}{}", GATE.replace('\n', "\r\n"));
    fs::write(folder.join("gate.toml"), text).expect("a file");
    let read = load_circuit(folder.join("gate.toml"));
    assert!(read.findings.is_empty(), "{}", render(&read.findings, Style::Plain, 80));
    assert_eq!(read.value.map(|circuit| circuit.nets), Some(gate().nets.clone()));
    fs::write(
        folder.join("r.csv"),
        "\u{feff}setup,quantity,place,value\r\npowered,volts,EN,0.02\r\n",
    )
    .expect("a file");
    let read = load_readings(folder.join("r.csv"), gate());
    assert_eq!(read.value.map(|readings| readings.readings.len()), Some(1));
}

#[test]
fn a_shelf_is_found_beside_its_circuit() {
    let folder = folder("shelf");
    fs::write(folder.join("shop.toml"), "[types.ten]\nvalue = \"10k\"").expect("a file");
    let circuit =
        "shelf = [\"shop.toml\"]\n[parts]\nR1 = { type = \"ten\", nets = [\"A\", \"GND\"] }";
    fs::write(folder.join("c.toml"), circuit).expect("a file");
    let read = load_circuit(folder.join("c.toml")).value.expect("a circuit");
    assert_eq!(read.parts[0].nominal("value"), Some(10e3));
    fs::write(folder.join("c.toml"), circuit.replace("shop.toml", "shpo.toml")).expect("a file");
    let read = load_circuit(folder.join("c.toml"));
    assert_eq!(read.findings[0].code, Code::Unreadable);
    assert!(read.findings[0].message.contains("shop.toml"), "{}", read.findings[0].message);
}

/// Every reader on one text; what they say has to be printable and to lie inside the text.
fn every_reader(text: &str) {
    let source: Arc<Source> = Source::new("any", text);
    let _ = readings_circuit(&source);
    let shelf = |_: &str| Ok(Arc::clone(&source));
    let circuit = read_circuit(&source, &mut { shelf });
    let toml = read_readings(&source, gate());
    let csv = read_readings_csv(&source, gate());
    let argument = reading_argument(gate(), &Meter::default(), SetupId(1), Quantity::Ohms, text);
    for (findings, has_value) in [
        (circuit.findings, circuit.value.is_some()),
        (toml.findings, toml.value.is_some()),
        (csv.findings, csv.value.is_some()),
        (argument.findings, argument.value.is_some()),
    ] {
        assert_eq!(has_value, !findings.iter().any(Finding::is_error));
        for label in findings.iter().flat_map(|finding| &finding.labels) {
            let inside = label.source.text.get(label.range.clone()).is_some();
            assert!(inside, "{:?} in {text:?}", label.range);
        }
        let _ = render(&findings, Style::Plain, 80);
    }
}

const JOB: &str = r#"
circuit = "gate.toml"
[job]
ticket = "0412"
[meter]
volts = { accuracy = "0.5 % + 2 counts", input = "20 kΩ/V on 10 V" }
diode.red_on = "ground"
[powered.volts]
EN = [0.02, "3.1..3.4", "< 0.05 V"]
"VIN_F to EN" = { value = 23.9, meter = { input = "1 MΩ" } }
"RV1.wiper" = "4.98 ± 0.1"
[unpowered.diode]
EN = 0.480
[unpowered.beep]
"R1 to EN" = true
[powered.seen]
D1 = "dark"
[seen]
R1 = ["corroded"]
[[done]]
action = "replaced"
part = "R1"
[after.powered.volts]
EN = 4.13
"#;

const ROWS: &str = "setup,quantity,place,value\npowered,volts,\"VIN_F to EN\",23.9\n\
                    unpowered,beep,R1 to EN,true\npowered,amps,J1,12.3 mA\n";

/// Pieces that files of this kind are made of, whole and broken.
fn pieces() -> impl Strategy<Value = String> {
    let words = prop::sample::select(vec![
        "[parts]\n",
        "[types.t]\n",
        "[setups.s]\n",
        "[board]\n",
        "[limits]\n",
        "[powered.volts]\n",
        "[[done]]\n",
        "R1",
        "\"A to B\"",
        "U1.enable",
        " = ",
        "{ ",
        " }",
        "[",
        "]",
        ", ",
        "\n",
        "nets = [\"A\", \"GND\"]",
        "value = ",
        "kind = ",
        "\"resistor\"",
        "\"4k7\"",
        "type = \"t\"",
        "tolerance = \"5 %\"",
        "nan",
        "inf",
        "-0",
        "1e400",
        "0x1",
        "1_000",
        "\"±\"",
        "1979-05-27",
        "true",
        "\"",
        "'",
        "\\",
        "#",
        "pins = ",
        "\u{feff}",
        "\u{200b}",
        "漢",
        "\r\n",
        "\t",
        ".",
        ",",
        "meter = { input = \"1 MΩ/V on \" }",
        "accuracy = \"1 % + \"",
        "EN",
        "GND",
        "5V",
        "OL",
        "setup,quantity,place,value\n",
        "powered,volts,EN,",
        "\"\"",
        "=",
    ]);
    prop::collection::vec(words, 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_text_is_read_or_refused(text in any::<String>()) {
        every_reader(&text);
    }

    #[test]
    fn any_mixture_of_pieces_is_read_or_refused(text in pieces()) {
        every_reader(&text);
    }

    #[test]
    fn mutated_files_are_read_or_refused(
        which in 0..3_usize,
        cuts in prop::collection::vec((any::<prop::sample::Index>(), 0..12_usize, pieces()), 1..5),
    ) {
        let mut text = [GATE, JOB, ROWS][which].to_owned();
        for (at, length, piece) in cuts {
            let bounds: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
            let start = at.index(bounds.len());
            let end = (start + length).min(bounds.len() - 1);
            text.replace_range(bounds[start]..bounds[end], &piece.chars().take(8).collect::<String>());
        }
        every_reader(&text);
    }
}

#[test]
fn the_files_that_are_mutated_are_in_order() {
    let read = readings_of(JOB);
    assert!(read.value.is_some(), "{}", render(&read.findings, Style::Plain, 80));
    let read = csv_of(ROWS);
    assert!(read.value.is_some(), "{}", render(&read.findings, Style::Plain, 80));
}
