//! From text to a number: prefixes, units and the letter codes of IEC 60062.
//!
//! The digits as written and the power of ten are kept apart until the end and then turned into a
//! binary number in one step. No multiplication rounds on the way, so `4.7 kΩ`, `4k7` and `4700`
//! are the same number to the last bit.

use std::ops::Range;

use super::error::{ValueError, trimmed};
use super::unit::{Unit, prefix_exponent};

/// A number as somebody wrote it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    /// The value in the unit itself: ohms, not kilohms.
    pub value: f64,
    /// What one step of the last written digit is worth, in the unit itself.
    pub count: f64,
}

/// What was found in the text, with what the callers need to refuse ambiguous mixtures.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scanned {
    pub number: Number,
    /// The exponent of the prefix.
    pub prefix: i32,
    /// Neither prefix nor unit nor percent sign.
    pub bare: bool,
    /// Written in percent.
    pub percent: bool,
}

/// Reads a number in `unit`.
///
/// Accepted: plain numbers (`4700`, `1e-3`, `-0.5`, `.5`); a prefix `p n u µ m k K M G T`, a unit
/// or both, with or without a space (`4.7 kΩ`, `47k`, `50 mohm`); and a letter in place of the
/// decimal point (`4k7`, `R05`, `680R`, `p10`) as in IEC 60062:2016, clause 4. The letter `L` that
/// this standard has for milliohms is not accepted: `0L` is too easily a slip for `OL`. Letters in
/// place of the point for volts, amps, watts and henries (`3V3`, `1A5`) are common practice, no
/// published source. A plain ratio may be written in percent.
///
/// # Errors
///
/// A [`ValueError`] when the text is empty, has a decimal comma, a second decimal mark, an unknown
/// prefix or unit, the unit of something else, anything after the value, or is outside of what a
/// 64-bit floating-point number can hold.
///
/// ```
/// use ohmhound::quantity::{Unit, parse_number};
///
/// assert_eq!(parse_number("R05", Unit::Ohm)?.value, 0.05);
/// assert_eq!(parse_number("10.0 kΩ", Unit::Ohm)?.count, 100.0);
/// let wrong = parse_number("4,7k", Unit::Ohm).unwrap_err();
/// assert_eq!(wrong.help.as_deref(), Some("write `4.7k`"));
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn parse_number(text: &str, unit: Unit) -> Result<Number, ValueError> {
    scan(text, 0..text.len(), unit).map(|scanned| scanned.number)
}

/// Reads the number that fills `within`.
pub(super) fn scan(text: &str, within: Range<usize>, unit: Unit) -> Result<Scanned, ValueError> {
    let all = trimmed(text, within);
    let shown = &text[all.clone()];
    if shown.is_empty() {
        return Err(ValueError::new(all, format!("expected {}, found nothing", unit.name()))
            .help(format!("write a value such as `{}`", unit.example())));
    }
    let written = Written::read(shown, unit).map_err(|problem| problem.at(shown, &all, unit))?;
    let rest_at = all.start + written.length;
    let suffix_range = trimmed(text, rest_at..all.end);
    let suffix = read_suffix(&text[suffix_range.clone()], unit)
        .ok_or_else(|| suffix_error(text, &all, suffix_range.clone(), &written, unit))?;
    if written.letter && suffix.exponent != 0 {
        let extra = brief(&text[suffix_range.clone()]);
        return Err(ValueError::new(
            suffix_range,
            format!("expected nothing after the letter code, found `{extra}`"),
        )
        .help("a letter code has one letter; a tolerance is written in percent, such as `± 5 %`"));
    }
    let number = written.number(suffix.exponent).ok_or_else(|| {
        ValueError::new(all, format!("`{}` is outside of what can be reckoned with", brief(shown)))
    })?;
    Ok(Scanned {
        number,
        prefix: written.letter_exponent + suffix.exponent,
        bare: suffix_range.is_empty() && !written.letter,
        percent: suffix.percent,
    })
}

/// The digits at the start of a text.
struct Written {
    negative: bool,
    /// The digits without the decimal mark.
    digits: String,
    /// The exponent of ten of the last digit.
    last: i32,
    /// A letter stood where the decimal point would be.
    letter: bool,
    letter_exponent: i32,
    /// Bytes used.
    length: usize,
}

/// What can be wrong with the digits.
enum DigitProblem {
    NoDigits,
    Comma(usize),
    SecondMark(usize),
}

