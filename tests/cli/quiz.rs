//! `ohmhound quiz` as a program: lines from a pipe, the marking as JSON, sheets for a class, and what is
//! said of bad input.

use crate::program;
use crate::program::{Run, circuits, run_in};

fn run(args: &[&str], input: &str) -> Run {
    run_in(&circuits(), args, input)
}

fn folder(name: &str) -> std::path::PathBuf {
    program::folder(&format!("quiz/{name}"))
}

/// A student who knows little: looks round, predicts, measures, asks, guesses wrong, and finds it.
const GAME: &str = "\
help
parts
predict TAP_5 4.6 mV
predict TAP_9 8.80
tap_9
ohms R2
hint
hint
hint
guess R2
guess R2 open
C1 0.3
guess TAP_5 leak
amps C1
amps C1
notes
guess A2 shorted
guess C1 shorted
";

#[test]
fn a_whole_game() {
    let args = ["quiz", "soil-probe.toml", "--seed", "3"];
    let Run { status, out, err } = run(&args, GAME);
    assert_eq!((status, err.as_str()), (0, ""));
    insta::assert_snapshot!("quiz_game", out);
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    assert!(!out.contains('\u{1b}'), "no colour in a pipe");
    assert_eq!(out, run(&args, GAME).out, "the same seed, the same bytes");
}

#[test]
fn the_marking_as_json_alone() {
    let args = ["quiz", "soil-probe.toml", "--seed", "3", "--format", "json"];
    let Run { status, out, err } = run(&args, GAME);
    assert_eq!((status, err.as_str()), (0, ""));
    let marking: serde_json::Value = serde_json::from_str(&out).expect("nothing but JSON");
    assert_eq!(marking["found"], true);
    assert_eq!(marking["wrong_guesses"], 2);
    assert_eq!(marking["predictions"][0]["marked"], "unit slip");
    assert_eq!(marking["predictions"][1]["marked"], "right");
    assert_eq!(marking["readings"].as_array().unwrap().len(), 3);
    assert_eq!(marking["hints"], serde_json::json!([1, 1, 1]));
    // By the rule: 60 − 2 · 10, 40 · planned / own effort, −14 for hints, 2 for a prediction.
    let (own, planned) =
        (marking["effort"].as_f64().unwrap(), marking["planned"]["effort"].as_f64().unwrap());
    let total = 40.0 + 40.0 * (planned / own).min(1.0) - 14.0 + 2.0;
    assert_eq!(marking["points"]["total"].as_f64().unwrap(), total.round());
    insta::assert_snapshot!("quiz_json_keys", keys(&marking, 0));
}

/// The keys of an object, and of the first item of each list.
fn keys(value: &serde_json::Value, depth: usize) -> String {
    match value {
        serde_json::Value::Object(map) => map
            .iter()
            .map(|(key, value)| format!("{}{key}\n{}", "  ".repeat(depth), keys(value, depth + 1)))
            .collect(),
        serde_json::Value::Array(items) => {
            items.first().map_or_else(String::new, |item| keys(item, depth))
        }
        _ => String::new(),
    }
}

/// An end of the input, `give up` and `quit` all tell the solution and end well.
#[test]
fn giving_up() {
    for input in ["", "give up\n", "quit\nTAP_9\n", "\n\n"] {
        let Run { status, out, .. } = run(&["quiz", "soil-probe.toml", "--seed", "3"], input);
        assert_eq!(status, 0);
        assert!(out.contains("The hidden fault\n  C1 shorted"), "{out}");
        assert!(out.contains("you read nothing") && out.contains("not found"), "{out}");
    }
}

/// What is told before the end holds nothing of the hidden fault.
#[test]
fn the_opening_gives_nothing_away() {
    for seed in ["1", "2", "3", "4", "5"] {
        let args = ["quiz", "gate-supply.toml", "--seed", seed];
        let Run { out, .. } = run(&args, "parts\nhelp\nsymptom\nnotes\ngive up\n");
        let (before, after) = out.split_once("The hidden fault\n  ").expect("the solution");
        let hidden = after.lines().next().unwrap();
        let bare: Vec<&str> = hidden.split(' ').take(2).collect();
        // The example of how to type an answer is the same whatever is hidden.
        let before = before.replace("guess R1 open", "");
        assert!(!before.contains(&bare.join(" ")), "{hidden}: {before}");
    }
}

#[test]
fn a_log_is_a_readings_file() {
    let folder = folder("log");
    let circuit = circuits().join("soil-probe.toml");
    std::fs::copy(&circuit, folder.join("soil-probe.toml")).unwrap();
    let args = ["quiz", "soil-probe.toml", "--seed", "3", "--log", "game.toml"];
    let done = run_in(&folder, &args, "TAP_9\nohms TAP_5\namps C1\nquit\n");
    assert_eq!((done.status, done.err.as_str()), (0, ""));
    let told = run_in(&folder, &["diagnose", "game.toml"], "");
    assert_eq!(told.status, 0, "{}", told.err);
    assert!(told.out.contains("C1 shorted"), "{}", told.out);
    let again = run_in(&folder, &args, "quit\n");
    assert_eq!(again.status, 2);
    assert!(again.err.contains("expected a new file for --log"), "{}", again.err);
}

