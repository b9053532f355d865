//! The JSON that scripts rely on: every key that is promised, with the type that is promised.

use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;

fn json(args: &[&str], status: i32) -> Value {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits");
    let output = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
        .args(args)
        .args(["--format", "json"])
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(status), "{args:?}");
    assert!(output.stderr.is_empty(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("one JSON value")
}

/// The types a value may have: `n` number, `s` text, `b` flag, `l` list, `o` object, `-` null,
/// `O` the word OL.
fn is(value: &Value, types: &str) -> bool {
    types.chars().any(|letter| match letter {
        'n' => value.is_number(),
        's' => value.is_string(),
        'b' => value.is_boolean(),
        'l' => value.is_array(),
        'o' => value.is_object(),
        '-' => value.is_null(),
        'O' => value == "OL",
        _ => panic!("{letter}"),
    })
}

#[track_caller]
fn has(value: &Value, keys: &[(&str, &str)]) {
    let object = value.as_object().unwrap_or_else(|| panic!("no object: {value}"));
    for (key, types) in keys {
        let found = object.get(*key).unwrap_or_else(|| panic!("no `{key}` in {value}"));
        assert!(is(found, types), "`{key}` is {found}, expected one of {types}");
    }
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("no list `{key}`"))
}

const DIAGNOSIS: &[(&str, &str)] = &[
    ("readings", "l"),
    ("candidates", "l"),
    ("invisible", "l"),
    ("next", "l"),
    ("healthy_reproduces", "b"),
    ("healthy_probability", "n"),
    ("other_probability", "n"),
    ("faults_tried", "n"),
    ("version", "n"),
    ("reading_remarks", "l"),
    ("without_one_reading", "l"),
    ("pairs", "l"),
    ("pairs_tried", "b"),
];

const READING: &[(&str, &str)] = &[
    ("setup", "s"),
    ("quantity", "s"),
    ("place", "s"),
    ("observed", "nsb"),
    ("expected", "nO-"),
    ("expected_u", "n-"),
    ("off", "nO-"),
];

const CANDIDATE: &[(&str, &str)] = &[
    ("fault", "s"),
    ("causes", "l"),
    ("part", "s-"),
    ("failure", "s"),
    ("value", "n-"),
    ("value_low", "n-"),
    ("value_high", "n-"),
    ("probability", "n"),
    ("verdict", "s"),
    ("reproduces", "b"),
    ("worst_sigma", "n"),
    ("ruled_out_by", "o-"),
    ("group", "n-"),
    ("chain", "l"),
    ("values", "l"),
    ("fitted_exactly", "b"),
];

const NEXT: &[(&str, &str)] = &[
    ("setup", "s"),
    ("quantity", "s"),
    ("place", "s"),
    ("bits", "n"),
    ("effort", "n"),
    ("outcomes", "l"),
];

const OUTCOME: &[(&str, &str)] =
    &[("low", "nO"), ("high", "nO"), ("probability", "n"), ("remaining", "l")];

