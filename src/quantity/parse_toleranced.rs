//! From text to a value with its tolerance, and to a value with the point at which it holds.
//!
//! A number without unit beside one with a prefix could be meant in either, and a factor of a
//! thousand hangs on it; such mixtures are refused.

use std::ops::Range;

use super::error::{ValueError, trimmed};
use super::parse::{Scanned, brief, scan};
use super::toleranced::{Point, Spread, Tolerance, Toleranced};
use super::unit::Unit;

/// Reads a value that may carry its own tolerance.
///
/// Accepted besides a plain value: `0.8 V ± 1.5 %`, `0.8 V +- 1.5%`, `10k ± 100 Ω`, `47k 1 %`,
/// `1.1 V / 1.2 V / 1.3 V` (least / typical / most), `150 ×/÷ 2` and `150 x/ 2` (times or divided
/// by). A number without unit beside one with a prefix is refused, as it could mean either.
///
/// # Errors
///
/// A [`ValueError`] when a number cannot be read, the tolerance is negative or more than 100 %, a
/// factor is not more than 1, or least, typical and most are not in this order.
///
/// ```
/// use ohmhound::quantity::{Unit, parse_toleranced};
///
/// let threshold = parse_toleranced("1.1 V / 1.2 V / 1.3 V", Unit::Volt)?;
/// assert_eq!((threshold.least(), threshold.nominal, threshold.most()), (1.1, 1.2, 1.3));
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn parse_toleranced(text: &str, unit: Unit) -> Result<Toleranced, ValueError> {
    toleranced_in(text, 0..text.len(), unit)
}

/// Reads the value of a key of its own for the tolerance: `5 %`, `100 Ω`, `×/÷ 2`.
///
/// # Errors
///
/// A [`ValueError`] for a bare number, which could be percent or the unit of the value, and for a
/// tolerance that is negative or more than 100 %.
///
/// ```
/// use ohmhound::quantity::{Tolerance, Unit, parse_tolerance};
///
/// assert_eq!(parse_tolerance("5 %", Unit::Ohm)?, Tolerance::Fraction(0.05));
/// let bare = parse_tolerance("5", Unit::Ohm).unwrap_err();
/// assert_eq!(bare.help.as_deref(), Some("write `5 %` or `5 Ω`"));
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn parse_tolerance(text: &str, unit: Unit) -> Result<Tolerance, ValueError> {
    let mut range = trimmed(text, 0..text.len());
    if let Some((factor, sign)) = factor_sign(text, &range) {
        if factor.start > range.start {
            return Err(ValueError::new(
                range.start..factor.start,
                format!("expected only a tolerance, found `{}`", brief(&text[range])),
            )
            .help("write the value under its own key"));
        }
        return read_factor(text, sign..range.end).map(Tolerance::Factor);
    }
    if let Some(sign) = plus_minus(text, &range)
        && sign.start == range.start
    {
        range = trimmed(text, sign.end..range.end);
    }
    let (tolerance, scanned) = read_half_width(text, range.clone(), unit)?;
    if scanned.bare {
        let digits = &text[range.clone()];
        let symbol = unit.symbol();
        let help = if symbol.is_empty() {
            format!("write `{} %`", brief(digits))
        } else {
            format!("write `{0} %` or `{0} {symbol}`", brief(digits))
        };
        return Err(ValueError::new(
            range.clone(),
            format!(
                "expected a tolerance in percent or {}, found `{}`",
                unit.name(),
                brief(digits)
            ),
        )
        .help(help));
    }
    Ok(tolerance)
}

/// Reads a value with the point at which it holds: `0.7 V at 10 mA`, `75 V at 10 µA`, `0.7 V`.
///
/// # Errors
///
/// As [`parse_toleranced`] for the value and [`parse_number`](super::parse_number) for the point.
///
/// ```
/// use ohmhound::quantity::{Unit, parse_point};
///
/// let point = parse_point("0.55 V ± 0.2 V at 1 mA", Unit::Volt, Unit::Amp)?;
/// assert_eq!(point.value.half_width_low(), 0.2);
/// assert_eq!(point.at, Some(1e-3));
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn parse_point(text: &str, unit: Unit, at_unit: Unit) -> Result<Point, ValueError> {
    parse_joined(text, unit, "at", at_unit)
}

