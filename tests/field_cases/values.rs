//! Wrong values, thermistors and loops.

use crate::bench::{bench, circuit, state};

/// Published field case, told in our own words: 680 Ω in place of 680 kΩ in a battery divider. The
/// battery of 4.0 V and the 220 kΩ below are ours.
#[test]
fn three_decades_too_small() {
    let case = bench(
        r#"[parts]
        BT1 = { volts = 4, nets = ["BAT", "GND"] }
        R1 = { value = "680k", tolerance = "1 %", nets = ["BAT", "MID"] }
        R2 = { value = "220k", tolerance = "1 %", nets = ["MID", "GND"] }"#,
        "[powered.volts]\nMID = 3.99\nBAT = 4.00",
    );
    assert!((case.expected()[0] - 0.978).abs() < 0.02, "{:?}", case.expected());
    case.assert_inside("R1 drifted", 680.0);
    // 12 mV in 4 V do not tell it from a short.
    assert!(case.reproduces("R1 shorted"), "{:#?}", case.all());
    assert!(!case.reproduces("R2 drifted"), "{:#?}", case.all());
}

/// The same, 220 Ω in place of 220 kΩ before a pin with 220 kΩ and 100 kΩ inside: 3.7 V put 1.156 V
/// on a pin whose full scale is 1 V.
#[test]
fn three_decades_too_small_before_a_pin() {
    let case = bench(
        r#"[parts]
        BT1 = { volts = 3.7, nets = ["BAT", "GND"] }
        R1 = { value = "220k", tolerance = "1 %", nets = ["BAT", "PIN"] }
        R2 = { value = "220k", tolerance = "1 %", nets = ["PIN", "ADC"] }
        R3 = { value = "100k", tolerance = "1 %", nets = ["ADC", "GND"] }"#,
        "[powered.volts]\nADC = \"1.156 ± 0.01\"\nBAT = 3.700",
    );
    case.assert_inside("R1 drifted", 220.0);
}

/// The same, 100 kΩ in place of 100 Ω before an LED, which stays dark. 5 V and the LED are ours:
/// 3.3 V over 100 kΩ leave 33 µA, at which the junction drops 2 V − 2 × 25.7 mV × ln(10 mA / 33 µA)
/// = 1.71 V.
#[test]
fn three_decades_too_large_before_an_led() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 5, nets = ["5V", "GND"] }
        R1 = { value = "100R", nets = ["5V", "LED_A"] }
        D1 = { kind = "led", drop = "2.0 V at 10 mA", tolerance = "1 %", nets = ["LED_A", "GND"] }"#,
        "[powered.volts]\nLED_A = 1.71\n[powered.seen]\nD1 = \"dark\"",
    );
    case.assert_inside("R1 drifted", 100e3);
    assert!(!case.reproduces("R1 open") && !case.reproduces("D1 open"), "{:#?}", case.all());
}

/// The same, the bags of 10 kΩ and 1 kΩ exchanged. The divider of both on 5 V is ours: 0.45 V turn
/// into 4.55 V, as would two decades on either resistor.
#[test]
fn two_bags_exchanged() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 5, nets = ["5V", "GND"] }
        R1 = { value = "10k", tolerance = "1 %", nets = ["5V", "MID"] }
        R2 = { value = "1k", tolerance = "1 %", nets = ["MID", "GND"] }"#,
        "[powered.volts]\nMID = 4.55\n5V = 5.00",
    );
    assert!(case.reproduces("R1 and R2 exchanged"), "{:#?}", case.all());
    case.assert_inside("R1 drifted", 100.0);
    case.assert_inside("R2 drifted", 100e3);
}

/// The same, a part number of 100 mΩ where 100 MΩ was meant: `m` and `M` are never confused.
#[test]
fn milli_is_not_mega() {
    for (text, ohms) in
        [("100m", 0.1), ("100 mΩ", 0.1), ("100M", 100e6), ("100 MΩ", 100e6), ("0R1", 0.1)]
    {
        let circuit = circuit(&format!(
            "[parts]\nR1 = {{ value = \"{text}\", nets = [\"A\", \"GND\"] }}\nR2 = {{ value = \"1k\", nets = [\"A\", \"GND\"] }}"
        ));
        let value = circuit.parts[0].nominal("value").unwrap();
        assert!((value / ohms - 1.0).abs() < 1e-12, "{text}: {value}");
    }
}

