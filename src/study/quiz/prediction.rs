//! Marking a prediction: its value within tolerance, its unit, its digits.

use crate::circuit::{Meter, Quantity};
use crate::quantity::ReadingValue;

/// A prediction within this share of the healthy value is right, whatever the tolerance.
const SHARE: f64 = 0.02;
/// Standard uncertainties within which a prediction is right.
const WITHIN: f64 = 3.0;
/// Powers of a thousand and of ten that are looked for as a slip.
const SLIPS: [i32; 8] = [-3, 3, -6, 6, -1, 1, -2, 2];

/// How a predicted value stands against the right one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Match {
    /// Within tolerance and meter, or 2 %.
    Right,
    /// Right but for a power of ten: the value is 10 to this power too large.
    Slip(i32),
    /// Right but for its sign.
    Sign,
    /// Off by this share of the right value; infinite where that is nothing.
    Off(f64),
    /// A number where the meter shows OL, or the other way round.
    Over,
}

/// Whether a value was given with as many digits as make sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Digits {
    /// As many as make sense, or one more or less.
    Sensible,
    /// More than the tolerance of the parts gives reason for: so many would do.
    TooMany(usize),
    /// So few that the last one is worse than the tolerance: so many would do.
    TooFew(usize),
}

/// A prediction and how it is marked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// The value, in the SI unit; infinite for OL.
    pub value: f64,
    /// Whether a unit was written.
    pub unit_named: bool,
    /// What the meter shows on a healthy board; infinite for OL.
    pub healthy: f64,
    /// One standard uncertainty of that, tolerances and meter together.
    pub u: f64,
    /// How it stands against the healthy board.
    pub matched: Match,
    /// Whether its digits make sense.
    pub digits: Digits,
}

impl Prediction {
    /// Marks a value as it was written; `None` for what is no single value.
    ///
    /// ```
    /// use ohmhound::circuit::Quantity;
    /// use ohmhound::quantity::{Unit, parse_reading};
    /// use ohmhound::study::{Match, Prediction};
    ///
    /// let slip = parse_reading("4.2 mV", Unit::Volt)?;
    /// let marked = Prediction::new(Quantity::Volts, slip, true, (4.21, 0.05)).unwrap();
    /// assert_eq!(marked.matched, Match::Slip(-3));
    /// # Ok::<(), ohmhound::quantity::ValueError>(())
    /// ```
    pub fn new(
        quantity: Quantity,
        written: ReadingValue,
        unit_named: bool,
        (healthy, u): (f64, f64),
    ) -> Option<Prediction> {
        let (value, count) = match written {
            ReadingValue::Number { value, count, .. } => (value, count),
            ReadingValue::Over => (f64::INFINITY, 0.0),
            _ => return None,
        };
        let matched = matched(quantity, (value, count), (healthy, u));
        let digits = digits((value, count), u);
        Some(Prediction { value, unit_named, healthy, u, matched, digits })
    }

    /// Whether a value is as good as this one.
    pub fn is_right(&self) -> bool {
        self.matched == Match::Right
    }
}

/// Whether a value is within tolerance and meter of another, or within 2 %.
pub(super) fn agrees(quantity: Quantity, value: f64, (right, u): (f64, f64), count: f64) -> bool {
    let least = 2.0 * Meter::count(quantity, right);
    let room = (WITHIN * u).max(SHARE * right.abs()).max(least);
    // Half of its last digit, where that is not coarser than the tolerance by far.
    let own = (0.5 * count).min(0.1 * right.abs());
    (value - right).abs() <= room.max(own) * (1.0 + 1e-9)
}

fn matched(quantity: Quantity, (value, count): (f64, f64), right: (f64, f64)) -> Match {
    match (value.is_finite(), right.0.is_finite()) {
        (false, false) => return Match::Right,
        (true, true) => {}
        _ => return Match::Over,
    }
    if agrees(quantity, value, right, count) {
        return Match::Right;
    }
    if agrees(quantity, -value, right, count) {
        return Match::Sign;
    }
    let is_slip = |power: &i32| {
        let scaled = value / 10.0_f64.powi(*power);
        // Nothing is a slip of what is next to nothing.
        let tells = right.0.abs() > 20.0 * Meter::count(quantity, right.0);
        tells && agrees(quantity, scaled, right, 0.0)
    };
    if let Some(power) = SLIPS.into_iter().find(is_slip) {
        return Match::Slip(power);
    }
    Match::Off((value - right.0).abs() / right.0.abs())
}

/// Digits that make sense: down to the first digit of the band of two standard uncertainties.
fn digits((value, count): (f64, f64), u: f64) -> Digits {
    if !value.is_finite() || value == 0.0 || count <= 0.0 || u.is_nan() || u <= 0.0 {
        return Digits::Sensible;
    }
    let first = value.abs().log10().floor();
    let written = (first - count.log10().round() + 1.0).max(1.0) as usize;
    let sensible = (first - (2.0 * u).log10().floor() + 1.0).clamp(1.0, 6.0) as usize;
    if written > sensible.max(2) + 1 {
        Digits::TooMany(sensible.max(2))
    } else if written + 1 < sensible {
        Digits::TooFew(sensible)
    } else {
        Digits::Sensible
    }
}
