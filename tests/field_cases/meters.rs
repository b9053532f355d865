//! What the meter does to the circuit, and a meter that is itself the fault.

use crate::bench::{bench, phrases};

/// The value agrees with a printed one to half of its last digit.
#[track_caller]
fn shows(found: f64, printed: &str) {
    let decimals = printed.split_once('.').map_or(0, |(_, digits)| digits.len());
    let half = 0.5001 * 10.0_f64.powi(-(decimals as i32));
    let expected: f64 = printed.parse().unwrap();
    assert!((found - expected).abs() <= half, "{found}, printed {printed}");
}

/// Published field case, told in our own words: a pull-up of 3.3 MΩ and an ordinary meter. A good
/// pin reads 2.48 V with 10 MΩ. 0.95 V needs 1.33 MΩ in all, of which the pin has 1.54 MΩ.
#[test]
fn a_pull_up_of_megohms_and_an_ordinary_meter() {
    let pin = |input: &str| {
        bench(
            r#"[parts]
            PS1 = { volts = 3.3, nets = ["3V3", "GND"] }
            R1 = { value = "3M3", nets = ["3V3", "PIN"] }"#,
            &format!("[meter]\nvolts = {{ input = \"{input}\" }}\n[powered.volts]\nPIN = 0.95"),
        )
    };
    let ordinary = pin("10 MΩ");
    shows(ordinary.expected()[0], "2.48");
    assert!(!ordinary.is_healthy());
    let all: f64 = 3.3e6 * 0.95 / (3.3 - 0.95);
    assert!((all - 1.33e6).abs() < 5e3);
    ordinary.assert_inside("PIN leak", 1.0 / (1.0 / all - 1.0 / 10e6));
    // An old meter of 1 MΩ would show less than was read on a good pin.
    let old = pin("1 MΩ");
    shows(old.expected()[0], "0.77");
    assert!(!old.reproduces("PIN leak"), "{:#?}", old.all());
    // A meter of exactly what is missing explains it without any fault.
    assert!(pin("1.33 MΩ").is_healthy());
}

/// Published field cases, told in our own words: 5.09 V through 100 kΩ into a meter of 1 MΩ, and
/// 30 V over two resistors of 400 kΩ read with 20 kΩ/V on the range of 20 V.
#[test]
fn a_meter_loads_what_it_reads() {
    let old = bench(
        r#"[parts]
        PS1 = { volts = 5.09, nets = ["IN", "GND"] }
        R1 = { value = "100k", nets = ["IN", "POINT"] }"#,
        r#"[meter]
        volts = { input = "1 MΩ" }
        [powered.volts]
        POINT = 4.64
        IN = 5.09"#,
    );
    shows(old.expected()[0], "4.627");
    assert!(old.is_healthy(), "{:#?}", old.all());

    let halves = |input: &str, shown: &str| {
        bench(
            r#"[parts]
            PS1 = { volts = 30, resistance = 0, nets = ["IN", "GND"] }
            R1 = { value = "400k", nets = ["IN", "MID"] }
            R2 = { value = "400k", nets = ["MID", "GND"] }"#,
            &format!(
                "[meter]\nvolts = {{ input = \"{input}\" }}\n\
                 [powered.volts]\nR1 = {shown}\nR2 = {shown}"
            ),
        )
    };
    let coil = halves("20 kΩ/V on 20 V", "10.0");
    let digital = halves("10 MΩ", "10.0");
    for half in 0..2 {
        shows(coil.expected()[half], "10.0000");
        // 400 kΩ beside 10 MΩ is 384.6 kΩ.
        shows(digital.expected()[half], "14.706");
    }
    assert!(coil.is_healthy());
    assert!(!digital.is_healthy());
}

/// Published field case, told in our own words: the meter is the fault. A rail of 5 V reads 4.85 V
/// and one of 31.6 V reads 30.6 V, with all parts good: 3 % low everywhere.
#[test]
fn a_meter_that_reads_low_everywhere() {
    let rails = |tolerance: &str, accuracy: &str| {
        bench(
            &format!(
                r#"[parts]
                PS1 = {{ volts = 5, tolerance = "{tolerance}", nets = ["5V", "GND"] }}
                PS2 = {{ volts = 31.6, tolerance = "{tolerance}", nets = ["31V", "GND"] }}
                R1 = {{ value = "1k", nets = ["5V", "GND"] }}
                R2 = {{ value = "10k", nets = ["31V", "GND"] }}"#
            ),
            &format!(
                "[meter]\nvolts = {{ accuracy = \"{accuracy}\" }}\n\
                 [powered.volts]\n5V = 4.85\n31V = 30.60"
            ),
        )
    };
    // Rails of 1 % and a good meter: each low supply explains its own rail and not the other.
    let good_meter = rails("1 %", "0.5 % + 2 counts");
    assert_eq!(good_meter.found(), phrases(&["volts meter off by a factor"]));
    good_meter.assert_inside("volts meter off by a factor", 0.969);
    assert!(!good_meter.is_healthy(), "{:#?}", good_meter.all());
    // A meter of 4 % explains both at once, since its gain is one and the same for both.
    let poor_meter = rails("1 %", "4 % + 2 counts");
    assert!(poor_meter.is_healthy(), "{:#?}", poor_meter.all());
    // So do rails that may be 5 % off: then nothing is wrong at all.
    assert!(rails("5 %", "0.5 % + 2 counts").is_healthy());
}
