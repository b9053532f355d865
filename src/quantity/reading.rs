//! What stands on a meter, as somebody wrote it down.

use std::ops::Range;

use super::error::{ValueError, trimmed};
use super::parse::{brief, scan};
use super::parse_toleranced::{half_width_of, plus_minus, refuse_mixture};
use super::unit::Unit;

/// The value of a reading, in its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReadingValue {
    /// A number on the display.
    Number {
        /// The value.
        value: f64,
        /// What one step of the last written digit is worth.
        count: f64,
        /// The half-width written after `±`, which overrides what meter and count would give.
        half_width: Option<f64>,
    },
    /// Over the range: `OL`.
    Over,
    /// It wanders: `3.1..3.4`.
    Between {
        /// The lower end.
        low: f64,
        /// The upper end.
        high: f64,
    },
    /// Less than this: `< 0.05`.
    Below(f64),
    /// More than this: `> 20`.
    Above(f64),
}

/// Reads the value of a reading in `unit`.
///
/// Accepted: whatever [`parse_number`](super::parse_number) accepts; the same with `±` and a
/// half-width (`24 ± 0.1`, `4.98 V ± 0.5 %`); `OL` in upper or lower case, with or without a point;
/// `3.1..3.4`; `< 0.05`; `> 20`.
///
/// # Errors
///
/// A [`ValueError`] when the text is none of these, when `OL` is written with a zero, when a range
/// runs downwards, and when one number of a pair has a prefix and the other no unit.
///
/// ```
/// use ohmhound::quantity::{ReadingValue, Unit, parse_reading};
///
/// assert_eq!(parse_reading("OL", Unit::Ohm)?, ReadingValue::Over);
/// assert_eq!(parse_reading("< 0.05", Unit::Volt)?, ReadingValue::Below(0.05));
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn parse_reading(text: &str, unit: Unit) -> Result<ReadingValue, ValueError> {
    let range = trimmed(text, 0..text.len());
    let shown = &text[range.clone()];
    if let Some(value) = over_range(shown, &range)? {
        return Ok(value);
    }
    if shown.starts_with('<') {
        return scan(text, range.start + 1..range.end, unit)
            .map(|scanned| ReadingValue::Below(scanned.number.value));
    }
    if shown.starts_with('>') {
        return scan(text, range.start + 1..range.end, unit)
            .map(|scanned| ReadingValue::Above(scanned.number.value));
    }
    if let Some(at) = shown.find("..") {
        return between(text, range.clone(), range.start + at, unit);
    }
    if let Some(sign) = plus_minus(text, &range) {
        let nominal = scan(text, range.start..sign.start, unit)?;
        let half = trimmed(text, sign.end..range.end);
        let (value, half_width) = half_width_of(text, nominal, half, unit)?;
        let count = nominal.number.count;
        return Ok(ReadingValue::Number { value, count, half_width: Some(half_width) });
    }
    let number = scan(text, range, unit)?.number;
    Ok(ReadingValue::Number { value: number.value, count: number.count, half_width: None })
}

/// `OL` as meters show it; what is nearly that is an error that says so.
fn over_range(shown: &str, range: &Range<usize>) -> Result<Option<ReadingValue>, ValueError> {
    const LONGEST: usize = 8;
    if shown.len() > LONGEST {
        return Ok(None);
    }
    let letters: String =
        shown.chars().filter(|c| *c != '.').map(|c| c.to_ascii_uppercase()).collect();
    match letters.as_str() {
        "OL" => Ok(Some(ReadingValue::Over)),
        "0L" => Err(ValueError::new(
            range.clone(),
            format!("expected the letters `OL`, found the digit zero in `{shown}`"),
        )
        .help("write `OL` with the letter O for over the range")),
        "∞" | "INF" | "OPEN" => Err(ValueError::new(
            range.clone(),
            format!("expected what the meter shows, found `{shown}`"),
        )
        .help("write `OL` for over the range")),
        "-OL" | "\u{2212}OL" => Err(ValueError::new(
            range.clone(),
            format!("expected `OL` without a sign, found `{shown}`"),
        )
        .help("write `< ` and the negative end of the range instead")),
        _ => Ok(None),
    }
}

