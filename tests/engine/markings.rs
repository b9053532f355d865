//! Part markings against the complete tables of IEC 60062:2016 and IEC 60063:2015, as copied with
//! their sources into `tests/data/`.

use ohmhound::quantity::{
    Likelihood, MarkedTolerance, Marking, Rule, Series, Unit, letter_code, readings_of,
};
use proptest::prelude::*;

const E96_CODES: &str = include_str!("../data/e96_codes.csv");
const E96_LETTERS: &str = include_str!("../data/e96_letters.csv");
const TOLERANCES: &str = include_str!("../data/tolerance_letters.csv");
const MARKINGS: &str = include_str!("../data/part_markings.csv");

/// The rows of a table without its comment and its header.
fn rows(table: &str) -> impl Iterator<Item = Vec<&str>> {
    table
        .lines()
        .filter(|line| !line.starts_with('#') && !line.is_empty())
        .skip(1)
        .map(|line| line.split(',').collect())
}

fn number(text: &str) -> f64 {
    text.parse().expect("a number")
}

#[track_caller]
fn readings(code: &str) -> Vec<Marking> {
    readings_of(code).unwrap_or_else(|error| panic!("{code}: {error}"))
}

fn near(a: f64, b: f64) -> bool {
    a == b || (a / b - 1.0).abs() < 1e-12
}

/// The reading of `code` by `rule` in `unit`.
#[track_caller]
fn by(code: &str, rule: Rule, unit: Unit) -> Marking {
    let all = readings(code);
    let found = all.iter().find(|marking| marking.rule == rule && marking.unit == unit);
    found.unwrap_or_else(|| panic!("{code} by {rule:?}: {all:#?}")).clone()
}

/// The number written as digits and a power of ten, without an error of its own.
fn power(digits: impl std::fmt::Display, exponent: i32) -> f64 {
    number(&format!("{digits}e{exponent}"))
}

#[test]
fn every_marking_of_the_table() {
    let mut counted = 0;
    for row in rows(MARKINGS) {
        let (unit, code, value) = (row[0], row[1], number(row[2]));
        let unit = if unit == "ohm" { Unit::Ohm } else { Unit::Farad };
        let all = readings(code);
        let found = all.iter().any(|marking| marking.unit == unit && near(marking.value, value));
        assert!(found, "{code} is not read as {value}: {all:#?}");
        counted += 1;
    }
    assert_eq!(counted, 63);
}

#[test]
fn every_two_digit_code_times_every_letter() {
    let mut counted = 0;
    for code in rows(E96_CODES) {
        for letter in rows(E96_LETTERS) {
            let marking = format!("{}{}", code[0], letter[0]);
            let read = by(&marking, Rule::E96Code, Unit::Ohm);
            let value = number(code[1]) * number(letter[1]);
            assert!(near(read.value, value), "{marking}: {} against {value}", read.value);
            assert!(read.series.is_some_and(|series| series <= Series::E96), "{marking}");
            assert_eq!(read.tolerance, None);
            // Only where the letter is the decimal point of ohms does another reading come first.
            if letter[0] != "R" || code[0].starts_with('0') {
                assert_eq!(readings(&marking)[0].rule, Rule::E96Code, "{marking}");
            }
            counted += 1;
        }
    }
    assert_eq!(counted, 96 * 12);
}

/// The two digits count the values of E96 (IEC 60063:2015, table 2) in order.
#[test]
fn two_digit_codes_are_e96_in_order() {
    let published: Vec<u16> = rows(E96_CODES).map(|row| row[1].parse().unwrap()).collect();
    assert_eq!(published, Series::E96.values());
}