/// Published field case, told in our own words: 110 kΩ over a thermistor of 10 kΩ on 3.3 V reads
/// 0.297 V, which is 10.9 kΩ and 23 °C. Its B value of 3950 K is assumed.
#[test]
fn a_thermistor_input_is_right_at_its_temperature() {
    let at = |celsius: f64| {
        bench(
            &format!(
                r#"[parts]
                PS1 = {{ volts = 3.3, tolerance = "0.5 %", nets = ["3V3", "GND"] }}
                R1 = {{ value = "110k", tolerance = "1 %", nets = ["3V3", "NTC"] }}
                RT1 = {{ value = "10k ± 1 %", beta = 3950, nets = ["NTC", "GND"] }}
                [setups.room]
                temperature = "{celsius} °C""#
            ),
            "[room.volts]\nNTC = 0.297",
        )
    };
    let room = at(23.0);
    assert!(room.is_healthy(), "{:#?}", room.all());
    // 10 kΩ exp(3950 K (1 / 296.15 K − 1 / 298.15 K)) = 10.936 kΩ, and the meter takes 0.1 %.
    let shown = 3.3 * 10.936 / 120.936 / (1.0 + 9.947e3 / 10e6);
    assert!((room.expected()[0] - shown).abs() < 2e-5, "{:?} {shown}", room.expected());
    // 0.297 V are 10.88 kΩ, which the law has at 23.1 °C.
    let exact = at(23.1);
    assert!((exact.expected()[0] - 0.297).abs() < 5e-4, "{:?}", exact.expected());
    // Ten degrees more would take a fault.
    assert!(!at(33.0).is_healthy());
}

/// Published field case, told in our own words: a loop of 24 V whose transmitter needs 8 V drives
/// 20 mA through at most 800 Ω. Supply and transmitter are one source of 20 mA up to 16 V here.
#[test]
fn a_current_loop_drives_at_most_its_compliance() {
    let into = |milliamps: f64, ohms: f64| {
        circuit(&format!(
            r#"[parts]
            I1 = {{ kind = "current-source", amps = "{milliamps} mA", compliance = 16, nets = ["LOOP", "GND"] }}
            R1 = {{ value = {ohms}, nets = ["LOOP", "GND"] }}"#
        ))
    };
    for (milliamps, ohms, volts) in
        [(20.0, 250.0, 5.0), (4.0, 250.0, 1.0), (20.0, 150.0, 3.0), (4.0, 150.0, 0.6)]
    {
        let (_, amps) = state(&into(milliamps, ohms), "I1");
        assert!((amps * ohms - volts).abs() < 1e-6, "{milliamps} mA, {ohms} Ω: {amps}");
    }
    let (word, amps) = state(&into(20.0, 799.0), "I1");
    assert_eq!(word, Some("holding its current"));
    assert!((amps - 20e-3).abs() < 1e-8, "{amps}");
    let (word, amps) = state(&into(20.0, 810.0), "I1");
    assert_eq!(word, Some("at its compliance"));
    assert!((amps - 16.0 / 810.0).abs() < 1e-5, "{amps}");
}

/// The same loop: 0 mA is an open one; a steady 3.98 mA was a true low reading and no fault.
#[test]
fn a_low_loop_current_is_no_fault() {
    const LOOP: &str = r#"[parts]
        I1 = { kind = "current-source", amps = "4 mA", compliance = 16, nets = ["LOOP", "GND"] }
        F1 = { nets = ["LOOP", "IN"] }
        R1 = { value = 250, nets = ["IN", "GND"] }"#;
    assert!(bench(LOOP, "[powered.amps]\nF1 = \"3.98 mA\"").is_healthy());
    let open = bench(LOOP, "[powered.amps]\nF1 = \"0.00 mA\"");
    for phrase in ["F1 open", "R1 open", "I1 absent"] {
        assert!(open.reproduces(phrase), "{phrase} {:#?}", open.all());
    }
    assert!(!open.reproduces("R1 shorted"), "{:#?}", open.all());
}
