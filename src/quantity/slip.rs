//! Values in no preferred series, and what was probably meant by them.
//!
//! A slip that leaves a preferred value behind, such as 680 Ω for 680 kΩ, cannot be told from the
//! value: nothing is said of those.

use super::print::Digits;
use super::series::Series;

/// How a value differs from the one that was probably meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SlipKind {
    /// The value is in the series of a closer tolerance: its tolerance may have been left out.
    Finer,
    /// A digit stands twice; without it the value is this many decades lower (0 or 1).
    Doubled(u8),
    /// Two neighbouring digits are swapped.
    Swapped,
    /// One digit is another one.
    OneDigit,
    /// No slip of the hand: the preferred value that is nearest by ratio.
    Nearest,
}

impl SlipKind {
    /// The slip in words that go with "is in E96".
    pub fn words(self) -> &'static str {
        match self {
            SlipKind::Finer => "if its tolerance was left out",
            SlipKind::Doubled(0) => "if a digit stands twice",
            SlipKind::Doubled(_) => "one decade down, if a digit stands twice",
            SlipKind::Swapped => "if two digits are swapped",
            SlipKind::OneDigit => "if one digit is wrong",
            SlipKind::Nearest => "the nearest one",
        }
    }
}

/// A preferred value that was probably meant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slip {
    /// The value, in the unit of the one that was written.
    pub value: f64,
    /// A series that has it.
    pub series: Series,
    /// How the written value differs from it.
    pub kind: SlipKind,
}

/// Whether values of this size are made: those of `series`, and those of E24, which are stocked
/// with closer tolerances as well (common practice, no published source).
///
/// ```
/// use ohmhound::quantity::{Series, is_usual};
///
/// assert!(is_usual(4.7e3, Series::E96));
/// assert!(!is_usual(5.32e3, Series::E96));
/// ```
pub fn is_usual(value: f64, series: Series) -> bool {
    series.contains(value) || Series::E24.contains(value)
}

/// What was probably meant by a value that is in no preferred series, likeliest first; the last one
/// is the nearest preferred value, unless it stands before under another kind.
///
/// Empty where the value is usual in `series`, and where it is not positive and finite. Slips of
/// the hand are sought as they happen when a value is typed: a key struck twice, two keys in the
/// wrong order, one wrong key. A value with three digits and more is sought in E96 too, whatever
/// its tolerance. Kinds and their order are common practice, no published source.
///
/// ```
/// use ohmhound::quantity::{Series, SlipKind, slips};
///
/// assert_eq!(slips(52.3e3, Series::E96), []);
/// let meant = slips(99.31e3, Series::E96)[0];
/// assert_eq!((meant.value, meant.kind), (9.31e3, SlipKind::Doubled(1)));
/// let meant = slips(5.32e3, Series::E96)[0];
/// assert_eq!((meant.value, meant.kind), (5.23e3, SlipKind::Swapped));
/// ```
pub fn slips(value: f64, series: Series) -> Vec<Slip> {
    if !(value.is_finite() && value > 0.0) || is_usual(value, series) {
        return Vec::new();
    }
    let Some(written) = Digits::shortest(value) else { return Vec::new() };
    let digits = written.digits.into_bytes();
    let exponent = written.exponent;
    let mut sought = vec![series, Series::E24];
    if digits.len() >= 3 && series < Series::E96 {
        sought.push(Series::E96);
    }
    let found_in = |value: f64| sought.iter().copied().find(|series| series.contains(value));
    let mut found: Vec<Slip> = Vec::new();
    let mut offer = |value: f64, series: Option<Series>, kind: SlipKind| {
        let known = found.iter().any(|slip| slip.value == value);
        if let Some(series) = series.filter(|_| !known) {
            found.push(Slip { value, series, kind });
        }
    };

    // Of three digits taken by chance a fifth are in E192, which says little beside a wide tolerance.
    let finer = [Series::E48, Series::E96, Series::E192].into_iter().find(|finer| {
        *finer > series
            && digits.len() >= 3
            && (*finer < Series::E192 || series == Series::E96)
            && finer.contains(value)
    });
    offer(value, finer, SlipKind::Finer);
    for at in (1..digits.len()).filter(|&at| digits[at] == digits[at - 1]) {
        let mut fewer = digits.clone();
        fewer.remove(at);
        // A digit too many before the point of `99.31 k` moves the others up; one behind it does not.
        let before = i32::try_from(at).is_ok_and(|at| at <= exponent.rem_euclid(3));
        let value = number(&fewer, exponent - i32::from(before));
        offer(value, found_in(value), SlipKind::Doubled(u8::from(before)));
    }
    for at in 1..digits.len() {
        let mut swapped = digits.clone();
        swapped.swap(at - 1, at);
        if swapped[0] != b'0' {
            let value = number(&swapped, exponent);
            offer(value, found_in(value), SlipKind::Swapped);
        }
    }
    let distance = |other: f64| (other / value).ln().abs();
    let wrong = (0..digits.len())
        .flat_map(|at| (b'0'..=b'9').map(move |digit| (at, digit)))
        .filter(|&(at, digit)| at > 0 || digit != b'0')
        .map(|(at, digit)| {
            let mut other = digits.clone();
            other[at] = digit;
            number(&other, exponent)
        })
        .filter(|other| found_in(*other).is_some())
        .min_by(|a, b| distance(*a).total_cmp(&distance(*b)));
    if let Some(wrong) = wrong {
        offer(wrong, found_in(wrong), SlipKind::OneDigit);
    }
    let near = |series: Series| (series.nearest(value), series);
    let nearest = [near(series), near(Series::E24)]
        .into_iter()
        .filter(|(near, series)| series.contains(*near))
        .min_by(|(a, _), (b, _)| distance(*a).total_cmp(&distance(*b)));
    if let Some((nearest, series)) = nearest {
        offer(nearest, Some(series), SlipKind::Nearest);
    }
    found
}