/// Reads a value joined to another one by `word`, such as `20 mA above 2.7 V`.
///
/// # Errors
///
/// As [`parse_point`].
///
/// ```
/// use ohmhound::quantity::{Unit, parse_joined};
///
/// let drawn = parse_joined("20 mA above 2.7 V", Unit::Amp, "above", Unit::Volt)?;
/// assert_eq!((drawn.value.nominal, drawn.at), (20e-3, Some(2.7)));
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn parse_joined(
    text: &str,
    unit: Unit,
    word: &str,
    joined_unit: Unit,
) -> Result<Point, ValueError> {
    let Some(found) = find_word(text, word) else {
        return Ok(Point { value: parse_toleranced(text, unit)?, at: None });
    };
    let value = toleranced_in(text, 0..found.start, unit)?;
    let after = trimmed(text, found.end..text.len());
    if let Some(sign) = plus_minus(text, &after) {
        return Err(ValueError::new(
            sign.start..after.end,
            format!("expected nothing after the value behind `{word}`, found a tolerance"),
        )
        .help(format!("write the tolerance before `{word}`")));
    }
    let at = scan(text, after, joined_unit)?.number.value;
    Ok(Point { value, at: Some(at) })
}

/// Where `word` stands by itself, with white space on both sides.
fn find_word(text: &str, word: &str) -> Option<Range<usize>> {
    if word.is_empty() {
        return None;
    }
    text.match_indices(word).map(|(start, found)| start..start + found.len()).find(|range| {
        let before = text[..range.start].chars().next_back();
        let after = text[range.end..].chars().next();
        before.is_none_or(char::is_whitespace) && after.is_none_or(char::is_whitespace)
    })
}

/// Reads a value with tolerance that fills `within`.
pub(super) fn toleranced_in(
    text: &str,
    within: Range<usize>,
    unit: Unit,
) -> Result<Toleranced, ValueError> {
    let range = trimmed(text, within);
    if let Some((factor, sign_end)) = factor_sign(text, &range) {
        let nominal = scan(text, range.start..factor.start, unit)?.number.value;
        let factor = read_factor(text, sign_end..range.end)?;
        return Ok(Toleranced { nominal, spread: Some(Spread::Factor(factor)) });
    }
    if let Some(sign) = plus_minus(text, &range) {
        let nominal = scan(text, range.start..sign.start, unit)?;
        let half = trimmed(text, sign.end..range.end);
        let (nominal, half_width) = half_width_of(text, nominal, half, unit)?;
        return Ok(Toleranced { nominal, spread: Some(Spread::Absolute(half_width)) });
    }
    if text[range.clone()].contains('/') {
        return least_typical_most(text, range, unit);
    }
    if let Some(split) = trailing_percent(text, &range, unit) {
        let nominal = scan(text, range.start..split, unit)?;
        let half = trimmed(text, split..range.end);
        let (nominal, half_width) = half_width_of(text, nominal, half, unit)?;
        return Ok(Toleranced { nominal, spread: Some(Spread::Absolute(half_width)) });
    }
    Ok(Toleranced::bare(scan(text, range, unit)?.number.value))
}

/// The half-width written at `half`, for a nominal value that was read before.
pub(super) fn half_width_of(
    text: &str,
    nominal: Scanned,
    half: Range<usize>,
    unit: Unit,
) -> Result<(f64, f64), ValueError> {
    let (tolerance, scanned) = read_half_width(text, half.clone(), unit)?;
    let shown = brief(&text[half.clone()]);
    let value = nominal.number.value;
    if nominal.percent && matches!(tolerance, Tolerance::Fraction(_)) {
        return Err(ValueError::new(
            half,
            format!("expected a plain number, found `{shown}` beside a value in percent"),
        )
        .help("write the value as a plain number, such as `0.85 ± 0.02` or `0.85 ± 2 %`"));
    }
    let half_width = match tolerance.of(value) {
        Spread::Absolute(half_width) => half_width,
        // `read_half_width` gives no factor, so this arm only satisfies the compiler.
        Spread::Factor(_) | Spread::Between { .. } => 0.0,
    };
    let unclear = scanned.bare && half_width > 0.0;
    if unclear && (nominal.prefix != 0 || half_width > value.abs()) {
        let symbol = unit.symbol();
        return Err(ValueError::new(
            half,
            format!("expected a tolerance with a unit or in percent, found `{shown}`"),
        )
        .help(match symbol {
            "" => format!("write `± {shown} %`"),
            symbol => {
                format!("write `± {shown} %`, or the unit with it, such as `± {shown} {symbol}`")
            }
        }));
    }
    if unit.never_negative() && half_width > value.abs() {
        return Err(ValueError::new(
            half,
            format!("expected a tolerance below the value itself, found `{shown}`"),
        )
        .help(format!("{} cannot be less than zero", unit.name())));
    }
    Ok((value, half_width))
}

