//! What a board does when nothing is asked but numbers: operating points, what a meter should
//! show, and what is worth a second look.

mod check;
mod expect;
mod odd_values;
mod operating;

pub use check::{Assumption, assumptions, check};
pub use expect::{Expected, ExpectedNet, expect};
pub use operating::{
    InnerPath, NetState, Operating, OtherState, PartState, Requirement, operating, with_others,
};
