//! Lines that are pulled down or up by something that is not drawn.

use crate::bench::{bench, circuit, phrases, state};

/// Published field case, told in our own words: a reset line half way. The resistance that the two
/// readings imply is 10 kΩ × 1.4 V / 1.8 V = 7.8 kΩ; what sinks it was never said.
#[test]
fn a_reset_line_half_way_has_a_leak() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 3.3, nets = ["3V3", "GND"] }
        R1 = { value = "10k", nets = ["3V3", "RESET"] }
        S1 = { nets = ["RESET", "GND"] }"#,
        r#"[powered.volts]
        R1 = "1.8 ± 0.05"
        RESET = "1.4 ± 0.05""#,
    );
    case.assert_inside("RESET leak", 10e3 * 1.4 / 1.8);
    assert!(!case.is_healthy());
    // A worn resistor alone would need the meter as its load, and could not read both.
    assert!(!case.reproduces("R1 drifted"), "{:#?}", case.all());
    assert!(!case.reproduces("PS1 low"), "{:#?}", case.all());
}

/// Published field case, told in our own words: a stuck key line after water. 10 kΩ × 0.628 V /
/// 4.372 V = 1.44 kΩ. That 0.628 V is a diode drop as well is the case's other explanation.
#[test]
fn a_key_line_after_water_leaks() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 5, nets = ["5V", "GND"] }
        R1 = { value = "10k", nets = ["5V", "KEY"] }
        S1 = { nets = ["KEY", "K1"] }
        R2 = { value = "1k", nets = ["K1", "GND"] }"#,
        r#"[powered.volts]
        KEY = 0.628"#,
    );
    case.assert_inside("KEY leak", 1436.0);
    assert!(!case.reproduces("R1 drifted"), "{:#?}", case.all());
    // The pressed key itself would give 0.45 V; its resistor is ours.
    assert!(!case.reproduces("S1 shorted"), "{:#?}", case.all());
}

/// The sister case: a pin with pull-ups of 5 kΩ and 50 kΩ reads "0 V" and 100 Ω to ground, which
/// makes 71 mV.
#[test]
fn a_pin_of_a_hundred_ohms_to_ground() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 3.3, nets = ["3V3", "GND"] }
        R1 = { value = "5k", nets = ["3V3", "PIN"] }
        R2 = { value = "50k", nets = ["3V3", "PIN"] }"#,
        r#"[powered.volts]
        PIN = "0.0 ± 0.1 V"
        [unpowered.ohms]
        PIN = 100"#,
    );
    // The leads' 0.2 Ω are part of the reading.
    case.assert_inside("PIN leak", 99.8);
    let candidate = &case.diagnosis.candidates[0];
    assert!((candidate.predicted[0] - 0.071).abs() < 0.001, "{:?}", candidate.predicted);
}

/// Published field case, told in our own words: a bench supply of 4.2 V stands at its limit of 1 A
/// and shows 0.130 V. The leads alone had 0.13 Ω: the board is a dead short.
#[test]
fn a_bench_supply_at_its_limit_sees_its_leads() {
    const BOARD: &str = r#"[parts]
        PS1 = { volts = 4.2, limit = "1 A ± 1 %", nets = ["OUT", "GND"] }
        W1 = { resistance = "0.13 Ω ± 5 %", nets = ["OUT", "RAIL"] }
        C1 = { value = "10 µF", nets = ["RAIL", "GND"] }
        R1 = { value = "100R", nets = ["RAIL", "GND"] }"#;
    let display = r#"
        [meter]
        amps = { resistance = 0 }
        [powered.amps]
        PS1 = "1.00 ± 0.01"
        [powered.volts]
        OUT = "0.130 ± 0.005""#;
    let case = bench(BOARD, display);
    // The display alone does not tell a short behind the leads from one of 0.13 Ω before them.
    assert!(case.reproduces("C1 shorted"), "{:#?}", case.all());
    case.assert_inside("OUT leak", 0.130);
    // A limit that is too low gives less than 1 A into 100 Ω.
    assert!(!case.reproduces("PS1 limited"), "{:#?}", case.all());
    let case = bench(BOARD, &format!("{display}\nRAIL = \"0.000 ± 0.002 V\""));
    assert!(case.reproduces("C1 shorted"), "{:#?}", case.all());
    assert!(!case.reproduces("OUT leak"), "{:#?}", case.all());
    // A link in place of the short: the supply says that it is in its limit.
    let shorted =
        circuit(&format!("{BOARD}\nW2 = {{ resistance = \"1m\", nets = [\"RAIL\", \"GND\"] }}"));
    let (state, amps) = state(&shorted, "PS1");
    assert_eq!(state, Some("at its current limit"));
    assert!((amps - 1.0).abs() < 1e-6, "{amps}");
}

