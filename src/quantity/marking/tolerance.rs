//! The letter behind a marking that says its tolerance.

use crate::quantity::print_short;
use crate::quantity::unit::Unit;

/// How far a part may be from what its marking says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MarkedTolerance {
    /// Shares of the value: 0.05 and 0.05 for ±5 %, 0.2 and 0.8 for −20 % to +80 %.
    Share {
        /// How far below the value.
        below: f64,
        /// How far above the value.
        above: f64,
    },
    /// Either side of the value, in its unit.
    Absolute(f64),
}

impl MarkedTolerance {
    /// The tolerance as it is written: `±5 %`, `−20 % +80 %`, `±0.25 pF`.
    pub fn words(self, unit: Unit) -> String {
        // To hundred-thousandths of a percent, which takes the rounding of the share off again.
        let percent = |share: f64| (1e7 * share).round() / 1e5;
        match self {
            MarkedTolerance::Share { below, above } if below == above => {
                format!("±{} %", percent(above))
            }
            MarkedTolerance::Share { below, above } => {
                format!("-{} % +{} %", percent(below), percent(above))
            }
            // Picofarads also where the prefix would be femto.
            MarkedTolerance::Absolute(size) if unit == Unit::Farad => {
                format!("±{} pF", (1e15 * size).round() / 1e3)
            }
            MarkedTolerance::Absolute(size) => format!("±{}", print_short(size, unit)),
        }
    }
}

/// Letters and shares in percent that go both ways: IEC 60062:2016, clause 5 (from memory).
const BOTH_WAYS: [(char, f64); 14] = [
    ('E', 0.005),
    ('L', 0.01),
    ('P', 0.02),
    ('W', 0.05),
    ('B', 0.1),
    ('C', 0.25),
    ('D', 0.5),
    ('F', 1.0),
    ('G', 2.0),
    ('H', 3.0),
    ('J', 5.0),
    ('K', 10.0),
    ('M', 20.0),
    ('N', 30.0),
];

/// Letters of capacitors with percent below and above: the same clause (from memory).
const ONE_WAY: [(char, f64, f64); 4] =
    [('Q', 10.0, 30.0), ('T', 10.0, 50.0), ('S', 20.0, 50.0), ('Z', 20.0, 80.0)];

/// Letters of capacitors below 10 pF, in picofarads: the same clause (from memory).
const PICOFARADS: [(char, f64); 5] = [('B', 0.1), ('C', 0.25), ('D', 0.5), ('F', 1.0), ('G', 2.0)];

/// The letter that a tolerance letter as typed stands for: the capital, except where the small one
/// is a prefix.
pub(super) fn capital(letter: char) -> Option<char> {
    let known = |capital: char| {
        BOTH_WAYS.iter().any(|(letter, _)| *letter == capital)
            || ONE_WAY.iter().any(|(letter, ..)| *letter == capital)
    };
    let capital =
        if matches!(letter, 'm' | 'n' | 'p') { letter } else { letter.to_ascii_uppercase() };
    known(capital).then_some(capital)
}

/// The tolerance that a capital stands for on a part of this value in `unit`. `None` where it
/// stands for none, or for more than the value itself.
pub(super) fn tolerance(letter: char, unit: Unit, value: f64) -> Option<MarkedTolerance> {
    let of_letter = |rows: &[(char, f64)]| {
        rows.iter().find(|(known, _)| *known == letter).map(|(_, size)| *size)
    };
    // The slack keeps 10 pF, as somebody computed it, on the side of the percentages.
    if unit == Unit::Farad
        && value < 10e-12 * (1.0 - 1e-9)
        && let Some(picofarads) = of_letter(&PICOFARADS)
    {
        let size = picofarads * 1e-12;
        return (size < value).then_some(MarkedTolerance::Absolute(size));
    }
    if let Some(percent) = of_letter(&BOTH_WAYS) {
        let share = percent / 100.0;
        return Some(MarkedTolerance::Share { below: share, above: share });
    }
    ONE_WAY.iter().find(|(known, ..)| *known == letter && unit == Unit::Farad).map(
        |(_, below, above)| MarkedTolerance::Share { below: below / 100.0, above: above / 100.0 },
    )
}
