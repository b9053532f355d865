//! From a number to text: engineering notation with the prefixes of the SI.
//!
//! All rounding is done once, on the decimal digits; the prefix is chosen after it. The prefix only
//! moves the decimal point in the text, so nothing is lost by dividing.

use super::unit::{Unit, prefix};

/// The decimal digits of a finite number that is not zero: `d.ddd` times ten to the `exponent`.
pub(super) struct Digits {
    negative: bool,
    /// The digits without a point, the first one not zero.
    pub digits: String,
    /// The exponent of ten of the first digit.
    pub exponent: i32,
}

impl Digits {
    /// The number rounded to `count` significant digits.
    fn rounded(value: f64, count: usize) -> Option<Digits> {
        Digits::split(value, &format!("{:.*e}", count.saturating_sub(1), value.abs()))
    }

    /// The fewest digits that give the same floating-point number back.
    pub(super) fn shortest(value: f64) -> Option<Digits> {
        Digits::split(value, &format!("{:e}", value.abs()))
    }

    fn split(value: f64, text: &str) -> Option<Digits> {
        if value == 0.0 || !value.is_finite() {
            return None;
        }
        let (mantissa, exponent) = text.split_once('e')?;
        Some(Digits {
            negative: value < 0.0,
            digits: mantissa.replace('.', ""),
            exponent: exponent.parse().ok()?,
        })
    }

    fn without_trailing_zeros(mut self) -> Digits {
        let kept = self.digits.trim_end_matches('0').len().max(1);
        self.digits.truncate(kept);
        self
    }

    /// The digits with the point moved so that the number stands in units of ten to the `scale`.
    pub(super) fn place(&self, scale: i32) -> String {
        let sign = if self.negative { "-" } else { "" };
        let before_point = self.exponent - scale + 1;
        let have = self.digits.len();
        match usize::try_from(before_point) {
            Ok(before) if before >= have => {
                format!("{sign}{}{}", self.digits, "0".repeat(before - have))
            }
            Ok(before) if before > 0 => {
                format!("{sign}{}.{}", &self.digits[..before], &self.digits[before..])
            }
            _ => {
                let zeros = "0".repeat(before_point.unsigned_abs() as usize);
                format!("{sign}0.{zeros}{}", self.digits)
            }
        }
    }
}

/// The exponent of the prefix for a number, or `None` where only an exponent will do.
fn scale_for(exponent: i32, unit: Unit) -> Option<i32> {
    if unit.takes_prefix() && unit != Unit::One {
        let scale = exponent.div_euclid(3) * 3;
        prefix(scale).map(|_| scale)
    } else {
        // Plain decimals stay readable between these; further out they are rows of zeros.
        (-6..15).contains(&exponent).then_some(0)
    }
}

fn with_unit(number: &str, scale: i32, unit: Unit) -> String {
    let letter = prefix(scale).map_or("", |(letter, _)| letter);
    format!("{number} {letter}{}", unit.symbol()).trim_end().to_owned()
}

fn lay_out(digits: &Digits, unit: Unit) -> String {
    match scale_for(digits.exponent, unit) {
        Some(scale) => with_unit(&digits.place(scale), scale, unit),
        None => {
            let number = format!("{}e{}", digits.place(digits.exponent), digits.exponent);
            with_unit(&number, 0, unit)
        }
    }
}

/// Zero and what is no finite number.
fn without_digits(value: f64, unit: Unit) -> String {
    if value.is_finite() { with_unit("0", 0, unit) } else { with_unit(&value.to_string(), 0, unit) }
}

/// The value in engineering notation with `digits` significant digits (1 to 17) and its unit.
///
/// The prefix is chosen after rounding and runs from `p` to `T`; beyond, and for the units without
/// prefix where plain decimals would be long, an exponent is printed. Zero is `0 V`, never `-0 V`.
///
/// ```
/// use ohmhound::quantity::{Unit, print};
///
/// assert_eq!(print(4700.0, Unit::Ohm, 3), "4.70 kΩ");
/// assert_eq!(print(999.96, Unit::Volt, 4), "1.000 kV");
/// assert_eq!(print(25.0, Unit::Celsius, 2), "25 °C");
/// ```
pub fn print(value: f64, unit: Unit, digits: usize) -> String {
    match Digits::rounded(value, digits.clamp(1, 17)) {
        Some(digits) => lay_out(&digits, unit),
        None => without_digits(value, unit),
    }
}

/// Significant digits of [`print_short`]: the most that a part's marking carries.
const SHORT: usize = 4;

/// The value with at most four significant digits and no trailing zeros: `47 kΩ`, `20 mΩ`.
///
/// ```
/// use ohmhound::quantity::{Unit, print_short};
///
/// assert_eq!(print_short(52300.0, Unit::Ohm), "52.3 kΩ");
/// ```
pub fn print_short(value: f64, unit: Unit) -> String {
    match Digits::rounded(value, SHORT) {
        Some(digits) => lay_out(&digits.without_trailing_zeros(), unit),
        None => without_digits(value, unit),
    }
}

