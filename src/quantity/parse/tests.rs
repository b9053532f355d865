use super::*;

fn read(text: &str, unit: Unit) -> (f64, f64) {
    let number = parse_number(text, unit).unwrap_or_else(|e| panic!("{text}: {e}"));
    (number.value, number.count)
}

fn refused(text: &str, unit: Unit) -> ValueError {
    let error = parse_number(text, unit).expect_err(text);
    assert!(text.get(error.range.clone()).is_some(), "{text}: {:?}", error.range);
    error
}

#[test]
fn every_way_to_write_a_value_gives_value_and_count() {
    let rows = [
        ("4700", Unit::Ohm, 4700.0, 1.0),
        ("24", Unit::Volt, 24.0, 1.0),
        ("1e-3", Unit::Amp, 1e-3, 1e-3),
        ("1.50e-3", Unit::Amp, 1.5e-3, 1e-5),
        ("-0.5", Unit::Volt, -0.5, 0.1),
        ("\u{2212}0.5 V", Unit::Volt, -0.5, 0.1),
        ("+5 V", Unit::Volt, 5.0, 1.0),
        (".5", Unit::One, 0.5, 0.1),
        ("0.00", Unit::Volt, 0.0, 0.01),
        ("2.50 V", Unit::Volt, 2.5, 0.01),
        ("4.7 kΩ", Unit::Ohm, 4700.0, 100.0),
        ("10.0 kΩ", Unit::Ohm, 10e3, 100.0),
        ("47k", Unit::Ohm, 47e3, 1e3),
        ("47K", Unit::Ohm, 47e3, 1e3),
        ("50 mΩ", Unit::Ohm, 0.05, 1e-3),
        ("50m", Unit::Ohm, 0.05, 1e-3),
        ("10 Mohm", Unit::Ohm, 10e6, 1e6),
        ("10 ohms", Unit::Ohm, 10.0, 1.0),
        ("10 Ohm", Unit::Ohm, 10.0, 1.0),
        ("10 \u{3a9}", Unit::Ohm, 10.0, 1.0),
        ("10 \u{2126}", Unit::Ohm, 10.0, 1.0),
        ("10R", Unit::Ohm, 10.0, 1.0),
        ("10 mA", Unit::Amp, 0.01, 1e-3),
        ("10 u", Unit::Amp, 10e-6, 1e-6),
        ("10 \u{b5}A", Unit::Amp, 10e-6, 1e-6),
        ("10 \u{3bc}A", Unit::Amp, 10e-6, 1e-6),
        ("25 °C", Unit::Celsius, 25.0, 1.0),
        ("-40°C", Unit::Celsius, -40.0, 1.0),
        ("3380 K", Unit::Kelvin, 3380.0, 1.0),
        ("100 %", Unit::One, 1.0, 0.01),
        ("100 nF", Unit::Farad, 100e-9, 1e-9),
        ("2 GΩ", Unit::Ohm, 2e9, 1e9),
        ("1 T", Unit::Ohm, 1e12, 1e12),
        ("  4k7  ", Unit::Ohm, 4700.0, 100.0),
        ("4k7 Ω", Unit::Ohm, 4700.0, 100.0),
        ("52k3", Unit::Ohm, 52300.0, 100.0),
        ("2m2", Unit::Ohm, 2.2e-3, 1e-4),
        ("3V3", Unit::Volt, 3.3, 0.1),
        ("5V0", Unit::Volt, 5.0, 0.1),
        ("1A5", Unit::Amp, 1.5, 0.1),
        ("4n7", Unit::Farad, 4.7e-9, 1e-10),
    ];
    for (text, unit, value, count) in rows {
        assert_eq!(read(text, unit), (value, count), "{text}");
    }
}

