//! Prefix letters that are easily mixed up: milli and mega, micro and what stood for it once.

use super::parse::scan;
use super::series::Series;
use super::unit::{Unit, prefix_exponent};

/// A value whose prefix letter may be a slip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrefixSlip {
    /// The value as it is read, in the unit itself.
    pub value: f64,
    /// The value with the other letter, in the unit itself.
    pub meant: f64,
    /// The other letter.
    pub letter: &'static str,
    /// The unit was written behind the prefix, so that a slip is less likely.
    pub has_unit: bool,
}

/// What else may have been meant by the prefix of a written value; `None` where nothing speaks for
/// a slip.
///
/// Told are `m` for ohms, where `M` gives a preferred value of E24 from 100 kΩ to 1 GΩ, and
/// `m`, `k`, `M` and larger for farads, where micro gives 1 pF to 1 F: drawings of the past write
/// microfarads with a small or a capital m (common practice, no published source). What follows the
/// first number, such as a tolerance, does not matter.
///
/// ```
/// use ohmhound::quantity::{Unit, prefix_slip};
///
/// let slip = prefix_slip("100m ± 1 %", Unit::Ohm).ok_or("a slip")?;
/// assert_eq!((slip.value, slip.meant, slip.letter), (0.1, 100e6, "M"));
/// assert_eq!(prefix_slip("100M", Unit::Ohm), None);
/// # Ok::<(), &str>(())
/// ```
pub fn prefix_slip(text: &str, unit: Unit) -> Option<PrefixSlip> {
    let text = text.trim();
    let digits = |c: char| c.is_ascii_digit() || c == '.';
    let at = text.find(|c: char| !digits(c))?;
    let mark = text[at..].trim_start();
    let letter = mark.chars().next()?;
    let exponent = prefix_exponent(letter)?;
    let (other, shift) = match (unit, letter) {
        (Unit::Ohm, 'm') => ("M", 6 - exponent),
        (Unit::Farad, 'm' | 'k' | 'K' | 'M' | 'G' | 'T') => ("µ", -6 - exponent),
        _ => return None,
    };
    // The first number ends where the first blank, sign or slash after its prefix stands.
    let behind = mark[letter.len_utf8()..].trim_start_matches(digits);
    let unit_end = behind.find(|c: char| !c.is_alphabetic()).unwrap_or(behind.len());
    let has_unit = unit_end > 0 && behind[..unit_end] != *"x";
    let end = text.len() - behind.len() + if has_unit { unit_end } else { 0 };
    let read = scan(text, 0..end, unit).ok()?.number;
    // Through decimal digits, so that the value is the very one that would be typed.
    let meant: f64 = format!("{:e}", read.value).split_once('e').and_then(|(number, power)| {
        let power: i32 = power.parse().ok()?;
        format!("{number}e{}", power.checked_add(shift)?).parse().ok()
    })?;
    let plausible = match unit {
        Unit::Ohm => (1e5..=1e9).contains(&meant) && Series::E24.contains(meant),
        _ => (1e-12..=1.0).contains(&meant),
    };
    (plausible && read.value > 0.0).then_some(PrefixSlip {
        value: read.value,
        meant,
        letter: other,
        has_unit,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_that_are_mixed_up() {
        let rows = [
            ("100m", Unit::Ohm, 0.1, 100e6, false),
            ("4m7", Unit::Ohm, 4.7e-3, 4.7e6, false),
            ("100 mΩ", Unit::Ohm, 0.1, 100e6, true),
            ("10 mohm ± 1 %", Unit::Ohm, 0.01, 10e6, true),
            ("10m 1 %", Unit::Ohm, 0.01, 10e6, false),
            ("10m x/ 2", Unit::Ohm, 0.01, 10e6, false),
            ("47m", Unit::Farad, 47e-3, 47e-6, false),
            ("10 MF", Unit::Farad, 10e6, 10e-6, true),
            ("1k", Unit::Farad, 1e3, 1e-6, false),
        ];
        for (text, unit, value, meant, has_unit) in rows {
            let slip = prefix_slip(text, unit).expect(text);
            assert_eq!((slip.value, slip.meant, slip.has_unit), (value, meant, has_unit), "{text}");
        }
    }

    #[test]
    fn letters_that_nothing_speaks_against() {
        for text in ["100M", "0R1", "R05", "0.1", "5m", "50 mΩ", "2m5", "4k7", "", "m", "-1m", "0m"]
        {
            assert_eq!(prefix_slip(text, Unit::Ohm), None, "{text}");
        }
        for text in ["100n", "10 µF", "22u", "1F0", "0.1", "p47"] {
            assert_eq!(prefix_slip(text, Unit::Farad), None, "{text}");
        }
        for text in ["100m", "100 mV"] {
            assert_eq!(prefix_slip(text, Unit::Volt), None, "{text}");
        }
    }
}
