//! Networks of the classroom: the opens and shorts that a lesson asks for.

use crate::bench::{bench, phrases};

/// Published field case, told in our own words: a bridge of four arms of 1 kΩ on 20 V with one bad
/// arm. Four faults make +10 V and the other four −10 V; an answer that allowed only opens is wrong.
#[test]
fn a_bridge_with_one_bad_arm() {
    let bridge = |readings: &str| {
        bench(
            r#"[parts]
            PS1 = { volts = 20, nets = ["P", "GND"] }
            R1 = { value = "1k", nets = ["P", "A"] }
            R2 = { value = "1k", nets = ["A", "GND"] }
            R3 = { value = "1k", nets = ["P", "B"] }
            R4 = { value = "1k", nets = ["B", "GND"] }"#,
            &format!("[powered.volts]\n{readings}"),
        )
        .opens_and_shorts()
    };
    let high = ["R1 shorted", "R2 open", "R3 open", "R4 shorted"];
    assert_eq!(bridge("\"A to B\" = 10.00"), phrases(&high));
    let low = ["R1 open", "R2 shorted", "R3 shorted", "R4 open"];
    assert_eq!(bridge("\"A to B\" = -10.00"), phrases(&low));
    // One node to ground halves what is left.
    assert_eq!(bridge("\"A to B\" = 10.00\nA = 20.00"), phrases(&["R1 shorted", "R2 open"]));
    assert_eq!(bridge("\"A to B\" = 10.00\nA = 10.00"), phrases(&["R3 open", "R4 shorted"]));
}

/// Published field case, told in our own words: 24.7 V, 270 Ω in series with 560 Ω beside 1.2 kΩ.
/// 16.8 mA instead of 37.9 mA: the 560 Ω is open.
#[test]
fn a_total_current_names_the_open_branch() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 24.7, nets = ["IN", "GND"] }
        R1 = { value = 270, nets = ["IN", "MID"] }
        R2 = { value = 560, nets = ["MID", "GND"] }
        R3 = { value = "1k2", nets = ["MID", "GND"] }"#,
        "[powered.amps]\nPS1 = \"16.8 mA\"",
    );
    assert!((case.expected()[0] - 37.9e-3).abs() < 0.05e-3, "{:?}", case.expected());
    assert_eq!(case.opens_and_shorts(), phrases(&["R2 open"]), "{:#?}", case.all());
}

/// The same: branches of 12 mA, 15 mA and 25 mA, of which 27 mA flow: the third is open. The 12 V
/// are ours.
#[test]
fn a_missing_current_names_the_open_branch() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 12, nets = ["IN", "GND"] }
        R1 = { value = "1k", nets = ["IN", "GND"] }
        R2 = { value = 800, nets = ["IN", "GND"] }
        R3 = { value = 480, nets = ["IN", "GND"] }"#,
        "[powered.amps]\nPS1 = \"27.0 mA\"",
    );
    assert!((case.expected()[0] - 52e-3).abs() < 0.05e-3, "{:?}", case.expected());
    assert_eq!(case.opens_and_shorts(), phrases(&["R3 open"]), "{:#?}", case.all());
}

/// The same: in a series string the part with the full supply across it is open. One with 0 V is
/// shorted only when another has volts: with nothing else read, an open string reads the same.
#[test]
fn a_series_string_by_its_volts() {
    let string = |readings: &str| {
        bench(
            r#"[parts]
            PS1 = { volts = 9, nets = ["IN", "GND"] }
            R1 = { value = "1k", nets = ["IN", "A"] }
            R2 = { value = "1k", nets = ["A", "B"] }
            R3 = { value = "1k", nets = ["B", "GND"] }"#,
            &format!("[powered.volts]\n{readings}"),
        )
        .opens_and_shorts()
    };
    assert_eq!(string("R2 = 9.00"), phrases(&["R2 open"]));
    assert_eq!(string("R2 = 0.00\nR1 = 4.50"), phrases(&["R2 shorted"]));
    assert_eq!(string("R2 = 0.00"), phrases(&["R1 open", "R2 shorted", "R3 open"]));
}
