//! Laws of the values: what is printed reads back, and no text brings the reader down.

use ohmhound::quantity::{
    ReadingValue, Series, Unit, is_usual, letter_code, parse_joined, parse_number, parse_reading,
    parse_tolerance, parse_toleranced, prefix_slip, print, print_count, print_exact, print_short,
    slips,
};
use proptest::prelude::*;

fn unit() -> impl Strategy<Value = Unit> {
    prop::sample::select(Unit::ALL.to_vec())
}

/// Values of either sign, spread evenly over the decades.
fn value() -> impl Strategy<Value = f64> {
    (-12.0..12.0, any::<bool>()).prop_map(|(exponent, negative): (f64, bool)| {
        let size = 10_f64.powf(exponent);
        if negative { -size } else { size }
    })
}

/// Text made of the pieces that values are made of, which gets further than any text would.
fn near_value() -> impl Strategy<Value = String> {
    let pieces = vec![
        "0", "1", "4", "7", "99", ".", "..", ",", "-", "\u{2212}", "+", "e", "E", "k", "K", "M",
        "m", "µ", "p", "R", "Ω", "V", "A", "°C", "%", " ", "±", "+-", "/", "×", "x", "÷", "<", ">",
        "OL", "at", " at ", "\u{a0}", "é",
    ];
    prop::collection::vec(prop::sample::select(pieces), 0..9).prop_map(|pieces| pieces.concat())
}

fn errors_point_inside(text: &str, unit: Unit) {
    let errors = [
        parse_number(text, unit).err(),
        parse_toleranced(text, unit).err(),
        parse_tolerance(text, unit).err(),
        parse_reading(text, unit).err(),
        parse_joined(text, unit, "at", Unit::Amp).err(),
    ];
    if let Some(slip) = prefix_slip(text, unit) {
        assert!(slip.value.is_finite() && slip.meant.is_finite(), "{text:?}: {slip:?}");
    }
    for error in errors.into_iter().flatten() {
        assert!(text.get(error.range.clone()).is_some(), "{text:?}: {error:?}");
        assert!(!error.message.is_empty());
    }
}

proptest! {
    #[test]
    fn exact_print_reads_back(value in value(), unit in unit()) {
        let text = print_exact(value, unit);
        prop_assert_eq!(parse_number(&text, unit).map(|n| n.value), Ok(value), "{}", text);
    }

    #[test]
    fn exact_print_reads_back_for_every_finite_number(
        value in prop::num::f64::NORMAL | prop::num::f64::ZERO,
        unit in unit(),
    ) {
        let text = print_exact(value, unit);
        // Near the smallest number a last digit is worth less than any number; that is refused.
        if value == 0.0 || value.abs() > 1e-290 {
            prop_assert_eq!(parse_number(&text, unit).map(|n| n.value), Ok(value), "{}", text);
        }
    }

    #[test]
    fn rounded_print_reads_back_within_half_of_its_last_digit(
        value in value(),
        unit in unit(),
        digits in 1_usize..12,
    ) {
        let text = print(value, unit, digits);
        let read = parse_number(&text, unit).unwrap().value;
        let half = 0.5 * 10_f64.powf(value.abs().log10().floor() - digits as f64 + 1.0);
        prop_assert!((read - value).abs() <= half * (1.0 + 1e-9), "{value} {text}");
        prop_assert!(parse_number(&print_short(value, unit), unit).is_ok());
    }

    #[test]
    fn the_count_of_a_printed_reading_is_the_one_asked_for(
        steps in -60_000_i32..60_000,
        exponent in -9_i32..9,
        unit in unit(),
    ) {
        let count: f64 = format!("1e{exponent}").parse().unwrap();
        let value: f64 = format!("{steps}e{exponent}").parse().unwrap();
        let text = print_count(value, count, unit);
        let read = parse_reading(&text, unit);
        prop_assert_eq!(
            read,
            Ok(ReadingValue::Number { value, count, half_width: None }),
            "{}", text
        );
        prop_assert!(!text.starts_with("-0 ") && text != "-0");
    }

    #[test]
    fn a_value_between_two_counts_prints_as_the_nearer(
        value in -1e4..1e4_f64,
        exponent in -6_i32..3,
    ) {
        let count: f64 = format!("1e{exponent}").parse().unwrap();
        let text = print_count(value, count, Unit::Ohm);
        let read = parse_number(&text, Unit::Ohm).unwrap();
        prop_assert_eq!(read.count, count, "{}", text);
        prop_assert!((read.value - value).abs() <= 0.5 * count + 1e-9 * value.abs(), "{}", text);
    }

    #[test]
    fn letter_codes_read_back(digits in 1_u32..10_000, exponent in -4_i32..12) {
        let ohms: f64 = format!("{digits}e{exponent}").parse().unwrap();
        let code = letter_code(ohms);
        prop_assert!(code.is_some(), "{ohms}");
        let code = code.unwrap();
        prop_assert_eq!(parse_number(&code, Unit::Ohm).map(|n| n.value), Ok(ohms), "{}", code);
    }

    #[test]
    fn no_text_brings_the_reader_down(text in any::<String>(), unit in unit()) {
        errors_point_inside(&text, unit);
    }

    #[test]
    fn no_near_value_brings_the_reader_down(text in near_value(), unit in unit()) {
        errors_point_inside(&text, unit);
    }

    #[test]
    fn no_number_brings_the_printer_down(value in any::<f64>(), count in any::<f64>(), unit in unit()) {
        prop_assert!(!print_count(value, count, unit).is_empty());
        prop_assert!(!print(value, unit, 3).starts_with("-0 "));
        let _ = letter_code(value);
        for series in Series::ALL {
            for slip in slips(value, series) {
                prop_assert!(is_usual(slip.value, slip.series), "{value} {slip:?}");
            }
        }
    }

    #[test]
    fn no_preferred_value_is_nearer_than_the_nearest(value in 1e-9..1e9_f64) {
        for series in Series::ALL {
            let distance = |candidate: f64| (candidate / value).ln().abs();
            let nearest = distance(series.nearest(value));
            for step in series.values() {
                for decade in -13..13 {
                    let other = f64::from(*step) * 10_f64.powi(decade);
                    prop_assert!(nearest <= distance(other) + 1e-12, "{series:?} {value} {other}");
                }
            }
        }
    }
}

#[test]
fn very_long_texts_are_refused_or_read_in_good_time() {
    for piece in ["9", ",1", ". ", "/", "±", "%", "k", "1 ", ".."] {
        errors_point_inside(&piece.repeat(20_000), Unit::Ohm);
    }
}