fn check_diagnosis(found: &Value, n_readings: usize) {
    has(found, DIAGNOSIS);
    assert_eq!(list(found, "readings").len(), n_readings);
    for reading in list(found, "readings") {
        has(reading, READING);
    }
    let candidates = list(found, "candidates");
    assert!(!candidates.is_empty());
    for candidate in candidates {
        has(candidate, CANDIDATE);
        let verdict = candidate["verdict"].as_str().unwrap_or_default();
        assert!(["reproduces", "strained", "excluded"].contains(&verdict), "{verdict}");
        assert_eq!(candidate["reproduces"], verdict == "reproduces");
        // Ruled out by some reading, or in a group: one of the two.
        let excluded = verdict == "excluded";
        assert_eq!(candidate["ruled_out_by"].is_object(), excluded, "{candidate}");
        assert_eq!(candidate["group"].is_null(), excluded, "{candidate}");
        let untold = excluded || candidate["failure"] == "misread";
        assert_eq!(list(candidate, "chain").is_empty(), untold, "{candidate}");
        let causes = list(candidate, "causes");
        assert_eq!(causes[0], candidate["fault"]);
        if let Some(out) = candidate["ruled_out_by"].as_object() {
            let out = Value::Object(out.clone());
            has(&out, &[("setup", "s"), ("quantity", "s"), ("place", "s"), ("predicted", "nO-")]);
        }
    }
    let shares: f64 = candidates.iter().filter_map(|one| one["probability"].as_f64()).sum();
    let rest = ["healthy_probability", "other_probability"];
    let total: f64 = shares + rest.iter().filter_map(|key| found[key].as_f64()).sum::<f64>();
    assert!((total - 1.0).abs() < 1e-9, "shares add up to {total}");
    let order: Vec<f64> = candidates.iter().filter_map(|one| one["probability"].as_f64()).collect();
    assert!(order.is_sorted_by(|a, b| a >= b), "the likeliest comes first");
    for next in list(found, "next") {
        has(next, NEXT);
        for outcome in list(next, "outcomes") {
            has(outcome, OUTCOME);
        }
    }
    for invisible in list(found, "invisible") {
        has(invisible, &[("fault", "s"), ("weight", "n")]);
    }
}

#[test]
fn diagnosis() {
    for (name, n_readings) in [
        ("fence-loop", 4),
        ("gate-supply", 5),
        ("leaf-bridge", 3),
        ("packing-shed", 10),
        ("pump-lamp", 5),
        ("sensor-battery", 7),
        ("soil-probe", 4),
    ] {
        let found = json(&["diagnose", &format!("{name}.readings.toml")], 0);
        check_diagnosis(&found, n_readings);
        assert_eq!(found["healthy_reproduces"], false, "{name}");
        assert_eq!(found["candidates"][0]["reproduces"], true, "{name}");
    }
}

#[test]
fn next_prints_the_same_object() {
    let diagnosis = json(&["diagnose", "fence-loop.readings.toml"], 0);
    let mut next = json(&["next", "fence-loop.readings.toml", "--most", "3"], 0);
    assert_eq!(diagnosis, next);
    next = json(&["next", "fence-loop.readings.toml", "--most", "1"], 0);
    assert_eq!(list(&next, "next").len(), 1);
}

#[test]
fn values_that_json_has_no_number_for() {
    let found = json(&["diagnose", "pump-lamp.toml", "--ohms", "V5Z=OL"], 0);
    check_diagnosis(&found, 1);
    assert_eq!(found["readings"][0]["observed"], "OL");
    assert_eq!(found["readings"][0]["expected"], "OL");
}

#[test]
fn operating_point() {
    let found = json(&["solve", "leaf-bridge.toml"], 0);
    has(
        &found,
        &[
            ("nets", "o"),
            ("parts", "o"),
            ("power_up", "l"),
            ("also_stable", "l"),
            ("cycle", "-"),
            ("strategy", "s"),
            ("iterations", "n"),
            ("kcl_residual", "n"),
            ("version", "n"),
        ],
    );
    has(&found["nets"]["LEFT"], &[("volts", "n"), ("u", "n"), ("floating", "b")]);
    has(&found["parts"]["R1"], &[("amps", "n"), ("watts", "n"), ("state", "s-")]);
    // A part with more than two pins has the amps into each of them.
    assert!(found["parts"]["RV1"].get("amps").is_none());
    has(&found["parts"]["RV1"]["pins"], &[("a", "n"), ("wiper", "n"), ("b", "n")]);
    // A source has what it delivers: 5 V over 20 kΩ twice in parallel is 0.5 mA.
    let delivered = found["parts"]["J1"]["amps"].as_f64().unwrap_or_default();
    assert!((delivered - 0.5e-3).abs() < 1e-5, "{delivered}");
    let faulty = json(&["solve", "sensor-battery.toml", "--fault", "F1 open"], 0);
    has(&faulty, &[("faults", "l"), ("healthy", "o"), ("setup", "s")]);
    has(&faulty["healthy"]["nets"]["RAIL"], &[("volts", "n"), ("floating", "b")]);
}

