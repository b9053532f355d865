//! What to measure next: the reading at which the remaining candidates differ most.

mod advice;
mod effort;
mod gain;
mod inseparable;
mod measurements;
mod propose;
mod repair;
mod suspects;
mod table;

pub use advice::{Advice, SURE};
pub use effort::Effort;
pub use gain::{Part, Shows, information};
pub use inseparable::mark_inseparable;
pub use measurements::{Measurement, is_live, measurements};
pub use propose::{Expected, Outcome, Planner, Proposal, next, standing_in, where_to_measure};
pub use repair::{Repair, repairs};
pub use suspects::{Suspect, suspects};
pub use table::{Seen, Table};