/// Published field case, told in our own words: a battery divider of 33 kΩ and 100 kΩ reads 5 %
/// high because a pin's pull-up is on. With 4.0 V and 3.3 V, which are ours, the pull-up that makes
/// it is 142 mV / 6.06 µA = 23.4 kΩ; the case says 23 kΩ.
#[test]
fn a_divider_with_a_hidden_pull_up() {
    const BOARD: &str = r#"[parts]
        BT1 = { volts = 4, tolerance = "0.2 %", nets = ["BAT", "GND"] }
        PS1 = { volts = 3.3, tolerance = "0.2 %", nets = ["3V3", "GND"] }
        R1 = { value = "33k", tolerance = "0.1 %", nets = ["BAT", "MID"] }
        R2 = { value = "100k", tolerance = "0.1 %", nets = ["MID", "GND"] }
        [board]
        neighbours = [["3V3", "MID"]]
        [setups.apart]
        disconnect = ["BT1"]"#;
    let mid = 1.05 * 4.0 * 100.0 / 133.0;
    let pull_up: f64 = (3.3 - mid) / (mid / 100e3 - (4.0 - mid) / 33e3);
    assert!((pull_up - 23.45e3).abs() < 50.0, "{pull_up}");
    let high = format!("[powered.volts]\nMID = \"{mid:.3} ± 0.003\"");
    let case = bench(BOARD, &high);
    let bridge = "3V3 to MID bridge";
    case.assert_inside(bridge, pull_up);
    // The drifts that make the same 5 %, by hand: R1 at 26.7 kΩ, R2 at 125 kΩ.
    let near = |phrase: &str, ohms: f64| {
        let value = case.value(phrase);
        assert!((value / ohms - 1.0).abs() < 0.02, "{phrase} {value}, expected {ohms}");
    };
    near("R1 drifted", 26.67e3);
    near("R2 drifted", 123.8e3);
    // Our own second reading, the battery taken off: only something else than the divider gives
    // volts then.
    let apart = 3.3 * 100e3 / (100e3 + pull_up);
    let case = bench(BOARD, &format!("{high}\n[apart.volts]\nMID = \"{apart:.3} ± 0.003\""));
    case.assert_inside(bridge, pull_up);
    assert_eq!(case.found(), phrases(&[bridge]), "{:#?}", case.all());
}

/// Published field case, told in our own words: 5 V, 6.8 kΩ and 10 kΩ make 2.98 V, and 2.48 V is
/// read. The case speaks of 75 µA; but the current of the 10 kΩ falls as well, and what is missing
/// is 2.52 V / 6.8 kΩ − 2.48 V / 10 kΩ = 123 µA, or 20.2 kΩ.
#[test]
fn a_loaded_reference_misses_more_current_than_was_said() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 5, tolerance = "0.5 %", nets = ["5V", "GND"] }
        R1 = { value = "6k8", tolerance = "1 %", nets = ["5V", "VREF"] }
        R2 = { value = "10k", tolerance = "1 %", nets = ["VREF", "GND"] }"#,
        r#"[powered.volts]
        VREF = 2.48"#,
    );
    let expected = case.expected()[0];
    assert!((expected - 2.975).abs() < 0.001, "{expected}");
    let amps: f64 = 2.52 / 6.8e3 - 2.48 / 10e3;
    assert!((amps - 123e-6).abs() < 0.5e-6);
    let leak = case.value("VREF leak");
    assert!((leak / (2.48 / amps) - 1.0).abs() < 0.03, "{leak}");
    assert!(leak < 0.8 * 2.48 / 75e-6, "{leak}");
    // One and the same change is R2 at 6.69 kΩ.
    let drifted = case.value("R2 drifted");
    assert!((drifted / 6.69e3 - 1.0).abs() < 0.02, "{drifted}");
}