#[test]
fn a_net_that_floats_has_no_volts() {
    let found =
        json(&["solve", "sensor-battery.toml", "--fault", "D2 open", "--setup", "night"], 0);
    assert_eq!(found["nets"]["PANEL"]["floating"], true);
    assert!(found["nets"]["PANEL"]["volts"].is_null());
}

#[test]
fn what_to_expect() {
    let found = json(&["solve", "pump-lamp.toml", "--expect"], 0);
    let net = &found["expected"]["V5Z"];
    has(
        net,
        &[
            ("volts", "n-"),
            ("floating", "b"),
            ("meter_volts", "o"),
            ("ohms", "o"),
            ("diode_red_on_net", "o"),
            ("diode_red_on_ground", "o"),
        ],
    );
    has(&net["meter_volts"], &[("value", "n"), ("u", "n")]);
    assert_eq!(net["ohms"]["value"], "OL");
}

const BAND: &[(&str, &str)] = &[
    ("nominal", "n"),
    ("u", "n"),
    ("low", "n"),
    ("high", "n"),
    ("shares", "l"),
    ("switches", "l"),
];

#[track_caller]
fn check_band(band: &Value) {
    has(band, BAND);
    for share in list(band, "shares") {
        has(share, &[("part", "s"), ("parameter", "s"), ("of_variance", "n"), ("effect", "n")]);
    }
    let number = |key: &str| band[key].as_f64().unwrap_or(f64::NAN);
    assert!(number("low") <= number("nominal") && number("nominal") <= number("high"), "{band}");
}

#[test]
fn bands() {
    let found = json(&["solve", "gate-supply.toml", "--bands", "--draws", "100"], 0);
    has(&found, &[("version", "n"), ("nets", "o"), ("amps", "o"), ("draws", "o")]);
    for group in ["nets", "amps"] {
        let all = found[group].as_object().expect("an object");
        assert!(!all.is_empty());
        all.values().for_each(check_band);
    }
    let draws = &found["draws"];
    let keys = [("count", "n"), ("lost", "n"), ("good", "n"), ("kept", "o"), ("numbers", "l")];
    has(draws, &keys);
    has(&draws["kept"], &[("EN", "n")]);
    assert_eq!(draws["count"], 100);
    let n_numbers = ["nets", "amps"].map(|group| found[group].as_object().map_or(0, |o| o.len()));
    assert_eq!(list(draws, "numbers").len(), n_numbers[0] + n_numbers[1]);
    for number in list(draws, "numbers") {
        let keys = [("place", "s"), ("quantity", "s"), ("mean", "n"), ("deviation", "n")];
        has(number, &keys);
        has(number, &[("central", "l"), ("ends", "l")]);
    }
    let found = json(&["solve", "gate-supply.toml", "--bands"], 0);
    assert!(found.get("draws").is_none());
}