#[test]
fn every_tolerance_letter() {
    let mut counted = 0;
    for row in rows(TOLERANCES) {
        let (letter, below, above) = (row[0], number(row[1]), number(row[2]));
        let capacitor = match row[3] {
            "pF" => format!("4p7{letter}"),
            _ => format!("4n7{letter}"),
        };
        let read = readings(&capacitor).remove(0).tolerance;
        match (row[3], read) {
            ("pF", Some(MarkedTolerance::Absolute(size))) => assert!(near(size, below * 1e-12)),
            ("%", Some(MarkedTolerance::Share { below: low, above: high })) => {
                assert!(near(100.0 * low, below) && near(100.0 * high, above), "{capacitor}");
            }
            (_, read) => panic!("{capacitor}: {read:?}"),
        }
        let resistor = format!("4K7{letter}");
        match row[4] {
            "both" => {
                let read = readings(&resistor).remove(0);
                assert_eq!((read.unit, read.value), (Unit::Ohm, 4700.0), "{resistor}");
                let share = below / 100.0;
                let wanted = MarkedTolerance::Share { below: share, above: share };
                assert_eq!(read.tolerance, Some(wanted), "{resistor}");
            }
            _ if row[3] == "%" => assert!(readings_of(&resistor).is_err(), "{resistor}"),
            _ => {}
        }
        counted += 1;
    }
    assert_eq!(counted, 23);
}

/// Every value of E24 with two digits and every value of E24 and E96 with three, in every decade
/// that a digit can say: three and four digits in ohms, three digits in picofarads.
#[test]
fn digits_and_a_power_of_ten_for_every_preferred_value() {
    for step in Series::E24.values() {
        for exponent in 0..=7 {
            let code = format!("{step}{exponent}");
            let ohms = by(&code, Rule::ThreeDigits, Unit::Ohm);
            assert_eq!(ohms.value, power(step, exponent), "{code}");
            assert_eq!(ohms.likelihood, Likelihood::Likely, "{code}");
            assert!(ohms.series.is_some_and(|series| series <= Series::E24), "{code}");
            let farads = by(&code, Rule::ThreeDigits, Unit::Farad);
            assert_eq!(farads.value, power(step, exponent - 12), "{code}");
            let code = format!("{step}0{exponent}");
            let ohms = &readings(&code)[0];
            assert_eq!((ohms.rule, ohms.value), (Rule::FourDigits, power(step, exponent + 1)));
        }
        // The last two digits of a capacitor divide (from memory).
        let tenth = by(&format!("{step}9"), Rule::ThreeDigits, Unit::Farad);
        assert_eq!(tenth.value, power(step, -13));
        let hundredth = by(&format!("{step}8"), Rule::ThreeDigits, Unit::Farad);
        assert_eq!(hundredth.value, power(step, -14));
    }
    for step in Series::E96.values() {
        for exponent in 0..=7 {
            let code = format!("{step}{exponent}");
            let ohms = &readings(&code)[0];
            let wanted = (Rule::FourDigits, Unit::Ohm, power(step, exponent));
            assert_eq!((ohms.rule, ohms.unit, ohms.value), wanted, "{code}");
        }
    }
}

/// What `letter_code` writes is read as that value, before everything else unless it could be the
/// digits of a capacitor with a tolerance, such as `475M` or `100G`.
#[test]
fn letter_codes_come_back() {
    let e24 = Series::E24.values().iter().map(|step| (*step, -1));
    let e96 = Series::E96.values().iter().map(|step| (*step, -2));
    for (step, shift) in e24.chain(e96) {
        for decade in -2..=12 {
            let ohms = power(step, decade + shift);
            let Some(code) = letter_code(ohms) else { continue };
            let all = readings(&code);
            let at = all
                .iter()
                .position(|marking| marking.rule == Rule::LetterCode && marking.value == ohms)
                .unwrap_or_else(|| panic!("{code}: {all:#?}"));
            assert!(at == 0 || code.ends_with(['M', 'G', 'T']), "{code}: {all:#?}");
            assert!(all[at].likelihood == Likelihood::Likely || ohms >= 1e9, "{code}");
            // The standard has a capital K.
            let capital = readings(&code.replace('k', "K"));
            assert!(capital.iter().any(|marking| marking.value == ohms), "{code}");
        }
    }
}

#[test]
fn links() {
    for code in ["0", "00", "000", "0000", "0R", "0R0", "R00", "0R00", "R000"] {
        let all = readings(code);
        assert_eq!(all.len(), 1, "{code}");
        assert_eq!((all[0].rule, all[0].value, all[0].series), (Rule::Link, 0.0, None), "{code}");
    }
}