impl Written {
    fn read(shown: &str, unit: Unit) -> Result<Written, DigitProblem> {
        let sign = shown.chars().next().filter(|c| matches!(c, '+' | '-' | '\u{2212}'));
        let mut at = sign.map_or(0, char::len_utf8);
        let negative = sign.is_some_and(|c| c != '+');

        let whole = digits_at(shown, at);
        at += whole.len();
        let mut letter = false;
        let mut letter_exponent = 0;
        let mut fraction = "";
        let mut scientific: i32 = 0;
        if whole.is_empty() && shown[at..].starts_with(',') {
            return Err(DigitProblem::Comma(at));
        }
        if shown[at..].starts_with('.') {
            fraction = digits_at(shown, at + 1);
            if whole.is_empty() && fraction.is_empty() {
                return Err(DigitProblem::NoDigits);
            }
            at += 1 + fraction.len();
        } else if let Some((exponent, width)) = letter_point(&shown[at..], unit, whole.is_empty()) {
            letter = true;
            letter_exponent = exponent;
            fraction = digits_at(shown, at + width);
            at += width + fraction.len();
        } else if whole.is_empty() {
            return Err(DigitProblem::NoDigits);
        }
        if !letter && let Some((exponent, width)) = scientific_exponent(&shown[at..]) {
            scientific = exponent;
            at += width;
        }
        let next = &shown[at..];
        if next.starts_with(',') {
            return Err(DigitProblem::Comma(at));
        }
        let has_mark = letter || !fraction.is_empty();
        if next.starts_with('.') || (has_mark && letter_point(next, unit, false).is_some()) {
            return Err(DigitProblem::SecondMark(at));
        }
        // Digits are bytes of a text in memory, so their number fits; saturation keeps even an
        // absurd length from wrapping round.
        let decimals = i32::try_from(fraction.len()).unwrap_or(i32::MAX);
        Ok(Written {
            negative,
            digits: format!("{whole}{fraction}"),
            last: scientific.saturating_sub(decimals).saturating_add(letter_exponent),
            letter,
            letter_exponent,
            length: at,
        })
    }

    /// The number, or nothing when a 64-bit floating-point number cannot hold it.
    fn number(&self, exponent: i32) -> Option<Number> {
        let last = self.last.saturating_add(exponent);
        let magnitude: f64 = format!("{}e{last}", self.digits).parse().ok()?;
        let count: f64 = format!("1e{last}").parse().ok()?;
        let vanished = magnitude == 0.0 && self.digits.bytes().any(|digit| digit != b'0');
        if !magnitude.is_finite() || !count.is_finite() || count == 0.0 || vanished {
            return None;
        }
        // A zero stays a plain zero: the sign of a zero means nothing on a meter.
        let value = if self.negative && magnitude > 0.0 { -magnitude } else { magnitude };
        Some(Number { value, count })
    }
}

impl DigitProblem {
    fn at(self, shown: &str, all: &Range<usize>, unit: Unit) -> ValueError {
        match self {
            DigitProblem::NoDigits => ValueError::new(
                all.clone(),
                format!("expected {}, found `{}`", unit.name(), brief(shown)),
            )
            .help(format!("write a value such as `{}`", unit.example())),
            DigitProblem::Comma(at) => {
                let error = ValueError::new(
                    all.start + at..all.start + at + 1,
                    format!("expected a decimal point, found a comma in `{}`", brief(shown)),
                );
                match without_comma(shown, at, unit) {
                    Some(help) => error.help(help),
                    None => error,
                }
            }
            DigitProblem::SecondMark(at) => {
                let width = shown[at..].chars().next().map_or(0, char::len_utf8);
                ValueError::new(
                    all.start + at..all.start + at + width,
                    format!("expected one decimal mark, found a second one in `{}`", brief(shown)),
                )
                .help("a point, or a letter in place of the point, may stand once")
            }
        }
    }
}

/// How to write a number with a comma at byte `at`, if a readable number comes of it.
fn without_comma(shown: &str, at: usize, unit: Unit) -> Option<String> {
    let readable = |text: &String| scan(text, 0..text.len(), unit).is_ok();
    // One comma may be a decimal mark. Neither rewriting leaves a comma, so this ends here.
    let point = shown.replacen(',', ".", 1);
    let point = Some(point).filter(|text| !text.contains(',') && readable(text));
    // Three digits after the comma may have been meant as thousands.
    let grouped = digits_at(shown, at + 1).len() == 3;
    let joined = Some(shown.replace(',', "")).filter(|text| grouped && readable(text));
    Some(match (point, joined) {
        (Some(point), Some(joined)) => format!(
            "write `{}` if the comma is a decimal mark, `{}` if it groups thousands",
            brief(&point),
            brief(&joined)
        ),
        (Some(text), None) | (None, Some(text)) => format!("write `{}`", brief(&text)),
        (None, None) => return None,
    })
}

/// The decimal digits that start at byte `at`.
fn digits_at(text: &str, at: usize) -> &str {
    let rest = text.get(at..).unwrap_or("");
    let end = rest.bytes().position(|byte| !byte.is_ascii_digit()).unwrap_or(rest.len());
    &rest[..end]
}

/// A letter that stands for the decimal point: its exponent and its width in bytes.
///
/// A digit must follow; `47k` has no digit after its letter, and `k` is then an ordinary suffix.
fn letter_point(rest: &str, unit: Unit, leading: bool) -> Option<(i32, usize)> {
    let own = unit.point_letter()?;
    let mut chars = rest.chars();
    let letter = chars.next()?;
    if !chars.next()?.is_ascii_digit() {
        return None;
    }
    // `R05` and `p10` are in the standard; `V5` or `A1` looks like a name and is not accepted.
    let is_own = letter == own && (!leading || unit == Unit::Ohm);
    let exponent = if is_own { 0 } else { prefix_exponent(letter)? };
    Some((exponent, letter.len_utf8()))
}

