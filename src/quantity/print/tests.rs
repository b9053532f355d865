use super::*;

#[test]
fn the_prefix_is_chosen_after_rounding() {
    let rows = [
        (999.96, Unit::Volt, 4, "1.000 kV"),
        (999.94, Unit::Volt, 4, "999.9 V"),
        (0.99996, Unit::Amp, 4, "1.000 A"),
        (4700.0, Unit::Ohm, 3, "4.70 kΩ"),
        (47.0, Unit::Ohm, 1, "50 Ω"),
        (470.0, Unit::Ohm, 2, "470 Ω"),
        (-0.0123, Unit::Volt, 2, "-12 mV"),
        (0.05, Unit::Ohm, 3, "50.0 mΩ"),
        (1e12, Unit::Ohm, 2, "1.0 TΩ"),
        (1e15, Unit::Ohm, 2, "1.0e15 Ω"),
        (1e-12, Unit::Farad, 2, "1.0 pF"),
        (1e-13, Unit::Farad, 2, "1.0e-13 F"),
        (1500.0, Unit::One, 2, "1500"),
        (0.002, Unit::One, 2, "0.0020"),
        (1500.0, Unit::Kelvin, 4, "1500 K"),
        (25.0, Unit::Celsius, 3, "25.0 °C"),
        (0.0, Unit::Volt, 3, "0 V"),
        (-0.0, Unit::Volt, 3, "0 V"),
        (5.0, Unit::Volt, 0, "5 V"),
        (f64::INFINITY, Unit::Ohm, 3, "inf Ω"),
    ];
    for (value, unit, digits, text) in rows {
        assert_eq!(print(value, unit, digits), text);
    }
    // A digit count from outside must not decide how much memory is used.
    assert!(print(1.0 / 3.0, Unit::Volt, usize::MAX).len() < 30);
}

#[test]
fn short_values_drop_trailing_zeros_only_behind_the_point() {
    let rows = [
        (47e3, Unit::Ohm, "47 kΩ"),
        (52.3e3, Unit::Ohm, "52.3 kΩ"),
        (0.02, Unit::Ohm, "20 mΩ"),
        (100.0, Unit::Volt, "100 V"),
        (1e6, Unit::Ohm, "1 MΩ"),
        (12.34567, Unit::Volt, "12.35 V"),
        (150.0, Unit::One, "150"),
    ];
    for (value, unit, text) in rows {
        assert_eq!(print_short(value, unit), text);
    }
}

#[test]
fn a_count_decides_the_decimals() {
    let rows = [
        (23.9, 0.1, Unit::Volt, "23.9 V"),
        (24.0, 0.1, Unit::Volt, "24.0 V"),
        (0.02, 0.01, Unit::Volt, "0.02 V"),
        (0.0, 0.01, Unit::Volt, "0.00 V"),
        (-0.004, 0.01, Unit::Volt, "0.00 V"),
        (-0.006, 0.01, Unit::Volt, "-0.01 V"),
        (0.4804, 0.001, Unit::Volt, "480 mV"),
        (9.999, 0.01, Unit::Volt, "10.00 V"),
        (999.96, 0.1, Unit::Ohm, "1.0000 kΩ"),
        (10e3, 100.0, Unit::Ohm, "10.0 kΩ"),
        (0.0, 100.0, Unit::Ohm, "0.0 kΩ"),
        (300.0, 100.0, Unit::Ohm, "0.3 kΩ"),
        (12e6, 1e6, Unit::Ohm, "12 MΩ"),
        (25.3, 1.0, Unit::Celsius, "25 °C"),
        (1234.0, 100.0, Unit::Kelvin, "1.2e3 K"),
        (5.0, 0.0, Unit::Volt, "5 V"),
    ];
    for (value, count, unit, text) in rows {
        assert_eq!(print_count(value, count, unit), text, "{value} {count}");
    }
}

#[test]
fn words_keep_milli_and_mega_apart() {
    let rows = [
        (4700.0, Unit::Ohm, "4.7 kilohms"),
        (0.05, Unit::Ohm, "50 milliohms"),
        (2e6, Unit::Ohm, "2 megohms"),
        (2e9, Unit::Ohm, "2 gigaohms"),
        (1.0, Unit::Ohm, "1 ohm"),
        (1e3, Unit::Ohm, "1 kilohm"),
        (3.3, Unit::Volt, "3.3 volts"),
        (-0.01, Unit::Volt, "-10 millivolts"),
        (0.0, Unit::Volt, "0 volts"),
        (-0.0, Unit::Volt, "0 volts"),
        (f64::NEG_INFINITY, Unit::Volt, "-inf volts"),
        (25.0, Unit::Celsius, "25 degrees Celsius"),
        (1.0, Unit::Celsius, "1 degree Celsius"),
        (10e-6, Unit::Henry, "10 microhenries"),
        (1.0, Unit::Henry, "1 henry"),
        (150.0, Unit::One, "150"),
        (1e-15, Unit::Farad, "1e-15 farads"),
    ];
    for (value, unit, text) in rows {
        assert_eq!(in_words(value, unit), text);
    }
}