/// The value with as many digits as it takes for [`parse_number`](super::parse_number) to give the
/// very same number back.
///
/// What is no finite number prints as `inf` or `NaN` and does not parse back.
///
/// ```
/// use ohmhound::quantity::{Unit, parse_number, print_exact};
///
/// let third = 1000.0 / 3.0;
/// assert_eq!(parse_number(&print_exact(third, Unit::Ohm), Unit::Ohm)?.value, third);
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn print_exact(value: f64, unit: Unit) -> String {
    match Digits::shortest(value) {
        Some(digits) => lay_out(&digits, unit),
        None => without_digits(value, unit),
    }
}

/// The value as a meter shows it whose last digit is worth `count`, in the unit of the value.
///
/// The count of the printed text, read back, is the count that was given, which should be a power
/// of ten; otherwise the power of ten at or below it is used. A count that is not a positive finite
/// number gives what [`print_short`] gives.
///
/// ```
/// use ohmhound::quantity::{Unit, print_count};
///
/// assert_eq!(print_count(0.0, 0.01, Unit::Volt), "0.00 V");
/// assert_eq!(print_count(9980.0, 10.0, Unit::Ohm), "9.98 kΩ");
/// assert_eq!(print_count(0.02, 0.01, Unit::Volt), "0.02 V");
/// ```
pub fn print_count(value: f64, count: f64, unit: Unit) -> String {
    // Rounded to seven digits, so that 0.0999999999 counts as a tenth.
    let last = match Digits::rounded(count, 7) {
        Some(digits) if count > 0.0 && value.is_finite() => digits.exponent,
        _ => return print_short(value, unit),
    };
    let digits = rounded_at(value, last);
    let first = digits.as_ref().map_or(last, |digits| digits.exponent);
    // The last digit must not stand before the point, or zeros would be printed that were not read.
    let scale = scale_for(first, unit).and_then(|scale| match scale {
        scale if last <= scale => Some(scale),
        _ => scale_for(last + 2, unit).filter(|scale| last <= *scale),
    });
    let (scale, exponent) = scale.map_or((first, first), |scale| (scale, 0));
    let number = match digits {
        Some(digits) => digits.place(scale),
        None => {
            // Only zeros: as many decimals as there are places between point and count.
            let decimals = usize::try_from(scale - last).unwrap_or(0);
            format!("{:.decimals$}", 0.0)
        }
    };
    if exponent == 0 {
        with_unit(&number, scale, unit)
    } else {
        with_unit(&format!("{number}e{exponent}"), 0, unit)
    }
}

/// The digits of a value down to the place of ten to the `last`; `None` where it rounds to zero.
fn rounded_at(value: f64, last: i32) -> Option<Digits> {
    let exact = Digits::shortest(value)?;
    let mut digits = match usize::try_from(exact.exponent - last + 1) {
        Ok(0) => {
            // The first digit stands just below the last place, and rounds up from a half.
            let up = exact.digits.as_bytes().first().is_some_and(|digit| *digit >= b'5');
            let one = up.then(|| "1".to_owned())?;
            Digits { negative: exact.negative, digits: one, exponent: last }
        }
        Ok(places) => Digits::rounded(value, places)?,
        Err(_) => return None,
    };
    // Rounding 9.99 up to 10.0 adds a place in front.
    let places = usize::try_from(digits.exponent - last + 1).unwrap_or(0);
    let missing = places.saturating_sub(digits.digits.len());
    digits.digits.push_str(&"0".repeat(missing));
    Some(digits)
}

/// The value in words, so that milli and mega cannot be mixed up: `4.7 kilohms`, `2 megohms`.
///
/// ```
/// use ohmhound::quantity::{Unit, in_words};
///
/// assert_eq!(in_words(0.05, Unit::Ohm), "50 milliohms");
/// assert_eq!(in_words(1.0, Unit::Volt), "1 volt");
/// ```
pub fn in_words(value: f64, unit: Unit) -> String {
    let Some(digits) = Digits::rounded(value, SHORT).map(Digits::without_trailing_zeros) else {
        // Adding zero takes the sign off a negative zero and changes nothing else.
        return worded(&(value + 0.0).to_string(), "", unit);
    };
    match scale_for(digits.exponent, unit) {
        Some(scale) => {
            worded(&digits.place(scale), prefix(scale).map_or("", |(_, word)| word), unit)
        }
        None => worded(&format!("{}e{}", digits.place(digits.exponent), digits.exponent), "", unit),
    }
}

fn worded(number: &str, prefix: &str, unit: Unit) -> String {
    let one = matches!(number, "1" | "-1");
    let name = match unit {
        Unit::One => return number.to_owned(),
        Unit::Celsius if one => "degree Celsius",
        Unit::Henry if one => "henry",
        Unit::Siemens => "siemens",
        _ if one => unit.name().trim_end_matches('s'),
        _ => unit.name(),
    };
    // The last vowel of kilo and mega is left out before ohm: kilohm, megohm (SI Brochure, 9th
    // edition, 3, quotes both as exceptions; from memory).
    let prefix = match (unit, prefix) {
        (Unit::Ohm, "kilo") => "kil",
        (Unit::Ohm, "mega") => "meg",
        (_, prefix) => prefix,
    };
    format!("{number} {prefix}{name}")
}

#[cfg(test)]
mod tests;
