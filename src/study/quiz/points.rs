//! The points of a quiz, by a stated rule.
//!
//! # Formula
//!
//! ```text
//! fault   60 for a right answer, 10 less for each wrong one before it; where none was right, 20 for
//!         the right part
//! way     40 · min(1, planned effort / own effort), for a right answer
//! hints   −2 for each of level 1, −4 of level 2, −8 of level 3
//! extra   +2 for each right prediction, 10 at most
//! ```
//!
//! and the sum is kept between 0 and 100. Less effort, fewer wrong answers and fewer hints never
//! lose points.

/// A right answer at once.
const FAULT: f64 = 60.0;
/// What each wrong answer costs.
const WRONG: f64 = 10.0;
/// The right part with the wrong failure.
const PART: f64 = 20.0;
/// The way there.
const WAY: f64 = 40.0;
/// Hints by level.
const HINTS: [f64; 3] = [2.0, 4.0, 8.0];
/// A right prediction.
const PREDICTION: f64 = 2.0;
/// All predictions together.
const PREDICTIONS: f64 = 10.0;

/// What was done, as far as it counts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Performance {
    /// Whether the fault was found.
    pub found: bool,
    /// Whether the part was named.
    pub right_part: bool,
    /// Answers that were wrong.
    pub wrong: usize,
    /// The effort of all readings.
    pub effort: f64,
    /// The effort of the planned way on the same board.
    pub planned: f64,
    /// Hints by level.
    pub hints: [usize; 3],
    /// Predictions that were right.
    pub predictions: usize,
}

/// Points by what they are for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Points {
    /// For the fault.
    pub fault: f64,
    /// For the way.
    pub way: f64,
    /// For hints, not above nothing.
    pub hints: f64,
    /// For predictions.
    pub predictions: f64,
    /// All together, rounded to whole points.
    pub total: f64,
}

/// The points.
///
/// ```
/// use ohmhound::study::{Performance, points};
///
/// let done = Performance { found: true, effort: 8.0, planned: 6.0, ..Performance::default() };
/// assert_eq!(points(&done).total, 60.0 + 30.0);
/// ```
pub fn points(done: &Performance) -> Points {
    let wrong = WRONG * done.wrong as f64;
    let fault = match (done.found, done.right_part) {
        (true, _) => (FAULT - wrong).max(0.0),
        (false, true) => PART,
        (false, false) => 0.0,
    };
    // Nobody finds anything with less than a probe: no reading at all is a lucky guess.
    let way = match done.found {
        true if done.effort <= done.planned => WAY,
        true => WAY * done.planned.max(1.0) / done.effort.max(1.0),
        false => 0.0,
    };
    let hints: f64 = done.hints.iter().zip(HINTS).map(|(count, each)| *count as f64 * each).sum();
    let predictions = (PREDICTION * done.predictions as f64).min(PREDICTIONS);
    let total = (fault + way - hints + predictions).clamp(0.0, 100.0).round();
    Points { fault, way, hints: 0.0 - hints, predictions, total }
}