/// `e-3` and the like: the exponent and the width in bytes.
fn scientific_exponent(rest: &str) -> Option<(i32, usize)> {
    let after = rest.strip_prefix(['e', 'E'])?;
    let sign = usize::from(after.starts_with(['+', '-']));
    let digits = digits_at(after, sign);
    if digits.is_empty() {
        return None;
    }
    // An exponent too long for an integer is far outside of every number anyway.
    let size: i32 = digits.parse().unwrap_or(i32::MAX);
    let exponent = if after.starts_with('-') { -size } else { size };
    Some((exponent, 1 + sign + digits.len()))
}

struct Suffix {
    exponent: i32,
    percent: bool,
    /// The unit itself was written.
    unit: bool,
}

/// A prefix, a unit, both or neither.
fn read_suffix(suffix: &str, unit: Unit) -> Option<Suffix> {
    let plain = |unit| Suffix { exponent: 0, percent: false, unit };
    if suffix.is_empty() {
        return Some(plain(false));
    }
    if unit.is_written(suffix) {
        return Some(plain(true));
    }
    if suffix == "%" {
        return (unit == Unit::One).then_some(Suffix { exponent: -2, percent: true, unit: true });
    }
    let letter = suffix.chars().next().filter(|_| unit.takes_prefix())?;
    let exponent = prefix_exponent(letter)?;
    let after = &suffix[letter.len_utf8()..];
    let has_unit = unit.is_written(after);
    (after.is_empty() || has_unit).then_some(Suffix { exponent, percent: false, unit: has_unit })
}

/// Says why what follows the digits is not a prefix and unit.
fn suffix_error(
    text: &str,
    all: &Range<usize>,
    range: Range<usize>,
    written: &Written,
    unit: Unit,
) -> ValueError {
    let shown = &text[all.clone()];
    let digits = &shown[..written.length];
    let suffix = &text[range.clone()];
    if suffix.starts_with('%') {
        return ValueError::new(
            range,
            format!("expected {}, found a percentage `{}`", unit.name(), brief(shown)),
        )
        .help(format!("write a value such as `{}`", unit.example()));
    }
    if suffix.starts_with(|c: char| c.is_ascii_digit()) {
        let joined: String = shown.split_whitespace().collect();
        return ValueError::new(
            range,
            format!("expected one number, found a space inside `{}`", brief(shown)),
        )
        .help(format!("write `{}` if it is one number", brief(&joined)));
    }
    // `3V3` where ohms are wanted ends in `V3`, hence the trimming.
    let letters = suffix.trim_end_matches(|c: char| c.is_ascii_digit());
    let other = Unit::ALL
        .into_iter()
        .filter(|other| *other != unit)
        .find(|other| read_suffix(letters, *other).is_some_and(|found| found.unit));
    if let Some(other) = other {
        return ValueError::new(
            range,
            format!("expected {}, found {} in `{}`", unit.name(), other.name(), brief(shown)),
        )
        .help(format!("write a value such as `{}`", unit.example()));
    }
    if let Some(space) = suffix.find(char::is_whitespace)
        && read_suffix(&suffix[..space], unit).is_some()
    {
        let extra = trimmed(text, range.start + space..range.end);
        let found = brief(&text[extra.clone()]);
        return ValueError::new(
            extra,
            format!("expected nothing after the value, found `{found}`"),
        )
        .help(format!("write one value such as `{}`", unit.example()));
    }
    let error = ValueError::new(
        range,
        format!("expected a prefix or unit of {}, found `{}`", unit.name(), brief(suffix)),
    );
    if !unit.takes_prefix() && prefix_exponent(suffix.chars().next().unwrap_or(' ')).is_some() {
        return error.help(format!(
            "{} are written without a prefix, such as `{}`",
            unit.name(),
            unit.example()
        ));
    }
    if suffix.to_ascii_lowercase().starts_with("meg") {
        return error.help(format!("write `{digits}M`: `M` is mega, `m` is milli"));
    }
    match right_case(suffix, unit) {
        Some(better) => {
            error.help(format!("write `{digits} {better}`: upper and lower case count"))
        }
        None => error.help(format!("write a value such as `{}`", unit.example())),
    }
}

/// The suffix with its last letter in upper case, if that is a unit: `ma` is `mA`.
fn right_case(suffix: &str, unit: Unit) -> Option<String> {
    let last = suffix.chars().next_back()?;
    let start = &suffix[..suffix.len() - last.len_utf8()];
    let better = format!("{start}{}", last.to_ascii_uppercase());
    read_suffix(&better, unit).is_some_and(|found| found.unit).then_some(better)
}

/// A text short enough for a message.
pub(super) fn brief(text: &str) -> String {
    const MOST: usize = 40;
    match text.char_indices().nth(MOST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests;
