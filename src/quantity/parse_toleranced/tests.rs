use approx::assert_relative_eq;

use super::*;

fn read(text: &str, unit: Unit) -> Toleranced {
    parse_toleranced(text, unit).unwrap_or_else(|e| panic!("{text}: {e}"))
}

fn refused(text: &str, unit: Unit) -> ValueError {
    let error = parse_toleranced(text, unit).expect_err(text);
    assert!(text.get(error.range.clone()).is_some(), "{text}: {:?}", error.range);
    error
}

#[test]
fn half_widths_are_read_in_percent_and_in_the_unit() {
    let rows = [
        ("0.8 V ± 1.5 %", Unit::Volt, 0.8, 0.012),
        ("0.8 V +- 1.5%", Unit::Volt, 0.8, 0.012),
        ("0.8 V +/- 1.5%", Unit::Volt, 0.8, 0.012),
        ("0.8V±1.5%", Unit::Volt, 0.8, 0.012),
        ("0.8 ± 0.01", Unit::Volt, 0.8, 0.01),
        ("0.8 V ± 0.01", Unit::Volt, 0.8, 0.01),
        ("10k ± 100 Ω", Unit::Ohm, 10e3, 100.0),
        ("47k 1 %", Unit::Ohm, 47e3, 470.0),
        ("4k7 5%", Unit::Ohm, 4700.0, 235.0),
        ("-5 V ± 2 %", Unit::Volt, -5.0, 0.1),
        ("0 V ± 5 mV", Unit::Volt, 0.0, 5e-3),
        ("0.85 ± 2 %", Unit::One, 0.85, 0.017),
    ];
    for (text, unit, nominal, half_width) in rows {
        let value = read(text, unit);
        assert_eq!(value.nominal, nominal, "{text}");
        assert_relative_eq!(value.half_width_low(), half_width, max_relative = 1e-12);
        assert_relative_eq!(value.half_width_high(), half_width, max_relative = 1e-12);
    }
    assert_eq!(read("0.8 V", Unit::Volt), Toleranced::bare(0.8));
    assert_eq!(read("80 %", Unit::One), Toleranced::bare(0.8));
}

#[test]
fn factors_and_datasheet_triples_are_read() {
    for text in ["150 ×/÷ 2", "150 x/ 2", "150 ×/2", "150 x/÷2"] {
        let gain = read(text, Unit::One);
        assert_eq!(gain.spread, Some(Spread::Factor(2.0)), "{text}");
        assert_eq!((gain.least(), gain.most()), (75.0, 300.0));
    }
    let threshold = read("1.1 V / 1.2 V / 1.3 V", Unit::Volt);
    assert_eq!(threshold.nominal, 1.2);
    assert_eq!(threshold.spread, Some(Spread::Between { least: 1.1, most: 1.3 }));
    assert_eq!(read("0 / 1.2 / 1.3", Unit::Volt).least(), 0.0);
}

#[test]
fn tolerances_that_make_no_sense_are_refused() {
    let rows = [
        ("5 V ± -1 %", Unit::Volt, "zero or more"),
        ("5 V ± 101 %", Unit::Volt, "at most 100 %"),
        ("100 Ω ± 200 Ω", Unit::Ohm, "below the value itself"),
        ("10k ± 100", Unit::Ohm, "with a unit"),
        ("0.8 V ± 5", Unit::Volt, "with a unit"),
        ("1 / 2 / 3 kΩ", Unit::Ohm, "a unit on each number"),
        ("1.3 V / 1.2 V / 1.1 V", Unit::Volt, "rising order"),
        ("1.1 V / 1.3 V", Unit::Volt, "least / typical / most"),
        ("1 / 2 / 3 / 4", Unit::Volt, "least / typical / most"),
        ("150 ×/÷ 1", Unit::One, "more than 1"),
        ("150 ×/÷ -2", Unit::One, "more than 1"),
        ("150 ×/÷ 50 %", Unit::One, "more than 1"),
        ("5 V ±", Unit::Volt, "found nothing"),
        ("± 5 %", Unit::Volt, "found nothing"),
        ("5 %", Unit::Volt, "a percentage"),
        ("85 % ± 2 %", Unit::One, "beside a value in percent"),
        ("150 × 2", Unit::One, "found `× 2`"),
        ("5 V ± 1 V ± 2 V", Unit::Volt, "found `± 2 V`"),
    ];
    for (text, unit, part) in rows {
        let error = refused(text, unit);
        assert!(error.message.contains(part), "{text}: {error}");
    }
}

#[test]
fn a_key_for_the_tolerance_wants_percent_or_unit() {
    assert_eq!(parse_tolerance("5 %", Unit::Ohm), Ok(Tolerance::Fraction(0.05)));
    assert_eq!(parse_tolerance("± 5%", Unit::Ohm), Ok(Tolerance::Fraction(0.05)));
    assert_eq!(parse_tolerance("100 Ω", Unit::Ohm), Ok(Tolerance::Absolute(100.0)));
    assert_eq!(parse_tolerance("×/÷ 2", Unit::One), Ok(Tolerance::Factor(2.0)));
    let rows = [
        ("5", Unit::Ohm, "write `5 %` or `5 Ω`"),
        ("5", Unit::One, "write `5 %`"),
        ("-5 %", Unit::Ohm, "a tolerance is the half-width to both sides"),
        ("150 %", Unit::Ohm, "write `×/÷ 2` for a value that may be half or double"),
        ("150 ×/÷ 2", Unit::One, "write the value under its own key"),
    ];
    for (text, unit, help) in rows {
        let error = parse_tolerance(text, unit).expect_err(text);
        assert_eq!(error.help.as_deref(), Some(help), "{text}: {error}");
    }
}

#[test]
fn points_are_read() {
    let rows = [
        ("0.7 V at 10 mA", Unit::Volt, Unit::Amp, 0.7, Some(10e-3)),
        ("0.55 V ± 0.2 V at 1 mA", Unit::Volt, Unit::Amp, 0.55, Some(1e-3)),
        ("75 V at 10 µA", Unit::Volt, Unit::Amp, 75.0, Some(10e-6)),
        ("50 mΩ at 4.5 V", Unit::Ohm, Unit::Volt, 0.05, Some(4.5)),
        ("0.7 V", Unit::Volt, Unit::Amp, 0.7, None),
    ];
    for (text, unit, at_unit, nominal, at) in rows {
        let point = parse_point(text, unit, at_unit).unwrap_or_else(|e| panic!("{text}: {e}"));
        assert_eq!((point.value.nominal, point.at), (nominal, at), "{text}");
    }
    let draws = parse_joined("20 mA above 2.7 V", Unit::Amp, "above", Unit::Volt).unwrap();
    assert_eq!((draws.value.nominal, draws.at), (0.02, Some(2.7)));
}

#[test]
fn points_that_are_not_whole_are_refused() {
    for text in ["0.7 V at", "at 10 mA", "0.7 V at 10 V", "0.7 V at 1 A at 2 A", "0.7 V @ 1 mA"] {
        let error = parse_point(text, Unit::Volt, Unit::Amp).expect_err(text);
        assert!(text.get(error.range.clone()).is_some(), "{text}");
    }
    let late = parse_point("0.7 V at 10 mA ± 5 %", Unit::Volt, Unit::Amp).unwrap_err();
    assert_eq!(late.help.as_deref(), Some("write the tolerance before `at`"));
}
