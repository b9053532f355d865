//! Letters in place of the decimal point.

use super::Rule;
use super::code::{Drafts, Tail};
use crate::quantity::unit::Unit;

impl Drafts {
    /// A letter with digits before it, behind it, or both.
    pub(super) fn letter_code(
        &mut self,
        whole: &str,
        letter: char,
        fraction: &str,
        tail: Option<Tail>,
    ) {
        let digits = format!("{whole}{fraction}");
        let counted = digits.trim_matches('0').len();
        let is_zero = counted == 0;
        let too_long = whole.len() > 4 || fraction.len() > 4 || digits.len() > 5 || counted > 4;
        let odd_start = whole.len() > 1 && whole.starts_with('0');
        if digits.is_empty() || too_long || odd_start {
            return;
        }
        if is_zero {
            if matches!(letter, 'R' | 'r') && tail.is_none() && digits.len() <= 4 {
                self.link();
            }
            return;
        }
        // At most four, so the cast keeps the length.
        let last = -(fraction.len() as i32);
        for row in POINTS.iter().filter(|row| row.letters.contains(&letter)) {
            let side = if fraction.is_empty() { "behind" } else { "in place of the point" };
            let how = match row.how {
                "" => format!("{letter} {side}: {}", row.name),
                how => format!("{letter} {side}: {}, {how}", row.name),
            };
            let mut doubt = row.doubt;
            // `475K` is a capacitor's three digits with a tolerance at least as often, and `4R7C`
            // has a tolerance that is in use below 10 pF.
            let like_digits = whole.len() >= 3 && fraction.is_empty() && tail.is_none();
            if like_digits && matches!(letter, 'K' | 'M' | 'G') && !whole.ends_with('0') {
                doubt += 2;
            }
            if whole.len() > 3 {
                doubt += 3;
            }
            if letter.eq_ignore_ascii_case(&'R') {
                let small = matches!(tail, Some(Tail { letter: 'B' | 'C' | 'D', .. }));
                doubt = match row.unit {
                    Unit::Farad if whole.is_empty() => 6,
                    Unit::Farad if fraction.is_empty() => 7,
                    Unit::Farad if small => 1,
                    Unit::Ohm if small && whole.len() == 1 && !fraction.is_empty() => 2,
                    _ => doubt,
                };
            }
            let number = (digits.as_str(), row.exponent + last);
            self.push(Rule::LetterCode, row.unit, number, tail, how, doubt);
        }
    }
}

/// A letter in place of the decimal point.
struct Point {
    letters: &'static [char],
    unit: Unit,
    exponent: i32,
    name: &'static str,
    how: &'static str,
    doubt: u8,
}

const fn point(
    letters: &'static [char],
    unit: Unit,
    exponent: i32,
    name: &'static str,
    doubt: u8,
) -> Point {
    Point { letters, unit, exponent, name, how: "", doubt }
}

/// IEC 60062:2016, clause 4, with the small k of schematics. Rows with words of their own are
/// common practice, no published source.
const POINTS: &[Point] = &[
    point(&['L'], Unit::Ohm, -3, "milliohms", 1),
    point(&['R', 'r'], Unit::Ohm, 0, "ohms", 0),
    point(&['K', 'k'], Unit::Ohm, 3, "kilohms", 0),
    point(&['M'], Unit::Ohm, 6, "megohms", 0),
    point(&['G'], Unit::Ohm, 9, "gigaohms", 1),
    point(&['T'], Unit::Ohm, 12, "teraohms", 3),
    point(&['p'], Unit::Farad, -12, "picofarads", 0),
    point(&['n'], Unit::Farad, -9, "nanofarads", 0),
    point(&['u', '\u{b5}', '\u{3bc}'], Unit::Farad, -6, "microfarads", 0),
    point(&['m'], Unit::Farad, -3, "millifarads", 2),
    point(&['F'], Unit::Farad, 0, "farads", 6),
    Point { how: "in capitals", ..point(&['P'], Unit::Farad, -12, "picofarads", 1) },
    Point { how: "in capitals", ..point(&['N'], Unit::Farad, -9, "nanofarads", 1) },
    Point { how: "in capitals", ..point(&['U'], Unit::Farad, -6, "microfarads", 1) },
    Point { how: "on a shunt", ..point(&['m'], Unit::Ohm, -3, "milliohms", 3) },
    Point { how: "on a capacitor", ..point(&['R', 'r'], Unit::Farad, -12, "picofarads", 3) },
];
