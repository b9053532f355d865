//! Ohms as they are marked on a resistor.

use super::print::Digits;

/// The letter code of IEC 60062:2016, clause 4, for a resistance in ohms.
///
/// The letter is `R`, `k`, `M`, `G` or `T`; the standard has a capital K, schematics a small one.
/// `None` where there is no such code: negative or not finite, more than four significant digits,
/// more than four digits behind the letter, or 1000 TΩ and more.
///
/// ```
/// use ohmhound::quantity::letter_code;
///
/// assert_eq!(letter_code(4700.0).as_deref(), Some("4k7"));
/// assert_eq!(letter_code(0.05).as_deref(), Some("R05"));
/// ```
pub fn letter_code(ohms: f64) -> Option<String> {
    const MOST_DIGITS: usize = 4;
    if ohms == 0.0 {
        return Some("0R".to_owned());
    }
    if ohms < 0.0 {
        return None;
    }
    let digits = Digits::shortest(ohms)?;
    if digits.digits.len() > MOST_DIGITS {
        return None;
    }
    if digits.exponent < 0 {
        let placed = digits.place(0);
        let fraction = placed.strip_prefix("0.")?;
        return (fraction.len() <= MOST_DIGITS).then(|| format!("R{fraction}"));
    }
    let scale = digits.exponent / 3 * 3;
    let letter = match scale {
        0 => 'R',
        3 => 'k',
        6 => 'M',
        9 => 'G',
        12 => 'T',
        _ => return None,
    };
    let placed = digits.place(scale);
    Some(match placed.split_once('.') {
        Some((whole, fraction)) => format!("{whole}{letter}{fraction}"),
        // One digit alone gets a zero behind the letter, as the standard writes it: 1M0, 4R0.
        None if placed.len() == 1 => format!("{placed}{letter}0"),
        None => format!("{placed}{letter}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values and codes after IEC 60062:2016, clause 4, with the small k of schematics.
    #[test]
    fn codes_of_the_standard() {
        let rows = [
            (0.47, "R47"),
            (0.05, "R05"),
            (4.7, "4R7"),
            (1.0, "1R0"),
            (10.0, "10R"),
            (470.0, "470R"),
            (680.0, "680R"),
            (3.32, "3R32"),
            (4700.0, "4k7"),
            (47e3, "47k"),
            (47.3e3, "47k3"),
            (52.3e3, "52k3"),
            (470e3, "470k"),
            (1e6, "1M0"),
            (4.7e6, "4M7"),
            (1e7, "10M"),
            (1e9, "1G0"),
            (0.0, "0R"),
        ];
        for (ohms, code) in rows {
            assert_eq!(letter_code(ohms).as_deref(), Some(code));
        }
    }

    #[test]
    fn what_no_marking_can_say_gives_none() {
        for ohms in [-1.0, f64::NAN, f64::INFINITY, 47_123.0, 1e-5, 1e15, 1.0 / 3.0] {
            assert_eq!(letter_code(ohms), None, "{ohms}");
        }
    }
}
