//! What a board does: operating points, what a meter should show, bands, substitutes, curves; and what
//! is made of it for a class.

mod bands;
mod chance;
mod check;
mod choose;
mod consumers;
mod coverage;
mod curve;
mod draws;
mod expect;
mod fault_table;
pub mod lesson;
mod odd_values;
mod operating;
mod quiz;
mod solved;
mod substitute;
mod typical;

pub use bands::{Band, Share, bands};
pub use check::{Assumption, assumptions, check};
pub use choose::{Choice, Choices, Makeup, choose, moves_most, of_series};
pub use consumers::Consumer;
pub use coverage::{Coverage, coverage, to_repeat};
pub use curve::{Curve, Level, LevelKind, Range, Run, Swept, Turn, curve};
pub use draws::{Drawn, Draws, draws};
pub use expect::{Expected, ExpectedNet, expect};
pub use fault_table::{Arrow, Cell, FaultTable, HealthyCell, Row, fault_table};
pub use operating::{
    InnerPath, NetState, Operating, OtherState, PartState, Requirement, operating, with_others,
};
pub use quiz::{
    Board, Digits, Guess, HIGHEST_LEVEL, Hidden, Hint, Judgement, Marking, Match, Performance,
    Play, Points, Predicted, Prediction, Question, Quiz, Replayed, Reply, Sheet, Sign, Standing,
    Symptom, Taken, Way, points, quiz_meter, sheets,
};
pub use solved::{Solved, Watched, everything, watched_nets};
pub use substitute::{
    AsDrawn, Comparison, ConditionChange, NetChange, PinChange, RatingChange, Stand, compare,
    fitted,
};