/// `3.1..3.4`, with `dots` at the first of the two dots.
fn between(
    text: &str,
    range: Range<usize>,
    dots: usize,
    unit: Unit,
) -> Result<ReadingValue, ValueError> {
    // `4..7` has two decimal marks to a person who made a slip, and a range to this grammar. The
    // grammar wins, as the ends are printed back wherever the reading is shown.
    let low = scan(text, range.start..dots, unit)?;
    let high = scan(text, dots + 2..range.end, unit)?;
    let shown = brief(&text[range.clone()]);
    refuse_mixture(&[low, high], range.clone(), &shown, unit)?;
    let (low, high) = (low.number.value, high.number.value);
    if low > high {
        let low_text = text[range.start..dots].trim();
        let high_text = text[dots + 2..range.end].trim();
        let help = format!("write `{}`", brief(&format!("{high_text}..{low_text}")));
        return Err(ValueError::new(
            range,
            format!("expected the lower end first, found `{shown}`"),
        )
        .help(help));
    }
    Ok(ReadingValue::Between { low, high })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(value: f64, count: f64, half_width: Option<f64>) -> ReadingValue {
        ReadingValue::Number { value, count, half_width }
    }

    #[test]
    fn what_a_meter_shows_is_read() {
        let rows = [
            ("23.9", Unit::Volt, number(23.9, 0.1, None)),
            ("0.00", Unit::Volt, number(0.0, 0.01, None)),
            ("10.0 kΩ", Unit::Ohm, number(10e3, 100.0, None)),
            ("24 ± 0.1", Unit::Volt, number(24.0, 1.0, Some(0.1))),
            ("OL", Unit::Ohm, ReadingValue::Over),
            ("ol", Unit::Volt, ReadingValue::Over),
            ("O.L", Unit::Ohm, ReadingValue::Over),
            (" .OL ", Unit::Ohm, ReadingValue::Over),
            ("3.1..3.4", Unit::Volt, ReadingValue::Between { low: 3.1, high: 3.4 }),
            ("3.1 V .. 3.4 V", Unit::Volt, ReadingValue::Between { low: 3.1, high: 3.4 }),
            ("3.1..3.4 V", Unit::Volt, ReadingValue::Between { low: 3.1, high: 3.4 }),
            ("-5 mV..5 mV", Unit::Volt, ReadingValue::Between { low: -5e-3, high: 5e-3 }),
            ("0..5 mV", Unit::Volt, ReadingValue::Between { low: 0.0, high: 5e-3 }),
            ("< 0.05", Unit::Volt, ReadingValue::Below(0.05)),
            ("<50 mV", Unit::Volt, ReadingValue::Below(0.05)),
            ("> 20", Unit::Ohm, ReadingValue::Above(20.0)),
            ("> 20 MΩ", Unit::Ohm, ReadingValue::Above(20e6)),
        ];
        for (text, unit, value) in rows {
            assert_eq!(parse_reading(text, unit), Ok(value), "{text}");
        }
    }

    #[test]
    fn a_half_width_in_percent_is_of_the_value() {
        let read = parse_reading("4.98 V ± 0.5 %", Unit::Volt).unwrap();
        let ReadingValue::Number { half_width: Some(half_width), .. } = read else {
            panic!("{read:?}");
        };
        approx::assert_relative_eq!(half_width, 0.0249, max_relative = 1e-12);
    }

    #[test]
    fn a_zero_for_the_letter_o_is_told() {
        for text in ["0L", "0.L", "0l"] {
            let error = parse_reading(text, Unit::Ohm).unwrap_err();
            assert_eq!(
                error.help.as_deref(),
                Some("write `OL` with the letter O for over the range")
            );
        }
        for text in ["∞", "inf", "open"] {
            let error = parse_reading(text, Unit::Ohm).unwrap_err();
            assert_eq!(error.help.as_deref(), Some("write `OL` for over the range"), "{text}");
        }
    }

    #[test]
    fn what_could_mean_two_things_is_refused() {
        // Ohms or kilohms, volts or millivolts: a factor of a thousand hangs on it.
        for (text, unit) in [
            ("3.1..3.4 kΩ", Unit::Ohm),
            ("10 mV ± 1", Unit::Volt),
            ("10k ± 5", Unit::Ohm),
            ("3.4..3.1", Unit::Volt),
            ("3.1..", Unit::Volt),
            ("..3", Unit::Volt),
            ("1..2..3", Unit::Volt),
            ("< ", Unit::Volt),
            ("-OL", Unit::Volt),
            ("24 ± -1", Unit::Volt),
            ("", Unit::Volt),
            ("lit", Unit::Volt),
        ] {
            let error = parse_reading(text, unit).expect_err(text);
            assert!(text.get(error.range.clone()).is_some(), "{text}");
        }
        let swapped = parse_reading("3.4..3.1", Unit::Volt).unwrap_err();
        assert_eq!(swapped.help.as_deref(), Some("write `3.1..3.4`"));
    }
}