#[test]
fn refusals_say_what_was_wanted_and_what_to_do() {
    let rows = [
        ("", Unit::Ohm, "expected ohms, found nothing", "write a value such as `4.7 kΩ`"),
        ("4,7k", Unit::Ohm, "expected a decimal point, found a comma in `4,7k`", "write `4.7k`"),
        (",5", Unit::Volt, "expected a decimal point, found a comma in `,5`", "write `.5`"),
        (
            "10,000",
            Unit::Ohm,
            "expected a decimal point, found a comma in `10,000`",
            "write `10.000` if the comma is a decimal mark, `10000` if it groups thousands",
        ),
        (
            "1,234.5",
            Unit::Ohm,
            "expected a decimal point, found a comma in `1,234.5`",
            "write `1234.5`",
        ),
        ("5 V", Unit::Ohm, "expected ohms, found volts in `5 V`", "write a value such as `4.7 kΩ`"),
        (
            "10 mA",
            Unit::Volt,
            "expected volts, found amps in `10 mA`",
            "write a value such as `3.3 V`",
        ),
        ("3V3", Unit::Ohm, "expected ohms, found volts in `3V3`", "write a value such as `4.7 kΩ`"),
        (
            "10 ma",
            Unit::Amp,
            "expected a prefix or unit of amps, found `ma`",
            "write `10 mA`: upper and lower case count",
        ),
        (
            "1 meg",
            Unit::Ohm,
            "expected a prefix or unit of ohms, found `meg`",
            "write `1M`: `M` is mega, `m` is milli",
        ),
        (
            "5 %",
            Unit::Volt,
            "expected volts, found a percentage `5 %`",
            "write a value such as `3.3 V`",
        ),
        (
            "10 000",
            Unit::Ohm,
            "expected one number, found a space inside `10 000`",
            "write `10000` if it is one number",
        ),
        (
            "5 V 3",
            Unit::Volt,
            "expected nothing after the value, found `3`",
            "write one value such as `3.3 V`",
        ),
        (
            "2 counts",
            Unit::Volt,
            "expected a prefix or unit of volts, found `counts`",
            "write a value such as `3.3 V`",
        ),
        (
            "25 m°C",
            Unit::Celsius,
            "expected a prefix or unit of degrees Celsius, found `m°C`",
            "degrees Celsius are written without a prefix, such as `25 °C`",
        ),
        ("inf", Unit::Ohm, "expected ohms, found `inf`", "write a value such as `4.7 kΩ`"),
        ("NaN", Unit::Ohm, "expected ohms, found `NaN`", "write a value such as `4.7 kΩ`"),
    ];
    for (text, unit, message, help) in rows {
        let error = refused(text, unit);
        assert_eq!(error.message, message);
        assert_eq!(error.help.as_deref(), Some(help), "{text}");
    }
}

#[test]
fn two_decimal_marks_are_refused_at_the_second() {
    for text in ["4.7.1", "4..7", "4.7k7", "4k7.5", "4k7k2"] {
        let error = refused(text, Unit::Ohm);
        assert!(error.message.contains("second one"), "{text}: {error}");
    }
    assert_eq!(refused("4.7.1", Unit::Ohm).range, 3..4);
}

#[test]
fn what_a_float_cannot_hold_is_refused() {
    for text in ["1e999", "1e-999", "0e999", "1e99999999999999999999", "1e308k", "-1e999"] {
        let error = refused(text, Unit::Ohm);
        assert!(error.message.contains("outside"), "{text}: {error}");
    }
}

#[test]
fn other_refusals() {
    for text in ["k", "Ω", ".", "-", "--5", "5e", "0x10", "4k7k", "1_000", "5 Q", "kV", "V5", "٣"]
    {
        refused(text, Unit::Ohm);
    }
    refused("V5", Unit::Volt);
    // Neither standard nor bench habit settles whether this is henries or microhenries.
    refused("2R2", Unit::Henry);
}

/// Examples of IEC 60062:2016, clause 4, for resistors.
#[test]
fn letter_code_for_resistors() {
    let rows = [
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4700.0),
        ("47K", 47000.0),
        ("47K3", 47300.0),
        ("470K", 470_000.0),
        ("4M7", 4_700_000.0),
        ("R1", 0.1),
        ("1R", 1.0),
        ("3R32", 3.32),
        ("590R", 590.0),
        ("1M", 1e6),
        ("10M", 1e7),
        ("1G", 1e9),
        ("R05", 0.05),
        ("680R", 680.0),
        ("1M0", 1e6),
    ];
    for (text, ohms) in rows {
        assert_eq!(read(text, Unit::Ohm).0, ohms, "{text}");
    }
}

/// Examples of IEC 60062:2016, clause 4, for capacitors; quoted from memory.
#[test]
fn letter_code_for_capacitors() {
    let rows = [
        ("p10", 0.1e-12),
        ("1p0", 1.0e-12),
        ("4p7", 4.7e-12),
        ("n15", 150e-12),
        ("1n5", 1.5e-9),
        ("33n2", 33.2e-9),
        ("u1", 100e-9),
        ("2u2", 2.2e-6),
        ("10m", 10e-3),
    ];
    for (text, farads) in rows {
        assert_eq!(read(text, Unit::Farad).0, farads, "{text}");
    }
}
