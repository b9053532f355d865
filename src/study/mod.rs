//! What a board does when nothing is asked but numbers: operating points, what a meter should
//! show, and what is worth a second look.

mod bands;
mod check;
mod choose;
mod consumers;
mod curve;
mod draws;
mod expect;
pub mod lesson;
mod odd_values;
mod operating;
mod solved;
mod substitute;

pub use bands::{Band, Share, bands};
pub use check::{Assumption, assumptions, check};
pub use choose::{Choice, Choices, Makeup, choose, moves_most, of_series};
pub use consumers::Consumer;
pub use curve::{Curve, Level, LevelKind, Range, Run, Swept, Turn, curve};
pub use draws::{Drawn, Draws, draws};
pub use expect::{Expected, ExpectedNet, expect};
pub use operating::{
    InnerPath, NetState, Operating, OtherState, PartState, Requirement, operating, with_others,
};
pub use solved::{Solved, Watched, everything, watched_nets};
pub use substitute::{
    AsDrawn, Comparison, ConditionChange, NetChange, PinChange, RatingChange, Stand, compare,
    fitted,
};