/// Published field case, told in our own words: a shorted rail walked with a milliohm meter. 84.2,
/// 35.9 and 11.3 mΩ at three places: the part at the lowest one was the fault, and between the ends
/// lie 72.9 mΩ of copper. The copper is ours to 10 %, as it would be worked out from the board.
#[test]
fn walking_a_short_ends_at_the_lowest_reading() {
    let case = bench(
        r#"[parts]
        W1 = { resistance = "48 mΩ ± 10 %", nets = ["RAIL1", "RAIL2"] }
        W2 = { resistance = "25 mΩ ± 10 %", nets = ["RAIL2", "RAIL3"] }
        C1 = { value = "10 µF", nets = ["RAIL1", "GND"] }
        C2 = { value = "10 µF", nets = ["RAIL2", "GND"] }
        C3 = { value = "10 µF", nets = ["RAIL3", "GND"] }"#,
        r#"[meter]
        ohms = { leads = 0, open_volts = 1, amps = 0.1 }
        [unpowered.ohms]
        RAIL1 = "84.2 mΩ"
        RAIL2 = "35.9 mΩ"
        RAIL3 = "11.3 mΩ""#,
    );
    assert_eq!(case.found(), phrases(&["C3 shorted", "RAIL3 leak"]), "{:#?}", case.all());
    let short = case.value("C3 shorted");
    assert!((short / 11.3e-3 - 1.0).abs() < 0.05, "{short}");
}

/// The same walk without any copper on the drawing says nothing of where: a leak is only as near as
/// the nets are told apart.
#[test]
fn a_rail_drawn_as_one_net_does_not_tell_its_parts_apart() {
    let case = bench(
        r#"[parts]
        C1 = { value = "10 µF", nets = ["RAIL", "GND"] }
        C2 = { value = "10 µF", nets = ["RAIL", "GND"] }"#,
        r#"[unpowered.ohms]
        RAIL = "0.21 Ω""#,
    );
    let shorts = phrases(&["C1 shorted", "C2 shorted"]);
    assert_eq!(case.opens_and_shorts(), shorts, "{:#?}", case.all());
}

/// Published field case, told in our own words: a rail of low ohms. Capacitors on it read 6.8 Ω to
/// ground, on a healthy board of the same kind 250 Ω. What the chips on the rail make of 250 Ω is
/// on no drawing: the good board tells it. The leak is then 7 Ω, whatever the model says.
#[test]
fn a_low_rail_beside_a_good_board() {
    let circuit = r#"[parts]
        PS1 = { volts = "5 V", nets = ["RAIL", "GND"] }
        R1 = { value = "10k", nets = ["RAIL", "GND"] }
        C1 = { value = "10 µF", nets = ["RAIL", "GND"] }
        C2 = { value = "10 µF", nets = ["RAIL", "GND"] }"#;
    let bad = "[unpowered.ohms]\nRAIL = 6.8\n[good.unpowered.ohms]\nRAIL = 250";
    let case = bench(circuit, bad);
    approx::assert_relative_eq!(case.expected()[0], 250.0, max_relative = 1e-3);
    assert!(!case.is_healthy());
    // 6.8 Ω less the leads of 0.2 Ω, beside 250 Ω: 6.8 Ω of leak.
    for leak in ["C1 leaky", "C2 leaky", "RAIL leak"] {
        approx::assert_relative_eq!(case.value(leak), 6.8, max_relative = 0.05);
    }
    // The same 250 Ω on this board is nothing, though the model alone would call it a leak.
    let same = "[unpowered.ohms]\nRAIL = 247\n[good.unpowered.ohms]\nRAIL = 250";
    assert!(bench(circuit, same).is_healthy());
    assert!(!bench(circuit, "[unpowered.ohms]\nRAIL = 247").is_healthy());
}