/// Every slip gets one clear line that helps, costs nothing, and the game goes on.
#[test]
fn slips_are_told_and_cost_nothing() {
    let slips = [
        ("TAP_6", "did you mean `TAP_"),
        ("ohm TAP_5", "did you mean `ohms`?"),
        ("volts", "say where, as in `volts"),
        ("ohms TAP_5 to", "say to which net"),
        ("TAP_5 4.2", "`predict TAP_5 4.2`"),
        ("R1 open", "`guess R1 open`"),
        ("predict", "say where and what you expect"),
        ("predict TAP_5", "say what you expect"),
        ("predict TAP_5 4.2 A", "volts"),
        ("predict TAP_5 lots", "lots"),
        ("guess", "as in `guess R1 open`"),
        ("guess it is broken", "`faults` lists every form"),
        ("guess R11 open", "did you mean `R1`?"),
        ("guess R1", "say what happened to it: R1 open"),
        ("hint 7", "level 1, 2 or 3"),
        ("powered ohms TAP_5", "`ohms` cannot be read in setup `powered`"),
        ("amps TAP_5", "amps are read through a part"),
        ("GND", "both leads are on ground"),
        ("TAP_5 to TAP_5", "both leads are on `TAP_5`"),
    ];
    for (slip, told) in slips {
        let input = format!("{slip}\nTAP_9\nquit\n");
        let Run { status, out, err } = run(&["quiz", "soil-probe.toml", "--seed", "3"], &input);
        assert_eq!((status, err.as_str()), (0, ""), "{slip}");
        let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(told), "{slip}: {told} is not in\n{out}");
        assert!(flat.contains("effort 1, 1 in all"), "{slip} costs nothing: {out}");
    }
}

#[test]
fn bad_input() {
    let folder = folder("bad");
    std::fs::write(folder.join("empty.toml"), "").unwrap();
    let high = "[parts]\nV1 = { kind = \"supply\", volts = 325, nets = [\"L\", \"GND\"] }\n\
                R1 = { value = \"1k\", nets = [\"L\", \"OUT\"] }\n\
                R2 = { value = \"1k\", nets = [\"OUT\", \"GND\"] }\n";
    std::fs::write(folder.join("high.toml"), high).unwrap();
    // Nothing that breaks outright shows here: the only net is held by its source.
    let still = "[parts]\nV1 = { kind = \"supply\", volts = 5, resistance = 0, nets = [\"A\", \"GND\"] }\n\
                 C1 = { value = \"1 µF\", nets = [\"A\", \"GND\"] }\n\
                 [board]\nno_access = [\"A\"]\n";
    std::fs::write(folder.join("still.toml"), still).unwrap();
    let said = |args: &[&str]| {
        let Run { status, out, err } = run_in(&folder, args, "");
        assert_eq!((status, out.as_str()), (2, ""), "{args:?}: {err}");
        err
    };
    assert!(said(&["quiz", "empty.toml"]).contains("error"));
    assert!(said(&["quiz", "none.toml"]).contains("none.toml"));
    let err = said(&["quiz", "high.toml"]);
    assert!(err.contains("more than 60 V") && err.contains("licensed"), "{err}");
    assert!(said(&["quiz", "high.toml", "--class", "3"]).contains("more than 60 V"));
    let err = said(&["quiz", "still.toml", "--level", "1"]);
    assert!(err.contains("no fault of level 1 that readings show"), "{err}");
    let circuit = circuits().join("soil-probe.toml");
    let circuit = circuit.to_str().unwrap();
    for args in [
        ["--seed", "-1"],
        ["--seed", "18446744073709551616"],
        ["--seed", "three"],
        ["--level", "4"],
        ["--level", "0"],
        ["--class", "0"],
        ["--class", "100000"],
    ] {
        assert!(said(&["quiz", circuit, args[0], args[1]]).contains(args[1]));
    }
    assert!(said(&["quiz", circuit, "--key"]).contains("--class"));
    assert!(said(&["quiz", circuit, "--format", "html"]).contains("--class"));
    assert!(said(&["quiz", circuit, "--class", "2", "--format", "json"]).contains("Markdown"));
    // The largest seed is one.
    let most = run(&["quiz", "soil-probe.toml", "--seed", "18446744073709551615"], "quit\n");
    assert_eq!(most.status, 0);
}

#[test]
fn a_class() {
    let args = ["quiz", "gate-supply.toml", "--class", "2", "--seed", "5"];
    let sheets = run(&args, "");
    assert_eq!((sheets.status, sheets.err.as_str()), (0, ""));
    assert!(sheets.out.lines().all(|line| line.chars().count() <= 80), "{}", sheets.out);
    insta::assert_snapshot!("quiz_sheets", sheets.out);
    let with_key = [&args[..], &["--key"]].concat();
    let key = run(&with_key, "");
    assert!(key.out.lines().all(|line| line.chars().count() <= 80), "{}", key.out);
    insta::assert_snapshot!("quiz_key", key.out);
    // More students get the same sheets first.
    let more = run(&["quiz", "gate-supply.toml", "--class", "3", "--seed", "5"], "");
    assert!(more.out.starts_with(sheets.out.trim_end()), "{}", more.out);
    // A class of one, played: the key's seed hides what the key says.
    let told = key.out.lines().find_map(|line| line.trim().strip_prefix("Fault: ")).unwrap();
    let seed = key.out.split("--seed ").nth(1).unwrap().split(' ').next().unwrap();
    let played = run(&["quiz", "gate-supply.toml", "--seed", seed], "quit\n");
    assert!(played.out.contains(&format!("The hidden fault\n  {told}")), "{}", played.out);
}

#[test]
fn help_says_what_a_level_is() {
    let Run { out, .. } = run(&["quiz", "--help"], "");
    assert!(out.contains("--level") && out.contains("--class") && out.contains("--key"), "{out}");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
}