#[test]
fn substitutes() {
    let found = json(&["substitute", "standby-supply.toml", "R3=51k", "D1=1.8 V"], 0);
    has(
        &found,
        &[
            ("version", "n"),
            ("substitutes", "l"),
            ("nets", "l"),
            ("ratings", "l"),
            ("pins", "l"),
            ("conditions", "l"),
            ("consumers", "l"),
            ("power_up", "o-"),
            ("fits", "s"),
            ("verdict", "s"),
        ],
    );
    assert_eq!(found["fits"], "tight");
    let substitutes = list(&found, "substitutes");
    assert_eq!(substitutes.len(), 2);
    has(&substitutes[0], &[("part", "s"), ("parameter", "s"), ("value", "s")]);
    for net in list(&found, "nets") {
        has(net, &[("net", "s"), ("before", "o"), ("after", "o"), ("limit", "o-")]);
        check_band(&net["before"]);
        check_band(&net["after"]);
    }
    let limit = &list(&found, "nets")[0]["limit"];
    has(limit, &[("min", "n-"), ("max", "n-"), ("before", "s"), ("after", "s")]);
    for rating in list(&found, "ratings") {
        has(rating, &[("part", "s"), ("unit", "s"), ("before", "n"), ("after", "n")]);
        has(rating, &[("most", "n"), ("rated", "n-"), ("stand", "s")]);
    }
    assert!(!list(&found, "consumers").is_empty());
    for consumer in list(&found, "consumers") {
        has(consumer, &[("part", "s"), ("checked", "b"), ("stand", "s")]);
        has(consumer, &[("state_before", "s-"), ("state_after", "s-")]);
        has(consumer, &[("amps_before", "n-"), ("amps_after", "n-")]);
    }
    // Broken: what no longer holds is listed, and so are the orders of switching on.
    let broken = json(&["substitute", "standby-supply.toml", "R3=22k"], 1);
    assert_eq!(broken["fits"], "broken");
    for condition in list(&broken, "conditions") {
        has(condition, &[("part", "s"), ("condition", "s"), ("net", "s"), ("stand", "s")]);
        has(condition, &[("margin_before", "n-"), ("margin_after", "n-")]);
    }
    assert!(!list(&broken, "conditions").is_empty());
    has(&broken["power_up"], &[("before", "l"), ("after", "l")]);
}

#[test]
fn choices() {
    let board = "standby-supply.toml";
    let target = ["--series", "E24", "--target", "5V_SB=5"];
    let found = json(&[&["substitute", board, "R3", "R4"], &target[..]].concat(), 0);
    has(&found, &[("version", "n"), ("net", "s"), ("target", "n"), ("ideal", "l")]);
    has(&list(&found, "ideal")[0], &[("part", "s"), ("value", "n")]);
    for (key, how, n_parts) in [("singles", "single", 1), ("pairs", "", 1), ("both", "single", 2)] {
        assert!(!list(&found, key).is_empty(), "{key}");
        for choice in list(&found, key) {
            has(choice, &[("parts", "l"), ("nominal", "n"), ("low", "n"), ("high", "n")]);
            has(choice, &[("off", "n"), ("fits", "s")]);
            assert_eq!(list(choice, "parts").len(), n_parts);
            for part in list(choice, "parts") {
                has(part, &[("part", "s"), ("parameter", "s"), ("how", "s"), ("values", "l")]);
                has(part, &[("value", "n"), ("notes", "l")]);
                assert!(how.is_empty() || part["how"] == how, "{part}");
            }
        }
    }
}

#[test]
fn check() {
    let found = json(&["check", "gate-supply.toml"], 0);
    has(&found, &[("findings", "l"), ("defaults", "l"), ("version", "n")]);
    for default in list(&found, "defaults") {
        has(default, &[("kind", "s"), ("parameter", "s"), ("value", "s"), ("parts", "l")]);
    }
    let found = json(&["check", "gate-supply.readings.toml"], 2);
    let finding = &list(&found, "findings")[0];
    has(finding, &[("code", "s"), ("severity", "s"), ("message", "s"), ("help", "s-")]);
}

#[test]
fn markings() {
    let found = json(&["marking", "104K", "000"], 0);
    has(&found, &[("version", "n"), ("markings", "l")]);
    let markings = list(&found, "markings");
    assert_eq!(markings.len(), 2);
    for marking in markings {
        has(marking, &[("code", "s"), ("readings", "l")]);
        for reading in list(marking, "readings") {
            has(
                reading,
                &[
                    ("quantity", "s"),
                    ("value", "n"),
                    ("text", "s"),
                    ("words", "s"),
                    ("tolerance", "o-"),
                    ("rule", "s"),
                    ("how", "s"),
                    ("series", "s-"),
                    ("likelihood", "s"),
                ],
            );
            if reading["tolerance"].is_object() {
                let keys = [("text", "s"), ("below", "n"), ("above", "n")];
                has(&reading["tolerance"], &keys);
            }
        }
    }
    let first = &markings[0]["readings"][0];
    assert_eq!(first["quantity"], "capacitance");
    assert_eq!(first["value"], 100e-9);
}
