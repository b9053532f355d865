//! What to measure next: the reading at which the remaining candidates differ most.

mod advice;
mod ahead;
mod decide;
mod effort;
mod gain;
mod inseparable;
mod measurements;
mod propose;
mod repair;
mod suspects;
mod table;
mod tree;

pub use advice::{Advice, SURE};
pub use ahead::think_ahead;
pub use decide::{BUDGET, MOST_POINTS, Point, Policy, Problem, Step, Test};
pub use effort::Effort;
pub(crate) use effort::nets_of;
pub use gain::{Part, Shows, information};
pub use inseparable::mark_inseparable;
pub use measurements::{Measurement, is_live, measurements};
pub use propose::{Expected, Outcome, Planner, Proposal, standing_in, where_to_measure};
pub(crate) use repair::action;
pub use repair::{Repair, repairs};
pub use suspects::{Suspect, suspects};
pub use table::{Seen, Table, seen};
pub use tree::{Branch, Tree};