/// The last letter of `4K7K` is a tolerance: K and M stand for both (IEC 60062:2016).
#[test]
fn letters_that_stand_for_two_things() {
    let share = |share: f64| Some(MarkedTolerance::Share { below: share, above: share });
    type Read = (Unit, f64, Option<MarkedTolerance>);
    let rows: [(&str, &[Read]); 8] = [
        ("4K7K", &[(Unit::Ohm, 4700.0, share(0.1))]),
        ("1M0M", &[(Unit::Ohm, 1e6, share(0.2))]),
        ("104K", &[(Unit::Farad, 100e-9, share(0.1)), (Unit::Ohm, 100e3, share(0.1))]),
        ("470K", &[(Unit::Ohm, 470e3, None), (Unit::Farad, 47e-12, share(0.1))]),
        ("47K", &[(Unit::Ohm, 47e3, None), (Unit::Farad, 47e-12, share(0.1))]),
        ("10R", &[(Unit::Ohm, 10.0, None), (Unit::Ohm, 1.24, None)]),
        ("47R", &[(Unit::Ohm, 47.0, None), (Unit::Ohm, 3.01, None)]),
        ("R47F", &[(Unit::Ohm, 0.47, share(0.01))]),
    ];
    for (code, wanted) in rows {
        let all = readings(code);
        let found: Vec<_> = all.iter().map(|m| (m.unit, m.value, m.tolerance)).collect();
        assert_eq!(found.get(..wanted.len()), Some(wanted), "{code}: {all:#?}");
    }
}

#[test]
fn every_reading_is_in_order_and_says_what_it_is() {
    for code in ["6R8", "680", "01C", "R10", "0", "100", "1000", "10R", "R47F", "104K", "47K"] {
        let all = readings(code);
        assert!(all.windows(2).all(|two| two[0].likelihood <= two[1].likelihood), "{code}");
        assert_eq!(all[0].likelihood, Likelihood::Likely);
        for marking in &all {
            assert!(!marking.how.is_empty());
            let coarsest = Series::ALL.into_iter().find(|series| series.contains(marking.value));
            assert_eq!(marking.series, coarsest);
        }
    }
}

#[test]
fn small_letters_and_blanks_are_read_as_they_are_meant() {
    for (typed, meant) in
        [("4r7", "4R7"), ("01c", "01C"), ("4k7j", "4K7J"), (" 103 ", "103"), ("4K7 J", "4K7J")]
    {
        let values = |code: &str| -> Vec<(Unit, f64, Rule)> {
            readings(code).iter().map(|m| (m.unit, m.value, m.rule)).collect()
        };
        assert_eq!(values(typed), values(meant), "{typed}");
    }
    // `M` is mega and `m` is milli, on a marking too.
    assert!(readings("4M7").iter().all(|marking| marking.value == 4.7e6));
    assert!(readings("4m7").iter().all(|marking| marking.value == 4.7e-3));
}

#[test]
fn what_is_no_marking_gets_one_clear_error() {
    let text: String = [
        "",
        " ",
        "05",
        "047",
        "97C",
        "00A",
        "12345",
        "00000",
        "4K7X",
        "104X",
        "4K7KK",
        "1O3",
        "lOk",
        "K",
        "R",
        "4..7",
        "4,7k",
        "red",
        "4K7M2",
        "-103",
        "0K0",
        "103-104",
        "🙂🙂🙂🙂🙂🙂🙂🙂🙂",
    ]
    .iter()
    .map(|code| {
        let error = readings_of(code).expect_err(code);
        assert!(code.get(error.range.clone()).is_some());
        format!("{code:?}: {}\n    {}\n", error.message, error.help.unwrap_or_default())
    })
    .collect();
    insta::assert_snapshot!("refused_markings", text);
}

fn never_panics(code: &str) {
    match readings_of(code) {
        Ok(all) => {
            assert!(!all.is_empty());
            for marking in all {
                assert!(marking.value.is_finite() && marking.value >= 0.0, "{code:?}");
                assert!(marking.tolerance.is_none_or(|t| !t.words(marking.unit).is_empty()));
            }
        }
        Err(error) => assert!(code.get(error.range).is_some() && !error.message.is_empty()),
    }
}

proptest! {
    #[test]
    fn no_text_brings_the_reader_down(code in "\\PC{0,12}") {
        never_panics(&code);
    }

    #[test]
    fn no_near_marking_brings_the_reader_down(code in "[0-9RKkMmpnuµFGTLJZS. O]{0,12}") {
        never_panics(&code);
    }
}