/// The number with these digits, of which the first stands for ten to the `exponent`.
fn number(digits: &[u8], exponent: i32) -> f64 {
    let text: String = digits.iter().map(|digit| char::from(*digit)).collect();
    let last = exponent + 1 - i32::try_from(text.len()).unwrap_or(0);
    // Through decimal digits, so that the value is the very one that would be typed.
    format!("{text}e{last}").parse().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first(value: f64, series: Series) -> Option<(f64, Series, SlipKind)> {
        slips(value, series).first().map(|slip| (slip.value, slip.series, slip.kind))
    }

    /// Against the tables of IEC 60063:2015; which slip is meant is common practice.
    #[test]
    fn the_slip_that_was_probably_made() {
        let rows = [
            (99.31e3, Series::E96, 9.31e3, Series::E96, SlipKind::Doubled(1)),
            (4.775e3, Series::E96, 4.75e3, Series::E96, SlipKind::Doubled(0)),
            (5.32e3, Series::E96, 5.23e3, Series::E96, SlipKind::Swapped),
            (407.0, Series::E24, 470.0, Series::E24, SlipKind::Swapped),
            (74e3, Series::E24, 47e3, Series::E24, SlipKind::Swapped),
            (46e3, Series::E24, 47e3, Series::E24, SlipKind::OneDigit),
            (96.0, Series::E24, 91.0, Series::E24, SlipKind::OneDigit),
            (52.3e3, Series::E24, 52.3e3, Series::E96, SlipKind::Finer),
            (9.2e3, Series::E96, 9.1e3, Series::E24, SlipKind::OneDigit),
            (1.237e3, Series::E96, 1.24e3, Series::E96, SlipKind::Nearest),
        ];
        for (value, series, meant, of, kind) in rows {
            assert_eq!(first(value, series), Some((meant, of, kind)), "{value} {series:?}");
        }
    }

    #[test]
    fn the_nearest_value_stands_last() {
        let near = |value, series| slips(value, series).last().map(|slip| slip.value);
        assert_eq!(near(99.31e3, Series::E96), Some(100e3));
        assert_eq!(near(5.32e3, Series::E96), Some(5.36e3));
        assert_eq!(near(47.1e3, Series::E96), Some(47e3));
    }

    /// Field slips of whole decades leave preferred values: 680 Ω for 680 kΩ, 220 Ω for 220 kΩ,
    /// 100 kΩ for 100 Ω, 100 mΩ for 100 MΩ. The value alone cannot tell.
    #[test]
    fn a_preferred_value_is_never_a_slip() {
        for value in [680.0, 680e3, 220.0, 220e3, 100e3, 100.0, 0.1, 100e6] {
            for series in Series::ALL {
                assert_eq!(slips(value, series), [], "{value} {series:?}");
            }
        }
        for series in Series::ALL {
            for step in series.values() {
                assert_eq!(slips(f64::from(*step), series), []);
            }
        }
    }

    #[test]
    fn what_is_no_value_has_no_slip() {
        for value in [0.0, -4.7, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(slips(value, Series::E24), []);
        }
        for value in [f64::MIN_POSITIVE, 5e-324, f64::MAX, 1.0 / 3.0] {
            assert!(slips(value, Series::E24).iter().all(|slip| slip.value.is_finite()));
        }
    }
}