/// A half-width in percent or in the unit of the value.
fn read_half_width(
    text: &str,
    range: Range<usize>,
    unit: Unit,
) -> Result<(Tolerance, Scanned), ValueError> {
    let shown = &text[range.clone()];
    let in_percent = shown.ends_with('%');
    let scanned = scan(text, range.clone(), if in_percent { Unit::One } else { unit })?;
    let size = scanned.number.value;
    if size < 0.0 {
        return Err(ValueError::new(
            range,
            format!("expected a tolerance of zero or more, found `{}`", brief(shown)),
        )
        .help("a tolerance is the half-width to both sides"));
    }
    if in_percent && size > 1.0 {
        return Err(ValueError::new(
            range,
            format!("expected a tolerance of at most 100 %, found `{}`", brief(shown)),
        )
        .help("write `×/÷ 2` for a value that may be half or double"));
    }
    let tolerance = if in_percent { Tolerance::Fraction(size) } else { Tolerance::Absolute(size) };
    Ok((tolerance, scanned))
}

/// The number after `×/÷`.
fn read_factor(text: &str, range: Range<usize>) -> Result<f64, ValueError> {
    let range = trimmed(text, range);
    let scanned = scan(text, range.clone(), Unit::One)?;
    let factor = scanned.number.value;
    if scanned.percent || factor <= 1.0 {
        return Err(ValueError::new(
            range.clone(),
            format!("expected a factor of more than 1, found `{}`", brief(&text[range])),
        )
        .help("`×/÷ 2` says that the value may be half or double"));
    }
    Ok(factor)
}

/// `1.1 V / 1.2 V / 1.3 V`.
fn least_typical_most(
    text: &str,
    range: Range<usize>,
    unit: Unit,
) -> Result<Toleranced, ValueError> {
    let shown = brief(&text[range.clone()]);
    let mut pieces = Vec::new();
    let mut start = range.start;
    for (at, _) in text[range.clone()].match_indices('/') {
        pieces.push(start..range.start + at);
        start = range.start + at + 1;
    }
    pieces.push(start..range.end);
    let [least, typical, most] = pieces.as_slice() else {
        return Err(ValueError::new(
            range,
            format!("expected least / typical / most, found `{shown}`"),
        )
        .help("write three values with `/` between them, or one value with `±`"));
    };
    let scanned = [least, typical, most].map(|piece| scan(text, piece.clone(), unit));
    let [least, typical, most] = scanned;
    let all = [least?, typical?, most?];
    refuse_mixture(&all, range.clone(), &shown, unit)?;
    let [least, nominal, most] = all.map(|scanned| scanned.number.value);
    if !(least <= nominal && nominal <= most) {
        return Err(ValueError::new(
            range,
            format!("expected least / typical / most in rising order, found `{shown}`"),
        )
        .help("write the least value first and the most last"));
    }
    Ok(Toleranced { nominal, spread: Some(Spread::Between { least, most }) })
}

/// Refuses `1 / 2 / 3 kΩ`: the first two could be ohms or kilohms.
pub(super) fn refuse_mixture(
    all: &[Scanned],
    range: Range<usize>,
    shown: &str,
    unit: Unit,
) -> Result<(), ValueError> {
    let prefixed = all.iter().any(|scanned| scanned.prefix != 0);
    let unclear = all.iter().any(|scanned| scanned.bare && scanned.number.value != 0.0);
    if prefixed && unclear {
        return Err(ValueError::new(
            range,
            format!("expected {} with a unit on each number, found `{shown}`", unit.name()),
        )
        .help("write prefix and unit on every number"));
    }
    Ok(())
}

/// Where `±`, `+-` or `+/-` stands.
pub(super) fn plus_minus(text: &str, range: &Range<usize>) -> Option<Range<usize>> {
    let inside = &text[range.clone()];
    ["±", "+-", "+/-"]
        .into_iter()
        .filter_map(|sign| inside.find(sign).map(|at| (at, sign.len())))
        .min()
        .map(|(at, width)| range.start + at..range.start + at + width)
}

/// Where `×/÷` or `x/` stands, and where the sign ends.
fn factor_sign(text: &str, range: &Range<usize>) -> Option<(Range<usize>, usize)> {
    let inside = &text[range.clone()];
    let at = inside.find(['×', 'x', 'X'])?;
    let width = inside[at..].chars().next().map_or(0, char::len_utf8);
    let slash = trimmed(text, range.start + at + width..range.end);
    let after = text[slash.clone()].strip_prefix('/')?;
    let divide = after.strip_prefix('÷').unwrap_or(after);
    let start = range.start + at;
    Some((start..start + width, slash.end - divide.len()))
}

/// Where `1 %` starts in `47k 1 %`.
fn trailing_percent(text: &str, range: &Range<usize>, unit: Unit) -> Option<usize> {
    // A plain ratio may itself be in percent.
    if unit == Unit::One {
        return None;
    }
    let before = text[range.clone()].strip_suffix('%')?.trim_end();
    let space = before.rfind(char::is_whitespace)?;
    Some(range.start + space)
}

#[cfg(test)]
mod tests;
